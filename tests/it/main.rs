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

mod intake;
mod intake_laws;
mod intake_logs;
mod intake_open_data;
mod intake_runs;
mod rooms;
