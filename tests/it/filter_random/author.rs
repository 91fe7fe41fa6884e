//! Random filters over every field, record and window.

use pipelore::filter::Record;
use pipelore::filter::registry::{Absent, Field, Kind, Over, Stored, fields_of};
use pipelore::units::Measure;

use super::{Dice, literal, words_of};

/// Makes filters.
pub struct Author<'d> {
    pub dice: &'d mut Dice,
    /// Serials of which kin are asked for.
    serials: &'d [&'d str],
    /// Questions to records around the place.
    questions: usize,
}

/// A number as text, and the measure of what it can be compared with.
type Number = (String, Measure);

impl<'d> Author<'d> {
    pub fn new(dice: &'d mut Dice) -> Self {
        Self::of(dice, &["K1-1", "K1-2", "K1-3", "K1-4", "K1-5"])
    }

    /// One that asks for kin of these joints.
    pub fn of(dice: &'d mut Dice, serials: &'d [&'d str]) -> Self {
        Self { dice, serials, questions: 0 }
    }

    pub fn filter(&mut self) -> String {
        let depth = self.dice.int(1, 3);
        self.condition(None, depth)
    }

    fn date(&mut self) -> String {
        match self.dice.below(8) {
            0 => "today - 20 days".to_owned(),
            1 => format!("2026-06-{:02}T06:00", self.dice.int(1, 22)),
            _ => format!("2026-06-{:02}", self.dice.int(1, 22)),
        }
    }

    fn cmp(&mut self) -> &'static str {
        self.dice.pick::<&str>(&["=", "!=", "<", "<=", ">", ">="])
    }

    /// A field of the record in scope or of the joint that is of some kind, by name.
    fn named(
        &mut self,
        record: Option<Record>,
        of: &dyn Fn(&Field) -> bool,
    ) -> Option<(&'static Field, String)> {
        let own: Vec<&'static Field> = fields_of(record).filter(|f| of(f)).collect();
        let joint: Vec<&'static Field> = fields_of(None).filter(|f| of(f)).collect();
        if record.is_none() || (!own.is_empty() && !self.dice.once_in(5)) {
            let f = *self.dice.pick(if own.is_empty() { return None } else { &own });
            return Some((f, f.name.to_owned()));
        }
        if joint.is_empty() {
            return None;
        }
        let f = *self.dice.pick(&joint);
        Some((f, format!("joint.{}", f.name)))
    }

    fn condition(&mut self, record: Option<Record>, depth: i64) -> String {
        if depth > 0 {
            match self.dice.below(6) {
                0 | 1 => {
                    let n = self.dice.int(2, 3);
                    let terms: Vec<String> =
                        (0..n).map(|_| self.condition(record, depth - 1)).collect();
                    return format!("({})", terms.join(" and "));
                }
                2 | 3 => {
                    let n = self.dice.int(2, 3);
                    let terms: Vec<String> =
                        (0..n).map(|_| self.condition(record, depth - 1)).collect();
                    return format!("({})", terms.join(" or "));
                }
                4 => return format!("not ({})", self.condition(record, depth - 1)),
                _ => {}
            }
        }
        let atom = self.atom(record);
        atom.unwrap_or_else(|| self.history(record))
    }

