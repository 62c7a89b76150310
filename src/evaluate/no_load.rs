//! A no-load power from a log: which part of the record has settled, which method of the standard
//! fits it, the mean over that part and how far chance moves it.
//!
//! [`findings`] knows the log and the method's figures only: what the instrument can do and what
//! the limits are is joined by [`result`] and [`against_limit`], so that a long log is read once
//! and judged as often as limits change.

use super::course::Course;
use super::cycle::{self, Period};
use super::evaluation::{
    FiveMinute, LongerRecording, MethodTried, NoLoadAgainstLimit, NoLoadLog, NoLoadResult,
    PowerCycle, PowerTrace, PowerWindow,
};
use super::scatter::{self, Scatter};
use crate::bench::record::{Log, MeasuredQuantity};
use crate::evaluate::uncertainty::Accuracy;
use crate::log::Trace;
use crate::quantity::words::{counted, duration};
use crate::quantity::{combined, divisor};
use crate::standards::LowPower;
use serde::{Deserialize, Serialize};

/// Cells that a chart gets, at most.
const TRACE_CELLS: usize = 400;
/// With fewer samples there is nothing that could be told from chance.
const LEAST_SAMPLES: u64 = 10;
/// Beginnings that are tried for a record that had not settled when it began.
const BEGINNINGS: usize = 60;
/// Windows of five minutes that are looked at, at most: those of two weeks. Of a longer record the
/// last ones.
const MOST_WINDOWS: f64 = 4032.0;
/// How sure it must be that a beginning settles before a later part is taken instead.
const EVIDENCE: f64 = 0.99;
/// Rows further apart than this do not show what a no-load power does; the standard asks for one a
/// second (a choice of this program, common practice, no source).
const MOST_INTERVAL_S: f64 = 30.0;
/// Share of a section that may lie in gaps, and share of its rows that may be uneven.
const MOST_MISSING: f64 = 0.05;
const MOST_UNEVEN: f64 = 0.1;
/// Blocks of the part used by whose spread it is seen whether earlier blocks were at its level.
const LEVEL_BLOCKS: usize = 8;
/// Points at which the running mean is looked at.
const RUNNING_POINTS: usize = 200;

/// What a section of a log says of a no-load power. Times are seconds from the log's first row.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Findings {
    pub from_s: f64,
    pub to_s: f64,
    pub samples: u64,
    pub interval_s: f64,
    /// Word of the method that gave the figure: `cyclic`, `sampling`, `running-mean`, `average`, or
    /// `average-unsettled` where none of the standard's methods is satisfied.
    pub method: String,
    pub power_w: f64,
    pub used_from_s: f64,
    pub used_to_s: f64,
    pub settled_at_s: Option<f64>,
    pub slope_w_per_h: f64,
    pub slope_limit_w_per_h: f64,
    pub cycle: Option<PowerCycle>,
    pub scatter: MeanScatter,
    pub methods: Vec<MethodTried>,
    pub five_minute: Option<LastFiveMinutes>,
    pub windows: Vec<PowerWindow>,
    pub trace: PowerTrace,
    pub current_peak_a: Option<f64>,
    pub current_a: Option<f64>,
    pub power_factor: Option<f64>,
    /// Rows of the section that could not be read; set by whoever read them.
    pub bad_rows: u64,
}

impl Findings {
    /// Did a method of the standard give the figure?
    pub fn settled(&self) -> bool {
        self.method != UNSETTLED
    }
}

/// Word of the figure that no method of the standard bears out.
pub const UNSETTLED: &str = "average-unsettled";

/// How far chance moves the mean over the part used.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct MeanScatter {
    /// Standard uncertainty of the mean.
    pub u_w: f64,
    pub degrees_of_freedom: f64,
    pub block_s: f64,
    /// Standard uncertainty of the slope from the same scatter.
    pub slope_u_w_per_h: f64,
    pub long_enough: bool,
}

/// The last five minutes of the section.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LastFiveMinutes {
    pub from_s: f64,
    pub to_s: f64,
    /// (max - min) / max.
    pub drift_percent: f64,
    pub end_w: f64,
    pub mean_w: f64,
}

/// Other columns of the log over the same section, where it has them.
#[derive(Debug, Clone, Copy, Default)]
pub struct Beside<'a> {
    pub current_a: Option<&'a Trace>,
    pub current_peak_a: Option<&'a Trace>,
    pub power_factor: Option<&'a Trace>,
}

/// Looks at the trace of the input power over a section of a log.
///
/// # Errors
/// A sentence that says why the section holds no figure.
pub fn findings(power: &Trace, beside: Beside, rules: &LowPower) -> Result<Findings, String> {
    if power.samples < LEAST_SAMPLES {
        return Err(format!(
            "the section holds {} of the input power, at least {LEAST_SAMPLES} are needed",
            counted(power.samples as usize, "reading", "readings")
        ));
    }
    let course = Course::of(power)
        .filter(|course| course.len_s() > 0.0)
        .ok_or("the section has no length")?;
    if let Some(why) = unfit(power, course.len_s()) {
        return Err(format!("the section gives no no-load figure: {why}"));
    }
    let section = Section {
        course: &course,
        interval_s: power.interval_s,
        from_s: course.from_s(),
        to_s: course.to_s(),
        rules,
    };
    let (methods, used) = section.methods();
    let (from, to) = (used.from_s, used.to_s);
    let power_w = section.mean(from, to);
    let slope_limit_w_per_h = rules.slope.w_per_h(power_w);
    let mean_of = |trace: Option<&Trace>| Course::of(trace?)?.mean(from, to);
    Ok(Findings {
        from_s: section.from_s,
        to_s: section.to_s,
        samples: power.samples,
        interval_s: power.interval_s,
        method: used.method.to_owned(),
        power_w,
        used_from_s: from,
        used_to_s: to,
        settled_at_s: (used.method != UNSETTLED)
            .then(|| section.settled_at_s(&used, power_w).max(0.0)),
        slope_w_per_h: section.slope_w_per_h(from, to),
        slope_limit_w_per_h,
        scatter: section.scatter(&used),
        cycle: used.cycle,
        methods,
        five_minute: five_minutes(power, &section),
        windows: section.windows(),
        trace: drawn(power, &section),
        current_peak_a: beside
            .current_peak_a
            .and_then(|t| t.max.iter().copied().reduce(f64::max)),
        current_a: mean_of(beside.current_a),
        power_factor: mean_of(beside.power_factor),
        bad_rows: 0,
    })
}

