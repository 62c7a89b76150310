//! What adapters cost to use: energy lost in a year of a use profile, its cost, and whether the
//! difference from the best of the class matters.

use super::{
    Site, elsewhere,
    narrowing::{Narrowing, NarrowingForm},
    public,
    use_words::{self, fault_words, profile_words},
};
use crate::{
    chart::{Chart, UnitBar, UnitBars},
    config::Tariff,
    evaluate::yearly_energy::Lacks,
    ranking::{CostOfUse, Row, SortKey, Used},
    standards::{UseProfile, usage},
    text::{Text, t, word},
    web::{
        chrome::{Chrome, Here},
        download::{Cell, Table},
        error::Error,
        extract::{Pairs, Path, Visit},
        filters,
        format::{self, PlusMinus, Scale},
        state::Public,
        urls::{self, Query},
    },
};
use askama::Template;
use axum::{Router, response::Response, routing::get};
use std::cmp::Ordering;

pub fn routes() -> Router<Site> {
    Router::new()
        .route("/use", get(profiles))
        .route("/use/{profile}", get(by_profile))
        .route("/use/{profile}/table.csv", get(as_csv))
        .route("/use/{profile}/table.json", get(as_json))
}

/// Id of a reader's own profile.
pub const OWN: &str = "own";
/// Units on one page.
const PER_PAGE: usize = 100;
/// Loads that the form for one's own use has room for.
const OWN_LOADS: usize = 5;

pub const KWH: Scale = Scale {
    unit: "kWh",
    factor: 1.0,
};

#[derive(Template)]
#[template(path = "pages/use_profiles.html")]
struct ProfilesPage {
    chrome: Chrome,
    choices: Vec<ChoiceLink>,
    profiles: Vec<ProfileLink>,
    own: Vec<OwnLoad>,
    problem: Option<String>,
}

#[derive(Template)]
#[template(path = "pages/cost_of_use.html")]
struct CostPage {
    chrome: Chrome,
    choices: Vec<ChoiceLink>,
    profiles: Vec<ProfileLink>,
    profile: ProfileView,
    own: Option<Vec<OwnLoad>>,
    form: NarrowingForm,
    /// Of the profile itself, so that the form keeps it.
    hidden: Vec<(String, String)>,
    action: String,
    tariff: String,
    currency: String,
    notices: Vec<String>,
    summary: Vec<String>,
    chart: Option<String>,
    columns: Vec<ColumnHead>,
    rows: Vec<Line>,
    count: String,
    lacking: Vec<Lacking>,
    csv_url: String,
    json_url: String,
    previous: Option<String>,
    next: Option<String>,
    page: usize,
    pages: usize,
    line: String,
    link: String,
    licence: Option<String>,
}

/// The ways to choose by, on each of their pages.
pub struct ChoiceLink {
    pub label: &'static str,
    pub url: String,
    pub current: bool,
}

pub fn choices(current: &str) -> Vec<ChoiceLink> {
    [
        (word("choice-use"), urls::USE),
        (word("choice-at"), urls::AT),
        (word("choice-trade-offs"), urls::TRADE_OFFS),
    ]
    .map(|(label, path)| ChoiceLink {
        label,
        url: urls::page(path),
        current: path == current,
    })
    .into()
}

struct ProfileLink {
    title: String,
    url: String,
    /// "15 W for 0.5 h, …"
    words: String,
    note: String,
    source: String,
    current: bool,
}

struct ProfileView {
    title: String,
    words: String,
    note: String,
    source: String,
}

struct OwnLoad {
    watts: String,
    hours: String,
}

pub struct ColumnHead {
    pub label: String,
    pub title: &'static str,
    pub url: Option<String>,
    pub sorted: Option<&'static str>,
    pub numeric: bool,
}

struct Line {
    name: String,
    sample: Option<String>,
    url: String,
    class: String,
    rank: String,
    energy: PlusMinus,
    no_load: String,
    cost: Option<String>,
    /// Against the best of its class.
    beyond: String,
    price: Option<String>,
    total: Option<String>,
    is_best: bool,
}

pub struct Lacking {
    pub name: String,
    pub url: String,
    pub reason: String,
}

/// What the table is sorted by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Sort {
    Energy,
    NoLoad,
    Name,
    Price,
    Total,
    Score,
}

