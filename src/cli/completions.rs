//! `completions` and `man`: what shells and manual readers want, from the same definitions.

use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, Kind};
use super::output;

/// Print shell completion
///
/// Example: pipelore completions bash > pipelore.bash
#[derive(Debug, Args)]
pub(super) struct CompletionsArgs {
    /// Shell
    #[arg(value_name = "SHELL")]
    shell: clap_complete::Shell,
}

impl Command for CompletionsArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let mut text = Vec::new();
        let mut whole = context.commands.whole();
        clap_complete::generate(self.shell, &mut whole, "pipelore", &mut text);
        output::write(&String::from_utf8_lossy(&text))
    }
}

/// Print the manual page
///
/// Example: pipelore man > pipelore.1
#[derive(Debug, Args)]
pub(super) struct ManArgs {}

impl Command for ManArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let fault =
            |e: std::io::Error| Failure::new(Kind::Usage, format!("the page was not made: {e}"));
        let mut text = Vec::new();
        let mut root = context.commands.whole();
        root.build();
        clap_mangen::Man::new(root.clone()).render(&mut text).map_err(fault)?;
        for command in root.get_subcommands().filter(|c| c.get_name() != "help") {
            let name: &'static str = format!("pipelore-{}", command.get_name()).leak();
            clap_mangen::Man::new(command.clone().name(name)).render(&mut text).map_err(fault)?;
        }
        output::write(&String::from_utf8_lossy(&text))
    }
}
