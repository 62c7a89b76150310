//! One headless Chromium with a fresh profile, driven through chromedriver as a person would
//! drive it: keys, sizes, colour schemes. Knows nothing of the program under test.

use fantoccini::actions::{InputSource, KeyAction, KeyActions};
use fantoccini::wd::WebDriverCompatibleCommand;
use fantoccini::{Client, ClientBuilder};
use hyper_util::client::legacy::connect::HttpConnector;
use reqwest::{Method, Url};
use serde_json::{Value, json};
use std::io::{BufRead, BufReader};
use std::os::unix::process::CommandExt;
use std::process::{Child, Command, Stdio};
use std::sync::{Arc, LazyLock};
use std::time::Duration;
use tokio::sync::{OwnedSemaphorePermit, Semaphore};

/// Keys without a character, as WebDriver codes them.
pub mod key {
    pub const TAB: char = '\u{E004}';
    pub const ENTER: char = '\u{E007}';
    pub const CONTROL: char = '\u{E009}';
    pub const ALT: char = '\u{E00A}';
    pub const ARROW_UP: char = '\u{E013}';
    pub const ARROW_DOWN: char = '\u{E015}';
    pub const ARROW_LEFT: char = '\u{E012}';
    pub const ARROW_RIGHT: char = '\u{E014}';
    pub const SPACE: char = ' ';
    pub const F2: char = '\u{E032}';
}

/// How wide the page is shown, in CSS pixels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Width {
    Phone,
    Desk,
}

impl Width {
    pub fn pixels(self) -> (u32, u32) {
        match self {
            Width::Phone => (390, 844),
            Width::Desk => (1280, 900),
        }
    }
}

/// The visitor's wish for a light or dark page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scheme {
    Light,
    Dark,
}

impl Scheme {
    fn word(self) -> &'static str {
        match self {
            Scheme::Light => "light",
            Scheme::Dark => "dark",
        }
    }
}

/// How long anything in the browser may take before a test gives up on it.
pub const PATIENCE: Duration = Duration::from_secs(20);

/// A running browser; ended, with all its processes, when dropped.
pub struct Browser {
    pub client: Client,
    driver: Child,
    _profile: tempfile::TempDir,
    _room: Option<OwnedSemaphorePermit>,
}

impl Browser {
    /// A browser that nobody has used before.
    pub async fn start() -> Browser {
        Browser::launch(true, Some(room().await)).await
    }

    /// A second browser within one test: nothing of the first is known to it, as in a private
    /// window.
    pub async fn stranger() -> Browser {
        Browser::launch(true, None).await
    }

    /// A browser with scripts switched off.
    pub async fn without_scripts() -> Browser {
        Browser::launch(false, Some(room().await)).await
    }

    async fn launch(scripts: bool, room: Option<OwnedSemaphorePermit>) -> Browser {
        let profile = tempfile::tempdir().expect("a temporary directory for the profile");
        let (driver, port) = start_chromedriver();
        let mut options = json!({
            "args": [
                "--headless", "--lang=en-US", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
                "--disable-background-networking", "--disable-component-update", "--disable-sync",
                "--disable-dev-shm-usage", "--hide-scrollbars", "--force-color-profile=srgb",
                format!("--user-data-dir={}", profile.path().display()),
            ],
        });
        if !scripts {
            options["prefs"] = json!({"profile.managed_default_content_settings.javascript": 2});
        }
        let capabilities = json!({
            "goog:chromeOptions": options,
            "goog:loggingPrefs": {"browser": "ALL"},
        });
        let Value::Object(capabilities) = capabilities else {
            unreachable!("built as an object")
        };
        let client = ClientBuilder::new(HttpConnector::new())
            .capabilities(capabilities)
            .connect(&format!("http://127.0.0.1:{port}"))
            .await
            .expect("chromedriver starts a headless Chromium");
        let browser = Browser {
            client,
            driver,
            _profile: profile,
            _room: room,
        };
        browser.show_at(Width::Desk).await;
        browser
    }

