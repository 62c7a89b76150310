//! Logs of invented instruments are read without a hand-written layout, and what cannot be read is
//! said with its line and column.

mod layouts;
mod odd_bytes;
mod reading;
