//! `--against`: other records of the takes that are checked.

use std::path::PathBuf;
use std::sync::Arc;

use anyhow::{Context, Result, bail};
use ringmark_checks::{ChannelPrecision, Record, RecordBuilder};
use ringmark_model::manifest::Precision;
use ringmark_model::{Channel, Piece, Take};
use ringmark_quantity::{Conversion, Unit};

use crate::document::{Document, Opened};
use crate::formats::{Format, Formats};
use crate::inputs::{Group, group};
use crate::pipeline::{Ended, Threads, read};

/// A 32-bit float is exact to this part of its value (IEEE 754: 24 binary digits).
const FLOAT32: f64 = 1.0 / (1 << 24) as f64;

/// The other records, one take a document.
pub struct Others {
    takes: Vec<Other>,
}

struct Other {
    document: Document,
    clip: Option<String>,
}

impl Others {
    /// Opens the documents and reads them as far as their first take.
    pub fn find(paths: &[PathBuf], formats: &Formats) -> Result<Others> {
        let mut takes = Vec::new();
        for group in group(paths, &formats.sequence_endings())?.groups {
            let name = group.name.clone();
            if let Some(trouble) = &group.trouble {
                bail!("{name}: {trouble}");
            }
            let Opened::Document(document) = Document::open(group, formats, None, None)
                .with_context(|| format!("--against {name}"))?
            else {
                continue;
            };
            if let Some(clip) = clip(&document).with_context(|| format!("--against {name}"))? {
                takes.push(Other {
                    document: *document,
                    clip,
                });
            }
        }
        if takes.is_empty() {
            bail!("--against: there is no take in it");
        }
        Ok(Others { takes })
    }

    /// The files of the documents.
    pub fn groups(&self) -> impl Iterator<Item = &Group> {
        self.takes.iter().map(|other| &other.document.group)
    }

    /// The other record of a take: the one of the same clip, or the only one where `alone` says that only this document is
    /// checked. `None` if there is none.
    pub fn of(&self, take: &Take, alone: bool) -> Result<Option<Arc<Record>>> {
        let named = |other: &&Other| {
            let own = take.clip.as_deref();
            own.is_some() && own == other.clip.as_deref()
        };
        let mut named = self.takes.iter().filter(named);
        let found = match (named.next(), named.next()) {
            (Some(other), None) => other,
            (Some(a), Some(b)) => bail!(
                "--against: {} and {} are both of clip {}: give one of them",
                a.document.group.name,
                b.document.group.name,
                take.label()
            ),
            (None, _) => match self.takes.as_slice() {
                [other] if alone => other,
                _ => return Ok(None),
            },
        };
        record(&found.document).map(|record| Some(Arc::new(record)))
    }
}

/// The clip of a document's first take; `None` if it has none.
fn clip(document: &Document) -> Result<Option<Option<String>>> {
    let told = |failure: crate::document::ReadFailure| anyhow::anyhow!("{}", failure.message);
    let mut pieces = document.pieces().map_err(told)?;
    while let Some(piece) = pieces.next_piece().map_err(told)? {
        match piece {
            Piece::Take(take) => return Ok(Some(take.clip)),
            Piece::Frames(_) => break,
            Piece::Lens(_) | Piece::Remark(_) | Piece::End(_) => {}
        }
    }
    Ok(None)
}

/// All of a document's one take.
fn record(document: &Document) -> Result<Record> {
    let name = &document.group.name;
    let mut builder: Option<RecordBuilder> = None;
    let ended = read(document, Threads::Callers, |piece| {
        match (piece, &mut builder) {
            (Piece::Take(_), Some(_)) => {
                bail!("--against {name}: holds several takes; give one take a file")
            }
            (Piece::Take(take), None) => {
                builder = Some(RecordBuilder::new(&take, name, precision(&document.format)));
            }
            (Piece::Frames(batch), Some(builder)) => builder.frames(&batch),
            _ => {}
        }
        Ok(())
    })?;
    if let Ended::ReadFailed(failure) = ended {
        bail!("--against {name}: {}", failure.message);
    }
    match builder {
        Some(builder) => Ok(builder.finish()),
        None => bail!("--against {name}: the take is not there any more"),
    }
}

/// How exactly a format keeps its channels.
pub fn precision(format: &Format) -> Vec<ChannelPrecision> {
    let Format::Plugin(plugin) = format else {
        return Vec::new();
    };
    let channels = &plugin.manifest().carries.channels;
    let known = channels.iter().filter_map(|carried| {
        let channel = Channel::from_name(&carried.name)?;
        let (part, step) = match carried.precision? {
            Precision::Float32 => (FLOAT32, 0.0),
            Precision::Relative(part) => (part, 0.0),
            Precision::Step(step) => (0.0, canonical(step, &carried.unit, channel)?),
        };
        Some(ChannelPrecision {
            channel,
            part,
            step,
        })
    });
    known.collect()
}

/// A step in the unit of the neutral form.
fn canonical(step: f64, unit: &str, channel: Channel) -> Option<f64> {
    let own = channel.unit()?;
    let written = Unit::from_symbol(unit).unwrap_or(own);
    let step = Conversion::between(written, own).ok()?.apply(step);
    step.is_finite().then_some(step)
}
