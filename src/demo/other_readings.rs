//! Invented readings of what has no place of its own in a record: ripple, regulation, times,
//! inrush, touch current, noise; and the cord.

use super::chance::Chance;
use super::measure::decimals;
use super::physics::{AMERICAN, Design, EUROPEAN, Supply};
use super::sketch::{Correction, Sketch};
use crate::bench::record::{
    Connector, Cord, CordFixing, Measurement, Mode, OtherQuantity, Port, Record,
};

/// How much of it was measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Extent {
    Whole,
    /// Ripple and hold-up.
    Short,
    Nothing,
}

/// Makers whose units were on the newer bench got the whole list; honest gaps elsewhere.
pub(super) fn extent(sketch: &Sketch) -> Extent {
    match sketch.maker.as_str() {
        _ if !sketch.instruments || sketch.model == "BH-65C" => Extent::Nothing,
        "Larkfield" | "Castrelle" | "Tessawick" | "Dunmarrow" | "Hollowick" => Extent::Whole,
        "Isembridge" | "Quillmere" | "Umbrefell" | "Pennifrost" | "Gildersow" => Extent::Short,
        _ => Extent::Nothing,
    }
}

/// Adds the readings and the cord to a record.
pub(super) fn add(
    record: &mut Record,
    sketch: &Sketch,
    design: &Design,
    extent: Extent,
    chance: &mut Chance,
) {
    record.unit.cord = cord(sketch, design, chance);
    let Some(port) = sketch.ports.first().filter(|_| extent != Extent::Nothing) else {
        return;
    };
    let voltages = fixed_ends(port);
    let mut found: Vec<Measurement> = voltages
        .iter()
        .map(|&(voltage_v, current_a)| ripple(sketch, port, voltage_v, current_a, chance))
        .collect();
    found.extend([AMERICAN, EUROPEAN].map(|supply| hold_up(sketch, supply, chance)));
    if extent == Extent::Whole {
        if let Some(&(voltage_v, current_a)) = voltages.last() {
            found.extend(regulation(design, port, voltage_v, current_a, chance));
        }
        found.extend([AMERICAN, EUROPEAN].map(|supply| inrush(sketch, supply, chance)));
        found.extend([AMERICAN, EUROPEAN].map(|supply| turn_on(supply, chance)));
        found.push(touch_current(sketch, chance));
    }
    if sketch.model == "DM-20 Travel" {
        found.push(Measurement {
            load_percent: Some(0.0),
            line_voltage_v: Some(230.0),
            accuracy: Some(2.0),
            note: Some("ticks, at 10 cm".to_owned()),
            ..reading(OtherQuantity::AcousticNoiseDba, 24.5)
        });
    }
    record.measurements = found;
}

fn reading(quantity: OtherQuantity, value: f64) -> Measurement {
    Measurement {
        quantity,
        value,
        port: None,
        voltage_v: None,
        load_percent: None,
        line_voltage_v: None,
        accuracy: None,
        note: None,
    }
}

/// Lowest and highest fixed voltage with their currents.
fn fixed_ends(port: &Port) -> Vec<(f64, f64)> {
    let mut fixed: Vec<(f64, f64)> = port
        .modes
        .iter()
        .filter_map(|mode| match *mode {
            Mode::Fixed {
                voltage_v,
                current_a,
            } => Some((voltage_v, current_a)),
            _ => None,
        })
        .collect();
    fixed.sort_by(|a, b| a.0.total_cmp(&b.0));
    if fixed.len() > 2 {
        fixed.drain(1..fixed.len() - 1);
    }
    fixed
}

/// Switching ripple grows with the current; cheap and old designs filter less.
fn ripple(
    sketch: &Sketch,
    port: &Port,
    voltage_v: f64,
    current_a: f64,
    chance: &mut Chance,
) -> Measurement {
    let worse = sketch.loss_factor * sketch.loss_factor;
    let value = (22.0 + 9.0 * current_a + 1.2 * voltage_v) * worse * (1.0 + 0.35 * chance.bell());
    Measurement {
        port: Some(port.label.clone()),
        voltage_v: Some(voltage_v),
        load_percent: Some(100.0),
        line_voltage_v: Some(115.0),
        accuracy: Some(decimals(0.05 * value, 1)),
        note: Some("20 MHz, peak to peak, 0.1 µF and 10 µF at the plug".to_owned()),
        ..reading(OtherQuantity::RippleMv, decimals(value, 0))
    }
}

