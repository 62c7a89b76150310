//! What words and units over a column mean, in English and German.

use crate::bench::record::LogQuantity;

/// A quantity as messages name it.
pub fn words(quantity: LogQuantity) -> &'static str {
    match quantity {
        LogQuantity::InputPowerW => "input power in W",
        LogQuantity::InputVoltageV => "input voltage in V",
        LogQuantity::InputCurrentA => "input current in A",
        LogQuantity::InputCurrentPeakA => "peak input current in A",
        LogQuantity::PowerFactor => "power factor",
        LogQuantity::CurrentThdPercent => "current THD in %",
        LogQuantity::OutputVoltageV => "output voltage in V",
        LogQuantity::OutputCurrentA => "output current in A",
        LogQuantity::OutputPowerW => "output power in W",
        LogQuantity::AmbientC => "ambient temperature in °C",
        LogQuantity::SurfaceC => "surface temperature in °C",
        LogQuantity::LineVoltageSampleV => "line voltage sample in V",
        LogQuantity::LineCurrentSampleA => "line current sample in A",
    }
}

/// What a unit measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    Watt,
    Volt,
    Ampere,
    Percent,
    Celsius,
    /// A ratio without unit, such as a power factor.
    One,
    Second,
    /// A unit of something that no column can hold: VA, var, Wh, Hz, Ω, K and °F.
    Other,
}

/// Kind of what a quantity is given in.
pub fn kind_of(quantity: LogQuantity) -> Kind {
    match quantity {
        LogQuantity::InputPowerW | LogQuantity::OutputPowerW => Kind::Watt,
        LogQuantity::InputVoltageV
        | LogQuantity::OutputVoltageV
        | LogQuantity::LineVoltageSampleV => Kind::Volt,
        LogQuantity::InputCurrentA
        | LogQuantity::InputCurrentPeakA
        | LogQuantity::OutputCurrentA
        | LogQuantity::LineCurrentSampleA => Kind::Ampere,
        LogQuantity::PowerFactor => Kind::One,
        LogQuantity::CurrentThdPercent => Kind::Percent,
        LogQuantity::AmbientC | LogQuantity::SurfaceC => Kind::Celsius,
    }
}

/// A unit as it is written, and what a number in it is multiplied by to be in the unit of its kind:
/// `mW` is a watt by 0.001, `ms` a second by 0.001.
pub fn unit(text: &str) -> Option<(Kind, f64)> {
    let text = text
        .trim()
        .trim_matches(['[', ']', '(', ')', '{', '}', '<', '>'])
        .trim();
    if let Some(found) = whole_unit(text) {
        return Some(found);
    }
    // A prefix in front of a unit.
    let mut rest = text.chars();
    let factor = match rest.next()? {
        'n' => 1e-9,
        'u' | 'µ' | 'μ' => 1e-6,
        'm' => 1e-3,
        'k' | 'K' => 1e3,
        'M' => 1e6,
        'G' => 1e9,
        _ => return None,
    };
    match whole_unit(rest.as_str())? {
        (Kind::Percent | Kind::Celsius | Kind::One, _) => None,
        // Milliminutes are no unit.
        (Kind::Second, base) if base != 1.0 || factor > 1.0 => None,
        (kind, base) => Some((kind, base * factor)),
    }
}

