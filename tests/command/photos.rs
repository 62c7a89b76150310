//! Photos by the command line: taken from beside the record, bundled, verified, exported.

use crate::{Bench, files_in, sample};
use brickbook::photo;
use serde_json::json;
use std::fs;

/// A plain picture, as the program itself keeps it.
pub fn picture(colour: u8) -> Vec<u8> {
    photo::drawn(90, 60, vec![colour; 90 * 60 * 3]).jpeg
}

/// A record that names two photos, and their files in a folder.
fn bench_with_photos(folder: &str) -> Bench {
    let bench = Bench::new();
    fs::create_dir(bench.path(folder)).unwrap();
    let mut record = sample::record("Larkfield", "LF-30P", None);
    let mut photos = Vec::new();
    for colour in [10, 200] {
        let jpeg = picture(colour);
        photos.push(json!({"sha256": photo::sha256(&jpeg), "width_px": 90, "height_px": 60}));
        fs::write(bench.path(&format!("{folder}/{colour}.jpg")), jpeg).unwrap();
    }
    record["photos"] = json!(photos);
    bench.write("record.json", &record.to_string());
    bench.write(&format!("{folder}/notes.txt"), "not a picture");
    bench
}

fn count(bench: &Bench) -> i64 {
    bench.number("brickbook-data", "SELECT count(*) FROM photo")
}

#[test]
fn photos_beside_the_record_come_in_with_it() {
    let bench = bench_with_photos("photos");
    let told = bench.call(&["add", "record.json"]).succeeds();
    assert!(!told.err.contains("not at hand"), "{}", told.err);
    assert_eq!(count(&bench), 2);
    bench.assert_sound("brickbook-data");
}

#[test]
fn photos_of_another_folder_come_in_where_it_is_named_and_are_missed_otherwise() {
    let bench = bench_with_photos("pictures");
    let told = bench.call(&["add", "record.json"]).succeeds();
    assert_eq!(
        told.err.matches("is not at hand").count(),
        2,
        "{}",
        told.err
    );
    assert_eq!(count(&bench), 0);
    let told = bench
        .call(&["add", "--photos", "pictures", "record.json"])
        .succeeds();
    assert!(told.out.contains("unchanged"), "{}", told.out);
    assert!(!told.err.contains("not at hand"), "{}", told.err);
    assert_eq!(count(&bench), 2);
    let told = bench
        .call(&["add", "--photos", "nowhere", "record.json"])
        .fails_with(2);
    assert!(told.err.contains("nowhere"), "{}", told.err);
}

#[test]
fn a_photo_with_metadata_is_refused_although_the_record_names_it() {
    let bench = bench_with_photos("photos");
    let mut jpeg = picture(10);
    jpeg.splice(2..2, *b"\xff\xfe\x00\x08secret");
    let mut record = sample::record("Larkfield", "LF-30S", None);
    record["photos"] = json!([{"sha256": photo::sha256(&jpeg), "width_px": 90, "height_px": 60}]);
    bench.write("secret.json", &record.to_string());
    fs::write(bench.path("photos/secret.jpg"), jpeg).unwrap();
    let told = bench.call(&["add", "secret.json"]).fails_with(2);
    assert!(
        told.err.contains("secret.jpg") && told.err.contains("metadata"),
        "{}",
        told.err
    );
    assert_eq!(
        bench.number("brickbook-data", "SELECT count(*) FROM unit"),
        0
    );
}

#[test]
fn an_archive_holds_the_photos_and_a_changed_one_is_found() {
    let bench = bench_with_photos("photos");
    bench.call(&["add", "record.json"]).succeeds();
    bench
        .call(&["bundle", "larkfield-lf-30p", "-o", "unit.zip"])
        .succeeds();
    let told = bench.call(&["verify", "unit.zip"]).succeeds().out;
    assert!(told.contains("and 2 photos as named"), "{told}");
    let whole = fs::read(bench.path("unit.zip")).unwrap();
    let jpeg = picture(200);
    let at = whole
        .windows(jpeg.len())
        .position(|window| window == jpeg)
        .expect("the photo lies in the archive as it is");
    let mut changed = whole.clone();
    changed[at + jpeg.len() / 2] ^= 1;
    fs::write(bench.path("changed.zip"), changed).unwrap();
    let told = bench.call(&["verify", "changed.zip"]).fails_with(1);
    let name = photo::sha256(&jpeg);
    assert!(
        told.err.contains(&format!("photos/{name}.jpg")),
        "{}",
        told.err
    );
}

#[test]
fn an_archive_says_which_photos_it_lacks() {
    let bench = bench_with_photos("elsewhere");
    bench.call(&["add", "record.json"]).succeeds();
    let told = bench
        .call(&["bundle", "larkfield-lf-30p", "-o", "unit.zip"])
        .succeeds();
    assert_eq!(told.err.matches("is not kept here").count(), 2);
    let told = bench.call(&["verify", "unit.zip"]).succeeds();
    assert!(
        told.out.contains("2 of 2 photos are not in it"),
        "{}",
        told.out
    );
}

#[test]
fn an_exported_folder_holds_the_photos_and_gives_them_to_another_database() {
    let bench = bench_with_photos("photos");
    bench.call(&["add", "record.json"]).succeeds();
    bench.call(&["export", "-o", "out/"]).succeeds();
    let mut wanted: Vec<String> = [10, 200]
        .map(|colour| format!("{}.jpg", photo::sha256(&picture(colour))))
        .to_vec();
    wanted.sort();
    assert_eq!(files_in(&bench.path("out/photos")), wanted);
    let told = bench
        .call(&["add", "--data-dir", "other", "out/larkfield-lf-30p.json"])
        .succeeds();
    assert!(!told.err.contains("not at hand"), "{}", told.err);
    assert_eq!(bench.number("other", "SELECT count(*) FROM photo"), 2);
}
