//! What nobody entered nobody did: sheets that come back unfilled or filled in part, and
//! inspections that say of nothing that it was looked at.

use super::cli::Desk;
use super::rack::{filled, layout};

const SHEET: [&str; 6] = ["sheet", "inspection", "--string", "K1", "-o", "k1.xlsx"];

/// What the book answers that an inspection may change.
fn answers(desk: &Desk) -> Vec<String> {
    const FIELDS: &str = "serial,class,inspected,wall,body_od,box_od,disposition,\
                          hours since last inspection (covers = wall),\
                          damage since last inspection (covers = slip_cracks),\
                          pin_makeups since last inspection (covers = pin)";
    let json = |words: &[&str]| desk.run(words).json().to_string();
    vec![
        json(&["due", "--json"]),
        json(&["find", "true", "--show", FIELDS, "--sort", "serial", "--json"]),
        json(&["find", "--list", "inspections", "true", "--json"]),
    ]
}

/// Serial in a row of the sheet.
fn serial_at(desk: &Desk, row: usize) -> String {
    use calamine::{DataType, Reader, Xlsx, open_workbook};
    let mut book: Xlsx<_> = open_workbook(desk.path("k1.xlsx")).unwrap();
    let range = book.worksheet_range_at(0).unwrap().unwrap();
    range.get((row - 1, 0)).unwrap().get_string().unwrap().to_owned()
}

/// Joints that were looked at for something since the sheet was issued.
fn looked_at(desk: &Desk, what: &str) -> Vec<String> {
    desk.joints(&format!("any inspection ({what} and date >= 2026-06-06)")).yes
}

#[test]
fn an_untouched_sheet_changes_nothing() {
    let desk = Desk::demo_copy();
    let (before, entries) = (answers(&desk), desk.run(&["entries", "--csv"]).ok());
    desk.run(&SHEET).ok();
    let told = desk.run(&["load", "k1.xlsx", "--json"]).json();
    let file = &told["files"][0];
    assert_eq!((file["entries"].as_i64(), file["refused"].as_i64()), (Some(0), Some(0)), "{file}");
    assert!(file["not_looked_at"].as_i64().unwrap() > 100, "{file}");
    let text = desk.run(&["load", "k1.xlsx"]).ok();
    let (_, first) = layout(&desk, "k1.xlsx");
    assert!(text.contains("which were not looked at: rows") && text.contains(&first.to_string()));
    assert_eq!(answers(&desk), before);
    assert_eq!(desk.run(&["entries", "--csv"]).ok(), entries);
}

#[test]
fn one_cell_covers_what_it_says() {
    let desk = Desk::demo_copy();
    let before = answers(&desk);
    desk.run(&SHEET).ok();
    let (columns, first) = layout(&desk, "k1.xlsx");
    let bytes = std::fs::read(desk.path("k1.xlsx")).unwrap();
    let cell = |title: &str, row: usize| format!("{}{row}", columns[title]);
    desk.write("one.xlsx", filled(&bytes, &[(cell("Wall [in]", first), "0.301".to_owned())]));
    let told = desk.run(&["load", "one.xlsx", "--json"]).json();
    assert_eq!(told["files"][0]["entries"], 1, "{told}");
    let serial = serial_at(&desk, first);
    // All that was said of any other joint stands as it stood.
    let joint = |told: &str, serial: &str| -> Option<serde_json::Value> {
        let told: serde_json::Value = serde_json::from_str(told).unwrap();
        told["joints"].as_array().unwrap().iter().find(|j| j["serial"] == serial).cloned()
    };
    let all: serde_json::Value = serde_json::from_str(&before[1]).unwrap();
    let after = answers(&desk);
    for other in all["joints"].as_array().unwrap().iter().filter(|j| j["serial"] != serial) {
        let name = other["serial"].as_str().unwrap();
        assert_eq!(joint(&after[1], name).as_ref(), Some(other));
    }
    // Of this one the wall was read; nobody searched for cracks, gauged ends or made up a look.
    let (old, new) = (joint(&before[1], &serial).unwrap(), joint(&after[1], &serial).unwrap());
    let (old, new) = (old.as_object().unwrap(), new.as_object().unwrap());
    for (key, value) in new {
        let wall = key.starts_with("wall") || key.contains("covers = wall");
        let wall = wall || ["inspected", "class"].contains(&key.as_str());
        assert!(wall || old.get(key) == Some(value), "{key}: {:?} {value}", old.get(key));
    }
    assert_eq!(
        desk.shown(&format!("serial = \"{serial}\""), "wall_thickness"),
        [format!("{serial} 0.301")]
    );
    assert_eq!(looked_at(&desk, "covers = wall"), [serial]);
    for scope in ["visual", "body_od", "pin", "box", "slip_cracks"] {
        assert!(looked_at(&desk, &format!("covers = {scope}")).is_empty(), "{scope}");
    }
}

