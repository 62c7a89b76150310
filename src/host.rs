//! What the computer says: of this process, of disks, of who holds a file or a port.
//!
//! Everything is read from Linux's `/proc` and from the file system; on other systems, or where
//! reading is not allowed, the answers are empty, never wrong.

use std::io;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};

/// Figures of this process.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Resources {
    /// Memory that is held in RAM.
    pub resident_bytes: u64,
    pub virtual_bytes: u64,
    /// Open files and sockets.
    pub open_files: u64,
    /// User and system time of all threads so far.
    pub processor_s: f64,
    /// Seconds since 1970.
    pub started_at_s: f64,
}

/// Another process, as far as it may be seen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Process {
    pub id: i32,
    /// Its command line; its name where that cannot be read.
    pub command: String,
}

impl std::fmt::Display for Process {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "process {} ({})", self.id, self.command)
    }
}

/// Where a folder lies.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mount {
    pub point: PathBuf,
    /// `ext4`, `nfs4`, `tmpfs` and the like.
    pub kind: String,
}

/// What a kind of file system means for a database.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Keeping {
    /// On a disk of this computer, or so it seems.
    Local,
    /// Other computers may write to it: locks and shared memory do not reach them.
    Network,
    /// Gone when the computer is switched off.
    Memory,
    /// Gone with the container that it belongs to.
    Container,
}

impl Mount {
    /// What this kind means (names as the kernel's file systems give them; from memory).
    pub fn keeping(&self) -> Keeping {
        match self.kind.as_str() {
            "nfs" | "nfs4" | "cifs" | "smb3" | "smbfs" | "9p" | "afs" | "ceph" | "glusterfs"
            | "lustre" | "gpfs" | "ocfs2" | "gfs2" | "ncpfs" | "vboxsf" | "fuse.sshfs"
            | "fuse.glusterfs" | "fuse.ceph" | "fuse.s3fs" | "fuse.rclone" | "fuse.davfs" => {
                Keeping::Network
            }
            "tmpfs" | "ramfs" => Keeping::Memory,
            "overlay" | "aufs" => Keeping::Container,
            _ => Keeping::Local,
        }
    }
}

/// A byte range of a file that a process holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Held {
    pub by: Process,
    pub from: u64,
    /// The last byte; none to the end of the file.
    pub to: Option<u64>,
    /// Nobody else may hold it.
    pub exclusive: bool,
}

impl Held {
    /// Does the range hold this byte?
    pub fn covers(&self, byte: u64) -> bool {
        self.from <= byte && self.to.is_none_or(|to| byte <= to)
    }
}

/// Who a file belongs to, and who may reach it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rights {
    pub owner: u32,
    /// The nine bits of owner, group and others.
    pub mode: u32,
}

/// Room for this user on the disk that holds `folder`.
///
/// # Errors
/// The folder cannot be reached.
#[cfg(unix)]
pub fn free_bytes(folder: &Path) -> io::Result<u64> {
    let disk = rustix::fs::statvfs(folder)?;
    Ok(disk.f_bavail.saturating_mul(disk.f_frsize))
}

/// Unknown on this system.
///
/// # Errors
/// Always.
#[cfg(not(unix))]
pub fn free_bytes(_: &Path) -> io::Result<u64> {
    Err(io::ErrorKind::Unsupported.into())
}

/// Do both lie on one file system? Then they lie on one disk; if not, they may all the same.
///
/// # Errors
/// One of them is not there or cannot be reached.
#[cfg(unix)]
pub fn is_one_file_system(one: &Path, other: &Path) -> io::Result<bool> {
    use std::os::unix::fs::MetadataExt;
    Ok(std::fs::metadata(one)?.dev() == std::fs::metadata(other)?.dev())
}

/// Unknown on this system.
///
/// # Errors
/// Always.
#[cfg(not(unix))]
pub fn is_one_file_system(_: &Path, _: &Path) -> io::Result<bool> {
    Err(io::ErrorKind::Unsupported.into())
}

