//! Runs that a document states: each with the tubular that it names and the logs of its hole, which
//! other files hold.

use super::header::{Header, header_table};
use crate::intake::diagnostic::{Diagnostic, Diagnostics};
use crate::intake::options::Options;
use crate::intake::table::Constant;
use crate::intake::witsml::{BhaRun, By, Element, Linked, What, bha_runs};

/// Headers of the runs of a document.
pub(super) fn from_document(
    name: &str,
    doc: &Element,
    options: &Options,
    notes: &mut Vec<String>,
    diagnostics: &mut Diagnostics,
) -> Vec<Header> {
    let runs = bha_runs(doc, options.times).into_iter();
    runs.filter_map(|run| header(name, run, options, notes, diagnostics)).collect()
}

fn header(
    name: &str,
    run: BhaRun,
    options: &Options,
    notes: &mut Vec<String>,
    diagnostics: &mut Diagnostics,
) -> Option<Header> {
    let BhaRun { line, mut stated, turning, string, is_plan, notes: more } = run;
    let own = stated.iter().find(|s| s.0 == "name").map_or("", |s| s.1.as_str());
    let of_run = format!("run '{own}'");
    notes.extend(more.into_iter().map(|n| format!("{of_run}: {n}")));
    let error = |message: String| Diagnostic::error(name, message).at_row(line);
    if is_plan {
        diagnostics.push(
            error(format!("{of_run} is a plan (statusBha), and the book holds what was done"))
                .help("take it in when it is over: its status is final then"),
        );
        return None;
    }
    let Linked { strings, logs } = string.linked(&options.parts);
    if !options.given.contains_key("tally") {
        match strings.as_slice() {
            [(part, by)] => {
                stated.push(("tally", part.file.clone()));
                let wanted = part.named.ids.first().or(part.named.title.as_ref());
                stated.extend(wanted.map(|w| ("tubular", w.clone())));
                if *by == By::Title {
                    notes.push(format!(
                        "{of_run}: its string {} is found by its name, since no identifier fits",
                        string.string.words()
                    ));
                }
            }
            [] => {
                let elsewhere = options
                    .parts
                    .iter()
                    .find(|p| p.what == What::Tubular && string.string.means(&p.named).is_some());
                let more = elsewhere.map_or_else(String::new, |p| {
                    format!(
                        "; that in {} is of another hole, '{}'",
                        p.file,
                        p.named.hole.name.as_deref().unwrap_or_default()
                    )
                });
                diagnostics.push(
                    error(format!(
                        "{of_run} has the string {}, and no file that is given holds it{more}",
                        string.string.words()
                    ))
                    .help(format!(
                        "give the file with its tubular in the same command: pipelore load {name} \
                         TUBULAR.xml; or name a tally: --set tally=FILE"
                    )),
                );
                return None;
            }
            [(first, _), (second, _), ..] => {
                diagnostics.push(
                    error(format!(
                        "{of_run} has the string {}, which may be one in {} or one in {}",
                        string.string.words(),
                        first.file,
                        second.file
                    ))
                    .help("leave out the file that is not meant"),
                );
                return None;
            }
        }
    }
    if logs.is_empty() && !options.given.contains_key("log") {
        stated.extend(turning.hours.map(|h| ("hours", h)));
        stated.extend(turning.rotary_speed.map(|s| ("rotary_speed", s)));
        if let Some(reamed) = turning.reamed {
            stated.push(("grade", "incomplete".to_owned()));
            notes.push(format!(
                "{of_run}: it reamed for {reamed}, at a speed that nobody states: its hours are those of \
                 drilling with rotation (cTimDrillRot), and it counts as incomplete"
            ));
        }
    } else if !logs.is_empty() {
        let files: Vec<&str> = logs.iter().map(|p| p.file.as_str()).collect();
        notes.push(format!("{of_run}: its log is that of the hole, {}", files.join("; ")));
        stated.push(("log", files.join("; ")));
    }
    let constant =
        |(key, value): (&str, String)| Constant { key: key.to_owned(), value, row: Some(line) };
    let constants = stated.into_iter().map(constant).collect();
    let table = header_table(name, constants, options, diagnostics)?;
    Some(Header {
        table,
        inline: None,
        swaps: Vec::new(),
        sections: Vec::new(),
        cut: options.cut.clone(),
        is_beside: false,
    })
}
