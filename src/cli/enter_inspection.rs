//! `enter inspection` without a joint: asks for one joint after another and shows each verdict at
//! once.
//!
//! A joint is written when it is kept, whole and in a transaction of its own. The end of the input,
//! or Ctrl-C, loses the joint at hand and nothing else.

use std::process::ExitCode;

use super::context::Context;
use super::enter::EnterArgs;
use super::failure::{Failure, usage};
use super::output;
use super::terminal::{Terminal, Typed};
use crate::app::words;
use crate::app::{Error, Session};
use crate::intake::Outcome;
use crate::model::{Draft, Method, Vocabulary};
use crate::projection::joint::Appraisal;
use crate::render::safe::for_screen;
use crate::report::assess::{class_name, describe};
use crate::report::fitness::{self, Told};
use crate::report::sheet::{
    ReadingColumn, Which, column_limits, last_reading, limits_text, usual_methods,
};
use crate::report::{Block, Fact, Report, rack};
use crate::schema::JointRow;
use crate::units::UnitSystem;

/// What follows a joint.
enum Next {
    /// The next joint.
    Joint,
    /// No more joints.
    Stop,
}

/// What is asked once, with the field that it becomes, and what is wanted.
const HEAD: [(&str, &str, &str); 5] = [
    ("inspector", "inspector", "who inspects; it is written to every joint that is kept"),
    ("firm", "firm", "the firm that inspects; an empty line leaves it out"),
    ("report", "report number", "number of the job or report; an empty line leaves it out"),
    (
        "standard",
        "standard and category",
        "standard, edition and category inspected to, as the report will name it",
    ),
    (
        "instrument",
        "instrument",
        "tag of the gauge; when a later check of it fails, its readings are marked doubtful",
    ),
];

const DATE_WANTED: &str = "the day of the inspection, like 2026-03-04; an empty line takes the day \
                           in brackets";
const SERIAL_WANTED: &str = "serial of the joint, SERIAL@ENTRY where two share it; an empty line \
                             ends";
const KEEP_WANTED: &str = "an empty line or 'yes' writes the joint as shown, 'again' asks for it \
                           once more, 'skip' leaves it, 'stop' ends";
const FOUND_WANTED: &str = "what was found there, in the words of `pipelore findings`, with its \
                            size and unit: slip cut 0.04 in across; several have ; between; an \
                            empty line leaves it out";
const CLASS_WANTED: &str = "the class that you give the joint, where you give one: critical, \
                            premium, class 2, class 3, scrap; it stands beside the computed one";
const REMARK_WANTED: &str = "any words; an empty line leaves it out";

/// What a reading wants.
fn reading_wanted(column: ReadingColumn, units: UnitSystem) -> String {
    let unit = column.measure().unit_symbol(units);
    format!(
        "{} as read, in {unit} or with its unit; in brackets the last reading and limits; an empty \
         line leaves it out",
        column.name()
    )
}

/// Methods that can be named.
fn methods_wanted() -> String {
    let words: Vec<String> = Method::ALL.iter().map(|m| m.word().replace('_', " ")).collect();
    format!(
        "methods used, with ; between, of: {}; an empty line states none, and readings alone count",
        words.join(", ")
    )
}

/// Findings that are asked of each joint, with the field that each becomes.
const FOUND: [(&str, &str); 3] = [
    ("tube_finding", "found on the tube"),
    ("pin_finding", "found on the pin"),
    ("box_finding", "found on the box"),
];

