//! Reads the tree of a statement out of its pieces. The grammar is what `lower` writes and no more:
//! whatever else stands there is refused, never guessed at.

use crate::schema::Value;

use super::super::super::sql::{Part, Sql};
use super::engine::Refusal;
use super::tree::{Collation, Expr, Join, Order, Query, Rows, Sign, Source, Window};

#[derive(Clone, Debug, PartialEq)]
enum Token {
    /// A word of SQL, a name or an alias.
    Word(String),
    Sign(&'static str),
    Value(Value),
}

const SIGNS: [&str; 19] = [
    "<>", "<=", ">=", "!=", "||", "(", ")", ",", ".", "+", "-", "*", "/", "=", "<", ">", "&", ";",
    "%",
];

/// Bytes that stand for "there is none".
const NONE: &str = "x'00'";

fn tokens(sql: &Sql, out: &mut Vec<Token>) -> Result<(), Refusal> {
    for part in sql.parts() {
        match part {
            Part::Raw(raw) => words(raw, out)?,
            Part::Bind(value) => out.push(Token::Value(value.clone())),
            Part::Alias(alias) => out.push(Token::Word(format!("{}{}", alias.0, alias.1))),
            Part::Sql(inner) => tokens(inner, out)?,
        }
    }
    Ok(())
}

fn words(raw: &str, out: &mut Vec<Token>) -> Result<(), Refusal> {
    let mut rest = raw.trim_start();
    while let Some(first) = rest.chars().next() {
        let length = if rest.starts_with(NONE) {
            out.push(Token::Value(Value::Blob(vec![0])));
            NONE.len()
        } else if first == '\'' {
            let end = rest[1..].find('\'').ok_or(Refusal::Unread)?;
            out.push(Token::Value(Value::Text(rest[1..=end].to_owned())));
            end + 2
        } else if first.is_ascii_digit() {
            let digit = |c: char| c.is_ascii_alphanumeric() || c == '.';
            let end = rest.find(|c| !digit(c)).unwrap_or(rest.len());
            out.push(Token::Value(number(&rest[..end])?));
            end
        } else if first.is_ascii_alphabetic() || first == '_' {
            let name = |c: char| c.is_ascii_alphanumeric() || c == '_';
            let end = rest.find(|c| !name(c)).unwrap_or(rest.len());
            out.push(Token::Word(rest[..end].to_owned()));
            end
        } else {
            let sign = SIGNS.into_iter().find(|s| rest.starts_with(s)).ok_or(Refusal::Unread)?;
            out.push(Token::Sign(sign));
            sign.len()
        };
        rest = rest[length..].trim_start();
    }
    Ok(())
}

fn number(text: &str) -> Result<Value, Refusal> {
    if let Ok(n) = text.parse() {
        return Ok(Value::Int(n));
    }
    text.parse().map(Value::Real).map_err(|_| Refusal::Unread)
}

/// The tree of a statement.
pub(super) fn read(sql: &Sql) -> Result<Query, Refusal> {
    let mut all = Vec::new();
    tokens(sql, &mut all)?;
    let mut reader = Reader { tokens: all, at: 0 };
    let query = reader.query()?;
    if reader.at == reader.tokens.len() { Ok(query) } else { Err(Refusal::Unread) }
}

struct Reader {
    tokens: Vec<Token>,
    at: usize,
}

/// Words that no alias is.
const RESERVED: [&str; 24] = [
    "FROM", "WHERE", "JOIN", "LEFT", "CROSS", "ON", "GROUP", "ORDER", "LIMIT", "UNION", "WINDOW",
    "AS", "AND", "OR", "NOT", "IS", "IN", "LIKE", "BETWEEN", "THEN", "ELSE", "WHEN", "END",
    "SELECT",
];

type Windows = Vec<(String, Window)>;

impl Reader {
    fn peek(&self, ahead: usize) -> Option<&Token> {
        self.tokens.get(self.at + ahead)
    }

    fn is(&self, ahead: usize, word: &str) -> bool {
        matches!(self.peek(ahead), Some(Token::Word(w)) if w == word)
    }

    /// Goes past these words, where they stand here.
    fn take(&mut self, words: &[&str]) -> bool {
        let here = words.iter().enumerate().all(|(n, word)| self.is(n, word));
        if here {
            self.at += words.len();
        }
        here
    }

    fn need(&mut self, words: &[&str]) -> Result<(), Refusal> {
        if self.take(words) { Ok(()) } else { Err(Refusal::Unread) }
    }