impl Sort {
    const ALL: [Sort; 6] = [
        Sort::Energy,
        Sort::NoLoad,
        Sort::Name,
        Sort::Price,
        Sort::Total,
        Sort::Score,
    ];

    fn id(self) -> &'static str {
        match self {
            Sort::Energy => "energy",
            Sort::NoLoad => "no-load",
            Sort::Name => "name",
            Sort::Price => "price",
            Sort::Total => "total",
            Sort::Score => "score",
        }
    }

    fn descending_first(self) -> bool {
        self == Sort::Score
    }
}

/// Everything that was asked for, and the address that says it.
struct Asked {
    profile: UseProfile,
    narrowing: Narrowing,
    tariff: Option<Tariff>,
    sort: Sort,
    descending: bool,
    page: usize,
}

impl Asked {
    fn of(visit: &Visit, id: &str, pairs: &Pairs) -> Result<Asked, Error> {
        let site = &visit.site;
        let profile = if id == OWN {
            UseProfile::of_reader(pairs.all("load").take(40)).map_err(|fault| {
                let text = t("own-use-invalid").with("fault", fault_words(&fault));
                Error::Invalid(text.to_string())
            })?
        } else {
            usage::profiles()
                .into_iter()
                .find(|profile| profile.id == id)
                .ok_or_else(|| {
                    let id: String = id.chars().take(60).collect();
                    Error::NotFound(t("profile-unknown").with("id", id).to_string())
                })?
        };
        let mut narrowing = Narrowing::of(pairs, site);
        let tariff = tariff_of(pairs, site, &mut narrowing);
        let sort = match pairs.last("sort") {
            None => Sort::Energy,
            Some(id) => Sort::ALL
                .into_iter()
                .find(|sort| sort.id() == id)
                .unwrap_or_else(|| {
                    narrowing.left_out(word("asked-sort"), id, word("expected-column"));
                    Sort::Energy
                }),
        };
        let descending = direction(pairs, sort.descending_first(), &mut narrowing);
        let page = page_of(pairs, &mut narrowing);
        Ok(Asked {
            profile,
            narrowing,
            tariff,
            sort,
            descending,
            page,
        })
    }

    fn path(&self) -> String {
        urls::use_profile(&self.profile.id)
    }

    fn query(&self, site: &Site) -> Query {
        let mut query = Query::new();
        for (name, value) in self.loads() {
            query.push(&name, &value);
        }
        self.narrowing.push(&mut query);
        if let Some(tariff) = &self.tariff
            && Some(tariff) != site.config.tariff.as_ref()
        {
            query.push("tariff", &format::field(tariff.per_kwh));
            query.push("currency", &tariff.currency);
        }
        if self.sort != Sort::Energy {
            query.push("sort", self.sort.id());
        }
        if self.descending != self.sort.descending_first() {
            query.push("dir", if self.descending { "desc" } else { "asc" });
        }
        query
    }

    /// The reader's own loads as `load=watts:hours`.
    fn loads(&self) -> Vec<(String, String)> {
        if self.profile.id != OWN {
            return Vec::new();
        }
        let entry = |watts: f64, hours: f64| {
            let text = format!("{}:{}", format::field(watts), format::field(hours));
            ("load".to_owned(), text)
        };
        let loads = self.profile.loads.iter();
        let mut all: Vec<_> = loads.map(|l| entry(l.power_w, l.hours_a_day)).collect();
        if self.profile.no_load_hours_a_day > 0.0 {
            all.push(entry(0.0, self.profile.no_load_hours_a_day));
        }
        all
    }

    fn paged(&self, site: &Site, page: usize) -> String {
        let mut query = self.query(site);
        if page > 1 {
            query.push("page", &page.to_string());
        }
        query.on(&self.path())
    }

