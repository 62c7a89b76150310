//! `/desk/draft/{id}/sharing`: how the ports share, entered in seconds per combination. The page
//! asks for one combination at a time, the most informative first, and writes each into the draft
//! as one more observation.

use super::{draft, live, on_to};
use crate::web::filters;
use crate::{
    bench::{
        Problem,
        decode::decode,
        record::{Connector, Mode, Record},
        usb_pd::PowerDataObject,
    },
    evaluate::sharing::{self, SharingResult, UntestedCombination},
    intake::form::{self, Fields},
    quantity::written::editable,
    storage::{
        audit,
        drafts::{self, Draft, Save, Saved},
    },
    web::{
        Site,
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
    routing::get,
};
use serde_json::json;
use std::collections::BTreeMap;

pub fn routes() -> Router<Site> {
    Router::new().route("/desk/draft/{id}/sharing", get(show).post(change))
}

/// As many as there are digits to choose them by.
const MOST_CHOICES: usize = 9;
/// Powers that ports commonly fall back to, offered behind those that the port itself tells.
const USUAL_STEPS_W: [f64; 10] = [140.0, 100.0, 65.0, 60.0, 45.0, 30.0, 20.0, 18.0, 15.0, 7.5];
/// Powers nearer than this are one choice.
const SAME_POWER_W: f64 = 0.5;

#[derive(Template)]
#[template(path = "entry/sharing.html")]
struct SharingPage {
    chrome: Chrome,
    csrf: String,
    id: i64,
    title: String,
    version: i64,
    notice: Option<String>,
    /// Why nothing can be asked for.
    barred: Option<&'static str>,
    /// The groups so far, in a sentence.
    statement: Option<String>,
    settled: bool,
    contradictions: Vec<String>,
    /// "3 of 7 combinations entered"
    progress: String,
    /// The last observation, which can be taken back.
    last: Option<String>,
    next: Option<NextView>,
    skipped: Vec<u32>,
    /// Others that can be chosen instead.
    others: Vec<OtherView>,
}

/// The combination that is asked for.
struct NextView {
    /// Ports as bits.
    ports_bits: u32,
    name: String,
    why: String,
    /// `C1, then C2`, where there are several.
    order: Option<String>,
    ports: Vec<PortAsk>,
    attached: Vec<Pick>,
    on_attach: Vec<Pick>,
    disturbed: Vec<Pick>,
    on_detach: Vec<Pick>,
    more: Vec<TextAsk>,
    /// Is something of what stands folded filled in?
    more_open: bool,
}

struct PortAsk {
    label: String,
    /// Number in the unit.
    number: usize,
    choices: Vec<Pick>,
    /// A power that is none of the choices, and its voltage.
    typed: Vec<TextAsk>,
    problem: String,
}

/// A radio button or box.
struct Pick {
    value: String,
    label: String,
    note: String,
    chosen: bool,
    /// Typing goes on here.
    focus: bool,
}

struct TextAsk {
    name: String,
    label: &'static str,
    unit: &'static str,
    hint: &'static str,
    value: String,
    problem: String,
    focus: bool,
}

struct OtherView {
    name: String,
    url: String,
    why: String,
}

/// What a draft says of its ports.
struct Situation {
    draft: Draft,
    fields: Fields,
    record: Option<Record>,
    result: Option<SharingResult>,
    untested: Vec<UntestedCombination>,
}

/// What the address says.
struct Asked {
    /// A combination chosen by hand.
    next: Option<u32>,
    skipped: Vec<u32>,
}

impl Asked {
    fn of(pairs: &Pairs) -> Asked {
        let mut skipped: Vec<u32> = pairs.all("skip").filter_map(|t| t.parse().ok()).collect();
        skipped.truncate(256);
        Asked {
            next: pairs.last("next").and_then(|t| t.parse().ok()),
            skipped,
        }
    }

    fn url(&self, id: i64) -> String {
        let mut query = urls::Query::new();
        for bits in &self.skipped {
            query.push("skip", &bits.to_string());
        }
        if let Some(next) = self.next {
            query.push("next", &next.to_string());
        }
        query.on(&urls::desk_sharing(id))
    }
}

/// The ports and observations of a draft as far as they can be read, whatever else is missing.
async fn situation(site: &Site, id: i64, signed: &Signed) -> Result<Situation, Error> {
    let draft = draft::find(site, id, signed).await?;
    let fields = draft::fields_of(&draft)?;
    let mut part: Fields = fields
        .iter()
        .filter(|(path, _)| path.starts_with("unit.ports[") || path.starts_with("sharing["))
        .map(|(path, text)| (path.to_owned(), text.to_owned()))
        .collect();
    // Only the ports matter here, and a record needs a name and a power.
    part.set("unit.maker", "-");
    part.set("unit.model", "-");
    let plate = "unit.nameplate.output_power_w";
    let known = super::bench_form::number_at(&fields, plate);
    part.set(plate, known.map_or("500".to_owned(), editable));
    let judged = live::judge(site, &part).await?.judged;
    let (record, result) = match judged {
        Some(judged) => (Some(judged.record), judged.evaluation.sharing),
        None => (None, None),
    };
    Ok(Situation {
        untested: record.as_ref().map(sharing::untested).unwrap_or_default(),
        draft,
        fields,
        record,
        result,
    })
}

impl Situation {
    fn labels(&self) -> Vec<String> {
        let ports = self.record.as_ref().map(|r| r.unit.ports.as_slice());
        ports
            .unwrap_or_default()
            .iter()
            .map(|p| p.label.clone())
            .collect()
    }

    fn bits_of(&self, ports: &[String]) -> u32 {
        let labels = self.labels();
        ports
            .iter()
            .filter_map(|port| labels.iter().position(|l| l == port))
            .fold(0, |bits, at| bits | 1 << at)
    }

    fn barred(&self) -> Option<&'static str> {
        match self.labels().len() {
            0 => Some("No port is on the form yet. Enter the ports first, each with its label."),
            1 => Some("This unit has one port, so there is nothing that it could share with."),
            2..=8 => None,
            _ => Some(
                "With more than eight ports there are too many combinations to ask for one by one. Enter those that you tried on the bench form.",
            ),
        }
    }

    /// What to ask for now: bits and why.
    fn next(&self, asked: &Asked) -> Option<(u32, String)> {
        let all = (1u64 << self.labels().len()) - 1;
        let why = |bits: u32| {
            self.untested
                .iter()
                .find(|u| self.bits_of(&u.ports) == bits)
                .map(|u| u.why.clone())
        };
        if let Some(bits) = asked.next.filter(|&b| b > 0 && u64::from(b) <= all) {
            let why = why(bits).unwrap_or_else(|| "entered once more".to_owned());
            return Some((bits, why));
        }
        self.untested
            .iter()
            .map(|u| (self.bits_of(&u.ports), u.why.clone()))
            .find(|(bits, _)| !asked.skipped.contains(bits))
    }

    /// The last observation on the form, with its row.
    fn last(&self) -> Option<(usize, String)> {
        let row = last_row(&self.fields)?;
        let text = |rest: &str| {
            self.fields
                .text(&format!("sharing[{row}]{rest}"))
                .trim()
                .to_owned()
        };
        let offers: Vec<String> = (0..self.fields.rows(&format!("sharing[{row}].offers")))
            .map(|o| {
                let power = text(&format!(".offers[{o}].power_w"));
                format!("{} {power} W", text(&format!(".offers[{o}].port")))
            })
            .collect();
        let ports = text(".ports_in_use");
        Some((
            row,
            if offers.is_empty() {
                ports
            } else {
                offers.join(", ")
            },
        ))
    }
}

