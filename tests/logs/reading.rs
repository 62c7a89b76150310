//! What becomes of rows that are not as they should be, of odd times, and of sections.

use brickbook::bench::record::{
    DecimalMark, Delimiter, Encoding, Layout, LogColumn, LogQuantity, TimeColumn, TimeForm,
};
use brickbook::log::{ReadError, Reading, Section, Trace, read, samples};
use proptest::prelude::*;
use std::io::Read;

/// Seconds and input power, comma and point, rows from line 2 on.
fn plain_layout() -> Layout {
    Layout {
        encoding: Encoding::Utf8,
        delimiter: Delimiter::Comma,
        decimal: DecimalMark::Point,
        first_line: 2,
        time: TimeColumn {
            form: TimeForm::Seconds,
            column: Some(1),
            date_column: None,
            date_order: None,
            interval_s: None,
        },
        columns: vec![column(2, LogQuantity::InputPowerW)],
    }
}

fn column(column: u32, quantity: LogQuantity) -> LogColumn {
    LogColumn {
        column,
        quantity,
        port: None,
        factor: None,
    }
}

fn clock_layout() -> Layout {
    let mut layout = plain_layout();
    layout.time.form = TimeForm::Clock;
    layout
}

fn whole(text: &str, layout: &Layout) -> Result<Reading, ReadError> {
    read(text.as_bytes(), layout, Section::default(), &mut |_| {})
}

/// Rows of one a second; those of `odd` are replaced.
fn log(count: usize, odd: &[(usize, &str)]) -> String {
    let mut text = String::from("t,p\n");
    for i in 0..count {
        match odd.iter().find(|(at, _)| *at == i) {
            Some((_, row)) => text += row,
            None => text += &format!("{i},{}.5", i % 7),
        }
        text.push('\n');
    }
    text
}

fn times(reading: &Reading) -> &[f64] {
    &reading.columns[0].2.t_s
}

#[test]
fn bad_rows_are_counted_and_shown_with_line_reason_and_text() {
    let text = log(
        1000,
        &[
            (10, "10,OVERLOAD"),
            (20, "20"),
            (30, "30,1.5,7"),
            (40, "12,1.5"),
            (50, "50,inf"),
            (60, "60,1e999"),
            (65, "65,9.9E+37"),
            (70, "7x,1.5"),
        ],
    );
    let reading = whole(&text, &plain_layout()).unwrap();
    assert_eq!(
        (reading.rows, reading.bad.count, reading.bad.trailer),
        (992, 8, 0)
    );
    let shown: Vec<String> = reading.bad.first.iter().map(ToString::to_string).collect();
    assert_eq!(
        shown,
        [
            r#"line 12: column 2: "OVERLOAD", expected input power in W as a decimal number: "10,OVERLOAD""#,
            r#"line 22: 1 cell, expected input power in W as a decimal number in column 2: "20""#,
            r#"line 32: 3 cells, expected 2 as in the first row: "30,1.5,7""#,
            r#"line 42: time goes back to 12.000 s after 39.000 s: "12,1.5""#,
            r#"line 52: column 2: "inf", expected input power in W as a decimal number: "50,inf""#,
            r#"line 62: column 2: "1e999", expected input power in W as a decimal number: "60,1e999""#,
            r#"line 67: column 2: "9.9E+37", expected input power in W as a decimal number: "65,9.9E+37""#,
            r#"line 72: column 1: "7x", expected a time as a decimal number: "7x,1.5""#,
        ]
    );
}

