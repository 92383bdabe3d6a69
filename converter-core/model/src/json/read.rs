//! Reading the neutral forms.

mod columns;
mod cursor;
mod document;
mod error;
mod extras;
mod frames;
mod heads;
mod lens;
mod lines;
mod pre_marked;
mod provenance;
mod take;
mod window;

use std::collections::VecDeque;
use std::io::Read;

use cursor::Cursor;
use lines::Lines;
use window::Window;

pub use error::ReadError;
pub use pre_marked::read_pre_marked;

use crate::stream::Piece;

/// Reads any form of the neutral document from `input`; `name` stands in errors. Nothing is read yet.
pub fn open<R: Read>(name: impl Into<String>, input: R) -> NeutralReader<R> {
    NeutralReader {
        name: name.into(),
        window: Window::new(input),
        state: State::Start,
    }
}

/// Reads a neutral document piece by piece; see [`open`].
///
/// A take of any length needs the memory of one batch. Places are those in the document that is read.
pub struct NeutralReader<R: Read> {
    name: String,
    window: Window<R>,
    state: State,
}

enum State {
    Start,
    Lines(Box<Lines>),
    Document(VecDeque<Piece>),
    Done,
}

impl<R: Read> NeutralReader<R> {
    /// The next piece; `None` after [`Piece::End`], and after an error.
    pub fn next_piece(&mut self) -> Result<Option<Piece>, ReadError> {
        let result = self.advance();
        if !matches!(result, Ok(Some(_))) {
            self.state = State::Done;
        }
        result
    }

    fn advance(&mut self) -> Result<Option<Piece>, ReadError> {
        if matches!(self.state, State::Start) {
            self.state = self.start()?;
        }
        match &mut self.state {
            State::Lines(lines) => lines.next_piece(&self.name, &mut self.window),
            State::Document(pieces) => Ok(pieces.pop_front()),
            State::Start | State::Done => Ok(None),
        }
    }

    fn start(&mut self) -> Result<State, ReadError> {
        let first_line = self.window.first_line(&self.name)?;
        if is_lines(first_line) {
            return Ok(State::Lines(Box::default()));
        }
        let text = self.window.whole(&self.name)?;
        match document::read(text) {
            Ok(pieces) => Ok(State::Document(pieces)),
            Err(fault) => Err(ReadError::in_text(&self.name, text, *fault)),
        }
    }
}

impl<R: Read> Iterator for NeutralReader<R> {
    type Item = Result<Piece, ReadError>;

    fn next(&mut self) -> Option<Self::Item> {
        self.next_piece().transpose()
    }
}

/// Whether the first line says `"form":"lines"`.
fn is_lines(first_line: &[u8]) -> bool {
    let mut cursor = Cursor::new(first_line, 0);
    let mut found = false;
    // What is wrong with the line is said when it is read.
    let _ = cursor.members(|c, key, _| {
        if key == "form" {
            found = c.text()? == "lines";
            Ok(())
        } else {
            c.skip()
        }
    });
    found
}
