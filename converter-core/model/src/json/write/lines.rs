//! Takes as lines: the streaming form.

use std::collections::HashSet;
use std::io::Write;
use std::sync::Arc;

use super::error::WriteError;
use super::frames::{self, Layout, LayoutColumn, encode_batch};
use super::objects::{self, REPORT};
use super::printer::Printer;
use crate::batch::{Batch, ColumnKey};
use crate::json::{MAX_COLUMNS, MAX_LINE, VERSION, rules};
use crate::lens::Lens;
use crate::provenance::Provenance;
use crate::stream::Piece;
use crate::take::Take;

/// Turns pieces into the lines of a `.take.jsonl`, without doing any output.
///
/// Pieces go through [`LineEncoder::piece`] one by one and in order; what takes the time, [`encode_batch`], may then
/// run anywhere.
#[derive(Debug, Default)]
pub struct LineEncoder {
    stage: Stage,
    /// Lenses and takes that wait for the header, or for the line that adds them.
    lenses: Vec<Lens>,
    takes: Vec<Take>,
    lens_count: usize,
    /// Lines so far.
    lines: u64,
    progress: Vec<Progress>,
}

#[derive(Debug, Default, Clone, Copy, PartialEq)]
enum Stage {
    #[default]
    BeforeHeader,
    AfterHeader,
    Ended,
}

/// A take while its frames are written.
#[derive(Debug)]
struct Progress {
    frames: u64,
    layout: Arc<Layout>,
}

impl LineEncoder {
    /// An encoder at the start of a document.
    pub fn new() -> Self {
        LineEncoder::default()
    }

    /// Takes the next piece and appends the lines it needs to `out`.
    ///
    /// For frames these are only the lines ahead of them, most often none: the caller goes on with
    /// [`encode_batch`] and the layout that is returned. Remarks and batches without frames give no line.
    pub fn piece(
        &mut self,
        piece: &Piece,
        out: &mut Vec<u8>,
    ) -> Result<Option<Arc<Layout>>, WriteError> {
        if self.stage == Stage::Ended {
            return Err(WriteError::content(
                "a piece after the end of the document",
                REPORT,
            ));
        }
        match piece {
            Piece::Lens(lens) => {
                self.lenses.push(lens.clone());
                self.lens_count += 1;
            }
            Piece::Take(take) => {
                check_lens(take, self.lens_count)?;
                let layout = Arc::new(Layout::new(self.progress.len()));
                self.progress.push(Progress { frames: 0, layout });
                self.takes.push(take.clone());
            }
            Piece::Frames(batch) => return self.frames(batch, out).map(Some),
            Piece::Remark(_) => {}
            Piece::End(inputs) => {
                self.heads(None, out)?;
                self.end(inputs, out)?;
            }
        }
        Ok(None)
    }

    fn frames(&mut self, batch: &Batch, out: &mut Vec<u8>) -> Result<Arc<Layout>, WriteError> {
        let takes = self.progress.len();
        let Some(progress) = self.progress.get_mut(batch.take) else {
            return Err(no_such_take(batch.take, takes));
        };
        check_batch(batch, progress.frames)?;
        check_heads(batch)?;
        if batch.count == 0 {
            return Ok(Arc::clone(&progress.layout));
        }
        progress.frames += batch.count as u64;
        self.lines += batch.count as u64;
        let missing = progress.layout.missing(batch);
        if !missing.is_empty() {
            let layout = Arc::make_mut(&mut progress.layout);
            layout.declare(&missing);
            check_count(layout.len())?;
        }
        let layout = Arc::clone(&progress.layout);
        let declared = self.heads(Some((batch.take, &missing)), out)?;
        if !declared && !missing.is_empty() {
            let mut p = Printer::compact();
            p.object(|p| {
                p.key("take");
                p.integer(batch.take as u64);
                channels(p, &missing);
            });
            self.line(p, "the channels of a take", out)?;
        }
        Ok(layout)
    }

    /// Writes the lenses and takes that wait: the header, or a line that adds them. Returns whether `channels` went
    /// with their take.
    fn heads(
        &mut self,
        columns: Option<(usize, &[LayoutColumn])>,
        out: &mut Vec<u8>,
    ) -> Result<bool, WriteError> {
        let is_header = self.stage == Stage::BeforeHeader;
        if !is_header && self.lenses.is_empty() && self.takes.is_empty() {
            return Ok(false);
        }
        let first = self.progress.len() - self.takes.len();
        let mut declared = false;
        let mut p = Printer::compact();
        p.object(|p| {
            if is_header {
                p.text_field("lens_data", Some(VERSION));
                p.text_field("form", Some("lines"));
            }
            if is_header || !self.lenses.is_empty() {
                p.key("lenses");
                p.array(|p| {
                    for lens in &self.lenses {
                        p.item();
                        objects::lens(p, lens);
                    }
                });
            }
            if is_header || !self.takes.is_empty() {
                p.key("takes");
                p.array(|p| {
                    for (index, take) in self.takes.iter().enumerate() {
                        p.item();
                        p.object(|p| {
                            objects::take_head(p, take);
                            match columns {
                                Some((of, heads)) if of == first + index && !heads.is_empty() => {
                                    channels(p, heads);
                                    declared = true;
                                }
                                _ => {}
                            }
                        });
                    }
                });
            }
        });
        self.line(p, "the header", out)?;
        self.stage = Stage::AfterHeader;
        self.lenses.clear();
        self.takes.clear();
        Ok(declared)
    }

