//! What `load` asks at a terminal: only what no file says and nobody can know, with a way back and a way
//! out. Nothing is written before all is answered, since a load that lacks an answer is refused whole.

use super::failure::{Failure, Kind};
use super::terminal::{Terminal, Typed};
use crate::app::{Error, LoadOptions};
use crate::intake::{Answer, Question, Severity, StatedColumn};
use crate::render::safe::for_screen;

/// Questions that are asked of one load at most: one that comes up again and again is no question.
const MOST: usize = 200;

/// What was asked and answered so far.
pub(super) struct Interview<'a> {
    terminal: Terminal<'a>,
    /// How files are read but for what is answered.
    how: LoadOptions,
    answered: Vec<(Asked, Answer)>,
}

/// A question, and what gives rise to it.
#[derive(Clone)]
struct Asked {
    question: Question,
    why: String,
}

/// What is typed in the place of an answer.
enum Turn {
    Answer(Answer),
    Back,
    Stop,
}

impl Interview<'_> {
    pub(super) fn new(how: LoadOptions) -> Self {
        Self { terminal: Terminal::of_stdin(), how, answered: Vec::new() }
    }

    /// Asks what a refused load lacks. How to load then, or the refusal where answers do not mend it. What
    /// is wrong by an answer leads back to the last one: the others stay.
    pub(super) fn ask(&mut self, refused: Error) -> Result<LoadOptions, Failure> {
        let questions = match &refused {
            Error::File { diagnostics, .. } => questions(diagnostics),
            _ => Vec::new(),
        };
        let again = |q: &Asked| self.answered.iter().any(|(a, _)| a.question == q.question);
        let no_more = questions.is_empty() || questions.iter().any(again);
        let last = if no_more { self.answered.pop() } else { None };
        if self.answered.len() > MOST || no_more && last.is_none() {
            return Err(refused.into());
        }
        let mut open: Vec<Asked> = if let Some((asked, _)) = last {
            Failure::from(refused).report(false);
            self.terminal.say(
                "by these answers it is refused; the last one is asked again, 'back' goes further back, \
                 'stop' ends",
            );
            vec![asked]
        } else {
            questions.into_iter().rev().collect()
        };
        if self.answered.is_empty() && !no_more {
            self.terminal.say(
                "nothing is written before all is answered; ? says what is wanted, 'back' goes back, \
                 'stop' ends",
            );
        }
        while let Some(asked) = open.pop() {
            match self.turn(&asked)? {
                Turn::Answer(answer) => self.answered.push((asked, answer)),
                Turn::Back => {
                    open.push(asked);
                    match self.answered.pop() {
                        Some((before, _)) => open.push(before),
                        None => self.terminal.say("  this is the first question"),
                    }
                }
                Turn::Stop => {
                    let stopped = "the questions were not answered; nothing was written";
                    return Err(Failure::new(Kind::Input, stopped)
                        .hint("in a script: as options, or in a file with --answers"));
                }
            }
        }
        self.how_now()
    }

    fn turn(&mut self, asked: &Asked) -> Result<Turn, Failure> {
        let Asked { question, why } = asked;
        self.terminal.say(&for_screen(&format!("{}: {why}", question.file)));
        loop {
            let (prompt, wanted) = (question.text(), question.wanted());
            let text = match self.terminal.ask(&for_screen(&prompt), &for_screen(&wanted))? {
                Typed::Text(text) => text,
                Typed::Nothing => {
                    self.terminal.say(&format!("  {}", for_screen(&question.wanted())));
                    continue;
                }
                Typed::End => return Ok(Turn::Stop),
            };
            match text.to_lowercase().as_str() {
                "back" => return Ok(Turn::Back),
                "stop" => return Ok(Turn::Stop),
                _ => {}
            }
            match question.answer(&text) {
                Ok(answer) => return Ok(Turn::Answer(answer)),
                Err(e) => self.terminal.say(&for_screen(&format!("  {e}"))),
            }
        }
    }

    /// How files are read by what was answered.
    fn how_now(&self) -> Result<LoadOptions, Failure> {
        let mut how = self.how.clone();
        for (asked, answer) in &self.answered {
            let file = &asked.question.file;
            let said = match answer {
                Answer::Said(name, text) => how.answers.say(file, name, text),
                Answer::Column { source, name, unit } => {
                    let (source, name) = (Some(source.clone()), name.clone());
                    let column = StatedColumn { source, name, unit: unit.clone() };
                    how.answers.say_column(file, column);
                    Ok(())
                }
            };
            said.map_err(super::failure::usage)?;
        }
        Ok(how)
    }
}

/// What the diagnostics of a refusal ask, where that is all that is wrong.
fn questions(diagnostics: &crate::intake::Diagnostics) -> Vec<Asked> {
    let errors = diagnostics.list().iter().filter(|d| d.severity == Severity::Error);
    let mut out: Vec<Asked> = Vec::new();
    for d in errors {
        let Some(question) = d.question.as_deref() else { return Vec::new() };
        if out.iter().all(|asked| asked.question != *question) {
            let value = d.value.as_ref().filter(|v| !d.message.contains(v.as_str()));
            let value = value.map_or_else(String::new, |v| format!(" (as in {v})"));
            out.push(Asked { question: question.clone(), why: format!("{}{value}", d.message) });
        }
    }
    out
}
