//! Habits of other languages and of the trade: what a text that cannot be read was meant to say.
//!
//! Nothing here is asked of a filter that is right. Of one that is wrong, each rule looks at a place
//! in the text and may propose a change; a change counts only when the text can be read further
//! with it than without, so that no advice leads astray.

mod dates;
mod habit;
mod line;
mod numbers;
mod phrases;
mod questions;
mod shape;
mod spoken;
mod texts;
mod trade;

use super::ast::{Expr, Word};
use super::error::{Advice, ErrorKind, FilterError, Span};
use super::parse::{Rule, Text, parse_filter, parse_value, read_to};
use habit::Habit;
use line::Line;

/// Longest text that is looked at, in bytes: each proposal is read once.
const LONGEST: usize = 2_000;
/// Most proposals that are tried.
const TRIED: usize = 48;
/// Deepest nesting of parentheses in a text that is looked at.
const DEEPEST: usize = 12;

type Look = fn(&Line<'_>, usize) -> Option<Habit>;

/// Rules for texts that cannot be read; of two that make a text whole the first is taken.
const UNREAD: &[Look] = &[
    texts::odd_quotes,
    phrases::sign,
    numbers::marks,
    numbers::feet_and_inches,
    numbers::fraction_sign,
    numbers::grouped,
    numbers::decimal_comma,
    numbers::suffix,
    numbers::percent_first,
    numbers::power,
    numbers::part_of,
    trade::per_hours,
    numbers::unit_in_words,
    trade::or_better,
    trade::names_in_order,
    spoken::age,
    spoken::age_of,
    spoken::more_than_ago,
    spoken::so_often,
    spoken::or_more,
    spoken::never_done,
    spoken::said_of_it,
    spoken::of_a_record,
    spoken::thousands,
    spoken::found,
    spoken::method,
    spoken::distinct,
    spoken::of_nominal,
    spoken::number_of,
    spoken::whereabouts,
    spoken::runs_in_well,
    spoken::than_another,
    spoken::average_of_all,
    spoken::needs,
    spoken::in_bends,
    spoken::since_it_was,
    spoken::last_before,
    spoken::worst,
    trade::last_unit,
    trade::days_since,
    trade::since_work,
    trade::bare_pattern,
    trade::over_alone,
    trade::so_many,
    trade::percentile,
    trade::makeups_of_end,
    trade::in_status,
    trade::neighbour,
    trade::of_named_run,
    trade::idle,
    trade::fit,
    trade::rotary_speed,
    trade::none,
    dates::ago,
    dates::called,
    dates::quoted,
    dates::in_period,
    dates::last_so_long,
    dates::spelled,
    questions::function,
    questions::records_without_question,
    questions::other_record,
    questions::field_of_record,
    questions::window_behind,
    questions::window_word,
    questions::condition_without_parentheses,
    shape::statement,
    shape::nothing_there,
    shape::field_in_words,
    phrases::phrase,
    shape::list,
    shape::values_joined,
    shape::repeated,
    shape::negated_sign,
    shape::span_of_values,
    shape::unknown,
    texts::pattern_words,
    texts::serial,
    texts::words,
    texts::open_quote,
    shape::equals,
    shape::comma,
    shape::brackets,
    shape::parentheses,
    phrases::article,
    phrases::left_over,
];

/// Rules for texts that can be read and mean nothing.
const UNCHECKED: &[Look] = &[
    dates::called,
    dates::quoted,
    dates::spelled,
    numbers::unit_in_words,
    numbers::suffix,
    trade::or_better,
    trade::names_in_order,
    spoken::age,
    spoken::or_more,
    spoken::never_done,
    spoken::said_of_it,
    spoken::of_a_record,
    spoken::thousands,
    spoken::method,
    spoken::needs,
    spoken::last_before,
    spoken::other_name,
    trade::days_since,
    trade::neighbour,
    trade::idle,
    trade::fit,
    trade::rotary_speed,
    trade::none,
    shape::values_joined,
    shape::field_in_words,
    shape::unknown,
    questions::other_record,
    questions::condition_without_parentheses,
    questions::above_a_value,
    texts::serial,
];

/// Reads a filter; errors say what was meant, where that is known.
pub fn read_filter(text: &Text) -> Result<Expr, Vec<FilterError>> {
    parse_filter(text).map_err(|errors| unreadable(text, Rule::filter, errors))
}

/// Reads a value: a column to show, with the title that it is given.
pub fn read_value(text: &Text) -> Result<(Expr, Option<Word>), Vec<FilterError>> {
    parse_value(text).map_err(|errors| unreadable(text, Rule::value, errors))
}

/// Errors of a text that cannot be read, told by the habit behind it where one is known.
fn unreadable(text: &Text, entry: Rule, errors: Vec<FilterError>) -> Vec<FilterError> {
    match errors.as_slice() {
        // Those of the tree know what they want.
        [error] if error.kind == ErrorKind::Syntax => vec![syntax(text, entry, error.clone())],
        _ => errors,
    }
}

fn syntax(text: &Text, entry: Rule, error: FilterError) -> FilterError {
    let whole: &str = &text.text;
    let line = Line::of(whole);
    if whole.len() > LONGEST || line.depth() > DEEPEST {
        return error;
    }
    let unread = whole.len() - read_to(entry, whole).min(whole.len());
    let mut best: Option<(usize, Habit)> = None;
    let looks = UNREAD.iter().flat_map(|look| (0..=line.len()).map(move |at| (look, at)));
    for habit in looks.filter_map(|(look, at)| look(&line, at)).take(TRIED) {
        let Some(fix) = habit.fixes.first() else { continue };
        let mended = fix.apply(whole);
        let left = mended.len() - read_to(entry, &mended).min(mended.len());
        let better = best.as_ref().map_or(left < unread || left == 0, |(least, _)| left < *least);
        if better {
            best = Some((left, habit));
        }
        if left == 0 {
            break;
        }
    }
    match best {
        Some((_, habit)) => told(text, habit),
        None => error,
    }
}

/// Errors of texts that can be read, told by the habits behind them where they are known.
pub(super) fn explained(errors: Vec<FilterError>) -> Vec<FilterError> {
    let mut out: Vec<FilterError> = Vec::new();
    for error in errors {
        let error = explain(error);
        if !out.contains(&error) {
            out.push(error);
        }
    }
    out
}

fn explain(error: FilterError) -> FilterError {
    let place = &error.place;
    let looked = !matches!(error.kind, ErrorKind::Limit | ErrorKind::Cycle | ErrorKind::Window);
    if !looked || place.text.len() > LONGEST {
        return error;
    }
    let line = Line::of(&place.text);
    // The caret of one stands in the other, or what is replaced begins where the error ends.
    let meets = |habit: &Habit| {
        let within = |span: Span| {
            span.start < place.span.end.max(place.span.start + 1) && place.span.start < span.end
        };
        within(habit.at) || habit.fixes.first().is_some_and(|f| f.span.start == place.span.end)
    };
    let looks = UNCHECKED.iter().flat_map(|look| (0..line.len()).map(move |at| (look, at)));
    let habit = looks.filter_map(|(look, at)| look(&line, at)).filter(meets).find(|h| {
        let mended = h.fixes.first().map(|fix| fix.apply(&place.text));
        mended.is_some_and(|text| {
            [Rule::filter, Rule::value].iter().any(|entry| read_to(*entry, &text) == text.len())
        })
    });
    let Some(habit) = habit else { return error };
    let text = Text { rule: place.rule.clone(), text: place.text.clone() };
    FilterError { used: error.used, ..told(&text, habit) }
}

fn told(text: &Text, habit: Habit) -> FilterError {
    let Habit { at, message, fixes, hint } = habit;
    text.error(ErrorKind::Foreign, at, message, Advice { hint, fixes })
}
