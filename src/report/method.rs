//! The fatigue method in force, others to choose, and how the order of joints moves under one.

use std::collections::{BTreeMap, BTreeSet};

use crate::condition::Edition;
use crate::mechanics::fatigue::{Curve, CurveTable, Medium};
use crate::model::{Adopted, Body, Draft, Moment, SetKind, fold};
use crate::projection::adoptions;
use crate::projection::exposure::Method;
use crate::schema::{JointRow, Rows};
use crate::store::{Book, StoreError};
use crate::units::Measure;

use super::rank::{kendall, left_the_top, spearman, top};
use super::{Block, Cell, Column, Fact, Report, ReportError, Table};

/// How many joints stand in the table of the worst.
const TOP: usize = 20;
/// Digits of a digest that tell one text from another in a name.
const DIGEST: usize = 8;

/// The fatigue method in force.
pub fn in_force(book: &Book) -> Result<Method, ReportError> {
    Ok(book.adoptions()?.method().map_err(StoreError::from)?)
}

/// The text of the method that ships, and the method.
fn shipped_text() -> Result<(&'static str, Method), ReportError> {
    let text = Edition::shipped().set(SetKind::Fatigue).unwrap_or_default();
    Ok((text, Method::parse(text, None).map_err(ReportError::Words)?))
}

/// The method that ships.
pub fn shipped() -> Result<Method, ReportError> {
    shipped_text().map(|(_, method)| method)
}

/// A method that was chosen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Choice {
    /// Name, recorded with every result.
    pub name: String,
    /// The method as text.
    pub text: String,
}

impl Choice {
    /// A method from a file. Its name is the file's with the beginning of its digest, so that two
    /// texts never go by one name.
    ///
    /// # Errors
    /// A sentence when the text is no method.
    pub fn of_file(stem: &str, text: String) -> Result<Self, ReportError> {
        let digest = crate::ledger::digest(text.as_bytes());
        let name = format!("{} {}", stem.trim(), &digest[..DIGEST.min(digest.len())]);
        Self { name, text }.checked()
    }

    /// A method by name: the one that ships, one curve for every environment, or a family of
    /// curves (standard, edition, class) with one for each; with another mean-stress rule if one is
    /// named.
    ///
    /// # Errors
    /// A sentence that names what there is.
    pub fn named(word: &str, mean_stress: Option<&str>) -> Result<Self, ReportError> {
        let (text, shipped) = shipped_text()?;
        let word = word.trim();
        let is_shipped = [fold(&shipped.name), "shipped".to_owned()].contains(&fold(word));
        if is_shipped && mean_stress.is_none() {
            return Ok(Self { name: shipped.name, text: text.to_owned() });
        }
        let table = CurveTable::shipped().map_err(|e| ReportError::Words(e.to_string()))?;
        let curves =
            if let Some(one) = table.curves().iter().find(|c| fold(&c.name()) == fold(word)) {
                [(); 3].map(|()| one.name())
            } else {
                family(table, word)?
            };
        let [air, protected, corrosive] = &curves;
        // A curve that contains mean stress asks for no rule on top.
        let contained = curves
            .iter()
            .all(|name| table.curves().iter().any(|c| c.name() == *name && c.contains_mean_stress));
        let default = if contained { "none" } else { "goodman" };
        let rule = mean_stress.map_or_else(|| default.to_owned(), fold);
        let text = format!(
            "air = \"{air}\"\nprotected = \"{protected}\"\ncorrosive = \"{corrosive}\"\n\
             mean_stress = \"{rule}\"\n"
        );
        let name = match rule.as_str() {
            // The curve says it all.
            "none" if contained => word.to_owned(),
            "none" => format!("{word}, no mean-stress rule"),
            rule => format!("{word}, {rule}"),
        };
        Self { name, text }.checked()
    }

    fn checked(self) -> Result<Self, ReportError> {
        Method::parse(&self.text, Some(&self.name)).map_err(ReportError::Words)?;
        Ok(self)
    }

    /// The entry that adopts it.
    pub fn draft(&self, when: Moment) -> Draft {
        let body = adoptions::body(Adopted::Fatigue, &self.name, &self.text, None);
        Draft { effective: when, evidence: None, body: Body::Adoption(body) }
    }
}

/// A shipped curve by its name, whatever its capitals.
///
/// # Errors
/// A sentence that names the curves which look like it.
pub fn curve(name: &str) -> Result<Curve, ReportError> {
    let table = CurveTable::shipped().map_err(|e| ReportError::Words(e.to_string()))?;
    if let Some(found) = table.curves().iter().find(|c| fold(&c.name()) == fold(name)) {
        return Ok(found.clone());
    }
    let mut scored: Vec<(f64, String)> = table
        .curves()
        .iter()
        .map(|c| (strsim::jaro_winkler(&fold(&c.name()), &fold(name)), c.name()))
        .collect();
    scored.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.cmp(&b.1)));
    let like: Vec<String> = scored.into_iter().take(3).map(|s| s.1).collect();
    Err(ReportError::Words(format!(
        "there is no S–N curve '{name}'; a curve is named by standard, edition, environment and \
         class, like {}",
        like.join(" or ")
    )))
}

