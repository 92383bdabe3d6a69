//! Takes as lines: `.take.jsonl`.

use std::collections::VecDeque;
use std::io::Read;

use super::columns::{Declared, columns};
use super::cursor::Cursor;
use super::error::{Parsed, ReadError};
use super::frames::TakeFrames;
use super::heads::Heads;
use super::provenance::provenance;
use super::window::Window;
use crate::json::{MAX_COLUMNS, keys};
use crate::stream::Piece;

/// A document of lines while it is read.
#[derive(Debug, Default)]
pub(super) struct Lines {
    stage: Stage,
    lenses: usize,
    takes: Vec<TakeFrames>,
    /// The take whose batch is at hand.
    open: usize,
    pending: VecDeque<Piece>,
    /// Lines that are done.
    lines: u64,
    /// Blank lines among them.
    blank: u64,
}

#[derive(Debug, Default, Clone, Copy, PartialEq)]
enum Stage {
    #[default]
    Header,
    Frames,
    Ended,
}

impl Lines {
    /// The next piece; `None` at the end of the document.
    pub fn next_piece<R: Read>(
        &mut self,
        name: &str,
        window: &mut Window<R>,
    ) -> Result<Option<Piece>, ReadError> {
        loop {
            if let Some(piece) = self.pending.pop_front() {
                return Ok(Some(piece));
            }
            if window.lines().is_empty() && !window.fill(name, self.lines + 1)? {
                return match self.stage {
                    Stage::Ended => Ok(None),
                    _ => Err(self.cut_off(name, window.offset())),
                };
            }
            let base = window.offset();
            let mut cursor = Cursor::of_lines(window.lines(), base);
            match self.read(&mut cursor) {
                Ok(()) => {
                    let used = cursor.at();
                    window.consume(used);
                }
                Err(fault) if fault.cut => {
                    return Err(self.cut_off(name, base + fault.at as u64));
                }
                Err(fault) => return Err(ReadError::new(name, *fault, base, self.lines + 1)),
            }
        }
    }

    #[cold]
    fn cut_off(&self, name: &str, offset: u64) -> ReadError {
        let frames: u64 = self.takes.iter().map(TakeFrames::count).sum();
        let message = format!("the file is cut off after {frames} frames: it has no end line");
        let help = "copy or write it again";
        ReadError::input(name, message, help, offset, self.lines + 1)
    }

    /// Reads lines until there is a piece, or no line is left.
    fn read(&mut self, c: &mut Cursor) -> Parsed<()> {
        while self.pending.is_empty() {
            let blank = c.blank_lines();
            self.lines += blank;
            self.blank += blank;
            if c.is_at_end() {
                break;
            }
            match self.stage {
                Stage::Header => {
                    self.heads(c, keys::HEADER)?;
                    self.stage = Stage::Frames;
                }
                Stage::Frames => self.line(c)?,
                Stage::Ended => return Err(c.unexpected("nothing after the end line")),
            }
            c.line_end()?;
            self.lines += 1;
        }
        Ok(())
    }

    #[inline]
    fn line(&mut self, c: &mut Cursor) -> Parsed<()> {
        let line = c.clone();
        let offset = c.offset();
        c.expect(b'{', "`{`")?;
        c.space();
        if c.peek() == Some(b'}') || self.takes.first().is_some_and(|take| take.comes_next(c)) {
            return self.frame(c, 0, offset);
        }
        match &*c.clone().key()? {
            "take" => self.line_of_take(c, offset),
            "end" => self.end(c),
            "lenses" | "takes" => {
                *c = line;
                self.heads(c, keys::ADDED)
            }
            _ => self.frame(c, 0, offset),
        }
    }

