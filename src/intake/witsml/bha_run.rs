//! Runs of a bottom-hole assembly (`bhaRun`), and what reports of operations (`opsReport`) state of
//! one: hours and depths, and the tubular that each names.

use super::names::{Hole, Reference};
use super::parts::Wanted;
use super::{Element, hole, objects, says_plan, title};
use crate::intake::when::{Times, moment};
use crate::units::{Dimension, Unit};

/// A run as a document states it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::intake) struct BhaRun {
    pub line: u64,
    /// What it says under names of the header of a run.
    pub stated: Vec<(&'static str, String)>,
    /// What it says of turning, for where no log is.
    pub turning: Turning,
    pub string: Wanted,
    /// Status and state that call it a plan.
    pub is_plan: bool,
    pub notes: Vec<String>,
}

/// Hours and speed of drilling with rotation.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(in crate::intake) struct Turning {
    pub hours: Option<String>,
    pub rotary_speed: Option<String>,
    /// Time turned off bottom is stated too, which the hours do not hold.
    pub reamed: Option<String>,
}

/// The runs of a document, and the reports in it: each tells of the part of a run that fell in its time.
pub(in crate::intake) fn bha_runs(doc: &Element, times: Times) -> Vec<BhaRun> {
    let runs = objects(doc, "bhaRun").into_iter().map(|node| run(node, times));
    runs.chain(objects(doc, "opsReport").into_iter().map(|node| report(node, times))).collect()
}

type StatedKeys = Vec<(&'static str, String)>;

/// What the name and the hole of an object, and its parameters, state of a run.
fn of_params(
    node: &Element,
    params: &[&Element],
    (start, end): (Option<String>, Option<String>),
    notes: &mut Vec<String>,
) -> StatedKeys {
    let mut stated = Vec::new();
    let mut say = |key: &'static str, value: Option<String>| {
        stated.extend(value.map(|value| (key, value)));
    };
    say("name", title(node));
    say("well", hole(node));
    say("start", start);
    say("end", end);
    let depths = |name: &str| measures(params, name, Dimension::LENGTH);
    let by_depth = |a: &&(String, f64), b: &&(String, f64)| a.1.total_cmp(&b.1);
    say("depth_in", picked(depths("mdHoleStart"), |list| list.iter().min_by(by_depth)));
    say("depth_out", picked(depths("mdHoleStop"), |list| list.iter().max_by(by_depth)));
    let muds = measures(params, "wtMud", Dimension::DENSITY);
    let same = |list: &[(String, f64)]| list.windows(2).all(|w| (w[0].1 - w[1].1).abs() < 0.5);
    if muds.as_ref().is_ok_and(|list| !same(list)) {
        notes.push("its mud weight changes: none is taken for the whole".to_owned());
    } else {
        say("mud_weight", picked(muds, <[_]>::first));
    }
    stated
}

/// The string of what is stated, with its hole and its time.
fn wanted(node: &Element, string: Reference, stated: &StatedKeys, times: Times) -> Wanted {
    let instant = |key: &str| {
        let text = &stated.iter().find(|s| s.0 == key)?.1;
        moment(text, times).ok()
    };
    let span = instant("start").zip(instant("end"));
    let span = span.map(|(start, end)| (start.start(times.clock).0, end.end(times.clock).0));
    Wanted { string, hole: Hole::of(node), span }
}

fn run(node: &Element, times: Times) -> BhaRun {
    let mut notes = Vec::new();
    let params: Vec<&Element> = node.all("drillingParams").collect();
    let first = |names: [&str; 2]| names.into_iter().find_map(|name| node.text_of(name));
    let ends = (first(["dTimStart", "dTimStartDrilling"]), first(["dTimStop", "dTimStopDrilling"]));
    let stated = of_params(node, &params, ends, &mut notes);
    let status = node.text_of("statusBha");
    let is_plan = status.as_deref().is_some_and(|s| s.eq_ignore_ascii_case("plan"));
    if !is_plan && says_plan(node) {
        notes.push(format!(
            "its itemState says plan and its statusBha {}: it is taken as done",
            status.unwrap_or_else(|| "nothing".to_owned())
        ));
    }
    // In 2.x the reference stands behind the parameters, in 1.4.1.1 before them.
    let string = node.child("tubular").map(Reference::of).unwrap_or_default();
    let string = wanted(node, string, &stated, times);
    BhaRun { line: node.line, stated, turning: turning(&params), string, is_plan, notes }
}

