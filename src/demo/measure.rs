//! A day at an imaginary bench: puts a design under the programme and writes down what the meters
//! would show, each reading within its meter's accuracy and rounded to its resolution.

use super::capabilities;
use super::chance::Chance;
use super::physics::{AMERICAN, Design, EUROPEAN, Supply, is_power_delivery};
use super::sketch::{Programme, Sketch};
use crate::bench::record::{
    FORMAT, Input, Instrument, Line, Mass, Material, MeasuredQuantity, Nameplate, NoLoad, Output,
    Overload, Point, Port, Price, RatedOutput, Record, Run, Temperature, Unit,
};
use time::{Date, Duration, Month};

/// Ends the notes of every invented record.
pub(super) const DISCLAIMER: &str = "*Invented for demonstration: this unit, its maker and every reading come from a physical model.*";

const PROGRAMME_PERCENTS: [f64; 5] = [100.0, 75.0, 50.0, 25.0, 10.0];

/// The record of a sketched unit, and the hidden truth behind it.
pub(super) fn record(sketch: &Sketch, chance: &mut Chance) -> (Record, Design) {
    let high = highest_condition(&sketch.ports);
    let allocated = allocate(&high, sketch.output_power_w, 1.0);
    let full: Vec<(f64, f64)> = high
        .iter()
        .zip(&allocated)
        .map(|(r, &current_a)| (r.voltage_v, current_a))
        .collect();
    let design = Design::of(sketch, &full, chance);
    let bench_day = bench_day(sketch.day);
    let acquired_on = bench_day - Duration::days(5 + chance.below(40) as i64);

    let mut bench = Bench {
        sketch,
        design: &design,
        chance,
        day: bench_day,
    };
    let runs = bench.runs(&high);
    let temperatures = match sketch.programme {
        Programme::Full => vec![bench.temperature(&full)],
        Programme::Aborted => Vec::new(),
    };
    let overloads = bench.overloads(&high);

    let mut ports = sketch.ports.clone();
    if let Some(listing) = sketch.listing {
        for port in ports.iter_mut().filter(|p| is_power_delivery(p)) {
            port.source_capabilities = capabilities::words(port, listing);
        }
    }
    let mut notes = sketch.remarks.trim().to_owned();
    if !notes.is_empty() {
        notes.push_str("\n\n");
    }
    notes.push_str(DISCLAIMER);

    let record = Record {
        format: FORMAT.to_owned(),
        unit: Unit {
            maker: sketch.maker.clone(),
            model: sketch.model.clone(),
            sample: sketch.sample.clone(),
            acquired_on: Some(acquired_on.to_string()),
            price: Some(Price {
                amount: format!("{:.2}", design.price.floor() + 0.90),
                currency: sketch.currency.to_owned(),
            }),
            buy_url: None,
            write_up_url: None,
            nameplate: Nameplate {
                output_power_w: sketch.output_power_w,
                input_voltage_min_v: Some(100.0),
                input_voltage_max_v: Some(240.0),
                input_current_a: Some(decimals(design.label_input_current_a, 1)),
                efficiency_mark: sketch.mark.map(str::to_owned),
                max_ambient_c: Some(design.max_ambient_c),
            },
            safety_marks: sketch.safety_marks.iter().map(|&m| m.to_owned()).collect(),
            mass_g: Some(Mass {
                adapter: Some(design.mass_g),
                cord: design.cord_g,
                packaging: Some(design.packaging_g),
            }),
            size_mm: Some(design.size_mm),
            cord: None,
            category: None,
            harmonic_class: None,
            ports,
        },
        instruments: if sketch.instruments {
            instruments()
        } else {
            Vec::new()
        },
        logs: Vec::new(),
        runs,
        overloads,
        sharing: Vec::new(),
        temperatures,
        measurements: Vec::new(),
        photos: Vec::new(),
        notes: Some(notes),
    };
    (record, design)
}

fn bench_day(day: u16) -> Date {
    let first = Date::from_calendar_date(2025, Month::November, 3).expect("a real day");
    first + Duration::days(i64::from(day.min(360)))
}

