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

mod bundles;
mod check_values;
mod exposure_run;
mod histories;
mod laws_connection;
mod laws_tube;
mod reference_bending;
mod reference_connection;
mod reference_exposure;
mod reference_fatigue;
mod reference_loads;
mod reference_path;
mod reference_support;
mod reference_tube;
mod rooms;
mod store_book;
mod world;
