//! What could have stood at a place, in words of the language.

use super::error::either;
use super::parse::Rule;

/// `a number, a field or (`: what the grammar would have taken, without its own names.
pub(super) fn phrase(rules: &[Rule]) -> String {
    let mut words: Vec<(u8, &'static str)> = Vec::new();
    for rule in rules {
        let Some(entry) = spelling(*rule) else { continue };
        if !words.contains(&entry) {
            words.push(entry);
        }
    }
    // Where any value may stand, nobody wants all that a value can begin with.
    if rules.contains(&Rule::quantity) && rules.contains(&Rule::named_value) {
        words = vec![(2, "a value")];
    }
    words.sort_unstable();
    // More than a handful helps nobody.
    let mut shown: Vec<&str> = words.iter().map(|(_, w)| *w).take(7).collect();
    if words.len() > shown.len() {
        shown.push("…");
    }
    either(&shown)
}

/// Spelling of what a rule reads, and its place in a list; `None` for what is not worth saying.
/// The match is exhaustive so that a new rule of the grammar gets a spelling.
fn spelling(rule: Rule) -> Option<(u8, &'static str)> {
    Some(match rule {
        Rule::EOI => (90, "the end"),
        Rule::kw_or | Rule::or_sign => (21, "or"),
        Rule::kw_and | Rule::and_sign => (20, "and"),
        Rule::kw_not | Rule::not_sign => (9, "not"),
        Rule::kw_in | Rule::one_of => (12, "in"),
        Rule::kw_is | Rule::is_word => (15, "is unknown"),
        Rule::kw_like | Rule::pattern_sign | Rule::like => (13, "like"),
        Rule::kw_between | Rule::between | Rule::band | Rule::band_alone => (11, "between"),
        Rule::kw_worse | Rule::kw_better | Rule::ranked => (14, "worse than"),
        Rule::kw_than => (1, "than"),
        Rule::kw_since | Rule::since => (30, "since"),
        Rule::kw_before | Rule::before => (31, "before"),
        Rule::kw_after | Rule::after => (32, "after"),
        Rule::kw_from | Rule::from_to => (33, "from"),
        Rule::kw_to => (1, "to"),
        Rule::kw_as | Rule::as_of => (34, "as of"),
        Rule::titled => (39, "as and a title"),
        Rule::in_last => (35, "in last"),
        Rule::that_time => (35, "at that time"),
        Rule::kw_that => (1, "that time"),
        Rule::in_a_row | Rule::kw_a | Rule::kw_row => (12, "in a row"),
        Rule::how_many => (3, "a number"),
        Rule::kw_time => (1, "time"),
        Rule::window => (30, "a window like since last inspection"),
        Rule::kw_of | Rule::pick | Rule::of_joint => (36, "of latest"),
        Rule::kw_above => (37, "above"),
        Rule::kw_at => (38, "at"),
        Rule::place => (1, "pin end, middle or box end"),
        Rule::pin_end => (1, "pin end"),
        Rule::middle => (2, "middle"),
        Rule::box_end => (3, "box end"),
        Rule::kw_over => (1, "over and a record kind"),
        Rule::kw_any => (5, "any"),
        Rule::kw_no => (5, "no"),
        Rule::kw_every => (5, "every"),
        Rule::kw_latest => (6, "last"),
        Rule::kw_first => (6, "first"),
        Rule::kw_previous => (6, "previous"),
        Rule::before_last => (6, "before last"),
        Rule::history => (5, "any, no, every, latest or first with a record kind"),
        Rule::kw_count | Rule::count => (7, "count"),
        Rule::kw_sum
        | Rule::kw_max
        | Rule::kw_min
        | Rule::kw_mean
        | Rule::kw_percentile
        | Rule::percentile
        | Rule::aggregate => (8, "sum, max, min or mean"),
        Rule::kw_due | Rule::due => (10, "due for"),
        Rule::kw_for => (1, "for"),
        Rule::kw_kin | Rule::kin => (10, "kin of"),
        Rule::kw_by => (30, "by and what is shared"),
        Rule::shared => (1, "what is shared"),
        Rule::kw_today => (4, "today"),
        Rule::word | Rule::named_value | Rule::source | Rule::name => (2, "a field"),
        Rule::record => (2, "a record kind like run or inspection"),
        Rule::date => (4, "a date"),
        Rule::quantity | Rule::number => (3, "a number"),
        Rule::unit => (40, "a unit"),
        Rule::text | Rule::single_text => (3, "text in quotes"),
        Rule::cmp | Rule::compare => (10, "a comparison like = or <"),
        Rule::tail | Rule::comparison => (11, "a comparison"),
        Rule::add_op => (22, "+ or -"),
        Rule::mul_op => (22, "* or /"),
        Rule::paren => (4, "("),
        Rule::condition => (29, "a condition in parentheses"),
        Rule::anchor => (3, "last or first and a record kind"),
        Rule::day => (4, "a date"),
        Rule::or | Rule::and | Rule::not | Rule::filter => (2, "a condition"),
        Rule::sum | Rule::product | Rule::primary | Rule::value => (2, "a value"),
        Rule::band_goes_on
        | Rule::minus
        | Rule::joint_dot
        | Rule::text_inner
        | Rule::term
        | Rule::digits
        | Rule::blank
        | Rule::clock
        | Rule::offset
        | Rule::unit_atom
        | Rule::unit_end
        | Rule::reserved_behind_a_number
        | Rule::reserved
        | Rule::edge
        | Rule::or_op
        | Rule::and_op
        | Rule::not_op
        | Rule::WHITESPACE
        | Rule::COMMENT => return None,
    })
}
