//! The person at the terminal: plain lines in and out, so that it works over a pipe as it does at a
//! terminal.

use std::io::{self, BufRead, IsTerminal, Write};

use super::failure::{Failure, Kind};

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
}

impl Terminal<'_> {
    /// Whoever sits at the standard input.
    pub(super) fn of_stdin() -> Self {
        let stdin = io::stdin();
        let echo = !stdin.is_terminal();
        Self { input: Box::new(stdin.lock()), echo }
    }

    /// Whether questions can be seen and answered.
    pub(super) fn is_there() -> bool {
        io::stdin().is_terminal() && io::stderr().is_terminal()
    }

    pub(super) fn say(&self, text: &str) {
        let mut err = anstream::stderr().lock();
        // A terminal that went away ends the input as well.
        let _ = writeln!(err, "{text}");
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
        {
            let mut err = anstream::stderr().lock();
            let _ = write!(err, "{prompt}: ");
            let _ = err.flush();
        }
        let mut line = String::new();
        let read = self
            .input
            .read_line(&mut line)
            .map_err(|e| Failure::new(Kind::Usage, format!("the answer cannot be read: {e}")))?;
        if self.echo {
            self.say(line.trim());
        }
        Ok(match (read, line.trim()) {
            (0, _) => Typed::End,
            (_, "") => Typed::Nothing,
            (_, text) => Typed::Text(text.to_owned()),
        })
    }
}
