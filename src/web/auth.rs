//! Who may enter the desk and do what: sessions, roles, and the checks that a request comes from one
//! of our own pages.
//!
//! A session's token is 256 random bits in a cookie that scripts cannot read; the database holds
//! only its SHA-256. A session ends 14 days after its last use and 90 days after sign-in at the
//! latest. Signing in always begins a new session; another password or role ends those before it.
//!
//! What a handler asks for among its arguments is the right that it needs: [`Signed`] any account,
//! [`Editor`] or [`Owner`] that role or more. There is no other place where rights are decided.

pub use super::passwords::hash_password;
use super::{
    error::Error,
    extract::Visit,
    limits::Guesses,
    passkeys::Passkeys,
    passwords::is_password,
    second_factor::{SecondFactor, Waiting},
    state::{SESSION_COOKIE, Site},
    urls,
};
use crate::config::Rate;
use crate::quantity::words::hex;
use crate::storage::{
    self,
    audit::{self, Change, Via, Who},
    operators::{self, Role},
    second_factors,
    sessions::{self, TokenHash},
};
use axum::{
    extract::{ConnectInfo, FromRequestParts},
    http::{HeaderMap, HeaderValue, Method, StatusCode, header, request::Parts},
    response::{IntoResponse, Redirect, Response},
};
use axum_extra::extract::{
    CookieJar,
    cookie::{Cookie, SameSite},
};
use sha2::{Digest, Sha256};
use std::{
    net::{IpAddr, SocketAddr},
    ops::Deref,
    sync::{Arc, OnceLock},
    time::Duration,
};
use subtle::ConstantTimeEq;
use tokio::sync::Semaphore;

/// A session ends this long after its last use.
const IDLE_FOR: time::Duration = time::Duration::days(14);
/// A session ends this long after sign-in, used or not.
const AT_MOST: time::Duration = time::Duration::days(90);
/// How exactly the last use of a session is known.
const USE_IS_KNOWN_TO: time::Duration = time::Duration::hours(1);
/// Cookie of a visitor who is about to sign in: the form must carry the same token.
const FORM_COOKIE: &str = "brickbook_form";
/// Cookie of a visitor whose password was right and whose second factor is asked for.
pub const SECOND_COOKIE: &str = "brickbook_second";
/// Cookie of a visitor whose browser was asked for a passkey.
pub const PASSKEY_COOKIE: &str = "brickbook_passkey";

/// What signing in needs besides the database.
pub struct Auth {
    /// One-time secret of `/set-up`; only while no operator existed at start.
    set_up_secret: Option<String>,
    guesses: Guesses,
    /// Who has given a password and not yet a code.
    pub second: SecondFactor,
    /// Who was asked for a passkey.
    pub passkeys: Passkeys,
    /// One hash takes 19 MiB and a core for some 30 ms: two at once, the rest wait.
    hashing: Semaphore,
}

