//! Files, readings and header surgery for the tests of this plugin.
#![allow(dead_code, clippy::unwrap_used, missing_docs)]

use std::path::{Path, PathBuf};

use ringmark_openexr::Sequence;
use ringmark_sdk::native::MemoryInput;
use ringmark_sdk::{Datum, Fact, Failure, Frames, Item, Lens, Reader, Remark, Take};

/// Files written by PyPI OpenEXR 3.5.3; see `origin.md` there.
pub fn standards() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/standards/openexr")
}

pub fn bytes(name: &str) -> Vec<u8> {
    std::fs::read(standards().join(name)).unwrap_or_else(|e| panic!("{name}: {e}"))
}

pub fn json(name: &str) -> serde_json::Value {
    serde_json::from_slice(&bytes(name)).unwrap()
}

/// All EXR files of a folder below [`standards`], sorted.
pub fn exr_files(folder: &str) -> Vec<String> {
    let entries = std::fs::read_dir(standards().join(folder)).unwrap();
    let names = entries.map(|entry| entry.unwrap().file_name().into_string().unwrap());
    let mut names: Vec<_> = names
        .filter(|name| name.ends_with(".exr"))
        .map(|name| format!("{folder}{name}"))
        .collect();
    names.sort();
    assert!(!names.is_empty());
    names
}

/// What a reading gave, item by item.
#[derive(Default, Debug)]
pub struct Reading {
    pub lenses: Vec<Lens>,
    pub takes: Vec<Take>,
    pub frames: Vec<Frames>,
    pub remarks: Vec<Remark>,
}

impl Reading {
    pub fn checks(&self) -> Vec<&str> {
        self.remarks.iter().map(|r| r.check.as_str()).collect()
    }

    /// Numbers of a channel over all batches of a take; NaN where a batch lacks it.
    pub fn numbers(&self, take: u32, channel: &str) -> Vec<f64> {
        let batches = self.frames.iter().filter(|f| f.take == take);
        let values = batches.flat_map(|f| match ringmark_sdk::batch::column(f, channel) {
            Some(column) => column.values.clone(),
            None => vec![f64::NAN; f.count as usize],
        });
        values.collect()
    }

    /// Texts of a channel over all batches of a take.
    pub fn texts(&self, take: u32, channel: &str) -> Vec<Option<String>> {
        let batches = self.frames.iter().filter(|f| f.take == take);
        let texts = batches.flat_map(|f| {
            let labels = ringmark_sdk::batch::labels(f, channel);
            (0..f.count as usize).map(move |frame| {
                let text = ringmark_sdk::batch::label_text(labels?, frame)?;
                Some(text.to_owned())
            })
        });
        texts.collect()
    }

    pub fn text(&self, take: u32, channel: &str) -> Option<String> {
        self.texts(take, channel).into_iter().next().flatten()
    }
}

pub fn text_of<'a>(facts: &'a [Fact], name: &str) -> Option<&'a str> {
    facts
        .iter()
        .find(|f| f.name == name)
        .map(|f| match &f.value {
            Datum::Text(text) => text.as_str(),
            Datum::Number(number) => panic!("{name} is the number {number}"),
        })
}

pub fn number_of(facts: &[Fact], name: &str) -> Option<f64> {
    facts
        .iter()
        .find(|f| f.name == name)
        .map(|f| match &f.value {
            Datum::Number(number) => *number,
            Datum::Text(text) => panic!("{name} is the text {text}"),
        })
}

/// Reads files given as (name, bytes). Checks on the way what holds for every reading.
pub fn read(files: &[(&str, &[u8])]) -> Result<Reading, Failure> {
    let inputs = files
        .iter()
        .map(|(name, bytes)| MemoryInput::boxed(name, *bytes));
    let mut sequence = Sequence::open(inputs.collect(), "{}")?;
    let mut reading = Reading::default();
    let mut counts = std::collections::BTreeMap::new();
    while let Some(item) = sequence.next()? {
        match item {
            Item::Lens(lens) => reading.lenses.push(lens),
            Item::Take(take) => {
                assert!(
                    take.lens
                        .is_none_or(|n| (n as usize) < reading.lenses.len())
                );
                reading.takes.push(take);
            }
            Item::Frames(frames) => {
                assert!(
                    (frames.take as usize) < reading.takes.len(),
                    "take before its frames"
                );
                let count = counts.entry(frames.take).or_insert(0);
                assert_eq!(frames.first, *count, "batches follow one another");
                *count += u64::from(frames.count);
                check_lengths(&frames);
                reading.frames.push(frames);
            }
            Item::Remark(remark) => {
                let place = remark.at.as_ref().expect("remarks have a place");
                assert!((place.input as usize) < files.len());
                reading.remarks.push(remark);
            }
        }
    }
    Ok(reading)
}