    /// Opens an address and waits until it is loaded.
    pub async fn open(&self, address: &str) {
        self.client
            .goto(address)
            .await
            .unwrap_or_else(|e| panic!("open {address}: {e}"));
    }

    pub async fn address(&self) -> Url {
        self.client
            .current_url()
            .await
            .expect("the browser tells its address")
    }

    /// Shows the page at this width. Also tells Chromium not to shrink a page that is too wide.
    pub async fn show_at(&self, width: Width) {
        let (width, height) = width.pixels();
        self.devtools(
            "Emulation.setDeviceMetricsOverride",
            json!({"width": width, "height": height, "deviceScaleFactor": 1, "mobile": false}),
        )
        .await;
    }

    pub async fn prefer(&self, scheme: Scheme) {
        self.devtools(
            "Emulation.setEmulatedMedia",
            json!({"media": "", "features": [
                {"name": "prefers-color-scheme", "value": scheme.word()},
                {"name": "prefers-reduced-motion", "value": "reduce"},
            ]}),
        )
        .await;
    }

    /// Shows the page as a printer gets it, on paper so many pixels wide between its margins, for
    /// somebody who prefers dark screens.
    pub async fn print_on(&self, width_px: u32) {
        self.devtools(
            "Emulation.setDeviceMetricsOverride",
            json!({"width": width_px, "height": 1000, "deviceScaleFactor": 1, "mobile": false}),
        )
        .await;
        self.devtools(
            "Emulation.setEmulatedMedia",
            json!({
                "media": "print",
                "features": [{"name": "prefers-color-scheme", "value": "dark"}],
            }),
        )
        .await;
    }

    /// Runs a script in the page and gives what it returns. Not bound by the page's own policy.
    pub async fn ask(&self, script: &str) -> Value {
        self.client
            .execute(script, vec![])
            .await
            .unwrap_or_else(|e| panic!("script {script:?}: {e}"))
    }

