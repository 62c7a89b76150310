//! Two to six units side by side: curves over each other, figures and load points against the
//! first, and which is best at any wattage, as far as the uncertainty lets one tell.

use super::{
    Site, elsewhere,
    figure_rows::plus_minus,
    measurements::{conditions, quantity_name},
    photos::within,
    public,
    unit::{AxisLink, decoded},
};
use crate::web::filters;
use crate::{
    bench::record::{Connector, OtherQuantity, Record},
    chart::{Chart, ChartTable, LoadAxis, LoadChart, LoadQuantity},
    evaluate::{
        efficiency_at,
        evaluation::{Evaluation, RunResult},
        other_measurements::unit_of,
    },
    quantity::Measured,
    ranking::{Filter, Row, SortKey},
    storage::{
        evaluations,
        photos::{self, Photo},
        units,
    },
    text::{t, word},
    web::{
        chrome::{Chrome, Here},
        error::Error,
        extract::{Pairs, Visit},
        format::{self, PERCENT, POINTS, PlusMinus, Scale},
        urls::{self, Query},
    },
};
use askama::Template;
use axum::{Router, response::Response, routing::get};

pub fn routes() -> Router<Site> {
    Router::new().route("/compare", get(compare))
}

/// Fewer are no comparison; more cannot be told apart in a chart.
const FEWEST: usize = 2;
const MOST: usize = 6;
/// Units offered when a search fits several.
const OFFERED: usize = 12;

#[derive(Template)]
#[template(path = "pages/compare.html")]
struct ComparePage {
    chrome: Chrome,
    notices: Vec<String>,
    heads: Vec<Head>,
    /// Asked for in words, and what fits.
    search: String,
    offers: Vec<Offer>,
    slugs: Vec<String>,
    at_w: String,
    body: Option<Body>,
    full: bool,
}

struct Head {
    name: String,
    photo: Option<HeadPhoto>,
    url: String,
    class_label: String,
    run: Option<String>,
    remove_url: String,
}

/// Room for a photo in the head of a column, in pixels.
const IN_A_HEAD: (u32, u32) = (96, 72);

/// Thumbnail of a unit's first photo.
struct HeadPhoto {
    url: String,
    width: u32,
    height: u32,
}

struct Offer {
    name: String,
    url: String,
}

/// What there is to see once there are two.
struct Body {
    svg: String,
    table: ChartTable,
    axes: Vec<AxisLink>,
    figures: Vec<Line>,
    points: Vec<Line>,
    at: Option<At>,
    link: String,
    /// The first unit's name: what differences are against.
    first: String,
}

/// One quantity or load point of all units.
struct Line {
    label: String,
    /// Are its words from evaluation documents, which are English?
    english: bool,
    cells: Vec<CompareCell>,
}

impl Line {
    /// Does a cell hold more words than fit on one line?
    fn wraps(&self) -> bool {
        let long = |text: &String| text.chars().count() > 24;
        self.cells
            .iter()
            .any(|c| c.value.as_ref().is_some_and(long))
    }
}

struct CompareCell {
    /// None: not measured.
    value: Option<String>,
    difference: Option<Difference>,
}

/// Against the first unit.
struct Difference {
    text: String,
    sign: &'static str,
    word: &'static str,
}

/// Efficiency at the wattage asked for.
struct At {
    watts: String,
    sentence: String,
    rows: Vec<AtRow>,
}

struct AtRow {
    name: String,
    efficiency: Option<PlusMinus>,
    loss: Option<String>,
    best: bool,
    note: &'static str,
}

/// A unit with what is compared of it.
struct Compared<'a> {
    row: &'a Row,
    record: Record,
    evaluation: Evaluation,
    photo: Option<Photo>,
}

impl Compared<'_> {
    /// The run that stands for the unit, as in the ranking.
    fn run(&self) -> Option<&RunResult> {
        let name = self.row.run.as_deref()?;
        self.evaluation.runs.iter().find(|run| run.name == name)
    }
}

