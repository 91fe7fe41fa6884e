//! Links an entry to what it names, and marks what it changes.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use super::super::error::Result;
use super::super::rows::{get, put};
use super::dirty::Dirty;
use super::{Fresh, Pass};
use crate::model::{Body, Entry, EntryId, EntryKind, IdentityBody, JointRef, Vocabulary};
use crate::projection::amend::amended;
use crate::projection::facts::Placed;
use crate::projection::horizon::{SeenFrom, seen_from};
use crate::projection::joint::cuts;
use crate::projection::kinds::{self, Changes, Topic, role};
use crate::schema::{
    BookFactRow, ContentRow, EntryTimeRow, FileTakenRow, StruckRow, SurveyRow, TouchRow,
};

/// Whether an entry says that two joints are one, or one is two.
pub(in crate::store) const fn tells_joints_apart(body: &Body) -> bool {
    matches!(body, Body::Identity(IdentityBody::Merge { .. } | IdentityBody::Split { .. }))
}

impl Pass<'_> {
    /// Takes a new entry into the link tables and marks what it changes.
    pub(super) fn link(&mut self, fresh: &Fresh, dirty: &mut Dirty) -> Result<()> {
        let placed = &fresh.placed;
        self.know(&placed.entry.id, placed.position);
        self.note_time(placed)?;
        self.note_source(fresh)?;
        self.note_facts(placed)?;
        self.touch_all(placed)?;
        self.mark(placed, dirty)?;
        // Entries of another site may have come before what they name.
        let name = placed.entry.id.to_string();
        for position in self.about(Topic::Awaits, &name)? {
            let earlier = self.entry(position)?;
            self.touch_all(&earlier)?;
            self.mark(&earlier, dirty)?;
            dirty.strikes |= kinds::strikes(&earlier.entry.body);
            self.touch_about(&earlier, dirty)?;
        }
        // It waits no more; a rebuild, which sees all entries at once, never noted it.
        self.execute(
            "DELETE FROM book_fact WHERE topic = ?1 AND subject = ?2",
            &[&Topic::Awaits.word(), &name],
        )?;
        self.touch_about(placed, dirty)?;
        dirty.strikes |= kinds::strikes(&placed.entry.body);
        Ok(())
    }

    /// Entries about a run touch the joints of its tally, as far as those have arrived.
    fn touch_about(&mut self, run: &Placed, dirty: &mut Dirty) -> Result<()> {
        if !matches!(run.entry.body, Body::Run(_)) {
            return Ok(());
        }
        for position in self.about(Topic::AboutRun, &run.entry.id.to_string())? {
            let about = self.entry(position)?;
            self.touch_all(&about)?;
            self.mark(&about, dirty)?;
        }
        Ok(())
    }

    /// Entries noted under a topic and subject.
    pub(super) fn about(&self, topic: Topic, subject: &str) -> Result<Vec<i64>> {
        self.list(
            "SELECT entry FROM book_fact WHERE topic = ?1 AND subject = ?2 ORDER BY entry",
            &[&topic.word(), &subject],
        )
    }

    fn note(&self, topic: Topic, subject: String, entry: i64) -> Result<()> {
        let row = BookFactRow { topic: topic.word().to_owned(), subject, entry };
        put(self.conn, self.path, &row)
    }

    /// From when the entry is seen, where its own instant tells.
    fn note_time(&self, placed: &Placed) -> Result<()> {
        match seen_from(&placed.entry, placed.clock) {
            SeenFrom::After(at) => {
                let row = EntryTimeRow { entry: placed.position, at: at.0 };
                put(self.conn, self.path, &row)
            }
            SeenFrom::Always | SeenFrom::WithAny(_) | SeenFrom::WithAll(_) => Ok(()),
        }
    }

    /// Where the entry came from: its file, and its content for files that say the same.
    fn note_source(&self, fresh: &Fresh) -> Result<()> {
        let placed = &fresh.placed;
        let Some(evidence) = &placed.entry.evidence else { return Ok(()) };
        put(
            self.conn,
            self.path,
            &FileTakenRow {
                sha256: evidence.sha256.clone(),
                first_entry: placed.position,
                last_entry: placed.position,
                file: evidence.file.clone(),
            },
        )?;
        put(self.conn, self.path, &ContentRow { digest: fresh.content, entry: placed.position })?;
        Ok(())
    }

    fn note_facts(&self, placed: &Placed) -> Result<()> {
        let entry = placed.position;
        for (topic, subject) in kinds::topics(&placed.entry.body) {
            self.note(topic, subject, entry)?;
        }
        if let Body::Survey(b) = &placed.entry.body {
            let row = SurveyRow {
                entry,
                well: b.well.clone(),
                at: placed.at().0,
                stations: i64::try_from(b.stations.len()).unwrap_or(i64::MAX),
            };
            put(self.conn, self.path, &row)?;
        }
        Ok(())
    }

    /// Notes which joints an entry names. For what it names and the book does not hold yet, it
    /// waits.
    fn touch_all(&mut self, placed: &Placed) -> Result<()> {
        let mut joints = BTreeSet::new();
        let is_run = matches!(placed.entry.body, Body::Run(_));
        if matches!(placed.entry.body, Body::Joint(_)) {
            joints.insert(self.canonical(placed.position));
        }
        for named in placed.entry.body.joints() {
            match self.joint_of(&named.joint)? {
                Some(p) if !is_run => {
                    joints.insert(p);
                }
                Some(_) => {}
                None => self.note(Topic::Awaits, named.joint.to_string(), placed.position)?,
            }
        }
        for named in placed.entry.body.entries() {
            if self.position_of(named)?.is_none() {
                self.note(Topic::Awaits, named.to_string(), placed.position)?;
            }
        }
        if let Some(run) = kinds::whole_tally(&placed.entry.body).cloned()
            && let Some(position) = self.position_of(&run)?
        {
            joints.extend(self.tally(position)?);
        }
        // An amendment is told of the joints of which the entry tells.
        if let Body::Amend(b) = &placed.entry.body
            && let Some(position) = self.position_of(&b.entry)?
        {
            joints.extend(self.touched(position)?);
            joints.extend(self.tally(position)?);
        }
        let (cut, ends) = cuts(placed);
        for joint in joints {
            put(self.conn, self.path, &TouchRow { joint, entry: placed.position, cut, ends })?;
        }
        Ok(())
    }

    /// Joints of a run's tally, changes included.
    fn tally(&mut self, run: i64) -> Result<BTreeSet<i64>> {
        let placed = self.entry(run)?;
        let Body::Run(body) = &placed.entry.body else { return Ok(BTreeSet::new()) };
        let mut out = BTreeSet::new();
        for joint in body.joints() {
            out.extend(self.joint_of(&joint.joint)?);
        }
        Ok(out)
    }

    /// Marks what an entry changes, or changes by standing no more.
    pub(super) fn mark(&mut self, placed: &Placed, dirty: &mut Dirty) -> Result<()> {
        match role(placed.entry.body.kind()).changes {
            Changes::Joints => dirty.joints.extend(self.touched(placed.position)?),
            Changes::Identity => {
                dirty.joints.extend(self.touched(placed.position)?);
                dirty.everything |= tells_joints_apart(&placed.entry.body);
            }
            Changes::Run => self.mark_run(placed, dirty)?,
            Changes::Survey => {
                if let Body::Survey(b) = &placed.entry.body {
                    self.runs_of(&b.well)?.into_iter().for_each(|r| dirty.run(r));
                }
                // A run may name a survey, of whatever well.
                let naming = self.about(Topic::WithSurvey, &placed.entry.id.to_string())?;
                naming.into_iter().for_each(|r| dirty.run(r));
            }
            Changes::Check => {
                for (_, tag) in kinds::topics(&placed.entry.body) {
                    for used in self.about(Topic::Tag, &tag)? {
                        let run = self.list("SELECT run FROM run WHERE run = ?1", &[&used])?;
                        run.into_iter().for_each(|r| dirty.run(r));
                        dirty.joints.extend(self.touched(used)?);
                    }
                }
            }
            // What an entry says may bear on any other.
            Changes::Words => {
                let named = placed.entry.body.entries().into_iter().next();
                let known = named.map(|id| self.position_of(id)).transpose()?.flatten();
                dirty.everything |= known.is_some();
            }
            // What the book judges by is compared as a whole.
            Changes::Sets => {}
            Changes::Clock => dirty.clock = true,
        }
        Ok(())
    }

    fn mark_run(&mut self, placed: &Placed, dirty: &mut Dirty) -> Result<()> {
        dirty.run(placed.position);
        let Body::Run(b) = &placed.entry.body else { return Ok(()) };
        if let Some(named) = b.tally.iter().find_map(|l| l.joint.as_ref())
            && let Some(joint) = self.joint_of(&named.joint)?
        {
            dirty.near.insert(placed.position, joint);
        }
        // A run that stands no more has left its marks on its joints.
        let joints = self.list(
            "SELECT joint FROM joint_run WHERE run = ?1 ORDER BY joint",
            &[&placed.position],
        )?;
        dirty.joints.extend(joints);
        Ok(())
    }

    pub(super) fn touched(&self, entry: i64) -> Result<Vec<i64>> {
        self.list("SELECT joint FROM touch WHERE entry = ?1 ORDER BY joint", &[&entry])
    }

    /// Works out anew which entries count, notes it, and marks what that changes.
    pub(super) fn strike(&mut self, dirty: &mut Dirty) -> Result<()> {
        let old: BTreeMap<i64, StruckRow> = get::<StruckRow>(self.conn, self.path, "", &[])?
            .into_iter()
            .map(|r| (r.entry, r))
            .collect();
        let new = self.standing()?;
        self.struck = new.keys().copied().collect();
        for entry in old.keys().filter(|e| !new.contains_key(e)) {
            self.execute("DELETE FROM struck WHERE entry = ?1", &[entry])?;
        }
        for row in new.values().filter(|r| old.get(&r.entry) != Some(r)) {
            put(self.conn, self.path, row)?;
        }
        let changed = old
            .keys()
            .filter(|e| !new.contains_key(e))
            .chain(new.keys().filter(|e| !old.contains_key(e)));
        for entry in changed.copied().collect::<Vec<_>>() {
            let placed = self.entry(entry)?;
            dirty.everything |= matches!(placed.entry.body, Body::Joint(_));
            self.mark(&placed, dirty)?;
        }
        Ok(())
    }

    /// Reads which joints proved to be one, and which to be two, from the identity entries that
    /// stand: one after the other, the later one on what the earlier ones left.
    pub(super) fn read_identities(&mut self) -> Result<()> {
        let places = self.list(
            // In a canonical body the words stand just so.
            "SELECT position FROM entry WHERE kind = ?1
             AND (instr(body, '\"change\":\"merge\"') > 0 OR instr(body, '\"change\":\"split\"') > 0)
             ORDER BY position",
            &[&EntryKind::Identity.word()],
        )?;
        self.merged.clear();
        self.split.clear();
        for placed in self.standing_at(places)? {
            let Body::Identity(body) = &placed.entry.body else { continue };
            match body {
                IdentityBody::Merge { joint, same, .. } => {
                    if let Some((keep, gone)) = self.both(joint, same)?
                        && self.canonical(keep) != self.canonical(gone)
                    {
                        self.merged.insert(self.canonical(gone), self.canonical(keep));
                    }
                }
                IdentityBody::Split { joint, other, entries, .. } => {
                    let Some((joint, place)) = self.both(joint, other)? else { continue };
                    if self.canonical(joint) == self.canonical(place) {
                        // One of them was taken for the other.
                        let apart =
                            [place, joint].into_iter().find(|j| self.merged.contains_key(j));
                        self.merged.remove(&apart.unwrap_or(place));
                    }
                    for entry in entries {
                        if let Some(entry) = self.position_of(entry)? {
                            self.split.entry(entry).or_default().push((joint, other.clone()));
                        }
                    }
                }
                IdentityBody::Remark { .. } | IdentityBody::Alias { .. } => {}
            }
        }
        // What was read before may name other joints now.
        self.entries.clear();
        Ok(())
    }

    /// Places of two joints; `None` while one of them has not arrived.
    fn both(&mut self, a: &JointRef, b: &JointRef) -> Result<Option<(i64, i64)>> {
        Ok(self.position_of(&a.joint)?.zip(self.position_of(&b.joint)?))
    }

    /// Reads the amendments that stand.
    pub(super) fn read_amendments(&mut self) -> Result<()> {
        let places = self.list(
            "SELECT position FROM entry WHERE kind = ?1 ORDER BY position",
            &[&EntryKind::Amend.word()],
        )?;
        self.amended.clear();
        for placed in self.standing_at(places)? {
            if let Body::Amend(b) = &placed.entry.body {
                self.amended.entry(b.entry.clone()).or_default().push(Arc::clone(&placed.entry));
            }
        }
        // What was read before may say other things now.
        self.entries.clear();
        Ok(())
    }

    /// An entry as it counts: with what was amended of it, and with the joint of which it speaks where it names another as which that
    /// one was kept.
    pub(in crate::store) fn as_counted(&mut self, placed: Placed) -> Result<Placed> {
        let placed = match self.amended.get(&placed.entry.id) {
            Some(by) => {
                let entry = amended(&placed.entry, by.iter().map(|e| &**e));
                Placed::new(placed.position, entry, placed.clock)
            }
            None => placed,
        };
        self.as_split(placed)
    }

    /// The same of an entry with its amendments.
    pub(in crate::store) fn as_split(&mut self, placed: Placed) -> Result<Placed> {
        let Some(splits) = self.split.get(&placed.position).cloned() else { return Ok(placed) };
        // What tells joints apart is meant as it stands.
        if tells_joints_apart(&placed.entry.body) {
            return Ok(placed);
        }
        let mut entry = Entry::clone(&placed.entry);
        for named in entry.body.joints_mut() {
            for (joint, other) in &splits {
                if self.joint_of(&named.joint)? == Some(self.canonical(*joint)) {
                    named.clone_from(other);
                }
            }
        }
        Ok(Placed::new(placed.position, entry, placed.clock))
    }

    /// The joint that stands for a joint, itself unless it was merged into another.
    pub(super) fn canonical(&self, joint: i64) -> i64 {
        let mut at = joint;
        while let Some(next) = self.merged.get(&at) {
            at = *next;
        }
        at
    }

    /// The joint that an entry introduced, as the book counts joints.
    pub(super) fn joint_of(&mut self, id: &EntryId) -> Result<Option<i64>> {
        Ok(self.position_of(id)?.map(|p| self.canonical(p)))
    }
}
