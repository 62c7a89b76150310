//! The test plan: from a label, every run and point that a complete test needs, with the currents
//! to set, what to record, why, and what of it the record holds already.
//!
//! Categories, rated powers and load currents come from where an evaluation takes them, so that a
//! record filled in by the plan is judged as the plan says. The plan knows nothing of forms.

mod conditions;
mod further;
mod loads;
mod outlook;

pub(super) use conditions::{Condition, are_same_outputs, conditions as full_load_conditions};
pub use conditions::{Hindrance, PlannedSupply, Supply, is_same_condition};
pub use further::{PlannedCombination, PlannedDetail, PlannedHeat, PlannedOverload};
pub use loads::{Place, PlannedLoad, PlannedReading, PortCurrent};
pub use outlook::{MissingTerm, OpenLoad, Outlook, RegimeOutlook, ScoreOutlook, outlook};

use super::Method;
use super::compliance::{category_uncovered, out_of_reach};
use super::runs;
use crate::bench::record::{Category, Line, RatedOutput, Record, Run};
use crate::standards::{Regime, Role, Standards};

/// What a plan is made for.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// Ids of the regimes to be judged.
    pub regimes: Vec<String>,
    /// Is a score that is not provisional wanted?
    pub score: bool,
    /// Supplies besides those that follow from the regimes and the score.
    pub supplies: Vec<Supply>,
}

impl Choice {
    /// Every regime that binds or invites makers today and whose limits are known, and the score.
    pub fn standard(method: &Method) -> Choice {
        let today = |r: &&Regime| matches!(r.role, Role::Law | Role::Voluntary) && r.limits_known;
        Choice {
            regimes: method
                .standards
                .regimes
                .iter()
                .filter(today)
                .map(|r| r.id.clone())
                .collect(),
            score: true,
            supplies: Vec::new(),
        }
    }
}

/// A sentence and where it is from.
#[derive(Debug, Clone, PartialEq)]
pub struct Reason {
    pub text: String,
    pub citation: String,
}

impl Reason {
    fn new(text: impl Into<String>, citation: impl Into<String>) -> Reason {
        Reason {
            text: text.into(),
            citation: citation.into(),
        }
    }
}

/// Something to do that is not a reading.
#[derive(Debug, Clone, PartialEq)]
pub struct Preparation {
    /// Letters, digits and hyphens; the same in every plan.
    pub id: &'static str,
    pub what: String,
    pub why: Reason,
}

/// Which of an adaptive unit's two conditions a run is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// The unit has one condition only.
    Only,
    Highest,
    Lowest,
}

/// A limit that a run will be held against.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedLimit {
    pub regime: String,
    pub short: String,
    /// Least average efficiency, a fraction.
    pub average_efficiency: f64,
    /// Least efficiency at 10 % load, a fraction, where it is required.
    pub ten_percent_efficiency: Option<f64>,
}

/// One line supply and one 100 % condition.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedRun {
    /// The same for the same supply and end in every plan: "115v60hz-highest".
    pub key: String,
    /// "20 V on 115 V 60 Hz"
    pub name: String,
    pub line: Line,
    pub end: End,
    pub rated_outputs: Vec<RatedOutput>,
    /// D of the proportional allocation.
    pub allocation: f64,
    pub rated_power_w: f64,
    pub category: Category,
    pub category_reason: String,
    /// Ids of the chosen regimes that judge this run.
    pub regimes: Vec<String>,
    /// Does it count for the score?
    pub scores: bool,
    pub limits: Vec<PlannedLimit>,
    /// Middle and half-width in °C, and the source.
    pub ambient: Option<(f64, f64, String)>,
    pub why: Vec<Reason>,
    /// What the tester must know of this run: derating, debatable readings of the method.
    pub remarks: Vec<Reason>,
    /// In the order of the bench; no load is among them.
    pub loads: Vec<PlannedLoad>,
    /// Place in the record of the run that holds its readings.
    pub recorded: Option<usize>,
}

/// A complete bench session.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// Why no run can be planned, by the field that is missing.
    pub hindrances: Vec<Hindrance>,
    pub supplies: Vec<PlannedSupply>,
    pub preparations: Vec<Preparation>,
    pub runs: Vec<PlannedRun>,
    pub overloads: Vec<PlannedOverload>,
    pub heat: Option<PlannedHeat>,
    pub combinations: Vec<PlannedCombination>,
    /// Combinations of ports that the record holds already.
    pub combinations_recorded: usize,
    pub details: Vec<PlannedDetail>,
    /// Chosen regimes that do not judge this unit, and why.
    pub out_of_scope: Vec<(String, String)>,
}

