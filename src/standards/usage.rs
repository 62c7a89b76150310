//! How an adapter is used in a day. Not part of what a unit is judged by: profiles only turn
//! measured figures into a year's energy, so they belong to no [`super::Standards`].

use serde::Deserialize;

/// Hours of a day.
const DAY_H: f64 = 24.0;
/// Most different loads of a profile.
const MOST_LOADS: usize = 12;

/// Hours a day at each load. The rest of the day the adapter is unplugged.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct UseProfile {
    /// Word in addresses.
    pub id: String,
    pub title: String,
    pub loads: Vec<LoadHours>,
    /// Plugged in with nothing attached, 0..=24.
    pub no_load_hours_a_day: f64,
    /// What the profile stands for and leaves out.
    pub note: String,
    pub source: String,
}

#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LoadHours {
    /// Output power, 0<..=1000.
    pub power_w: f64,
    /// 0..=24.
    pub hours_a_day: f64,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
struct Usage {
    matters: Matters,
    profiles: Vec<UseProfile>,
}

/// Why what a reader wrote is no day of use.
#[derive(Debug, Clone, PartialEq)]
pub enum OwnUseFault {
    /// No hours at all.
    Nothing,
    /// An entry that is not watts and hours.
    NotALoad { entry: String },
    /// Not 0 to 1000 W.
    Watts { entry: String },
    /// Not 0 to 24 hours a day.
    Hours { entry: String },
    /// More different loads than a profile has room for.
    TooManyLoads { count: usize, most: usize },
    /// More hours than a day has.
    TooLong { hours: f64, day: f64 },
}

/// When a difference in cost matters to a buyer.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Matters {
    /// Years that a difference is added up over.
    pub years: f64,
    /// It matters from this share of the median price on, percent.
    pub share_of_median_price_percent: f64,
    pub source: String,
}

fn usage() -> Usage {
    toml::from_str(include_str!("usage.toml")).expect("the shipped profiles are well-formed")
}

/// When a difference in cost is worth a buyer's while, as this program ships it.
///
/// Panics only if the shipped table is malformed, which a test rules out.
pub fn matters() -> &'static Matters {
    static MATTERS: std::sync::LazyLock<Matters> = std::sync::LazyLock::new(|| usage().matters);
    &MATTERS
}

/// The profiles this program ships.
///
/// Panics only if the shipped table is malformed, which a test rules out.
pub fn profiles() -> Vec<UseProfile> {
    usage().profiles
}

impl UseProfile {
    /// A reader's own profile from texts like `15 W: 2 h` or `0:16`; 0 W is plugged in with nothing
    /// attached.
    ///
    /// # Errors
    /// The entry at fault, or what is wrong with all of them together.
    pub fn of_reader<'a>(
        entries: impl IntoIterator<Item = &'a str>,
    ) -> Result<UseProfile, OwnUseFault> {
        let mut profile = UseProfile {
            id: "own".to_owned(),
            title: "Your own use".to_owned(),
            loads: Vec::new(),
            no_load_hours_a_day: 0.0,
            note: "Hours a day as you gave them; the rest of the day unplugged.".to_owned(),
            source: "yours".to_owned(),
        };
        for entry in entries {
            let load = entry_of(entry)?;
            if load.power_w == 0.0 {
                profile.no_load_hours_a_day += load.hours_a_day;
            } else if load.hours_a_day > 0.0 {
                profile.loads.push(load);
            }
        }
        if profile.loads.len() > MOST_LOADS {
            return Err(OwnUseFault::TooManyLoads {
                count: profile.loads.len(),
                most: MOST_LOADS,
            });
        }
        let hours = profile.hours_a_day();
        if hours > DAY_H + 1e-9 {
            return Err(OwnUseFault::TooLong { hours, day: DAY_H });
        }
        if hours == 0.0 {
            return Err(OwnUseFault::Nothing);
        }
        Ok(profile)
    }

    /// Hours a day plugged in.
    pub fn hours_a_day(&self) -> f64 {
        self.no_load_hours_a_day + self.loads.iter().map(|l| l.hours_a_day).sum::<f64>()
    }

    /// The largest load; 0 without any.
    pub fn most_w(&self) -> f64 {
        self.loads.iter().map(|l| l.power_w).fold(0.0, f64::max)
    }
}

fn entry_of(text: &str) -> Result<LoadHours, OwnUseFault> {
    let entry: String = text.chars().take(40).collect();
    let expected = || OwnUseFault::NotALoad {
        entry: entry.clone(),
    };
    let (watts, hours) = text.split_once(':').ok_or_else(expected)?;
    let number = |text: &str, units: [char; 2]| {
        text.trim()
            .trim_end_matches(units)
            .trim()
            .replace(',', ".")
            .parse::<f64>()
            .map_err(|_| expected())
    };
    let load = LoadHours {
        power_w: number(watts, ['W', 'w'])?,
        hours_a_day: number(hours, ['h', 'H'])?,
    };
    if !(0.0..=1000.0).contains(&load.power_w) {
        return Err(OwnUseFault::Watts { entry });
    }
    if !(0.0..=DAY_H).contains(&load.hours_a_day) {
        return Err(OwnUseFault::Hours { entry });
    }
    Ok(load)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_shipped_profile_fits_into_a_day_and_names_its_source() {
        let all = profiles();
        assert!(all.len() >= 5);
        for profile in &all {
            assert!(profile.hours_a_day() <= DAY_H + 1e-9, "{}", profile.id);
            assert!(profile.hours_a_day() > 0.0, "{}", profile.id);
            assert!(!profile.source.is_empty() && !profile.note.is_empty());
            assert_eq!(all.iter().filter(|p| p.id == profile.id).count(), 1);
        }
    }

    #[test]
    fn a_reader_writes_watts_and_hours_as_people_do() {
        let own = UseProfile::of_reader(["15 W: 2 h", "0:16", "0,5:3"]).unwrap();
        assert_eq!(own.no_load_hours_a_day, 16.0);
        assert_eq!(own.most_w(), 15.0);
        assert_eq!(own.hours_a_day(), 21.0);
    }

    #[test]
    fn a_profile_that_is_no_day_is_refused_with_the_entry_at_fault() {
        let refused =
            |entries: &[&str]| UseProfile::of_reader(entries.iter().copied()).unwrap_err();
        let entry = |text: &str| text.to_owned();
        assert_eq!(
            refused(&["15:20", "5:5"]),
            OwnUseFault::TooLong {
                hours: 25.0,
                day: 24.0
            }
        );
        assert_eq!(
            refused(&["5:1", "15"]),
            OwnUseFault::NotALoad { entry: entry("15") }
        );
        assert_eq!(
            refused(&["-1:2"]),
            OwnUseFault::Watts {
                entry: entry("-1:2")
            }
        );
        assert_eq!(
            refused(&["NaN:2"]),
            OwnUseFault::Watts {
                entry: entry("NaN:2")
            }
        );
        assert_eq!(
            refused(&["5:25"]),
            OwnUseFault::Hours {
                entry: entry("5:25")
            }
        );
        assert_eq!(
            refused(&["1:1"; 13]),
            OwnUseFault::TooManyLoads {
                count: 13,
                most: 12
            }
        );
        assert_eq!(refused(&[]), OwnUseFault::Nothing);
    }
}