async fn compare(visit: Visit, pairs: Pairs) -> Result<Response, Error> {
    let data = visit.site.public();
    let axis = super::unit::axis_of(&pairs)?;
    let mut notices = Vec::new();
    let mut rows: Vec<&Row> = Vec::new();
    for slug in pairs.all("unit") {
        match data.standings.row(slug) {
            Some(row) if rows.iter().any(|r| r.slug == row.slug) => {}
            Some(row) => rows.push(row),
            None => {
                let slug: String = slug.chars().take(60).collect();
                notices.push(t("files-no-unit").with("name", slug).to_string());
            }
        }
    }
    if rows.len() > MOST {
        let text = t("compare-too-many").with("count", rows.len());
        notices.push(text.with("most", MOST).to_string());
        rows.truncate(MOST);
    }
    let at_w = match pairs.last("at_w") {
        None => None,
        Some(text) => match text
            .replace(',', ".")
            .trim_end_matches(['W', 'w', ' '])
            .parse::<f64>()
        {
            Ok(watts) if watts > 0.0 && watts <= 1000.0 => Some(watts),
            _ => {
                let text: String = text.chars().take(40).collect();
                notices.push(t("compare-no-power").with("text", text).to_string());
                None
            }
        },
    };
    let search = pairs
        .last("add")
        .unwrap_or("")
        .chars()
        .take(120)
        .collect::<String>();
    let mut offers = Vec::new();
    if !search.is_empty() {
        let filter = Filter {
            search: search.clone(),
            ..Filter::default()
        };
        let found = data.standings.all(&filter, SortKey::Score, true);
        let fresh: Vec<&&Row> = found
            .iter()
            .filter(|row| rows.iter().all(|r| r.slug != row.slug))
            .collect();
        match fresh.as_slice() {
            [] => notices.push(t("files-no-other").with("words", &search).to_string()),
            [one] if rows.len() < MOST => {
                let slugs = rows
                    .iter()
                    .map(|r| r.slug.as_str())
                    .chain([one.slug.as_str()]);
                return elsewhere(&address(slugs, at_w, axis));
            }
            several => {
                if several.len() > OFFERED {
                    let text = t("compare-offered")
                        .with("count", several.len())
                        .with("words", &search)
                        .with("most", OFFERED);
                    notices.push(text.to_string());
                }
                offers = several
                    .iter()
                    .take(OFFERED)
                    .map(|row| Offer {
                        name: named(row),
                        url: address(
                            rows.iter()
                                .map(|r| r.slug.as_str())
                                .chain([row.slug.as_str()]),
                            at_w,
                            axis,
                        ),
                    })
                    .collect();
            }
        }
    }
    let slugs: Vec<String> = rows.iter().map(|row| row.slug.clone()).collect();
    let own = address(slugs.iter().map(String::as_str), at_w, axis);
    if notices.is_empty() && search.is_empty() && own != visit.target {
        return elsewhere(&own);
    }
    let units = evaluations_of(&visit.site, &rows).await?;
    let title = match rows.len() {
        0 | 1 => word("compare").to_owned(),
        _ => rows
            .iter()
            .map(|row| row.name())
            .reduce(|first, other| {
                let text = t("compare-versus").with("first", first);
                text.with("other", other).to_string()
            })
            .unwrap_or_default(),
    };
    let body = (units.len() >= FEWEST).then(|| body(&visit, &units, at_w, axis, &slugs));
    let sentence = body
        .as_ref()
        .and_then(|body| body.at.as_ref())
        .map(|at| at.sentence.clone());
    let chrome = visit
        .chrome(title)
        .describe(sentence.unwrap_or_else(|| word("compare.description").to_owned()))
        .canonical(own)
        .here(Here::Compare)
        .style("chart.css")
        .works_as_files(&[])
        .not_indexed();
    let chrome = if rows.is_empty() {
        chrome
    } else {
        let mut query = Query::new();
        for slug in &slugs {
            query.push("unit", slug);
        }
        chrome.image(urls::preview(&query))
    };
    public(&ComparePage {
        chrome,
        notices,
        heads: units
            .iter()
            .map(|unit| Head {
                name: named(unit.row),
                photo: unit.photo.as_ref().map(|photo| {
                    let (width, height) = within(photo.width_px, photo.height_px, IN_A_HEAD);
                    HeadPhoto {
                        url: urls::unit_thumbnail(&unit.row.slug, &photo.sha256),
                        width,
                        height,
                    }
                }),
                url: urls::unit(&unit.row.slug),
                class_label: format::class_label(&unit.row.class.label),
                run: unit.row.run.clone(),
                remove_url: address(
                    slugs
                        .iter()
                        .map(String::as_str)
                        .filter(|slug| *slug != unit.row.slug),
                    at_w,
                    axis,
                ),
            })
            .collect(),
        search,
        offers,
        full: slugs.len() >= MOST,
        slugs,
        at_w: at_w.map_or(String::new(), format::field),
        body,
    })
}

