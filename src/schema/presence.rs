//! Summary bits of a joint: what its records hold at all, one bit for each thing that questions ask
//! for often. A look at the joint's own row then spares a look at its records.
//!
//! There is a bit for each kind of record, for each flag that is declared `counted`, and for each
//! word of a vocabulary so declared. A bit is set where a row has the value or may have it, whether or
//! not the record counts for certain; a bit that is not set is a proof that no row has it.

use std::sync::LazyLock;

use super::column::{Column, Kind};
use super::row::Value;
use super::{FindingRow, JointRunRow, Record, Row, RunRow, Table};

/// Most bits that one positive number holds.
const MOST: u32 = 63;

/// A counted column, and the first of its bits.
struct Counted {
    table: Table,
    /// Its place among the columns of the file.
    at: usize,
    column: &'static Column,
    first: u32,
}

impl Counted {
    /// The bits of a value; all of them where it is not known.
    fn bit(&self, value: &Value) -> Option<i64> {
        match (self.column.kind, value) {
            (_, Value::Null) => Some((0..self.bits()).fold(0, |all, n| all | bit(self.first + n))),
            (Some(Kind::Flag), Value::Int(1)) => Some(bit(self.first)),
            (Some(Kind::Word(words)), Value::Text(word)) => {
                Some(bit(self.first + u32::try_from(words.rank(word)?).ok()?))
            }
            _ => None,
        }
    }

    /// How many bits it takes.
    fn bits(&self) -> u32 {
        match self.column.kind {
            Some(Kind::Word(words)) => u32::try_from(words.list().len()).unwrap_or(MOST),
            _ => 1,
        }
    }
}

/// All counted columns, in the order of their bits; those of the kinds of record come first.
static COUNTED: LazyLock<Vec<Counted>> = LazyLock::new(|| {
    let mut next = u32::try_from(Record::ALL.len()).unwrap_or(MOST);
    let mut out = Vec::new();
    for table in Table::ALL {
        let mut at = 0;
        for column in table.spec().columns {
            if column.counted {
                let counted = Counted { table: *table, at, column, first: next };
                next += counted.bits();
                out.push(counted);
            }
            at += column.stored().count();
        }
    }
    out
});

const fn bit(n: u32) -> i64 {
    if n < MOST { 1 << n } else { 0 }
}

/// The bit of a joint that has a record of a kind.
pub fn of_record(record: Record) -> i64 {
    let at = Record::ALL.iter().position(|r| *r == record).unwrap_or_default();
    bit(u32::try_from(at).unwrap_or(MOST))
}

fn counted(table: Table, column: &str) -> Option<&'static Counted> {
    COUNTED.iter().find(|c| c.table == table && c.column.name == column)
}

/// The bit of a joint that has a row with this flag set; `None` where nobody keeps count.
pub fn of_flag(table: Table, column: &str) -> Option<i64> {
    counted(table, column)?.bit(&Value::Int(1))
}

/// The bit of a joint that has a row with this word; `None` where nobody keeps count.
pub fn of_word(table: Table, column: &str, word: &str) -> Option<i64> {
    counted(table, column)?.bit(&Value::Text(word.to_owned()))
}

/// The bits of a row, by its values: of its counted columns, not of its kind.
pub fn of_row<R: Row>(values: &[Value]) -> i64 {
    COUNTED
        .iter()
        .filter(|c| c.table.name() == R::TABLE)
        .filter_map(|c| c.bit(values.get(c.at)?))
        .fold(0, |all, bit| all | bit)
}

/// The bits of a joint for one of its runs: by the row of the run, and by whether it broke a
/// restriction or may have.
pub fn of_run(run: Option<&RunRow>, broke_restriction: Option<bool>) -> i64 {
    let column = JointRunRow::restriction_broken().name();
    let may = broke_restriction != Some(false);
    let broken = if may { of_flag(Table::JointRun, column) } else { None };
    let of_row = run.map_or(0, |run| of_row::<RunRow>(&run.values()));
    of_record(Record::Run) | of_row | broken.unwrap_or_default()
}

/// The bit of a joint with a run that is in conflict.
pub fn of_conflict() -> i64 {
    of_flag(Table::JointRun, JointRunRow::conflicting().name()).unwrap_or_default()
}

/// The bit of a joint with a finding that is open.
pub fn of_open_finding() -> i64 {
    of_flag(Table::Finding, FindingRow::open().name()).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;
    use crate::schema::Words;

    #[test]
    fn no_two_things_share_a_bit() {
        let mut all: Vec<i64> = Record::ALL.into_iter().map(of_record).collect();
        for c in &*COUNTED {
            match c.column.kind {
                Some(Kind::Word(words)) => {
                    let list = words.list().into_iter();
                    all.extend(list.filter_map(|w| of_word(c.table, c.column.name, w)));
                    let closed = matches!(words, Words::Closed(_));
                    assert!(closed, "{} is no vocabulary", c.column.name);
                }
                Some(Kind::Flag) => all.extend(of_flag(c.table, c.column.name)),
                other => panic!("{} cannot be counted: {other:?}", c.column.name),
            }
        }
        let bits: BTreeSet<i64> = all.iter().copied().collect();
        assert_eq!(bits.len(), all.len());
        assert!(bits.iter().all(|b| *b > 0 && b.count_ones() == 1));
        let wanted: u32 = COUNTED.iter().map(Counted::bits).sum();
        assert_eq!(all.len(), Record::ALL.len() + wanted as usize);
        assert_eq!(of_word(Table::Event, "what", "parade"), None);
        assert_eq!(of_flag(Table::Event, "what"), None);
    }
}
