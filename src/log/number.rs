//! Decimal numbers as instruments write them.

use crate::bench::record::DecimalMark;

pub fn mark(decimal: DecimalMark) -> u8 {
    match decimal {
        DecimalMark::Point => b'.',
        DecimalMark::Comma => b',',
    }
}

/// Powers of ten that a double holds exactly.
const TENS: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16,
    1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
];

/// The finite number that `text` begins with, correctly rounded, and how many bytes it takes.
///
/// Sign, digits with at most one decimal mark, exponent: `-12`, `+0.5`, `.5`, `5.`, `1.2E-03`. No
/// group separators, no `inf`, no `nan`.
#[inline]
pub fn leading(text: &[u8], mark: u8) -> Option<(f64, usize)> {
    leading_at(text, 0, mark)
}

/// The finite number that stands at `begin` of a line, and how many bytes it takes.
#[inline]
pub fn leading_at(line: &[u8], begin: usize, mark: u8) -> Option<(f64, usize)> {
    let (negative, sign) = match line.get(begin) {
        Some(b'-') => (true, 1),
        Some(b'+') => (false, 1),
        _ => (false, 0),
    };
    let (value, length) = match short(line, begin + sign, mark) {
        Some(found) => found,
        None => any_length(&line[begin + sign..], mark)?,
    };
    Some((if negative { -value } else { value }, sign + length))
}

const LOW: u64 = 0x0101_0101_0101_0101;

/// A number of at most seven digits without exponent, eight bytes at once; `None` if it may be
/// another. Most numbers in a log are such.
#[inline]
fn short(line: &[u8], begin: usize, mark: u8) -> Option<(f64, usize)> {
    let eight = match line.get(begin..).and_then(|rest| rest.first_chunk()) {
        Some(chunk) => u64::from_le_bytes(*chunk),
        None => {
            // Near the line's end: its last eight bytes, those before `begin` pushed out, zeros
            // behind, which are no digits.
            let last = u64::from_le_bytes(*line.last_chunk()?);
            let missing = begin + 8 - line.len();
            if missing >= 8 {
                return None;
            }
            last >> (8 * missing)
        }
    };
    // Per byte: the digit's value, and high bits where there is none. A carry can only come from a
    // byte that is no digit, and then only spoils what follows it.
    let values = eight ^ (LOW * 0x30);
    let others = (values.wrapping_add(LOW * 0x06) | values) & (LOW * 0xf0);
    if others == 0 {
        return None;
    }
    let whole = others.trailing_zeros() / 8;
    let stop = (eight >> (8 * whole)) as u8;
    let (digits, count, length) = if stop == mark {
        let before = (1u64 << (8 * whole)) - 1;
        let joined = values & before | values >> 8 & !before;
        // No digit ends the number: at latest the byte after these eight.
        let others = others >> 8 & !before;
        let count = if others == 0 {
            7
        } else {
            others.trailing_zeros() / 8
        };
        (joined, count, count + 1)
    } else {
        (values, whole, whole)
    };
    if count == 0
        || line
            .get(begin + length as usize)
            .is_some_and(|b| matches!(b, b'e' | b'E' | b'0'..=b'9'))
    {
        return None;
    }
    let number = value_of(digits << (64 - 8 * count));
    // Both are exact, so one division rounds once (Clinger 1990).
    let value = number as f64 / TENS[(count - whole) as usize];
    Some((value, length as usize))
}

/// Eight digits, the first in the lowest byte: neighbours are joined to pairs, pairs to fours, and
/// fours to eight.
#[inline]
fn value_of(digits: u64) -> u32 {
    const EVERY_FOURTH: u64 = 0x0000_00ff_0000_00ff;
    let pairs = digits.wrapping_mul(10).wrapping_add(digits >> 8);
    let upper = (pairs & EVERY_FOURTH).wrapping_mul(100 + (1_000_000 << 32));
    let lower = (pairs >> 16 & EVERY_FOURTH).wrapping_mul(1 + (10_000 << 32));
    (upper.wrapping_add(lower) >> 32) as u32
}

