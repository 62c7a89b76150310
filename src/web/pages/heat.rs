//! Temperatures on a unit's page: their course, where it leads, and how they compare, brought to
//! one ambient, with figures for surfaces that people touch.

use super::{
    figure_rows::{Drawing, FigureRow, plus_minus},
    sheet::Fact,
};
use crate::{
    bench::record::Record,
    chart::{Chart, HeatChart},
    evaluate::{
        Method,
        evaluation::{Evaluation, HeatResult},
        heat::{HeatState, TouchResult},
    },
    standards::touch_temperature::TouchMaterial,
    text::{t, word},
    web::format,
};

/// The section of a unit's page.
pub struct HeatSection {
    pub series: Vec<HeatView>,
    /// Every reading as recorded, cell by cell.
    pub recorded: Vec<Vec<Option<String>>>,
    /// What to bear in mind with all of it.
    pub cautions: Vec<String>,
    /// Where the figures stand.
    pub citation: String,
}

impl HeatSection {
    pub fn of(
        unit: &str,
        record: &Record,
        evaluation: &Evaluation,
        method: &Method,
    ) -> HeatSection {
        let table = &method.standards.touch_temperature;
        let mut cautions: Vec<String> = Vec::new();
        for caution in evaluation.heat.iter().flat_map(|h| &h.cautions) {
            if !cautions.contains(caution) {
                cautions.push(caution.clone());
            }
        }
        HeatSection {
            series: evaluation
                .heat
                .iter()
                .enumerate()
                .map(|(at, result)| {
                    HeatView::of(
                        unit,
                        at,
                        result,
                        table.reference_ambient_c,
                        table.steady_min,
                        record.unit.nameplate.max_ambient_c,
                    )
                })
                .collect(),
            recorded: recorded(record),
            cautions,
            citation: table.citation.clone(),
        }
    }

    pub fn is_empty(&self) -> bool {
        self.recorded.is_empty()
    }
}

/// Readings of one place at one load.
pub struct HeatView {
    pub id: String,
    /// "Hot spot, top face, at 60 W".
    pub title: String,
    pub facts: Vec<Fact>,
    pub drawing: Option<Drawing>,
    pub rows: Vec<TouchRowView>,
    /// The line of comfort in a sentence.
    pub comfort: Option<String>,
    pub remark: Option<String>,
}

/// One length of contact.
pub struct TouchRowView {
    pub duration: String,
    /// The row that adapters are usually judged by.
    pub usual: bool,
    pub comfort: bool,
    pub class: String,
    pub ts1: FigureRow,
    pub ts2: FigureRow,
}

impl HeatView {
    fn of(
        unit: &str,
        at: usize,
        result: &HeatResult,
        reference_c: f64,
        steady_min: f64,
        max_ambient_c: Option<f64>,
    ) -> HeatView {
        let id = format!("heat-{at}");
        let name = match result.quantity.as_str() {
            "surface" => word("heat-surface"),
            _ => word("heat-hot-spot"),
        };
        let parts = [
            Some(name.to_owned()),
            result.place.clone(),
            result.load_w.map(|w| {
                t("heat-at-load")
                    .with("load", format::rated_watts(w))
                    .to_string()
            }),
        ];
        let title = parts.into_iter().flatten().collect::<Vec<_>>().join(", ");
        let subject = format!("{unit}, {}", title.replace('\u{202f}', " "));
        HeatView {
            facts: facts(result, reference_c, max_ambient_c),
            drawing: HeatChart::of(&subject, result, steady_min).map(|chart| Drawing {
                id: format!("{id}-chart"),
                title: word("heat-chart").to_owned(),
                svg: chart.both(&format!("{id}-chart")),
                table: chart.table(),
            }),
            comfort: result.rows.iter().find(|r| r.comfort).map(comfort),
            rows: result.rows.iter().map(touch_row).collect(),
            remark: result.remark.clone(),
            id,
            title,
        }
    }
}

fn touch_row(row: &TouchResult) -> TouchRowView {
    TouchRowView {
        duration: row.duration.clone(),
        usual: row.usual,
        comfort: row.comfort,
        class: row.class.clone(),
        ts1: FigureRow::of(&row.ts1),
        ts2: FigureRow::of(&row.ts2),
    }
}

fn comfort(row: &TouchResult) -> String {
    let text = if row.ts1.result.is_within() {
        t("heat-not-above")
    } else {
        t("heat-above")
    };
    let limit = format::with_unit(format::plain(row.ts1.limit), "°C");
    text.with("limit", limit)
        .with("duration", &row.duration)
        .to_string()
}

