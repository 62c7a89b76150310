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
                "no load".to_owned()
            } else {
                format!(
                    "{} load",
                    format::with_unit(format::plain(wave.load_percent), "%")
                )
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
            title: "Voltage, current and power",
            svg: chart.both(&id),
            table: chart.table(),
            caption: "Two cycles; each point is the mean of the samples around it.",
            id,
        });
    }
    if let Some(chart) = HarmonicsChart::of(&subject, wave) {
        let id = format!("{id}-harmonics");
        charts.push(WaveformFigure {
            title: "Harmonic currents",
            svg: chart.both(&id),
            table: chart.table(),
            caption: "The table has every order beside its limits.",
            id,
        });
    }
    WaveformView {
        source: format!(
            "{}, {} to {}",
            wave.name,
            format::duration(wave.from_s),
            wave.to_s.map_or("the end".to_owned(), format::duration)
        ),
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
    let drawn = format!(
        "It drew {} from a line of {} and {}",
        format::watts(quality.active_power_w),
        volts(quality.voltage_rms_v),
        hertz(quality.frequency_hz),
    );
    match (
        quality.power_factor,
        quality.distortion.current_thd_harmonics_percent,
    ) {
        (Some(power_factor), Some(thd)) => format!(
            "{drawn}, with a power factor of {} and a current whose distortion is {} of its \
             fundamental.",
            format::fixed(power_factor, 3),
            percent(thd)
        ),
        (Some(power_factor), None) => format!(
            "{drawn}, with a power factor of {}.",
            format::fixed(power_factor, 3)
        ),
        _ => format!("{drawn}."),
    }
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
    let mut add = |label, text: String| facts.push(Fact { label, text });
    let w = |value: f64, unit| format::with_unit(format::significant(value, 4), unit);
    let unknown = || "unknown".to_owned();
    let (fundamental, distortion) = (&quality.fundamental, &quality.distortion);
    add(
        "Voltage, current (r.m.s.)",
        format!(
            "{}, {}",
            volts(quality.voltage_rms_v),
            amps(quality.current_rms_a)
        ),
    );
    add("Active power P", w(quality.active_power_w, "W"));
    add("Apparent power S", w(quality.apparent_power_va, "VA"));
    add(
        "Non-active power N",
        format!("{}, √(S² − P²)", w(quality.nonactive_power_va, "VA")),
    );
    add(
        "Power factor",
        quality.power_factor.map_or_else(unknown, |pf| {
            let displacement = fundamental
                .displacement_power_factor
                .map_or(String::new(), |d| {
                    format!(
                        "; displacement alone (cos φ₁) {}{}",
                        format::fixed(d, 4),
                        fundamental.phase_deg.map_or(String::new(), |phase| format!(
                            ", the current {} by {}",
                            if phase >= 0.0 { "lagging" } else { "leading" },
                            format::with_unit(format::fixed(phase.abs(), 1), "°")
                        ))
                    )
                });
            format!("{}{displacement}", format::fixed(pf, 4))
        }),
    );
    add(
        "Current distortion (THD)",
        match (
            distortion.current_thd_harmonics_percent,
            distortion.current_thd_all_percent,
        ) {
            (Some(harmonics), Some(all)) => format!(
                "{} over orders 2 to {}; {} with everything that is not the fundamental",
                percent(harmonics),
                distortion.harmonics_to,
                percent(all)
            ),
            (Some(one), None) | (None, Some(one)) => percent(one),
            (None, None) => unknown(),
        },
    );
    add(
        "Voltage distortion (THD)",
        format!(
            "{} over orders 2 to {}",
            percent(distortion.voltage_thd_harmonics_percent),
            distortion.harmonics_to
        ),
    );
    add(
        "Crest factors",
        format!(
            "voltage {}, current {} (peak {})",
            format::fixed(quality.voltage_crest_factor, 3),
            quality
                .current_crest_factor
                .map_or_else(unknown, |c| format::fixed(c, 3)),
            amps(quality.current_peak_a)
        ),
    );
    add(
        "Fundamental",
        format!(
            "{}, {}, {}, {}",
            volts(fundamental.voltage_v),
            amps(fundamental.current_a),
            w(fundamental.active_power_w, "W"),
            w(fundamental.reactive_power_var, "var")
        ),
    );
    add(
        "Powers of distortion",
        format!(
            "D of the current {}, of the voltage {}; S of the harmonics {}; S not of the \
             fundamental {}",
            w(distortion.current_distortion_power_var, "var"),
            w(distortion.voltage_distortion_power_var, "var"),
            w(distortion.harmonic_apparent_power_va, "VA"),
            w(distortion.nonfundamental_apparent_power_va, "VA")
        ),
    );
    add(
        "Harmonic current",
        format!(
            "{} over orders 2 to {}; odd orders 21 to 39: {}",
            amps(distortion.total_harmonic_current_a),
            distortion.harmonics_to,
            amps(distortion.partial_odd_harmonic_current_a)
        ),
    );
    add(
        "Mean (dc)",
        format!(
            "{}, {}",
            volts(quality.voltage_dc_v),
            amps(quality.current_dc_a)
        ),
    );
    add(
        "Samples",
        format!(
            "{}, {} a second",
            format::count(quality.samples),
            format::count((1.0 / quality.interval_s).round() as u64)
        ),
    );
    add("Windows", quality.windows.description.clone());
    facts
}

