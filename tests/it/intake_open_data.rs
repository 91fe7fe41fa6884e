//! Open files of the trade, read untouched: research wells at high dogleg, the ISCWSA wells, a
//! geothermal drilling log by depth. The folder is named by `PIPELORE_OPEN_DATA`.

use std::fs::File;
use std::io::{self, Read};
use std::path::PathBuf;

use pipelore::intake::{
    CutRules, Diagnostics, Files, Kind, LogOptions, MemoryLookup, Options, Outcome, World, read,
    read_log, unwatched,
};
use pipelore::model::{Activity, Body, Component, SurveyBody};

use crate::intake::{run_of, show_all, the_run};
use crate::open_data;

/// Files below a folder.
struct Folder(PathBuf);

impl Files for Folder {
    fn open(&self, name: &str) -> io::Result<Box<dyn Read + '_>> {
        Ok(Box::new(File::open(self.0.join(name))?))
    }
}

fn folder() -> Option<Folder> {
    open_data::folder(".").map(Folder)
}

fn survey(files: &Folder, name: &str, columns: &str) -> (SurveyBody, Outcome) {
    let lookup = MemoryLookup::default();
    let world = World { files, lookup: &lookup, progress: &unwatched };
    let mut options = Options {
        kind: Some(Kind::Survey),
        columns: Some(columns.parse().unwrap()),
        ..Options::default()
    };
    options.given.insert("well".into(), "open well".into());
    options.given.insert("date".into(), "2020-01-01".into());
    let out = read(name, &options, &world);
    assert!(!out.is_refused(), "{name}:\n{}", show_all(&out.diagnostics));
    assert_eq!(out.drafts.len(), 1, "{name}");
    match &out.drafts[0].body {
        Body::Survey(s) => (s.clone(), out),
        other => panic!("{name} became a {}", other.kind().word()),
    }
}

#[test]
fn research_wells_go_through_untouched() {
    let Some(files) = folder() else { return };
    let columns = "md [m], inc [deg], azi [deg], tvd [m], north [m], east [m], \
                   dls [deg/30m], build [deg/30m], turn [deg/30m], section [m]";
    for (name, stations) in [("U3", 23), ("U5A", 10), ("U6", 37), ("U6A", 110)] {
        let (body, out) = survey(&files, &format!("surveys/ullrigg_{name}-Calc.tsv"), columns);
        let lines =
            std::fs::read_to_string(files.0.join(format!("surveys/ullrigg_{name}-Calc.tsv")))
                .unwrap()
                .lines()
                .filter(|l| !l.trim().is_empty())
                .count();
        assert_eq!(body.stations.len(), lines, "{name}");
        assert_eq!(body.stations.len(), stations, "{name}");
        assert_eq!((body.depth_unit.as_str(), body.angle_unit.as_str()), ("m", "deg"));
        assert_eq!(out.rows.used, lines as u64);
        assert_eq!((out.rows.refused, out.rows.skipped), (0, 0));
    }
}

#[test]
fn iscwsa_wells_have_a_decimal_comma_and_one_is_in_feet() {
    let Some(files) = folder() else {
        return;
    };
    let (one, out) = survey(
        &files,
        "surveys/iscwsa-1_md_inc_azi_tvd.tsv",
        "md [m], inc [deg], azi [deg], tvd [m]",
    );
    assert_eq!(one.stations.len() as u64, out.rows.used);
    let last = one.stations.last().unwrap();
    assert_eq!((last.0.as_str(), last.1.as_str(), last.2.as_str()), ("8000", "90", "75"));
    assert!(out.notes.iter().any(|n| n.contains("decimal comma")), "{:?}", out.notes);
    let (two, _) = survey(
        &files,
        "surveys/iscwsa-2_md_inc_azi_tvd.tsv",
        "md [ft], inc [deg], azi [deg], tvd [ft]",
    );
    assert_eq!(two.depth_unit, "ft");
    let at = two.stations.iter().find(|s| s.0 == "5100").unwrap();
    assert_eq!((at.1.as_str(), at.2.as_str()), ("31.46", "7.61"));
}

#[test]
fn a_survey_without_header_or_units_is_told_how_to_state_them() {
    let Some(files) = folder() else {
        return;
    };
    let lookup = MemoryLookup::default();
    let world = World { files: &files, lookup: &lookup, progress: &unwatched };
    let out = read("surveys/ullrigg_U3-Calc.tsv", &Options::default(), &world);
    assert!(out.is_refused() && out.drafts.is_empty());
    let text = show_all(&out.diagnostics);
    assert!(
        text.contains("no header row") && text.contains("--columns \"md [m], inc [deg]"),
        "{text}"
    );
}

