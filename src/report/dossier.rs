//! Everything that the book says of a joint, or of a whole string, as one document that can be
//! printed and checked: identity, verdict, life, charts, evidence with digests, entries with hashes,
//! the head and how to verify it, cautions and sources.

use std::collections::{BTreeMap, BTreeSet};

use crate::condition::DEFERENCE;
use crate::model::{Body, Vocabulary};
use crate::projection::joint::Ask;
use crate::projection::rows::{JointRow, SurveyRow};
use crate::store::Book;
use crate::units::Measure as M;

use super::chart::Chart;
use super::life::{Life, Reader, Seen};
use super::trace::{self, describe};
use super::{
    Block, Cell, Column, Fact, Present, Report, ReportError, Table, assess, failure, graphs,
    instant, kin, method,
};

/// Sisters shown in a dossier.
const SISTERS: usize = 12;

/// The dossier of one joint.
pub fn of_joint(book: &mut Book, joint: i64, present: &Present) -> Result<Report, ReportError> {
    let called = trace::failed_rules(book, joint, present)?;
    let reader = Reader::in_units(book, present.units);
    let life = reader.life(joint)?;
    let offset = present.offset_minutes;
    let mut report = Report::new("dossier");
    report.push(Block::Heading("Identity".to_owned()));
    report.push(identity(&life, offset));
    report.push(trace::today(&life, offset));
    verdict(&reader, &life, present, &mut report)?;
    for block in failure::blocks(&reader, &life, called.as_deref(), offset)? {
        report.push(block);
    }
    used(&life, present, &mut report);
    measured(&reader, &life, present, &mut report)?;
    report.push(Block::Heading("Sisters".to_owned()));
    let asked = kin::Options { limit: SISTERS, now: present.now, offset_minutes: offset };
    for block in kin::blocks(&reader, &life, &asked)? {
        report.push(block);
    }
    report.push(Block::Heading("Life".to_owned()));
    report.push(Block::Table(trace::timeline(&reader, &life, &[], offset)?));
    for note in trace::notes(&reader, &life)? {
        report.push(Block::Note(note));
    }
    let mut entries = BTreeMap::new();
    rests_on(&reader, &life, &mut entries)?;
    proof(&reader, &entries, offset, &mut report)?;
    closing(book, &mut report)?;
    Ok(report)
}

/// The dossier of a string: an index, each joint, and one list of evidence for all.
pub fn of_string(book: &mut Book, string: &str, present: &Present) -> Result<Report, ReportError> {
    let rows: Vec<JointRow> =
        book.rows("WHERE string = ?1 COLLATE NOCASE ORDER BY serial, joint", &[&string])?;
    if rows.is_empty() {
        return Err(ReportError::Words(format!("no joint of the book stands in string {string}")));
    }
    let reader = Reader::in_units(book, present.units);
    let offset = present.offset_minutes;
    let mut report = Report::new("dossier");
    report.push(Block::Heading("Index".to_owned()));
    report.push(Block::Table(index(&rows, offset)));
    let mut entries = BTreeMap::new();
    for row in &rows {
        let life = reader.life(row.joint)?;
        let title = format!("Joint {}, {}", row.serial, describe(row, present.units));
        report.push(Block::Heading(title));
        report.push(identity(&life, offset));
        report.push(trace::today(&life, offset));
        for mut chart in [
            graphs::damage(&life, present.units),
            graphs::turns(&row.histogram, present.units),
            graphs::wall(&life, None, present.units),
            graphs::diameters(&life, None, present.units),
        ] {
            chart.small = true;
            push(chart, &mut report);
        }
        report.push(Block::Table(trace::timeline(&reader, &life, &[], offset)?));
        for note in trace::notes(&reader, &life)? {
            report.push(Block::Note(note));
        }
        rests_on(&reader, &life, &mut entries)?;
    }
    proof(&reader, &entries, offset, &mut report)?;
    closing(book, &mut report)?;
    Ok(report)
}

fn push(chart: Chart, report: &mut Report) {
    if !chart.is_empty() {
        report.push(Block::Chart(chart));
    }
}

