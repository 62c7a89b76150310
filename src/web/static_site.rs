//! The whole public site as files, for any host that serves a folder: pages, charts, documents and
//! downloads, rendered by the very routes that serve readers.
//!
//! What was written is remembered in a manifest in the folder. A page of which nothing that it
//! depends on has changed is not rendered again, and a file whose bytes are the same is not
//! written again.

use super::{
    Site, assets,
    error::Error,
    pages,
    state::Public,
    urls::{self, Query, percent_decoded},
};
use crate::{
    chart::ClassOverview,
    quantity::words,
    ranking::{Filter, Row, SortKey},
    standards::usage,
    storage::{self, published},
};
use axum::{
    Router,
    body::{Body, HttpBody},
    http::{Request, StatusCode, header},
    response::Response,
};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::{
    collections::{BTreeMap, HashMap},
    future::poll_fn,
    io::{self, Write},
    path::{Component, Path, PathBuf},
    pin::Pin,
    sync::{
        Mutex,
        atomic::{AtomicUsize, Ordering},
    },
    time::{Duration, Instant},
};
use tower::ServiceExt;

/// Name of the manifest in the folder.
pub const MANIFEST: &str = ".brickbook-site.json";
const FORMAT: &str = "brickbook-site/1";

/// What became of one call.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Published {
    /// Files of the site.
    pub files: usize,
    /// Rendered in this call.
    pub rendered: usize,
    /// New or different, so written.
    pub written: usize,
    /// No longer part of the site.
    pub removed: usize,
    /// Of what was written.
    pub bytes: u64,
    /// Time of all workers together.
    pub at_work: Duration,
    /// Of which in filling the pages' templates alone: nothing read, drawn, hashed or written.
    pub in_templates: Duration,
}

