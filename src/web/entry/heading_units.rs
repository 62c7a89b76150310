//! Units in the headings of pasted cells: "Current (mA)", "current mA", "I / mA".
//!
//! A unit that is stated and cannot be read as one of the column's is refused: without it, the
//! numbers below would be taken in the column's own unit, and 72 °F would be 72 °C.

use crate::quantity::written::{self, Unit};

/// Units of other quantities and systems, lower case: known, so that they are never passed over.
const FOREIGN: [&str; 21] = [
    "f",
    "k",
    "degf",
    "degk",
    "fahrenheit",
    "kelvin",
    "rankine",
    "wh",
    "mwh",
    "kwh",
    "ah",
    "mah",
    "j",
    "kj",
    "dbm",
    "ppm",
    "lb",
    "oz",
    "hp",
    "in.",
    "rpm",
];

/// Short words that stand in brackets without being a unit.
const REMARKS: [&str; 12] = [
    "-", "rms", "ac", "dc", "avg", "max", "pk", "in", "out", "set", "on", "off",
];

/// The unit to write behind the bare numbers of a column; empty if its heading states none. Times
/// are "s", "min" or "h" (see [`in_unit`]).
///
/// # Errors
/// A sentence that names the column whose unit cannot be read.
pub fn of_column(heading: &str, kept_in: Unit, ports: &[String]) -> Result<String, String> {
    for word in words_from_the_last(heading) {
        if let Some(unit) = read_as(&word.text, kept_in) {
            return Ok(unit);
        }
        if word.may_be_unit(ports) {
            return Err(format!(
                "The column “{heading}” is in {}, which is not read there, so nothing was filled in. Expected {}: convert the values, or mend the heading.",
                word.text,
                expected(kept_in)
            ));
        }
    }
    Ok(String::new())
}

/// The last word of a heading that is a unit of anything; empty if there is none.
pub fn stated(heading: &str, ports: &[String]) -> String {
    words_from_the_last(heading)
        .into_iter()
        .find(|word| word.may_be_unit(ports))
        .map_or(String::new(), |word| plain_symbol(&word.text))
}

/// A cell as its field takes it: a bare number gets the unit of its heading.
pub fn in_unit(cell: &str, unit: &str, kept_in: Unit) -> String {
    let bare = cell.chars().all(|c| {
        c.is_ascii_digit()
            || matches!(
                c,
                '.' | ',' | '-' | '+' | 'e' | 'E' | '\u{2212}' | '\'' | '_' | '\u{2019}'
            )
    });
    let factor = match (kept_in, unit) {
        (Unit::Minute, "s") => 1.0 / 60.0,
        (Unit::Minute, "h") | (Unit::Second, "min") => 60.0,
        (Unit::Second, "h") => 3600.0,
        _ if bare && !unit.is_empty() => return format!("{cell} {unit}"),
        _ => return cell.to_owned(),
    };
    // A clock's 0:01:30 is read as seconds as well.
    let read = match unit {
        "s" => written::parse(cell, Unit::Second, 0.0..=1e7),
        _ if bare => written::parse(cell, Unit::One, 0.0..=1e5),
        _ => return cell.to_owned(),
    };
    match read {
        Ok(time) => written::editable((time * factor * 1e4).round() / 1e4),
        // With its unit, so that the field refuses it in words.
        Err(_) => format!("{cell} {unit}"),
    }
}

struct Word {
    text: String,
    in_brackets: bool,
}

impl Word {
    /// Is this a unit, though perhaps not one of the column's? A port may be called like one.
    fn may_be_unit(&self, ports: &[String]) -> bool {
        let lower = self.text.to_lowercase();
        if ports.contains(&lower) || self.text.contains(|c: char| c.is_ascii_digit()) {
            return false;
        }
        let signs = ['°', '℉', '℃', 'µ', 'μ', 'Ω', 'Ω', '%'];
        let short_in_brackets = self.in_brackets
            && self.text.chars().count() <= 3
            && !REMARKS.contains(&lower.as_str());
        self.text.contains(signs)
            || FOREIGN.contains(&lower.as_str())
            || is_of_some_unit(&plain_symbol(&self.text))
            // "CURRENT MA": a slip for milli, or a unit that no adapter is measured in.
            || is_of_some_unit(&lower)
            || short_in_brackets
    }
}

/// Words of a heading with the last first, as a unit stands behind what it is the unit of.
fn words_from_the_last(heading: &str) -> Vec<Word> {
    let mut words = Vec::new();
    let mut word = String::new();
    let mut depth = 0_usize;
    for c in heading.chars().chain([' ']) {
        let separates = c.is_whitespace()
            || matches!(c, '_' | ',' | ';' | '/' | ':' | '=' | '(' | ')' | '[' | ']');
        if separates && !word.is_empty() {
            words.push(Word {
                text: std::mem::take(&mut word),
                in_brackets: depth > 0,
            });
        }
        match c {
            '(' | '[' => depth += 1,
            ')' | ']' => depth = depth.saturating_sub(1),
            _ if separates => {}
            // Keyboards have an ordinal indicator that looks like the degree sign.
            'º' | '˚' => word.push('°'),
            c => word.push(c),
        }
    }
    words.reverse();
    words
}

/// The word as the unit that is written behind the cells; `None` if it is none of this column's.
fn read_as(word: &str, kept_in: Unit) -> Option<String> {
    let symbol = plain_symbol(word);
    let is_time = matches!(kept_in, Unit::Minute | Unit::Second);
    let reads = (is_time && matches!(symbol.as_str(), "s" | "min" | "h"))
        || written::parse(&format!("1 {symbol}"), kept_in, 0.0..=1e9).is_ok();
    reads.then_some(symbol)
}

