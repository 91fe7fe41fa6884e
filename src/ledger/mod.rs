//! Canonical bytes, hash chain, strikes, bundles, checks. No SQL.
