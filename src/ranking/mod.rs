//! Rows, filters, sort orders and rank intervals: the leaderboard as a pure structure in memory.

pub mod intervals;
pub mod row;
pub mod standings;
pub mod view;

pub use intervals::RankInterval;
pub use row::Row;
pub use standings::{Page, Ranks, Standings};
pub use view::{Filter, SortKey, VerdictFilter, View};
