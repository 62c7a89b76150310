//! The evaluation document `brickbook-evaluation/1`: what [`super::evaluate`] says of a record,
//! with its working kept. Numbers are unrounded, efficiencies are fractions, `_u` are standard
//! uncertainties (null where unknown).

pub use super::heat::HeatResult;
pub use super::other_measurements::{BuildResult, MeasurementResult};
pub use super::overload::OverloadResult;
pub use super::ports::PortResult;
pub use super::sharing::SharingResult;
use crate::bench::record::{Category, HarmonicClass};
use serde::{Deserialize, Serialize};

/// The value of `format` in every evaluation of this version.
pub const FORMAT: &str = "brickbook-evaluation/1";

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Evaluation {
    pub format: String,
    /// Version of the engine that computed it.
    pub engine: String,
    pub class: ClassRef,
    pub runs: Vec<RunResult>,
    pub verdicts: Vec<Verdict>,
    pub regimes: Vec<RegimeResult>,
    pub label_checks: Vec<LabelCheck>,
    /// Per port: advertised, claimed and measured outputs, and what the rules ask for.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub ports: Vec<PortResult>,
    /// What the ports offer together; absent where no combination was observed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sharing: Option<SharingResult>,
    /// What each overload test shows, in the order of the record.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub overloads: Vec<OverloadResult>,
    /// Temperatures against time, one entry a series of one place.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub heat: Vec<HeatResult>,
    /// Everything else that was measured, in the order of the record.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub measurements: Vec<MeasurementResult>,
    /// Size and mass; absent where neither is on record.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub build: Option<BuildResult>,
    pub warnings: Vec<Warning>,
    pub score: Score,
}

