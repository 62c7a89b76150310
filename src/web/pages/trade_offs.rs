//! Any two figures of all units against each other, with the Pareto front.

use super::{
    Site,
    cost_of_use::{ChoiceLink, Lacking, choices, name},
    elsewhere,
    narrowing::{Choice, Narrowing, NarrowingForm},
    public,
};
use crate::{
    chart::{Chart, Scatter, ScatterAxis, ScatterPoint},
    ranking::{Figure, Row, SortKey, pareto},
    text::{t, word},
    web::{
        chrome::{Chrome, Here},
        download::{Cell, Table},
        error::Error,
        extract::{Pairs, Visit},
        filters,
        format::{self, PlusMinus, Scale},
        state::Public,
        urls::{self, Query},
    },
};
use askama::Template;
use axum::{Router, response::Response, routing::get};
use std::collections::BTreeMap;

pub fn routes() -> Router<Site> {
    Router::new()
        .route("/trade-offs", get(page))
        .route("/trade-offs/table.csv", get(as_csv))
        .route("/trade-offs/table.json", get(as_json))
}

/// Pairs offered as links, with the keys of what they are called.
const OFFERED: [(Figure, Figure, &str); 5] = [
    (Figure::Price, Figure::Score, "trade-score-for-price"),
    (Figure::Mass, Figure::Score, "trade-score-for-mass"),
    (Figure::Volume, Figure::Score, "trade-score-for-size"),
    (
        Figure::Price,
        Figure::AverageEfficiency,
        "trade-efficiency-for-price",
    ),
    (Figure::Volume, Figure::HotSpotRise, "trade-warmth-for-size"),
];
/// Rows of the page's table; the file has all.
const MOST_ROWS: usize = 400;

/// The key of why a unit does not take part.
pub const PROVISIONAL: &str = "trade-provisional";

/// Why a unit does not take part: prices of two currencies do not compare.
pub fn priced_in(currency: &str) -> String {
    t("trade-priced-in").with("currency", currency).to_string()
}

/// Why a unit does not take part; the figure as it is called inside a sentence.
pub fn not_known(figure: &str) -> String {
    t("trade-unknown").with("figure", figure).to_string()
}

/// What the page is about: "Price against score".
pub fn heading(x: &str, y: &str) -> String {
    t("trade-heading").with("x", x).with("y", y).to_string()
}

/// Which way is better.
pub fn way(more_is_better: bool) -> &'static str {
    if more_is_better {
        word("trade-more")
    } else {
        word("trade-less")
    }
}

/// The page as it stands where nothing is asked for.
pub fn usual_address() -> String {
    let [(x, y, _), ..] = OFFERED;
    Query::new()
        .with("x", x.id())
        .with("y", y.id())
        .on(&urls::page(urls::TRADE_OFFS))
}

/// The picture of that page.
pub fn usual_preview() -> String {
    let [(x, y, _), ..] = OFFERED;
    urls::preview(&Query::new().with("x", x.id()).with("y", y.id()))
}

#[derive(Template)]
#[template(path = "pages/trade_offs.html")]
struct TradeOffsPage {
    chrome: Chrome,
    choices: Vec<ChoiceLink>,
    heading: String,
    offered: Vec<Offered>,
    form: NarrowingForm,
    xs: Vec<Choice>,
    ys: Vec<Choice>,
    currencies: Vec<Choice>,
    notices: Vec<String>,
    summary: Option<String>,
    chart: String,
    x_label: String,
    y_label: String,
    x_way: &'static str,
    y_way: &'static str,
    rows: Vec<Line>,
    left_off: usize,
    lacking: Vec<Lacking>,
    csv_url: String,
    json_url: String,
    link: String,
    licence: Option<String>,
}

struct Offered {
    label: &'static str,
    url: String,
    current: bool,
}

struct Line {
    name: String,
    sample: Option<String>,
    url: String,
    class: String,
    x: PlusMinus,
    y: PlusMinus,
    front: bool,
}

struct Asked {
    x: Figure,
    y: Figure,
    currency: Option<String>,
    narrowing: Narrowing,
}

/// A unit with both figures, in the units that people read.
pub(super) struct Plotted<'a> {
    pub row: &'a Row,
    pub x: f64,
    pub y: f64,
    pub front: bool,
}

