//! A verdict on one joint as a report: what it may do, what decided, how far it is from the next
//! limit, what is not known, what follows and who may do it, and the caution once.

use crate::condition::{
    Action, Because, Colour, Governing, Judged, Judgement, Level, Missing, Outcome, Part, RestsOn,
    StepFlag, Verdict, levels,
};
use crate::mechanics::tube::sizes::{self, SizeTolerance};
use crate::model::{Class, Clock, Component, JointBody, Method, Qty, Vocabulary, fold};
use crate::projection::joint::{Appraisal, ClassEvent};
use crate::units::{Measure, UnitSystem};

use super::data::plain;
use super::fitness::{self, Told};
use super::{Block, Cell, Column, Fact, Report, ReportError, Table, instant};

/// How a verdict is shown.
#[derive(Clone, Copy)]
pub struct Show<'a> {
    pub units: UnitSystem,
    /// Clock offset of the place.
    pub clock: Clock,
    /// Name of an entry by its place in the book.
    pub entry: &'a dyn Fn(i64) -> String,
    /// Whether to tell how the class came about.
    pub history: bool,
}

/// A class as people say it.
pub fn class_name(class: Class) -> &'static str {
    Outcome::Class(class).text()
}

fn class_cell(class: Option<Class>) -> Cell {
    Cell::text(class.map(class_name))
}

fn listed<V: Vocabulary>(words: &[V]) -> String {
    words.iter().map(|w| plain(w.word())).collect::<Vec<_>>().join(" or ")
}

/// What a joint is, in a few words: `5 in 19.50 lb/ft G-105 NC50 drill pipe`.
pub fn describe(joint: &JointBody, units: UnitSystem) -> String {
    let text = |q: &Option<Qty>, m: Measure| {
        q.as_ref().and_then(|q| q.stored(m)).map(|q| m.text(q, units))
    };
    let mut parts = Vec::new();
    parts.extend(text(&joint.od, Measure::Diameter));
    match text(&joint.weight, Measure::LinearMass) {
        Some(weight) => parts.push(weight),
        None => parts.extend(text(&joint.wall, Measure::Wall).map(|w| format!("× {w}"))),
    }
    parts.extend(joint.grade.clone());
    parts.extend(joint.connection.clone());
    parts.push(plain(joint.component.word()));
    parts.join(" ")
}

/// A size as the trade writes it, as fields of a certificate: `5 in 19.50 lb/ft` (its wall from the
/// table of sizes) or `5 in x 0.362 in`.
pub fn size_fields(text: &str) -> Result<Vec<(String, String)>, ReportError> {
    let wrong = |why: &str| {
        ReportError::Words(format!(
            "'{text}' is no size: {why}; write \"5 in 19.50 lb/ft\" or \"5 in x 0.362 in\""
        ))
    };
    let tidy = text.trim();
    let blanks = tidy.match_indices(' ').map(|(i, _)| i).collect::<Vec<_>>();
    // The longest part in front that is a length is the diameter.
    let split = blanks.iter().rev().find_map(|i| {
        let (od, rest) = (tidy[..*i].trim(), tidy[*i..].trim());
        Qty::parse(od, Measure::Diameter).ok().map(|q| (q, rest))
    });
    let Some((od, rest)) = split else {
        return Err(wrong("it begins with the outside diameter and its unit"));
    };
    let od_field = ("od".to_owned(), od.to_string());
    let wall = rest.trim_start_matches(['x', 'X', '×', '*']).trim();
    if let Ok(wall) = Qty::parse(wall, Measure::Wall) {
        return Ok(vec![od_field, ("wall".to_owned(), wall.to_string())]);
    }
    let weight = Qty::parse(rest, Measure::LinearMass)
        .map_err(|_| wrong("behind the diameter comes the weight or the wall, with its unit"))?;
    let base = |q: &Qty, m| q.base(m).unwrap_or(f64::NAN);
    let found = sizes::by_weight(
        base(&od, Measure::Diameter),
        base(&weight, Measure::LinearMass),
        SizeTolerance::default(),
    )
    .map_err(|e| ReportError::Words(e.to_string()))?;
    Ok(vec![
        od_field,
        ("weight".to_owned(), weight.to_string()),
        ("wall".to_owned(), format!("{} in", found.wall_inches())),
    ])
}

