//! Every setting, in one place, checked at start.
//!
//! A setting comes from a flag, else from the environment (`BRICKBOOK_…`), else from the
//! configuration file (TOML; `--config`, or `brickbook.toml` in the working directory if there is
//! one), else it has a default. All faults of all settings are told at once.

use crate::evaluate::Method;
use crate::standards::WattageClass;
use crate::standards::procedure::classes_from_toml;
use crate::text::Language;
use std::collections::BTreeMap;
use std::fmt;
use std::net::{IpAddr, SocketAddr};
use std::ops::RangeInclusive;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Name of the configuration file that is read if it is in the working directory.
pub const DEFAULT_FILE: &str = "brickbook.toml";

/// Name of the database file inside the data directory.
pub const DATABASE_FILE: &str = "brickbook.db";

/// All settings, valid.
#[derive(Debug, Clone, PartialEq)]
pub struct Config {
    /// Folder of the database; made when something is first stored.
    pub data_dir: PathBuf,
    pub listen: SocketAddr,
    /// Scheme and host under which visitors reach the site, without a slash at the end; for
    /// absolute links.
    pub public_url: Option<String>,
    pub site_name: String,
    /// Languages of public pages; English is always among them.
    pub languages: Vec<Language>,
    /// Line supply whose runs are scored.
    pub score_line: ScoreLine,
    /// Wattage classes in place of the shipped ones.
    pub classes: Option<Vec<WattageClass>>,
    pub cookie_secure: CookieSecure,
    /// Proxies in front whose `X-Forwarded-For` states the visitor's address; from anybody else the
    /// header is ignored.
    pub trusted_proxies: Vec<IpAddr>,
    /// How long a shared cache in front may answer with a public page without asking; so long may
    /// a correction stay unseen there.
    pub shared_cache_s: u32,
    /// Price of electrical energy that pages start from; without it they say kilowatt-hours alone.
    pub tariff: Option<Tariff>,
    /// Under which terms others may use downloaded data; stands in every download.
    pub licence: Option<String>,
    /// The largest raw log that is taken in, megabytes (10^6 bytes).
    pub log_limit_mb: u32,
    /// Where the server puts backups that it makes by itself; without it, it makes none.
    pub backup_dir: Option<PathBuf>,
    /// Hours from one such backup to the next.
    pub backup_every_h: u32,
    /// Of so many days the last backup stays.
    pub backup_keep_days: u32,
    /// Of so many weeks the last backup stays.
    pub backup_keep_weeks: u32,
    /// Who tests, for reports.
    pub tester: Tester,
    /// How often what may be asked from one address.
    pub limits: Limits,
    /// Connections that are served at once; more wait.
    pub max_connections: u32,
    /// Lines of the audit log are kept so many days.
    pub audit_keep_days: u32,
    /// A second address, for Prometheus alone.
    pub metrics_listen: Option<SocketAddr>,
    /// With less room on the disk of the data the program calls itself not ready, megabytes
    /// (10^6 bytes).
    pub disk_reserve_mb: u32,
    /// Requests under way when told to stop get this long.
    pub stop_within_s: u32,
    /// What is logged, as a filter; else each command's own.
    pub log: Option<String>,
    pub log_format: LogFormat,
}

/// How the log is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LogFormat {
    Text,
    /// One object a line.
    Json,
}

/// Price of electrical energy.
#[derive(Debug, Clone, PartialEq)]
pub struct Tariff {
    /// For one kilowatt-hour, above 0, at most 1000000.
    pub per_kwh: f64,
    /// Three capital letters (ISO 4217).
    pub currency: String,
}

impl Tariff {
    /// A price above 0 in a currency of three letters.
    pub fn new(per_kwh: f64, currency: &str) -> Option<Tariff> {
        let currency = currency.trim().to_ascii_uppercase();
        let is_code = currency.len() == 3 && currency.bytes().all(|b| b.is_ascii_uppercase());
        (is_code && per_kwh > 0.0 && per_kwh <= 1e6).then_some(Tariff { per_kwh, currency })
    }

    /// `0.30 EUR` or `0,30 EUR`.
    fn from_text(text: &str) -> Option<Tariff> {
        let (amount, currency) = text.trim().split_once(char::is_whitespace)?;
        Tariff::new(amount.replace(',', ".").parse().ok()?, currency)
    }
}

/// Who answers for the measurements, as a printed report names them. What is absent is stated
/// there as an omission.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Tester {
    /// Of the laboratory or the person.
    pub name: Option<String>,
    pub address: Option<String>,
    /// Where the tests are made, if not at the address.
    pub test_place: Option<String>,
    /// How to reach the tester: mail address, telephone or page.
    pub contact: Option<String>,
    /// The person who authorises reports.
    pub authorised_by: Option<String>,
}

/// How often something may be done from one address: so many at once, and then so many in a period.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rate {
    /// At least 1.
    pub at_once: u32,
    /// At least 1.
    pub number: u32,
    pub period: Duration,
}

impl Rate {
    /// The time after which one more may be done.
    pub fn one_every(self) -> Duration {
        (self.period / self.number.max(1)).max(Duration::from_nanos(1))
    }

    /// `30 at once, 12 a minute`; `none` for no limit.
    fn from_text(text: &str) -> Option<Option<Rate>> {
        if text == "none" {
            return Some(None);
        }
        let (at_once, then) = text.split_once(',')?;
        let at_once = at_once.trim().strip_suffix("at once")?;
        let (count, period) = then.trim().split_once(' ')?;
        let period = match period
            .trim()
            .trim_start_matches("an ")
            .trim_start_matches("a ")
        {
            "second" => 1,
            "minute" => 60,
            "hour" => 3600,
            _ => return None,
        };
        let number = |text: &str| {
            text.trim()
                .parse()
                .ok()
                .filter(|n| (1..=1_000_000).contains(n))
        };
        Some(Some(Rate {
            at_once: number(at_once)?,
            number: number(count)?,
            period: Duration::from_secs(period),
        }))
    }
}