/// What the log is: its torque is a hydraulic pressure, its depths repeat and step back, its rates
/// have spikes. 460.7 h and 1,312,093 revolutions were computed from it independently, from steps
/// of at most 3 ft with a rate above 0.5 ft/h.
#[test]
fn the_log_by_depth_gives_its_reference_hours_and_turns() {
    let Some(files) = folder() else {
        return;
    };
    let lookup = MemoryLookup::default();
    let world = World { files: &files, lookup: &lookup, progress: &unwatched };
    let name = "logs/forge_58-32_processed.csv";
    let mut d = Diagnostics::default();
    assert!(read_log(name, &LogOptions::default(), &world, &mut d).is_none());
    let text = show_all(&d);
    assert!(text.contains("'1 ft' measures a length, not a speed"), "{text}");

    let mut d = Diagnostics::default();
    let options = LogOptions {
        columns: Some("\"ROP(1 ft)\" = rop [ft/h], \"ROP(1 m)\" = -".parse().unwrap()),
        rules: CutRules {
            step_max_mm: 915,  // 3 ft
            rop_min_mmh: 153,  // 0.5 ft/h
            rop_max_mmh: None, // spikes counted, as the reference does
            ..CutRules::default()
        },
        ..LogOptions::default()
    };
    let log =
        read_log(name, &options, &world, &mut d).unwrap_or_else(|| panic!("{}", show_all(&d)));
    let hours = log.segments.iter().map(|s| s.duration_ms).sum::<i64>() as f64 / 3.6e6;
    let turns = log.segments.iter().map(|s| s.milli_turns).sum::<i64>() as f64 / 1000.0;
    assert!((hours - 460.7).abs() < 0.05, "{hours}");
    assert!((hours / 460.713_200 - 1.0).abs() < 1e-6, "{hours}");
    assert!((turns - 1_312_093.0).abs() < 0.5, "{turns}");
    assert!(log.segments.len() <= 600, "{}", log.segments.len());
    assert!(log.error_mm <= 1000, "{}", log.error_mm);
    assert!(log.segments.iter().all(|s| s.torque_nm.is_none()));
    assert!(
        log.notes.iter().any(|n| n.contains("psi") && n.contains("not a torque")),
        "{:?}",
        log.notes
    );
    let left = log.source.left_out.join("\n");
    for said in ["31 rows repeat", "8 gaps", "2 steps back"] {
        assert!(left.contains(said), "{said} not in:\n{left}");
    }
    let down: i64 = log.segments.iter().map(|s| s.bit_to_mm - s.bit_from_mm).sum();
    // 85.18 ft to 7536.25 ft, each to the millimetre
    assert_eq!(down, 2_297_049 - 25_963);
    // Both steps back end where the next step is a gap: nothing is passed again.
    let made_hole = |a| matches!(a, Activity::RotatingOnBottom | Activity::Sliding);
    assert!(log.segments.iter().all(|s| made_hole(s.activity) || s.milli_turns == 0));
    println!("bound {} mm, {} segments\n{left}", log.error_mm, log.segments.len());

    // As it stands the one impossible rate is no drilling.
    let options = LogOptions { rules: CutRules::default(), ..options };
    let log = read_log(name, &options, &world, &mut Diagnostics::default()).unwrap();
    assert!(log.source.left_out.iter().any(|l| l.contains("above what drilling reaches")));
}

