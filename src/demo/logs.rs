//! Invented instrument logs of some units of the collection, so that a demonstration shows how
//! figures are borne out by raw data: idle power that settles, cycles or flickers about its limit,
//! a stepped load, and sampled voltage and current. Each log's averages are the readings that its
//! record has anyway.

use super::chance::Chance;
use super::measure::decimals;
use crate::bench::record::{
    DateOrder, DecimalMark, Delimiter, Encoding, Layout, Log, LogColumn, LogQuantity, Record, Run,
    TimeColumn, TimeForm, Waveform,
};
use crate::quantity::words::hex;
use sha2::{Digest, Sha256};
use std::f64::consts::{FRAC_PI_2, SQRT_2, TAU};
use std::fmt::Write;

/// A raw file: what an instrument would have written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DemoLog {
    pub name: String,
    pub bytes: Vec<u8>,
}

impl DemoLog {
    /// As a record names it.
    fn entry(&self, layout: Layout) -> Log {
        Log {
            name: self.name.clone(),
            sha256: hex(Sha256::digest(&self.bytes)),
            size_bytes: self.bytes.len() as u64,
            layout,
        }
    }
}

/// Logs of a record of the collection, which it then refers to; most have none.
pub(super) fn attach(record: &mut Record) -> Vec<DemoLog> {
    match record.unit.model.as_str() {
        "CT-15 Nano" => each_supply(record, |run, chance| idle(run, chance, Idle::Settling)),
        "QM-12A" => each_supply(record, |run, chance| idle(run, chance, Idle::Flickering)),
        "DM-20 Travel" => each_supply(record, |run, chance| idle(run, chance, Idle::Cycling)),
        "LF-20C" => each_supply(record, steps),
        "WX-100C" | "CT-100 Nano" => each_supply(record, waveform),
        _ => Vec::new(),
    }
}

type Made = (String, Vec<u8>, Layout);

/// Makes a log for the first run on each line supply.
fn each_supply(record: &mut Record, make: impl Fn(&mut Run, &mut Chance) -> Made) -> Vec<DemoLog> {
    let model = record.unit.model.clone();
    let mut seen: Vec<f64> = Vec::new();
    let mut logs = Vec::new();
    for run in &mut record.runs {
        let volts = run.line.voltage_v;
        if seen.contains(&volts) {
            continue;
        }
        seen.push(volts);
        // Drawn apart from the record's own chance, which stays as it is without logs.
        let mut chance = Chance::named(&format!("log of {model} on {volts} V"));
        let (kind, bytes, layout) = make(run, &mut chance);
        let words: Vec<&str> = model.split(' ').collect();
        let name = format!("{}-{kind}-{volts}v.csv", words.join("-").to_lowercase());
        let log = DemoLog { name, bytes };
        for point in &mut run.points {
            // The section was cut; the name is known only now.
            if point.log.is_some() {
                point.log = Some(log.name.clone());
            }
        }
        for wave in &mut run.waveforms {
            wave.log = log.name.clone();
        }
        if let Some(idle) = run.no_load.as_mut().filter(|idle| idle.log.is_some()) {
            idle.log = Some(log.name.clone());
        }
        record.logs.push(log.entry(layout));
        logs.push(log);
    }
    logs
}

/// How an adapter idles.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Idle {
    /// Warm from its last load, then steady.
    Settling,
    /// Between two levels at random moments.
    Flickering,
    /// A burst every 42 s.
    Cycling,
}

/// Values with their mean over the last two thirds brought to `mean`.
fn brought_to(mean: f64, values: &mut [f64]) {
    let used = &values[values.len() / 3..];
    let off = used.iter().sum::<f64>() / used.len() as f64 - mean;
    for value in values {
        *value -= off;
    }
}