    fn atom(&mut self, record: Option<Record>) -> Option<String> {
        match self.dice.below(20) {
            0..=4 if self.questions < 2 => Some(self.history(record)),
            5..=8 => Some(self.comparison(record)),
            9 => {
                let (a, measure) = self.number(record, 1);
                let (low, more) = (literal(self.dice, measure), literal(self.dice, measure));
                let more = more.trim_start_matches('-');
                let not = if self.dice.once_in(3) { "not " } else { "" };
                // The second limit lies above the first.
                Some(format!("{a} {not}between {low} and ({low} + {more})"))
            }
            10 => {
                let (a, measure) = self.number(record, 0);
                let list: Vec<String> = (0..2).map(|_| literal(self.dice, measure)).collect();
                Some(format!("{a} in ({})", list.join(", ")))
            }
            11..=13 => self.words(record),
            14 => {
                let (_, name) = self.named(record, &|f| matches!(f.kind, Kind::Flag))?;
                Some(match self.dice.below(3) {
                    0 => format!("{name} = false"),
                    1 => format!("not {name}"),
                    _ => name,
                })
            }
            15 => {
                let (f, name) = self.named(record, &|f| matches!(f.kind, Kind::Set(_)))?;
                let Kind::Set(words) = f.kind else { return None };
                let list = words.list();
                let (a, b) = (*self.dice.pick(&list), *self.dice.pick(&list[..6]));
                Some(match self.dice.below(3) {
                    0 => format!("{name} != {a}"),
                    1 => format!("{name} in ({a}, {b})"),
                    _ => format!("{name} = {b}"),
                })
            }
            16 => Some(self.unknown(record)),
            17 => {
                let (f, name) = self.named(record, &|f| matches!(f.kind, Kind::Date))?;
                let date = self.date();
                let op = self.cmp();
                Some(match self.dice.below(5) {
                    0 => format!("{name} between 2026-06-01 and {date}"),
                    1 if f.absent == Absent::Unknown => format!("{name} + 3 days {op} {date}"),
                    2 => format!("today - {name} {op} {} days", self.dice.int(10, 28)),
                    _ => format!("{name} {op} {date}"),
                })
            }
            18 => Some(match self.dice.below(5) {
                0 => "due for inspection".to_owned(),
                1 => "due for downgrade".to_owned(),
                2 => "worn".to_owned(),
                3 => "bent_and_tired".to_owned(),
                _ => {
                    let kin = format!("kin of \"{}\"", self.dice.pick(self.serials));
                    match self.dice.below(8) {
                        0 => format!("{kin} by heat"),
                        1 => format!("{kin} by neighbour"),
                        2 => format!("{kin} by (mill_order, weld_lot)"),
                        3 => format!("{kin} by (tool_joint_heat, gauge, ticket)"),
                        4 => format!("{kin} by (run, heat)"),
                        _ => kin,
                    }
                }
            }),
            19 => self.past(record),
            _ => Some(self.comparison(record)),
        }
    }

    /// A field of the joint on a day, or when the record in scope was.
    fn past(&mut self, record: Option<Record>) -> Option<String> {
        let all: Vec<&'static Field> = fields_of(None).filter(|f| f.past.is_some()).collect();
        let f = *self.dice.pick(&all);
        let then = match record {
            Some(_) if !self.dice.once_in(3) => "at that time".to_owned(),
            _ => format!("as of {}", self.date()),
        };
        let name = format!("joint.{} {then}", f.name);
        if self.dice.once_in(8) {
            return Some(format!("{name} is unknown"));
        }
        match f.kind {
            Kind::Text | Kind::Word(_) if self.dice.once_in(3) => {
                Some(format!("{name} != joint.{}", f.name))
            }
            Kind::Text | Kind::Word(_) => {
                Some(format!("{name} = \"{}\"", self.dice.pick(&words_of(f))))
            }
            Kind::Measure(m) => Some(format!("{name} {} {}", self.cmp(), literal(self.dice, m))),
            Kind::Flag => Some(format!("{name} = true")),
            Kind::Date => Some(format!("{name} {} {}", self.cmp(), self.date())),
            Kind::Set(_) => None,
        }
    }

    fn words(&mut self, record: Option<Record>) -> Option<String> {
        let is_text = |f: &Field| matches!(f.kind, Kind::Text | Kind::Word(_));
        let (f, name) = if self.dice.once_in(4) {
            let kind = *self.dice.pick(&Record::ALL);
            let own: Vec<&'static Field> = fields_of(Some(kind)).filter(|f| is_text(f)).collect();
            let f = *self.dice.pick(&own);
            (f, format!("{} of {}", f.name, self.utmost(kind)))
        } else {
            self.named(record, &is_text)?
        };
        let word = self.dice.pick(&words_of(f)).clone();
        Some(match self.dice.below(7) {
            0 => format!("{name} != \"{word}\""),
            1 => format!("{name} in (\"{word}\", \"{}\")", self.dice.pick(&words_of(f))),
            2 => format!("{name} like \"*{}*\"", word.chars().next().unwrap_or('a')),
            3 if f.absent == Absent::None => format!("{name} = none"),
            4 if matches!(f.kind, Kind::Text) => {
                let (_, other) = self.named(record, &|f| matches!(f.kind, Kind::Text))?;
                format!("{name} = {other}")
            }
            5 if matches!(f.kind, Kind::Text) => format!("{name} not like \"?1*\""),
            _ => format!("{name} = \"{word}\""),
        })
    }

