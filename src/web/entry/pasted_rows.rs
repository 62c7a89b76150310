//! A block of cells from a spreadsheet, as rows of a list: the steps of an overload, the readings
//! of a temperature over time.
//!
//! Cells are told apart and headings recognised as in [`super::pasted`]. The rows go behind what
//! stands in the list already; nothing that was typed is written over.

use super::{
    heading_units,
    pasted::{cells, is_heading},
};
use crate::{
    bench::schema::Kind,
    intake::form::{self, Fields},
};

/// What came of a block.
pub use super::pasted::Filled;

/// A column that a block may have.
struct Known {
    /// The field's key.
    key: &'static str,
    /// How the page names it where a block has no heading; empty: only by a heading.
    name: &'static str,
    /// Words of a heading that mean it.
    words: &'static [&'static str],
}

/// In the order of a block without headings; a heading means the first whose words it has.
const STEPS: [Known; 5] = [
    Known {
        key: "set_current_a",
        name: "set A",
        words: &["set", "asked", "target", "demand", "load"],
    },
    Known {
        key: "current_a",
        name: "current A",
        words: &["current", "flowed", "measured", "amps", "i", "iout", "a"],
    },
    Known {
        key: "voltage_v",
        name: "voltage V",
        words: &["voltage", "volts", "u", "vout", "uout", "v"],
    },
    Known {
        key: "state",
        name: "state",
        words: &["state", "status", "port"],
    },
    Known {
        key: "held_s",
        name: "held s",
        words: &["held", "hold", "dwell", "seconds", "time", "s"],
    },
];

const TEMPERATURES: [Known; 7] = [
    Known {
        key: "minutes",
        name: "minutes",
        words: &[
            "minutes", "minute", "min", "time", "after", "t", "elapsed", "seconds", "sec", "s",
            "hours", "h",
        ],
    },
    Known {
        key: "ambient_c",
        name: "ambient °C",
        words: &["ambient", "amb", "room", "air"],
    },
    Known {
        key: "surface_c",
        name: "surface °C",
        words: &["surface", "case", "housing"],
    },
    Known {
        key: "hot_spot_c",
        name: "hot spot °C",
        words: &["hot", "spot", "hotspot", "hottest", "max"],
    },
    Known {
        key: "load_w",
        name: "",
        words: &["load", "power", "w"],
    },
    Known {
        key: "material",
        name: "",
        words: &["material"],
    },
    Known {
        key: "where",
        name: "",
        words: &["where", "place", "position"],
    },
];

/// Fields that a row of temperatures takes from the last one that has them.
const CARRIED: [&str; 3] = ["load_w", "material", "where"];
/// Fields that make a row of temperatures a reading; a time alone may be a planned one.
const READ: [&str; 3] = ["ambient_c", "surface_c", "hot_spot_c"];

/// Headings in the order in which a block of overload steps without headings is read.
pub fn step_order() -> String {
    order(&STEPS)
}

/// The same of temperatures.
pub fn temperature_order() -> String {
    order(&TEMPERATURES)
}

fn order(known: &[Known]) -> String {
    known
        .iter()
        .map(|k| k.name)
        .filter(|name| !name.is_empty())
        .collect::<Vec<_>>()
        .join(", ")
}

/// Puts the text that waits at an overload (`overloads[0]`) into its steps, or the one at
/// `temperatures` into that list, and takes it away.
///
/// # Errors
/// Says why nothing could be done; then nothing was changed and the text still waits.
pub fn fill(fields: &mut Fields, path: &str) -> Result<Filled, String> {
    if path == "temperatures" {
        return fill_list(fields, path, "temperatures", &TEMPERATURES, &READ, &CARRIED);
    }
    let waiting = format!("{path}.{}", form::PASTED);
    if !path.starts_with("overloads[") || !form::is_field(&waiting) {
        return Err("There is no such table.".to_owned());
    }
    let keys: Vec<&str> = STEPS.iter().map(|k| k.key).collect();
    fill_list(fields, path, &format!("{path}.steps"), &STEPS, &keys, &[])
}

