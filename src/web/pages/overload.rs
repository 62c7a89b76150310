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
    text::{t, word},
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
    /// Why something is not shown, in the words of the evaluation document.
    pub why: Option<String>,
    pub conditions: String,
    pub figures: Vec<FigureRow>,
    pub cautions: Vec<String>,
}

impl OverloadView {
    fn of(unit: &str, record: &Record, result: &OverloadResult, method: &Method) -> OverloadView {
        let place = usize::try_from(result.overload).unwrap_or(usize::MAX);
        let title = match result.voltage_v {
            Some(v) => t("overload-at")
                .with("port", &result.port)
                .with("voltage", format::with_unit(format::plain(v), "V"))
                .to_string(),
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
                title: word("overload-chart").to_owned(),
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
                Outcome::Pass => word("delivery-pass"),
                Outcome::ConditionalPass => word("delivery-conditional-pass"),
                Outcome::ConditionalFail => word("delivery-conditional-fail"),
                Outcome::Fail => word("delivery-fail"),
                Outcome::Incomplete | Outcome::NotAssessed => word("outcome-not-assessed"),
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
            facts.push(Fact::new(label, text));
        }
    };
    let amps = |a: f64| format::with_unit(format::plain(a), "A");
    let expanded = result.trip_u.map(|u| 2.0 * u);
    add(
        word("overload-rated"),
        result.rated_current_a.map(|a| {
            let from = match result.rated_from.as_deref() {
                Some("list") => t("overload-rated.list"),
                Some("label") => t("overload-rated.label"),
                _ => return amps(a),
            };
            from.with("current", amps(a)).to_string()
        }),
    );
    add(
        word("overload-last-good"),
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
        word("overload-trip"),
        Some(match result.trip_current_a {
            Some(trip) => {
                let current = plus_minus(trip, expanded, "A");
                match result.trip_from.as_deref() {
                    Some("steps") => t("overload-trip.steps")
                        .with("current", current)
                        .to_string(),
                    Some("limited") => t("overload-trip.limited")
                        .with("current", current)
                        .to_string(),
                    _ => current,
                }
            }
            None if !result.contradictions.is_empty() => {
                word("overload-trip.contradicted").to_owned()
            }
            None => match result.held_current_a {
                Some(a) => t("overload-trip.held").with("current", amps(a)).to_string(),
                None => word("not-measured").to_owned(),
            },
        }),
    );
    add(
        word("overload-margin"),
        result.trip_margin_percent.map(|margin| {
            let u = expanded
                .zip(result.rated_current_a.filter(|r| *r > 0.0))
                .map(|(u, rated)| 100.0 * u / rated);
            let text = match u {
                Some(_) => t("overload-margin.text"),
                None => t("overload-margin.unknown"),
            };
            text.with("margin", signed(margin, u, "%")).to_string()
        }),
    );
    let kind = match (result.protection, result.protection_from.as_deref()) {
        (Some(kind), Some("seen")) => t("overload-protection.seen").with("kind", protection(kind)),
        (Some(kind), _) => t("overload-protection.told").with("kind", protection(kind)),
        (None, _) => t("overload-protection.unknown"),
    };
    let kind = Fact::new(word("overload-protection"), kind.to_string());
    facts.push(kind.explained(&result.protection_why));
    let mut add = |label, text: Option<String>| {
        if let Some(text) = text {
            facts.push(Fact::new(label, text));
        }
    };
    add(
        word("overload-recovery"),
        result.recovery.as_deref().map(|how| {
            let how = recovery_words(how);
            match result.recovery_s {
                Some(s) => t("overload-recovery.after")
                    .with("how", how)
                    .with("time", format::duration(s))
                    .to_string(),
                None => how.to_owned(),
            }
        }),
    );
    add(
        word("overload-others"),
        result.other_ports.as_deref().map(|what| {
            match what {
                "held" => word("other-ports-held"),
                "reset" => word("other-ports-reset"),
                "lost" => word("other-ports-lost"),
                _ => word("other-ports-none"),
            }
            .to_owned()
        }),
    );
    add(
        word("overload-short"),
        result.short_circuit_input_power_w.map(format::watts),
    );
    add(
        word("claim-line"),
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
        Protection::ShutOff => word("protection-shut-off"),
        Protection::Hiccup => word("protection-hiccup"),
        Protection::Foldback => word("protection-foldback"),
        Protection::ConstantCurrent => word("protection-constant"),
    }
}

/// A word of the format for how a port comes back, as people say it.
pub fn recovery_words(how: &str) -> &'static str {
    match how {
        "auto" => word("recovery-auto"),
        "replug" => word("recovery-replug"),
        "mains" => word("recovery-mains"),
        _ => word("recovery-none"),
    }
}

fn screening(screening: &SourceScreening) -> ScreeningView {
    let limited = match (screening.within_limited_power, &screening.not_shown) {
        (Some(true), _) => word("limited-within"),
        (Some(false), _) => word("limited-outside"),
        (None, Some(_)) if screening.figures.iter().any(|f| f.unit == "VA") => {
            word("limited-not-shown")
        }
        (None, _) => word("limited-beyond"),
    };
    let summary = match &screening.indicated_class {
        Some(class) => t("limited-indicated").with("class", class.to_string()),
        None => t("limited-class-unknown"),
    };
    ScreeningView {
        summary: summary.with("limited", limited).to_string(),
        why: screening.not_shown.clone(),
        conditions: t("limited-conditions")
            .with(
                "voltage",
                format::with_unit(format::significant(screening.open_circuit_v, 4), "V"),
            )
            .with(
                "current",
                format::with_unit(format::significant(screening.current_a, 3), "A"),
            )
            .with("power", format::watts(screening.power_w))
            .to_string(),
        figures: screening.figures.iter().map(FigureRow::of).collect(),
        cautions: screening.cautions.clone(),
    }
}

/// Headings of [`OverloadSection::recorded`].
pub fn recorded_columns() -> [&'static str; 7] {
    [
        word("overload-port"),
        word("overload-at-voltage"),
        word("overload-rated"),
        word("overload-trips-at"),
        word("overload-held"),
        word("column-recovery.card"),
        word("overload-other-ports"),
    ]
}

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
            .map(|f| f.words().replace('\u{202f}', " "))
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
             not shown"
        );
        assert_eq!(
            screening.why.as_deref(),
            Some("it had not let go up to 2 A")
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