fn named(row: &Row) -> String {
    match &row.sample {
        Some(sample) => t("unit-of-sample")
            .with("unit", row.name())
            .with("sample", sample)
            .to_string(),
        None => row.name(),
    }
}

fn address<'a>(
    slugs: impl IntoIterator<Item = &'a str>,
    at_w: Option<f64>,
    axis: LoadAxis,
) -> String {
    let mut query = Query::new();
    for slug in slugs {
        query.push("unit", slug);
    }
    if let Some(watts) = at_w {
        query.push("at_w", &format::field(watts));
    }
    if axis != LoadAxis::WattsLog {
        query.push("axis", axis.id());
    }
    query.on(&urls::page(urls::COMPARE))
}

async fn evaluations_of<'a>(site: &Site, rows: &[&'a Row]) -> Result<Vec<Compared<'a>>, Error> {
    let mut moment = site.db.snapshot().await?;
    let mut read = Vec::with_capacity(rows.len());
    for row in rows {
        let stored = evaluations::current_of_unit(&mut moment, row.unit_id).await?;
        let text = units::record_text(&mut moment, row.unit_id, stored.revision_number).await?;
        let photo = photos::first_of_unit(&mut moment, &row.slug).await?;
        read.push((*row, stored, text, photo));
    }
    // Others want the connection while the documents are understood.
    drop(moment);
    read.into_iter()
        .map(|(row, stored, text, photo)| {
            Ok(Compared {
                row,
                record: decoded(&text.text)?,
                evaluation: stored.evaluation()?,
                photo,
            })
        })
        .collect()
}

fn body(
    visit: &Visit,
    units: &[Compared],
    at_w: Option<f64>,
    axis: LoadAxis,
    slugs: &[String],
) -> Body {
    let curves = units
        .iter()
        .filter_map(|unit| Some((named(unit.row), unit.run()?)));
    let chart = LoadChart::comparison(LoadQuantity::Efficiency, curves, axis);
    let chart = match at_w {
        Some(watts) => chart.with_marked_w(watts),
        None => chart,
    };
    let to = |axis| address(slugs.iter().map(String::as_str), at_w, axis);
    Body {
        svg: chart.both("compared"),
        table: chart.table(),
        axes: LoadAxis::ALL
            .into_iter()
            .map(|other| AxisLink {
                label: other.label(),
                url: to(other),
                current: other == axis,
            })
            .collect(),
        figures: figures(units)
            .into_iter()
            .chain(port_lines(units))
            .collect(),
        points: points(units),
        at: at_w.map(|watts| at(units, watts)),
        link: visit.absolute(&to(axis)),
        first: units[0].row.name(),
    }
}

/// How a quantity is compared.
#[derive(Clone, Copy)]
struct Quantity {
    scale: Scale,
    more_is_better: Option<bool>,
}

fn figures(units: &[Compared]) -> Vec<Line> {
    let watts = Scale {
        unit: "W",
        factor: 1.0,
    };
    let line = |label, scale, more_is_better, of: &dyn Fn(&Compared) -> Option<Measured>| {
        compared(
            label,
            Quantity {
                scale,
                more_is_better,
            },
            units.iter().map(of).collect(),
        )
    };
    let measured = Measured::new;
    let exact = |value: f64| Measured::new(value, None);
    let mut lines = vec![
        line(word("board-score"), POINTS, Some(true), &|u| {
            Some(measured(u.row.score?, u.row.score_u))
        }),
        line(
            word("column-average-efficiency.card"),
            PERCENT,
            Some(true),
            &|u| {
                Some(measured(
                    u.row.average_efficiency?,
                    u.row.average_efficiency_u,
                ))
            },
        ),
        line(
            word("requirement-ten-percent-efficiency"),
            PERCENT,
            Some(true),
            &|u| {
                let run = u.run()?;
                Some(measured(
                    run.ten_percent_efficiency?,
                    run.ten_percent_efficiency_u,
                ))
            },
        ),
        line(
            word("requirement-no-load"),
            Scale {
                unit: "mW",
                factor: 1e3,
            },
            Some(false),
            &|u| Some(measured(u.row.no_load_w?, u.row.no_load_u)),
        ),
        stated(units, word("column-power-factor.title"), |u| {
            u.row.power_factor.map(|pf| format::fixed(pf, 3))
        }),
        stated(units, word("compare-thd"), |u| {
            u.row
                .current_thd_percent
                .map(|thd| format::with_unit(format::significant(thd, 3), "%"))
        }),
        line(word("fact-rated-output"), watts, None, &|u| {
            Some(exact(u.row.output_power_w))
        }),
        stated(units, word("column-price"), |u| {
            u.row
                .price
                .zip(u.row.currency.as_deref())
                .map(|(price, currency)| format::price(&format::fixed(price, 2), currency))
        }),
        stated(units, word("column-ports"), |u| {
            Some(ports_in_words(&u.record))
        }),
    ];
    lines.extend(if_any(line(
        word("compare-touch"),
        CELSIUS,
        Some(false),
        &|u| {
            Some(measured(
                u.row.touch_temperature_c?,
                u.row.touch_temperature_u,
            ))
        },
    )));
    lines.extend(bench_lines(units).into_iter().filter_map(if_any));
    lines
}

