//! What happened above the rated current, test by test: where the output let go, how it protects
//! itself and comes back, and how its power compares with figures for limited sources.

use super::{
    figure_rows::{Drawing, FigureRow, plus_minus},
    sheet::Fact,
};
use crate::{
    bench::record::{Protection, Record},
    chart::{Chart, OverloadChart},
    evaluate::{
        Method,
        evaluation::{Evaluation, Outcome, OverloadResult},
        overload::{SourceScreening, step_readings},
    },
    web::format,
};

/// The section of a unit's page.
pub struct OverloadSection {
    pub tests: Vec<OverloadView>,
    /// What was recorded, cell by cell, where an older evaluation says nothing of it.
    pub recorded: Vec<Vec<Option<String>>>,
}

impl OverloadSection {
    pub fn of(
        unit: &str,
        record: &Record,
        evaluation: &Evaluation,
        method: &Method,
    ) -> OverloadSection {
        let tests: Vec<OverloadView> = evaluation
            .overloads
            .iter()
            .map(|result| OverloadView::of(unit, record, result, method))
            .collect();
        OverloadSection {
            recorded: if tests.is_empty() {
                recorded(record)
            } else {
                Vec::new()
            },
            tests,
        }
    }

    pub fn is_empty(&self) -> bool {
        self.tests.is_empty() && self.recorded.is_empty()
    }
}

/// One test of one port.
pub struct OverloadView {
    pub id: String,
    /// "C1 at 20 V".
    pub title: String,
    pub delivery: DeliveryView,
    pub facts: Vec<Fact>,
    pub drawing: Option<Drawing>,
    pub screening: Option<ScreeningView>,
    pub contradictions: Vec<String>,
}

/// Does the port deliver what it is rated?
pub struct DeliveryView {
    pub class: &'static str,
    pub sign: &'static str,
    pub word: &'static str,
    pub reason: String,
    pub failed: bool,
}

/// The power of a port beside figures for limited sources.
pub struct ScreeningView {
    /// "within both figures of a limited power source; PS2 by power".
    pub summary: String,
    pub conditions: String,
    pub figures: Vec<FigureRow>,
    pub cautions: Vec<String>,
}

impl OverloadView {
    fn of(unit: &str, record: &Record, result: &OverloadResult, method: &Method) -> OverloadView {
        let place = usize::try_from(result.overload).unwrap_or(usize::MAX);
        let title = match result.voltage_v {
            Some(v) => format!(
                "{} at {}",
                result.port,
                format::with_unit(format::plain(v), "V")
            ),
            None => result.port.clone(),
        };
        let id = format!("overload-{}", result.overload);
        let steps = record
            .overloads
            .get(place)
            .map_or(&[] as &[_], |o| o.steps.as_slice());
        let readings = step_readings(record, place, &method.standards);
        let chart = OverloadChart::of(
            &format!("{unit}, {}", title.replace('\u{202f}', " ")),
            steps,
            &readings,
            result,
        );
        OverloadView {
            drawing: chart.map(|chart| Drawing {
                id: format!("{id}-chart"),
                title: "Voltage against current".to_owned(),
                svg: chart.both(&format!("{id}-chart")),
                table: chart.table(),
            }),
            delivery: DeliveryView::of(result),
            facts: facts(result),
            screening: result.screening.as_ref().map(screening),
            contradictions: result.contradictions.clone(),
            id,
            title,
        }
    }
}

impl DeliveryView {
    fn of(result: &OverloadResult) -> DeliveryView {
        DeliveryView {
            class: result.delivery.id(),
            sign: format::outcome_sign(result.delivery),
            word: match result.delivery {
                Outcome::Pass => "delivers its rating",
                Outcome::ConditionalPass => "delivers its rating, as far as can be told",
                Outcome::ConditionalFail => "may not deliver its rating",
                Outcome::Fail => "failed delivery",
                Outcome::Incomplete | Outcome::NotAssessed => "not assessed",
            },
            reason: sentence(&result.delivery_reason),
            failed: result.delivery == Outcome::Fail,
        }
    }
}

