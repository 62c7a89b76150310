//! The whole site on a temporary database, asked like a browser.

mod app;
mod frame;
