//! The composite score, term by term, so that anyone can recompute it.

use super::compliance::no_load_limit;
use super::evaluation::{RunResult, Score, ScoreTerm, ScoreTermRun, Verdict};
use super::points;
use super::uncertainty::Accuracy;
use super::warnings::not_held;
use crate::bench::record::{Category, MeasuredQuantity as Q, Record};
use crate::quantity::{Measured, combined};
use crate::standards::{ScoreFormula, Standards};

/// Points of a ratio of measured to reference: 50 at the reference, 100 at a k-th of it, 0 at k
/// times it, on a logarithmic scale.
pub fn points(ratio: f64, k: f64) -> f64 {
    if ratio <= 0.0 {
        return 100.0;
    }
    (50.0 - 50.0 * ratio.ln() / k.ln()).clamp(0.0, 100.0)
}

/// Standard uncertainty of the points: |d points / d measured| u = 50 / ln k · u / measured;
/// nothing where the scale is clamped.
fn points_u(measured: Measured, reference: f64, k: f64) -> Option<f64> {
    let u = measured.u?;
    let ratio = measured.value / reference;
    if ratio <= 1.0 / k || ratio >= k {
        return Some(0.0);
    }
    Some(50.0 / k.ln() * u / measured.value)
}

/// The score of a record.
pub fn score(
    record: &Record,
    runs: &[RunResult],
    verdicts: &[Verdict],
    standards: &Standards,
    formula: &ScoreFormula,
) -> Score {
    let counting: Vec<&RunResult> = runs
        .iter()
        .filter(|r| formula.line.holds(r.line_voltage_v, r.line_frequency_hz))
        .collect();
    let bench = Bench {
        record,
        counting,
        verdicts,
        standards,
        formula,
    };
    let terms = vec![
        bench.active_loss(),
        bench.light_load_loss(),
        bench.no_load(),
        bench.line_current(),
        bench.delivery(),
        bench.surface(),
    ];
    let total: f64 = terms.iter().map(|t| t.weight).sum();
    let present: Vec<(&ScoreTerm, f64)> =
        terms.iter().filter_map(|t| Some((t, t.points?))).collect();
    // Folded from 0: an empty float sum is -0, which would stand in the document.
    let weight = present.iter().fold(0.0, |sum, (t, _)| sum + t.weight);
    let value = (weight > 0.0).then(|| {
        present
            .iter()
            .map(|(t, points)| t.weight * points)
            .sum::<f64>()
            / weight
    });
    let known: Vec<f64> = present
        .iter()
        .filter_map(|(t, _)| Some(t.weight / weight * t.points_u?))
        .collect();
    let u_lacks: Vec<String> = present
        .iter()
        .filter(|(t, _)| t.points_u.is_none())
        .map(|(t, _)| t.term.clone())
        .collect();
    let coverage = weight / total;
    Score {
        version: formula.version,
        value,
        u: if known.is_empty() {
            None
        } else {
            combined(known.into_iter().map(Some))
        },
        coverage,
        // Weights are small whole numbers: a sum of 80 of 100 is meant to be enough.
        provisional: coverage < formula.provisional_below - 1e-12,
        u_lacks,
        terms,
    }
}

struct Bench<'a> {
    record: &'a Record,
    counting: Vec<&'a RunResult>,
    verdicts: &'a [Verdict],
    standards: &'a Standards,
    formula: &'a ScoreFormula,
}

/// One run's figure for a term: measured and its reference, or why it has none.
type RunFigure = Result<(Measured, f64), String>;

