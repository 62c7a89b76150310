//! Every log here is made in the test, by an invented maker's habits: delimiters, decimal marks,
//! encodings, line ends, preambles and forms of time are mixed so that each occurs.

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

#[test]
fn bars_without_a_time_column_take_the_interval_from_the_preamble() {
    for (preamble, interval_s) in [
        ("Interval: 500 ms", 0.5),
        ("Sampling rate,20 Hz", 0.05),
        ("Abtastintervall = 0,25 s", 0.25),
        ("Log interval (s): 2", 2.0),
        ("Sample rate: 1.25 kS/s", 0.0008),
    ] {
        let mut text =
            format!("Eichtal meter\n{preamble}\n\nNo | P/W | U/V | Energy/Wh\n---|---|---|---\n");
        for i in 0..50 {
            text += &format!("{} | 1.2{}E-01 | 230 | 0.001\n", i + 1, i % 10);
        }
        let (seen, reading) = imported(text.as_bytes());
        let layout = &seen.layout;
        assert_eq!(
            (layout.delimiter, layout.first_line),
            (Delimiter::Pipe, 6),
            "{preamble}"
        );
        assert_eq!(
            (layout.time.form, layout.time.interval_s),
            (TimeForm::Index, Some(interval_s))
        );
        assert_eq!(
            held(&reading),
            [
                (LogQuantity::InputPowerW, None, 0.12, 0.129),
                (LogQuantity::InputVoltageV, None, 230.0, 230.0),
            ]
        );
        assert_eq!(reading.duration_s, 49.0 * interval_s);
    }
}

#[test]
fn without_any_hint_of_time_one_second_is_assumed_and_said() {
    let mut text = String::from("P [W];U [V]\r\n");
    for i in 0..30 {
        text += &format!("{}.5;230.{}\r\n", i % 3, i % 7);
    }
    let (seen, _) = imported(text.as_bytes());
    assert_eq!(seen.layout.time.interval_s, Some(1.0));
    assert!(
        seen.notes.iter().any(|note| note.contains("only assumed")),
        "{:?}",
        seen.notes
    );
}

#[test]
fn quoted_cells_a_byte_order_mark_and_milliseconds() {
    let mut text = String::from(
        "\u{feff}\"Device\",\"Auwerk 5, bench \"\"B\"\"\"\r\n\"Time [ms]\",\"Note\",\"Active power [mW]\",\"Ipk [mA]\"\r\n",
    );
    for i in 0..40 {
        text += &format!("\"{}\",\"a, b\",\"143.{}\",\"110\"\r\n", i * 250, i % 10);
    }
    let (seen, reading) = imported(text.as_bytes());
    assert_eq!(
        (seen.layout.encoding, seen.layout.first_line),
        (Encoding::Utf8, 3)
    );
    assert_eq!(
        (seen.layout.time.form, seen.layout.time.column),
        (TimeForm::Milliseconds, Some(1))
    );
    assert_eq!(seen.sample_rows[0], ["0", "a, b", "143.0", "110"]);
    assert_eq!(
        held(&reading),
        [
            (LogQuantity::InputPowerW, None, 0.143, 0.1439),
            (LogQuantity::InputCurrentPeakA, None, 0.11, 0.11),
        ]
    );
    assert_eq!(reading.duration_s, 9.75);
}

#[test]
fn an_epoch_in_milliseconds_between_semicolons_with_one_more_at_the_end() {
    let mut text = String::from("timestamp;vin;iin;pin;freq;\n");
    for i in 0..40u64 {
        text += &format!(
            "{};229.9;0.25;31.{};50.01;\n",
            1_788_264_000_000 + i * 100,
            i % 10
        );
    }
    let (seen, reading) = imported(text.as_bytes());
    assert_eq!(seen.layout.time.form, TimeForm::Milliseconds);
    assert_eq!(
        held(&reading),
        [
            (LogQuantity::InputVoltageV, None, 229.9, 229.9),
            (LogQuantity::InputCurrentA, None, 0.25, 0.25),
            (LogQuantity::InputPowerW, None, 31.0, 31.9),
        ]
    );
    assert_eq!(reading.starts_at.as_deref(), Some("2026-09-01T12:00:00Z"));
    assert!((reading.duration_s - 3.9).abs() < 1e-9);
}

