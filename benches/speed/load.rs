//! The load: a process of its own that asks a server on loopback over kept connections and tells
//! how long each answer took. Bounded by a number of requests.

use std::io;
use std::time::{Duration, Instant};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

/// What one process of load is to do.
#[derive(Debug, Clone)]
pub struct Load {
    pub port: u16,
    pub accept_encoding: String,
    pub connections: usize,
    /// Addresses, asked in turn from the first; `requests` of them in all.
    pub targets: Vec<String>,
    pub requests: usize,
}

/// What it saw.
#[derive(Debug, Clone, Copy)]
pub struct Seen {
    pub took: Duration,
    pub median: Duration,
    pub p99: Duration,
    pub bytes: usize,
}

impl Load {
    /// Asks all the requests, each connection its share, and prints [`Seen`] for the parent.
    pub fn run(self) -> io::Result<()> {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()?;
        let seen = runtime.block_on(self.ask())?;
        println!(
            "{} {} {} {}",
            seen.took.as_nanos(),
            seen.median.as_nanos(),
            seen.p99.as_nanos(),
            seen.bytes
        );
        Ok(())
    }

    async fn ask(self) -> io::Result<Seen> {
        let requests: std::sync::Arc<Vec<Vec<u8>>> = std::sync::Arc::new(
            self.targets
                .iter()
                .map(|t| request(t, &self.accept_encoding))
                .collect(),
        );
        let began = Instant::now();
        let mut tasks = tokio::task::JoinSet::new();
        for first in 0..self.connections {
            let requests = requests.clone();
            let (port, connections, total) = (self.port, self.connections, self.requests);
            tasks.spawn(async move {
                let mut connection = Connection::open(port).await?;
                let mut times = Vec::with_capacity(total / connections + 1);
                let mut bytes = 0;
                for index in (first..total).step_by(connections) {
                    let asked = Instant::now();
                    bytes += connection
                        .ask(&requests[index % requests.len()])
                        .await?
                        .body
                        .len();
                    times.push(asked.elapsed());
                }
                io::Result::Ok((times, bytes))
            });
        }
        let mut times = Vec::with_capacity(self.requests);
        let mut bytes = 0;
        while let Some(done) = tasks.join_next().await {
            let (own, read) = done.map_err(io::Error::other)??;
            times.extend(own);
            bytes += read;
        }
        let took = began.elapsed();
        times.sort_unstable();
        Ok(Seen {
            took,
            median: times[times.len() / 2],
            p99: times[times.len() * 99 / 100],
            bytes,
        })
    }
}

fn request(target: &str, accept_encoding: &str) -> Vec<u8> {
    format!(
        "GET {target} HTTP/1.1\r\nhost: localhost\r\naccept: text/html\r\naccept-encoding: {accept_encoding}\r\n\r\n"
    )
    .into_bytes()
}

/// One answer: its head as text and its body.
pub struct Answer<'a> {
    pub head: &'a str,
    pub body: &'a [u8],
}

/// A kept HTTP/1.1 connection that asks one thing at a time: only as much of the protocol as our
/// own servers use (a length on every answer).
pub struct Connection {
    stream: TcpStream,
    buffer: Vec<u8>,
}

impl Connection {
    pub async fn open(port: u16) -> io::Result<Connection> {
        let stream = TcpStream::connect(("127.0.0.1", port)).await?;
        stream.set_nodelay(true)?;
        Ok(Connection {
            stream,
            buffer: Vec::with_capacity(1 << 17),
        })
    }

    /// Asks once, and refuses any answer but 200.
    pub async fn ask(&mut self, request: &[u8]) -> io::Result<Answer<'_>> {
        self.stream.write_all(request).await?;
        self.buffer.clear();
        let head = loop {
            self.more().await?;
            if let Some(end) = self.buffer.windows(4).position(|w| w == b"\r\n\r\n") {
                break end + 4;
            }
        };
        let text = std::str::from_utf8(&self.buffer[..head]).map_err(io::Error::other)?;
        if !text.starts_with("HTTP/1.1 200 ") {
            return Err(io::Error::other(format!("answered {text}")));
        }
        let length: usize = text
            .lines()
            .find_map(|line| {
                let (name, value) = line.split_once(':')?;
                name.eq_ignore_ascii_case("content-length")
                    .then(|| value.trim().parse().ok())?
            })
            .ok_or_else(|| io::Error::other(format!("an answer without a length: {text}")))?;
        while self.buffer.len() < head + length {
            self.more().await?;
        }
        let (head, body) = self.buffer.split_at(head);
        Ok(Answer {
            head: std::str::from_utf8(head).map_err(io::Error::other)?,
            body,
        })
    }

    /// Asks for one address.
    pub async fn get(&mut self, target: &str, accept_encoding: &str) -> io::Result<Answer<'_>> {
        let request = request(target, accept_encoding);
        self.ask(&request).await
    }

    async fn more(&mut self) -> io::Result<()> {
        match self.stream.read_buf(&mut self.buffer).await? {
            0 => Err(io::Error::from(io::ErrorKind::UnexpectedEof)),
            _ => Ok(()),
        }
    }
}
