//! SQL lives here and only here; knows the domain, not HTTP.
