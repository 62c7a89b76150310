//! Brickbook: a bench notebook, calculator and public leaderboard for tested USB power adapters.
//!
//! Modules in reading order; each uses what stands above it, never below (`tests/layers.rs`).

#![deny(unsafe_code)]

pub mod host;
pub mod quantity;

pub mod text;

pub mod bench;
pub mod standards;

pub mod log;

pub mod photo;

pub mod evaluate;

pub mod chart;
pub mod demo;
pub mod paper;
pub mod ranking;

pub mod storage;

pub mod intake;

pub mod config;

pub mod web;

pub mod command;
