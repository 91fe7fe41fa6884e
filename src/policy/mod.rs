//! Rules, due lists, forecast.
//!
//! Owns what a policy is. Every rule is a filter; this room has no SQL of its own.

mod rules;

pub use rules::{Limit, Rule, RuleError, RuleSet};