/// Why a section's rows cannot bear out a mean: too far apart, too many missing, or written only
/// when something changed.
fn unfit(power: &Trace, length_s: f64) -> Option<String> {
    if power.interval_s > MOST_INTERVAL_S {
        return Some(format!(
            "its rows are {} apart; a mean needs one every {MOST_INTERVAL_S} s or more often, as what happens between them is not seen",
            duration(power.interval_s)
        ));
    }
    let missing_s: f64 = power.gaps_s.iter().map(|(from, to)| to - from).sum();
    if missing_s > MOST_MISSING * length_s {
        return Some(format!(
            "rows are missing for {} of its {}; cut a section without the gaps",
            duration(missing_s),
            duration(length_s)
        ));
    }
    // Cells of a long log are even by making.
    if power.samples == power.len() as u64 {
        let steps = power.t_s.windows(2).map(|pair| pair[1] - pair[0]);
        let uneven = steps
            .filter(|step| (step - power.interval_s).abs() > power.interval_s / 2.0)
            .count();
        if uneven as f64 > MOST_UNEVEN * power.len() as f64 {
            return Some(
                "its rows come at uneven times, as of a logger that writes changes only; how long each reading held is not known"
                    .to_owned(),
            );
        }
    }
    None
}

/// The section of the log and the rules it is looked at by.
struct Section<'a> {
    course: &'a Course,
    interval_s: f64,
    from_s: f64,
    to_s: f64,
    rules: &'a LowPower,
}

/// A part of the section that gives the figure.
#[derive(Debug, Clone)]
struct Part {
    method: &'static str,
    from_s: f64,
    to_s: f64,
    cycle: Option<PowerCycle>,
}

/// A method that was tried: what it gives, or why it gives nothing.
type Tried = Result<(Part, String), (String, Option<f64>)>;

