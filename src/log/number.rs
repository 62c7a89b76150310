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
    let mut at = 0;
    let negative = match text.first() {
        Some(b'-') => {
            at = 1;
            true
        }
        Some(b'+') => {
            at = 1;
            false
        }
        _ => false,
    };
    let begin = at;
    let mut digits: u64 = 0;
    while let Some(digit) = text
        .get(at)
        .map(|b| b.wrapping_sub(b'0'))
        .filter(|d| *d < 10)
    {
        digits = digits.wrapping_mul(10).wrapping_add(u64::from(digit));
        at += 1;
    }
    let mut count = at - begin;
    let mut exponent: i32 = 0;
    if text.get(at) == Some(&mark) {
        let whole_end = at;
        at += 1;
        while let Some(digit) = text
            .get(at)
            .map(|b| b.wrapping_sub(b'0'))
            .filter(|d| *d < 10)
        {
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
        while let Some(digit) = text
            .get(end)
            .map(|b| b.wrapping_sub(b'0'))
            .filter(|d| *d < 10)
        {
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
        let value = if exponent < 0 {
            digits as f64 / TENS[exponent.unsigned_abs() as usize]
        } else {
            digits as f64 * TENS[exponent as usize]
        };
        return Some((if negative { -value } else { value }, at));
    }
    slowly(&text[..at], mark).map(|value| (value, at))
}

/// A number that is long or far from one.
#[cold]
fn slowly(number: &[u8], mark: u8) -> Option<f64> {
    let number = number.strip_prefix(b"+").unwrap_or(number);
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
