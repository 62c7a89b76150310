//! Limits as data: energy rules, harmonic currents, wattage classes, the score formula, the USB
//! PD power rules.
//!
//! Every table stands in a TOML file beside this module with its source on every entry; code
//! here only loads and looks up. A new regime is a new file in `tables/`.

pub mod harmonics;
pub mod limit;
pub mod low_power;
pub mod other_figures;
pub mod power_source;
pub mod procedure;
pub mod score_formula;
pub mod touch_temperature;
pub mod usage;
pub mod usb_pd;

pub use harmonics::HarmonicLimits;
pub use limit::{LimitCurve, Regime, Role, Row};
pub use low_power::LowPower;
pub use other_figures::OtherFigures;
pub use power_source::PowerSource;
pub use procedure::{Procedure, WattageClass};
pub use score_formula::ScoreFormula;
pub use touch_temperature::TouchTemperature;
pub use usage::UseProfile;
pub use usb_pd::PdRules;

use rust_embed::RustEmbed;

#[derive(RustEmbed)]
#[folder = "src/standards/tables/"]
struct Tables;

/// Everything that verdicts and label checks look up.
#[derive(Debug, Clone)]
pub struct Standards {
    /// In display order.
    pub regimes: Vec<Regime>,
    pub procedure: Procedure,
    pub pd_rules: PdRules,
    pub power_source: PowerSource,
    pub touch_temperature: TouchTemperature,
    pub other_figures: OtherFigures,
    pub harmonics: HarmonicLimits,
    pub low_power: LowPower,
}

impl Standards {
    /// The tables this program ships.
    ///
    /// Panics only if a shipped table is malformed, which `every_shipped_table_loads` rules out.
    pub fn embedded() -> Standards {
        let mut regimes: Vec<Regime> = Tables::iter()
            .map(|file| {
                let data = Tables::get(&file).expect("a listed file is embedded").data;
                let text = std::str::from_utf8(&data).expect("tables are UTF-8");
                toml::from_str(text).unwrap_or_else(|e| panic!("standards table {file}: {e}"))
            })
            .collect();
        regimes.sort_by(|a, b| a.order.cmp(&b.order).then_with(|| a.id.cmp(&b.id)));
        Standards {
            regimes,
            procedure: toml::from_str(include_str!("procedure.toml"))
                .expect("the shipped procedure table is well-formed"),
            pd_rules: toml::from_str(include_str!("usb_pd.toml"))
                .expect("the shipped USB PD table is well-formed"),
            power_source: toml::from_str(include_str!("power_source.toml"))
                .expect("the shipped power source table is well-formed"),
            touch_temperature: toml::from_str(include_str!("touch_temperature.toml"))
                .expect("the shipped touch temperature table is well-formed"),
            other_figures: toml::from_str(include_str!("other_figures.toml"))
                .expect("the shipped table of other figures is well-formed"),
            harmonics: HarmonicLimits::embedded(),
            low_power: LowPower::embedded(),
        }
    }

    /// The regime with this id.
    pub fn regime(&self, id: &str) -> Option<&Regime> {
        self.regimes.iter().find(|r| r.id == id)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_shipped_table_loads_and_has_a_citation_and_a_date() {
        let standards = Standards::embedded();
        assert!(standards.regimes.len() >= 10);
        for regime in &standards.regimes {
            assert!(!regime.citation.is_empty(), "{}", regime.id);
            assert!(regime.effective_from.len() == 10, "{}", regime.id);
            assert_eq!(
                regime.limits_known,
                !regime.rows.is_empty(),
                "{}",
                regime.id
            );
        }
    }

    #[test]
    fn bands_of_one_category_neither_overlap_nor_leave_a_gap() {
        for regime in Standards::embedded().regimes {
            let mut categories: Vec<_> = regime.rows.iter().map(|r| r.category.clone()).collect();
            categories.dedup();
            for category in categories {
                let rows: Vec<_> = regime
                    .rows
                    .iter()
                    .filter(|r| r.category == category)
                    .collect();
                for pair in rows.windows(2) {
                    assert_eq!(
                        pair[0].p_max,
                        Some(pair[1].p_min),
                        "{} {category}",
                        regime.id
                    );
                    assert_ne!(
                        pair[0].p_max_inclusive, pair[1].p_min_inclusive,
                        "{} {category}: the edge belongs to exactly one band",
                        regime.id
                    );
                }
            }
        }
    }

    #[test]
    fn every_category_of_a_map_has_rows() {
        for regime in Standards::embedded().regimes {
            for (ours, theirs) in &regime.ac_dc_category_map {
                assert!(
                    regime.rows.iter().any(|r| &r.category == theirs),
                    "{}: {ours} -> {theirs}",
                    regime.id
                );
            }
        }
    }
}
