//! The folder of the data: is it there, whose is it, is there room, and does its disk keep what is
//! written.

use super::Report;
use crate::config::Config;
use crate::host::{self, Keeping, Mount, Rights};
use std::path::Path;

/// Looks at the folder; answers whether there is a database in it to look at.
pub fn look(config: &Config, report: &mut Report) -> bool {
    let folder = &config.data_dir;
    let shown = std::path::absolute(folder).unwrap_or_else(|_| folder.clone());
    report.fact("data folder", shown.display().to_string());
    match std::fs::metadata(folder) {
        Ok(found) if found.is_dir() => {}
        Ok(_) => {
            report.fault(
                format!("{} is not a folder", shown.display()),
                "the database and raw logs need a folder",
                "set data_dir to a folder, or move that file away",
            );
            return false;
        }
        Err(cause) if cause.kind() == std::io::ErrorKind::NotFound => {
            report.fault(
                format!("there is no folder {}", shown.display()),
                "nothing has been stored there yet, or this call looks in another place than the program that serves",
                "name the right one with data_dir; a new one is made by `brickbook serve`",
            );
            return false;
        }
        Err(cause) => {
            report.fault(
                format!("{} cannot be reached: {cause}", shown.display()),
                "without its data the program does not start",
                "give the user that runs it the right to enter this folder and those above it",
            );
            return false;
        }
    }
    if let Some(mount) = host::mount_of(folder) {
        disk(&mount, report);
    }
    match host::free_bytes(folder) {
        Ok(free) => room(free, config.disk_reserve_mb, report),
        Err(cause) => report.fact("room", format!("unknown ({cause})")),
    }

    let database = config.database_path();
    if let Ok(of) = host::rights(folder) {
        rights(
            of,
            host::rights(&database).ok(),
            host::own_user(),
            &shown,
            report,
        );
    }
    if database.exists() {
        return true;
    }
    report.fault(
        format!("there is no database in {}", shown.display()),
        "nothing has been stored there yet, or this call looks in another place than the program that serves",
        "name the right folder with data_dir; a new database is made by `brickbook serve`",
    );
    false
}

fn disk(mount: &Mount, report: &mut Report) {
    let place = format!("{} at {}", mount.kind, mount.point.display());
    report.fact("file system", place.clone());
    match mount.keeping() {
        Keeping::Local => {}
        Keeping::Network => report.fault(
            format!("the data lie on a network file system ({place})"),
            "SQLite's write-ahead log needs memory that all its users share, which two computers do not: the database may be damaged (sqlite.org/wal.html)",
            "move the data to a disk of this computer, and back it up to the network",
        ),
        Keeping::Memory => report.advice(
            format!("the data lie in memory ({place})"),
            "everything is gone when the computer is switched off",
            "set data_dir to a folder on a disk, unless this is only for trying",
        ),
        Keeping::Container => report.advice(
            format!("the data lie in the layer of a container ({place})"),
            "everything is gone when the container is removed, as an update does",
            "mount a volume and set data_dir to it, unless this is only for trying",
        ),
    }
}

fn room(free_bytes: u64, reserve_mb: u32, report: &mut Report) {
    let free_mb = free_bytes / 1_000_000;
    report.fact("room", format!("{free_mb} MB"));
    if free_mb < u64::from(reserve_mb) {
        report.fault(
            format!("only {free_mb} MB are left on the disk of the data; disk_reserve_mb is {reserve_mb}"),
            "when it is full nothing can be saved, and /health/ready tells the proxy to send nobody here",
            "make room, or move the data to a larger disk",
        );
    }
}

/// `own_user` is who calls; the folder's owner is who serves.
fn rights(
    folder: Rights,
    database: Option<Rights>,
    own_user: Option<u32>,
    shown: &Path,
    report: &mut Report,
) {
    let shown = shown.display();
    report.fact("owner", format!("user {}", folder.owner));
    if folder.mode & 0o077 != 0 {
        report.advice(
            format!(
                "others than its owner may reach into {shown} (mode {:o})",
                folder.mode
            ),
            "the database holds password hashes, sessions and unpublished drafts",
            format!("chmod 700 {shown}"),
        );
    }
    if let Some(database) = database
        && database.owner != folder.owner
    {
        report.fault(
            format!(
                "the database belongs to user {}, its folder to user {}",
                database.owner, folder.owner
            ),
            "the program that serves may not write to it; this happens when a command was called as another user, such as root",
            format!("chown -R {} {shown}", folder.owner),
        );
    }
    if own_user.is_some_and(|user| user != 0 && user != folder.owner) {
        report.advice(
            format!(
                "the data belong to user {}, and this call is by user {}",
                folder.owner,
                own_user.unwrap_or_default()
            ),
            "what cannot be read from here is reported as a fault, though the program that serves may reach it",
            "call `brickbook doctor` as the user that serves, or as root",
        );
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Grade, found};
    use super::*;

    #[test]
    fn a_disk_that_does_not_keep_or_lock_is_told() {
        let on = |kind: &str| {
            found(|report| {
                let mount = Mount {
                    point: "/data".into(),
                    kind: kind.into(),
                };
                disk(&mount, report);
            })
        };
        assert_eq!(on("ext4"), []);
        assert_eq!(on("nfs4")[0].0, Grade::Fault);
        assert!(on("nfs4")[0].1.contains("nfs4 at /data"));
        assert_eq!(on("tmpfs")[0].0, Grade::Advice);
        assert_eq!(on("overlay")[0].0, Grade::Advice);
    }

    #[test]
    fn too_little_room_is_a_fault() {
        assert_eq!(found(|report| room(200_000_000, 200, report)), []);
        let low = found(|report| room(199_900_000, 200, report));
        assert_eq!(low[0].0, Grade::Fault);
        assert!(low[0].1.contains("199 MB"), "{low:?}");
    }

    #[test]
    fn rights_that_keep_the_server_out_or_let_others_in_are_told() {
        let of = |owner: u32, mode: u32| Rights { owner, mode };
        let look = |folder, database, user| {
            found(|report| rights(folder, database, user, Path::new("/data"), report))
        };
        assert_eq!(look(of(998, 0o700), Some(of(998, 0o600)), Some(998)), []);
        assert_eq!(look(of(998, 0o700), Some(of(998, 0o600)), Some(0)), []);
        let open = look(of(998, 0o755), None, Some(998));
        assert_eq!(open[0].0, Grade::Advice);
        assert!(open[0].1.contains("mode 755"));
        let roots = look(of(998, 0o700), Some(of(0, 0o600)), Some(0));
        assert_eq!(roots[0].0, Grade::Fault);
        assert!(roots[0].1.contains("user 0, its folder to user 998"));
        let other = look(of(998, 0o700), Some(of(998, 0o600)), Some(1000));
        assert_eq!(other[0].0, Grade::Advice);
    }
}