/// Why the site could not be written.
#[derive(Debug, thiserror::Error)]
pub enum Failed {
    #[error("{path}: {cause}")]
    File { path: String, cause: io::Error },
    #[error("{0} holds files that this program did not write; choose an empty folder")]
    NotOurs(String),
    #[error("{path} cannot be rendered: {status}")]
    Page { path: String, status: StatusCode },
    #[error(transparent)]
    Storage(#[from] storage::Error),
}

fn at(path: &Path) -> impl FnOnce(io::Error) -> Failed {
    let path = path.display().to_string();
    move |cause| Failed::File { path, cause }
}

/// One file of the site.
#[derive(Debug)]
struct Wanted {
    /// What a reader's browser asks for.
    address: String,
    /// Below the folder.
    file: PathBuf,
    /// Digest of everything that it depends on.
    depends_on: String,
    /// The answer is expected to say so: the page for addresses that do not exist.
    not_found: bool,
}

#[derive(Debug, Default, Serialize, Deserialize)]
struct Manifest {
    format: String,
    files: BTreeMap<String, Entry>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct Entry {
    depends_on: String,
    sha256: String,
}

/// Writes the site into `folder`. `program` names the running program's version, byte for byte:
/// another one may render differently. `progress` is told how many of how many files are done.
///
/// # Errors
/// The folder holds files of others, something cannot be written, or a page fails. What was written
/// by then stays and is made good by the next call.
pub async fn publish(
    site: &Site,
    folder: &Path,
    program: &str,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Published, Failed> {
    let before = read_manifest(folder)?;
    std::fs::create_dir_all(folder).map_err(at(folder))?;
    // From the first file on the folder is known as ours, also if this call is cut short.
    if before.format.is_empty() {
        write_manifest(folder, BTreeMap::new())?;
    }
    let wanted = wanted(site, program).await?;
    let work = Work {
        router: super::app(site.clone()),
        host: site.config.public_url.as_deref().map_or_else(
            || "localhost".to_owned(),
            |url| {
                url.split_once("://")
                    .map_or(url, |(_, host)| host)
                    .to_owned()
            },
        ),
        folder,
        before: &before,
        wanted: &wanted,
        next: AtomicUsize::new(0),
        done: AtomicUsize::new(0),
        entries: Mutex::new(Vec::with_capacity(wanted.len())),
        sums: Mutex::new(Published {
            files: wanted.len(),
            ..Published::default()
        }),
    };
    let workers = std::thread::available_parallelism().map_or(1, |n| n.get());
    // On threads of their own: rendering is work, not waiting.
    let handle = tokio::runtime::Handle::current();
    let outcome: Result<(), Failed> = std::thread::scope(|scope| {
        let running: Vec<_> = (0..workers)
            .map(|_| {
                let (work, handle) = (&work, handle.clone());
                scope.spawn(move || handle.block_on(work.run(progress)))
            })
            .collect();
        running
            .into_iter()
            .try_for_each(|worker| worker.join().expect("a worker does not panic"))
    });
    outcome?;
    let mut sums = work.sums.into_inner().expect("no worker panicked");
    let files: BTreeMap<String, Entry> = work
        .entries
        .into_inner()
        .expect("no worker panicked")
        .into_iter()
        .collect();
    for name in before
        .files
        .keys()
        .filter(|name| !files.contains_key(*name))
    {
        if let Some(path) = inside(folder, Path::new(name)) {
            match std::fs::remove_file(&path) {
                Ok(()) => sums.removed += 1,
                Err(cause) if cause.kind() == io::ErrorKind::NotFound => {}
                Err(cause) => return Err(at(&path)(cause)),
            }
            // Folders that are empty now; the first that is not ends it.
            let mut above = path.parent();
            while let Some(empty) = above.filter(|p| *p != folder && std::fs::remove_dir(p).is_ok())
            {
                above = empty.parent();
            }
        }
    }
    write_manifest(folder, files)?;
    Ok(sums)
}

/// What the workers share.
struct Work<'a> {
    router: Router,
    host: String,
    folder: &'a Path,
    before: &'a Manifest,
    wanted: &'a [Wanted],
    next: AtomicUsize,
    done: AtomicUsize,
    entries: Mutex<Vec<(String, Entry)>>,
    sums: Mutex<Published>,
}

impl Work<'_> {
    async fn run(&self, progress: &(dyn Fn(usize, usize) + Sync)) -> Result<(), Failed> {
        let began = Instant::now();
        pages::time_in_templates();
        while let Some(wanted) = self.wanted.get(self.next.fetch_add(1, Ordering::Relaxed)) {
            let entry = self.one(wanted).await?;
            self.entries
                .lock()
                .expect("no worker panicked")
                .push((name_of(&wanted.file), entry));
            progress(
                self.done.fetch_add(1, Ordering::Relaxed) + 1,
                self.wanted.len(),
            );
        }
        let mut sums = self.sums.lock().expect("no worker panicked");
        sums.at_work += began.elapsed();
        sums.in_templates += pages::time_in_templates();
        Ok(())
    }

    async fn one(&self, wanted: &Wanted) -> Result<Entry, Failed> {
        let path = self.folder.join(&wanted.file);
        let known = self.before.files.get(&name_of(&wanted.file));
        let is_there = known.is_some() && path.is_file();
        if let Some(entry) = known
            && is_there
            && entry.depends_on == wanted.depends_on
        {
            return Ok(entry.clone());
        }
        let request = Request::get(&wanted.address)
            .header(header::HOST, &self.host)
            .body(Body::empty())
            .expect("addresses are made for requests");
        let response = self
            .router
            .clone()
            .oneshot(request)
            .await
            .expect("the site always answers");
        let expected = if wanted.not_found {
            StatusCode::NOT_FOUND
        } else {
            StatusCode::OK
        };
        if response.status() != expected {
            return Err(Failed::Page {
                path: wanted.address.clone(),
                status: response.status(),
            });
        }
        let parent = path.parent().unwrap_or(self.folder);
        std::fs::create_dir_all(parent).map_err(at(parent))?;
        let mut fresh = tempfile_in(parent)?;
        let (sha256, bytes) = save(response, &mut fresh, &wanted.address).await?;
        let same = is_there && known.is_some_and(|entry| entry.sha256 == sha256);
        if same {
            fresh.discard();
        } else {
            fresh.become_file(&path)?;
        }
        let mut sums = self.sums.lock().expect("no worker panicked");
        sums.rendered += 1;
        if !same {
            sums.written += 1;
            sums.bytes += bytes;
        }
        Ok(Entry {
            depends_on: wanted.depends_on.clone(),
            sha256,
        })
    }
}

/// A file under another name until it is whole.
struct Fresh {
    path: PathBuf,
    file: Option<std::fs::File>,
}

fn tempfile_in(folder: &Path) -> Result<Fresh, Failed> {
    static COUNT: AtomicUsize = AtomicUsize::new(0);
    let number = COUNT.fetch_add(1, Ordering::Relaxed);
    let path = folder.join(format!(".{}-{number}.unfinished", std::process::id()));
    let file = std::fs::File::create(&path).map_err(at(&path))?;
    Ok(Fresh {
        path,
        file: Some(file),
    })
}

impl Fresh {
    fn become_file(mut self, path: &Path) -> Result<(), Failed> {
        self.file = None;
        std::fs::rename(&self.path, path).map_err(at(path))
    }

