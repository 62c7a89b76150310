//! Where the rows of a plan stand on the bench form: what the tester has typed already is found and
//! used, what is missing gets a row. Taking a plan twice adds nothing; readings are never touched.

use super::bench_form::number_at;
use crate::{
    bench::record::{Line, RatedOutput},
    evaluate::plan::{Plan, PlannedHeat, PlannedLoad, PlannedRun, is_same_condition},
    intake::form::{Fields, PLANNED},
    quantity::written::editable,
    standards::Standards,
};

/// Places on the form, in the order of the plan.
pub struct Rows {
    pub runs: Vec<RunRows>,
    pub overloads: Vec<usize>,
    /// Minutes and row, where the sheet asks for temperatures.
    pub heat: Vec<(f64, usize)>,
}

pub struct RunRows {
    pub run: usize,
    /// For each load its point, and in it the row of each output; no load has neither.
    pub loads: Vec<Option<(usize, Vec<usize>)>>,
}

/// Gives every planned run, load and further item its rows on the form.
pub fn take(fields: &mut Fields, plan: &Plan, standards: &Standards) -> Rows {
    let mut used = Vec::new();
    // Runs that hold readings are found first, so that a blank one is not taken for another's.
    let mut found: Vec<Option<usize>> = plan
        .runs
        .iter()
        .map(|planned| {
            let run = made_under(fields, planned, &used, standards);
            used.extend(run);
            run
        })
        .collect();
    for (planned, place) in plan.runs.iter().zip(&mut found) {
        if place.is_none() {
            let run = blank(fields, planned, &used, standards).unwrap_or(fields.rows("runs"));
            set_up(fields, planned, run);
            used.push(run);
            *place = Some(run);
        }
    }
    let runs = plan
        .runs
        .iter()
        .zip(found)
        .filter_map(|(planned, run)| Some((planned, run?)))
        .map(|(planned, run)| RunRows {
            run,
            loads: planned
                .loads
                .iter()
                .map(|load| {
                    (!load.is_no_load()).then(|| point(fields, planned, load, run, standards))
                })
                .collect(),
        })
        .collect();
    Rows {
        runs,
        overloads: overloads(fields, plan, standards),
        heat: plan
            .heat
            .as_ref()
            .map(|heat| temperatures(fields, heat, standards))
            .unwrap_or_default(),
    }
}

fn text<'a>(fields: &'a Fields, path: &str) -> &'a str {
    fields.text(path).trim()
}

/// The port that a row means: its own, or the unit's only one.
fn port_of(fields: &Fields, path: &str) -> String {
    let own = text(fields, path);
    if own.is_empty() && fields.rows("unit.ports") == 1 {
        text(fields, "unit.ports[0].label").to_owned()
    } else {
        own.to_owned()
    }
}

fn condition(fields: &Fields, run: usize) -> Option<(Line, Vec<RatedOutput>)> {
    let line = line_of(fields, run)?;
    let list = format!("runs[{run}].rated_outputs");
    let outputs = (0..fields.rows(&list))
        .filter_map(|row| {
            Some(RatedOutput {
                port: port_of(fields, &format!("{list}[{row}].port")),
                voltage_v: number_at(fields, &format!("{list}[{row}].voltage_v"))?,
                current_a: number_at(fields, &format!("{list}[{row}].current_a"))?,
            })
        })
        .collect();
    Some((line, outputs))
}

fn line_of(fields: &Fields, run: usize) -> Option<Line> {
    Some(Line {
        voltage_v: number_at(fields, &format!("runs[{run}].line.voltage_v"))?,
        frequency_hz: number_at(fields, &format!("runs[{run}].line.frequency_hz"))?,
    })
}

/// Texts of a run that a form or a plan does not put there by itself.
fn typed(fields: &Fields, run: usize) -> usize {
    fields
        .row("runs", run)
        .iter()
        .filter(|(rest, text)| {
            !text.trim().is_empty()
                && rest != ".name"
                && !rest.starts_with(".line.")
                && !rest.starts_with(".rated_outputs[")
                && !rest.ends_with(".load_percent")
                && !rest.ends_with(".port")
                && rest != ".tested_on"
                && rest != &format!(".{PLANNED}")
        })
        .count()
}

