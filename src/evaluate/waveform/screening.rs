//! A waveform held against the limits for harmonic currents: a screening, never a verdict.

use super::WaveformFindings;
use super::spectrum::{all_smoothed, largest_smoothed};
use crate::bench::record::{HarmonicClass, HarmonicClassChoice, Unit};
use crate::evaluate::evaluation::{
    HarmonicComparison, HarmonicScreening, OrderAgainstLimit, OrderResult, PowerQuality, RunResult,
    ScreeningResult,
};
use crate::evaluate::points;
use crate::evaluate::runs::within;
use crate::standards::{HarmonicLimits, Standards};

/// Two figures this close are equal but for rounding.
const ROUNDING: f64 = 1e-9;

/// Rated input power of a unit, which the threshold of the standard is held against.
#[derive(Debug, Clone, PartialEq)]
pub struct RatedInput {
    pub power_w: f64,
    /// Which figure this is and why.
    pub reason: String,
    /// Measured, not estimated from the nameplate.
    pub measured: bool,
}

impl RatedInput {
    /// The largest active input power that was measured at full load on this supply, in runs
    /// whose rated output is that of the nameplate; the nameplate's output over an assumed
    /// efficiency where there is none.
    pub fn of(
        unit: &Unit,
        line_voltage_v: f64,
        runs: &[RunResult],
        standards: &Standards,
    ) -> RatedInput {
        let limits = &standards.harmonics;
        let nameplate_w = unit.nameplate.output_power_w;
        let measured = runs
            .iter()
            .filter(|run| is_of_nameplate(run, nameplate_w))
            .filter(|run| {
                within(
                    run.line_voltage_v,
                    line_voltage_v,
                    standards.procedure.line.warning_tolerance_percent,
                )
            })
            .filter_map(|run| {
                let point = points::at_percent(
                    &run.points,
                    100.0,
                    limits.agreement.full_load_percent_tolerance,
                )?;
                Some((point.input_power_w?, run.name.as_str()))
            })
            .max_by(|a, b| a.0.total_cmp(&b.0));
        match measured {
            Some((power_w, run)) => RatedInput {
                power_w,
                reason: format!(
                    "active input power measured at full load in the run \u{201c}{run}\u{201d}"
                ),
                measured: true,
            },
            None => RatedInput {
                power_w: nameplate_w / limits.exemption.assumed_efficiency,
                reason: format!(
                    "nameplate output of {nameplate_w} W over an assumed efficiency of {}: no input power was measured at full load on this supply",
                    limits.exemption.assumed_efficiency
                ),
                measured: false,
            },
        }
    }
}

/// Is the run's rated output that of the nameplate?
fn is_of_nameplate(run: &RunResult, nameplate_w: f64) -> bool {
    run.rated_power_w.is_some_and(|w| w >= 0.99 * nameplate_w)
}

/// What the limits depend on besides the current.
#[derive(Debug, Clone, PartialEq)]
pub struct Equipment {
    /// Nominal supply of the run.
    pub line_voltage_v: f64,
    pub rated_input: RatedInput,
    /// Is 100 % load of this run the nameplate's output?
    pub full_load_is_nameplate: bool,
    /// The tester's choice.
    pub class: Option<HarmonicClassChoice>,
}

impl Equipment {
    pub fn of(
        unit: &Unit,
        run: &RunResult,
        runs: &[RunResult],
        standards: &Standards,
    ) -> Equipment {
        Equipment {
            line_voltage_v: run.line_voltage_v,
            rated_input: RatedInput::of(unit, run.line_voltage_v, runs, standards),
            full_load_is_nameplate: is_of_nameplate(run, unit.nameplate.output_power_w),
            class: unit.harmonic_class.clone(),
        }
    }
}

