//! The one door from JSON text to a [`Record`]: refuses, with all faults at once, whatever the
//! schema or plain sense does not allow.

use super::problem::Problem;
use super::record::{LogColumn, LogQuantity, Mode, OtherQuantity, Record, TimeForm};
use super::schema::{self, Field, Kind, Number};
use super::usb_pd;
use serde::de::{Deserialize, Deserializer, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Value, map::Entry};
use std::collections::BTreeMap;
use std::fmt;
use time::Date;
use time::format_description::well_known::Iso8601;

/// Reads one record.
///
/// # Errors
/// All faults of the document, each with its path, the value found and what was expected: not
/// JSON at all (then just that one), unknown, missing or repeated keys, wrong types, numbers that
/// are not finite or out of range, references to ports that are not listed, output power above
/// input power, a port twice in one combination, an offer to or an attaching of a port that is
/// not in use.
pub fn decode(text: &str) -> Result<Record, Vec<Problem>> {
    let value = parse(text).map_err(|problem| vec![problem])?;
    decode_value(value)
}

/// Reads a record that was taken in before, perhaps by a version that did not yet refuse a port
/// named where it is not in use or twice in one combination. Such a record is still shown; those
/// offers tell nothing.
///
/// # Errors
/// As [`decode`] otherwise.
pub fn decode_stored(text: &str) -> Result<Record, Vec<Problem>> {
    let value = parse(text).map_err(|problem| vec![problem])?;
    let record = record_of(value)?;
    unless(contradictions(&record), record)
}

/// Reads one record from JSON that was parsed before.
///
/// # Errors
/// As [`decode`].
pub fn decode_value(value: Value) -> Result<Record, Vec<Problem>> {
    let record = record_of(value)?;
    let mut problems = contradictions(&record);
    problems.extend(not_in_use(&record));
    unless(problems, record)
}

fn unless(problems: Vec<Problem>, record: Record) -> Result<Record, Vec<Problem>> {
    if problems.is_empty() {
        Ok(record)
    } else {
        Err(problems)
    }
}

/// A record whose fields each look right alone.
fn record_of(value: Value) -> Result<Record, Vec<Problem>> {
    let mut problems = Vec::new();
    check(
        &value,
        &Kind::Object(schema::RECORD),
        &mut String::new(),
        &mut problems,
    );
    if !problems.is_empty() {
        return Err(problems);
    }
    serde_json::from_value(without_nulls(value))
        .map_err(|e| vec![Problem::new("", e.to_string(), "a bench record")])
}

/// JSON text to a value, refusing repeated keys, which would lose one of two readings in silence.
///
/// # Errors
/// The place of the first fault in the text.
pub fn parse(text: &str) -> Result<Value, Problem> {
    // To note every place on the way takes as long again, and only a fault asks for it.
    if let Ok(Strict(value)) = serde_json::from_str(text) {
        return Ok(value);
    }
    let mut json = serde_json::Deserializer::from_str(text);
    let mut track = serde_path_to_error::Track::new();
    let read = Strict::deserialize(serde_path_to_error::Deserializer::new(
        &mut json, &mut track,
    ));
    match read.and_then(|strict| json.end().map(|()| strict.0)) {
        Ok(value) => Ok(value),
        Err(error) => {
            let path = track.path().to_string();
            let path = if path == "." { String::new() } else { path };
            let (line, column) = (error.line(), error.column());
            let expected = match error.classify() {
                serde_json::error::Category::Data => error.to_string(),
                _ if error.to_string().starts_with("number out of range") => {
                    "a finite number".to_owned()
                }
                _ => format!("valid JSON ({error})"),
            };
            Err(Problem::new(path, token_at(text, line, column), expected))
        }
    }
}

/// The word around a line and column (both from 1) that a parser stumbled over.
fn token_at(text: &str, line: usize, column: usize) -> String {
    let Some(line_text) = text.lines().nth(line.saturating_sub(1)) else {
        return "end of the document".to_owned();
    };
    let divides =
        |b: &u8| matches!(b, b',' | b':' | b'[' | b']' | b'{' | b'}') || b.is_ascii_whitespace();
    let bytes = line_text.as_bytes();
    let at = column.saturating_sub(1).min(bytes.len().saturating_sub(1));
    let start = bytes[..at].iter().rposition(divides).map_or(0, |i| i + 1);
    let end = bytes[at..]
        .iter()
        .position(divides)
        .map_or(bytes.len(), |i| at + i);
    let token = String::from_utf8_lossy(&bytes[start..end.max(start)]).into_owned();
    if token.is_empty() {
        bytes.get(at).map_or("end of the document".to_owned(), |b| {
            (*b as char).to_string()
        })
    } else {
        token
    }
}

