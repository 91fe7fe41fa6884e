//! Runs of WITSML documents (`bhaRun`), of 1.4.1.1 and of 2.x: each with the tubular that it names and
//! the logs of its hole, whatever the files are called.

use std::fmt::Write as _;

use super::cli::Desk;

const JOINTS: &str = "Serial,Component,New,OD [in],Wall [in],Weight [lb/ft],Grade,Length [m],Connection,TJ OD [in],TJ ID [in],Received\n\
A-1,drill pipe,yes,5,.362,19.50,G-105,9.5,NC50,6 5/8,3 1/4,2025-01-05\n\
A-2,drill pipe,yes,5,.362,19.50,G-105,9.6,NC50,6 5/8,3 1/4,2025-01-05\n";
const SURVEY: &str = "Well:,Larkfield 1H,\nDate:,2025-02-01,\nMD [m],Inc [deg],Azi [deg]\n0,0,0\n300,0,0\n600,10,45\n";

/// Components from the bit up: word, length in metres, outside and inside diameter in mm, serial.
const STRING: [(&str, f64, f64, f64, &str); 5] = [
    ("bit PDC fixed cutter", 0.3, 215.9, 50.0, ""),
    ("drill collar", 188.0, 165.1, 71.4, ""),
    ("drill pipe", 9.5, 127.0, 108.6, "A-1"),
    ("drill pipe", 9.6, 127.0, 108.6, "A-2"),
    ("heavy weight drill pipe", 376.0, 127.0, 76.2, ""),
];

#[derive(Clone, Copy, PartialEq)]
enum Version {
    Old,
    New,
}

/// Tags of 2.x begin with a capital.
fn tags(text: &str, version: Version) -> String {
    if version == Version::Old {
        return text.to_owned();
    }
    let (mut out, mut begins) = (String::new(), false);
    let mut before = ' ';
    for c in text.chars() {
        out.push(if begins && c != '/' { c.to_ascii_uppercase() } else { c });
        begins = c == '<' || begins && c == '/' && before == '<';
        before = c;
    }
    out
}

fn of_hole(well: &str, version: Version) -> String {
    match version {
        Version::Old => format!("<nameWell>{well}</nameWell><nameWellbore>{well}H</nameWellbore>"),
        Version::New => String::new(),
    }
}

/// In 2.x references stand behind the rest.
fn behind(well: &str, version: Version) -> String {
    match version {
        Version::Old => String::new(),
        Version::New => format!(
            "<Wellbore><eml:ContentType>obj_wellbore</eml:ContentType><eml:Title>{well}H</eml:Title></Wellbore>"
        ),
    }
}

fn named(name: &str, version: Version) -> String {
    match version {
        Version::Old => format!("<name>{name}</name>"),
        Version::New => format!("<eml:Citation><eml:Title>{name}</eml:Title></eml:Citation>"),
    }
}

fn tubular(well: &str, uid: &str, name: &str, version: Version) -> String {
    let mut parts = String::new();
    for (n, (word, length, od, id, serial)) in STRING.iter().enumerate() {
        let tag = if serial.is_empty() {
            String::new()
        } else {
            format!(
                "<nameTag><name>{serial}</name><numberingScheme>serial number</numberingScheme></nameTag>"
            )
        };
        let kind = if version == Version::Old { "typeTubularComp" } else { "typeTubularComponent" };
        write!(
            parts,
            "<tubularComponent><{kind}>{word}</{kind}><sequence>{}</sequence><id uom='mm'>{id}</id>\
             <od uom='mm'>{od}</od><len uom='m'>{length}</len><wtPerLen uom='kg/m'>100</wtPerLen>{tag}</tubularComponent>",
            n + 1
        )
        .unwrap();
    }
    let attribute =
        if version == Version::Old { format!("uid='{uid}'") } else { format!("uuid='{uid}'") };
    let name = named(name, version);
    format!(
        "<{0} {attribute}>{name}{1}{2}{3}</{0}>",
        if version == Version::Old { "tubular" } else { "Tubular" },
        of_hole(well, version),
        tags(&parts, version),
        behind(well, version)
    )
}

