//! `schema`: what the JSON of an answer looks like.

use std::ffi::OsString;
use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, usage};
use super::output;
use crate::render;

/// The JSON Schema of an answer: which members it has, and of what unit
///
/// Example: pipelore schema due --within '30 days'
///
/// Ask as you would ask for the answer; of a command that can write only what writes nothing is asked.
/// Without a command it is the schema of an error.
#[derive(Debug, Args)]
pub(super) struct SchemaArgs {
    /// A command with its words
    #[arg(value_name = "COMMAND", trailing_var_arg = true, allow_hyphen_values = true)]
    words: Vec<OsString>,
}

impl Command for SchemaArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        if self.words.is_empty() {
            return output::write(&render::schema::of_error());
        }
        let line: Vec<OsString> =
            std::iter::once("pipelore".into()).chain(self.words.iter().cloned()).collect();
        let read = context.commands.read(&line).map_err(|e| usage(e.to_string()))?;
        let tries = self.words.iter().any(|word| word == "--dry-run");
        if !tries && !read.only_asks(&self.words) {
            return Err(usage("what may write to a book is not done to see its schema")
                .hint("with --dry-run it is tried, and nothing is written"));
        }
        read.run(&context.for_schema(&read.global)?)
    }
}
