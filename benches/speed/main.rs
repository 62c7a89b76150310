//! Is it quick? Every promise about speed as a ratio or a bound, measured in one run on a database
//! of 10,000 invented units in a temporary folder: `cargo bench --bench speed`.
//!
//! Absolute rates drift by a fifth between runs and machines, so the site is held against a bare
//! handler that runs beside it, in turns. Servers and load are processes of their own on loopback;
//! server cost is the processor time of its process. Nothing here fails a build: the table says
//! whether each promise is met.
//!
//! Parts of their own: each kind of work beside the least that the same libraries need for it,
//! `cargo bench --bench speed -- kinds`; what it costs by the number of units, `-- sizes`; a crowd of
//! readers while somebody publishes, `-- crowd`; the reading of long logs, `-- logs`; the site as
//! files, `-- static-site`, or `-- static-site 500` for so many units.
//!
//! `BRICKBOOK_BENCH_UNITS` (10,000) and `BRICKBOOK_BENCH_ROUNDS` (5) make it shorter.

mod bare;
mod crowd;
mod kinds;
mod load;
mod logs;
mod static_site;

use brickbook::bench::decode::decode;
use brickbook::demo;
use brickbook::evaluate::{Method, evaluate};
use brickbook::ranking::{Row, SortKey};
use load::{Connection, Load};
use std::io::{self, BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

const SEED: u64 = 20_261_125;
/// Requests of one round for a page that is ready, and for one that must be made.
const READY_REQUESTS: usize = 60_000;
const MADE_REQUESTS: usize = 1_000;
const CONNECTIONS: usize = 16;
const EVALUATED: usize = 4_000;

fn main() {
    let arguments: Vec<String> = std::env::args()
        .skip(1)
        .filter(|a| a != "--bench")
        .collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let done = match words[..] {
        [] => measure(),
        ["kinds"] => kinds::measure(),
        ["sizes"] => kinds::sizes(&[100, 10_000, 100_000]),
        ["sizes", ref units @ ..] => units
            .iter()
            .map(|n| {
                n.parse()
                    .map_err(|_| io::Error::other(format!("{n:?} is no number of units")))
            })
            .collect::<io::Result<Vec<usize>>>()
            .and_then(|units| kinds::sizes(&units)),
        ["crowd"] => crowd::measure(),
        ["logs"] => logs::measure(false),
        ["logs", "pandas"] => logs::measure(true),
        ["static-site"] => static_site::measure(static_site::usual_units()),
        ["static-site", units] => match units.parse() {
            Ok(units) => static_site::measure(units),
            Err(_) => Err(io::Error::other(format!("{units:?} is no number of units"))),
        },
        ["log-read", log] => logs::read_log(Path::new(log)),
        ["log-import", log] => logs::import_log(Path::new(log)),
        ["log-bare", log] => logs::read_bare(Path::new(log)),
        ["bare", kept, rows] => serve_bare(Path::new(kept), Path::new(rows)),
        ["bare-kinds", kept, rows, database] => run(bare::serve_kinds(
            Path::new(kept),
            Path::new(rows),
            Path::new(database),
            announce,
        )),
        ["load", port, encoding, requests, targets] => put_load(port, encoding, requests, targets),
        _ => Err(io::Error::other(format!("unknown arguments {words:?}"))),
    };
    if let Err(cause) = done {
        eprintln!("speed: {cause}");
        std::process::exit(1);
    }
}

fn number_from_environment(name: &str, usual: usize) -> usize {
    std::env::var(name)
        .ok()
        .and_then(|text| text.parse().ok())
        .unwrap_or(usual)
}

/// One line of the table.
struct Promise {
    words: String,
    figure: String,
    aim: String,
    met: bool,
}

impl Promise {
    fn at_least(words: impl Into<String>, figure: f64, least: f64, places: usize) -> Promise {
        Promise {
            words: words.into(),
            figure: format!("{figure:.places$}"),
            aim: format!("at least {least}"),
            met: figure >= least,
        }
    }

    fn below(words: impl Into<String>, figure: f64, bound: f64, places: usize) -> Promise {
        Promise {
            words: words.into(),
            figure: format!("{figure:.places$}"),
            aim: format!("below {bound}"),
            met: figure < bound,
        }
    }
}

fn measure() -> io::Result<()> {
    let units = number_from_environment("BRICKBOOK_BENCH_UNITS", 10_000);
    let rounds = number_from_environment("BRICKBOOK_BENCH_ROUNDS", 5).max(1);
    let folder = tempfile::tempdir()?;
    let load_average = std::fs::read_to_string("/proc/loadavg").unwrap_or_default();
    println!("load average before: {}", load_average.trim());

    let mut promises = evaluation(units.min(EVALUATED));
    let data = folder.path().join("data");
    let rows = fill(&data, folder.path(), units)?;
    promises.extend(pages(&data, folder.path(), &rows, rounds)?);

    print_table(&promises);
    Ok(())
}

fn print_table(promises: &[Promise]) {
    println!("\n{:<72} {:>10}  {:<14} met", "promise", "figure", "aim");
    for p in promises {
        let met = if p.met { "yes" } else { "NO" };
        println!("{:<72} {:>10}  {:<14} {met}", p.words, p.figure, p.aim);
    }
}

/// Decoding and evaluating on one core.
fn evaluation(count: usize) -> Vec<Promise> {
    let method = Method::standard();
    let texts: Vec<String> = (0..count)
        .map(|index| text(&demo::invent(SEED, index)))
        .collect();
    let began = Instant::now();
    let records: Vec<_> = texts
        .iter()
        .map(|t| decode(t).expect("an invented record is valid"))
        .collect();
    let decoded = began.elapsed();
    let began = Instant::now();
    for record in &records {
        std::hint::black_box(evaluate(std::hint::black_box(record), &method));
    }
    let evaluated = began.elapsed();
    let rate = |took: Duration| count as f64 / took.as_secs_f64();
    let points: usize = records
        .iter()
        .flat_map(|r| &r.runs)
        .map(|run| run.points.len())
        .sum();
    println!(
        "{count} records of {:.1} kB and {:.0} points on average: decode {:.0}/s, evaluate {:.0}/s",
        texts.iter().map(String::len).sum::<usize>() as f64 / count as f64 / 1e3,
        points as f64 / count as f64,
        rate(decoded),
        rate(evaluated)
    );
    vec![
        Promise::at_least(
            "evaluations per second on one core",
            rate(evaluated),
            2000.0,
            0,
        ),
        Promise::at_least(
            "records decoded and evaluated per second on one core",
            rate(decoded + evaluated),
            2000.0,
            0,
        ),
    ]
}

fn text(record: &brickbook::bench::record::Record) -> String {
    serde_json::to_string(record).expect("a record is JSON")
}

/// A database of invented units, filled by the program itself. Gives the rows that its ranking has.
fn fill(data: &Path, folder: &Path, units: usize) -> io::Result<Vec<Row>> {
    let method = Method::standard();
    let file = folder.join("units.jsonl");
    let mut lines = io::BufWriter::new(std::fs::File::create(&file)?);
    let mut rows = Vec::with_capacity(units);
    for index in 0..units {
        let record = demo::invent(SEED, index);
        writeln!(lines, "{}", text(&record))?;
        let slug = demo::file_name(&record)
            .trim_end_matches(".json")
            .to_owned();
        let evaluation = evaluate(&record, &method);
        rows.push(Row::of(index as i64, &slug, &record, &evaluation, &method));
    }
    lines.into_inner()?.sync_all()?;
    let began = Instant::now();
    let added = program()
        .arg("add")
        .args(["--data-dir".as_ref(), data.as_os_str()])
        .arg(&file)
        .stdout(Stdio::null())
        .status()?;
    if !added.success() {
        return Err(io::Error::other("the units could not be added"));
    }
    println!(
        "{units} units added in {:.1} s",
        began.elapsed().as_secs_f64()
    );
    rows.sort_by(|a, b| b.score.unwrap_or(0.0).total_cmp(&a.score.unwrap_or(0.0)));
    Ok(rows)
}

fn program() -> Command {
    Command::new(env!("CARGO_BIN_EXE_brickbook"))
}

/// Everything that is asked over HTTP.
fn pages(data: &Path, folder: &Path, rows: &[Row], rounds: usize) -> io::Result<Vec<Promise>> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()?;
    let site = Server::site(data)?;
    let kept = folder.join("kept.json");
    let fetched = runtime.block_on(fetch_kept(site.port, "/"))?;
    println!(
        "leaderboard page: {} bytes as sent ({})",
        fetched.body.len(),
        fetched
            .headers
            .iter()
            .find(|h| h.0 == "content-encoding")
            .map_or("identity", |h| &h.1)
    );
    std::fs::write(&kept, serde_json::to_vec(&fetched)?)?;
    let table = folder.join("rows.db");
    runtime
        .block_on(bare::write_rows(&table, rows))
        .map_err(io::Error::other)?;
    let bare = Server::bare(&kept, &table)?;

    // The ready page against the bare handler, in turns.
    let ready = |server: &Server| server.under(folder, "br", READY_REQUESTS, &["/".to_owned()]);
    let (mut own, mut other) = (Vec::new(), Vec::new());
    for server in [&site, &bare] {
        server.under(folder, "br", READY_REQUESTS / 6, &["/".to_owned()])?;
    }
    for _ in 0..rounds {
        other.push(ready(&bare)?);
        own.push(ready(&site)?);
    }
    show("ready page, bare handler", &other);
    show("ready page, site", &own);
    let cost = ratio(&other, &own, |r| r.processor_us);
    let rate = ratio(&own, &other, |r| r.rate);
    let tail = |rounds: &[Round]| median(rounds.iter().map(|r| r.p99_us / r.median_us).collect());
    println!(
        "p99 over median: bare handler {:.2}, site {:.2}",
        tail(&other),
        tail(&own)
    );
    let tail = tail(&own);

    // A page that must be made: each address is asked once.
    let last_page = rows.len() / 50;
    let mut addresses = (2..=last_page).flat_map(|page| {
        SortKey::ALL.iter().flat_map(move |key| {
            // An order's usual direction stands in no address, nor does the usual order.
            let sort = match key {
                SortKey::Score => String::new(),
                key => format!("sort={}&", key.id()),
            };
            let other = if key.descending_first() {
                "asc"
            } else {
                "desc"
            };
            [
                format!("/?{sort}page={page}"),
                format!("/?{sort}dir={other}&page={page}"),
            ]
        })
    });
    let (mut made, mut queried) = (Vec::new(), Vec::new());
    for _ in 0..rounds {
        let fresh: Vec<String> = addresses.by_ref().take(MADE_REQUESTS).collect();
        if fresh.len() < MADE_REQUESTS {
            println!("too few units for another {MADE_REQUESTS} addresses that were never asked");
            break;
        }
        let asked: Vec<String> = (0..fresh.len())
            .map(|i| format!("/rows?page={}", i % last_page + 1))
            .collect();
        queried.push(bare.under(folder, "identity", asked.len(), &asked)?);
        made.push(site.under(folder, "identity", fresh.len(), &fresh)?);
    }
    show("page to be made, query and render alone", &queried);
    show("page to be made, site", &made);
    let made_cost = ratio(&queried, &made, |r| r.processor_us);
    let made_rate = ratio(&made, &queried, |r| r.rate);

    // Memory of a process of its own that served a few hundred different pages.
    drop(site);
    let site = Server::site(data)?;
    // Listening begins before the rows are read: the first answer says that they are.
    runtime.block_on(async {
        let mut connection = Connection::open(site.port).await?;
        connection.get("/healthz", "identity").await.map(|_| ())
    })?;
    let memory_at_start = site.resident_mb()?;
    let visited = runtime.block_on(visit(site.port, rows))?;
    let memory = site.resident_mb()?;
    println!(
        "resident memory: {memory_at_start:.1} MB just started, {memory:.1} MB after {visited} pages"
    );

    Ok(vec![
        Promise::at_least(
            "ready page: processor time of a bare handler over the site's",
            cost,
            0.8,
            3,
        ),
        Promise::at_least(
            "ready page: rate of the site over a bare handler's",
            rate,
            0.8,
            3,
        ),
        Promise::below("ready page: p99 over median", tail, 4.0, 2),
        Promise::at_least(
            "page to be made: processor time of query and render over the site's",
            made_cost,
            0.5,
            3,
        ),
        Promise::at_least(
            "page to be made: rate of the site over query and render",
            made_rate,
            0.5,
            3,
        ),
        Promise::below("resident memory, MB", memory, 80.0, 1),
    ])
}

