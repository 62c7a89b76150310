//! Any bytes under any layout: no panic, and the same answer however the bytes arrive.

#![no_main]

use brickbook_fuzz::bench::record::{
    DateOrder, DecimalMark, Delimiter, Encoding, Layout, LogColumn, LogQuantity, TimeColumn,
    TimeForm,
};
use brickbook_fuzz::log::{Section, look, read};
use libfuzzer_sys::fuzz_target;
use std::io::Read;

fuzz_target!(|bytes: &[u8]| {
    let Some((choices, log)) = bytes.split_first_chunk::<10>() else {
        return;
    };
    let layout = layout(choices);
    let _ = look(log, &layout);
    let section = Section {
        from_s: (choices[8] & 1 > 0).then_some(f64::from(choices[8])),
        to_s: (choices[8] & 2 > 0).then_some(f64::from(choices[8]) + 10.0),
    };
    let at_once = read(log, &layout, section, &mut |_| {});
    let pieces = InPieces {
        rest: log,
        size: usize::from(choices[9] % 16) + 1,
    };
    let in_pieces = read(pieces, &layout, section, &mut |_| {});
    match (at_once, in_pieces) {
        (Ok(a), Ok(b)) => assert_eq!(a, b),
        (Err(a), Err(b)) => assert_eq!(a.to_string(), b.to_string()),
        (a, b) => panic!("{a:?} at once, {b:?} in pieces"),
    }
});

fn layout(choices: &[u8; 10]) -> Layout {
    fn pick<T: Copy>(from: &[T], by: u8) -> T {
        from[usize::from(by) % from.len()]
    }
    let [
        encoding,
        delimiter,
        decimal,
        first_line,
        form,
        time,
        date,
        column,
        ..,
    ] = *choices;
    let quantities = [
        LogQuantity::InputPowerW,
        LogQuantity::InputVoltageV,
        LogQuantity::PowerFactor,
    ];
    Layout {
        encoding: pick(
            &[
                Encoding::Utf8,
                Encoding::Latin1,
                Encoding::Utf16Le,
                Encoding::Utf16Be,
            ],
            encoding,
        ),
        delimiter: pick(
            &[
                Delimiter::Comma,
                Delimiter::Semicolon,
                Delimiter::Tab,
                Delimiter::Pipe,
                Delimiter::Spaces,
            ],
            delimiter,
        ),
        decimal: pick(&[DecimalMark::Point, DecimalMark::Comma], decimal),
        first_line: u32::from(first_line % 4) + 1,
        time: TimeColumn {
            form: pick(
                &[
                    TimeForm::Seconds,
                    TimeForm::Milliseconds,
                    TimeForm::Microseconds,
                    TimeForm::Minutes,
                    TimeForm::Hours,
                    TimeForm::Clock,
                    TimeForm::DateTime,
                    TimeForm::Index,
                ],
                form,
            ),
            column: (time > 0).then_some(u32::from(time % 4)),
            date_column: (date & 1 > 0).then_some(u32::from(date % 4)),
            date_order: pick(
                &[
                    None,
                    Some(DateOrder::YearFirst),
                    Some(DateOrder::DayFirst),
                    Some(DateOrder::MonthFirst),
                ],
                date >> 4,
            ),
            interval_s: Some(0.5),
        },
        columns: quantities
            .into_iter()
            .zip(0..)
            .take(usize::from(column % 3) + 1)
            .map(|(quantity, i)| LogColumn {
                column: u32::from((column >> 2).wrapping_add(i) % 5),
                quantity,
                port: None,
                factor: (column & 128 > 0).then_some(0.001),
            })
            .collect(),
    }
}

struct InPieces<'a> {
    rest: &'a [u8],
    size: usize,
}

impl Read for InPieces<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let size = self.size.min(buffer.len()).min(self.rest.len());
        buffer[..size].copy_from_slice(&self.rest[..size]);
        self.rest = &self.rest[size..];
        Ok(size)
    }
}
