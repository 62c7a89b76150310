//! The steps of a stepped load in a log: where each lasts, where in it the power stands still, what
//! the averages are there, and which load point of a run it is.

use super::course::Course;
use super::point_log::{Averaged, drift_percent};
use crate::bench::record::{LogQuantity, Run};
use crate::log::{Reading, Trace};
use crate::quantity::divisor;
use crate::standards::LowPower;

/// Points that steps are looked for in; a longer log is averaged together.
const MOST_POINTS: f64 = 20_000.0;
/// A change of level is a step from this share of the whole range on.
const STEP_SHARE: f64 = 0.05;
/// With less between its lowest and highest level, relative to the latter, a log has no steps.
const LEAST_RANGE: f64 = 0.03;
/// So many points must lie off a level before it is left: one alone is a spike.
const POINTS_OFF: usize = 3;
/// The level that a point is compared with is the mean of so many before it.
const POINTS_OF_LEVEL: usize = 15;
/// What lasts shorter is a way from one level to the next, in seconds.
const LEAST_STEP_S: f64 = 20.0;
/// Edges of a step that are never used, in seconds: the load is still changing.
const EDGE_S: f64 = 2.0;
/// The stable window is looked at in pieces of this length, in seconds.
const PIECE_S: f64 = 30.0;
/// Loads that a run may have beside its own points, percent.
const USUAL_LOADS: [f64; 5] = [100.0, 75.0, 50.0, 25.0, 10.0];
/// A step further from every load than this is none of them, in percentage points.
const LOAD_TOLERANCE: f64 = 5.0;
/// A level below this share of the highest is no load.
const NO_LOAD_SHARE: f64 = 0.02;

/// One level of a stepped load. Times are seconds from the log's first row.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// The whole plateau.
    pub from_s: f64,
    pub to_s: f64,
    /// The part of it to average over: settling and edges are left out.
    pub window_from_s: f64,
    pub window_to_s: f64,
    /// Averages over that part.
    pub quantities: Vec<Averaged>,
    /// Did the input power stand still over that part as the procedure asks?
    pub stable: bool,
    /// Why, with the figures.
    pub stability: String,
    /// Is nothing loaded? Such a step is no load point.
    pub no_load: bool,
}

impl Step {
    /// Average of a quantity, summed over the ports that the log holds it for.
    pub fn sum(&self, quantity: LogQuantity) -> Option<f64> {
        self.quantities
            .iter()
            .filter(|a| a.quantity == quantity)
            .map(|a| a.mean)
            .reduce(|sum, mean| sum + mean)
    }

    /// Output power: as logged, or voltage times current port by port.
    pub fn output_power_w(&self) -> Option<f64> {
        self.sum(LogQuantity::OutputPowerW).or_else(|| {
            let currents = || {
                self.quantities
                    .iter()
                    .filter(|a| a.quantity == LogQuantity::OutputCurrentA)
            };
            currents().next()?;
            currents()
                .map(|current| {
                    let voltage = self.quantities.iter().find(|a| {
                        a.quantity == LogQuantity::OutputVoltageV && a.port == current.port
                    })?;
                    Some(voltage.mean * current.mean)
                })
                .sum()
        })
    }
}

/// The quantity that steps are seen in best, of those that the log holds.
fn stepping(reading: &Reading) -> Option<Trace> {
    for quantity in [
        LogQuantity::OutputCurrentA,
        LogQuantity::OutputPowerW,
        LogQuantity::InputPowerW,
    ] {
        let mut traces = reading
            .columns
            .iter()
            .filter(|(q, _, trace)| *q == quantity && !trace.is_empty())
            .map(|(.., trace)| trace);
        let Some(first) = traces.next() else { continue };
        let mut sum = first.clone();
        for trace in traces {
            // Ports of one row share its time; where cells are missing the other port's nearest
            // mean stands in.
            let Some(course) = Course::of(trace) else {
                continue;
            };
            for i in 0..sum.len() {
                let half = sum.weight_s[i] / 2.0;
                let other = course
                    .mean(sum.t_s[i] - half, sum.t_s[i] + half)
                    .unwrap_or(0.0);
                sum.mean[i] += other;
            }
        }
        return Some(sum);
    }
    None
}