    fn discard(mut self) {
        self.file = None;
    }
}

impl Drop for Fresh {
    fn drop(&mut self) {
        // After a rename nothing is there any more.
        let _ = std::fs::remove_file(&self.path);
    }
}

/// Writes a response's body piece by piece: a log may be large. Its SHA-256 and length.
async fn save(
    response: Response,
    fresh: &mut Fresh,
    address: &str,
) -> Result<(String, u64), Failed> {
    let mut body = response.into_body();
    let mut hash = Sha256::new();
    let mut length = 0;
    let file = fresh.file.as_mut().expect("it is open until it is whole");
    while let Some(frame) = poll_fn(|context| Pin::new(&mut body).poll_frame(context)).await {
        let frame = frame.map_err(|cause| Failed::File {
            path: address.to_owned(),
            cause: io::Error::other(cause),
        })?;
        if let Ok(bytes) = frame.into_data() {
            hash.update(&bytes);
            length += bytes.len() as u64;
            file.write_all(&bytes).map_err(at(&fresh.path))?;
        }
    }
    Ok((words::hex(hash.finalize()), length))
}

/// Every file of the site with what it depends on.
async fn wanted(site: &Site, program: &str) -> Result<Vec<Wanted>, Failed> {
    let data = site.public();
    let mut connection = site.db.snapshot().await?;
    let revisions = published::revisions(&mut connection).await?;
    let logs = published::logs(&mut connection).await?;
    let photos = published::photos(&mut connection).await?;
    drop(connection);

    // Program, settings and method: what every page depends on.
    let config = &site.config;
    let base = digest([
        program,
        &format!(
            "{:?} {} {:?} {:?} {:?} {:?} {}",
            config.public_url,
            config.site_name,
            config.languages,
            config.tariff,
            config.licence,
            config.tester,
            site.is_demo()
        ),
        site.method.digest(),
    ]);
    let everything = digest([&base, &data.change().to_string()]);
    let classes = Classes::of(site, &data);
    let mut all = Vec::new();
    let mut add = |address: String, depends_on: &str| {
        all.push(Wanted {
            file: file_of(&address),
            address,
            depends_on: depends_on.to_owned(),
            not_found: false,
        });
    };
    for address in general_pages() {
        add(address, &everything);
    }
    for regime in &site.method.standards.regimes {
        add(urls::regime(&regime.id), &everything);
        add(preview_of("regime", &regime.id), &everything);
    }
    for class in &site.method.classes {
        let depends_on = digest([&base, classes.whole(&class.id)]);
        let page = digest([&depends_on, &classes.around]);
        add(urls::class(&class.id), &page);
        for address in tables(&urls::class(&class.id)) {
            add(address, &depends_on);
        }
        add(urls::class_preview(&class.id), &depends_on);
        add(urls::class_chart(&class.id), &depends_on);
        // It names each unit's revision.
        let mut newest = Sha256::new();
        for revision in revisions.iter().filter(|one| {
            let row = data.standings.row(&one.slug);
            row.is_some_and(|row| row.class.id == class.id)
        }) {
            newest.update(format!("{revision:?}"));
        }
        let report = digest([&depends_on, &words::hex(newest.finalize())]);
        add(urls::class_report(&class.id), &report);
    }
    for address in assets::urls() {
        // Its hash is in its address.
        add(address.to_owned(), "");
    }

    let mut by_unit: HashMap<&str, Vec<&published::PublishedRevision>> = HashMap::new();
    for revision in &revisions {
        by_unit.entry(&revision.slug).or_default().push(revision);
    }
    // Logs and photos that are at hand: pages say so of those that are not.
    let mut at_hand: HashMap<&str, Sha256> = HashMap::new();
    let kept_logs: Vec<&published::PublishedLog> = logs
        .iter()
        .filter(|log| site.db.logs().is_kept(&log.sha256))
        .collect();
    for log in &kept_logs {
        at_hand
            .entry(&log.slug)
            .or_default()
            .update(format!("{log:?}"));
    }
    for photo in &photos {
        at_hand
            .entry(&photo.slug)
            .or_default()
            .update(format!("{photo:?}"));
    }
    for row in data.standings.rows() {
        let slug = row.slug.as_str();
        let own = by_unit.get(slug).map_or(&[][..], Vec::as_slice);
        let at_hand = at_hand
            .remove(slug)
            .map_or(String::new(), |hash| words::hex(hash.finalize()));
        let measured = digest([&base, &format!("{own:?}"), &at_hand]);
        let ranks = data.standings.ranks(slug);
        let ranked = digest([&measured, &format!("{ranks:?}")]);
        let among = digest([&ranked, &classes.around_unit(&data, row)]);
        add(urls::unit(slug), &among);
        let newest = own.last().map(|revision| revision.number);
        for revision in own {
            add(urls::revision(slug, revision.number), &measured);
            // The newest revision's is the unit's.
            if Some(revision.number) != newest {
                add(urls::unit_report(slug, Some(revision.number)), &measured);
            }
        }
        for address in [
            urls::unit_report(slug, None),
            urls::unit_preview(slug),
            urls::unit_badge(slug),
        ] {
            add(address, &ranked);
        }
        add(urls::unit_chart(slug), &measured);
        add(urls::unit_record(slug), &measured);
        add(urls::unit_evaluation(slug), &measured);
    }
    let mut newest: BTreeMap<String, &str> = BTreeMap::new();
    for log in kept_logs {
        add(
            urls::unit_log_exactly(&log.slug, &log.name, &log.sha256),
            "",
        );
        newest.insert(urls::unit_log(&log.slug, &log.name), &log.sha256);
    }
    for (address, sha256) in newest {
        add(address, sha256);
    }
    for photo in &photos {
        add(urls::unit_photo(&photo.slug, &photo.sha256), "");
        add(urls::unit_thumbnail(&photo.slug, &photo.sha256), "");
    }
    let others: Vec<Wanted> = all
        .iter()
        .filter(|wanted| urls::has_languages(&wanted.address))
        .flat_map(|wanted| {
            let languages = config.languages.iter();
            languages.map(|language| {
                let address = urls::in_language(&wanted.address, *language);
                Wanted {
                    file: file_of(&address),
                    address,
                    depends_on: wanted.depends_on.clone(),
                    not_found: false,
                }
            })
        })
        .collect();
    all.extend(others);
    all.push(Wanted {
        address: "/404".to_owned(),
        file: PathBuf::from("404.html"),
        depends_on: everything,
        not_found: true,
    });
    let mut seen = std::collections::HashSet::new();
    all.retain(|wanted| seen.insert(wanted.file.clone()));
    Ok(all)
}

/// Pages, downloads and pictures that are there once.
fn general_pages() -> Vec<String> {
    let mut all = vec![
        urls::HOME.to_owned(),
        urls::COMPARE.to_owned(),
        urls::REGIMES.to_owned(),
        urls::METHOD.to_owned(),
        urls::HOME_PREVIEW.to_owned(),
        urls::SITE_DATA.to_owned(),
        urls::SITEMAP.to_owned(),
        urls::COMING.to_owned(),
        urls::COMING_CALENDAR.to_owned(),
        urls::FEED.to_owned(),
        urls::USE.to_owned(),
        urls::ROBOTS.to_owned(),
    ];
    all.extend(tables(urls::HOME));
    for about in ["rules", "method", "use", "coming"] {
        all.push(preview_of("about", about));
    }
    for profile in usage::profiles() {
        all.push(urls::use_profile(&profile.id));
        all.extend(tables(&urls::use_profile(&profile.id)));
        all.push(preview_of("use", &profile.id));
    }
    for address in [
        pages::at_wattage::usual_address(),
        pages::trade_offs::usual_address(),
    ] {
        all.extend(tables(&address));
        all.push(address);
    }
    all.push(pages::at_wattage::usual_preview());
    all.push(pages::trade_offs::usual_preview());
    all
}

/// `/preview.png?{name}={value}`
fn preview_of(name: &str, value: &str) -> String {
    urls::preview(&Query::new().with(name, value))
}

/// The downloads below a list.
fn tables(address: &str) -> [String; 2] {
    let (path, query) = address.split_once('?').unwrap_or((address, ""));
    let path = path.trim_end_matches('/');
    ["csv", "json"].map(|ending| {
        if query.is_empty() {
            format!("{path}/table.{ending}")
        } else {
            format!("{path}/table.{ending}?{query}")
        }
    })
}

/// What pages show of the units of a class.
struct Classes<'a> {
    /// By class id, in order of score.
    rows: BTreeMap<&'a str, Vec<&'a Row>>,
    /// Place of each unit in its class.
    places: HashMap<&'a str, usize>,
    /// A digest of all rows, by class id.
    whole: BTreeMap<&'a str, String>,
    /// A digest of what a unit's chart draws of its class, by class id.
    drawn: BTreeMap<&'a str, String>,
    /// A digest of what every class's page says of the others.
    around: String,
}

