//! What a joint would go through where another one hangs: one string, many joints that may stand in it.

use crate::mechanics::string::Part;
use crate::schema::Figures;

use super::input::JointLine;
use super::model::RunModel;
use super::quantise::{Knowledge, quantise};

/// A joint as it would hang, without its length: where it hangs that of the place counts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Section {
    /// As `mechanics` takes it.
    pub part: Part,
    is_known: bool,
    pin_rated: bool,
}

impl RunModel {
    /// Why nothing can be worked out for its string; nothing where it can.
    pub fn is_wrong(&self) -> Option<&str> {
        self.case_or_why().err()
    }

    /// A joint of its string as it hangs in it first.
    pub fn section(&self, line: &JointLine) -> Option<Section> {
        let phase = self.case()?.phases.first()?;
        let part = phase.string.parts().get((*line.parts.first()?)?)?;
        Some(Section {
            part: Part { length: 1.0, ..*part },
            is_known: line.section_known,
            pin_rated: line.pin_rated,
        })
    }

    /// What a joint of this section would go through in the whole run where a part of its first string
    /// hangs, counted from the bit.
    ///
    /// # Errors
    /// A sentence when `mechanics` refuses the case, or there is none.
    pub fn figures_at(&self, at: usize, section: &Section) -> Result<Figures, String> {
        let case = self.case_or_why().map_err(str::to_owned)?;
        let none = || format!("the string has no part {at}");
        let phase = case.phases.first().ok_or_else(none)?;
        let hangs = phase.string.parts().get(at).ok_or_else(none)?;
        let mut below = phase.names.iter().take(at + 1);
        let known = Knowledge {
            path: case.path_known,
            loads: case.loads_known && below.all(|name| name.weight_stated || name.section_known),
            section: section.is_known,
            casing: case.casing_known,
            tube: section.part.kind.spans_tool_joints(),
            pin: section.pin_rated,
        };
        let own = Part { length: hangs.length, ..section.part };
        let found = case.exposure_as(phase, at, &own)?;
        Ok(quantise(&found, known).figures)
    }
}