/// A unit without a prefix.
fn whole_unit(text: &str) -> Option<(Kind, f64)> {
    // Letters whose size tells: s is a second, S a siemens or a sample.
    match text {
        "W" => return Some((Kind::Watt, 1.0)),
        "V" => return Some((Kind::Volt, 1.0)),
        "A" => return Some((Kind::Ampere, 1.0)),
        "s" => return Some((Kind::Second, 1.0)),
        "h" => return Some((Kind::Second, 3600.0)),
        "C" | "°C" | "℃" => return Some((Kind::Celsius, 1.0)),
        "K" | "Ω" | "\u{2126}" | "S" => return Some((Kind::Other, 1.0)),
        _ => {}
    }
    let kind = match text.to_lowercase().as_str() {
        "watt" | "watts" => (Kind::Watt, 1.0),
        "volt" | "volts" | "vrms" | "v rms" | "v_rms" | "vac" | "vdc" | "v ac" | "v dc"
        | "veff" | "v eff" | "vpk" | "v pk" | "vp" => (Kind::Volt, 1.0),
        "amp" | "amps" | "ampere" | "amperes" | "arms" | "a rms" | "a_rms" | "aac" | "adc"
        | "a ac" | "a dc" | "aeff" | "a eff" | "apk" | "a pk" | "ap" | "apeak" => {
            (Kind::Ampere, 1.0)
        }
        "%" | "percent" | "prozent" | "% thd" | "%thd" => (Kind::Percent, 1.0),
        "degc" | "deg c" | "deg. c" | "°c" | "celsius" | "grad c" | "grad celsius" | "gradc" => {
            (Kind::Celsius, 1.0)
        }
        "sec" | "secs" | "second" | "seconds" | "sek" | "sekunde" | "sekunden" => {
            (Kind::Second, 1.0)
        }
        "min" | "mins" | "minute" | "minutes" | "minuten" => (Kind::Second, 60.0),
        "hr" | "hrs" | "hour" | "hours" | "std" | "stunde" | "stunden" => (Kind::Second, 3600.0),
        "msec" | "millisecond" | "milliseconds" | "millisekunden" => (Kind::Second, 1e-3),
        "usec" | "µsec" | "microsecond" | "microseconds" | "mikrosekunden" => (Kind::Second, 1e-6),
        "va" | "var" | "vars" | "wh" | "ah" | "vah" | "varh" | "hz" | "hertz" | "ohm" | "ohms"
        | "°f" | "degf" | "db" | "°" | "deg" | "j" => (Kind::Other, 1.0),
        "-" | "1" => (Kind::One, 1.0),
        _ => return None,
    };
    Some(kind)
}

/// What a number in `unit` is multiplied by to be the quantity in its own unit.
pub fn factor_to(quantity: LogQuantity, text: &str) -> Option<f64> {
    match (kind_of(quantity), unit(text)?) {
        (wanted, (kind, factor)) if wanted == kind => Some(factor),
        (Kind::One, (Kind::Percent, _)) => Some(0.01),
        _ => None,
    }
}

/// A heading taken apart.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Heading {
    /// What it says besides the unit.
    pub name: String,
    /// The unit as it is written.
    pub unit: Option<String>,
}

impl Heading {
    /// `P (mW)`, `U1/V`, `Power [W]`, `Voltage, V`, `Strom in mA`, `t_s`, `Watt`.
    pub fn of(text: &str) -> Heading {
        let text = text.trim().trim_start_matches(['#', '%', ';', '\'']).trim();
        let told = |name: &str, unit: &str| Heading {
            name: name
                .trim()
                .trim_end_matches([',', ':', '/', '_', '-'])
                .trim()
                .to_owned(),
            unit: Some(unit.trim().to_owned()),
        };
        for (open, close) in [('[', ']'), ('(', ')'), ('{', '}'), ('<', '>')] {
            if let Some((before, rest)) = text.rsplit_once(open)
                && let Some((inside, after)) = rest.split_once(close)
                && unit(inside).is_some()
            {
                return told(&format!("{before} {after}"), inside);
            }
        }
        for separator in ["/", ",", " in ", ":", " "] {
            if let Some((before, after)) = text.rsplit_once(separator)
                && !before.trim().is_empty()
                && let Some((kind, _)) = unit(after)
                && kind != Kind::One
                && !(separator == " " && is_name(before, after, kind))
            {
                return told(before, after);
            }
        }
        if let Some((before, after)) = text.rsplit_once('_')
            && let Some(unit) = of_identifier(after)
        {
            return told(before, unit);
        }
        if unit(text).is_some() && text != "1" && text != "-" {
            return told("", text);
        }
        Heading {
            name: text.to_owned(),
            unit: None,
        }
    }
}

