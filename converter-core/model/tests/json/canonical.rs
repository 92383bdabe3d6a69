//! Documents without what the forms are free in: batch borders, places, order of columns.

use std::collections::BTreeMap;

use ringmark_model::{ColumnHead, Lens, Piece, Take};

/// What a document says.
#[derive(Debug, Default, PartialEq)]
pub struct Canonical {
    /// Debug texts: they show floats exactly and take NaN for equal to NaN.
    lenses: Vec<String>,
    takes: Vec<CanonicalTake>,
    end: Option<String>,
}

#[derive(Debug, PartialEq)]
struct CanonicalTake {
    head: String,
    frames: usize,
    columns: BTreeMap<String, Column>,
}

#[derive(Debug, PartialEq)]
struct Column {
    head: ColumnHead,
    /// As texts; `None` is not recorded.
    values: Vec<Option<String>>,
}

pub fn canonical(pieces: &[Piece]) -> Canonical {
    let mut whole = Canonical::default();
    for piece in pieces {
        assert_eq!(whole.end, None, "a piece after the end");
        match piece {
            Piece::Lens(lens) => whole.lenses.push(lens_text(lens)),
            Piece::Take(take) => whole.takes.push(CanonicalTake {
                head: take_text(take),
                frames: 0,
                columns: BTreeMap::new(),
            }),
            Piece::Frames(batch) => {
                let take = &mut whole.takes[batch.take];
                assert_eq!(batch.first, take.frames as u64);
                if batch.count == 0 {
                    continue;
                }
                let numbers = batch.numbers.iter().map(|column| {
                    let values = column.values.iter().map(|&value| number_text(value));
                    (&column.head, values.collect::<Vec<_>>())
                });
                let texts = batch.texts.iter().map(|column| {
                    let values = column.iter().map(|text| text.map(str::to_owned));
                    (&column.head, values.collect::<Vec<_>>())
                });
                for (head, values) in numbers.chain(texts) {
                    assert_eq!(values.len(), batch.count);
                    let column = take
                        .columns
                        .entry(head.key.name())
                        .or_insert_with(|| Column {
                            head: (**head).clone(),
                            values: Vec::new(),
                        });
                    assert_eq!(column.head, **head);
                    column.values.resize(take.frames, None);
                    column.values.extend(values);
                }
                take.frames += batch.count;
            }
            Piece::Remark(_) => {}
            Piece::End(inputs) => whole.end = Some(format!("{inputs:?}")),
        }
    }
    for take in &mut whole.takes {
        for column in take.columns.values_mut() {
            column.values.resize(take.frames, None);
        }
    }
    whole
}

/// -0 is written as 0.
fn number_text(value: f64) -> Option<String> {
    (!value.is_nan()).then(|| format!("{:?}", value + 0.0))
}

fn lens_text(lens: &Lens) -> String {
    let mut lens = lens.clone();
    lens.places.clear();
    for mark in lens.rings.iter_mut().flat_map(|ring| &mut ring.marks) {
        mark.place = None;
    }
    format!("{lens:?}")
}

fn take_text(take: &Take) -> String {
    let mut take = take.clone();
    take.places.clear();
    format!("{take:?}")
}
