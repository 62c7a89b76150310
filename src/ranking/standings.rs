//! All published units as one immutable structure in memory: every order is made once, when it is
//! first asked for, so that a page is a walk along an index. Ten thousand units take a few megabytes.

use super::Row;
use super::intervals::{RankInterval, rank_intervals};
use super::view::{Filter, Prepared, SortKey, View};
use crate::bench::record::folded;
use std::cmp::Ordering;
use std::collections::{BTreeMap, HashMap};
use std::sync::OnceLock;
use std::thread;

/// Where a unit stands, among units whose score is not provisional (a provisional one among the
/// provisional); `None` without a score.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ranks {
    pub overall: RankInterval,
    pub overall_of: usize,
    pub class: RankInterval,
    pub class_of: usize,
    pub provisional: bool,
    /// A score without known uncertainty takes its place as if it were exact.
    pub u_unknown: bool,
}

/// One page of the leaderboard.
#[derive(Debug)]
pub struct Page<'a> {
    pub rows: Vec<&'a Row>,
    /// Rows that pass the filter.
    pub total: usize,
    /// Page shown, from 1.
    pub page: usize,
    pub pages: usize,
    /// Place of the first row shown in the filtered list, from 1; 0 on an empty page.
    pub first: usize,
}

#[derive(Debug)]
pub struct Standings {
    rows: Vec<Row>,
    /// Folded "maker model sample" of each row.
    haystacks: Vec<String>,
    /// Folded maker of each row.
    makers: Vec<String>,
    by_slug: HashMap<String, usize>,
    ranks: Vec<Option<Ranks>>,
    /// Number of each class id, and of each row's class: numbers are quicker compared than texts.
    class_numbers: HashMap<String, u32>,
    class_of: Vec<u32>,
    /// Row numbers of each class by falling score.
    best_of_class: Vec<Vec<u32>>,
    /// Which of [`SortKey::ALL`] a row has a value of, a bit each.
    present: Vec<u32>,
    /// Place of each row in the order of maker, model, sample, then id: what ties are decided by.
    name_places: Vec<u32>,
    /// Row numbers in the order of each sort key, rising and falling.
    orders: HashMap<SortKey, [OnceLock<Vec<u32>>; 2]>,
}

impl Standings {
    pub fn new(rows: Vec<Row>) -> Standings {
        // The two that take longest, side by side.
        let (ranks, names, name_places) = thread::scope(|side| {
            let ranking = thread::Builder::new().spawn_scoped(side, || ranks(&rows));
            let names: Vec<Name> = rows.iter().map(Name::of).collect();
            let name_places = places(&rows, &names);
            let ranks = match ranking {
                Ok(ranking) => ranking.join().expect("ranking does not panic"),
                // The system gives no more threads.
                Err(_) => ranks(&rows),
            };
            (ranks, names, name_places)
        });
        let (haystacks, makers) = names
            .into_iter()
            .map(|name| (name.words(), name.maker))
            .unzip();
        let by_slug = rows
            .iter()
            .enumerate()
            .map(|(i, r)| (r.slug.clone(), i))
            .collect();
        let mut class_numbers: HashMap<String, u32> = HashMap::new();
        let class_of: Vec<u32> = rows
            .iter()
            .map(|row| {
                let next = class_numbers.len() as u32;
                *class_numbers.entry(row.class.id.clone()).or_insert(next)
            })
            .collect();
        let present = rows
            .iter()
            .map(|row| {
                SortKey::ALL
                    .into_iter()
                    .enumerate()
                    .filter(|(_, key)| value(row, *key).is_some())
                    .fold(0, |bits, (at, _)| bits | 1 << at)
            })
            .collect();
        let best = sorted(&rows, &name_places, SortKey::Score, true);
        let mut best_of_class = vec![Vec::new(); class_numbers.len()];
        for &row in &best {
            best_of_class[class_of[row as usize] as usize].push(row);
        }
        let mut orders: HashMap<_, [OnceLock<_>; 2]> =
            SortKey::ALL.map(|key| (key, Default::default())).into();
        orders.insert(SortKey::Score, [OnceLock::new(), best.into()]);
        Standings {
            rows,
            haystacks,
            makers,
            by_slug,
            ranks,
            class_numbers,
            class_of,
            best_of_class,
            present,
            name_places,
            orders,
        }
    }

