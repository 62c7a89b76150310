//! What quickens the entry of a port: a pasted capability list becomes the port's power data
//! objects and voltages, and the usual voltages of a rating are put in by one button.

use super::bench_form::{Pressed, Problems, number_at};
use crate::{
    bench::{
        record::Mode,
        usb_pd::{self, Capabilities, PowerDataObject},
    },
    intake::form::{self, Fields},
    quantity::written::editable,
    standards::{PdRules, Standards},
    web::format,
};
use std::sync::LazyLock;

/// The rules that the usual lists come from.
static RULES: LazyLock<PdRules> = LazyLock::new(|| Standards::embedded().pd_rules);

/// Ratings offered where neither the port nor the nameplate tells one yet.
const RATINGS_W: [f64; 6] = [20.0, 30.0, 45.0, 65.0, 100.0, 140.0];

/// Pasted lists that cannot be read, and objects of a port's list that no source may send, by the
/// path of their field; wrong bits are named.
pub fn problems(fields: &Fields) -> Problems {
    let mut found = Problems::new();
    for row in 0..fields.rows("unit.ports") {
        let path = format!("unit.ports[{row}].{}", form::PASTED);
        let text = fields.text(&path);
        if !text.trim().is_empty()
            && let Err(problems) = usb_pd::read(text)
        {
            found.insert(path, in_words(problems));
        }
        let path = format!("unit.ports[{row}].source_capabilities");
        let wrong: Vec<String> = fields
            .text(&path)
            .split([',', '\n'])
            .map(str::trim)
            .filter(|word| !word.is_empty())
            .enumerate()
            .filter_map(|(i, word)| {
                let bits = u32::from_str_radix(word.strip_prefix("0x")?, 16).ok()?;
                let wrong = PowerDataObject::decode(bits).err()?;
                Some(format!("object {}, {word}: expected {wrong}", i + 1))
            })
            .collect();
        if !wrong.is_empty() {
            found.insert(
                path,
                format!("Not as a source may send it: {}.", wrong.join("; ")),
            );
        }
    }
    found
}

fn in_words(problems: Vec<crate::bench::Problem>) -> String {
    let parts: Vec<String> = problems.iter().map(ToString::to_string).collect();
    format!("Not a list of power data objects: {}.", parts.join("; "))
}

/// Reads the list that waits at a port (`unit.ports[0]`) into its objects, and into its voltages
/// where these are wanted too.
///
/// # Errors
/// Says what is wrong with the text; then nothing was changed and it still waits.
pub fn read(fields: &mut Fields, port: &str, with_modes: bool) -> Result<Pressed, String> {
    let waiting = format!("{port}.{}", form::PASTED);
    if !is_port(fields, port) || !form::is_field(&waiting) {
        return Err("There is no such port.".to_owned());
    }
    let text = fields.text(&waiting);
    if text.trim().is_empty() {
        return Err("Paste power data objects or a whole message into the box first.".to_owned());
    }
    let list = usb_pd::read(text).map_err(in_words)?;
    let path = format!("{port}.source_capabilities");
    let words = list.source_capabilities().join(", ");
    let before = fields.text(&path).trim().to_owned();
    let mut said = summary(&list);
    if !before.is_empty() && before != words {
        said.push_str(" It stands in place of the list that was there.");
    }
    fields.set(path.clone(), words);
    fields.set(waiting, "");
    if with_modes {
        let modes: Vec<Mode> = list.objects().iter().flat_map(|(_, o)| o.modes()).collect();
        said.push(' ');
        said.push_str(&added(add_modes(fields, port, &modes)));
        if list.objects().iter().any(|(_, o)| o.modes().is_empty()) {
            said.push_str(" Battery and variable supplies have no row here; the list keeps them.");
        }
    }
    Ok(Pressed {
        focus: path,
        said: Some(said),
    })
}