fn facts(result: &OverloadResult) -> Vec<Fact> {
    let mut facts = Vec::new();
    let mut add = |label, text: Option<String>| {
        if let Some(text) = text {
            facts.push(Fact { label, text });
        }
    };
    let amps = |a: f64| format::with_unit(format::plain(a), "A");
    let expanded = result.trip_u.map(|u| 2.0 * u);
    add(
        "Rated current",
        result.rated_current_a.map(|a| {
            let from = match result.rated_from.as_deref() {
                Some("list") => " by its list of capabilities",
                Some("label") => " by its label",
                _ => "",
            };
            format!("{}{from}", amps(a))
        }),
    );
    add(
        "Last good point",
        match (&result.last_good, result.last_good_power_w) {
            (Some(step), power) => {
                let current = step.current_a.unwrap_or(step.set_current_a);
                let parts = [
                    Some(amps(current)),
                    step.voltage_v
                        .map(|v| format::with_unit(format::plain(v), "V")),
                    power.map(format::watts),
                ];
                Some(parts.into_iter().flatten().collect::<Vec<_>>().join(", "))
            }
            (None, Some(power)) => Some(format::watts(power)),
            (None, None) => None,
        },
    );
    add(
        "Lets go at",
        Some(match result.trip_current_a {
            Some(trip) => format!(
                "{}{}",
                plus_minus(trip, expanded, "A"),
                match result.trip_from.as_deref() {
                    Some("steps") => ", the middle between two steps",
                    Some("limited") => ", the current that it was held to",
                    _ => "",
                }
            ),
            None if !result.contradictions.is_empty() => {
                "not told: the steps contradict each other".to_owned()
            }
            None => match result.held_current_a {
                Some(a) => format!("it did not, up to {}", amps(a)),
                None => "not measured".to_owned(),
            },
        }),
    );
    add(
        "Trip margin",
        result.trip_margin_percent.map(|margin| {
            let u = expanded
                .zip(result.rated_current_a.filter(|r| *r > 0.0))
                .map(|(u, rated)| 100.0 * u / rated);
            let unknown = if u.is_none() {
                ", uncertainty not known"
            } else {
                ""
            };
            format!("{} of the rated current{unknown}", signed(margin, u, "%"))
        }),
    );
    add(
        "Protection",
        Some(
            match (result.protection, result.protection_from.as_deref()) {
                (Some(kind), Some("seen")) => {
                    format!("{}, as seen; {}", protection(kind), result.protection_why)
                }
                (Some(kind), _) => format!("{}: {}", protection(kind), result.protection_why),
                (None, _) => format!("not told: {}", result.protection_why),
            },
        ),
    );
    add(
        "Recovery",
        result.recovery.as_deref().map(|word| {
            let time = result.recovery_s.map_or(String::new(), |s| {
                format!(", after {}", format::duration(s))
            });
            format!("{}{time}", recovery_words(word))
        }),
    );
    add(
        "Other ports meanwhile",
        result.other_ports.as_deref().map(|word| {
            match word {
                "held" => "kept their output",
                "reset" => "were reset for a moment",
                "lost" => "lost their output",
                _ => "no other ports",
            }
            .to_owned()
        }),
    );
    add(
        "Input power in a short circuit",
        result.short_circuit_input_power_w.map(format::watts),
    );
    add(
        "Line supply",
        result
            .line_voltage_v
            .map(|v| format::with_unit(format::plain(v), "V")),
    );
    facts
}

/// With a capital at its beginning.
fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    let first: String = letters
        .next()
        .into_iter()
        .flat_map(char::to_uppercase)
        .collect();
    format!("{first}{}", letters.as_str())
}