/// A JSON value in which no object names a key twice.
struct Strict(Value);

impl<'de> Deserialize<'de> for Strict {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Strict, D::Error> {
        struct Any;
        impl<'de> Visitor<'de> for Any {
            type Value = Strict;

            fn expecting(&self, f: &mut fmt::Formatter) -> fmt::Result {
                f.write_str("a JSON value")
            }
            fn visit_unit<E>(self) -> Result<Strict, E> {
                Ok(Strict(Value::Null))
            }
            fn visit_bool<E>(self, v: bool) -> Result<Strict, E> {
                Ok(Strict(v.into()))
            }
            fn visit_i64<E>(self, v: i64) -> Result<Strict, E> {
                Ok(Strict(v.into()))
            }
            fn visit_u64<E>(self, v: u64) -> Result<Strict, E> {
                Ok(Strict(v.into()))
            }
            fn visit_f64<E>(self, v: f64) -> Result<Strict, E> {
                Ok(Strict(v.into()))
            }
            fn visit_str<E>(self, v: &str) -> Result<Strict, E> {
                Ok(Strict(v.into()))
            }
            fn visit_string<E>(self, v: String) -> Result<Strict, E> {
                Ok(Strict(v.into()))
            }
            fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Strict, A::Error> {
                let mut items = Vec::new();
                while let Some(Strict(item)) = seq.next_element()? {
                    items.push(item);
                }
                Ok(Strict(items.into()))
            }
            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Strict, A::Error> {
                let mut object = Map::new();
                while let Some((key, Strict(value))) = map.next_entry::<String, Strict>()? {
                    match object.entry(key) {
                        Entry::Vacant(place) => {
                            place.insert(value);
                        }
                        Entry::Occupied(known) => {
                            let fault = format!("key {:?} only once", known.key());
                            return Err(serde::de::Error::custom(fault));
                        }
                    }
                }
                Ok(Strict(object.into()))
            }
        }
        deserializer.deserialize_any(Any)
    }
}

/// Null means "not measured", the same as an absent key.
fn without_nulls(mut value: Value) -> Value {
    drop_nulls(&mut value);
    value
}

fn drop_nulls(value: &mut Value) {
    match value {
        Value::Object(map) => map.retain(|_, value| {
            drop_nulls(value);
            !value.is_null()
        }),
        Value::Array(items) => items.iter_mut().for_each(drop_nulls),
        _ => {}
    }
}

/// Checks `value` against `kind`, adding every fault. `path` is put back as it was.
fn check(value: &Value, kind: &Kind, path: &mut String, problems: &mut Vec<Problem>) {
    match kind {
        Kind::Object(fields) => match value.as_object() {
            Some(object) => check_fields(object, fields, None, path, problems),
            None => refuse(value, "an object", path, problems),
        },
        Kind::Tagged { tag, variants } => match value.as_object() {
            Some(object) => {
                let word = object.get(*tag).and_then(Value::as_str);
                match variants.iter().find(|(name, _)| Some(*name) == word) {
                    Some((_, fields)) => check_fields(object, fields, Some(tag), path, problems),
                    None => {
                        let words: Vec<_> = variants.iter().map(|(name, _)| *name).collect();
                        let found = object
                            .get(*tag)
                            .map_or("missing".to_owned(), Value::to_string);
                        at(path, tag, |path| {
                            problems.push(Problem::new(path.as_str(), found, one_of(&words)));
                        });
                    }
                }
            }
            None => refuse(value, "an object", path, problems),
        },
        Kind::List(list) => match value.as_array() {
            Some(items) => {
                if items.len() < list.min || items.len() > list.max {
                    let expected = if list.min == list.max {
                        format!("exactly {} of: {}", list.min, list.noun)
                    } else {
                        format!("{} to {} of: {}", list.min, list.max, list.noun)
                    };
                    problems.push(Problem::new(
                        path.as_str(),
                        format!("{} items", items.len()),
                        expected,
                    ));
                }
                // Items past the bound are not looked at: a hostile list costs no more than its bound.
                for (i, item) in items.iter().take(list.max).enumerate() {
                    let length = path.len();
                    path.push_str(&format!("[{i}]"));
                    check(item, &list.item, path, problems);
                    path.truncate(length);
                }
            }
            None => refuse(value, "a list", path, problems),
        },
        Kind::Number(bounds) => match value.as_f64() {
            Some(x) if bounds.holds(x) && (!bounds.whole || value.is_u64()) => {}
            _ => refuse(value, &bounds.to_string(), path, problems),
        },
        text_kind => match value.as_str() {
            Some(text) => {
                if let Err(expected) = text_fits(text, text_kind) {
                    refuse(value, &expected, path, problems);
                }
            }
            None => refuse(
                value,
                &format!("text: {}", text_expected(text_kind)),
                path,
                problems,
            ),
        },
    }
}