/// Is a letter behind a space a name rather than a unit? `Voltage port A` is in no amperes.
fn is_name(before: &str, letter: &str, kind: Kind) -> bool {
    if letter.chars().count() > 1 {
        return false;
    }
    let last = before.split_whitespace().next_back().unwrap_or("");
    let is_numbered = ["port", "phase", "channel", "ch", "usb", "line", "kanal"]
        .iter()
        .any(|word| last.eq_ignore_ascii_case(word));
    let spoken_of = match Meaning::of(before).topic {
        Some(Topic::Power) => Some(Kind::Watt),
        Some(Topic::Voltage) => Some(Kind::Volt),
        Some(Topic::Current) => Some(Kind::Ampere),
        Some(Topic::Temperature) => Some(Kind::Celsius),
        _ => None,
    };
    is_numbered || spoken_of.is_some_and(|spoken_of| spoken_of != kind)
}

/// The unit at the end of a name such as `p_mw`.
fn of_identifier(text: &str) -> Option<&str> {
    if unit(text).is_some_and(|(kind, _)| kind != Kind::One) {
        return Some(text);
    }
    let units = [
        ("w", "W"),
        ("mw", "mW"),
        ("uw", "uW"),
        ("kw", "kW"),
        ("v", "V"),
        ("mv", "mV"),
        ("kv", "kV"),
        ("a", "A"),
        ("ma", "mA"),
        ("ua", "uA"),
        ("c", "°C"),
        ("pct", "%"),
        ("va", "VA"),
        ("var", "var"),
        ("S", "s"),
        ("MS", "ms"),
    ];
    units
        .iter()
        .find(|(written, _)| *written == text)
        .map(|(_, unit)| *unit)
}

/// What a heading without its unit seems to speak of.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Meaning {
    pub topic: Option<Topic>,
    pub side: Option<Side>,
    pub peak: bool,
    pub surface: bool,
    /// Label of the port as it is written.
    pub port: Option<String>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Topic {
    Time,
    /// A running number.
    Count,
    Power,
    Voltage,
    Current,
    PowerFactor,
    CurrentThd,
    Temperature,
    /// Known, and nothing that a column of ours holds: apparent power, energy, frequency, status.
    Other,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    Input,
    Output,
}

const TIME: &[&str] = &[
    "time",
    "zeit",
    "t",
    "elapsed",
    "timestamp",
    "zeitstempel",
    "uhrzeit",
    "clock",
    "laufzeit",
    "datum",
    "date",
    "datetime",
    "messzeit",
    "runtime",
    "sec",
    "seconds",
    "epoch",
    "stamp",
];
const COUNT: &[&str] = &[
    "no",
    "nr",
    "index",
    "idx",
    "sample",
    "samples",
    "n",
    "count",
    "lfd",
    "record",
    "scan",
    "row",
    "messung",
    "messpunkt",
    "punkt",
    "number",
    "nummer",
    "zeile",
    "id",
];
const POWER: &[&str] = &[
    "power",
    "leistung",
    "wirkleistung",
    "p",
    "pwr",
    "pin",
    "pout",
    "pac",
    "pdc",
    "watt",
    "watts",
];
const VOLTAGE: &[&str] = &[
    "voltage",
    "spannung",
    "netzspannung",
    "ausgangsspannung",
    "eingangsspannung",
    "volt",
    "volts",
    "u",
    "v",
    "urms",
    "vrms",
    "vin",
    "vout",
    "uin",
    "uout",
    "vac",
    "vdc",
    "vbus",
    "vl",
    "ul",
];
const CURRENT: &[&str] = &[
    "current",
    "strom",
    "netzstrom",
    "ausgangsstrom",
    "eingangsstrom",
    "laststrom",
    "amp",
    "amps",
    "ampere",
    "i",
    "irms",
    "iin",
    "iout",
    "iac",
    "idc",
    "il",
    "ibus",
];
const OTHER: &[&str] = &[
    "apparent",
    "scheinleistung",
    "reactive",
    "blindleistung",
    "energy",
    "energie",
    "frequency",
    "freq",
    "frequenz",
    "crest",
    "scheitelfaktor",
    "angle",
    "status",
    "flag",
    "flags",
    "range",
    "bereich",
    "event",
    "marker",
    "comment",
    "kommentar",
    "remark",
    "charge",
    "ladung",
    "resistance",
    "widerstand",
    "humidity",
    "feuchte",
    "efficiency",
    "wirkungsgrad",
    "harmonic",
];
const OUTPUT: &[&str] = &[
    "out",
    "output",
    "ausgang",
    "ausgangsspannung",
    "ausgangsstrom",
    "ausgangsleistung",
    "load",
    "last",
    "laststrom",
    "dc",
    "secondary",
    "sekundär",
    "usb",
    "port",
    "vout",
    "iout",
    "pout",
    "uout",
    "vbus",
    "ibus",
    "vdc",
    "idc",
    "pdc",
];
const INPUT: &[&str] = &[
    "in",
    "input",
    "eingang",
    "eingangsspannung",
    "eingangsstrom",
    "eingangsleistung",
    "ac",
    "line",
    "mains",
    "netz",
    "netzspannung",
    "netzstrom",
    "primary",
    "primär",
    "vin",
    "iin",
    "pin",
    "uin",
    "vac",
    "iac",
    "pac",
];

