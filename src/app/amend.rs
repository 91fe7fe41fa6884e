//! Fields of entries corrected, and what that does.

use super::error::words;
use super::strike::decision_on;
use super::words::{Fields, JOINT, names, refuse};
use super::{Error, Session, amend_parts};
use crate::intake::{Corrected, Kind, Options, corrected};
use crate::model::{AmendBody, Body, Draft, Entry, EntryId, EntryKind, FieldChange};
use crate::projection::amend::{EFFECTIVE, fields, is_amendable, with_changes};
use crate::report::{Block, Cell, Fact, Report, find_joint, trace};
use crate::schema::JointRow;
use crate::store::AppendOptions;

/// Names of the entry that is meant.
const ENTRY: &[&str] = &["entry", "entries", "of"];
/// Names of the decision on another site's entry.
const DECISION: &[&str] = &["decision", "decided"];
/// Names of the reason.
const REASON: &[&str] = &["reason", "why", "because"];

impl Session {
    /// Amends fields of entries: each counts from now on as if it had been written so, and what
    /// rests on it stays.
    pub(crate) fn amend(&mut self, given: Fields, dry_run: bool) -> Result<Report, Error> {
        let (mut entries, mut reason, mut to_correct) = (Vec::new(), None, Vec::new());
        let mut decision = None;
        for field in given {
            let is = |any| names(std::slice::from_ref(&field), any);
            if is(ENTRY) {
                entries.extend(self.entries_meant(&field.1)?);
            } else if is(REASON) {
                reason = Some(field.1).filter(|r| !r.is_empty());
            } else if is(DECISION) {
                decision = Some(field.1);
            } else if is(JOINT) && entries.is_empty() && to_correct.is_empty() {
                entries.extend(self.certificates(&field.1)?);
            } else {
                to_correct.push(field);
            }
        }
        if entries.is_empty() {
            return Err(Error::Words {
                what: "say which entry: entry=yard-12, or joint=SERIAL for its certificate"
                    .to_owned(),
                help: Some("`trace` and `entries` name the entry of each fact"),
            });
        }
        let Some(reason) = reason else {
            return Err(words("an amendment needs its reason: reason='…'"));
        };
        if to_correct.is_empty() {
            return Err(words(
                "say what it should have said, as FIELD=VALUE; FIELD= for not known",
            ));
        }
        let effective = self.caller.present();
        let mut drafts = Vec::new();
        for id in &entries {
            let own = &self.book.identity().chain.site;
            let decision = decision_on(id, own, decision.as_deref())?;
            let body = AmendBody { decision, ..self.amendment(id, &to_correct, &reason)? };
            drafts.push(Draft { effective, evidence: None, body: Body::Amend(body) });
        }
        self.write_amendments(&drafts, dry_run)
    }

    fn write_amendments(&mut self, drafts: &[Draft], dry_run: bool) -> Result<Report, Error> {
        let stamp = self.caller.stamp();
        let mut facts = Vec::new();
        for draft in drafts {
            let Body::Amend(b) = &draft.body else { continue };
            let label = if dry_run { "would amend" } else { "amended" };
            let said = format!("{}: {}", b.entry, trace::changes(b));
            facts.push(Fact::plain("amended", label, Cell::Text(said)));
        }
        let mut report = Report::new("amend");
        let mut blocks = Vec::new();
        if dry_run {
            blocks = self.consequences(drafts, &stamp)?;
            facts.push(Fact::plain("dry_run", "dry run", Cell::Truth(true)));
        } else {
            let how = AppendOptions { keep_conflicts: true, dry_run: false };
            let done = self.book.append(drafts, &stamp, &how)?;
            let names: Vec<String> = done.entries.iter().map(ToString::to_string).collect();
            facts.push(Fact::plain("entries", "by", Cell::Text(names.join(", "))));
            facts.push(Fact::head(done.head.as_ref()));
        }
        report.push(Block::Facts { name: "amend", facts });
        report.blocks.append(&mut blocks);
        Ok(report)
    }

    /// Entries by their names, with commas between; an amendment stands for what it amends.
    fn entries_meant(&self, text: &str) -> Result<Vec<EntryId>, Error> {
        let mut out = Vec::new();
        for name in listed(text) {
            let id: EntryId = name.parse().map_err(words)?;
            let entry = self.book.entry(&id)?.raw.read().map_err(crate::store::StoreError::from)?;
            out.push(if let Body::Amend(b) = entry.body { b.entry } else { id });
        }
        Ok(out)
    }

    /// The entries that introduced joints.
    fn certificates(&self, text: &str) -> Result<Vec<EntryId>, Error> {
        let mut out = Vec::new();
        for serial in listed(text) {
            let joint = find_joint(&self.book, serial)?;
            let row: Option<JointRow> = self.book.row(joint)?;
            let row = row.ok_or_else(|| words(format!("no joint answers to {serial}")))?;
            out.push(row.introduced_by.parse().map_err(words)?);
        }
        Ok(out)
    }