fn last_row(fields: &Fields) -> Option<usize> {
    (0..fields.rows("sharing"))
        .rev()
        .find(|&row| !is_blank(fields, row))
}

fn is_blank(fields: &Fields, row: usize) -> bool {
    fields
        .row("sharing", row)
        .iter()
        .all(|(_, text)| text.trim().is_empty())
}

async fn show(
    visit: Visit,
    signed: Editor,
    Path(id): Path<i64>,
    pairs: Pairs,
) -> Result<Response, Error> {
    let situation = situation(&visit.site, id, &signed).await?;
    let asked = Asked::of(&pairs);
    let nothing = Sent::default();
    pages::private(&page(&visit, &signed, &situation, &asked, &nothing, None))
}

/// What was chosen and typed, by the names of the form.
#[derive(Default)]
struct Sent {
    values: BTreeMap<String, Vec<String>>,
    /// What is wrong, by name.
    problems: BTreeMap<String, String>,
}

impl Sent {
    fn text(&self, name: &str) -> &str {
        self.values
            .get(name)
            .and_then(|values| values.last())
            .map_or("", |value| value.trim())
    }

    fn has(&self, name: &str, value: &str) -> bool {
        self.values
            .get(name)
            .is_some_and(|values| values.iter().any(|v| v == value))
    }