/// Asks for a page until it comes compressed, as it is then kept.
async fn fetch_kept(port: u16, target: &str) -> io::Result<bare::Kept> {
    let mut connection = Connection::open(port).await?;
    let patience = Instant::now();
    loop {
        let answer = connection.get(target, "br").await?;
        let headers: Vec<(String, String)> = answer
            .head
            .lines()
            .skip(1)
            .filter_map(|line| line.split_once(':'))
            .map(|(name, value)| (name.to_ascii_lowercase(), value.trim().to_owned()))
            .collect();
        let compressed = headers.iter().any(|(name, _)| name == "content-encoding");
        if compressed || patience.elapsed() > Duration::from_secs(10) {
            let own = ["date", "content-length", "connection", "transfer-encoding"];
            let headers = headers
                .into_iter()
                .filter(|h| !own.contains(&h.0.as_str()))
                .collect();
            return Ok(bare::Kept {
                headers,
                body: answer.body.to_vec(),
            });
        }
        tokio::task::yield_now().await;
    }
}

/// Reads what a few curious visitors would read, compressed as browsers ask for it.
async fn visit(port: u16, rows: &[Row]) -> io::Result<usize> {
    let mut targets = vec!["/".to_owned(), "/regimes".to_owned(), "/method".to_owned()];
    targets.extend(
        Method::standard()
            .classes
            .iter()
            .map(|c| format!("/class/{}", c.id)),
    );
    targets.extend((2..=100).map(|page| format!("/?page={page}")));
    targets.extend(
        SortKey::ALL
            .iter()
            .filter(|key| **key != SortKey::Score)
            .map(|key| format!("/?sort={}", key.id())),
    );
    let slugs: Vec<&str> = rows
        .iter()
        .step_by((rows.len() / 200).max(1))
        .map(|r| r.slug.as_str())
        .collect();
    targets.extend(slugs.iter().map(|slug| format!("/unit/{slug}")));
    targets.extend(
        slugs
            .chunks_exact(2)
            .take(40)
            .map(|p| format!("/compare?unit={}&unit={}", p[0], p[1])),
    );
    let mut connection = Connection::open(port).await?;
    for target in &targets {
        for _ in 0..2 {
            if let Err(cause) = connection.get(target, "br, gzip").await {
                eprintln!("{target}: {cause}");
                connection = Connection::open(port).await?;
            }
        }
    }
    Ok(targets.len() * 2)
}

