//! `publish-site`: the public site as a folder of files.

use super::{Failure, open_existing, web_config};
use crate::config::Config;
use crate::web::static_site::{self, Failed, Published};
use crate::web::{self, Site};
use indicatif::{HumanBytes, ProgressBar, ProgressStyle};
use sha2::{Digest, Sha256};
use std::io;
use std::path::PathBuf;
use std::sync::Arc;

/// Write the whole public site as files
///
/// Pages, charts, documents, pictures and raw logs of everything that is published, for any host or
/// content network that serves a folder. Filters, search and comparison work in the reader's
/// browser, from one data file. A later call into the same folder writes only what has changed and
/// removes what is no longer public. The settings must name the address of the site (public_url).
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    brickbook publish-site --public-url https://bricks.example site/\n  \
    rsync -a --delete site/ host:/var/www/bricks/")]
pub struct PublishSite {
    /// Folder to write into: empty, or one that an earlier call wrote
    folder: PathBuf,

    /// Also say how long it took, and how much of that the pages' templates alone
    #[arg(long)]
    timings: bool,
}

impl PublishSite {
    pub async fn run(self, config: &Config) -> Result<(), Failure> {
        if config.public_url.is_none() {
            return Err(Failure::Input(
                "public_url is not set; expected the address under which readers will find the \
                 files, such as --public-url https://bricks.example"
                    .to_owned(),
            ));
        }
        let db = open_existing(config).await?;
        let site = Site::open(
            web::Config {
                as_files: true,
                // Every page is asked for once.
                page_cache_bytes: 0,
                ..web_config(config)
            },
            db.clone(),
            Arc::new(config.method()),
        )
        .await?;
        let bar = ProgressBar::new(0).with_style(
            ProgressStyle::with_template("{bar:40} {pos} of {len} files, {eta} left")
                .expect("the template is well-formed"),
        );
        let progress = |done: usize, all: usize| {
            bar.set_length(all as u64);
            bar.set_position(done as u64);
        };
        let program = own_digest()?;
        let published = static_site::publish(&site, &self.folder, &program, &progress).await;
        bar.finish_and_clear();
        db.close().await;
        let Published {
            files,
            rendered,
            written,
            removed,
            bytes,
            at_work,
            in_templates,
        } = published?;

        println!(
            "{files} files, {rendered} rendered, {written} written ({}), {removed} removed",
            HumanBytes(bytes)
        );
        if self.timings {
            println!(
                "{:.3} s of {:.3} s in templates",
                in_templates.as_secs_f64(),
                at_work.as_secs_f64()
            );
        }
        Ok(())
    }
}

/// A digest of the running program: another build may render differently.
fn own_digest() -> Result<String, Failure> {
    let told = |cause: io::Error| Failure::Failed(format!("cannot read this program: {cause}"));
    let path = std::env::current_exe().map_err(told)?;
    let mut file = std::fs::File::open(path).map_err(told)?;
    let mut hash = Sha256::new();
    io::copy(&mut file, &mut HashWriter(&mut hash)).map_err(told)?;
    Ok(crate::quantity::words::hex(hash.finalize()))
}

struct HashWriter<'a>(&'a mut Sha256);

impl io::Write for HashWriter<'_> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.update(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl From<Failed> for Failure {
    fn from(failed: Failed) -> Failure {
        match failed {
            Failed::NotOurs(_) => Failure::Input(failed.to_string()),
            other => Failure::Failed(other.to_string()),
        }
    }
}
