//! `/desk/draft/{id}/plan`: the bench sheet. The test plan of a draft as the form beside the bench:
//! one load after the other with the current to set, readings typed straight into the draft's own
//! fields, ticks, and what is still missing; printed, the same as a sheet to write on.

use super::{
    bench_form::{self, Input, Problems, id_of},
    draft::{self, Conflict, Sent},
    live::{self, Judgement, Line},
    on_to,
    plan_rows::{self, Rows},
};
use crate::web::filters;
use crate::{
    evaluate::{
        Method,
        evaluation::Outcome,
        loading::to_milliampere,
        plan::{
            self, Choice, Outlook, Place, Plan, PlannedLoad, PlannedRun, Reason, ScoreOutlook,
            Supply, outlook,
        },
    },
    intake::form::Fields,
    standards::Role,
    storage::drafts::{Draft, Saved},
    web::{
        Site,
        auth::{self, Editor, Signed},
        chrome::Chrome,
        error::Error,
        extract::{Form, Path, Visit},
        format, pages,
        pages::sheet::term_title,
        urls,
    },
};
use askama::Template;
use axum::{
    Json, Router,
    http::StatusCode,
    response::{IntoResponse, Response},
    routing::{get, post},
};
use std::{
    cell::RefCell,
    collections::{BTreeMap, BTreeSet},
};

pub fn routes() -> Router<Site> {
    Router::new()
        .route("/desk/draft/{id}/plan", get(show).post(change))
        .route("/desk/draft/{id}/plan/autosave", post(autosave))
}

#[derive(Template)]
#[template(path = "entry/plan.html")]
struct PlanPage {
    chrome: Chrome,
    csrf: String,
    id: i64,
    title: String,
    version: i64,
    editor: String,
    saved: String,
    conflict: Option<Conflict>,
    notice: Option<String>,
    /// What the label lacks; then there is no sheet.
    lacking: Vec<Line>,
    choice: ChoiceView,
    panel: PlanPanel,
    /// Where the first open reading is.
    next: Option<String>,
    sheet: Sheet,
    unseen: Vec<(String, String)>,
}

struct ChoiceView {
    /// Rules of today, and earlier ones.
    today: Vec<Check>,
    earlier: Vec<Check>,
    score: Check,
    supplies: String,
    supplies_problem: String,
    /// "115 V 60 Hz for US DOE Level VI, the score"
    planned: Vec<String>,
}

struct Check {
    name: String,
    id: String,
    label: String,
    /// Why it says nothing of this unit.
    note: String,
    checked: bool,
}

/// Progress and what is missing, ready to show.
#[derive(Template)]
#[template(path = "entry/plan_panel.html")]
struct PlanPanel {
    done: usize,
    all: usize,
    score: Option<ScoreLine>,
    regimes: Vec<RegimeLine>,
    problems: Vec<Line>,
    warnings: Vec<Line>,
}

struct ScoreLine {
    value: String,
    coverage: String,
    needed: String,
    /// "✓ Not provisional.", and everything short of it.
    standing: String,
    firm: bool,
    missing: Vec<String>,
}

struct RegimeLine {
    short: String,
    url: String,
    sign: &'static str,
    word: String,
    class: &'static str,
    /// Why it does not judge this unit, or has not yet.
    reason: String,
    missing: Vec<Line>,
}

#[derive(Default)]
struct Sheet {
    preparations: Vec<StepView>,
    runs: Vec<RunView>,
    overloads: Vec<OverloadView>,
    heat: Option<HeatView>,
    combinations: Vec<CombinationView>,
    combinations_left: usize,
    combinations_recorded: usize,
    details: Vec<DetailView>,
}

/// A step to tick off.
struct Tick {
    name: String,
    id: String,
    label: String,
    checked: bool,
}

struct StepView {
    tick: Tick,
    why: Reason,
}