/// What one round cost.
struct Round {
    processor_us: f64,
    rate: f64,
    median_us: f64,
    p99_us: f64,
}

fn show(words: &str, rounds: &[Round]) {
    let of = |field: fn(&Round) -> f64| median(rounds.iter().map(field).collect());
    println!(
        "{words}: {:.1} us of processor time, {:.0}/s, median {:.0} us, p99 {:.0} us",
        of(|r| r.processor_us),
        of(|r| r.rate),
        of(|r| r.median_us),
        of(|r| r.p99_us)
    );
}

/// Median over the rounds of one side's figure over the other's.
fn ratio(over: &[Round], under: &[Round], figure: fn(&Round) -> f64) -> f64 {
    median(
        over.iter()
            .zip(under)
            .map(|(a, b)| figure(a) / figure(b))
            .collect(),
    )
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(f64::NAN)
}

/// A server as a process of its own; ends with this value.
struct Server {
    process: Child,
    port: u16,
}

impl Server {
    /// The program, on a port that was free a moment ago.
    fn site(data: &Path) -> io::Result<Server> {
        let port = std::net::TcpListener::bind(("127.0.0.1", 0))?
            .local_addr()?
            .port();
        let process = program()
            // As the service file has it.
            .env("MALLOC_ARENA_MAX", "2")
            .args(["serve", "--log", "warn"])
            .args(["--data-dir".as_ref(), data.as_os_str()])
            .args(["--listen", &format!("127.0.0.1:{port}")])
            .stdout(Stdio::null())
            // Its invitation to set up an operator is of no use here.
            .stderr(Stdio::null())
            .spawn()?;
        let server = Server { process, port };
        let patience = Instant::now();
        while std::net::TcpStream::connect(("127.0.0.1", port)).is_err() {
            if patience.elapsed() > Duration::from_secs(30) {
                return Err(io::Error::other("the site does not answer"));
            }
            std::thread::sleep(Duration::from_millis(1));
        }
        Ok(server)
    }

