//! What lies ahead, month by month: classes by wear of the wall, calls of rules that move with use,
//! joints to replace.

use std::collections::BTreeMap;

use chrono::Days;

use crate::condition::{Basis, Comparison, Criterion, Fit, ForClass, LimitSet};
use crate::model::{Call, Class, Component, Status, Vocabulary};
use crate::policy::forecast::{Count, chance_by};
use crate::policy::{BIN_DAYS, Driver, Outlook, Rule, RuleSet};
use crate::report::stock::chosen;
use crate::report::{Bars, Block, Cell, Column, Report, ReportError, Table};
use crate::schema::JointRow;
use crate::store::Book;
use crate::units::Measure;

use super::super::Present;
use super::ask;
use super::recent::{CountedIn, Recent};

#[derive(Clone, Debug)]
pub struct Options {
    pub months: u32,
    /// Only joints that match a filter.
    pub filter: Option<String>,
}

/// Chance at the end of each month, from now on.
type Chances = Vec<f64>;

/// What is foreseen of one joint.
struct Ahead {
    class: Option<Class>,
    /// For each class that it may leave, the chance to be below it.
    below: Vec<(Class, Chances)>,
    /// Chance that it must be replaced, as far as anything tells.
    gone: Chances,
    /// Nothing tells how its wall goes on: it may have to be replaced at any time.
    blind: bool,
    length: i64,
}

/// Why classes of joints are not foreseen.
#[derive(Default)]
struct Unforeseen {
    unread: usize,
    rate: usize,
    use_: usize,
    idle: usize,
}

pub fn report(
    book: &mut Book,
    rules: &RuleSet,
    options: &Options,
    present: &Present,
) -> Result<Report, ReportError> {
    let months = options.months as usize;
    let (joints, open) = chosen(book, options.filter.as_deref(), rules, present)?;
    let joints: BTreeMap<i64, JointRow> = joints
        .into_iter()
        .filter(|j| !matches!(j.status, Some(Status::Retired | Status::Lost)))
        .map(|j| (j.joint, j))
        .collect();
    let adoptions = book.adoptions()?;
    let limits = &adoptions.standards_at(present.now).limits;
    let moving: Vec<&Rule> = rules
        .rules
        .iter()
        .filter(|r| r.limit.as_ref().is_some_and(|l| l.driver.is_some()))
        .collect();
    let recent = Recent::read(book, None, present, true)?;
    let calls = calls(book, rules, &moving, &recent, &joints, months, present)?;
    let mut unforeseen = Unforeseen::default();
    let mut cache = BTreeMap::new();
    let ahead: Vec<Ahead> = joints
        .values()
        .map(|j| {
            let retired = calls.get(&(j.joint, Call::Retire.word()));
            one(j, limits, &mut cache, &recent, retired, months, &mut unforeseen)
        })
        .collect();
    let mut report = Report::new("forecast");
    report.push(Block::Table(table(&ahead, &calls, months, present)));
    let below: Vec<f64> = (0..=months)
        .map(|m| {
            let low = [Class::Class2, Class::Class3, Class::Scrap];
            ahead.iter().flat_map(|a| low.map(|c| a.chance_of(c, m))).sum()
        })
        .collect();
    let replaced = ahead_count(&ahead, months);
    if ahead.iter().any(|a| !a.blind) {
        // Those of which nothing tells may be among them at any time.
        let least = if ahead.iter().any(|a| a.blind) { ", at least" } else { "" };
        for (name, what, counts) in [
            ("replace_by", "joints to replace, in all", &replaced),
            ("below_premium_by", "joints below Premium, in all", &below),
        ] {
            report.push(bars(name, format!("{what}{least}"), counts, present));
        }
    }
    for note in notes(&unforeseen, &ahead, &moving, rules, open) {
        report.push(Block::Note(note));
    }
    report.push(Block::Caution(
        "a forecast of use going on as it did; what an inspection finds decides, not this"
            .to_owned(),
    ));
    Ok(report)
}

fn day_of(month: usize) -> f64 {
    month as f64 * BIN_DAYS
}

