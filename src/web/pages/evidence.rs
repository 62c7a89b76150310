//! What a unit's raw logs bear out, ready to show: no-load power over time with the method that
//! applied, load points cut from logs, and the logs themselves with how they are read.

use super::power_quality::{WaveformView, waveforms};
use crate::{
    bench::record::{
        DateOrder, DecimalMark, Delimiter, Encoding, Layout, LogColumn, LogQuantity, Record,
        TimeForm,
    },
    chart::{Chart, ChartTable, NoLoadTrace},
    evaluate::{
        Method,
        evaluation::{
            Evaluation, FiveMinute, MethodTried, NoLoadAgainstLimit, NoLoadLog, NoLoadResult,
            PointLog, Requirement, RunResult,
        },
    },
    standards::Role,
    text::{Text, t, word},
    web::format::{self, PlusMinus},
};

/// All sections of a sheet that come from logs; empty for a record without any.
pub struct EvidenceView {
    pub no_loads: Vec<NoLoadView>,
    pub waveforms: Vec<WaveformView>,
    pub logs: Vec<LogView>,
    /// Still unpublished: what the tester had better record first stands at the top.
    pub for_tester: bool,
}

/// A run's no-load figure that comes from a log.
pub struct NoLoadView {
    pub run: String,
    /// Of the section, unique in the page.
    pub id: String,
    /// Plain sentences that anybody understands.
    pub summary: Vec<String>,
    pub against: Vec<AgainstView>,
    pub svg: String,
    pub table: ChartTable,
    pub methods: Vec<MethodView>,
    pub facts: Vec<super::sheet::Fact>,
    pub five_minute: Option<FiveMinuteView>,
}

/// The figure against one limit.
pub struct AgainstView {
    pub rules: String,
    pub limit: String,
    /// Outcome id, sign and word; `None` where another run decides.
    pub mark: Option<(&'static str, &'static str, &'static str)>,
    /// "4 of 36 (11 %)"; `None` in a log shorter than a window.
    pub windows_above: Option<String>,
    /// How long must still be recorded, in a sentence.
    pub longer: String,
    /// Would recording longer help, or is it unknown whether it would?
    pub open: bool,
}

pub struct MethodView {
    pub name: &'static str,
    pub used: bool,
    pub applies: bool,
    pub power: Option<String>,
    pub why: String,
}

pub struct FiveMinuteView {
    pub power: String,
    pub window: String,
    pub drift: String,
    pub stable: bool,
    pub why: String,
}

/// A load point whose readings are averages of a log.
pub struct PointLogView {
    pub stable: bool,
    /// Where it was cut from.
    pub words: String,
    /// Why it is stable or not, in the words of the evaluation document.
    pub stability: String,
    /// "input power 27.412 W, u 0.003 W from the scatter".
    pub scatter: Vec<String>,
}

/// A raw file of the record.
pub struct LogView {
    pub name: String,
    pub sha256: String,
    pub size: String,
    /// `None` until the program that keeps it has read it.
    pub rows: Option<String>,
    pub layout: Vec<String>,
    pub used_for: Vec<String>,
    /// Where its bytes are offered.
    pub url: Option<String>,
}

impl EvidenceView {
    /// Of a record and its evaluation; `name` is the unit's, for the charts.
    pub fn of(
        name: &str,
        record: &Record,
        evaluation: &Evaluation,
        method: &Method,
    ) -> EvidenceView {
        EvidenceView {
            no_loads: evaluation
                .runs
                .iter()
                .enumerate()
                .filter_map(|(n, run)| no_load_view(name, n, run, evaluation, method))
                .collect(),
            waveforms: waveforms(name, evaluation),
            logs: record
                .logs
                .iter()
                .map(|log| LogView {
                    name: log.name.clone(),
                    sha256: log.sha256.clone(),
                    size: format::bytes(log.size_bytes),
                    rows: None,
                    layout: layout_words(&log.layout),
                    used_for: used_for(&log.name, record),
                    url: None,
                })
                .collect(),
            for_tester: false,
        }
    }

