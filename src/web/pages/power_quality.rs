//! Sampled voltage and current on a unit's page: figures, charts, the harmonic currents beside
//! their limits, and whether the analyser saw the same.

use super::sheet::Fact;
use crate::{
    bench::record::HarmonicClass,
    chart::{Chart, ChartTable, HarmonicsChart, WaveformChart},
    evaluate::evaluation::{
        Evaluation, HarmonicComparison, HarmonicScreening, PowerQuality, ReadingAgreement,
        ScreeningResult, WaveformResult,
    },
    text::{t, word},
    web::format,
};

/// One waveform of a run.
pub struct WaveformView {
    pub run: String,
    /// "100 % load".
    pub load: String,
    /// Unique in the page.
    pub id: String,
    /// The section that it was cut from.
    pub source: String,
    /// Why nothing could be computed.
    pub refused: Option<String>,
    /// A plain sentence that anybody understands.
    pub summary: Option<String>,
    pub screening: Option<ScreeningView>,
    pub facts: Vec<Fact>,
    pub charts: Vec<WaveformFigure>,
    pub agreement: Vec<AgreementView>,
    /// What somebody who reads the figures should know of recording and supply.
    pub remarks: Vec<String>,
}

pub struct WaveformFigure {
    pub id: String,
    pub title: &'static str,
    pub svg: String,
    pub table: ChartTable,
    pub caption: &'static str,
}

pub struct ScreeningView {
    /// Class of the mark; never that of a verdict.
    pub mark: &'static str,
    pub sign: &'static str,
    pub word: &'static str,
    pub reason: String,
    pub statement: String,
    pub facts: Vec<Fact>,
    pub classes: Vec<ClassView>,
}

pub struct ClassView {
    pub name: String,
    pub within: bool,
    pub closest: Option<String>,
    pub remarks: String,
}

pub struct AgreementView {
    pub quantity: &'static str,
    pub waveform: String,
    pub analyser: String,
    pub difference: String,
    pub tolerance: String,
    pub why: String,
    pub agrees: bool,
}

impl WaveformView {
    /// Does every figure agree with the analyser's?
    pub fn all_agree(&self) -> bool {
        self.agreement.iter().all(|one| one.agrees)
    }
}

/// Every waveform of the evaluation, run by run; `name` is the unit's, for the charts.
pub fn waveforms(name: &str, evaluation: &Evaluation) -> Vec<WaveformView> {
    let all = evaluation
        .runs
        .iter()
        .flat_map(|run| run.waveforms.iter().map(move |wave| (run, wave)));
    all.enumerate()
        .map(|(n, (run, wave))| {
            let load = if wave.load_percent == 0.0 {
                word("wave-no-load").to_owned()
            } else {
                let percent = format::with_unit(format::plain(wave.load_percent), "%");
                t("condition-load").with("percent", percent).to_string()
            };
            waveform_view(name, n, &run.name, load, wave)
        })
        .collect()
}

fn waveform_view(
    name: &str,
    n: usize,
    run: &str,
    load: String,
    wave: &WaveformResult,
) -> WaveformView {
    let id = format!("waveform-{}", n + 1);
    let subject = format!("{name}, {run}, {load}");
    let mut charts = Vec::new();
    if let Some(chart) = WaveformChart::of(&subject, wave) {
        let id = format!("{id}-shape");
        charts.push(WaveformFigure {
            title: word("wave-shape"),
            svg: chart.both(&id),
            table: chart.table(),
            caption: word("wave-shape.caption"),
            id,
        });
    }
    if let Some(chart) = HarmonicsChart::of(&subject, wave) {
        let id = format!("{id}-harmonics");
        charts.push(WaveformFigure {
            title: word("wave-spectrum"),
            svg: chart.both(&id),
            table: chart.table(),
            caption: word("wave-spectrum.caption"),
            id,
        });
    }
    WaveformView {
        source: t("wave-source")
            .with("log", &wave.name)
            .with("from", format::duration(wave.from_s))
            .with(
                "to",
                wave.to_s
                    .map_or_else(|| word("wave-end").to_owned(), format::duration),
            )
            .to_string(),
        refused: wave.refused.clone(),
        summary: wave.quality.as_ref().map(summary),
        screening: wave.screening.as_ref().map(screening_view),
        facts: wave.quality.as_ref().map_or_else(Vec::new, facts),
        charts,
        agreement: wave.agreement.iter().map(agreement_view).collect(),
        remarks: wave
            .supply
            .iter()
            .chain(wave.quality.iter().flat_map(|quality| &quality.notes))
            .cloned()
            .collect(),
        run: run.to_owned(),
        load,
        id,
    }
}

