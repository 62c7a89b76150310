//! Rows, filters, sort orders and rank intervals: the leaderboard as a pure structure in memory.

pub mod cost_of_use;
pub mod figure;
pub mod intervals;
pub mod pareto;
pub mod row;
pub mod standings;
pub mod together;
pub mod view;

pub use cost_of_use::{CostOfUse, Used};
pub use figure::Figure;
pub use intervals::RankInterval;
pub use row::{OtherValue, Recovered, Row};
pub use standings::{Page, Ranks, Standings};
pub use together::{Basis, Together};
pub use view::{Filter, SortKey, VerdictFilter, View};
