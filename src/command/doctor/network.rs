//! Can the program have its ports, or does somebody else?

use super::Report;
use crate::config::{Config, DATABASE_FILE};
use crate::host::{self, Process};
use std::io::ErrorKind;
use std::net::{SocketAddr, TcpListener};

/// Tries the addresses that `serve` would listen on.
pub fn look(config: &Config, report: &mut Report) {
    let own = host::held(&config.data_dir.join(format!("{DATABASE_FILE}-shm")));
    let own: Vec<i32> = own.iter().map(|held| held.by.id).collect();
    try_address("listen", config.listen, &own, report);
    if let Some(metrics) = config.metrics_listen {
        try_address("metrics_listen", metrics, &own, report);
    }
}

/// `own` are processes that have this database open.
fn try_address(key: &str, address: SocketAddr, own: &[i32], report: &mut Report) {
    let cause = match TcpListener::bind(address) {
        Ok(_) => {
            report.fact(format!("{key} {address}"), "free: nothing is served there");
            return;
        }
        Err(cause) => cause,
    };
    if cause.kind() != ErrorKind::AddrInUse {
        report.fault(
            format!("{key} {address} cannot be used: {cause}"),
            "the program does not start",
            "take an address of this computer, and a port from 1024 on or a user that may have a lower one",
        );
        return;
    }
    let holders = host::listeners(address);
    if let Some(serving) = holders.iter().find(|process| own.contains(&process.id)) {
        report.fact(format!("{key} {address}"), format!("served by {serving}"));
        return;
    }
    let names: Vec<String> = holders.iter().map(Process::to_string).collect();
    let who = if names.is_empty() {
        "another process, which only root may see".to_owned()
    } else {
        names.join(", ")
    };
    report.fault(
        format!("{key} {address} is in use by {who}, which does not have this database open"),
        "the program does not start, or this call looks at other settings than the program that serves",
        format!("stop the other program, or set {key} to a free port"),
    );
}