/// Owner and mode of a file or folder.
///
/// # Errors
/// It is not there or cannot be reached.
#[cfg(unix)]
pub fn rights(path: &Path) -> io::Result<Rights> {
    use std::os::unix::fs::MetadataExt;
    let of = std::fs::metadata(path)?;
    Ok(Rights {
        owner: of.uid(),
        mode: of.mode() & 0o777,
    })
}

/// Unknown on this system.
///
/// # Errors
/// Always.
#[cfg(not(unix))]
pub fn rights(_: &Path) -> io::Result<Rights> {
    Err(io::ErrorKind::Unsupported.into())
}

/// The user that this process acts as.
pub fn own_user() -> Option<u32> {
    #[cfg(unix)]
    return Some(rustix::process::geteuid().as_raw());
    #[cfg(not(unix))]
    None
}

/// Figures of this process.
#[cfg(target_os = "linux")]
pub fn own_resources() -> Option<Resources> {
    let own = procfs::process::Process::myself().ok()?;
    let stat = own.stat().ok()?;
    let ticks = procfs::ticks_per_second() as f64;
    Some(Resources {
        resident_bytes: stat.rss.saturating_mul(procfs::page_size()),
        virtual_bytes: stat.vsize,
        open_files: own.fd_count().ok()? as u64,
        processor_s: (stat.utime + stat.stime) as f64 / ticks,
        started_at_s: procfs::boot_time_secs().ok()? as f64 + stat.starttime as f64 / ticks,
    })
}

/// The mount that holds `path`, which must be there.
#[cfg(target_os = "linux")]
pub fn mount_of(path: &Path) -> Option<Mount> {
    let path = path.canonicalize().ok()?;
    let mounts = procfs::process::Process::myself().ok()?.mountinfo().ok()?;
    let mounts = mounts.into_iter().map(|mount| Mount {
        point: mount.mount_point,
        kind: mount.fs_type,
    });
    covering(&path, mounts)
}

/// Of the mounts that hold `path` the innermost; of several at one place the last, which hides the
/// others.
fn covering(path: &Path, mounts: impl Iterator<Item = Mount>) -> Option<Mount> {
    mounts
        .filter(|mount| path.starts_with(&mount.point))
        .max_by_key(|mount| mount.point.components().count())
}

/// Who listens on this address and port, or on all addresses of that port. Processes of other users
/// are seen by root alone.
#[cfg(target_os = "linux")]
pub fn listeners(address: SocketAddr) -> Vec<Process> {
    use procfs::net::TcpState;
    use procfs::process::FDTarget;
    let entries = [procfs::net::tcp(), procfs::net::tcp6()];
    let sockets: Vec<u64> = entries
        .into_iter()
        .filter_map(Result::ok)
        .flatten()
        .filter(|entry| entry.state == TcpState::Listen)
        .filter(|entry| {
            let local = entry.local_address;
            local.port() == address.port()
                && (local.ip().to_canonical() == address.ip().to_canonical()
                    || local.ip().is_unspecified()
                    || address.ip().is_unspecified())
        })
        .map(|entry| entry.inode)
        .collect();
    let Ok(processes) = procfs::process::all_processes() else {
        return Vec::new();
    };
    processes
        .filter_map(Result::ok)
        .filter(|process| {
            let Ok(files) = process.fd() else {
                return false;
            };
            files.filter_map(Result::ok).any(
                |file| matches!(file.target, FDTarget::Socket(inode) if sockets.contains(&inode)),
            )
        })
        .map(|process| described(&process))
        .collect()
}

