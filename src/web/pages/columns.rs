//! The figures that a reader may have as columns of the leaderboard: their headings and cells. Only
//! those are offered that some unit has, and only those are shown that a unit in sight has.

use super::measurements::quantity_name;
use crate::{
    bench::record::OtherQuantity,
    evaluate::other_measurements::unit_of,
    ranking::{Basis, Recovered, Row, SortKey, View},
    web::format,
};

/// The columns to show of a view, in the order of the table: those chosen (or the usual ones) and
/// the one that it is sorted by, as far as anything in sight has them.
pub fn shown(view: &View, in_sight: &[SortKey]) -> Vec<SortKey> {
    SortKey::COLUMNS
        .into_iter()
        .filter(|key| chosen(view, *key) || *key == view.sort)
        .filter(|key| in_sight.contains(key))
        .collect()
}

/// Did the reader ask for this column, by choosing it or by choosing none?
pub fn chosen(view: &View, key: SortKey) -> bool {
    match &view.columns {
        Some(columns) => columns.contains(&key),
        None => SortKey::USUAL_COLUMNS.contains(&key),
    }
}

/// What stands over a column.
pub struct Heading {
    /// As short as a narrow column needs.
    pub label: &'static str,
    /// Spoken, and shown on hover and where it is chosen.
    pub title: &'static str,
    pub numeric: bool,
}

pub fn heading(key: SortKey) -> Heading {
    let (label, title) = match key {
        SortKey::AverageEfficiency => (
            "Avg. eff.",
            "Average active efficiency over 25, 50, 75 and 100 % load",
        ),
        SortKey::TenPercentEfficiency => ("Eff. 10 %", "Efficiency at 10 % load"),
        SortKey::NoLoad => ("No-load", "Input power without load"),
        SortKey::PowerFactor => ("PF", "Power factor at full load"),
        SortKey::CurrentThd => (
            "THD",
            "Total harmonic distortion of the line current at full load",
        ),
        SortKey::TripMargin => (
            "Trip",
            "Trip margin: smallest current above the rated one at which a port lets go",
        ),
        SortKey::Recovery => ("Recovers", "Recovery after an overload"),
        SortKey::TouchTemperature => (
            "Touch",
            "Highest settled surface temperature, brought to 25 °C ambient",
        ),
        SortKey::HotSpotRise => ("Rise", "Hot-spot rise over ambient at the highest load"),
        SortKey::Price => ("Price", "Price paid"),
        SortKey::PointsForPrice => (
            "Per price",
            "Points of the score for each unit of the price’s currency",
        ),
        SortKey::Mass => ("Mass", "Mass of the adapter without its cord"),
        SortKey::Volume => ("Volume", "Volume of the box around it, without the cord"),
        SortKey::PowerDensity => ("W/cm³", "Power density: rated output power over volume"),
        SortKey::Ports => ("Ports", "Output ports"),
        SortKey::TestedOn => ("Tested", "Date of the latest test"),
        SortKey::Other(quantity) => (
            match quantity {
                OtherQuantity::RippleMv => "Ripple",
                OtherQuantity::LoadRegulationPercent => "Load reg.",
                OtherQuantity::LineRegulationPercent => "Line reg.",
                OtherQuantity::TurnOnDelayMs => "Turn-on",
                OtherQuantity::HoldUpMs => "Hold-up",
                OtherQuantity::InrushA => "Inrush",
                OtherQuantity::TouchCurrentUa => "Leakage",
                OtherQuantity::AcousticNoiseDba => "Noise",
            },
            quantity_name(quantity),
        ),
        SortKey::Score | SortKey::Name | SortKey::OutputPower | SortKey::Verdict => ("", ""),
    };
    Heading {
        label,
        title,
        numeric: !matches!(key, SortKey::Ports | SortKey::TestedOn | SortKey::Recovery),
    }
}

