//! Findings: each held against the criteria that judge it, and what follows from it.

use crate::model::{Class, End, Place, ReadingKind, Scope};

use crate::condition::catalogue::{Finding, On, SizeKind};
use crate::condition::caution::Caution;
use crate::condition::criterion::{Criterion, Take};
use crate::condition::needs::Wanted;
use crate::condition::subject::{Amount, Found};
use crate::condition::verdict::{
    Action, Because, FindingVerdict, Judged, Judgement, Lack, Missing, Outcome,
};
use crate::condition::words::{Blocks, Disposition, Part, Person};

use super::evaluate::Candidate;
use super::{Assessment, PartOutcome};

/// The word by which someone says that they looked for cracks and saw none.
pub(super) const NO_CRACK: &str = "no_crack";

const FROM_LOWEST: &str = "worked out from the lowest wall; the wall beside it was not read";

/// What judging a finding by one criterion came to.
enum Tried {
    Judged(Outcome),
    /// The size or share is wanted and not there.
    Unmeasured(Lack),
    /// A reading of the same kind has been judged already, and speaks for it.
    Read,
    /// No limit for this component.
    NoLimit,
}

impl Assessment<'_> {
    pub(super) fn read_findings(&mut self) {
        for (found, entry) in std::mem::take(&mut self.found) {
            match entry {
                None => self.strange_word(found),
                Some(e) if e.word == NO_CRACK => self.said_free_of_cracks(found),
                Some(e) => self.finding(found, e),
            }
        }
        self.flaw_without_a_name();
    }

    /// A depth that was read of a flaw says by itself not what it is, and so not what limits it.
    fn flaw_without_a_name(&mut self) {
        let read = self.values(ReadingKind::FlawDepth, Part::Tube);
        let unnamed = read.into_iter().any(|(m, _)| match m.amount {
            Amount::Length(q) => q > 0 && !self.is_named(Some(q)),
            Amount::OfNominal(q) => q > 0 && !self.is_named(None),
        });
        if !unnamed {
            return;
        }
        self.note_missing(Missing {
            part: Part::Tube,
            what: "flaw of which a depth was read".to_owned(),
            wanted: None,
            lack: Lack::Unexplained,
            critical: true,
            could_stop: false,
            from_class: None,
            by: Vec::new(),
            why:
                "whether it is a pit, a cut or a crack decides what limits it: name it as a finding"
                    .to_owned(),
        });
    }

    /// Whether a finding of the tube says what a flaw of this depth is: one whose size is a depth, and
    /// no less of it than was read.
    fn is_named(&self, depth: Option<i64>) -> bool {
        self.findings.iter().filter(|f| f.parts.contains(&Part::Tube)).any(|f| {
            self.standards.findings.get(&f.word).is_ok_and(|entry| {
                let as_deep = f.found.size >= depth || f.found.size.is_none();
                match entry.size {
                    Some(SizeKind::Depth) => as_deep,
                    Some(SizeKind::WallLeft) => true,
                    _ => entry.is_crack(),
                }
            })
        })
    }

    fn strange_word(&mut self, found: &Found) {
        let nearest =
            self.standards.findings.get(&found.what).err().map(|e| e.nearest).unwrap_or_default();
        self.all_open = true;
        self.note_missing(Missing {
            part: Part::Joint,
            what: format!("meaning of '{}'", found.what),
            wanted: None,
            lack: Lack::StrangeWord,
            critical: true,
            could_stop: false,
            from_class: None,
            by: Vec::new(),
            why: "the catalogue does not know the word".to_owned(),
        });
        self.findings.push(FindingVerdict {
            found: found.clone(),
            word: found.what.clone(),
            name: found.what.clone(),
            parts: vec![Part::Joint],
            disposition: Disposition::Hold,
            blocks: Blocks::Run,
            works: Vec::new(),
            who: vec![Person::Inspector],
            source: "no word of the catalogue".to_owned(),
            provenance: crate::model::Provenance::CommonPractice,
            nearest,
        });
    }

    /// "No cracks" counts only where a method of the inspection can see them.
    fn said_free_of_cracks(&mut self, found: &Found) {
        let scopes: Vec<Scope> = match (found.place, found.end) {
            (Some(Place::SlipArea), _) => vec![Scope::SlipCracks],
            (Some(Place::Upset | Place::Weld), _) => vec![Scope::SlipCracks, Scope::UpsetCracks],
            (Some(Place::Body | Place::Bore), _) => vec![Scope::BodyCracks],
            (Some(Place::ToolJoint), _) => vec![Scope::HeatChecks],
            (_, Some(End::Box)) => vec![Scope::BoxCracks],
            (_, Some(End::Pin)) | (Some(Place::PinBase | Place::PinNose), None) => {
                vec![Scope::PinCracks]
            }
            _ => self.crack_scopes().into_iter().map(|(s, _)| s).collect(),
        };
        for scope in scopes {
            if !self.covered.contains(&scope) {
                self.note_missing(Missing {
                    part: part_of_scope(scope),
                    what: Wanted::Scope(scope).text(),
                    wanted: Some(Wanted::Scope(scope)),
                    lack: Lack::CannotSee,
                    critical: false,
                    could_stop: false,
                    from_class: None,
                    by: self.methods_for_scope(scope),
                    why: "said to be free of cracks, but no method of this inspection sees them"
                        .to_owned(),
                });
            }
        }
        self.cautions.push(Caution::Proof);
    }

    fn finding(&mut self, found: &Found, entry: &Finding) {
        let mut parts: Vec<Part> = entry
            .parts(found.end)
            .into_iter()
            .filter(|p| p.end().is_none_or(|e| self.subject.ends.contains(&e)))
            .collect();
        if parts.is_empty() {
            parts.push(Part::Joint);
        }
        if entry.is_crack() {
            self.cracked.extend(&entry.seen_by);
        }
        let mut worst = (Disposition::Run, Blocks::Nothing);
        for part in parts.iter().copied() {
            let (disposition, blocks) = self.on_part(found, entry, part);
            self.block(part, blocks);
            worst = (worst.0.max(disposition), worst.1.max(blocks));
        }
        let held = self.ask_what_it_calls_for(entry, &parts);
        if held && worst.0 < Disposition::Hold {
            worst = (Disposition::Hold, worst.1.max(Blocks::Run));
        }
        let (disposition, blocks) = worst;
        if disposition != Disposition::Run {
            self.cautions.extend(entry.caution);
            if disposition == Disposition::RunRestricted || !disposition.may_run() {
                self.restrictions.extend(entry.restriction);
            }
            for part in &parts {
                self.actions.push(Action {
                    disposition,
                    part: *part,
                    because: Because::Finding(entry.word.clone()),
                    works: entry.cleared_by.clone(),
                    who: entry.who.clone(),
                });
            }
        }
        self.findings.push(FindingVerdict {
            found: found.clone(),
            word: entry.word.clone(),
            name: entry.name.clone(),
            parts,
            disposition,
            blocks,
            works: entry.cleared_by.clone(),
            who: entry.who.clone(),
            source: entry.source.clone(),
            provenance: entry.provenance,
            nearest: Vec::new(),
        });
    }

    fn block(&mut self, part: Part, blocks: Blocks) {
        for state in self.states(part) {
            state.judged |= part != Part::Joint;
            match blocks {
                Blocks::Part => state.come_to(PartOutcome::Rejected),
                Blocks::Scrap => state.come_to(PartOutcome::Scrap),
                Blocks::Nothing | Blocks::Run => {}
            }
        }
    }

    /// Judges a finding on one part.
    fn on_part(&mut self, found: &Found, entry: &Finding, part: Part) -> (Disposition, Blocks) {
        let (mut judged, mut beyond, mut lack, mut no_limit) = (false, None, None, false);
        for criterion in applicable(entry, found, part) {
            match self.try_criterion(criterion, found, entry, part) {
                Tried::Judged(outcome) => {
                    judged = true;
                    if matches!(outcome, Outcome::Fails | Outcome::Class(Class::Scrap)) {
                        beyond = Some(entry.beyond.unwrap_or(criterion.spec().disposition));
                    }
                }
                Tried::Read => judged = true,
                Tried::Unmeasured(l) => lack = Some((criterion, l)),
                Tried::NoLimit => no_limit = true,
            }
        }
        if let Some(d) = beyond {
            return (d.max(if entry.is_crack() { entry.within } else { d }), entry.blocks);
        }
        if let Some((criterion, lack)) = lack {
            return self.unmeasured(entry, part, criterion, lack);
        }
        if judged {
            return (entry.within, held_by(entry.within));
        }
        if no_limit && entry.unmeasured.is_some() {
            // The catalogue wants it judged, and the set is silent for this component.
            self.note_missing(Missing {
                part,
                what: format!("limit for {}", entry.name),
                wanted: None,
                lack: Lack::NoLimit,
                critical: false,
                could_stop: false,
                from_class: None,
                by: Vec::new(),
                why: "the set has no limit for it on this component".to_owned(),
            });
            return (Disposition::Hold, Blocks::Run);
        }
        (entry.within, entry.blocks.max(held_by(entry.within)))
    }

    fn unmeasured(
        &mut self,
        entry: &Finding,
        part: Part,
        criterion: Criterion,
        lack: Lack,
    ) -> (Disposition, Blocks) {
        let disposition = entry.unmeasured.unwrap_or(Disposition::Hold);
        let what = match lack {
            Lack::NoAdjacentWall => format!("wall beside the {}", entry.name),
            Lack::NoNominal => format!("nominal for {}", criterion.spec().name),
            _ => format!("size of the {}", entry.name),
        };
        // The word itself says that a limit is broken where something else than holding follows.
        let says_broken = disposition != Disposition::Hold;
        let by = match criterion.spec().take {
            Take::Reading(kind) => self.methods_for_reading(kind),
            Take::WallLeft if lack == Lack::NoAdjacentWall => {
                self.methods_for_reading(ReadingKind::AdjacentWall)
            }
            Take::WallLeft => self.methods_for_reading(ReadingKind::FlawDepth),
            _ => criterion.spec().by.to_vec(),
        };
        self.note_missing(Missing {
            part,
            what,
            wanted: None,
            lack,
            critical: !says_broken,
            could_stop: false,
            from_class: None,
            by,
            why: entry.measure.clone(),
        });
        let blocks = if says_broken { entry.blocks } else { Blocks::Run };
        (disposition, blocks.max(held_by(disposition)))
    }

    fn try_criterion(
        &mut self,
        criterion: Criterion,
        found: &Found,
        entry: &Finding,
        part: Part,
    ) -> Tried {
        // Only tubes of drill pipe have rows for a tube; a criterion of the joint as a whole is
        // judged as the tube's.
        let judged_part = if part == Part::Joint { Part::Tube } else { part };
        let (value, beside, remark) = match criterion.spec().take {
            Take::Sight => (Judged::Seen, None, None),
            Take::Share => match found.share {
                Some(q) => (Judged::Share(q), None, None),
                None => return Tried::Unmeasured(Lack::NoSize),
            },
            Take::Bsr => match self.subject.bsr {
                Some(_) => return Tried::Read,
                None => return Tried::Unmeasured(Lack::NotMeasured),
            },
            Take::Reading(kind) => match found.size {
                Some(q) => (Judged::Read(Amount::Length(q)), None, None),
                None if criterion != Criterion::ErosionWall
                    && !self.values(kind, judged_part).is_empty() =>
                {
                    return Tried::Read;
                }
                None => match self.lowest_wall() {
                    // Wear inside without a size of its own: the lowest wall of the ring.
                    Some(w) if criterion == Criterion::ErosionWall => {
                        (Judged::WallLeft(w), None, None)
                    }
                    _ => return Tried::Unmeasured(Lack::NoSize),
                },
            },
            Take::WallLeft if entry.size == Some(SizeKind::WallLeft) => match found.size {
                Some(q) => (Judged::WallLeft(q), None, None),
                None => return Tried::Unmeasured(Lack::NoSize),
            },
            Take::WallLeft => {
                let Some(depth) = found.size else { return Tried::Unmeasured(Lack::NoSize) };
                let Some((wall, remark)) = self.wall_beside(found.at) else {
                    return Tried::Unmeasured(Lack::NoAdjacentWall);
                };
                if depth >= wall {
                    return self.through_the_wall(entry, judged_part);
                }
                (Judged::WallLeft(wall - depth), Some(wall), remark)
            }
            Take::Size | Take::Repair => match found.size {
                Some(q) => {
                    let beside = self.wall_beside(found.at);
                    (
                        Judged::Read(Amount::Length(q)),
                        beside.map(|b| b.0),
                        if criterion == Criterion::SlipCutDepth {
                            beside.and_then(|b| b.1)
                        } else {
                            None
                        },
                    )
                }
                None => return Tried::Unmeasured(Lack::NoSize),
            },
            Take::Nominal => return Tried::NoLimit,
        };
        let mut candidate = Candidate::new(criterion, judged_part, value);
        candidate.beside = beside;
        candidate.finding = Some(entry.word.clone());
        candidate.remark = remark;
        match self.judge(candidate) {
            Ok(j) => {
                let outcome = j.outcome;
                self.keep(Judgement { blocks: entry_blocks(entry, &j), ..j });
                Tried::Judged(outcome)
            }
            Err(Lack::NoLimit) => Tried::NoLimit,
            Err(lack) => Tried::Unmeasured(lack),
        }
    }

    /// A flaw as deep as the wall is a hole, whatever it is called.
    fn through_the_wall(&mut self, entry: &Finding, part: Part) -> Tried {
        let mut candidate = Candidate::new(Criterion::Washout, part, Judged::Seen);
        candidate.finding = Some(entry.word.clone());
        candidate.remark = Some("as deep as the wall: a hole");
        match self.judge(candidate) {
            Ok(j) => {
                let outcome = j.outcome;
                self.keep(j);
                Tried::Judged(outcome)
            }
            Err(lack) => Tried::Unmeasured(lack),
        }
    }

    /// Mean wall beside a finding: the reading at the same place, else the lowest of its kind, else
    /// the lowest wall, which is no larger and so never makes a cut look shallow.
    fn wall_beside(&self, at: Option<i64>) -> Option<(i64, Option<&'static str>)> {
        let beside: Vec<(Option<i64>, i64)> = self
            .values(ReadingKind::AdjacentWall, Part::Tube)
            .into_iter()
            .filter_map(|(m, _)| Some((m.at, self.in_length(ReadingKind::AdjacentWall, m.amount)?)))
            .collect();
        let here = beside.iter().filter(|(p, _)| at.is_some() && *p == at).map(|(_, w)| *w).min();
        here.or_else(|| beside.iter().map(|(_, w)| *w).min())
            .map(|w| (w, None))
            .or_else(|| self.lowest_wall().map(|w| (w, Some(FROM_LOWEST))))
    }

    pub(super) fn lowest_wall(&self) -> Option<i64> {
        self.values(ReadingKind::Wall, Part::Tube)
            .into_iter()
            .filter_map(|(m, _)| self.in_length(ReadingKind::Wall, m.amount))
            .min()
    }

    pub(super) fn in_length(&self, kind: ReadingKind, amount: Amount) -> Option<i64> {
        amount.length(kind.nominal().and_then(|k| self.subject.nominal.value(k)))
    }

    /// Readings and scopes that a finding calls for; true when one is not there.
    fn ask_what_it_calls_for(&mut self, entry: &Finding, parts: &[Part]) -> bool {
        let mut held = false;
        for choice in &entry.needs {
            let there = choice.iter().any(|kind| {
                self.subject.readings.iter().any(|m| {
                    m.what == *kind
                        && !m.doubtful
                        && (entry.on != On::End
                            || m.end.is_none_or(|e| parts.contains(&Part::from(e))))
                })
            });
            if !there && let Some(first) = choice.first() {
                held = true;
                let by = self.methods_for_reading(*first);
                self.called_for(entry, parts, Wanted::Reading(*first), by);
            }
        }
        for choice in &entry.follow_up {
            if !choice.iter().any(|s| self.covered.contains(s))
                && let Some(first) = choice.first()
            {
                held = true;
                let by = self.methods_for_scope(*first);
                self.called_for(entry, parts, Wanted::Scope(*first), by);
            }
        }
        held
    }

    fn called_for(
        &mut self,
        entry: &Finding,
        parts: &[Part],
        wanted: Wanted,
        by: Vec<crate::model::Method>,
    ) {
        self.note_missing(Missing {
            part: parts.first().copied().unwrap_or(Part::Joint),
            what: wanted.text(),
            wanted: Some(wanted),
            lack: Lack::NotMeasured,
            critical: false,
            could_stop: false,
            from_class: None,
            by,
            why: format!("called for by {}", entry.name),
        });
    }
}

