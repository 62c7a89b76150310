//! Verdicts: every requirement of every regime, with limit, margin, uncertainty and the reason
//! for what could not be judged.

use super::decision::judge;
use super::evaluation::{Alternative, Outcome, RegimeResult, Requirement, RunResult, Verdict};
use super::evidence::Evidence;
use super::no_load;
use super::points;
use super::runs::{by_voltage, delivers_different_voltages, within};
use crate::bench::record::{Category, Record, Unit};
use crate::standards::{LimitCurve, Regime, Role, Row, Standards};

/// All verdicts, and the result of each regime, in the order of the standards.
pub fn verdicts(
    record: &Record,
    runs: &[RunResult],
    evidence: &Evidence,
    standards: &Standards,
) -> (Vec<Verdict>, Vec<RegimeResult>) {
    let mut all = Vec::new();
    let mut results = Vec::new();
    for regime in &standards.regimes {
        let bench = Bench {
            record,
            runs,
            evidence,
            regime,
            standards,
        };
        let verdicts = bench.verdicts();
        results.push(summary(regime, &verdicts));
        all.extend(verdicts);
    }
    (all, results)
}

/// A regime's result: its worst deciding requirement. Anything not assessed makes it incomplete,
/// unless another requirement already fails; nothing assessed at all: not assessed.
fn summary(regime: &Regime, verdicts: &[Verdict]) -> RegimeResult {
    let deciding: Vec<&Verdict> = verdicts.iter().filter(|v| v.decides).collect();
    let missing: Vec<&str> = deciding
        .iter()
        .filter(|v| v.result == Outcome::NotAssessed)
        .filter_map(|v| v.reason.as_deref())
        .collect();
    let assessed = || {
        deciding
            .iter()
            .map(|v| v.result)
            .filter(|&r| r != Outcome::NotAssessed)
    };
    let result = match assessed().max() {
        None => Outcome::NotAssessed,
        Some(Outcome::Fail) => Outcome::Fail,
        Some(_) if !missing.is_empty() => Outcome::Incomplete,
        Some(worst) => worst,
    };
    let mut reasons: Vec<String> = Vec::new();
    for reason in missing {
        if !reasons.iter().any(|r| r == reason) {
            reasons.push(reason.to_owned());
        }
    }
    RegimeResult {
        regime: regime.id.clone(),
        result,
        reason: (!reasons.is_empty()).then(|| reasons.join("; ")),
    }
}

/// Why a regime says nothing of a unit at all.
pub fn out_of_reach(regime: &Regime, unit: &Unit) -> Option<String> {
    if !regime.limits_known {
        return Some("limits not on file".to_owned());
    }
    let power = unit.nameplate.output_power_w;
    regime
        .scope_w
        .filter(|[min, max]| !(*min..=*max).contains(&power))
        .map(|[min, max]| {
            format!("out of scope: {power} W is not within the regime's {min} W to {max} W")
        })
}

/// Why a regime has no limit for runs of a category.
pub fn category_uncovered(category: Category) -> String {
    format!(
        "out of scope: this regime does not cover category {}",
        category.word()
    )
}

/// What one regime's verdicts look at.
struct Bench<'a> {
    record: &'a Record,
    runs: &'a [RunResult],
    evidence: &'a Evidence,
    regime: &'a Regime,
    standards: &'a Standards,
}

