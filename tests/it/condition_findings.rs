//! What follows from findings: dispositions, people, paint, cautions; and the soundness of the
//! catalogue.

use std::collections::BTreeSet;

use pipelore::condition::{
    Because, Blocks, Caution, Colour, Disposition, Found, Lack, Part, Person, Restriction,
    Standing, Take, on_an_end,
};
use pipelore::model::{Class, Component, End, Method, Place, Provenance, ReadingKind, Work};
use pipelore::units::Measure;

use crate::condition::{find, judged, nm, quanta, reading, set, sound};
use crate::world::standards;

// -------------------------------------------------------------------- diameters of worn and necked

#[test]
fn a_diameter_that_wear_explains_is_not_necking() {
    // 3 1/2 in 13.30 worn evenly to 82 %: 3.3675 in, 96.2 % of nominal, yet Premium by its wall.
    let mut s = sound("3.5 13.30");
    set(&mut s, ReadingKind::Wall, None, "0.30176 in");
    set(&mut s, ReadingKind::BodyOd, None, "3.3675 in");
    let v = judged(&s);
    assert_eq!(v.tube.unwrap().standing, Standing::Class(Class::Premium));
    // The same diameter with the wall whole is not wear: say what it is.
    set(&mut s, ReadingKind::Wall, None, "0.36 in");
    let v = judged(&s);
    assert_eq!(v.class(), None);
    assert_eq!(v.missing[0].lack, Lack::Unexplained);
    find(&mut s, "necked", None, Some("3.3675 in"));
    let v = judged(&s);
    assert_eq!(v.tube.unwrap().standing, Standing::Class(Class::Class2));
    assert_eq!(v.criterion_word().as_deref(), Some("stretch_od"));
}

// --------------------------------------------------------------------------- findings and who acts

#[test]
fn a_crack_takes_the_joint_out_whatever_else_is_known() {
    for (word, place, end, disposition) in [
        ("crack", None, None, Disposition::Scrap),
        ("crack", Some(Place::SlipArea), None, Disposition::Scrap),
        ("crack", Some(Place::Threads), Some(End::Pin), Disposition::Out),
        ("split box", None, Some(End::Box), Disposition::Out),
        ("heat checks", None, None, Disposition::Out),
        ("weld crack", None, None, Disposition::Scrap),
        ("washed", Some(Place::Body), None, Disposition::Scrap),
    ] {
        let mut s = sound("5 19.50");
        s.readings.clear(); // nothing measured
        s.findings.push(Found { place, end, ..Found::new(word) });
        let v = judged(&s);
        assert_eq!(v.disposition, disposition, "{word} {place:?}");
        assert!(!v.may_run());
        assert!(v.cautions.contains(&Caution::MarkedOut), "{word}");
        if disposition == Disposition::Scrap {
            assert_eq!(v.class(), Some(Class::Scrap), "{word}");
            assert!(v.bands.iter().any(|b| b.colour == Colour::Red && b.on == Part::Tube));
        } else {
            assert_eq!(v.overall.standing, Standing::Rejected, "{word}");
            assert!(v.who().contains(&Person::ThreadingShop));
        }
    }
    // On a heavy-weight joint as well, which has no classes.
    let mut s = sound("5 hwdp");
    s.findings.push(Found::new("crack"));
    assert_eq!(judged(&s).class(), Some(Class::Scrap));
}

#[test]
fn rough_hardband_runs_under_its_restriction() {
    let mut s = sound("5 19.50");
    find(&mut s, "rough hardband", Some(End::Box), None);
    let v = judged(&s);
    assert_eq!(v.class(), Some(Class::Premium));
    assert_eq!(v.disposition, Disposition::RunRestricted);
    assert_eq!(v.restrictions, [Restriction::OpenHoleOrProtectors]);
    assert!(v.may_run());
    assert_eq!(v.cautions, [Caution::Hardband]);
    assert_eq!(v.bands.len(), 1, "no band on a tool joint that may run");
}

#[test]
fn what_can_be_dressed_is_green_and_what_goes_to_the_shop_is_red() {
    let mut s = sound("5 19.50");
    s.findings.push(Found {
        end: Some(End::Pin),
        size: Some(nm("0.02 in")),
        share: Some(quanta("10 %", Measure::Ratio)),
        ..Found::new("nick")
    });
    let v = judged(&s);
    assert_eq!(v.disposition, Disposition::Dress);
    assert_eq!(v.class(), Some(Class::Premium), "the class stands; the joint waits");
    assert!(!v.may_run());
    assert!(v.bands.iter().any(|b| b.colour == Colour::Green && b.on == Part::Pin));
    assert!(v.who().contains(&Person::CompetentPerson));
    assert!(v.cautions.contains(&Caution::Threads));
    // Too wide for the seal: reface, and no class until then.
    s.findings[0].share = Some(quanta("21 %", Measure::Ratio));
    let v = judged(&s);
    assert_eq!(v.disposition, Disposition::Reface);
    assert_eq!(v.pin.unwrap().standing, Standing::Rejected);
    // Of unknown width: held.
    s.findings[0].share = None;
    let v = judged(&s);
    assert_eq!(v.disposition, Disposition::Hold);
    assert_eq!(v.class(), None);
    s.findings.clear();
    find(&mut s, "lapped", Some(End::Box), None);
    let v = judged(&s);
    assert_eq!(v.disposition, Disposition::Shop);
    assert!(v.bands.iter().any(|b| b.colour == Colour::Red && b.on == Part::Box));
    assert_eq!(v.actions[0].because, Because::Finding("torn_threads".to_owned()));
    assert!(v.actions[0].works.contains(&Work::Recut));
    assert_eq!(v.criterion_word().as_deref(), Some("torn_threads"));
}

