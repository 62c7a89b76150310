//! Passkeys over HTTP, with an authenticator made here after WebAuthn Level 3 (section 6.1 for what it
//! signs, 6.5.4 for "none" attestation) and RFC 9053 (the key). What a browser does with them is in
//! `tests/browser/passkeys.rs`.

use crate::{
    accounts::{invited, number_of, on_a_clock_with, press, with_app},
    app::{Answer, TestApp},
    browser::{Browser, PASSWORD, form},
};
use axum::http::StatusCode;
use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use brickbook::{
    storage::audit::{self, Wanted},
    web::Config,
};
use p256::ecdsa::{Signature, SigningKey, signature::Signer};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use std::sync::{Arc, Mutex};
use time::{Duration, OffsetDateTime};

const ORIGIN: &str = "https://bench.example";

/// A site that browsers reach by https.
async fn site() -> (TestApp, Arc<Mutex<OffsetDateTime>>) {
    let config = Config {
        public_url: Some(ORIGIN.to_owned()),
        ..Config::default()
    };
    on_a_clock_with(config).await
}

fn text(bytes: &[u8]) -> String {
    URL_SAFE_NO_PAD.encode(bytes)
}

fn bytes(text: &Value) -> Vec<u8> {
    URL_SAFE_NO_PAD.decode(text.as_str().unwrap()).unwrap()
}

/// A device with one passkey, for one account of one site.
struct Device {
    key: SigningKey,
    id: Vec<u8>,
    handle: Vec<u8>,
    uses: u32,
    /// Whether it asks for finger, face or PIN.
    checks_its_owner: bool,
    /// The page that it believes to be on.
    origin: String,
}

impl Device {
    fn new(number: u8) -> Device {
        Device {
            key: SigningKey::from_slice(&[number; 32]).unwrap(),
            id: vec![number; 16],
            handle: Vec::new(),
            uses: 0,
            checks_its_owner: true,
            origin: ORIGIN.to_owned(),
        }
    }

    fn client_data(&self, kind: &str, options: &Value) -> Vec<u8> {
        json!({
            "type": kind,
            "challenge": options["publicKey"]["challenge"],
            "origin": self.origin,
            "crossOrigin": false,
        })
        .to_string()
        .into_bytes()
    }

    /// Authenticator data: hash of the site's name, flags, counter.
    fn data(&mut self, site: &str, flags: u8) -> Vec<u8> {
        self.uses += 1;
        let mut data = Sha256::digest(site.as_bytes()).to_vec();
        data.push(flags | if self.checks_its_owner { 0x05 } else { 0x01 });
        data.extend(self.uses.to_be_bytes());
        data
    }

    /// What a browser sends of a new passkey.
    fn made(&mut self, options: &Value) -> Value {
        let asked = &options["publicKey"];
        self.handle = bytes(&asked["user"]["id"]);
        let mut data = self.data(asked["rp"]["id"].as_str().unwrap(), 0x40);
        data.extend([0; 16]);
        data.extend(u16::try_from(self.id.len()).unwrap().to_be_bytes());
        data.extend(&self.id);
        let point = self.key.verifying_key().to_sec1_point(false);
        let point = point.as_bytes();
        // COSE: kty EC2, alg ES256, crv P-256, x, y
        data.extend([0xa5, 0x01, 0x02, 0x03, 0x26, 0x20, 0x01, 0x21, 0x58, 0x20]);
        data.extend(&point[1..33]);
        data.extend([0x22, 0x58, 0x20]);
        data.extend(&point[33..65]);
        // CBOR: {"fmt": "none", "attStmt": {}, "authData": bytes}
        let mut object = b"\xa3\x63fmt\x64none\x67attStmt\xa0\x68authData\x58".to_vec();
        object.push(u8::try_from(data.len()).unwrap());
        object.extend(data);
        json!({
            "id": text(&self.id),
            "rawId": text(&self.id),
            "type": "public-key",
            "response": {
                "clientDataJSON": text(&self.client_data("webauthn.create", options)),
                "attestationObject": text(&object),
                "transports": ["internal"],
            },
            "clientExtensionResults": {"credProps": {"rk": true}},
        })
    }

