//! Charges of a hire, worked out by hand from its dates.

use super::cli::Desk;

const JOINTS: &str = "Serial,Component,New,OD [in],Wall [in],Grade,Length [ft],Connection,Received\n\
    A-1,drill pipe,yes,5,0.362,S-135,31,NC50,2025-01-01\n\
    A-2,drill pipe,yes,5,0.362,S-135,31,NC50,2025-01-01\n\
    A-3,drill pipe,yes,5,0.362,G-105,31,NC50,2025-01-01\n\
    A-4,drill pipe,yes,5 1/2,0.361,S-135,31,5 1/2 FH,2025-01-01\n";

const PRICES: &str = "currency = \"EUR\"\nowner = [\"Harrow Yard\", \"1 Quay Road\"]\n\
    until = \"2026-03-31\"\nminimum_days = 10\n[joint]\nday = 1.15\nlate_day = 2.35\nonce = 0.333\n\
    [[rates]]\nsize = \"5 1/2 in\"\nday = 1.5\n[[rates]]\ngrade = \"g 105\"\nday = 0.9\n\
    [lost]\ndrill_pipe = 2400\n";

/// Four joints go out on 1 March 2026: one comes back after five days, one late, one is lost, one
/// is out still on 1 June.
fn hired() -> Desk {
    let desk = Desk::with_book();
    desk.write("joints.csv", JOINTS);
    desk.run(&["load", "joints.csv"]).ok();
    desk.write(
        "out.csv",
        "Serial,Date,Hire,Party,Location\nA-1,2026-03-01,H-1,Rig crew,Rig\n\
         A-2,2026-03-01,H-1,Rig crew,Rig\nA-3,2026-03-01,H-1,Rig crew,Rig\n\
         A-4,2026-03-01,H-1,Rig crew,Rig\n",
    );
    desk.run(&["load", "out.csv"]).ok();
    desk.write(
        "in.csv",
        "Serial,Date,Hire,Location\nA-1,2026-03-06,H-1,Yard\nA-2,2026-04-10,H-1,Yard\n",
    );
    desk.run(&["load", "in.csv"]).ok();
    desk.run(&["enter", "failure", "joint=A-3", "date=2026-03-21", "failure=lost"]).ok();
    desk.write("prices.toml", PRICES);
    desk
}

fn statement(desk: &Desk, how: &str) -> Vec<String> {
    let words =
        ["statement", "H-1", "--prices", "prices.toml", how, "--now", "2026-06-01T12:00:00Z"];
    desk.run(&words).ok().lines().map(str::to_owned).collect()
}

/// By hand, of day 1.15, late day 2.35, once 0.333 (0.33 a joint):
/// 5 days 5.75, 5 more up to the minimum 5.75.
/// 1 to 31 March are 31 days 35.65, 1 to 9 April 9 late days 21.15.
/// A-3, of another grade: 20 days at 0.9 are 18.00, and nothing after the loss; lost 2400.
/// A-4, of another size: 31 days at 1.5 are 46.50, 1 April to 31 May 61 late days 143.35.
/// 4 × 0.33 = 1.32; the sum is 2,677.47 and none of it falls short by a cent.
const TOTAL: f64 = 2_677.47;