    fn problem(&self, name: &str) -> String {
        self.problems.get(name).cloned().unwrap_or_default()
    }
}

fn page(
    visit: &Visit,
    signed: &Signed,
    situation: &Situation,
    asked: &Asked,
    sent: &Sent,
    notice: Option<String>,
) -> SharingPage {
    let title = draft::title_of(&situation.fields);
    let labels = situation.labels();
    let barred = situation.barred();
    let next = situation.next(asked).filter(|_| barred.is_none());
    let id = situation.draft.id;
    let entered: std::collections::BTreeSet<u32> = situation
        .result
        .iter()
        .flat_map(|r| &r.combinations)
        .filter(|c| c.total_w.is_some())
        .map(|c| situation.bits_of(&c.ports))
        .collect();
    let now = next.as_ref().map(|(bits, _)| *bits);
    SharingPage {
        chrome: super::chrome(visit, signed, format!("Sharing of {title}")).script("sharing.js"),
        csrf: signed.csrf.clone(),
        id,
        title,
        version: situation.draft.version,
        notice,
        progress: match (1u64 << labels.len().min(20)) - 1 {
            all if barred.is_none() => {
                format!("{} of {all} combinations entered", entered.len())
            }
            _ => String::new(),
        },
        barred,
        statement: situation.result.as_ref().map(|r| r.statement.clone()),
        settled: situation.result.as_ref().is_some_and(|r| r.settled),
        contradictions: situation
            .result
            .iter()
            .flat_map(|r| &r.contradictions)
            .map(|c| c.message.clone())
            .collect(),
        last: situation.last().map(|(_, words)| words),
        next: next.map(|(bits, why)| next_view(situation, bits, why, sent)),
        skipped: asked.skipped.clone(),
        others: situation
            .untested
            .iter()
            .map(|u| (situation.bits_of(&u.ports), u))
            .filter(|(bits, _)| Some(*bits) != now)
            .map(|(bits, u)| OtherView {
                name: u.ports.join(" + "),
                url: Asked {
                    next: Some(bits),
                    skipped: asked.skipped.clone(),
                }
                .url(id),
                why: u.why.clone(),
            })
            .collect(),
    }
}