#[test]
fn more_than_one_percent_of_bad_rows_refuses_the_log() {
    let odd: Vec<(usize, &str)> = (0..30).map(|i| (i * 30 + 5, "x,y")).collect();
    match whole(&log(1000, &odd), &plain_layout()) {
        Err(ReadError::TooManyBad { rows, bad }) => {
            assert_eq!((rows, bad.count, bad.first.len()), (970, 30, 20));
            assert_eq!(bad.first[0].line, 7);
            let words = ReadError::TooManyBad { rows, bad }.to_string();
            assert!(
                words.starts_with("30 of 1000 rows cannot be read (3.0 %"),
                "{words}"
            );
            assert!(words.contains("line 7: column 1: \"x\""), "{words}");
        }
        other => panic!("{other:?}"),
    }
    // One in a hundred is the most.
    assert_eq!(
        whole(&log(1000, &odd[..10]), &plain_layout())
            .unwrap()
            .bad
            .count,
        10
    );
    assert!(whole(&log(1000, &odd[..11]), &plain_layout()).is_err());
}

#[test]
fn a_trailer_is_shown_and_not_held_against_a_small_log() {
    let mut text = log(100, &[]);
    text += "\nRecording ended,by key\nMean,3.5\nMax,6.5\n";
    let reading = whole(&text, &plain_layout()).unwrap();
    assert_eq!(
        (reading.rows, reading.bad.count, reading.bad.trailer),
        (100, 3, 3)
    );
    assert_eq!(reading.bad.first[0].line, 103);
    // The same lines amid the rows are no trailer.
    text += "100,1.5\n";
    assert!(matches!(
        whole(&text, &plain_layout()),
        Err(ReadError::TooManyBad { .. })
    ));
}

#[test]
fn a_last_row_that_was_cut_short_is_shown_and_not_held_against_the_log() {
    let text = log(50, &[]) + "50";
    let reading = whole(&text, &plain_layout()).unwrap();
    assert_eq!(
        (reading.rows, reading.bad.count, reading.bad.trailer),
        (50, 1, 1)
    );
}

#[test]
fn a_column_that_does_not_exist_is_named_with_its_line() {
    let mut layout = plain_layout();
    layout.columns.push(column(5, LogQuantity::PowerFactor));
    let error = whole(&log(5000, &[]), &layout).unwrap_err();
    assert_eq!(
        error.to_string(),
        r#"line 2 has 2 cells, expected power factor as a decimal number in column 5: "0,0.5""#
    );
}

#[test]
fn a_log_without_rows_is_said_to_end() {
    let error = whole("t,p\n", &plain_layout()).unwrap_err();
    assert_eq!(
        error.to_string(),
        "the log has no rows from line 2 on; it ends after line 1"
    );
    assert!(matches!(
        whole("", &plain_layout()),
        Err(ReadError::Empty { lines: 0, .. })
    ));
}