impl Bench<'_> {
    /// A term computed per run and averaged over the runs with equal weight.
    fn per_run(
        &self,
        term: &str,
        weight: f64,
        k: f64,
        figure: impl Fn(&RunResult) -> RunFigure,
    ) -> ScoreTerm {
        self.per_run_with_points(term, weight, k, figure, |_| None)
    }

    /// As `per_run`; `fixed` may give a run's points outright, with the reason.
    fn per_run_with_points(
        &self,
        term: &str,
        weight: f64,
        k: f64,
        figure: impl Fn(&RunResult) -> RunFigure,
        fixed: impl Fn(&RunResult) -> Option<String>,
    ) -> ScoreTerm {
        let mut reasons = Vec::new();
        let mut runs = Vec::new();
        for run in &self.counting {
            match figure(run) {
                Ok((measured, reference)) => {
                    let outright = fixed(run);
                    let zero = outright.is_some();
                    reasons.extend(outright);
                    runs.push(ScoreTermRun {
                        run: Some(run.name.clone()),
                        measured: measured.value,
                        measured_u: measured.u,
                        reference,
                        points: if zero {
                            0.0
                        } else {
                            points(measured.value / reference, k)
                        },
                        // Without instruments nobody knows how sure it is that the load was not held.
                        points_u: if zero {
                            measured.u.map(|_| 0.0)
                        } else {
                            points_u(measured, reference, k)
                        },
                    });
                }
                Err(reason) => reasons.push(format!("{}: {reason}", run.name)),
            }
        }
        if self.counting.is_empty() {
            let line = &self.formula.line;
            reasons.push(format!(
                "no run on {} V {} Hz",
                line.voltage_v, line.frequency_hz
            ));
        }
        term_of(term, weight, k, runs, reasons)
    }

    fn active_loss(&self) -> ScoreTerm {
        let rule = &self.formula.active_loss;
        self.per_run("active-loss", rule.weight, rule.k, |run| {
            let average = run.average_efficiency.ok_or("no average efficiency")?;
            let power = run.rated_power_w.ok_or("no rated outputs")?;
            let limit = self
                .limit_row(&rule.regime, run.category, None, power)
                .map(|row| row.avg_efficiency.at(power))
                .ok_or("no reference at this power")?;
            Ok((
                Measured::new(1.0 - average, run.average_efficiency_u),
                1.0 - limit,
            ))
        })
    }

    fn light_load_loss(&self) -> ScoreTerm {
        let rule = &self.formula.light_load_loss;
        self.per_run("light-load-loss", rule.weight, rule.k, |run| {
            let ten = run
                .ten_percent_efficiency
                .ok_or("no efficiency at 10 % load")?;
            let power = run.rated_power_w.ok_or("no rated outputs")?;
            let limit = self
                .limit_row(
                    &rule.regime,
                    run.category,
                    rule.multiple_uses.as_deref(),
                    power,
                )
                .and_then(|row| row.ten_percent_efficiency)
                .map(|curve| curve.at(power))
                .ok_or("no reference at this power")?;
            Ok((
                Measured::new(1.0 - ten, run.ten_percent_efficiency_u),
                1.0 - limit,
            ))
        })
    }

    fn limit_row(
        &self,
        regime: &str,
        category: Category,
        multiple_uses: Option<&str>,
        power: f64,
    ) -> Option<&crate::standards::Row> {
        let regime = self.standards.regime(regime)?;
        let name = match (category, multiple_uses) {
            (Category::Multiple, Some(name)) => name,
            _ => regime.category(category)?,
        };
        regime.row(name, power)
    }

    fn no_load(&self) -> ScoreTerm {
        let rule = &self.formula.no_load;
        let limit = no_load_limit(self.verdicts, &rule.regime);
        self.per_run("no-load", rule.weight, rule.k, |run| {
            let reading = run.no_load.as_ref().ok_or("no no-load reading")?;
            let limit = limit.ok_or("no no-load limit for this unit")?;
            Ok((Measured::new(reading.power_w, reading.power_u), limit))
        })
    }

    /// Mean of N/P = sqrt(1/PF² - 1) over the loads; u from d(N/P)/d(PF) = -1/(PF³ N/P), fully
    /// correlated between the points because the same instruments read them.
    fn line_current(&self) -> ScoreTerm {
        let rule = &self.formula.line_current;
        let reference = (rule.reference_power_factor.powi(-2) - 1.0).sqrt();
        self.per_run("line-current", rule.weight, rule.k, |run| {
            let load = &self.standards.procedure.load_points;
            let mut sum = 0.0;
            let mut sum_u = Some(0.0);
            let mut missing = Vec::new();
            for &percent in &rule.load_percents {
                let tolerance = if percent == load.ten_percent {
                    load.ten_percent_tolerance
                } else {
                    load.tolerance_percent
                };
                let point = points::at_percent(&run.points, percent, tolerance);
                let Some((pf, u)) = point
                    .and_then(|p| Some((p.power_factor?, p.power_factor_u)))
                    .filter(|&(pf, _)| pf >= points::LEAST_POWER_FACTOR)
                else {
                    missing.push(format!("{percent} %"));
                    continue;
                };
                let ratio = (pf.powi(-2) - 1.0).max(0.0).sqrt();
                sum += ratio;
                sum_u = sum_u.zip(u).map(|(sum, u)| {
                    // At a power factor of 1 the derivative has no bound, the points are clamped.
                    sum + if ratio > 0.0 {
                        u / (pf.powi(3) * ratio)
                    } else {
                        0.0
                    }
                });
            }
            if !missing.is_empty() {
                return Err(format!("no power factor at {} load", missing.join(", ")));
            }
            let n = rule.load_percents.len() as f64;
            Ok((Measured::new(sum / n, sum_u.map(|u| u / n)), reference))
        })
    }

    fn delivery(&self) -> ScoreTerm {
        let rule = &self.formula.delivery;
        self.per_run_with_points(
            "delivery",
            rule.weight,
            rule.k,
            |run| {
                let worst = run
                    .points
                    .iter()
                    .filter_map(|p| {
                        Some((p.voltage_deviation_percent?.abs(), p.voltage_deviation_u))
                    })
                    .max_by(|a, b| a.0.total_cmp(&b.0))
                    .ok_or("no output voltage beside a rated one")?;
                Ok((Measured::new(worst.0, worst.1), rule.reference_percent))
            },
            |run| {
                not_held(run, rule.held_above).map(|share| {
                    format!(
                        "{}: 100 % load was not held, {:.1} % of rated power delivered",
                        run.name,
                        share * 100.0
                    )
                })
            },
        )
    }

    /// Hot-spot rise over ambient at the highest load recorded; the largest of several there, as a
    /// series over time begins cold. Of a surface hotter than its hot spot the surface counts: the
    /// hot spot is then somewhere else.
    fn surface(&self) -> ScoreTerm {
        let rule = &self.formula.surface;
        let accuracy = Accuracy::of(&self.record.instruments);
        let known: Vec<(f64, f64, f64, bool)> = self
            .record
            .temperatures
            .iter()
            .filter_map(|t| {
                let hot_spot = t.hot_spot_c?;
                let hottest = t.surface_c.map_or(hot_spot, |s| s.max(hot_spot));
                Some((t.load_w?, hottest, t.ambient_c?, t.minutes != Some(0.0)))
            })
            .collect();
        let hottest = known.iter().copied().reduce(|best, t| {
            let hotter = t.0 == best.0 && t.1 - t.2 > best.1 - best.2;
            if t.0 > best.0 || hotter { t } else { best }
        });
        let (runs, reasons) = match hottest {
            None => (
                Vec::new(),
                vec!["no hot-spot and ambient temperature at a known load".to_owned()],
            ),
            Some((load, ..)) if !known.iter().any(|t| t.0 == load && t.3) => (
                Vec::new(),
                vec![format!(
                    "the hot spot at {load} W was read at minute 0 alone, before it could warm"
                )],
            ),
            Some((load, hot_spot, ambient, _)) if hot_spot <= ambient => (
                Vec::new(),
                vec![format!(
                    "the hot spot at {load} W was never above the ambient: no temperature under load"
                )],
            ),
            Some((_, hot_spot, ambient, _)) => {
                let u = combined(
                    [hot_spot, ambient].map(|t| accuracy.of_reading(Q::TemperatureC, Some(t))),
                );
                let rise = Measured::new(hot_spot - ambient, u);
                let run = ScoreTermRun {
                    run: None,
                    measured: rise.value,
                    measured_u: rise.u,
                    reference: rule.reference_rise_k,
                    points: points(rise.value / rule.reference_rise_k, rule.k),
                    points_u: points_u(rise, rule.reference_rise_k, rule.k),
                };
                (vec![run], Vec::new())
            }
        };
        term_of("surface", rule.weight, rule.k, runs, reasons)
    }
}