/// The run made under the planned condition; of several the one with the most readings.
fn made_under(
    fields: &Fields,
    planned: &PlannedRun,
    used: &[usize],
    standards: &Standards,
) -> Option<usize> {
    (0..fields.rows("runs"))
        .filter(|run| !used.contains(run))
        .filter(|&run| {
            condition(fields, run).is_some_and(|(line, outputs)| {
                is_same_condition(
                    (line, &outputs),
                    (planned.line, &planned.rated_outputs),
                    standards,
                )
            })
        })
        .reduce(|best, run| {
            if typed(fields, run) > typed(fields, best) {
                run
            } else {
                best
            }
        })
}

/// A run without readings that this planned run may use: one that was made for it under an earlier
/// label, or one of the same supply whose outputs nobody has rated.
fn blank(
    fields: &Fields,
    planned: &PlannedRun,
    used: &[usize],
    standards: &Standards,
) -> Option<usize> {
    let free: Vec<usize> = (0..fields.rows("runs"))
        .filter(|run| !used.contains(run) && typed(fields, *run) == 0)
        .collect();
    let made_for_it = |run: &usize| text(fields, &format!("runs[{run}].{PLANNED}")) == planned.key;
    let is_fresh = |run: &usize| {
        let same_line = line_of(fields, *run)
            .is_some_and(|line| is_same_condition((line, &[]), (planned.line, &[]), standards));
        let list = format!("runs[{run}].rated_outputs");
        let unrated = (0..fields.rows(&list)).all(|row| {
            ["voltage_v", "current_a"]
                .iter()
                .all(|key| text(fields, &format!("{list}[{row}].{key}")).is_empty())
        });
        same_line && unrated
    };
    free.iter()
        .find(|run| made_for_it(run))
        .or_else(|| free.iter().find(|run| is_fresh(run)))
        .copied()
}

/// Gives a run without readings the planned name, supply and outputs.
fn set_up(fields: &mut Fields, planned: &PlannedRun, run: usize) {
    let path = format!("runs[{run}]");
    let taken: Vec<String> = (0..fields.rows("runs"))
        .filter(|other| *other != run)
        .map(|other| text(fields, &format!("runs[{other}].name")).to_owned())
        .collect();
    let mut name = planned.name.clone();
    let mut count = 1;
    while taken.contains(&name) {
        count += 1;
        name = format!("{} ({count})", planned.name);
    }
    fields.set(format!("{path}.name"), name);
    fields.set(format!("{path}.{PLANNED}"), planned.key.clone());
    fields.set(
        format!("{path}.line.voltage_v"),
        editable(planned.line.voltage_v),
    );
    fields.set(
        format!("{path}.line.frequency_hz"),
        editable(planned.line.frequency_hz),
    );
    let list = format!("{path}.rated_outputs");
    for row in (0..fields.rows(&list)).rev() {
        fields.remove_row(&list, row);
    }
    for (row, output) in planned.rated_outputs.iter().enumerate() {
        let at = format!("{list}[{row}]");
        fields.set(format!("{at}.port"), output.port.clone());
        fields.set(format!("{at}.voltage_v"), editable(output.voltage_v));
        fields.set(format!("{at}.current_a"), editable(output.current_a));
    }
}

/// The point of a load: the nearest within the method's tolerance, of equals the last; else a new
/// one. And in it the row of each output.
fn point(
    fields: &mut Fields,
    planned: &PlannedRun,
    load: &PlannedLoad,
    run: usize,
    standards: &Standards,
) -> (usize, Vec<usize>) {
    let rule = &standards.procedure.load_points;
    let tolerance = if load.load_percent == rule.ten_percent {
        rule.ten_percent_tolerance
    } else {
        rule.tolerance_percent
    };
    let list = format!("runs[{run}].points");
    let distance = |fields: &Fields, row: usize| {
        number_at(fields, &format!("{list}[{row}].load_percent"))
            .map_or(f64::INFINITY, |percent| (percent - load.load_percent).abs())
    };
    let nearest = (0..fields.rows(&list))
        .filter(|&row| distance(fields, row) <= tolerance)
        .reduce(|best, row| {
            if distance(fields, row) <= distance(fields, best) {
                row
            } else {
                best
            }
        });
    let row = nearest.unwrap_or_else(|| {
        let row = fields.rows(&list);
        fields.set(
            format!("{list}[{row}].load_percent"),
            editable(load.load_percent),
        );
        row
    });
    let outputs = planned
        .rated_outputs
        .iter()
        .map(|output| output_row(fields, run, row, &output.port))
        .collect();
    (row, outputs)
}

