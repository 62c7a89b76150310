//! `/desk/queue`: what is to be tested, in the tester's order; `/desk/queue/{id}`: one candidate
//! with what is known of its label; and what readers suggest.
//!
//! Before anything is added it is held against everything tested, drafted and queued; what looks
//! alike is shown, and the tester decides.

use super::{bench_form, draft, on_to};
use crate::web::filters;
use crate::{
    bench::{decode::text_fits, schema::Kind},
    intake::form::Fields,
    storage::{
        self,
        audit::{self, Change},
        candidates::{self, Candidate, Entry, State},
        drafts,
        suggestions::{self, Decision, Suggestion},
    },
    web::{
        Site,
        alike::{self, Alike, state_words},
        auth::{self, Editor, Signed},
        chrome::Chrome,
        error::Error,
        extract::{Form, Pairs, Path, Visit},
        format, pages, urls,
    },
};
use askama::Template;
use axum::{
    Router,
    http::StatusCode,
    response::{IntoResponse, Response},
    routing::{get, post},
};

pub fn routes() -> Router<Site> {
    Router::new()
        .route(urls::DESK_QUEUE, get(show).post(add))
        .route(urls::DESK_QUEUE_ORDER, post(order))
        .route(urls::DESK_QUEUE_ALIKE, get(show_alike))
        .route("/desk/queue/{id}", get(show_one).post(act))
        .route("/desk/queue/{id}/edit", post(edit))
        .route(urls::DESK_SUGGESTIONS, post(decline_all))
        .route("/desk/queue/suggestion/{id}", post(decide))
}

/// The states in the order in which they stand on the page: what is nearest to done first.
const SHOWN: [State; 7] = [
    State::OnTheBench,
    State::Measured,
    State::Here,
    State::Ordered,
    State::Wanted,
    State::Published,
    State::Skipped,
];

/// So many suggestions are shown at once.
const MOST_SUGGESTIONS: usize = 30;

#[derive(Template)]
#[template(path = "entry/queue.html")]
struct QueuePage {
    chrome: Chrome,
    csrf: String,
    /// What stands in the line for a new candidate.
    typed: Typed,
    problems: Vec<FieldProblem>,
    /// What the typed one may be the same as; it was not added yet.
    alike: Vec<Alike>,
    /// The open states, then the closed ones.
    groups: Vec<Group>,
    /// Those that come first of all that wait.
    suggestions: Vec<SuggestionView>,
    waiting: usize,
    /// Name and place of the one that was added just now.
    added: Option<(String, String)>,
    total: usize,
}

/// A line of the form as typed.
#[derive(Default)]
struct Typed {
    maker: String,
    model: String,
    link: String,
    price: String,
    planned_on: String,
    public: bool,
    note: String,
}

struct FieldProblem {
    field: &'static str,
    text: String,
}

struct Group {
    title: &'static str,
    id: &'static str,
    open: bool,
    lines: Vec<Line>,
}

/// A candidate in the list.
struct Line {
    id: i64,
    name: String,
    url: String,
    state: State,
    price: Option<String>,
    planned: Option<String>,
    link: Option<String>,
    public: bool,
    /// Of the asking operator's draft.
    draft_url: Option<String>,
    /// Another operator, whose draft it is.
    draft_of: Option<String>,
    unit_url: Option<String>,
    first: bool,
    last: bool,
}

impl Line {
    fn can_begin(&self) -> bool {
        self.draft_url.is_none() && self.draft_of.is_none() && self.unit_url.is_none()
    }

    fn words(&self) -> &'static str {
        state_words(self.state)
    }

    /// State ids with their words, for the choice.
    fn states(&self) -> Vec<(&'static str, &'static str, bool)> {
        State::ALL
            .into_iter()
            .map(|state| (state.id(), state_words(state), state == self.state))
            .collect()
    }
}

struct SuggestionView {
    url: String,
    name: String,
    link: Option<String>,
    why: String,
    times: i64,
    when: String,
    alike: Vec<Alike>,
}

/// A field of the line in words.
pub fn field_words(field: &str) -> &'static str {
    match field {
        "maker" => "Maker",
        "model" => "Model",
        "link" => "Link",
        "price" => "Price",
        "planned_on" => "Planned for",
        _ => "Note",
    }
}