impl<'a> Classes<'a> {
    fn of(site: &Site, data: &'a Public) -> Classes<'a> {
        let mut rows: BTreeMap<&str, Vec<&Row>> = BTreeMap::new();
        for row in data.standings.all(&Filter::default(), SortKey::Score, true) {
            rows.entry(&row.class.id).or_default().push(row);
        }
        Classes {
            places: rows
                .values()
                .flat_map(|rows| rows.iter().enumerate())
                .map(|(place, row)| (row.slug.as_str(), place))
                .collect(),
            whole: rows
                .iter()
                .map(|(class, rows)| {
                    let mut hash = Sha256::new();
                    for row in rows {
                        hash.update(serde_json::to_vec(row).expect("a row is JSON"));
                    }
                    (*class, words::hex(hash.finalize()))
                })
                .collect(),
            drawn: rows
                .iter()
                .map(|(class, rows)| {
                    let mut hash = Sha256::new();
                    for row in ClassOverview::shown_behind_a_unit(rows) {
                        let line = (row.name(), &row.curve, row.output_power_w, &row.slug);
                        hash.update(format!("{line:?}"));
                    }
                    let drawn = words::hex(hash.finalize());
                    (*class, format!("{drawn} {}", rows.len()))
                })
                .collect(),
            around: format!(
                "{:?} {:?} {:?} {:?} {}",
                data.makers,
                data.class_counts,
                data.currencies,
                data.present,
                site.is_demo()
            ),
            rows,
        }
    }

    fn whole(&self, class: &str) -> &str {
        self.whole.get(class).map_or("", String::as_str)
    }

    /// A digest of what a unit's page says of others: the neighbours in its class, and the lines
    /// behind its own.
    fn around_unit(&self, data: &Public, row: &Row) -> String {
        let class = row.class.id.as_str();
        let (Some(rows), Some(place)) = (self.rows.get(class), self.places.get(row.slug.as_str()))
        else {
            return String::new();
        };
        let mut hash = Sha256::new();
        hash.update(self.drawn.get(class).map_or("", String::as_str));
        for other in pages::unit::neighbours_of(rows, *place) {
            hash.update(serde_json::to_vec(other).expect("a row is JSON"));
            hash.update(format!("{:?}", data.standings.ranks(&other.slug)));
        }
        words::hex(hash.finalize())
    }
}

fn digest<const N: usize>(parts: [&str; N]) -> String {
    let mut hash = Sha256::new();
    for part in parts {
        hash.update(part.len().to_le_bytes());
        hash.update(part);
    }
    words::hex(&hash.finalize()[..16])
}

/// Where a plain file server looks for an address: a last part with an ending, and everything that
/// is kept under its own name, is a file; everything else a folder with a page in it.
fn file_of(address: &str) -> PathBuf {
    let picture = urls::preview_file(address);
    let path = picture.split('?').next().unwrap_or(&picture);
    let parts: Vec<String> = path
        .split('/')
        .filter(|part| !part.is_empty())
        .map(percent_decoded)
        .collect();
    let is_log = parts.len() >= 4 && parts[0] == "unit" && parts[2] == "log";
    let is_file = is_log || parts.last().is_some_and(|last| last.contains('.'));
    let mut file: PathBuf = parts.iter().collect();
    if !is_file {
        file.push("index.html");
    }
    file
}

/// As the manifest calls it.
fn name_of(file: &Path) -> String {
    file.to_string_lossy().into_owned()
}

/// A file below `folder`; nothing that leads out of it.
fn inside(folder: &Path, file: &Path) -> Option<PathBuf> {
    file.components()
        .all(|part| matches!(part, Component::Normal(_)))
        .then(|| folder.join(file))
}

fn read_manifest(folder: &Path) -> Result<Manifest, Failed> {
    let path = folder.join(MANIFEST);
    match std::fs::read(&path) {
        Ok(bytes) => serde_json::from_slice(&bytes)
            .map_err(io::Error::other)
            .map_err(at(&path)),
        Err(cause) if cause.kind() == io::ErrorKind::NotFound => {
            let is_empty = match std::fs::read_dir(folder) {
                Ok(mut entries) => entries.next().is_none(),
                Err(cause) if cause.kind() == io::ErrorKind::NotFound => true,
                Err(cause) => return Err(at(folder)(cause)),
            };
            if is_empty {
                Ok(Manifest::default())
            } else {
                Err(Failed::NotOurs(folder.display().to_string()))
            }
        }
        Err(cause) => Err(at(&path)(cause)),
    }
}

fn write_manifest(folder: &Path, files: BTreeMap<String, Entry>) -> Result<(), Failed> {
    let manifest = Manifest {
        format: FORMAT.to_owned(),
        files,
    };
    let path = folder.join(MANIFEST);
    let mut fresh = tempfile_in(folder)?;
    let file = fresh.file.as_mut().expect("just made");
    let text = serde_json::to_vec(&manifest).expect("a manifest is JSON");
    file.write_all(&text).map_err(at(&path))?;
    fresh.become_file(&path)
}

impl From<Failed> for Error {
    fn from(failed: Failed) -> Error {
        Error::internal(failed)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        demo,
        evaluate::Method,
        intake::submit::{Submission, Target, submit},
    };
    use std::sync::Arc;

