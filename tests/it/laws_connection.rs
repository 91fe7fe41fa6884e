//! Laws of the connection: what has to hold for any dimensions, not only for those of the tables.

use pipelore::mechanics::connection::{
    BendingSections, CATALOGUE, Connection, ConnectionType, Dimensions, Friction, MakeupTolerance,
    MinOdRule, RsRule, TOOL_JOINT_YIELD, TorqueBasis, judge_makeup, minimum_od, scaled_by_compound,
};
use pipelore::mechanics::tube::us::{FT_LBF, INCH};
use proptest::prelude::*;

fn connection_type() -> impl Strategy<Value = ConnectionType> {
    prop::sample::select(CATALOGUE.iter().map(|s| s.connection).collect::<Vec<_>>())
}

fn rule() -> impl Strategy<Value = RsRule> {
    prop::sample::select(vec![RsRule::ListedOd, RsRule::Capped])
}

/// A connection that can exist: shoulder of 1/16 to 1 3/4 in, bore of 15 to 80 % of the pin.
fn dimensions(connection: ConnectionType, shoulder: f64, bore: f64) -> Dimensions {
    let spec = connection.spec();
    let root = spec.pitch_diameter() - 2.0 * spec.form.dedendum();
    Dimensions::new(spec.counterbore() + 2.0 * shoulder * INCH, bore * root)
}

fn pair(connection: ConnectionType, dimensions: Dimensions) -> Connection {
    Connection::new(connection, dimensions).unwrap()
}

fn torque(c: &Connection, rule: RsRule) -> f64 {
    c.torque(TorqueBasis::at_stress(TOOL_JOINT_YIELD).with_rule(rule)).unwrap().torque
}

const SLACK: f64 = 1.0 + 1e-12;