#[test]
fn an_end_not_named_is_both_ends() {
    let mut s = sound("5 19.50");
    find(&mut s, "torn threads", None, None);
    let v = judged(&s);
    assert_eq!(v.pin.unwrap().standing, Standing::Rejected);
    assert_eq!(v.box_.unwrap().standing, Standing::Rejected);
}

#[test]
fn a_direction_not_stated_is_across_the_pipe() {
    let mut s = sound("5 19.50");
    s.readings.push(reading(ReadingKind::AdjacentWall, None, "0.33 in"));
    // 0.33 - 0.05 = 0.28 in, 77 %: Class 2 along the pipe, Class 3 across it.
    find(&mut s, "gouge", None, Some("0.05 in"));
    assert_eq!(judged(&s).class(), Some(Class::Class3));
    s.findings[0].transverse = Some(false);
    assert_eq!(judged(&s).class(), Some(Class::Class2));
}

#[test]
fn a_cut_without_the_wall_beside_it_falls_back_on_the_lowest_wall() {
    let mut s = sound("5 19.50");
    set(&mut s, ReadingKind::Wall, None, "0.33 in");
    find(&mut s, "cut", None, Some("0.05 in"));
    let v = judged(&s);
    assert_eq!(v.class(), Some(Class::Class3));
    let j = v.governing_judgement().unwrap();
    assert!(j.remark.unwrap().contains("lowest wall"));
    // With no wall at all the cut cannot be judged.
    s.readings.retain(|m| m.what != ReadingKind::Wall);
    assert!(judged(&s).missing.iter().any(|m| m.lack == Lack::NoAdjacentWall && m.critical));
}

#[test]
fn a_class_that_falls_is_a_downgrade() {
    let mut s = sound("5 19.50");
    set(&mut s, ReadingKind::Wall, None, "0.27 in");
    assert_eq!(judged(&s).disposition, Disposition::Run);
    s.class_before = Some(Class::Premium);
    let v = judged(&s);
    assert_eq!(v.disposition, Disposition::Downgrade);
    assert_eq!(v.downgrade_to, Some(Class::Class2));
    assert_eq!((v.bands[0].colour, v.bands[0].count), (Colour::Yellow, 1));
    assert!(v.may_run());
    s.class_before = None;
    s.acceptance = Some(Class::Premium);
    assert_eq!(judged(&s).downgrade_to, Some(Class::Class2));
}

/// Bands of ISO 10407-2 Table B.19 as adopted (published); red for scrap as the trade has it.
#[test]
fn the_tube_gets_the_band_of_its_class() {
    for (wall, colour, count) in [
        ("0.36 in", Colour::White, 1),
        ("0.30 in", Colour::White, 2),
        ("0.26 in", Colour::Yellow, 1),
        ("0.20 in", Colour::Orange, 1),
    ] {
        let mut s = sound("5 19.50");
        set(&mut s, ReadingKind::Wall, None, wall);
        let v = judged(&s);
        let tube: Vec<_> = v.bands.iter().filter(|b| b.on == Part::Tube).collect();
        assert_eq!(tube.len(), 1, "{wall}");
        assert_eq!((tube[0].colour, tube[0].count), (colour, count), "{wall}");
        assert_eq!(tube[0].provenance, Provenance::Published);
        // Nobody paints what is not established.
        s.methods.retain(|m| *m != Method::VisualTube);
        assert!(judged(&s).bands.is_empty(), "{wall}");
    }
}

#[test]
fn a_pit_as_deep_as_the_wall_is_a_hole() {
    let mut s = sound("5 19.50");
    s.readings.push(reading(ReadingKind::AdjacentWall, None, "0.35 in"));
    find(&mut s, "internal pit", None, Some("0.35 in"));
    let v = judged(&s);
    assert_eq!(v.class(), Some(Class::Scrap));
    assert_eq!(v.criterion_word().as_deref(), Some("washout"));
    s.findings[0].size = Some(nm("0.3499 in"));
    assert_eq!(judged(&s).class(), Some(Class::Class3));
}

