//! A block of cells from a spreadsheet, spread over the load points of a run.
//!
//! Columns are told apart by tabs, else by semicolons, else by commas. A heading row is recognised
//! by its words and units; without one the columns are those of the table, in its order. Cells
//! land in the fields as they were written, with the heading's unit where they have none, and are
//! read there like anything typed. A heading whose unit cannot be read is refused.

use super::bench_form::{number_at, output_columns};
use super::heading_units;
use crate::intake::form::{self, Fields};
use crate::quantity::written::Unit;

/// What a column holds.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Column {
    /// Tail of a point's path.
    Field(String),
    /// Nothing of the form: skipped.
    Other,
}

const INPUTS: [(&str, &str); 6] = [
    ("input.voltage_v", "input V"),
    ("input.current_a", "input A"),
    ("input.power_w", "input W"),
    ("input.power_factor", "power factor"),
    ("input.current_thd_percent", "THD %"),
    ("input.current_peak_a", "peak A"),
];

/// Headings of the columns in the order in which a block without headings is read.
pub fn order(outputs: &[String]) -> Vec<String> {
    let mut names = vec!["load %".to_owned()];
    names.extend(INPUTS.iter().map(|(_, name)| (*name).to_owned()));
    for output in outputs {
        names.push(format!("{output} V"));
        names.push(format!("{output} A"));
    }
    names
}

/// What came of a block.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Filled {
    /// The first field filled.
    pub at: String,
    /// Headings whose columns have no place on the form.
    pub left_out: Vec<String>,
}

/// Spreads the text that waits at a run (`runs[0]`) over its points and takes it away.
///
/// # Errors
/// Says why nothing could be done; then nothing was changed and the text still waits.
pub fn fill(fields: &mut Fields, run: &str) -> Result<Filled, String> {
    let waiting = format!("{run}.{}", form::PASTED);
    if !form::is_field(&waiting) || !fields.has(&format!("{run}.name")) {
        return Err("There is no such run.".to_owned());
    }
    let rows = cells(fields.text(&waiting));
    let Some(first) = rows.first() else {
        return Err("Paste cells from a spreadsheet into the box first.".to_owned());
    };
    let ports: Vec<String> = (0..output_columns(fields, run))
        .map(|column| {
            fields
                .text(&format!("{run}.rated_outputs[{column}].port"))
                .trim()
                .to_lowercase()
        })
        .collect();
    let headed = is_heading(first);
    let columns = if headed {
        headed_columns(first, &ports)
    } else {
        plain_columns(ports.len())
    };
    let points = format!("{run}.points");
    let kept_in = |fields: &Fields, tail: &str| {
        form::unit_at(fields, &format!("{points}[0].{tail}")).unwrap_or(Unit::One)
    };
    let mut units = Vec::new();
    for (column, heading) in columns.iter().zip(first.iter().filter(|_| headed)) {
        units.push(match column {
            Column::Field(tail) => {
                heading_units::of_column(heading, kept_in(fields, tail), &ports)?
            }
            Column::Other => String::new(),
        });
    }
    if headed
        && !columns
            .iter()
            .any(|column| matches!(column, Column::Field(_)))
    {
        return Err(format!(
            "None of the headings is known: {}.",
            first.join(", ")
        ));
    }
    let body = &rows[usize::from(headed)..];
    if body.is_empty() {
        return Err("There is a heading, but no row below it.".to_owned());
    }
    if let Some((number, row)) = body
        .iter()
        .enumerate()
        .find(|(_, row)| row.len() > columns.len())
    {
        return Err(format!(
            "Row {} has {} cells, but there are {} columns: {}. Add rated outputs for more ports, or a heading row.",
            number + 1,
            row.len(),
            columns.len(),
            if headed {
                first.join(", ")
            } else {
                order(&ports).join(", ")
            }
        ));
    }

    let load_column = columns
        .iter()
        .position(|c| *c == Column::Field("load_percent".to_owned()));
    let mut at = String::new();
    for (number, row) in body.iter().enumerate() {
        let target = match load_column.and_then(|column| row.get(column)) {
            Some(load) => point_of_load(fields, &points, load),
            None => number,
        };
        for (column, cell) in row.iter().enumerate() {
            let (Column::Field(tail), false) = (&columns[column], cell.is_empty()) else {
                continue;
            };
            let unit = units.get(column).map_or("", String::as_str);
            let path = format!("{points}[{target}].{tail}");
            if !form::is_field(&path) {
                return Err("There are more rows than a run can have.".to_owned());
            }
            let kept = tail == "load_percent" && same_number(fields, &path, cell);
            if !kept {
                let text = heading_units::in_unit(cell, unit, kept_in(fields, tail));
                fields.set(path.clone(), text);
            }
            if at.is_empty() {
                at = path;
            }
        }
    }
    fields.set(waiting, "");
    let left_out = columns
        .iter()
        .zip(first)
        .filter(|(column, heading)| **column == Column::Other && !heading.is_empty())
        .map(|(_, heading)| heading.clone())
        .collect();
    Ok(Filled { at, left_out })
}

