//! The bench record: all that was learned about one sample of one adapter.
//!
//! These types are the typed side of the open record format `brickbook-record/1`. They know
//! nothing of how a record is checked; [`super::decode`] is the only door in from JSON. Field
//! names carry their SI units. `None` means "not measured", never zero.

use serde::{Deserialize, Serialize};

/// The value of `format` in every record of this version.
pub const FORMAT: &str = "brickbook-record/1";

/// One JSON document about one sample of one adapter. Derived numbers are never in it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Record {
    pub format: String,
    pub unit: Unit,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub instruments: Vec<Instrument>,
    /// Raw instrument logs that runs refer to by name.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub logs: Vec<Log>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub runs: Vec<Run>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub overloads: Vec<Overload>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sharing: Vec<Sharing>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub temperatures: Vec<Temperature>,
    /// Everything else that was measured: ripple, hold-up, inrush and the like.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub measurements: Vec<Measurement>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub photos: Vec<Photo>,
    /// Free text, Markdown.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub notes: Option<String>,
}

/// The adapter itself: who made it, what its label claims, what it weighs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Unit {
    pub maker: String,
    pub model: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sample: Option<String>,
    /// ISO 8601 calendar date.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub acquired_on: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub price: Option<Price>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub buy_url: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub write_up_url: Option<String>,
    pub nameplate: Nameplate,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub safety_marks: Vec<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mass_g: Option<Mass>,
    /// Outer dimensions without the cord, in millimetres.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub size_mm: Option<[f64; 3]>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cord: Option<Cord>,
    /// The tester's own choice of category, with the reason; overrides what is derived.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub category: Option<CategoryChoice>,
    /// The tester's own choice of harmonic class, with the reason; overrides what is derived.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub harmonic_class: Option<HarmonicClassChoice>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub ports: Vec<Port>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Price {
    /// Decimal text, so that 59.00 stays 59.00.
    pub amount: String,
    /// ISO 4217 code.
    pub currency: String,
}

/// What is printed on the label.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Nameplate {
    /// All ports together, in watts.
    pub output_power_w: f64,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub input_voltage_min_v: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub input_voltage_max_v: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub input_current_a: Option<f64>,
    /// Roman numeral of the International Efficiency Marking Protocol.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub efficiency_mark: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub max_ambient_c: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Mass {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub adapter: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cord: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub packaging: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CategoryChoice {
    pub value: Category,
    pub reason: String,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HarmonicClassChoice {
    pub value: HarmonicClass,
    pub reason: String,
}

/// Equipment class of IEC 61000-3-2 that an adapter can fall into.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, utoipa::ToSchema)]
pub enum HarmonicClass {
    A,
    D,
}

/// Category of the energy rules, in our own three words; each regime maps it to its row name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum Category {
    Basic,
    Low,
    Multiple,
}

impl Category {
    pub const ALL: [Category; 3] = [Category::Basic, Category::Low, Category::Multiple];

    /// The word used in documents: `basic`, `low` or `multiple`.
    pub fn word(self) -> &'static str {
        match self {
            Category::Basic => "basic",
            Category::Low => "low",
            Category::Multiple => "multiple",
        }
    }
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Port {
    /// Unique within the unit; readings refer to it.
    pub label: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub connector: Option<Connector>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub power_w: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub share_group: Option<String>,
    /// Raw 32-bit power data objects, `0x` and eight hexadecimal digits.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub source_capabilities: Vec<String>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub modes: Vec<Mode>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Connector {
    UsbC,
    UsbA,
    Barrel,
    Other,
}

/// A voltage that a port offers, as the label or the capability list says.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "lowercase", deny_unknown_fields)]
pub enum Mode {
    Fixed {
        voltage_v: f64,
        current_a: f64,
    },
    Pps {
        voltage_min_v: f64,
        voltage_max_v: f64,
        current_a: f64,
    },
    Avs {
        voltage_min_v: f64,
        voltage_max_v: f64,
        current_a: f64,
    },
}

