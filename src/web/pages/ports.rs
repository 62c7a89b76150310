//! The ports of a unit as its page shows them: what the rules ask for, what the label claims, what
//! the capability list advertises and what was measured, side by side for each voltage.

use crate::{
    bench::{
        record::{Port, Record},
        usb_pd,
    },
    evaluate::{
        evaluation::{Evaluation, LabelOutcome},
        figure::AgainstFigure,
        ports::{PortFinding, PortOutcome, PortResult, PortVoltage, WindowResult},
    },
    text::{t, word},
    web::format::{self, PlusMinus, Scale},
};

/// One port.
pub struct PortView {
    pub label: String,
    /// Id of its heading.
    pub id: String,
    pub facts: Vec<(&'static str, String)>,
    pub rows: Vec<VoltageView>,
    /// Which columns the table has at all.
    pub ruled: bool,
    pub advertises: bool,
    pub findings: Vec<FindingView>,
    pub objects: Vec<ObjectView>,
}

impl PortView {
    /// Over the table of voltages: what stands side by side.
    pub fn caption(&self) -> String {
        let text = match (self.ruled, self.advertises) {
            (false, false) => t("port-voltages.measured"),
            (true, false) => t("port-voltages.ruled"),
            (false, true) => t("port-voltages.advertised"),
            (true, true) => t("port-voltages.all"),
        };
        text.with("port", &self.label).to_string()
    }
}

/// One voltage or range.
pub struct VoltageView {
    pub name: String,
    /// The range's own name, such as `9V Prog`.
    pub range: Option<String>,
    pub required: Option<String>,
    pub outcome: Option<Mark>,
    pub claimed: Option<String>,
    pub advertised: Option<String>,
    pub measured: Option<String>,
    /// Load and run of the measured point.
    pub measured_at: Option<String>,
    pub window: Option<WindowView>,
}

pub struct WindowView {
    pub mark: Mark,
    /// As the rules call it.
    pub name: String,
    /// `19–21 V`.
    pub range: String,
    /// Readings, margin and uncertainty.
    pub words: String,
    /// What the evaluation document says more where a charging port may droop.
    pub droop: Option<String>,
    pub source: String,
}

/// A word with its sign and its class of colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Mark {
    pub class: &'static str,
    pub sign: &'static str,
    pub word: &'static str,
}

pub struct FindingView {
    pub mark: Mark,
    pub message: String,
    pub source: String,
}

/// One raw power data object.
pub struct ObjectView {
    pub position: usize,
    pub word: String,
    pub text: String,
    pub fields: Vec<FieldView>,
}

pub struct FieldView {
    /// `19:10`, or `29` for a single bit.
    pub bits: String,
    pub name: &'static str,
    /// In binary, as wide as the field.
    pub raw: String,
    pub meaning: String,
}

/// Every port of the record, in its order.
pub fn views(record: &Record, evaluation: &Evaluation) -> Vec<PortView> {
    record
        .unit
        .ports
        .iter()
        .enumerate()
        .map(|(i, port)| {
            let result = evaluation.ports.iter().find(|r| r.port == port.label);
            view(i, port, result)
        })
        .collect()
}

fn view(index: usize, port: &Port, result: Option<&PortResult>) -> PortView {
    let rows = result.map(rows).unwrap_or_default();
    PortView {
        label: port.label.clone(),
        id: format!("port-{}", index + 1),
        facts: facts(port, result),
        ruled: rows
            .iter()
            .any(|r| r.required.is_some() || r.outcome.is_some()),
        advertises: result.is_some_and(|r| !r.advertised.is_empty()),
        rows,
        findings: findings(result),
        objects: port
            .capabilities()
            .into_iter()
            .map(|(position, word, object)| ObjectView {
                position,
                word: usb_pd::written(word),
                text: object.to_string(),
                fields: usb_pd::word_fields(word)
                    .into_iter()
                    .map(|f| FieldView {
                        bits: if f.high == f.low {
                            f.high.to_string()
                        } else {
                            format!("{}:{}", f.high, f.low)
                        },
                        raw: format!("{:0width$b}", f.raw, width = (f.high - f.low + 1) as usize),
                        name: f.name,
                        meaning: f.meaning,
                    })
                    .collect(),
            })
            .collect(),
    }
}

/// What is wrong first, then what cannot be told, then the rest in the order of the evaluation.
fn findings(result: Option<&PortResult>) -> Vec<FindingView> {
    let mut findings: Vec<&PortFinding> = result.iter().flat_map(|r| &r.findings).collect();
    findings.sort_by_key(|f| match f.result {
        LabelOutcome::Contradicts => 0,
        LabelOutcome::Unknown => 1,
        LabelOutcome::Agrees => 2,
        LabelOutcome::Note => 3,
    });
    findings.into_iter().map(finding).collect()
}