/// The 100 % condition at the highest voltage: every port at its highest fixed voltage.
fn highest_condition(ports: &[Port]) -> Vec<RatedOutput> {
    ports
        .iter()
        .map(|p| rated(p, fixed_extreme(p, true)))
        .collect()
}

/// The 100 % condition at the lowest voltage: 2 A from every port that speaks USB PD
/// (10 CFR 430 Appendix Z), full current from the others.
fn lowest_condition(ports: &[Port]) -> Vec<RatedOutput> {
    ports
        .iter()
        .map(|port| {
            let mut output = rated(port, fixed_extreme(port, false));
            if is_power_delivery(port) {
                output.current_a = 2.0;
            }
            output
        })
        .collect()
}

fn rated(port: &Port, (voltage_v, current_a): (f64, f64)) -> RatedOutput {
    RatedOutput {
        port: port.label.clone(),
        voltage_v,
        current_a,
    }
}

fn fixed_extreme(port: &Port, highest: bool) -> (f64, f64) {
    fixed(port)
        .reduce(|best, next| {
            if (next.0 > best.0) == highest {
                next
            } else {
                best
            }
        })
        .expect("an invented port has a fixed voltage")
}

fn fixed(port: &Port) -> impl Iterator<Item = (f64, f64)> {
    use crate::bench::record::Mode;
    port.modes.iter().filter_map(|mode| match *mode {
        Mode::Fixed {
            voltage_v,
            current_a,
        } => Some((voltage_v, current_a)),
        _ => None,
    })
}

/// Currents at a share of full load, proportionally allocated: D = nameplate / sum of V I, where
/// that is below 1 (10 CFR 430 Appendix Z).
fn allocate(rated: &[RatedOutput], nameplate_w: f64, share: f64) -> Vec<f64> {
    let together_w: f64 = rated.iter().map(|r| r.voltage_v * r.current_a).sum();
    let derating = (nameplate_w / together_w).min(1.0);
    rated
        .iter()
        .map(|r| r.current_a * derating * share)
        .collect()
}

struct Bench<'a> {
    sketch: &'a Sketch,
    design: &'a Design,
    chance: &'a mut Chance,
    day: Date,
}

