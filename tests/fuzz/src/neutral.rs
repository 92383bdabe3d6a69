//! The neutral document in its three forms.

use ringmark_model::Piece;
use ringmark_model::json::{
    DocumentKind, DocumentWriter, JsonLinesWriter, ReadError, WriteError, open,
};

/// A `.take.jsonl`, `.take.json` or `.lens.json`: the reader tells them apart.
pub fn neutral(bytes: &[u8]) {
    let mut reader = open("fuzz.json", bytes);
    let mut pieces = Vec::new();
    loop {
        match reader.next_piece() {
            Ok(Some(piece)) => pieces.push(piece),
            Ok(None) => break,
            Err(error) => {
                assert!(!error.to_string().is_empty());
                return;
            }
        }
    }
    batches_fit(&pieces);
    keeps(&pieces);
    for kind in [DocumentKind::Takes, DocumentKind::Lenses] {
        if let Ok(once) = document(kind, &pieces) {
            let again =
                read(&once).unwrap_or_else(|e| panic!("{e}\n{}", String::from_utf8_lossy(&once)));
            let twice = document(kind, &again).unwrap_or_else(|e| panic!("{e:?}"));
            same(&once, &twice);
        }
    }
}

/// Asserts that take lines hold `pieces`: what is written is read, and written the same again.
pub fn keeps(pieces: &[Piece]) {
    // Too long lines and too many columns are refused.
    let Ok(once) = lines(pieces) else { return };
    let again = read(&once).unwrap_or_else(|e| panic!("{e}\n{}", String::from_utf8_lossy(&once)));
    batches_fit(&again);
    let twice = lines(&again).unwrap_or_else(|e| panic!("{e:?}"));
    same(&once, &twice);
}

/// Asserts that two writings are the same, and shows where they are not.
pub fn same(once: &[u8], twice: &[u8]) {
    if once == twice {
        return;
    }
    let equal = once.iter().zip(twice).take_while(|(a, b)| a == b).count();
    let near = |bytes: &[u8]| {
        let end = bytes.len().min(equal + 200);
        String::from_utf8_lossy(&bytes[equal.saturating_sub(200)..end]).into_owned()
    };
    panic!(
        "the second writing differs from byte {equal} on:\n{}\n{}",
        near(once),
        near(twice)
    );
}

fn read(bytes: &[u8]) -> Result<Vec<Piece>, ReadError> {
    open("again.json", bytes).collect()
}

fn lines(pieces: &[Piece]) -> Result<Vec<u8>, WriteError> {
    let mut writer = JsonLinesWriter::new(Vec::new());
    for piece in pieces {
        writer.put(piece)?;
    }
    if !matches!(pieces.last(), Some(Piece::End(_))) {
        writer.put(&Piece::End(Vec::new()))?;
    }
    writer.finish()
}

fn document(kind: DocumentKind, pieces: &[Piece]) -> Result<Vec<u8>, WriteError> {
    let mut writer = DocumentWriter::new(kind, Vec::new());
    for piece in pieces {
        writer.put(piece)?;
    }
    if !matches!(pieces.last(), Some(Piece::End(_))) {
        writer.put(&Piece::End(Vec::new()))?;
    }
    writer.finish()
}

/// Columns as long as their batch, batches one after another, texts that can be looked up.
fn batches_fit(pieces: &[Piece]) {
    let mut takes: Vec<u64> = Vec::new();
    let mut lenses = 0;
    for piece in pieces {
        match piece {
            Piece::Lens(_) => lenses += 1,
            Piece::Take(take) => {
                assert!(take.lens.is_none_or(|lens| lens < lenses));
                takes.push(0);
            }
            Piece::Frames(batch) => {
                let before = &mut takes[batch.take];
                assert_eq!(batch.first, *before);
                *before += batch.count as u64;
                for column in &batch.numbers {
                    assert_eq!(column.values.len(), batch.count, "{:?}", column.head.key);
                }
                for column in &batch.texts {
                    assert_eq!(column.index.len(), batch.count, "{:?}", column.head.key);
                    for &index in &column.index {
                        let recorded = index != ringmark_model::batch::NO_LABEL;
                        assert_eq!(
                            column.entry(index).is_some(),
                            recorded,
                            "{:?}",
                            column.head.key
                        );
                    }
                }
            }
            Piece::Remark(_) | Piece::End(_) => {}
        }
    }
}
