//! Who may enter the desk: passwords, sessions, and the checks that a request comes from one of
//! our own pages.
//!
//! A session's token is 256 random bits in a cookie that scripts cannot read; the database holds
//! only its SHA-256. A session ends 14 days after its last use and 90 days after sign-in at the
//! latest. Signing in always begins a new session.

use super::{
    error::Error,
    extract::Visit,
    state::{SESSION_COOKIE, Site},
    urls,
};
use crate::quantity::words::hex;
use crate::storage::{
    self, operators,
    sessions::{self, TokenHash},
};
use argon2::{
    Argon2,
    password_hash::{PasswordHasher, PasswordVerifier, phc::PasswordHash},
};
use axum::{
    extract::{ConnectInfo, FromRequestParts},
    http::{HeaderMap, HeaderValue, Method, StatusCode, request::Parts},
    response::{IntoResponse, Redirect, Response},
};
use axum_extra::extract::{
    CookieJar,
    cookie::{Cookie, SameSite},
};
use governor::{
    Quota, RateLimiter, clock::DefaultClock, middleware::NoOpMiddleware,
    state::keyed::DashMapStateStore,
};
use sha2::{Digest, Sha256};
use std::{
    net::{IpAddr, SocketAddr},
    num::NonZeroU32,
    sync::OnceLock,
    time::Duration,
};
use subtle::ConstantTimeEq;
use tokio::sync::Semaphore;

/// A session ends this long after its last use (renewed at most once a day).
const IDLE_FOR: time::Duration = time::Duration::days(14);
/// A session ends this long after sign-in, used or not.
const AT_MOST: time::Duration = time::Duration::days(90);
/// Cookie of a visitor who is about to sign in: the form must carry the same token.
const FORM_COOKIE: &str = "brickbook_form";

pub const SHORTEST_PASSWORD: usize = 12;
/// Hashing has no limit of its own, a request's time has.
pub const LONGEST_PASSWORD: usize = 1000;

/// What signing in needs besides the database.
pub struct Auth {
    /// One-time secret of `/set-up`; only while no operator existed at start.
    set_up_secret: Option<String>,
    throttle: Throttle<DefaultClock>,
    /// One hash takes 19 MiB and a core for some 30 ms: two at once, the rest wait.
    hashing: Semaphore,
}

impl Auth {
    pub fn new(an_operator_exists: bool) -> Auth {
        Auth {
            set_up_secret: (!an_operator_exists).then(|| {
                let digits = hex(random::<16>());
                let groups: Vec<&str> = (0..digits.len())
                    .step_by(8)
                    .map(|at| &digits[at..at + 8])
                    .collect();
                groups.join("-")
            }),
            throttle: Throttle::new(DefaultClock::default()),
            hashing: Semaphore::new(2),
        }
    }

    /// The secret that `/set-up` asks for, to be printed where only the owner of this computer reads.
    pub fn set_up_secret(&self) -> Option<&str> {
        self.set_up_secret.as_deref()
    }

    /// Is this the one-time secret? Takes the same time for every wrong one.
    pub fn opens_set_up(&self, given: &str) -> bool {
        self.set_up_secret
            .as_deref()
            .is_some_and(|secret| same_text(secret, given.trim()))
    }

    /// Counts an attempt to sign in.
    ///
    /// # Errors
    /// [`Error::TooMany`] if there were too many from this address or for this account.
    pub fn attempt(&self, address: IpAddr, account: &str) -> Result<(), Error> {
        put_off(address, self.throttle.attempt(address, account))
    }

    /// Counts an attempt to set up. By address alone: there is no account yet whose owner a
    /// stranger's guesses should keep waiting, and the secret is not to be guessed.
    ///
    /// # Errors
    /// [`Error::TooMany`] if there were too many from this address.
    pub fn attempt_set_up(&self, address: IpAddr) -> Result<(), Error> {
        put_off(address, self.throttle.attempt_from(address))
    }

    async fn hash(&self, password: String) -> Result<String, Error> {
        let _turn = self.hashing.acquire().await.map_err(Error::internal)?;
        tokio::task::spawn_blocking(move || hash_password(&password))
            .await
            .map_err(Error::internal)?
            .map_err(|cause| Error::internal(cause.to_string()))
    }

