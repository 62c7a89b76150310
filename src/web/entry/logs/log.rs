//! `/desk/logs/{sha256}`: how one log is read, shown for confirmation and open to correction; what
//! reading it gave; and the section that is cut from it ([`super::cut`]).

use super::{
    DraftLink, PublishedBy,
    cut::{self, CutView},
    steps,
};
use crate::web::filters;
use crate::{
    bench::{
        record::{DecimalMark, Delimiter, Encoding, Layout, TimeColumn, TimeForm},
        schema,
    },
    intake::logs::{self, Summary},
    log::{self, Detected, Section},
    storage::{
        audit::{self, Change},
        logs::{self as stored, LogFile, SavedLayout},
    },
    web::{
        Site,
        auth::{Editor, Signed},
        chrome::Chrome,
        entry::on_to,
        error::Error,
        extract::{Form, Pairs, Path, Visit},
        format,
        log_readings::{self, Answer, Wanted},
        pages, urls,
    },
};
use askama::Template;
use axum::{
    Router,
    http::StatusCode,
    response::Response,
    routing::{get, post},
};
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};

pub fn routes() -> Router<Site> {
    Router::new()
        .route("/desk/logs/{sha256}", get(show))
        .route("/desk/logs/{sha256}/layout", post(change))
        .route("/desk/logs/{sha256}/save-layout", post(save_layout))
}

#[derive(Template)]
#[template(path = "entry/logs_log.html")]
struct LogPage {
    chrome: Chrome,
    csrf: String,
    url: String,
    name: String,
    size: String,
    when: String,
    sha256: String,
    draft: Option<DraftLink>,
    published: Option<PublishedBy>,
    notice: Option<String>,
    state: State,
    mapping: Result<Mapping, String>,
    readout: Option<Readout>,
    cut: Option<CutView>,
}

enum State {
    Reading(u64),
    /// It is known how, but it was not read to its end.
    NotRead,
    /// Nobody knows how yet.
    Unknown,
    Fault(String),
    Read,
}

