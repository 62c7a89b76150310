//! The second factor: time-based codes (RFC 6238: SHA-1, six digits, 30 s, as every authenticator app
//! does), and recovery codes of 120 random bits.
//!
//! Whoever has given the right password has five minutes and five tries for a code (`underway`).

use super::{error::Error, state::Site, underway::Underway};
use crate::config::Rate;
use crate::storage::{operators::Credentials, sessions::TokenHash};
use crate::web::{auth, limits::Limiter};
use std::{
    sync::{
        Arc,
        atomic::{AtomicU32, Ordering},
    },
    time::Duration,
};
use time::OffsetDateTime;
use totp_rs::{Algorithm, Builder, Totp};

/// Codes that may be tried after one password.
const TRIES: u32 = 5;
pub const RECOVERY_CODES: usize = 10;

/// Who has given the right password and not yet the code.
pub struct Waiting {
    pub operator_id: i64,
    pub name: String,
    /// What the password was held against: whoever gets another one begins anew.
    pub password_hash: String,
    tries: AtomicU32,
}

pub struct SecondFactor {
    waiting: Underway<Waiting>,
    /// Whoever is asked for a code has the password already. So few are tried, from wherever, that
    /// guessing six digits takes years.
    codes: Limiter<i64>,
}

impl Default for SecondFactor {
    fn default() -> SecondFactor {
        SecondFactor {
            waiting: Underway::default(),
            codes: Limiter::new(Some(Rate {
                at_once: 20,
                number: 10,
                period: Duration::from_secs(3600),
            })),
        }
    }
}

impl SecondFactor {
    /// Remembers that the password was right and gives the token of the cookie.
    pub fn wait(&self, known: Credentials, now: OffsetDateTime) -> String {
        let waiting = Waiting {
            operator_id: known.operator_id,
            name: known.name,
            password_hash: known.password_hash,
            tries: AtomicU32::new(0),
        };
        self.waiting.begin(waiting, now)
    }

    /// Who waits under this token.
    pub fn waiting(&self, token: &str, now: OffsetDateTime) -> Option<Arc<Waiting>> {
        let found = self.waiting.find(token, now)?;
        (found.tries.load(Ordering::Relaxed) < TRIES).then_some(found)
    }

    /// Counts a try at a code.
    ///
    /// # Errors
    /// [`Error::TooMany`] if there were too many for this account.
    pub fn attempt(&self, waiting: &Waiting) -> Result<(), Error> {
        waiting.tries.fetch_add(1, Ordering::Relaxed);
        self.attempt_for(waiting.operator_id)
    }

    /// Counts a try at a code of somebody who is signed in.
    ///
    /// # Errors
    /// [`Error::TooMany`] if there were too many for this account.
    pub fn attempt_for(&self, operator_id: i64) -> Result<(), Error> {
        self.codes
            .check(&operator_id)
            .map_err(|wait| Error::TooMany(wait.as_secs() + 1))
    }

    /// It is over: the code was right.
    pub fn done(&self, token: &str, now: OffsetDateTime) {
        self.waiting.take(token, now);
    }
}

/// A new secret for an authenticator app.
pub fn new_secret() -> [u8; 20] {
    auth::random()
}

fn totp(secret: &[u8], account: &str, issuer: &str) -> Result<Totp, Error> {
    // A colon ends the issuer in the address that apps read.
    let plain = |text: &str| text.replace(':', " ");
    Builder::new()
        .with_algorithm(Algorithm::SHA1)
        .with_digits(6)
        .with_skew(1)
        .with_step_duration(30)
        .with_secret(secret)
        .with_account_name(plain(account))
        .with_issuer(Some(plain(issuer)))
        .build()
        .map_err(|cause| Error::internal(cause.to_string()))
}

/// The time step of a code that is right now, or was half a minute ago, or will be.
pub fn step_of(secret: &[u8], code: &str, now: OffsetDateTime) -> Result<Option<i64>, Error> {
    let digits: String = code.chars().filter(|c| !c.is_whitespace()).collect();
    let Ok(seconds) = u64::try_from(now.unix_timestamp()) else {
        return Ok(None);
    };
    let step = totp(secret, "account", "site")?.check(&digits, seconds);
    Ok(step.and_then(|step| i64::try_from(step).ok()))
}

/// What an app is shown: the secret to type, and a picture to scan (SVG).
pub struct Shown {
    pub secret: String,
    pub picture: String,
}