    fn end(&mut self, inputs: &[Provenance], out: &mut Vec<u8>) -> Result<(), WriteError> {
        let mut p = Printer::compact();
        p.object(|p| {
            p.key("end");
            p.object(|p| {
                p.key("lines");
                p.integer(self.lines);
                p.key("frames");
                p.array(|p| {
                    for take in &self.progress {
                        p.item();
                        p.integer(take.frames);
                    }
                });
                objects::provenance(p, inputs);
            });
        });
        self.stage = Stage::Ended;
        self.line(p, "the end line", out)
    }

    fn line(&mut self, p: Printer, what: &str, out: &mut Vec<u8>) -> Result<(), WriteError> {
        let line = p.finish()?;
        if line.len() >= MAX_LINE {
            return Err(WriteError::content(
                format!(
                    "{what} makes a line of {} bytes; at most {MAX_LINE} can be written",
                    line.len()
                ),
                "leave out lens tables or extras that are not needed",
            ));
        }
        out.extend_from_slice(&line);
        out.push(b'\n');
        self.lines += 1;
        Ok(())
    }
}

fn channels(p: &mut Printer, columns: &[LayoutColumn]) {
    p.key("channels");
    p.object(|p| {
        for column in columns {
            objects::declared_column(p, &column.head);
        }
    });
}

/// A take may only refer to a lens ahead of it.
pub(super) fn check_lens(take: &Take, lenses: usize) -> Result<(), WriteError> {
    match take.lens {
        Some(lens) if lens >= lenses => Err(WriteError::content(
            format!(
                "{} was shot with lens {lens}, but only {lenses} lenses came before it",
                take.label()
            ),
            REPORT,
        )),
        _ => Ok(()),
    }
}

#[cold]
pub(super) fn no_such_take(take: usize, takes: usize) -> WriteError {
    let message = format!("frames of take {take}, but only {takes} takes came before them");
    WriteError::content(message, REPORT)
}

/// A batch follows on the frames before it, and its columns are as long as it is.
pub(super) fn check_batch(batch: &Batch, frames: u64) -> Result<(), WriteError> {
    if batch.first != frames {
        return Err(WriteError::content(
            format!(
                "frames of take {} go on at {} after {frames} frames",
                batch.take, batch.first
            ),
            REPORT,
        ));
    }
    let numbers = batch.numbers.iter().map(|c| (&c.head, c.values.len()));
    let texts = batch.texts.iter().map(|c| (&c.head, c.index.len()));
    match numbers
        .chain(texts)
        .find(|(_, length)| *length != batch.count)
    {
        None => Ok(()),
        Some((head, length)) => Err(WriteError::content(
            format!(
                "column `{}` has {length} values for {} frames",
                head.key.name(),
                batch.count
            ),
            REPORT,
        )),
    }
}

/// The heads of a batch fit the registry and stand once each.
pub(super) fn check_heads(batch: &Batch) -> Result<(), WriteError> {
    let mut seen: HashSet<&ColumnKey> = HashSet::new();
    for (head, is_text) in frames::heads(batch) {
        if let Some(fault) = rules::head_fault(head, is_text) {
            return Err(WriteError::content(fault, REPORT));
        }
        if !seen.insert(&head.key) {
            return Err(WriteError::content(
                format!(
                    "column `{}` stands twice in take {}",
                    head.key.name(),
                    batch.take
                ),
                "give the columns different names",
            ));
        }
    }
    Ok(())
}

pub(super) fn check_count(columns: usize) -> Result<(), WriteError> {
    if columns > MAX_COLUMNS {
        return Err(WriteError::content(
            format!("{columns} columns in a take; at most {MAX_COLUMNS} can be written"),
            "leave out columns that are not needed",
        ));
    }
    Ok(())
}

/// Writes a `.take.jsonl` as the pieces come.
#[derive(Debug)]
pub struct JsonLinesWriter<W: Write> {
    encoder: LineEncoder,
    output: W,
    buffer: Vec<u8>,
}

impl<W: Write> JsonLinesWriter<W> {
    /// A writer at the start of a document; each batch is one call to `output`.
    pub fn new(output: W) -> Self {
        JsonLinesWriter {
            encoder: LineEncoder::new(),
            output,
            buffer: Vec::new(),
        }
    }

    /// Writes the next piece.
    pub fn put(&mut self, piece: &Piece) -> Result<(), WriteError> {
        self.buffer.clear();
        let layout = self.encoder.piece(piece, &mut self.buffer)?;
        if let (Some(layout), Piece::Frames(batch)) = (layout, piece) {
            encode_batch(&layout, batch, &mut self.buffer)?;
        }
        self.output.write_all(&self.buffer)?;
        Ok(())
    }

    /// Flushes and gives the output back. Without a [`Piece::End`] before, the document would be cut off: an error.
    pub fn finish(mut self) -> Result<W, WriteError> {
        if self.encoder.stage != Stage::Ended {
            return Err(WriteError::content("the document has no end", REPORT));
        }
        self.output.flush()?;
        Ok(self.output)
    }
}