#[test]
fn an_event_holds_a_joint_until_what_it_calls_for_is_seen() {
    let mut s = sound("5 19.50");
    find(&mut s, "overpull", None, None);
    assert_eq!(judged(&s).disposition, Disposition::Run);
    s.methods.retain(|m| *m != Method::MagneticSlip);
    let v = judged(&s);
    assert_eq!(v.disposition, Disposition::Hold);
    assert_eq!(v.class(), Some(Class::Premium), "its class stands");
    assert!(v.missing.iter().any(|m| m.what == "slip cracks"));
}

#[test]
fn collars_and_heavy_weight_pipe_are_accepted_not_classed() {
    for pipe in ["5 hwdp", "6.75 collar NC50"] {
        let v = judged(&sound(pipe));
        assert_eq!(v.overall.standing, Standing::Accepted, "{pipe}: {:?}", v.missing);
        assert_eq!(v.class(), None);
        assert!(v.may_run(), "{pipe}");
        assert!(v.bands.is_empty(), "{pipe}");
        let mut s = sound(pipe);
        s.methods.retain(|m| *m != Method::BlacklightConnection);
        assert!(!judged(&s).overall.standing.passes(), "{pipe}: connections fail by fatigue");
    }
    let mut s = sound("6.75 collar NC50");
    s.bsr = Some(quanta("1.8", Measure::Factor));
    let v = judged(&s);
    assert_eq!(v.disposition, Disposition::Shop);
    assert_eq!(v.criterion_word().as_deref(), Some("bsr"));
    assert!(v.who().contains(&Person::Engineer));
    s.bsr = Some(quanta("2.1", Measure::Factor));
    assert!(judged(&s).may_run(), "outside the best range is advice");
    s.component = Component::NonMagneticCollar;
    assert!(!judged(&s).overall.standing.passes(), "magnetic particles see nothing there");
    s.methods.push(Method::Penetrant);
    assert!(judged(&s).overall.standing.passes());
}

// ------------------------------------------------------------------------------------ the catalogue

#[test]
fn every_finding_says_what_follows_who_acts_and_where_that_is_from() {
    let catalogue = &standards().findings;
    assert!(catalogue.all().len() > 95);
    for f in catalogue.all() {
        let w = &f.word;
        assert!(!f.source.is_empty() && !f.name.is_empty() && !f.measure.is_empty(), "{w}");
        assert!(!f.who.is_empty(), "{w} is nobody's");
        assert!(!f.places.is_empty(), "{w} is nowhere");
        assert_eq!(f.ends.is_empty(), f.parts(None).iter().all(|p| p.end().is_none()), "{w}");
        if !f.ends.is_empty() {
            assert!(f.places.iter().any(|p| on_an_end(*p)), "{w}");
        }
        if f.is_crack() {
            assert!(f.within >= Disposition::Out, "{w} lets a cracked joint run");
            assert!(f.blocks >= Blocks::Part, "{w}");
            assert_eq!(f.caution, Some(Caution::MarkedOut), "{w}");
            assert!(!f.seen_by.is_empty(), "{w}");
        }
        let needs_size = f
            .judged_by
            .iter()
            .any(|c| matches!(c.spec().take, Take::WallLeft | Take::Size | Take::Share));
        if needs_size {
            assert!(f.size.is_some() || f.share.is_some(), "{w} is judged and has no size");
            assert!(f.unmeasured.is_some(), "{w} without a size would pass");
        }
        if f.within == Disposition::RunRestricted || f.beyond == Some(Disposition::RunRestricted) {
            assert!(f.restriction.is_some(), "{w} restricts nothing");
        }
        if matches!(f.within, Disposition::Shop | Disposition::Reface | Disposition::Dress) {
            assert!(!f.cleared_by.is_empty(), "{w} goes to work that nothing clears");
        }
        for c in &f.judged_by {
            let judges = f.parts(None).into_iter().any(|part| c.judges(part));
            assert!(judges || f.is_crack(), "{w}: {c} judges no part of it");
        }
    }
}

/// The rows of the trade's findings list (component area and term), each with the word under which
/// the catalogue keeps it.
#[test]
fn every_row_of_the_findings_list_has_its_word() {
    let text = include_str!("../reference/findings_rows.csv");
    let mut words = BTreeSet::new();
    for row in csv::Reader::from_reader(text.as_bytes()).deserialize::<(String, String, String)>() {
        let (area, term, word) = row.unwrap();
        let entry =
            standards().findings.get(&word).unwrap_or_else(|e| panic!("{area} {term}: {e}"));
        assert_eq!(entry.word, word, "{area} {term}");
        words.insert(word);
    }
    assert!(words.len() > 85);
}

#[test]
fn findings_of_every_word_can_be_assessed() {
    for f in standards().findings.all() {
        let mut s = sound("5 19.50");
        s.findings.push(Found::new(&f.word));
        let v = judged(&s);
        assert_eq!(v.findings.len(), usize::from(f.word != "no_crack"), "{}", f.word);
        if f.within >= Disposition::Hold {
            assert!(!v.may_run(), "{}", f.word);
        }
    }
}
