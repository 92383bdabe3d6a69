//! Pairs the frames of a take with existing files: each file belongs to one frame.
//!
//! A frame and a file are compared by the first of these that both have:
//!
//! 1. the time code label with its drop-frame mark, if no two files have the same label;
//! 2. the frame number, which for files is the last number in the name;
//! 3. the file's name, which for frames is the channel `source-file`.
//!
//! ```
//! use ringmark_sdk::batch::NumberColumn;
//! use ringmark_sdk::pairing::{FileKey, Pairing};
//! use ringmark_sdk::Frames;
//!
//! let files = ["plate.1001.exr", "plate.1002.exr", "plate.1003.exr"].map(FileKey::named);
//! let mut pairing = Pairing::new(files);
//! let mut numbers = NumberColumn::new("frame", "", "");
//! numbers.values = vec![1002.0, 1001.0];
//! let frames = Frames {
//!     take: 0,
//!     first: 0,
//!     count: 2,
//!     columns: vec![numbers.take()],
//!     labels: Vec::new(),
//!     inputs: Vec::new(),
//!     offsets: Vec::new(),
//! };
//! assert_eq!(pairing.pair(&frames).unwrap(), [Some(1), Some(0)]);
//! let failure = pairing.finish().unwrap_err();
//! assert_eq!(failure.message, "1 file has no frame: 1003");
//! ```

mod ranges;

use std::collections::HashMap;

use crate::batch::{column, label_text, labels};
use crate::quantity::Timecode;
use crate::{Failure, Frames, failure};

/// Longest run of digits that is taken for a frame number: every such number is exact in a 64-bit float.
const MOST_DIGITS: usize = 15;

/// What a file is known by.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FileKey {
    /// Name without its folder.
    pub name: String,
    /// Frame number.
    pub number: Option<u64>,
    /// Label that stands in the file.
    pub label: Option<Timecode>,
}

impl FileKey {
    /// A file of which only the name is known; its number is the last one in the name.
    pub fn named(name: impl Into<String>) -> Self {
        let name = name.into();
        FileKey {
            number: number_in_name(&name),
            name,
            label: None,
        }
    }
}

/// The last number in a file's name, the ending left out: 1001 for `take_a.1001.exr`.
pub fn number_in_name(name: &str) -> Option<u64> {
    let stem = match name.rsplit_once('.') {
        // `plate.1001` has no ending.
        Some((stem, ending)) if !ending.bytes().all(|byte| byte.is_ascii_digit()) => stem,
        _ => name,
    };
    let bytes = stem.as_bytes();
    let end = bytes.iter().rposition(u8::is_ascii_digit)? + 1;
    let start = bytes[..end]
        .iter()
        .rposition(|byte| !byte.is_ascii_digit())
        .map_or(0, |at| at + 1);
    let digits = &stem[start..end];
    (digits.len() <= MOST_DIGITS)
        .then(|| digits.parse().ok())
        .flatten()
}

/// What a frame is known by.
#[derive(Debug, Clone, Copy, Default)]
struct FrameKey<'a> {
    /// Frames of the take before this one.
    position: u64,
    number: Option<u64>,
    label: Option<&'a str>,
    source: Option<&'a str>,
}

impl FrameKey<'_> {
    fn describe(&self) -> String {
        match (self.number, self.label) {
            (Some(number), _) => format!("frame {number}"),
            (None, Some(label)) => format!("the frame of {}", label.escape_debug()),
            (None, None) => format!("frame {} of the take (counted from 1)", self.position + 1),
        }
    }
}

/// The files that have one number.
#[derive(Debug, Clone, Copy)]
enum Numbered {
    One(usize),
    Two(usize, usize),
}

/// What happened to the files in one take.
#[derive(Debug)]
struct Used {
    /// The position of the frame of each file, counted from 1; 0 without.
    frames: Vec<u64>,
    /// Numbers of frames without a file.
    lost_numbers: Vec<u64>,
    /// Frames without a file and without a number: their count, and the first one.
    lost_others: u64,
    first_other: String,
}

/// Pairs frames with files, batch by batch. A take's frames may come in any order.
#[derive(Debug)]
pub struct Pairing {
    files: Vec<FileKey>,
    by_label: HashMap<Timecode, usize>,
    by_number: HashMap<u64, Numbered>,
    by_name: HashMap<String, usize>,
    shared: bool,
    takes: HashMap<u32, Used>,
}