fn idle(run: &mut Run, chance: &mut Chance, kind: Idle) -> Made {
    let no_load = run.no_load.as_mut().expect("the run has an idle reading");
    no_load.log = Some(String::new());
    let mean_w = no_load.power_w.expect("idle power was read");
    let minutes = match kind {
        Idle::Settling => 40,
        Idle::Flickering => 90,
        Idle::Cycling => 45,
    };
    let mut high = false;
    let mut power_w: Vec<f64> = (0..minutes * 60)
        .map(|second| {
            let t = f64::from(second);
            let settling = 0.18 * mean_w * libm::exp(-t / 150.0);
            let pattern = match kind {
                Idle::Settling => 0.0,
                Idle::Flickering => {
                    if chance.says(1.0 / 45.0) {
                        high = !high;
                    }
                    if high {
                        0.022 * mean_w
                    } else {
                        -0.018 * mean_w
                    }
                }
                Idle::Cycling => {
                    let phase = t % 42.0;
                    if phase < 9.0 {
                        0.31 * mean_w
                    } else {
                        -0.085 * mean_w
                    }
                }
            };
            mean_w + settling + pattern + 0.004 * mean_w * chance.bell()
        })
        .collect();
    brought_to(mean_w, &mut power_w);
    let date = run.tested_on.clone().expect("the day is known");
    match kind {
        Idle::Settling => {
            let mut text = String::from("Time\tP (mW)\n");
            for (second, w) in power_w.iter().enumerate() {
                let (h, m, s) = (9 + second / 3600, second / 60 % 60, second % 60);
                let _ = writeln!(text, "{date}T{h:02}:{m:02}:{s:02}\t{:.3}", w * 1e3);
            }
            let time = TimeColumn {
                form: TimeForm::DateTime,
                column: Some(1),
                date_column: None,
                date_order: Some(DateOrder::YearFirst),
                interval_s: None,
            };
            let layout = layout(
                Delimiter::Tab,
                DecimalMark::Point,
                2,
                time,
                vec![milliwatts(2)],
            );
            ("idle".to_owned(), text.into_bytes(), layout)
        }
        Idle::Flickering => {
            let mut text = format!("Leistungsmessung;{date}\r\nBereich;3 W\r\nUhrzeit;P/mW\r\n");
            for (second, w) in power_w.iter().enumerate() {
                let (h, m, s) = (13 + second / 3600, second / 60 % 60, second % 60);
                let milliwatts = format!("{:.2}", w * 1e3).replace('.', ",");
                let _ = write!(text, "{h:02}:{m:02}:{s:02};{milliwatts}\r\n");
            }
            let time = TimeColumn {
                form: TimeForm::Clock,
                column: Some(1),
                date_column: None,
                date_order: None,
                interval_s: None,
            };
            let layout = layout(
                Delimiter::Semicolon,
                DecimalMark::Comma,
                4,
                time,
                vec![milliwatts(2)],
            );
            ("idle".to_owned(), text.into_bytes(), layout)
        }
        Idle::Cycling => {
            let amps = no_load.current_a.expect("idle current was read");
            let peak = no_load.current_peak_a.expect("peak current was read");
            let volts = run.line.voltage_v;
            let mut text = String::from("elapsed_s,p_w,i_rms_a,i_peak_a,pf\n");
            for (second, w) in power_w.iter().enumerate() {
                let a = amps * (1.0 + 0.002 * chance.bell());
                let top = peak * (1.0 + 0.01 * chance.bell());
                let _ = writeln!(
                    text,
                    "{second},{w:.5},{a:.5},{top:.4},{:.4}",
                    w / (a * volts)
                );
            }
            let columns = vec![
                column(2, LogQuantity::InputPowerW),
                column(3, LogQuantity::InputCurrentA),
                column(4, LogQuantity::InputCurrentPeakA),
                column(5, LogQuantity::PowerFactor),
            ];
            let layout = layout(Delimiter::Comma, DecimalMark::Point, 2, seconds(1), columns);
            ("idle".to_owned(), text.into_bytes(), layout)
        }
    }
}

/// Seconds between rows of a stepped load's log.
const STEP_ROWS_S: usize = 2;

