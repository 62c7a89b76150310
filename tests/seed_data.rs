//! The files of `seed-data/` are what the model invents, byte for byte, and every kind of unit and
//! flaw that they promise is really found by the evaluation.
//!
//! `BRICKBOOK_WRITE_SEED_DATA=1 cargo test --test seed_data` writes the files anew.

use brickbook::bench::decode::decode;
use brickbook::bench::record::{Category, OtherPorts, OtherQuantity, Protection, Record, Recovery};
use brickbook::demo;
use brickbook::evaluate::evaluation::{LabelOutcome, Outcome, Requirement};
use brickbook::evaluate::heat::HeatState;
use brickbook::evaluate::overload::OverloadResult;
use brickbook::evaluate::{Evaluation, Evidence, Logs, Method, evaluate_with};
use brickbook::standards::touch_temperature::TouchMaterial;
use brickbook::storage::log_files::LogFolder;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("seed-data")
}

/// File name by document, for the whole collection.
fn documents() -> BTreeMap<String, String> {
    demo::collection()
        .iter()
        .map(|record| (demo::file_name(record), document(record)))
        .collect()
}

fn document(record: &Record) -> String {
    let mut text = serde_json::to_string_pretty(record).expect("a record is JSON");
    text.push('\n');
    text
}

fn files() -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder())
        .expect("seed-data is there")
        .map(|entry| {
            entry
                .expect("readable")
                .file_name()
                .to_string_lossy()
                .into_owned()
        })
        .filter(|name| name.ends_with(".json"))
        .collect();
    names.sort();
    names
}

#[test]
fn the_seed_data_is_what_the_model_invents() {
    let wanted = documents();
    if std::env::var_os("BRICKBOOK_WRITE_SEED_DATA").is_some_and(|v| v == "1") {
        for name in files() {
            fs::remove_file(folder().join(name)).expect("an old file can be removed");
        }
        for (name, text) in &wanted {
            fs::write(folder().join(name), text).expect("seed-data can be written");
        }
    }
    assert_eq!(files(), wanted.keys().cloned().collect::<Vec<_>>());
    for (name, text) in wanted {
        let found = fs::read_to_string(folder().join(&name)).expect("readable");
        assert!(found == text, "{name} differs from what the model invents");
    }
}

#[test]
fn the_logs_of_the_seed_data_are_what_the_model_invents() {
    let wanted: BTreeMap<String, Vec<u8>> = demo::collection_logs()
        .into_iter()
        .map(|log| (log.name, log.bytes))
        .collect();
    let place = folder().join("logs");
    if std::env::var_os("BRICKBOOK_WRITE_SEED_DATA").is_some_and(|v| v == "1") {
        fs::remove_dir_all(&place).ok();
        fs::create_dir_all(&place).expect("seed-data can be written");
        for (name, bytes) in &wanted {
            fs::write(place.join(name), bytes).expect("seed-data can be written");
        }
    }
    let found: BTreeMap<String, Vec<u8>> = fs::read_dir(&place)
        .expect("seed-data/logs is there")
        .map(|entry| {
            let entry = entry.expect("readable");
            let bytes = fs::read(entry.path()).expect("readable");
            (entry.file_name().to_string_lossy().into_owned(), bytes)
        })
        .collect();
    assert!(found.keys().eq(wanted.keys()), "{:?}", found.keys());
    for (name, bytes) in wanted {
        assert!(
            found[&name] == bytes,
            "{name} differs from what the model invents"
        );
    }
}

#[test]
fn the_drawings_of_the_seed_data_are_what_the_model_draws_and_small() {
    let wanted: BTreeMap<String, Vec<u8>> = demo::collection_photos()
        .into_iter()
        .map(|photo| (photo.name, photo.kept.jpeg))
        .collect();
    let place = folder().join("photos");
    if std::env::var_os("BRICKBOOK_WRITE_SEED_DATA").is_some_and(|v| v == "1") {
        fs::remove_dir_all(&place).ok();
        fs::create_dir_all(&place).expect("seed-data can be written");
        for (name, bytes) in &wanted {
            fs::write(place.join(name), bytes).expect("seed-data can be written");
        }
    }
    let found: BTreeMap<String, Vec<u8>> = fs::read_dir(&place)
        .expect("seed-data/photos is there")
        .map(|entry| {
            let entry = entry.expect("readable");
            let bytes = fs::read(entry.path()).expect("readable");
            (entry.file_name().to_string_lossy().into_owned(), bytes)
        })
        .collect();
    assert!(found.keys().eq(wanted.keys()), "{:?}", found.keys());
    for (name, bytes) in wanted {
        assert!(
            found[&name] == bytes,
            "{name} differs from what the model draws"
        );
        assert!(bytes.len() < 40_000, "{name} has {} bytes", bytes.len());
    }
}