struct RunView {
    id: String,
    name: String,
    supply: String,
    power: String,
    category: String,
    category_reason: String,
    /// "US DOE Level VI 0.8779"
    limits: Vec<String>,
    ambient: String,
    inputs: Vec<Input>,
    why: Vec<Reason>,
    remarks: Vec<Reason>,
    loads: Vec<LoadView>,
}

struct LoadView {
    id: String,
    title: String,
    run: String,
    done: bool,
    state_id: String,
    state: String,
    optional: bool,
    currents: Vec<CurrentView>,
    dwell: Tick,
    readings: Vec<ReadingView>,
    why: Reason,
    dwell_source: String,
}

struct CurrentView {
    port: String,
    voltage: String,
    current: String,
}

struct ReadingView {
    input: Input,
    needed: bool,
    why: Reason,
}

struct OverloadView {
    id: String,
    title: String,
    steps: String,
    tick: Tick,
    inputs: Vec<Input>,
    why: Reason,
}

struct HeatView {
    run: String,
    load: String,
    currents: Vec<CurrentView>,
    steady: String,
    /// "✓ done", or what is still to go.
    state: String,
    moments: Vec<(String, Vec<Input>)>,
    elsewhere: bool,
    why: Reason,
}

struct CombinationView {
    title: String,
    why: String,
    ports: Vec<String>,
}

struct DetailView {
    what: String,
    input: Input,
    why: Reason,
}

/// So many untested combinations of ports are listed.
const MOST_COMBINATIONS: usize = 8;

// ---- what the plan is made for ----

/// The tester's choice, and what is wrong with the supplies typed by hand.
fn choice_of(fields: &Fields, method: &Method) -> (Choice, Option<String>) {
    let mut choice = Choice::standard(method);
    if fields.has("plan.chosen") {
        choice.regimes = method
            .standards
            .regimes
            .iter()
            .filter(|r| r.limits_known && fields.has(&regime_field(&r.id)))
            .map(|r| r.id.clone())
            .collect();
        choice.score = fields.has("plan.score");
    }
    match supplies_of(fields.text("plan.supplies")) {
        Ok(supplies) => {
            choice.supplies = supplies;
            (choice, None)
        }
        Err(why) => (choice, Some(why)),
    }
}

fn regime_field(id: &str) -> String {
    format!("plan.regime.{id}")
}

/// "100 V 50 Hz; 240 V 60 Hz": numbers in pairs of volts and hertz.
fn supplies_of(text: &str) -> Result<Vec<Supply>, String> {
    let numbers: Vec<f64> = text
        .split(|c: char| !(c.is_ascii_digit() || c == '.'))
        .filter(|word| !word.is_empty())
        .map(|word| word.parse::<f64>().unwrap_or(f64::NAN))
        .collect();
    let mut supplies = Vec::new();
    for pair in numbers.chunks(2) {
        match *pair {
            [voltage_v, frequency_hz]
                if (80.0..=300.0).contains(&voltage_v) && (45.0..=66.0).contains(&frequency_hz) =>
            {
                supplies.push(Supply {
                    voltage_v,
                    frequency_hz,
                });
            }
            _ => {
                return Err(format!(
                    "Expected pairs of volts (80 to 300) and hertz (45 to 66) such as 100 V 50 Hz; 240 V 60 Hz, found {}.",
                    text.trim()
                ));
            }
        }
    }
    Ok(supplies)
}

// ---- building the page ----

/// Everything that follows from what is typed.
struct Worked {
    judgement: Judgement,
    choice: Choice,
    supplies_problem: Option<String>,
    /// `None`: too little is typed for a record.
    planned: Option<(Plan, Outlook)>,
}

async fn work(site: &Site, fields: &Fields) -> Result<Worked, Error> {
    let judgement = live::judge(site, fields).await?;
    let (choice, supplies_problem) = choice_of(fields, &site.method);
    let planned = judgement.judged.as_ref().map(|judged| {
        let plan = plan::plan(&judged.record, &choice, &site.method);
        let left = outlook(&plan, Some(&judged.evaluation), &choice, &site.method);
        (plan, left)
    });
    Ok(Worked {
        judgement,
        choice,
        supplies_problem,
        planned,
    })
}

