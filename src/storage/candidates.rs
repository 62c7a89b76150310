//! Units that are to be tested, in the tester's order, and the states that each went through.
//! The queue is one for all operators.

use super::{Error, instant};
use sqlx::SqliteConnection;
use time::OffsetDateTime;

/// How far a candidate has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum State {
    Wanted,
    Ordered,
    Here,
    OnTheBench,
    Measured,
    Published,
    Skipped,
}

impl State {
    pub const ALL: [State; 7] = [
        State::Wanted,
        State::Ordered,
        State::Here,
        State::OnTheBench,
        State::Measured,
        State::Published,
        State::Skipped,
    ];

    /// As it is stored and sent: `on-the-bench`.
    pub fn id(self) -> &'static str {
        match self {
            State::Wanted => "wanted",
            State::Ordered => "ordered",
            State::Here => "here",
            State::OnTheBench => "on-the-bench",
            State::Measured => "measured",
            State::Published => "published",
            State::Skipped => "skipped",
        }
    }

    pub fn from_id(id: &str) -> Option<State> {
        State::ALL.into_iter().find(|state| state.id() == id)
    }

    /// Is there still something to do?
    pub fn is_open(self) -> bool {
        !matches!(self, State::Published | State::Skipped)
    }
}

/// What the tester says about a candidate.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    pub maker: String,
    pub model: String,
    pub link: Option<String>,
    /// Decimal text and ISO 4217 code.
    pub price: Option<(String, String)>,
    /// ISO 8601 date.
    pub planned_on: Option<String>,
    /// Shown on the public calendar.
    pub public: bool,
    pub note: String,
    /// JSON object of texts by path of the bench form.
    pub label: String,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Candidate {
    pub id: i64,
    /// Names it in calendars; given once.
    pub uid: String,
    pub entry: Entry,
    pub state: State,
    pub draft_id: Option<i64>,
    pub unit_id: Option<i64>,
    /// Slug of the unit that it became.
    pub slug: Option<String>,
    /// Counts changes of entry and state.
    pub sequence: i64,
    pub created_at: OffsetDateTime,
    pub updated_at: OffsetDateTime,
}

/// A state that a candidate came into.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    pub state: State,
    /// Name of the operator.
    pub author: String,
    pub at: OffsetDateTime,
}

/// Puts a candidate at the end of the queue.
pub async fn insert(
    connection: &mut SqliteConnection,
    uid: &str,
    entry: &Entry,
    state: State,
    author: &str,
    now: OffsetDateTime,
) -> Result<i64, Error> {
    let at = instant::to_text(now);
    let (amount, currency) = apart(entry);
    let state_id = state.id();
    let id = sqlx::query_scalar!(
        r#"INSERT INTO candidate (uid, maker, model, state, place, link, price_amount,
                                  price_currency, planned_on, public, note, label, created_at, updated_at)
           SELECT ?1, ?2, ?3, ?4, 1 + coalesce(max(place), 0), ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?12
           FROM candidate
           RETURNING id AS "id!""#,
        uid,
        entry.maker,
        entry.model,
        state_id,
        entry.link,
        amount,
        currency,
        entry.planned_on,
        entry.public,
        entry.note,
        entry.label,
        at
    )
    .fetch_one(&mut *connection)
    .await?;
    note_step(connection, id, state, author, &at).await?;
    Ok(id)
}

/// All candidates in the tester's order.
pub async fn list(connection: &mut SqliteConnection) -> Result<Vec<Candidate>, Error> {
    read(connection, None).await
}

/// One candidate.
///
/// # Errors
/// [`Error::NotFound`] if there is none of this number.
pub async fn find(connection: &mut SqliteConnection, id: i64) -> Result<Candidate, Error> {
    read(connection, Some(id))
        .await?
        .pop()
        .ok_or(Error::NotFound)
}

async fn read(
    connection: &mut SqliteConnection,
    only: Option<i64>,
) -> Result<Vec<Candidate>, Error> {
    sqlx::query_as!(
        CandidateRow,
        r#"SELECT candidate.id AS "id!",
                  candidate.uid,
                  candidate.maker,
                  candidate.model,
                  candidate.state,
                  candidate.link,
                  candidate.price_amount,
                  candidate.price_currency,
                  candidate.planned_on,
                  candidate.public AS "public: bool",
                  candidate.note,
                  candidate.label,
                  candidate.draft_id,
                  candidate.unit_id,
                  unit.slug AS "slug?",
                  candidate.sequence,
                  candidate.created_at,
                  candidate.updated_at
           FROM candidate
           LEFT JOIN unit ON unit.id = candidate.unit_id
           WHERE ?1 IS NULL
              OR candidate.id = ?1
           ORDER BY candidate.place, candidate.id"#,
        only
    )
    .fetch_all(connection)
    .await?
    .into_iter()
    .map(CandidateRow::into_candidate)
    .collect()
}