    fn sign(&mut self, sign: &str) -> bool {
        let here = matches!(self.peek(0), Some(Token::Sign(s)) if *s == sign);
        self.at += usize::from(here);
        here
    }

    fn need_sign(&mut self, sign: &str) -> Result<(), Refusal> {
        if self.sign(sign) { Ok(()) } else { Err(Refusal::Unread) }
    }

    fn name(&mut self) -> Result<String, Refusal> {
        match self.peek(0) {
            Some(Token::Word(word)) if !RESERVED.contains(&word.as_str()) => {
                let word = word.clone();
                self.at += 1;
                Ok(word)
            }
            _ => Err(Refusal::Unread),
        }
    }

    fn whole(&mut self) -> Result<i64, Refusal> {
        let Some(Token::Value(Value::Int(n))) = self.peek(0) else { return Err(Refusal::Unread) };
        let n = *n;
        self.at += 1;
        Ok(n)
    }

    fn query(&mut self) -> Result<Query, Refusal> {
        let mut query = self.select()?;
        while self.take(&["UNION", "ALL"]) {
            query.more.push(self.select()?);
        }
        Ok(query)
    }

    fn select(&mut self) -> Result<Query, Refusal> {
        self.need(&["SELECT"])?;
        let mut query = Query::default();
        // Named windows stand behind what is worked out over them.
        let begin = self.at;
        let windows = self.windows_ahead()?;
        self.at = begin;
        loop {
            let value = self.expr(&windows)?;
            let name = if self.take(&["AS"]) { Some(self.name()?) } else { None };
            query.columns.push((value, name));
            if !self.sign(",") {
                break;
            }
        }
        if self.take(&["FROM"]) {
            self.sources(&mut query.from, &windows)?;
        }
        if self.take(&["WHERE"]) {
            query.cond = Some(self.expr(&windows)?);
        }
        if self.take(&["GROUP", "BY"]) {
            query.group.push(self.expr(&windows)?);
        }
        if self.take(&["WINDOW"]) {
            self.name()?;
            self.need(&["AS"])?;
            self.window()?;
        }
        if self.take(&["ORDER", "BY"]) {
            query.order = self.order()?;
        }
        if self.take(&["LIMIT"]) {
            let many = self.whole()?;
            let left = if self.take(&["OFFSET"]) { self.whole()? } else { 0 };
            query.limit = Some((many, left));
        }
        Ok(query)
    }

    /// The windows that the select which begins here names behind its conditions.
    fn windows_ahead(&mut self) -> Result<Windows, Refusal> {
        let mut depth = 0usize;
        while let Some(token) = self.peek(0) {
            match token {
                Token::Sign("(") => depth += 1,
                Token::Sign(")") if depth == 0 => break,
                Token::Sign(")") => depth -= 1,
                Token::Word(word) if word == "WINDOW" && depth == 0 => {
                    self.at += 1;
                    let name = self.name()?;
                    self.need(&["AS"])?;
                    return Ok(vec![(name, self.window()?)]);
                }
                _ => {}
            }
            self.at += 1;
        }
        Ok(Vec::new())
    }

    fn window(&mut self) -> Result<Window, Refusal> {
        self.need_sign("(")?;
        self.need(&["ORDER", "BY"])?;
        let order = self.order()?;
        let rows = self.take(&["ROWS", "UNBOUNDED", "PRECEDING"]);
        self.need_sign(")")?;
        Ok(Window { order, rows })
    }

    fn order(&mut self) -> Result<Vec<Order>, Refusal> {
        let mut order = Vec::new();
        loop {
            let by = self.expr(&Vec::new())?;
            let down = self.take(&["DESC"]);
            order.push(Order { by, down });
            if !self.sign(",") {
                return Ok(order);
            }
        }
    }

    fn sources(&mut self, from: &mut Vec<Source>, windows: &Windows) -> Result<(), Refusal> {
        let mut left = false;
        loop {
            let rows = if self.sign("(") {
                let query = self.query()?;
                self.need_sign(")")?;
                Rows::Query(Box::new(query))
            } else {
                Rows::Table(self.name()?)
            };
            let alias = match (self.name(), &rows) {
                (Ok(alias), _) => alias,
                (Err(_), Rows::Table(table)) => table.clone(),
                (Err(_), Rows::Query(_)) => String::new(),
            };
            let on = if self.take(&["ON"]) { Some(self.expr(windows)?) } else { None };
            let join = match on {
                on if left => Join::Left(on),
                Some(on) => Join::On(on),
                None => Join::Cross,
            };
            from.push(Source { rows, alias, join });
            left = self.take(&["LEFT", "JOIN"]);
            if !(left || self.take(&["CROSS", "JOIN"]) || self.take(&["JOIN"]) || self.sign(",")) {
                return Ok(());
            }
        }
    }

