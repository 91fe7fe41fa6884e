//! What a habit is.

use super::super::error::{Advice, Fix, Span};

/// A habit at a place, and the change that makes it right; of several changes one is meant.
#[derive(Clone, Debug)]
pub(super) struct Habit {
    /// Where the caret stands.
    pub at: Span,
    pub message: String,
    pub fixes: Vec<Fix>,
    pub hint: Option<String>,
}

impl Habit {
    /// What stands there is said otherwise; the change is the advice.
    pub(super) fn instead(at: Span, texts: &[&str], said: &str) -> Self {
        let Advice { hint, fixes } = Advice::write(at, texts.iter().copied());
        Self { at, message: format!("{} does not fit here", said.trim()), fixes, hint }
    }

    /// The same habit in other words.
    pub(super) fn because(mut self, message: impl Into<String>) -> Self {
        self.message = message.into();
        self
    }

    /// The same habit with other advice.
    pub(super) fn saying(mut self, hint: impl Into<String>) -> Self {
        self.hint = Some(hint.into());
        self
    }

    /// The same habit with its caret elsewhere.
    pub(super) fn pointing(mut self, at: Span) -> Self {
        self.at = at;
        self
    }
}