fn log(well: &str, version: Version) -> String {
    let rows = (0..361).map(|n| {
        let (h, m, s) = (6 + n / 360, n / 6 % 60, n % 6 * 10);
        let depth = 500.0 + f64::from(n) * 0.05;
        (format!("2025-03-04T{h:02}:{m:02}:{s:02}Z"), depth)
    });
    match version {
        Version::Old => {
            let data = rows.fold(String::new(), |mut all, (t, d)| {
                let _ = write!(all, "<data>{t},{d:.2},{d:.2},1</data>");
                all
            });
            format!(
                "<log>{}<name>t</name><indexType>date time</indexType><indexCurve>T</indexCurve><logData>\
                 <mnemonicList>T,DBTM,DMEA,RPMA</mnemonicList><unitList>,m,m,c/s</unitList>{data}</logData></log>",
                of_hole(well, version)
            )
        }
        Version::New => {
            let data: Vec<String> =
                rows.map(|(t, d)| format!("[[\"{t}\"],[{d:.2},{d:.2},1]]")).collect();
            let channel = |m: &str, u: &str| {
                format!("<Channel><Mnemonic>{m}</Mnemonic><Uom>{u}</Uom></Channel>")
            };
            format!(
                "<Log xmlns:eml='urn:eml'><ChannelSet><Index><IndexType>date time</IndexType><Uom>s</Uom><Mnemonic>T</Mnemonic></Index>\
                 {}{}{}<Data><Data>[{}]</Data></Data></ChannelSet>{}</Log>",
                channel("DBTM", "m"),
                channel("DMEA", "m"),
                channel("RPMA", "c/s"),
                data.join(","),
                behind(well, version)
            )
        }
    }
}

/// A run of an hour that drilled 18 m at 60 rpm.
fn run(well: &str, uid: &str, more: &str, version: Version) -> String {
    let times = "<dTimStart>2025-03-04T05:00:00Z</dTimStart><dTimStop>2025-03-04T09:00:00Z</dTimStop>\
        <statusBha>final</statusBha><drillingParams><eTimOpBit uom='h'>1</eTimOpBit><mdHoleStart uom='m'>500</mdHoleStart>\
        <mdHoleStop uom='m'>518</mdHoleStop><wtMud uom='kg/m3'>1200</wtMud><cTimDrillRot uom='h'>1</cTimDrillRot>\
        <rpmAv uom='rpm'>60</rpmAv></drillingParams>";
    let times = tags(&format!("{times}{more}"), version);
    let reference = match version {
        Version::Old => format!("<tubular uidRef='{uid}'>String 7</tubular>"),
        Version::New => {
            format!("<Tubular><eml:Title>String 7</eml:Title><eml:Uuid>{uid}</eml:Uuid></Tubular>")
        }
    };
    let body = format!(
        "{}{}{times}{reference}{}",
        named("R1", version),
        of_hole(well, version),
        behind(well, version)
    );
    match version {
        Version::Old => format!("<bhaRun uid='r1'>{body}</bhaRun>"),
        Version::New => format!("<BhaRun xmlns:eml='urn:eml'>{body}</BhaRun>"),
    }
}

fn plural(name: &str, text: &str, version: Version) -> String {
    match version {
        Version::Old => format!("<{name}>{text}</{name}>"),
        Version::New => text.replacen("<Tubular ", "<Tubular xmlns:eml='urn:eml' ", 1),
    }
}

const WELL: &str = "Larkfield 1";

fn desk(version: Version, with_log: bool) -> Desk {
    let desk = Desk::with_book();
    desk.write("joints.csv", JOINTS);
    desk.write("survey.csv", SURVEY);
    desk.run(&["load", "joints.csv", "survey.csv"]).ok();
    std::fs::create_dir_all(desk.path("in/objects")).unwrap();
    // The run names neither file, and theirs say nothing.
    desk.write("in/a.xml", plural("bhaRuns", &run(WELL, "t-7", "", version), version));
    let string = tubular(WELL, "t-7", "String 7", version);
    desk.write("in/objects/1.xml", plural("tubulars", &string, version));
    if with_log {
        desk.write("in/objects/2.xml", plural("logs", &log(WELL, version), version));
    }
    desk
}