    /// Is it the password of this hash? Without a hash the same work is done for nothing, so that
    /// the answer's time does not tell whether an operator exists.
    async fn verify(&self, password: String, hash: Option<String>) -> Result<bool, Error> {
        let _turn = self.hashing.acquire().await.map_err(Error::internal)?;
        tokio::task::spawn_blocking(move || {
            static NOBODY: OnceLock<Option<String>> = OnceLock::new();
            let known = hash.is_some();
            let nobody = NOBODY.get_or_init(|| hash_password("nobody has this password").ok());
            let right = hash
                .or_else(|| nobody.clone())
                .is_some_and(|hash| is_password(&password, &hash));
            known && right
        })
        .await
        .map_err(Error::internal)
    }
}

fn put_off(address: IpAddr, attempt: Result<(), Duration>) -> Result<(), Error> {
    attempt.map_err(|wait| {
        tracing::warn!(%address, wait_s = wait.as_secs(), "sign-in attempt put off");
        Error::TooMany(wait.as_secs() + 1)
    })
}

/// Limits attempts to sign in. Each account: ten at once, then one every thirty seconds. Each
/// address: thirty at once, then one every five seconds.
struct Throttle<C: governor::clock::Clock> {
    clock: C,
    accounts: RateLimiter<TokenHash, DashMapStateStore<TokenHash>, C, NoOpMiddleware<C::Instant>>,
    addresses: RateLimiter<IpAddr, DashMapStateStore<IpAddr>, C, NoOpMiddleware<C::Instant>>,
}

impl<C: governor::clock::Clock + Clone> Throttle<C> {
    fn new(clock: C) -> Throttle<C> {
        let quota = |burst: u32, seconds: u64| {
            Quota::with_period(Duration::from_secs(seconds))
                .expect("the period is not zero")
                .allow_burst(NonZeroU32::new(burst).expect("the burst is not zero"))
        };
        Throttle {
            accounts: RateLimiter::dashmap_with_clock(quota(10, 30), clock.clone()),
            addresses: RateLimiter::dashmap_with_clock(quota(30, 5), clock.clone()),
            clock,
        }
    }

    /// On refusal: how long to wait.
    fn attempt_from(&self, address: IpAddr) -> Result<(), Duration> {
        const MOST_KEYS: usize = 10_000;
        if self.accounts.len() + self.addresses.len() > MOST_KEYS {
            self.accounts.retain_recent();
            self.addresses.retain_recent();
        }
        self.addresses
            .check_key(&network_of(address))
            .map_err(|not| not.wait_time_from(self.clock.now()))
    }

    /// On refusal: how long to wait.
    fn attempt(&self, address: IpAddr, account: &str) -> Result<(), Duration> {
        self.attempt_from(address)?;
        // A digest, so that a key has one size whatever is typed as a name.
        let account = hash_of(&crate::bench::record::folded(account));
        self.accounts
            .check_key(&account)
            .map_err(|not| not.wait_time_from(self.clock.now()))
    }
}

/// A home or an office gets a whole /64 of IPv6: it counts as one address.
pub fn network_of(address: IpAddr) -> IpAddr {
    match address.to_canonical() {
        IpAddr::V6(v6) => IpAddr::from((v6.to_bits() & !u128::from(u64::MAX)).to_be_bytes()),
        v4 => v4,
    }
}

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

fn is_password(password: &str, hash: &str) -> bool {
    PasswordHash::new(hash).is_ok_and(|hash| {
        Argon2::default()
            .verify_password(password.as_bytes(), &hash)
            .is_ok()
    })
}

/// Why a name or password will not do, in words for whoever chose it.
pub fn check_new_operator(name: &str, password: &str) -> Result<(), String> {
    let letters = name.trim().chars().count();
    if !(1..=80).contains(&letters) || name.chars().any(char::is_control) {
        return Err("The name must have 1 to 80 characters on one line.".into());
    }
    if password.chars().count() < SHORTEST_PASSWORD {
        return Err(format!(
            "The password must have at least {SHORTEST_PASSWORD} characters."
        ));
    }
    if password.len() > LONGEST_PASSWORD {
        return Err(format!(
            "The password must have at most {LONGEST_PASSWORD} bytes."
        ));
    }
    Ok(())
}

