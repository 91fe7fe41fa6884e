//! The string of a tally, with each joint as it was on the day.

use std::collections::BTreeMap;

use crate::mechanics::bending::PermissibleStress;
use crate::mechanics::string as mech;
use crate::model::{Component, PartLine, RunBody, Segment, TallyLine};
use crate::units::Measure;

use super::super::dims::{self, Nominal};
use super::super::rows::DimensionRow;
use super::case::Phase;
use super::log::between;
use super::model::{JointLine, RunInput, base};

/// What a run reads of a joint.
#[derive(Clone, Debug, PartialEq)]
pub struct JointFacts {
    /// What it is.
    pub component: Component,
    /// Grade of the tube, as written.
    pub grade: Option<String>,
    /// Certificate dimensions.
    pub nominal: Nominal,
    /// Weight in air, kg/m.
    pub weight: Option<f64>,
    /// Dimensions by time.
    pub dims: Vec<DimensionRow>,
}

impl JointFacts {
    /// Reads the entry that introduced a joint.
    pub fn of(body: &crate::model::JointBody, dims: Vec<DimensionRow>) -> Self {
        let weight = body.air_weight.as_ref().or(body.weight.as_ref());
        Self {
            component: body.component,
            grade: body.grade.clone(),
            nominal: Nominal::of(body),
            weight: weight.and_then(|q| q.base(Measure::LinearMass)),
            dims,
        }
    }
}

/// Builds the strings of a run and notes where its joints stand in them.
pub(super) struct Builder<'a, 'b> {
    pub input: &'a RunInput<'b>,
    /// Start of the run, ms.
    pub start: i64,
    /// Joints of the book by their place.
    pub lines: BTreeMap<i64, JointLine>,
    /// No part's weight had to be left out.
    pub exact: bool,
    /// Every part has a length.
    pub whole: bool,
}

impl Builder<'_, '_> {
    /// One phase for each tally of the run that stands for any time.
    pub(super) fn phases(
        &mut self,
        body: &RunBody,
        segments: &[Segment],
    ) -> Result<Vec<Phase>, String> {
        let offset = self.input.run.entry.recorded.offset_minutes;
        let mut tallies: Vec<(i64, &[TallyLine])> = vec![(0, &body.tally)];
        for swap in &body.swaps {
            tallies.push((swap.at.start(offset).0 - self.start, &swap.tally));
        }
        tallies.sort_by_key(|t| t.0);
        let mut phases = Vec::new();
        for (index, (from, tally)) in tallies.iter().enumerate() {
            let until = tallies.get(index + 1).map_or(i64::MAX, |t| t.0);
            let from = if index == 0 { i64::MIN } else { *from };
            let segments = segments.iter().filter_map(|s| between(s, from, until)).collect();
            let Some(string) = self.string(tally, index, tallies.len())? else { continue };
            phases.push(Phase::new(string, segments));
        }
        Ok(phases)
    }

    /// The string of a tally; `None` (and `whole` unset) when a length is missing.
    fn string(
        &mut self,
        tally: &[TallyLine],
        phase: usize,
        phases: usize,
    ) -> Result<Option<mech::DrillString>, String> {
        let mut parts = Vec::new();
        let mut at_nm = 0i64;
        let mut place = 0;
        for line in tally {
            let joint = line
                .joint
                .as_ref()
                .and_then(|j| self.input.positions.get(&j.joint))
                .and_then(|p| self.input.joints.get(p).map(|f| (*p, f)));
            let dims =
                joint.and_then(|(_, f)| dims::at(&f.dims, crate::model::Instant(self.start)));
            let length = line
                .length
                .as_ref()
                .and_then(|q| q.stored(Measure::JointLength))
                .or_else(|| dims.and_then(|d| d.length))
                .or_else(|| joint.and_then(|(_, f)| f.nominal.length));
            let (part, section_known) = self.part(line, joint.map(|j| j.1), dims, length);
            for _ in 0..line.count.unwrap_or(1).max(1) {
                if let Some((id, _)) = joint {
                    place += 1;
                    self.note(
                        id,
                        place,
                        at_nm,
                        length,
                        section_known,
                        (phase, phases),
                        parts.len(),
                    );
                }
                parts.push(part);
                at_nm += length.unwrap_or(0);
            }
            self.whole &= length.is_some();
        }
        if !self.whole || parts.is_empty() {
            self.whole &= !parts.is_empty();
            return Ok(None);
        }
        mech::DrillString::new(parts).map(Some).map_err(|e| e.to_string())
    }

    #[expect(clippy::too_many_arguments, reason = "one call, and each is a plain number")]
    pub(super) fn note(
        &mut self,
        joint: i64,
        place: i64,
        from_bit: i64,
        length: Option<i64>,
        section_known: bool,
        (phase, phases): (usize, usize),
        part: usize,
    ) {
        let line = self.lines.entry(joint).or_insert_with(|| JointLine {
            joint,
            place,
            key: 0,
            from_bit,
            length: length.unwrap_or(0),
            section_known,
            twice: false,
            parts: vec![None; phases],
        });
        match line.parts.get_mut(phase) {
            Some(slot @ None) => *slot = Some(part),
            _ => line.twice = true,
        }
    }

