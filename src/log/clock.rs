//! Clock times and dates as instruments write them, as nanoseconds and days.

use crate::bench::record::DateOrder;
use time::{Date, Month};

pub const SECOND: i64 = 1_000_000_000;
pub const DAY: i64 = 86_400 * SECOND;

/// Julian day of 1970-01-01.
const EPOCH: i32 = 2_440_588;

/// A time of day, or of the recording, in nanoseconds: `9:05`, `09:05:07`, `105:00:07.25`,
/// `09:05:07,250`, `09:05:07:250`, `9:05:07 PM`; with a fraction and two parts, minutes and
/// seconds: `05:07.2`.
pub fn clock(cell: &[u8]) -> Option<i64> {
    let (cell, half_day) = without_half_day(cell);
    let (hours, rest) = digits(cell, 5)?;
    let (minutes, rest) = digits(rest.strip_prefix(b":")?, 2)?;
    let (seconds, rest) = match rest.strip_prefix(b":") {
        Some(rest) => {
            let (seconds, rest) = digits(rest, 2)?;
            (Some(seconds), rest)
        }
        None => (None, rest),
    };
    let fraction = match rest {
        [] => None,
        [b'.' | b',', rest @ ..] => Some(fraction(rest)?),
        [b':', rest @ ..] if seconds.is_some() && rest.len() == 3 => Some(fraction(rest)?),
        _ => return None,
    };
    let (mut hours, minutes, seconds) = match (seconds, fraction) {
        // A leap second is written 60.
        (Some(seconds), _) if minutes < 60 && seconds <= 60 => (hours, minutes, seconds),
        (None, None) if minutes < 60 => (hours, minutes, 0),
        (None, Some(_)) if minutes < 60 => (0, hours, minutes),
        _ => return None,
    };
    if let Some(afternoon) = half_day {
        if !(1..=12).contains(&hours) {
            return None;
        }
        hours = hours % 12 + if afternoon { 12 } else { 0 };
    }
    Some((hours * 3600 + minutes * 60 + seconds) * SECOND + fraction.unwrap_or(0))
}

/// `AM` or `PM` at the end, taken off.
fn without_half_day(cell: &[u8]) -> (&[u8], Option<bool>) {
    if let [rest @ .., a, b'm' | b'M'] = cell
        && let Some(afternoon) = match a {
            b'a' | b'A' => Some(false),
            b'p' | b'P' => Some(true),
            _ => None,
        }
    {
        return (rest.trim_ascii_end(), Some(afternoon));
    }
    (cell, None)
}

/// Days since 1970-01-01 of a date in figures, or with the month's name: `2026-09-01`,
/// `2026/9/1`, `01.09.2026`, `9/1/26`, `20260901`, `01-Sep-2026`.
pub fn date(cell: &[u8], order: Option<DateOrder>) -> Option<i64> {
    let (year, month, day) = parts(cell, order)?;
    // No log is older than such loggers; nanoseconds since 1970 end in 2262.
    if !(1970..2200).contains(&year) {
        return None;
    }
    let month = Month::try_from(u8::try_from(month).ok()?).ok()?;
    let date =
        Date::from_calendar_date(i32::try_from(year).ok()?, month, day.try_into().ok()?).ok()?;
    Some(i64::from(date.to_julian_day() - EPOCH))
}

fn parts(cell: &[u8], order: Option<DateOrder>) -> Option<(i64, i64, i64)> {
    if cell.len() == 8 && cell.iter().all(u8::is_ascii_digit) {
        let number = |range: std::ops::Range<usize>| digits(&cell[range], 4).map(|(n, _)| n);
        return Some((number(0..4)?, number(4..6)?, number(6..8)?));
    }
    let [first, second, third] = three(cell)?;
    if let Some(month) = month_named(second) {
        // A day is never written with four figures.
        return if first.len() == 4 {
            Some((all_digits(first)?, month, all_digits(third)?))
        } else {
            Some((full_year(third)?, month, all_digits(first)?))
        };
    }
    if first.len() == 4 {
        return Some((all_digits(first)?, all_digits(second)?, all_digits(third)?));
    }
    if first.len() > 2 || second.len() > 2 {
        return None;
    }
    match order {
        Some(DateOrder::YearFirst) => {
            Some((full_year(first)?, all_digits(second)?, all_digits(third)?))
        }
        Some(DateOrder::DayFirst) => {
            Some((full_year(third)?, all_digits(second)?, all_digits(first)?))
        }
        Some(DateOrder::MonthFirst) => {
            Some((full_year(third)?, all_digits(first)?, all_digits(second)?))
        }
        None => None,
    }
}