#[test]
fn every_photo_that_a_seed_record_names_is_a_drawing_that_is_there_and_says_so() {
    let drawn = demo::collection_photos();
    let mut units = 0;
    for record in demo::collection() {
        units += usize::from(!record.photos.is_empty());
        for photo in record.photos {
            let caption = photo.caption.unwrap_or_default();
            assert!(caption.contains("invented drawing"), "{caption}");
            let made = drawn.iter().find(|made| made.kept.sha256() == photo.sha256);
            let kept = &made.expect("it is drawn").kept;
            let size = (photo.width_px, photo.height_px);
            assert_eq!((kept.width_px, kept.height_px), size);
        }
    }
    assert!((10..=12).contains(&units), "{units}");
}

#[test]
fn every_log_that_a_seed_record_names_is_there_by_its_hash() {
    let logs = LogFolder::open(&folder().join("logs")).expect("seed-data/logs is there");
    let mut named = 0;
    for log in demo::collection().iter().flat_map(|r| &r.logs) {
        assert!(logs.open(&log.sha256).unwrap().is_some(), "{}", log.name);
        named += 1;
    }
    assert!(named >= 10, "{named}");
}

#[test]
fn every_record_says_that_it_is_invented() {
    for record in demo::collection() {
        let notes = record.notes.expect("a seed record has notes");
        assert!(
            notes.contains("Invented for demonstration"),
            "{}",
            record.unit.model
        );
    }
}

/// A record of the collection with what the evaluation says of it.
struct Judged {
    record: Record,
    evaluation: Evaluation,
}

impl Judged {
    fn of(record: Record) -> Judged {
        static METHOD: LazyLock<Method> = LazyLock::new(Method::standard);
        let record = decode(&document(&record))
            .unwrap_or_else(|problems| panic!("{} is refused: {problems:?}", record.unit.model));
        static LOGS: LazyLock<LogFolder> =
            LazyLock::new(|| LogFolder::open(&folder().join("logs")).expect("the logs are there"));
        let evidence = Evidence::gather(&record, &*LOGS, &METHOD);
        let evaluation = evaluate_with(&record, &evidence, &METHOD);
        Judged { record, evaluation }
    }

    fn name(&self) -> String {
        format!("{} {}", self.record.unit.maker, self.record.unit.model)
    }

    /// The deciding verdicts on a requirement of a regime.
    fn results(&self, regime: &str, requirement: Requirement) -> Vec<Outcome> {
        self.evaluation
            .verdicts
            .iter()
            .filter(|v| v.regime == regime && v.requirement == requirement && v.decides)
            .map(|v| v.result)
            .collect()
    }

    fn regime(&self, id: &str) -> Outcome {
        let found = self.evaluation.regimes.iter().find(|r| r.regime == id);
        found.expect("the regime is listed").result
    }

    fn contradicts(&self, check: &str) -> bool {
        self.evaluation
            .label_checks
            .iter()
            .any(|c| c.check == check && c.result == LabelOutcome::Contradicts)
    }

    fn term(&self, term: &str) -> Option<f64> {
        self.evaluation
            .score
            .terms
            .iter()
            .find(|t| t.term == term)?
            .points
    }

    fn full_load_power_factor(&self) -> f64 {
        let point = &self.evaluation.runs[0].points[0];
        assert_eq!(point.load_percent, 100.0);
        point.power_factor.expect("measured")
    }
}

fn collection() -> Vec<Judged> {
    demo::collection().into_iter().map(Judged::of).collect()
}

fn unit(model: &str) -> Judged {
    let record = demo::collection()
        .into_iter()
        .find(|r| r.unit.model == model);
    Judged::of(record.unwrap_or_else(|| panic!("no {model} in the collection")))
}

#[test]
fn every_record_is_accepted_and_kept_as_it_is() {
    for record in demo::collection() {
        assert_eq!(Judged::of(record.clone()).record, record);
    }
}

#[test]
fn every_wattage_class_has_at_least_six_units() {
    let units = collection();
    for class in &Method::standard().classes {
        let within = units.iter().filter(|u| u.evaluation.class.id == class.id);
        let several = within
            .clone()
            .filter(|u| u.record.unit.ports.len() > 1)
            .count();
        assert!(within.count() >= 6, "{}", class.label);
        assert!(
            several >= 1,
            "{} has no unit with several ports",
            class.label
        );
    }
    assert!(units.len() >= 64);
}