/// A verdict on one joint, and whether it is fit to run.
pub fn report(a: &Appraisal, told: &Told, title: &str, show: &Show<'_>) -> Report {
    let v = &a.verdict;
    let mut report = Report::new("assess");
    report.push(Block::Heading(format!("{title}, {}", describe(&a.joint, show.units))));
    report.blocks.extend(fitness::blocks(told, show.entry, show.units));
    report.push(Block::Facts { name: "verdict", facts: facts(a, told) });
    if let Some(facts) = governing(v, show.units) {
        report.push(Block::Facts { name: "decided_by", facts });
    }
    if !v.actions.is_empty() {
        report.push(Block::Table(actions(v)));
    }
    if !v.missing.is_empty() {
        report.push(Block::Table(missing(v)));
    }
    if !v.judgements.is_empty() {
        report.push(Block::Table(margins(v)));
    }
    if !v.findings.is_empty() {
        report.push(Block::Table(findings(v)));
    }
    if show.history && !a.history.is_empty() {
        report.push(Block::Table(history(&a.history, show)));
    }
    for note in notes(a) {
        report.push(Block::Note(note));
    }
    let caution = Block::Caution(v.caution_text());
    if told.may_run() {
        report.push(fitness::caution());
    }
    if !(told.may_run() && says(&fitness::caution(), &caution)) {
        report.push(caution);
    }
    report
}

/// Whether a caution holds all that another says.
fn says(one: &Block, other: &Block) -> bool {
    matches!((one, other), (Block::Caution(one), Block::Caution(other)) if one.contains(other))
}

/// Holds the methods of an inspection against the inspection levels of a name: which of those that a
/// level asks for were not used.
///
/// # Errors
/// A sentence that names the levels of the component, where none has that name.
pub fn add_level(
    report: &mut Report,
    component: Component,
    used: &[Method],
    name: &str,
) -> Result<(), ReportError> {
    let of_component = || levels().iter().filter(|l| l.components.contains(&component));
    let title = |l: &Level| format!("{} {}", l.standard, l.level);
    let rows: Vec<Vec<Cell>> = of_component()
        .filter(|l| fold(&title(l)).contains(&fold(name)))
        .map(|l| {
            let missed = l.missed(used);
            vec![
                Cell::Text(title(l)),
                missed.as_ref().map_or(Cell::Missing, |m| Cell::Truth(m.is_empty())),
                missed.filter(|m| !m.is_empty()).map_or(Cell::Missing, |m| {
                    Cell::Text(m.iter().map(|m| plain(m.word())).collect::<Vec<_>>().join(", "))
                }),
                class_cell(l.acceptance),
                Cell::text(Some(l.meant_for.as_str()).filter(|m| !m.is_empty())),
                Cell::Text(
                    [l.source.as_str(), l.edition.as_str(), l.provenance.word(), l.note.as_str()]
                        .into_iter()
                        .filter(|part| !part.is_empty())
                        .collect::<Vec<_>>()
                        .join("; "),
                ),
            ]
        })
        .collect();
    if rows.is_empty() {
        let known: Vec<String> = of_component().map(title).collect();
        return Err(ReportError::Words(if known.is_empty() {
            format!("no inspection level of {} is known", plain(component.word()))
        } else {
            format!("'{name}' is no inspection level; known: {}", known.join(", "))
        }));
    }
    let at = report.blocks.iter().position(|b| matches!(b, Block::Note(_) | Block::Caution(_)));
    let table = Table {
        name: "levels",
        columns: vec![
            Column::plain("level", "inspection level"),
            Column::plain("met", "met"),
            Column::plain("missing", "not done"),
            Column::plain("accepts", "accepts to"),
            Column::plain("meant_for", "meant for").dispensable(2),
            Column::plain("source", "by").dispensable(1),
        ],
        rows,
        ..Table::default()
    };
    report.blocks.insert(at.unwrap_or(report.blocks.len()), Block::Table(table));
    Ok(())
}

