//! The whole site on a temporary database, asked like a browser.

mod app;
mod bench_report;

mod frame;

mod choices;
mod compare;
mod evidence;
mod languages;
mod method;
mod next_to_nothing;
mod photos;
mod ports;
mod preview;
mod ranking;
mod regimes;
mod sharing_out;
mod structured_data;
mod unit;

mod cache;
mod crowding;
mod running;
mod stopping;