/// Three parts between two separators of the same kind.
pub fn three(cell: &[u8]) -> Option<[&[u8]; 3]> {
    let separator = *cell.iter().find(|b| matches!(b, b'-' | b'.' | b'/'))?;
    let mut parts = cell.split(|b| *b == separator);
    let three = [parts.next()?, parts.next()?, parts.next()?];
    (parts.next().is_none() && three.iter().all(|p| (1..=4).contains(&p.len()))).then_some(three)
}

fn month_named(word: &[u8]) -> Option<i64> {
    const NAMES: [&[&[u8]]; 12] = [
        &[b"jan"],
        &[b"feb"],
        &[b"mar", b"m\xc3\xa4r", b"m\xe4r"],
        &[b"apr"],
        &[b"may", b"mai"],
        &[b"jun"],
        &[b"jul"],
        &[b"aug"],
        &[b"sep"],
        &[b"oct", b"okt"],
        &[b"nov"],
        &[b"dec", b"dez"],
    ];
    let word = word.to_ascii_lowercase();
    let place = NAMES
        .iter()
        .position(|names| names.iter().any(|n| *n == word))?;
    Some(place as i64 + 1)
}

fn full_year(text: &[u8]) -> Option<i64> {
    let year = all_digits(text)?;
    match text.len() {
        4 => Some(year),
        2 if year < 70 => Some(2000 + year),
        2 => Some(1900 + year),
        _ => None,
    }
}

/// Date and time in one cell, in nanoseconds since 1970-01-01, and whether a zone was told, which
/// is then taken off.
pub fn date_time(cell: &[u8], order: Option<DateOrder>) -> Option<(i64, bool)> {
    let split = cell
        .iter()
        .position(|b| matches!(b, b'T' | b't' | b' ' | b'_' | b','))?;
    // A month's name may hold a t: "01-Oct-2026 12:00".
    let split = if matches!(cell[split], b'T' | b't') && !cell[..split].last()?.is_ascii_digit() {
        cell.iter().position(|b| *b == b' ')?
    } else {
        split
    };
    let (first, rest) = (&cell[..split], cell[split + 1..].trim_ascii_start());
    if let Some(days) = date(first, order) {
        let (time, offset) = zone(rest);
        let nanoseconds = days * DAY + clock(time)?;
        return Some((nanoseconds - offset.unwrap_or(0), offset.is_some()));
    }
    Some((date(rest, order)? * DAY + clock(first)?, false))
}

/// A zone at the end, taken off, as nanoseconds east of UTC: `Z`, `UTC`, `+02:00`, `-0530`, `+02`.
fn zone(time: &[u8]) -> (&[u8], Option<i64>) {
    if let [rest @ .., b'Z' | b'z'] = time {
        return (rest, Some(0));
    }
    if let Some(rest) = time.strip_suffix(b"UTC") {
        return (rest.trim_ascii_end(), Some(0));
    }
    let Some(at) = time.iter().rposition(|b| matches!(b, b'+' | b'-')) else {
        return (time, None);
    };
    let figures: Vec<u8> = time[at + 1..]
        .iter()
        .copied()
        .filter(|b| *b != b':')
        .collect();
    let (hours, minutes) = match (figures.len(), all_digits(&figures)) {
        (2, Some(hours)) => (hours, 0),
        (4, Some(both)) => (both / 100, both % 100),
        _ => return (time, None),
    };
    let east = (hours * 3600 + minutes * 60) * SECOND;
    let east = if time[at] == b'-' { -east } else { east };
    (time[..at].trim_ascii_end(), Some(east))
}

