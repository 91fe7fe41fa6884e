//! What a hire costs by a price file, joint by joint. Nothing is charged that the file does not name.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;

use crate::model::Vocabulary;
use crate::policy::price::{Amount, Days, Prices, Rated, Rates};
use crate::report::{Block, Cell, Column, Fact, Report, Table};
use crate::units::Measure;

use super::super::Present;
use super::gather::{Hire, HiredJoint, Used};
use super::{civil_day, end_of};

/// Nanometres in a foot and in a metre, milliseconds in an hour.
const FOOT: i64 = 304_800_000;
const METRE: i64 = 1_000_000_000;
const HOUR: i64 = 3_600_000;

/// One charge for one joint.
struct Charge {
    serial: String,
    what: String,
    /// Quanta of what is counted.
    quantity: Used,
    /// Quanta that make one.
    one: i64,
    unit: &'static str,
    rate: Amount,
    /// In whole cents, so that charges add up to the total whichever way they are added.
    amount: Amount,
}

fn whole(n: usize) -> Used {
    Used { known: i64::try_from(n).unwrap_or(i64::MAX), open: false }
}

/// Civil days that a joint is charged for: from the day out, to the day before it came back or was
/// lost, or that day too.
pub(super) fn charged_days(j: &HiredJoint, days: Days, present: &Present) -> Vec<NaiveDate> {
    let (first, last) = (civil_day(j.out, present), civil_day(end_of(j, present), present));
    let mut all: Vec<NaiveDate> = first.iter_days().take_while(|day| *day < last).collect();
    if days == Days::BothEnds {
        all.push(last);
    }
    all
}

fn rates_of(j: &HiredJoint, prices: &Prices) -> Rates {
    prices.of(&Rated {
        component: j.component,
        size: j.size,
        grade: j.grade.as_deref(),
        class: j.before.class,
    })
}

fn charges_of(j: &HiredJoint, prices: &Prices, present: &Present, out: &mut Vec<Charge>) {
    let rates = rates_of(j, prices);
    let mut add = |what: &str, quantity: Used, one: i64, unit, rate: Option<Amount>| {
        if let Some(rate) = rate
            && (quantity.known > 0 || quantity.open)
        {
            let amount = rate.times(quantity.known, one).to_cents();
            let (serial, what) = (j.serial.clone(), what.to_owned());
            out.push(Charge { serial, what, quantity, one, unit, rate, amount });
        }
    };
    add("joint", whole(1), 1, "joint", rates.once);
    let mut in_run = BTreeSet::new();
    for (start, finish) in &j.in_runs {
        let last = civil_day(*finish, present);
        in_run.extend(civil_day(*start, present).iter_days().take_while(|day| *day <= last));
    }
    let (mut late, mut standby, mut ordinary) = (0usize, 0usize, 0usize);
    let days = charged_days(j, prices.days, present);
    for day in &days {
        if rates.late_day.is_some() && prices.until.is_some_and(|until| *day > until) {
            late += 1;
        } else if rates.standby_day.is_some() && !in_run.contains(day) {
            standby += 1;
        } else {
            ordinary += 1;
        }
    }
    let least = usize::try_from(prices.minimum_days).unwrap_or(0).saturating_sub(days.len());
    add("days on hire", whole(ordinary), 1, "day", rates.day);
    add("days on standby", whole(standby), 1, "day", rates.standby_day);
    add("days after the agreed end", whole(late), 1, "day", rates.late_day);
    add("days up to the minimum", whole(least), 1, "day", rates.day);
    add("rotation", j.hours, HOUR, "hour", rates.hour);
    add("hole drilled", j.footage, FOOT, "foot", rates.foot);
    add("hole drilled", j.footage, METRE, "metre", rates.metre);
    add("inspection after return", whole(j.inspections), 1, "time", rates.inspection);
    for (work, _) in &j.repairs {
        let what = format!("repair: {}", work.word().replace('_', " "));
        add(&what, whole(1), 1, "time", prices.repair.get(work).copied());
    }
    let component = j.component.word().replace('_', " ");
    if j.lost.is_some() {
        add(&format!("lost: {component}"), whole(1), 1, "joint", rates.lost);
    } else if j.failed && j.back.is_some() {
        add(&format!("failed: {component}"), whole(1), 1, "joint", rates.failed);
    } else if let Some(pair) = j.downgrade() {
        let what = format!("downgrade: {} to {}", pair.0, pair.1).replace('_', " ");
        add(&what, whole(1), 1, "joint", prices.downgrade.get(&pair).copied());
    }
}

/// Things of the hire for which the file has no price.
fn unpriced(hire: &Hire, prices: &Prices) -> Vec<String> {
    let mut out = BTreeSet::new();
    for j in &hire.joints {
        let rates = rates_of(j, prices);
        for (work, _) in j.repairs.iter().filter(|(w, _)| !prices.repair.contains_key(w)) {
            out.insert(work.word().replace('_', " "));
        }
        let component = j.component.word().replace('_', " ");
        if j.lost.is_some() {
            if rates.lost.is_none() {
                out.insert(format!("{component} lost"));
            }
        } else if j.failed && j.back.is_some() {
            if rates.failed.is_none() {
                out.insert(format!("{component} failed"));
            }
        } else if let Some(pair) = j.downgrade()
            && !prices.downgrade.contains_key(&pair)
        {
            out.insert(format!("{} to {}", pair.0, pair.1).replace('_', " "));
        }
    }
    out.into_iter().collect()
}

