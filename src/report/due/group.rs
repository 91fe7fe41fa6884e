//! Calls counted: a line for all that have the same string, place, call, rule or reason.

use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};
use std::sync::Arc;

use crate::model::{Call, Name, Vocabulary, name_key};
use crate::policy::RuleSet;
use crate::report::{Cell, Column, Table};

use super::super::serials::in_stretches;
use super::line::{Label, Line, Undecided};

/// What lines are counted by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum By {
    /// The string of the joint.
    String,
    /// Where the joint is.
    Location,
    Call,
    Rule,
    Reason,
}

/// What a line is counted under.
type Key<'l> = Vec<Option<Name<'l>>>;

impl By {
    const ALL: [Self; 5] = [Self::String, Self::Location, Self::Call, Self::Rule, Self::Reason];

    /// The words for it.
    pub fn words() -> [&'static str; 5] {
        Self::ALL.map(Self::title)
    }

    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|by| by.title() == word)
    }

    const fn title(self) -> &'static str {
        match self {
            Self::String => "string",
            Self::Location => "location",
            Self::Call => "call",
            Self::Rule => "rule",
            Self::Reason => "reason",
        }
    }

    /// Whether it tells calls apart by what makes them.
    const fn of_rules(self) -> bool {
        match self {
            Self::Rule | Self::Reason => true,
            Self::String | Self::Location | Self::Call => false,
        }
    }

    fn of<'l>(self, label: &'l Label, call: Call, rule: &'l str, why: &'l str) -> Option<Name<'l>> {
        match self {
            Self::String => label.string.as_deref().map(Name),
            Self::Location => label.location.as_deref().map(Name),
            Self::Call => Some(Name(call.word())),
            Self::Rule => Some(Name(rule)),
            Self::Reason => Some(Name(why)),
        }
    }
}

fn column(by: By) -> Column {
    Column::plain(by.title(), if by == By::Location { "where" } else { by.title() })
}

/// Lines of one key.
struct Group<'l> {
    joints: HashSet<i64>,
    serials: Vec<&'l str>,
    calls: BTreeMap<Call, i64>,
    worst: &'l Line,
}

/// Lines counted, those of the worst first.
pub(super) fn counts(lines: &[Line], by: &[By], rules: &RuleSet) -> Table {
    // Each rule that speaks counts, whether it speaks first or not.
    let each: Vec<Line>;
    let lines = if by.iter().any(|by| by.of_rules()) {
        each = by_rule(lines, rules);
        &each[..]
    } else {
        lines
    };
    let mut places: HashMap<Vec<Option<String>>, usize> = HashMap::new();
    let mut groups: Vec<(Key<'_>, Group<'_>)> = Vec::new();
    for line in lines {
        let key = key(by, (&line.label, line.call), (&line.rule, &line.reason));
        let folded = folded(&key);
        let at = *places.entry(folded).or_insert(groups.len());
        if at == groups.len() {
            let empty = Group {
                joints: HashSet::new(),
                serials: Vec::new(),
                calls: BTreeMap::new(),
                worst: line,
            };
            groups.push((key, empty));
        }
        let group = &mut groups[at].1;
        if group.joints.insert(line.joint) {
            group.serials.push(&line.label.serial);
        }
        *group.calls.entry(line.call).or_default() += 1;
    }
    let made = made(groups.iter().map(|(_, group)| &group.calls));
    // What makes a call tells which: people read its word, machines a count of each.
    let told = by.contains(&By::Call);
    let one = by.iter().any(|by| by.of_rules());
    let mut columns: Vec<Column> = by.iter().map(|by| column(*by)).collect();
    if one && !told {
        columns.push(Column::plain("call", "call"));
    }
    columns.push(Column::plain("joints", "joints"));
    if !told {
        let count = |c: &Call| Column::plain(c.word(), c.word());
        columns.extend(made.iter().map(|c| if one { count(c).for_machines() } else { count(c) }));
    }
    columns.extend([
        Column::plain("serials", "serials"),
        Column::plain("worst", "worst").dispensable(2),
        Column::plain("value", "its value").dispensable(3),
        Column::plain("limit", "limit").dispensable(3),
    ]);
    let rows = groups.into_iter().map(|(key, group)| {
        let mut row = cells(&key);
        if one && !told {
            let words: Vec<&str> = group.calls.keys().map(|c| c.word()).collect();
            row.push(Cell::Text(words.join(", ")));
        }
        row.push(Cell::count(group.joints.len()));
        if !told {
            row.extend(counts_of(&made, &group.calls));
        }
        row.push(Cell::Text(in_stretches(group.serials.iter().copied())));
        row.push(Cell::Text(group.worst.label.serial.clone()));
        row.extend([group.worst.value.clone(), group.worst.limit.clone()]);
        row
    });
    Table {
        name: "counts",
        rows: rows.collect(),
        columns,
        empty: "nothing is due".to_owned(),
        below: None,
    }
}

