//! One plugin, compiled when it is first used.

use std::borrow::Cow;
use std::path::PathBuf;
use std::sync::{Arc, OnceLock};

use ringmark_model::manifest::Manifest;
use ringmark_model::provenance::PluginIdentity;

use crate::Host;
use crate::engine::Maker;
use crate::error::HostError;
use crate::files::{Sink, Source};
use crate::inspect;
use crate::session::{Contract, Reading, Writing};
use crate::state::State;
use crate::text::{clean_in_place, clean_text};
use crate::v1::V1;

/// Bytes of the longest manifest.
const MANIFEST_BYTES: usize = 256 << 10;
/// Bytes of the longest text in a manifest.
const TEXT_BYTES: usize = 2048;

/// A plugin. Clones are the same plugin; it may be used from several threads at once.
#[derive(Clone)]
pub struct Plugin(Arc<Shared>);

struct Shared {
    host: Host,
    maker: Maker,
    code: Code,
    name: Arc<str>,
    manifest: Manifest,
    sha256: String,
    contract: OnceLock<Result<Box<dyn Contract>, HostError>>,
}

/// Where a plugin's bytes are.
enum Code {
    Here(Cow<'static, [u8]>),
    /// In a file that is read, and compared with the accepted digest, when the plugin is first used.
    File(PathBuf),
}

impl Shared {
    fn compile(&self) -> Result<Box<dyn Contract>, HostError> {
        let path = match &self.code {
            Code::Here(wasm) => {
                return compile(&self.host, self.maker, &self.name, wasm, &self.sha256);
            }
            Code::File(path) => path,
        };
        let wasm = std::fs::read(path).map_err(|error| {
            HostError::machine(&self.name, format!("reading {}", path.display()), error)
        })?;
        let found = inspect::sha256(&wasm);
        if found != self.sha256 {
            return Err(HostError::Changed {
                plugin: self.name.to_string(),
                pinned: self.sha256.clone(),
                found,
            });
        }
        inspect::inspect(&wasm, &self.host.0.limits.plugin)?;
        compile(&self.host, self.maker, &self.name, &wasm, &self.sha256)
    }
}

impl Plugin {
    /// `manifest` is what the plugin said of itself when its digest was accepted.
    pub(crate) fn pinned(host: Host, path: PathBuf, manifest: Manifest, sha256: &str) -> Self {
        Plugin(Arc::new(Shared {
            host,
            maker: Maker::Others,
            code: Code::File(path),
            name: manifest.name.as_str().into(),
            manifest,
            sha256: sha256.to_ascii_lowercase(),
            contract: OnceLock::new(),
        }))
    }

    pub(crate) fn bundled(
        host: Host,
        wasm: &'static [u8],
        manifest: Manifest,
        sha256: &str,
    ) -> Self {
        Plugin(Arc::new(Shared {
            host,
            maker: Maker::Us,
            code: Code::Here(Cow::Borrowed(wasm)),
            name: manifest.name.as_str().into(),
            manifest,
            sha256: sha256.to_ascii_lowercase(),
            contract: OnceLock::new(),
        }))
    }

    pub(crate) fn foreign(host: Host, wasm: Vec<u8>, pinned: &str) -> Result<Self, HostError> {
        let sha256 = inspect::sha256(&wasm);
        let label = inspect::label(&sha256);
        if !sha256.eq_ignore_ascii_case(pinned.trim()) {
            return Err(HostError::Changed {
                plugin: label,
                pinned: clean_text(pinned, 64),
                found: sha256,
            });
        }
        let inspection = inspect::inspect(&wasm, &host.0.limits.plugin)?;
        let contract = compile(&host, Maker::Others, &label, &wasm, &sha256)?;
        let engine = host.engine(Maker::Others)?;
        let store = engine.store(State::new(
            label.as_str().into(),
            host.0.limits.clone(),
            engine.ticks.clone(),
            Vec::new(),
            Vec::new(),
        ));
        let manifest = manifest(&label, &contract.describe(store)?)?;
        for (what, said, is) in [
            ("reads", manifest.reads, inspection.reads),
            ("writes", manifest.writes, inspection.writes),
        ] {
            if said && !is {
                return Err(HostError::contract(
                    &manifest.name,
                    format!("its manifest says that it {what}, but it has nothing that does"),
                ));
            }
        }
        Ok(Plugin(Arc::new(Shared {
            name: manifest.name.as_str().into(),
            host,
            maker: Maker::Others,
            code: Code::Here(Cow::Owned(wasm)),
            manifest,
            sha256,
            contract: OnceLock::from(Ok(contract)),
        })))
    }

    /// What it says about itself.
    pub fn manifest(&self) -> &Manifest {
        &self.0.manifest
    }

    /// Name, version and digest.
    pub fn identity(&self) -> PluginIdentity {
        PluginIdentity {
            name: self.0.manifest.name.clone(),
            version: self.0.manifest.version.clone(),
            sha256: self.0.sha256.clone(),
        }
    }

    /// Asks the plugin itself for its manifest, as JSON.
    pub fn describe(&self) -> Result<String, HostError> {
        let text = self
            .contract()?
            .describe(self.store(Vec::new(), Vec::new())?)?;
        manifest(&self.0.name, &text)?;
        Ok(text)
    }