async fn show(visit: Visit, signed: Editor, Path(id): Path<i64>) -> Result<Response, Error> {
    let stored = draft::find(&visit.site, id, &signed).await?;
    let fields = draft::fields_of(&stored)?;
    pages::private(&page(&visit, &signed, &stored, fields).await?)
}

async fn page(
    visit: &Visit,
    signed: &Signed,
    stored: &Draft,
    mut fields: Fields,
) -> Result<PlanPage, Error> {
    let site = &visit.site;
    let worked = work(site, &fields).await?;
    let to_draft = |path: &str| format!("{}#{}", urls::desk_draft(stored.id), id_of(path));
    let mut lacking = Vec::new();
    let rows = match &worked.planned {
        Some((plan, _)) if plan.hindrances.is_empty() => {
            Some(plan_rows::take(&mut fields, plan, &site.method.standards))
        }
        Some((plan, _)) => {
            lacking.extend(plan.hindrances.iter().map(|hindrance| Line {
                text: hindrance.message.clone(),
                url: Some(to_draft(
                    &worked.judgement.document.field_path(&hindrance.path),
                )),
            }));
            None
        }
        None => {
            lacking.extend(worked.judgement.problems.iter().map(|problem| Line {
                text: format!(
                    "{}: {}.",
                    bench_form::place_words(&problem.path),
                    problem.expected
                ),
                url: Some(to_draft(&problem.path)),
            }));
            None
        }
    };
    let problems = worked.judgement.by_field();
    let builder = Builder {
        fields: &fields,
        problems: &problems,
        shown: RefCell::default(),
    };
    let sheet = match (&worked.planned, &rows) {
        (Some((plan, _)), Some(rows)) => builder.sheet(plan, rows),
        _ => Sheet::default(),
    };
    let choice = builder.choice(&worked, &site.method);
    let panel = panel(&worked, rows.as_ref(), &site.method);
    let shown = builder.shown.into_inner();
    let mut unseen: Vec<(String, String)> = fields
        .iter()
        .filter(|(path, _)| !shown.contains(*path))
        .map(|(path, text)| (path.to_owned(), text.to_owned()))
        .collect();
    // The script names the page after these.
    for path in ["unit.maker", "unit.model", "unit.sample"] {
        if !fields.has(path) {
            unseen.push((path.to_owned(), String::new()));
        }
    }
    let title = draft::title_of(&fields);
    Ok(PlanPage {
        chrome: super::chrome(visit, signed, format!("Bench sheet, {title}"))
            .script("entry.js")
            .script("plan.js")
            .style("plan.css"),
        csrf: signed.csrf.clone(),
        id: stored.id,
        title,
        version: stored.version,
        editor: auth::new_token(),
        saved: format::moment(stored.updated_at),
        conflict: None,
        notice: None,
        lacking,
        choice,
        next: worked
            .planned
            .as_ref()
            .zip(rows.as_ref())
            .and_then(|((plan, _), rows)| first_open(plan, rows)),
        panel,
        sheet,
        unseen,
    })
}

/// The path of a reading on the form.
fn path_of(
    place: &Place,
    planned: &PlannedRun,
    run: usize,
    point: Option<&(usize, Vec<usize>)>,
) -> Option<String> {
    Some(match place {
        Place::NoLoad(key) => format!("runs[{run}].no_load.{key}"),
        Place::Point(key) => format!("runs[{run}].points[{}].{key}", point?.0),
        Place::Output { port, key } => {
            let column = planned.rated_outputs.iter().position(|o| o.port == *port)?;
            let (row, outputs) = point?;
            format!(
                "runs[{run}].points[{row}].outputs[{}].{key}",
                outputs.get(column)?
            )
        }
    })
}