impl Asked {
    fn of(visit: &Visit, data: &Public, pairs: &Pairs) -> Asked {
        let mut narrowing = Narrowing::of(pairs, &visit.site);
        let mut figure = |name: &str, label: &str, usual| match pairs.last(name) {
            None => usual,
            Some(id) => Figure::from_id(id).unwrap_or_else(|| {
                narrowing.left_out(label, id, word("trade-expected-figure"));
                usual
            }),
        };
        let x = figure("x", word("trade-across"), Figure::Price);
        let y = figure("y", word("trade-up"), Figure::Score);
        let mut currency = usual_currency(data);
        if let Some(asked) = pairs.last("currency") {
            match data
                .currencies
                .iter()
                .find(|c| c.eq_ignore_ascii_case(asked))
            {
                Some(known) => currency = Some(known.clone()),
                None => {
                    let expected = word("trade-expected-currency");
                    narrowing.left_out(word("filter-currency"), asked, expected);
                }
            }
        }
        Asked {
            x,
            y,
            currency,
            narrowing,
        }
    }

    fn needs_currency(&self) -> bool {
        self.x == Figure::Price || self.y == Figure::Price
    }

    fn query_of(&self, x: Figure, y: Figure, data: &Public) -> Query {
        let mut query = Query::new().with("x", x.id()).with("y", y.id());
        if (x == Figure::Price || y == Figure::Price)
            && let Some(currency) = &self.currency
            && self.currency != usual_currency(data)
        {
            query.push("currency", currency);
        }
        self.narrowing.push(&mut query);
        query
    }

    fn query(&self, data: &Public) -> Query {
        self.query_of(self.x, self.y, data)
    }

    fn units<'a>(&self, data: &'a Public) -> (Vec<Plotted<'a>>, Vec<(&'a Row, String)>) {
        let rows = data
            .standings
            .all(&self.narrowing.filter, SortKey::Name, false);
        plotted(rows, self.x, self.y, self.currency.as_deref())
    }

    fn axis(&self, figure: Figure) -> ScatterAxis {
        axis(figure, self.currency.as_deref())
    }
}

/// The currency that most units are priced in.
pub(super) fn usual_currency(data: &Public) -> Option<String> {
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    for currency in data
        .standings
        .rows()
        .iter()
        .filter_map(|r| r.currency.as_deref())
    {
        *counts.entry(currency).or_insert(0) += 1;
    }
    // Of equally many the first in the alphabet.
    let most = counts.into_iter().rev().max_by_key(|(_, count)| *count)?;
    Some(most.0.to_owned())
}

/// A figure's name as a heading, and inside a sentence.
pub(super) fn called(figure: Figure) -> (&'static str, &'static str) {
    match figure {
        Figure::Price => (word("trade-price"), word("trade-price.inside")),
        Figure::Score => (word("trade-score"), word("trade-score.inside")),
        Figure::Mass => (word("trade-mass"), word("trade-mass.inside")),
        Figure::Volume => (word("trade-volume"), word("trade-volume.inside")),
        Figure::OutputPower => (
            word("trade-output-power"),
            word("trade-output-power.inside"),
        ),
        Figure::PowerDensity => (
            word("trade-power-density"),
            word("trade-power-density.inside"),
        ),
        Figure::AverageEfficiency => (
            word("trade-average-efficiency"),
            word("trade-average-efficiency.inside"),
        ),
        Figure::TenPercentEfficiency => {
            (word("trade-ten-percent"), word("trade-ten-percent.inside"))
        }
        Figure::PeakEfficiency => (
            word("trade-peak-efficiency"),
            word("trade-peak-efficiency.inside"),
        ),
        Figure::NoLoad => (word("trade-no-load"), word("trade-no-load.inside")),
        Figure::PowerFactor => (
            word("trade-power-factor"),
            word("trade-power-factor.inside"),
        ),
        Figure::CurrentThd => (word("trade-thd"), word("trade-thd.inside")),
        Figure::HotSpotRise => (word("trade-rise"), word("trade-rise.inside")),
    }
}

pub(super) fn axis(figure: Figure, currency: Option<&str>) -> ScatterAxis {
    ScatterAxis {
        name: called(figure).0.to_owned(),
        unit: match figure {
            Figure::Price => currency.unwrap_or("").to_owned(),
            other => other.unit().to_owned(),
        },
        more_is_better: figure.more_is_better(),
    }
}