    /// A part for `mechanics`, and whether its section is known.
    fn part(
        &mut self,
        line: &TallyLine,
        joint: Option<&JointFacts>,
        dims: Option<&DimensionRow>,
        length: Option<i64>,
    ) -> (mech::Part, bool) {
        let given = line.part.as_ref();
        let metres = |nm: i64| nm as f64 * 1e-9;
        let (od, id) = section(given, joint, dims).unzip();
        let component = given
            .map(|p| p.component)
            .filter(|c| *c != Component::Other || joint.is_none())
            .or_else(|| joint.map(|j| j.component))
            .unwrap_or(Component::Other);
        let kind = match component {
            Component::DrillPipe | Component::Pup => mech::Kind::DrillPipe,
            Component::HeavyWeight => mech::Kind::HeavyWeight,
            Component::DrillCollar | Component::NonMagneticCollar => mech::Kind::DrillCollar,
            _ => mech::Kind::Other,
        };
        let grade = joint.and_then(|j| j.grade.as_deref());
        let (material, permissible) = material(kind, grade, od.unwrap_or(0.0));
        let weight = given
            .and_then(|p| base(p.weight.as_ref(), Measure::LinearMass))
            .or_else(|| joint.and_then(|j| j.weight))
            .or_else(|| {
                // A plain steel part weighs what its section does.
                let (od, id) = (od?, id?);
                Some(std::f64::consts::PI / 4.0 * (od * od - id * id) * material.density)
            });
        self.exact &= weight.is_some();
        let tool_joint_od = given
            .and_then(|p| base(p.tj_od.as_ref(), Measure::Diameter))
            .or_else(|| dims.and_then(|d| d.tj_od).map(metres))
            .or_else(|| joint.and_then(|j| j.nominal.tj_od).map(metres));
        let part = mech::Part {
            kind,
            length: length.map_or(1.0, metres),
            od: od.unwrap_or(0.127),
            id: id.unwrap_or(0.1),
            air_weight: weight.unwrap_or(0.0),
            tool_joint_od,
            material,
            permissible,
            concentration: [1.0; 3],
        };
        (part, od.is_some())
    }
}

/// Outside and inside diameter, m: as the tally line says, else nominal bore and the wall of the
/// day, all wear on the outside.
fn section(
    given: Option<&PartLine>,
    joint: Option<&JointFacts>,
    dims: Option<&DimensionRow>,
) -> Option<(f64, f64)> {
    let metres = |nm: i64| nm as f64 * 1e-9;
    if let Some(p) = given
        && let Some(od) = base(p.od.as_ref(), Measure::Diameter)
    {
        let id = base(p.id.as_ref(), Measure::Diameter)
            .or_else(|| base(p.wall.as_ref(), Measure::Wall).map(|w| od - 2.0 * w));
        if let Some(id) = id {
            return Some((od, id));
        }
    }
    let nominal = joint?.nominal;
    let (od, wall) = (nominal.od?, nominal.wall?);
    let bore = od - 2 * wall;
    let now = dims.and_then(|d| d.wall).unwrap_or(wall);
    Some((metres(bore + 2 * now), metres(bore)))
}

/// Steel of a part, and its branch of the permissible bending stress.
///
/// Drill pipe: least yield and tensile strength of the grade (API Spec 5DP), the weakest grade
/// where none is known. Collars: 110 ksi yield and 140 ksi tensile up to 6 7/8 in, 100 and 135 ksi
/// above (API Spec 7-1). Heavy-weight pipe and the rest: 55 and 95 ksi (from memory).
fn material(kind: mech::Kind, grade: Option<&str>, od: f64) -> (mech::Material, PermissibleStress) {
    use crate::mechanics::tube::{Grade, us::KSI};
    let steel = |y: f64, u: f64| mech::Material::steel(y * KSI, u * KSI);
    match kind {
        mech::Kind::DrillPipe => {
            let grade = grade.and_then(|g| g.parse::<Grade>().ok()).unwrap_or(Grade::E75);
            let branch = if grade == Grade::S135 {
                PermissibleStress::S135
            } else {
                PermissibleStress::GradeE
            };
            (mech::Material::steel(grade.min_yield(), grade.steel().min_tensile), branch)
        }
        mech::Kind::DrillCollar if od <= 0.1747 => (steel(110.0, 140.0), PermissibleStress::GradeE),
        mech::Kind::DrillCollar => (steel(100.0, 135.0), PermissibleStress::GradeE),
        _ => (steel(55.0, 95.0), PermissibleStress::GradeE),
    }
}