impl Section<'_> {
    fn len_s(&self) -> f64 {
        self.to_s - self.from_s
    }

    /// Mean over a part of the section; where a gap swallows it whole, over all of it.
    fn mean(&self, from_s: f64, to_s: f64) -> f64 {
        self.course
            .mean(from_s, to_s)
            .or_else(|| self.course.mean(self.from_s, self.to_s))
            .expect("a section that holds readings has a mean")
    }

    /// Least-squares slope; 0 where a single cell leaves none to see.
    fn slope_w_per_h(&self, from_s: f64, to_s: f64) -> f64 {
        self.course
            .slope_per_s(from_s, to_s)
            .map_or(0.0, |slope| slope * 3600.0)
    }

    /// Every method in order of preference, and the part that gives the figure.
    fn methods(&self) -> (Vec<MethodTried>, Part) {
        let period = self.period();
        let tried: [(&'static str, Tried); 4] = [
            ("cyclic", self.cyclic(period)),
            ("sampling", self.sampling()),
            ("running-mean", self.running_mean()),
            ("average", self.average(period)),
        ];
        let mut used: Option<Part> = None;
        let mut methods = Vec::new();
        for (method, tried) in tried {
            let (applies, why, power_w, part) = match tried {
                Ok((part, why)) => {
                    let power_w = self.mean(part.from_s, part.to_s);
                    (true, why, Some(power_w), Some(part))
                }
                Err((why, power_w)) => (false, why, power_w, None),
            };
            let first = used.is_none() && applies;
            if first {
                used = part;
            }
            methods.push(MethodTried {
                method: method.to_owned(),
                used: first,
                applies,
                why,
                power_w,
            });
        }
        let Some(used) = used else {
            let (part, why) = self.unsettled(period);
            methods.push(MethodTried {
                method: UNSETTLED.to_owned(),
                used: true,
                applies: true,
                why,
                power_w: Some(self.mean(part.from_s, part.to_s)),
            });
            return (methods, part);
        };
        (methods, used)
    }

    /// Is the power cyclic? Looked at after the time that the cyclic method leaves unused, or in a
    /// short record over what the sampling method would use.
    fn period(&self) -> Option<Period> {
        let unused = (self.rules.cyclic.unused_minutes * 60.0)
            .min(self.len_s() * self.rules.sampling.discarded_share());
        cycle::period(
            self.course,
            self.from_s + unused,
            self.to_s,
            self.interval_s,
        )
    }

    fn cyclic(&self, period: Option<Period>) -> Tried {
        let rule = &self.rules.cyclic;
        let Some(Period { period_s, repeats }) = period else {
            return Err((
                format!(
                    "the power does not repeat itself with a period ({})",
                    rule.clause
                ),
                None,
            ));
        };
        let begin = self.from_s + rule.unused_minutes * 60.0;
        let least = (rule.least_minutes_each * 60.0 / period_s)
            .ceil()
            .max(f64::from(rule.least_cycles_each));
        let most = ((self.to_s - begin).max(0.0) / period_s / 2.0).floor();
        let found = format!(
            "the power repeats itself every {} ({:.0} % of its variation)",
            duration(period_s),
            100.0 * repeats
        );
        if most < least {
            return Err((
                format!(
                    "{found}, but after the first {} min the record does not hold two comparison periods of {least} cycles and {} min each; it must last {} ({})",
                    rule.unused_minutes,
                    rule.least_minutes_each,
                    duration(rule.unused_minutes * 60.0 + 2.0 * least * period_s),
                    rule.clause
                ),
                None,
            ));
        }
        let compared = |cycles: f64| {
            let each = cycles * period_s;
            let middle = self.to_s - each;
            let (first, second) = (
                self.mean(middle - each, middle),
                self.mean(middle, self.to_s),
            );
            (first, second, (second - first) / each * 3600.0)
        };
        // The longest periods that are stable; shorter ones only if the beginning settles.
        let settles = self.settles(self.to_s - 2.0 * most * period_s, self.to_s);
        let step = ((most - least) / BEGINNINGS as f64).ceil().max(1.0);
        let mut cycles = most;
        let (cycles, (first_mean_w, second_mean_w, drift_w_per_h)) = loop {
            let found_means = compared(cycles);
            let (first, second, drift) = found_means;
            let begins = self.to_s - 2.0 * cycles * period_s;
            if drift.abs() < self.rules.slope.w_per_h((first + second) / 2.0)
                && (cycles == most || !self.comes_back(begins, self.to_s, Some(period_s)))
            {
                break (cycles, found_means);
            }
            cycles -= step;
            if cycles < least || !settles {
                let (first, second, drift) = compared(most);
                return Err((
                    format!(
                        "{found}, but the two comparison periods of {most} cycles each, {} and {}, drift by {} between their middles, {} allowed ({})",
                        watts(first),
                        watts(second),
                        slope(drift),
                        below(self.rules.slope.w_per_h((first + second) / 2.0)),
                        rule.clause
                    ),
                    Some((first + second) / 2.0),
                ));
            }
        };
        let mean = (first_mean_w + second_mean_w) / 2.0;
        Ok((
            Part {
                method: "cyclic",
                // Rounding must not reach before the section.
                from_s: (self.to_s - 2.0 * cycles * period_s).max(self.from_s),
                to_s: self.to_s,
                cycle: Some(PowerCycle {
                    period_s,
                    cycles: 2 * cycles as u64,
                    first_mean_w,
                    second_mean_w,
                    drift_w_per_h,
                }),
            },
            format!(
                "{found}; two comparison periods of {cycles} whole cycles ({}) each: {} and {}, drift {} between their middles, {} allowed ({})",
                duration(cycles * period_s),
                watts(first_mean_w),
                watts(second_mean_w),
                slope(drift_w_per_h),
                below(self.rules.slope.w_per_h(mean)),
                rule.clause
            ),
        ))
    }

    /// Is the beginning of a part unlike its second half, beyond what chance does? Compares the
    /// means of the first quarter and of the second half by the scatter of the latter (J. Geweke's
    /// comparison of early and late means, 1992, from memory), at 1 %. Where the power only varies,
    /// looking for the shorter part that happens to be level would be choosing the figure.
    fn settles(&self, from_s: f64, to_s: f64) -> bool {
        let length = to_s - from_s;
        let (quarter, half) = (from_s + length / 4.0, from_s + length / 2.0);
        let late = self.scatter_between(half, to_s);
        // By the variance of a mean over half the time: once for the half, twice for the quarter.
        let u = late.u_w * 3f64.sqrt();
        let apart = (self.mean(from_s, quarter) - self.mean(half, to_s)).abs();
        apart > scatter::coverage_factor(late.degrees_of_freedom, EVIDENCE) * u
    }

    /// Had the power been at the level of a part before, and left it again? Then it switches
    /// between levels instead of settling at one, and the last level is no figure of the whole.
    ///
    /// Looked at backwards from the part in blocks an eighth as long (whole cycles, where there are
    /// any): once one lay more than six standard deviations of the part's own blocks away, or 1.5 %,
    /// none before it may lie within two, or 0.5 %.
    fn comes_back(&self, from_s: f64, to_s: f64, period_s: Option<f64>) -> bool {
        let eighth = (to_s - from_s) / LEVEL_BLOCKS as f64;
        let block = match period_s {
            Some(period_s) => (eighth / period_s).ceil().max(1.0) * period_s,
            None => eighth,
        };
        let blocks = ((to_s - from_s) / block).floor().max(1.0) as usize;
        let own = self
            .course
            .block_means(to_s - blocks as f64 * block, to_s, blocks);
        let level = self.mean(from_s, to_s);
        let n = own.len().max(1) as f64;
        let spread = (own.iter().map(|m| (m - level).powi(2)).sum::<f64>() / n).sqrt();
        let away = (6.0 * spread).max(0.015 * level.abs());
        let near = away / 3.0;
        let mut has_been_away = false;
        let mut end = from_s;
        while end - block >= self.from_s {
            if let Some(mean) = self.course.mean(end - block, end) {
                let distance = (mean - level).abs();
                if has_been_away && distance < near {
                    return true;
                }
                has_been_away |= distance > away;
            }
            end -= block;
        }
        false
    }

    /// Is a part steeper in its first half than in its second, beyond what chance does (at 1 %)?
    /// Then it still settles; a steady drift does not bend.
    fn bends(&self, from_s: f64, to_s: f64) -> bool {
        let half = (from_s + to_s) / 2.0;
        let (early, late) = (
            self.slope_w_per_h(from_s, half),
            self.slope_w_per_h(half, to_s),
        );
        let scatter = self.scatter_between(half, to_s);
        let u = scatter.slope_u_w_per_h * 2f64.sqrt();
        early.abs() > late.abs()
            && (early - late).abs()
                > scatter::coverage_factor(scatter.degrees_of_freedom, EVIDENCE) * u
    }

    fn scatter_between(&self, from_s: f64, to_s: f64) -> MeanScatter {
        self.scatter(&Part {
            method: UNSETTLED,
            from_s,
            to_s,
            cycle: None,
        })
    }

    /// The part that the sampling method uses of a recording from `begin` to the section's end.
    fn after_settling(&self, begin: f64) -> (f64, f64) {
        let discarded = (self.to_s - begin) * self.rules.sampling.discarded_share();
        (begin + discarded, self.to_s)
    }

    fn sampling(&self) -> Tried {
        let rule = &self.rules.sampling;
        let least = rule.least_minutes * 60.0;
        if self.len_s() < least * (1.0 - 1e-9) {
            return Err((
                format!(
                    "the section lasts {}, at least {} min are needed ({})",
                    duration(self.len_s()),
                    rule.least_minutes,
                    rule.clause
                ),
                None,
            ));
        }
        let slope_of = |begin: f64| {
            let (from, to) = self.after_settling(begin);
            let limit = self.rules.slope.w_per_h(self.mean(from, to));
            (self.slope_w_per_h(from, to), limit)
        };
        let is_stable = |&begin: &f64| {
            let (slope, limit) = slope_of(begin);
            let (from, to) = self.after_settling(begin);
            slope.abs() < limit && (begin == self.from_s || !self.comes_back(from, to, None))
        };
        let spare = (self.len_s() - least).max(0.0);
        let step = (spare / BEGINNINGS as f64).max(30.0);
        let (whole_slope, whole_limit) = slope_of(self.from_s);
        let (whole_from, whole_to) = self.after_settling(self.from_s);
        let failed = |why: String| {
            Err((
                format!(
                    "the slope over the last two thirds of the section is {}, {} allowed{why} ({})",
                    slope(whole_slope),
                    below(whole_limit),
                    rule.clause
                ),
                Some(self.mean(whole_from, whole_to)),
            ))
        };
        if !is_stable(&self.from_s) && !self.settles(whole_from, whole_to) {
            return failed(
                "; nothing shows that its beginning was still settling, so a shorter part would be below by chance only"
                    .to_owned(),
            );
        }
        let beginnings = (0..)
            .map(|i| f64::from(i) * step)
            .take_while(|later| *later <= spare)
            .map(|later| self.from_s + later);
        let stable: Vec<f64> = beginnings.filter(is_stable).collect();
        let (Some(&first), Some(&last)) = (stable.first(), stable.last()) else {
            return failed(format!(
                ", and over no later part that began {} min or more before the end it is below",
                rule.least_minutes
            ));
        };
        // A slope may be small although the beginning still settles: then what begins later is
        // taken, as soon as it is straight; the last of all if none is.
        let begin = stable
            .iter()
            .copied()
            .find(|&begin| !self.bends(begin, self.to_s))
            .unwrap_or(last);
        let (from, to) = self.after_settling(begin);
        let (begin_slope, begin_limit) = slope_of(begin);
        let later = if begin > self.from_s {
            let because = if first > self.from_s {
                format!(
                    "over the last two thirds of the whole section the slope is {}, {} allowed",
                    slope(whole_slope),
                    below(whole_limit)
                )
            } else {
                "the earlier part still settles: its course is bent".to_owned()
            };
            format!(
                "{because}; as if the recording had begun at {}, ",
                duration(begin)
            )
        } else {
            String::new()
        };
        Ok((
            Part {
                method: "sampling",
                from_s: from,
                to_s: to,
                cycle: None,
            },
            format!(
                "{later}{} recorded, the first third discarded: least-squares slope {} over the other {}, {} allowed ({})",
                duration(to - begin),
                slope(begin_slope),
                duration(to - from),
                below(begin_limit),
                rule.clause
            ),
        ))
    }

    fn running_mean(&self) -> Tried {
        let rule = &self.rules.running_mean;
        if self.len_s() < rule.least_minutes * 60.0 * (1.0 - 1e-9) {
            return Err((
                format!(
                    "the section lasts {}, at least {} min are needed ({})",
                    duration(self.len_s()),
                    rule.least_minutes,
                    rule.clause
                ),
                None,
            ));
        }
        let (from, to) = self.after_settling(self.from_s);
        let last = self.mean(self.from_s, to);
        let off_percent = (0..=RUNNING_POINTS)
            .map(|i| from + (to - from) * i as f64 / RUNNING_POINTS as f64)
            .map(|until| (self.mean(self.from_s, until) - last).abs() / last.abs() * 100.0)
            .fold(0.0, f64::max);
        let why = format!(
            "over the last two thirds the running mean of the section stays within ±{off_percent:.2} % of where it ends, ±{} % allowed ({})",
            rule.band_percent, rule.clause
        );
        if off_percent <= rule.band_percent {
            let part = Part {
                method: "running-mean",
                from_s: from,
                to_s: to,
                cycle: None,
            };
            Ok((part, why))
        } else {
            Err((why, Some(self.mean(from, to))))
        }
    }

    fn average(&self, period: Option<Period>) -> Tried {
        let rule = &self.rules.average;
        if let Some(period) = period {
            return Err((
                format!(
                    "not for a power that repeats itself, here every {} ({})",
                    duration(period.period_s),
                    rule.clause
                ),
                None,
            ));
        }
        let least = rule.least_minutes_each * 60.0;
        let most = (self.len_s() / 2.0).min(rule.most_minutes_each * 60.0);
        if most < least * (1.0 - 1e-9) {
            return Err((
                format!(
                    "the section lasts {}, two comparison periods of {} min are needed ({})",
                    duration(self.len_s()),
                    rule.least_minutes_each,
                    rule.clause
                ),
                None,
            ));
        }
        let compared = |each: f64| {
            let middle = self.to_s - each;
            let (first, second) = (
                self.mean(middle - each, middle),
                self.mean(middle, self.to_s),
            );
            (first, second, (second - first) / each * 3600.0)
        };
        let step = ((most - least) / BEGINNINGS as f64).max(30.0);
        let settles = self.settles(self.to_s - 2.0 * most, self.to_s);
        let lengths = (0..)
            .map(|i| most - f64::from(i) * step)
            .take_while(|each| *each >= least * (1.0 - 1e-9))
            // Without a beginning that settles a shorter pair would be stable by chance only.
            .take(if settles { usize::MAX } else { 1 });
        for each in lengths {
            let (first, second, drift) = compared(each);
            let limit = self.rules.slope.w_per_h((first + second) / 2.0);
            if drift.abs() < limit && !self.comes_back(self.to_s - 2.0 * each, self.to_s, None) {
                let before = self.len_s() - 2.0 * each;
                let stabilise = rule.stabilise_minutes * 60.0;
                let warmed = if before < stabilise {
                    format!(
                        "; of the {} min of stabilising before them the section holds {}: the rest must lie before it",
                        rule.stabilise_minutes,
                        duration(before)
                    )
                } else {
                    String::new()
                };
                return Ok((
                    Part {
                        method: "average",
                        // Rounding must not reach before the section.
                        from_s: (self.to_s - 2.0 * each).max(self.from_s),
                        to_s: self.to_s,
                        cycle: None,
                    },
                    format!(
                        "two comparison periods of {}: {} and {}, drift {} between their middles, {} allowed{warmed} ({})",
                        duration(each),
                        watts(first),
                        watts(second),
                        slope(drift),
                        below(limit),
                        rule.clause
                    ),
                ));
            }
        }
        let (first, second, drift) = compared(most);
        if self.comes_back(self.to_s - 2.0 * least, self.to_s, None) {
            return Err((
                format!(
                    "the power had been at its last level before and left it again: it switches between levels, and the mean over one of them is no figure of the whole ({})",
                    rule.clause
                ),
                Some(self.mean(self.from_s, self.to_s)),
            ));
        }
        Err((
            format!(
                "two comparison periods of {}, {} and {}, drift by {} between their middles, {} allowed{} ({})",
                duration(most),
                watts(first),
                watts(second),
                slope(drift),
                below(self.rules.slope.w_per_h((first + second) / 2.0)),
                if settles {
                    format!(
                        ", and no shorter pair of {} min or more is stable",
                        rule.least_minutes_each
                    )
                } else {
                    String::new()
                },
                rule.clause
            ),
            Some((first + second) / 2.0),
        ))
    }

    /// The mean over what is left after the first third, in whole cycles if there are any: a figure
    /// to go by where no method of the standard gives one.
    fn unsettled(&self, period: Option<Period>) -> (Part, String) {
        let (from, to) = self.after_settling(self.from_s);
        let cycle = period.and_then(|Period { period_s, .. }| {
            let each = ((to - from) / period_s / 2.0).floor();
            (each >= 1.0).then(|| {
                let middle = to - each * period_s;
                let first_mean_w = self.mean(middle - each * period_s, middle);
                let second_mean_w = self.mean(middle, to);
                PowerCycle {
                    period_s,
                    cycles: 2 * each as u64,
                    first_mean_w,
                    second_mean_w,
                    drift_w_per_h: (second_mean_w - first_mean_w) / (each * period_s) * 3600.0,
                }
            })
        });
        let from = cycle
            .as_ref()
            .map_or(from, |c| to - c.cycles as f64 * c.period_s);
        (
            Part {
                method: UNSETTLED,
                from_s: from,
                to_s: to,
                cycle,
            },
            format!(
                "no method of the standard is satisfied: the average over the last {} stands in, and no verdict on it is firm",
                duration(to - from)
            ),
        )
    }

    fn scatter(&self, part: &Part) -> MeanScatter {
        let length = part.to_s - part.from_s;
        let means = self.block_means(part);
        let found = scatter::of_mean(&means).unwrap_or(Scatter {
            // A single block: how far it is off is not known, save that it lies between extremes.
            u: self.spread() / 12f64.sqrt(),
            degrees_of_freedom: 1.0,
            blocks: 1,
            lopsided: 1.0,
            long_enough: false,
        });
        MeanScatter {
            u_w: found.u,
            degrees_of_freedom: found.degrees_of_freedom,
            block_s: length / found.blocks as f64,
            // For a line through evenly spread samples var(slope) = 12 var(mean) / T².
            slope_u_w_per_h: found.u / found.lopsided * 12f64.sqrt() / length * 3600.0,
            long_enough: found.long_enough,
        }
    }

    fn spread(&self) -> f64 {
        let means = self
            .course
            .block_means(self.from_s, self.to_s, 2 * scatter::BLOCKS);
        let most = means.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let least = means.iter().copied().fold(f64::INFINITY, f64::min);
        (most - least).max(0.0)
    }

    /// Blocks of the part: whole cycles where it has them, never shorter than a few samples.
    fn block_means(&self, part: &Part) -> Vec<f64> {
        if let Some(cycle) = &part.cycle {
            let together = cycle.cycles.div_ceil(scatter::BLOCKS as u64);
            let blocks = cycle.cycles / together;
            let from = part.to_s - (blocks * together) as f64 * cycle.period_s;
            return self.course.block_means(from, part.to_s, blocks as usize);
        }
        let cells = self.course.cells(part.from_s, part.to_s);
        let blocks = scatter::BLOCKS.min(cells.max(1));
        self.course.block_means(part.from_s, part.to_s, blocks)
    }

    /// The first moment from which on the power, averaged over a minute or a few cycles, keeps to
    /// where the figure is.
    fn settled_at_s(&self, part: &Part, power_w: f64) -> f64 {
        let window = match &part.cycle {
            Some(cycle) => {
                let least = 60f64.max((part.to_s - part.from_s) / 1000.0);
                (least / cycle.period_s).ceil() * cycle.period_s
            }
            // Of a record of weeks some hundred pieces are enough.
            None => 60f64.max((part.to_s - part.from_s) / 1000.0),
        };
        let window = window.min((part.to_s - part.from_s) / 5.0);
        let windows = ((part.to_s - part.from_s) / window).floor().max(1.0) as usize;
        let means =
            self.course
                .block_means(part.to_s - windows as f64 * window, part.to_s, windows);
        let n = means.len().max(1) as f64;
        let spread = (means.iter().map(|m| (m - power_w).powi(2)).sum::<f64>() / n).sqrt();
        let band = (4.0 * spread).max(0.01 * power_w.abs());
        let mut begin = part.from_s;
        while begin - window >= self.from_s {
            let before = self.course.mean(begin - window, begin);
            if before.is_some_and(|mean| (mean - power_w).abs() > band) {
                return begin;
            }
            begin -= window;
        }
        self.from_s
    }

    /// Consecutive windows of the length that the five-minute method names; one over all of a
    /// shorter section.
    fn windows(&self) -> Vec<PowerWindow> {
        let length = self.rules.five_minute.minutes * 60.0;
        // A record of an hour lasts a sample more or less.
        let whole = ((self.len_s() + self.interval_s) / length).floor();
        let bounds: Vec<(f64, f64)> = if whole < 1.0 {
            vec![(self.from_s, self.to_s)]
        } else {
            let skipped = (whole - MOST_WINDOWS).max(0.0);
            (0..(whole - skipped) as usize)
                .map(|i| {
                    let from = self.from_s + (skipped + i as f64) * length;
                    (from, (from + length).min(self.to_s))
                })
                .collect()
        };
        bounds
            .into_iter()
            .filter_map(|(from_s, to_s)| {
                Some(PowerWindow {
                    from_s,
                    to_s,
                    mean_w: self.course.mean(from_s, to_s)?,
                })
            })
            .collect()
    }
}

