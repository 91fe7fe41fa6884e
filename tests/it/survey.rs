//! The path of a hole as an answer: what follows from the stations, beside what the file published.

use std::fmt::Write as _;

use super::cli::Desk;
use crate::open_data;

const HEAD: &str = "Well,Larkfield 9\nDate,2026-01-10\n";

/// The stations that have a published figure that differs, and all of them.
fn told(desk: &Desk, well: &str) -> (Vec<String>, Vec<serde_json::Value>) {
    let told = desk.run(&["survey", well, "--json", "--units", "metric"]).json();
    let stations = told["stations"].as_array().unwrap().clone();
    let differing = stations.iter().filter(|s| !s["differs"].is_null());
    (differing.map(|s| format!("{}: {}", s["md"]["value"], s["differs"])).collect(), stations)
}

/// SPE 84246 (Sawaryn and Thorogood), example well of page 16, as published to 0.01 ft and 0.01 deg.
const SPE: &str = "MD [m],Inclination [deg],Azimuth [deg],TVD [m],North [m],East [m]\n\
0,0,0,0,0,0\n\
214.13724,5.5,45,213.8085,7.262,7.262\n\
598.800936,29.75,77.05,578.149,42.253,115.057\n";

#[test]
fn what_a_file_publishes_is_shown_beside_what_is_computed() {
    let desk = Desk::with_book();
    desk.write("a.csv", format!("{HEAD}{SPE}"));
    desk.run(&["load", "a.csv"]).ok();
    let (differing, stations) = told(&desk, "larkfield  9");
    assert_eq!(differing, Vec::<String>::new());
    assert_eq!(stations.len(), 3);
    let at = |column: &str| stations[2][column]["value"].as_f64().unwrap();
    // Position to half a digit of what feet rounded to 0.01 leave.
    for (column, published) in [("tvd", 578.149), ("north", 42.253), ("east", 115.057)] {
        assert!((at(column) - published).abs() < 0.006, "{column}: {}", at(column));
        assert!((at(&format!("published_{column}")) - published).abs() < 1e-9);
    }
    // One metre more down the hole, and the station is named; the file itself is not altered.
    desk.write(
        "b.csv",
        format!("{HEAD}{SPE}").replace("578.149", "579.149").replace("01-10", "01-11"),
    );
    desk.run(&["load", "b.csv"]).ok();
    let (differing, _) = told(&desk, "Larkfield 9");
    assert_eq!(differing, ["598.800936: \"vertical depth\""]);
    let text = desk.run(&["survey", "Larkfield 9"]).ok();
    assert!(text.contains("1 earlier survey of this hole is in the book"), "{text}");
    let wells = desk.run(&["survey", "--json"]).json();
    assert_eq!(wells["wells"][0]["surveys"], 2);
    let said = desk.run(&["survey", "Larkfeld 9"]).fails(2);
    assert!(said.contains("did you mean \"Larkfield 9\"?"), "{said}");
}

/// Open surveys publish what follows from their stations: as computed here, within rounding.
#[test]
fn open_surveys_publish_what_is_computed() {
    let Some(folder) = open_data::folder("surveys") else { return };
    let all =
        "MD [m],Inclination [deg],Azimuth [deg],TVD [m],North [m],East [m],DLS [deg/30m],x,y,z";
    for (file, columns) in [
        ("iscwsa-1_md_inc_azi_tvd", 4),
        ("ullrigg_U3-Calc", 10),
        ("ullrigg_U5A-Calc", 10),
        ("ullrigg_U6-Calc", 10),
    ] {
        let desk = Desk::with_book();
        let titles: Vec<&str> = all.split(',').take(columns).collect();
        let mut text = format!("Well,{file}\nDate,2026-01-10\n{}\n", titles.join(","));
        let raw = std::fs::read_to_string(folder.join(format!("{file}.tsv"))).unwrap();
        for line in raw.lines().filter(|l| !l.trim().is_empty()) {
            writeln!(text, "{}", line.replace(',', ".").replace('\t', ",")).unwrap();
        }
        desk.write("survey.csv", text);
        desk.run(&["load", "survey.csv"]).ok();
        let (differing, stations) = told(&desk, file);
        assert!(stations.len() > 5, "{file}");
        assert_eq!(differing, Vec::<String>::new(), "{file}");
    }
}
