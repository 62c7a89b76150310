//! A unit's part of a page: what it loses in a year of each use profile, and how others may show it.

use super::{
    cost_of_use::{KWH, lacks_words},
    use_words::{self, profile_words},
};
use crate::{
    config::Tariff,
    evaluate::yearly_energy::yearly_loss,
    ranking::Row,
    standards::usage,
    web::{
        format::{self, PlusMinus},
        urls::{self, Query},
    },
};

/// One profile's line.
pub struct UseOfUnit {
    pub title: String,
    pub words: String,
    pub url: String,
    /// Energy lost in a year, or why there is no figure.
    pub energy: Result<PlusMinus, String>,
    pub cost: Option<String>,
}

/// A line for each shipped profile.
pub fn of_row(row: &Row, tariff: Option<&Tariff>) -> Vec<UseOfUnit> {
    usage::profiles()
        .into_iter()
        .map(|profile| {
            let year = yearly_loss(row.loss_curve.as_ref(), row.no_load(), &profile);
            UseOfUnit {
                words: profile_words(&profile),
                url: Query::new()
                    .with("class", &row.class.id)
                    .on(&urls::use_profile(&profile.id)),
                cost: year.as_ref().ok().zip(tariff).map(|(year, tariff)| {
                    let amount = format::significant(year.total.value * tariff.per_kwh, 2);
                    format::price(&amount, &tariff.currency)
                }),
                energy: year
                    .map(|year| PlusMinus::of(year.total, KWH, 3))
                    .map_err(|lacks| lacks_words(&lacks)),
                title: use_words::of(&profile).title,
            }
        })
        .collect()
}