/// Drift over the last five minutes: (max - min) / max of the single samples.
fn five_minutes(power: &Trace, section: &Section) -> Option<LastFiveMinutes> {
    let length = section.rules.five_minute.minutes * 60.0;
    let to_s = section.to_s;
    // A sample more or less does not make five minutes shorter.
    if section.len_s() + section.interval_s < length {
        return None;
    }
    let from_s = (to_s - length).max(section.from_s);
    let first = power.t_s.partition_point(|&t| t < from_s);
    let (most, least) = extremes(power, first, power.len())?;
    (most > 0.0).then(|| LastFiveMinutes {
        from_s,
        to_s,
        drift_percent: (most - least) / most * 100.0,
        end_w: power.mean[power.len() - 1],
        mean_w: section.mean(from_s, to_s),
    })
}

fn extremes(trace: &Trace, first: usize, end: usize) -> Option<(f64, f64)> {
    let most = trace.max[first..end].iter().copied().reduce(f64::max)?;
    let least = trace.min[first..end].iter().copied().reduce(f64::min)?;
    Some((most, least))
}

/// The trace in few cells, extremes kept.
fn drawn(power: &Trace, section: &Section) -> PowerTrace {
    let cells = power.len().clamp(1, TRACE_CELLS);
    let cell_s = section.len_s() / cells as f64;
    let mut drawn = PowerTrace {
        from_s: section.from_s,
        cell_s,
        min_w: Vec::with_capacity(cells),
        max_w: Vec::with_capacity(cells),
        mean_w: Vec::with_capacity(cells),
    };
    let mut first = 0;
    for cell in 1..=cells {
        let until = section.from_s + cell as f64 * cell_s;
        let end = if cell == cells {
            power.len()
        } else {
            first + power.t_s[first..].partition_point(|&t| t < until)
        };
        let found = extremes(power, first, end);
        let weight: f64 = power.weight_s[first..end].iter().sum();
        let sum: f64 = (first..end)
            .map(|i| power.weight_s[i] * power.mean[i])
            .sum();
        drawn.max_w.push(found.map(|(most, _)| most));
        drawn.min_w.push(found.map(|(_, least)| least));
        drawn.mean_w.push((weight > 0.0).then(|| sum / weight));
        first = end;
    }
    drawn
}

