//! Numbers and dates as the language spoken now writes them. Digits come from whoever rounded
//! them: only marks and names change here.
//!
//! The thousands are set apart by a thin space in every language (ISO 80000-1, 7.3.1), and
//! uncertainties decide the digits, so that of a locale's data only the decimal mark, the months
//! and the order of a date are left; for these a library with all of CLDR would be large.

use super::{Language, word};

/// Sets thousands apart, and keeps a number and its unit on one line.
const THIN: char = '\u{202f}';

/// A number that was written with a point, with the mark of the language spoken now.
pub fn localised(mut text: String) -> String {
    let mark = Language::current().decimal_mark();
    if mark != '.'
        && let Some(at) = text.find('.')
    {
        text.replace_range(at..=at, mark.encode_utf8(&mut [0; 4]));
    }
    text
}

/// A count with its thousands set apart: `12 345`.
pub fn grouped(count: u64) -> String {
    let digits = count.to_string();
    let mut text = String::with_capacity(digits.len() + digits.len() / 3);
    for (i, digit) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            text.push(THIN);
        }
        text.push(digit);
    }
    text
}

/// `1 Sep 2026` of an ISO 8601 date; other text as it stands.
pub fn date(iso: &str) -> String {
    let mut parts = iso.splitn(3, '-');
    let mut read = || -> Option<String> {
        let year = parts.next()?;
        let month = month(parts.next()?.parse().ok()?)?;
        let day: u8 = parts.next()?.parse().ok()?;
        let mark = Language::current().day_mark();
        Some(format!("{day}{mark}\u{a0}{month}\u{a0}{year}"))
    };
    read().unwrap_or_else(|| iso.to_owned())
}

/// `1 Sep 2026, 14:05 UTC`, of an ISO 8601 date with hours and minutes in UTC.
pub fn moment(date: &str, hour: u8, minute: u8) -> String {
    format!("{}, {hour:02}:{minute:02}\u{a0}UTC", self::date(date))
}

/// A month's short name, from 1.
fn month(number: u8) -> Option<&'static str> {
    let key = match number {
        1 => "month-01",
        2 => "month-02",
        3 => "month-03",
        4 => "month-04",
        5 => "month-05",
        6 => "month-06",
        7 => "month-07",
        8 => "month-08",
        9 => "month-09",
        10 => "month-10",
        11 => "month-11",
        12 => "month-12",
        _ => return None,
    };
    Some(word(key))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(text: String) -> String {
        text.replace(['\u{202f}', '\u{a0}'], " ")
    }

    #[test]
    fn a_decimal_mark_and_the_months_follow_the_language() {
        assert_eq!(localised("91.23".to_owned()), "91.23");
        Language::German.speak(|| {
            assert_eq!(localised("91.23".to_owned()), "91,23");
            assert_eq!(localised("9123".to_owned()), "9123");
            assert_eq!(shown(date("2026-09-01")), "1. Sept. 2026");
            assert_eq!(
                shown(moment("2026-03-30", 4, 5)),
                "30. März 2026, 04:05 UTC"
            );
            assert_eq!(shown(grouped(1_234_567)), "1 234 567");
        });
    }

    #[test]
    fn what_is_no_date_stays() {
        assert_eq!(date("soon"), "soon");
        assert_eq!(date("2026-13-01"), "2026-13-01");
    }
}
