//! The report of one unit.

use super::{
    CAUTION, DEMO_NOTICE, FOOT, Issuer, PROGRAM, bench_work, cell_or, content_list, facts, fine,
    heading, made, mark, paragraph, results, subheading, word_table,
};
use crate::{
    bench::record::Record,
    chart::{LoadAxis, print_style},
    evaluate::{Method, evaluation::Evaluation},
    paper::{Block, Document, Photo, Row, Text, fitted_jpeg},
    quantity::words,
    web::{
        format::{self, PlusMinus},
        pages::{sheet::Sheet, unit::RanksView},
        urls,
    },
};
use pulldown_cmark::{Event, Parser, Tag, TagEnd};
use sha2::{Digest, Sha256};
use std::{rc::Rc, sync::Arc};
use time::OffsetDateTime;

/// Everything that a unit's report is made of. The same values give the same bytes.
pub struct UnitReport {
    /// As it was entered, byte for byte.
    pub record_text: String,
    pub record: Record,
    pub evaluation: Evaluation,
    pub method: Arc<Method>,
    pub issuer: Issuer,
    /// `None`: a draft.
    pub publication: Option<Publication>,
    /// When a draft was last saved, where that is known.
    pub draft_saved_at: Option<OffsetDateTime>,
    pub photos: Photos,
    /// SHA-256 of photos that the record names and that are not kept here.
    pub missing_photos: Vec<String>,
}

/// Gives the bytes of a photo by its SHA-256, or says why it cannot.
pub type ReadPhoto = dyn Fn(&str) -> Result<Vec<u8>, String> + Send + Sync;

/// Where photos come from.
#[derive(Clone)]
pub struct Photos(pub Arc<ReadPhoto>);

/// What is known of a record because it was published.
#[derive(Debug)]
pub struct Publication {
    pub slug: String,
    pub revision: i64,
    pub newest: i64,
    pub published_at: OffsetDateTime,
    /// By whom.
    pub author: String,
    pub evaluated_at: OffsetDateTime,
    /// Of the method that the evaluation was made by.
    pub method_digest: String,
    /// Among the units that are public now; only with the newest revision.
    pub ranks: Option<RanksView>,
    /// Newest first.
    pub history: Vec<RevisionLine>,
}

/// One revision, ready to show.
#[derive(Debug)]
pub struct RevisionLine {
    pub number: i64,
    pub when: String,
    pub author: String,
    pub reason: String,
    pub scores: String,
}

/// All photos together take at most this in a report.
const PHOTO_BYTES: usize = 8_000_000;
/// What one photo takes at most.
const ONE_PHOTO_BYTES: usize = 450_000;

