//! Quantities for people: percent, milliwatts, "±", dates, prices. Documents and computation
//! know none of this; a number is rounded here and nowhere else.
//!
//! What was not measured has no text here: functions take values, and a template that has none
//! says so in words.

pub use crate::text::{date, grouped as count};
use crate::{
    bench::record::{
        Category, Connector, LogQuantity, Material, MeasuredQuantity, OtherPorts, Recovery,
    },
    evaluate::evaluation::{LabelOutcome, Outcome, Requirement},
    quantity::Measured,
    text::{Language, localised, t, word},
};
use time::{OffsetDateTime, UtcOffset};

/// Minus as typeset, not the hyphen.
const MINUS: &str = "\u{2212}";
/// Keeps a number and its unit on one line.
const THIN: char = '\u{202f}';

/// `value` with `decimals` digits after the decimal mark (negative: rounded to tens, hundreds …).
pub fn fixed(value: f64, decimals: i32) -> String {
    localised(pointed(value, decimals))
}

/// As [`fixed`], with a point in every language.
fn pointed(value: f64, decimals: i32) -> String {
    let text = if decimals >= 0 {
        format!("{value:.*}", decimals.min(12) as usize)
    } else {
        let step = 10f64.powi(-decimals);
        format!("{:.0}", (value / step).round() * step)
    };
    match text.strip_prefix('-') {
        // -0.00 is rounding's doing, not a measurement's.
        Some(rest) if rest.bytes().all(|b| b == b'0' || b == b'.') => rest.to_owned(),
        Some(rest) => format!("{MINUS}{rest}"),
        None => text,
    }
}

/// `value` with `digits` significant digits, never in exponent form.
pub fn significant(value: f64, digits: i32) -> String {
    fixed(value, decimals_for(value, digits))
}

/// Digits after the point that leave `digits` significant ones, after rounding.
fn decimals_for(value: f64, digits: i32) -> i32 {
    if value == 0.0 || !value.is_finite() {
        return digits - 1;
    }
    let decimals = digits - 1 - value.abs().log10().floor() as i32;
    // 0.0996 to two digits is 0.10, not 0.100.
    let step = 10f64.powi(-decimals);
    let rounded = (value / step).round() * step;
    if rounded == 0.0 {
        decimals
    } else {
        digits - 1 - log10_floor(rounded)
    }
}

/// Decimal exponent; 0.1 rounded up from 0.0996 may be stored a hair below 0.1.
fn log10_floor(value: f64) -> i32 {
    (value.abs() * (1.0 + 1e-12)).log10().floor() as i32
}

/// A quantity's printed unit and the factor that its SI value takes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scale {
    pub unit: &'static str,
    pub factor: f64,
}

pub const PERCENT: Scale = Scale {
    unit: "%",
    factor: 100.0,
};
pub const POINTS: Scale = Scale {
    unit: "",
    factor: 1.0,
};

/// Watts, or milliwatts below 1 W.
pub fn watt_scale(watts: f64) -> Scale {
    if watts.abs() < 1.0 {
        Scale {
            unit: "mW",
            factor: 1e3,
        }
    } else {
        Scale {
            unit: "W",
            factor: 1.0,
        }
    }
}

/// Power with three significant digits: `12.3 W`, `143 mW`.
pub fn watts(value: f64) -> String {
    let scale = watt_scale(value);
    with_unit(significant(value * scale.factor, 3), scale.unit)
}

/// A number with so many significant digits and its unit; watts, volts and amperes below one in
/// thousandths: `41.80 mW`, `3.150 mA`.
pub fn with_prefix(value: f64, unit: &str, digits: i32) -> String {
    if matches!(unit, "W" | "V" | "A") && value != 0.0 && value.abs() < 1.0 {
        with_unit(significant(value * 1e3, digits), &format!("m{unit}"))
    } else {
        with_unit(significant(value, digits), unit)
    }
}

/// A rating as printed on labels: `100 W`, `27.5 W`, without digits that were never there.
pub fn rated_watts(value: f64) -> String {
    with_unit(plain(value), "W")
}