impl Bench<'_> {
    fn runs(&mut self, high: &[RatedOutput]) -> Vec<Run> {
        let ports = &self.sketch.ports;
        let low = lowest_condition(ports);
        let single = ports.len() == 1;
        let label = |outputs: &[RatedOutput]| {
            let top = outputs.iter().map(|r| r.voltage_v).fold(0.0, f64::max);
            if single {
                format!("{top} V")
            } else {
                format!("all ports, {top} V")
            }
        };
        if self.sketch.programme == Programme::Aborted {
            let name = label(high);
            let mut run = self.run(&name, AMERICAN, high, &PROGRAMME_PERCENTS[..4]);
            run.no_load = None;
            return vec![run];
        }
        let mut conditions = vec![(label(high), high.to_vec())];
        for &voltage_v in &self.sketch.also_at_v {
            if let Some(mode) = fixed(&ports[0]).find(|m| (m.0 - voltage_v).abs() < 0.01) {
                let outputs = vec![rated(&ports[0], mode)];
                conditions.push((label(&outputs), outputs));
            }
        }
        if ports.iter().any(Port::negotiates) {
            conditions.push((label(&low), low));
        }
        for &alone in &self.sketch.also_alone {
            if let Some(port) = ports.iter().find(|p| p.label == alone) {
                let output = rated(port, fixed_extreme(port, true));
                conditions.push((
                    format!("{alone} alone, {} V", output.voltage_v),
                    vec![output],
                ));
            }
        }
        let mut runs = Vec::new();
        for supply in [AMERICAN, EUROPEAN] {
            for (name, outputs) in &conditions {
                runs.push(self.run(name, supply, outputs, &PROGRAMME_PERCENTS));
            }
            self.day += Duration::days(1);
        }
        runs
    }

    fn run(
        &mut self,
        condition: &str,
        supply: Supply,
        rated: &[RatedOutput],
        percents: &[f64],
    ) -> Run {
        let ambient_c = decimals(22.0 + 1.9 * self.chance.bell(), 1);
        let points = percents
            .iter()
            .map(|&p| self.point(supply, rated, p))
            .collect();
        Run {
            name: format!("{condition} on {} V", supply.voltage_v),
            tested_on: Some(self.day.to_string()),
            ambient_c: Some(ambient_c),
            line: Line {
                voltage_v: supply.voltage_v,
                frequency_hz: supply.frequency_hz,
            },
            rated_outputs: rated.to_vec(),
            points,
            no_load: Some(self.no_load(supply)),
            waveforms: Vec::new(),
        }
    }

    fn point(&mut self, supply: Supply, rated: &[RatedOutput], percent: f64) -> Point {
        let targets = allocate(rated, self.sketch.output_power_w, percent / 100.0);
        let mut truth = Vec::with_capacity(rated.len());
        for (output, target_a) in rated.iter().zip(targets) {
            let mut current_a = target_a * (1.0 + 0.002 * self.chance.bell());
            let mut voltage_v = self.design.terminal_voltage_v(output.voltage_v, current_a);
            if let Some((port, held)) = self.sketch.gives_up
                && port == output.port
                && percent > 99.0
                && (output.voltage_v - self.design.top_voltage_v).abs() < 0.01
            {
                current_a *= held;
                voltage_v *= 0.975;
            }
            truth.push((voltage_v, current_a));
        }
        let input_w = self.design.input_power_w(supply, &truth);
        let shape = self.design.shape(supply, input_w);
        let line_v = supply.voltage_v * (1.0 + 0.003 * self.chance.bell());
        let line_a = input_w / (line_v * shape.power_factor);

        let power_w = self.read(MeasuredQuantity::InputPowerW, input_w);
        let voltage_v = self.read(MeasuredQuantity::InputVoltageV, line_v);
        let current_a = self.read(MeasuredQuantity::InputCurrentA, line_a);
        Point {
            load_percent: percent,
            input: Some(Input {
                voltage_v: Some(voltage_v),
                current_a: Some(current_a),
                power_w: Some(power_w),
                power_factor: Some(decimals(power_w / (voltage_v * current_a), 3)),
                current_thd_percent: Some(decimals(
                    100.0 * shape.thd * (1.0 + 0.01 * self.chance.bell()),
                    1,
                )),
                current_peak_a: Some(rounded(
                    current_a * shape.crest * (1.0 + 0.012 * self.chance.bell()),
                    MeasuredQuantity::InputCurrentA,
                )),
            }),
            outputs: rated
                .iter()
                .zip(truth)
                .map(|(output, (voltage_v, current_a))| Output {
                    port: output.port.clone(),
                    voltage_v: Some(self.read(MeasuredQuantity::OutputVoltageV, voltage_v)),
                    current_a: Some(self.read(MeasuredQuantity::OutputCurrentA, current_a)),
                })
                .collect(),
            log: None,
            log_from_s: None,
            log_to_s: None,
        }
    }

    fn no_load(&mut self, supply: Supply) -> NoLoad {
        let (power_w, current_a, crest) = self.design.idle(supply);
        let power_w = self.read(MeasuredQuantity::NoLoadPowerW, power_w);
        let current_a = self.read(MeasuredQuantity::InputCurrentA, current_a);
        NoLoad {
            power_w: Some(power_w),
            current_a: Some(current_a),
            power_factor: Some(decimals(power_w / (supply.voltage_v * current_a), 4)),
            current_peak_a: Some(rounded(current_a * crest, MeasuredQuantity::InputCurrentA)),
            log: None,
            log_from_s: None,
            log_to_s: None,
        }
    }

    /// A reading with an error well inside the meter's accuracy, rounded to its resolution.
    fn read(&mut self, quantity: MeasuredQuantity, truth: f64) -> f64 {
        let error = 0.25 * accuracy(quantity, truth) * self.chance.bell();
        rounded(truth + error, quantity)
    }

    fn temperature(&mut self, full: &[(f64, f64)]) -> Temperature {
        let load_w: f64 = full.iter().map(|(v, i)| v * i).sum();
        let loss_w = self.design.input_power_w(AMERICAN, full) - load_w;
        let ambient_c = 22.0 + 1.9 * self.chance.bell();
        let mean_rise_k = self.design.surface_rise_k(loss_w);
        Temperature {
            load_w: Some(decimals(load_w, 1)),
            minutes: Some(self.chance.pick(&[45.0, 60.0, 60.0, 90.0])),
            ambient_c: Some(decimals(ambient_c, 1)),
            surface_c: Some(decimals(ambient_c + mean_rise_k, 1)),
            hot_spot_c: Some(decimals(
                ambient_c + mean_rise_k * self.design.hot_spot_over_mean,
                1,
            )),
            material: Some(Material::Plastic),
            place: Some(
                self.chance
                    .pick(&[
                        "top face",
                        "port side",
                        "long side by the label",
                        "face with the prongs",
                    ])
                    .to_owned(),
            ),
        }
    }

    fn overloads(&mut self, high: &[RatedOutput]) -> Vec<Overload> {
        let nameplate_w = self.sketch.output_power_w;
        self.sketch
            .overloads
            .iter()
            .filter_map(|trip| {
                let output = high.iter().find(|r| r.port == trip.port)?;
                let rated_a = output.current_a.min(nameplate_w / output.voltage_v);
                let trip_a = rated_a * trip.at;
                let last_good_a = trip_a - 0.05;
                let last_good_v = self
                    .design
                    .terminal_voltage_v(output.voltage_v, last_good_a);
                Some(Overload {
                    port: trip.port.to_owned(),
                    voltage_v: Some(output.voltage_v),
                    rated_current_a: Some(decimals(rated_a, 3)),
                    trip_current_a: Some(decimals(trip_a, 2)),
                    last_good_power_w: Some(decimals(last_good_v * last_good_a, 1)),
                    recovery: Some(trip.recovery),
                    other_ports: Some(trip.other_ports),
                    steps: Vec::new(),
                    protection: None,
                    recovery_s: None,
                    short_circuit_input_power_w: None,
                    line_voltage_v: None,
                })
            })
            .collect()
    }
}

