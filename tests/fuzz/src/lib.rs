//! The rooms that strangers' bytes pass through, without the rest of the program. The tables of
//! limits are looked for below this folder, hence the link in `standards/`.

// The rooms are used as far as the targets go.
#![allow(dead_code)]

#[path = "../../../src/bench/mod.rs"]
pub mod bench;
#[path = "../../../src/evaluate/mod.rs"]
pub mod evaluate;
#[path = "../../../src/log/mod.rs"]
pub mod log;
#[path = "../../../src/photo.rs"]
pub mod photo;
#[path = "../../../src/quantity/mod.rs"]
pub mod quantity;
#[path = "../../../src/standards/mod.rs"]
pub mod standards;