/// Wattage class by nameplate output power.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct ClassRef {
    pub id: String,
    pub label: String,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct RunResult {
    pub name: String,
    pub line_voltage_v: f64,
    pub line_frequency_hz: f64,
    /// Sum of the rated outputs' V times I, at most the nameplate power; null without rated outputs.
    pub rated_power_w: Option<f64>,
    /// Sum of the rated outputs' currents after proportional allocation.
    pub rated_current_a: Option<f64>,
    /// Highest rated output voltage of the run.
    pub rated_voltage_v: Option<f64>,
    /// Proportional allocation factor D: 1 where the ports together do not exceed the nameplate.
    pub allocation: f64,
    pub category: Category,
    pub category_reason: String,
    /// Loads every port of the unit together (always true for a single-port unit).
    pub all_ports: bool,
    /// Why the run is shown and scored but decides no verdict; null if it may decide.
    pub informative: Option<String>,
    pub points: Vec<PointResult>,
    /// Mean of the efficiencies at 25, 50, 75 and 100 % load; null if one is missing.
    pub average_efficiency: Option<f64>,
    pub average_efficiency_u: Option<f64>,
    /// Load percentages whose efficiency the average still needs.
    pub average_missing: Vec<f64>,
    pub ten_percent_efficiency: Option<f64>,
    pub ten_percent_efficiency_u: Option<f64>,
    pub loss_model: Option<LossModel>,
    pub no_load: Option<NoLoadResult>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub waveforms: Vec<WaveformResult>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct PointResult {
    pub load_percent: f64,
    pub output_power_w: Option<f64>,
    pub output_power_u: Option<f64>,
    pub input_power_w: Option<f64>,
    pub input_power_u: Option<f64>,
    /// Fraction, 0..=1.
    pub efficiency: Option<f64>,
    pub efficiency_u: Option<f64>,
    pub loss_w: Option<f64>,
    pub loss_u: Option<f64>,
    pub apparent_power_va: Option<f64>,
    pub power_factor: Option<f64>,
    pub power_factor_u: Option<f64>,
    pub nonactive_power_va: Option<f64>,
    pub crest_factor: Option<f64>,
    pub current_thd_percent: Option<f64>,
    /// Signed deviation of the output voltage from rated, the largest in size over the ports.
    pub voltage_deviation_percent: Option<f64>,
    pub voltage_deviation_u: Option<f64>,
    /// Where the readings are averages of a log's section; absent where they were typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub log: Option<PointLog>,
}

/// The section of a log that a point's readings are averages of.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct PointLog {
    pub name: String,
    pub sha256: String,
    pub from_s: f64,
    pub to_s: f64,
    pub samples: u64,
    /// Did the input power keep within the procedure's limits over the section?
    pub stable: bool,
    /// The judgement of stability in words, with its figures.
    pub stability: String,
    /// Standard uncertainties of the averages from the scatter alone, blocks of correlated
    /// samples taken together.
    pub scatter: Vec<QuantityScatter>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct QuantityScatter {
    /// Word of the log's quantity, such as `input_power_w`.
    pub quantity: String,
    pub port: Option<String>,
    pub mean: f64,
    pub u: Option<f64>,
    pub degrees_of_freedom: Option<f64>,
}

/// Loss = a + b I + c I², with I the sum of the output currents.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct LossModel {
    pub a_w: f64,
    pub b_v: f64,
    pub c_ohm: f64,
    pub rms_residual_w: f64,
    /// Highest efficiency between no load and rated power.
    pub peak_efficiency: f64,
    /// Output power at which it is reached.
    pub peak_at_w: f64,
    /// Output volts used to turn a load in watts into a current: rated power over rated current.
    pub effective_voltage_v: f64,
    /// Range of output power that the fit covers; outside it the model says nothing.
    pub valid_to_w: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct NoLoadResult {
    pub power_w: f64,
    pub power_u: Option<f64>,
    /// How it was obtained: `reading`, or from a log: `cyclic`, `sampling`, `running-mean`,
    /// `average`; `average-unsettled` where the log satisfies no method of the standard, so that no
    /// verdict on it is firm.
    pub method: String,
    /// U: k = 2 for a reading; for a log k is Student's t for 95 % at the effective degrees of
    /// freedom. Null where the instrument's accuracy is unknown.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expanded_uncertainty_w: Option<f64>,
    /// The evidence, where the figure comes from a log.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub log: Option<NoLoadLog>,
}

/// How a log bears out a no-load figure. Times are seconds from the log's first row.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct NoLoadLog {
    pub name: String,
    pub sha256: String,
    /// The section that was looked at.
    pub from_s: f64,
    pub to_s: f64,
    pub samples: u64,
    /// Median time between samples.
    pub interval_s: f64,
    /// The part that the figure is the mean of; what lies before it was discarded.
    pub used_from_s: f64,
    pub used_to_s: f64,
    /// When the power had settled; null if it never did.
    pub settled_at_s: Option<f64>,
    /// Least-squares slope over the part used, and what the method allows.
    pub slope_w_per_h: f64,
    pub slope_limit_w_per_h: f64,
    /// Standard uncertainty of the slope from the scatter: a power that varies has a slope by
    /// chance too.
    pub slope_u_w_per_h: f64,
    pub cycle: Option<PowerCycle>,
    /// Standard uncertainty from the instrument; null where its accuracy is unknown.
    pub instrument_u_w: Option<f64>,
    /// Standard uncertainty of the mean from the scatter, by block averaging.
    pub scatter_u_w: f64,
    pub scatter_degrees_of_freedom: f64,
    /// False: the record is too short to tell how slowly the power changes, and the scatter's
    /// uncertainty was widened for it.
    pub long_enough: bool,
    /// Length of a block of the block averaging.
    pub block_s: f64,
    /// Effective degrees of freedom of both together (Welch-Satterthwaite), a million at most. The
    /// coverage factor is taken at the whole number below.
    pub degrees_of_freedom: Option<f64>,
    /// k, Student's t for 95 %.
    pub coverage_factor: f64,
    /// The largest expanded uncertainty that the standard allows the instrument, by the current's
    /// crest factor and the power factor; null where the log holds no such columns.
    pub allowed_uncertainty_w: Option<f64>,
    /// Largest peak current seen, where the log holds it.
    pub current_peak_a: Option<f64>,
    pub current_a: Option<f64>,
    pub power_factor: Option<f64>,
    /// Every method that was tried, in order of preference: which one gave the figure, and why
    /// the others did not.
    pub methods: Vec<MethodTried>,
    /// The standard that the methods are taken from, and how their figures are known.
    pub known: String,
    /// The five-minute method of the US procedure, beside the figure.
    pub five_minute: Option<FiveMinute>,
    /// Consecutive five-minute windows over the whole section.
    pub windows: Vec<PowerWindow>,
    /// The figure against each limit that a verdict judges it by.
    pub limits: Vec<NoLoadAgainstLimit>,
    /// What a chart shows.
    pub trace: PowerTrace,
}

