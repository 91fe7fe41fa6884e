//! Everything that the book says of a joint, or of a whole string, as one document that can be
//! printed and checked: identity, verdict, life, charts, evidence with digests, entries with hashes,
//! the head and how to verify it, cautions and sources.

use std::collections::{BTreeMap, BTreeSet};

use crate::condition::{DEFERENCE, Standards};
use crate::model::{Body, Clock, EntryId, Vocabulary};
use crate::projection::joint::Appraisal;
use crate::projection::kinds::Topic;
use crate::schema::{BookFactRow, JointRow, Rows, SurveyRow, Totals};
use crate::store::Book;

use super::chart::Chart;
use super::fitness::{self, Told};
use super::life::{Life, Reader, Seen};
use super::lookup::in_string;
use super::trace::{self, describe};
use super::{
    Block, Cell, Column, Fact, Present, Report, ReportError, Table, assess, due, failure, graphs,
    instant, kin, method, range, torque,
};

/// Sisters shown in a dossier.
const SISTERS: usize = 12;

/// The dossier of one joint.
pub fn of_joint(book: &mut Book, joint: i64, present: &Present) -> Result<Report, ReportError> {
    let called = trace::failed_rules(book, joint, present)?;
    let standing = due::standing(book, joint, present)?;
    let reader = Reader::in_units(book, present.units);
    let life = reader.life(joint)?;
    let clock = present.clock;
    let mut report = Report::new("dossier");
    report.push(Block::Heading("Identity".to_owned()));
    report.push(identity(&life, clock));
    report.push(trace::today(&life, clock));
    verdict(&reader, &life, standing.as_ref(), present, &mut report);
    for block in failure::blocks(&reader, &life, called.as_deref(), clock)? {
        report.push(block);
    }
    used(&reader, &life, present, &mut report)?;
    measured(&reader, &life, standing.as_ref(), present, &mut report)?;
    report.push(Block::Heading("Sisters".to_owned()));
    let asked = kin::Options { limit: SISTERS, now: present.now, clock };
    for block in kin::blocks(&reader, &life, &asked)? {
        report.push(block);
    }
    report.push(Block::Heading("Life".to_owned()));
    report.push(Block::Table(trace::timeline(&reader, &life, &[], clock)?));
    for note in trace::notes(&reader, &life)? {
        report.push(Block::Note(note));
    }
    let mut entries = BTreeMap::new();
    rests_on(&reader, &life, &mut entries)?;
    proof(&reader, &entries, clock, &mut report)?;
    closing(book, &mut report)?;
    Ok(report)
}

/// The dossier of a string: an index, each joint, and one list of evidence for all.
pub fn of_string(book: &mut Book, string: &str, present: &Present) -> Result<Report, ReportError> {
    let rows: Vec<JointRow> = in_string(book, string)?;
    if rows.is_empty() {
        return Err(ReportError::Words(format!("no joint of the book stands in string {string}")));
    }
    let joints: Vec<i64> = rows.iter().map(|r| r.joint).collect();
    let told = fitness::standing(book, &joints, present)?;
    let reader = Reader::in_units(book, present.units);
    let clock = present.clock;
    let mut report = Report::new("dossier");
    report.push(Block::Heading("Index".to_owned()));
    report.push(Block::Table(index(&rows, &told, present)));
    report.push(fitness::caution());
    let mut entries = BTreeMap::new();
    for row in &rows {
        let life = reader.life(row.joint)?;
        let title = format!("Joint {}, {}", row.serial, describe(row, present.units));
        report.push(Block::Heading(title));
        report.push(identity(&life, clock));
        report.push(trace::today(&life, clock));
        for mut chart in [
            graphs::damage(&life, present.units, present.clock),
            graphs::turns(&row.totals.histogram, present.units),
            graphs::wall(&life, None, present.units, present.clock),
            graphs::diameters(&life, None, present.units, present.clock),
        ] {
            chart.small = true;
            push(chart, &mut report);
        }
        report.push(Block::Table(trace::timeline(&reader, &life, &[], clock)?));
        for note in trace::notes(&reader, &life)? {
            report.push(Block::Note(note));
        }
        rests_on(&reader, &life, &mut entries)?;
    }
    proof(&reader, &entries, clock, &mut report)?;
    closing(book, &mut report)?;
    Ok(report)
}

fn push(chart: Chart, report: &mut Report) {
    if !chart.is_empty() {
        report.push(Block::Chart(chart));
    }
}