fn next_view(situation: &Situation, bits: u32, why: String, sent: &Sent) -> NextView {
    let labels = situation.labels();
    let in_use: Vec<usize> = (0..labels.len()).filter(|i| bits >> i & 1 == 1).collect();
    let record = situation.record.as_ref();
    let names: Vec<String> = in_use.iter().map(|&i| labels[i].clone()).collect();
    let mut focused = false;
    // The first thing that is wrong, else the first choice.
    let first_wrong = !sent.problems.is_empty();
    let mut focus = |wrong: bool| {
        let here = !focused && (wrong || !first_wrong);
        focused |= here;
        here
    };
    let mut ports = Vec::new();
    for &i in &in_use {
        let name = format!("offer-{i}");
        let (watts_name, volts_name) = (format!("watts-{i}"), format!("volts-{i}"));
        let problem = sent.problem(&name);
        let mut choices: Vec<Pick> = record
            .map(|r| choices(r, i))
            .unwrap_or_default()
            .iter()
            .map(|c| c.pick(sent.has(&name, &c.value())))
            .collect();
        if let Some(first) = choices.first_mut() {
            first.focus = focus(!problem.is_empty());
        }
        let text = |name: String, label, unit, focus: &mut dyn FnMut(bool) -> bool| {
            let problem = sent.problem(&name);
            TextAsk {
                value: sent.text(&name).to_owned(),
                focus: !problem.is_empty() && focus(true),
                problem,
                label,
                unit,
                hint: "",
                name,
            }
        };
        ports.push(PortAsk {
            label: labels[i].clone(),
            number: i,
            typed: vec![
                text(watts_name, "or another power", "W", &mut focus),
                text(volts_name, "up to", "V", &mut focus),
            ],
            choices,
            problem,
        });
    }
    let several = in_use.len() > 1;
    let last = in_use.last().copied().unwrap_or_default();
    let choose = |name: &str, options: &[(&str, &str)]| -> Vec<Pick> {
        if !several {
            return Vec::new();
        }
        options
            .iter()
            .map(|(value, label)| plain_pick(value, label, sent.has(name, value)))
            .collect()
    };
    let others = [
        ("held", "kept their output"),
        ("reset", "were reset for a moment"),
        ("lost", "lost their output"),
    ];
    let sent_anything = !sent.values.is_empty();
    let more: Vec<TextAsk> = MORE
        .iter()
        .filter(|(name, ..)| several || !matches!(*name, "interruption_ms" | "lowest_voltage_v"))
        .map(|&(name, label, unit, hint)| {
            let problem = sent.problem(name);
            TextAsk {
                name: name.to_owned(),
                label,
                unit,
                hint,
                value: sent.text(name).to_owned(),
                focus: !problem.is_empty() && focus(true),
                problem,
            }
        })
        .collect();
    NextView {
        ports_bits: bits,
        name: names.join(" + "),
        why,
        order: several.then(|| names.join(", then ")),
        ports,
        attached: in_use
            .iter()
            .filter(|_| several)
            .map(|&i| {
                let chosen = if sent_anything {
                    sent.has("attached", &i.to_string())
                } else {
                    i == last
                };
                plain_pick(&i.to_string(), &labels[i], chosen)
            })
            .collect(),
        on_attach: choose("on_attach", &others),
        on_detach: choose("on_detach", &others),
        disturbed: in_use
            .iter()
            .filter(|_| several)
            .map(|&i| {
                plain_pick(
                    &i.to_string(),
                    &labels[i],
                    sent.has("disturbed", &i.to_string()),
                )
            })
            .collect(),
        more_open: more.iter().any(|ask| !ask.value.is_empty())
            || sent.values.contains_key("disturbed")
            || !sent.text("on_detach").is_empty(),
        more,
    }
}

/// Name, label, unit, hint of what may be told besides.
const MORE: [(&str, &str, &str, &str); 4] = [
    (
        "interruption_ms",
        "Interruption",
        "ms",
        "how long a port was without its voltage",
    ),
    (
        "lowest_voltage_v",
        "Lowest voltage meanwhile",
        "V",
        "on a port that was disturbed",
    ),
    (
        "delivered_power_w",
        "Delivered together",
        "W",
        "all ports in use loaded, measured",
    ),
    ("note", "Note", "", ""),
];

fn plain_pick(value: &str, label: &str, chosen: bool) -> Pick {
    Pick {
        value: value.to_owned(),
        label: label.to_owned(),
        note: String::new(),
        chosen,
        focus: false,
    }
}

/// A power that a port may be offering.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Choice {
    power_w: f64,
    voltage_max_v: Option<f64>,
    /// Was it offered with this port alone?
    alone: bool,
}

impl Choice {
    fn value(&self) -> String {
        match self.voltage_max_v {
            Some(volts) => format!("{}@{}", editable(self.power_w), editable(volts)),
            None => editable(self.power_w),
        }
    }

