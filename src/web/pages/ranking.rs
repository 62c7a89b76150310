//! The leaderboard, overall and of one class: filter, sort, search, page. All of it comes from
//! the standings in memory; the address holds the whole state.

use super::{Site, columns as figures, elsewhere, public};
use crate::web::filters;
use crate::{
    bench::record::Category,
    chart::{Chart, ClassOverview, LimitLine, LoadAxis},
    evaluate::{Method, evaluation::Outcome},
    ranking::{Filter, Row, SortKey, VerdictFilter, View},
    standards::{Role, WattageClass},
    text::{self, t, word},
    web::{
        chrome::{Chrome, Here},
        error::Error,
        extract::{Pairs, Path, Visit},
        format::{self, PlusMinus},
        state::Public,
        structured_data,
        urls::{self, Query},
    },
};
use askama::Template;
use axum::{Router, response::Response, routing::get};

pub fn routes() -> Router<Site> {
    Router::new()
        .route("/", get(overall))
        .route("/class/{id}", get(of_class))
}

#[derive(Template)]
#[template(path = "pages/ranking.html")]
struct RankingPage<'a> {
    chrome: Chrome,
    heading: String,
    classes: Vec<ClassLink>,
    filter: FilterForm<'a>,
    /// What could not be read of the address, in words.
    notices: Vec<String>,
    /// Which ports give how much at the same time, where that is asked for.
    together: Option<String>,
    /// Efficiency of the class's units, drawn; on its first page alone.
    chart: Option<String>,
    /// The power that the drawn limits are for.
    limits_at: String,
    columns: Vec<Column>,
    /// Headings together with the box to tick, for a row across the table.
    headings: usize,
    rows: Vec<Line<'a>>,
    /// "1–50 of 312 units"
    count: String,
    empty: Option<Empty>,
    /// Nothing at all is published.
    blank: bool,
    pager: Pager,
    /// This view's own address, to be shared.
    link: String,
    /// The same table as files, all pages in one.
    csv_url: String,
    json_url: String,
    licence: Option<String>,
    /// The class's chart for pages of others.
    class_chart_url: Option<String>,
    /// What ranks and ± mean.
    caption: &'static str,
    words: Words,
    /// Of a class.
    report_url: Option<String>,
}

/// What stands in every line, looked up once.
struct Words {
    rank: &'static str,
    score: &'static str,
    verdicts: &'static str,
    provisional: &'static str,
    prov: &'static str,
    unknown: &'static str,
    not_measured: &'static str,
    /// What stands before and behind a unit's name where it is chosen.
    pick: (String, String),
}

struct ClassLink {
    /// Short: "15–30 W".
    label: String,
    /// As the class is called elsewhere.
    title: String,
    url: String,
    units: usize,
    current: bool,
}

/// A column's heading with the link that sorts by it.
struct Column {
    label: &'static str,
    /// Spoken and shown on hover where the label is short.
    title: &'static str,
    url: Option<String>,
    /// `ascending`, `descending`; none where the table is not sorted by it.
    sorted: Option<&'static str>,
    numeric: bool,
}

/// One unit's line, ready to show.
struct Line<'a> {
    row: &'a Row,
    /// With the sample.
    name: String,
    url: String,
    rank: Option<String>,
    score: Option<PlusMinus>,
    marks: Vec<Mark<'a>>,
    cells: Vec<Cell>,
    /// The first provisional unit in an order by score begins its own part of the table.
    begins_provisional: bool,
}

struct Cell {
    label: &'static str,
    numeric: bool,
    /// None: not measured or not known.
    text: Option<String>,
}

/// A regime's result, told by sign and word.
pub struct Mark<'a> {
    pub outcome: &'static str,
    pub sign: &'static str,
    pub word: &'static str,
    pub label: &'a str,
    pub regime: &'a str,
}

