//! The person at the terminal: plain lines in and out, so that it works over a pipe as it does at a
//! terminal.

use std::io::{self, BufRead, IsTerminal, Write};

use super::failure::{Failure, Kind};
use crate::render::fold;

/// What was typed at a prompt.
pub(super) enum Typed {
    /// Something.
    Text(String),
    /// An empty line.
    Nothing,
    /// No more input.
    End,
}

/// The person at the terminal.
pub(super) struct Terminal<'a> {
    input: Box<dyn BufRead + 'a>,
    /// A terminal echoes what is typed; a pipe does not, and its lines end here.
    echo: bool,
    /// Columns of the screen; none where nobody sees it.
    width: Option<usize>,
}

/// A line in as many as a screen takes, each indented as the first.
fn indented(line: &str, width: usize) -> String {
    let indent = line.len() - line.trim_start_matches(' ').len();
    let room = width.saturating_sub(indent).max(LEAST);
    let folded = fold::folded(&line[indent..], room);
    let lines = folded.split('\n').map(|part| format!("{}{part}", &line[..indent]));
    lines.collect::<Vec<_>>().join("\n")
}

/// Columns that a line has at least.
const LEAST: usize = 20;

impl Terminal<'_> {
    /// Whoever sits at the standard input.
    pub(super) fn of_stdin() -> Self {
        let stdin = io::stdin();
        let echo = !stdin.is_terminal();
        Self { input: Box::new(stdin.lock()), echo, width: super::context::width_of_questions() }
    }

    /// Whether questions can be seen and answered.
    pub(super) fn is_there() -> bool {
        io::stdin().is_terminal() && io::stderr().is_terminal()
    }

    /// Says something; a line that is longer than the screen goes on below, indented as it began.
    pub(super) fn say(&self, text: &str) {
        let mut err = anstream::stderr().lock();
        // A terminal that went away ends the input as well.
        let _ = writeln!(err, "{}", self.fitted(text));
    }

    fn fitted(&self, text: &str) -> String {
        match self.width {
            Some(width) => {
                text.lines().map(|line| indented(line, width)).collect::<Vec<_>>().join("\n")
            }
            None => text.to_owned(),
        }
    }

    /// Asks until something else than a question mark is typed; that is told what is wanted.
    pub(super) fn ask(&mut self, prompt: &str, wanted: &str) -> Result<Typed, Failure> {
        loop {
            match self.asked(prompt)? {
                Typed::Text(t) if t == "?" => self.say(&format!("  {wanted}")),
                typed => return Ok(typed),
            }
        }
    }

    fn asked(&mut self, prompt: &str) -> Result<Typed, Failure> {
        let (read, line) = loop {
            {
                let mut err = anstream::stderr().lock();
                let _ = write!(err, "{}: ", self.fitted(prompt));
                let _ = err.flush();
            }
            let mut line = Vec::new();
            let read = self.input.read_until(b'\n', &mut line).map_err(|e| {
                Failure::new(Kind::Usage, format!("the answer cannot be read: {e}"))
            })?;
            match String::from_utf8(line) {
                Ok(line) => break (read, line),
                Err(_) => self.say("  that line is no text in UTF-8; type it again"),
            }
        };
        // The end of the input leaves a terminal behind the prompt.
        if self.echo || read == 0 {
            self.say(line.trim());
        }
        Ok(match (read, line.trim()) {
            (0, _) => Typed::End,
            (_, "") => Typed::Nothing,
            (_, text) => Typed::Text(text.to_owned()),
        })
    }
}
