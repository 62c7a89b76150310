//! Charts: domain values in, SVG text out.
