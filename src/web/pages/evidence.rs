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
    /// Where it was cut from and why it is stable or not.
    pub words: String,
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
        "reading" => "a reading",
        "sampling" => "from a log, sampling method",
        "cyclic" => "from a log, whole cycles",
        "running-mean" => "from a log, mean that had come to rest",
        "average" => "from a log, average over a longer period",
        "average-unsettled" => "from a log, average of a power that had not settled",
        other => other,
    }
}

fn method_name(method: &str) -> &'static str {
    match method {
        "sampling" => "Sampling",
        "cyclic" => "Sampling over whole cycles",
        "running-mean" => "Running mean come to rest",
        "average" => "Average over a longer period",
        "average-unsettled" => "Plain average, unsettled",
        "reading" => "Direct reading",
        _ => "Other",
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
    let sure = if figure.expanded.is_some() {
        ""
    } else {
        " (how surely is not known: no accuracy of the instrument is recorded)"
    };
    let whole = format::duration(log.to_s - log.from_s);
    let used = format::duration(log.used_to_s - log.used_from_s);
    let mut sentences = vec![
        if log.used_from_s > log.from_s || log.used_to_s < log.to_s {
            format!(
                "Plugged in with nothing connected, it drew {figure} on average{sure}: the mean of \
             {used} out of a recording of {whole}."
            )
        } else {
            format!(
                "Plugged in with nothing connected, it drew {figure} on average{sure}, over a \
             recording of {whole}."
            )
        },
    ];
    if log.used_from_s > log.from_s {
        let discarded = format::duration(log.used_from_s - log.from_s);
        sentences.push(match log.settled_at_s {
            Some(at) if at > log.from_s => format!(
                "It had settled {} after the recording began; the first {discarded} were left out.",
                format::duration(at - log.from_s)
            ),
            Some(_) => format!(
                "It was settled from the beginning; the first {discarded} were left out all the \
                 same, as the method asks."
            ),
            None => format!(
                "It never settled while it was recorded; the first {discarded} were left out."
            ),
        });
    }
    if let Some(cycle) = &log.cycle {
        sentences.push(format!(
            "Its power goes up and down in a cycle of {}; {} whole cycles were averaged.",
            format::duration(cycle.period_s),
            cycle.cycles
        ));
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
            format!(
                "{above} of {} ({})",
                log.windows.len(),
                format::with_unit(format::fixed(100.0 * limit.windows_above, 0), "%")
            )
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
        window: format!(
            "{} to {}",
            format::duration(five.from_s),
            format::duration(five.to_s)
        ),
        drift: format!(
            "{} of {} allowed",
            percent(five.drift_percent),
            percent(five.drift_limit_percent)
        ),
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
    let mut add = |label, text: String| facts.push(super::sheet::Fact { label, text });
    add(
        "Recording",
        format!(
            "{} to {} of {}, {} samples, one every {}",
            format::duration(log.from_s),
            format::duration(log.to_s),
            log.name,
            format::count(log.samples),
            format::duration(log.interval_s)
        ),
    );
    add(
        "Part used",
        format!(
            "{} to {}; {} before it discarded",
            format::duration(log.used_from_s),
            format::duration(log.used_to_s),
            format::duration((log.used_from_s - log.from_s).max(0.0))
        ),
    );
    add(
        "Settled at",
        log.settled_at_s
            .map_or("never in this recording".to_owned(), format::duration),
    );
    add(
        "Slope over the part used",
        format!(
            "{}, known to ±{}; allowed below {}",
            per_hour(log.slope_w_per_h),
            per_hour(2.0 * log.slope_u_w_per_h),
            per_hour(log.slope_limit_w_per_h)
        ),
    );
    add(
        "Cycle",
        match &log.cycle {
            None => "none found".to_owned(),
            Some(cycle) => format!(
                "{} long, {} whole cycles used; means of the two halves {} and {}, a drift of {}",
                format::duration(cycle.period_s),
                cycle.cycles,
                milliwatts(cycle.first_mean_w),
                milliwatts(cycle.second_mean_w),
                per_hour(cycle.drift_w_per_h)
            ),
        },
    );
    let freedom = |dof: f64| {
        if dof < 1e4 {
            format!("{} degrees of freedom", format::fixed(dof, 0))
        } else {
            "practically unlimited degrees of freedom".to_owned()
        }
    };
    add(
        "u from the instrument",
        log.instrument_u_w
            .map_or("not known: its accuracy is not recorded".to_owned(), |u| {
                format!(
                    "{} (its stated accuracy, u = a/√3)",
                    uncertainty(u, power_w)
                )
            }),
    );
    add(
        "u from the scatter",
        format!(
            "{} ({}; blocks of {}, so that samples that hang together count as one{})",
            uncertainty(log.scatter_u_w, power_w),
            freedom(log.scatter_degrees_of_freedom),
            format::duration(log.block_s),
            if log.long_enough {
                ""
            } else {
                "; widened, because the record is too short to tell how slowly the power changes"
            }
        ),
    );
    add(
        "Expanded uncertainty U",
        match no_load.expanded_uncertainty_w {
            Some(expanded) => format!(
                "{} = k · u with k = {} for 95 %{}",
                uncertainty(expanded, power_w),
                format::fixed(log.coverage_factor, 2),
                log.degrees_of_freedom
                    .map_or(String::new(), |dof| format!(", {}", freedom(dof)))
            ),
            None => "not known".to_owned(),
        },
    );
    if let Some(allowed) = log.allowed_uncertainty_w {
        add(
            "U that the standard allows",
            format!("up to {}", uncertainty(allowed, power_w)),
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
        add("Largest peak current", amps(peak));
    }
    if let Some(current) = log.current_a {
        add("Mean current (r.m.s.)", amps(current));
    }
    if let Some(power_factor) = log.power_factor {
        add("Power factor", format::fixed(power_factor, 3));
    }
    if !log.known.is_empty() {
        add("Where the methods stand", log.known.clone());
    }
    facts
}

/// A point's section in words.
pub fn point_log_view(log: &PointLog) -> PointLogView {
    PointLogView {
        stable: log.stable,
        words: format!(
            "mean of {} samples of {}, {} to {}. {}",
            format::count(log.samples),
            log.name,
            format::duration(log.from_s),
            format::duration(log.to_s),
            sentence(&log.stability)
        ),
        scatter: log
            .scatter
            .iter()
            .map(|scatter| {
                let (name, unit) = quantity_of(&scatter.quantity);
                let port = scatter
                    .port
                    .as_ref()
                    .map_or(String::new(), |port| format!(" of {port}"));
                let value =
                    |v: f64, digits| format::with_unit(format::significant(v, digits), unit);
                let u = scatter.u.map_or(String::new(), |u| {
                    format!(", u = {} from the scatter", value(u, 2))
                });
                format!("{name}{port} {}{u}", value(scatter.mean, 5))
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
    let section = |from: Option<f64>, to: Option<f64>| match (from, to) {
        (None, None) => String::new(),
        (from, to) => format!(
            ", {} to {}",
            from.map_or("its begin".to_owned(), format::duration),
            to.map_or("its end".to_owned(), format::duration)
        ),
    };
    let percent = |p: f64| format::with_unit(format::plain(p), "%");
    let mut uses = Vec::new();
    for run in &record.runs {
        if let Some(idle) = run
            .no_load
            .as_ref()
            .filter(|n| n.log.as_deref() == Some(name))
        {
            uses.push(format!(
                "no load, {}{}",
                run.name,
                section(idle.log_from_s, idle.log_to_s)
            ));
        }
        for point in run.points.iter().filter(|p| p.log.as_deref() == Some(name)) {
            uses.push(format!(
                "{} load, {}{}",
                percent(point.load_percent),
                run.name,
                section(point.log_from_s, point.log_to_s)
            ));
        }
        for wave in run.waveforms.iter().filter(|w| w.log == name) {
            uses.push(format!(
                "waveform at {} load, {}{}",
                percent(wave.load_percent),
                run.name,
                section(wave.log_from_s, wave.log_to_s)
            ));
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
        Delimiter::Comma => "commas",
        Delimiter::Semicolon => "semicolons",
        Delimiter::Tab => "tabs",
        Delimiter::Pipe => "upright bars",
        Delimiter::Spaces => "spaces",
    };
    let decimal = match layout.decimal {
        DecimalMark::Point => "point",
        DecimalMark::Comma => "comma",
    };
    let mut words = vec![format!(
        "{encoding}; columns between {delimiter}; decimal {decimal}; data from line {}",
        layout.first_line
    )];
    let time = &layout.time;
    let form = match time.form {
        TimeForm::Seconds => "in seconds",
        TimeForm::Milliseconds => "in milliseconds",
        TimeForm::Microseconds => "in microseconds",
        TimeForm::Minutes => "in minutes",
        TimeForm::Hours => "in hours",
        TimeForm::Clock => "as clock time",
        TimeForm::DateTime => "as date and time",
        TimeForm::Index => "",
    };
    let mut line = match (time.column, time.interval_s) {
        (Some(column), _) => format!("column {column}: time {form}"),
        (None, Some(interval)) => {
            format!("no time column: a row every {}", format::duration(interval))
        }
        (None, None) => "no time column".to_owned(),
    };
    if let Some(column) = time.date_column {
        line.push_str(&format!(", its date in column {column}"));
    }
    match time.date_order {
        Some(DateOrder::YearFirst) => line.push_str(", year first"),
        Some(DateOrder::DayFirst) => line.push_str(", day first"),
        Some(DateOrder::MonthFirst) => line.push_str(", month first"),
        None => {}
    }
    words.push(line);
    words.extend(layout.columns.iter().map(column_words));
    words
}

fn column_words(column: &LogColumn) -> String {
    let (name, unit) = format::log_quantity(column.quantity);
    let port = column
        .port
        .as_ref()
        .map_or(String::new(), |port| format!(" of {port}"));
    let factor = match column.factor {
        Some(factor) if factor != 1.0 => format!(", its numbers times {factor}"),
        _ => String::new(),
    };
    let unit = if unit.is_empty() {
        String::new()
    } else {
        format!(" in {unit}")
    };
    format!("column {}: {name}{port}{unit}{factor}", column.column)
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