/// How often what may be done from one address (of IPv6: one /64 network). `None`: no limit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Limits {
    /// Attempts to sign in, whatever the account.
    pub sign_in: Option<Rate>,
    /// Suggestions of readers.
    pub suggestions: Option<Rate>,
    /// Pages, searches and answers of the API that no cache holds.
    pub reads: Option<Rate>,
}

impl Default for Limits {
    fn default() -> Limits {
        let rate = |at_once, number, seconds| {
            Some(Rate {
                at_once,
                number,
                period: Duration::from_secs(seconds),
            })
        };
        Limits {
            sign_in: rate(30, 12, 60),
            suggestions: rate(6, 30, 3600),
            reads: rate(400, 20, 1),
        }
    }
}

/// Nominal line supply.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScoreLine {
    /// 80..=300.
    pub volts: f64,
    /// 45..=66.
    pub hertz: f64,
}

/// When do cookies travel over HTTPS only?
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CookieSecure {
    /// If `public_url` begins with `https`.
    Auto,
    Always,
    Never,
}

impl Default for Config {
    fn default() -> Self {
        Config {
            data_dir: PathBuf::from("./brickbook-data"),
            listen: SocketAddr::from(([127, 0, 0, 1], 8080)),
            public_url: None,
            site_name: "Brickbook".to_string(),
            languages: Language::ALL.to_vec(),
            score_line: ScoreLine {
                volts: 115.0,
                hertz: 60.0,
            },
            classes: None,
            cookie_secure: CookieSecure::Auto,
            trusted_proxies: Vec::new(),
            shared_cache_s: 60,
            tariff: None,
            licence: None,
            log_limit_mb: 2_000,
            backup_dir: None,
            backup_every_h: 24,
            backup_keep_days: 7,
            backup_keep_weeks: 8,
            tester: Tester::default(),
            limits: Limits::default(),
            max_connections: 800,
            audit_keep_days: 1_095,
            metrics_listen: None,
            disk_reserve_mb: 200,
            stop_within_s: 20,
            log: None,
            log_format: LogFormat::Text,
        }
    }
}

impl Config {
    /// The database file inside the data directory.
    pub fn database_path(&self) -> PathBuf {
        self.data_dir.join(DATABASE_FILE)
    }

    /// Should cookies be marked for HTTPS only?
    pub fn secure_cookies(&self) -> bool {
        match self.cookie_secure {
            CookieSecure::Always => true,
            CookieSecure::Never => false,
            CookieSecure::Auto => self
                .public_url
                .as_deref()
                .is_some_and(|url| url.starts_with("https://")),
        }
    }

    /// The method of evaluation with these settings.
    pub fn method(&self) -> Method {
        let mut method = Method::standard();
        method.formula.line.voltage_v = self.score_line.volts;
        method.formula.line.frequency_hz = self.score_line.hertz;
        if let Some(classes) = &self.classes {
            method.classes = classes.clone();
        }
        method
    }

    /// Settings from flags and environment (`given`), the file and the defaults.
    ///
    /// # Errors
    /// All faults: a file that cannot be read, unknown keys, values that make no sense.
    pub fn load(given: &Given) -> Result<Config, Faults> {
        let reading = Config::read(given);
        if reading.faults.is_empty() {
            Ok(reading.config)
        } else {
            Err(Faults(reading.faults))
        }
    }

    /// As [`Config::load`], with what was said where, and going on where something is wrong.
    pub fn read(given: &Given) -> Reading {
        let mut faults = Vec::new();
        let file = match read_file(given.config.as_deref()) {
            Ok(Some((table, path))) => FileSettings::new(table, path, &mut faults),
            Ok(None) => FileSettings::default(),
            Err(fault) => {
                faults.push(fault);
                FileSettings::default()
            }
        };
        // Paths in a file are meant from where the file stands.
        let folder = file.path.parent().unwrap_or(Path::new(""));

        let mut config = Config::default();
        let mut stated = Vec::with_capacity(SETTINGS.len());
        for setting in SETTINGS {
            let flag = given.texts.get(setting.key);
            let flag = flag
                .map(|(origin, text)| (origin, text.trim()))
                .filter(|(_, text)| !text.is_empty());
            let (text, origin, told, base) = match (flag, file.text(setting.key)) {
                (Some((origin, text)), _) => (
                    text,
                    origin.clone(),
                    setting.flag_and_variable(),
                    Path::new(""),
                ),
                (None, Some(text)) => (
                    text,
                    Origin::File(file.path.clone()),
                    format!("{} in {}", setting.key, file.path.display()),
                    folder,
                ),
                (None, None) => {
                    stated.push(Stated {
                        setting,
                        text: setting.default.map(str::to_owned),
                        origin: Origin::Default,
                    });
                    continue;
                }
            };
            if let Err(expected) = setting.put(&mut config, text, base) {
                faults.push(format!("{told}: {text:?}; expected {expected}"));
            }
            stated.push(Stated {
                setting,
                text: Some(text.to_owned()),
                origin,
            });
        }
        Reading {
            config,
            stated,
            faults,
        }
    }
}

/// What the flags and the environment say. Values are checked by [`Config::load`], so that all
/// faults are told together.
#[derive(Debug, Clone, Default)]
pub struct Given {
    /// Configuration file that was named.
    pub config: Option<PathBuf>,
    /// By key of the setting: where its text stood, and the text.
    texts: BTreeMap<&'static str, (Origin, String)>,
}

