//! Cutting a section from a log and giving it to a record: a run's no-load power, the readings of
//! a load point, or a waveform.
//!
//! The section is written into the draft as typing would write it: against the version that the
//! page was made from, so that nothing typed meanwhile is overwritten unseen.

use super::{
    log::{ColumnLine, column_lines, quantity_name},
    steps::{self, StepsView},
};
use crate::{
    bench::record::{Layout, LogQuantity},
    chart::{Chart, ChartTable, LogOverview, Size},
    evaluate::evaluation::Requirement,
    intake::{
        form::{self, Fields},
        logs::{Overview, Summary},
    },
    log::Section,
    quantity::written::{self, Unit},
    storage::{
        audit,
        drafts::{self, Draft, Save, Saved},
        logs::LogFile,
    },
    web::{
        Site,
        auth::{self, Editor, Signed},
        entry::{draft, live, on_to},
        error::Error,
        extract::{Form, Pairs, Path, Visit},
        format,
        log_readings::{self, Answer, Wanted},
        urls,
    },
};
use axum::{Router, response::Response, routing::post};
use serde_json::json;

pub fn routes() -> Router<Site> {
    Router::new().route("/desk/logs/{sha256}/cut", post(cut))
}

/// The part of a log's page about its section.
pub struct CutView {
    pub problem: Option<String>,
    /// (number, name, chosen)
    pub columns: Vec<(usize, String, bool)>,
    pub chart: String,
    pub table: ChartTable,
    pub area: Area,
    pub from: String,
    pub to: String,
    /// Length of the whole log, seconds.
    pub ends_at: String,
    pub section: Option<SectionView>,
    pub drafts: Vec<DraftOption>,
    pub draft: Option<ChosenDraft>,
    pub load: String,
}

/// Where the plotting area of a chart lies, for dragging.
pub struct Area {
    pub wide: (f64, f64),
    pub narrow: (f64, f64),
    pub from_s: f64,
    pub to_s: f64,
}

/// The section by itself, read from the log again.
pub enum SectionView {
    Reading(u64),
    Unreadable(String),
    Read(Box<SectionRead>),
}

pub struct SectionRead {
    pub rows: String,
    pub length: String,
    pub columns: Vec<ColumnLine>,
    pub chart: String,
    pub area: Area,
}

pub struct DraftOption {
    pub id: i64,
    pub title: String,
    pub chosen: bool,
}

pub struct ChosenDraft {
    pub version: i64,
    pub url: String,
    pub runs: Vec<RunPlaces>,
    /// What the section says in the place that is chosen.
    pub preview: Option<Preview>,
    pub steps: Option<StepsView>,
    /// May the log hold a stepped load?
    pub may_have_steps: bool,
    pub id: i64,
}

/// The places of one run that a section can go to.
pub struct RunPlaces {
    pub label: String,
    /// (word, shown, chosen)
    pub places: Vec<(String, String, bool)>,
}

pub struct Preview {
    pub title: String,
    pub lines: Vec<String>,
}

/// Where in a record a section goes to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    NoLoad(usize),
    Point(usize, usize),
    Waveform(usize),
}

impl Place {
    fn from_word(word: &str) -> Option<Place> {
        let mut parts = word.split(':');
        let run = parts.next()?.parse().ok()?;
        let place = match (parts.next()?, parts.next()) {
            ("no_load", None) => Place::NoLoad(run),
            ("point", Some(point)) => Place::Point(run, point.parse().ok()?),
            ("waveform", None) => Place::Waveform(run),
            _ => return None,
        };
        parts.next().is_none().then_some(place)
    }

    fn word(self) -> String {
        match self {
            Place::NoLoad(run) => format!("{run}:no_load"),
            Place::Point(run, point) => format!("{run}:point:{point}"),
            Place::Waveform(run) => format!("{run}:waveform"),
        }
    }

    fn is_in(self, fields: &Fields) -> bool {
        match self {
            Place::NoLoad(run) | Place::Waveform(run) => run < fields.rows("runs"),
            Place::Point(run, point) => {
                run < fields.rows("runs") && point < fields.rows(&format!("runs[{run}].points"))
            }
        }
    }
}