fn facts(result: &HeatResult, reference_c: f64, max_ambient_c: Option<f64>) -> Vec<Fact> {
    let mut facts = Vec::new();
    let mut add = |label, text: Option<String>| {
        if let Some(text) = text {
            facts.push(Fact::new(label, text));
        }
    };
    let celsius = |c: f64| format::with_unit(format::fixed(c, 1), "°C");
    let minutes = |m: f64| format::with_unit(format::plain(m), "min");
    let last = result.readings.last();
    add(
        word("heat-last"),
        last.map(|r| {
            let text = match (r.minutes, r.ambient_c) {
                (Some(m), Some(a)) => t("heat-reading.after-at")
                    .with("minutes", minutes(m))
                    .with("ambient", celsius(a)),
                (Some(m), None) => t("heat-reading.after").with("minutes", minutes(m)),
                (None, Some(a)) => t("heat-reading.at").with("ambient", celsius(a)),
                (None, None) => t("heat-reading.bare"),
            };
            text.with("temperature", celsius(r.temperature_c))
                .to_string()
        }),
    );
    add(
        word("heat-highest"),
        result.peak.as_ref().and_then(|r| {
            let rise = r.temperature_c - r.ambient_c?;
            let text = match r.minutes {
                Some(m) => t("heat-peak.after").with("minutes", minutes(m)),
                None => t("heat-peak.bare"),
            };
            Some(
                text.with("temperature", celsius(r.temperature_c))
                    .with("rise", format::with_unit(format::fixed(rise, 1), "K"))
                    .to_string(),
            )
        }),
    );
    let state = match result.state {
        HeatState::Steady => word("heat-steady.reached"),
        HeatState::Extrapolated => word("heat-steady.extrapolated"),
        HeatState::Changing => word("heat-steady.changing"),
        HeatState::Unknown => word("label-unknown"),
    };
    facts.push(Fact::new(word("heat-steady"), format!("{state}:")).explained(&result.state_why));
    let mut add = |label, text: Option<String>| {
        if let Some(text) = text {
            facts.push(Fact::new(label, text));
        }
    };
    add(
        word("heat-fit"),
        result.fit.as_ref().map(|fit| {
            let u = fit.coverage_factor * fit.final_rise_u;
            t("heat-fit.text")
                .with("rise", plus_minus(fit.final_rise_k, Some(u), "K"))
                .with("k", format::fixed(fit.coverage_factor, 2))
                .with(
                    "time",
                    format::with_unit(format::significant(fit.time_constant_min, 3), "min"),
                )
                .with(
                    "residual",
                    format::with_unit(format::significant(fit.rms_residual_k, 2), "K"),
                )
                .to_string()
        }),
    );
    add(
        word("heat-final"),
        (result.state == HeatState::Extrapolated).then(|| {
            t("heat-final.text")
                .with("temperature", celsius(result.temperature_c))
                .to_string()
        }),
    );
    add(
        word("heat-rise"),
        result
            .rise_k
            .map(|k| format::with_unit(format::fixed(k, 1), "K")),
    );
    add(
        word("heat-reference"),
        result.at_reference_c.map(|c| {
            let shown = plus_minus(c, result.at_reference_u.map(|u| 2.0 * u), "°C");
            // Of the peak it would be the uncertainty of something else.
            let known = result.compared_u.filter(|_| result.peak.is_none());
            let shown = match (result.at_reference_u, known) {
                (Some(_), _) => shown,
                (None, Some(u)) => t("heat-reference.fit-alone")
                    .with("temperature", plus_minus(c, Some(2.0 * u), "°C"))
                    .to_string(),
                (None, None) => t("heat-reference.unknown")
                    .with("temperature", celsius(c))
                    .to_string(),
            };
            if (reference_c - 25.0).abs() < 1e-9 {
                shown
            } else {
                t("heat-reference.brought")
                    .with("temperature", shown)
                    .with("reference", celsius(reference_c))
                    .to_string()
            }
        }),
    );
    add(
        word("heat-max"),
        result.at_max_ambient_c.zip(max_ambient_c).map(|(c, max)| {
            t("heat-max.text")
                .with("temperature", celsius(c))
                .with("ambient", format::with_unit(format::plain(max), "°C"))
                .to_string()
        }),
    );
    add(
        word("heat-material"),
        Some(if result.material_noted {
            material(result.material).to_owned()
        } else {
            t("heat-material.assumed")
                .with("material", material(result.material))
                .to_string()
        }),
    );
    facts
}

/// A material that the figures tell apart.
pub fn material(material: TouchMaterial) -> &'static str {
    match material {
        TouchMaterial::Metal => word("material-metal"),
        TouchMaterial::GlassPorcelain => word("heat-glass"),
        TouchMaterial::PlasticRubber => word("heat-plastic"),
        TouchMaterial::Wood => word("material-wood"),
    }
}

/// Headings of [`HeatSection::recorded`].
pub fn recorded_columns() -> [&'static str; 8] {
    [
        word("chart-load-column"),
        word("heat-after"),
        word("run-ambient"),
        word("heat-surface"),
        word("heat-hot-spot"),
        word("heat-rise"),
        word("heat-material"),
        word("heat-where"),
    ]
}

