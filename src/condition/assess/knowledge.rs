//! What is known and what is not: the search for cracks, and everything a part needs before it can
//! be passed.

use crate::model::{Component, Method, ReadingKind, Scope};

use crate::condition::needs::{Need, Wanted};
use crate::condition::verdict::{Lack, Missing, Search};
use crate::condition::words::Part;

use super::{Assessment, looks};

/// Whether something is there: now, or from before with its age.
pub(super) enum Known {
    Now,
    Earlier(i64),
    No(Lack),
}

/// Scopes in which a component can be searched for cracks, each with its part.
pub fn crack_scopes(component: Component) -> Vec<(Scope, Part)> {
    let tube = [
        (Scope::BodyCracks, Part::Tube),
        (Scope::SlipCracks, Part::Tube),
        (Scope::UpsetCracks, Part::Tube),
    ];
    let ends = [(Scope::PinCracks, Part::Pin), (Scope::BoxCracks, Part::Box)];
    let heat = [(Scope::HeatChecks, Part::Box)];
    match component {
        Component::DrillPipe | Component::Pup => tube.into_iter().chain(ends).chain(heat).collect(),
        Component::HeavyWeight => ends.into_iter().chain(heat).collect(),
        _ => ends.to_vec(),
    }
}

impl Assessment<'_> {
    /// Scopes in which this joint can be searched for cracks.
    pub(super) fn crack_scopes(&self) -> Vec<(Scope, Part)> {
        let parts = self.parts();
        crack_scopes(self.subject.component)
            .into_iter()
            .filter(|(_, p)| parts.contains(p))
            .collect()
    }

    pub(super) fn search_for_cracks(&mut self) {
        for (scope, _) in self.crack_scopes() {
            let search = if self.cracked.contains(&scope) {
                Search::Found
            } else if self.covered.contains(&scope) {
                Search::NoneFound
            } else {
                self.earlier_scope(scope).map_or(Search::NotSearched, Search::NoneFoundEarlier)
            };
            self.cracks.push((scope, search));
        }
    }

    fn earlier_scope(&self, scope: Scope) -> Option<i64> {
        self.subject.earlier.scopes.iter().filter(|(s, _)| *s == scope).map(|(_, age)| *age).min()
    }

    /// Asks for everything that the parts of this component need.
    pub(super) fn ask_for_the_rest(&mut self) {
        let parts = self.parts();
        let all = self.standards.needs.of(self.subject.component);
        self.all_open |= all.clone().next().is_none();
        for need in all.filter(|n| parts.contains(&n.part)) {
            for state in self.states(need.part) {
                state.judged |= need.critical;
            }
            match self.known(need) {
                Known::Now => {}
                Known::Earlier(age) => {
                    self.carried.push((need.part, need.wanted, age));
                }
                Known::No(lack) => {
                    let by = self.could_be_known_by(need.wanted);
                    self.note_missing(Missing {
                        part: need.part,
                        what: need.wanted.text(),
                        wanted: Some(need.wanted),
                        lack,
                        critical: need.critical,
                        could_stop: false,
                        from_class: need.from_class,
                        by,
                        why: need.why.clone(),
                    });
                }
            }
        }
    }

    fn could_be_known_by(&self, wanted: Wanted) -> Vec<Method> {
        match wanted {
            Wanted::Reading(kind) => self.methods_for_reading(kind),
            Wanted::Look(method) => vec![method],
            Wanted::Scope(scope) => self.methods_for_scope(scope),
        }
    }

    pub(super) fn methods_for_scope(&self, scope: Scope) -> Vec<Method> {
        self.standards.capabilities.methods_for_scope(scope, self.subject.component)
    }

    pub(super) fn methods_for_reading(&self, what: ReadingKind) -> Vec<Method> {
        self.standards.capabilities.methods_for_reading(what)
    }

    fn known(&self, need: &Need) -> Known {
        match need.wanted {
            Wanted::Reading(kind) => self.reading_known(kind, need.part),
            Wanted::Scope(scope) => self.scope_known(scope),
            Wanted::Look(method) => {
                let scope = match need.part {
                    Part::Pin => Scope::Pin,
                    Part::Box => Scope::Box,
                    Part::Tube | Part::Joint => Scope::Visual,
                };
                let looked =
                    looks(self.subject, &self.standards.capabilities).any(|(methods, covered)| {
                        covered.contains(&scope)
                            && (methods.is_empty() || methods.contains(&method))
                    });
                if looked {
                    Known::Now
                } else {
                    self.earlier_scope(scope).map_or(Known::No(Lack::NotMeasured), Known::Earlier)
                }
            }
        }
    }

    pub(super) fn scope_known(&self, scope: Scope) -> Known {
        if self.covered.contains(&scope) {
            Known::Now
        } else {
            self.earlier_scope(scope).map_or(Known::No(Lack::NotMeasured), Known::Earlier)
        }
    }

    pub(super) fn reading_known(&self, kind: ReadingKind, part: Part) -> Known {
        if self.only_doubtful(kind, part) {
            return Known::No(Lack::Doubtful);
        }
        let values = self.values(kind, part);
        match values.first() {
            None => Known::No(Lack::NotMeasured),
            Some(_) if values.iter().any(|(_, age)| age.is_none()) => Known::Now,
            Some((_, age)) => Known::Earlier(age.unwrap_or(0)),
        }
    }
}
