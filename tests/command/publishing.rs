//! `publish-site`: the public site as files.

use crate::{Bench, sample};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

const SITE: &[&str] = &[
    "publish-site",
    "--public-url",
    "https://bricks.example",
    "site",
];

/// Files below a folder, as addresses.
fn addresses(folder: &Path) -> BTreeSet<String> {
    let mut found = BTreeSet::new();
    let mut folders = vec![folder.to_path_buf()];
    while let Some(one) = folders.pop() {
        for entry in std::fs::read_dir(&one).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                folders.push(path);
            } else {
                let below = path.strip_prefix(folder).expect("below the folder");
                found.insert(format!("/{}", below.display()));
            }
        }
    }
    found
}

/// Where the page's links and pictures, the one for pasted links among them, lead within the site, without query and fragment.
fn leads_to(html: &str) -> BTreeSet<String> {
    let mut found = BTreeSet::new();
    for attribute in ["href=\"", "src=\"", "action=\"", "\"og:image\" content=\""] {
        for after in html.split(attribute).skip(1) {
            let target = after.split('"').next().unwrap_or("");
            let path = target.split(['?', '#']).next().unwrap_or("");
            let path = path.strip_prefix("https://bricks.example").unwrap_or(path);
            if path.starts_with('/') && !path.starts_with("//") {
                found.insert(path.to_owned());
            }
        }
    }
    found
}

/// Where a plain file server looks.
fn file_of(folder: &Path, address: &str) -> PathBuf {
    let decoded = address.replace("%20", " ");
    let path = folder.join(decoded.trim_matches('/'));
    if path.is_dir() {
        path.join("index.html")
    } else {
        path
    }
}

#[test]
fn no_link_of_the_site_as_files_leads_nowhere() {
    let bench = Bench::new();
    let seeds = Path::new(env!("CARGO_MANIFEST_DIR")).join("seed-data");
    let mut files: Vec<String> = std::fs::read_dir(&seeds)
        .expect("the invented records")
        .map(|entry| entry.expect("an entry").path().display().to_string())
        .filter(|path| path.ends_with(".json"))
        .collect();
    files.sort();
    // Some of every kind: each more takes its time.
    let files: Vec<String> = files.into_iter().step_by(5).collect();
    let mut add = vec!["add"];
    add.extend(files.iter().map(String::as_str));
    bench.call(&add).succeeds();
    bench.call(SITE).succeeds();
    let site = bench.path("site");
    let mut pages = 0;
    let mut dead = BTreeSet::new();
    for address in addresses(&site).iter().filter(|a| a.ends_with(".html")) {
        let html = std::fs::read_to_string(site.join(&address[1..])).expect("a page");
        pages += 1;
        for target in leads_to(&html) {
            if !file_of(&site, &target).is_file() {
                dead.insert(format!("{target}, from {address}"));
            }
        }
        for private in ["/sign-in", "/desk", "/suggest", "name=\"csrf\""] {
            assert!(!html.contains(private), "{address} holds {private}");
        }
    }
    assert!(pages > 40, "{pages}");
    let dead: Vec<&String> = dead.iter().take(20).collect();
    assert!(dead.is_empty(), "not there: {dead:#?}");
}

#[test]
fn a_second_call_writes_only_what_changed() {
    let bench = Bench::new();
    // Two units of different classes.
    bench.write(
        "first.json",
        &sample::record_text("Larkfield", "LF-1", None),
    );
    let other = sample::record_text("Wexmoor", "WX-2", None);
    let other = other.replace("\"output_power_w\": 20", "\"output_power_w\": 95");
    bench.write("second.json", &other);
    bench.call(&["add", "first.json", "second.json"]).succeeds();
    let first = bench.call(SITE).succeeds().out;
    assert!(first.contains(" 0 removed"), "{first}");
    let again = bench.call(SITE).succeeds().out;
    assert!(again.contains(" 0 rendered, 0 written"), "{again}");

    let changed = sample::record_text("Larkfield", "LF-1", None).replace("0.05", "0.06");
    bench.write("changed.json", &changed);
    let before = std::fs::metadata(bench.path("site/unit/wexmoor-wx-2/record.json"))
        .and_then(|m| m.modified())
        .expect("a file with its time");
    bench
        .call(&[
            "add",
            "--revise",
            "larkfield-lf-1",
            "--reason",
            "read again",
            "changed.json",
        ])
        .succeeds();
    bench.call(SITE).succeeds();
    let page = std::fs::read_to_string(bench.path("site/unit/larkfield-lf-1/index.html"))
        .expect("the unit's page");
    assert!(page.contains("read again"));
    assert!(
        bench
            .path("site/unit/larkfield-lf-1/revision/1/index.html")
            .is_file()
    );
    let after = std::fs::metadata(bench.path("site/unit/wexmoor-wx-2/record.json"))
        .and_then(|m| m.modified())
        .expect("a file with its time");
    assert_eq!(before, after, "what did not change is not written");
}