/// Checks name and password and begins a session. `None`: one of them is wrong, and nothing tells
/// which.
pub async fn sign_in(site: &Site, name: &str, password: String) -> Result<Option<String>, Error> {
    let known = operators::credentials(&mut *site.db.read().await?, name.trim()).await?;
    let operator_id = known.as_ref().map(|known| known.operator_id);
    let right = site
        .auth
        .verify(password, known.map(|known| known.password_hash))
        .await?;
    match operator_id.filter(|_| right) {
        Some(operator_id) => Ok(Some(begin_session(site, operator_id).await?)),
        None => Ok(None),
    }
}

/// Makes the first operator and begins their session. `None`: there is an operator already.
pub async fn set_up(site: &Site, name: &str, password: String) -> Result<Option<String>, Error> {
    let hash = site.auth.hash(password).await?;
    let mut tx = site.db.write().await?;
    let made = operators::insert_first(&mut tx, name.trim(), &hash, site.clock.now()).await?;
    tx.commit().await?;
    match made {
        Some(operator_id) => {
            tracing::info!(operator_id, "first operator made");
            Ok(Some(begin_session(site, operator_id).await?))
        }
        None => Ok(None),
    }
}

/// Begins a session and gives its token.
async fn begin_session(site: &Site, operator_id: i64) -> Result<String, Error> {
    let token = new_token();
    let now = site.clock.now();
    let mut tx = site.db.write().await?;
    sessions::remove_expired(&mut tx, now).await?;
    sessions::begin(
        &mut tx,
        &hash_of(&token),
        operator_id,
        &new_token(),
        now,
        now + IDLE_FOR,
    )
    .await?;
    tx.commit().await?;
    tracing::info!(operator_id, "signed in");
    Ok(token)
}

/// Ends the session that a request carries, if any.
pub async fn end_session(site: &Site, jar: &CookieJar) -> Result<(), Error> {
    if let Some(token) = session_token(site, jar) {
        let mut tx = site.db.write().await?;
        sessions::end(&mut tx, &hash_of(&token)).await?;
        tx.commit().await?;
    }
    Ok(())
}

/// A signed-in operator. As an argument of a handler it keeps everybody else out: a page asks them
/// to sign in, anything else is refused with 401.
#[derive(Debug, Clone)]
pub struct Signed {
    pub operator_id: i64,
    pub name: String,
    /// Every form of this session carries it.
    pub csrf: String,
}

impl Signed {
    /// Does a form carry this session's token?
    pub fn sent(&self, csrf: &str) -> bool {
        same_text(&self.csrf, csrf)
    }

    /// # Errors
    /// [`Error::Forbidden`] if the form does not carry this session's token.
    pub fn check(&self, csrf: &str) -> Result<(), Error> {
        if self.sent(csrf) {
            Ok(())
        } else {
            Err(stale_form())
        }
    }
}

pub fn stale_form() -> Error {
    Error::Forbidden(
        "This form does not belong to your present session, so nothing was changed. \
         Open the page again and repeat what you did."
            .into(),
    )
}

/// Why somebody is kept out of the desk.
pub enum KeptOut {
    /// A page was asked for: sign in, then see it.
    SignInFirst(String),
    NotSignedIn,
    Failed(Error),
}

impl IntoResponse for KeptOut {
    fn into_response(self) -> Response {
        match self {
            KeptOut::SignInFirst(target) => {
                let query = urls::Query::new().with("next", &target);
                Redirect::to(&query.on(urls::SIGN_IN)).into_response()
            }
            KeptOut::NotSignedIn => (
                StatusCode::UNAUTHORIZED,
                "Your session has ended, so nothing was changed. Sign in in another tab; \
                 then go back to your page, where what you typed still stands, and send it again.",
            )
                .into_response(),
            KeptOut::Failed(error) => error.into_response(),
        }
    }
}

impl FromRequestParts<Site> for Signed {
    type Rejection = KeptOut;