/// The shortest decimal text that reads as this number, to six digits after the decimal mark.
pub fn plain(value: f64) -> String {
    localised(field(value))
}

/// As [`plain`], with a point in every language: for fields of forms and for addresses.
pub fn field(value: f64) -> String {
    let text = pointed(value, 6);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// A fraction in percent with two decimals: `91.23 %`.
pub fn percent(fraction: f64) -> String {
    with_unit(fixed(fraction * 100.0, 2), "%")
}

/// A fraction in percent with two decimals, without the sign.
pub fn percent_number(fraction: f64) -> String {
    fixed(fraction * 100.0, 2)
}

/// Number and unit, kept together.
pub fn with_unit(number: String, unit: &str) -> String {
    if unit.is_empty() {
        number
    } else {
        format!("{number}{THIN}{unit}")
    }
}

/// A value and its expanded uncertainty as texts without units: U with two significant digits,
/// the value to the same place (JCGM 100:2008, 7.2.6).
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlusMinus {
    pub value: String,
    /// None: the uncertainty is not known, which is not zero.
    pub expanded: Option<String>,
    pub unit: &'static str,
}

impl PlusMinus {
    /// `value` and U in the SI unit that `scale` starts from; without U the value gets
    /// `digits` significant digits.
    pub fn new(value: f64, expanded: Option<f64>, scale: Scale, digits: i32) -> PlusMinus {
        let value = value * scale.factor;
        match expanded.map(|u| u * scale.factor).filter(|u| *u > 0.0) {
            Some(u) => {
                let decimals = decimals_for(u, 2);
                PlusMinus {
                    value: fixed(value, decimals),
                    expanded: Some(fixed(u, decimals)),
                    unit: scale.unit,
                }
            }
            None => PlusMinus {
                value: significant(value, digits),
                expanded: None,
                unit: scale.unit,
            },
        }
    }

    /// Of a measured value with its standard uncertainty.
    pub fn of(measured: Measured, scale: Scale, digits: i32) -> PlusMinus {
        PlusMinus::new(measured.value, measured.expanded(), scale, digits)
    }

    /// An efficiency as a percentage; two decimals where U is unknown.
    pub fn efficiency(fraction: f64, u: Option<f64>) -> PlusMinus {
        match u.filter(|u| *u > 0.0) {
            Some(u) => PlusMinus::new(fraction, Some(2.0 * u), PERCENT, 4),
            None => PlusMinus {
                value: percent_number(fraction),
                expanded: None,
                unit: "%",
            },
        }
    }

    /// A power in W or mW.
    pub fn watts(value: f64, u: Option<f64>) -> PlusMinus {
        PlusMinus::new(value, u.map(|u| 2.0 * u), watt_scale(value), 3)
    }

    /// A score, always to one decimal, so that a column of scores reads evenly: no score is known
    /// better than to about half a point. A known U is never printed as nothing.
    pub fn score(value: f64, u: Option<f64>) -> PlusMinus {
        const LEAST_PRINTED: f64 = 0.1;
        PlusMinus {
            value: fixed(value, 1),
            expanded: u
                .filter(|u| *u > 0.0)
                .map(|u| fixed((2.0 * u).max(LEAST_PRINTED), 1)),
            unit: "",
        }
    }
}

impl std::fmt::Display for PlusMinus {
    fn fmt(&self, to: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match (&self.expanded, self.unit) {
            (Some(u), "") => write!(to, "{} ± {u}", self.value),
            (Some(u), unit) => write!(to, "({} ± {u}){THIN}{unit}", self.value),
            (None, "") => write!(to, "{}", self.value),
            (None, unit) => write!(to, "{}{THIN}{unit}", self.value),
        }
    }
}

/// `59.00 EUR`, from the decimal text of the record.
pub fn price(amount: &str, currency: &str) -> String {
    format!("{amount}\u{a0}{currency}")
}

/// `1 Sep 2026, 14:05 UTC`.
pub fn moment(moment: OffsetDateTime) -> String {
    let moment = moment.to_offset(UtcOffset::UTC);
    crate::text::moment(&moment.date().to_string(), moment.hour(), moment.minute())
}

/// A length of time: `45 s`, `12.5 min`, `1 h 30 min`.
pub fn duration(seconds: f64) -> String {
    crate::chart::duration_words(seconds).replace(' ', "\u{a0}")
}

/// Bytes of a file: `812 B`, `14.2 kB`, `1.07 GB` (powers of ten).
pub fn bytes(count: u64) -> String {
    const UNITS: [&str; 4] = ["kB", "MB", "GB", "TB"];
    if count < 1_000 {
        return with_unit(count.to_string(), "B");
    }
    let mut value = count as f64 / 1e3;
    let mut unit = 0;
    while value >= 999.5 && unit + 1 < UNITS.len() {
        value /= 1e3;
        unit += 1;
    }
    with_unit(significant(value, 3), UNITS[unit])
}

/// A line supply: `115 V 60 Hz`.
pub fn line(voltage_v: f64, frequency_hz: f64) -> String {
    format!(
        "{}{THIN}V {}{THIN}Hz",
        plain(voltage_v),
        plain(frequency_hz)
    )
}

/// A wattage class's name. The shipped ones ("over 45 to 70 W") are said in the language spoken now;
/// names of a table of one's own stay as they are.
pub fn class_label(label: &str) -> String {
    let shipped = || -> Option<String> {
        let watts = label.strip_suffix(" W")?;
        let number = |text: &str| text.parse().ok().map(plain);
        if let Some(to) = watts.strip_prefix("up to ") {
            return Some(t("class-up-to").with("to", number(to)?).to_string());
        }
        let over = watts.strip_prefix("over ")?;
        Some(match over.split_once(" to ") {
            Some((over, to)) => t("class-between")
                .with("over", number(over)?)
                .with("to", number(to)?)
                .to_string(),
            None => t("class-over").with("over", number(over)?).to_string(),
        })
    };
    match Language::current() {
        Language::English => label.to_owned(),
        _ => shipped().unwrap_or_else(|| label.to_owned()),
    }
}

/// `1 unit`, `2 units`.
pub fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// A verdict's word.
pub fn outcome(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Pass => word("outcome-pass"),
        Outcome::ConditionalPass => word("outcome-conditional-pass"),
        Outcome::ConditionalFail => word("outcome-conditional-fail"),
        Outcome::Fail => word("outcome-fail"),
        Outcome::Incomplete => word("outcome-incomplete"),
        Outcome::NotAssessed => word("outcome-not-assessed"),
    }
}