fn index(rows: &[JointRow], told: &[(Appraisal, Told)], present: &Present) -> Table {
    let [searched, not_judged] = fitness::last_columns();
    let row = |r: &JointRow| {
        let told = told.iter().find(|(a, _)| a.position == r.joint);
        let missing = || std::array::from_fn(|_| Cell::Missing);
        let row_of = |(_, t): &(Appraisal, Told)| fitness::row_of(t, present.units);
        let [fit, because, searches, not_judged] = told.map_or_else(missing, row_of);
        let class = r.class.map(|c| c.word().replace('_', " "));
        vec![
            Cell::Text(r.serial.clone()),
            fit,
            Cell::text(class.as_deref()),
            Cell::number(r.wall),
            Cell::from(r.totals.hours),
            Cell::from(r.totals.damage),
            r.inspected.map_or(Cell::Missing, |at| instant(at, present.clock)),
            Cell::Number(r.open_findings),
            Cell::word(r.status),
            Cell::text(r.location.as_deref()),
            Cell::text(r.out_reason.as_deref()),
            because,
            searches,
            not_judged,
        ]
    };
    Table {
        name: "index",
        columns: vec![
            Column::field(JointRow::serial()),
            Column::plain("fit", "fit to run"),
            Column::field(JointRow::class()),
            Column::field(JointRow::wall()),
            Column::field(Totals::hours()),
            Column::field(Totals::damage()),
            Column::field(JointRow::inspected()),
            Column::field(JointRow::open_findings()).dispensable(1),
            Column::field(JointRow::status()),
            Column::field(JointRow::location()),
            Column::field(JointRow::out()).dispensable(1),
            Column::field(JointRow::unfit_because()).titled("because"),
            searched,
            not_judged,
        ],
        rows: rows.iter().map(row).collect(),
        empty: String::new(),
        below: Some(12),
    }
}

/// What the certificate says.
fn identity(life: &Life, clock: Clock) -> Block {
    let r = &life.row;
    let day = |at: Option<i64>| at.map_or(Cell::Missing, |at| instant(at, clock));
    let mut facts = vec![
        Fact::field(JointRow::serial(), &r.serial),
        Fact::field(JointRow::component(), &r.component.word().replace('_', " ")),
        Fact::field(JointRow::od(), r.od),
        Fact::field(JointRow::nominal_wall(), r.nominal_wall).named("wall_nominal"),
        Fact::field(JointRow::weight(), r.weight),
        Fact::field(JointRow::grade(), &r.grade),
        Fact::field(JointRow::length(), r.length).labelled("length today"),
        Fact::field(JointRow::connection(), &r.connection),
        Fact::field(JointRow::tool_joint_od(), r.tool_joint_od).named("tj_od"),
        Fact::field(JointRow::tool_joint_id(), r.tool_joint_id).named("tj_id"),
        Fact::field(JointRow::heat(), &r.heat).named("heat_of_tube").labelled("heat of the tube"),
        Fact::field(JointRow::pin_heat(), &r.pin_heat),
        Fact::field(JointRow::box_heat(), &r.box_heat),
        Fact::field(JointRow::weld_lot(), &r.weld_lot),
        Fact::field(JointRow::maker(), &r.maker),
        Fact::field(JointRow::mill_order(), &r.mill_order),
        Fact::field(JointRow::certificate(), &r.certificate),
        Fact::field(JointRow::made(), day(r.made)),
        Fact::field(JointRow::entered(), day(Some(r.entered))),
        Fact::field(JointRow::owner(), &r.owner),
    ];
    facts.retain(|f| f.value != Cell::Missing);
    Block::Facts { name: "identity", facts }
}

/// The verdict of today and how the class came about.
fn verdict(
    reader: &Reader<'_>,
    life: &Life,
    standing: Option<&(Appraisal, Told)>,
    present: &Present,
    report: &mut Report,
) {
    report.push(Block::Heading("Verdict and class history".to_owned()));
    let Some((appraisal, told)) = standing else {
        report.push(Block::Note("the entry that introduced this joint is struck out".to_owned()));
        return;
    };
    let name = |at: i64| reader.entry(at).map_or_else(|_| String::new(), |seen| seen.name());
    let show =
        assess::Show { units: present.units, clock: present.clock, entry: &name, history: true };
    let shown = assess::report(appraisal, told, &life.row.serial, &show);
    for block in shown.blocks.into_iter().filter(|b| !matches!(b, Block::Heading(_))) {
        report.push(block);
    }
}