impl Given {
    /// As if the setting's flag carried this text.
    ///
    /// # Panics
    /// There is no such setting.
    #[must_use]
    pub fn with(mut self, key: &str, text: &str) -> Given {
        let setting = Setting::named(key).expect("the key of a setting");
        self.texts
            .insert(setting.key, (Origin::Flag, text.to_owned()));
        self
    }
}

/// Flags and environment variables are made from the table of settings.
impl clap::Args for Given {
    fn augment_args(command: clap::Command) -> clap::Command {
        let file = clap::Arg::new("config")
            .long("config")
            .global(true)
            .value_name("FILE")
            .env("BRICKBOOK_CONFIG")
            .value_parser(clap::value_parser!(PathBuf))
            .help("Configuration file (TOML) [default: brickbook.toml if there is one here]")
            .help_heading(HELP_HEADING);
        let flags = SETTINGS.iter().map(|setting| {
            let default = setting
                .default
                .map_or(String::new(), |text| format!(" [default: {text}]"));
            clap::Arg::new(setting.key)
                .long(setting.flag())
                .global(true)
                .value_name(setting.value_name)
                .env(setting.variable())
                .help(format!("{}{default}", setting.meaning))
                .help_heading(HELP_HEADING)
        });
        command.arg(file).args(flags)
    }

    fn augment_args_for_update(command: clap::Command) -> clap::Command {
        Self::augment_args(command)
    }
}

impl clap::FromArgMatches for Given {
    fn from_arg_matches(matches: &clap::ArgMatches) -> Result<Given, clap::Error> {
        let mut given = Given::default();
        given.update_from_arg_matches(matches)?;
        Ok(given)
    }

    fn update_from_arg_matches(&mut self, matches: &clap::ArgMatches) -> Result<(), clap::Error> {
        use clap::parser::ValueSource;
        if let Some(file) = matches.get_one::<PathBuf>("config") {
            self.config = Some(file.clone());
        }
        for setting in SETTINGS {
            let Some(text) = matches.get_one::<String>(setting.key) else {
                continue;
            };
            let origin = match matches.value_source(setting.key) {
                Some(ValueSource::EnvVariable) => Origin::Environment,
                _ => Origin::Flag,
            };
            self.texts.insert(setting.key, (origin, text.clone()));
        }
        Ok(())
    }
}

/// Where the text of a setting stood.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Origin {
    Flag,
    Environment,
    /// The configuration file at this path.
    File(PathBuf),
    /// Nobody said anything: the default of the program.
    Default,
}

/// A setting as this call of the program finds it.
#[derive(Debug, Clone)]
pub struct Stated {
    pub setting: &'static Setting,
    /// As it was written; none where the setting is unset.
    pub text: Option<String>,
    pub origin: Origin,
}

impl Stated {
    /// Where the text comes from, in words.
    pub fn origin(&self) -> String {
        match &self.origin {
            Origin::Flag => format!("--{}", self.setting.flag()),
            Origin::Environment => self.setting.variable(),
            Origin::File(path) => path.display().to_string(),
            Origin::Default => "default".to_owned(),
        }
    }
}

/// Everything that was said about settings.
#[derive(Debug, Clone)]
pub struct Reading {
    /// Valid; a setting whose text is at fault has its default here.
    pub config: Config,
    /// All settings, in the order of [`SETTINGS`].
    pub stated: Vec<Stated>,
    /// What is wrong, one sentence each.
    pub faults: Vec<String>,
}

/// Everything that is wrong with the settings, one sentence each.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Faults(pub Vec<String>);

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0.join("\n"))
    }
}

impl std::error::Error for Faults {}

/// One setting as data: its flag, its environment variable, the help, the reference in the README
/// and the checks all come from here.
#[derive(Debug)]
pub struct Setting {
    /// In the configuration file; the names of flag and environment variable follow from it.
    pub key: &'static str,
    /// Stands for the value in the help.
    pub value_name: &'static str,
    /// What it is for, in one line.
    pub meaning: &'static str,
    /// What it is if nobody says anything; none where it is then unset.
    pub default: Option<&'static str>,
    takes: Takes,
}

/// Which texts a setting takes, and where the value goes.
#[derive(Debug)]
enum Takes {
    /// A whole number of these units.
    Whole {
        unit: &'static str,
        bounds: RangeInclusive<u32>,
        put: fn(&mut Config, u32),
    },
    /// One line of text.
    Line {
        longest: usize,
        put: fn(&mut Config, String),
    },
    /// One of these words.
    Word {
        words: &'static [&'static str],
        put: fn(&mut Config, &str),
    },
    /// Anything else; relative paths are meant from the folder that is handed in. Refused texts get
    /// what was expected, and in brackets the detail, if there is one.
    Other {
        expected: &'static str,
        put: fn(&mut Config, &str, &Path) -> Result<(), Option<String>>,
    },
}

impl Setting {
    /// The setting of that key.
    pub fn named(key: &str) -> Option<&'static Setting> {
        SETTINGS.iter().find(|setting| setting.key == key)
    }

    /// Without the dashes before it.
    pub fn flag(&self) -> String {
        self.key.replace('_', "-")
    }

    /// The environment variable.
    pub fn variable(&self) -> String {
        format!("BRICKBOOK_{}", self.key.to_uppercase())
    }

    fn flag_and_variable(&self) -> String {
        format!("--{} (or {})", self.flag(), self.variable())
    }

    /// Which texts it takes, in words.
    pub fn expected(&self) -> String {
        match &self.takes {
            Takes::Whole { unit, bounds, .. } => {
                format!("whole {unit} from {} to {}", bounds.start(), bounds.end())
            }
            Takes::Line { longest, .. } => format!("at most {longest} characters on one line"),
            Takes::Word { words, .. } => match words {
                [before @ .., last] if !before.is_empty() => {
                    format!("{} or {last}", before.join(", "))
                }
                words => words.join(""),
            },
            Takes::Other { expected, .. } => (*expected).to_owned(),
        }
    }

    /// Puts the value of `text` in its place, or answers what was expected.
    fn put(&self, config: &mut Config, text: &str, base: &Path) -> Result<(), String> {
        match &self.takes {
            Takes::Whole { bounds, put, .. } => {
                let number = text.parse().ok().filter(|number| bounds.contains(number));
                put(config, number.ok_or_else(|| self.expected())?);
            }
            Takes::Line { longest, put } => {
                if text.chars().count() > *longest || text.chars().any(char::is_control) {
                    return Err(self.expected());
                }
                put(config, text.to_owned());
            }
            Takes::Word { words, put } => {
                if !words.contains(&text) {
                    return Err(self.expected());
                }
                put(config, text);
            }
            Takes::Other { put, .. } => {
                put(config, text, base).map_err(|detail| match detail {
                    Some(detail) => format!("{} ({detail})", self.expected()),
                    None => self.expected(),
                })?;
            }
        }
        Ok(())
    }
}