/// Units with both figures, and those without, with the reason. Prices in another currency do not
/// compare.
pub(super) fn plotted<'a>(
    rows: impl IntoIterator<Item = &'a Row>,
    x: Figure,
    y: Figure,
    currency: Option<&str>,
) -> (Vec<Plotted<'a>>, Vec<(&'a Row, String)>) {
    let value = |figure: Figure, row: &Row| -> Result<f64, String> {
        match figure.value(row) {
            Some(_) if figure == Figure::Price && row.currency.as_deref() != currency => {
                Err(match &row.currency {
                    Some(other) => priced_in(other),
                    None => word("trade-priced-in.none").to_owned(),
                })
            }
            Some(value) => Ok(figure.shown(value)),
            None if figure == Figure::Score && row.score.is_some() => {
                Err(word(PROVISIONAL).to_owned())
            }
            None => Err(not_known(called(figure).1)),
        }
    };
    let mut units = Vec::new();
    let mut lacking = Vec::new();
    for row in rows {
        match (value(x, row), value(y, row)) {
            (Ok(x), Ok(y)) => units.push(Plotted {
                row,
                x,
                y,
                front: false,
            }),
            (Err(why), Ok(_)) | (Ok(_), Err(why)) => lacking.push((row, why)),
            (Err(a), Err(b)) if a == b => lacking.push((row, a)),
            (Err(a), Err(b)) => lacking.push((row, format!("{a}; {b}"))),
        }
    }
    let signed = |figure: Figure, value: f64| {
        if figure.more_is_better() {
            value
        } else {
            -value
        }
    };
    let points: Vec<(f64, f64)> = units
        .iter()
        .map(|u| (signed(x, u.x), signed(y, u.y)))
        .collect();
    for (unit, front) in units.iter_mut().zip(pareto::front(&points)) {
        unit.front = front;
    }
    (units, lacking)
}

async fn page(visit: Visit, pairs: Pairs) -> Result<Response, Error> {
    let site = &visit.site;
    let data = site.public();
    let asked = Asked::of(&visit, &data, &pairs);
    let own = asked.query(&data).on(&urls::page(urls::TRADE_OFFS));
    if asked.narrowing.notices.is_empty() && own != visit.target {
        return elsewhere(&own);
    }
    let (mut units, lacking) = asked.units(&data);
    let (x, y) = (asked.axis(asked.x), asked.axis(asked.y));
    let class_words = asked.narrowing.class_words(site);
    let ((x_called, x_inside), (_, y_inside)) = (called(asked.x), called(asked.y));
    let scatter = Scatter {
        title: t("trade-chart")
            .with("x", x_called)
            .with("y", y_inside)
            .with("class", &class_words)
            .to_string(),
        x: x.clone(),
        y: y.clone(),
        points: units
            .iter()
            .map(|unit| ScatterPoint {
                name: name(unit.row),
                x: unit.x,
                y: unit.y,
                front: unit.front,
            })
            .collect(),
    };
    // The front first, each part by what stands across.
    let sign = if asked.x.more_is_better() { -1.0 } else { 1.0 };
    units.sort_by(|a, b| {
        b.front
            .cmp(&a.front)
            .then((sign * a.x).total_cmp(&(sign * b.x)))
    });
    let on_front = units.iter().filter(|unit| unit.front).count();
    let summary = (units.len() > 1).then(|| {
        t("trade-summary")
            .with("front", on_front)
            .with("count", units.len())
            .to_string()
    });
    let mut preview = Query::new().with("x", asked.x.id()).with("y", asked.y.id());
    if let Some(class) = &asked.narrowing.filter.class {
        preview.push("class", class);
    }
    let chrome = visit
        .chrome(
            t("trade-title")
                .with("x", x_inside)
                .with("y", y_inside)
                .to_string(),
        )
        .describe(
            t("trade-description")
                .with("count", units.len())
                .with("class", &class_words)
                .with("x", x_inside)
                .with("y", y_inside)
                .to_string(),
        )
        .canonical(own.clone())
        .image(urls::preview(&preview))
        .here(Here::Choose)
        .works_as_files(&["as_files_choose.js"])
        .style("chart.css");
    let plain = !asked.narrowing.is_narrow() && asked.narrowing.notices.is_empty();
    let chrome = if plain { chrome } else { chrome.not_indexed() };
    let query = asked.query(&data);
    let label = |axis: &ScatterAxis| match axis.unit.as_str() {
        "" => axis.name.clone(),
        unit => format!("{}, {unit}", axis.name),
    };
    let figures = |current: Figure| {
        Figure::ALL
            .into_iter()
            .map(|figure| Choice {
                value: figure.id().to_owned(),
                label: called(figure).0.to_owned(),
                selected: figure == current,
            })
            .collect()
    };
    public(&TradeOffsPage {
        chrome,
        choices: choices(urls::TRADE_OFFS),
        offered: OFFERED
            .into_iter()
            .map(|(x, y, key)| Offered {
                label: word(key),
                url: asked
                    .query_of(x, y, &data)
                    .on(&urls::page(urls::TRADE_OFFS)),
                current: (x, y) == (asked.x, asked.y),
            })
            .collect(),
        form: asked.narrowing.form(site),
        xs: figures(asked.x),
        ys: figures(asked.y),
        currencies: if asked.needs_currency() {
            data.currencies
                .iter()
                .map(|currency| Choice {
                    value: currency.clone(),
                    label: currency.clone(),
                    selected: Some(currency) == asked.currency.as_ref(),
                })
                .collect()
        } else {
            Vec::new()
        },
        notices: asked.narrowing.notices.clone(),
        summary,
        chart: scatter.both("trade-offs"),
        x_label: label(&x),
        y_label: label(&y),
        x_way: way(x.more_is_better),
        y_way: way(y.more_is_better),
        left_off: units.len().saturating_sub(MOST_ROWS),
        rows: units
            .iter()
            .take(MOST_ROWS)
            .map(|unit| Line {
                name: unit.row.name(),
                sample: unit.row.sample.clone(),
                url: urls::unit(&unit.row.slug),
                class: format::class_label(&unit.row.class.label),
                x: words(asked.x, unit.row, unit.x),
                y: words(asked.y, unit.row, unit.y),
                front: unit.front,
            })
            .collect(),
        lacking: lacking
            .into_iter()
            .take(500)
            .map(|(row, reason)| Lacking {
                name: name(row),
                url: urls::unit(&row.slug),
                reason,
            })
            .collect(),
        csv_url: query.on(&urls::table(urls::TRADE_OFFS, "csv")),
        json_url: query.on(&urls::table(urls::TRADE_OFFS, "json")),
        link: visit.absolute(&own),
        licence: site.config.licence.clone(),
        heading: heading(x_called, y_inside),
    })
}

