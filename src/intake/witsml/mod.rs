//! WITSML 1.4.1.1 and 2.x documents (Energistics) as rows of cells: trajectories, tubulars, logs.
//!
//! Every measure of the standard carries its unit; rows keep it, and the tables convert by it. A
//! document with a type definition is refused, so no entity can expand; its size and the number
//! of its nodes are bounded.

mod log;
mod trajectory;
mod tubular;

pub(super) use log::log_document;
pub(super) use trajectory::trajectories;
pub(super) use tubular::tally_rows;

use roxmltree::{Document, Node, ParsingOptions};

use super::diagnostic::Diagnostic;

/// More nodes than this are no file of a well: about a gigabyte of tree.
const MOST_NODES: u32 = 8_000_000;

/// Objects of the standard that are read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Object {
    Trajectory,
    Tubular,
    Log,
}

/// True for a text that begins as XML does.
pub(super) fn is_xml(text: &str) -> bool {
    text.trim_start_matches('\u{feff}').trim_start().starts_with('<')
}

pub(super) fn parse<'a>(name: &str, text: &'a str) -> Result<Document<'a>, Box<Diagnostic>> {
    let options =
        ParsingOptions { allow_dtd: false, nodes_limit: MOST_NODES, ..ParsingOptions::default() };
    Document::parse_with_options(text.trim_start_matches('\u{feff}').trim_start(), options).map_err(
        |e| {
            let d = Diagnostic::error(name, format!("the XML cannot be read: {e}"));
            let row = u64::from(e.pos().row);
            Box::new(if row > 0 { d.at_row(row) } else { d })
        },
    )
}

/// Names of 1.4.1.1 and 2.x differ in the case of their first letter.
fn is(node: Node<'_, '_>, name: &str) -> bool {
    node.is_element() && node.tag_name().name().eq_ignore_ascii_case(name)
}

fn child<'a, 'i>(node: Node<'a, 'i>, name: &str) -> Option<Node<'a, 'i>> {
    node.children().find(|c| is(*c, name))
}

fn children<'a, 'i>(node: Node<'a, 'i>, name: &str) -> impl Iterator<Item = Node<'a, 'i>> {
    node.children().filter(move |c| is(*c, name))
}

/// Text of a node with its blanks joined; tabs and line breaks occur inside names.
fn text_of(node: Node<'_, '_>) -> Option<String> {
    let text = crate::model::join_blanks(node.text()?);
    (!text.is_empty()).then_some(text)
}

fn child_text(node: Node<'_, '_>, name: &str) -> Option<String> {
    child(node, name).and_then(text_of)
}

/// A measure: its value and its unit.
fn measure(node: Node<'_, '_>, name: &str) -> Option<(String, Option<String>)> {
    let node = child(node, name)?;
    let unit = node.attribute("uom").map(|u| u.trim().to_owned()).filter(|u| !u.is_empty());
    Some((text_of(node)?, unit))
}

/// A measure as a cell that carries its own unit; without a unit the bare number stays, and the
/// table says what is missing.
fn measure_cell(node: Node<'_, '_>, name: &str) -> String {
    match measure(node, name) {
        Some((value, Some(unit))) => format!("{value} {unit}"),
        Some((value, None)) => value,
        None => String::new(),
    }
}

fn line(node: Node<'_, '_>) -> u64 {
    u64::from(node.document().text_pos_at(node.range().start).row)
}

/// Objects of a kind in a document: the children of a plural root, or the root itself.
fn objects<'a, 'i>(doc: &'a Document<'i>, name: &str) -> Vec<Node<'a, 'i>> {
    let root = doc.root_element();
    if is(root, name) { vec![root] } else { children(root, name).collect() }
}

/// What the document holds.
pub(super) fn object(doc: &Document<'_>) -> Result<Object, String> {
    for (name, object) in
        [("trajectory", Object::Trajectory), ("tubular", Object::Tubular), ("log", Object::Log)]
    {
        if !objects(doc, name).is_empty() {
            return Ok(object);
        }
    }
    Err(doc.root_element().tag_name().name().to_owned())
}

/// The hole that an object belongs to. Side tracks of a well have paths of their own, so the
/// name of the wellbore is part of it.
fn hole(node: Node<'_, '_>) -> Option<String> {
    if let (Some(well), bore) = (child_text(node, "nameWell"), child_text(node, "nameWellbore")) {
        return Some(match bore {
            None => well,
            Some(bore) if bore.contains(&well) => bore,
            Some(bore) => format!("{well}, {bore}"),
        });
    }
    child(node, "Wellbore").and_then(|w| child_text(w, "Title"))
}

/// Name of an object.
fn title(node: Node<'_, '_>) -> Option<String> {
    child_text(node, "name")
        .or_else(|| child(node, "Citation").and_then(|c| child_text(c, "Title")))
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
            ("<wells><well/></wells>", Err("wells".to_owned())),
        ] {
            assert_eq!(object(&parse("a.xml", text).unwrap()), want, "{text}");
        }
    }

    #[test]
    fn the_hole_of_a_side_track_is_its_own() {
        let name = |text: &str| hole(parse("a", text).unwrap().root_element());
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
                let _ = tally_rows(&doc);
            }
            let _ = log_document("a.xml", &text);
        }
    }
}
