//! The record format as JSON Schema (2020-12), made from the one table that decoding uses.
//!
//! The schema says less than decoding does: references between ports, repeated keys and output
//! power above input power cannot be put in it. What it refuses is refused by decoding as well.

use crate::bench::schema::{self, Field, Kind, List, Number};
use serde_json::{Map, Value, json};
use std::sync::LazyLock;
use utoipa::openapi::{RefOr, Schema};

/// Stands for the record document in the OpenAPI description; never holds one.
pub struct Record;

impl utoipa::PartialSchema for Record {
    fn schema() -> RefOr<Schema> {
        // Asked for by every operation that takes or gives a record.
        static SCHEMA: LazyLock<RefOr<Schema>> = LazyLock::new(|| {
            serde_json::from_value(record_schema()).expect("the description is a schema")
        });
        SCHEMA.clone()
    }
}

impl utoipa::ToSchema for Record {}

/// Stands for how a log is read in the OpenAPI description; never holds one.
pub struct LogLayout;

impl utoipa::PartialSchema for LogLayout {
    fn schema() -> RefOr<Schema> {
        serde_json::from_value(object(schema::LAYOUT, None)).expect("the description is a schema")
    }
}

impl utoipa::ToSchema for LogLayout {}

/// The whole record.
pub fn record_schema() -> Value {
    let mut record = object(schema::RECORD, None);
    record["description"] = json!(
        "All that was learned about one sample of one adapter. An absent key and null both mean \
         \"not measured\"."
    );
    record
}

fn of(kind: &Kind) -> Value {
    match kind {
        Kind::Number(number) => of_number(number),
        Kind::Text(longest) => json!({
            "type": "string", "minLength": 1, "maxLength": longest,
            "pattern": r"^[^\u0000-\u001f]*[^\s\u0000-\u001f][^\u0000-\u001f]*$"
        }),
        Kind::LongText(longest) => json!({"type": "string", "maxLength": longest}),
        Kind::Exact(text) => json!({"type": "string", "enum": [text]}),
        Kind::Choice(words) => json!({"type": "string", "enum": words}),
        Kind::Date => json!({
            "type": "string", "format": "date", "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}$"
        }),
        Kind::Decimal => json!({"type": "string", "pattern": r"^[0-9]{1,9}(\.[0-9]{1,4})?$"}),
        Kind::Currency => json!({"type": "string", "pattern": "^[A-Z]{3}$"}),
        Kind::Url => json!({
            "type": "string", "format": "uri", "maxLength": 2000, "pattern": "^https?://[^/]"
        }),
        Kind::Word32 => json!({"type": "string", "pattern": "^0x[0-9A-Fa-f]{8}$"}),
        Kind::EfficiencyMark => json!({
            "type": "string", "enum": ["I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X"]
        }),
        Kind::Sha256 => json!({"type": "string", "pattern": "^[0-9a-f]{64}$"}),
        Kind::Object(fields) => object(fields, None),
        Kind::Tagged { tag, variants } => json!({
            "oneOf": variants
                .iter()
                .map(|(word, fields)| object(fields, Some((tag, word))))
                .collect::<Vec<_>>()
        }),
        Kind::List(list) => of_list(list),
    }
}

fn of_number(number: &Number) -> Value {
    let least = if number.above_min {
        "exclusiveMinimum"
    } else {
        "minimum"
    };
    let kind = if number.whole { "integer" } else { "number" };
    json!({"type": kind, least: number.min, "maximum": number.max})
}

fn of_list(list: &List) -> Value {
    json!({
        "type": "array", "items": of(&list.item), "minItems": list.min, "maxItems": list.max
    })
}

/// An object of exactly these fields, and of a tag with its word where it is one of several kinds.
fn object(fields: &[Field], tagged: Option<(&str, &str)>) -> Value {
    let mut properties = Map::new();
    let mut required = Vec::new();
    if let Some((tag, word)) = tagged {
        properties.insert(tag.to_owned(), json!({"type": "string", "enum": [word]}));
        required.push(tag.to_owned());
    }
    for field in fields {
        properties.insert(field.key.to_owned(), property(field));
        if field.required {
            required.push(field.key.to_owned());
        }
    }
    let mut object = json!({
        "type": "object", "properties": properties, "additionalProperties": false
    });
    if !required.is_empty() {
        object["required"] = json!(required);
    }
    object
}

fn property(field: &Field) -> Value {
    let mut schema = of(&field.kind);
    if !field.required {
        allow_null(&mut schema);
    }
    let unit = match &field.kind {
        Kind::Number(number) => number.unit,
        _ => "",
    };
    let words: Vec<&str> = [field.label, unit, field.help]
        .into_iter()
        .filter(|text| !text.is_empty())
        .collect();
    schema["description"] = json!(words.join(", "));
    schema
}

