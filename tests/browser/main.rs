//! The product as a person meets it: the real binary, a real browser, the keyboard.
//!
//! Needs chromium, chromedriver and axe-core (`bash tests/all.sh` installs them); without them
//! the tests fail and say so.

mod accessibility;
mod bench_sheet;
mod desk;
mod driver;
mod files;
mod journeys;
mod languages;
mod logs;
mod pages;
mod passkeys;
mod photos;
mod queue;
mod screenshots;
mod server;
mod sharing;
