//! A filter explained for one joint: the tree with what was found, the limit, the truth, the
//! entries that the values came from and what is missing.

mod found;
mod show;

use super::ast::Quant;
use super::eval::{Edges, Eval, Member, Row, Verdict, one_of};
use super::facts::{cell, int};
use super::registry::{Record, Table};
use super::typed::{Node, Num, Number, Operand, Phrase, Pred, Records, Reference, Rule, Window};
use super::walk::{Visit, walk_num};

pub use found::{Found, Thing};
pub use show::Manner;

/// Rules of one call that are all shown in full.
const MANY_RULES: usize = 4;

/// Most records shown for one question.
const SHOWN: usize = 3;

/// A part of a filter, explained.
#[derive(Clone, Debug, PartialEq)]
pub struct Explained {
    pub text: String,
    pub verdict: Verdict,
    /// What was found for each value that it speaks of.
    pub found: Vec<Found>,
    /// The numbers that are written out, in the measure of what they are compared with.
    pub limits: Vec<Found>,
    /// For a question to records: how they answer, and the ones that decide.
    pub answers: Option<Answers>,
    /// The parts that it is made of.
    pub parts: Vec<Explained>,
    /// Why nobody can tell.
    pub wants: Vec<String>,
}

/// How the records of a question answer.
#[derive(Clone, Debug, PartialEq)]
pub struct Answers {
    pub record: Record,
    /// In the window, for certain or perhaps.
    pub asked: usize,
    /// For which the condition holds.
    pub yes: usize,
    /// For which it does not.
    pub no: usize,
    /// For which nobody can tell, or that may not count.
    pub open: usize,
    /// Those that decide, or leave it open.
    pub shown: Vec<Answer>,
}

/// A record and how it answers.
#[derive(Clone, Debug, PartialEq)]
pub struct Answer {
    /// Its name, for a run; else its kind.
    pub name: String,
    /// When it was; a run when it ended.
    pub at: i64,
    /// Entry that it came from.
    pub entry: Option<i64>,
    /// Whether it meets the condition.
    pub verdict: Verdict,
    /// True when nobody can tell whether it counts at all.
    pub doubtful: bool,
    /// The condition, explained for it.
    pub condition: Option<Box<Explained>>,
}

impl Explained {
    /// Places of the entries that it speaks of.
    pub fn entries(&self) -> std::collections::BTreeSet<i64> {
        let mut out = std::collections::BTreeSet::new();
        self.gather(&mut out);
        out
    }

    fn gather(&self, out: &mut std::collections::BTreeSet<i64>) {
        self.found.iter().chain(&self.limits).for_each(|f| out.extend(&f.entries));
        self.parts.iter().for_each(|p| p.gather(out));
        for answer in self.answers.iter().flat_map(|a| &a.shown) {
            out.extend(answer.entry);
            answer.condition.iter().for_each(|c| c.gather(out));
        }
    }
}