impl Bench<'_> {
    fn verdicts(&self) -> Vec<Verdict> {
        if let Some(reason) = out_of_reach(self.regime, self.unit()) {
            return self
                .requirements()
                .map(|r| self.not_assessed(r, None, reason.clone()))
                .collect();
        }
        let plate = &self.unit().nameplate;
        let nameplate_v = plate.input_voltage_min_v.zip(plate.input_voltage_max_v);
        let lines = self.regime.lines(nameplate_v);
        if lines.is_empty() {
            let reason =
                "out of scope: the nameplate covers none of the regime's supplies".to_owned();
            return self
                .requirements()
                .map(|r| self.not_assessed(r, None, reason.clone()))
                .collect();
        }
        lines
            .into_iter()
            .flat_map(|line| self.on_line(line))
            .collect()
    }

    fn unit(&self) -> &Unit {
        &self.record.unit
    }

    fn requirements(&self) -> impl Iterator<Item = Requirement> {
        let ten = self
            .regime
            .ten_percent_is_requirement
            .then_some(Requirement::TenPercentEfficiency);
        [
            Some(Requirement::AverageEfficiency),
            Some(Requirement::NoLoad),
            ten,
        ]
        .into_iter()
        .flatten()
    }

    fn on_line(&self, (volts, hertz): (f64, f64)) -> Vec<Verdict> {
        let tolerance = self.standards.procedure.line.warning_tolerance_percent;
        let runs: Vec<&RunResult> = self
            .runs
            .iter()
            .filter(|r| {
                within(r.line_voltage_v, volts, tolerance)
                    && within(r.line_frequency_hz, hertz, tolerance)
            })
            .collect();
        if runs.is_empty() {
            let reason = format!("no run on {volts} V {hertz} Hz");
            return self
                .requirements()
                .map(|r| self.not_assessed(r, None, reason.clone()))
                .collect();
        }
        let mut verdicts = Vec::new();
        for requirement in self.requirements().filter(|&r| r != Requirement::NoLoad) {
            verdicts.extend(
                runs.iter()
                    .filter(|run| !holds_no_load_only(run, &runs))
                    .filter_map(|run| self.efficiency(requirement, run)),
            );
            verdicts.extend(self.voltage_missing(requirement, &runs, (volts, hertz)));
        }
        verdicts.extend(self.no_load(&runs, (volts, hertz)));
        verdicts.extend(self.power_factor(&runs));
        verdicts
    }

    /// Average or ten-percent efficiency of one run at its own rated power.
    fn efficiency(&self, requirement: Requirement, run: &RunResult) -> Option<Verdict> {
        let mut verdict = self.blank(requirement, Some(run));
        verdict.decides = run.informative.is_none();
        let Some(power) = run.rated_power_w else {
            verdict.reason = Some(format!(
                "run \u{201c}{}\u{201d} has no rated outputs",
                run.name
            ));
            return Some(verdict);
        };
        verdict.limit_power_w = Some(power);
        let ten_percent = [self.standards.procedure.load_points.ten_percent];
        let (measured, u, missing) = match requirement {
            Requirement::AverageEfficiency => (
                run.average_efficiency,
                run.average_efficiency_u,
                run.average_missing.as_slice(),
            ),
            _ => (
                run.ten_percent_efficiency,
                run.ten_percent_efficiency_u,
                &ten_percent[..],
            ),
        };
        let row = match self.row(run.category, power) {
            Ok(row) => row,
            Err(reason) => {
                verdict.reason = Some(reason);
                let measured = measured.map(|y| (y, u));
                verdict.alternatives = self.other_categories(requirement, run, measured, power);
                return Some(verdict);
            }
        };
        verdict.category = Some(row.category.clone());
        verdict.confidence = Some(row.confidence.clone());
        let curve = limit_curve(row, requirement)?;
        verdict.limit = Some(curve.at(power));
        let Some(measured) = measured else {
            let loads: Vec<String> = missing.iter().map(|p| format!("{p} %")).collect();
            verdict.reason = Some(format!(
                "efficiency at {} load not measured in run \u{201c}{}\u{201d}",
                loads.join(", "),
                run.name
            ));
            return Some(verdict);
        };
        decide(&mut verdict, measured, u);
        verdict.alternatives = self.other_categories(requirement, run, Some((measured, u)), power);
        verdict
            .alternatives
            .extend(row.alternates.iter().filter_map(|alternate| {
                let curve = match requirement {
                    Requirement::AverageEfficiency => alternate.avg_efficiency,
                    _ => alternate.ten_percent_efficiency,
                }?;
                let limit = curve.at(power);
                Some(Alternative {
                    category: Some(row.category.clone()),
                    limit: Some(limit),
                    result: judge(measured, u, limit, true).result,
                    why: format!("depends on the printed coefficient: {}", alternate.source),
                })
            }));
        if let Some(informative) = &run.informative {
            verdict.reason = Some(match verdict.reason.take() {
                Some(flag) => format!("{informative}; {flag}"),
                None => informative.clone(),
            });
        }
        Some(verdict)
    }

    /// What the requirement would be under another reading of the category, where that is
    /// debatable: several ports, or the tester's own choice.
    fn other_categories(
        &self,
        requirement: Requirement,
        run: &RunResult,
        measured: Option<(f64, Option<f64>)>,
        power: f64,
    ) -> Vec<Alternative> {
        let by_output = self
            .record
            .runs
            .iter()
            .find(|r| r.name == run.name)
            .map_or(Category::Basic, |r| by_voltage(r, self.standards).0);
        let several = delivers_different_voltages(self.unit()).is_some();
        let (other, why) = match (run.category, &self.unit().category) {
            (Category::Multiple, None) => (
                by_output,
                "if all ports always share one voltage, the unit is single-voltage",
            ),
            (used, Some(_)) if several && used != Category::Multiple => (
                Category::Multiple,
                "without the tester's choice, as its ports can carry different voltages at the same time",
            ),
            (used, Some(_)) if !several && used != by_output => (
                by_output,
                "without the tester's choice, by the rated output",
            ),
            (used, None) if self.unit().ports.len() > 1 && used != Category::Multiple => (
                Category::Multiple,
                "if its ports can carry different voltages at the same time",
            ),
            _ => return Vec::new(),
        };
        let Ok(row) = self.row(other, power) else {
            return vec![Alternative {
                category: None,
                limit: None,
                result: Outcome::NotAssessed,
                why: format!(
                    "{why}; this regime has no limit for category {} then",
                    other.word()
                ),
            }];
        };
        let Some(limit) = limit_of(row, requirement, power) else {
            return Vec::new();
        };
        vec![Alternative {
            category: Some(row.category.clone()),
            limit: Some(limit),
            result: measured.map_or(Outcome::NotAssessed, |(y, u)| {
                judge(y, u, limit, requirement.is_minimum()).result
            }),
            why: why.to_owned(),
        }]
    }

    /// A single-port adaptive unit tested at one voltage lacks the other run.
    fn voltage_missing(
        &self,
        requirement: Requirement,
        runs: &[&RunResult],
        (volts, hertz): (f64, f64),
    ) -> Option<Verdict> {
        let unit = self.unit();
        if unit.ports.len() != 1 || !unit.is_adaptive() {
            return None;
        }
        let tested: Vec<f64> = runs.iter().filter_map(|r| r.rated_voltage_v).collect();
        let (first, rest) = tested.split_first()?;
        if rest.iter().any(|v| (v - first).abs() > 1e-9) {
            return None;
        }
        let (lowest, highest) = label_voltages(unit)?;
        // One fixed voltage beside a range whose own ends are no ratings: there is no other run.
        if (highest - lowest).abs() <= 1e-9 {
            return None;
        }
        let missing = if (first - lowest).abs() <= (first - highest).abs() {
            format!("its highest voltage, {highest} V")
        } else {
            format!("its lowest voltage, {lowest} V")
        };
        Some(self.not_assessed(
            requirement,
            None,
            format!("an adaptive unit needs two runs: none on {volts} V {hertz} Hz at {missing}"),
        ))
    }

    /// No-load: the least favourable reading on the line, against the band of the nameplate power
    /// and the category of the highest-voltage run.
    fn no_load(&self, runs: &[&RunResult], (volts, hertz): (f64, f64)) -> Option<Verdict> {
        let power = self.unit().nameplate.output_power_w;
        let by_category = runs.iter().copied().reduce(|best, r| {
            if r.rated_voltage_v > best.rated_voltage_v {
                r
            } else {
                best
            }
        })?;
        let worst = runs
            .iter()
            .copied()
            .filter(|r| r.no_load.is_some())
            .reduce(|worst, r| {
                let read = |r: &RunResult| r.no_load.as_ref().map(|n| n.power_w);
                if read(r) > read(worst) { r } else { worst }
            });
        let mut verdict = self.blank(Requirement::NoLoad, worst);
        verdict.category_reason = Some(format!(
            "category of the highest-voltage run, \u{201c}{}\u{201d}: {}",
            by_category.name, by_category.category_reason
        ));
        verdict.limit_power_w = Some(power);
        let reading = worst.and_then(|run| run.no_load.as_ref());
        let row = match self.row(by_category.category, power) {
            Ok(row) => row,
            Err(reason) => {
                verdict.reason = Some(reason);
                let measured = reading.map(|n| (n.power_w, no_load::judged_u(n)));
                verdict.alternatives =
                    self.other_categories(Requirement::NoLoad, by_category, measured, power);
                return Some(verdict);
            }
        };
        verdict.category = Some(row.category.clone());
        verdict.confidence = Some(row.confidence.clone());
        // Some historical rows print no no-load limit: then there is no such requirement.
        let row_limit = row.no_load_w?;
        let override_w = self
            .regime
            .adaptive_no_load_override_w
            .filter(|_| self.unit().is_adaptive());
        let single = by_category.category != Category::Multiple;
        let limit = override_w.filter(|_| single).unwrap_or(row_limit);
        verdict.limit = Some(limit);
        if limit != row_limit {
            verdict.confidence = self.regime.adaptive_no_load_override_source.clone();
        }
        let Some(reading) = reading else {
            verdict.reason = Some(format!(
                "no-load power not measured on {volts} V {hertz} Hz"
            ));
            also_because(&mut verdict, self.logs_without_figure(runs));
            return Some(verdict);
        };
        let (measured, u) = (reading.power_w, no_load::judged_u(reading));
        decide(&mut verdict, measured, u);
        verdict.alternatives =
            self.other_categories(Requirement::NoLoad, by_category, Some((measured, u)), power);
        let mut also = |limit: f64, why: &str| {
            verdict.alternatives.push(Alternative {
                category: Some(row.category.clone()),
                limit: Some(limit),
                result: judge(measured, u, limit, false).result,
                why: why.to_owned(),
            });
        };
        if let Some(override_w) = override_w.filter(|&w| w != row_limit) {
            if single {
                also(
                    row_limit,
                    "the table's own limit, without the figure for adaptive units",
                );
            } else {
                also(
                    override_w,
                    "if the figure for adaptive units is read to cover several outputs",
                );
            }
        }
        if let Some(handheld) = &self.regime.mobile_handheld_no_load
            && power < handheld.below_w
            && handheld.no_load_w != limit
        {
            also(
                handheld.no_load_w,
                &format!("if the rule for: {}", handheld.applies),
            );
        }
        if reading.method == no_load::UNSETTLED {
            no_firm_verdict(&mut verdict);
        }
        also_because(&mut verdict, self.logs_without_figure(runs));
        Some(verdict)
    }

    /// Why logs that no-load figures on a line should come from give none.
    fn logs_without_figure(&self, on_line: &[&RunResult]) -> Vec<String> {
        self.runs
            .iter()
            .enumerate()
            .filter(|(_, run)| on_line.iter().any(|r| r.name == run.name))
            .filter_map(|(i, run)| {
                let why = self.evidence.run(i).no_load.as_ref()?.as_ref().err()?;
                let then = if run.no_load.is_some() {
                    "the typed reading is used"
                } else {
                    "no typed reading stands in for it"
                };
                Some(format!("{why}: {then}"))
            })
            .collect()
    }

    /// True power factor at one load, where the regime asks for it and the unit draws enough.
    fn power_factor(&self, runs: &[&RunResult]) -> Vec<Verdict> {
        let Some(rule) = &self.regime.power_factor else {
            return Vec::new();
        };
        let tolerance = self.standards.procedure.line.warning_tolerance_percent;
        runs.iter()
            .filter(|r| {
                within(r.line_voltage_v, rule.line_voltage_v, tolerance)
                    && within(r.line_frequency_hz, rule.line_frequency_hz, tolerance)
                    && self.regime.category(r.category).is_some()
            })
            .filter_map(|run| {
                let load = &self.standards.procedure.load_points;
                let point =
                    points::at_percent(&run.points, rule.at_load_percent, load.tolerance_percent)?;
                if point.input_power_w? < rule.applies_if_input_power_w_at_least {
                    return None;
                }
                let mut verdict = self.blank(Requirement::PowerFactor, Some(run));
                verdict.decides = run.informative.is_none();
                verdict.category_reason = None;
                verdict.limit = Some(rule.min_true_power_factor);
                verdict.confidence = Some(rule.confidence.clone());
                match point.power_factor {
                    Some(pf) => decide(&mut verdict, pf, point.power_factor_u),
                    None => {
                        verdict.reason = Some(format!(
                            "power factor at {} % load not measured in run \u{201c}{}\u{201d}",
                            rule.at_load_percent, run.name
                        ));
                    }
                }
                Some(verdict)
            })
            .collect()
    }

    /// The row for our category at a power, or why there is none.
    fn row(&self, category: Category, power: f64) -> Result<&Row, String> {
        let name = self
            .regime
            .category(category)
            .ok_or_else(|| category_uncovered(category))?;
        self.regime
            .row(name, power)
            .ok_or_else(|| format!("out of scope: this regime has no {name} limit for {power} W"))
    }

    fn blank(&self, requirement: Requirement, run: Option<&RunResult>) -> Verdict {
        Verdict {
            regime: self.regime.id.clone(),
            requirement,
            run: run.map(|r| r.name.clone()),
            category: None,
            category_reason: run.map(|r| r.category_reason.clone()),
            limit_power_w: None,
            citation: Some(self.regime.citation.clone()),
            confidence: None,
            limit: None,
            measured: None,
            margin: None,
            expanded_uncertainty: None,
            risk: None,
            result: Outcome::NotAssessed,
            simple_acceptance: None,
            guarded_acceptance: None,
            decides: true,
            reason: None,
            alternatives: Vec::new(),
        }
    }

    fn not_assessed(
        &self,
        requirement: Requirement,
        run: Option<&RunResult>,
        reason: String,
    ) -> Verdict {
        Verdict {
            reason: Some(reason),
            ..self.blank(requirement, run)
        }
    }
}

