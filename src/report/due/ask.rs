//! Asks the rules of the book: one pass says of which joints they speak, then values and labels are
//! read of those joints alone.

use std::collections::{BTreeMap, HashMap, HashSet};

use crate::condition::{Ground, answer};
use crate::filter::{Answer, Select, compile};
use crate::model::plural;
use crate::policy::{Driver, Outlook, Rule, RuleSet};
use crate::report::ReportError;
use crate::schema::{JointRow, Value};
use crate::store::Book;

use super::super::fitness::with_calls;
use super::super::pass::ReaderPool;
use super::super::question::{self, Present, in_context};
use super::super::rule_pass::{IN_SERVICE, Said, all_rules};
use super::line::{Ahead, Line, Reading, Spoken, Standing, Undecided, one_a_call};
use super::recent::{Recent, worn};
use super::values::{Against, against, labels, readings};
use super::{Options, calendar};

/// All that was found.
#[derive(Default)]
pub(super) struct Found {
    /// Lines, worst first.
    pub lines: Vec<Line>,
    pub undecided: Vec<Undecided>,
    /// For each rule that cannot be decided for some joints: for how many, and a sentence.
    pub open: Vec<(usize, String)>,
    /// One sentence for each rule that gives no date for some joints.
    pub unforeseen: Vec<String>,
    /// Joints in service of which the filter cannot tell whether they are asked about.
    pub untold: usize,
}

/// What a rule gave.
struct Part {
    due: Vec<(i64, Reading)>,
    soon: Vec<Coming>,
    wants: String,
    /// Joints whose use is not known, and joints whose wear is not.
    unforeseen: (usize, usize),
}

/// Asks all rules, once; those that make the call that is asked for are told.
pub(super) fn everything(
    book: &mut Book,
    rules: &RuleSet,
    options: &Options,
    present: &Present,
) -> Result<Found, ReportError> {
    let all: Vec<&Rule> = rules.rules.iter().collect();
    let is_wanted = |r: &&Rule| options.call.is_none_or(|c| c == r.call);
    let wanted: Vec<&Rule> = all.iter().copied().filter(is_wanted).collect();
    let recent = match options.within {
        Some(_) => Some(recent_of(book, None, &wanted, present)?),
        None => None,
    };
    let chosen = options.among.as_deref().map(|text| chosen(book, rules, text, present));
    let chosen = chosen.transpose()?;
    let among = options.among.as_deref();
    let mut readers = ReaderPool::open(book)?;
    let said = all_rules(&mut readers, rules, &all, among, options.within.is_some(), present)?;
    let called = called_for(&all, &said);
    let said = all.iter().zip(said).filter(|(rule, _)| is_wanted(rule)).map(|(_, said)| said);
    let said: Vec<Said> = said.collect();
    let ahead = options.within.zip(recent.as_ref());
    let parts = readers
        .each(wanted.len(), &|book, n| part(book, rules, wanted[n], &said[n], ahead, present))?;
    let mut by_the_calendar = match options.within {
        Some(Ahead::Days(days)) => calendar::coming(
            &mut readers,
            rules,
            (&wanted, &said),
            days,
            calendar::Of::All,
            present,
        )?,
        _ => BTreeMap::new(),
    };
    // Which joints are asked about is told as of now, not as of the days to come.
    if let Some(chosen) = &chosen {
        by_the_calendar.retain(|(_, joint), _| chosen.joints.contains(joint));
    }
    let mut named: Vec<i64> = by_the_calendar.keys().map(|(_, joint)| *joint).collect();
    for (said, part) in said.iter().zip(&parts) {
        named.extend(&said.due);
        named.extend(part.soon.iter().map(|s| s.joint));
        if options.undecided {
            named.extend(&said.open);
        }
    }
    named.sort_unstable();
    named.dedup();
    let labels = labels(readers.book(), &named, present)?;
    let untold = chosen.map_or(0, |chosen| chosen.untold);
    let mut found = Found { untold, ..Found::default() };
    for (n, ((rule, said), part)) in wanted.into_iter().zip(said).zip(parts).enumerate() {
        let spoken = Spoken::of(rule);
        let line = |joint, reading, standing| Line::of(&spoken, joint, &labels, reading, standing);
        found.lines.extend(part.due.into_iter().map(|(j, r)| line(j, r, Standing::Due)));
        let soon = part.soon.into_iter();
        found.lines.extend(soon.map(|s| line(s.joint, s.reading, Standing::Soon(s.outlook))));
        let of_rule = by_the_calendar.range((n, i64::MIN)..=(n, i64::MAX));
        found.lines.extend(of_rule.map(|((_, joint), (earliest, latest))| {
            let outlook =
                Outlook::Days { earliest: *earliest, likely: *latest, latest: Some(*latest) };
            line(*joint, Reading::default(), Standing::Soon(outlook))
        }));
        for (n, why) in [
            (part.unforeseen.0, "their use is not known"),
            (part.unforeseen.1, "their wear is not known"),
        ] {
            if n > 0 {
                let joints = plural(n, "joint");
                found.unforeseen.push(format!("{}: no date for {joints}, {why}", rule.name));
            }
        }
        let open = said.open.len();
        if open == 0 {
            continue;
        }
        let says = format!(
            "{} cannot be decided for {}, for want of: {}",
            rule.name,
            plural(open, "joint"),
            part.wants
        );
        found.open.push((open, says));
        if options.undecided {
            found.undecided.extend(said.open.iter().map(|joint| Undecided {
                label: labels.get(joint).cloned().unwrap_or_default(),
                call: rule.call,
                rule: rule.name.clone(),
                reason: rule.reason.clone(),
                wants: part.wants.clone(),
            }));
        }
    }
    for line in &mut found.lines {
        let grounds = called.get(&line.joint).into_iter().flatten().copied();
        line.fit = with_calls(line.label.recorded, answer(grounds));
    }
    found.lines = one_a_call(found.lines);
    Ok(found)
}