/// The three curves of a standard, edition and class.
fn family(table: &CurveTable, word: &str) -> Result<[String; 3], ReportError> {
    let name = |c: &Curve| format!("{} {} {}", c.standard, c.edition, c.class);
    let find = |medium: Medium| {
        table
            .curves()
            .iter()
            .find(|c| c.medium == medium && fold(&name(c)) == fold(word))
            .map(Curve::name)
    };
    let media = [Medium::Air, Medium::Protected, Medium::Corrosive];
    let found = media.map(find);
    if let [Some(air), Some(protected), Some(corrosive)] = found {
        return Ok([air, protected, corrosive]);
    }
    if found.iter().any(Option::is_some) {
        return Err(ReportError::Words(format!(
            "{word} has no curve for every environment (air, protected, corrosive); name curves in \
             a file with air = \"…\", protected = \"…\", corrosive = \"…\""
        )));
    }
    let mut families: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for c in table.curves() {
        let editions = families.entry(format!("{} {}", c.standard, c.edition)).or_default();
        editions.insert(c.class.clone());
    }
    let list: Vec<String> = families
        .into_iter()
        .map(|(name, classes)| {
            format!("{name} ({})", classes.into_iter().collect::<Vec<_>>().join(" "))
        })
        .collect();
    Err(ReportError::Words(format!(
        "'{word}' is no file and no method; a method is a standard, edition and class, of: {}",
        list.join("; ")
    )))
}

/// A joint with its damage.
#[derive(Clone, Debug, PartialEq)]
pub struct Ranked {
    pub serial: String,
    /// Damage at its worst place, quanta; the lower bound where it is one.
    pub damage: i64,
}

/// Every joint of the book by place, with its damage.
pub fn damages(book: &Book) -> Result<BTreeMap<i64, Ranked>, ReportError> {
    let rows: Vec<JointRow> = book.rows(&Rows::all().above(JointRow::runs(), 0))?;
    Ok(rows
        .into_iter()
        .map(|r| (r.joint, Ranked { serial: r.serial, damage: r.totals.damage.lo }))
        .collect())
}

/// How the order moved between two methods.
pub fn moved(
    (old, before): (&str, &BTreeMap<i64, Ranked>),
    (new, after): (&str, &BTreeMap<i64, Ranked>),
    adopted: bool,
) -> Report {
    let mut report = Report::new("rebuild");
    let joints: Vec<(&Ranked, &Ranked)> =
        before.iter().filter_map(|(joint, b)| Some((b, after.get(joint)?))).collect();
    let was: Vec<f64> = joints.iter().map(|(b, _)| b.damage as f64).collect();
    let is: Vec<f64> = joints.iter().map(|(_, a)| a.damage as f64).collect();
    report.push(Block::Heading(format!("Fatigue method {new}")));
    let factor = |n: Option<f64>| n.map_or(Cell::Missing, Cell::Real);
    let n = TOP.min(joints.len());
    report.push(Block::Facts {
        name: "moved",
        facts: vec![
            Fact::plain("method", "method", Cell::Text(new.to_owned())),
            Fact::plain("method_before", "before", Cell::Text(old.to_owned())),
            Fact::plain("adopted", "adopted", Cell::Truth(adopted)),
            Fact::plain("joints", "joints that ran", Cell::count(joints.len())),
            Fact::of(
                "spearman",
                "rank correlation, Spearman",
                factor(spearman(&was, &is)),
                Measure::Damage,
            ),
            Fact::of(
                "kendall",
                "rank correlation, Kendall",
                factor(kendall(&was, &is)),
                Measure::Damage,
            ),
            Fact::plain(
                "left_top",
                &format!("left the worst {n}"),
                Cell::count(left_the_top(&was, &is, n)),
            ),
        ],
    });
    report.push(Block::Table(worst(&joints, &was, &is, n)));
    report.push(Block::Note(
        "damage is a ranking index: how far two methods agree on the order says more than either \
         figure"
            .to_owned(),
    ));
    report
}

/// The joints that are among the worst by either method.
fn worst(joints: &[(&Ranked, &Ranked)], was: &[f64], is: &[f64], n: usize) -> Table {
    let (then, now) = (top(was, joints.len()), top(is, joints.len()));
    let place = |order: &[usize]| {
        let mut places = vec![0usize; order.len()];
        order.iter().enumerate().for_each(|(rank, i)| places[*i] = rank + 1);
        places
    };
    let (rank_then, rank_now) = (place(&then), place(&now));
    let mut shown: Vec<usize> = now.iter().take(n).copied().collect();
    shown.extend(then.iter().take(n).filter(|i| rank_now[**i] > n));
    Table {
        name: "worst",
        columns: vec![
            Column::plain("place", "place"),
            Column::plain("place_before", "before"),
            Column::plain("serial", "serial"),
            Column::of("damage", "damage", Measure::Damage),
            Column::of("damage_before", "damage before", Measure::Damage),
        ],
        rows: shown
            .into_iter()
            .map(|i| {
                let (before, after) = joints[i];
                vec![
                    Cell::count(rank_now[i]),
                    Cell::count(rank_then[i]),
                    Cell::Text(after.serial.clone()),
                    Cell::Number(after.damage),
                    Cell::Number(before.damage),
                ]
            })
            .collect(),
        empty: "no joint of the book has run".to_owned(),
        below: None,
    }
}