    /// Is there a limit for which recording longer might tell more?
    pub fn anything_open(&self) -> bool {
        let mut all = self.no_loads.iter().flat_map(|n| &n.against);
        all.any(|against| against.open)
    }
}

impl LogView {
    /// Enough to tell logs apart at a glance.
    pub fn short_sha256(&self) -> &str {
        self.sha256.get(..12).unwrap_or(&self.sha256)
    }
}

/// The name of a regime that holds today or will; `None` for earlier rules and marking levels.
fn present_rule(method: &Method, id: &str) -> Option<String> {
    let regime = method.standards.regime(id)?;
    matches!(regime.role, Role::Law | Role::Voluntary | Role::Pending).then(|| regime.short.clone())
}

/// A no-load figure with its own U where it has one.
pub fn no_load_figure(no_load: &NoLoadResult) -> PlusMinus {
    match no_load.expanded_uncertainty_w {
        Some(expanded) => PlusMinus::new(
            no_load.power_w,
            Some(expanded),
            format::watt_scale(no_load.power_w),
            3,
        ),
        None => PlusMinus::watts(no_load.power_w, no_load.power_u),
    }
}

/// How a no-load figure was obtained, in words.
pub fn no_load_method(method: &str) -> &str {
    match method {
        "reading" => word("idle-from-reading"),
        "sampling" => word("idle-from-sampling"),
        "cyclic" => word("idle-from-cycles"),
        "running-mean" => word("idle-from-mean"),
        "average" => word("idle-from-average"),
        "average-unsettled" => word("idle-from-unsettled"),
        other => other,
    }
}

fn method_name(method: &str) -> &'static str {
    match method {
        "sampling" => word("method-sampling"),
        "cyclic" => word("method-cyclic"),
        "running-mean" => word("method-running-mean"),
        "average" => word("method-average"),
        "average-unsettled" => word("method-unsettled"),
        "reading" => word("method-reading"),
        _ => word("term-other"),
    }
}

fn no_load_view(
    name: &str,
    n: usize,
    run: &RunResult,
    evaluation: &Evaluation,
    method: &Method,
) -> Option<NoLoadView> {
    let no_load = run.no_load.as_ref()?;
    let log = no_load.log.as_ref()?;
    let subject = format!("{name}, {}", run.name);
    let chart = NoLoadTrace::of_run(&subject, run, |id| present_rule(method, id))?;
    let id = format!("no-load-{}", n + 1);
    Some(NoLoadView {
        summary: summary(no_load, log),
        against: log
            .limits
            .iter()
            .filter_map(|limit| against_view(limit, log, run, evaluation, method))
            .collect(),
        svg: chart.both(&format!("{id}-trace")),
        table: chart.table(),
        methods: log.methods.iter().map(method_view).collect(),
        facts: facts(no_load, log),
        five_minute: log.five_minute.as_ref().map(five_minute_view),
        run: run.name.clone(),
        id,
    })
}

fn summary(no_load: &NoLoadResult, log: &NoLoadLog) -> Vec<String> {
    let figure = no_load_figure(no_load);
    let partly = log.used_from_s > log.from_s || log.used_to_s < log.to_s;
    let drew = match (partly, figure.expanded.is_some()) {
        (false, true) => t("idle-drew"),
        (false, false) => t("idle-drew.unsure"),
        (true, true) => t("idle-drew.part"),
        (true, false) => t("idle-drew.part-unsure"),
    };
    let drew = drew
        .with("power", figure.to_string())
        .with("whole", format::duration(log.to_s - log.from_s))
        .with("used", format::duration(log.used_to_s - log.used_from_s));
    let mut sentences = vec![drew.to_string()];
    if log.used_from_s > log.from_s {
        let settled = match log.settled_at_s {
            Some(at) if at > log.from_s => {
                t("idle-settled").with("after", format::duration(at - log.from_s))
            }
            Some(_) => t("idle-settled.at-once"),
            None => t("idle-settled.never"),
        };
        let discarded = format::duration(log.used_from_s - log.from_s);
        sentences.push(settled.with("discarded", discarded).to_string());
    }
    if let Some(cycle) = &log.cycle {
        sentences.push(
            t("idle-cycle")
                .with("period", format::duration(cycle.period_s))
                .with("cycles", cycle.cycles.to_string())
                .to_string(),
        );
    }
    sentences
}