impl Auth {
    pub fn new(an_operator_exists: bool, rate: Option<Rate>) -> Auth {
        Auth {
            set_up_secret: (!an_operator_exists).then(|| {
                let digits = hex(random::<16>());
                let groups: Vec<&str> = (0..digits.len())
                    .step_by(8)
                    .map(|at| &digits[at..at + 8])
                    .collect();
                groups.join("-")
            }),
            guesses: Guesses::new(rate),
            second: SecondFactor::default(),
            passkeys: Passkeys::default(),
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
        put_off(address, self.guesses.attempt(address, account))
    }

    /// Counts an attempt to enter by a door without an account's name on it: the set-up, an
    /// invitation, a passkey, a code after the password. By address alone: a stranger's guesses
    /// should keep nobody else waiting, and the secrets of these doors are not to be guessed.
    ///
    /// # Errors
    /// [`Error::TooMany`] if there were too many from this address.
    pub fn attempt_from(&self, address: IpAddr) -> Result<(), Error> {
        put_off(address, self.guesses.attempt_from(address))
    }

    /// An attempt that was counted opened the account.
    pub fn succeeded(&self, address: IpAddr, account: &str) {
        self.guesses.succeeded(address, account);
    }

    pub async fn hash(&self, password: String) -> Result<String, Error> {
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

/// A home or an office gets a whole /64 of IPv6: it counts as one address.
pub fn network_of(address: IpAddr) -> IpAddr {
    match address.to_canonical() {
        IpAddr::V6(v6) => IpAddr::from((v6.to_bits() & !u128::from(u64::MAX)).to_be_bytes()),
        v4 => v4,
    }
}

/// What the right name and password lead to.
pub enum Opened {
    /// A session, by its token.
    Session(String),
    /// The question for a second factor, under the token of a cookie.
    SecondFactor(String),
}

/// Checks name and password and begins a session, unless the account has a second factor. `None`:
/// one of them is wrong, and nothing tells which.
pub async fn sign_in(
    site: &Site,
    client: &Client,
    name: &str,
    password: String,
) -> Result<Option<Opened>, Error> {
    let known = operators::credentials(&mut *site.db.read().await?, name.trim()).await?;
    let hash = known.as_ref().map(|known| known.password_hash.clone());
    let right = site.auth.verify(password, hash).await?;
    match known.filter(|_| right) {
        Some(known) => {
            site.auth.succeeded(client.address, name);
            let totp = second_factors::find(&mut *site.db.read().await?, known.operator_id).await?;
            if totp.is_some_and(|totp| totp.confirmed_at.is_some()) {
                tracing::info!(operator_id = known.operator_id, "asked for a second factor");
                let token = site.auth.second.wait(known, site.clock.now());
                return Ok(Some(Opened::SecondFactor(token)));
            }
            let mut tx = site.db.write().await?;
            let (id, name) = (known.operator_id, &known.name);
            let token = begin_session(site, &mut tx, client, id, name, By::Password).await?;
            tx.commit().await?;
            Ok(Some(Opened::Session(token)))
        }
        None => Ok(None),
    }
}

/// Is this the operator's password?
pub async fn knows_password(site: &Site, signed: &Signed, password: String) -> Result<bool, Error> {
    let known = operators::credentials(&mut *site.db.read().await?, &signed.name).await?;
    let hash = known.map(|known| known.password_hash);
    site.auth.verify(password, hash).await
}

/// Makes the first operator, the owner, and begins their session. `None`: there is an operator
/// already.
pub async fn set_up(
    site: &Site,
    client: &Client,
    name: &str,
    password: String,
) -> Result<Option<String>, Error> {
    let name = name.trim();
    let hash = site.auth.hash(password).await?;
    let now = site.clock.now();
    let mut tx = site.db.write().await?;
    let Some(operator_id) = operators::insert_first(&mut tx, name, &hash, now).await? else {
        return Ok(None);
    };
    let change = Change::new("account.added", account(name)).detail("owner, by the set-up");
    audit::write(&mut tx, &client.who(operator_id, name), change, now).await?;
    let token = begin_session(site, &mut tx, client, operator_id, name, By::Password).await?;
    tx.commit().await?;
    tracing::info!(operator_id, "first operator made");
    Ok(Some(token))
}

/// How an account is called in the audit log.
pub fn account(name: &str) -> String {
    format!("account {name}")
}

/// What a session was opened with.
#[derive(Debug, Clone, Copy)]
pub enum By<'a> {
    Password,
    /// Password, and a code of the app or a recovery code.
    Code,
    /// A passkey, by what its owner calls it.
    Passkey(&'a str),
}

impl std::fmt::Display for By<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            By::Password => write!(f, "by password"),
            By::Code => write!(f, "by password and code"),
            By::Passkey(name) => write!(f, "by passkey “{name}”"),
        }
    }
}