/// Holds findings of a waveform at a load (percent of rated) against the limits.
pub fn screening(
    findings: &WaveformFindings,
    load_percent: f64,
    equipment: &Equipment,
    limits: &HarmonicLimits,
) -> HarmonicScreening {
    let quality = &findings.quality;
    let full_load = (load_percent - 100.0).abs() <= limits.agreement.full_load_percent_tolerance;
    let mut rated = equipment.rated_input.clone();
    if !rated.measured && full_load && equipment.full_load_is_nameplate {
        rated = RatedInput {
            power_w: quality.active_power_w.abs(),
            reason: "active power of this waveform, taken at full load: no reading of the analyser at full load on this supply".to_owned(),
            measured: true,
        };
    }
    let (class, class_reason) = class(equipment, rated.power_w, limits);
    let other = match class {
        HarmonicClass::A => HarmonicClass::D,
        HarmonicClass::D => HarmonicClass::A,
    };
    let classes = vec![
        comparison(findings, class, limits),
        comparison(findings, other, limits),
    ];
    let (result, reason) = judged(
        quality,
        load_percent,
        full_load,
        equipment,
        &rated,
        &classes[0],
        limits,
    );
    HarmonicScreening {
        citation: limits.citation.clone(),
        result,
        reason,
        statement: statement(findings),
        class,
        class_reason,
        rated_input_power_w: rated.power_w,
        rated_input_power_reason: rated.reason,
        floor_a: limits.floor_a(quality.current_rms_a),
        classes,
    }
}

fn statement(findings: &WaveformFindings) -> String {
    let seconds: f64 = findings.windows.iter().map(|w| w.length_s).sum();
    format!(
        "A screening, measured by us: {} of {seconds:.2} s in all at one load. A test of conformity watches the equipment for longer, on a supply of its own, at the loads that the standard names; this is no verdict of conformity.",
        match findings.windows.len() {
            1 => "one window".to_owned(),
            n => format!("{n} windows"),
        }
    )
}

/// The class that decides and why.
fn class(equipment: &Equipment, rated_w: f64, limits: &HarmonicLimits) -> (HarmonicClass, String) {
    let rule = &limits.class_assignment;
    match &equipment.class {
        Some(choice) if choice.value == HarmonicClass::D && rated_w > rule.class_d_up_to_w => (
            HarmonicClass::A,
            format!(
                "the tester chose Class D ({}), which ends at {} W",
                choice.reason, rule.class_d_up_to_w
            ),
        ),
        Some(choice) => (
            choice.value,
            format!("chosen by the tester: {}", choice.reason),
        ),
        None => (rule.default, rule.reason.clone()),
    }
}

/// The result word and why.
fn judged(
    quality: &PowerQuality,
    load_percent: f64,
    full_load: bool,
    equipment: &Equipment,
    rated: &RatedInput,
    comparison: &HarmonicComparison,
    limits: &HarmonicLimits,
) -> (ScreeningResult, String) {
    let class = letter(comparison.class);
    let compared = compared_words(comparison, limits);
    let threshold_w = limits.exemption.rated_power_w;
    if rated.power_w <= threshold_w {
        return (
            ScreeningResult::NoLimitsApply,
            format!(
                "the standard sets no limits up to {threshold_w} W of rated input power; this unit has {:.1} W{}. For comparison: {compared}",
                rated.power_w,
                if rated.measured { "" } else { ", estimated" }
            ),
        );
    }
    if equipment.line_voltage_v < limits.scope.least_nominal_voltage_v {
        return (
            ScreeningResult::Informative,
            format!(
                "the standard sets limits for supplies of {} V and more; this run is on {} V. For comparison: {compared}",
                limits.scope.least_nominal_voltage_v, equipment.line_voltage_v
            ),
        );
    }
    if quality.current_rms_a > limits.scope.largest_current_a {
        return (
            ScreeningResult::Informative,
            format!(
                "the standard covers equipment up to {} A; this draws {:.2} A. For comparison: {compared}",
                limits.scope.largest_current_a, quality.current_rms_a
            ),
        );
    }
    if !full_load {
        return (
            ScreeningResult::Informative,
            format!(
                "taken at {load_percent} % load; a screening judges full load. For comparison: {compared}"
            ),
        );
    }
    if !equipment.full_load_is_nameplate {
        return (
            ScreeningResult::Informative,
            format!(
                "full load of this run is below the nameplate's output. For comparison: {compared}"
            ),
        );
    }
    if comparison.within && !comparison.unknown_orders.is_empty() {
        return (
            ScreeningResult::Informative,
            format!(
                "what could be seen keeps to the limits of Class {class}, but orders from {} on are not known",
                comparison.unknown_orders[0]
            ),
        );
    }
    let result = if comparison.within {
        ScreeningResult::Within
    } else {
        ScreeningResult::Outside
    };
    (result, compared)
}

fn letter(class: HarmonicClass) -> char {
    match class {
        HarmonicClass::A => 'A',
        HarmonicClass::D => 'D',
    }
}