/// What its runs used up.
fn used(
    reader: &Reader<'_>,
    life: &Life,
    present: &Present,
    report: &mut Report,
) -> Result<(), ReportError> {
    report.push(Block::Heading("Use".to_owned()));
    push(graphs::damage(life, present.units, present.clock), report);
    push(graphs::turns(&life.row.totals.histogram, present.units), report);
    if let Some((run, r)) = graphs::worst_run(life) {
        push(graphs::along(run, Some((&life.row.serial, r.joint)), present.units), report);
    }
    if life.runs.is_empty() {
        report.push(Block::Text("this joint has no run in the book".to_owned()));
    } else {
        let twisted = torque::of_joint(reader.book, life.runs.iter().map(|(_, r)| r))?;
        report.push(super::exposure::life(&life.row, &twisted));
        let lives = range::of_lives(reader.book, &[life.row.joint])?;
        report.blocks.extend(lives.get(&life.row.joint).into_iter().flat_map(range::of_life));
        report.push(Block::Note(torque::SAID.to_owned()));
        report.push(Block::Note(super::exposure::RANKING.to_owned()));
    }
    Ok(())
}

/// What was measured on it, and how it was made up.
fn measured(
    reader: &Reader<'_>,
    life: &Life,
    standing: Option<&(Appraisal, Told)>,
    present: &Present,
    report: &mut Report,
) -> Result<(), ReportError> {
    report.push(Block::Heading("Dimensions and make-up".to_owned()));
    let standards: &Standards = reader.adoptions()?.standards_at(present.now);
    let judged = standing.map(|(a, _)| (&a.subject, standards));
    push(graphs::wall(life, judged, present.units, present.clock), report);
    push(graphs::diameters(life, judged, present.units, present.clock), report);
    push(graphs::torque(life, present.units, present.clock), report);
    report.push(Block::Note(format!(
        "limits as {} has them; where several hold for one class the one that bites first is drawn",
        standards.limits.title()
    )));
    Ok(())
}

/// Entries that what is said of a joint rests on, chain by chain: those that name it, its runs,
/// their surveys, checks of the instruments and the equipment used.
fn rests_on(
    reader: &Reader<'_>,
    life: &Life,
    entries: &mut BTreeMap<EntryId, std::rc::Rc<Seen>>,
) -> Result<(), ReportError> {
    let mut take = |seen: std::rc::Rc<Seen>| {
        entries.insert(seen.entry.id.clone(), seen);
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
    tags.extend(life.makeups.iter().filter_map(|m| m.gauge.as_deref().map(crate::model::fold)));
    tags.extend(life.inspections.iter().filter_map(|i| i.gauge.as_deref().map(crate::model::fold)));
    for tag in tags {
        let noted = Rows::of(BookFactRow::subject(), tag.as_str());
        let noted =
            noted.one_of(BookFactRow::topic(), [Topic::Check.word(), Topic::Instrument.word()]);
        for fact in reader.book.rows(&noted)? {
            take(reader.entry(fact.entry)?);
        }
    }
    Ok(())
}

/// Evidence, entries, the head and how to check them.
fn proof(
    reader: &Reader<'_>,
    entries: &BTreeMap<EntryId, std::rc::Rc<Seen>>,
    clock: Clock,
    report: &mut Report,
) -> Result<(), ReportError> {
    report.push(Block::Heading("Evidence".to_owned()));
    report.push(Block::Table(evidence(entries)));
    report.push(Block::Heading("Entries".to_owned()));
    report.push(Block::Table(list(entries, clock)));
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

fn evidence(entries: &BTreeMap<EntryId, std::rc::Rc<Seen>>) -> Table {
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
            put(&e.file, &e.sha256, seen, seen.entry.body.kind().word());
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

fn list(entries: &BTreeMap<EntryId, std::rc::Rc<Seen>>, clock: Clock) -> Table {
    let rows = entries
        .values()
        .map(|seen| {
            let e = &seen.entry;
            let recorded = instant(e.recorded.at.0, clock);
            vec![
                Cell::Text(seen.name()),
                Cell::Text(e.body.kind().word().replace('_', " ")),
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
    let wells = book.rows(&Rows::<SurveyRow>::all())?.len();
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
