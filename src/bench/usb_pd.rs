//! USB Power Delivery source capabilities: 32-bit power data objects to typed values and back
//! without loss, and whole messages as people paste them out of an analyser.
//!
//! Bit layout of USB PD R3.2 (IEC 62680-1-2) as public source code agrees on it. What an object
//! may *mean* for a rating is not known here; that is judged in `evaluate`.

use super::problem::Problem;
use super::record::{Mode, Port};
use std::fmt;

/// What a source offers in one position of its list. Integers in the smallest SI step that every
/// field can hold, so that nothing is rounded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum PowerDataObject {
    Fixed {
        flags: FixedFlags,
        /// 0..=3, see the peak current table.
        peak_current: u8,
        /// Multiple of 50 mV up to 51 150 mV, above 0.
        voltage_mv: u32,
        /// Multiple of 10 mA up to 10 230 mA.
        current_ma: u32,
    },
    Battery {
        voltage_min_mv: u32,
        voltage_max_mv: u32,
        /// Multiple of 250 mW up to 255 750 mW.
        power_mw: u32,
    },
    Variable {
        voltage_min_mv: u32,
        voltage_max_mv: u32,
        current_ma: u32,
    },
    /// Programmable supply of the standard power range.
    Pps {
        /// The source may hold V I to its rated power.
        power_limited: bool,
        /// Multiples of 100 mV up to 25 500 mV.
        voltage_min_mv: u32,
        voltage_max_mv: u32,
        /// Multiple of 50 mA up to 6 350 mA.
        current_ma: u32,
    },
    /// Adjustable voltage supply of the standard power range, 9 V to 15 V or 20 V.
    SprAvs {
        peak_current: u8,
        /// From 9 V to 15 V.
        current_to_15v_ma: u32,
        /// From 15 V to 20 V; 0: not offered.
        current_to_20v_ma: u32,
    },
    /// Adjustable voltage supply of the extended power range.
    EprAvs {
        peak_current: u8,
        voltage_min_mv: u32,
        /// Multiple of 100 mV up to 51 100 mV.
        voltage_max_mv: u32,
        /// Whole watts up to 255 W.
        power_w: u32,
    },
}

/// Bits 29 to 23 of a fixed object; only the list's first one gives them a meaning.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash)]
pub struct FixedFlags {
    pub dual_role_power: bool,
    pub usb_suspend: bool,
    pub unconstrained: bool,
    pub usb_communications: bool,
    pub dual_role_data: bool,
    pub unchunked: bool,
    pub epr_capable: bool,
}

impl FixedFlags {
    /// Bit number, name, value; from the highest bit down.
    fn bits(&self) -> [(u32, &'static str, bool); 7] {
        [
            (29, "dual_role_power", self.dual_role_power),
            (28, "usb_suspend", self.usb_suspend),
            (27, "unconstrained", self.unconstrained),
            (26, "usb_communications", self.usb_communications),
            (25, "dual_role_data", self.dual_role_data),
            (24, "unchunked", self.unchunked),
            (23, "epr_capable", self.epr_capable),
        ]
    }

    fn of(word: u32) -> FixedFlags {
        let bit = |n: u32| word >> n & 1 == 1;
        FixedFlags {
            dual_role_power: bit(29),
            usb_suspend: bit(28),
            unconstrained: bit(27),
            usb_communications: bit(26),
            dual_role_data: bit(25),
            unchunked: bit(24),
            epr_capable: bit(23),
        }
    }
}

/// Bits of a word that hold what they must not.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WrongBits {
    /// Highest of the bits, counted from 0.
    pub high: u32,
    /// Lowest of the bits; the same as `high` where only one is wrong.
    pub low: u32,
    /// What the bits stand for.
    pub field: &'static str,
    /// What they hold, in binary.
    pub found: u32,
    pub expected: String,
}

impl fmt::Display for WrongBits {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (field, found, expected) = (self.field, self.found, &self.expected);
        if self.high == self.low {
            write!(
                f,
                "bit {} ({field}) to be {expected}; it is {found}",
                self.high
            )
        } else {
            let width = (self.high - self.low + 1) as usize;
            write!(
                f,
                "bits {}:{} ({field}) to be {expected}; they are {found:0width$b}",
                self.high, self.low
            )
        }
    }
}

impl std::error::Error for WrongBits {}

/// A value that its field of the object cannot hold.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DoesNotFit {
    pub field: &'static str,
    pub value: u32,
    pub step: u32,
    pub max: u32,
}

impl fmt::Display for DoesNotFit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{}: {}; expected a multiple of {} up to {}",
            self.field, self.value, self.step, self.max
        )
    }
}

impl std::error::Error for DoesNotFit {}

fn bits(word: u32, high: u32, low: u32) -> u32 {
    word >> low & (u32::MAX >> (31 - (high - low)))
}

/// Refuses set bits that the layout reserves, the highest run of them first.
fn reserved(word: u32, fields: &[(u32, u32)]) -> Result<(), WrongBits> {
    for &(high, low) in fields {
        let found = bits(word, high, low);
        if found != 0 {
            return Err(WrongBits {
                high,
                low,
                field: "reserved",
                found,
                expected: "0".to_owned(),
            });
        }
    }
    Ok(())
}

/// Refuses a range that ends below its beginning, and one that ends at 0 V.
fn rising(
    word: u32,
    (max_high, max_low): (u32, u32),
    (min_high, min_low): (u32, u32),
    step_mv: u32,
) -> Result<(u32, u32), WrongBits> {
    let (max, min) = (bits(word, max_high, max_low), bits(word, min_high, min_low));
    if max == 0 || max < min {
        return Err(WrongBits {
            high: max_high,
            low: max_low,
            field: "maximum voltage",
            found: max,
            expected: format!(
                "at least the minimum voltage in bits {min_high}:{min_low}, {} V, and above 0",
                decimal(min * step_mv)
            ),
        });
    }
    Ok((min * step_mv, max * step_mv))
}