/// What the bulk capacitor holds from the voltage's crest down to where the converter stops.
fn hold_up(sketch: &Sketch, supply: Supply, chance: &mut Chance) -> Measurement {
    let crest_v = supply.voltage_v * std::f64::consts::SQRT_2;
    let (microfarads_per_w, from_v, to_v) = match sketch.correction {
        Correction::None => (chance.between(1.2, 1.6), crest_v, 75.0),
        Correction::Active { .. } => (chance.between(0.65, 0.9), 390.0, 300.0),
    };
    // Energy over the input power per watt of output, some 10 % above it.
    let seconds = 0.5 * microfarads_per_w * 1e-6 * (from_v * from_v - to_v * to_v) / 1.1;
    Measurement {
        load_percent: Some(100.0),
        line_voltage_v: Some(supply.voltage_v),
        accuracy: Some(0.5),
        ..reading(OtherQuantity::HoldUpMs, decimals(1000.0 * seconds, 1))
    }
}

/// By the resistance of the terminals from no load to full, and by the line from 100 V to 240 V.
fn regulation(
    design: &Design,
    port: &Port,
    voltage_v: f64,
    current_a: f64,
    chance: &mut Chance,
) -> [Measurement; 2] {
    let drop_v =
        design.terminal_voltage_v(voltage_v, 0.0) - design.terminal_voltage_v(voltage_v, current_a);
    let at = |quantity, percent: f64| Measurement {
        port: Some(port.label.clone()),
        voltage_v: Some(voltage_v),
        ..reading(quantity, decimals(percent, 2))
    };
    [
        Measurement {
            line_voltage_v: Some(115.0),
            ..at(
                OtherQuantity::LoadRegulationPercent,
                100.0 * drop_v / voltage_v,
            )
        },
        Measurement {
            load_percent: Some(100.0),
            note: Some("from 100 V to 240 V".to_owned()),
            ..at(
                OtherQuantity::LineRegulationPercent,
                0.06 + 0.04 * chance.bell(),
            )
        },
    ]
}

/// The crest of the line over the cold thermistor and the loop.
fn inrush(sketch: &Sketch, supply: Supply, chance: &mut Chance) -> Measurement {
    let cold_ohm = chance.between(4.5, 6.5) + 260.0 / (sketch.output_power_w + 20.0);
    let value = supply.voltage_v * std::f64::consts::SQRT_2 / cold_ohm;
    Measurement {
        line_voltage_v: Some(supply.voltage_v),
        accuracy: Some(decimals(0.04 * value, 1)),
        note: Some("cold, at the crest".to_owned()),
        ..reading(OtherQuantity::InrushA, decimals(value, 1))
    }
}

/// The controller's supply charges through a resistor: quicker on a higher line.
fn turn_on(supply: Supply, chance: &mut Chance) -> Measurement {
    let value = chance.between(380.0, 900.0) * libm::pow(115.0 / supply.voltage_v, 0.8);
    Measurement {
        line_voltage_v: Some(supply.voltage_v),
        load_percent: Some(0.0),
        accuracy: Some(5.0),
        note: Some("mains to 5 V".to_owned()),
        ..reading(OtherQuantity::TurnOnDelayMs, decimals(value, 0))
    }
}

/// Half the line voltage through the capacitor between the sides: I = 2π f C V / 2.
fn touch_current(sketch: &Sketch, chance: &mut Chance) -> Measurement {
    let nanofarads = match sketch.output_power_w {
        w if w <= 30.0 => chance.pick(&[0.47, 0.68, 1.0]),
        w if w <= 100.0 => chance.pick(&[1.0, 1.5, 2.2]),
        _ => chance.pick(&[2.2, 3.3, 4.4]),
    };
    let amperes =
        std::f64::consts::TAU * EUROPEAN.frequency_hz * nanofarads * 1e-9 * EUROPEAN.voltage_v
            / 2.0;
    let value = 1e6 * amperes * (1.0 + 0.06 * chance.bell());
    Measurement {
        line_voltage_v: Some(230.0),
        accuracy: Some(decimals(0.05 * value, 1)),
        note: Some("through 2 kΩ, output to earth".to_owned()),
        ..reading(OtherQuantity::TouchCurrentUa, decimals(value, 0))
    }
}

/// A desk unit comes with a mains cord; one small unit has its output cord fixed to it.
fn cord(sketch: &Sketch, design: &Design, chance: &mut Chance) -> Option<Cord> {
    if sketch.extra_output_resistance_ohm > 0.0
        && sketch
            .ports
            .iter()
            .all(|p| p.connector == Some(Connector::UsbA))
    {
        return Some(Cord {
            length_m: Some(1.5),
            fixing: Some(CordFixing::Captive),
            resistance_mohm: Some(decimals(1000.0 * sketch.extra_output_resistance_ohm, 0)),
        });
    }
    design.cord_g.map(|grams| Cord {
        // Mains cords weigh some 115 g a metre with their plugs.
        length_m: Some(decimals(grams / 115.0, 1)),
        fixing: Some(CordFixing::Detachable),
        resistance_mohm: chance.says(0.5).then(|| decimals(grams * 0.3, 0)),
    })
}