#[test]
fn charges_add_up_to_the_cent_in_every_format() {
    let desk = hired();
    let json: serde_json::Value =
        serde_json::from_str(&statement(&desk, "--json").join("\n")).unwrap();
    assert_eq!(json["hire"]["still_out"], 1);
    assert_eq!(json["hire"]["lost"], 1);
    assert_eq!(json["bill"]["total"].as_f64(), Some(TOTAL), "{}", json["charges_by_joint"]);
    let amounts = |table: &str| -> Vec<(String, f64)> {
        let of = |row: &serde_json::Value| {
            (row["what"].as_str().unwrap().to_owned(), row["amount"].as_f64().unwrap())
        };
        json[table].as_array().unwrap().iter().map(of).collect()
    };
    let cents = |list: &[(String, f64)]| list.iter().map(|(_, x)| (x * 100.0).round()).sum::<f64>();
    let each = amounts("charges_by_joint");
    assert_eq!(cents(&each), TOTAL * 100.0, "{each:?}");
    let (total, summed): (Vec<_>, Vec<_>) =
        amounts("charges").into_iter().partition(|(what, _)| what == "total");
    assert_eq!((cents(&total), cents(&summed)), (TOTAL * 100.0, TOTAL * 100.0));
    let of = |joint: &str, what: &str| {
        let rows = json["charges_by_joint"].as_array().unwrap();
        let row = rows.iter().find(|r| r["serial"] == joint && r["what"] == what);
        row.map(|r| r["amount"].as_f64().unwrap())
    };
    assert_eq!(of("A-1", "days on hire"), Some(5.75));
    assert_eq!(of("A-1", "days up to the minimum"), Some(5.75));
    assert_eq!(of("A-2", "days after the agreed end"), Some(21.15));
    assert_eq!(of("A-3", "days on hire"), Some(18.0));
    assert_eq!(of("A-3", "lost: drill pipe"), Some(2_400.0));
    assert_eq!(of("A-4", "lost: drill pipe"), None);
    assert_eq!(of("A-4", "days after the agreed end"), Some(143.35));

    let csv = statement(&desk, "--csv");
    assert!(csv[0].starts_with("serial,what,quantity,unit,rate,amount"), "{}", csv[0]);
    assert!(csv.last().unwrap().starts_with("total,"), "{csv:?}");
    assert!(csv.last().unwrap().contains("2677.47"), "{csv:?}");
    assert_eq!(csv.len(), each.len() + 2);

    let text = statement(&desk, "--units=us").join("\n");
    for said in ["1 Quay Road", "2677.47", "still out: A-4", "lost: A-3", "charged up to today"] {
        assert!(text.contains(said), "{said}: {text}");
    }
}

#[test]
fn hours_that_somebody_tells_of_a_run_on_hire_are_in_its_statement() {
    let desk = hired();
    // Of the first run it is told when it began; the second ended on hire; the third began before it.
    desk.write(
        "told.csv",
        "Serial,Rot hours [h],Run,From,Date\nA-1,30,1,2026-03-02,2026-03-04\n\
         A-2,10,2,,2026-03-20\nA-4,60,3,2026-02-27,2026-03-02\n",
    );
    desk.run(&["load", "told.csv"]).ok();
    desk.write("prices.toml", "currency = \"EUR\"\n[joint]\nhour = 2\n");
    let json: serde_json::Value =
        serde_json::from_str(&statement(&desk, "--json").join("\n")).unwrap();
    let hours = |serial: &str| {
        let rows = json["joints"].as_array().unwrap();
        let row = rows.iter().find(|r| r["serial"] == serial).unwrap();
        row["hours"].clone()
    };
    // Two of the four days of A-4 lie before it went out: at least 12 of its 60 hours do not.
    let text = statement(&desk, "--units=metric").join("\n");
    for (serial, least) in [("A-1", 30.0), ("A-2", 10.0), ("A-4", 12.0)] {
        let at_least = hours(serial);
        assert_eq!(at_least["value"].as_f64(), Some(least), "{serial}: {at_least} {text}");
        assert_eq!(at_least["bound"], "at least", "{serial}: {at_least}");
    }
    assert!(hours("A-3")["bound"].is_null(), "{json}");
    for said in [
        "30 h told in run 1, and no more than the hours",
        "10 h told in run 2, and no more than the hours; nobody says when it began, it is taken to be of this hire",
        "60 h told in run 3, and no more than the hours; at least 12.0 h of them are counted",
        "≥ 104.00",
        "the total is a lower bound",
    ] {
        assert!(text.contains(said), "{said}: {text}");
    }
}

#[test]
fn a_part_of_a_hire_of_which_nothing_is_known_leaves_its_use_open() {
    let desk = hired();
    let gap =
        ["enter", "gap", "joints=A-2", "date=2026-03-10", "until=2026-03-12", "reason=lost papers"];
    desk.run(&gap).ok();
    let text = statement(&desk, "--units=metric").join("\n");
    assert!(text.contains("of a part of the hire nothing is known"), "{text}");
    assert!(text.contains("joint-hours rotated") && text.contains("≥ 0.0 h"), "{text}");
}
