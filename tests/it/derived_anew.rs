//! `rebuild --dry-run`: how the order of joints moves when rows of an older version are derived anew,
//! and what of the calculation makes each figure; the book stays as it is.

use super::cli::Desk;
use super::places::{JOINTS, SURVEY};
use crate::world;
use pipelore::model::{Activity, Body};

const TALLY: &str = "Position,Serial,Component,Length [ft],OD [in],ID [in],Weight [lb/ft],Count\n\
1,,bit,1,8.5,2,80,\n2,C-1,drill collar,30,6.5,2.8125,91,\n\
3,P-1,,,,,,\n4,,drill pipe,31.2,5,4.276,20.9,30\n5,P-2,,,,,,\n6,P-3,,,,,,\n";

/// Off bottom the load cell shows what nobody tared away.
const LOG: &str = "Activity,Bit from [ft],Bit to [ft],Hours [h],RPM,WOB [klbf]\n\
rotating on bottom,1000,2600,60,120,30\nrotating off bottom,2600,1500,20,100,25\n\
reaming down,1500,2600,20,100,25\n";

fn run(name: &str, month: u32) -> String {
    format!(
        "name = \"{name}\"\nwell = \"Larkfield 9\"\nstart = 2026-{month:02}-01T00:00:00+01:00\n\
         end = 2026-{month:02}-06T00:00:00+01:00\nmud_weight = \"9.6 ppg\"\n\
         hole_diameter = \"8 1/2 in\"\nenvironment = \"air\"\n\
         tally = \"tally.csv\"\nlog = \"log.csv\"\n"
    )
}

/// A book in which P-2 has a slip cut before its only run.
fn yard() -> Desk {
    let desk = Desk::with_book();
    for (name, text) in [
        ("joints.csv", JOINTS),
        ("survey.csv", SURVEY),
        ("tally.csv", TALLY),
        ("log.csv", LOG),
        ("one.toml", &run("ONE", 4)),
    ] {
        desk.write(name, text);
    }
    desk.run(&["load", "joints.csv", "survey.csv"]).ok();
    let words = "enter inspection joint=P-2 date=2026-03-10 methods=visual";
    let words: Vec<&str> = words.split(' ').chain(["finding=slip cut", "size=1 mm"]).collect();
    desk.run(&words).ok();
    desk.run(&["load", "one.toml"]).ok();
    desk
}

/// The book of [`yard`] with the cut, made from the same files by the program when it knew nothing of
/// cuts and pits and took the figure of a collar's body for the collar's.
fn older() -> Desk {
    let desk = Desk::new();
    desk.unpack("projection_10_before_cuts_counted.pipelore.gz", "book.pipelore");
    desk
}

fn row<'a>(told: &'a serde_json::Value, table: &str, serial: &str) -> &'a serde_json::Value {
    let rows = told[table].as_array().unwrap();
    rows.iter().find(|r| r["serial"] == serial).unwrap_or_else(|| panic!("{serial}: {told}"))
}

