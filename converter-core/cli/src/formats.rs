//! All formats this program knows: the neutral forms, the bundled plugins and those the
//! person added.

use std::path::{Path, PathBuf};

use anyhow::{Context, Result, anyhow, bail};
use ringmark_host::{CacheMode, Host, HostConfig, Limits, Plugin};
use ringmark_model::Manifest;
use serde::{Deserialize, Serialize};

use crate::folders;

/// A component that is part of the program.
struct Bundled {
    name: &'static str,
    wasm: &'static [u8],
}

macro_rules! bundled {
    ($($name:literal),* $(,)?) => {
        &[$(Bundled {
            name: $name,
            wasm: include_bytes!(concat!("../../../plugins/bundled/", $name, ".wasm")),
        },)*]
    };
}

const BUNDLED: &[Bundled] = bundled![
    "acquisition-klv",
    "ebucore",
    "exif-xmp",
    "fdl",
    "openexr",
    "opentrackio",
    "table",
    "usd-camera"
];
const BUNDLED_LIST: &str = include_str!("../../../plugins/bundled/bundled.json");

#[derive(Deserialize)]
struct BundledList {
    plugins: Vec<BundledEntry>,
}

#[derive(Deserialize)]
struct BundledEntry {
    name: String,
    sha256: String,
    manifest: Manifest,
}

/// A plugin the person added, pinned to its bytes.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Pin {
    /// File in the plugin folder.
    pub file: String,
    /// SHA-256 of the component.
    pub sha256: String,
    /// Its manifest when it was added, so that listing starts no engine.
    pub manifest: Manifest,
}

/// The list of added plugins.
#[derive(Debug, Default, Serialize, Deserialize)]
pub struct Pins {
    /// One entry a plugin.
    pub plugins: Vec<Pin>,
}

impl Pins {
    /// The file that lists the added plugins.
    pub fn path() -> Result<PathBuf> {
        Ok(folders::config()?.join("plugins.json"))
    }

    /// Folder of the components.
    pub fn folder() -> Result<PathBuf> {
        Ok(folders::config()?.join("plugins"))
    }

    /// The added plugins; none if there is no list.
    pub fn read() -> Result<Self> {
        let Ok(path) = Self::path() else {
            return Ok(Self::default());
        };
        match std::fs::read_to_string(&path) {
            Ok(text) => serde_json::from_str(&text)
                .with_context(|| format!("{}: damaged list of plugins", path.display())),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(Self::default()),
            Err(error) => Err(error).with_context(|| format!("{}: cannot read", path.display())),
        }
    }
}

/// A form of the neutral document.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Neutral {
    /// `.lens.json`
    Lens,
    /// `.take.json`
    Take,
    /// `.take.jsonl`
    TakeLines,
}

impl Neutral {
    /// All forms.
    pub const ALL: [Neutral; 3] = [Neutral::Lens, Neutral::Take, Neutral::TakeLines];

    /// Name of the format, which is also the file ending.
    pub const fn name(self) -> &'static str {
        match self {
            Neutral::Lens => "lens.json",
            Neutral::Take => "take.json",
            Neutral::TakeLines => "take.jsonl",
        }
    }

    /// The form whose ending a file name has.
    pub fn of(name: &str) -> Option<Neutral> {
        let name = name.to_ascii_lowercase();
        Neutral::ALL
            .into_iter()
            .find(|form| name.ends_with(&format!(".{}", form.name())))
    }
}

/// A format that was chosen.
#[derive(Clone)]
pub enum Format {
    /// A form of the neutral document.
    Neutral(Neutral),
    /// A plugin's format.
    Plugin(Plugin),
}

impl Format {
    /// The name users type.
    pub fn name(&self) -> &str {
        match self {
            Format::Neutral(form) => form.name(),
            Format::Plugin(plugin) => &plugin.manifest().name,
        }
    }

    /// File ending of outputs.
    pub fn ending(&self) -> String {
        match self {
            Format::Neutral(form) => form.name().to_owned(),
            Format::Plugin(plugin) => plugin
                .manifest()
                .files
                .extensions
                .first()
                .cloned()
                .unwrap_or_else(|| plugin.manifest().name.clone()),
        }
    }
}

/// All formats.
pub struct Formats {
    host: Host,
    plugins: Vec<Plugin>,
    /// How many of them, at the front, are part of the program.
    bundled: usize,
}