const CELSIUS: Scale = Scale {
    unit: "°C",
    factor: 1.0,
};

/// A line of which at least one unit has something.
fn if_any(line: Line) -> Option<Line> {
    line.cells
        .iter()
        .any(|cell| cell.value.is_some())
        .then_some(line)
}

/// What else was measured. More is not plainly better or worse here (a port that lets go late is
/// no limited source), or the conditions differ: stated side by side and not judged.
fn bench_lines(units: &[Compared]) -> Vec<Line> {
    let three = |v: f64, unit| format::with_unit(format::significant(v, 3), unit);
    let mut lines = vec![
        stated(units, word("column-trip.card"), |u| {
            let margin = u.row.trip_margin_percent?;
            let expanded = u.row.trip_margin_u_percent.map(|u| 2.0 * u);
            let text = super::overload::signed(margin, expanded, "%");
            Some(if margin < 0.0 {
                t("compare-failed").with("margin", text).to_string()
            } else {
                text
            })
        }),
        stated(units, word("column-recovery.title"), |u| {
            let how = u.row.recovery?.id();
            Some(super::overload::recovery_words(how).to_owned())
        }),
    ];
    lines.extend(OtherQuantity::ALL.into_iter().map(|quantity| {
        stated(units, quantity_name(quantity), |u| {
            let worst = u.row.other(quantity)?;
            let result = u
                .evaluation
                .measurements
                .iter()
                .find(|m| m.quantity == quantity && m.value.abs() == worst.value.abs());
            let value = plus_minus(worst.value, worst.u.map(|u| 2.0 * u), unit_of(quantity));
            Some(match result.and_then(conditions) {
                Some(conditions) => format!("{value} ({conditions})"),
                None => value,
            })
        })
    }));
    lines.extend([
        stated(units, word("column-mass"), |u| {
            u.row.mass_g.map(|g| three(g, "g"))
        }),
        stated(units, word("column-volume"), |u| {
            u.row.volume_cm3.map(|v| three(v, "cm³"))
        }),
        stated(units, word("fact-density"), |u| {
            u.row.power_density_w_per_cm3.map(|d| three(d, "W/cm³"))
        }),
    ]);
    lines
}

/// `2 × USB-C, 1 × USB-A`, as far as connectors are known.
fn ports_in_words(record: &Record) -> String {
    let ports = &record.unit.ports;
    let kinds = [
        Some(Connector::UsbC),
        Some(Connector::UsbA),
        Some(Connector::Barrel),
        Some(Connector::Other),
        None,
    ];
    let parts: Vec<String> = kinds
        .iter()
        .filter_map(|kind| {
            let count = ports.iter().filter(|p| p.connector == *kind).count();
            let text = match kind {
                Some(kind) => t("compare-ports").with("connector", format::connector(*kind)),
                None => t("compare-ports.unknown"),
            };
            (count > 0).then(|| text.with("number", count).to_string())
        })
        .collect();
    if parts.is_empty() {
        word("compare-ports.none").to_owned()
    } else {
        parts.join(", ")
    }
}