/// Half an hour of warming up at full load, then five minutes at each load, with three minutes in
/// between for it to settle.
fn steps(run: &mut Run, chance: &mut Chance) -> Made {
    let port = run.rated_outputs[0].port.clone();
    let mut text = String::from("t,Pin,Uin,Iin,PF,Uout,Iout\ns,W,V,A,,V,A\n");
    let mut now = 0;
    for (step, point) in run.points.iter_mut().enumerate() {
        let input = point.input.as_ref().expect("every point has an input");
        let output = &point.outputs[0];
        let read = [
            input.power_w,
            input.voltage_v,
            input.current_a,
            input.power_factor,
            output.voltage_v,
            output.current_a,
        ]
        .map(|value| value.expect("every quantity was read"));
        let (before, after) = (if step == 0 { 1_800 } else { 180 }, 300);
        let rows: Vec<[f64; 6]> = (0..(before + after) / STEP_ROWS_S)
            .map(|row| {
                let t = (row * STEP_ROWS_S) as f64;
                // It needs a little more while it warms up; all but over after three time constants.
                let warming = 1.0 + 0.006 * libm::exp(-t / if step == 0 { 500.0 } else { 30.0 });
                let mut noise = |share: f64| 1.0 + share * chance.bell();
                let power = read[0] * warming * noise(4e-4);
                let volts = read[1] * noise(2e-4);
                let amps = read[2] * warming * noise(5e-4);
                [
                    power,
                    volts,
                    amps,
                    read[3],
                    read[4] * noise(1e-4),
                    read[5] * noise(1e-4),
                ]
            })
            .collect();
        let section = &rows[before / STEP_ROWS_S..];
        let mean = |n: usize| section.iter().map(|row| row[n]).sum::<f64>() / section.len() as f64;
        let factors: Vec<f64> = (0..6).map(|n| read[n] / mean(n)).collect();
        for (row, values) in rows.iter().enumerate() {
            let v = |n: usize| values[n] * factors[n];
            let _ = writeln!(
                text,
                "{},{:.4},{:.3},{:.5},{:.4},{:.4},{:.5}",
                now + row * STEP_ROWS_S,
                v(0),
                v(1),
                v(2),
                v(3),
                v(4),
                v(5)
            );
        }
        point.log = Some(String::new());
        point.log_from_s = Some((now + before) as f64);
        now += before + after;
        // The last row of the section, so that sections don't touch.
        point.log_to_s = Some((now - STEP_ROWS_S) as f64);
    }
    let of_port = |n, quantity| LogColumn {
        port: Some(port.clone()),
        ..column(n, quantity)
    };
    let columns = vec![
        column(2, LogQuantity::InputPowerW),
        column(3, LogQuantity::InputVoltageV),
        column(4, LogQuantity::InputCurrentA),
        column(5, LogQuantity::PowerFactor),
        of_port(6, LogQuantity::OutputVoltageV),
        of_port(7, LogQuantity::OutputCurrentA),
    ];
    let layout = layout(Delimiter::Comma, DecimalMark::Point, 3, seconds(1), columns);
    ("steps".to_owned(), text.into_bytes(), layout)
}

/// Samples a second of the recorder, and how long it recorded.
const SAMPLES_PER_S: f64 = 12_500.0;
const WAVEFORM_S: f64 = 0.22;

/// A turn of the voltage in so many steps, for means over it.
const TURN: usize = 4_096;

/// Mean over a turn.
fn mean_over_turn(of: impl Fn(f64) -> f64) -> f64 {
    let angles = (0..TURN).map(|n| TAU * (n as f64 + 0.5) / TURN as f64);
    angles.map(of).sum::<f64>() / TURN as f64
}

/// Voltage over its r.m.s.: a little flattened, as ordinary mains is.
fn mains(theta: f64) -> f64 {
    let harmonics = 0.012 * libm::sin(3.0 * theta) - 0.009 * libm::sin(5.0 * theta);
    SQRT_2 * (libm::sin(theta) + harmonics)
}

/// Shape of a current: pulses into a capacitor about the peaks of the voltage, half so wide in
/// radians; or nearly a sine that leads by so much.
#[derive(Debug, Clone, Copy)]
enum Current {
    Pulses(f64),
    Leading(f64),
}

impl Current {
    fn at(self, theta: f64) -> f64 {
        match self {
            Current::Pulses(half) => {
                let from_peak = libm::remainder(theta - FRAC_PI_2, TAU / 2.0);
                if from_peak.abs() < half {
                    libm::cos(FRAC_PI_2 * from_peak / half) * libm::sin(theta).signum()
                } else {
                    0.0
                }
            }
            Current::Leading(lead) => {
                libm::sin(theta + lead)
                    + 0.35 * lead * libm::sin(3.0 * theta)
                    + 0.15 * lead * libm::sin(5.0 * theta)
            }
        }
    }