/// Address of the first open reading on the page.
fn first_open(plan: &Plan, rows: &Rows) -> Option<String> {
    plan.runs.iter().zip(&rows.runs).find_map(|(planned, at)| {
        planned
            .loads
            .iter()
            .zip(&at.loads)
            .find_map(|(load, point)| {
                let open = load.open().next()?;
                let path = path_of(&open.place, planned, at.run, point.as_ref())?;
                Some(format!("#{}", id_of(&path)))
            })
    })
}

fn load_id(planned: &PlannedRun, load: &PlannedLoad) -> String {
    format!("load-{}-{}", planned.key, load.load_percent).replace('.', "-")
}

fn load_title(load: &PlannedLoad) -> String {
    if load.is_no_load() {
        "No load".to_owned()
    } else {
        format!("{} % load", format::plain(load.load_percent))
    }
}

/// "3 readings to go", "done".
fn state_of(load: &PlannedLoad) -> String {
    match load.open().count() {
        0 if !load.needed && !load.readings.iter().any(|r| r.done) => "optional".to_owned(),
        0 => "✓ done".to_owned(),
        open => format::counted(open, "reading to go", "readings to go"),
    }
}

fn is_done(load: &PlannedLoad) -> bool {
    load.is_done() && (load.needed || load.readings.iter().any(|r| r.done))
}

struct Builder<'a> {
    fields: &'a Fields,
    problems: &'a Problems,
    shown: RefCell<BTreeSet<String>>,
}