fn facts(a: &Appraisal, told: &Told) -> Vec<Fact> {
    let v = &a.verdict;
    let follows = told.follows(v.disposition);
    let mut out = vec![Fact::plain("disposition", "what follows", Cell::Text(follows.to_owned()))];
    out.push(Fact::plain("class", "class", class_cell(a.class())));
    let computed = v.overall.standing.text();
    if a.class().map(class_name) != Some(computed.as_str()) {
        out.push(Fact::plain("computed", "computed", Cell::Text(computed)));
    }
    if a.class_before != a.class() {
        out.push(Fact::plain("class_before", "before", class_cell(a.class_before)));
    }
    if let Some(declared) = a.declared {
        let differs = if a.disputed { " (differs: both are kept)" } else { "" };
        let text = format!("{}{differs}", class_name(declared));
        out.push(Fact::plain("declared", "inspector's class", Cell::Text(text)));
    }
    for (name, part) in [("tube", Part::Tube), ("pin", Part::Pin), ("box", Part::Box)] {
        if let Some(p) = v.part(part) {
            let mut text = p.standing.text();
            if let (true, Some(measured)) = (p.held_down(), p.measured) {
                text = format!("{text} (measured {})", class_name(measured));
            }
            out.push(Fact::plain(name, name, Cell::Text(text)));
        }
    }
    if let Some(to) = v.downgrade_to {
        out.push(Fact::plain("downgrade_to", "goes down to", class_cell(Some(to))));
    }
    let who: Vec<&str> = v.who().iter().map(|p| p.says()).collect();
    if !who.is_empty() {
        out.push(Fact::plain("who", "who may act", Cell::Text(who.join("; "))));
    }
    let paint = paint(v, told.may_run());
    out.push(Fact::plain("paint", "paint to put on", Cell::text(paint.as_deref())));
    if !a.restrictions.is_empty() {
        let texts: Vec<&str> = a.restrictions.iter().map(|r| r.says()).collect();
        out.push(Fact::plain("restriction", "restriction", Cell::Text(texts.join("; "))));
    }
    out.push(Fact::plain("limits", "judged by", Cell::Text(v.limits.clone())));
    out
}

/// Bands to paint: `tube: 2 white bands; box tool joint: 1 red band`. On a joint that is not fit only
/// those that say so.
pub(super) fn paint(v: &Verdict, fit: bool) -> Option<String> {
    let texts: Vec<String> = v
        .bands
        .iter()
        .filter(|b| fit || matches!(b.colour, Colour::Red | Colour::Green))
        .map(|b| {
            let on = match b.on {
                Part::Tube | Part::Joint => "tube".to_owned(),
                end => format!("{end} tool joint"),
            };
            let s = if b.count == 1 { "" } else { "s" };
            format!("{on}: {} {} band{s} ({}; {})", b.count, b.colour, b.source, b.provenance)
        })
        .collect();
    (!texts.is_empty()).then(|| texts.join("; "))
}

/// What decided, with the limit and where that comes from.
fn governing(v: &Verdict, units: UnitSystem) -> Option<Vec<Fact>> {
    let text = |name: &str, label: &str, t: String| Fact::plain(name, label, Cell::Text(t));
    Some(match v.governing.as_ref()? {
        Governing::Judgement(at) => {
            let j = v.judgements.get(*at)?;
            let part = if j.part.end().is_some() { format!("{}: ", j.part) } else { String::new() };
            let what = format!("{part}{}, {}", j.criterion.spec().name, j.value_text(units));
            let mut out =
                vec![text("criterion", "decided by", what), text("limit", "limit", j.limit.text())];
            if let Some(margin) = j.margin {
                let size = j.measure.text(margin.saturating_abs(), units);
                let next = j.next.map_or_else(String::new, |n| format!(", then {}", n.text()));
                let side = if margin < 0 { "beyond it" } else { "to spare" };
                out.push(text("margin", "margin", format!("{size} {side}{next}")));
            }
            out.push(text("source", "source", source(j)));
            out
        }
        Governing::Finding(at) => {
            let f = v.findings.get(*at)?;
            vec![
                text("finding", "decided by", f.name.clone()),
                text("source", "source", format!("{}; {}", f.source, plain(f.provenance.word()))),
            ]
        }
        Governing::Missing(at) => {
            let m = v.missing.get(*at)?;
            vec![text("missing", "decided by", m.text())]
        }
    })
}

