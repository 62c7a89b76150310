//! The judgement beside the form: score, verdicts, warnings, problems, and what is still missing,
//! computed from what is typed so far.

use super::bench_form::{Problems, id_of, place_words};
use crate::{
    bench::{
        Problem,
        record::{self, Record},
    },
    evaluate::{
        Evaluation, Logs, Method,
        evaluation::{LabelOutcome, NoLoadLog, NoLoadResult, Outcome, RunResult},
    },
    intake::{
        form::{self, Document, Fields},
        submit::{self, Judged},
    },
    standards::Role,
    storage::{
        self, candidates,
        drafts::{self, Draft},
        photos, units,
    },
    web::{
        Site, alike,
        error::Error,
        format,
        pages::sheet::{term_title, told_by_ports},
        urls,
    },
};
use askama::Template;
use serde_json::Value;
use std::collections::BTreeMap;

/// What is typed, as far as it can be judged.
pub struct Judgement {
    pub document: Document,
    /// At the paths of their fields.
    pub problems: Vec<Problem>,
    /// Without the values that have a problem; `None` if too little is there.
    pub judged: Option<Judged>,
    /// Path and sentence of what is odd about the photos that are named.
    photo_oddities: Vec<(String, String)>,
}

/// Judges what is typed, with the logs and photos that it names, away from the threads that answer
/// requests.
pub async fn judge(site: &Site, fields: &Fields) -> Result<Judgement, Error> {
    let photo_oddities = photo_oddities(site, fields).await?;
    let (site, fields) = (site.clone(), fields.clone());
    let judged = tokio::task::spawn_blocking(move || judged(&fields, &site.method, site.db.logs()))
        .await
        .map_err(Error::internal)?;
    Ok(Judgement {
        photo_oddities,
        ..judged
    })
}

/// Photos that are named and not at hand, and those that are named twice. Neither keeps a record
/// from being published: a photo may come in later.
async fn photo_oddities(site: &Site, fields: &Fields) -> Result<Vec<(String, String)>, Error> {
    let mut oddities = Vec::new();
    let rows = fields.rows("photos");
    if rows == 0 {
        return Ok(oddities);
    }
    let mut connection = site.db.read().await?;
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    for row in 0..rows {
        let path = format!("photos[{row}]");
        let sha256 = fields.text(&format!("{path}.sha256")).trim().to_owned();
        if sha256.is_empty() {
            continue;
        }
        let number = row + 1;
        if let Some(first) = seen.get(&sha256) {
            let said = format!("photo {number} is the same picture as photo {first}");
            oddities.push((path, said));
            continue;
        }
        match photos::find(&mut connection, &sha256).await {
            Ok(_) => {}
            Err(storage::Error::NotFound) => oddities.push((
                path,
                format!("photo {number} is not at hand: the page will say so in its place until it is uploaded"),
            )),
            Err(other) => return Err(other.into()),
        }
        seen.insert(sha256, number);
    }
    Ok(oddities)
}

/// Judges what is typed. Values with a problem are left aside, so that one slip does not hide the
/// verdict on everything else.
fn judged(fields: &Fields, method: &Method, logs: &dyn Logs) -> Judgement {
    let document = form::document(fields);
    let mut problems = document.unreadable.clone();
    let mut value = document.value.clone();
    let mut judged = None;
    for attempt in 0..4 {
        match submit::judge(&value.to_string(), method, logs) {
            Ok(done) => {
                judged = Some(done);
                break;
            }
            Err(found) => {
                let left_aside = found
                    .iter()
                    .filter(|problem| leave_aside(&mut value, &problem.path))
                    .count();
                if attempt == 0 {
                    for problem in found {
                        let problem = document.at_field(problem);
                        // One that could not be read is missing in the document for that reason.
                        if !problems.iter().any(|known| known.path == problem.path) {
                            problems.push(problem);
                        }
                    }
                }
                if left_aside == 0 {
                    break;
                }
                without_nulls(&mut value);
            }
        }
    }
    Judgement {
        document,
        problems,
        judged,
        photo_oddities: Vec::new(),
    }
}