fn class_name(class: HarmonicClass) -> &'static str {
    match class {
        HarmonicClass::A => "Class A",
        HarmonicClass::D => "Class D",
    }
}

fn screening_view(screening: &HarmonicScreening) -> ScreeningView {
    let (mark, sign, word) = match screening.result {
        ScreeningResult::Within => ("agrees", "✓", "within the limits"),
        ScreeningResult::Outside => ("contradicts", "✗", "above a limit"),
        ScreeningResult::NoLimitsApply => ("note", "–", "no limits apply"),
        ScreeningResult::Informative => ("note", "i", "for information"),
    };
    ScreeningView {
        mark,
        sign,
        word,
        reason: super::evidence::sentence(&screening.reason),
        statement: super::evidence::sentence(&screening.statement),
        facts: vec![
            Fact {
                label: "Class",
                text: format!(
                    "{}: {}",
                    class_name(screening.class),
                    screening.class_reason
                ),
            },
            Fact {
                label: "Rated input power",
                text: format!(
                    "{}: {}",
                    format::watts(screening.rated_input_power_w),
                    screening.rated_input_power_reason
                ),
            },
            Fact {
                label: "Not looked at",
                text: format!("harmonics below {}", amps(screening.floor_a)),
            },
            Fact {
                label: "Limits",
                text: screening.citation.clone(),
            },
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
        remarks.push(format!("limits for {}", format::watts(watts)));
    }
    if comparison.partial_odd_relief {
        remarks.push(format!(
            "an order from 21 on is above its limit and accepted, because the odd orders 21 to 39 \
             together stay below {}",
            amps(comparison.partial_odd_limit_a)
        ));
    }
    if comparison.short_excursion {
        remarks.push("a short excursion above 150 % is accepted".to_owned());
    }
    if !comparison.unknown_orders.is_empty() {
        let orders: Vec<String> = comparison
            .unknown_orders
            .iter()
            .map(ToString::to_string)
            .collect();
        remarks.push(format!(
            "the record cannot tell orders {}",
            orders.join(", ")
        ));
    }
    ClassView {
        name: format!(
            "{}{}",
            class_name(comparison.class),
            if decides { "" } else { " (for comparison)" }
        ),
        within: comparison.within,
        closest: comparison
            .closest_order
            .zip(comparison.closest_share)
            .map(|(order, share)| {
                format!("order {order}: {} of its limit", percent(100.0 * share))
            }),
        remarks: remarks.join("; "),
    }
}

fn agreement_view(agreement: &ReadingAgreement) -> AgreementView {
    let (quantity, unit) = match agreement.quantity.as_str() {
        "input_voltage_v" => ("Voltage", "V"),
        "input_current_a" => ("Current", "A"),
        "input_power_w" => ("Active power", "W"),
        "power_factor" => ("Power factor", ""),
        "current_thd_percent" => ("Current THD", "%"),
        "input_current_peak_a" => ("Peak current", "A"),
        _ => ("Other", ""),
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