/// Is the run there for its no-load reading only, while another on the same line holds the loads
/// of its condition? Without such another its missing loads are a gap that a verdict must name.
fn holds_no_load_only(run: &RunResult, on_line: &[&RunResult]) -> bool {
    let condition = |r: &RunResult| (r.rated_voltage_v, r.rated_power_w, r.all_ports);
    run.points.is_empty()
        && on_line.iter().any(|other| {
            !other.points.is_empty()
                && (run.rated_power_w.is_none() || condition(run) == condition(other))
        })
}

/// Fills in the judgement of a measured value against the verdict's limit.
fn decide(verdict: &mut Verdict, measured: f64, u: Option<f64>) {
    let limit = verdict
        .limit
        .expect("a verdict is decided after its limit was looked up");
    let judged = judge(measured, u, limit, verdict.requirement.is_minimum());
    verdict.measured = Some(measured);
    verdict.margin = Some(judged.margin);
    verdict.expanded_uncertainty = judged.expanded_uncertainty;
    verdict.risk = judged.risk;
    verdict.result = judged.result;
    verdict.simple_acceptance = Some(judged.simple_acceptance);
    verdict.guarded_acceptance = judged.guarded_acceptance;
    if judged.guarded_acceptance.is_none() {
        let what = if u.is_none() { "unknown" } else { "zero" };
        verdict.reason = Some(format!("uncertainty {what}: simple acceptance"));
    }
}