/// All settings as a table in Markdown, as it stands in the README.
pub fn reference() -> String {
    let mut table = "| setting | default | takes | what it is |\n|---|---|---|---|\n".to_owned();
    for setting in SETTINGS {
        let default = setting
            .default
            .map_or("–".to_owned(), |text| format!("`{text}`"));
        table += &format!(
            "| `{}` | {default} | {} | {} |\n",
            setting.key,
            setting.expected(),
            setting.meaning
        );
    }
    table
}

/// The answer to a refused text about which there is nothing to add to what was expected.
const AS_EXPECTED: Option<String> = None;

/// Heading above the flags of settings in the help.
const HELP_HEADING: &str = "Settings (also in the configuration file)";

const A_RATE: &str = "a rate such as 30 at once, 12 a minute (or a second, an hour), or none";

/// Every setting there is.
pub const SETTINGS: &[Setting] = &[
    Setting {
        key: "data_dir",
        value_name: "DIR",
        meaning: "Folder that holds the database and, beside it, raw logs",
        default: Some("./brickbook-data"),
        takes: Takes::Other {
            expected: "a folder",
            put: |config, text, base| {
                config.data_dir = base.join(text);
                Ok(())
            },
        },
    },
    Setting {
        key: "listen",
        value_name: "ADDRESS:PORT",
        meaning: "Address and port to serve on",
        default: Some("127.0.0.1:8080"),
        takes: Takes::Other {
            expected: "an IP address and a port, such as 127.0.0.1:8080",
            put: |config, text, _| {
                config.listen = text.parse().map_err(|_| AS_EXPECTED)?;
                Ok(())
            },
        },
    },
    Setting {
        key: "public_url",
        value_name: "URL",
        meaning: "How visitors reach the site; for absolute links, and cookies over HTTPS only",
        default: None,
        takes: Takes::Other {
            expected: "http:// or https:// and a host, without a path, such as https://bricks.example",
            put: |config, text, _| {
                config.public_url = Some(site_address(text).ok_or(AS_EXPECTED)?);
                Ok(())
            },
        },
    },
    Setting {
        key: "site_name",
        value_name: "NAME",
        meaning: "Name of the site, on every page",
        default: Some("Brickbook"),
        takes: Takes::Line {
            longest: 80,
            put: |config, text| config.site_name = text,
        },
    },
    Setting {
        key: "languages",
        value_name: "LANGUAGE,…",
        meaning: "Languages of public pages",
        default: Some("en,de"),
        takes: Takes::Other {
            expected: "languages of en, de, separated by commas, with en among them",
            put: |config, text, _| {
                let asked: Option<Vec<Language>> = text
                    .split(',')
                    .map(|id| Language::from_id(id.trim()))
                    .collect();
                let asked = asked.filter(|asked| asked.contains(&Language::English));
                let asked = asked.ok_or(AS_EXPECTED)?;
                config.languages = Language::ALL
                    .into_iter()
                    .filter(|one| asked.contains(one))
                    .collect();
                Ok(())
            },
        },
    },
    Setting {
        key: "trusted_proxies",
        value_name: "ADDRESS,…",
        meaning: "Reverse proxies whose X-Forwarded-For and X-Request-Id are believed",
        default: None,
        takes: Takes::Other {
            expected: "IP addresses separated by commas, such as 127.0.0.1",
            put: |config, text, _| {
                config.trusted_proxies = text
                    .split(',')
                    .map(|address| address.trim().parse())
                    .collect::<Result<_, _>>()
                    .map_err(|_| AS_EXPECTED)?;
                Ok(())
            },
        },
    },
    Setting {
        key: "cookie_secure",
        value_name: "WHEN",
        meaning: "Send cookies over HTTPS only; auto: if the public URL begins with https",
        default: Some("auto"),
        takes: Takes::Word {
            words: &["auto", "always", "never"],
            put: |config, word| {
                config.cookie_secure = match word {
                    "always" => CookieSecure::Always,
                    "never" => CookieSecure::Never,
                    _ => CookieSecure::Auto,
                };
            },
        },
    },
    Setting {
        key: "shared_cache_s",
        value_name: "SECONDS",
        meaning: "How long a shared cache in front may serve public pages without asking",
        default: Some("60"),
        takes: Takes::Whole {
            unit: "seconds",
            bounds: 0..=3600,
            put: |config, seconds| config.shared_cache_s = seconds,
        },
    },
    Setting {
        key: "metrics_listen",
        value_name: "ADDRESS:PORT",
        meaning: "A second address and port that serves /metrics for Prometheus, and nothing else",
        default: None,
        takes: Takes::Other {
            expected: "an IP address and a port, such as 127.0.0.1:9180",
            put: |config, text, _| {
                config.metrics_listen = Some(text.parse().map_err(|_| AS_EXPECTED)?);
                Ok(())
            },
        },
    },
    Setting {
        key: "disk_reserve_mb",
        value_name: "MEGABYTES",
        meaning: "With less room than this on the disk of the data, /health/ready answers 503",
        default: Some("200"),
        takes: Takes::Whole {
            unit: "megabytes",
            bounds: 0..=1_000_000,
            put: |config, megabytes| config.disk_reserve_mb = megabytes,
        },
    },
    Setting {
        key: "stop_within_s",
        value_name: "SECONDS",
        meaning: "Requests under way get this long to finish when the program is told to stop",
        default: Some("20"),
        takes: Takes::Whole {
            unit: "seconds",
            bounds: 0..=3600,
            put: |config, seconds| config.stop_within_s = seconds,
        },
    },
    Setting {
        key: "max_connections",
        value_name: "NUMBER",
        meaning: "Connections served at once; more wait",
        default: Some("800"),
        takes: Takes::Whole {
            unit: "connections",
            bounds: 8..=100_000,
            put: |config, number| config.max_connections = number,
        },
    },
    Setting {
        key: "limit_sign_in",
        value_name: "RATE",
        meaning: "Attempts to sign in from one address",
        default: Some("30 at once, 12 a minute"),
        takes: Takes::Other {
            expected: A_RATE,
            put: |config, text, _| {
                config.limits.sign_in = Rate::from_text(text).ok_or(AS_EXPECTED)?;
                Ok(())
            },
        },
    },
    Setting {
        key: "limit_suggestions",
        value_name: "RATE",
        meaning: "Suggestions of readers from one address",
        default: Some("6 at once, 30 an hour"),
        takes: Takes::Other {
            expected: A_RATE,
            put: |config, text, _| {
                config.limits.suggestions = Rate::from_text(text).ok_or(AS_EXPECTED)?;
                Ok(())
            },
        },
    },
    Setting {
        key: "limit_reads",
        value_name: "RATE",
        meaning: "Pages, searches and API answers that no cache holds, from one address",
        default: Some("400 at once, 20 a second"),
        takes: Takes::Other {
            expected: A_RATE,
            put: |config, text, _| {
                config.limits.reads = Rate::from_text(text).ok_or(AS_EXPECTED)?;
                Ok(())
            },
        },
    },
    Setting {
        key: "audit_keep_days",
        value_name: "DAYS",
        meaning: "How long the audit log is kept; the database refuses to forget younger lines than 90 days",
        default: Some("1095"),
        takes: Takes::Whole {
            unit: "days",
            bounds: 90..=36_500,
            put: |config, days| config.audit_keep_days = days,
        },
    },
    Setting {
        key: "log_limit_mb",
        value_name: "MEGABYTES",
        meaning: "The largest raw log that is taken in",
        default: Some("2000"),
        takes: Takes::Whole {
            unit: "megabytes",
            bounds: 1..=1_000_000,
            put: |config, megabytes| config.log_limit_mb = megabytes,
        },
    },
    Setting {
        key: "backup_dir",
        value_name: "DIR",
        meaning: "Where the server puts backups that it makes by itself, verified; without it, it makes none",
        default: None,
        takes: Takes::Other {
            expected: "a folder",
            put: |config, text, base| {
                config.backup_dir = Some(base.join(text));
                Ok(())
            },
        },
    },
    Setting {
        key: "backup_every_h",
        value_name: "HOURS",
        meaning: "From one such backup to the next",
        default: Some("24"),
        takes: Takes::Whole {
            unit: "hours",
            bounds: 1..=672,
            put: |config, hours| config.backup_every_h = hours,
        },
    },
    Setting {
        key: "backup_keep_days",
        value_name: "DAYS",
        meaning: "Of so many days the last backup stays",
        default: Some("7"),
        takes: Takes::Whole {
            unit: "days",
            bounds: 0..=1000,
            put: |config, days| config.backup_keep_days = days,
        },
    },
    Setting {
        key: "backup_keep_weeks",
        value_name: "WEEKS",
        meaning: "Of so many weeks the last backup stays",
        default: Some("8"),
        takes: Takes::Whole {
            unit: "weeks",
            bounds: 0..=1000,
            put: |config, weeks| config.backup_keep_weeks = weeks,
        },
    },
    Setting {
        key: "score_line",
        value_name: "VOLTS/HERTZ",
        meaning: "The supply whose runs are scored; call `brickbook rescore` after a change",
        default: Some("115/60"),
        takes: Takes::Other {
            expected: "volts (80 to 300) and hertz (45 to 66) of the line supply, such as 115/60",
            put: |config, text, _| {
                config.score_line = score_line(text).ok_or(AS_EXPECTED)?;
                Ok(())
            },
        },
    },
    Setting {
        key: "classes",
        value_name: "FILE",
        meaning: "Wattage classes in place of the shipped ones",
        default: None,
        takes: Takes::Other {
            expected: "a readable TOML file with a table of wattage classes",
            put: |config, text, base| {
                let path = base.join(text);
                let table = std::fs::read_to_string(&path)
                    .map_err(|cause| format!("{}: {cause}", path.display()))?;
                let classes = classes_from_toml(&table);
                config.classes = Some(classes.map_err(|cause| cause.trim_end().to_owned())?);
                Ok(())
            },
        },
    },
    Setting {
        key: "tariff",
        value_name: "PRICE",
        meaning: "Price of a kilowatt-hour that cost pages start from",
        default: None,
        takes: Takes::Other {
            expected: "a price above 0 and a currency's three letters, such as 0.30 EUR",
            put: |config, text, _| {
                config.tariff = Some(Tariff::from_text(text).ok_or(AS_EXPECTED)?);
                Ok(())
            },
        },
    },
    Setting {
        key: "licence",
        value_name: "TEXT",
        meaning: "Terms of use that stand in every download and embedded chart",
        default: None,
        takes: Takes::Line {
            longest: 300,
            put: |config, text| config.licence = Some(text),
        },
    },
    Setting {
        key: "tester_name",
        value_name: "NAME",
        meaning: "Laboratory or person that tests, for printed reports",
        default: None,
        takes: Takes::Line {
            longest: 200,
            put: |config, text| config.tester.name = Some(text),
        },
    },
    Setting {
        key: "tester_address",
        value_name: "ADDRESS",
        meaning: "Address of the tester, for printed reports",
        default: None,
        takes: Takes::Line {
            longest: 200,
            put: |config, text| config.tester.address = Some(text),
        },
    },
    Setting {
        key: "test_place",
        value_name: "PLACE",
        meaning: "Where the tests are made, if not at that address, for printed reports",
        default: None,
        takes: Takes::Line {
            longest: 200,
            put: |config, text| config.tester.test_place = Some(text),
        },
    },
    Setting {
        key: "tester_contact",
        value_name: "CONTACT",
        meaning: "Mail address, telephone or page of the tester, for printed reports",
        default: None,
        takes: Takes::Line {
            longest: 200,
            put: |config, text| config.tester.contact = Some(text),
        },
    },
    Setting {
        key: "authorised_by",
        value_name: "PERSON",
        meaning: "Person who authorises printed reports",
        default: None,
        takes: Takes::Line {
            longest: 200,
            put: |config, text| config.tester.authorised_by = Some(text),
        },
    },
    Setting {
        key: "log",
        value_name: "FILTER",
        meaning: "What to log on standard error; unset: info while serving, else warn",
        default: None,
        takes: Takes::Other {
            expected: "a level (error, warn, info, debug, trace) or a filter such as info,brickbook::web=debug",
            put: |config, text, _| {
                tracing_subscriber::EnvFilter::try_new(text).map_err(|cause| cause.to_string())?;
                config.log = Some(text.to_owned());
                Ok(())
            },
        },
    },
    Setting {
        key: "log_format",
        value_name: "FORMAT",
        meaning: "How to write the log",
        default: Some("text"),
        takes: Takes::Word {
            words: &["text", "json"],
            put: |config, word| {
                config.log_format = match word {
                    "json" => LogFormat::Json,
                    _ => LogFormat::Text,
                };
            },
        },
    },
];