    /// What a browser sends of a passkey that is used.
    fn signed(&mut self, options: &Value) -> Value {
        let data = self.data(options["publicKey"]["rpId"].as_str().unwrap(), 0);
        let client = self.client_data("webauthn.get", options);
        let mut message = data.clone();
        message.extend(Sha256::digest(&client));
        let signature: Signature = self.key.sign(&message);
        json!({
            "id": text(&self.id),
            "rawId": text(&self.id),
            "type": "public-key",
            "response": {
                "clientDataJSON": text(&client),
                "authenticatorData": text(&data),
                "signature": text(signature.to_der().as_bytes()),
                "userHandle": text(&self.handle),
            },
            "clientExtensionResults": {},
        })
    }
}

fn read(answer: &Answer) -> Value {
    serde_json::from_slice(&answer.bytes).unwrap()
}

/// The token of the forms of an account's page.
async fn csrf(browser: &mut Browser<'_>) -> String {
    let page = browser.get("/desk/account").await;
    form(&page, "/desk/account/password")
        .value("csrf")
        .to_owned()
}

/// The token of the form of the page to sign in.
async fn door(browser: &mut Browser<'_>) -> String {
    let page = browser.get("/sign-in").await;
    form(&page, "/sign-in").value("csrf").to_owned()
}

async fn begin_adding(browser: &mut Browser<'_>, name: &str, password: &str) -> Answer {
    let csrf = csrf(browser).await;
    let message = json!({"csrf": csrf, "name": name, "password": password});
    browser
        .post_json("/desk/account/passkeys/begin", &message)
        .await
}

async fn finish_adding(browser: &mut Browser<'_>, made: &Value) -> Answer {
    let csrf = csrf(browser).await;
    let message = json!({"csrf": csrf, "credential": made});
    browser.post_json("/desk/account/passkeys", &message).await
}

async fn add(browser: &mut Browser<'_>, device: &mut Device, name: &str) {
    let begun = begin_adding(browser, name, PASSWORD).await;
    assert_eq!(begun.status, StatusCode::OK, "{}", begun.text());
    let made = device.made(&read(&begun));
    let added = finish_adding(browser, &made).await;
    assert_eq!(added.status, StatusCode::OK, "{}", added.text());
    assert_eq!(read(&added), json!({"to": "/desk/account"}));
}

async fn begin_sign_in(browser: &mut Browser<'_>) -> Value {
    let message = json!({"csrf": door(browser).await});
    let begun = browser.post_json("/sign-in/passkey/begin", &message).await;
    assert_eq!(begun.status, StatusCode::OK, "{}", begun.text());
    read(&begun)
}

async fn finish_sign_in(browser: &mut Browser<'_>, signed: &Value) -> Answer {
    let message = json!({
        "csrf": door(browser).await,
        "next": "/desk/tokens",
        "credential": signed,
    });
    browser.post_json("/sign-in/passkey", &message).await
}

async fn sign_in(browser: &mut Browser<'_>, device: &mut Device) -> Answer {
    let options = begin_sign_in(browser).await;
    let signed = device.signed(&options);
    finish_sign_in(browser, &signed).await
}

#[track_caller]
fn refused(answer: &Answer, words: &str) {
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(answer.header("content-type"), "application/problem+json");
    let told = read(answer);
    let told = told["detail"].as_str().unwrap();
    assert!(told.contains(words), "{told}");
}

const NO_ACCOUNT: &str = "opens no account here";
const OVER: &str = "longer than five minutes, was sent twice, or was begun by somebody else";

async fn is_in(browser: &mut Browser<'_>) -> bool {
    browser.get("/desk").await.status == StatusCode::OK
}