/// The steps of a log, in order of time. `multiple`: the unit delivers several voltages at the same
/// time, for which the procedure allows less drift. A log without steps is one step.
pub fn find(reading: &Reading, multiple: bool, rules: &LowPower) -> Vec<Step> {
    let Some(signal) = stepping(reading) else {
        return Vec::new();
    };
    let Some(course) = Course::of(&signal) else {
        return Vec::new();
    };
    let step_s = signal.interval_s.max(course.len_s() / MOST_POINTS);
    if step_s <= 0.0 {
        return Vec::new();
    }
    let points = (course.len_s() / step_s).floor() as usize;
    let mut before = None;
    let levels: Vec<f64> = (0..points)
        .filter_map(|i| {
            let begin = course.from_s() + i as f64 * step_s;
            // A gap holds the level that was last seen.
            before = course.mean(begin, begin + step_s).or(before);
            before
        })
        .collect();
    let time = |i: usize| course.from_s() + i as f64 * step_s;
    let plateaus = plateaus(&levels, (LEAST_STEP_S / step_s).max(4.0) as usize);
    let highest = plateaus
        .iter()
        .map(|&(from, to)| mean(&levels[from..to]))
        .fold(0.0, f64::max);
    plateaus
        .into_iter()
        .map(|(from, to)| {
            let level = mean(&levels[from..to]);
            step(reading, &signal, (time(from), time(to)), multiple, rules).with_no_load(
                // With the input power alone nothing tells a light load from none.
                !is_input(reading) && level <= NO_LOAD_SHARE * highest,
            )
        })
        .collect()
}

fn is_input(reading: &Reading) -> bool {
    !reading.columns.iter().any(|(quantity, _, trace)| {
        !trace.is_empty()
            && matches!(
                quantity,
                LogQuantity::OutputCurrentA | LogQuantity::OutputPowerW
            )
    })
}

impl Step {
    fn with_no_load(mut self, no_load: bool) -> Step {
        self.no_load = no_load;
        self
    }
}

/// Stretches of one level, as ranges of points.
fn plateaus(levels: &[f64], least: usize) -> Vec<(usize, usize)> {
    let smooth = medians(levels);
    let (low, high) = smooth
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), &x| {
            (low.min(x), high.max(x))
        });
    if levels.is_empty() {
        return Vec::new();
    }
    if high - low <= LEAST_RANGE * high.abs() {
        return vec![(0, levels.len())];
    }
    let off_by = STEP_SHARE * (high - low);
    let mut stretches: Vec<(usize, usize)> = Vec::new();
    let (mut begin, mut off) = (0, 0);
    for i in 1..smooth.len() {
        let end_of_level = i - off;
        let level =
            mean(&smooth[end_of_level.saturating_sub(POINTS_OF_LEVEL).max(begin)..end_of_level]);
        if (smooth[i] - level).abs() > off_by {
            off += 1;
        } else {
            off = 0;
        }
        if off >= POINTS_OFF {
            stretches.push((begin, i + 1 - off));
            begin = i + 1 - off;
            off = 0;
        }
    }
    stretches.push((begin, smooth.len()));
    let mut plateaus: Vec<(usize, usize)> = Vec::new();
    for (from, to) in stretches
        .into_iter()
        .filter(|(from, to)| to - from >= least)
    {
        match plateaus.last_mut() {
            // The same level after a short spike.
            Some((before, until))
                if (mean(&levels[*before..*until]) - mean(&levels[from..to])).abs() <= off_by =>
            {
                *until = to;
            }
            _ => plateaus.push((from, to)),
        }
    }
    plateaus
}

