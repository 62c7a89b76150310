//! What handlers may reach.

use super::{
    auth::Auth, cache::PageCache, error::Error, limits::Limiter, log_readings::LogReadings,
    metrics::Metrics, pages::report::Reports,
};
use crate::{
    bench::likeness::Known,
    chart::ClassOverview,
    config::{Limits, Tariff, Tester},
    evaluate::Method,
    ranking::{Filter, Row, SortKey, Standings},
    storage::{
        self, Db, audit, backup_schedule::Watch, operators, public_change, rankings, sessions,
        settings,
    },
    text::Language,
};
use arc_swap::ArcSwap;
use std::{
    collections::BTreeMap,
    net::{IpAddr, SocketAddr},
    sync::{Arc, OnceLock},
    time::Duration,
};
use time::OffsetDateTime;

/// Name of the cookie that holds a session's token. Over HTTPS it may carry a prefix before it.
pub const SESSION_COOKIE: &str = "brickbook_session";

/// How often what is too old is forgotten.
const FORGET_EVERY: Duration = Duration::from_secs(6 * 3600);

/// How often another process's changes are looked for.
const WATCH_EVERY: Duration = Duration::from_secs(1);

/// Everything about the site that whoever runs it may choose.
#[derive(Debug, Clone)]
pub struct Config {
    pub listen: SocketAddr,
    /// `https://host[:port]` without a path or slash at the end, where the site knows it. Without
    /// it, absolute addresses are built from each request's `Host`.
    pub public_url: Option<String>,
    pub site_name: String,
    /// Languages of public pages, English among them.
    pub languages: Vec<Language>,
    /// Says on every page that the data is invented, even if the database doesn't.
    pub demo: bool,
    /// Pages are written as files for a host that only serves a folder: nothing leads to what needs
    /// this program, and filters and comparisons work in the reader's browser.
    pub as_files: bool,
    pub body_limit_bytes: usize,
    /// The largest raw log that is taken in.
    pub log_limit_bytes: u64,
    /// A client gets this long to send the head of a request, and an idle connection to send its
    /// next.
    pub head_deadline: Duration,
    /// From the end of a request's head to the answer, its body included. A log that is
    /// uploaded may take longer, but no longer than this without a byte.
    pub request_timeout: Duration,
    /// Requests under way when told to stop get this long.
    pub shutdown_deadline: Duration,
    pub page_cache_bytes: u64,
    /// A cache in front that many readers share may answer with a public page this long without
    /// asking: the longest that a correction stays unseen there.
    pub shared_cache_s: u32,
    /// Cookies go over HTTPS alone.
    pub secure_cookies: bool,
    /// Proxies whose `X-Forwarded-For` tells where a request comes from. From anybody else the
    /// header is ignored.
    pub trusted_proxies: Vec<IpAddr>,
    /// How often what may be asked from one address.
    pub limits: Limits,
    /// Connections that are served at once; more wait.
    pub max_connections: usize,
    /// How long lines of the audit log are kept.
    pub audit_keep: time::Duration,
    /// Price of electrical energy that pages start from.
    pub tariff: Option<Tariff>,
    /// Terms of use, one line, that stand in every download.
    pub licence: Option<String>,
    /// Who tests, for printed reports.
    pub tester: Tester,
    /// A second address that serves metrics, and nothing else.
    pub metrics_listen: Option<SocketAddr>,
    /// With less room on the disk of the data the site calls itself not ready.
    pub disk_reserve_bytes: u64,
    /// How often a backup is made, where the server makes them by itself.
    pub backup_every: Option<Duration>,
    /// How those backups stand, for metrics.
    pub backups: Option<Watch>,
}