fn summary(list: &Capabilities) -> String {
    let objects: Vec<String> = list
        .objects()
        .iter()
        .map(|(position, object)| format!("{position} {object}"))
        .collect();
    let of = match list.revision {
        Some(revision) => format!(
            "{} of a message of revision {revision}",
            format::counted(objects.len(), "object", "objects")
        ),
        None => format::counted(objects.len(), "object", "objects"),
    };
    let range = if list.extended {
        ", extended power range"
    } else {
        ""
    };
    format!("Read {of}{range}: {}.", objects.join("; "))
}

fn added(count: usize) -> String {
    match count {
        0 => "No voltage was added: they were all there.".to_owned(),
        n => format!("{} added.", format::counted(n, "voltage", "voltages")),
    }
}

fn is_port(fields: &Fields, port: &str) -> bool {
    port.strip_prefix("unit.ports[")
        .and_then(|rest| rest.strip_suffix(']')?.parse::<usize>().ok())
        .is_some_and(|row| row < fields.rows("unit.ports"))
}

/// Adds the voltages that are not there yet; what was typed stays. Gives how many were added.
fn add_modes(fields: &mut Fields, port: &str, modes: &[Mode]) -> usize {
    let list = format!("{port}.modes");
    for row in (0..fields.rows(&list)).rev() {
        let blank = fields
            .row(&list, row)
            .iter()
            .all(|(rest, text)| rest == ".kind" || text.trim().is_empty());
        if blank {
            fields.remove_row(&list, row);
        }
    }
    let mut count = 0;
    for mode in modes {
        let (kind, ends) = match *mode {
            Mode::Fixed { voltage_v, .. } => ("fixed", vec![("voltage_v", voltage_v)]),
            Mode::Pps {
                voltage_min_v,
                voltage_max_v,
                ..
            } => ("pps", both(voltage_min_v, voltage_max_v)),
            Mode::Avs {
                voltage_min_v,
                voltage_max_v,
                ..
            } => ("avs", both(voltage_min_v, voltage_max_v)),
        };
        let rows = fields.rows(&list);
        let there = (0..rows).any(|row| {
            let path = format!("{list}[{row}]");
            let stated = match fields.text(&format!("{path}.kind")).trim() {
                "" => "fixed",
                word => word,
            };
            stated == kind
                && ends.iter().all(|(key, volts)| {
                    number_at(fields, &format!("{path}.{key}"))
                        .is_some_and(|v| (v - volts).abs() < 0.01)
                })
        });
        if there {
            continue;
        }
        let path = format!("{list}[{rows}]");
        if !form::is_field(&format!("{path}.kind")) {
            break;
        }
        fields.set(format!("{path}.kind"), kind);
        for (key, volts) in ends {
            fields.set(format!("{path}.{key}"), editable(volts));
        }
        fields.set(format!("{path}.current_a"), editable(mode.current_a()));
        count += 1;
    }
    count
}

fn both(min: f64, max: f64) -> Vec<(&'static str, f64)> {
    vec![("voltage_min_v", min), ("voltage_max_v", max)]
}

/// (action, label) of the buttons that put in the usual voltages of a port.
pub fn usual(fields: &Fields, port: &str) -> Vec<(String, String)> {
    if matches!(
        fields.text(&format!("{port}.connector")).trim(),
        "usb-a" | "barrel" | "other"
    ) {
        return Vec::new();
    }
    let known = number_at(fields, &format!("{port}.power_w")).or_else(|| {
        (fields.rows("unit.ports") == 1)
            .then(|| number_at(fields, "unit.nameplate.output_power_w"))
            .flatten()
    });
    let mut buttons = Vec::new();
    let ratings = known.map_or(RATINGS_W.to_vec(), |w| vec![w]);
    for watts in ratings {
        for (what, label) in [
            ("fixed", "Fixed list"),
            ("pps", "PPS ranges"),
            ("avs", "AVS range"),
        ] {
            let wanted = known.is_some() || what == "fixed";
            if wanted && !modes_of(what, watts).is_empty() {
                buttons.push((
                    format!("usual:{port}={what}:{}", editable(watts)),
                    format!("{label} for {}", format::rated_watts(watts)),
                ));
            }
        }
    }
    buttons
}

