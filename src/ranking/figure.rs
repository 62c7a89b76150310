//! The figures of a unit that can be held against each other, and which way is better.

use super::Row;

/// One number of a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Figure {
    Price,
    Score,
    Mass,
    Volume,
    OutputPower,
    PowerDensity,
    AverageEfficiency,
    TenPercentEfficiency,
    PeakEfficiency,
    NoLoad,
    PowerFactor,
    CurrentThd,
    HotSpotRise,
}

impl Figure {
    /// In the order that a page offers them.
    pub const ALL: [Figure; 13] = [
        Figure::Price,
        Figure::Score,
        Figure::Mass,
        Figure::Volume,
        Figure::OutputPower,
        Figure::PowerDensity,
        Figure::AverageEfficiency,
        Figure::TenPercentEfficiency,
        Figure::PeakEfficiency,
        Figure::NoLoad,
        Figure::PowerFactor,
        Figure::CurrentThd,
        Figure::HotSpotRise,
    ];

    /// The word in addresses; the leaderboard's sort keys are called the same.
    pub fn id(self) -> &'static str {
        match self {
            Figure::Price => "price",
            Figure::Score => "score",
            Figure::Mass => "mass",
            Figure::Volume => "volume",
            Figure::OutputPower => "output-power",
            Figure::PowerDensity => "power-density",
            Figure::AverageEfficiency => "average-efficiency",
            Figure::TenPercentEfficiency => "ten-percent-efficiency",
            Figure::PeakEfficiency => "peak-efficiency",
            Figure::NoLoad => "no-load",
            Figure::PowerFactor => "power-factor",
            Figure::CurrentThd => "current-thd",
            Figure::HotSpotRise => "hot-spot-rise",
        }
    }

    pub fn from_id(id: &str) -> Option<Figure> {
        Figure::ALL.into_iter().find(|figure| figure.id() == id)
    }

    /// Unit of [`Figure::shown`]; empty for a price (its currency) and for bare numbers.
    pub fn unit(self) -> &'static str {
        match self {
            Figure::Price | Figure::Score | Figure::PowerFactor => "",
            Figure::Mass => "g",
            Figure::Volume => "cm³",
            Figure::OutputPower => "W",
            Figure::PowerDensity => "W/cm³",
            Figure::AverageEfficiency | Figure::TenPercentEfficiency | Figure::PeakEfficiency => {
                "%"
            }
            Figure::NoLoad => "mW",
            Figure::CurrentThd => "%",
            Figure::HotSpotRise => "K",
        }
    }

    /// What the value in the row is multiplied by to stand in [`Figure::unit`].
    pub fn factor(self) -> f64 {
        match self {
            Figure::AverageEfficiency | Figure::TenPercentEfficiency | Figure::PeakEfficiency => {
                100.0
            }
            Figure::NoLoad => 1000.0,
            _ => 1.0,
        }
    }

    /// Is more of it better for a buyer?
    pub fn more_is_better(self) -> bool {
        !matches!(
            self,
            Figure::Price
                | Figure::Mass
                | Figure::Volume
                | Figure::NoLoad
                | Figure::CurrentThd
                | Figure::HotSpotRise
        )
    }

    /// In the row's own unit; `None` where it was not measured or is not known. A provisional score
    /// is none: it does not compare with the others.
    pub fn value(self, row: &Row) -> Option<f64> {
        match self {
            Figure::Price => row.price,
            Figure::Score => row.score.filter(|_| !row.provisional),
            Figure::Mass => row.mass_g,
            Figure::Volume => row.volume_cm3,
            Figure::OutputPower => Some(row.output_power_w),
            Figure::PowerDensity => row.power_density_w_per_cm3,
            Figure::AverageEfficiency => row.average_efficiency,
            Figure::TenPercentEfficiency => row.ten_percent_efficiency,
            Figure::PeakEfficiency => row.peak_efficiency,
            Figure::NoLoad => row.no_load_w,
            Figure::PowerFactor => row.power_factor,
            Figure::CurrentThd => row.current_thd_percent,
            Figure::HotSpotRise => row.hot_spot_rise_k,
        }
    }

    /// Standard uncertainty, in the unit of [`Figure::value`]; `None` where it is not known or the
    /// figure is no measurement.
    pub fn u(self, row: &Row) -> Option<f64> {
        match self {
            Figure::Score => row.score_u,
            Figure::AverageEfficiency => row.average_efficiency_u,
            Figure::NoLoad => row.no_load_u,
            _ => None,
        }
    }

    /// A value in the unit that people read, [`Figure::unit`].
    pub fn shown(self, value: f64) -> f64 {
        value * self.factor()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ranking::SortKey;

    #[test]
    fn a_figure_is_found_by_its_word_and_a_list_can_be_sorted_by_it() {
        for figure in Figure::ALL {
            assert_eq!(Figure::from_id(figure.id()), Some(figure));
            // Peak efficiency has no column of its own.
            if figure != Figure::PeakEfficiency {
                let key = SortKey::from_id(figure.id()).unwrap();
                assert_eq!(
                    key.descending_first(),
                    figure.more_is_better(),
                    "{}",
                    figure.id()
                );
            }
        }
        assert_eq!(Figure::from_id("beauty"), None);
    }
}
