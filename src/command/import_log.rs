//! `import-log`: a raw instrument log into the store, read on the way.

use super::{Failure, open_or_make};
use crate::bench::decode::is_name_of_file;
use crate::bench::record::{Layout, Log, LogQuantity};
use crate::config::Config;
use crate::evaluate::no_load;
use crate::intake::logs::{self, Imported, Summary};
use crate::log::read::Reading;
use crate::storage::logs::{LogFile, SavedLayout};
use crate::storage::{
    self, Db,
    audit::{self, Change, Who},
    logs as stored,
};
use indicatif::{ProgressBar, ProgressStyle};
use std::fs::File;
use std::io::{self, IsTerminal, Read, Write};
use std::path::{Path, PathBuf};
use time::OffsetDateTime;

/// Keep a raw instrument log and read it
///
/// CSV or TSV text of any instrument, as it is or gzipped: encoding, delimiter, decimal mark,
/// headings, units and the form of the time are found in it. The bytes are kept as they are beside
/// the database, named by their SHA-256; a record refers to them by the entry that --json prints.
/// Rows that cannot be read are counted and shown with their line numbers; a log of which more
/// than 1 % is bad is refused and not kept.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    brickbook import-log noload-115.csv\n  \
    brickbook import-log --save-layout \"bench meter\" noload-115.csv\n  \
    brickbook import-log --layout \"bench meter\" noload-230.csv.gz\n  \
    brickbook import-log --json noload-115.csv > entry.json   (for the record's list of logs)\n\n\
    Recording means work on the mains, which can kill: follow local codes and licensed practice.")]
pub struct ImportLog {
    /// The log, or - for standard input
    file: PathBuf,

    /// Read it by this saved layout instead of what is found
    #[arg(long, value_name = "NAME", conflicts_with = "layout_file")]
    layout: Option<String>,

    /// Read it by the layout in this JSON file (the `layout` of an entry that --json prints)
    #[arg(long, value_name = "FILE")]
    layout_file: Option<PathBuf>,

    /// Save the layout under this name; the next log with the same headings is read by it
    #[arg(long, value_name = "NAME")]
    save_layout: Option<String>,

    /// What to call it [default: the file's name]
    #[arg(long, value_name = "NAME")]
    name: Option<String>,

    /// Print the entry for a record's list of logs as JSON instead of the summary
    #[arg(long)]
    json: bool,
}

impl ImportLog {
    pub async fn run(self, config: &Config) -> Result<(), Failure> {
        let name = self.log_name()?;
        let db = open_or_make(config).await?;
        if let Err(cause) = db.logs().sweep() {
            eprintln!("warning: could not look for logs left half-way: {cause}");
        }
        let mut connection = db.read().await?;
        let saved = stored::saved_layouts(&mut connection).await?;
        drop(connection);
        let chosen = self.chosen_layout(&saved)?;

        let (source, length): (Box<dyn Read>, Option<u64>) = if self.file.as_os_str() == "-" {
            (Box::new(io::stdin().lock()), None)
        } else {
            let told = |cause| Failure::Input(format!("{}: {cause}", self.file.display()));
            let file = File::open(&self.file).map_err(told)?;
            let length = file.metadata().map_err(told)?.len();
            (Box::new(file), Some(length))
        };
        let mut progress = Progress::new(length);
        let imported = logs::import(db.logs(), source, chosen.as_ref(), &saved, &mut |bytes| {
            progress.tell(bytes);
        });
        progress.finish();
        let imported = imported.map_err(|cause| {
            Failure::Failed(format!(
                "{}: {cause}; nothing was kept",
                self.file.display()
            ))
        })?;
        let summary = match &imported.summary {
            Ok(summary) => summary,
            Err(why) => {
                self.forget(&db, &imported).await?;
                return Err(Failure::Input(format!(
                    "{}: {why}\nnothing was kept; --layout or --layout-file tells how it is to be read",
                    self.file.display()
                )));
            }
        };
        let layout = imported
            .layout
            .as_ref()
            .expect("a log that was read was read by a layout");
        self.enter(&db, &name, &imported, layout, summary).await?;
        let entry = Log {
            name,
            sha256: imported.kept.sha256.clone(),
            size_bytes: imported.kept.size_bytes,
            layout: layout.clone(),
        };
        let mut out = io::stdout().lock();
        if self.json {
            serde_json::to_writer_pretty(&mut out, &entry).map_err(io::Error::from)?;
            writeln!(out)?;
        } else {
            tell(&mut out, &entry, &imported, summary)?;
            if let Some(reading) = &imported.reading {
                tell_no_load(&mut out, reading, config)?;
            }
        }
        for bad in &summary.bad_first {
            eprintln!("warning: line {}: {}: {}", bad.line, bad.why, bad.text);
        }
        db.close().await;
        Ok(())
    }

