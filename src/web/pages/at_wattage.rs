//! Efficiency and loss of all units at one wattage.

use super::{
    Site,
    cost_of_use::{
        ChoiceLink, ColumnHead, Lacking, choices, count_words, direction, known_first, name,
        page_of,
    },
    elsewhere,
    narrowing::{Narrowing, NarrowingForm},
    public, ranking,
};
use crate::{
    chart::{Chart, UnitBar, UnitBars},
    quantity::Measured,
    ranking::{RankInterval, Row, SortKey, intervals::rank_intervals},
    text::{t, word},
    web::{
        chrome::{Chrome, Here},
        download::{Cell, Table},
        error::Error,
        extract::{Pairs, Visit},
        filters,
        format::{self, PlusMinus},
        state::Public,
        urls::{self, Query},
    },
};
use askama::Template;
use axum::{Router, response::Response, routing::get};

pub fn routes() -> Router<Site> {
    Router::new()
        .route("/at", get(page))
        .route("/at/table.csv", get(as_csv))
        .route("/at/table.json", get(as_json))
}

/// Where nothing is asked for.
const USUAL_W: f64 = 20.0;
/// Units on one page.
const PER_PAGE: usize = 100;
/// Wattages offered as links.
const OFFERED_W: [f64; 8] = [2.5, 5.0, 10.0, 15.0, 20.0, 30.0, 45.0, 65.0];

/// The key of why a unit has no figure at any wattage.
pub const NO_CURVE: &str = "lacks-loss-model";

/// Why a unit has no figure at a wattage beyond this.
pub fn measured_to(watts: &str) -> String {
    t("at-measured-to").with("to", watts).to_string()
}

/// The page as it stands where nothing is asked for.
pub fn usual_address() -> String {
    Query::new()
        .with("w", &format::field(USUAL_W))
        .on(&urls::page(urls::AT))
}

/// The picture of that page.
pub fn usual_preview() -> String {
    urls::preview(&Query::new().with("at", &format::plain(USUAL_W)))
}

#[derive(Template)]
#[template(path = "pages/at_wattage.html")]
struct AtPage {
    chrome: Chrome,
    choices: Vec<ChoiceLink>,
    watts: String,
    w: String,
    offered: Vec<Offered>,
    form: NarrowingForm,
    notices: Vec<String>,
    summary: Option<String>,
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

struct Offered {
    label: String,
    url: String,
    current: bool,
}

struct Line {
    name: String,
    sample: Option<String>,
    url: String,
    class: String,
    rank: String,
    efficiency: PlusMinus,
    loss: PlusMinus,
    load: String,
    score: Option<PlusMinus>,
    price: Option<String>,
    best: bool,
}

/// A unit at the wattage.
struct AtUnit<'a> {
    row: &'a Row,
    efficiency: Measured,
    loss: Measured,
    rank: RankInterval,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Sort {
    Loss,
    Name,
    OutputPower,
    Score,
    Price,
}

impl Sort {
    const ALL: [Sort; 5] = [
        Sort::Loss,
        Sort::Name,
        Sort::OutputPower,
        Sort::Score,
        Sort::Price,
    ];

    fn id(self) -> &'static str {
        match self {
            Sort::Loss => "loss",
            Sort::Name => "name",
            Sort::OutputPower => "output-power",
            Sort::Score => "score",
            Sort::Price => "price",
        }
    }

    fn descending_first(self) -> bool {
        self == Sort::Score
    }
}

struct Asked {
    watts: f64,
    narrowing: Narrowing,
    sort: Sort,
    descending: bool,
    page: usize,
}