#[test]
fn a_folder_with_files_of_others_is_left_alone() {
    let bench = Bench::new();
    bench.write(
        "first.json",
        &sample::record_text("Larkfield", "LF-1", None),
    );
    bench.call(&["add", "first.json"]).succeeds();
    std::fs::create_dir(bench.path("site")).expect("a folder");
    bench.write("site/photo-album.html", "mine");
    let refused = bench.call(SITE).fails_with(2);
    assert!(refused.err.contains("did not write"), "{}", refused.err);
    assert_eq!(addresses(&bench.path("site")).len(), 1);
    let nameless = bench.call(&["publish-site", "elsewhere"]).fails_with(2);
    assert!(nameless.err.contains("public_url"), "{}", nameless.err);
}

/// Every file below a folder with its bytes.
fn contents(folder: &Path) -> Vec<(String, Vec<u8>)> {
    addresses(folder)
        .into_iter()
        .map(|address| {
            let bytes = std::fs::read(folder.join(&address[1..])).expect("a file");
            (address, bytes)
        })
        .collect()
}

/// Deletes a photo that no newest revision names, as the desk does.
fn delete_photo(database: &Path, sha256: &str) {
    let runtime = tokio::runtime::Runtime::new().expect("a runtime");
    runtime.block_on(async {
        let db = brickbook::storage::Db::open(database)
            .await
            .expect("the database opens");
        let mut tx = db.write().await.expect("it can be written");
        brickbook::storage::photos::remove(&mut tx, sha256)
            .await
            .expect("the photo is deleted");
        tx.commit().await.expect("for good");
        db.close().await;
    });
}

#[test]
fn a_later_call_leaves_what_a_first_one_would_and_what_is_withdrawn_vanishes() {
    let bench = Bench::new();
    let jpeg = brickbook::photo::drawn(90, 60, vec![77; 90 * 60 * 3]).jpeg;
    let sha256 = brickbook::photo::sha256(&jpeg);
    std::fs::create_dir(bench.path("photos")).expect("a folder");
    std::fs::write(bench.path("photos/front.jpg"), &jpeg).expect("a photo");
    let mut shown = sample::record("Larkfield", "LF-1", None);
    shown["photos"] = serde_json::json!([{"sha256": sha256, "width_px": 90, "height_px": 60, "caption": "Front"}]);
    bench.write("shown.json", &shown.to_string());
    let other = sample::record_text("Wexmoor", "WX-2", None);
    bench.write("other.json", &other);
    bench.call(&["add", "shown.json", "other.json"]).succeeds();
    bench.call(SITE).succeeds();
    let site = bench.path("site");
    let photo = |address: &String| address.contains("/photo/");
    assert!(addresses(&site).iter().any(photo), "its photo is there");

    // A revision without the photo, which is then deleted; another unit changes its place; one
    // more comes in.
    bench.write("bare.json", &sample::record_text("Larkfield", "LF-1", None));
    let revise = |unit: &str, file: &str| {
        let call = ["add", "--revise", unit, "--reason", "read again", file];
        bench.call(&call).succeeds();
    };
    revise("larkfield-lf-1", "bare.json");
    delete_photo(&bench.path("brickbook-data/brickbook.db"), &sha256);
    bench.write("again.json", &other.replace("0.05", "0.02"));
    revise("wexmoor-wx-2", "again.json");
    bench.write("new.json", &sample::record_text("Tessawick", "TW-3", None));
    bench.call(&["add", "new.json"]).succeeds();
    bench.call(SITE).succeeds();
    assert!(!addresses(&site).iter().any(photo), "the photo is gone");

    let mut fresh = SITE.to_vec();
    fresh[3] = "fresh";
    bench.call(&fresh).succeeds();
    let (now, anew) = (contents(&site), contents(&bench.path("fresh")));
    let names = |all: &[(String, Vec<u8>)]| -> Vec<String> {
        all.iter().map(|(name, _)| name.clone()).collect()
    };
    assert_eq!(names(&now), names(&anew));
    for ((name, bytes), (_, expected)) in now.iter().zip(&anew) {
        assert!(bytes == expected, "{name} is not what a first call writes");
    }

    // The same folder from a database without two of the units, which stands for withdrawing them.
    bench
        .call(&["add", "--data-dir", "fewer", "other.json"])
        .succeeds();
    let mut fewer = SITE.to_vec();
    fewer.extend(["--data-dir", "fewer"]);
    let told = bench.call(&fewer).succeeds().out;
    assert!(!told.contains(" 0 removed"), "{told}");
    let left = addresses(&site);
    assert!(left.iter().any(|a| a.starts_with("/unit/wexmoor-wx-2/")));
    for gone in ["larkfield-lf-1", "tessawick-tw-3"] {
        assert!(!left.iter().any(|a| a.contains(gone)), "{gone}");
        assert!(!site.join("unit").join(gone).exists(), "no empty folder");
        for address in left.iter().filter(|a| a.ends_with(".html")) {
            let html = std::fs::read_to_string(site.join(&address[1..])).expect("a page");
            assert!(!html.contains(gone), "{address} names {gone}");
        }
    }
}