    fn pick(&self, chosen: bool) -> Pick {
        let mut note: Vec<String> = Vec::new();
        note.extend(
            self.voltage_max_v
                .map(|v| format::with_unit(format::plain(v), "V")),
        );
        if self.alone {
            note.push("as alone".to_owned());
        }
        Pick {
            value: self.value(),
            label: format::rated_watts(self.power_w),
            note: note.join(", "),
            chosen,
            focus: false,
        }
    }
}

/// What port `at` may be offering, most first: what it was seen to offer, what its list or label
/// says, its rating, and then usual steps below.
fn choices(record: &Record, at: usize) -> Vec<Choice> {
    let port = &record.unit.ports[at];
    let mut found: Vec<Choice> = Vec::new();
    let mut add = |power_w: f64, voltage_max_v: Option<f64>, alone: bool| {
        let power_w = (power_w * 100.0).round() / 100.0;
        let same = found.iter_mut().find(|c| {
            (c.power_w - power_w).abs() < SAME_POWER_W
                && match (c.voltage_max_v, voltage_max_v) {
                    (Some(a), Some(b)) => (a - b).abs() < 0.1,
                    _ => true,
                }
        });
        match same {
            Some(known) => {
                known.voltage_max_v = known.voltage_max_v.or(voltage_max_v);
                known.alone |= alone;
            }
            None if power_w > 0.0 => found.push(Choice {
                power_w,
                voltage_max_v,
                alone,
            }),
            None => {}
        }
    };
    for seen in &record.sharing {
        for offer in seen.offers.iter().filter(|o| o.port == port.label) {
            let alone = seen.ports_in_use == [port.label.clone()];
            add(offer.power_w, offer.voltage_max_v, alone);
        }
    }
    let listed: Vec<Mode> = port
        .capabilities()
        .iter()
        .filter(|(.., object)| matches!(object, PowerDataObject::Fixed { .. }))
        .flat_map(|(.., object)| object.modes())
        .collect();
    let own = if listed.is_empty() {
        &port.modes
    } else {
        &listed
    };
    for mode in own {
        if let Mode::Fixed {
            voltage_v,
            current_a,
        } = *mode
        {
            add(voltage_v * current_a, Some(voltage_v), false);
        }
    }
    if let Some(power_w) = port.power_w {
        add(power_w, None, false);
    }
    let most = found
        .iter()
        .map(|c| c.power_w)
        .reduce(f64::max)
        .unwrap_or(record.unit.nameplate.output_power_w);
    if !matches!(port.connector, Some(Connector::Barrel | Connector::UsbA)) {
        for step in USUAL_STEPS_W.into_iter().filter(|s| *s < most) {
            let known = found
                .iter()
                .any(|c| (c.power_w - step).abs() < SAME_POWER_W);
            if !known && found.len() < MOST_CHOICES {
                found.push(Choice {
                    power_w: step,
                    voltage_max_v: None,
                    alone: false,
                });
            }
        }
    }
    found.truncate(MOST_CHOICES);
    found.sort_by(|a, b| {
        b.power_w.total_cmp(&a.power_w).then(
            b.voltage_max_v
                .unwrap_or(0.0)
                .total_cmp(&a.voltage_max_v.unwrap_or(0.0)),
        )
    });
    found
}