/// An accuracy statement as makers print it:
/// ±(`reading_percent` of reading + `range_percent` of `range` + `fixed`), in the quantity's unit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Instrument {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    pub quantity: MeasuredQuantity,
    #[serde(default)]
    pub reading_percent: f64,
    #[serde(default)]
    pub range_percent: f64,
    /// Full scale of the range; absent: the row holds for any reading.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub range: Option<f64>,
    #[serde(default)]
    pub fixed: f64,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MeasuredQuantity {
    InputPowerW,
    NoLoadPowerW,
    InputVoltageV,
    InputCurrentA,
    OutputVoltageV,
    OutputCurrentA,
    TemperatureC,
}

/// One line supply, one 100 % loading condition.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Run {
    /// Unique within the record; verdicts refer to it.
    pub name: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tested_on: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ambient_c: Option<f64>,
    pub line: Line,
    /// The 100 % condition of this run.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub rated_outputs: Vec<RatedOutput>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub points: Vec<Point>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub no_load: Option<NoLoad>,
    /// Sampled voltage and current of the line, one entry a load.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub waveforms: Vec<Waveform>,
}

/// Nominal line supply of a run.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Line {
    pub voltage_v: f64,
    pub frequency_hz: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RatedOutput {
    pub port: String,
    pub voltage_v: f64,
    pub current_a: f64,
}

/// Readings at one load. `load_percent` is the target, not what was reached.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Point {
    pub load_percent: f64,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub input: Option<Input>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub outputs: Vec<Output>,
    /// Name of the log whose averages are this point's readings.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub log: Option<String>,
    /// Begin of the section of the log, in seconds from its first row; absent: its first row.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub log_from_s: Option<f64>,
    /// End of the section; absent: the last row.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub log_to_s: Option<f64>,
}

#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Input {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub voltage_v: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub current_a: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub power_w: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub power_factor: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub current_thd_percent: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub current_peak_a: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Output {
    pub port: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub voltage_v: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub current_a: Option<f64>,
}

#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NoLoad {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub power_w: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub current_a: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub power_factor: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub current_peak_a: Option<f64>,
    /// Name of the raw log, where one was kept. If it is one of the record's `logs`, the figure
    /// comes from it and `power_w` is only a reading beside it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub log: Option<String>,
    /// Begin of the section of the log, in seconds from its first row; absent: its first row.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub log_from_s: Option<f64>,
    /// End of the section; absent: the last row.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub log_to_s: Option<f64>,
}

/// A section of a log that holds the line's voltage and current sample by sample.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Waveform {
    /// Name of one of the record's logs.
    pub log: String,
    /// The load it was taken at, percent of rated; 0: no load.
    pub load_percent: f64,
    /// Begin of the section, in seconds from the first row; absent: the first row.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub log_from_s: Option<f64>,
    /// End of the section; absent: the last row.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub log_to_s: Option<f64>,
}

/// One raw file as an instrument wrote it, and how it is read.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Log {
    /// File name, unique within the record; runs refer to it.
    pub name: String,
    /// SHA-256 of the file's bytes, 64 lower-case hexadecimal digits.
    pub sha256: String,
    pub size_bytes: u64,
    pub layout: Layout,
}