/// Nanoseconds since 1970-01-01 as ISO 8601 to the millisecond; `Z` where it is UTC.
pub fn iso(nanoseconds: i64, utc: bool) -> Option<String> {
    let days = nanoseconds.div_euclid(DAY);
    let date = Date::from_julian_day(i32::try_from(days).ok()?.checked_add(EPOCH)?).ok()?;
    let within = nanoseconds.rem_euclid(DAY);
    let (seconds, milliseconds) = (within / SECOND, within % SECOND / 1_000_000);
    let mut text = format!(
        "{date}T{:02}:{:02}:{:02}",
        seconds / 3600,
        seconds / 60 % 60,
        seconds % 60
    );
    if milliseconds > 0 {
        text += &format!(".{milliseconds:03}");
    }
    if utc {
        text.push('Z');
    }
    Some(text)
}

/// Digits of a second's fraction as nanoseconds; more than nine are cut.
fn fraction(text: &[u8]) -> Option<i64> {
    if text.is_empty() || !text.iter().all(u8::is_ascii_digit) {
        return None;
    }
    let mut value = 0;
    for place in 0..9 {
        value = value * 10 + text.get(place).map_or(0, |b| i64::from(b - b'0'));
    }
    Some(value)
}

fn all_digits(text: &[u8]) -> Option<i64> {
    match digits(text, 4)? {
        (value, []) => Some(value),
        _ => None,
    }
}

/// One to `most` digits at the beginning, and what follows.
fn digits(text: &[u8], most: usize) -> Option<(i64, &[u8])> {
    let count = text.iter().take_while(|b| b.is_ascii_digit()).count();
    if count == 0 || count > most {
        return None;
    }
    let value = text[..count]
        .iter()
        .fold(0, |sum, b| sum * 10 + i64::from(b - b'0'));
    Some((value, &text[count..]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clock_times_are_read_to_the_nanosecond() {
        for (text, seconds) in [
            ("9:05", 32_700.0),
            ("09:05:07", 32_707.0),
            ("105:00:07.25", 378_007.25),
            ("09:05:07,250", 32_707.25),
            ("09:05:07:250", 32_707.25),
            ("9:05:07 PM", 75_907.0),
            ("12:00:00 AM", 0.0),
            ("05:07.2", 307.2),
        ] {
            let read = clock(text.as_bytes()).map(|ns| ns as f64 / 1e9);
            assert_eq!(read, Some(seconds), "{text}");
        }
        for text in [
            "",
            "12",
            "12:",
            "1:2:3:4:5",
            "12:00:61",
            "25:61:00",
            "13:00 PM",
            "a:b",
            "12:00:0x",
        ] {
            assert_eq!(clock(text.as_bytes()), None, "{text}");
        }
    }

    #[test]
    fn dates_are_read_in_the_order_that_is_told() {
        use DateOrder::{DayFirst, MonthFirst, YearFirst};
        let day = date(b"2026-09-01", None).unwrap();
        assert_eq!(day, 20_697);
        for (text, order) in [
            ("2026/9/1", None),
            ("20260901", None),
            ("01.09.2026", Some(DayFirst)),
            ("9/1/26", Some(MonthFirst)),
            ("26-09-01", Some(YearFirst)),
            ("01-Sep-2026", None),
        ] {
            assert_eq!(date(text.as_bytes(), order), Some(day), "{text}");
        }
        for text in [
            "2026-02-30",
            "2026-13-01",
            "1.5",
            "01.09.2026",
            "1/2/3/4",
            "10000101",
        ] {
            assert_eq!(date(text.as_bytes(), None), None, "{text}");
        }
    }

    #[test]
    fn a_told_zone_is_taken_off() {
        let noon = 20_697 * DAY + DAY / 2;
        for (text, zone) in [
            ("2026-09-01T12:00:00", false),
            ("2026-09-01 12:00", false),
            ("2026-09-01T12:00:00Z", true),
            ("2026-09-01T14:00:00.000+02:00", true),
            ("2026-09-01 06:30:00 -0530", true),
            ("12:00:00 2026-09-01", false),
            ("01-Sep-2026 12:00:00", false),
        ] {
            assert_eq!(
                date_time(text.as_bytes(), None),
                Some((noon, zone)),
                "{text}"
            );
        }
        assert_eq!(iso(noon, true).unwrap(), "2026-09-01T12:00:00Z");
        assert_eq!(
            iso(noon + 250_000_000, false).unwrap(),
            "2026-09-01T12:00:00.250"
        );
    }
}
