//! The methods for a no-load power, each on a course whose answer is worked by hand.

use brickbook::evaluate::no_load::{self, Beside, Findings};
use brickbook::evaluate::scatter::{coverage_factor, effective_degrees_of_freedom, of_mean};
use brickbook::log::Trace;
use brickbook::standards::LowPower;

/// Readings every second for so many minutes; `power` gives watts at a time in seconds.
fn minutes(minutes: usize, power: impl Fn(f64) -> f64) -> Trace {
    let times: Vec<f64> = (0..60 * minutes).map(|i| i as f64).collect();
    let readings: Vec<f64> = times.iter().map(|&t| power(t)).collect();
    Trace::from_samples(&times, &readings)
}

fn found(trace: &Trace) -> Findings {
    no_load::findings(trace, Beside::default(), &LowPower::embedded()).unwrap()
}

fn near(value: f64, expected: f64, tolerance: f64) {
    assert!(
        (value - expected).abs() <= tolerance,
        "{value}, expected {expected} ± {tolerance}"
    );
}

/// An even, small ripple that no line follows, so that no test for chance divides by nothing.
fn ripple(t: f64) -> f64 {
    1e-6 * ((t * 0.7).sin() + (t * 1.3).cos())
}

fn why<'a>(found: &'a Findings, method: &str) -> &'a str {
    &found
        .methods
        .iter()
        .find(|m| m.method == method)
        .unwrap()
        .why
}

/// IEC 62301 ed. 2, 5.3.2 by the standards notes, section 6: the line through the last two thirds
/// must rise less than 10 mW/h up to 1 W. By hand: 30 min at 100 mW + 8 mW/h · t; from 10 min on;
/// the mean is that at 20 min, 100 mW + 8/3 mW = 102.667 mW.
#[test]
fn a_slope_of_eight_milliwatts_an_hour_is_stable_and_the_last_two_thirds_count() {
    let found = found(&minutes(30, |t| 0.100 + 0.008 * t / 3600.0 + ripple(t)));
    assert_eq!(found.method, "sampling");
    near(found.slope_w_per_h, 0.008, 1e-5);
    assert_eq!(found.slope_limit_w_per_h, 0.010);
    near(found.used_from_s, 600.0, 1.0);
    near(found.used_to_s, 1800.0, 1.0);
    near(found.power_w, 0.102_667, 2e-6);
}

/// The same at 12 mW/h: no part of a straight line is flatter, two means an interval apart differ
/// by 12 mW/h too, so nothing of the standard gives a figure, and what there is says so.
#[test]
fn a_slope_of_twelve_milliwatts_an_hour_gives_no_settled_figure() {
    let found = found(&minutes(45, |t| 0.100 + 0.012 * t / 3600.0 + ripple(t)));
    assert_eq!(found.method, no_load::UNSETTLED);
    assert!(!found.settled());
    assert_eq!(found.settled_at_s, None);
    near(found.slope_w_per_h, 0.012, 1e-5);
    assert!(why(&found, "sampling").contains("+12.00 mW/h"));
    assert!(why(&found, "average").contains("+12.00 mW/h"));
}

/// Above 1 W the limit is 1 % of the power an hour: at 2 W, 20 mW/h.
#[test]
fn above_one_watt_the_slope_limit_is_relative() {
    let found = found(&minutes(30, |t| 2.0 + 0.015 * t / 3600.0 + ripple(t)));
    assert_eq!(found.method, "sampling");
    near(found.slope_limit_w_per_h, 0.0200, 1e-4);
}

/// A quarter of an hour less a minute is too short for sampling, twenty minutes are for averages.
#[test]
fn fourteen_minutes_are_too_short_for_any_method() {
    let found = found(&minutes(14, |t| 0.1 + ripple(t)));
    assert_eq!(found.method, no_load::UNSETTLED);
    assert!(why(&found, "sampling").contains("at least 15 min"));
    assert!(why(&found, "average").contains("two comparison periods of 10 min"));
    assert!(found.methods.last().unwrap().used);
}

