//! Logs: a long one is made in a temporary folder and read by us, by the least that `csv` and
//! `fast-float2` can do with it, and, where asked for, by pandas' C reader. Each reads in a process
//! of its own, in turns, the file being in the page cache.
//!
//! `cargo bench --bench speed -- logs`, with pandas (from PyPI, into `target/`) `-- logs pandas`.
//! `BRICKBOOK_BENCH_LOG_MB` (1000) and `BRICKBOOK_BENCH_ROUNDS` (5) make it shorter.

use crate::{Promise, number_from_environment, print_table};
use brickbook::bench::record::LogQuantity;
use brickbook::evaluate::no_load;
use brickbook::intake::logs;
use brickbook::log::{HEAD, Section, detect, read};
use brickbook::standards::Standards;
use brickbook::storage::LogFiles;
use std::fs::File;
use std::io::{self, BufWriter, Read, Write};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;

pub fn measure(with_pandas: bool) -> io::Result<()> {
    let megabytes = number_from_environment("BRICKBOOK_BENCH_LOG_MB", 1000);
    let rounds = number_from_environment("BRICKBOOK_BENCH_ROUNDS", 5).max(1);
    let load_average = std::fs::read_to_string("/proc/loadavg").unwrap_or_default();
    println!("load average before: {}", load_average.trim());
    let python = if with_pandas {
        Some(python_with_pandas()?)
    } else {
        None
    };
    let folder = tempfile::tempdir()?;
    let log = folder.path().join("long.csv");
    let rows = write_log(&log, megabytes * 1_000_000)?;
    println!(
        "{rows} rows of {:.1} bytes",
        megabytes as f64 * 1e6 / rows as f64
    );

    let (mut own, mut bare, mut pandas) = (Vec::new(), Vec::new(), Vec::new());
    let mut import = Vec::new();
    for _ in 0..rounds {
        bare.push(in_process("log-bare", &log)?);
        own.push(in_process("log-read", &log)?);
        import.push(in_process("log-import", &log)?);
        if let Some(python) = &python {
            pandas.push(pandas_reads(python, &log)?);
        }
    }
    for (name, turns) in [
        ("csv and fast-float2", &bare),
        ("brickbook analyses", &own),
        ("brickbook imports", &import),
        ("pandas", &pandas),
    ] {
        if turns.is_empty() {
            continue;
        }
        if turns.iter().any(|turn| turn.rows != rows) {
            return Err(io::Error::other(format!("{name} did not read {rows} rows")));
        }
        let seconds = median(turns.iter().map(|t| t.seconds).collect());
        println!(
            "{name:<22} {seconds:>7.2} s {:>7.0} MB/s, {:.0} MB of memory at most",
            megabytes as f64 / seconds,
            most_memory(turns)
        );
    }
    // Ratios within one turn: the machine drifts from turn to turn.
    let ratio = |others: &[Turn], own: &[Turn]| {
        let ratios = others
            .iter()
            .zip(own)
            .map(|(other, own)| other.seconds / own.seconds);
        median(ratios.collect())
    };
    let mut promises = vec![
        Promise::at_least(
            "log: rate over a bare csv and fast-float2 loop",
            ratio(&bare, &own),
            0.8,
            2,
        ),
        Promise::at_least(
            // Hashing and compressing a gigabyte takes the other core longer than reading it.
            "log: rate of keeping it as well (SHA-256, zstd) over the same loop",
            ratio(&bare, &import),
            0.25,
            2,
        ),
        Promise::below(
            "log: resident memory at most, MB",
            most_memory(&own).max(most_memory(&import)),
            200.0,
            1,
        ),
    ];
    if !pandas.is_empty() {
        promises.push(Promise::at_least(
            "log: rate over pandas' C reader",
            ratio(&pandas, &own),
            1.0,
            2,
        ));
    }
    print_table(&promises);
    Ok(())
}

struct Turn {
    seconds: f64,
    rows: u64,
    memory_mb: f64,
}