impl PowerDataObject {
    /// Reads one object; `None` is a word of zeros, which pads a list.
    ///
    /// # Errors
    /// The bits that a source may not send so: reserved ones that are set, a reserved kind, a
    /// fixed voltage of 0 V, a range that ends below its beginning.
    pub fn decode(word: u32) -> Result<Option<PowerDataObject>, WrongBits> {
        if word == 0 {
            return Ok(None);
        }
        let peak_current = |high, low| bits(word, high, low) as u8;
        let object = match bits(word, 31, 30) {
            0b00 => {
                reserved(word, &[(22, 22)])?;
                let voltage = bits(word, 19, 10);
                if voltage == 0 {
                    return Err(WrongBits {
                        high: 19,
                        low: 10,
                        field: "voltage",
                        found: 0,
                        expected: "above 0".to_owned(),
                    });
                }
                PowerDataObject::Fixed {
                    flags: FixedFlags::of(word),
                    peak_current: peak_current(21, 20),
                    voltage_mv: voltage * 50,
                    current_ma: bits(word, 9, 0) * 10,
                }
            }
            0b01 => {
                let (voltage_min_mv, voltage_max_mv) = rising(word, (29, 20), (19, 10), 50)?;
                PowerDataObject::Battery {
                    voltage_min_mv,
                    voltage_max_mv,
                    power_mw: bits(word, 9, 0) * 250,
                }
            }
            0b10 => {
                let (voltage_min_mv, voltage_max_mv) = rising(word, (29, 20), (19, 10), 50)?;
                PowerDataObject::Variable {
                    voltage_min_mv,
                    voltage_max_mv,
                    current_ma: bits(word, 9, 0) * 10,
                }
            }
            _ => match bits(word, 29, 28) {
                0b00 => {
                    reserved(word, &[(26, 25), (16, 16), (7, 7)])?;
                    let (voltage_min_mv, voltage_max_mv) = rising(word, (24, 17), (15, 8), 100)?;
                    PowerDataObject::Pps {
                        power_limited: bits(word, 27, 27) == 1,
                        voltage_min_mv,
                        voltage_max_mv,
                        current_ma: bits(word, 6, 0) * 50,
                    }
                }
                0b01 => {
                    reserved(word, &[(16, 16)])?;
                    let (voltage_min_mv, voltage_max_mv) = rising(word, (25, 17), (15, 8), 100)?;
                    PowerDataObject::EprAvs {
                        peak_current: peak_current(27, 26),
                        voltage_min_mv,
                        voltage_max_mv,
                        power_w: bits(word, 7, 0),
                    }
                }
                0b10 => {
                    reserved(word, &[(25, 20)])?;
                    PowerDataObject::SprAvs {
                        peak_current: peak_current(27, 26),
                        current_to_15v_ma: bits(word, 19, 10) * 10,
                        current_to_20v_ma: bits(word, 9, 0) * 10,
                    }
                }
                found => {
                    return Err(WrongBits {
                        high: 29,
                        low: 28,
                        field: "kind of augmented object",
                        found,
                        expected: "00 (PPS), 01 (EPR AVS) or 10 (SPR AVS)".to_owned(),
                    });
                }
            },
        };
        Ok(Some(object))
    }

    /// The object as a 32-bit word.
    ///
    /// # Errors
    /// The field whose value is off its step, out of its bits, or no range.
    pub fn encode(&self) -> Result<u32, DoesNotFit> {
        let field = |name, value: u32, step: u32, high: u32, low: u32| {
            let most = u32::MAX >> (31 - (high - low));
            if value.is_multiple_of(step) && value / step <= most {
                Ok((value / step) << low)
            } else {
                Err(DoesNotFit {
                    field: name,
                    value,
                    step,
                    max: most * step,
                })
            }
        };
        let range = |min: u32, max: u32| {
            if max == 0 || min > max {
                Err(DoesNotFit {
                    field: "voltage_min_mv",
                    value: min,
                    step: 1,
                    max,
                })
            } else {
                Ok(())
            }
        };
        let peak = |code: u8, high, low| field("peak_current", u32::from(code), 1, high, low);
        Ok(match *self {
            PowerDataObject::Fixed {
                flags,
                peak_current,
                voltage_mv,
                current_ma,
            } => {
                range(voltage_mv, voltage_mv)?;
                let flags = flags
                    .bits()
                    .iter()
                    .fold(0, |word, &(bit, _, set)| word | u32::from(set) << bit);
                flags
                    | peak(peak_current, 21, 20)?
                    | field("voltage_mv", voltage_mv, 50, 19, 10)?
                    | field("current_ma", current_ma, 10, 9, 0)?
            }
            PowerDataObject::Battery {
                voltage_min_mv,
                voltage_max_mv,
                power_mw,
            } => {
                range(voltage_min_mv, voltage_max_mv)?;
                0b01 << 30
                    | field("voltage_max_mv", voltage_max_mv, 50, 29, 20)?
                    | field("voltage_min_mv", voltage_min_mv, 50, 19, 10)?
                    | field("power_mw", power_mw, 250, 9, 0)?
            }
            PowerDataObject::Variable {
                voltage_min_mv,
                voltage_max_mv,
                current_ma,
            } => {
                range(voltage_min_mv, voltage_max_mv)?;
                0b10 << 30
                    | field("voltage_max_mv", voltage_max_mv, 50, 29, 20)?
                    | field("voltage_min_mv", voltage_min_mv, 50, 19, 10)?
                    | field("current_ma", current_ma, 10, 9, 0)?
            }
            PowerDataObject::Pps {
                power_limited,
                voltage_min_mv,
                voltage_max_mv,
                current_ma,
            } => {
                range(voltage_min_mv, voltage_max_mv)?;
                0b1100 << 28
                    | u32::from(power_limited) << 27
                    | field("voltage_max_mv", voltage_max_mv, 100, 24, 17)?
                    | field("voltage_min_mv", voltage_min_mv, 100, 15, 8)?
                    | field("current_ma", current_ma, 50, 6, 0)?
            }
            PowerDataObject::SprAvs {
                peak_current,
                current_to_15v_ma,
                current_to_20v_ma,
            } => {
                0b1110 << 28
                    | peak(peak_current, 27, 26)?
                    | field("current_to_15v_ma", current_to_15v_ma, 10, 19, 10)?
                    | field("current_to_20v_ma", current_to_20v_ma, 10, 9, 0)?
            }
            PowerDataObject::EprAvs {
                peak_current,
                voltage_min_mv,
                voltage_max_mv,
                power_w,
            } => {
                range(voltage_min_mv, voltage_max_mv)?;
                0b1101 << 28
                    | peak(peak_current, 27, 26)?
                    | field("voltage_max_mv", voltage_max_mv, 100, 25, 17)?
                    | field("voltage_min_mv", voltage_min_mv, 100, 15, 8)?
                    | field("power_w", power_w, 1, 7, 0)?
            }
        })
    }