/// The joints that a filter asks about.
struct Chosen {
    joints: HashSet<i64>,
    /// In service, and the filter cannot be decided for them.
    untold: usize,
}

/// Joints in service for which a filter holds.
fn chosen(
    book: &mut Book,
    rules: &RuleSet,
    text: &str,
    present: &Present,
) -> Result<Chosen, ReportError> {
    let compiled = in_context(book, rules, present, |context| {
        // A filter that does not read is shown as it was typed.
        compile(text, context)?;
        compile(&format!("({text}) and ({IN_SERVICE})"), context)
    })
    .map_err(question::wrong)?;
    question::prepare(book, &compiled, &[])?;
    let query = compiled.select(&Select::of(Answer::Both));
    let mut out = Chosen { joints: HashSet::new(), untold: 0 };
    for row in question::ask(book, &query, present)? {
        let holds = query.truth.is_some_and(|at| row.get(at) == Some(&Value::Int(1)));
        match row.first() {
            Some(Value::Int(joint)) if holds => {
                out.joints.insert(*joint);
            }
            _ => out.untold += 1,
        }
    }
    Ok(out)
}

/// What rules that call are to joints, by joint.
fn called_for(rules: &[&Rule], said: &[Said]) -> HashMap<i64, Vec<Ground>> {
    let mut out: HashMap<i64, Vec<Ground>> = HashMap::new();
    for (rule, said) in rules.iter().zip(said) {
        for joint in &said.due {
            out.entry(*joint).or_default().push(Ground::of_call(rule.call));
        }
    }
    out
}

/// Recent use, and wear where one of the rules moves with it.
pub(super) fn recent_of(
    book: &Book,
    only: Option<&JointRow>,
    rules: &[&Rule],
    present: &Present,
) -> Result<Recent, ReportError> {
    let driver = |r: &&Rule| r.limit.as_ref().and_then(|l| l.driver);
    Recent::read(book, only, present, rules.iter().any(|r| driver(r).and_then(worn).is_some()))
}

