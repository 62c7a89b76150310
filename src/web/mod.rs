//! HTTP: pages, charts as responses, the JSON API.