impl Formats {
    /// Bundled plugins and those added; nothing is compiled yet.
    pub fn load(no_cache: bool) -> Result<Formats> {
        let mut formats = Self::bundled(no_cache)?;
        let pins = Pins::read()?.plugins;
        if pins.is_empty() {
            return Ok(formats);
        }
        let folder = Pins::folder()?;
        for pin in pins {
            if formats
                .plugins
                .iter()
                .any(|p| p.manifest().name == pin.manifest.name)
            {
                bail!(
                    "two plugins are called '{}': `ringmark plugin remove {}` removes the added one",
                    pin.manifest.name,
                    pin.manifest.name
                );
            }
            let path = folder.join(&pin.file);
            formats
                .plugins
                .push(formats.host.pinned(path, pin.manifest, &pin.sha256));
        }
        Ok(formats)
    }

    /// The plugins that are part of the program.
    pub fn bundled(no_cache: bool) -> Result<Formats> {
        let cache = match folders::cache() {
            Ok(folder) if !no_cache => CacheMode::Folder(folder.join("compiled")),
            _ => CacheMode::Off,
        };
        let host = Host::new(HostConfig {
            limits: Limits::default(),
            cache,
        })?;
        let list: BundledList =
            serde_json::from_str(BUNDLED_LIST).context("the list of bundled plugins is damaged")?;
        let mut plugins = Vec::new();
        for entry in list.plugins {
            let bundled = BUNDLED
                .iter()
                .find(|b| b.name == entry.name)
                .ok_or_else(|| anyhow!("the bundled plugin '{}' is missing", entry.name))?;
            plugins.push(host.bundled(bundled.wasm, entry.manifest, &entry.sha256));
        }
        let bundled = plugins.len();
        Ok(Formats {
            host,
            plugins,
            bundled,
        })
    }

    /// All plugins, bundled ones first.
    pub fn plugins(&self) -> &[Plugin] {
        &self.plugins
    }

    /// Whether the plugin at this index of [`Formats::plugins`] is bundled.
    pub fn is_bundled(&self, index: usize) -> bool {
        index < self.bundled
    }

    /// File endings of formats in which many numbered files make one take.
    pub fn sequence_endings(&self) -> Vec<String> {
        self.plugins
            .iter()
            .filter(|p| p.manifest().files.sequence)
            .flat_map(|p| p.manifest().files.extensions.clone())
            .collect()
    }

    /// The format called `name`.
    pub fn named(&self, name: &str) -> Result<Format> {
        if let Some(form) = Neutral::ALL.into_iter().find(|f| f.name() == name) {
            return Ok(Format::Neutral(form));
        }
        if let Some(plugin) = self.plugins.iter().find(|p| p.manifest().name == name) {
            return Ok(Format::Plugin(plugin.clone()));
        }
        let names: Vec<&str> = Neutral::ALL
            .iter()
            .map(|f| f.name())
            .chain(self.plugins.iter().map(|p| p.manifest().name.as_str()))
            .collect();
        let nearest = names
            .iter()
            .map(|n| (strsim::damerau_levenshtein(n, name), *n))
            .min()
            .filter(|(distance, _)| *distance <= 3)
            .map(|(_, n)| format!("; did you mean {n}?"))
            .unwrap_or_default();
        bail!(
            "there is no format '{name}'{nearest}\nformats: {}",
            names.join(", ")
        )
    }

    /// The format in which an output called `path` is written, by its ending.
    pub fn for_output(&self, path: &Path) -> Result<Format> {
        let name = path.file_name().map(|n| n.to_string_lossy().into_owned());
        let name = name.unwrap_or_default();
        if let Some(form) = Neutral::of(&name) {
            return Ok(Format::Neutral(form));
        }
        let fits: Vec<&Plugin> = self
            .plugins
            .iter()
            .filter(|p| p.manifest().writes && has_ending(p.manifest(), &name))
            .collect();
        match fits.as_slice() {
            [only] => Ok(Format::Plugin((*only).clone())),
            [] => bail!("{name}: no format is written with this ending; say --to FORMAT"),
            several => bail!(
                "{name}: {} are written with this ending; say --to FORMAT",
                several
                    .iter()
                    .map(|p| p.manifest().name.as_str())
                    .collect::<Vec<_>>()
                    .join(", ")
            ),
        }
    }

