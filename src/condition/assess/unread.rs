//! Readings that nobody took and by which a limit in force, or the floor, could stop the joint: what is bad
//! where it is read passes nothing where it is not.

use crate::model::{Component, ReadingKind, Scope, Vocabulary};

use crate::condition::criterion::{Criterion, Take};
use crate::condition::floor;
use crate::condition::needs::Wanted;
use crate::condition::subject::Amount;
use crate::condition::verdict::{Judged, Lack, Missing};
use crate::condition::words::Part;

use super::evaluate::Candidate;
use super::{Assessment, Known};

/// Lengths beyond what any part has, nanometres: where a limit is kept by both nothing can break it.
const NOTHING_AND_TOO_MUCH: [i64; 2] = [0, 1_000_000_000_000];

impl Assessment<'_> {
    /// Asks for every reading that could stop the joint and is not known.
    pub(super) fn ask_for_what_could_stop(&mut self) {
        for part in self.parts() {
            for what in ReadingKind::ALL.iter().copied() {
                let asked = |at: &(ReadingKind, Part)| self.is_asked(at.0, at.1);
                if self.is_told(what, part) || self.measured_by(what, part).iter().any(asked) {
                    continue;
                }
                if self.could_stop(what, part) {
                    self.note_unread(what, part);
                }
            }
        }
    }

    fn is_asked(&self, what: ReadingKind, part: Part) -> bool {
        let here = |m: &Missing| m.part == part && m.wanted == Some(Wanted::Reading(what));
        self.missing.iter().any(|m| m.could_stop && here(m))
    }

    fn note_unread(&mut self, what: ReadingKind, part: Part) {
        let wanted = Some(Wanted::Reading(what));
        let same = |m: &&mut Missing| m.part == part && m.wanted == wanted;
        if let Some(asked) = self.missing.iter_mut().find(same) {
            asked.could_stop = true;
            return;
        }
        let doubtful = self.only_doubtful(what, part);
        let missing = Missing {
            part,
            what: Wanted::Reading(what).text(),
            wanted,
            lack: if doubtful { Lack::Doubtful } else { Lack::NotMeasured },
            critical: false,
            could_stop: true,
            from_class: None,
            by: self.methods_for_reading(what),
            why: String::new(),
        };
        self.note_missing(missing);
    }

    /// Whether a reading is known, by itself or by one that measures the same.
    fn is_told(&self, what: ReadingKind, part: Part) -> bool {
        let known = |(what, part)| !matches!(self.reading_known(what, part), Known::No(_));
        known((what, part))
            || self.measured_by(what, part).iter().copied().any(known)
            || self.need_not_be_there(what, part)
    }

    /// Readings that measure the same as this one, or the worst of it (common practice).
    fn measured_by(&self, what: ReadingKind, part: Part) -> &'static [(ReadingKind, Part)] {
        match (what, part) {
            // The gauge of the body goes over the slip area as well, and its smallest diameter is written.
            // The largest is another: swelling shows in no smallest diameter.
            (ReadingKind::SlipOd, Part::Tube) => &[(ReadingKind::BodyOd, Part::Tube)],
            // The width of a shoulder is what the box is wider than its counterbore. Heavy bodies wear
            // outside, and their diameter tells it; drill pipe has limits of its own for each.
            (ReadingKind::Wall, Part::Tube) if !self.classed() => {
                &[(ReadingKind::BodyOd, Part::Tube)]
            }
            (ReadingKind::Shoulder | ReadingKind::JointOd, Part::Box) if !self.classed() => &[
                (ReadingKind::JointOd, Part::Box),
                (ReadingKind::Shoulder, Part::Box),
                (ReadingKind::BodyOd, Part::Tube),
            ],
            _ => &[],
        }
    }

    /// What not every part has. Where nothing was read of it the look that the part needs in any case
    /// tells that there is none.
    fn need_not_be_there(&self, what: ReadingKind, part: Part) -> bool {
        match what {
            // Bands are on the boxes of pipe, unless its certificate says that there are none.
            ReadingKind::HardbandHeight => {
                let pipe = matches!(
                    self.subject.component,
                    Component::DrillPipe | Component::Pup | Component::HeavyWeight
                );
                part != Part::Box || !pipe || self.subject.nominal.no_hardband
            }
            ReadingKind::Benchmark => true,
            ReadingKind::ElevatorGroove | ReadingKind::SlipGroove => {
                !matches!(self.scope_known(Scope::Grooves), Known::No(_))
            }
            // The depth of a flaw and the wall beside it are there where one was found.
            ReadingKind::FlawDepth | ReadingKind::AdjacentWall => true,
            ReadingKind::Wall
            | ReadingKind::BodyOd
            | ReadingKind::BodyOdMax
            | ReadingKind::SlipOd
            | ReadingKind::JointOd
            | ReadingKind::JointId
            | ReadingKind::Shoulder
            | ReadingKind::Counterbore
            | ReadingKind::CounterboreDepth
            | ReadingKind::Bevel
            | ReadingKind::TongSpace
            | ReadingKind::Stretch
            | ReadingKind::PinNeck
            | ReadingKind::ProfileGap
            | ReadingKind::CentreUpset
            | ReadingKind::Bow
            | ReadingKind::Length
            | ReadingKind::ReliefDiameter
            | ReadingKind::ReliefWidth
            | ReadingKind::BorebackDiameter => false,
        }
    }

    /// Whether some value of a reading would stop the joint, or let it run under a restriction alone.
    fn could_stop(&self, what: ReadingKind, part: Part) -> bool {
        let serves = |c: &Criterion| c.judges(part) && c.spec().take == Take::Reading(what);
        let by_limit = |c: Criterion| {
            NOTHING_AND_TOO_MUCH.iter().any(|q| {
                let value = Judged::Read(Amount::Length(*q));
                self.judge(Candidate::new(c, part, value)).is_ok_and(|j| j.stops())
            })
        };
        floor::weighs(what, part, &self.subject.nominal)
            || Criterion::ALL.iter().copied().filter(serves).any(by_limit)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    use crate::condition::fitness::{Fitness, Stands, answer, grounds};
    use crate::condition::subject::{Measured, Subject};
    use crate::condition::{Standards, assess, below_floor};
    use crate::model::{End, Method, Status};

    /// A joint with every method used, of which nothing was read.
    fn looked_at(component: Component) -> Subject {
        let mm = |mm: i64| Some(mm * 1_000_000);
        let mut subject = Subject::new(component);
        let nominal = &mut subject.nominal;
        (nominal.od, nominal.wall) = (mm(127), Some(9_194_800));
        (nominal.joint_od, nominal.joint_id) = (mm(168), mm(82));
        nominal.grade = Some("G105".to_owned());
        for end in [&mut nominal.pin, &mut nominal.box_] {
            end.name = Some("NC50".to_owned());
        }
        subject.methods = Method::ALL.to_vec();
        subject
    }

    fn fit(subject: &Subject, standards: &Standards) -> Option<Fitness> {
        let verdict = assess(subject, standards);
        let stands = Stands {
            status: Some(Status::InStock),
            below: below_floor(subject, &standards.findings),
            ..Stands::default()
        };
        answer(grounds(Some(&verdict), &stands))
    }

    fn read(what: ReadingKind, end: Option<End>, nm: i64) -> Measured {
        Measured { what, end, amount: Amount::Length(nm), at: None, doubtful: false }
    }

    fn worse(a: Option<Fitness>, than: Option<Fitness>) -> bool {
        let rank = |f: Option<Fitness>| match f {
            Some(Fitness::Fit) => 0,
            Some(Fitness::Restricted) => 1,
            None => 2,
            Some(Fitness::NotFit) => 3,
        };
        rank(a) > rank(than)
    }

    /// Of every component, every reading at every end and values over the whole range: where one of them
    /// is worse than another, nothing read is no better than "cannot be said".
    #[test]
    fn what_stops_a_joint_where_it_is_read_passes_nothing_where_it_is_not() {
        let standards = Standards::shipped();
        let values: Vec<i64> =
            (0..60).map(|n| n * 3_175_000).chain([50_000, 160_000, 10_000_000_000]).collect();
        let mut stopping = 0;
        for component in Component::ALL.iter().copied() {
            let bare = looked_at(component);
            for what in ReadingKind::ALL.iter().copied() {
                // They tell of a flaw that was found, or of what not every part has.
                let tells_of_more = |end: Option<End>| match what {
                    ReadingKind::FlawDepth
                    | ReadingKind::AdjacentWall
                    | ReadingKind::Benchmark
                    | ReadingKind::ElevatorGroove
                    | ReadingKind::SlipGroove => true,
                    ReadingKind::HardbandHeight => {
                        end != Some(End::Box)
                            || !matches!(
                                component,
                                Component::DrillPipe | Component::Pup | Component::HeavyWeight
                            )
                    }
                    _ => false,
                };
                let ends: Vec<Option<End>> = match what.spec().ends {
                    [] => vec![None],
                    ends => ends.iter().copied().map(Some).collect(),
                };
                let there = |e: &Option<End>| e.is_none_or(|e| bare.ends.contains(&e));
                for end in ends.into_iter().filter(there).filter(|e| !tells_of_more(*e)) {
                    let with = |nm| {
                        let mut subject = bare.clone();
                        subject.readings.push(read(what, end, nm));
                        fit(&subject, &standards)
                    };
                    let stops = values.iter().any(|nm| worse(with(*nm), None));
                    if stops {
                        stopping += 1;
                        let verdict = assess(&bare, &standards);
                        let part = end.map_or(Part::Tube, Part::from);
                        // One that measures the same may be asked for in its place.
                        let in_place: &[ReadingKind] = match what {
                            ReadingKind::SlipOd => &[ReadingKind::BodyOd],
                            ReadingKind::Shoulder => &[ReadingKind::JointOd],
                            _ => &[],
                        };
                        let asked = verdict.missing.iter().any(|m| {
                            let keeps = m.could_stop || m.critical && m.from_class.is_none();
                            let of = |w| m.wanted == Some(Wanted::Reading(w));
                            keeps && m.part == part && (of(what) || in_place.iter().any(|w| of(*w)))
                        });
                        assert!(asked, "{component} {part} {what}");
                        assert_eq!(fit(&bare, &standards), None);
                    }
                }
            }
        }
        assert!(stopping > 60, "{stopping}");
    }
}
