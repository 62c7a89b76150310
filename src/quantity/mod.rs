//! The words of measurement: a value with its uncertainty, how people write numbers with units, and
//! how this program writes them. Knows nothing of adapters.
//!
//! Documents carry units in their field names (`input_power_w`), so plain `f64` in SI units is
//! the one representation of a quantity in this program; non-finite values are refused at the
//! door ([`crate::bench::decode`]).

pub mod measured;
pub mod words;
pub mod written;

pub use measured::{Measured, combined, rectangular};

/// A smaller amount, in whatever unit a record states it in, is as good as none: no instrument of a
/// bench shows so little, and what is divided by it has no meaning.
pub const NEXT_TO_NOTHING: f64 = 1e-9;

/// A reading that others may be divided by.
pub fn divisor(reading: f64) -> Option<f64> {
    (reading >= NEXT_TO_NOTHING).then_some(reading)
}