fn most_memory(turns: &[Turn]) -> f64 {
    turns.iter().map(|t| t.memory_mb).fold(0.0, f64::max)
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

/// A log of a power analyser at some 80 rows a second: noise upon a cycle, as no-load logs are.
fn write_log(path: &Path, bytes: usize) -> io::Result<u64> {
    let mut file = BufWriter::with_capacity(1 << 20, File::create(path)?);
    let mut state = crate::SEED;
    let mut noise = move || {
        // SplitMix64 (Steele, Lea, Flood 2014), from -1 to 1.
        state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = state;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (z >> 11) as f64 / (1u64 << 52) as f64 - 1.0
    };
    let head = "time_s,voltage_v,current_a,power_w,power_factor,frequency_hz\n";
    file.write_all(head.as_bytes())?;
    let mut written = head.len();
    let mut rows = 0;
    let mut line = Vec::new();
    while written < bytes {
        let t_s = rows as f64 * 0.0125;
        let power_w = 0.082 + 0.02 * (t_s / 7.0).sin() + 0.004 * noise();
        let voltage_v = 230.0 + 0.4 * noise();
        let current_a = 0.0081 + 0.0003 * noise();
        line.clear();
        writeln!(
            line,
            "{t_s:.4},{voltage_v:.3},{current_a:.6},{power_w:.6},{:.5},{:.3}",
            power_w / voltage_v / current_a,
            50.0 + 0.01 * noise()
        )?;
        file.write_all(&line)?;
        written += line.len();
        rows += 1;
    }
    file.into_inner()?.sync_all()?;
    Ok(rows)
}

fn in_process(what: &str, log: &Path) -> io::Result<Turn> {
    let output = Command::new(std::env::current_exe()?)
        .arg(what)
        .arg(log)
        .output()?;
    turn(what, &output)
}

fn turn(what: &str, output: &std::process::Output) -> io::Result<Turn> {
    let words = String::from_utf8_lossy(&output.stdout);
    let figures: Vec<f64> = words
        .split_whitespace()
        .filter_map(|w| w.parse().ok())
        .collect();
    match figures[..] {
        [seconds, rows, memory_mb] if output.status.success() => Ok(Turn {
            seconds,
            rows: rows as u64,
            memory_mb,
        }),
        _ => Err(io::Error::other(format!(
            "{what}: {words}{}",
            String::from_utf8_lossy(&output.stderr)
        ))),
    }
}

/// The process that reads a log as the program does: layout guessed, traces of all quantities, and the
/// methods for low power gone through.
pub fn read_log(path: &Path) -> io::Result<()> {
    let began = Instant::now();
    let mut head = Vec::new();
    File::open(path)?.take(HEAD as u64).read_to_end(&mut head)?;
    let seen = detect(&head).map_err(io::Error::other)?;
    let reading = read(
        File::open(path)?,
        &seen.layout,
        Section::default(),
        &mut |_| {},
    )
    .map_err(io::Error::other)?;
    for (_, _, trace) in std::hint::black_box(&reading.columns) {
        assert_eq!(trace.samples, reading.rows);
    }
    let power = reading
        .trace(LogQuantity::InputPowerW, None)
        .ok_or_else(|| io::Error::other("the log holds no power"))?;
    let rules = Standards::embedded().low_power;
    let found =
        no_load::findings(power, no_load::Beside::default(), &rules).map_err(io::Error::other)?;
    std::hint::black_box(found);
    report(began, reading.rows)
}

/// The process that does all that `brickbook import-log` does: bytes hashed, compressed and brought
/// to the disk, rows read, the methods for low power gone through.
pub fn import_log(path: &Path) -> io::Result<()> {
    let folder = tempfile::tempdir()?;
    let files = LogFiles::beside(&folder.path().join("brickbook.db"));
    let rules = Standards::embedded().low_power;
    let began = Instant::now();
    let imported = logs::import(&files, File::open(path)?, None, &[], &mut |_| {})?;
    let reading = imported
        .reading
        .ok_or_else(|| io::Error::other("the log could not be read"))?;
    let power = reading
        .trace(LogQuantity::InputPowerW, None)
        .ok_or_else(|| io::Error::other("the log holds no power"))?;
    let found =
        no_load::findings(power, no_load::Beside::default(), &rules).map_err(io::Error::other)?;
    std::hint::black_box(found);
    report(began, reading.rows)
}

/// The process that parses every field of every record to a number, and does nothing with it.
pub fn read_bare(path: &Path) -> io::Result<()> {
    let began = Instant::now();
    let mut reader = csv::ReaderBuilder::new()
        .buffer_capacity(256 * 1024)
        .from_reader(File::open(path)?);
    let mut record = csv::ByteRecord::new();
    let mut rows = 0;
    while reader.read_byte_record(&mut record)? {
        for field in &record {
            let number: f64 = fast_float2::parse(field).map_err(io::Error::other)?;
            std::hint::black_box(number);
        }
        rows += 1;
    }
    report(began, rows)
}

fn report(began: Instant, rows: u64) -> io::Result<()> {
    let seconds = began.elapsed().as_secs_f64();
    let status = std::fs::read_to_string("/proc/self/status")?;
    let peak_kb: f64 = status
        .lines()
        .find_map(|line| {
            line.strip_prefix("VmHWM:")?
                .split_whitespace()
                .next()?
                .parse()
                .ok()
        })
        .ok_or_else(|| io::Error::other("no VmHWM in /proc/self/status"))?;
    println!("{seconds} {rows} {}", peak_kb / 1024.0);
    Ok(())
}

fn pandas_reads(python: &Path, log: &Path) -> io::Result<Turn> {
    // The import is not counted.
    const SCRIPT: &str = "
import resource, sys, time
import pandas
began = time.perf_counter()
frame = pandas.read_csv(sys.argv[1], engine='c')
took = time.perf_counter() - began
print(took, len(frame), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
";
    let output = Command::new(python)
        .args(["-c", SCRIPT])
        .arg(log)
        .output()?;
    turn("pandas", &output)
}

/// Python with pandas in an environment under `target/`, made where it is missing.
fn python_with_pandas() -> io::Result<PathBuf> {
    let environment = Path::new(env!("CARGO_TARGET_TMPDIR")).join("pandas");
    let python = environment.join("bin/python");
    let works = |python: &Path| {
        let import = Command::new(python).args(["-c", "import pandas"]).output();
        import.is_ok_and(|output| output.status.success())
    };
    if !works(&python) {
        let done = |command: &mut Command| match command.status()?.success() {
            true => Ok(()),
            false => Err(io::Error::other(format!("{command:?} failed"))),
        };
        done(
            Command::new("python3")
                .args(["-m", "venv", "--clear"])
                .arg(&environment),
        )?;
        done(Command::new(&python).args([
            "-m",
            "pip",
            "install",
            "--quiet",
            "--only-binary",
            ":all:",
            "pandas",
        ]))?;
    }
    Ok(python)
}
