//! Properties of the record format and of evaluation, over invented records and random damage.

use brickbook::bench::decode::{decode, decode_value};
use brickbook::bench::record::Record;
use brickbook::bench::schema::{self, Field, Kind};
use brickbook::demo;
use brickbook::evaluate::{Method, evaluate};
use brickbook::ranking::Row;
use proptest::prelude::*;
use rand::{RngExt, SeedableRng, rngs::SmallRng};
use serde_json::{Value, json};
use std::sync::LazyLock;

static METHOD: LazyLock<Method> = LazyLock::new(Method::standard);

fn invented(seed: u64) -> Value {
    serde_json::to_value(demo::invent(seed, (seed % 97) as usize)).unwrap()
}

/// Every place of a document: its path and the schema's kind there.
fn places<'a>(
    value: &'a Value,
    kind: &Kind,
    path: &str,
    found: &mut Vec<(String, Kind, &'a Value)>,
) {
    if value.is_null() {
        return;
    }
    found.push((path.to_owned(), *kind, value));
    let within = |fields: &[Field], found: &mut Vec<(String, Kind, &'a Value)>| {
        for (key, child) in value.as_object().into_iter().flatten() {
            if let Some(field) = fields.iter().find(|f| f.key == key) {
                let path = if path.is_empty() {
                    key.clone()
                } else {
                    format!("{path}.{key}")
                };
                places(child, &field.kind, &path, found);
            }
        }
    };
    match kind {
        Kind::Object(fields) => within(fields, found),
        Kind::Tagged { tag, variants } => {
            let word = value[*tag].as_str().unwrap_or_default();
            within(
                variants.iter().find(|(name, _)| *name == word).unwrap().1,
                found,
            );
        }
        Kind::List(list) => {
            for (i, item) in value.as_array().into_iter().flatten().enumerate() {
                places(item, &list.item, &format!("{path}[{i}]"), found);
            }
        }
        _ => {}
    }
}

/// The value at a path such as `runs[0].points[1].input.power_w`.
fn at<'a>(value: &'a mut Value, path: &str) -> &'a mut Value {
    let pointer: String = path
        .replace('[', ".")
        .replace(']', "")
        .split('.')
        .map(|p| format!("/{p}"))
        .collect();
    value
        .pointer_mut(&pointer)
        .unwrap_or_else(|| panic!("{path}"))
}

/// Asserts that `text` is refused and that one of the faults stands exactly at `path`.
fn refused_at(text: &str, path: &str) -> Result<(), TestCaseError> {
    let faults = match decode(text) {
        Ok(_) => return Err(TestCaseError::fail(format!("accepted a fault at {path}"))),
        Err(faults) => faults,
    };
    prop_assert!(faults.iter().any(|f| f.path == path), "{path}: {faults:?}");
    Ok(())
}

/// Replaces the value at `path` by bare text that need not be JSON.
fn with_raw(document: &Value, path: &str, raw: &str) -> String {
    const MARK: &str = "a place to write NaN at";
    let mut marked = document.clone();
    *at(&mut marked, path) = json!(MARK);
    marked.to_string().replace(&format!("{MARK:?}"), raw)
}

/// Nonsense at one place is refused there.
fn refuses_nonsense(document: &Value, path: &str, kind: &Kind) -> Result<(), TestCaseError> {
    if let Kind::Number(bounds) = kind {
        let below = if bounds.min < 0.0 { "-1e9" } else { "-0.5" };
        for raw in [
            "NaN",
            "Infinity",
            "-Infinity",
            "1e400",
            "1e9",
            below,
            "\"12\"",
            "true",
        ] {
            refused_at(&with_raw(document, path, raw), path)?;
        }
        return Ok(());
    }
    refused_at(&with_raw(document, path, "-17.5"), path)?;
    refused_at(&with_raw(document, path, "NaN"), path)
}

fn refuses_unknown_key(document: &Value, path: &str) -> Result<(), TestCaseError> {
    let mut damaged = document.clone();
    let object = if path.is_empty() {
        &mut damaged
    } else {
        at(&mut damaged, path)
    };
    object
        .as_object_mut()
        .unwrap()
        .insert("watts".to_owned(), json!(1));
    let expected = if path.is_empty() {
        "watts".to_owned()
    } else {
        format!("{path}.watts")
    };
    refused_at(&damaged.to_string(), &expected)
}

