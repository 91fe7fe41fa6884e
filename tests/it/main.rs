//! One integration binary; one module per capability.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::print_stderr,
    missing_docs,
    reason = "a test fails loudly and its helpers may too"
)]

mod condition;
mod condition_findings;
mod condition_laws;
mod condition_records;
mod condition_repairs;
mod rooms;
