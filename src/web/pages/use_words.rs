//! What use profiles are called and how they are told, in the language spoken now.

use crate::{
    standards::{UseProfile, usage::OwnUseFault},
    text::{t, word},
    web::format,
};

/// A profile's texts.
pub struct UseText {
    pub title: String,
    pub note: String,
    pub source: String,
}

/// The texts of a profile. One that has none in the catalogues is told as its table tells it.
pub fn of(profile: &UseProfile) -> UseText {
    let (title, note, source) = match profile.id.as_str() {
        "phone-overnight" => (
            word("profile-phone-overnight"),
            word("profile-phone-overnight.note"),
            word("profile-phone-overnight.source"),
        ),
        "laptop-by-day" => (
            word("profile-laptop-by-day"),
            word("profile-laptop-by-day.note"),
            word("profile-laptop-by-day.source"),
        ),
        "always-on" => (
            word("profile-always-on"),
            word("profile-always-on.note"),
            word("profile-always-on.source"),
        ),
        "plugged-in" => (
            word("profile-plugged-in"),
            word("profile-plugged-in.note"),
            word("profile-plugged-in.source"),
        ),
        "us-charger-class-2" => (
            word("profile-us-charger-class-2"),
            word("profile-us-charger-class-2.note"),
            word("profile-us-charger-class-2.source"),
        ),
        "us-charger-class-4" => (
            word("profile-us-charger-class-4"),
            word("profile-us-charger-class-4.note"),
            word("profile-us-charger-class-4.source"),
        ),
        "own" => (
            word("profile-own"),
            word("profile-own.note"),
            word("profile-own.source"),
        ),
        _ => (
            profile.title.as_str(),
            profile.note.as_str(),
            profile.source.as_str(),
        ),
    };
    UseText {
        title: title.to_owned(),
        note: note.to_owned(),
        source: source.to_owned(),
    }
}

/// "15 W for 0.5 h, 7 W for 1.2 h, plugged in with nothing attached for 16 h a day"
pub fn profile_words(profile: &UseProfile) -> String {
    let hours = |h: f64| format::with_unit(format::plain(h), "h");
    let mut parts: Vec<String> = profile
        .loads
        .iter()
        .map(|load| {
            t("profile-load")
                .with("power", format::rated_watts(load.power_w))
                .with("time", hours(load.hours_a_day))
                .to_string()
        })
        .collect();
    if profile.no_load_hours_a_day > 0.0 {
        let idle = t("profile-idle").with("time", hours(profile.no_load_hours_a_day));
        parts.push(idle.to_string());
    }
    t("profile-a-day")
        .with("loads", parts.join(", "))
        .to_string()
}

/// Why what a reader wrote is no day of use, without a full stop.
pub fn fault_words(fault: &OwnUseFault) -> String {
    match fault {
        OwnUseFault::Nothing => word("own-use-nothing").to_owned(),
        OwnUseFault::NotALoad { entry } => t("own-use-not-a-load").with("entry", entry).to_string(),
        OwnUseFault::Watts { entry } => t("own-use-bad-watts").with("entry", entry).to_string(),
        OwnUseFault::Hours { entry } => t("own-use-bad-hours").with("entry", entry).to_string(),
        OwnUseFault::TooManyLoads { count, most } => t("own-use-too-many")
            .with("count", *count)
            .with("most", *most)
            .to_string(),
        OwnUseFault::TooLong { hours, day } => t("own-use-too-long")
            .with("hours", format::plain(*hours))
            .with("day", format::plain(*day))
            .to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{standards::usage, text::Language};

    #[test]
    fn every_shipped_profile_is_told_as_in_its_table_and_otherwise_in_german() {
        let own = UseProfile::of_reader(["15:2"]).unwrap();
        for profile in usage::profiles().into_iter().chain([own]) {
            let english = of(&profile);
            assert_eq!(english.title, profile.title);
            assert_eq!(english.note, profile.note);
            assert_eq!(english.source, profile.source);
            let german = Language::German.speak(|| of(&profile));
            assert_ne!(german.title, profile.title);
            assert_ne!(german.note, profile.note);
            assert_ne!(german.source, profile.source);
        }
    }

    #[test]
    fn a_profile_without_texts_of_its_own_is_told_by_its_table() {
        let mut profile = usage::profiles().remove(0);
        profile.id = "night-shift".to_owned();
        profile.title = "Night shift".to_owned();
        let told = Language::German.speak(|| of(&profile));
        assert_eq!(told.title, "Night shift");
        assert_eq!(told.note, profile.note);
    }

    #[test]
    fn hours_a_day_are_said_in_either_language() {
        let profile = UseProfile::of_reader(["15:0.5", "0:16"]).unwrap();
        let shown = |text: String| text.replace('\u{202f}', " ");
        assert_eq!(
            shown(profile_words(&profile)),
            "15 W for 0.5 h, plugged in with nothing attached for 16 h a day"
        );
        assert_eq!(
            Language::German.speak(|| shown(profile_words(&profile))),
            "Täglich 0,5 h mit 15 W, 16 h eingesteckt ohne angeschlossenes Gerät"
        );
    }
}