/// A value with its sign always written: `+12.3 %`.
pub fn signed(value: f64, expanded: Option<f64>, unit: &str) -> String {
    let text = plus_minus(value, expanded, unit);
    if value > 0.0 {
        match text.strip_prefix('(') {
            Some(rest) => format!("(+{rest}"),
            None => format!("+{text}"),
        }
    } else {
        text
    }
}

/// A kind of protection by the trade's term, with what it means.
pub fn protection(kind: Protection) -> &'static str {
    match kind {
        Protection::ShutOff => "shut-off",
        Protection::Hiccup => "hiccup (tries again and again)",
        Protection::Foldback => "foldback (the current falls as the load grows)",
        Protection::ConstantCurrent => "constant current (the voltage falls instead)",
    }
}

/// A word of the format for how a port comes back, as people say it.
pub fn recovery_words(word: &str) -> &'static str {
    match word {
        "auto" => "by itself",
        "replug" => "after unplugging the load",
        "mains" => "after unplugging from the mains",
        _ => "did not recover",
    }
}

fn screening(screening: &SourceScreening) -> ScreeningView {
    let class = screening
        .indicated_class
        .as_ref()
        .map(|class| format!("its power indicates {class}"));
    let limited = match (screening.within_limited_power, &screening.not_shown) {
        (Some(true), _) => "within both figures of a limited power source",
        (Some(false), _) => "outside the figures of a limited power source",
        (None, Some(_)) if screening.figures.iter().any(|f| f.unit == "VA") => {
            "not shown to be within the figures of a limited power source"
        }
        (None, _) => "beyond the voltages that the figures of a limited power source are for",
    };
    let class = class.unwrap_or_else(|| "its class of power is not shown".to_owned());
    let why = screening
        .not_shown
        .as_ref()
        .map_or(String::new(), |why| format!(": {why}"));
    ScreeningView {
        summary: format!("{limited}; {class}{why}"),
        conditions: format!(
            "{} without load, up to {} and {} on record",
            format::with_unit(format::significant(screening.open_circuit_v, 4), "V"),
            format::with_unit(format::significant(screening.current_a, 3), "A"),
            format::watts(screening.power_w)
        ),
        figures: screening.figures.iter().map(FigureRow::of).collect(),
        cautions: screening.cautions.clone(),
    }
}

/// Headings of [`OverloadSection::recorded`].
pub const RECORDED_COLUMNS: [&str; 7] = [
    "Port",
    "At",
    "Rated current",
    "Trips at",
    "Last power held",
    "Recovers",
    "Other ports",
];

