//! Capability lists of invented ports, as the raw power data objects that an analyser shows.

use crate::bench::record::{Mode, Port};
use crate::bench::usb_pd::{FixedFlags, PowerDataObject, written};
use crate::standards::{PdRules, Standards};
use std::sync::OnceLock;

/// What a list holds beside the label, and what is wrong with it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Listing {
    /// The label's modes and nothing else.
    AsLabelled,
    /// With every programmable range that a source of this rating has beside each other, from
    /// this voltage on.
    Programmable { from_mv: u32 },
    /// With programmable ranges from 5 V and the adjustable supply of the standard range.
    Adjustable,
    /// 15 V stands before 9 V.
    OutOfOrder,
    /// The analyser of the day knew the standard range only: what lies above 20 V was not read.
    StandardPart,
    /// Less current at the highest fixed voltage than the rating asks for.
    ShortOfCurrent,
}

/// Rules for USB PD sources.
pub(super) fn pd_rules() -> &'static PdRules {
    static STANDARDS: OnceLock<Standards> = OnceLock::new();
    &STANDARDS.get_or_init(Standards::embedded).pd_rules
}

fn is_extended(mode: &Mode) -> bool {
    matches!(mode, Mode::Avs { .. }) || mode.voltage_max_v() > 21.0
}

fn milli(value: f64, step: u32) -> u32 {
    (value * 1000.0 / f64::from(step)).round() as u32 * step
}

fn fixed(voltage_v: f64, current_a: f64) -> PowerDataObject {
    PowerDataObject::Fixed {
        flags: FixedFlags::default(),
        peak_current: 0,
        voltage_mv: milli(voltage_v, 50),
        current_ma: milli(current_a, 10),
    }
}

/// The list of a USB-C port: the standard range first; what belongs to the extended range starts
/// at the eighth place, after words of zeros.
pub(super) fn words(port: &Port, listing: Listing) -> Vec<String> {
    let rating_w = port.power_w.unwrap_or(0.0);
    let mut standard: Vec<PowerDataObject> = Vec::new();
    let mut extended: Vec<PowerDataObject> = Vec::new();
    for mode in &port.modes {
        let list = if is_extended(mode) {
            &mut extended
        } else {
            &mut standard
        };
        match *mode {
            Mode::Fixed {
                voltage_v,
                current_a,
            } => list.push(fixed(voltage_v, current_a)),
            Mode::Avs {
                voltage_min_v,
                voltage_max_v,
                ..
            } => list.push(PowerDataObject::EprAvs {
                peak_current: 0,
                voltage_min_mv: milli(voltage_min_v, 100),
                voltage_max_mv: milli(voltage_max_v, 100),
                power_w: rating_w.round() as u32,
            }),
            Mode::Pps {
                voltage_min_v,
                voltage_max_v,
                current_a,
            } if !lists_every_range(listing) => list.push(PowerDataObject::Pps {
                power_limited: false,
                voltage_min_mv: milli(voltage_min_v, 100),
                voltage_max_mv: milli(voltage_max_v, 100),
                current_ma: milli(current_a, 50),
            }),
            Mode::Pps { .. } => {}
        }
    }
    match listing {
        Listing::AsLabelled => {}
        Listing::Programmable { from_mv } => standard.extend(programmable(rating_w, from_mv)),
        Listing::Adjustable => {
            standard.extend(programmable(rating_w, 5_000));
            standard.extend(adjustable(rating_w));
        }
        Listing::OutOfOrder => standard.swap(1, 2),
        Listing::StandardPart => extended.clear(),
        Listing::ShortOfCurrent => {
            if let Some(PowerDataObject::Fixed { current_ma, .. }) = standard.last_mut() {
                *current_ma = milli(f64::from(*current_ma) * 0.75 / 1000.0, 10);
            }
        }
    }
    if let Some(PowerDataObject::Fixed { flags, .. }) = standard.first_mut() {
        flags.unconstrained = true;
        flags.epr_capable = rating_w > 100.0;
    }
    let word = |object: &PowerDataObject| {
        written(
            object
                .encode()
                .expect("an invented offer keeps to its steps"),
        )
    };
    let mut words: Vec<String> = standard.iter().map(word).collect();
    if !extended.is_empty() {
        words.resize(7, written(0));
        words.extend(extended.iter().map(word));
    }
    words
}

fn lists_every_range(listing: Listing) -> bool {
    matches!(listing, Listing::Programmable { .. } | Listing::Adjustable)
}

/// The ranges that R3.0 asks for of a source that is programmable at all.
fn programmable(rating_w: f64, from_mv: u32) -> Vec<PowerDataObject> {
    pd_rules()
        .pps
        .required(rating_w.min(100.0))
        .into_iter()
        .map(|(range, current_a)| PowerDataObject::Pps {
            power_limited: true,
            voltage_min_mv: from_mv,
            voltage_max_mv: milli(range.voltage_max_v, 100),
            // A step down, so that it never promises more than the rating.
            current_ma: (current_a.min(5.0) * 20.0 + 1e-9).floor() as u32 * 50,
        })
        .collect()
}

/// The adjustable supply of the standard range (R3.2).
fn adjustable(rating_w: f64) -> Option<PowerDataObject> {
    let row = pd_rules()
        .spr_avs
        .rows
        .iter()
        .find(|r| rating_w > r.over_w && rating_w <= r.up_to_w)?;
    Some(PowerDataObject::SprAvs {
        peak_current: 0,
        current_to_15v_ma: milli(row.to_15v_a.unwrap_or(rating_w / 15.0), 10),
        current_to_20v_ma: if row.to_v > 15.0 {
            milli(rating_w / 20.0, 10)
        } else {
            0
        },
    })
}

#[cfg(test)]
mod tests {
    use super::super::sketch::Sketch;
    use super::*;

    fn usb_c(power_w: f64) -> Port {
        Sketch::new("Larkfield", "T", power_w)
            .c("C1", power_w)
            .ports
            .remove(0)
    }

    #[test]
    fn a_65_w_port_offers_the_words_of_the_published_layout() {
        // usb_pd.h layout: 5 V 3 A unconstrained, 9 V 3 A, 15 V 3 A, 20 V 3.25 A.
        assert_eq!(
            words(&usb_c(65.0), Listing::AsLabelled),
            ["0x0801912C", "0x0002D12C", "0x0004B12C", "0x00064145"]
        );
    }

    #[test]
    fn an_extended_range_port_starts_its_high_voltages_at_the_eighth_place() {
        let words = words(&usb_c(140.0), Listing::AsLabelled);
        assert_eq!(words.len(), 9);
        assert_eq!(words[4..7], ["0x00000000"; 3].map(String::from));
        // 28 V 5 A without the peak code, then adjustable 15 to 28 V, 140 W.
        assert_eq!(words[7], "0x0008C1F4");
        assert_eq!(words[8], "0xD230968C");
    }

    #[test]
    fn an_adjustable_list_ends_with_the_word_worked_by_hand() {
        // Standard adjustable supply with 3 A to 15 V and 3.25 A to 20 V.
        let words = words(&usb_c(65.0), Listing::Adjustable);
        assert_eq!(words.last().map(String::as_str), Some("0xE004B145"));
        assert_eq!(words.len(), 6);
    }
}