/// Every place of one record with several ports, runs, overloads and observations.
#[test]
fn nonsense_at_any_place_of_a_full_record_is_refused_at_that_place() {
    let document = (0..97)
        .map(|i| serde_json::to_value(demo::invent(7, i)).unwrap())
        .find(|d| d["unit"]["ports"].as_array().unwrap().len() == 2 && d["sharing"].is_array())
        .expect("the model invents units with two ports that share");
    let mut found = Vec::new();
    places(&document, &Kind::Object(schema::RECORD), "", &mut found);
    assert!(found.len() > 200);
    // Runs are alike: the first and the last stand for all.
    let last = format!("runs[{}]", document["runs"].as_array().unwrap().len() - 1);
    for (path, kind, value) in &found {
        if path.starts_with("runs[") && !path.starts_with("runs[0]") && !path.starts_with(&last) {
            continue;
        }
        if value.is_object() {
            refuses_unknown_key(&document, path).unwrap();
        }
        if !path.is_empty() {
            refuses_nonsense(&document, path, kind).unwrap();
        }
    }
}

/// A random value of a kind, inside its bounds.
fn any_of(kind: &Kind, rng: &mut SmallRng) -> Option<Value> {
    Some(match kind {
        Kind::Number(n) => json!(n.max - (n.max - n.min) * rng.random::<f64>()),
        Kind::Choice(words) => json!(words[rng.random_range(0..words.len())]),
        Kind::EfficiencyMark => json!(["I", "III", "V", "VI", "VII", "X"][rng.random_range(0..6)]),
        _ => return None,
    })
}

/// A record with random parts taken out, set to null or changed to another allowed value.
fn disturbed(seed: u64) -> Value {
    let mut rng = SmallRng::seed_from_u64(seed);
    let mut document = invented(seed);
    for _ in 0..rng.random_range(1..8) {
        let list: Vec<(String, Kind)> = {
            let mut found = Vec::new();
            places(&document, &Kind::Object(schema::RECORD), "", &mut found);
            found
                .into_iter()
                .map(|(path, kind, _)| (path, kind))
                .collect()
        };
        let (path, kind) = &list[rng.random_range(0..list.len())];
        if path.is_empty() {
            continue;
        }
        match (any_of(kind, &mut rng), rng.random_range(0..3)) {
            (Some(value), 0 | 1) => *at(&mut document, path) = value,
            _ => *at(&mut document, path) = Value::Null,
        }
    }
    document
}

/// Anything that a kind allows, port labels taken from `ports`, lists short.
fn anything(kind: &Kind, ports: &[String], rng: &mut SmallRng) -> Value {
    let object = |fields: &[Field], rng: &mut SmallRng| {
        let mut object = serde_json::Map::new();
        for field in fields {
            if field.required || rng.random_range(0..3) > 0 {
                object.insert(field.key.to_owned(), anything(&field.kind, ports, rng));
            }
        }
        Value::Object(object)
    };
    match kind {
        Kind::Object(fields) => object(fields, rng),
        Kind::List(list) => {
            let most = list.max.min(ports.len() + 3);
            let n = rng.random_range(list.min..=most);
            json!(
                (0..n)
                    .map(|_| anything(&list.item, ports, rng))
                    .collect::<Vec<_>>()
            )
        }
        // Ends of ranges and round numbers are where formulas break.
        Kind::Number(n) => json!(match rng.random_range(0..6) {
            0 if !n.above_min => n.min,
            1 => n.max,
            2 => (n.min + n.max) / 2.0,
            3 if n.min <= 1.0 => n.max.min(1.0),
            _ => n.max - (n.max - n.min) * rng.random::<f64>() * rng.random::<f64>(),
        }),
        Kind::Choice(words) => json!(words[rng.random_range(0..words.len())]),
        Kind::Text(20) => json!(ports[rng.random_range(0..ports.len())]),
        _ => json!("text"),
    }
}

/// An invented record whose overloads, sharing, temperatures and other measurements are anything.
fn odd_bench(seed: u64) -> Value {
    let mut rng = SmallRng::seed_from_u64(seed);
    let mut document = invented(seed);
    let ports: Vec<String> = document["unit"]["ports"]
        .as_array()
        .into_iter()
        .flatten()
        .map(|p| p["label"].as_str().unwrap().to_owned())
        .collect();
    for key in ["overloads", "sharing", "temperatures", "measurements"] {
        let field = schema::RECORD.iter().find(|f| f.key == key).unwrap();
        document[key] = anything(&field.kind, &ports, &mut rng);
    }
    // Most are made to agree with themselves, so that more than refusals is tried.
    if !seed.is_multiple_of(4) {
        agree_with_themselves(&mut document);
    }
    document
}