    /// Word for the kind: `fixed`, `battery`, `variable`, `pps`, `spr-avs`, `epr-avs`.
    pub fn kind(&self) -> &'static str {
        match self {
            PowerDataObject::Fixed { .. } => "fixed",
            PowerDataObject::Battery { .. } => "battery",
            PowerDataObject::Variable { .. } => "variable",
            PowerDataObject::Pps { .. } => "pps",
            PowerDataObject::SprAvs { .. } => "spr-avs",
            PowerDataObject::EprAvs { .. } => "epr-avs",
        }
    }

    /// Lowest voltage offered, volts.
    pub fn voltage_min_v(&self) -> f64 {
        let mv = match *self {
            PowerDataObject::Fixed { voltage_mv, .. } => voltage_mv,
            PowerDataObject::Battery { voltage_min_mv, .. }
            | PowerDataObject::Variable { voltage_min_mv, .. }
            | PowerDataObject::Pps { voltage_min_mv, .. }
            | PowerDataObject::EprAvs { voltage_min_mv, .. } => voltage_min_mv,
            PowerDataObject::SprAvs { .. } => 9_000,
        };
        f64::from(mv) / 1e3
    }

    /// Highest voltage offered, volts.
    pub fn voltage_max_v(&self) -> f64 {
        let mv = match *self {
            PowerDataObject::Fixed { voltage_mv, .. } => voltage_mv,
            PowerDataObject::Battery { voltage_max_mv, .. }
            | PowerDataObject::Variable { voltage_max_mv, .. }
            | PowerDataObject::Pps { voltage_max_mv, .. }
            | PowerDataObject::EprAvs { voltage_max_mv, .. } => voltage_max_mv,
            PowerDataObject::SprAvs {
                current_to_20v_ma: 0,
                ..
            } => 15_000,
            PowerDataObject::SprAvs { .. } => 20_000,
        };
        f64::from(mv) / 1e3
    }

    /// Largest current offered, amperes, where the object states one. For EPR AVS, which states a
    /// power, the current of that power at the highest voltage.
    pub fn current_a(&self) -> Option<f64> {
        match *self {
            PowerDataObject::Fixed { current_ma, .. }
            | PowerDataObject::Variable { current_ma, .. }
            | PowerDataObject::Pps { current_ma, .. } => Some(f64::from(current_ma) / 1e3),
            PowerDataObject::SprAvs {
                current_to_15v_ma,
                current_to_20v_ma,
                ..
            } => Some(f64::from(current_to_15v_ma.max(current_to_20v_ma)) / 1e3),
            PowerDataObject::EprAvs { power_w, .. } => {
                Some((f64::from(power_w) / self.voltage_max_v()).min(5.0))
            }
            PowerDataObject::Battery { .. } => None,
        }
    }

    /// The object as the modes of a label, as far as a label can say it: none for battery and
    /// variable supplies, two for an SPR AVS with different currents.
    pub fn modes(&self) -> Vec<Mode> {
        let (voltage_min_v, voltage_max_v) = (self.voltage_min_v(), self.voltage_max_v());
        let current_a = self.current_a().unwrap_or(0.0);
        match *self {
            PowerDataObject::Fixed { .. } => vec![Mode::Fixed {
                voltage_v: voltage_max_v,
                current_a,
            }],
            PowerDataObject::Pps { .. } => vec![Mode::Pps {
                voltage_min_v,
                voltage_max_v,
                current_a,
            }],
            PowerDataObject::EprAvs { .. } => vec![Mode::Avs {
                voltage_min_v,
                voltage_max_v,
                current_a,
            }],
            PowerDataObject::SprAvs {
                current_to_15v_ma,
                current_to_20v_ma,
                ..
            } => [
                (9.0, 15.0, current_to_15v_ma),
                (15.0, 20.0, current_to_20v_ma),
            ]
            .into_iter()
            .filter(|&(.., ma)| ma > 0)
            .map(|(voltage_min_v, voltage_max_v, ma)| Mode::Avs {
                voltage_min_v,
                voltage_max_v,
                current_a: f64::from(ma) / 1e3,
            })
            .collect(),
            PowerDataObject::Battery { .. } | PowerDataObject::Variable { .. } => Vec::new(),
        }
    }
}

/// Thousandths as a decimal number without needless zeros.
fn decimal(thousandths: u32) -> String {
    let text = format!("{}.{:03}", thousandths / 1000, thousandths % 1000);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

impl fmt::Display for PowerDataObject {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let peak = |code: u8| {
            if code == 0 {
                String::new()
            } else {
                format!(" peak={code}")
            }
        };
        let range = |min, max| format!("{}-{} V", decimal(min), decimal(max));
        match *self {
            PowerDataObject::Fixed {
                flags,
                peak_current,
                voltage_mv,
                current_ma,
            } => {
                let (v, i) = (decimal(voltage_mv), decimal(current_ma));
                write!(f, "fixed {v} V {i} A")?;
                let set: Vec<&str> = flags
                    .bits()
                    .iter()
                    .filter(|(.., set)| *set)
                    .map(|&(_, name, _)| name)
                    .collect();
                if !set.is_empty() {
                    write!(f, " [{}]", set.join(" "))?;
                }
                f.write_str(&peak(peak_current))
            }
            PowerDataObject::Battery {
                voltage_min_mv,
                voltage_max_mv,
                power_mw,
            } => write!(
                f,
                "battery {} {} W",
                range(voltage_min_mv, voltage_max_mv),
                decimal(power_mw)
            ),
            PowerDataObject::Variable {
                voltage_min_mv,
                voltage_max_mv,
                current_ma,
            } => write!(
                f,
                "variable {} {} A",
                range(voltage_min_mv, voltage_max_mv),
                decimal(current_ma)
            ),
            PowerDataObject::Pps {
                power_limited,
                voltage_min_mv,
                voltage_max_mv,
                current_ma,
            } => write!(
                f,
                "PPS {} {} A{}",
                range(voltage_min_mv, voltage_max_mv),
                decimal(current_ma),
                if power_limited { " power_limited" } else { "" }
            ),
            PowerDataObject::SprAvs {
                peak_current,
                current_to_15v_ma,
                current_to_20v_ma,
            } => write!(
                f,
                "SPR AVS 9-15 V {} A, 15-20 V {} A{}",
                decimal(current_to_15v_ma),
                decimal(current_to_20v_ma),
                peak(peak_current)
            ),
            PowerDataObject::EprAvs {
                peak_current,
                voltage_min_mv,
                voltage_max_mv,
                power_w,
            } => write!(
                f,
                "EPR AVS {} {power_w} W{}",
                range(voltage_min_mv, voltage_max_mv),
                peak(peak_current)
            ),
        }
    }
}

/// One field of a word, as the layout of its kind divides it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WordField {
    /// Highest bit, counted from 0.
    pub high: u32,
    pub low: u32,
    pub name: &'static str,
    /// What the bits hold.
    pub raw: u32,
    /// What that says, such as `9 V`; empty where the name says all.
    pub meaning: String,
}

