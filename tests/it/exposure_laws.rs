//! Laws of exposure on random runs: kernel against plain integration, sums, cuts, mirror images,
//! monotony, and equality to the bit however the work is shared out.

use pipelore::mechanics::bending::PermissibleStress;
use pipelore::mechanics::exposure::{PartExposure, PreparedRun, ProfiledRun, Settings, plain};
use pipelore::mechanics::fatigue::CurveTable;
use pipelore::mechanics::path::{Path, Station};
use pipelore::mechanics::string::{
    Activity, DrillString, Environment, Fluids, Kind, Material, Part, RunCase, Segment,
};
use proptest::prelude::*;
use proptest::sample::Index;

use crate::check_values::Misses;
use crate::exposure_compare::compare;

/// A run from numbers, so that its pieces can be altered.
#[derive(Clone)]
struct Recipe {
    stations: Vec<Station>,
    parts: Vec<Part>,
    segments: Vec<Segment>,
    mud: f64,
}

/// Short enough to read when a law fails.
impl std::fmt::Debug for Recipe {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let stations: Vec<_> = self.stations.iter().map(|s| (s.md, s.inc, s.azi)).collect();
        let parts: Vec<_> = self.parts.iter().map(|p| (p.length, p.od)).collect();
        let log: Vec<_> = self
            .segments
            .iter()
            .map(|s| (s.activity, s.bit_from, s.bit_to, s.hours, s.revolutions, s.wob))
            .collect();
        write!(f, "mud {}; {stations:?}; {parts:?}; {log:?}", self.mud)
    }
}

impl Recipe {
    fn run(&self) -> RunCase {
        RunCase {
            path: Path::new(&self.stations).unwrap(),
            string: DrillString::new(self.parts.clone()).unwrap(),
            segments: self.segments.clone(),
            fluids: Fluids::same(self.mud),
            cased_to: 300.0,
            riser_to: 50.0,
            hole_diameter: Some(0.2159),
            environment: Environment::default(),
        }
    }
}

fn joint(kind: Kind, od: f64, wall: f64, air_weight: f64, length: f64) -> Part {
    Part {
        kind,
        length,
        od,
        id: od - 2.0 * wall,
        air_weight,
        tool_joint_od: Some(od + 0.04),
        material: Material::steel(724.0e6, 793.0e6),
        permissible: PermissibleStress::GradeE,
        concentration: [1.0, 1.0, 1.3],
    }
}

prop_compose! {
    /// Sharp and gentle holes, thick and thin pipe, every activity.
    fn recipe()(
        steps in prop::collection::vec((8.0..40.0_f64, -4.0..6.0_f64, -10.0..10.0_f64), 20..40),
        small in any::<bool>(),
        lengths in prop::collection::vec(8.8..9.9_f64, 30..60),
        log in prop::collection::vec(
            (0..6_usize, 0.0..25.0_f64, 0.1..2.0_f64, 30.0..160.0_f64, 0.0..120e3_f64), 3..12),
        start in 0.3..0.95_f64,
        mud in 1000.0..1900.0_f64,
    ) -> Recipe {
        let (mut md, mut inc, mut azi) = (200.0, 0.0_f64, 30.0);
        let mut stations = vec![Station::from_degrees(0.0, 0.0, 0.0), Station::from_degrees(md, 0.0, 0.0)];
        for (length, build, turn) in steps {
            md += length;
            // now and then a straight piece
            if build.abs() > 0.3 {
                inc = (inc + build).abs().min(95.0);
                azi += turn;
            }
            stations.push(Station::from_degrees(md, inc, azi));
        }
        let count = lengths.len();
        let parts: Vec<Part> = lengths.into_iter().enumerate().map(|(i, length)| match i {
            0..4 => joint(Kind::DrillCollar, 0.1651, 0.0468, 136.0, length),
            4..8 => joint(Kind::HeavyWeight, 0.127, 0.0254, 73.4, length),
            _ if small => joint(Kind::DrillPipe, 0.0603, 0.0071, 10.1, length),
            _ if i > count / 2 => joint(Kind::DrillPipe, 0.1397, 0.0092, 35.7, length),
            _ => joint(Kind::DrillPipe, 0.127, 0.0081, 31.0, length),
        }).collect();
        let mut bit = start * md;
        let mut segments = Vec::new();
        for (what, advance, hours, rpm, wob) in log {
            let (activity, to, rpm, wob) = match what {
                0 | 1 => (Activity::RotatingOnBottom, bit + advance, rpm, wob),
                2 => (Activity::ReamingUp, bit - 0.5 * advance, rpm, 0.0),
                3 => (Activity::ReamingDown, bit + advance, rpm, 0.0),
                4 => (Activity::RotatingOffBottom, bit, rpm, 0.0),
                _ => (Activity::Sliding, bit + advance, 20.0, wob),
            };
            segments.push(Segment::at_rpm(activity, (bit, to), hours, rpm, wob));
            bit = to;
        }
        Recipe { stations, parts, segments, mud }
    }
}