/// Medians of five, so that a spike makes no step.
fn medians(levels: &[f64]) -> Vec<f64> {
    (0..levels.len())
        .map(|i| {
            let mut around: Vec<f64> =
                levels[i.saturating_sub(2)..(i + 3).min(levels.len())].to_vec();
            around.sort_by(f64::total_cmp);
            around[around.len() / 2]
        })
        .collect()
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// A plateau with the window to average over: its last five minutes, and what lies before them as
/// long as it is on their level. A shorter plateau is taken whole but for its edges.
fn step(
    reading: &Reading,
    signal: &Trace,
    (from_s, to_s): (f64, f64),
    multiple: bool,
    rules: &LowPower,
) -> Step {
    let rule = &rules.five_minute;
    let allowed = if multiple {
        rule.drift_percent_multiple
    } else {
        rule.drift_percent
    };
    let edge = EDGE_S
        .max(1.5 * signal.interval_s)
        .min((to_s - from_s) / 8.0);
    let (begin, end) = (from_s + edge, to_s - edge);
    let watched = rule.minutes * 60.0;
    let input = reading
        .trace(LogQuantity::InputPowerW, None)
        .filter(|trace| !trace.is_empty());
    let judged = input.unwrap_or(signal);
    // A sample more or less does not make five minutes shorter.
    let long_enough = end - begin + signal.interval_s >= watched;
    let mut window_from = (end - watched).max(begin);
    if let Some(course) = Course::of(judged) {
        // Of a plateau of days some hundred pieces are enough.
        let piece_s = PIECE_S.max((end - begin) / 1000.0);
        let pieces = |from: f64, to: f64| {
            course.block_means(from, to, ((to - from) / piece_s).floor().max(1.0) as usize)
        };
        let late = pieces(window_from, end);
        let level = mean(&late);
        let spread =
            (late.iter().map(|m| (m - level).powi(2)).sum::<f64>() / late.len() as f64).sqrt();
        // What an analyser's display hardly shows is no settling.
        let band = (3.0 * spread).max(0.002 * level.abs());
        while window_from - piece_s >= begin
            && course
                .mean(window_from - piece_s, window_from)
                .is_some_and(|mean| (mean - level).abs() <= band)
        {
            window_from -= piece_s;
        }
    }
    // Judged over the five minutes that the procedure watches: the end of the window.
    let watched_from = (end - watched).max(window_from);
    let drift = drift_percent(judged, watched_from, end);
    let minutes = (end - watched_from) / 60.0;
    let what = if input.is_some() {
        "input power"
    } else {
        "load (the log holds no input power)"
    };
    let (stable, stability) = match drift {
        None => (false, format!("the {what} is never above zero")),
        Some(drift) => {
            let seen = format!(
                "over {minutes:.1} min the {what} drifts by {drift:.2} % of its largest value, {allowed} % allowed"
            );
            if !long_enough {
                (
                    false,
                    format!(
                        "{seen}, but the step lasts {:.1} min and the procedure watches {} min ({})",
                        (to_s - from_s) / 60.0,
                        rule.minutes,
                        rule.clause
                    ),
                )
            } else if drift > allowed {
                (false, format!("{seen}: not stable ({})", rule.clause))
            } else {
                (input.is_some(), format!("{seen} ({})", rule.clause))
            }
        }
    };
    Step {
        from_s,
        to_s,
        window_from_s: window_from,
        window_to_s: end,
        quantities: reading
            .columns
            .iter()
            .filter(|(quantity, ..)| {
                !matches!(
                    quantity,
                    LogQuantity::LineVoltageSampleV | LogQuantity::LineCurrentSampleA
                )
            })
            .filter_map(|(quantity, port, trace)| {
                Averaged::between(*quantity, port.clone(), trace, window_from, end)
            })
            .collect(),
        stable,
        stability,
        no_load: false,
    }
}

/// A step as a load point of a run.
#[derive(Debug, Clone, PartialEq)]
pub struct Assignment {
    /// Which of the steps.
    pub step: usize,
    /// Which load of the run, percent of rated.
    pub load_percent: f64,
    /// What the step reaches, percent of rated; `None` where the log does not tell.
    pub reached_percent: Option<f64>,
    /// By what it was assigned, in words.
    pub by: String,
}

/// Assigns steps to the loads of a run: by the sum of the output currents against the rated
/// currents times the `allocation` factor D, else by the output power, else, with the input power
/// alone, in the order 100, 75, 50, 25, 10 %. Of several steps at one load the one that is stable,
/// of equally stable ones the last, is taken. In order of falling load.
pub fn assign(steps: &[Step], run: &Run, allocation: f64) -> Vec<Assignment> {
    let mut loads: Vec<f64> = run.points.iter().map(|p| p.load_percent).collect();
    loads.extend(USUAL_LOADS);
    let rated_a: f64 = run.rated_outputs.iter().map(|o| o.current_a).sum::<f64>() * allocation;
    let rated_w: f64 = run
        .rated_outputs
        .iter()
        .map(|o| o.voltage_v * o.current_a)
        .sum::<f64>()
        * allocation;
    let loaded: Vec<(usize, &Step)> = steps
        .iter()
        .enumerate()
        .filter(|(_, step)| !step.no_load)
        .collect();
    let reached = |step: &Step| {
        let by_current = step
            .sum(LogQuantity::OutputCurrentA)
            .filter(|_| divisor(rated_a).is_some())
            .map(|a| (a / rated_a * 100.0, "output current"));
        by_current.or_else(|| {
            step.output_power_w()
                .filter(|_| divisor(rated_w).is_some())
                .map(|w| (w / rated_w * 100.0, "output power"))
        })
    };
    let mut assigned: Vec<Assignment> = Vec::new();
    if loaded.iter().all(|(_, step)| reached(step).is_none()) {
        // Only as many as there are loads, or the order would mean nothing.
        if loaded.len() <= USUAL_LOADS.len() {
            assigned.extend(
                loaded
                    .iter()
                    .zip(USUAL_LOADS)
                    .map(|(&(step, _), load_percent)| Assignment {
                        step,
                        load_percent,
                        reached_percent: None,
                        by: "order of the steps: the log holds no output, check it".to_owned(),
                    }),
            );
        }
        return assigned;
    }
    for (i, step) in loaded {
        let Some((percent, by)) = reached(step) else {
            continue;
        };
        let nearest = loads
            .iter()
            .copied()
            .min_by(|a, b| (a - percent).abs().total_cmp(&(b - percent).abs()));
        let Some(load_percent) = nearest.filter(|load| (load - percent).abs() <= LOAD_TOLERANCE)
        else {
            continue;
        };
        let assignment = Assignment {
            step: i,
            load_percent,
            reached_percent: Some(percent),
            by: by.to_owned(),
        };
        match assigned.iter_mut().find(|a| a.load_percent == load_percent) {
            Some(other) if step.stable >= steps[other.step].stable => *other = assignment,
            Some(_) => {}
            None => assigned.push(assignment),
        }
    }
    assigned.sort_by(|a, b| b.load_percent.total_cmp(&a.load_percent));
    assigned
}
