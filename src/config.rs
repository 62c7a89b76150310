//! Every setting, in one place, checked at start.
//!
//! A setting comes from a flag, else from the environment (`BRICKBOOK_…`), else from the
//! configuration file (TOML; `--config`, or `brickbook.toml` in the working directory if there is
//! one), else it has a default. All faults of all settings are told at once.

use crate::evaluate::Method;
use crate::standards::WattageClass;
use crate::standards::procedure::classes_from_toml;
use std::fmt;
use std::net::{IpAddr, SocketAddr};
use std::path::{Path, PathBuf};

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
    /// Who tests, for reports.
    pub tester: Tester,
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

/// Smallest and largest limit for a raw log: a short one, and a terabyte.
const LOG_LIMITS_MB: std::ops::RangeInclusive<u32> = 1..=1_000_000;

/// Longest time that a shared cache may be allowed: an hour.
const LONGEST_SHARED_CACHE_S: u32 = 3600;

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
            tester: Tester::default(),
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
        let mut faults = Vec::new();
        let (file, folder) = match read_file(given.config.as_deref()) {
            Ok(Some((table, path))) => {
                let folder = path.parent().map(Path::to_path_buf).unwrap_or_default();
                (FileSettings::new(table, path, &mut faults), folder)
            }
            Ok(None) => (FileSettings::default(), PathBuf::new()),
            Err(fault) => return Err(Faults(vec![fault])),
        };

        let default = Config::default();
        let mut config = default.clone();
        for setting in SETTINGS {
            let flag = (setting.given)(given)
                .map(str::trim)
                .filter(|text| !text.is_empty());
            let (text, origin) = match (flag, file.text(setting.key)) {
                (Some(text), _) => (text, setting.flag_and_variable()),
                (None, Some(text)) => (text, format!("{} in {}", setting.key, file.path.display())),
                (None, None) => continue,
            };
            // Paths in a file are meant from where the file stands.
            let base = if flag.is_some() {
                Path::new("")
            } else {
                folder.as_path()
            };
            if let Err(expected) = (setting.apply)(&mut config, text, base) {
                faults.push(format!("{origin}: {text:?}; expected {expected}"));
            }
        }
        if faults.is_empty() {
            Ok(config)
        } else {
            Err(Faults(faults))
        }
    }
}

/// What the flags and the environment say; `None` where they say nothing. Values are checked by
/// [`Config::load`], so that all faults are told together.
#[derive(Debug, Clone, Default, clap::Args)]
#[command(next_help_heading = "Settings (also in the configuration file)")]
pub struct Given {
    /// Configuration file (TOML) [default: brickbook.toml if there is one here]
    #[arg(long, global = true, value_name = "FILE", env = "BRICKBOOK_CONFIG")]
    pub config: Option<PathBuf>,

    /// Folder that holds the database [default: ./brickbook-data]
    #[arg(long, global = true, value_name = "DIR", env = "BRICKBOOK_DATA_DIR")]
    pub data_dir: Option<String>,

    /// Address and port to serve on [default: 127.0.0.1:8080]
    #[arg(
        long,
        global = true,
        value_name = "ADDRESS:PORT",
        env = "BRICKBOOK_LISTEN"
    )]
    pub listen: Option<String>,

    /// How visitors reach the site, such as `https://bricks.example`; for absolute links
    #[arg(long, global = true, value_name = "URL", env = "BRICKBOOK_PUBLIC_URL")]
    pub public_url: Option<String>,

    /// Name of the site [default: Brickbook]
    #[arg(long, global = true, value_name = "NAME", env = "BRICKBOOK_SITE_NAME")]
    pub site_name: Option<String>,

    /// Line supply whose runs are scored [default: 115/60]
    #[arg(
        long,
        global = true,
        value_name = "VOLTS/HERTZ",
        env = "BRICKBOOK_SCORE_LINE"
    )]
    pub score_line: Option<String>,

    /// Table of wattage classes (TOML) in place of the shipped one
    #[arg(long, global = true, value_name = "FILE", env = "BRICKBOOK_CLASSES")]
    pub classes: Option<String>,

    /// Send cookies over HTTPS only: auto, always or never [default: auto]
    #[arg(
        long,
        global = true,
        value_name = "WHEN",
        env = "BRICKBOOK_COOKIE_SECURE"
    )]
    pub cookie_secure: Option<String>,

    /// Addresses of reverse proxies whose X-Forwarded-For is believed, separated by commas
    #[arg(
        long,
        global = true,
        value_name = "ADDRESS,…",
        env = "BRICKBOOK_TRUSTED_PROXIES"
    )]
    pub trusted_proxies: Option<String>,

    /// Seconds that a shared cache in front may serve public pages without asking [default: 60]
    #[arg(
        long,
        global = true,
        value_name = "SECONDS",
        env = "BRICKBOOK_SHARED_CACHE_S"
    )]
    pub shared_cache_s: Option<String>,

    /// Price of a kilowatt-hour that cost pages start from, such as `0.30 EUR`
    #[arg(long, global = true, value_name = "PRICE", env = "BRICKBOOK_TARIFF")]
    pub tariff: Option<String>,

    /// Terms of use that stand in every download, such as `CC BY 4.0, Ada's bench`
    #[arg(long, global = true, value_name = "TEXT", env = "BRICKBOOK_LICENCE")]
    pub licence: Option<String>,
    /// Megabytes of the largest raw log that is taken in [default: 2000]
    #[arg(
        long,
        global = true,
        value_name = "MEGABYTES",
        env = "BRICKBOOK_LOG_LIMIT_MB"
    )]
    pub log_limit_mb: Option<String>,

    /// Name of the laboratory or person that tests, for printed reports
    #[arg(
        long,
        global = true,
        value_name = "NAME",
        env = "BRICKBOOK_TESTER_NAME"
    )]
    pub tester_name: Option<String>,

    /// Address of the tester, for printed reports
    #[arg(
        long,
        global = true,
        value_name = "ADDRESS",
        env = "BRICKBOOK_TESTER_ADDRESS"
    )]
    pub tester_address: Option<String>,

    /// Where the tests are made, for printed reports [default: the tester's address]
    #[arg(
        long,
        global = true,
        value_name = "PLACE",
        env = "BRICKBOOK_TEST_PLACE"
    )]
    pub test_place: Option<String>,

    /// Mail address, telephone or page of the tester, for printed reports
    #[arg(
        long,
        global = true,
        value_name = "CONTACT",
        env = "BRICKBOOK_TESTER_CONTACT"
    )]
    pub tester_contact: Option<String>,

    /// Person who authorises printed reports
    #[arg(
        long,
        global = true,
        value_name = "PERSON",
        env = "BRICKBOOK_AUTHORISED_BY"
    )]
    pub authorised_by: Option<String>,
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

