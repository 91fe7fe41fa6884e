//! The statement of a hire: every joint's condition out against in, what the hire used, what it
//! cost by the owner's prices.

mod charges;
mod gather;
mod told;

use std::collections::BTreeMap;

use chrono::NaiveDate;

use crate::model::{Class, Instant, Vocabulary, plural};
use crate::policy::price::Prices;
use crate::report::{Block, Cell, Column, Fact, Report, ReportError, Table};
use crate::store::Book;
use crate::units::Measure;

use gather::{Hire, HiredJoint, Used};

use super::{Present, instant};

/// The statement of a hire.
///
/// # Errors
/// `Words` for a hire that the book does not know.
pub fn report(
    book: &Book,
    name: &str,
    prices: Option<&Prices>,
    present: &Present,
) -> Result<Report, ReportError> {
    let Some(hire) = gather::hire(book, name, present.now.0)? else {
        let known = gather::names(book)?;
        let list = if known.is_empty() {
            "the book knows no hire".to_owned()
        } else {
            format!("known: {}", known.join(", "))
        };
        return Err(ReportError::Words(format!("there is no hire {name}; {list}")));
    };
    let mut report = Report::new("statement");
    report.push(Block::Heading(format!("Statement of hire {}", hire.name)));
    if let Some(owner) = prices.map(|p| &p.owner).filter(|o| !o.is_empty()) {
        report.push(Block::Text(owner.join("\n")));
    }
    report.push(Block::Facts { name: "hire", facts: facts(&hire, prices, present) });
    report.push(Block::Table(joints(&hire, prices, present)));
    report.push(Block::Table(classes(&hire)));
    report.push(Block::Table(repairs(&hire)));
    if let Some(prices) = prices {
        charges::push(&mut report, &hire, prices, present);
    }
    for note in notes(&hire, prices.is_some()) {
        report.push(Block::Note(note));
    }
    report.push(Block::Caution(
        "classes are computed from what was read and found; the contract, the governing standard and \
         a qualified person decide what the hire answers for"
            .to_owned(),
    ));
    Ok(report)
}

impl HiredJoint {
    const fn is_still_out(&self) -> bool {
        self.back.is_none() && self.lost.is_none()
    }

    const fn is_comparable(&self) -> bool {
        self.before.class.is_some() && self.after.class.is_some()
    }

    /// It came back in a lower class than it went out in.
    fn downgrade(&self) -> Option<(Class, Class)> {
        match (self.before.class, self.after.class) {
            (Some(a), Some(b)) if b > a => Some((a, b)),
            _ => None,
        }
    }
}

/// When a joint's hire ended; for one that is still out, now.
fn end_of(joint: &HiredJoint, present: &Present) -> i64 {
    joint.back.or(joint.lost).unwrap_or(present.now.0).max(joint.out)
}

fn civil_day(ms: i64, present: &Present) -> NaiveDate {
    Instant(ms).day(present.clock)
}

/// Civil days on hire, by the way that the price file counts them.
fn days(joint: &HiredJoint, prices: Option<&Prices>, present: &Present) -> i64 {
    let how = prices.map_or_else(Default::default, |p| p.days);
    i64::try_from(charges::charged_days(joint, how, present).len()).unwrap_or(i64::MAX)
}

impl Report {
    /// A statement for people to read: without the long table of every charge of every joint.
    pub(crate) fn without_charges_by_joint(&mut self) {
        self.blocks.retain(|b| !matches!(b, Block::Table(t) if t.name == charges::LISTED));
    }

    /// A statement as one table: where it has charges, every charge of every joint and the total.
    pub(crate) fn only_charges_by_joint(&mut self) {
        let is_listed = |b: &Block| matches!(b, Block::Table(t) if t.name == charges::LISTED);
        if !self.blocks.iter().any(is_listed) {
            return;
        }
        let total = self.blocks.iter().find_map(|b| match b {
            Block::Facts { name: "bill", facts } => facts.iter().find(|f| f.name == "total"),
            _ => None,
        });
        let total = total.map(|f| f.value.clone());
        self.blocks.retain(is_listed);
        if let (Some(Block::Table(table)), Some(total)) = (self.blocks.first_mut(), total) {
            let currency = table.rows.first().and_then(|row| row.last()).cloned();
            let of = |column: &Column| match column.name.as_str() {
                "serial" => Cell::Text("total".to_owned()),
                "amount" => total.clone(),
                "currency" => currency.clone().unwrap_or(Cell::Missing),
                _ => Cell::Missing,
            };
            table.rows.push(table.columns.iter().map(of).collect());
        }
    }
}

fn bound(used: Used) -> Cell {
    Cell::bound(used.known, (!used.open).then_some(used.known))
}

