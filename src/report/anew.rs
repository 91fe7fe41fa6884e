//! How the order of joints by damage moves when the rows of an older version are derived anew, and
//! what of the calculation makes each joint's figure.
//!
//! The program that derived the rows before is gone, so nobody can say what it did. What can be said:
//! the figure of before, the figure of now, and what the figure of now would be with one term of the
//! calculation left out, and with all of them left out. Where the last is the figure of before, these
//! terms are what moved it.

use std::collections::{BTreeMap, BTreeSet};

use crate::projection::VERSION;
use crate::projection::exposure::{RunModel, Term};
use crate::schema::{JointRow, JointRunRow, Rows, Totals};
use crate::store::{Appraiser, Book, DerivedAnew, Earlier};
use crate::units::Measure;

use super::method::in_force;
use super::rank::{kendall, left_the_top, spearman, top};
use super::{Block, Cell, Column, Fact, Report, ReportError, Table};

/// How many joints count as the worst.
const TOP: usize = 20;
/// Joints that are told one by one.
const TOLD: usize = 200;
/// Share of a figure below which a term is not worth a word.
const FELT: f64 = 0.005;
/// Share of a figure within which two are the same.
const SAME: f64 = 1e-3;

/// A joint before and now.
struct Moved<'a> {
    joint: i64,
    before: Option<&'a Earlier>,
    now: &'a JointRow,
    /// Places in the order by damage, from 1.
    place_before: usize,
    place_now: usize,
}

impl Moved<'_> {
    fn damage_before(&self) -> Option<i64> {
        self.before.and_then(|b| b.damage)
    }

    /// The lower bound where it is one; none where nobody knows any.
    fn damage_now(&self) -> Option<i64> {
        let damage = self.now.totals.damage;
        (damage.lo > 0 || damage.hi.is_some()).then_some(damage.lo)
    }

    fn was_exact(&self) -> bool {
        self.before.is_some_and(|b| b.is_exact)
    }

    /// Of its connections nobody knows a figure, of its body there is one.
    fn is_of_its_body(&self) -> bool {
        let JointRow { damage_pin, damage_middle, .. } = self.now;
        damage_pin.hi.is_none() && damage_middle.hi.is_some()
    }

    fn is_another(&self) -> bool {
        let dogleg = self.before.and_then(|b| b.max_dogleg);
        self.damage_before() != self.damage_now()
            || self.was_exact() && self.now.totals.damage.hi.is_none()
            || dogleg.is_some_and(|d| d != self.now.totals.max_dogleg.lo)
    }
}

/// Damage at the places of a joint over its runs: of the calculation as it is, with each term left
/// out, and with all of them left out.
#[derive(Clone, Default)]
struct Parts {
    whole: Sum,
    without: [Sum; Term::ALL.len()],
    bare: Sum,
}

/// Damage at the places, added up; none once a run has no figure.
#[derive(Clone, Copy)]
struct Sum(Option<[f64; 3]>);

impl Default for Sum {
    fn default() -> Self {
        Self(Some([0.0; 3]))
    }
}

impl Sum {
    fn add(&mut self, row: &JointRunRow) {
        let more = row.figures.damage();
        let Some(sum) = &mut self.0 else { return };
        for (sum, more) in sum.iter_mut().zip(more) {
            match more {
                Some(d) => *sum += d as f64,
                None => {
                    self.0 = None;
                    return;
                }
            }
        }
    }

    fn worst(self) -> Option<f64> {
        self.0.map(|places| places.into_iter().fold(0.0, f64::max))
    }
}

impl Parts {
    /// What the figure of a joint would be where this part of it stood alone, quanta.
    fn figure(&self, part: Sum, of: i64) -> Option<i64> {
        let (part, whole) = (part.worst()?, self.whole.worst()?);
        #[expect(clippy::cast_possible_truncation, reason = "quanta of damage")]
        (whole > 0.0).then(|| (of as f64 * part / whole).round() as i64)
    }
}

/// The order before and now, joint by joint.
///
/// # Errors
/// When the copy cannot be read.
pub fn report(done: &DerivedAnew) -> Result<Report, ReportError> {
    let rows: Vec<JointRow> = done.copy.rows(&Rows::all().above(JointRow::runs(), 0))?;
    let moved = moves(&rows, &done.before);
    let mut report = Report::new("rebuild");
    report.push(Block::Heading("Derived anew on a copy".to_owned()));
    report.push(facts(done, &moved)?);
    let mut told: Vec<&Moved<'_>> = moved
        .iter()
        .filter(|m| m.is_another() || m.place_now <= TOP || m.place_before <= TOP)
        .collect();
    told.sort_by_key(|m| m.place_now);
    let left = told.len().saturating_sub(TOLD);
    told.truncate(TOLD);
    let parts = parts(&done.copy, &told)?;
    report.push(Block::Table(joints(&told, &parts)));
    report.push(Block::Table(terms(&told, &parts)));
    if left > 0 {
        report.push(Block::Note(format!("{left} more joints have another figure")));
    }
    for note in [
        "of a joint below which nothing is said the figure stays, and none of the terms that can be \
         left out is felt in it",
        "the program that made the rows before is gone: what moved a figure is told by leaving out \
         terms of the calculation of now, one at a time and all together; where all together give \
         the figure before, these terms are what moved it",
        "the sharpest bend is looked for anywhere along a joint, from shoulder to shoulder",
        "damage is a ranking index: the order says more than either figure",
        "the book stays as it is; opened to write it is derived anew",
    ] {
        report.push(Block::Note(note.to_owned()));
    }
    Ok(report)
}

