//! The report of a wattage class: its ranking with what the uncertainty leaves open, verdicts,
//! and efficiency against load.

use super::{
    CAUTION, DEMO_NOTICE, FOOT, Issuer, NOTHING, PROGRAM, cell, chart_table, facts, figure, fine,
    heading, paragraph,
};
use crate::{
    chart::{Chart, ClassOverview, LoadAxis, LoadChart, LoadQuantity, print_style},
    evaluate::{
        Method,
        evaluation::{Outcome, RunResult},
    },
    paper::{Block, Column, Document, Row as Line, Table, Text},
    quantity::words,
    ranking::{Ranks, Row},
    standards::{Role, WattageClass},
    web::{
        format::{self, PlusMinus},
        pages::ranking::{class_end_w, class_limits},
        urls,
    },
};
use sha2::{Digest, Sha256};
use std::sync::Arc;
use time::OffsetDateTime;

/// Everything that a class's report is made of.
pub struct ClassReport {
    pub class: WattageClass,
    pub method: Arc<Method>,
    pub issuer: Issuer,
    /// In order of score, the best first, provisional ones last.
    pub units: Vec<ClassUnit>,
    /// The best ones' names with the runs that stand for them.
    pub best: Vec<(String, RunResult)>,
}

/// A unit as it stands in a class's report.
#[derive(Debug)]
pub struct ClassUnit {
    pub row: Row,
    pub ranks: Option<Ranks>,
    /// The newest revision of its record, when that was published, and the SHA-256 of the record
    /// as it was entered.
    pub revision: i64,
    pub published_at: OffsetDateTime,
    pub record_sha256: String,
}

/// How many units are drawn against each other.
pub const BEST: usize = 6;

/// The report, ready to be set.
pub fn class_document(report: &ClassReport) -> Document {
    let ClassReport {
        class,
        method,
        issuer,
        units,
        best,
    } = report;
    let title = format!("Class report: USB power adapters {}", class.label);
    let (ranked, provisional): (Vec<_>, Vec<_>) =
        units.iter().partition(|unit| !unit.row.provisional);
    let newest = units
        .iter()
        .filter_map(|unit| unit.row.tested_on.as_deref())
        .max();
    // Not the clock: the same data gives the same report on any day.
    let state = units.iter().map(|unit| unit.published_at).max();

    let mut blocks = vec![
        Block::Heading(1, "Class report".to_owned()),
        paragraph(
            Text::new()
                .bold(format!("USB power adapters {}", class.label))
                .plain(format!(
                    ", {} measured by us",
                    format::counted(units.len(), "unit", "units")
                )),
        ),
    ];
    if issuer.demo {
        blocks.push(Block::Notice(Text::new().bold(DEMO_NOTICE)));
    }
    let said = |text: &Option<String>| text.clone().unwrap_or_else(|| "not stated".to_owned());
    blocks.push(facts([
        ("Class", class.label.clone()),
        (
            "Newest test",
            newest.map_or_else(|| "not recorded".to_owned(), format::date),
        ),
        (
            "State of the data",
            state.map_or_else(
                || "no unit published yet".to_owned(),
                |at| {
                    format!(
                        "{}, when a unit of this report was last published or revised",
                        format::moment(at)
                    )
                },
            ),
        ),
        ("Ranked", format::counted(ranked.len(), "unit", "units")),
        (
            "Provisional",
            format::counted(provisional.len(), "unit", "units"),
        ),
        ("Tester", said(&issuer.tester.name)),
        ("Authorised by", said(&issuer.tester.authorised_by)),
        ("Published on", issuer.site_name.clone()),
        ("On line", issuer.address(&urls::class(&class.id))),
        (
            "Score",
            format!("formula version {}", method.formula.version),
        ),
        ("Method, digest", method.digest().to_owned()),
        ("Records, SHA-256", records_sha256(units)),
    ]));
    blocks.push(fine("Records, SHA-256: over the SHA-256 of the record of every unit listed here, ranked or provisional, at the revision listed: in lower-case hexadecimal, sorted, each on a line of its own with a line feed after it. The report of a unit states its record’s."));

    blocks.push(heading("How to read it"));
    blocks.push(paragraph("Units are ranked by a composite score of 0 to 100: losses under load and at light load, no-load power, line current, delivery of the rated voltage, surface temperature. ± is its expanded uncertainty, about 95 %. A rank with two ends, such as 2–4, says that within the uncertainty the data does not tell more: nobody can say which of those units is better. A unit of which too little was measured is provisional and stands apart, after the ranked ones."));
    blocks.push(paragraph("Verdicts compare our readings with published limits, with a guard band of the uncertainty (ILAC-G8:09/2019, non-binary rule). ✓ pass, ≈✓ conditional pass, ≈✗ conditional fail (nearer to the limit than the uncertainty), ✗ fail, … incomplete, – not assessed. One sample of each model was measured; another one may differ. Not a certification."));

    blocks.push(heading("Ranking"));
    if ranked.is_empty() {
        blocks.push(paragraph("No unit of this class has a full score yet."));
    } else {
        blocks.push(ranking_table(report, "Units by score", &ranked));
    }
    if !provisional.is_empty() {
        blocks.push(heading("Provisional"));
        blocks.push(ranking_table(
            report,
            "Units of which too little was measured for a full score",
            &provisional,
        ));
    }
    blocks.push(fine("Rated: nameplate output power. Average efficiency and power factor: of the run at the highest voltage on the score’s line supply, power factor at full load. No-load: the least favourable reading. – not measured."));

    if !units.is_empty() {
        blocks.push(heading("Charts"));
        let limits = class_limits(method, class);
        let overview = ClassOverview::of_rows(
            &class.label,
            units.iter().map(|unit| &unit.row),
            None,
            LoadAxis::PercentOfRated,
        )
        .with_limits(limits);
        blocks.push(figure(
            "Efficiency against load, every unit of the class",
            &overview.both("class"),
            &format!(
                "Limits: minimum average efficiency of a unit of {} by the rules in force.",
                format::rated_watts(class_end_w(class))
            ),
            &class.label,
        ));
        if !best.is_empty() {
            let curves = best.iter().map(|(name, run)| (name.clone(), run));
            let chart =
                LoadChart::comparison(LoadQuantity::Efficiency, curves, LoadAxis::PercentOfRated);
            blocks.push(figure(
                "Efficiency against load, the best by score",
                &chart.both("best"),
                chart.note(),
                &class.label,
            ));
            blocks.push(chart_table(&chart.table()));
        }
    }
    blocks.push(Block::Notice(CAUTION.into()));
    blocks.push(paragraph(Text::new().faint("End of the report.")));

    Document {
        paper: issuer.paper,
        title: title.clone(),
        author: issuer.author(),
        subject: format!(
            "{} ranked by a composite score with its uncertainty; verdicts; efficiency against load.",
            format::counted(units.len(), "USB power adapter", "USB power adapters")
        ),
        creator: PROGRAM.to_owned(),
        made: state.map(super::made),
        head: (title, issuer.site_name.clone()),
        foot: FOOT.to_owned(),
        mark: None,
        figure_style: print_style(),
        blocks,
    }
}

