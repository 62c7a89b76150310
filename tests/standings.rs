//! The leaderboard as its readers use it: orders, filters, pages that neither lose nor repeat.

use brickbook::demo;
use brickbook::evaluate::evaluation::Outcome;
use brickbook::evaluate::{Method, evaluate};
use brickbook::ranking::{Filter, Row, SortKey, Standings, VerdictFilter, View};
use std::collections::BTreeSet;
use std::sync::LazyLock;

static STANDINGS: LazyLock<Standings> = LazyLock::new(|| {
    let method = Method::standard();
    let rows = demo::collection()
        .iter()
        .enumerate()
        .map(|(i, record)| {
            let slug = demo::file_name(record).trim_end_matches(".json").to_owned();
            Row::of(i as i64, &slug, record, &evaluate(record, &method), &method)
        })
        .collect();
    Standings::new(rows)
});

fn view(change: impl FnOnce(&mut View)) -> View {
    let mut view = View::default();
    change(&mut view);
    view
}

#[test]
fn walking_the_pages_of_any_order_shows_every_unit_exactly_once() {
    for sort in SortKey::ALL {
        for descending in [false, true] {
            let mut seen = Vec::new();
            let pages = STANDINGS
                .page(&view(|v| (v.sort, v.per_page) = (sort, 7)))
                .pages;
            for page in 1..=pages {
                let view = view(|v| {
                    (v.sort, v.descending, v.page, v.per_page) = (sort, descending, page, 7)
                });
                seen.extend(STANDINGS.page(&view).rows.iter().map(|r| r.slug.clone()));
            }
            assert_eq!(seen.len(), STANDINGS.rows().len(), "{sort:?}");
            assert_eq!(
                seen.iter().collect::<BTreeSet<_>>().len(),
                seen.len(),
                "{sort:?}"
            );
        }
    }
}

#[test]
fn a_page_beyond_the_last_is_the_last() {
    let page = STANDINGS.page(&view(|v| v.page = 1_000_000));
    assert_eq!(page.page, page.pages);
    assert!(!page.rows.is_empty());
}

#[test]
fn provisional_scores_never_mix_with_the_others() {
    for descending in [true, false] {
        let rows = STANDINGS.all(&Filter::default(), SortKey::Score, descending);
        let provisional: Vec<bool> = rows
            .iter()
            .filter(|r| r.score.is_some())
            .map(|r| r.provisional)
            .collect();
        assert!(
            provisional.contains(&true),
            "the collection holds a provisional unit"
        );
        assert!(provisional.is_sorted(), "all provisional ones come last");
        let scores: Vec<f64> = rows
            .iter()
            .filter(|r| !r.provisional)
            .filter_map(|r| r.score)
            .collect();
        assert!(if descending {
            scores.is_sorted_by(|a, b| a >= b)
        } else {
            scores.is_sorted()
        });
    }
    for row in STANDINGS.rows().iter().filter(|r| r.provisional) {
        let ranks = STANDINGS.ranks(&row.slug).unwrap();
        assert!(ranks.provisional && ranks.overall_of < STANDINGS.rows().len());
    }
}

#[test]
fn a_unit_without_a_value_comes_last_in_either_direction() {
    for descending in [true, false] {
        let rows = STANDINGS.all(&Filter::default(), SortKey::HotSpotRise, descending);
        let missing: Vec<bool> = rows.iter().map(|r| r.hot_spot_rise_k.is_none()).collect();
        assert!(missing.contains(&true) && missing.is_sorted());
    }
}