/// Every field of a word from the highest bit down, reserved ones included. Any word can be
/// divided so, also one that [`PowerDataObject::decode`] refuses.
pub fn word_fields(word: u32) -> Vec<WordField> {
    let field = |high, low, name, meaning: &dyn Fn(u32) -> String| {
        let raw = bits(word, high, low);
        WordField {
            high,
            low,
            name,
            raw,
            meaning: meaning(raw),
        }
    };
    let unit =
        |step: u32, unit: &'static str| move |raw: u32| format!("{} {unit}", decimal(raw * step));
    let (volts_50, volts_100) = (unit(50, "V"), unit(100, "V"));
    let (amperes_10, amperes_50) = (unit(10, "A"), unit(50, "A"));
    let flag = |raw: u32| if raw == 1 { "yes" } else { "no" }.to_owned();
    let unused = |raw: u32| {
        if raw == 0 {
            String::new()
        } else {
            "must be 0".to_owned()
        }
    };
    let peak = |raw: u32| match raw {
        0 => "no more than the stated current".to_owned(),
        code => format!("code {code}: more for some milliseconds"),
    };
    let kind = |name: &'static str| move |_: u32| name.to_owned();
    match (bits(word, 31, 30), bits(word, 29, 28)) {
        (0b00, _) => vec![
            field(31, 30, "kind", &kind("fixed supply")),
            field(29, 29, "dual-role power", &flag),
            field(28, 28, "USB suspend supported", &flag),
            field(27, 27, "unconstrained power", &flag),
            field(26, 26, "USB communications capable", &flag),
            field(25, 25, "dual-role data", &flag),
            field(24, 24, "unchunked messages supported", &flag),
            field(23, 23, "EPR capable", &flag),
            field(22, 22, "reserved", &unused),
            field(21, 20, "peak current", &peak),
            field(19, 10, "voltage", &volts_50),
            field(9, 0, "maximum current", &amperes_10),
        ],
        (0b01, _) => vec![
            field(31, 30, "kind", &kind("battery")),
            field(29, 20, "maximum voltage", &volts_50),
            field(19, 10, "minimum voltage", &volts_50),
            field(9, 0, "maximum power", &unit(250, "W")),
        ],
        (0b10, _) => vec![
            field(31, 30, "kind", &kind("variable supply")),
            field(29, 20, "maximum voltage", &volts_50),
            field(19, 10, "minimum voltage", &volts_50),
            field(9, 0, "maximum current", &amperes_10),
        ],
        (_, 0b00) => vec![
            field(31, 30, "kind", &kind("augmented")),
            field(29, 28, "kind of augmented object", &kind("PPS")),
            field(27, 27, "power limited", &flag),
            field(26, 25, "reserved", &unused),
            field(24, 17, "maximum voltage", &volts_100),
            field(16, 16, "reserved", &unused),
            field(15, 8, "minimum voltage", &volts_100),
            field(7, 7, "reserved", &unused),
            field(6, 0, "maximum current", &amperes_50),
        ],
        (_, 0b01) => vec![
            field(31, 30, "kind", &kind("augmented")),
            field(29, 28, "kind of augmented object", &kind("EPR AVS")),
            field(27, 26, "peak current", &peak),
            field(25, 17, "maximum voltage", &volts_100),
            field(16, 16, "reserved", &unused),
            field(15, 8, "minimum voltage", &volts_100),
            field(7, 0, "power", &unit(1_000, "W")),
        ],
        (_, 0b10) => vec![
            field(31, 30, "kind", &kind("augmented")),
            field(29, 28, "kind of augmented object", &kind("SPR AVS")),
            field(27, 26, "peak current", &peak),
            field(25, 20, "reserved", &unused),
            field(19, 10, "maximum current, 9 V to 15 V", &amperes_10),
            field(9, 0, "maximum current, 15 V to 20 V", &amperes_10),
        ],
        _ => vec![
            field(31, 30, "kind", &kind("augmented")),
            field(29, 28, "kind of augmented object", &kind("reserved")),
            field(27, 0, "of a kind that is reserved", &|_| String::new()),
        ],
    }
}

/// How records write a word: `0x` and eight digits.
pub fn written(word: u32) -> String {
    format!("0x{word:08X}")
}

/// Reads the record's way of writing a word.
fn word_of(text: &str) -> Option<u32> {
    u32::from_str_radix(text.strip_prefix("0x")?, 16).ok()
}

impl Port {
    /// The port's capability list as (position from 1, word, object), without padding. Words that
    /// [`super::decode`] would refuse are left out.
    pub fn capabilities(&self) -> Vec<(usize, u32, PowerDataObject)> {
        self.source_capabilities
            .iter()
            .enumerate()
            .filter_map(|(i, text)| {
                let word = word_of(text)?;
                Some((i + 1, word, PowerDataObject::decode(word).ok()??))
            })
            .collect()
    }
}

/// Faults of the capability list at `path`, as `decode` reports them.
pub(super) fn list_problems(words: &[String], path: &str) -> Vec<Problem> {
    words
        .iter()
        .enumerate()
        .filter_map(|(i, text)| {
            let wrong = PowerDataObject::decode(word_of(text)?).err()?;
            Some(Problem::new(
                format!("{path}[{i}]"),
                format!("{text:?}"),
                wrong.to_string(),
            ))
        })
        .collect()
}

/// A source's list as it was pasted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Capabilities {
    /// Objects by position, words of zeros included.
    pub words: Vec<u32>,
    /// Revision that the message's header states: 1, 2 or 3; `None` for objects without one.
    pub revision: Option<u8>,
    /// Was it an extended power range list?
    pub extended: bool,
}

impl Capabilities {
    /// The words as a record holds them.
    pub fn source_capabilities(&self) -> Vec<String> {
        self.words.iter().map(|&word| written(word)).collect()
    }

    /// (position from 1, object), without padding.
    pub fn objects(&self) -> Vec<(usize, PowerDataObject)> {
        self.words
            .iter()
            .enumerate()
            .filter_map(|(i, &word)| Some((i + 1, PowerDataObject::decode(word).ok()??)))
            .collect()
    }
}

const SOURCE_CAPABILITIES: u16 = 0x01;
const EPR_SOURCE_CAPABILITIES: u16 = 0x11;
/// Bytes of a capability list that one chunk carries at most.
const CHUNK_BYTES: usize = 26;
/// Seven objects of the standard and four of the extended power range.
const MOST_OBJECTS: usize = 11;
/// Longer than any trace of a capability list: keeps a hostile paste cheap.
const MOST_CHARACTERS: usize = 20_000;

/// Reads source capabilities from pasted hexadecimal text: single objects, or whole messages with
/// their headers, the chunks of an extended list put together.
///
/// Usual spellings are understood: bytes with or without spaces, `0x`, `\x` or a trailing `h`,
/// commas, colons, dashes, braces; numbers of 4 or 8 digits (`0x71A1 0x0801912C`) as values; lines
/// that begin with their offset as hex dumps do. Several digits without a header are objects: as
/// values if the first is a 5 V object that way or neither way, else in the order of the wire.
///
/// # Errors
/// Every fault, with the place in the text or the message, what was found and what was expected;
/// wrong bits are named.
pub fn read(text: &str) -> Result<Capabilities, Vec<Problem>> {
    let tokens = tokens(text).map_err(|problem| vec![problem])?;
    let wire = bytes_of(&tokens, false);
    let values = bytes_of(&tokens, true);
    let bare = tokens.iter().all(|t| t.digits.len() == 8);
    let starts_at_5v = |bytes: &[u8]| {
        bytes
            .first_chunk()
            .is_some_and(|&b| match PowerDataObject::decode(u32::from_le_bytes(b)) {
                Ok(Some(PowerDataObject::Fixed { voltage_mv, .. })) => voltage_mv == 5_000,
                _ => false,
            })
    };
    if tiles(&wire) {
        return messages(&wire);
    }
    if bare && starts_at_5v(&values) {
        return objects(&values);
    }
    if tiles(&values) {
        return messages(&values);
    }
    let whole = wire.len().is_multiple_of(4);
    if whole && (bare || starts_at_5v(&wire)) {
        return objects(if starts_at_5v(&wire) { &wire } else { &values });
    }
    // Nothing fits: the reading whose first header is right tells best what is amiss.
    messages(if begins(&values) && !begins(&wire) {
        &values
    } else {
        &wire
    })
}