    fn expr(&mut self, windows: &Windows) -> Result<Expr, Refusal> {
        let mut left = self.and(windows)?;
        while self.take(&["OR"]) {
            left = Expr::pair(Sign::Or, left, self.and(windows)?);
        }
        Ok(left)
    }

    fn and(&mut self, windows: &Windows) -> Result<Expr, Refusal> {
        let mut left = self.not(windows)?;
        while self.take(&["AND"]) {
            left = Expr::pair(Sign::And, left, self.not(windows)?);
        }
        Ok(left)
    }

    fn not(&mut self, windows: &Windows) -> Result<Expr, Refusal> {
        if self.is(0, "NOT") && !self.is(1, "EXISTS") {
            self.at += 1;
            return Ok(Expr::Not(Box::new(self.not(windows)?)));
        }
        self.equal(windows)
    }

    /// What stands with `=`, `<>`, `IS`, `IN`, `LIKE` and `BETWEEN`.
    fn equal(&mut self, windows: &Windows) -> Result<Expr, Refusal> {
        let mut left = self.ordered(windows)?;
        loop {
            let boxed = |e: Expr| Box::new(e);
            left = if self.sign("=") {
                Expr::pair(Sign::Equal, left, self.ordered(windows)?)
            } else if self.sign("<>") || self.sign("!=") {
                Expr::pair(Sign::Unequal, left, self.ordered(windows)?)
            } else if self.take(&["IS", "NOT", "NULL"]) {
                Expr::IsNull(boxed(left), false)
            } else if self.take(&["IS", "NULL"]) {
                Expr::IsNull(boxed(left), true)
            } else if self.take(&["IS", "NOT", "TRUE"]) {
                Expr::IsTrue(boxed(left), false)
            } else if self.take(&["IS", "TRUE"]) {
                Expr::IsTrue(boxed(left), true)
            } else if self.take(&["IS", "NOT"]) {
                Expr::Differs(boxed(left), boxed(self.ordered(windows)?))
            } else if self.take(&["NOT", "IN"]) {
                self.among(left, false, windows)?
            } else if self.take(&["IN"]) {
                self.among(left, true, windows)?
            } else if self.take(&["NOT", "LIKE"]) {
                self.like(left, false, windows)?
            } else if self.take(&["LIKE"]) {
                self.like(left, true, windows)?
            } else if self.take(&["BETWEEN"]) {
                let low = self.ordered(windows)?;
                self.need(&["AND"])?;
                Expr::Between(boxed(left), boxed(low), boxed(self.ordered(windows)?))
            } else {
                return Ok(left);
            };
        }
    }

    fn among(&mut self, left: Expr, is: bool, windows: &Windows) -> Result<Expr, Refusal> {
        self.need_sign("(")?;
        let among = if self.is(0, "SELECT") {
            Expr::AmongRows(Box::new(left), Box::new(self.query()?), is)
        } else {
            Expr::Among(Box::new(left), self.list(windows)?, is)
        };
        self.need_sign(")")?;
        Ok(among)
    }

    fn like(&mut self, left: Expr, is: bool, windows: &Windows) -> Result<Expr, Refusal> {
        let pattern = self.ordered(windows)?;
        self.need(&["ESCAPE"])?;
        match self.primary(windows)? {
            Expr::Value(Value::Text(sign)) if sign == "\\" => {}
            _ => return Err(Refusal::Unread),
        }
        Ok(Expr::Like(Box::new(left), Box::new(pattern), is))
    }

    /// Expressions with commas between them.
    fn list(&mut self, windows: &Windows) -> Result<Vec<Expr>, Refusal> {
        let mut list = vec![self.expr(windows)?];
        while self.sign(",") {
            list.push(self.expr(windows)?);
        }
        Ok(list)
    }

    /// A chain of operands with any of some signs between them.
    fn chain(
        &mut self,
        signs: &[(&str, Sign)],
        operand: fn(&mut Self, &Windows) -> Result<Expr, Refusal>,
        windows: &Windows,
    ) -> Result<Expr, Refusal> {
        let mut left = operand(self, windows)?;
        'more: loop {
            for (text, sign) in signs {
                if self.sign(text) {
                    left = Expr::pair(*sign, left, operand(self, windows)?);
                    continue 'more;
                }
            }
            return Ok(left);
        }
    }