impl Asked {
    fn of(visit: &Visit, pairs: &Pairs) -> Asked {
        let mut narrowing = Narrowing::of(pairs, &visit.site);
        let watts = match pairs.last("w") {
            None => USUAL_W,
            Some(text) => match ranking::watts(text).filter(|w| (0.1..=1000.0).contains(w)) {
                Some(watts) => watts,
                None => {
                    narrowing.left_out(word("at-asked-watts"), text, word("expected-watts"));
                    USUAL_W
                }
            },
        };
        let sort = match pairs.last("sort") {
            None => Sort::Loss,
            Some(id) => Sort::ALL
                .into_iter()
                .find(|sort| sort.id() == id)
                .unwrap_or_else(|| {
                    narrowing.left_out(word("asked-sort"), id, word("expected-column"));
                    Sort::Loss
                }),
        };
        let descending = direction(pairs, sort.descending_first(), &mut narrowing);
        let page = page_of(pairs, &mut narrowing);
        Asked {
            watts,
            narrowing,
            sort,
            descending,
            page,
        }
    }

    fn query(&self, watts: f64, sort: Sort, descending: bool) -> Query {
        let mut query = Query::new();
        query.push("w", &format::field(watts));
        self.narrowing.push(&mut query);
        if sort != Sort::Loss {
            query.push("sort", sort.id());
        }
        if descending != sort.descending_first() {
            query.push("dir", if descending { "desc" } else { "asc" });
        }
        query
    }

    fn own_query(&self) -> Query {
        self.query(self.watts, self.sort, self.descending)
    }

    fn paged(&self, page: usize) -> String {
        let mut query = self.own_query();
        if page > 1 {
            query.push("page", &page.to_string());
        }
        query.on(&urls::page(urls::AT))
    }

    /// Units with a figure in the order asked for, and those without, with the reason.
    fn units<'a>(&self, data: &'a Public) -> (Vec<AtUnit<'a>>, Vec<(&'a Row, String)>) {
        let mut found: Vec<(&Row, Measured, Measured)> = Vec::new();
        let mut lacking = Vec::new();
        for row in data
            .standings
            .all(&self.narrowing.filter, SortKey::Name, false)
        {
            let Some(curve) = &row.loss_curve else {
                lacking.push((row, word(NO_CURVE).to_owned()));
                continue;
            };
            match (curve.efficiency_at(self.watts), curve.loss_at(self.watts)) {
                (Some(efficiency), Some(loss)) => found.push((row, efficiency, loss)),
                _ => {
                    let to = format::watts(curve.model.valid_to_w);
                    lacking.push((row, measured_to(&to)));
                }
            }
        }
        // Less loss is better: a rank's "score" is the loss with its sign turned.
        let losses: Vec<(f64, Option<f64>)> = found
            .iter()
            .map(|(_, _, loss)| (-loss.value, loss.u))
            .collect();
        let ranks = rank_intervals(&losses);
        let mut units: Vec<AtUnit> = found
            .into_iter()
            .zip(ranks)
            .map(|((row, efficiency, loss), rank)| AtUnit {
                row,
                efficiency,
                loss,
                rank,
            })
            .collect();
        let by = |unit: &AtUnit| match self.sort {
            Sort::Loss | Sort::Name => Some(unit.loss.value),
            Sort::OutputPower => Some(unit.row.output_power_w),
            Sort::Score => unit.row.score,
            Sort::Price => unit.row.price,
        };
        // Prices of two currencies and provisional scores do not compare with the others.
        let group = |unit: &AtUnit| match self.sort {
            Sort::Price if unit.row.price.is_some() => (false, unit.row.currency.clone()),
            Sort::Score if unit.row.score.is_some() => (unit.row.provisional, None),
            Sort::Price | Sort::Score => (true, Some("~".to_owned())),
            _ => (false, None),
        };
        match self.sort {
            Sort::Name if self.descending => units.reverse(),
            Sort::Name => {}
            _ => units.sort_by(|a, b| {
                group(a)
                    .cmp(&group(b))
                    .then_with(|| known_first(by(a), by(b), self.descending))
            }),
        }
        (units, lacking)
    }
}