    #[test]
    fn an_address_is_a_file_where_a_plain_server_looks_for_it() {
        let file = |address| name_of(&file_of(address));
        assert_eq!(file("/"), "index.html");
        assert_eq!(file("/unit/lf-100q"), "unit/lf-100q/index.html");
        assert_eq!(
            file("/unit/lf-100q/record.json"),
            "unit/lf-100q/record.json"
        );
        assert_eq!(
            file("/unit/lf-100q/log/idle%20run"),
            "unit/lf-100q/log/idle run"
        );
        assert_eq!(file("/static/0abc/site.css"), "static/0abc/site.css");
        assert_eq!(file("/at?w=20"), "at/index.html");
        assert_eq!(
            file("/preview.png?x=price&y=score"),
            "previews/x-price-y-score.png"
        );
        assert_eq!(file("/de/"), "de/index.html");
        assert_eq!(file("/de/unit/lf-100q"), "de/unit/lf-100q/index.html");
    }

    #[test]
    fn nothing_is_removed_outside_of_the_folder() {
        let folder = Path::new("/srv/site");
        assert!(inside(folder, Path::new("unit/a/index.html")).is_some());
        for evil in ["../x", "/etc/passwd", "unit/../../x"] {
            assert_eq!(inside(folder, Path::new(evil)), None, "{evil}");
        }
    }

