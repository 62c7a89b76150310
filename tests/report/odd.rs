//! Records that strain a page: hardly anything measured, very much, and names of every script.

use crate::app::{TestApp, seed};
use crate::reader::Pdf;
use brickbook::paper::{Block, Column, Document, Paper, Row, Table};
use serde_json::{Value, json};

async fn report_of(record: &Value) -> Pdf {
    let app = TestApp::empty().await;
    let done = app.publish(&record.to_string()).await;
    app.site.refresh().await.unwrap();
    let answer = app.get(&format!("/unit/{}/report.pdf", done.slug)).await;
    assert_eq!(answer.status, 200, "{}", answer.words());
    Pdf::sound(&answer.bytes)
}

fn sample() -> Value {
    serde_json::from_str(&seed("larkfield-lf-65c")).unwrap()
}

#[tokio::test]
async fn a_unit_of_which_hardly_anything_was_measured_has_a_report() {
    let mut record = sample();
    let kept = ["format", "unit", "notes"];
    record
        .as_object_mut()
        .unwrap()
        .retain(|part, _| kept.contains(&part.as_str()));
    record["unit"] = json!({
        "maker": "Nothing",
        "model": "Much",
        "nameplate": {"output_power_w": 20},
    });
    let pdf = report_of(&record).await;
    let words = pdf.words();
    for said in [
        "no score",
        "not measured",
        "No run has been recorded.",
        "no uncertainty is known",
        "No port has been recorded.",
    ] {
        assert!(words.contains(said), "{said}: {words}");
    }
}

#[tokio::test]
async fn names_of_every_script_are_found_in_the_text_and_long_ones_stay_on_the_page() {
    let mut record = sample();
    record["unit"]["maker"] = json!("Łódź Ωμέγα Привет שלום");
    record["unit"]["model"] = json!("充電器 65");
    record["unit"]["sample"] = json!("W".repeat(40));
    let pdf = report_of(&record).await;
    let words = pdf.words();
    for said in [
        "Łódź",
        "Ωμέγα",
        "Привет",
        "充電器",
        "lacks these characters",
    ] {
        assert!(words.contains(said), "{said}");
    }
    assert!(pdf.fact("Title").contains("充電器"));
}

#[tokio::test]
async fn a_run_of_as_many_points_as_a_record_takes_repeats_the_names_of_its_columns() {
    let mut record = sample();
    let point = record["runs"][0]["points"][0].clone();
    let points = (0..60).map(|n| {
        let mut point = point.clone();
        point["load_percent"] = json!(100.0 - f64::from(n) * 1.5);
        point
    });
    record["runs"][0]["points"] = points.collect();
    let pdf = report_of(&record).await;
    let names = |page: &&String| page.contains("Apparent");
    let with_names = pdf.page_texts().iter().filter(names).count();
    assert!(with_names >= 3, "{with_names}");
    assert!(pdf.pages() < 40, "{}", pdf.pages());
}

#[tokio::test]
async fn notes_keep_the_numbers_of_their_lists_and_the_addresses_of_their_links() {
    let mut record = sample();
    record["notes"] = json!(
        "# How\n\n3. warm up\n4. read the [meter](https://meter.example/read)\n\n- loose\n\nSee <https://bench.example/> or [nothing](javascript:x)."
    );
    let words = report_of(&record).await.words();
    for said in [
        "3. warm up",
        "4. read the meter (https://meter.example/read)",
        "• loose",
        "See https://bench.example/ or nothing.",
    ] {
        assert!(words.contains(said), "{said}: {words}");
    }
}

/// A document of one block.
fn document(block: Block) -> Document {
    Document {
        paper: Paper::A4,
        title: "One block".into(),
        author: "Fernhill bench".into(),
        subject: "a block".into(),
        creator: "test".into(),
        made: None,
        head: ("One block".into(), String::new()),
        foot: String::new(),
        mark: None,
        figure_style: String::new(),
        blocks: vec![Block::Heading(1, "One block".into()), block],
    }
}