    fn bare(kept: &Path, rows: &Path) -> io::Result<Server> {
        Server::of_bench("bare", &[kept, rows])
    }

    fn bare_kinds(kept: &Path, rows: &Path, database: &Path) -> io::Result<Server> {
        Server::of_bench("bare-kinds", &[kept, rows, database])
    }

    fn of_bench(name: &str, files: &[&Path]) -> io::Result<Server> {
        let mut process = Command::new(std::env::current_exe()?)
            .arg(name)
            .args(files)
            .stdout(Stdio::piped())
            .spawn()?;
        let output = process.stdout.take().expect("it was piped");
        let mut line = String::new();
        BufReader::new(output).read_line(&mut line)?;
        let port = line.trim().parse().map_err(io::Error::other)?;
        Ok(Server { process, port })
    }

    /// Puts load on this server from another process.
    fn under(
        &self,
        folder: &Path,
        encoding: &str,
        requests: usize,
        targets: &[String],
    ) -> io::Result<Round> {
        let list: PathBuf = folder.join("targets.txt");
        std::fs::write(&list, targets.join("\n"))?;
        let before = self.processor_time()?;
        let output = Command::new(std::env::current_exe()?)
            .args([
                "load",
                &self.port.to_string(),
                encoding,
                &requests.to_string(),
            ])
            .arg(&list)
            .stderr(Stdio::inherit())
            .output()?;
        let after = self.processor_time()?;
        let text = String::from_utf8_lossy(&output.stdout);
        let numbers: Vec<f64> = text
            .split_whitespace()
            .filter_map(|n| n.parse().ok())
            .collect();
        let [took_ns, median_ns, p99_ns, _bytes] = numbers[..] else {
            return Err(io::Error::other(format!("the load told {text:?}")));
        };
        Ok(Round {
            processor_us: (after - before).as_secs_f64() * 1e6 / requests as f64,
            rate: requests as f64 / (took_ns / 1e9),
            median_us: median_ns / 1e3,
            p99_us: p99_ns / 1e3,
        })
    }

