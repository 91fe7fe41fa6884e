//! When the joint's own row tells that a filter is decided for it, whichever way: then nobody need
//! go through its records to count it among the undecided.
//!
//! It rests on what the projections keep: where a joint's upper bound of a figure stands, every run of
//! it counts for certain and its figure is known.

use super::super::registry::{Absent, Field, Over, Stored, Table, field};
use super::super::sql::{Cond, sql};
use super::super::typed::{Node, Num, Phrase, Pred, Read, Records, Reference, Rule};

/// Holds only for joints for which a condition is decided; for one on records, only for joints of
/// which every record decides it.
pub(in super::super) fn decided(node: &Node) -> Cond {
    match &node.pred {
        // Whether something is unknown is known.
        Pred::Const(_) | Pred::Unknown(_) => Cond::Always,
        // So is who is kin, unless nobody can tell whose kin is asked for.
        Pred::Kin(kin) if kin.is_certain() => Cond::Always,
        Pred::Kin(_) => Cond::Never,
        Pred::All(terms) | Pred::Any(terms) => Cond::all(terms.iter().map(decided)),
        Pred::Not(inner) => decided(inner),
        Pred::Compare { left, right, .. } => Cond::all([left, right].map(|n| number(&n.num))),
        Pred::Between { value, low, high } => Cond::all([value, low, high].map(|n| number(&n.num))),
        Pred::OneOf { value, list } => Cond::all(std::iter::once(value).chain(list).map(phrase)),
        Pred::Like { value, .. } => phrase(value),
        Pred::Flag(place) | Pred::Holds { set: place, .. } => self::place(place),
        Pred::Rule(rule) => of_rule(rule),
        // What cannot be decided is no call; one that speaks leaves it open.
        Pred::Called(called) if called.open => Cond::Never,
        Pred::Called(_) => Cond::Always,
        Pred::Due(rules) => Cond::all(rules.iter().map(|r| of_rule(r))),
        Pred::History { of, .. } | Pred::InARow { of, .. } => records(of),
    }
}

fn of_rule(rule: &Rule) -> Cond {
    Cond::all(rule.scope.iter().chain([&rule.filter]).map(decided))
}

fn number(num: &Num) -> Cond {
    match num {
        Num::Const(_) => Cond::Always,
        Num::Read(read) => match read.field.stored {
            Stored::Between(lo, hi) if today(read) => Cond::When(sql!["(j.", lo, " = j.", hi, ")"]),
            Stored::Figure(name, _) if today(read) => figure(name),
            _ => column(read),
        },
        Num::Total(total) => match total.field.stored {
            Stored::Counter { lo, hi, .. } if total.window.is_all() && total.portion.is_none() => {
                Cond::When(sql!["(j.", lo, " = j.", hi, ")"])
            }
            _ => Cond::Never,
        },
        // Arithmetic may overflow, windows may reach beyond what is known.
        _ => Cond::Never,
    }
}

fn phrase(phrase: &Phrase) -> Cond {
    match phrase {
        Phrase::Known(_) | Phrase::None => Cond::Always,
        Phrase::Unknown => Cond::Never,
        Phrase::Of(of) => place(of),
    }
}

fn place(place: &Reference) -> Cond {
    match place {
        Reference::Read(read)
            if today(read)
                && (read.field.absent == Absent::None
                    || matches!(read.field.stored, Stored::Present(_) | Stored::Missing(_))) =>
        {
            Cond::Always
        }
        Reference::Read(read) => column(read),
        Reference::Pick(_) => Cond::Never,
    }
}

const fn today(read: &Read) -> bool {
    read.past.is_none() && read.portion.is_none()
}

/// A column of the joint that holds something.
fn column(read: &Read) -> Cond {
    match read.field.stored {
        Stored::Column(_) if today(read) && read.field.always_filled => Cond::Always,
        Stored::Column(col) if today(read) && col.table == Table::Joint => {
            Cond::When(sql!["(j.", col.name, " IS NOT NULL)"])
        }
        _ => Cond::Never,
    }
}

/// Records of the whole life, all of them known, none in doubt, and each decided by itself.
fn records(of: &Records) -> Cond {
    if !of.window.is_all() {
        return Cond::Never;
    }
    let each = of.condition.as_deref().map_or(Cond::Always, decided);
    let all_known = Cond::When(sql!["j.life_complete = 1"]);
    let no_clash =
        if of.record.may_conflict() { Cond::When(sql!["j.conflicted = 0"]) } else { Cond::Always };
    Cond::all([all_known, no_clash, each])
}

/// A figure that every run of the joint has.
fn figure(name: &'static str) -> Cond {
    match field(None, name).map(|f: &Field| f.stored) {
        Some(Stored::Counter { hi, over: Over::Runs(..), .. }) => {
            Cond::When(sql!["(j.", hi, " IS NOT NULL)"])
        }
        _ => Cond::Never,
    }
}