impl Meaning {
    pub fn of(name: &str) -> Meaning {
        let lower = name.to_lowercase();
        let words: Vec<&str> = lower
            .split(|c: char| !c.is_alphanumeric())
            .flat_map(without_number)
            .collect();
        let any = |list: &[&str]| words.iter().any(|word| list.contains(word));
        let holds = |part: &str| lower.contains(part);
        let port = port_label(name);
        let side = if any(OUTPUT) || holds("ausgang") || port.is_some() {
            Some(Side::Output)
        } else if any(INPUT) || holds("eingang") || holds("netz") {
            Some(Side::Input)
        } else {
            None
        };
        let of_voltage = holds("thdv") || holds("thdu") || holds("vthd") || holds("uthd");
        let topic = if any(OTHER) || of_voltage || (holds("thd") && any(VOLTAGE)) {
            Some(Topic::Other)
        } else if holds("thd") || holds("klirr") {
            Some(Topic::CurrentThd)
        } else if any(&["pf", "cos", "cosphi", "cosφ", "lambda", "λ"])
            || holds("power factor")
            || holds("power_factor")
            || holds("powerfactor")
            || holds("leistungsfaktor")
        {
            Some(Topic::PowerFactor)
        } else if holds("temp")
            || any(&["ambient", "umgebung", "tamb", "amb", "ta", "raum", "room"])
            || is_surface(&lower)
        {
            Some(Topic::Temperature)
        } else if any(POWER) || holds("leistung") {
            Some(Topic::Power)
        } else if any(VOLTAGE) || holds("spannung") {
            Some(Topic::Voltage)
        } else if any(CURRENT) || holds("strom") {
            Some(Topic::Current)
        } else if any(TIME) || holds("zeit") {
            Some(Topic::Time)
        } else if any(COUNT) || lower.trim() == "#" {
            Some(Topic::Count)
        } else {
            None
        };
        Meaning {
            topic: topic
                .or(any(&["ipk", "ipeak", "imax", "spitzenstrom"]).then_some(Topic::Current)),
            side,
            peak: any(&[
                "peak", "pk", "ipk", "ipeak", "imax", "vpk", "upk", "max", "spitze",
            ]) || holds("spitzen"),
            surface: is_surface(&lower),
            port,
        }
    }
}

fn is_surface(lower: &str) -> bool {
    [
        "surface",
        "oberfl",
        "gehäuse",
        "housing",
        "case",
        "enclosure",
    ]
    .iter()
    .any(|part| lower.contains(part))
}