fn index(rows: &[JointRow], offset: i32) -> Table {
    let row = |r: &JointRow| {
        let class = r.class.map(|c| c.word().replace('_', " "));
        vec![
            Cell::Text(r.serial.clone()),
            Cell::text(class.as_deref()),
            Cell::number(r.wall),
            Cell::bound(r.hours_lo, r.hours_hi),
            Cell::bound(r.damage_lo, r.damage_hi),
            r.inspected.map_or(Cell::Missing, |at| instant(at, offset)),
            Cell::Number(r.open_findings),
            Cell::Text(r.status.word().replace('_', " ")),
            Cell::text(r.location.as_deref()),
            Cell::text(r.out_reason.as_deref()),
        ]
    };
    Table {
        name: "index",
        columns: vec![
            Column::plain("serial", "serial"),
            Column::plain("class", "class"),
            Column::of("wall", "wall left", M::Ratio),
            Column::of("hours", "rotating hours", M::Hours),
            Column::of("damage", "damage", M::Damage),
            Column::plain("inspected", "inspected"),
            Column::plain("open_findings", "open findings").dispensable(1),
            Column::plain("status", "status"),
            Column::plain("location", "where"),
            Column::plain("out", "out of service").dispensable(1),
        ],
        rows: rows.iter().map(row).collect(),
        empty: String::new(),
        below: None,
    }
}

/// What the certificate says.
fn identity(life: &Life, offset: i32) -> Block {
    let r = &life.row;
    let text = |t: &Option<String>| Cell::text(t.as_deref());
    let mut facts = vec![
        Fact::plain("serial", "serial", Cell::Text(r.serial.clone())),
        Fact::plain("component", "component", Cell::Text(r.component.word().replace('_', " "))),
        Fact::of("od", "outside diameter", Cell::number(r.od), M::Diameter),
        Fact::of("wall_nominal", "nominal wall", Cell::number(r.wall_nominal), M::Wall),
        Fact::of("weight", "weight", Cell::number(r.weight), M::LinearMass),
        Fact::plain("grade", "grade", text(&r.grade)),
        Fact::of("length", "length today", Cell::number(r.length), M::JointLength),
        Fact::plain("connection", "connection", text(&r.connection)),
        Fact::of("tj_od", "tool joint OD, nominal", Cell::number(r.tj_od_nominal), M::Diameter),
        Fact::of("tj_id", "tool joint ID, nominal", Cell::number(r.tj_id_nominal), M::Diameter),
        Fact::plain("heat_of_tube", "heat of the tube", text(&r.heat)),
        Fact::plain("pin_heat", "heat of the pin", text(&r.pin_heat)),
        Fact::plain("box_heat", "heat of the box", text(&r.box_heat)),
        Fact::plain("weld_lot", "weld lot", text(&r.weld_lot)),
        Fact::plain("maker", "maker", text(&r.maker)),
        Fact::plain("mill_order", "mill order", text(&r.mill_order)),
        Fact::plain("certificate", "certificate", text(&r.certificate)),
        Fact::plain("made", "made", r.made.map_or(Cell::Missing, |at| instant(at, offset))),
        Fact::plain("entered", "entered the book", instant(r.entered, offset)),
        Fact::plain("owner", "owner", text(&r.owner)),
    ];
    facts.retain(|f| f.value != Cell::Missing);
    Block::Facts { name: "identity", facts }
}

/// The verdict of today and how the class came about.
fn verdict(
    reader: &Reader<'_>,
    life: &Life,
    present: &Present,
    report: &mut Report,
) -> Result<(), ReportError> {
    report.push(Block::Heading("Verdict and class history".to_owned()));
    let asked = reader.book.appraiser()?.appraise(life.row.joint, present.now, Ask::default())?;
    let Some(appraisal) = asked else {
        report.push(Block::Note("the entry that introduced this joint is struck out".to_owned()));
        return Ok(());
    };
    let name = |at: i64| reader.entry(at).map_or_else(|_| String::new(), |seen| seen.name());
    let show = assess::Show {
        units: present.units,
        offset_minutes: present.offset_minutes,
        entry: &name,
        history: true,
    };
    let told = assess::report(&appraisal, &life.row.serial, &show);
    for block in told.blocks.into_iter().filter(|b| !matches!(b, Block::Heading(_))) {
        report.push(block);
    }
    Ok(())
}