/// What the page's form asks for.
#[derive(Debug, Clone, Default, PartialEq)]
struct Asked {
    column: usize,
    from: String,
    to: String,
    draft: Option<i64>,
    place: String,
    load: String,
    /// "preview", "steps" or nothing.
    then: String,
}

impl Asked {
    fn of(query: &Pairs) -> Asked {
        let text = |name: &str| query.last(name).unwrap_or("").to_owned();
        Asked {
            column: text("column").parse().unwrap_or(0),
            from: text("from"),
            to: text("to"),
            draft: text("draft").parse().ok(),
            place: text("place"),
            load: text("load"),
            then: text("then"),
        }
    }

    fn url(&self, sha256: &str) -> String {
        let mut query = urls::Query::new();
        let draft = self.draft.map_or(String::new(), |id| id.to_string());
        let column = self.column.to_string();
        for (name, value) in [
            ("column", &column),
            ("from", &self.from),
            ("to", &self.to),
            ("draft", &draft),
            ("place", &self.place),
            ("load", &self.load),
            ("then", &self.then),
        ] {
            let is_default = value.is_empty() || (name == "column" && value == "0");
            if !is_default {
                query.push(name, value);
            }
        }
        format!("{}#section", query.on(&urls::desk_log(sha256)))
    }

    /// # Errors
    /// A time that cannot be read, or an end before its begin, in words.
    fn section(&self) -> Result<Section, String> {
        let time = |label: &str, text: &str| match text.trim() {
            "" => Ok(None),
            text => written::parse(text, Unit::Second, 0.0..=1e7)
                .ok()
                .filter(|seconds| (0.0..=1e7).contains(seconds))
                .map(Some)
                .ok_or_else(|| {
                    format!("{label}: {text:?}; expected a time such as 90, 90 s or 0:01:30.")
                }),
        };
        let section = Section {
            from_s: time("From", &self.from)?,
            to_s: time("To", &self.to)?,
        };
        match (section.from_s, section.to_s) {
            (Some(from_s), Some(to_s)) if from_s >= to_s => Err(format!(
                "To: {}; expected a time after {}.",
                self.to.trim(),
                self.from.trim()
            )),
            _ => Ok(section),
        }
    }
}