    pub fn rows(&self) -> &[Row] {
        &self.rows
    }

    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    pub fn row(&self, slug: &str) -> Option<&Row> {
        self.by_slug.get(slug).map(|&i| &self.rows[i])
    }

    pub fn ranks(&self, slug: &str) -> Option<Ranks> {
        self.ranks[*self.by_slug.get(slug)?]
    }

    /// The units of a class by falling score.
    pub fn best_of_class(&self, class: &str) -> Vec<&Row> {
        self.class_numbers.get(class).map_or(Vec::new(), |&class| {
            let places = self.best_of_class[class as usize].iter();
            places.map(|&i| &self.rows[i as usize]).collect()
        })
    }

    /// One page of the filtered list. Rows without a value of the sort key come last in either
    /// direction; provisional scores come after the others when sorted by score; ties keep one
    /// order (maker, model, sample, then id), so paging is stable.
    pub fn page(&self, view: &View) -> Page<'_> {
        let matching: Vec<u32> = self.matching(&view.filter, view.sort, view.descending);
        let per_page = view.per_page.max(1);
        let pages = matching.len().div_ceil(per_page).max(1);
        let page = view.page.clamp(1, pages);
        let start = (page - 1) * per_page;
        let rows: Vec<&Row> = matching
            .iter()
            .skip(start)
            .take(per_page)
            .map(|&i| &self.rows[i as usize])
            .collect();
        Page {
            first: if rows.is_empty() { 0 } else { start + 1 },
            rows,
            total: matching.len(),
            page,
            pages,
        }
    }

    /// All rows that pass the filter, in order.
    pub fn all(&self, filter: &Filter, sort: SortKey, descending: bool) -> Vec<&Row> {
        self.matching(filter, sort, descending)
            .into_iter()
            .map(|i| &self.rows[i as usize])
            .collect()
    }

    /// Of which keys at least one row that passes the filter has a value.
    pub fn present(&self, filter: &Filter) -> Vec<SortKey> {
        let bits = if *filter == Filter::default() {
            self.present.iter().fold(0, |bits, of| bits | of)
        } else {
            self.matching(filter, SortKey::Score, true)
                .into_iter()
                .fold(0, |bits, i| bits | self.present[i as usize])
        };
        SortKey::ALL
            .into_iter()
            .enumerate()
            .filter(|(at, _)| bits & 1 << at != 0)
            .map(|(_, key)| key)
            .collect()
    }

    fn order(&self, key: SortKey, descending: bool) -> &[u32] {
        self.orders[&key][usize::from(descending)]
            .get_or_init(|| sorted(&self.rows, &self.name_places, key, descending))
    }

    fn matching(&self, filter: &Filter, sort: SortKey, descending: bool) -> Vec<u32> {
        let order = self.order(sort, descending);
        if *filter == Filter::default() {
            return order.to_vec();
        }
        let class = match &filter.class {
            None => None,
            Some(class) => match self.class_numbers.get(class) {
                Some(&number) => Some(number),
                None => return Vec::new(),
            },
        };
        let prepared = Prepared::of(filter);
        order
            .iter()
            .copied()
            .filter(|&i| {
                let i = i as usize;
                class.is_none_or(|class| self.class_of[i] == class)
                    && prepared.holds_within_class(
                        &self.rows[i],
                        &self.haystacks[i],
                        &self.makers[i],
                    )
            })
            .collect()
    }

    /// Makers as first spelled, with their number of units, in alphabetical order.
    pub fn maker_counts(&self) -> Vec<(&str, usize)> {
        let mut counts: BTreeMap<&str, (&str, usize)> = BTreeMap::new();
        for (row, folded) in self.rows.iter().zip(&self.makers) {
            counts.entry(folded).or_insert((&row.maker, 0)).1 += 1;
        }
        counts.into_values().collect()
    }

    /// Number of units of each class id.
    pub fn class_counts(&self) -> BTreeMap<&str, usize> {
        let mut counts = BTreeMap::new();
        for row in &self.rows {
            *counts.entry(row.class.id.as_str()).or_insert(0) += 1;
        }
        counts
    }

    /// Currencies that occur, in alphabetical order.
    pub fn currencies(&self) -> Vec<&str> {
        let mut all: Vec<&str> = self
            .rows
            .iter()
            .filter_map(|r| r.currency.as_deref())
            .collect();
        all.sort_unstable();
        all.dedup();
        all
    }
}