// ---------------------------------------------------------------- joined with instrument and limits

/// The no-load result of a run whose figure comes from a log. `multiple`: the unit delivers
/// several voltages at the same time.
pub fn result(
    found: &Findings,
    log: &Log,
    accuracy: Accuracy,
    multiple: bool,
    rules: &LowPower,
) -> NoLoadResult {
    let instrument_u_w = accuracy.of_reading(MeasuredQuantity::NoLoadPowerW, Some(found.power_w));
    let scatter = (found.scatter.u_w, found.scatter.degrees_of_freedom);
    let degrees_of_freedom = instrument_u_w
        .map(|u| scatter::effective_degrees_of_freedom(&[(u, f64::INFINITY), scatter]))
        // A document holds no infinity: nothing scatters, and k is that of the normal distribution.
        .map(|degrees| degrees.min(MOST_DEGREES));
    let coverage_factor = scatter::coverage_factor(
        degrees_of_freedom.unwrap_or(found.scatter.degrees_of_freedom),
        rules.coverage.probability,
    );
    let power_u = combined([instrument_u_w, Some(found.scatter.u_w)]);
    NoLoadResult {
        power_w: found.power_w,
        power_u,
        method: found.method.clone(),
        expanded_uncertainty_w: power_u.map(|u| coverage_factor * u),
        log: Some(NoLoadLog {
            name: log.name.clone(),
            sha256: log.sha256.clone(),
            // The first reading stands for half an interval before it, too; the log begins with it.
            from_s: found.from_s.max(0.0),
            to_s: found.to_s,
            samples: found.samples,
            interval_s: found.interval_s,
            used_from_s: found.used_from_s,
            used_to_s: found.used_to_s,
            settled_at_s: found.settled_at_s,
            slope_w_per_h: found.slope_w_per_h,
            slope_limit_w_per_h: found.slope_limit_w_per_h,
            slope_u_w_per_h: found.scatter.slope_u_w_per_h,
            cycle: found.cycle.clone(),
            instrument_u_w,
            scatter_u_w: found.scatter.u_w,
            scatter_degrees_of_freedom: found.scatter.degrees_of_freedom,
            long_enough: found.scatter.long_enough,
            block_s: found.scatter.block_s,
            degrees_of_freedom,
            coverage_factor,
            allowed_uncertainty_w: allowed_uncertainty_w(found, rules),
            current_peak_a: found.current_peak_a,
            current_a: found.current_a,
            power_factor: found.power_factor,
            methods: found.methods.clone(),
            known: known(rules),
            five_minute: found
                .five_minute
                .as_ref()
                .map(|last| five_minute(last, multiple, rules)),
            windows: found.windows.clone(),
            limits: Vec::new(),
            trace: found.trace.clone(),
        }),
    }
}