/// The report, ready to be set.
pub fn unit_document(report: &UnitReport) -> Document {
    let UnitReport {
        record,
        evaluation,
        method,
        issuer,
        publication,
        ..
    } = report;
    let sheet = Sheet::of(record, evaluation, method, LoadAxis::WattsLog);
    let identity = Identity::of(report, &sheet);

    let mut blocks = vec![Block::Heading(1, "Test report".to_owned())];
    blocks.push(paragraph(
        Text::new()
            .bold(identity.name.as_str())
            .plain(", USB power adapter, ")
            .plain(sheet.class_label.as_str()),
    ));
    if issuer.demo {
        blocks.push(Block::Notice(Text::new().bold(DEMO_NOTICE)));
    }
    if publication.is_none() {
        blocks.push(Block::Notice(
            Text::new()
                .bold("DRAFT")
                .plain(match report.draft_saved_at {
                    Some(saved) => format!(" as last saved on {}.", format::moment(saved)),
                    None => " as last saved.".to_owned(),
                })
                .plain(" Not published, not authorised; figures may change."),
        ));
    }
    if let Some(p) = publication.as_ref().filter(|p| p.revision != p.newest) {
        let words = format!(
            "Superseded: this is revision {} as it stood; the newest is revision {}.",
            p.revision, p.newest
        );
        blocks.push(Block::Notice(words.into()));
    }
    summary(&mut blocks, report, &sheet);
    identification(&mut blocks, report, &identity);
    photos(&mut blocks, report, &identity);
    label(&mut blocks, &sheet);
    conditions(&mut blocks, report);
    results::instruments(&mut blocks, &sheet);
    methods(&mut blocks, report, &sheet);
    results::runs(&mut blocks, &sheet);
    results::verdicts(&mut blocks, &sheet);
    results::score(&mut blocks, &sheet);
    results::charts(&mut blocks, &sheet);
    results::no_load_evidence(&mut blocks, &sheet);
    results::waveforms(&mut blocks, &sheet);
    bench_work::blocks(&mut blocks, &sheet);
    deviations(&mut blocks, &sheet);
    notes(&mut blocks, record);
    results::logs(&mut blocks, &sheet);
    history(&mut blocks, report);
    results::chart_numbers(&mut blocks, &sheet);
    blocks.push(Block::NewPage);
    content_list::unit(&mut blocks, report, &identity);
    blocks.push(paragraph(Text::new().faint("End of the report.")));

    Document {
        paper: issuer.paper,
        title: format!("Test report: {}", identity.name),
        author: issuer.author(),
        subject: sheet.description(),
        creator: PROGRAM.to_owned(),
        made: publication
            .as_ref()
            .map(|p| p.published_at)
            .or(report.draft_saved_at)
            .map(made),
        head: (
            format!("Test report: {}", identity.name),
            identity.report.clone(),
        ),
        foot: FOOT.to_owned(),
        mark: publication.is_none().then(|| "DRAFT".to_owned()),
        figure_style: print_style(),
        blocks,
    }
}

/// What tells this report and its item from all others.
pub(super) struct Identity {
    /// Maker, model and sample.
    pub name: String,
    /// "larkfield-lf-65c, revision 2".
    pub report: String,
    pub record_sha256: String,
    pub method_digest: String,
}

impl Identity {
    fn of(report: &UnitReport, sheet: &Sheet) -> Identity {
        let name = match &sheet.sample {
            Some(sample) => format!("{}, sample {sample}", sheet.name),
            None => sheet.name.clone(),
        };
        Identity {
            name,
            report: match &report.publication {
                Some(p) => format!("{}, revision {}", p.slug, p.revision),
                None => "unpublished draft".to_owned(),
            },
            record_sha256: words::hex(Sha256::digest(report.record_text.as_bytes())),
            method_digest: match &report.publication {
                Some(p) => p.method_digest.clone(),
                None => report.method.digest().to_owned(),
            },
        }
    }
}

fn summary(blocks: &mut Vec<Block>, report: &UnitReport, sheet: &Sheet) {
    let figure = |value: &Option<PlusMinus>, absent: &str| match value {
        Some(value) => {
            let unit = value.unit;
            let text = match &value.expanded {
                Some(u) => format!("\u{a0}±\u{a0}{u}\u{202f}{unit}"),
                None => format!("\u{202f}{unit} (± not known)"),
            };
            Text::from(value.value.as_str()).smaller(text.trim_end())
        }
        None => Text::new().smaller(absent),
    };
    let score = figure(&sheet.score.value, "no score");
    let mut head = vec![
        ("Score of 100".to_owned(), score),
        (
            "Average efficiency".to_owned(),
            figure(&sheet.average_efficiency, "not measured"),
        ),
        (
            "No-load power".to_owned(),
            figure(&sheet.no_load, "not measured"),
        ),
    ];
    if let Some(ranks) = report.publication.as_ref().and_then(|p| p.ranks.as_ref()) {
        head.push((
            "Rank in its class".to_owned(),
            Text::from(ranks.in_class.as_str()),
        ));
    }
    blocks.push(Block::Headline(head));
    if sheet.score.provisional {
        blocks.push(paragraph(Text::new().bold("Provisional: ").plain(format!(
            "{} of the score was measured.",
            sheet.score.coverage
        ))));
    }
    if !sheet.marks.is_empty() {
        let rows = sheet
            .main_regimes
            .iter()
            .map(|regime| {
                Row::new([
                    Text::from(regime.short.as_str()),
                    mark(regime.outcome, regime.sign, regime.word),
                    Text::from(regime.role),
                    Text::from(regime.reason.as_deref().unwrap_or(regime.meaning)),
                ])
            })
            .collect();
        let columns = ["Rule", "Measured by us", "The rule is", "Why"];
        blocks.push(word_table("Verdicts in short", &columns, rows));
    }
    let mut words = "Measured by us on one sample; not a certification. Another sample of the same model may differ. ± is the expanded uncertainty of our measurement, about 95 %: k = 2, or Student’s k for a figure from a log.".to_owned();
    if let Some(ranks) = report.publication.as_ref().and_then(|p| p.ranks.as_ref()) {
        words.push_str(" The rank is among the units that were public when this report was made; with two ends it says that within the uncertainty the data does not tell more.");
        if ranks.u_unknown {
            words.push_str(
                " This unit’s uncertainty is not known, so it is ranked as if it were exact.",
            );
        }
    }
    blocks.push(fine(words));
}

