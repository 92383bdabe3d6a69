//! Memory does not grow with the length of a take, in either form and either direction.

#![allow(clippy::unwrap_used)]
#![cfg(target_os = "linux")]

use std::fmt::Write;

use ringmark_ebucore::{TakeReader, TakeWriter};
use ringmark_sdk::{Column, Frames, Input, Item, Output, Reader, Take, Writer, fact};

/// Frames of the short take; the long one has ten times as many.
const SHORT: u64 = 30_000;

/// What a longer take may cost, in bytes.
const ALLOWED: u64 = 2 << 20;

/// A text, or one that is made from a number, always as long.
enum Part {
    Text(String),
    Repeated(u64, usize, fn(u64) -> String),
}

impl Part {
    fn length(&self) -> u64 {
        match self {
            Part::Text(text) => text.len() as u64,
            Part::Repeated(count, width, _) => count * *width as u64,
        }
    }
}

/// A document that is made as it is asked for.
struct Made(Vec<Part>);

impl Input for Made {
    fn name(&self) -> String {
        "made.ebucore.xml".into()
    }
    fn size(&self) -> u64 {
        self.0.iter().map(Part::length).sum()
    }
    fn read(&self, offset: u64, length: u32) -> Vec<u8> {
        let mut bytes = Vec::new();
        let mut start = 0;
        for part in &self.0 {
            let end = start + part.length();
            while bytes.len() < length as usize
                && (start..end).contains(&(offset + bytes.len() as u64))
            {
                let inside = offset + bytes.len() as u64 - start;
                let wanted = length as usize - bytes.len();
                let (text, from) = match part {
                    Part::Text(text) => (text.clone(), inside as usize),
                    Part::Repeated(_, width, make) => {
                        let text = make(inside / *width as u64);
                        assert_eq!(text.len(), *width, "{text}");
                        (text, inside as usize % width)
                    }
                };
                bytes.extend(text.as_bytes()[from..].iter().take(wanted));
            }
            start = end;
        }
        bytes
    }
}

fn label(frame: u64) -> String {
    format!(
        "{:02}:{:02}:{:02}:{:02}",
        frame / 90_000,
        frame / 1500 % 60,
        frame / 25 % 60,
        frame % 25
    )
}

fn value(frame: u64) -> String {
    format!("{}.{:05} ", 1 + frame % 9, frame * 7919 % 100_000)
}

const HEAD: &str = "<ebuCoreMain xmlns='urn:ebu:metadata-schema:ebucore'><coreMetadata><format><acquisitionData><acquisitionFrameRate>25</acquisitionFrameRate>";
const TAIL: &str = "</acquisitionData></format></coreMetadata></ebuCoreMain>";

/// A parameter after the other, each with one segment.
fn by_parameter(frames: u64) -> Made {
    let mut parts = vec![Part::Text(format!("{HEAD}<parameterSegmentDataOutput>"))];
    for name in [
        "IrisTNumber",
        "FocusPositionFromImagePlane",
        "FocusRingPosition",
        "Unknown",
    ] {
        let end = label(frames);
        parts.push(Part::Text(format!(
            "<parameter name='{name}'><segment startTime='00:00:00:00' endTime='{end}' interval='1'>"
        )));
        parts.push(Part::Repeated(frames, 8, value));
        parts.push(Part::Text("</segment></parameter>".into()));
    }
    parts.push(Part::Text(format!("</parameterSegmentDataOutput>{TAIL}")));
    Made(parts)
}

fn segment(number: u64) -> String {
    let (from, to) = (number * 25, number * 25 + 25);
    let mut text = format!(
        "<segment startTime='{}' endTime='{}'>",
        label(from),
        label(to)
    );
    for name in ["IrisTNumber", "FocusPositionFromImagePlane"] {
        write!(text, "<parameter name='{name}' interval='1'>").unwrap();
        text.extend((from..to).map(value));
        text.push_str("</parameter>");
    }
    text + "</segment>"
}

fn by_segment(frames: u64) -> Made {
    Made(vec![
        Part::Text(format!("{HEAD}<segmentParameterDataOutput>")),
        Part::Repeated(frames / 25, segment(0).len(), segment),
        Part::Text(format!("</segmentParameterDataOutput>{TAIL}")),
    ])
}

fn read(made: Made) -> u64 {
    let mut reader = TakeReader::open(vec![Box::new(made)], "{}").unwrap();
    let mut frames = 0;
    while let Some(item) = reader.next().unwrap() {
        match item {
            Item::Frames(batch) => frames += u64::from(batch.count),
            Item::Remark(remark) => panic!("{}", remark.message),
            _ => {}
        }
    }
    frames
}

/// Counts what is written.
struct Counted(u64);

impl Output for Counted {
    fn write(&mut self, bytes: &[u8]) {
        self.0 += bytes.len() as u64;
    }
    fn copy_from(&mut self, _: &dyn Input, _: u64, _: u64) {}
}

fn write(frames: u64) {
    let mut writer = TakeWriter::open(vec![Box::new(Counted(0))], Vec::new(), "{}").unwrap();
    let facts = vec![fact("frame-rate", "25", None)];
    writer.put(Item::Take(Take { lens: None, facts })).unwrap();
    for first in (0..frames).step_by(1500) {
        let values: Vec<f64> = (first..first + 1500).map(|f| f as f64 / 7.0).collect();
        let column = |channel: &str, unit: &str| Column {
            channel: channel.into(),
            unit: unit.into(),
            reference: String::new(),
            values: values.clone(),
        };
        let batch = Frames {
            take: 0,
            first,
            count: 1500,
            columns: vec![column("t-stop", "T"), column("focus-ring-raw", "count")],
            labels: Vec::new(),
            inputs: Vec::new(),
            offsets: Vec::new(),
        };
        writer.put(Item::Frames(batch)).unwrap();
    }
    writer.finish().unwrap();
}

/// The most memory that the process had so far.
fn peak() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap();
    let line = status.lines().find(|l| l.starts_with("VmHWM:")).unwrap();
    line.split_ascii_whitespace()
        .nth(1)
        .unwrap()
        .parse::<u64>()
        .unwrap()
        * 1024
}

/// Reads or writes so many frames.
type Work = fn(u64);

// One test: the peak is that of the whole process.
#[test]
fn ten_times_the_frames_take_no_more_memory() {
    let works: [(&str, Work); 3] = [
        ("parameter by parameter", |frames| {
            assert_eq!(read(by_parameter(frames)), frames)
        }),
        ("segment by segment", |frames| {
            assert_eq!(read(by_segment(frames)), frames)
        }),
        ("writing", write),
    ];
    for (name, work) in works {
        work(SHORT);
        let before = peak();
        work(SHORT * 10);
        let grown = peak() - before;
        assert!(grown < ALLOWED, "{name}: {grown} bytes more");
    }
}
