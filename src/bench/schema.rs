//! The record format as data: every key, whether it must be there, its kind and bounds.
//!
//! Decoding, the entry form and the published JSON Schema all read this one table.

/// What may stand at a place of the document.
#[derive(Debug, Clone, Copy)]
pub enum Kind {
    /// A finite JSON number within bounds.
    Number(Number),
    /// One line of text, not blank, at most so many characters.
    Text(usize),
    /// Any text, several lines, at most so many characters.
    LongText(usize),
    /// Exactly this text.
    Exact(&'static str),
    /// One of these words.
    Choice(&'static [&'static str]),
    /// ISO 8601 calendar date.
    Date,
    /// Decimal number as text, such as "59.00".
    Decimal,
    /// ISO 4217 code: three capital letters.
    Currency,
    /// Absolute http or https address.
    Url,
    /// `0x` and eight hexadecimal digits.
    Word32,
    /// Roman numeral I to X.
    EfficiencyMark,
    /// 64 lower-case hexadecimal digits.
    Sha256,
    Object(&'static [Field]),
    /// An object whose fields depend on the word under `tag`.
    Tagged {
        tag: &'static str,
        variants: &'static [(&'static str, &'static [Field])],
    },
    List(&'static List),
}

#[derive(Debug, Clone, Copy)]
pub struct Number {
    pub min: f64,
    /// Is `min` itself refused?
    pub above_min: bool,
    pub max: f64,
    /// SI unit or "%"; empty for a plain number.
    pub unit: &'static str,
    /// Are only whole numbers accepted?
    pub whole: bool,
}

#[derive(Debug, Clone, Copy)]
pub struct Field {
    pub key: &'static str,
    pub required: bool,
    pub kind: Kind,
    /// How a form names it.
    pub label: &'static str,
    /// A sentence for the person who fills it in; may be empty.
    pub help: &'static str,
}

#[derive(Debug, Clone, Copy)]
pub struct List {
    pub item: Kind,
    pub min: usize,
    pub max: usize,
    /// What one item is called.
    pub noun: &'static str,
}

const fn bounds(min: f64, max: f64, unit: &'static str) -> Number {
    Number {
        min,
        above_min: false,
        max,
        unit,
        whole: false,
    }
}

const fn number(min: f64, max: f64, unit: &'static str) -> Kind {
    Kind::Number(bounds(min, max, unit))
}

const fn above(min: f64, max: f64, unit: &'static str) -> Kind {
    Kind::Number(Number {
        min,
        above_min: true,
        max,
        unit,
        whole: false,
    })
}

const fn whole(min: f64, max: f64, unit: &'static str) -> Kind {
    Kind::Number(Number {
        min,
        above_min: false,
        max,
        unit,
        whole: true,
    })
}

const fn must(key: &'static str, kind: Kind, label: &'static str, help: &'static str) -> Field {
    Field {
        key,
        required: true,
        kind,
        label,
        help,
    }
}

const fn may(key: &'static str, kind: Kind, label: &'static str, help: &'static str) -> Field {
    Field {
        key,
        required: false,
        kind,
        label,
        help,
    }
}

const POWER: Kind = number(0.0, 1000.0, "W");
const OUTPUT_VOLTAGE: Kind = number(0.0, 60.0, "V");
const OUTPUT_CURRENT: Kind = number(0.0, 20.0, "A");
/// Mains current has no bound of its own in the format; 20 A is beyond any adapter.
const INPUT_CURRENT: Kind = number(0.0, 20.0, "A");
const PEAK_CURRENT: Kind = number(0.0, 200.0, "A");
const LINE_VOLTAGE: Kind = number(80.0, 300.0, "V");
const POWER_FACTOR: Kind = number(0.0, 1.0, "");
const TEMPERATURE: Kind = number(-40.0, 200.0, "°C");
const PORT_LABEL: Kind = Kind::Text(20);

pub const MODE_FIXED: &[Field] = &[
    must("voltage_v", above(0.0, 60.0, "V"), "voltage", ""),
    must("current_a", OUTPUT_CURRENT, "current", ""),
];

pub const MODE_RANGE: &[Field] = &[
    must("voltage_min_v", above(0.0, 60.0, "V"), "lowest voltage", ""),
    must(
        "voltage_max_v",
        above(0.0, 60.0, "V"),
        "highest voltage",
        "",
    ),
    must("current_a", OUTPUT_CURRENT, "current", ""),
];

pub const MODE: Kind = Kind::Tagged {
    tag: "kind",
    variants: &[
        ("fixed", MODE_FIXED),
        ("pps", MODE_RANGE),
        ("avs", MODE_RANGE),
    ],
};

pub const PORT: &[Field] = &[
    must(
        "label",
        PORT_LABEL,
        "label",
        "as printed beside the port, for example C1",
    ),
    may(
        "connector",
        Kind::Choice(&["usb-c", "usb-a", "barrel", "other"]),
        "connector",
        "",
    ),
    may(
        "power_w",
        number(0.0, 500.0, "W"),
        "power",
        "of this port alone",
    ),
    may(
        "share_group",
        Kind::Text(40),
        "share group",
        "ports with one word here share their power",
    ),
    may(
        "source_capabilities",
        Kind::List(&List {
            item: Kind::Word32,
            min: 0,
            max: 16,
            noun: "power data object",
        }),
        "source capabilities",
        "raw power data objects, 0x and eight hexadecimal digits each",
    ),
    may(
        "modes",
        Kind::List(&List {
            item: MODE,
            min: 0,
            max: 24,
            noun: "mode",
        }),
        "modes",
        "voltages on the label",
    ),
];

pub const NAMEPLATE: &[Field] = &[
    must(
        "output_power_w",
        number(0.3, 500.0, "W"),
        "output power",
        "all ports together",
    ),
    may(
        "input_voltage_min_v",
        LINE_VOLTAGE,
        "lowest input voltage",
        "",
    ),
    may(
        "input_voltage_max_v",
        LINE_VOLTAGE,
        "highest input voltage",
        "",
    ),
    may("input_current_a", INPUT_CURRENT, "input current", ""),
    may(
        "efficiency_mark",
        Kind::EfficiencyMark,
        "efficiency mark",
        "Roman numeral on the label",
    ),
    may("max_ambient_c", TEMPERATURE, "highest ambient", ""),
];

pub const UNIT: &[Field] = &[
    must("maker", Kind::Text(80), "maker", ""),
    must("model", Kind::Text(80), "model", ""),
    may(
        "sample",
        Kind::Text(40),
        "sample",
        "tells two samples of one model apart",
    ),
    may("acquired_on", Kind::Date, "acquired on", ""),
    may(
        "price",
        Kind::Object(&[
            must("amount", Kind::Decimal, "amount", ""),
            must(
                "currency",
                Kind::Currency,
                "currency",
                "three letters, ISO 4217",
            ),
        ]),
        "price",
        "",
    ),
    may("buy_url", Kind::Url, "where to buy", ""),
    may("write_up_url", Kind::Url, "write-up", ""),
    must("nameplate", Kind::Object(NAMEPLATE), "nameplate", ""),
    may(
        "safety_marks",
        Kind::List(&List {
            item: Kind::Text(40),
            min: 0,
            max: 20,
            noun: "safety mark",
        }),
        "safety marks",
        "as printed on the label",
    ),
    may(
        "mass_g",
        Kind::Object(&[
            may("adapter", above(0.0, 20_000.0, "g"), "adapter", ""),
            may("cord", number(0.0, 20_000.0, "g"), "cord", ""),
            may("packaging", number(0.0, 20_000.0, "g"), "packaging", ""),
        ]),
        "mass",
        "",
    ),
    may(
        "size_mm",
        Kind::List(&List {
            item: above(0.0, 2_000.0, "mm"),
            min: 3,
            max: 3,
            noun: "edge",
        }),
        "size",
        "three edges without the cord",
    ),
    may(
        "cord",
        Kind::Object(&[
            may("length_m", above(0.0, 20.0, "m"), "length", ""),
            may(
                "fixing",
                Kind::Choice(&["captive", "detachable"]),
                "fixing",
                "",
            ),
            may(
                "resistance_mohm",
                number(0.0, 100_000.0, "mΩ"),
                "resistance",
                "of both conductors together",
            ),
        ]),
        "cord",
        "",
    ),
    may(
        "category",
        Kind::Object(&[
            must(
                "value",
                Kind::Choice(&["basic", "low", "multiple"]),
                "category",
                "",
            ),
            must(
                "reason",
                Kind::LongText(2_000),
                "reason",
                "why it overrides what is derived",
            ),
        ]),
        "category override",
        "only where the derived category is wrong for this unit",
    ),
    may(
        "harmonic_class",
        Kind::Object(&[
            must("value", Kind::Choice(&["A", "D"]), "harmonic class", ""),
            must(
                "reason",
                Kind::LongText(2_000),
                "reason",
                "why: class D is for supplies sold for personal computers",
            ),
        ]),
        "harmonic class override",
        "of IEC 61000-3-2; only where the derived class is wrong for this unit",
    ),
    may(
        "ports",
        Kind::List(&List {
            item: Kind::Object(PORT),
            min: 0,
            max: 16,
            noun: "port",
        }),
        "ports",
        "",
    ),
];

pub const INSTRUMENT: &[Field] = &[
    may("name", Kind::Text(80), "instrument", ""),
    must(
        "quantity",
        Kind::Choice(&[
            "input_power_w",
            "no_load_power_w",
            "input_voltage_v",
            "input_current_a",
            "output_voltage_v",
            "output_current_a",
            "temperature_c",
        ]),
        "quantity",
        "",
    ),
    may("reading_percent", number(0.0, 100.0, "%"), "of reading", ""),
    may("range_percent", number(0.0, 100.0, "%"), "of range", ""),
    may(
        "range",
        above(0.0, 100_000.0, ""),
        "range",
        "full scale, in the quantity's unit",
    ),
    may(
        "fixed",
        number(0.0, 1_000.0, ""),
        "fixed",
        "in the quantity's unit",
    ),
];

pub const INPUT: &[Field] = &[
    may("voltage_v", number(0.0, 300.0, "V"), "input voltage", ""),
    may("current_a", INPUT_CURRENT, "input current", ""),
    may("power_w", POWER, "input power", ""),
    may("power_factor", POWER_FACTOR, "power factor", ""),
    may(
        "current_thd_percent",
        number(0.0, 500.0, "%"),
        "current THD",
        "",
    ),
    may("current_peak_a", PEAK_CURRENT, "peak current", ""),
];

pub const OUTPUT: &[Field] = &[
    must("port", PORT_LABEL, "port", ""),
    may("voltage_v", OUTPUT_VOLTAGE, "output voltage", ""),
    may("current_a", OUTPUT_CURRENT, "output current", ""),
];

pub const POINT: &[Field] = &[
    must(
        "load_percent",
        above(0.0, 150.0, "%"),
        "load",
        "target, percent of rated",
    ),
    may("input", Kind::Object(INPUT), "input", ""),
    may(
        "outputs",
        Kind::List(&List {
            item: Kind::Object(OUTPUT),
            min: 0,
            max: 16,
            noun: "output",
        }),
        "outputs",
        "",
    ),
    may(
        "log",
        LOG_NAME,
        "log",
        "the readings are the averages of this log's section",
    ),
    may("log_from_s", LOG_TIME, "log from", LOG_FROM_HELP),
    may("log_to_s", LOG_TIME, "log to", LOG_TO_HELP),
];

const LOG_NAME: Kind = Kind::Text(200);
/// Four months: beyond any recording of one adapter.
const LOG_TIME: Kind = number(0.0, 10_000_000.0, "s");
const LOG_FROM_HELP: &str = "seconds from the log's first row; empty: its first row";
const LOG_TO_HELP: &str = "seconds from the log's first row; empty: its last row";
/// More columns than any instrument writes.
const LOG_COLUMN: Kind = whole(1.0, 1_000.0, "");

pub const WAVEFORM: &[Field] = &[
    must("log", LOG_NAME, "log", "name of one of the logs"),
    must(
        "load_percent",
        number(0.0, 150.0, "%"),
        "load",
        "percent of rated; 0: no load",
    ),
    may("log_from_s", LOG_TIME, "log from", LOG_FROM_HELP),
    may("log_to_s", LOG_TIME, "log to", LOG_TO_HELP),
];

pub const LAYOUT: &[Field] = &[
    must(
        "encoding",
        Kind::Choice(&["utf-8", "utf-16le", "utf-16be", "latin-1"]),
        "encoding",
        "",
    ),
    must(
        "delimiter",
        Kind::Choice(&["comma", "semicolon", "tab", "pipe", "spaces"]),
        "delimiter",
        "",
    ),
    must(
        "decimal",
        Kind::Choice(&["point", "comma"]),
        "decimal mark",
        "",
    ),
    must(
        "first_line",
        whole(1.0, 100_000.0, ""),
        "first data line",
        "counted from 1",
    ),
    must(
        "time",
        Kind::Object(&[
            must(
                "form",
                Kind::Choice(&[
                    "seconds",
                    "milliseconds",
                    "microseconds",
                    "minutes",
                    "hours",
                    "clock",
                    "date-time",
                    "index",
                ]),
                "time",
                "",
            ),
            may("column", LOG_COLUMN, "time column", "counted from 1"),
            may(
                "date_column",
                LOG_COLUMN,
                "date column",
                "where the date stands apart from the time",
            ),
            may(
                "date_order",
                Kind::Choice(&["year-first", "day-first", "month-first"]),
                "order of dates",
                "",
            ),
            may(
                "interval_s",
                above(0.0, 86_400.0, "s"),
                "interval",
                "between rows, where there is no time column",
            ),
        ]),
        "time",
        "",
    ),
    must(
        "columns",
        Kind::List(&List {
            item: Kind::Object(&[
                must("column", LOG_COLUMN, "column", "counted from 1"),
                must("quantity", Kind::Choice(LOG_QUANTITIES), "quantity", ""),
                may("port", PORT_LABEL, "port", "for output quantities"),
                may(
                    "factor",
                    number(-1e9, 1e9, ""),
                    "factor",
                    "0.001 for a column in mW",
                ),
            ]),
            min: 1,
            max: 60,
            noun: "column",
        }),
        "columns",
        "",
    ),
];

/// Words of [`super::record::LogQuantity`], in its order.
pub const LOG_QUANTITIES: &[&str] = &[
    "input_power_w",
    "input_voltage_v",
    "input_current_a",
    "input_current_peak_a",
    "power_factor",
    "current_thd_percent",
    "output_voltage_v",
    "output_current_a",
    "output_power_w",
    "ambient_c",
    "surface_c",
    "line_voltage_sample_v",
    "line_current_sample_a",
];

pub const LOG: &[Field] = &[
    must("name", LOG_NAME, "name", "file name; runs refer to it"),
    must("sha256", Kind::Sha256, "SHA-256", "of the file's bytes"),
    must("size_bytes", whole(0.0, 1e15, "B"), "size in bytes", ""),
    must("layout", Kind::Object(LAYOUT), "layout", "how it is read"),
];

pub const NO_LOAD: &[Field] = &[
    may("power_w", POWER, "no-load power", ""),
    may("current_a", INPUT_CURRENT, "input current", ""),
    may("power_factor", POWER_FACTOR, "power factor", ""),
    may("current_peak_a", PEAK_CURRENT, "peak current", ""),
    may("log", LOG_NAME, "log", "file name of the raw log"),
    may("log_from_s", LOG_TIME, "log from", LOG_FROM_HELP),
    may("log_to_s", LOG_TIME, "log to", LOG_TO_HELP),
];

pub const RUN: &[Field] = &[
    must("name", Kind::Text(80), "name", ""),
    may("tested_on", Kind::Date, "tested on", ""),
    may("ambient_c", TEMPERATURE, "ambient", ""),
    must(
        "line",
        Kind::Object(&[
            must("voltage_v", LINE_VOLTAGE, "line voltage", "nominal"),
            must(
                "frequency_hz",
                number(45.0, 66.0, "Hz"),
                "line frequency",
                "nominal",
            ),
        ]),
        "line",
        "",
    ),
    may(
        "rated_outputs",
        Kind::List(&List {
            item: Kind::Object(&[
                must("port", PORT_LABEL, "port", ""),
                must("voltage_v", above(0.0, 60.0, "V"), "rated voltage", ""),
                must("current_a", above(0.0, 20.0, "A"), "rated current", ""),
            ]),
            min: 0,
            max: 16,
            noun: "rated output",
        }),
        "rated outputs",
        "the 100 % condition of this run",
    ),
    may(
        "points",
        Kind::List(&List {
            item: Kind::Object(POINT),
            min: 0,
            max: 60,
            noun: "point",
        }),
        "points",
        "",
    ),
    may("no_load", Kind::Object(NO_LOAD), "no load", ""),
    may(
        "waveforms",
        Kind::List(&List {
            item: Kind::Object(WAVEFORM),
            min: 0,
            max: 20,
            noun: "waveform",
        }),
        "waveforms",
        "sampled line voltage and current",
    ),
];

pub const OVERLOAD: &[Field] = &[
    must("port", PORT_LABEL, "port", ""),
    may("voltage_v", OUTPUT_VOLTAGE, "voltage", ""),
    may("rated_current_a", OUTPUT_CURRENT, "rated current", ""),
    may("trip_current_a", number(0.0, 60.0, "A"), "trip current", ""),
    may("last_good_power_w", POWER, "last good power", ""),
    may(
        "recovery",
        Kind::Choice(&["auto", "replug", "mains", "none"]),
        "recovery",
        "",
    ),
    may("other_ports", Kind::Choice(OTHER_PORTS), "other ports", ""),
    may(
        "steps",
        Kind::List(&List {
            item: Kind::Object(&[
                must(
                    "set_current_a",
                    number(0.0, 60.0, "A"),
                    "set current",
                    "that the load asked for",
                ),
                may(
                    "current_a",
                    number(0.0, 60.0, "A"),
                    "current",
                    "that flowed",
                ),
                may("voltage_v", OUTPUT_VOLTAGE, "voltage", ""),
                may(
                    "state",
                    Kind::Choice(&["on", "limited", "cycling", "off"]),
                    "state",
                    "",
                ),
                may("held_s", number(0.0, 100_000.0, "s"), "held", ""),
            ]),
            min: 0,
            max: 60,
            noun: "step",
        }),
        "steps",
        "the load raised step by step",
    ),
    may(
        "protection",
        Kind::Choice(&["shut-off", "hiccup", "foldback", "constant-current"]),
        "protection",
        "as seen; empty: derived from the steps",
    ),
    may(
        "recovery_s",
        number(0.0, 100_000.0, "s"),
        "recovery time",
        "after the overload is gone",
    ),
    may(
        "short_circuit_input_power_w",
        POWER,
        "short-circuit input power",
        "",
    ),
    may("line_voltage_v", LINE_VOLTAGE, "line voltage", ""),
];

const OTHER_PORTS: &[&str] = &["held", "reset", "lost", "not-applicable"];

pub const SHARING: &[Field] = &[
    must(
        "ports_in_use",
        Kind::List(&List {
            item: PORT_LABEL,
            min: 1,
            max: 16,
            noun: "port label",
        }),
        "ports in use",
        "",
    ),
    may(
        "offers",
        Kind::List(&List {
            item: Kind::Object(&[
                must("port", PORT_LABEL, "port", ""),
                must("power_w", number(0.0, 500.0, "W"), "power", ""),
                may("voltage_max_v", OUTPUT_VOLTAGE, "highest voltage", ""),
            ]),
            min: 0,
            max: 16,
            noun: "offer",
        }),
        "offers",
        "",
    ),
    may(
        "on_attach",
        Kind::Choice(OTHER_PORTS),
        "on attach",
        "what the ports in use did",
    ),
    may(
        "attached",
        PORT_LABEL,
        "attached",
        "the port that was attached last",
    ),
    may(
        "on_detach",
        Kind::Choice(OTHER_PORTS),
        "on detach",
        "what the others did when it was detached again",
    ),
    may(
        "reset_ports",
        Kind::List(&List {
            item: PORT_LABEL,
            min: 0,
            max: 16,
            noun: "port label",
        }),
        "reset ports",
        "that were reset or lost",
    ),
    may(
        "interruption_ms",
        number(0.0, 1_000_000.0, "ms"),
        "interruption",
        "of a port that was reset",
    ),
    may(
        "lowest_voltage_v",
        OUTPUT_VOLTAGE,
        "lowest voltage",
        "on a disturbed port",
    ),
    may(
        "delivered_power_w",
        POWER,
        "delivered power",
        "of all ports in use, measured",
    ),
    may("note", Kind::LongText(2_000), "note", ""),
];

pub const TEMPERATURE_READING: &[Field] = &[
    may("load_w", POWER, "load", ""),
    may("minutes", number(0.0, 100_000.0, "min"), "after", ""),
    may("ambient_c", TEMPERATURE, "ambient", ""),
    may("surface_c", TEMPERATURE, "surface", ""),
    may("hot_spot_c", TEMPERATURE, "hot spot", ""),
    may(
        "material",
        Kind::Choice(&["plastic", "metal", "glass", "wood", "rubber"]),
        "material",
        "",
    ),
    may("where", Kind::Text(80), "where", ""),
];

/// Words of [`super::record::OtherQuantity`], in its order; the unit is the last part of each.
pub const OTHER_QUANTITIES: &[&str] = &[
    "ripple_mv",
    "load_regulation_percent",
    "line_regulation_percent",
    "turn_on_delay_ms",
    "hold_up_ms",
    "inrush_a",
    "touch_current_ua",
    "acoustic_noise_dba",
];

/// What may stand as the value of each of [`OTHER_QUANTITIES`], in its order and unit: beyond is no
/// reading of an adapter.
pub const OTHER_BOUNDS: &[Number] = &[
    bounds(0.0, 10_000.0, "mV"),
    bounds(-100.0, 100.0, "%"),
    bounds(-100.0, 100.0, "%"),
    bounds(0.0, 600_000.0, "ms"),
    bounds(0.0, 600_000.0, "ms"),
    bounds(0.0, 500.0, "A"),
    bounds(0.0, 100_000.0, "µA"),
    bounds(0.0, 120.0, "dB(A)"),
];

pub const MEASUREMENT: &[Field] = &[
    must("quantity", Kind::Choice(OTHER_QUANTITIES), "quantity", ""),
    must(
        "value",
        number(-1e6, 1e6, ""),
        "value",
        "in the quantity's unit, within the quantity's bounds",
    ),
    may("port", PORT_LABEL, "port", ""),
    may("voltage_v", OUTPUT_VOLTAGE, "output voltage", ""),
    may("load_percent", number(0.0, 150.0, "%"), "load", ""),
    may("line_voltage_v", LINE_VOLTAGE, "line voltage", ""),
    may(
        "accuracy",
        number(0.0, 1e6, ""),
        "accuracy",
        "half-width, in the quantity's unit",
    ),
    may("note", Kind::Text(200), "note", ""),
];

pub const PHOTO: &[Field] = &[
    must(
        "sha256",
        Kind::Sha256,
        "SHA-256",
        "of the image as it is kept",
    ),
    must("width_px", whole(1.0, 20_000.0, "px"), "width", ""),
    must("height_px", whole(1.0, 20_000.0, "px"), "height", ""),
    may("caption", Kind::Text(200), "caption", ""),
];

/// The whole record.
pub const RECORD: &[Field] = &[
    must("format", Kind::Exact(super::record::FORMAT), "format", ""),
    must("unit", Kind::Object(UNIT), "unit", ""),
    may(
        "instruments",
        Kind::List(&List {
            item: Kind::Object(INSTRUMENT),
            min: 0,
            max: 60,
            noun: "instrument",
        }),
        "instruments",
        "accuracy as makers print it",
    ),
    may(
        "logs",
        Kind::List(&List {
            item: Kind::Object(LOG),
            min: 0,
            max: 100,
            noun: "log",
        }),
        "logs",
        "raw files of the instruments",
    ),
    may(
        "runs",
        Kind::List(&List {
            item: Kind::Object(RUN),
            min: 0,
            max: 60,
            noun: "run",
        }),
        "runs",
        "",
    ),
    may(
        "overloads",
        Kind::List(&List {
            item: Kind::Object(OVERLOAD),
            min: 0,
            max: 60,
            noun: "overload",
        }),
        "overloads",
        "",
    ),
    may(
        "sharing",
        Kind::List(&List {
            item: Kind::Object(SHARING),
            min: 0,
            max: 200,
            noun: "observation",
        }),
        "sharing",
        "",
    ),
    may(
        "temperatures",
        Kind::List(&List {
            item: Kind::Object(TEMPERATURE_READING),
            min: 0,
            max: 200,
            noun: "temperature",
        }),
        "temperatures",
        "",
    ),
    may(
        "measurements",
        Kind::List(&List {
            item: Kind::Object(MEASUREMENT),
            min: 0,
            max: 200,
            noun: "measurement",
        }),
        "other measurements",
        "",
    ),
    may(
        "photos",
        Kind::List(&List {
            item: Kind::Object(PHOTO),
            min: 0,
            max: 60,
            noun: "photo",
        }),
        "photos",
        "",
    ),
    may("notes", Kind::LongText(50_000), "notes", "Markdown"),
];