impl Default for Config {
    fn default() -> Config {
        Config {
            listen: SocketAddr::from(([127, 0, 0, 1], 8080)),
            public_url: None,
            site_name: "Brickbook".to_owned(),
            languages: Language::ALL.to_vec(),
            demo: false,
            as_files: false,
            body_limit_bytes: 4 << 20,
            log_limit_bytes: 2_000_000_000,
            head_deadline: Duration::from_secs(30),
            request_timeout: Duration::from_secs(30),
            shutdown_deadline: Duration::from_secs(20),
            page_cache_bytes: 8 << 20,
            shared_cache_s: 60,
            secure_cookies: false,
            trusted_proxies: Vec::new(),
            limits: Limits::default(),
            max_connections: 800,
            audit_keep: time::Duration::days(1_095),
            tariff: None,
            licence: None,
            tester: Tester::default(),
            metrics_listen: None,
            disk_reserve_bytes: 200_000_000,
            backup_every: None,
            backups: None,
        }
    }
}

/// The present time, handed in so that tests can choose it.
#[derive(Clone)]
pub struct Clock(Arc<dyn Fn() -> OffsetDateTime + Send + Sync>);

impl Clock {
    pub fn system() -> Clock {
        Clock::from(OffsetDateTime::now_utc)
    }

    pub fn from(now: impl Fn() -> OffsetDateTime + Send + Sync + 'static) -> Clock {
        Clock(Arc::new(now))
    }

    /// Now, in UTC.
    pub fn now(&self) -> OffsetDateTime {
        (self.0)()
    }
}

/// The running site; cheap to clone.
#[derive(Clone)]
pub struct Site(Arc<Inner>);

pub struct Inner {
    pub config: Config,
    pub db: Db,
    pub method: Arc<Method>,
    pub clock: Clock,
    pub pages: PageCache,
    pub auth: Auth,
    pub log_readings: LogReadings,
    /// Holds back whoever suggests too much.
    pub suggestions: Limiter<IpAddr>,
    /// Holds back whoever asks for more pages than anybody reads.
    pub reads: Limiter<IpAddr>,
    pub reports: Reports,
    pub metrics: Metrics,
    public: ArcSwap<Public>,
    /// One refresh at a time, so that an older reading never replaces a newer one.
    refreshing: tokio::sync::Mutex<()>,
}

/// Public data as of one moment. Pages take it once and see one state throughout.
pub struct Public {
    /// Counts the states that this process has seen; a cached page belongs to one of them.
    pub generation: u64,
    /// When this state was first seen, in whole seconds: what pages say of their last change. No
    /// two states share it, though two may be seen within one second.
    pub seen_at: OffsetDateTime,
    /// `public_change.count` of the database that it was read at.
    change: i64,
    /// The newest evaluation among the rows.
    newest_evaluation: i64,
    pub standings: Standings,
    /// Makers with their number of units, in alphabetical order.
    pub makers: Vec<(String, usize)>,
    /// Number of units of each class id.
    pub class_counts: BTreeMap<String, usize>,
    pub currencies: Vec<String>,
    /// Maker and model of each row of `standings`, made when first asked for.
    names: OnceLock<Vec<Known>>,
    /// By class, the units that stand behind any of its units in a drawing; made when first asked
    /// for.
    drawn: OnceLock<BTreeMap<String, Vec<String>>>,
    /// Of which sort keys at least one unit has a value.
    pub present: Vec<SortKey>,
    /// The database says that its data is invented.
    demo: bool,
}

impl Public {
    /// Maker and model of each row of `standings`, in their order.
    pub fn names(&self) -> &[Known] {
        self.names.get_or_init(|| {
            let rows = self.standings.rows().iter();
            rows.map(|row| Known::new(row.maker.clone(), row.model.clone()))
                .collect()
        })
    }

    /// The units of a class that stand behind any of its units in a drawing.
    pub fn drawn_behind(&self, class: &str) -> Vec<&Row> {
        let drawn = self.drawn.get_or_init(|| {
            let classes = self.class_counts.keys();
            let of_class = |class: &String| {
                let rows = self.standings.best_of_class(class);
                let shown = ClassOverview::shown_behind_a_unit(&rows).into_iter();
                (class.clone(), shown.map(|row| row.slug.clone()).collect())
            };
            classes.map(of_class).collect()
        });
        let slugs = drawn.get(class).map_or(&[][..], Vec::as_slice);
        slugs
            .iter()
            .filter_map(|slug| self.standings.row(slug))
            .collect()
    }
}