fn fill_list(
    fields: &mut Fields,
    path: &str,
    list: &str,
    known: &[Known],
    read: &[&str],
    carried: &[&str],
) -> Result<Filled, String> {
    let waiting = format!("{path}.{}", form::PASTED);
    let rows = cells(fields.text(&waiting));
    let Some(first) = rows.first() else {
        return Err("Paste cells from a spreadsheet into the box first.".to_owned());
    };
    let headed = is_heading(first) && !first.iter().all(String::is_empty);
    let columns: Vec<Option<&'static str>> = if headed {
        headed_columns(first, known)
    } else {
        known
            .iter()
            .filter(|k| !k.name.is_empty())
            .map(|k| Some(k.key))
            .collect()
    };
    // `None` of a column of words, which have no unit.
    let kept_in = |fields: &Fields, key: &str| form::unit_at(fields, &format!("{list}[0].{key}"));
    let mut units = Vec::new();
    for (column, heading) in columns.iter().zip(first.iter().filter(|_| headed)) {
        units.push(match column.and_then(|key| kept_in(fields, key)) {
            Some(unit) => heading_units::of_column(heading, unit, &[])?,
            None => String::new(),
        });
    }
    if headed && columns.iter().all(Option::is_none) {
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
            "Row {} has {} cells, but there are {} columns: {}.",
            number + 1,
            row.len(),
            columns.len(),
            if headed {
                first.join(", ")
            } else {
                order(known)
            }
        ));
    }
    let holds = |fields: &Fields, row: usize, key: &str| {
        !fields
            .text(&format!("{list}[{row}].{key}"))
            .trim()
            .is_empty()
    };
    // Behind the last row that says something; a row that only says what is carried is begun.
    let begin = (0..fields.rows(list))
        .rev()
        .find(|row| read.iter().any(|key| holds(fields, *row, key)))
        .map_or(0, |row| row + 1);
    if let Some(most) = most_rows(list).filter(|most| begin + body.len() > *most) {
        return Err(format!(
            "There are {} rows, and {begin} stand in the table already; a record holds at most {most}. Paste fewer, such as every second or every tenth row.",
            body.len()
        ));
    }
    let carry: Vec<(&str, String)> = carried
        .iter()
        .filter_map(|key| {
            let row = (0..fields.rows(list))
                .rev()
                .find(|row| holds(fields, *row, key))?;
            Some((
                *key,
                fields.text(&format!("{list}[{row}].{key}")).to_owned(),
            ))
        })
        .collect();
    let mut at = String::new();
    for (number, row) in body.iter().enumerate() {
        let target = format!("{list}[{}]", begin + number);
        for (column, cell) in row.iter().enumerate() {
            let (Some(key), false) = (columns[column], cell.is_empty()) else {
                continue;
            };
            let unit = units.get(column).map_or("", String::as_str);
            let place = format!("{target}.{key}");
            let text = match kept_in(fields, key) {
                Some(kept_in) => heading_units::in_unit(cell, unit, kept_in),
                None if key == "state" => cell.to_lowercase(),
                None => cell.clone(),
            };
            fields.set(place.clone(), text);
            if at.is_empty() {
                at = place;
            }
        }
        for (key, text) in &carry {
            if !holds(fields, begin + number, key) {
                fields.set(format!("{target}.{key}"), text.clone());
            }
        }
    }
    fields.set(waiting, "");
    Ok(Filled {
        at,
        left_out: columns
            .iter()
            .zip(first)
            .filter(|(column, heading)| column.is_none() && !heading.is_empty())
            .map(|(_, heading)| heading.clone())
            .collect(),
    })
}

/// A column that is meant twice would lose the first: the second is left out.
fn headed_columns(headings: &[String], known: &[Known]) -> Vec<Option<&'static str>> {
    let mut taken = Vec::new();
    headings
        .iter()
        .map(|heading| {
            let lower = heading.to_lowercase();
            let words: Vec<&str> = lower
                .split(|c: char| !c.is_alphanumeric())
                .filter(|word| !word.is_empty())
                .collect();
            let key = known
                .iter()
                .find(|k| words.iter().any(|word| k.words.contains(word)))?
                .key;
            if taken.contains(&key) {
                return None;
            }
            taken.push(key);
            Some(key)
        })
        .collect()
}

