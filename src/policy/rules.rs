//! Rules: filters with a call, a reason in words and a source.
//!
//! A rule either is a filter of its own, or a *value* against a *limit*, from which the filter
//! follows: then a due list can say how far a joint is from it, and when it will get there.

use std::ops::Range;

use serde::Deserialize;
use toml::Spanned;

use crate::filter;
use crate::model::{Call, Provenance, Vocabulary};

/// A set of rules as read from a file.
#[derive(Clone, Debug, PartialEq)]
pub struct RuleSet {
    /// Name of the set.
    pub name: String,
    /// The rules, in the order of the file.
    pub rules: Vec<Rule>,
    /// The text that it was read from.
    pub text: String,
}

#[derive(Clone, Debug, PartialEq)]
pub struct Rule {
    /// Its name; filters may use it as a condition.
    pub name: String,
    /// What it calls for.
    pub call: Call,
    /// Which joints it is for.
    pub scope: Option<String>,
    /// The filter that makes it speak.
    pub filter: String,
    /// Value and limit, where the filter is made of them.
    pub limit: Option<Limit>,
    pub reason: String,
    /// Where the rule comes from.
    pub source: String,
    /// What stands behind its figures.
    pub provenance: Provenance,
    /// How bad it is to pass it by: 1 worst, 3 least.
    pub severity: u8,
    /// Where its filter stands in the text, for messages.
    pub place: Range<usize>,
}

/// A value against a limit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Limit {
    /// The value, in the filter language.
    pub value: String,
    /// The limit, in the filter language.
    pub limit: String,
    /// True when the rule speaks above the limit, false when it speaks below.
    pub above: bool,
    pub when: Option<String>,
    /// What moves the value towards the limit, where that is use alone: then it can be foreseen.
    pub driver: Option<Driver>,
}

impl Rule {
    /// What moves it, in words; nothing that is foreseen for a value that use alone does not move.
    pub fn moved_by(&self) -> Option<&'static str> {
        match &self.limit {
            Some(limit) => limit.driver.map(Driver::words),
            // A filter that will hold though nothing happens.
            None => Some(Driver::Time.words()),
        }
    }
}

/// The use that moves a value of a rule.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Driver {
    Hours,
    Revolutions,
    /// Length drilled while in the string.
    Footage,
    Damage,
    /// Turns above the bend that does no damage.
    OverLimit,
    /// Wear of the tube wall, from successive readings.
    WallWear,
    /// Wear of the pin's tool joint, from successive readings.
    PinWear,
    /// Wear of the box's tool joint, from successive readings.
    BoxWear,
    /// Nothing but the calendar.
    Time,
}

impl Driver {
    /// What people call it.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Hours => "its rotating hours",
            Self::Revolutions => "its turns",
            Self::Footage => "hole drilled with it",
            Self::Damage => "its fatigue damage",
            Self::OverLimit => "its turns above the no-fatigue bend",
            Self::WallWear => "wear of its wall",
            Self::PinWear => "wear of its pin",
            Self::BoxWear => "wear of its box",
            Self::Time => "the calendar",
        }
    }
}