/// A verdict's sign beside its word: each of its own shape, so that colour is never needed.
pub fn outcome_sign(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Pass => "✓",
        Outcome::ConditionalPass => "≈✓",
        Outcome::ConditionalFail => "≈✗",
        Outcome::Fail => "✗",
        Outcome::Incomplete => "…",
        Outcome::NotAssessed => "–",
    }
}

/// What a verdict's word means, in one sentence.
pub fn outcome_meaning(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Pass => word("outcome-pass-meaning"),
        Outcome::ConditionalPass => word("outcome-conditional-pass-meaning"),
        Outcome::ConditionalFail => word("outcome-conditional-fail-meaning"),
        Outcome::Fail => word("outcome-fail-meaning"),
        Outcome::Incomplete => word("outcome-incomplete-meaning"),
        Outcome::NotAssessed => word("outcome-not-assessed-meaning"),
    }
}

/// What it means where the uncertainty of the measurement is not known.
pub fn simple_acceptance_meaning(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Pass => word("simple-pass-meaning"),
        Outcome::Fail => word("simple-fail-meaning"),
        other => outcome_meaning(other),
    }
}

pub fn label_outcome(outcome: LabelOutcome) -> &'static str {
    match outcome {
        LabelOutcome::Agrees => word("label-agrees"),
        LabelOutcome::Contradicts => word("label-contradicts"),
        LabelOutcome::Note => word("label-note"),
        LabelOutcome::Unknown => word("label-unknown"),
    }
}