fn sum(hire: &Hire, get: fn(&HiredJoint) -> Used) -> Used {
    let mut all = Used::default();
    for used in hire.joints.iter().map(get) {
        all.known += used.known;
        all.open |= used.open;
    }
    all
}

fn facts(hire: &Hire, prices: Option<&Prices>, present: &Present) -> Vec<Fact> {
    let day = |ms: Option<i64>| ms.map_or(Cell::Missing, |t| instant(t, present.clock));
    let back = hire.joints.iter().filter(|j| j.back.is_some()).count();
    let still_out = hire.joints.iter().filter(|j| j.is_still_out()).count();
    let comparable = hire.joints.iter().filter(|j| j.is_comparable()).count();
    let mut facts = vec![
        Fact::plain("name", "hire", Cell::Text(hire.name.clone())),
        Fact::plain("party", "to", Cell::Text(hire.party.clone())),
        Fact::plain("contract", "contract", Cell::text(hire.contract.as_deref())),
        Fact::plain("out", "first out", day(hire.joints.iter().map(|j| j.out).min())),
        Fact::plain("back", "last back", day(hire.joints.iter().filter_map(|j| j.back).max())),
        Fact::plain("joints_out", "joints out", Cell::count(hire.joints.len())),
        Fact::plain("joints_back", "joints back", Cell::count(back)),
        Fact::plain("still_out", "still out", Cell::count(still_out)),
        Fact::plain("lost", "lost", Cell::count(hire.joints.len() - back - still_out)),
        Fact::plain("extra", "back, never out on it", Cell::count(hire.extra.len())),
        Fact::plain(
            "joint_days",
            "joint-days on hire",
            Cell::Number(hire.joints.iter().map(|j| days(j, prices, present)).sum()),
        ),
        Fact::of("hours", "joint-hours rotated", bound(sum(hire, |j| j.hours)), Measure::Hours),
        Fact::of("turns", "joint-turns", bound(sum(hire, |j| j.revolutions)), Measure::Turns),
        Fact::plain("comparable", "class out and in known", Cell::count(comparable)),
        Fact::plain(
            "doubtful",
            "joints of doubtful comparison",
            Cell::count(hire.joints.iter().filter(|j| !j.doubts.is_empty()).count()),
        ),
    ];
    let agreed = hire.agreed.join("; ");
    let agreed = (!agreed.is_empty()).then_some(agreed);
    facts.insert(3, Fact::plain("agreed", "condition agreed", Cell::text(agreed.as_deref())));
    facts
}

fn class(c: Option<Class>) -> Cell {
    c.map_or(Cell::Missing, |c| Cell::Text(c.to_string().replace('_', " ")))
}

fn joints(hire: &Hire, prices: Option<&Prices>, present: &Present) -> Table {
    use Measure as M;
    let row = |j: &HiredJoint| {
        let day = |t: Option<i64>| t.map_or(Cell::Missing, |t| instant(t, present.clock));
        let works: Vec<String> = j
            .repairs
            .iter()
            .map(|(work, end)| {
                let end = end.map_or_else(String::new, |e| format!("{e} "));
                format!("{end}{}", work.word()).replace('_', " ")
            })
            .collect();
        let words = |list: &[String]| match list.join(", ") {
            text if text.is_empty() => Cell::Missing,
            text => Cell::Text(text),
        };
        let mut below = Vec::new();
        below.extend((!works.is_empty()).then(|| format!("repaired: {}", works.join(", "))));
        below.extend((!j.found.is_empty()).then(|| format!("found: {}", j.found.join(", "))));
        below.extend((!j.doubts.is_empty()).then(|| format!("doubtful: {}", j.doubts.join("; "))));
        vec![
            Cell::Text(j.serial.clone()),
            day(Some(j.out)),
            day(j.back),
            Cell::Number(days(j, prices, present)),
            bound(j.hours),
            bound(j.revolutions),
            bound(j.footage),
            bound(j.damage),
            class(j.before.class),
            class(j.after.class),
            Cell::number(j.before.wall),
            Cell::number(j.after.wall),
            Cell::number(j.before.box_od),
            Cell::number(j.after.box_od),
            Cell::number(j.before.pin_od),
            Cell::number(j.after.pin_od),
            words(&works),
            words(&j.found),
            if j.doubts.is_empty() { Cell::Missing } else { Cell::Text(j.doubts.join("; ")) },
            if below.is_empty() { Cell::Missing } else { Cell::Text(below.join("; ")) },
        ]
    };
    let columns = vec![
        Column::plain("serial", "serial"),
        Column { once: true, ..Column::plain("out", "out").dispensable(9) },
        Column { once: true, ..Column::plain("back", "back").dispensable(9) },
        Column::plain("days", "days"),
        Column::of("hours", "hours", M::Hours),
        Column::of("turns", "turns", M::Turns).dispensable(5),
        Column::of("drilled", "drilled", M::Depth).dispensable(8),
        Column::of("damage", "damage", M::Damage).dispensable(4),
        Column::plain("class_out", "class\nout"),
        Column::plain("class_in", "class\nin"),
        Column::of("wall_out", "wall\nout", M::Ratio),
        Column::of("wall_in", "wall\nin", M::Ratio),
        Column::of("box_od_out", "box OD\nout", M::Diameter).dispensable(2),
        Column::of("box_od_in", "box OD\nin", M::Diameter).dispensable(2),
        Column::of("pin_od_out", "pin OD\nout", M::Diameter).dispensable(3),
        Column::of("pin_od_in", "pin OD\nin", M::Diameter).dispensable(3),
        Column::plain("repairs", "repairs").for_machines(),
        Column::plain("found", "found").for_machines(),
        Column::plain("doubtful", "doubtful").for_machines(),
        // Below the joint they stand on every screen and page, however narrow.
        Column::plain("remarks", "remarks").for_people(),
    ];
    Table {
        name: "joints",
        below: columns.len().checked_sub(1),
        columns,
        rows: hire.joints.iter().map(row).collect(),
        empty: "no joint went out".to_owned(),
    }
}

