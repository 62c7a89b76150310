//! What was measured and what follows from it: instruments, verdicts, score, readings, charts and
//! the evidence of logs.

use super::{
    NOTHING, cell, cell_or, chart_table, facts, figure, fine, heading, mark, merged_tables,
    paragraph, sentence, subheading, word_table,
};
use crate::{
    paper::{Block, Column, Row, Table, Text},
    web::pages::{
        power_quality::ScreeningView,
        sheet::{RegimeView, RunView, Sheet, VerdictView, point_columns},
    },
};

pub(super) fn instruments(blocks: &mut Vec<Block>, sheet: &Sheet) {
    blocks.push(heading("Instruments"));
    if sheet.instruments.is_empty() {
        blocks.push(paragraph("No instrument data has been recorded, so no uncertainty is known: verdicts fall back to simple acceptance."));
        return;
    }
    let rows = sheet.instruments.iter().map(|i| {
        Row::new([
            Text::from(i.quantity),
            cell_or(i.name.clone(), "not named"),
            Text::from(i.accuracy.as_str()),
            cell_or(i.range.clone(), "any"),
        ])
    });
    let columns = [
        "Quantity",
        "Instrument",
        "Accuracy as its maker states it",
        "Range",
    ];
    blocks.push(word_table(
        "Instruments and their accuracy",
        &columns,
        rows.collect(),
    ));
}

pub(super) fn verdicts(blocks: &mut Vec<Block>, sheet: &Sheet) {
    blocks.push(heading("Verdicts"));
    blocks.push(paragraph("By measurement on one sample, with a guard band of the expanded uncertainty U (k = 2, or Student’s k for a figure from a log), ILAC-G8:09/2019, non-binary rule. Not a certification."));
    for regime in &sheet.main_regimes {
        regime_blocks(blocks, regime);
    }
    if !sheet.other_regimes.is_empty() {
        blocks.push(heading("Earlier rules and marking levels"));
        for regime in &sheet.other_regimes {
            regime_blocks(blocks, regime);
        }
    }
}

fn regime_blocks(blocks: &mut Vec<Block>, regime: &RegimeView) {
    blocks.push(subheading(format!(
        "{}: {} {}",
        regime.short, regime.sign, regime.word
    )));
    // Some titles say themselves what kind of rule it is.
    let role = format!("({})", regime.role);
    let title = if regime.title.ends_with(&role) {
        format!("{}. ", regime.title)
    } else {
        format!("{} {role}. ", regime.title)
    };
    blocks.push(paragraph(
        Text::from(title).bold(sentence(regime.word)).plain(format!(
            ": {}.",
            regime.reason.as_deref().unwrap_or(regime.meaning)
        )),
    ));
    if regime.verdicts.is_empty() {
        return;
    }
    // What holds for every row is said once.
    let common = |of: fn(&VerdictView) -> Option<&String>| {
        let first = regime.verdicts.first().and_then(of);
        first.filter(|first| regime.verdicts.iter().all(|v| of(v) == Some(first)))
    };
    let shared = Shared {
        category: common(|v| v.category.as_ref()).is_some()
            && common(|v| v.category_reason.as_ref()).is_some(),
        citation: common(|v| v.citation.as_ref()).is_some(),
    };
    if let Some(first) = regime.verdicts.first() {
        let why = why(first, &shared.others());
        if !why.is_empty() {
            blocks.push(fine(why));
        }
    }
    if regime.nothing_judged {
        blocks.push(Block::List(not_judged(regime)));
        return;
    }
    blocks.push(Block::Table(Table {
        caption: String::new(),
        columns: vec![
            Column::words("Requirement"),
            Column::words("Run"),
            Column::numbers("Limit"),
            Column::numbers("Measured"),
            Column::numbers("Margin"),
            Column::numbers("U"),
            Column::numbers("P (conforms)"),
            Column::words("Result"),
            Column::words("Simple"),
            Column::words("Guarded"),
        ],
        rows: regime
            .verdicts
            .iter()
            .map(|v| verdict_row(v, &shared))
            .collect(),
    }));
}

/// What every verdict of a rule has in common, and which therefore stands above the table.
struct Shared {
    category: bool,
    citation: bool,
}

