//! `cases/usb_pd_objects.csv`: power data objects, most of them published or captured; and
//! `cases/usb_pd_rules.csv`: least currents of sources by rating. Each row with its source.

use brickbook::bench::decode::decode;
use brickbook::bench::usb_pd::{PowerDataObject, read, written};
use brickbook::evaluate::ports::PortOutcome;
use brickbook::evaluate::{Method, evaluate};
use serde::Deserialize;
use serde_json::json;

#[derive(Deserialize)]
struct ObjectCase {
    pdo_hex: String,
    kind: String,
    decoded: String,
    source: String,
}

#[test]
fn every_published_object_decodes_to_what_is_published_and_encodes_to_itself() {
    let cases: Vec<ObjectCase> =
        csv::Reader::from_reader(include_str!("cases/usb_pd_objects.csv").as_bytes())
            .deserialize()
            .collect::<Result<_, _>>()
            .expect("the case file is well-formed");
    assert_eq!(cases.len(), 40, "the whole file is read");
    for case in cases {
        assert!(!case.source.is_empty(), "{}", case.pdo_hex);
        let word = u32::from_str_radix(&case.pdo_hex[2..], 16).unwrap();
        assert_eq!(written(word), case.pdo_hex);
        let decoded = PowerDataObject::decode(word);
        match case.kind.as_str() {
            "reserved" => {
                let wrong = decoded.unwrap_err();
                assert_eq!((wrong.high, wrong.low), (29, 28), "{}", case.pdo_hex);
            }
            "empty (separator / padding)" => assert_eq!(decoded, Ok(None)),
            kind => {
                let object = decoded.unwrap().unwrap();
                assert_eq!(object.to_string(), case.decoded, "{}", case.pdo_hex);
                let expected = if kind == "spr_pps" {
                    "pps".to_owned()
                } else {
                    kind.replace('_', "-")
                };
                assert_eq!(object.kind(), expected, "{}", case.pdo_hex);
                assert_eq!(object.encode(), Ok(word));
                let pasted = read(&case.pdo_hex).unwrap();
                assert_eq!(pasted.words, [word]);
            }
        }
    }
}

#[derive(Deserialize)]
struct RuleCase {
    pdp_w: f64,
    min_a_5v: Option<f64>,
    min_a_9v: Option<f64>,
    min_a_15v: Option<f64>,
    min_a_20v: Option<f64>,
    min_a_28v: Option<f64>,
    min_a_36v: Option<f64>,
    min_a_48v: Option<f64>,
}

/// A unit with one port of this power that advertises these fixed (volts, amperes), the extended
/// ones from position 8, and the adjustable supply that its power asks for.
fn unit(watts: f64, fixed: &[(f64, f64)]) -> serde_json::Value {
    let word = |volts: f64, amperes: f64| {
        // 10 mA steps, rounded up as the text is remembered to ask.
        let current_ma = ((amperes * 100.0 - 1e-6).ceil() * 10.0) as u32;
        PowerDataObject::Fixed {
            flags: Default::default(),
            peak_current: 0,
            voltage_mv: (volts * 1e3) as u32,
            current_ma,
        }
        .encode()
        .unwrap()
    };
    let (standard, extended): (Vec<_>, Vec<_>) = fixed.iter().partition(|(v, _)| *v <= 20.0);
    let mut words: Vec<u32> = standard.iter().map(|&(v, a)| word(v, a)).collect();
    if watts > 100.0 {
        words.resize(7, 0);
        words.extend(extended.iter().map(|&(v, a)| word(v, a)));
        let highest = fixed.iter().map(|f| f.0).fold(0.0, f64::max);
        words.push(
            PowerDataObject::EprAvs {
                peak_current: 0,
                voltage_min_mv: 15_000,
                voltage_max_mv: (highest * 1e3) as u32,
                power_w: watts as u32,
            }
            .encode()
            .unwrap(),
        );
    }
    json!({
        "format": "brickbook-record/1",
        "unit": {"maker": "Larkfield", "model": "LF", "nameplate": {"output_power_w": watts},
            "ports": [{"label": "C1", "connector": "usb-c", "power_w": watts,
                "source_capabilities": words.into_iter().map(written).collect::<Vec<_>>()}]},
    })
}

#[test]
fn every_rating_of_the_case_file_asks_for_its_least_currents() {
    let cases: Vec<RuleCase> =
        csv::Reader::from_reader(include_str!("cases/usb_pd_rules.csv").as_bytes())
            .deserialize()
            .collect::<Result<_, _>>()
            .expect("the case file is well-formed");
    assert_eq!(cases.len(), 20, "the whole file is read");
    let method = Method::standard();
    for case in cases {
        let expected: Vec<(f64, f64)> = [
            (5.0, case.min_a_5v),
            (9.0, case.min_a_9v),
            (15.0, case.min_a_15v),
            (20.0, case.min_a_20v),
            (28.0, case.min_a_28v),
            (36.0, case.min_a_36v),
            (48.0, case.min_a_48v),
        ]
        .into_iter()
        .filter_map(|(v, a)| Some((v, a?)))
        .collect();
        let port = |fixed: &[(f64, f64)]| {
            let record = decode(&unit(case.pdp_w, fixed).to_string()).unwrap();
            evaluate(&record, &method).ports.remove(0)
        };
        let rows = |port: &brickbook::evaluate::ports::PortResult| {
            port.voltages
                .iter()
                .filter(|r| r.kind == "fixed")
                .map(|r| (r.voltage_max_v, r.required_a, r.result))
                .collect::<Vec<_>>()
        };
        let full = port(&expected);
        let found = rows(&full);
        assert_eq!(found.len(), expected.len(), "{} W", case.pdp_w);
        for (&(v, required, result), &(volts, amperes)) in found.iter().zip(&expected) {
            assert_eq!(v, volts);
            // The cases print four decimals.
            assert!(
                (required.unwrap() - amperes).abs() < 0.6e-4,
                "{} W at {v} V: {required:?}, expected {amperes}",
                case.pdp_w
            );
            assert_eq!(result, Some(PortOutcome::Met), "{} W at {v} V", case.pdp_w);
        }
        // Each one taken away is missing; each with 20 mA less is too little.
        for i in 1..expected.len() {
            let mut less = expected.clone();
            less.remove(i);
            let missing = rows(&port(&less));
            assert_eq!(missing[i].2, Some(PortOutcome::Missing), "{} W", case.pdp_w);
            let mut less = expected.clone();
            less[i].1 -= 0.025;
            let weak = rows(&port(&less));
            assert_eq!(weak[i].2, Some(PortOutcome::TooLittle), "{} W", case.pdp_w);
        }
    }
}

#[test]
fn a_malformed_object_of_a_record_is_refused_at_its_place_with_its_bit() {
    let mut document = unit(20.0, &[(5.0, 3.0), (9.0, 2.22)]);
    document["unit"]["ports"][0]["source_capabilities"][1] = json!("0x0042D0DE");
    let faults = decode(&document.to_string()).unwrap_err();
    assert_eq!(faults.len(), 1);
    assert_eq!(faults[0].path, "unit.ports[0].source_capabilities[1]");
    assert_eq!(faults[0].expected, "bit 22 (reserved) to be 0; it is 1");
}
