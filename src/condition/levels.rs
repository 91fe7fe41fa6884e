//! Levels of inspection that standards name: which methods each asks for, and to which class it
//! accepts. Published facts; the standard in its edition is the authority.

use std::sync::LazyLock;

use crate::model::{Class, Component, Method, Provenance, Vocabulary};

use super::table::{Table, TableError};

/// A level of inspection for some components.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Level {
    pub standard: String,
    pub edition: String,
    /// Name of the level: `category 3`.
    pub level: String,
    pub components: Vec<Component>,
    /// Methods asked for; none where what it asks for was not readable.
    pub methods: Vec<Method>,
    /// Methods among them that may be left out, as `note` says.
    pub may_be_left_out: Vec<Method>,
    /// Class to which it accepts.
    pub acceptance: Option<Class>,
    /// What it is meant for.
    pub meant_for: String,
    /// Where this was read, or what it rests on.
    pub source: String,
    /// What stands behind it.
    pub provenance: Provenance,
    pub note: String,
}

static SHIPPED: LazyLock<Vec<Level>> =
    LazyLock::new(|| read(include_str!("data/levels.csv")).unwrap_or_default());

fn read(text: &str) -> Result<Vec<Level>, Vec<TableError>> {
    let columns = [
        "standard",
        "edition",
        "level",
        "components",
        "methods",
        "may_be_left_out",
        "acceptance",
        "meant_for",
        "source",
        "provenance",
        "note",
    ];
    let mut table = Table::read(text, &columns, &[]);
    let rows = table.each(|row, errors| {
        let acceptance = match row.text("acceptance") {
            "" => None,
            word => {
                Class::from_word(word).map_err(|e| errors.push(row.error("acceptance", e))).ok()
            }
        };
        Some(Level {
            standard: row.need("standard", "name the standard", errors)?,
            edition: row.text("edition").to_owned(),
            level: row.need("level", "name the level", errors)?,
            components: row.words("components", errors),
            methods: row.words("methods", errors),
            may_be_left_out: row.words("may_be_left_out", errors),
            acceptance,
            meant_for: row.text("meant_for").to_owned(),
            source: row.need("source", "say where this is from", errors)?,
            provenance: row.word("provenance", errors)?,
            note: row.text("note").to_owned(),
        })
    });
    if table.errors.is_empty() { Ok(rows) } else { Err(table.errors) }
}

pub fn levels() -> &'static [Level] {
    &SHIPPED
}

impl Level {
    /// Methods of this level that an inspection did not use; those that may be left out are not
    /// missed. `None` where what the level asks for is not known.
    pub fn missed(&self, used: &[Method]) -> Option<Vec<Method>> {
        if self.methods.is_empty() {
            return None;
        }
        let done = |m: Method| {
            used.contains(&m)
                || match m {
                    // The fuller set of dimensions holds the smaller one.
                    Method::Dimensional1 => {
                        used.contains(&Method::Dimensional2) || used.contains(&Method::Dimensional3)
                    }
                    // Full-length ultrasonics finds what flux leakage does; DS-1 asks for it where
                    // the wall is above 0.400 in.
                    Method::Electromagnetic => {
                        used.contains(&Method::ElectromagneticWall)
                            || used.contains(&Method::FullLengthUltrasonic)
                    }
                    _ => false,
                }
        };
        Some(
            self.methods
                .iter()
                .copied()
                .filter(|m| !done(*m) && !self.may_be_left_out.contains(m))
                .collect(),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_levels_read() {
        let all = read(include_str!("data/levels.csv")).unwrap();
        assert!(all.iter().all(|l| !l.components.is_empty()));
    }

    /// Acceptance classes and methods as published (DS-1 Table 2.2).
    #[test]
    fn categories_of_drill_pipe() {
        let cat = |n: u8| {
            levels()
                .iter()
                .find(|l| {
                    l.level == format!("category {n}") && l.components == [Component::DrillPipe]
                })
                .unwrap()
        };
        for (n, class) in [
            (1, Class::Class2),
            (2, Class::Class2),
            (3, Class::Premium),
            (4, Class::Premium),
            (5, Class::Premium),
        ] {
            assert_eq!(cat(n).acceptance, Some(class), "category {n}");
        }
        let third = [
            Method::VisualTube,
            Method::OdGauge,
            Method::UltrasonicWall,
            Method::FullLengthUltrasonic,
            Method::VisualConnection,
            Method::Dimensional2,
        ];
        assert_eq!(cat(3).missed(&third), Some(vec![]));
        assert_eq!(cat(4).missed(&third), Some(vec![Method::MagneticSlip]));
        assert_eq!(cat(6).missed(&third), None);
        for n in 1..=2 {
            assert_eq!(cat(n).missed(&third), Some(vec![]), "category {n}");
        }
    }

    #[test]
    fn blacklight_may_be_left_out_of_category_5_on_drill_pipe_only() {
        let dp = levels().iter().find(|l| l.level == "category 5").unwrap();
        assert_eq!(dp.may_be_left_out, [Method::BlacklightConnection]);
        let bha = levels().iter().find(|l| l.level == "category 3 to 5").unwrap();
        assert!(bha.may_be_left_out.is_empty());
    }
}