impl Shared {
    /// What stands in the rows, if this stands above them.
    fn others(&self) -> Shared {
        Shared {
            category: !self.category,
            citation: !self.citation,
        }
    }
}

/// Category and source of a limit, but for what is said elsewhere.
fn why(v: &VerdictView, elsewhere: &Shared) -> String {
    let mut why = Vec::new();
    if let Some(category) = v.category.as_ref().filter(|_| !elsewhere.category) {
        why.push(match &v.category_reason {
            Some(reason) => format!("Category {category}: {reason}."),
            None => format!("Category {category}."),
        });
    }
    if !elsewhere.citation {
        why.extend(v.citation.iter().map(|text| format!("Limit: {text}.")));
    }
    why.join(" ")
}

/// One line a requirement and reason, with the runs it holds for.
fn not_judged(regime: &RegimeView) -> Vec<Text> {
    let mut lines: Vec<(&VerdictView, Vec<&str>)> = Vec::new();
    for v in &regime.verdicts {
        let run = v.run.as_deref();
        match lines.iter_mut().find(|(known, _)| {
            known.requirement == v.requirement
                && known.reason == v.reason
                && known.alternatives == v.alternatives
        }) {
            Some((_, runs)) => runs.extend(run),
            None => lines.push((v, run.into_iter().collect())),
        }
    }
    lines
        .into_iter()
        .map(|(v, runs)| {
            let reason = v.reason.as_deref().unwrap_or("nothing measured");
            let mut text = Text::from(format!("{}: {reason}", v.requirement));
            if !runs.is_empty() {
                text = text.faint(format!(" ({})", runs.join("; ")));
            }
            if v.alternatives.is_empty() {
                return text;
            }
            {
                let others: Vec<String> = v.alternatives.iter().map(ToString::to_string).collect();
                text.plain(format!(". {}.", others.join(". ")))
            }
        })
        .collect()
}

fn verdict_row(v: &VerdictView, shared: &Shared) -> Row {
    let unknown = |text: &Option<String>| match (text, &v.measured) {
        (Some(text), _) => Text::from(text.as_str()),
        (None, Some(_)) => Text::new().faint("not known"),
        (None, None) => Text::new().faint(NOTHING),
    };
    let mut result = mark(v.outcome, v.sign, v.word);
    if !v.decides {
        result = result.faint("\ninformative");
    }
    let mut why = vec![why(v, shared)];
    why.retain(|text| !text.is_empty());
    why.extend(
        v.reason
            .iter()
            .map(|reason| format!("{}.", sentence(reason))),
    );
    why.extend(v.alternatives.iter().map(|other| format!("{other}.")));
    if !v.decides {
        why.push("Informative: does not count for the rule’s result.".to_owned());
    }
    Row {
        note: (!why.is_empty()).then(|| why.join(" ").into()),
        ..Row::new([
            Text::from(v.requirement),
            cell(v.run.clone()),
            cell(v.limit.clone()),
            cell(v.measured.clone()),
            cell(v.margin.clone()),
            unknown(&v.expanded),
            unknown(&v.probability),
            result,
            cell(v.simple),
            cell(v.guarded),
        ])
    }
}