/// Values inside each quantity's bounds, every port named once, offers and the attached port among
/// the ports in use.
fn agree_with_themselves(document: &mut Value) {
    let items = |list: &mut Value| list.as_array_mut().map(std::mem::take).unwrap_or_default();
    let mut measurements = items(&mut document["measurements"]);
    for one in &mut measurements {
        if let Some(value) = one["value"].as_f64() {
            one["value"] = (value.abs() % 100.0).into();
        }
    }
    document["measurements"] = measurements.into();
    let mut sharing = items(&mut document["sharing"]);
    for one in &mut sharing {
        let mut ports: Vec<Value> = Vec::new();
        for port in items(&mut one["ports_in_use"]) {
            if !ports.contains(&port) {
                ports.push(port);
            }
        }
        let mut offers: Vec<Value> = Vec::new();
        for offer in items(&mut one["offers"]) {
            if ports.contains(&offer["port"]) && offers.iter().all(|o| o["port"] != offer["port"]) {
                offers.push(offer);
            }
        }
        if !ports.contains(&one["attached"]) {
            one["attached"] = Value::Null;
        }
        one["ports_in_use"] = ports.into();
        one["offers"] = offers.into();
    }
    document["sharing"] = sharing.into();
}

/// No number of the document is anything but finite: `null` would betray a NaN.
fn only_finite(record: &Record) -> Result<(), TestCaseError> {
    let evaluation = evaluate(record, &METHOD);
    let text = serde_json::to_string(&evaluation).unwrap();
    let back: brickbook::evaluate::Evaluation = serde_json::from_str(&text).map_err(|e| {
        TestCaseError::fail(format!("a number of the evaluation is not finite: {e}"))
    })?;
    prop_assert_eq!(&back, &evaluation);
    prop_assert_eq!(
        &text,
        &serde_json::to_string(&evaluate(record, &METHOD)).unwrap()
    );
    let words = |text: &str| {
        text.split(|c: char| !c.is_alphanumeric())
            .any(|word| ["NaN", "inf", "infinity"].contains(&word))
    };
    prop_assert!(
        !words(&text),
        "a sentence with a number that is none: {text}"
    );
    let row = Row::of(1, "unit", record, &evaluation, &METHOD);
    let text = serde_json::to_string(&row).unwrap();
    let back: Row = serde_json::from_str(&text)
        .map_err(|e| TestCaseError::fail(format!("a number of the row is not finite: {e}")))?;
    prop_assert_eq!(back, row);
    for run in &evaluation.runs {
        for point in &run.points {
            prop_assert!(point.efficiency.is_none_or(|e| (0.0..=1.0).contains(&e)));
        }
    }
    if let Some(score) = evaluation.score.value {
        prop_assert!((0.0..=100.0).contains(&score));
    }
    prop_assert!((0.0..=1.0).contains(&evaluation.score.coverage));
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, ..ProptestConfig::default() })]

    #[test]
    fn every_invented_record_decodes_to_itself_and_evaluates(seed in any::<u64>()) {
        let document = invented(seed);
        let record = decode(&document.to_string()).map_err(|f| TestCaseError::fail(format!("{f:?}")))?;
        prop_assert_eq!(serde_json::to_value(&record).unwrap(), document);
        only_finite(&record)?;
    }

    #[test]
    fn a_record_with_parts_missing_or_odd_is_refused_with_paths_or_evaluates(seed in any::<u64>()) {
        match decode_value(disturbed(seed)) {
            Ok(record) => only_finite(&record)?,
            Err(faults) => prop_assert!(!faults.is_empty() && faults.iter().all(|f| !f.expected.is_empty())),
        }
    }

    #[test]
    fn whatever_the_bench_says_of_overload_sharing_and_heat_is_refused_or_evaluates(seed in any::<u64>()) {
        match decode_value(odd_bench(seed)) {
            Ok(record) => only_finite(&record)?,
            Err(faults) => prop_assert!(!faults.is_empty()),
        }
    }

    #[test]
    fn an_unknown_key_in_some_object_is_refused_at_its_path(seed in any::<u64>()) {
        let document = invented(seed);
        let mut found = Vec::new();
        places(&document, &Kind::Object(schema::RECORD), "", &mut found);
        found.retain(|(_, _, value)| value.is_object());
        let mut rng = SmallRng::seed_from_u64(seed);
        for _ in 0..8 {
            let (path, ..) = &found[rng.random_range(0..found.len())];
            refuses_unknown_key(&document, path)?;
        }
    }

    #[test]
    fn nan_negative_absurd_or_mistyped_somewhere_is_refused_at_its_path(seed in any::<u64>()) {
        let document = invented(seed);
        let mut found = Vec::new();
        places(&document, &Kind::Object(schema::RECORD), "", &mut found);
        let mut rng = SmallRng::seed_from_u64(seed);
        for _ in 0..8 {
            let (path, kind, _) = &found[rng.random_range(1..found.len())];
            refuses_nonsense(&document, path, kind)?;
        }
    }

    #[test]
    fn more_input_power_never_raises_the_score_or_the_average(seed in any::<u64>(), factor in 1.0..1.2f64) {
        let better = demo::invent(seed, 3);
        let mut worse = better.clone();
        for point in worse.runs.iter_mut().flat_map(|r| &mut r.points) {
            if let Some(input) = &mut point.input {
                // the power factor as given stays: only the loss grows
                input.power_w = input.power_w.map(|p| p * factor);
            }
        }
        let (a, b) = (evaluate(&better, &METHOD), evaluate(&worse, &METHOD));
        prop_assert!(b.score.value <= a.score.value);
        for (a, b) in a.runs.iter().zip(&b.runs) {
            prop_assert!(b.average_efficiency <= a.average_efficiency);
        }
    }

    #[test]
    fn the_order_of_points_and_instruments_does_not_matter(seed in any::<u64>()) {
        let record = demo::invent(seed, 5);
        let mut turned = record.clone();
        turned.instruments.reverse();
        for run in &mut turned.runs {
            run.points.reverse();
        }
        let (a, b) = (evaluate(&record, &METHOD), evaluate(&turned, &METHOD));
        prop_assert!((a.score.value.unwrap_or(0.0) - b.score.value.unwrap_or(0.0)).abs() < 1e-9);
        for (a, b) in a.runs.iter().zip(&b.runs) {
            prop_assert!((a.average_efficiency.unwrap_or(0.0) - b.average_efficiency.unwrap_or(0.0)).abs() < 1e-12);
        }
    }

    #[test]
    fn arbitrary_text_is_never_a_record_and_never_a_panic(text in ".{0,200}") {
        prop_assert!(decode(&text).is_err());
    }
}