/// The point with this load, or a new one after the last.
fn point_of_load(fields: &Fields, points: &str, load: &str) -> usize {
    let rows = fields.rows(points);
    (0..rows)
        .find(|row| same_number(fields, &format!("{points}[{row}].load_percent"), load))
        .unwrap_or(rows)
}

/// Does this text say the number that stands at the path?
fn same_number(fields: &Fields, path: &str, text: &str) -> bool {
    let mut other = Fields::new();
    other.set(path, text);
    match (number_at(fields, path), number_at(&other, path)) {
        (Some(a), Some(b)) => (a - b).abs() < 1e-9,
        _ => false,
    }
}

pub(super) fn cells(text: &str) -> Vec<Vec<String>> {
    let lines: Vec<&str> = text
        .lines()
        .filter(|line| !line.trim().is_empty())
        .collect();
    let delimiter = ['\t', ';']
        .into_iter()
        .find(|d| lines.iter().any(|line| line.contains(*d)))
        .unwrap_or(',');
    lines
        .iter()
        .map(|line| {
            let mut row: Vec<String> = split_line(line, delimiter);
            while row.last().is_some_and(String::is_empty) {
                row.pop();
            }
            row
        })
        .filter(|row| !row.is_empty())
        .collect()
}

/// Cells of a line; one in double quotes may hold the delimiter.
fn split_line(line: &str, delimiter: char) -> Vec<String> {
    let mut row = vec![String::new()];
    let mut quoted = false;
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            c if c == delimiter && !quoted => row.push(String::new()),
            c => row.last_mut().expect("there is always a last cell").push(c),
        }
    }
    row.into_iter().map(|cell| cell.trim().to_owned()).collect()
}

/// A heading row has no cell that begins like a number.
pub(super) fn is_heading(row: &[String]) -> bool {
    !row.iter().any(|cell| {
        cell.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '-' | '+' | '.' | ','))
    })
}

fn plain_columns(outputs: usize) -> Vec<Column> {
    let mut columns = vec!["load_percent".to_owned()];
    columns.extend(INPUTS.iter().map(|(tail, _)| (*tail).to_owned()));
    for output in 0..outputs {
        columns.push(format!("outputs[{output}].voltage_v"));
        columns.push(format!("outputs[{output}].current_a"));
    }
    columns.into_iter().map(Column::Field).collect()
}

/// A column that is meant twice would lose the first: the second is left out.
fn headed_columns(headings: &[String], ports: &[String]) -> Vec<Column> {
    let mut taken = Vec::new();
    headings
        .iter()
        .map(|heading| match column_of(heading, ports) {
            Some(tail) if !taken.contains(&tail) => {
                taken.push(tail.clone());
                Column::Field(tail)
            }
            _ => Column::Other,
        })
        .collect()
}