fn turns(desk: &Desk) -> String {
    desk.shown("serial = \"A-1\"", "revolutions").join("")
}

#[test]
fn a_run_comes_in_with_the_string_that_it_names_and_the_log_of_its_hole() {
    for version in [Version::Old, Version::New] {
        let folder = desk(version, true);
        let out = folder.run(&["load", "in"]).ok();
        assert_eq!(out.matches("read with the run that names it").count(), 2, "{out}");
        assert_eq!(turns(&folder), "A-1 3600");
        assert_eq!(
            folder.joints("any run (name = \"R1\" and mud_weight = 1200 kg/m3)").yes,
            ["A-1", "A-2"]
        );
        let again = folder.run(&["load", "in"]).ok();
        assert!(again.contains("taken in before"), "{again}");
        let files = desk(version, true);
        files.run(&["load", "in/objects/2.xml", "in/objects/1.xml", "in/a.xml"]).ok();
        assert_eq!(turns(&files), "A-1 3600");
    }
}

#[test]
fn where_no_log_is_the_hours_of_the_run_count() {
    for version in [Version::Old, Version::New] {
        let desk = desk(version, false);
        desk.run(&["load", "in"]).ok();
        assert_eq!(turns(&desk), "A-1 3600");
    }
    // Turns while reaming are stated by nobody: the rest is a lower bound.
    let desk = desk(Version::Old, false);
    let reamed = run(WELL, "t-7", "", Version::Old)
        .replace("<rpmAv", "<cTimReam uom='h'>2.5</cTimReam><rpmAv");
    desk.write("in/a.xml", reamed);
    let out = desk.run(&["load", "in"]).ok();
    assert!(out.contains("it reamed for 2.50 h"), "{out}");
    assert_eq!(turns(&desk), "A-1 ≥ 3600");
}

#[test]
fn a_string_that_no_file_holds_is_asked_for() {
    let desk = desk(Version::Old, true);
    let err = desk.run(&["load", "in/a.xml"]).fails(3);
    for words in ["run 'R1' has the string 'String 7' (t-7)", "pipelore load in/a.xml TUBULAR.xml"]
    {
        assert!(err.contains(words), "{words}: {err}");
    }
    // One of another hole is none, whatever it is called.
    let other = tubular("Larkfield 2", "t-7", "String 7", Version::Old);
    desk.write("in/objects/1.xml", plural("tubulars", &other, Version::Old));
    let err = desk.run(&["load", "in"]).fails(3);
    assert!(err.contains("is of another hole, 'Larkfield 2H'"), "{err}");
    // One of the name without the identifier is taken, and said.
    let other = tubular(WELL, "t-8", "String 7", Version::Old);
    desk.write("in/objects/1.xml", plural("tubulars", &other, Version::Old));
    let out = desk.run(&["load", "in", "--dry-run"]).ok();
    assert!(out.contains("is found by its name"), "{out}");
    // Of a document with several the one that is named.
    let both = other.replace("String 7", "String 8").replace("127", "139.7")
        + &tubular(WELL, "t-7", "String 7", Version::Old);
    desk.write("in/objects/1.xml", plural("tubulars", &both, Version::Old));
    desk.run(&["load", "in"]).ok();
    assert_eq!(turns(&desk), "A-1 3600");
}

#[test]
fn a_plan_is_no_run() {
    let desk = desk(Version::New, true);
    let plan = run(WELL, "t-7", "", Version::New).replace("final", "plan");
    desk.write("in/a.xml", plan);
    let err = desk.run(&["load", "in"]).fails(3);
    assert!(err.contains("run 'R1' is a plan"), "{err}");
}

