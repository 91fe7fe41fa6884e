//! WITSML 1.4.1.1 and 2.x documents (Energistics) as rows of cells: trajectories, tubulars, logs,
//! runs.
//!
//! Every measure of the standard carries its unit; rows keep it, and the tables convert by it. A
//! document is read once from front to back; one with a type definition is refused, so that no entity
//! can expand.

mod bha_run;
mod log;
mod names;
mod parts;
mod trajectory;
mod tubular;
mod xml;

pub(super) use bha_run::{BhaRun, bha_runs};
pub(super) use log::{LogError, LogHead, Logs};
pub(super) use names::By;
pub use names::Named;
pub(super) use parts::{Linked, What};
pub use parts::{Part, Wanted};
pub(super) use trajectory::trajectories;
pub(super) use tubular::tally_rows;
pub(super) use xml::Element;

use super::diagnostic::Diagnostic;

/// Objects of the standard that are read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Object {
    Trajectory,
    Tubular,
    Log,
    BhaRun,
    /// What a day of drilling came to: of a run without a log, its hours.
    OpsReport,
}

/// True for a text that begins as XML does.
pub(super) fn is_xml(text: &str) -> bool {
    text.trim_start_matches('\u{feff}').trim_start().starts_with('<')
}

/// Reads a document as a whole.
pub(super) fn parse(name: &str, text: &str) -> Result<Element, Box<Diagnostic>> {
    xml::whole(text).map_err(|e| Box::new(Diagnostic::error(name, e.to_string()).at_row(e.line())))
}

/// Objects of a kind in a document: the children of a plural root, or the root itself.
fn objects<'a>(root: &'a Element, name: &'a str) -> Vec<&'a Element> {
    if root.is(name) { vec![root] } else { root.all(name).collect() }
}

/// What the document holds, by its root and the first that is in it.
pub(super) fn object(root: &Element) -> Result<Object, String> {
    let known = [
        ("trajectory", Object::Trajectory),
        ("tubular", Object::Tubular),
        ("log", Object::Log),
        ("bhaRun", Object::BhaRun),
        ("opsReport", Object::OpsReport),
    ];
    // A run or a report of 2.x has an element for the tubular that it names: only a plural holds others.
    let plural = |name: &str| {
        root.is(&format!("{name}s")) || name == "trajectory" && root.is("trajectories")
    };
    let holds = |name: &str| root.is(name) || plural(name) && root.child(name).is_some();
    if let Some((_, object)) = known.iter().find(|(name, _)| holds(name)) {
        return Ok(*object);
    }
    Err(root.name.clone())
}

/// What a document holds, by its first part.
pub(super) fn begins_with(text: &str) -> Option<Object> {
    let mut document =
        xml::Document::new(text.trim_start_matches('\u{feff}').trim_start().as_bytes());
    let root = document.root().ok()?;
    let name = root.name.to_ascii_lowercase();
    Some(match name.as_str() {
        "trajectory" | "trajectorys" | "trajectories" => Object::Trajectory,
        "tubular" | "tubulars" => Object::Tubular,
        "log" | "logs" => Object::Log,
        "bharun" | "bharuns" => Object::BhaRun,
        "opsreport" | "opsreports" => Object::OpsReport,
        _ => return None,
    })
}

/// How the objects of a kind in a document are named.
pub(super) fn named(root: &Element, name: &str) -> Vec<Named> {
    objects(root, name).into_iter().map(Named::of).collect()
}

/// The hole that an object belongs to. Side tracks of a well have paths of their own, so the
/// name of the wellbore is part of it.
fn hole(node: &Element) -> Option<String> {
    if let (Some(well), bore) = (node.text_of("nameWell"), node.text_of("nameWellbore")) {
        return Some(match bore {
            None => well,
            Some(bore) if bore.contains(&well) => bore,
            Some(bore) => format!("{well}, {bore}"),
        });
    }
    node.child("Wellbore").and_then(|w| w.text_of("Title"))
}

/// Whether the state of an object calls it a plan.
fn says_plan(node: &Element) -> bool {
    let state = node.child("commonData").and_then(|c| c.text_of("itemState"));
    state.is_some_and(|s| s.eq_ignore_ascii_case("plan"))
}

/// Name of an object.
fn title(node: &Element) -> Option<String> {
    node.text_of("name").or_else(|| node.child("Citation").and_then(|c| c.text_of("Title")))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_type_definition_is_refused() {
        let bomb = "<!DOCTYPE a [<!ENTITY x \"ha\"><!ENTITY y \"&x;&x;&x;\">]><logs>&y;</logs>";
        let d = parse("a.xml", bomb).unwrap_err();
        assert!(d.message.contains("DTD"), "{}", d.message);
        assert!(parse("a.xml", "<logs>").is_err());
    }

    #[test]
    fn objects_are_told_in_both_versions() {
        for (text, want) in [
            ("<trajectorys><trajectory/></trajectorys>", Ok(Object::Trajectory)),
            ("<Trajectory xmlns='urn:x'/>", Ok(Object::Trajectory)),
            ("<logs xmlns='urn:x'><log/></logs>", Ok(Object::Log)),
            ("<BhaRun><Tubular/></BhaRun>", Ok(Object::BhaRun)),
            ("<OpsReport><Tubular/></OpsReport>", Ok(Object::OpsReport)),
            ("<DrillReport><Tubular/></DrillReport>", Err("DrillReport".to_owned())),
            ("<wells><well/></wells>", Err("wells".to_owned())),
        ] {
            assert_eq!(object(&parse("a.xml", text).unwrap()), want, "{text}");
        }
    }

    #[test]
    fn the_hole_of_a_side_track_is_its_own() {
        let name = |text: &str| hole(&parse("a", text).unwrap());
        assert_eq!(
            name("<t><nameWell>Larkfield 1H</nameWell><nameWellbore>ST2</nameWellbore></t>")
                .as_deref(),
            Some("Larkfield 1H, ST2")
        );
        assert_eq!(
            name("<t><nameWell>Larkfield\t1H</nameWell><nameWellbore>Larkfield 1H ST2</nameWellbore></t>")
                .as_deref(),
            Some("Larkfield 1H ST2")
        );
    }

    proptest! {
        #[test]
        fn soup_never_panics(text in "[<>/a-z =\"']{0,80}") {
            if let Ok(doc) = parse("a.xml", &text) {
                let _ = object(&doc);
                let _ = trajectories(&doc);
                let _ = tally_rows(&doc, None);
                let _ = bha_runs(&doc, crate::intake::Times::default());
            }
            if let Ok(mut logs) = Logs::new(text.as_bytes()) {
                while let Ok(Some(_)) = logs.next_log() {}
            }
        }
    }
}
