//! Pure folds from entries to what the book knows: joints, runs, exposures, counters.
