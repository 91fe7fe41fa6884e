//! What is worked out of things one by one, or of all of them together, and kept.

use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};

use crate::store::error::Result;

/// What is worked out of one thing, and kept: a few by themselves, then all together.
#[derive(Debug)]
pub(super) struct Memo<T> {
    known: Mutex<Known<T>>,
}

#[derive(Debug)]
struct Known<T> {
    values: HashMap<i64, T>,
    /// How many were worked out by themselves.
    single: usize,
}

/// So many things are worked out by themselves; who asks for more is given all.
const SINGLE: usize = 3;

impl<T: Clone + Send> Memo<T> {
    pub(super) fn new() -> Self {
        Self { known: Mutex::new(Known { values: HashMap::new(), single: 0 }) }
    }

    /// The value of a key: worked out by `one`, or with all the others by `all`.
    pub(super) fn get(
        &self,
        key: i64,
        one: impl FnOnce() -> Result<T>,
        all: impl FnOnce() -> Result<Vec<(i64, T)>>,
    ) -> Result<T> {
        let mut known = self.known.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(value) = known.values.get(&key) {
            return Ok(value.clone());
        }
        if known.single == SINGLE {
            known.values = all()?.into_iter().collect();
            known.single += 1;
            if let Some(value) = known.values.get(&key) {
                return Ok(value.clone());
            }
        }
        let value = one()?;
        known.single += usize::from(known.single < SINGLE);
        known.values.insert(key, value.clone());
        Ok(value)
    }
}
