//! A counter of changes that public pages depend on; triggers raise it with every written ranking
//! row, whichever process writes it.

use super::Error;
use sqlx::SqliteConnection;

/// Two equal counts mean that no public page has changed in between.
pub async fn count(connection: &mut SqliteConnection) -> Result<i64, Error> {
    let count = sqlx::query_scalar!(
        "SELECT count
         FROM public_change"
    )
    .fetch_one(connection)
    .await?;
    Ok(count)
}

/// Raises the counter for a change that no trigger sees.
pub(super) async fn raise(connection: &mut SqliteConnection) -> Result<(), Error> {
    sqlx::query!(
        "UPDATE public_change
         SET count = count + 1"
    )
    .execute(connection)
    .await?;
    Ok(())
}