pub(super) fn score(blocks: &mut Vec<Block>, sheet: &Sheet) {
    let score = &sheet.score;
    blocks.push(heading("Score, term by term"));
    if score.terms.is_empty() {
        blocks.push(paragraph(
            "No term of the score could be computed from what was measured.",
        ));
    } else {
        blocks.push(paragraph(format!(
            "A term gives 50 points at its reference r₀, 100 at r₀/k and none at k·r₀: points = 50 − 50 · ln(measured / reference) / ln(k), kept within 0 … 100. A term that several runs speak for is the mean of their points. The score is the mean of the points by weight. Formula version {}.",
            score.version
        )));
        let mut rows = Vec::new();
        for term in &score.terms {
            for (n, run) in term.runs.iter().enumerate() {
                let first = n == 0;
                let single = term.runs.len() == 1;
                let title = match (first, &term.reason) {
                    (true, Some(reason)) => Text::from(term.title).small(format!("\n{reason}")),
                    (true, None) => Text::from(term.title),
                    (false, _) => Text::new(),
                };
                let points = match (single, first) {
                    (true, _) => Text::new().bold(term.points.as_str()),
                    (false, true) => {
                        Text::from(run.points.as_str()).small(format!("\nmean {}", term.points))
                    }
                    (false, false) => Text::from(run.points.as_str()),
                };
                let once = |text: &str| Text::from(if first { text } else { "" });
                rows.push(Row {
                    note: Some(run.working.as_str().into()),
                    ..Row::new([
                        title,
                        Text::from(run.run.as_str()),
                        Text::from(run.measured.as_str()),
                        Text::from(run.reference.as_str()),
                        Text::from(term.k.as_str()),
                        points,
                        once(&term.weight),
                        once(&term.contribution),
                    ])
                });
            }
        }
        rows.push(Row {
            strong: true,
            ..Row::new([
                format!(
                    "Sum of weight × points = {}, over the weight present",
                    score.weighted_sum
                ),
                String::new(),
                String::new(),
                String::new(),
                String::new(),
                String::new(),
                score.weight_present.clone(),
                score.exact.clone().unwrap_or_default(),
            ])
        });
        blocks.push(Block::Table(Table {
            caption: String::new(),
            columns: vec![
                Column::words("Term"),
                Column::words("Run"),
                Column::numbers("Measured"),
                Column::numbers("Reference"),
                Column::numbers("k"),
                Column::numbers("Points"),
                Column::numbers("Weight"),
                Column::numbers("Contribution"),
            ],
            rows,
        }));
    }
    if !score.absent.is_empty() {
        blocks.push(paragraph(
            "Left out, and their weight shared among the others:",
        ));
        blocks.push(Block::List(
            score
                .absent
                .iter()
                .map(|t| format!("{} (weight {}): {}", t.title, t.weight, t.reason).into())
                .collect(),
        ));
    }
    if !score.u_lacks.is_empty() {
        blocks.push(fine(format!(
            "The ± of the score leaves out, for want of instrument data: {}.",
            score.u_lacks
        )));
    }
}

pub(super) fn runs(blocks: &mut Vec<Block>, sheet: &Sheet) {
    blocks.push(heading("Readings, run by run"));
    if sheet.runs.is_empty() {
        blocks.push(paragraph("No run has been recorded."));
    }
    for run in &sheet.runs {
        run_blocks(blocks, run);
    }
}

fn run_blocks(blocks: &mut Vec<Block>, run: &RunView) {
    blocks.push(subheading(run.name.as_str()));
    if let Some(why) = &run.informative {
        blocks.push(Block::Notice(format!("Decides no verdict: {why}.").into()));
    }
    let mut lines: Vec<(&str, String)> = run
        .facts
        .iter()
        .map(|fact| (fact.label, fact.words()))
        .collect();
    lines.push((
        "Average efficiency",
        match &run.average {
            Some(average) => average.to_string(),
            None if run.average_missing.is_empty() => "none".to_owned(),
            None => format!("none: nothing measured at {}", run.average_missing),
        },
    ));
    let not_measured = || "not measured".to_owned();
    lines.push((
        "Efficiency at 10 % load",
        run.ten_percent
            .as_ref()
            .map_or_else(not_measured, ToString::to_string),
    ));
    lines.push((
        "No-load power",
        run.no_load.as_ref().map_or_else(not_measured, |power| {
            format!("{power} ({})", run.no_load_method)
        }),
    ));
    if let Some(model) = &run.model {
        lines.push((
            "Loss model",
            format!(
                "{}, I the sum of the output currents ({}); residual {} rms; peak efficiency {}; holds up to {}",
                model.formula, model.current, model.residual, model.peak, model.range
            ),
        ));
    }
    blocks.push(facts(lines));
    if run.points.is_empty() {
        return;
    }
    let columns = std::iter::once(Column::words("Load"))
        .chain(point_columns().map(Column::numbers))
        .collect();
    let rows = run.points.iter().map(|point| {
        let load = match &point.log {
            None => Text::from(point.load.as_str()),
            Some(log) => Text::from(point.load.as_str()).small(if log.stable {
                " log ✓ stable"
            } else {
                " log ✗ not stable"
            }),
        };
        Row::new(std::iter::once(load).chain(point.cells.iter().map(|c| cell(c.clone()))))
    });
    blocks.push(Block::Table(Table {
        caption: format!("Load points of {}", run.name),
        columns,
        rows: rows.collect(),
    }));
    let logged: Vec<Text> = run
        .points
        .iter()
        .filter_map(|point| {
            let log = point.log.as_ref()?;
            let stable = if log.stable { "stable" } else { "not stable" };
            let text = Text::new()
                .bold(point.load.as_str())
                .plain(format!(" ({stable}): {} {}", log.words, log.stability));
            Some(if log.scatter.is_empty() {
                text
            } else {
                text.small(format!(" {}.", log.scatter.join("; ")))
            })
        })
        .collect();
    if !logged.is_empty() {
        blocks.push(paragraph("Load points that are averages of a log:"));
        blocks.push(Block::List(logged));
    }
}