/// Rank intervals within groups that may be compared: same provisional state, overall and class.
fn ranks(rows: &[Row]) -> Vec<Option<Ranks>> {
    let mut overall: BTreeMap<bool, Vec<usize>> = BTreeMap::new();
    let mut classes: BTreeMap<(bool, &str), Vec<usize>> = BTreeMap::new();
    for (i, row) in rows.iter().enumerate().filter(|(_, r)| r.score.is_some()) {
        overall.entry(row.provisional).or_default().push(i);
        classes
            .entry((row.provisional, &row.class.id))
            .or_default()
            .push(i);
    }
    let place = |group: &[usize]| -> Vec<(usize, RankInterval)> {
        let scores: Vec<(f64, Option<f64>)> = group
            .iter()
            .filter_map(|&i| Some((rows[i].score?, rows[i].score_u)))
            .collect();
        group.iter().copied().zip(rank_intervals(&scores)).collect()
    };
    let mut in_class: HashMap<usize, (RankInterval, usize)> = HashMap::new();
    for group in classes.values() {
        in_class.extend(
            place(group)
                .into_iter()
                .map(|(i, interval)| (i, (interval, group.len()))),
        );
    }
    let mut ranks = vec![None; rows.len()];
    for group in overall.values() {
        for (i, interval) in place(group) {
            let (class, class_of) = in_class[&i];
            ranks[i] = Some(Ranks {
                overall: interval,
                overall_of: group.len(),
                class,
                class_of,
                provisional: rows[i].provisional,
                u_unknown: rows[i].score_u.is_none(),
            });
        }
    }
    ranks
}

/// A value to sort by; rows without one come last in either direction.
enum Value<'a> {
    Number(f64),
    Text(&'a str),
}

/// The number that a row is sorted by; none where it has none, or is sorted by a text.
pub fn number(row: &Row, key: SortKey) -> Option<f64> {
    match value(row, key)? {
        Value::Number(number) => Some(number),
        Value::Text(_) => None,
    }
}

fn value(row: &Row, key: SortKey) -> Option<Value<'_>> {
    let number = match key {
        SortKey::Name => return Some(Value::Text("")), // the tie-break is the name order
        SortKey::TestedOn => return row.tested_on.as_deref().map(Value::Text),
        SortKey::Score => row.score,
        SortKey::OutputPower => Some(row.output_power_w),
        SortKey::AverageEfficiency => row.average_efficiency,
        SortKey::TenPercentEfficiency => row.ten_percent_efficiency,
        SortKey::NoLoad => row.no_load_w,
        SortKey::PowerFactor => row.power_factor,
        SortKey::CurrentThd => row.current_thd_percent,
        SortKey::Price => row.price,
        SortKey::Mass => row.mass_g,
        SortKey::Volume => row.volume_cm3,
        SortKey::PowerDensity => row.power_density_w_per_cm3,
        SortKey::PointsForPrice => row.points_for_price(),
        SortKey::HotSpotRise => row.hot_spot_rise_k,
        SortKey::Ports => Some(f64::from(row.ports)),
        SortKey::TripMargin => row.trip_margin_percent,
        SortKey::Recovery => row.recovery.map(|r| f64::from(r as u8)),
        SortKey::TouchTemperature => row.touch_temperature_c,
        SortKey::Other(quantity) => row.other(quantity).map(|o| o.value),
        SortKey::Verdict => row
            .verdicts
            .iter()
            .map(|(_, outcome)| *outcome)
            .filter(|o| *o != crate::evaluate::evaluation::Outcome::NotAssessed)
            .max()
            .map(|worst| f64::from(worst as u8)),
    };
    number.map(Value::Number)
}

