//! The meaning of a filter for one joint, worked out over its rows in plain steps. It shares with
//! the SQL only the checked tree, and tests compare the two on random books.

mod bounds;
mod field;
mod fold;
mod window;
mod words;

use crate::model::same_name;
use crate::schema::Value;

use super::ast::{Cmp, Quant, Which};
use super::facts::{Facts, Line, cell};
use super::registry::{Record, Table};
use super::typed::{Kin, Link, Node, Num, Operand, Phrase, Pred, Records, Rule};

pub use bounds::Bounds;
pub(super) use window::{Edges, Member, one_of};
pub(super) use words::Said;

/// Whether a condition holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Verdict {
    /// For certain.
    True,
    False,
    /// Nobody can tell.
    Unknown,
}

impl Verdict {
    pub(super) const fn of(truth: bool) -> Self {
        if truth { Self::True } else { Self::False }
    }

    pub(super) const fn known(truth: Option<bool>) -> Self {
        match truth {
            Some(truth) => Self::of(truth),
            None => Self::Unknown,
        }
    }

    #[must_use]
    const fn not(self) -> Self {
        match self {
            Self::True => Self::False,
            Self::False => Self::True,
            Self::Unknown => Self::Unknown,
        }
    }

    #[must_use]
    pub(super) fn and(self, other: Self) -> Self {
        match (self, other) {
            (Self::False, _) | (_, Self::False) => Self::False,
            (Self::True, Self::True) => Self::True,
            _ => Self::Unknown,
        }
    }

    #[must_use]
    fn or(self, other: Self) -> Self {
        self.not().and(other.not()).not()
    }

    pub const fn word(self) -> &'static str {
        match self {
            Self::True => "true",
            Self::False => "false",
            Self::Unknown => "unknown",
        }
    }
}

/// The record in scope.
#[derive(Clone, Copy, Debug)]
pub(super) struct Row<'f> {
    pub(super) record: Record,
    pub(super) line: &'f Line,
    pub(super) edges: &'f Edges,
}

/// Evaluates conditions over one joint's facts.
#[derive(Clone, Copy, Debug)]
pub(super) struct Eval<'f> {
    pub(super) facts: &'f Facts,
    pub(super) now: i64,
}

impl<'f> Eval<'f> {
    pub(super) fn truth(&self, node: &Node, row: Option<Row<'_>>) -> Verdict {
        match &node.pred {
            Pred::Const(truth) => Verdict::of(*truth),
            Pred::All(terms) => terms.iter().fold(Verdict::True, |v, t| v.and(self.truth(t, row))),
            Pred::Any(terms) => terms.iter().fold(Verdict::False, |v, t| v.or(self.truth(t, row))),
            Pred::Not(inner) => self.truth(inner, row).not(),
            Pred::Compare { op, left, near: Some(near), .. } => {
                let equal = self.said([&left.num], row, &|[value]| bounds::near(&value, near));
                if *op == Cmp::Ne { equal.not() } else { equal }
            }
            Pred::Compare { op, left, right, near: None } => {
                self.said([&left.num, &right.num], row, &|[a, b]| bounds::compare(*op, &a, &b))
            }
            Pred::Between { value, low, high } => {
                self.said([&value.num, &low.num, &high.num], row, &|[value, least, most]| {
                    bounds::compare(Cmp::Ge, &value, &least).and(bounds::compare(
                        Cmp::Le,
                        &value,
                        &most,
                    ))
                })
            }
            Pred::OneOf { value, list } => {
                let several = matches!(value, Phrase::Of(place) if place.field().several);
                let list: Vec<(Said, bool)> = list
                    .iter()
                    .map(|item| {
                        (self.phrase(item, row), several && matches!(item, Phrase::Known(_)))
                    })
                    .collect();
                agreed(self.phrases(value, row).iter().map(|value| {
                    let is = |(item, one): &(Said, bool)| {
                        if *one { words::holds(value, item) } else { words::equal(value, item) }
                    };
                    list.iter().fold(Verdict::False, |v, item| v.or(is(item)))
                }))
            }
            Pred::Like { value, pattern } => {
                agreed(self.phrases(value, row).iter().map(|said| words::like(said, pattern)))
            }
            Pred::Flag(place) => agreed(
                self.all_bits(place, row).into_iter().map(|n| Verdict::known(n.map(|n| n != 0))),
            ),
            Pred::Holds { set, bits } => agreed(
                self.all_bits(set, row)
                    .into_iter()
                    .map(|n| Verdict::known(n.map(|n| n & bits != 0))),
            ),
            Pred::Unknown(value) => Verdict::of(self.is_unknown(value, row)),
            Pred::History { quant, of } => self.history(*quant, of),
            Pred::InARow { many, of } => self.in_a_row(*many, of),
            Pred::Rule(rule) => self.rule(rule),
            Pred::Due(rules) => rules.iter().fold(Verdict::False, |v, rule| v.or(self.rule(rule))),
            Pred::Called(called) => {
                let speaks = called.rules.iter().any(|r| self.rule(r) == Verdict::True);
                if speaks && called.open { Verdict::Unknown } else { Verdict::of(speaks) }
            }
            Pred::Kin(kin) => self.kin(kin),
        }
    }