impl Builder<'_> {
    fn input(&self, path: &str) -> Input {
        self.shown.borrow_mut().insert(path.to_owned());
        let mut input = bench_form::input(self.fields, self.problems, path);
        input.hint = String::new();
        input
    }

    fn labelled(&self, path: &str, label: impl Into<String>) -> Input {
        Input {
            label: label.into(),
            ..self.input(path)
        }
    }

    fn tick(&self, id: &str, label: impl Into<String>) -> Tick {
        let name = format!("plan.tick.{id}");
        self.shown.borrow_mut().insert(name.clone());
        Tick {
            id: id_of(&name),
            checked: self.fields.has(&name),
            label: label.into(),
            name,
        }
    }

    fn choice(&self, worked: &Worked, method: &Method) -> ChoiceView {
        for path in ["plan.chosen", "plan.score", "plan.supplies"] {
            self.shown.borrow_mut().insert(path.to_owned());
        }
        let out_of_scope: BTreeMap<&str, &str> = worked
            .planned
            .iter()
            .flat_map(|(plan, _)| &plan.out_of_scope)
            .map(|(id, reason)| (id.as_str(), reason.as_str()))
            .collect();
        let (mut today, mut earlier) = (Vec::new(), Vec::new());
        for regime in method.standards.regimes.iter().filter(|r| r.limits_known) {
            let name = regime_field(&regime.id);
            self.shown.borrow_mut().insert(name.clone());
            let check = Check {
                id: id_of(&name),
                label: format!(
                    "{}, {} V {} Hz",
                    regime.short, regime.line_voltage_v, regime.line_frequency_hz
                ),
                note: out_of_scope
                    .get(regime.id.as_str())
                    .map(|reason| (*reason).to_owned())
                    .unwrap_or_default(),
                checked: worked.choice.regimes.contains(&regime.id),
                name,
            };
            match regime.role {
                Role::Law | Role::Voluntary | Role::Pending => today.push(check),
                Role::Earlier | Role::Marking => earlier.push(check),
            }
        }
        let line = &method.formula.line;
        ChoiceView {
            today,
            earlier,
            score: Check {
                name: "plan.score".to_owned(),
                id: "f-plan-score".to_owned(),
                label: format!(
                    "A score that is not provisional, {} V {} Hz",
                    line.voltage_v, line.frequency_hz
                ),
                note: String::new(),
                checked: worked.choice.score,
            },
            supplies: self.fields.text("plan.supplies").to_owned(),
            supplies_problem: worked.supplies_problem.clone().unwrap_or_default(),
            planned: worked
                .planned
                .iter()
                .flat_map(|(plan, _)| &plan.supplies)
                .map(|supply| match &supply.left_out {
                    Some(why) => why.clone(),
                    None => format!("{} for {}", supply.supply, supply.asked_by.join(", ")),
                })
                .collect(),
        }
    }

    fn sheet(&self, plan: &Plan, rows: &Rows) -> Sheet {
        Sheet {
            preparations: plan
                .preparations
                .iter()
                .map(|step| StepView {
                    tick: self.tick(step.id, step.what.clone()),
                    why: step.why.clone(),
                })
                .collect(),
            runs: plan
                .runs
                .iter()
                .zip(&rows.runs)
                .map(|(planned, at)| self.run(planned, at))
                .collect(),
            overloads: plan
                .overloads
                .iter()
                .zip(&rows.overloads)
                .map(|(planned, row)| {
                    let at = format!("overloads[{row}]");
                    let id = format!("overload-{row}");
                    OverloadView {
                        title: format!(
                            "{}, {} V, rated {} A",
                            planned.port,
                            planned.voltage_v,
                            format::plain(planned.rated_current_a)
                        ),
                        steps: format!(
                            "From {} A in steps of {} A, each held {} s; stop where it trips, at {} A at the latest, or where anything smells or smokes.",
                            to_milliampere(planned.first_step_a),
                            to_milliampere(planned.step_a),
                            planned.hold_s,
                            to_milliampere(planned.last_step_a)
                        ),
                        tick: self.tick(&id, "Looked at"),
                        inputs: ["trip_current_a", "last_good_power_w", "recovery", "other_ports"]
                            .iter()
                            .map(|key| self.input(&format!("{at}.{key}")))
                            .collect(),
                        why: planned.why.clone(),
                        id,
                    }
                })
                .collect(),
            heat: plan.heat.as_ref().map(|heat| HeatView {
                run: heat.run.clone(),
                load: format::plain(heat.load_w),
                currents: heat.currents.iter().map(current_view).collect(),
                steady: format!(
                    "Steady when it changes by less than {} K in {} minutes; stop there, or go on until it is.",
                    heat.steady_k, heat.steady_min
                ),
                state: if heat.done {
                    "✓ Done: the hot spot is steady, or its readings tell where it ends."
                } else {
                    "To go: hot-spot readings with the ambient, until they are steady or tell where they end."
                }
                .to_owned(),
                moments: rows
                    .heat
                    .iter()
                    .map(|(minutes, row)| {
                        let at = format!("temperatures[{row}]");
                        let inputs = ["ambient_c", "surface_c", "hot_spot_c"]
                            .iter()
                            .map(|key| self.input(&format!("{at}.{key}")))
                            .collect();
                        (format!("after {minutes} min"), inputs)
                    })
                    .collect(),
                elsewhere: rows.heat.is_empty(),
                why: heat.why.clone(),
            }),
            combinations: plan
                .combinations
                .iter()
                .take(MOST_COMBINATIONS)
                .map(|planned| CombinationView {
                    title: planned.ports.join(" + "),
                    why: planned.why.text.clone(),
                    ports: planned.ports.clone(),
                })
                .collect(),
            combinations_left: plan.combinations.len().saturating_sub(MOST_COMBINATIONS),
            combinations_recorded: plan.combinations_recorded,
            details: plan
                .details
                .iter()
                .map(|detail| DetailView {
                    what: detail.what.clone(),
                    input: self.labelled(&detail.path, detail.what.clone()),
                    why: detail.why.clone(),
                })
                .collect(),
        }
    }

    fn run(&self, planned: &PlannedRun, at: &plan_rows::RunRows) -> RunView {
        let path = format!("runs[{}]", at.run);
        RunView {
            id: format!("run-{}", planned.key),
            name: self.fields.text(&format!("{path}.name")).to_owned(),
            supply: format::line(planned.line.voltage_v, planned.line.frequency_hz),
            power: format::plain((planned.rated_power_w * 1000.0).round() / 1000.0),
            category: format::category(planned.category).to_owned(),
            category_reason: planned.category_reason.clone(),
            limits: planned
                .limits
                .iter()
                .map(|limit| {
                    let average = format::percent(limit.average_efficiency);
                    match limit.ten_percent_efficiency {
                        Some(ten) => format!(
                            "{} {average}, at 10 % {}",
                            limit.short,
                            format::percent(ten)
                        ),
                        None => format!("{} {average}", limit.short),
                    }
                })
                .collect(),
            ambient: planned
                .ambient
                .as_ref()
                .map(|(c, tolerance, source)| format!("{c} °C ± {tolerance} K ({source})"))
                .unwrap_or_default(),
            inputs: vec![
                self.input(&format!("{path}.tested_on")),
                self.input(&format!("{path}.ambient_c")),
            ],
            why: planned.why.clone(),
            remarks: planned.remarks.clone(),
            loads: planned
                .loads
                .iter()
                .zip(&at.loads)
                .map(|(load, point)| self.load(planned, load, at.run, point.as_ref()))
                .collect(),
        }
    }

    fn load(
        &self,
        planned: &PlannedRun,
        load: &PlannedLoad,
        run: usize,
        point: Option<&(usize, Vec<usize>)>,
    ) -> LoadView {
        let id = load_id(planned, load);
        let readings = load
            .readings
            .iter()
            .filter_map(|reading| {
                let path = path_of(&reading.place, planned, run, point)?;
                let input = match &reading.place {
                    Place::Output { port, key } => self.labelled(
                        &path,
                        if *key == "voltage_v" {
                            format!("{port} voltage")
                        } else {
                            format!("{port} current")
                        },
                    ),
                    Place::Point(_) | Place::NoLoad(_) => self.input(&path),
                };
                Some(ReadingView {
                    input,
                    needed: load.needed && reading.needed,
                    why: reading.why.clone(),
                })
            })
            .collect();
        LoadView {
            title: load_title(load),
            run: planned.name.clone(),
            done: is_done(load),
            state_id: format!("state-{id}"),
            state: state_of(load),
            optional: !load.needed,
            currents: load.currents.iter().map(current_view).collect(),
            dwell: self.tick(&format!("{id}-dwell"), load.dwell.text.clone()),
            readings,
            why: load.why.clone(),
            dwell_source: load.dwell.citation.clone(),
            id,
        }
    }
}