impl<'a> Mark<'a> {
    pub fn new(regime: &'a str, outcome: Outcome) -> Mark<'a> {
        Mark {
            outcome: outcome.id(),
            sign: format::outcome_sign(outcome),
            word: format::outcome(outcome),
            label: abbreviated(regime),
            regime,
        }
    }
}

/// The end of a regime's short name that still tells it from the others: "Level VI" -> "VI",
/// "CoC v5 Tier 1" -> "Tier 1".
fn abbreviated(short: &str) -> &str {
    let mut from = short.len();
    for (at, _) in short.rmatch_indices(' ') {
        from = at + 1;
        if short.len() - from >= 2 {
            break;
        }
    }
    if from == short.len() {
        short
    } else {
        &short[from..]
    }
}

struct Choice {
    value: String,
    label: String,
    selected: bool,
}

struct FilterForm<'a> {
    search: &'a str,
    classes: Vec<Choice>,
    makers: Vec<Choice>,
    regimes: Vec<Choice>,
    verdicts: Vec<Choice>,
    sorts: Vec<Choice>,
    currencies: Vec<Choice>,
    /// Columns that can be had; those that the table has are ticked.
    columns: Vec<Choice>,
    /// Other columns than the usual ones were chosen.
    columns_open: bool,
    ports: String,
    usb_c: String,
    each_w: String,
    price: String,
    from: &'a str,
    to: &'a str,
    descending: bool,
    /// Something besides search and class is asked for: the folded part stands open.
    open: bool,
    /// Without any filter.
    reset_url: String,
    active: bool,
}

/// Why there is nothing to show, and the way on.
struct Empty {
    message: &'static str,
    reset_url: Option<String>,
}

struct Pager {
    page: usize,
    pages: usize,
    previous: Option<String>,
    next: Option<String>,
}

async fn overall(visit: Visit, pairs: Pairs) -> Result<Response, Error> {
    ranking(&visit, &pairs, None)
}

async fn of_class(visit: Visit, Path(id): Path<String>, pairs: Pairs) -> Result<Response, Error> {
    if !visit.site.method.classes.iter().any(|class| class.id == id) {
        return Err(Error::NotFound(t("no-class").with("id", id).to_string()));
    }
    ranking(&visit, &pairs, Some(id))
}