fn group_title(state: State) -> &'static str {
    match state {
        State::Wanted => "Wanted",
        State::Ordered => "Ordered",
        State::Here => "Here",
        State::OnTheBench => "On the bench",
        State::Measured => "Measured",
        State::Published => "Published",
        State::Skipped => "Skipped",
    }
}

async fn show(visit: Visit, signed: Editor, query: Pairs) -> Result<Response, Error> {
    let mut page = page(&visit, &signed, Typed::default()).await?;
    let added = query.last("added").and_then(|id| id.parse::<i64>().ok());
    page.added = added.and_then(|id| {
        let mut lines = page.groups.iter().flat_map(|group| &group.lines);
        let line = lines.find(|line| line.id == id)?;
        Some((line.name.clone(), format!("#c{id}")))
    });
    pages::private(&page)
}

async fn page(visit: &Visit, signed: &Signed, typed: Typed) -> Result<QueuePage, Error> {
    let mut connection = visit.site.db.read().await?;
    let all = candidates::list(&mut connection).await?;
    let drafts = drafts::identities(&mut connection).await?;
    let suggested = suggestions::undecided(&mut connection).await?;
    drop(connection);
    let waiting = suggested.len();
    let public = visit.site.public();
    let groups = SHOWN.into_iter().map(|state| Group {
        title: group_title(state),
        id: state.id(),
        open: state.is_open(),
        lines: lines_of(&all, state, &drafts, signed),
    });
    let view = |suggestion: Suggestion| {
        let (maker, model) = (&suggestion.maker, &suggestion.model);
        let mut alike = alike::tested(&public, maker, model);
        alike.extend(alike::queued(&all, None, maker, model));
        SuggestionView {
            url: urls::desk_suggestion(suggestion.id),
            name: format!("{maker} {model}"),
            times: suggestion.times,
            when: format::moment(suggestion.created_at),
            alike,
            link: suggestion.link,
            why: suggestion.why,
        }
    };
    Ok(QueuePage {
        chrome: super::chrome(visit, signed, "Queue")
            .style("queue.css")
            .script("queue.js"),
        csrf: signed.csrf.clone(),
        typed,
        problems: Vec::new(),
        alike: Vec::new(),
        total: all.len(),
        groups: groups.filter(|group| !group.lines.is_empty()).collect(),
        suggestions: suggested
            .into_iter()
            .take(MOST_SUGGESTIONS)
            .map(view)
            .collect(),
        waiting,
        added: None,
    })
}

fn lines_of(
    all: &[Candidate],
    state: State,
    drafts: &[drafts::Identity],
    signed: &Signed,
) -> Vec<Line> {
    let other = |id: i64| {
        drafts
            .iter()
            .find(|draft| draft.draft_id == id && draft.operator_id != signed.operator_id)
            .map(|draft| draft.operator_name.clone())
    };
    let fellows: Vec<&Candidate> = all.iter().filter(|one| one.state == state).collect();
    let last = fellows.len().saturating_sub(1);
    fellows
        .into_iter()
        .enumerate()
        .map(|(at, one)| Line {
            id: one.id,
            name: name_of(&one.entry),
            url: urls::desk_candidate(one.id),
            state,
            price: price_text(&one.entry),
            planned: one.entry.planned_on.as_deref().map(format::date),
            link: one.entry.link.clone(),
            public: one.entry.public,
            draft_of: one.draft_id.and_then(other),
            draft_url: one
                .draft_id
                .filter(|id| other(*id).is_none())
                .map(urls::desk_draft),
            unit_url: one.slug.as_deref().map(urls::unit),
            first: at == 0,
            last: at == last,
        })
        .collect()
}

fn name_of(entry: &Entry) -> String {
    format!("{} {}", entry.maker, entry.model)
}

fn price_text(entry: &Entry) -> Option<String> {
    let (amount, currency) = entry.price.as_ref()?;
    Some(format::price(amount, currency))
}

// ---- adding ----

/// The last value of a field as sent, trimmed.
fn sent<'a>(pairs: &'a [(String, String)], name: &str) -> &'a str {
    pairs
        .iter()
        .rfind(|(key, _)| key == name)
        .map_or("", |(_, value)| value.trim())
}

