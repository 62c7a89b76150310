//! What the site is held against: the least that the same libraries can do for the same answer.

use askama::Template;
use axum::extract::{Query, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, header};
use axum::response::Html;
use axum::{Router, body::Bytes, routing::get};
use brickbook::ranking::Row;
use serde::{Deserialize, Serialize};
use sqlx::sqlite::{
    SqliteConnectOptions, SqliteJournalMode, SqlitePool, SqlitePoolOptions, SqliteSynchronous,
};
use sqlx::{ConnectOptions, Connection, SqliteConnection};
use std::collections::BTreeMap;
use std::io;
use std::path::Path;
use std::sync::Arc;
use tokio::net::TcpListener;

/// An answer as the site gave it, to be given again.
#[derive(Serialize, Deserialize)]
pub struct Kept {
    pub headers: Vec<(String, String)>,
    pub body: Vec<u8>,
}

/// An answer of one kind, compressed as it is kept ready, and how long it is without that.
#[derive(Serialize, Deserialize)]
pub struct KeptKind {
    pub ready: Kept,
    pub plain: usize,
}

/// Serves one handler that returns the kept bytes, and one that reads 50 rows and renders them.
pub async fn serve(kept: &Path, rows: &Path, announce: impl FnOnce(u16)) -> io::Result<()> {
    let kept: Kept = serde_json::from_slice(&std::fs::read(kept)?)?;
    let (headers, body) = kept.answer()?;
    let pool = readers(rows).await?;
    let app = Router::new()
        .route(
            "/",
            get(move || std::future::ready((headers.clone(), body.clone()))),
        )
        .route("/rows", get(read_and_render))
        .with_state(pool);
    serve_app(app, announce).await
}

impl Kept {
    fn answer(self) -> io::Result<(HeaderMap, Bytes)> {
        let mut headers = HeaderMap::new();
        for (name, value) in &self.headers {
            headers.append(
                HeaderName::from_bytes(name.as_bytes()).map_err(io::Error::other)?,
                HeaderValue::from_str(value).map_err(io::Error::other)?,
            );
        }
        Ok((headers, Bytes::from(self.body)))
    }
}

async fn readers(file: &Path) -> io::Result<SqlitePool> {
    SqlitePoolOptions::new()
        .max_connections(2)
        .connect_with(SqliteConnectOptions::new().filename(file).read_only(true))
        .await
        .map_err(io::Error::other)
}

async fn serve_app(app: Router, announce: impl FnOnce(u16)) -> io::Result<()> {
    let listener = TcpListener::bind(("127.0.0.1", 0)).await?;
    announce(listener.local_addr()?.port());
    use axum::serve::ListenerExt;
    let listener = listener.tap_io(|stream| {
        let _ = stream.set_nodelay(true);
    });
    axum::serve(listener, app).await
}

/// The figures that the site's ranking shows of a unit (`SortKey::USUAL_COLUMNS`), each in a column of
/// its own.
#[derive(sqlx::FromRow)]
struct Line {
    place: i64,
    slug: String,
    maker: String,
    model: String,
    class: String,
    output_power_w: f64,
    score: Option<f64>,
    score_u: Option<f64>,
    average_efficiency: Option<f64>,
    no_load_w: Option<f64>,
    power_factor: Option<f64>,
    current_thd_percent: Option<f64>,
    price: Option<f64>,
    currency: Option<String>,
    mass_g: Option<f64>,
    power_density_w_per_cm3: Option<f64>,
    ports: i64,
    tested_on: Option<String>,
    verdicts: String,
}

/// A number with its places, or a dash.
fn figure(value: &Option<f64>, places: usize) -> String {
    value.map_or("–".to_owned(), |v| format!("{v:.places$}"))
}

#[derive(Template)]
#[template(
    ext = "html",
    source = r#"<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Ranking</title></head><body><table>
