//! Building, writing, reading and comparing takes in tests.

#![allow(dead_code)]

use std::collections::BTreeMap;
use std::path::PathBuf;

use ringmark_acquisition_klv::{SetReader, SetWriter};
use ringmark_sdk::batch::label_text;
use ringmark_sdk::native::{MemoryInput, MemoryOutput, read_all};
use ringmark_sdk::{Column, Datum, Fact, Failure, Frames, Item, Reader, Remark, Take, Writer};

pub const LENS: [u8; 16] = [6, 0xe, 0x2b, 0x34, 2, 0x53, 1, 1, 0xc, 2, 1, 1, 1, 1, 0, 0];
pub const CAMERA: [u8; 16] = [6, 0xe, 0x2b, 0x34, 2, 0x53, 1, 1, 0xc, 2, 1, 1, 2, 1, 0, 0];
pub const USER_DEFINED: [u8; 16] = [
    6, 0xe, 0x2b, 0x34, 2, 0x53, 1, 1, 0xc, 2, 1, 1, 0x7f, 1, 0, 0,
];
pub const FILL: [u8; 16] = [6, 0xe, 0x2b, 0x34, 1, 1, 1, 2, 3, 1, 2, 0x10, 1, 0, 0, 0];

/// A file of `tests/data`.
pub fn data(name: &str) -> Vec<u8> {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("tests/data")
        .join(name);
    std::fs::read(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

/// A triplet with a length of four bytes.
pub fn klv(key: [u8; 16], value: &[u8]) -> Vec<u8> {
    let mut bytes = key.to_vec();
    bytes.push(0x83);
    bytes.extend_from_slice(&(value.len() as u32).to_be_bytes()[1..]);
    bytes.extend_from_slice(value);
    bytes
}

/// Items of two-byte tag and length.
pub fn items(items: &[(u16, &[u8])]) -> Vec<u8> {
    let mut bytes = Vec::new();
    for (tag, value) in items {
        bytes.extend_from_slice(&tag.to_be_bytes());
        bytes.extend_from_slice(&(value.len() as u16).to_be_bytes());
        bytes.extend_from_slice(value);
    }
    bytes
}

/// A set of these items.
pub fn set(key: [u8; 16], list: &[(u16, &[u8])]) -> Vec<u8> {
    klv(key, &items(list))
}

pub fn read(bytes: &[u8]) -> Result<Vec<Item>, Failure> {
    read_all::<SetReader>("take.klv", bytes, "{}")
}

/// The items before the failure, and the failure.
pub fn read_until_failure(bytes: &[u8]) -> (Vec<Item>, Option<Failure>) {
    let mut items = Vec::new();
    let mut reader = SetReader::open(vec![MemoryInput::boxed("take.klv", bytes)], "{}").unwrap();
    loop {
        match reader.next() {
            Ok(Some(item)) => items.push(item),
            Ok(None) => return (items, None),
            Err(failure) => return (items, Some(failure)),
        }
    }
}

pub fn write(items: &[Item]) -> Result<Vec<u8>, Failure> {
    let output = MemoryOutput::default();
    let mut writer = SetWriter::open(vec![output.boxed()], Vec::new(), "{}")?;
    for item in items {
        writer.put(item.clone())?;
    }
    writer.finish()?;
    Ok(output.bytes())
}

/// A take of these columns.
pub fn take(columns: Vec<Column>) -> Vec<Item> {
    let count = columns.first().map_or(0, |c| c.values.len()) as u32;
    vec![
        Item::Take(Take {
            lens: None,
            facts: Vec::new(),
        }),
        Item::Frames(Frames {
            take: 0,
            first: 0,
            count,
            columns,
            labels: Vec::new(),
            inputs: Vec::new(),
            offsets: Vec::new(),
        }),
    ]
}

pub fn column(channel: &str, unit: &str, reference: &str, values: &[f64]) -> Column {
    Column {
        channel: channel.to_owned(),
        unit: unit.to_owned(),
        reference: reference.to_owned(),
        values: values.to_vec(),
    }
}

pub fn remarks(items: &[Item]) -> Vec<Remark> {
    items
        .iter()
        .filter_map(|item| match item {
            Item::Remark(remark) => Some(remark.clone()),
            _ => None,
        })
        .collect()
}

/// Names and severities of the remarks.
pub fn told(items: &[Item]) -> Vec<(String, String)> {
    remarks(items)
        .into_iter()
        .map(|remark| (remark.check, remark.severity))
        .collect()
}

/// One value of a column.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    Number(f64),
    Text(String),
}

/// Items in a form in which equal takes are equal, however they are cut into batches. Values that
/// are not recorded are left out.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Flat {
    pub lenses: Vec<Vec<String>>,
    pub lens: Option<u32>,
    pub facts: Vec<String>,
    /// What the column is, and values by frame.
    pub columns: BTreeMap<String, (String, BTreeMap<usize, Cell>)>,
    pub frames: usize,
    pub offsets: Vec<u64>,
}

