//! Compiled code on disk is used only as this program wrote it.
#![cfg(unix)]

use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};

use ringmark_host::{CacheMode, Host, HostConfig};

use crate::guest::{Guest, good, load};
use crate::run::{limits, read_all};

/// A new run of the program.
fn run(folder: &Path) -> Host {
    Host::new(HostConfig {
        limits: limits(),
        cache: CacheMode::Folder(folder.to_owned()),
    })
    .unwrap()
}

fn entries(folder: &Path) -> Vec<PathBuf> {
    fs::read_dir(folder)
        .map(|entries| {
            entries
                .map(|entry| entry.unwrap().path())
                .filter(|path| path.extension().is_some())
                .collect()
        })
        .unwrap_or_default()
}

fn only_entry(folder: &Path) -> PathBuf {
    let entries = entries(folder);
    assert_eq!(entries.len(), 1);
    entries.into_iter().next().unwrap()
}

#[track_caller]
fn works(folder: &Path) {
    assert_eq!(read_all(&run(folder), &good()).unwrap().len(), 2);
}

#[test]
fn a_second_run_uses_the_code_of_the_first() {
    let home = tempfile::tempdir().unwrap();
    let folder = home.path().join("cache");
    works(&folder);
    let entry = only_entry(&folder);
    let written = fs::metadata(&entry).unwrap().modified().unwrap();
    works(&folder);
    assert_eq!(
        fs::metadata(only_entry(&folder))
            .unwrap()
            .modified()
            .unwrap(),
        written
    );
}

#[test]
fn damaged_code_is_never_run() {
    let home = tempfile::tempdir().unwrap();
    let folder = home.path().join("cache");
    works(&folder);
    let entry = only_entry(&folder);
    let sound = fs::read(&entry).unwrap();
    let places = 250;
    for place in 0..places {
        let bit = place * sound.len() * 8 / places + place % 8;
        let mut damaged = sound.clone();
        damaged[bit / 8] ^= 1 << (bit % 8);
        fs::write(&entry, &damaged).unwrap();
        works(&folder);
        assert_ne!(fs::read(&entry).unwrap(), damaged, "bit {bit} was accepted");
    }
    for length in [0, 1, 31, 32, 33, sound.len() / 2, sound.len() - 1] {
        fs::write(&entry, &sound[..length]).unwrap();
        works(&folder);
        assert!(fs::read(&entry).unwrap().len() > length, "{length}");
    }
}

#[test]
fn code_of_another_plugin_or_user_is_never_run() {
    let home = tempfile::tempdir().unwrap();
    let (one, two, three) = (
        home.path().join("one"),
        home.path().join("two"),
        home.path().join("three"),
    );
    works(&one);
    let entry = only_entry(&one);
    let name = entry.file_name().unwrap();

    let other = Guest {
        next: "(unreachable)",
        ..Guest::default()
    }
    .build();
    load(&run(&two), &other).unwrap();
    let code = fs::read(only_entry(&two)).unwrap();
    fs::write(&entry, &code).unwrap();
    works(&one);
    assert_ne!(fs::read(&entry).unwrap(), code);

    // The same plugin, compiled for somebody with another key.
    works(&three);
    let code = fs::read(&entry).unwrap();
    fs::write(three.join(name), &code).unwrap();
    works(&three);
    assert_ne!(fs::read(three.join(name)).unwrap(), code);
}

#[test]
fn a_folder_that_others_can_enter_is_left_alone() {
    let home = tempfile::tempdir().unwrap();
    let folder = home.path().join("cache");
    fs::create_dir(&folder).unwrap();
    fs::set_permissions(&folder, fs::Permissions::from_mode(0o755)).unwrap();
    works(&folder);
    assert_eq!(fs::read_dir(&folder).unwrap().count(), 0);
}

#[test]
fn without_a_usable_folder_plugins_still_run() {
    let home = tempfile::tempdir().unwrap();
    let file = home.path().join("file");
    fs::write(&file, "").unwrap();
    works(&file.join("below"));
    works(Path::new("/proc/no/such/place"));
    // A damaged key.
    let folder = home.path().join("cache");
    works(&folder);
    fs::write(folder.join("key"), "short").unwrap();
    works(&folder);
}
