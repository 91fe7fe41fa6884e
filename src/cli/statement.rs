//! `statement`: what a hire did to its joints.

use std::process::ExitCode;

use super::args::StatementArgs;
use super::context::Context;
use super::failure::{Failure, Kind};
use super::output;
use crate::policy::price::Prices;
use crate::render;
use crate::report::statement;
use crate::store::Access;

pub(super) fn run(args: &StatementArgs, context: &Context) -> Result<ExitCode, Failure> {
    let prices = match &args.prices {
        None => None,
        Some(file) => {
            let wrong = |e: String| Failure::new(Kind::Input, format!("{}: {e}", file.display()));
            let text = std::fs::read_to_string(file).map_err(|e| wrong(e.to_string()))?;
            Some(Prices::parse(&text).map_err(wrong)?)
        }
    };
    let book = context.open(Access::Read)?;
    let present = context.present_of(&book);
    let report = statement::report(&book, &args.hire, prices.as_ref(), &present)?;
    let units = context.units(&book);
    let Some(path) = &args.output else { return output::print(&report, context, units) };
    let head = book.head()?.map_or_else(String::new, |h| format!("; head of the book: {h}"));
    let made = format!(
        "made {} by {} from the book of {}{head}",
        present.now.at(present.offset_minutes).format("%Y-%m-%d %H:%M"),
        super::PROGRAM,
        book.identity().chain.site,
    );
    let page = render::statement::render(&report, &made, units)
        .map_err(|e| Failure::from_error(Kind::Usage, &e))?;
    output::write_new(path, page.as_bytes())?;
    output::write(&format!("written to {}\n", path.display()))
}
