//! Sets of limits: the starting set that ships with the program, and the reader for a set that a
//! user who holds the licensed standard writes down and adopts.

use std::collections::HashMap;

use crate::model::{Component, Provenance, Vocabulary};

use super::criterion::Criterion;
use super::limit::{Applies, Comparison, ForClass, Limit, plain_name};
use super::table::{Row, Table, TableError, TableProblem, head};
use super::words::Seal;

/// What is wrong with a set of limits, and where.
pub type LimitError = TableError;

/// A named set of limits. The set that judged stands beside every verdict.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct LimitSet {
    name: String,
    edition: String,
    limits: Vec<Limit>,
    /// Places in `limits`, by the order of the criteria.
    places: Vec<Vec<usize>>,
}

/// What a limit must fit: the joint, and for a connection its end.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Fit {
    /// Nominal outside diameter of the body, nanometres.
    pub od: Option<i64>,
    pub wall: Option<i64>,
    /// Nominal outside diameter of the tool joint, nanometres.
    pub joint_od: Option<i64>,
    pub grade: Option<String>,
    /// Connection of the end.
    pub connection: Option<String>,
    /// Kind of shoulder of the end; single where nothing is said.
    pub seal: Option<Seal>,
}

impl Fit {
    fn meets(&self, condition: &Applies) -> bool {
        let named = |have: &Option<String>, want: &str| {
            have.as_deref().is_some_and(|h| plain_name(h) == want)
        };
        let within =
            |have: Option<i64>, from: i64, to: i64| have.is_some_and(|h| (from..=to).contains(&h));
        match condition {
            Applies::Connection(c) => named(&self.connection, c),
            Applies::Grade(g) => named(&self.grade, g),
            Applies::Seal(s) => self.seal.unwrap_or(Seal::Single) == *s,
            Applies::Od(a, b) => within(self.od, *a, *b),
            Applies::Wall(a, b) => within(self.wall, *a, *b),
            Applies::JointOd(a, b) => within(self.joint_od, *a, *b),
        }
    }
}

const COLUMNS: [&str; 13] = [
    "criterion",
    "component",
    "class",
    "comparison",
    "limit",
    "unit",
    "applies",
    "standard",
    "edition",
    "source",
    "provenance",
    "use",
    "note",
];

impl LimitSet {
    /// Reads a set: comma-separated text with the columns `criterion, component, class,
    /// comparison, limit, unit, applies, standard, edition, source, provenance, use, note`, and a
    /// head with `# set:` and `# edition:`. Every error that can be found is reported with its
    /// line and column.
    pub fn parse(text: &str) -> Result<Self, Vec<LimitError>> {
        let (needed, optional) = (&COLUMNS[..6], &COLUMNS[6..]);
        let mut table = Table::read(text, needed, optional);
        let no_head =
            |what| TableError { line: 1, column: None, problem: TableProblem::NoHead(what) };
        let name = head(text, "set").unwrap_or_else(|| {
            table.errors.push(no_head("set"));
            String::new()
        });
        let edition = head(text, "edition").unwrap_or_else(|| {
            table.errors.push(no_head("edition"));
            String::new()
        });
        let limits = table.each(read_limit);
        let mut errors = table.errors;
        consistent(&limits, &mut errors);
        if errors.is_empty() {
            Ok(Self::index(name, edition, limits))
        } else {
            errors.sort_by_key(|e| e.line);
            Err(errors)
        }
    }

    fn index(name: String, edition: String, limits: Vec<Limit>) -> Self {
        let mut places = vec![Vec::new(); Criterion::ALL.len()];
        for (at, l) in limits.iter().enumerate() {
            if let Some(list) = places.get_mut(l.criterion as usize) {
                list.push(at);
            }
        }
        Self { name, edition, limits, places }
    }

    fn of(&self, criterion: Criterion) -> impl Iterator<Item = &Limit> {
        self.places
            .get(criterion as usize)
            .into_iter()
            .flatten()
            .filter_map(|at| self.limits.get(*at))
    }