/// What reading the whole log gave, ready to show.
struct Readout {
    rows: String,
    bad: Option<BadView>,
    facts: Vec<(&'static str, String)>,
    columns: Vec<ColumnLine>,
    gaps: Vec<String>,
}

struct BadView {
    count: String,
    share: String,
    first: Vec<(String, String, String)>,
}

/// Mean and extremes of a quantity.
pub struct ColumnLine {
    pub name: String,
    pub mean: String,
    pub min: String,
    pub max: String,
}

/// How the log is read, as a form.
struct Mapping {
    /// Nothing is confirmed by a tester yet, or something is wrong.
    open: bool,
    problems: Vec<String>,
    found: Vec<String>,
    choices: Vec<Choice>,
    numbers: Vec<NumberField>,
    columns: Vec<ColumnView>,
    preamble: Vec<String>,
    head: Vec<String>,
    rows: Vec<Vec<String>>,
}

struct Choice {
    name: &'static str,
    label: &'static str,
    hint: &'static str,
    /// (word, shown, chosen)
    options: Vec<(String, String, bool)>,
}

struct NumberField {
    name: &'static str,
    label: &'static str,
    hint: &'static str,
    value: String,
}

struct ColumnView {
    number: u32,
    /// "time" or "date", where that is what the column holds.
    role: &'static str,
    heading: String,
    samples: String,
    quantities: Vec<(String, String, bool)>,
    port: String,
    factor: String,
}

async fn show(
    visit: Visit,
    signed: Editor,
    Path(sha256): Path<String>,
    query: Pairs,
) -> Result<Response, Error> {
    let file = super::find(&visit.site, &sha256).await?;
    let page = page(&visit, &signed, file, &query, None).await?;
    pages::private(&page)
}

/// A form about the layout as it was sent, and what is wrong with it.
struct Refused {
    typed: Typed,
    /// Under which the columns are shown.
    layout: Option<Layout>,
    problems: Vec<String>,
}

async fn page(
    visit: &Visit,
    signed: &Signed,
    file: LogFile,
    query: &Pairs,
    refused: Option<Refused>,
) -> Result<LogPage, Error> {
    let site = &visit.site;
    let layout = super::layout_of(&file);
    let summary: Option<Summary> = file
        .summary
        .as_deref()
        .and_then(|text| serde_json::from_str(text).ok());
    let reading = site.log_readings.progress(&file.sha256);
    let state = match (&summary, reading, &file.fault, &layout) {
        (Some(_), ..) => State::Read,
        (None, Some(progress), ..) => State::Reading(progress.percent()),
        (None, None, Some(fault), _) => State::Fault(fault.clone()),
        (None, None, None, Some(layout)) if !layout.columns.is_empty() => State::NotRead,
        (None, None, None, _) => State::Unknown,
    };
    let seen = seen_in(
        site,
        &file.sha256,
        match &refused {
            Some(refused) => refused.layout.clone(),
            None => layout.clone(),
        },
    )
    .await?;
    let settled = matches!(state, State::Read);
    let mapping = seen.map(|seen| {
        let typed = match (&refused, &layout) {
            (Some(refused), _) => refused.typed.clone(),
            (None, Some(layout)) => Typed::of(layout),
            (None, None) => Typed::of(&seen.layout),
        };
        let problems = refused.map_or(Vec::new(), |refused| refused.problems);
        Mapping::of(&seen, &typed, problems, !settled)
    });
    let readout = summary.as_ref().map(Readout::of);
    let cut = match (&summary, &layout) {
        (Some(summary), Some(layout)) => {
            Some(cut::view(visit, signed, &file, layout, summary, query).await?)
        }
        _ => None,
    };
    let published = stored::published_by(&mut *site.db.read().await?, &file.sha256).await?;
    let mut chrome = super::super::chrome(visit, signed, file.name.clone())
        .style("chart.css")
        .script("logs.js");
    chrome.title = format!("Log {}", file.name);
    Ok(LogPage {
        chrome,
        csrf: signed.csrf.clone(),
        url: urls::desk_log(&file.sha256),
        size: format::bytes(file.size_bytes),
        when: format::moment(file.created_at),
        draft: super::draft_asked_for(site, signed, query).await?,
        published: published.map(|slug| PublishedBy {
            url: urls::unit(&slug),
            slug,
        }),
        notice: query.last("saved-layout").map(|name| {
            format!("Read by the saved layout “{name}”, because its headings are the same.")
        }),
        name: file.name,
        sha256: file.sha256,
        state,
        mapping,
        readout,
        cut,
    })
}

/// What the beginning of the log shows, under a layout if one is known.
async fn seen_in(
    site: &Site,
    sha256: &str,
    layout: Option<Layout>,
) -> Result<Result<Detected, String>, Error> {
    let (files, sha256) = (site.db.logs().clone(), sha256.to_owned());
    tokio::task::spawn_blocking(move || {
        let head = logs::head(&files, &sha256)?;
        let seen = match &layout {
            Some(layout) => log::look(&head, layout),
            // What cannot be guessed is shown as plain cells, for somebody who knows better.
            None => log::detect(&head).or_else(|why| log::look(&head, &plain()).map_err(|_| why)),
        };
        seen.map_err(|cause| cause.to_string())
    })
    .await
    .map_err(Error::internal)
}

/// The layout that the form begins with where nothing could be guessed.
fn plain() -> Layout {
    Layout {
        encoding: Encoding::Utf8,
        delimiter: Delimiter::Comma,
        decimal: DecimalMark::Point,
        first_line: 1,
        time: TimeColumn {
            form: TimeForm::Seconds,
            column: Some(1),
            date_column: None,
            date_order: None,
            interval_s: None,
        },
        columns: Vec::new(),
    }
}

/// Reads a whole log by a layout, which is noted first. A long one is read on after this returns.
pub async fn read_whole(
    site: &Site,
    signed: &Signed,
    file: &LogFile,
    layout: Layout,
) -> Result<(), Error> {
    let text = serde_json::to_string(&layout).map_err(Error::internal)?;
    let mut tx = site.db.write().await?;
    stored::set_layout(&mut tx, &file.sha256, Some(&text), None, None).await?;
    let mut change = Change::new("log.layout-set", format!("log {}", file.sha256)).after(&text);
    if let Some(before) = &file.layout {
        change = change.before(before);
    }
    audit::write(&mut tx, &signed.who(), change, site.clock.now()).await?;
    tx.commit().await?;
    let wanted = Wanted {
        sha256: file.sha256.clone(),
        layout,
        section: Section::default(),
    };
    if let Answer::Found(found) = log_readings::read(site, wanted.clone(), file.size_bytes).await? {
        log_readings::keep(site, &wanted, &found).await?;
    }
    Ok(())
}

impl Readout {
    fn of(summary: &Summary) -> Readout {
        let all = (summary.rows + summary.bad_rows).max(1);
        let mut facts = vec![("Length", format::duration(summary.duration_s))];
        if let Some(start) = &summary.starts_at {
            facts.push(("Begins", start.clone()));
        }
        facts.push(("Between rows", format::duration(summary.interval_s)));
        Readout {
            rows: format::count(summary.rows),
            bad: (summary.bad_rows > 0).then(|| BadView {
                count: format::count(summary.bad_rows),
                share: format::significant(summary.bad_rows as f64 / all as f64 * 100.0, 2),
                first: summary
                    .bad_first
                    .iter()
                    .map(|bad| (bad.line.to_string(), bad.why.clone(), bad.text.clone()))
                    .collect(),
            }),
            facts,
            columns: column_lines(summary),
            gaps: summary
                .gaps_s
                .iter()
                .map(|(from, to)| {
                    format!(
                        "from {} s to {} s ({})",
                        format::plain(*from),
                        format::plain(*to),
                        format::duration(to - from)
                    )
                })
                .collect(),
        }
    }
}

/// A quantity with its port: "output voltage C1".
pub fn quantity_name(quantity: crate::bench::record::LogQuantity, port: Option<&str>) -> String {
    let (name, _) = format::log_quantity(quantity);
    match port {
        Some(port) => format!("{name} {port}"),
        None => name.to_owned(),
    }
}

pub fn column_lines(summary: &Summary) -> Vec<ColumnLine> {
    summary
        .columns
        .iter()
        .map(|column| {
            let (_, unit) = format::log_quantity(column.quantity);
            let told = |value: f64| format::with_prefix(value, unit, 4);
            ColumnLine {
                name: quantity_name(column.quantity, column.port.as_deref()),
                mean: told(column.mean),
                min: told(column.min),
                max: told(column.max),
            }
        })
        .collect()
}

// ---- the layout as a form ----

/// The layout form's texts by field name.
#[derive(Debug, Clone, Default, PartialEq)]
struct Typed(BTreeMap<String, String>);

impl Typed {
    fn of(layout: &Layout) -> Typed {
        let mut typed = Typed::default();
        let value = serde_json::to_value(layout).unwrap_or_default();
        for (name, pointer) in FIELDS {
            if let Some(found) = value.pointer(pointer) {
                typed.set(name, &as_text(found));
            }
        }
        for column in &layout.columns {
            let n = column.column;
            let word = serde_json::to_value(column.quantity).unwrap_or_default();
            typed.set(&format!("quantity-{n}"), &as_text(&word));
            typed.set(&format!("port-{n}"), column.port.as_deref().unwrap_or(""));
            let factor = column.factor.map_or(String::new(), |f| f.to_string());
            typed.set(&format!("factor-{n}"), &factor);
        }
        typed
    }