impl std::ops::Deref for Site {
    type Target = Inner;

    fn deref(&self) -> &Inner {
        &self.0
    }
}

impl Site {
    /// Reads the rows once and is ready to serve them.
    ///
    /// # Errors
    /// The database cannot be read.
    pub async fn open(config: Config, db: Db, method: Arc<Method>) -> Result<Site, storage::Error> {
        Site::with_clock(config, db, method, Clock::system()).await
    }

    /// As [`Site::open`], on a clock of the caller's choice.
    pub async fn with_clock(
        config: Config,
        db: Db,
        method: Arc<Method>,
        clock: Clock,
    ) -> Result<Site, storage::Error> {
        let public = read_public(&db, 1, whole_seconds(clock.now()), None).await?;
        let reports_at_once = if config.as_files {
            std::thread::available_parallelism().map_or(1, |n| n.get())
        } else {
            1
        };
        let an_operator_exists = operators::exist(&mut *db.read().await?).await?;
        let limits = config.limits.clone();
        Ok(Site(Arc::new(Inner {
            pages: PageCache::new(config.page_cache_bytes),
            config,
            db,
            method,
            clock,
            auth: Auth::new(an_operator_exists, limits.sign_in),
            log_readings: LogReadings::default(),
            suggestions: Limiter::new(limits.suggestions),
            reads: Limiter::new(limits.reads),
            reports: Reports::new(reports_at_once),
            metrics: Metrics::default(),
            public: ArcSwap::from_pointee(public),
            refreshing: tokio::sync::Mutex::new(()),
        })))
    }

    /// The present state of public data.
    pub fn public(&self) -> Arc<Public> {
        self.public.load_full()
    }

    /// Number of the present state.
    pub fn generation(&self) -> u64 {
        self.public.load().generation
    }

    pub fn is_demo(&self) -> bool {
        self.config.demo || self.public.load().demo
    }

    /// Reads the rows again and empties the page cache if the database has changed. Called after
    /// every change made in this process, before its answer, so that whoever published sees it.
    ///
    /// # Errors
    /// The database cannot be read; the former state stays.
    pub async fn refresh(&self) -> Result<(), storage::Error> {
        let _one_at_a_time = self.refreshing.lock().await;
        let present = self.public();
        if read_change(&self.db).await? == present.change {
            return Ok(());
        }
        let seen_at = whole_seconds(self.clock.now()).max(present.seen_at + time::Duration::SECOND);
        let next = present.generation + 1;
        let public = read_public(&self.db, next, seen_at, Some(&present)).await?;
        tracing::debug!(
            generation = public.generation,
            change = public.change,
            "public data changed"
        );
        self.public.store(Arc::new(public));
        self.pages.clear();
        Ok(())
    }

    /// Notices changes that other processes make to the database. Never ends.
    pub async fn watch_for_changes(self) {
        let mut ticks = tokio::time::interval(WATCH_EVERY);
        ticks.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
        loop {
            ticks.tick().await;
            if let Err(cause) = self.refresh().await {
                tracing::warn!(%cause, "could not look for changes");
            }
        }
    }

    /// Forgets what is too old to be kept, now and every few hours. Never ends.
    pub async fn forget_what_is_old(self) {
        let mut ticks = tokio::time::interval(FORGET_EVERY);
        ticks.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
        loop {
            ticks.tick().await;
            match self.forget().await {
                Ok(0) => {}
                Ok(lines) => tracing::info!(lines, "old lines of the audit log forgotten"),
                Err(cause) => tracing::warn!(%cause, "could not forget what is old"),
            }
        }
    }