impl Pairing {
    /// Each of `files` is for one frame of one take.
    pub fn new(files: impl IntoIterator<Item = FileKey>) -> Self {
        let files: Vec<FileKey> = files.into_iter().collect();
        let mut by_label = HashMap::with_capacity(files.len());
        let mut by_number = HashMap::with_capacity(files.len());
        let mut by_name = HashMap::with_capacity(files.len());
        let mut labels_differ = true;
        for (index, file) in files.iter().enumerate() {
            if let Some(label) = file.label {
                labels_differ &= by_label.insert(label, index).is_none();
            }
            if let Some(number) = file.number {
                by_number
                    .entry(number)
                    .and_modify(|known| {
                        if let Numbered::One(first) = *known {
                            *known = Numbered::Two(first, index);
                        }
                    })
                    .or_insert(Numbered::One(index));
            }
            by_name.entry(file.name.clone()).or_insert(index);
        }
        if !labels_differ {
            // Labels that stand in several files tell none of them apart.
            by_label.clear();
        }
        Pairing {
            files,
            by_label,
            by_number,
            by_name,
            shared: false,
            takes: HashMap::new(),
        }
    }

    /// Each of the files is for one frame of every take, for formats that keep several takes in one file.
    #[must_use]
    pub fn shared_by_takes(mut self) -> Self {
        self.shared = true;
        self
    }

    /// The index of the file of each frame of a batch; `None` for a frame without one, which
    /// [`Pairing::finish`] reports. It is an error if two frames want one file, or a frame one of
    /// two files.
    pub fn pair(&mut self, frames: &Frames) -> Result<Vec<Option<usize>>, Failure> {
        let numbers = column(frames, "frame").map(|column| column.values.as_slice());
        let (codes, sources) = (labels(frames, "timecode"), labels(frames, "source-file"));
        let count = frames.count as usize;
        // A batch is never trusted to be as long as it says before it is there.
        let mut found = Vec::new();
        for row in 0..count {
            let frame = FrameKey {
                position: frames.first.saturating_add(row as u64),
                number: numbers.and_then(|values| whole(*values.get(row)?)),
                label: codes.and_then(|labels| label_text(labels, row)),
                source: sources.and_then(|labels| label_text(labels, row)),
            };
            let file = self.find(&frame)?;
            self.note(frames.take, &frame, file)?;
            found.push(file);
        }
        Ok(found)
    }

    /// Whether a frame was without a file so far, so that nothing needs to be written any more.
    pub fn is_broken(&self) -> bool {
        self.takes.values().any(Used::is_broken)
    }

    /// Reports frames without a file and files without a frame, in ranges.
    pub fn finish(&self) -> Result<(), Failure> {
        let mut said = Vec::new();
        let mut takes: Vec<_> = self.takes.iter().collect();
        takes.sort_by_key(|(take, _)| **take);
        for (take, used) in &takes {
            let of = match takes.len() {
                1 => String::new(),
                _ => format!(" of take {}", **take + 1),
            };
            if !used.lost_numbers.is_empty() {
                let count = used.lost_numbers.len() as u64;
                let ranges = ranges::show(used.lost_numbers.clone());
                said.push(format!(
                    "{count} {}{of} {} no file: {ranges}",
                    if count == 1 { "frame" } else { "frames" },
                    has(count)
                ));
            }
            if used.lost_others > 0 {
                said.push(format!(
                    "{} {}{of} without a number {} no file, first {}",
                    used.lost_others,
                    if used.lost_others == 1 {
                        "frame"
                    } else {
                        "frames"
                    },
                    has(used.lost_others),
                    used.first_other
                ));
            }
        }
        said.extend(self.unused());
        if said.is_empty() {
            return Ok(());
        }
        Err(failure(
            said.join("; "),
            "pass one file a frame: frames and files are paired by time code, else by the number in the file name, else by the name",
            None,
        ))
    }