/// Maker, model and sample as they are compared and searched: folded.
struct Name {
    maker: String,
    model: String,
    sample: String,
}

impl Name {
    fn of(row: &Row) -> Name {
        Name {
            maker: folded(&row.maker),
            model: folded(&row.model),
            sample: folded(row.sample.as_deref().unwrap_or("")),
        }
    }

    /// All words in one text.
    fn words(&self) -> String {
        format!("{} {} {}", self.maker, self.model, self.sample)
    }

    fn in_turn(&self) -> [&str; 3] {
        [&self.maker, &self.model, &self.sample]
    }
}

/// The place of each row among all by name, then by id.
fn places(rows: &[Row], names: &[Name]) -> Vec<u32> {
    let mut by_name: Vec<usize> = (0..rows.len()).collect();
    by_name.sort_unstable_by(|&a, &b| {
        let names = names[a].in_turn().cmp(&names[b].in_turn());
        names.then(rows[a].unit_id.cmp(&rows[b].unit_id))
    });
    let mut places = vec![0; rows.len()];
    for (place, row) in by_name.into_iter().enumerate() {
        places[row] = place as u32;
    }
    places
}

/// Row numbers by the values of a key; rows without a value come last in either direction, and ties
/// keep the order of `name_places`.
fn sorted(rows: &[Row], name_places: &[u32], key: SortKey, descending: bool) -> Vec<u32> {
    // Prices of two currencies do not compare: grouped by currency, then by amount.
    let currency = |row: &Row| -> u32 {
        row.currency
            .as_deref()
            .map_or(0, |c| c.bytes().fold(0, |hash, b| hash << 8 | u32::from(b)))
    };
    let group = |row: &Row| -> u32 {
        match key {
            SortKey::Score => u32::from(row.provisional),
            SortKey::Price => currency(row),
            SortKey::PointsForPrice => u32::from(row.provisional) << 24 | currency(row),
            _ => 0,
        }
    };
    let mut keyed: Vec<_> = rows
        .iter()
        .zip(name_places)
        .zip(0u32..)
        .map(|((row, &place), number)| (value(row, key).map(|v| (group(row), v)), place, number))
        .collect();
    keyed.sort_unstable_by(|a, b| {
        let by_value = match (&a.0, &b.0) {
            (Some(x), Some(y)) => x.0.cmp(&y.0).then_with(|| {
                let rising = match (&x.1, &y.1) {
                    (Value::Number(x), Value::Number(y)) => x.total_cmp(y),
                    (Value::Text(x), Value::Text(y)) => x.cmp(y),
                    _ => Ordering::Equal,
                };
                if descending { rising.reverse() } else { rising }
            }),
            (Some(_), None) => Ordering::Less,
            (None, Some(_)) => Ordering::Greater,
            (None, None) => Ordering::Equal,
        };
        let by_name = a.1.cmp(&b.1);
        let by_name = if key == SortKey::Name && descending {
            by_name.reverse()
        } else {
            by_name
        };
        by_value.then(by_name)
    });
    keyed.into_iter().map(|(_, _, number)| number).collect()
}