    fn unknown(&mut self, record: Option<Record>) -> String {
        let not = if self.dice.once_in(3) { "not " } else { "" };
        let what = match self.dice.below(4) {
            0 => self.number(record, 1).0,
            1 if self.questions < 2 => format!("({})", self.history(record)),
            _ => match self.named(record, &|f| !matches!(f.kind, Kind::Set(_))) {
                Some((_, name)) => name,
                None => self.number(record, 0).0,
            },
        };
        format!("{what} is {not}unknown")
    }

    fn comparison(&mut self, record: Option<Record>) -> String {
        let (a, measure) = self.number(record, 2);
        let op = self.cmp();
        match self.dice.below(6) {
            0 => {
                // Another number of the same measure, if one turns up.
                for _ in 0..8 {
                    let (b, other) = self.number(record, 1);
                    if other == measure {
                        return format!("{a} {op} {b}");
                    }
                }
                format!("{a} {op} {}", literal(self.dice, measure))
            }
            1 => format!("{} {op} {a}", literal(self.dice, measure)),
            _ => format!("{a} {op} {}", literal(self.dice, measure)),
        }
    }

    fn number(&mut self, record: Option<Record>, depth: i64) -> Number {
        if depth > 0 && self.dice.once_in(4) {
            let (a, measure) = self.number(record, depth - 1);
            let b = literal(self.dice, measure);
            return match self.dice.below(6) {
                0 => (format!("({a} + {b})"), measure),
                1 => (format!("({b} - {a} + {b})"), measure),
                2 => (format!("{a} * 2"), measure),
                3 => (format!("-({a})"), measure),
                4 if measure != Measure::Ratio => (format!("{a} / ({a} + {b})"), Measure::Turns),
                _ => (format!("50 % * {a}"), measure),
            };
        }
        let is_number = |f: &Field| f.measure().is_some();
        match self.dice.below(10) {
            0 | 1 if self.questions < 2 => self.counter(),
            2 => {
                let kind = *self.dice.pick(&Record::ALL);
                (format!("count {}", self.records(kind)), Measure::Count)
            }
            3 | 4 => {
                let Some((kind, f)) = self.number_of_record() else { return self.counter() };
                let fold = *self.dice.pick(&["sum", "max", "min", "mean"]);
                let name = self.above(f);
                (format!("{fold} {name} over {}", self.records(kind)), f.measure().unwrap())
            }
            5 | 6 => {
                let Some((kind, f)) = self.number_of_record() else { return self.counter() };
                let name = self.above(f);
                (format!("{name} of {}", self.utmost(kind)), f.measure().unwrap())
            }
            _ => match self.named(record, &is_number) {
                Some((f, name)) => {
                    let above = self.above(f);
                    let name = above.replacen(f.name, &name, 1);
                    (name, f.measure().unwrap())
                }
                None => self.counter(),
            },
        }
    }

    fn above(&mut self, f: &Field) -> String {
        if f.above.is_some() && self.dice.once_in(2) {
            return format!(
                "{} above 0.{}{} deg/m",
                f.name,
                self.dice.int(0, 5),
                self.dice.int(0, 9)
            );
        }
        f.name.to_owned()
    }

    /// A kind of record and a number that it holds; none where it holds none.
    fn number_of_record(&mut self) -> Option<(Record, &'static Field)> {
        let kind = *self.dice.pick(&Record::ALL);
        let own: Vec<&'static Field> =
            fields_of(Some(kind)).filter(|f| f.measure().is_some()).collect();
        (!own.is_empty()).then(|| (kind, *self.dice.pick(&own)))
    }

    /// A counter of the joint in a window.
    fn counter(&mut self) -> Number {
        let all: Vec<&'static Field> =
            fields_of(None).filter(|f| matches!(f.stored, Stored::Counter { .. })).collect();
        let f = *self.dice.pick(&all);
        let above = self.above(f);
        let mut text = format!("joint.{above}");
        let makeups = matches!(f.stored, Stored::Counter { over: Over::Makeups(_), .. });
        let window = match self.dice.below(5) {
            0 => String::new(),
            1 => {
                let scope = *self.dice.pick(&["wall", "slip_cracks", "pin"]);
                format!("since last inspection (covers = {scope})")
            }
            2 if !makeups => format!("as of {}", self.date()),
            _ => loop {
                let windows = self.windows();
                if !(makeups && windows.starts_with("as of")) {
                    break windows;
                }
            },
        };
        if !window.is_empty() {
            text = format!("{text} {window}");
        }
        (text, f.measure().unwrap())
    }