    /// A line that begins with `"take"`: a frame, or channels.
    fn line_of_take(&mut self, c: &mut Cursor, offset: u64) -> Parsed<()> {
        c.key()?;
        let start = c.at();
        let take = c.whole(u64::from(u32::MAX))?;
        let takes = self.takes.len();
        let Some(take) = usize::try_from(take).ok().filter(|&take| take < takes) else {
            let message = format!("take {take}, but there are {takes} takes");
            return Err(c.fault(start, message, "takes are counted from 0"));
        };
        if c.peek() == Some(b'}') {
            return self.frame(c, take, offset);
        }
        c.expect(b',', "`,` or `}`")?;
        match &*c.clone().key()? {
            "channels" => {
                c.key()?;
                self.flush();
                let declared = columns(c)?;
                self.declare(c, take, declared)?;
                c.expect(b'}', "`}`")
            }
            _ => self.frame(c, take, offset),
        }
    }

    /// A frame of a take, from its first key or closing bracket on.
    #[inline]
    fn frame(&mut self, c: &mut Cursor, take: usize, offset: u64) -> Parsed<()> {
        if take != self.open {
            self.flush();
            self.open = take;
        }
        let Some(frames) = self.takes.get_mut(take) else {
            return Err(c.unexpected("the end line, as the header has no take"));
        };
        match c.take(b'}') {
            true => frames.empty_frame(offset),
            false => frames.frame(c, offset)?,
        }
        if frames.is_full(c.offset()) {
            self.flush();
        }
        Ok(())
    }

    /// Hands over the batch at hand.
    fn flush(&mut self) {
        let batch = self
            .takes
            .get_mut(self.open)
            .and_then(|take| take.flush(self.open));
        self.pending.extend(batch.map(Piece::Frames));
    }

    /// The header, or lenses and takes that are added.
    fn heads(&mut self, c: &mut Cursor, keys: &[&str]) -> Parsed<()> {
        let heads = Heads::read(c, keys, self.lenses)?;
        self.flush();
        self.lenses += heads.lenses.len();
        self.pending
            .extend(heads.lenses.into_iter().map(Piece::Lens));
        for read in heads.takes {
            if let Some((_, start)) = read.frames {
                let message = "`frames` in the head of a take: lines count them in the end line";
                return Err(c.fault(start, message, "remove it"));
            }
            self.pending.push_back(Piece::Take(read.take));
            self.takes.push(TakeFrames::default());
            let take = self.takes.len() - 1;
            self.declare(c, take, read.columns)?;
        }
        Ok(())
    }

    fn declare(&mut self, c: &Cursor, take: usize, declared: Vec<Declared>) -> Parsed<()> {
        if let Some(column) = declared.iter().find(|column| column.values.is_some()) {
            let message = "values in a head: they stand in the lines of the frames";
            return Err(c.fault(column.start, message, ""));
        }
        let Some(frames) = self.takes.get_mut(take) else {
            return Ok(());
        };
        frames.declare(declared);
        if frames.columns() > MAX_COLUMNS {
            let message = format!("more than {MAX_COLUMNS} columns in a take");
            return Err(c.fault(c.at(), message, "leave out columns that are not needed"));
        }
        Ok(())
    }

    /// The end line, from its first key on: the counts must be those of the frames that came.
    fn end(&mut self, c: &mut Cursor) -> Parsed<()> {
        c.key()?;
        let start = c.at();
        let (mut lines, mut counts) = (None, Vec::new());
        let mut inputs = Vec::new();
        c.object(keys::END, |c, key| {
            match key {
                "lines" => lines = Some(c.whole(u64::MAX)?),
                "frames" => c.array(|c| {
                    counts.push(c.whole(u64::MAX)?);
                    Ok(())
                })?,
                _ => inputs = provenance(c)?,
            }
            Ok(())
        })?;
        let help = "lines were lost or added; copy or write the file again";
        let found: Vec<u64> = self.takes.iter().map(TakeFrames::count).collect();
        if counts != found {
            let message =
                format!("the takes have {found:?} frames, but the end line says {counts:?}");
            return Err(c.fault(start, message, help));
        }
        let found = self.lines - self.blank;
        if lines != Some(found) {
            let stated = lines.map_or("nothing of it".to_owned(), |lines| lines.to_string());
            let message = format!("{found} lines come before the end line, but it says {stated}");
            return Err(c.fault(start, message, help));
        }
        c.expect(b'}', "`}`")?;
        self.flush();
        self.pending.push_back(Piece::End(inputs));
        self.stage = Stage::Ended;
        Ok(())
    }
}
