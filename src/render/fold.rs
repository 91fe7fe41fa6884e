//! Where a text may go on in the next line: between words, and never inside a number.

use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

/// A word is broken only where it is longer than this.
pub(super) const LONGEST_WORD: usize = 12;

/// What stands together on a line: a word, or a number with its sign of a bound, its fraction and its
/// percent sign.
pub(super) fn words(text: &str) -> impl Iterator<Item = &str> {
    let mut rest = text.trim_matches(' ');
    std::iter::from_fn(move || {
        if rest.is_empty() {
            return None;
        }
        let blanks = rest.match_indices(' ').map(|(at, _)| at);
        let end = { blanks }.find(|at| !holds_together(&rest[..*at], &rest[at + 1..]));
        let (word, after) = rest.split_at(end.unwrap_or(rest.len()));
        rest = after.trim_start_matches(' ');
        Some(word)
    })
}

/// Whether a blank stands inside a number, `≥ 812`, `4 5/8`, `82 %`, or before the `to` of a range.
fn holds_together(before: &str, after: &str) -> bool {
    let last = before.rsplit(' ').next().unwrap_or_default();
    let mut rest = after.split(' ');
    let (next, then) = (rest.next().unwrap_or_default(), rest.next().unwrap_or_default());
    let figure = |c: char| c.is_ascii_digit();
    let whole = |part: &str| !part.is_empty() && part.chars().all(figure);
    let fraction = next.trim_end_matches(|c: char| !figure(c)).split_once('/');
    let fraction = fraction.is_some_and(|(above, below)| whole(above) && whole(below));
    next.starts_with('%')
        || matches!(last, "≥" | "≤" | "±")
        || (fraction && whole(last))
        || (next == "to" && last.ends_with(figure) && then.contains(figure))
}

/// Gives the lines of a text at a width, and says how many words were broken: those alone that are wider
/// than a line.
pub(super) fn lines<'t>(text: &'t str, width: usize, mut line: impl FnMut(&'t str)) -> usize {
    let (width, mut broken) = (width.max(1), 0);
    for paragraph in text.split('\n') {
        let place = |part: &str| part.as_ptr() as usize - paragraph.as_ptr() as usize;
        // Bytes of the line that is being filled.
        let mut now: Option<(usize, usize)> = None;
        for word in words(paragraph) {
            let mut word = word;
            let mut from = place(word);
            if let Some((start, _)) = now
                && paragraph[start..from + word.len()].width() <= width
            {
                now = Some((start, from + word.len()));
                continue;
            }
            if let Some((start, end)) = now {
                line(&paragraph[start..end]);
            }
            while word.width() > width {
                let at = break_at(word, width);
                line(&word[..at]);
                broken += 1;
                word = &word[at..];
                from = place(word);
            }
            now = Some((from, from + word.len()));
        }
        line(now.map_or("", |(start, end)| &paragraph[start..end]));
    }
    broken
}

/// Where a word that is too wide goes on: behind a joint of it in the second half of the line, else at
/// its end.
fn break_at(word: &str, width: usize) -> usize {
    let mut wide = 0;
    let mut fits = 0;
    let mut joint = 0;
    for (at, c) in word.char_indices() {
        wide += c.width().unwrap_or(0);
        if wide > width {
            break;
        }
        fits = at + c.len_utf8();
        if matches!(c, '_' | '-' | '/' | ' ' | ',') && 2 * wide > width {
            joint = fits;
        }
    }
    let least = word.chars().next().map_or(word.len(), char::len_utf8);
    if joint > 0 { joint } else { fits.max(least) }
}

/// A text in lines of a width.
pub fn folded(text: &str, width: usize) -> String {
    let mut out = String::new();
    let mut first = true;
    lines(text, width, |line| {
        if !std::mem::take(&mut first) {
            out.push('\n');
        }
        out.push_str(line);
    });
    out
}

/// How many lines a text takes at a width.
pub(super) fn height(text: &str, width: usize) -> usize {
    let mut count = 0;
    lines(text, width, |_| count += 1);
    count
}

/// Rows from which the widths of columns are told.
pub(super) const LOOKED_AT: usize = 120;
/// A broken word reads as badly as so many lines more.
const BROKEN: usize = 6;

/// A column that is to be given a width.
pub(super) struct Column<'t> {
    /// Its title first, then its cells.
    pub texts: Vec<&'t str>,
    /// The width that it has at least.
    pub least: usize,
    /// The width at which nothing is folded.
    pub natural: usize,
}

/// What a column takes at one width.
struct Taken {
    /// Lines of each text.
    lines: Vec<usize>,
    broken: usize,
}

impl Taken {
    fn of(column: &Column<'_>, width: usize) -> Self {
        let mut broken = 0;
        let lines = column.texts.iter().take(LOOKED_AT).map(|text| {
            if text.width() <= width && !text.contains('\n') {
                return 1;
            }
            let mut count = 0;
            broken += lines(text, width, |_| count += 1);
            count
        });
        Self { lines: lines.collect(), broken }
    }

    /// A long cell costs more than its lines: the others of its row are short.
    fn cost(&self) -> usize {
        self.lines.iter().map(|n| n * n).sum::<usize>() + BROKEN * self.broken
    }
}