fn check_fields(
    object: &Map<String, Value>,
    fields: &[Field],
    tag: Option<&str>,
    path: &mut String,
    problems: &mut Vec<Problem>,
) {
    for (key, value) in object {
        if tag == Some(key.as_str()) {
            continue;
        }
        match fields.iter().find(|f| f.key == key) {
            None => {
                let known: Vec<_> = fields.iter().map(|f| f.key).collect();
                at(path, key, |path| {
                    problems.push(Problem::new(
                        path.as_str(),
                        format!("unknown key with value {value}"),
                        one_of(&known),
                    ));
                });
            }
            Some(field) if value.is_null() && !field.required => {}
            Some(field) => at(path, key, |path| check(value, &field.kind, path, problems)),
        }
    }
    for field in fields
        .iter()
        .filter(|f| f.required && !object.contains_key(f.key))
    {
        at(path, field.key, |path| {
            problems.push(Problem::new(
                path.as_str(),
                "missing",
                expected(&field.kind),
            ));
        });
    }
}

/// Runs `body` with `key` appended to `path`.
fn at(path: &mut String, key: &str, body: impl FnOnce(&mut String)) {
    let length = path.len();
    if !path.is_empty() {
        path.push('.');
    }
    path.push_str(key);
    body(path);
    path.truncate(length);
}

fn refuse(value: &Value, expected: &str, path: &str, problems: &mut Vec<Problem>) {
    problems.push(Problem::new(path, value.to_string(), expected));
}

fn one_of(words: &[&str]) -> String {
    format!("one of {}", words.join(", "))
}

/// What a place of this kind should hold, in words.
pub fn expected(kind: &Kind) -> String {
    match kind {
        Kind::Object(_) | Kind::Tagged { .. } => "an object".to_owned(),
        Kind::List(list) => format!("a list of {}s", list.noun),
        Kind::Number(bounds) => bounds.to_string(),
        text => text_expected(text),
    }
}

fn text_expected(kind: &Kind) -> String {
    match kind {
        Kind::Text(max) => format!("one line of 1 to {max} characters"),
        Kind::LongText(max) => format!("text of at most {max} characters"),
        Kind::Exact(text) => format!("{text:?}"),
        Kind::Choice(words) => one_of(words),
        Kind::Date => "a calendar date such as 2026-08-14".to_owned(),
        Kind::Decimal => "a decimal number as text, such as \"59.00\"".to_owned(),
        Kind::Currency => "a currency code of three capital letters, such as EUR".to_owned(),
        Kind::Url => "an address that begins with https:// or http://".to_owned(),
        Kind::Word32 => "0x and eight hexadecimal digits".to_owned(),
        Kind::EfficiencyMark => "a Roman numeral from I to X".to_owned(),
        Kind::Sha256 => "64 hexadecimal digits in lower case".to_owned(),
        Kind::Number(_) | Kind::Object(_) | Kind::Tagged { .. } | Kind::List(_) => expected(kind),
    }
}

