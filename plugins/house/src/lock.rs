//! `plugins/bundled/bundled.json`: which components are bundled and what they were built from.

use std::path::{Path, PathBuf};

use anyhow::{Context, Result};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use crate::digest::hex;
use crate::toolchain::Toolchain;

/// The lock file.
#[derive(Serialize, Deserialize, Default)]
pub struct Lock {
    /// One entry a plugin, by name.
    pub plugins: Vec<Entry>,
}

/// One bundled component.
#[derive(Serialize, Deserialize, Clone)]
pub struct Entry {
    /// Name of the plugin.
    pub name: String,
    /// SHA-256 of the component.
    pub sha256: String,
    /// Digest of the sources it was built from.
    pub sources: String,
    /// The compiler it was built with.
    pub compiler: String,
    /// Its manifest, so that listing formats starts no engine.
    pub manifest: serde_json::Value,
}

impl Entry {
    /// The entry of a component just built.
    pub fn new(
        name: &str,
        folder: &Path,
        wasm: &[u8],
        sources: String,
        toolchain: &Toolchain,
    ) -> Result<Self> {
        let manifest = std::fs::read_to_string(folder.join("manifest.json"))
            .with_context(|| format!("cannot read the manifest of {name}"))?;
        Ok(Entry {
            name: name.to_owned(),
            sha256: hex(&Sha256::digest(wasm)),
            sources,
            compiler: toolchain.version.clone(),
            manifest: serde_json::from_str(&manifest)
                .with_context(|| format!("the manifest of {name} is no JSON"))?,
        })
    }
}

/// Where the component of `name` is kept.
pub fn component_path(root: &Path, name: &str) -> PathBuf {
    root.join("plugins/bundled").join(format!("{name}.wasm"))
}

impl Lock {
    fn path(root: &Path) -> PathBuf {
        root.join("plugins/bundled/bundled.json")
    }

    /// The committed lock; empty if there is none yet.
    pub fn read(root: &Path) -> Result<Self> {
        match std::fs::read_to_string(Self::path(root)) {
            Ok(text) => {
                serde_json::from_str(&text).context("plugins/bundled/bundled.json is damaged")
            }
            Err(_) => Ok(Lock::default()),
        }
    }

    /// The entry of a plugin.
    pub fn entry(&self, name: &str) -> Option<&Entry> {
        self.plugins.iter().find(|e| e.name == name)
    }

    /// Adds or replaces an entry.
    pub fn set(&mut self, entry: Entry) {
        self.plugins.retain(|e| e.name != entry.name);
        self.plugins.push(entry);
        self.plugins.sort_by(|a, b| a.name.cmp(&b.name));
    }

    /// Writes the lock file.
    pub fn write(&self, root: &Path) -> Result<()> {
        let text = serde_json::to_string_pretty(self)? + "\n";
        std::fs::write(Self::path(root), text).context("cannot write plugins/bundled/bundled.json")
    }
}

/// What is stale about a committed component, without building it.
pub fn compare(
    root: &Path,
    name: &str,
    sources: &str,
    committed: Option<&Entry>,
) -> Result<Vec<String>> {
    let Some(entry) = committed else {
        return Ok(vec![format!("{name}: not among the bundled components")]);
    };
    let mut stale = Vec::new();
    if entry.sources != sources {
        stale.push(format!(
            "{name}: its sources have changed since the component was built"
        ));
    }
    let path = component_path(root, name);
    let wasm = std::fs::read(&path).with_context(|| format!("cannot read {}", path.display()))?;
    if hex(&Sha256::digest(&wasm)) != entry.sha256 {
        stale.push(format!(
            "{name}: the committed component is not the one in bundled.json"
        ));
    }
    let origin = origin(&wasm)?;
    if origin["sources"] != entry.sources.as_str() {
        stale.push(format!(
            "{name}: the component says it was built from other sources"
        ));
    }
    Ok(stale)
}

/// The origin section of a component.
fn origin(wasm: &[u8]) -> Result<serde_json::Value> {
    for payload in wasmparser::Parser::new(0).parse_all(wasm) {
        if let wasmparser::Payload::CustomSection(section) = payload?
            && section.name() == crate::component::ORIGIN_SECTION
        {
            return Ok(serde_json::from_slice(section.data())?);
        }
    }
    Ok(serde_json::Value::Null)
}