    /// The units in the order asked for.
    fn cost<'a>(&self, data: &'a Public) -> CostOfUse<'a> {
        // The tie-break: maker and model.
        let rows = data
            .standings
            .all(&self.narrowing.filter, SortKey::Name, false);
        let mut cost = CostOfUse::of(rows, &self.profile);
        let tariff = self.tariff.as_ref();
        let total = |used: &Used| {
            let tariff = tariff?;
            used.price_and_loss(tariff.per_kwh, &tariff.currency)
        };
        if self.sort != Sort::Energy || self.descending {
            let called = |row: &Row| (row.maker.to_lowercase(), row.model.to_lowercase());
            cost.used.sort_by(|a, b| {
                let (x, y) = match self.sort {
                    Sort::Energy => (Some(a.year.total.value), Some(b.year.total.value)),
                    Sort::NoLoad => (Some(a.year.no_load.value), Some(b.year.no_load.value)),
                    Sort::Price => {
                        let by_currency = a.row.currency.cmp(&b.row.currency);
                        if a.row.price.is_some() && b.row.price.is_some() && by_currency.is_ne() {
                            return by_currency;
                        }
                        (a.row.price, b.row.price)
                    }
                    Sort::Total => (total(a), total(b)),
                    Sort::Score => {
                        let provisional = a.row.provisional.cmp(&b.row.provisional);
                        if a.row.score.is_some() && b.row.score.is_some() && provisional.is_ne() {
                            return provisional;
                        }
                        (a.row.score, b.row.score)
                    }
                    Sort::Name => {
                        let by_name = called(a.row).cmp(&called(b.row));
                        return if self.descending {
                            by_name.reverse()
                        } else {
                            by_name
                        };
                    }
                };
                known_first(x, y, self.descending)
            });
        }
        cost
    }
}

/// Unknown comes last in either direction.
pub fn known_first(a: Option<f64>, b: Option<f64>, descending: bool) -> Ordering {
    match (a, b) {
        (Some(a), Some(b)) if descending => b.total_cmp(&a),
        (Some(a), Some(b)) => a.total_cmp(&b),
        (Some(_), None) => Ordering::Less,
        (None, Some(_)) => Ordering::Greater,
        (None, None) => Ordering::Equal,
    }
}

/// `?dir=`
pub fn direction(pairs: &Pairs, descending_first: bool, narrowing: &mut Narrowing) -> bool {
    match pairs.last("dir") {
        None => descending_first,
        Some("asc") => false,
        Some("desc") => true,
        Some(other) => {
            narrowing.left_out(word("asked-direction"), other, word("expected-direction"));
            descending_first
        }
    }
}

/// `?page=`, from 1.
pub fn page_of(pairs: &Pairs, narrowing: &mut Narrowing) -> usize {
    match pairs.last("page").map(|text| (text, text.parse::<usize>())) {
        None => 1,
        Some((_, Ok(page))) if page >= 1 => page,
        Some((text, _)) => {
            narrowing.left_out(word("asked-page"), text, word("expected-page"));
            1
        }
    }
}

/// `?tariff=0.30&currency=EUR`, else the site's; an own price without a currency is in the site's.
fn tariff_of(pairs: &Pairs, site: &Site, narrowing: &mut Narrowing) -> Option<Tariff> {
    let usual = site.config.tariff.as_ref();
    let Some(text) = pairs.last("tariff") else {
        return usual.cloned();
    };
    let currency = pairs
        .last("currency")
        .or(usual.map(|tariff| tariff.currency.as_str()));
    let per_kwh = text.replace(',', ".").parse::<f64>().ok();
    let tariff = per_kwh
        .zip(currency)
        .and_then(|(per_kwh, currency)| Tariff::new(per_kwh, currency));
    if tariff.is_none() {
        let (name, expected) = (word("use-asked-tariff"), word("use-expected-tariff"));
        narrowing.left_out(name, text, expected);
        return usual.cloned();
    }
    tariff
}

fn profile_links(current: &str) -> Vec<ProfileLink> {
    usage::profiles()
        .into_iter()
        .map(|profile| {
            let text = use_words::of(&profile);
            ProfileLink {
                title: text.title,
                url: urls::use_profile(&profile.id),
                words: profile_words(&profile),
                note: text.note,
                source: text.source,
                current: profile.id == current,
            }
        })
        .collect()
}

/// Fields for an own use, filled with `profile` as far as there is one.
fn own_loads(profile: Option<&UseProfile>) -> Vec<OwnLoad> {
    let mut loads: Vec<OwnLoad> = profile
        .iter()
        .flat_map(|profile| {
            let idle =
                (profile.no_load_hours_a_day > 0.0).then_some((0.0, profile.no_load_hours_a_day));
            profile
                .loads
                .iter()
                .map(|l| (l.power_w, l.hours_a_day))
                .chain(idle)
        })
        .map(|(watts, hours)| OwnLoad {
            watts: format::field(watts),
            hours: format::field(hours),
        })
        .collect();
    let room = loads.len().max(OWN_LOADS);
    loads.resize_with(room, || OwnLoad {
        watts: String::new(),
        hours: String::new(),
    });
    loads
}

