//! Statements for engines that read a publication. What is written for SQLite is read back as a tree
//! and written in the words of another engine: one place says what a filter means, and here stands
//! only what engines say otherwise. What an engine cannot say is refused, never put in other words.

mod duckdb;
mod engine;
mod read;
mod scope;
mod spark;
mod tree;
mod write;

use crate::schema::Table;

use super::super::compile::Compiled;
use super::super::error::FilterError;
use super::super::sql::sql;
use super::super::typed::{Node, Pred};
use super::super::walk::visit_nodes;
pub use engine::{Dialect, Refusal, Source};
use engine::{SITE, of_publication};
use scope::Scope as Names;
use tree::{Expr, Query};
use write::{Text, Used, Writer};

impl Writer {
    fn aggregate(&self, name: &str, args: &[Expr], scope: &Names) -> Result<Text, Refusal> {
        match self.dialect {
            Dialect::DuckDb => self.folded(name, args, scope),
            Dialect::Spark => self.folded_list(name, args),
        }
    }

    fn windowed(
        &self,
        name: &str,
        args: &[Expr],
        window: &tree::Window,
        scope: &Names,
    ) -> Result<Text, Refusal> {
        match self.dialect {
            Dialect::DuckDb => self.over(name, args, window, scope),
            // Stands in lists of columns only.
            Dialect::Spark => Err(Refusal::Unread),
        }
    }

    fn scalar(&self, query: &Query, scope: &Names) -> Result<Text, Refusal> {
        match self.dialect {
            Dialect::DuckDb => self.subquery(query, scope),
            Dialect::Spark => self.scalar_of_list(query, scope),
        }
    }

    fn exists(&self, query: &Query, scope: &Names) -> Result<String, Refusal> {
        match self.dialect {
            Dialect::DuckDb => Ok(format!("EXISTS ({})", self.query(query, scope)?.0)),
            Dialect::Spark => self.exists_in_list(query, scope),
        }
    }
}

impl Compiled {
    /// The statement of an answer on a publication: of each joint for which the filter holds, or for
    /// which nobody can tell, the site whose book tells it, the entry that introduced it, its serial,
    /// and whether it holds for certain.
    ///
    /// # Errors
    /// When the engine has no words for a part of the filter, which is named.
    pub fn statement(&self, dialect: Dialect, from: &Source) -> Result<String, Vec<FilterError>> {
        let mut kin = None;
        visit_nodes(self.tree(), &mut |node| {
            kin = kin.or_else(|| matches!(node.pred, Pred::Kin(_)).then_some(node));
        });
        let written = match kin {
            Some(_) => Err(Refusal::Kin),
            None => self.statement_of(self.tree(), dialect, from),
        };
        written.map_err(|refusal| {
            let node = kin.unwrap_or_else(|| self.refused(self.tree(), dialect, from));
            vec![refusal.at(node.text.at(node.span), dialect)]
        })
    }

    fn statement_of(
        &self,
        node: &Node,
        dialect: Dialect,
        from: &Source,
    ) -> Result<String, Refusal> {
        let (lower, scope) = self.lower();
        let truth = lower.truth(node, &scope);
        let statement = sql![
            "SELECT j.site, j.introduced_by AS joint, j.serial, ((",
            truth.yes.sql(),
            ") IS TRUE) AS decided FROM joint j WHERE ",
            truth.no.fails().sql(),
            " ORDER BY j.by_name, j.site",
        ];
        let tree = read::read(&statement)?;
        let writer = Writer::new(dialect);
        let (text, _) = writer.query(&tree, &Names::default())?;
        let used = writer.used.into_inner();
        Ok(format!("WITH {} {text}", head(dialect, from, &used)?))
    }

    /// The smallest part of a filter that has no statement.
    fn refused<'n>(&self, node: &'n Node, dialect: Dialect, from: &Source) -> &'n Node {
        let parts: Vec<&Node> = match &node.pred {
            Pred::All(terms) | Pred::Any(terms) => terms.iter().collect(),
            Pred::Not(inner) => vec![inner],
            _ => Vec::new(),
        };
        let part = parts.into_iter().find(|p| self.statement_of(p, dialect, from).is_err());
        part.map_or(node, |part| self.refused(part, dialect, from))
    }
}