/// Replaces what is said about a candidate.
///
/// # Errors
/// [`Error::NotFound`] if there is none of this number.
pub async fn update(
    connection: &mut SqliteConnection,
    id: i64,
    entry: &Entry,
    now: OffsetDateTime,
) -> Result<(), Error> {
    let at = instant::to_text(now);
    let (amount, currency) = apart(entry);
    let changed = sqlx::query!(
        "UPDATE candidate
         SET maker = ?,
             model = ?,
             link = ?,
             price_amount = ?,
             price_currency = ?,
             planned_on = ?,
             public = ?,
             note = ?,
             label = ?,
             sequence = sequence + 1,
             updated_at = ?
         WHERE id = ?",
        entry.maker,
        entry.model,
        entry.link,
        amount,
        currency,
        entry.planned_on,
        entry.public,
        entry.note,
        entry.label,
        at,
        id
    )
    .execute(connection)
    .await?;
    if changed.rows_affected() == 0 {
        return Err(Error::NotFound);
    }
    Ok(())
}

/// Brings a candidate into a state; the one that it is in already changes nothing.
///
/// # Errors
/// [`Error::NotFound`] if there is none of this number.
pub async fn set_state(
    connection: &mut SqliteConnection,
    id: i64,
    state: State,
    author: &str,
    now: OffsetDateTime,
) -> Result<(), Error> {
    if find(connection, id).await?.state == state {
        return Ok(());
    }
    let at = instant::to_text(now);
    let state_id = state.id();
    sqlx::query!(
        "UPDATE candidate
         SET state = ?,
             sequence = sequence + 1,
             updated_at = ?
         WHERE id = ?",
        state_id,
        at,
        id
    )
    .execute(&mut *connection)
    .await?;
    note_step(connection, id, state, author, &at).await
}

/// The candidate goes on the bench: this draft is its record.
pub async fn go_on_the_bench(
    connection: &mut SqliteConnection,
    id: i64,
    draft_id: i64,
    author: &str,
    now: OffsetDateTime,
) -> Result<(), Error> {
    sqlx::query!(
        "UPDATE candidate SET draft_id = ? WHERE id = ?",
        draft_id,
        id
    )
    .execute(&mut *connection)
    .await?;
    set_state(connection, id, State::OnTheBench, author, now).await
}

/// The draft of a candidate, if it is one, becomes this unit. Call it before the draft goes.
pub async fn become_unit(
    connection: &mut SqliteConnection,
    draft_id: i64,
    unit_id: i64,
    author: &str,
    now: OffsetDateTime,
) -> Result<(), Error> {
    let Some(id) = of_draft(connection, draft_id).await? else {
        return Ok(());
    };
    sqlx::query!("UPDATE candidate SET unit_id = ? WHERE id = ?", unit_id, id)
        .execute(&mut *connection)
        .await?;
    set_state(connection, id, State::Published, author, now).await
}

/// The draft of a candidate, if it is one, is about to be discarded: the candidate lies there
/// again. Call it before the draft goes.
pub async fn leave_the_bench(
    connection: &mut SqliteConnection,
    draft_id: i64,
    author: &str,
    now: OffsetDateTime,
) -> Result<(), Error> {
    match of_draft(connection, draft_id).await? {
        Some(id) => set_state(connection, id, State::Here, author, now).await,
        None => Ok(()),
    }
}

/// The candidate whose record a draft is.
pub async fn of_draft(
    connection: &mut SqliteConnection,
    draft_id: i64,
) -> Result<Option<i64>, Error> {
    let id = sqlx::query_scalar!(
        r#"SELECT id AS "id!" FROM candidate WHERE draft_id = ?"#,
        draft_id
    )
    .fetch_optional(connection)
    .await?;
    Ok(id)
}

/// Puts a candidate before another one, or at the end.
///
/// # Errors
/// [`Error::NotFound`] if one of them is not there.
pub async fn put_before(
    connection: &mut SqliteConnection,
    id: i64,
    before: Option<i64>,
) -> Result<(), Error> {
    let mut ids: Vec<i64> = list(connection).await?.iter().map(|one| one.id).collect();
    let from = ids
        .iter()
        .position(|&one| one == id)
        .ok_or(Error::NotFound)?;
    if before == Some(id) {
        return Ok(());
    }
    ids.remove(from);
    let to = match before {
        Some(before) => ids
            .iter()
            .position(|&one| one == before)
            .ok_or(Error::NotFound)?,
        None => ids.len(),
    };
    ids.insert(to, id);
    let order = serde_json::to_string(&ids).expect("numbers are JSON");
    // Only what moved is written: every written row of a public candidate makes pages stale.
    sqlx::query!(
        "UPDATE candidate
         SET place = 1 + wanted.key
         FROM (SELECT key, value FROM json_each(?)) AS wanted
         WHERE wanted.value = candidate.id
           AND candidate.place <> 1 + wanted.key",
        order
    )
    .execute(connection)
    .await?;
    Ok(())
}