/// Hexadecimal digits that stood together, lower case.
struct Token {
    digits: String,
}

fn tokens(text: &str) -> Result<Vec<Token>, Problem> {
    const EXPECTED: &str = "hexadecimal digits, two a byte";
    if text.len() > MOST_CHARACTERS {
        return Err(Problem::new(
            "text",
            format!("{} bytes", text.len()),
            format!("at most {MOST_CHARACTERS}"),
        ));
    }
    let mut tokens: Vec<Token> = Vec::new();
    let mut bytes_so_far = 0;
    for (n, line) in text.lines().enumerate() {
        // Hex dumps repeat the bytes as characters behind a bar.
        let mut line = line.split('|').next().unwrap_or_default();
        // An offset is one only if it says how much came before: else it is data.
        if let Some((head, rest)) = line.trim_start().split_once(char::is_whitespace) {
            let digits = head.strip_suffix(':').unwrap_or(head);
            let is_offset = (digits.len() >= 4 && digits.len() <= 8)
                && usize::from_str_radix(digits, 16).is_ok_and(|at| at == bytes_so_far)
                && (head.ends_with(':') || digits.len() == 8 && rest.starts_with(' '));
            if is_offset {
                line = rest;
            }
        }
        let line = line.replace("\\x", " ");
        let divides = |c: char| c.is_whitespace() || ",;:-_.{}[]()<>\"'\\".contains(c);
        for word in line.split(divides).filter(|w| !w.is_empty()) {
            let lower = word.to_ascii_lowercase();
            let prefixed = lower.strip_prefix("0x");
            let digits = match prefixed {
                Some(rest) => rest.trim_end_matches(['u', 'l']),
                None => lower.strip_suffix('h').unwrap_or(&lower),
            };
            if digits.is_empty()
                || !digits.len().is_multiple_of(2)
                || !digits.bytes().all(|b| b.is_ascii_hexdigit())
            {
                return Err(Problem::new(
                    format!("line {}", n + 1),
                    format!("{word:?}"),
                    EXPECTED,
                ));
            }
            bytes_so_far += digits.len() / 2;
            tokens.push(Token {
                digits: digits.to_owned(),
            });
        }
    }
    if tokens.is_empty() {
        return Err(Problem::new("text", "nothing", EXPECTED));
    }
    Ok(tokens)
}

/// Digits to bytes: in the order they stand, or with numbers of 4 and 8 digits taken as values,
/// whose low byte is first on the wire.
fn bytes_of(tokens: &[Token], as_values: bool) -> Vec<u8> {
    let mut bytes = Vec::new();
    for Token { digits } in tokens {
        let mut these: Vec<u8> = (0..digits.len() / 2)
            .map(|i| u8::from_str_radix(&digits[2 * i..2 * i + 2], 16).unwrap_or_default())
            .collect();
        if as_values && matches!(digits.len(), 4 | 8) {
            these.reverse();
        }
        bytes.extend(these);
    }
    bytes
}

fn header_at(bytes: &[u8], at: usize) -> Option<u16> {
    Some(u16::from_le_bytes([*bytes.get(at)?, *bytes.get(at + 1)?]))
}

/// Is this the header of a capability list?
fn is_list(header: u16) -> bool {
    match (header >> 15, header & 0x1f) {
        (0, SOURCE_CAPABILITIES) => header >> 12 & 7 > 0,
        (1, EPR_SOURCE_CAPABILITIES) => true,
        _ => false,
    }
}

fn begins(bytes: &[u8]) -> bool {
    header_at(bytes, 0).is_some_and(is_list)
}

/// Bytes of the message at `at`, its header included, as the header tells.
fn length_at(bytes: &[u8], at: usize) -> Option<usize> {
    let header = header_at(bytes, at)?;
    let count = usize::from(header >> 12 & 7);
    let extension = header_at(bytes, at + 2);
    match extension.filter(|_| header >> 15 == 1) {
        // Without chunks the count of objects says nothing and the size all.
        Some(extension) if extension >> 15 == 0 => Some(4 + usize::from(extension & 0x1ff)),
        _ => Some(2 + 4 * count),
    }
}

/// Do headers of capability lists divide the bytes without a rest?
fn tiles(bytes: &[u8]) -> bool {
    let mut at = 0;
    while at < bytes.len() {
        match (header_at(bytes, at), length_at(bytes, at)) {
            (Some(header), Some(length)) if is_list(header) => at += length,
            _ => return false,
        }
    }
    at == bytes.len()
}

/// Objects without any header.
fn objects(bytes: &[u8]) -> Result<Capabilities, Vec<Problem>> {
    let words = words_of(bytes);
    if words.len() > MOST_OBJECTS {
        return Err(vec![Problem::new(
            "text",
            format!("{} objects", words.len()),
            format!("at most {MOST_OBJECTS}"),
        )]);
    }
    let extended = words.len() > 7;
    checked(
        Capabilities {
            words,
            revision: None,
            extended,
        },
        "",
    )
}

fn words_of(bytes: &[u8]) -> Vec<u32> {
    bytes
        .chunks_exact(4)
        .map(|b| u32::from_le_bytes([b[0], b[1], b[2], b[3]]))
        .collect()
}

/// Refuses a list with malformed objects, all of them at once.
fn checked(list: Capabilities, place: &str) -> Result<Capabilities, Vec<Problem>> {
    let problems: Vec<Problem> = list
        .words
        .iter()
        .enumerate()
        .filter_map(|(i, &word)| {
            let wrong = PowerDataObject::decode(word).err()?;
            Some(Problem::new(
                format!("{place}object {}", i + 1),
                written(word),
                wrong.to_string(),
            ))
        })
        .collect();
    if !problems.is_empty() {
        return Err(problems);
    }
    if list.words.iter().all(|&word| word == 0) {
        return Err(vec![Problem::new(
            format!("{place}objects"),
            "only zeros",
            "at least one power data object",
        )]);
    }
    Ok(list)
}