fn ranking(visit: &Visit, pairs: &Pairs, class: Option<String>) -> Result<Response, Error> {
    let data = visit.site.public();
    let Asked { mut view, notices } = Asked::of(pairs, class, &visit.site, &data);
    let page = data.standings.page(&view);
    view.page = page.page;
    let own = address(&view);
    if notices.is_empty() && own != visit.target {
        return elsewhere(&own);
    }
    let in_sight = figures::shown(&view, &data.standings.present(&view.filter));
    let in_class = view.filter.class.is_some();
    let class = visit
        .site
        .method
        .classes
        .iter()
        .find(|c| Some(&c.id) == view.filter.class.as_ref());
    let heading = heading(class);
    let main = main_regimes(&visit.site);
    let short = |id: &str| short_name(&visit.site, id);
    // Looked up once and not in every line.
    let shown: Vec<(SortKey, &'static str, bool)> = in_sight
        .iter()
        .map(|key| {
            (
                *key,
                figures::card_label(*key),
                figures::heading(*key).numeric,
            )
        })
        .collect();
    let mut rows: Vec<Line> = page
        .rows
        .iter()
        .map(|row| Line {
            row,
            name: match &row.sample {
                Some(sample) => format!(
                    "{} {} {}",
                    row.maker,
                    row.model,
                    t("sample").with("name", sample)
                ),
                None => format!("{} {}", row.maker, row.model),
            },
            url: urls::unit(&row.slug),
            rank: data.standings.ranks(&row.slug).map(|ranks| {
                let rank = if in_class { ranks.class } else { ranks.overall };
                rank.to_string()
            }),
            score: row.score.map(|score| PlusMinus::score(score, row.score_u)),
            marks: row
                .verdicts
                .iter()
                .filter(|(id, _)| main.contains(&id.as_str()))
                .map(|(id, outcome)| Mark::new(short(id), *outcome))
                .collect(),
            cells: shown
                .iter()
                .map(|&(key, label, numeric)| Cell {
                    label,
                    numeric,
                    text: figures::cell(row, key, view.filter.together(row)),
                })
                .collect(),
            begins_provisional: false,
        })
        .collect();
    if view.sort == SortKey::Score
        && let Some(first) = rows.iter_mut().find(|line| line.row.provisional)
    {
        first.begins_provisional = true;
    }
    let plain = Filter {
        class: view.filter.class.clone(),
        ..Filter::default()
    };
    let filtered = view.filter != plain;
    let reset_url = address(&View {
        filter: plain,
        ..View::default()
    });
    let chart = class
        .filter(|_| !filtered && view.page == 1 && page.total > 0)
        .map(|class| {
            let all = data.standings.all(&view.filter, SortKey::Score, true);
            ClassOverview::of_rows(
                &format::class_label(&class.label),
                all,
                None,
                LoadAxis::PercentOfRated,
            )
            .with_limits(class_limits(&visit.site.method, class))
            .both("class")
        });
    let blank = data.standings.is_empty();
    let empty = rows.is_empty().then(|| Empty {
        message: if filtered {
            word("board-none-fits")
        } else if in_class {
            word("board-none-of-class")
        } else {
            word("board-none")
        },
        reset_url: filtered.then(|| reset_url.clone()),
    });
    let count = match page.total {
        0 => t("units").with("count", 0_usize).to_string(),
        total => t("board-count")
            .with("first", page.first)
            .with("last", page.first + rows.len() - 1)
            .with("count", total)
            .to_string(),
    };
    let description = t("ranking-description").with("count", page.total);
    let turned = |to: usize| {
        address(&View {
            page: to,
            ..view.clone()
        })
    };
    let first_page = View {
        page: 1,
        ..view.clone()
    };
    let path = class.map_or(urls::page(urls::HOME), |class| urls::class(&class.id));
    let (csv_url, json_url) = super::ranking_table::addresses(&path, &view_query(&first_page));
    let list = structured_data::list(
        visit,
        &heading,
        &own,
        page.first.max(1),
        rows.iter().map(|line| line.row),
    );
    let chrome = visit
        .chrome(heading.clone())
        .describe(description.to_string())
        .canonical(own.clone())
        .image(match &view.filter.class {
            Some(class) => urls::class_preview(class),
            None => urls::HOME_PREVIEW.to_owned(),
        })
        .about(&list)
        .here(Here::Ranking)
        .style("chart.css");
    // Without any unit there is nothing to search or to choose, and the script has no work.
    let chrome = if blank {
        chrome
    } else {
        chrome.script(if visit.site.config.as_files {
            "as_files.js"
        } else {
            "board.js"
        })
    };
    let chrome = if filtered || view.columns.is_some() || !notices.is_empty() {
        chrome.not_indexed()
    } else {
        chrome
    };
    let columns = columns(&view, &in_sight);
    public(&RankingPage {
        chrome,
        heading,
        classes: class_links(visit, &data, &view),
        filter: filter_form(visit, &data, &view, reset_url, filtered),
        notices,
        together: together_words(&view.filter),
        chart,
        limits_at: class.map_or(String::new(), |c| format::rated_watts(class_end_w(c))),
        headings: columns.len() + 1,
        columns,
        rows,
        count,
        empty,
        blank,
        pager: Pager {
            page: page.page,
            pages: page.pages,
            previous: (page.page > 1).then(|| turned(page.page - 1)),
            next: (page.page < page.pages).then(|| turned(page.page + 1)),
        },
        link: visit.absolute(&own),
        csv_url,
        json_url,
        licence: visit.site.config.licence.clone(),
        class_chart_url: class.map(|class| urls::class_chart(&class.id)),
        caption: if in_class {
            word("board-caption-class")
        } else {
            word("board-caption-all")
        },
        words: Words {
            rank: word("board-rank"),
            score: word("board-score"),
            verdicts: word("board-verdicts"),
            provisional: word("board-provisional"),
            prov: word("board-provisional.short"),
            unknown: word("uncertainty-unknown"),
            not_measured: word("not-measured"),
            pick: t("board-pick-unit").around("unit"),
        },
        report_url: class.map(|class| urls::class_report(&class.id)),
    })
}

/// Ids of the rules whose results a line of the ranking shows.
pub(super) fn main_regimes(site: &Site) -> Vec<&str> {
    let regimes = site.method.standards.regimes.iter();
    regimes
        .filter(|r| matches!(r.role, Role::Law | Role::Voluntary) && r.limits_known)
        .map(|r| r.id.as_str())
        .collect()
}

pub(super) fn short_name<'a>(site: &'a Site, regime: &str) -> &'a str {
    let regime = site.method.standards.regime(regime);
    regime.map_or("", |r| r.short.as_str())
}