/// A repeating pattern in the power.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct PowerCycle {
    pub period_s: f64,
    /// Whole cycles in the part used.
    pub cycles: u64,
    /// Means of the two comparison periods, and the drift between their mid-points.
    pub first_mean_w: f64,
    pub second_mean_w: f64,
    pub drift_w_per_h: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct MethodTried {
    /// `cyclic`, `sampling`, `running-mean`, `average`, or `average-unsettled` where none of these
    /// is satisfied.
    pub method: String,
    /// Did it give the figure?
    pub used: bool,
    /// Could it have?
    pub applies: bool,
    /// Why, with the figures and the clause.
    pub why: String,
    /// What it gives, where it gives anything.
    pub power_w: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct FiveMinute {
    pub from_s: f64,
    pub to_s: f64,
    /// (max - min) / max over the five minutes.
    pub drift_percent: f64,
    pub drift_limit_percent: f64,
    pub stable: bool,
    /// The value at the end of the five minutes if stable, else the average.
    pub power_w: f64,
    pub why: String,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct PowerWindow {
    pub from_s: f64,
    pub to_s: f64,
    pub mean_w: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct NoLoadAgainstLimit {
    /// Regimes whose verdict uses this limit.
    pub regimes: Vec<String>,
    pub limit_w: f64,
    /// Share of the five-minute windows whose mean is above the limit, 0..=1.
    pub windows_above: f64,
    pub longer: LongerRecording,
}

/// How long must still be recorded until the verdict is clear?
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct LongerRecording {
    /// `clear`: it is already; `after`: `further_s` more; `never`: not at this instrument's
    /// uncertainty; `unknown`: the scatter or the accuracy does not tell.
    pub answer: String,
    pub further_s: Option<f64>,
    pub message: String,
}

/// A log's power, made small enough to draw with its extremes kept: cell i lasts from
/// `from_s + i * cell_s` for `cell_s`. A cell without samples holds null.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct PowerTrace {
    pub from_s: f64,
    pub cell_s: f64,
    pub min_w: Vec<Option<f64>>,
    pub max_w: Vec<Option<f64>>,
    pub mean_w: Vec<Option<f64>>,
}

/// What a sampled voltage and current say of the power drawn.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct WaveformResult {
    pub name: String,
    pub sha256: String,
    /// 0: no load.
    pub load_percent: f64,
    /// The section, in seconds from the log's first row.
    pub from_s: f64,
    /// Null where the section runs to the end of a log that could not be read.
    pub to_s: Option<f64>,
    /// Why nothing could be computed; null if it could.
    pub refused: Option<String>,
    pub quality: Option<PowerQuality>,
    pub screening: Option<HarmonicScreening>,
    /// The figures beside the analyser's readings of the same load, where there are any.
    pub agreement: Vec<ReadingAgreement>,
    /// Where the line supply departs from what a harmonic test asks of it.
    pub supply: Vec<String>,
}

/// Figures of a sampled voltage and current over whole windows. Voltages, currents and powers
/// without further word are of the whole signal; sign of the phase: positive when current lags.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct PowerQuality {
    pub samples: u64,
    /// Time of the first sample.
    pub from_s: f64,
    pub interval_s: f64,
    pub nominal_frequency_hz: f64,
    /// Frequency of the voltage's fundamental.
    pub frequency_hz: f64,
    pub windows: SpectrumWindows,
    pub voltage_rms_v: f64,
    pub current_rms_a: f64,
    pub active_power_w: f64,
    pub apparent_power_va: f64,
    /// N = sqrt(S² - P²).
    pub nonactive_power_va: f64,
    /// P / S; null without current.
    pub power_factor: Option<f64>,
    pub fundamental: FundamentalPower,
    pub distortion: PowerDistortion,
    pub voltage_peak_v: f64,
    /// Largest size, of either sign.
    pub current_peak_a: f64,
    pub voltage_crest_factor: f64,
    pub current_crest_factor: Option<f64>,
    pub voltage_dc_v: f64,
    pub current_dc_a: f64,
    /// Orders from 1; a record sampled too slowly ends below 40.
    pub harmonics: Vec<Harmonic>,
    /// What somebody who reads these figures should know of the recording.
    pub notes: Vec<String>,
    /// What a chart shows.
    pub shape: WaveShape,
}