    fn power_factor(self) -> f64 {
        let square = mean_over_turn(|theta| self.at(theta) * self.at(theta));
        mean_over_turn(|theta| mains(theta) * self.at(theta)) / square.sqrt()
    }

    /// The shape that has a power factor, found by halving an interval: a narrower pulse and a
    /// longer lead have the lower one.
    fn of(power_factor: f64) -> Current {
        let (shape, mut low, mut high): (fn(f64) -> Current, f64, f64) = if power_factor < 0.8 {
            (Current::Pulses, 0.1, FRAC_PI_2)
        } else {
            (Current::Leading, 0.9, 0.0)
        };
        for _ in 0..30 {
            let middle = 0.5 * (low + high);
            if shape(middle).power_factor() < power_factor {
                low = middle;
            } else {
                high = middle;
            }
        }
        shape(0.5 * (low + high))
    }

    /// THD over orders 2 to 40, relative to the fundamental.
    fn thd(self) -> f64 {
        let amplitude = |order: f64| {
            libm::hypot(
                mean_over_turn(|theta| self.at(theta) * libm::cos(order * theta)),
                mean_over_turn(|theta| self.at(theta) * libm::sin(order * theta)),
            )
        };
        let rest: f64 = (2..=40)
            .map(|order| amplitude(f64::from(order)))
            .map(|amplitude| amplitude * amplitude)
            .sum();
        rest.sqrt() / amplitude(1.0)
    }
}

/// Voltage and current at full load, of the power, power factor and voltage that the analyser read.
fn waveform(run: &mut Run, chance: &mut Chance) -> Made {
    let point = &mut run.points[0];
    let input = point.input.as_mut().expect("every point has an input");
    let [volts, power, factor] = [input.voltage_v, input.power_w, input.power_factor]
        .map(|value| value.expect("every quantity was read"));
    let current = Current::of(factor);
    let scale = power / (volts * mean_over_turn(|theta| mains(theta) * current.at(theta)));
    let hertz = run.line.frequency_hz * (1.0 + 0.0004 * chance.bell());
    let begin = chance.between(0.0, TAU);
    let mut text = String::from("t_s,u_v,i_a\n");
    let mut peak = 0.0f64;
    for n in 0..(SAMPLES_PER_S * WAVEFORM_S) as usize {
        let t = n as f64 / SAMPLES_PER_S;
        let theta = begin + TAU * hertz * t;
        let u = volts * mains(theta) + 0.03 * chance.bell();
        let i = scale * current.at(theta) + 1e-3 * chance.bell();
        peak = peak.max(i.abs());
        let _ = writeln!(text, "{t:.5},{u:.2},{i:.4}");
    }
    // The analyser saw the same current.
    input.current_thd_percent = Some(decimals(100.0 * current.thd(), 1));
    input.current_peak_a = Some(decimals(peak, 3));
    let load_percent = point.load_percent;
    run.waveforms.push(Waveform {
        log: String::new(),
        load_percent,
        log_from_s: None,
        log_to_s: None,
    });
    let columns = vec![
        column(2, LogQuantity::LineVoltageSampleV),
        column(3, LogQuantity::LineCurrentSampleA),
    ];
    let layout = layout(Delimiter::Comma, DecimalMark::Point, 2, seconds(1), columns);
    ("waveform".to_owned(), text.into_bytes(), layout)
}

fn layout(
    delimiter: Delimiter,
    decimal: DecimalMark,
    first_line: u32,
    time: TimeColumn,
    columns: Vec<LogColumn>,
) -> Layout {
    Layout {
        encoding: Encoding::Utf8,
        delimiter,
        decimal,
        first_line,
        time,
        columns,
    }
}

fn seconds(column: u32) -> TimeColumn {
    TimeColumn {
        form: TimeForm::Seconds,
        column: Some(column),
        date_column: None,
        date_order: None,
        interval_s: None,
    }
}

fn column(column: u32, quantity: LogQuantity) -> LogColumn {
    LogColumn {
        column,
        quantity,
        port: None,
        factor: None,
    }
}

fn milliwatts(n: u32) -> LogColumn {
    LogColumn {
        factor: Some(0.001),
        ..column(n, LogQuantity::InputPowerW)
    }
}