fn source(j: &Judgement) -> String {
    let mut text = format!("{}; {}", j.limit.authority(), plain(j.limit.provenance.word()));
    if let Some(remark) = j.remark {
        text.push_str("; ");
        text.push_str(remark);
    }
    text
}

fn because(b: &Because) -> String {
    match b {
        Because::Criterion(c) => c.spec().name.to_owned(),
        Because::Finding(word) => plain(word),
        Because::Missing(what) => format!("{what} is not known"),
        Because::Class(c) => format!("class: {}", class_name(*c)),
    }
}

fn actions(v: &Verdict) -> Table {
    let row = |a: &Action| {
        let who: Vec<&str> = a.who.iter().map(|p| p.says()).collect();
        vec![
            Cell::Text(a.part.to_string()),
            Cell::Text(a.disposition.says().to_owned()),
            Cell::Text(because(&a.because)),
            if a.works.is_empty() { Cell::Missing } else { Cell::Text(listed(&a.works)) },
            Cell::Text(who.join("; ")),
        ]
    };
    Table {
        name: "actions",
        columns: vec![
            Column::plain("part", "part"),
            Column::plain("disposition", "do"),
            Column::plain("because", "because of"),
            Column::plain("work", "work").dispensable(1),
            Column::plain("who", "who may"),
        ],
        rows: v.actions.iter().map(row).collect(),
        empty: String::new(),
        below: Some(4),
    }
}

fn missing(v: &Verdict) -> Table {
    let row = |m: &Missing| {
        let needed = match (m.critical, m.from_class) {
            (true, None) => "yes".to_owned(),
            (true, Some(c)) if !m.could_stop => format!("for {} or better", class_name(c)),
            (true, Some(_)) | (false, _) if m.could_stop => "to run".to_owned(),
            (true, Some(_)) | (false, _) => "no".to_owned(),
        };
        vec![
            Cell::Text(m.part.to_string()),
            Cell::Text(m.what.clone()),
            Cell::Text(m.lack.text().to_owned()),
            Cell::Text(needed),
            if m.by.is_empty() { Cell::Missing } else { Cell::Text(listed(&m.by)) },
            Cell::Text(m.why.clone()),
        ]
    };
    Table {
        name: "not_known",
        columns: vec![
            Column::plain("part", "part"),
            Column::plain("what", "not known"),
            Column::plain("lack", "why"),
            Column::plain("needed", "needed to pass"),
            Column::plain("by", "to be had by").dispensable(1),
            Column::plain("reason", "what it is needed for").dispensable(2),
        ],
        rows: v.missing.iter().map(row).collect(),
        empty: String::new(),
        below: None,
    }
}

fn margins(v: &Verdict) -> Table {
    let row = |j: &Judgement| {
        let length = match j.value {
            Judged::Read(crate::condition::Amount::Length(q)) | Judged::WallLeft(q) => Some(q),
            _ => None,
        };
        let share = match j.value {
            Judged::Read(crate::condition::Amount::OfNominal(q)) | Judged::Share(q) => Some(q),
            _ => j.share,
        };
        let in_length = length.is_some();
        vec![
            Cell::Text(j.part.to_string()),
            Cell::Text(j.criterion.word().to_owned()),
            Cell::number(length),
            Cell::number(share),
            Cell::Text(j.outcome.text().to_owned()),
            Cell::Text(j.limit.text()),
            Cell::number(j.margin.filter(|_| in_length)),
            Cell::text(j.next.map(Outcome::text)),
            Cell::number(j.age),
            Cell::Text(format!("{}: {}", j.criterion.spec().name, source(j))),
        ]
    };
    Table {
        name: "margins",
        columns: vec![
            Column::plain("part", "part"),
            Column::plain("criterion", "criterion"),
            Column::of("value", "value", Measure::Wall),
            Column::of("share", "share", Measure::Ratio).dispensable(2),
            Column::plain("says", "says"),
            Column::plain("limit", "limit"),
            Column::of("margin", "to spare", Measure::Wall),
            Column::plain("next", "next").dispensable(3),
            Column::of("age", "age", Measure::Days).dispensable(4),
            Column::plain("source", "source"),
        ],
        rows: v.judgements.iter().map(row).collect(),
        empty: String::new(),
        below: Some(9),
    }
}

