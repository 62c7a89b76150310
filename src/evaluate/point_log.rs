//! A load point from a section of a log: the averages of all that the log holds, how far chance
//! moves them, and whether the input power stood still as the procedure asks.

use super::course::Course;
use super::evaluation::{PointLog, QuantityScatter};
use super::scatter;
use crate::bench::record::{Input, Log, LogQuantity, Output};
use crate::log::{Reading, Trace};
use crate::quantity::divisor;
use crate::standards::LowPower;
use serde::{Deserialize, Serialize};

/// What a section of a log says of a load point. Times are seconds from the log's first row.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PointFindings {
    pub from_s: f64,
    pub to_s: f64,
    pub samples: u64,
    pub interval_s: f64,
    pub quantities: Vec<Averaged>,
    /// (max - min) / max of the input power over the section, in percent; null without that column.
    pub input_drift_percent: Option<f64>,
}

/// Average of one quantity over the section.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Averaged {
    pub quantity: LogQuantity,
    /// Port label, as the log's layout names it.
    pub port: Option<String>,
    pub mean: f64,
    /// Standard uncertainty of the mean from the scatter; null where the section is too short to
    /// tell any.
    pub u: Option<f64>,
    pub degrees_of_freedom: Option<f64>,
}

impl Averaged {
    /// The average of a trace between two moments; `None` where it has nothing there.
    pub fn between(
        quantity: LogQuantity,
        port: Option<String>,
        trace: &Trace,
        from_s: f64,
        to_s: f64,
    ) -> Option<Averaged> {
        let course = Course::of(trace)?;
        let mean = course.mean(from_s, to_s)?;
        let blocks = scatter::BLOCKS.min(course.cells(from_s, to_s).max(1));
        let found = scatter::of_mean(&course.block_means(from_s, to_s, blocks));
        Some(Averaged {
            quantity,
            port,
            mean,
            u: found.map(|s| s.u),
            degrees_of_freedom: found.map(|s| s.degrees_of_freedom),
        })
    }
}

impl PointFindings {
    /// Averages every quantity of a section but raw samples of the line.
    ///
    /// # Errors
    /// A sentence that says why the section says nothing.
    pub fn of(reading: &Reading) -> Result<PointFindings, String> {
        let traces = || {
            reading.columns.iter().filter(|(quantity, ..)| {
                !matches!(
                    quantity,
                    LogQuantity::LineVoltageSampleV | LogQuantity::LineCurrentSampleA
                )
            })
        };
        let first = traces()
            .map(|(.., trace)| trace)
            .find(|trace| !trace.is_empty())
            .ok_or("the section holds no readings")?;
        let course = Course::of(first).ok_or("the section holds no readings")?;
        let (from_s, to_s) = (course.from_s(), course.to_s());
        Ok(PointFindings {
            from_s,
            to_s,
            samples: first.samples,
            interval_s: first.interval_s,
            quantities: traces()
                .filter_map(|(quantity, port, trace)| {
                    Averaged::between(*quantity, port.clone(), trace, from_s, to_s)
                })
                .collect(),
            input_drift_percent: reading
                .trace(LogQuantity::InputPowerW, None)
                .and_then(|power| drift_percent(power, from_s, to_s)),
        })
    }

    /// The average of a quantity. A log's output column without a port belongs to the only port
    /// that the run loads.
    pub fn average(
        &self,
        quantity: LogQuantity,
        port: Option<&str>,
        only_port: Option<&str>,
    ) -> Option<&Averaged> {
        self.quantities
            .iter()
            .find(|a| a.quantity == quantity && port_of(a, only_port) == port)
    }

    /// Labels of the ports that the section holds an output of.
    pub fn ports(&self, only_port: Option<&str>) -> Vec<String> {
        let mut ports: Vec<String> = Vec::new();
        for average in self.quantities.iter().filter(|a| is_output(a.quantity)) {
            if let Some(port) = port_of(average, only_port)
                && !ports.iter().any(|p| p == port)
            {
                ports.push(port.to_owned());
            }
        }
        ports
    }

    /// Puts the averages in place of the typed readings of the input.
    pub fn read_input(&self, input: &mut Input) {
        let read = |slot: &mut Option<f64>, quantity| {
            if let Some(average) = self.average(quantity, None, None) {
                *slot = Some(average.mean);
            }
        };
        read(&mut input.power_w, LogQuantity::InputPowerW);
        read(&mut input.voltage_v, LogQuantity::InputVoltageV);
        read(&mut input.current_a, LogQuantity::InputCurrentA);
        read(&mut input.power_factor, LogQuantity::PowerFactor);
        read(
            &mut input.current_thd_percent,
            LogQuantity::CurrentThdPercent,
        );
        read(&mut input.current_peak_a, LogQuantity::InputCurrentPeakA);
    }