fn current_view(current: &plan::PortCurrent) -> CurrentView {
    CurrentView {
        port: current.port.clone(),
        voltage: format::plain(current.voltage_v),
        current: to_milliampere(current.current_a),
    }
}

fn panel(worked: &Worked, rows: Option<&Rows>, method: &Method) -> PlanPanel {
    let judged = live::panel(&worked.judgement, Vec::new(), method);
    let mut panel = PlanPanel {
        done: 0,
        all: 0,
        score: None,
        regimes: Vec::new(),
        problems: judged.problems,
        warnings: judged.warnings,
    };
    let Some((plan, left)) = &worked.planned else {
        return panel;
    };
    panel.done = left.readings_done;
    panel.all = left.readings;
    panel.score = left.score.as_ref().map(|score| ScoreLine {
        value: judged
            .score
            .map(|s| format!("{} ± {}", s.value, s.plus_minus))
            .unwrap_or_default(),
        coverage: format!("{} %", format::fixed(score.coverage * 100.0, 0)),
        needed: format!("{} %", format::fixed(score.needed * 100.0, 0)),
        standing: score_standing(score),
        firm: score.is_firm(),
        missing: score
            .missing
            .iter()
            .map(|term| {
                format!(
                    "{} (weight {}): {}",
                    term_title(&term.term),
                    format::plain(term.weight),
                    term.reason
                )
            })
            .collect(),
    });
    panel.regimes = left
        .regimes
        .iter()
        .map(|regime| {
            let missing: Vec<Line> = regime
                .open
                .iter()
                .map(|open| {
                    let run = &plan.runs[open.run];
                    let load = &run.loads[open.load];
                    Line {
                        text: format!(
                            "{}: {}, {}",
                            run.name,
                            load_title(load).to_lowercase(),
                            format::counted(open.readings.len(), "reading", "readings")
                        ),
                        url: rows.map(|_| format!("#{}", load_id(run, load))),
                    }
                })
                .collect();
            let result = regime.result;
            let (sign, word, class) = match (&regime.out_of_scope, result) {
                (Some(_), _) => ("–", "out of scope".to_owned(), "not-assessed"),
                // With loads still to go the plan is not through: no pass reads as if it were.
                (None, Some(result))
                    if !missing.is_empty()
                        && !matches!(result, Outcome::Incomplete | Outcome::NotAssessed) =>
                {
                    let shown = match result {
                        Outcome::Pass | Outcome::ConditionalPass => Outcome::Incomplete,
                        other => other,
                    };
                    (
                        format::outcome_sign(shown),
                        format!("on what is on record: {}", format::outcome(result)),
                        shown.id(),
                    )
                }
                (None, Some(result)) => (
                    format::outcome_sign(result),
                    format::outcome(result).to_owned(),
                    result.id(),
                ),
                (None, None) => ("–", "nothing measured yet".to_owned(), "not-assessed"),
            };
            RegimeLine {
                short: regime.short.clone(),
                url: urls::regime(&regime.regime),
                sign,
                word,
                class,
                reason: match (&regime.out_of_scope, &regime.unjudged) {
                    (Some(why), _) => why.clone(),
                    (None, Some(why)) => format!("No load of the plan is open, yet: {why}."),
                    (None, None) => String::new(),
                },
                missing,
            }
        })
        .collect();
    panel
}