fn moves<'a>(rows: &'a [JointRow], before: &'a BTreeMap<i64, Earlier>) -> Vec<Moved<'a>> {
    let was: Vec<f64> = rows.iter().map(|r| value(before.get(&r.joint))).collect();
    let is: Vec<f64> = rows.iter().map(|r| r.totals.damage.lo as f64).collect();
    let places = |values: &[f64]| {
        let mut places = vec![0; values.len()];
        let order = top(values, values.len());
        order.iter().enumerate().for_each(|(rank, i)| places[*i] = rank + 1);
        places
    };
    let (then, now) = (places(&was), places(&is));
    let moved = |(i, row): (usize, &'a JointRow)| Moved {
        joint: row.joint,
        before: before.get(&row.joint),
        now: row,
        place_before: then[i],
        place_now: now[i],
    };
    rows.iter().enumerate().map(moved).collect()
}

fn value(earlier: Option<&Earlier>) -> f64 {
    earlier.and_then(|e| e.damage).unwrap_or(0) as f64
}

fn facts(done: &DerivedAnew, moved: &[Moved<'_>]) -> Result<Block, ReportError> {
    let both: Vec<(f64, f64)> = moved
        .iter()
        .filter_map(|m| Some((m.damage_before()? as f64, m.damage_now()? as f64)))
        .collect();
    let (was, is): (Vec<f64>, Vec<f64>) = both.into_iter().unzip();
    let factor = |n: Option<f64>| n.map_or(Cell::Missing, Cell::Real);
    let n = TOP.min(was.len());
    let count =
        |keep: &dyn Fn(&Moved<'_>) -> bool| Cell::count(moved.iter().filter(|m| keep(m)).count());
    let of = |name, label, value| Fact::of(name, label, value, Measure::Damage);
    Ok(Block::Facts {
        name: "moved",
        facts: vec![
            Fact::plain("version_before", "rows of version", Cell::Number(done.version)),
            Fact::plain("version", "derived anew by version", Cell::Number(VERSION)),
            Fact::plain("method", "fatigue method, kept", Cell::Text(in_force(&done.copy)?.name)),
            Fact::plain("joints", "joints that ran", Cell::count(moved.len())),
            Fact::plain("another", "with another figure", count(&|m| m.is_another())),
            Fact::plain(
                "open_now",
                "that had a damage and have a lower bound now",
                count(&|m| m.was_exact() && m.now.totals.damage.hi.is_none()),
            ),
            of("spearman", "rank correlation, Spearman", factor(spearman(&was, &is))),
            of("kendall", "rank correlation, Kendall", factor(kendall(&was, &is))),
            Fact::plain(
                "left_top",
                &format!("left the worst {n}"),
                Cell::count(left_the_top(&was, &is, n)),
            ),
        ],
    })
}

/// What makes the figures of some joints, run by run: each run is read once.
fn parts(copy: &Book, told: &[&Moved<'_>]) -> Result<BTreeMap<i64, Parts>, ReportError> {
    let mut of: BTreeMap<i64, BTreeSet<i64>> = BTreeMap::new();
    for m in told {
        for run in copy.rows_of::<JointRunRow>(m.joint)? {
            if !run.conflicting {
                of.entry(run.run).or_default().insert(m.joint);
            }
        }
    }
    let mut out: BTreeMap<i64, Parts> = BTreeMap::new();
    let mut appraiser = copy.appraiser()?;
    for (run, joints) in of {
        add_run(&mut appraiser, run, &joints, &mut out)?;
    }
    Ok(out)
}

fn add_run(
    appraiser: &mut Appraiser<'_>,
    run: i64,
    joints: &BTreeSet<i64>,
    out: &mut BTreeMap<i64, Parts>,
) -> Result<(), ReportError> {
    let whole = appraiser.run_model(run)?;
    let without = |terms: &[Term]| whole.without(terms).map_err(ReportError::Words);
    let bare = without(&Term::ALL)?;
    let left_out = Term::ALL.map(|term| without(&[term]));
    let mut models: Vec<RunModel> = Vec::with_capacity(left_out.len());
    for model in left_out {
        models.push(model?);
    }
    let add = |model: &RunModel, joint: i64, sum: &mut Sum| -> Result<(), ReportError> {
        let lines = model.lines().iter().filter(|l| l.joint == joint);
        for line in lines {
            sum.add(&model.exposure(line).map_err(ReportError::Words)?);
        }
        Ok(())
    };
    for joint in joints {
        let parts = out.entry(*joint).or_default();
        add(&whole, *joint, &mut parts.whole)?;
        add(&bare, *joint, &mut parts.bare)?;
        for (model, sum) in models.iter().zip(&mut parts.without) {
            add(model, *joint, sum)?;
        }
    }
    Ok(())
}

fn joints(told: &[&Moved<'_>], parts: &BTreeMap<i64, Parts>) -> Table {
    let row = |m: &&Moved<'_>| {
        vec![
            Cell::count(m.place_now),
            Cell::count(m.place_before),
            Cell::Text(m.now.serial.clone()),
            Cell::from(m.now.totals.damage),
            Cell::number(m.damage_before()),
            Cell::from(m.now.totals.max_dogleg),
            Cell::number(m.before.and_then(|b| b.max_dogleg)),
            Cell::text(why(m, parts.get(&m.joint)).as_deref()),
        ]
    };
    Table {
        name: "joints",
        columns: vec![
            Column::plain("place", "place"),
            Column::plain("place_before", "before"),
            Column::field(JointRow::serial()),
            Column::field(Totals::damage()),
            Column::of("damage_before", "damage before", Measure::Damage),
            Column::field(Totals::max_dogleg()).dispensable(2),
            Column::of("max_dogleg_before", "bend before", Measure::Dogleg).dispensable(2),
            Column::plain("why", "what makes the figure of now"),
        ],
        rows: told.iter().map(row).collect(),
        empty: "no joint of the book has run".to_owned(),
        below: Some(7),
    }
}

/// What moved a joint's figure, as far as that can be said; nothing of one that stays and in which no
/// term is felt.
fn why(m: &Moved<'_>, parts: Option<&Parts>) -> Option<String> {
    if m.is_of_its_body() {
        let body = "at least that of its body, in the middle: nobody knows that of its connections, \
                    where it breaks";
        return Some(body.to_owned());
    }
    let Some(now) = m.damage_now() else {
        let none = if m.damage_before().is_none() {
            "no figure, before or now"
        } else {
            "no figure now: what it needs is not known"
        };
        return Some(none.to_owned());
    };
    let Some(parts) = parts else { return Some("it has no run that counts".to_owned()) };
    let mut said: Vec<String> = Vec::new();
    for (term, without) in Term::ALL.into_iter().zip(parts.without) {
        let share = match (parts.whole.worst(), without.worst()) {
            (Some(whole), Some(rest)) if rest > 0.0 => whole / rest - 1.0,
            (Some(_), None) => {
                said.push(format!("without {} no figure", term.words()));
                continue;
            }
            _ => continue,
        };
        if share.abs() >= FELT {
            said.push(format!("{} {}", term.words(), percent(share)));
        }
    }
    let bare = parts.figure(parts.bare, now);
    let rest = match (m.damage_before(), bare) {
        (None, _) => Some("there was no figure before".to_owned()),
        (Some(before), _) if before == now => None,
        (Some(before), Some(bare)) if near(before, bare) => {
            Some("without these it is the figure before".to_owned())
        }
        (Some(before), Some(bare)) if before > 0 && bare > 0 => {
            let share = bare as f64 / before as f64 - 1.0;
            Some(format!("the rest, {}, is none of these", percent(share)))
        }
        (Some(_), _) => Some("how it moved cannot be told apart".to_owned()),
    };
    if said.is_empty() {
        rest.as_ref()?;
        said.push("none of the terms that can be left out is felt".to_owned());
    }
    said.extend(rest);
    Some(said.join("; "))
}

fn near(a: i64, b: i64) -> bool {
    (a as f64 - b as f64).abs() <= SAME * (a as f64).abs()
}

/// More or less, in per cent; as a multiple where it is more than twice.
fn percent(share: f64) -> String {
    if share > 1.0 {
        format!("×{:.1}", share + 1.0)
    } else {
        format!("{:+.1} %", 100.0 * share).replace('-', "−")
    }
}

fn terms(told: &[&Moved<'_>], parts: &BTreeMap<i64, Parts>) -> Table {
    let mut columns =
        vec![Column::field(JointRow::serial()), Column::of("whole", "damage", Measure::Damage)];
    columns.extend(Term::ALL.map(|term| {
        let title = format!("without {}", term.words());
        Column::of(&format!("without_{}", term.name()), &title, Measure::Damage)
    }));
    columns.push(Column::of("without_all", "without all of these", Measure::Damage));
    columns.push(Column::of("before", "before", Measure::Damage));
    let row = |m: &&Moved<'_>| {
        let now = m.damage_now()?;
        let parts = parts.get(&m.joint)?;
        let figure = |part: Sum| Cell::number(parts.figure(part, now));
        let mut row = vec![Cell::Text(m.now.serial.clone()), Cell::Number(now)];
        row.extend(parts.without.iter().map(|part| figure(*part)));
        row.push(figure(parts.bare));
        row.push(Cell::number(m.damage_before()));
        Some(row)
    };
    Table {
        name: "terms",
        columns,
        rows: told.iter().filter_map(row).collect(),
        empty: "no joint has a figure that could be taken apart".to_owned(),
        below: None,
    }
}
