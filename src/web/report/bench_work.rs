//! What each port offers, how ports share, where they trip, how hot it gets, and everything else
//! that was measured.

use super::{cell, cell_or, facts, heading, paragraph, subheading, word_table};
use crate::{
    paper::{Block, Column, Row, Table, Text},
    web::pages::{
        figure_rows::{Drawing, FigureRow},
        heat::{self, HeatSection},
        measurements::MeasurementSection,
        overload::{self, OverloadSection},
        ports::{Mark, PortView},
        sharing::Cell,
        sheet::Sheet,
    },
};

pub(super) fn blocks(blocks: &mut Vec<Block>, sheet: &Sheet) {
    ports(blocks, sheet);
    sharing(blocks, sheet);
    overload(blocks, &sheet.overloads);
    heat(blocks, &sheet.heat);
    measurements(blocks, &sheet.measurements);
}

fn ports(blocks: &mut Vec<Block>, sheet: &Sheet) {
    blocks.push(heading("Ports"));
    if sheet.ports.is_empty() {
        blocks.push(paragraph("No port has been recorded."));
    }
    for port in &sheet.ports {
        blocks.push(subheading(format!("Port {}", port.label)));
        if !port.facts.is_empty() {
            blocks.push(facts(
                port.facts
                    .iter()
                    .map(|(label, text)| (*label, text.clone())),
            ));
        }
        if port.rows.is_empty() {
            blocks.push(paragraph(
                "Its voltages were neither recorded nor measured.",
            ));
        } else {
            blocks.push(voltages(port));
        }
        if !port.findings.is_empty() {
            let lines = port.findings.iter().map(|finding| {
                let Mark { class, sign, word } = finding.mark;
                super::mark(class, sign, word)
                    .plain(format!(" {}", finding.message))
                    .small(format!("  Source: {}", finding.source))
            });
            blocks.push(Block::List(lines.collect()));
        }
        if !port.objects.is_empty() {
            let rows = port.objects.iter().map(|object| {
                Row::new([
                    object.position.to_string(),
                    object.word.clone(),
                    object.text.clone(),
                ])
            });
            blocks.push(word_table(
                &format!("Power data objects of port {}", port.label),
                &["Object", "Word", "Says"],
                rows.collect(),
            ));
        }
    }
}

fn voltages(port: &PortView) -> Block {
    let mut columns = vec![Column::words("Voltage")];
    if port.ruled {
        columns.push(Column::words("Rules ask for"));
    }
    columns.push(Column::numbers("Label claims"));
    if port.advertises {
        columns.push(Column::numbers("List advertises"));
    }
    columns.push(Column::words("Measured by us"));
    columns.push(Column::words("Voltage window"));
    let rows = port.rows.iter().map(|row| {
        let mut name = Text::from(row.name.as_str());
        if let Some(range) = &row.range {
            name = name.small(format!(" {range}"));
        }
        let mut cells = vec![name];
        if port.ruled {
            let mut asked = cell_or(row.required.clone(), "nothing");
            if let Some(Mark { class, sign, word }) = row.outcome {
                asked = asked.plain(" ").and(super::mark(class, sign, word));
            }
            cells.push(asked);
        }
        cells.push(cell_or(row.claimed.clone(), "not claimed"));
        if port.advertises {
            cells.push(cell_or(row.advertised.clone(), "not in the list"));
        }
        let mut measured = cell(row.measured.clone());
        if let Some(at) = &row.measured_at {
            measured = measured.small(format!("\n{at}"));
        }
        cells.push(measured);
        cells.push(match &row.window {
            Some(window) => {
                let Mark { class, sign, word } = window.mark;
                super::mark(class, sign, word)
                    .plain(format!(" {}", window.range))
                    .small(match &window.droop {
                        Some(droop) => format!("\n{}: {}; {droop}", window.name, window.words),
                        None => format!("\n{}: {}", window.name, window.words),
                    })
            }
            None => cell(None::<String>),
        });
        Row {
            note: row
                .window
                .as_ref()
                .map(|window| format!("Window: {}", window.source).into()),
            ..Row::new(cells)
        }
    });
    let mut caption = format!("Voltages of port {}: ", port.label);
    caption.push_str(if port.ruled {
        "asked for, claimed, "
    } else {
        "claimed, "
    });
    caption.push_str(if port.advertises {
        "advertised, measured"
    } else {
        "measured"
    });
    Block::Table(Table {
        caption,
        columns,
        rows: rows.collect(),
    })
}