/// How far the score is from being final, in words.
fn score_standing(score: &ScoreOutlook) -> String {
    let loads = || format::counted(score.open, "load", "loads");
    if let Some(why) = &score.out_of_reach {
        format!(
            "Still provisional, and it stays so: the score is made on a supply that lies outside this nameplate ({why}). A firm score cannot be reached for this unit."
        )
    } else if score.is_firm() {
        "✓ Not provisional.".to_owned()
    } else if score.is_covered() {
        format!(
            "Not provisional on what is on record; {} of this plan to go.",
            loads()
        )
    } else {
        "Still provisional.".to_owned()
    }
}

// ---- saving ----

/// A button was pressed, or there is no script: save all that stands there.
async fn change(
    visit: Visit,
    signed: Editor,
    Path(id): Path<i64>,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Response, Error> {
    let site = &visit.site;
    let sent = Sent::read(pairs)?;
    let stored = draft::find(site, id, &signed).await?;
    if !signed.sent(&sent.csrf) {
        let mut page = page(&visit, &signed, &stored, sent.fields).await?;
        page.version = sent.version;
        page.notice = Some("You have signed in again since this page was opened, so it is not saved yet. Press “Save” once more.".into());
        return Ok((StatusCode::FORBIDDEN, pages::private(&page)?).into_response());
    }
    if sent.action == "as-new" {
        let id = draft::insert(site, &signed, stored.unit_id, &sent.fields).await?;
        return on_to(&urls::desk_plan(id));
    }
    match draft::store(site, id, &signed, &sent).await? {
        Saved::Version(_) if sent.action == "publish" => on_to(&urls::desk_publish(id)),
        Saved::Version(_) if sent.action == "sharing" => on_to(&urls::desk_sharing(id)),
        Saved::Version(_) => on_to(&urls::desk_plan(id)),
        Saved::NewerExists {
            version,
            updated_at,
        } => {
            let mut page = page(&visit, &signed, &stored, sent.fields).await?;
            page.version = version;
            page.conflict = Some(Conflict {
                saved: format::moment(updated_at),
            });
            Ok((StatusCode::CONFLICT, pages::private(&page)?).into_response())
        }
    }
}

/// What the script is told of a save.
#[derive(serde::Serialize)]
struct Acknowledged {
    version: i64,
    panel: String,
    problems: Problems,
    /// Texts by the id of the element that shows them.
    targets: BTreeMap<String, String>,
    /// Ids of the loads that need no reading any more.
    done: Vec<String>,
}

/// Saves while somebody types. Acknowledged only after the commit.
async fn autosave(
    visit: Visit,
    signed: Editor,
    Path(id): Path<i64>,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Response, Error> {
    let site = &visit.site;
    let sent = Sent::read(pairs)?;
    if !signed.sent(&sent.csrf) {
        let token = serde_json::json!({ "csrf": signed.csrf });
        return Ok((StatusCode::FORBIDDEN, Json(token)).into_response());
    }
    match draft::store(site, id, &signed, &sent).await? {
        Saved::Version(version) => {
            let worked = work(site, &sent.fields).await?;
            let mut fields = sent.fields;
            let rows = worked
                .planned
                .as_ref()
                .map(|(plan, _)| plan_rows::take(&mut fields, plan, &site.method.standards));
            let loads: Vec<(&PlannedRun, &PlannedLoad)> = worked
                .planned
                .iter()
                .flat_map(|(plan, _)| &plan.runs)
                .flat_map(|run| run.loads.iter().map(move |load| (run, load)))
                .collect();
            let problems = worked
                .judgement
                .by_field()
                .into_iter()
                .map(|(path, text)| (id_of(&path), text))
                .collect();
            Ok(Json(Acknowledged {
                version,
                panel: panel(&worked, rows.as_ref(), &site.method).render()?,
                problems,
                targets: loads
                    .iter()
                    .map(|(run, load)| (format!("state-{}", load_id(run, load)), state_of(load)))
                    .collect(),
                done: loads
                    .iter()
                    .filter(|(_, load)| is_done(load))
                    .map(|(run, load)| load_id(run, load))
                    .collect(),
            })
            .into_response())
        }
        Saved::NewerExists {
            version,
            updated_at,
        } => {
            let newer =
                serde_json::json!({ "version": version, "saved": format::moment(updated_at) });
            Ok((StatusCode::CONFLICT, Json(newer)).into_response())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn supplies_are_read_in_pairs_and_nonsense_is_refused_in_words() {
        let supply = |voltage_v, frequency_hz| Supply {
            voltage_v,
            frequency_hz,
        };
        assert_eq!(
            supplies_of("100 V 50 Hz; 240V/60Hz"),
            Ok(vec![supply(100.0, 50.0), supply(240.0, 60.0)])
        );
        assert_eq!(supplies_of(" "), Ok(vec![]));
        for text in ["100 V", "1000 V 50 Hz", "100 V 400 Hz", "1.2.3 50"] {
            assert!(supplies_of(text).unwrap_err().contains(text), "{text}");
        }
    }

    #[test]
    fn without_a_choice_the_rules_of_today_and_the_score_are_planned_for() {
        let method = Method::standard();
        let (choice, _) = choice_of(&Fields::new(), &method);
        assert_eq!(choice, Choice::standard(&method));
        let mut fields = Fields::new();
        fields.set("plan.chosen", "1");
        fields.set("plan.regime.eu_2019_1782", "1");
        let (choice, _) = choice_of(&fields, &method);
        assert_eq!(choice.regimes, ["eu_2019_1782"]);
        assert!(!choice.score);
    }
}