#[test]
fn a_table_of_two_hundred_rows_has_its_columns_names_on_every_page_and_loses_no_row() {
    let columns = ["Row", "First", "Second", "Third"];
    let table = Table {
        caption: "Two hundred".into(),
        columns: columns.iter().map(|name| Column::numbers(*name)).collect(),
        rows: (1..=200)
            .map(|n| {
                Row::new([
                    format!("row {n}"),
                    format!("{n}.125"),
                    "7".into(),
                    "8".into(),
                ])
            })
            .collect(),
    };
    let pdf = Pdf::sound(&brickbook::paper::pdf(document(Block::Table(table))).unwrap());
    let pages = pdf.page_texts();
    assert!((3..=8).contains(&pages.len()), "{}", pages.len());
    for page in &pages {
        assert!(page.contains("First"), "{page}");
    }
    let words = pdf.words();
    for n in 1..=200 {
        assert!(words.contains(&format!("{n}.125")), "row {n}");
    }
}

#[test]
fn a_table_of_thirty_columns_is_turned_and_keeps_every_cell() {
    let table = Table {
        caption: "Thirty columns".into(),
        columns: (0..30)
            .map(|n| Column::numbers(format!("Col {n}")))
            .collect(),
        rows: (0..5)
            .map(|row| Row::new((0..30).map(|n| format!("{row}.{n:02}"))))
            .collect(),
    };
    let pdf = Pdf::sound(&brickbook::paper::pdf(document(Block::Table(table))).unwrap());
    let words = pdf.words();
    for row in 0..5 {
        for n in 0..30 {
            assert!(words.contains(&format!("{row}.{n:02}")), "{row}.{n:02}");
        }
    }
    assert_eq!(pdf.fact("Page size"), "841.89 x 595.28 pts (A4)");
}

#[test]
fn a_cell_taller_than_a_page_goes_on_on_the_next() {
    let long = "every word of this cell is printed, ".repeat(400);
    let table = Table {
        caption: String::new(),
        columns: vec![Column::words("Name"), Column::words("Text")],
        rows: vec![Row::new(["one", long.as_str()]), Row::new(["two", "short"])],
    };
    let pdf = Pdf::sound(&brickbook::paper::pdf(document(Block::Table(table))).unwrap());
    assert!(pdf.pages() >= 2);
    assert!(pdf.words().matches("printed,").count() == 400);
}

#[tokio::test]
async fn a_note_s_emphasis_and_lists_are_set_and_its_tags_are_not() {
    let mut record = sample();
    record["notes"] = json!(
        "# Odd\n\nIt *whines* at **3 W**, <b>rarely</b>.\n\n- first\n- second `code`\n\n![picture](https://x.example/p.png)\n\nEnd of the note."
    );
    let pdf = report_of(&record).await;
    let words = pdf.words();
    for said in [
        "Odd",
        "It whines at 3 W, rarely.",
        "• first",
        "• second code",
        "End of the note.",
    ] {
        assert!(words.contains(said), "{said}");
    }
    for not in ["**", "<b>", "x.example"] {
        assert!(!words.contains(not), "{not}");
    }
}

#[tokio::test]
async fn a_very_long_note_goes_on_over_pages() {
    let mut record = sample();
    let sentence = "The case grew warm near the prongs, and the hum went away with load. ";
    record["notes"] = json!(sentence.repeat(250));
    let pdf = report_of(&record).await;
    // Between two pages stand the foot of one and the head of the other.
    let mut words = pdf.words();
    for n in 1..=pdf.pages() {
        words = words.replace(&format!("page {n} of {}", pdf.pages()), "");
    }
    for frame in [
        "Measured by us; not a certification. Results relate only to the samples tested.",
        "Test report: Larkfield LF-65C",
        "larkfield-lf-65c, revision 1",
    ] {
        words = words.replace(frame, "");
    }
    let words = words.split_whitespace().collect::<Vec<_>>().join(" ");
    assert_eq!(
        words.matches("went away with load").count(),
        250,
        "no line is lost between pages"
    );
}