    /// Name and edition: `pipelore starting set, edition 1`.
    pub fn title(&self) -> String {
        format!("{}, edition {}", self.name, self.edition)
    }

    /// Every limit of the set, those not in force included.
    pub fn all(&self) -> &[Limit] {
        &self.limits
    }

    /// Limits of a criterion that are in force for a component and what it must fit, nominal
    /// dimensions left out. Where a general limit and a narrower one both fit, the narrower holds.
    pub fn in_force(&self, criterion: Criterion, component: Component, fit: &Fit) -> Vec<&Limit> {
        let fits: Vec<&Limit> = self
            .of(criterion)
            .filter(|l| {
                l.in_force
                    && l.class != ForClass::New
                    && for_component(l, component)
                    && l.applies.iter().all(|a| fit.meets(a))
            })
            .collect();
        let narrowest = |l: &Limit| {
            fits.iter()
                .filter(|o| o.class == l.class && direction(o) == direction(l))
                .all(|o| o.applies.len() <= l.applies.len())
        };
        fits.iter().copied().filter(|l| narrowest(l)).collect()
    }

    /// Limits of a criterion that another source gives for the same case.
    pub fn alternatives(
        &self,
        criterion: Criterion,
        component: Component,
        fit: &Fit,
    ) -> Vec<&Limit> {
        self.of(criterion)
            .filter(|l| {
                !l.in_force && for_component(l, component) && l.applies.iter().all(|a| fit.meets(a))
            })
            .collect()
    }

    /// A nominal dimension, such as the counterbore diameter of a connection.
    pub fn nominal(&self, criterion: Criterion, component: Component, fit: &Fit) -> Option<&Limit> {
        self.of(criterion)
            .filter(|l| {
                l.class == ForClass::New
                    && l.comparison == Comparison::Equal
                    && for_component(l, component)
                    && l.applies.iter().all(|a| fit.meets(a))
            })
            .max_by_key(|l| l.applies.len())
    }

    /// This set where it says something, and `base` for criteria of which it is silent.
    #[must_use]
    pub fn over(&self, base: &Self) -> Self {
        let mine: Vec<Criterion> = self.limits.iter().map(|l| l.criterion).collect();
        let mut limits = self.limits.clone();
        limits.extend(base.limits.iter().filter(|l| !mine.contains(&l.criterion)).cloned());
        let edition = format!("{}, over {}", self.edition, base.title());
        Self::index(self.name.clone(), edition, limits)
    }
}

fn for_component(limit: &Limit, component: Component) -> bool {
    limit.components.is_empty() || limit.components.contains(&component)
}

fn direction(limit: &Limit) -> bool {
    limit.comparison.wants_more()
}

