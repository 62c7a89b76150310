//! Passwords: how they are kept, and which are taken. Length counts and what an attacker tries
//! first; nothing is asked about capitals, digits or signs (NIST SP 800-63B, OWASP ASVS 5.0 chapter 6).

use argon2::{
    Argon2,
    password_hash::{PasswordHasher, PasswordVerifier, phc::PasswordHash},
};

/// Characters.
pub const SHORTEST_PASSWORD: usize = 12;
/// Characters; what is longer takes long to look at and helps nobody.
pub const LONGEST_PASSWORD: usize = 128;

/// Argon2id with 19 MiB, two passes, one lane (OWASP's minimum, and this library's default), as a
/// PHC string. Takes some 30 ms: not on a thread that serves.
///
/// # Errors
/// The operating system gives no randomness.
pub fn hash_password(password: &str) -> Result<String, argon2::password_hash::Error> {
    Ok(Argon2::default()
        .hash_password(password.as_bytes())?
        .to_string())
}

pub(super) fn is_password(password: &str, hash: &str) -> bool {
    PasswordHash::new(hash).is_ok_and(|hash| {
        Argon2::default()
            .verify_password(password.as_bytes(), &hash)
            .is_ok()
    })
}

/// Why a name will not do, in words for whoever chose it.
pub fn check_name(name: &str) -> Result<(), String> {
    let letters = name.trim().chars().count();
    if !(1..=80).contains(&letters) || name.chars().any(char::is_control) {
        return Err("The name must have 1 to 80 characters on one line.".into());
    }
    Ok(())
}

/// Why a password will not do, in words for whoever chose it. `context` are words that an attacker
/// of this account would try, such as its name and the site's.
pub fn check_password(password: &str, context: &[&str]) -> Result<(), String> {
    let characters = password.chars().count();
    if characters < SHORTEST_PASSWORD {
        return Err(format!(
            "The password must have at least {SHORTEST_PASSWORD} characters."
        ));
    }
    if characters > LONGEST_PASSWORD {
        return Err(format!(
            "The password must have at most {LONGEST_PASSWORD} characters."
        ));
    }
    let mut guessed_first = vec!["brickbook", "adapter", "charger", "bench"];
    guessed_first.extend(context.iter().flat_map(|text| text.split_whitespace()));
    guessed_first.extend(context);
    // Below this an attacker who tries the commonest passwords, names and words and what is made of
    // them (12345, qwerty, pa55w0rd, Brickbook2026) has it within 10^8 guesses.
    if zxcvbn::zxcvbn(password, &guessed_first).score() < zxcvbn::Score::Three {
        return Err(
            "This password is among the first that somebody would guess. A few random words serve well."
                .into(),
        );
    }
    Ok(())
}

/// Why name or password will not do, in words for whoever chose them.
pub fn check_new_operator(name: &str, password: &str) -> Result<(), String> {
    check_name(name)?;
    check_password(password, &[name])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_password_is_known_again_and_another_is_not() {
        let hash = hash_password("correct horse battery").unwrap();
        assert!(
            hash.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"),
            "{hash}"
        );
        assert!(is_password("correct horse battery", &hash));
        assert!(!is_password("correct horse batterx", &hash));
        assert_ne!(
            hash,
            hash_password("correct horse battery").unwrap(),
            "salted"
        );
        assert!(!is_password("x", "no hash at all"));
    }

    #[test]
    fn short_and_overlong_passwords_and_blank_names_are_refused_with_a_reason() {
        let refused = |name: &str, password: &str| check_new_operator(name, password).unwrap_err();
        assert!(refused("Ada", "eleven char").contains("at least 12"));
        assert!(refused("Ada", &"vq7-".repeat(33)).contains("at most 128"));
        assert!(refused("  ", "twelve chars ok").contains("name"));
        assert!(refused("A\nda", "twelve chars ok").contains("name"));
        check_new_operator("Ada", "twelve chars ok").expect("a good one");
        // ASVS 5.0, 6.2.9: at least 64 characters are taken; 6.2.8: as they were typed.
        check_new_operator("Ada", &"grün Esel ☂ ".repeat(10)).expect("a long one in any script");
    }

    #[test]
    fn no_kind_of_character_is_asked_for() {
        for password in ["umbrella moss teapot", "7204918356120947", "KVXQZJWPHGTD"] {
            check_new_operator("Ada", password).unwrap_or_else(|why| panic!("{password}: {why}"));
        }
    }

    #[test]
    fn what_is_guessed_first_is_refused() {
        for password in [
            "123456789012",
            "passwordpassword",
            "qwertyuiop12",
            "aaaaaaaaaaaaaaaa",
            "Password1234",
            "iloveyou1234",
            "brickbook2026",
            "Ada Lovelace 1",
            "Lovelace2026",
        ] {
            assert!(
                check_new_operator("Ada Lovelace", password)
                    .is_err_and(|why| why.contains("first")),
                "{password}"
            );
        }
    }
}
