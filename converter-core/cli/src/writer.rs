//! A document being written: neutral or by a plugin, behind one face.

use std::io::{self, Write};
use std::sync::{Arc, Mutex, PoisonError};

use anyhow::{Result, anyhow};
use ringmark_host::{Sink, Writing};
use ringmark_model::json::{DocumentKind, DocumentWriter, JsonLinesWriter};
use ringmark_model::{LossItem, LossKind, LossReport, Manifest, Piece};
use ringmark_normalise::ForWriter;

use crate::formats::{Format, Neutral};
use crate::frames::FrameOutputs;
use crate::save::Output;
use crate::sections::Sections;

/// Where a document goes.
pub enum Destination {
    /// Into one file.
    File(Output),
    /// Into one file a frame.
    Frames(FrameOutputs),
}

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
        for_writer: Box<ForWriter<'m>>,
        making: Making,
    },
}

/// What is to be put in its place at the end.
enum Making {
    Whole(Output),
    /// A file that a plugin writes into.
    File(Shared),
    Sections(Sections, Output),
    Frames(FrameOutputs),
}

impl Making {
    fn finish(self) -> Result<()> {
        match self {
            Making::Whole(output) => output.finish(),
            Making::File(output) => output.take()?.finish(),
            Making::Sections(sections, mut output) => {
                sections.join(&mut output)?;
                output.finish()
            }
            Making::Frames(outputs) => outputs.finish(),
        }
    }
}

impl<'m> DocumentOut<'m> {
    /// Starts writing `format`. `manifest` is that of the format's plugin, `options` are its own.
    pub fn open(
        format: &'m Format,
        manifest: Option<&'m Manifest>,
        destination: Destination,
        options: &str,
    ) -> Result<Self> {
        Ok(DocumentOut(match (format, manifest, destination) {
            (Format::Neutral(Neutral::TakeLines), _, Destination::File(output)) => {
                Kind::Lines(Box::new(JsonLinesWriter::new(output)))
            }
            (Format::Neutral(form), _, Destination::File(output)) => {
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
            (Format::Plugin(plugin), Some(manifest), destination) => {
                let (sinks, templates, making) = match destination {
                    Destination::Frames(outputs) => (
                        outputs.sinks(),
                        outputs.templates(),
                        Making::Frames(outputs),
                    ),
                    Destination::File(output) if manifest.files.sections > 0 => {
                        let sections = Sections::create(manifest.files.sections, output.path())?;
                        let sinks = sections.sinks();
                        (sinks, Vec::new(), Making::Sections(sections, output))
                    }
                    Destination::File(output) => {
                        let output = Shared(Arc::new(Mutex::new(Some(output))));
                        let sink = Box::new(output.clone()) as Box<dyn Sink>;
                        (vec![sink], Vec::new(), Making::File(output))
                    }
                };
                Kind::Plugin {
                    writing: plugin.write(sinks, templates, options)?,
                    for_writer: Box::new(ForWriter::new(manifest)),
                    making,
                }
            }
            (Format::Neutral(form), _, Destination::Frames(_)) => {
                return Err(anyhow!("{} is one file; leave out --frames", form.name()));
            }
            (Format::Plugin(plugin), None, _) => {
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
        let (made, losses) = match self.0 {
            Kind::Lines(lines) => (
                Making::Whole(lines.finish()?),
                LossReport::new(Neutral::TakeLines.name()),
            ),
            Kind::Whole(document, _, losses) => (Making::Whole(document.finish()?), losses),
            Kind::Plugin {
                writing,
                for_writer,
                making,
            } => {
                writing.finish()?;
                (making, for_writer.into_losses())
            }
        };
        if losses.is_lossless() || !strict {
            made.finish()?;
        }
        Ok(losses)
    }
}