/// The row of a port's readings at a point: one that names the port, else the column of its rated
/// output, else a new one.
fn output_row(fields: &mut Fields, run: usize, point: usize, port: &str) -> usize {
    let list = format!("runs[{run}].points[{point}].outputs");
    let rows = fields.rows(&list);
    if let Some(named) = (0..rows).find(|row| text(fields, &format!("{list}[{row}].port")) == port)
    {
        return named;
    }
    let rated = format!("runs[{run}].rated_outputs");
    let column = (0..fields.rows(&rated))
        .find(|row| port_of(fields, &format!("{rated}[{row}].port")) == port)
        .filter(|row| text(fields, &format!("{list}[{row}].port")).is_empty());
    column.unwrap_or_else(|| {
        fields.set(format!("{list}[{rows}].port"), port);
        rows
    })
}

fn is_near(number: Option<f64>, wanted: f64, percent: f64) -> bool {
    number.is_some_and(|n| (n - wanted).abs() <= wanted.abs() * percent / 100.0 + 1e-9)
}

fn overloads(fields: &mut Fields, plan: &Plan, standards: &Standards) -> Vec<usize> {
    let same = standards.procedure.cross_checks.label_power_percent;
    plan.overloads
        .iter()
        .map(|planned| {
            let rows = fields.rows("overloads");
            let known = (0..rows).find(|row| {
                let at = format!("overloads[{row}]");
                port_of(fields, &format!("{at}.port")) == planned.port
                    && is_near(
                        number_at(fields, &format!("{at}.voltage_v")),
                        planned.voltage_v,
                        same,
                    )
            });
            known.unwrap_or_else(|| {
                let at = format!("overloads[{rows}]");
                fields.set(format!("{at}.port"), planned.port.clone());
                fields.set(format!("{at}.voltage_v"), editable(planned.voltage_v));
                fields.set(
                    format!("{at}.rated_current_a"),
                    editable(planned.rated_current_a),
                );
                rows
            })
        })
        .collect()
}

