//! The run that exposure is timed on: 600 joints, 3,000 m drilled, 300 segments, 450 curved arcs.
//! Invented, and the same on every machine.

use std::fmt::Write as _;

use pipelore::mechanics::bending::PermissibleStress;
use pipelore::mechanics::path::{Path, Station};
use pipelore::mechanics::string::{
    Bore, DrillString, Environment, Fluids, Kind, Material, Part, RunCase, Segment,
};
use pipelore::model::Activity;

/// A small generator of numbers that look random.
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    /// Between two numbers.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        low + (high - low) * ((self.0 >> 33) as f64 / (1_u64 << 31) as f64)
    }
}

/// Size of a run.
#[derive(Clone, Copy)]
pub struct Size {
    pub joints: usize,
    pub stations: usize,
    pub curved: usize,
    pub drilled: f64,
    pub segments: usize,
}

/// The size that the figures are given for.
pub const REFERENCE: Size =
    Size { joints: 600, stations: 600, curved: 450, drilled: 3000.0, segments: 300 };

/// A run of everyday size, for a fleet.
pub const EVERYDAY: Size =
    Size { joints: 320, stations: 150, curved: 120, drilled: 1500.0, segments: 150 };

/// A run of a size and the stations of its survey; `seed` varies it.
pub fn run(size: Size, seed: u64) -> (RunCase, Vec<Station>) {
    let mut dice = Dice::new(seed);
    let parts: Vec<Part> = (0..size.joints).map(|i| part(i, &mut dice)).collect();
    let string = DrillString::new(parts).unwrap();
    let depth = string.length() + 100.0;
    let stations = survey(size, depth, &mut dice);
    let segments = log(size, string.length(), &mut dice);
    let case = RunCase {
        path: Path::new(&stations).unwrap(),
        string,
        segments,
        fluids: Fluids::same(1200.0),
        cased_to: 0.3 * depth,
        riser_to: 0.0,
        bore: Bore::everywhere(0.2159),
        environment: Environment::default(),
    };
    (case, stations)
}

fn part(index: usize, dice: &mut Dice) -> Part {
    let (kind, od, wall, weight) = match index {
        0..18 => (Kind::DrillCollar, 0.1651, 0.046_83, 136.0),
        18..30 => (Kind::HeavyWeight, 0.127, 0.0254, 73.4),
        _ => (Kind::DrillPipe, 0.127, dice.between(7.6e-3, 9.19e-3), 31.03),
    };
    Part {
        kind,
        length: dice.between(9.3, 9.7),
        od,
        id: od - 2.0 * wall,
        air_weight: weight,
        tool_joint_od: Some(0.168),
        material: Material::steel(724.0e6, 793.0e6),
        permissible: PermissibleStress::GradeE,
        concentration: [1.0; 3],
    }
}

/// Vertical, then building, turning and wandering; the straight arcs are the first ones.
fn survey(size: Size, depth: f64, dice: &mut Dice) -> Vec<Station> {
    let straight = size.stations - size.curved;
    let step = depth / size.stations as f64;
    let (mut inc, mut azi) = (0.0, 40.0);
    let mut stations = vec![Station::from_degrees(0.0, inc, azi)];
    for i in 1..=size.stations {
        if i > straight {
            let building =
                if inc < 60.0 { dice.between(-0.2, 0.9) } else { dice.between(-0.7, 0.6) };
            inc = f64::max(inc + building * step / 10.0, 0.1);
            azi += dice.between(-0.6, 0.6) * step / 10.0;
        }
        stations.push(Station::from_degrees(i as f64 * step, inc, azi));
    }
    stations
}

fn log(size: Size, length: f64, dice: &mut Dice) -> Vec<Segment> {
    let mut segments = Vec::with_capacity(size.segments);
    let from = length - size.drilled;
    // of ten segments six drill, two ream, one turns off bottom, one slides
    let drilling = size.segments / 10 * 7;
    let advance = size.drilled / drilling as f64;
    let mut bit = from;
    let mut add = |activity, bits: (f64, f64), hours: f64, rpm: f64, wob| {
        segments.push(Segment {
            activity,
            bit_from: bits.0,
            bit_to: bits.1,
            hours,
            revolutions: rpm * 60.0 * hours,
            wob,
            torque: None,
            hookload: None,
        });
    };
    for i in 0..size.segments {
        match i % 10 {
            3 => add(Activity::ReamingUp, (bit, bit - 15.0), 0.2, 80.0, 0.0),
            4 => add(Activity::ReamingDown, (bit - 15.0, bit), 0.2, 80.0, 0.0),
            6 => add(Activity::RotatingOffBottom, (bit - 3.0, bit - 3.0), 0.4, 60.0, 0.0),
            9 => {
                add(Activity::Sliding, (bit, bit + advance), 1.0, 0.0, 40e3);
                bit += advance;
            }
            _ => {
                let (hours, rpm) = (dice.between(0.4, 1.5), dice.between(90.0, 160.0));
                add(
                    Activity::RotatingOnBottom,
                    (bit, bit + advance),
                    hours,
                    rpm,
                    dice.between(3e4, 1e5),
                );
                bit += advance;
            }
        }
    }
    segments
}

/// The run as text for another program: sections of comma-separated numbers in SI units.
pub fn export(case: &RunCase, stations: &[Station]) -> String {
    let mut out = String::new();
    writeln!(out, "survey {}", stations.len()).unwrap();
    for s in stations {
        writeln!(out, "{:?},{:?},{:?}", s.md, s.inc, s.azi).unwrap();
    }
    writeln!(out, "tally {}", case.string.parts().len()).unwrap();
    for p in case.string.parts() {
        let spans = i32::from(p.kind.spans_tool_joints());
        let weight = p.buoyed_weight(&case.fluids);
        writeln!(
            out,
            "{:?},{:?},{:?},{weight:?},{:?},{:?},{spans}",
            p.length, p.od, p.id, p.material.young, p.material.ultimate_strength
        )
        .unwrap();
    }
    writeln!(out, "log {}", case.segments.len()).unwrap();
    for s in &case.segments {
        writeln!(out, "{:?},{:?},{:?},{:?}", s.bit_from, s.bit_to, s.turns(), s.wob).unwrap();
    }
    out
}