    fn unused(&self) -> Vec<String> {
        let is_used = |index: usize| {
            self.takes
                .values()
                .any(|used| used.frames.get(index).is_some_and(|&frame| frame > 0))
        };
        let unused = || (0..self.files.len()).filter(|&index| !is_used(index));
        let named = |index: &usize| self.files[*index].number.is_none();
        let numbers: Vec<u64> = unused()
            .filter_map(|index| self.files[index].number)
            .collect();
        let mut said = Vec::new();
        if !numbers.is_empty() {
            let count = numbers.len() as u64;
            let ranges = ranges::show(numbers);
            said.push(format!("{count} {} no frame: {ranges}", files(count)));
        }
        let mut others = unused().filter(named);
        if let Some(first) = others.next() {
            let count = 1 + others.count() as u64;
            said.push(format!(
                "{count} {} without a number {} no frame, first '{}'",
                if count == 1 { "file" } else { "files" },
                has(count),
                self.files[first].name.escape_debug()
            ));
        }
        said
    }

    fn find(&self, frame: &FrameKey<'_>) -> Result<Option<usize>, Failure> {
        let label = frame.label.and_then(|text| Timecode::parse(text).ok());
        let label = label.filter(|_| !self.by_label.is_empty());
        if let Some(label) = label
            && let Some(&index) = self.by_label.get(&label)
        {
            return Ok(Some(index));
        }
        // A file with another label is not this frame's, whatever its number.
        let free = |index: usize| label.is_none() || self.files[index].label.is_none();
        let name = frame
            .source
            .map(|name| name.rsplit(['/', '\\']).next().unwrap_or(name));
        let named = name.and_then(|name| self.by_name.get(name).copied());
        let Some(number) = frame.number else {
            return Ok(named.filter(|&index| free(index)));
        };
        match self.by_number.get(&number) {
            Some(&Numbered::One(index)) => Ok(Some(index).filter(|&index| free(index))),
            Some(&Numbered::Two(first, second)) => match named
                .filter(|&index| self.files[index].number == Some(number) && free(index))
            {
                Some(index) => Ok(Some(index)),
                None => Err(failure(
                    format!(
                        "{} fits two files, '{}' and '{}'",
                        frame.describe(),
                        self.files[first].name.escape_debug(),
                        self.files[second].name.escape_debug()
                    ),
                    "pass the files of one sequence only",
                    None,
                )),
            },
            None => Ok(named.filter(|&index| self.files[index].number.is_none() && free(index))),
        }
    }

    fn note(
        &mut self,
        take: u32,
        frame: &FrameKey<'_>,
        file: Option<usize>,
    ) -> Result<(), Failure> {
        // With files that are not shared, all takes count as one.
        let take = if self.shared { take } else { 0 };
        let count = self.files.len();
        let used = self.takes.entry(take).or_insert_with(|| Used::new(count));
        let Some(index) = file else {
            match frame.number {
                Some(number) => used.lost_numbers.push(number),
                None => {
                    if used.lost_others == 0 {
                        used.first_other = frame.describe();
                    }
                    used.lost_others += 1;
                }
            }
            return Ok(());
        };
        let before = std::mem::replace(&mut used.frames[index], frame.position.saturating_add(1));
        if before == 0 {
            return Ok(());
        }
        Err(failure(
            format!(
                "two frames for the file '{}': frame {before} of the take (counted from 1) and {}",
                self.files[index].name.escape_debug(),
                frame.describe()
            ),
            "each file is for one frame: convert one take at a time, and look for repeated time codes or frame numbers in it",
            None,
        ))
    }
}

impl Used {
    fn new(files: usize) -> Self {
        Used {
            frames: vec![0; files],
            lost_numbers: Vec::new(),
            lost_others: 0,
            first_other: String::new(),
        }
    }

    fn is_broken(&self) -> bool {
        !self.lost_numbers.is_empty() || self.lost_others > 0
    }
}

fn files(count: u64) -> &'static str {
    if count == 1 { "file has" } else { "files have" }
}

fn has(count: u64) -> &'static str {
    if count == 1 { "has" } else { "have" }
}

/// The frame number that a float holds exactly.
fn whole(number: f64) -> Option<u64> {
    ((0.0..=9.0e15).contains(&number) && number.fract() == 0.0).then_some(number as u64)
}

#[cfg(test)]
#[path = "pairing/tests.rs"]
mod tests;
