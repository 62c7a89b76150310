//! What a visitor asks of the leaderboard: filters, an order, a page.

use super::{Basis, Row};
use crate::bench::record::{Connector, OtherQuantity, folded};
use crate::evaluate::evaluation::Outcome;

/// Which units are shown. Empty fields ask nothing.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Filter {
    /// Wattage class id.
    pub class: Option<String>,
    /// Maker, compared without case and extra spaces.
    pub maker: Option<String>,
    /// Words that must all occur in maker, model or sample.
    pub search: String,
    pub ports_at_least: Option<u32>,
    pub usb_c_at_least: Option<u32>,
    /// Output power that each of the ports above gives while the others do so too: of the USB-C
    /// ports asked for, else of the ports, else of one port.
    pub each_w: Option<f64>,
    /// Regime id and what its result must be.
    pub verdict: Option<(String, VerdictFilter)>,
    /// In the currency below; units priced otherwise or not at all are left out.
    pub price_at_most: Option<f64>,
    pub currency: Option<String>,
    /// ISO 8601 dates, inclusive; units without a date are left out.
    pub tested_from: Option<String>,
    pub tested_to: Option<String>,
}

impl Filter {
    /// How it is known that the row's ports give [`Filter::each_w`] at the same time; `None` where
    /// they do not, or nothing of the kind is asked for.
    pub fn together(&self, row: &Row) -> Option<Basis> {
        let each_w = self.each_w?;
        match (self.usb_c_at_least, self.ports_at_least) {
            (Some(count), _) => row.together.gives(Some(Connector::UsbC), count, each_w),
            (None, count) => row.together.gives(None, count.unwrap_or(1), each_w),
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum VerdictFilter {
    Is(Outcome),
    /// Pass or conditional pass.
    Passes,
    /// Fail or conditional fail.
    Fails,
}

impl VerdictFilter {
    /// `passes`, `fails` or an outcome's id.
    pub fn from_id(id: &str) -> Option<VerdictFilter> {
        match id {
            "passes" => Some(VerdictFilter::Passes),
            "fails" => Some(VerdictFilter::Fails),
            other => Outcome::from_id(other).map(VerdictFilter::Is),
        }
    }

    pub fn id(self) -> &'static str {
        match self {
            VerdictFilter::Passes => "passes",
            VerdictFilter::Fails => "fails",
            VerdictFilter::Is(outcome) => outcome.id(),
        }
    }

    /// Does this outcome pass?
    pub fn holds(self, outcome: Outcome) -> bool {
        match self {
            VerdictFilter::Is(wanted) => outcome == wanted,
            VerdictFilter::Passes => matches!(outcome, Outcome::Pass | Outcome::ConditionalPass),
            VerdictFilter::Fails => matches!(outcome, Outcome::Fail | Outcome::ConditionalFail),
        }
    }
}

/// A filter with its texts folded once, so that ten thousand rows are compared cheaply.
pub(super) struct Prepared<'a> {
    filter: &'a Filter,
    maker: Option<String>,
    words: Vec<String>,
}

impl<'a> Prepared<'a> {
    pub(super) fn of(filter: &'a Filter) -> Prepared<'a> {
        Prepared {
            filter,
            maker: filter
                .maker
                .as_deref()
                .map(folded)
                .filter(|m| !m.is_empty()),
            words: folded(&filter.search)
                .split(' ')
                .filter(|w| !w.is_empty())
                .map(str::to_owned)
                .collect(),
        }
    }

    /// Does the row pass all but the filter's class? `haystack` is its folded "maker model sample",
    /// `maker` its folded maker.
    pub(super) fn holds_within_class(&self, row: &Row, haystack: &str, maker: &str) -> bool {
        let filter = self.filter;
        let at_least = |wanted: Option<u32>, has: u32| wanted.is_none_or(|w| has >= w);
        let date = row.tested_on.as_deref();
        at_least(filter.ports_at_least, row.ports)
            && at_least(filter.usb_c_at_least, row.usb_c_ports)
            && (filter.each_w.is_none() || filter.together(row).is_some())
            && self.maker.as_deref().is_none_or(|wanted| wanted == maker)
            && filter
                .price_at_most
                .is_none_or(|most| row.price.is_some_and(|p| p <= most))
            && filter
                .currency
                .as_ref()
                .is_none_or(|c| row.currency.as_ref() == Some(c))
            && filter
                .tested_from
                .as_deref()
                .is_none_or(|from| date.is_some_and(|d| d >= from))
            && filter
                .tested_to
                .as_deref()
                .is_none_or(|to| date.is_some_and(|d| d <= to))
            && filter.verdict.as_ref().is_none_or(|(regime, wanted)| {
                row.verdicts
                    .iter()
                    .any(|(id, outcome)| id == regime && wanted.holds(*outcome))
            })
            && self
                .words
                .iter()
                .all(|word| haystack.contains(word.as_str()))
    }
}

/// What the table is sorted by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum SortKey {
    Score,
    Name,
    OutputPower,
    AverageEfficiency,
    TenPercentEfficiency,
    NoLoad,
    PowerFactor,
    CurrentThd,
    Price,
    Mass,
    Volume,
    PowerDensity,
    /// Points of the score for each unit of the price's currency.
    PointsForPrice,
    HotSpotRise,
    Ports,
    TestedOn,
    /// The worst main verdict first or last.
    Verdict,
    TripMargin,
    Recovery,
    TouchTemperature,
    Other(OtherQuantity),
}

impl SortKey {
    pub const ALL: [SortKey; 28] = [
        SortKey::Score,
        SortKey::Name,
        SortKey::OutputPower,
        SortKey::AverageEfficiency,
        SortKey::TenPercentEfficiency,
        SortKey::NoLoad,
        SortKey::PowerFactor,
        SortKey::CurrentThd,
        SortKey::Price,
        SortKey::Mass,
        SortKey::Volume,
        SortKey::PowerDensity,
        SortKey::PointsForPrice,
        SortKey::HotSpotRise,
        SortKey::Ports,
        SortKey::TestedOn,
        SortKey::Verdict,
        SortKey::TripMargin,
        SortKey::Recovery,
        SortKey::TouchTemperature,
        SortKey::Other(OtherQuantity::RippleMv),
        SortKey::Other(OtherQuantity::LoadRegulationPercent),
        SortKey::Other(OtherQuantity::LineRegulationPercent),
        SortKey::Other(OtherQuantity::TurnOnDelayMs),
        SortKey::Other(OtherQuantity::HoldUpMs),
        SortKey::Other(OtherQuantity::InrushA),
        SortKey::Other(OtherQuantity::TouchCurrentUa),
        SortKey::Other(OtherQuantity::AcousticNoiseDba),
    ];

