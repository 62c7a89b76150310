//! The main job against things outside the project: published limits and worked examples, each
//! row with its source, run through `evaluate` as a user's record would be.

mod decision_rules;
mod energy_limits;
mod logged_records;
mod no_load_methods;
mod no_load_simulations;
mod odd_logs;
mod plans;
mod power_quality;
mod record_builder;
mod touch_temperature;
mod uncertainty;
mod usb_pd;
mod verdict_rules;
mod worked_score;
mod yearly_energy;
