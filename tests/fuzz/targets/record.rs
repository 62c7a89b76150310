//! Any bytes as a record, or as changes to one: refused with words, or evaluated to finite figures
//! that are the same twice.
//!
//! Input that begins with `{` is taken as text. Any other is a list of changes to a record of
//! `seed-data/`, so that most of what is tried is nearly right and reaches deep.

#![no_main]

use brickbook_fuzz::bench::decode::{decode, decode_value};
use brickbook_fuzz::bench::record::Record;
use brickbook_fuzz::evaluate::{Evaluation, Method, evaluate};
use libfuzzer_sys::fuzz_target;
use serde_json::Value;
use std::sync::LazyLock;

static METHOD: LazyLock<Method> = LazyLock::new(Method::standard);

static RECORDS: LazyLock<Vec<Value>> = LazyLock::new(|| {
    [
        include_str!("../../../seed-data/larkfield-lf-100q.json"),
        include_str!("../../../seed-data/hollowick-hk-100c.json"),
        include_str!("../../../seed-data/quillmere-qm-12a.json"),
        include_str!("../../../seed-data/tessawick-tw-100cc.json"),
    ]
    .into_iter()
    .map(|text| serde_json::from_str(text).expect("seed data is JSON"))
    .collect()
});

fuzz_target!(|bytes: &[u8]| {
    let decoded = if bytes.first() == Some(&b'{') {
        decode(&String::from_utf8_lossy(bytes))
    } else {
        match changed(bytes) {
            Some(document) => decode_value(document),
            None => return,
        }
    };
    match decoded {
        Ok(record) => sound(&record),
        Err(faults) => {
            assert!(!faults.is_empty());
            assert!(faults.iter().all(|fault| !fault.expected.is_empty()));
        }
    }
});

/// A number that is not finite is written as `null`, which does not read as a number.
fn sound(record: &Record) {
    let evaluation = evaluate(record, &METHOD);
    let text = serde_json::to_string(&evaluation).expect("an evaluation is JSON");
    let back: Evaluation = serde_json::from_str(&text).expect("every number is finite");
    assert_eq!(back, evaluation);
    assert_eq!(serde_json::to_string(&evaluate(record, &METHOD)).ok(), Some(text));
    if let Some(score) = evaluation.score.value {
        assert!((0.0..=100.0).contains(&score));
    }
    let written = serde_json::to_string(record).expect("a record is JSON");
    assert_eq!(decode(&written).as_ref(), Ok(record));
}

/// The first byte chooses a record; then each change is a place (two bytes), a kind and eight
/// bytes of value.
fn changed(bytes: &[u8]) -> Option<Value> {
    let (choice, rest) = bytes.split_first()?;
    let mut document = RECORDS[usize::from(*choice) % RECORDS.len()].clone();
    for change in rest.chunks_exact(11).take(24) {
        let place = usize::from(u16::from_le_bytes([change[0], change[1]]));
        let eight: [u8; 8] = change[3..].try_into().expect("eight are left");
        let count = nodes(&document);
        let other = node(&mut document, &mut (usize::from(change[3]) * 7 % count)).cloned();
        let other = other.unwrap_or(Value::Null);
        let Some(target) = node(&mut document, &mut (place % count)) else {
            continue;
        };
        match change[2] % 12 {
            0 => *target = Value::Null,
            1 => *target = Value::from(f64::from_le_bytes(eight)),
            2 => *target = Value::from(i64::from(i16::from_le_bytes([eight[0], eight[1]]))),
            3 => *target = Value::from(f64::from(i32::from_le_bytes([eight[0], eight[1], eight[2], eight[3]])) / 1000.0),
            4 => *target = Value::from(String::from_utf8_lossy(&eight).into_owned()),
            5 => *target = Value::Array(Vec::new()),
            6 => *target = Value::Bool(eight[0] & 1 > 0),
            7 => *target = other,
            // Scaled by something near 1, or by a power of ten.
            8 => scale(target, 1.0 + f64::from(eight[0] as i8) / 256.0),
            9 => scale(target, 10f64.powi(i32::from(eight[0] as i8) % 6)),
            // An entry once more, or gone.
            10 => {
                if let Value::Array(list) = target
                    && !list.is_empty()
                    && list.len() < 64
                {
                    let entry = list[usize::from(eight[0]) % list.len()].clone();
                    list.push(entry);
                }
            }
            _ => match target {
                Value::Array(list) if !list.is_empty() => {
                    list.remove(usize::from(eight[0]) % list.len());
                }
                Value::Object(fields) if !fields.is_empty() => {
                    let key = fields.keys().nth(usize::from(eight[0]) % fields.len()).cloned();
                    if let Some(key) = key {
                        fields.shift_remove(&key);
                    }
                }
                _ => {}
            },
        }
    }
    Some(document)
}

fn scale(value: &mut Value, by: f64) {
    if let Some(number) = value.as_f64() {
        *value = Value::from(number * by);
    }
}

/// How many values the document holds, itself included.
fn nodes(value: &Value) -> usize {
    1 + match value {
        Value::Array(list) => list.iter().map(nodes).sum::<usize>(),
        Value::Object(fields) => fields.values().map(nodes).sum(),
        _ => 0,
    }
}

/// The `left`th value, in the order of the text.
fn node<'a>(value: &'a mut Value, left: &mut usize) -> Option<&'a mut Value> {
    if *left == 0 {
        return Some(value);
    }
    *left -= 1;
    match value {
        Value::Array(list) => list.iter_mut().find_map(|inner| node(inner, left)),
        Value::Object(fields) => fields.values_mut().find_map(|inner| node(inner, left)),
        _ => None,
    }
}
