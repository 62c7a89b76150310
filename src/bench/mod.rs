//! What was seen on the bench: the record, its schema as data, and the one door in from JSON.

pub mod record;