    pub(super) fn rule(&self, rule: &Rule) -> Verdict {
        let scope = rule.scope.as_ref().map_or(Verdict::True, |s| self.truth(s, None));
        scope.and(self.truth(&rule.filter, None))
    }

    /// What is said of some numbers, for each life that the joint may have had: what records tell is
    /// gone through one by one.
    fn said<const N: usize>(
        &self,
        numbers: [&Num; N],
        row: Option<Row<'_>>,
        say: &dyn Fn([Bounds; N]) -> Verdict,
    ) -> Verdict {
        let mut lives: Vec<Vec<Bounds>> = vec![Vec::new()];
        for part in Num::told_apart(&numbers).unwrap_or_default() {
            let each = self.alternatives(part, row);
            let with = |told: &Vec<Bounds>| -> Vec<Vec<Bounds>> {
                each.iter().map(|one| [told.as_slice(), &[*one]].concat()).collect()
            };
            lives = lives.iter().flat_map(with).collect();
        }
        agreed(lives.into_iter().map(|told| {
            let mut told = told.into_iter();
            say(numbers.map(|number| self.number_of(number, row, &mut told)))
        }))
    }

    fn is_unknown(&self, value: &Operand, row: Option<Row<'_>>) -> bool {
        match value {
            Operand::Number(number) => !self.number(&number.num, row).is_pinned(),
            Operand::Reference(place) => self.place_is_unknown(place, row),
            Operand::Condition(node) => self.truth(node, row) == Verdict::Unknown,
        }
    }

    fn history(&self, quant: Quant, of: &Records) -> Verdict {
        if quant == Quant::No {
            return self.history(Quant::Any, of).not();
        }
        agreed(self.beginnings(&of.window).iter().map(|edges| self.in_one(quant, of, edges)))
    }

    /// Whether so many records follow each other that all meet the condition.
    fn in_a_row(&self, many: i64, of: &Records) -> Verdict {
        agreed(self.beginnings(&of.window).iter().map(|edges| {
            let mut members = self.members(of, edges);
            members.retain(|m| m.inside != Verdict::False);
            let (mut sure, mut perhaps, mut before) = (0, 0, None);
            let mut may = false;
            for m in &members {
                let (start, end) = m.times(of.record);
                let unseen = before.is_some_and(|before| self.gap_between(before, start));
                if m.passes != Verdict::True || unseen {
                    sure = 0;
                }
                sure += i64::from(m.inside.and(m.passes) == Verdict::True);
                if sure >= many {
                    return Verdict::True;
                }
                if m.passes != Verdict::False {
                    perhaps += 1;
                } else if m.inside == Verdict::True {
                    perhaps = 0;
                }
                may |= perhaps >= many;
                before = Some(end);
            }
            if may || !self.is_complete(edges) { Verdict::Unknown } else { Verdict::False }
        }))
    }

    /// A question to the records of a window that begins somewhere.
    fn in_one(&self, quant: Quant, of: &Records, edges: &Edges) -> Verdict {
        let members = self.members(of, edges);
        let complete = self.is_complete(edges);
        match quant {
            Quant::Any | Quant::No => {
                if members.iter().any(|m| m.inside.and(m.passes) == Verdict::True) {
                    Verdict::True
                } else if complete
                    && members.iter().all(|m| m.inside.and(m.passes) == Verdict::False)
                {
                    Verdict::False
                } else {
                    Verdict::Unknown
                }
            }
            Quant::Every => every(&members, complete),
            Quant::One(which) => self.utmost(of, edges, members, which),
        }
    }