/// What the ports offer, alone and together; a line only where one of the units has something to
/// say.
fn port_lines(units: &[Compared]) -> Vec<Line> {
    let volts = |v: f64| format::with_unit(format::plain(v), "V");
    let offered = |unit: &Compared| -> Vec<(String, f64, f64)> {
        unit.evaluation
            .ports
            .iter()
            .flat_map(|port| &port.voltages)
            .filter(|row| row.advertised_a.or(row.claimed_a).is_some())
            .map(|row| (row.kind.clone(), row.voltage_min_v, row.voltage_max_v))
            .collect()
    };
    let adjustable = |unit: &Compared, kinds: &[&str]| -> Option<String> {
        let all = offered(unit);
        let ranges: Vec<_> = all
            .iter()
            .filter(|(kind, ..)| kinds.contains(&kind.as_str()))
            .collect();
        let lowest = ranges.iter().map(|r| r.1).reduce(f64::min);
        let highest = ranges.iter().map(|r| r.2).reduce(f64::max);
        match lowest.zip(highest) {
            Some((low, high)) => {
                let text = t("compare-yes").with("low", format::plain(low));
                Some(text.with("high", volts(high)).to_string())
            }
            // What no label and no list says is not known.
            None => (!all.is_empty()).then(|| word("compare-no").to_owned()),
        }
    };
    let together = |unit: &Compared| {
        let all = unit.record.unit.ports.len();
        let sharing = unit.evaluation.sharing.as_ref()?;
        sharing
            .combinations
            .iter()
            .filter(|c| all > 1 && c.ports.len() == all)
            .filter_map(|c| c.total_w)
            .reduce(f64::max)
    };
    [
        stated(units, word("compare-largest-voltage"), |u| {
            // Ranges reach a little above the voltage that they are made for.
            let all = offered(u);
            let most = |fixed: bool| {
                let these = all.iter().filter(|r| !fixed || r.0 == "fixed");
                these.map(|r| r.2).reduce(f64::max)
            };
            most(true).or(most(false)).map(volts)
        }),
        stated(units, word("compare-pps"), |u| adjustable(u, &["pps"])),
        stated(units, word("compare-avs"), |u| {
            adjustable(u, &["spr-avs", "epr-avs"])
        }),
        stated(units, word("compare-together"), |u| {
            together(u).map(|w| format::rated_watts((w * 100.0).round() / 100.0))
        }),
        Line {
            english: true,
            ..stated(units, word("compare-sharing"), |u| {
                u.evaluation.sharing.as_ref().map(|s| s.statement.clone())
            })
        },
    ]
    .into_iter()
    .filter(|line| line.cells.iter().any(|cell| cell.value.is_some()))
    .collect()
}

/// A line of facts that are shown beside each other and not judged.
fn stated(units: &[Compared], label: &str, of: impl Fn(&Compared) -> Option<String>) -> Line {
    Line {
        label: label.to_owned(),
        english: false,
        cells: units
            .iter()
            .map(|unit| CompareCell {
                value: of(unit),
                difference: None,
            })
            .collect(),
    }
}

fn compared(label: &str, quantity: Quantity, values: Vec<Option<Measured>>) -> Line {
    let first = values.first().copied().flatten();
    Line {
        label: label.to_owned(),
        english: false,
        cells: values
            .iter()
            .enumerate()
            .map(|(i, value)| CompareCell {
                value: value.map(|value| shown(quantity, value)),
                difference: match (first, value) {
                    (Some(first), Some(value)) if i > 0 => difference(quantity, first, *value),
                    _ => None,
                },
            })
            .collect(),
    }
}

fn shown(quantity: Quantity, value: Measured) -> String {
    let text = if quantity.scale == PERCENT {
        PlusMinus::efficiency(value.value, value.u)
    } else if quantity.scale == POINTS {
        PlusMinus::score(value.value, value.u)
    } else if quantity.more_is_better.is_none() {
        return format::rated_watts(value.value);
    } else {
        PlusMinus::of(value, quantity.scale, 3)
    };
    text.to_string()
}

/// The standard uncertainty of a difference of two independent measurements; unknown if either
/// is.
fn difference_u(a: Measured, b: Measured) -> Option<f64> {
    Some(a.u?.hypot(b.u?))
}

/// Is the difference larger than 2 √(u₁² + u₂²)? `None` where an uncertainty is unknown.
fn significant(a: Measured, b: Measured) -> Option<bool> {
    Some((a.value - b.value).abs() > 2.0 * difference_u(a, b)?)
}