/// The standard uncertainty that a verdict uses: half the expanded uncertainty, so that the guard
/// band is U, which for a log is k u with Student's k, and the risk goes with it.
pub fn judged_u(result: &NoLoadResult) -> Option<f64> {
    match &result.log {
        Some(_) => result.expanded_uncertainty_w.map(|expanded| expanded / 2.0),
        None => result.power_u,
    }
}

/// Degrees of freedom from which on a number is not told from infinity.
const MOST_DEGREES: f64 = 1e6;

/// How the figures of the methods are known, in one sentence.
fn known(rules: &LowPower) -> String {
    format!(
        "{}. Slope limits: {}. Sampling: {}. Cycles: {}. Averages: {}.",
        rules.citation,
        rules.slope.known,
        rules.sampling.known,
        rules.cyclic.known,
        rules.average.known
    )
}

/// What the standard allows the instrument, where the log holds the current's peak and the power
/// factor.
fn allowed_uncertainty_w(found: &Findings, rules: &LowPower) -> Option<f64> {
    let crest = found.current_peak_a? / found.current_a.and_then(divisor)?;
    let power_factor = found.power_factor.and_then(divisor)?;
    Some(rules.uncertainty.w(found.power_w, crest / power_factor))
}

fn five_minute(last: &LastFiveMinutes, multiple: bool, rules: &LowPower) -> FiveMinute {
    let rule = &rules.five_minute;
    let drift_limit_percent = if multiple {
        rule.drift_percent_multiple
    } else {
        rule.drift_percent
    };
    let stable = last.drift_percent <= drift_limit_percent;
    let drift = format!(
        "over the last {} min the input power drifts by {:.2} % of its largest value, {drift_limit_percent} % allowed",
        rule.minutes, last.drift_percent
    );
    FiveMinute {
        from_s: last.from_s,
        to_s: last.to_s,
        drift_percent: last.drift_percent,
        drift_limit_percent,
        stable,
        power_w: if stable { last.end_w } else { last.mean_w },
        why: if stable {
            format!("{drift}: the value at their end holds ({})", rule.clause)
        } else {
            format!(
                "{drift}: not stable, so the average holds ({})",
                rule.clause
            )
        },
    }
}

