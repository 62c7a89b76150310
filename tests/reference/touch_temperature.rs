//! `cases/touch_temperature.csv`: surface temperatures brought to 25 °C and compared, calculated in
//! the standards notes from IEC 62368-1 Table 38.

use brickbook::evaluate::heat::touch_rows;
use brickbook::standards::Standards;
use brickbook::standards::touch_temperature::{TouchMaterial, TouchTemperature};
use serde::Deserialize;

#[derive(Deserialize)]
struct Case {
    t_case_c: f64,
    t_ambient_c: f64,
    material: TouchMaterial,
    row: String,
    t_at_25_c: f64,
    ts1_limit_c: f64,
    ts2_limit_c: f64,
    class: String,
    margin_to_ts1_k: f64,
    t_at_tma_40_c: f64,
}

#[test]
fn every_case_has_its_class_and_margin() {
    let cases: Vec<Case> =
        csv::Reader::from_reader(include_str!("cases/touch_temperature.csv").as_bytes())
            .deserialize()
            .collect::<Result<_, _>>()
            .expect("the case file is well-formed");
    assert_eq!(cases.len(), 8, "the whole file is read");
    let table = Standards::embedded().touch_temperature;
    let near = |a: f64, b: f64| (a - b).abs() < 1e-9;
    for case in cases {
        let at = |ambient| TouchTemperature::shifted(case.t_case_c, case.t_ambient_c, ambient);
        let what = format!("{} at {}", case.t_case_c, case.t_ambient_c);
        assert!(
            near(at(table.reference_ambient_c), case.t_at_25_c),
            "{what}"
        );
        assert!(near(at(40.0), case.t_at_tma_40_c), "{what}");
        let rows = touch_rows(case.t_at_25_c, None, case.material, &table);
        let row = rows.iter().find(|r| r.row == case.row).expect(&case.row);
        assert_eq!(row.class, case.class, "{what}");
        assert_eq!(row.ts1.limit, case.ts1_limit_c, "{what}");
        assert_eq!(row.ts2.limit, case.ts2_limit_c, "{what}");
        assert!(near(row.ts1.margin, case.margin_to_ts1_k), "{what}");
        assert_eq!(row.ts1.result.is_within(), case.class == "TS1", "{what}");
    }
}