/// The profiles to choose from. With loads in the query, on to the page of these.
async fn profiles(visit: Visit, pairs: Pairs) -> Result<Response, Error> {
    let loads = written_loads(&pairs);
    let problem = if loads.is_empty() {
        None
    } else {
        match UseProfile::of_reader(loads.iter().map(String::as_str)) {
            Ok(_) => {
                let mut query = Query::new();
                for load in &loads {
                    query.push("load", load);
                }
                for name in ["class", "q", "usb_c", "each_w", "tariff", "currency"] {
                    if let Some(value) = pairs.last(name) {
                        query.push(name, value);
                    }
                }
                return elsewhere(&query.on(&urls::use_profile(OWN)));
            }
            Err(fault) => Some(fault_words(&fault)),
        }
    };
    let chrome = visit
        .chrome(word("use-heading"))
        .describe(word("use-description"))
        .canonical(urls::page(urls::USE))
        .image(urls::preview(&Query::new().with("about", "use")))
        .here(Here::Choose);
    public(&ProfilesPage {
        chrome,
        choices: choices(urls::USE),
        profiles: profile_links(""),
        own: own_loads(None),
        problem,
    })
}

/// `load=15:2` as they stand, and pairs of the form's fields `w` and `h` in their order.
fn written_loads(pairs: &Pairs) -> Vec<String> {
    let of = |name: &'static str| {
        pairs
            .0
            .iter()
            .filter(move |(key, _)| key == name)
            .map(|(_, value)| value.trim().to_owned())
    };
    let typed = of("w")
        .zip(of("h"))
        .filter(|(w, h)| !w.is_empty() || !h.is_empty())
        .map(|(w, h)| format!("{w}:{h}"));
    of("load")
        .filter(|load| !load.is_empty())
        .chain(typed)
        .take(40)
        .collect()
}

async fn by_profile(visit: Visit, Path(id): Path<String>, pairs: Pairs) -> Result<Response, Error> {
    let site = &visit.site;
    let data = site.public();
    let asked = Asked::of(&visit, &id, &pairs)?;
    let cost = asked.cost(&data);
    let pages = cost.used.len().div_ceil(PER_PAGE).max(1);
    let page = asked.page.min(pages);
    let own_address = asked.paged(site, page);
    if asked.narrowing.notices.is_empty() && own_address != visit.target {
        return elsewhere(&own_address);
    }
    let tariff = asked.tariff.as_ref();
    let rows: Vec<Line> = cost
        .used
        .iter()
        .skip((page - 1) * PER_PAGE)
        .take(PER_PAGE)
        .map(|used| line(used, tariff))
        .collect();
    let profile = &asked.profile;
    let text = use_words::of(profile);
    let class_words = asked.narrowing.class_words(site);
    let chart = (page == 1 && !cost.used.is_empty()).then(|| {
        UnitBars {
            title: t("use-chart")
                .with("class", &class_words)
                .with("profile", &text.title)
                .to_string(),
            axis: word("use-chart.axis").to_owned(),
            unit: "kWh".to_owned(),
            bars: cost
                .used
                .iter()
                .map(|used| UnitBar {
                    name: name(used.row),
                    value: used.year.total.value,
                    u: used.year.total.u,
                })
                .collect(),
        }
        .both("cost")
    });
    let description = t("use-description-profile")
        .with("count", cost.used.len())
        .with("class", &class_words)
        .with("profile", &text.title)
        .with("hours", profile_words(profile));
    let mut preview = Query::new().with("use", &profile.id);
    for (name, value) in asked.loads() {
        preview.push(&name, &value);
    }
    if let Some(class) = &asked.narrowing.filter.class {
        preview.push("class", class);
    }
    let chrome = visit
        .chrome(t("use-title").with("profile", &text.title).to_string())
        .describe(description.to_string())
        .canonical(own_address.clone())
        .image(urls::preview(&preview))
        .here(Here::Choose)
        .style("chart.css");
    let is_own = profile.id == OWN;
    let plain = !asked.narrowing.is_narrow() && asked.narrowing.notices.is_empty() && !is_own;
    let chrome = if plain { chrome } else { chrome.not_indexed() };
    let query = asked.query(site);
    let first = (page - 1) * PER_PAGE + 1;
    public(&CostPage {
        chrome,
        choices: choices(urls::USE),
        profiles: profile_links(&profile.id),
        profile: ProfileView {
            title: text.title,
            words: profile_words(profile),
            note: text.note,
            source: text.source,
        },
        own: is_own.then(|| own_loads(Some(profile))),
        form: asked.narrowing.form(site),
        hidden: asked.loads(),
        action: asked.path(),
        tariff: tariff.map_or(String::new(), |t| format::field(t.per_kwh)),
        currency: tariff.map_or(String::new(), |t| t.currency.clone()),
        summary: summary(&asked, &cost, &class_words),
        notices: asked.narrowing.notices.clone(),
        chart,
        columns: columns(&asked, site),
        count: count_words(first, rows.len(), cost.used.len()),
        rows,
        lacking: cost
            .lacking
            .iter()
            .take(500)
            .map(|(row, lacks)| Lacking {
                name: name(row),
                url: urls::unit(&row.slug),
                reason: lacks_words(lacks),
            })
            .collect(),
        csv_url: query.on(&urls::table(&asked.path(), "csv")),
        json_url: query.on(&urls::table(&asked.path(), "json")),
        previous: (page > 1 && !site.config.as_files).then(|| asked.paged(site, page - 1)),
        next: (page < pages && !site.config.as_files).then(|| asked.paged(site, page + 1)),
        page,
        pages,
        line: format::line(
            site.method.formula.line.voltage_v,
            site.method.formula.line.frequency_hz,
        ),
        link: visit.absolute(&own_address),
        licence: site.config.licence.clone(),
    })
}

