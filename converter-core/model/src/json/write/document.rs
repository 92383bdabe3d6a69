//! Whole documents: lenses, and takes that are short enough to stand in one object.

use std::collections::HashMap;
use std::io::Write;
use std::sync::Arc;

use super::error::WriteError;
use super::lines::{check_batch, check_count, check_heads, check_lens, no_such_take};
use super::objects::{self, REPORT};
use super::printer::Printer;
use crate::batch::{Batch, ColumnHead, ColumnKey, NO_LABEL, NumberColumn, TextColumn};
use crate::json::{MAX_DOCUMENT, MAX_INLINE_FRAMES, MAX_INLINE_VALUES, VERSION};
use crate::lens::Lens;
use crate::provenance::Provenance;
use crate::stream::Piece;
use crate::take::Take;

/// Which document.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DocumentKind {
    /// `.lens.json`: lenses only.
    Lenses,
    /// `.take.json`: lenses and takes.
    Takes,
}

/// Gathers the pieces of a `.lens.json` or `.take.json` and writes them at the end.
#[derive(Debug)]
pub struct DocumentWriter<W: Write> {
    kind: DocumentKind,
    output: W,
    lenses: Vec<Lens>,
    takes: Vec<Gathered>,
    frames: u64,
    values: u64,
    text_bytes: usize,
    ended: bool,
}

/// A take with all its columns.
#[derive(Debug)]
struct Gathered {
    take: Take,
    frames: usize,
    columns: Vec<Column>,
    by_key: HashMap<ColumnKey, usize>,
}

#[derive(Debug)]
enum Column {
    Numbers(NumberColumn),
    Texts(TextColumn),
}

impl<W: Write> DocumentWriter<W> {
    /// A writer of one document.
    pub fn new(kind: DocumentKind, output: W) -> Self {
        DocumentWriter {
            kind,
            output,
            lenses: Vec::new(),
            takes: Vec::new(),
            frames: 0,
            values: 0,
            text_bytes: 0,
            ended: false,
        }
    }

    /// Takes the next piece; [`Piece::End`] writes the document. Remarks and batches without frames
    /// are passed over.
    pub fn put(&mut self, piece: &Piece) -> Result<(), WriteError> {
        if self.ended {
            return Err(WriteError::content(
                "a piece after the end of the document",
                REPORT,
            ));
        }
        match piece {
            Piece::Lens(lens) => self.lenses.push(lens.clone()),
            Piece::Take(take) => self.take(take)?,
            Piece::Frames(batch) => self.frames(batch)?,
            Piece::Remark(_) => {}
            Piece::End(inputs) => self.write(inputs)?,
        }
        Ok(())
    }

    /// Flushes and gives the output back. Without a [`Piece::End`] before, nothing was written: an error.
    pub fn finish(mut self) -> Result<W, WriteError> {
        if !self.ended {
            return Err(WriteError::content("the document has no end", REPORT));
        }
        self.output.flush()?;
        Ok(self.output)
    }

    fn take(&mut self, take: &Take) -> Result<(), WriteError> {
        if self.kind == DocumentKind::Lenses {
            return Err(WriteError::content(
                "a .lens.json holds lenses only, and here comes a take",
                "write a .take.json or .take.jsonl, or leave the takes out",
            ));
        }
        check_lens(take, self.lenses.len())?;
        self.takes.push(Gathered {
            take: take.clone(),
            frames: 0,
            columns: Vec::new(),
            by_key: HashMap::new(),
        });
        Ok(())
    }

    fn frames(&mut self, batch: &Batch) -> Result<(), WriteError> {
        let takes = self.takes.len();
        let Some(take) = self.takes.get_mut(batch.take) else {
            return Err(no_such_take(batch.take, takes));
        };
        check_batch(batch, take.frames as u64)?;
        check_heads(batch)?;
        if batch.count == 0 {
            return Ok(());
        }
        let columns = (batch.numbers.len() + batch.texts.len()) as u64;
        self.frames += batch.count as u64;
        self.values = self
            .values
            .saturating_add(columns.saturating_mul(batch.count as u64));
        self.text_bytes += batch.texts.iter().map(|c| c.text.len()).sum::<usize>();
        if self.frames > MAX_INLINE_FRAMES {
            return Err(too_large(format!("more than {MAX_INLINE_FRAMES} frames")));
        }
        if self.values > MAX_INLINE_VALUES || self.text_bytes > MAX_DOCUMENT {
            return Err(too_large("too many values".to_owned()));
        }
        take.add(batch)?;
        check_count(take.columns.len())
    }