/// Criteria of an entry that apply to this finding on this part.
fn applicable(entry: &Finding, found: &Found, part: Part) -> Vec<Criterion> {
    let both_ways = |c: &Criterion| {
        entry.judged_by.iter().any(|o| {
            o.spec().transverse.is_some()
                && c.spec().transverse.is_some()
                && o.spec().transverse != c.spec().transverse
        })
    };
    entry
        .judged_by
        .iter()
        .copied()
        // A direction that nobody stated is the worse one: across the pipe.
        .filter(|c| !both_ways(c) || c.spec().transverse == Some(found.transverse.unwrap_or(true)))
        .filter(|c| part == Part::Joint || c.judges(part) || entry.is_crack())
        .collect()
}

/// What a breach of a limit by a finding stops: what the catalogue says.
fn entry_blocks(entry: &Finding, j: &Judgement) -> Blocks {
    match j.outcome {
        Outcome::Fails => entry.blocks,
        _ => j.blocks,
    }
}

/// What a disposition stops by itself.
const fn held_by(disposition: Disposition) -> Blocks {
    if disposition.may_run() { Blocks::Nothing } else { Blocks::Run }
}

/// The part in which a scope looks for cracks.
pub(super) const fn part_of_scope(scope: Scope) -> Part {
    match scope {
        Scope::Pin | Scope::PinCracks => Part::Pin,
        Scope::Box | Scope::BoxCracks | Scope::HeatChecks | Scope::Hardband => Part::Box,
        _ => Part::Tube,
    }
}
