//! How people write numbers with units: "143 mW", "0,143 W", "1.5A", "98 %".
//!
//! The decimal exponent is shifted in the text before it becomes a number, so "143 mW" is
//! exactly the number that "0.143" is. What could be read in two ways is refused with a sentence
//! that tells how to write it, never guessed.

use std::fmt;
use std::ops::RangeInclusive;

/// The unit that a field is kept in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Unit {
    Watt,
    Volt,
    Ampere,
    VoltAmpere,
    Hertz,
    Ohm,
    Celsius,
    Gram,
    Millimetre,
    Minute,
    Second,
    Percent,
    Metre,
    Millivolt,
    Microampere,
    Milliohm,
    Millisecond,
    /// A-weighted sound pressure level.
    DecibelA,
    /// A plain number or ratio; "98 %" is read as 0.98.
    One,
}

impl Unit {
    /// The symbol printed beside a field; empty for a plain number.
    pub fn symbol(self) -> &'static str {
        match self {
            Unit::Watt => "W",
            Unit::Volt => "V",
            Unit::Ampere => "A",
            Unit::VoltAmpere => "VA",
            Unit::Hertz => "Hz",
            Unit::Ohm => "Ω",
            Unit::Celsius => "°C",
            Unit::Gram => "g",
            Unit::Millimetre => "mm",
            Unit::Minute => "min",
            Unit::Second => "s",
            Unit::Percent => "%",
            Unit::Metre => "m",
            Unit::Millivolt => "mV",
            Unit::Microampere => "µA",
            Unit::Milliohm => "mΩ",
            Unit::Millisecond => "ms",
            Unit::DecibelA => "dB(A)",
            Unit::One => "",
        }
    }

    /// The unit with a symbol as this module prints it.
    pub fn from_symbol(symbol: &str) -> Option<Unit> {
        UNITS.into_iter().find(|unit| unit.symbol() == symbol)
    }

    /// What a field of this unit takes, with an example: the tail of "expected …".
    fn expected(self) -> &'static str {
        match self {
            Unit::Watt => "a power such as 12.5, 12.5 W or 143 mW",
            Unit::Volt => "a voltage such as 19.98, 230 V or 850 mV",
            Unit::Ampere => "a current such as 1.5, 1.5 A or 31 mA",
            Unit::VoltAmpere => "an apparent power such as 25, 25 VA or 900 mVA",
            Unit::Hertz => "a frequency such as 50 or 60 Hz",
            Unit::Ohm => "a resistance such as 0.012, 12 mΩ or 12 mohm",
            Unit::Celsius => "a temperature in degrees Celsius such as 23.4 or 23.4 °C",
            Unit::Gram => "a mass such as 171, 171 g or 0.171 kg",
            Unit::Millimetre => "a length such as 66, 66 mm or 6.6 cm",
            Unit::Minute => "a time in minutes such as 45 or 45 min",
            Unit::Second => "a time such as 90, 90 s or 0:01:30",
            Unit::Percent => "a percentage such as 98 or 98 %",
            Unit::Metre => "a length such as 1.5, 1.5 m or 150 cm",
            Unit::Millivolt => "a voltage in millivolts such as 74, 74 mV or 0.074 V",
            Unit::Microampere => "a current in microamperes such as 62, 62 µA or 0.062 mA",
            Unit::Milliohm => "a resistance in milliohms such as 120, 120 mΩ or 0.12 ohm",
            Unit::Millisecond => "a time in milliseconds such as 18, 18 ms or 0.018 s",
            Unit::DecibelA => "a sound pressure level such as 24 or 24 dB(A)",
            Unit::One => "a plain number such as 0.975",
        }
    }

    /// Power of ten from the unit as written to the unit the field is kept in.
    fn exponent_of(self, written: &str) -> Option<i32> {
        if written.is_empty() {
            return Some(0);
        }
        let prefixed = |symbols: &[&str]| {
            symbols
                .iter()
                .find_map(|symbol| written.strip_suffix(symbol))
                .and_then(prefix_exponent)
        };
        match self {
            Unit::Watt => prefixed(&["W", "w"]),
            Unit::Volt => prefixed(&["V", "v"]),
            Unit::Ampere => prefixed(&["A", "a"]),
            Unit::VoltAmpere => prefixed(&["VA", "va"]),
            Unit::Hertz => prefixed(&["Hz", "hz", "HZ"]),
            Unit::Ohm => prefixed(&["Ω", "Ω", "ohm", "Ohm", "ohms", "Ohms"]),
            Unit::Gram => prefixed(&["g"]),
            Unit::Celsius => ["°C", "℃", "C", "°c", "c"].contains(&written).then_some(0),
            Unit::Millimetre => match written {
                "mm" => Some(0),
                "cm" => Some(1),
                "m" => Some(3),
                _ => None,
            },
            Unit::Minute => (written == "min").then_some(0),
            Unit::Second => prefixed(&["s"]),
            Unit::Percent => (written == "%").then_some(0),
            Unit::Metre => match written {
                "m" => Some(0),
                "cm" => Some(-2),
                "mm" => Some(-3),
                _ => None,
            },
            Unit::Millivolt => Unit::Volt.exponent_of(written).map(|e| e + 3),
            Unit::Microampere => Unit::Ampere.exponent_of(written).map(|e| e + 6),
            Unit::Milliohm => Unit::Ohm.exponent_of(written).map(|e| e + 3),
            Unit::Millisecond => prefixed(&["s"]).map(|e| e + 3),
            Unit::DecibelA => ["dB(A)", "dBA", "dB"].contains(&written).then_some(0),
            Unit::One => (written == "%").then_some(-2),
        }
    }
}

