//! Numbers as this program writes them for people and documents: lengths of time, counts, digits.

/// A length of time as people say it: "45 s", "12.5 min", "1 h 30 min", "2 d 3 h"; "unknown" for
/// what is not finite.
pub fn duration(seconds: f64) -> String {
    let s = seconds.abs();
    let sign = if seconds < 0.0 { "-" } else { "" };
    if !s.is_finite() {
        return "unknown".to_owned();
    }
    let pair = |whole: f64, unit: &str, rest: f64, rest_unit: &str| {
        if rest > 0.0 {
            format!("{sign}{whole} {unit} {rest} {rest_unit}")
        } else {
            format!("{sign}{whole} {unit}")
        }
    };
    if s < 99.95 {
        format!("{sign}{} s", plain(s))
    } else if s < 5_970.0 {
        // Tenths of a minute: six seconds.
        format!("{sign}{} min", plain((s / 6.0).round() / 10.0))
    } else if s < 172_770.0 {
        let minutes = (s / 60.0).round();
        pair((minutes / 60.0).floor(), "h", minutes % 60.0, "min")
    } else {
        let hours = (s / 3600.0).round();
        pair((hours / 24.0).floor(), "d", hours % 24.0, "h")
    }
}

/// Fixed-point text with so many significant digits; never an exponent.
pub fn significant(value: f64, digits: i32) -> String {
    if value == 0.0 || !value.is_finite() {
        return format!("{value:.0}");
    }
    let decimals_at = |v: f64| (digits - 1 - v.abs().log10().floor() as i32).clamp(0, 12) as usize;
    let decimals = decimals_at(value);
    let text = format!("{value:.decimals$}");
    // Rounding may have carried into a new digit: 9.996 is 10.0, not 10.00.
    match text.parse::<f64>() {
        Ok(rounded) if rounded != 0.0 && decimals_at(rounded) < decimals => {
            let decimals = decimals_at(rounded);
            format!("{value:.decimals$}")
        }
        _ => text,
    }
}

/// At most three significant digits, without zeros at the end: "65", "7.5".
pub fn plain(value: f64) -> String {
    let text = significant(value, 3);
    match text.split_once('.') {
        Some(_) => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        None => text,
    }
}

/// "1 unit", "7 units".
pub fn counted(n: usize, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}

/// Bytes as hexadecimal digits, lower case.
pub fn hex(bytes: impl AsRef<[u8]>) -> String {
    use std::fmt::Write;
    bytes.as_ref().iter().fold(String::new(), |mut text, byte| {
        write!(text, "{byte:02x}").expect("a String takes any text");
        text
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_time_is_written_in_the_unit_that_people_would_take() {
        assert_eq!(duration(0.0), "0 s");
        assert_eq!(duration(45.0), "45 s");
        assert_eq!(duration(300.0), "5 min");
        assert_eq!(duration(750.0), "12.5 min");
        assert_eq!(duration(5_400.0), "90 min");
        assert_eq!(duration(7_199.0), "2 h");
        assert_eq!(duration(9_000.0), "2 h 30 min");
        assert_eq!(duration(200_000.0), "2 d 8 h");
        assert_eq!(duration(-0.25), "-0.25 s");
        assert_eq!(duration(f64::NAN), "unknown");
    }

    #[test]
    fn a_rating_is_written_without_idle_zeros() {
        assert_eq!(plain(65.0), "65");
        assert_eq!(plain(7.5), "7.5");
        assert_eq!(plain(100.0), "100");
    }

    #[test]
    fn rounding_into_a_new_digit_keeps_the_number_of_digits() {
        assert_eq!(significant(9.996, 3), "10.0");
        assert_eq!(significant(0.0, 3), "0");
        assert_eq!(significant(0.0123456, 3), "0.0123");
    }

    #[test]
    fn one_is_written_in_the_singular() {
        assert_eq!(counted(1, "reading", "readings"), "1 reading");
        assert_eq!(counted(0, "reading", "readings"), "0 readings");
    }

    #[test]
    fn every_byte_takes_two_digits() {
        assert_eq!(hex([0x00, 0x0a, 0xff]), "000aff");
        assert_eq!(hex([]), "");
    }
}