/// The part of the page of a log that was read.
pub async fn view(
    visit: &Visit,
    signed: &Signed,
    file: &LogFile,
    layout: &Layout,
    summary: &Summary,
    query: &Pairs,
) -> Result<CutView, Error> {
    let site = &visit.site;
    let asked = Asked::of(query);
    let column = asked.column.min(summary.columns.len().saturating_sub(1));
    let (section, mut problem) = match asked.section() {
        Ok(section) => (section, None),
        Err(why) => (Section::default(), Some(why)),
    };
    let whole = section == Section::default();
    let ends_at = summary.columns.first().map_or(0.0, |c| end_of(&c.overview));
    let chosen = (!whole).then(|| {
        (
            section.from_s.unwrap_or(0.0),
            section.to_s.unwrap_or(ends_at),
        )
    });
    let chart = overview_chart(file, summary, column, chosen);
    let mut view = CutView {
        columns: summary
            .columns
            .iter()
            .enumerate()
            .map(|(i, c)| (i, quantity_name(c.quantity, c.port.as_deref()), i == column))
            .collect(),
        area: Area::of(&chart),
        table: chart.table(),
        chart: chart.both("log"),
        from: asked.from.clone(),
        to: asked.to.clone(),
        ends_at: format::plain(ends_at),
        section: None,
        drafts: Vec::new(),
        draft: None,
        load: asked.load.clone(),
        problem: None,
    };
    if !whole {
        let wanted = Wanted {
            sha256: file.sha256.clone(),
            layout: layout.clone(),
            section,
        };
        view.section = Some(
            match log_readings::read(site, wanted, file.size_bytes).await? {
                Answer::UnderWay(progress) => SectionView::Reading(progress.percent()),
                Answer::Found(Err(why)) => SectionView::Unreadable(why),
                Answer::Found(Ok(finding)) => {
                    let summary = &finding.summary;
                    let chart = overview_chart(file, summary, column, None);
                    SectionView::Read(Box::new(SectionRead {
                        rows: format::count(summary.rows),
                        length: format::duration(summary.duration_s),
                        columns: column_lines(summary),
                        area: Area::of(&chart),
                        chart: chart.both("section"),
                    }))
                }
            },
        );
    }
    let own = drafts::list(&mut *site.db.read().await?, signed.operator_id).await?;
    let chosen = match asked.draft {
        Some(id) => own.iter().find(|draft| draft.id == id),
        None => own.first(),
    };
    for stored in &own {
        view.drafts.push(DraftOption {
            id: stored.id,
            title: draft::title_of(&draft::fields_of(stored)?),
            chosen: chosen.is_some_and(|chosen| chosen.id == stored.id),
        });
    }
    if let Some(stored) = chosen {
        let fields = draft::fields_of(stored)?;
        let place = Place::from_word(&asked.place)
            .filter(|place| place.is_in(&fields))
            .or_else(|| likely_place(layout, &fields));
        let mut found_steps = None;
        if asked.then == "steps"
            && problem.is_none()
            && let Some(Place::NoLoad(run) | Place::Point(run, _) | Place::Waveform(run)) = place
        {
            found_steps = Some(steps::view(site, file, layout, section, &fields, run).await?);
        }
        let mut preview = None;
        if asked.then == "preview"
            && problem.is_none()
            && let Some(place) = place
        {
            match preview_of(site, &fields, file, layout, place, section, &asked.load).await? {
                Ok(found) => preview = Some(found),
                Err(why) => problem = Some(why),
            }
        }
        view.draft = Some(ChosenDraft {
            version: stored.version,
            url: urls::desk_draft(stored.id),
            runs: places(&fields, place),
            preview,
            steps: found_steps,
            may_have_steps: !holds_samples(layout),
            id: stored.id,
        });
    }
    view.problem = problem;
    Ok(view)
}

fn end_of(overview: &Overview) -> f64 {
    let length = overview.cell_s * overview.mean.len() as f64;
    // The last cell ends a hair, a thousand-millionth of the length, after the last row.
    let step = 10f64.powf(length.max(1e-9).log10().floor() - 6.0);
    overview.from_s + (length / step).round() * step
}

impl Area {
    fn of(chart: &LogOverview) -> Area {
        let (from_s, to_s) = chart.ends();
        Area {
            wide: LogOverview::edges(Size::Wide),
            narrow: LogOverview::edges(Size::Narrow),
            from_s,
            to_s,
        }
    }
}

fn overview_chart(
    file: &LogFile,
    summary: &Summary,
    column: usize,
    chosen: Option<(f64, f64)>,
) -> LogOverview {
    match summary.columns.get(column).or(summary.columns.first()) {
        Some(column) => LogOverview {
            subject: file.name.clone(),
            quantity: quantity_name(column.quantity, column.port.as_deref()),
            unit: format::log_quantity(column.quantity).1.to_owned(),
            from_s: column.overview.from_s,
            cell_s: column.overview.cell_s,
            min: column.overview.min.clone(),
            max: column.overview.max.clone(),
            mean: column.overview.mean.clone(),
            chosen,
        },
        None => LogOverview {
            subject: file.name.clone(),
            quantity: "nothing".to_owned(),
            unit: String::new(),
            from_s: 0.0,
            cell_s: 1.0,
            min: Vec::new(),
            max: Vec::new(),
            mean: Vec::new(),
            chosen: None,
        },
    }
}

fn holds_samples(layout: &Layout) -> bool {
    layout.columns.iter().any(|column| {
        matches!(
            column.quantity,
            LogQuantity::LineVoltageSampleV | LogQuantity::LineCurrentSampleA
        )
    })
}

/// Where a section of such a log most likely goes.
fn likely_place(layout: &Layout, fields: &Fields) -> Option<Place> {
    (fields.rows("runs") > 0).then(|| {
        if holds_samples(layout) {
            Place::Waveform(0)
        } else {
            Place::NoLoad(0)
        }
    })
}

