//! Pure functions of drill-stem mechanics: tube, connection, path, loads, bending, fatigue, exposure. SI inside.

pub mod bending;
pub mod connection;
pub mod constants;
pub mod exposure;
pub mod fatigue;
pub mod loads;
pub mod path;
pub mod string;
pub mod tube;