impl Judgement {
    /// Can it be published as it stands?
    pub fn is_clean(&self) -> bool {
        self.problems.is_empty() && self.judged.is_some()
    }

    /// Problems for the form, by field.
    pub fn by_field(&self) -> Problems {
        let mut by_field = Problems::new();
        for problem in &self.problems {
            // A blank form is not full of mistakes: what is merely missing is listed in the panel.
            if problem.value != MISSING {
                let (path, words) = match row_without_fields(&problem.path) {
                    Some(row) => (row, format!("{}: expected ", place_words(&problem.path))),
                    None => (problem.path.as_str(), "Expected ".to_owned()),
                };
                by_field
                    .entry(path.to_owned())
                    .or_insert_with(|| format!("{words}{}.", problem.expected));
            }
        }
        by_field
    }
}

const MISSING: &str = "missing";

/// Takes the value at a path out of the document; where it is missing, the list item that lacks it.
/// Items become null, so that their fellows keep their places until [`without_nulls`]. Is anything
/// changed?
fn leave_aside(document: &mut Value, path: &str) -> bool {
    let pointer: String = path
        .split(['.', '['])
        .filter(|part| !part.is_empty())
        .map(|part| format!("/{}", part.trim_end_matches(']')))
        .collect();
    let mut pointer = pointer.as_str();
    while let Some((parent, key)) = pointer.rsplit_once('/') {
        match document.pointer_mut(parent) {
            Some(Value::Object(object)) if object.contains_key(key) && key != "unit" => {
                object.remove(key);
                return true;
            }
            Some(Value::Array(items)) => {
                let item = key
                    .parse::<usize>()
                    .ok()
                    .and_then(|index| items.get_mut(index));
                if let Some(item) = item.filter(|item| !item.is_null()) {
                    *item = Value::Null;
                    return true;
                }
            }
            _ => {}
        }
        pointer = parent;
    }
    false
}

/// Lists without the items left aside; a list of numbers, whose places matter, goes altogether.
fn without_nulls(value: &mut Value) {
    match value {
        Value::Object(object) => {
            object.retain(|_, inner| {
                !inner.as_array().is_some_and(|items| {
                    items.iter().any(Value::is_null)
                        && items.iter().all(|item| item.is_null() || item.is_number())
                })
            });
            object.values_mut().for_each(without_nulls);
        }
        Value::Array(items) => {
            items.retain(|item| !item.is_null());
            items.iter_mut().for_each(without_nulls);
        }
        _ => {}
    }
}

/// The panel, ready to show.
#[derive(Template)]
#[template(path = "entry/panel.html")]
pub struct Panel {
    pub problems: Vec<Line>,
    pub missing: Vec<Line>,
    pub warnings: Vec<Line>,
    pub known: Vec<Line>,
    pub score: Option<ScoreView>,
    pub regimes: Vec<RegimeView>,
    /// Rules that are not in force any more, and marking levels.
    pub earlier: Vec<RegimeView>,
    pub runs: Vec<RunFigures>,
    /// What the logs bear out.
    pub evidence: Vec<Evidence>,
    /// "Nothing can be judged yet: …"
    pub waiting: bool,
}

/// A sentence, with the address of what it is about.
pub struct Line {
    pub text: String,
    pub url: Option<String>,
}

pub struct ScoreView {
    pub value: String,
    pub plus_minus: String,
    pub coverage: String,
    pub provisional: bool,
    pub terms: Vec<TermView>,
}

pub struct TermView {
    pub term: String,
    pub weight: String,
    pub points: String,
    pub reason: String,
}

pub struct RegimeView {
    pub title: String,
    pub url: String,
    pub sign: &'static str,
    pub word: &'static str,
    pub id: &'static str,
    pub reason: String,
    pub verdicts: Vec<VerdictView>,
}