/// One setting: its key in the file, where flags and environment hold it, and how its text is
/// checked and put in place. `apply` answers what was expected.
struct Setting {
    key: &'static str,
    given: fn(&Given) -> Option<&str>,
    apply: fn(&mut Config, &str, &Path) -> Result<(), String>,
}

impl Setting {
    fn flag_and_variable(&self) -> String {
        format!(
            "--{} (or BRICKBOOK_{})",
            self.key.replace('_', "-"),
            self.key.to_uppercase()
        )
    }
}

const SETTINGS: &[Setting] = &[
    Setting {
        key: "data_dir",
        given: |given| given.data_dir.as_deref(),
        apply: |config, text, base| {
            config.data_dir = base.join(text);
            Ok(())
        },
    },
    Setting {
        key: "listen",
        given: |given| given.listen.as_deref(),
        apply: |config, text, _| {
            config.listen = text
                .parse()
                .map_err(|_| "an IP address and a port, such as 127.0.0.1:8080".to_string())?;
            Ok(())
        },
    },
    Setting {
        key: "public_url",
        given: |given| given.public_url.as_deref(),
        apply: |config, text, _| {
            config.public_url = Some(site_address(text).ok_or(
                "http:// or https:// and a host, without a path, such as https://bricks.example",
            )?);
            Ok(())
        },
    },
    Setting {
        key: "site_name",
        given: |given| given.site_name.as_deref(),
        apply: |config, text, _| {
            if text.chars().count() > 80 || text.chars().any(char::is_control) {
                return Err("at most 80 characters on one line".to_string());
            }
            config.site_name = text.to_string();
            Ok(())
        },
    },
    Setting {
        key: "score_line",
        given: |given| given.score_line.as_deref(),
        apply: |config, text, _| {
            config.score_line = score_line(text).ok_or(
                "volts (80 to 300) and hertz (45 to 66) of the line supply, such as 115/60",
            )?;
            Ok(())
        },
    },
    Setting {
        key: "classes",
        given: |given| given.classes.as_deref(),
        apply: |config, text, base| {
            let path = base.join(text);
            let table = std::fs::read_to_string(&path)
                .map_err(|cause| format!("a readable file ({}: {cause})", path.display()))?;
            config.classes =
                Some(classes_from_toml(&table).map_err(|cause| {
                    format!("a table of wattage classes ({})", cause.trim_end())
                })?);
            Ok(())
        },
    },
    Setting {
        key: "cookie_secure",
        given: |given| given.cookie_secure.as_deref(),
        apply: |config, text, _| {
            config.cookie_secure = match text {
                "auto" => CookieSecure::Auto,
                "always" => CookieSecure::Always,
                "never" => CookieSecure::Never,
                _ => return Err("auto, always or never".to_string()),
            };
            Ok(())
        },
    },
    Setting {
        key: "trusted_proxies",
        given: |given| given.trusted_proxies.as_deref(),
        apply: |config, text, _| {
            config.trusted_proxies = text
                .split(',')
                .map(|address| address.trim().parse())
                .collect::<Result<_, _>>()
                .map_err(|_| "IP addresses separated by commas, such as 127.0.0.1".to_string())?;
            Ok(())
        },
    },
    Setting {
        key: "shared_cache_s",
        given: |given| given.shared_cache_s.as_deref(),
        apply: |config, text, _| {
            config.shared_cache_s = text
                .parse()
                .ok()
                .filter(|seconds| *seconds <= LONGEST_SHARED_CACHE_S)
                .ok_or_else(|| format!("whole seconds from 0 to {LONGEST_SHARED_CACHE_S}"))?;
            Ok(())
        },
    },
    Setting {
        key: "tariff",
        given: |given| given.tariff.as_deref(),
        apply: |config, text, _| {
            config.tariff = Some(
                Tariff::from_text(text)
                    .ok_or("a price above 0 and a currency's three letters, such as 0.30 EUR")?,
            );
            Ok(())
        },
    },
    Setting {
        key: "tester_name",
        given: |given| given.tester_name.as_deref(),
        apply: |config, text, _| {
            config.tester.name = Some(report_line(text)?);
            Ok(())
        },
    },
    Setting {
        key: "licence",
        given: |given| given.licence.as_deref(),
        apply: |config, text, _| {
            if text.chars().count() > 300 || text.chars().any(char::is_control) {
                return Err("at most 300 characters on one line".to_string());
            }
            config.licence = Some(text.to_string());
            Ok(())
        },
    },
    Setting {
        key: "log_limit_mb",
        given: |given| given.log_limit_mb.as_deref(),
        apply: |config, text, _| {
            config.log_limit_mb = text
                .parse()
                .ok()
                .filter(|megabytes| LOG_LIMITS_MB.contains(megabytes))
                .ok_or_else(|| {
                    let (least, most) = (LOG_LIMITS_MB.start(), LOG_LIMITS_MB.end());
                    format!("whole megabytes from {least} to {most}")
                })?;
            Ok(())
        },
    },
    Setting {
        key: "tester_address",
        given: |given| given.tester_address.as_deref(),
        apply: |config, text, _| {
            config.tester.address = Some(report_line(text)?);
            Ok(())
        },
    },
    Setting {
        key: "test_place",
        given: |given| given.test_place.as_deref(),
        apply: |config, text, _| {
            config.tester.test_place = Some(report_line(text)?);
            Ok(())
        },
    },
    Setting {
        key: "tester_contact",
        given: |given| given.tester_contact.as_deref(),
        apply: |config, text, _| {
            config.tester.contact = Some(report_line(text)?);
            Ok(())
        },
    },
    Setting {
        key: "authorised_by",
        given: |given| given.authorised_by.as_deref(),
        apply: |config, text, _| {
            config.tester.authorised_by = Some(report_line(text)?);
            Ok(())
        },
    },
];

