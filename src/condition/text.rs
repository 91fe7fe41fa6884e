//! Verdicts in words: short lines that a table, a page or a terminal can print.

use std::fmt::Write;

use crate::model::{Class, Vocabulary};
use crate::units::{Measure, UnitSystem};

use super::limit::{Basis, Comparison};
use super::subject::Amount;
use super::verdict::{Judged, Judgement, Lack, Missing, Outcome, Standing};

fn class_name(class: Class) -> &'static str {
    match class {
        Class::Critical => "Critical service",
        Class::Premium => "Premium",
        Class::Class2 => "Class 2",
        Class::Class3 => "Class 3",
        Class::Scrap => "scrap",
    }
}

impl Outcome {
    /// What a criterion says, in words.
    pub const fn text(self) -> &'static str {
        match self {
            Self::Class(Class::Critical) => "Critical service",
            Self::Class(Class::Premium) => "Premium",
            Self::Class(Class::Class2) => "Class 2",
            Self::Class(Class::Class3) => "Class 3",
            Self::Class(Class::Scrap) => "scrap",
            Self::Passes => "within its limit",
            Self::Fails => "beyond its limit",
        }
    }
}

impl Standing {
    /// Where a part stands, in words.
    pub fn text(self) -> String {
        match self {
            Self::Class(c) => class_name(c).to_owned(),
            Self::Accepted => "accepted".to_owned(),
            Self::NotEstablished { at_best: Some(c) } => {
                format!("not established ({} at best)", class_name(c))
            }
            Self::NotEstablished { at_best: None } => "not established".to_owned(),
            Self::Rejected => "no class until it is repaired".to_owned(),
        }
    }
}

impl Judgement {
    /// The value that was judged, with its unit.
    pub fn value_text(&self, system: UnitSystem) -> String {
        match self.value {
            Judged::Seen => "seen".to_owned(),
            Judged::Read(Amount::OfNominal(q)) | Judged::Share(q) => Measure::Ratio.text(q, system),
            Judged::Factor(q) => Measure::Factor.text(q, system),
            Judged::Read(Amount::Length(q)) | Judged::WallLeft(q) => {
                let measure =
                    if self.measure == Measure::Ratio { Measure::Wall } else { self.measure };
                measure.text(q, system)
            }
        }
    }

    /// One line: what was judged, its value, what it says, on which limit and by whose word.
    pub fn text(&self, system: UnitSystem) -> String {
        let mut out = String::new();
        if self.part.end().is_some() {
            let _ = write!(out, "{}: ", self.part);
        }
        let _ = write!(out, "{}: {}", self.criterion.spec().name, self.value_text(system));
        if let (Some(share), Basis::ShareOf(reference)) = (self.share, self.limit.basis)
            && !matches!(self.value, Judged::Read(Amount::OfNominal(_)) | Judged::Share(_))
        {
            let _ = write!(out, " ({} of {reference})", Measure::Ratio.text(share, system));
        }
        let _ = write!(out, ", {}", self.outcome.text());
        if self.limit.comparison != Comparison::Absent {
            let _ = write!(out, "; limit {}", self.limit.text());
        }
        if let Some(margin) = self.margin {
            let size = self.measure.text(margin.saturating_abs(), system);
            let side = if margin < 0 { "beyond it" } else { "to spare" };
            let _ = write!(out, ", {size} {side}");
        }
        let _ = write!(out, " ({}; {})", self.limit.authority(), self.limit.provenance);
        if let Some(remark) = self.remark {
            let _ = write!(out, "; {remark}");
        }
        out
    }
}

impl Lack {
    /// Why something is not known.
    pub const fn text(self) -> &'static str {
        match self {
            Self::NotMeasured => "not measured",
            Self::Doubtful => "read with an instrument that failed its check",
            Self::CannotSee => "not measured: no method used can see it",
            Self::NoNominal => "nominal dimension not known",
            Self::NoLimit => "no limit in the set",
            Self::NoSize => "size not given",
            Self::NoAdjacentWall => "wall beside it not read",
            Self::Unexplained => "not explained",
            Self::StrangeWord => "word not known",
        }
    }
}

impl Missing {
    /// What it is, with its part: `box shoulder`, `pin neck`.
    pub fn name(&self) -> String {
        if self.what.starts_with(self.part.word()) {
            self.what.clone()
        } else {
            format!("{} {}", self.part, self.what)
        }
    }

    /// One line: what is not known of which part, why it matters, and how it could be known.
    pub fn text(&self) -> String {
        let mut out = format!("{}: {}", self.name(), self.lack.text());
        if !self.why.is_empty() {
            let _ = write!(out, "; {}", self.why);
        }
        if self.could_stop {
            out.push_str("; out of its limit it stops the joint");
        }
        if !self.by.is_empty() {
            let words: Vec<String> = self.by.iter().map(|m| m.word().replace('_', " ")).collect();
            let _ = write!(out, "; by {}", words.join(" or "));
        }
        out
    }
}
