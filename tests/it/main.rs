//! One integration binary; one module per capability.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::print_stderr,
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_sign_loss,
    clippy::float_cmp,
    missing_docs,
    unreachable_pub,
    reason = "a test fails loudly and its helpers may too"
)]

mod amend;
mod answers;
mod bending_alike;
mod bundles;
mod chance;
mod check_values;
mod circles;
mod cli;
mod cli_book;
mod cli_demo;
mod cli_language;
mod clock;
mod condition;
mod condition_findings;
mod condition_laws;
mod condition_records;
mod condition_repairs;
mod condition_rows;
mod contradicts;
mod days_work;
mod default_rules;
mod derived_anew;
mod determinism;
mod documents;
mod dossier;
mod editions;
mod effects;
mod entries;
mod exposure_awkward;
mod exposure_compare;
mod exposure_files;
mod exposure_full;
mod exposure_laws;
mod exposure_plain;
mod exposure_random;
mod exposure_run;
mod exposure_wall;
mod faults;
mod fields_page;
mod filter_agree;
mod filter_book;
mod filter_check;
mod filter_explain;
mod filter_joints;
mod filter_parse;
mod filter_random;
mod filter_sharp;
mod filter_sql;
mod fitness;
mod fitness_ahead;
mod fitness_chance;
mod fitness_doors;
mod fitness_rack;
mod fleet_shapes;
mod folded;
mod forecast;
mod fuzz_twins;
mod habits;
mod histories;
mod identity;
mod intake;
mod intake_laws;
mod intake_logs;
mod intake_open_data;
mod intake_runs;
mod joint_rows;
mod lake;
mod laws_connection;
mod laws_loads;
mod laws_tube;
mod layouts;
mod library;
mod loading;
mod looking_back;
mod machine_tables;
mod messy;
mod moves;
mod not_known;
mod not_looked_at;
mod open_data;
mod order;
mod packaging;
mod places;
mod plan;
mod plan_next;
mod public_files;
mod publication;
mod questions;
mod rack;
mod rack_count;
mod ranges;
mod rate;
mod readme;
mod reference_bending;
mod reference_connection;
mod reference_exposure;
mod reference_fatigue;
mod reference_loads;
mod reference_path;
mod reference_support;
mod reference_tube;
mod reference_wear;
mod rooms;
mod row_laws;
mod schemas;
mod screens;
mod silent;
mod spellings;
mod statement;
mod store_book;
mod strikes;
mod survey;
mod that_time;
mod torque_cycles;
mod trust;
mod used;
mod ways_in;
mod windows;
mod witness;
mod work_list;
mod world;
mod wrong_spellings;
mod yard;