/// What a report states of a run: the hours that it turned, from its first activity to its last.
fn report(node: &Element, times: Times) -> BhaRun {
    let mut notes = Vec::new();
    let params: Vec<&Element> = node.all("drillingParams").collect();
    let instants = |name: &str| {
        let texts = node.all("activity").filter_map(|a| a.text_of(name));
        let read = texts.filter_map(|t| Some((moment(&t, times).ok()?.start(times.clock), t)));
        let mut read: Vec<_> = read.collect();
        read.sort();
        read
    };
    let start = instants("dTimStart").into_iter().next().map(|(_, text)| text);
    let end = instants("dTimEnd").into_iter().next_back().map(|(_, text)| text);
    let stated = of_params(node, &params, (start, end), &mut notes);
    // In 1.4.1.1 each set of parameters may name a string of its own.
    let named =
        node.child("tubular").into_iter().chain(params.iter().filter_map(|p| p.child("tubular")));
    let mut strings: Vec<Reference> = named.map(Reference::of).collect();
    strings.dedup();
    let string = match strings.as_slice() {
        [one] => one.clone(),
        [] => Reference::default(),
        several => {
            let words: Vec<String> = several.iter().map(Reference::words).collect();
            notes.push(format!(
                "the report is of several strings, {}, and its hours are not told apart",
                words.join(" and ")
            ));
            Reference::default()
        }
    };
    let mut turning = turning(&params);
    let own = |name: &str| Some(node.measure_cell(name)).filter(|cell| !cell.is_empty());
    if turning.hours.is_none() {
        turning.hours = own("eTimDrillRot");
        // The hours of all are those of one speed, or of none that is stated.
        let speeds = measures(&params, "rpmAv", Dimension::FREQUENCY);
        let same = |list: &[(String, f64)]| list.windows(2).all(|w| (w[0].1 - w[1].1).abs() < 1e-9);
        turning.rotary_speed = match speeds {
            Ok(list) if same(&list) => list.first().map(|s| s.0.clone()),
            Ok(_) => None,
            Err(cell) => Some(cell),
        };
    }
    if turning.reamed.is_none() {
        let reamed = measures(&[node], "eTimReam", Dimension::TIME);
        turning.reamed = picked(reamed, |list| list.first().filter(|r| r.1 > 0.0));
    }
    notes
        .push("it is told by a report of operations: its hours are those of the report".to_owned());
    let string = wanted(node, string, &stated, times);
    BhaRun { line: node.line, stated, turning, string, is_plan: says_plan(node), notes }
}

/// A measure of each set of parameters that has it: as written, and in base units.
///
/// # Errors
/// The one that cannot be read, as written.
fn measures(
    params: &[&Element],
    name: &str,
    dimension: Dimension,
) -> Result<Vec<(String, f64)>, String> {
    let cells = params.iter().map(|p| p.measure_cell(name)).filter(|cell| !cell.is_empty());
    cells
        .map(|cell| {
            let (value, symbol) = cell.split_once(' ').unwrap_or((&cell, ""));
            let unit = Unit::parse(symbol, dimension).ok();
            let base = unit.zip(value.parse::<f64>().ok()).map(|(u, v)| v * u.factor().to_f64());
            base.map(|base| (cell.clone(), base)).ok_or(cell)
        })
        .collect()
}

/// One of some measures; what cannot be read is handed on as written, and refused with its place.
fn picked(
    list: Result<Vec<(String, f64)>, String>,
    pick: impl FnOnce(&[(String, f64)]) -> Option<&(String, f64)>,
) -> Option<String> {
    match list {
        Ok(list) => pick(&list).map(|m| m.0.clone()),
        Err(cell) => Some(cell),
    }
}

/// Hours drilled with rotation and the speed of it: of one set of parameters as written, of several
/// their sum, and the speed by which they come to the same turns. A set that lacks one of the two says
/// nothing of the whole.
fn turning(params: &[&Element]) -> Turning {
    let reamed = match measures(params, "cTimReam", Dimension::TIME) {
        Ok(list) => {
            let seconds: f64 = list.iter().map(|r| r.1).sum();
            (seconds > 0.0).then(|| format!("{:.2} h", seconds / 3600.0))
        }
        // It reamed, how long nobody can read.
        Err(cell) => Some(cell),
    };
    let hours = measures(params, "cTimDrillRot", Dimension::TIME);
    let speeds = measures(params, "rpmAv", Dimension::FREQUENCY);
    let (hours, speeds) = match (hours, speeds) {
        (Ok(hours), Ok(speeds)) if params.len() > 1 => (hours, speeds),
        (hours, speeds) => {
            let hours = picked(hours, <[_]>::first);
            return Turning { hours, rotary_speed: picked(speeds, <[_]>::first), reamed };
        }
    };
    let is_whole = |list: &[(String, f64)]| list.len() == params.len();
    let total: f64 = hours.iter().map(|h| h.1).sum();
    let turns: f64 = hours.iter().zip(&speeds).map(|(h, s)| h.1 * s.1).sum();
    let both = is_whole(&hours) && is_whole(&speeds) && total > 0.0;
    Turning {
        hours: is_whole(&hours).then(|| format!("{:.4} h", total / 3600.0)),
        rotary_speed: both.then(|| format!("{:.4} rpm", turns / total * 60.0)),
        reamed,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::intake::witsml::parse;

    #[test]
    fn parameters_of_several_sections_add_up() {
        let doc = parse(
            "r.xml",
            "<bhaRuns><bhaRun><nameWell>W</nameWell><name>R1</name><tubular uidRef='t1'>Tub</tubular>\
             <drillingParams><mdHoleStart uom='m'>500</mdHoleStart><mdHoleStop uom='m'>600</mdHoleStop>\
             <cTimDrillRot uom='h'>2</cTimDrillRot><rpmAv uom='rpm'>60</rpmAv></drillingParams>\
             <drillingParams><mdHoleStart uom='m'>600</mdHoleStart><mdHoleStop uom='m'>700</mdHoleStop>\
             <cTimDrillRot uom='min'>60</cTimDrillRot><rpmAv uom='rpm'>120</rpmAv></drillingParams></bhaRun></bhaRuns>",
        )
        .unwrap();
        let runs = bha_runs(&doc, Times::default());
        assert_eq!(runs.len(), 1);
        let turning = &runs[0].turning;
        assert_eq!(turning.hours.as_deref(), Some("3.0000 h"));
        // 2 h at 60 and 1 h at 120 are 14,400 turns in 3 h.
        assert_eq!(turning.rotary_speed.as_deref(), Some("80.0000 rpm"));
        let stated = |key: &str| runs[0].stated.iter().find(|s| s.0 == key).map(|s| s.1.as_str());
        assert_eq!((stated("depth_in"), stated("depth_out")), (Some("500 m"), Some("700 m")));
        assert_eq!(runs[0].string.string.ids, ["t1"]);
    }
}
