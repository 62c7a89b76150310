//! Figures for Prometheus, in the OpenMetrics text format. Served on an address of their own and
//! nowhere else, so that they are never public by accident.

use super::{observed::Route, state::Site};
use crate::{
    host,
    storage::{self, backup_schedule::Standing, drafts},
};
use axum::{
    Router,
    extract::State,
    http::{StatusCode, header},
    response::{IntoResponse, Response},
    routing::get,
};
use prometheus_client::{
    encoding::{
        EncodeLabelSet,
        text::{encode_eof, encode_registry},
    },
    metrics::{
        counter::{ConstCounter, Counter},
        family::Family,
        gauge::{ConstGauge, Gauge},
        histogram::Histogram,
        info::Info,
    },
    registry::{Registry, Unit},
};

/// Upper bounds of the classes that times of answers are sorted into, seconds: a kept page takes
/// tens of microseconds, a page that is made some milliseconds, a report a second.
const CLASSES_S: [f64; 12] = [
    0.0001, 0.000_25, 0.001, 0.0025, 0.01, 0.025, 0.1, 0.25, 1.0, 2.5, 10.0, 30.0,
];

/// OpenMetrics 1.0.0, section "Media type".
const CONTENT_TYPE: &str = "application/openmetrics-text; version=1.0.0; charset=utf-8";

#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
struct AnswerLabels {
    route: &'static str,
    method: &'static str,
    status: u16,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
struct TimeLabels {
    route: &'static str,
    method: &'static str,
}

/// What is counted while the site is served.
pub struct Metrics {
    registry: Registry,
    answers: Family<AnswerLabels, Counter>,
    times: Family<TimeLabels, Histogram, fn() -> Histogram>,
    in_flight: Gauge,
    from_cache: Counter,
    not_from_cache: Counter,
}

impl Default for Metrics {
    fn default() -> Metrics {
        let new_times: fn() -> Histogram = || Histogram::new(CLASSES_S);
        let metrics = Metrics {
            registry: Registry::default(),
            answers: Family::default(),
            times: Family::new_with_constructor(new_times),
            in_flight: Gauge::default(),
            from_cache: Counter::default(),
            not_from_cache: Counter::default(),
        };
        let mut registry = Registry::with_prefix("brickbook");
        registry.register(
            "http_requests",
            "Requests answered, by route, method and status",
            metrics.answers.clone(),
        );
        registry.register_with_unit(
            "http_request_duration",
            "Time from a request's head to the head of its answer",
            Unit::Seconds,
            metrics.times.clone(),
        );
        registry.register(
            "http_requests_in_flight",
            "Requests whose answer is being made",
            metrics.in_flight.clone(),
        );
        registry.register(
            "page_cache_hits",
            "Requests answered by a page that was kept",
            metrics.from_cache.clone(),
        );
        registry.register(
            "page_cache_misses",
            "Requests that were answered anew, those that are never kept included",
            metrics.not_from_cache.clone(),
        );
        Metrics {
            registry,
            ..metrics
        }
    }
}

impl Metrics {
    /// A request has come.
    pub fn begin(&self) {
        self.in_flight.inc();
    }

    /// Its answer is made, or its visitor has gone.
    pub fn end(&self) {
        self.in_flight.dec();
    }