/// What a report prints of the tester.
fn report_line(text: &str) -> Result<String, String> {
    let fits = text.chars().count() <= 200 && !text.chars().any(char::is_control);
    fits.then(|| text.to_string())
        .ok_or_else(|| "at most 200 characters on one line".to_string())
}

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
            if !SETTINGS.iter().any(|setting| setting.key == key) {
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
        let (_folder, mut given) = file(
            "site_name = \"From file\"\nlisten = \"0.0.0.0:9000\"\ntrusted_proxies = [\"127.0.0.1\", \"::1\"]\n",
        );
        given.site_name = Some("From flag".into());
        let config = Config::load(&given).unwrap();
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
    fn all_faults_are_told_at_once_with_setting_value_and_expectation() {
        let (_folder, mut given) = file(
            "lissten = \"x\"\nsite_name = 5.5\nscore_line = \"12/60\"\npublic_url = \"bricks.example/a\"\n",
        );
        given.cookie_secure = Some("maybe".into());
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
        let given = Given {
            score_line: Some("230 V / 50 Hz".into()),
            ..file("").1
        };
        let (_folder, empty) = file("");
        let given = Given {
            config: empty.config,
            ..given
        };
        let method = Config::load(&given).unwrap().method();
        assert_eq!(method.formula.line.voltage_v, 230.0);
        assert_ne!(method.digest(), Config::default().method().digest());
    }

    #[test]
    fn who_tests_is_set_in_one_line_each_and_the_rest_stays_unknown() {
        let (_folder, mut given) = file("tester_name = \"Fernhill bench\"\n");
        given.authorised_by = Some("A. Fernhill".into());
        let tester = Config::load(&given).unwrap().tester;
        assert_eq!(tester.name.as_deref(), Some("Fernhill bench"));
        assert_eq!(tester.authorised_by.as_deref(), Some("A. Fernhill"));
        assert_eq!(tester.address, None);
        given.tester_address = Some("Mill Lane 3\nFernhill".into());
        let Faults(faults) = Config::load(&given).unwrap_err();
        assert!(faults[0].contains("--tester-address"), "{faults:?}");
        assert!(faults[0].contains("on one line"), "{faults:?}");
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
