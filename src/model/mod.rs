//! The vocabulary: serials, components, entry kinds, dates, where a fact came from.
