//! A physical model that invents adapters, for demonstration and for measuring speed.