/// What the rules ask of a source rated `watts`; currents down to the 10 mA of a list.
fn modes_of(what: &str, watts: f64) -> Vec<Mode> {
    let in_steps = |amperes: f64, steps: f64| (amperes * steps + 1e-6).floor() / steps;
    match what {
        "fixed" => RULES
            .required(watts)
            .unwrap_or_default()
            .into_iter()
            .map(|(voltage_v, current_a)| Mode::Fixed {
                voltage_v,
                current_a: in_steps(current_a, 100.0),
            })
            .collect(),
        "pps" => {
            let newest = RULES.pps.minima.last().map_or(5.0, |m| m.voltage_v);
            RULES
                .pps
                .required(watts)
                .into_iter()
                .filter(|(range, _)| range.voltage_max_v > newest)
                .map(|(range, current_a)| Mode::Pps {
                    voltage_min_v: newest,
                    voltage_max_v: range.voltage_max_v,
                    current_a: in_steps(current_a, 20.0),
                })
                .collect()
        }
        "avs" => {
            let extended = &RULES.epr_avs;
            extended
                .rows
                .iter()
                .filter(|r| watts > r.over_w && watts <= r.up_to_w)
                .map(|r| Mode::Avs {
                    voltage_min_v: extended.voltage_min_v,
                    voltage_max_v: r.to_v,
                    current_a: in_steps((watts / r.to_v).min(5.0), 100.0),
                })
                .collect()
        }
        _ => Vec::new(),
    }
}