const UNITS: [Unit; 19] = [
    Unit::Watt,
    Unit::Volt,
    Unit::Ampere,
    Unit::VoltAmpere,
    Unit::Hertz,
    Unit::Ohm,
    Unit::Celsius,
    Unit::Gram,
    Unit::Millimetre,
    Unit::Minute,
    Unit::Second,
    Unit::Percent,
    Unit::Metre,
    Unit::Millivolt,
    Unit::Microampere,
    Unit::Milliohm,
    Unit::Millisecond,
    Unit::DecibelA,
    Unit::One,
];

/// SI prefixes that occur on a bench. Mega is left out on purpose: "143 MW" in an adapter's
/// record is always a slip for milliwatts.
fn prefix_exponent(prefix: &str) -> Option<i32> {
    match prefix {
        "" => Some(0),
        "k" => Some(3),
        "m" => Some(-3),
        "u" | "\u{b5}" | "\u{3bc}" => Some(-6),
        "n" => Some(-9),
        _ => None,
    }
}

/// Why a text is no number of the field's unit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unreadable {
    /// What was expected instead: the tail of a sentence "…, expected …".
    pub expected: String,
}

impl fmt::Display for Unreadable {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "expected {}", self.expected)
    }
}

impl std::error::Error for Unreadable {}

/// Reads a number as people write it, in the field's unit.
///
/// A decimal comma is accepted when it can only be one. "1,234" could also be a thousand and
/// more: it is read as 1.234 only where `allowed` holds 1.234 and not 1234, otherwise refused.
///
/// # Errors
/// Says what was expected: another unit, a thousands separator, NaN, infinity, hexadecimal, no
/// number at all.
pub fn parse(text: &str, unit: Unit, allowed: RangeInclusive<f64>) -> Result<f64, Unreadable> {
    let refuse = |why: &str| Unreadable {
        expected: format!("{}{why}", unit.expected()),
    };
    let text = text.trim();
    if text.is_empty() {
        return Err(refuse(""));
    }
    if unit == Unit::Second && text.contains(':') {
        return clock(text).ok_or_else(|| refuse(" (hours, minutes and seconds as 1:02:03)"));
    }
    let (negative, unsigned) = match text.chars().next() {
        Some('-' | '\u{2212}') => (true, text.trim_start_matches(['-', '\u{2212}'])),
        Some('+') => (false, &text[1..]),
        _ => (false, text),
    };
    if text.chars().count() - unsigned.chars().count() > 1 {
        return Err(refuse(" (one sign only)"));
    }
    let lower = unsigned.to_lowercase();
    if lower.starts_with("nan") || lower.starts_with("inf") || lower.starts_with('∞') {
        return Err(refuse(
            " (a finite number; leave the field empty if it was not measured)",
        ));
    }
    if lower.starts_with("0x") {
        return Err(refuse(" (decimal, not hexadecimal)"));
    }

    let number_end = unsigned
        .find(|c: char| !c.is_ascii_digit() && !matches!(c, '.' | ',' | '\'' | '_' | '\u{2019}'))
        .unwrap_or(unsigned.len());
    let (number, mut rest) = unsigned.split_at(number_end);
    if !number.contains(|c: char| c.is_ascii_digit()) {
        return Err(refuse(""));
    }
    let mut exponent = 0;
    if let Some((written, after)) = scientific(rest) {
        exponent = written;
        rest = after;
    }
    let written_unit = rest.trim();
    if written_unit.starts_with(|c: char| c.is_ascii_digit()) {
        return Err(refuse(" (no space between digits)"));
    }
    let Some(shift) = unit.exponent_of(written_unit) else {
        let hint = if written_unit.starts_with('M') {
            " (M is mega; milli is a small m)"
        } else {
            ""
        };
        return Err(refuse(hint));
    };
    exponent += shift;

    let separators: Vec<char> = number.chars().filter(|c| !c.is_ascii_digit()).collect();
    if number.contains(['\'', '_', '\u{2019}']) || separators.len() > 1 {
        return Err(refuse(" (no thousands separators, one decimal mark)"));
    }
    let decimal = finite(negative, &number.replace(',', "."), exponent)
        .ok_or_else(|| refuse(" (too large)"))?;
    if separators == [','] && looks_grouped(number) {
        let grouped = finite(negative, &number.replace(',', ""), exponent);
        let only_decimal = allowed.contains(&decimal)
            && !grouped.is_some_and(|grouped| allowed.contains(&grouped));
        if !only_decimal {
            let (point, whole) = (number.replace(',', "."), number.replace(',', ""));
            return Err(refuse(&format!(
                " (write {point} or {whole}: the comma could mean either)"
            )));
        }
    }
    Ok(decimal)
}