/// The places of every run, for choosing one.
fn places(fields: &Fields, chosen: Option<Place>) -> Vec<RunPlaces> {
    let option = |place: Place, shown: String| (place.word(), shown, Some(place) == chosen);
    (0..fields.rows("runs"))
        .map(|run| {
            let name = fields.text(&format!("runs[{run}].name")).trim();
            let mut places = vec![option(Place::NoLoad(run), "no load".to_owned())];
            let list = format!("runs[{run}].points");
            for point in 0..fields.rows(&list) {
                let load = fields.text(&format!("{list}[{point}].load_percent")).trim();
                let load = load.trim_end_matches('%').trim_end();
                let shown = match load {
                    "" => format!("load point {}, load not given", point + 1),
                    load => format!("load point {load} %"),
                };
                places.push(option(Place::Point(run, point), shown));
            }
            places.push(option(
                Place::Waveform(run),
                "waveform, at the load below".to_owned(),
            ));
            RunPlaces {
                label: if name.is_empty() {
                    format!("Run {}", run + 1)
                } else {
                    format!("Run {}: {name}", run + 1)
                },
                places,
            }
        })
        .collect()
}

/// Writes a section into the texts of a form, and says where typing goes on.
///
/// # Errors
/// Why it has no place there, in words.
pub fn apply(
    fields: &mut Fields,
    file: &LogFile,
    layout: &Layout,
    place: Place,
    section: Section,
    load: &str,
) -> Result<String, String> {
    if !place.is_in(fields) {
        return Err("This run or load point is not in the draft any more.".to_owned());
    }
    let path = match place {
        Place::NoLoad(run) => format!("runs[{run}].no_load"),
        Place::Point(run, point) => format!("runs[{run}].points[{point}]"),
        Place::Waveform(run) => {
            let load = load.trim().trim_end_matches('%').trim_end();
            let percent = written::parse(load, Unit::Percent, 0.0..=150.0)
                .ok()
                .filter(|percent| (0.0..=150.0).contains(percent));
            let Some(percent) = percent else {
                return Err(format!(
                    "Load of the waveform: {load:?}; expected a percentage of the rated load from 0 to 150."
                ));
            };
            let list = format!("runs[{run}].waveforms");
            let name = known_name(fields, file);
            // The same load of the same log again is a better cut of it.
            let row = (0..fields.rows(&list))
                .find(|row| {
                    let there = fields.text(&format!("{list}[{row}].load_percent"));
                    let same_load =
                        written::parse(there, Unit::Percent, 0.0..=150.0) == Ok(percent);
                    let log = fields.text(&format!("{list}[{row}].log")).trim();
                    same_load && name.as_deref() == Some(log)
                })
                .unwrap_or(fields.rows(&list));
            let path = format!("{list}[{row}]");
            fields.set(format!("{path}.load_percent"), written::editable(percent));
            path
        }
    };
    let name = put_log(fields, file, layout)?;
    fields.set(format!("{path}.log"), name);
    for (key, seconds) in [("log_from_s", section.from_s), ("log_to_s", section.to_s)] {
        let text = seconds.map_or(String::new(), written::editable);
        fields.set(format!("{path}.{key}"), text);
    }
    Ok(format!("{path}.log"))
}

/// The name by which the record knows this log, if it does.
fn known_name(fields: &Fields, file: &LogFile) -> Option<String> {
    let row = row_of(fields, file)?;
    Some(fields.text(&format!("logs[{row}].name")).trim().to_owned())
}

fn row_of(fields: &Fields, file: &LogFile) -> Option<usize> {
    (0..fields.rows("logs"))
        .find(|row| fields.text(&format!("logs[{row}].sha256")).trim() == file.sha256)
}