impl Eval<'_> {
    pub(super) fn explain(&self, node: &Node, row: Option<Row<'_>>) -> Explained {
        let mut out = Explained {
            text: node.label(),
            verdict: self.truth(node, row),
            found: Vec::new(),
            limits: Vec::new(),
            answers: None,
            parts: Vec::new(),
            wants: Vec::new(),
        };
        match &node.pred {
            Pred::Const(_) => {}
            Pred::All(terms) | Pred::Any(terms) => {
                out.parts = terms.iter().map(|t| self.explain(t, row)).collect();
            }
            Pred::Not(inner) => self.explain_not(&mut out, inner, row),
            Pred::Compare { left, right, .. } => self.numbers(&mut out, &[left, right], row),
            Pred::Between { value, low, high } => self.numbers(&mut out, &[value, low, high], row),
            Pred::OneOf { value, list } => {
                for phrase in std::iter::once(value).chain(list) {
                    self.say(&mut out, phrase, row);
                }
            }
            Pred::Like { value, .. } => self.say(&mut out, value, row),
            Pred::Flag(place) | Pred::Holds { set: place, .. } => self.place(&mut out, place, row),
            Pred::Unknown(value) => match value {
                Operand::Number(number) => self.numbers(&mut out, &[number], row),
                Operand::Reference(place) => self.place(&mut out, place, row),
                Operand::Condition(node) => out.parts.push(self.explain(node, row)),
            },
            Pred::History { quant, of } => self.ask(&mut out, *quant, of),
            Pred::InARow { of, .. } => self.ask(&mut out, Quant::Any, of),
            Pred::Rule(rule) => out.parts = self.rule_parts(rule),
            Pred::Due(rules) => {
                out.parts = rules.iter().map(|rule| self.explain_rule(rule)).collect();
                // Where many rules make a call, those that decide are shown in full; `why` of a rule's
                // name shows any.
                let many = out.parts.len() > MANY_RULES;
                for part in out.parts.iter_mut().filter(|_| many) {
                    if out.verdict == Verdict::False || part.verdict != out.verdict {
                        part.found.clear();
                        part.parts.clear();
                    }
                }
            }
            Pred::Called(called) => {
                let speaks = called.rules.iter().map(|rule| self.explain_rule(rule));
                out.parts = speaks.filter(|part| part.verdict == Verdict::True).collect();
            }
            Pred::Kin(kin) => {
                let links = if out.verdict == Verdict::True {
                    self.links(kin, &kin.joints)
                } else {
                    Vec::new()
                };
                let words: Vec<&str> = links.iter().map(|l| l.words()).collect();
                let thing =
                    if words.is_empty() { Thing::None } else { Thing::Text(words.join(", ")) };
                out.found.push(Found { label: "shares".to_owned(), thing, entries: Vec::new() });
            }
        }
        if out.verdict == Verdict::Unknown {
            self.wants_of(&mut out);
        } else {
            out.wants.clear();
        }
        out
    }

    /// `not x` shows what x shows, so that nothing stands there twice.
    fn explain_not(&self, out: &mut Explained, inner: &Node, row: Option<Row<'_>>) {
        let under = self.explain(inner, row);
        let simple = under.parts.is_empty();
        if simple {
            out.found = under.found;
            out.limits = under.limits;
            out.answers = under.answers;
            out.wants = under.wants;
        } else {
            out.parts.push(under);
        }
    }

    fn explain_rule(&self, rule: &Rule) -> Explained {
        Explained {
            text: format!("rule {}", rule.name),
            verdict: self.rule(rule),
            found: Vec::new(),
            limits: Vec::new(),
            answers: None,
            parts: self.rule_parts(rule),
            wants: Vec::new(),
        }
    }

    fn rule_parts(&self, rule: &Rule) -> Vec<Explained> {
        rule.scope.iter().chain([&rule.filter]).map(|n| self.explain(n, None)).collect()
    }

    fn numbers(&self, out: &mut Explained, numbers: &[&Number], row: Option<Row<'_>>) {
        // The first field's measure is the one in which the others are shown.
        let measure = numbers.iter().find_map(|n| n.measure);
        for number in numbers {
            let bounds = self.number(&number.num, row);
            if matches!(number.num, Num::Const(_)) {
                let date = number.dim == super::typed::Dim::Date;
                let thing = Thing::Number { bounds, measure, date };
                let label = number.label.to_string();
                out.limits.push(Found { label, thing, entries: Vec::new() });
                continue;
            }
            let found = Found {
                label: number.label.to_string(),
                thing: Thing::Number {
                    bounds,
                    measure: number.measure.or(measure),
                    date: number.dim == super::typed::Dim::Date,
                },
                entries: self.entries_of_num(&number.num, row),
            };
            if !bounds.is_pinned() {
                out.wants.extend(self.lacks_num(number, bounds, row));
            }
            out.found.push(found);
            walk_num(&number.num, &mut |visit| {
                let window = match visit {
                    Visit::Records(of) => &of.window,
                    Visit::Total(total) => &total.window,
                    Visit::Node(_) => return,
                };
                out.found.extend(self.never(window));
            });
        }
    }

    /// Records at which a window should begin that never were: it begins with the joint.
    fn never(&self, window: &Window) -> Vec<Found> {
        let never = window.anchors.iter().filter(|a| self.never_was(a, window.as_of));
        never
            .map(|anchor| Found {
                label: "counted from".to_owned(),
                thing: Thing::Text(format!("entry: there never was a {}", anchor.label())),
                entries: Vec::new(),
            })
            .collect()
    }

    fn say(&self, out: &mut Explained, phrase: &Phrase, row: Option<Row<'_>>) {
        if let Phrase::Of(place) = phrase {
            self.place(out, place, row);
        }
    }

    fn place(&self, out: &mut Explained, place: &Reference, row: Option<Row<'_>>) {
        let thing = self.thing(place, row);
        if thing == Thing::Unknown {
            out.wants.extend(self.lacks_place(place, row));
        }
        out.found.push(Found {
            label: place_label(place),
            thing,
            entries: self.entries_of_place(place, row),
        });
    }

    fn ask(&self, out: &mut Explained, quant: Quant, of: &Records) {
        let edges = self.edges(&of.window);
        let members: Vec<Member<'_>> =
            self.members(of, &edges).into_iter().filter(|m| m.inside != Verdict::False).collect();
        let how = |m: &Member<'_>| m.inside.and(m.passes);
        let count = |v: Verdict| members.iter().filter(|m| how(m) == v).count();
        let (yes, no) = (count(Verdict::True), count(Verdict::False));
        out.found.extend(self.never(&of.window));
        let shown = telling(quant, out.verdict, &members);
        if out.verdict == Verdict::Unknown {
            if !self.is_complete(&edges) {
                out.wants.extend(self.gap_words(&edges));
            }
            if members.iter().any(|m| m.inside == Verdict::Unknown) {
                out.wants.push(format!("nobody can tell which {}s count", of.record));
            }
        }
        out.answers = Some(Answers {
            record: of.record,
            asked: members.len(),
            yes,
            no,
            open: members.len() - yes - no,
            shown: shown.iter().map(|m| self.answer(of, &edges, m)).collect(),
        });
    }

    fn answer(&self, of: &Records, edges: &Edges, member: &Member<'_>) -> Answer {
        let record = of.record;
        let row = Row { record, line: member.line, edges };
        let text = |table, c| match cell(table, member.line, c) {
            crate::schema::Value::Text(t) => Some(t.clone()),
            _ => None,
        };
        let name = match record {
            Record::Run => text(Table::Run, "name"),
            Record::Hire => text(Table::Hire, "name"),
            _ => None,
        };
        let entry = if record == Record::Run { "run" } else { "entry" };
        Answer {
            name: name.unwrap_or_else(|| record.to_string()),
            at: member.instant(record),
            entry: int(cell(record.table(), member.line, entry)),
            verdict: member.passes,
            doubtful: member.inside == Verdict::Unknown,
            condition: of.condition.as_ref().map(|c| Box::new(self.explain(c, Some(row)))),
        }
    }

    /// Gathers the wants of the parts; several parts may lack one thing.
    fn wants_of(&self, out: &mut Explained) {
        let mut wants = std::mem::take(&mut out.wants);
        for part in &out.parts {
            wants.extend(part.wants.iter().cloned());
        }
        for answer in out.answers.iter().flat_map(|a| &a.shown) {
            if let Some(condition) = &answer.condition
                && answer.verdict == Verdict::Unknown
            {
                wants
                    .extend(condition.wants.iter().map(|w| format!("{w}, of the {}", answer.name)));
            }
        }
        let mut seen = Vec::new();
        wants.retain(|w| {
            let new = !seen.contains(w);
            seen.push(w.clone());
            new
        });
        out.wants = wants;
    }
}