    /// The format of an input, by its name and first bytes. `-`, which is standard input, may be
    /// any format.
    pub fn recognise(&self, name: &str, head: &[u8]) -> Result<Recognised> {
        if let Some(form) = Neutral::of(name) {
            return Ok(Recognised::As(Format::Neutral(form)));
        }
        if looks_neutral(head) {
            return Ok(Recognised::As(Format::Neutral(Neutral::TakeLines)));
        }
        let readers = || self.plugins.iter().filter(|p| p.manifest().reads);
        let magic: Vec<&Plugin> = readers()
            .filter(|p| has_magic(p.manifest(), head))
            .collect();
        if let [only] = magic.as_slice() {
            return Ok(Recognised::As(Format::Plugin((*only).clone())));
        }
        // Several endings may fit: the plugins say how sure they are.
        let candidates: Vec<&Plugin> = if magic.is_empty() {
            readers()
                .filter(|p| name == "-" || has_ending(p.manifest(), name))
                .collect()
        } else {
            magic
        };
        let mut sure = Vec::new();
        for plugin in &candidates {
            // A plugin with a magic number of its own that the file does not have cannot read it.
            if !plugin.manifest().files.magic.is_empty() && !has_magic(plugin.manifest(), head) {
                continue;
            }
            sure.push((plugin.recognise(name, head)?, (*plugin).clone()));
        }
        sure.retain(|(confidence, _)| *confidence > 0);
        sure.sort_by_key(|(confidence, _)| std::cmp::Reverse(*confidence));
        match sure.as_slice() {
            [] => Ok(Recognised::Not {
                tried: candidates
                    .iter()
                    .map(|p| p.manifest().name.clone())
                    .collect(),
            }),
            [(a, first), (b, second), ..] if a == b => bail!(
                "{name}: {} and {} both claim this file; say --from FORMAT",
                first.manifest().name,
                second.manifest().name
            ),
            [(_, first), ..] => Ok(Recognised::As(Format::Plugin(first.clone()))),
        }
    }
}

/// Whether an input was recognised.
pub enum Recognised {
    /// In this format.
    As(Format),
    /// Not at all; these formats have its ending but do not know its content.
    Not {
        /// Names of the formats.
        tried: Vec<String>,
    },
}

fn has_ending(manifest: &Manifest, name: &str) -> bool {
    let name = name.to_ascii_lowercase();
    manifest
        .files
        .extensions
        .iter()
        .any(|e| name.ends_with(&format!(".{e}")))
}

fn has_magic(manifest: &Manifest, head: &[u8]) -> bool {
    manifest.files.magic.iter().any(|hex| {
        !hex.is_empty()
            && hex.len() / 2 <= head.len()
            && (0..hex.len() / 2).all(|i| {
                hex.get(2 * i..2 * i + 2)
                    .and_then(|pair| u8::from_str_radix(pair, 16).ok())
                    == Some(head[i])
            })
    })
}

/// Whether a document starts with the key of the neutral form, whatever its name.
fn looks_neutral(head: &[u8]) -> bool {
    let mut rest = head.iter().copied().filter(|b| !b.is_ascii_whitespace());
    rest.next() == Some(b'{') && rest.take(12).eq(b"\"lens_data\":".iter().copied())
}

/// The neutral forms, described as plugins describe themselves.
pub fn neutral_manifests() -> Vec<Manifest> {
    use ringmark_model::Channel;
    use ringmark_model::facts::FACTS;
    use ringmark_model::manifest::{
        CarriedChannel, CarriedFact, Carries, FilePatterns, Keeping, References,
    };
    Neutral::ALL
        .iter()
        .map(|form| {
            let takes = *form != Neutral::Lens;
            let channels = Channel::ALL
                .iter()
                .filter(|_| takes)
                .map(|channel| CarriedChannel {
                    name: channel.name().to_owned(),
                    unit: channel.unit().map_or("", |u| u.symbol()).to_owned(),
                    reads: true,
                    writes: true,
                    keeping: Keeping::Native,
                    infinity: true,
                    above: None,
                    at_least: None,
                    at_most: None,
                    whole: false,
                    precision: None,
                    reference: References::Any(true),
                    stands_for: Vec::new(),
                    note: String::new(),
                });
            Manifest {
                name: form.name().to_owned(),
                version: ringmark_model::json::VERSION.to_owned(),
                contract: "1.0".to_owned(),
                title: match form {
                    Neutral::Lens => "neutral lens document",
                    Neutral::Take => "neutral take document, for short takes",
                    Neutral::TakeLines => "neutral take as lines, for takes of any length",
                }
                .to_owned(),
                about: "The neutral form of this program; see schemas/.".to_owned(),
                reads: true,
                writes: true,
                files: FilePatterns {
                    extensions: vec![form.name().to_owned()],
                    ..FilePatterns::default()
                },
                options: None,
                carries: Carries {
                    channels: channels.collect(),
                    facts: FACTS
                        .iter()
                        .map(|fact| CarriedFact {
                            name: fact.name.to_owned(),
                            unit: String::new(),
                            keeping: Keeping::Native,
                            precision: None,
                        })
                        .collect(),
                    other_channels: Keeping::Native,
                    other_facts: Keeping::Native,
                    extras: Keeping::Native,
                    marks: true,
                    marks_with_takes: true,
                    takes,
                    tables: true,
                },
            }
        })
        .collect()
}
