//! The work list: calls turned into jobs, so that the work can be ordered. A job is what is to be done
//! on joints that lie in one place, by the same methods and by the same day.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use crate::condition::{Standards, Wanted};
use crate::model::{Call, Component, Method, Name, Scope, Vocabulary};
use crate::policy::{Outlook, Rule, RuleSet};
use crate::report::data::plain;
use crate::report::{Cell, Column, Table};

use super::super::question::Present;
use super::super::serials::in_stretches;
use super::line::{Line, Standing};
use super::when::when;

/// What is to be looked for.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Search {
    /// These scopes, which the rules name.
    Of(BTreeSet<Scope>),
    /// All that the set of needs asks for: a rule names no scope.
    Whole(BTreeSet<Scope>),
}

/// What makes calls one job.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Key<'l> {
    call: Call,
    work: String,
    method: String,
    place: Option<Name<'l>>,
    now: bool,
}

struct Job<'l> {
    key: Key<'l>,
    lines: Vec<&'l Line>,
}

/// The scopes that a rule names where it says since what inspection it counts.
fn scopes_of(rule: &Rule) -> BTreeSet<Scope> {
    let texts = [Some(&rule.filter)];
    let limits = rule.limit.iter().flat_map(|l| [Some(&l.value), Some(&l.limit), l.when.as_ref()]);
    let mut out = BTreeSet::new();
    for text in texts.into_iter().chain(limits).flatten() {
        for part in text.split("covers").skip(1) {
            let part = part.trim_start().trim_start_matches(['=', '(', ' ']);
            let part =
                part.strip_prefix("in").map_or(part, |list| list.trim_start_matches([' ', '(']));
            let end = part.find([')', '=']).unwrap_or(part.len());
            let words = part[..end].split([',', ' ']).map(str::trim);
            out.extend(words.map_while(|w| Scope::from_word(w).ok()));
        }
    }
    out
}

/// How the list is wanted.
#[derive(Clone, Copy, Debug)]
pub(super) struct How {
    /// At most so many jobs.
    pub limit: Option<usize>,
    /// The lines are all calls of their joints: of some calls alone nobody knows what else is due.
    pub all_calls: bool,
}

/// The work list of these lines.
pub(super) fn table(
    lines: &[Line],
    rules: &RuleSet,
    standards: &Standards,
    how: How,
    present: &Present,
) -> Table {
    let scopes: HashMap<&str, BTreeSet<Scope>> =
        rules.rules.iter().map(|r| (r.name.as_str(), scopes_of(r))).collect();
    let reasons: HashMap<&str, &str> =
        rules.rules.iter().map(|r| (r.name.as_str(), r.reason.as_str())).collect();
    let mut jobs: Vec<Job<'_>> = Vec::new();
    let mut places: BTreeMap<Key<'_>, usize> = BTreeMap::new();
    for line in lines {
        let key = key(line, &scopes, &reasons, standards);
        let at = *places.entry(key.clone()).or_insert(jobs.len());
        if at == jobs.len() {
            jobs.push(Job { key, lines: Vec::new() });
        }
        jobs[at].lines.push(line);
    }
    // How many calls each joint has: where one call alone is asked about, nobody counted the others.
    let mut calls: HashMap<i64, usize> = HashMap::new();
    lines.iter().for_each(|l| *calls.entry(l.joint).or_default() += 1);
    let rows = jobs.iter().take(how.limit.unwrap_or(usize::MAX)).map(|job| {
        let serials: Vec<&str> = job.lines.iter().map(|l| l.label.serial.as_str()).collect();
        let done = job.lines.iter().filter(|l| calls.get(&l.joint) == Some(&1)).count();
        vec![
            Cell::Text(job.key.work.clone()),
            Cell::count(job.lines.len()),
            Cell::Text(in_stretches(serials.iter().copied())),
            Cell::text(job.key.place.as_ref().map(|p| p.0)),
            before(job, present),
            if how.all_calls { Cell::count(done) } else { Cell::Missing },
            Cell::Text(job.key.call.word().to_owned()),
            Cell::Text(job.key.method.clone()),
            Cell::Text(rules_of(job)),
            Cell::Text(serials.join(", ")),
            Cell::Text(below(job)),
        ]
    });
    Table {
        name: "jobs",
        rows: rows.collect(),
        columns: vec![
            Column::plain("job", "job"),
            Column::plain("joints", "joints"),
            Column::plain("stretches", "serials"),
            Column::plain("location", "where"),
            Column::plain("before", "before"),
            Column::plain("clears", "clears"),
            Column::plain("call", "call").for_machines(),
            Column::plain("method", "method").for_machines(),
            Column::plain("rules", "rules").for_machines(),
            Column::plain("serials", "serials").for_machines(),
            Column::plain("in_words", "in words").for_people(),
        ],
        empty: "no work is called for by the rules in force".to_owned(),
        below: Some(10),
    }
}

