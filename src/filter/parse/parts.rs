//! Readers of what stands around a question: the field it is about, the records, the windows.

use pest::iterators::Pair;

use super::super::ast::{Day, Place, Placed, Records, Source, Window, WindowKind, Word};
use super::super::error::Span;
use super::{Builder, Rule, blank_source, span_of, word};

impl Builder<'_> {
    pub(super) fn source(&mut self, pair: Pair<'_, Rule>) -> Source {
        let mut source = blank_source(span_of(&pair));
        for child in pair.into_inner() {
            match child.as_rule() {
                Rule::name => {
                    for part in child.into_inner() {
                        if part.as_rule() == Rule::joint_dot {
                            source.of_joint = true;
                        } else {
                            source.name = word(&part);
                        }
                    }
                }
                Rule::place => source.place = place(child),
                Rule::band => return self.band(source, child),
                Rule::quantity if source.above.is_none() => {
                    source.above = Some(self.quantity(child));
                }
                Rule::quantity => source.up_to = Some(self.quantity(child)),
                _ => {}
            }
        }
        same_unit(source)
    }

    fn band(&mut self, mut source: Source, pair: Pair<'_, Rule>) -> Source {
        let limits = pair.into_inner().filter(|p| p.as_rule() == Rule::quantity);
        let mut limits = limits.map(|p| self.quantity(p)).collect::<Vec<_>>().into_iter();
        (source.above, source.up_to) = (limits.next(), limits.next());
        same_unit(source)
    }

    /// Record kind, condition and windows from what follows the keywords.
    pub(super) fn records<'i>(&mut self, pairs: impl Iterator<Item = Pair<'i, Rule>>) -> Records {
        let mut of = Records {
            kind: Word { text: String::new(), span: Span::default() },
            condition: None,
            windows: Vec::new(),
        };
        for child in pairs {
            match child.as_rule() {
                Rule::record => of.kind = word(&child),
                Rule::condition => of.condition = Some(Box::new(self.expr(child))),
                Rule::window => of.windows.push(self.window(child)),
                _ => {}
            }
        }
        of
    }

    pub(super) fn window(&mut self, pair: Pair<'_, Rule>) -> Window {
        let span = span_of(&pair);
        let kind = match pair.into_inner().next() {
            Some(inner) => self.window_kind(inner),
            None => WindowKind::AsOf(Day { date: None, less: None }),
        };
        Window { kind, span }
    }

    fn window_kind(&mut self, pair: Pair<'_, Rule>) -> WindowKind {
        let rule = pair.as_rule();
        let mut days = Vec::new();
        for child in pair.into_inner() {
            match child.as_rule() {
                Rule::anchor => {
                    let latest = child.clone().into_inner().any(|p| p.as_rule() == Rule::kw_latest);
                    let Records { kind, condition, .. } = self.records(child.into_inner());
                    return if rule == Rule::before {
                        WindowKind::BeforeRecord { latest, kind, condition }
                    } else {
                        WindowKind::SinceRecord { latest, kind, condition }
                    };
                }
                Rule::day => days.push(self.day(child)),
                Rule::quantity => return WindowKind::InLast(self.quantity(child)),
                _ => {}
            }
        }
        let last = days.pop().unwrap_or(Day { date: None, less: None });
        match (rule, days.pop()) {
            (Rule::since, _) => WindowKind::SinceDay(last),
            (Rule::that_time, _) => WindowKind::ThatTime,
            (Rule::before, _) => WindowKind::Before(last),
            (Rule::after, _) => WindowKind::After(last),
            (Rule::from_to, Some(first)) => WindowKind::FromTo(first, last),
            _ => WindowKind::AsOf(last),
        }
    }

    fn day(&mut self, pair: Pair<'_, Rule>) -> Day {
        let mut day = Day { date: None, less: None };
        for child in pair.into_inner() {
            match child.as_rule() {
                Rule::date => day.date = Some(word(&child)),
                Rule::quantity => day.less = Some(self.quantity(child)),
                _ => {}
            }
        }
        day
    }
}

/// The place on a joint that a rule of the grammar names.
fn place(pair: Pair<'_, Rule>) -> Option<Placed> {
    let span = span_of(&pair);
    let place = match pair.into_inner().next()?.as_rule() {
        Rule::pin_end => Place::PinEnd,
        Rule::middle => Place::Middle,
        Rule::box_end => Place::BoxEnd,
        _ => return None,
    };
    Some(Placed { place, span })
}

/// Gives the one of two limits that has no unit that of the other: `between 4 and 6 deg/100ft`.
fn same_unit(mut source: Source) -> Source {
    if let (Some(least), Some(most)) = (&mut source.above, &mut source.up_to) {
        if least.unit.is_none() {
            least.unit.clone_from(&most.unit);
        } else if most.unit.is_none() {
            most.unit.clone_from(&least.unit);
        }
    }
    source
}