/// `115/60` or `115 V / 60 Hz` as numbers within the bounds of a record's line.
fn score_line(text: &str) -> Option<ScoreLine> {
    let (volts, hertz) = text.split_once('/')?;
    let number = |text: &str, unit: &str| {
        text.trim()
            .trim_end_matches(unit)
            .trim_end()
            .parse::<f64>()
            .ok()
    };
    let line = ScoreLine {
        volts: number(volts, "V")?,
        hertz: number(hertz, "Hz")?,
    };
    ((80.0..=300.0).contains(&line.volts) && (45.0..=66.0).contains(&line.hertz)).then_some(line)
}

/// Scheme, host and port without a slash at the end; nothing that carries more.
fn site_address(text: &str) -> Option<String> {
    let address = text.strip_suffix('/').unwrap_or(text);
    let host = address
        .strip_prefix("https://")
        .or_else(|| address.strip_prefix("http://"))?;
    let is_host = !host.is_empty()
        && host
            .chars()
            .all(|c| c.is_ascii_alphanumeric() || "-._:[]".contains(c));
    is_host.then(|| address.to_string())
}

/// The configuration file as a table; `None` if none was named and none is there.
fn read_file(named: Option<&Path>) -> Result<Option<(toml::Table, PathBuf)>, String> {
    let path = named.unwrap_or(Path::new(DEFAULT_FILE));
    let text = match std::fs::read_to_string(path) {
        Ok(text) => text,
        Err(cause) if named.is_none() && cause.kind() == std::io::ErrorKind::NotFound => {
            return Ok(None);
        }
        Err(cause) => return Err(format!("configuration file {}: {cause}", path.display())),
    };
    match text.parse::<toml::Table>() {
        Ok(table) => Ok(Some((table, path.to_path_buf()))),
        Err(cause) => Err(format!(
            "configuration file {}: {}",
            path.display(),
            cause.to_string().trim_end()
        )),
    }
}

