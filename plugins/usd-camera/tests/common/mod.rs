//! Writing, reading and comparing stages in tests.

#![allow(dead_code)]

use std::collections::BTreeMap;
use std::path::PathBuf;

use ringmark_sdk::batch::label_text;
use ringmark_sdk::native::{MemoryInput, MemoryOutput, read_all};
use ringmark_sdk::{Column, Datum, Fact, Failure, Frames, Item, Reader, Remark, Take, Writer};
use ringmark_usd_camera::{StageReader, StageWriter};

/// A file of `tests/data`, or of the damaged ones in its `malformed`.
pub fn data(name: &str) -> Vec<u8> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/data");
    let damaged = folder.join("malformed").join(name);
    let path = if damaged.exists() {
        damaged
    } else {
        folder.join(name)
    };
    std::fs::read(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

/// The same as text.
pub fn text(name: &str) -> String {
    String::from_utf8(data(name)).unwrap()
}

/// What the writer makes of these items with `outputs` outputs, joined.
pub fn write_with(items: &[Item], options: &str, outputs: usize) -> Result<String, Failure> {
    let outputs: Vec<_> = (0..outputs).map(|_| MemoryOutput::default()).collect();
    let boxed = outputs.iter().map(MemoryOutput::boxed).collect();
    let mut writer = StageWriter::open(boxed, Vec::new(), options)?;
    for item in items {
        writer.put(item.clone())?;
    }
    writer.finish()?;
    let bytes = outputs.iter().flat_map(MemoryOutput::bytes).collect();
    Ok(String::from_utf8(bytes).unwrap())
}

/// What the writer makes of these items.
pub fn write(items: &[Item]) -> Result<String, Failure> {
    write_with(items, "{}", 160)
}

/// All items of a file.
pub fn read(text: &[u8]) -> Result<Vec<Item>, Failure> {
    read_all::<StageReader>("shot.usda", text, "{}")
}

/// The items before the failure, and the failure.
pub fn read_until_failure(bytes: &[u8]) -> (Vec<Item>, Option<Failure>) {
    let mut items = Vec::new();
    let mut reader = match StageReader::open(vec![MemoryInput::boxed("shot.usda", bytes)], "{}") {
        Ok(reader) => reader,
        Err(failure) => return (items, Some(failure)),
    };
    loop {
        match reader.next() {
            Ok(Some(item)) => items.push(item),
            Ok(None) => return (items, None),
            Err(failure) => return (items, Some(failure)),
        }
    }
}

/// Remarks among the items.
pub fn remarks(items: &[Item]) -> Vec<Remark> {
    let remark = |item: &Item| match item {
        Item::Remark(remark) => Some(remark.clone()),
        _ => None,
    };
    items.iter().filter_map(remark).collect()
}

/// Names of the defects that are remarked.
pub fn checks(items: &[Item]) -> Vec<String> {
    remarks(items).into_iter().map(|r| r.check).collect()
}

/// A column over the whole take: what it holds, and one text a frame (`None`: not recorded).
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Values {
    pub kind: String,
    pub values: Vec<Option<String>>,
}

/// A take in a form in which equal ones are equal, however they are cut into batches. Columns
/// without any value are left out.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Flat {
    pub lens: Option<u32>,
    pub facts: Vec<String>,
    pub columns: BTreeMap<String, Values>,
    pub frames: usize,
}

impl Flat {
    /// Numbers of a channel; NaN where there are none.
    pub fn numbers(&self, channel: &str) -> Vec<f64> {
        let column = self.columns.get(channel);
        let values = column
            .unwrap_or_else(|| panic!("no {channel}"))
            .values
            .iter();
        values
            .map(|v| v.as_ref().map_or(f64::NAN, |v| v.parse().unwrap()))
            .collect()
    }

    /// Whether there is a fact `name = value [unit]`.
    pub fn has(&self, fact: &str) -> bool {
        self.facts.iter().any(|f| f == fact)
    }
}

