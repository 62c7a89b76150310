//! Invented temperatures against time: the body warms with one time constant, its heat capacity
//! times its thermal resistance.

use super::chance::Chance;
use super::measure::decimals;
use super::physics::Design;
use crate::bench::record::{Material, Record, Temperature};

/// Minutes of the readings of a whole series.
const MINUTES: [f64; 11] = [
    0.0, 5.0, 10.0, 15.0, 20.0, 30.0, 40.0, 50.0, 60.0, 75.0, 90.0,
];

/// Units whose temperature was followed from the cold; of the others the end alone was read.
fn is_followed(model: &str) -> bool {
    matches!(
        model,
        "HK-10A"
            | "LF-15C"
            | "LF-20C"
            | "DM-20 Travel"
            | "IB-27C"
            | "LF-30C"
            | "CT-30 Nano"
            | "LF-45C"
            | "GS-45CC"
            | "WX-40C"
            | "LF-65C"
            | "CT-65 Nano"
            | "DM-65 Travel"
            | "TW-65CCA"
            | "YB-65C"
            | "LF-100Q"
            | "CT-100 Nano"
            | "IB-100CCA"
            | "FW-90C"
            | "LF-140C"
            | "YB-140CCA"
            | "DM-120 Desk"
            | "LF-240C"
            | "IB-240C"
            | "CT-200 Desk"
            | "LF-300 Desk"
            | "HK-500 Rack"
    )
}

/// A metal housing spreads the heat, and feels hotter at the same temperature.
fn is_metal(model: &str) -> bool {
    matches!(model, "HK-500 Rack" | "FW-180C" | "CT-200 Desk")
}

/// Puts the way to the temperatures of a record in front of them, and what was begun besides.
pub(super) fn followed(record: &mut Record, design: &Design, chance: &mut Chance) {
    let model = record.unit.model.clone();
    if is_metal(&model) {
        for entry in &mut record.temperatures {
            entry.material = Some(Material::Metal);
        }
    }
    if let Some(last) = record.temperatures.last().cloned()
        && is_followed(&model)
    {
        let before = way_to(&last, design, chance);
        record.temperatures.splice(0..0, before);
    }
    match model.as_str() {
        // Half the load, broken off: the bench was needed for something else.
        "FW-90C" => {
            let end = end_at(record.temperatures.last(), 0.42, 60.0);
            let series = end.map(|e| way_to(&e, design, chance)).unwrap_or_default();
            let cut = series.into_iter().filter(|t| t.minutes <= Some(10.0));
            record.temperatures.extend(cut);
        }
        // The power cut of the day; only the mean surface was followed.
        "BH-65C" => {
            let end = Temperature {
                load_w: Some(65.0),
                minutes: Some(60.0),
                ambient_c: Some(21.8),
                surface_c: Some(63.4),
                hot_spot_c: None,
                material: Some(Material::Plastic),
                place: Some("top face".to_owned()),
            };
            let series = way_to(&end, design, chance);
            let cut = series.into_iter().filter(|t| t.minutes <= Some(15.0));
            record.temperatures.extend(cut);
        }
        _ => {}
    }
}

/// The temperatures at a smaller load, by the share of the rise.
fn end_at(full: Option<&Temperature>, share: f64, minutes: f64) -> Option<Temperature> {
    let full = full?;
    let ambient_c = full.ambient_c?;
    let shrunk = |c: Option<f64>| c.map(|c| decimals(ambient_c + share * (c - ambient_c), 1));
    Some(Temperature {
        load_w: full.load_w.map(|w| decimals(w / 2.0, 1)),
        minutes: Some(minutes),
        surface_c: shrunk(full.surface_c),
        hot_spot_c: shrunk(full.hot_spot_c),
        ..full.clone()
    })
}

/// Readings on the way to the last one, which is not among them.
fn way_to(last: &Temperature, design: &Design, chance: &mut Chance) -> Vec<Temperature> {
    let (Some(end), Some(ambient_c)) = (last.minutes, last.ambient_c) else {
        return Vec::new();
    };
    let constant = design.warming_time_constant_min();
    let reached = |minutes: f64| 1.0 - libm::exp(-minutes / constant);
    MINUTES
        .into_iter()
        .filter(|&minutes| minutes < end)
        .map(|minutes| {
            let share = reached(minutes) / reached(end);
            // The room warms a little with the work in it.
            let room_c = ambient_c - 0.4 * (1.0 - minutes / end) + 0.06 * chance.bell();
            let mut warm = |c: Option<f64>| {
                c.map(|c| decimals(room_c + share * (c - ambient_c) + 0.12 * chance.bell(), 1))
            };
            Temperature {
                minutes: Some(minutes),
                ambient_c: Some(decimals(room_c, 1)),
                surface_c: warm(last.surface_c),
                hot_spot_c: warm(last.hot_spot_c),
                ..last.clone()
            }
        })
        .collect()
}