fn recorded(record: &Record) -> Vec<Vec<Option<String>>> {
    let amps = |a: f64| format::with_unit(format::significant(a, 3), "A");
    record
        .overloads
        .iter()
        .map(|o| {
            vec![
                Some(o.port.clone()),
                o.voltage_v
                    .map(|v| format::with_unit(format::plain(v), "V")),
                o.rated_current_a.map(amps),
                o.trip_current_a.map(amps),
                o.last_good_power_w.map(format::watts),
                o.recovery.map(|r| format::recovery(r).to_owned()),
                o.other_ports.map(|p| format::other_ports(p).to_owned()),
            ]
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{bench::decode::decode, evaluate::evaluate};
    use serde_json::{Value, json};

    fn section(overload: Value) -> OverloadSection {
        let document = json!({
            "format": "brickbook-record/1",
            "unit": {"maker": "Larkfield", "model": "LF", "nameplate": {"output_power_w": 60},
                "ports": [{"label": "C1", "connector": "usb-c", "power_w": 60,
                    "modes": [{"kind": "fixed", "voltage_v": 20, "current_a": 3}]}]},
            "instruments": [{"quantity": "output_current_a", "fixed": 0.01}],
            "overloads": [overload],
        });
        let record = decode(&document.to_string()).unwrap();
        let method = Method::standard();
        let evaluation = evaluate(&record, &method);
        OverloadSection::of("Larkfield LF", &record, &evaluation, &method)
    }

    fn fact(view: &OverloadView, label: &str) -> Option<String> {
        view.facts
            .iter()
            .find(|f| f.label == label)
            .map(|f| f.text.replace('\u{202f}', " "))
    }

    #[test]
    fn a_trip_inside_the_rating_is_said_to_be_a_failed_delivery() {
        let section = section(json!({"port": "C1", "voltage_v": 20, "trip_current_a": 2.8}));
        let view = &section.tests[0];
        assert!(view.delivery.failed);
        assert_eq!(view.delivery.word, "failed delivery");
        assert!(view.delivery.reason.contains("inside its rating"));
        assert_eq!(
            fact(view, "Trip margin").unwrap(),
            "(\u{2212}6.67 ± 0.38) % of the rated current"
        );
        assert!(view.drawing.is_none(), "no step, no picture");
    }

    #[test]
    fn a_test_shows_its_points_its_kind_and_its_figures_with_cautions() {
        let section = section(json!({"port": "C1", "voltage_v": 20, "recovery": "auto",
            "recovery_s": 2, "other_ports": "held", "short_circuit_input_power_w": 0.9,
            "steps": [
                {"set_current_a": 3, "current_a": 3, "voltage_v": 20.05, "held_s": 10},
                {"set_current_a": 3.3, "current_a": 3.3, "voltage_v": 20, "held_s": 10},
                {"set_current_a": 3.5, "current_a": 0, "voltage_v": 0, "held_s": 10}]}));
        let view = &section.tests[0];
        assert_eq!(
            fact(view, "Last good point").unwrap(),
            "3.3 A, 20 V, 66.0 W"
        );
        assert!(
            fact(view, "Protection")
                .unwrap()
                .starts_with("shut-off: off at 3.5 A")
        );
        assert!(
            fact(view, "Recovery")
                .unwrap()
                .starts_with("by itself, after 2")
        );
        assert_eq!(
            fact(view, "Input power in a short circuit").unwrap(),
            "900 mW"
        );
        assert!(
            fact(view, "Lets go at")
                .unwrap()
                .contains("between two steps")
        );
        let screening = view.screening.as_ref().unwrap();
        assert!(screening.summary.ends_with("its power indicates PS2"));
        assert!(!screening.cautions.is_empty());
        assert!(screening.figures.iter().all(|f| !f.source.is_empty()));
        let drawing = view.drawing.as_ref().unwrap();
        assert_eq!(drawing.table.rows.len(), 3);
    }

    #[test]
    fn a_port_that_was_not_loaded_until_it_let_go_is_not_shown_to_be_limited() {
        let section = section(json!({"port": "C1", "voltage_v": 20, "steps": [
            {"set_current_a": 5, "current_a": 2, "voltage_v": 20, "state": "on", "held_s": 60}]}));
        let view = &section.tests[0];
        assert_eq!(
            fact(view, "Lets go at").unwrap(),
            "it did not, up to 2 A",
            "what flowed, not what was set"
        );
        assert_eq!(fact(view, "Last good point").unwrap(), "2 A, 20 V, 40.0 W");
        let screening = view.screening.as_ref().unwrap();
        assert_eq!(
            screening.summary,
            "not shown to be within the figures of a limited power source; its class of power is \
             not shown: it had not let go up to 2 A"
        );
        assert!(
            screening
                .figures
                .iter()
                .any(|f| f.mark.word == "not shown to be within the figure")
        );
    }

    #[test]
    fn what_was_not_tried_is_not_shown_as_nothing() {
        let section = section(json!({"port": "C1", "voltage_v": 20}));
        let view = &section.tests[0];
        assert_eq!(fact(view, "Lets go at").unwrap(), "not measured");
        assert_eq!(fact(view, "Trip margin"), None);
        assert_eq!(view.delivery.word, "not assessed");
        assert!(view.screening.is_none());
    }
}
