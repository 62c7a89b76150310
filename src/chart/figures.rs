//! How charts write numbers, and how text becomes safe to stand in SVG.

use crate::{
    quantity::words,
    text::{escaped, localised},
};
pub(super) use words::counted;

/// "45 s", "12.5 min", "1 h 30 min".
pub(super) fn duration(seconds: f64) -> String {
    localised(words::duration(seconds))
}

/// At most three significant digits, without zeros at the end.
pub(super) fn plain(value: f64) -> String {
    localised(words::plain(value))
}

/// So many significant digits; never an exponent.
pub(super) fn significant(value: f64, digits: i32) -> String {
    localised(words::significant(value, digits))
}

/// An uncertainty with two significant digits, and its digits after the decimal mark.
pub(super) fn two_digits(u: f64) -> (String, usize) {
    let text = words::significant(u, 2);
    let decimals = text.split_once('.').map_or(0, |(_, d)| d.len());
    (localised(text), decimals)
}

/// So many digits after the decimal mark.
pub(super) fn fixed(value: f64, decimals: usize) -> String {
    localised(format!("{value:.decimals$}"))
}

/// "90.12 %" from a fraction.
pub(super) fn percent(fraction: f64, decimals: usize) -> String {
    format!("{} %", fixed(fraction * 100.0, decimals))
}

/// "90.12 % ± 0.28 %", or without the second part where the uncertainty is unknown.
pub(super) fn percent_with_u(fraction: f64, expanded: Option<f64>) -> String {
    match expanded {
        Some(u) => format!("{} ± {}", percent(fraction, 2), percent(u, 2)),
        None => percent(fraction, 2),
    }
}

/// Three significant digits; milliwatts below one watt.
pub(super) fn watts(w: f64) -> String {
    if w != 0.0 && w.abs() < 0.9995 {
        format!("{} mW", significant(w * 1000.0, 3))
    } else {
        format!("{} W", significant(w, 3))
    }
}

/// Three significant digits; milliamperes below one ampere.
pub(super) fn amperes(a: f64) -> String {
    if a != 0.0 && a.abs() < 0.9995 {
        // Below a microampere there is nothing that a meter could tell.
        let ma = a * 1000.0;
        if ma.abs() < 0.0005 {
            "0 mA".to_owned()
        } else if ma.abs() < 0.995 {
            format!("{} mA", fixed(ma, 3))
        } else {
            format!("{} mA", significant(ma, 3))
        }
    } else {
        format!("{} A", significant(a, 3))
    }
}

/// "118 mW ± 2.1 mW": the uncertainty in the unit of the value, with two significant digits.
pub(super) fn watts_with_u(w: f64, expanded: Option<f64>) -> String {
    let value = watts(w);
    match expanded {
        Some(u) if value.ends_with("mW") => {
            format!("{value} ± {} mW", significant(u * 1000.0, 2))
        }
        Some(u) => format!("{value} ± {} W", significant(u, 2)),
        None => value,
    }
}

/// Text for SVG content and attribute values; characters that XML doesn't allow become spaces.
pub(super) fn escape(text: &str) -> String {
    let is_forbidden = |c: char| {
        c.is_control()
            || matches!(c, '\u{fffe}' | '\u{ffff}')
            // Directional overrides could make a name read as another one.
            || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
    };
    if text.contains(is_forbidden) {
        escaped(&text.replace(is_forbidden, " "))
    } else {
        escaped(text)
    }
}

/// At most `max` characters, the last of them an ellipsis if something was cut.
pub(super) fn shortened(text: &str, max: usize) -> String {
    if text.chars().count() <= max {
        return text.to_owned();
    }
    let mut cut: String = text.chars().take(max.saturating_sub(1)).collect();
    cut.truncate(cut.trim_end().len());
    cut.push('…');
    cut
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn watts_below_one_are_written_in_milliwatts() {
        assert_eq!(watts(0.118), "118 mW");
        assert_eq!(watts(0.0312), "31.2 mW");
        assert_eq!(watts(0.99996), "1.00 W");
        assert_eq!(watts(6.5), "6.50 W");
        assert_eq!(watts(65.04), "65.0 W");
        assert_eq!(watts(240.4), "240 W");
        assert_eq!(watts(0.0), "0 W");
    }

    #[test]
    fn amperes_below_one_are_written_in_milliamperes_and_noise_not_to_its_last_digit() {
        assert_eq!(amperes(0.4251), "425 mA");
        assert_eq!(amperes(1.3), "1.30 A");
        assert_eq!(amperes(0.00012345), "0.123 mA");
        assert_eq!(amperes(1e-12), "0 mA");
        assert_eq!(amperes(0.0), "0 A");
        assert_eq!(amperes(-0.02), "-20.0 mA");
    }

    #[test]
    fn uncertainty_is_written_in_the_unit_of_its_value() {
        assert_eq!(watts_with_u(0.118, Some(0.0021)), "118 mW ± 2.1 mW");
        assert_eq!(percent_with_u(0.90123, Some(0.0028)), "90.12 % ± 0.28 %");
        assert_eq!(percent_with_u(0.90123, None), "90.12 %");
    }

    #[test]
    fn a_carry_in_rounding_does_not_add_a_digit() {
        assert_eq!(significant(9.996, 3), "10.0");
        assert_eq!(significant(99.96, 3), "100");
    }

    #[test]
    fn text_is_cut_by_characters_with_an_ellipsis() {
        assert_eq!(shortened("Ångström", 4), "Ång…");
        assert_eq!(shortened("short", 5), "short");
    }

    #[test]
    fn characters_that_xml_forbids_never_reach_the_drawing() {
        assert_eq!(
            escape("a\u{0}<b>&\"'\u{202e}"),
            "a &lt;b&gt;&amp;&quot;&#39; "
        );
    }
}
