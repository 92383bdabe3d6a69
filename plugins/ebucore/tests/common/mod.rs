//! Writing, reading and comparing takes in tests.

#![allow(dead_code)]

use std::collections::BTreeMap;
use std::path::PathBuf;

use ringmark_ebucore::{TakeReader, TakeWriter};
use ringmark_sdk::batch::label_text;
use ringmark_sdk::native::{MemoryOutput, read_all};
use ringmark_sdk::{Datum, Fact, Failure, Item, Reader, Remark, Writer, native::MemoryInput};

/// A reference file.
pub fn reference(name: &str) -> Vec<u8> {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("tests/data")
        .join(name);
    std::fs::read(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

/// What the writer makes of these items.
pub fn write(items: &[Item]) -> Result<String, Failure> {
    let output = MemoryOutput::default();
    let mut writer = TakeWriter::open(vec![output.boxed()], Vec::new(), "{}")?;
    for item in items {
        writer.put(item.clone())?;
    }
    writer.finish()?;
    Ok(String::from_utf8(output.bytes()).unwrap())
}

/// All items of a file.
pub fn read(bytes: &[u8]) -> Result<Vec<Item>, Failure> {
    read_all::<TakeReader>("take.ebucore.xml", bytes, "{}")
}

/// The items before the failure, and the failure.
pub fn read_until_failure(bytes: &[u8]) -> (Vec<Item>, Option<Failure>) {
    let mut items = Vec::new();
    let mut reader =
        match TakeReader::open(vec![MemoryInput::boxed("take.ebucore.xml", bytes)], "{}") {
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
    items
        .iter()
        .filter_map(|item| match item {
            Item::Remark(remark) => Some(remark.clone()),
            _ => None,
        })
        .collect()
}

/// Number of frames among the items.
pub fn frame_count(items: &[Item]) -> usize {
    items
        .iter()
        .map(|item| match item {
            Item::Frames(frames) => frames.count as usize,
            _ => 0,
        })
        .sum()
}

/// A column over the whole take: what it holds, and one text a frame (`None`: not recorded).
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Column {
    pub kind: String,
    pub values: Vec<Option<String>>,
}

/// Items in a form in which equal takes are equal, however they are cut into batches.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Flat {
    pub lenses: Vec<Vec<String>>,
    pub lens: Option<u32>,
    pub facts: Vec<String>,
    pub columns: BTreeMap<String, Column>,
    pub frames: usize,
}

fn flat_facts(facts: &[Fact]) -> Vec<String> {
    let mut flat: Vec<String> = facts
        .iter()
        .map(|fact| {
            let value = match &fact.value {
                Datum::Number(number) => format!("{number:?}"),
                Datum::Text(text) => format!("{text:?}"),
            };
            // `text` and nothing are the same unit of a text.
            let unit = match &fact.value {
                Datum::Text(_) if fact.unit == "text" => "",
                _ => &fact.unit,
            };
            format!("{} = {value} [{unit}]", fact.name)
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
                let mut put = |name: &str, kind: String, values: Vec<Option<String>>| {
                    let column = flat.columns.entry(name.to_owned()).or_default();
                    if column.values.is_empty() {
                        column.kind = kind.clone();
                    }
                    assert_eq!(column.kind, kind, "{name}");
                    column.values.resize(flat.frames, None);
                    column.values.extend(values);
                };
                for column in &frames.columns {
                    let values = column
                        .values
                        .iter()
                        .map(|v| (!v.is_nan()).then(|| format!("{v:?}")));
                    put(
                        &column.channel,
                        format!("number {} {}", column.unit, column.reference),
                        values.collect(),
                    );
                }
                for labels in &frames.labels {
                    let values = (0..count).map(|i| label_text(labels, i).map(str::to_owned));
                    put(&labels.channel, labels.form.clone(), values.collect());
                }
                flat.frames += count;
            }
            Item::Remark(_) => {}
        }
    }
    for column in flat.columns.values_mut() {
        column.values.resize(flat.frames, None);
    }
    flat
}

/// The number of a column at a frame; `None` where it is not recorded.
pub fn value(flat: &Flat, channel: &str, frame: usize) -> Option<f64> {
    let column = flat.columns.get(channel)?;
    column.values[frame].as_ref().map(|v| v.parse().unwrap())
}

/// A document around `body`; `start` may be empty.
pub fn document(rate: &str, start: &str, body: &str) -> String {
    let start = match start {
        "" => String::new(),
        start => format!("<extractionStartTime>{start}</extractionStartTime>"),
    };
    let (rate, factors) = rate.split_once('"').unwrap_or((rate, ""));
    let factors = match factors {
        "" => String::new(),
        factors => format!("{factors}\""),
    };
    format!(
        "<?xml version='1.0'?>\n<ebuCoreMain xmlns='urn:ebu:metadata-schema:ebucore' version='1.10'><coreMetadata><format><acquisitionData>{start}\n<acquisitionFrameRate{factors}>{rate}</acquisitionFrameRate>\n{body}\n</acquisitionData></format></coreMetadata></ebuCoreMain>\n"
    )
}

/// One segment with parameters: name, further attributes, text.
pub fn by_segment(start: &str, end: &str, parameters: &[(&str, &str, &str)]) -> String {
    let parameters: String = parameters
        .iter()
        .map(|(name, attributes, text)| {
            format!("<parameter name='{name}' {attributes}>{text}</parameter>\n")
        })
        .collect();
    format!(
        "<segmentParameterDataOutput><segment startTime='{start}' endTime='{end}'>{parameters}</segment></segmentParameterDataOutput>"
    )
}

/// A segment: start, end, further attributes, text.
pub type Segment<'t> = (&'t str, &'t str, &'t str, &'t str);

/// Parameters with segments.
pub fn by_parameter(parameters: &[(&str, &[Segment<'_>])]) -> String {
    let mut text = "<parameterSegmentDataOutput>".to_owned();
    for (name, segments) in parameters {
        text.push_str(&format!("<parameter name='{name}'>"));
        for (start, end, attributes, values) in *segments {
            text.push_str(&format!(
                "<segment startTime='{start}' endTime='{end}' {attributes}>{values}</segment>\n"
            ));
        }
        text.push_str("</parameter>");
    }
    text + "</parameterSegmentDataOutput>"
}
