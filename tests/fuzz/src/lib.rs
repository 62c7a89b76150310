//! The rooms that bytes of a log or a photo pass through, without the rest of the program.

#[path = "../../../src/bench/mod.rs"]
pub mod bench;
#[path = "../../../src/log/mod.rs"]
pub mod log;
#[path = "../../../src/photo.rs"]
pub mod photo;
#[path = "../../../src/quantity/mod.rs"]
pub mod quantity;