pub(super) fn charts(blocks: &mut Vec<Block>, sheet: &Sheet) {
    blocks.push(heading("Charts"));
    if sheet.figures.is_empty() {
        blocks.push(paragraph("Nothing was measured that could be drawn."));
    }
    for chart in &sheet.figures {
        blocks.push(figure(chart.title, &chart.svg, chart.note, &sheet.name));
    }
}

/// The tables of [`charts`], where they do not interrupt the reading.
pub(super) fn chart_numbers(blocks: &mut Vec<Block>, sheet: &Sheet) {
    if sheet.figures.is_empty() {
        return;
    }
    blocks.push(heading("Numbers of the charts"));
    let tables: Vec<_> = sheet.figures.iter().map(|chart| &chart.table).collect();
    for mut table in merged_tables(&tables) {
        if table.columns.len() > 4 {
            table.caption = format!("Against load: {} (± U, k = 2, where known)", sheet.name);
        }
        blocks.push(chart_table(&table));
    }
}

pub(super) fn no_load_evidence(blocks: &mut Vec<Block>, sheet: &Sheet) {
    if sheet.evidence.no_loads.is_empty() {
        return;
    }
    blocks.push(heading("No-load power over time"));
    for idle in &sheet.evidence.no_loads {
        blocks.push(subheading(idle.run.as_str()));
        blocks.push(paragraph(idle.summary.join(" ")));
        if !idle.against.is_empty() {
            let rows = idle.against.iter().map(|a| {
                Row::new([
                    Text::from(a.rules.as_str()),
                    Text::from(a.limit.as_str()),
                    match a.mark {
                        Some((outcome, sign, word)) => mark(outcome, sign, word),
                        None => Text::new().faint("another run decides"),
                    },
                    cell_or(a.windows_above.clone(), "too short"),
                    Text::from(a.longer.as_str()),
                ])
            });
            blocks.push(word_table(
                "Against the limits, measured by us",
                &[
                    "Rule",
                    "Limit",
                    "Result",
                    "Windows above",
                    "Would recording longer tell more?",
                ],
                rows.collect(),
            ));
        }
        blocks.push(figure(
            "No-load power over time",
            &idle.svg,
            "Thin line in its band: the samples, from the least to the greatest of each moment. Thicker line: running mean of the part used, with ± U at its end. Level pieces: means of five minutes, thick with a triangle where they are above the limit nearest to the figure. Hatched: not used.",
            &idle.run,
        ));
        blocks.push(chart_table(&idle.table));
        blocks.push(facts(
            idle.facts.iter().map(|fact| (fact.label, fact.words())),
        ));
        if !idle.methods.is_empty() {
            let rows = idle.methods.iter().map(|m| {
                Row::new([
                    Text::from(m.name),
                    match (m.used, m.applies) {
                        (true, _) => Text::new().bold("✓ gave the figure"),
                        (false, true) => Text::from("could have"),
                        (false, false) => Text::from("does not apply"),
                    },
                    cell(m.power.clone()),
                    Text::from(m.why.as_str()),
                ])
            });
            blocks.push(word_table(
                "Methods of IEC 62301 in the order they are preferred, and the one that gave the figure",
                &["Method", "Used", "Gives", "Why"],
                rows.collect(),
            ));
        }
        if let Some(five) = &idle.five_minute {
            let stable = if five.stable { "stable" } else { "not stable" };
            blocks.push(paragraph(
                Text::new()
                    .bold("Five-minute method of the US procedure, beside it: ")
                    .plain(format!(
                        "{} ({}; drift {}: {stable}). {}",
                        five.power, five.window, five.drift, five.why
                    )),
            ));
        }
    }
}

