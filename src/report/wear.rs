//! Wear rates of joints, gathered from the book: readings, runs between them, repairs.

use std::collections::BTreeMap;

use rayon::prelude::*;

use crate::model::{Instant, name_key};
use crate::policy::trend::Series;
use crate::policy::wear::{Basis, Look, Rate, Worn, of_joint, own, pooled, series};
use crate::projection::adoptions::Adoptions;
use crate::schema::{GapRow, JointRow, RepairRow, Rows};
use crate::store::{Book, WearReading};
use crate::units::Measure;

use super::{Block, Cell, Column, ReportError, Table};

/// Joints whose wear is held to be alike: those of a string, of one component and size.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Kin {
    string: Option<String>,
    component: String,
    od: Option<i64>,
    tj_od: Option<i64>,
}

/// Wear of one dimension of one joint.
#[derive(Clone, Debug, Default)]
struct Track {
    series: Vec<Series>,
    /// Seconds of rotation since the value was last read or made anew; `None` where unknown.
    since: Option<f64>,
    /// It was read at least once.
    read: bool,
}

#[derive(Debug, Default)]
pub(super) struct Wear {
    tracks: BTreeMap<(Worn, i64), Track>,
    kin: BTreeMap<i64, usize>,
    pools: BTreeMap<(Worn, usize), Rate>,
    walls: BTreeMap<i64, i64>,
}

#[derive(Default)]
struct Facts {
    readings: Vec<WearReading>,
    runs: Vec<(i64, i64, Option<i64>)>,
    repairs: Vec<RepairRow>,
    gaps: Vec<GapRow>,
}

impl Facts {
    /// Seconds of rotation before an instant; a run that it cuts counts by its share of the time.
    fn used(&self, at: i64) -> f64 {
        let mut sum = 0.0;
        for (start, finish, hours) in &self.runs {
            let Some(hours) = hours.map(|h| Measure::Hours.base_f64(h)) else { continue };
            if *finish <= at {
                sum += hours;
            } else if *start < at {
                sum += hours * (at - start) as f64 / (finish - start).max(1) as f64;
            }
        }
        sum
    }

    /// Stretches after which use so far is not known: ends of gaps and of runs of unknown hours.
    fn unknown(&self) -> impl Iterator<Item = i64> + '_ {
        let gaps = self.gaps.iter().filter(|g| g.since.is_some()).map(|g| g.until);
        let runs = self.runs.iter().filter(|r| r.2.is_none()).map(|r| r.1);
        gaps.chain(runs)
    }

    fn track(&self, worn: Worn, now: i64, adoptions: &Adoptions) -> Track {
        let looks: Vec<Look> = self
            .readings
            .iter()
            .filter_map(|r| {
                let nm = match worn {
                    Worn::Wall => r.wall,
                    Worn::PinOd => r.pin_od,
                    Worn::BoxOd => r.box_od,
                    Worn::PinTong => r.pin_tong,
                    Worn::BoxTong => r.box_tong,
                }?;
                let value = Measure::Wall.base_f64(nm);
                Some(Look { at: r.at, used: self.used(r.at), value })
            })
            .collect();
        let changed = |r: &&RepairRow| {
            worn.changed_by(r.work, r.end, &adoptions.standards_at(Instant(r.date)).works)
        };
        let mended = self.repairs.iter().filter(changed).map(|r| r.date);
        let last = looks.iter().map(|l| l.at).chain(mended.clone()).max();
        let since = last.and_then(|last| {
            let open = self.unknown().any(|u| u > last);
            (!open).then(|| self.used(now) - self.used(last))
        });
        let breaks: Vec<i64> = mended.chain(self.unknown()).collect();
        Track { series: series(&looks, &breaks), since, read: !looks.is_empty() }
    }
}

impl Wear {
    /// Wear of all joints in service.
    pub(super) fn read(book: &Book, joints: &[JointRow], now: i64) -> Result<Self, ReportError> {
        let mut facts: BTreeMap<i64, Facts> = BTreeMap::new();
        book.wear_readings(None, |r| facts.entry(r.joint).or_default().readings.push(r))?;
        // Runs of joints that nobody read tell nothing here.
        book.hours_of_runs(None, |joint, start, finish, hours| {
            if let Some(f) = facts.get_mut(&joint) {
                f.runs.push((start, finish, hours));
            }
        })?;
        for repair in book.rows(&Rows::<RepairRow>::all())? {
            if let Some(f) = facts.get_mut(&repair.joint) {
                f.repairs.push(repair);
            }
        }
        for gap in book.rows(&Rows::<GapRow>::all())? {
            if let Some(f) = facts.get_mut(&gap.joint) {
                f.gaps.push(gap);
            }
        }
        Ok(Self::of(joints, &facts, now, &book.adoptions()?))
    }

    /// Wear of one joint, beside those of its string.
    pub(super) fn beside(book: &Book, joint: &JointRow, now: i64) -> Result<Self, ReportError> {
        let mates: Vec<JointRow> = match &joint.string {
            Some(string) => book.rows(&Rows::all().named(JointRow::string(), string))?,
            None => vec![joint.clone()],
        };
        let mut facts: BTreeMap<i64, Facts> = BTreeMap::new();
        for mate in &mates {
            let f = facts.entry(mate.joint).or_default();
            book.wear_readings(Some(mate.joint), |r| f.readings.push(r))?;
            // Runs of a joint that nobody read tell nothing here.
            if f.readings.is_empty() {
                continue;
            }
            book.hours_of_runs(Some(mate.joint), |_, start, finish, hours| {
                f.runs.push((start, finish, hours));
            })?;
            f.repairs = book.rows_of(mate.joint)?;
            f.gaps = book.rows_of(mate.joint)?;
        }
        Ok(Self::of(&mates, &facts, now, &book.adoptions()?))
    }