/// How a comparison went, in a sentence.
fn compared_words(comparison: &HarmonicComparison, limits: &HarmonicLimits) -> String {
    let class = letter(comparison.class);
    let verb = if comparison.within {
        "within"
    } else {
        "outside"
    };
    let (Some(order), Some(share)) = (comparison.closest_order, comparison.closest_share) else {
        return format!(
            "{verb} the limits of Class {class}: every harmonic that they limit is too small to be looked at"
        );
    };
    let mut words = format!(
        "{verb} the limits of Class {class}; order {order} comes closest, at {:.0} % of its limit",
        100.0 * share
    );
    if !comparison.within {
        let outside: Vec<String> = comparison
            .orders
            .iter()
            .filter(|o| o.result == OrderResult::Outside)
            .map(|o| o.order.to_string())
            .collect();
        words = format!(
            "{verb} the limits of Class {class} at order {}; order {order} has {:.0} % of its limit",
            outside.join(", "),
            100.0 * share
        );
    }
    if comparison.partial_odd_relief {
        words.push_str(
            "; orders from 21 on are accepted above their limits because the partial odd harmonic current is low",
        );
    }
    if comparison.short_excursion {
        words.push_str("; a short excursion is accepted because the mean is low");
    }
    let near = limits.comparison.repeatability_percent / 100.0;
    if (share - 1.0).abs() <= near {
        words.push_str(&format!(
            "; too close to tell: the method repeats to {} %",
            limits.comparison.repeatability_percent
        ));
    }
    words
}

/// Mean and smoothed windows of every order against the limits of one class.
fn comparison(
    findings: &WaveformFindings,
    class: HarmonicClass,
    limits: &HarmonicLimits,
) -> HarmonicComparison {
    let (quality, windows) = (&findings.quality, &findings.windows);
    let weight = limits.window.smoothing_weight;
    // The sensor may stand the wrong way round; the limits are for what is drawn.
    let power_w = largest_smoothed(windows.iter().map(|w| w.active_power_w.abs()), weight);
    let floor_a = limits.floor_a(quality.current_rms_a);
    let highest = quality.harmonics.len() as u32;
    let rule = &limits.comparison;
    let odd = &limits.partial_odd_harmonic_current;
    let short = &limits.short_excursion;
    let above = |x: f64, percent: f64, limit: f64| x > percent / 100.0 * limit * (1.0 + ROUNDING);

    let partial_odd_limit_a = limits.partial_odd_limit_a(class, power_w);
    let low_partial_odd = highest >= odd.orders[1]
        && !above(
            quality.distortion.partial_odd_harmonic_current_a,
            100.0,
            partial_odd_limit_a,
        );
    let duration_s: f64 = windows.iter().map(|w| w.length_s).sum();

    /// How one order stands before the two reliefs are chosen between.
    enum Stand {
        Settled(OrderResult),
        /// Only with the relief for the partial odd harmonic current.
        NeedsPartialOdd,
        /// Only with the short excursion of Class A.
        NeedsExcursion,
    }
    let mut orders = Vec::new();
    let mut stands = Vec::new();
    for harmonic in quality.harmonics.iter().skip(1) {
        let n = harmonic.order;
        let current_a = harmonic.current_group_a;
        let limit_a = limits.limit_a(class, n, power_w);
        let stand = match limit_a {
            None => Stand::Settled(OrderResult::NoLimit),
            Some(_) if current_a < floor_a => Stand::Settled(OrderResult::TooSmall),
            Some(limit) => {
                let smoothed = all_smoothed(
                    windows.iter().map(|w| {
                        w.current_group_a
                            .get(n as usize - 1)
                            .copied()
                            .unwrap_or(0.0)
                    }),
                    weight,
                );
                let high: Vec<bool> = smoothed
                    .iter()
                    .map(|x| above(*x, rule.smoothed_up_to_percent, limit))
                    .collect();
                let high_s: f64 = windows
                    .iter()
                    .zip(&high)
                    .filter(|(_, high)| **high)
                    .map(|(w, _)| w.length_s)
                    .sum();
                let any_high = high_s > 0.0;
                let excursion_allowed = class == HarmonicClass::A
                    && high_s <= short.share_percent / 100.0 * duration_s
                    && high_s <= short.longest_s
                    && !smoothed
                        .iter()
                        .any(|x| above(*x, short.smoothed_up_to_percent, limit))
                    && !above(current_a, short.mean_up_to_percent, limit);
                let mean_high = above(current_a, 100.0, limit);
                let relief_allowed = limits.partial_odd_orders().any(|o| o == n)
                    && low_partial_odd
                    && !above(current_a, odd.mean_up_to_percent, limit);
                match (mean_high, any_high) {
                    (false, false) => Stand::Settled(OrderResult::Within),
                    (true, false) if relief_allowed => Stand::NeedsPartialOdd,
                    (false, true) if excursion_allowed => Stand::NeedsExcursion,
                    _ => Stand::Settled(OrderResult::Outside),
                }
            }
        };
        stands.push(stand);
        orders.push(OrderAgainstLimit {
            order: n,
            current_a,
            limit_a,
            share: limit_a.and_then(|limit| super::ratio(current_a, limit)),
            result: OrderResult::Within,
        });
    }
    // Both reliefs exclude each other: the one for the partial odd harmonic current is used where
    // it is needed, and excursions are not forgiven then.
    let partial_odd_relief = stands.iter().any(|s| matches!(s, Stand::NeedsPartialOdd));
    let short_excursion =
        !partial_odd_relief && stands.iter().any(|s| matches!(s, Stand::NeedsExcursion));
    for (order, stand) in orders.iter_mut().zip(stands) {
        order.result = match stand {
            Stand::Settled(result) => result,
            Stand::NeedsPartialOdd => OrderResult::Relieved,
            Stand::NeedsExcursion if short_excursion => OrderResult::Within,
            Stand::NeedsExcursion => OrderResult::Outside,
        };
    }

    let closest = orders
        .iter()
        .filter(|o| !matches!(o.result, OrderResult::TooSmall | OrderResult::NoLimit))
        .filter_map(|o| Some((o.order, o.share?)))
        // Of equal ones the lowest order.
        .reduce(|best, o| if o.1 > best.1 { o } else { best });
    HarmonicComparison {
        class,
        within: orders.iter().all(|o| o.result != OrderResult::Outside),
        limit_power_w: (class == HarmonicClass::D).then_some(power_w),
        closest_order: closest.map(|c| c.0),
        closest_share: closest.map(|c| c.1),
        partial_odd_limit_a,
        partial_odd_relief,
        short_excursion,
        unknown_orders: (highest + 1..=limits.window.highest_order)
            .filter(|n| limits.limit_a(class, *n, power_w).is_some())
            .collect(),
        orders,
    }
}