fn read_limit(row: &Row<'_>, errors: &mut Vec<TableError>) -> Option<Limit> {
    let before = errors.len();
    let criterion = row.word::<Criterion>("criterion", errors);
    let mut components = match row.text("component") {
        "any" | "every" | "all" => Vec::new(),
        "" => {
            errors.push(row.error("component", TableProblem::Empty("write a component, or any")));
            Vec::new()
        }
        _ => row.words::<Component>("component", errors),
    };
    components.sort_unstable();
    let class =
        ForClass::parse(row.text("class")).map_err(|e| errors.push(row.error("class", e))).ok();
    let comparison = Comparison::parse(row.text("comparison"))
        .map_err(|e| errors.push(row.error("comparison", e)))
        .ok();
    let (number, unit) = (row.text("limit"), row.text("unit"));
    let value = Limit::value(number, unit)
        .map_err(|e| {
            let column = if matches!(e, TableProblem::Not { ref found, .. } if found == number) {
                "limit"
            } else {
                "unit"
            };
            errors.push(row.error(column, e));
        })
        .ok();
    let applies = Applies::parse_all(row.text("applies"))
        .map_err(|e| errors.push(row.error("applies", e)))
        .ok();
    let source = row.need("source", "every limit names where it comes from", errors);
    let standard = row.need("standard", "name the standard, or write trade", errors);
    let provenance = row.word::<Provenance>("provenance", errors);
    let in_force = match row.text("use") {
        "" | "in_force" => true,
        "alternative" => false,
        other => {
            errors.push(row.error(
                "use",
                TableProblem::Not {
                    found: other.to_owned(),
                    wanted: "is neither in_force nor alternative".to_owned(),
                },
            ));
            true
        }
    };
    if errors.len() > before {
        return None;
    }
    let (number_value, basis) = value?;
    let written = if unit.starts_with('%') || unit == "count" || unit == "ratio" {
        format!("{number} {unit}").replace(" ratio", "")
    } else {
        format!("{number} {unit}")
    };
    Some(Limit {
        criterion: criterion?,
        components,
        class: class?,
        comparison: comparison?,
        number: number_value,
        basis,
        applies: applies?,
        written,
        standard: standard?,
        edition: row.text("edition").to_owned(),
        source: source?,
        provenance: provenance?,
        in_force,
        note: row.text("note").to_owned(),
        line: row.line,
    })
}