/// The columns in the order of [`Line`]'s fields.
fn columns(view: &View, in_sight: &[SortKey]) -> Vec<Column> {
    let column = |label, title, key: Option<SortKey>, numeric| {
        let sorted = key == Some(view.sort);
        let descending = match key {
            Some(key) if !sorted => key.descending_first(),
            _ => !view.descending,
        };
        Column {
            label,
            title,
            url: key.map(|sort| {
                address(&View {
                    sort,
                    descending,
                    page: 1,
                    ..view.clone()
                })
            }),
            sorted: sorted.then_some(if view.descending {
                "descending"
            } else {
                "ascending"
            }),
            numeric,
        }
    };
    let mut columns = vec![
        column(word("board-rank"), word("board-rank.title"), None, true),
        column(
            word("board-unit"),
            word("board-unit.title"),
            Some(SortKey::Name),
            false,
        ),
        column(
            word("board-score"),
            word("board-score.title"),
            Some(SortKey::Score),
            true,
        ),
        column(
            word("board-verdicts"),
            word("board-verdicts.title"),
            Some(SortKey::Verdict),
            false,
        ),
    ];
    columns.extend(in_sight.iter().map(|key| {
        let heading = figures::heading(*key);
        column(heading.label, heading.title, Some(*key), heading.numeric)
    }));
    columns
}

fn class_links(visit: &Visit, data: &Public, view: &View) -> Vec<ClassLink> {
    let link = |label, title, class: Option<&String>, units| ClassLink {
        label,
        title,
        url: address(&View {
            filter: Filter {
                class: class.cloned(),
                ..view.filter.clone()
            },
            page: 1,
            ..view.clone()
        }),
        units,
        current: view.filter.class.as_ref() == class,
    };
    let all = std::iter::once(link(
        word("ranking-all-short").to_owned(),
        word("all-classes").to_owned(),
        None,
        data.standings.rows().len(),
    ));
    let each = visit.site.method.classes.iter().map(|class| {
        let units = data.class_counts.get(&class.id).copied().unwrap_or(0);
        link(
            short_class(class),
            format::class_label(&class.label),
            Some(&class.id),
            units,
        )
    });
    all.chain(each).collect()
}

/// `to 15 W`, `15–30 W`, `over 240 W`.
fn short_class(class: &WattageClass) -> String {
    match (class.over_w, class.up_to_w) {
        (0.0, Some(up_to)) => t("class-short-to")
            .with("watts", format::rated_watts(up_to))
            .to_string(),
        (over, Some(up_to)) => {
            format!("{}–{}", format::plain(over), format::rated_watts(up_to))
        }
        (over, None) => t("class-short-over")
            .with("watts", format::rated_watts(over))
            .to_string(),
    }
}