fn sharing(blocks: &mut Vec<Block>, sheet: &Sheet) {
    let Some(s) = &sheet.sharing else {
        return;
    };
    blocks.push(heading("Sharing between ports"));
    blocks.push(paragraph(Text::new().bold(format!("{}.", s.statement))));
    let settled = if s.ports.len() == 1 {
        Text::new()
    } else if s.settled {
        super::mark("agrees", "✓", "settled").plain(" Of every two ports it was observed whether one changes what the other is offered. A shared limit that never bites stays unseen.")
    } else {
        super::mark("not-assessed", "?", "not settled")
    };
    let power: String = s.power.iter().map(|line| format!(" {line}")).collect();
    blocks.push(paragraph(settled.plain(power)));
    if !s.contradictions.is_empty() {
        blocks.push(paragraph(Text::new().bold(
            "These observations contradict each other, the label or the rules:",
        )));
        blocks.push(Block::List(
            s.contradictions
                .iter()
                .map(|line| line.to_string().into())
                .collect(),
        ));
    }
    let mut columns = vec![Column::words("Ports in use")];
    columns.extend(s.ports.iter().map(Column::numbers));
    columns.push(Column::numbers("Together"));
    if s.delivers {
        columns.push(Column::numbers("Delivered"));
    }
    if s.disturbs {
        columns.push(Column::words("Attaching and detaching"));
    }
    let rows = s.rows.iter().map(|row| {
        let mut cells =
            vec![Text::from(row.name.as_str()).small(format!(" observation {}", row.number))];
        cells.extend(row.cells.iter().map(|one| match one {
            Cell::NotInUse => cell(None::<String>),
            Cell::NotRead => Text::new().faint("not read"),
            Cell::Offered {
                power,
                voltage,
                change,
            } => {
                let mut text = Text::new().bold(power.as_str());
                if let Some(voltage) = voltage {
                    text = text.plain(format!(" {voltage}"));
                }
                match change {
                    Some(change) => text.small(format!(" ({change})")),
                    None => text,
                }
            }
        }));
        cells.push(cell_or(row.total.clone(), "not whole"));
        if s.delivers {
            cells.push(cell(row.delivered.clone()));
        }
        if s.disturbs {
            let mut effects = match row.effects.is_empty() {
                true => Text::new().faint("not noted"),
                false => Text::from(row.effects.join("; ")),
            };
            if let Some(note) = &row.note {
                effects = effects.small(format!("\n{note}"));
            }
            cells.push(effects);
        }
        Row::new(cells)
    });
    blocks.push(Block::Table(Table {
        caption: "What each port offers in each combination; in brackets the difference from the port alone".to_owned(),
        columns,
        rows: rows.collect(),
    }));
    if !s.groups.is_empty() {
        blocks.push(subheading("Groups, and what shows them"));
        let lines = s.groups.iter().map(|group| {
            let text = Text::new().bold(group.name.as_str());
            match group.lines.is_empty() {
                true => text,
                false => text.plain(format!(": {}", group.lines.join("; "))),
            }
        });
        blocks.push(Block::List(lines.collect()));
    }
    if !s.open.is_empty() || !s.confirming.is_empty() {
        blocks.push(subheading("Combinations not tried"));
        let mut lines: Vec<Text> = s
            .open
            .iter()
            .map(|u| {
                let needed = if u.needed {
                    " (needed before the groups are settled)"
                } else {
                    ""
                };
                Text::new()
                    .bold(u.ports.as_str())
                    .plain(format!(": {}{needed}", u.why))
            })
            .collect();
        if !s.confirming.is_empty() {
            lines.push(
                format!(
                    "{}: would only confirm, or may leave no question once the others are known",
                    s.confirming.join(", ")
                )
                .into(),
            );
        }
        blocks.push(Block::List(lines));
    }
}

