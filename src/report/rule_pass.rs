//! What every rule says of every joint in service.

use crate::filter::compile;
use crate::policy::{Rule, RuleSet};
use crate::report::ReportError;

use super::pass::ReaderPool;
use super::question::{self, Present, in_context};

/// Joints that are in service: a rule has nothing to say of others.
pub(super) const IN_SERVICE: &str = "status is unknown or status not in (retired, lost)";

/// What a rule says.
#[derive(Clone, Debug, Default)]
pub(super) struct Said {
    /// Joints for which it speaks.
    pub due: Vec<i64>,
    /// Joints for which nobody can tell.
    pub open: Vec<i64>,
    /// Joints that it is for and does not speak of yet, where it moves with use or time.
    pub coming: Vec<i64>,
}

/// What the rules say of all joints in service, or of those among them for which a filter holds; what is coming only where `ahead` asks for it.
pub(super) fn all_rules(
    readers: &mut ReaderPool<'_>,
    rules: &RuleSet,
    wanted: &[&Rule],
    among: Option<&str>,
    ahead: bool,
    present: &Present,
) -> Result<Vec<Said>, ReportError> {
    // First what each rule says, then what is coming.
    let mut texts: Vec<(usize, String)> =
        wanted.iter().enumerate().map(|(n, rule)| (n, rule.name.clone())).collect();
    if ahead {
        texts.extend(wanted.iter().enumerate().filter_map(|(n, r)| Some((n, coming(r)?))));
    }
    let (in_service, filters) = in_context(readers.book(), rules, present, |context| {
        let read = |text: &str| compile(text, context).map_err(question::wrong);
        let filters: Result<Vec<_>, _> = texts.iter().map(|(_, text)| read(text)).collect();
        let asked = among
            .map_or_else(|| IN_SERVICE.to_owned(), |among| format!("({among}) and ({IN_SERVICE})"));
        Ok::<_, ReportError>((read(&asked)?, filters?))
    })?;
    let verdicts = readers.verdicts(&in_service, &filters, present)?;
    let mut said = vec![Said::default(); wanted.len()];
    for (at, ((rule, _), verdicts)) in texts.iter().zip(verdicts).enumerate() {
        if at < wanted.len() {
            said[*rule].due = verdicts.holds;
            said[*rule].open = verdicts.open;
        } else {
            said[*rule].coming = verdicts.holds;
        }
    }
    Ok(said)
}

/// The filter of joints that a rule does not speak of yet, where it moves with use or time.
fn coming(rule: &Rule) -> Option<String> {
    let limit = rule.limit.as_ref().filter(|l| l.driver.is_some())?;
    let mut parts = vec![format!("not {}", rule.name)];
    parts.extend(rule.scope.as_ref().map(|s| format!("({s})")));
    parts.extend(limit.when.as_ref().map(|w| format!("({w})")));
    Some(parts.join(" and "))
}
