//! What rows are wanted, as SQL.

use crate::schema::query::{Test, collation};
use crate::schema::{Row, Rows, Value};

/// The clauses after the name of the table, and the values of their parameters.
pub(super) fn clauses<R: Row>(wanted: &Rows<R>) -> (String, Vec<Value>) {
    let mut values = Vec::new();
    let tests: Vec<String> = wanted.tests().iter().map(|t| test(t, &mut values)).collect();
    let order: Vec<String> = wanted.order().iter().map(|column| format!("\"{column}\"")).collect();
    let filter =
        if tests.is_empty() { String::new() } else { format!("WHERE {} ", tests.join(" AND ")) };
    (format!("{filter}ORDER BY {}", order.join(", ")), values)
}

fn test(test: &Test, values: &mut Vec<Value>) -> String {
    let mut bind = |value: &Value| {
        values.push(value.clone());
        format!("?{}", values.len())
    };
    match test {
        Test::Is(column, value) => format!("\"{column}\" = {}", bind(value)),
        Test::Named(column, text) => {
            format!(
                "\"{column}\" = {} COLLATE {}",
                bind(&Value::Text(text.clone())),
                collation(text)
            )
        }
        Test::OneOf(column, list) => {
            let marks: Vec<String> = list.iter().map(bind).collect();
            format!("\"{column}\" IN ({})", marks.join(", "))
        }
        Test::Begins(column, text) => {
            let mark = bind(&Value::Text(text.clone()));
            format!("substr(\"{column}\", 1, length({mark})) = {mark}")
        }
        Test::Above(column, value) => format!("\"{column}\" > {}", bind(value)),
        Test::AtLeast(column, value) => format!("\"{column}\" >= {}", bind(value)),
        Test::AtMost(column, value) => format!("\"{column}\" <= {}", bind(value)),
        Test::Known(column) => format!("\"{column}\" IS NOT NULL"),
        Test::Any(tests) => {
            let tests: Vec<String> = tests.iter().map(|t| self::test(t, values)).collect();
            format!("({})", tests.join(" OR "))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::schema::{FindingRow, JointRow, JointRunRow};

    #[test]
    fn values_are_parameters_and_the_key_gives_the_order() {
        let (sql, values) = clauses(&Rows::of(FindingRow::joint(), 7).is(FindingRow::open(), true));
        assert_eq!(
            sql,
            "WHERE \"joint\" = ?1 AND \"open\" = ?2 \
             ORDER BY \"joint\", \"date\", \"turn\", \"n\""
        );
        assert_eq!(values, [Value::Int(7), Value::Int(1)]);
        let heats = ["A", "B"];
        let wanted = Rows::all()
            .any([Rows::of(JointRow::heat(), "A"), Rows::all().one_of(JointRow::pin_heat(), heats)])
            .known(JointRow::inspected())
            .by(JointRow::serial())
            .by(JointRow::joint());
        let (sql, values) = clauses(&wanted);
        assert_eq!(
            sql,
            "WHERE (\"heat\" = ?1 OR \"pin_heat\" IN (?2, ?3)) AND \"inspected\" IS NOT NULL \
             ORDER BY \"serial\", \"joint\""
        );
        assert_eq!(values.len(), 3);
        assert!(clauses(&Rows::<JointRunRow>::all()).0.starts_with("ORDER BY \"joint\""));
    }
}