fn findings(v: &Verdict) -> Table {
    Table {
        name: "findings",
        columns: vec![
            Column::plain("finding", "found"),
            Column::plain("parts", "on"),
            Column::plain("disposition", "what follows"),
            Column::plain("works", "made good by").dispensable(1),
            Column::plain("source", "source"),
        ],
        rows: v
            .findings
            .iter()
            .map(|f| {
                let mut name = f.name.clone();
                if !f.nearest.is_empty() {
                    name = format!("{name} (did you mean {}?)", f.nearest.join(" or "));
                }
                vec![
                    Cell::Text(name),
                    Cell::Text(listed(&f.parts)),
                    Cell::Text(f.disposition.says().to_owned()),
                    if f.works.is_empty() { Cell::Missing } else { Cell::Text(listed(&f.works)) },
                    Cell::Text(format!("{}; {}", f.source, plain(f.provenance.word()))),
                ]
            })
            .collect(),
        empty: String::new(),
        below: Some(4),
    }
}

/// Why a step in the history of a class is as it is.
fn flag_text(flag: StepFlag) -> &'static str {
    match flag {
        StepFlag::NotEstablished => "the verdict establishes no class",
        StepFlag::HeldDown => "held down for want of a search for cracks",
        StepFlag::Carried => "rests in part on earlier readings",
        StepFlag::RiseWithoutEvidence => "a better class came out and nothing shows why: it stays",
        StepFlag::Remeasured => "what had put it down was measured again",
        StepFlag::Searched => "a search that was wanting was made",
        StepFlag::Repaired => "what had put it down was repaired",
        StepFlag::DecidedBetter => "a person gave a better class than the computed one",
        StepFlag::DecidedWorse => "a person gave a worse class than the computed one",
        StepFlag::DecidedAgainstRejection => "a person gave a class to a joint that was out",
        StepFlag::DecisionWithoutReason => "a decision without a reason changes nothing",
    }
}

fn rests_on(r: RestsOn) -> &'static str {
    match r {
        RestsOn::Verdict => "verdict",
        RestsOn::Before => "what was known before",
        RestsOn::Decision => "a person's decision",
        RestsOn::Nothing => "nothing",
    }
}

fn history(events: &[ClassEvent], show: &Show<'_>) -> Table {
    Table {
        name: "class_history",
        columns: vec![
            Column::plain("at", "when"),
            Column::plain("before", "class before"),
            Column::plain("after", "after"),
            Column::plain("rests_on", "rests on"),
            Column::plain("decided_by", "decided by"),
            Column::plain("entry", "entry"),
            Column::plain("limits", "judged by").dispensable(2),
            Column::plain("evidence", "evidence"),
        ],
        rows: events
            .iter()
            .map(|e| {
                let flags: Vec<&str> = e.flags.iter().map(|f| flag_text(*f)).collect();
                vec![
                    instant(e.at.0, show.clock),
                    class_cell(e.before),
                    class_cell(e.after),
                    Cell::Text(rests_on(e.rests_on).to_owned()),
                    Cell::text(e.decided_by.as_deref()),
                    Cell::Text((show.entry)(e.entry)),
                    Cell::text(e.limits.as_deref()),
                    Cell::Text(flags.join("; ")),
                ]
            })
            .collect(),
        empty: String::new(),
        below: Some(7),
    }
}

fn notes(a: &Appraisal) -> Vec<String> {
    let mut out = Vec::new();
    for flag in a.step.flags.iter().filter(|f| {
        matches!(
            f,
            StepFlag::RiseWithoutEvidence
                | StepFlag::DecidedBetter
                | StepFlag::DecidedWorse
                | StepFlag::DecidedAgainstRejection
        )
    }) {
        out.push(flag_text(*flag).to_owned());
    }
    if a.step.rests_on == RestsOn::Decision {
        out.push("the class is a person's decision, not computed".to_owned());
    }
    if !a.verdict.unplaced.is_empty() {
        let list: Vec<String> = a.verdict.unplaced.iter().map(|r| plain(r.word())).collect();
        out.push(format!(
            "belongs to an end and names none, so it judges nothing: {}",
            list.join(", ")
        ));
    }
    out
}