/// Lists the log in the record, as it is read now, and gives its name there.
fn put_log(fields: &mut Fields, file: &LogFile, layout: &Layout) -> Result<String, String> {
    const MOST_LOGS: usize = 100;
    let layout = with_ports(layout.clone(), fields)?;
    let (row, name) = match row_of(fields, file) {
        Some(row) => (
            row,
            fields.text(&format!("logs[{row}].name")).trim().to_owned(),
        ),
        None => (fields.rows("logs"), free_name(fields, &file.name)),
    };
    if row >= MOST_LOGS {
        return Err(format!(
            "The record names {MOST_LOGS} logs already; it can name no more."
        ));
    }
    let document = json!({"logs": [{
        "name": name,
        "sha256": file.sha256,
        "size_bytes": file.size_bytes,
        "layout": layout,
    }]});
    for (rest, _) in fields.row("logs", row) {
        fields.remove(&format!("logs[{row}]{rest}"));
    }
    for (rest, text) in form::fields(&document).row("logs", 0) {
        fields.set(format!("logs[{row}]{rest}"), text);
    }
    Ok(name)
}

/// The layout with the unit's only port where an output names none.
fn with_ports(mut layout: Layout, fields: &Fields) -> Result<Layout, String> {
    let ports: Vec<String> = (0..fields.rows("unit.ports"))
        .map(|row| {
            let label = fields.text(&format!("unit.ports[{row}].label"));
            label.trim().to_owned()
        })
        .filter(|label| !label.is_empty())
        .collect();
    for column in &mut layout.columns {
        let is_output = matches!(
            column.quantity,
            LogQuantity::OutputVoltageV | LogQuantity::OutputCurrentA | LogQuantity::OutputPowerW
        );
        if !is_output {
            continue;
        }
        match (&column.port, &ports[..]) {
            (Some(port), _) if ports.contains(port) => {}
            (None, [only]) => column.port = Some(only.clone()),
            (named, _) => {
                let (name, _) = format::log_quantity(column.quantity);
                let found = match named {
                    Some(port) => format!("port {port:?}"),
                    None => "no port".to_owned(),
                };
                let expected = if ports.is_empty() {
                    "the label of a port of the unit, which lists none yet".to_owned()
                } else {
                    format!("one of {}", ports.join(", "))
                };
                return Err(format!(
                    "Column {} of the log, {name}: {found}; expected {expected}. Say it under “How it is read”.",
                    column.column
                ));
            }
        }
    }
    Ok(layout)
}

/// A name that no other log of the record has.
fn free_name(fields: &Fields, wanted: &str) -> String {
    const LONGEST: usize = 200;
    let taken = crate::web::entry::bench_form::log_names(fields);
    if !taken.iter().any(|name| name == wanted) {
        return wanted.to_owned();
    }
    let (stem, extension) = match wanted.rsplit_once('.') {
        Some((stem, extension)) if !stem.is_empty() => (stem, format!(".{extension}")),
        _ => (wanted, String::new()),
    };
    (2..)
        .map(|n| {
            let end = format!(" ({n}){extension}");
            let room = LONGEST.saturating_sub(end.chars().count());
            format!("{}{end}", stem.chars().take(room).collect::<String>())
        })
        .find(|name| !taken.contains(name))
        .expect("a record names finitely many logs")
}

