//! What a survey's file says that follows from its stations: true vertical depth, north, east, dogleg.
//! The book computes its own and keeps the file's beside them; where the file's contradict it, one of
//! its columns is not what it is called.

use crate::intake::diagnostic::Diagnostics;
use crate::intake::number::{plain, split_cell};
use crate::intake::table::{Row, Table, find};
use crate::mechanics::path::{Path, Station, degrees_per_30m, dogleg};
use crate::model::{PublishedStation, Qty};
use crate::units::{Dimension, Unit};

/// What tables round and routines differ by: metres, and a share of the depth gone.
const TVD: (f64, f64) = (1.0, 0.002);
/// Beyond this the columns cannot belong together.
const TVD_WRONG: (f64, f64) = (5.0, 0.02);
/// The same for doglegs: deg/30 m, and a share of the dogleg.
const DOGLEG: (f64, f64) = (0.2, 0.1);

/// A station with what the file publishes of it.
#[derive(Clone, Debug)]
struct Seen {
    row: u64,
    station: Station,
    tvd: Option<f64>,
    /// As written, in the unit of the column.
    dogleg: Option<f64>,
    /// Vertical depth, north, east and dogleg as written.
    written: [Option<String>; 4],
}

/// The columns of results, and what they hold.
pub(super) struct Published {
    /// Metres in one of the unit.
    tvd: f64,
    /// Degrees per 30 m in one of the unit; several where the file does not say.
    dogleg: Vec<f64>,
    /// Units of vertical depth, north, east and dogleg, where the file says them.
    units: [Option<Unit>; 4],
    seen: Vec<Seen>,
}

/// Columns of what is published.
const COLUMNS: [(&str, Dimension); 4] = [
    ("tvd", Dimension::LENGTH),
    ("north", Dimension::LENGTH),
    ("east", Dimension::LENGTH),
    ("dls", Dimension::CURVATURE),
];

impl Published {
    pub(super) fn of(table: &Table) -> Self {
        let depth = table
            .field("md")
            .and_then(|at| table.layout.columns.iter().find(|c| c.field == at)?.unit.clone());
        let units = COLUMNS.map(|(key, dimension)| {
            let field = table.field(key)?;
            let column = table.layout.columns.iter().find(|c| c.field == field)?;
            let stated = find(&column.title, table.fields).and_then(|f| f.unit);
            let stated = stated.and_then(|unit| Unit::parse(&unit, dimension).ok());
            // Lengths go by the unit of depth where they say none.
            stated.or_else(|| depth.clone().filter(|_| dimension == Dimension::LENGTH))
        });
        let [tvd, _, _, dogleg] = &units;
        let factor = |unit: &Option<Unit>| unit.as_ref().map(|u| u.factor().to_f64());
        let dogleg = factor(dogleg).map(|per_metre| per_metre * 30.0);
        Self {
            tvd: factor(tvd).unwrap_or(1.0),
            // By 30 m, by 100 ft, by 10 m.
            dogleg: dogleg.map_or_else(|| vec![1.0, 30.0 / 30.48, 3.0], |one| vec![one]),
            units,
            seen: Vec::new(),
        }
    }

    /// What is kept of it, station by station; nothing where the file says nothing. A dogleg whose unit
    /// nobody states is not kept.
    pub(super) fn kept(&self) -> Vec<PublishedStation> {
        let kept: Vec<PublishedStation> =
            self.seen
                .iter()
                .map(|seen| {
                    let mut told =
                        seen.written.iter().zip(&self.units).map(|(text, unit)| {
                            Qty::with_unit(text.as_deref()?, unit.as_ref()?).ok()
                        });
                    let mut next = || told.next().flatten();
                    PublishedStation { tvd: next(), north: next(), east: next(), dogleg: next() }
                })
                .collect();
        if kept.iter().all(|s| *s == PublishedStation::default()) { Vec::new() } else { kept }
    }