pub struct VerdictView {
    pub requirement: &'static str,
    pub run: String,
    pub measured: String,
    pub limit: String,
    pub word: &'static str,
    pub sign: &'static str,
    pub reason: String,
}

/// What one section of a log says.
pub struct Evidence {
    pub title: String,
    pub url: Option<String>,
    pub lines: Vec<String>,
}

pub struct RunFigures {
    pub name: String,
    pub average: String,
    pub no_load: String,
}

/// Builds the panel; `known` are lines about other units of this model.
pub fn panel(judgement: &Judgement, known: Vec<Line>, method: &Method) -> Panel {
    let mut panel = Panel {
        problems: Vec::new(),
        missing: Vec::new(),
        warnings: Vec::new(),
        known,
        score: None,
        regimes: Vec::new(),
        earlier: Vec::new(),
        runs: Vec::new(),
        evidence: Vec::new(),
        waiting: judgement.judged.is_none(),
    };
    for problem in &judgement.problems {
        let url = field_url(&problem.path);
        if problem.value == MISSING {
            panel.missing.push(Line {
                text: sentence(&place_words(&problem.path)),
                url,
            });
        } else {
            let place = sentence(&place_words(&problem.path));
            panel.problems.push(Line {
                text: format!("{place}: {}; expected {}.", problem.value, problem.expected),
                url,
            });
        }
    }
    for (path, said) in &judgement.photo_oddities {
        panel.warnings.push(Line {
            text: sentence(said),
            url: field_url(&format!("{path}.caption")),
        });
    }
    if let Some(Judged {
        record, evaluation, ..
    }) = &judgement.judged
    {
        add_evaluation(&mut panel, judgement, record, evaluation, method);
    }
    panel
}

fn add_evaluation(
    panel: &mut Panel,
    judgement: &Judgement,
    record: &Record,
    evaluation: &Evaluation,
    method: &Method,
) {
    if evaluation.runs.is_empty() {
        panel.missing.push(Line {
            text: "Readings of at least one run".into(),
            url: field_url("runs[0].points[0].load_percent"),
        });
    }
    for (index, run) in evaluation.runs.iter().enumerate() {
        let path = judgement.document.field_path(&format!("runs[{index}]"));
        if !run.average_missing.is_empty() {
            let loads: Vec<String> = run
                .average_missing
                .iter()
                .map(|load| format!("{load} %"))
                .collect();
            panel.missing.push(Line {
                text: format!("{}: efficiency at {}", run.name, loads.join(", ")),
                url: field_url(&format!("{path}.points[0].load_percent")),
            });
        }
        if run.no_load.is_none() {
            panel.missing.push(Line {
                text: format!("{}: no-load power", run.name),
                url: field_url(&format!("{path}.no_load.power_w")),
            });
        }
        let evidence = evidence_of(run, index, &judgement.document).into_iter();
        panel.evidence.extend(evidence.map(|(_, said)| said));
        panel.runs.push(RunFigures {
            name: run.name.clone(),
            average: run.average_efficiency.map_or("not yet".into(), |average| {
                format::PlusMinus::efficiency(average, run.average_efficiency_u).to_string()
            }),
            no_load: run.no_load.as_ref().map_or("not yet".into(), |no_load| {
                format::PlusMinus::watts(no_load.power_w, no_load.power_u).to_string()
            }),
        });
    }
    if record.instruments.is_empty() {
        panel.missing.push(Line {
            text: "Accuracy of the instruments: without it no uncertainty is known".into(),
            url: field_url("instruments[0].name"),
        });
    }
    let oddities = evaluation.warnings.iter();
    for warning in oddities.filter(|w| !told_by_ports(evaluation, w)) {
        let path = judgement.document.field_path(&warning.path);
        let place = place_words(&path);
        let text = if place.is_empty() {
            warning.message.clone()
        } else {
            format!("{}: {}", sentence(&place), warning.message)
        };
        panel.warnings.push(Line {
            text,
            url: field_url(&path),
        });
    }
    panel
        .warnings
        .extend(port_lines(judgement, record, evaluation));
    let score = &evaluation.score;
    panel.score = score.value.map(|value| ScoreView {
        value: format::fixed(value, 1),
        plus_minus: format::PlusMinus::score(value, score.u)
            .expanded
            .unwrap_or_else(|| "unknown".into()),
        coverage: format!("{} %", format::fixed(score.coverage * 100.0, 0)),
        provisional: score.provisional,
        terms: score
            .terms
            .iter()
            .map(|term| TermView {
                term: term_title(&term.term).to_owned(),
                weight: format::plain(term.weight),
                points: term
                    .points
                    .map_or("—".into(), |points| format::fixed(points, 1)),
                reason: term.reason.clone().unwrap_or_default(),
            })
            .collect(),
    });
    for result in &evaluation.regimes {
        let Some(regime) = method
            .standards
            .regimes
            .iter()
            .find(|regime| regime.id == result.regime)
        else {
            continue;
        };
        let verdicts = evaluation
            .verdicts
            .iter()
            .filter(|verdict| {
                verdict.regime == result.regime && verdict.result != Outcome::NotAssessed
            })
            .map(|verdict| VerdictView {
                requirement: format::requirement(verdict.requirement),
                run: verdict.run.clone().unwrap_or_default(),
                measured: verdict
                    .measured
                    .map_or(String::new(), |value| figure(verdict.requirement, value)),
                limit: verdict
                    .limit
                    .map_or(String::new(), |value| figure(verdict.requirement, value)),
                word: format::outcome(verdict.result),
                sign: format::outcome_sign(verdict.result),
                reason: verdict.reason.clone().unwrap_or_default(),
            })
            .collect();
        let list = match regime.role {
            Role::Law | Role::Voluntary | Role::Pending => &mut panel.regimes,
            Role::Earlier | Role::Marking => &mut panel.earlier,
        };
        list.push(RegimeView {
            title: regime.short.clone(),
            url: urls::regime(&regime.id),
            sign: format::outcome_sign(result.result),
            word: format::outcome(result.result),
            id: result.result.id(),
            reason: result.reason.clone().unwrap_or_default(),
            verdicts,
        });
    }
}