fn difference(quantity: Quantity, first: Measured, value: Measured) -> Option<Difference> {
    let more_is_better = quantity.more_is_better?;
    let delta = value.value - first.value;
    let scaled = delta * quantity.scale.factor;
    let number = match difference_u(first, value).filter(|u| *u > 0.0) {
        Some(u) => {
            let with_u = PlusMinus::new(delta, Some(2.0 * u), quantity.scale, 3);
            let expanded = with_u.expanded.unwrap_or_default();
            format!("{} ± {expanded}", with_u.value)
        }
        None => format::significant(scaled, 2),
    };
    let plus = if scaled > 0.0 { "+" } else { "" };
    let unit = if quantity.scale == PERCENT {
        "pp"
    } else {
        quantity.scale.unit
    };
    let better = (delta > 0.0) == more_is_better;
    let (sign, told) = match significant(first, value) {
        Some(true) if better => ("▲", word("compare-better")),
        Some(true) => ("▼", word("compare-worse")),
        Some(false) => ("≈", word("compare-not-apart")),
        None => ("?", word("uncertainty-unknown")),
    };
    Some(Difference {
        text: format::with_unit(format!("{plus}{number}"), unit),
        sign,
        word: told,
    })
}

/// Efficiency at every load percentage that any of the units was measured at.
fn points(units: &[Compared]) -> Vec<Line> {
    let mut loads: Vec<f64> = units
        .iter()
        .filter_map(|unit| unit.run())
        .flat_map(|run| &run.points)
        .map(|point| point.load_percent)
        .collect();
    loads.sort_by(|a, b| b.total_cmp(a));
    // The same target written twice is one load.
    loads.dedup_by(|a, b| (*a - *b).abs() < 1e-6);
    let quantity = Quantity {
        scale: PERCENT,
        more_is_better: Some(true),
    };
    loads
        .into_iter()
        .map(|load| {
            let values = units
                .iter()
                .map(|unit| {
                    let run = unit.run()?;
                    let point = run
                        .points
                        .iter()
                        .find(|p| (p.load_percent - load).abs() < 1e-6)?;
                    Some(Measured::new(point.efficiency?, point.efficiency_u))
                })
                .collect();
            let label = format::with_unit(format::plain(load), "%");
            compared(&label, quantity, values)
        })
        .collect()
}

fn at(units: &[Compared], watts: f64) -> At {
    let modelled: Vec<(String, Option<Measured>)> = units
        .iter()
        .map(|unit| {
            let measured = unit.run().and_then(|run| efficiency_at(run, watts));
            (named(unit.row), measured)
        })
        .collect();
    let best = modelled
        .iter()
        .filter_map(|(_, measured)| *measured)
        .max_by(|a, b| a.value.total_cmp(&b.value));
    At {
        watts: format::rated_watts(watts),
        sentence: sentence(watts, &modelled),
        rows: modelled
            .iter()
            .map(|(name, measured)| {
                let is_best = measured.is_some() && *measured == best;
                AtRow {
                    name: name.clone(),
                    efficiency: measured.map(|eta| PlusMinus::efficiency(eta.value, eta.u)),
                    loss: measured
                        .filter(|eta| eta.value > 0.0)
                        .map(|eta| format::watts(watts / eta.value - watts)),
                    best: is_best,
                    note: match (measured, best) {
                        (None, _) => word("best-not-measured"),
                        (Some(_), _) if is_best => word("best-highest"),
                        (Some(one), Some(best)) => match significant(best, *one) {
                            Some(true) => word("best-lower"),
                            Some(false) => word("best-not-apart"),
                            None => word("uncertainty-unknown"),
                        },
                        (Some(_), None) => "",
                    },
                }
            })
            .collect(),
    }
}

