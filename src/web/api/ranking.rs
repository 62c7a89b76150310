//! The leaderboard as data: filters, orders and pages as on the page, with rank intervals.

use super::paging::Paging;
use super::problem::Problem;
use super::units::{Class, UnitLinks};
use super::{PREFIX, json, kept};
use crate::bench::record::OtherQuantity;
use crate::evaluate::evaluation::Outcome;
use crate::evaluate::other_measurements::unit_of;
use crate::ranking::{Basis, Filter, RankInterval, Recovered, Row, SortKey, VerdictFilter};
use crate::web::Site;
use crate::web::extract::Pairs;
use crate::web::state::Public;
use axum::extract::State;
use axum::http::{HeaderValue, header};
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use std::sync::Arc;
use time::Date;
use time::format_description::well_known::Iso8601;
use utoipa::{IntoParams, ToSchema};

/// What may be asked of a list of units. Only described here; [`Listing::read`] reads it strictly.
#[derive(IntoParams)]
#[into_params(parameter_in = Query)]
#[expect(dead_code, reason = "its fields are what the description shows")]
pub struct ListingQuery {
    /// Which page, from 1.
    #[param(minimum = 1)]
    page: Option<u32>,
    /// Units on a page; 50 where nothing is said.
    #[param(minimum = 1, maximum = 200)]
    per_page: Option<u32>,
    /// Id of a wattage class.
    #[param(min_length = 1)]
    class: Option<String>,
    /// Maker, compared without case and extra spaces.
    #[param(min_length = 1)]
    maker: Option<String>,
    /// Words that must all occur in maker, model or sample.
    #[param(min_length = 1)]
    q: Option<String>,
    /// At least so many ports.
    #[param(maximum = 99)]
    ports: Option<u32>,
    /// At least so many USB-C ports.
    #[param(maximum = 99)]
    usb_c: Option<u32>,
    /// Watts that each of these ports gives while the others do so too: of the `usb_c` ports asked
    /// for, else of `ports`, else of one port. As observed; where no combination of so many ports
    /// was observed, by the label.
    #[param(minimum = 0.1, maximum = 1000.0)]
    each_w: Option<f64>,
    /// Id of the regime that `verdict` is about.
    #[param(min_length = 1)]
    regime: Option<String>,
    /// Result in that regime: `passes` (conditionally or not), `fails`, or a result's own word.
    #[param(min_length = 1)]
    verdict: Option<String>,
    /// Highest price, in `currency`, which must stand beside it.
    #[param(minimum = 0)]
    price: Option<f64>,
    /// ISO 4217 code; units priced otherwise or not at all are left out.
    #[param(min_length = 1)]
    currency: Option<String>,
    /// ISO 8601 date of the first test day.
    #[param(format = Date)]
    from: Option<String>,
    /// ISO 8601 date of the last test day.
    #[param(format = Date)]
    to: Option<String>,
    /// What the list is sorted by: `score` where nothing is said. Units without a value of it come
    /// last.
    #[param(min_length = 1)]
    sort: Option<String>,
    /// `asc` or `desc`; where nothing is said, the better end comes first.
    #[param(pattern = "^(asc|desc)$")]
    dir: Option<String>,
}

/// One page of the leaderboard.
#[derive(Debug, Serialize, ToSchema)]
struct Ranking {
    /// From 1.
    page: usize,
    per_page: usize,
    /// Units that the filter leaves, over all pages.
    total: usize,
    units: Vec<RankedUnit>,
}