/// Does `text` fit a kind of text? On refusal: what was expected.
pub fn text_fits(text: &str, kind: &Kind) -> Result<(), String> {
    let fits = match kind {
        Kind::Text(max) => {
            !text.trim().is_empty()
                && text.chars().count() <= *max
                && !text.chars().any(char::is_control)
        }
        Kind::LongText(max) => {
            text.chars().count() <= *max
                && !text
                    .chars()
                    .any(|c| c.is_control() && !matches!(c, '\n' | '\r' | '\t'))
        }
        Kind::Exact(exact) => text == *exact,
        Kind::Choice(words) => words.contains(&text),
        Kind::Date => text.len() == 10 && Date::parse(text, &Iso8601::DATE).is_ok(),
        Kind::Decimal => is_decimal(text),
        Kind::Currency => text.len() == 3 && text.bytes().all(|b| b.is_ascii_uppercase()),
        Kind::Url => is_web_address(text),
        Kind::Word32 => text.strip_prefix("0x").is_some_and(|digits| {
            digits.len() == 8 && digits.bytes().all(|b| b.is_ascii_hexdigit())
        }),
        Kind::EfficiencyMark => {
            ["I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X"].contains(&text)
        }
        Kind::Sha256 => {
            text.len() == 64
                && text
                    .bytes()
                    .all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b))
        }
        Kind::Number(_) | Kind::Object(_) | Kind::Tagged { .. } | Kind::List(_) => false,
    };
    if fits {
        Ok(())
    } else {
        Err(text_expected(kind))
    }
}

fn is_decimal(text: &str) -> bool {
    let (whole, fraction) = text.split_once('.').unwrap_or((text, "0"));
    let digits = |t: &str, longest| {
        (1..=longest).contains(&t.len()) && t.bytes().all(|b| b.is_ascii_digit())
    };
    digits(whole, 9) && digits(fraction, 4)
}

fn is_web_address(text: &str) -> bool {
    let rest = text
        .strip_prefix("https://")
        .or_else(|| text.strip_prefix("http://"));
    text.len() <= 2_000
        && rest.is_some_and(|r| !r.is_empty() && !r.starts_with('/'))
        && !text
            .chars()
            .any(|c| c.is_whitespace() || c.is_control() || matches!(c, '"' | '<' | '>'))
}

impl Number {
    /// Finite and within the bounds?
    pub fn holds(&self, x: f64) -> bool {
        let enough = if self.above_min {
            x > self.min
        } else {
            x >= self.min
        };
        x.is_finite() && enough && x <= self.max
    }
}

impl fmt::Display for Number {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let from = if self.above_min { "above" } else { "from" };
        let number = if self.whole { "whole number" } else { "number" };
        write!(f, "a {number} {from} {} to {}", self.min, self.max)?;
        if self.unit.is_empty() {
            Ok(())
        } else {
            write!(f, " {}", self.unit)
        }
    }
}