/// Facts as sorted texts.
pub fn flat_facts(facts: &[Fact]) -> Vec<String> {
    let show = |fact: &Fact| {
        let value = match &fact.value {
            Datum::Number(number) => format!("{number:?}"),
            Datum::Text(text) => format!("{text:?}"),
        };
        format!("{} = {value} [{}]", fact.name, fact.unit)
    };
    let known = facts
        .iter()
        .filter(|f| !matches!(f.value, Datum::Number(n) if n.is_nan()));
    let mut flat: Vec<String> = known.map(show).collect();
    flat.sort();
    flat
}

/// The lenses among the items.
pub fn lenses(items: &[Item]) -> Vec<Vec<String>> {
    let lens = |item: &Item| match item {
        Item::Lens(lens) => Some(flat_facts(&lens.facts)),
        _ => None,
    };
    items.iter().filter_map(lens).collect()
}

/// The takes among the items.
pub fn takes(items: &[Item]) -> Vec<Flat> {
    let mut takes: Vec<Flat> = Vec::new();
    for item in items {
        match item {
            Item::Take(take) => takes.push(Flat {
                lens: take.lens,
                facts: flat_facts(&take.facts),
                ..Flat::default()
            }),
            Item::Frames(frames) => add(&mut takes[frames.take as usize], frames),
            Item::Lens(_) | Item::Remark(_) => {}
        }
    }
    for take in &mut takes {
        for column in take.columns.values_mut() {
            column.values.resize(take.frames, None);
        }
        take.columns
            .retain(|_, c| c.values.iter().any(Option::is_some));
    }
    takes
}

fn add(flat: &mut Flat, frames: &Frames) {
    assert_eq!(frames.first as usize, flat.frames);
    assert!(frames.offsets.is_empty() || frames.offsets.len() == frames.count as usize);
    let count = frames.count as usize;
    let before = flat.frames;
    let mut put = |name: &str, kind: String, values: Vec<Option<String>>| {
        assert_eq!(values.len(), count, "{name}");
        let column = flat.columns.entry(name.to_owned()).or_default();
        if column.values.is_empty() {
            column.kind = kind.clone();
        }
        assert_eq!(column.kind, kind, "{name}");
        column.values.resize(before, None);
        column.values.extend(values);
    };
    for column in &frames.columns {
        let values = column.values.iter();
        let values = values.map(|v| (!v.is_nan()).then(|| format!("{v:?}")));
        let kind = format!("number {} {}", column.unit, column.reference);
        put(&column.channel, kind, values.collect());
    }
    for labels in &frames.labels {
        let values = (0..count).map(|i| label_text(labels, i).map(str::to_owned));
        put(&labels.channel, labels.form.clone(), values.collect());
    }
    flat.frames += count;
}

/// The only take among the items.
pub fn take(items: &[Item]) -> Flat {
    let mut takes = takes(items);
    assert_eq!(takes.len(), 1);
    takes.remove(0)
}

/// A column of numbers.
pub fn column(channel: &str, unit: &str, reference: &str, values: &[f64]) -> Column {
    Column {
        channel: channel.into(),
        unit: unit.into(),
        reference: reference.into(),
        values: values.to_vec(),
    }
}

/// Frames of take 0 from `first` on.
pub fn frames(first: u64, columns: Vec<Column>) -> Item {
    Item::Frames(Frames {
        take: 0,
        first,
        count: columns.first().map_or(0, |c| c.values.len() as u32),
        columns,
        labels: Vec::new(),
        inputs: Vec::new(),
        offsets: Vec::new(),
    })
}

/// The head of a take.
pub fn head(lens: Option<u32>, facts: Vec<Fact>) -> Item {
    Item::Take(Take { lens, facts })
}

/// A fact that is a number.
pub fn number(name: &str, value: f64, unit: &str) -> Fact {
    Fact {
        name: name.into(),
        value: Datum::Number(value),
        unit: unit.into(),
        at: None,
    }
}

/// A small file: a stage and one camera with these attributes.
pub fn stage(metadata: &str, attributes: &str) -> String {
    format!("#usda 1.0\n(\n{metadata}\n)\n\ndef Camera \"c\"\n{{\n{attributes}\n}}\n")
}
