//! Temperatures against time: whether they had settled, where they were heading, and how they
//! compare, brought to one ambient, with figures for surfaces that people touch.
//!
//! Formulas: T25 = T - T_ambient + 25 (superposition of rises; taken for ambients near 25 °C only);
//! first-order warming rise(t) = A + B exp(-t/τ), fitted by least squares.

use super::figure::{self, FigureResult};
use super::ports::short;
use super::uncertainty::Accuracy;
use crate::bench::record::{Material, MeasuredQuantity as Q, Record, Temperature};
use crate::quantity::{NEXT_TO_NOTHING, combined};
use crate::standards::Standards;
use crate::standards::touch_temperature::{TouchMaterial, TouchTemperature};
use serde::{Deserialize, Serialize};
use statrs::distribution::{ContinuousCDF, StudentsT};

/// Readings of one place at one load, one after another.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct HeatResult {
    /// `surface` or `hot-spot`.
    pub quantity: String,
    pub place: Option<String>,
    pub load_w: Option<f64>,
    pub material: TouchMaterial,
    /// Was the material noted? Else the usual one is taken.
    pub material_noted: bool,
    pub readings: Vec<HeatReading>,
    pub state: HeatState,
    pub state_why: String,
    /// Rate over the last stretch, K in 10 min; null where it cannot be told.
    pub change_k_per_10_min: Option<f64>,
    /// The fit, where there are readings enough for one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fit: Option<HeatFit>,
    /// Where it settled: the last reading, or where the fit ends.
    pub temperature_c: f64,
    pub ambient_c: Option<f64>,
    pub rise_k: Option<f64>,
    /// Brought to the reference ambient; null without an ambient.
    pub at_reference_c: Option<f64>,
    /// Standard uncertainty of it, of the fit included; null where unknown.
    pub at_reference_u: Option<f64>,
    /// The reading that is compared instead, at the reference ambient, where one was hotter than
    /// where the series ends.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub peak: Option<HeatReading>,
    /// What is compared with the figures, at the reference ambient: where it settled, or the peak.
    /// Null where nothing settled or the ambient allows no comparison.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub compared_c: Option<f64>,
    /// Standard uncertainty that it is compared with: of all that is known, so that of the fit
    /// alone where the thermometer's is not on record; null where nothing is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub compared_u: Option<f64>,
    /// The rise (of the peak, if that is compared) on top of the highest ambient of the label, for
    /// information.
    pub at_max_ambient_c: Option<f64>,
    /// The touch-temperature rows of the material; empty where the readings do not allow a
    /// comparison.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub rows: Vec<TouchResult>,
    /// Why there are no rows, or what to bear in mind with them.
    pub remark: Option<String>,
    /// What the figures hold for, and what to bear in mind.
    pub cautions: Vec<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct HeatReading {
    /// Place in the record's `temperatures`, from 0.
    pub temperature: u64,
    pub minutes: Option<f64>,
    pub temperature_c: f64,
    pub ambient_c: Option<f64>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum HeatState {
    /// It changed by less than the rule over the last stretch, and no fit says otherwise.
    Steady,
    /// Still warming; the fit tells where to.
    Extrapolated,
    /// Still changing, and no fit tells where to.
    Changing,
    /// The readings do not tell.
    Unknown,
}

/// rise(t) = `final_rise_k` + `amplitude_k` exp(-t / `time_constant_min`), t in minutes from the
/// first reading of the series.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct HeatFit {
    pub final_rise_k: f64,
    pub amplitude_k: f64,
    pub time_constant_min: f64,
    /// Standard uncertainty of the final rise from the scatter about the fit.
    pub final_rise_u: f64,
    pub degrees_of_freedom: u64,
    /// Student's t for 95 %.
    pub coverage_factor: f64,
    pub rms_residual_k: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct TouchResult {
    /// `held`, `short`, `occasional`, `not_needed`.
    pub row: String,
    pub duration: String,
    /// The row that adapters are usually judged by.
    pub usual: bool,
    /// A line of comfort, not what adapters are judged by.
    pub comfort: bool,
    /// `TS1`, `TS2` or `TS3` by the value alone.
    pub class: String,
    pub ts1: FigureResult,
    pub ts2: FigureResult,
}

/// Display resolution of thermometers, kelvin: a fit is never taken for better than that.
const RESOLUTION_K: f64 = 0.1;
/// The stretch that shows a steady state may be longer than the rule's by this factor: what is
/// further apart says nothing of the end.
const LONGEST_STRETCH: f64 = 1.5;
/// Readings that a fit of three unknowns needs at least, to leave something over.
const FEWEST_READINGS: usize = 4;

/// Every series of the record: entries of one place, load and material by their minutes.
pub fn results(record: &Record, standards: &Standards) -> Vec<HeatResult> {
    let table = &standards.touch_temperature;
    let accuracy = Accuracy::of(&record.instruments);
    let max_ambient_c = record.unit.nameplate.max_ambient_c;
    let mut found = Vec::new();
    for series in series(&record.temperatures) {
        for (quantity, of) in [
            (
                "hot-spot",
                (|t| t.hot_spot_c) as fn(&Temperature) -> Option<f64>,
            ),
            ("surface", |t| t.surface_c),
        ] {
            let readings: Vec<HeatReading> = series
                .iter()
                .filter_map(|&(at, entry)| {
                    Some(HeatReading {
                        temperature: at as u64,
                        minutes: entry.minutes,
                        temperature_c: of(entry)?,
                        ambient_c: entry.ambient_c,
                    })
                })
                .collect();
            if let Some(&(_, first)) = series.first().filter(|_| !readings.is_empty()) {
                found.push(judged(
                    quantity,
                    first,
                    readings,
                    max_ambient_c,
                    accuracy,
                    table,
                ));
            }
        }
    }
    found
}

/// Entries of one place, load and material in the order of their minutes, however they were
/// entered. Where a minute comes twice there were several series: they are then cut where the
/// minutes do not rise. An entry without a time stands alone.
fn series(temperatures: &[Temperature]) -> Vec<Vec<(usize, &Temperature)>> {
    let same = |a: &Temperature, b: &Temperature| {
        a.place == b.place && a.load_w == b.load_w && a.material == b.material
    };
    let mut groups: Vec<Vec<(usize, &Temperature)>> = Vec::new();
    for (at, entry) in temperatures.iter().enumerate() {
        match groups.iter_mut().find(|g| same(g[0].1, entry)) {
            Some(group) => group.push((at, entry)),
            None => groups.push(vec![(at, entry)]),
        }
    }
    let mut found: Vec<Vec<(usize, &Temperature)>> = Vec::new();
    for mut group in groups {
        let minutes = |&(_, entry): &(usize, &Temperature)| entry.minutes;
        let mut times: Vec<f64> = group.iter().filter_map(minutes).collect();
        times.sort_by(f64::total_cmp);
        if times.windows(2).all(|pair| pair[0] < pair[1]) {
            group.sort_by(|a, b| {
                let time = |e| minutes(e).unwrap_or(f64::NEG_INFINITY);
                time(a).total_cmp(&time(b))
            });
        }
        let mut before = None;
        for entry in group {
            let now = minutes(&entry);
            match found.last_mut() {
                Some(series) if before.zip(now).is_some_and(|(before, now)| now > before) => {
                    series.push(entry);
                }
                _ => found.push(vec![entry]),
            }
            before = now;
        }
    }
    found.sort_by_key(|series| series.iter().map(|&(at, _)| at).min());
    found
}

fn judged(
    quantity: &str,
    first: &Temperature,
    readings: Vec<HeatReading>,
    max_ambient_c: Option<f64>,
    accuracy: Accuracy,
    table: &TouchTemperature,
) -> HeatResult {
    let material = first
        .material
        .map_or(table.default_material, |m: Material| m.into());
    let last = readings[readings.len() - 1].clone();
    let rises: Vec<(f64, f64)> = readings
        .iter()
        .filter_map(|r| Some((r.minutes?, r.temperature_c - r.ambient_c?)))
        .collect();
    let whole = rises.len() == readings.len();
    // Without the ambient the temperature itself must tell whether it settled.
    let course: Vec<(f64, f64)> = if whole {
        rises.clone()
    } else {
        readings
            .iter()
            .filter_map(|r| Some((r.minutes?, r.temperature_c)))
            .collect()
    };
    let rate = rate(&course, table.steady_min);
    let fit = if whole { first_order(&rises) } else { None };
    let ends_at = rises.last().map_or(0.0, |r| r.0);
    let started = rises.first().map_or(0.0, |r| r.0);
    // Less than one time constant on record says too little of where it ends.
    let usable = fit
        .as_ref()
        .filter(|f| ends_at - started >= f.time_constant_min && f.amplitude_k < 0.0);
    // A fit that ends above the last reading, beyond its own uncertainty, says that the rule alone
    // does not show where it ends.
    let gap_k = fit
        .as_ref()
        .filter(|f| f.amplitude_k < 0.0)
        .zip(rises.last())
        .map(|(f, last)| (f.final_rise_k - last.1, f.coverage_factor * f.final_rise_u))
        .filter(|(gap, expanded)| gap > expanded)
        .map(|(gap, _)| gap);
    let slow = |rate: f64| rate.abs() < table.steady_k;
    let changed = |rate: f64| {
        format!(
            "changed by {} K in {} min at the end",
            short(rate),
            short(table.steady_min)
        )
    };
    let (state, state_why) = match (rate, usable) {
        (Some(rate), _) if slow(rate) && gap_k.is_none_or(|gap| gap < table.steady_k) => (
            HeatState::Steady,
            format!(
                "{}, less than {} K{}",
                changed(rate),
                short(table.steady_k),
                gap_k.map_or(String::new(), |gap| format!(
                    "; a first-order fit ends {} K above the last reading, which counts as uncertainty",
                    short(gap)
                ))
            ),
        ),
        (Some(rate), Some(fit)) if slow(rate) => (
            HeatState::Extrapolated,
            format!(
                "{}, though a first-order fit with a time constant of {} min ends {} K above the last reading",
                changed(rate),
                short(fit.time_constant_min),
                short(gap_k.unwrap_or_default())
            ),
        ),
        (Some(rate), None) if slow(rate) => (
            HeatState::Changing,
            format!(
                "{}, though a first-order fit is heading {} K further, and the readings do not tell where to",
                changed(rate),
                short(gap_k.unwrap_or_default())
            ),
        ),
        (_, Some(fit)) => (
            HeatState::Extrapolated,
            format!(
                "still warming; a first-order fit with a time constant of {} min ends {} K above the last reading",
                short(fit.time_constant_min),
                short(fit.final_rise_k - rises.last().map_or(0.0, |r| r.1))
            ),
        ),
        (Some(rate), None) => (
            HeatState::Changing,
            format!("{}, and the readings do not tell where to", changed(rate)),
        ),
        (None, None) => (
            HeatState::Unknown,
            if readings.len() == 1 {
                "one reading does not show whether it had settled".to_owned()
            } else {
                format!(
                    "no reading {} to {} min before the last one: the readings do not show whether it had settled",
                    short(table.steady_min),
                    short(table.steady_min * LONGEST_STRETCH)
                )
            },
        ),
    };
    let extrapolated = usable.filter(|_| state == HeatState::Extrapolated);
    let rise_k = match extrapolated {
        Some(fit) => Some(fit.final_rise_k),
        None => last.ambient_c.map(|a| last.temperature_c - a),
    };
    let temperature_c = match (extrapolated, last.ambient_c) {
        (Some(fit), Some(ambient)) => ambient + fit.final_rise_k,
        _ => last.temperature_c,
    };
    let at_reference_c = last
        .ambient_c
        .map(|a| TouchTemperature::shifted(temperature_c, a, table.reference_ambient_c));
    let thermometer = |celsius: f64, ambient: f64| {
        combined([celsius, ambient].map(|c| accuracy.standard(Q::TemperatureC, c).ok()))
    };
    // The fit's part is brought to the k = 2 of everything else.
    let by_course = match (state, extrapolated) {
        (_, Some(fit)) => fit.coverage_factor * fit.final_rise_u / 2.0,
        (HeatState::Steady, None) => gap_k.unwrap_or(0.0) / 2.0,
        _ => 0.0,
    };
    let at_reference_u = last
        .ambient_c
        .and_then(|ambient| combined([thermometer(temperature_c, ambient), Some(by_course)]));
    let comparable = |reading: &HeatReading| {
        reading
            .ambient_c
            .filter(|&a| table.may_shift_from(a))
            .map(|a| TouchTemperature::shifted(reading.temperature_c, a, table.reference_ambient_c))
    };
    let settled = at_reference_c
        .filter(|_| comparable(&last).is_some())
        .filter(|_| matches!(state, HeatState::Steady | HeatState::Extrapolated))
        .map(|celsius| {
            let known = at_reference_u.or((by_course > 0.0).then_some(by_course));
            (celsius, known)
        });
    let hottest = readings
        .iter()
        .filter_map(|r| Some((comparable(r)?, r)))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .filter(|(celsius, reading)| match settled {
            Some((ends, u)) => {
                // A fit may end anywhere within its uncertainty; what was read was reached.
                let beyond = if state == HeatState::Steady {
                    u.map_or(0.0, |u| 2.0 * u)
                } else {
                    0.0
                };
                celsius - ends > beyond.max(RESOLUTION_K) + 1e-9
            }
            None => reading.temperature != last.temperature,
        });
    let peak_u = |reading: &HeatReading| {
        thermometer(reading.temperature_c, reading.ambient_c.unwrap_or_default())
    };
    let compared_with = match (settled, hottest) {
        (Some((ends, u)), Some((celsius, reading))) => {
            // Until the reading is clearly above it the end may still lie higher.
            let surely = celsius - ends > u.map_or(0.0, |u| 2.0 * u);
            Some((celsius, if surely { peak_u(reading) } else { u }))
        }
        (Some(settled), None) => Some(settled),
        (None, Some((celsius, reading))) => Some((celsius, peak_u(reading))),
        (None, None) => comparable(&last).map(|celsius| (celsius, at_reference_u)),
    };
    let (rows, mut remark) = compared(
        settled.is_some(),
        material,
        last.ambient_c,
        compared_with,
        at_reference_u.is_some(),
        table,
    );
    if let Some((celsius, reading)) = hottest.filter(|_| !rows.is_empty()) {
        let fell_k = celsius - at_reference_c.unwrap_or(celsius);
        let said = format!(
            "the highest reading is compared, {} °C at {} °C ambient{}: {}",
            short(celsius),
            short(table.reference_ambient_c),
            reading
                .minutes
                .map_or(String::new(), |m| format!(" after {} min", short(m))),
            if reading.temperature == last.temperature {
                "it is above where the fit ends"
            } else if fell_k < table.steady_k {
                "it fell afterwards"
            } else {
                "it fell afterwards, and the load may have dropped"
            }
        );
        remark = Some(match remark {
            Some(other) => format!("{said}; {other}"),
            None => said,
        });
    }
    let peak = hottest.map(|(_, reading)| reading.clone());
    let compared_c = settled.and(compared_with).map(|c| c.0);
    let compared_u = settled.and(compared_with).and_then(|c| c.1);
    let largest_rise_k = peak
        .as_ref()
        .and_then(|p| Some(p.temperature_c - p.ambient_c?))
        .or(rise_k);
    HeatResult {
        quantity: quantity.to_owned(),
        place: first.place.clone(),
        load_w: first.load_w,
        material,
        material_noted: first.material.is_some(),
        change_k_per_10_min: rate,
        state,
        state_why,
        fit,
        temperature_c,
        ambient_c: last.ambient_c,
        rise_k,
        at_reference_c,
        at_reference_u,
        peak,
        compared_c,
        compared_u,
        at_max_ambient_c: largest_rise_k
            .zip(max_ambient_c)
            .map(|(rise, max)| rise + max),
        rows,
        remark,
        cautions: std::iter::once(&table.reference_source)
            .chain(&table.cautions)
            .cloned()
            .collect(),
        readings,
    }
}

/// The rows of the material, or why the readings allow none. A temperature that is outside before
/// it settled is outside all the more, and so is one read before the ambient was not any more.
fn compared(
    settled: bool,
    material: TouchMaterial,
    ambient_c: Option<f64>,
    value: Option<(f64, Option<f64>)>,
    thermometer_known: bool,
    table: &TouchTemperature,
) -> (Vec<TouchResult>, Option<String>) {
    let rows = value.map_or(Vec::new(), |(celsius, u)| {
        touch_rows(celsius, u, material, table)
    });
    if settled {
        let remark = (!thermometer_known).then(|| {
            let without = match value {
                Some((_, Some(_))) => "compared with the uncertainty of the fit alone",
                _ => "compared without it",
            };
            format!("the thermometer's accuracy is not on record: {without}")
        });
        return (rows, remark);
    }
    let outside: Vec<TouchResult> = rows
        .into_iter()
        .filter(|r| !r.ts1.result.is_within())
        .collect();
    let why = match ambient_c {
        None => Some("the ambient was not read: the temperature cannot be compared".to_owned()),
        Some(ambient) if !table.may_shift_from(ambient) => Some(format!(
            "the ambient of {} °C is not between {} and {} °C: shown without a comparison",
            short(ambient),
            short(table.ambient_from_c),
            short(table.ambient_to_c)
        )),
        Some(_) => None,
    };
    let remark = match (why, outside.is_empty()) {
        (Some(why), true) => why,
        (Some(_), false) => {
            "the last ambient allows no comparison: only figures that it was outside of are shown"
                .to_owned()
        }
        (None, true) => "not settled: no comparison".to_owned(),
        (None, false) => {
            "not settled: only figures that it is outside of already are shown".to_owned()
        }
    };
    (outside, Some(remark))
}

/// A temperature at the reference ambient against every row of a material.
pub fn touch_rows(
    celsius: f64,
    u: Option<f64>,
    material: TouchMaterial,
    table: &TouchTemperature,
) -> Vec<TouchResult> {
    table
        .rows
        .iter()
        .map(|row| {
            let limits = row.limits(material);
            let source = format!("{}: {}", table.citation, limits.confidence);
            let against = |class: &str, limit: f64| {
                figure::at_most(
                    &format!("{class} figure ({})", row.duration),
                    "°C",
                    (celsius, u),
                    limit,
                    &source,
                )
            };
            TouchResult {
                row: row.id.clone(),
                duration: row.duration.clone(),
                usual: row.id == table.usual_row,
                comfort: row.id == table.comfort_row,
                class: limits.class_of(celsius).to_owned(),
                ts1: against("TS1", limits.ts1_c),
                ts2: against("TS2", limits.ts2_c),
            }
        })
        .collect()
}

/// K in `over_min` over the last stretch: from the latest reading at least that long before the
/// last one. `None` where that one lies so far back that it says nothing of the end.
fn rate(course: &[(f64, f64)], over_min: f64) -> Option<f64> {
    let &(end, last) = course.last()?;
    let &(start, before) = course
        .iter()
        .rev()
        .find(|(minutes, _)| end - minutes >= over_min - 1e-9)
        .filter(|(minutes, _)| end - minutes <= over_min * LONGEST_STRETCH + 1e-9)?;
    // All between must keep to it too: up and down again is not steady.
    let largest = course
        .iter()
        .filter(|(minutes, _)| *minutes >= start)
        .map(|(_, rise)| (last - rise) / (end - start) * over_min)
        .max_by(|a, b| a.abs().total_cmp(&b.abs()));
    largest.or(Some((last - before) / (end - start) * over_min))
}

/// Least squares of rise = A + B exp(-t/τ): for every τ on a fine scale A and B are linear, and the
/// best τ is refined by golden section. The uncertainty of A is that of the linearised model at the
/// best fit (GUM, JCGM 100:2008, 5.1), with the scatter of the readings or their resolution.
///
/// `None` with fewer than four readings, or where no first-order course fits.
pub fn first_order(rises: &[(f64, f64)]) -> Option<HeatFit> {
    let n = rises.len();
    if n < FEWEST_READINGS {
        return None;
    }
    let start = rises.first()?.0;
    let span = rises.last()?.0 - start;
    if span < NEXT_TO_NOTHING {
        return None;
    }
    // Time from the first reading keeps the exponentials in bounds; A does not depend on it.
    let points: Vec<(f64, f64)> = rises.iter().map(|&(t, y)| (t - start, y)).collect();
    let squares = |ln_tau: f64| linear(&points, ln_tau.exp()).map_or(f64::INFINITY, |f| f.2);
    let (from, to) = ((span / 50.0).ln(), (span * 5.0).ln());
    const STEPS: usize = 200;
    let width = (to - from) / STEPS as f64;
    let best = (0..=STEPS)
        .map(|i| from + width * i as f64)
        .min_by(|a, b| squares(*a).total_cmp(&squares(*b)))?;
    // At an end of the scale the course is a straight line or a step: nothing first-order.
    if best <= from + 1e-9 || best >= to - 1e-9 {
        return None;
    }
    let (mut low, mut high) = (best - width, best + width);
    let golden = (5f64.sqrt() - 1.0) / 2.0;
    for _ in 0..80 {
        let (a, b) = (high - golden * (high - low), low + golden * (high - low));
        if squares(a) < squares(b) {
            high = b;
        } else {
            low = a;
        }
    }
    let tau = ((low + high) / 2.0).exp();
    let (a, b, rest) = linear(&points, tau)?;
    // Normal matrix of the three unknowns A, B, τ.
    let mut normal = [[0.0; 3]; 3];
    for &(t, _) in &points {
        let e = (-t / tau).exp();
        let by = [1.0, e, b * t / (tau * tau) * e];
        for i in 0..3 {
            for j in 0..3 {
                normal[i][j] += by[i] * by[j];
            }
        }
    }
    let [[p, q, r], [_, s, t], [.., u]] = normal;
    let cofactor = s * u - t * t;
    let determinant = p * cofactor - q * (q * u - t * r) + r * (q * t - s * r);
    let variance_of_a = cofactor / determinant;
    let degrees_of_freedom = n - 3;
    let scatter = (rest / degrees_of_freedom as f64).max(RESOLUTION_K * RESOLUTION_K / 12.0);
    let final_rise_u = (variance_of_a * scatter).sqrt();
    if !(final_rise_u.is_finite() && a.is_finite() && b.is_finite() && tau.is_finite()) {
        return None;
    }
    let coverage_factor = StudentsT::new(0.0, 1.0, degrees_of_freedom as f64)
        .ok()?
        .inverse_cdf(0.975);
    Some(HeatFit {
        final_rise_k: a,
        amplitude_k: b,
        time_constant_min: tau,
        final_rise_u,
        degrees_of_freedom: degrees_of_freedom as u64,
        coverage_factor,
        rms_residual_k: (rest / n as f64).sqrt(),
    })
}

/// (A, B, sum of squares) of the best A + B exp(-t/τ) at a given τ.
fn linear(points: &[(f64, f64)], tau: f64) -> Option<(f64, f64, f64)> {
    let n = points.len() as f64;
    let (mut e1, mut e2, mut y1, mut ey) = (0.0, 0.0, 0.0, 0.0);
    for &(t, y) in points {
        let e = (-t / tau).exp();
        e1 += e;
        e2 += e * e;
        y1 += y;
        ey += e * y;
    }
    let determinant = n * e2 - e1 * e1;
    if determinant.abs() < 1e-12 * n * e2 {
        return None;
    }
    let b = (n * ey - e1 * y1) / determinant;
    let a = (y1 - b * e1) / n;
    let rest = points
        .iter()
        .map(|&(t, y)| (y - a - b * (-t / tau).exp()).powi(2))
        .sum();
    Some((a, b, rest))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::decode::decode;
    use serde_json::{Value, json};

    fn judged(temperatures: Value, instruments: Value) -> Vec<HeatResult> {
        let document = json!({
            "format": "brickbook-record/1",
            "unit": {"maker": "Larkfield", "model": "LF",
                "nameplate": {"output_power_w": 60, "max_ambient_c": 40}},
            "instruments": instruments,
            "temperatures": temperatures,
        });
        let record = decode(&document.to_string()).unwrap();
        results(&record, &Standards::embedded())
    }

    /// A first-order warming by `rise` with time constant `tau`, read to 0.1 K.
    fn warming(rise: f64, tau: f64, minutes: &[f64]) -> Value {
        let entries: Vec<Value> = minutes
            .iter()
            .map(|&t| {
                let c = 24.0 + rise * (1.0 - (-t / tau).exp());
                json!({"load_w": 60, "minutes": t, "ambient_c": 24.0,
                    "hot_spot_c": (c * 10.0).round() / 10.0, "material": "plastic", "where": "top"})
            })
            .collect();
        json!(entries)
    }

    #[test]
    fn readings_that_hardly_change_any_more_are_steady_and_compared() {
        let found = judged(
            warming(42.0, 12.0, &[0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0]),
            json!([{"quantity": "temperature_c", "fixed": 1.0}]),
        );
        assert_eq!(found.len(), 1);
        let heat = &found[0];
        assert_eq!(heat.state, HeatState::Steady);
        assert_eq!(heat.readings.len(), 8);
        assert!((heat.temperature_c - 65.9).abs() < 1e-9);
        assert!((heat.at_reference_c.unwrap() - 66.9).abs() < 1e-9);
        assert!((heat.at_max_ambient_c.unwrap() - 81.9).abs() < 1e-9);
        // two thermometer readings of ±1 °C
        // and what the fit is above the last reading
        assert!((heat.at_reference_u.unwrap() - (2.0f64 / 3.0).sqrt()).abs() < 0.01);
        let usual = heat.rows.iter().find(|r| r.usual).unwrap();
        assert_eq!(
            (usual.row.as_str(), usual.class.as_str()),
            ("occasional", "TS1")
        );
        assert_eq!(usual.ts1.limit, 77.0);
        assert!(usual.ts1.result.is_within());
        let held = heat.rows.iter().find(|r| r.comfort).unwrap();
        assert_eq!(held.class, "TS3");
    }

    #[test]
    fn a_warming_that_was_cut_short_is_extrapolated_with_its_uncertainty() {
        let found = judged(
            warming(42.0, 20.0, &[0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0]),
            json!([]),
        );
        let heat = &found[0];
        assert_eq!(heat.state, HeatState::Extrapolated, "{}", heat.state_why);
        let fit = heat.fit.as_ref().unwrap();
        assert!((fit.final_rise_k - 42.0).abs() < 2.0 * fit.coverage_factor * fit.final_rise_u);
        assert!((fit.final_rise_k - 42.0).abs() < 0.5, "{fit:?}");
        assert!((fit.time_constant_min - 20.0).abs() < 0.5);
        assert_eq!(fit.degrees_of_freedom, 4);
        assert!((fit.coverage_factor - 2.776).abs() < 1e-3);
        // the accuracy of the thermometer is unknown, so is the whole
        assert_eq!(heat.at_reference_u, None);
        assert!((heat.temperature_c - 66.0).abs() < 0.5);
        assert!(!heat.rows.is_empty());
    }

    #[test]
    fn a_fit_covers_the_truth_as_often_as_it_says() {
        use rand::{RngExt, SeedableRng, rngs::SmallRng};
        let mut rng = SmallRng::seed_from_u64(5);
        let (mut covered, mut fitted) = (0, 0);
        for _ in 0..400 {
            let (rise, tau) = (
                20.0 + 40.0 * rng.random::<f64>(),
                10.0 + 15.0 * rng.random::<f64>(),
            );
            let points: Vec<(f64, f64)> = (0..10)
                .map(|i| {
                    let t = 4.0 * f64::from(i);
                    // sum of twelve uniforms: normal, 0.3 K
                    let noise: f64 = (0..12).map(|_| rng.random::<f64>()).sum::<f64>() - 6.0;
                    (t, rise * (1.0 - (-t / tau).exp()) + 0.3 * noise)
                })
                .collect();
            if let Some(fit) = first_order(&points) {
                fitted += 1;
                let off = (fit.final_rise_k - rise).abs();
                covered += usize::from(off <= fit.coverage_factor * fit.final_rise_u);
            }
        }
        assert!(fitted > 390, "{fitted} fitted");
        let share = f64::from(covered as u32) / f64::from(fitted as u32);
        assert!((0.91..=0.99).contains(&share), "{share} covered");
    }

    #[test]
    fn one_reading_shows_no_steady_state_and_is_not_compared_unless_outside_already() {
        let one = |c: f64| {
            judged(
                json!([{"load_w": 60, "minutes": 45, "ambient_c": 24, "surface_c": c, "material": "metal"}]),
                json!([]),
            )
            .remove(0)
        };
        let cool = one(47.0);
        assert_eq!(cool.state, HeatState::Unknown);
        assert!(cool.rows.is_empty());
        assert_eq!(cool.remark.as_deref(), Some("not settled: no comparison"));
        assert_eq!(cool.at_reference_c, Some(48.0));
        let hot = one(62.0);
        let rows: Vec<&str> = hot.rows.iter().map(|r| r.row.as_str()).collect();
        assert_eq!(rows, ["held", "short", "occasional"]);
    }

    #[test]
    fn outside_20_to_30_c_or_without_an_ambient_there_is_no_comparison() {
        let two = |ambient: Value| {
            judged(
                json!([
                    {"load_w": 60, "minutes": 45, "ambient_c": ambient, "surface_c": 70},
                    {"load_w": 60, "minutes": 60, "ambient_c": ambient, "surface_c": 70.2}]),
                json!([]),
            )
            .remove(0)
        };
        let warm = two(json!(31.0));
        assert_eq!(warm.state, HeatState::Steady);
        assert!(warm.rows.is_empty());
        assert!(warm.remark.unwrap().contains("31 °C"));
        assert!(warm.at_reference_c.is_some(), "the value is still shown");
        let unknown = two(Value::Null);
        assert_eq!(unknown.state, HeatState::Steady);
        assert_eq!(unknown.at_reference_c, None);
        assert!(unknown.rows.is_empty());
        let fine = two(json!(20.0));
        assert_eq!(fine.rows.len(), 4);
        assert!(!fine.material_noted);
        assert_eq!(fine.material, TouchMaterial::PlasticRubber);
    }

    #[test]
    fn places_and_loads_make_series_of_their_own() {
        let found = judged(
            json!([
                {"load_w": 60, "minutes": 0, "ambient_c": 24, "surface_c": 24, "where": "top"},
                {"load_w": 60, "minutes": 0, "ambient_c": 24, "surface_c": 24, "where": "side"},
                {"load_w": 60, "minutes": 30, "ambient_c": 24, "surface_c": 50, "where": "top"},
                {"load_w": 60, "minutes": 30, "ambient_c": 24, "surface_c": 45, "where": "side"},
                {"load_w": 30, "minutes": 60, "ambient_c": 24, "surface_c": 40, "where": "top"},
                {"load_w": 60, "minutes": 0, "ambient_c": 24, "surface_c": 30, "where": "top"}]),
            json!([]),
        );
        let seen: Vec<(Option<&str>, usize)> = found
            .iter()
            .map(|h| (h.place.as_deref(), h.readings.len()))
            .collect();
        assert_eq!(
            seen,
            [
                (Some("top"), 2),
                (Some("side"), 2),
                (Some("top"), 1),
                (Some("top"), 1)
            ]
        );
        assert_eq!(found[0].state, HeatState::Unknown, "30 min apart");
    }

    fn hot_spots(course: &[(f64, f64)], instruments: Value) -> HeatResult {
        let entries: Vec<Value> = course
            .iter()
            .map(|(t, c)| json!({"load_w": 100, "minutes": t, "ambient_c": 24, "hot_spot_c": c}))
            .collect();
        judged(json!(entries), instruments).remove(0)
    }

    #[test]
    fn a_peak_that_fell_again_is_what_is_compared() {
        let thermometer = json!([{"quantity": "temperature_c", "fixed": 1.0}]);
        for ends in [
            &[
                (0.0, 30.0),
                (10.0, 70.0),
                (20.0, 92.0),
                (30.0, 95.0),
                (40.0, 70.0),
                (50.0, 69.8),
                (60.0, 69.7),
            ][..],
            &[(0.0, 95.0), (10.0, 92.0), (20.0, 60.0), (30.0, 60.0)][..],
        ] {
            for instruments in [thermometer.clone(), json!([])] {
                let heat = hot_spots(ends, instruments);
                assert_eq!(heat.state, HeatState::Steady);
                assert_eq!(heat.compared_c, Some(96.0));
                assert_eq!(heat.peak.as_ref().unwrap().temperature_c, 95.0);
                assert_eq!(heat.at_max_ambient_c, Some(111.0));
                assert!(
                    heat.temperature_c < 70.0,
                    "where it settled stands beside it"
                );
                assert!(heat.rows.iter().all(|r| !r.ts1.result.is_within()));
                let remark = heat.remark.unwrap();
                assert!(
                    remark.contains("fell afterwards, and the load may have dropped"),
                    "{remark}"
                );
            }
        }
    }

    #[test]
    fn a_last_digit_that_flickers_is_no_peak() {
        let course = [(40.0, 70.1), (50.0, 70.0), (60.0, 70.0)];
        assert_eq!(hot_spots(&course, json!([])).peak, None);
        let noisy = [(40.0, 70.6), (50.0, 70.2), (60.0, 70.0)];
        let thermometer = json!([{"quantity": "temperature_c", "fixed": 1.0}]);
        let heat = hot_spots(&noisy, thermometer);
        assert_eq!((heat.peak, heat.compared_c), (None, Some(71.0)));
    }

    #[test]
    fn a_peak_counts_though_the_last_ambient_was_not_read() {
        let heat = judged(
            json!([
                {"load_w": 60, "minutes": 45, "ambient_c": 24, "surface_c": 95},
                {"load_w": 60, "minutes": 60, "surface_c": 60}]),
            json!([]),
        )
        .remove(0);
        assert_eq!(
            heat.compared_c, None,
            "not settled as far as anybody can tell"
        );
        assert!(!heat.rows.is_empty());
        assert!(heat.rows.iter().all(|r| !r.ts1.result.is_within()));
    }

    #[test]
    fn an_extrapolation_is_not_firm_because_the_thermometer_is_unknown() {
        use super::super::figure::AgainstFigure as A;
        let heat = hot_spots(
            &[(0.0, 24.0), (5.0, 50.0), (10.0, 55.0), (15.0, 66.0)],
            json!([]),
        );
        assert_eq!(heat.state, HeatState::Extrapolated);
        assert_eq!(heat.at_reference_u, None, "the whole is still unknown");
        assert!(heat.compared_u.unwrap() > 50.0);
        for row in &heat.rows {
            assert!(
                matches!(
                    row.ts1.result,
                    A::WithinByLessThanUncertainty | A::OutsideByLessThanUncertainty
                ),
                "{}",
                row.ts1.message
            );
        }
        assert!(
            heat.remark
                .unwrap()
                .contains("uncertainty of the fit alone")
        );
    }

    #[test]
    fn what_its_own_fit_contradicts_is_not_steady() {
        let fine = json!([{"quantity": "temperature_c", "fixed": 0.1}]);
        let course = |rise: f64, tau: f64, to: u32| -> Vec<(f64, f64)> {
            (0..=to)
                .map(|i| {
                    let t = 10.0 * f64::from(i);
                    (
                        t,
                        ((24.0 + rise * (1.0 - (-t / tau).exp())) * 10.0).round() / 10.0,
                    )
                })
                .collect()
        };
        let heat = hot_spots(&course(54.0, 60.0, 16), fine.clone());
        assert!(heat.change_k_per_10_min.unwrap() < 1.0);
        assert_eq!(heat.state, HeatState::Extrapolated, "{}", heat.state_why);
        assert!((heat.compared_c.unwrap() - 79.0).abs() < 0.3);
        let usual = heat.rows.iter().find(|r| r.usual).unwrap();
        assert!(!usual.ts1.result.is_within(), "{}", usual.ts1.message);
        // Less than one time constant: nobody can say where it ends.
        let slow = hot_spots(&course(20.0, 130.0, 12), fine.clone());
        assert!(slow.change_k_per_10_min.unwrap() < 1.0);
        assert_eq!(slow.state, HeatState::Changing, "{}", slow.state_why);
        // Under 1 K it counts as uncertainty.
        let nearly = hot_spots(&course(52.0, 25.0, 11), fine);
        assert_eq!(nearly.state, HeatState::Steady, "{}", nearly.state_why);
        let gap = nearly.fit.as_ref().unwrap().final_rise_k - nearly.rise_k.unwrap();
        assert!(gap > 0.3, "{gap}");
        assert!(2.0 * nearly.at_reference_u.unwrap() > gap);
    }

    #[test]
    fn readings_far_apart_show_no_steady_state() {
        let far = hot_spots(&[(0.0, 60.0), (60.0, 65.5)], json!([]));
        assert_eq!(far.state, HeatState::Unknown, "{}", far.state_why);
        assert_eq!(far.change_k_per_10_min, None);
        assert!(far.rows.iter().all(|r| !r.ts1.result.is_within()));
        let near = hot_spots(&[(45.0, 65.0), (60.0, 65.5)], json!([]));
        assert_eq!(near.state, HeatState::Steady);
    }

    #[test]
    fn temperatures_entered_newest_first_are_one_series() {
        let at =
            |t: f64, c: f64| json!({"load_w": 60, "minutes": t, "ambient_c": 24, "surface_c": c});
        let found = judged(
            json!([at(60.0, 60.0), at(50.0, 59.8), at(40.0, 58.0)]),
            json!([]),
        );
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].state, HeatState::Steady);
        assert_eq!(found[0].temperature_c, 60.0);
        let places: Vec<u64> = found[0].readings.iter().map(|r| r.temperature).collect();
        assert_eq!(
            places,
            [2, 1, 0],
            "each still names its entry of the record"
        );
    }

    #[test]
    fn no_course_makes_the_fit_panic_or_lie() {
        let flat: Vec<(f64, f64)> = (0..8).map(|i| (f64::from(i), 20.0)).collect();
        let line: Vec<(f64, f64)> = (0..8).map(|i| (f64::from(i), f64::from(i))).collect();
        let saw: Vec<(f64, f64)> = (0..8).map(|i| (f64::from(i), f64::from(i % 2))).collect();
        assert!(first_order(&line).is_none(), "no end in sight");
        for course in [flat, saw] {
            if let Some(fit) = first_order(&course) {
                assert!(fit.final_rise_u.is_finite());
            }
        }
        assert!(first_order(&[(0.0, 1.0); 6]).is_none());
    }
}
