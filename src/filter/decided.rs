//! Filters that every row decides, told without looking at one: nobody need count the undecided.

use super::compile::Compiled;
use super::registry::{Absent, Stored};
use super::typed::{Node, Num, Phrase, Place, Pred, Read, Rule};

/// True when a condition is certainly true or certainly false whatever a row holds. False says
/// nothing: then the book must be asked.
fn always(node: &Node) -> bool {
    match &node.pred {
        // Whether something is unknown is known.
        Pred::Const(_) | Pred::Unknown(_) => true,
        Pred::All(terms) | Pred::Any(terms) => terms.iter().all(always),
        Pred::Not(inner) => always(inner),
        Pred::Compare { left, right, .. } => number(&left.num) && number(&right.num),
        Pred::Between { value, low, high } => [value, low, high].iter().all(|n| number(&n.num)),
        Pred::OneOf { value, list } => phrase(value) && list.iter().all(phrase),
        Pred::Like { value, .. } => phrase(value),
        Pred::Flag(place) | Pred::Holds { set: place, .. } => match place {
            Place::Read(read) => value(read) || made(read),
            Place::Pick(_) => false,
        },
        Pred::Rule(rule) => of_rule(rule),
        Pred::Due(_, rules) => rules.iter().all(|r| of_rule(r)),
        Pred::History { .. } | Pred::Kin(_) => false,
    }
}

fn of_rule(rule: &Rule) -> bool {
    rule.scope.as_ref().is_none_or(always) && always(&rule.filter)
}

fn number(num: &Num) -> bool {
    match num {
        Num::Const(_) => true,
        Num::Read(read) => value(read),
        // Arithmetic may overflow, windows may reach beyond what is known.
        _ => false,
    }
}

fn phrase(phrase: &Phrase) -> bool {
    match phrase {
        Phrase::Known(_) | Phrase::None => true,
        Phrase::Of(Place::Read(read)) => {
            value(read) || (today(read) && read.field.absent == Absent::None)
        }
        Phrase::Of(Place::Pick(_)) => false,
    }
}

fn today(read: &Read) -> bool {
    read.past.is_none() && read.above.is_none()
}

fn value(read: &Read) -> bool {
    today(read) && read.field.always_filled()
}

/// A flag that is made of whether another column holds something.
fn made(read: &Read) -> bool {
    today(read) && matches!(read.field.stored, Stored::Present(_) | Stored::Missing(_))
}

impl Compiled {
    /// True when every joint or record certainly matches or certainly does not, whatever is known of
    /// it. False says nothing: then the book must be asked.
    pub fn is_decided(&self) -> bool {
        always(self.tree())
    }
}