/// The figure against one limit: share of the windows above, and how long to go on.
pub fn against_limit(
    result: &NoLoadResult,
    log: &NoLoadLog,
    limit_w: f64,
    regimes: Vec<String>,
    rules: &LowPower,
) -> NoLoadAgainstLimit {
    let above = log.windows.iter().filter(|w| w.mean_w > limit_w).count();
    NoLoadAgainstLimit {
        regimes,
        limit_w,
        windows_above: above as f64 / log.windows.len().max(1) as f64,
        longer: longer(result, log, limit_w, rules),
    }
}

/// How long must still be recorded until the figure is clear of the limit by its expanded
/// uncertainty, if its mean stays where it is and it scatters as it did? The part from scatter
/// falls as one over the square root of the time, the instrument's does not fall.
fn longer(
    result: &NoLoadResult,
    log: &NoLoadLog,
    limit_w: f64,
    rules: &LowPower,
) -> LongerRecording {
    let answer = |answer: &str, further_s: Option<f64>, message: String| LongerRecording {
        answer: answer.to_owned(),
        further_s,
        message,
    };
    let distance = (result.power_w - limit_w).abs();
    let (Some(instrument_u), Some(now)) = (log.instrument_u_w, result.expanded_uncertainty_w)
    else {
        return answer(
            "unknown",
            None,
            "the instrument's accuracy for the no-load power is not in the record, so nothing tells when the verdict would be clear".to_owned(),
        );
    };
    let settled = result.method != UNSETTLED;
    if settled && distance >= now {
        return answer(
            "clear",
            Some(0.0),
            format!(
                "clear already: the mean is {} from the limit, more than its uncertainty of {}",
                watts(distance),
                watts(now)
            ),
        );
    }
    let probability = rules.coverage.probability;
    let used_s = log.used_to_s - log.used_from_s;
    // With a longer record there are as many patterns as the record now has, or more.
    let at = |times: f64| {
        let scatter = log.scatter_u_w / times.sqrt();
        let degrees = scatter::effective_degrees_of_freedom(&[
            (instrument_u, f64::INFINITY),
            (scatter, log.scatter_degrees_of_freedom),
        ]);
        scatter::coverage_factor(degrees, probability)
            * (instrument_u * instrument_u + scatter * scatter).sqrt()
    };
    let never = at(1e12);
    if distance < never {
        return answer(
            "never",
            None,
            format!(
                "never at this instrument's uncertainty: it alone leaves ±{}, and the mean is only {} from the limit. An instrument whose expanded uncertainty is below {} at this power could tell, if the mean stays where it is",
                watts(never),
                watts(distance),
                watts(distance)
            ),
        );
    }
    let mut times = smallest(|times| at(times) <= distance);
    let mut condition = "if the mean stays where it is and scatters as it did".to_owned();
    if !settled {
        let slope_u = log.slope_u_w_per_h;
        if log.slope_w_per_h.abs() > 3.0 * slope_u {
            return answer(
                "unknown",
                None,
                format!(
                    "the power is still on its way, by {}: how long it takes to settle can't be told from here. Record on until the slope is below {}",
                    slope(log.slope_w_per_h),
                    slope(log.slope_limit_w_per_h).trim_start_matches('+')
                ),
            );
        }
        // The slope that chance makes falls as the time to the power 3/2; it should be well inside.
        let steady = (2.0 * slope_u / log.slope_limit_w_per_h).powf(2.0 / 3.0);
        let shortest =
            rules.sampling.least_minutes * 60.0 * (1.0 - rules.sampling.discarded_share());
        times = times.max(steady).max(shortest / used_s).max(1.0);
        condition = format!(
            "{condition}; most of it so that the slope that chance makes, ±{} now, gets below the {} that a stable power may have",
            slope(slope_u).trim_start_matches('+'),
            slope(log.slope_limit_w_per_h).trim_start_matches('+')
        );
    }
    // The discarded share grows with the recording, where there is one.
    let of_record = if matches!(
        result.method.as_str(),
        "sampling" | "running-mean" | UNSETTLED
    ) {
        1.0 / (1.0 - rules.sampling.discarded_share())
    } else {
        1.0
    };
    let further_s = (times - 1.0) * used_s * of_record;
    // To whole minutes, upwards: more can't be meant by an estimate.
    let further_s = ((further_s / 60.0).ceil() * 60.0).max(60.0);
    answer(
        "after",
        Some(further_s),
        format!(
            "about {} more: the mean is {} from the limit and its uncertainty now {}; {condition}",
            duration(further_s),
            watts(distance),
            watts(now)
        ),
    )
}