async fn page(visit: Visit, pairs: Pairs) -> Result<Response, Error> {
    let site = &visit.site;
    let data = site.public();
    let asked = Asked::of(&visit, &pairs);
    let (units, lacking) = asked.units(&data);
    let pages = units.len().div_ceil(PER_PAGE).max(1);
    let page = asked.page.min(pages);
    let own = asked.paged(page);
    if asked.narrowing.notices.is_empty() && own != visit.target {
        return elsewhere(&own);
    }
    let watts = format::rated_watts(asked.watts);
    let class_words = asked.narrowing.class_words(site);
    let rows: Vec<Line> = units
        .iter()
        .skip((page - 1) * PER_PAGE)
        .take(PER_PAGE)
        .map(|unit| line(unit, asked.watts))
        .collect();
    let chart = (page == 1 && !units.is_empty()).then(|| {
        UnitBars {
            title: t("at-chart")
                .with("watts", format::plain(asked.watts))
                .with("class", &class_words)
                .to_string(),
            axis: word("at-chart.axis").to_owned(),
            unit: "W".to_owned(),
            bars: units
                .iter()
                .map(|unit| UnitBar {
                    name: name(unit.row),
                    value: unit.loss.value,
                    u: unit.loss.u,
                })
                .collect(),
        }
        .both("at")
    });
    let least = units
        .iter()
        .min_by(|a, b| a.loss.value.total_cmp(&b.loss.value));
    let summary = least.filter(|_| units.len() > 1).map(|least| {
        let alike = units.iter().filter(|unit| unit.rank.best == 1).count() - 1;
        let text = match alike {
            0 => t("at-least"),
            count => t("at-least-alike").with("count", count),
        };
        text.with("watts", &watts)
            .with("unit", least.row.name())
            .with("loss", format::watts(least.loss.value))
            .to_string()
    });
    let mut preview = Query::new().with("at", &format::field(asked.watts));
    if let Some(class) = &asked.narrowing.filter.class {
        preview.push("class", class);
    }
    let chrome = visit
        .chrome(t("at-title").with("watts", &watts).to_string())
        .describe(
            t("at-description")
                .with("count", units.len())
                .with("class", &class_words)
                .with("watts", &watts)
                .to_string(),
        )
        .canonical(own.clone())
        .image(urls::preview(&preview))
        .here(Here::Choose)
        .works_as_files(&["as_files_choose.js"])
        .style("chart.css");
    // Of the endless wattages only those offered as links are worth finding.
    let plain = !asked.narrowing.is_narrow()
        && asked.narrowing.notices.is_empty()
        && OFFERED_W.contains(&asked.watts);
    let chrome = if plain { chrome } else { chrome.not_indexed() };
    let query = asked.own_query();
    let first = (page - 1) * PER_PAGE + 1;
    public(&AtPage {
        chrome,
        choices: choices(urls::AT),
        w: format::field(asked.watts),
        offered: OFFERED_W
            .into_iter()
            .map(|w| Offered {
                label: format::rated_watts(w),
                url: asked
                    .query(w, asked.sort, asked.descending)
                    .on(&urls::page(urls::AT)),
                current: w == asked.watts,
            })
            .collect(),
        form: asked.narrowing.form(site),
        notices: asked.narrowing.notices.clone(),
        summary,
        chart,
        columns: columns(&asked),
        count: count_words(first, rows.len(), units.len()),
        rows,
        lacking: lacking
            .into_iter()
            .take(500)
            .map(|(row, reason)| Lacking {
                name: name(row),
                url: urls::unit(&row.slug),
                reason,
            })
            .collect(),
        csv_url: query.on(&urls::table(urls::AT, "csv")),
        json_url: query.on(&urls::table(urls::AT, "json")),
        previous: (page > 1).then(|| asked.paged(page - 1)),
        next: (page < pages).then(|| asked.paged(page + 1)),
        page,
        pages,
        line: format::line(
            site.method.formula.line.voltage_v,
            site.method.formula.line.frequency_hz,
        ),
        link: visit.absolute(&own),
        licence: site.config.licence.clone(),
        watts,
    })
}

fn line(unit: &AtUnit, watts: f64) -> Line {
    let row = unit.row;
    Line {
        name: row.name(),
        sample: row.sample.clone(),
        url: urls::unit(&row.slug),
        class: format::class_label(&row.class.label),
        rank: unit.rank.to_string(),
        efficiency: PlusMinus::efficiency(unit.efficiency.value, unit.efficiency.u),
        loss: PlusMinus::watts(unit.loss.value, unit.loss.u),
        load: format::with_unit(
            format::significant(100.0 * watts / row.output_power_w, 2),
            "%",
        ),
        score: row.score.map(|score| PlusMinus::score(score, row.score_u)),
        price: row
            .price
            .zip(row.currency.as_deref())
            .map(|(price, currency)| format::price(&format::fixed(price, 2), currency)),
        best: unit.rank.best == 1,
    }
}