#[test]
fn text_where_numbers_should_be_is_refused_with_the_first_lines() {
    let error = whole(&"lorem,ipsum\n".repeat(100_000), &plain_layout())
        .unwrap_err()
        .to_string();
    assert!(
        error.contains(r#"line 2: column 1: "lorem", expected a time as a decimal number"#),
        "{error}"
    );
}

#[test]
fn a_layout_that_cannot_be_followed_is_refused_at_its_path() {
    let refused = |change: fn(&mut Layout)| {
        let mut layout = plain_layout();
        change(&mut layout);
        whole(&log(5, &[]), &layout).unwrap_err().to_string()
    };
    assert_eq!(
        refused(|l| l.time.column = None),
        "layout.time.column: missing, expected the column of the time"
    );
    assert_eq!(
        refused(|l| l.columns[0].column = 0),
        "layout.columns[0].column: 0, expected a column counted from 1"
    );
    assert_eq!(
        refused(|l| l.time.form = TimeForm::Index),
        "layout.time.interval_s: missing, expected the seconds between rows, above 0"
    );
}

#[test]
fn a_section_holds_its_ends_and_nothing_outside() {
    let section = Section {
        from_s: Some(10.0),
        to_s: Some(19.0),
    };
    let text = log(1000, &[(3, "x,y"), (15, "x,y"), (500, "x,y")]);
    let read_section = |section| read(text.as_bytes(), &plain_layout(), section, &mut |_| {});
    // One bad row in ten is too many; the section decides, not the log.
    assert!(matches!(
        read_section(section),
        Err(ReadError::TooManyBad { rows: 9, .. })
    ));
    let section = Section {
        from_s: Some(20.0),
        to_s: Some(29.0),
    };
    let reading = read_section(section).unwrap();
    assert_eq!(
        (reading.rows, reading.bad.count, reading.duration_s),
        (10, 0, 9.0)
    );
    assert_eq!((times(&reading)[0], times(&reading)[9]), (20.0, 29.0));
    let outside = Section {
        from_s: Some(2000.0),
        to_s: None,
    };
    let error = read_section(outside).unwrap_err().to_string();
    assert_eq!(
        error,
        "no row lies from 2000 s on; the log's rows end at 999 s"
    );
}

#[test]
fn reading_stops_where_the_section_ends() {
    let text = log(200_000, &[]);
    let section = Section {
        from_s: None,
        to_s: Some(5.0),
    };
    let mut taken = 0;
    read(text.as_bytes(), &plain_layout(), section, &mut |bytes| {
        taken = bytes
    })
    .unwrap();
    assert!(taken < 300_000, "{taken}");
    read(
        text.as_bytes(),
        &plain_layout(),
        Section::default(),
        &mut |bytes| taken = bytes,
    )
    .unwrap();
    assert_eq!(taken, text.len() as u64);
}

#[test]
fn several_rows_with_one_coarse_time_are_spread_over_it() {
    let mut text = String::from("t,p\n");
    for i in 0..40 {
        text += &format!("12:00:{:02},{i}\n", i / 4);
    }
    let reading = whole(&text, &clock_layout()).unwrap();
    assert_eq!(reading.rows, 40);
    assert_eq!(times(&reading)[..6], [0.0, 0.25, 0.5, 0.75, 1.0, 1.25]);
    assert_eq!(times(&reading)[39], 9.75);
}

#[test]
fn a_small_step_back_is_jitter_and_loses_no_row() {
    let text = log(300, &[(100, "98.6,1.5")]);
    let reading = whole(&text, &plain_layout()).unwrap();
    assert_eq!((reading.rows, reading.bad.count), (300, 0));
    assert!(times(&reading).is_sorted_by(|a, b| a < b));
}

#[test]
fn a_time_that_leaps_ahead_and_back_is_the_bad_one() {
    let text = log(300, &[(100, "90100,1.5")]);
    let reading = whole(&text, &plain_layout()).unwrap();
    assert_eq!(
        (reading.rows, reading.bad.count, reading.duration_s),
        (299, 1, 299.0)
    );
    assert_eq!(reading.bad.first[0].line, 102);
    assert!(
        reading.bad.first[0]
            .why
            .starts_with("time leaps to 90100.000 s")
    );
}

#[test]
fn a_time_that_stands_still_is_not_taken_for_a_recording() {
    let text = String::from("t,p\n") + &"5,1.5\n".repeat(300);
    match whole(&text, &plain_layout()) {
        Err(ReadError::TooManyBad { rows: 1, bad }) => assert_eq!(bad.count, 299),
        other => panic!("{other:?}"),
    }
}

#[test]
fn rows_without_a_time_column_keep_their_place_when_one_is_bad() {
    let mut layout = plain_layout();
    layout.time = TimeColumn {
        form: TimeForm::Index,
        column: None,
        date_column: None,
        date_order: None,
        interval_s: Some(0.5),
    };
    let reading = whole(&log(200, &[(3, "3,x")]), &layout).unwrap();
    assert_eq!(times(&reading)[..5], [0.0, 0.5, 1.0, 2.0, 2.5]);
}

#[test]
fn midnight_is_passed_and_jitter_at_midnight_passes_no_second_one() {
    let mut text = String::from("t,p\n");
    for second in [57.0, 58.0, 59.0] {
        text += &format!("23:59:{second:04.1},1\n");
    }
    text += "00:00:00.0,1\n23:59:59.9,1\n00:00:01.0,1\n00:00:02.0,1\n";
    let reading = whole(&text, &clock_layout()).unwrap();
    assert_eq!((reading.rows, reading.duration_s), (7, 5.0));
}

#[test]
fn an_epoch_tells_the_date() {
    let mut text = String::from("t,p\n");
    for i in 0..10 {
        text += &format!("{},1.5\n", 1_788_264_000.0 + f64::from(i) * 0.5);
    }
    let reading = whole(&text, &plain_layout()).unwrap();
    assert_eq!(reading.starts_at.as_deref(), Some("2026-09-01T12:00:00Z"));
    assert_eq!(reading.duration_s, 4.5);
}

#[test]
fn quoted_cells_and_cells_with_their_unit_are_read() {
    let text = "t,note,p\n0,\"a, \"\"b\"\"\",\"143 mW\"\n1,plain, 1.2 W\n2,\"\",0.5\n";
    let mut layout = plain_layout();
    layout.columns = vec![LogColumn {
        factor: Some(2.0),
        ..column(3, LogQuantity::InputPowerW)
    }];
    let reading = whole(text, &layout).unwrap();
    // A factor is for bare numbers; a cell with its unit is taken at its word.
    assert_eq!(reading.columns[0].2.mean, [0.143, 1.2, 1.0]);
}

#[test]
fn one_column_may_be_used_twice_and_columns_in_any_order() {
    let mut layout = plain_layout();
    layout.columns = vec![
        column(3, LogQuantity::InputCurrentA),
        column(1, LogQuantity::InputVoltageV),
        LogColumn {
            factor: Some(0.001),
            ..column(3, LogQuantity::InputPowerW)
        },
    ];
    let reading = whole("t,x,y\n1,?,30\n2,?,40\n", &layout).unwrap();
    let means: Vec<&[f64]> = reading
        .columns
        .iter()
        .map(|(_, _, t)| t.mean.as_slice())
        .collect();
    assert_eq!(means, [[30.0, 40.0], [1.0, 2.0], [0.03, 0.04]]);
}

#[test]
fn samples_stop_at_what_was_asked_for_and_say_so() {
    let text = log(100, &[]);
    let all = samples(text.as_bytes(), &plain_layout(), Section::default(), 100).unwrap();
    assert_eq!((all.t_s.len(), all.more), (100, false));
    let some = samples(text.as_bytes(), &plain_layout(), Section::default(), 99).unwrap();
    assert_eq!((some.t_s.len(), some.more), (99, true));
    assert_eq!(
        some.values(LogQuantity::InputPowerW).unwrap()[..3],
        [0.5, 1.5, 2.5]
    );
}

#[test]
fn a_line_without_end_is_a_bad_row_and_not_held_in_memory() {
    let mut text = log(1000, &[]).into_bytes();
    text.extend(b"1000,".iter().chain([b'1'; 3_000_000].iter()));
    text.extend(b"\n1001,2.5\n");
    let reading = read(
        text.as_slice(),
        &plain_layout(),
        Section::default(),
        &mut |_| {},
    )
    .unwrap();
    assert_eq!((reading.rows, reading.bad.count), (1001, 1));
    assert_eq!(reading.bad.first[0].line, 1002);
    assert_eq!(reading.bad.first[0].why, "longer than 65536 bytes");
}

#[test]
fn a_gzip_file_that_breaks_off_is_an_error_not_a_shorter_log() {
    use std::io::Write;
    let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    packer.write_all(log(5000, &[]).as_bytes()).unwrap();
    let mut packed = packer.finish().unwrap();
    // A second member goes on where the first ends.
    let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    packer.write_all(b"5000,1.5\n5001,1.5\n").unwrap();
    packed.extend(packer.finish().unwrap());
    let of = |bytes: &[u8]| read(bytes, &plain_layout(), Section::default(), &mut |_| {});
    assert_eq!(of(&packed).unwrap().rows, 5002);
    assert!(matches!(
        of(&packed[..packed.len() / 2]),
        Err(ReadError::Io(_))
    ));
}

#[test]
fn a_log_longer_than_its_cells_keeps_its_mean_its_extremes_and_its_gap() {
    use std::fmt::Write;
    let count = 3 * Trace::MOST_CELLS / 2;
    let mut text = String::from("t,p\n");
    let mut sum = 0.0;
    for i in 0..count {
        let pause = if i < count / 2 { 0 } else { 900 };
        let value = match i {
            100_000 => 7.25,
            150_000 => -3.5,
            i => (i % 1000) as f64 / 8.0 / 125.0,
        };
        sum += value;
        writeln!(text, "{},{value}", i as f64 * 0.125 + f64::from(pause)).unwrap();
    }
    let reading = whole(&text, &plain_layout()).unwrap();
    let trace = reading.trace(LogQuantity::InputPowerW, None).unwrap();
    assert_eq!((reading.rows, trace.samples), (count as u64, count as u64));
    assert!(trace.len() <= Trace::MOST_CELLS);
    let mean = sum / count as f64;
    assert!(
        (trace.mean().unwrap() - mean).abs() < 1e-12,
        "{:?} {mean}",
        trace.mean()
    );
    assert_eq!(trace.max.iter().copied().fold(f64::MIN, f64::max), 7.25);
    assert_eq!(trace.min.iter().copied().fold(f64::MAX, f64::min), -3.5);
    assert_eq!(trace.interval_s, 0.125);
    let before = (count / 2 - 1) as f64 * 0.125;
    assert_eq!(trace.gaps_s, [(before, before + 900.125)]);
}

/// Gives its bytes in pieces of given sizes, over and over.
struct InPieces<'a> {
    rest: &'a [u8],
    sizes: std::iter::Cycle<std::slice::Iter<'a, usize>>,
}