#[test]
fn methods_are_stated_once_or_in_a_line() {
    let desk = Desk::demo_copy();
    desk.run(&SHEET).ok();
    let (columns, first) = layout(&desk, "k1.xlsx");
    let bytes = std::fs::read(desk.path("k1.xlsx")).unwrap();
    let cell = |title: &str, row: usize| format!("{}{row}", columns[title]);
    let values = [
        ("D4".to_owned(), "visual tube; ut wall".to_owned()),
        (cell("Wall [in]", first), "0.301".to_owned()),
        (cell("Methods used", first + 1), "blacklight connection".to_owned()),
        (cell("Remark", first + 2), "end cap stuck, not looked at".to_owned()),
    ];
    desk.write("some.xlsx", filled(&bytes, &values));
    let told = desk.run(&["load", "some.xlsx", "--json"]).json();
    assert_eq!(told["files"][0]["entries"], 3, "{told}");
    let serials: Vec<String> = (0..3).map(|n| serial_at(&desk, first + n)).collect();
    // What is said once is said of joints of which something is entered, and no other.
    assert_eq!(looked_at(&desk, "method = visual_tube"), serials[..1]);
    assert_eq!(looked_at(&desk, "covers = pin_cracks"), serials[1..2]);
    let kinds = desk.run(&["entries", "--csv"]).ok();
    assert!(kinds.lines().rev().take(3).any(|l| l.contains("note")), "a remark is a note: {kinds}");
}

/// A sheet as it was issued when methods stood in it: readings are taken, methods are not.
#[test]
fn a_sheet_issued_with_its_methods_loads() {
    let desk = Desk::demo_copy();
    let before = answers(&desk);
    let head = "Serial,key,now,last,Wall [in],last,Box OD [in],open before,Tube found,Pin found,\
                Box found,Class,Paint,Remark,Methods\n";
    let methods = "visual tube; od gauge; ultrasonic wall; visual connection; dimensional 1";
    let sheet = |wall: &str, found: &str| {
        let other = format!("K1-0402,A,premium,.30,,6.5,,,,,,,,,{methods}\n");
        let one = format!("K1-0401,A,premium,.30,{wall},6.5,,,{found},,,,,,{methods}\n");
        format!("Date:,2026-06-06\n\n{head}{one}{other}")
    };
    desk.write("untouched.csv", sheet("", ""));
    let told = desk.run(&["load", "untouched.csv", "--as", "inspection", "--json"]).json();
    assert_eq!(told["files"][0]["not_looked_at"], 2, "{told}");
    assert_eq!(answers(&desk), before);
    desk.write("filled.csv", sheet("0.301", ""));
    let text = desk.run(&["load", "filled.csv", "--as", "inspection"]).ok();
    assert!(text.contains("readings alone are taken"), "{text}");
    assert_eq!(looked_at(&desk, "covers = wall"), ["K1-0401"]);
    assert!(looked_at(&desk, "covers = visual").is_empty());
    // Whoever used them says so.
    desk.write("again.csv", sheet("0.300", ""));
    let methods = format!("methods={methods}");
    desk.run(&["load", "again.csv", "--as", "inspection", "--set", &methods, "--keep-conflicts"])
        .ok();
    assert_eq!(looked_at(&desk, "covers = visual"), ["K1-0401"]);
}

#[test]
fn an_inspection_of_nothing_is_refused() {
    let desk = Desk::demo_copy();
    let head = desk.run(&["entries", "--csv"]).ok();
    for words in [&[][..], &["wall="], &["class=premium"], &["remark=bent"], &["paint=white"]] {
        let mut all = vec!["enter", "inspection", "serial=K1-0431", "date=2026-06-06"];
        all.extend(words);
        let err = desk.run(&all).fails(2);
        assert!(err.contains("no reading, no finding and no method"), "{words:?}: {err}");
    }
    // Rows of a file the same: a class or "none found" without a word of how is asked for.
    desk.write("a.csv", "Serial,Date,Tube found,Class\nK1-0431,2026-06-06,none,\n");
    let err = desk.run(&["load", "a.csv", "--as", "inspection"]).fails(3);
    assert!(err.contains("no reading, no finding and no method"), "{err}");
    assert_eq!(desk.run(&["entries", "--csv"]).ok(), head);
    // A method alone is work that a person states.
    desk.run(&["enter", "inspection", "serial=K1-0431", "date=2026-06-06", "methods=visual tube"])
        .ok();
}

#[test]
fn the_prompt_takes_no_method_for_granted() {
    let desk = Desk::demo_copy();
    // date, inspector, firm, report, standard, instrument, methods; serial, methods of the joint.
    let typed = "2026-06-06\nM. Tarn\n\n\n\n\n\nK1-0431\n\n0.301\n".to_owned() + &"\n".repeat(17);
    let output = desk.command(&["enter", "inspection"]).write_stdin(typed).output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    assert_eq!(looked_at(&desk, "covers = wall"), ["K1-0431"]);
    assert!(
        looked_at(&desk, "covers = visual").is_empty()
            && looked_at(&desk, "covers = pin").is_empty()
    );
}