/// Minimum average efficiencies that a unit of basic voltage at the upper end of the class must
/// reach by the rules in force; rules that ask for the same share a line.
pub fn class_limits(method: &Method, class: &WattageClass) -> Vec<LimitLine> {
    let watts = class_end_w(class);
    let mut lines: Vec<LimitLine> = Vec::new();
    for regime in &method.standards.regimes {
        let limit = (regime.role == Role::Law)
            .then(|| regime.row(regime.category(Category::Basic)?, watts))
            .flatten()
            .map(|row| row.avg_efficiency.at(watts));
        let Some(limit) = limit else { continue };
        let label = abbreviated(&regime.short);
        match lines.iter_mut().find(|l| (l.value - limit).abs() < 1e-9) {
            Some(line) => line.label = format!("{}, {label}", line.label),
            None => lines.push(LimitLine::new(label, limit)),
        }
    }
    lines
}

/// The power that stands for a class where a limit depends on it.
pub fn class_end_w(class: &WattageClass) -> f64 {
    class.up_to_w.unwrap_or(class.over_w)
}

fn filter_form<'a>(
    visit: &Visit,
    data: &Public,
    view: &'a View,
    reset_url: String,
    active: bool,
) -> FilterForm<'a> {
    let filter = &view.filter;
    let choice = |value: &str, label: String, selected| Choice {
        value: value.to_owned(),
        label,
        selected,
    };
    let regime = filter.verdict.as_ref().map(|(id, _)| id.as_str());
    let wanted = filter.verdict.as_ref().map(|(_, wanted)| *wanted);
    let number = |n: Option<u32>| n.map_or(String::new(), |n| n.to_string());
    FilterForm {
        search: &filter.search,
        classes: visit
            .site
            .method
            .classes
            .iter()
            .map(|c| {
                choice(
                    &c.id,
                    format::class_label(&c.label),
                    filter.class.as_ref() == Some(&c.id),
                )
            })
            .collect(),
        makers: data
            .makers
            .iter()
            .map(|(maker, units)| {
                choice(
                    maker,
                    format!("{maker} ({units})"),
                    filter.maker.as_ref() == Some(maker),
                )
            })
            .collect(),
        regimes: visit
            .site
            .method
            .standards
            .regimes
            .iter()
            .filter(|r| r.limits_known)
            .map(|r| choice(&r.id, r.short.clone(), regime == Some(&r.id)))
            .collect(),
        verdicts: VERDICT_FILTERS
            .into_iter()
            .map(|kind| {
                choice(
                    kind.id(),
                    verdict_words(kind).to_owned(),
                    wanted == Some(kind),
                )
            })
            .collect(),
        sorts: SortKey::ALL
            .into_iter()
            .filter(|key| {
                !SortKey::COLUMNS.contains(key)
                    || SortKey::USUAL_COLUMNS.contains(key)
                    || data.present.contains(key)
                    || *key == view.sort
            })
            .map(|key| choice(key.id(), sort_label(key).to_owned(), key == view.sort))
            .collect(),
        columns: SortKey::COLUMNS
            .into_iter()
            .filter(|key| data.present.contains(key))
            .map(|key| {
                choice(
                    key.id(),
                    sort_label(key).to_owned(),
                    figures::chosen(view, key),
                )
            })
            .collect(),
        columns_open: view.columns.is_some(),
        currencies: data
            .currencies
            .iter()
            .map(|c| choice(c, c.clone(), filter.currency.as_ref() == Some(c)))
            .collect(),
        ports: number(filter.ports_at_least),
        usb_c: number(filter.usb_c_at_least),
        each_w: filter.each_w.map_or(String::new(), format::field),
        price: filter.price_at_most.map_or(String::new(), format::field),
        from: filter.tested_from.as_deref().unwrap_or(""),
        to: filter.tested_to.as_deref().unwrap_or(""),
        descending: view.descending,
        open: *filter
            != Filter {
                class: filter.class.clone(),
                search: filter.search.clone(),
                ..Filter::default()
            },
        reset_url,
        active,
    }
}

