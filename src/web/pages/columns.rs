//! The figures that a reader may have as columns of the leaderboard: their headings and cells. Only
//! those are offered that some unit has, and only those are shown that a unit in sight has.

use super::measurements::quantity_name;
use crate::{
    bench::record::OtherQuantity,
    evaluate::other_measurements::unit_of,
    ranking::{Basis, Recovered, Row, SortKey, View},
    text::{t, word},
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
            word("column-average-efficiency"),
            word("column-average-efficiency.title"),
        ),
        SortKey::TenPercentEfficiency => {
            (word("column-ten-percent"), word("column-ten-percent.title"))
        }
        SortKey::NoLoad => (word("column-no-load"), word("column-no-load.title")),
        SortKey::PowerFactor => (
            word("column-power-factor"),
            word("column-power-factor.title"),
        ),
        SortKey::CurrentThd => (word("column-thd"), word("column-thd.title")),
        SortKey::TripMargin => (word("column-trip"), word("column-trip.title")),
        SortKey::Recovery => (word("column-recovery"), word("column-recovery.title")),
        SortKey::TouchTemperature => (word("column-touch"), word("column-touch.title")),
        SortKey::HotSpotRise => (word("column-rise"), word("column-rise.title")),
        SortKey::Price => (word("column-price"), word("column-price.title")),
        SortKey::PointsForPrice => (
            word("column-points-for-price"),
            word("column-points-for-price.title"),
        ),
        SortKey::Mass => (word("column-mass"), word("column-mass.title")),
        SortKey::Volume => (word("column-volume"), word("column-volume.title")),
        SortKey::PowerDensity => (word("column-density"), word("column-density.title")),
        SortKey::Ports => (word("column-ports"), word("column-ports.title")),
        SortKey::TestedOn => (word("column-tested"), word("column-tested.title")),
        SortKey::Other(quantity) => (other_label(quantity), quantity_name(quantity)),
        SortKey::Score | SortKey::Name | SortKey::OutputPower | SortKey::Verdict => ("", ""),
    };
    Heading {
        label,
        title,
        numeric: !matches!(key, SortKey::Ports | SortKey::TestedOn | SortKey::Recovery),
    }
}

fn other_label(quantity: OtherQuantity) -> &'static str {
    match quantity {
        OtherQuantity::RippleMv => word("column-ripple"),
        OtherQuantity::LoadRegulationPercent => word("column-load-regulation"),
        OtherQuantity::LineRegulationPercent => word("column-line-regulation"),
        OtherQuantity::TurnOnDelayMs => word("column-turn-on"),
        OtherQuantity::HoldUpMs => word("column-hold-up"),
        OtherQuantity::InrushA => word("column-inrush"),
        OtherQuantity::TouchCurrentUa => word("column-leakage"),
        OtherQuantity::AcousticNoiseDba => word("column-noise"),
    }
}

/// A column's name in the list of those that can be chosen.
pub fn choice(key: SortKey) -> &'static str {
    match key {
        SortKey::AverageEfficiency => word("column-average-efficiency.choice"),
        SortKey::TenPercentEfficiency => word("column-ten-percent.choice"),
        SortKey::NoLoad => word("column-no-load.choice"),
        SortKey::PowerFactor => word("column-power-factor.choice"),
        SortKey::CurrentThd => word("column-thd.choice"),
        SortKey::TripMargin => word("column-trip.choice"),
        SortKey::Recovery => word("column-recovery.choice"),
        SortKey::TouchTemperature => word("column-touch.choice"),
        SortKey::HotSpotRise => word("column-rise.choice"),
        SortKey::Price => word("column-price.choice"),
        SortKey::PointsForPrice => word("column-points-for-price.choice"),
        SortKey::Mass => word("column-mass.choice"),
        SortKey::Volume => word("column-volume.choice"),
        SortKey::PowerDensity => word("column-density.choice"),
        SortKey::Ports => word("column-ports.choice"),
        SortKey::TestedOn => word("column-tested.choice"),
        SortKey::Other(OtherQuantity::RippleMv) => word("column-ripple.choice"),
        SortKey::Other(OtherQuantity::LoadRegulationPercent) => {
            word("column-load-regulation.choice")
        }
        SortKey::Other(OtherQuantity::LineRegulationPercent) => {
            word("column-line-regulation.choice")
        }
        SortKey::Other(OtherQuantity::TurnOnDelayMs) => word("column-turn-on.choice"),
        SortKey::Other(OtherQuantity::HoldUpMs) => word("column-hold-up.choice"),
        SortKey::Other(OtherQuantity::InrushA) => word("column-inrush.choice"),
        SortKey::Other(OtherQuantity::TouchCurrentUa) => word("column-leakage.choice"),
        SortKey::Other(OtherQuantity::AcousticNoiseDba) => word("column-noise.choice"),
        SortKey::Score | SortKey::Name | SortKey::OutputPower | SortKey::Verdict => "",
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
        SortKey::AverageEfficiency => word("column-average-efficiency.card"),
        SortKey::TenPercentEfficiency => word("column-ten-percent.card"),
        SortKey::NoLoad => word("column-no-load.card"),
        SortKey::PowerFactor => word("column-power-factor.card"),
        SortKey::CurrentThd => word("column-thd.card"),
        SortKey::TripMargin => word("column-trip.card"),
        SortKey::Recovery => word("column-recovery.card"),
        SortKey::TouchTemperature => word("column-touch.card"),
        SortKey::HotSpotRise => word("column-rise.card"),
        SortKey::Price => word("column-price.card"),
        SortKey::PointsForPrice => word("column-points-for-price.card"),
        SortKey::Mass => word("column-mass.card"),
        SortKey::Volume => word("column-volume.card"),
        SortKey::PowerDensity => word("column-density.card"),
        SortKey::Ports => word("column-ports.card"),
        SortKey::TestedOn => word("column-tested.card"),
        SortKey::Other(quantity) => other_label(quantity),
        SortKey::Score | SortKey::Name | SortKey::OutputPower | SortKey::Verdict => "",
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
        Recovered::Auto => word("cell-recovery-auto"),
        Recovered::Replug => word("cell-recovery-replug"),
        Recovered::Mains => word("cell-recovery-mains"),
        Recovered::None => word("cell-recovery-none"),
    }
}

fn connectors(row: &Row, together: Option<Basis>) -> Option<String> {
    match (row.usb_c_ports, row.usb_a_ports, row.ports) {
        (_, _, 0) => None,
        (c, a, all) => {
            let mut parts = Vec::new();
            for (count, kind) in [
                (c, "C"),
                (a, "A"),
                (all - (c + a).min(all), word("cell-other-ports")),
            ] {
                if count > 0 {
                    parts.push(format!("{count}\u{202f}{kind}"));
                }
            }
            let ports = parts.join(" + ");
            Some(match together {
                None => ports,
                Some(Basis::Observed) => t("cell-ports-observed").with("ports", ports).to_string(),
                Some(Basis::Label) => t("cell-ports-by-label").with("ports", ports).to_string(),
            })
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