fn key<'l>(
    by: &[By],
    (label, call): (&'l Label, Call),
    (rule, reason): (&'l str, &'l str),
) -> Key<'l> {
    by.iter().map(|by| by.of(label, call, rule, reason)).collect()
}

fn cells(key: &[Option<Name<'_>>]) -> Vec<Cell> {
    key.iter().map(|k| Cell::text(k.as_ref().map(|k| k.0))).collect()
}

/// Calls of a kind that are made at all, in their order.
fn made<'c>(counted: impl Iterator<Item = &'c BTreeMap<Call, i64>>) -> Vec<Call> {
    let made: BTreeSet<Call> = counted.flat_map(BTreeMap::keys).copied().collect();
    Call::ALL.iter().filter(|call| made.contains(call)).copied().collect()
}

/// How many calls of each of these kinds.
fn counts_of<'c>(made: &'c [Call], calls: &'c BTreeMap<Call, i64>) -> impl Iterator<Item = Cell> {
    made.iter().map(|c| calls.get(c).map_or(Cell::Missing, |n| Cell::Number(*n)))
}

/// A key under which names that are one name are one.
fn folded(key: &Key<'_>) -> Vec<Option<String>> {
    key.iter().map(|k| k.as_ref().map(|k| name_key(k.0))).collect()
}

/// A line for each rule that makes a call, with its own reason; only the one that speaks has a value.
fn by_rule(lines: &[Line], rules: &RuleSet) -> Vec<Line> {
    let reasons: HashMap<&str, Arc<str>> =
        rules.rules.iter().map(|r| (r.name.as_str(), r.reason.as_str().into())).collect();
    let other = |line: &Line, rule: &Arc<str>| Line {
        rule: Arc::clone(rule),
        reason: reasons.get(&**rule).map_or_else(|| Arc::clone(rule), Arc::clone),
        also: Vec::new(),
        value: Cell::Missing,
        limit: Cell::Missing,
        margin: Cell::Missing,
        past: Cell::Missing,
        ..line.clone()
    };
    let of = |line: &Line| {
        let first = Line { also: Vec::new(), ..line.clone() };
        let more: Vec<Line> = line.also.iter().map(|rule| other(line, rule)).collect();
        std::iter::once(first).chain(more)
    };
    lines.iter().flat_map(of).collect()
}

/// Counts of calls by string and place, one column for each call that is made.
pub(super) fn by_place(lines: &[Line]) -> Table {
    const BY: [By; 2] = [By::String, By::Location];
    let mut counts: BTreeMap<Key<'_>, BTreeMap<Call, i64>> = BTreeMap::new();
    for line in lines {
        let key = key(&BY, (&line.label, line.call), (&line.rule, &line.reason));
        *counts.entry(key).or_default().entry(line.call).or_default() += 1;
    }
    let made = made(counts.values());
    let mut columns = BY.map(column).to_vec();
    columns.extend(made.iter().map(|c| Column::plain(c.word(), c.word())));
    let rows = counts
        .iter()
        .map(|(key, calls)| cells(key).into_iter().chain(counts_of(&made, calls)).collect());
    Table {
        name: "groups",
        rows: rows.collect(),
        columns,
        empty: "nothing is due".to_owned(),
        below: None,
    }
}

/// How many joints each rule is open for, or each string or place.
pub(super) fn undecided_counts(open: &[Undecided], by: &[By]) -> Table {
    let mut counts: BTreeMap<Key<'_>, (i64, &str)> = BTreeMap::new();
    for u in open {
        let key = key(by, (&u.label, u.call), (&u.rule, &u.reason));
        counts.entry(key).or_insert((0, &u.wants)).0 += 1;
    }
    let by_rule = by.contains(&By::Rule);
    let mut columns: Vec<Column> = by.iter().map(|by| column(*by)).collect();
    columns.push(Column::plain("undecided", if by_rule { "joints" } else { "undecided" }));
    if by_rule {
        columns.push(Column::plain("wants", "for want of"));
    }
    let rows = counts.into_iter().map(|(key, (n, wants))| {
        let mut row = cells(&key);
        row.push(Cell::Number(n));
        if by_rule {
            row.push(Cell::Text(wants.to_owned()));
        }
        row
    });
    Table {
        name: "undecided",
        rows: rows.collect(),
        columns,
        empty: "every rule can be decided for every joint".to_owned(),
        below: None,
    }
}