/// One to three digits that do not start with zero, a comma, exactly three digits.
fn looks_grouped(number: &str) -> bool {
    number.split_once(',').is_some_and(|(whole, group)| {
        group.len() == 3 && (1..=3).contains(&whole.len()) && !whole.starts_with('0')
    })
}

/// Seconds of "1:02:03" or "1:02:03.5". Two parts alone could be hours and minutes as well as
/// minutes and seconds.
fn clock(text: &str) -> Option<f64> {
    let [hours, minutes, seconds] = text.split(':').collect::<Vec<_>>().try_into().ok()?;
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
    let seconds = seconds.replace(',', ".");
    let (whole, fraction) = seconds.split_once('.').unwrap_or((&seconds, "0"));
    let two = |part: &str| digits(part) && part.len() <= 2;
    if !(digits(hours) && hours.len() <= 4 && two(minutes) && two(whole) && digits(fraction)) {
        return None;
    }
    let hours: f64 = hours.parse().ok()?;
    let minutes: f64 = minutes.parse().ok().filter(|m| *m < 60.0)?;
    let seconds: f64 = seconds.parse().ok().filter(|s| *s < 60.0)?;
    Some(hours * 3600.0 + minutes * 60.0 + seconds)
}

/// "e-3" at the start of the text, if it is one; the exponent is bounded so that it cannot overflow.
fn scientific(rest: &str) -> Option<(i32, &str)> {
    let after = rest.strip_prefix(['e', 'E'])?;
    let (sign, digits) = match after.chars().next()? {
        '-' => (-1, &after[1..]),
        '+' => (1, &after[1..]),
        _ => (1, after),
    };
    let end = digits
        .find(|c: char| !c.is_ascii_digit())
        .unwrap_or(digits.len());
    let value: i32 = digits[..end].parse().ok().filter(|e| *e <= 400)?;
    Some((sign * value, &digits[end..]))
}

fn finite(negative: bool, digits: &str, exponent: i32) -> Option<f64> {
    let sign = if negative { "-" } else { "" };
    format!("{sign}{digits}e{exponent}")
        .parse::<f64>()
        .ok()
        .filter(|value| value.is_finite())
}

