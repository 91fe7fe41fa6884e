//! Rules, due lists, forecast, the order of a string.
//!
//! Owns what a policy is. Every rule is a filter; this room has no SQL of its own.

mod exchanges;
pub mod forecast;
mod outlook;
mod placing;
pub mod price;
mod rules;
pub mod trend;
pub mod wear;

pub use exchanges::{Exchange, exchanges};
pub use outlook::{BIN_DAYS, BINS, Outlook, Use, days_until};
pub use placing::Costs;
pub use rules::{Driver, Limit, Rule, RuleError, RuleSet};