    fn utmost(&mut self, kind: Record) -> String {
        let which = *self.dice.pick(&["latest", "previous", "first"]);
        format!("{which} {}", self.records(kind))
    }

    /// Records of a kind, with or without a condition and a window.
    fn records(&mut self, kind: Record) -> String {
        let mut text = kind.word().to_owned();
        if self.dice.once_in(2) && self.questions < 3 {
            self.ask(&mut text, kind, 1);
        }
        if self.dice.once_in(2) {
            text = format!("{text} {}", self.windows());
        }
        text
    }

    /// Puts a condition of records behind a text.
    fn ask(&mut self, text: &mut String, kind: Record, deepest: i64) {
        self.questions += 1;
        let depth = self.dice.int(0, deepest);
        *text = format!("{text} ({})", self.condition(Some(kind), depth));
        self.questions -= 1;
    }

    fn windows(&mut self) -> String {
        let mut out = Vec::new();
        if self.dice.once_in(8) {
            let kind = *self.dice.pick(&Record::ALL);
            let which = *self.dice.pick(&["last", "first"]);
            return format!("before {which} {kind}{}", self.anchor_condition(kind));
        }
        for _ in 0..self.dice.int(1, 2) {
            let window = match self.dice.below(9) {
                0 => format!("since {}", self.date()),
                1 => format!("before 2026-06-{:02}", self.dice.int(12, 24)),
                2 => format!("after 2026-06-{:02}", self.dice.int(1, 11)),
                3 => format!(
                    "from 2026-06-0{} to 2026-06-1{}",
                    self.dice.int(1, 9),
                    self.dice.int(2, 9)
                ),
                4 => format!("in last {} days", self.dice.int(20, 28)),
                5 => format!("as of 2026-06-{:02}", self.dice.int(12, 24)),
                _ => {
                    let kind = *self.dice.pick(&Record::ALL);
                    let which = *self.dice.pick(&["last", "last", "first"]);
                    format!("since {which} {kind}{}", self.anchor_condition(kind))
                }
            };
            out.push(window);
        }
        out.join(" ")
    }

    /// A condition behind an anchor, now and then.
    fn anchor_condition(&mut self, kind: Record) -> String {
        if !self.dice.once_in(2) || self.questions >= 2 {
            return String::new();
        }
        self.questions += 2;
        let condition = self.own_condition(kind);
        self.questions -= 2;
        condition.map_or_else(String::new, |condition| format!(" ({condition})"))
    }

    /// A condition of a record's own fields only, as anchors want.
    fn own_condition(&mut self, kind: Record) -> Option<String> {
        if kind == Record::Inspection && self.dice.once_in(2) {
            return Some(format!("covers = {}", self.dice.pick(&["wall", "visual", "body_od"])));
        }
        let own: Vec<&'static Field> = fields_of(Some(kind)).collect();
        let f = *self.dice.pick(&own);
        Some(match f.kind {
            Kind::Measure(m) => format!("{} {} {}", f.name, self.cmp(), literal(self.dice, m)),
            Kind::Flag => f.name.to_owned(),
            Kind::Text | Kind::Word(_) => {
                format!("{} = \"{}\"", f.name, self.dice.pick(&words_of(f)))
            }
            Kind::Date => format!("{} > {}", f.name, self.date()),
            Kind::Set(_) => return None,
        })
    }

    fn history(&mut self, _record: Option<Record>) -> String {
        let kind = if self.dice.once_in(2) { Record::Run } else { *self.dice.pick(&Record::ALL) };
        if self.questions >= 3 {
            return format!("any {kind}");
        }
        let quant = *self.dice.pick(&["any", "no", "every", "latest", "previous", "first"]);
        let in_a_row = matches!(quant, "any" | "no") && self.dice.once_in(4);
        let mut text = format!("{quant} {kind}");
        if in_a_row {
            text = format!("{quant} {} {kind} in a row", self.dice.int(2, 3));
        }
        if !matches!(quant, "any" | "no") || in_a_row || !self.dice.once_in(4) {
            self.ask(&mut text, kind, 2);
        }
        if self.dice.once_in(2) {
            text = format!("{text} {}", self.windows());
        }
        text
    }
}
