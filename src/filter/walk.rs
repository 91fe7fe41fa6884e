//! One walk over a checked tree, for those that look for something in it.

use crate::schema::JointRunRow;

use super::registry::{Stored, Table};
use super::typed::{
    Anchor, Called, Node, Num, Operand, Phrase, Pred, Records, Reference, Rule, Total, Window,
};

/// Every condition in a filter, those of records and rules included.
pub(super) fn visit_nodes<'n>(node: &'n Node, see: &mut dyn FnMut(&'n Node)) {
    walk(node, &mut |visit| {
        if let Visit::Node(node) = visit {
            see(node);
        }
    });
}

/// Whether a condition asks which runs are in conflict. That is asked of the book, in which such runs
/// stand whether or not they took place.
pub(super) fn is_of_the_book(condition: Option<&Node>) -> bool {
    let mut found = false;
    if let Some(node) = condition {
        visit_nodes(node, &mut |node| {
            let (Pred::Flag(asked) | Pred::Unknown(Operand::Reference(asked))) = &node.pred else {
                return;
            };
            found |= matches!(asked, Reference::Read(read)
                if matches!(read.field.stored, Stored::Column(c)
                    if c.table == Table::JointRun && c.name == JointRunRow::conflicting().name()));
        });
    }
    found
}

/// What a walk comes by.
pub(super) enum Visit<'n> {
    Node(&'n Node),
    Records(&'n Records),
    Total(&'n Total),
}

/// Walks all conditions, records and counters of a filter.
pub(super) fn walk<'n>(node: &'n Node, see: &mut dyn FnMut(Visit<'n>)) {
    see(Visit::Node(node));
    match &node.pred {
        Pred::Const(_) | Pred::Kin(_) => {}
        Pred::All(terms) | Pred::Any(terms) => terms.iter().for_each(|t| walk(t, see)),
        Pred::Not(inner) => walk(inner, see),
        Pred::Compare { left, right, .. } => {
            walk_num(&left.num, see);
            walk_num(&right.num, see);
        }
        Pred::Between { value, low, high } => {
            [value, low, high].into_iter().for_each(|n| walk_num(&n.num, see));
        }
        Pred::OneOf { value, list } => {
            for phrase in std::iter::once(value).chain(list) {
                if let Phrase::Of(place) = phrase {
                    walk_place(place, see);
                }
            }
        }
        Pred::Like { value, .. } => {
            if let Phrase::Of(place) = value {
                walk_place(place, see);
            }
        }
        Pred::Flag(place) | Pred::Holds { set: place, .. } => walk_place(place, see),
        Pred::Unknown(value) => match value {
            Operand::Number(n) => walk_num(&n.num, see),
            Operand::Reference(p) => walk_place(p, see),
            Operand::Condition(n) => walk(n, see),
        },
        Pred::History { of, .. } | Pred::InARow { of, .. } => walk_records(of, see),
        Pred::Rule(rule) => walk_rule(rule, see),
        Pred::Due(rules) | Pred::Called(Called { rules, .. }) => {
            rules.iter().for_each(|r| walk_rule(r, see));
        }
    }
}

/// Records at which windows of a filter begin, by its own words: those of the rules that it names are
/// left to whoever asks for a rule.
pub(super) fn own_anchors(node: &Node) -> Vec<(&Anchor, &Window)> {
    let mut rules = Vec::new();
    let mut out = Vec::new();
    walk(node, &mut |visit| {
        let window = match visit {
            Visit::Node(Node { pred: Pred::Rule(rule), .. }) => return rules.push(&**rule),
            Visit::Node(Node {
                pred: Pred::Due(due) | Pred::Called(Called { rules: due, .. }),
                ..
            }) => {
                return rules.extend(due.iter().map(|rule| &**rule));
            }
            Visit::Node(_) => return,
            Visit::Records(of) => &of.window,
            Visit::Total(total) => &total.window,
        };
        out.extend(window.anchors.iter().map(|anchor| (anchor, window)));
    });
    let mut of_rules = Vec::new();
    for rule in rules {
        walk_rule(rule, &mut |visit| match visit {
            Visit::Node(_) => {}
            Visit::Records(of) => of_rules.push(std::ptr::from_ref(&of.window)),
            Visit::Total(total) => of_rules.push(std::ptr::from_ref(&total.window)),
        });
    }
    out.retain(|(_, window)| !of_rules.contains(&std::ptr::from_ref(*window)));
    out
}

fn walk_rule<'n>(rule: &'n Rule, see: &mut dyn FnMut(Visit<'n>)) {
    rule.scope.iter().chain([&rule.filter]).for_each(|n| walk(n, see));
}

pub(super) fn walk_num<'n>(num: &'n Num, see: &mut dyn FnMut(Visit<'n>)) {
    match num {
        Num::Const(_) | Num::Given(..) | Num::Read(_) => {}
        Num::Total(total) => {
            see(Visit::Total(total));
            walk_window(&total.window, see);
        }
        Num::Count(of) | Num::Fold { of, .. } => walk_records(of, see),
        Num::Pick(pick) => walk_records(&pick.of, see),
        Num::Negative(inner) => walk_num(inner, see),
        Num::Sum(terms) => terms.iter().for_each(|t| walk_num(t, see)),
        Num::Product(factors) => factors.iter().for_each(|(_, f)| walk_num(f, see)),
    }
}

pub(super) fn walk_place<'n>(place: &'n Reference, see: &mut dyn FnMut(Visit<'n>)) {
    if let Reference::Pick(pick) = place {
        walk_records(&pick.of, see);
    }
}

fn walk_records<'n>(of: &'n Records, see: &mut dyn FnMut(Visit<'n>)) {
    see(Visit::Records(of));
    of.condition.iter().for_each(|c| walk(c, see));
    walk_window(&of.window, see);
}

fn walk_window<'n>(window: &'n Window, see: &mut dyn FnMut(Visit<'n>)) {
    for anchor in window.anchors.iter().chain(&window.before) {
        anchor.condition.iter().for_each(|c| walk(c, see));
    }
}