/// What is wrong with a port by its label, its list and the rules, and what contradicts in how they
/// share.
fn port_lines(judgement: &Judgement, record: &Record, evaluation: &Evaluation) -> Vec<Line> {
    let mut lines = Vec::new();
    for port in &evaluation.ports {
        let row = record.unit.ports.iter().position(|p| p.label == port.port);
        let path = format!("unit.ports[{}].label", row.unwrap_or_default());
        let url = field_url(&judgement.document.field_path(&path));
        lines.extend(
            port.findings
                .iter()
                .filter(|f| f.result == LabelOutcome::Contradicts)
                .map(|f| Line {
                    text: format!("Port {}: {}", port.port, f.message),
                    url: url.clone(),
                }),
        );
    }
    for contradiction in evaluation.sharing.iter().flat_map(|s| &s.contradictions) {
        let row = contradiction.observations.last().copied();
        let path = format!("sharing[{}].ports_in_use", row.unwrap_or_default());
        lines.push(Line {
            text: format!("Sharing: {}", contradiction.message),
            url: field_url(&judgement.document.field_path(&path)),
        });
    }
    lines
}

/// What the logs of a run bear out, each with the place of its section on the form; `index` is the
/// run's in the document.
pub fn evidence_of(run: &RunResult, index: usize, document: &Document) -> Vec<(String, Evidence)> {
    let mut evidence = Vec::new();
    let at = |rest: String| document.field_path(&format!("runs[{index}].{rest}"));
    let log_at = |place: &str| field_url(&format!("{place}.log"));
    if let Some(no_load) = &run.no_load
        && let Some(log) = &no_load.log
    {
        let place = at("no_load".to_owned());
        let said = Evidence {
            title: format!("{}: no load, from {}", run.name, log.name),
            url: log_at(&place),
            lines: no_load_lines(no_load, log),
        };
        evidence.push((place, said));
    }
    for (point_index, point) in run.points.iter().enumerate() {
        if let Some(log) = &point.log {
            let stable = if log.stable { "Stable" } else { "Not stable" };
            let place = at(format!("points[{point_index}]"));
            let said = Evidence {
                title: format!(
                    "{}: {} % load, from {}",
                    run.name,
                    format::plain(point.load_percent),
                    log.name
                ),
                url: log_at(&place),
                lines: vec![format!(
                    "{stable} over {}: {}",
                    format::duration(log.to_s - log.from_s),
                    log.stability
                )],
            };
            evidence.push((place, said));
        }
    }
    for (row, waveform) in run.waveforms.iter().enumerate() {
        let place = at(format!("waveforms[{row}]"));
        let said = Evidence {
            title: format!(
                "{}: waveform at {} % load, from {}",
                run.name,
                format::plain(waveform.load_percent),
                waveform.name
            ),
            url: log_at(&place),
            lines: vec![match (&waveform.quality, &waveform.refused) {
                (Some(quality), _) => format!(
                    "{} of line voltage and current; a screening, not a verdict of conformity.",
                    format::duration(quality.samples as f64 * quality.interval_s)
                ),
                (None, why) => why.clone().unwrap_or_default(),
            }],
        };
        evidence.push((place, said));
    }
    evidence
}