/// A word and, where a number ends it, the word without: `u1` is a `u`.
fn without_number(word: &str) -> impl Iterator<Item = &str> {
    let bare = word.trim_end_matches(|c: char| c.is_ascii_digit());
    [word, bare]
        .into_iter()
        .take(if bare.len() < word.len() { 2 } else { 1 })
}

/// `Port A` is port A; `C1 voltage` and `USB-C2 V` name theirs.
fn port_label(name: &str) -> Option<String> {
    let words: Vec<&str> = name
        .split(|c: char| c.is_whitespace() || "_/,;:()[]".contains(c))
        .filter(|word| !word.is_empty())
        .collect();
    let is_socket =
        |word: &str| matches!(word.as_bytes(), [b'A' | b'C'] | [b'A' | b'C', b'1'..=b'9']);
    for (at, word) in words.iter().enumerate() {
        let Some(next) = words.get(at + 1) else { break };
        let lower = next.to_lowercase();
        let is_label = next.len() <= 12
            && ![VOLTAGE, CURRENT, POWER].iter().any(|list| {
                // A single letter after "port" is its label: "Port A".
                next.len() > 1 && list.contains(&lower.as_str())
            });
        let names = word.eq_ignore_ascii_case("port") && is_label
            || word.eq_ignore_ascii_case("usb") && is_socket(next);
        if names {
            return Some((*next).to_owned());
        }
    }
    words
        .iter()
        .find(|word| {
            let bare = word.strip_prefix("USB-").unwrap_or(word);
            is_socket(bare) && (bare.len() > 1 || bare.len() < word.len())
        })
        .map(|word| (*word).to_owned())
}

/// The quantity that a heading with its unit seems to be, and the factor of its unit. Without a word
/// of the output side a column belongs to the input.
pub fn quantity(meaning: &Meaning, unit_text: Option<&str>) -> Option<(LogQuantity, f64)> {
    let unit = unit_text.and_then(unit);
    let topic = match (meaning.topic, unit) {
        (Some(Topic::Other), _) | (_, Some((Kind::Other | Kind::Second, _))) => return None,
        // A unit outweighs a letter: "P1 [V]" is a voltage.
        (Some(Topic::CurrentThd), None | Some((Kind::Percent, _))) => Topic::CurrentThd,
        (Some(Topic::PowerFactor), None | Some((Kind::One | Kind::Percent, _))) => {
            Topic::PowerFactor
        }
        (_, Some((Kind::Watt, _))) => Topic::Power,
        (_, Some((Kind::Volt, _))) => Topic::Voltage,
        (_, Some((Kind::Ampere, _))) => Topic::Current,
        (_, Some((Kind::Celsius, _))) => Topic::Temperature,
        (Some(Topic::Time | Topic::Count), _) | (_, Some((Kind::Percent | Kind::One, _))) => {
            return None;
        }
        (topic, None) => topic?,
    };
    let output = meaning.side == Some(Side::Output);
    let quantity = match topic {
        Topic::Power if output => LogQuantity::OutputPowerW,
        Topic::Power => LogQuantity::InputPowerW,
        Topic::Voltage if output => LogQuantity::OutputVoltageV,
        Topic::Voltage if meaning.peak => return None,
        Topic::Voltage => LogQuantity::InputVoltageV,
        Topic::Current if output => LogQuantity::OutputCurrentA,
        Topic::Current if meaning.peak => LogQuantity::InputCurrentPeakA,
        Topic::Current => LogQuantity::InputCurrentA,
        Topic::PowerFactor => LogQuantity::PowerFactor,
        Topic::CurrentThd => LogQuantity::CurrentThdPercent,
        Topic::Temperature if meaning.surface => LogQuantity::SurfaceC,
        Topic::Temperature => LogQuantity::AmbientC,
        Topic::Time | Topic::Count | Topic::Other => return None,
    };
    let factor = match unit_text {
        Some(text) => factor_to(quantity, text)?,
        None => 1.0,
    };
    Some((quantity, factor))
}