    /// The figures that a reader may have as columns, in the order of the table. Unit, score and
    /// verdicts are always there.
    pub const COLUMNS: [SortKey; 24] = [
        SortKey::AverageEfficiency,
        SortKey::TenPercentEfficiency,
        SortKey::NoLoad,
        SortKey::PowerFactor,
        SortKey::CurrentThd,
        SortKey::TripMargin,
        SortKey::Recovery,
        SortKey::TouchTemperature,
        SortKey::HotSpotRise,
        SortKey::Other(OtherQuantity::RippleMv),
        SortKey::Other(OtherQuantity::LoadRegulationPercent),
        SortKey::Other(OtherQuantity::LineRegulationPercent),
        SortKey::Other(OtherQuantity::TurnOnDelayMs),
        SortKey::Other(OtherQuantity::HoldUpMs),
        SortKey::Other(OtherQuantity::InrushA),
        SortKey::Other(OtherQuantity::TouchCurrentUa),
        SortKey::Other(OtherQuantity::AcousticNoiseDba),
        SortKey::Price,
        SortKey::PointsForPrice,
        SortKey::Mass,
        SortKey::Volume,
        SortKey::PowerDensity,
        SortKey::Ports,
        SortKey::TestedOn,
    ];

    /// Those of [`SortKey::COLUMNS`] that a table has where nothing was chosen.
    pub const USUAL_COLUMNS: [SortKey; 9] = [
        SortKey::AverageEfficiency,
        SortKey::NoLoad,
        SortKey::PowerFactor,
        SortKey::CurrentThd,
        SortKey::Price,
        SortKey::Mass,
        SortKey::PowerDensity,
        SortKey::Ports,
        SortKey::TestedOn,
    ];

