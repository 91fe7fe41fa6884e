//! Laws of exposure on random runs: kernel against plain integration, sums, cuts, mirror images,
//! monotony, and equality to the bit however the work is shared out.

use pipelore::mechanics::exposure::{PartExposure, PreparedRun, ProfiledRun, Settings};
use pipelore::model::Activity;
use proptest::prelude::*;
use proptest::sample::Index;
use proptest::strategy::ValueTree;
use proptest::test_runner::{RngAlgorithm, TestRng, TestRunner};
use rayon::prelude::*;

use crate::check_values::Misses;
use crate::exposure_compare::compare;
use crate::exposure_plain::plain;
use crate::exposure_random::{
    AIR, Recipe, all, always_pulled, at_rpm, cases, exposure, near, recipe, settings,
};

/// One part of a run by the kernel, and where plain integration says otherwise.
fn kernel_and_plain(recipe: &Recipe, at: Index, curve: usize) -> (PartExposure, Misses) {
    let curve = [AIR, "DNV-RP-C203 2024-10 air C", "DNVGL-RP-C203 2016 protected F1"][curve];
    let run = recipe.run();
    let part = at.index(recipe.parts.len());
    let settings = settings(curve);
    let got = exposure(&run, &settings, part);
    let exact = plain(&run, &settings, 12, part);
    let mut misses = Misses::default();
    compare(&format!("part {part}"), &got, &exact, &mut misses);
    (got, misses)
}

/// Rare runs in which one of the two was wrong, each by the seed that draws it.
#[test]
fn rare_runs_agree_too() {
    let rare = [
        ("a turn of tension beside the end of a piece", [40_313_u64, 40_523, 14_551]),
        ("two turns of tension within one arc", [19_329, 32_158, 13_970]),
        ("a corner of the side force near the end of a piece", [34_881, 51_503, 67_169]),
        ("side force that is the small difference of pull and weight", [44_666, 10_870, 45_842]),
        (
            "a step of weight that passes an arc where the side force bends",
            [14_549, 47_011, 37_280],
        ),
        ("buckled between the ends of a piece", [12_627, 14_169, 14_580]),
        ("buckled at the corner of the side force", [14_833, 18_168, 18_378]),
        ("a step of weight that passes an arc under slender pipe", [22_599, 18_692, 51_160]),
    ];
    for (what, seeds) in rare {
        for seed in seeds {
            let mut bytes = [0; 32];
            bytes[..8].copy_from_slice(&seed.to_le_bytes());
            let dice = TestRng::from_seed(RngAlgorithm::ChaCha, &bytes);
            let mut runner = TestRunner::new_with_rng(ProptestConfig::default(), dice);
            let drawn = (recipe(), any::<Index>(), 0..3_usize).new_tree(&mut runner).unwrap();
            let (recipe, at, curve) = drawn.current();
            kernel_and_plain(&recipe, at, curve).1.none(&format!("{what}, seed {seed}"));
        }
    }
}

proptest! {
    #![proptest_config(cases(192))]

    #[test]
    fn the_kernel_is_the_plain_integral(recipe in recipe(), at in any::<Index>(), curve in 0..3_usize) {
        let (got, misses) = kernel_and_plain(&recipe, at, curve);
        misses.none("kernel and plain integration");
        prop_assert!(near(got.bands.turns.iter().sum(), got.revolutions, 1e-9));
        prop_assert!(near(got.bands.hours.iter().sum(), got.rotating_hours, 1e-9));
    }
}

proptest! {
    #![proptest_config(cases(48))]

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
        for (a, b) in together.max_bending_stress.into_iter().zip(whole.max_bending_stress) {
            prop_assert!(near(a, b, 1e-6));
        }
    }

    #[test]
    fn what_does_not_rotate_does_no_damage(recipe in recipe(), at in any::<Index>()) {
        let mut still = recipe.clone();
        for segment in &mut still.segments {
            segment.activity = Activity::Sliding;
        }
        let e = exposure(&still.run(), &settings(AIR), at.index(recipe.parts.len()));
        prop_assert!(e.damage == [0.0; 3] && e.revolutions <= 0.0 && e.side_force_work <= 0.0);
        prop_assert!(e.max_tension.is_none());
    }

    /// At the ends of the joint: at its middle tension straightens the pipe.
    #[test]
    fn damage_grows_with_curvature_and_tension(recipe in recipe(), at in any::<Index>()) {
        let part = at.index(recipe.parts.len());
        let plain_settings = settings(AIR);
        // A span in compression that comes to lie on the wall is held there, and its ends bend less
        // than those of one that does not reach it; and more compression bends the ends less at first.
        prop_assume!(always_pulled(&recipe, &plain_settings, part));
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
        let serial = all(&run, &settings);
        let parallel: Vec<PartExposure> =
            (0..serial.len()).into_par_iter().map(|i| prepared.part(i).unwrap()).collect();
        prop_assert_eq!(&parallel, &serial);
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

    /// A run cut at an instant, asked of the whole run's tables, is the run of those segments.
    #[test]
    fn a_cut_run_is_a_run_of_its_own(
        recipe in recipe(),
        at in any::<Index>(),
        when in any::<Index>(),
        fraction in 0.0..1.0_f64,
    ) {
        let run = recipe.run();
        let settings = settings(AIR);
        let part = at.index(recipe.parts.len());
        let prepared = PreparedRun::new(&run, &settings).unwrap();
        let when = when.index(run.segments.len());
        let (head, tail) = run.segments[when].split_at_fraction(fraction);
        let mut before = run.segments[..when].to_vec();
        before.push(head);
        let mut after = vec![tail];
        after.extend(&run.segments[when + 1..]);
        let whole = prepared.part(part).unwrap();
        let mut sum = PartExposure::default();
        for segments in [before, after] {
            let cut = prepared.of_segments(segments.clone()).unwrap().part(part).unwrap();
            let alone = Recipe { segments, ..recipe.clone() };
            prop_assert_eq!(&cut, &exposure(&alone.run(), &settings, part));
            sum.add(&cut);
        }
        let mut misses = Misses::default();
        compare("both parts of the cut run", &sum, &whole, &mut misses);
        misses.none("cut run");
        // segments that go where the run didn't are prepared for
        let mut deeper = run.segments.clone();
        let last = deeper[deeper.len() - 1].bit_to;
        deeper.push(at_rpm(Activity::RotatingOnBottom, (last, last + 40.0), 1.0, 90.0, 2e4));
        let got = prepared.of_segments(deeper.clone()).unwrap().part(part).unwrap();
        let alone = Recipe { segments: deeper, ..recipe.clone() };
        prop_assert_eq!(&got, &exposure(&alone.run(), &settings, part));
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
            prop_assert!(profile.by_activity[Activity::Sliding as usize][place] <= 0.0);
        }
        let shallow = whole.shallowest.unwrap_or(0.0) - recipe.parts[part].length;
        for (bin, damage) in profile.by_depth.iter().enumerate() {
            if (bin + 1) as f64 * width < shallow {
                prop_assert!(damage.iter().sum::<f64>() <= 0.0);
            }
        }
    }
}