/// Faults between fields that each look right alone.
fn contradictions(record: &Record) -> Vec<Problem> {
    let mut problems = Vec::new();
    let unit = &record.unit;
    let plate = &unit.nameplate;
    if let (Some(min), Some(max)) = (plate.input_voltage_min_v, plate.input_voltage_max_v)
        && min > max
    {
        problems.push(Problem::new(
            "unit.nameplate.input_voltage_max_v",
            max.to_string(),
            format!("at least input_voltage_min_v, {min} V"),
        ));
    }

    let mut labels = BTreeMap::new();
    for (i, port) in unit.ports.iter().enumerate() {
        if let Some(first) = labels.insert(port.label.as_str(), i) {
            problems.push(Problem::new(
                format!("unit.ports[{i}].label"),
                format!("{:?}", port.label),
                format!("a label that unit.ports[{first}] does not have"),
            ));
        }
        problems.extend(usb_pd::list_problems(
            &port.source_capabilities,
            &format!("unit.ports[{i}].source_capabilities"),
        ));
        for (j, mode) in port.modes.iter().enumerate() {
            if let Mode::Pps {
                voltage_min_v,
                voltage_max_v,
                ..
            }
            | Mode::Avs {
                voltage_min_v,
                voltage_max_v,
                ..
            } = *mode
                && voltage_min_v > voltage_max_v
            {
                problems.push(Problem::new(
                    format!("unit.ports[{i}].modes[{j}].voltage_max_v"),
                    voltage_max_v.to_string(),
                    format!("at least voltage_min_v, {voltage_min_v} V"),
                ));
            }
        }
    }

    let listed = if labels.is_empty() {
        "the label of a port in unit.ports, which lists none".to_owned()
    } else {
        one_of(&labels.keys().copied().collect::<Vec<_>>())
    };
    let port_known = |label: &str, path: String, problems: &mut Vec<Problem>| {
        if !labels.contains_key(label) {
            problems.push(Problem::new(path, format!("{label:?}"), listed.clone()));
        }
    };
    let logs = log_contradictions(record, &port_known, &mut problems);
    let mut names = BTreeMap::new();
    for (i, run) in record.runs.iter().enumerate() {
        if let Some(first) = names.insert(run.name.as_str(), i) {
            problems.push(Problem::new(
                format!("runs[{i}].name"),
                format!("{:?}", run.name),
                format!("a name that runs[{first}] does not have"),
            ));
        }
        for (j, output) in run.rated_outputs.iter().enumerate() {
            port_known(
                &output.port,
                format!("runs[{i}].rated_outputs[{j}].port"),
                &mut problems,
            );
        }
        only_once(
            run.rated_outputs.iter().map(|o| o.port.as_str()),
            |j| format!("runs[{i}].rated_outputs[{j}].port"),
            &mut problems,
        );
        for (j, point) in run.points.iter().enumerate() {
            for (k, output) in point.outputs.iter().enumerate() {
                port_known(
                    &output.port,
                    format!("runs[{i}].points[{j}].outputs[{k}].port"),
                    &mut problems,
                );
            }
            only_once(
                point.outputs.iter().map(|o| o.port.as_str()),
                |k| format!("runs[{i}].points[{j}].outputs[{k}].port"),
                &mut problems,
            );
            section_holds(
                &format!("runs[{i}].points[{j}]"),
                (point.log.as_deref(), point.log_from_s, point.log_to_s),
                Some(&logs),
                &mut problems,
            );
            let output_power_w: f64 = point
                .outputs
                .iter()
                .filter_map(|o| Some(o.voltage_v? * o.current_a?))
                .sum();
            let input_power_w = point.input.as_ref().and_then(|input| input.power_w);
            if let Some(input_power_w) = input_power_w
                && output_power_w > input_power_w
            {
                problems.push(Problem::new(
                    format!("runs[{i}].points[{j}].input.power_w"),
                    input_power_w.to_string(),
                    format!("at least the output power of this point, {output_power_w} W (an efficiency above 1 is impossible)"),
                ));
            }
        }
    }
    for (i, run) in record.runs.iter().enumerate() {
        if let Some(no_load) = &run.no_load {
            // A name alone says that a log was kept somewhere; only sections need it at hand.
            let sectioned = no_load.log_from_s.is_some() || no_load.log_to_s.is_some();
            section_holds(
                &format!("runs[{i}].no_load"),
                (no_load.log.as_deref(), no_load.log_from_s, no_load.log_to_s),
                sectioned.then_some(&logs),
                &mut problems,
            );
        }
        for (j, waveform) in run.waveforms.iter().enumerate() {
            section_holds(
                &format!("runs[{i}].waveforms[{j}]"),
                (Some(&waveform.log), waveform.log_from_s, waveform.log_to_s),
                Some(&logs),
                &mut problems,
            );
        }
    }
    for (i, overload) in record.overloads.iter().enumerate() {
        port_known(
            &overload.port,
            format!("overloads[{i}].port"),
            &mut problems,
        );
    }
    for (i, sharing) in record.sharing.iter().enumerate() {
        for (j, label) in sharing.ports_in_use.iter().enumerate() {
            port_known(
                label,
                format!("sharing[{i}].ports_in_use[{j}]"),
                &mut problems,
            );
        }
        for (j, offer) in sharing.offers.iter().enumerate() {
            port_known(
                &offer.port,
                format!("sharing[{i}].offers[{j}].port"),
                &mut problems,
            );
        }
        if let Some(attached) = &sharing.attached {
            port_known(attached, format!("sharing[{i}].attached"), &mut problems);
        }
        for (j, label) in sharing.reset_ports.iter().flatten().enumerate() {
            port_known(
                label,
                format!("sharing[{i}].reset_ports[{j}]"),
                &mut problems,
            );
        }
    }
    for (i, measurement) in record.measurements.iter().enumerate() {
        let bounds = OtherQuantity::ALL
            .iter()
            .zip(schema::OTHER_BOUNDS)
            .find_map(|(quantity, bounds)| (*quantity == measurement.quantity).then_some(bounds));
        if let Some(bounds) = bounds.filter(|b| !b.holds(measurement.value)) {
            problems.push(Problem::new(
                format!("measurements[{i}].value"),
                measurement.value.to_string(),
                bounds.to_string(),
            ));
        }
        if let Some(port) = &measurement.port {
            port_known(port, format!("measurements[{i}].port"), &mut problems);
        }
    }
    problems
}

