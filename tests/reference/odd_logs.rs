//! Whatever a log holds: findings are finite, the same each time, and lie inside the section.

use brickbook::bench::record::LogQuantity;
use brickbook::evaluate::no_load::{self, Beside, Findings};
use brickbook::evaluate::point_log::PointFindings;
use brickbook::evaluate::steps;
use brickbook::log::{BadRows, Reading, Trace};
use brickbook::standards::LowPower;
use proptest::prelude::*;

/// A log of any rate and size, with gaps, of one of several shapes.
fn traces() -> impl Strategy<Value = Trace> {
    let interval = prop::sample::select(vec![1e-3, 0.1, 1.0, 10.0, 60.0, 1e5]);
    let size = prop::sample::select(vec![0.0, 1e-300, 1e-9, 0.1, 5.0, -0.1, 1e9, 1e150]);
    let reading = (0.0..1.0f64, 0.0..1.0f64, 0.0..1.0f64);
    (
        interval,
        size,
        0..8u8,
        0.0..0.1f64,
        prop::collection::vec(reading, 10..300),
    )
        .prop_map(|(interval, size, shape, gaps, chances)| {
            let (mut t, n) = (0.0, chances.len());
            let (mut times, mut values) = (Vec::new(), Vec::new());
            for (i, (step, gap, level)) in chances.into_iter().enumerate() {
                times.push(t);
                t += interval * (0.5 + step);
                if gap < gaps {
                    t += interval * 1e5 * gap;
                }
                values.push(match shape {
                    0 => size,
                    1 => size * (1.0 + 0.01 * level),
                    2 => size * level,
                    3 => size * i as f64,
                    4 if i % 10 < 3 => size,
                    5 if level < 0.02 => size * 100.0,
                    6 => size * (level - 0.5),
                    7 if i < n / 2 => size,
                    _ => size / 2.0,
                });
            }
            Trace::from_samples(&times, &values)
        })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn any_log_gives_finite_findings_that_survive_being_written_down(trace in traces()) {
        let rules = LowPower::embedded();
        let beside = Beside {
            current_a: Some(&trace),
            current_peak_a: Some(&trace),
            power_factor: Some(&trace),
        };
        if let Ok(found) = no_load::findings(&trace, beside, &rules) {
            prop_assert!(
                found.from_s <= found.used_from_s && found.used_from_s < found.used_to_s,
                "{} of {} to {}: {} to {}",
                found.method, found.from_s, found.to_s, found.used_from_s, found.used_to_s
            );
            prop_assert_eq!(found.methods.iter().filter(|m| m.used).count(), 1);
            // A number that is none would be written as null and not be read again.
            let text = serde_json::to_string(&found).unwrap();
            prop_assert_eq!(serde_json::from_str::<Findings>(&text).unwrap(), found);
        }
        let column = |port: &str| (LogQuantity::OutputCurrentA, Some(port.to_owned()), trace.clone());
        let reading = Reading {
            rows: trace.samples,
            bad: BadRows::default(),
            starts_at: None,
            duration_s: 0.0,
            columns: vec![(LogQuantity::InputPowerW, None, trace.clone()), column("A"), column("B")],
        };
        for step in steps::find(&reading, false, &rules) {
            prop_assert!(step.from_s <= step.window_from_s);
            prop_assert!(step.window_from_s <= step.window_to_s);
            prop_assert!(step.window_to_s <= step.to_s);
        }
        let point = PointFindings::of(&reading).unwrap();
        let text = serde_json::to_string(&point).unwrap();
        prop_assert_eq!(serde_json::from_str::<PointFindings>(&text).unwrap(), point);
    }
}