fn summary(quality: &PowerQuality) -> String {
    let thd = quality.distortion.current_thd_harmonics_percent;
    let text = match (quality.power_factor, thd) {
        (Some(factor), Some(thd)) => t("wave-drew.distortion")
            .with("factor", format::fixed(factor, 3))
            .with("thd", percent(thd)),
        (Some(factor), None) => t("wave-drew.factor").with("factor", format::fixed(factor, 3)),
        _ => t("wave-drew"),
    };
    text.with("power", format::watts(quality.active_power_w))
        .with("voltage", volts(quality.voltage_rms_v))
        .with("frequency", hertz(quality.frequency_hz))
        .to_string()
}

fn volts(v: f64) -> String {
    format::with_unit(format::significant(v, 4), "V")
}

fn hertz(f: f64) -> String {
    format::with_unit(format::significant(f, 5), "Hz")
}

fn amps(a: f64) -> String {
    if a.abs() < 0.9995 {
        format::with_unit(format::significant(a * 1e3, 4), "mA")
    } else {
        format::with_unit(format::significant(a, 4), "A")
    }
}

fn percent(p: f64) -> String {
    format::with_unit(format::significant(p, 3), "%")
}

fn facts(quality: &PowerQuality) -> Vec<Fact> {
    let mut facts = Vec::new();
    let mut add = |label, text: String| facts.push(Fact::new(label, text));
    let w = |value: f64, unit| format::with_unit(format::significant(value, 4), unit);
    let unknown = || word("unknown").to_owned();
    let (fundamental, distortion) = (&quality.fundamental, &quality.distortion);
    add(
        word("wave-rms"),
        format!(
            "{}, {}",
            volts(quality.voltage_rms_v),
            amps(quality.current_rms_a)
        ),
    );
    add(word("wave-active"), w(quality.active_power_w, "W"));
    add(word("wave-apparent"), w(quality.apparent_power_va, "VA"));
    add(
        word("wave-nonactive"),
        format!("{}, √(S² − P²)", w(quality.nonactive_power_va, "VA")),
    );
    add(
        word("requirement-power-factor"),
        quality.power_factor.map_or_else(unknown, |factor| {
            let factor = format::fixed(factor, 4);
            let Some(displacement) = fundamental.displacement_power_factor else {
                return factor;
            };
            let text = match fundamental.phase_deg {
                Some(phase) if phase >= 0.0 => t("wave-factor.lagging"),
                Some(_) => t("wave-factor.leading"),
                None => t("wave-factor"),
            };
            let phase = fundamental.phase_deg.unwrap_or(0.0).abs();
            text.with("factor", factor)
                .with("displacement", format::fixed(displacement, 4))
                .with("phase", format::with_unit(format::fixed(phase, 1), "°"))
                .to_string()
        }),
    );
    add(
        word("wave-thd-current"),
        match (
            distortion.current_thd_harmonics_percent,
            distortion.current_thd_all_percent,
        ) {
            (Some(harmonics), Some(all)) => t("wave-thd-current.text")
                .with("thd", percent(harmonics))
                .with("order", distortion.harmonics_to.to_string())
                .with("all", percent(all))
                .to_string(),
            (Some(one), None) | (None, Some(one)) => percent(one),
            (None, None) => unknown(),
        },
    );
    add(
        word("wave-thd-voltage"),
        t("wave-thd-voltage.text")
            .with("thd", percent(distortion.voltage_thd_harmonics_percent))
            .with("order", distortion.harmonics_to.to_string())
            .to_string(),
    );
    add(
        word("wave-crest"),
        t("wave-crest.text")
            .with("voltage", format::fixed(quality.voltage_crest_factor, 3))
            .with(
                "current",
                quality
                    .current_crest_factor
                    .map_or_else(unknown, |c| format::fixed(c, 3)),
            )
            .with("peak", amps(quality.current_peak_a))
            .to_string(),
    );
    add(
        word("wave-fundamental"),
        format!(
            "{}, {}, {}, {}",
            volts(fundamental.voltage_v),
            amps(fundamental.current_a),
            w(fundamental.active_power_w, "W"),
            w(fundamental.reactive_power_var, "var")
        ),
    );
    add(
        word("wave-powers"),
        t("wave-powers.text")
            .with("current", w(distortion.current_distortion_power_var, "var"))
            .with("voltage", w(distortion.voltage_distortion_power_var, "var"))
            .with("harmonics", w(distortion.harmonic_apparent_power_va, "VA"))
            .with(
                "other",
                w(distortion.nonfundamental_apparent_power_va, "VA"),
            )
            .to_string(),
    );
    add(
        word("wave-harmonic-current"),
        t("wave-harmonic-current.text")
            .with("current", amps(distortion.total_harmonic_current_a))
            .with("order", distortion.harmonics_to.to_string())
            .with("odd", amps(distortion.partial_odd_harmonic_current_a))
            .to_string(),
    );
    add(
        word("wave-dc"),
        format!(
            "{}, {}",
            volts(quality.voltage_dc_v),
            amps(quality.current_dc_a)
        ),
    );
    add(
        word("wave-samples"),
        t("wave-samples.text")
            .with("count", format::count(quality.samples))
            .with(
                "rate",
                format::count((1.0 / quality.interval_s).round() as u64),
            )
            .to_string(),
    );
    facts.push(Fact::new(word("wave-windows"), "").explained(&quality.windows.description));
    facts
}

