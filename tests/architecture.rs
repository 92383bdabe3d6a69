//! The directions between crates, as DEVELOPERS.md gives them: any other edge fails.
#![allow(missing_docs, clippy::unwrap_used)]

use std::collections::BTreeMap;
use std::process::Command;

/// Crate → what it may depend on, among our own crates.
const ALLOWED: &[(&str, &[&str])] = &[
    ("ringmark-quantity", &[]),
    ("ringmark-model", &["ringmark-quantity"]),
    ("ringmark-optics", &["ringmark-quantity", "ringmark-model"]),
    (
        "ringmark-normalise",
        &["ringmark-quantity", "ringmark-model"],
    ),
    ("ringmark-outputs", &["ringmark-quantity", "ringmark-model"]),
    (
        "ringmark-checks",
        &["ringmark-quantity", "ringmark-model", "ringmark-optics"],
    ),
    ("ringmark-host", &["ringmark-model"]),
    ("ringmark-sdk", &["ringmark-quantity"]),
    ("ringmark-table", &["ringmark-sdk"]),
    ("ringmark-acquisition-klv", &["ringmark-sdk"]),
    ("ringmark-ebucore", &["ringmark-sdk"]),
    ("ringmark-exif-xmp", &["ringmark-sdk"]),
    ("ringmark-fdl", &["ringmark-sdk"]),
    ("ringmark-usd-camera", &["ringmark-sdk"]),
    ("ringmark-openexr", &["ringmark-sdk"]),
    ("ringmark-opentrackio", &["ringmark-sdk"]),
    ("ringmark-house", &[]),
    (
        "ringmark",
        &[
            "ringmark-quantity",
            "ringmark-model",
            "ringmark-optics",
            "ringmark-normalise",
            "ringmark-outputs",
            "ringmark-checks",
            "ringmark-host",
        ],
    ),
];

/// Libraries that only one crate may know.
const ONLY: &[(&str, &[&str])] = &[
    ("wasmtime", &["ringmark-host"]),
    ("clap", &["ringmark", "ringmark-house", "ringmark-tests"]),
    ("annotate-snippets", &["ringmark-outputs"]),
    ("exr", &["ringmark-outputs"]),
    ("svg", &["ringmark-outputs"]),
    ("anyhow", &["ringmark", "ringmark-house", "ringmark-tests"]),
    ("wit-bindgen", &["ringmark-sdk"]),
];

/// Crate → its dependencies outside tests and builds.
fn edges() -> BTreeMap<String, Vec<String>> {
    let output = Command::new(env!("CARGO"))
        .args([
            "metadata",
            "--format-version",
            "1",
            "--no-deps",
            "--offline",
        ])
        .current_dir(ringmark_tests::root())
        .output()
        .unwrap();
    let metadata: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    metadata["packages"]
        .as_array()
        .unwrap()
        .iter()
        .map(|package| {
            let dependencies = package["dependencies"]
                .as_array()
                .unwrap()
                .iter()
                .filter(|d| d["kind"].is_null())
                .map(|d| d["name"].as_str().unwrap().to_owned())
                .collect();
            (package["name"].as_str().unwrap().to_owned(), dependencies)
        })
        .collect()
}

#[test]
fn crates_depend_only_on_what_lies_below_them() {
    let edges = edges();
    assert!(edges.len() > 10, "{edges:?}");
    for (name, dependencies) in &edges {
        if name == "ringmark-tests" {
            continue;
        }
        let (_, allowed) = ALLOWED
            .iter()
            .find(|(n, _)| n == name)
            .unwrap_or_else(|| panic!("{name} is not in the table of DEVELOPERS.md"));
        for dependency in dependencies.iter().filter(|d| edges.contains_key(*d)) {
            assert!(
                allowed.contains(&dependency.as_str()),
                "{name} → {dependency}"
            );
        }
    }
}

#[test]
fn libraries_stay_behind_their_border() {
    for (name, dependencies) in edges() {
        for (library, owners) in ONLY {
            assert!(
                !dependencies.iter().any(|d| d == library) || owners.contains(&name.as_str()),
                "{name} knows {library}"
            );
        }
    }
}

#[test]
fn the_top_level_holds_nothing_new() {
    let allowed = [
        "CHANGELOG.md",
        "Cargo.lock",
        "Cargo.toml",
        "DEVELOPERS.md",
        "LICENSE-APACHE",
        "LICENSE-MIT",
        "README.md",
        "converter-core",
        "plugins",
        "samples",
        "schemas",
        "target",
        "tests",
    ];
    for entry in std::fs::read_dir(ringmark_tests::root()).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        assert!(
            name.starts_with('.') || allowed.contains(&name.as_str()),
            "{name}: a new top-level entry needs a strong reason"
        );
    }
}