    fn set(&mut self, name: &str, text: &str) {
        self.0.insert(name.to_owned(), text.to_owned());
    }

    fn text(&self, name: &str) -> &str {
        self.0.get(name).map_or("", |text| text.trim())
    }

    /// The same without its columns.
    fn frame(&self) -> BTreeMap<&str, &str> {
        FIELDS
            .iter()
            .map(|(name, _)| (*name, self.text(name)))
            .collect()
    }

    /// # Errors
    /// What is wrong, in words, for each field.
    fn layout(&self) -> Result<Layout, Vec<String>> {
        let mut problems = Vec::new();
        let mut number = |name: &str, label: &str, whole: bool| -> Value {
            let text = self.text(name).replace(',', ".");
            if text.is_empty() {
                return Value::Null;
            }
            match text.parse::<f64>() {
                Ok(value) if whole && value >= 1.0 && value.fract() == 0.0 && value < 1e9 => {
                    json!(value as u64)
                }
                Ok(value) if !whole && value.is_finite() => json!(value),
                _ => {
                    let expected = if whole {
                        "a whole number from 1"
                    } else {
                        "a number such as 0.001"
                    };
                    problems.push(format!("{label}: {text:?}; expected {expected}."));
                    Value::Null
                }
            }
        };
        let mut columns = Vec::new();
        let numbered: Vec<u32> = self
            .0
            .keys()
            .filter_map(|name| name.strip_prefix("quantity-")?.parse().ok())
            .collect();
        let mut numbered = numbered;
        numbered.sort_unstable();
        for n in numbered {
            let quantity = self.text(&format!("quantity-{n}"));
            if quantity.is_empty() {
                continue;
            }
            let mut column = json!({"column": n, "quantity": quantity});
            let port = self.text(&format!("port-{n}"));
            if !port.is_empty() && quantity.starts_with("output_") {
                column["port"] = json!(port);
            }
            let factor = number(
                &format!("factor-{n}"),
                &format!("Factor of column {n}"),
                false,
            );
            if !factor.is_null() && factor != json!(1.0) {
                column["factor"] = factor;
            }
            columns.push(column);
        }
        let index = self.text("time_form") == "index";
        let mut time = json!({"form": self.text("time_form")});
        let fields = [
            ("time_column", "column", "Time column", true, !index),
            ("date_column", "date_column", "Date column", true, !index),
            ("interval_s", "interval_s", "Interval", false, index),
        ];
        for (name, key, label, whole, matters) in fields {
            let value = number(name, label, whole);
            if matters && !value.is_null() {
                time[key] = value;
            }
        }
        if !self.text("date_order").is_empty() && !index {
            time["date_order"] = json!(self.text("date_order"));
        }
        let first_line = number("first_line", "First data line", true);
        let value = json!({
            "encoding": self.text("encoding"),
            "delimiter": self.text("delimiter"),
            "decimal": self.text("decimal"),
            "first_line": if first_line.is_null() { json!(1) } else { first_line },
            "time": time,
            "columns": columns,
        });
        if columns.is_empty() {
            problems.push("Say of at least one column which quantity it holds.".to_owned());
        }
        if index && time.get("interval_s").is_none() {
            problems.push(
                "Without a time column the interval between rows must be given, in seconds."
                    .to_owned(),
            );
        }
        if !index && time.get("column").is_none() {
            problems.push("Say which column holds the time.".to_owned());
        }
        for (i, column) in columns.iter().enumerate() {
            let same = |other: &&Value| {
                other["quantity"] == column["quantity"] && other.get("port") == column.get("port")
            };
            if let Some(earlier) = columns[..i].iter().find(same) {
                problems.push(format!(
                    "Columns {} and {} are both called {}; only one can be.",
                    earlier["column"],
                    column["column"],
                    shown(column["quantity"].as_str().unwrap_or(""))
                ));
            }
        }
        if !problems.is_empty() {
            return Err(problems);
        }
        serde_json::from_value(value)
            .map_err(|cause| vec![format!("The layout cannot be read: {cause}.")])
    }
}

/// Field names of the form, and where their values stand in a layout.
const FIELDS: [(&str, &str); 9] = [
    ("encoding", "/encoding"),
    ("delimiter", "/delimiter"),
    ("decimal", "/decimal"),
    ("first_line", "/first_line"),
    ("time_form", "/time/form"),
    ("time_column", "/time/column"),
    ("date_column", "/time/date_column"),
    ("date_order", "/time/date_order"),
    ("interval_s", "/time/interval_s"),
];

fn as_text(value: &Value) -> String {
    match value {
        Value::String(text) => text.clone(),
        Value::Null => String::new(),
        other => other.to_string(),
    }
}

impl Mapping {
    fn of(seen: &Detected, typed: &Typed, problems: Vec<String>, open: bool) -> Mapping {
        let choice = |name: &'static str, label, hint, path: &[&str]| Choice {
            name,
            label,
            hint,
            options: options(words_at(path), typed.text(name), name == "date_order"),
        };
        let samples = |number: u32| {
            seen.sample_rows
                .iter()
                .filter_map(|row| row.get(number as usize - 1))
                .take(3)
                .cloned()
                .collect::<Vec<_>>()
                .join(" · ")
        };
        let columns = seen
            .columns
            .iter()
            .map(|column| {
                let n = column.number;
                let unit = column.unit.as_deref().map(|unit| format!(" ({unit})"));
                let heading = column.heading.clone().unwrap_or_default();
                let is = |name: &str| typed.text(name) == n.to_string();
                ColumnView {
                    number: n,
                    role: if typed.text("time_form") == "index" {
                        ""
                    } else if is("time_column") {
                        "time"
                    } else if is("date_column") {
                        "date"
                    } else {
                        ""
                    },
                    heading: format!("{heading}{}", unit.unwrap_or_default())
                        .trim()
                        .to_owned(),
                    samples: samples(n),
                    quantities: options(
                        schema::LOG_QUANTITIES,
                        typed.text(&format!("quantity-{n}")),
                        true,
                    ),
                    port: typed.text(&format!("port-{n}")).to_owned(),
                    factor: typed.text(&format!("factor-{n}")).to_owned(),
                }
            })
            .collect();
        let number = |name: &'static str, label, hint| NumberField {
            name,
            label,
            hint,
            value: typed.text(name).to_owned(),
        };
        let mut found = Vec::new();
        if seen.gzip {
            found.push("Compressed with gzip.".to_owned());
        }
        found.extend(seen.notes.iter().cloned());
        Mapping {
            open: open || !problems.is_empty(),
            problems,
            found,
            choices: vec![
                choice("encoding", "Encoding", "", &["encoding"]),
                choice("delimiter", "Between cells", "", &["delimiter"]),
                choice("decimal", "Decimal mark", "", &["decimal"]),
                choice("time_form", "Time is in", "", &["time", "form"]),
                choice(
                    "date_order",
                    "Order of dates",
                    "only for dates that are not year first",
                    &["time", "date_order"],
                ),
            ],
            numbers: vec![
                number("first_line", "First data line", "counted from 1"),
                number("time_column", "Time column", "counted from 1"),
                number("date_column", "Date column", "where the date stands apart"),
                number(
                    "interval_s",
                    "Seconds between rows",
                    "where there is no time column",
                ),
            ],
            columns,
            preamble: seen.preamble.clone(),
            head: seen
                .columns
                .iter()
                .map(|column| match &column.heading {
                    Some(heading) => format!("{}: {heading}", column.number),
                    None => column.number.to_string(),
                })
                .collect(),
            rows: seen.sample_rows.iter().take(8).cloned().collect(),
        }
    }
}