fn against_view(
    limit: &NoLoadAgainstLimit,
    log: &NoLoadLog,
    run: &RunResult,
    evaluation: &Evaluation,
    method: &Method,
) -> Option<AgainstView> {
    let rules: Vec<String> = limit
        .regimes
        .iter()
        .filter_map(|id| present_rule(method, id))
        .collect();
    if rules.is_empty() {
        return None;
    }
    let verdict = evaluation.verdicts.iter().find(|v| {
        v.requirement == Requirement::NoLoad
            && limit.regimes.contains(&v.regime)
            && present_rule(method, &v.regime).is_some()
            && v.run.as_deref() == Some(run.name.as_str())
            && v.limit
                .is_some_and(|l| (l - limit.limit_w).abs() <= 1e-9 * limit.limit_w.abs())
    });
    Some(AgainstView {
        rules: rules.join(", "),
        limit: format::watts(limit.limit_w),
        mark: verdict.map(|v| {
            (
                v.result.id(),
                format::outcome_sign(v.result),
                format::outcome(v.result),
            )
        }),
        windows_above: (!log.windows.is_empty()).then(|| {
            let above = (limit.windows_above * log.windows.len() as f64).round();
            let share = format::fixed(100.0 * limit.windows_above, 0);
            t("idle-above")
                .with("above", above.to_string())
                .with("windows", log.windows.len().to_string())
                .with("share", format::with_unit(share, "%"))
                .to_string()
        }),
        longer: sentence(&limit.longer.message),
        open: limit.longer.answer != "clear",
    })
}

fn method_view(tried: &MethodTried) -> MethodView {
    MethodView {
        name: method_name(&tried.method),
        used: tried.used,
        applies: tried.applies,
        power: tried.power_w.map(milliwatts),
        why: sentence(&tried.why),
    }
}

fn five_minute_view(five: &FiveMinute) -> FiveMinuteView {
    let percent = |p: f64| format::with_unit(format::significant(p, 2), "%");
    FiveMinuteView {
        power: milliwatts(five.power_w),
        window: from_to(format::duration(five.from_s), format::duration(five.to_s)),
        drift: t("idle-drift")
            .with("drift", percent(five.drift_percent))
            .with("allowed", percent(five.drift_limit_percent))
            .to_string(),
        stable: five.stable,
        why: sentence(&five.why),
    }
}

/// Four significant digits: what is compared differs in the third.
fn milliwatts(power_w: f64) -> String {
    let scale = format::watt_scale(power_w);
    format::with_unit(format::significant(power_w * scale.factor, 4), scale.unit)
}

/// An uncertainty, two digits, in mW or W beside the figure it belongs to.
fn uncertainty(u_w: f64, beside_w: f64) -> String {
    let scale = format::watt_scale(beside_w);
    format::with_unit(format::significant(u_w * scale.factor, 2), scale.unit)
}

/// A slope in mW or W per hour.
fn per_hour(slope_w: f64) -> String {
    let scale = format::watt_scale(slope_w);
    let digits = format::significant(slope_w * scale.factor, 2);
    format!("{}/h", format::with_unit(digits, scale.unit))
}

/// From one moment to another.
pub(super) fn from_to(from: String, to: String) -> String {
    t("from-to").with("from", from).with("to", to).to_string()
}

/// Ends with a full stop and begins with a capital letter.
pub(super) fn sentence(text: &str) -> String {
    let text = text.trim();
    let mut chars = text.chars();
    let Some(first) = chars.next() else {
        return String::new();
    };
    let end = if text.ends_with(['.', '!', '?']) {
        ""
    } else {
        "."
    };
    format!("{}{}{end}", first.to_uppercase(), chars.as_str())
}