/// Takes the firmness out of a verdict on a figure that no method of the standard bears out.
fn no_firm_verdict(verdict: &mut Verdict) {
    let conditional = |result: Outcome| match result {
        Outcome::Pass => Outcome::ConditionalPass,
        Outcome::Fail => Outcome::ConditionalFail,
        other => other,
    };
    verdict.result = conditional(verdict.result);
    for alternative in &mut verdict.alternatives {
        alternative.result = conditional(alternative.result);
    }
    also_because(
        verdict,
        [
            "the log satisfies none of the standard's methods for a stable figure: no firm verdict"
                .to_owned(),
        ],
    );
}

fn also_because(verdict: &mut Verdict, reasons: impl IntoIterator<Item = String>) {
    for reason in reasons {
        verdict.reason = Some(match verdict.reason.take() {
            Some(before) => format!("{before}; {reason}"),
            None => reason,
        });
    }
}

/// Sets every no-load figure that comes from a log beside the limits that verdicts on its line use.
pub fn no_load_against_limits(runs: &mut [RunResult], verdicts: &[Verdict], standards: &Standards) {
    let wide = standards.procedure.line.warning_tolerance_percent;
    let lines: Vec<(String, f64, f64)> = runs
        .iter()
        .map(|r| (r.name.clone(), r.line_voltage_v, r.line_frequency_hz))
        .collect();
    for run in runs {
        let (volts, hertz) = (run.line_voltage_v, run.line_frequency_hz);
        let on_line = |name: &str| {
            lines.iter().any(|(run, v, f)| {
                run == name && within(*v, volts, wide) && within(*f, hertz, wide)
            })
        };
        let mut limits: Vec<(f64, Vec<String>)> = Vec::new();
        for verdict in verdicts {
            let judged = verdict.requirement == Requirement::NoLoad
                && verdict.measured.is_some()
                && verdict.run.as_deref().is_some_and(on_line);
            let Some(limit) = verdict.limit.filter(|_| judged) else {
                continue;
            };
            match limits.iter_mut().find(|(l, _)| *l == limit) {
                Some((_, regimes)) if regimes.contains(&verdict.regime) => {}
                Some((_, regimes)) => regimes.push(verdict.regime.clone()),
                None => limits.push((limit, vec![verdict.regime.clone()])),
            }
        }
        let Some(result) = &mut run.no_load else {
            continue;
        };
        let Some(mut log) = result.log.take() else {
            continue;
        };
        log.limits = limits
            .into_iter()
            .map(|(limit, regimes)| {
                no_load::against_limit(result, &log, limit, regimes, &standards.low_power)
            })
            .collect();
        result.log = Some(log);
    }
}