/// A figure with its U where that is known; its unit stands in the table's head.
fn words(figure: Figure, row: &Row, shown: f64) -> PlusMinus {
    let bare = Scale {
        unit: "",
        factor: 1.0,
    };
    match figure {
        Figure::Score => PlusMinus::score(shown, row.score_u),
        Figure::Price => PlusMinus {
            value: format::fixed(shown, 2),
            expanded: None,
            unit: "",
        },
        _ => {
            let expanded = figure.u(row).map(|u| 2.0 * figure.shown(u));
            PlusMinus::new(shown, expanded, bare, 3)
        }
    }
}

async fn as_csv(visit: Visit, pairs: Pairs) -> Response {
    download(&visit, &pairs, "csv")
}

async fn as_json(visit: Visit, pairs: Pairs) -> Response {
    download(&visit, &pairs, "json")
}

fn download(visit: &Visit, pairs: &Pairs, extension: &str) -> Response {
    let data = visit.site.public();
    let asked = Asked::of(visit, &data, pairs);
    let (units, lacking) = asked.units(&data);
    let (x, y) = (asked.axis(asked.x), asked.axis(asked.y));
    let title = heading(called(asked.x).0, called(asked.y).1);
    let page = asked.query(&data).on(&urls::page(urls::TRADE_OFFS));
    let mut table = Table::new(title, "trade-offs", page).with(&[
        ("maker", ""),
        ("model", ""),
        ("sample", ""),
        ("slug", ""),
        ("class", ""),
        ("x", ""),
        ("x_value", &x.unit),
        ("x_expanded_uncertainty_k2", &x.unit),
        ("y", ""),
        ("y_value", &y.unit),
        ("y_expanded_uncertainty_k2", &y.unit),
        ("beaten_by_none_in_both", ""),
        ("no_figure_because", ""),
    ]);
    let of_row = |row: &Row| -> [Cell; 5] {
        [
            row.maker.clone().into(),
            row.model.clone().into(),
            row.sample.clone().into(),
            row.slug.clone().into(),
            row.class.id.clone().into(),
        ]
    };
    for unit in &units {
        let expanded = |figure: Figure| figure.u(unit.row).map(|u| 2.0 * figure.shown(u));
        let mut cells: Vec<Cell> = of_row(unit.row).to_vec();
        cells.extend([
            asked.x.id().into(),
            unit.x.into(),
            expanded(asked.x).into(),
            asked.y.id().into(),
            unit.y.into(),
            expanded(asked.y).into(),
            unit.front.into(),
            Cell::Unknown,
        ]);
        table.rows.push(cells);
    }
    for (row, reason) in lacking {
        let mut cells: Vec<Cell> = of_row(row).to_vec();
        cells.extend([
            asked.x.id().into(),
            Cell::Unknown,
            Cell::Unknown,
            asked.y.id().into(),
            Cell::Unknown,
            Cell::Unknown,
            Cell::Unknown,
            reason.into(),
        ]);
        table.rows.push(cells);
    }
    table.response(visit, extension)
}
