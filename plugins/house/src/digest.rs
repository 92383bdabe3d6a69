//! The digest of all that decides what a component's bytes are.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result};
use sha2::{Digest, Sha256};

/// Folders of the workspace that every plugin is built from, besides its own.
const SHARED: &[&str] = &[
    "plugins/sdk",
    "plugins/contract/v1",
    "converter-core/quantity",
];

/// SHA-256 in hexadecimal over the plugin's sources, those it shares with all plugins, its
/// part of the lock file and the build profiles.
pub fn sources(root: &Path, folder: &Path) -> Result<String> {
    let mut hash = Sha256::new();
    let mut folders: Vec<PathBuf> = SHARED.iter().map(|f| root.join(f)).collect();
    folders.push(folder.to_path_buf());
    for folder in folders {
        let mut files = Vec::new();
        source_files(&folder, &mut files)?;
        files.sort();
        for file in files {
            let name = file.strip_prefix(root).unwrap_or(&file);
            let bytes =
                std::fs::read(&file).with_context(|| format!("cannot read {}", file.display()))?;
            field(
                &mut hash,
                name.to_string_lossy().replace('\\', "/").as_bytes(),
            );
            field(&mut hash, &bytes);
        }
    }
    let packages = locked_packages(root, &package_name(&folder.join("Cargo.toml"))?)?;
    for package in &packages {
        field(&mut hash, package.as_bytes());
    }
    field(&mut hash, settings(root, &packages)?.as_bytes());
    Ok(hex(&hash.finalize()))
}

/// Every part is preceded by its length, so that no two different lists share a digest.
fn field(hash: &mut Sha256, bytes: &[u8]) {
    hash.update((bytes.len() as u64).to_le_bytes());
    hash.update(bytes);
}

/// What is compiled into a plugin: Rust code, manifests, the contract. No tests, benches or notes.
fn source_files(folder: &Path, files: &mut Vec<PathBuf>) -> Result<()> {
    for entry in
        std::fs::read_dir(folder).with_context(|| format!("cannot list {}", folder.display()))?
    {
        let path = entry?.path();
        let name = path.file_name().map(|n| n.to_string_lossy().into_owned());
        let name = name.unwrap_or_default();
        if path.is_dir() {
            if !matches!(name.as_str(), "tests" | "benches" | "samples" | "target") {
                source_files(&path, files)?;
            }
        } else if matches!(
            path.extension().and_then(|e| e.to_str()),
            Some("rs" | "toml" | "json" | "wit")
        ) {
            files.push(path);
        }
    }
    Ok(())
}

/// `package.name` of a Cargo manifest.
pub fn package_name(manifest: &Path) -> Result<String> {
    let text = std::fs::read_to_string(manifest)
        .with_context(|| format!("cannot read {}", manifest.display()))?;
    let value: toml::Table = text.parse()?;
    value
        .get("package")
        .and_then(|p| p.get("name"))
        .and_then(toml::Value::as_str)
        .map(str::to_owned)
        .with_context(|| format!("{} names no package", manifest.display()))
}

/// The lock file's lines for all packages that `package` depends on: a change elsewhere in the
/// workspace does not make a component stale.
fn locked_packages(root: &Path, package: &str) -> Result<BTreeSet<String>> {
    let text =
        std::fs::read_to_string(root.join("Cargo.lock")).context("cannot read Cargo.lock")?;
    let lock: toml::Table = text.parse()?;
    let packages: Vec<&toml::Value> = lock
        .get("package")
        .and_then(toml::Value::as_array)
        .map(|list| list.iter().collect())
        .unwrap_or_default();
    let text = |package: &toml::Value, key: &str| {
        package
            .get(key)
            .and_then(toml::Value::as_str)
            .unwrap_or_default()
            .to_owned()
    };
    let mut open = vec![package.to_owned()];
    let mut seen = BTreeSet::new();
    let mut lines = BTreeSet::new();
    while let Some(wanted) = open.pop() {
        if !seen.insert(wanted.clone()) {
            continue;
        }
        // A dependency is written as `name` or, where several versions exist, `name version`.
        let (name, version) = wanted.split_once(' ').unwrap_or((&wanted, ""));
        for found in packages.iter().filter(|p| {
            text(p, "name") == name && (version.is_empty() || text(p, "version") == version)
        }) {
            // The workspace's own packages are covered by their sources; dev-dependencies of
            // theirs stand in the same list and do no harm but a rebuild.
            lines.insert(format!(
                "{name} {} {}",
                text(found, "version"),
                text(found, "checksum")
            ));
            open.extend(
                found
                    .get("dependencies")
                    .and_then(toml::Value::as_array)
                    .into_iter()
                    .flatten()
                    .filter_map(toml::Value::as_str)
                    .map(str::to_owned),
            );
        }
    }
    Ok(lines)
}

/// What the workspace's manifest says that decides the bytes: the build profiles, and the
/// features of the packages in use.
fn settings(root: &Path, packages: &BTreeSet<String>) -> Result<String> {
    let text =
        std::fs::read_to_string(root.join("Cargo.toml")).context("cannot read Cargo.toml")?;
    let table: toml::Table = text.parse()?;
    let part = |outer: &toml::Table, path: &[&str]| -> String {
        let mut value = outer.get(path[0]);
        for key in &path[1..] {
            value = value.and_then(|v| v.get(key));
        }
        value.map(ToString::to_string).unwrap_or_default()
    };
    let mut settings = vec![
        part(&table, &["profile", "release"]),
        part(&table, &["profile", "plugin"]),
    ];
    for package in packages {
        let name = package.split(' ').next().unwrap_or_default();
        settings.push(part(&table, &["workspace", "dependencies", name]));
    }
    Ok(settings.join("\n"))
}

/// Lower-case hexadecimal.
pub fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}