/// Every message in turn; chunks of one extended list are put together.
fn messages(bytes: &[u8]) -> Result<Capabilities, Vec<Problem>> {
    let fault = |place: String, found: String, expected: &str| {
        Err(vec![Problem::new(place, found, expected)])
    };
    let mut plain: Option<Capabilities> = None;
    let mut extended: Option<Capabilities> = None;
    let mut chunks = Chunks::default();
    let (mut at, mut n) = (0, 0);
    while at < bytes.len() {
        n += 1;
        let place = format!("message {n}, header");
        let Some(header) = header_at(bytes, at) else {
            return fault(place, "1 byte".to_owned(), "two bytes");
        };
        let found = format!("0x{header:04X}");
        let wrong = |high: u32, low: u32, field, expected: &str| WrongBits {
            high,
            low,
            field,
            found: bits(u32::from(header), high, low),
            expected: expected.to_owned(),
        };
        let is_extended = header >> 15 == 1;
        let kind = header & 0x1f;
        let wanted = if is_extended {
            EPR_SOURCE_CAPABILITIES
        } else {
            SOURCE_CAPABILITIES
        };
        if kind != wanted {
            let expected = if is_extended {
                "10001 (EPR_Source_Capabilities)"
            } else {
                "00001 (Source_Capabilities)"
            };
            return fault(
                place,
                found,
                &wrong(4, 0, "message type", expected).to_string(),
            );
        }
        let length = length_at(bytes, at).unwrap_or(2);
        let Some(message) = bytes.get(at..at + length) else {
            return fault(
                format!("message {n}"),
                format!("{} bytes", bytes.len() - at),
                &format!("{length} bytes, as its header {found} says"),
            );
        };
        at += length;
        let extension = header_at(message, 2).unwrap_or_default();
        // A sink asks for the next chunk under the same type: no part of the list.
        if is_extended && extension >> 10 & 1 == 1 {
            continue;
        }
        if header >> 8 & 1 == 0 {
            return fault(
                place,
                found,
                &wrong(8, 8, "power role", "1 (source)").to_string(),
            );
        }
        if header >> 6 & 3 == 3 {
            let expected = "00 (R1.0), 01 (R2.0) or 10 (R3.x)";
            return fault(place, found, &wrong(7, 6, "revision", expected).to_string());
        }
        let revision = Some((header >> 6 & 3) as u8 + 1);
        if !is_extended {
            if header >> 12 & 7 == 0 {
                return fault(
                    place,
                    found,
                    &wrong(14, 12, "number of objects", "1 to 7").to_string(),
                );
            }
            let list = checked(
                Capabilities {
                    words: words_of(&message[2..]),
                    revision,
                    extended: false,
                },
                &format!("message {n}, "),
            )?;
            if plain
                .as_ref()
                .is_some_and(|before| before.words != list.words)
            {
                return fault(
                    format!("message {n}"),
                    "another list".to_owned(),
                    "one source's list at a time",
                );
            }
            plain = Some(list);
            continue;
        }
        if let Some(words) = chunks
            .take(extension, message.get(4..).unwrap_or_default())
            .map_err(|(found, expected)| {
                vec![Problem::new(
                    format!("message {n}, extended header"),
                    found,
                    expected,
                )]
            })?
        {
            let list = checked(
                Capabilities {
                    words,
                    revision,
                    extended: true,
                },
                "",
            )?;
            if extended
                .as_ref()
                .is_some_and(|before| before.words != list.words)
            {
                return fault(
                    format!("message {n}"),
                    "another list".to_owned(),
                    "one source's list at a time",
                );
            }
            extended = Some(list);
        }
    }
    if let Some(missing) = chunks.missing() {
        return fault(
            "extended list".to_owned(),
            format!("chunk {missing} is missing"),
            "every chunk of the list",
        );
    }
    match (plain, extended) {
        // The extended list begins with the whole standard one.
        (Some(plain), Some(extended)) if !extended.words.starts_with(&plain.words) => fault(
            "messages".to_owned(),
            "two lists that differ".to_owned(),
            "one source's list at a time",
        ),
        (_, Some(list)) | (Some(list), None) => Ok(list),
        (None, None) => fault(
            "messages".to_owned(),
            "no list".to_owned(),
            "Source_Capabilities or EPR_Source_Capabilities",
        ),
    }
}

/// Chunks of one extended message, in any order, repeats allowed.
#[derive(Default)]
struct Chunks {
    size: usize,
    parts: Vec<Option<Vec<u8>>>,
    whole: bool,
}

impl Chunks {
    /// Adds a message's data; the list, once all of it is there.
    fn take(&mut self, extension: u16, data: &[u8]) -> Result<Option<Vec<u32>>, (String, String)> {
        let found = format!("0x{extension:04X}");
        let wrong = |high: u32, low: u32, field, expected: String| {
            let found_bits = bits(u32::from(extension), high, low);
            let wrong = WrongBits {
                high,
                low,
                field,
                found: found_bits,
                expected,
            };
            Err((found.clone(), wrong.to_string()))
        };
        let size = usize::from(extension & 0x1ff);
        if extension >> 9 & 1 == 1 {
            return wrong(9, 9, "reserved", "0".to_owned());
        }
        if size == 0 || !size.is_multiple_of(4) || size > 4 * MOST_OBJECTS {
            return wrong(
                8,
                0,
                "data size",
                format!("a multiple of 4 from 4 to {} bytes", 4 * MOST_OBJECTS),
            );
        }
        if extension >> 15 == 0 {
            return Ok(data.get(..size).map(words_of));
        }
        let number = usize::from(extension >> 11 & 0xf);
        let count = size.div_ceil(CHUNK_BYTES);
        if number >= count {
            return wrong(
                14,
                11,
                "chunk number",
                format!("below {count}, as {size} bytes need no more chunks"),
            );
        }
        if self.parts.is_empty() || self.whole {
            *self = Chunks {
                size,
                parts: vec![None; count],
                whole: false,
            };
        }
        if size != self.size {
            return wrong(
                8,
                0,
                "data size",
                format!("{}, as in the other chunks", self.size),
            );
        }
        let wanted = (size - number * CHUNK_BYTES).min(CHUNK_BYTES);
        let Some(part) = data.get(..wanted) else {
            return Err((
                format!("{} bytes of data", data.len()),
                format!("{wanted} bytes in chunk {number}"),
            ));
        };
        self.parts[number] = Some(part.to_vec());
        let Some(whole) = self.parts.iter().cloned().collect::<Option<Vec<_>>>() else {
            return Ok(None);
        };
        self.whole = true;
        Ok(Some(words_of(&whole.concat())))
    }

