//! What a page is about, in the words of schema.org (JSON-LD). Only terms of the vocabulary; the
//! review is this site's own. `tests/reference/structured_data.rs` holds them against it.

use super::{extract::Visit, urls};
use crate::{bench::record::Unit, evaluate::Evaluation, ranking::Row};
use serde_json::{Map, Value, json};

/// JSON that can stand in a `script` element: nothing in it can end the element or begin a comment.
pub fn script_text(thing: &Value) -> String {
    thing
        .to_string()
        .replace('<', "\\u003c")
        .replace('>', "\\u003e")
        .replace('&', "\\u0026")
        .replace('\u{2028}', "\\u2028")
        .replace('\u{2029}', "\\u2029")
}

/// A unit as a product with our review of it.
pub fn product(
    visit: &Visit,
    row: &Row,
    unit: &Unit,
    evaluation: &Evaluation,
    summary: &str,
) -> Value {
    let page = visit.absolute(&urls::unit(&row.slug));
    let site = publisher(visit);
    let quantity = |value: f64, code: &str| json!({"@type": "QuantitativeValue", "value": value, "unitCode": code});
    let mut product = Map::new();
    let mut put = |name: &str, value: Value| {
        product.insert(name.to_owned(), value);
    };
    put("@context", json!("https://schema.org"));
    put("@type", json!("Product"));
    put("@id", json!(format!("{page}#product")));
    put("name", json!(row.name()));
    put("model", json!(row.model));
    put("brand", json!({"@type": "Brand", "name": row.maker}));
    put("category", json!("USB power adapter"));
    put("description", json!(summary));
    put("url", json!(page));
    put(
        "image",
        json!(visit.absolute(&urls::unit_preview(&row.slug))),
    );
    if let Some(mass) = row.mass_g {
        put("weight", quantity(mass, "GRM"));
    }
    if let Some(mut size) = unit.size_mm {
        size.sort_by(|a, b| b.total_cmp(a));
        for (name, millimetres) in ["depth", "width", "height"].into_iter().zip(size) {
            put(name, quantity(millimetres, "MMT"));
        }
    }
    // Figures with the interval that holds them with about 95 %, where U is known.
    let property = |name: &str, value: Option<f64>, u: Option<f64>, code: &str| {
        let value = value?;
        let mut property = json!({
            "@type": "PropertyValue", "name": name, "value": value, "unitCode": code,
        });
        if let Some(u) = u {
            property["minValue"] = json!((value - 2.0 * u).max(0.0));
            property["maxValue"] = json!(value + 2.0 * u);
        }
        Some(property)
    };
    let percent = |fraction: f64| 100.0 * fraction;
    let properties: Vec<Value> = [
        property("Rated output power", Some(row.output_power_w), None, "WTT"),
        property(
            "Average active efficiency",
            row.average_efficiency.map(percent),
            row.average_efficiency_u.map(percent),
            "P1",
        ),
        property("No-load power", row.no_load_w, row.no_load_u, "WTT"),
    ]
    .into_iter()
    .flatten()
    .collect();
    put("additionalProperty", json!(properties));
    if let Some(score) = row.score {
        let mut review = json!({
            "@type": "Review",
            "name": format!("{}: measured", row.name()),
            "url": page,
            "author": site.clone(),
            "publisher": site,
            "reviewBody": summary,
            "reviewRating": {
                "@type": "Rating",
                "ratingValue": (score * 10.0).round() / 10.0,
                "bestRating": 100,
                "worstRating": 0,
                "ratingExplanation": format!(
                    "Composite score, formula version {}, from measurements of one sample{}",
                    evaluation.score.version,
                    if row.provisional { "; provisional" } else { "" }
                ),
            },
        });
        if let Some(date) = &row.tested_on {
            review["datePublished"] = json!(date);
        }
        put("review", review);
    }
    Value::Object(product)
}

/// A ranking as a list of its units, in the order shown.
pub fn list<'a>(
    visit: &Visit,
    title: &str,
    address: &str,
    first: usize,
    rows: impl Iterator<Item = &'a Row>,
) -> Value {
    let items: Vec<Value> = rows
        .enumerate()
        .map(|(i, row)| {
            json!({
                "@type": "ListItem",
                "position": first + i,
                "name": row.name(),
                "url": visit.absolute(&urls::unit(&row.slug)),
            })
        })
        .collect();
    json!({
        "@context": "https://schema.org",
        "@type": "ItemList",
        "name": title,
        "url": visit.absolute(address),
        "numberOfItems": items.len(),
        "itemListElement": items,
    })
}

fn publisher(visit: &Visit) -> Value {
    json!({
        "@type": "Organization",
        "name": visit.site.config.site_name,
        "url": visit.absolute(urls::HOME),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_name_can_end_the_element_it_stands_in() {
        let text = script_text(&json!({"name": "</script><!-- & \u{2028}"}));
        assert!(!text.contains('<') && !text.contains('>') && !text.contains('&'));
        let back: Value = serde_json::from_str(&text).unwrap();
        assert_eq!(back["name"], "</script><!-- & \u{2028}");
    }
}