/// A number without sign, of any length.
fn any_length(text: &[u8], mark: u8) -> Option<(f64, usize)> {
    let digit_at = |at: usize| {
        text.get(at)
            .map(|b| b.wrapping_sub(b'0'))
            .filter(|d| *d < 10)
    };
    let mut at = 0;
    let mut digits: u64 = 0;
    while let Some(digit) = digit_at(at) {
        digits = digits.wrapping_mul(10).wrapping_add(u64::from(digit));
        at += 1;
    }
    let mut count = at;
    let mut exponent: i32 = 0;
    if text.get(at) == Some(&mark) {
        let whole_end = at;
        at += 1;
        while let Some(digit) = digit_at(at) {
            digits = digits.wrapping_mul(10).wrapping_add(u64::from(digit));
            at += 1;
        }
        let places = at - whole_end - 1;
        count += places;
        exponent = -(places as i32);
    }
    if count == 0 {
        return None;
    }
    if let Some(b'e' | b'E') = text.get(at) {
        let mut end = at + 1;
        let below = text.get(end) == Some(&b'-');
        if below || text.get(end) == Some(&b'+') {
            end += 1;
        }
        let first = end;
        let mut written: i32 = 0;
        while let Some(digit) = digit_at(end) {
            written = written.saturating_mul(10).saturating_add(i32::from(digit));
            end += 1;
        }
        // "5 e" without digits is a number and then something else.
        if end > first {
            exponent = exponent.saturating_add(if below { -written } else { written });
            at = end;
        }
    }
    // Both factors are exact, so one division or multiplication rounds once (Clinger 1990).
    if count <= 18 && digits <= 1 << 53 && (-22..=22).contains(&exponent) {
        let digits = digits as i64 as f64;
        let value = if exponent < 0 {
            digits / TENS[exponent.unsigned_abs() as usize]
        } else {
            digits * TENS[exponent as usize]
        };
        return Some((value, at));
    }
    slowly(&text[..at], mark).map(|value| (value, at))
}

/// A number that is long or far from one.
#[cold]
fn slowly(number: &[u8], mark: u8) -> Option<f64> {
    let value: f64 = if mark == b'.' {
        fast_float2::parse(number).ok()?
    } else {
        let pointed: Vec<u8> = number
            .iter()
            .map(|b| if *b == mark { b'.' } else { *b })
            .collect();
        fast_float2::parse(pointed).ok()?
    };
    value.is_finite().then_some(value)
}

/// A cell that is a number and nothing else.
pub fn whole(cell: &[u8], mark: u8) -> Option<f64> {
    let (value, length) = leading(cell, mark)?;
    (length == cell.len()).then_some(value)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn numbers_are_read_as_instruments_write_them() {
        for (text, value) in [
            ("-12", -12.0),
            ("+0.5", 0.5),
            (".5", 0.5),
            ("5.", 5.0),
            ("1.2E-03", 0.0012),
            ("+1.15023E+02", 115.023),
            ("0.1000000000000000055511151231257827", 0.1),
            ("123456789012345678901234567890", 1.2345678901234568e29),
            ("4.9e-324", 5e-324),
        ] {
            assert_eq!(whole(text.as_bytes(), b'.'), Some(value), "{text}");
            let comma = text.replace('.', ",");
            assert_eq!(whole(comma.as_bytes(), b','), Some(value), "{comma}");
        }
    }

    #[test]
    fn what_is_no_finite_number_is_none() {
        for text in [
            "", "-", ".", "e5", "nan", "inf", "1e400", "1.2.3", "1,2", "12 ", "0x1A",
        ] {
            assert_eq!(whole(text.as_bytes(), b'.'), None, "{text}");
        }
    }

    /// What a line holds around a number changes nothing.
    #[test]
    fn a_number_ends_where_something_else_begins() {
        for number in [
            "1",
            "12.5",
            "-0.008112",
            "1234567",
            "12345678",
            "123456.7",
            "1234567.",
            ".1234567",
            "12e3",
            "1234.5E-3",
            "0.123456789",
        ] {
            for (before, after) in [
                ("", ""),
                ("7,", ""),
                ("", ","),
                ("1.5;", ";2"),
                ("a\u{e9},", "\u{e9}"),
                ("", "x12345678"),
                ("", ".5"),
                ("", "\t"),
                ("", ",1234567"),
            ] {
                let line = format!("{before}{number}{after}");
                let expected = match after {
                    // A second mark is not the number's.
                    ".5" if !number.contains(['.', 'e']) => continue,
                    _ => number.parse::<f64>().unwrap(),
                };
                let found = leading_at(line.as_bytes(), before.len(), b'.');
                assert_eq!(found, Some((expected, number.len())), "{line}");
            }
        }
    }

    proptest! {
        #[test]
        fn every_decimal_is_rounded_as_the_standard_library_does(
            digits in "[0-9]{1,25}",
            places in 0usize..25,
            exponent in proptest::option::of(-330i32..320),
            negative: bool,
        ) {
            let mut text = digits;
            if places < text.len() {
                text.insert(text.len() - places, '.');
            }
            if negative {
                text.insert(0, '-');
            }
            if let Some(exponent) = exponent {
                text += &format!("e{exponent}");
            }
            let expected: f64 = text.parse().unwrap();
            let found = whole(text.as_bytes(), b'.');
            if expected.is_finite() {
                prop_assert_eq!(found.map(f64::to_bits), Some(expected.to_bits()));
            } else {
                prop_assert_eq!(found, None);
            }
        }
    }
}