/// A unit as the leaderboard shows it. Its figures come from one run, `run`.
#[derive(Debug, Serialize, ToSchema)]
struct RankedUnit {
    slug: String,
    maker: String,
    model: String,
    sample: Option<String>,
    class: Class,
    /// By the label, all ports together.
    output_power_w: f64,
    score: ScoreSummary,
    /// Null without a score.
    rank: Option<Rank>,
    /// The highest-voltage run on the score line.
    run: Option<String>,
    /// Fraction.
    average_efficiency: Option<f64>,
    average_efficiency_u: Option<f64>,
    /// Fraction.
    ten_percent_efficiency: Option<f64>,
    /// Least favourable reading on the score line.
    no_load_w: Option<f64>,
    no_load_u: Option<f64>,
    /// At 100 % load.
    power_factor: Option<f64>,
    /// At 100 % load.
    current_thd_percent: Option<f64>,
    price: Option<f64>,
    currency: Option<String>,
    /// Adapter alone.
    mass_g: Option<f64>,
    /// Of the box around it, without the cord.
    volume_cm3: Option<f64>,
    power_density_w_per_cm3: Option<f64>,
    /// Hot spot over ambient at the highest load recorded.
    hot_spot_rise_k: Option<f64>,
    /// The smallest trip margin of all ports tried, in percent of the rated current; negative:
    /// a failed delivery.
    trip_margin_percent: Option<f64>,
    /// In percent points.
    trip_margin_u_percent: Option<f64>,
    /// The most laborious recovery seen after an overload.
    recovery: Option<Recovered>,
    /// The highest settled temperature of a surface, brought to 25 °C ambient.
    touch_temperature_c: Option<f64>,
    touch_temperature_u: Option<f64>,
    /// The least favourable value of each further quantity that was measured.
    measurements: Vec<FurtherValue>,
    ports: u32,
    usb_c_ports: u32,
    usb_a_ports: u32,
    /// Only where `each_w` is asked for: `observed`, or `label` where no combination of so many
    /// ports was observed.
    together_by: Option<&'static str>,
    /// Latest test date, ISO 8601.
    tested_on: Option<String>,
    verdicts: Vec<RegimeVerdict>,
    links: UnitLinks,
}

/// A further quantity; the evaluation has every value with its conditions.
#[derive(Debug, Serialize, ToSchema)]
struct FurtherValue {
    quantity: OtherQuantity,
    /// `mV`, `%`, `ms`, `A`, `µA` or `dB(A)`.
    unit: &'static str,
    value: f64,
    u: Option<f64>,
}

/// A score, briefly; the evaluation has its terms.
#[derive(Debug, Serialize, ToSchema)]
struct ScoreSummary {
    /// Version of the formula.
    version: u32,
    /// 0 to 100; null with no term present.
    value: Option<f64>,
    u: Option<f64>,
    /// Weight present, a fraction.
    coverage: f64,
    /// Too little of the weight is present: ranked after the others.
    provisional: bool,
}

/// Where a unit stands, as far as uncertainty allows to say. A provisional score stands among the
/// provisional ones.
#[derive(Debug, Serialize, ToSchema)]
struct Rank {
    overall: Interval,
    in_class: Interval,
    provisional: bool,
    /// The score has no known uncertainty and is ranked as if it were exact.
    u_unknown: bool,
}

/// From the best to the worst place that the data leaves open, both counted from 1.
#[derive(Debug, Serialize, ToSchema)]
struct Interval {
    from: usize,
    to: usize,
    /// Units that are compared.
    of: usize,
}

/// A unit's result in one regime.
#[derive(Debug, Serialize, ToSchema)]
struct RegimeVerdict {
    regime: String,
    result: Outcome,
}

/// The leaderboard
///
/// Takes the filters and orders of the leaderboard's page. Rank intervals are over all units and
/// over the unit's class, whatever the filter shows.
#[utoipa::path(
    get,
    path = "/ranking",
    tag = "ranking",
    params(ListingQuery),
    responses(
        (status = OK, description = "One page; the Link header leads to the others",
         body = Ranking, headers(("Link" = String, description = "Other pages (RFC 8288)"))),
        (status = 400, description = "The query cannot be read", body = Problem,
         content_type = "application/problem+json"),
    ),
)]
pub async fn ranking(State(site): State<Site>, Pairs(pairs): Pairs) -> Result<Response, Problem> {
    let listing = Listing::read(&site, pairs)?;
    let links = listing.links(&format!("{PREFIX}/ranking"));
    let rows = listing.rows();
    let ranking = Ranking {
        page: listing.paging.page,
        per_page: listing.paging.per_page,
        total: rows.total,
        units: rows
            .shown
            .into_iter()
            .map(|row| ranked(&listing.public, &listing.filter, row))
            .collect(),
    };
    Ok(kept(
        ([(header::LINK, links)], json(ranking)).into_response(),
    ))
}