/// Checks what no single row can show: nothing twice, and no worse class held to more than a
/// better one.
fn consistent(limits: &[Limit], errors: &mut Vec<TableError>) {
    let mut seen: HashMap<String, u64> = HashMap::new();
    for l in limits {
        let standard = if l.in_force { "" } else { l.standard.as_str() };
        let key = format!(
            "{} {:?} {:?} {:?} {} {standard}",
            l.criterion,
            l.components,
            l.class,
            l.applies,
            direction(l)
        );
        if let Some(line) = seen.insert(key, l.line) {
            errors.push(TableError {
                line: l.line,
                column: None,
                problem: TableProblem::Twice(line),
            });
        }
    }
    for better in limits.iter().filter(|l| l.in_force) {
        for worse in limits.iter().filter(|l| l.in_force) {
            let (ForClass::Class(b), ForClass::Class(w)) = (better.class, worse.class) else {
                continue;
            };
            let comparable = w > b
                && better.criterion == worse.criterion
                && better.components == worse.components
                && better.applies == worse.applies
                && better.basis == worse.basis;
            if !comparable {
                continue;
            }
            let wrong = if direction(better) == direction(worse) {
                let (loose, strict) = (worse.number, better.number);
                if direction(better) { loose > strict } else { loose < strict }
            } else {
                // `< 70` for Class 3 says again what `>= 70` for Class 2 leaves.
                let next_below = crate::model::Class::ALL.iter().find(|c| **c > b) == Some(&w);
                next_below && better.number != worse.number
            };
            if wrong {
                errors.push(TableError {
                    line: worse.line,
                    column: Some("limit".to_owned()),
                    problem: TableProblem::Order {
                        better: better.class.to_string(),
                        worse: worse.class.to_string(),
                        line: better.line,
                    },
                });
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Class;

    use crate::condition::edition::FIRST;

    fn shipped() -> &'static LimitSet {
        &FIRST.limits
    }

    #[test]
    fn the_starting_set_has_a_title() {
        assert_eq!(shipped().title(), "pipelore starting set, edition 1");
    }

    const HEAD: &str = "# set: mine\n# edition: 2020\n\
        criterion,component,class,comparison,limit,unit,standard,source,provenance,use,applies\n";

    fn errors(rows: &str) -> Vec<String> {
        LimitSet::parse(&format!("{HEAD}{rows}"))
            .unwrap_err()
            .iter()
            .map(ToString::to_string)
            .collect()
    }

    #[test]
    fn errors_name_line_and_column_all_at_once() {
        let said = errors(
            "wear_wal,drill_pipe,premium,>=,80,% of nominal wall,S,src,published,,\n\
             wear_wall,drill_pipe,premum,>=,8o,% of nominal wall,S,,published,,\n\
             wear_wall,drill_pipe,class_2,=>,70,% of wall,S,src,hearsay,maybe,colour=red\n",
        );
        assert_eq!(
            said,
            [
                "line 4, column criterion: 'wear_wal' is not a criterion; did you mean wear_wall?",
                "line 5, column class: 'premum' is not a class; did you mean premium?",
                "line 5, column limit: '8o' is not a number",
                "line 5, column source: empty; every limit names where it comes from",
                "line 6, column comparison: '=>' is not a comparison; known: at_least, above, \
                 at_most, below, none, equal",
                "line 6, column unit: '% of wall' is no share; write % of one of: nominal wall, \
                 nominal OD, average adjacent wall, tool joint OD, seal width, a turn, nominal, \
                 box depth",
                "line 6, column applies: 'colour=red' is no condition; known: connection, grade, \
                 seal, od, wall, tj_od",
                "line 6, column provenance: 'hearsay' is not a provenance; known: published, \
                 memory, common_practice, computed",
                "line 6, column use: 'maybe' is neither in_force nor alternative",
            ]
        );
    }

    #[test]
    fn a_set_without_name_and_edition_is_no_set() {
        let said: Vec<String> =
            LimitSet::parse("criterion,component,class,comparison,limit,unit\n")
                .unwrap_err()
                .iter()
                .map(ToString::to_string)
                .collect();
        assert_eq!(
            said,
            [
                "line 1: the head has no line '# set: ...'",
                "line 1: the head has no line '# edition: ...'"
            ]
        );
    }

    #[test]
    fn classes_must_stand_in_order() {
        assert_eq!(
            errors(
                "wear_wall,any,premium,>=,70,% of nominal wall,S,s,published,,\n\
                 wear_wall,any,class_2,>=,80,% of nominal wall,S,s,published,,\n"
            ),
            [
                "line 5, column limit: the limit for class_2 is stricter than that for premium in line 4"
            ]
        );
        assert_eq!(
            errors(
                "wear_wall,any,class_2,>=,70,% of nominal wall,S,s,published,,\n\
                 wear_wall,any,class_3,<,65,% of nominal wall,S,s,published,,\n"
            )
            .len(),
            1
        );
        assert_eq!(
            errors(
                "wear_wall,any,premium,>=,80,% of nominal wall,S,s,published,,\n\
                 wear_wall,any,premium,>=,81,% of nominal wall,T,s,published,,\n"
            ),
            ["line 5: says the same as line 4"]
        );
    }

    #[test]
    fn the_narrower_limit_holds() {
        let set = LimitSet::parse(&format!(
            "{HEAD}tj_od,any,premium,>=,6,in,S,s,published,,\n\
             tj_od,any,premium,>=,5,in,S,s,published,,connection=NC38\n"
        ))
        .unwrap();
        let fit = Fit { connection: Some("NC 38".to_owned()), ..Fit::default() };
        let found = set.in_force(Criterion::JointOd, Component::DrillPipe, &fit);
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].line, 5);
        assert_eq!(
            set.in_force(Criterion::JointOd, Component::DrillPipe, &Fit::default())[0].line,
            4
        );
    }

    #[test]
    fn a_set_of_ones_own_goes_over_the_starting_set() {
        let mine = LimitSet::parse(&format!(
            "{HEAD}wear_wall,drill_pipe,premium,>=,85,% of nominal wall,own,own rule,common practice,,\n"
        ))
        .unwrap();
        let both = mine.over(shipped());
        let fit = Fit::default();
        let wall = both.in_force(Criterion::WearWall, Component::DrillPipe, &fit);
        assert_eq!(wall.len(), 1);
        assert_eq!(wall[0].class, ForClass::Class(Class::Premium));
        assert!(!both.in_force(Criterion::DentOd, Component::DrillPipe, &fit).is_empty());
    }
}