/// What a heading means, by its words and its unit.
fn column_of(heading: &str, ports: &[String]) -> Option<String> {
    let lower = heading.to_lowercase();
    let words: Vec<&str> = lower
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty())
        .collect();
    let says = |candidates: &[&str]| words.iter().any(|word| candidates.contains(word));
    let port = ports
        .iter()
        .position(|port| !port.is_empty() && words.contains(&port.as_str()));
    let output = port.is_some()
        || says(&[
            "out", "output", "vout", "iout", "uout", "pout", "vo", "io", "uo", "po", "dc",
        ]);
    let input = says(&[
        "in", "input", "vin", "iin", "uin", "pin", "line", "mains", "ac",
    ]);

    if says(&["thd", "thdi", "ithd"]) {
        return Some("input.current_thd_percent".to_owned());
    }
    if says(&["pf", "λ", "lambda"]) || lower.contains("power factor") {
        return Some("input.power_factor".to_owned());
    }
    if says(&["peak", "ipk", "ipeak", "crest", "pk"]) {
        return Some("input.current_peak_a".to_owned());
    }
    if !output && !input && (says(&["load", "percent", "point"]) || lower == "%") {
        return Some("load_percent".to_owned());
    }
    let unit = heading_units::stated(heading, ports).to_lowercase();
    let is = |letters: &[&str], names: &[&str]| {
        letters.iter().any(|letter| unit.ends_with(letter)) || says(names)
    };
    let quantity = if is(
        &["w"],
        &["power", "watt", "watts", "w", "pin", "pout", "po"],
    ) {
        "power_w"
    } else if is(
        &["v"],
        &[
            "voltage", "volt", "volts", "v", "vin", "vout", "uin", "uout", "vo", "uo",
        ],
    ) {
        "voltage_v"
    } else if is(
        &["a"],
        &[
            "current", "ampere", "amperes", "amps", "a", "iin", "iout", "io",
        ],
    ) {
        "current_a"
    } else {
        return None;
    };
    match (output, input, quantity) {
        // The output power is computed, never entered.
        (true, _, "power_w") => None,
        (true, _, quantity) => Some(format!("outputs[{}].{quantity}", port.unwrap_or(0))),
        (false, false, "voltage_v" | "current_a") => None,
        (false, _, quantity) => Some(format!("input.{quantity}")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::web::entry::bench_form::offer_points;

    fn run_with(text: &str, ports: &[&str]) -> Fields {
        let mut fields = Fields::new();
        fields.set("runs[0].name", "115 V");
        offer_points(&mut fields, 0);
        for (row, port) in ports.iter().enumerate() {
            fields.set(format!("runs[0].rated_outputs[{row}].port"), *port);
        }
        fields.set("runs[0].pasted", text);
        fields
    }

    #[test]
    fn a_block_without_heading_fills_the_table_in_its_order() {
        let mut fields = run_with(
            "100\t115.02\t0.98\t109.9\t0.975\t9.8\t1.46\t20.05\t4.998\n10\t115\t\t12,1",
            &["C1"],
        );
        assert_eq!(
            fill(&mut fields, "runs[0]").unwrap().at,
            "runs[0].points[0].load_percent"
        );
        assert_eq!(fields.text("runs[0].points[0].input.power_w"), "109.9");
        assert_eq!(
            fields.text("runs[0].points[0].outputs[0].current_a"),
            "4.998"
        );
        assert_eq!(
            fields.text("runs[0].points[4].input.power_w"),
            "12,1",
            "the row of 10 %, wherever it stands"
        );
        assert_eq!(fields.rows("runs[0].points"), 5);
        assert_eq!(fields.text("runs[0].pasted"), "");
    }

    #[test]
    fn headings_are_known_by_words_and_give_their_unit() {
        let text = "Load (%);Pin (mW);Vout (V);Iout (mA);Vin (V);PF;Remark;Pout (W)\n50;1430;5.01;220;230;0.51;fine;1.1";
        let mut fields = run_with(text, &["C1"]);
        let filled = fill(&mut fields, "runs[0]").unwrap();
        assert_eq!(filled.left_out, ["Remark", "Pout (W)"]);
        let at = |tail: &str| fields.text(&format!("runs[0].points[2].{tail}")).to_owned();
        assert_eq!(at("input.power_w"), "1430 mW");
        assert_eq!(at("outputs[0].voltage_v"), "5.01 V");
        assert_eq!(at("outputs[0].current_a"), "220 mA");
        assert_eq!(at("input.voltage_v"), "230 V");
        assert_eq!(at("input.power_factor"), "0.51");
    }

    #[test]
    fn a_unit_may_stand_behind_its_word_without_brackets() {
        let text = "load %\tinput mW\tC1 V\tC1 mA\tinput current mA\n50\t1430\t5.01\t220\t11";
        let mut fields = run_with(text, &["C1"]);
        assert!(fill(&mut fields, "runs[0]").unwrap().left_out.is_empty());
        let at = |tail: &str| fields.text(&format!("runs[0].points[2].{tail}")).to_owned();
        assert_eq!(at("input.power_w"), "1430 mW");
        assert_eq!(at("outputs[0].current_a"), "220 mA");
        assert_eq!(at("outputs[0].voltage_v"), "5.01 V");
        assert_eq!(at("input.current_a"), "11 mA");
    }

    #[test]
    fn headings_may_name_ports() {
        let mut fields = run_with(
            "load %,input W,C1 V,C1 A,A1 V,A1 A\n100,60,20.1,2.5,5.02,1.0",
            &["C1", "A1"],
        );
        fill(&mut fields, "runs[0]").unwrap();
        assert_eq!(
            fields.text("runs[0].points[0].outputs[1].voltage_v"),
            "5.02 V"
        );
        assert_eq!(
            fields.text("runs[0].points[0].outputs[0].current_a"),
            "2.5 A"
        );
        assert_eq!(fields.text("runs[0].points[0].input.power_w"), "60 W");
    }

    #[test]
    fn the_order_that_the_page_states_is_a_heading_that_is_understood() {
        let ports = ["C1".to_owned(), "A1".to_owned()];
        let lower: Vec<String> = ports.iter().map(|p| p.to_lowercase()).collect();
        assert_eq!(headed_columns(&order(&ports), &lower), plain_columns(2));
    }

    #[test]
    fn a_load_that_is_not_on_the_table_yet_gets_a_row() {
        let mut fields = run_with("load,input power\n30 %,33 W", &["C1"]);
        fill(&mut fields, "runs[0]").unwrap();
        assert_eq!(fields.text("runs[0].points[5].load_percent"), "30 %");
        assert_eq!(fields.text("runs[0].points[5].input.power_w"), "33 W");
    }

    #[test]
    fn what_cannot_be_placed_changes_nothing_and_says_why() {
        for (text, why) in [
            ("", "Paste cells"),
            ("colour,taste\n1,2", "None of the headings"),
            ("1,2,3,4,5,6,7,8,9,10,11", "11 cells"),
            ("load,input power", "no row below"),
            ("load A,input power\n3,60", "“load A” is in A"),
            ("load,input power mWh\n3,60", "“input power mWh” is in mWh"),
        ] {
            let mut fields = run_with(text, &["C1"]);
            let before = fields.clone();
            let said = fill(&mut fields, "runs[0]").unwrap_err();
            assert!(said.contains(why), "{said}");
            assert_eq!(fields, before);
        }
    }
}
