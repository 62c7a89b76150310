//! What a visitor has begun and must finish within five minutes, such as the way from password to
//! code: kept in memory under the token of a cookie. It opens nothing by itself.

use super::auth;
use crate::storage::sessions::TokenHash;
use quick_cache::sync::Cache;
use std::sync::Arc;
use time::OffsetDateTime;

/// So long it may take.
pub const WAITS: time::Duration = time::Duration::minutes(5);
/// So many are remembered; those that nobody asks for are forgotten first.
const MOST: usize = 1_000;

pub struct Underway<T>(Cache<TokenHash, (OffsetDateTime, Arc<T>)>);

impl<T> Default for Underway<T> {
    fn default() -> Underway<T> {
        Underway(Cache::new(MOST))
    }
}

impl<T> Underway<T> {
    /// Remembers what has begun and gives the token of the cookie.
    pub fn begin(&self, what: T, now: OffsetDateTime) -> String {
        let token = auth::new_token();
        self.0
            .insert(auth::hash_of(&token), (now + WAITS, Arc::new(what)));
        token
    }

    /// What goes on under this token.
    pub fn find(&self, token: &str, now: OffsetDateTime) -> Option<Arc<T>> {
        let (until, what) = self.0.get(&auth::hash_of(token))?;
        (until > now).then_some(what)
    }

    /// Ends what goes on under this token and gives it. Of two that finish at once one gets it.
    pub fn take(&self, token: &str, now: OffsetDateTime) -> Option<Arc<T>> {
        let (_, (until, what)) = self.0.remove(&auth::hash_of(token))?;
        (until > now).then_some(what)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_has_begun_is_finished_once_and_in_time() {
        let underway = Underway::default();
        let now = OffsetDateTime::UNIX_EPOCH;
        let token = underway.begin("one", now);
        let late = underway.begin("another", now);
        assert_eq!(underway.find(&token, now).as_deref(), Some(&"one"));
        assert_eq!(underway.find("of nobody", now), None);
        assert_eq!(underway.find(&token, now + WAITS), None, "too late");
        let just = now + WAITS - time::Duration::SECOND;
        assert_eq!(underway.take(&token, just).as_deref(), Some(&"one"));
        assert_eq!(underway.take(&token, just), None, "it is over");
        assert_eq!(underway.take(&late, now + WAITS), None, "too late");
    }

    #[test]
    fn what_is_remembered_of_visitors_is_bounded() {
        let underway = Underway::default();
        for n in 0..5 * MOST {
            underway.begin(n, OffsetDateTime::UNIX_EPOCH);
        }
        assert!(underway.0.len() <= MOST, "{}", underway.0.len());
    }
}
