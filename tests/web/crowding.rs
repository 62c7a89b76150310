//! Who takes up connections, over real ones: how many there may be at once, and how long a client
//! may take to send a request. What a limit does is shown beside a site whose limit is out of reach.

use crate::stopping::serving;
use brickbook::web::Config;
use std::{io, time::Duration};
use tokio::{
    io::{AsyncReadExt, AsyncWriteExt},
    net::TcpStream,
};

const SHORT: Duration = Duration::from_millis(400);
/// Longer than anybody lets a test run.
const OUT_OF_REACH: Duration = Duration::from_secs(24 * 3600);
const BETWEEN_DROPS: Duration = Duration::from_millis(20);

const PAGE: &[u8] = b"GET /health/live HTTP/1.1\r\nHost: x\r\n\r\n";

/// Asks for something small and reads the answer; the connection stays open.
async fn ask(client: &mut TcpStream) {
    client.write_all(PAGE).await.unwrap();
    read_answer(client).await;
}

async fn read_answer(client: &mut TcpStream) {
    let mut answer = Vec::new();
    while !answer.ends_with(b"\r\n\r\n") {
        let byte = client.read_u8().await.unwrap();
        answer.push(byte);
    }
    let head = String::from_utf8(answer).unwrap();
    assert!(head.starts_with("HTTP/1.1 200"), "{head}");
    let length = head
        .lines()
        .find_map(|line| line.strip_prefix("content-length: ")?.parse().ok())
        .unwrap_or_else(|| panic!("{head}"));
    client.read_exact(&mut vec![0; length]).await.unwrap();
}

#[tokio::test]
async fn no_more_connections_are_served_at_once_than_set_and_who_waits_comes_next() {
    for (most, is_full) in [(2, true), (3, false)] {
        let (_app, address, _stop, _served) = serving(Config {
            max_connections: most,
            ..Config::default()
        })
        .await;
        let mut first = TcpStream::connect(address).await.unwrap();
        ask(&mut first).await;
        let mut second = TcpStream::connect(address).await.unwrap();
        ask(&mut second).await;
        // The system takes it, whether or not the program does.
        let mut third = TcpStream::connect(address).await.unwrap();
        third.write_all(PAGE).await.unwrap();
        if is_full {
            // Whoever is in is served all the while.
            for _ in 0..50 {
                ask(&mut first).await;
                let nothing = third.try_read(&mut [0; 1]).unwrap_err();
                assert_eq!(nothing.kind(), io::ErrorKind::WouldBlock);
            }
            drop(second);
        }
        read_answer(&mut third).await;
        ask(&mut first).await;
    }
}

/// Sends a byte now and then until the other side has closed the connection, and gives what it said
/// before.
async fn drip(mut client: TcpStream) -> String {
    let mut said = Vec::new();
    loop {
        tokio::select! {
            read = client.read_buf(&mut said) => match read {
                Ok(0) | Err(_) => return String::from_utf8(said).unwrap(),
                Ok(_) => {}
            },
            () = tokio::time::sleep(BETWEEN_DROPS) => {
                // What is sent to a closed connection is told by the next reading.
                let _ = client.write_all(b"a").await;
            }
        }
    }
}

#[tokio::test]
async fn a_head_that_does_not_come_to_its_end_in_time_is_not_waited_for() {
    let with = |head_deadline| Config {
        head_deadline,
        request_timeout: OUT_OF_REACH,
        ..Config::default()
    };
    let (_patient, address, _stop, _served) = serving(with(OUT_OF_REACH)).await;
    let mut waited_for = TcpStream::connect(address).await.unwrap();
    let begin = b"GET /health/live HTTP/1.1\r\nHost: x\r\nX-Slow: a";
    waited_for.write_all(begin).await.unwrap();

    let (_app, address, _stop, _served) = serving(with(SHORT)).await;
    let mut slow = TcpStream::connect(address).await.unwrap();
    slow.write_all(begin).await.unwrap();
    let said = drip(slow).await;
    assert!(!said.contains("200 OK"), "{said}");
    // The second request of a connection has no more time than the first.
    let mut slow = TcpStream::connect(address).await.unwrap();
    ask(&mut slow).await;
    slow.write_all(begin).await.unwrap();
    let said = drip(slow).await;
    assert!(!said.contains("200 OK"), "{said}");
    // Nor has one that says nothing at all, at first or after an answer.
    let mut silent = TcpStream::connect(address).await.unwrap();
    assert_eq!(silent.read(&mut [0; 16]).await.unwrap_or(0), 0);
    let mut idle = TcpStream::connect(address).await.unwrap();
    ask(&mut idle).await;
    assert_eq!(idle.read(&mut [0; 16]).await.unwrap_or(0), 0);

    waited_for.write_all(b"\r\n\r\n").await.unwrap();
    read_answer(&mut waited_for).await;
}

#[tokio::test]
async fn a_body_that_does_not_come_to_its_end_in_time_is_answered_and_not_waited_for() {
    let with = |request_timeout| Config {
        head_deadline: OUT_OF_REACH,
        request_timeout,
        ..Config::default()
    };
    let record = crate::app::seed("larkfield-lf-100q");
    let (first, second) = record.as_bytes().split_at(100);
    let head = format!(
        "POST /api/v1/evaluate HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n\
         Content-Length: {}\r\n\r\n",
        record.len()
    );
    let begin = [head.as_bytes(), first].concat();
    let (_patient, address, _stop, _served) = serving(with(OUT_OF_REACH)).await;
    let mut waited_for = TcpStream::connect(address).await.unwrap();
    waited_for.write_all(&begin).await.unwrap();

    let (_app, address, _stop, _served) = serving(with(SHORT)).await;
    let mut slow = TcpStream::connect(address).await.unwrap();
    slow.write_all(&begin).await.unwrap();
    let said = drip(slow).await;
    assert!(said.starts_with("HTTP/1.1 503"), "{said}");
    assert!(said.contains("retry-after: "), "{said}");

    waited_for.write_all(second).await.unwrap();
    read_answer(&mut waited_for).await;
}