impl Typed {
    fn read(pairs: &[(String, String)]) -> Typed {
        let text = |name| sent(pairs, name).to_owned();
        Typed {
            maker: text("maker"),
            model: text("model"),
            link: text("link"),
            price: text("price"),
            planned_on: text("planned_on"),
            public: sent(pairs, "public") == "yes",
            note: text("note"),
        }
    }

    fn of(entry: &Entry) -> Typed {
        Typed {
            maker: entry.maker.clone(),
            model: entry.model.clone(),
            link: entry.link.clone().unwrap_or_default(),
            price: entry
                .price
                .as_ref()
                .map_or(String::new(), |(amount, currency)| {
                    format!("{amount} {currency}")
                }),
            planned_on: entry.planned_on.clone().unwrap_or_default(),
            public: entry.public,
            note: entry.note.clone(),
        }
    }

    /// # Errors
    /// Everything that is wrong, by field.
    fn checked(&self, label: String) -> Result<Entry, Vec<FieldProblem>> {
        let mut problems = Vec::new();
        let mut check = |field: &'static str, text: &str, kind: &Kind| {
            if let Err(expected) = text_fits(text, kind) {
                let text = format!("“{}”: expected {expected}.", shortened(text));
                problems.push(FieldProblem { field, text });
            }
        };
        check("maker", &self.maker, &Kind::Text(80));
        check("model", &self.model, &Kind::Text(80));
        if !self.link.is_empty() {
            check("link", &self.link, &Kind::Url);
        }
        if !self.planned_on.is_empty() {
            check("planned_on", &self.planned_on, &Kind::Date);
        }
        check("note", &self.note, &Kind::LongText(2000));
        let price = match self.price.is_empty() {
            true => None,
            false => price_of(&self.price).or_else(|| {
                problems.push(FieldProblem {
                    field: "price",
                    text: format!(
                        "“{}”: expected an amount with its currency, such as 24.90 EUR.",
                        shortened(&self.price)
                    ),
                });
                None
            }),
        };
        if !problems.is_empty() {
            return Err(problems);
        }
        let given = |text: &str| (!text.is_empty()).then(|| text.to_owned());
        Ok(Entry {
            maker: self.maker.clone(),
            model: self.model.clone(),
            link: given(&self.link),
            price,
            planned_on: given(&self.planned_on),
            public: self.public,
            note: self.note.clone(),
            label,
        })
    }
}

fn shortened(text: &str) -> String {
    text.chars().take(60).collect()
}

/// "24.90 EUR", "EUR 24,90".
fn price_of(text: &str) -> Option<(String, String)> {
    let mut amount = None;
    let mut currency = None;
    for word in text.split_whitespace() {
        let number = word.replace(',', ".");
        let code = word.to_uppercase();
        if amount.is_none() && text_fits(&number, &Kind::Decimal).is_ok() {
            amount = Some(number);
        } else if currency.is_none() && text_fits(&code, &Kind::Currency).is_ok() {
            currency = Some(code);
        } else {
            return None;
        }
    }
    amount.zip(currency)
}