/// The settings of a file, each as the text that a flag would carry.
#[derive(Default)]
struct FileSettings {
    path: PathBuf,
    texts: Vec<(String, String)>,
}

impl FileSettings {
    fn new(table: toml::Table, path: PathBuf, faults: &mut Vec<String>) -> FileSettings {
        let mut texts = Vec::new();
        for (key, value) in table {
            if Setting::named(&key).is_none() {
                let known: Vec<_> = SETTINGS.iter().map(|setting| setting.key).collect();
                faults.push(format!(
                    "unknown setting {key} in {}; the settings are {}",
                    path.display(),
                    known.join(", ")
                ));
                continue;
            }
            match value {
                toml::Value::String(text) => texts.push((key, text)),
                toml::Value::Integer(number) => texts.push((key, number.to_string())),
                // A list is written as a flag would write it.
                toml::Value::Array(items) if items.iter().all(toml::Value::is_str) => {
                    let items: Vec<_> = items.iter().filter_map(toml::Value::as_str).collect();
                    texts.push((key, items.join(",")));
                }
                other => faults.push(format!(
                    "{key} in {}: {other}; expected text in quotes or a whole number",
                    path.display()
                )),
            }
        }
        FileSettings { path, texts }
    }

    fn text(&self, key: &str) -> Option<&str> {
        self.texts
            .iter()
            .find(|(known, _)| known == key)
            .map(|(_, text)| text.as_str())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(text: &str) -> (tempfile::TempDir, Given) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("settings.toml");
        std::fs::write(&path, text).unwrap();
        (
            folder,
            Given {
                config: Some(path),
                ..Given::default()
            },
        )
    }