#[test]
fn average_efficiencies_are_plausible() {
    for unit in collection() {
        for run in &unit.evaluation.runs {
            if let Some(average) = run.average_efficiency {
                assert!(
                    (0.65..0.96).contains(&average),
                    "{} {}: {average}",
                    unit.name(),
                    run.name
                );
            }
        }
    }
}

#[test]
fn only_the_flawed_units_bring_warnings() {
    let flawed = ["IB-65C", "IB-240C", "PF-45C", "GS-60CA", "BH-65C"];
    for unit in collection() {
        let expected = flawed.contains(&unit.record.unit.model.as_str());
        let warnings = &unit.evaluation.warnings;
        assert_eq!(
            !warnings.is_empty(),
            expected,
            "{}: {warnings:?}",
            unit.name()
        );
    }
}

#[test]
fn ordinary_invented_units_are_accepted_without_a_warning() {
    for index in 0..300 {
        let unit = Judged::of(demo::invent(20_261_125, index));
        assert!(
            unit.evaluation.warnings.is_empty(),
            "{}: {:?}",
            unit.name(),
            unit.evaluation.warnings
        );
        assert!(!unit.evaluation.score.provisional, "{}", unit.name());
    }
}

#[test]
fn a_hundred_watts_without_correction_show_in_the_line_current() {
    let (plain, corrected) = (unit("WX-100C"), unit("CT-100 Nano"));
    assert!(plain.full_load_power_factor() < 0.65);
    assert!(corrected.full_load_power_factor() > 0.95);
    assert!(plain.term("line-current") < Some(10.0));
    assert!(corrected.term("line-current") > plain.term("line-current"));
}

#[test]
fn an_idle_reading_clearly_over_the_limit_fails() {
    let results = unit("DM-20 Travel").results("us_doe_level_vi", Requirement::NoLoad);
    assert_eq!(results, [Outcome::Fail]);
}

#[test]
fn an_idle_reading_within_its_uncertainty_of_the_limit_passes_or_fails_on_condition() {
    let idle = |model| unit(model).results("us_doe_level_vi", Requirement::NoLoad);
    assert_eq!(idle("QM-12A"), [Outcome::ConditionalPass]);
    assert_eq!(idle("HK-100C"), [Outcome::ConditionalPass]);
    assert_eq!(idle("PF-12A"), [Outcome::ConditionalFail]);
}

#[test]
fn a_mark_that_is_not_met_is_told() {
    let unit = unit("WX-40C");
    assert_eq!(
        unit.record.unit.nameplate.efficiency_mark.as_deref(),
        Some("VI")
    );
    assert!(unit.contradicts("efficiency-mark"));
    assert_eq!(unit.regime("us_doe_level_vi"), Outcome::Fail);
}

#[test]
fn a_port_that_gives_up_at_full_load_gets_nothing_for_delivery_in_that_run() {
    for model in ["IB-65C", "IB-240C"] {
        let unit = unit(model);
        let terms = &unit.evaluation.score.terms;
        let delivery = terms.iter().find(|t| t.term == "delivery").expect("listed");
        let highest = unit.evaluation.runs[0].name.as_str();
        let run = delivery
            .runs
            .iter()
            .find(|r| r.run.as_deref() == Some(highest));
        assert_eq!(run.expect("the run counts").points, 0.0, "{model}");
    }
}

#[test]
fn a_missing_voltage_breaks_the_source_power_rules() {
    let unit = unit("PF-45C");
    assert!(unit.contradicts("pd-power-rules"));
    assert!(
        unit.evaluation
            .label_checks
            .iter()
            .any(|c| c.message.contains("15 V is missing"))
    );
}

#[test]
fn a_port_above_the_total_is_told() {
    assert!(unit("GS-60CA").contradicts("port-power"));
}

#[test]
fn an_unfinished_record_is_incomplete_and_its_score_provisional() {
    let unit = unit("BH-65C");
    assert_eq!(unit.regime("us_doe_level_vi"), Outcome::Incomplete);
    assert!(unit.evaluation.score.provisional && unit.evaluation.score.coverage < 0.8);
}

#[test]
fn meters_of_unknown_accuracy_leave_the_uncertainty_unknown() {
    let unit = unit("YB-65C");
    assert!(unit.record.instruments.is_empty());
    let decided = unit
        .evaluation
        .verdicts
        .iter()
        .filter(|v| v.measured.is_some());
    assert!(decided.clone().count() > 0);
    assert!(
        decided
            .into_iter()
            .all(|v| v.expanded_uncertainty.is_none())
    );
}