#[test]
fn the_order_moves_and_why_is_said_joint_by_joint() {
    let desk = older();
    let file = std::fs::read(desk.path("book.pipelore")).unwrap();
    let told = desk.run(&["rebuild", "--dry-run", "--json"]).json();
    let why = |serial: &str| row(&told, "joints", serial)["why"].as_str().unwrap().to_owned();
    assert_eq!(told["moved"]["version_before"], 10, "{told}");
    // Of the slip cut nothing was known to the older version.
    let cut = why("P-2");
    assert!(cut.contains("open cuts and pits, stated stress ratios ×"), "{cut}");
    let terms = row(&told, "terms", "P-2");
    let number = |row: &serde_json::Value, column: &str| row[column].as_f64().unwrap();
    let (without, old) = (number(terms, "without_cuts"), number(terms, "before"));
    assert!(old > 0.0 && (without - old).abs() < 1e-9 * old, "{terms}");
    assert!(number(terms, "whole") > 2.0 * old, "{terms}");
    // What has no cut is no different without one, and none the older version.
    let sound = row(&told, "terms", "P-3");
    assert_eq!(sound["without_cuts"], sound["whole"], "{sound}");
    assert_eq!(sound["before"], sound["whole"], "{sound}");
    // The pipe next to the collar is pressed and lies on the wall; what the load cell shows off bottom
    // never came into the book.
    let pressed = row(&told, "terms", "P-1");
    assert_eq!(pressed["without_on_bottom"], pressed["whole"], "{pressed}");
    assert_ne!(pressed["without_wall"], pressed["whole"], "{pressed}");
    assert_ne!(pressed["without_compression"], pressed["whole"], "{pressed}");
    // The body's figure was shown as the collar's.
    let collar = why("C-1");
    assert!(collar.contains("nobody knows that of its connections"), "{collar}");
    assert_eq!(told["moved"]["open_now"], 1, "{told}");
    // The order: P-2 comes up before P-1, and the book keeps its rows and their version.
    let place = |serial: &str, column: &str| row(&told, "joints", serial)[column].as_i64().unwrap();
    let places = ["P-2", "P-1"].map(|s| (place(s, "place_before"), place(s, "place")));
    assert_eq!(places, [(2, 1), (1, 2)], "{told}");
    assert_eq!(std::fs::read(desk.path("book.pipelore")).unwrap(), file);
    assert_eq!(desk.run(&["rebuild", "--dry-run", "--json"]).json(), told);
    // Opened to write it is derived anew, as was told, and as one that was made today.
    desk.run(&["rebuild"]).ok();
    let figures = |desk: &Desk| desk.shown("true", "damage");
    assert_eq!(figures(&desk), figures(&yard()));
    let now = desk.run(&["rebuild", "--dry-run", "--json"]).json();
    assert_eq!(now["moved"]["another"], 0, "{now}");
    assert_eq!(row(&now, "joints", "P-2")["damage"], row(&told, "joints", "P-2")["damage"]);
}

#[test]
fn a_book_of_this_version_does_not_move() {
    let desk = yard();
    let told = desk.run(&["rebuild", "--dry-run", "--json"]).json();
    assert_eq!(told["moved"]["another"], 0, "{told}");
    assert_eq!(told["moved"]["open_now"], 0, "{told}");
    let text = desk.run(&["rebuild", "--dry-run"]).ok();
    assert!(text.contains("the book stays as it is"), "{text}");
}

/// Entries of before hold what a load cell that nobody tared showed off bottom: it presses nothing, and
/// what it would do is told.
#[test]
fn weight_off_bottom_in_an_older_entry_presses_nothing() {
    let world = world::World::new();
    let mut book = world.book("book.pipelore");
    let joints = world::small_fleet(&world, &mut book, 1);
    let mut body = world::run("K1-R01", "Larkfield 1H", "2025-02-01", &joints);
    if let Body::Run(run) = &mut body {
        for (i, segment) in (0_i64..).zip(&mut run.segments) {
            segment.bit_from_mm = 400_000 + 15_000 * i;
            segment.bit_to_mm = segment.bit_from_mm + 15_000;
            if i % 2 == 1 {
                segment.activity = Activity::ReamingDown;
            }
        }
    }
    world.append(&mut book, &[world::draft("2025-02-20", body)]);
    book.close().unwrap();
    let desk = Desk::new();
    for name in ["book.pipelore", "book.pipelore.head"] {
        std::fs::copy(world.path(name), desk.path(name)).unwrap();
    }
    let told = desk.run(&["rebuild", "--dry-run", "--json"]).json();
    let terms = row(&told, "terms", "K1-0001");
    let number = |column: &str| terms[column].as_f64().unwrap();
    assert!(number("whole") > 0.0, "{terms}");
    assert!((number("without_on_bottom") / number("whole") - 1.0).abs() > 0.02, "{terms}");
}