    #[test]
    fn a_flag_wins_over_the_file_and_the_file_over_the_default() {
        let (_folder, given) = file(
            "site_name = \"From file\"\nlisten = \"0.0.0.0:9000\"\ntrusted_proxies = [\"127.0.0.1\", \"::1\"]\n",
        );
        let config = Config::load(&given.with("site_name", "From flag")).unwrap();
        assert_eq!(config.site_name, "From flag");
        assert_eq!(config.listen, "0.0.0.0:9000".parse().unwrap());
        let proxies: Vec<_> = config
            .trusted_proxies
            .iter()
            .map(IpAddr::to_string)
            .collect();
        assert_eq!(proxies, ["127.0.0.1", "::1"]);
        assert_eq!(
            config.score_line,
            ScoreLine {
                volts: 115.0,
                hertz: 60.0
            }
        );
    }

    #[test]
    fn english_is_always_among_the_languages() {
        let languages = |text: &str| {
            let (_folder, given) = file(text);
            Config::load(&given).map(|c| c.languages)
        };
        assert_eq!(languages("").unwrap(), Language::ALL);
        let english = vec![Language::English];
        assert_eq!(languages("languages = [\"en\"]").unwrap(), english);
        assert_eq!(
            languages("languages = \"de, en,de\"").unwrap(),
            Language::ALL
        );
        for wrong in ["[\"de\"]", "[\"en\", \"xx\"]", "\"English\""] {
            let Faults(faults) = languages(&format!("languages = {wrong}")).unwrap_err();
            assert!(
                faults[0].contains("expected languages of en, de"),
                "{faults:?}"
            );
        }
    }

    #[test]
    fn the_limit_for_raw_logs_is_a_whole_number_of_megabytes() {
        let limit = |text: &str| {
            let (_folder, given) = file(text);
            Config::load(&given).map(|c| c.log_limit_mb)
        };
        assert_eq!(limit("").unwrap(), 2_000);
        assert_eq!(limit("log_limit_mb = 8000").unwrap(), 8_000);
        for wrong in ["0", "1000001", "\"2 GB\""] {
            let Faults(faults) = limit(&format!("log_limit_mb = {wrong}")).unwrap_err();
            assert!(
                faults[0].contains("expected whole megabytes from 1 to 1000000"),
                "{faults:?}"
            );
        }
    }

    #[test]
    fn backups_have_a_folder_a_time_and_numbers_that_stay() {
        let (folder, given) =
            file("backup_dir = \"kept\"\nbackup_every_h = 6\nbackup_keep_days = 14\n");
        let config = Config::load(&given).unwrap();
        assert_eq!(config.backup_dir, Some(folder.path().join("kept")));
        assert_eq!(
            (
                config.backup_every_h,
                config.backup_keep_days,
                config.backup_keep_weeks
            ),
            (6, 14, 8)
        );
        let (_folder, given) =
            file("backup_every_h = 0\nbackup_keep_days = -1\nbackup_keep_weeks = 1001\n");
        let Faults(faults) = Config::load(&given).unwrap_err();
        assert_eq!(faults.len(), 3, "{faults:?}");
        assert!(faults[0].contains("expected whole hours from 1 to 672"));
        assert!(faults[1].contains("expected whole days from 0 to 1000"));
    }

    #[test]
    fn all_faults_are_told_at_once_with_setting_value_and_expectation() {
        let (_folder, given) = file(
            "lissten = \"x\"\nsite_name = 5.5\nscore_line = \"12/60\"\npublic_url = \"bricks.example/a\"\n",
        );
        let given = given.with("cookie_secure", "maybe");
        let Faults(faults) = Config::load(&given).unwrap_err();
        assert_eq!(faults.len(), 5, "{faults:#?}");
        let all = faults.join("\n");
        for part in [
            "unknown setting lissten",
            "site_name",
            "\"12/60\"",
            "bricks.example/a",
            "--cookie-secure (or BRICKBOOK_COOKIE_SECURE): \"maybe\"; expected auto, always or never",
        ] {
            assert!(all.contains(part), "{part}: {all}");
        }
    }

    #[test]
    fn paths_of_a_file_start_where_the_file_stands() {
        let (folder, given) = file("data_dir = \"data\"\nclasses = \"classes.toml\"\n");
        std::fs::write(
            folder.path().join("classes.toml"),
            "[[classes]]\nid = \"all\"\nlabel = \"all\"\nover_w = 0\n",
        )
        .unwrap();
        let config = Config::load(&given).unwrap();
        assert_eq!(config.data_dir, folder.path().join("data"));
        assert_eq!(config.method().classes.len(), 1);
    }

    #[test]
    fn the_score_line_changes_the_method_and_its_digest() {
        let (_folder, given) = file("");
        let given = given.with("score_line", "230 V / 50 Hz");
        let method = Config::load(&given).unwrap().method();
        assert_eq!(method.formula.line.voltage_v, 230.0);
        assert_ne!(method.digest(), Config::default().method().digest());
    }

    #[test]
    fn who_tests_is_set_in_one_line_each_and_the_rest_stays_unknown() {
        let (_folder, given) = file("tester_name = \"Fernhill bench\"\n");
        let given = given.with("authorised_by", "A. Fernhill");
        let tester = Config::load(&given).unwrap().tester;
        assert_eq!(tester.name.as_deref(), Some("Fernhill bench"));
        assert_eq!(tester.authorised_by.as_deref(), Some("A. Fernhill"));
        assert_eq!(tester.address, None);
        let given = given.with("tester_address", "Mill Lane 3\nFernhill");
        let Faults(faults) = Config::load(&given).unwrap_err();
        assert!(faults[0].contains("--tester-address"), "{faults:?}");
        assert!(faults[0].contains("on one line"), "{faults:?}");
    }