    /// Notes what a row publishes; depth in metres, angles in degrees.
    pub(super) fn see(&mut self, row: &mut Row<'_>, [md, inc, azi]: [f64; 3]) {
        let decimal = row.table().decimal;
        let written = COLUMNS.map(|(key, _)| {
            let text = plain(split_cell(&row.text(key)?).0, decimal)?;
            text.parse::<f64>().is_ok_and(|x| x.abs() < 1e7).then_some(text)
        });
        let number =
            |text: &Option<String>| text.as_ref()?.parse::<f64>().ok().filter(|x| x.abs() < 1e5);
        let (tvd, dogleg) = (number(&written[0]), number(&written[3]));
        let station = Station::from_degrees(md, inc, azi);
        self.seen.push(Seen { row: row.number(), station, tvd, dogleg, written });
    }

    /// Says where what is published contradicts inclination and azimuth; refuses what cannot be.
    pub(super) fn compare(&self, table: &Table, diagnostics: &mut Diagnostics) {
        self.compare_tvd(table, diagnostics);
        self.compare_dogleg(table, diagnostics);
    }

    fn compare_tvd(&self, table: &Table, diagnostics: &mut Diagnostics) {
        let stations: Vec<Station> = self.seen.iter().map(|s| s.station).collect();
        let Ok(path) = Path::new(&stations) else { return };
        let published = self.seen.iter().filter_map(|s| Some((s, s.tvd? * self.tvd)));
        let all: Vec<(&Seen, f64, f64)> =
            published.map(|(s, tvd)| (s, tvd, path.tvd(s.station.md))).collect();
        let Some((first, tvd, own)) = all.first() else { return };
        // A survey may be tied to a depth that it does not tell: what it goes down is compared.
        let off = |(s, p, c): &(&Seen, f64, f64)| {
            ((p - tvd - (c - own)).abs(), s.station.md - first.station.md)
        };
        let beyond = |limit: (f64, f64), d: (f64, f64)| d.0 > limit.0 + limit.1 * d.1;
        let wrong: Vec<_> = all.iter().filter(|x| beyond(TVD, off(x))).collect();
        let Some(worst) = wrong.iter().max_by(|a, b| off(a).0.total_cmp(&off(b).0)) else { return };
        let message = format!(
            "{} of {} true vertical depths contradict inclination and azimuth, by up to {:.1} m",
            wrong.len(),
            all.len(),
            off(worst).0
        );
        let help = "is the unit of the inclination right, and each column what it is called? The book \
                    computes its own from depth, inclination and azimuth; where the file's column is \
                    the wrong one, skip it: --columns '\"TVD\" = -'";
        let d = if beyond(TVD_WRONG, off(worst)) {
            table.error(message)
        } else {
            table.warning(message)
        };
        diagnostics.push(d.at_row(worst.0.row).help(help));
    }

    fn compare_dogleg(&self, table: &Table, diagnostics: &mut Diagnostics) {
        let pairs: Vec<(&Seen, f64, f64)> = self
            .seen
            .windows(2)
            .filter_map(|w| {
                let length = w[1].station.md - w[0].station.md;
                let own = degrees_per_30m(dogleg(&w[0].station, &w[1].station) / length);
                Some((&w[1], w[1].dogleg?, own))
            })
            .collect();
        let off = |unit: f64, (_, p, own): &(&Seen, f64, f64)| {
            (p.abs() * unit - own).abs() - DOGLEG.0 - DOGLEG.1 * own
        };
        let wrong = |unit: f64| pairs.iter().filter(|x| off(unit, x) > 0.0).collect::<Vec<_>>();
        let Some(unit) = self.dogleg.iter().min_by_key(|unit| wrong(**unit).len()) else { return };
        let wrong = wrong(*unit);
        let Some(worst) = wrong.iter().max_by(|a, b| off(*unit, a).total_cmp(&off(*unit, b)))
        else {
            return;
        };
        let message = format!(
            "{} of {} doglegs contradict inclination and azimuth, such as {:.2} deg/30 m by the file \
             and {:.2} by its stations",
            wrong.len(),
            pairs.len(),
            worst.1.abs() * unit,
            worst.2
        );
        // Some are rounded otherwise or belong to stations left out; most of them are not.
        let d = if 2 * wrong.len() > pairs.len() {
            table.error(message)
        } else {
            table.warning(message)
        };
        diagnostics.push(d.at_row(worst.0.row).help(
            "are inclination and azimuth what they are called, in the right unit? The book computes its \
             own dogleg; where the file's column is the wrong one, skip it: --columns '\"DLS\" = -'",
        ));
    }
}