fn check_lengths(frames: &Frames) {
    let count = frames.count as usize;
    assert!(count > 0 && frames.inputs.len() == count && frames.offsets.len() == count);
    let mut names = std::collections::BTreeSet::new();
    for column in &frames.columns {
        assert_eq!(column.values.len(), count, "{}", column.channel);
        assert!(
            names.insert(column.channel.as_str()),
            "{} twice",
            column.channel
        );
    }
    for labels in &frames.labels {
        assert_eq!(labels.index.len(), count, "{}", labels.channel);
        assert!(
            names.insert(labels.channel.as_str()),
            "{} twice",
            labels.channel
        );
    }
}

pub fn read_names(names: &[String]) -> Result<Reading, Failure> {
    let contents: Vec<_> = names.iter().map(|name| bytes(name)).collect();
    let files: Vec<_> = names
        .iter()
        .zip(&contents)
        .map(|(name, bytes)| (name.rsplit('/').next().unwrap(), bytes.as_slice()))
        .collect();
    read(&files)
}

pub fn read_name(name: &str) -> Result<Reading, Failure> {
    read_names(&[name.to_owned()])
}

/// A single-part header taken apart by simple means, to be put together otherwise.
#[derive(Clone)]
pub struct Parts {
    pub version: u32,
    pub attributes: Vec<(String, String, Vec<u8>)>,
    pub rest: Vec<u8>,
}

impl Parts {
    pub fn of(file: &[u8]) -> Parts {
        let mut at = 8;
        let mut attributes = Vec::new();
        while file[at] != 0 {
            let mut word = || {
                let end = at + file[at..].iter().position(|&b| b == 0).unwrap();
                let word = String::from_utf8(file[at..end].to_vec()).unwrap();
                at = end + 1;
                word
            };
            let (name, kind) = (word(), word());
            let size = u32::from_le_bytes(file[at..at + 4].try_into().unwrap()) as usize;
            attributes.push((name, kind, file[at + 4..at + 4 + size].to_vec()));
            at += 4 + size;
        }
        Parts {
            version: u32::from_le_bytes(file[4..8].try_into().unwrap()),
            attributes,
            rest: file[at..].to_vec(),
        }
    }

    pub fn reference() -> Parts {
        Parts::of(&bytes("rack_df2997/rack_df2997.1001.exr"))
    }

    pub fn with(mut self, name: &str, kind: &str, value: &[u8]) -> Parts {
        let row = (name.to_owned(), kind.to_owned(), value.to_vec());
        match self.attributes.iter_mut().find(|a| a.0 == name) {
            Some(old) => *old = row,
            None => self.attributes.push(row),
        }
        self
    }

    pub fn also(mut self, name: &str, kind: &str, value: &[u8]) -> Parts {
        self.attributes
            .push((name.to_owned(), kind.to_owned(), value.to_vec()));
        self
    }

    pub fn without(mut self, name: &str) -> Parts {
        self.attributes.retain(|a| a.0 != name);
        self
    }

    pub fn flags(mut self, flags: u32) -> Parts {
        self.version |= flags;
        self
    }

    pub fn build(&self) -> Vec<u8> {
        let mut file = vec![0x76, 0x2f, 0x31, 0x01];
        file.extend(self.version.to_le_bytes());
        for (name, kind, value) in &self.attributes {
            for word in [name, kind] {
                file.extend(word.as_bytes());
                file.push(0);
            }
            file.extend((value.len() as u32).to_le_bytes());
            file.extend(value);
        }
        file.extend(&self.rest);
        file
    }

    pub fn read(&self) -> Result<Reading, Failure> {
        read(&[("one.1001.exr", &self.build())])
    }
}

/// Files of this crate's own, written by PyPI OpenEXR 3.5.3; see `data/origin.md`.
pub fn data(name: &str) -> Vec<u8> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/data")
        .join(name);
    std::fs::read(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

/// All EXR files of [`data`], sorted.
pub fn data_files() -> Vec<String> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data");
    let entries = std::fs::read_dir(folder).unwrap();
    let names = entries.map(|entry| entry.unwrap().file_name().into_string().unwrap());
    let mut names: Vec<_> = names.filter(|name| name.ends_with(".exr")).collect();
    names.sort();
    assert!(names.len() > 30);
    names
}

