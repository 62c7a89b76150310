//! A physical model that invents adapters, for demonstration and for measuring speed.
//!
//! [`collection`] is the curated set that ships as `seed-data/`: every wattage class, with the
//! flaws that a bench finds. [`invent`] gives any number of ordinary units from a seed. Makers and
//! models are invented, and every record's notes say so. Same seed, same record, byte for byte.

mod capabilities;
mod chance;
mod collection;
mod logs;
mod measure;
mod other_readings;
mod overstrain;
mod photos;
mod physics;
mod queue;
mod shared_power;
mod sketch;
mod warming;

pub use collection::{collection, collection_logs, collection_photos};
pub use logs::DemoLog;
pub use photos::DemoPhoto;
pub use queue::{CANDIDATES, DemoCandidate};

use crate::bench::record::{OtherPorts, Record, Recovery};
use capabilities::Listing;
use chance::Chance;
use other_readings::Extent;
use sketch::{Correction, Sketch};

/// Invented makers and the letters that begin their model names.
const MAKERS: [(&str, &str); 15] = [
    ("Larkfield", "LF"),
    ("Tessawick", "TW"),
    ("Orvendale", "OD"),
    ("Quillmere", "QM"),
    ("Brantholm", "BH"),
    ("Hollowick", "HK"),
    ("Pennifrost", "PF"),
    ("Dunmarrow", "DM"),
    ("Isembridge", "IB"),
    ("Ferrowick", "FW"),
    ("Wexmoor", "WX"),
    ("Yarrowby", "YB"),
    ("Umbrefell", "UF"),
    ("Castrelle", "CT"),
    ("Gildersow", "GS"),
];

/// Invents one ordinary adapter with its measurements. The same `seed` and `index` give the same
/// record everywhere; different indices give different identities.
pub fn invent(seed: u64, index: usize) -> Record {
    // Odd constant of the golden ratio: neighbouring indices start far apart.
    let mut chance = Chance::new(
        seed ^ (index as u64)
            .wrapping_add(1)
            .wrapping_mul(0x9e37_79b9_7f4a_7c15),
    );
    let sketch = ordinary(index, &mut chance);
    let (mut record, design) = measure::record(&sketch, &mut chance);
    // Drawn after everything else, so that the other readings stay what they were.
    record.sharing = shared_power::observed(&sketch, &mut chance);
    let extent = match index % 4 {
        0 => Extent::Whole,
        1 | 2 => Extent::Short,
        _ => Extent::Nothing,
    };
    other_readings::add(&mut record, &sketch, &design, extent, &mut chance);
    record
}

/// Name of a record's file in `seed-data/`: maker, model and sample in small letters, hyphenated.
pub fn file_name(record: &Record) -> String {
    let unit = &record.unit;
    let words = format!(
        "{} {} {}",
        unit.maker,
        unit.model,
        unit.sample.as_deref().unwrap_or("")
    );
    let words: Vec<&str> = words
        .split(|c: char| !c.is_ascii_alphanumeric())
        .filter(|w| !w.is_empty())
        .collect();
    format!("{}.json", words.join("-").to_lowercase())
}