/// "101–200 of 250 units": which of all units a page shows.
pub fn count_words(first: usize, shown: usize, all: usize) -> String {
    let text = match all {
        0 => t("units"),
        _ => t("board-count")
            .with("first", first)
            .with("last", first + shown - 1),
    };
    text.with("count", all).to_string()
}

/// Maker, model and, where there are several, the sample.
pub fn name(row: &Row) -> String {
    match &row.sample {
        Some(sample) => t("unit-of-sample")
            .with("unit", row.name())
            .with("sample", sample)
            .to_string(),
        None => row.name(),
    }
}

/// Why a unit has no figure, in words.
pub fn lacks_words(lacks: &Lacks) -> String {
    match lacks {
        Lacks::LossModel => word("lacks-loss-model").to_owned(),
        Lacks::NoLoad => word("lacks-no-load").to_owned(),
        Lacks::Load {
            power_w,
            covered_to_w,
        } => t("lacks-load")
            .with("covered", format::watts(*covered_to_w))
            .with("power", format::rated_watts(*power_w))
            .to_string(),
    }
}

/// An amount of money: cents, or more digits where there would be none.
fn money(amount: f64, currency: &str) -> String {
    let digits = if amount != 0.0 && amount.abs() < 0.1 {
        format::significant(amount, 1)
    } else {
        format::fixed(amount, 2)
    };
    format::price(&digits, currency)
}