fn columns(asked: &Asked) -> Vec<ColumnHead> {
    let column = |label: &str, title: &'static str, sort: Option<Sort>, numeric| {
        let sorted = sort == Some(asked.sort);
        ColumnHead {
            label: label.to_owned(),
            title,
            url: sort.map(|sort| {
                let descending = if sorted {
                    !asked.descending
                } else {
                    sort.descending_first()
                };
                asked
                    .query(asked.watts, sort, descending)
                    .on(&urls::page(urls::AT))
            }),
            sorted: sorted.then_some(if asked.descending {
                "descending"
            } else {
                "ascending"
            }),
            numeric,
        }
    };
    vec![
        column(word("board-rank"), word("at-rank-title"), None, true),
        column(
            word("board-unit"),
            word("board-unit.title"),
            Some(Sort::Name),
            false,
        ),
        column(word("at-efficiency"), word("at-this-wattage"), None, true),
        column(
            word("at-loss"),
            word("at-this-wattage"),
            Some(Sort::Loss),
            true,
        ),
        column(
            word("at-load"),
            word("at-load.title"),
            Some(Sort::OutputPower),
            true,
        ),
        column(
            word("board-score"),
            word("board-score.title"),
            Some(Sort::Score),
            true,
        ),
        column(
            word("column-price"),
            word("column-price.title"),
            Some(Sort::Price),
            true,
        ),
    ]
}

async fn as_csv(visit: Visit, pairs: Pairs) -> Response {
    download(&visit, &pairs, "csv")
}

async fn as_json(visit: Visit, pairs: Pairs) -> Response {
    download(&visit, &pairs, "json")
}

fn download(visit: &Visit, pairs: &Pairs, extension: &str) -> Response {
    let data = visit.site.public();
    let asked = Asked::of(visit, pairs);
    let (units, lacking) = asked.units(&data);
    let title = t("at-file").with("watts", format::plain(asked.watts));
    let mut table = Table::new(title.to_string(), "at-wattage", asked.paged(1)).with(&[
        ("output_power", "W"),
        ("rank_best", ""),
        ("rank_worst", ""),
        ("maker", ""),
        ("model", ""),
        ("sample", ""),
        ("slug", ""),
        ("class", ""),
        ("run", ""),
        ("efficiency", "%"),
        ("efficiency_expanded_uncertainty_k2", "%"),
        ("loss", "W"),
        ("loss_expanded_uncertainty_k2", "W"),
        ("no_figure_because", ""),
    ]);
    let of_row = |row: &Row| -> [Cell; 6] {
        [
            row.maker.clone().into(),
            row.model.clone().into(),
            row.sample.clone().into(),
            row.slug.clone().into(),
            row.class.id.clone().into(),
            row.run.clone().into(),
        ]
    };
    let percent = |x: f64| 100.0 * x;
    for unit in &units {
        let mut cells: Vec<Cell> = vec![
            asked.watts.into(),
            (unit.rank.best as f64).into(),
            (unit.rank.worst as f64).into(),
        ];
        cells.extend(of_row(unit.row));
        cells.extend([
            percent(unit.efficiency.value).into(),
            unit.efficiency.expanded().map(percent).into(),
            unit.loss.value.into(),
            unit.loss.expanded().into(),
            Cell::Unknown,
        ]);
        table.rows.push(cells);
    }
    for (row, reason) in lacking {
        let mut cells: Vec<Cell> = vec![asked.watts.into(), Cell::Unknown, Cell::Unknown];
        cells.extend(of_row(row));
        cells.extend(vec![Cell::Unknown; 4]);
        cells.push(reason.replace('\u{202f}', " ").into());
        table.rows.push(cells);
    }
    table.response(visit, extension)
}