<thead><tr><th>Rank<th>Unit<th>Class<th>W<th>Score<th>Verdicts<th>Average<th>No load<th>Power factor<th>THD<th>Price<th>Mass<th>W/cm³<th>Ports<th>Tested</tr></thead><tbody>
{% for l in lines %}<tr><td>{{ l.place }}</td><th scope="row"><a href="/unit/{{ l.slug }}">{{ l.maker }} {{ l.model }}</a></th><td>{{ l.class }}</td><td>{{ l.output_power_w }}</td><td>{{ crate::bare::figure(l.score, 1) }} ± {{ crate::bare::figure(l.score_u, 1) }}</td><td>{{ l.verdicts }}</td><td>{{ crate::bare::figure(l.average_efficiency, 4) }}</td><td>{{ crate::bare::figure(l.no_load_w, 3) }}</td><td>{{ crate::bare::figure(l.power_factor, 3) }}</td><td>{{ crate::bare::figure(l.current_thd_percent, 1) }}</td><td>{{ crate::bare::figure(l.price, 2) }} {{ l.currency.as_deref().unwrap_or("") }}</td><td>{{ crate::bare::figure(l.mass_g, 0) }}</td><td>{{ crate::bare::figure(l.power_density_w_per_cm3, 2) }}</td><td>{{ l.ports }}</td><td>{{ l.tested_on.as_deref().unwrap_or("–") }}</td></tr>
{% endfor %}</tbody></table></body></html>"#
)]
struct Lines {
    lines: Vec<Line>,
}

#[derive(Deserialize)]
struct Page {
    page: i64,
}

/// 50 lines by the primary key: as cheap as a query for a page of the ranking can be.
async fn read_and_render(
    State(pool): State<SqlitePool>,
    Query(page): Query<Page>,
) -> (HeaderMap, Html<String>) {
    let first = (page.page - 1) * 50;
    let lines: Vec<Line> =
        sqlx::query_as("SELECT * FROM line WHERE place > ? AND place <= ? ORDER BY place")
            .bind(first)
            .bind(first + 50)
            .fetch_all(&pool)
            .await
            .expect("the bench's own table can be read");
    assert_eq!(lines.len(), 50);
    let mut headers = HeaderMap::new();
    headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-cache"));
    (
        headers,
        Html(
            Lines { lines }
                .render()
                .expect("rendering to a string works"),
        ),
    )
}

/// Writes the rows, one by one in their order, into a table of plain columns.
pub async fn write_rows(file: &Path, rows: &[Row]) -> Result<(), sqlx::Error> {
    let pool = SqlitePool::connect_with(
        SqliteConnectOptions::new()
            .filename(file)
            .create_if_missing(true),
    )
    .await?;
    sqlx::query(
        "CREATE TABLE line (place INTEGER PRIMARY KEY, slug TEXT, maker TEXT, model TEXT, class TEXT,
         output_power_w REAL, score REAL, score_u REAL, average_efficiency REAL,
         no_load_w REAL, power_factor REAL, current_thd_percent REAL, price REAL, currency TEXT,
         mass_g REAL, power_density_w_per_cm3 REAL, ports INTEGER, tested_on TEXT,
         verdicts TEXT) STRICT",
    )
    .execute(&pool)
    .await?;
    let mut tx = pool.begin().await?;
    for (index, row) in rows.iter().enumerate() {
        let verdicts: Vec<&str> = row
            .verdicts
            .iter()
            .map(|(_, outcome)| outcome.id())
            .collect();
        sqlx::query("INSERT INTO line VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)")
            .bind(index as i64 + 1)
            .bind(&row.slug)
            .bind(&row.maker)
            .bind(&row.model)
            .bind(&row.class.label)
            .bind(row.output_power_w)
            .bind(row.score)
            .bind(row.score_u)
            .bind(row.average_efficiency)
            .bind(row.no_load_w)
            .bind(row.power_factor)
            .bind(row.current_thd_percent)
            .bind(row.price)
            .bind(&row.currency)
            .bind(row.mass_g)
            .bind(row.power_density_w_per_cm3)
            .bind(i64::from(row.ports))
            .bind(&row.tested_on)
            .bind(verdicts.join(" "))
            .execute(&mut *tx)
            .await?;
    }
    tx.commit().await?;
    pool.close().await;
    Ok(())
}

/// What stands in for each kind of page.
#[derive(Clone)]
struct Kinds {
    /// Headers and bytes as kept ready, and as many bytes as the plain page has.
    kept: Arc<BTreeMap<String, (HeaderMap, Bytes, Bytes)>>,
    rows: SqlitePool,
    documents: SqlitePool,
}

#[derive(Deserialize)]
struct Asked {
    #[serde(default)]
    kind: String,
    #[serde(default)]
    slug: String,
    other: Option<String>,
    #[serde(default)]
    q: String,
}