fn line(used: &Used, tariff: Option<&Tariff>) -> Line {
    let row = used.row;
    let bare = |measured| {
        let mut text = PlusMinus::of(measured, KWH, 3);
        text.unit = "";
        text
    };
    let cost = tariff.map(|tariff| {
        let amount = money(used.year.total.value * tariff.per_kwh, &tariff.currency);
        match used.year.total.expanded().filter(|u| *u > 0.0) {
            Some(u) => format!("{amount} ± {}", format::significant(u * tariff.per_kwh, 2)),
            None => amount,
        }
    });
    let years = usage::matters().years;
    let beyond = if used.is_best {
        word("use-is-least").to_owned()
    } else if used.like_best {
        word("use-like-least").to_owned()
    } else {
        let kwh = used.beyond_best.value;
        match tariff {
            Some(tariff) => {
                let a_year = kwh * tariff.per_kwh;
                t("use-beyond-cost")
                    .with("a-year", money(a_year, &tariff.currency))
                    .with("over-years", money(years * a_year, &tariff.currency))
                    .with("years", format::plain(years))
            }
            None => {
                let energy = format::with_unit(format::significant(kwh, 2), "kWh");
                t("use-beyond-energy").with("energy", energy)
            }
        }
        .to_string()
    };
    Line {
        name: row.name(),
        sample: row.sample.clone(),
        url: urls::unit(&row.slug),
        class: format::class_label(&row.class.label),
        rank: used.rank.to_string(),
        energy: bare(used.year.total),
        no_load: format::significant(used.year.no_load.value, 2),
        cost,
        beyond,
        price: row
            .price
            .zip(row.currency.as_deref())
            .map(|(price, currency)| format::price(&format::fixed(price, 2), currency)),
        total: tariff.and_then(|tariff| {
            let total = used.price_and_loss(tariff.per_kwh, &tariff.currency)?;
            Some(money(total, &tariff.currency))
        }),
        is_best: used.is_best,
    }
}

/// What a buyer should take from the table.
fn summary(asked: &Asked, cost: &CostOfUse, class_words: &str) -> Vec<String> {
    if asked.narrowing.filter.class.is_none() {
        return vec![word("use-choose-class").to_owned()];
    }
    let Some(widest) = cost.widest() else {
        return Vec::new();
    };
    if widest.like_best {
        return vec![t("use-all-alike").with("class", class_words).to_string()];
    }
    let mut sentences = vec![spread(asked, cost, widest, class_words)];
    let alike = cost
        .used
        .iter()
        .filter(|used| used.like_best && !used.is_best)
        .count();
    if alike > 0 {
        sentences.push(t("use-some-alike").with("count", alike).to_string());
    }
    sentences
}

/// How far the least and the most loss of a class lie apart, and whether that matters.
fn spread(asked: &Asked, cost: &CostOfUse, widest: &Used, class_words: &str) -> String {
    let kwh = widest.beyond_best.value;
    let said = |text: Text| {
        let energy = format::with_unit(format::significant(kwh, 2), "kWh");
        text.with("class", class_words).with("energy", energy)
    };
    let Some(tariff) = &asked.tariff else {
        return said(t("use-spread")).to_string();
    };
    let matters = usage::matters();
    let over_years = matters.years * kwh * tariff.per_kwh;
    let share_percent = matters.share_of_median_price_percent;
    let text = match cost.median_price(&tariff.currency) {
        None => t("use-spread.cost"),
        Some(median) => {
            let text = if over_years < share_percent / 100.0 * median {
                let share = format::with_unit(format::plain(share_percent), "%");
                t("use-spread.little").with("share", share)
            } else {
                t("use-spread.much")
            };
            text.with("median", money(median, &tariff.currency))
        }
    };
    said(text)
        .with("a-year", money(kwh * tariff.per_kwh, &tariff.currency))
        .with("over-years", money(over_years, &tariff.currency))
        .with("years", format::plain(matters.years))
        .to_string()
}

fn columns(asked: &Asked, site: &Site) -> Vec<ColumnHead> {
    let currency = asked.tariff.as_ref().map(|tariff| tariff.currency.as_str());
    let column = |label: String, title, sort: Option<Sort>, numeric| {
        let sorted = sort == Some(asked.sort);
        // Where no program answers the list stands in one order.
        let url = sort.filter(|_| !site.config.as_files).map(|sort| {
            let descending = if sorted {
                !asked.descending
            } else {
                sort.descending_first()
            };
            let turned = Asked {
                profile: asked.profile.clone(),
                narrowing: Narrowing {
                    filter: asked.narrowing.filter.clone(),
                    notices: Vec::new(),
                },
                tariff: asked.tariff.clone(),
                sort,
                descending,
                page: 1,
            };
            turned.paged(site, 1)
        });
        let sorted = sorted.then_some(if asked.descending {
            "descending"
        } else {
            "ascending"
        });
        ColumnHead {
            label,
            title,
            url,
            sorted,
            numeric,
        }
    };
    let mut all = vec![
        column(
            word("board-rank").into(),
            word("use-rank-title"),
            None,
            true,
        ),
        column(
            word("board-unit").into(),
            word("board-unit.title"),
            Some(Sort::Name),
            false,
        ),
        column(
            word("use-energy").into(),
            word("use-energy.title"),
            Some(Sort::Energy),
            true,
        ),
        column(
            word("use-unloaded").into(),
            word("use-unloaded.title"),
            Some(Sort::NoLoad),
            true,
        ),
    ];
    if let Some(currency) = currency {
        all.push(column(
            t("use-cost").with("currency", currency).to_string(),
            word("use-cost.title"),
            None,
            true,
        ));
    }
    all.push(column(
        word("use-beyond").into(),
        word("use-beyond.title"),
        None,
        false,
    ));
    all.push(column(
        word("column-price").into(),
        word("column-price.title"),
        Some(Sort::Price),
        true,
    ));
    if currency.is_some() {
        all.push(column(
            word("use-total").into(),
            word("use-total.title"),
            Some(Sort::Total),
            true,
        ));
    }
    all
}