/// Which is best, as far as it can be told.
fn sentence(watts: f64, units: &[(String, Option<Measured>)]) -> String {
    let power = format::rated_watts(watts);
    let mut known: Vec<(&str, Measured)> = units
        .iter()
        .filter_map(|(name, m)| Some((name.as_str(), (*m)?)))
        .collect();
    known.sort_by(|a, b| b.1.value.total_cmp(&a.1.value));
    let unmeasured: Vec<&str> = units
        .iter()
        .filter(|(_, m)| m.is_none())
        .map(|(name, _)| name.as_str())
        .collect();
    let mut sentences = Vec::new();
    match known.as_slice() {
        [] => return t("best-none").with("power", power).to_string(),
        [(name, best)] => sentences.push(
            t("best-only")
                .with("power", power)
                .with("unit", *name)
                .with("figure", figure(best)),
        ),
        [(name, best), ..] if known.iter().any(|(_, m)| m.u.is_none()) => sentences.push(
            t("best-unsure")
                .with("power", power)
                .with("unit", *name)
                .with("figure", figure(best)),
        ),
        [(name, best), ..] => {
            let close: Vec<&str> = known
                .iter()
                .filter(|(_, m)| significant(*best, *m) == Some(false))
                .map(|(name, _)| *name)
                .collect();
            if close.len() <= 1 {
                sentences.push(
                    t("best-is")
                        .with("power", power)
                        .with("unit", *name)
                        .with("figure", figure(best)),
                );
            } else {
                sentences.push(
                    t("best-close")
                        .with("power", power)
                        .with("units", listed(&close))
                        .with("figure", figure(best)),
                );
                let rest = known.len() - close.len();
                if rest > 0 {
                    sentences.push(t("best-others").with("count", rest));
                }
            }
        }
    }
    if !unmeasured.is_empty() {
        sentences.push(
            t("best-unmeasured")
                .with("count", unmeasured.len())
                .with("units", listed(&unmeasured)),
        );
    }
    let sentences: Vec<String> = sentences.iter().map(ToString::to_string).collect();
    sentences.join(" ")
}

fn figure(efficiency: &Measured) -> String {
    PlusMinus::efficiency(efficiency.value, efficiency.u).to_string()
}

fn listed(names: &[&str]) -> String {
    match names {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [all @ .., end] => t("listed")
            .with("first", all.join(", "))
            .with("last", *end)
            .to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Value and standard uncertainty, where measured.
    type Figure = Option<(f64, Option<f64>)>;

    fn told(units: &[(&str, Figure)]) -> String {
        let units: Vec<_> = units
            .iter()
            .map(|(name, m)| {
                (
                    (*name).to_owned(),
                    m.map(|(value, u)| Measured::new(value, u)),
                )
            })
            .collect();
        sentence(10.0, &units).replace('\u{202f}', " ")
    }

    #[test]
    fn a_unit_better_by_more_than_the_uncertainty_is_called_best() {
        let words = told(&[
            ("A", Some((0.90, Some(0.001)))),
            ("B", Some((0.92, Some(0.001)))),
        ]);
        assert_eq!(words, "At 10 W B is best: (92.00 ± 0.20) %.");
    }

    #[test]
    fn units_nearer_than_the_uncertainty_are_not_told_apart() {
        let words = told(&[
            ("A", Some((0.900, Some(0.004)))),
            ("B", Some((0.902, Some(0.004)))),
            ("C", Some((0.800, Some(0.004)))),
        ]);
        assert!(
            words.starts_with("At 10 W B and A cannot be told apart"),
            "{words}"
        );
        assert!(words.ends_with("The other one is surely lower."), "{words}");
    }

    #[test]
    fn without_a_known_uncertainty_nothing_is_surely_best() {
        let words = told(&[("A", Some((0.9, None))), ("B", Some((0.8, Some(0.001))))]);
        assert!(words.contains("can’t be said"), "{words}");
    }

    #[test]
    fn a_unit_not_measured_up_to_the_power_is_named_and_not_ranked() {
        let words = told(&[("A", Some((0.9, Some(0.001)))), ("B", None)]);
        assert_eq!(
            words,
            "At 10 W only A can be told: (90.00 ± 0.20) %. B cannot be told: not measured up to this power."
        );
        assert_eq!(
            told(&[("A", None)]),
            "None of these units was measured up to 10 W."
        );
    }

    #[test]
    fn a_difference_of_exactly_its_expanded_uncertainty_is_not_significant() {
        let a = Measured::new(1.0, Some(0.5));
        assert_eq!(significant(a, Measured::new(0.0, Some(0.0))), Some(false));
        assert_eq!(significant(a, Measured::new(-0.01, Some(0.0))), Some(true));
        assert_eq!(significant(a, Measured::new(0.0, None)), None);
    }
}