/// The words that the layout's schema allows at a place.
fn words_at(path: &[&str]) -> &'static [&'static str] {
    let mut fields = schema::LAYOUT;
    for key in path {
        match fields
            .iter()
            .find(|field| field.key == *key)
            .map(|f| f.kind)
        {
            Some(schema::Kind::Choice(words)) => return words,
            Some(schema::Kind::Object(inner)) => fields = inner,
            _ => break,
        }
    }
    &[]
}

fn options(words: &[&str], chosen: &str, optional: bool) -> Vec<(String, String, bool)> {
    let none = optional.then(|| (String::new(), "—".to_owned(), chosen.is_empty()));
    none.into_iter()
        .chain(
            words
                .iter()
                .map(|word| ((*word).to_owned(), shown(word), *word == chosen)),
        )
        .collect()
}

/// A word of a layout as people read it.
fn shown(word: &str) -> String {
    let quantity: Option<crate::bench::record::LogQuantity> =
        serde_json::from_value(json!(word)).ok();
    if let Some(quantity) = quantity {
        let (name, unit) = format::log_quantity(quantity);
        return if unit.is_empty() {
            name.to_owned()
        } else {
            format!("{name}, {unit}")
        };
    }
    match word {
        "utf-8" => "UTF-8",
        "utf-16le" => "UTF-16, little-endian",
        "utf-16be" => "UTF-16, big-endian",
        "latin-1" => "Latin-1",
        "comma" => "comma",
        "pipe" => "vertical bar",
        "spaces" => "spaces",
        "clock" => "clock time",
        "date-time" => "date and time",
        "index" => "no column: rows at even intervals",
        "year-first" => "year first",
        "day-first" => "day first",
        "month-first" => "month first",
        other => other,
    }
    .to_owned()
}

