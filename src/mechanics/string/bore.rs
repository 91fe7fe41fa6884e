//! How wide the hole is.

/// Diameter of the hole or of the casing in it by measured depth, as far as it is known.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Bore(Vec<BoreSection>);

/// A stretch of hole of one diameter: `from` belongs to it, `to` does not.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BoreSection {
    /// Measured depth where it starts, m.
    pub from: f64,
    /// Measured depth where it ends, m; may be infinite.
    pub to: f64,
    /// Its diameter, m.
    pub diameter: f64,
}

impl Bore {
    /// Of one diameter (m) from the table down.
    pub fn everywhere(diameter: f64) -> Self {
        Self(vec![BoreSection { from: 0.0, to: f64::INFINITY, diameter }])
    }

    /// Of these sections; between them nothing is known.
    pub fn new(sections: Vec<BoreSection>) -> Self {
        Self(sections)
    }

    /// Its known sections.
    pub fn sections(&self) -> &[BoreSection] {
        &self.0
    }

    /// Diameter at a measured depth, m; none where nobody knows.
    pub fn at(&self, md: f64) -> Option<f64> {
        self.0.iter().find(|s| s.from <= md && md < s.to).map(|s| s.diameter)
    }

    /// Whether every section has a place and a width.
    pub(super) fn is_possible(&self) -> bool {
        self.0
            .iter()
            .all(|s| s.from >= 0.0 && s.to > s.from && s.diameter > 0.0 && s.diameter.is_finite())
    }
}