/// Chances of calls for each joint and call; one that is made now is certain.
fn calls(
    book: &mut Book,
    rules: &RuleSet,
    moving: &[&Rule],
    recent: &Recent,
    joints: &BTreeMap<i64, JointRow>,
    months: usize,
    present: &Present,
) -> Result<BTreeMap<(i64, &'static str), Chances>, ReportError> {
    let mut out: BTreeMap<(i64, &'static str), Chances> = BTreeMap::new();
    let now = ask::everything(book, rules, &super::Options::default(), present)?;
    for line in now.lines.iter().filter(|l| joints.contains_key(&l.joint)) {
        out.insert((line.joint, line.call.word()), vec![1.0; months + 1]);
    }
    let outlooks = ask::outlooks(book, rules, moving, recent, present)?;
    for (rule, coming) in moving.iter().zip(outlooks) {
        for (joint, outlook) in coming.into_iter().filter(|c| joints.contains_key(&c.0)) {
            let chances =
                out.entry((joint, rule.call.word())).or_insert_with(|| vec![0.0; months + 1]);
            for (m, c) in chances.iter_mut().enumerate() {
                // Rules of one call move together: the likelier one counts.
                if m > 0 {
                    *c = c.max(chance_by(&outlook, day_of(m)).unwrap_or(0.0));
                }
            }
        }
    }
    Ok(out)
}

/// Least wall of each class, best class first, as a part of the nominal wall.
fn walls(limits: &LimitSet, component: Component) -> Vec<(Class, f64)> {
    let mut out: Vec<(Class, f64)> = limits
        .in_force(Criterion::WearWall, component, &Fit::default())
        .into_iter()
        .filter(|l| matches!(l.basis, Basis::ShareOf(_)) && l.comparison == Comparison::AtLeast)
        .filter_map(|l| match l.class {
            ForClass::Class(c) => Some((c, l.number.to_f64())),
            _ => None,
        })
        .collect();
    out.sort_by_key(|(c, _)| *c);
    out
}

fn one(
    j: &JointRow,
    limits: &LimitSet,
    cache: &mut BTreeMap<&'static str, Vec<(Class, f64)>>,
    recent: &Recent,
    retired: Option<&Chances>,
    months: usize,
    unforeseen: &mut Unforeseen,
) -> Ahead {
    let length = j.length.unwrap_or(0);
    let mut below: Vec<(Class, Chances)> = Vec::new();
    let steps =
        cache.entry(j.component.word()).or_insert_with(|| walls(limits, j.component)).clone();
    let reads = j.wall.map(|w| Measure::Ratio.base_f64(w));
    let (mut told, mut foreseen) = (false, false);
    if let Some(class) = j.class {
        for (of, least) in steps.iter().filter(|(c, _)| *c >= class) {
            let Some(wall) = reads else {
                unforeseen.unread += usize::from(!told);
                told = true;
                continue;
            };
            let left = (wall - least).max(0.0);
            let outlook = recent.outlook(j.joint, Driver::WallWear, left, CountedIn::OfWall);
            if !told {
                foreseen = !matches!(outlook, Outlook::RateUnknown | Outlook::UseUnknown);
                unforeseen.rate += usize::from(outlook == Outlook::RateUnknown);
                unforeseen.use_ += usize::from(outlook == Outlook::UseUnknown);
                unforeseen.idle += usize::from(outlook == Outlook::Idle);
                told = true;
            }
            let mut chances: Chances = (0..=months)
                .map(|m| if m == 0 { 0.0 } else { chance_by(&outlook, day_of(m)).unwrap_or(0.0) })
                .collect();
            // It leaves a lower class no sooner than a higher one.
            if let Some((_, above)) = below.last() {
                chances.iter_mut().zip(above).for_each(|(c, a)| *c = c.min(*a));
            }
            below.push((*of, chances));
        }
    }
    let gone_now = j.failed_on.is_some() || j.class.is_some_and(|c| c >= Class::Class3);
    let gone = (0..=months)
        .map(|m| {
            if gone_now {
                return 1.0;
            }
            let by_class =
                below.iter().find(|(c, _)| *c == Class::Class2).map_or(0.0, |(_, p)| p[m]);
            by_class.max(retired.map_or(0.0, |p| p[m]))
        })
        .collect();
    Ahead { class: j.class, below, gone, blind: !gone_now && !foreseen, length }
}

impl Ahead {
    /// Chance to be of a class at the end of a month.
    fn chance_of(&self, class: Class, month: usize) -> f64 {
        let Some(now) = self.class else { return 0.0 };
        if class < now {
            return 0.0;
        }
        let below =
            |c: Class| self.below.iter().find(|(k, _)| *k == c).map_or(0.0, |(_, p)| p[month]);
        // Into it when it has left the one above, out of it when it is below.
        let above = Class::ALL.iter().rev().find(|c| **c < class);
        let entered = match above {
            Some(above) if class > now => below(*above),
            _ => 1.0,
        };
        (entered - below(class)).max(0.0)
    }
}

fn counted(calls: &BTreeMap<(i64, &'static str), Chances>, call: Call, month: usize) -> Count {
    let mut count = Count::default();
    for ((_, word), chances) in calls {
        if *word == call.word() {
            count.add(chances[month]);
        }
    }
    count
}

fn ahead_count(ahead: &[Ahead], months: usize) -> Vec<f64> {
    (0..=months).map(|m| ahead.iter().map(|a| a.gone[m]).sum()).collect()
}

/// A number that may be larger by so much.
fn between(measure: Measure, x: f64, more: f64) -> Cell {
    let quanta = |x: f64| measure.store_f64(x);
    quanta(x).map_or(Cell::Missing, |lo| Cell::bound(lo, quanta(x + more)))
}

/// A count to two digits, as the measure of plain factors has them.
fn part(x: f64) -> Cell {
    Cell::number(Measure::Factor.store_f64(x))
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "days of at most sixty months"
)]
fn month_end(present: &Present, month: usize) -> chrono::NaiveDate {
    let today = present.now.at(present.clock).date_naive();
    today.checked_add_days(Days::new(day_of(month).round() as u64)).unwrap_or(today)
}

fn table(
    ahead: &[Ahead],
    calls: &BTreeMap<(i64, &'static str), Chances>,
    months: usize,
    present: &Present,
) -> Table {
    let plain = |w: &str| w.replace('_', " ");
    let mut columns = vec![Column::plain("by", "by")];
    columns.extend(Class::ALL.iter().map(|c| {
        Column::plain(c.word(), &plain(c.word())).dispensable(match c {
            Class::Scrap | Class::Class3 => 3,
            _ => 0,
        })
    }));
    columns.push(Column::plain("no_class", "no class").dispensable(5));
    let made: Vec<Call> = Call::ALL
        .iter()
        .copied()
        .filter(|c| calls.keys().any(|(_, word)| *word == c.word()))
        .collect();
    columns.extend(made.iter().map(|c| {
        let column = Column::plain(c.word(), c.word());
        if *c == Call::Inspection { column } else { column.dispensable(4) }
    }));
    columns.extend([
        Column::of("replace", "replace", Measure::Factor),
        Column::of("replace_least", "4 in 5:\nfrom", Measure::Factor).dispensable(7),
        Column::of("replace_most", "to", Measure::Factor).dispensable(7).upper(),
        Column::of("replace_length", "length", Measure::Depth).dispensable(1),
    ]);
    let whole = |x: f64| Cell::number(Measure::Count.store_f64(x));
    let rows = (0..=months)
        .map(|m| {
            let mut row = vec![Cell::Day(month_end(present, m))];
            row.extend(
                Class::ALL.iter().map(|c| whole(ahead.iter().map(|a| a.chance_of(*c, m)).sum())),
            );
            row.push(whole(ahead.iter().filter(|a| a.class.is_none()).count() as f64));
            row.extend(made.iter().map(|c| whole(counted(calls, *c, m).expected().mean)));
            let mut gone = Count::default();
            ahead.iter().for_each(|a| gone.add(a.gone[m]));
            let gone = gone.expected();
            let length: f64 = ahead.iter().map(|a| a.gone[m] * a.length as f64).sum();
            // Those of which nothing tells may all have to go, or none.
            let blind = || ahead.iter().filter(|a| a.blind && m > 0);
            let more: f64 = blind().map(|a| 1.0 - a.gone[m]).sum();
            let longer: f64 = blind().map(|a| (1.0 - a.gone[m]) * a.length as f64).sum();
            row.extend([
                between(Measure::Factor, gone.mean, more),
                part(gone.least),
                part(gone.most + more),
                between(Measure::Count, length, longer),
            ]);
            row
        })
        .collect();
    Table { name: "months", columns, rows, empty: String::new(), below: None }
}

fn bars(name: &'static str, title: String, values: &[f64], present: &Present) -> Block {
    Block::Bars(Bars {
        name,
        title,
        measure: Measure::Factor,
        bars: values
            .iter()
            .enumerate()
            .map(|(m, v)| {
                let label = month_end(present, m).to_string();
                (label, Measure::Factor.store_f64(*v).unwrap_or(0))
            })
            .collect(),
    })
}

fn notes(
    unforeseen: &Unforeseen,
    ahead: &[Ahead],
    moving: &[&Rule],
    rules: &RuleSet,
    open: usize,
) -> Vec<String> {
    let mut notes = vec![format!(
        "counts are expected ones of joints in service, in all by that day if nothing is done: classes \
         by wear of the wall, calls by the {} rules that move with use or the calendar (the other {} \
         stand as they are today), to replace what falls below Class 2, has failed or is called to \
         retire",
        moving.len(),
        rules.rules.len() - moving.len()
    )];
    notes.push(
        "joints are taken as independent; a rate that is wrong for a whole string moves all of its \
         joints together, which the interval does not show"
            .to_owned(),
    );
    let bare = ahead.iter().filter(|a| a.length == 0).count();
    for (n, why) in [
        (
            unforeseen.unread,
            "keep their class here and may have to go at any time: their wall was not read",
        ),
        (
            unforeseen.rate,
            "keep their class here and may have to go at any time: their wear is not known",
        ),
        (
            unforeseen.use_,
            "keep their class here and may have to go at any time: their use is not known",
        ),
        (unforeseen.idle, "keep their class here, for they were not used of late"),
        (bare, "have no known length and add none"),
        (open, "cannot be told by the filter"),
    ] {
        if n > 0 {
            notes.push(format!("{n} joints {why}"));
        }
    }
    notes
}
