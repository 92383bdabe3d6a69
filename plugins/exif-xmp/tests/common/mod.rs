//! Building, reading, writing and comparing in tests.

#![allow(dead_code)]

use std::collections::BTreeMap;
use std::path::PathBuf;

use ringmark_exif_xmp::{Sequence, SidecarWriter};
use ringmark_sdk::batch::label_text;
use ringmark_sdk::native::{MemoryInput, MemoryOutput, read_all};
use ringmark_sdk::{Datum, Fact, Failure, Item, Reader, Remark, Writer};

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

/// A value of a TIFF field.
#[derive(Clone)]
pub enum Val {
    Ascii(&'static str),
    Bytes(u16, Vec<u8>),
    Short(Vec<u16>),
    Long(Vec<u32>),
    Ratio(Vec<(u32, u32)>),
    Signed(Vec<(i32, i32)>),
    /// Type, count and the last four bytes as they are.
    Entry(u16, u32, u32),
    /// The offset of the Exif directory.
    ExifPointer,
}

fn bytes_of(value: &Val, big: bool) -> (u16, u32, Vec<u8>) {
    let short = |n: u16| {
        if big {
            n.to_be_bytes()
        } else {
            n.to_le_bytes()
        }
    };
    let long = |n: u32| {
        if big {
            n.to_be_bytes()
        } else {
            n.to_le_bytes()
        }
    };
    match value {
        Val::Ascii(text) => (2, text.len() as u32 + 1, [text.as_bytes(), b"\0"].concat()),
        Val::Bytes(kind, bytes) => (*kind, bytes.len() as u32, bytes.clone()),
        Val::Short(all) => (
            3,
            all.len() as u32,
            all.iter().flat_map(|n| short(*n)).collect(),
        ),
        Val::Long(all) => (
            4,
            all.len() as u32,
            all.iter().flat_map(|n| long(*n)).collect(),
        ),
        Val::Ratio(all) => {
            let parts = all.iter().flat_map(|(n, d)| [long(*n), long(*d)].concat());
            (5, all.len() as u32, parts.collect())
        }
        Val::Signed(all) => {
            let parts = all
                .iter()
                .flat_map(|(n, d)| [long(*n as u32), long(*d as u32)].concat());
            (10, all.len() as u32, parts.collect())
        }
        Val::Entry(..) | Val::ExifPointer => unreachable!(),
    }
}

/// A TIFF structure with a first and an Exif directory.
pub fn tiff(big: bool, main: &[(u16, Val)], exif: &[(u16, Val)]) -> Vec<u8> {
    let short = |n: u16| {
        if big {
            n.to_be_bytes()
        } else {
            n.to_le_bytes()
        }
    };
    let long = |n: u32| {
        if big {
            n.to_be_bytes()
        } else {
            n.to_le_bytes()
        }
    };
    let mut main = main.to_vec();
    if !exif.is_empty() {
        main.push((0x8769, Val::ExifPointer));
    }
    let mut out = if big { b"MM".to_vec() } else { b"II".to_vec() };
    out.extend(short(42));
    out.extend(long(8));
    let table = |count: usize| 2 + 12 * count + 4;
    let exif_at = 8 + table(main.len());
    let mut values_at = exif_at
        + if exif.is_empty() {
            0
        } else {
            table(exif.len())
        };
    let mut values = Vec::new();
    for directory in [main.as_slice(), exif] {
        if directory.is_empty() {
            continue;
        }
        out.extend(short(directory.len() as u16));
        for (tag, value) in directory {
            out.extend(short(*tag));
            match value {
                Val::Entry(kind, count, last) => {
                    out.extend(short(*kind));
                    out.extend(long(*count));
                    out.extend(long(*last));
                    continue;
                }
                Val::ExifPointer => {
                    out.extend(short(4));
                    out.extend(long(1));
                    out.extend(long(exif_at as u32));
                    continue;
                }
                _ => {}
            }
            let (kind, count, mut bytes) = bytes_of(value, big);
            out.extend(short(kind));
            out.extend(long(count));
            if bytes.len() <= 4 {
                bytes.resize(4, 0);
                out.extend(bytes);
            } else {
                out.extend(long(values_at as u32));
                values_at += bytes.len();
                values.extend(bytes);
            }
        }
        out.extend(long(0));
    }
    out.extend(values);
    out
}

fn segment(marker: u8, body: &[u8]) -> Vec<u8> {
    let mut bytes = vec![0xff, marker];
    bytes.extend_from_slice(&(body.len() as u16 + 2).to_be_bytes());
    bytes.extend_from_slice(body);
    bytes
}

/// The head of a JPEG file with these parts; size 6000 × 4000.
pub fn jpeg(exif: Option<&[u8]>, xmp: Option<&str>) -> Vec<u8> {
    let mut bytes = vec![0xff, 0xd8];
    if let Some(exif) = exif {
        bytes.extend(segment(0xe1, &[b"Exif\0\0", exif].concat()));
    }
    if let Some(xmp) = xmp {
        let head = b"http://ns.adobe.com/xap/1.0/\0".as_slice();
        bytes.extend(segment(0xe1, &[head, xmp.as_bytes()].concat()));
    }
    let [h1, h0] = 4000_u16.to_be_bytes();
    let [w1, w0] = 6000_u16.to_be_bytes();
    bytes.extend(segment(0xc0, &[8, h1, h0, w1, w0, 1, 1, 0x11, 0]));
    bytes.extend(segment(0xda, &[1, 1, 0, 0, 0x3f, 0]));
    bytes.extend([0, 0xff, 0xd9]);
    bytes
}

/// A packet with these properties as they stand in XML; prefixes tiff, exif, exifEX, aux and x.
pub fn packet(properties: &str) -> String {
    packet_with("", properties)
}

/// The same with attributes.
pub fn packet_with(attributes: &str, properties: &str) -> String {
    format!(
        "<x:xmpmeta xmlns:x='adobe:ns:meta/'><rdf:RDF xmlns:rdf='http://www.w3.org/1999/02/22-rdf-syntax-ns#'>\
         <rdf:Description rdf:about='' xmlns:tiff='http://ns.adobe.com/tiff/1.0/' xmlns:exif='http://ns.adobe.com/exif/1.0/' \
         xmlns:exifEX='http://cipa.jp/exif/1.0/' xmlns:aux='http://ns.adobe.com/exif/1.0/aux/' \
         xmlns:x='http://ns.example/x/' {attributes}>{properties}</rdf:Description></rdf:RDF></x:xmpmeta>"
    )
}

/// All items of a file.
pub fn read(name: &str, bytes: &[u8]) -> Result<Vec<Item>, Failure> {
    read_all::<Sequence>(name, bytes, "{}")
}

/// All items of a sequence.
pub fn read_sequence(files: &[(&str, Vec<u8>)]) -> Result<Vec<Item>, Failure> {
    let inputs = files
        .iter()
        .map(|(name, bytes)| MemoryInput::boxed(name, bytes.as_slice()));
    let mut reader = Sequence::open(inputs.collect(), "{}")?;
    let mut items = Vec::new();
    while let Some(item) = reader.next()? {
        items.push(item);
    }
    Ok(items)
}

/// What the writer makes of these items beside these stills; one output without.
pub fn write_beside(items: &[Item], stills: &[&str]) -> Result<Vec<String>, Failure> {
    let outputs: Vec<MemoryOutput> = stills.iter().map(|_| MemoryOutput::default()).collect();
    let single = MemoryOutput::default();
    let outputs = if stills.is_empty() {
        vec![single]
    } else {
        outputs
    };
    let templates = stills
        .iter()
        .map(|name| MemoryInput::boxed(name, Vec::new()));
    let boxed = outputs.iter().map(MemoryOutput::boxed).collect();
    let mut writer = SidecarWriter::open(boxed, templates.collect(), "{}")?;
    for item in items {
        writer.put(item.clone())?;
    }
    writer.finish()?;
    let text = |output: &MemoryOutput| String::from_utf8(output.bytes()).unwrap();
    Ok(outputs.iter().map(text).collect())
}

/// The one sidecar of a take of one frame.
pub fn write(items: &[Item]) -> Result<String, Failure> {
    Ok(write_beside(items, &[])?.remove(0))
}

/// Remarks among the items.
pub fn remarks(items: &[Item]) -> Vec<Remark> {
    let remarks = items.iter().filter_map(|item| match item {
        Item::Remark(remark) => Some(remark.clone()),
        _ => None,
    });
    remarks.collect()
}

/// Names of the defects, in order.
pub fn checks(items: &[Item]) -> Vec<String> {
    remarks(items)
        .into_iter()
        .map(|remark| remark.check)
        .collect()
}

/// Items in a form in which equal takes are equal: texts `VALUE [UNIT REFERENCE]` by name and
/// frame, without what is not recorded in any frame.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Flat {
    pub lenses: Vec<Vec<String>>,
    pub lens: Option<u32>,
    pub facts: Vec<String>,
    pub columns: BTreeMap<String, Vec<Option<String>>>,
    pub frames: usize,
}