pub(super) const VERDICT_FILTERS: [VerdictFilter; 8] = [
    VerdictFilter::Passes,
    VerdictFilter::Fails,
    VerdictFilter::Is(Outcome::Pass),
    VerdictFilter::Is(Outcome::ConditionalPass),
    VerdictFilter::Is(Outcome::ConditionalFail),
    VerdictFilter::Is(Outcome::Fail),
    VerdictFilter::Is(Outcome::Incomplete),
    VerdictFilter::Is(Outcome::NotAssessed),
];

fn verdict_words(wanted: VerdictFilter) -> &'static str {
    match wanted {
        VerdictFilter::Passes => word("outcome-passes"),
        VerdictFilter::Fails => word("outcome-fails"),
        VerdictFilter::Is(outcome) => format::outcome(outcome),
    }
}

/// What an order, or a column to choose, is called in a list.
fn sort_label(key: SortKey) -> &'static str {
    match key {
        SortKey::Score => word("sort-score"),
        SortKey::Name => word("sort-name"),
        SortKey::OutputPower => word("sort-output-power"),
        SortKey::Verdict => word("sort-verdicts"),
        column => figures::choice(column),
    }
}

/// That a value of the address was not understood.
pub(super) fn left_out_words(name: &str, value: &str, expected: &str) -> String {
    let value: String = value.chars().take(40).collect();
    t("left-out")
        .with("name", name)
        .with("value", value)
        .with("expected", expected)
        .to_string()
}

/// A view as asked for in an address, and what of it could not be read.
pub(super) struct Asked {
    pub view: View,
    pub notices: Vec<String>,
}

/// Watts as people write them: `65`, `65 W`, `27,5`.
pub(super) fn watts(text: &str) -> Option<f64> {
    let number = text.trim().trim_end_matches(['W', 'w']).trim_end();
    number.replace(',', ".").parse().ok()
}

/// What the page lists.
pub(super) fn heading(class: Option<&WattageClass>) -> String {
    match class {
        Some(class) => t("ranking-class")
            .with("class", format::class_label(&class.label))
            .to_string(),
        None => word("ranking-all").to_owned(),
    }
}

/// Which ports are asked to give how much at the same time, in words.
pub(super) fn together_words(filter: &Filter) -> Option<String> {
    let each = format::rated_watts(filter.each_w?);
    let (count, of_usb_c) = match (filter.usb_c_at_least, filter.ports_at_least) {
        (Some(count), _) => (count, true),
        (None, count) => (count.unwrap_or(1), false),
    };
    let text = match (count.max(1), of_usb_c) {
        (1, false) => t("together-port"),
        (1, true) => t("together-usb-c-port"),
        (count, false) => t("together-ports").with("count", count),
        (count, true) => t("together-usb-c-ports").with("count", count),
    };
    Some(text.with("watts", each).to_string())
}

/// More than this is no search.
const LONGEST_TEXT: usize = 120;

