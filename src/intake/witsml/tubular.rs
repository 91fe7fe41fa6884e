//! Tubulars as rows of a tally. A component stands for all its joints; its order is `sequence`,
//! not the order in the document, and 1 is nearest the bit.

use super::{Element, Named, objects, title};
use crate::intake::table::RawRow;

/// Our word for a component of the standard.
fn component(word: &str) -> &'static str {
    let w = word.to_ascii_lowercase();
    let has = |part: &str| w.contains(part);
    if has("heavy weight") {
        "heavy_weight"
    } else if has("non-magnetic collar") {
        "non_magnetic_collar"
    } else if w.starts_with("drill pipe") {
        "drill_pipe"
    } else if has("drill collar") {
        "drill_collar"
    } else if w.starts_with("bit") || has("hole opener") {
        "bit"
    } else if has("stabilizer") || has("reamer") {
        "stabilizer"
    } else if has("jar") || has("accelerator") || has("shock tool") {
        "jar"
    } else if has("motor") || has("turbine") || has("rotary steering") {
        "motor"
    } else if has("while drilling") || has("mwd") || has("lwd") {
        "measuring_tool"
    } else if w.starts_with("sub") || has("crossover") {
        "sub"
    } else {
        "other"
    }
}

/// Joints that a component stands for and the length of one, where its figures say so. An average
/// length outside 8 to 15 m is that of a stand or of the whole, and makes no joints.
fn joints(node: &Element) -> Option<(u32, String)> {
    let (whole, whole_unit) = node.measure("len")?;
    let (one, one_unit) = node.measure("lenJointAv")?;
    let unit = whole_unit.filter(|u| Some(u) == one_unit.as_ref())?;
    let metres = crate::units::Unit::parse(&unit, crate::units::Dimension::LENGTH).ok()?;
    let (whole, average) = (whole.parse::<f64>().ok()?, one.parse::<f64>().ok()?);
    let count = (whole / average).round();
    let near = (count * average - whole).abs() <= 0.02 * whole;
    let joint = (8.0..=15.0).contains(&(average * metres.factor().to_f64()));
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "between 2 and 2000"
    )]
    (near && joint && (2.0..=2000.0).contains(&count))
        .then(|| (count as u32, format!("{one} {unit}")))
}

fn serial(node: &Element) -> String {
    node.all("nameTag")
        .find(|t| {
            t.text_of("numberingScheme").is_some_and(|s| s.eq_ignore_ascii_case("serial number"))
        })
        .and_then(|t| t.text_of("name"))
        .unwrap_or_default()
}

fn connection(node: &Element) -> String {
    node.child("connection").and_then(|c| c.text_of("typeThread")).unwrap_or_default()
}

/// A tubular of a document as rows of a tally, with notes on what was understood: the one of that name,
/// else the only one. `None` where that is none, or several.
pub(in crate::intake) fn tally_rows(
    doc: &Element,
    wanted: Option<&str>,
) -> Option<(Vec<RawRow>, Vec<String>)> {
    let mut all = objects(doc, "tubular");
    all.retain(|tubular| wanted.is_none_or(|name| Named::of(tubular).is(name)));
    let [tubular] = all[..] else { return None };
    let mut notes =
        vec![format!("the tally is the tubular '{}'", title(tubular).unwrap_or_default())];
    let header = [
        "position",
        "serial",
        "component",
        "part",
        "count",
        "length",
        "od",
        "id",
        "air weight",
        "tj od",
        "connection",
    ];
    let mut rows =
        vec![RawRow::new(tubular.line, header.iter().map(|c| (*c).to_owned()).collect())];
    for c in tubular.all("tubularComponent") {
        // The word is under one name in 1.4.1.1, under another in 2.x.
        let word = c.text_of("typeTubularComp").or_else(|| c.text_of("typeTubularComponent"));
        let word = word.unwrap_or_default();
        let ours = component(&word);
        let pipe = ours == "drill_pipe" || ours == "heavy_weight";
        let many = joints(c).filter(|_| pipe);
        if pipe && many.is_none() && c.child("lenJointAv").is_some() {
            notes.push(format!(
                "the average joint of '{word}' (line {}) is not one joint long: the component is one part",
                c.line
            ));
        }
        let (count, length) = match many {
            Some((count, length)) => (count.to_string(), length),
            None => (String::new(), c.measure_cell("len")),
        };
        let described = c.text_of("description").filter(|d| !d.eq_ignore_ascii_case(&word));
        // In pipe the fishing neck is the tool joint.
        let tool_joint = if pipe { c.measure_cell("odFishneck") } else { String::new() };
        rows.push(RawRow::new(
            c.line,
            vec![
                c.text_of("sequence").unwrap_or_default(),
                serial(c),
                ours.to_owned(),
                described.unwrap_or(word),
                count,
                length,
                c.measure_cell("od"),
                c.measure_cell("id"),
                c.measure_cell("wtPerLen"),
                tool_joint,
                connection(c),
            ],
        ));
    }
    Some((rows, notes))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::intake::witsml::parse;

    #[test]
    fn components_become_lines() {
        let doc = parse(
            "t.xml",
            "<tubulars><tubular><name>A</name>\
             <tubularComponent><typeTubularComp>drill pipe</typeTubularComp><sequence>2</sequence>\
             <od uom='in'>5</od><len uom='m'>960</len><lenJointAv uom='m'>9.6</lenJointAv></tubularComponent>\
             <tubularComponent><typeTubularComp>bit PDC fixed cutter</typeTubularComp><sequence>1</sequence>\
             <len uom='ft'>1</len></tubularComponent>\
             <tubularComponent><typeTubularComp>drill pipe</typeTubularComp><sequence>3</sequence>\
             <len uom='m'>400</len><lenJointAv uom='m'>40</lenJointAv></tubularComponent>\
             </tubular></tubulars>",
        )
        .unwrap();
        let (rows, notes) = tally_rows(&doc, None).unwrap();
        assert_eq!(rows[1].cells[..6], ["2", "", "drill_pipe", "drill pipe", "100", "9.6 m"]);
        assert_eq!(rows[2].cells[2], "bit");
        assert_eq!(rows[3].cells[4..6], ["", "400 m"]);
        assert!(notes[1].contains("not one joint long"), "{notes:?}");
    }

    #[test]
    fn words_of_the_standard_are_mapped() {
        for (word, ours) in [
            ("heavy weight drill pipe LH", "heavy_weight"),
            ("drill pipe compressive", "drill_pipe"),
            ("sub-bent", "sub"),
            ("logging while drilling tool", "measuring_tool"),
            ("stabilizer inline", "stabilizer"),
            ("motor instrumented", "motor"),
            ("tubing", "other"),
        ] {
            assert_eq!(component(word), ours, "{word}");
        }
    }
}