fn identification(blocks: &mut Vec<Block>, report: &UnitReport, identity: &Identity) {
    let unit = &report.record.unit;
    blocks.push(heading("Identification"));
    let mut lines = vec![
        ("Maker", unit.maker.clone()),
        ("Model", unit.model.clone()),
        (
            "Sample",
            unit.sample
                .clone()
                .unwrap_or_else(|| "one, without a mark of its own".to_owned()),
        ),
        ("Report", identity.report.clone()),
    ];
    if let Some(p) = &report.publication {
        lines.push(("Date of issue", format::moment(p.published_at)));
        lines.push(("Published by", p.author.clone()));
        lines.push((
            "On line",
            report.issuer.address(&urls::revision(&p.slug, p.revision)),
        ));
    } else if let Some(saved) = report.draft_saved_at {
        lines.push(("Draft last saved", format::moment(saved)));
    }
    lines.push(("Record, SHA-256", identity.record_sha256.clone()));
    lines.push(("Method, digest", identity.method_digest.clone()));
    lines.push((
        "Evaluated by",
        match &report.publication {
            Some(p) => format!(
                "engine {}, score formula version {}, on {}",
                report.evaluation.engine,
                report.evaluation.score.version,
                format::moment(p.evaluated_at)
            ),
            None => format!(
                "engine {}, score formula version {}",
                report.evaluation.engine, report.evaluation.score.version
            ),
        },
    ));
    blocks.push(facts(lines));

    blocks.push(subheading("Who tested"));
    let tester = &report.issuer.tester;
    let said = |text: &Option<String>| text.clone().unwrap_or_else(|| "not stated".to_owned());
    blocks.push(facts([
        ("Tester", said(&tester.name)),
        ("Address", said(&tester.address)),
        (
            "Place of the tests",
            match (&tester.test_place, &tester.address) {
                (Some(place), _) => place.clone(),
                (None, Some(_)) => "at the address of the tester".to_owned(),
                (None, None) => "not stated".to_owned(),
            },
        ),
        ("Contact", said(&tester.contact)),
        ("Authorised by", said(&tester.authorised_by)),
        ("Published on", report.issuer.site_name.clone()),
    ]));
}

fn photos(blocks: &mut Vec<Block>, report: &UnitReport, identity: &Identity) {
    let all = &report.record.photos;
    if all.is_empty() {
        return;
    }
    blocks.push(heading("Photos"));
    let most = (PHOTO_BYTES / all.len()).min(ONE_PHOTO_BYTES);
    let (mut kept, mut missing) = (Vec::new(), Vec::new());
    for (n, photo) in all.iter().enumerate() {
        let number = format!("Photo {}", n + 1);
        let caption = photo.caption.as_deref().unwrap_or("").trim();
        let title = match caption {
            "" => number.clone(),
            caption => format!("{number}: {caption}"),
        };
        if report.missing_photos.contains(&photo.sha256) {
            missing.push(Text::from(title).faint(format!(" (SHA-256 {})", photo.sha256)));
            continue;
        }
        let (sha256, source) = (photo.sha256.clone(), report.photos.clone());
        kept.push(Rc::new(Photo {
            width_px: photo.width_px,
            height_px: photo.height_px,
            alt: format!("{title}, of {}", identity.name),
            caption: title,
            read: Box::new(move || fitted_jpeg(&(source.0)(&sha256)?, most)),
        }));
    }
    blocks.push(Block::Photos(kept));
    if !missing.is_empty() {
        blocks.push(paragraph("Named by the record, but not kept here:"));
        blocks.push(Block::List(missing));
    }
}

