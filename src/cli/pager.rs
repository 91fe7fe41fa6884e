//! An answer longer than the screen goes through the reader's pager.

use std::io::Write as _;
use std::process::{Command, ExitCode, Stdio};

use super::context::Context;
use super::failure::Failure;
use super::output;

/// Shows an answer for people: through a pager where it is longer than the terminal, else as it is.
/// Into a pipe or a file it always goes as it is.
pub(super) fn show(text: &str, context: &Context) -> Result<ExitCode, Failure> {
    match pager(text, context) {
        Some(command) => through(&command, text),
        None => output::write(text),
    }
}

/// The command of the pager, where one is wanted.
fn pager(text: &str, context: &Context) -> Option<String> {
    if !context.pager || !cfg!(unix) {
        return None;
    }
    let (_, rows) = terminal_size::terminal_size()?;
    if text.lines().count() < usize::from(rows.0) {
        return None;
    }
    match std::env::var("PAGER") {
        Ok(command) if command.trim().is_empty() => None,
        Ok(command) => Some(command),
        // Where there is no `less` an answer is longer than the screen, no more.
        Err(_) => is_there("less").then(|| "less".to_owned()),
    }
}

fn is_there(program: &str) -> bool {
    let folders = std::env::var_os("PATH").unwrap_or_default();
    std::env::split_paths(&folders).any(|folder| folder.join(program).is_file())
}

/// Hands the text to the pager and waits until the reader has done with it.
fn through(command: &str, text: &str) -> Result<ExitCode, Failure> {
    let mut shell = Command::new("sh");
    shell.args(["-c", command]).stdin(Stdio::piped());
    // Ends at the end of what fits, keeps colours, leaves the answer on the screen.
    if std::env::var_os("LESS").is_none() {
        shell.env("LESS", "FRX");
    }
    // The key that interrupts belongs to the pager while it shows.
    #[cfg(unix)]
    let held = signal_hook::flag::register(signal_hook::consts::SIGINT, std::sync::Arc::default());
    let done = shell.spawn().and_then(|mut child| {
        if let Some(mut stdin) = child.stdin.take() {
            // A reader who has seen enough closes it: no error.
            let _ = stdin.write_all(text.as_bytes());
        }
        child.wait()
    });
    #[cfg(unix)]
    if let Ok(held) = held {
        signal_hook::low_level::unregister(held);
    }
    match done {
        // The shell found no such program, or may not run it; the answer is shown all the same.
        Ok(status) if matches!(status.code(), Some(126 | 127)) => output::write(text),
        Err(_) => output::write(text),
        Ok(_) => Ok(ExitCode::SUCCESS),
    }
}
