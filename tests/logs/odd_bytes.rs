//! Whatever the bytes are, an answer comes: a layout and its rows, or an error in words.

use brickbook::log::{ReadError, Section, detect, look, read, samples};
use proptest::prelude::*;

/// Small logs of different habits, to be spoilt.
const LOGS: [&str; 6] = [
    "time_s,power_w,voltage_v\n0.0,0.143,115.0\n0.5,0.144,115.1\n1.0,0.142,115.0\n1.5,0.143,114.9\n",
    "Uhrzeit;Leistung [mW];Strom [mA]\r\n23:59:58;143,5;12,25\r\n23:59:59;143,7;12,26\r\n00:00:00;143,1;12,24\r\n",
    "# meter\r# t volt\r2026-09-01 12:00:00\t20.05\r2026-09-01 12:00:01\t20.06\r2026-09-01 12:00:02\t20.05\r",
    "Interval: 500 ms\n\nNo | P/W | U/V\n1 | 1.2E-01 | 230\n2 | 1.3E-01 | 230\n3 | 1.1E-01 | 231\n",
    "\"t\",\"note\",\"P\"\n\"1\",\"a, \"\"b\"\"\",\"143 mW\"\n\"2\",\"\",\"0.2 W\"\n\"3\",\"c\",\"1 W\"\n",
    "Datum Uhrzeit Spannung Strom\n13.09.2026   08:15:00  20.05   4.998\n13.09.2026   08:15:01  20.05   4.998\n14.09.2026   08:15:02  20.05   4.9\n",
];

#[derive(Debug, Clone)]
enum Spoiling {
    Replace(usize, u8),
    Insert(usize, u8),
    Remove(usize, usize),
    Repeat(usize, usize),
    CutOff(usize),
}

fn spoiling() -> impl Strategy<Value = Spoiling> {
    let odd = prop::sample::select(b"\0\r\n\t ,;|\"'.-+eE:/9\xff\xfe\x80\x1f\x8b".as_slice());
    let byte = prop_oneof![odd, any::<u8>()];
    prop_oneof![
        (0usize..400, byte.clone()).prop_map(|(at, b)| Spoiling::Replace(at, b)),
        (0usize..400, byte).prop_map(|(at, b)| Spoiling::Insert(at, b)),
        (0usize..400, 1usize..40).prop_map(|(at, n)| Spoiling::Remove(at, n)),
        (0usize..400, 1usize..60).prop_map(|(at, n)| Spoiling::Repeat(at, n)),
        (0usize..400).prop_map(Spoiling::CutOff),
    ]
}

fn spoilt(mut bytes: Vec<u8>, all: &[Spoiling]) -> Vec<u8> {
    for spoiling in all {
        let within = |at: usize| at % bytes.len().max(1);
        match *spoiling {
            _ if bytes.is_empty() => {}
            Spoiling::Replace(at, byte) => {
                let at = within(at);
                bytes[at] = byte;
            }
            Spoiling::Insert(at, byte) => bytes.insert(within(at), byte),
            Spoiling::Remove(at, count) => {
                let at = within(at);
                bytes.drain(at..bytes.len().min(at + count));
            }
            Spoiling::Repeat(at, count) => {
                let at = within(at);
                let piece = bytes[at..bytes.len().min(at + count)].to_vec();
                bytes.splice(at..at, piece);
            }
            Spoiling::CutOff(at) => bytes.truncate(within(at)),
        }
    }
    bytes
}

/// Everything that may be done with a stranger's file.
fn answered(bytes: &[u8]) {
    let Ok(seen) = detect(bytes) else { return };
    let again = look(bytes, &seen.layout).expect("a detected layout shows its rows");
    assert_eq!(again.layout, seen.layout);
    let section = Section {
        from_s: Some(0.5),
        to_s: Some(1.5),
    };
    match read(bytes, &seen.layout, Section::default(), &mut |_| {}) {
        Ok(reading) => {
            assert!(reading.bad.count >= reading.bad.first.len() as u64);
            for (_, _, trace) in &reading.columns {
                assert_eq!(trace.samples, reading.rows);
                assert!(trace.t_s.is_sorted());
                let figures = [
                    &trace.t_s,
                    &trace.weight_s,
                    &trace.mean,
                    &trace.min,
                    &trace.max,
                ];
                assert!(
                    figures
                        .iter()
                        .all(|list| list.iter().all(|x| x.is_finite()))
                );
            }
            let most = reading.rows as usize;
            let raw = samples(bytes, &seen.layout, Section::default(), most)
                .expect("what was read can be sampled");
            assert_eq!((raw.t_s.len(), raw.more), (most, false));
        }
        Err(ReadError::TooManyBad { rows, bad }) => assert!((bad.count - bad.trailer) * 100 > rows),
        Err(error) => assert!(!error.to_string().is_empty()),
    }
    let _ = read(bytes, &seen.layout, section, &mut |_| {});
}

#[test]
fn the_logs_that_are_spoilt_are_good_ones() {
    for log in LOGS {
        let seen = detect(log.as_bytes()).unwrap_or_else(|e| panic!("{e}\n{log}"));
        let reading = read(
            log.as_bytes(),
            &seen.layout,
            Section::default(),
            &mut |_| {},
        );
        let reading = reading.unwrap_or_else(|e| panic!("{e}\n{log}\n{seen:#?}"));
        assert_eq!(reading.bad.count, 0, "{log}");
        assert!(!reading.columns.is_empty(), "{log}\n{seen:#?}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn a_spoilt_log_is_answered(
        which in 0..LOGS.len(),
        all in prop::collection::vec(spoiling(), 1..12),
        copies in 1usize..8,
    ) {
        answered(&spoilt(LOGS[which].repeat(copies).into_bytes(), &all));
    }

    #[test]
    fn any_bytes_are_answered(bytes in prop::collection::vec(any::<u8>(), 0..600)) {
        answered(&bytes);
    }
}