    /// How sure the plugin is that it can read the file called `name` (without its folder) that
    /// starts with `head`: 0 no, 100 certain.
    pub fn recognise(&self, name: &str, head: &[u8]) -> Result<u32, HostError> {
        let store = self.store(Vec::new(), Vec::new())?;
        match self.contract()?.recognise(store, name, head)? {
            sure @ 0..=100 => Ok(sure),
            sure => Err(HostError::contract(
                &self.0.name,
                format!("it is {sure} % sure of '{}'", clean_text(name, 200)),
            )),
        }
    }

    /// Starts to read. `options` is a JSON object as the manifest describes it.
    pub fn read(&self, inputs: Vec<Box<dyn Source>>, options: &str) -> Result<Reading, HostError> {
        let store = self.store(inputs, Vec::new())?;
        Ok(Reading::new(self.contract()?.read(store, options)?))
    }

    /// Starts to write. `templates` are files that the outputs shall be copies of, for formats
    /// that work that way.
    pub fn write(
        &self,
        outputs: Vec<Box<dyn Sink>>,
        templates: Vec<Box<dyn Source>>,
        options: &str,
    ) -> Result<Writing, HostError> {
        let store = self.store(templates, outputs)?;
        Ok(Writing::new(self.contract()?.write(store, options)?))
    }

    fn contract(&self) -> Result<&dyn Contract, HostError> {
        let shared = &self.0;
        shared
            .contract
            .get_or_init(|| shared.compile())
            .as_deref()
            .map_err(Clone::clone)
    }

    fn store(
        &self,
        inputs: Vec<Box<dyn Source>>,
        outputs: Vec<Box<dyn Sink>>,
    ) -> Result<wasmtime::Store<State>, HostError> {
        let host = &self.0.host;
        let engine = host.engine(self.0.maker)?;
        Ok(engine.store(State::new(
            self.0.name.clone(),
            host.0.limits.clone(),
            engine.ticks.clone(),
            inputs,
            outputs,
        )))
    }
}

fn compile(
    host: &Host,
    maker: Maker,
    plugin: &str,
    wasm: &[u8],
    sha256: &str,
) -> Result<Box<dyn Contract>, HostError> {
    let engine = host.engine(maker)?;
    let component = engine.component(plugin, wasm, sha256, host.cache())?;
    Ok(Box::new(V1::new(plugin, engine, &component)?))
}

/// The manifest in a plugin's own words, checked so far as the program relies on it.
fn manifest(plugin: &str, text: &str) -> Result<Manifest, HostError> {
    let broken = |message: String| HostError::contract(plugin, message);
    if text.len() > MANIFEST_BYTES {
        return Err(broken(format!(
            "its manifest has {} bytes, allowed are {MANIFEST_BYTES}",
            text.len()
        )));
    }
    let mut manifest: Manifest = serde_json::from_str(text).map_err(|error| {
        broken(format!(
            "its manifest is not as the schema wants it: {}",
            clean_text(&error.to_string(), 300)
        ))
    })?;
    let kebab = |name: &str| {
        !name.is_empty()
            && name.len() <= 64
            && name.starts_with(|c: char| c.is_ascii_lowercase())
            && name
                .bytes()
                .all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-')
    };
    if !kebab(&manifest.name) {
        return Err(broken(format!(
            "'{}' is no name for a format: lower-case letters, digits and hyphens",
            clean_text(&manifest.name, 64)
        )));
    }
    if !matches!(manifest.contract_version(), Some((1, _))) {
        return Err(broken(format!(
            "its manifest names contract '{}', but it is built for 1.0",
            clean_text(&manifest.contract, 64)
        )));
    }
    for ending in &manifest.files.extensions {
        let plain = |b: u8| b.is_ascii_alphanumeric() || matches!(b, b'-' | b'_' | b'.');
        let sound = (1..=32).contains(&ending.len())
            && !ending.starts_with('.')
            && !ending.contains("..")
            && ending.bytes().all(plain);
        if !sound {
            return Err(broken(format!(
                "'{}' is no ending of file names",
                clean_text(ending, 64)
            )));
        }
    }
    for magic in &manifest.files.magic {
        if magic.len() % 2 != 0
            || magic.len() > 256
            || !magic.bytes().all(|b| b.is_ascii_hexdigit())
        {
            return Err(broken(format!(
                "'{}' is not leading bytes in hexadecimal",
                clean_text(magic, 64)
            )));
        }
    }
    for text in [
        &mut manifest.version,
        &mut manifest.title,
        &mut manifest.about,
    ] {
        clean_in_place(text, TEXT_BYTES);
    }
    for channel in &mut manifest.carries.channels {
        for text in [&mut channel.name, &mut channel.unit, &mut channel.note] {
            clean_in_place(text, TEXT_BYTES);
        }
    }
    for fact in &mut manifest.carries.facts {
        for text in [&mut fact.name, &mut fact.unit] {
            clean_in_place(text, TEXT_BYTES);
        }
    }
    Ok(manifest)
}
