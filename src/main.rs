//! The `pipelore` command: hands its arguments to the library and its exit code to the shell.

use std::process::ExitCode;

fn main() -> ExitCode {
    pipelore::cli::main()
}