/// What is wrong with a rules file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RuleError {
    /// Line in the file, from 1.
    pub line: usize,
    pub message: String,
    /// Lines that show the place.
    pub block: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FileText {
    name: String,
    #[serde(default, rename = "rule")]
    rules: Vec<RuleText>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RuleText {
    name: Spanned<String>,
    call: Spanned<String>,
    #[serde(rename = "for")]
    scope: Option<Spanned<String>>,
    filter: Option<Spanned<String>>,
    value: Option<Spanned<String>>,
    above: Option<Spanned<String>>,
    below: Option<Spanned<String>>,
    when: Option<Spanned<String>>,
    moved_by: Option<Driver>,
    reason: String,
    source: String,
    provenance: Option<Spanned<String>>,
    severity: Option<Spanned<u8>>,
}

fn line_of(text: &str, at: usize) -> usize {
    text.get(..at).map_or(1, |t| t.matches('\n').count() + 1)
}

impl RuleSet {
    /// A set without a rule.
    pub const fn none() -> Self {
        Self { name: String::new(), rules: Vec::new(), text: String::new() }
    }

    /// Reads a set. All errors that can be found at once.
    pub fn parse(text: &str) -> Result<Self, Vec<RuleError>> {
        let file: FileText = toml::from_str(text).map_err(|e| {
            vec![RuleError {
                line: e.span().map_or(1, |s| line_of(text, s.start)),
                message: e.message().to_owned(),
                block: e.to_string().lines().skip(1).map(str::to_owned).collect(),
            }]
        })?;
        let mut errors = Vec::new();
        let mut rules = Vec::new();
        for rule in &file.rules {
            match read(rule, text) {
                Ok(rule) => rules.push(rule),
                Err(e) => errors.push(e),
            }
        }
        for (i, rule) in rules.iter().enumerate() {
            if rules.iter().take(i).any(|r: &Rule| r.name == rule.name) {
                errors.push(RuleError {
                    line: line_of(text, rule.place.start),
                    message: format!("there are two rules named {}", rule.name),
                    block: Vec::new(),
                });
            }
        }
        if errors.is_empty() {
            Ok(Self { name: file.name, rules, text: text.to_owned() })
        } else {
            Err(errors)
        }
    }

    /// The rules as the filter language takes them.
    pub fn for_filters(&self) -> Vec<filter::Rule> {
        self.rules
            .iter()
            .map(|r| filter::Rule {
                name: r.name.clone(),
                call: r.call,
                scope: r.scope.clone(),
                filter: r.filter.clone(),
            })
            .collect()
    }

    /// Checks every filter of the set.
    pub fn check(&self, context: &filter::Context<'_>) -> Vec<RuleError> {
        let rules = self.for_filters();
        let context = filter::Context { rules: filter::Rules::These(&rules), ..*context };
        let mut errors: Vec<RuleError> = filter::check_rules(&context)
            .into_iter()
            .map(|e| {
                let rule = e.place.rule.as_deref();
                let place = self.rules.iter().find(|r| Some(r.name.as_str()) == rule);
                RuleError {
                    line: place.map_or(1, |r| line_of(&self.text, r.place.start)),
                    message: e.message.clone(),
                    block: e.render(96).lines().skip(1).map(str::to_owned).collect(),
                }
            })
            .collect();
        // A name that is a field's would mean the field wherever a filter uses it; a filter that
        // names no rule means the same under every set.
        for rule in &self.rules {
            let taken = if filter::registry::field(None, &rule.name).is_some() {
                "a field has that name"
            } else if ["true", "false", "yes", "no"]
                .iter()
                .any(|w| rule.name.eq_ignore_ascii_case(w))
            {
                "the filter language means something else by it"
            } else {
                continue;
            };
            errors.push(RuleError {
                line: line_of(&self.text, rule.place.start),
                message: format!("rule {}: {taken}; choose another", rule.name),
                block: Vec::new(),
            });
        }
        errors.sort_by_key(|e| e.line);
        errors
    }
}

fn read(rule: &RuleText, text: &str) -> Result<Rule, RuleError> {
    let fault = |span: Range<usize>, message: String| RuleError {
        line: line_of(text, span.start),
        message,
        block: Vec::new(),
    };
    let at_name = rule.name.span();
    let name = rule.name.get_ref().trim();
    // A rule's name is a condition of the filter language.
    let plain = name.chars().all(|c| c.is_ascii_alphanumeric() || c == '_');
    if !name.starts_with(|c: char| c.is_ascii_alphabetic()) || !plain {
        return Err(fault(
            at_name,
            format!("'{name}' names no rule; use a letter, then letters, digits and underscores"),
        ));
    }
    let call = Call::from_word(rule.call.get_ref())
        .map_err(|e| fault(rule.call.span(), format!("rule {name}: {e}")))?;
    let provenance = match &rule.provenance {
        None => Provenance::CommonPractice,
        Some(p) => Provenance::from_word(p.get_ref())
            .map_err(|e| fault(p.span(), format!("rule {name}: {e}")))?,
    };
    let severity = match &rule.severity {
        None => 2,
        Some(s) if (1..=3).contains(s.get_ref()) => *s.get_ref(),
        Some(s) => {
            return Err(fault(s.span(), format!("rule {name}: severity is 1 (worst), 2 or 3")));
        }
    };
    let limit = match (&rule.value, &rule.above, &rule.below) {
        (Some(v), Some(l), None) | (Some(v), None, Some(l)) => Some(Limit {
            value: v.get_ref().trim().to_owned(),
            limit: l.get_ref().trim().to_owned(),
            above: rule.above.is_some(),
            when: rule.when.as_ref().map(|w| w.get_ref().trim().to_owned()),
            driver: rule.moved_by,
        }),
        (None, None, None) => None,
        _ => {
            return Err(fault(
                at_name,
                format!("rule {name}: a value goes with one limit, above or below"),
            ));
        }
    };
    let (filter, place) = match (&rule.filter, &limit) {
        (Some(f), None) => (f.get_ref().trim().to_owned(), f.span()),
        (None, Some(l)) => {
            let sign = if l.above { ">" } else { "<" };
            let when = l.when.as_ref().map_or_else(String::new, |w| format!(" and ({w})"));
            let span = rule.value.as_ref().map_or(at_name, Spanned::span);
            (format!("{} {sign} {}{when}", l.value, l.limit), span)
        }
        _ => {
            return Err(fault(
                at_name,
                format!("rule {name}: it has either a filter, or a value with above or below"),
            ));
        }
    };
    Ok(Rule {
        name: name.to_owned(),
        call,
        scope: rule.scope.as_ref().map(|s| s.get_ref().trim().to_owned()),
        filter,
        limit,
        reason: rule.reason.trim().to_owned(),
        source: rule.source.trim().to_owned(),
        provenance,
        severity,
        place,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shipped_set_reads() {
        let shipped = crate::condition::Edition::shipped();
        let set = RuleSet::parse(shipped.set(crate::model::SetKind::Rules).unwrap()).unwrap();
        assert!(set.rules.iter().all(|r| !r.reason.is_empty() && !r.source.is_empty()));
    }

    #[test]
    fn errors_say_where() {
        let text = "name = \"x\"\n[[rule]]\nname = \"a\"\ncall = \"inspct\"\nfilter = \"wall < 80 %\"\nreason = \"r\"\nsource = \"s\"\n";
        let errors = RuleSet::parse(text).unwrap_err();
        assert_eq!(errors[0].line, 4);
        assert_eq!(errors[0].message, "rule a: 'inspct' is not a call; did you mean inspection?");
        let text = "name = \"x\"\n[[rule]]\nname = \"a\"\ncall = \"inspection\"\nvalue = \"wall\"\nreason = \"r\"\nsource = \"s\"\n";
        assert!(RuleSet::parse(text).unwrap_err()[0].message.contains("above or below"));
    }
}