fn ranked(public: &Public, filter: &Filter, row: &Row) -> RankedUnit {
    let interval = |interval: RankInterval, of: usize| Interval {
        from: interval.best,
        to: interval.worst,
        of,
    };
    RankedUnit {
        slug: row.slug.clone(),
        maker: row.maker.clone(),
        model: row.model.clone(),
        sample: row.sample.clone(),
        class: Class::from(&row.class),
        output_power_w: row.output_power_w,
        score: ScoreSummary {
            version: row.score_version,
            value: row.score,
            u: row.score_u,
            coverage: row.coverage,
            provisional: row.provisional,
        },
        rank: public.standings.ranks(&row.slug).map(|ranks| Rank {
            overall: interval(ranks.overall, ranks.overall_of),
            in_class: interval(ranks.class, ranks.class_of),
            provisional: ranks.provisional,
            u_unknown: ranks.u_unknown,
        }),
        run: row.run.clone(),
        average_efficiency: row.average_efficiency,
        average_efficiency_u: row.average_efficiency_u,
        ten_percent_efficiency: row.ten_percent_efficiency,
        no_load_w: row.no_load_w,
        no_load_u: row.no_load_u,
        power_factor: row.power_factor,
        current_thd_percent: row.current_thd_percent,
        price: row.price,
        currency: row.currency.clone(),
        mass_g: row.mass_g,
        volume_cm3: row.volume_cm3,
        power_density_w_per_cm3: row.power_density_w_per_cm3,
        hot_spot_rise_k: row.hot_spot_rise_k,
        trip_margin_percent: row.trip_margin_percent,
        trip_margin_u_percent: row.trip_margin_u_percent,
        recovery: row.recovery,
        touch_temperature_c: row.touch_temperature_c,
        touch_temperature_u: row.touch_temperature_u,
        measurements: row
            .others
            .iter()
            .map(|other| FurtherValue {
                quantity: other.quantity,
                unit: unit_of(other.quantity),
                value: other.value,
                u: other.u,
            })
            .collect(),
        ports: row.ports,
        usb_c_ports: row.usb_c_ports,
        usb_a_ports: row.usb_a_ports,
        together_by: filter.together(row).map(Basis::id),
        tested_on: row.tested_on.clone(),
        verdicts: row
            .verdicts
            .iter()
            .map(|(regime, result)| RegimeVerdict {
                regime: regime.clone(),
                result: *result,
            })
            .collect(),
        links: UnitLinks::of(&row.slug),
    }
}

/// A list of units that was asked for, over one state of the public data.
pub struct Listing {
    pub public: Arc<Public>,
    pub paging: Paging,
    filter: Filter,
    sort: SortKey,
    descending: bool,
    /// The query without its page, for links.
    others: Vec<(String, String)>,
}

/// What a listing finds.
pub struct Found<'a> {
    /// Over all pages.
    pub total: usize,
    /// On the page asked for; none on a page past the end.
    pub shown: Vec<&'a Row>,
}

