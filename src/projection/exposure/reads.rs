//! What the exposure of a joint reads, and the digest that tells whether any of it changed.
//!
//! `mechanics` is handed the string as [`felt`] by one of its parts, that part by itself, and the
//! rest of the case: nothing else. Each of these is taken apart here field by field, with no field
//! left out unsaid, so that a new one does not compile before it is in the digest.

use sha2::{Digest, Sha256};

use super::case::{Case, Notched, Phase};
use super::input::JointLine;
use crate::mechanics::bending::PermissibleStress;
use crate::mechanics::exposure::{Places, Settings};
use crate::mechanics::fatigue::{Curve, Knee, MeanStress};
use crate::mechanics::path::Path;
use crate::mechanics::string::{BoreSection, Environment, Fluids, Kind, Material, Part, Segment};

/// A part as the exposure of another one feels it: by its length and by what of it hangs.
pub(super) fn felt(part: &Part) -> Part {
    let Part {
        kind: _,
        length,
        od: _,
        id,
        air_weight,
        tool_joint_od: _,
        material,
        permissible: _,
        concentration: _,
    } = *part;
    Part {
        kind: Kind::Other,
        length,
        // As thick as anything: nobody asks.
        od: 2.0 * id + 0.1,
        id,
        air_weight,
        tool_joint_od: None,
        material: Material { density: material.density, ..Material::steel(1.0, 2.0) },
        permissible: PermissibleStress::GradeE,
        concentration: [1.0; 3],
    }
}

/// A digest that is being made.
struct Reads(Sha256);

impl Reads {
    fn number(&mut self, x: f64) {
        self.0.update(x.to_bits().to_be_bytes());
    }

    fn maybe(&mut self, x: Option<f64>) {
        self.flag(x.is_some());
        self.number(x.unwrap_or_default());
    }

    fn whole(&mut self, n: i64) {
        self.0.update(n.to_be_bytes());
    }

    fn count(&mut self, n: usize) {
        self.0.update((n as u64).to_be_bytes());
    }

    fn flag(&mut self, flag: bool) {
        self.0.update([u8::from(flag)]);
    }

    fn text(&mut self, text: &str) {
        self.count(text.len());
        self.0.update(text.as_bytes());
    }

    fn part(&mut self, part: &Part) {
        let Part {
            kind,
            length,
            od,
            id,
            air_weight,
            tool_joint_od,
            material: Material { metal, young, density, yield_strength, ultimate_strength },
            permissible,
            concentration,
        } = *part;
        self.0.update([kind as u8, metal as u8, permissible as u8]);
        for x in [length, od, id, air_weight, young, density, yield_strength, ultimate_strength] {
            self.number(x);
        }
        self.maybe(tool_joint_od);
        concentration.iter().for_each(|x| self.number(*x));
    }

    fn path(&mut self, path: &Path) {
        path.numbers().for_each(|x| self.number(x));
    }

    fn phase(&mut self, phase: &Phase) {
        let Phase { string: _, felt, names: _, segments, prepared: _ } = phase;
        self.count(felt.parts().len());
        felt.parts().iter().for_each(|p| self.part(p));
        self.count(segments.len());
        for (start, duration, segment) in segments {
            let Segment {
                activity,
                bit_from,
                bit_to,
                hours,
                revolutions,
                wob,
                // For people and for other reports.
                torque: _,
                hookload: _,
            } = *segment;
            self.whole(*start);
            self.whole(*duration);
            self.0.update([activity as u8]);
            for x in [bit_from, bit_to, hours, revolutions, wob] {
                self.number(x);
            }
        }
    }

    fn curve(&mut self, curve: &Curve) {
        let Curve {
            standard: _,
            edition: _,
            medium: _,
            class: _,
            m,
            log_a,
            knee,
            contains_mean_stress,
            basis: _,
            scatter: _,
            source: _,
            provenance: _,
            scatter_provenance: _,
            note: _,
        } = curve;
        self.text(&curve.name());
        self.number(*m);
        self.number(*log_a);
        self.flag(*contains_mean_stress);
        self.flag(knee.is_some());
        if let Some(Knee { cycles, m, log_a, listed_log_a: _ }) = *knee {
            [cycles, m, log_a].into_iter().for_each(|x| self.number(x));
        }
    }

    fn settings(&mut self, settings: &Settings) {
        let Settings {
            places: Places { pin_end, box_end },
            curves,
            mean_stress,
            limit_factor,
            tortuosity,
            compression,
            points,
            hottest_celsius,
        } = settings;
        for x in [pin_end, box_end, limit_factor, tortuosity, hottest_celsius] {
            self.number(*x);
        }
        self.flag(*compression);
        self.count(*points);
        curves.iter().for_each(|c| self.curve(c));
        self.text(mean_stress.name());
        self.maybe(match mean_stress {
            MeanStress::Morrow { fracture_strength } => Some(*fracture_strength),
            MeanStress::None | MeanStress::Goodman | MeanStress::Gerber | MeanStress::Soderberg => {
                None
            }
        });
    }
}

/// Digest of everything that the figures of all joints of a run share.
pub(super) fn of_run(case: &Case) -> Vec<u8> {
    let Case {
        path,
        phases,
        fluids: Fluids { inside, outside },
        cased_to,
        riser_to,
        bore,
        environment: Environment { hydrogen_sulphide, hottest_celsius },
        settings,
        // What of it counts is in the settings.
        method: _,
        path_known,
        loads_known,
        casing_known,
    } = case;
    let mut reads = Reads(Sha256::new());
    reads.path(path);
    reads.count(phases.len());
    phases.iter().for_each(|phase| reads.phase(phase));
    for x in [inside, outside, cased_to, riser_to] {
        reads.number(*x);
    }
    reads.count(bore.sections().len());
    for BoreSection { from, to, diameter } in bore.sections() {
        [from, to, diameter].into_iter().for_each(|x| reads.number(*x));
    }
    reads.maybe(*hottest_celsius);
    for flag in [hydrogen_sulphide, path_known, loads_known, casing_known] {
        reads.flag(*flag);
    }
    reads.settings(settings);
    reads.0.finalize().to_vec()
}

/// Digest of everything that the figures of one joint rest on: of what is shared, and of its own.
pub(super) fn of_joint(shared: &[u8], line: &JointLine, case: Option<&Case>, flags: i64) -> i64 {
    let JointLine {
        joint: _,
        place,
        key: _,
        from_bit,
        length,
        section_known,
        weight_known,
        twice,
        notch_unmeasured,
        assumed,
        notched,
        pin_rated,
        parts,
    } = line;
    let mut reads = Reads(Sha256::new());
    reads.whole(super::super::VERSION);
    reads.0.update(shared);
    for n in [flags, *from_bit, *place, *length, assumed.bits()] {
        reads.whole(n);
    }
    for flag in [section_known, weight_known, twice, notch_unmeasured, pin_rated] {
        reads.flag(*flag);
    }
    reads.count(notched.len());
    for Notched { from, concentration } in notched {
        reads.whole(*from);
        concentration.iter().for_each(|x| reads.number(*x));
    }
    for (phase, at) in parts.iter().enumerate() {
        let own = at.and_then(|at| case?.phases.get(phase)?.string.parts().get(at));
        reads.flag(own.is_some());
        if let (Some(at), Some(own)) = (at, own) {
            reads.count(*at);
            reads.part(own);
        }
    }
    let bytes: [u8; 32] = reads.0.finalize().into();
    let mut first = [0; 8];
    first.copy_from_slice(&bytes[..8]);
    i64::from_be_bytes(first)
}
