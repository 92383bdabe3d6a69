//! A document being written: neutral or by a plugin, behind one face.

use std::io::{self, Write};
use std::sync::{Arc, Mutex, PoisonError};

use anyhow::{Result, anyhow};
use ringmark_host::{Sink, Writing};
use ringmark_model::json::{DocumentKind, DocumentWriter, JsonLinesWriter};
use ringmark_model::{LossItem, LossKind, LossReport, Manifest, Piece};
use ringmark_normalise::ForWriter;

use crate::formats::{Format, Neutral};
use crate::save::Output;

/// An output that a plugin writes into and this program finishes.
#[derive(Clone)]
struct Shared(Arc<Mutex<Option<Output>>>);

impl Shared {
    fn with<T>(&self, act: impl FnOnce(&mut Output) -> io::Result<T>) -> io::Result<T> {
        match self
            .0
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .as_mut()
        {
            Some(output) => act(output),
            None => Err(io::Error::other("the output is closed")),
        }
    }

    fn take(&self) -> Result<Output> {
        self.0
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .take()
            .ok_or_else(|| anyhow!("the output is closed"))
    }
}

impl Sink for Shared {
    fn write(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.with(|output| output.write_all(bytes))
    }
}

/// A document being written.
pub struct DocumentOut<'m>(Kind<'m>);

enum Kind<'m> {
    Lines(Box<JsonLinesWriter<Output>>),
    Whole(Box<DocumentWriter<Output>>, Neutral, LossReport),
    Plugin {
        writing: Writing,
        for_writer: ForWriter<'m>,
        output: Shared,
    },
}

impl<'m> DocumentOut<'m> {
    /// Starts writing `format` into `output`. `manifest` is that of the format's plugin.
    pub fn open(
        format: &'m Format,
        manifest: Option<&'m Manifest>,
        output: Output,
    ) -> Result<Self> {
        Ok(DocumentOut(match (format, manifest) {
            (Format::Neutral(Neutral::TakeLines), _) => {
                Kind::Lines(Box::new(JsonLinesWriter::new(output)))
            }
            (Format::Neutral(form), _) => {
                let rules = match form {
                    Neutral::Lens => DocumentKind::Lenses,
                    _ => DocumentKind::Takes,
                };
                Kind::Whole(
                    Box::new(DocumentWriter::new(rules, output)),
                    *form,
                    LossReport::new(form.name()),
                )
            }
            (Format::Plugin(plugin), Some(manifest)) => {
                let output = Shared(Arc::new(Mutex::new(Some(output))));
                Kind::Plugin {
                    writing: plugin.write(vec![Box::new(output.clone())], Vec::new(), "{}")?,
                    for_writer: ForWriter::new(manifest),
                    output,
                }
            }
            (Format::Plugin(plugin), None) => {
                return Err(anyhow!(
                    "the plugin '{}' has no manifest",
                    plugin.manifest().name
                ));
            }
        }))
    }

    /// Writes the next piece.
    pub fn piece(&mut self, piece: &Piece) -> Result<()> {
        match &mut self.0 {
            Kind::Lines(lines) => Ok(lines.put(piece)?),
            Kind::Whole(document, form, losses) => {
                if *form == Neutral::Lens {
                    match piece {
                        Piece::Take(take) => losses.add(
                            LossItem::Take(take.label()),
                            LossKind::Lost,
                            "lens.json holds lenses only",
                            0,
                        ),
                        Piece::Frames(_) => {}
                        other => document.put(other)?,
                    }
                    return Ok(());
                }
                Ok(document.put(piece)?)
            }
            Kind::Plugin {
                writing,
                for_writer,
                ..
            } => {
                if let Some(item) = for_writer.item(piece)? {
                    writing.put(item)?;
                }
                Ok(())
            }
        }
    }

    /// Writes what is left and puts the output in its place, unless something was lost and
    /// `strict` forbids it.
    pub fn finish(self, strict: bool) -> Result<LossReport> {
        let (output, losses) = match self.0 {
            Kind::Lines(lines) => (lines.finish()?, LossReport::new(Neutral::TakeLines.name())),
            Kind::Whole(document, _, losses) => (document.finish()?, losses),
            Kind::Plugin {
                writing,
                for_writer,
                output,
            } => {
                writing.finish()?;
                (output.take()?, for_writer.into_losses())
            }
        };
        if losses.is_lossless() || !strict {
            output.finish()?;
        }
        Ok(losses)
    }
}