/// What stands below a job: how it is done, and which calls it answers.
fn below(job: &Job<'_>) -> String {
    let by =
        if job.key.method.is_empty() { String::new() } else { format!("by {}; ", job.key.method) };
    format!("{by}for {}", rules_of(job))
}

/// The rules that call for it, each with its number of joints, those of most joints first.
fn rules_of(job: &Job<'_>) -> String {
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    for rule in job.lines.iter().flat_map(|l| std::iter::once(&l.rule).chain(&l.also)) {
        *counts.entry(rule).or_default() += 1;
    }
    let mut counts: Vec<(&str, usize)> = counts.into_iter().collect();
    counts.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(b.0)));
    let said: Vec<String> = counts.iter().map(|(rule, n)| format!("{rule} ({n})")).collect();
    said.join(", ")
}

/// The day before which it is to be done: the first on which a rule may speak of one of its joints.
fn before(job: &Job<'_>, present: &Present) -> Cell {
    let mut first: Option<(f64, &Standing)> = None;
    for line in &job.lines {
        let at = match line.standing {
            Standing::Due => f64::NEG_INFINITY,
            Standing::Soon(Outlook::Days { earliest, .. }) => earliest,
            Standing::Soon(
                Outlook::Idle | Outlook::UseUnknown | Outlook::RateUnknown | Outlook::NoWear,
            ) => f64::INFINITY,
        };
        if first.is_none_or(|(day, _)| at < day) {
            first = Some((at, &line.standing));
        }
    }
    let Some((_, standing)) = first else { return Cell::Missing };
    let [likely, earliest, _] = when(standing, present);
    if earliest == Cell::Missing { likely } else { earliest }
}

fn key<'l>(
    line: &'l Line,
    scopes: &HashMap<&str, BTreeSet<Scope>>,
    reasons: &HashMap<&str, &str>,
    standards: &Standards,
) -> Key<'l> {
    let rules = || std::iter::once(&line.rule).chain(&line.also);
    let reason = || {
        let words = rules().map(|r| reasons.get(&**r).copied().unwrap_or(r));
        words.collect::<BTreeSet<_>>().into_iter().collect::<Vec<_>>().join("; ")
    };
    let named: BTreeSet<Scope> =
        rules().filter_map(|r| scopes.get(&**r)).flatten().copied().collect();
    let silent = rules().any(|r| scopes.get(&**r).is_none_or(BTreeSet::is_empty));
    let component = line.label.component;
    let (work, method) = match line.call {
        Call::Inspection => {
            let search = if silent {
                Search::Whole(beyond_the_whole(named, component, standards))
            } else {
                Search::Of(named)
            };
            (in_words(&search), methods(&search, component, standards))
        }
        Call::Quarantine if !named.is_empty() && !silent => {
            let search = Search::Of(named);
            let work = format!("set aside; {}", in_words(&search));
            (work, methods(&search, component, standards))
        }
        Call::Quarantine => (format!("set aside: {}", reason()), String::new()),
        Call::Downgrade => (format!("class down: {}", reason()), String::new()),
        Call::Repair => (format!("repair: {}", reason()), String::new()),
        Call::Retire => (format!("retire: {}", reason()), String::new()),
    };
    Key {
        call: line.call,
        work,
        method,
        place: line.label.location.as_deref().map(Name),
        now: line.standing == Standing::Due,
    }
}

