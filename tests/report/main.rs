//! Printed reports, read by programs that others wrote: poppler's `pdfinfo`, `pdftotext` and
//! `pdftoppm`, and `qpdf`. `tests/all.sh` installs them.

// Written for the web tests; not all of it is needed here.
#[allow(dead_code)]
#[path = "../web/app.rs"]
mod app;
mod class;
mod odd;
mod photos;
mod reader;
mod unit;