#[cfg(test)]
mod tests {
    use super::*;
    use LogQuantity::*;

    /// What a heading alone, or with a unit below it, says.
    fn guess(text: &str) -> Option<(LogQuantity, f64, Option<String>)> {
        let heading = Heading::of(text);
        let meaning = Meaning::of(&heading.name);
        let (quantity, factor) = quantity(&meaning, heading.unit.as_deref())?;
        Some((quantity, factor, meaning.port))
    }

    #[test]
    fn headings_are_understood_in_english_and_german() {
        for (text, quantity, factor) in [
            ("U1 [V]", InputVoltageV, 1.0),
            ("I rms/mA", InputCurrentA, 0.001),
            ("power_w", InputPowerW, 1.0),
            ("P_mW", InputPowerW, 0.001),
            ("kW", InputPowerW, 1000.0),
            ("Urms-1(V)", InputVoltageV, 1.0),
            ("P-1(W)", InputPowerW, 1.0),
            ("Active Power,W", InputPowerW, 1.0),
            ("Wirkleistung in \u{b5}W", InputPowerW, 1e-6),
            ("AC voltage", InputVoltageV, 1.0),
            ("Netzstrom [A]", InputCurrentA, 1.0),
            ("Spitzenstrom in mA", InputCurrentPeakA, 0.001),
            ("I peak (A)", InputCurrentPeakA, 1.0),
            ("Ipk", InputCurrentPeakA, 1.0),
            ("Pout", OutputPowerW, 1.0),
            ("Vbus", OutputVoltageV, 1.0),
            ("DC current (mA)", OutputCurrentA, 0.001),
            ("Load current", OutputCurrentA, 1.0),
            ("Ausgangsspannung (V)", OutputVoltageV, 1.0),
            ("\u{3bb}", PowerFactor, 1.0),
            ("cos \u{3c6}", PowerFactor, 1.0),
            ("Leistungsfaktor", PowerFactor, 1.0),
            ("Power Factor (%)", PowerFactor, 0.01),
            ("THD-I %", CurrentThdPercent, 1.0),
            ("Ta [\u{b0}C]", AmbientC, 1.0),
            ("Temperature C", AmbientC, 1.0),
            ("Case temperature (degC)", SurfaceC, 1.0),
            ("Oberfl\u{e4}chentemperatur/\u{b0}C", SurfaceC, 1.0),
        ] {
            assert_eq!(guess(text), Some((quantity, factor, None)), "{text}");
        }
    }

    #[test]
    fn what_no_column_of_ours_holds_is_not_guessed() {
        for text in [
            "S [VA]",
            "Q (var)",
            "f/Hz",
            "E (Wh)",
            "THD U (%)",
            "Crest factor I",
            "Status",
            "Scheinleistung [VA]",
            "Time",
            "Zeit [s]",
            "No",
            "T (K)",
            "Temp (\u{b0}F)",
            "Vpk (V)",
            "",
            "x",
            "1",
        ] {
            assert_eq!(guess(text), None, "{text}");
        }
    }

    #[test]
    fn a_letter_that_names_a_port_is_no_unit() {
        for (text, quantity, port) in [
            ("Voltage port A", OutputVoltageV, "A"),
            ("Port C current", OutputCurrentA, "C"),
            ("USB C power (W)", OutputPowerW, "C"),
            ("C1 voltage", OutputVoltageV, "C1"),
            ("USB-A V", OutputVoltageV, "USB-A"),
        ] {
            assert_eq!(
                guess(text),
                Some((quantity, 1.0, Some(port.to_owned()))),
                "{text}"
            );
        }
        assert_eq!(guess("Voltage phase A"), Some((InputVoltageV, 1.0, None)));
        assert_eq!(guess("Port voltage"), Some((OutputVoltageV, 1.0, None)));
    }
}
