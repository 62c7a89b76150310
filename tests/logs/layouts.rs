//! Every log here is made in the test, by an invented maker's habits.

use brickbook::bench::record::{
    DateOrder, DecimalMark, Delimiter, Encoding, LogQuantity, TimeForm,
};
use brickbook::log::{Detected, Reading, Section, detect, read};
use std::io::Write;

/// Detects and reads a log as a tester would, without touching the layout.
fn imported(bytes: &[u8]) -> (Detected, Reading) {
    let head = &bytes[..bytes.len().min(brickbook::log::HEAD)];
    let seen = detect(head).unwrap_or_else(|e| panic!("not detected: {e}"));
    let reading = read(bytes, &seen.layout, Section::default(), &mut |_| {})
        .unwrap_or_else(|e| panic!("not read: {e}\n{seen:#?}"));
    (seen, reading)
}

/// The quantities of a reading with their first and last values.
fn held(reading: &Reading) -> Vec<(LogQuantity, Option<&str>, f64, f64)> {
    reading
        .columns
        .iter()
        .map(|(quantity, port, trace)| {
            let (first, last) = (trace.mean[0], trace.mean[trace.len() - 1]);
            (*quantity, port.as_deref(), first, last)
        })
        .collect()
}

fn gzip(bytes: &[u8]) -> Vec<u8> {
    let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    packer.write_all(bytes).unwrap();
    packer.finish().unwrap()
}

fn utf_16(text: &str, big_end_first: bool, with_mark: bool) -> Vec<u8> {
    let mark = with_mark.then_some(0xfeff);
    mark.into_iter()
        .chain(text.encode_utf16())
        .flat_map(|unit| {
            if big_end_first {
                unit.to_be_bytes()
            } else {
                unit.to_le_bytes()
            }
        })
        .collect()
}

fn latin_1(text: &str) -> Vec<u8> {
    text.chars()
        .map(|c| u8::try_from(u32::from(c)).expect("a character of Latin-1"))
        .collect()
}

#[test]
fn commas_points_and_seconds() {
    let mut text = String::from("time_s,power_w,voltage_v,current_a,pf\n");
    for i in 0..100 {
        text += &format!(
            "{:.1},{:.4},115.0{},0.03,0.41\n",
            f64::from(i) * 0.5,
            0.1 + f64::from(i) / 1e4,
            i % 10
        );
    }
    let (seen, reading) = imported(text.as_bytes());
    let layout = &seen.layout;
    assert_eq!(
        (
            layout.encoding,
            layout.delimiter,
            layout.decimal,
            layout.first_line
        ),
        (Encoding::Utf8, Delimiter::Comma, DecimalMark::Point, 2)
    );
    assert_eq!(
        (layout.time.form, layout.time.column),
        (TimeForm::Seconds, Some(1))
    );
    assert_eq!(
        held(&reading),
        [
            (LogQuantity::InputPowerW, None, 0.1, 0.1099),
            (LogQuantity::InputVoltageV, None, 115.0, 115.09),
            (LogQuantity::InputCurrentA, None, 0.03, 0.03),
            (LogQuantity::PowerFactor, None, 0.41, 0.41),
        ]
    );
    assert_eq!((reading.rows, reading.duration_s), (100, 49.5));
}

