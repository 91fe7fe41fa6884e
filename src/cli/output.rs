//! Where answers go: stdout, whole, and quietly no further when the reader has gone.

use std::io::{ErrorKind, Write};
use std::process::ExitCode;

use super::context::Context;
use super::failure::{Failure, Kind};
use crate::render;
use crate::report::Report;
use crate::units::UnitSystem;

/// Prints a report as the user asked for it.
pub(super) fn print(
    report: &Report,
    context: &Context,
    units: UnitSystem,
) -> Result<ExitCode, Failure> {
    let text = if context.json {
        render::json::render(report, units)
    } else if context.csv {
        render::csv::render(report, units).map_err(|e| Failure::from_error(Kind::Usage, &e))?
    } else {
        let screen = render::text::Screen { width: context.width, units };
        render::text::render(report, screen)
    };
    write(&text)
}

/// Writes text to stdout.
pub(super) fn write(text: &str) -> Result<ExitCode, Failure> {
    let mut out = anstream::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Ok(()) => Ok(ExitCode::SUCCESS),
        // `pipelore find … | head` is no error.
        Err(e) if e.kind() == ErrorKind::BrokenPipe => Ok(ExitCode::SUCCESS),
        Err(e) => Err(Failure::new(Kind::Book, format!("the answer cannot be written: {e}"))),
    }
}
