//! Many filters of joints asked in one pass: one look at each joint's rows says which of them hold,
//! and which nobody can decide.

use crate::schema::Value;

use super::super::compile::{Compiled, MAX_SIZE};
use super::super::eval::Verdict;

use super::super::sql::{Part, Sql, sql};
use super::{Lower, Scope};

/// Filters in one column of the answer: a bit each for those that hold, and for those that are open.
const IN_A_COLUMN: usize = 31;

/// One statement for some of the filters.
#[derive(Clone, Debug)]
pub struct Panel {
    /// The statement. Its last two parameters are the first and the last joint that it is asked of.
    pub sql: String,
    /// Values of all parameters but these two.
    pub params: Vec<Value>,
    /// Reference of its first filter among all.
    first: usize,
    filters: usize,
}

/// Asks filters of the joints for which another certainly holds. A statement takes as many filters
/// as fit in it.
pub fn panels(among: &Compiled, filters: &[Compiled]) -> Vec<Panel> {
    let mut out = Vec::new();
    let mut first = 0;
    while first < filters.len() {
        let panel = Panel::new(among, filters, first);
        first += panel.filters;
        out.push(panel);
    }
    out
}

impl Panel {
    fn new(among: &Compiled, filters: &[Compiled], first: usize) -> Self {
        let lower = Lower::in_one_pass(among.now());
        let scope = Scope::default();
        let mut wanted = lower.truth(among.tree(), &scope).yes;
        let (mut columns, mut terms): (Vec<Sql>, Vec<Sql>) = (Vec::new(), Vec::new());
        let (mut size, mut taken) = (0, 0);
        for filter in &filters[first..] {
            let truth = lower.truth(filter.tree(), &scope);
            let (holds, open) = (1i64 << terms.len(), 1i64 << (terms.len() + IN_A_COLUMN));
            let rest = sql![" WHEN ", truth.yes.sql(), " THEN ", holds, " ELSE ", open, " END"];
            // Of most joints it is known that a filter does not hold: that is asked first. Where it
            // is alone, these need no row.
            let term = if filters.len() == 1 {
                wanted = wanted.and(truth.no.fails());
                sql!["CASE", rest]
            } else {
                sql!["CASE WHEN ", truth.no.sql(), " THEN 0", rest]
            };
            size += term.size();
            if taken > 0 && size > MAX_SIZE {
                break;
            }
            taken += 1;
            terms.push(term);
            if terms.len() == IN_A_COLUMN {
                columns.push(Sql::joined(&terms, " + "));
                terms.clear();
            }
        }
        if !terms.is_empty() {
            columns.push(Sql::joined(&terms, " + "));
        }
        let output = std::iter::once(Part::from("j.joint")).chain(columns.iter().map(Part::from));
        let statement = sql![
            "SELECT ",
            Sql::list(output),
            " FROM ",
            lower.joint_from(),
            " WHERE ",
            wanted.sql(),
            " AND "
        ];
        let (mut sql, params) = statement.render();
        let (low, high) = (params.len() + 1, params.len() + 2);
        sql.push_str(&format!("j.joint BETWEEN ?{low} AND ?{high}"));
        Self { sql, params, first, filters: taken }
    }

    /// Reads the columns after the joint: each filter that does not fail, by its place among all,
    /// and whether it holds or is open.
    pub fn read(&self, columns: &[i64], mut see: impl FnMut(usize, Verdict)) {
        for (n, bits) in columns.iter().enumerate() {
            let mut left = *bits;
            while left != 0 {
                let bit = left.trailing_zeros() as usize;
                left &= left - 1;
                let (at, verdict) = if bit < IN_A_COLUMN {
                    (bit, Verdict::True)
                } else {
                    (bit - IN_A_COLUMN, Verdict::Unknown)
                };
                see(self.first + n * IN_A_COLUMN + at, verdict);
            }
        }
    }
}