/// What a section says in its place, judged with the whole draft as if it stood there.
async fn preview_of(
    site: &Site,
    fields: &Fields,
    file: &LogFile,
    layout: &Layout,
    place: Place,
    section: Section,
    load: &str,
) -> Result<Result<Preview, String>, Error> {
    let mut fields = fields.clone();
    let at = match apply(&mut fields, file, layout, place, section, load) {
        Ok(at) => at,
        Err(why) => return Ok(Err(why)),
    };
    let judgement = live::judge(site, &fields).await?;
    let Some(judged) = &judgement.judged else {
        return Ok(Err(
            "Nothing can be judged yet: maker, model and nameplate output power come first."
                .to_owned(),
        ));
    };
    let mut preview = Preview {
        title: String::new(),
        lines: Vec::new(),
    };
    let at = at.trim_end_matches(".log");
    for (index, run) in judged.evaluation.runs.iter().enumerate() {
        for (place, evidence) in live::evidence_of(run, index, &judgement.document) {
            if place == at {
                preview.title = evidence.title;
                preview.lines.extend(evidence.lines);
            }
        }
        let this_run = judgement.document.field_path(&format!("runs[{index}]"));
        if matches!(place, Place::NoLoad(_)) && at.starts_with(&format!("{this_run}.")) {
            preview.lines.extend(
                judged
                    .evaluation
                    .verdicts
                    .iter()
                    .filter(|verdict| {
                        verdict.requirement == Requirement::NoLoad
                            && verdict.run.as_deref() == Some(&run.name)
                            && verdict.limit.is_some()
                    })
                    .map(|verdict| {
                        let short = site
                            .method
                            .standards
                            .regimes
                            .iter()
                            .find(|regime| regime.id == verdict.regime)
                            .map_or(verdict.regime.as_str(), |regime| regime.short.as_str());
                        format!(
                            "{short}: {}, measured by us.",
                            format::outcome(verdict.result)
                        )
                    }),
            );
        }
    }
    // What stands against it is as telling as what it says.
    let warnings = judged.evaluation.warnings.iter().filter_map(|warning| {
        let path = judgement.document.field_path(&warning.path);
        path.starts_with(at).then(|| warning.message.clone())
    });
    preview.lines.extend(warnings);
    for problem in &judgement.problems {
        if problem.path.starts_with(at) || problem.path.starts_with("logs[") {
            preview
                .lines
                .push(format!("{}; expected {}.", problem.value, problem.expected));
        }
    }
    if preview.title.is_empty() {
        preview.title = "Nothing can be said of this section in this place.".to_owned();
    }
    Ok(Ok(preview))
}