fn is_of_some_unit(symbol: &str) -> bool {
    [
        Unit::Watt,
        Unit::Volt,
        Unit::Ampere,
        Unit::VoltAmpere,
        Unit::Hertz,
        Unit::Ohm,
        Unit::Celsius,
        Unit::Gram,
        Unit::Millimetre,
        Unit::Second,
        Unit::Percent,
        Unit::DecibelA,
    ]
    .into_iter()
    .any(|unit| written::parse(&format!("1 {symbol}"), unit, 0.0..=1e9).is_ok())
        || matches!(symbol, "min" | "h")
}

/// Names of units as their symbols; anything else as it is.
fn plain_symbol(word: &str) -> String {
    let lower = word.to_lowercase();
    match lower.as_str() {
        "volt" | "volts" => "V",
        "millivolt" | "millivolts" => "mV",
        "amp" | "amps" | "ampere" | "amperes" => "A",
        "milliamp" | "milliamps" | "milliampere" | "milliamperes" => "mA",
        "watt" | "watts" => "W",
        "milliwatt" | "milliwatts" => "mW",
        "celsius" | "degc" => "°C",
        "percent" => "%",
        "s" | "sec" | "secs" | "second" | "seconds" => "s",
        "min" | "mins" | "minute" | "minutes" => "min",
        "h" | "hr" | "hrs" | "hour" | "hours" => "h",
        _ => word,
    }
    .to_owned()
}

fn expected(kept_in: Unit) -> String {
    match kept_in {
        Unit::Minute => "min, s or h".to_owned(),
        Unit::Second => "s, min or h".to_owned(),
        Unit::One => "no unit, or %".to_owned(),
        Unit::Celsius | Unit::Percent => kept_in.symbol().to_owned(),
        unit => format!("{0} or m{0}", unit.symbol()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(heading: &str, kept_in: Unit) -> Result<String, String> {
        of_column(heading, kept_in, &["c1".to_owned(), "a".to_owned()])
    }

    #[test]
    fn a_unit_is_read_in_brackets_and_bare() {
        for (heading, kept_in, unit) in [
            ("Current (mA)", Unit::Ampere, "mA"),
            ("current mA", Unit::Ampere, "mA"),
            ("I / mA", Unit::Ampere, "mA"),
            ("Vout_mV", Unit::Volt, "mV"),
            ("mV out", Unit::Volt, "mV"),
            ("Iset (A) set", Unit::Ampere, "A"),
            ("voltage in millivolts", Unit::Volt, "mV"),
            ("input W", Unit::Watt, "W"),
            ("ambient", Unit::Celsius, ""),
            ("hot spot", Unit::Celsius, ""),
            ("surface ºC", Unit::Celsius, "°C"),
            ("surface deg C", Unit::Celsius, "C"),
            ("Time (s)", Unit::Minute, "s"),
            ("TIME MIN", Unit::Minute, "min"),
            ("elapsed hours", Unit::Minute, "h"),
            ("held min", Unit::Second, "min"),
            ("load percent", Unit::Percent, "%"),
            ("power factor", Unit::One, ""),
            ("Vin (rms)", Unit::Volt, ""),
            ("Vout (C1)", Unit::Volt, ""),
            ("Vout A", Unit::Volt, ""),
            ("surface (left probe)", Unit::Celsius, ""),
        ] {
            assert_eq!(read(heading, kept_in), Ok(unit.to_owned()), "{heading}");
        }
    }

    #[test]
    fn a_unit_that_is_not_the_columns_is_refused_with_the_column_named() {
        for (heading, kept_in, named) in [
            ("ambient °F", Unit::Celsius, "°F"),
            ("surface (°F)", Unit::Celsius, "°F"),
            ("surface F", Unit::Celsius, "F"),
            ("hot spot ℉", Unit::Celsius, "℉"),
            ("deg F case", Unit::Celsius, "F"),
            ("ambient (K)", Unit::Celsius, "K"),
            ("ambient Kelvin", Unit::Celsius, "Kelvin"),
            ("CURRENT MA", Unit::Ampere, "MA"),
            ("load A", Unit::Percent, "A"),
            ("power mWh", Unit::Watt, "mWh"),
            ("voltage mA", Unit::Volt, "mA"),
            ("mass (st)", Unit::Gram, "st"),
        ] {
            let ports = ["c1".to_owned()];
            let said = of_column(heading, kept_in, &ports).unwrap_err();
            assert!(
                said.contains(&format!("“{heading}” is in {named},")),
                "{said}"
            );
        }
    }

    #[test]
    fn times_become_those_of_the_field_and_what_could_be_misread_is_left_to_it() {
        assert_eq!(in_unit("90", "s", Unit::Minute), "1.5");
        assert_eq!(in_unit("0:01:30", "s", Unit::Minute), "1.5");
        assert_eq!(in_unit("0,5", "h", Unit::Minute), "30");
        assert_eq!(in_unit("2", "min", Unit::Second), "120");
        assert_eq!(in_unit("1,234,567", "s", Unit::Minute), "1,234,567 s");
        assert_eq!(in_unit("2990", "mA", Unit::Ampere), "2990 mA");
        assert_eq!(in_unit("2.99 A", "mA", Unit::Ampere), "2.99 A");
        assert_eq!(in_unit("\u{2212}5", "mA", Unit::Ampere), "\u{2212}5 mA");
    }
}
