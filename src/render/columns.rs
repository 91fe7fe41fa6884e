//! Which columns of a table a screen has room for, and how wide each is.

use unicode_width::UnicodeWidthStr;

use super::fold;
use super::value::is_numeric;
use crate::report::{Cell, Table};

/// Stands before a text below its row.
pub(super) const BELOW: &str = "    ";

/// Blanks between two columns.
const GAP: usize = 2;

/// A text longer than this is folded before a column is left out for it.
const LONG_TEXT: usize = 60;

/// A table with its titles and cells as they are written.
pub(super) struct Laid<'t> {
    pub table: &'t Table,
    pub titles: &'t [String],
    pub body: &'t [Vec<String>],
}

/// How a table stands on a screen.
pub(super) struct Layout {
    /// Its columns, from the left.
    pub kept: Vec<usize>,
    /// Their widths, where texts are folded.
    pub widths: Option<Vec<usize>>,
    /// The column that stands on lines of its own below its row.
    pub below: Option<usize>,
}

impl Laid<'_> {
    /// Lays out some columns on a screen; where there is none they stand as they are.
    pub(super) fn on(&self, columns: Vec<usize>, width: Option<usize>) -> Layout {
        let mut kept = columns;
        // A column in which nothing was recorded tells nothing, unless it must be there.
        kept.retain(|c| self.table.columns[*c].dispensable == 0 || self.is_told(*c));
        let below = self.table.below;
        let Some(width) = width else { return Layout { kept, widths: None, below } };
        let sinks = kept.iter().copied().find(|c| self.table.columns[*c].sinks);
        let sunk: Vec<usize> = kept.iter().copied().filter(|c| Some(*c) != sinks).collect();
        let beside = self.beside(kept, width, below);
        // A long text goes below its row where the list is shorter for it.
        match sinks.filter(|_| beside.widths.is_some() && below.is_none()) {
            Some(column) => {
                let under = self.beside(sunk, width, Some(column));
                let shorter = self.height(&under, width) < self.height(&beside, width);
                if shorter { under } else { beside }
            }
            None => beside,
        }
    }

    fn is_told(&self, column: usize) -> bool {
        self.table.rows.iter().any(|row| row[column] != Cell::Missing)
    }

    /// Columns side by side: as they are, else without those that can be spared, else folded. Long texts
    /// are folded for the sake of a column where the list hardly grows by it.
    fn beside(&self, columns: Vec<usize>, width: usize, below: Option<usize>) -> Layout {
        let laid = |kept: Vec<usize>| {
            let natural: usize = kept.iter().map(|c| self.natural_width(*c)).sum();
            let widths = (natural > width + GAP).then(|| self.widths(&kept, width));
            Layout { kept, widths, below }
        };
        let whole = laid(self.that_fit(columns.clone(), width, |c| self.folded_width(c)));
        if whole.kept.len() == columns.len() {
            return whole;
        }
        let folded = laid(self.that_fit(columns, width, |c| {
            self.folded_width(c).min((LONG_TEXT + GAP).max(self.least_width(c)))
        }));
        let grows = || 2 * self.height(&folded, width) > 3 * self.height(&whole, width);
        if folded.kept.len() > whole.kept.len() && !grows() { folded } else { whole }
    }

    /// Lines that the rows of a table take.
    fn height(&self, layout: &Layout, width: usize) -> usize {
        let of = |(row, cells): (&Vec<String>, &Vec<Cell>)| {
            let at =
                |place: usize| layout.widths.as_ref().map_or(usize::MAX, |widths| widths[place]);
            let beside = layout.kept.iter().enumerate();
            let high =
                beside.map(|(place, c)| fold::height(&row[*c], at(place))).max().unwrap_or(0);
            let under =
                layout.below.filter(|c| cells[*c] != Cell::Missing).map(|c| row[c].as_str());
            high + under.map_or(0, |text| fold::height(text, width.saturating_sub(BELOW.len())))
        };
        self.body.iter().zip(&self.table.rows).take(fold::LOOKED_AT).map(of).sum()
    }

    /// Leaves out columns that can be spared; then from the right those for which there is no room even
    /// with their words one below the other.
    fn that_fit(
        &self,
        mut kept: Vec<usize>,
        width: usize,
        wanted: impl Fn(usize) -> usize,
    ) -> Vec<usize> {
        let all = 0..self.table.columns.len();
        let natural: Vec<usize> = all.clone().map(wanted).collect();
        let mut left_out: Vec<Vec<usize>> = Vec::new();
        while together(&kept, &natural, width) {
            let goes = kept
                .iter()
                .copied()
                .filter(|c| self.table.columns[*c].dispensable > 0)
                .max_by_key(|c| (self.table.columns[*c].dispensable, *c));
            let Some(goes) = goes else { break };
            let gone;
            (gone, kept) = kept.iter().partition(|c| self.interval(**c) == self.interval(goes));
            left_out.push(gone);
        }
        // A wide column that went may have made room for a narrow one that went before it.
        for gone in left_out.into_iter().rev() {
            let mut more = [kept.as_slice(), &gone].concat();
            more.sort_unstable();
            if !together(&more, &natural, width) {
                kept = more;
            }
        }
        // Of the others the words may stand one below the other.
        if together(&kept, &natural, width) {
            let least: Vec<usize> = all.map(|c| self.least_width(c)).collect();
            while kept.len() > 1 && together(&kept, &least, width) {
                kept.pop();
            }
        }
        kept
    }

    /// What stands for a column and, of an interval, for both of its ends: the lower one.
    fn interval(&self, column: usize) -> usize {
        if self.table.columns[column].upper { column.saturating_sub(1) } else { column }
    }

    /// Widths of columns that do not stand side by side as they are.
    fn widths(&self, kept: &[usize], width: usize) -> Vec<usize> {
        let by_titles: Vec<usize> = kept.iter().map(|c| self.folded_width(*c) - GAP).collect();
        let room = (width + GAP).saturating_sub(GAP * kept.len());
        // Where it is enough to fold titles, cells stand whole.
        if by_titles.iter().sum::<usize>() <= room {
            return by_titles;
        }
        let columns: Vec<fold::Column<'_>> = kept
            .iter()
            .map(|c| {
                let texts = std::iter::once(self.titles[*c].as_str());
                let texts = texts.chain(self.body.iter().map(|row| row[*c].as_str()));
                let least = (self.least_width(*c) - GAP).min(room);
                let natural = self.natural_width(*c) - GAP;
                fold::Column { texts: texts.collect(), least, natural }
            })
            .collect();
        fold::shared(&columns, room)
    }

    /// Width that a column needs at least, with the gap to the next: numbers stand whole, and so do
    /// words.
    fn least_width(&self, column: usize) -> usize {
        let word = |text: &str| {
            let lines = text.split('\n').flat_map(fold::words);
            lines.map(UnicodeWidthStr::width).max().unwrap_or(0)
        };
        let whole = |(row, texts): (&Vec<Cell>, &Vec<String>)| {
            let text = &texts[column];
            if is_numeric(&row[column]) { text.width() } else { word(text).min(fold::LONGEST_WORD) }
        };
        let cells = self.table.rows.iter().zip(self.body).map(whole).max().unwrap_or(0);
        cells.max(word(&self.titles[column]).min(fold::LONGEST_WORD)) + GAP
    }

    /// Width that a column takes without wrapping, with the gap to the next.
    fn natural_width(&self, column: usize) -> usize {
        self.whole_width(UnicodeWidthStr::width, column)
    }

    /// Width that a column takes with its cells whole and its title in a few lines.
    fn folded_width(&self, column: usize) -> usize {
        self.whole_width(title_width, column)
    }

    /// Width of a column whose cells stand whole, and lines of its title take so much.
    fn whole_width(&self, of_title: impl Fn(&str) -> usize, column: usize) -> usize {
        let title = self.titles[column].lines().map(of_title).max().unwrap_or(0);
        self.body.iter().map(|r| r[column].width()).max().unwrap_or(0).max(title) + GAP
    }
}

/// Whether columns of these widths are wider than the screen, the gap after the last one apart.
fn together(kept: &[usize], wide: &[usize], width: usize) -> bool {
    kept.iter().map(|c| wide[*c]).sum::<usize>() > width + GAP
}

/// A title no longer than this stands in two lines at most, a longer one in three.
const LONG_TITLE: usize = 30;

/// The least width at which a title stands in a few lines, its words whole.
fn title_width(title: &str) -> usize {
    let most = if title.width() > LONG_TITLE { 3 } else { 2 };
    let word = title.split_whitespace().map(UnicodeWidthStr::width).max().unwrap_or(0);
    (word..title.width()).find(|width| fold::height(title, *width) <= most).unwrap_or(title.width())
}