pub fn shown(site: &Site, secret: &[u8], account: &str) -> Result<Shown, Error> {
    let totp = totp(secret, account, &site.config.site_name)?;
    let address = totp
        .to_url()
        .map_err(|cause| Error::internal(cause.to_string()))?;
    let code = qrcode::QrCode::new(address.as_bytes()).map_err(Error::internal)?;
    let svg = code
        .render::<qrcode::render::svg::Color>()
        .min_dimensions(240, 240)
        .build();
    // Only the element: it stands in the page.
    let start = svg.find("<svg").unwrap_or(0);
    let text = totp.secret().to_base32();
    let groups: Vec<&str> = text
        .as_bytes()
        .chunks(4)
        .filter_map(|group| std::str::from_utf8(group).ok())
        .collect();
    Ok(Shown {
        secret: groups.join(" "),
        picture: svg[start..].replacen("<svg ", "<svg role=\"img\" aria-label=\"QR code\" ", 1),
    })
}

/// A recovery code: 120 random bits as six groups of four letters and digits.
pub fn new_recovery_code() -> String {
    const LETTERS: &[u8; 32] = b"abcdefghjkmnpqrstuvwxyz023456789";
    let bytes: [u8; 24] = auth::random();
    let letters: Vec<char> = bytes
        .iter()
        .map(|byte| LETTERS[usize::from(byte % 32)] as char)
        .collect();
    let groups: Vec<String> = letters
        .chunks(4)
        .map(|group| group.iter().collect())
        .collect();
    groups.join("-")
}

/// As it is kept: however it was typed.
pub fn hash_of_recovery_code(typed: &str) -> TokenHash {
    let plain: String = typed
        .chars()
        .filter(|c| c.is_ascii_alphanumeric())
        .map(|c| c.to_ascii_lowercase())
        .collect();
    auth::hash_of(&plain)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::storage::operators::Role;
    use crate::web::underway::WAITS;

    #[test]
    fn codes_agree_with_the_test_vectors_of_rfc_6238() {
        // RFC 6238, appendix B, SHA-1: the last six of the eight digits printed there.
        let secret = b"12345678901234567890";
        for (seconds, code) in [
            (59, "287082"),
            (1_111_111_109, "081804"),
            (1_111_111_111, "050471"),
            (1_234_567_890, "005924"),
            (2_000_000_000, "279037"),
            (20_000_000_000, "353130"),
        ] {
            let at = OffsetDateTime::from_unix_timestamp(seconds).unwrap();
            assert_eq!(
                step_of(secret, code, at).unwrap(),
                Some(seconds / 30),
                "{code}"
            );
            let spaced = format!(" {} {}", &code[..3], &code[3..]);
            assert_eq!(step_of(secret, &spaced, at).unwrap(), Some(seconds / 30));
            let late = at + time::Duration::seconds(90);
            assert_eq!(step_of(secret, code, late).unwrap(), None, "too old");
        }
        for wrong in ["", "28708", "2870821", "abcdef", "２８７０８２"] {
            let at = OffsetDateTime::from_unix_timestamp(59).unwrap();
            assert_eq!(step_of(secret, wrong, at).unwrap(), None, "{wrong}");
        }
    }

    #[test]
    fn recovery_codes_are_long_different_and_known_however_typed() {
        let codes: std::collections::BTreeSet<String> =
            (0..100).map(|_| new_recovery_code()).collect();
        assert_eq!(codes.len(), 100);
        for code in codes {
            // 24 letters of 32: 120 bits, above the 112 of ASVS 5.0, 6.5.2.
            assert_eq!(code.chars().filter(|c| *c != '-').count(), 24, "{code}");
            let typed = code.to_uppercase().replace('-', " ");
            assert_eq!(hash_of_recovery_code(&code), hash_of_recovery_code(&typed));
        }
    }

    #[test]
    fn after_a_password_there_are_five_tries_within_five_minutes() {
        let factor = SecondFactor::default();
        let now = OffsetDateTime::UNIX_EPOCH;
        let known = Credentials {
            operator_id: 1,
            name: "Ada".into(),
            role: Role::Owner,
            password_hash: "none".into(),
        };
        let token = factor.wait(known, now);
        assert!(factor.waiting("another", now).is_none());
        assert!(factor.waiting(&token, now + WAITS).is_none(), "too late");
        for _ in 0..5 {
            let waiting = factor.waiting(&token, now).expect("one of five tries");
            factor.attempt(&waiting).unwrap();
        }
        assert!(factor.waiting(&token, now).is_none());
    }

    #[test]
    fn six_digits_cannot_be_guessed_by_whoever_has_the_password() {
        let factor = SecondFactor::default();
        let tried = (0..1000).filter(|_| factor.attempt_for(1).is_ok()).count();
        assert!(tried <= 21, "{tried}");
        factor.attempt_for(2).expect("another account");
    }
}