#[test]
fn a_five_volt_port_is_judged_as_low_voltage_and_at_one_voltage() {
    let unit = unit("WX-5A");
    assert!(
        unit.evaluation
            .runs
            .iter()
            .all(|r| r.category == Category::Low)
    );
    assert!(!unit.record.unit.is_adaptive());
    assert_ne!(unit.regime("us_doe_level_vi"), Outcome::Incomplete);
}

#[test]
fn the_extended_range_is_there_to_its_top_voltage() {
    let top = |model| {
        let runs = unit(model).evaluation.runs;
        runs.iter()
            .filter_map(|r| r.rated_voltage_v)
            .fold(0.0, f64::max)
    };
    assert_eq!(top("LF-140C"), 28.0);
    assert_eq!(top("LF-240C"), 48.0);
}

#[test]
fn shared_ports_are_seen_to_hold_reset_and_be_lost() {
    let seen: Vec<OtherPorts> = demo::collection()
        .iter()
        .flat_map(|r| r.sharing.iter().filter_map(|s| s.on_attach))
        .collect();
    for wanted in [OtherPorts::Held, OtherPorts::Reset, OtherPorts::Lost] {
        assert!(seen.contains(&wanted), "{wanted:?}");
    }
}

#[test]
fn overloads_end_in_every_way_and_one_port_trips_below_its_rating() {
    let overloads: Vec<_> = demo::collection()
        .into_iter()
        .flat_map(|r| r.overloads)
        .collect();
    for wanted in [Recovery::Auto, Recovery::Replug, Recovery::Mains] {
        assert!(
            overloads.iter().any(|o| o.recovery == Some(wanted)),
            "{wanted:?}"
        );
    }
    let below = overloads.iter().filter(|o| {
        o.trip_current_a
            .zip(o.rated_current_a)
            .is_some_and(|(trip, rated)| trip < rated)
    });
    assert_eq!(below.count(), 1);
}

#[test]
fn some_units_run_hot() {
    let hot = unit("DM-65 Travel");
    let heat = hot.record.temperatures.last().expect("measured");
    let rise_k = heat.hot_spot_c.expect("measured") - heat.ambient_c.expect("measured");
    assert!(rise_k > 60.0, "{rise_k}");
    assert!(hot.term("surface") < Some(50.0));
    let cool = collection()
        .iter()
        .filter(|u| u.term("surface") > Some(50.0))
        .count();
    assert!(cool > 20, "{cool}");
}

#[test]
fn one_model_is_there_in_two_samples() {
    let records = demo::collection();
    let samples: Vec<_> = records
        .iter()
        .filter(|r| r.unit.model == "LF-30C")
        .collect();
    assert_eq!(samples.len(), 2);
    assert_eq!(samples[0].unit.model_key(), samples[1].unit.model_key());
    assert_ne!(
        samples[0].unit.identity_key(),
        samples[1].unit.identity_key()
    );
}

#[test]
fn most_units_meet_the_rules_and_some_do_not() {
    let units = collection();
    let count = |outcome| {
        units
            .iter()
            .filter(|u| u.regime("us_doe_level_vi") == outcome)
            .count()
    };
    assert!(
        count(Outcome::Pass) * 2 > units.len(),
        "{} pass",
        count(Outcome::Pass)
    );
    assert!(count(Outcome::Fail) >= 5, "{} fail", count(Outcome::Fail));
}

#[test]
fn capability_lists_are_there_with_the_faults_that_a_bench_finds() {
    let units = collection();
    let listed = units
        .iter()
        .filter(|u| u.evaluation.ports.iter().any(|p| !p.advertised.is_empty()));
    let listed = listed.count();
    assert!(listed > 25 && listed < units.len() - 15, "{listed}");
    let found = |model: &str, subject: &str, words: &str| {
        let unit = unit(model);
        assert!(
            unit.evaluation.ports[0]
                .findings
                .iter()
                .any(|f| f.subject == subject && f.message.contains(words)),
            "{model}: {:?}",
            unit.evaluation.ports[0].findings
        );
    };
    found("PF-45C", "power-rules", "15 V is missing");
    found("GS-45CC", "list", "should stand before");
    found("OD-33C", "pps", "not 9V Prog");
    found("IB-100CCA", "power-rules", "20 V with 3.75 A");
    found("CT-320 Desk", "rating", "the standard range alone");
    found("LF-140C", "power-rules", "offers what a 140 W source must");
    let extended = unit("LF-240C").evaluation.ports.remove(0).advertised;
    assert!(
        extended
            .iter()
            .any(|o| o.kind == "epr-avs" && o.position > 8)
    );
}