/// Byte ranges of `path` that processes hold (locks of POSIX, as SQLite takes them).
#[cfg(target_os = "linux")]
pub fn held(path: &Path) -> Vec<Held> {
    use procfs::{LockKind, LockType};
    use std::os::unix::fs::MetadataExt;
    let (Ok(of), Ok(locks)) = (std::fs::metadata(path), procfs::locks()) else {
        return Vec::new();
    };
    let device = (rustix::fs::major(of.dev()), rustix::fs::minor(of.dev()));
    locks
        .into_iter()
        .filter(|lock| lock.lock_type == LockType::Posix && lock.inode == of.ino())
        .filter(|lock| (lock.devmaj, lock.devmin) == device)
        .filter_map(|lock| {
            Some(Held {
                by: described(&procfs::process::Process::new(lock.pid?).ok()?),
                from: lock.offset_first,
                to: lock.offset_last,
                exclusive: matches!(lock.kind, LockKind::Write),
            })
        })
        .collect()
}

#[cfg(target_os = "linux")]
fn described(process: &procfs::process::Process) -> Process {
    let line = process.cmdline().unwrap_or_default().join(" ");
    let command = if line.is_empty() {
        process
            .stat()
            .map_or_else(|_| "unknown".to_owned(), |stat| stat.comm)
    } else {
        line
    };
    Process {
        id: process.pid(),
        command,
    }
}

#[cfg(not(target_os = "linux"))]
mod elsewhere {
    use super::*;

    /// Unknown on this system.
    pub fn own_resources() -> Option<Resources> {
        None
    }

    /// Unknown on this system.
    pub fn mount_of(_: &Path) -> Option<Mount> {
        None
    }

    /// Unknown on this system.
    pub fn listeners(_: SocketAddr) -> Vec<Process> {
        Vec::new()
    }

    /// Unknown on this system.
    pub fn held(_: &Path) -> Vec<Held> {
        Vec::new()
    }
}

#[cfg(not(target_os = "linux"))]
pub use elsewhere::*;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_innermost_mount_holds_a_path_and_the_last_one_hides_the_others() {
        let mounts = [
            ("/", "ext4"),
            ("/srv", "tmpfs"),
            ("/srv", "nfs4"),
            ("/srv2", "xfs"),
        ];
        let of = |path: &str| {
            let mounts = mounts.map(|(point, kind)| Mount {
                point: point.into(),
                kind: kind.into(),
            });
            covering(Path::new(path), mounts.into_iter()).unwrap().kind
        };
        assert_eq!(of("/var/lib"), "ext4");
        assert_eq!(of("/srv/data"), "nfs4");
        assert_eq!(of("/srv2"), "xfs");
    }

    #[test]
    fn a_file_system_is_known_by_where_its_bytes_end() {
        let keeping = |kind: &str| {
            Mount {
                point: "/".into(),
                kind: kind.into(),
            }
            .keeping()
        };
        assert_eq!(keeping("nfs4"), Keeping::Network);
        assert_eq!(keeping("fuse.sshfs"), Keeping::Network);
        assert_eq!(keeping("tmpfs"), Keeping::Memory);
        assert_eq!(keeping("overlay"), Keeping::Container);
        for local in ["ext4", "xfs", "btrfs", "zfs", "fuseblk", "apfs"] {
            assert_eq!(keeping(local), Keeping::Local);
        }
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn this_process_is_seen_with_its_memory_its_port_and_its_disk() {
        let own = own_resources().unwrap();
        assert!(own.resident_bytes > 1 << 20 && own.virtual_bytes > own.resident_bytes);
        assert!(own.open_files >= 3 && own.started_at_s > 1.5e9);
        let listener = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
        let holders = listeners(listener.local_addr().unwrap());
        assert!(
            holders.iter().any(|p| p.id == std::process::id() as i32),
            "{holders:?}"
        );
        assert!(free_bytes(Path::new("/")).unwrap() > 0);
        assert!(mount_of(Path::new("/")).is_some());
        assert_eq!(mount_of(Path::new("/nowhere/at/all")), None);
        assert!(free_bytes(Path::new("/nowhere/at/all")).is_err());
        assert!(is_one_file_system(Path::new("/"), Path::new("/")).unwrap());
        assert!(!is_one_file_system(Path::new("/"), Path::new("/proc")).unwrap());
        assert!(is_one_file_system(Path::new("/"), Path::new("/nowhere/at/all")).is_err());
    }
}
