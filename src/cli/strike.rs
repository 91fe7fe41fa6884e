//! `strike`: strikes an entry out.

use std::process::ExitCode;

use super::args::StrikeArgs;
use super::context::Context;
use super::failure::{Failure, usage};
use super::output;
use crate::model::{Body, Draft, EntryId, StrikeBody};
use crate::report::{Block, Cell, Fact, Report, effects};
use crate::store::{Access, AppendOptions};

pub(super) fn run(args: &StrikeArgs, context: &Context) -> Result<ExitCode, Failure> {
    let mut book = context.open(Access::Write)?;
    let entry: EntryId = args.entry.parse().map_err(usage)?;
    let stored = book.entry(&entry)?;
    let instead = args
        .instead
        .iter()
        .map(|e| {
            let id: EntryId = e.parse().map_err(usage)?;
            book.entry(&id)?;
            Ok(id)
        })
        .collect::<Result<Vec<_>, Failure>>()?;
    if args.reason.trim().is_empty() {
        return Err(usage("a strike needs its reason"));
    }
    let draft = Draft {
        effective: context.present(),
        evidence: None,
        body: Body::Strike(StrikeBody {
            entry: entry.clone(),
            reason: args.reason.trim().to_owned(),
            instead,
        }),
    };
    let mut report = Report::new("strike");
    let mut facts = vec![
        Fact::plain(
            "entry",
            if args.dry_run { "would strike" } else { "struck" },
            Cell::Text(entry.to_string()),
        ),
        Fact::plain("kind", "kind", Cell::Text(stored.raw.kind.clone())),
    ];
    let mut blocks = Vec::new();
    if args.dry_run {
        let effects = book.effects(&[draft], &context.stamp())?;
        facts.push(Fact::plain("dry_run", "dry run", Cell::Truth(true)));
        blocks = effects::blocks(&effects);
    } else {
        let options = AppendOptions { keep_conflicts: true, dry_run: false };
        let done = book.append(&[draft], &context.stamp(), &options)?;
        facts.push(Fact::plain(
            "strike",
            "by",
            done.entries.first().map_or(Cell::Missing, |e| Cell::Text(e.to_string())),
        ));
        facts.push(Fact::plain(
            "head",
            "head",
            done.head.as_ref().map_or(Cell::Missing, |h| Cell::Text(h.to_string())),
        ));
    }
    report.push(Block::Facts { name: "strike", facts });
    blocks.into_iter().for_each(|b| report.push(b));
    let units = context.units(&book);
    book.close()?;
    output::print(&report, context, units)
}
