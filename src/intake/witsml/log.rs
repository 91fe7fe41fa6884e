//! Logs of WITSML 1.4.1.1 as rows. The order of the columns is that of the mnemonic list, never
//! that of the curve descriptions.

use super::{child, child_text, children, line, objects, parse};
use crate::intake::diagnostic::Diagnostic;
use crate::intake::table::RawRow;

/// A log taken out of a document.
pub(in crate::intake) struct LogDocument {
    /// Titles and units, as two rows.
    pub header: [RawRow; 2],
    /// Line and text of each row of data.
    pub data: Vec<(u64, Vec<u8>)>,
    /// What divides the values.
    pub delimiter: u8,
    /// Values that stand for none.
    pub nulls: Vec<String>,
}

/// Takes the one log out of a document.
pub(in crate::intake) fn log_document(
    name: &str,
    text: &str,
) -> Result<LogDocument, Box<Diagnostic>> {
    let doc = parse(name, text)?;
    let all = objects(&doc, "log");
    let [log] = all[..] else {
        let d = Diagnostic::error(name, format!("the document holds {} logs", all.len()));
        return Err(Box::new(d.help("a run has one log: take it out into a file of its own")));
    };
    let Some(data) = child(log, "logData") else {
        let d = Diagnostic::error(name, "the log has no logData");
        let help = "logs of WITSML 1.4.1.1 are read; export one of 2.x as CSV or 1.4.1.1";
        return Err(Box::new(d.help(help)));
    };
    let (Some(mnemonics), Some(units)) =
        (child_text(data, "mnemonicList"), child_text(data, "unitList"))
    else {
        let d = Diagnostic::error(name, "the log has no list of mnemonics and units");
        let help = "mnemonicList and unitList say which value is which";
        return Err(Box::new(d.at_row(line(data)).help(help)));
    };
    let timed = child_text(log, "indexType").is_some_and(|t| t.eq_ignore_ascii_case("date time"));
    let index = child_text(log, "indexCurve");
    let mut titles: Vec<String> = mnemonics.split(',').map(|m| m.trim().to_owned()).collect();
    let mut units: Vec<String> = units
        .split(',')
        .map(str::trim)
        .map(|u| if matches!(u, "unitless" | "Euc" | "UNKN" | "none") { "" } else { u })
        .map(str::to_owned)
        .collect();
    units.resize(titles.len(), String::new());
    if let Some(at) = titles.iter().position(|t| Some(t) == index.as_ref()) {
        // The index is what its type says, whatever it is called.
        if timed {
            "time".clone_into(&mut titles[at]);
            units[at].clear();
        } else {
            "depth".clone_into(&mut titles[at]);
        }
    }
    let mut nulls: Vec<String> = child_text(log, "nullValue").into_iter().collect();
    nulls.extend(children(log, "logCurveInfo").filter_map(|c| child_text(c, "nullValue")));
    nulls.sort();
    nulls.dedup();
    let delimiter = child_text(log, "dataDelimiter").and_then(|d| d.bytes().next()).unwrap_or(b',');
    let rows = children(data, "data")
        .filter_map(|d| Some((line(d), d.text()?.trim().as_bytes().to_vec())))
        .collect();
    let number = line(data);
    Ok(LogDocument {
        header: [RawRow { number, cells: titles }, RawRow { number, cells: units }],
        data: rows,
        delimiter,
        nulls,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_mnemonic_list_gives_the_order() {
        let l = log_document(
            "l.xml",
            "<logs><log><indexType>date time</indexType><indexCurve>Time</indexCurve><nullValue>-999.25</nullValue>\
             <logCurveInfo><mnemonic>FLOWOUT</mnemonic></logCurveInfo><logCurveInfo><mnemonic>Time</mnemonic></logCurveInfo>\
             <logData><mnemonicList>Time,FLOWOUT,SURF_RPM</mnemonicList><unitList>s,unitless,c/s</unitList>\
             <data>2025-03-04T06:00:00Z,0,1.5</data></logData></log></logs>",
        )
        .unwrap();
        assert_eq!(l.header[0].cells, ["time", "FLOWOUT", "SURF_RPM"]);
        assert_eq!(l.header[1].cells, ["", "", "c/s"]);
        assert_eq!(l.nulls, ["-999.25"]);
        assert_eq!(l.data[0].1, b"2025-03-04T06:00:00Z,0,1.5");
        assert!(log_document("l.xml", "<Log/>").is_err());
    }
}
