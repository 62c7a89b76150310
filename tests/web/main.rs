//! The whole site on a temporary database, asked like a browser.

mod app;

mod frame;

mod compare;
mod evidence;
mod method;
mod preview;
mod ranking;
mod regimes;
mod unit;

mod cache;
mod stopping;