/// Where the supply departs from what a test of conformity asks of it; empty where it keeps to
/// all, or where the frequency is not that of the test.
pub(super) fn supply(quality: &PowerQuality, limits: &HarmonicLimits) -> Vec<String> {
    let rule = &limits.test_supply;
    let mut words = Vec::new();
    if !within(quality.voltage_rms_v, rule.nominal_voltage_v, 15.0) {
        return words;
    }
    if !within(
        quality.voltage_rms_v,
        rule.nominal_voltage_v,
        rule.voltage_tolerance_percent,
    ) {
        words.push(format!(
            "voltage {:.2} V: a harmonic test asks for {} V within {} %",
            quality.voltage_rms_v, rule.nominal_voltage_v, rule.voltage_tolerance_percent
        ));
    }
    if !within(
        quality.frequency_hz,
        rule.nominal_frequency_hz,
        rule.frequency_tolerance_percent,
    ) {
        words.push(format!(
            "frequency {:.3} Hz: a harmonic test asks for {} Hz within {} %",
            quality.frequency_hz, rule.nominal_frequency_hz, rule.frequency_tolerance_percent
        ));
    }
    for harmonic in quality.harmonics.iter().skip(1) {
        let percent = 100.0 * harmonic.voltage_v / quality.fundamental.voltage_v;
        let most = rule
            .harmonics
            .iter()
            .find(|h| h.holds(harmonic.order))
            .map(|h| h.most_percent);
        if let Some(most) = most.filter(|most| percent > most * (1.0 + ROUNDING)) {
            words.push(format!(
                "order {} of the voltage {percent:.2} %: a harmonic test asks for at most {most} %",
                harmonic.order
            ));
        }
    }
    let crest = quality.voltage_crest_factor;
    if !(rule.crest_factor_least..=rule.crest_factor_most).contains(&crest) {
        words.push(format!(
            "crest factor of the voltage {crest:.3}: a harmonic test asks for {} to {}",
            rule.crest_factor_least, rule.crest_factor_most
        ));
    }
    words
}
