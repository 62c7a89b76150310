//! Pure: record and standards in, evaluation document out. No SQL, no HTTP, no clock.

pub mod evaluation;
