//! How often somebody may ask: attempts to sign in, suggestions, and reads that no cache answers.
//! What is kept is bounded, whoever asks: the least recently seen addresses are forgotten first.

use super::{
    auth::{self, ClientAddress},
    error::Error,
    state::Site,
};
use crate::{config::Rate, storage::sessions::TokenHash};
use axum::{
    extract::{Request, State},
    middleware::Next,
    response::{IntoResponse, Response},
};
use governor::{
    Quota, RateLimiter,
    clock::{Clock, DefaultClock, Reference},
    middleware::NoOpMiddleware,
    nanos::Nanos,
    state::{InMemoryState, NotKeyed},
};
use quick_cache::sync::Cache;
use std::{
    convert::Infallible,
    hash::Hash,
    net::IpAddr,
    num::NonZeroU32,
    sync::{Arc, Mutex, PoisonError},
    time::Duration,
};

/// So many addresses, or pairs of account and address, are remembered.
const MOST_KEYS: usize = 10_000;

type Bucket<C> = RateLimiter<NotKeyed, InMemoryState, C, NoOpMiddleware<<C as Clock>::Instant>>;

/// A rate for each key, such as a network address.
pub struct Limiter<K: Eq + Hash + Clone, C: Clock = DefaultClock> {
    /// `None`: no limit.
    quota: Option<Quota>,
    clock: C,
    buckets: Cache<K, Arc<Bucket<C>>>,
}

impl<K: Eq + Hash + Clone> Limiter<K> {
    pub fn new(rate: Option<Rate>) -> Limiter<K> {
        Limiter::on_clock(rate, DefaultClock::default())
    }
}

impl<K: Eq + Hash + Clone, C: Clock + Clone> Limiter<K, C> {
    fn on_clock(rate: Option<Rate>, clock: C) -> Limiter<K, C> {
        let quota = rate.map(|rate| {
            Quota::with_period(rate.one_every())
                .expect("a rate has a period above zero")
                .allow_burst(NonZeroU32::new(rate.at_once).unwrap_or(NonZeroU32::MIN))
        });
        Limiter {
            quota,
            clock,
            buckets: Cache::new(MOST_KEYS),
        }
    }

    /// Counts one.
    ///
    /// # Errors
    /// How long to wait, if there were too many.
    pub fn check(&self, key: &K) -> Result<(), Duration> {
        let Some(quota) = self.quota else {
            return Ok(());
        };
        let made = self.buckets.get_or_insert_with(key, || {
            let clock = self.clock.clone();
            Ok::<_, Infallible>(Arc::new(RateLimiter::direct_with_clock(quota, clock)))
        });
        let Ok(bucket) = made;
        bucket
            .check()
            .map_err(|not| not.wait_time_from(self.clock.now()))
    }
}

/// After so many attempts the next one has to wait.
const FREE_TRIES: u32 = 5;
/// The first wait; each further one is twice as long.
const FIRST_WAIT: Duration = Duration::from_secs(5);
const LONGEST_WAIT: Duration = Duration::from_secs(15 * 60);
/// After so long without an attempt all is forgotten.
const FORGOTTEN_AFTER: Duration = Duration::from_secs(24 * 3600);

/// Attempts by account and address. The account is named by the digest of its name, so that a key
/// has one size whatever is typed.
type TriesOfAccounts<I> = Cache<(TokenHash, IpAddr), Arc<Mutex<Tries<I>>>>;

/// Attempts to guess a secret of an account.
///
/// Each address may try any account at the rate given. Besides, whoever fails to open one account
/// from one address waits longer each time, up to a quarter of an hour. Nothing counts against an
/// account as a whole, so that nobody can keep its owner out from elsewhere.
pub struct Guesses<C: Clock = DefaultClock> {
    clock: C,
    addresses: Limiter<IpAddr, C>,
    accounts: TriesOfAccounts<C::Instant>,
}

#[derive(Clone, Copy)]
struct Tries<I> {
    number: u32,
    last: I,
    free_from: I,
}

impl Guesses {
    pub fn new(rate: Option<Rate>) -> Guesses {
        Guesses::on_clock(rate, DefaultClock::default())
    }
}

impl<C: Clock + Clone> Guesses<C> {
    fn on_clock(rate: Option<Rate>, clock: C) -> Guesses<C> {
        Guesses {
            addresses: Limiter::on_clock(rate, clock.clone()),
            accounts: Cache::new(MOST_KEYS),
            clock,
        }
    }

    /// Counts an attempt from an address at whatever account.
    ///
    /// # Errors
    /// How long to wait, if there were too many.
    pub fn attempt_from(&self, address: IpAddr) -> Result<(), Duration> {
        self.addresses.check(&auth::network_of(address))
    }

    /// Counts an attempt at an account.
    ///
    /// # Errors
    /// How long to wait, if there were too many.
    pub fn attempt(&self, address: IpAddr, account: &str) -> Result<(), Duration> {
        self.attempt_from(address)?;
        let now = self.clock.now();
        let made = self
            .accounts
            .get_or_insert_with(&key(address, account), || {
                Ok::<_, Infallible>(Arc::new(Mutex::new(Tries {
                    number: 0,
                    last: now,
                    free_from: now,
                })))
            });
        let Ok(tries) = made;
        let mut tries = tries.lock().unwrap_or_else(PoisonError::into_inner);
        let wait: Duration = tries.free_from.duration_since(now).into();
        if !wait.is_zero() {
            return Err(wait);
        }
        let since: Duration = now.duration_since(tries.last).into();
        if since >= FORGOTTEN_AFTER {
            tries.number = 0;
        }
        tries.number += 1;
        tries.last = now;
        if tries.number >= FREE_TRIES {
            let doubled = 2u32.saturating_pow(tries.number - FREE_TRIES);
            let wait = FIRST_WAIT.saturating_mul(doubled).min(LONGEST_WAIT);
            tries.free_from = now + Nanos::from(wait);
        }
        Ok(())
    }

