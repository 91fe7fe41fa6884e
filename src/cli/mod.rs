//! Arguments to library calls to report to render; one file per command.

use std::process::ExitCode;

/// Runs the command line of this process.
pub fn main() -> ExitCode {
    ExitCode::SUCCESS
}
