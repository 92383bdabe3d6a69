//! Mapping files: TOML that people write, JSON that plugins read.

use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail};

use crate::hash;

const SCHEMA: &str = include_str!("../../../schemas/mapping.schema.json");

/// A mapping file that fits its schema.
#[derive(Debug, Clone)]
pub struct Mapping {
    /// Its path, for messages and provenance.
    pub path: PathBuf,
    /// SHA-256 of the file.
    pub sha256: String,
    /// Its content.
    pub content: serde_json::Value,
}

impl Mapping {
    /// Reads and validates a mapping file.
    pub fn read(path: &Path) -> Result<Mapping> {
        let name = path.display();
        let text = std::fs::read_to_string(path).with_context(|| format!("{name}: cannot read"))?;
        let content: serde_json::Value = toml::from_str(&text)
            .map_err(|error| anyhow::anyhow!("{name}: no valid TOML\n{error}"))?;
        let schema: serde_json::Value =
            serde_json::from_str(SCHEMA).context("the mapping schema is damaged")?;
        let validator = jsonschema::validator_for(&schema)
            .map_err(|error| anyhow::anyhow!("the mapping schema is damaged: {error}"))?;
        let errors: Vec<String> = validator
            .iter_errors(&content)
            .map(|error| {
                let place = error.instance_path().to_string();
                let place = if place.is_empty() { "/" } else { &place };
                format!("  {place}: {error}")
            })
            .collect();
        if !errors.is_empty() {
            bail!(
                "{name}: not a mapping\n{}\nschemas/mapping.schema.json describes what a mapping can say",
                errors.join("\n")
            );
        }
        Ok(Mapping {
            path: path.to_path_buf(),
            sha256: hash::of_bytes(text.as_bytes()),
            content,
        })
    }

    /// The mapping beside an input, `NAME.mapping.toml` for `NAME.csv`.
    pub fn beside(input: &Path) -> Option<PathBuf> {
        let beside = input.with_extension("mapping.toml");
        beside.is_file().then_some(beside)
    }
}