#[tokio::test]
async fn a_passkey_opens_the_account_alone_until_it_is_removed_with_the_password() {
    let (app, now) = site().await;
    let mut ada = Browser::set_up(&app).await;
    let mut elsewhere = Browser::new(&app);
    elsewhere.sign_in("Ada", PASSWORD).await;
    let mut phone = Device::new(1);
    add(&mut ada, &mut phone, " my phone ").await;
    assert!(!is_in(&mut elsewhere).await, "all other sessions end");
    assert!(is_in(&mut ada).await);
    let page = ada.get("/desk/account").await.words();
    assert!(
        page.contains("my phone , added 1 Sep 2026, 08:00 UTC, never used"),
        "{page}"
    );

    // Where codes are asked for after the password, too.
    let at = *now.lock().unwrap();
    with_app(&mut ada, at).await;
    *now.lock().unwrap() += Duration::hours(2);
    let opened = sign_in(&mut elsewhere, &mut phone).await;
    assert_eq!(opened.status, StatusCode::OK, "{}", opened.text());
    assert_eq!(read(&opened), json!({"to": "/desk/tokens"}));
    let page = elsewhere.get("/desk/account").await;
    assert!(page.words().contains("last used 1 Sep 2026, 10:00 UTC"));
    let lines = audit::list(
        &mut app.site.db.read().await.unwrap(),
        &Wanted::default(),
        100,
    )
    .await
    .unwrap();
    let line = &lines[0];
    assert_eq!(
        (line.action.as_str(), line.who.as_str()),
        ("session.begun", "Ada")
    );
    assert!(
        line.detail.ends_with("by passkey “my phone”"),
        "{}",
        line.detail
    );
    assert!(lines.iter().any(|line| line.action == "passkey.added"));

    let remove = form(&page, "/desk/account/passkeys/1/remove");
    let wrong = remove.clone().set("password", "a wrong password");
    let kept = elsewhere.send(&wrong, None).await;
    assert_eq!(kept.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(kept.words().contains("The present password is wrong"));
    assert!(is_in(&mut ada).await);
    elsewhere
        .send(&remove.set("password", PASSWORD), None)
        .await;
    assert!(!is_in(&mut ada).await, "all other sessions end");
    assert!(is_in(&mut elsewhere).await);
    refused(&sign_in(&mut ada, &mut phone).await, NO_ACCOUNT);
    assert!(!is_in(&mut ada).await);
    let lines = audit::list(
        &mut app.site.db.read().await.unwrap(),
        &Wanted::default(),
        1,
    )
    .await
    .unwrap();
    assert_eq!(lines[0].action, "passkey.removed");
}

#[tokio::test]
async fn the_browser_is_asked_for_a_passkey_that_is_found_without_a_name() {
    let (app, _) = site().await;
    let mut ada = Browser::set_up(&app).await;
    let mut bea = invited(&app, &mut ada, "Bea", "editor").await;
    let mut phone = Device::new(1);
    add(&mut ada, &mut phone, "phone").await;
    let again = read(&begin_adding(&mut ada, "key", PASSWORD).await);
    let asked = &again["publicKey"];
    assert_eq!(
        asked["rp"],
        json!({"id": "bench.example", "name": "Brickbook"})
    );
    assert_eq!(asked["user"]["name"], "Ada");
    let chosen = &asked["authenticatorSelection"];
    assert_eq!(chosen["residentKey"], "required");
    assert_eq!(chosen["requireResidentKey"], true);
    assert_eq!(chosen["userVerification"], "required");
    let known: Vec<&Value> = asked["excludeCredentials"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| &one["id"])
        .collect();
    assert_eq!(known, [&json!(text(&phone.id))], "no second one beside it");
    assert_eq!(
        bytes(&asked["user"]["id"]),
        phone.handle,
        "one handle an account"
    );
    assert_eq!(phone.handle.len(), 16);
    let other = read(&begin_adding(&mut bea, "key", PASSWORD).await);
    assert_ne!(bytes(&other["publicKey"]["user"]["id"]), phone.handle);

    let options = begin_sign_in(&mut Browser::new(&app)).await;
    assert_eq!(options["publicKey"]["allowCredentials"], json!([]));
    assert_eq!(options["publicKey"]["userVerification"], "required");
    assert!(options.get("mediation").is_none());

    let wrong = begin_adding(&mut ada, "key", "a wrong password").await;
    refused(&wrong, "The present password is wrong");
    for name in ["", " ", &"x".repeat(81)] {
        let nameless = begin_adding(&mut ada, name, PASSWORD).await;
        refused(&nameless, "1 to 80 characters");
    }
    let mut stolen = Device::new(1);
    let begun = begin_adding(&mut bea, "key", PASSWORD).await;
    let made = stolen.made(&read(&begun));
    let known = finish_adding(&mut bea, &made).await;
    assert_eq!(
        known.status,
        StatusCode::CONFLICT,
        "an id of another account"
    );
    let begun = read(&begin_adding(&mut bea, "key", PASSWORD).await);
    let mut made = Device::new(2).made(&begun);
    made["clientExtensionResults"]["credProps"]["rk"] = false.into();
    refused(
        &finish_adding(&mut bea, &made).await,
        "found without a name",
    );
}

#[tokio::test]
async fn what_is_begun_is_finished_once_in_five_minutes_by_whoever_began_it() {
    let (app, now) = site().await;
    let mut ada = Browser::set_up(&app).await;
    let mut bea = invited(&app, &mut ada, "Bea", "editor").await;
    let wait = |time: Duration| *now.lock().unwrap() += time;

    // Adding.
    let mut phone = Device::new(1);
    let begun = read(&begin_adding(&mut ada, "phone", PASSWORD).await);
    let made = phone.made(&begun);
    let cookie = ada.cookies["brickbook_passkey"].clone();
    refused(&finish_adding(&mut bea, &made).await, OVER);
    bea.cookies.insert("brickbook_passkey".into(), cookie);
    let of_another = finish_adding(&mut bea, &made).await;
    refused(&of_another, OVER);
    refused(&finish_adding(&mut ada, &made).await, OVER);
    let begun = read(&begin_adding(&mut ada, "phone", PASSWORD).await);
    let made = phone.made(&begun);
    wait(Duration::minutes(5));
    refused(&finish_adding(&mut ada, &made).await, OVER);
    let begun = read(&begin_adding(&mut ada, "phone", PASSWORD).await);
    let made = phone.made(&begun);
    let cookie = ada.cookies["brickbook_passkey"].clone();
    wait(Duration::minutes(5) - Duration::SECOND);
    assert_eq!(finish_adding(&mut ada, &made).await.status, StatusCode::OK);
    ada.cookies.insert("brickbook_passkey".into(), cookie);
    refused(&finish_adding(&mut ada, &made).await, OVER);

    // Signing in.
    let mut visitor = Browser::new(&app);
    let mut stranger = Browser::new(&app);
    let options = begin_sign_in(&mut visitor).await;
    let signed = phone.signed(&options);
    refused(&finish_sign_in(&mut stranger, &signed).await, OVER);
    begin_sign_in(&mut stranger).await;
    let of_another = finish_sign_in(&mut stranger, &signed).await;
    refused(&of_another, NO_ACCOUNT);
    wait(Duration::minutes(5));
    refused(&finish_sign_in(&mut visitor, &signed).await, OVER);
    let options = begin_sign_in(&mut visitor).await;
    let cookie = visitor.cookies["brickbook_passkey"].clone();
    let signed = phone.signed(&options);
    let opened = finish_sign_in(&mut visitor, &signed).await;
    assert_eq!(opened.status, StatusCode::OK, "{}", opened.text());
    stranger.cookies.insert("brickbook_passkey".into(), cookie);
    refused(&finish_sign_in(&mut stranger, &signed).await, OVER);
    assert!(is_in(&mut visitor).await && !is_in(&mut stranger).await);

    // Nothing at all, and what belongs to no form.
    let nothing = finish_sign_in(&mut stranger, &Value::Null).await;
    refused(&nothing, "credential: nothing");
    let message = json!({"csrf": "x".repeat(43), "credential": signed});
    let forged = stranger.post_json("/sign-in/passkey", &message).await;
    assert_eq!(forged.status, StatusCode::FORBIDDEN);
    let odd = json!({"csrf": door(&mut stranger).await, "credential": {"id": 7}});
    let odd = stranger.post_json("/sign-in/passkey", &odd).await;
    assert_eq!(odd.status, StatusCode::BAD_REQUEST);
    assert!(
        read(&odd)["detail"]
            .as_str()
            .unwrap()
            .contains("credential")
    );
}

#[tokio::test]
async fn what_does_not_hold_opens_nothing() {
    let (app, _) = site().await;
    let mut ada = Browser::set_up(&app).await;
    let mut bea = invited(&app, &mut ada, "Bea", "editor").await;
    let (mut of_ada, mut of_bea) = (Device::new(1), Device::new(2));
    add(&mut ada, &mut of_ada, "phone").await;
    add(&mut bea, &mut of_bea, "phone").await;
    let mut browser = Browser::new(&app);

    let key = std::mem::replace(&mut of_ada.key, SigningKey::from_slice(&[9; 32]).unwrap());
    refused(&sign_in(&mut browser, &mut of_ada).await, NO_ACCOUNT);
    of_ada.key = key;

    of_ada.checks_its_owner = false;
    refused(&sign_in(&mut browser, &mut of_ada).await, NO_ACCOUNT);
    of_ada.checks_its_owner = true;

    for origin in ["https://bench.example.evil.example", "http://bench.example"] {
        of_ada.origin = origin.to_owned();
        refused(&sign_in(&mut browser, &mut of_ada).await, NO_ACCOUNT);
    }
    of_ada.origin = ORIGIN.to_owned();

    let handle = std::mem::replace(&mut of_ada.handle, of_bea.handle.clone());
    refused(&sign_in(&mut browser, &mut of_ada).await, NO_ACCOUNT);
    of_ada.handle = handle;

    let opened = sign_in(&mut browser, &mut of_ada).await;
    assert_eq!(opened.status, StatusCode::OK, "{}", opened.text());
    // A copy of the device, made before that use.
    of_ada.uses -= 1;
    let mut copy = Browser::new(&app);
    refused(&sign_in(&mut copy, &mut of_ada).await, NO_ACCOUNT);
    assert!(!is_in(&mut copy).await);
    let opened = sign_in(&mut copy, &mut of_ada).await;
    assert_eq!(opened.status, StatusCode::OK, "the next count");

    // What a new one must show.
    let mut careless = Device::new(3);
    careless.checks_its_owner = false;
    let begun = read(&begin_adding(&mut ada, "key", PASSWORD).await);
    let made = careless.made(&begun);
    let not_added = finish_adding(&mut copy, &made).await;
    refused(&not_added, OVER);
    let begun = read(&begin_adding(&mut copy, "key", PASSWORD).await);
    let made = careless.made(&begun);
    let not_added = finish_adding(&mut copy, &made).await;
    refused(&not_added, "The passkey was not added");
}

#[tokio::test]
async fn passkeys_of_the_deactivated_open_nothing_and_an_owner_takes_them_away() {
    let (app, _) = site().await;
    let mut ada = Browser::set_up(&app).await;
    let mut bea = invited(&app, &mut ada, "Bea", "editor").await;
    let mut phone = Device::new(1);
    add(&mut bea, &mut phone, "phone").await;
    let id = number_of(&app, "Bea").await;
    press(&mut ada, id, &[("action", "deactivate")]).await;
    refused(&sign_in(&mut bea, &mut phone).await, NO_ACCOUNT);
    press(&mut ada, id, &[("action", "reactivate")]).await;
    assert_eq!(sign_in(&mut bea, &mut phone).await.status, StatusCode::OK);
    assert!(is_in(&mut bea).await);
    let accounts = ada.get("/desk/accounts").await;
    assert!(
        accounts
            .words()
            .contains("Take second factor and passkeys away")
    );
    press(&mut ada, id, &[("action", "remove-second")]).await;
    assert!(!is_in(&mut bea).await, "signed out by it");
    refused(&sign_in(&mut bea, &mut phone).await, NO_ACCOUNT);
    let accounts = ada.get("/desk/accounts").await;
    assert!(!accounts.text().contains("remove-second"));
    bea.sign_in("Bea", PASSWORD).await;
    assert!(is_in(&mut bea).await);
}

#[tokio::test]
async fn where_browsers_allow_no_passkeys_the_page_says_what_they_need() {
    for (public_url, possible) in [
        (None, false),
        (Some("http://bench.example"), false),
        (Some("https://192.0.2.7"), false),
        (Some("https://[2001:db8::7]"), false),
        (Some("http://localhost:8080"), true),
        (Some("https://bench.example:8443"), true),
    ] {
        let app = TestApp::with(Config {
            public_url: public_url.map(str::to_owned),
            ..Config::default()
        })
        .await;
        let mut ada = Browser::set_up(&app).await;
        let page = ada.get("/desk/account").await;
        let told = page.words().contains("passkeys need public_url with https");
        assert_eq!(told, !possible, "{public_url:?}");
        assert_eq!(page.text().contains("data-passkey"), possible);
        let begun = begin_adding(&mut ada, "phone", PASSWORD).await;
        let door = Browser::new(&app).get("/sign-in").await;
        assert_eq!(door.text().contains("data-passkey"), possible);
        if possible {
            assert_eq!(begun.status, StatusCode::OK, "{public_url:?}");
        } else {
            refused(&begun, "set public_url, such as https://");
        }
    }
}

#[tokio::test]
async fn whoever_tries_passkeys_too_often_waits() {
    let (app, _) = site().await;
    Browser::set_up(&app).await;
    let mut browser = Browser::new(&app);
    let message = json!({"csrf": door(&mut browser).await});
    let mut begun = 0;
    let put_off = loop {
        let answer = browser.post_json("/sign-in/passkey/begin", &message).await;
        if answer.status != StatusCode::OK {
            break answer;
        }
        begun += 1;
        assert!(begun <= 60, "nobody is put off");
    };
    assert_eq!(put_off.status, StatusCode::TOO_MANY_REQUESTS);
    assert!(put_off.header("retry-after").parse::<u64>().unwrap() > 0);
    assert!(begun >= 25, "{begun}");
}