/// The meters of the imaginary bench, larger ranges first: the last that holds a reading applies.
fn instruments() -> Vec<Instrument> {
    use MeasuredQuantity::*;
    let row = |name: &str, quantity, reading_percent, range_percent, range| Instrument {
        name: Some(name.to_owned()),
        quantity,
        reading_percent,
        range_percent,
        range: Some(range),
        fixed: 0.0,
    };
    let mains =
        |quantity, range_percent, range| row("mains analyser", quantity, 0.1, range_percent, range);
    vec![
        mains(InputPowerW, 0.05, 600.0),
        mains(InputPowerW, 0.05, 150.0),
        mains(InputPowerW, 0.05, 15.0),
        mains(NoLoadPowerW, 0.1, 3.0),
        mains(InputVoltageV, 0.05, 300.0),
        mains(InputCurrentA, 0.05, 10.0),
        mains(InputCurrentA, 0.05, 1.0),
        mains(InputCurrentA, 0.05, 0.1),
        row("electronic load", OutputVoltageV, 0.025, 0.005, 80.0),
        row("electronic load", OutputVoltageV, 0.025, 0.01, 18.0),
        row("electronic load", OutputCurrentA, 0.05, 0.02, 20.0),
        row("electronic load", OutputCurrentA, 0.05, 0.02, 2.0),
        Instrument {
            name: Some("thermocouple logger".to_owned()),
            quantity: TemperatureC,
            reading_percent: 0.0,
            range_percent: 0.0,
            range: None,
            fixed: 1.1,
        },
    ]
}

