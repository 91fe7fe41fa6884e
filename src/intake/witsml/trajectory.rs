//! Trajectories as rows of stations.

use std::collections::BTreeMap;

use super::{Element, hole, objects, says_plan, title};
use crate::intake::table::RawRow;

/// One trajectory of a document.
pub(in crate::intake) struct Trajectory {
    pub name: Option<String>,
    pub rows: Vec<RawRow>,
    /// Values for the whole survey, by field.
    pub given: BTreeMap<String, String>,
    /// It calls itself a plan (`itemState`).
    pub is_plan: bool,
}

/// Trajectories of a document. A station without inclination or azimuth keeps an empty cell:
/// absent is not 0.
pub(in crate::intake) fn trajectories(doc: &Element) -> Vec<Trajectory> {
    objects(doc, "trajectory")
        .into_iter()
        .map(|t| {
            let names = [("md", "md"), ("incl", "inc"), ("azi", "azi")];
            let stations: Vec<_> = t.all("trajectoryStation").collect();
            let units: Vec<Option<String>> = names
                .iter()
                .map(|(xml, _)| stations.iter().find_map(|s| s.measure(xml)?.1))
                .collect();
            let titles = names.iter().zip(&units).map(|((_, key), unit)| match unit {
                Some(unit) => format!("{key} [{unit}]"),
                None => (*key).to_owned(),
            });
            let mut rows = vec![RawRow::new(t.line, titles.collect())];
            for s in stations {
                let cells = names.iter().zip(&units).map(|((xml, _), unit)| match s.measure(xml) {
                    Some((value, own)) if own == *unit => value,
                    // Without a unit, or with another one than the first station: said as it is.
                    Some((value, own)) => format!("{value} {}", own.unwrap_or("?".to_owned())),
                    None => String::new(),
                });
                rows.push(RawRow::new(s.line, cells.collect()));
            }
            let mut given = BTreeMap::new();
            let mut give = |key: &str, value: Option<String>| {
                if let Some(value) = value {
                    given.insert(key.to_owned(), value);
                }
            };
            give("well", hole(t));
            give("tool", t.text_of("serviceCompany"));
            give("north_reference", t.text_of("aziRef"));
            let date = t.text_of("dTimTrajEnd").or_else(|| t.text_of("dTimTrajStart"));
            give("date", date);
            let remark = t.child("commonData").and_then(|c| c.text_of("comments"));
            give("remark", remark);
            Trajectory { name: title(t), rows, given, is_plan: says_plan(t) }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::intake::witsml::parse;

    #[test]
    fn stations_keep_their_units_and_their_gaps() {
        let doc = parse(
            "t.xml",
            "<trajectorys><trajectory><nameWell>W</nameWell><aziRef>grid north</aziRef>\n\
             <trajectoryStation><md uom='m'>0</md><incl uom='dega'>0</incl><azi uom='dega'>0</azi></trajectoryStation>\n\
             <trajectoryStation><md uom='ft'>98.4</md><azi uom='dega'>10</azi></trajectoryStation>\n\
             </trajectory></trajectorys>",
        )
        .unwrap();
        let t = trajectories(&doc);
        assert_eq!(t.len(), 1);
        assert_eq!(t[0].rows[0].cells, ["md [m]", "inc [dega]", "azi [dega]"]);
        assert_eq!(t[0].rows[1].cells, ["0", "0", "0"]);
        assert_eq!(
            (t[0].rows[2].number, &t[0].rows[2].cells[..]),
            (3, &["98.4 ft".to_owned(), String::new(), "10".to_owned()][..])
        );
        assert_eq!(t[0].given["well"], "W");
    }
}