#[test]
fn each_filter_keeps_exactly_what_it_says() {
    let all = STANDINGS.rows();
    let check = |filter: Filter, keep: &dyn Fn(&Row) -> bool| {
        let found: BTreeSet<&str> = STANDINGS
            .all(&filter, SortKey::Name, false)
            .into_iter()
            .map(|r| r.slug.as_str())
            .collect();
        let expected: BTreeSet<&str> = all
            .iter()
            .filter(|r| keep(r))
            .map(|r| r.slug.as_str())
            .collect();
        assert!(
            !expected.is_empty() && expected.len() < all.len(),
            "{filter:?} tells something"
        );
        assert_eq!(found, expected, "{filter:?}");
    };
    let none = Filter::default;
    check(
        Filter {
            class: Some("w100".into()),
            ..none()
        },
        &|r| r.output_power_w > 70.0 && r.output_power_w <= 100.0,
    );
    check(
        Filter {
            maker: Some(" larkFIELD ".into()),
            ..none()
        },
        &|r| r.maker == "Larkfield",
    );
    check(
        Filter {
            search: "lf 65".into(),
            ..none()
        },
        &|r| {
            let name = r.name().to_lowercase();
            name.contains("lf") && name.contains("65")
        },
    );
    check(
        Filter {
            ports_at_least: Some(3),
            ..none()
        },
        &|r| r.ports >= 3,
    );
    check(
        Filter {
            usb_c_at_least: Some(2),
            ..none()
        },
        &|r| r.usb_c_ports >= 2,
    );
    check(
        Filter {
            price_at_most: Some(40.0),
            currency: Some("EUR".into()),
            ..none()
        },
        &|r| r.currency.as_deref() == Some("EUR") && r.price.is_some_and(|p| p <= 40.0),
    );
    check(
        Filter {
            tested_from: Some("2026-05-01".into()),
            ..none()
        },
        &|r| r.tested_on.as_deref().is_some_and(|d| d >= "2026-05-01"),
    );
    let us = |r: &Row| {
        r.verdicts
            .iter()
            .find(|(id, _)| id == "us_doe_level_vi")
            .unwrap()
            .1
    };
    let verdict = |f| Some(("us_doe_level_vi".to_owned(), f));
    check(
        Filter {
            verdict: verdict(VerdictFilter::Passes),
            ..none()
        },
        &|r| matches!(us(r), Outcome::Pass | Outcome::ConditionalPass),
    );
    check(
        Filter {
            verdict: verdict(VerdictFilter::Is(Outcome::Fail)),
            ..none()
        },
        &|r| us(r) == Outcome::Fail,
    );
}

#[test]
fn counts_of_classes_and_makers_add_up_to_all_units() {
    let n = STANDINGS.rows().len();
    assert_eq!(STANDINGS.class_counts().values().sum::<usize>(), n);
    assert_eq!(
        STANDINGS
            .maker_counts()
            .iter()
            .map(|(_, c)| c)
            .sum::<usize>(),
        n
    );
}

#[test]
fn ranks_in_class_are_no_worse_than_the_size_of_the_class() {
    for row in STANDINGS.rows().iter().filter(|r| r.score.is_some()) {
        let ranks = STANDINGS.ranks(&row.slug).unwrap();
        assert!(ranks.class.best <= ranks.class.worst && ranks.class.worst <= ranks.class_of);
        assert!(ranks.overall.worst <= ranks.overall_of);
        assert!(ranks.class.best <= ranks.overall.best);
    }
}

#[test]
fn a_class_by_falling_score_is_what_its_filter_gives_and_an_unknown_class_is_empty() {
    let mut units = 0;
    for (class, count) in STANDINGS.class_counts() {
        let filter = Filter {
            class: Some(class.to_owned()),
            ..Filter::default()
        };
        let best = STANDINGS.best_of_class(class);
        assert_eq!(best, STANDINGS.all(&filter, SortKey::Score, true));
        let of_class = |row: &&Row| row.class.id == class;
        let mut all = STANDINGS.all(&Filter::default(), SortKey::Score, true);
        all.retain(of_class);
        assert_eq!(best, all);
        assert_eq!(best.len(), count);
        units += count;
    }
    assert_eq!(units, STANDINGS.rows().len());
    let nowhere = Filter {
        class: Some("w1000000".to_owned()),
        ..Filter::default()
    };
    assert!(STANDINGS.best_of_class("w1000000").is_empty());
    assert!(STANDINGS.all(&nowhere, SortKey::Name, false).is_empty());
}