fn recorded(record: &Record) -> Vec<Vec<Option<String>>> {
    let celsius = |c: f64| format::with_unit(format::fixed(c, 1), "°C");
    record
        .temperatures
        .iter()
        .map(|t| {
            vec![
                t.load_w.map(format::rated_watts),
                t.minutes
                    .map(|m| format::with_unit(format::plain(m), "min")),
                t.ambient_c.map(celsius),
                t.surface_c.map(celsius),
                t.hot_spot_c.map(celsius),
                t.hot_spot_c
                    .or(t.surface_c)
                    .zip(t.ambient_c)
                    .map(|(hot, ambient)| format::with_unit(format::fixed(hot - ambient, 1), "K")),
                t.material.map(|m| format::material(m).to_owned()),
                t.place.clone(),
            ]
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{bench::decode::decode, evaluate::evaluate};
    use serde_json::{Value, json};

    fn section(temperatures: Value) -> HeatSection {
        let document = json!({
            "format": "brickbook-record/1",
            "unit": {"maker": "Larkfield", "model": "LF",
                "nameplate": {"output_power_w": 60, "max_ambient_c": 40}},
            "instruments": [{"quantity": "temperature_c", "fixed": 1.0}],
            "temperatures": temperatures,
        });
        let record = decode(&document.to_string()).unwrap();
        let method = Method::standard();
        let evaluation = evaluate(&record, &method);
        HeatSection::of("Larkfield LF", &record, &evaluation, &method)
    }

    fn warming(minutes: &[f64], material: &str) -> Value {
        minutes
            .iter()
            .map(|&t| {
                let c = 24.0 + 40.0 * (1.0 - (-t / 15.0).exp());
                json!({"load_w": 60, "minutes": t, "ambient_c": 24.0, "material": material,
                    "surface_c": (c * 10.0).round() / 10.0, "where": "top face"})
            })
            .collect()
    }

    fn fact(view: &HeatView, label: &str) -> Option<String> {
        view.facts
            .iter()
            .find(|f| f.label == label)
            .map(|f| f.words().replace('\u{202f}', " "))
    }

    #[test]
    fn a_steady_course_is_drawn_and_compared_row_by_row() {
        let times: Vec<f64> = (0..10).map(|i| f64::from(i) * 10.0).collect();
        let section = section(warming(&times, "plastic"));
        let view = &section.series[0];
        assert_eq!(
            view.title.replace('\u{202f}', " "),
            "Surface, top face, at 60 W"
        );
        assert!(fact(view, "Steady state").unwrap().starts_with("reached"));
        assert!(
            fact(view, "At 25 °C ambient")
                .unwrap()
                .starts_with("(64.9 ± ")
        );
        assert_eq!(view.rows.len(), 4);
        assert!(
            view.rows
                .iter()
                .any(|r| r.usual && r.ts1.mark.word == "within the figure")
        );
        let comfort = view.comfort.as_deref().unwrap();
        assert!(
            comfort.starts_with("Above the line of comfort of 48\u{202f}°C"),
            "{comfort}"
        );
        assert_eq!(view.drawing.as_ref().unwrap().table.rows.len(), 10);
    }

    #[test]
    fn a_warming_cut_short_shows_where_it_leads_with_its_uncertainty() {
        let section = section(warming(&[0.0, 4.0, 8.0, 12.0, 16.0, 20.0, 24.0], "metal"));
        let view = &section.series[0];
        assert!(
            fact(view, "Steady state")
                .unwrap()
                .starts_with("not reached, extrapolated")
        );
        assert!(fact(view, "First-order fit").unwrap().contains(" ± "));
        assert!(
            fact(view, "Final temperature")
                .unwrap()
                .contains("by the fit")
        );
        assert!(
            view.rows
                .iter()
                .any(|r| r.usual && !r.ts1.mark.word.starts_with("within the figure,"))
        );
        let table = &view.drawing.as_ref().unwrap().table;
        assert_eq!(table.rows.last().unwrap()[0], "Final value by the fit");
    }

    #[test]
    fn a_peak_that_fell_again_is_named_beside_where_it_settled() {
        let at =
            |t: f64, c: f64| json!({"load_w": 60, "minutes": t, "ambient_c": 24, "surface_c": c});
        let section = section(json!([
            at(0.0, 95.0),
            at(10.0, 92.0),
            at(20.0, 60.0),
            at(30.0, 60.0)
        ]));
        let view = &section.series[0];
        assert_eq!(
            fact(view, "Highest reading").unwrap(),
            "95.0 °C after 0 min, 71.0 K over the ambient"
        );
        assert!(
            fact(view, "At 25 °C ambient")
                .unwrap()
                .starts_with("(61.0 ± ")
        );
        assert!(
            view.remark
                .as_deref()
                .unwrap()
                .contains("the load may have dropped")
        );
        assert!(
            view.rows
                .iter()
                .all(|r| r.ts1.mark.word.starts_with("outside"))
        );
    }

    #[test]
    fn one_reading_has_no_course_and_no_comparison() {
        let section =
            section(json!([{"load_w": 60, "minutes": 45, "ambient_c": 24, "surface_c": 45}]));
        let view = &section.series[0];
        assert!(view.drawing.is_none() && view.rows.is_empty());
        assert_eq!(view.remark.as_deref(), Some("not settled: no comparison"));
        assert_eq!(
            fact(view, "Material").unwrap(),
            "not noted, taken as plastic or rubber"
        );
        assert_eq!(section.recorded.len(), 1);
    }
}