/// A no-load figure from a log in words: what it is, how it came about, how long still.
pub fn no_load_lines(no_load: &NoLoadResult, log: &NoLoadLog) -> Vec<String> {
    let figure = match no_load.expanded_uncertainty_w {
        Some(expanded) => {
            let scale = format::watt_scale(no_load.power_w);
            format::PlusMinus::new(no_load.power_w, Some(expanded), scale, 3).to_string()
        }
        None => format!("{}, uncertainty unknown", format::watts(no_load.power_w)),
    };
    let mut lines = vec![format!(
        "{figure} by the {} method, over {} of {} recorded.",
        no_load.method,
        format::duration(log.used_to_s - log.used_from_s),
        format::duration(log.to_s - log.from_s),
    )];
    lines.push(match log.settled_at_s {
        Some(at) => format!("Settled at {}.", format::duration(at)),
        None => "It never settled.".to_owned(),
    });
    lines.extend(log.limits.iter().map(|against| {
        format!(
            "Limit {}: {}",
            format::watts(against.limit_w),
            against.longer.message
        )
    }));
    lines
}

fn figure(requirement: crate::evaluate::evaluation::Requirement, value: f64) -> String {
    use crate::evaluate::evaluation::Requirement;
    match requirement {
        Requirement::AverageEfficiency | Requirement::TenPercentEfficiency => {
            format::percent(value)
        }
        Requirement::NoLoad => format::watts(value),
        Requirement::PowerFactor => format::fixed(value, 3),
    }
}

fn field_url(path: &str) -> Option<String> {
    let path = row_without_fields(path).unwrap_or(path);
    (!path.is_empty()).then(|| format!("#{}", id_of(path)))
}

/// The row of the log or photo that a path is about: how a log is read and which photo it is have no
/// fields of their own on the form.
fn row_without_fields(path: &str) -> Option<&str> {
    let of_photo = path.starts_with("photos[") && !path.ends_with(".caption");
    let end = (path.starts_with("logs[") || of_photo).then(|| path.find(']'))??;
    Some(&path[..=end])
}

fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    match letters.next() {
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => String::new(),
    }
}