async fn as_csv(visit: Visit, Path(id): Path<String>, pairs: Pairs) -> Result<Response, Error> {
    download(&visit, &id, &pairs, "csv")
}

async fn as_json(visit: Visit, Path(id): Path<String>, pairs: Pairs) -> Result<Response, Error> {
    download(&visit, &id, &pairs, "json")
}

/// The whole table, units without a figure included, with the reason.
fn download(visit: &Visit, id: &str, pairs: &Pairs, extension: &str) -> Result<Response, Error> {
    let site = &visit.site;
    let data = site.public();
    let asked = Asked::of(visit, id, pairs)?;
    let cost = asked.cost(&data);
    let tariff = asked.tariff.as_ref();
    let currency = tariff.map_or("", |tariff| tariff.currency.as_str());
    let a_year = if currency.is_empty() {
        String::new()
    } else {
        format!("{currency}/a")
    };
    let title = t("use-file").with("profile", use_words::of(&asked.profile).title);
    let mut table = Table::new(title.to_string(), "cost-of-use", asked.paged(site, 1)).with(&[
        ("rank_best", ""),
        ("rank_worst", ""),
        ("maker", ""),
        ("model", ""),
        ("sample", ""),
        ("slug", ""),
        ("class", ""),
        ("run", ""),
        ("energy_lost", "kWh/a"),
        ("energy_lost_expanded_uncertainty_k2", "kWh/a"),
        ("energy_lost_at_no_load", "kWh/a"),
        ("energy_delivered", "kWh/a"),
        ("more_than_least_of_class", "kWh/a"),
        ("cannot_be_told_from_least", ""),
        ("cost", &a_year),
        ("price", ""),
        ("price_currency", ""),
        ("price_and_5_years_of_losses", currency),
        ("no_figure_because", ""),
    ]);
    let unit = |row: &Row| -> Vec<Cell> {
        vec![
            row.maker.clone().into(),
            row.model.clone().into(),
            row.sample.clone().into(),
            row.slug.clone().into(),
            row.class.id.clone().into(),
            row.run.clone().into(),
        ]
    };
    for used in &cost.used {
        let mut cells: Vec<Cell> = vec![
            (used.rank.best as f64).into(),
            (used.rank.worst as f64).into(),
        ];
        cells.extend(unit(used.row));
        cells.extend([
            used.year.total.value.into(),
            used.year.total.expanded().into(),
            used.year.no_load.value.into(),
            used.year.delivered_kwh.into(),
            used.beyond_best.value.into(),
            used.like_best.into(),
            tariff.map(|t| t.per_kwh * used.year.total.value).into(),
            used.row.price.into(),
            used.row.currency.clone().into(),
            tariff
                .and_then(|t| used.price_and_loss(t.per_kwh, &t.currency))
                .into(),
            Cell::Unknown,
        ]);
        table.rows.push(cells);
    }
    for (row, lacks) in &cost.lacking {
        let mut cells = vec![Cell::Unknown, Cell::Unknown];
        cells.extend(unit(row));
        cells.extend(vec![Cell::Unknown; 7]);
        cells.extend([
            row.price.into(),
            row.currency.clone().into(),
            Cell::Unknown,
            lacks_words(lacks).replace('\u{202f}', " ").into(),
        ]);
        table.rows.push(cells);
    }
    Ok(table.response(visit, extension))
}