/// Samples of LAS hold no drilling log; they show that headers are read and what is wrong is said.
#[test]
fn las_samples_say_what_they_lack() {
    let Some(files) = folder() else { return };
    let lookup = MemoryLookup::default();
    let world = World { files: &files, lookup: &lookup, progress: &unwatched };
    let read_by = |name: &str, columns: &str| {
        let mut d = Diagnostics::default();
        let columns = Some(columns.parse().unwrap());
        let options = LogOptions { columns, ..LogOptions::default() };
        (read_log(name, &options, &world, &mut d), show_all(&d))
    };
    let said = |name: &str| read_by(name, "DEPT = depth [m], DT = rop [m/h], ILD = rpm [rpm]");
    // Version 3. None of its three speeds has a unit; that of the pipe is 0 in each of its 78 rows with
    // values, and the header says that they go on to 5,378 m.
    let three = "las/lasio_30_drilling_curves_err11.las";
    let (log, text) = read_by(three, "\"RPMTI\" = -, \"RPMSI\" = -");
    assert!(log.is_none() && text.contains("the unit of 'RPMI' is not stated"), "{text}");
    let (log, text) = read_by(three, "\"RPMI\" = rpm [rpm], \"RPMTI\" = -, \"RPMSI\" = -");
    assert!(text.contains("ends at 1575 and the header says 5378.0000 (STOP)"), "{text}");
    let log = log.unwrap();
    assert!(log.incomplete && log.milli_turns == 0 && log.rotating_ms == 0, "{text}");
    assert_eq!(log.rows_used, 78, "{:?}", log.notes);
    // They run upwards, one of them with three rows of the many that its header states; the columns
    // are nonsense for a log of drilling.
    for (name, cut_off) in [("las/lasio_20_sample.las", true), ("las/lasio_20_tab.las", false)] {
        let (log, text) = said(name);
        assert!(log.is_none_or(|l| l.incomplete), "{text}");
        assert_eq!(text.contains("the file is cut off"), cut_off, "{text}");
    }
    let out = read("las/lasio_20_wrapped.las", &Options::default(), &world);
    assert!(show_all(&out.diagnostics).contains("its curves are none of a log of drilling: DEPT"));
}

/// Objects of the interchange standard: one anonymised real survey, and samples of artificial
/// values that say what they lack.
#[test]
fn witsml_objects_are_read_or_say_what_is_wrong() {
    let Some(files) = folder() else { return };
    let lookup = MemoryLookup::default();
    let world = World { files: &files, lookup: &lookup, progress: &unwatched };
    let load = |name: &str| read(name, &Options::default(), &world);

    let out = load("witsml_1411/energistics2016_trajectory.xml");
    let text = std::fs::read_to_string(files.0.join("witsml_1411/energistics2016_trajectory.xml"));
    let stations = text.unwrap().matches("<trajectoryStation ").count() as u64;
    assert_eq!(out.rows.used + out.rows.refused, stations);
    assert_eq!(out.rows.refused, out.diagnostics.errors(), "{}", show_all(&out.diagnostics));
    let Body::Survey(s) = &out.drafts[0].body else { panic!() };
    assert_eq!(s.well, "EnergisticsWell2016-A, EnergisticsWellbore2016-A");
    assert_eq!((s.depth_unit.as_str(), s.angle_unit.as_str()), ("m", "dega"));
    assert_eq!(s.north.as_deref(), Some("grid north"));
    assert!(s.stations.len() > 80);

    for name in [
        "witsml_1411/trajectory.xml",
        "witsml_20/native_Trajectory.xml",
        "witsml_20/trajectory.xml",
    ] {
        let out = load(name);
        assert_eq!(out.kind, Some(Kind::Survey), "{name}");
        assert!(out.rows.used + out.rows.refused > 0, "{name}");
    }
    for (name, words) in [
        ("witsml_1411/tubular.xml", "a file of kind tally belongs to a run"),
        ("witsml_1411/log.xml", "a file of kind log belongs to a run"),
        ("witsml_1411/bhaRun.xml", "run '21' has the string 'TubAssy001' (45t12)"),
        ("witsml_20/native_Well.xml", "'Well' is not read"),
    ] {
        let shown = show_all(&load(name).diagnostics);
        assert!(shown.contains(words), "{name}: {shown}");
    }

    let out = run_of("witsml_1411/tubular.xml", None, &files, &lookup);
    let tally = &the_run(&out).tally;
    assert_eq!(tally[0].part.as_ref().unwrap().component, Component::Bit);
    assert!(tally.len() > 8);

    // By depth, with a rate and a surface speed; the first rows are of another depth than the last.
    let mut d = Diagnostics::default();
    let log = read_log("witsml_1411/log.xml", &LogOptions::default(), &world, &mut d);
    let shown = show_all(&d);
    assert!(log.is_some() || d.errors() > 0, "{shown}");
    let mut d = Diagnostics::default();
    let log =
        read_log("witsml_1411/energistics2016_log1.xml", &LogOptions::default(), &world, &mut d);
    assert!(log.is_none() && d.errors() > 0);
    let mut d = Diagnostics::default();
    assert!(read_log("witsml_20/native_Log.xml", &LogOptions::default(), &world, &mut d).is_none());
    assert!(show_all(&d).contains("the log has no data"));
}