fn facts(port: &Port, result: Option<&PortResult>) -> Vec<(&'static str, String)> {
    let mut facts = Vec::new();
    let mut add = |name, text: Option<String>| {
        if let Some(text) = text {
            facts.push((name, text));
        }
    };
    add(
        word("port-connector"),
        port.connector.map(|c| format::connector(c).to_owned()),
    );
    let rated = result.and_then(|r| Some((r.rating_w?, r.rating_from.as_deref()?)));
    add(
        word("port-rated"),
        rated
            .map(|(watts, from)| {
                let text = match from {
                    "nameplate" => t("port-rated.nameplate"),
                    "list" => t("port-rated.list"),
                    _ => t("port-rated.label"),
                };
                text.with("power", format::rated_watts(watts))
            })
            .or(port
                .power_w
                .map(|w| t("port-rated.label").with("power", format::rated_watts(w))))
            .map(|text| text.to_string()),
    );
    add(
        word("port-group"),
        port.share_group
            .as_ref()
            .map(|group| t("port-group.text").with("group", group).to_string()),
    );
    let Some(result) = result else { return facts };
    add(
        word("port-advertised"),
        result.advertised_power_w.map(|w| {
            let power = format::rated_watts(round(w));
            t("port-advertised.text").with("power", power).to_string()
        }),
    );
    let offers = |of: &dyn Fn(&PortVoltage) -> Option<f64>| -> Option<String> {
        let texts: Vec<String> = result
            .voltages
            .iter()
            .filter_map(|row| Some(format!("{} {}", volts(row), amps(of(row)?))))
            .collect();
        (!texts.is_empty()).then(|| texts.join(", "))
    };
    add(
        word("port-must-offer"),
        offers(&|row| {
            row.required_a
                .filter(|_| row.kind != "pps" && row.kind != "spr-avs")
        }),
    );
    add(
        word("port-asked"),
        offers(&|row| row.required_a.filter(|_| row.kind == "pps")),
    );
    add(
        word("port-missing"),
        offers(&|row| {
            row.required_a.filter(|_| {
                matches!(
                    row.result,
                    Some(PortOutcome::Missing | PortOutcome::TooLittle)
                )
            })
        }),
    );
    add(
        word("port-optional"),
        offers(&|row| {
            row.advertised_a
                .or(row.claimed_a)
                .filter(|_| row.result == Some(PortOutcome::Optional))
        }),
    );
    add(
        word("port-cable"),
        result.cable.as_ref().map(|cable| {
            t("port-cable.text")
                .with("cable", &cable.name)
                .with("current", amps(cable.current_a))
                .with(
                    "voltage",
                    format::with_unit(format::plain(cable.voltage_v), "V"),
                )
                .to_string()
        }),
    );
    facts
}

/// A voltage or range in words.
fn volts(row: &PortVoltage) -> String {
    let (min, max) = (row.voltage_min_v, row.voltage_max_v);
    let span = if (max - min).abs() < 1e-6 {
        format::with_unit(format::plain(max), "V")
    } else {
        format::with_unit(
            format!("{}–{}", format::plain(min), format::plain(max)),
            "V",
        )
    };
    match row.kind.as_str() {
        "pps" => format!("PPS {span}"),
        "spr-avs" => format!("AVS {span}"),
        "epr-avs" => format!("EPR AVS {span}"),
        _ => span,
    }
}

/// Steps of lists and of labels are no finer than 10 mA.
fn round(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}

fn amps(value: f64) -> String {
    format::with_unit(format::plain(round(value)), "A")
}

