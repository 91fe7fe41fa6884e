//! What each inspection method can see: the scopes it covers and the readings it takes. What no
//! method of an inspection can see was not inspected, whatever the report says.

use std::collections::BTreeSet;

use crate::model::{Component, Method, Provenance, ReadingKind, Scope, vocabulary};

use super::table::{Table, TableError};

vocabulary!(
    /// On which metal a method sees cracks.
    Metal, "kind of metal", {
        Any = "any" [],
        /// On magnetic steel only.
        Magnetic = "magnetic" [],
        /// On non-magnetic steel only.
        NonMagnetic = "non_magnetic" [],
    }
);

/// What a method can do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Capability {
    pub method: Method,
    /// Scopes that it covers.
    pub scopes: BTreeSet<Scope>,
    /// Readings that it takes.
    pub readings: Vec<ReadingKind>,
    /// Metal on which it sees cracks.
    pub metal: Metal,
    pub finds: String,
    pub misses: String,
    /// Where this was read, or what it rests on.
    pub source: String,
    /// What stands behind it.
    pub provenance: Provenance,
}

/// What every method can do.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Capabilities(Vec<Capability>);

fn read(text: &str) -> Result<Vec<Capability>, Vec<TableError>> {
    let columns =
        ["method", "scopes", "readings", "metal", "finds", "misses", "source", "provenance"];
    let mut table = Table::read(text, &columns, &[]);
    let rows = table.each(|row, errors| {
        let scopes = row.words("scopes", errors).into_iter().collect();
        let readings = row.words("readings", errors);
        Some(Capability {
            method: row.word("method", errors)?,
            scopes,
            readings,
            metal: row.word("metal", errors)?,
            finds: row.need("finds", "say what it finds", errors)?,
            misses: row.need("misses", "say what it misses", errors)?,
            source: row.need("source", "say where this is from", errors)?,
            provenance: row.word("provenance", errors)?,
        })
    });
    if table.errors.is_empty() { Ok(rows) } else { Err(table.errors) }
}

/// True for scopes in which cracks are looked for.
pub const fn is_crack_scope(scope: Scope) -> bool {
    matches!(
        scope,
        Scope::BodyCracks
            | Scope::SlipCracks
            | Scope::UpsetCracks
            | Scope::PinCracks
            | Scope::BoxCracks
            | Scope::HeatChecks
    )
}

impl Capabilities {
    /// Reads the table; every error with its line and column.
    pub fn parse(text: &str) -> Result<Self, Vec<TableError>> {
        read(text).map(Self)
    }

    /// What one method can do.
    pub fn of(&self, method: Method) -> Option<&Capability> {
        self.0.iter().find(|c| c.method == method)
    }

    /// Whether a method can see a scope on this component.
    pub fn can_see(&self, method: Method, scope: Scope, component: Component) -> bool {
        self.of(method).is_some_and(|c| c.sees(scope, component))
    }

    /// Methods that can see a scope on this component.
    pub fn methods_for_scope(&self, scope: Scope, component: Component) -> Vec<Method> {
        self.0.iter().filter(|c| c.sees(scope, component)).map(|c| c.method).collect()
    }

    /// Methods that take a reading.
    pub fn methods_for_reading(&self, what: ReadingKind) -> Vec<Method> {
        self.0.iter().filter(|c| c.readings.contains(&what)).map(|c| c.method).collect()
    }

    /// What an inspection covers: what its methods can see on this component, less what it says it
    /// left out (`stated` names what was covered, where that is less).
    ///
    /// Without a method, what is stated counts except for cracks: nobody has said how they were
    /// looked for.
    pub fn covers(
        &self,
        component: Component,
        methods: &[Method],
        stated: &[Scope],
    ) -> BTreeSet<Scope> {
        if methods.is_empty() {
            return stated.iter().copied().filter(|s| !is_crack_scope(*s)).collect();
        }
        self.0
            .iter()
            .filter(|c| methods.contains(&c.method))
            .flat_map(|c| c.scopes.iter().copied().filter(|s| c.sees(*s, component)))
            .filter(|s| stated.is_empty() || stated.contains(s))
            .collect()
    }
}

impl Capability {
    fn sees(&self, scope: Scope, component: Component) -> bool {
        let non_magnetic = component == Component::NonMagneticCollar;
        let metal = match self.metal {
            Metal::Any => true,
            Metal::Magnetic => !non_magnetic,
            Metal::NonMagnetic => non_magnetic,
        };
        self.scopes.contains(&scope) && (metal || !is_crack_scope(scope))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::condition::edition::FIRST;
    use crate::model::Vocabulary;

    fn shipped() -> &'static Capabilities {
        &FIRST.capabilities
    }

    #[test]
    fn every_method_is_described_once() {
        let rows = &shipped().0;
        let methods: Vec<Method> = rows.iter().map(|c| c.method).collect();
        assert_eq!(methods, Method::ALL);
    }

    #[test]
    fn every_reading_and_scope_can_be_had_by_some_method() {
        for r in ReadingKind::ALL {
            assert!(!shipped().methods_for_reading(*r).is_empty(), "{r}");
        }
        for s in Scope::ALL {
            assert!(!shipped().methods_for_scope(*s, Component::DrillPipe).is_empty(), "{s}");
        }
    }

    #[test]
    fn a_visual_sees_neither_wall_nor_cracks() {
        let seen = shipped().covers(Component::DrillPipe, &[Method::VisualTube], &[]);
        assert_eq!(seen, BTreeSet::from([Scope::Visual]));
        let claimed = shipped().covers(
            Component::DrillPipe,
            &[Method::VisualTube],
            &[Scope::Wall, Scope::SlipCracks, Scope::Visual],
        );
        assert_eq!(claimed, BTreeSet::from([Scope::Visual]));
    }

    #[test]
    fn what_is_stated_narrows_what_was_seen() {
        let seen = shipped().covers(
            Component::DrillPipe,
            &[Method::VisualConnection, Method::BlacklightConnection],
            &[Scope::Pin, Scope::PinCracks],
        );
        assert_eq!(seen, BTreeSet::from([Scope::Pin, Scope::PinCracks]));
        let no_method =
            shipped().covers(Component::DrillPipe, &[], &[Scope::Wall, Scope::SlipCracks]);
        assert_eq!(no_method, BTreeSet::from([Scope::Wall]));
    }

    #[test]
    fn magnetic_particles_see_nothing_on_a_non_magnetic_collar() {
        let methods = [Method::BlacklightConnection, Method::Penetrant];
        for (component, by) in [
            (Component::NonMagneticCollar, Method::Penetrant),
            (Component::DrillCollar, Method::BlacklightConnection),
        ] {
            for m in methods {
                assert_eq!(
                    shipped().can_see(m, Scope::PinCracks, component),
                    m == by,
                    "{m} {component}"
                );
            }
        }
        assert!(shipped().can_see(
            Method::UltrasonicConnection,
            Scope::PinCracks,
            Component::DrillCollar
        ));
    }
}