/// Ports named twice in one combination, and named there without being in use.
fn not_in_use(record: &Record) -> Vec<Problem> {
    let mut problems = Vec::new();
    for (i, sharing) in record.sharing.iter().enumerate() {
        let in_use = &sharing.ports_in_use;
        only_once(
            in_use.iter().map(String::as_str),
            |j| format!("sharing[{i}].ports_in_use[{j}]"),
            &mut problems,
        );
        only_once(
            sharing.offers.iter().map(|offer| offer.port.as_str()),
            |j| format!("sharing[{i}].offers[{j}].port"),
            &mut problems,
        );
        let mut among = |label: &String, path: String| {
            let is_listed = record.unit.ports.iter().any(|port| &port.label == label);
            if !is_listed || in_use.contains(label) {
                return;
            }
            let expected = if in_use.is_empty() {
                "no port, as none is in ports_in_use".to_owned()
            } else {
                format!("a port in use: {}", in_use.join(", "))
            };
            problems.push(Problem::new(path, format!("{label:?}"), expected));
        };
        for (j, offer) in sharing.offers.iter().enumerate() {
            among(&offer.port, format!("sharing[{i}].offers[{j}].port"));
        }
        if let Some(attached) = &sharing.attached {
            among(attached, format!("sharing[{i}].attached"));
        }
    }
    problems
}

/// Refuses a port that is named twice where one reading belongs to one port.
fn only_once<'a>(
    names: impl Iterator<Item = &'a str>,
    path: impl Fn(usize) -> String,
    problems: &mut Vec<Problem>,
) {
    let mut seen = BTreeMap::new();
    for (i, name) in names.enumerate() {
        if let Some(first) = seen.insert(name, i) {
            problems.push(Problem::new(
                path(i),
                format!("{name:?}"),
                format!("a port not yet named by item {first}"),
            ));
        }
    }
}

/// Does a character change the direction of the text around it without being seen itself? A name
/// that holds one can look like another name.
pub fn turns_text(c: char) -> bool {
    matches!(
        c,
        '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}'
    )
}

/// Can a file be called so, and does the name look like what it is?
pub fn is_name_of_file(name: &str) -> bool {
    !matches!(name.trim(), "." | "..") && !name.chars().any(turns_text)
}

/// Faults of the logs and their layouts; gives the names of all logs.
fn log_contradictions<'r>(
    record: &'r Record,
    port_known: &dyn Fn(&str, String, &mut Vec<Problem>),
    problems: &mut Vec<Problem>,
) -> Vec<&'r str> {
    let mut names: Vec<&str> = Vec::new();
    for (i, log) in record.logs.iter().enumerate() {
        if let Some(first) = names.iter().position(|name| *name == log.name) {
            problems.push(Problem::new(
                format!("logs[{i}].name"),
                format!("{:?}", log.name),
                format!("a name that logs[{first}] does not have"),
            ));
        }
        if !is_name_of_file(&log.name) {
            problems.push(Problem::new(
                format!("logs[{i}].name"),
                format!("{:?}", log.name),
                "the name of a file, without characters that turn the direction of text".to_owned(),
            ));
        }
        names.push(&log.name);
        let layout = &log.layout;
        let path = format!("logs[{i}].layout");
        let time = &layout.time;
        let missing = |key: &str, why: &str| {
            Problem::new(format!("{path}.time.{key}"), "missing", why.to_owned())
        };
        match time.form {
            TimeForm::Index if time.interval_s.is_none() => {
                problems.push(missing(
                    "interval_s",
                    "the seconds between rows, as there is no time column",
                ));
            }
            TimeForm::Index => {}
            _ if time.column.is_none() => {
                problems.push(missing("column", "the column of the time"));
            }
            _ => {}
        }
        for (j, column) in layout.columns.iter().enumerate() {
            let path = format!("{path}.columns[{j}]");
            let is_output = matches!(
                column.quantity,
                LogQuantity::OutputVoltageV
                    | LogQuantity::OutputCurrentA
                    | LogQuantity::OutputPowerW
            );
            match &column.port {
                Some(port) if is_output => {
                    port_known(port, format!("{path}.port"), problems);
                }
                Some(port) => problems.push(Problem::new(
                    format!("{path}.port"),
                    format!("{port:?}"),
                    "no port: only output quantities belong to one".to_owned(),
                )),
                // With one port there is no doubt which it belongs to.
                None if is_output && record.unit.ports.len() != 1 => problems.push(Problem::new(
                    format!("{path}.port"),
                    "missing",
                    "the port that this output quantity belongs to".to_owned(),
                )),
                None => {}
            }
            let same =
                |other: &&LogColumn| other.quantity == column.quantity && other.port == column.port;
            if layout.columns[..j].iter().any(|other| same(&other)) {
                problems.push(Problem::new(
                    format!("{path}.quantity"),
                    format!("{:?}", column.quantity),
                    "a quantity that no earlier column holds".to_owned(),
                ));
            }
        }
    }
    names
}