async fn add(
    visit: Visit,
    signed: Editor,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Response, Error> {
    signed.check(sent(&pairs, "csrf"))?;
    let site = &visit.site;
    let typed = Typed::read(&pairs);
    let entry = match typed.checked("{}".to_owned()) {
        Ok(entry) => entry,
        Err(problems) => {
            let mut page = page(&visit, &signed, typed).await?;
            page.problems = problems;
            return Ok((StatusCode::UNPROCESSABLE_ENTITY, pages::private(&page)?).into_response());
        }
    };
    if sent(&pairs, "action") != "add-anyway" {
        let alike = all_alike(site, &signed, None, &entry.maker, &entry.model).await?;
        if !alike.is_empty() {
            let mut page = page(&visit, &signed, typed).await?;
            page.alike = alike;
            return pages::private(&page);
        }
    }
    let mut tx = site.db.write().await?;
    let uid = auth::new_token();
    let now = site.clock.now();
    let id = candidates::insert(&mut tx, &uid, &entry, State::Wanted, &signed.name, now).await?;
    let change = Change::new("candidate.added", object(id)).after(&text_of(&entry));
    audit::write(&mut tx, &signed.who(), change, now).await?;
    tx.commit().await?;
    site.refresh().await?;
    // Ready for the next one.
    on_to(
        &urls::Query::new()
            .with("added", &id.to_string())
            .on(urls::DESK_QUEUE),
    )
}

/// How a candidate is called in the audit log.
fn object(id: i64) -> String {
    format!("candidate {id}")
}

/// A candidate's entry as one text, for its digest.
fn text_of(entry: &Entry) -> String {
    format!("{entry:?}")
}

/// The list, scrolled to a candidate.
fn at(id: i64) -> String {
    format!("{}#c{id}", urls::DESK_QUEUE)
}

/// Everything tested, drafted and queued that a typed name may mean, but for one candidate and its
/// draft.
async fn all_alike(
    site: &Site,
    signed: &Signed,
    except: Option<&Candidate>,
    maker: &str,
    model: &str,
) -> Result<Vec<Alike>, storage::Error> {
    let mut connection = site.db.read().await?;
    let drafts = drafts::identities(&mut connection).await?;
    let queue = candidates::list(&mut connection).await?;
    drop(connection);
    let draft = except.and_then(|one| one.draft_id);
    let mut alike = alike::tested(&site.public(), maker, model);
    // A draft that is some candidate's record is told of there.
    let own: Vec<drafts::Identity> = drafts
        .into_iter()
        .filter(|draft| !queue.iter().any(|one| one.draft_id == Some(draft.draft_id)))
        .collect();
    alike.extend(alike::drafted(
        &own,
        draft,
        signed.operator_id,
        maker,
        model,
    ));
    alike.extend(alike::queued(
        &queue,
        except.map(|one| one.id),
        maker,
        model,
    ));
    Ok(alike)
}

#[derive(Template)]
#[template(path = "entry/alike.html")]
struct AlikeList {
    alike: Vec<Alike>,
}

/// What is typed so far, held against everything known: asked by the script while one types.
async fn show_alike(visit: Visit, signed: Editor, query: Pairs) -> Result<Response, Error> {
    let (maker, model) = (
        query.last("maker").unwrap_or(""),
        query.last("model").unwrap_or(""),
    );
    let short = |text: &str| text.chars().take(200).collect::<String>();
    let alike = match model.is_empty() {
        true => Vec::new(),
        false => all_alike(&visit.site, &signed, None, &short(maker), &short(model)).await?,
    };
    pages::private(&AlikeList { alike })
}

// ---- one candidate ----

/// Fields of the label that may be known before anything is measured.
const LABEL: [(&str, &str); 5] = [
    ("unit.nameplate.output_power_w", "Output power, W"),
    ("unit.nameplate.input_voltage_min_v", "Input from, V"),
    ("unit.nameplate.input_voltage_max_v", "Input to, V"),
    ("unit.nameplate.input_current_a", "Input current, A"),
    ("unit.nameplate.efficiency_mark", "Efficiency mark"),
];

/// So many ports can be named ahead; the bench form takes more.
const PORTS: usize = 4;

#[derive(Template)]
#[template(path = "entry/candidate.html")]
struct CandidatePage {
    chrome: Chrome,
    csrf: String,
    line: Line,
    typed: Typed,
    problems: Vec<FieldProblem>,
    label: Vec<LabelField>,
    ports: Vec<PortFields>,
    steps: Vec<(String, String, String)>,
    /// The model may be known: starting its record asks first.
    asks: Vec<Alike>,
}

struct LabelField {
    path: String,
    label: &'static str,
    value: String,
}

struct PortFields {
    number: usize,
    label: LabelField,
    connector: LabelField,
    power: LabelField,
}

/// Connectors by their word in a record.
pub const CONNECTORS: [(&str, &str); 4] = [
    ("usb-c", "USB-C"),
    ("usb-a", "USB-A"),
    ("barrel", "barrel"),
    ("other", "other"),
];

async fn find(site: &Site, id: i64) -> Result<Candidate, Error> {
    match candidates::find(&mut *site.db.read().await?, id).await {
        Err(storage::Error::NotFound) => Err(Error::NotFound(
            "There is no such candidate: it was taken out of the queue.".into(),
        )),
        other => Ok(other?),
    }
}

async fn show_one(visit: Visit, signed: Editor, Path(id): Path<i64>) -> Result<Response, Error> {
    let candidate = find(&visit.site, id).await?;
    let typed = Typed::of(&candidate.entry);
    pages::private(&one_page(&visit, &signed, &candidate, typed).await?)
}

async fn one_page(
    visit: &Visit,
    signed: &Signed,
    candidate: &Candidate,
    typed: Typed,
) -> Result<CandidatePage, Error> {
    let mut connection = visit.site.db.read().await?;
    let steps = candidates::steps(&mut connection, candidate.id).await?;
    let drafts = drafts::identities(&mut connection).await?;
    drop(connection);
    let fields = label_of(candidate)?;
    let field = |path: String, label: &'static str| LabelField {
        value: fields.text(&path).to_owned(),
        path,
        label,
    };
    let only = std::slice::from_ref(candidate);
    let line = lines_of(only, candidate.state, &drafts, signed)
        .pop()
        .expect("one candidate is one line");
    Ok(CandidatePage {
        chrome: super::chrome(visit, signed, line.name.clone()).style("queue.css"),
        csrf: signed.csrf.clone(),
        line,
        typed,
        problems: Vec::new(),
        label: LABEL
            .into_iter()
            .map(|(path, label)| field(path.to_owned(), label))
            .collect(),
        ports: (0..PORTS)
            .map(|port| PortFields {
                number: port + 1,
                label: field(format!("unit.ports[{port}].label"), "Label"),
                connector: field(format!("unit.ports[{port}].connector"), "Connector"),
                power: field(format!("unit.ports[{port}].power_w"), "Power, W"),
            })
            .collect(),
        steps: steps
            .into_iter()
            .map(|step| {
                (
                    state_words(step.state).to_owned(),
                    format::moment(step.at),
                    step.author,
                )
            })
            .collect(),
        asks: Vec::new(),
    })
}