fn money(amount: Amount, open: bool) -> Cell {
    Cell::bound(amount.quanta(), (!open).then(|| amount.quanta()))
}

/// How many of what makes one, as quanta of [`Measure::Factor`].
fn counted(quantity: Used, one: i64) -> Cell {
    let per = i128::from(Measure::Factor.quanta_per_base());
    let quanta = i128::from(quantity.known) * per / i128::from(one.max(1));
    let quanta = i64::try_from(quanta).unwrap_or(i64::MAX);
    Cell::bound(quanta, (!quantity.open).then_some(quanta))
}

fn columns(currency: &str, first: &[(&str, &str)]) -> Vec<Column> {
    let mut columns: Vec<Column> = first.iter().map(|(n, title)| Column::plain(n, title)).collect();
    columns.extend([
        Column::of("quantity", "quantity", Measure::Factor),
        Column::plain("unit", "per"),
        Column::of("rate", "rate", Measure::Factor),
        Column::of("amount", &format!("amount\n{currency}"), Measure::Factor),
    ]);
    columns
}

fn total(list: &[Charge]) -> Cell {
    let open = list.iter().any(|c| c.quantity.open);
    money(list.iter().map(|c| c.amount).sum(), open)
}

/// The charges of all joints, one row for each that is of one rate, and the total.
fn summed(list: &[Charge], currency: &str) -> Table {
    let mut order = Vec::new();
    let mut sums: BTreeMap<(&str, &str, Amount), (Used, i64, Amount)> = BTreeMap::new();
    for c in list {
        let key = (c.what.as_str(), c.unit, c.rate);
        let sum = sums.entry(key).or_insert_with(|| {
            order.push(key);
            (Used::default(), c.one, Amount::default())
        });
        sum.0.known = sum.0.known.saturating_add(c.quantity.known);
        sum.0.open |= c.quantity.open;
        sum.2 = sum.2 + c.amount;
    }
    let row = |key: &(&str, &str, Amount)| {
        let (quantity, one, amount) = sums[key];
        vec![
            Cell::Text(key.0.to_owned()),
            counted(quantity, one),
            Cell::Text(key.1.to_owned()),
            Cell::Number(key.2.exact_quanta()),
            money(amount, quantity.open),
        ]
    };
    let mut rows: Vec<Vec<Cell>> = order.iter().map(row).collect();
    if !rows.is_empty() {
        rows.push(vec![
            Cell::Text("total".to_owned()),
            Cell::Missing,
            Cell::Missing,
            Cell::Missing,
            total(list),
        ]);
    }
    Table {
        name: "charges",
        columns: columns(currency, &[("what", "charge")]),
        rows,
        empty: "nothing of this hire has a price in the file".to_owned(),
        below: None,
    }
}

/// Every charge of every joint.
fn listed(list: &[Charge], currency: &str) -> Table {
    let row = |c: &Charge| {
        vec![
            Cell::Text(c.serial.clone()),
            Cell::Text(c.what.clone()),
            counted(c.quantity, c.one),
            Cell::Text(c.unit.to_owned()),
            Cell::Number(c.rate.exact_quanta()),
            money(c.amount, c.quantity.open),
            Cell::Text(currency.to_owned()),
        ]
    };
    let mut columns = columns(currency, &[("serial", "serial"), ("what", "charge")]);
    columns.push(Column::plain("currency", "currency"));
    Table {
        name: LISTED,
        columns,
        rows: list.iter().map(row).collect(),
        empty: String::new(),
        below: None,
    }
}

/// Name of the table with every charge of every joint.
pub(super) const LISTED: &str = "charges_by_joint";

/// Adds the bill to a statement.
pub(super) fn push(report: &mut Report, hire: &Hire, prices: &Prices, present: &Present) {
    let mut list = Vec::new();
    hire.joints.iter().for_each(|j| charges_of(j, prices, present, &mut list));
    report.push(Block::Table(summed(&list, &prices.currency)));
    report.push(Block::Table(listed(&list, &prices.currency)));
    let mut facts = vec![
        Fact::plain("currency", "currency", Cell::Text(prices.currency.clone())),
        Fact::of("total", "total", total(&list), Measure::Factor),
    ];
    if let Some(source) = &prices.source {
        facts.push(Fact::plain("prices", "prices by", Cell::Text(source.clone())));
    }
    if let Some(until) = prices.until {
        facts.push(Fact::plain("until", "agreed until", Cell::Day(until)));
    }
    report.push(Block::Facts { name: "bill", facts });
    let missing = unpriced(hire, prices);
    if !missing.is_empty() {
        report.push(Block::Note(format!(
            "not charged, for the price file names no rate: {}",
            missing.join(", ")
        )));
    }
    if list.iter().any(|c| c.quantity.open) {
        report.push(Block::Note("some use is not known: the total is a lower bound".to_owned()));
    }
    if hire.joints.iter().any(HiredJoint::is_still_out) {
        let out = "joints still out are charged up to today, and not as lost";
        report.push(Block::Note(out.to_owned()));
    }
}
