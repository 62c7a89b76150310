//! Any two figures of all units against each other, with the Pareto front.

use super::{
    Site,
    cost_of_use::{ChoiceLink, Lacking, choices, name},
    elsewhere,
    narrowing::{Choice, Narrowing, NarrowingForm},
    public,
};
use crate::web::filters;
use crate::{
    chart::{Chart, Scatter, ScatterAxis, ScatterPoint},
    ranking::{Figure, Row, SortKey, pareto},
    web::{
        chrome::{Chrome, Here},
        download::{Cell, Table},
        error::Error,
        extract::{Pairs, Visit},
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

/// Pairs offered as links.
const OFFERED: [(Figure, Figure, &str); 5] = [
    (Figure::Price, Figure::Score, "Score for the price"),
    (Figure::Mass, Figure::Score, "Score for the mass"),
    (Figure::Volume, Figure::Score, "Score for the size"),
    (
        Figure::Price,
        Figure::AverageEfficiency,
        "Efficiency for the price",
    ),
    (Figure::Volume, Figure::HotSpotRise, "Warmth for the size"),
];
/// Rows of the page's table; the file has all.
const MOST_ROWS: usize = 400;

/// Why a unit does not take part.
pub const PROVISIONAL: &str = "its score is provisional";

/// Why a unit does not take part: prices of two currencies do not compare.
pub fn priced_in(currency: &str) -> String {
    format!("priced in {currency}")
}

/// Why a unit does not take part.
pub fn not_known(figure: &str) -> String {
    format!("{figure} not known")
}

/// What the page is about.
pub fn heading(x: &str, y: &str) -> String {
    format!("{x} against {y}")
}

/// Which way is better.
pub fn way(more_is_better: bool) -> &'static str {
    if more_is_better {
        "more is better"
    } else {
        "less is better"
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
                narrowing.left_out(label, id, "one of the figures listed");
                usual
            }),
        };
        let x = figure("x", "Across", Figure::Price);
        let y = figure("y", "Up", Figure::Score);
        let mut currency = usual_currency(data);
        if let Some(asked) = pairs.last("currency") {
            match data
                .currencies
                .iter()
                .find(|c| c.eq_ignore_ascii_case(asked))
            {
                Some(known) => currency = Some(known.clone()),
                None => narrowing.left_out("Currency", asked, "one of the currencies listed"),
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

pub(super) fn axis(figure: Figure, currency: Option<&str>) -> ScatterAxis {
    ScatterAxis {
        name: figure.label().to_owned(),
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
        let label = figure.label().to_lowercase();
        match figure.value(row) {
            Some(_) if figure == Figure::Price && row.currency.as_deref() != currency => {
                let other = row.currency.as_deref().unwrap_or("no currency");
                Err(priced_in(other))
            }
            Some(value) => Ok(figure.shown(value)),
            None if figure == Figure::Score && row.score.is_some() => Err(PROVISIONAL.to_owned()),
            None => Err(not_known(&label)),
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
    let heading = heading(&x.name, &y.name.to_lowercase());
    let scatter = Scatter {
        title: format!("{heading}: {class_words}"),
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
        format!(
            "{} of {} {} beaten by no other in both figures: whoever wants more of one there gives \
             up some of the other. The figures are taken as measured; their uncertainty is not \
             part of this comparison.",
            on_front,
            units.len(),
            if on_front == 1 { "is" } else { "are" }
        )
    });
    let mut preview = Query::new().with("x", asked.x.id()).with("y", asked.y.id());
    if let Some(class) = &asked.narrowing.filter.class {
        preview.push("class", class);
    }
    let chrome = visit
        .chrome(format!("Trade-offs: {}", heading.to_lowercase()))
        .describe(format!(
            "{} of {class_words} by {} and {}, with those that no other beats in both.",
            format::counted(units.len(), "USB power adapter", "USB power adapters"),
            x.name.to_lowercase(),
            y.name.to_lowercase()
        ))
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
                label: figure.label().to_owned(),
                selected: figure == current,
            })
            .collect()
    };
    public(&TradeOffsPage {
        chrome,
        choices: choices(urls::TRADE_OFFS),
        offered: OFFERED
            .into_iter()
            .map(|(x, y, label)| Offered {
                label,
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
                class: unit.row.class.label.clone(),
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
        heading,
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
    let title = format!("{} against {}", x.name, y.name.to_lowercase());
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