    /// Waits until a script returns something true.
    pub async fn wait_until(&self, what: &str, script: &str) {
        let deadline = tokio::time::Instant::now() + PATIENCE;
        loop {
            // While a page is being replaced a script may fail; that is "not yet".
            let now = self
                .client
                .execute(script, vec![])
                .await
                .unwrap_or(Value::Null);
            if now.as_bool() == Some(true) {
                return;
            }
            if tokio::time::Instant::now() > deadline {
                let address = self.address().await;
                let text = self.visible_text().await;
                panic!("waited in vain until {what}, at {address}:\n{text}");
            }
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
    }

    /// Waits until the page shows this text.
    pub async fn wait_for_text(&self, text: &str) {
        let script = format!(
            "return document.body !== null && document.body.innerText.includes({})",
            Value::from(text)
        );
        self.wait_until(&format!("the page says {text:?}"), &script)
            .await;
    }

    /// Waits until a part of the page that announces itself says this, seen or not.
    pub async fn wait_for_status(&self, text: &str) {
        let script = format!(
            "return [...document.querySelectorAll('[role=status]')].some(e => e.textContent === {})",
            Value::from(text)
        );
        self.wait_until(&format!("it is said that {text:?}"), &script)
            .await;
    }

    /// What a person can read on the page.
    pub async fn visible_text(&self) -> String {
        let text = self
            .ask("return document.body ? document.body.innerText : ''")
            .await;
        text.as_str().unwrap_or_default().to_owned()
    }

    /// How many pixels the page is wider than the window: 0 where nothing must be scrolled
    /// sideways.
    pub async fn overflow_px(&self) -> i64 {
        self.ask("return document.documentElement.scrollWidth - window.innerWidth")
            .await
            .as_i64()
            .unwrap_or_default()
            .max(0)
    }

    /// Presses and releases keys one after the other, on whatever has the focus.
    pub async fn press(&self, keys: &[char]) {
        let mut actions = KeyActions::new("keyboard".into());
        for &value in keys {
            actions = actions
                .then(KeyAction::Down { value })
                .then(KeyAction::Up { value });
        }
        self.client
            .perform_actions(actions)
            .await
            .expect("keys are pressed");
    }

    /// Presses one key while another is held.
    pub async fn press_with(&self, held: char, value: char) {
        let actions = KeyActions::new("keyboard".into())
            .then(KeyAction::Down { value: held })
            .then(KeyAction::Down { value })
            .then(KeyAction::Up { value })
            .then(KeyAction::Up { value: held });
        self.client
            .perform_actions(actions)
            .await
            .expect("keys are pressed");
    }

    /// Types text on whatever has the focus.
    pub async fn type_text(&self, text: &str) {
        self.press(&text.chars().collect::<Vec<_>>()).await;
    }

    /// The element that has the focus, as a script sees it: tag, name, text, value, label.
    pub async fn focused(&self) -> Focused {
        let f = self
            .ask(
                "const e = document.activeElement;
                 if (!e) return null;
                 return {tag: e.tagName.toLowerCase(), name: e.getAttribute('name') ?? '',
                         value: e.value ?? '', text: (e.innerText ?? '').trim().slice(0, 100),
                         label: e.getAttribute('aria-label')
                                ?? (e.labels && e.labels[0] ? e.labels[0].innerText.trim() : '')};",
            )
            .await;
        let text = |field: &str| f[field].as_str().unwrap_or_default().to_owned();
        Focused {
            tag: text("tag"),
            name: text("name"),
            value: text("value"),
            text: text("text"),
            label: text("label"),
        }
    }

    /// Presses Tab until the focus is where it is wanted, and gives that element.
    /// Fails where the keyboard cannot reach it within the page.
    pub async fn tab_to(&self, what: &str, wanted: impl Fn(&Focused) -> bool) -> Focused {
        let mut seen = Vec::new();
        for _ in 0..600 {
            let focused = self.focused().await;
            if focused.tag != "body" && wanted(&focused) {
                return focused;
            }
            seen.push(format!(
                "{} {:?} {:?}",
                focused.tag, focused.name, focused.text
            ));
            self.press(&[key::TAB]).await;
        }
        seen.truncate(40);
        panic!(
            "Tab never reaches {what} at {}; it went over:\n{}",
            self.address().await,
            seen.join("\n")
        );
    }

    /// Messages of the console since the last call: script errors, refused loads, breaches of the
    /// content policy.
    pub async fn console_errors(&self) -> Vec<String> {
        let log = self
            .client
            .issue_cmd(Extra {
                path: "se/log",
                body: json!({"type": "browser"}),
            })
            .await
            .expect("chromedriver gives the console");
        log.as_array()
            .expect("the console is a list")
            .iter()
            .filter(|entry| matches!(entry["level"].as_str(), Some("SEVERE" | "WARNING")))
            .map(|entry| entry["message"].as_str().unwrap_or_default().to_owned())
            .collect()
    }

    /// Gives the computer a built-in authenticator that keeps passkeys and takes everybody for its
    /// owner (WebAuthn Level 3, section 11).
    pub async fn with_authenticator(&self) {
        self.client
            .issue_cmd(Extra {
                path: "webauthn/authenticator",
                body: json!({
                    "protocol": "ctap2", "transport": "internal", "hasResidentKey": true,
                    "hasUserVerification": true, "isUserVerified": true,
                }),
            })
            .await
            .expect("chromedriver makes an authenticator");
    }

    /// The visible part of the page as PNG.
    pub async fn screenshot(&self) -> Vec<u8> {
        self.client
            .screenshot()
            .await
            .expect("Chromium takes a picture")
    }

    pub async fn devtools(&self, command: &str, params: Value) -> Value {
        self.client
            .issue_cmd(Extra {
                path: "goog/cdp/execute",
                body: json!({"cmd": command, "params": params}),
            })
            .await
            .unwrap_or_else(|e| panic!("{command}: {e}"))
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        // Chromium and its children stay in the process group of the chromedriver that began them.
        let _ = Command::new("kill")
            .args(["-KILL", "--", &format!("-{}", self.driver.id())])
            .status();
        let _ = self.driver.wait();
    }
}

/// Two browsers at once are what a small machine bears.
async fn room() -> OwnedSemaphorePermit {
    static ROOM: LazyLock<Arc<Semaphore>> = LazyLock::new(|| Arc::new(Semaphore::new(2)));
    ROOM.clone()
        .acquire_owned()
        .await
        .expect("the semaphore is never closed")
}

/// What has the focus.
#[derive(Debug, Clone)]
pub struct Focused {
    pub tag: String,
    pub name: String,
    pub value: String,
    pub text: String,
    pub label: String,
}

/// A command of chromedriver beyond the standard.
#[derive(Debug)]
struct Extra {
    path: &'static str,
    body: Value,
}

impl WebDriverCompatibleCommand for Extra {
    fn endpoint(
        &self,
        base: &Url,
        session: Option<&str>,
    ) -> Result<Url, <Url as std::str::FromStr>::Err> {
        base.join(&format!(
            "session/{}/{}",
            session.unwrap_or_default(),
            self.path
        ))
    }