fn limit_curve(row: &Row, requirement: Requirement) -> Option<LimitCurve> {
    match requirement {
        Requirement::AverageEfficiency => Some(row.avg_efficiency),
        Requirement::TenPercentEfficiency => row.ten_percent_efficiency,
        Requirement::NoLoad | Requirement::PowerFactor => None,
    }
}

fn limit_of(row: &Row, requirement: Requirement, power: f64) -> Option<f64> {
    match requirement {
        Requirement::NoLoad => row.no_load_w,
        other => limit_curve(row, other).map(|curve| curve.at(power)),
    }
}

/// The no-load limit of a regime for this unit, as its verdict uses it.
pub fn no_load_limit(verdicts: &[Verdict], regime: &str) -> Option<f64> {
    verdicts
        .iter()
        .find(|v| v.regime == regime && v.requirement == Requirement::NoLoad)?
        .limit
}

/// Lowest and highest voltage on the label. Fixed voltages count; a programmable range only where
/// there are none, because its lower end is not a rating of its own.
pub fn label_voltages(unit: &Unit) -> Option<(f64, f64)> {
    use crate::bench::record::Mode;
    let modes = || unit.ports.iter().flat_map(|p| &p.modes);
    let fixed: Vec<f64> = modes()
        .filter_map(|m| match m {
            Mode::Fixed { voltage_v, .. } => Some(*voltage_v),
            Mode::Pps { .. } | Mode::Avs { .. } => None,
        })
        .collect();
    let all = if fixed.is_empty() {
        modes()
            .flat_map(|m| [m.voltage_min_v(), m.voltage_max_v()])
            .collect()
    } else {
        fixed
    };
    let lowest = all.iter().copied().reduce(f64::min)?;
    Some((lowest, all.iter().copied().reduce(f64::max)?))
}

/// Regimes that a label's numeral stands for, the binding one first.
pub fn marking_regimes<'a>(
    standards: &'a Standards,
    mark: &'a str,
) -> impl Iterator<Item = &'a Regime> {
    standards
        .regimes
        .iter()
        .filter(move |r| r.marking.as_deref() == Some(mark) && r.role != Role::Earlier)
}