impl Asked {
    /// Reads leniently: what makes no sense is left out and said so. `class` is the one of the
    /// path, which goes before one of the query.
    pub fn of(pairs: &Pairs, class: Option<String>, site: &Site, data: &Public) -> Asked {
        let mut notices = Vec::new();
        let mut left_out = |name: &str, value: &str, expected: &str| {
            notices.push(left_out_words(name, value, expected));
        };
        let text = |name| -> Option<String> {
            let value: String = pairs.last(name)?.chars().take(LONGEST_TEXT).collect();
            Some(value.split_whitespace().collect::<Vec<_>>().join(" "))
        };
        let mut filter = Filter {
            class,
            maker: text("maker"),
            search: text("q").unwrap_or_default(),
            ..Filter::default()
        };
        if filter.class.is_none()
            && let Some(id) = pairs.last("class")
        {
            match site.method.classes.iter().find(|class| class.id == id) {
                Some(class) => filter.class = Some(class.id.clone()),
                None => left_out(word("asked-class"), id, word("expected-class")),
            }
        }
        let mut count = |name: &'static str, label: &str| -> Option<u32> {
            let value = pairs.last(name)?;
            match value.parse::<u32>() {
                Ok(0) => None,
                Ok(n) if n <= 99 => Some(n),
                _ => {
                    left_out(label, value, word("expected-count"));
                    None
                }
            }
        };
        filter.ports_at_least = count("ports", word("asked-ports"));
        filter.usb_c_at_least = count("usb_c", word("asked-usb-c"));
        if let Some(value) = pairs.last("each_w") {
            match watts(value).filter(|w| (0.1..=1000.0).contains(w)) {
                Some(each_w) => filter.each_w = Some(each_w),
                None => left_out(word("asked-watts"), value, word("expected-watts")),
            }
        }
        if let Some(value) = pairs.last("verdict") {
            let first = site
                .method
                .standards
                .regimes
                .first()
                .map_or("", |r| r.id.as_str());
            let regime = pairs.last("regime").unwrap_or(first);
            match (
                VerdictFilter::from_id(value),
                site.method.standards.regime(regime),
            ) {
                (Some(wanted), Some(regime)) => filter.verdict = Some((regime.id.clone(), wanted)),
                (None, _) => left_out(word("asked-verdict"), value, word("expected-result")),
                (_, None) => left_out(word("filter-rule"), regime, word("expected-rule")),
            }
        }
        if let Some(value) = pairs.last("price") {
            match value.replace(',', ".").parse::<f64>() {
                Ok(price) if price > 0.0 && price <= 1e6 => {
                    filter.price_at_most = Some(price);
                    filter.currency = pairs
                        .last("currency")
                        .filter(|c| data.currencies.iter().any(|known| known == c))
                        .map(str::to_owned)
                        .or_else(|| data.currencies.first().cloned());
                }
                _ => left_out(word("asked-price"), value, word("expected-price")),
            }
        }
        let mut date = |name: &'static str, label: &str| -> Option<String> {
            let value = pairs.last(name)?;
            let format = time::macros::format_description!("[year]-[month]-[day]");
            match time::Date::parse(value, format) {
                Ok(_) => Some(value.to_owned()),
                Err(_) => {
                    left_out(label, value, word("expected-date"));
                    None
                }
            }
        };
        filter.tested_from = date("from", word("filter-from"));
        filter.tested_to = date("to", word("filter-to"));
        let sort = match pairs.last("sort") {
            None => SortKey::Score,
            Some(id) => SortKey::from_id(id).unwrap_or_else(|| {
                left_out(word("asked-sort"), id, word("expected-column"));
                SortKey::Score
            }),
        };
        let descending = match pairs.last("dir") {
            Some("asc") => false,
            Some("desc") => true,
            None => sort.descending_first(),
            Some(other) => {
                left_out(word("asked-direction"), other, word("expected-direction"));
                sort.descending_first()
            }
        };
        let columns = asked_columns(pairs, &data.present, &mut left_out);
        let page = match pairs.last("page") {
            None => 1,
            Some(value) => match value.parse::<usize>() {
                Ok(page) if page >= 1 => page,
                _ => {
                    left_out(word("asked-page"), value, word("expected-page"));
                    1
                }
            },
        };
        let view = View {
            filter,
            sort,
            descending,
            columns,
            page,
            ..View::default()
        };
        Asked { view, notices }
    }
}

/// The word for a table without any of the figures that can be chosen.
const NO_COLUMNS: &str = "none";