/// The smallest factor, 1 or more, from which on something holds that more of it never breaks.
fn smallest(holds: impl Fn(f64) -> bool) -> f64 {
    let (mut low, mut high) = (1.0, 1.0);
    while !holds(high) && high < 1e12 {
        low = high;
        high *= 2.0;
    }
    for _ in 0..60 {
        let middle = (low + high) / 2.0;
        if holds(middle) {
            high = middle;
        } else {
            low = middle;
        }
    }
    high
}

// ---------------------------------------------------------------- words

/// A power in words: milliwatts below a watt.
fn watts(power_w: f64) -> String {
    if power_w.abs() < 1.0 {
        format!("{} mW", figures(power_w * 1e3))
    } else {
        format!("{} W", figures(power_w))
    }
}

fn slope(w_per_h: f64) -> String {
    if w_per_h.abs() < 1.0 {
        format!("{} mW/h", signed(w_per_h * 1e3))
    } else {
        format!("{} W/h", signed(w_per_h))
    }
}

fn below(w_per_h: f64) -> String {
    format!("below {}", slope(w_per_h).trim_start_matches('+'))
}

fn signed(x: f64) -> String {
    format!("{}{}", if x < 0.0 { "−" } else { "+" }, figures(x.abs()))
}

/// Four figures, at most three decimals.
fn figures(x: f64) -> String {
    let decimals = match x.abs() {
        x if x >= 1000.0 => 0,
        x if x >= 100.0 => 1,
        x if x >= 10.0 => 2,
        _ => 3,
    };
    format!("{x:.decimals$}")
}