fn overload(blocks: &mut Vec<Block>, section: &OverloadSection) {
    if section.is_empty() {
        return;
    }
    blocks.push(heading("Overload"));
    if section.tests.is_empty() {
        blocks.push(as_recorded(
            "",
            &overload::recorded_columns(),
            &section.recorded,
        ));
        return;
    }
    blocks.push(paragraph("What happened above the rated current, on one sample. A comparison with one figure of a standard is an indication, not a certification: the whole standards ask for single faults, insulation and marking too."));
    for test in &section.tests {
        let delivery = &test.delivery;
        blocks.push(subheading(test.title.as_str()));
        let mut words = super::mark(delivery.class, delivery.sign, delivery.word)
            .plain(format!(" {}.", delivery.reason));
        if delivery.failed {
            words = words.bold(" The port does not deliver what it is rated for.");
        }
        blocks.push(paragraph(words));
        for contradiction in &test.contradictions {
            let words = format!("The record does not fit together: {contradiction}.");
            blocks.push(Block::Notice(words.into()));
        }
        blocks.push(facts(
            test.facts.iter().map(|fact| (fact.label, fact.words())),
        ));
        drawing(blocks, test.drawing.as_ref(), &test.title);
        if let Some(screening) = &test.screening {
            blocks.push(paragraph(
                Text::new()
                    .bold("Beside figures for limited sources: ")
                    .plain(match &screening.why {
                        Some(why) => {
                            format!("{}: {why} ({}).", screening.summary, screening.conditions)
                        }
                        None => format!("{} ({}).", screening.summary, screening.conditions),
                    }),
            ));
            blocks.push(Block::List(
                screening
                    .cautions
                    .iter()
                    .map(|line| line.as_str().into())
                    .collect(),
            ));
            blocks.push(figure_rows(&test.title, &screening.figures));
        }
    }
}

fn heat(blocks: &mut Vec<Block>, section: &HeatSection) {
    if section.is_empty() {
        return;
    }
    blocks.push(heading("Temperatures"));
    for series in &section.series {
        blocks.push(subheading(series.title.as_str()));
        if let Some(remark) = &series.remark {
            blocks.push(Block::Notice(format!("{remark}.").into()));
        }
        blocks.push(facts(
            series.facts.iter().map(|fact| (fact.label, fact.words())),
        ));
        drawing(blocks, series.drawing.as_ref(), &series.title);
        if !series.rows.is_empty() {
            let rows = series.rows.iter().map(|row| {
                let mut contact = Text::from(row.duration.as_str());
                if row.usual {
                    contact = contact.small(" the row that adapters are usually judged by");
                }
                if row.comfort {
                    contact = contact.small(" the line of comfort");
                }
                Row {
                    note: Some(format!("Source: {}", row.ts1.source).into()),
                    ..Row::new([
                        contact,
                        cell(Some(row.ts1.measured.as_str())),
                        cell(Some(row.ts1.limit.as_str())),
                        figure_mark(&row.ts1),
                        cell(Some(row.ts2.limit.as_str())),
                        figure_mark(&row.ts2),
                    ])
                }
            });
            blocks.push(Block::Table(Table {
                caption: format!(
                    "Beside touch-temperature figures ({}): TS1 for ordinary use, TS2 where a fault is present",
                    section.citation
                ),
                columns: vec![
                    Column::words("Contact"),
                    Column::numbers("At 25 °C"),
                    Column::numbers("TS1"),
                    Column::words("Result"),
                    Column::numbers("TS2"),
                    Column::words("Result"),
                ],
                rows: rows.collect(),
            }));
        }
        blocks.extend(series.comfort.as_deref().map(paragraph));
    }
    if !section.cautions.is_empty() {
        blocks.push(Block::List(
            section
                .cautions
                .iter()
                .map(|line| line.as_str().into())
                .collect(),
        ));
    }
    blocks.push(as_recorded(
        "Temperatures as recorded",
        &heat::recorded_columns(),
        &section.recorded,
    ));
}