/// Begins a session and gives its token. To be called in the transaction that gives the right to it.
pub async fn begin_session(
    site: &Site,
    tx: &mut storage::Connection,
    client: &Client,
    operator_id: i64,
    name: &str,
    by: By<'_>,
) -> Result<String, Error> {
    let token = new_token();
    let now = site.clock.now();
    sessions::remove_expired(tx, now).await?;
    let new = sessions::New {
        token_hash: &hash_of(&token),
        operator_id,
        csrf_token: &new_token(),
        expires_at: now + IDLE_FOR,
        address: Some(network_of(client.address).to_string()),
        client: &client.program,
    };
    sessions::begin(tx, &new, now).await?;
    let words = format!("{}, {by}", client.program);
    let change = Change::new("session.begun", account(name)).detail(words);
    audit::write(tx, &client.who(operator_id, name), change, now).await?;
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

/// A signed-in operator of whatever role. As an argument of a handler it keeps everybody else out: a
/// page asks them to sign in, anything else is refused with 401.
#[derive(Debug, Clone)]
pub struct Signed {
    pub operator_id: i64,
    pub name: String,
    pub role: Role,
    pub session_id: i64,
    /// Every form of this session carries it.
    pub csrf: String,
    /// Where the request came from.
    pub address: IpAddr,
}

impl Signed {
    /// As the audit log names them.
    pub fn who(&self) -> Who {
        Who {
            operator_id: Some(self.operator_id),
            name: self.name.clone(),
            via: Via::Desk,
            address: Some(network_of(self.address)),
        }
    }

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

/// A signed-in editor or owner.
#[derive(Debug, Clone)]
pub struct Editor(pub Signed);

/// A signed-in owner.
#[derive(Debug, Clone)]
pub struct Owner(pub Signed);

impl Deref for Editor {
    type Target = Signed;

    fn deref(&self) -> &Signed {
        &self.0
    }
}

impl Deref for Owner {
    type Target = Signed;

    fn deref(&self) -> &Signed {
        &self.0
    }
}

/// Why somebody is kept out of the desk.
pub enum KeptOut {
    /// A page was asked for: sign in, then see it.
    SignInFirst(String),
    NotSignedIn,
    /// Signed in, without the right to this.
    Needs {
        has: Role,
        needs: Role,
    },
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
            KeptOut::Needs { has, needs } => Error::Forbidden(format!(
                "This needs the role “{}”; yours is “{}”, so nothing was changed. An owner can change that.",
                needs.words(),
                has.words()
            ))
            .into_response(),
            KeptOut::Failed(error) => error.into_response(),
        }
    }
}

impl FromRequestParts<Site> for Signed {
    type Rejection = KeptOut;

    async fn from_request_parts(parts: &mut Parts, site: &Site) -> Result<Signed, KeptOut> {
        with_role(parts, site, Role::Reader).await
    }
}

impl FromRequestParts<Site> for Editor {
    type Rejection = KeptOut;

    async fn from_request_parts(parts: &mut Parts, site: &Site) -> Result<Editor, KeptOut> {
        with_role(parts, site, Role::Editor).await.map(Editor)
    }
}

impl FromRequestParts<Site> for Owner {
    type Rejection = KeptOut;

    async fn from_request_parts(parts: &mut Parts, site: &Site) -> Result<Owner, KeptOut> {
        with_role(parts, site, Role::Owner).await.map(Owner)
    }
}