/// Of these scopes those that an inspection of all that is needed leaves out.
fn beyond_the_whole(
    scopes: BTreeSet<Scope>,
    component: Option<Component>,
    standards: &Standards,
) -> BTreeSet<Scope> {
    let Some(component) = component else { return scopes };
    let can = &standards.capabilities;
    let needs: Vec<Vec<Method>> = standards
        .needs
        .of(component)
        .filter(|n| n.critical)
        .map(|need| methods_of(need.wanted, component, standards))
        .collect();
    let sees = |by: &Vec<Method>, scope: Scope| {
        !by.is_empty() && by.iter().all(|m| can.can_see(*m, scope, component))
    };
    scopes.into_iter().filter(|scope| !needs.iter().any(|by| sees(by, *scope))).collect()
}

/// The methods of which one gives what is wanted.
fn methods_of(wanted: Wanted, component: Component, standards: &Standards) -> Vec<Method> {
    match wanted {
        Wanted::Reading(what) => standards.capabilities.methods_for_reading(what),
        Wanted::Look(method) => vec![method],
        Wanted::Scope(scope) => standards.capabilities.methods_for_scope(scope, component),
    }
}

fn in_words(search: &Search) -> String {
    let list = |scopes: &BTreeSet<Scope>| {
        scopes.iter().map(|s| plain(s.word())).collect::<Vec<_>>().join(", ")
    };
    match search {
        Search::Of(scopes) => format!("inspect {}", list(scopes)),
        Search::Whole(scopes) if scopes.is_empty() => "inspect whole".to_owned(),
        Search::Whole(scopes) => format!("inspect whole, with {}", list(scopes)),
    }
}

/// The methods that see what is to be looked for on this component, `or` between those of which one
/// is enough.
fn methods(search: &Search, component: Option<Component>, standards: &Standards) -> String {
    let Some(component) = component else { return String::new() };
    let (scopes, whole) = match search {
        Search::Of(scopes) => (scopes, false),
        Search::Whole(scopes) => (scopes, true),
    };
    let can = &standards.capabilities;
    let mut wanted: Vec<(String, Vec<Method>)> = Vec::new();
    let mut want = |name: String, by: Vec<Method>| {
        if !wanted.iter().any(|(_, known)| *known == by) {
            wanted.push((name, by));
        }
    };
    for need in standards.needs.of(component).filter(|n| whole && n.critical) {
        want(need.wanted.text(), methods_of(need.wanted, component, standards));
    }
    for scope in scopes {
        want(plain(scope.word()), can.methods_for_scope(*scope, component));
    }
    // Whoever does one of a few has done one of the many that these are among.
    let sets: Vec<Vec<Method>> = wanted.iter().map(|(_, by)| by.clone()).collect();
    let is_done = |by: &[Method]| {
        let done = |few: &Vec<Method>| few.len() < by.len() && few.iter().all(|m| by.contains(m));
        sets.iter().any(|few| !few.is_empty() && done(few))
    };
    wanted.retain(|(_, by)| !is_done(by));
    let said = wanted.iter().map(|(name, by)| {
        let by: Vec<String> = by.iter().map(|m| plain(m.word())).collect();
        if by.is_empty() { format!("{name}: no method known") } else { by.join(" or ") }
    });
    said.collect::<Vec<_>>().join("; ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::condition::Edition;
    use crate::model::SetKind;

    /// A rule that counts from an inspection says of which scope, and the job looks for that.
    #[test]
    fn the_scopes_of_the_rules_that_ship_are_read() {
        let text = Edition::shipped().set(SetKind::Rules).unwrap();
        let rules = RuleSet::parse(text).unwrap();
        for rule in &rules.rules {
            let found = scopes_of(rule);
            let text = format!("{:?}", (&rule.filter, &rule.limit));
            for scope in Scope::ALL {
                let named = text.contains(&format!("covers = {})", scope.word()))
                    || text.contains(&format!("covers = {} ", scope.word()));
                assert_eq!(found.contains(scope), named, "{}: {scope}", rule.name);
            }
        }
        let bha = rules.rules.iter().find(|r| r.name == "hours_since_bha_cracks").unwrap();
        assert_eq!(scopes_of(bha), BTreeSet::from([Scope::PinCracks]));
    }
}