/// Equal weight for every run. The same instruments read all runs, so their errors are taken as
/// fully correlated: the mean of the u.
fn term_of(
    term: &str,
    weight: f64,
    k: f64,
    runs: Vec<ScoreTermRun>,
    reasons: Vec<String>,
) -> ScoreTerm {
    let n = runs.len() as f64;
    let mean = |of: &dyn Fn(&ScoreTermRun) -> Option<f64>| -> Option<f64> {
        let values: Option<Vec<f64>> = runs.iter().map(of).collect();
        values
            .filter(|v| !v.is_empty())
            .map(|v| v.iter().sum::<f64>() / n)
    };
    ScoreTerm {
        term: term.to_owned(),
        weight,
        k,
        points: mean(&|r| Some(r.points)),
        points_u: mean(&|r| r.points_u),
        measured: mean(&|r| Some(r.measured)),
        reference: mean(&|r| Some(r.reference)),
        reason: (!reasons.is_empty()).then(|| reasons.join("; ")),
        runs,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// score.md: 50 points exactly at the reference, 100 at a k-th of it, 0 at k times it.
    #[test]
    fn the_scale_is_pinned_at_reference_and_k() {
        for k in [2.0, 2.5, 4.0, 10.0] {
            assert!((points(1.0, k) - 50.0).abs() < 1e-12);
            assert!((points(1.0 / k, k) - 100.0).abs() < 1e-9);
            assert!(points(k, k).abs() < 1e-9);
            assert_eq!(points(0.0, k), 100.0);
            assert_eq!(points(1e9, k), 0.0);
        }
    }

    #[test]
    fn a_load_that_was_not_held_is_not_certain_without_instruments() {
        let held = |instruments: bool| {
            let mut record = crate::demo::collection()
                .into_iter()
                .find(|r| r.unit.model == "IB-65C")
                .expect("a unit that gives up");
            if !instruments {
                record.instruments.clear();
            }
            let score =
                crate::evaluate::evaluate(&record, &crate::evaluate::Method::standard()).score;
            let runs = &score
                .terms
                .iter()
                .find(|t| t.term == "delivery")
                .unwrap()
                .runs;
            (runs[0].points, runs[0].points_u, score.u.is_some())
        };
        assert_eq!(held(true), (0.0, Some(0.0), true));
        assert_eq!(held(false), (0.0, None, false));
    }

    #[test]
    fn a_series_from_the_cold_counts_where_it_ends() {
        use crate::bench::record::Temperature;
        let at = |load_w, minutes, hot_spot_c| Temperature {
            load_w: Some(load_w),
            minutes: Some(minutes),
            ambient_c: Some(22.0),
            surface_c: None,
            hot_spot_c: Some(hot_spot_c),
            material: None,
            place: None,
        };
        let mut record = crate::demo::invent(1, 1);
        record.temperatures = vec![
            at(20.0, 60.0, 80.0),
            at(40.0, 0.0, 22.4),
            at(40.0, 30.0, 51.0),
            at(40.0, 60.0, 58.0),
        ];
        let evaluation = crate::evaluate::evaluate(&record, &crate::evaluate::Method::standard());
        let terms = evaluation.score.terms;
        let surface = terms.iter().find(|t| t.term == "surface");
        assert_eq!(surface.and_then(|t| t.measured), Some(36.0));
    }

    #[test]
    fn the_uncertainty_of_points_is_their_slope_by_central_differences() {
        let (k, reference) = (2.5, 0.12);
        for value in [0.06, 0.1, 0.12, 0.2] {
            let (u, h) = (0.002, 1e-7);
            let slope = (points((value + h) / reference, k) - points((value - h) / reference, k))
                / (2.0 * h);
            let by_formula = points_u(Measured::new(value, Some(u)), reference, k).unwrap();
            assert!((slope.abs() * u - by_formula).abs() < 1e-6, "{value}");
        }
        assert_eq!(
            points_u(Measured::new(0.5, Some(0.01)), reference, k),
            Some(0.0)
        );
    }

    #[test]
    fn a_series_over_time_is_scored_by_its_largest_rise_at_the_highest_load() {
        let at = |load: f64, minutes: f64, hot: f64| serde_json::json!({"load_w": load, "minutes": minutes, "ambient_c": 24, "hot_spot_c": hot});
        let document = serde_json::json!({
            "format": "brickbook-record/1",
            "unit": {"maker": "Larkfield", "model": "LF", "nameplate": {"output_power_w": 60}},
            "temperatures": [at(60.0, 0.0, 24.0), at(60.0, 30.0, 58.0), at(60.0, 60.0, 64.0),
                at(30.0, 60.0, 70.0)],
        });
        let record = crate::bench::decode::decode(&document.to_string()).unwrap();
        let evaluation = crate::evaluate::evaluate(&record, &crate::evaluate::Method::standard());
        let term = evaluation
            .score
            .terms
            .iter()
            .find(|t| t.term == "surface")
            .unwrap();
        assert_eq!(term.measured, Some(40.0));
    }

    #[test]
    fn a_cold_start_or_a_spot_below_the_room_is_no_hot_spot_under_load() {
        let term = |temperatures: serde_json::Value| {
            let document = serde_json::json!({
                "format": "brickbook-record/1",
                "unit": {"maker": "Larkfield", "model": "LF", "nameplate": {"output_power_w": 60}},
                "temperatures": temperatures,
            });
            let record = crate::bench::decode::decode(&document.to_string()).unwrap();
            let method = crate::evaluate::Method::standard();
            let evaluation = crate::evaluate::evaluate(&record, &method);
            let terms = evaluation.score.terms;
            let term = terms.into_iter().find(|t| t.term == "surface").unwrap();
            let warned: Vec<String> = evaluation
                .warnings
                .into_iter()
                .map(|w| w.path)
                .filter(|p| p.starts_with("temperatures"))
                .collect();
            (term.measured, term.points, term.reason, warned)
        };
        let at = |minutes: f64, hot: f64, surface: Option<f64>| {
            serde_json::json!({"load_w": 60, "minutes": minutes, "ambient_c": 24,
                "hot_spot_c": hot, "surface_c": surface})
        };
        for start in [24.0, 30.0] {
            let (measured, points, reason, _) = term(serde_json::json!([at(0.0, start, None)]));
            assert_eq!((measured, points), (None, None));
            assert!(reason.unwrap().contains("minute 0"));
        }
        let (measured, points, reason, warned) = term(serde_json::json!([at(60.0, 10.0, None)]));
        assert_eq!((measured, points), (None, None));
        assert!(reason.unwrap().contains("never above the ambient"));
        assert_eq!(warned, ["temperatures[0].hot_spot_c"]);
        let (measured, _, _, warned) = term(serde_json::json!([at(60.0, 70.0, Some(90.0))]));
        assert_eq!(measured, Some(66.0));
        assert_eq!(warned, ["temperatures[0].hot_spot_c"]);
        let (measured, _, _, warned) = term(serde_json::json!([at(60.0, 90.0, Some(70.0))]));
        assert_eq!((measured, warned.len()), (Some(66.0), 0));
    }
}
