//! Disks that are full, folders that cannot be written to: what is told, and what is left behind.
#![cfg(unix)]

use std::path::{Path, PathBuf};
use std::process::Command;

use ringmark_tests::{Ran, ran};

use crate::batch::cards;
use crate::{names, program, run_in};

/// A small disk of its own, for as long as a test runs.
struct Disk(tempfile::TempDir);

impl Disk {
    /// `None`, told, where the tests may not mount one.
    fn new(size: &str) -> Option<Disk> {
        let folder = tempfile::tempdir().unwrap();
        let mut mount = Command::new("mount");
        mount.args(["-t", "tmpfs", "-o", &format!("size={size}"), "tmpfs"]);
        let mounted = mount.arg(folder.path()).output();
        if mounted.is_ok_and(|output| output.status.success()) {
            return Some(Disk(folder));
        }
        eprintln!("skipped: no right to mount a small disk");
        None
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn make_read_only(&self) {
        let mut mount = Command::new("mount");
        let done = mount.args(["-o", "remount,ro"]).arg(self.0.path()).status();
        assert!(done.unwrap().success());
    }
}

impl Drop for Disk {
    fn drop(&mut self) {
        // A mount that stays is taken away with the machine; the test has told what it had to tell.
        let _ = Command::new("umount").arg(self.0.path()).status();
    }
}

fn check(folder: &Path, reports: &[(&str, PathBuf)]) -> Ran {
    let mut command = program().command();
    command.arg("check").arg(folder);
    for (kind, path) in reports {
        command.arg(format!("--report={kind}={}", path.display()));
    }
    ran(command.output().unwrap())
}

#[test]
fn a_full_disk_costs_the_report_on_it_and_no_other() {
    let Some(disk) = Disk::new("64k") else { return };
    let (folder, elsewhere) = (cards(100), tempfile::tempdir().unwrap());
    let sound = elsewhere.path().join("report.jsonl");
    let full = disk.path("report.json");
    let ran = check(
        folder.path(),
        &[("json", full.clone()), ("jsonl", sound.clone())],
    );
    assert_eq!(ran.status, 2);
    let told = format!(
        "ringmark: {}: cannot write: No space left on device",
        full.display()
    );
    assert!(ran.err.contains(&told), "{}", ran.err);
    assert_eq!(names(disk.0.path()), [""; 0], "no part of it is left");
    let last = std::fs::read_to_string(&sound).unwrap();
    assert!(
        last.lines().last().unwrap().contains("\"counts\""),
        "{last}"
    );
    assert!(
        ran.out.contains(" in 101 files"),
        "the screen has all of it"
    );
}

#[test]
fn a_disk_that_cannot_be_written_to_is_told_before_anything_is_checked() {
    let Some(disk) = Disk::new("64k") else { return };
    disk.make_read_only();
    let ran = check(cards(1).path(), &[("json", disk.path("report.json"))]);
    assert_eq!((ran.status, ran.out.as_str()), (2, ""));
    let told = format!(
        "{}: cannot write in this folder: Read-only file system",
        disk.0.path().display()
    );
    assert!(ran.err.contains(&told), "{}", ran.err);
}

#[test]
fn a_store_that_cannot_be_written_costs_a_line() {
    let Some(disk) = Disk::new("2m") else { return };
    let folder = cards(30);
    let fresh = run_in(&program(), folder.path(), "check {} --report concise");
    let run = || {
        let mut command = program().command();
        command.env("RINGMARK_CACHE", disk.path("cache"));
        command
            .args(["check", "--changed-only", "--report", "concise"])
            .arg(folder.path());
        ran(command.output().unwrap())
    };
    // Full from the start, and then read-only.
    std::fs::create_dir(disk.path("cache")).unwrap();
    std::fs::write(disk.path("fill"), vec![1; 3 << 20]).unwrap_err();
    for _ in 0..2 {
        let full = run();
        assert_eq!((full.status, &full.out), (fresh.status, &fresh.out));
        let told: Vec<&str> = full
            .err
            .lines()
            .filter(|l| l.contains("store of results"))
            .collect();
        assert_eq!(told.len(), 1, "{}", full.err);
        disk.make_read_only();
    }
}

#[test]
fn a_report_that_grows_beyond_what_is_allowed_is_told_and_not_left() {
    let (folder, out) = (cards(100), tempfile::tempdir().unwrap());
    let report = out.path().join("report.json");
    // 16 KiB a file at most; the signal that usually comes with it is ignored, as it is for services.
    let mut command = program().command();
    command.arg("check").arg(folder.path());
    command.arg(format!("--report=json={}", report.display()));
    let ran = limited("trap '' XFSZ; ulimit -f 32", &command);
    assert_eq!(ran.status, 2, "{}", ran.err);
    assert!(
        ran.err
            .contains("report.json: cannot write: File too large"),
        "{}",
        ran.err
    );
    assert_eq!(names(out.path()), [""; 0]);
}

/// Runs a command in a shell that limits itself first.
fn limited(limit: &str, command: &Command) -> Ran {
    let mut shell = Command::new("sh");
    shell
        .arg("-c")
        .arg(format!("{limit}; exec \"$@\""))
        .arg("sh");
    shell.arg(command.get_program()).args(command.get_args());
    for (name, value) in command.get_envs() {
        if let Some(value) = value {
            shell.env(name, value);
        }
    }
    ran(shell.output().unwrap())
}

#[test]
fn plugins_run_in_an_address_space_without_room_for_their_pool() {
    let folder = cards(5);
    let arguments = "check {} --report concise --jobs 1";
    let free = run_in(&program(), folder.path(), arguments);
    let mut command = program().command();
    command.args(["check", "--report", "concise", "--jobs", "1"]);
    let tight = limited("ulimit -v 16000000", command.arg(folder.path()));
    assert_eq!((tight.status, tight.out), (free.status, free.out));
}