/// A button of the page.
async fn change(
    visit: Visit,
    signed: Editor,
    Path(id): Path<i64>,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Response, Error> {
    let site = &visit.site;
    let pairs = Pairs(pairs);
    let situation = situation(site, id, &signed).await?;
    let mut asked = Asked::of(&pairs);
    let bits: u32 = pairs
        .last("ports")
        .and_then(|t| t.parse().ok())
        .unwrap_or(0);
    let mut sent = Sent::default();
    for (name, value) in &pairs.0 {
        if !matches!(
            name.as_str(),
            "csrf" | "version" | "ports" | "skip" | "action"
        ) {
            let value: String = value.replace("\r\n", "\n").chars().take(2_000).collect();
            sent.values.entry(name.clone()).or_default().push(value);
        }
    }
    let again = |situation: &Situation, sent: &Sent, status, notice: Option<String>| {
        let asked = Asked {
            next: Some(bits),
            skipped: Asked::of(&pairs).skipped,
        };
        let page = page(&visit, &signed, situation, &asked, sent, notice);
        Ok((status, pages::private(&page)?).into_response())
    };
    if !signed.sent(pairs.last("csrf").unwrap_or("")) {
        return again(
            &situation,
            &sent,
            StatusCode::FORBIDDEN,
            Some("You have signed in again since this page was opened, so nothing was saved. Press Save once more.".into()),
        );
    }
    let version: i64 = pairs
        .last("version")
        .and_then(|t| t.parse().ok())
        .unwrap_or(0);
    match pairs.last("action").unwrap_or("save") {
        "skip" => {
            if bits > 0 && !asked.skipped.contains(&bits) {
                asked.skipped.push(bits);
            }
            asked.next = None;
            return on_to(&asked.url(id));
        }
        "undo" => {
            let Some((row, _)) = situation.last() else {
                return on_to(&asked.url(id));
            };
            let labels = situation.labels();
            let text = situation
                .fields
                .text(&format!("sharing[{row}].ports_in_use"));
            let taken: Vec<String> = labels
                .into_iter()
                .filter(|label| text.split(',').any(|t| t.trim().trim_matches('"') == label))
                .collect();
            let done = write(site, &signed, id, version, |fields| {
                fields.remove_row("sharing", row);
            });
            if !done.await? {
                let notice = "Nothing was taken back: the draft has been saved elsewhere since this page was opened.";
                return again(&situation, &sent, StatusCode::CONFLICT, Some(notice.into()));
            }
            asked.next = Some(situation.bits_of(&taken)).filter(|b| *b > 0);
            return on_to(&asked.url(id));
        }
        _ => {}
    }
    let Some(observation) = observation(&situation, bits, &mut sent) else {
        // What belongs to none of the fields is said above them.
        let notice = sent.problems.get("").cloned();
        return again(&situation, &sent, StatusCode::UNPROCESSABLE_ENTITY, notice);
    };
    let done = write(site, &signed, id, version, |fields| {
        let row = (0..fields.rows("sharing"))
            .find(|&row| is_blank(fields, row))
            .unwrap_or(fields.rows("sharing"));
        for (path, text) in observation.iter() {
            if let Some(rest) = path.strip_prefix("sharing[0]") {
                fields.set(format!("sharing[{row}]{rest}"), text);
            }
        }
    });
    if !done.await? {
        // What was chosen stands there again, above the draft as it is now.
        let notice = "The draft has been saved elsewhere since this page was opened, so this was not saved yet. It can be added to the draft as it is now: press Save once more.";
        return again(&situation, &sent, StatusCode::CONFLICT, Some(notice.into()));
    }
    asked.next = None;
    on_to(&asked.url(id))
}

/// What was entered as an observation in row 0 of a form of its own; `None` if something is wrong,
/// which `sent` then tells.
fn observation(situation: &Situation, bits: u32, sent: &mut Sent) -> Option<Fields> {
    let labels = situation.labels();
    let in_use: Vec<usize> = (0..labels.len()).filter(|i| bits >> i & 1 == 1).collect();
    if in_use.is_empty() {
        return None;
    }
    let label = |text: &str| -> Option<String> {
        let at: usize = text.parse().ok()?;
        in_use.contains(&at).then(|| labels[at].clone())
    };
    let names: Vec<&String> = in_use.iter().map(|&i| &labels[i]).collect();
    let mut disturbed: Vec<String> = sent
        .values
        .get("disturbed")
        .into_iter()
        .flatten()
        .filter_map(|text| label(text))
        .collect();
    disturbed.dedup();
    let mut row = json!({"ports_in_use": names});
    if !disturbed.is_empty() {
        row["reset_ports"] = json!(disturbed);
    }
    // Which port came last says something only beside what it did.
    let tells = ["on_attach", "on_detach"]
        .iter()
        .any(|name| !sent.text(name).is_empty())
        || !disturbed.is_empty();
    if let Some(attached) = label(sent.text("attached")).filter(|_| tells) {
        row["attached"] = json!(attached);
    }
    for name in ["on_attach", "on_detach"] {
        if matches!(sent.text(name), "held" | "reset" | "lost") {
            row[name] = json!(sent.text(name));
        }
    }
    let mut fields = form::fields(&json!({"sharing": [row]}));
    for (name, ..) in MORE {
        let text = sent.text(name);
        if !text.is_empty() {
            fields.set(format!("sharing[0].{name}"), text);
        }
    }
    let mut names_of: BTreeMap<String, String> = MORE
        .iter()
        .map(|(name, ..)| (format!("sharing[0].{name}"), (*name).to_owned()))
        .collect();
    let mut problems = BTreeMap::new();
    for (row, &i) in in_use.iter().enumerate() {
        let path = format!("sharing[0].offers[{row}]");
        let name = format!("offer-{i}");
        let (watts, volts) = (format!("watts-{i}"), format!("volts-{i}"));
        let (power, voltage) = match (sent.text(&watts), sent.text(&name).split_once('@')) {
            ("", Some((power, voltage))) => (power, voltage),
            ("", None) => (sent.text(&name), ""),
            (typed, _) => (typed, ""),
        };
        let voltage = match sent.text(&volts) {
            "" => voltage,
            typed => typed,
        };
        if power.is_empty() {
            let message = format!("Choose what {} is offered, or type it.", labels[i]);
            problems.insert(name, message);
            continue;
        }
        fields.set(format!("{path}.port"), labels[i].clone());
        fields.set(format!("{path}.power_w"), power);
        if !voltage.is_empty() {
            fields.set(format!("{path}.voltage_max_v"), voltage);
        }
        names_of.insert(format!("{path}.power_w"), watts);
        names_of.insert(format!("{path}.voltage_max_v"), volts);
    }
    for problem in problems_of(&fields, &labels) {
        let name = names_of.get(&problem.path).cloned().unwrap_or_default();
        problems
            .entry(name)
            .or_insert_with(|| format!("Expected {}.", problem.expected));
    }
    sent.problems = problems;
    sent.problems.is_empty().then_some(fields)
}

/// What is wrong with an observation, in a record that holds nothing else.
fn problems_of(observation: &Fields, labels: &[String]) -> Vec<Problem> {
    let mut fields = observation.clone();
    fields.set("unit.maker", "-");
    fields.set("unit.model", "-");
    fields.set("unit.nameplate.output_power_w", "1");
    for (i, label) in labels.iter().enumerate() {
        fields.set(format!("unit.ports[{i}].label"), label);
    }
    let document = form::document(&fields);
    let mut problems = document.unreadable.clone();
    if let Err(found) = decode(&document.value.to_string()) {
        problems.extend(found.into_iter().map(|p| document.at_field(p)));
    }
    problems
}

/// Changes a draft that is still at the version that the page was made from; was it?
async fn write(
    site: &Site,
    signed: &Signed,
    id: i64,
    version: i64,
    change: impl FnOnce(&mut Fields),
) -> Result<bool, Error> {
    let mut tx = site.db.write().await?;
    let stored = drafts::find(&mut tx, id, signed.operator_id).await?;
    if stored.version != version {
        return Ok(false);
    }
    let mut fields = draft::fields_of(&stored)?;
    change(&mut fields);
    let text = serde_json::to_string(&fields).map_err(Error::internal)?;
    let editor = auth::new_token();
    let save = Save {
        version,
        editor: &editor,
        editor_save: 1,
    };
    let now = site.clock.now();
    let saved = drafts::save(&mut tx, id, signed.operator_id, save, &text, now).await?;
    if matches!(saved, Saved::NewerExists { .. }) {
        return Ok(false);
    }
    audit::write_draft_save(&mut tx, &signed.who(), id, &editor, &text, now).await?;
    tx.commit().await?;
    Ok(true)
}