fn rows(result: &PortResult) -> Vec<VoltageView> {
    let mut windows: Vec<Option<&WindowResult>> = result.windows.iter().map(Some).collect();
    let mut take = |fits: &dyn Fn(&WindowResult) -> bool| {
        windows
            .iter_mut()
            .find(|w| w.is_some_and(fits))
            .and_then(Option::take)
    };
    let mut rows: Vec<VoltageView> = result
        .voltages
        .iter()
        .map(|row| {
            let window = if row.kind == "fixed" {
                take(&|w| (w.voltage_v - row.voltage_max_v).abs() < 0.01)
            } else {
                // A range is measured at the voltage that was agreed.
                row.measured.as_ref().and_then(|measured| {
                    take(&|w| {
                        w.voltage_v >= row.voltage_min_v - 0.01
                            && w.voltage_v <= row.voltage_max_v + 0.01
                            && [&w.lowest, &w.highest]
                                .iter()
                                .any(|r| r.run == measured.run)
                    })
                })
            };
            VoltageView {
                name: volts(row),
                range: row.range.clone(),
                required: row.required_a.map(amps),
                outcome: row.result.map(outcome),
                claimed: row.claimed_a.map(amps),
                advertised: row.advertised_a.map(amps),
                measured: row.measured.as_ref().map(|m| {
                    let voltage = format::with_unit(format::fixed(m.voltage_v, 3), "V");
                    let current = format::with_unit(format::fixed(m.current_a, 3), "A");
                    t("chart-value-at")
                        .with("value", voltage)
                        .with("load", current)
                        .to_string()
                }),
                measured_at: row.measured.as_ref().map(|m| at(m.load_percent, &m.run)),
                window: window.map(window_view),
            }
        })
        .collect();
    // Voltages that were read without their current, or that nobody claims.
    rows.extend(windows.into_iter().flatten().map(|w| VoltageView {
        name: format::with_unit(format::plain(w.voltage_v), "V"),
        range: None,
        required: None,
        outcome: None,
        claimed: None,
        advertised: None,
        measured: Some(format::with_unit(format::fixed(w.lowest.voltage_v, 3), "V")),
        measured_at: Some(at(w.lowest.load_percent, &w.lowest.run)),
        window: Some(window_view(w)),
    }));
    rows
}

fn at(load_percent: f64, run: &str) -> String {
    t("port-measured-at")
        .with(
            "percent",
            format::with_unit(format::plain(load_percent), "%"),
        )
        .with("run", run)
        .to_string()
}

fn outcome(outcome: PortOutcome) -> Mark {
    let (class, sign, word) = match outcome {
        PortOutcome::Met => ("agrees", "✓", word("port-offered")),
        PortOutcome::TooLittle => ("contradicts", "✗", word("port-too-little")),
        PortOutcome::Missing => ("contradicts", "✗", word("port-is-missing")),
        PortOutcome::Optional => ("", "+", word("port-is-optional")),
        PortOutcome::Unknown => ("not-assessed", "?", word("label-unknown")),
    };
    Mark { class, sign, word }
}

/// Where a measured value stands beside a figure that it should keep to.
fn against(result: AgainstFigure) -> Mark {
    let (class, sign, word) = match result {
        AgainstFigure::Within => ("pass", "✓", word("window-within")),
        AgainstFigure::WithinByLessThanUncertainty => {
            ("conditional-pass", "≈✓", word("window-within-unsure"))
        }
        AgainstFigure::OutsideByLessThanUncertainty => {
            ("conditional-fail", "≈✗", word("window-outside-unsure"))
        }
        AgainstFigure::Outside => ("fail", "✗", word("window-outside")),
        AgainstFigure::NotShown => ("not-assessed", "?", word("window-not-shown")),
    };
    Mark { class, sign, word }
}

fn window_view(w: &WindowResult) -> WindowView {
    let volts = |v: f64| format::with_unit(format::fixed(v, 3), "V");
    let margin = PlusMinus::new(
        w.margin_v,
        w.expanded_uncertainty_v,
        Scale {
            unit: "V",
            factor: 1.0,
        },
        3,
    );
    let words = t("window-words")
        .with("count", w.points)
        .with("low", format::fixed(w.lowest.voltage_v, 3))
        .with("high", volts(w.highest.voltage_v))
        .with("margin", margin.to_string())
        .to_string();
    let droop = w
        .message
        .split_once("; ")
        .map(|(_, droop)| droop.to_owned());
    WindowView {
        mark: against(w.result),
        range: format!(
            "{}–{}",
            format::plain(round(w.low_v)),
            format::with_unit(format::plain(round(w.high_v)), "V")
        ),
        name: w.name.clone(),
        words,
        droop,
        source: w.source.clone(),
    }
}

fn finding(finding: &PortFinding) -> FindingView {
    FindingView {
        mark: Mark {
            class: format::label_outcome_class(finding.result),
            sign: format::label_outcome_sign(finding.result),
            word: match finding.subject.as_str() {
                "label" | "rating" => format::label_outcome(finding.result),
                // A rule is kept or not; it is not the label that contradicts.
                _ => match finding.result {
                    LabelOutcome::Agrees => word("rule-kept"),
                    LabelOutcome::Contradicts => word("rule-broken"),
                    other => format::label_outcome(other),
                },
            },
        },
        message: finding.message.clone(),
        source: finding.source.clone(),
    }
}