    fn method_and_body(&self, _: &Url) -> (Method, Option<String>) {
        (Method::POST, Some(self.body.to_string()))
    }
}

fn start_chromedriver() -> (Child, u16) {
    let mut driver = Command::new("chromedriver")
        .arg("--port=0")
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .process_group(0)
        .spawn()
        .unwrap_or_else(|e| {
            panic!("chromedriver does not start ({e}): `bash tests/all.sh` installs what browser tests need")
        });
    let output = driver.stdout.take().expect("the output was asked for");
    let mut lines = BufReader::new(output).lines();
    let port = lines
        .by_ref()
        .map_while(Result::ok)
        .find_map(|line| {
            line.split_once("on port ")?
                .1
                .trim_end_matches('.')
                .parse::<u16>()
                .ok()
                .filter(|p| *p != 0)
        })
        .expect("chromedriver says on which port it listens");
    // Nobody reads the rest, but a full pipe would stop the driver.
    std::thread::spawn(move || lines.for_each(drop));
    (driver, port)
}

#[tokio::test(flavor = "multi_thread")]
async fn a_browser_without_scripts_leaves_the_page_as_it_was_served() {
    let page = "data:text/html,<title>t</title><p>served</p>\
                <script>document.querySelector('p').textContent = 'changed'</script>";
    let browser = Browser::without_scripts().await;
    browser.open(page).await;
    assert_eq!(browser.visible_text().await, "served");
    drop(browser);
    let browser = Browser::start().await;
    browser.open(page).await;
    assert_eq!(browser.visible_text().await, "changed");
}

#[tokio::test(flavor = "multi_thread")]
async fn keys_reach_the_page_and_the_console_and_overflow_are_seen() {
    let browser = Browser::start().await;
    browser
        .open(
            "data:text/html,<title>t</title><label>First <input name=a></label>\
             <button type=button>Go</button><div>wide</div>\
             <style>div { width: 300px; background: rgb(1, 2, 3) }\
             @media (prefers-color-scheme: dark) { div { width: 500px } }</style>\
             <script>document.querySelector('button').onclick = () => { throw new Error('seen') }</script>",
        )
        .await;
    browser.show_at(Width::Phone).await;
    browser.prefer(Scheme::Light).await;
    assert_eq!(browser.overflow_px().await, 0);
    browser.prefer(Scheme::Dark).await;
    assert!(browser.overflow_px().await > 100);

    browser.tab_to("the field", |f| f.label == "First").await;
    browser.type_text("143 mW").await;
    assert_eq!(browser.focused().await.value, "143 mW");
    assert_eq!(browser.console_errors().await, Vec::<String>::new());
    browser.tab_to("the button", |f| f.text == "Go").await;
    browser.press(&[key::ENTER]).await;
    let errors = browser.console_errors().await;
    assert!(errors.iter().any(|e| e.contains("seen")), "{errors:?}");
}