fn most_rows(list: &str) -> Option<usize> {
    match form::described(list)?.kind {
        Kind::List(list) => Some(list.max),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn with(pairs: &[(&str, &str)]) -> Fields {
        pairs
            .iter()
            .map(|(path, text)| (path.to_string(), text.to_string()))
            .collect()
    }

    #[test]
    fn steps_without_heading_are_read_in_the_order_of_the_table() {
        let mut fields = with(&[
            ("overloads[0].port", "C1"),
            (
                "overloads[0].pasted",
                "3\t3.0\t20.05\ton\t10\n3.3\t3,3\t20.0\tOn\n3.6\t0\t0\toff\t10",
            ),
        ]);
        let filled = fill(&mut fields, "overloads[0]").unwrap();
        assert_eq!(filled.at, "overloads[0].steps[0].set_current_a");
        assert_eq!(fields.rows("overloads[0].steps"), 3);
        assert_eq!(fields.text("overloads[0].steps[1].current_a"), "3,3");
        assert_eq!(fields.text("overloads[0].steps[1].state"), "on");
        assert_eq!(fields.text("overloads[0].steps[2].held_s"), "10");
        assert!(!fields.has("overloads[0].steps[1].held_s"), "not read");
        assert_eq!(fields.text("overloads[0].pasted"), "");
    }

    #[test]
    fn headings_of_steps_may_stand_in_any_order_and_give_their_unit() {
        let mut fields = with(&[(
            "overloads[1].pasted",
            "Vout (mV);Remark;Iset (A) set;Current (mA)\n20050;fine;3;2990",
        )]);
        let filled = fill(&mut fields, "overloads[1]").unwrap();
        assert_eq!(filled.left_out, ["Remark"]);
        assert_eq!(fields.text("overloads[1].steps[0].voltage_v"), "20050 mV");
        assert_eq!(fields.text("overloads[1].steps[0].set_current_a"), "3 A");
        assert_eq!(fields.text("overloads[1].steps[0].current_a"), "2990 mA");
    }

    #[test]
    fn pasted_temperatures_take_load_material_and_place_from_the_row_before() {
        let mut fields = with(&[
            ("temperatures[0].load_w", "60"),
            ("temperatures[0].material", "plastic"),
            ("temperatures[0].where", "top face"),
            (
                "temperatures.pasted",
                "0,23.9,24.0\n10,24.0,41.2\n20,24.1,50.3",
            ),
        ]);
        fill(&mut fields, "temperatures").unwrap();
        assert_eq!(fields.rows("temperatures"), 3);
        for row in 0..3 {
            assert_eq!(
                fields.text(&format!("temperatures[{row}].where")),
                "top face"
            );
            assert_eq!(fields.text(&format!("temperatures[{row}].load_w")), "60");
        }
        assert_eq!(fields.text("temperatures[2].surface_c"), "50.3");
        fields.set("temperatures.pasted", "30\t24\t55");
        fill(&mut fields, "temperatures").unwrap();
        assert_eq!(fields.text("temperatures[3].minutes"), "30");
        assert_eq!(fields.text("temperatures[0].minutes"), "0", "still there");
    }

    #[test]
    fn times_in_seconds_become_minutes() {
        let mut fields = with(&[(
            "temperatures.pasted",
            "time (s)\tambient\thot spot\n0\t24\t24\n90\t24\t30",
        )]);
        fill(&mut fields, "temperatures").unwrap();
        assert_eq!(fields.text("temperatures[1].minutes"), "1.5");
        assert_eq!(fields.text("temperatures[1].hot_spot_c"), "30");
    }

    #[test]
    fn a_unit_behind_its_word_is_read_without_brackets() {
        let mut fields = with(&[(
            "overloads[0].pasted",
            "set mA\tcurrent mA\tvoltage mV\theld min\n3000\t2990\t20050\t2",
        )]);
        fill(&mut fields, "overloads[0]").unwrap();
        let at = |key: &str| {
            fields
                .text(&format!("overloads[0].steps[0].{key}"))
                .to_owned()
        };
        assert_eq!(at("set_current_a"), "3000 mA");
        assert_eq!(at("current_a"), "2990 mA");
        assert_eq!(at("voltage_v"), "20050 mV");
        assert_eq!(at("held_s"), "120");
        let mut fields = with(&[("temperatures.pasted", "hours,ambient °C\n0.5,24")]);
        fill(&mut fields, "temperatures").unwrap();
        assert_eq!(fields.text("temperatures[0].minutes"), "30");
        assert_eq!(fields.text("temperatures[0].ambient_c"), "24 °C");
    }

    #[test]
    fn the_orders_that_the_page_states_are_headings_that_are_understood() {
        for (path, order, row) in [
            ("overloads[0]", step_order(), "3,3,20,on,10"),
            ("temperatures", temperature_order(), "0,23,24,25"),
        ] {
            let text = format!("{order}\n{row}");
            let mut fields = with(&[(&format!("{path}.pasted"), text.as_str())]);
            let filled = fill(&mut fields, path).unwrap();
            assert!(filled.left_out.is_empty(), "{:?}", filled.left_out);
        }
    }

    #[test]
    fn what_cannot_be_placed_changes_nothing_and_says_why() {
        let long = (0..300).map(|i| format!("{i},24,30\n")).collect::<String>();
        for (text, why) in [
            ("", "Paste cells"),
            ("colour,taste\n1,2", "None of the headings"),
            ("1,2,3,4,5", "5 cells"),
            ("minutes,ambient", "no row below"),
            (
                "min,ambient °F,surface °F\n0,72,72",
                "“ambient °F” is in °F, which is not read there",
            ),
            ("min,ambient,surface (K)\n0,24,300", "“surface (K)” is in K"),
            (long.as_str(), "at most 200"),
        ] {
            let mut fields = with(&[("temperatures.pasted", text)]);
            let before = fields.clone();
            let said = fill(&mut fields, "temperatures").unwrap_err();
            assert!(said.contains(why), "{said}");
            assert_eq!(fields, before);
        }
        assert!(fill(&mut with(&[]), "unit").is_err());
        assert!(fill(&mut with(&[]), "overloads[900]").is_err());
    }
}