impl Flat {
    /// What stands in the first frame.
    pub fn get(&self, channel: &str) -> Option<&str> {
        self.columns.get(channel)?.first()?.as_deref()
    }

    /// The number in the first frame; NaN for none.
    pub fn number(&self, channel: &str) -> f64 {
        let text = self.get(channel).unwrap_or("NaN");
        text.split(' ').next().unwrap().parse().unwrap()
    }

    /// The fact of the first lens or the take.
    pub fn fact(&self, name: &str) -> Option<&str> {
        let lens = self.lenses.iter().flatten();
        let mut all = lens.chain(&self.facts);
        all.find_map(|fact| fact.strip_prefix(name)?.strip_prefix(" = "))
    }
}

fn flat_facts(facts: &[Fact]) -> Vec<String> {
    let mut flat: Vec<String> = facts
        .iter()
        .filter(|fact| !matches!(fact.value, Datum::Number(n) if n.is_nan()))
        .map(|fact| match &fact.value {
            Datum::Number(number) => format!("{} = {number:?} [{}]", fact.name, fact.unit),
            Datum::Text(text) => format!("{} = {text:?} [{}]", fact.name, fact.unit),
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
                let mut put = |name: &str, values: Vec<Option<String>>| {
                    assert_eq!(values.len(), count, "{name}");
                    let column = flat.columns.entry(name.to_owned()).or_default();
                    column.resize(flat.frames, None);
                    column.extend(values);
                };
                for column in &frames.columns {
                    let tail = format!("[{} {}]", column.unit, column.reference);
                    let values = column.values.iter();
                    let values = values.map(|v| (!v.is_nan()).then(|| format!("{v:?} {tail}")));
                    put(&column.channel, values.collect());
                }
                for labels in &frames.labels {
                    let text = |i| Some(format!("{} [{}]", label_text(labels, i)?, labels.form));
                    put(&labels.channel, (0..count).map(text).collect());
                }
                flat.frames += count;
            }
            Item::Remark(_) => {}
        }
    }
    for column in flat.columns.values_mut() {
        column.resize(flat.frames, None);
    }
    flat.columns
        .retain(|_, column| column.iter().any(Option::is_some));
    flat
}
