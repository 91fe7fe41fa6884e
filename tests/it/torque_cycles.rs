//! How often a joint was twisted and let go, from a log of its run.

use std::fmt::Write as _;

use super::cli::Desk;

/// Two joints above twenty collars; three starts with the bit at 900 m, a fourth with it at 195 m, where the
/// middle of the upper joint (202.6 m from the bit) stands above the rotary table.
fn yard() -> Desk {
    let desk = Desk::with_book();
    desk.write(
        "joints.csv",
        "Serial,Component,New,OD [in],Wall [in],Weight [lb/ft],Grade,Length [m],Connection,Received\n\
         A-1,drill pipe,yes,5,.362,19.50,G-105,9.5,NC50,2025-01-05\n\
         A-2,drill pipe,yes,5,.362,19.50,G-105,9.6,NC50,2025-01-05\n",
    );
    desk.write(
        "tally.csv",
        "serial,component,part,count,length [m],od [mm],id [mm],air weight [kg/m]\n,bit,PDC,,0.3,,,\n\
         ,drill collar,,20,9.4,165.1,71.4,136\nA-1,,,,9.5,,,\nA-2,,,,9.6,,,\n\
         ,heavy weight,,80,9.4,127,76.2,73.4\n",
    );
    // Minutes, bit, rotary speed, torque: pipe that stands keeps some torque.
    let stretches = [
        (20, 900, 60, 12),
        (20, 900, 0, 3),
        (20, 900, 60, 15),
        (20, 900, 0, 3),
        (20, 900, 90, 14),
        (40, 900, 0, 3),
        (30, 195, 0, 0),
        (20, 195, 60, 20),
        (10, 195, 0, 0),
    ];
    let mut log = "time,bit depth [m],hole depth [m],rpm,torque [kN.m]\n".to_owned();
    let mut minute = 0;
    for (minutes, bit, rpm, torque) in stretches {
        for _ in 0..minutes {
            let (hour, rest) = (6 + minute / 60, minute % 60);
            writeln!(log, "2025-03-04T{hour:02}:{rest:02}:00Z,{bit},900,{rpm},{torque}").unwrap();
            minute += 1;
        }
    }
    desk.write("log.csv", log);
    desk.write(
        "run.toml",
        "name = 'R1'\nwell = 'Larkfield 1H'\nstart = 2025-03-04\nend = 2025-03-04\n\
         tally = 'tally.csv'\nlog = 'log.csv'\n",
    );
    desk.run(&["load", "joints.csv", "run.toml"]).ok();
    desk
}

fn torque(desk: &Desk, args: &[&str], joint: &str) -> (f64, f64) {
    let all: Vec<&str> = args.iter().copied().chain(["--json", "--units", "metric"]).collect();
    let answer: serde_json::Value = serde_json::from_str(&desk.run(&all).ok()).unwrap();
    let rows = answer["runs"].as_array().or_else(|| answer["joints"].as_array()).unwrap();
    let of = |r: &&serde_json::Value| r["serial"].is_null() || r["serial"] == joint;
    let row = rows.iter().find(of).unwrap();
    assert_eq!(row["torque_cycles"]["bound"], "at least", "{row}");
    (
        row["torque_cycles"]["value"].as_f64().unwrap(),
        row["largest_torque"]["value"].as_f64().unwrap(),
    )
}

#[test]
fn each_start_of_turning_in_the_hole_is_a_cycle() {
    let desk = yard();
    assert_eq!(torque(&desk, &["exposure", "A-1"], "A-1"), (4.0, 20.0));
    assert_eq!(torque(&desk, &["exposure", "A-2"], "A-2"), (3.0, 15.0));
    assert_eq!(torque(&desk, &["exposure", "--run", "R1"], "A-1"), (4.0, 20.0));
    assert_eq!(torque(&desk, &["exposure", "--run", "R1"], "A-2"), (3.0, 15.0));
    // While the run was under way.
    let early = ["exposure", "A-1", "--as-of", "2025-03-04T07:05:00Z"];
    assert_eq!(torque(&desk, &early, "A-1"), (2.0, 15.0));
    desk.run(&["dossier", "A-1", "--author", "A. Reader", "--output", "d.html"]).ok();
    let said = std::fs::read_to_string(desk.path("d.html")).unwrap();
    assert!(said.contains("torque cycles") && said.contains("start of turning"), "{said}");
}