pub(super) fn run(
    args: &EnterArgs,
    given: &[(String, String)],
    context: &Context,
) -> Result<ExitCode, Failure> {
    if words::names(given, words::JOINT) {
        return Err(usage("name one joint, or a --string to go through, not both"));
    }
    let mut session = context.open_to_write(args.dry_run)?;
    let units = session.units();
    let which = Which { string: args.string.clone(), ..Which::default() };
    let list = match &args.string {
        Some(_) => session.joints_meant(&which)?.0,
        None => Vec::new(),
    };
    let mut terminal = Terminal::of_stdin();
    let total = list.len();
    terminal.say(&match &args.string {
        Some(string) => format!("inspection of string {}, {total} joints", for_screen(string)),
        None => "inspection, one joint after another".to_owned(),
    });
    terminal.say(
        "an empty line leaves a thing out or goes on with what stands in brackets; '?' says what is \
         wanted, 'back' asks the question before again, 'skip' leaves the joint, 'stop' ends; several \
         findings have ; between, a size its unit: slip cut 0.04 in across",
    );
    let mut entry =
        Entering { args, units, constant: Vec::new(), done: Vec::new(), drafts: Vec::new() };
    if entry.head(&mut terminal, given, &session)? {
        if args.string.is_some() {
            for (n, row) in list.iter().enumerate() {
                if let Next::Stop =
                    entry.joint(&mut terminal, &mut session, row, Some((n + 1, total)))?
                {
                    break;
                }
            }
        } else {
            entry.typed_serials(&mut terminal, &mut session)?;
        }
    }
    let done = session
        .told_after(entry.done, &entry.drafts, args.dry_run)
        .map_err(|e| output::met_by(&session, e.into()))?;
    let mut report = Report::new("enter");
    report.push(Block::Table(rack::table(&done, session.units())));
    if args.dry_run {
        report.push(Block::Note("a dry run: nothing was written".to_owned()));
    } else if let Some(head) = session.head()? {
        report.push(Block::Facts { name: "written", facts: vec![Fact::head(Some(head))] });
    }
    report.blocks.extend(rack::caution(&done));
    output::close_and_print(&report, context, session)
}

struct Entering<'a> {
    args: &'a EnterArgs,
    units: UnitSystem,
    /// Fields that hold for every joint.
    constant: Vec<(String, String)>,
    /// Joints kept so far, and what was kept of them.
    done: Vec<Appraisal>,
    drafts: Vec<Draft>,
}

