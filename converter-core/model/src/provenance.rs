//! Who read what from which file.

/// Where one input of a document came from.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Provenance {
    /// File name, or the pattern of a sequence.
    pub file: String,
    /// Files it stands for: 1, or the number of files of a sequence.
    pub files: u64,
    /// Bytes in all.
    pub size: u64,
    /// SHA-256 of the file in hexadecimal; `None` where only headers were read.
    pub sha256: Option<String>,
    /// Format plugin: name, version and SHA-256 of its component; `None` for the neutral form.
    pub plugin: Option<PluginIdentity>,
    /// Mapping file used, by name and SHA-256.
    pub mapping: Option<(String, String)>,
    /// Lens document whose calibration was applied, by name and SHA-256.
    pub calibration: Option<(String, String)>,
    /// What was changed in it because a check proposed so; empty where nothing was.
    pub repairs: Vec<Repaired>,
    /// Program and version that wrote the document.
    pub program: String,
}

/// A repair that was made.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Repaired {
    /// Name of the check that proposed it.
    pub check: String,
    /// What was done, in words.
    pub action: String,
    /// Why.
    pub evidence: String,
    /// What was changed.
    pub changes: Vec<Changed>,
}

/// A value that was changed.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Changed {
    /// JSON Pointer (RFC 6901) into the document as it was read, as `/lenses/0/rings/0/marks/7/value`.
    pub place: String,
    /// What stood there, numbers in canonical units; `None` if nothing did.
    pub was: Option<String>,
    /// What stands there now; `None` if it was taken out.
    pub now: Option<String>,
}

/// A plugin, exactly.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PluginIdentity {
    /// Name.
    pub name: String,
    /// Version.
    pub version: String,
    /// SHA-256 of the component in hexadecimal.
    pub sha256: String,
}