/// The tester's idea of how the log is read: try it.
async fn change(
    visit: Visit,
    signed: Editor,
    Path(sha256): Path<String>,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Response, Error> {
    let site = &visit.site;
    let mut typed = Typed::default();
    let (mut csrf, mut action, mut draft) = (String::new(), String::new(), String::new());
    for (name, value) in pairs {
        match name.as_str() {
            "csrf" => csrf = value,
            "action" => action = value,
            "draft" => draft = value,
            _ => typed.set(&name, &value),
        }
    }
    signed.check(&csrf)?;
    let file = super::find(site, &sha256).await?;
    let mut query = urls::Query::new();
    if !draft.is_empty() {
        query.push("draft", &draft);
    }
    let query_pairs = Pairs(vec![("draft".to_owned(), draft)]);
    if site.log_readings.progress(&sha256).is_some() {
        return Err(Error::Conflict(
            "The log is being read just now, so nothing was changed. Wait until that is done."
                .into(),
        ));
    }
    if action == "find" {
        let seen = seen_in(site, &sha256, None).await?;
        return match seen {
            Ok(seen) if !seen.layout.columns.is_empty() => {
                read_whole(site, &signed, &file, seen.layout).await?;
                on_to(&query.on(&urls::desk_log(&sha256)))
            }
            Ok(seen) => {
                let refused = Refused {
                    typed: Typed::of(&seen.layout),
                    layout: Some(seen.layout),
                    problems: vec![
                        "No column was recognised: say which holds which quantity.".into(),
                    ],
                };
                let page = page(&visit, &signed, file, &query_pairs, Some(refused)).await?;
                super::with_status(StatusCode::UNPROCESSABLE_ENTITY, &page)
            }
            Err(why) => Err(Error::Invalid(format!("It was not found out: {why}."))),
        };
    }
    let layout = match typed.layout() {
        Ok(layout) => layout,
        Err(problems) => {
            let refused = Refused {
                layout: super::layout_of(&file),
                typed,
                problems,
            };
            let page = page(&visit, &signed, file, &query_pairs, Some(refused)).await?;
            return super::with_status(StatusCode::UNPROCESSABLE_ENTITY, &page);
        }
    };
    // Cells that are cut in another way are other columns: their quantities are chosen anew.
    if let Some(former) = super::layout_of(&file)
        && Typed::of(&former).frame() != typed.frame()
        && let Some((seen, typed)) = cut_anew(site, &sha256, &former, &layout, &typed).await?
    {
        let refused = Refused {
            layout: Some(seen),
            typed,
            problems: vec![
                "The rows fall into other columns now. Check what each of them holds, then press “Read it like this” again.".into(),
            ],
        };
        let page = page(&visit, &signed, file, &query_pairs, Some(refused)).await?;
        return super::with_status(StatusCode::UNPROCESSABLE_ENTITY, &page);
    }
    read_whole(site, &signed, &file, layout).await?;
    on_to(&query.on(&urls::desk_log(&sha256)))
}

/// The layout with the columns that are guessed under it, if they are others than under the former
/// one.
async fn cut_anew(
    site: &Site,
    sha256: &str,
    former: &Layout,
    layout: &Layout,
    typed: &Typed,
) -> Result<Option<(Layout, Typed)>, Error> {
    let before = seen_in(site, sha256, Some(former.clone())).await?;
    let after = seen_in(site, sha256, Some(layout.clone())).await?;
    let (Ok(before), Ok(after)) = (before, after) else {
        return Ok(None);
    };
    let names = |seen: &Detected| -> Vec<Option<String>> {
        seen.columns.iter().map(|c| c.heading.clone()).collect()
    };
    // Whoever saw these columns on the form chose among them.
    let shown: BTreeSet<String> = after
        .columns
        .iter()
        .map(|column| format!("quantity-{}", column.number))
        .collect();
    let on_form = typed
        .0
        .keys()
        .filter(|name| name.starts_with("quantity-"))
        .eq(shown.iter());
    if names(&before) == names(&after) || on_form {
        return Ok(None);
    }
    let mut guessed = layout.clone();
    guessed.columns = after
        .columns
        .iter()
        .filter_map(|c| c.guess.clone())
        .collect();
    let typed = Typed::of(&guessed);
    Ok(Some((guessed, typed)))
}

/// Saves how this log is read, for the next one with the same headings.
async fn save_layout(
    visit: Visit,
    signed: Editor,
    Path(sha256): Path<String>,
    Form(form): Form<SaveLayout>,
) -> Result<Response, Error> {
    signed.check(&form.csrf)?;
    let site = &visit.site;
    let name = form.name.trim();
    if !(1..=80).contains(&name.chars().count()) || name.chars().any(char::is_control) {
        return Err(Error::Invalid(
            "Nothing was saved: give the layout a name of 1 to 80 characters.".into(),
        ));
    }
    let file = super::find(site, &sha256).await?;
    let Some(layout) = super::layout_of(&file) else {
        return Err(Error::Invalid(
            "Nothing was saved: it is not known yet how this log is read.".into(),
        ));
    };
    let seen = seen_in(site, &sha256, Some(layout)).await?;
    let seen = seen.map_err(|why| Error::Invalid(format!("Nothing was saved: {why}.")))?;
    if seen.columns.iter().all(|column| column.heading.is_none()) {
        return Err(Error::Invalid(
            "Nothing was saved: this log has no headings by which the next one could be known."
                .into(),
        ));
    }
    let saved = SavedLayout {
        name: name.to_owned(),
        headings: logs::headings(&seen),
        layout: file.layout.unwrap_or_default(),
    };
    let mut tx = site.db.write().await?;
    let now = site.clock.now();
    stored::save_layout(&mut tx, &saved, now).await?;
    let change = Change::new("layout.saved", format!("layout {name}")).after(&saved.layout);
    audit::write(&mut tx, &signed.who(), change, now).await?;
    tx.commit().await?;
    on_to(urls::DESK_LOG_LAYOUTS)
}

#[derive(serde::Deserialize)]
struct SaveLayout {
    #[serde(default)]
    csrf: String,
    #[serde(default)]
    name: String,
}
