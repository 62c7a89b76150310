//! Instrument logs: bytes of a text file -> its layout -> rows -> traces of quantities over time.
//!
//! A log is read as a stream, whatever its size. This room knows nothing of what a figure means:
//! that is for [`crate::evaluate`].

pub mod trace;

pub use trace::Trace;