#[test]
fn semicolons_decimal_commas_clock_times_and_german_headings_in_latin_1() {
    let mut text = String::from(
        "Messger\u{e4}t;Quellwerk QW-3\r\nBediener;J\u{fc}rgen\r\n\r\nUhrzeit;Leistung [mW];Spannung [V];Strom [mA];Gehäusetemperatur [°C]\r\n",
    );
    for i in 0..90 {
        let second = 23 * 3600 + 59 * 60 + 30 + i;
        text += &format!(
            "{:02}:{:02}:{:02};{},5;230,1;12,25;31,0\r\n",
            second / 3600 % 24,
            second / 60 % 60,
            second % 60,
            140 + i % 3
        );
    }
    let (seen, reading) = imported(&latin_1(&text));
    let layout = &seen.layout;
    assert_eq!(
        (
            layout.encoding,
            layout.delimiter,
            layout.decimal,
            layout.first_line
        ),
        (
            Encoding::Latin1,
            Delimiter::Semicolon,
            DecimalMark::Comma,
            5
        )
    );
    assert_eq!(layout.time.form, TimeForm::Clock);
    assert_eq!(
        seen.preamble,
        ["Messgerät;Quellwerk QW-3", "Bediener;Jürgen"]
    );
    assert_eq!(
        held(&reading),
        [
            (LogQuantity::InputPowerW, None, 0.1405, 0.1425),
            (LogQuantity::InputVoltageV, None, 230.1, 230.1),
            (LogQuantity::InputCurrentA, None, 0.01225, 0.01225),
            (LogQuantity::SurfaceC, None, 31.0, 31.0),
        ]
    );
    // Midnight lies between the first row and the last.
    assert_eq!((reading.duration_s, reading.starts_at), (89.0, None));
}

#[test]
fn tabs_utf_16_iso_dates_and_a_row_of_units() {
    let mut text =
        String::from("Talgrund logger 7\r\nTimestamp\tU in\tI in\tP in\r\n\tV\tmA\tW\r\n");
    for i in 0..60 {
        text += &format!("2026-09-01 12:00:{i:02}.250\t115.{i:02}\t31.5\t0.1{i:02}\r\n");
    }
    for (big_end_first, with_mark) in [(false, true), (true, true), (false, false), (true, false)] {
        let (seen, reading) = imported(&utf_16(&text, big_end_first, with_mark));
        let expected = if big_end_first {
            Encoding::Utf16Be
        } else {
            Encoding::Utf16Le
        };
        assert_eq!(
            (
                seen.layout.encoding,
                seen.layout.delimiter,
                seen.layout.first_line
            ),
            (expected, Delimiter::Tab, 4)
        );
        assert_eq!(seen.layout.time.form, TimeForm::DateTime);
        assert_eq!(
            held(&reading),
            [
                (LogQuantity::InputVoltageV, None, 115.0, 115.59),
                (LogQuantity::InputCurrentA, None, 0.0315, 0.0315),
                (LogQuantity::InputPowerW, None, 0.1, 0.159),
            ]
        );
        assert_eq!(
            reading.starts_at.as_deref(),
            Some("2026-09-01T12:00:00.250")
        );
        assert_eq!(reading.duration_s, 59.0);
    }
}

#[test]
fn a_waveform_is_told_by_its_rate_and_its_swing() {
    let mut text = String::from("t_s,v_v,i_a\n");
    for i in 0..2000 {
        let t = f64::from(i) * 1e-4;
        let phase = t * 50.0 * std::f64::consts::TAU;
        text += &format!(
            "{t:.4},{:.6},{:.8}\n",
            325.0 * phase.sin(),
            0.4 * (phase + 0.3).sin()
        );
    }
    let (seen, reading) = imported(&gzip(text.as_bytes()));
    assert!(seen.gzip);
    let quantities: Vec<_> = held(&reading).iter().map(|c| c.0).collect();
    assert_eq!(
        quantities,
        [
            LogQuantity::LineVoltageSampleV,
            LogQuantity::LineCurrentSampleA
        ]
    );
    assert_eq!(reading.rows, 2000);
}

#[test]
fn separate_day_first_dates_in_spaces() {
    let mut text = String::from("# Nordhang bench meter\r# date time volt amp watt\r");
    for i in 0..40 {
        text += &format!(
            "13.09.2026   08:15:{i:02}  20.05   4.998  100.2{}\r",
            i % 10
        );
    }
    let (seen, reading) = imported(text.as_bytes());
    let time = &seen.layout.time;
    assert_eq!(seen.layout.delimiter, Delimiter::Spaces);
    assert_eq!(
        (time.form, time.column, time.date_column, time.date_order),
        (TimeForm::Clock, Some(2), Some(1), Some(DateOrder::DayFirst))
    );
    assert_eq!(reading.starts_at.as_deref(), Some("2026-09-13T08:15:00"));
    assert_eq!(
        reading.trace(LogQuantity::InputPowerW, None).unwrap().mean[0],
        100.2
    );
}