    fn amendment(
        &self,
        id: &EntryId,
        given: &[(String, String)],
        reason: &str,
    ) -> Result<AmendBody, Error> {
        let position = self.book.entry(id)?.position;
        let now = self.book.counted(position)?;
        let kind = now.body.kind();
        let word = kind.word().replace('_', " ");
        let file = Kind::parse(kind.word()).ok().filter(|_| is_amendable(kind));
        let Some(file) = file else {
            return Err(Error::Words {
                what: format!("{id} is an entry of kind {word}, which is not amended"),
                help: Some("strike it, and write another: pipelore strike ENTRY --reason TEXT"),
            });
        };
        if let Some(row) = self.book.row::<crate::schema::StruckRow>(position)? {
            return Err(words(format!("{id} counts no more ({}): nothing to amend", row.why)));
        }
        let (parts, given) = amend_parts::taken(kind, given)?;
        of_the_tally(kind, id, &given)?;
        let options = Options { times: self.caller.times(), ..Options::default() };
        let read = if given.is_empty() {
            Vec::new()
        } else {
            corrected("command line", file, &given, &options)
                .map_err(|d| refuse("nothing was written", d))?
        };
        let said = fields(&now.body).map_err(words)?;
        let mut changes = self.parts_changed(&now, &parts)?;
        let mut next = now.clone();
        for field in read {
            let (entry, change) = change(&next, &field, id)?;
            if let Some(change) = change {
                let was = if change.field == EFFECTIVE {
                    serde_json::to_value(now.effective).ok()
                } else {
                    said.get(&change.field).cloned().filter(|v| !v.is_null())
                };
                changes.push(FieldChange { was, ..change });
            }
            next = entry;
        }
        if changes.is_empty() {
            return Err(words(format!("{id} says so already; nothing was written")));
        }
        self.serial_is_free(&now, &next)?;
        Ok(AmendBody { entry: id.clone(), changes, reason: reason.to_owned(), decision: None })
    }

    /// Refuses a serial under which another joint is known.
    fn serial_is_free(&self, now: &Entry, next: &Entry) -> Result<(), Error> {
        let (Body::Joint(a), Body::Joint(b)) = (&now.body, &next.body) else { return Ok(()) };
        if a.serial.key() == b.serial.key() {
            return Ok(());
        }
        let own = self.book.position_of(&now.id)?;
        let others = self.book.joints_by_serial(&b.serial.key())?;
        let Some(other) = others.into_iter().find(|joint| Some(*joint) != own) else {
            return Ok(());
        };
        let row: Option<JointRow> = self.book.row(other)?;
        let other = row.map_or_else(String::new, |r| format!("{}@{}", r.serial, r.introduced_by));
        Err(Error::Advice {
            what: format!("the book has a joint {} already: {other}", b.serial),
            help: vec![
                format!(
                    "if both are one joint: pipelore enter identity serial={}@{} same={other} \
                     reason='…'",
                    a.serial, now.id
                ),
                format!(
                    "if the mark on the steel was changed: pipelore enter identity \
                     serial={}@{} new_serial={} reason='…'",
                    a.serial, now.id, b.serial
                ),
            ],
        })
    }
}

/// Refuses to amend a row of a tally by itself: what stands above it moves with it.
fn of_the_tally(kind: EntryKind, id: &EntryId, given: &[(String, String)]) -> Result<(), Error> {
    let of_row = |name: &str| {
        let of_tally = name == "row" || Kind::Tally.field_key(name).is_some();
        kind == EntryKind::Run && of_tally && Kind::Run.field_key(name).is_none()
    };
    let Some((name, _)) = given.iter().find(|(name, _)| of_row(name)) else { return Ok(()) };
    Err(Error::Advice {
        what: format!(
            "{name} is of a row of the tally of {id}, and no row is amended by itself: every joint \
             above it stands elsewhere then"
        ),
        help: vec![
            "correct the row in the file of the tally, and load the run anew with it; the joints \
             keep their lives"
                .to_owned(),
            format!("pipelore strike {id} --reason '…' --instead RUN.toml"),
        ],
    })
}

/// Parts of a text with commas or semicolons between.
fn listed(text: &str) -> impl Iterator<Item = &str> {
    text.split([',', ';']).map(str::trim).filter(|part| !part.is_empty())
}

/// An entry with a field corrected, and the change; no change where it says so already.
fn change(
    entry: &Entry,
    field: &Corrected,
    id: &EntryId,
) -> Result<(Entry, Option<FieldChange>), Error> {
    let name = member(entry.body.kind(), &field.key);
    let known: Vec<Option<serde_json::Value>> = if field.values.is_empty() {
        vec![None]
    } else {
        field.values.iter().cloned().map(Some).collect()
    };
    let mut why = String::new();
    for is in known {
        let change = FieldChange { field: name.to_owned(), was: None, is };
        let one = AmendBody {
            entry: id.clone(),
            changes: vec![change.clone()],
            reason: String::new(),
            decision: None,
        };
        match with_changes(entry, &one) {
            Ok(next) if next == *entry => return Ok((next, None)),
            Ok(next) => return Ok((next, Some(change))),
            Err(e) if why.is_empty() => why = e,
            Err(_) => {}
        }
    }
    Err(Error::Advice {
        what: format!("{} of {id} cannot be amended: {why}", field.key),
        help: vec![format!(
            "what names other joints or entries is struck and written anew: pipelore strike {id} \
             --reason '…' --instead FILE"
        )],
    })
}

/// The field of a body that a field of a file becomes.
fn member(kind: EntryKind, key: &str) -> &str {
    match (kind, key) {
        (EntryKind::Run, "end") | (_, "date") => EFFECTIVE,
        (EntryKind::Inspection, "class") => "declared",
        (EntryKind::Inspection, "tube_class") => "declared_tube",
        (EntryKind::Inspection, "pin_class") => "declared_pin",
        (EntryKind::Inspection, "box_class") => "declared_box",
        (EntryKind::Event | EntryKind::Failure, "event" | "failure") => "what",
        (_, key) => key,
    }
}