/// The items of a reading.
pub fn items(files: &[(&str, &[u8])]) -> Vec<Item> {
    let inputs = files
        .iter()
        .map(|(name, bytes)| MemoryInput::boxed(name, *bytes));
    let mut sequence = Sequence::open(inputs.collect(), "{}").unwrap();
    std::iter::from_fn(|| sequence.next().unwrap()).collect()
}

/// Writes items into copies of files.
pub fn write(templates: &[(&str, &[u8])], items: Vec<Item>) -> Result<Vec<Vec<u8>>, Failure> {
    use ringmark_sdk::Writer;
    use ringmark_sdk::native::MemoryOutput;
    let outputs: Vec<_> = templates.iter().map(|_| MemoryOutput::default()).collect();
    let inputs = templates
        .iter()
        .map(|(name, bytes)| MemoryInput::boxed(name, *bytes));
    let boxed = outputs.iter().map(MemoryOutput::boxed);
    let mut copies = ringmark_openexr::Copies::open(boxed.collect(), inputs.collect(), "{}")?;
    for item in items {
        copies.put(item)?;
    }
    copies.finish()?;
    Ok(outputs.iter().map(MemoryOutput::bytes).collect())
}

/// Writes items into a copy of one file called `x.1001.exr`.
pub fn write_one(template: &[u8], items: Vec<Item>) -> Result<Vec<u8>, Failure> {
    write(&[("x.1001.exr", template)], items).map(|mut files| files.remove(0))
}

/// A file taken apart by simple means: headers, and offset tables read until the first chunk.
pub struct Layout {
    /// Attributes of each part, in order.
    pub parts: Vec<Vec<(String, String, Vec<u8>)>>,
    /// Offsets of all tables.
    pub offsets: Vec<u64>,
    /// Bytes behind the tables.
    pub chunks: Vec<u8>,
    /// Bytes in front of them.
    pub end: u64,
}

impl Layout {
    pub fn of(file: &[u8]) -> Layout {
        let multi_part = file[5] & 0x10 != 0;
        let mut at = 8;
        let mut parts = Vec::new();
        loop {
            if multi_part && file[at] == 0 {
                at += 1;
                break;
            }
            let mut attributes = Vec::new();
            while file[at] != 0 {
                let mut word = || {
                    let end = at + file[at..].iter().position(|&b| b == 0).unwrap();
                    let word = String::from_utf8_lossy(&file[at..end]).into_owned();
                    at = end + 1;
                    word
                };
                let (name, kind) = (word(), word());
                let size = u32::from_le_bytes(file[at..at + 4].try_into().unwrap()) as usize;
                attributes.push((name, kind, file[at + 4..at + 4 + size].to_vec()));
                at += 4 + size;
            }
            at += 1;
            parts.push(attributes);
            if !multi_part {
                break;
            }
        }
        let mut offsets: Vec<u64> = Vec::new();
        // Chunks follow the tables at once: the nearest one ends them.
        while offsets
            .iter()
            .all(|&offset| offset == 0 || at < offset as usize)
        {
            offsets.push(u64::from_le_bytes(file[at..at + 8].try_into().unwrap()));
            at += 8;
        }
        Layout {
            parts,
            offsets,
            chunks: file[at..].to_vec(),
            end: at as u64,
        }
    }

    /// The value of an attribute of a part, with its type.
    pub fn value(&self, part: usize, name: &str) -> Option<(&str, &[u8])> {
        let found = self.parts[part].iter().find(|(own, _, _)| own == name)?;
        Some((&found.1, &found.2))
    }

    pub fn text(&self, part: usize, name: &str) -> Option<String> {
        let (kind, value) = self.value(part, name)?;
        assert_eq!(kind, "string", "{name}");
        Some(String::from_utf8(value.to_vec()).unwrap())
    }

    pub fn float(&self, part: usize, name: &str) -> Option<f32> {
        let (kind, value) = self.value(part, name)?;
        assert_eq!(kind, "float", "{name}");
        Some(f32::from_le_bytes(value.try_into().unwrap()))
    }

    pub fn double(&self, part: usize, name: &str) -> Option<f64> {
        let (kind, value) = self.value(part, name)?;
        assert_eq!(kind, "double", "{name}");
        Some(f64::from_le_bytes(value.try_into().unwrap()))
    }
}