/// A button of the section's form.
async fn cut(
    visit: Visit,
    signed: Editor,
    Path(sha256): Path<String>,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Response, Error> {
    let pairs = Pairs(pairs);
    signed.check(pairs.last("csrf").unwrap_or(""))?;
    let mut asked = Asked::of(&pairs);
    let action = pairs.last("action").unwrap_or("");
    if action != "use" {
        asked.then = match action {
            "preview" | "steps" => action.to_owned(),
            _ => String::new(),
        };
        return on_to(&asked.url(&sha256));
    }
    let site = &visit.site;
    let file = super::find(site, &sha256).await?;
    let refused = |why: String| Error::Invalid(format!("{why} Nothing was changed in the draft."));
    let section = asked.section().map_err(refused)?;
    let layout = usable(&file)?;
    let place = Place::from_word(&asked.place)
        .ok_or_else(|| refused("Choose a run and what the section is for.".into()))?;
    let id = asked
        .draft
        .ok_or_else(|| refused("Choose a draft.".into()))?;
    let version = pairs.last("version").and_then(|text| text.parse().ok());
    let focus = use_in_draft(site, &signed, id, version, |fields| {
        apply(fields, &file, &layout, place, section, &asked.load)
    })
    .await?;
    on_to(
        &urls::Query::new()
            .with("focus", &focus)
            .on(&urls::desk_draft(id)),
    )
}

/// The layout of a log that was read to its end.
///
/// # Errors
/// It was not, or too much of it cannot be read.
pub fn usable(file: &LogFile) -> Result<Layout, Error> {
    super::layout_of(file)
        .filter(|_| file.summary.is_some())
        .ok_or_else(|| {
            Error::Conflict(
                "The log cannot be used before it is read to its end without too many bad rows."
                    .into(),
            )
        })
}

/// Changes a draft that is still at the version that the page was made from.
pub async fn use_in_draft(
    site: &Site,
    signed: &Signed,
    id: i64,
    version: Option<i64>,
    change: impl FnOnce(&mut Fields) -> Result<String, String>,
) -> Result<String, Error> {
    let mut tx = site.db.write().await?;
    let stored: Draft = drafts::find(&mut tx, id, signed.operator_id).await?;
    if version != Some(stored.version) {
        return Err(Error::Conflict(
            "The draft has changed since this page was opened, so nothing was written into it. Go back, press “Show the section” to see its runs as they are now, and use the section again.".into(),
        ));
    }
    let mut fields = draft::fields_of(&stored)?;
    let focus = change(&mut fields)
        .map_err(|why| Error::Invalid(format!("{why} Nothing was changed in the draft.")))?;
    let text = serde_json::to_string(&fields).map_err(Error::internal)?;
    let editor = auth::new_token();
    let save = Save {
        version: stored.version,
        editor: &editor,
        editor_save: 1,
    };
    let now = site.clock.now();
    let saved = drafts::save(&mut tx, id, signed.operator_id, save, &text, now).await?;
    if matches!(saved, Saved::NewerExists { .. }) {
        return Err(Error::Conflict(
            "Another page saved the draft just now, so nothing was written into it. Use the section again.".into(),
        ));
    }
    audit::write_draft_save(&mut tx, &signed.who(), id, &editor, &text, now).await?;
    tx.commit().await?;
    Ok(focus)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::record::{DecimalMark, Delimiter, Encoding, LogColumn, TimeColumn, TimeForm};

    fn file(sha256: &str) -> LogFile {
        LogFile {
            sha256: sha256.to_owned(),
            name: "noload.csv".to_owned(),
            size_bytes: 1_073_741_824,
            stored_bytes: 1,
            layout: None,
            summary: None,
            fault: None,
            created_at: time::OffsetDateTime::UNIX_EPOCH,
        }
    }

    fn layout(columns: &[(LogQuantity, Option<&str>)]) -> Layout {
        Layout {
            encoding: Encoding::Utf8,
            delimiter: Delimiter::Comma,
            decimal: DecimalMark::Point,
            first_line: 2,
            time: TimeColumn {
                form: TimeForm::Seconds,
                column: Some(1),
                date_column: None,
                date_order: None,
                interval_s: None,
            },
            columns: columns
                .iter()
                .zip(2..)
                .map(|((quantity, port), column)| LogColumn {
                    column,
                    quantity: *quantity,
                    port: port.map(str::to_owned),
                    factor: None,
                })
                .collect(),
        }
    }

    fn draft() -> Fields {
        [
            ("unit.ports[0].label", "C1"),
            ("runs[0].name", "115 V"),
            ("runs[0].points[0].load_percent", "100"),
            ("runs[0].points[1].load_percent", "50"),
        ]
        .iter()
        .map(|(path, text)| (path.to_string(), text.to_string()))
        .collect()
    }

    const SECTION: Section = Section {
        from_s: Some(600.0),
        to_s: None,
    };

    #[test]
    fn a_section_lists_its_log_once_however_often_it_is_cut() {
        let (file, layout) = (
            file(&"a".repeat(64)),
            layout(&[(LogQuantity::InputPowerW, None)]),
        );
        let mut fields = draft();
        let mut cut = |place, section| {
            apply(&mut fields, &file, &layout, place, section, "").expect("there is such a place")
        };
        assert_eq!(cut(Place::NoLoad(0), SECTION), "runs[0].no_load.log");
        assert_eq!(
            cut(Place::Point(0, 1), Section::default()),
            "runs[0].points[1].log"
        );
        assert_eq!(fields.rows("logs"), 1);
        assert_eq!(fields.text("logs[0].size_bytes"), "1073741824");
        assert_eq!(fields.text("logs[0].layout.time.form"), "seconds");
        assert_eq!(fields.text("runs[0].no_load.log"), "noload.csv");
        assert_eq!(fields.text("runs[0].no_load.log_from_s"), "600");
        assert_eq!(fields.text("runs[0].no_load.log_to_s"), "");
        assert!(fields.iter().all(|(path, _)| form::is_field(path)));
    }

    #[test]
    fn a_log_that_is_read_in_another_way_now_is_listed_so() {
        let file = file(&"a".repeat(64));
        let mut fields = draft();
        let two = layout(&[
            (LogQuantity::InputPowerW, None),
            (LogQuantity::AmbientC, None),
        ]);
        apply(&mut fields, &file, &two, Place::NoLoad(0), SECTION, "").unwrap();
        let one = layout(&[(LogQuantity::InputVoltageV, None)]);
        apply(&mut fields, &file, &one, Place::NoLoad(0), SECTION, "").unwrap();
        assert_eq!(fields.rows("logs[0].layout.columns"), 1);
        assert_eq!(
            fields.text("logs[0].layout.columns[0].quantity"),
            "input_voltage_v"
        );
    }

    #[test]
    fn another_log_of_the_same_name_gets_a_name_of_its_own() {
        let layout = layout(&[(LogQuantity::InputPowerW, None)]);
        let mut fields = draft();
        for sha256 in ["a", "b", "c"] {
            apply(
                &mut fields,
                &file(sha256),
                &layout,
                Place::NoLoad(0),
                SECTION,
                "",
            )
            .unwrap();
        }
        let names = crate::web::entry::bench_form::log_names(&fields);
        assert_eq!(names, ["noload.csv", "noload (2).csv", "noload (3).csv"]);
        assert_eq!(fields.text("runs[0].no_load.log"), "noload (3).csv");
    }

    #[test]
    fn an_output_without_a_port_belongs_to_the_only_one_and_to_none_of_several() {
        let layout = layout(&[
            (LogQuantity::InputPowerW, None),
            (LogQuantity::OutputVoltageV, None),
        ]);
        let mut fields = draft();
        let point = Place::Point(0, 0);
        apply(&mut fields, &file("a"), &layout, point, SECTION, "").unwrap();
        assert_eq!(fields.text("logs[0].layout.columns[1].port"), "C1");
        assert!(!fields.has("logs[0].layout.columns[0].port"));
        let mut fields = draft();
        fields.set("unit.ports[1].label", "A1");
        let before = fields.clone();
        let why = apply(&mut fields, &file("a"), &layout, point, SECTION, "").unwrap_err();
        assert!(why.contains("one of C1, A1"), "{why}");
        assert_eq!(fields, before);
    }

    #[test]
    fn the_same_load_of_a_log_cut_again_replaces_its_waveform() {
        let layout = layout(&[(LogQuantity::LineVoltageSampleV, None)]);
        let mut fields = draft();
        let mut cut = |load: &str| {
            apply(
                &mut fields,
                &file("a"),
                &layout,
                Place::Waveform(0),
                SECTION,
                load,
            )
        };
        assert_eq!(cut("100 %").unwrap(), "runs[0].waveforms[0].log");
        assert_eq!(cut("0").unwrap(), "runs[0].waveforms[1].log");
        assert_eq!(cut("100").unwrap(), "runs[0].waveforms[0].log");
        assert!(cut("").unwrap_err().contains("expected a percentage"));
        assert!(cut("200").is_err());
        assert_eq!(fields.rows("runs[0].waveforms"), 2);
    }

    #[test]
    fn a_place_that_is_gone_or_no_place_is_refused() {
        let layout = layout(&[(LogQuantity::InputPowerW, None)]);
        let mut fields = draft();
        let place = Place::Point(0, 7);
        assert!(apply(&mut fields, &file("a"), &layout, place, SECTION, "").is_err());
        for word in [
            "",
            "x",
            "0",
            "0:point",
            "0:no_load:1",
            "0:point:1:2",
            "-1:no_load",
        ] {
            assert_eq!(Place::from_word(word), None, "{word}");
        }
        for place in [Place::NoLoad(3), Place::Point(1, 2), Place::Waveform(0)] {
            assert_eq!(Place::from_word(&place.word()), Some(place));
        }
    }

    #[test]
    fn times_are_seconds_or_a_clock_and_their_order_is_checked() {
        let section = |from: &str, to: &str| {
            let asked = Asked {
                from: from.to_owned(),
                to: to.to_owned(),
                ..Asked::default()
            };
            asked.section()
        };
        assert_eq!(
            section("0:01:30", "5 min"),
            Err("To: \"5 min\"; expected a time such as 90, 90 s or 0:01:30.".to_owned())
        );
        let both = section("0:01:30", "200").unwrap();
        assert_eq!((both.from_s, both.to_s), (Some(90.0), Some(200.0)));
        assert!(section("200", "90").is_err());
        assert!(section("-5", "").is_err());
        assert_eq!(section("", " "), Ok(Section::default()));
    }
}