/// Adds the usual voltages that `what` names: `unit.ports[0]=fixed:65`.
pub fn add_usual(fields: &mut Fields, what: &str) -> Option<Pressed> {
    let (port, kind) = what.split_once('=')?;
    let (kind, watts) = kind.split_once(':')?;
    let modes = modes_of(kind, watts.parse().ok()?);
    if modes.is_empty() || !is_port(fields, port) {
        return None;
    }
    let first = fields.rows(&format!("{port}.modes"));
    let count = add_modes(fields, port, &modes);
    let row = fields
        .rows(&format!("{port}.modes"))
        .saturating_sub(count.max(1));
    Some(Pressed {
        focus: format!("{port}.modes[{row}].kind"),
        said: (count == 0 && first > 0).then(|| added(0)),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn form(pairs: &[(&str, &str)]) -> Fields {
        pairs
            .iter()
            .map(|(path, text)| (path.to_string(), text.to_string()))
            .collect()
    }

    fn modes(fields: &Fields) -> Vec<String> {
        (0..fields.rows("unit.ports[0].modes"))
            .map(|row| {
                let text = |key: &str| fields.text(&format!("unit.ports[0].modes[{row}].{key}"));
                let volts = match text("kind") {
                    "fixed" => text("voltage_v").to_owned(),
                    _ => format!("{}-{}", text("voltage_min_v"), text("voltage_max_v")),
                };
                format!("{} {volts} {}", text("kind"), text("current_a"))
            })
            .collect()
    }

    #[test]
    fn a_pasted_message_becomes_the_list_and_adds_the_voltages_that_were_not_there() {
        let mut fields = form(&[
            ("unit.ports[0].label", "C1"),
            ("unit.ports[0].modes[0].kind", "fixed"),
            ("unit.ports[0].modes[1].kind", "fixed"),
            ("unit.ports[0].modes[1].voltage_v", "20 V"),
            ("unit.ports[0].modes[1].current_a", "2,3 A"),
            (
                "unit.ports[0].pasted",
                "A1 71 2C 91 01 08 2C D1 02 00 2C B1 04 00 E1 40 06 00 64 21 DC C8 3C 21 40 C9 2D 21 A4 C9",
            ),
        ]);
        let pressed = read(&mut fields, "unit.ports[0]", true).unwrap();
        assert_eq!(pressed.focus, "unit.ports[0].source_capabilities");
        let said = pressed.said.unwrap();
        assert!(
            said.contains("7 objects of a message of revision 3"),
            "{said}"
        );
        assert!(said.contains("6 voltages added"), "{said}");
        assert!(
            fields
                .text("unit.ports[0].source_capabilities")
                .starts_with("0x0801912C, 0x0002D12C")
        );
        assert_eq!(fields.text("unit.ports[0].pasted"), "");
        assert_eq!(
            modes(&fields),
            [
                "fixed 20 V 2,3 A",
                "fixed 5 3",
                "fixed 9 3",
                "fixed 15 3",
                "pps 3.3-11 5",
                "pps 3.3-16 3",
                "pps 3.3-21 2.25"
            ]
        );
    }

    #[test]
    fn a_reserved_object_is_refused_with_its_bits_and_nothing_changes() {
        let mut fields = form(&[
            ("unit.ports[0].label", "C1"),
            ("unit.ports[0].source_capabilities", "0x0801912C"),
            ("unit.ports[0].pasted", "0x0801912C 0xF0000401"),
        ]);
        let before = fields.clone();
        let why = read(&mut fields, "unit.ports[0]", true).unwrap_err();
        assert!(
            why.contains("object 2") && why.contains("bits 29:28"),
            "{why}"
        );
        assert_eq!(fields, before);
        assert_eq!(problems(&fields)["unit.ports[0].pasted"], why);
        fields.set("unit.ports[0].pasted", " ");
        assert!(problems(&fields).is_empty());
        assert!(read(&mut fields, "unit.ports[0]", false).is_err());
        assert!(read(&mut fields, "unit.ports[4]", false).is_err());
    }

    #[test]
    fn the_usual_list_of_a_rating_is_what_the_rules_ask_for_and_is_added_once() {
        let mut fields = form(&[
            ("unit.nameplate.output_power_w", "20 W"),
            ("unit.ports[0].label", "C1"),
        ]);
        let buttons = usual(&fields, "unit.ports[0]");
        assert_eq!(buttons[0].0, "usual:unit.ports[0]=fixed:20");
        assert_eq!(buttons.len(), 2, "fixed and programmable");
        let press = |fields: &mut Fields| add_usual(fields, "unit.ports[0]=fixed:20");
        assert_eq!(
            press(&mut fields).unwrap().focus,
            "unit.ports[0].modes[0].kind"
        );
        assert_eq!(modes(&fields), ["fixed 5 3", "fixed 9 2.22"]);
        assert!(press(&mut fields).unwrap().said.is_some());
        assert_eq!(modes(&fields).len(), 2);
        fields.set("unit.ports[0].connector", "barrel");
        assert!(usual(&fields, "unit.ports[0]").is_empty());
        for bad in [
            "",
            "unit.ports[0]",
            "unit.ports[7]=fixed:20",
            "unit.ports[0]=fixed:900",
            "unit.ports[0]=fixed:NaN",
        ] {
            assert!(add_usual(&mut fields, bad).is_none(), "{bad}");
        }
    }

    #[test]
    fn an_extended_rating_has_an_adjustable_range_and_no_programmable_one() {
        let fields = form(&[
            ("unit.ports[0].label", "C1"),
            ("unit.ports[0].power_w", "140"),
        ]);
        let actions: Vec<String> = usual(&fields, "unit.ports[0]")
            .into_iter()
            .map(|b| b.0)
            .collect();
        assert_eq!(
            actions,
            [
                "usual:unit.ports[0]=fixed:140",
                "usual:unit.ports[0]=avs:140"
            ]
        );
    }
}