fn allow_null(schema: &mut Value) {
    if let Some(choices) = schema.get_mut("oneOf").and_then(Value::as_array_mut) {
        choices.push(json!({"type": "null"}));
        return;
    }
    schema["type"] = json!([schema["type"], "null"]);
    if let Some(words) = schema.get_mut("enum").and_then(Value::as_array_mut) {
        words.push(Value::Null);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::decode::decode_value;

    fn accepts(document: &Value) -> bool {
        jsonschema::validator_for(&record_schema())
            .expect("the record schema is a valid schema")
            .is_valid(document)
    }

    fn whole_record() -> Value {
        json!({
            "format": "brickbook-record/1",
            "unit": {
                "maker": "Larkfield", "model": "LF-65", "sample": null,
                "price": {"amount": "39.00", "currency": "EUR"},
                "nameplate": {"output_power_w": 65, "efficiency_mark": "VI"},
                "size_mm": [50, 50, 28],
                "ports": [{"label": "C1", "connector": "usb-c",
                           "source_capabilities": ["0x0801912C"],
                           "modes": [{"kind": "fixed", "voltage_v": 5, "current_a": 3},
                                     {"kind": "pps", "voltage_min_v": 5, "voltage_max_v": 21,
                                      "current_a": 3}]}]
            },
            "runs": [{"name": "20 V", "line": {"voltage_v": 115, "frequency_hz": 60},
                      "points": [{"load_percent": 100, "input": {"power_w": 71.5},
                                  "outputs": [{"port": "C1", "voltage_v": 20, "current_a": 3.25}]}],
                      "no_load": {"power_w": 0.05}}],
            "notes": "two\nlines"
        })
    }

    #[test]
    fn a_record_that_decodes_fits_the_schema() {
        let record = whole_record();
        decode_value(record.clone()).expect("the example is a valid record");
        assert!(accepts(&record));
    }

    #[test]
    fn what_the_schema_refuses_decoding_refuses_as_well() {
        let wrong = [
            ("/format", json!("brickbook-record/2")),
            ("/unit/maker", json!(" ")),
            ("/unit/maker", Value::Null),
            ("/unit/makr", json!("x")),
            ("/unit/nameplate/output_power_w", json!(0.2)),
            ("/unit/nameplate/output_power_w", json!("65")),
            ("/unit/nameplate/efficiency_mark", json!("6")),
            ("/unit/price/amount", json!("39,00")),
            ("/unit/price/currency", json!("eur")),
            ("/unit/size_mm", json!([50, 50])),
            ("/unit/size_mm/0", json!(0)),
            ("/unit/ports/0/connector", json!("usb-d")),
            ("/unit/ports/0/source_capabilities/0", json!("0x12")),
            ("/unit/ports/0/modes/0/kind", json!("pps")),
            ("/unit/ports/0/modes/1/voltage_v", json!(5)),
            ("/runs/0/points/0/load_percent", json!(0)),
            ("/runs/0/no_load/power_w", json!(-0.1)),
            ("/notes", json!(5)),
        ];
        for (pointer, value) in wrong {
            let mut record = whole_record();
            let (parent, key) = pointer.rsplit_once('/').expect("a pointer has a slash");
            match record.pointer_mut(parent).expect("the parent is there") {
                Value::Object(map) => drop(map.insert(key.to_owned(), value)),
                Value::Array(items) => items[key.parse::<usize>().expect("an index")] = value,
                other => panic!("{parent} is {other}"),
            }
            assert!(!accepts(&record), "{pointer}: the schema takes it");
            assert!(
                decode_value(record).is_err(),
                "{pointer}: decoding takes it"
            );
        }
    }

    #[test]
    fn nothing_of_the_schema_is_lost_in_the_openapi_description() {
        let described = <Record as utoipa::PartialSchema>::schema();
        let described = serde_json::to_value(described).expect("a schema is JSON");
        assert_eq!(
            described["properties"].as_object().map(Map::len),
            Some(schema::RECORD.len())
        );
        assert_eq!(sorted(&described), sorted(&record_schema()));
    }

    /// With numbers as floating point, because 80 and 80.0 are one bound, and keys in order.
    fn sorted(value: &Value) -> Value {
        match value {
            Value::Object(map) => {
                let mut entries: Vec<_> = map.iter().collect();
                entries.sort_by_key(|(key, _)| key.as_str());
                let entries = entries.into_iter().map(|(k, v)| (k.clone(), sorted(v)));
                Value::Object(entries.collect())
            }
            Value::Array(items) => Value::Array(items.iter().map(sorted).collect()),
            Value::Number(number) => json!(number.as_f64()),
            other => other.clone(),
        }
    }
}
