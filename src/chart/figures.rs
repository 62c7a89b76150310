//! How charts write numbers, and how text becomes safe to stand in SVG.

/// "90.12 %" from a fraction.
pub(super) fn percent(fraction: f64, decimals: usize) -> String {
    format!("{:.decimals$} %", fraction * 100.0)
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
            format!("{ma:.3} mA")
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

/// A length of time as people say it: "45 s", "12.5 min", "1 h 30 min", "2 d 3 h".
pub(super) fn duration(seconds: f64) -> String {
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
pub(super) fn significant(value: f64, digits: i32) -> String {
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
pub(super) fn plain(value: f64) -> String {
    let text = significant(value, 3);
    match text.split_once('.') {
        Some(_) => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        None => text,
    }
}

/// Text for SVG content and attribute values; characters that XML doesn't allow become spaces.
pub(super) fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '&' => out.push_str("&amp;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') => out.push(' '),
            // Directional overrides could make a name read as another one.
            '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => out.push(' '),
            c => out.push(c),
        }
    }
    out
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

/// "1 unit", "7 units".
pub(super) fn counted(n: usize, one: &str, many: &str) -> String {
    if n == 1 {
        format!("1 {one}")
    } else {
        format!("{n} {many}")
    }
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
    fn a_time_is_written_in_the_unit_that_people_would_take() {
        assert_eq!(duration(0.0), "0 s");
        assert_eq!(duration(45.0), "45 s");
        assert_eq!(duration(300.0), "5 min");
        assert_eq!(duration(750.0), "12.5 min");
        assert_eq!(duration(5_400.0), "90 min");
        assert_eq!(duration(7_199.0), "2 h");
        assert_eq!(duration(9_000.0), "2 h 30 min");
        assert_eq!(duration(200_000.0), "2 d 8 h");
        assert_eq!(duration(f64::NAN), "unknown");
    }

    #[test]
    fn a_rating_is_written_without_idle_zeros() {
        assert_eq!(plain(65.0), "65");
        assert_eq!(plain(7.5), "7.5");
        assert_eq!(plain(100.0), "100");
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