/// The columns chosen: words separated by commas, in one value or several. `None` where nothing
/// was said, or just the usual ones as far as they exist here. The form sends an empty value
/// before its ticks, so that taking every tick away is a choice too.
fn asked_columns(
    pairs: &Pairs,
    present: &[SortKey],
    left_out: &mut impl FnMut(&str, &str, &str),
) -> Option<Vec<SortKey>> {
    if !pairs.0.iter().any(|(name, _)| name == "columns") {
        return None;
    }
    let mut asked = Vec::new();
    for word in pairs
        .all("columns")
        .flat_map(|value| value.split(','))
        .map(str::trim)
        .filter(|word| !word.is_empty() && *word != NO_COLUMNS)
    {
        match SortKey::from_id(word).filter(|key| SortKey::COLUMNS.contains(key)) {
            Some(key) => asked.push(key),
            None => left_out(
                text::word("filter-columns"),
                word,
                text::word("expected-column"),
            ),
        }
    }
    let chosen: Vec<SortKey> = SortKey::COLUMNS
        .into_iter()
        .filter(|key| asked.contains(key))
        .collect();
    let here = |keys: &[SortKey]| -> Vec<SortKey> {
        SortKey::COLUMNS
            .into_iter()
            .filter(|key| keys.contains(key) && present.contains(key))
            .collect()
    };
    let usual = here(&chosen) == here(&SortKey::USUAL_COLUMNS)
        && chosen
            .iter()
            .all(|key| present.contains(key) || SortKey::USUAL_COLUMNS.contains(key));
    (!usual).then_some(chosen)
}

/// The one address of a view.
pub(super) fn address(view: &View) -> String {
    let query = view_query(view);
    match &view.filter.class {
        Some(class) => query.on(&urls::class(class)),
        None => query.on(&urls::page(urls::HOME)),
    }
}

/// A view without its class, in one order, without what goes without saying.
fn view_query(view: &View) -> Query {
    let filter = &view.filter;
    let mut query = Query::new();
    if !filter.search.is_empty() {
        query.push("q", &filter.search);
    }
    if let Some(maker) = &filter.maker {
        query.push("maker", maker);
    }
    if let Some(ports) = filter.ports_at_least {
        query.push("ports", &ports.to_string());
    }
    if let Some(ports) = filter.usb_c_at_least {
        query.push("usb_c", &ports.to_string());
    }
    if let Some(watts) = filter.each_w {
        query.push("each_w", &format::field(watts));
    }
    if let Some((regime, wanted)) = &filter.verdict {
        query.push("regime", regime);
        query.push("verdict", wanted.id());
    }
    if let Some(price) = filter.price_at_most {
        query.push("price", &format::field(price));
        if let Some(currency) = &filter.currency {
            query.push("currency", currency);
        }
    }
    if let Some(from) = &filter.tested_from {
        query.push("from", from);
    }
    if let Some(to) = &filter.tested_to {
        query.push("to", to);
    }
    if view.sort != SortKey::Score {
        query.push("sort", view.sort.id());
    }
    if view.descending != view.sort.descending_first() {
        query.push("dir", if view.descending { "desc" } else { "asc" });
    }
    if let Some(columns) = &view.columns {
        let words: Vec<&str> = columns.iter().map(|key| key.id()).collect();
        let words = match words.is_empty() {
            true => NO_COLUMNS.to_owned(),
            false => words.join(","),
        };
        query.push("columns", &words);
    }
    if view.page > 1 {
        query.push("page", &view.page.to_string());
    }
    query
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_regime_is_named_by_the_end_that_tells_it_apart() {
        assert_eq!(abbreviated("US DOE Level VI"), "VI");
        assert_eq!(abbreviated("EU 2019/1782"), "2019/1782");
        assert_eq!(abbreviated("EU CoC v5 Tier 1"), "Tier 1");
        assert_eq!(abbreviated("Alone"), "Alone");
    }

    #[test]
    fn a_view_with_nothing_asked_has_a_bare_address() {
        assert_eq!(address(&View::default()), "/");
        let filter = Filter {
            class: Some("w65".into()),
            search: "a b".into(),
            ..Filter::default()
        };
        let view = View {
            filter,
            sort: SortKey::Price,
            descending: true,
            page: 2,
            ..View::default()
        };
        assert_eq!(
            address(&view),
            "/class/w65?q=a%20b&sort=price&dir=desc&page=2"
        );
    }
}