/// What stands before the statement: where each table is found. Of a joint that several books know,
/// the rows of the book that knows most of it are read, or of each where none does.
fn head(dialect: Dialect, from: &Source, used: &Used) -> Result<String, Refusal> {
    let known = place(dialect, from, SUPERSEDED, false)?;
    let best = format!(
        "WHERE NOT EXISTS (SELECT 1 FROM {known} s WHERE s.{SITE} = t.{SITE} AND s.joint = t.joint)"
    );
    let mut tables = Vec::new();
    let (mut lists, mut joined) = (vec!["t.*".to_owned()], String::new());
    for (table, columns) in used {
        let rows = place(dialect, from, table.name(), true)?;
        let name = of_publication(*table);
        match dialect {
            Dialect::DuckDb => {
                let best = if *table == Table::Joint { best.as_str() } else { "" };
                tables
                    .push(format!("{name} AS NOT MATERIALIZED (SELECT t.* FROM {rows} t {best})"));
            }
            Dialect::Spark if matches!(table, Table::Joint | Table::Run) => {}
            Dialect::Spark => {
                let mut fields: Vec<String> =
                    columns.iter().map(|c| format!("'{c}', t.{}", dialect.name(c))).collect();
                let mut run = String::new();
                if let (Table::JointRun, Some(columns)) = (table, used.get(&Table::Run)) {
                    let own: Vec<String> =
                        columns.iter().map(|c| format!("'{c}', u.{}", dialect.name(c))).collect();
                    if !own.is_empty() {
                        fields.push(format!("'{}', named_struct({})", spark::RUN, own.join(", ")));
                        run = format!(
                            " JOIN {} u ON u.{SITE} = t.{SITE} AND u.run = t.run",
                            place(dialect, from, Table::Run.name(), true)?
                        );
                    }
                }
                if fields.is_empty() {
                    fields.push("'one', 1L".to_owned());
                }
                tables.push(format!(
                    "{name} AS (SELECT t.{SITE}, t.joint, collect_list(named_struct({})) AS list FROM \
                     {rows} t{run} GROUP BY t.{SITE}, t.joint)",
                    fields.join(", ")
                ));
                lists.push(format!("coalesce({name}.list, array()) AS {}", spark::list_of(*table)));
                joined = format!(
                    "{joined} LEFT JOIN {name} ON {name}.{SITE} = t.{SITE} AND {name}.joint = t.joint"
                );
            }
        }
    }
    if dialect == Dialect::Spark {
        let rows = place(dialect, from, Table::Joint.name(), true)?;
        tables.push(format!(
            "{} AS (SELECT {} FROM {rows} t{joined} {best})",
            of_publication(Table::Joint),
            lists.join(", ")
        ));
    }
    Ok(tables.join(", "))
}

/// The table of a state that tells of which joints another book knows more.
const SUPERSEDED: &str = "superseded";

/// Where a table of the publication is found.
fn place(dialect: Dialect, from: &Source, table: &str, by_site: bool) -> Result<String, Refusal> {
    Ok(match (from, dialect) {
        (Source::Prefix(prefix), _) => match prefix.rsplit_once('.') {
            Some((within, begin)) => {
                format!("{within}.{}", dialect.name(&format!("{begin}{table}")))
            }
            None => dialect.name(&format!("{prefix}{table}")),
        },
        (Source::Folder(folder), Dialect::DuckDb) => {
            let sites = if by_site { "*/" } else { "" };
            let files = dialect.quoted(&format!("{folder}/{table}/{sites}*.parquet"))?;
            let by = format!(", hive_partitioning = true, hive_types = {{'{SITE}': 'VARCHAR'}}");
            format!("read_parquet({files}{})", if by_site { &by } else { "" })
        }
        (Source::Folder(folder), Dialect::Spark) => {
            format!("parquet.`{}/{table}`", folder.replace('`', "``"))
        }
    })
}