    async fn forget(&self) -> Result<u64, storage::Error> {
        let now = self.clock.now();
        let mut tx = self.db.write().await?;
        sessions::remove_expired(&mut tx, now).await?;
        let lines = audit::prune(&mut tx, self.config.audit_keep, now).await?;
        tx.commit().await?;
        Ok(lines)
    }

    /// Does the database answer?
    pub async fn check_health(&self) -> Result<(), Error> {
        read_change(&self.db).await?;
        Ok(())
    }
}

impl Public {
    /// Which state of the database this is, whatever process reads it.
    pub fn change(&self) -> i64 {
        self.change
    }
}

/// One consistent reading of everything that public pages share.
async fn read_public(
    db: &Db,
    generation: u64,
    seen_at: OffsetDateTime,
    present: Option<&Public>,
) -> Result<Public, storage::Error> {
    let mut moment = db.snapshot().await?;
    let change = public_change::count(&mut moment).await?;
    let demo = settings::is_demo(&mut moment).await?;
    let newest_evaluation = rankings::newest_evaluation(&mut moment).await?;
    let changed = match present {
        Some(present) => changed_rows(&mut moment, present, change).await?,
        None => None,
    };
    let rows = match (present, changed) {
        (Some(present), Some(changed)) => with_changed(present.standings.rows(), changed),
        _ => rankings::all(&mut moment).await?,
    };
    drop(moment);
    // Ranks and the usual order of ten thousand units take some tens of milliseconds: not among the
    // requests. Another order is made for the first who asks.
    let arranged = tokio::task::spawn_blocking(move || {
        let standings = Standings::new(rows);
        let makers = standings.maker_counts().into_iter();
        let makers = makers
            .map(|(maker, units)| (maker.to_owned(), units))
            .collect();
        let class_counts = standings.class_counts().into_iter();
        let class_counts = class_counts
            .map(|(id, units)| (id.to_owned(), units))
            .collect();
        let currencies = standings
            .currencies()
            .into_iter()
            .map(str::to_owned)
            .collect();
        Public {
            generation,
            seen_at,
            change,
            newest_evaluation,
            demo,
            makers,
            class_counts,
            currencies,
            names: OnceLock::new(),
            drawn: OnceLock::new(),
            present: standings.present(&Filter::default()),
            standings,
        }
    });
    Ok(arranged
        .await
        .expect("putting rows in order does not panic"))
}

/// Beyond this all rows are as well read anew.
const MOST_CHANGED: i64 = 500;

/// The rows that changed since `present` was read, where they explain every change that was counted:
/// each written row raises the count by one, and each row written since shows a newer evaluation.
/// `None` where something else happened, too (a unit revised twice, a row taken away, the queue).
async fn changed_rows(
    moment: &mut storage::Connection,
    present: &Public,
    change: i64,
) -> Result<Option<Vec<Row>>, storage::Error> {
    let counted = change - present.change;
    if !(1..=MOST_CHANGED).contains(&counted) {
        return Ok(None);
    }
    let rows = rankings::newer_than(moment, present.newest_evaluation, counted + 1).await?;
    Ok((i64::try_from(rows.len()) == Ok(counted)).then_some(rows))
}

/// These rows, which stand in the order of publication, with others in place of those of the same
/// units, or added.
fn with_changed(rows: &[Row], changed: Vec<Row>) -> Vec<Row> {
    let mut rows = rows.to_vec();
    for row in changed {
        match rows.binary_search_by_key(&row.unit_id, |row| row.unit_id) {
            Ok(at) => rows[at] = row,
            Err(at) => rows.insert(at, row),
        }
    }
    rows
}

/// Headers of HTTP know no smaller part of a time.
fn whole_seconds(time: OffsetDateTime) -> OffsetDateTime {
    time.replace_nanosecond(0).expect("0 is a nanosecond")
}

async fn read_change(db: &Db) -> Result<i64, storage::Error> {
    public_change::count(&mut *db.read().await?).await
}
