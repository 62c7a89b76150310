//! The desk over HTTP: signing in, entering, publishing, previews, and a server that is killed.

#[path = "../web/app.rs"]
#[allow(dead_code, reason = "shared with the tests of the public pages")]
mod app;

mod browser;

mod accounts;
mod asvs;
mod bench;
mod bench_sheet;
mod killed;
mod logs;
mod passkeys;
mod photos;
mod ports;
mod queue;
mod refused_writes;
mod rights;
mod sharing;