fn ordinary(index: usize, chance: &mut Chance) -> Sketch {
    const POWERS_W: [f64; 28] = [
        10.0, 12.0, 15.0, 15.0, 18.0, 20.0, 20.0, 25.0, 30.0, 30.0, 33.0, 35.0, 45.0, 45.0, 60.0,
        65.0, 65.0, 67.0, 70.0, 90.0, 100.0, 100.0, 120.0, 140.0, 160.0, 200.0, 240.0, 300.0,
    ];
    let (maker, letters) = chance.pick(&MAKERS);
    let watts = chance.pick(&POWERS_W);
    let ports = match watts {
        w if w > 240.0 => 4,
        w if w > 140.0 => 1 + chance.below(4),
        w if w >= 33.0 => 1 + chance.below(3),
        w if w >= 20.0 => 1 + chance.below(2),
        _ => 1,
    };
    let model = format!(
        "{letters}-{watts:.0}{}-{index:05}",
        ["S", "D", "T", "Q"][ports - 1]
    );
    let mut sketch = Sketch::new(maker, &model, watts).day(chance.below(350) as u16);
    if chance.says(0.35) {
        sketch = sketch.silicon();
    }
    if watts <= 75.0 || chance.says(0.12) {
        sketch = sketch.uncorrected();
    } else if chance.says(0.4) {
        sketch.correction = Correction::Active {
            off_below_w: 0.045 * watts,
        };
    }
    if watts <= 12.0 {
        sketch = sketch.a("A1", watts / 5.0);
    } else {
        // The ports of a unit together reach at least its total.
        let first_w = if ports == 4 { watts.min(140.0) } else { watts };
        let second_w = if watts > 180.0 {
            100.0
        } else {
            [20.0, 30.0, 45.0, 65.0, 100.0]
                .into_iter()
                .rev()
                .find(|&w| w <= 0.7 * first_w)
                .unwrap_or(15.0)
        };
        sketch = if chance.says(0.5) {
            sketch.c_pps("C1", first_w)
        } else {
            sketch.c("C1", first_w)
        };
        if ports >= 2 && (ports == 4 || chance.says(0.75)) {
            sketch = sketch.c("C2", second_w);
        } else if ports >= 2 {
            sketch = sketch.a("A2", 2.4);
        }
        if ports >= 3 {
            sketch = sketch.a("A3", chance.pick(&[2.4, 3.0]));
        }
        if ports == 4 {
            sketch = sketch.c("C4", 65.0);
        }
    }
    if ports > 1 {
        sketch = sketch.on_attach(
            chance.pick(&[OtherPorts::Reset, OtherPorts::Held, OtherPorts::Held]),
            None,
        );
    }
    if chance.says(0.5) && watts > 12.0 {
        let others = if ports > 1 {
            OtherPorts::Held
        } else {
            OtherPorts::NotApplicable
        };
        let at = chance.between(1.05, 1.4);
        let recovery = chance.pick(&[
            Recovery::Auto,
            Recovery::Auto,
            Recovery::Replug,
            Recovery::Mains,
        ]);
        sketch = sketch.overload("C1", at, recovery, others);
    }
    let currency = chance.pick(&["EUR", "EUR", "EUR", "EUR", "USD", "GBP"]);
    let loss = 1.0 + 0.45 * chance.bell();
    let sketch = sketch.priced_in(currency).loss(loss);
    match index % 3 {
        0 => sketch.words(),
        1 => sketch.listing(Listing::Programmable { from_mv: 3_300 }),
        _ => sketch,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashSet;

    #[test]
    fn the_same_seed_and_index_give_the_same_record() {
        let text = |seed, index| serde_json::to_string(&invent(seed, index)).expect("serializes");
        assert_eq!(text(7, 123), text(7, 123));
        assert_ne!(text(7, 123), text(8, 123));
    }

    #[test]
    fn no_two_invented_units_share_an_identity() {
        let keys: HashSet<String> = (0..500).map(|i| invent(1, i).unit.identity_key()).collect();
        assert_eq!(keys.len(), 500);
    }

    #[test]
    fn power_factor_voltage_current_and_power_tell_the_same_story() {
        for record in (0..200).map(|i| invent(3, i)).chain(collection()) {
            for (run, point) in record
                .runs
                .iter()
                .flat_map(|r| r.points.iter().map(move |p| (r, p)))
            {
                let input = point.input.as_ref().expect("invented points have an input");
                let (v, i, p, pf) = (
                    input.voltage_v.expect("read"),
                    input.current_a.expect("read"),
                    input.power_w.expect("read"),
                    input.power_factor.expect("read"),
                );
                let name = format!("{} {} {}", record.unit.model, run.name, point.load_percent);
                assert!((p / (v * i) - pf).abs() < 0.005 * pf, "{name}");
                let out: f64 = point
                    .outputs
                    .iter()
                    .map(|o| o.voltage_v.expect("read") * o.current_a.expect("read"))
                    .sum();
                let efficiency = out / p;
                assert!((0.45..0.97).contains(&efficiency), "{name}: {efficiency}");
                assert!(pf > 0.4 && pf < 1.0, "{name}: {pf}");
            }
        }
    }
}