/// Keeps the generator of this file honest: random disturbance must often leave a valid record.
#[test]
fn disturbing_a_record_leaves_valid_and_invalid_ones() {
    let valid = (0..200)
        .filter(|&seed| decode_value(disturbed(seed)).is_ok())
        .count();
    assert!((10..190).contains(&valid), "{valid} of 200 valid");
}

#[test]
fn odd_benches_are_often_valid() {
    let valid = (0..200)
        .filter(|&seed| decode_value(odd_bench(seed)).is_ok())
        .count();
    assert!((10..=200).contains(&valid), "{valid} of 200 valid");
}

/// Record -> store -> export gives every document back byte for byte, however it is laid out.
#[test]
fn random_records_come_back_from_the_store_byte_for_byte() {
    let folder = tempfile::tempdir().unwrap();
    let mut documents = std::collections::BTreeSet::new();
    let mut files = Vec::new();
    for seed in 0.. {
        if documents.len() == 40 {
            break;
        }
        let mut document = disturbed(seed);
        document["unit"]["model"] = json!(format!("model {seed}"));
        let text = match seed % 3 {
            0 => document.to_string(),
            1 => serde_json::to_string_pretty(&document).unwrap() + "\n",
            // numbers spelled otherwise, white space in odd places
            _ => document.to_string().replace(":115,", " : 1.150e2 ,\r\n\t"),
        };
        if decode(&text).is_err() {
            continue;
        }
        let file = folder.path().join(format!("{seed}.json"));
        std::fs::write(&file, &text).unwrap();
        files.push(file);
        documents.insert(text);
    }
    let brickbook = |arguments: &[&std::ffi::OsStr]| {
        let done = std::process::Command::new(env!("CARGO_BIN_EXE_brickbook"))
            .current_dir(folder.path())
            .args(arguments)
            .output()
            .unwrap();
        assert!(
            done.status.success(),
            "{}",
            String::from_utf8_lossy(&done.stderr)
        );
    };
    let mut add: Vec<&std::ffi::OsStr> = vec!["add".as_ref()];
    add.extend(files.iter().map(|f| f.as_os_str()));
    brickbook(&add);
    brickbook(&["export".as_ref(), "-o".as_ref(), "out/".as_ref()]);
    let exported: std::collections::BTreeSet<String> = std::fs::read_dir(folder.path().join("out"))
        .unwrap()
        .map(|entry| std::fs::read_to_string(entry.unwrap().path()).unwrap())
        .collect();
    assert!(
        exported == documents,
        "{} exported, {} entered",
        exported.len(),
        documents.len()
    );
}