#[test]
fn two_strings_of_one_name_are_asked_about() {
    let desk = desk(Version::Old, true);
    for (file, uid) in [("1", "t-8"), ("3", "t-9")] {
        let string = tubular(WELL, uid, "String 7", Version::Old);
        desk.write(&format!("in/objects/{file}.xml"), plural("tubulars", &string, Version::Old));
    }
    let err = desk.run(&["load", "in"]).fails(3);
    assert!(err.contains("may be one in"), "{err}");
    desk.write("answers.toml", "['3.xml']\nleave = true\n");
    desk.run(&["load", "in", "--answers", "answers.toml"]).ok();
    assert_eq!(turns(&desk), "A-1 3600");
}

#[test]
fn a_run_that_no_log_of_its_hole_covers_counts_by_its_hours() {
    let desk = desk(Version::Old, true);
    let later = run(WELL, "t-7", "", Version::Old)
        .replace(">R1<", ">R2<")
        .replace("2025-03-04", "2025-03-14");
    let both = run(WELL, "t-7", "", Version::Old) + &later;
    desk.write("in/a.xml", plural("bhaRuns", &both, Version::Old));
    desk.run(&["load", "in"]).ok();
    // An hour at 60 turns a minute by the log, another by the hours.
    assert_eq!(turns(&desk), "A-1 7200");
    assert_eq!(desk.joints("any run (name = \"R2\" and grade = summary)").yes, ["A-1", "A-2"]);
}

/// A report of a day: two activities, hours of the whole.
fn report(version: Version) -> String {
    let old = run(WELL, "t-7", "", version);
    let at = |text: &str| tags(text, version);
    let day = |hours: &str| format!("2025-03-04T{hours}:00:00Z");
    let activity = |from: &str, to: &str| {
        let (from, to) = (day(from), day(to));
        at(&format!("<activity><dTimStart>{from}</dTimStart><dTimEnd>{to}</dTimEnd></activity>"))
    };
    let (from, to) = (day("05"), day("09"));
    let times = at(&format!("<dTimStart>{from}</dTimStart><dTimStop>{to}</dTimStop>"));
    let hours = at("<cTimDrillRot uom='h'>1</cTimDrillRot>");
    assert!(old.contains(&times) && old.contains(&hours), "{old}");
    let told = format!(
        "{}{}{}",
        at("<eTimDrillRot uom='h'>1</eTimDrillRot>"),
        activity("07", "09"),
        activity("05", "07")
    );
    old.replace(&times, &told)
        .replace(&hours, "")
        .replace("bhaRun", "opsReport")
        .replace("BhaRun", "OpsReport")
}

#[test]
fn a_report_of_operations_gives_the_hours_where_no_log_is() {
    for version in [Version::Old, Version::New] {
        let desk = desk(version, false);
        desk.write("in/a.xml", plural("opsReports", &report(version), version));
        let plan = desk.run(&["load", "in", "--plan"]).ok();
        assert!(plan.contains("a report of WITSML (opsReport)"), "{plan}");
        let out = desk.run(&["load", "in"]).ok();
        assert!(out.contains("its hours are those of the report"), "{out}");
        assert_eq!(turns(&desk), "A-1 3600");
        assert_eq!(desk.joints("any run (grade = summary)").yes, ["A-1", "A-2"]);
    }
    // A log of its hole and time tells more.
    let with_log = desk(Version::Old, true);
    with_log.write("in/a.xml", plural("opsReports", &report(Version::Old), Version::Old));
    with_log.run(&["load", "in"]).ok();
    assert_eq!(with_log.joints("any run (grade = logged)").yes, ["A-1", "A-2"]);
    // Without a speed nobody knows the turns; of two strings nobody knows whose the hours are.
    let desk = desk(Version::Old, false);
    let text = report(Version::Old).replace("<rpmAv uom='rpm'>60</rpmAv>", "");
    desk.write("in/a.xml", text);
    let err = desk.run(&["load", "in"]).fails(3);
    assert!(err.contains("does not state rotary_speed"), "{err}");
    let other = "<drillingParams><tubular uidRef='t-9'>String 9</tubular>";
    desk.write("in/a.xml", report(Version::Old).replacen("<drillingParams>", other, 1));
    let err = desk.run(&["load", "in"]).fails(3);
    assert!(err.contains("and no file that is given holds it"), "{err}");
}