impl Listing {
    /// Reads a query strictly: a parameter that is not known is refused, so that a misspelt filter
    /// never looks like an answer.
    ///
    /// # Errors
    /// The first parameter that cannot be read.
    pub fn read(site: &Site, pairs: Vec<(String, String)>) -> Result<Listing, Problem> {
        let (paging, others) = Paging::split(pairs)?;
        let mut filter = Filter::default();
        let (mut sort, mut descending) = (SortKey::Score, None);
        let (mut regime, mut verdict) = (None, None);
        for (name, value) in &others {
            let value = value.trim();
            let refused = |expected: &str| Problem::bad_query(name, value, expected);
            if value.is_empty() {
                return Err(refused("a value, or no such parameter"));
            }
            let count = || {
                let count = value.parse::<u32>().ok().filter(|count| *count <= 99);
                count.ok_or_else(|| refused("a whole number from 0 to 99"))
            };
            let date = || match Date::parse(value, &Iso8601::DATE) {
                Ok(_) if value.len() == 10 => Ok(Some(value.to_owned())),
                _ => Err(refused("a calendar date such as 2026-08-14")),
            };
            match name.as_str() {
                "class" => {
                    let mut ids = site.method.classes.iter().map(|class| class.id.as_str());
                    if !ids.any(|id| id == value) {
                        return Err(refused("the id of a class; /api/v1/classes lists them"));
                    }
                    filter.class = Some(value.to_owned());
                }
                "maker" => filter.maker = Some(value.to_owned()),
                "q" => filter.search = value.to_owned(),
                "ports" => filter.ports_at_least = Some(count()?),
                "usb_c" => filter.usb_c_at_least = Some(count()?),
                "each_w" => {
                    let watts = value.parse::<f64>().ok();
                    let watts = watts.filter(|w| (0.1..=1000.0).contains(w));
                    filter.each_w = Some(watts.ok_or_else(|| refused("0.1 to 1000 W"))?);
                }
                "regime" => {
                    if site.method.standards.regime(value).is_none() {
                        return Err(refused("the id of a regime; /api/v1/regimes lists them"));
                    }
                    regime = Some(value.to_owned());
                }
                "verdict" => {
                    verdict = Some(VerdictFilter::from_id(value).ok_or_else(|| {
                        refused("passes, fails, or a result such as conditional-pass")
                    })?);
                }
                "price" => {
                    let price = value.parse::<f64>().ok();
                    let price = price.filter(|p| p.is_finite() && *p >= 0.0);
                    filter.price_at_most = Some(price.ok_or_else(|| refused("an amount"))?);
                }
                "currency" => filter.currency = Some(value.to_uppercase()),
                "from" => filter.tested_from = date()?,
                "to" => filter.tested_to = date()?,
                "sort" => {
                    let words: Vec<_> = SortKey::ALL.iter().map(|key| key.id()).collect();
                    sort = SortKey::from_id(value)
                        .ok_or_else(|| refused(&format!("one of {}", words.join(", "))))?;
                }
                "dir" => {
                    descending = Some(match value {
                        "asc" => false,
                        "desc" => true,
                        _ => return Err(refused("asc or desc")),
                    });
                }
                _ => {
                    return Err(refused(
                        "no such parameter; /api/v1/openapi.json lists them",
                    ));
                }
            }
        }
        if let (Some(price), None) = (filter.price_at_most, &filter.currency) {
            let price = price.to_string();
            return Err(Problem::bad_query("price", &price, "currency beside it"));
        }
        filter.verdict = match (regime, verdict) {
            (Some(regime), Some(verdict)) => Some((regime, verdict)),
            (None, None) => None,
            (Some(regime), None) => {
                return Err(Problem::bad_query("regime", &regime, "verdict beside it"));
            }
            (None, Some(verdict)) => {
                return Err(Problem::bad_query(
                    "verdict",
                    verdict.id(),
                    "regime beside it",
                ));
            }
        };
        Ok(Listing {
            public: site.public(),
            paging,
            filter,
            sort,
            descending: descending.unwrap_or(sort.descending_first()),
            others,
        })
    }

    pub fn rows(&self) -> Found<'_> {
        let all = self
            .public
            .standings
            .all(&self.filter, self.sort, self.descending);
        let before = (self.paging.page - 1).saturating_mul(self.paging.per_page);
        Found {
            total: all.len(),
            shown: all
                .into_iter()
                .skip(before)
                .take(self.paging.per_page)
                .collect(),
        }
    }

    /// The `Link` header of this listing at `path`.
    pub fn links(&self, path: &str) -> HeaderValue {
        self.paging.links(path, &self.others, self.rows().total)
    }
}
