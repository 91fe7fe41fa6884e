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
    /// What was asked before it.
    Back,
    /// No more joints.
    Stop,
}

/// Answers to some questions, in their order.
struct Answers {
    fields: Vec<(String, String)>,
    /// How many fields there were before each answer, to go back to.
    before: Vec<usize>,
}

impl Answers {
    fn with(fields: Vec<(String, String)>) -> Self {
        Self { fields, before: Vec::new() }
    }

    /// Takes the last answer back. False where there is none.
    fn back(&mut self) -> bool {
        match self.before.pop() {
            Some(fields) => {
                self.fields.truncate(fields);
                true
            }
            None => false,
        }
    }
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
const SERIAL_WANTED: &str = "serial of the joint, SERIAL@ENTRY where two share it; an empty line ends, \
                             as 'stop' does";
const KEEP_WANTED: &str = "an empty line or 'yes' writes the joint as shown, 'back' goes back to the \
                           last question, 'again' asks for it once more, 'skip' leaves it, \
                           'stop' ends";
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
    let constant = Answers::with(given.to_vec());
    let mut entry = Entering { args, units, constant, done: Vec::new(), drafts: Vec::new() };
    loop {
        if !entry.head(&mut terminal, given, &session)? {
            break;
        }
        let next = match &args.string {
            Some(_) => entry.string(&mut terminal, &mut session, &list)?,
            None => entry.typed_serials(&mut terminal, &mut session)?,
        };
        // What holds for every joint can be said anew as long as none was written.
        match next {
            Next::Back if entry.constant.back() => {}
            Next::Back => terminal.say(FIRST),
            Next::Joint | Next::Stop => break,
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
    /// What holds for every joint.
    constant: Answers,
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
        while let Some((field, label, wanted)) = questions.get(self.constant.before.len()) {
            let text = match terminal.ask(label, wanted)? {
                Typed::End => return Ok(false),
                Typed::Text(t) if is_stop(&t) => return Ok(false),
                Typed::Text(t) if is_back(&t) => {
                    if !self.constant.back() {
                        terminal.say(FIRST);
                    }
                    continue;
                }
                Typed::Text(t) if is_skip(&t) => {
                    terminal.say("  there is no joint to skip yet; an empty line leaves this out");
                    continue;
                }
                Typed::Nothing if *field == "date" => Some(today.clone()),
                Typed::Nothing => None,
                Typed::Text(t) => Some(t),
            };
            let wrong = text.as_deref().and_then(|text| match *field {
                "date" => session.wrong_date(text),
                "methods" => self::methods(text).err().map(|e| e.to_string()),
                _ => None,
            });
            if let Some(wrong) = wrong {
                terminal.say(&format!("  {wrong}"));
                continue;
            }
            self.constant.before.push(self.constant.fields.len());
            self.constant.fields.extend(text.map(|text| ((*field).to_owned(), text)));
        }
        Ok(true)
    }

    /// One joint of a string after another. From the first question of a joint the way leads back to the
    /// joint before, where that was left, and from the first joint to what holds for all.
    fn string(
        &mut self,
        terminal: &mut Terminal<'_>,
        session: &mut Session,
        list: &[JointRow],
    ) -> Result<Next, Failure> {
        let mut written = vec![false; list.len()];
        let mut at = 0;
        while let Some(row) = list.get(at) {
            let kept = self.done.len();
            match self.joint(terminal, session, row, Some((at + 1, list.len())))? {
                Next::Joint => {
                    written[at] = self.done.len() > kept;
                    at += 1;
                }
                Next::Back => match written[..at].iter().rposition(|written| !written) {
                    Some(left) => at = left,
                    None if self.done.is_empty() => return Ok(Next::Back),
                    None => terminal.say(KEPT),
                },
                Next::Stop => return Ok(Next::Stop),
            }
        }
        Ok(Next::Stop)
    }

    fn typed_serials(
        &mut self,
        terminal: &mut Terminal<'_>,
        session: &mut Session,
    ) -> Result<Next, Failure> {
        loop {
            let serial = match terminal.ask("serial", SERIAL_WANTED)? {
                Typed::End | Typed::Nothing => return Ok(Next::Stop),
                Typed::Text(t) if is_stop(&t) => return Ok(Next::Stop),
                Typed::Text(t) if is_back(&t) => {
                    if self.done.is_empty() {
                        return Ok(Next::Back);
                    }
                    terminal.say(KEPT);
                    continue;
                }
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
                return Ok(Next::Stop);
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
        let serial = ("serial".to_owned(), session.unique_serial(row)?);
        let bare = || {
            let mut fields = self.constant.fields.clone();
            fields.push(serial.clone());
            Answers::with(fields)
        };
        let mut answers = bare();
        loop {
            match self.readings(terminal, session, row, &now, &usual, &mut answers)? {
                Asked::All => {}
                Asked::Back => return Ok(Next::Back),
                Asked::Skip => return Ok(Next::Joint),
                Asked::Stop => return Ok(Next::Stop),
            }
            if answers.fields.len() == bare().fields.len() {
                terminal.say("  nothing was entered; the joint was not looked at and is left");
                return Ok(Next::Joint);
            }
            let mut outcome = self.read(session, &answers.fields)?;
            if outcome.is_refused() || outcome.drafts.is_empty() {
                for line in words::wrong(&outcome.diagnostics) {
                    terminal.say(&for_screen(&line));
                }
                terminal.say("  what was entered stays; 'back' goes to the answer that is wrong");
                answers.back();
                continue;
            }
            let Some(verdict) = session.inspected(&outcome.drafts)?.pop() else {
                return Ok(Next::Joint);
            };
            let told = session.told_of_record(&verdict)?;
            self.show(terminal, &verdict, &told);
            match Self::keep(terminal, || session.append(&mut outcome.drafts, self.args.how()))? {
                Keep::Written => {
                    self.done.push(verdict);
                    self.drafts.append(&mut outcome.drafts);
                    return Ok(Next::Joint);
                }
                Keep::Back => {
                    answers.back();
                }
                Keep::Again => answers = bare(),
                Keep::Skip => return Ok(Next::Joint),
                Keep::Stop => return Ok(Next::Stop),
            }
        }
    }

    /// Asks whether a joint is kept, and writes it where it is; one that could not be written is asked
    /// about again.
    fn keep<T>(
        terminal: &mut Terminal<'_>,
        mut write: impl FnMut() -> Result<T, Error>,
    ) -> Result<Keep, Failure> {
        loop {
            let typed = match terminal.ask("keep? [yes], back, again, skip", KEEP_WANTED)? {
                Typed::End => return Ok(Keep::Stop),
                Typed::Nothing => "yes".to_owned(),
                Typed::Text(t) => t.to_lowercase(),
            };
            match typed.as_str() {
                "yes" | "y" => match write() {
                    Ok(_) => return Ok(Keep::Written),
                    Err(error) => {
                        Failure::from(error).report(false);
                    }
                },
                "back" => return Ok(Keep::Back),
                "again" | "a" => return Ok(Keep::Again),
                "skip" | "s" | "no" | "n" => return Ok(Keep::Skip),
                "stop" | "done" => return Ok(Keep::Stop),
                _ => terminal.say(&format!("  {KEEP_WANTED}")),
            }
        }
    }

    /// The methods whose readings are asked for.
    fn methods(&self, row: &JointRow) -> Vec<Method> {
        let given = self
            .constant
            .fields
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
        answers: &mut Answers,
    ) -> Result<Asked, Failure> {
        let fields = &self.constant.fields;
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
        while let Some((field, prompt, wanted)) = questions.get(answers.before.len()) {
            let already = answers.fields.len();
            let prompt = (prompt.as_str(), wanted.as_str());
            match self.field(terminal, session, prompt, field, &mut answers.fields)? {
                Asked::All => answers.before.push(already),
                Asked::Back if answers.back() => {}
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
                Typed::Text(t) if is_skip(&t) => return Ok(Asked::Skip),
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
    /// What was asked before is to be asked again.
    Back,
    /// The joint is to be left.
    Skip,
    /// No more joints.
    Stop,
}

/// What becomes of a joint that was asked for to the end.
enum Keep {
    Written,
    /// Its last question is to be asked again.
    Back,
    /// All of its questions are to be asked again.
    Again,
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

fn is_skip(text: &str) -> bool {
    text.eq_ignore_ascii_case("skip")
}

/// Said where there is nothing to go back to.
const FIRST: &str = "  this is the first question";

/// Said where only joints lie before that were written.
const KEPT: &str =
    "  the joints before are written; `strike` takes one out, `enter amend` corrects it";

fn methods(text: &str) -> Result<Vec<Method>, crate::model::WordError> {
    text.split([';', ',', '+'])
        .map(str::trim)
        .filter(|w| !w.is_empty())
        .map(Method::from_word)
        .collect()
}
