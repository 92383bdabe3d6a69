//! Every input that fuzzing kept, through the body of its target, without a fuzzer.
#![allow(missing_docs, clippy::unwrap_used)]

#[path = "fuzz/src/lib.rs"]
mod targets;

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

fn folder() -> PathBuf {
    ringmark_tests::root().join("tests/fuzz")
}

/// Names of what a folder holds; nothing if there is no such folder.
fn names(folder: &Path) -> BTreeSet<String> {
    let Ok(entries) = std::fs::read_dir(folder) else {
        return BTreeSet::new();
    };
    entries
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect()
}

#[test]
fn every_kept_input_passes() {
    for (target, _) in targets::TARGETS {
        let mut files = 0;
        for kind in ["corpus", "crashes"] {
            let folder = folder().join(kind).join(target);
            for name in names(&folder) {
                let path = folder.join(&name);
                let bytes = std::fs::read(&path).unwrap();
                if let Err(panic) = std::panic::catch_unwind(|| targets::run(target, &bytes)) {
                    eprintln!("with {}", path.display());
                    std::panic::resume_unwind(panic);
                }
                files += 1;
            }
        }
        assert!(files >= 5, "{target} has {files} inputs");
    }
}

#[test]
fn the_corpus_is_small() {
    for target in names(&folder().join("corpus")) {
        let folder = folder().join("corpus").join(&target);
        let names = names(&folder);
        let bytes: u64 = names
            .iter()
            .map(|name| folder.join(name).metadata().unwrap().len())
            .sum();
        assert!(names.len() <= 40, "{target}: {} files", names.len());
        assert!(bytes <= 100_000, "{target}: {bytes} bytes");
    }
}

/// A target, its binary and its folders have one name, and no folder is left over.
#[test]
fn targets_are_complete() {
    let ours: BTreeSet<String> = targets::TARGETS.iter().map(|(t, _)| (*t).into()).collect();
    let stems: BTreeSet<String> = names(&folder().join("fuzz_targets"))
        .iter()
        .map(|name| name.trim_end_matches(".rs").to_owned())
        .collect();
    assert_eq!(stems, ours);
    let manifest = std::fs::read_to_string(folder().join("Cargo.toml")).unwrap();
    let manifest: toml::Value = toml::from_str(&manifest).unwrap();
    let binaries: BTreeSet<String> = manifest["bin"]
        .as_array()
        .unwrap()
        .iter()
        .map(|bin| bin["name"].as_str().unwrap().to_owned())
        .collect();
    assert_eq!(binaries, ours);
    assert_eq!(names(&folder().join("corpus")), ours);
    assert!(names(&folder().join("crashes")).is_subset(&ours));
    for name in &ours {
        let text = std::fs::read_to_string(folder().join(format!("fuzz_targets/{name}.rs")));
        assert!(text.unwrap().contains(&format!("run(\"{name}\"")), "{name}");
    }
}