/// Is what the rules ask of this port told by its own section?
pub fn tells_power_rules(evaluation: &Evaluation, port: Option<&str>) -> bool {
    evaluation
        .ports
        .iter()
        .filter(|r| port == Some(r.port.as_str()))
        .any(|r| r.findings.iter().any(|f| f.subject == "power-rules"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{bench::decode::decode, evaluate::Method};
    use serde_json::{Value, json};

    fn shown(ports: Value, runs: Value, watts: f64) -> Vec<PortView> {
        let record = json!({
            "format": "brickbook-record/1",
            "unit": {"maker": "Larkfield", "model": "LF", "ports": ports,
                "nameplate": {"output_power_w": watts}},
            "instruments": [{"quantity": "output_voltage_v", "reading_percent": 0.1}],
            "runs": runs,
        });
        let record = decode(&record.to_string()).unwrap();
        let evaluation = crate::evaluate::evaluate(&record, &Method::standard());
        views(&record, &evaluation)
    }

    fn text(text: &str) -> String {
        text.replace('\u{202f}', " ")
    }

    fn run(port: &str, volts: f64, amps: f64, read: f64) -> Value {
        json!({"name": "230 V", "line": {"voltage_v": 230, "frequency_hz": 50},
            "rated_outputs": [{"port": port, "voltage_v": volts, "current_a": amps}],
            "points": [{"load_percent": 100, "input": {"power_w": 90},
                "outputs": [{"port": port, "voltage_v": read, "current_a": amps}]}]})
    }

    #[test]
    fn claimed_advertised_measured_and_asked_for_stand_in_one_row_of_their_voltage() {
        let ports = json!([{"label": "C1", "connector": "usb-c", "power_w": 65,
            "source_capabilities": ["0x0801912C", "0x0002D12C", "0x00064145"],
            "modes": [{"kind": "fixed", "voltage_v": 5, "current_a": 3},
                {"kind": "fixed", "voltage_v": 20, "current_a": 3.25}]}]);
        let port = shown(ports, json!([run("C1", 20.0, 3.25, 20.1)]), 65.0).remove(0);
        let row = |name: &str| port.rows.iter().find(|r| text(&r.name) == name).unwrap();
        let twenty = row("20 V");
        let cells = [
            &twenty.required,
            &twenty.claimed,
            &twenty.advertised,
            &twenty.measured,
        ]
        .map(|cell| text(cell.as_deref().unwrap()));
        assert_eq!(cells, ["3.25 A", "3.25 A", "3.25 A", "20.100 V at 3.250 A"]);
        let window = twenty.window.as_ref().unwrap();
        assert_eq!(
            (window.mark.word, text(&window.range)),
            ("within", "19–21 V".to_owned())
        );
        assert!(text(&window.words).contains("margin"), "{}", window.words);
        let fifteen = row("15 V");
        assert_eq!(fifteen.outcome.unwrap().word, "missing");
        assert_eq!(fifteen.advertised, None);
        let missing = port.facts.iter().find(|f| f.0 == "Missing or too little");
        assert_eq!(text(&missing.unwrap().1), "15 V 3 A");
        assert_eq!(port.objects.len(), 3);
        assert!(
            port.objects[2]
                .fields
                .iter()
                .any(|f| f.bits == "19:10" && f.raw == "0110010000" && f.meaning == "20 V")
        );
    }

    #[test]
    fn a_port_without_power_delivery_has_its_window_and_no_column_of_rules() {
        let ports = json!([{"label": "A", "connector": "usb-a", "power_w": 12,
            "modes": [{"kind": "fixed", "voltage_v": 5, "current_a": 2.4}]},
            {"label": "X"}]);
        let ports = shown(ports, json!([run("A", 5.0, 2.4, 4.6)]), 12.0);
        assert!(!ports[0].ruled && !ports[0].advertises);
        let window = ports[0].rows[0].window.as_ref().unwrap();
        assert_eq!(window.mark.word, "outside");
        assert!(window.name.contains("BC 1.2"));
        assert!(ports[1].rows.is_empty(), "nothing is known of it");
    }

    #[test]
    fn a_voltage_read_without_its_current_still_stands_beside_its_window() {
        let mut bare = run("J", 12.0, 3.0, 12.7);
        bare["points"][0]["outputs"][0]["current_a"] = Value::Null;
        let ports = json!([{"label": "J", "connector": "barrel"}]);
        let port = shown(ports, json!([bare]), 36.0).remove(0);
        assert_eq!(port.rows.len(), 1);
        assert_eq!(port.rows[0].claimed, None);
        assert_eq!(port.rows[0].window.as_ref().unwrap().mark.word, "outside");
    }
}
