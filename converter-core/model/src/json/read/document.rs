//! Whole documents: `.lens.json` and `.take.json`.

use std::collections::VecDeque;
use std::sync::Arc;

use super::columns::Column;
use super::cursor::Cursor;
use super::error::{Fault, Parsed};
use super::heads::Heads;
use super::take::ReadTake;
use crate::batch::{Batch, FramePlaces, NumberColumn, TextColumn};
use crate::json::keys;
use crate::stream::Piece;

/// Frames a batch, as in takes of lines.
pub(super) const BATCH: usize = 4096;

/// Reads all pieces of a document.
pub(super) fn read(text: &[u8]) -> Parsed<VecDeque<Piece>> {
    let marked = text.starts_with(b"\xef\xbb\xbf");
    let mut c = Cursor::new(text, 0);
    if marked {
        c.take_exactly(b"\xef\xbb\xbf");
    }
    check_start(&mut c)?;
    let heads = Heads::read(&mut c, keys::DOCUMENT, 0)?;
    c.space();
    if !c.is_at_end() {
        let mut fault = c.unexpected("nothing after the end of the document");
        fault.help = "a .take.jsonl has \"form\":\"lines\" in its first line".to_owned();
        return Err(fault);
    }
    let mut pieces = VecDeque::new();
    pieces.extend(heads.lenses.into_iter().map(Piece::Lens));
    for (index, read) in heads.takes.into_iter().enumerate() {
        let (take, batches) = take(&c, read, index)?;
        pieces.push_back(take);
        pieces.extend(batches.into_iter().map(Piece::Frames));
    }
    pieces.push_back(Piece::End(heads.provenance));
    Ok(pieces)
}

fn check_start(c: &mut Cursor) -> Result<(), Box<Fault>> {
    match c.peek() {
        Some(b'{') => Ok(()),
        None => Err(c.fault(c.at(), "the file is empty", "write it anew")),
        Some(_) => {
            let mut fault = c.unexpected("`{` of a lens_data document");
            fault.help = "name the format if it is another one".to_owned();
            Err(fault)
        }
    }
}

fn take(c: &Cursor, read: ReadTake, index: usize) -> Parsed<(Piece, Vec<Batch>)> {
    let mut columns = Vec::with_capacity(read.columns.len());
    let mut places = Vec::new();
    let mut count = read.frames.map(|(count, _)| count);
    for declared in read.columns {
        let (start, name) = (declared.start, declared.head.key.name());
        let (column, offsets) = declared.read(c)?;
        let length = column.len() as u64;
        match count {
            Some(count) if count != length => {
                let message =
                    format!("`{name}` has {length} values, but the take has {count} frames");
                return Err(c.fault(start, message, "write null where nothing was recorded"));
            }
            _ => count = Some(length),
        }
        if places.is_empty() {
            places = offsets;
        }
        columns.push(column);
    }
    let count = count.unwrap_or(0);
    let too_many = |_| {
        let start = read.frames.map_or(read.start, |(_, start)| start);
        c.fault(start, format!("{count} frames without values"), "")
    };
    // Frames without any column are counted only: no file backs their number.
    let count = match columns.is_empty() && count > crate::json::MAX_INLINE_FRAMES {
        true => return Err(too_many(())),
        false => usize::try_from(count).map_err(|_| too_many(()))?,
    };
    Ok((
        Piece::Take(read.take),
        split(index, count, &columns, &places),
    ))
}

/// Cuts whole columns into batches.
fn split(take: usize, count: usize, columns: &[Column], places: &[u64]) -> Vec<Batch> {
    let mut batches = Vec::with_capacity(count.div_ceil(BATCH));
    for first in (0..count).step_by(BATCH) {
        let range = first..count.min(first + BATCH);
        let mut batch = Batch {
            take,
            first: first as u64,
            count: range.len(),
            places: FramePlaces {
                inputs: Vec::new(),
                offsets: places.get(range.clone()).unwrap_or(&[]).to_vec(),
            },
            ..Batch::default()
        };
        for column in columns {
            match column {
                Column::Numbers(whole) => batch.numbers.push(NumberColumn {
                    head: Arc::clone(&whole.head),
                    values: whole.values.get(range.clone()).unwrap_or(&[]).to_vec(),
                }),
                Column::Texts(whole) => {
                    let texts = range.clone().map(|frame| whole.get(frame));
                    let head = Arc::clone(&whole.head);
                    batch.texts.push(TextColumn::from_texts(head, texts));
                }
            }
        }
        batches.push(batch);
    }
    batches
}