fn label(blocks: &mut Vec<Block>, sheet: &Sheet) {
    blocks.push(heading("The label and what we measured"));
    blocks.push(facts(
        sheet
            .facts
            .iter()
            .map(|fact| (fact.label, fact.words()))
            .chain(
                sheet
                    .links
                    .iter()
                    .map(|link| (link.label, link.url.clone())),
            ),
    ));
    let claims = sheet.claims.iter().map(|claim| {
        Row::new([
            Text::from(claim.label),
            cell_or(claim.claimed.clone(), "not stated"),
            cell_or(claim.measured.clone(), "not measured"),
        ])
    });
    let checks = sheet.checks.iter().map(|check| {
        let mut found = Text::new();
        if let Some(text) = &check.found {
            found = found.plain(format!("{text}: "));
        }
        Row {
            note: Some(format!("Source: {}", check.source).into()),
            ..Row::new([
                title_with_mark(&check.title, check.outcome, check.sign),
                cell_or(check.claim.clone(), "not stated"),
                found.plain(check.message.as_str()),
            ])
        }
    });
    blocks.push(word_table(
        "Claims of the label beside what was measured",
        &["Property", "Label", "Measured by us"],
        claims.chain(checks).collect(),
    ));
}

/// A row's title with the result beneath it.
pub(super) fn title_with_mark(title: &str, outcome: &str, sign: &str) -> Text {
    let ink = match outcome {
        "agrees" => crate::paper::Ink::Good,
        "contradicts" => crate::paper::Ink::Bad,
        _ => crate::paper::Ink::Plain,
    };
    Text::from(title).ink(ink, format!("\n{sign}\u{a0}{outcome}"))
}

fn conditions(blocks: &mut Vec<Block>, report: &UnitReport) {
    blocks.push(heading("Conditions"));
    if report.record.runs.is_empty() {
        blocks.push(paragraph("No run has been recorded."));
        return;
    }
    let rows = report.record.runs.iter().map(|run| {
        Row::new([
            Text::from(run.name.as_str()),
            Text::from(format::line(run.line.voltage_v, run.line.frequency_hz)),
            cell_or(
                run.ambient_c
                    .map(|c| format::with_unit(format::plain(c), "°C")),
                "not recorded",
            ),
            cell_or(run.tested_on.as_deref().map(format::date), "not recorded"),
        ])
    });
    blocks.push(word_table(
        "Conditions of each run",
        &["Run", "Line supply", "Ambient", "Tested"],
        rows.collect(),
    ));
    let procedure = &report.method.standards.procedure;
    let percent = |p: f64| format::with_unit(format::plain(p), "%");
    let mut words = format!(
        "Asked for: line supply within {} of a rule’s voltage and frequency ({}).",
        percent(procedure.line.tolerance_percent),
        procedure.line.source
    );
    for window in &procedure.ambient {
        words.push_str(&format!(
            " Ambient at {}: {} to {} ({}).",
            format::with_unit(format::plain(window.line_voltage_v), "V"),
            format::plain(window.c - window.tolerance_c),
            format::with_unit(format::plain(window.c + window.tolerance_c), "°C"),
            window.source
        ));
    }
    words.push_str(" Departures are listed under “Warnings and deviations”.");
    blocks.push(fine(words));
}