#[test]
fn month_first_dates_and_half_days() {
    let mut text = String::from("Date,Time,Watts,Volts,Amps,Power Factor\n");
    for i in 0..60 {
        let minute = 30 + i;
        text += &format!(
            "9/13/2026,{}:{:02}:00 {},0.11{},115.2,0.03,0.4\n",
            if minute < 60 { 11 } else { 12 },
            minute % 60,
            if minute < 60 { "AM" } else { "PM" },
            i % 10
        );
    }
    let (seen, reading) = imported(text.as_bytes());
    let time = &seen.layout.time;
    assert_eq!(
        (time.column, time.date_column, time.date_order),
        (Some(2), Some(1), Some(DateOrder::MonthFirst))
    );
    let quantities: Vec<_> = held(&reading).iter().map(|c| c.0).collect();
    assert_eq!(
        quantities,
        [
            LogQuantity::InputPowerW,
            LogQuantity::InputVoltageV,
            LogQuantity::InputCurrentA,
            LogQuantity::PowerFactor
        ]
    );
    assert_eq!(reading.starts_at.as_deref(), Some("2026-09-13T11:30:00"));
    assert_eq!(reading.duration_s, 59.0 * 60.0);
}

#[test]
fn a_date_that_could_be_either_is_said() {
    let mut text = String::from("Date,Time,Watts\n");
    for i in 0..20 {
        text += &format!("09/01/2026,12:00:{i:02},0.1\n");
    }
    let (seen, _) = imported(text.as_bytes());
    assert!(
        seen.notes.iter().any(|note| note.contains("Check it")),
        "{:?}",
        seen.notes
    );
}

#[test]
fn outputs_belong_to_the_port_that_their_heading_names() {
    let mut text = String::from(
        "t (s)\tP in (W)\tC1 voltage (V)\tC1 current (A)\tUSB-A U (V)\tPort B I (mA)\tVout (V)\n",
    );
    for i in 0..30 {
        text += &format!("{i}\t70.{}\t20.05\t3.25\t5.01\t900\t12.1\n", i % 10);
    }
    let (_, reading) = imported(text.as_bytes());
    assert_eq!(
        held(&reading),
        [
            (LogQuantity::InputPowerW, None, 70.0, 70.9),
            (LogQuantity::OutputVoltageV, Some("C1"), 20.05, 20.05),
            (LogQuantity::OutputCurrentA, Some("C1"), 3.25, 3.25),
            (LogQuantity::OutputVoltageV, Some("USB-A"), 5.01, 5.01),
            (LogQuantity::OutputCurrentA, Some("B"), 0.9, 0.9),
            (LogQuantity::OutputVoltageV, None, 12.1, 12.1),
        ]
    );
}

#[test]
fn minutes_tabs_and_decimal_commas_with_a_trailer() {
    let mut text = String::from(
        "Messprotokoll\tMoorhof\r\nZeit/min\tWirkleistung/W\tNetzspannung/V\tNetzstrom/mA\tLeistungsfaktor\tUmgebungstemperatur/\u{b0}C\r\n",
    );
    for i in 0..200 {
        text += &format!(
            "{:.3}\t0,1{:02}\t229,8\t12,5\t0,041\t23,1\r\n",
            f64::from(i) * 0.025,
            i % 100
        )
        .replacen('.', ",", 1);
    }
    text += "\r\nEnde der Messung\r\n";
    let (seen, reading) = imported(&latin_1(&text));
    let layout = &seen.layout;
    assert_eq!(
        (
            layout.encoding,
            layout.delimiter,
            layout.decimal,
            layout.time.form
        ),
        (
            Encoding::Latin1,
            Delimiter::Tab,
            DecimalMark::Comma,
            TimeForm::Minutes
        )
    );
    assert_eq!(
        held(&reading),
        [
            (LogQuantity::InputPowerW, None, 0.1, 0.199),
            (LogQuantity::InputVoltageV, None, 229.8, 229.8),
            (LogQuantity::InputCurrentA, None, 0.0125, 0.0125),
            (LogQuantity::PowerFactor, None, 0.041, 0.041),
            (LogQuantity::AmbientC, None, 23.1, 23.1),
        ]
    );
    assert!((reading.duration_s - 298.5).abs() < 1e-9);
    assert_eq!((reading.bad.count, reading.bad.trailer), (1, 1));
}

#[test]
fn channels_of_a_scope_are_told_by_unit_or_by_swing() {
    let phase = |t_us: u32| f64::from(t_us) * 1e-6 * 60.0 * std::f64::consts::TAU;
    let mut told =
        String::from("Model,Kiesgrund S4\nSample Interval,1e-05,s\n\nTIME,CH1,CH2\nus,Volt,A\n");
    let mut bare = String::from("TIME;CH1;CH2\r\n");
    for i in 0..4000u32 {
        let (v, a) = (
            170.0 * phase(i * 10).sin(),
            0.7 * phase(i * 10).sin().powi(3),
        );
        told += &format!("{},{v:.3},{a:.5}\n", i * 10);
        bare += &format!("{:.5};{a:.5};{v:.3}\r\n", f64::from(i) * 1e-5).replace('.', ",");
    }
    let (seen, reading) = imported(told.as_bytes());
    assert_eq!(seen.layout.time.form, TimeForm::Microseconds);
    let quantities: Vec<_> = held(&reading).iter().map(|c| c.0).collect();
    assert_eq!(
        quantities,
        [
            LogQuantity::LineVoltageSampleV,
            LogQuantity::LineCurrentSampleA
        ]
    );
    assert!((reading.duration_s - 0.03999).abs() < 1e-12);

    let (seen, reading) = imported(bare.as_bytes());
    let quantities: Vec<_> = held(&reading).iter().map(|c| c.0).collect();
    assert_eq!(
        quantities,
        [
            LogQuantity::LineCurrentSampleA,
            LogQuantity::LineVoltageSampleV
        ]
    );
    assert!(
        seen.notes
            .iter()
            .any(|note| note.contains("size of its swing")),
        "{:?}",
        seen.notes
    );
}