    fn log_name(&self) -> Result<String, Failure> {
        let name = match &self.name {
            Some(name) => name.clone(),
            None => self
                .file
                .file_name()
                .filter(|name| *name != "-")
                .map(|name| name.to_string_lossy().into_owned())
                .unwrap_or_else(|| "log.csv".to_owned()),
        };
        let fits = !name.trim().is_empty()
            && name.chars().count() <= 200
            && !name.chars().any(char::is_control)
            && is_name_of_file(&name);
        if fits {
            Ok(name)
        } else {
            Err(Failure::Input(format!(
                "name {name:?}; expected a file name on one line of 1 to 200 characters, none of which turns the \
                 direction of text"
            )))
        }
    }

    fn chosen_layout(&self, saved: &[SavedLayout]) -> Result<Option<Layout>, Failure> {
        if let Some(name) = &self.layout {
            let named = saved.iter().find(|s| s.name.eq_ignore_ascii_case(name));
            let saved = named.ok_or_else(|| {
                let names: Vec<&str> = saved.iter().map(|saved| saved.name.as_str()).collect();
                let there = if names.is_empty() {
                    "none is saved".to_owned()
                } else {
                    format!("expected one of {}", names.join(", "))
                };
                Failure::Input(format!("--layout {name:?} is not saved; {there}"))
            })?;
            return layout_from(&saved.layout, Path::new(name)).map(Some);
        }
        match &self.layout_file {
            Some(path) => layout_from(&super::read_text(path)?, path).map(Some),
            None => Ok(None),
        }
    }

    /// A log that is refused is not kept, unless it was here before.
    async fn forget(&self, db: &Db, imported: &Imported) -> Result<(), Failure> {
        let sha256 = &imported.kept.sha256;
        let is_entered = match stored::find(&mut *db.read().await?, sha256).await {
            Ok(_) => true,
            Err(storage::Error::NotFound) => false,
            Err(cause) => return Err(cause.into()),
        };
        if !is_entered && !imported.kept.was_here {
            db.logs()
                .remove(sha256)
                .map_err(|cause| Failure::Failed(cause.to_string()))?;
        }
        Ok(())
    }

    async fn enter(
        &self,
        db: &Db,
        name: &str,
        imported: &Imported,
        layout: &Layout,
        summary: &Summary,
    ) -> Result<(), Failure> {
        let now = OffsetDateTime::now_utc();
        let layout = serde_json::to_string(layout).expect("a layout is JSON");
        let log = LogFile {
            sha256: imported.kept.sha256.clone(),
            name: name.to_owned(),
            size_bytes: imported.kept.size_bytes,
            stored_bytes: imported.kept.stored_bytes,
            layout: Some(layout.clone()),
            summary: Some(serde_json::to_string(summary).expect("a summary is JSON")),
            fault: None,
            created_at: now,
        };
        let mut tx = db.write().await?;
        stored::enter(&mut tx, &log, None).await?;
        let kept = Change::new("log.kept", format!("log {}", log.sha256)).detail(&log.name);
        audit::write(&mut tx, &Who::command(), kept, now).await?;
        if let (Some(name), Ok(detected)) = (&self.save_layout, &imported.detected) {
            let saved = SavedLayout {
                name: name.clone(),
                layout,
                headings: logs::headings(detected),
            };
            stored::save_layout(&mut tx, &saved, now).await?;
            let change = Change::new("layout.saved", format!("layout {name}")).after(&saved.layout);
            audit::write(&mut tx, &Who::command(), change, now).await?;
        }
        tx.commit().await?;
        Ok(())
    }
}

fn layout_from(text: &str, place: &Path) -> Result<Layout, Failure> {
    serde_json::from_str(text).map_err(|cause| {
        Failure::Input(format!(
            "{}: {cause}; expected a layout as --json prints it",
            place.display()
        ))
    })
}

fn tell(
    out: &mut impl Write,
    entry: &Log,
    imported: &Imported,
    summary: &Summary,
) -> Result<(), Failure> {
    let layout = &entry.layout;
    writeln!(out, "{}: {} bytes", entry.name, entry.size_bytes)?;
    writeln!(
        out,
        "  SHA-256    {}{}",
        entry.sha256,
        if imported.kept.was_here {
            " (was here already)"
        } else {
            ""
        }
    )?;
    writeln!(
        out,
        "  layout     {}{}, {}, {} between cells, decimal {}, data from line {}, time {}",
        match &imported.used_saved {
            Some(name) => format!("saved as {name:?}: "),
            None => String::new(),
        },
        word(&layout.encoding),
        match &imported.detected {
            Ok(detected) if detected.gzip => "gzip",
            _ => "plain",
        },
        word(&layout.delimiter),
        word(&layout.decimal),
        layout.first_line,
        word(&layout.time.form),
    )?;
    let share = summary.bad_rows as f64 / (summary.rows + summary.bad_rows).max(1) as f64;
    writeln!(
        out,
        "  rows       {} good, {} bad ({:.3} %), over {:.3} s, {:.4} s apart{}",
        summary.rows,
        summary.bad_rows,
        100.0 * share,
        summary.duration_s,
        summary.interval_s,
        match &summary.starts_at {
            Some(start) => format!(", from {start}"),
            None => String::new(),
        }
    )?;
    if !summary.gaps_s.is_empty() {
        let (from, to) = summary.gaps_s[0];
        writeln!(
            out,
            "  gaps       {}, the first from {from:.3} s to {to:.3} s",
            summary.gaps_s.len()
        )?;
    }
    for column in &summary.columns {
        let port = match &column.port {
            Some(port) => format!(" of {port}"),
            None => String::new(),
        };
        writeln!(
            out,
            "  {}{port}: mean {}, from {} to {}",
            word(&column.quantity),
            short(column.mean),
            short(column.min),
            short(column.max)
        )?;
    }
    if let Ok(detected) = &imported.detected
        && imported.used_saved.is_none()
    {
        for note in &detected.notes {
            writeln!(out, "  note: {note}")?;
        }
    }
    Ok(())
}