/// How the text of a log is read: everything that turns its bytes into numbers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Layout {
    pub encoding: Encoding,
    pub delimiter: Delimiter,
    pub decimal: DecimalMark,
    /// Line of the first data row, counted from 1; lines before it are preamble and headings.
    pub first_line: u32,
    pub time: TimeColumn,
    pub columns: Vec<LogColumn>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Encoding {
    /// With or without a byte order mark.
    #[serde(rename = "utf-8")]
    Utf8,
    #[serde(rename = "utf-16le")]
    Utf16Le,
    #[serde(rename = "utf-16be")]
    Utf16Be,
    /// ISO 8859-1, read as its superset windows-1252 as the WHATWG encoding standard does.
    #[serde(rename = "latin-1")]
    Latin1,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Delimiter {
    Comma,
    Semicolon,
    Tab,
    Pipe,
    /// One or more spaces.
    Spaces,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum DecimalMark {
    Point,
    Comma,
}

/// Where a row says when it was taken.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TimeColumn {
    pub form: TimeForm,
    /// Column of the time, counted from 1; absent only with [`TimeForm::Index`].
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub column: Option<u32>,
    /// Column of the date, where it stands apart from a [`TimeForm::Clock`] time.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub date_column: Option<u32>,
    /// Order of day, month and year in dates that are not year first.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub date_order: Option<DateOrder>,
    /// Seconds between rows, with [`TimeForm::Index`].
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub interval_s: Option<f64>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum TimeForm {
    Seconds,
    Milliseconds,
    Microseconds,
    Minutes,
    Hours,
    /// Hours, minutes and seconds of a day or of the recording; midnight may be passed.
    Clock,
    /// Date and time in one cell.
    DateTime,
    /// No time column: rows are `interval_s` apart.
    Index,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum DateOrder {
    YearFirst,
    DayFirst,
    MonthFirst,
}

/// What one column holds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LogColumn {
    /// Counted from 1.
    pub column: u32,
    pub quantity: LogQuantity,
    /// Port label, for output quantities.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub port: Option<String>,
    /// What a number of the column is multiplied by to give the quantity in its unit: 0.001 for a
    /// column in mW; absent: 1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub factor: Option<f64>,
}

/// Quantities that a log can hold, in SI units.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LogQuantity {
    /// Active power, W.
    InputPowerW,
    /// RMS, V.
    InputVoltageV,
    /// RMS, A.
    InputCurrentA,
    InputCurrentPeakA,
    PowerFactor,
    CurrentThdPercent,
    OutputVoltageV,
    OutputCurrentA,
    OutputPowerW,
    AmbientC,
    SurfaceC,
    /// One sample of the line voltage, V.
    LineVoltageSampleV,
    /// One sample of the line current, A.
    LineCurrentSampleA,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Overload {
    pub port: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub voltage_v: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rated_current_a: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub trip_current_a: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub last_good_power_w: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub recovery: Option<Recovery>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub other_ports: Option<OtherPorts>,
    /// The load raised step by step, in the order it was done.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub steps: Vec<OverloadStep>,
    /// What the tester saw the protection do; absent: derived from the steps.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub protection: Option<Protection>,
    /// From the removal of the overload to the output's return.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub recovery_s: Option<f64>,
    /// Input power with the output short-circuited.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub short_circuit_input_power_w: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub line_voltage_v: Option<f64>,
}

/// One step of a raised load.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OverloadStep {
    /// The current that the load asked for.
    pub set_current_a: f64,
    /// What flowed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub current_a: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub voltage_v: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub state: Option<PortState>,
    /// How long it was held.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub held_s: Option<f64>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum PortState {
    /// Delivers what is asked.
    On,
    /// Delivers less current or voltage than asked.
    Limited,
    /// Off and on again by itself.
    Cycling,
    Off,
}

/// Kinds of overload protection, by the trade's terms.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Protection {
    ShutOff,
    Hiccup,
    Foldback,
    ConstantCurrent,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Recovery {
    Auto,
    Replug,
    Mains,
    None,
}

/// What the other ports did while one was overloaded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum OtherPorts {
    Held,
    Reset,
    Lost,
    NotApplicable,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sharing {
    pub ports_in_use: Vec<String>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub offers: Vec<Offer>,
    /// What the ports in use did when another was attached.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on_attach: Option<OtherPorts>,
    /// The port that was attached last.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub attached: Option<String>,
    /// What the others did when that port was detached again.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on_detach: Option<OtherPorts>,
    /// Ports that were reset or lost by attaching or detaching; absent: not noted which.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reset_ports: Option<Vec<String>>,
    /// How long a port that was reset was without its voltage.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub interruption_ms: Option<f64>,
    /// The lowest voltage on a port while it was disturbed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lowest_voltage_v: Option<f64>,
    /// What all ports in use delivered together, measured.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub delivered_power_w: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Offer {
    pub port: String,
    pub power_w: f64,
    /// Highest voltage offered.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub voltage_max_v: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Temperature {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub load_w: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub minutes: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ambient_c: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub surface_c: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hot_spot_c: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub material: Option<Material>,
    /// Where the hot spot is.
    #[serde(default, rename = "where", skip_serializing_if = "Option::is_none")]
    pub place: Option<String>,
}

/// A figure that has no place of its own in a record, in the unit that its quantity names.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Measurement {
    pub quantity: OtherQuantity,
    pub value: f64,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub port: Option<String>,
    /// Output voltage that was agreed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub voltage_v: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub load_percent: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub line_voltage_v: Option<f64>,
    /// Half-width of the instrument's accuracy, in the quantity's unit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub accuracy: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

#[derive(
    Debug,
    Clone,
    Copy,
    PartialEq,
    Eq,
    Hash,
    PartialOrd,
    Ord,
    Serialize,
    Deserialize,
    utoipa::ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum OtherQuantity {
    /// Ripple and noise, 20 MHz, peak to peak.
    RippleMv,
    LoadRegulationPercent,
    LineRegulationPercent,
    TurnOnDelayMs,
    HoldUpMs,
    /// Peak current at switch-on, cold, at the crest of the voltage.
    InrushA,
    TouchCurrentUa,
    AcousticNoiseDba,
}

impl OtherQuantity {
    pub const ALL: [OtherQuantity; 8] = [
        OtherQuantity::RippleMv,
        OtherQuantity::LoadRegulationPercent,
        OtherQuantity::LineRegulationPercent,
        OtherQuantity::TurnOnDelayMs,
        OtherQuantity::HoldUpMs,
        OtherQuantity::InrushA,
        OtherQuantity::TouchCurrentUa,
        OtherQuantity::AcousticNoiseDba,
    ];
}

/// A photograph, kept beside the database by the SHA-256 of the image as it is kept.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Photo {
    pub sha256: String,
    pub width_px: u32,
    pub height_px: u32,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub caption: Option<String>,
}