/// Who is signed in, if that is enough: the one place where a role is held against what is asked.
async fn with_role(parts: &Parts, site: &Site, needs: Role) -> Result<Signed, KeptOut> {
    match signed(site, parts).await {
        Ok(Some(signed)) if signed.role >= needs => Ok(signed),
        Ok(Some(signed)) => {
            tracing::warn!(
                operator_id = signed.operator_id,
                has = signed.role.id(),
                needs = needs.id(),
                "refused: the role is not enough"
            );
            Err(KeptOut::Needs {
                has: signed.role,
                needs,
            })
        }
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

async fn signed(site: &Site, parts: &Parts) -> Result<Option<Signed>, Error> {
    let jar = CookieJar::from_headers(&parts.headers);
    let Some(token) = session_token(site, &jar) else {
        return Ok(None);
    };
    let hash = hash_of(&token);
    let now = site.clock.now();
    let Some(session) = sessions::find(&mut *site.db.read().await?, &hash, now).await? else {
        return Ok(None);
    };
    if now - session.used_at >= USE_IS_KNOWN_TO {
        let until = (now + IDLE_FOR).min(session.created_at + AT_MOST);
        let mut tx = site.db.write().await?;
        sessions::extend(&mut tx, session.id, until, now).await?;
        tx.commit().await?;
    }
    Ok(Some(Signed {
        operator_id: session.operator_id,
        name: session.operator_name,
        role: session.role,
        session_id: session.id,
        csrf: session.csrf_token,
        address: address_of(parts, site),
    }))
}

/// Refuses a change that a browser says was begun by a page of another site. Every form carries a
/// token besides; this stops the request before anything is read.
pub fn from_own_page(visit: &Visit, headers: &HeaderMap) -> Result<(), Error> {
    let text = |name: &str| headers.get(name).and_then(|value| value.to_str().ok());
    let refused = || {
        tracing::warn!("refused: the request was begun by another site");
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
        Ok(ClientAddress(address_of(parts, site)))
    }
}

/// Where a request comes from, and by what program.
#[derive(Debug, Clone)]
pub struct Client {
    pub address: IpAddr,
    /// Browser and system in few words, as far as told: for people to recognise their sessions.
    pub program: String,
}

impl Client {
    /// As the audit log names an operator who asks from here.
    pub fn who(&self, operator_id: i64, name: &str) -> Who {
        Who {
            operator_id: Some(operator_id),
            name: name.to_owned(),
            via: Via::Desk,
            address: Some(network_of(self.address)),
        }
    }
}

impl FromRequestParts<Site> for Client {
    type Rejection = std::convert::Infallible;

    async fn from_request_parts(
        parts: &mut Parts,
        site: &Site,
    ) -> Result<Client, std::convert::Infallible> {
        let agent = parts.headers.get(header::USER_AGENT);
        let agent = agent.and_then(|value| value.to_str().ok()).unwrap_or("");
        Ok(Client {
            address: address_of(parts, site),
            program: program_of(agent),
        })
    }
}

/// "Firefox on Linux", of what a browser says of itself.
fn program_of(agent: &str) -> String {
    // The order matters: most name others beside themselves.
    let browsers = [
        ("Edg", "Edge"),
        ("OPR", "Opera"),
        ("Firefox", "Firefox"),
        ("Chrom", "Chrome"),
        ("Safari", "Safari"),
        ("curl", "curl"),
    ];
    let systems = [
        ("Android", "Android"),
        ("iPhone", "iPhone"),
        ("iPad", "iPad"),
        ("Windows", "Windows"),
        ("Mac OS", "macOS"),
        ("CrOS", "ChromeOS"),
        ("Linux", "Linux"),
    ];
    let find = |known: &[(&str, &'static str)]| {
        known
            .iter()
            .find(|(mark, _)| agent.contains(mark))
            .map(|(_, name)| *name)
    };
    match (find(&browsers), find(&systems)) {
        (Some(browser), Some(system)) => format!("{browser} on {system}"),
        (Some(browser), None) => browser.to_owned(),
        (None, Some(system)) => format!("a program on {system}"),
        (None, None) => "a program that does not say which".to_owned(),
    }
}

fn address_of(parts: &Parts, site: &Site) -> IpAddr {
    let peer = parts
        .extensions
        .get::<ConnectInfo<SocketAddr>>()
        .map_or(IpAddr::from([0, 0, 0, 0]), |peer| {
            peer.0.ip().to_canonical()
        });
    client_of(peer, &parts.headers, &site.config.trusted_proxies)
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

fn cookie_name(site: &Site, name: &str) -> String {
    // The prefix makes a browser refuse the cookie from any other host or without HTTPS.
    if site.config.secure_cookies {
        format!("__Host-{name}")
    } else {
        name.to_owned()
    }
}

fn session_token(site: &Site, jar: &CookieJar) -> Option<String> {
    jar.get(&cookie_name(site, SESSION_COOKIE))
        .map(|cookie| cookie.value().to_owned())
}

/// The `Set-Cookie` of a session that has begun. How long it lives is decided here, not by the
/// browser; the cookie merely outlasts it.
pub fn session_cookie(site: &Site, token: String) -> Cookie<'static> {
    Cookie::build((cookie_name(site, SESSION_COOKIE), token))
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

/// The `Set-Cookie` of what a visitor has begun and must finish.
pub fn underway_cookie(site: &Site, name: &str, token: String) -> Cookie<'static> {
    Cookie::build((cookie_name(site, name), token))
        .http_only(true)
        .secure(site.config.secure_cookies)
        .same_site(SameSite::Strict)
        .path("/")
        .build()
}

/// The `Set-Cookie` that takes it away.
pub fn no_underway_cookie(site: &Site, name: &str) -> Cookie<'static> {
    let mut cookie = underway_cookie(site, name, String::new());
    cookie.make_removal();
    cookie
}

/// The token of what a visitor has begun.
pub fn underway_token(site: &Site, jar: &CookieJar, name: &str) -> Option<String> {
    let cookie = jar.get(&cookie_name(site, name))?;
    Some(cookie.value().to_owned())
}

/// Who has given the right password and is asked for a second factor; with the token of the cookie.
pub fn waiting(site: &Site, jar: &CookieJar) -> Option<(String, Arc<Waiting>)> {
    let token = underway_token(site, jar, SECOND_COOKIE)?;
    let waiting = site.auth.second.waiting(&token, site.clock.now())?;
    Some((token, waiting))
}

/// Token of a form for visitors without a session, with the cookie that must come back with it.
pub fn form_token(site: &Site, jar: CookieJar) -> (String, CookieJar) {
    let name = cookie_name(site, FORM_COOKIE);
    if let Some(token) = jar.get(&name).map(|cookie| cookie.value().to_owned())
        && token.len() == 43
    {
        return (token, jar);
    }
    let token = new_token();
    let cookie = Cookie::build((name, token.clone()))
        .http_only(true)
        .secure(site.config.secure_cookies)
        .same_site(SameSite::Strict)
        .path("/")
        .build();
    (token, jar.add(cookie))
}

/// Does a form for visitors without a session carry the token of its cookie?
pub fn check_form_token(site: &Site, jar: &CookieJar, sent: &str) -> Result<(), Error> {
    match jar.get(&cookie_name(site, FORM_COOKIE)) {
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

pub(super) fn random<const N: usize>() -> [u8; N] {
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
    use crate::config::Limits;

    const HOME: IpAddr = IpAddr::V4(std::net::Ipv4Addr::new(192, 0, 2, 1));

    #[test]
    fn strangers_who_guess_the_set_up_secret_do_not_keep_the_owner_waiting() {
        let auth = Auth::new(false, Limits::default().sign_in);
        for n in 0..30u8 {
            auth.attempt_from(IpAddr::from([198, 51, 100, n]))
                .expect("each from an address of its own");
        }
        auth.attempt_from(HOME).expect("the owner");
        for _ in 0..40 {
            let _ = auth.attempt_from(IpAddr::from([203, 0, 113, 1]));
        }
        auth.attempt_from(IpAddr::from([203, 0, 113, 1]))
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
    fn the_set_up_secret_exists_only_where_nobody_is_and_only_itself_opens() {
        let auth = Auth::new(false, Limits::default().sign_in);
        let secret = auth.set_up_secret().unwrap().to_owned();
        assert!(secret.len() >= 32);
        assert!(auth.opens_set_up(&format!(" {secret}\n")));
        assert!(!auth.opens_set_up(""));
        assert!(!auth.opens_set_up(&secret[1..]));
        assert!(!Auth::new(true, None).opens_set_up(""));
    }

    #[test]
    fn a_browser_is_told_in_words_that_its_owner_knows() {
        let linux = "Mozilla/5.0 (X11; Linux x86_64; rv:140.0) Gecko/20100101 Firefox/140.0";
        assert_eq!(program_of(linux), "Firefox on Linux");
        let edge = "Mozilla/5.0 (Windows NT 10.0; Win64; x64) AppleWebKit/537.36 (KHTML, like Gecko) \
                    Chrome/140.0.0.0 Safari/537.36 Edg/140.0.0.0";
        assert_eq!(program_of(edge), "Edge on Windows");
        assert_eq!(program_of("<script>"), "a program that does not say which");
    }
}