    async fn published(db: &crate::storage::Db, text: &str, target: Target) {
        let submission = Submission {
            text,
            target,
            author: "Ada",
            reason: "read again",
            now: time::macros::datetime!(2026-09-02 10:00 UTC),
        };
        submit(db, &submission, &Method::standard())
            .await
            .expect("an invented record is taken in");
    }

    /// Files by address, with what they depend on.
    async fn dependencies(db: &crate::storage::Db) -> BTreeMap<String, String> {
        let config = crate::web::Config {
            as_files: true,
            ..crate::web::Config::default()
        };
        let site = Site::open(config, db.clone(), Arc::new(Method::standard()))
            .await
            .expect("the site opens");
        let all = wanted(&site, "a program").await.expect("a list of files");
        all.into_iter()
            .map(|one| (one.address, one.depends_on))
            .collect()
    }

    #[tokio::test]
    async fn of_500_units_a_corrected_one_concerns_itself_its_neighbours_and_the_lists() {
        let folder = tempfile::tempdir().expect("a folder");
        let db = crate::storage::Db::open(&folder.path().join("test.db"))
            .await
            .expect("a database");
        let records: Vec<_> = (0..500).map(|index| demo::invent(7, index)).collect();
        for record in &records {
            let text = serde_json::to_string(record).expect("a record is JSON");
            published(&db, &text, Target::New).await;
        }
        let before = dependencies(&db).await;
        assert_eq!(before, dependencies(&db).await, "nothing has changed");

        let mut record = records[250].clone();
        let slug = demo::file_name(&record).replace(".json", "");
        // So little that no unit changes its place.
        for no_load in record
            .runs
            .iter_mut()
            .filter_map(|run| run.no_load.as_mut())
        {
            no_load.power_w = no_load.power_w.map(|watts| watts + 1e-6);
        }
        let text = serde_json::to_string(&record).expect("a record is JSON");
        published(&db, &text, Target::Revise(slug.clone())).await;
        let after = dependencies(&db).await;

        let is_gone = before.keys().any(|address| !after.contains_key(address));
        assert!(!is_gone, "what was there stays");
        let changed: Vec<&str> = after
            .iter()
            .filter(|(address, digest)| before.get(*address) != Some(digest))
            .map(|(address, _)| address.as_str())
            .collect();
        let own = format!("/unit/{slug}");
        let others: Vec<&str> = changed
            .iter()
            .copied()
            .filter(|address| address.starts_with("/unit/") && !address.starts_with(&own))
            .collect();
        // Pages of neighbours, which show its figures, and nothing else of them: no report, no
        // chart, no earlier revision, no document. Ranks may shift where an uncertainty does.
        for address in &others {
            assert!(!address.ends_with(".json"), "{address}");
            assert!(!address.contains("/revision/"), "{address}");
            assert!(!address.ends_with("/chart.svg"), "{address}");
        }
        let pages = others.iter().filter(|a| a.matches('/').count() == 2);
        assert!((1..=16).contains(&pages.count()), "{others:#?}");
        assert!(changed.contains(&own.as_str()) && changed.contains(&"/"));
        let class = |address: &&str| address.starts_with("/class/");
        let classes: std::collections::BTreeSet<&str> = changed
            .iter()
            .copied()
            .filter(class)
            .filter_map(|address| address.split('/').nth(2))
            .collect();
        assert_eq!(classes.len(), 1, "only its own class: {classes:?}");
        // Each page in each language.
        let most = 120 * crate::text::Language::ALL.len();
        assert!(changed.len() < most, "{} of {}", changed.len(), after.len());
    }

    #[test]
    fn digests_do_not_run_into_each_other() {
        assert_ne!(digest(["ab", "c"]), digest(["a", "bc"]));
    }
}
