//! What a hire costs by a price file. Nothing is charged that the file does not name.

use std::collections::BTreeMap;

use crate::model::Vocabulary;
use crate::policy::price::{Amount, Prices};
use crate::report::{Block, Cell, Column, Fact, Report, Table};
use crate::units::Measure;

use super::super::Present;
use super::gather::{Hire, Used};
use super::{days, sum};

/// Millimetres-and-smaller: nanometres in a foot and in a metre, milliseconds in an hour.
const FOOT: i64 = 304_800_000;
const METRE: i64 = 1_000_000_000;
const HOUR: i64 = 3_600_000;

/// One line of a bill.
struct Charge {
    what: String,
    /// Quanta of what is counted.
    quantity: Used,
    /// Quanta that make one.
    one: i64,
    unit: &'static str,
    rate: Amount,
}

impl Charge {
    fn amount(&self) -> Amount {
        self.rate.times(self.quantity.known, self.one).to_cents()
    }
}

fn whole(n: usize) -> Used {
    Used { known: i64::try_from(n).unwrap_or(i64::MAX), open: false }
}

fn charges(hire: &Hire, prices: &Prices, present: &Present) -> Vec<Charge> {
    let mut out = Vec::new();
    let mut add = |what: &str, quantity: Used, one: i64, unit, rate: Option<Amount>| {
        if let Some(rate) = rate
            && (quantity.known > 0 || quantity.open)
        {
            out.push(Charge { what: what.to_owned(), quantity, one, unit, rate });
        }
    };
    let joint_days: i64 = hire.joints.iter().map(|j| days(j, Some(prices), present)).sum();
    add("joints", whole(hire.joints.len()), 1, "joint", prices.joint.once);
    let joint_days = Used { known: joint_days, open: false };
    add("days on hire", joint_days, 1, "joint-day", prices.joint.day);
    add("rotation", sum(hire, |j| j.hours), HOUR, "joint-hour", prices.joint.hour);
    add("hole drilled", sum(hire, |j| j.footage), FOOT, "joint-foot", prices.joint.foot);
    add("hole drilled", sum(hire, |j| j.footage), METRE, "joint-metre", prices.joint.metre);
    let mut works = BTreeMap::new();
    let mut down = BTreeMap::new();
    let mut lost = BTreeMap::new();
    for j in &hire.joints {
        let gone = j.failed || j.back.is_none();
        if gone {
            *lost.entry(j.component).or_insert(0usize) += 1;
        }
        for (work, _) in &j.repairs {
            *works.entry(*work).or_insert(0usize) += 1;
        }
        // What is charged as lost is not charged as downgraded too.
        if let Some(pair) = j.downgrade().filter(|_| !gone) {
            *down.entry(pair).or_insert(0usize) += 1;
        }
    }
    for (work, n) in works {
        let what = format!("repair: {}", work.word().replace('_', " "));
        add(&what, whole(n), 1, "time", prices.repair.get(&work).copied());
    }
    for ((from, to), n) in down {
        let what = format!("downgrade: {from} to {to}").replace('_', " ");
        add(&what, whole(n), 1, "joint", prices.downgrade.get(&(from, to)).copied());
    }
    for (component, n) in lost {
        let what = format!("not back or failed: {}", component.word().replace('_', " "));
        add(&what, whole(n), 1, "joint", prices.lost.get(&component).copied());
    }
    out
}

/// Things of the hire for which the file has no price.
fn unpriced(hire: &Hire, prices: &Prices) -> Vec<String> {
    let mut out = Vec::new();
    for j in &hire.joints {
        for (work, _) in j.repairs.iter().filter(|(w, _)| !prices.repair.contains_key(w)) {
            out.push(work.word().replace('_', " "));
        }
        match j.downgrade() {
            Some(pair) if !prices.downgrade.contains_key(&pair) => {
                out.push(format!("{} to {}", pair.0, pair.1).replace('_', " "));
            }
            _ => {}
        }
        if (j.failed || j.back.is_none()) && !prices.lost.contains_key(&j.component) {
            out.push(format!("{} not back or failed", j.component).replace('_', " "));
        }
    }
    out.sort();
    out.dedup();
    out
}

/// Adds the bill to a statement.
pub(super) fn push(report: &mut Report, hire: &Hire, prices: &Prices, present: &Present) {
    let list = charges(hire, prices, present);
    let total: Amount = list.iter().map(Charge::amount).sum();
    let open = list.iter().any(|c| c.quantity.open);
    let money = |a: Amount, open: bool| Cell::bound(a.quanta(), (!open).then_some(a.quanta()));
    let rows = list
        .iter()
        .map(|c| {
            // Millionths, as the measure of plain factors has them.
            let times = i128::from(c.quantity.known) * 1_000_000 / i128::from(c.one);
            let times = i64::try_from(times).unwrap_or(i64::MAX);
            vec![
                Cell::Text(c.what.clone()),
                Cell::bound(times, (!c.quantity.open).then_some(times)),
                Cell::Text(c.unit.to_owned()),
                Cell::Number(c.rate.quanta()),
                money(c.amount(), c.quantity.open),
            ]
        })
        .collect();
    let amount = format!("amount\n{}", prices.currency);
    report.push(Block::Table(Table {
        name: "charges",
        columns: vec![
            Column::plain("what", "charge"),
            Column::of("quantity", "quantity", Measure::Factor),
            Column::plain("unit", "per"),
            Column::of("rate", "rate", Measure::Factor),
            Column::of("amount", &amount, Measure::Factor),
        ],
        rows,
        empty: "nothing of this hire has a price in the file".to_owned(),
        below: None,
    }));
    let mut facts = vec![
        Fact::plain("currency", "currency", Cell::Text(prices.currency.clone())),
        Fact::of("total", "total", money(total, open), Measure::Factor),
    ];
    if let Some(source) = &prices.source {
        facts.push(Fact::plain("prices", "prices by", Cell::Text(source.clone())));
    }
    report.push(Block::Facts { name: "bill", facts });
    let missing = unpriced(hire, prices);
    if !missing.is_empty() {
        report.push(Block::Note(format!(
            "not charged, for the price file names no rate: {}",
            missing.join(", ")
        )));
    }
    if open {
        report.push(Block::Note("some use is not known: the total is a lower bound".to_owned()));
    }
}