    /// A request was answered.
    pub fn answered(
        &self,
        route: Route,
        method: &'static str,
        status: u16,
        took_s: f64,
        from_cache: bool,
    ) {
        let route = route.pattern();
        let labels = AnswerLabels {
            route,
            method,
            status,
        };
        self.answers.get_or_create(&labels).inc();
        let labels = TimeLabels { route, method };
        self.times.get_or_create(&labels).observe(took_s);
        if from_cache {
            &self.from_cache
        } else {
            &self.not_from_cache
        }
        .inc();
    }
}

/// `/metrics` and nothing else.
pub fn routes(site: Site) -> Router {
    Router::new()
        .route("/metrics", get(exposition))
        .with_state(site)
}

async fn exposition(State(site): State<Site>) -> Response {
    let [own, process] = of_this_moment(&site).await;
    let mut text = String::with_capacity(16 << 10);
    let written = encode_registry(&mut text, &site.metrics.registry)
        .and_then(|()| encode_registry(&mut text, &own))
        .and_then(|()| encode_registry(&mut text, &process))
        .and_then(|()| encode_eof(&mut text));
    match written {
        Ok(()) => ([(header::CONTENT_TYPE, CONTENT_TYPE)], text).into_response(),
        Err(_) => StatusCode::INTERNAL_SERVER_ERROR.into_response(),
    }
}

/// Figures that are read when they are asked for; one that cannot be read is left out.
async fn of_this_moment(site: &Site) -> [Registry; 2] {
    let mut own = Registry::with_prefix("brickbook");
    own.register(
        "build",
        "Version of the program and the schema that it keeps its data in",
        Info::new([
            ("version", env!("CARGO_PKG_VERSION").to_owned()),
            ("schema", storage::db::newest_schema().to_string()),
        ]),
    );
    own.register(
        "units",
        "Units that are published",
        ConstGauge::new(site.public().standings.rows().len() as i64),
    );
    let drafts = match site.db.read().await {
        Ok(mut connection) => drafts::count(&mut connection).await,
        Err(cause) => Err(cause),
    };
    own.register(
        "database_up",
        "1 if the database answered just now",
        ConstGauge::new(i64::from(drafts.is_ok())),
    );
    if let Ok(drafts) = drafts {
        own.register("drafts", "Drafts of all operators", ConstGauge::new(drafts));
    }
    own.register(
        "page_cache_pages",
        "Pages that are kept",
        ConstGauge::new(site.pages.len() as i64),
    );
    let connections = Family::<[(&str, &str); 2], Gauge>::default();
    for (pool, count) in site.db.connections() {
        let of = |state, number: u32| {
            let labels = [("pool", pool), ("state", state)];
            connections.get_or_create(&labels).set(i64::from(number));
        };
        of("idle", count.idle);
        of("used", count.used);
    }
    own.register(
        "database_connections",
        "Connections to the database, by pool and state",
        connections,
    );
    if let Ok(bytes) = host::free_bytes(site.db.folder()) {
        own.register_with_unit(
            "data_disk_free",
            "Room on the disk that holds the data",
            Unit::Bytes,
            ConstGauge::new(i64::try_from(bytes).unwrap_or(i64::MAX)),
        );
    }
    let database = Family::<[(&str, &str); 1], Gauge>::default();
    for (file, bytes) in site.db.file_sizes() {
        let bytes = i64::try_from(bytes).unwrap_or(i64::MAX);
        database.get_or_create(&[("file", file)]).set(bytes);
    }
    own.register_with_unit(
        "database_size",
        "Size of the database file and of its write-ahead log",
        Unit::Bytes,
        database,
    );
    if let Some(watch) = &site.config.backups {
        register_backups(&mut own, watch.standing());
    }

    let mut process = Registry::default();
    if let Some(used) = host::own_resources() {
        // Names as Prometheus' own libraries use them (prometheus.io, "Writing client libraries",
        // process metrics).
        process.register_with_unit(
            "process_cpu",
            "User and system time",
            Unit::Seconds,
            ConstCounter::new(used.processor_s),
        );
        process.register_with_unit(
            "process_resident_memory",
            "Memory held in RAM",
            Unit::Bytes,
            ConstGauge::new(used.resident_bytes as i64),
        );
        process.register_with_unit(
            "process_virtual_memory",
            "Address space",
            Unit::Bytes,
            ConstGauge::new(used.virtual_bytes as i64),
        );
        process.register(
            "process_open_fds",
            "Open files and sockets",
            ConstGauge::new(used.open_files as i64),
        );
        process.register_with_unit(
            "process_start_time",
            "Start, in seconds since 1970",
            Unit::Seconds,
            ConstGauge::new(used.started_at_s),
        );
    }
    [own, process]
}

/// Backups that the server makes by itself. Before the first one time and size are 0, not absent,
/// so that "older than a day" tells of that as well (prometheus.io, "Instrumentation", "Avoid
/// missing metrics").
fn register_backups(own: &mut Registry, standing: Standing) {
    let (made_at_s, bytes) = standing.newest.map_or((0, 0), |(made_at, bytes)| {
        (
            made_at.unix_timestamp(),
            i64::try_from(bytes).unwrap_or(i64::MAX),
        )
    });
    own.register_with_unit(
        "backup_last_success_timestamp",
        "When the newest backup that lies in the folder was made, in seconds since 1970; 0 if there is none",
        Unit::Seconds,
        ConstGauge::new(made_at_s),
    );
    own.register_with_unit(
        "backup_last_size",
        "Size of the newest backup that lies in the folder",
        Unit::Bytes,
        ConstGauge::new(bytes),
    );
    own.register(
        "backup_failures",
        "Backups that could not be made, since the program started",
        ConstCounter::new(standing.failures),
    );
}