/// Rows for the temperatures of a load; none where the record has its own course already.
fn temperatures(
    fields: &mut Fields,
    heat: &PlannedHeat,
    standards: &Standards,
) -> Vec<(f64, usize)> {
    let same = standards.procedure.cross_checks.load_percent_of_rated;
    let at_load: Vec<usize> = (0..fields.rows("temperatures"))
        .filter(|row| {
            let load = number_at(fields, &format!("temperatures[{row}].load_w"));
            is_near(load, heat.load_w, same)
        })
        .collect();
    let minutes =
        |fields: &Fields, row: usize| number_at(fields, &format!("temperatures[{row}].minutes"));
    let planned: Vec<(f64, usize)> = heat
        .minutes
        .iter()
        .filter_map(|&(moment, _)| {
            let row = at_load
                .iter()
                .find(|row| is_near(minutes(fields, **row), moment, 0.0))?;
            Some((moment, *row))
        })
        .collect();
    if !planned.is_empty() || !at_load.is_empty() {
        return planned;
    }
    heat.minutes
        .iter()
        .map(|&(moment, _)| {
            let row = fields.rows("temperatures");
            let at = format!("temperatures[{row}]");
            fields.set(format!("{at}.load_w"), editable(heat.load_w));
            fields.set(format!("{at}.minutes"), editable(moment));
            (moment, row)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        bench::decode::decode_value,
        evaluate::{
            Method,
            plan::{Choice, plan},
        },
        intake::form,
        web::entry::bench_form,
    };

    fn label(second_voltage: &str) -> Fields {
        let mut fields = bench_form::offered(None);
        for (path, text) in [
            ("unit.maker", "Larkfield"),
            ("unit.model", "LF-20"),
            ("unit.nameplate.output_power_w", "20 W"),
            ("unit.ports[0].label", "C1"),
            ("unit.ports[0].connector", "usb-c"),
            ("unit.ports[0].modes[0].voltage_v", "5"),
            ("unit.ports[0].modes[0].current_a", "3"),
            ("unit.ports[0].modes[1].kind", "fixed"),
            ("unit.ports[0].modes[1].voltage_v", second_voltage),
            ("unit.ports[0].modes[1].current_a", "1.66"),
        ] {
            fields.set(path, text);
        }
        fields
    }

    fn plan_of(fields: &Fields, method: &Method) -> Plan {
        let document = form::document(fields);
        assert_eq!(document.unreadable, []);
        let record = decode_value(document.value).expect("the label is whole");
        plan(&record, &Choice::standard(method), method)
    }

    fn taken(fields: &mut Fields) -> Rows {
        let method = Method::standard();
        let plan = plan_of(fields, &method);
        take(fields, &plan, &method.standards)
    }

    #[test]
    fn a_fresh_record_takes_the_plan_into_the_runs_that_were_offered() {
        let mut fields = label("9");
        let rows = taken(&mut fields);
        let places: Vec<usize> = rows.runs.iter().map(|r| r.run).collect();
        // 115 V high and low, 230 V high and low; the two offered runs come first.
        assert_eq!(places, [0, 2, 1, 3]);
        assert_eq!(fields.rows("runs"), 4);
        assert_eq!(fields.text("runs[0].rated_outputs[0].voltage_v"), "9");
        assert_eq!(fields.text("runs[2].rated_outputs[0].current_a"), "2");
        assert_eq!(fields.rows("runs[2].points"), 5);
        // Nothing of it is in the document before there is a reading.
        let document = form::document(&fields).value;
        for list in ["runs", "overloads", "temperatures"] {
            assert!(document.get(list).is_none(), "{list}: {document}");
        }
    }

    #[test]
    fn taking_a_plan_twice_adds_nothing() {
        let mut fields = label("9");
        taken(&mut fields);
        fields.set("runs[2].points[0].input.power_w", "11.9");
        let before = fields.clone();
        taken(&mut fields);
        assert_eq!(fields, before);
    }

    #[test]
    fn a_reading_typed_before_is_found_and_stays_where_it_is() {
        let mut fields = label("9");
        fields.set("runs[1].name", "my own name");
        fields.set("runs[1].rated_outputs[0].voltage_v", "9 V");
        fields.set("runs[1].rated_outputs[0].current_a", "1.66");
        fields.set("runs[1].points[1].input.power_w", "13.1");
        let rows = taken(&mut fields);
        // 230 V high is the second supply's first run.
        assert_eq!(rows.runs[2].run, 1);
        assert_eq!(fields.text("runs[1].name"), "my own name");
        assert_eq!(fields.text("runs[1].points[1].input.power_w"), "13.1");
        assert_eq!(rows.runs[2].loads[1].as_ref().map(|l| l.0), Some(1));
    }

    #[test]
    fn a_label_corrected_later_renames_blank_runs_and_leaves_readings_alone() {
        let mut fields = label("9");
        taken(&mut fields);
        fields.set("runs[0].points[0].input.power_w", "17");
        fields.set("unit.ports[0].modes[1].voltage_v", "12");
        let rows = taken(&mut fields);
        // The run with a reading at 9 V stays; 12 V on 115 V gets a run of its own, while the
        // untouched one on 230 V becomes that at 12 V.
        assert_eq!(fields.text("runs[0].rated_outputs[0].voltage_v"), "9");
        assert_eq!(rows.runs[0].run, 4);
        assert_eq!(fields.text("runs[4].rated_outputs[0].voltage_v"), "12");
        assert_eq!(fields.text("runs[1].rated_outputs[0].voltage_v"), "12");
        assert_eq!(fields.rows("runs"), 5);
    }

    #[test]
    fn every_field_that_the_plan_adds_is_one_of_the_form() {
        let mut fields = label("9");
        taken(&mut fields);
        for (path, _) in fields.iter() {
            assert!(form::is_field(path), "{path}");
        }
        for path in [
            "plan.tick.warm-up",
            "plan.regime.us_doe_level_vi",
            "plan.supplies",
        ] {
            assert!(form::is_field(path), "{path}");
        }
        for path in [
            "plan",
            "plan.tick",
            "plan.tick.a b",
            "plan.other",
            "plan.tick.a.b",
        ] {
            assert!(!form::is_field(path), "{path}");
        }
    }
}
