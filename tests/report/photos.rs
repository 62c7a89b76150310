//! Photos in a report: how large the file becomes, and how much memory it takes.

use crate::app::{TestApp, seed};
use crate::reader::Pdf;
use brickbook::paper::{Block, Document, Made, Paper, Photo, fitted_jpeg, pdf};
use image::codecs::jpeg::JpegEncoder;
use std::rc::Rc;

/// A photo with as much detail as a camera's: smooth shades with grain.
fn camera(seed: u32, width: u32, height: u32) -> Vec<u8> {
    let mut state = seed.wrapping_mul(2_654_435_761) | 1;
    let picture = image::RgbImage::from_fn(width, height, |x, y| {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let grain = (state >> 27) as f32 - 16.0;
        let shade = |a: f32, b: f32| {
            let wave = (x as f32 * a).sin() + (y as f32 * b).cos();
            (128.0 + 55.0 * wave + grain).clamp(0.0, 255.0) as u8
        };
        image::Rgb([
            shade(0.011, 0.007),
            shade(0.004, 0.013),
            shade(0.019, 0.003),
        ])
    });
    let mut jpeg = Vec::new();
    JpegEncoder::new_with_quality(&mut jpeg, 88)
        .encode_image(&picture)
        .unwrap();
    jpeg
}

/// The most memory that this process has had, bytes.
fn peak_memory() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap();
    let line = status
        .lines()
        .find(|line| line.starts_with("VmHWM:"))
        .unwrap();
    let kilobytes: u64 = line.split_whitespace().nth(1).unwrap().parse().unwrap();
    kilobytes * 1024
}

#[test]
fn thirty_photos_of_2048_pixels_stay_under_ten_megabytes_and_are_read_one_by_one() {
    const COUNT: usize = 30;
    let folder = tempfile::tempdir().unwrap();
    for n in 0..3 {
        let jpeg = camera(n, 2048, 1536);
        std::fs::write(folder.path().join(format!("{n}.jpg")), jpeg).unwrap();
    }
    let before = peak_memory();
    let photos = (0..COUNT).map(|n| {
        let path = folder.path().join(format!("{}.jpg", n % 3));
        Rc::new(Photo {
            width_px: 2048,
            height_px: 1536,
            caption: format!("Photo {n}"),
            alt: format!("Photo {n} of a unit"),
            read: Box::new(move || {
                let bytes = std::fs::read(&path).map_err(|cause| cause.to_string())?;
                // Each one differs, as photos do: a comment at its end.
                let mut jpeg = fitted_jpeg(&bytes, 8_000_000 / COUNT)?;
                jpeg.extend_from_slice(format!("{n}").as_bytes());
                Ok(jpeg)
            }),
        })
    });
    let document = Document {
        paper: Paper::A4,
        title: "Thirty photos".into(),
        author: "Fernhill bench".into(),
        subject: "photos".into(),
        creator: "test".into(),
        made: Some(Made {
            year: 2026,
            month: 9,
            day: 2,
            hour: 10,
            minute: 0,
            second: 0,
        }),
        head: ("Thirty photos".into(), String::new()),
        foot: String::new(),
        mark: None,
        figure_style: String::new(),
        blocks: vec![
            Block::Heading(1, "Photos".into()),
            Block::Photos(photos.collect()),
        ],
    };
    let bytes = pdf(document).unwrap();
    let grown = peak_memory() - before;
    println!(
        "30 photos of 2048 × 1536 px: {} kB, peak memory grew by {} MB",
        bytes.len() / 1000,
        grown >> 20
    );
    let read = Pdf::sound(&bytes);
    assert!((5..=12).contains(&read.pages()), "{}", read.pages());
    assert!(bytes.len() < 10_000_000, "{}", bytes.len());
    assert!(bytes.len() > 1_000_000, "the photos are in it");
    // Decoded all together they would take 280 MB.
    assert!(grown < 120 << 20, "{} MB", grown >> 20);
}

#[tokio::test]
async fn a_unit_s_photos_are_printed_in_order_and_one_that_is_not_kept_is_named() {
    let mut record: serde_json::Value = serde_json::from_str(&seed("larkfield-lf-65c")).unwrap();
    let app = TestApp::empty().await;
    let mut tx = app.site.db.write().await.unwrap();
    let mut entries = Vec::new();
    for (n, caption) in ["The label", "", "Inside the box"].into_iter().enumerate() {
        let kept = brickbook::photo::take_in(&camera(n as u32, 640, 400 + 200 * n as u32)).unwrap();
        let now = time::macros::datetime!(2026-09-02 10:00 UTC);
        brickbook::storage::photos::enter(&mut tx, &kept, "a.jpg", None, now)
            .await
            .unwrap();
        let mut entry = serde_json::json!({
            "sha256": kept.sha256(),
            "width_px": kept.width_px,
            "height_px": kept.height_px,
        });
        if !caption.is_empty() {
            entry["caption"] = caption.into();
        }
        entries.push(entry);
    }
    tx.commit().await.unwrap();
    entries.push(serde_json::json!({
        "sha256": "0123456789abcdef".repeat(4), "width_px": 800, "height_px": 600, "caption": "Lost",
    }));
    record["photos"] = entries.into();
    app.publish(&record.to_string()).await;
    app.site.refresh().await.unwrap();
    let answer = app.get("/unit/larkfield-lf-65c/report.pdf").await;
    let pdf = Pdf::sound(&answer.bytes);
    let words = pdf.words();
    for said in [
        "Photo 1: The label",
        "Photo 2",
        "Photo 3: Inside the box",
        "not kept here",
        "Photo 4: Lost",
    ] {
        assert!(words.contains(said), "{said}");
    }
    assert_eq!(pdf.jpegs(), [(640, 400), (640, 600), (640, 800)]);
}