proptest! {
    #[test]
    fn torque_falls_with_wear_outside(
        t in connection_type(), rule in rule(), bore in 0.15..0.8_f64,
        a in 0.0625..1.75_f64, b in 0.0625..1.75_f64,
    ) {
        let worn = pair(t, dimensions(t, a.min(b), bore)).torque(
            TorqueBasis::at_stress(TOOL_JOINT_YIELD).with_rule(rule)).unwrap();
        let whole = pair(t, dimensions(t, a.max(b), bore)).torque(
            TorqueBasis::at_stress(TOOL_JOINT_YIELD).with_rule(rule)).unwrap();
        prop_assert!(worn.box_torque <= whole.box_torque * SLACK);
        prop_assert!(worn.torque <= whole.torque * SLACK);
    }

    #[test]
    fn torque_falls_with_the_bore(
        t in connection_type(), rule in rule(), shoulder in 0.0625..1.75_f64,
        a in 0.15..0.8_f64, b in 0.15..0.8_f64,
    ) {
        let wide = pair(t, dimensions(t, shoulder, a.max(b)));
        let narrow = pair(t, dimensions(t, shoulder, a.min(b)));
        let of = |c: &Connection| {
            c.torque(TorqueBasis::at_stress(TOOL_JOINT_YIELD).with_rule(rule)).unwrap()
        };
        prop_assert!(of(&wide).pin_torque <= of(&narrow).pin_torque * SLACK);
        prop_assert!(of(&wide).torque <= of(&narrow).torque * SLACK);
    }

    #[test]
    fn the_capped_rule_never_gives_more(
        t in connection_type(), shoulder in 0.0625..1.75_f64, bore in 0.15..0.8_f64
    ) {
        let c = pair(t, dimensions(t, shoulder, bore));
        prop_assert!(torque(&c, RsRule::Capped) <= torque(&c, RsRule::ListedOd) * SLACK);
    }

    #[test]
    fn no_finding_raises_a_rating(
        t in connection_type(), rule in rule(), shoulder in 0.3..1.75_f64, bore in 0.15..0.8_f64,
        bevel in 0.5..1.2_f64, swell in 0.0..0.2_f64, pin in 0.5..1.2_f64, groove in 0.9..1.1_f64,
    ) {
        let sound = dimensions(t, shoulder, bore);
        let before = torque(&pair(t, sound), rule);
        let spec = t.spec();
        let width = sound.od - spec.counterbore();
        let root = spec.pitch_diameter() - 2.0 * spec.form.dedendum();
        let findings: [fn(&mut Dimensions, [f64; 4]); 4] = [
            |d, v| d.bevel = Some(v[0]),
            |d, v| d.counterbore = Some(v[1]),
            |d, v| d.pin_od = Some(v[2]),
            |d, v| d.relief_groove = Some(v[3]),
        ];
        let values = [
            spec.counterbore() + bevel * width,
            spec.counterbore() + swell * INCH,
            spec.counterbore() + pin * width,
            groove * root,
        ];
        let mut all = sound;
        for finding in findings {
            let mut one = sound;
            finding(&mut one, values);
            finding(&mut all, values);
            prop_assert!(torque(&pair(t, one), rule) <= before * SLACK, "{one:?}");
        }
        if let Ok(c) = Connection::new(t, all) {
            prop_assert!(torque(&c, rule) <= before * SLACK, "{all:?}");
        }
    }

    #[test]
    fn make_up_scales_with_stress_and_rises_with_friction(
        t in connection_type(), rule in rule(), shoulder in 0.0625..1.75_f64,
        bore in 0.15..0.8_f64, factor in 0.5..1.5_f64,
    ) {
        let c = pair(t, dimensions(t, shoulder, bore));
        let yield_torque = torque(&c, rule);
        let makeup = c.torque(TorqueBasis::tool_joint_makeup().with_rule(rule)).unwrap().torque;
        prop_assert!((makeup / yield_torque - 0.6).abs() < 1e-12);
        let compound = TorqueBasis::at_stress(TOOL_JOINT_YIELD)
            .with_rule(rule)
            .with_friction(Friction::with_compound(factor));
        let greased = c.torque(compound).unwrap().torque;
        prop_assert_eq!(greased > yield_torque, factor > 1.0);
        // The rule of the drum and the formula agree but for the lead, which has no friction.
        let drum = scaled_by_compound(yield_torque, factor).unwrap();
        prop_assert!((drum / greased - 1.0).abs() < 0.2);
    }

    #[test]
    fn the_minimum_diameter_is_enough_and_a_step_less_is_not(
        t in connection_type(), rs_rule in rule(), bore in 0.15..0.7_f64, share in 0.05..1.0_f64,
    ) {
        // A tube that this connection suits: a share of its torque with a shoulder of one inch.
        let d = dimensions(t, 1.0, bore);
        let tube = share * torque(&pair(t, d), rs_rule) / 0.8;
        let rule = MinOdRule {
            basis: TorqueBasis::at_stress(TOOL_JOINT_YIELD).with_rule(rs_rule),
            ..MinOdRule::default()
        };
        let m = minimum_od(t, d.id, tube, rule).unwrap();
        prop_assert!(m.at_od.box_torque >= m.required);
        prop_assert!((m.required / tube - 0.8).abs() < 1e-12);
        let steps = m.od / rule.step;
        prop_assert!((steps - steps.round()).abs() < 1e-9, "{steps} steps");
        prop_assert!(m.exact_od <= m.od && m.od - m.exact_od <= rule.step * SLACK);
        let less = m.od - rule.step;
        match Connection::new(t, Dimensions::new(less, d.id)) {
            // Below a shoulder of one step there is nothing to try.
            _ if less < t.spec().counterbore() + rule.step => {}
            Ok(c) => {
                let r = c.torque(rule.basis).unwrap();
                prop_assert!(r.box_torque < m.required, "one step less is enough too");
            }
            Err(e) => prop_assert!(false, "{e}"),
        }
    }

    #[test]
    fn pull_capacity_stays_below_the_pin_and_is_the_smaller_of_its_two(
        t in connection_type(), shoulder in 0.0625..1.75_f64, bore in 0.15..0.8_f64,
        share in 0.0..1.0_f64,
    ) {
        let c = pair(t, dimensions(t, shoulder, bore));
        let basis = TorqueBasis::at_stress(TOOL_JOINT_YIELD);
        let at = c.tension_at_makeup(basis, share * torque(&c, RsRule::Capped)).unwrap();
        prop_assert!(at.capacity <= basis.stress * c.pin_area * SLACK);
        prop_assert!((at.capacity - at.separation.min(at.pin_yield)).abs() < 1e-6);
        prop_assert!(at.capacity >= -1e-6 && at.preload >= 0.0);
        let best = c.balanced_makeup(basis).unwrap();
        let peak = c.tension_at_makeup(basis, best).unwrap().capacity;
        prop_assert!(at.capacity <= peak * (1.0 + 1e-9));
    }

    #[test]
    fn bending_strength_ratio_falls_outside_and_rises_inside(
        t in connection_type(), a in 0.5..1.75_f64, b in 0.5..1.75_f64,
        c in 0.15..0.8_f64, d in 0.15..0.8_f64,
    ) {
        let of = |shoulder, bore| {
            pair(t, dimensions(t, shoulder, bore))
                .bending_strength_ratio(BendingSections::ThreadRoots)
                .ratio
        };
        prop_assert!(of(a.min(b), c) <= of(a.max(b), c) * SLACK);
        prop_assert!(of(a, c.min(d)) <= of(a, c.max(d)) * SLACK);
    }

    #[test]
    fn names_survive_case_dashes_and_blanks(
        t in connection_type(), upper in any::<bool>(), dash in any::<bool>(), blanks in 1..3_usize,
    ) {
        let mut name = t.name().replace(' ', &" ".repeat(blanks));
        if dash {
            // Only the first blank, between whole inches and fraction, is ever dashed.
            name = name.replacen(' ', "-", 1);
        }
        let name = if upper { name.to_uppercase() } else { name.to_lowercase() };
        prop_assert_eq!(name.parse::<ConnectionType>(), Ok(t), "{}", name);
    }

    #[test]
    fn any_text_at_all_is_read_or_refused(text in "\\PC{0,24}") {
        let _ = text.parse::<ConnectionType>();
    }
}