    async fn from_request_parts(parts: &mut Parts, site: &Site) -> Result<Signed, KeptOut> {
        let jar = CookieJar::from_headers(&parts.headers);
        match signed(site, &jar).await {
            Ok(Some(signed)) => Ok(signed),
            Ok(None) if parts.method == Method::GET || parts.method == Method::HEAD => {
                let target = parts
                    .uri
                    .path_and_query()
                    .map_or(urls::DESK, |t| t.as_str());
                Err(KeptOut::SignInFirst(target.to_owned()))
            }
            Ok(None) => Err(KeptOut::NotSignedIn),
            Err(error) => Err(KeptOut::Failed(error)),
        }
    }
}

async fn signed(site: &Site, jar: &CookieJar) -> Result<Option<Signed>, Error> {
    let Some(token) = session_token(site, jar) else {
        return Ok(None);
    };
    let hash = hash_of(&token);
    let now = site.clock.now();
    let Some(session) = sessions::find(&mut *site.db.read().await?, &hash, now).await? else {
        return Ok(None);
    };
    let until = (now + IDLE_FOR).min(session.created_at + AT_MOST);
    if until - session.expires_at >= time::Duration::days(1) {
        let mut tx = site.db.write().await?;
        sessions::extend(&mut tx, &hash, until).await?;
        tx.commit().await?;
    }
    Ok(Some(Signed {
        operator_id: session.operator_id,
        name: session.operator_name,
        csrf: session.csrf_token,
    }))
}

/// Refuses a change that a browser says was begun by a page of another site. Every form carries a
/// token besides; this stops the request before anything is read.
pub fn from_own_page(visit: &Visit, headers: &HeaderMap) -> Result<(), Error> {
    let text = |name: &str| headers.get(name).and_then(|value| value.to_str().ok());
    let refused = || {
        Error::Forbidden(
            "This request was begun by another site, so nothing was changed. \
             Open the page here and repeat what you did."
                .into(),
        )
    };
    if let Some(fetch_site) = text("sec-fetch-site")
        && !matches!(fetch_site, "same-origin" | "none")
    {
        return Err(refused());
    }
    match text("origin") {
        Some(origin) if !is_own_origin(origin, visit, text("host")) => Err(refused()),
        _ => Ok(()),
    }
}

/// The configured address, or the host that was asked for (a proxy may end HTTPS before us).
fn is_own_origin(origin: &str, visit: &Visit, host: Option<&str>) -> bool {
    if origin.eq_ignore_ascii_case(&visit.origin) {
        return true;
    }
    let authority = origin
        .strip_prefix("https://")
        .or_else(|| origin.strip_prefix("http://"));
    authority.is_some_and(|authority| host.is_some_and(|host| host.eq_ignore_ascii_case(authority)))
}

/// The address that a request comes from: the peer's, or, where the peer is one of our trusted
/// proxies, the last address in `X-Forwarded-For` that is not one.
pub struct ClientAddress(pub IpAddr);

impl FromRequestParts<Site> for ClientAddress {
    type Rejection = std::convert::Infallible;

    async fn from_request_parts(
        parts: &mut Parts,
        site: &Site,
    ) -> Result<ClientAddress, std::convert::Infallible> {
        let peer = parts
            .extensions
            .get::<ConnectInfo<SocketAddr>>()
            .map_or(IpAddr::from([0, 0, 0, 0]), |peer| {
                peer.0.ip().to_canonical()
            });
        Ok(ClientAddress(client_of(
            peer,
            &parts.headers,
            &site.config.trusted_proxies,
        )))
    }
}

fn client_of(peer: IpAddr, headers: &HeaderMap, trusted: &[IpAddr]) -> IpAddr {
    if !trusted.contains(&peer) {
        return peer;
    }
    let named: Vec<IpAddr> = headers
        .get_all("x-forwarded-for")
        .iter()
        .filter_map(|value| value.to_str().ok())
        .flat_map(|value| value.split(','))
        .map_while(|text| text.trim().parse::<IpAddr>().ok())
        .map(|address| address.to_canonical())
        .collect();
    named
        .into_iter()
        .rev()
        .find(|address| !trusted.contains(address))
        .unwrap_or(peer)
}

// ---- cookies and tokens ----

