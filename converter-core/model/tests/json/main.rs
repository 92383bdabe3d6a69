//! The neutral document as JSON: written, read, validated, damaged.

#![allow(clippy::unwrap_used, missing_docs)]

mod canonical;
mod cut_off;
mod forms;
mod generate;
mod refused;
mod round_trip;

use ringmark_model::Piece;
use ringmark_model::json::{DocumentKind, DocumentWriter, JsonLinesWriter, ReadError, open};

/// The pieces as `.take.jsonl`.
fn lines(pieces: &[Piece]) -> Vec<u8> {
    let mut writer = JsonLinesWriter::new(Vec::new());
    for piece in pieces {
        writer.put(piece).unwrap();
    }
    writer.finish().unwrap()
}

/// The pieces as `.take.json` or `.lens.json`.
fn document(kind: DocumentKind, pieces: &[Piece]) -> Vec<u8> {
    let mut writer = DocumentWriter::new(kind, Vec::new());
    for piece in pieces {
        writer.put(piece).unwrap();
    }
    writer.finish().unwrap()
}

fn read(bytes: &[u8]) -> Result<Vec<Piece>, ReadError> {
    open("sample", bytes).collect()
}