/// What the methods for low power say of the input power over the whole log. Limits and the
/// meter's accuracy come with a record; here they are not known yet.
fn tell_no_load(out: &mut impl Write, reading: &Reading, config: &Config) -> Result<(), Failure> {
    let trace = |quantity| reading.trace(quantity, None);
    let Some(power) = trace(LogQuantity::InputPowerW) else {
        return Ok(());
    };
    if reading
        .columns
        .iter()
        .any(|(quantity, ..)| *quantity == LogQuantity::OutputCurrentA)
    {
        // A log of loads is no log of no load.
        return Ok(());
    }
    let beside = no_load::Beside {
        current_a: trace(LogQuantity::InputCurrentA),
        current_peak_a: trace(LogQuantity::InputCurrentPeakA),
        power_factor: trace(LogQuantity::PowerFactor),
    };
    let rules = config.method().standards.low_power.clone();
    let found = match no_load::findings(power, beside, &rules) {
        Ok(found) => found,
        Err(why) => {
            writeln!(out, "  taken as no load: {why}")?;
            return Ok(());
        }
    };
    writeln!(
        out,
        "  taken as no load: {} W, standard uncertainty from the scatter {} W ({:.0} degrees of freedom), method {}",
        short(found.power_w),
        short(found.scatter.u_w),
        found.scatter.degrees_of_freedom,
        found.method,
    )?;
    writeln!(
        out,
        "    over {:.0} s to {:.0} s; slope {} W/h, the method allows {} W/h{}",
        found.used_from_s,
        found.used_to_s,
        short(found.slope_w_per_h),
        short(found.slope_limit_w_per_h),
        match found.settled_at_s {
            Some(settled_at_s) => format!("; settled at {settled_at_s:.0} s"),
            None => "; it did not settle".to_owned(),
        }
    )?;
    for method in found.methods.iter().filter(|method| !method.used) {
        let beside = if method.applies { "also" } else { "not" };
        writeln!(out, "    {beside} {}: {}", method.method, method.why)?;
    }
    Ok(())
}

/// The word that documents use.
fn word(choice: &impl serde::Serialize) -> String {
    match serde_json::to_value(choice) {
        Ok(serde_json::Value::String(word)) => word,
        _ => String::new(),
    }
}

/// Six significant digits, for people; documents hold the figure itself.
fn short(value: f64) -> String {
    let digits = if value == 0.0 {
        0
    } else {
        (5 - value.abs().log10().floor() as i32).clamp(0, 9) as usize
    };
    format!("{value:.digits$}")
}

/// A bar on a terminal, a line now and then elsewhere.
enum Progress {
    Bar(ProgressBar),
    /// Length in bytes where known, and tenths of it, or hundred megabytes, told so far.
    Lines(Option<u64>, u64),
}

impl Progress {
    fn new(length: Option<u64>) -> Progress {
        if !io::stderr().is_terminal() {
            return Progress::Lines(length, 0);
        }
        let template = match length {
            Some(_) => "{bar:40} {bytes} of {total_bytes}, {bytes_per_sec}, {eta} left",
            None => "{spinner} {bytes}, {bytes_per_sec}",
        };
        let style = ProgressStyle::with_template(template).expect("the template is well-formed");
        let bar = match length {
            Some(length) => ProgressBar::new(length),
            None => ProgressBar::no_length(),
        };
        Progress::Bar(bar.with_style(style))
    }

    fn tell(&mut self, bytes: u64) {
        const HUNDRED_MEGABYTES: u64 = 100_000_000;
        match self {
            Progress::Bar(bar) => bar.set_position(bytes),
            Progress::Lines(length, told) => {
                let step = match length {
                    // A log that is read in a moment needs no word about it.
                    Some(length) => (*length / 10).max(HUNDRED_MEGABYTES / 10),
                    None => HUNDRED_MEGABYTES,
                };
                if bytes / step > *told {
                    *told = bytes / step;
                    match length {
                        Some(length) => eprintln!("{bytes} of {length} bytes"),
                        None => eprintln!("{bytes} bytes"),
                    }
                }
            }
        }
    }

    fn finish(&self) {
        if let Progress::Bar(bar) = self {
            bar.finish_and_clear();
        }
    }
}