/// What its runs used up.
fn used(life: &Life, present: &Present, report: &mut Report) {
    report.push(Block::Heading("Use".to_owned()));
    push(graphs::damage(life, present.units), report);
    push(graphs::turns(&life.row.histogram, present.units), report);
    if let Some((run, r)) = graphs::worst_run(life) {
        push(graphs::along(run, Some((&life.row.serial, r.joint)), present.units), report);
    }
    if life.runs.is_empty() {
        report.push(Block::Text("this joint has no run in the book".to_owned()));
    } else {
        report.push(Block::Note(super::exposure::RANKING.to_owned()));
    }
}

/// What was measured on it, and how it was made up.
fn measured(
    reader: &Reader<'_>,
    life: &Life,
    present: &Present,
    report: &mut Report,
) -> Result<(), ReportError> {
    report.push(Block::Heading("Dimensions and make-up".to_owned()));
    let mut appraiser = reader.book.appraiser()?;
    let appraisal = appraiser.appraise(life.row.joint, present.now, Ask::default())?;
    let limits = appraiser.facts().limits_at(present.now);
    let judged = appraisal.as_ref().map(|a| (&a.subject, limits));
    push(graphs::wall(life, judged, present.units), report);
    push(graphs::diameters(life, judged, present.units), report);
    push(graphs::torque(life, present.units), report);
    report.push(Block::Note(format!(
        "limits as {} has them; where several hold for one class the one that bites first is drawn",
        limits.title()
    )));
    Ok(())
}

/// Entries that what is said of a joint rests on: those that name it, its runs, their surveys,
/// checks of the instruments and the equipment used.
fn rests_on(
    reader: &Reader<'_>,
    life: &Life,
    entries: &mut BTreeMap<i64, std::rc::Rc<Seen>>,
) -> Result<(), ReportError> {
    let mut take = |seen: std::rc::Rc<Seen>| {
        entries.insert(seen.position, seen);
    };
    for seen in &life.entries {
        take(std::rc::Rc::clone(seen));
    }
    let mut tags: BTreeSet<String> = BTreeSet::new();
    for (run, _) in &life.runs {
        take(reader.entry(run.row.run)?);
        if let Some(survey) = run.row.survey {
            take(reader.entry(survey)?);
        }
        let equipment = run.row.equipment.iter().flat_map(|e| e.split(", "));
        tags.extend(equipment.map(crate::model::fold));
    }
    tags.extend(
        life.makeups.iter().filter_map(|m| m.instrument.as_deref().map(crate::model::fold)),
    );
    tags.extend(
        life.inspections.iter().filter_map(|i| i.instrument.as_deref().map(crate::model::fold)),
    );
    for tag in tags {
        for fact in reader.book.rows::<crate::projection::rows::BookFactRow>(
            "WHERE topic IN ('check', 'instrument') AND subject = ?1",
            &[&tag],
        )? {
            take(reader.entry(fact.entry)?);
        }
    }
    Ok(())
}

/// Evidence, entries, the head and how to check them.
fn proof(
    reader: &Reader<'_>,
    entries: &BTreeMap<i64, std::rc::Rc<Seen>>,
    offset: i32,
    report: &mut Report,
) -> Result<(), ReportError> {
    report.push(Block::Heading("Evidence".to_owned()));
    report.push(Block::Table(evidence(entries)));
    report.push(Block::Heading("Entries".to_owned()));
    report.push(Block::Table(list(entries, offset)));
    report.push(Block::Heading("Head of the book, and how to verify it".to_owned()));
    let length = reader.book.length()?;
    let mut facts = vec![Fact::plain(
        "site",
        "site",
        Cell::Text(reader.book.identity().chain.site.as_str().to_owned()),
    )];
    let head = reader.book.head()?;
    if let Some(head) = &head {
        facts.push(Fact::plain("head", "head", Cell::Text(head.entry.to_string())));
        facts.push(Fact::plain("hash", "its hash", Cell::Text(head.hash.to_string())));
    }
    facts.push(Fact::plain("entries", "entries in the book", Cell::Number(length)));
    report.push(Block::Facts { name: "head", facts });
    report.push(Block::Text(
        "Each entry's hash is the SHA-256 of its canonical bytes and of the hash before it in its \
         site's chain; an entry that was altered, left out or put in breaks every hash after it. The \
         command below reads the whole book, computes all hashes anew and says whether this head is \
         in it; with a folder of the files named above it compares their digests too."
            .to_owned(),
    ));
    let hash = head.map_or_else(|| "HASH".to_owned(), |h| h.hash.to_string());
    report.push(Block::Verbatim {
        name: "verify",
        lines: vec![
            format!("pipelore --book FILE verify --head {hash}"),
            "pipelore --book FILE verify --evidence FOLDER".to_owned(),
        ],
    });
    Ok(())
}