    /// Puts the averages in place of the typed readings of one output. A log that holds the power
    /// and one of voltage and current tells the other.
    pub fn read_output(&self, output: &mut Output, only_port: Option<&str>) {
        let port = output.port.clone();
        let mean = |quantity| {
            self.average(quantity, Some(&port), only_port)
                .map(|a| a.mean)
        };
        let (voltage_v, current_a) = (
            mean(LogQuantity::OutputVoltageV),
            mean(LogQuantity::OutputCurrentA),
        );
        output.voltage_v = voltage_v.or(output.voltage_v);
        output.current_a = current_a.or(output.current_a);
        let quotient = |power: f64, by: Option<f64>| by.and_then(divisor).map(|x| power / x);
        if let Some(power) = mean(LogQuantity::OutputPowerW) {
            if current_a.is_none() {
                output.current_a = quotient(power, output.voltage_v).or(output.current_a);
            } else if voltage_v.is_none() {
                output.voltage_v = quotient(power, output.current_a).or(output.voltage_v);
            }
        }
    }

    /// What the evaluation says of the section.
    pub fn log(&self, log: &Log, multiple: bool, rules: &LowPower) -> PointLog {
        let (stable, stability) = self.stability(multiple, rules);
        PointLog {
            name: log.name.clone(),
            sha256: log.sha256.clone(),
            from_s: self.from_s,
            to_s: self.to_s,
            samples: self.samples,
            stable,
            stability,
            scatter: self
                .quantities
                .iter()
                .map(|a| QuantityScatter {
                    quantity: word(a.quantity),
                    port: a.port.clone(),
                    mean: a.mean,
                    u: a.u,
                    degrees_of_freedom: a.degrees_of_freedom,
                })
                .collect(),
        }
    }

    /// Did the input power keep within the procedure's drift, and was it watched as long as the
    /// procedure asks?
    fn stability(&self, multiple: bool, rules: &LowPower) -> (bool, String) {
        let rule = &rules.five_minute;
        let allowed = if multiple {
            rule.drift_percent_multiple
        } else {
            rule.drift_percent
        };
        let Some(drift) = self.input_drift_percent else {
            return (
                false,
                "the log holds no input power, by which stability is judged".to_owned(),
            );
        };
        let minutes = (self.to_s - self.from_s) / 60.0;
        let seen = format!(
            "over {minutes:.1} min the input power drifts by {drift:.2} % of its largest value, {allowed} % allowed"
        );
        // The last sample of five minutes is one interval short of them.
        if minutes + self.interval_s / 60.0 < rule.minutes * (1.0 - 1e-6) {
            return (
                false,
                format!(
                    "{seen}, but the procedure watches it for {} min ({})",
                    rule.minutes, rule.clause
                ),
            );
        }
        if drift <= allowed {
            (true, format!("{seen} ({})", rule.clause))
        } else {
            (
                false,
                format!("{seen}: not stable, the average holds ({})", rule.clause),
            )
        }
    }
}

/// (max - min) / max between two moments, in percent; `None` without a positive value there.
pub fn drift_percent(trace: &Trace, from_s: f64, to_s: f64) -> Option<f64> {
    let first = trace.t_s.partition_point(|&t| t < from_s);
    let end = trace.t_s.partition_point(|&t| t <= to_s);
    let most = trace
        .max
        .get(first..end)?
        .iter()
        .copied()
        .reduce(f64::max)?;
    let least = trace.min[first..end].iter().copied().reduce(f64::min)?;
    (most > 0.0).then(|| (most - least) / most * 100.0)
}

fn is_output(quantity: LogQuantity) -> bool {
    matches!(
        quantity,
        LogQuantity::OutputVoltageV | LogQuantity::OutputCurrentA | LogQuantity::OutputPowerW
    )
}

fn port_of<'a>(average: &'a Averaged, only_port: Option<&'a str>) -> Option<&'a str> {
    match &average.port {
        Some(port) => Some(port),
        None if is_output(average.quantity) => only_port,
        None => None,
    }
}

/// The word of a quantity in documents, such as `input_power_w`.
pub fn word(quantity: LogQuantity) -> String {
    match serde_json::to_value(quantity) {
        Ok(serde_json::Value::String(word)) => word,
        _ => unreachable!("a quantity is written as its word"),
    }
}