/// Moves a candidate by one place among those of its state; at the end of them nothing changes.
///
/// # Errors
/// [`Error::NotFound`] if there is none of this number.
pub async fn move_by_one(
    connection: &mut SqliteConnection,
    id: i64,
    up: bool,
) -> Result<(), Error> {
    let all = list(connection).await?;
    let state = all
        .iter()
        .find(|one| one.id == id)
        .ok_or(Error::NotFound)?
        .state;
    let fellows: Vec<i64> = all
        .iter()
        .filter(|one| one.state == state)
        .map(|one| one.id)
        .collect();
    let at = fellows.iter().position(|&one| one == id).unwrap_or(0);
    match (up, at, fellows.get(at + 1)) {
        (true, 0, _) | (false, _, None) => Ok(()),
        (true, at, _) => put_before(connection, id, Some(fellows[at - 1])).await,
        // The next one goes before it, which is the same.
        (false, _, Some(&next)) => put_before(connection, next, Some(id)).await,
    }
}

/// Takes a candidate away with its history.
///
/// # Errors
/// [`Error::NotFound`] if there is none of this number.
pub async fn delete(connection: &mut SqliteConnection, id: i64) -> Result<(), Error> {
    let gone = sqlx::query!("DELETE FROM candidate WHERE id = ?", id)
        .execute(connection)
        .await?;
    if gone.rows_affected() == 0 {
        return Err(Error::NotFound);
    }
    Ok(())
}

/// The states that a candidate went through, the first one first.
pub async fn steps(connection: &mut SqliteConnection, id: i64) -> Result<Vec<Step>, Error> {
    let rows = sqlx::query!(
        "SELECT state,
                author,
                created_at
         FROM candidate_step
         WHERE candidate_id = ?
         ORDER BY id",
        id
    )
    .fetch_all(connection)
    .await?;
    rows.into_iter()
        .map(|row| {
            Ok(Step {
                state: state_of(&row.state)?,
                author: row.author,
                at: instant::from_text(&row.created_at)?,
            })
        })
        .collect()
}

async fn note_step(
    connection: &mut SqliteConnection,
    id: i64,
    state: State,
    author: &str,
    at: &str,
) -> Result<(), Error> {
    let state = state.id();
    sqlx::query!(
        "INSERT INTO candidate_step (candidate_id, state, author, created_at)
         VALUES (?, ?, ?, ?)",
        id,
        state,
        author,
        at
    )
    .execute(connection)
    .await?;
    Ok(())
}

fn apart(entry: &Entry) -> (Option<&str>, Option<&str>) {
    match &entry.price {
        Some((amount, currency)) => (Some(amount), Some(currency)),
        None => (None, None),
    }
}

fn state_of(id: &str) -> Result<State, Error> {
    State::from_id(id).ok_or_else(|| Error::Corrupt {
        what: "state of a candidate",
        cause: format!("{id:?}"),
    })
}

struct CandidateRow {
    id: i64,
    uid: String,
    maker: String,
    model: String,
    state: String,
    link: Option<String>,
    price_amount: Option<String>,
    price_currency: Option<String>,
    planned_on: Option<String>,
    public: bool,
    note: String,
    label: String,
    draft_id: Option<i64>,
    unit_id: Option<i64>,
    slug: Option<String>,
    sequence: i64,
    created_at: String,
    updated_at: String,
}

impl CandidateRow {
    fn into_candidate(self) -> Result<Candidate, Error> {
        Ok(Candidate {
            id: self.id,
            uid: self.uid,
            state: state_of(&self.state)?,
            entry: Entry {
                maker: self.maker,
                model: self.model,
                link: self.link,
                price: self.price_amount.zip(self.price_currency),
                planned_on: self.planned_on,
                public: self.public,
                note: self.note,
                label: self.label,
            },
            draft_id: self.draft_id,
            unit_id: self.unit_id,
            slug: self.slug,
            sequence: self.sequence,
            created_at: instant::from_text(&self.created_at)?,
            updated_at: instant::from_text(&self.updated_at)?,
        })
    }
}