#[test]
fn combinations_show_groups_open_questions_and_contradictions() {
    let sharing = |model| unit(model).evaluation.sharing.expect("observed");
    let groups = |model| -> Vec<Vec<String>> {
        let found = sharing(model);
        assert!(found.settled, "{model}");
        found.groups.into_iter().map(|g| g.ports).collect()
    };
    assert_eq!(groups("UF-400 Bank"), [["C1", "C3"], ["C2", "C4"]]);
    assert_eq!(groups("QM-200CCAA"), [["C1", "A1"], ["C2", "A2"]]);
    assert_eq!(groups("UF-24AA"), [["A1"], ["A2"]]);
    assert!(!sharing("TW-280 Dock").settled);
    let kinds = |model| -> Vec<String> {
        let found = sharing(model).contradictions;
        found.into_iter().map(|c| c.kind).collect()
    };
    assert!(kinds("LF-100Q").contains(&"label".to_owned()));
    assert!(kinds("YB-140CCA").contains(&"repeat".to_owned()));
    assert!(kinds("GS-60CA").contains(&"nameplate".to_owned()));
    assert!(unit("DM-120 Desk").evaluation.sharing.is_none());
}

#[test]
fn every_kind_of_protection_is_there_and_one_port_lets_go_inside_its_rating() {
    let overloads: Vec<_> = collection()
        .into_iter()
        .flat_map(|u| u.evaluation.overloads)
        .collect();
    for wanted in [
        Protection::ShutOff,
        Protection::Hiccup,
        Protection::Foldback,
        Protection::ConstantCurrent,
    ] {
        assert!(
            overloads.iter().any(|o| o.protection == Some(wanted)),
            "{wanted:?}"
        );
    }
    let latched = |o: &&OverloadResult| {
        o.protection == Some(Protection::ShutOff) && o.recovery.as_deref() == Some("mains")
    };
    assert!(overloads.iter().any(|o| latched(&o)));
    let failed: Vec<_> = overloads
        .iter()
        .filter(|o| matches!(o.delivery, Outcome::Fail | Outcome::ConditionalFail))
        .collect();
    assert_eq!(failed.len(), 1);
    assert!(failed[0].delivery_reason.contains("inside its rating"));
    assert!(overloads.iter().all(|o| o.contradictions.is_empty()));
    assert!(overloads.iter().any(|o| o.protection.is_none()));
}

#[test]
fn temperatures_are_followed_extrapolated_and_cut_short() {
    let units = collection();
    let heat = || units.iter().flat_map(|u| &u.evaluation.heat);
    for wanted in [
        HeatState::Steady,
        HeatState::Extrapolated,
        HeatState::Changing,
        HeatState::Unknown,
    ] {
        assert!(heat().any(|h| h.state == wanted), "{wanted:?}");
    }
    assert!(heat().any(|h| h.material == TouchMaterial::Metal && h.readings.len() > 5));
    let hot = unit("DM-65 Travel");
    let usual = hot.evaluation.heat[0].rows.iter().find(|r| r.usual);
    assert_eq!(usual.map(|r| r.class.as_str()), Some("TS3"));
}

#[test]
fn other_readings_keep_to_what_the_physics_allows_and_leave_gaps() {
    let units = collection();
    let with = units
        .iter()
        .filter(|u| !u.record.measurements.is_empty())
        .count();
    assert!(with > 30 && with < units.len() - 15, "{with}");
    for unit in &units {
        for m in &unit.record.measurements {
            let plausible = match m.quantity {
                OtherQuantity::RippleMv => 15.0..260.0,
                OtherQuantity::LoadRegulationPercent => 0.1..6.0,
                OtherQuantity::LineRegulationPercent => 0.0..0.2,
                OtherQuantity::TurnOnDelayMs => 150.0..1000.0,
                OtherQuantity::HoldUpMs => 8.0..120.0,
                OtherQuantity::InrushA => 5.0..75.0,
                OtherQuantity::TouchCurrentUa => 10.0..200.0,
                OtherQuantity::AcousticNoiseDba => 10.0..60.0,
            };
            assert!(plausible.contains(&m.value), "{}: {m:?}", unit.name());
        }
    }
    assert!(units.iter().any(|u| u.record.unit.cord.is_some()));
}
