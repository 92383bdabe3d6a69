//! One document being read: its files, its format, and its pieces in order.

use std::collections::VecDeque;
use std::fs::File;
use std::io::{BufReader, Read, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use anyhow::{Context, Result, anyhow};
use ringmark_host::{FileSource, HostError, Reading, Source};
use ringmark_model::json::{self, NeutralReader};
use ringmark_model::{Piece, Place, PluginIdentity};
use ringmark_normalise::{NormaliseError, Normaliser};

use crate::formats::{Format, Formats, Recognised};
use crate::inputs::Group;
use crate::mapping::Mapping;
use crate::sequence::Account;

/// Bytes at the start of a file by which its format is recognised.
const HEAD: usize = 64 * 1024;

/// A document whose format is known.
pub struct Document {
    /// The group of files it is.
    pub group: Group,
    /// Its files; standard input is kept in a temporary file.
    pub files: Vec<PathBuf>,
    /// Its format.
    pub format: Format,
    /// The mapping that applies to it.
    pub mapping: Option<Mapping>,
    /// Keeps the copy of standard input alive.
    _spool: Option<Arc<tempfile::TempPath>>,
}

/// Why a document could not be read on.
#[derive(Debug, Clone)]
pub struct ReadFailure {
    /// What is wrong.
    pub message: String,
    /// What to do.
    pub help: Option<String>,
    /// Where.
    pub place: Option<Place>,
}

impl From<HostError> for ReadFailure {
    fn from(error: HostError) -> Self {
        match error {
            HostError::Input(input) => ReadFailure {
                message: input.message,
                help: (!input.help.is_empty()).then_some(input.help),
                place: input.place.map(Place::from),
            },
            other => ReadFailure {
                message: other.to_string(),
                help: (!other.help().is_empty()).then(|| other.help().to_owned()),
                place: None,
            },
        }
    }
}

impl From<NormaliseError> for ReadFailure {
    fn from(error: NormaliseError) -> Self {
        ReadFailure {
            message: error.message,
            help: Some(error.help),
            place: error.place,
        }
    }
}

/// Whether a group could be opened.
pub enum Opened {
    /// Yes.
    Document(Box<Document>),
    /// Found in a folder, and nothing that anyone here reads.
    PassedOver,
}

impl Document {
    /// Finds the format of a group. `from` forces one; `mapping` is the one the person gave.
    pub fn open(
        group: Group,
        formats: &Formats,
        from: Option<&str>,
        mapping: Option<&Mapping>,
    ) -> Result<Opened> {
        let mut files = group.files.clone();
        let mut spool = None;
        if group.is_stdin() {
            let path = copy_stdin()?;
            files.push(path.to_path_buf());
            spool = Some(Arc::new(path));
        }
        let first = files
            .first()
            .ok_or_else(|| anyhow!("{}: no files", group.name))?;
        let format = match from {
            Some(name) => formats.named(name)?,
            None => {
                let head =
                    head(first).with_context(|| format!("{}: cannot read", first.display()))?;
                // Standard input has no name; its content decides.
                let name = if group.is_stdin() {
                    "-".to_owned()
                } else {
                    first
                        .file_name()
                        .map(|n| n.to_string_lossy().into_owned())
                        .unwrap_or_default()
                };
                match formats.recognise(&name, &head)? {
                    Recognised::As(format) => format,
                    // What a copy that failed leaves behind is not passed over.
                    Recognised::Not { tried }
                        if head.is_empty() && !tried.is_empty() && !group.is_stdin() =>
                    {
                        anyhow::bail!("{}: the file is empty (0 bytes)", group.name)
                    }
                    Recognised::Not { .. } if group.found => return Ok(Opened::PassedOver),
                    Recognised::Not { .. } if group.is_stdin() => anyhow::bail!(
                        "standard input: in no format that is known by its content; say --from FORMAT"
                    ),
                    Recognised::Not { tried } if tried.is_empty() => {
                        anyhow::bail!(
                            "{}: no format has this ending; say --from FORMAT, or see `ringmark formats`",
                            group.name
                        )
                    }
                    Recognised::Not { .. }
                        if head.starts_with(b"\xff\xfe") || head.starts_with(b"\xfe\xff") =>
                    {
                        anyhow::bail!("{}: is UTF-16 text; save it as UTF-8", group.name)
                    }
                    Recognised::Not { tried } => anyhow::bail!(
                        "{}: has the ending of {}, but not its content; --from FORMAT forces a format",
                        group.name,
                        tried.join(" and ")
                    ),
                }
            }
        };
        let mapping = match mapping {
            _ if !takes_mapping(&format) => None,
            Some(mapping) => Some(mapping.clone()),
            None => match Mapping::beside(first) {
                Some(path) => Some(Mapping::read(&path)?),
                None => None,
            },
        };
        Ok(Opened::Document(Box::new(Document {
            group,
            files,
            format,
            mapping,
            _spool: spool,
        })))
    }

    /// Starts reading.
    pub fn pieces(&self) -> Result<Pieces, ReadFailure> {
        match &self.format {
            Format::Neutral(_) => {
                let path = &self.files[0];
                let file = File::open(path).map_err(|error| ReadFailure {
                    message: format!("{}: {error}", path.display()),
                    help: None,
                    place: None,
                })?;
                Ok(Pieces(Kind::Neutral(json::open(
                    self.group.name.clone(),
                    Box::new(BufReader::with_capacity(1 << 18, file)) as Box<dyn Read + Send>,
                ))))
            }
            Format::Plugin(plugin) => {
                let sources = self
                    .files
                    .iter()
                    .map(|path| Box::new(FileSource::new(path.clone())) as Box<dyn Source>)
                    .collect();
                let options = match &self.mapping {
                    Some(mapping) => serde_json::json!({ "mapping": mapping.content }).to_string(),
                    None => "{}".to_owned(),
                };
                Ok(Pieces(Kind::Plugin {
                    reading: plugin.read(sources, &options)?,
                    normaliser: Normaliser::new(),
                    queue: VecDeque::from_iter(
                        self.group
                            .account
                            .as_ref()
                            .and_then(Account::finding)
                            .map(Piece::Remark),
                    ),
                }))
            }
        }
    }

    /// The plugin that reads it, if any.
    pub fn plugin(&self) -> Option<PluginIdentity> {
        match &self.format {
            Format::Neutral(_) => None,
            Format::Plugin(plugin) => Some(plugin.identity()),
        }
    }
}

/// The pieces of a document, one after another.
pub struct Pieces(Kind);

enum Kind {
    Neutral(NeutralReader<Box<dyn Read + Send>>),
    Plugin {
        reading: Reading,
        normaliser: Normaliser,
        queue: VecDeque<Piece>,
    },
}

impl Pieces {
    /// The next piece, `None` at the end.
    pub fn next_piece(&mut self) -> Result<Option<Piece>, ReadFailure> {
        match &mut self.0 {
            Kind::Neutral(reader) => reader.next_piece().map_err(|error| ReadFailure {
                message: error.message.clone(),
                help: (!error.help.is_empty()).then(|| error.help.clone()),
                place: Some(Place {
                    input: 0,
                    offset: error.offset,
                    length: error.length,
                    field: None,
                }),
            }),
            Kind::Plugin {
                reading,
                normaliser,
                queue,
            } => loop {
                if let Some(piece) = queue.pop_front() {
                    return Ok(Some(piece));
                }
                let Some(item) = reading.next()? else {
                    return Ok(None);
                };
                let mut pieces = Vec::with_capacity(1);
                normaliser.item(item, &mut pieces)?;
                queue.extend(pieces);
            },
        }
    }
}

/// Whether a format asks for a mapping: a plugin gets only options that its manifest describes.
fn takes_mapping(format: &Format) -> bool {
    match format {
        Format::Neutral(_) => false,
        Format::Plugin(plugin) => plugin
            .manifest()
            .options
            .as_ref()
            .is_some_and(|options| options.pointer("/properties/mapping").is_some()),
    }
}

/// The first bytes of a file.
fn head(path: &Path) -> std::io::Result<Vec<u8>> {
    let mut head = Vec::new();
    File::open(path)?.take(HEAD as u64).read_to_end(&mut head)?;
    Ok(head)
}

/// Plugins read at any offset, so standard input is kept in a file.
fn copy_stdin() -> Result<tempfile::TempPath> {
    let mut spool = tempfile::NamedTempFile::new().context("cannot keep standard input")?;
    std::io::copy(&mut std::io::stdin().lock(), &mut spool)
        .context("cannot read standard input")?;
    spool.flush().context("cannot keep standard input")?;
    Ok(spool.into_temp_path())
}
