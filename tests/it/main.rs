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

mod check_values;
mod determinism;
mod exposure_laws;
mod exposure_run;
mod reference_bending;
mod reference_exposure;
mod reference_fatigue;
mod reference_loads;
mod reference_path;
mod rooms;
