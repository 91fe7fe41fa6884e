//! Where answers go: stdout, whole, and quietly no further when the reader has gone.

use std::borrow::Cow;
use std::fs::OpenOptions;
use std::io::{ErrorKind, IsTerminal as _, Write};
use std::path::Path;
use std::process::ExitCode;

use super::context::{Context, say_beside};
use super::failure::{Failure, Kind, usage};
use super::pager;
use crate::app::Session;
use crate::render;
use crate::render::csv::Reader;
use crate::render::safe::json_for_screen;
use crate::report::{Block, Report};
use crate::units::UnitSystem;

/// Prints an answer of the book.
pub(super) fn answer(
    report: &Report,
    context: &Context,
    session: &Session,
) -> Result<ExitCode, Failure> {
    session.check_undisturbed()?;
    print_with_view(report, context, session.units(), session.view())
}

/// Prints what was done when a file was made: it stays there, whether that can be shown or not, and the
/// exit code tells the two apart.
pub(super) fn answer_made(
    report: &Report,
    context: &Context,
    session: &Session,
    file: &Path,
) -> Result<ExitCode, Failure> {
    answer(report, context, session).map_err(|failure| failure.after_making(file))
}

/// Closes a book that was written to, and prints what was done. What is in the book stays there,
/// whether it can be shown or not, and the exit code tells the two apart.
pub(super) fn close_and_print(
    report: &Report,
    context: &Context,
    session: Session,
) -> Result<ExitCode, Failure> {
    let units = session.units();
    if let Some(remark) = session.without_head() {
        note_beside(&remark, context);
    }
    let written = session.was_written().then(|| session.head().ok().flatten());
    // What was written is said at once: no reader stands between.
    let context = &context.without_pager();
    let shown = session.close().map_err(Failure::from).and_then(|()| print(report, context, units));
    shown.map_err(|failure| match written {
        Some(head) => failure.after_writing(head.as_deref()),
        None => failure,
    })
}

/// The same of what may have failed: after it was written, when it was to be told.
pub(super) fn close_and_tell<E: Into<Failure>>(
    report: Result<Report, E>,
    context: &Context,
    session: Session,
) -> Result<ExitCode, Failure> {
    match report {
        Ok(report) => close_and_print(&report, context, session),
        Err(e) => Err(met_by(&session, e.into())),
    }
}

/// A failure of a command that writes: one that was met when the book had been written to says so.
pub(super) fn met_by(session: &Session, failure: Failure) -> Failure {
    if session.was_written() {
        failure.after_writing(session.head().ok().flatten().as_deref())
    } else {
        failure
    }
}

/// Says a note on stderr.
fn note_beside(text: &str, context: &Context) {
    let note = Report { blocks: vec![Block::Note(text.to_owned())], ..Report::new("note") };
    let screen = render::text::Screen { width: context.width, units: context.units() };
    say_beside(&render::text::render(&note, screen));
}

/// Prints an answer that needs no book.
pub(super) fn print(
    report: &Report,
    context: &Context,
    units: UnitSystem,
) -> Result<ExitCode, Failure> {
    print_with_view(report, context, units, &[])
}

/// Prints a report as the user asked for it, with from where the book was looked at.
pub(super) fn print_with_view(
    report: &Report,
    context: &Context,
    units: UnitSystem,
    view: &[Block],
) -> Result<ExitCode, Failure> {
    let mut told;
    let report = if view.is_empty() {
        report
    } else {
        told = report.clone();
        told.blocks.extend_from_slice(view);
        &told
    };
    if let Some(path) = &context.xlsx {
        let bytes = render::xlsx::render(report, units)
            .map_err(|e| Failure::from_error(Kind::Usage, &e))?;
        write_new(path, &bytes)?;
        say_of_undecided(report, context);
        return write(&format!("written to {}\n", path.display()));
    }
    if context.schema {
        return write(&render::schema::render(report, units));
    }
    let on_screen = std::io::stdout().is_terminal();
    if context.json {
        let text = if context.lines {
            say_of_undecided(report, context);
            say_of_view(view, context, units);
            render::json::lines(report, units).ok_or_else(|| {
                usage("this answer has no table to write a row a line; ask for --json")
            })?
        } else {
            render::json::render(report, units)
        };
        return write_bytes(&if on_screen {
            json_for_screen(&text)
        } else {
            Cow::Borrowed(text.as_str())
        });
    }
    if context.csv {
        let reader = if on_screen { Reader::Screen } else { Reader::Machine };
        let table = render::csv::render_for(report, units, reader)
            .map_err(|e| Failure::from_error(Kind::Usage, &e))?;
        say_of_undecided(report, context);
        say_of_view(view, context, units);
        if table.guarded > 0 {
            let (n, have) =
                (table.guarded, if table.guarded == 1 { "cell begins" } else { "cells begin" });
            note_beside(
                &format!(
                    "{n} {have} as a formula does, which a spreadsheet would work out: an apostrophe \
                     stands before it that is not in the book; --json has it as it is"
                ),
                context,
            );
        }
        return write_bytes(&table.text);
    }
    let screen = render::text::Screen { width: context.width, units };
    let text = if context.verbose {
        render::text::render(&report.in_full(), screen)
    } else {
        render::text::render(report, screen)
    };
    pager::show(&text, context)
}

/// Says beside a bare table how many rows nobody can decide: they are not in it.
fn say_of_undecided(report: &Report, context: &Context) {
    for says in report.undecided() {
        note_beside(says, context);
    }
}

/// Says beside a bare table from where the book was looked at: a reader of CSV has no place for it,
/// and who sees the figures later must not take them for today's.
fn say_of_view(view: &[Block], context: &Context, units: UnitSystem) {
    if view.is_empty() {
        return;
    }
    let side = Report { blocks: view.to_vec(), ..Report::new("view") };
    let text = render::text::render(&side, render::text::Screen { width: context.width, units });
    say_beside(&text);
}

/// Writes a file where none stands yet: a filled sheet is a shift's work.
pub(super) fn write_new(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    let mut file = OpenOptions::new().write(true).create_new(true).open(path).map_err(|e| {
        let name = path.display();
        if e.kind() == ErrorKind::AlreadyExists {
            Failure::new(Kind::Usage, format!("{name} is there already and was left as it is"))
                .hint("choose another name")
        } else {
            Failure::new(Kind::Usage, format!("{name} cannot be written: {e}"))
        }
    })?;
    let written = file.write_all(bytes).and_then(|()| file.flush());
    written.map_err(|e| {
        // Half a workbook opens in nothing; it was ours a moment ago.
        let _ = std::fs::remove_file(path);
        Failure::new(Kind::Usage, format!("{} cannot be written: {e}", path.display()))
    })
}

/// Writes text for people to stdout; colours where it can show them.
pub(super) fn write(text: &str) -> Result<ExitCode, Failure> {
    write_to(anstream::stdout().lock(), text)
}

/// Writes data to stdout, every byte as it is: what looks like a colour is part of a name.
fn write_bytes(text: &str) -> Result<ExitCode, Failure> {
    write_to(std::io::stdout().lock(), text)
}

fn write_to(mut out: impl Write, text: &str) -> Result<ExitCode, Failure> {
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Ok(()) => Ok(ExitCode::SUCCESS),
        // `pipelore find … | head` is no error.
        Err(e) if e.kind() == ErrorKind::BrokenPipe => Ok(ExitCode::SUCCESS),
        Err(e) => Err(Failure::new(Kind::Book, format!("the answer cannot be written: {e}"))),
    }
}