    fn utmost(
        &self,
        of: &Records,
        edges: &Edges,
        members: Vec<Member<'f>>,
        which: Which,
    ) -> Verdict {
        let (found, sure) = one_of(members, which, |m| m.inside);
        let after = which.from_the_end();
        let known = match &sure {
            Some(member) => self.nothing_beyond(edges, member.edge(of.record, after), after),
            None => self.is_complete(edges),
        };
        if !known {
            // What nobody saw may be the one.
            return Verdict::Unknown;
        }
        if sure.is_some() && found.iter().all(|m| m.passes == Verdict::True) {
            Verdict::True
        } else if found.iter().all(|m| m.passes == Verdict::False) {
            Verdict::False
        } else {
            Verdict::Unknown
        }
    }

    /// Kin of a joint that is certainly one of those, or of none that may be.
    fn kin(&self, kin: &Kin) -> Verdict {
        let own = self.facts.joint("joint");
        let is_in = |joints: &[i64]| matches!(own, Value::Int(n) if joints.contains(n));
        if is_in(&kin.joints) {
            Verdict::False
        } else if !is_in(&kin.perhaps) && !self.links(kin, &kin.joints).is_empty() {
            Verdict::True
        } else if self.links(kin, &kin.perhaps).is_empty() {
            Verdict::False
        } else {
            Verdict::Unknown
        }
    }

    /// What links this joint to some others.
    pub(super) fn links(&self, kin: &Kin, others: &[i64]) -> Vec<Link> {
        let own = |table: Table, column: &'static str| -> Vec<&Value> {
            self.facts.lines(table).iter().map(|l| cell(table, l, column)).collect()
        };
        kin.links
            .iter()
            .copied()
            .filter(|link| {
                let mine = match link {
                    Link::Heat => own(Table::Joint, "heat"),
                    Link::ToolJointHeat => {
                        [own(Table::Joint, "pin_heat"), own(Table::Joint, "box_heat")].concat()
                    }
                    Link::Run => own(Table::JointRun, "run"),
                    Link::Gauge => own(Table::Makeup, "gauge"),
                    Link::Ticket => own(Table::Repair, "ticket"),
                    Link::Order => own(Table::Joint, "mill_order"),
                    Link::WeldLot => own(Table::Joint, "weld_lot"),
                    Link::Neighbour => own(Table::Joint, "joint"),
                };
                self.facts
                    .linked(others, *link)
                    .iter()
                    .flatten()
                    .any(|theirs| mine.iter().any(|own| alike(own, theirs)))
            })
            .collect()
    }
}

/// What all of them say alike.
fn agreed(verdicts: impl Iterator<Item = Verdict>) -> Verdict {
    verdicts.reduce(|a, b| if a == b { a } else { Verdict::Unknown }).unwrap_or(Verdict::Unknown)
}

/// Whether two joints share a value; a name is one whatever its case and blanks.
fn alike(own: &Value, theirs: &Value) -> bool {
    match (own, theirs) {
        (Value::Null, _) | (_, Value::Null) => false,
        (Value::Text(a), Value::Text(b)) => same_name(a, b),
        (a, b) => a == b,
    }
}

/// True when there is one and each passes; false when one fails, or when none can pass.
fn every(members: &[Member<'_>], complete: bool) -> Verdict {
    let sure = |m: &Member<'_>| m.inside == Verdict::True;
    let out = |m: &Member<'_>| m.inside == Verdict::False;
    if members.iter().any(|m| sure(m) && m.passes == Verdict::False) {
        return Verdict::False;
    }
    if !complete {
        return Verdict::Unknown;
    }
    if members.iter().all(|m| out(m) || m.passes == Verdict::False) {
        return Verdict::False;
    }
    if members.iter().any(sure) && members.iter().all(|m| out(m) || m.passes == Verdict::True) {
        return Verdict::True;
    }
    Verdict::Unknown
}