fn facts(no_load: &NoLoadResult, log: &NoLoadLog) -> Vec<super::sheet::Fact> {
    let power_w = no_load.power_w;
    let mut facts = Vec::new();
    let mut add = |label, text: String| facts.push(super::sheet::Fact::new(label, text));
    add(
        word("log-recording"),
        t("log-recording.text")
            .with("from", format::duration(log.from_s))
            .with("to", format::duration(log.to_s))
            .with("log", &log.name)
            .with("samples", format::count(log.samples))
            .with("interval", format::duration(log.interval_s))
            .to_string(),
    );
    let discarded = (log.used_from_s - log.from_s).max(0.0);
    add(
        word("log-part"),
        t("log-part.text")
            .with("from", format::duration(log.used_from_s))
            .with("to", format::duration(log.used_to_s))
            .with("discarded", format::duration(discarded))
            .to_string(),
    );
    add(
        word("log-settled"),
        log.settled_at_s
            .map_or_else(|| word("log-settled.never").to_owned(), format::duration),
    );
    add(
        word("log-slope"),
        t("log-slope.text")
            .with("slope", per_hour(log.slope_w_per_h))
            .with("u", per_hour(2.0 * log.slope_u_w_per_h))
            .with("limit", per_hour(log.slope_limit_w_per_h))
            .to_string(),
    );
    add(
        word("log-cycle"),
        match &log.cycle {
            None => word("log-cycle.none").to_owned(),
            Some(cycle) => t("log-cycle.text")
                .with("period", format::duration(cycle.period_s))
                .with("cycles", cycle.cycles.to_string())
                .with("first", milliwatts(cycle.first_mean_w))
                .with("second", milliwatts(cycle.second_mean_w))
                .with("drift", per_hour(cycle.drift_w_per_h))
                .to_string(),
        },
    );
    let freedom = |dof: f64| {
        if dof < 1e4 {
            t("log-freedom")
                .with("count", format::fixed(dof, 0))
                .to_string()
        } else {
            word("log-freedom.unlimited").to_owned()
        }
    };
    add(
        word("log-u-instrument"),
        match log.instrument_u_w {
            None => word("log-u-instrument.unknown").to_owned(),
            Some(u) => t("log-u-instrument.text")
                .with("u", uncertainty(u, power_w))
                .to_string(),
        },
    );
    let scatter = if log.long_enough {
        t("log-u-scatter.text")
    } else {
        t("log-u-scatter.widened")
    };
    add(
        word("log-u-scatter"),
        scatter
            .with("u", uncertainty(log.scatter_u_w, power_w))
            .with("freedom", freedom(log.scatter_degrees_of_freedom))
            .with("block", format::duration(log.block_s))
            .to_string(),
    );
    add(
        word("log-expanded"),
        match no_load.expanded_uncertainty_w {
            Some(expanded) => {
                let text = match log.degrees_of_freedom {
                    Some(dof) => t("log-expanded.freedom").with("freedom", freedom(dof)),
                    None => t("log-expanded.text"),
                };
                text.with("u", uncertainty(expanded, power_w))
                    .with("k", format::fixed(log.coverage_factor, 2))
                    .to_string()
            }
            None => word("not-known").to_owned(),
        },
    );
    if let Some(allowed) = log.allowed_uncertainty_w {
        add(
            word("log-allowed"),
            t("log-allowed.text")
                .with("u", uncertainty(allowed, power_w))
                .to_string(),
        );
    }
    let amps = |a: f64| {
        if a.abs() < 1.0 {
            format::with_unit(format::significant(a * 1e3, 3), "mA")
        } else {
            format::with_unit(format::significant(a, 3), "A")
        }
    };
    if let Some(peak) = log.current_peak_a {
        add(word("log-peak"), amps(peak));
    }
    if let Some(current) = log.current_a {
        add(word("log-current"), amps(current));
    }
    if let Some(power_factor) = log.power_factor {
        add(
            word("requirement-power-factor"),
            format::fixed(power_factor, 3),
        );
    }
    if !log.known.is_empty() {
        let known = super::sheet::Fact::new(word("log-known"), "");
        facts.push(known.explained(&log.known));
    }
    facts
}