fn session_cookie_name(site: &Site) -> String {
    // The prefix makes a browser refuse the cookie from any other host or without HTTPS.
    if site.config.secure_cookies {
        format!("__Host-{SESSION_COOKIE}")
    } else {
        SESSION_COOKIE.to_owned()
    }
}

fn session_token(site: &Site, jar: &CookieJar) -> Option<String> {
    jar.get(&session_cookie_name(site))
        .map(|cookie| cookie.value().to_owned())
}

/// The `Set-Cookie` of a session that has begun. How long it lives is decided here, not by the
/// browser; the cookie merely outlasts it.
pub fn session_cookie(site: &Site, token: String) -> Cookie<'static> {
    Cookie::build((session_cookie_name(site), token))
        .http_only(true)
        .secure(site.config.secure_cookies)
        .same_site(SameSite::Lax)
        .path("/")
        .max_age(AT_MOST)
        .build()
}

/// The `Set-Cookie` that takes a session's cookie away.
pub fn no_session_cookie(site: &Site) -> Cookie<'static> {
    let mut cookie = session_cookie(site, String::new());
    cookie.make_removal();
    cookie
}

/// Token of a form for visitors without a session, with the cookie that must come back with it.
pub fn form_token(site: &Site, jar: CookieJar) -> (String, CookieJar) {
    if let Some(token) = jar.get(FORM_COOKIE).map(|cookie| cookie.value().to_owned())
        && token.len() == 43
    {
        return (token, jar);
    }
    let token = new_token();
    let cookie = Cookie::build((FORM_COOKIE, token.clone()))
        .http_only(true)
        .secure(site.config.secure_cookies)
        .same_site(SameSite::Strict)
        .path("/")
        .build();
    (token, jar.add(cookie))
}

/// Does a form for visitors without a session carry the token of its cookie?
pub fn check_form_token(jar: &CookieJar, sent: &str) -> Result<(), Error> {
    match jar.get(FORM_COOKIE) {
        Some(cookie) if !sent.is_empty() && same_text(cookie.value(), sent) => Ok(()),
        _ => Err(Error::Forbidden(
            "This form is too old, or cookies are switched off. Open the page again and repeat what you did."
                .into(),
        )),
    }
}

/// 256 random bits as 43 characters that need no encoding in an address.
pub fn new_token() -> String {
    use base64::Engine;
    base64::engine::general_purpose::URL_SAFE_NO_PAD.encode(random::<32>())
}

/// SHA-256 of a token: the form in which it is kept.
pub fn hash_of(token: &str) -> TokenHash {
    Sha256::digest(token.as_bytes()).into()
}

fn random<const N: usize>() -> [u8; N] {
    // The thread's generator is a CSPRNG seeded by the operating system.
    rand::random()
}

/// Compares without telling by its time where two texts of one length differ.
fn same_text(a: &str, b: &str) -> bool {
    a.as_bytes().ct_eq(b.as_bytes()).into()
}

/// Only a path of this site may follow a sign-in.
pub fn next_page(wanted: Option<&str>) -> &str {
    wanted
        .filter(|path| {
            path.starts_with('/')
                && !path.starts_with("//")
                && !path.contains(['\\', '\r', '\n', '\t'])
                && HeaderValue::from_str(path).is_ok()
        })
        .unwrap_or(urls::DESK)
}

