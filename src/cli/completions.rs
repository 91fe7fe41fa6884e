//! `completions` and `man`: what shells and manual readers want, from the same definitions.

use std::process::ExitCode;

use clap::CommandFactory;

use super::args::{Cli, CompletionsArgs};
use super::failure::{Failure, Kind};
use super::output;

pub(super) fn completions(args: &CompletionsArgs) -> Result<ExitCode, Failure> {
    let mut text = Vec::new();
    clap_complete::generate(args.shell, &mut Cli::command(), "pipelore", &mut text);
    output::write(&String::from_utf8_lossy(&text))
}

pub(super) fn man() -> Result<ExitCode, Failure> {
    let fault =
        |e: std::io::Error| Failure::new(Kind::Usage, format!("the page was not made: {e}"));
    let mut text = Vec::new();
    let mut root = Cli::command();
    root.build();
    clap_mangen::Man::new(root.clone()).render(&mut text).map_err(fault)?;
    for command in root.get_subcommands().filter(|c| c.get_name() != "help") {
        let name: &'static str = format!("pipelore-{}", command.get_name()).leak();
        clap_mangen::Man::new(command.clone().name(name)).render(&mut text).map_err(fault)?;
    }
    output::write(&String::from_utf8_lossy(&text))
}