impl Flat {
    /// The numbers of a column, NaN where nothing is recorded.
    pub fn numbers(&self, name: &str) -> Vec<f64> {
        let column = self.columns.get(name).unwrap_or_else(|| panic!("{name}"));
        (0..self.frames)
            .map(|frame| match column.1.get(&frame) {
                Some(Cell::Number(number)) => *number,
                _ => f64::NAN,
            })
            .collect()
    }

    /// The texts of a column.
    pub fn texts(&self, name: &str) -> Vec<Option<String>> {
        let column = self.columns.get(name).unwrap_or_else(|| panic!("{name}"));
        (0..self.frames)
            .map(|frame| match column.1.get(&frame) {
                Some(Cell::Text(text)) => Some(text.clone()),
                _ => None,
            })
            .collect()
    }

    /// What the column is: `number UNIT REFERENCE` or the form of texts.
    pub fn kind(&self, name: &str) -> &str {
        self.columns.get(name).map_or("", |column| &column.0)
    }
}

fn flat_facts(facts: &[Fact]) -> Vec<String> {
    let mut flat: Vec<String> = facts
        .iter()
        .map(|fact| {
            let value = match &fact.value {
                Datum::Number(number) => format!("{number:?}"),
                Datum::Text(text) => format!("{text:?}"),
            };
            format!("{} = {value} [{}]", fact.name, fact.unit)
        })
        .collect();
    flat.sort();
    flat
}

/// See [`Flat`].
pub fn flat(items: &[Item]) -> Flat {
    let mut flat = Flat::default();
    for item in items {
        match item {
            Item::Lens(lens) => flat.lenses.push(flat_facts(&lens.facts)),
            Item::Take(take) => {
                flat.lens = take.lens;
                flat.facts = flat_facts(&take.facts);
            }
            Item::Frames(frames) => {
                assert_eq!(frames.first as usize, flat.frames);
                let count = frames.count as usize;
                for column in &frames.columns {
                    assert_eq!(column.values.len(), count, "{}", column.channel);
                    let kind = format!("number {} {}", column.unit, column.reference);
                    let values = column.values.iter().enumerate();
                    let cells = values
                        .filter(|(_, v)| !v.is_nan())
                        .map(|(row, v)| (row, Cell::Number(*v)));
                    put(&mut flat, &column.channel, kind, cells);
                }
                for labels in &frames.labels {
                    assert_eq!(labels.index.len(), count, "{}", labels.channel);
                    let cells = (0..count).filter_map(|row| {
                        Some((row, Cell::Text(label_text(labels, row)?.to_owned())))
                    });
                    put(&mut flat, &labels.channel, labels.form.clone(), cells);
                }
                flat.frames += count;
                flat.offsets.extend(&frames.offsets);
            }
            Item::Remark(_) => {}
        }
    }
    flat
}

fn put(flat: &mut Flat, name: &str, kind: String, cells: impl Iterator<Item = (usize, Cell)>) {
    let mut cells = cells.peekable();
    if cells.peek().is_none() {
        return;
    }
    let first = flat.frames;
    let column = flat
        .columns
        .entry(name.to_owned())
        .or_insert_with(|| (kind.clone(), BTreeMap::new()));
    assert_eq!(column.0, kind, "{name}");
    for (row, cell) in cells {
        let before = column.1.insert(first + row, cell);
        assert!(before.is_none(), "{name} twice in frame {}", first + row);
    }
}
