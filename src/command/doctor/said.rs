//! What the settings say, each on its own understood, and together make no good sense.

use super::Report;
use crate::config::{Config, CookieSecure};
use std::net::IpAddr;

/// Holds the settings against each other.
pub fn look(config: &Config, report: &mut Report) {
    let url = config.public_url.as_deref();
    let https = url.is_some_and(|url| url.starts_with("https://"));
    let own_computer_only = config.listen.ip().is_loopback();

    if https && config.trusted_proxies.is_empty() {
        report.fault(
            "public_url begins with https, and trusted_proxies names no proxy",
            "something in front ends TLS, so every visitor seems to come from one address: \
             whoever tries passwords locks everybody out, and limits meant for one hit all",
            "set trusted_proxies to the address that the proxy asks from, such as 127.0.0.1, \
             and have it set X-Forwarded-For",
        );
    }
    if config.trusted_proxies.iter().any(IpAddr::is_unspecified) {
        report.fault(
            "trusted_proxies names 0.0.0.0 or ::",
            "no request ever comes from that address, so nobody is trusted",
            "name the proxy's own address",
        );
    }
    if let Some(url) = url
        && !https
        && !is_this_computer(url)
    {
        report.advice(
            format!("public_url is {url}, without TLS"),
            "passwords and sessions can be read by everybody on the way",
            "put a proxy with TLS in front and set public_url to its https address",
        );
    }
    match config.cookie_secure {
        CookieSecure::Always if !https && !url.is_some_and(is_this_computer) => report.fault(
            "cookie_secure is always, but public_url does not begin with https",
            "browsers keep such a cookie only over HTTPS, so nobody can sign in",
            "set public_url to the https address, or cookie_secure to auto",
        ),
        CookieSecure::Never if https => report.advice(
            "cookie_secure is never, though the site is reached by https",
            "a session may travel unencrypted if somebody opens the http address",
            "set cookie_secure to auto",
        ),
        _ => {}
    }
    if https && !own_computer_only && config.trusted_proxies.iter().all(IpAddr::is_loopback) {
        report.advice(
            format!(
                "listen is {}, though the proxy is on this computer",
                config.listen
            ),
            "whoever reaches that port goes round the proxy and its TLS",
            format!("listen on 127.0.0.1:{}", config.listen.port()),
        );
    }
    if url.is_none() && !own_computer_only {
        report.advice(
            format!("listen is {}, and public_url is not set", config.listen),
            "links in feeds, previews and downloads are made from whatever name a visitor used",
            "set public_url to the address under which the site is known",
        );
    }
    if let Some(metrics) = config.metrics_listen {
        if metrics.port() == config.listen.port()
            && metrics.port() != 0
            && (metrics.ip() == config.listen.ip()
                || metrics.ip().is_unspecified()
                || config.listen.ip().is_unspecified())
        {
            report.fault(
                format!("metrics_listen and listen are both {metrics}"),
                "only one of them can have it, so the program does not start",
                "give metrics_listen a port of its own",
            );
        }
        if !is_inside(metrics.ip()) {
            report.advice(
                format!("metrics_listen is {metrics}"),
                "figures of the program may be read by everybody who reaches that port",
                "listen on 127.0.0.1 or on an address of an inner network, or close the port to others",
            );
        }
    }
}

/// Is it an address of this computer or of a network that is not the internet's (RFC 1918, RFC 4193)?
fn is_inside(address: IpAddr) -> bool {
    match address.to_canonical() {
        IpAddr::V4(v4) => v4.is_loopback() || v4.is_private() || v4.is_link_local(),
        IpAddr::V6(v6) => v6.is_loopback() || v6.is_unique_local() || v6.is_unicast_link_local(),
    }
}