/// The records that decide a question, or leave it open: a few of them, the latest first.
fn telling<'f>(quant: Quant, verdict: Verdict, members: &[Member<'f>]) -> Vec<Member<'f>> {
    let how = |m: &Member<'_>| m.inside.and(m.passes);
    let latest = || members.iter().rev().copied();
    let with =
        |v: Verdict| -> Vec<Member<'f>> { latest().filter(|m| how(m) == v).take(SHOWN).collect() };
    match quant {
        Quant::Any | Quant::No => {
            let (yes, open) = (with(Verdict::True), with(Verdict::Unknown));
            if !yes.is_empty() {
                yes
            } else if !open.is_empty() {
                open
            } else {
                latest().take(1).collect()
            }
        }
        Quant::Every => match verdict {
            Verdict::False if !with(Verdict::False).is_empty() => with(Verdict::False),
            Verdict::Unknown if !with(Verdict::Unknown).is_empty() => with(Verdict::Unknown),
            _ => latest().take(1).collect(),
        },
        Quant::One(which) => {
            let (may_be, _) = one_of(members.to_vec(), which, |m| m.inside);
            may_be.into_iter().take(SHOWN).collect()
        }
    }
}

fn place_label(place: &Reference) -> String {
    match place {
        Reference::Read(read) => read.label.to_string(),
        Reference::Pick(pick) => {
            format!("{} of {} {}", pick.read.label, pick.which.word(), pick.of.record)
        }
    }
}
