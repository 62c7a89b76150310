//! The whole public site as files: what it takes to write that of many units in one run, beside the
//! filling of the same pages' templates alone, and what it takes after one unit was corrected.

use super::{fill, number_from_environment, program};
use brickbook::bench::decode::decode;
use brickbook::bench::record::Record;
use std::io::{self, BufRead, BufReader};
use std::path::Path;
use std::process::Stdio;
use std::time::{Duration, Instant};

/// What one call told and took.
struct Run {
    took: Duration,
    files: u64,
    rendered: u64,
    written: u64,
    removed: u64,
    /// Of all workers together.
    at_work_s: f64,
    in_templates_s: f64,
    peak_mb: f64,
    processor_s: f64,
}

pub fn measure(units: usize) -> io::Result<()> {
    let folder = tempfile::tempdir()?;
    let folder = match std::env::var_os("BRICKBOOK_BENCH_FOLDER") {
        // To look at what was written.
        Some(kept) => std::path::PathBuf::from(kept),
        None => folder.path().to_path_buf(),
    };
    std::fs::create_dir_all(&folder)?;
    let (data, site) = (folder.join("data"), folder.join("site"));
    fill(&data, &folder, units)?;

    let first = publish(&data, &site)?;
    let (files, bytes) = size_of(&site)?;
    show("all", &first);
    println!(
        "on the disk: {files} files, {:.1} MB, {:.0} kB a unit",
        bytes as f64 / 1e6,
        bytes as f64 / 1e3 / units as f64
    );
    println!(
        "time of all work over that of the templates alone: {:.1} ({:.1} s of {:.1} s)",
        first.at_work_s / first.in_templates_s,
        first.in_templates_s,
        first.at_work_s
    );

    let again = publish(&data, &site)?;
    show("nothing changed", &again);

    correct_one(&data, &folder)?;
    let corrected = publish(&data, &site)?;
    show("one unit corrected", &corrected);
    println!(
        "one unit corrected: {} of {} files written anew, {:.4} of the time of all",
        corrected.written,
        corrected.files,
        corrected.took.as_secs_f64() / first.took.as_secs_f64()
    );
    Ok(())
}

fn show(words: &str, run: &Run) {
    println!(
        "{words}: {:.1} s ({:.1} s of processor time), {} files, {} rendered, {} written, {} removed, {:.0} MB at most",
        run.took.as_secs_f64(),
        run.processor_s,
        run.files,
        run.rendered,
        run.written,
        run.removed,
        run.peak_mb
    );
}

/// Calls the program; its progress bar stands on our own standard error.
fn publish(data: &Path, site: &Path) -> io::Result<Run> {
    let began = Instant::now();
    let mut process = program()
        .args(["publish-site", "--timings"])
        .args(["--public-url", "https://bricks.example"])
        .args(["--data-dir".as_ref(), data.as_os_str()])
        .arg(site)
        .stdout(Stdio::piped())
        .spawn()?;
    let (mut peak_mb, mut processor_s) = (0.0f64, 0.0f64);
    let status = loop {
        if let Some(status) = process.try_wait()? {
            break status;
        }
        // Gone between the question and the reading: the last answer counts.
        if let Some((memory, processor)) = watch(process.id()) {
            peak_mb = peak_mb.max(memory);
            processor_s = processor_s.max(processor);
        }
        std::thread::sleep(Duration::from_millis(50));
    };
    let took = began.elapsed();
    let output = process.stdout.take().expect("it was piped");
    let lines: Vec<String> = BufReader::new(output).lines().collect::<Result<_, _>>()?;
    if !status.success() {
        return Err(io::Error::other("the site could not be written"));
    }
    // "12 files, 11 rendered, 10 written (1.2 MiB), 0 removed"; "1.25 s of 20.5 s in templates"
    let numbers = |line: Option<&String>| -> Vec<f64> {
        let line = line.map_or("", String::as_str);
        line.split([' ', ','])
            .filter_map(|word| word.parse().ok())
            .collect()
    };
    let counts = numbers(lines.first());
    let times = numbers(lines.get(1));
    let ([files, rendered, written, removed], [in_templates_s, at_work_s]) =
        (&counts[..], &times[..])
    else {
        return Err(io::Error::other(format!("the program told {lines:?}")));
    };
    Ok(Run {
        took,
        files: *files as u64,
        rendered: *rendered as u64,
        written: *written as u64,
        removed: *removed as u64,
        at_work_s: *at_work_s,
        in_templates_s: *in_templates_s,
        peak_mb,
        processor_s,
    })
}

/// Peak resident megabytes and processor seconds of a process so far.
fn watch(process: u32) -> Option<(f64, f64)> {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    let kilobytes: f64 = status
        .lines()
        .find_map(|line| line.strip_prefix("VmHWM:"))?
        .trim()
        .strip_suffix(" kB")?
        .parse()
        .ok()?;
    let stat = std::fs::read_to_string(format!("/proc/{process}/stat")).ok()?;
    // After the name the first field is number 3; 14 and 15 are ticks of 10 ms.
    let fields: Vec<&str> = stat.rsplit(')').next()?.split_whitespace().collect();
    let ticks = |number: usize| fields.get(number - 3)?.parse::<f64>().ok();
    Some((kilobytes * 1024.0 / 1e6, (ticks(14)? + ticks(15)?) / 100.0))
}

/// Files below a folder and their bytes.
fn size_of(folder: &Path) -> io::Result<(u64, u64)> {
    let (mut files, mut bytes) = (0, 0);
    let mut folders = vec![folder.to_path_buf()];
    while let Some(one) = folders.pop() {
        for entry in std::fs::read_dir(one)? {
            let entry = entry?;
            let about = entry.metadata()?;
            if about.is_dir() {
                folders.push(entry.path());
            } else {
                files += 1;
                bytes += about.len();
            }
        }
    }
    Ok((files, bytes))
}

/// Publishes a revision of one unit: a no-load power that was read again.
fn correct_one(data: &Path, folder: &Path) -> io::Result<()> {
    let lines = std::fs::read_to_string(folder.join("units.jsonl"))?;
    let texts: Vec<&str> = lines.lines().collect();
    let mut record: Record = decode(texts[texts.len() / 2]).expect("it was added");
    let slug = brickbook::demo::file_name(&record)
        .trim_end_matches(".json")
        .to_owned();
    for run in &mut record.runs {
        if let Some(no_load) = &mut run.no_load {
            no_load.power_w = no_load.power_w.map(|watts| watts * 1.02);
        }
    }
    let file = folder.join("corrected.json");
    std::fs::write(&file, super::text(&record))?;
    let revised = program()
        .args(["add", "--revise", &slug, "--reason", "read again"])
        .args(["--data-dir".as_ref(), data.as_os_str()])
        .arg(&file)
        .stdout(Stdio::null())
        .status()?;
    if revised.success() {
        Ok(())
    } else {
        Err(io::Error::other("the unit could not be revised"))
    }
}

/// How many units, unless the call says otherwise.
pub fn usual_units() -> usize {
    number_from_environment("BRICKBOOK_BENCH_UNITS", 10_000)
}
