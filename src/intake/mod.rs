//! The one door for new measurements.
