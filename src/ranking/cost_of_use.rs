//! Units by what they lose in a year of a use profile: ranks, the difference from the best of the
//! class, and whether that difference matters.

use super::Row;
use super::intervals::{RankInterval, rank_intervals};
use crate::evaluate::yearly_energy::{Lacks, YearlyLoss, yearly_loss};
use crate::quantity::Measured;
use crate::standards::{UseProfile, usage::matters};
use std::collections::HashMap;

/// One unit's year.
#[derive(Debug, Clone)]
pub struct Used<'a> {
    pub row: &'a Row,
    pub year: YearlyLoss,
    /// Among all units that have a figure, the least loss first, by the same rule as scores.
    pub rank: RankInterval,
    /// More than the best of its class loses, kWh a year.
    pub beyond_best: Measured,
    /// The unit that loses least in its class; the first of several.
    pub is_best: bool,
    /// The uncertainties leave open whether it loses more than the best at all.
    pub like_best: bool,
}

/// Units in rising order of energy lost, and those without a figure, with the reason.
#[derive(Debug, Default)]
pub struct CostOfUse<'a> {
    pub used: Vec<Used<'a>>,
    pub lacking: Vec<(&'a Row, Lacks)>,
}

impl<'a> CostOfUse<'a> {
    pub fn of(rows: impl IntoIterator<Item = &'a Row>, profile: &UseProfile) -> CostOfUse<'a> {
        let mut years: Vec<(&Row, YearlyLoss)> = Vec::new();
        let mut lacking = Vec::new();
        for row in rows {
            match yearly_loss(row.loss_curve.as_ref(), row.no_load(), profile) {
                Ok(year) => years.push((row, year)),
                Err(lacks) => lacking.push((row, lacks)),
            }
        }
        // Stable, so that equal losses keep the order they came in.
        years.sort_by(|a, b| a.1.total.value.total_cmp(&b.1.total.value));
        // Less is better: a rank's "score" is the loss with its sign turned.
        let totals: Vec<(f64, Option<f64>)> = years
            .iter()
            .map(|(_, year)| (-year.total.value, year.total.u))
            .collect();
        let ranks = rank_intervals(&totals);
        let mut best: HashMap<&str, (&str, Measured)> = HashMap::new();
        for (row, year) in &years {
            best.entry(&row.class.id).or_insert((&row.slug, year.total));
        }
        let used = years
            .iter()
            .zip(ranks)
            .map(|((row, year), rank)| {
                let (best_slug, best) = best[row.class.id.as_str()];
                let is_best = best_slug == row.slug;
                let u = year.total.u.zip(best.u).map(|(a, b)| a.hypot(b));
                let beyond_best = if is_best {
                    Measured::exact(0.0)
                } else {
                    Measured::new(year.total.value - best.value, u)
                };
                Used {
                    row,
                    year: *year,
                    rank,
                    beyond_best,
                    is_best,
                    // As in ranks, an unknown uncertainty counts as zero.
                    like_best: beyond_best.value
                        <= 2.0 * year.total.u.unwrap_or(0.0).hypot(best.u.unwrap_or(0.0)),
                }
            })
            .collect();
        CostOfUse { used, lacking }
    }

    /// The largest difference from the best of a class, kWh a year; `None` with fewer than two
    /// units.
    pub fn widest(&self) -> Option<&Used<'a>> {
        if self.used.len() < 2 {
            return None;
        }
        self.used
            .iter()
            .max_by(|a, b| a.beyond_best.value.total_cmp(&b.beyond_best.value))
    }

    /// Median price of all units listed here, in this currency; `None` if none has one.
    pub fn median_price(&self, currency: &str) -> Option<f64> {
        let mut prices: Vec<f64> = self
            .used
            .iter()
            .map(|used| used.row)
            .filter(|row| row.currency.as_deref() == Some(currency))
            .filter_map(|row| row.price)
            .collect();
        prices.sort_by(f64::total_cmp);
        let middle = prices.len().checked_sub(1)? / 2;
        let upper = prices.len() / 2;
        Some((prices[middle] + prices[upper]) / 2.0)
    }
}

impl Used<'_> {
    /// Price with the cost of the years of its losses that count ([`matters`]); `None` if its price is not known in this
    /// currency.
    pub fn price_and_loss(&self, per_kwh: f64, currency: &str) -> Option<f64> {
        let price = self
            .row
            .price
            .filter(|_| self.row.currency.as_deref() == Some(currency))?;
        Some(price + matters().years * per_kwh * self.year.total.value)
    }
}