/// By hand: 20 s at 200 mW and 40 s at 50 mW are (20 · 200 + 40 · 50) / 60 = 100 mW. Of 45 min the
/// first 10 are unused; 35 min hold 35 cycles, so two periods of 17: 34 cycles, 2040 s.
#[test]
fn a_cyclic_power_is_averaged_over_two_periods_of_equally_many_whole_cycles() {
    let found = found(&minutes(45, |t| {
        if t.rem_euclid(60.0) < 20.0 {
            0.200
        } else {
            0.050
        }
    }));
    assert_eq!(found.method, "cyclic");
    let cycle = found.cycle.as_ref().unwrap();
    near(cycle.period_s, 60.0, 0.01);
    assert_eq!(cycle.cycles, 34);
    near(found.used_from_s, 2700.0 - 2040.0, 1.0);
    near(found.power_w, 0.100, 1e-5);
    near(cycle.first_mean_w, cycle.second_mean_w, 1e-5);
    assert!(why(&found, "average").contains("not for a power that repeats itself"));
}

/// Two comparison periods of 10 min and four cycles in all: 25 min of a 60 s cycle are too short.
#[test]
fn a_cyclic_record_that_holds_no_two_comparison_periods_says_how_long_it_must_be() {
    let found = found(&minutes(25, |t| {
        if t.rem_euclid(60.0) < 20.0 {
            0.200
        } else {
            0.050
        }
    }));
    assert_ne!(found.method, "cyclic");
    assert!(why(&found, "cyclic").contains("it must last 30 min"));
}

/// 40 mW more that fade with a time constant of 4 min: over the last two thirds of 40 min the line
/// still falls, but later there is nothing left of it.
#[test]
fn settling_is_found_and_left_out() {
    let found = found(&minutes(40, |t| {
        0.080 + 0.040 * (-t / 240.0).exp() + 20.0 * ripple(t)
    }));
    assert_eq!(found.method, "sampling");
    let settled = found.settled_at_s.unwrap();
    assert!((240.0..1500.0).contains(&settled), "{settled}");
    assert!(found.used_from_s > 800.0);
    near(found.power_w, 0.080, 1e-4);
    assert!(why(&found, "sampling").contains("as if the recording had begun"));
}

/// US procedure, standards notes section 2: drift is (max - min) / max over five minutes. By hand:
/// between 95.5 mW and 100 mW it is 4.5 %. The value at the end is the last reading.
#[test]
fn the_drift_of_the_five_minutes_is_that_of_the_extremes() {
    let found = found(&minutes(20, |t| {
        if t == 1000.0 {
            0.1000
        } else if t == 1100.0 {
            0.0955
        } else {
            0.0980
        }
    }));
    let last = found.five_minute.unwrap();
    near(last.drift_percent, 4.5, 1e-9);
    near(last.to_s - last.from_s, 300.0, 1e-6);
    assert_eq!(last.end_w, 0.0980);
}

/// Windows of five minutes, one after the other: of an hour twelve.
#[test]
fn an_hour_has_twelve_windows_of_five_minutes() {
    let found = found(&minutes(60, |t| if t < 900.0 { 0.12 } else { 0.09 }));
    assert_eq!(found.windows.len(), 12);
    let above = found.windows.iter().filter(|w| w.mean_w > 0.1).count();
    assert_eq!(above, 3);
    near(found.windows[2].mean_w, 0.12, 2e-4);
}

/// What a chart shows keeps the extremes of single readings.
#[test]
fn a_chart_of_a_long_log_keeps_a_single_spike() {
    let found = found(&minutes(180, |t| if t == 7777.0 { 5.0 } else { 0.1 }));
    assert_eq!(found.trace.mean_w.len(), 400);
    let most = found
        .trace
        .max_w
        .iter()
        .flatten()
        .copied()
        .fold(0.0, f64::max);
    assert_eq!(most, 5.0);
}