/// Browsers treat these hosts as they treat HTTPS (W3C Secure Contexts, 3.1).
fn is_this_computer(url: &str) -> bool {
    let host = url.split_once("://").map_or(url, |(_, host)| host);
    let name = match host.strip_prefix('[') {
        Some(rest) => rest.split(']').next().unwrap_or(rest),
        None => host.split(':').next().unwrap_or(host),
    };
    name == "localhost"
        || name.ends_with(".localhost")
        || name.parse::<IpAddr>().is_ok_and(|ip| ip.is_loopback())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::command::doctor::Grade;

    /// What is found under these settings, each as its grade and the beginning of its text.
    fn found(change: impl FnOnce(&mut Config)) -> Vec<(Grade, String)> {
        let mut config = Config::default();
        change(&mut config);
        let mut report = Report::default();
        look(&config, &mut report);
        let findings = report.findings.into_iter();
        findings.map(|f| (f.grade, f.what)).collect()
    }

    fn only(found: Vec<(Grade, String)>, grade: Grade, part: &str) {
        assert_eq!(found.len(), 1, "{found:?}");
        assert_eq!(found[0].0, grade, "{found:?}");
        assert!(found[0].1.contains(part), "{found:?}");
    }

    fn behind_a_proxy(config: &mut Config) {
        config.public_url = Some("https://bricks.example".into());
        config.trusted_proxies = vec!["127.0.0.1".parse().unwrap()];
    }

    #[test]
    fn the_defaults_and_the_readmes_server_are_well() {
        assert_eq!(found(|_| {}), []);
        assert_eq!(found(behind_a_proxy), []);
        assert_eq!(
            found(|c| c.public_url = Some("http://localhost:8080".into())),
            []
        );
    }

    #[test]
    fn https_without_a_trusted_proxy_is_a_fault() {
        only(
            found(|c| c.public_url = Some("https://bricks.example".into())),
            Grade::Fault,
            "trusted_proxies names no proxy",
        );
    }

    #[test]
    fn a_proxy_that_no_request_comes_from_is_a_fault() {
        only(
            found(|c| {
                behind_a_proxy(c);
                c.trusted_proxies.push("0.0.0.0".parse().unwrap());
                c.listen = "127.0.0.1:80".parse().unwrap();
            }),
            Grade::Fault,
            "0.0.0.0",
        );
    }

    #[test]
    fn a_public_address_without_tls_is_advised_against() {
        only(
            found(|c| c.public_url = Some("http://bricks.example".into())),
            Grade::Advice,
            "without TLS",
        );
    }

    #[test]
    fn cookies_that_no_browser_sends_are_a_fault() {
        only(
            found(|c| c.cookie_secure = CookieSecure::Always),
            Grade::Fault,
            "cookie_secure is always",
        );
        assert_eq!(
            found(|c| {
                c.cookie_secure = CookieSecure::Always;
                c.public_url = Some("http://[::1]:8080".into());
            }),
            []
        );
        only(
            found(|c| {
                behind_a_proxy(c);
                c.cookie_secure = CookieSecure::Never;
            }),
            Grade::Advice,
            "cookie_secure is never",
        );
    }

    #[test]
    fn a_port_that_goes_round_the_proxy_is_advised_against() {
        only(
            found(|c| {
                behind_a_proxy(c);
                c.listen = "0.0.0.0:8080".parse().unwrap();
            }),
            Grade::Advice,
            "though the proxy is on this computer",
        );
        // In a container the proxy asks from another address.
        assert_eq!(
            found(|c| {
                behind_a_proxy(c);
                c.listen = "0.0.0.0:8080".parse().unwrap();
                c.trusted_proxies = vec!["10.0.2.1".parse().unwrap()];
            }),
            []
        );
    }

    #[test]
    fn a_site_that_others_reach_needs_a_name() {
        only(
            found(|c| c.listen = "[::]:8080".parse().unwrap()),
            Grade::Advice,
            "public_url is not set",
        );
    }

    #[test]
    fn figures_are_for_an_inner_address_and_a_port_of_their_own() {
        let metrics = |address: &str| found(|c| c.metrics_listen = Some(address.parse().unwrap()));
        assert_eq!(metrics("127.0.0.1:9180"), []);
        assert_eq!(metrics("10.1.2.3:9180"), []);
        assert_eq!(metrics("[fd00::1]:9180"), []);
        only(metrics("0.0.0.0:9180"), Grade::Advice, "metrics_listen is");
        only(
            metrics("203.0.113.9:9180"),
            Grade::Advice,
            "metrics_listen is",
        );
        only(metrics("127.0.0.1:8080"), Grade::Fault, "are both");
    }
}
