//! The one door for new measurements.

pub mod form;