    fn write(&mut self, inputs: &[Provenance]) -> Result<(), WriteError> {
        for gathered in &mut self.takes {
            gathered.fill_up();
        }
        let mut p = Printer::indented();
        p.object(|p| {
            p.text_field("lens_data", Some(VERSION));
            p.key("lenses");
            p.array(|p| {
                for lens in &self.lenses {
                    p.item();
                    objects::lens(p, lens);
                }
            });
            if self.kind == DocumentKind::Takes {
                p.key("takes");
                p.array(|p| {
                    for take in &self.takes {
                        p.item();
                        take.print(p);
                    }
                });
            }
            objects::provenance(p, inputs);
        });
        let mut text = p.finish()?;
        text.push(b'\n');
        if text.len() > MAX_DOCUMENT {
            return Err(match self.kind {
                DocumentKind::Takes => too_large(format!("{} bytes", text.len())),
                DocumentKind::Lenses => WriteError::content(
                    format!(
                        "the lenses make {} bytes; at most {MAX_DOCUMENT} can be written",
                        text.len()
                    ),
                    "write fewer lenses a file, or leave out tables",
                ),
            });
        }
        self.output.write_all(&text)?;
        self.ended = true;
        Ok(())
    }
}

fn too_large(found: String) -> WriteError {
    WriteError::content(
        format!("{found}: too much for a .take.json, which is for short takes"),
        "write a .take.jsonl",
    )
}

impl Gathered {
    fn add(&mut self, batch: &Batch) -> Result<(), WriteError> {
        for added in &batch.numbers {
            let empty = || {
                Column::Numbers(NumberColumn {
                    head: Arc::clone(&added.head),
                    values: Vec::new(),
                })
            };
            let before = self.frames;
            match self.column(&added.head, empty)? {
                Column::Numbers(column) => {
                    column.values.resize(before, f64::NAN);
                    column.values.extend_from_slice(&added.values);
                }
                Column::Texts(_) => return Err(changed(&added.head)),
            }
        }
        for added in &batch.texts {
            let head = Arc::clone(&added.head);
            let empty = || Column::Texts(TextColumn::from_texts(head, []));
            let before = self.frames;
            match self.column(&added.head, empty)? {
                Column::Texts(column) => {
                    column.index.resize(before, NO_LABEL);
                    added.iter().for_each(|text| column.push(text));
                }
                Column::Numbers(_) => return Err(changed(&added.head)),
            }
        }
        self.frames += batch.count;
        Ok(())
    }

    /// The column with this head; a new one if there is none.
    fn column(
        &mut self,
        head: &ColumnHead,
        empty: impl FnOnce() -> Column,
    ) -> Result<&mut Column, WriteError> {
        let index = *self.by_key.entry(head.key.clone()).or_insert_with(|| {
            self.columns.push(empty());
            self.columns.len() - 1
        });
        match self.columns.get_mut(index) {
            Some(column) if column.head() == head => Ok(column),
            _ => Err(changed(head)),
        }
    }

    /// Brings all columns to one length and into the order of the registry; extras last, first those of numbers.
    fn fill_up(&mut self) {
        for column in &mut self.columns {
            match column {
                Column::Numbers(column) => column.values.resize(self.frames, f64::NAN),
                Column::Texts(column) => column.index.resize(self.frames, NO_LABEL),
            }
        }
        self.columns.sort_by_key(|column| match column.head().key {
            ColumnKey::Channel(channel) => (0, Some(channel)),
            ColumnKey::Extra(_) => (1 + u32::from(matches!(column, Column::Texts(_))), None),
        });
    }

    fn print(&self, p: &mut Printer) {
        p.object(|p| {
            objects::take_head(p, &self.take);
            p.key("frames");
            p.integer(self.frames as u64);
            p.key("channels");
            p.object(|p| {
                for column in &self.columns {
                    match column {
                        Column::Numbers(column) => objects::number_column(p, column),
                        Column::Texts(column) => objects::text_column(p, column),
                    }
                }
            });
        });
    }
}

impl Column {
    fn head(&self) -> &ColumnHead {
        match self {
            Column::Numbers(column) => &column.head,
            Column::Texts(column) => &column.head,
        }
    }
}

fn changed(head: &ColumnHead) -> WriteError {
    WriteError::content(
        format!(
            "column `{}` changes its unit, reference, origin or form within the take",
            head.key.name()
        ),
        "write a .take.jsonl, where a column may change",
    )
}
