//! `report`: a unit's or a class's printable report, as the site serves it.

use super::{Failure, open_existing};
use crate::config::Config;
use crate::paper::{self, Paper};
use crate::ranking::Standings;
use crate::storage::{Db, rankings, settings};
use crate::web::error::Error;
use crate::web::pages::report::{class_report, photos_of, unit_inputs};
use crate::web::pages::unit::ranks_of;
use crate::web::report::{ClassReport, Issuer, UnitReport, class_document, unit_document};
use clap::ValueEnum;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Write a unit's or a class's printable report (PDF)
///
/// The same report that the site serves: identity, conditions, instruments, methods, results with
/// uncertainty, verdicts with the decision rule, charts, photos, history. The same record,
/// revision and program give the same file. Who tests is set by --tester-name and the settings
/// after it.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    brickbook report larkfield-lf-100q\n  \
    brickbook report larkfield-lf-100q --revision 1 -o first.pdf\n  \
    brickbook report --class 30-65 --paper letter -o class.pdf")]
pub struct Report {
    /// The published unit (the last part of its address)
    #[arg(value_name = "UNIT", required_unless_present = "class")]
    slug: Option<String>,

    /// A wattage class instead, by its id (the last part of its address)
    #[arg(long, value_name = "ID", conflicts_with_all = ["slug", "revision"])]
    class: Option<String>,

    /// Which revision [default: the newest]
    #[arg(long, value_name = "NUMBER")]
    revision: Option<i64>,

    /// Size of the sheets
    #[arg(long, value_enum, default_value_t = Sheet::A4)]
    paper: Sheet,

    /// Where to write, - for standard output [default: UNIT-rN.pdf or class-ID.pdf]
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Sheet {
    A4,
    Letter,
}

impl Report {
    pub async fn run(self, config: &Config) -> Result<(), Failure> {
        let db = open_existing(config).await?;
        let (report, name) = self.gathered(&db, config).await?;
        // Photos are read while their pages are drawn, which must not hold up the runtime.
        let pdf = tokio::task::spawn_blocking(move || paper::pdf(report.document()))
            .await
            .map_err(|cause| Failure::Failed(cause.to_string()))?
            .map_err(|cause| Failure::Failed(cause.to_string()))?;
        db.close().await;
        let path = self.output.unwrap_or_else(|| PathBuf::from(name));
        if path.as_os_str() == "-" {
            let mut out = io::stdout().lock();
            out.write_all(&pdf)?;
            out.flush()?;
            return Ok(());
        }
        write_whole(&path, &pdf)
            .map_err(|cause| Failure::Failed(format!("{}: {cause}", path.display())))?;
        writeln!(io::stdout(), "{}: {} bytes", path.display(), pdf.len())?;
        Ok(())
    }

    async fn gathered(&self, db: &Db, config: &Config) -> Result<(Gathered, String), Failure> {
        let method = Arc::new(config.method());
        let mut moment = db.snapshot().await?;
        let issuer = Issuer {
            site_name: config.site_name.clone(),
            public_url: config.public_url.clone(),
            tester: config.tester.clone(),
            demo: settings::is_demo(&mut moment).await?,
            paper: match self.paper {
                Sheet::A4 => Paper::A4,
                Sheet::Letter => Paper::Letter,
            },
        };
        let standings = Standings::new(rankings::all(&mut moment).await?);
        if let Some(id) = &self.class {
            let report = class_report(&mut moment, &method, &standings, id, issuer).await?;
            return Ok((Gathered::Class(Box::new(report)), format!("class-{id}.pdf")));
        }
        let slug = self.slug.as_deref().unwrap_or_default();
        let ranks = match self.revision {
            None => ranks_of(&standings, slug),
            Some(_) => None,
        };
        let inputs = unit_inputs(&mut moment, slug, self.revision, ranks).await?;
        let name = format!("{slug}-r{}.pdf", inputs.publication.revision);
        let report = inputs.report(method, issuer, photos_of(db));
        Ok((Gathered::Unit(Box::new(report)), name))
    }
}

/// All that a report is made of.
enum Gathered {
    Unit(Box<UnitReport>),
    Class(Box<ClassReport>),
}

impl Gathered {
    fn document(&self) -> paper::Document {
        match self {
            Gathered::Unit(report) => unit_document(report),
            Gathered::Class(report) => class_document(report),
        }
    }
}

/// A file appears under its name only when it is whole.
fn write_whole(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let unfinished = PathBuf::from(format!("{}.unfinished", path.display()));
    let mut file = std::fs::File::create(&unfinished)?;
    file.write_all(bytes)?;
    file.sync_all()?;
    std::fs::rename(&unfinished, path)
}

/// What is asked for is not there, or it cannot be read.
impl From<Error> for Failure {
    fn from(error: Error) -> Self {
        match error {
            Error::NotFound(words) => Failure::Input(words),
            Error::Internal(cause) => Failure::Failed(cause.to_string()),
            other => Failure::Failed(other.to_string()),
        }
    }
}