/// The values of a rule where it speaks, what is soon, and what it wants where it is open.
fn part(
    book: &mut Book,
    rules: &RuleSet,
    rule: &Rule,
    said: &Said,
    ahead: Option<(Ahead, &Recent)>,
    present: &Present,
) -> Result<Part, ReportError> {
    let due = readings(book, rules, rule, &said.due, present)?;
    let (mut soon, mut unforeseen) = (Vec::new(), (0, 0));
    if let Some((ahead, recent)) = ahead {
        approaching(book, rules, (rule, said), recent, present, |way| {
            unforeseen.0 += usize::from(way.outlook == Outlook::UseUnknown);
            unforeseen.1 += usize::from(way.outlook == Outlook::RateUnknown);
            let is_soon = match ahead {
                Ahead::Days(days) => {
                    matches!(way.outlook, Outlook::Days { likely, .. } if likely <= days)
                }
                Ahead::Hours(h) => way.hours(recent).is_some_and(|left| left <= h),
            };
            if is_soon {
                let (joint, outlook) = (way.joint, way.outlook);
                soon.push(Coming { joint, outlook, reading: way.value.reading() });
            }
        })?;
    }
    let wants = wants(book, rules, rule, &said.open, present)?;
    Ok(Part { due, soon, wants, unforeseen })
}

/// So many joints of those for which a rule is open are looked at for what it wants.
const LOOKED_AT: usize = 256;

/// The parts of a rule that are open, three at most, by a look at some of the joints for which it
/// is: these lie evenly among all of them.
fn wants(
    book: &mut Book,
    rules: &RuleSet,
    rule: &Rule,
    open: &[i64],
    present: &Present,
) -> Result<String, ReportError> {
    if open.is_empty() {
        return Ok(String::new());
    }
    let some: Vec<i64> = open.iter().copied().step_by(open.len().div_ceil(LOOKED_AT)).collect();
    let compiled = in_context(book, rules, present, |context| compile(&rule.name, context))
        .map_err(question::wrong)?;
    let (query, labels) = compiled.undecided_by(Some(&some));
    let answer = question::ask(book, &query, present)?;
    let counts = answer.first().map_or(&[][..], |row| row.get(1..).unwrap_or(&[]));
    let wants: Vec<&str> = labels
        .iter()
        .zip(counts)
        .filter(|(_, n)| matches!(n, Value::Int(n) if *n > 0))
        .map(|(label, _)| label.as_str())
        .take(3)
        .collect();
    Ok(wants.join("; "))
}

/// A joint that a rule will call for.
struct Coming {
    joint: i64,
    outlook: Outlook,
    reading: Reading,
}

/// A joint on its way to a limit.
pub(super) struct Way<'a> {
    pub joint: i64,
    /// When it will be there.
    pub outlook: Outlook,
    /// What moves it, and what is left, in base units.
    driver: Driver,
    left: f64,
    value: &'a Against<'a>,
}

impl Way<'_> {
    /// Rotating hours until it is there, where known.
    fn hours(&self, recent: &Recent) -> Option<f64> {
        recent.hours_until(self.joint, self.driver, self.left, self.value.counted_in())
    }
}

/// Visits joints that a rule does not call for yet, where it moves with use or time.
pub(super) fn approaching(
    book: &mut Book,
    rules: &RuleSet,
    (rule, said): (&Rule, &Said),
    recent: &Recent,
    present: &Present,
    mut see: impl FnMut(&Way<'_>),
) -> Result<(), ReportError> {
    let Some(driver) = rule.limit.as_ref().and_then(|l| l.driver) else { return Ok(()) };
    against(book, rules, rule, &said.coming, present, |joint, value| {
        if let Some(left) = value.left().filter(|l| *l >= 0.0) {
            let outlook = recent.outlook(joint, driver, left, value.counted_in());
            see(&Way { joint, outlook, driver, left, value });
        }
    })
}

/// When each of the rules that move with use or time will call for each joint that it does not call
/// for yet.
pub(super) fn outlooks(
    book: &mut Book,
    rules: &RuleSet,
    moving: &[&Rule],
    recent: &Recent,
    present: &Present,
) -> Result<Vec<Vec<(i64, Outlook)>>, ReportError> {
    let mut readers = ReaderPool::open(book)?;
    let said = all_rules(&mut readers, rules, moving, None, true, present)?;
    readers.each(moving.len(), &|book, n| {
        let mut out = Vec::new();
        approaching(book, rules, (moving[n], &said[n]), recent, present, |way| {
            out.push((way.joint, way.outlook));
        })?;
        Ok(out)
    })
}
