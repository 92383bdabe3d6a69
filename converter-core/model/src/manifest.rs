//! What a format plugin says about itself, and what its format can carry.

use serde::{Deserialize, Serialize};

/// A plugin's manifest. Its JSON Schema is `schemas/manifest.schema.json`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Manifest {
    /// Format name that users type, kebab case.
    pub name: String,
    /// Version of the plugin.
    pub version: String,
    /// Version of the contract it was built for, as `1.0`.
    pub contract: String,
    /// The format in a few words.
    pub title: String,
    /// One or two sentences for `formats`.
    pub about: String,
    /// Whether it reads.
    pub reads: bool,
    /// Whether it writes.
    pub writes: bool,
    /// How its files are known.
    pub files: FilePatterns,
    /// JSON Schema of the options it takes, if any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub options: Option<serde_json::Value>,
    /// What the format can carry.
    pub carries: Carries,
}

/// How files of a format are known.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FilePatterns {
    /// File name endings without the dot, lower case; the first is used for writing.
    pub extensions: Vec<String>,
    /// Leading bytes in hexadecimal, all alternatives.
    #[serde(default)]
    pub magic: Vec<String>,
    /// Whether many numbered files make one take.
    #[serde(default)]
    pub sequence: bool,
    /// Whether only a small part of each file is read (the header), so that long files are not hashed.
    #[serde(default)]
    pub headers_only: bool,
    /// Whether the writer makes one file a frame, and what it needs for that.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub per_frame: Option<PerFrame>,
    /// Outputs that the writer fills side by side and the program joins, in order, into one file;
    /// 0 for a writer that writes its file from front to end.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub sections: u32,
}

/// What a writer that makes one file a frame does with the files that it is given.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum PerFrame {
    /// Each output is a copy of a file with data put in.
    Copy,
    /// Each output stands beside a file, which it does not contain. One frame alone needs no file.
    Sidecar,
}

const fn is_zero(sections: &u32) -> bool {
    *sections == 0
}

/// How a format keeps what it has no place for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, Default)]
#[serde(rename_all = "kebab-case")]
pub enum Keeping {
    /// In a place of its own that every reader of the format knows.
    Native,
    /// In a private part of the file that other programs pass over.
    Aside,
    /// Not at all.
    #[default]
    Lost,
}

/// What a format can carry.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Carries {
    /// Channels of takes.
    #[serde(default)]
    pub channels: Vec<CarriedChannel>,
    /// Facts of lenses, rings and takes, by name in [`crate::facts`].
    #[serde(default)]
    pub facts: Vec<CarriedFact>,
    /// Channels that are not listed. Also decides about values of listed ones that the format
    /// refuses and references it cannot state: `aside` says that the writer keeps those aside too.
    #[serde(default)]
    pub other_channels: Keeping,
    /// Facts that are not listed.
    #[serde(default)]
    pub other_facts: Keeping,
    /// Extras of frames, takes and lenses.
    #[serde(default)]
    pub extras: Keeping,
    /// Whether ring marks can be written.
    #[serde(default)]
    pub marks: bool,
    /// Whether one file can hold ring marks and a take.
    #[serde(default)]
    pub marks_with_takes: bool,
    /// Whether takes can be written.
    #[serde(default)]
    pub takes: bool,
    /// Whether lens tables can be written.
    #[serde(default)]
    pub tables: bool,
}

/// A channel the format has a place for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CarriedChannel {
    /// Name in the registry of channels.
    pub name: String,
    /// Symbol of the unit that the writer wants; empty for texts.
    #[serde(default)]
    pub unit: String,
    /// Whether the reader can deliver it.
    #[serde(default = "yes")]
    pub reads: bool,
    /// Whether the writer takes it.
    #[serde(default = "yes")]
    pub writes: bool,
    /// How it is kept.
    #[serde(default = "native")]
    pub keeping: Keeping,
    /// Whether infinity can be written.
    #[serde(default)]
    pub infinity: bool,
    /// Values at or below cannot be written.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub above: Option<f64>,
    /// Values below cannot be written (in the writer's unit).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_least: Option<f64>,
    /// Values over cannot be written (in the writer's unit).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_most: Option<f64>,
    /// Only whole numbers can be written.
    #[serde(default)]
    pub whole: bool,
    /// How exactly the format keeps the numbers; without it they come back as they were.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub precision: Option<Precision>,
    /// What the format can say that a distance is measured from.
    #[serde(default)]
    pub reference: References,
    /// Channels that are written in place of this one where it is absent, the best first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub stands_for: Vec<String>,
    /// What is lossy about it, if anything.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
}

/// A fact the format has a place for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CarriedFact {
    /// Name in the registry of facts.
    pub name: String,
    /// Symbol of the unit that the writer wants; empty for text and pure numbers.
    #[serde(default)]
    pub unit: String,
    /// How it is kept.
    #[serde(default = "native")]
    pub keeping: Keeping,
    /// How exactly the format keeps the number; without it it comes back as it was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub precision: Option<Precision>,
}

/// How exactly a format keeps numbers.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Precision {
    /// As 32-bit floats.
    Float32,
    /// As multiples of this, in the unit of the writer.
    Step(f64),
    /// With an error of at most this part of the value.
    Relative(f64),
}

/// What a format can say that a distance is measured from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum References {
    /// Any (`true`) or none (`false`).
    Any(bool),
    /// These, by name.
    Only(Vec<String>),
}

impl Default for References {
    fn default() -> Self {
        References::Any(false)
    }
}

impl References {
    /// Whether the format can say that a distance is measured from the reference called `name`.
    pub fn can_state(&self, name: &str) -> bool {
        match self {
            References::Any(any) => *any,
            References::Only(names) => names.iter().any(|n| n == name),
        }
    }
}

const fn yes() -> bool {
    true
}

const fn native() -> Keeping {
    Keeping::Native
}

impl Manifest {
    /// The carried channel called `name`.
    pub fn channel(&self, name: &str) -> Option<&CarriedChannel> {
        self.carries.channels.iter().find(|c| c.name == name)
    }

    /// The carried fact called `name`.
    pub fn fact(&self, name: &str) -> Option<&CarriedFact> {
        self.carries.facts.iter().find(|f| f.name == name)
    }

    /// Major and minor number of the contract, if they can be read.
    pub fn contract_version(&self) -> Option<(u32, u32)> {
        let (major, minor) = self.contract.split_once('.')?;
        Some((major.parse().ok()?, minor.parse().ok()?))
    }
}
