//! Instrument logs: bytes of a text file -> its layout -> rows -> traces of quantities over time.
//!
//! [`detect()`] guesses the layout from the first bytes; [`read()`] follows a layout through the
//! whole file. A log is read as a stream, whatever its size, compressed by gzip or not. This room
//! knows nothing of what a figure means: that is for [`crate::evaluate`].

pub mod detect;
pub mod read;
pub mod trace;

mod clock;
mod heading;
mod number;
mod text;

pub use detect::{DetectError, Detected, HEAD, SeenColumn, detect, look};
pub use read::{BadRow, BadRows, ReadError, Reading, Samples, Section, read, samples};
pub use trace::Trace;