impl Read for InPieces<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let size = self
            .sizes
            .next()
            .copied()
            .unwrap_or(1)
            .min(buffer.len())
            .min(self.rest.len());
        buffer[..size].copy_from_slice(&self.rest[..size]);
        self.rest = &self.rest[size..];
        Ok(size)
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn how_the_bytes_arrive_changes_nothing(
        sizes in prop::collection::vec(1usize..50, 1..20),
        ends in prop::collection::vec(0usize..4, 1..50),
        encoding in 0usize..4,
        packed: bool,
    ) {
        let mut text = String::from("t,pµ\r\n");
        for i in 0..300 {
            // A mixture of line ends; the third has a blank line in it.
            let end = ["\n", "\r\n", "\r", "\n\r"][ends[i % ends.len()]];
            text += &format!("{i},{}.25{end}", i % 13);
            if i == 150 {
                text += "junk µ\r";
            }
        }
        let units = || text.encode_utf16();
        let (encoding, mut bytes) = match encoding {
            0 => (Encoding::Utf8, text.clone().into_bytes()),
            1 => (Encoding::Latin1, text.chars().map(|c| c as u8).collect()),
            2 => (Encoding::Utf16Le, units().flat_map(u16::to_le_bytes).collect()),
            _ => (Encoding::Utf16Be, units().flat_map(u16::to_be_bytes).collect()),
        };
        if packed {
            use std::io::Write;
            let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
            packer.write_all(&bytes).unwrap();
            bytes = packer.finish().unwrap();
        }
        let layout = Layout { encoding, ..plain_layout() };
        let at_once = read(bytes.as_slice(), &layout, Section::default(), &mut |_| {}).unwrap();
        prop_assert_eq!((at_once.rows, at_once.bad.count), (300, 1));
        prop_assert_eq!(at_once.bad.first[0].text.as_str(), "junk µ");
        let pieces = InPieces { rest: &bytes, sizes: sizes.iter().cycle() };
        let in_pieces = read(pieces, &layout, Section::default(), &mut |_| {}).unwrap();
        prop_assert_eq!(at_once, in_pieces);
    }
}