/// Every place of a record that holds a number, as a JSON pointer.
fn numbers(value: &Value, path: &str, found: &mut Vec<String>) {
    match value {
        Value::Number(_) => found.push(path.to_owned()),
        Value::Array(list) => {
            for (index, inner) in list.iter().enumerate() {
                numbers(inner, &format!("{path}/{index}"), found);
            }
        }
        Value::Object(fields) => {
            for (key, inner) in fields {
                numbers(inner, &format!("{path}/{key}"), found);
            }
        }
        _ => {}
    }
}

/// Found by fuzzing: what is divided by a reading that is next to nothing must not overflow. The
/// smallest number that there is, two whose squares vanish or whose quotients overflow when they
/// are squared, the largest that nothing is divided by, and numbers beyond every bound.
#[test]
fn tiny_and_huge_readings_are_refused_or_give_finite_figures() {
    const ODD: [f64; 6] = [5e-324, 3.7e-212, 1e-80, 9.99e-10, 1e-9, f64::MAX];
    let document = invented(6);
    let mut found = Vec::new();
    numbers(&document, "", &mut found);
    let mut evaluated = 0;
    for pointer in &found {
        for odd in ODD {
            let mut document = document.clone();
            *document.pointer_mut(pointer).unwrap() = odd.into();
            if let Ok(record) = decode_value(document) {
                evaluated += 1;
                only_finite(&record).unwrap_or_else(|fault| panic!("{pointer} = {odd:e}: {fault}"));
            }
        }
    }
    println!("{evaluated} records evaluated");
    assert!(evaluated > 300, "{evaluated}");
}

/// Several at once, so that one next to nothing meets another.
#[test]
fn many_tiny_readings_together_are_refused_or_give_finite_figures() {
    const TINY: [f64; 6] = [0.0, 5e-324, 3.7e-212, 1e-80, 9.99e-10, 1e-9];
    let mut evaluated = 0;
    for seed in 0..150 {
        let mut rng = SmallRng::seed_from_u64(seed);
        let mut document = invented(seed % 20);
        let mut found = Vec::new();
        numbers(&document, "", &mut found);
        let odd: Vec<(String, f64)> = (0..rng.random_range(2..30))
            .map(|_| {
                let pointer = found[rng.random_range(0..found.len())].clone();
                (pointer, TINY[rng.random_range(0..TINY.len())])
            })
            .collect();
        for (pointer, tiny) in &odd {
            *document.pointer_mut(pointer).unwrap() = (*tiny).into();
        }
        if let Ok(record) = decode_value(document) {
            evaluated += 1;
            only_finite(&record).unwrap_or_else(|fault| panic!("seed {seed}, {odd:?}: {fault}"));
        }
    }
    println!("{evaluated} records evaluated");
    assert!(evaluated > 10, "{evaluated}");
}

#[test]
fn what_cannot_be_computed_is_told_with_its_cause() {
    let mut document = invented(6);
    document["runs"][0]["points"][0]["input"]["power_w"] = 1e-80.into();
    for output in document["runs"][0]["points"][0]["outputs"]
        .as_array_mut()
        .unwrap()
    {
        output["current_a"] = 0.into();
    }
    let record = decode_value(document).unwrap();
    let evaluation = evaluate(&record, &METHOD);
    assert_eq!(evaluation.runs[0].points[0].efficiency, None);
    let told = evaluation
        .warnings
        .iter()
        .find(|w| w.path == "runs[0].points[0].input.power_w")
        .expect("a warning at its place");
    assert!(
        told.message.contains("1e-80 W is next to nothing")
            && told.message.contains("cannot be computed"),
        "{}",
        told.message
    );
}