fn evidence(entries: &BTreeMap<i64, std::rc::Rc<Seen>>) -> Table {
    let mut files: BTreeMap<(String, String), (i64, String, BTreeSet<&str>)> = BTreeMap::new();
    let mut put = |file: &str, sha256: &str, seen: &Seen, what: &'static str| {
        let slot = files
            .entry((file.to_owned(), sha256.to_owned()))
            .or_insert_with(|| (0, seen.name(), BTreeSet::new()));
        slot.0 += 1;
        slot.2.insert(what);
    };
    for seen in entries.values() {
        if let Some(e) = &seen.entry.evidence {
            put(&e.file, &e.sha256, seen, seen.entry.body.kind());
        }
        if let Body::Run(run) = &seen.entry.body
            && let Some(log) = &run.log
        {
            put(&log.file, &log.sha256, seen, "operating log");
        }
    }
    let rows = files
        .into_iter()
        .map(|((file, sha256), (n, first, kinds))| {
            let kinds: Vec<String> = kinds.into_iter().map(|k| k.replace('_', " ")).collect();
            vec![
                Cell::Text(file),
                Cell::Text(kinds.join(", ")),
                Cell::Number(n),
                Cell::Text(first),
                Cell::Text(sha256),
            ]
        })
        .collect();
    Table {
        name: "evidence",
        columns: vec![
            Column::plain("file", "file"),
            Column::plain("kinds", "what it holds"),
            Column::plain("entries", "entries here"),
            Column::plain("first", "first entry"),
            Column::plain("sha256", "SHA-256 of the file"),
        ],
        rows,
        empty: "no file: everything was entered by hand".to_owned(),
        below: None,
    }
}

fn list(entries: &BTreeMap<i64, std::rc::Rc<Seen>>, offset: i32) -> Table {
    let rows = entries
        .values()
        .map(|seen| {
            let e = &seen.entry;
            let recorded = instant(e.recorded.at.0, offset);
            vec![
                Cell::Text(seen.name()),
                Cell::Text(e.body.kind().replace('_', " ")),
                Cell::Text(e.effective.to_string()),
                recorded,
                Cell::Text(e.author.clone()),
                Cell::text(e.evidence.as_ref().and_then(|e| e.place.as_deref())),
                Cell::Text(seen.hash.to_string()),
                if seen.struck.is_some() { Cell::Truth(true) } else { Cell::Missing },
            ]
        })
        .collect();
    Table {
        name: "entries",
        columns: vec![
            Column::plain("entry", "entry"),
            Column::plain("kind", "kind"),
            Column::plain("effective", "happened"),
            Column::plain("recorded", "recorded"),
            Column::plain("author", "by"),
            Column::plain("place", "place in the file").dispensable(1),
            Column::plain("hash", "hash"),
            Column::plain("struck", "struck").dispensable(2),
        ],
        rows,
        empty: String::new(),
        below: Some(6),
    }
}

/// Methods in force, cautions, and what comes first.
fn closing(book: &Book, report: &mut Report) -> Result<(), ReportError> {
    report.push(Block::Heading("Methods and cautions".to_owned()));
    let method = method::in_force(book)?;
    let wells = book.rows::<SurveyRow>("", &[])?.len();
    report.push(Block::Facts {
        name: "methods",
        facts: vec![
            Fact::plain("fatigue", "fatigue method", Cell::Text(method.name.clone())),
            Fact::plain(
                "limits",
                "limits of class",
                Cell::Text("as each verdict names them".to_owned()),
            ),
            Fact::plain(
                "surveys",
                "surveys in the book",
                Cell::Number(i64::try_from(wells).unwrap_or(0)),
            ),
        ],
    });
    report.push(Block::Caution(super::exposure::RANKING.to_owned()));
    report.push(Block::Caution(
        "a joint that failed, its sisters and its fragments are to be kept dry, marked and untouched \
         until a qualified investigator has seen them; pipe that may be cracked is not to be run, \
         lifted over people or put under pressure to find out"
            .to_owned(),
    ));
    report.push(Block::Caution(DEFERENCE.to_owned()));
    Ok(())
}