    /// The word in addresses.
    pub fn id(self) -> &'static str {
        match self {
            SortKey::Score => "score",
            SortKey::Name => "name",
            SortKey::OutputPower => "output-power",
            SortKey::AverageEfficiency => "average-efficiency",
            SortKey::TenPercentEfficiency => "ten-percent-efficiency",
            SortKey::NoLoad => "no-load",
            SortKey::PowerFactor => "power-factor",
            SortKey::CurrentThd => "current-thd",
            SortKey::Price => "price",
            SortKey::Mass => "mass",
            SortKey::Volume => "volume",
            SortKey::PowerDensity => "power-density",
            SortKey::PointsForPrice => "points-for-price",
            SortKey::HotSpotRise => "hot-spot-rise",
            SortKey::Ports => "ports",
            SortKey::TestedOn => "tested-on",
            SortKey::Verdict => "verdict",
            SortKey::TripMargin => "trip-margin",
            SortKey::Recovery => "recovery",
            SortKey::TouchTemperature => "touch-temperature",
            SortKey::Other(OtherQuantity::RippleMv) => "ripple",
            SortKey::Other(OtherQuantity::LoadRegulationPercent) => "load-regulation",
            SortKey::Other(OtherQuantity::LineRegulationPercent) => "line-regulation",
            SortKey::Other(OtherQuantity::TurnOnDelayMs) => "turn-on-delay",
            SortKey::Other(OtherQuantity::HoldUpMs) => "hold-up",
            SortKey::Other(OtherQuantity::InrushA) => "inrush",
            SortKey::Other(OtherQuantity::TouchCurrentUa) => "touch-current",
            SortKey::Other(OtherQuantity::AcousticNoiseDba) => "acoustic-noise",
        }
    }

    pub fn from_id(id: &str) -> Option<SortKey> {
        SortKey::ALL.into_iter().find(|k| k.id() == id)
    }

    /// The direction a reader expects first: the better end on top.
    pub fn descending_first(self) -> bool {
        matches!(
            self,
            SortKey::Score
                | SortKey::OutputPower
                | SortKey::AverageEfficiency
                | SortKey::TenPercentEfficiency
                | SortKey::PowerFactor
                | SortKey::PowerDensity
                | SortKey::PointsForPrice
                | SortKey::Ports
                | SortKey::TestedOn
                | SortKey::TripMargin
                | SortKey::Other(OtherQuantity::HoldUpMs)
        )
    }
}

/// Units on a page unless asked otherwise.
pub const USUAL_PER_PAGE: usize = 50;

/// One page of a filtered, sorted list.
#[derive(Debug, Clone, PartialEq)]
pub struct View {
    pub filter: Filter,
    pub sort: SortKey,
    pub descending: bool,
    /// The columns chosen, of [`SortKey::COLUMNS`]; `None`: the usual ones.
    pub columns: Option<Vec<SortKey>>,
    /// From 1; beyond the last page means the last.
    pub page: usize,
    pub per_page: usize,
}

impl Default for View {
    fn default() -> View {
        View {
            filter: Filter::default(),
            sort: SortKey::Score,
            descending: true,
            columns: None,
            page: 1,
            per_page: USUAL_PER_PAGE,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_order_has_a_word_of_its_own_and_every_column_can_be_sorted_by() {
        let words: std::collections::HashSet<_> = SortKey::ALL.map(SortKey::id).into();
        assert_eq!(words.len(), SortKey::ALL.len());
        for key in SortKey::ALL {
            assert_eq!(SortKey::from_id(key.id()), Some(key));
        }
        for quantity in OtherQuantity::ALL {
            assert!(SortKey::COLUMNS.contains(&SortKey::Other(quantity)));
        }
        for key in SortKey::COLUMNS {
            assert!(SortKey::ALL.contains(&key), "{key:?}");
        }
        for key in SortKey::USUAL_COLUMNS {
            assert!(SortKey::COLUMNS.contains(&key), "{key:?}");
        }
    }
}