/// The shortest decimal text that [`parse`] reads back as the same number: what an edit field
/// shows for a stored value.
pub fn editable(value: f64) -> String {
    format!("{value}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const ANY: RangeInclusive<f64> = f64::MIN..=f64::MAX;

    fn read(text: &str, unit: Unit) -> f64 {
        parse(text, unit, ANY).unwrap_or_else(|e| panic!("{text}: {e}"))
    }

    fn refused(text: &str, unit: Unit) -> String {
        match parse(text, unit, ANY) {
            Ok(value) => panic!("{text} was read as {value}"),
            Err(why) => why.expected,
        }
    }

    #[test]
    fn what_testers_write_is_read_exactly() {
        for (text, unit, value) in [
            ("143 mW", Unit::Watt, 0.143_f64),
            ("143mW", Unit::Watt, 0.143),
            ("143 mw", Unit::Watt, 0.143),
            ("0,143 W", Unit::Watt, 0.143),
            ("0,143", Unit::Watt, 0.143),
            ("1.234", Unit::Watt, 1.234),
            ("1.5A", Unit::Ampere, 1.5),
            ("1,5 A", Unit::Ampere, 1.5),
            ("31 mA", Unit::Ampere, 0.031),
            ("310 uA", Unit::Ampere, 0.00031),
            ("310 \u{b5}A", Unit::Ampere, 0.00031),
            ("310 \u{3bc}A", Unit::Ampere, 0.00031),
            ("230 V", Unit::Volt, 230.0),
            ("0.23 kV", Unit::Volt, 230.0),
            ("65", Unit::Watt, 65.0),
            (" 65\u{a0}W ", Unit::Watt, 65.0),
            (".5", Unit::Watt, 0.5),
            ("98 %", Unit::Percent, 98.0),
            ("98 %", Unit::One, 0.98),
            ("12 mΩ", Unit::Ohm, 0.012),
            ("12 mohm", Unit::Ohm, 0.012),
            ("60 Hz", Unit::Hertz, 60.0),
            ("-5 °C", Unit::Celsius, -5.0),
            ("\u{2212}5", Unit::Celsius, -5.0),
            ("0.171 kg", Unit::Gram, 171.0),
            ("6.6 cm", Unit::Millimetre, 66.0),
            ("90 s", Unit::Second, 90.0),
            ("250 ms", Unit::Second, 0.25),
            ("0:01:30", Unit::Second, 90.0),
            ("1:02:03,5", Unit::Second, 3723.5),
            ("45 min", Unit::Minute, 45.0),
            ("1e-7", Unit::Watt, 1e-7),
            ("1.43e2 mW", Unit::Watt, 0.143),
        ] {
            assert_eq!(read(text, unit).to_bits(), value.to_bits(), "{text}");
        }
    }

    #[test]
    fn another_unit_is_refused_with_what_was_expected() {
        assert!(refused("5 A", Unit::Watt).starts_with("a power such as"));
        assert!(refused("5 W", Unit::Ampere).starts_with("a current such as"));
        assert!(refused("143 MW", Unit::Watt).contains("M is mega"));
        assert!(refused("70 °F", Unit::Celsius).contains("Celsius"));
        assert!(refused("12 m", Unit::Watt).contains("143 mW"));
        for text in ["1:30", "0:61:00", "1:2:", "-0:01:00", "1:00:00:00"] {
            assert!(refused(text, Unit::Second).contains("1:02:03"), "{text}");
        }
    }

    #[test]
    fn what_is_no_plain_finite_number_is_refused() {
        for text in [
            "",
            "-",
            "abc",
            "NaN",
            "inf",
            "-Infinity",
            "0x10",
            "∞",
            "--5",
            "e5",
            ".",
            "1e999",
            "1e99999999999",
        ] {
            parse(text, Unit::Watt, ANY).expect_err(text);
        }
        assert!(refused("NaN", Unit::Watt).contains("finite"));
        assert!(refused("0x10", Unit::Watt).contains("hexadecimal"));
    }

    #[test]
    fn thousands_separators_are_refused() {
        for text in [
            "1,234,567",
            "1.234,5",
            "1'234",
            "1_234",
            "1 234",
            "1.234.567",
            "1\u{202f}234",
        ] {
            parse(text, Unit::Watt, ANY).expect_err(text);
        }
    }

    #[test]
    fn a_comma_before_three_digits_counts_only_where_the_thousands_are_impossible() {
        assert!(refused("1,234", Unit::Watt).contains("write 1.234 or 1234"));
        assert_eq!(parse("1,234", Unit::Ampere, 0.0..=20.0), Ok(1.234));
        assert_eq!(parse("229,850 V", Unit::Volt, 80.0..=300.0), Ok(229.85));
        parse("1,234 mW", Unit::Watt, 0.0..=1000.0).expect_err("1234 mW is possible too");
        assert_eq!(read("12,3456", Unit::Watt), 12.3456);
        assert_eq!(read("0,143", Unit::Watt), 0.143);
    }

    proptest! {
        #[test]
        fn an_editable_text_reads_back_as_the_same_number(value in proptest::num::f64::NORMAL | proptest::num::f64::ZERO) {
            prop_assert_eq!(parse(&editable(value), Unit::Watt, ANY).map(f64::to_bits), Ok(value.to_bits()));
        }

        #[test]
        fn a_prefix_is_the_same_as_moving_the_point(thousandths in 0u32..10_000_000) {
            let plain = format!("{}.{:03}", thousandths / 1000, thousandths % 1000);
            prop_assert_eq!(read(&format!("{thousandths} mW"), Unit::Watt).to_bits(), read(&plain, Unit::Watt).to_bits());
            prop_assert_eq!(read(&format!("{thousandths} mW"), Unit::Watt).to_bits(), plain.parse::<f64>().unwrap().to_bits());
        }

        #[test]
        fn strange_text_never_panics(text in "\\PC*") {
            for unit in UNITS { let _ = parse(&text, unit, 0.0..=1000.0); }
        }

        #[test]
        fn number_like_text_is_finite_or_refused(text in "[-+−]?[0-9.,' _eEx]{0,12}[kmuµn]?[WVA%]?") {
            for unit in UNITS {
                if let Ok(value) = parse(&text, unit, 0.0..=1000.0) { prop_assert!(value.is_finite()); }
            }
        }
    }
}
