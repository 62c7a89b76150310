//! Second factors: time-based codes of an authenticator app (RFC 6238), and recovery codes for when
//! it is lost; passkeys are in `passkeys`. Recovery codes are known only as SHA-256; the app's secret has to be read again, so it
//! is kept as it is.

use super::sessions::TokenHash;
use super::{Error, error::found, instant};
use sqlx::SqliteConnection;
use time::OffsetDateTime;

/// The secret that an account shares with its authenticator app.
#[derive(Clone, PartialEq, Eq)]
pub struct Totp {
    pub secret: Vec<u8>,
    /// Codes are asked for since its first one was entered.
    pub confirmed_at: Option<OffsetDateTime>,
}

/// Shares a new secret, which is not asked for yet. One that was not confirmed is replaced.
///
/// # Errors
/// [`Error::Conflict`] if there is a confirmed one.
pub async fn begin(
    connection: &mut SqliteConnection,
    operator_id: i64,
    secret: &[u8],
) -> Result<(), Error> {
    let begun = sqlx::query!(
        "INSERT INTO totp (operator_id, secret)
         VALUES (?, ?)
         ON CONFLICT (operator_id) DO UPDATE SET secret = excluded.secret,
                                                 last_step = 0
         WHERE confirmed_at IS NULL",
        operator_id,
        secret
    )
    .execute(connection)
    .await?
    .rows_affected();
    if begun == 0 {
        Err(Error::Conflict(
            "there is a second factor already".to_owned(),
        ))
    } else {
        Ok(())
    }
}

pub async fn find(
    connection: &mut SqliteConnection,
    operator_id: i64,
) -> Result<Option<Totp>, Error> {
    let row = sqlx::query!(
        "SELECT secret,
                confirmed_at
         FROM totp
         WHERE operator_id = ?",
        operator_id
    )
    .fetch_optional(connection)
    .await?;
    row.map(|row| {
        Ok(Totp {
            secret: row.secret,
            confirmed_at: row
                .confirmed_at
                .as_deref()
                .map(instant::from_text)
                .transpose()?,
        })
    })
    .transpose()
}

/// Takes a code's time step; `false` if it, or a later one, was taken before.
pub async fn take_step(
    connection: &mut SqliteConnection,
    operator_id: i64,
    step: i64,
) -> Result<bool, Error> {
    let taken = sqlx::query!(
        "UPDATE totp
         SET last_step = ?1
         WHERE operator_id = ?2
           AND last_step < ?1",
        step,
        operator_id
    )
    .execute(connection)
    .await?
    .rows_affected();
    Ok(taken == 1)
}

/// From now on codes are asked for; the recovery codes are replaced by these.
pub async fn confirm(
    connection: &mut SqliteConnection,
    operator_id: i64,
    recovery_codes: &[TokenHash],
    now: OffsetDateTime,
) -> Result<(), Error> {
    let now = instant::to_text(now);
    let done = sqlx::query!(
        "UPDATE totp
         SET confirmed_at = ?
         WHERE operator_id = ?
           AND confirmed_at IS NULL",
        now,
        operator_id
    )
    .execute(&mut *connection)
    .await?;
    found(&done)?;
    sqlx::query!(
        "DELETE FROM recovery_code WHERE operator_id = ?",
        operator_id
    )
    .execute(&mut *connection)
    .await?;
    for code in recovery_codes {
        let hash = code.as_slice();
        sqlx::query!(
            "INSERT INTO recovery_code (operator_id, code_hash)
             VALUES (?, ?)",
            operator_id,
            hash
        )
        .execute(&mut *connection)
        .await?;
    }
    Ok(())
}

/// Uses a recovery code up; `false` if there is no such code (any more).
pub async fn use_recovery_code(
    connection: &mut SqliteConnection,
    operator_id: i64,
    code: &TokenHash,
    now: OffsetDateTime,
) -> Result<bool, Error> {
    let now = instant::to_text(now);
    let hash = code.as_slice();
    let used = sqlx::query!(
        "UPDATE recovery_code
         SET used_at = ?
         WHERE operator_id = ?
           AND code_hash = ?
           AND used_at IS NULL",
        now,
        operator_id,
        hash
    )
    .execute(connection)
    .await?
    .rows_affected();
    Ok(used == 1)
}

/// How many recovery codes are left.
pub async fn recovery_codes_left(
    connection: &mut SqliteConnection,
    operator_id: i64,
) -> Result<i64, Error> {
    let left = sqlx::query_scalar!(
        "SELECT count(*)
         FROM recovery_code
         WHERE operator_id = ?
           AND used_at IS NULL",
        operator_id
    )
    .fetch_one(connection)
    .await?;
    Ok(left)
}

/// Is there anything besides the password: codes that are asked for, or a passkey?
pub async fn exist(connection: &mut SqliteConnection, operator_id: i64) -> Result<bool, Error> {
    let exist = sqlx::query_scalar!(
        r#"SELECT EXISTS (SELECT 1 FROM totp WHERE operator_id = ?1 AND confirmed_at IS NOT NULL)
               OR EXISTS (SELECT 1 FROM passkey WHERE operator_id = ?1) AS "exist!: bool""#,
        operator_id
    )
    .fetch_one(connection)
    .await?;
    Ok(exist)
}

/// Takes codes and passkeys away, so that the password is all that is left; was there anything?
pub async fn remove_all(
    connection: &mut SqliteConnection,
    operator_id: i64,
) -> Result<bool, Error> {
    let passkeys = super::passkeys::remove_all(connection, operator_id).await?;
    Ok(remove_codes(connection, operator_id).await? || passkeys > 0)
}

/// Takes the codes away, recovery codes included; were there any?
pub async fn remove_codes(
    connection: &mut SqliteConnection,
    operator_id: i64,
) -> Result<bool, Error> {
    sqlx::query!(
        "DELETE FROM recovery_code WHERE operator_id = ?",
        operator_id
    )
    .execute(&mut *connection)
    .await?;
    let removed = sqlx::query!("DELETE FROM totp WHERE operator_id = ?", operator_id)
        .execute(connection)
        .await?
        .rows_affected();
    Ok(removed == 1)
}