/// Tells whether two reports were made from the same records.
fn records_sha256(units: &[ClassUnit]) -> String {
    let mut sums: Vec<&str> = units.iter().map(|u| u.record_sha256.as_str()).collect();
    sums.sort_unstable();
    let lines: String = sums.iter().map(|sum| format!("{sum}\n")).collect();
    words::hex(Sha256::digest(lines.as_bytes()))
}

fn ranking_table(report: &ClassReport, caption: &str, units: &[&ClassUnit]) -> Block {
    let regimes: Vec<_> = report
        .method
        .standards
        .regimes
        .iter()
        .filter(|r| matches!(r.role, Role::Law | Role::Voluntary) && r.limits_known)
        .collect();
    let mut columns = vec![
        Column::numbers("Rank"),
        Column::words("Unit"),
        Column::numbers("Revision"),
        Column::numbers("Score"),
        Column::numbers("Rated"),
        Column::numbers("Average efficiency"),
        Column::numbers("No-load"),
        Column::numbers("Power factor"),
    ];
    columns.extend(regimes.iter().map(|r| Column::words(r.short.as_str())));
    let lines = units.iter().map(|unit| {
        let row = &unit.row;
        let mut cells = vec![
            match unit.ranks {
                Some(ranks) => Text::from(ranks.class.to_string()),
                None => Text::new().faint(NOTHING),
            },
            Text::new().bold(row.name()),
            Text::from(unit.revision.to_string()),
            cell(
                row.score
                    .map(|score| PlusMinus::score(score, row.score_u).to_string()),
            ),
            Text::from(format::rated_watts(row.output_power_w)),
            cell(
                row.average_efficiency
                    .map(|eta| PlusMinus::efficiency(eta, row.average_efficiency_u).to_string()),
            ),
            cell(
                row.no_load_w
                    .map(|w| PlusMinus::watts(w, row.no_load_u).to_string()),
            ),
            cell(row.power_factor.map(|pf| format::fixed(pf, 3))),
        ];
        cells.extend(regimes.iter().map(|regime| {
            let outcome = row.verdicts.iter().find(|(id, _)| *id == regime.id);
            match outcome {
                Some((_, outcome)) => verdict(*outcome),
                None => Text::new().faint(NOTHING),
            }
        }));
        Line::new(cells)
    });
    Block::Table(Table {
        caption: caption.to_owned(),
        columns,
        rows: lines.collect(),
    })
}

fn verdict(outcome: Outcome) -> Text {
    super::mark(
        outcome.id(),
        format::outcome_sign(outcome),
        format::outcome(outcome),
    )
}