    /// The first chunk that never came.
    fn missing(&self) -> Option<usize> {
        self.parts.iter().position(Option::is_none)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// A 45 W source's list as captured, public test data of an open implementation.
    const PLAIN: &str = "A1712C9101082CD102002CB10400E14006006421DCC83C2140C92D21A4C9";
    /// An extended list of 10 objects in two chunks, from the same.
    const CHUNKS: [&str; 2] = [
        "B1FD28802C91910A2CD112002CC113002CB11400F44116006432A4C90000",
        "B1CF28880000F4C11800F4411B00F4011F00",
    ];

    fn texts(list: &Capabilities) -> Vec<String> {
        list.objects().iter().map(|(_, o)| o.to_string()).collect()
    }

    fn spaced(hex: &str, digits: usize, between: &str) -> String {
        let groups: Vec<&str> = hex
            .as_bytes()
            .chunks(digits)
            .map(|c| std::str::from_utf8(c).unwrap())
            .collect();
        groups.join(between)
    }

    proptest! {
        #[test]
        fn the_fields_of_a_word_divide_all_its_bits(word: u32) {
            let mut next = 32;
            let mut again = 0;
            for f in word_fields(word) {
                prop_assert_eq!(f.high + 1, next);
                again |= f.raw << f.low;
                next = f.low;
            }
            prop_assert_eq!((next, again), (0, word));
        }
    }

    #[test]
    fn the_fields_of_a_word_say_what_decoding_says() {
        let said = |word: u32, name: &str| {
            word_fields(word)
                .into_iter()
                .find(|f| f.name == name)
                .map(|f| f.meaning)
        };
        assert_eq!(said(0x0006_40E1, "voltage").as_deref(), Some("20 V"));
        assert_eq!(
            said(0x0006_40E1, "maximum current").as_deref(),
            Some("2.25 A")
        );
        assert_eq!(said(0xC9A4_3264, "power limited").as_deref(), Some("yes"));
        assert_eq!(said(0xC9A4_3264, "minimum voltage").as_deref(), Some("5 V"));
        assert_eq!(said(0xD230_968C, "power").as_deref(), Some("140 W"));
        assert_eq!(said(0x0041_912C, "reserved").as_deref(), Some("must be 0"));
    }

    #[test]
    fn a_pasted_message_is_read_in_any_usual_spelling() {
        let expected = read(PLAIN).unwrap();
        assert_eq!(
            texts(&expected),
            [
                "fixed 5 V 3 A [unconstrained]",
                "fixed 9 V 3 A",
                "fixed 15 V 3 A",
                "fixed 20 V 2.25 A",
                "PPS 3.3-11 V 5 A power_limited",
                "PPS 3.3-16 V 3 A power_limited",
                "PPS 3.3-21 V 2.25 A power_limited",
            ]
        );
        assert_eq!(expected.revision, Some(3));
        let bytes = spaced(PLAIN, 2, " ");
        let listed = format!("{{ 0x{} }};", spaced(PLAIN, 2, ", 0x"));
        let escaped = format!("\"\\x{}\"", spaced(PLAIN, 2, "\\x"));
        let dump = format!(
            "00000000  {}  |.q,.............|\n00000010  {}  |d!..<!@.-!..|\n",
            &bytes[..47],
            &bytes[48..]
        );
        let short_dump = format!("0000: {}\n0010: {}", &bytes[..47], &bytes[48..]);
        for text in [
            PLAIN.to_lowercase(),
            format!("0x{PLAIN}"),
            bytes.clone(),
            bytes.to_lowercase().replace(' ', ":"),
            bytes.replace(' ', "-"),
            bytes.replace(' ', "h "),
            spaced(PLAIN, 4, " "),
            spaced(PLAIN, 8, "\n"),
            listed,
            escaped,
            dump,
            short_dump,
            "71A1 0801912C 0002D12C 0004B12C 000640E1 C8DC2164 C940213C C9A4212D".to_owned(),
            "0x71a1, 0x0801912cu, 0x0002d12cu, 0x0004b12cu, 0x000640e1u, 0xc8dc2164u, 0xc940213cu, 0xc9a4212du"
                .to_owned(),
            // the same message twice, as traces have it
            format!("{PLAIN}\n{PLAIN}"),
        ] {
            assert_eq!(read(&text).as_ref(), Ok(&expected), "{text}");
        }
        let bare = read("0x0801912C 0x0002D12C").unwrap();
        assert_eq!(bare.source_capabilities(), ["0x0801912C", "0x0002D12C"]);
        assert_eq!(bare.revision, None);
        // without a header, in the order of the wire
        assert_eq!(read("2C 91 01 08 2C D1 02 00").unwrap(), bare);
        assert_eq!(read("2C910108 2CD10200").unwrap(), bare);
        // one object that is not the 5 V one
        assert_eq!(texts(&read("0x0002D12C").unwrap()), ["fixed 9 V 3 A"]);
    }

    #[test]
    fn the_chunks_of_an_extended_list_are_put_together_in_any_order() {
        let whole = read(&CHUNKS.join("\n")).unwrap();
        assert!(whole.extended);
        assert_eq!(whole.words.len(), 10);
        assert_eq!(whole.words[6], 0, "padding keeps its place");
        assert_eq!(whole.objects()[6].0, 8);
        assert_eq!(texts(&whole)[6], "fixed 28 V 5 A peak=1");
        let turned = format!("{} {}", CHUNKS[1], CHUNKS[0]);
        assert_eq!(read(&turned).as_ref(), Ok(&whole));
        // The sink's request between the chunks is no part of the list.
        let traced = format!("{} B1 90 00 8C 00 00 {}", CHUNKS[0], CHUNKS[1]);
        assert_eq!(read(&traced).as_ref(), Ok(&whole));
        // Its standard part alone came before.
        let standard = "A1612C91910A2CD112002CC113002CB11400F44116006432A4C9";
        let both = format!("{standard}\n{}", CHUNKS.join("\n"));
        assert_eq!(read(&both).as_ref(), Ok(&whole));
        // Without chunks: 40 bytes behind one extended header.
        let data = format!("{}{}", &CHUNKS[0][8..], &CHUNKS[1][8..]);
        assert_eq!(read(&format!("B18D2800{data}")).unwrap().words, whole.words);

        let lonely = read(CHUNKS[0]).unwrap_err();
        assert_eq!(lonely[0].value, "chunk 1 is missing");
        let mixed = read(&format!("{PLAIN}\n{}", CHUNKS.join(""))).unwrap_err();
        assert_eq!(mixed[0].value, "two lists that differ");
    }

    #[test]
    fn what_is_wrong_is_refused_with_its_bits() {
        for (word, high, low) in [
            (0xF000_0401, 29, 28),
            (0x0841_912C, 22, 22),
            (0x0000_012C, 19, 10),
            (0xC8DD_2128, 16, 16),
            (0xC8DC_21A8, 7, 7),
            (0xCADC_2128, 26, 25),
            (0xC8DC_FF28, 24, 17),
            (0xE014_B145, 25, 20),
            (0xD231_968C, 16, 16),
            (0xD002_968C, 25, 17),
            (0x8010_0801, 29, 20),
            (0x4010_0801, 29, 20),
        ] {
            let wrong = PowerDataObject::decode(word).unwrap_err();
            assert_eq!((wrong.high, wrong.low), (high, low), "{word:08X}");
        }
        let message = |text: &str| read(text).unwrap_err()[0].to_string();
        assert_eq!(
            message("0x0801912C 0xF0000401"),
            "object 2: 0xF0000401; expected bits 29:28 (kind of augmented object) to be 00 (PPS), \
             01 (EPR AVS) or 10 (SPR AVS); they are 11"
        );
        assert_eq!(
            message(&PLAIN.replace("A171", "A271")),
            "message 1, header: 0x71A2; expected bits 4:0 (message type) to be 00001 \
             (Source_Capabilities); they are 00010"
        );
        assert_eq!(
            message(&PLAIN.replace("A171", "A170")),
            "message 1, header: 0x70A1; expected bit 8 (power role) to be 1 (source); it is 0"
        );
        assert_eq!(
            message(&PLAIN.replace("A171", "E171")),
            "message 1, header: 0x71E1; expected bits 7:6 (revision) to be 00 (R1.0), 01 (R2.0) \
             or 10 (R3.x); they are 11"
        );
        assert_eq!(
            message(&PLAIN[..56]),
            "message 1: 28 bytes; expected 30 bytes, as its header 0x71A1 says"
        );
        assert_eq!(
            message("A1 71 2C 9"),
            "line 1: \"9\"; expected hexadecimal digits, two a byte"
        );
        assert_eq!(
            message("5 V 3 A"),
            "line 1: \"5\"; expected hexadecimal digits, two a byte"
        );
        assert!(message(" \n").starts_with("text: nothing"));
        assert!(message("00 00 00 00").contains("message type"), "no list");
        assert!(message("00000000").contains("only zeros"));
    }

    #[test]
    fn a_value_between_the_steps_of_its_field_is_not_encoded() {
        let object = PowerDataObject::Fixed {
            flags: FixedFlags::default(),
            peak_current: 0,
            voltage_mv: 9_000,
            current_ma: 2_222,
        };
        let refused = object.encode().unwrap_err();
        assert_eq!(
            refused.to_string(),
            "current_ma: 2222; expected a multiple of 10 up to 10230"
        );
    }

    #[test]
    fn objects_become_the_modes_of_a_label() {
        let modes = |word| PowerDataObject::decode(word).unwrap().unwrap().modes();
        assert_eq!(
            modes(0xE004_B145),
            [
                Mode::Avs {
                    voltage_min_v: 9.0,
                    voltage_max_v: 15.0,
                    current_a: 3.0
                },
                Mode::Avs {
                    voltage_min_v: 15.0,
                    voltage_max_v: 20.0,
                    current_a: 3.25
                },
            ]
        );
        assert_eq!(
            modes(0xD230_968C),
            [Mode::Avs {
                voltage_min_v: 15.0,
                voltage_max_v: 28.0,
                current_a: 5.0
            }]
        );
    }

    fn any_object() -> impl Strategy<Value = PowerDataObject> {
        let flags = any::<[bool; 7]>().prop_map(|b| FixedFlags {
            dual_role_power: b[0],
            usb_suspend: b[1],
            unconstrained: b[2],
            usb_communications: b[3],
            dual_role_data: b[4],
            unchunked: b[5],
            epr_capable: b[6],
        });
        let range = |most: u32, step: u32| {
            (0..=most, 1..=most).prop_map(move |(a, b)| (a.min(b) * step, a.max(b) * step))
        };
        prop_oneof![
            (flags, 0..4u8, 1..=1023u32, 0..=1023u32).prop_map(|(flags, peak_current, v, i)| {
                PowerDataObject::Fixed {
                    flags,
                    peak_current,
                    voltage_mv: v * 50,
                    current_ma: i * 10,
                }
            }),
            (range(1023, 50), 0..=1023u32).prop_map(|((min, max), p)| PowerDataObject::Battery {
                voltage_min_mv: min,
                voltage_max_mv: max,
                power_mw: p * 250,
            }),
            (range(1023, 50), 0..=1023u32).prop_map(|((min, max), i)| PowerDataObject::Variable {
                voltage_min_mv: min,
                voltage_max_mv: max,
                current_ma: i * 10,
            }),
            (any::<bool>(), range(255, 100), 0..=127u32).prop_map(|(limited, (min, max), i)| {
                PowerDataObject::Pps {
                    power_limited: limited,
                    voltage_min_mv: min,
                    voltage_max_mv: max,
                    current_ma: i * 50,
                }
            }),
            (0..4u8, 0..=1023u32, 0..=1023u32).prop_map(|(peak_current, a, b)| {
                PowerDataObject::SprAvs {
                    peak_current,
                    current_to_15v_ma: a * 10,
                    current_to_20v_ma: b * 10,
                }
            }),
            (0..4u8, range(255, 100), 0..=255u32).prop_map(|(peak_current, (min, max), p)| {
                PowerDataObject::EprAvs {
                    peak_current,
                    voltage_min_mv: min,
                    voltage_max_mv: max,
                    power_w: p,
                }
            }),
        ]
    }

    /// A list as a source sends it, in as many chunks as it takes.
    fn sent(words: &[u32]) -> Vec<Vec<u8>> {
        let data: Vec<u8> = words.iter().flat_map(|w| w.to_le_bytes()).collect();
        if words.len() <= 7 {
            let header = 0x01A1 | (words.len() as u16) << 12;
            return vec![[&header.to_le_bytes()[..], &data].concat()];
        }
        data.chunks(CHUNK_BYTES)
            .enumerate()
            .map(|(number, part)| {
                let objects = (2 + part.len()).div_ceil(4);
                let header = 0x81B1 | (objects as u16) << 12;
                let extension = 0x8000 | (number as u16) << 11 | data.len() as u16;
                let mut message =
                    [&header.to_le_bytes()[..], &extension.to_le_bytes(), part].concat();
                message.resize(2 + 4 * objects, 0);
                message
            })
            .collect()
    }

    fn hex(bytes: &[u8]) -> String {
        bytes.iter().map(|b| format!("{b:02X}")).collect()
    }

    proptest! {
        #[test]
        fn random_capabilities_come_back_without_loss(object in any_object()) {
            let word = object.encode().unwrap();
            prop_assert_eq!(PowerDataObject::decode(word), Ok(Some(object)));
        }

        #[test]
        fn any_word_is_an_object_that_encodes_to_it_or_is_refused_with_its_bits(word in any::<u32>()) {
            match PowerDataObject::decode(word) {
                Ok(Some(object)) => {
                    prop_assert_eq!(object.encode(), Ok(word));
                    prop_assert!(object.voltage_min_v() <= object.voltage_max_v());
                    prop_assert!(!object.to_string().is_empty());
                }
                Ok(None) => prop_assert_eq!(word, 0),
                Err(wrong) => {
                    prop_assert!(wrong.high < 32 && wrong.low <= wrong.high);
                    prop_assert_eq!(wrong.found, bits(word, wrong.high, wrong.low));
                }
            }
        }

        #[test]
        fn whole_messages_come_back_without_loss(objects in prop::collection::vec(any_object(), 1..=11)) {
            let words: Vec<u32> = objects.iter().map(|o| o.encode().unwrap()).collect();
            let messages: Vec<String> = sent(&words).iter().map(|m| hex(m)).collect();
            let list = read(&messages.join("\n")).map_err(|f| TestCaseError::fail(format!("{f:?}")))?;
            prop_assert_eq!(&list.words, &words);
            prop_assert_eq!(list.extended, words.len() > 7);
        }

        #[test]
        fn arbitrary_text_never_panics(text in ".{0,80}") {
            let _ = read(&text);
        }

        #[test]
        fn arbitrary_bytes_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..80), digits in 1..9usize) {
            let _ = read(&spaced(&hex(&bytes), digits, " "));
        }

        #[test]
        fn a_damaged_message_never_panics(
            at in 0..48usize, byte in any::<u8>(), cut in 0..48usize
        ) {
            let mut bytes: Vec<u8> = CHUNKS
                .concat()
                .as_bytes()
                .chunks(2)
                .map(|c| u8::from_str_radix(std::str::from_utf8(c).unwrap(), 16).unwrap())
                .collect();
            bytes[at] = byte;
            bytes.truncate(bytes.len() - cut);
            let _ = read(&hex(&bytes));
        }
    }
}