#[test]
fn rows_without_headings_are_found_and_left_to_a_person() {
    let mut text = String::new();
    for i in 0..50 {
        text += &format!("{i},0.1{},230\n", i % 10);
    }
    let seen = detect(text.as_bytes()).unwrap();
    assert_eq!(
        (seen.layout.first_line, seen.layout.time.column),
        (1, Some(1))
    );
    assert!(seen.layout.columns.is_empty());
    assert_eq!(seen.columns.len(), 3);
    assert!(
        seen.notes.iter().any(|note| note.contains("by hand")),
        "{:?}",
        seen.notes
    );
}

#[test]
fn cells_that_carry_their_units_change_ranges_unharmed() {
    let mut text = String::from("Elapsed,Power,Current\n");
    for i in 0..40 {
        let power = if i % 2 == 0 { "998.5 mW" } else { "1.002 W" };
        text += &format!("00:{:02}:{:02},{power},31.5mA\n", i / 60, i % 60);
    }
    let (_, reading) = imported(text.as_bytes());
    assert_eq!(
        held(&reading),
        [
            (LogQuantity::InputPowerW, None, 0.9985, 1.002),
            (LogQuantity::InputCurrentA, None, 0.0315, 0.0315),
        ]
    );
}

#[test]
fn times_in_utc_with_thd_and_hot_surface() {
    let mut text = String::from("# Talgrund logger 9\n# time,THD I (%),case temp (\u{b0}C),PF\n");
    for i in 0..30 {
        text += &format!("2026-09-01T23:59:{:02}Z,9.{},47.5,0.975\n", 30 + i, i % 10);
    }
    let (_, reading) = imported(text.as_bytes());
    assert_eq!(
        held(&reading),
        [
            (LogQuantity::CurrentThdPercent, None, 9.0, 9.9),
            (LogQuantity::SurfaceC, None, 47.5, 47.5),
            (LogQuantity::PowerFactor, None, 0.975, 0.975),
        ]
    );
    assert_eq!(reading.starts_at.as_deref(), Some("2026-09-01T23:59:30Z"));
}

#[test]
fn one_column_of_decimal_commas_is_not_two_of_whole_numbers() {
    let mut text = String::from("Leistung in W\n");
    for i in 0..30 {
        text += &format!("0,1{}\n", i % 10);
    }
    let (seen, reading) = imported(text.as_bytes());
    assert_eq!(seen.layout.decimal, DecimalMark::Comma);
    assert_eq!(
        held(&reading),
        [(LogQuantity::InputPowerW, None, 0.1, 0.19)]
    );
}

#[test]
fn what_is_no_log_is_refused_in_words() {
    let refused = |bytes: &[u8]| detect(bytes).unwrap_err().to_string();
    assert_eq!(refused(b""), "the log is empty, expected lines of text");
    assert_eq!(
        refused(b"\n \n\r\n"),
        "the log is empty, expected lines of text"
    );
    assert_eq!(
        refused(b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\x10"),
        "byte 8 is 0x00, expected text (a table of numbers, as CSV or TSV)"
    );
    assert!(
        refused(b"Dear all,\nthe logger\nhas failed.\n")
            .starts_with("no rows of numbers in the first 3 lines")
    );
    assert!(
        refused(b"\x1f\x8b\x08garbage")
            .starts_with("the log begins like a gzip file, and cannot be unpacked")
    );
}

#[test]
fn quoted_decimal_commas_between_commas() {
    let mut text = String::from("\"Zeit (s)\",\"Leistung (W)\",\"Strom (mA)\"\r\n");
    for i in 0..30 {
        text += &format!("\"{},5\",\"0,14{}\",31\r\n", i, i % 10);
    }
    let (seen, reading) = imported(text.as_bytes());
    let layout = &seen.layout;
    assert_eq!(
        (layout.delimiter, layout.decimal),
        (Delimiter::Comma, DecimalMark::Comma)
    );
    assert_eq!(
        held(&reading),
        [
            (LogQuantity::InputPowerW, None, 0.14, 0.149),
            (LogQuantity::InputCurrentA, None, 0.031, 0.031),
        ]
    );
    assert_eq!(reading.duration_s, 29.0);
}
