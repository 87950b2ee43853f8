//! File systems of a test's own, where that is allowed.

// Each test binary takes what it needs of it.
#![allow(dead_code)]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

/// A small file system of its own; none where that is not allowed, which is said.
pub(crate) fn small_disk(at: &Path, options: &str) -> Option<Disk> {
    fs::create_dir_all(at).unwrap();
    let mounted = Command::new("mount").args(["-t", "tmpfs", "-o", options, "tmpfs"]).arg(at).output();
    if mounted.is_ok_and(|out| out.status.success()) {
        return Some(Disk(at.to_owned()));
    }
    println!("skipped: no file system can be mounted here");
    None
}

pub(crate) struct Disk(PathBuf);

impl Disk {
    pub(crate) fn remount(&self, options: &str) -> bool {
        Command::new("mount").args(["-o", options]).arg(&self.0).output().is_ok_and(|out| out.status.success())
    }
}

impl Drop for Disk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(&self.0).output();
    }
}

/// Whether this process may do everything, so that permissions stop nothing.
pub(crate) fn is_root() -> bool {
    Command::new("id").arg("-u").output().is_ok_and(|out| out.stdout.starts_with(b"0\n"))
}