/// Is a cord fixed to the adapter?
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum CordFixing {
    Captive,
    Detachable,
}

/// The cord that comes with the adapter.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Cord {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub length_m: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fixing: Option<CordFixing>,
    /// Resistance of both conductors together, for the drop along it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub resistance_mohm: Option<f64>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Material {
    Plastic,
    Metal,
    Glass,
    Wood,
    Rubber,
}

impl Mode {
    /// Lowest voltage of the mode in volts.
    pub fn voltage_min_v(&self) -> f64 {
        match *self {
            Mode::Fixed { voltage_v, .. } => voltage_v,
            Mode::Pps { voltage_min_v, .. } | Mode::Avs { voltage_min_v, .. } => voltage_min_v,
        }
    }

    /// Highest voltage of the mode in volts.
    pub fn voltage_max_v(&self) -> f64 {
        match *self {
            Mode::Fixed { voltage_v, .. } => voltage_v,
            Mode::Pps { voltage_max_v, .. } | Mode::Avs { voltage_max_v, .. } => voltage_max_v,
        }
    }

    /// Largest current of the mode in amperes.
    pub fn current_a(&self) -> f64 {
        match *self {
            Mode::Fixed { current_a, .. }
            | Mode::Pps { current_a, .. }
            | Mode::Avs { current_a, .. } => current_a,
        }
    }
}

impl Port {
    /// Can the port change its voltage by an agreement with the load? More than one fixed
    /// voltage, or a programmable range.
    pub fn negotiates(&self) -> bool {
        let mut voltages = self.modes.iter().map(Mode::voltage_min_v);
        let Some(first) = voltages.next() else {
            return false;
        };
        self.modes.iter().any(|m| !matches!(m, Mode::Fixed { .. }))
            || voltages.any(|v| (v - first).abs() > 1e-9)
    }
}

impl Unit {
    /// Changes its output voltage by a protocol with the load ("adaptive" in 10 CFR 430
    /// Appendix Z): at least one port negotiates.
    pub fn is_adaptive(&self) -> bool {
        self.ports.iter().any(Port::negotiates)
    }

    /// Identity for comparison: maker, model and sample in lower case with single spaces.
    pub fn identity_key(&self) -> String {
        format!(
            "{}\u{1f}{}",
            self.model_key(),
            folded(self.sample.as_deref().unwrap_or(""))
        )
    }

    /// Maker and model for comparison: two samples of one model share it.
    pub fn model_key(&self) -> String {
        format!("{}\u{1f}{}", folded(&self.maker), folded(&self.model))
    }
}

/// Lower case, outer spaces cut, inner runs of spaces made one.
pub fn folded(text: &str) -> String {
    text.split_whitespace()
        .collect::<Vec<_>>()
        .join(" ")
        .to_lowercase()
}

impl Record {
    /// The latest test date of its runs, ISO 8601 (dates of one form compare as text).
    pub fn tested_on(&self) -> Option<&str> {
        self.runs
            .iter()
            .filter_map(|r| r.tested_on.as_deref())
            .max()
    }
}