    /// The account was opened from there: what was tried before is forgiven.
    pub fn succeeded(&self, address: IpAddr, account: &str) {
        self.accounts.remove(&key(address, account));
    }
}

fn key(address: IpAddr, account: &str) -> (TokenHash, IpAddr) {
    let account = auth::hash_of(&crate::bench::record::folded(account));
    (account, auth::network_of(address))
}

/// Keeps one address from asking for more than the site can compute. Pages that a cache answers do
/// not come here. This computer itself is not counted: what is on it is its owner's, and a proxy
/// that the settings do not name would make all visitors one.
pub async fn reads(
    State(site): State<Site>,
    ClientAddress(address): ClientAddress,
    request: Request,
    next: Next,
) -> Response {
    if !address.is_loopback()
        && !address.is_unspecified()
        && let Err(wait) = site.reads.check(&auth::network_of(address))
    {
        return Error::TooMany(wait.as_secs() + 1).into_response();
    }
    next.run(request).await
}

#[cfg(test)]
mod tests {
    use super::*;
    use governor::clock::FakeRelativeClock;

    const HOME: IpAddr = IpAddr::V4(std::net::Ipv4Addr::new(192, 0, 2, 1));
    const ELSEWHERE: IpAddr = IpAddr::V4(std::net::Ipv4Addr::new(198, 51, 100, 7));

    fn rate(at_once: u32, per_minute: u32) -> Option<Rate> {
        Some(Rate {
            at_once,
            number: per_minute,
            period: Duration::from_secs(60),
        })
    }

    #[test]
    fn whoever_asks_too_often_waits_and_others_do_not() {
        let clock = FakeRelativeClock::default();
        let limiter = Limiter::on_clock(rate(6, 2), clock.clone());
        for _ in 0..6 {
            limiter.check(&HOME).expect("one of the first six");
        }
        let wait = limiter.check(&HOME).expect_err("the seventh");
        assert!(wait <= Duration::from_secs(30), "{wait:?}");
        limiter.check(&ELSEWHERE).expect("another address");
        clock.advance(Duration::from_secs(30));
        limiter.check(&HOME).expect("half a minute later");
        Limiter::on_clock(None, clock)
            .check(&HOME)
            .expect("no limit");
    }

    #[test]
    fn failing_at_an_account_waits_longer_each_time_and_success_forgives() {
        let clock = FakeRelativeClock::default();
        let guesses = Guesses::on_clock(rate(1000, 1000), clock.clone());
        for _ in 0..5 {
            guesses.attempt(HOME, "Ada").expect("one of the first five");
        }
        let mut waits = Vec::new();
        for _ in 0..10 {
            let wait = guesses.attempt(HOME, " ADA ").expect_err("too soon");
            waits.push(wait.as_secs());
            clock.advance(wait);
            guesses.attempt(HOME, "ada").expect("waited");
        }
        assert_eq!(waits, [5, 10, 20, 40, 80, 160, 320, 640, 900, 900]);
        guesses.succeeded(HOME, "Ada");
        guesses.attempt(HOME, "Ada").expect("forgiven");
    }

    #[test]
    fn nobody_can_keep_an_owner_out_from_elsewhere() {
        let guesses = Guesses::on_clock(rate(1000, 1000), FakeRelativeClock::default());
        for n in 0..200u8 {
            for _ in 0..6 {
                let _ = guesses.attempt(IpAddr::from([203, 0, 113, n]), "Ada");
            }
        }
        guesses.attempt(HOME, "Ada").expect("the owner, at home");
        guesses
            .attempt(IpAddr::from([203, 0, 113, 1]), "Grace")
            .expect("another account from there");
    }

    #[test]
    fn an_address_that_tries_many_names_waits() {
        let guesses = Guesses::on_clock(rate(30, 12), FakeRelativeClock::default());
        for n in 0..30 {
            guesses
                .attempt(HOME, &format!("name {n}"))
                .expect("one of the first thirty");
        }
        guesses.attempt(HOME, "another").expect_err("the next");
        guesses.attempt(ELSEWHERE, "another").expect("elsewhere");
    }

    #[test]
    fn a_network_of_ipv6_is_one_address() {
        let guesses = Guesses::on_clock(rate(30, 12), FakeRelativeClock::default());
        for n in 0..30u128 {
            let address = std::net::Ipv6Addr::from((0x2001_0db8_u128 << 96) + n);
            guesses.attempt_from(address.into()).expect("one of thirty");
        }
        let next: IpAddr = "2001:db8::ffff:0:0:1".parse().unwrap();
        guesses.attempt_from(next).expect_err("the same /64");
    }

    #[test]
    fn what_is_remembered_is_bounded() {
        let guesses = Guesses::on_clock(rate(30, 12), FakeRelativeClock::default());
        for n in 0..3 * MOST_KEYS as u32 {
            let _ = guesses.attempt(IpAddr::from(n.to_be_bytes()), "Ada");
        }
        assert!(guesses.accounts.len() <= MOST_KEYS);
        assert!(guesses.addresses.buckets.len() <= MOST_KEYS);
    }
}