/// Is a section of a log one that exists? `logs`: the names it must be among.
fn section_holds(
    path: &str,
    (log, from_s, to_s): (Option<&str>, Option<f64>, Option<f64>),
    logs: Option<&Vec<&str>>,
    problems: &mut Vec<Problem>,
) {
    match (log, logs) {
        (Some(log), Some(logs)) if !logs.contains(&log) => {
            let expected = if logs.is_empty() {
                "the name of a log in logs, which lists none".to_owned()
            } else {
                one_of(logs)
            };
            problems.push(Problem::new(
                format!("{path}.log"),
                format!("{log:?}"),
                expected,
            ));
        }
        (None, _) if from_s.or(to_s).is_some() => problems.push(Problem::new(
            format!("{path}.log"),
            "missing",
            "the log that the section is cut from".to_owned(),
        )),
        _ => {}
    }
    if let (Some(from_s), Some(to_s)) = (from_s, to_s)
        && from_s >= to_s
    {
        problems.push(Problem::new(
            format!("{path}.log_to_s"),
            to_s.to_string(),
            format!("more than log_from_s, {from_s} s"),
        ));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SMALLEST: &str = r#"{"format":"brickbook-record/1","unit":{"maker":"Larkfield","model":"LF-1","nameplate":{"output_power_w":20}}}"#;

    fn faults(text: &str) -> Vec<String> {
        decode(text)
            .expect_err("the document should be refused")
            .iter()
            .map(Problem::to_string)
            .collect()
    }

    #[test]
    fn the_smallest_record_needs_only_identity_and_power() {
        assert_eq!(
            decode(SMALLEST).unwrap().unit.nameplate.output_power_w,
            20.0
        );
    }

    #[test]
    fn all_faults_are_reported_at_once() {
        let text = r#"{"format":"brickbook-record/2","unit":{"maker":"","model":7,"colour":"red","nameplate":{"output_power_w":900}}}"#;
        let found = faults(text);
        for path in [
            "format:",
            "unit.maker:",
            "unit.model:",
            "unit.colour:",
            "unit.nameplate.output_power_w:",
        ] {
            assert!(
                found.iter().any(|f| f.starts_with(path)),
                "{path} in {found:?}"
            );
        }
        assert_eq!(found.len(), 5);
    }

    #[test]
    fn a_combination_names_each_port_once_and_none_that_is_not_in_use() {
        let text = |sharing: &str| {
            SMALLEST.replace(
                "20}}",
                &format!(
                    r#"20}},"ports":[{{"label":"C1"}},{{"label":"C2"}}]}},"sharing":[{sharing}]"#
                ),
            )
        };
        let cases = [
            (
                r#"{"ports_in_use":["C1","C1"]}"#,
                r#"sharing[0].ports_in_use[1]: "C1"; expected a port not yet named by item 0"#,
            ),
            (
                r#"{"ports_in_use":["C1"],"offers":[{"port":"C2","power_w":65}]}"#,
                r#"sharing[0].offers[0].port: "C2"; expected a port in use: C1"#,
            ),
            (
                r#"{"ports_in_use":["C1"],"offers":[{"port":"C1","power_w":65},{"port":"C1","power_w":30}]}"#,
                r#"sharing[0].offers[1].port: "C1"; expected a port not yet named by item 0"#,
            ),
            (
                r#"{"ports_in_use":["C1"],"attached":"C2"}"#,
                r#"sharing[0].attached: "C2"; expected a port in use: C1"#,
            ),
        ];
        for (sharing, expected) in cases {
            assert_eq!(faults(&text(sharing)), [expected]);
            assert!(
                decode_stored(&text(sharing)).is_ok(),
                "what was taken in before is still read"
            );
        }
        // A port that the unit does not have is that one fault alone.
        let unknown = faults(&text(r#"{"ports_in_use":["C1"],"attached":"C9"}"#));
        assert_eq!(unknown.len(), 1);
        decode(&text(
            r#"{"ports_in_use":["C1","C2"],"attached":"C2","offers":[{"port":"C1","power_w":65}]}"#,
        ))
        .unwrap();
    }

    #[test]
    fn a_bare_nan_is_refused_where_it_stands() {
        let text = SMALLEST.replace("20}", "NaN}");
        let found = decode(&text).unwrap_err();
        assert_eq!(found[0].path, "unit.nameplate.output_power_w");
        assert_eq!(found[0].value, "NaN");
    }

    #[test]
    fn a_number_beyond_all_floats_is_refused_where_it_stands() {
        let found = decode(&SMALLEST.replace("20}", "1e400}")).unwrap_err();
        assert_eq!(
            (found[0].path.as_str(), found[0].value.as_str()),
            ("unit.nameplate.output_power_w", "1e400")
        );
    }

    #[test]
    fn a_repeated_key_is_refused_because_one_reading_would_be_lost() {
        let text = SMALLEST.replace(r#""model":"LF-1""#, r#""model":"LF-1","model":"LF-2""#);
        assert!(faults(&text)[0].contains("only once"));
    }

    #[test]
    fn an_output_above_the_input_is_refused_and_a_null_is_not_measured() {
        let text = r#"{"format":"brickbook-record/1","unit":{"maker":"Larkfield","model":"LF-1","sample":null,
            "nameplate":{"output_power_w":20},"ports":[{"label":"C1"}]},
            "runs":[{"name":"a","line":{"voltage_v":115,"frequency_hz":60},"points":[
              {"load_percent":100,"input":{"power_w":10,"power_factor":null},"outputs":[{"port":"C1","voltage_v":5,"current_a":3},{"port":"C9"}]}]}]}"#;
        let found = faults(text);
        assert!(
            found
                .iter()
                .any(|f| f.starts_with("runs[0].points[0].input.power_w: 10; expected at least"))
        );
        assert!(found.iter().any(|f| {
            f.starts_with("runs[0].points[0].outputs[1].port: \"C9\"; expected one of C1")
        }));
    }

    #[test]
    fn a_log_is_not_called_like_a_folder_or_so_that_it_looks_like_another() {
        let named = |name: &str| {
            let mut record: Value = serde_json::from_str(SMALLEST).unwrap();
            record["logs"] = serde_json::json!([{
                "name": name, "sha256": "0".repeat(64), "size_bytes": 10,
                "layout": {
                    "encoding": "utf-8", "delimiter": "comma", "decimal": "point", "first_line": 2,
                    "time": {"form": "index", "interval_s": 1},
                    "columns": [{"column": 1, "quantity": "input_power_w"}]
                }
            }]);
            decode_value(record)
        };
        assert!(named("no load…, 230 V.csv").is_ok(), "{:?}", named("a.csv"));
        for name in [
            ".",
            "..",
            " .. ",
            "a\u{202e}vsc.exe",
            "\u{2066}a.csv",
            "a\u{200f}.csv",
        ] {
            let found = named(name).expect_err(name);
            assert_eq!(found.len(), 1, "{found:?}");
            assert_eq!(found[0].path, "logs[0].name");
        }
    }

    #[test]
    fn text_that_is_no_json_says_where() {
        assert!(faults("{\"format\": ")[0].contains("valid JSON"));
        assert!(faults("")[0].contains("valid JSON"));
        assert!(!faults("[1,2").is_empty());
    }
}