fn settings(curve: &str) -> Settings {
    Settings::with_curve(CurveTable::shipped().unwrap().get(curve).unwrap())
}

const AIR: &str = "DNVGL-RP-C203 2016 air B1";

fn exposure(run: &RunCase, settings: &Settings, part: usize) -> PartExposure {
    PreparedRun::new(run, settings).unwrap().part(part).unwrap()
}

fn near(a: f64, b: f64, tolerance: f64) -> bool {
    (a - b).abs() <= tolerance * b.abs() + 1e-15
}

/// So many cases, or as many as `PROPTEST_CASES` says.
fn cases(usual: u32) -> ProptestConfig {
    match std::env::var_os("PROPTEST_CASES") {
        Some(_) => ProptestConfig::default(),
        None => ProptestConfig::with_cases(usual),
    }
}

proptest! {
    #![proptest_config(cases(48))]

    #[test]
    fn the_kernel_is_the_plain_integral(recipe in recipe(), at in any::<Index>(), curve in 0..3_usize) {
        let curve = [AIR, "DNV-RP-C203 2024-10 air C", "DNVGL-RP-C203 2016 protected F1"][curve];
        let run = recipe.run();
        let part = at.index(recipe.parts.len());
        let settings = settings(curve);
        let got = exposure(&run, &settings, part);
        let exact = plain(&run, &Settings { points: 12, ..settings }, part).unwrap();
        let mut misses = Misses::default();
        compare(&format!("part {part}"), &got, &exact, &mut misses);
        misses.none("kernel and plain integration");
        prop_assert!(near(got.bands.turns.iter().sum(), got.revolutions, 1e-9));
        prop_assert!(near(got.bands.hours.iter().sum(), got.rotating_hours, 1e-9));
    }

    #[test]
    fn exposures_add_over_segments_and_cuts(
        recipe in recipe(),
        at in any::<Index>(),
        cuts in prop::collection::vec(0.0..1.0_f64, 12),
    ) {
        let run = recipe.run();
        let part = at.index(recipe.parts.len());
        let settings = settings(AIR);
        let whole = exposure(&run, &settings, part);
        let mut sums = [0.0; 9];
        let mut cut = recipe.clone();
        cut.segments.clear();
        for (segment, fraction) in recipe.segments.iter().zip(cuts) {
            let (first, second) = segment.split_at_fraction(fraction);
            for piece in [first, second] {
                cut.segments.push(piece);
                let alone = Recipe { segments: vec![piece], ..recipe.clone() }.run();
                let e = exposure(&alone, &settings, part);
                let parts = [
                    e.damage[0], e.damage[1], e.damage[2], e.rotating_hours, e.revolutions, e.footage,
                    e.hours_below_table, e.hours_in_casing, e.revolutions_open_hole,
                ];
                for (sum, part) in sums.iter_mut().zip(parts) {
                    *sum += part;
                }
            }
        }
        let together = exposure(&cut.run(), &settings, part);
        for (place, sum) in sums[..3].iter().enumerate() {
            let (all, joined) = (whole.damage[place], together.damage[place]);
            prop_assert!(near(*sum, all, 1e-6), "{place}: {sum} {all}");
            prop_assert!(near(joined, all, 1e-6), "{place}: {joined} {all}");
        }
        let all = [
            whole.rotating_hours, whole.revolutions, whole.footage, whole.hours_below_table,
            whole.hours_in_casing, whole.revolutions_open_hole,
        ];
        for (sum, whole) in sums[3..].iter().zip(all) {
            prop_assert!(near(*sum, whole, 1e-9), "{sum} {whole}");
        }
        prop_assert!(near(together.max_bending_stress, whole.max_bending_stress, 1e-6));
    }

    #[test]
    fn what_does_not_rotate_does_no_damage(recipe in recipe(), at in any::<Index>()) {
        let mut still = recipe.clone();
        for segment in &mut still.segments {
            segment.activity = Activity::Sliding;
        }
        let e = exposure(&still.run(), &settings(AIR), at.index(recipe.parts.len()));
        prop_assert!(e.worst_damage() <= 0.0 && e.revolutions <= 0.0 && e.side_force_work <= 0.0);
        prop_assert!(e.max_tension.is_none());
    }

    #[test]
    fn damage_grows_with_curvature_tension_and_lost_wall(recipe in recipe(), at in any::<Index>()) {
        let part = at.index(recipe.parts.len());
        let plain_settings = settings(AIR);
        let ends = |recipe: &Recipe, settings: &Settings| {
            let d = exposure(&recipe.run(), settings, part).damage;
            d[0] + d[2]
        };
        let base = ends(&recipe, &plain_settings);
        let rougher = Settings { tortuosity: 1e-4, ..plain_settings.clone() };
        prop_assert!(ends(&recipe, &rougher) >= base);

        let mut pulled = recipe.clone();
        for segment in &mut pulled.segments {
            segment.wob -= 20e3;
        }
        prop_assert!(ends(&pulled, &plain_settings) >= base * (1.0 - 1e-9));

        let mut worn = recipe.clone();
        worn.parts[part].id += 0.2 * (worn.parts[part].od - worn.parts[part].id);
        prop_assert!(ends(&worn, &plain_settings) >= base * (1.0 - 1e-9));
    }

    #[test]
    fn a_mirror_image_is_the_same_to_the_bit(recipe in recipe(), at in any::<Index>()) {
        let part = at.index(recipe.parts.len());
        let mut mirrored = recipe.clone();
        for station in &mut mirrored.stations {
            station.azi = -station.azi;
        }
        let settings = settings(AIR);
        let (a, b) = (exposure(&recipe.run(), &settings, part), exposure(&mirrored.run(), &settings, part));
        prop_assert_eq!(a, b);
    }

    #[test]
    fn sharing_out_the_work_changes_no_bit(recipe in recipe(), at in any::<Index>()) {
        let run = recipe.run();
        let settings = settings(AIR);
        let prepared = PreparedRun::new(&run, &settings).unwrap();
        let serial = prepared.all().unwrap();
        prop_assert_eq!(&prepared.all_parallel().unwrap(), &serial);
        let part = at.index(recipe.parts.len());
        let alone = PreparedRun::up_to(&run, &settings, part + 1).unwrap().part(part).unwrap();
        prop_assert_eq!(&alone, &serial[part]);
        // a new wall reading of another joint leaves this one alone
        let mut other = recipe.clone();
        let elsewhere = (part + 7) % other.parts.len();
        other.parts[elsewhere].id += 1e-4;
        if elsewhere != part {
            prop_assert_eq!(&exposure(&other.run(), &settings, part), &serial[part]);
        }
    }

    #[test]
    fn a_profile_adds_up_to_the_damage(recipe in recipe(), at in any::<Index>(), width in 5.0..80.0_f64) {
        let run = recipe.run();
        let settings = settings(AIR);
        let part = at.index(recipe.parts.len());
        let whole = exposure(&run, &settings, part);
        let profile = ProfiledRun::new(&run, &settings, width).unwrap().part(part).unwrap();
        for place in 0..3 {
            let depth: f64 = profile.by_depth.iter().map(|d| d[place]).sum();
            let activity: f64 = profile.by_activity.iter().map(|d| d[place]).sum();
            prop_assert!(near(depth, whole.damage[place], 1e-6));
            prop_assert!(near(activity, whole.damage[place], 1e-6));
            prop_assert!(profile.by_activity[Activity::Sliding.index()][place] <= 0.0);
        }
        let shallow = whole.shallowest.unwrap_or(0.0) - recipe.parts[part].length;
        for (bin, damage) in profile.by_depth.iter().enumerate() {
            if (bin + 1) as f64 * width < shallow {
                prop_assert!(damage.iter().sum::<f64>() <= 0.0);
            }
        }
    }
}