/// GUM G.4.1 (JCGM 100:2008) by the uncertainty notes, section 5: relative u of 0.25, 0.57 and
/// 0.82 % with 9, 4 and 14 degrees of freedom give 19.0 (unrounded 18.9987, cut to 18), t 2.10.
/// H.1: 25, 9.7, 2.9, 16.6 nm with 18, 25.6, 50, 2 give 16.7.
#[test]
fn effective_degrees_of_freedom_are_those_of_the_guide() {
    let degrees = effective_degrees_of_freedom(&[(0.25, 9.0), (0.57, 4.0), (0.82, 14.0)]);
    near(degrees, 18.9987, 5e-5);
    near(coverage_factor(degrees, 0.95), 2.1009, 5e-5);
    near(coverage_factor(19.0, 0.95), 2.0930, 5e-5);
    let end_gauge =
        effective_degrees_of_freedom(&[(25.0, 18.0), (9.7, 25.6), (2.9, 50.0), (16.6, 2.0)]);
    near(end_gauge, 16.7, 0.1);
}

/// Student's t, GUM table G.2, 95 %.
#[test]
fn coverage_factors_are_those_of_the_guide() {
    for (degrees, factor) in [
        (1.0, 12.71),
        (2.0, 4.30),
        (5.0, 2.57),
        (10.0, 2.23),
        (50.0, 2.01),
    ] {
        near(coverage_factor(degrees, 0.95), factor, 0.005);
    }
    near(coverage_factor(f64::INFINITY, 0.95), 1.960, 1e-3);
}

/// Blocks that repeat each other in pairs tell half as much: u is √2 times what it would be if
/// they were independent, and the plain s/√n would not see it.
#[test]
fn blocks_that_repeat_each_other_are_not_taken_as_independent() {
    // A fixed sequence of ±1 without pattern (quadratic residues modulo 131).
    let residues: Vec<u64> = (1..131).map(|i: u64| i * i % 131).collect();
    let sign = |i: u64| {
        if residues.contains(&(i % 130 + 1)) {
            1.0
        } else {
            -1.0
        }
    };
    let single: Vec<f64> = (0..128).map(sign).collect();
    let eightfold: Vec<f64> = (0..128).map(|i| sign(i / 8)).collect();
    let plain = (1.0f64 / 128.0).sqrt();
    let of_single = of_mean(&single).unwrap().u;
    let of_eightfold = of_mean(&eightfold).unwrap().u;
    assert!(
        (0.5 * plain..2.0 * plain).contains(&of_single),
        "{of_single}"
    );
    assert!(of_eightfold > 2.0 * plain, "{of_eightfold}");
}

#[test]
fn a_power_that_does_not_move_has_no_scatter_and_no_cycle() {
    let found = found(&minutes(20, |_| 0.075));
    assert_eq!(found.method, "sampling");
    near(found.power_w, 0.075, 1e-12);
    near(found.scatter.u_w, 0.0, 1e-12);
    assert!(found.cycle.is_none());
}

#[test]
fn a_handful_of_readings_holds_no_figure() {
    let trace = Trace::from_samples(&[0.0, 1.0, 2.0], &[0.1, 0.1, 0.1]);
    let why = no_load::findings(&trace, Beside::default(), &LowPower::embedded()).unwrap_err();
    assert!(why.contains("3 readings"), "{why}");
}

/// The same log gives the same findings to the last bit, also after they were written down.
#[test]
fn findings_are_the_same_each_time_and_survive_being_remembered() {
    let trace = minutes(30, |t| 0.1 + 0.01 * (t * 0.05).sin() + ripple(t));
    let first = found(&trace);
    assert_eq!(first, found(&trace));
    let text = serde_json::to_string(&first).unwrap();
    let back: Findings = serde_json::from_str(&text).unwrap();
    assert_eq!(first, back);
}
