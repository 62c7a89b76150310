//! Limits as data: energy rules, wattage classes, the score formula.