/// Half-width of the accuracy statement that holds for a reading (the rows of [`instruments`]).
fn accuracy(quantity: MeasuredQuantity, reading: f64) -> f64 {
    use MeasuredQuantity::*;
    let within = |ranges: &[f64]| {
        let widest = ranges[0];
        ranges
            .iter()
            .copied()
            .filter(|&r| reading <= r)
            .fold(widest, f64::min)
    };
    let (reading_percent, range_percent, range) = match quantity {
        InputPowerW => (0.1, 0.05, within(&[600.0, 150.0, 15.0])),
        NoLoadPowerW => (0.1, 0.1, 3.0),
        InputVoltageV => (0.1, 0.05, 300.0),
        InputCurrentA => (0.1, 0.05, within(&[10.0, 1.0, 0.1])),
        OutputVoltageV if reading <= 18.0 => (0.025, 0.01, 18.0),
        OutputVoltageV => (0.025, 0.005, 80.0),
        OutputCurrentA => (0.05, 0.02, within(&[20.0, 2.0])),
        TemperatureC => return 1.1,
    };
    reading_percent / 100.0 * reading + range_percent / 100.0 * range
}

/// Rounds to what the meter displays: five digits of the range in use.
fn rounded(reading: f64, quantity: MeasuredQuantity) -> f64 {
    use MeasuredQuantity::*;
    let places = match quantity {
        InputPowerW if reading < 15.0 => 3,
        InputPowerW if reading < 150.0 => 2,
        InputPowerW => 1,
        NoLoadPowerW => 4,
        InputVoltageV => 2,
        InputCurrentA if reading < 0.1 => 5,
        InputCurrentA if reading < 1.0 => 4,
        InputCurrentA => 3,
        OutputVoltageV => 3,
        OutputCurrentA if reading < 2.0 => 4,
        OutputCurrentA => 3,
        TemperatureC => 1,
    };
    decimals(reading, places)
}

/// Rounded to decimal places, as the nearest float to the decimal, so that it prints short.
pub(super) fn decimals(value: f64, places: i32) -> f64 {
    let scale = 10f64.powi(places);
    (value * scale).round() / scale
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ports_that_ask_too_much_together_are_derated_in_proportion() {
        // Worked example of the method: 100 W, two C ports 20 V 5 A and an A port 5 V 4.5 A.
        let rated = |port: &str, voltage_v, current_a| RatedOutput {
            port: port.to_owned(),
            voltage_v,
            current_a,
        };
        let outputs = [
            rated("C1", 20.0, 5.0),
            rated("C2", 20.0, 5.0),
            rated("A", 5.0, 4.5),
        ];
        let full = allocate(&outputs, 100.0, 1.0);
        assert!((full[0] - 2.247191).abs() < 1e-6 && (full[2] - 2.022472).abs() < 1e-6);
        let low = [
            rated("C1", 5.0, 2.0),
            rated("C2", 5.0, 2.0),
            rated("A", 5.0, 4.5),
        ];
        assert_eq!(allocate(&low, 100.0, 0.75), [1.5, 1.5, 3.375]);
    }

    #[test]
    fn the_accuracy_used_for_noise_is_the_one_that_is_written_down() {
        for (quantity, reading) in [
            (MeasuredQuantity::InputPowerW, 120.0),
            (MeasuredQuantity::InputPowerW, 9.0),
            (MeasuredQuantity::InputCurrentA, 0.09),
            (MeasuredQuantity::OutputVoltageV, 20.0),
            (MeasuredQuantity::OutputVoltageV, 5.1),
            (MeasuredQuantity::OutputCurrentA, 3.2),
            (MeasuredQuantity::NoLoadPowerW, 0.1),
            (MeasuredQuantity::TemperatureC, 50.0),
        ] {
            let rows = instruments();
            let row = rows
                .iter()
                .rfind(|r| r.quantity == quantity && r.range.is_none_or(|range| reading <= range))
                .expect("a row holds the reading");
            let stated = row.reading_percent / 100.0 * reading
                + row.range_percent / 100.0 * row.range.unwrap_or(0.0)
                + row.fixed;
            assert!(
                (stated - accuracy(quantity, reading)).abs() < 1e-12,
                "{quantity:?} {reading}"
            );
        }
    }
}