/// A plausible number nine times in ten, else one that breaks arithmetic.
fn wild(plausible: std::ops::Range<f64>) -> impl Strategy<Value = f64> {
    prop_oneof![
        18 => plausible,
        1 => any::<f64>(),
        1 => prop::sample::select(vec![
            0.0, -0.0, f64::NAN, f64::INFINITY, f64::NEG_INFINITY, f64::MIN_POSITIVE, f64::MAX,
            1e-300, 1e300, -1.0, 2.0, 1e-9, 1e-10,
        ]),
    ]
}

fn maybe(plausible: std::ops::Range<f64>) -> impl Strategy<Value = Option<f64>> {
    prop_oneof![3 => Just(None), 1 => wild(plausible).prop_map(Some)]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4000))]

    #[test]
    fn an_accepted_input_never_gives_a_nan(
        t in connection_type(), rule in rule(), od in wild(0.1..0.28), id in wild(0.0..0.08),
        pin_od in maybe(0.1..0.28), bevel in maybe(0.1..0.28), counterbore in maybe(0.06..0.22),
        relief_groove in maybe(0.05..0.2), bore_back in maybe(0.05..0.2),
        stress in wild(1e8..1e9), load in wild(0.0..1e5), factor in wild(0.5..1.5),
    ) {
        let d = Dimensions { od, id, pin_od, bevel, counterbore, relief_groove, bore_back };
        if let Ok(c) = Connection::new(t, d) {
            prop_assert!(c.pin_area > 0.0 && c.box_area > 0.0 && c.pin_tension_area > 0.0, "{c:?}");
            prop_assert!(c.contact_od > c.contact_id && c.shoulder_width() > 0.0);
            let basis = TorqueBasis {
                stress,
                friction: Friction { base: 0.08, compound_factor: factor },
                rs_rule: rule,
            };
            if let Ok(r) = c.torque(basis) {
                for v in [r.torque, r.pin_torque, r.box_torque, r.lever, r.shoulder_radius] {
                    prop_assert!(v.is_finite() && v > 0.0, "{r:?}");
                }
                if let Ok(t) = c.tension_at_makeup(basis, load) {
                    prop_assert!(t.capacity.is_finite() && t.preload.is_finite());
                }
                prop_assert!(c.balanced_makeup(basis).unwrap().is_finite());
            }
            for sections in [BendingSections::ThreadRoots, BendingSections::ReliefFeatures] {
                let b = c.bending_strength_ratio(sections);
                prop_assert!(b.ratio.is_finite(), "{b:?}");
            }
        }
        if let Ok(m) = minimum_od(t, id, load * FT_LBF, MinOdRule::default()) {
            prop_assert!(m.od.is_finite() && m.makeup.is_finite() && m.makeup > 0.0);
        }
        let tolerance = MakeupTolerance { under: factor, over: stress };
        let _ = judge_makeup(load, stress, tolerance);
    }
}