fn label_of(candidate: &Candidate) -> Result<Fields, Error> {
    serde_json::from_str(&candidate.entry.label).map_err(Error::internal)
}

/// What is sent about the label: texts as typed, judged where the record is entered.
fn label_sent(pairs: &[(String, String)]) -> Fields {
    let mut fields = Fields::new();
    let ports = (0..PORTS).flat_map(|port| {
        ["label", "connector", "power_w"].map(|name| format!("unit.ports[{port}].{name}"))
    });
    for path in LABEL
        .iter()
        .map(|(path, _)| (*path).to_owned())
        .chain(ports)
    {
        let text = shortened(sent(pairs, &path));
        if !text.is_empty() {
            fields.set(path, text);
        }
    }
    fields
}

async fn edit(
    visit: Visit,
    signed: Editor,
    Path(id): Path<i64>,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Response, Error> {
    signed.check(sent(&pairs, "csrf"))?;
    let site = &visit.site;
    let mut candidate = find(site, id).await?;
    let typed = Typed::read(&pairs);
    let label = serde_json::to_string(&label_sent(&pairs)).map_err(Error::internal)?;
    match typed.checked(label.clone()) {
        Ok(entry) => {
            if entry != candidate.entry {
                let mut tx = site.db.write().await?;
                let now = site.clock.now();
                candidates::update(&mut tx, id, &entry, now).await?;
                let change = Change::new("candidate.edited", object(id))
                    .before(&text_of(&candidate.entry))
                    .after(&text_of(&entry));
                audit::write(&mut tx, &signed.who(), change, now).await?;
                tx.commit().await?;
                site.refresh().await?;
            }
            on_to(&at(id))
        }
        Err(problems) => {
            candidate.entry.label = label;
            let mut page = one_page(&visit, &signed, &candidate, typed).await?;
            page.problems = problems;
            Ok((StatusCode::UNPROCESSABLE_ENTITY, pages::private(&page)?).into_response())
        }
    }
}

/// The buttons of a candidate.
async fn act(
    visit: Visit,
    signed: Editor,
    Path(id): Path<i64>,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Response, Error> {
    signed.check(sent(&pairs, "csrf"))?;
    let site = &visit.site;
    let candidate = find(site, id).await?;
    let now = site.clock.now();
    let mut tx = match sent(&pairs, "action") {
        asked @ ("bench" | "bench-anyway") => {
            return bench(&visit, &signed, candidate, asked == "bench-anyway").await;
        }
        _ => site.db.write().await?,
    };
    let change = match sent(&pairs, "action") {
        "up" => {
            candidates::move_by_one(&mut tx, id, true).await?;
            Change::new("candidate.moved", object(id)).detail("up")
        }
        "down" => {
            candidates::move_by_one(&mut tx, id, false).await?;
            Change::new("candidate.moved", object(id)).detail("down")
        }
        "delete" => {
            candidates::delete(&mut tx, id).await?;
            Change::new("candidate.deleted", object(id)).before(&text_of(&candidate.entry))
        }
        "state" => {
            let state = State::from_id(sent(&pairs, "state")).ok_or_else(|| {
                Error::Invalid(format!(
                    "state: “{}”; expected one of the states of the queue.",
                    shortened(sent(&pairs, "state"))
                ))
            })?;
            candidates::set_state(&mut tx, id, state, &signed.name, now).await?;
            Change::new("candidate.state-set", object(id)).detail(state.id())
        }
        other => {
            return Err(Error::Invalid(format!(
                "action: “{}”; expected one of the buttons of this page.",
                shortened(other)
            )));
        }
    };
    audit::write(&mut tx, &signed.who(), change, now).await?;
    tx.commit().await?;
    site.refresh().await?;
    on_to(&at(id))
}

/// Begins the bench record of a candidate, with what is known of its label. Asks first where the
/// model may have been tested already.
async fn bench(
    visit: &Visit,
    signed: &Signed,
    candidate: Candidate,
    anyway: bool,
) -> Result<Response, Error> {
    let site = &visit.site;
    if let Some(draft) = candidate.draft_id {
        return to_record(site, signed, draft).await;
    }
    let entry = &candidate.entry;
    if !anyway {
        let mut alike =
            all_alike(site, signed, Some(&candidate), &entry.maker, &entry.model).await?;
        // Another candidate of the model is no reason to wait.
        alike.retain(|one| !one.what.starts_with("in the queue"));
        if !alike.is_empty() {
            let typed = Typed::of(entry);
            let mut page = one_page(visit, signed, &candidate, typed).await?;
            page.asks = alike;
            return pages::private(&page);
        }
    }
    let last = drafts::last_published_record(&mut *site.db.read().await?, &signed.name).await?;
    let last = last.and_then(|text| serde_json::from_str(&text).ok());
    let mut fields = bench_form::offered(last.as_ref());
    fill_in(&mut fields, entry, &label_of(&candidate)?);
    let text = serde_json::to_string(&fields).map_err(Error::internal)?;
    let now = site.clock.now();
    let mut tx = site.db.write().await?;
    // Pressed twice, it is one record.
    if let Some(draft) = candidates::find(&mut tx, candidate.id).await?.draft_id {
        drop(tx);
        return to_record(site, signed, draft).await;
    }
    let draft = drafts::insert(&mut tx, signed.operator_id, None, &text, now).await?;
    candidates::go_on_the_bench(&mut tx, candidate.id, draft, &signed.name, now).await?;
    let begun = Change::new("draft.begun", format!("draft {draft}")).after(&text);
    audit::write(&mut tx, &signed.who(), begun, now).await?;
    let change =
        Change::new("candidate.state-set", object(candidate.id)).detail(State::OnTheBench.id());
    audit::write(&mut tx, &signed.who(), change, now).await?;
    tx.commit().await?;
    site.refresh().await?;
    on_to(&draft::focused(draft, "unit.sample"))
}

/// To the record that a candidate has already, if it is this operator's.
async fn to_record(site: &Site, signed: &Signed, draft: i64) -> Result<Response, Error> {
    match drafts::find(&mut *site.db.read().await?, draft, signed.operator_id).await {
        Ok(_) => on_to(&urls::desk_draft(draft)),
        Err(storage::Error::NotFound) => Err(Error::Conflict(
            "Another operator has begun the record of this one.".into(),
        )),
        Err(cause) => Err(cause.into()),
    }
}

/// Puts what is known of a candidate into a new bench form.
fn fill_in(fields: &mut Fields, entry: &Entry, label: &Fields) {
    fields.set("unit.maker", &*entry.maker);
    fields.set("unit.model", &*entry.model);
    if let Some((amount, currency)) = &entry.price {
        fields.set("unit.price.amount", &**amount);
        fields.set("unit.price.currency", &**currency);
    }
    if let Some(link) = &entry.link {
        fields.set("unit.buy_url", &**link);
    }
    for (path, text) in label.iter() {
        fields.set(path, text);
    }
    for port in 1..label.rows("unit.ports") {
        fields.set(format!("unit.ports[{port}].modes[0].kind"), "fixed");
    }
}

/// Where the script puts a candidate: before another one, or after it.
async fn order(
    visit: Visit,
    signed: Editor,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Response, Error> {
    signed.check(sent(&pairs, "csrf"))?;
    let number = |name: &str| {
        let text = sent(&pairs, name);
        match text.parse::<i64>() {
            Ok(number) => Ok(Some(number)),
            Err(_) if text.is_empty() => Ok(None),
            Err(_) => Err(Error::Invalid(format!(
                "{name}: “{}”; expected the number of a candidate.",
                shortened(text)
            ))),
        }
    };
    let id = number("id")?.ok_or_else(|| Error::Invalid("id: missing.".into()))?;
    let (before, after) = (number("before")?, number("after")?);
    let site = &visit.site;
    let mut tx = site.db.write().await?;
    let before = match after {
        None => before,
        Some(after) => {
            let all = candidates::list(&mut tx).await?;
            let mut rest = all.iter().map(|one| one.id).filter(|&one| one != id);
            rest.find(|&one| one == after)
                .ok_or(storage::Error::NotFound)?;
            rest.next()
        }
    };
    candidates::put_before(&mut tx, id, before).await?;
    let place = before.map_or("to the end".to_owned(), |before| format!("before {before}"));
    let change = Change::new("candidate.moved", object(id)).detail(place);
    audit::write(&mut tx, &signed.who(), change, site.clock.now()).await?;
    tx.commit().await?;
    site.refresh().await?;
    Ok(StatusCode::NO_CONTENT.into_response())
}

// ---- suggestions ----

async fn decide(
    visit: Visit,
    signed: Editor,
    Path(id): Path<i64>,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Response, Error> {
    signed.check(sent(&pairs, "csrf"))?;
    let site = &visit.site;
    let now = site.clock.now();
    let mut tx = site.db.write().await?;
    let suggestion = suggestions::undecided(&mut tx)
        .await?
        .into_iter()
        .find(|one| one.id == id)
        .ok_or_else(|| Error::NotFound("This suggestion was decided already.".into()))?;
    match sent(&pairs, "action") {
        "accept" => {
            let entry = Entry {
                maker: suggestion.maker,
                model: suggestion.model,
                link: suggestion.link,
                price: None,
                planned_on: None,
                public: false,
                note: match suggestion.why.is_empty() {
                    true => "Suggested by a reader.".to_owned(),
                    false => format!("Suggested by a reader: {}", suggestion.why),
                },
                label: "{}".to_owned(),
            };
            let uid = auth::new_token();
            let candidate =
                candidates::insert(&mut tx, &uid, &entry, State::Wanted, &signed.name, now).await?;
            suggestions::decide(&mut tx, id, Decision::Accepted(candidate), now).await?;
            let change = Change::new("suggestion.accepted", format!("suggestion {id}"))
                .after(&text_of(&entry))
                .detail(object(candidate));
            audit::write(&mut tx, &signed.who(), change, now).await?;
            tx.commit().await?;
            on_to(&at(candidate))
        }
        "decline" => {
            suggestions::decide(&mut tx, id, Decision::Declined, now).await?;
            let change = Change::new("suggestion.declined", format!("suggestion {id}"));
            audit::write(&mut tx, &signed.who(), change, now).await?;
            tx.commit().await?;
            on_to(urls::DESK_QUEUE)
        }
        other => Err(Error::Invalid(format!(
            "action: “{}”; expected accept or decline.",
            shortened(other)
        ))),
    }
}

/// Declines everything that waits.
async fn decline_all(
    visit: Visit,
    signed: Editor,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Response, Error> {
    signed.check(sent(&pairs, "csrf"))?;
    let site = &visit.site;
    let mut tx = site.db.write().await?;
    let now = site.clock.now();
    for suggestion in suggestions::undecided(&mut tx).await? {
        suggestions::decide(&mut tx, suggestion.id, Decision::Declined, now).await?;
        let object = format!("suggestion {}", suggestion.id);
        let change = Change::new("suggestion.declined", object);
        audit::write(&mut tx, &signed.who(), change, now).await?;
    }
    tx.commit().await?;
    on_to(urls::DESK_QUEUE)
}

// ---- for the desk ----

/// A candidate on the desk's own page.
pub struct Next {
    pub name: String,
    pub url: String,
    pub state: &'static str,
    pub planned: String,
}

/// The next few to be tested, and how many are open in all.
pub async fn next_few(site: &Site) -> Result<(Vec<Next>, usize), Error> {
    let all = candidates::list(&mut *site.db.read().await?).await?;
    let mut open: Vec<&Candidate> = all
        .iter()
        .filter(|one| one.state.is_open() && one.state != State::Measured)
        .collect();
    open.sort_by_key(|one| SHOWN.iter().position(|state| *state == one.state));
    let count = open.len();
    let next = open
        .into_iter()
        .take(5)
        .map(|one| Next {
            name: name_of(&one.entry),
            url: at(one.id),
            state: state_words(one.state),
            planned: one
                .entry
                .planned_on
                .as_deref()
                .map_or(String::new(), format::date),
        })
        .collect();
    Ok((next, count))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_price_is_read_with_its_currency_before_or_behind() {
        let price = |text| price_of(text).map(|(amount, currency)| format!("{amount} {currency}"));
        assert_eq!(price("24.90 EUR").as_deref(), Some("24.90 EUR"));
        assert_eq!(price("eur 24,90").as_deref(), Some("24.90 EUR"));
        for wrong in [
            "24.90",
            "EUR",
            "24.90 EUR USD",
            "24.90 €",
            "-1 EUR",
            "1 2 EUR",
        ] {
            assert_eq!(price(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn whatever_is_wrong_with_a_line_is_named_at_once() {
        let typed = Typed {
            maker: String::new(),
            model: "x".repeat(81),
            link: "ftp://shop.example".into(),
            price: "cheap".into(),
            planned_on: "2026-02-30".into(),
            ..Typed::default()
        };
        let problems = typed.checked("{}".into()).unwrap_err();
        let fields: Vec<_> = problems.iter().map(|problem| problem.field).collect();
        assert_eq!(fields, ["maker", "model", "link", "planned_on", "price"]);
    }

    #[test]
    fn what_is_known_of_the_label_stands_in_the_new_record() {
        let entry = Entry {
            maker: "Larkfield".into(),
            model: "LF-65C".into(),
            link: Some("https://shop.example/lf-65c".into()),
            price: Some(("39.90".into(), "EUR".into())),
            planned_on: None,
            public: false,
            note: String::new(),
            label: String::new(),
        };
        let label: Fields = [
            ("unit.nameplate.output_power_w", "65 W"),
            ("unit.ports[0].label", "C1"),
            ("unit.ports[1].label", "A1"),
        ]
        .map(|(path, text)| (path.to_owned(), text.to_owned()))
        .into_iter()
        .collect();
        let mut fields = bench_form::offered(None);
        fill_in(&mut fields, &entry, &label);
        for (path, text) in [
            ("unit.maker", "Larkfield"),
            ("unit.model", "LF-65C"),
            ("unit.price.amount", "39.90"),
            ("unit.buy_url", "https://shop.example/lf-65c"),
            ("unit.nameplate.output_power_w", "65 W"),
            ("unit.ports[1].label", "A1"),
            ("unit.ports[1].modes[0].kind", "fixed"),
            ("runs[0].line.voltage_v", "115"),
        ] {
            assert_eq!(fields.text(path), text, "{path}");
        }
    }
}
