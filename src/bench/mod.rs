//! What was seen on the bench: the record, its schema as data, and the one door in from JSON.

pub mod decode;
pub mod likeness;
pub mod problem;
pub mod record;
pub mod schema;
pub mod usb_pd;

pub use problem::Problem;