/// A point's section in words.
pub fn point_log_view(log: &PointLog) -> PointLogView {
    PointLogView {
        stable: log.stable,
        words: t("point-mean")
            .with("samples", format::count(log.samples))
            .with("log", &log.name)
            .with("from", format::duration(log.from_s))
            .with("to", format::duration(log.to_s))
            .to_string(),
        stability: sentence(&log.stability),
        scatter: log
            .scatter
            .iter()
            .map(|scatter| {
                let (name, unit) = quantity_of(&scatter.quantity);
                let name = match &scatter.port {
                    Some(port) => t("point-quantity")
                        .with("quantity", name)
                        .with("port", port)
                        .to_string(),
                    None => name,
                };
                let value =
                    |v: f64, digits| format::with_unit(format::significant(v, digits), unit);
                let text = match scatter.u {
                    Some(u) => t("point-scatter.u").with("u", value(u, 2)),
                    None => t("point-scatter"),
                };
                text.with("quantity", name)
                    .with("mean", value(scatter.mean, 5))
                    .to_string()
            })
            .collect(),
    }
}

/// A quantity's name and unit by its word in the record.
fn quantity_of(word: &str) -> (String, &'static str) {
    match serde_json::from_value::<LogQuantity>(word.into()) {
        Ok(quantity) => {
            let (name, unit) = format::log_quantity(quantity);
            (name.to_owned(), unit)
        }
        Err(_) => (word.replace('_', " "), ""),
    }
}

/// What of the record's runs is cut from a log.
fn used_for(name: &str, record: &Record) -> Vec<String> {
    let section = |what: Text, from: Option<f64>, to: Option<f64>| match (from, to) {
        (None, None) => what.to_string(),
        (from, to) => {
            let from = from.map_or_else(|| word("section-begin").to_owned(), format::duration);
            let to = to.map_or_else(|| word("section-end").to_owned(), format::duration);
            t("section")
                .with("what", what)
                .with("from", from)
                .with("to", to)
                .to_string()
        }
    };
    let percent = |p: f64| format::with_unit(format::plain(p), "%");
    let mut uses = Vec::new();
    for run in &record.runs {
        if let Some(idle) = run
            .no_load
            .as_ref()
            .filter(|n| n.log.as_deref() == Some(name))
        {
            let what = t("use-no-load").with("run", &run.name);
            uses.push(section(what, idle.log_from_s, idle.log_to_s));
        }
        for point in run.points.iter().filter(|p| p.log.as_deref() == Some(name)) {
            let what = t("use-load")
                .with("percent", percent(point.load_percent))
                .with("run", &run.name);
            uses.push(section(what, point.log_from_s, point.log_to_s));
        }
        for wave in run.waveforms.iter().filter(|w| w.log == name) {
            let what = t("use-waveform")
                .with("percent", percent(wave.load_percent))
                .with("run", &run.name);
            uses.push(section(what, wave.log_from_s, wave.log_to_s));
        }
    }
    uses
}

/// How the text of a log is read, in words: the file, its times, then a line a column.
pub fn layout_words(layout: &Layout) -> Vec<String> {
    let encoding = match layout.encoding {
        Encoding::Utf8 => "UTF-8",
        Encoding::Utf16Le => "UTF-16 (little-endian)",
        Encoding::Utf16Be => "UTF-16 (big-endian)",
        Encoding::Latin1 => "Latin-1",
    };
    let delimiter = match layout.delimiter {
        Delimiter::Comma => word("layout-commas"),
        Delimiter::Semicolon => word("layout-semicolons"),
        Delimiter::Tab => word("layout-tabs"),
        Delimiter::Pipe => word("layout-bars"),
        Delimiter::Spaces => word("layout-spaces"),
    };
    let decimal = match layout.decimal {
        DecimalMark::Point => word("layout-point"),
        DecimalMark::Comma => word("layout-comma"),
    };
    let mut words = vec![
        t("layout")
            .with("encoding", encoding)
            .with("delimiter", delimiter)
            .with("decimal", decimal)
            .with("line", layout.first_line.to_string())
            .to_string(),
    ];
    let time = &layout.time;
    let form = match time.form {
        TimeForm::Seconds => t("layout-seconds"),
        TimeForm::Milliseconds => t("layout-milliseconds"),
        TimeForm::Microseconds => t("layout-microseconds"),
        TimeForm::Minutes => t("layout-minutes"),
        TimeForm::Hours => t("layout-hours"),
        TimeForm::Clock => t("layout-clock"),
        TimeForm::DateTime => t("layout-date-time"),
        TimeForm::Index => t("layout-index"),
    };
    let mut parts = vec![match (time.column, time.interval_s) {
        (Some(column), _) => form.with("column", column.to_string()).to_string(),
        (None, Some(interval)) => t("layout-every")
            .with("interval", format::duration(interval))
            .to_string(),
        (None, None) => word("layout-no-time").to_owned(),
    }];
    if let Some(column) = time.date_column {
        let date = t("layout-date-column").with("column", column.to_string());
        parts.push(date.to_string());
    }
    let order = time.date_order.map(|order| match order {
        DateOrder::YearFirst => word("layout-year-first"),
        DateOrder::DayFirst => word("layout-day-first"),
        DateOrder::MonthFirst => word("layout-month-first"),
    });
    parts.extend(order.map(str::to_owned));
    words.push(parts.join(", "));
    words.extend(layout.columns.iter().map(column_words));
    words
}