    #[test]
    fn every_default_of_the_table_is_the_default_of_the_program() {
        for setting in SETTINGS {
            if let Some(text) = setting.default {
                let mut config = Config::default();
                setting.put(&mut config, text, Path::new("")).unwrap();
                assert_eq!(config, Config::default(), "{}", setting.key);
            }
        }
        // Nothing is said anywhere: what is stated is what the table says.
        let (_folder, given) = file("");
        let reading = Config::read(&given);
        assert_eq!(reading.config, Config::default());
        assert_eq!(reading.stated.len(), SETTINGS.len());
        for stated in reading.stated {
            assert_eq!(stated.text.as_deref(), stated.setting.default);
            assert_eq!(stated.origin(), "default");
        }
    }

    #[test]
    fn keys_are_unique_and_whole_numbers_are_held_to_the_bounds_that_they_name() {
        let mut keys: Vec<_> = SETTINGS.iter().map(|setting| setting.key).collect();
        keys.sort_unstable();
        keys.dedup();
        assert_eq!(keys.len(), SETTINGS.len());
        let mut counted = 0;
        for setting in SETTINGS {
            let Takes::Whole { bounds, .. } = &setting.takes else {
                continue;
            };
            counted += 1;
            let put = |text: &str| setting.put(&mut Config::default(), text, Path::new(""));
            put(&bounds.start().to_string()).unwrap();
            put(&bounds.end().to_string()).unwrap();
            let beyond = (u64::from(*bounds.end()) + 1).to_string();
            for wrong in [beyond.as_str(), "-1", "1.5", "1e3", "many", "0x10"] {
                let expected = put(wrong).unwrap_err();
                assert!(expected.contains(&bounds.end().to_string()), "{expected}");
            }
        }
        assert!(counted >= 4, "{counted}");
    }

    #[test]
    fn where_a_setting_comes_from_is_known_also_beside_faults() {
        let (_folder, given) = file("site_name = \"From file\"\nshared_cache_s = 9999\n");
        let path = given.config.clone().unwrap();
        let reading = Config::read(&given.with("licence", "CC0"));
        let of = |key: &str| {
            let stated = reading
                .stated
                .iter()
                .find(|s| s.setting.key == key)
                .unwrap();
            (stated.text.clone().unwrap(), stated.origin())
        };
        assert_eq!(of("site_name").1, path.display().to_string());
        assert_eq!(of("licence"), ("CC0".to_owned(), "--licence".to_owned()));
        assert_eq!(of("shared_cache_s").0, "9999");
        assert_eq!(reading.config.site_name, "From file");
        assert_eq!(reading.config.shared_cache_s, 60);
        assert_eq!(reading.faults.len(), 1, "{:?}", reading.faults);
    }

    #[test]
    fn a_filter_of_the_log_is_checked_when_it_is_read() {
        let (_folder, given) = file("");
        let log = |text: &str| Config::load(&given.clone().with("log", text)).map(|c| c.log);
        assert_eq!(
            log("info,brickbook::web=debug").unwrap().as_deref(),
            Some("info,brickbook::web=debug")
        );
        let Faults(faults) = log("brickbook=loud").unwrap_err();
        assert!(faults[0].contains("expected a level"), "{faults:?}");
    }

    #[test]
    fn a_named_file_that_is_missing_is_a_fault() {
        let given = Given {
            config: Some("/nowhere/b.toml".into()),
            ..Given::default()
        };
        assert!(
            Config::load(&given)
                .unwrap_err()
                .to_string()
                .contains("/nowhere/b.toml")
        );
    }

    #[test]
    fn an_address_of_the_site_is_a_scheme_and_a_host() {
        assert_eq!(
            site_address("https://bricks.example/").as_deref(),
            Some("https://bricks.example")
        );
        assert_eq!(
            site_address("http://[::1]:8080").as_deref(),
            Some("http://[::1]:8080")
        );
        for wrong in [
            "bricks.example",
            "ftp://x.example",
            "https://x.example/a",
            "https://x.example?a",
            "https://",
            "https://x.example//",
        ] {
            assert_eq!(site_address(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn a_tariff_is_a_price_and_a_currency() {
        let tariff = Tariff::from_text("0,30 eur").unwrap();
        assert_eq!((tariff.per_kwh, tariff.currency.as_str()), (0.3, "EUR"));
        for wrong in ["0.30", "0 EUR", "-1 EUR", "NaN EUR", "0.3 EURO", "0.3 €"] {
            assert_eq!(Tariff::from_text(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn a_rate_is_a_burst_and_what_may_follow() {
        let of = |text: &str| Rate::from_text(text).flatten();
        assert_eq!(
            of("30 at once, 12 a minute"),
            Some(Rate {
                at_once: 30,
                number: 12,
                period: Duration::from_secs(60)
            })
        );
        assert_eq!(of("6 at once, 30 an hour"), Limits::default().suggestions);
        assert_eq!(of("400 at once, 20 a second"), Limits::default().reads);
        assert_eq!(
            of("6 at once, 30 an hour").unwrap().one_every().as_secs(),
            120
        );
        assert_eq!(Rate::from_text("none"), Some(None));
        for wrong in [
            "",
            "30",
            "30 at once",
            "0 at once, 1 a second",
            "3 at once, 1 a day",
        ] {
            assert_eq!(Rate::from_text(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn cookies_are_secure_by_themselves_where_the_site_is() {
        let mut config = Config {
            public_url: Some("https://x.example".into()),
            ..Config::default()
        };
        assert!(config.secure_cookies());
        config.cookie_secure = CookieSecure::Never;
        assert!(!config.secure_cookies());
        assert!(!Config::default().secure_cookies());
    }
}