impl Entering<'_> {
    /// Asks for what holds for every joint. False when the input ends.
    fn head(
        &mut self,
        terminal: &mut Terminal<'_>,
        given: &[(String, String)],
        session: &Session,
    ) -> Result<bool, Failure> {
        self.constant = given.to_vec();
        let today = session.caller.present().to_string();
        let today = today.split('T').next().unwrap_or_default().to_owned();
        let named = |fields: &[&str]| words::names(given, fields);
        let methods = methods_wanted();
        let mut questions: Vec<(&str, String, &str)> = Vec::new();
        if !named(words::DATE) {
            questions.push(("date", format!("date [{today}]"), DATE_WANTED));
        }
        for (field, label, wanted) in HEAD.iter().filter(|(field, ..)| !named(&[*field])) {
            questions.push((*field, (*label).to_owned(), *wanted));
        }
        if !named(&["methods", "method"]) {
            // Only what the person states was done; nothing stands in brackets.
            let label = "methods used on every joint that is kept".to_owned();
            questions.push(("methods", label, &methods));
        }
        // How many fields there were before each answer, to go back to.
        let mut before: Vec<usize> = Vec::new();
        while let Some((field, label, wanted)) = questions.get(before.len()) {
            let text = match terminal.ask(label, wanted)? {
                Typed::End => return Ok(false),
                Typed::Text(t) if is_back(&t) => {
                    match before.pop() {
                        Some(fields) => self.constant.truncate(fields),
                        None => terminal.say(FIRST),
                    }
                    continue;
                }
                Typed::Nothing if *field == "date" => Some(today.clone()),
                Typed::Nothing => None,
                Typed::Text(t) => Some(t),
            };
            let wrong = text.as_deref().and_then(|text| match *field {
                "date" => text.parse::<crate::model::Moment>().err().map(|e| e.to_string()),
                "methods" => self::methods(text).err().map(|e| e.to_string()),
                _ => None,
            });
            if let Some(wrong) = wrong {
                terminal.say(&format!("  {wrong}"));
                continue;
            }
            before.push(self.constant.len());
            self.constant.extend(text.map(|text| ((*field).to_owned(), text)));
        }
        Ok(true)
    }

    fn typed_serials(
        &mut self,
        terminal: &mut Terminal<'_>,
        session: &mut Session,
    ) -> Result<(), Failure> {
        loop {
            let serial = match terminal.ask("serial", SERIAL_WANTED)? {
                Typed::End | Typed::Nothing => return Ok(()),
                Typed::Text(t) if is_stop(&t) => return Ok(()),
                Typed::Text(t) => t,
            };
            let row = match session.joint(&serial) {
                Ok(row) => row,
                Err(e) => {
                    terminal.say(&format!("  {}", for_screen(&e.to_string())));
                    continue;
                }
            };
            if let Some(row) = row
                && let Next::Stop = self.joint(terminal, session, &row, None)?
            {
                return Ok(());
            }
        }
    }

    /// Asks for one joint, shows its verdict, and writes it when it is kept.
    fn joint(
        &mut self,
        terminal: &mut Terminal<'_>,
        session: &mut Session,
        row: &JointRow,
        place: Option<(usize, usize)>,
    ) -> Result<Next, Failure> {
        let Some(now) = session.standing(row.joint)? else { return Ok(Next::Joint) };
        let usual = self.methods(row);
        let at = place.map_or_else(String::new, |(n, of)| format!(" ({n} of {of})"));
        let class = now.class().map_or("no class yet", class_name);
        terminal.say(&format!(
            "\n{}{at}  {}, {class}",
            for_screen(&row.serial),
            for_screen(&describe(&now.joint, self.units))
        ));
        for finding in &now.subject.findings {
            let end = finding.end.map_or_else(String::new, |e| format!("{e} "));
            terminal.say(&format!("  open: {end}{}", finding.what.replace('_', " ")));
        }
        for restriction in &now.restrictions {
            terminal.say(&format!("  restriction: {}", restriction.says()));
        }
        loop {
            let mut fields = self.constant.clone();
            fields.push(("serial".to_owned(), session.unique_serial(row)?));
            let bare = fields.len();
            match self.readings(terminal, session, row, &now, &usual, &mut fields)? {
                Asked::All | Asked::Back => {}
                Asked::Skip => return Ok(Next::Joint),
                Asked::Stop => return Ok(Next::Stop),
            }
            if fields.len() == bare {
                terminal.say("  nothing was entered; the joint was not looked at and is left");
                return Ok(Next::Joint);
            }
            let mut outcome = self.read(session, &fields)?;
            if outcome.is_refused() || outcome.drafts.is_empty() {
                for line in words::wrong(&outcome.diagnostics) {
                    terminal.say(&for_screen(&line));
                }
                continue;
            }
            let Some(verdict) = session.inspected(&outcome.drafts)?.pop() else {
                return Ok(Next::Joint);
            };
            let told = session.told_of_record(&verdict)?;
            self.show(terminal, &verdict, &told);
            match terminal.ask("keep? [yes], again, skip", KEEP_WANTED)? {
                Typed::End => return Ok(Next::Stop),
                Typed::Text(t) if is_stop(&t) => return Ok(Next::Stop),
                Typed::Text(t) if t.starts_with(['a', 'A']) => {}
                Typed::Text(t) if t.starts_with(['s', 'S', 'n', 'N']) => return Ok(Next::Joint),
                Typed::Text(_) | Typed::Nothing => {
                    match session.append(&mut outcome.drafts, self.args.how()) {
                        Ok(_) => {
                            self.done.push(verdict);
                            self.drafts.append(&mut outcome.drafts);
                        }
                        Err(error) => {
                            Failure::from(error).report(false);
                            continue;
                        }
                    }
                    return Ok(Next::Joint);
                }
            }
        }
    }

    /// The methods whose readings are asked for.
    fn methods(&self, row: &JointRow) -> Vec<Method> {
        let given = self
            .constant
            .iter()
            .find(|f| words::names(std::slice::from_ref(f), &["methods", "method"]))
            .and_then(|f| methods(&f.1).ok());
        given.unwrap_or_else(|| usual_methods(row.component).to_vec())
    }

    fn readings(
        &self,
        terminal: &mut Terminal<'_>,
        session: &Session,
        row: &JointRow,
        now: &Appraisal,
        methods: &[Method],
        fields: &mut Vec<(String, String)>,
    ) -> Result<Asked, Failure> {
        let mut questions: Vec<(String, String, String)> = Vec::new();
        let mut add = |field: &str, label: String, wanted: String| {
            questions.push((field.to_owned(), format!("  {label}"), wanted));
        };
        if !words::names(fields, &["methods", "method"]) {
            add("methods", "methods used".to_owned(), methods_wanted());
        }
        let (columns, limits) = session.readings_wanted(now, methods)?;
        for column in columns {
            let measure = column.measure();
            let mut hints = Vec::new();
            if let Some(last) = last_reading(now, column) {
                hints.push(format!("last {}", measure.number_text(last, self.units)));
            }
            let limit = limits_text(&column_limits(&limits, column), measure, self.units);
            hints.extend((!limit.is_empty()).then_some(limit));
            let hint =
                if hints.is_empty() { String::new() } else { format!(" ({})", hints.join("; ")) };
            let title = column.title(self.units);
            add(&title, format!("{title}{hint}"), reading_wanted(column, self.units));
        }
        for (field, label) in FOUND {
            if row.component == crate::model::Component::Bit && field == "box_finding" {
                continue;
            }
            add(field, label.to_owned(), FOUND_WANTED.to_owned());
        }
        for (field, label, wanted) in
            [("class", "class that you give", CLASS_WANTED), ("remark", "remark", REMARK_WANTED)]
        {
            if !words::names(fields, &[field]) {
                add(field, label.to_owned(), wanted.to_owned());
            }
        }
        // How many fields there were before each answer, to go back to.
        let mut before: Vec<usize> = Vec::new();
        while let Some((field, prompt, wanted)) = questions.get(before.len()) {
            let already = fields.len();
            match self.field(terminal, session, (prompt, wanted), field, fields)? {
                Asked::All => before.push(already),
                Asked::Back => match before.pop() {
                    Some(already) => fields.truncate(already),
                    None => terminal.say(FIRST),
                },
                other => return Ok(other),
            }
        }
        Ok(Asked::All)
    }

    /// Asks for one field until it can be read, or is left out.
    fn field(
        &self,
        terminal: &mut Terminal<'_>,
        session: &Session,
        (prompt, wanted): (&str, &str),
        field: &str,
        fields: &mut Vec<(String, String)>,
    ) -> Result<Asked, Failure> {
        loop {
            let text = match terminal.ask(prompt, wanted)? {
                Typed::End => return Ok(Asked::Stop),
                Typed::Nothing => return Ok(Asked::All),
                Typed::Text(t) if is_stop(&t) => return Ok(Asked::Stop),
                Typed::Text(t) if is_back(&t) => return Ok(Asked::Back),
                Typed::Text(t) if t.eq_ignore_ascii_case("skip") => return Ok(Asked::Skip),
                Typed::Text(t) => t,
            };
            // The one reader of files and words says what is wrong with it.
            fields.push((field.to_owned(), text));
            let outcome = self.read(session, fields)?;
            if outcome.is_refused() {
                fields.pop();
                for line in words::wrong(&outcome.diagnostics) {
                    terminal.say(&format!("  {}", for_screen(&line)));
                }
                continue;
            }
            return Ok(Asked::All);
        }
    }

    fn read(&self, session: &Session, fields: &[(String, String)]) -> Result<Outcome, Error> {
        session.read_inspection(fields, self.args.keep_conflicts)
    }

    /// The verdict in a few lines.
    fn show(&self, terminal: &Terminal<'_>, a: &Appraisal, told: &Told) {
        let v = &a.verdict;
        let class = a.class().map_or("no class", class_name);
        let before = match a.class_before {
            Some(b) if Some(b) != a.class() => format!(" (was {})", class_name(b)),
            _ => String::new(),
        };
        let fit = fitness::words(told.answer());
        terminal.say(&format!("  → {class}{before}; by what is recorded: {fit}"));
        if let Some(j) = v.governing_judgement() {
            terminal.say(&format!("    {}", j.text(self.units)));
        }
        for reason in &told.reasons {
            terminal.say(&for_screen(&format!(
                "    {}: {}: {}",
                reason.ground.weight().says(),
                reason.part,
                reason.says
            )));
        }
        terminal
            .say(&format!("    crack searches: {}", fitness::searches_in_short(&told.searches)));
        for action in &v.actions {
            let who: Vec<&str> = action.who.iter().map(|p| p.says()).collect();
            terminal.say(&format!(
                "    {}: {}; {}",
                action.part,
                action.disposition.says(),
                who.join(", ")
            ));
        }
        terminal.say("    the rules in force are asked once it is kept");
    }
}

/// How far the asking came.
enum Asked {
    /// To the end.
    All,
    /// The question before is to be asked again.
    Back,
    /// The joint is to be left.
    Skip,
    /// No more joints.
    Stop,
}

fn is_stop(text: &str) -> bool {
    text.eq_ignore_ascii_case("stop") || text.eq_ignore_ascii_case("done")
}

fn is_back(text: &str) -> bool {
    text.eq_ignore_ascii_case("back")
}

/// Said where there is nothing to go back to.
const FIRST: &str = "  this is the first question";

fn methods(text: &str) -> Result<Vec<Method>, crate::model::WordError> {
    text.split([';', ',', '+'])
        .map(str::trim)
        .filter(|w| !w.is_empty())
        .map(Method::from_word)
        .collect()
}
