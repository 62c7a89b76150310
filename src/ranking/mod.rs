//! Rows, filters, sort orders and rank intervals: the leaderboard as a pure structure in memory.

pub mod row;

pub use row::Row;