    fn of(
        joints: &[JointRow],
        facts: &BTreeMap<i64, Facts>,
        now: i64,
        adoptions: &Adoptions,
    ) -> Self {
        let mut wear = Self::default();
        let mut kin: BTreeMap<Kin, usize> = BTreeMap::new();
        for j in joints {
            let key = Kin {
                string: j.string.as_deref().map(name_key),
                component: j.component.to_string(),
                od: j.od,
                tj_od: j.tool_joint_od,
            };
            let fresh = kin.len();
            wear.kin.insert(j.joint, *kin.entry(key).or_insert(fresh));
            wear.walls.extend(j.nominal_wall.map(|w| (j.joint, w)));
        }
        // Joints are tracked side by side; each by itself.
        let tracks = joints.par_iter().filter_map(|j| Some((j.joint, facts.get(&j.joint)?)));
        let tracks: Vec<((Worn, i64), Track)> = tracks
            .flat_map_iter(|(joint, f)| {
                Worn::ALL.map(|worn| ((worn, joint), f.track(worn, now, adoptions)))
            })
            .filter(|(_, track)| track.read)
            .collect();
        wear.tracks.extend(tracks);
        let mut groups: BTreeMap<(Worn, usize), Vec<&[Series]>> = BTreeMap::new();
        for ((worn, joint), track) in &wear.tracks {
            if let Some(kin) = wear.kin.get(joint) {
                groups.entry((*worn, *kin)).or_default().push(&track.series);
            }
        }
        let pools = groups
            .into_iter()
            .filter_map(|(key, all)| Some((key, pooled(all.into_iter())?)))
            .collect();
        wear.pools = pools;
        wear
    }

    /// The rate to plan with.
    pub(super) fn rate(&self, worn: Worn, joint: i64) -> Option<Rate> {
        let pool = self.kin.get(&joint).and_then(|k| self.pools.get(&(worn, *k))).copied();
        let own = self.tracks.get(&(worn, joint)).and_then(|t| own(&t.series));
        of_joint(own, pool)
    }

    /// Seconds of rotation since the value was last read.
    pub(super) fn since(&self, worn: Worn, joint: i64) -> Option<f64> {
        self.tracks.get(&(worn, joint)).and_then(|t| t.since)
    }

    pub(super) fn nominal_wall(&self, joint: i64) -> Option<f64> {
        self.walls.get(&joint).map(|w| Measure::Wall.base_f64(*w))
    }

    /// The block that a trace shows.
    pub(super) fn block(&self, joint: &JointRow) -> Option<Block> {
        let rows: Vec<Vec<Cell>> = Worn::ALL
            .iter()
            .filter(|w| self.tracks.contains_key(&(**w, joint.joint)))
            .map(|w| self.row(*w, joint))
            .collect();
        if rows.is_empty() {
            return None;
        }
        Some(Block::Table(Table {
            name: "wear",
            columns: vec![
                Column::plain("dimension", "wear of"),
                Column::of("loss", &format!("lost in\n{HOURS} h"), Measure::Wall),
                Column::of("least", "4 in 5: from", Measure::Wall).dispensable(2),
                Column::of("most", "to", Measure::Wall).dispensable(2).upper(),
                Column::of("since", "hours since read", Measure::Hours).dispensable(1),
                Column::plain("basis", "by"),
            ],
            rows,
            empty: String::new(),
            below: None,
        }))
    }

    fn row(&self, worn: Worn, joint: &JointRow) -> Vec<Cell> {
        let rate = self.rate(worn, joint.joint);
        let lost =
            |per: f64| Cell::number(Measure::Wall.store_f64(per * f64::from(HOURS) * 3_600.0));
        let since = self.since(worn, joint.joint).and_then(|s| Measure::Hours.store_f64(s));
        let interval = rate.and_then(|r| r.interval);
        vec![
            Cell::Text(worn.title().to_owned()),
            rate.map_or(Cell::Missing, |r| lost(r.loss)),
            interval.map_or(Cell::Missing, |i| lost(i.0)),
            interval.map_or(Cell::Missing, |i| lost(i.1)),
            Cell::number(since),
            Cell::Text(match rate {
                None => "unknown: no two readings with use between them".to_owned(),
                Some(r) => basis(&r, joint.string.as_deref()),
            }),
        ]
    }
}

/// Hours over which a trace states a loss.
const HOURS: u32 = 1_000;

/// Where a rate comes from, in words.
pub(super) fn basis(rate: &Rate, string: Option<&str>) -> String {
    let mut text = match rate.basis {
        Basis::Own => format!("its own {} readings", rate.readings),
        Basis::Pooled(n) => {
            let of =
                string.map_or_else(|| "joints like it".to_owned(), |s| format!("joints of {s}"));
            format!("{} readings on {n} {of}", rate.readings)
        }
    };
    if rate.interval.is_none() {
        text.push_str(", too few for an interval");
    }
    text
}