/// The class of a label check's mark.
pub fn label_outcome_class(outcome: LabelOutcome) -> &'static str {
    match outcome {
        LabelOutcome::Agrees => "agrees",
        LabelOutcome::Contradicts => "contradicts",
        LabelOutcome::Note => "worth-knowing",
        LabelOutcome::Unknown => "cannot-be-told",
    }
}

pub fn label_outcome_sign(outcome: LabelOutcome) -> &'static str {
    match outcome {
        LabelOutcome::Agrees => "✓",
        LabelOutcome::Contradicts => "✗",
        LabelOutcome::Note => "i",
        LabelOutcome::Unknown => "?",
    }
}

pub fn requirement(requirement: Requirement) -> &'static str {
    match requirement {
        Requirement::AverageEfficiency => word("requirement-average-efficiency"),
        Requirement::NoLoad => word("requirement-no-load"),
        Requirement::TenPercentEfficiency => word("requirement-ten-percent-efficiency"),
        Requirement::PowerFactor => word("requirement-power-factor"),
    }
}

pub fn category(category: Category) -> &'static str {
    match category {
        Category::Basic => word("category-basic"),
        Category::Low => word("category-low"),
        Category::Multiple => word("category-multiple"),
    }
}

pub fn connector(connector: Connector) -> &'static str {
    match connector {
        Connector::UsbC => word("connector-usb-c"),
        Connector::UsbA => word("connector-usb-a"),
        Connector::Barrel => word("connector-barrel"),
        Connector::Other => word("connector-other"),
    }
}

pub fn recovery(recovery: Recovery) -> &'static str {
    match recovery {
        Recovery::Auto => word("recovery-auto"),
        Recovery::Replug => word("recovery-replug"),
        Recovery::Mains => word("recovery-mains"),
        Recovery::None => word("recovery-none"),
    }
}

pub fn other_ports(what: OtherPorts) -> &'static str {
    match what {
        OtherPorts::Held => word("other-ports-held"),
        OtherPorts::Reset => word("other-ports-reset"),
        OtherPorts::Lost => word("other-ports-lost"),
        OtherPorts::NotApplicable => word("other-ports-none"),
    }
}

pub fn material(material: Material) -> &'static str {
    match material {
        Material::Plastic => word("material-plastic"),
        Material::Metal => word("material-metal"),
        Material::Glass => word("material-glass"),
        Material::Wood => word("material-wood"),
        Material::Rubber => word("material-rubber"),
    }
}

/// A measured quantity's name and unit.
pub fn quantity(quantity: MeasuredQuantity) -> (&'static str, &'static str) {
    match quantity {
        MeasuredQuantity::InputPowerW => (word("quantity-input-power"), "W"),
        MeasuredQuantity::NoLoadPowerW => (word("quantity-no-load-power"), "W"),
        MeasuredQuantity::InputVoltageV => (word("quantity-input-voltage"), "V"),
        MeasuredQuantity::InputCurrentA => (word("quantity-input-current"), "A"),
        MeasuredQuantity::OutputVoltageV => (word("quantity-output-voltage"), "V"),
        MeasuredQuantity::OutputCurrentA => (word("quantity-output-current"), "A"),
        MeasuredQuantity::TemperatureC => (word("quantity-temperature"), "°C"),
    }
}