/// Serves what each kind of page needs at least: its bytes where it is ready, else its documents out
/// of `database` and an answer of its length.
pub async fn serve_kinds(
    kept: &Path,
    rows: &Path,
    database: &Path,
    announce: impl FnOnce(u16),
) -> io::Result<()> {
    let read: BTreeMap<String, KeptKind> = serde_json::from_slice(&std::fs::read(kept)?)?;
    let mut kept = BTreeMap::new();
    for (name, kind) in read {
        let (headers, ready) = kind.ready.answer()?;
        kept.insert(name, (headers, ready, Bytes::from(vec![b' '; kind.plain])));
    }
    let state = Kinds {
        kept: Arc::new(kept),
        rows: readers(rows).await?,
        documents: readers(database).await?,
    };
    let app = Router::new()
        .route("/ready", get(ready))
        .route("/stored", get(stored))
        .route("/found", get(found))
        .route("/drawn", get(drawn))
        .route("/rows", get(read_and_render).with_state(state.rows.clone()))
        .with_state(state);
    serve_app(app, announce).await
}

async fn ready(State(kinds): State<Kinds>, Query(asked): Query<Asked>) -> (HeaderMap, Bytes) {
    let (headers, ready, _) = &kinds.kept[&asked.kind];
    (headers.clone(), ready.clone())
}

async fn documents(pool: &SqlitePool, slug: &str) -> (String, String) {
    sqlx::query_as(
        "SELECT revision.record, evaluation.document
         FROM unit
         JOIN ranking ON ranking.unit_id = unit.id
         JOIN revision ON revision.id = ranking.revision_id
         JOIN evaluation ON evaluation.id = ranking.evaluation_id
         WHERE unit.slug = ?",
    )
    .bind(slug)
    .fetch_one(pool)
    .await
    .expect("the unit is there")
}

async fn stored(State(kinds): State<Kinds>, Query(asked): Query<Asked>) -> Html<Bytes> {
    for slug in std::iter::once(&asked.slug).chain(&asked.other) {
        std::hint::black_box(documents(&kinds.documents, slug).await);
    }
    Html(kinds.kept[&asked.kind].2.clone())
}

async fn found(State(kinds): State<Kinds>, Query(asked): Query<Asked>) -> Html<Bytes> {
    let lines: Vec<Line> = sqlx::query_as(
        "SELECT * FROM line WHERE maker || ' ' || model LIKE '%' || ? || '%' ORDER BY place LIMIT 50",
    )
    .bind(&asked.q)
    .fetch_all(&kinds.rows)
    .await
    .expect("the bench's own table can be read");
    std::hint::black_box(
        Lines { lines }
            .render()
            .expect("rendering to a string works"),
    );
    Html(kinds.kept[&asked.kind].2.clone())
}

/// Reads the documents and draws ten points, as plainly as the library draws.
async fn drawn(State(kinds): State<Kinds>, Query(asked): Query<Asked>) -> Html<String> {
    use plotters::prelude::*;
    std::hint::black_box(documents(&kinds.documents, &asked.slug).await);
    let mut svg = String::new();
    {
        let area = SVGBackend::with_string(&mut svg, (720, 400)).into_drawing_area();
        let mut chart = ChartBuilder::on(&area)
            .x_label_area_size(30)
            .y_label_area_size(40)
            .build_cartesian_2d(0.0..100.0, 0.0..100.0)
            .expect("the axes fit");
        chart.configure_mesh().draw().expect("the mesh is drawn");
        let points = (1..=10).map(|n| (f64::from(n) * 10.0, 80.0 + f64::from(n)));
        chart
            .draw_series(LineSeries::new(points, &BLUE))
            .expect("the line is drawn");
        area.present().expect("it is drawn");
    }
    Html(svg)
}

/// A database that keeps three texts a row, as durably as ours.
pub async fn plain_table(file: &Path) -> Result<SqliteConnection, sqlx::Error> {
    let mut connection = SqliteConnectOptions::new()
        .filename(file)
        .create_if_missing(true)
        .journal_mode(SqliteJournalMode::Wal)
        .synchronous(SqliteSynchronous::Full)
        .connect()
        .await?;
    for table in ["record", "document", "row"] {
        let make =
            format!("CREATE TABLE {table} (id INTEGER PRIMARY KEY, text TEXT NOT NULL) STRICT");
        sqlx::query(sqlx::AssertSqlSafe(make))
            .execute(&mut connection)
            .await?;
    }
    Ok(connection)
}

/// One transaction of three rows.
pub async fn insert(
    connection: &mut SqliteConnection,
    record: &str,
    document: &str,
    row: &str,
) -> Result<(), sqlx::Error> {
    let mut tx = connection.begin().await?;
    for (insert, text) in [
        ("INSERT INTO record (text) VALUES (?)", record),
        ("INSERT INTO document (text) VALUES (?)", document),
        ("INSERT INTO row (text) VALUES (?)", row),
    ] {
        sqlx::query(insert).bind(text).execute(&mut *tx).await?;
    }
    tx.commit().await
}
