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