fn measurements(blocks: &mut Vec<Block>, section: &MeasurementSection) {
    if section.is_empty() {
        return;
    }
    blocks.push(heading("Other measurements"));
    if !section.measurements.is_empty() {
        let rows = section.measurements.iter().map(|m| {
            let mut value = cell(Some(m.value.as_str()));
            if !m.u_known {
                value = value.faint("\u{a0}±\u{a0}?");
            }
            let (limit, result) = match &m.figure {
                Some(f) => (cell(Some(f.limit.as_str())), figure_mark(f)),
                None => (Text::new().faint("none known"), cell(None::<String>)),
            };
            Row {
                note: m
                    .figure
                    .as_ref()
                    .map(|f| format!("{}: {}", f.figure, f.source).into()),
                ..Row::new([
                    Text::from(m.name),
                    value,
                    cell_or(m.conditions.clone(), "not noted"),
                    limit,
                    result,
                    cell(m.note.clone()),
                ])
            }
        });
        blocks.push(Block::Table(Table {
            caption: "Measured by us on one sample; a figure stands beside what a standard is known to have one for".to_owned(),
            columns: vec![
                Column::words("Quantity"),
                Column::numbers("Measured"),
                Column::words("Conditions"),
                Column::numbers("Figure"),
                Column::words("Result"),
                Column::words("Note"),
            ],
            rows: rows.collect(),
        }));
        if section.measurements.iter().any(|m| !m.u_known) {
            blocks.push(super::fine("± ?: the uncertainty is not known."));
        }
    }
    if !section.build.is_empty() {
        blocks.push(subheading("Size, mass and cord"));
        blocks.push(facts(
            section.build.iter().map(|fact| (fact.label, fact.words())),
        ));
    }
}

fn drawing(blocks: &mut Vec<Block>, drawing: Option<&Drawing>, subject: &str) {
    if let Some(drawing) = drawing {
        blocks.push(super::figure(&drawing.title, &drawing.svg, "", subject));
        blocks.push(super::chart_table(&drawing.table));
    }
}

fn figure_mark(row: &FigureRow) -> Text {
    super::mark(row.mark.class, row.mark.sign, row.mark.word)
}

fn figure_rows(caption: &str, rows: &[FigureRow]) -> Block {
    let rows = rows.iter().map(|row| Row {
        note: Some(format!("Source: {}", row.source).into()),
        ..Row::new([
            Text::from(row.figure.as_str()),
            cell(Some(row.measured.as_str())),
            cell(Some(row.limit.as_str())),
            cell(Some(row.margin.as_str())),
            cell(row.probability.clone()),
            figure_mark(row),
        ])
    });
    Block::Table(Table {
        caption: caption.to_owned(),
        columns: vec![
            Column::words("Compared with"),
            Column::numbers("Measured"),
            Column::numbers("Figure"),
            Column::numbers("Margin"),
            Column::numbers("Probability within"),
            Column::words("Result"),
        ],
        rows: rows.collect(),
    })
}

fn as_recorded(caption: &str, columns: &[&str], lines: &[Vec<Option<String>>]) -> Block {
    let rows = lines
        .iter()
        .map(|line| Row::new(line.iter().map(|text| cell(text.clone()))));
    word_table(caption, columns, rows.collect())
}