/// The rectangular windows that the spectra are taken over (IEC 61000-4-7).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct SpectrumWindows {
    pub count: u64,
    /// Whole cycles of the fundamental in each.
    pub cycles: u32,
    /// Is each as long as the standard's window (10 cycles at 50 Hz, 12 at 60 Hz)?
    pub full_length: bool,
    /// Were the samples interpolated to whole cycles? False: whole cycles are whole samples.
    pub resampled: bool,
    /// Points of one window.
    pub points: u64,
    /// Begin of the first and end of the last.
    pub from_s: f64,
    pub to_s: f64,
    /// The above in words.
    pub description: String,
}

/// IEEE 1459: the fundamental alone.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct FundamentalPower {
    pub voltage_v: f64,
    pub current_a: f64,
    pub active_power_w: f64,
    /// Positive when current lags.
    pub reactive_power_var: f64,
    pub apparent_power_va: f64,
    /// Null without current.
    pub phase_deg: Option<f64>,
    /// cos phi1 = P1 / S1.
    pub displacement_power_factor: Option<f64>,
}

/// IEEE 1459: what is not the fundamental. Distortion relative to the fundamental, in percent.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct PowerDistortion {
    /// Everything but the fundamental, dc and interharmonics included (IEEE 1459).
    pub voltage_thd_all_percent: f64,
    pub current_thd_all_percent: Option<f64>,
    /// Orders 2 to `harmonics_to` (IEC 61000-4-7: harmonic lines).
    pub voltage_thd_harmonics_percent: f64,
    pub current_thd_harmonics_percent: Option<f64>,
    /// Last order of the figures above: 40, or fewer in a record that is sampled too slowly.
    pub harmonics_to: u32,
    /// Current distortion power V1 I_H.
    pub current_distortion_power_var: f64,
    /// Voltage distortion power V_H I1.
    pub voltage_distortion_power_var: f64,
    /// V_H I_H.
    pub harmonic_apparent_power_va: f64,
    /// S_N = sqrt(D_I² + D_V² + S_H²).
    pub nonfundamental_apparent_power_va: f64,
    /// P - P1.
    pub harmonic_active_power_w: f64,
    /// sqrt(S_H² - P_H²).
    pub harmonic_distortion_power_var: f64,
    /// Root of the sum of squares of orders 2 to `harmonics_to`.
    pub total_harmonic_current_a: f64,
    /// Root of the sum of squares of the odd orders 21 to 39 as far as they are known.
    pub partial_odd_harmonic_current_a: f64,
}

/// One order: r.m.s. means over the windows.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Harmonic {
    pub order: u32,
    /// The spectral line itself.
    pub voltage_v: f64,
    pub current_a: f64,
    /// In percent of the fundamental; null without current.
    pub current_percent: Option<f64>,
    /// The line with those half-way to its neighbours (IEC 61000-4-7, harmonic group).
    pub current_group_a: f64,
    /// The line with its two neighbours; null in a window that is not of full length.
    pub current_subgroup_a: Option<f64>,
    /// Largest group after 1.5 s smoothing.
    pub current_smoothed_max_a: f64,
}

