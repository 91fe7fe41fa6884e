//! The public files and their manifest, untouched: each loads in two commands at most, or is refused
//! once, with the reason. Figures are those that were published or computed elsewhere.

use std::collections::BTreeSet;
use std::path::Path;

use super::cli::Desk;
use super::open_data;

/// What becomes of a file.
enum Becomes {
    /// It loads as it is.
    Loads,
    /// It has no header: the refusal says how to state its columns, and what else no file says; then it
    /// loads. Columns, and the name of the survey computed elsewhere.
    Survey(&'static str, &'static str),
    /// It is a part of a run, which names it.
    InRun(&'static str),
    /// It is refused for a reason.
    Refused(&'static str),
}

const FEET: &str = "md [ft], inc [deg], azi [deg], tvd [ft]";
const METRES: &str = "md [m], inc [deg], azi [deg], tvd [m]";
const WITH_RESULTS: &str =
    "md [m], inc [deg], azi [deg], tvd [m], north [m], east [m], dls [deg/30m]";
const NOT_READ: &str = "is not read";
const NO_DRILLING: &str = "its curves are none of a log of drilling";
const NO_DATA: &str = "the log has no data";

#[rustfmt::skip]
const FILES: [(&str, Becomes); 35] = [
    ("las/lasio_20_sample.las", Becomes::Refused(NO_DRILLING)),
    ("las/lasio_20_tab.las", Becomes::Refused(NO_DRILLING)),
    ("las/lasio_20_wrapped.las", Becomes::Refused(NO_DRILLING)),
    (
        "las/lasio_30_drilling_curves_err11.las",
        Becomes::InRun("log_columns = '\"RPMI\" = rpm [rpm], \"RPMTI\" = -, \"RPMSI\" = -'\nlog ="),
    ),
    ("logs/forge_58-32_processed.csv", Becomes::InRun("log_columns = '\"ROP(1 ft)\" = rop [ft/h], \"ROP(1 m)\" = -'\n\
        cut = 'step_max_mm=915 rop_min_mmh=153 rop_max_mmh=none'\nlog =")),
    ("surveys/iscwsa-1_md_inc_azi_tvd.tsv", Becomes::Survey(METRES, "iscwsa-1")),
    ("surveys/iscwsa-2_md_inc_azi_tvd.tsv", Becomes::Survey(FEET, "iscwsa-2")),
    ("surveys/ullrigg_U3-Calc.tsv", Becomes::Survey(WITH_RESULTS, "ullrigg_U3")),
    ("surveys/ullrigg_U5A-Calc.tsv", Becomes::Survey(WITH_RESULTS, "ullrigg_U5A")),
    ("surveys/ullrigg_U6-Calc.tsv", Becomes::Survey(WITH_RESULTS, "ullrigg_U6")),
    ("surveys/ullrigg_U6A-Calc.tsv", Becomes::Survey(WITH_RESULTS, "ullrigg_U6A")),
    ("witsml_1411/bhaRun.xml", Becomes::Refused("and no file that is given holds it")),
    ("witsml_1411/energistics2016_log1.xml", Becomes::Refused(NO_DRILLING)),
    ("witsml_1411/energistics2016_trajectory.xml", Becomes::Loads),
    ("witsml_1411/log.xml", Becomes::InRun("log =")),
    ("witsml_1411/opsReport.xml", Becomes::Refused("and no file that is given holds it")),
    ("witsml_1411/rig.xml", Becomes::Refused(NOT_READ)),
    ("witsml_1411/trajectory.xml", Becomes::Loads),
    ("witsml_1411/tubular.xml", Becomes::InRun("hours = '10 h'\nrotary_speed = '60 rpm'\ndepth_in = '100 m'\n\
        depth_out = '120 m'\ntally =")),
    ("witsml_1411/well.xml", Becomes::Refused(NOT_READ)),
    ("witsml_1411/wellbore.xml", Becomes::Refused(NOT_READ)),
    ("witsml_20/bharun.xml", Becomes::Refused("and no file that is given holds it")),
    ("witsml_20/drillReport.xml", Becomes::Refused(NOT_READ)),
    ("witsml_20/log.xml", Becomes::Refused(NO_DATA)),
    ("witsml_20/native_Log.xml", Becomes::Refused(NO_DATA)),
    ("witsml_20/native_Trajectory.xml", Becomes::Loads),
    ("witsml_20/native_Well.xml", Becomes::Refused(NOT_READ)),
    ("witsml_20/native_Wellbore.xml", Becomes::Refused(NOT_READ)),
    ("witsml_20/opsreport.xml", Becomes::Refused("and no file that is given holds it")),
    ("witsml_20/trajectory.xml", Becomes::Loads),
    ("witsml_20/tubular.xml", Becomes::InRun("hours = '10 h'\nrotary_speed = '60 rpm'\ndepth_in = '100 m'\n\
        depth_out = '120 m'\ntally =")),
    ("witsml_20/well.xml", Becomes::Refused(NOT_READ)),
    ("witsml_20/wellbore.xml", Becomes::Refused(NOT_READ)),
    ("witsml_20/wellboregeometry.xml", Becomes::Refused(NOT_READ)),
    ("ORIGINS.csv", Becomes::Refused("the header fits no kind of file")),
];

/// A yard with a joint, and the files of a run beside it.
fn yard() -> Desk {
    let desk = Desk::with_book();
    desk.write(
        "joints.csv",
        "Serial,Component,New,OD [in],Wall [in],Weight [lb/ft],Grade,Length [m],Connection,TJ OD [in],TJ ID [in],Received\n\
         A-1,drill pipe,yes,5,.362,19.50,G-105,9.5,NC50,6 5/8,3 1/4,2015-01-05\n",
    );
    desk.write(
        "tally.csv",
        "serial,component,length [m],od [mm],id [mm],air weight [kg/m]\n,bit,0.3,,,\nA-1,,9.5,,,\n\
         ,drill collar,200,165.1,71.4,136\n,heavy weight,2090,127,76.2,73.4\n",
    );
    desk.run(&["load", "joints.csv"]).ok();
    desk
}

#[test]
fn each_public_file_loads_in_two_commands_or_is_refused_with_the_reason() {
    let Some(folder) = open_data::folder(".") else { return };
    let manifest = std::fs::read_to_string(folder.join("ORIGINS.csv")).unwrap();
    let mut listed: BTreeSet<&str> =
        manifest.lines().skip(1).filter_map(|l| l.split(',').next()).collect();
    listed.insert("ORIGINS.csv");
    assert_eq!(listed, FILES.iter().map(|f| f.0).collect(), "each file has its expectation");
    for (name, becomes) in &FILES {
        let path = folder.join(name);
        let file = path.to_str().unwrap();
        let desk = yard();
        match becomes {
            Becomes::Loads => {
                let out = desk.run(&["load", file]).ok();
                assert!(out.contains("survey"), "{name}: {out}");
            }
            Becomes::Survey(columns, reference) => {
                let err = desk.run(&["load", file]).fails(3);
                for words in ["--as survey", "--columns", "--set well=", "--set date="] {
                    assert!(err.contains(words), "{name}: {words}: {err}");
                }
                let words = ["--as", "survey", "--columns", columns, "--set", "date=2020-01-01"];
                desk.run(&[&["load", file, "--set", "well=Open"], &words[..]].concat()).ok();
                if let Some(known) = open_data::folder("../reference/surveys") {
                    as_computed(&desk, &known.join(format!("{reference}.csv")));
                }
            }
            Becomes::InRun(header) => {
                let err = desk.run(&["load", file]).fails(3);
                assert!(
                    err.contains("belongs to a run") || err.contains("--columns"),
                    "{name}: {err}"
                );
                let tally = if header.ends_with("log =") { "tally = 'tally.csv'\n" } else { "" };
                desk.write(
                    "run.toml",
                    format!(
                        "name = 'R1'\nwell = 'Open'\nstart = 2017-08-01\nend = 2017-09-20\n{tally}{header} '{file}'\n"
                    ),
                );
                desk.run(&["load", "run.toml"]).ok();
            }
            Becomes::Refused(words) => {
                let err = desk.run(&["load", file]).fails(3);
                assert!(err.contains(words), "{name}: {err}");
                assert!(err.contains("help:"), "{name}: {err}");
            }
        }
        desk.run(&["verify"]).ok();
    }
}

/// True vertical depth, north, east and dogleg of every station as three other routines compute them.
fn as_computed(desk: &Desk, reference: &Path) {
    let told = desk.run(&["survey", "Open", "--units", "metric", "--json"]).json();
    let stations = told["stations"].as_array().unwrap();
    let text = std::fs::read_to_string(reference).unwrap();
    let rows: Vec<Vec<f64>> = text
        .lines()
        .skip(1)
        .map(|l| l.split(',').take(7).map(|c| c.parse().unwrap()).collect())
        .collect();
    assert_eq!(stations.len(), rows.len(), "{}", reference.display());
    for (station, row) in stations.iter().zip(&rows) {
        // Quanta of a survey are far below a millimetre.
        for (key, at, near) in [
            ("md", 0, 1e-6),
            ("tvd", 3, 1e-5),
            ("north", 4, 1e-5),
            ("east", 5, 1e-5),
            ("dogleg", 6, 1e-4),
        ] {
            let Some(value) = station[key]["value"].as_f64() else { continue };
            assert!(
                (value - row[at]).abs() < near,
                "{}: {key} at {} m: {value} and {}",
                reference.display(),
                row[0],
                row[at]
            );
        }
        assert!(station["tvd"]["value"].is_number());
    }
}

/// 1,312,093 revolutions were computed from the log independently (steps of at most 3 ft with a rate
/// above 0.5 ft/h), as its README says; a log by depth gives lower bounds.
#[test]
fn the_log_by_depth_counts_as_it_was_computed_elsewhere() {
    let Some(folder) = open_data::folder("logs") else { return };
    let desk = yard();
    let log = folder.join("forge_58-32_processed.csv");
    let Some((_, Becomes::InRun(header))) = FILES.iter().find(|f| f.0.starts_with("logs/")) else {
        panic!("the log is a part of a run")
    };
    desk.write(
        "run.toml",
        format!(
            "name = 'R1'\nwell = 'Open'\nstart = 2017-08-01\nend = 2017-09-20\ntally = 'tally.csv'\n{header} '{}'\n",
            log.display()
        ),
    );
    desk.run(&["load", "run.toml"]).ok();
    // The joint stands above the bit: it turned whenever the string did.
    let turns = desk.shown("serial = \"A-1\"", "revolutions").join("");
    assert!(turns.starts_with("A-1 ≥ 1312093."), "{turns}");
}