/// What a unit has there; `None`: not measured or not known.
/// `together`: how it is known that the ports give at once what was asked for.
pub fn cell(row: &Row, key: SortKey, together: Option<Basis>) -> Option<String> {
    let three = |v: f64, unit| format::with_unit(format::significant(v, 3), unit);
    match key {
        SortKey::AverageEfficiency => row.average_efficiency.map(format::percent),
        SortKey::TenPercentEfficiency => row.ten_percent_efficiency.map(format::percent),
        SortKey::NoLoad => row.no_load_w.map(format::watts),
        SortKey::PowerFactor => row.power_factor.map(|pf| format::fixed(pf, 3)),
        SortKey::CurrentThd => row.current_thd_percent.map(|thd| three(thd, "%")),
        SortKey::TripMargin => row.trip_margin_percent.map(trip_margin),
        SortKey::Recovery => row.recovery.map(|r| recovery(r).to_owned()),
        SortKey::TouchTemperature => row
            .touch_temperature_c
            .map(|c| format::with_unit(format::fixed(c, 1), "°C")),
        SortKey::HotSpotRise => row
            .hot_spot_rise_k
            .map(|k| format::with_unit(format::fixed(k, 1), "K")),
        SortKey::Other(quantity) => row
            .other(quantity)
            .map(|o| three(o.value, unit_of(quantity))),
        SortKey::Price => row
            .price
            .zip(row.currency.as_deref())
            .map(|(price, currency)| format::price(&format::fixed(price, 2), currency)),
        SortKey::PointsForPrice => row
            .points_for_price()
            .zip(row.currency.as_deref())
            .map(|(points, currency)| format!("{}/{currency}", format::significant(points, 3))),
        SortKey::Mass => row.mass_g.map(|g| three(g, "g")),
        SortKey::Volume => row.volume_cm3.map(|v| three(v, "cm³")),
        SortKey::PowerDensity => row
            .power_density_w_per_cm3
            .map(|d| format::significant(d, 3)),
        SortKey::Ports => connectors(row, together),
        SortKey::TestedOn => row.tested_on.as_deref().map(format::date),
        SortKey::Score | SortKey::Name | SortKey::OutputPower | SortKey::Verdict => None,
    }
}

/// A column's name beside its value, where a line of the table is a card.
pub fn card_label(key: SortKey) -> &'static str {
    match key {
        SortKey::AverageEfficiency => "Average efficiency",
        SortKey::PowerFactor => "Power factor",
        SortKey::CurrentThd => "Current THD",
        SortKey::PowerDensity => "Density, W/cm³",
        SortKey::TripMargin => "Trip margin",
        SortKey::TouchTemperature => "Touch, at 25 °C",
        SortKey::HotSpotRise => "Hot-spot rise",
        SortKey::PointsForPrice => "Score per price",
        other => heading(other).label,
    }
}

/// `+12 %`; a trip inside the rating says so.
fn trip_margin(percent: f64) -> String {
    let text = format::with_unit(format::fixed(percent, 0), "%");
    if percent < 0.0 {
        format!("{text} ✗")
    } else {
        format!("+{text}")
    }
}

pub fn recovery(recovered: Recovered) -> &'static str {
    match recovered {
        Recovered::Auto => "by itself",
        Recovered::Replug => "load off",
        Recovered::Mains => "mains off",
        Recovered::None => "did not",
    }
}

/// How it is known what the ports give, behind their number.
pub fn basis_words(basis: Basis) -> &'static str {
    match basis {
        Basis::Observed => ", observed",
        Basis::Label => ", by the label",
    }
}

fn connectors(row: &Row, together: Option<Basis>) -> Option<String> {
    match (row.usb_c_ports, row.usb_a_ports, row.ports) {
        (_, _, 0) => None,
        (c, a, all) => {
            let mut parts = Vec::new();
            for (count, kind) in [(c, "C"), (a, "A"), (all - (c + a).min(all), "other")] {
                if count > 0 {
                    parts.push(format!("{count}\u{202f}{kind}"));
                }
            }
            Some(parts.join(" + ") + together.map_or("", basis_words))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_column_that_nothing_in_sight_has_is_not_shown_even_if_chosen() {
        let view = View {
            columns: Some(vec![SortKey::TripMargin, SortKey::Mass]),
            ..View::default()
        };
        assert_eq!(
            shown(&view, &[SortKey::Mass, SortKey::Price]),
            [SortKey::Mass]
        );
    }

    #[test]
    fn the_column_that_the_table_is_sorted_by_is_shown_unasked() {
        let view = View {
            sort: SortKey::TouchTemperature,
            ..View::default()
        };
        let in_sight = [
            SortKey::TouchTemperature,
            SortKey::NoLoad,
            SortKey::TripMargin,
        ];
        assert_eq!(
            shown(&view, &in_sight),
            [SortKey::NoLoad, SortKey::TouchTemperature]
        );
    }

    #[test]
    fn every_column_has_a_heading() {
        for key in SortKey::COLUMNS {
            let heading = heading(key);
            assert!(
                !heading.label.is_empty() && !heading.title.is_empty(),
                "{key:?}"
            );
            assert!(heading.label.chars().count() <= 9, "{key:?} is narrow");
            assert!(!card_label(key).is_empty());
        }
    }

    #[test]
    fn a_negative_margin_carries_a_sign_beside_its_number() {
        assert_eq!(trip_margin(-6.0).replace('\u{202f}', " "), "\u{2212}6 % ✗");
        assert_eq!(trip_margin(12.4).replace('\u{202f}', " "), "+12 %");
    }
}