/// Two cycles as points at even times; each is the mean of the samples around it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct WaveShape {
    /// Time of the first point, from the first row of the log.
    pub from_s: f64,
    pub interval_s: f64,
    pub voltage_v: Vec<f64>,
    pub current_a: Vec<f64>,
    pub power_w: Vec<f64>,
}

/// A waveform held against the limits for harmonic currents. One short record is a screening,
/// never a verdict of conformity.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct HarmonicScreening {
    pub citation: String,
    pub result: ScreeningResult,
    /// Why this result.
    pub reason: String,
    /// What a screening is and is not.
    pub statement: String,
    /// The class whose limits decide.
    pub class: HarmonicClass,
    pub class_reason: String,
    /// What the 75 W threshold is held against.
    pub rated_input_power_w: f64,
    pub rated_input_power_reason: String,
    /// Harmonics below this are not looked at.
    pub floor_a: f64,
    /// The class that decides first, then the other.
    pub classes: Vec<HarmonicComparison>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ScreeningResult {
    /// Every harmonic keeps to the limits of the class.
    Within,
    /// At least one does not.
    Outside,
    /// The standard sets none for this equipment.
    NoLimitsApply,
    /// Compared for information; the standard does not judge such a record.
    Informative,
}

/// The harmonics against the limits of one class.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct HarmonicComparison {
    pub class: HarmonicClass,
    /// Does every order keep to its limit?
    pub within: bool,
    /// Active input power that sets the limits of Class D.
    pub limit_power_w: Option<f64>,
    /// The order nearest to its limit, or furthest above it.
    pub closest_order: Option<u32>,
    /// Mean over limit of that order.
    pub closest_share: Option<f64>,
    pub partial_odd_limit_a: f64,
    /// Was an order from 21 on accepted because the partial odd harmonic current is low?
    pub partial_odd_relief: bool,
    /// Was a short excursion above 150 % accepted?
    pub short_excursion: bool,
    /// Limited orders that the record cannot tell.
    pub unknown_orders: Vec<u32>,
    pub orders: Vec<OrderAgainstLimit>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct OrderAgainstLimit {
    pub order: u32,
    /// Mean of the harmonic group over the windows.
    pub current_a: f64,
    pub limit_a: Option<f64>,
    /// Mean over limit; null without one.
    pub share: Option<f64>,
    pub result: OrderResult,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum OrderResult {
    Within,
    /// Above the limit and accepted by the standard's relief for low partial odd harmonic current.
    Relieved,
    Outside,
    /// Below the floor.
    TooSmall,
    NoLimit,
}

/// One quantity from the waveform and from the analyser.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct ReadingAgreement {
    /// Word of the record's quantity, such as `input_power_w`.
    pub quantity: String,
    pub waveform: f64,
    pub analyser: f64,
    /// Waveform minus analyser.
    pub difference: f64,
    pub tolerance: f64,
    /// What the tolerance is made of.
    pub tolerance_reason: String,
    pub agrees: bool,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Verdict {
    pub regime: String,
    pub requirement: Requirement,
    /// Name of the run that gave the figure.
    pub run: Option<String>,
    /// The regime's own row name.
    pub category: Option<String>,
    pub category_reason: Option<String>,
    /// Power that chose the limit, in watts.
    pub limit_power_w: Option<f64>,
    /// Where the limit stands.
    pub citation: Option<String>,
    /// How the limit's figure is known: primary text, secondary source, or from memory.
    pub confidence: Option<String>,
    pub limit: Option<f64>,
    pub measured: Option<f64>,
    /// Positive when on the right side of the limit.
    pub margin: Option<f64>,
    /// U: k = 2, of a no-load figure from a log the k that its entry states.
    pub expanded_uncertainty: Option<f64>,
    /// Probability of conformity.
    pub risk: Option<f64>,
    pub result: Outcome,
    /// Simple acceptance beside the guard-banded result.
    pub simple_acceptance: Option<Outcome>,
    /// Binary rule with guard band w = U.
    pub guarded_acceptance: Option<Outcome>,
    /// Does this verdict count for the regime's result?
    pub decides: bool,
    pub reason: Option<String>,
    /// What another reading of the category or of the printed limit would give.
    pub alternatives: Vec<Alternative>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Alternative {
    pub category: Option<String>,
    pub limit: Option<f64>,
    pub result: Outcome,
    pub why: String,
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
#[serde(rename_all = "kebab-case")]
pub enum Requirement {
    AverageEfficiency,
    NoLoad,
    TenPercentEfficiency,
    PowerFactor,
}

impl Requirement {
    /// Is more of the quantity better?
    pub fn is_minimum(self) -> bool {
        self != Requirement::NoLoad
    }

    /// The id used in documents.
    pub fn id(self) -> &'static str {
        match self {
            Requirement::AverageEfficiency => "average-efficiency",
            Requirement::NoLoad => "no-load",
            Requirement::TenPercentEfficiency => "ten-percent-efficiency",
            Requirement::PowerFactor => "power-factor",
        }
    }
}

/// Result of a requirement or of a whole regime (`incomplete` only of a regime).
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
#[serde(rename_all = "kebab-case")]
pub enum Outcome {
    Pass,
    ConditionalPass,
    ConditionalFail,
    Fail,
    Incomplete,
    NotAssessed,
}

impl Outcome {
    pub const ALL: [Outcome; 6] = [
        Outcome::Pass,
        Outcome::ConditionalPass,
        Outcome::ConditionalFail,
        Outcome::Fail,
        Outcome::Incomplete,
        Outcome::NotAssessed,
    ];

    /// The id used in documents and URLs.
    pub fn id(self) -> &'static str {
        match self {
            Outcome::Pass => "pass",
            Outcome::ConditionalPass => "conditional-pass",
            Outcome::ConditionalFail => "conditional-fail",
            Outcome::Fail => "fail",
            Outcome::Incomplete => "incomplete",
            Outcome::NotAssessed => "not-assessed",
        }
    }

    pub fn from_id(id: &str) -> Option<Outcome> {
        Outcome::ALL.into_iter().find(|o| o.id() == id)
    }
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct RegimeResult {
    pub regime: String,
    pub result: Outcome,
    pub reason: Option<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct LabelCheck {
    /// `implied-power-factor`, `efficiency-mark`, `port-power`, `pd-power-rules`.
    pub check: String,
    /// Port label, where the check is about one.
    pub port: Option<String>,
    pub claim: Option<String>,
    pub found: Option<String>,
    pub result: LabelOutcome,
    pub message: String,
    pub source: String,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum LabelOutcome {
    /// Label and measurement agree.
    Agrees,
    /// Label contradicts itself, physics or the measurement.
    Contradicts,
    /// Worth knowing, no judgement.
    Note,
    /// Not enough data to tell.
    Unknown,
}

/// Something odd in the record that does not prevent an evaluation.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Warning {
    pub path: String,
    pub message: String,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Score {
    pub version: u32,
    /// 0..=100, higher is better; null with no term present.
    pub value: Option<f64>,
    pub u: Option<f64>,
    /// Weight present / total weight.
    pub coverage: f64,
    /// Coverage below the formula's threshold: ranked after the others.
    pub provisional: bool,
    /// Terms with a value but no known uncertainty: `u` leaves them out.
    pub u_lacks: Vec<String>,
    pub terms: Vec<ScoreTerm>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct ScoreTerm {
    pub term: String,
    pub weight: f64,
    /// k of the scale: 100 points at reference / k, 0 at reference times k.
    pub k: f64,
    /// 0..=100; null if the term is absent.
    pub points: Option<f64>,
    pub points_u: Option<f64>,
    /// With several runs: the mean of the runs' values.
    pub measured: Option<f64>,
    pub reference: Option<f64>,
    /// Why the term is absent, or why its points are what they are.
    pub reason: Option<String>,
    pub runs: Vec<ScoreTermRun>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct ScoreTermRun {
    /// Null for a term about the whole unit.
    pub run: Option<String>,
    pub measured: f64,
    pub measured_u: Option<f64>,
    pub reference: f64,
    pub points: f64,
    pub points_u: Option<f64>,
}