/// The name and unit of a quantity that a log holds.
pub fn log_quantity(quantity: LogQuantity) -> (&'static str, &'static str) {
    match quantity {
        LogQuantity::InputPowerW => (word("quantity-input-power"), "W"),
        LogQuantity::InputVoltageV => (word("quantity-input-voltage"), "V"),
        LogQuantity::InputCurrentA => (word("quantity-input-current"), "A"),
        LogQuantity::InputCurrentPeakA => (word("quantity-peak-input-current"), "A"),
        LogQuantity::PowerFactor => (word("quantity-power-factor"), ""),
        LogQuantity::CurrentThdPercent => (word("quantity-current-thd"), "%"),
        LogQuantity::OutputVoltageV => (word("quantity-output-voltage"), "V"),
        LogQuantity::OutputCurrentA => (word("quantity-output-current"), "A"),
        LogQuantity::OutputPowerW => (word("quantity-output-power"), "W"),
        LogQuantity::AmbientC => (word("quantity-ambient"), "°C"),
        LogQuantity::SurfaceC => (word("quantity-surface"), "°C"),
        LogQuantity::LineVoltageSampleV => (word("quantity-line-voltage"), "V"),
        LogQuantity::LineCurrentSampleA => (word("quantity-line-current"), "A"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(text: impl ToString) -> String {
        text.to_string().replace(['\u{202f}', '\u{a0}'], " ")
    }

    #[test]
    fn powers_below_one_watt_are_milliwatts_with_three_digits() {
        assert_eq!(shown(watts(0.1434)), "143 mW");
        assert_eq!(shown(watts(0.0214)), "21.4 mW");
        assert_eq!(shown(watts(0.0)), "0.00 mW");
        assert_eq!(shown(watts(12.345)), "12.3 W");
        assert_eq!(shown(watts(1.0)), "1.00 W");
        assert_eq!(shown(watts(109.94)), "110 W");
        assert_eq!(shown(with_prefix(0.00315, "A", 4)), "3.150 mA");
        assert_eq!(shown(with_prefix(-0.5, "V", 3)), "\u{2212}500 mV");
        assert_eq!(shown(with_prefix(0.97, "", 3)), "0.970");
    }

    #[test]
    fn a_value_is_rounded_to_the_place_of_two_digits_of_its_uncertainty() {
        assert_eq!(
            shown(PlusMinus::efficiency(0.91234, Some(0.00061))),
            "(91.23 ± 0.12) %"
        );
        assert_eq!(
            shown(PlusMinus::watts(0.11849, Some(0.00089))),
            "(118.5 ± 1.8) mW"
        );
        assert_eq!(shown(PlusMinus::score(63.27, Some(0.62))), "63.3 ± 1.2");
        assert_eq!(
            shown(PlusMinus::new(1234.0, Some(130.0), POINTS, 3)),
            "1230 ± 130"
        );
    }

    #[test]
    fn an_uncertainty_that_rounds_up_a_decade_keeps_two_digits() {
        assert_eq!(
            shown(PlusMinus::new(5.0, Some(0.0996), POINTS, 3)),
            "5.00 ± 0.10"
        );
        assert_eq!(
            shown(PlusMinus::new(5.0, Some(0.996), POINTS, 3)),
            "5.0 ± 1.0"
        );
    }

    #[test]
    fn an_unknown_uncertainty_is_left_out_and_not_printed_as_zero() {
        assert_eq!(shown(PlusMinus::efficiency(0.9, None)), "90.00 %");
        assert_eq!(shown(PlusMinus::score(63.27, None)), "63.3");
        assert_eq!(shown(PlusMinus::watts(0.118, None)), "118 mW");
    }

    #[test]
    fn a_negative_number_has_a_minus_and_a_rounded_zero_has_none() {
        assert_eq!(fixed(-1.25, 1), "\u{2212}1.2");
        assert_eq!(fixed(-0.001, 2), "0.00");
    }

    #[test]
    fn ratings_show_only_the_digits_they_have() {
        assert_eq!(shown(rated_watts(100.0)), "100 W");
        assert_eq!(shown(rated_watts(27.5)), "27.5 W");
        assert_eq!(plain(0.3), "0.3");
        assert_eq!(plain(240.0), "240");
    }

    #[test]
    fn sizes_and_counts_read_without_counting_digits() {
        assert_eq!(shown(bytes(812)), "812 B");
        assert_eq!(shown(bytes(14_230)), "14.2 kB");
        assert_eq!(shown(bytes(999_900)), "1.00 MB");
        assert_eq!(shown(bytes(1_073_741_824)), "1.07 GB");
        assert_eq!(shown(count(7)), "7");
        assert_eq!(shown(count(123_456)), "123 456");
        assert_eq!(shown(count(1_000)), "1 000");
    }

    #[test]
    fn dates_read_as_words_and_other_text_stays() {
        assert_eq!(shown(date("2026-09-01")), "1 Sep 2026");
        assert_eq!(date("soon"), "soon");
        assert_eq!(date("2026-13-01"), "2026-13-01");
    }
}