fn column_words(column: &LogColumn) -> String {
    let (name, unit) = format::log_quantity(column.quantity);
    let quantity = match &column.port {
        Some(port) => t("point-quantity")
            .with("quantity", name)
            .with("port", port)
            .to_string(),
        None => name.to_owned(),
    };
    let text = if unit.is_empty() {
        t("layout-column")
    } else {
        t("layout-column.unit").with("unit", unit)
    };
    let text = text
        .with("column", column.column.to_string())
        .with("quantity", quantity)
        .to_string();
    match column.factor {
        Some(factor) if factor != 1.0 => {
            let factor = crate::text::localised(factor.to_string());
            format!("{text}, {}", t("layout-factor").with("factor", factor))
        }
        _ => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::record::TimeColumn;

    #[test]
    fn a_layout_reads_as_a_sentence_about_the_file_and_one_about_each_column() {
        let layout = Layout {
            encoding: Encoding::Latin1,
            delimiter: Delimiter::Semicolon,
            decimal: DecimalMark::Comma,
            first_line: 4,
            time: TimeColumn {
                form: TimeForm::Clock,
                column: Some(2),
                date_column: Some(1),
                date_order: Some(DateOrder::DayFirst),
                interval_s: None,
            },
            columns: vec![
                LogColumn {
                    column: 3,
                    quantity: LogQuantity::InputPowerW,
                    port: None,
                    factor: Some(0.001),
                },
                LogColumn {
                    column: 5,
                    quantity: LogQuantity::OutputVoltageV,
                    port: Some("C1".to_owned()),
                    factor: None,
                },
            ],
        };
        assert_eq!(
            layout_words(&layout),
            [
                "Latin-1; columns between semicolons; decimal comma; data from line 4",
                "column 2: time as clock time, its date in column 1, day first",
                "column 3: input power in W, its numbers times 0.001",
                "column 5: output voltage of C1 in V",
            ]
        );
    }

    #[test]
    fn a_sentence_of_the_evaluation_begins_and_ends_like_one() {
        assert_eq!(sentence("slope too steep"), "Slope too steep.");
        assert_eq!(sentence("Done."), "Done.");
        assert_eq!(sentence(" "), "");
    }

    #[test]
    fn a_figure_from_a_log_carries_its_own_expanded_uncertainty() {
        let mut no_load = NoLoadResult {
            power_w: 0.0739,
            power_u: Some(0.0008),
            method: "sampling".to_owned(),
            expanded_uncertainty_w: Some(0.0021),
            log: None,
        };
        let shown = |n: &NoLoadResult| no_load_figure(n).to_string().replace('\u{202f}', " ");
        assert_eq!(shown(&no_load), "(73.9 ± 2.1) mW");
        no_load.expanded_uncertainty_w = None;
        assert_eq!(shown(&no_load), "(73.9 ± 1.6) mW");
    }
}