/// How many joints went out in which class and came back in which.
fn classes(hire: &Hire) -> Table {
    let mut counts: BTreeMap<(Option<Class>, Option<Class>), i64> = BTreeMap::new();
    for j in &hire.joints {
        *counts.entry((j.before.class, j.after.class)).or_default() += 1;
    }
    Table {
        name: "classes",
        columns: vec![
            Column::plain("class_out", "class out"),
            Column::plain("class_in", "class in"),
            Column::plain("joints", "joints"),
            Column::plain("change", "change"),
        ],
        rows: counts
            .into_iter()
            .map(|((a, b), n)| {
                let change = match (a, b) {
                    (Some(a), Some(b)) if b > a => "downgraded",
                    (Some(a), Some(b)) if b < a => "better after repair or reading",
                    (Some(_), Some(_)) => "same",
                    _ => "cannot be compared",
                };
                vec![class(a), class(b), Cell::Number(n), Cell::Text(change.to_owned())]
            })
            .collect(),
        empty: String::new(),
        below: None,
    }
}

fn repairs(hire: &Hire) -> Table {
    let mut counts: BTreeMap<(crate::model::Work, Option<crate::model::End>), i64> =
        BTreeMap::new();
    for (work, end) in hire.joints.iter().flat_map(|j| &j.repairs) {
        *counts.entry((*work, *end)).or_default() += 1;
    }
    Table {
        name: "repairs",
        columns: vec![
            Column::plain("work", "repair after the hire"),
            Column::plain("end", "end"),
            Column::plain("count", "times"),
        ],
        rows: counts
            .into_iter()
            .map(|((work, end), n)| {
                vec![
                    Cell::Text(work.to_string().replace('_', " ")),
                    end.map_or(Cell::Missing, |e| Cell::Text(e.to_string())),
                    Cell::Number(n),
                ]
            })
            .collect(),
        empty: "no repair between the hire and what came next".to_owned(),
        below: None,
    }
}

fn notes(hire: &Hire, priced: bool) -> Vec<String> {
    let mut notes = vec![
        "repairs and findings count from going out until the joint's next run or hire; damage is a \
         ranking index"
            .to_owned(),
    ];
    // Each reason once, with how many joints it holds for.
    let mut each = |lead: &str, said: fn(&HiredJoint) -> &Vec<String>| {
        let mut reasons: BTreeMap<&str, usize> = BTreeMap::new();
        for reason in hire.joints.iter().flat_map(said) {
            *reasons.entry(reason).or_default() += 1;
        }
        for (reason, n) in reasons {
            notes.push(format!("{lead}, {}: {reason}", plural(n, "joint")));
        }
    };
    each("doubtful", |j| &j.doubts);
    each("not by runs of the book", |j| &j.rests_on);
    let serials = |which: fn(&HiredJoint) -> bool| {
        let list = hire.joints.iter().filter(|j| which(j)).map(|j| j.serial.as_str());
        list.collect::<Vec<_>>().join(", ")
    };
    for (what, list) in
        [("still out", serials(HiredJoint::is_still_out)), ("lost", serials(|j| j.lost.is_some()))]
    {
        if !list.is_empty() {
            notes.push(format!("{what}: {list}"));
        }
    }
    for (serial, entry) in &hire.extra {
        notes.push(format!("{serial} came back on this hire by {entry} and was never out on it"));
    }
    if !priced {
        notes.push(
            "no prices were given: --prices FILE.toml charges by the owner's rates".to_owned(),
        );
    }
    notes
}