/// Was this maker and model tested before, or the unit revised since this draft was begun? Other
/// samples are welcome, but whoever enters the same one again should know.
pub async fn already_known(
    site: &Site,
    fields: &Fields,
    draft: &Draft,
) -> Result<Vec<Line>, storage::Error> {
    let mut connection = site.db.read().await?;
    let mut lines = Vec::new();
    if let Some(unit_id) = draft.unit_id {
        let newest = units::revisions(&mut connection, unit_id)
            .await?
            .into_iter()
            .next();
        if let Some(newest) = newest.filter(|newest| newest.created_at > draft.created_at) {
            let slug = units::find_by_id(&mut connection, unit_id).await?.slug;
            lines.push(Line {
                text: format!(
                    "{} has published revision {} of this unit since you began this draft; it lacks those changes.",
                    newest.author, newest.number
                ),
                url: Some(urls::revision(&slug, newest.number)),
            });
        }
    }
    let (maker, model) = (fields.text("unit.maker"), fields.text("unit.model"));
    if maker.trim().is_empty() || model.trim().is_empty() {
        return Ok(lines);
    }
    let key = |maker: &str, model: &str| {
        format!("{}\u{1f}{}", record::folded(maker), record::folded(model))
    };
    let wanted = key(maker, model);
    for unit in units::find_by_model(&mut connection, &wanted).await? {
        if Some(unit.id) != draft.unit_id {
            let sample = unit.identity_key.rsplit('\u{1f}').next().unwrap_or("");
            let sample = if sample.is_empty() {
                "without a sample name".into()
            } else {
                format!("sample {sample}")
            };
            lines.push(Line {
                text: format!(
                    "{} {} is published already ({sample}).",
                    maker.trim(),
                    model.trim()
                ),
                url: Some(urls::desk_unit(&unit.slug)),
            });
        }
    }
    let identities = drafts::identities(&mut connection).await?;
    for other in &identities {
        if other.draft_id != draft.id && key(&other.maker, &other.model) == wanted {
            let mine = other.operator_id == draft.operator_id;
            lines.push(Line {
                text: if mine {
                    "You have another draft of this model.".to_owned()
                } else {
                    format!("{} has a draft of this model.", other.operator_name)
                },
                url: mine.then(|| urls::desk_draft(other.draft_id)),
            });
        }
    }
    // Whoever revises a unit knows which one.
    if draft.unit_id.is_none() {
        let queue = candidates::list(&mut connection).await?;
        let own = queue.iter().find(|one| one.draft_id == Some(draft.id));
        let mut near = alike::tested(&site.public(), maker, model);
        near.extend(alike::drafted(
            &identities,
            Some(draft.id),
            draft.operator_id,
            maker,
            model,
        ));
        near.retain(|one| !one.same);
        near.extend(alike::queued(&queue, own.map(|one| one.id), maker, model));
        lines.extend(near.into_iter().map(|one| Line {
            text: format!("Perhaps {}, {}: {}.", one.name, one.what, one.reason),
            url: one.url,
        }));
    }
    Ok(lines)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evaluate::NoLogs;

    #[test]
    fn a_value_with_a_problem_is_left_aside_and_the_rest_is_judged() {
        let mut fields = Fields::new();
        for (path, text) in [
            ("unit.maker", "Larkfield"),
            ("unit.model", "LF-20"),
            ("unit.nameplate.output_power_w", "20"),
            ("unit.nameplate.input_current_a", "500 A"),
            ("unit.mass_g.adapter", "heavy"),
        ] {
            fields.set(path, text);
        }
        let judgement = judged(&fields, &Method::standard(), &NoLogs);
        assert!(judgement.judged.is_some() && !judgement.is_clean());
        let by_field = judgement.by_field();
        assert!(by_field.contains_key("unit.nameplate.input_current_a"));
        assert!(by_field.contains_key("unit.mass_g.adapter"));
    }

    #[test]
    fn a_blank_form_lists_what_is_missing_without_calling_it_wrong() {
        let judgement = judged(
            &super::super::bench_form::offered(None),
            &Method::standard(),
            &NoLogs,
        );
        assert!(judgement.judged.is_none());
        assert!(judgement.by_field().is_empty());
        let panel = panel(&judgement, Vec::new(), &Method::standard());
        assert!(
            panel
                .missing
                .iter()
                .any(|line| line.text == "Maker" || line.text == "Unit"),
            "{:?}",
            judgement.problems
        );
        assert!(panel.problems.is_empty());
    }
}