/// Plans the test of a record's unit; what the record holds already is marked.
pub fn plan(record: &Record, choice: &Choice, method: &Method) -> Plan {
    let standards = &method.standards;
    let hindrances = conditions::hindrances(&record.unit);
    let (conditions, mut out_of_scope) = if hindrances.is_empty() {
        let conditions = conditions::conditions(&record.unit, standards);
        let out_of_scope = out_of_scope(record, choice, standards, &conditions);
        (conditions, out_of_scope)
    } else {
        (Vec::new(), Vec::new())
    };
    let in_scope: Vec<&Regime> = choice
        .regimes
        .iter()
        .filter_map(|id| standards.regime(id))
        .filter(|r| !out_of_scope.iter().any(|(id, _)| *id == r.id))
        .collect();
    let supplies = conditions::supplies(&record.unit, &in_scope, choice, method);
    // A regime whose every supply is left out has nothing to judge.
    for regime in &in_scope {
        let lines = conditions::lines(regime, &record.unit);
        if let Some(left_out) = lines
            .iter()
            .map(|line| {
                supplies
                    .iter()
                    .find(|s| s.supply == *line)
                    .and_then(|s| s.left_out.clone())
            })
            .collect::<Option<Vec<String>>>()
        {
            let reason = left_out.first().cloned().unwrap_or_else(|| {
                "out of scope: the nameplate covers none of the regime's supplies".to_owned()
            });
            out_of_scope.push((regime.id.clone(), reason));
        }
    }
    let judging: Vec<&Regime> = in_scope
        .into_iter()
        .filter(|r| !out_of_scope.iter().any(|(id, _)| *id == r.id))
        .collect();

    let mut runs: Vec<PlannedRun> = Vec::new();
    for supply in supplies.iter().filter(|s| s.left_out.is_none()) {
        for condition in &conditions {
            let bench = Bench {
                record,
                choice,
                method,
                judging: &judging,
                supply: supply.supply,
            };
            let run = bench.run(
                condition,
                runs.iter().any(|r| r.line == supply.supply.line()),
            );
            runs.push(run);
        }
    }
    let (combinations, combinations_recorded) = further::combinations(record);
    Plan {
        preparations: if runs.is_empty() {
            Vec::new()
        } else {
            conditions::preparations(&record.unit, &runs, standards)
        },
        overloads: further::overloads(record, standards),
        heat: further::heat(record, &runs, standards),
        combinations,
        combinations_recorded,
        details: further::details(record, standards),
        hindrances,
        supplies,
        runs,
        out_of_scope,
    }
}

/// Chosen regimes that say nothing of this unit: by its power, or because none of its conditions
/// is of a category that they cover.
fn out_of_scope(
    record: &Record,
    choice: &Choice,
    standards: &Standards,
    conditions: &[conditions::Condition],
) -> Vec<(String, String)> {
    let mut found = Vec::new();
    for regime in choice.regimes.iter().filter_map(|id| standards.regime(id)) {
        let categories: Vec<Category> = conditions
            .iter()
            .map(|c| runs::category(&c.run(conditions::ANY_LINE), &record.unit, standards).0)
            .collect();
        let reason = out_of_reach(regime, &record.unit).or_else(|| {
            let uncovered = categories
                .iter()
                .find(|&&category| regime.category(category).is_none())?;
            Some(category_uncovered(*uncovered))
        });
        if let Some(reason) = reason {
            found.push((regime.id.clone(), reason));
        }
    }
    found
}

/// What one run is planned from.
struct Bench<'a> {
    record: &'a Record,
    choice: &'a Choice,
    method: &'a Method,
    judging: &'a [&'a Regime],
    supply: Supply,
}

impl Bench<'_> {
    /// `again`: another run on this supply comes first.
    fn run(&self, condition: &conditions::Condition, again: bool) -> PlannedRun {
        let (unit, standards) = (&self.record.unit, &self.method.standards);
        let line = self.supply.line();
        let as_run = condition.run(line);
        let allocation = runs::allocation(&as_run, unit);
        let (category, category_reason) = runs::category(&as_run, unit, standards);
        let rated_power_w =
            runs::rated_power_w(&as_run, unit).expect("a condition has at least one output");
        let regimes: Vec<&Regime> = self
            .judging
            .iter()
            .copied()
            .filter(|r| conditions::lines(r, unit).contains(&self.supply))
            .collect();
        let score_line = &self.method.formula.line;
        let scores = self.choice.score && score_line.holds(line.voltage_v, line.frequency_hz);
        let recorded = self.recorded(&as_run);
        let wide = standards.procedure.line.warning_tolerance_percent;
        let mut run = PlannedRun {
            key: format!(
                "{}v{}hz{}",
                line.voltage_v,
                line.frequency_hz,
                match condition.end {
                    End::Only => "",
                    End::Highest => "-highest",
                    End::Lowest => "-lowest",
                }
            )
            .replace('.', "-"),
            name: condition.name(line),
            line,
            end: condition.end,
            rated_outputs: condition.outputs.clone(),
            allocation,
            rated_power_w,
            category,
            category_reason,
            limits: regimes
                .iter()
                .filter_map(|regime| {
                    let row = regime.row(regime.category(category)?, rated_power_w)?;
                    Some(PlannedLimit {
                        regime: regime.id.clone(),
                        short: regime.short.clone(),
                        average_efficiency: row.avg_efficiency.at(rated_power_w),
                        ten_percent_efficiency: row
                            .ten_percent_efficiency
                            .filter(|_| regime.ten_percent_is_requirement)
                            .map(|curve| curve.at(rated_power_w)),
                    })
                })
                .collect(),
            regimes: regimes.iter().map(|r| r.id.clone()).collect(),
            scores,
            ambient: standards
                .procedure
                .ambient
                .iter()
                .find(|w| runs::within(line.voltage_v, w.line_voltage_v, wide))
                .map(|w| (w.c, w.tolerance_c, w.source.clone())),
            why: Vec::new(),
            remarks: conditions::remarks(unit, condition, allocation, category, standards),
            loads: Vec::new(),
            recorded,
        };
        run.why = conditions::reasons(condition, &regimes, scores, standards);
        run.loads = loads::loads(&run, &regimes, again, self.record, self.method);
        run
    }

    /// The run of the record that was made under this condition: of several the fullest.
    fn recorded(&self, planned: &Run) -> Option<usize> {
        let candidates = self.record.runs.iter().enumerate().filter(|(_, run)| {
            is_same_condition(
                (run.line, &run.rated_outputs),
                (planned.line, &planned.rated_outputs),
                &self.method.standards,
            )
        });
        let mut best: Option<(usize, usize)> = None;
        for (place, run) in candidates {
            if best.is_none_or(|(_, points)| run.points.len() > points) {
                best = Some((place, run.points.len()));
            }
        }
        best.map(|(place, _)| place)
    }
}