/// Whether anybody may still set up this installation.
pub async fn awaits_set_up(site: &Site) -> Result<bool, storage::Error> {
    Ok(site.auth.set_up_secret.is_some() && !operators::exist(&mut *site.db.read().await?).await?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use governor::clock::FakeRelativeClock;

    const HOME: IpAddr = IpAddr::V4(std::net::Ipv4Addr::new(192, 0, 2, 1));

    #[test]
    fn an_account_is_put_off_after_ten_attempts_and_free_again_half_a_minute_later() {
        let clock = FakeRelativeClock::default();
        let throttle = Throttle::new(clock.clone());
        for n in 0..10u8 {
            throttle
                .attempt(IpAddr::from([198, 51, 100, n]), "Ada")
                .expect("one of the first ten");
        }
        let wait = throttle
            .attempt(HOME, " ADA ")
            .expect_err("the eleventh, from another address");
        assert!(wait <= Duration::from_secs(30));
        throttle
            .attempt(HOME, "Grace")
            .expect("another account is not concerned");
        clock.advance(Duration::from_secs(30));
        throttle.attempt(HOME, "Ada").expect("half a minute later");
    }

    #[test]
    fn an_address_is_put_off_after_thirty_attempts_whatever_the_names() {
        let throttle = Throttle::new(FakeRelativeClock::default());
        for n in 0..30 {
            throttle
                .attempt(HOME, &format!("name {n}"))
                .expect("one of the first thirty");
        }
        throttle
            .attempt(HOME, "another")
            .expect_err("the thirty-first");
        throttle
            .attempt(IpAddr::from([192, 0, 2, 2]), "another")
            .expect("another address");
    }

    #[test]
    fn strangers_who_guess_the_set_up_secret_do_not_keep_the_owner_waiting() {
        let auth = Auth::new(false);
        for n in 0..30u8 {
            auth.attempt_set_up(IpAddr::from([198, 51, 100, n]))
                .expect("each from an address of its own");
        }
        auth.attempt_set_up(HOME).expect("the owner");
        for _ in 0..40 {
            let _ = auth.attempt_set_up(IpAddr::from([203, 0, 113, 1]));
        }
        auth.attempt_set_up(IpAddr::from([203, 0, 113, 1]))
            .expect_err("one address that goes on guessing");
    }

    #[test]
    fn addresses_of_one_ipv6_network_count_as_one() {
        let a: IpAddr = "2001:db8:1:2::1".parse().unwrap();
        let b: IpAddr = "2001:db8:1:2:ffff::9".parse().unwrap();
        let c: IpAddr = "2001:db8:1:3::1".parse().unwrap();
        assert_eq!(network_of(a), network_of(b));
        assert_ne!(network_of(a), network_of(c));
        assert_eq!(network_of("::ffff:192.0.2.1".parse().unwrap()), HOME);
    }

    #[test]
    fn a_forwarded_address_is_believed_only_from_a_trusted_proxy() {
        let proxy = IpAddr::from([10, 0, 0, 1]);
        let mut headers = HeaderMap::new();
        headers.insert("x-forwarded-for", "203.0.113.9, 192.0.2.1".parse().unwrap());
        assert_eq!(client_of(HOME, &headers, &[proxy]), HOME);
        assert_eq!(client_of(proxy, &headers, &[proxy]), HOME);
        assert_eq!(client_of(proxy, &HeaderMap::new(), &[proxy]), proxy);
        headers.insert("x-forwarded-for", "nonsense".parse().unwrap());
        assert_eq!(client_of(proxy, &headers, &[proxy]), proxy);
    }

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
    fn a_sign_in_never_leads_to_another_site() {
        for elsewhere in [
            "https://evil.example",
            "//evil.example",
            "/\\evil.example",
            "javascript:x",
            "",
            "/a\r\nb",
        ] {
            assert_eq!(next_page(Some(elsewhere)), urls::DESK, "{elsewhere:?}");
        }
        assert_eq!(
            next_page(Some("/desk/draft/3?focus=notes")),
            "/desk/draft/3?focus=notes"
        );
        assert_eq!(next_page(None), urls::DESK);
    }

    #[test]
    fn short_passwords_and_blank_names_are_refused_with_a_reason() {
        assert!(
            check_new_operator("Ada", "elevenchars")
                .unwrap_err()
                .contains("12")
        );
        assert!(check_new_operator("  ", "twelve chars ok").is_err());
        assert!(check_new_operator("Ada", "twelve chars ok").is_ok());
    }

    #[test]
    fn the_set_up_secret_exists_only_where_nobody_is_and_only_itself_opens() {
        let auth = Auth::new(false);
        let secret = auth.set_up_secret().unwrap().to_owned();
        assert!(secret.len() >= 32);
        assert!(auth.opens_set_up(&format!(" {secret}\n")));
        assert!(!auth.opens_set_up(""));
        assert!(!auth.opens_set_up(&secret[1..]));
        assert!(!Auth::new(true).opens_set_up(""));
    }
}
