//! The bundled plugins in the process of a test: faster than the program, and nearer to what is
//! tested.

use std::path::Path;
use std::sync::Arc;

use anyhow::{Context, Result, anyhow, bail};
use ringmark::document::ReadFailure;
use ringmark_host::{
    CacheMode, Host, HostConfig, HostError, Limits, MemorySink, MemorySource, Plugin, Sink, Source,
};
use ringmark_model::json::{JsonLinesWriter, ReadError, open};
use ringmark_model::manifest::PerFrame;
use ringmark_model::raw::RawItem;
use ringmark_model::{LossReport, Manifest, Piece};
use ringmark_normalise::{ForWriter, Normaliser};
use serde_json::Value;

use crate::root;

/// The plugins that `plugins/bundled` holds, read from there.
pub struct Plugins(Vec<Plugin>);

impl Plugins {
    /// `tmp` is `env!("CARGO_TARGET_TMPDIR")`, where compiled plugins are kept between tests.
    pub fn new(tmp: &str) -> Result<Plugins> {
        let host = Host::new(HostConfig {
            limits: Limits::default(),
            cache: CacheMode::Folder(Path::new(tmp).join("compiled-plugins/compiled")),
        })?;
        let mut plugins = Vec::new();
        for entry in bundled_entries()? {
            let wasm: &'static [u8] = std::fs::read(&entry.path)
                .with_context(|| entry.path.display().to_string())?
                .leak();
            plugins.push(host.bundled(wasm, entry.manifest, &entry.sha256));
        }
        Ok(Plugins(plugins))
    }

    /// All of them.
    pub fn all(&self) -> &[Plugin] {
        &self.0
    }

    /// The one called `name`.
    pub fn named(&self, name: &str) -> Result<&Plugin> {
        self.0
            .iter()
            .find(|plugin| plugin.manifest().name == name)
            .ok_or_else(|| anyhow!("no bundled plugin '{name}'"))
    }
}

/// One plugin of `plugins/bundled/bundled.json`.
pub struct BundledEntry {
    /// The component.
    pub path: std::path::PathBuf,
    /// Its SHA-256 as the list has it.
    pub sha256: String,
    /// Its manifest as the list has it.
    pub manifest: Manifest,
    /// The same as JSON.
    pub manifest_json: Value,
}

/// The list of bundled plugins.
pub fn bundled_entries() -> Result<Vec<BundledEntry>> {
    let folder = root().join("plugins/bundled");
    let list: Value = serde_json::from_slice(&std::fs::read(folder.join("bundled.json"))?)?;
    let Some(plugins) = list["plugins"].as_array() else {
        bail!("bundled.json has no plugins");
    };
    plugins
        .iter()
        .map(|entry| {
            let text = |key: &str| entry[key].as_str().unwrap_or_default().to_owned();
            Ok(BundledEntry {
                path: folder.join(format!("{}.wasm", text("name"))),
                sha256: text("sha256"),
                manifest: serde_json::from_value(entry["manifest"].clone())?,
                manifest_json: entry["manifest"].clone(),
            })
        })
        .collect()
}

/// Files as the inputs of a plugin.
pub fn sources(files: &[(String, Vec<u8>)]) -> Vec<Box<dyn Source>> {
    files
        .iter()
        .flat_map(|(name, bytes)| source(name, bytes.as_slice()))
        .collect()
}

/// Bytes as the one input of a plugin.
pub fn source(name: &str, bytes: impl Into<Arc<[u8]>>) -> Vec<Box<dyn Source>> {
    vec![Box::new(MemorySource::new(name, bytes))]
}

/// All items that a plugin reads from its inputs.
pub fn items(
    plugin: &Plugin,
    inputs: Vec<Box<dyn Source>>,
    options: &str,
) -> Result<Vec<RawItem>, HostError> {
    let mut reading = plugin.read(inputs, options)?;
    let mut items = Vec::new();
    while let Some(item) = reading.next()? {
        items.push(item);
    }
    Ok(items)
}

/// The same as pieces in canonical units.
pub fn pieces(
    plugin: &Plugin,
    inputs: Vec<Box<dyn Source>>,
    options: &str,
) -> Result<Vec<Piece>, ReadFailure> {
    let mut normaliser = Normaliser::new();
    let mut pieces = Vec::new();
    for item in items(plugin, inputs, options)? {
        normaliser.item(item, &mut pieces)?;
    }
    Ok(pieces)
}

/// Files by name.
pub type Files = Vec<(String, Vec<u8>)>;

/// What a plugin writes for pieces, and what it could not carry. `templates` are the files that
/// a format of one file a frame takes; other formats pass over them.
pub fn written(
    plugin: &Plugin,
    pieces: &[Piece],
    templates: &[(String, Vec<u8>)],
) -> Result<(Files, LossReport)> {
    let files = &plugin.manifest().files;
    let ending = files.extensions.first().map_or("", String::as_str);
    let templates = match files.per_frame {
        Some(_) => templates,
        None => &[],
    };
    let (names, parts) = if templates.is_empty() {
        (
            vec![format!("take.{ending}")],
            files.sections.max(1) as usize,
        )
    } else {
        let name = |(name, _): &(String, Vec<u8>)| match files.per_frame {
            Some(PerFrame::Sidecar) => Path::new(name)
                .with_extension(ending)
                .to_string_lossy()
                .into_owned(),
            _ => name.clone(),
        };
        (templates.iter().map(name).collect(), 1)
    };
    let sinks: Vec<MemorySink> = (0..names.len() * parts)
        .map(|_| MemorySink::new())
        .collect();
    let outputs = sinks.iter().map(|s| Box::new(s.clone()) as Box<dyn Sink>);
    let sources = templates
        .iter()
        .map(|(name, bytes)| {
            Box::new(MemorySource::new(name.clone(), bytes.as_slice())) as Box<dyn Source>
        })
        .collect();
    let mut writing = plugin.write(outputs.collect(), sources, "{}")?;
    let mut for_writer = ForWriter::new(plugin.manifest());
    for piece in pieces {
        if let Some(item) = for_writer.item(piece)? {
            writing.put(item)?;
        }
    }
    writing.finish()?;
    let files = names
        .into_iter()
        .zip(sinks.chunks(parts))
        .map(|(name, parts)| (name, parts.iter().flat_map(MemorySink::take).collect()))
        .collect();
    Ok((files, for_writer.into_losses()))
}

/// Pieces as a `.take.jsonl`.
pub fn neutral_lines(pieces: &[Piece]) -> Result<Vec<u8>> {
    let mut lines = JsonLinesWriter::new(Vec::new());
    for piece in pieces {
        lines.put(piece)?;
    }
    if !matches!(pieces.last(), Some(Piece::End(_))) {
        lines.put(&Piece::End(Vec::new()))?;
    }
    Ok(lines.finish()?)
}

/// The pieces of a neutral document in any form.
pub fn from_neutral(bytes: &[u8]) -> Result<Vec<Piece>, ReadError> {
    let mut reader = open("document", bytes);
    let mut pieces = Vec::new();
    while let Some(piece) = reader.next_piece()? {
        pieces.push(piece);
    }
    Ok(pieces)
}