/// One frame of one take, put together piece by piece.
#[derive(Default, Clone)]
pub struct TakeOf {
    pub lens: Option<Vec<Fact>>,
    pub facts: Vec<Fact>,
    pub columns: Vec<(String, String, String, Vec<f64>)>,
    pub labels: Vec<(String, &'static str, Vec<Option<String>>)>,
}

impl TakeOf {
    pub fn number(mut self, channel: &str, unit: &str, values: &[f64]) -> Self {
        let reference = if channel == "focus-distance" {
            "unstated"
        } else {
            ""
        };
        self.columns.push((
            channel.into(),
            unit.into(),
            reference.into(),
            values.to_vec(),
        ));
        self
    }

    pub fn distance(mut self, channel: &str, reference: &str, values: &[f64]) -> Self {
        self.columns.push((
            channel.into(),
            "m".into(),
            reference.into(),
            values.to_vec(),
        ));
        self
    }

    pub fn texts(mut self, channel: &str, form: &'static str, values: &[Option<&str>]) -> Self {
        let values = values.iter().map(|text| text.map(str::to_owned)).collect();
        self.labels.push((channel.into(), form, values));
        self
    }

    pub fn text(self, channel: &str, value: &str) -> Self {
        self.texts(channel, "text", &[Some(value)])
    }

    pub fn fact(mut self, name: &str, value: &str) -> Self {
        self.facts.push(ringmark_sdk::fact(name, value, None));
        self
    }

    pub fn fact_number(mut self, name: &str, value: f64, unit: &str) -> Self {
        self.facts.push(number_fact(name, value, unit));
        self
    }

    pub fn lens_fact(mut self, name: &str, value: &str) -> Self {
        let fact = ringmark_sdk::fact(name, value, None);
        self.lens.get_or_insert_default().push(fact);
        self
    }

    /// Lens, take and frames as items; `take` and `lens` are the indices they have.
    pub fn items(self, take: u32, lens: u32) -> Vec<Item> {
        use ringmark_sdk::batch::LabelColumn;
        let count = self
            .columns
            .first()
            .map(|c| c.3.len())
            .or(self.labels.first().map(|l| l.2.len()));
        let columns = self.columns.into_iter();
        let columns = columns.map(|(channel, unit, reference, values)| ringmark_sdk::Column {
            channel,
            unit,
            reference,
            values,
        });
        let labels = self.labels.into_iter().map(|(channel, form, values)| {
            let mut column = LabelColumn::with_form(channel, form);
            for value in values {
                match value {
                    Some(text) => column.push(&text),
                    None => column.push_absent(),
                }
            }
            column.take()
        });
        let frames = Frames {
            take,
            first: 0,
            count: count.unwrap_or(0) as u32,
            columns: columns.collect(),
            labels: labels.collect(),
            inputs: Vec::new(),
            offsets: Vec::new(),
        };
        let has_lens = self.lens.is_some();
        let lens_item = self.lens.map(|facts| {
            Item::Lens(Lens {
                facts,
                rings: Vec::new(),
                tables: Vec::new(),
            })
        });
        let head = Take {
            lens: has_lens.then_some(lens),
            facts: self.facts,
        };
        lens_item
            .into_iter()
            .chain([Item::Take(head), Item::Frames(frames)])
            .collect()
    }

    /// The items of the only take.
    pub fn alone(self) -> Vec<Item> {
        self.items(0, 0)
    }
}

pub fn number_fact(name: &str, value: f64, unit: &str) -> Fact {
    Fact {
        name: name.to_owned(),
        value: Datum::Number(value),
        unit: unit.to_owned(),
        at: None,
    }
}

/// A batch cut into smaller ones.
pub fn slices(frames: &Frames, size: usize) -> Vec<Frames> {
    use ringmark_sdk::batch::{LabelColumn, label_text};
    let count = frames.count as usize;
    let cut = |start: usize| {
        let end = (start + size).min(count);
        let labels = frames.labels.iter().map(|labels| {
            let form = ["text", "json", "hex"]
                .into_iter()
                .find(|f| *f == labels.form);
            let mut column = LabelColumn::with_form(labels.channel.clone(), form.unwrap());
            for frame in start..end {
                match label_text(labels, frame) {
                    Some(text) => column.push(text),
                    None => column.push_absent(),
                }
            }
            column.take()
        });
        Frames {
            first: frames.first + start as u64,
            count: (end - start) as u32,
            columns: frames
                .columns
                .iter()
                .map(|column| ringmark_sdk::Column {
                    values: column.values[start..end].to_vec(),
                    ..column.clone()
                })
                .collect(),
            labels: labels.collect(),
            inputs: Vec::new(),
            offsets: Vec::new(),
            ..*frames
        }
    };
    (0..count).step_by(size).map(cut).collect()
}