fn class_name(class: HarmonicClass) -> &'static str {
    match class {
        HarmonicClass::A => word("wave-class-a"),
        HarmonicClass::D => word("wave-class-d"),
    }
}

fn screening_view(screening: &HarmonicScreening) -> ScreeningView {
    let (mark, sign, said) = match screening.result {
        ScreeningResult::Within => ("agrees", "✓", word("screening-within")),
        ScreeningResult::Outside => ("contradicts", "✗", word("screening-outside")),
        ScreeningResult::NoLimitsApply => ("note", "–", word("screening-no-limits")),
        ScreeningResult::Informative => ("note", "i", word("screening-informative")),
    };
    ScreeningView {
        mark,
        sign,
        word: said,
        reason: super::evidence::sentence(&screening.reason),
        statement: super::evidence::sentence(&screening.statement),
        facts: vec![
            Fact::new(
                word("wave-class"),
                format!("{}:", class_name(screening.class)),
            )
            .explained(&screening.class_reason),
            Fact::new(
                word("screening-rated"),
                format!("{}:", format::watts(screening.rated_input_power_w)),
            )
            .explained(&screening.rated_input_power_reason),
            Fact::new(
                word("screening-floor"),
                t("screening-floor.text")
                    .with("current", amps(screening.floor_a))
                    .to_string(),
            ),
            Fact::new(word("screening-limits"), "").explained(&screening.citation),
        ],
        classes: screening
            .classes
            .iter()
            .enumerate()
            .map(|(n, class)| class_view(class, n == 0))
            .collect(),
    }
}

fn class_view(comparison: &HarmonicComparison, decides: bool) -> ClassView {
    let mut remarks = Vec::new();
    if let Some(watts) = comparison.limit_power_w {
        let power = format::watts(watts);
        remarks.push(t("screening-limits-for").with("power", power).to_string());
    }
    if comparison.partial_odd_relief {
        let current = amps(comparison.partial_odd_limit_a);
        remarks.push(t("screening-odd").with("current", current).to_string());
    }
    if comparison.short_excursion {
        remarks.push(word("screening-excursion").to_owned());
    }
    if !comparison.unknown_orders.is_empty() {
        let orders: Vec<String> = comparison
            .unknown_orders
            .iter()
            .map(ToString::to_string)
            .collect();
        let orders = orders.join(", ");
        remarks.push(t("screening-unknown").with("orders", orders).to_string());
    }
    ClassView {
        name: if decides {
            class_name(comparison.class).to_owned()
        } else {
            t("screening-compared")
                .with("class", class_name(comparison.class))
                .to_string()
        },
        within: comparison.within,
        closest: comparison
            .closest_order
            .zip(comparison.closest_share)
            .map(|(order, share)| {
                t("screening-closest")
                    .with("order", order.to_string())
                    .with("share", percent(100.0 * share))
                    .to_string()
            }),
        remarks: remarks.join("; "),
    }
}

fn agreement_view(agreement: &ReadingAgreement) -> AgreementView {
    let (quantity, unit) = match agreement.quantity.as_str() {
        "input_voltage_v" => (word("agree-voltage"), "V"),
        "input_current_a" => (word("agree-current"), "A"),
        "input_power_w" => (word("agree-power"), "W"),
        "power_factor" => (word("requirement-power-factor"), ""),
        "current_thd_percent" => (word("agree-thd"), "%"),
        "input_current_peak_a" => (word("agree-peak"), "A"),
        _ => (word("term-other"), ""),
    };
    let value = |v: f64, digits| format::with_unit(format::significant(v, digits), unit);
    AgreementView {
        quantity,
        waveform: value(agreement.waveform, 4),
        analyser: value(agreement.analyser, 4),
        difference: value(agreement.difference, 2),
        tolerance: format!("±{}", value(agreement.tolerance, 2)),
        why: agreement.tolerance_reason.clone(),
        agrees: agreement.agrees,
    }
}