    /// User and system time of the process so far, all threads, ended ones too (proc(5): fields
    /// 14 and 15 of `stat`, in ticks of 10 ms).
    fn processor_time(&self) -> io::Result<Duration> {
        let stat = std::fs::read_to_string(format!("/proc/{}/stat", self.process.id()))?;
        let after_name = stat.rsplit(')').next().unwrap_or("");
        let fields: Vec<u64> = after_name
            .split_whitespace()
            .map(|field| field.parse().unwrap_or(0))
            .collect();
        // After the name the first field is number 3.
        Ok(Duration::from_millis(
            10 * (fields[14 - 3] + fields[15 - 3]),
        ))
    }

    fn resident_mb(&self) -> io::Result<f64> {
        self.memory_mb("VmRSS:")
    }

    /// The most that it has held so far.
    fn most_resident_mb(&self) -> io::Result<f64> {
        self.memory_mb("VmHWM:")
    }

    fn memory_mb(&self, field: &str) -> io::Result<f64> {
        let status = std::fs::read_to_string(format!("/proc/{}/status", self.process.id()))?;
        status
            .lines()
            .find_map(|line| {
                line.strip_prefix(field)?
                    .trim()
                    .strip_suffix(" kB")?
                    .parse::<f64>()
                    .ok()
            })
            .map(|kilobytes| kilobytes * 1024.0 / 1e6)
            .ok_or_else(|| io::Error::other("no resident size in the process's status"))
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

fn announce(port: u16) {
    println!("{port}");
}

fn serve_bare(kept: &Path, rows: &Path) -> io::Result<()> {
    run(bare::serve(kept, rows, announce))
}

fn run(server: impl Future<Output = io::Result<()>>) -> io::Result<()> {
    tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()?
        .block_on(server)
}

fn put_load(port: &str, encoding: &str, requests: &str, targets: &str) -> io::Result<()> {
    let targets = std::fs::read_to_string(targets)?;
    Load {
        port: port.parse().map_err(io::Error::other)?,
        accept_encoding: encoding.to_owned(),
        connections: CONNECTIONS,
        targets: targets.lines().map(str::to_owned).collect(),
        requests: requests.parse().map_err(io::Error::other)?,
    }
    .run()
}