fn methods(blocks: &mut Vec<Block>, report: &UnitReport, sheet: &Sheet) {
    let standards = &report.method.standards;
    let percent = |p: f64| format::with_unit(format::plain(p), "%");
    let loads: Vec<String> = standards
        .procedure
        .load_points
        .average_percents
        .iter()
        .map(|p| percent(*p))
        .collect();
    blocks.push(heading("Methods"));
    let points = &standards.procedure.load_points;
    let mut lines = vec![
        (
            "Efficiency".to_owned(),
            Text::from(format!(
                "Output power (sum over the loaded ports of voltage times current) over input power. The average is the mean at {} of rated load, each within {} of it. {}.",
                loads.join(", "),
                percent(points.tolerance_percent),
                points.source
            )),
        ),
        (
            "No-load power".to_owned(),
            Text::from(format!(
                "A reading, or from a log by the methods of {} ({}).",
                standards.low_power.citation, standards.low_power.sampling.known
            )),
        ),
        (
            "Uncertainty".to_owned(),
            Text::from(
                "The stated accuracy of an instrument is the half-width a of a rectangular distribution, u = a/√3 (JCGM 100:2008, 4.3.7), taken through the formulas to first order (5.1.2); points of one average are fully correlated. U = k u with k = 2, or Student’s t for 95 % for a figure from a log.",
            ),
        ),
    ];
    if !sheet.evidence.waveforms.is_empty() {
        let harmonics = &standards.harmonics;
        lines.push((
            "Harmonics".to_owned(),
            Text::from(format!("{}. {}", harmonics.citation, harmonics.note)),
        ));
    }
    if !sheet.ports.is_empty() {
        lines.push((
            "Ports".to_owned(),
            Text::from(standards.pd_rules.citation.as_str()),
        ));
    }
    if !report.evaluation.heat.is_empty() || !report.record.temperatures.is_empty() {
        lines.push((
            "Temperatures".to_owned(),
            Text::from(format!(
                "{}: {}",
                standards.touch_temperature.citation, standards.touch_temperature.reference_source
            )),
        ));
    }
    for regime in sheet.main_regimes.iter().chain(&sheet.other_regimes) {
        if let Some(full) = standards.regime(&regime.id) {
            lines.push((
                regime.short.clone(),
                Text::from(format!("{} ({})", full.citation, regime.role)),
            ));
        }
    }
    lines.push((
        "Score".to_owned(),
        Text::from(format!(
            "Formula version {}, published at {}.",
            report.evaluation.score.version,
            report.issuer.address(urls::METHOD)
        )),
    ));
    blocks.push(Block::Facts(lines));
    blocks.push(Block::Notice(CAUTION.into()));

    blocks.push(subheading("Decision rule"));
    blocks.push(paragraph("Statements of conformity follow ILAC-G8:09/2019, the non-binary statement with a guard band w = U. Pass: inside the limit by U or more. Conditional pass: inside by less than U. Conditional fail: outside by less than U. Fail: outside by U or more. Where U is unknown the bare limit decides (simple acceptance), and the table says so. A rule’s result is that of its worst requirement; P (conforms) is the probability that the true value conforms, from a normal distribution (JCGM 106:2012)."));
}

fn deviations(blocks: &mut Vec<Block>, sheet: &Sheet) {
    blocks.push(heading("Warnings and deviations"));
    if sheet.warnings.is_empty() {
        blocks.push(paragraph(
            "The program found nothing in the record that departs from the methods.",
        ));
    } else {
        blocks.push(Block::List(
            sheet
                .warnings
                .iter()
                .map(|w| Text::from(w.message.as_str()).small(format!("  {}", w.path)))
                .collect(),
        ));
    }
}

fn notes(blocks: &mut Vec<Block>, record: &Record) {
    let Some(notes) = record.notes.as_deref().filter(|n| !n.trim().is_empty()) else {
        return;
    };
    blocks.push(heading("Notes of the tester"));
    blocks.extend(markdown(notes));
}

/// The words of a note with its paragraphs, lists and emphasis; a link's address stands in
/// brackets behind its words. Pictures and tags are left out as on the page.
fn markdown(text: &str) -> Vec<Block> {
    let mut notes = Notes::default();
    for event in Parser::new(text) {
        notes.take(event);
    }
    notes.end_text();
    notes.blocks
}

