//! What is still missing: for the verdict of each regime, and for a score that is not provisional.

use super::{Place, Plan, PlannedLoad, PlannedRun};
use crate::evaluate::Method;
use crate::evaluate::evaluation::{Evaluation, Outcome};

/// A load with needed readings that nobody has taken yet.
#[derive(Debug, Clone, PartialEq)]
pub struct OpenLoad {
    /// Places in the plan's runs and in that run's loads.
    pub run: usize,
    pub load: usize,
    pub readings: Vec<Place>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct RegimeOutlook {
    pub regime: String,
    pub short: String,
    /// As evaluated so far; `None`: nothing is evaluated yet.
    pub result: Option<Outcome>,
    pub open: Vec<OpenLoad>,
    /// It does not judge this unit, and why.
    pub out_of_scope: Option<String>,
    /// Why the evaluation comes to no verdict so far.
    pub unjudged: Option<String>,
}

/// A term of the score that has no points yet.
#[derive(Debug, Clone, PartialEq)]
pub struct MissingTerm {
    pub term: String,
    pub weight: f64,
    pub reason: String,
}

#[derive(Debug, Clone, PartialEq)]
pub struct ScoreOutlook {
    /// Share of the weight present, 0..=1.
    pub coverage: f64,
    /// Coverage from which on the score is not provisional.
    pub needed: f64,
    pub missing: Vec<MissingTerm>,
    /// Needed loads still to go in the runs that make the score.
    pub open: usize,
    /// Why no run can ever make the score firm: its supply lies outside the nameplate.
    pub out_of_reach: Option<String>,
}

impl ScoreOutlook {
    /// Is enough of the score's weight measured, whatever loads are still to go?
    pub fn is_covered(&self) -> bool {
        self.coverage >= self.needed - 1e-12
    }

    /// Will it stay as it is: enough is measured, and no needed load is missing?
    pub fn is_firm(&self) -> bool {
        self.is_covered() && self.open == 0
    }
}

#[derive(Debug, Clone, PartialEq)]
pub struct Outlook {
    pub regimes: Vec<RegimeOutlook>,
    pub score: Option<ScoreOutlook>,
    /// Needed readings taken, and all of them.
    pub readings_done: usize,
    pub readings: usize,
}

impl PlannedRun {
    /// Needed readings: taken, and all.
    pub fn progress(&self) -> (usize, usize) {
        let needed = || {
            self.loads
                .iter()
                .filter(|l| l.needed)
                .flat_map(|l| &l.readings)
                .filter(|r| r.needed)
        };
        (needed().filter(|r| r.done).count(), needed().count())
    }
}

/// What a plan still lacks, beside what was evaluated so far.
pub fn outlook(
    plan: &Plan,
    evaluation: Option<&Evaluation>,
    choice: &super::Choice,
    method: &Method,
) -> Outlook {
    let open: Vec<(&PlannedRun, OpenLoad)> = plan
        .runs
        .iter()
        .enumerate()
        .flat_map(|(i, run)| {
            run.loads
                .iter()
                .enumerate()
                .filter(|(_, load)| !load.is_done())
                .map(move |(j, load)| (run, open_load(i, j, load)))
        })
        .collect();
    let regimes = choice
        .regimes
        .iter()
        .filter_map(|id| method.standards.regime(id))
        .map(|regime| RegimeOutlook {
            regime: regime.id.clone(),
            short: regime.short.clone(),
            result: evaluation.and_then(|e| {
                let found = e.regimes.iter().find(|r| r.regime == regime.id)?;
                Some(found.result)
            }),
            open: open
                .iter()
                .filter(|(run, open)| {
                    run.regimes.contains(&regime.id)
                        && (asks_for(
                            regime.ten_percent_is_requirement,
                            &run.loads[open.load],
                            method,
                        ))
                })
                .map(|(_, open)| {
                    let mut open = open.clone();
                    // A power factor is missing to the score, not to this verdict.
                    if regime.power_factor.is_none() {
                        open.readings.retain(|place| !is_power_factor(place));
                    }
                    open
                })
                .filter(|open| !open.readings.is_empty())
                .collect(),
            out_of_scope: plan
                .out_of_scope
                .iter()
                .find(|(id, _)| *id == regime.id)
                .map(|(_, reason)| reason.clone()),
            unjudged: evaluation.and_then(|e| {
                let found = e.regimes.iter().find(|r| r.regime == regime.id)?;
                matches!(found.result, Outcome::Incomplete | Outcome::NotAssessed).then(|| {
                    found
                        .reason
                        .clone()
                        .unwrap_or_else(|| "no requirement could be judged".to_owned())
                })
            }),
        })
        .collect();
    let score = choice.score.then(|| ScoreOutlook {
        coverage: evaluation.map_or(0.0, |e| e.score.coverage),
        needed: method.formula.provisional_below,
        missing: evaluation
            .map(|e| {
                e.score
                    .terms
                    .iter()
                    .filter(|t| t.points.is_none())
                    .map(|t| MissingTerm {
                        term: t.term.clone(),
                        weight: t.weight,
                        reason: t.reason.clone().unwrap_or_default(),
                    })
                    .collect()
            })
            .unwrap_or_default(),
        open: open.iter().filter(|(run, _)| run.scores).count(),
        out_of_reach: score_out_of_reach(plan, method),
    });
    let progress: Vec<(usize, usize)> = plan.runs.iter().map(PlannedRun::progress).collect();
    Outlook {
        regimes,
        score,
        readings_done: progress.iter().map(|p| p.0).sum(),
        readings: progress.iter().map(|p| p.1).sum(),
    }
}

/// Why no supply on which the score is made may be tried with this unit.
fn score_out_of_reach(plan: &Plan, method: &Method) -> Option<String> {
    let line = &method.formula.line;
    let mut scoring = plan
        .supplies
        .iter()
        .filter(|s| line.holds(s.supply.voltage_v, s.supply.frequency_hz))
        .peekable();
    let why = scoring.peek()?.left_out.clone()?;
    scoring.all(|s| s.left_out.is_some()).then_some(why)
}

fn open_load(run: usize, load: usize, planned: &PlannedLoad) -> OpenLoad {
    OpenLoad {
        run,
        load,
        readings: planned.open().map(|r| r.place.clone()).collect(),
    }
}

fn is_power_factor(place: &Place) -> bool {
    matches!(place, Place::Point(key) if key == "input.power_factor")
}

/// Does a regime judge by this load?
fn asks_for(ten_percent: bool, load: &PlannedLoad, method: &Method) -> bool {
    let points = &method.standards.procedure.load_points;
    load.is_no_load()
        || points.average_percents.contains(&load.load_percent)
        || ten_percent && load.load_percent == points.ten_percent
}