/// Widths of columns that together fit into a room: each at least as wide as it must be, the rest given
/// where it saves most lines.
pub(super) fn shared(columns: &[Column<'_>], room: usize) -> Vec<usize> {
    // What each column takes at each width, from its least one on.
    let taken: Vec<Vec<Taken>> = columns
        .iter()
        .map(|column| {
            let most = column.natural.min(room).max(column.least);
            (column.least..=most).map(|width| Taken::of(column, width)).collect()
        })
        .collect();
    let least: usize = columns.iter().map(|column| column.least).sum();
    let mut added = vec![0; columns.len()];
    let mut spare = room.saturating_sub(least);
    loop {
        let mut best: Option<(usize, usize, usize)> = None;
        for (at, taken) in taken.iter().enumerate() {
            let here = taken[added[at]].cost();
            for (more, then) in taken.iter().skip(added[at] + 1).take(spare).enumerate() {
                let (saved, more) = (here.saturating_sub(then.cost()), more + 1);
                // Lines saved for a column of characters, without fractions.
                let better = best.is_none_or(|(_, s, m)| saved * m > s * more);
                if saved > 0 && better {
                    best = Some((at, saved, more));
                }
            }
        }
        let Some((at, _, more)) = best else { break };
        added[at] += more;
        spare -= more;
    }
    traded(&taken, &mut added, spare);
    columns.iter().zip(added).map(|(column, more)| column.least + more).collect()
}

/// Most trades of width between two columns, and the widest.
const TRADES: usize = 40;
const FAR: usize = 24;

/// Gives width of one column to another as long as the whole becomes lower: a row is as high as the
/// highest of its cells, which no column knows by itself.
fn traded(taken: &[Vec<Taken>], added: &mut [usize], mut spare: usize) {
    let rows = taken.iter().filter_map(|widths| widths.first()).map(|t| t.lines.len()).max();
    let whole = |added: &[usize]| -> usize {
        let now = || taken.iter().zip(added).filter_map(|(widths, more)| widths.get(*more));
        let high = |row: usize| now().filter_map(|t| t.lines.get(row)).max().copied().unwrap_or(0);
        (0..rows.unwrap_or(0)).map(high).sum::<usize>()
            + now().map(|t| BROKEN * t.broken).sum::<usize>()
    };
    let mut height = whole(added);
    for _ in 0..TRADES {
        let mut best: Option<(usize, Vec<usize>, usize)> = None;
        for to in 0..taken.len() {
            // From a column, or from what is left over.
            for from in (0..taken.len()).filter(|from| *from != to).map(Some).chain([None]) {
                let most = from.map_or(spare, |from| spare + added[from]);
                for more in 1..=most.min(taken[to].len() - 1 - added[to]).min(FAR) {
                    let mut then = added.to_vec();
                    then[to] += more;
                    if let Some(from) = from {
                        then[from] -= more.saturating_sub(spare);
                    }
                    let lower = whole(&then);
                    if lower < best.as_ref().map_or(height, |b| b.0) {
                        best = Some((lower, then, spare.saturating_sub(more)));
                    }
                }
            }
        }
        let Some((lower, then, left)) = best else { return };
        height = lower;
        added.copy_from_slice(&then);
        spare = left;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_stands_whole() {
        let of = |text| words(text).collect::<Vec<_>>();
        assert_eq!(of("wall 82 % of it"), ["wall", "82 %", "of", "it"]);
        assert_eq!(of("od 4 5/8 in"), ["od", "4 5/8", "in"]);
        assert_eq!(of("at ≥ 812 h  now"), ["at", "≥ 812", "h", "now"]);
        assert_eq!(of("1/2 3/4"), ["1/2", "3/4"]);
        assert_eq!(of("K1-0556 to K1-0564"), ["K1-0556 to", "K1-0564"]);
        assert_eq!(of("send 2 to shop"), ["send", "2", "to", "shop"]);
        assert_eq!(of(""), [""; 0]);
    }

    #[test]
    fn words_are_broken_only_where_a_line_is_too_short_for_them() {
        assert_eq!(folded("hydrogen sulphide since", 12), "hydrogen\nsulphide\nsince");
        assert_eq!(folded("damage_since_crack_search", 14), "damage_since_\ncrack_search");
        assert_eq!(folded("abcdefghijkl", 5), "abcde\nfghij\nkl");
        assert_eq!(folded("one\n[in]", 9), "one\n[in]");
        assert_eq!(height("K1-0411, K1-0415, K1-0418", 17), 2);
        assert_eq!(lines("aaaa bb", 3, |_| ()), 1);
    }

    #[test]
    fn room_goes_where_it_saves_lines() {
        let long = "failed: keep it as it is for whoever investigates";
        let column = |texts: &[&'static str], least: usize| Column {
            texts: texts.to_vec(),
            least,
            natural: texts.iter().map(|text| text.width()).max().unwrap_or(0),
        };
        let columns = [
            column(&["serial", "K1-0417"], 7),
            column(&["reason", long, "cracked"], 12),
            column(&["note", "one two"], 4),
        ];
        let widths = shared(&columns, 40);
        assert!(widths.iter().sum::<usize>() <= 40 && widths[0] == 7, "{widths:?}");
        assert_eq!(height(long, widths[1]), 2, "{widths:?}");
        assert_eq!(shared(&columns, 80), [7, long.width(), 7]);
        // What saves no line alone does so where another column gives way.
        let (a, b) = ("aaaa bbbb cccc", "dddd eeee ffff");
        let columns = [column(&["a", a, a], 4), column(&["b", b, "x"], 4)];
        let widths = shared(&columns, 20);
        let high = |a: &str, b: &str| height(a, widths[0]).max(height(b, widths[1]));
        assert!(high(a, b) + high(a, "x") <= 4, "{widths:?}");
    }
}