#[derive(Default)]
struct Notes {
    blocks: Vec<Block>,
    now: Text,
    /// Label and words of each item.
    items: Vec<(String, Text)>,
    /// The list that the words stand in, after those around it: the number of its next item.
    lists: Vec<Option<u64>>,
    /// Of the item that begins.
    label: String,
    /// Address of each link around the words, with the length of what stood before it.
    links: Vec<(String, usize)>,
    /// How deep in strong text, in pictures.
    strong: usize,
    pictures: usize,
}

impl Notes {
    fn take(&mut self, event: Event<'_>) {
        match event {
            Event::Text(words) | Event::Code(words) if self.pictures == 0 => self.add(&words),
            Event::SoftBreak => self.add(" "),
            Event::HardBreak => self.add("\n"),
            Event::Start(Tag::Strong) => self.strong += 1,
            Event::End(TagEnd::Strong) => self.strong -= 1,
            Event::Start(Tag::Image { .. }) => self.pictures += 1,
            Event::End(TagEnd::Image) => self.pictures -= 1,
            Event::Start(Tag::Heading { .. }) => {
                self.end_text();
                self.strong += 1;
            }
            Event::End(TagEnd::Heading(_)) => {
                self.end_text();
                self.strong -= 1;
            }
            Event::Start(Tag::Link { dest_url, .. }) => {
                let before = self.now.words().len();
                self.links.push((dest_url.into_string(), before));
            }
            Event::End(TagEnd::Link) => self.end_link(),
            Event::Start(Tag::List(first)) => {
                self.end_text();
                self.lists.push(first);
            }
            Event::Start(Tag::Item) => {
                self.label = match self.lists.last_mut() {
                    Some(Some(number)) => {
                        let label = format!("{number}.");
                        *number += 1;
                        label
                    }
                    _ => "•".to_owned(),
                };
            }
            Event::End(TagEnd::List(_)) => {
                self.end_text();
                self.lists.pop();
                if self.lists.is_empty() && !self.items.is_empty() {
                    self.blocks
                        .push(Block::Labelled(std::mem::take(&mut self.items)));
                }
            }
            Event::End(TagEnd::Paragraph | TagEnd::Item | TagEnd::CodeBlock) => self.end_text(),
            _ => {}
        }
    }

    fn add(&mut self, words: &str) {
        let now = std::mem::take(&mut self.now);
        self.now = if self.strong > 0 {
            now.bold(words)
        } else {
            now.plain(words)
        };
    }

    /// Paper cannot be followed: the address of a link stands in brackets, as far as the page has it
    /// and unless the words are the address.
    fn end_link(&mut self) {
        let Some((address, before)) = self.links.pop() else {
            return;
        };
        let schemes = ["http://", "https://", "mailto:"];
        let followed = schemes.iter().any(|scheme| address.starts_with(scheme));
        let words = self.now.words();
        let own = words.get(before..).unwrap_or_default();
        if self.pictures == 0 && followed && own != address {
            self.add(&format!(" ({address})"));
        }
    }

    fn end_text(&mut self) {
        let text = std::mem::take(&mut self.now);
        if text.words().trim().is_empty() {
            return;
        }
        match self.lists.is_empty() {
            true => self.blocks.push(Block::Paragraph(text)),
            // Only the first paragraph of an item has the label.
            false => self.items.push((std::mem::take(&mut self.label), text)),
        }
    }
}

fn history(blocks: &mut Vec<Block>, report: &UnitReport) {
    let Some(publication) = &report.publication else {
        return;
    };
    blocks.push(heading("History of revisions"));
    let rows = publication.history.iter().map(|r| {
        let number = if r.number == publication.revision {
            Text::from(r.number.to_string()).faint(" (this report)")
        } else {
            Text::from(r.number.to_string())
        };
        Row::new([
            number,
            Text::from(r.when.as_str()),
            Text::from(r.author.as_str()),
            Text::from(r.reason.as_str()),
            Text::from(r.scores.as_str()),
        ])
    });
    blocks.push(word_table(
        "Revisions of this record, newest first",
        &["Revision", "When", "By", "Reason", "Score"],
        rows.collect(),
    ));
}