    fn ordered(&mut self, windows: &Windows) -> Result<Expr, Refusal> {
        let signs =
            [("<=", Sign::AtMost), (">=", Sign::AtLeast), ("<", Sign::Less), (">", Sign::More)];
        self.chain(&signs, Self::bits, windows)
    }

    fn bits(&mut self, windows: &Windows) -> Result<Expr, Refusal> {
        self.chain(&[("&", Sign::Bits)], Self::sum, windows)
    }

    fn sum(&mut self, windows: &Windows) -> Result<Expr, Refusal> {
        self.chain(&[("+", Sign::Plus), ("-", Sign::Minus)], Self::product, windows)
    }

    fn product(&mut self, windows: &Windows) -> Result<Expr, Refusal> {
        self.chain(&[("*", Sign::Times), ("/", Sign::Over)], Self::joined, windows)
    }

    fn joined(&mut self, windows: &Windows) -> Result<Expr, Refusal> {
        self.chain(&[("||", Sign::Joined)], Self::collated, windows)
    }

    fn collated(&mut self, windows: &Windows) -> Result<Expr, Refusal> {
        let value = self.primary(windows)?;
        if self.take(&["COLLATE", "NAME"]) {
            return Ok(Expr::Collated(Box::new(value), Collation::Name));
        }
        if self.take(&["COLLATE", "NOCASE"]) {
            return Ok(Expr::Collated(Box::new(value), Collation::NoCase));
        }
        Ok(value)
    }

    fn primary(&mut self, windows: &Windows) -> Result<Expr, Refusal> {
        if self.sign("-") {
            return Ok(Expr::Negative(Box::new(self.primary(windows)?)));
        }
        if self.sign("(") {
            let inner = if self.is(0, "SELECT") {
                Expr::Scalar(Box::new(self.query()?))
            } else {
                let mut list = self.list(windows)?;
                if list.len() == 1 { list.remove(0) } else { Expr::Row(list) }
            };
            self.need_sign(")")?;
            return Ok(inner);
        }
        if let Some(Token::Value(value)) = self.peek(0) {
            let value = value.clone();
            self.at += 1;
            return Ok(Expr::Value(value));
        }
        if self.take(&["NULL"]) {
            return Ok(Expr::Value(Value::Null));
        }
        if self.take(&["NOT", "EXISTS"]) {
            return self.exists(false);
        }
        if self.take(&["EXISTS"]) {
            return self.exists(true);
        }
        if self.take(&["CASE"]) {
            return self.case(windows);
        }
        if self.take(&["CAST"]) {
            self.need_sign("(")?;
            let value = self.expr(windows)?;
            self.need(&["AS", "INTEGER"])?;
            self.need_sign(")")?;
            return Ok(Expr::Whole(Box::new(value)));
        }
        let name = self.name()?;
        if self.sign(".") {
            return Ok(Expr::Column(Some(name), self.name()?));
        }
        if !self.sign("(") {
            return Ok(Expr::Column(None, name));
        }
        self.call(name, windows)
    }

    fn exists(&mut self, is: bool) -> Result<Expr, Refusal> {
        self.need_sign("(")?;
        let query = self.query()?;
        self.need_sign(")")?;
        Ok(Expr::Exists(Box::new(query), is))
    }

    fn case(&mut self, windows: &Windows) -> Result<Expr, Refusal> {
        let mut cases = Vec::new();
        while self.take(&["WHEN"]) {
            let cond = self.expr(windows)?;
            self.need(&["THEN"])?;
            cases.push((cond, self.expr(windows)?));
        }
        let otherwise =
            if self.take(&["ELSE"]) { Some(Box::new(self.expr(windows)?)) } else { None };
        self.need(&["END"])?;
        Ok(Expr::Case(cases, otherwise))
    }

    fn call(&mut self, name: String, windows: &Windows) -> Result<Expr, Refusal> {
        let args = if self.sign("*") || matches!(self.peek(0), Some(Token::Sign(")"))) {
            Vec::new()
        } else {
            self.list(windows)?
        };
        self.need_sign(")")?;
        let mut window = None;
        if self.take(&["OVER"]) {
            window = Some(if matches!(self.peek(0), Some(Token::Sign("("))) {
                self.window()?
            } else {
                let named = self.name()?;
                let found = windows.iter().find(|(name, _)| *name == named);
                found.map(|(_, window)| window.clone()).ok_or(Refusal::Unread)?
            });
        }
        Ok(Expr::Call(name, args, window))
    }
}