pub(super) fn waveforms(blocks: &mut Vec<Block>, sheet: &Sheet) {
    if sheet.evidence.waveforms.is_empty() {
        return;
    }
    blocks.push(heading("Waveforms and harmonics"));
    for wave in &sheet.evidence.waveforms {
        blocks.push(subheading(format!("{}, {}", wave.run, wave.load)));
        if let Some(why) = &wave.refused {
            let words = format!("Nothing could be computed from {}: {why}.", wave.source);
            blocks.push(Block::Notice(words.into()));
        }
        blocks.extend(wave.summary.as_deref().map(paragraph));
        if let Some(s) = &wave.screening {
            blocks.push(paragraph(
                Text::new()
                    .bold("Harmonic currents, screened by us: ")
                    .bold(format!("{} {} ", s.sign, s.word))
                    .plain(s.reason.as_str()),
            ));
            blocks.push(fine(format!(
                "One short record is a screening, never a verdict of conformity. {}",
                s.statement
            )));
        }
        for chart in &wave.charts {
            let subject = format!("{}, {}", wave.run, wave.load);
            blocks.push(figure(chart.title, &chart.svg, chart.caption, &subject));
            blocks.push(chart_table(&chart.table));
        }
        if !wave.facts.is_empty() {
            let cut = ("Cut from", wave.source.clone());
            let lines = wave.facts.iter().map(|fact| (fact.label, fact.words()));
            blocks.push(facts(lines.chain([cut])));
        }
        if let Some(s) = &wave.screening {
            screening(blocks, s);
        }
        if !wave.agreement.is_empty() {
            let rows = wave.agreement.iter().map(|a| {
                Row::new([
                    Text::from(a.quantity),
                    Text::from(a.waveform.as_str()),
                    Text::from(a.analyser.as_str()),
                    Text::from(a.difference.as_str()),
                    Text::from(a.tolerance.as_str()),
                    Text::from(if a.agrees { "✓ yes" } else { "✗ no" }),
                    Text::from(a.why.as_str()),
                ])
            });
            blocks.push(word_table(
                "Figures of the waveform beside the analyser’s readings of the same load",
                &[
                    "Quantity",
                    "Waveform",
                    "Analyser",
                    "Difference",
                    "Tolerance",
                    "Agrees",
                    "The tolerance is",
                ],
                rows.collect(),
            ));
        }
        if !wave.remarks.is_empty() {
            blocks.push(paragraph("About the recording and the supply:"));
            blocks.push(Block::List(
                wave.remarks
                    .iter()
                    .map(|line| line.as_str().into())
                    .collect(),
            ));
        }
    }
}

fn screening(blocks: &mut Vec<Block>, s: &ScreeningView) {
    blocks.push(facts(s.facts.iter().map(|fact| (fact.label, fact.words()))));
    let rows = s.classes.iter().map(|class| {
        Row::new([
            Text::from(class.name.as_str()),
            Text::from(if class.within { "within" } else { "not within" }),
            cell(class.closest.clone()),
            Text::from(class.remarks.as_str()),
        ])
    });
    blocks.push(word_table(
        "Every order against the limits of each class",
        &["Class", "All orders", "Nearest to its limit", "Remarks"],
        rows.collect(),
    ));
}

pub(super) fn logs(blocks: &mut Vec<Block>, sheet: &Sheet) {
    if sheet.evidence.logs.is_empty() {
        return;
    }
    blocks.push(heading("Raw logs"));
    blocks.push(paragraph("The files as the instruments wrote them. The figures above that come from logs can be computed again from these bytes; the SHA-256 tells whether a file is the one that was read."));
    let rows = sheet.evidence.logs.iter().map(|log| Row {
        note: Some(format!("SHA-256 {}. {}.", log.sha256, log.layout.join("; ")).into()),
        ..Row::new([
            Text::from(log.name.as_str()),
            match log.used_for.is_empty() {
                true => Text::new().faint("nothing yet"),
                false => Text::from(log.used_for.join("; ")),
            },
            Text::from(log.size.as_str()),
            cell_or(log.rows.clone(), "not counted"),
        ])
    });
    blocks.push(word_table(
        "Raw logs of this record",
        &["Log", "Used for", "Size", "Rows"],
        rows.collect(),
    ));
}
