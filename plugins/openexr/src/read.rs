//! Reads a sequence: one frame of each take a file.

use std::collections::VecDeque;

use ringmark_sdk::{Failure, Input, Item, Place, Reader, failure};

use crate::header::Part;
use crate::keys::KeyId;
use crate::remarks::{self, Remarks};
use crate::source::{HeaderSource, field};
use crate::take::{Attribute, Spot, TakeReader};

/// Takes of a sequence; more are refused.
const MOST_TAKES: usize = 256;

/// A sequence of files while it is read.
pub struct Sequence {
    inputs: std::vec::IntoIter<Box<dyn Input>>,
    index: u32,
    source: HeaderSource,
    takes: Vec<TakeReader>,
    /// The take of each part of the file before.
    routes: Vec<usize>,
    /// Whether the next file may be compared with this one instead of being walked.
    plain: bool,
    lenses: u32,
    remarks: Remarks,
    ready: VecDeque<Item>,
    ended: bool,
}

impl Reader for Sequence {
    fn open(inputs: Vec<Box<dyn Input>>, _options: &str) -> Result<Self, Failure> {
        if inputs.is_empty() {
            return Err(failure(
                "no input file",
                "pass the files of a sequence in order",
                None,
            ));
        }
        Ok(Sequence {
            inputs: inputs.into_iter(),
            index: 0,
            source: HeaderSource::default(),
            takes: Vec::new(),
            routes: Vec::new(),
            plain: false,
            lenses: 0,
            remarks: Remarks::default(),
            ready: VecDeque::new(),
            ended: false,
        })
    }

    fn next(&mut self) -> Result<Option<Item>, Failure> {
        loop {
            if let Some(item) = self.ready.pop_front() {
                return Ok(Some(item));
            }
            if self.ended {
                return Ok(None);
            }
            match self.inputs.next() {
                // The file is let go as soon as its header is read.
                Some(input) => self.read_file(&*input)?,
                None => self.end(),
            }
        }
    }
}

impl Sequence {
    fn read_file(&mut self, input: &dyn Input) -> Result<(), Failure> {
        let index = self.index;
        self.index += 1;
        let walked = self.source.read(input, index, !self.plain)?;
        if walked {
            self.route(index)?;
            let faulty = self.remark_on_header(index) | self.apply_all(index);
            // Every part has a take of its own, every take a part, and nothing needs counting.
            self.plain = !faulty
                && self.takes.len() == self.source.header.parts.len()
                && self
                    .takes
                    .iter()
                    .all(|take| take.is_in(index) && !take.has_shadows());
        } else {
            self.apply_changes(index);
        }
        self.end_file(&input.name(), index, walked);
        Ok(())
    }

    /// Gives all attributes to their takes; whether something is wrong with one.
    fn apply_all(&mut self, index: u32) -> bool {
        let HeaderSource {
            keys,
            header,
            bytes,
            ..
        } = &self.source;
        let mut faulty = false;
        for (part, &take) in header.parts.iter().zip(&self.routes) {
            let Some(take) = self.takes.get_mut(take) else {
                continue;
            };
            take.begin(index, part.offset);
            let entries = header.entries.get(part.entries.clone());
            for entry in entries.unwrap_or_default() {
                take.foresee(keys.get(entry.key), entry.value(bytes));
            }
        }
        for (part, &take) in header.parts.iter().zip(&self.routes) {
            let entries = header.entries.get(part.entries.clone());
            for entry in entries.unwrap_or_default() {
                if let Some(take) = self.takes.get_mut(take) {
                    take.mark(entry.key, keys.get(entry.key));
                }
            }
        }
        for take in self.takes.iter_mut().filter(|take| take.is_in(index)) {
            take.forget_missing(index, keys, &mut self.remarks);
        }
        for (number, (part, &take)) in header.parts.iter().zip(&self.routes).enumerate() {
            let Some(take) = self.takes.get_mut(take) else {
                continue;
            };
            let spot = Spot {
                input: index,
                part: number,
                multi_part: header.multi_part,
            };
            let entries = header.entries.get(part.entries.clone()).unwrap_or_default();
            for (at, entry) in entries.iter().enumerate() {
                let key = keys.get(entry.key);
                if !key.is_delivered() {
                    continue;
                }
                // Of attributes that stand twice in a part the last one counts.
                let later = entries.get(at + 1..).unwrap_or_default();
                if !header.repeated.is_empty() && later.iter().any(|other| other.key == entry.key) {
                    continue;
                }
                let attribute = Attribute {
                    id: entry.key,
                    key,
                    entry,
                    value: entry.value(bytes),
                    spot,
                };
                faulty |= take.apply(attribute, &mut self.remarks);
            }
        }
        faulty
    }

    /// Gives the attributes whose values differ from the file before to their takes.
    fn apply_changes(&mut self, index: u32) {
        let HeaderSource {
            keys,
            header,
            bytes,
            changed,
            ..
        } = &self.source;
        for &at in changed {
            let number = header
                .parts
                .iter()
                .position(|part| part.entries.contains(&at));
            if let Some(number) = number
                && let Some(take) = self.routes.get(number)
                && let Some(take) = self.takes.get_mut(*take)
                && let Some(entry) = header.entries.get(at)
            {
                let attribute = Attribute {
                    id: entry.key,
                    key: keys.get(entry.key),
                    entry,
                    value: entry.value(bytes),
                    spot: Spot {
                        input: index,
                        part: number,
                        multi_part: header.multi_part,
                    },
                };
                self.plain &= !take.apply(attribute, &mut self.remarks);
            }
        }
    }

    /// Finds the take of each part. Parts of one view share a take, unless they name different
    /// lenses in the file that the take starts in.
    fn route(&mut self, input: u32) -> Result<(), Failure> {
        for number in 0..self.source.header.parts.len() {
            let part = &self.source.header.parts[number];
            let value = part.view.map(|entry| entry.value(&self.source.bytes));
            let view = value.unwrap_or_default();
            let usual = self.routes.get(number).copied();
            let usual = usual.filter(|&take| {
                self.takes
                    .get(take)
                    .is_some_and(|take| take.view == view && take.start != input)
            });
            let take = match usual {
                Some(take) => take,
                None => {
                    let serial = self.source.value_of(part, b"lensSerialNumber\0string\0");
                    find_take(&mut self.takes, view, serial, input)?
                }
            };
            match self.routes.get_mut(number) {
                Some(route) => *route = take,
                None => self.routes.push(take),
            }
        }
        Ok(())
    }

    /// Remarks on names that stand twice; whether there are any.
    fn remark_on_header(&mut self, input: u32) -> bool {
        let HeaderSource {
            keys,
            header,
            bytes,
            ..
        } = &self.source;
        let mut faulty = !header.repeated.is_empty();
        for entry in header
            .repeated
            .iter()
            .filter_map(|&at| header.entries.get(at))
        {
            let number = header.parts.iter().position(|part| part.offset > entry.at);
            let spot = Spot {
                input,
                part: number.unwrap_or(header.parts.len()).saturating_sub(1),
                multi_part: header.multi_part,
            };
            let key = keys.get(entry.key);
            self.remarks
                .report(&remarks::ATTRIBUTE_REPEATED, entry.key, input, || {
                    let message = format!("{} stands twice in one header", key.name());
                    (message, spot.place(key, entry))
                });
        }
        if !header.multi_part {
            return faulty;
        }
        for (number, part) in header.parts.iter().enumerate() {
            let name = |part: &Part| part.name.map_or(&b""[..], |entry| entry.value(bytes));
            let mut earlier = header.parts.iter().take(number);
            if let Some(entry) = &part.name
                && let Some(first) = earlier.position(|other| name(other) == name(part))
            {
                faulty = true;
                let key = keys.get(entry.key);
                let spot = Spot {
                    input,
                    part: number,
                    multi_part: true,
                };
                self.remarks
                    .report(&remarks::PART_NAME_REPEATED, entry.key, input, || {
                        let text = String::from_utf8_lossy(name(part)).into_owned();
                        let message = format!(
                            "parts {first} and {number} are both called “{}”",
                            text.escape_debug()
                        );
                        (message, spot.place(key, entry))
                    });
            }
        }
        faulty
    }

    /// Adds the frames of a file and hands out what is complete.
    fn end_file(&mut self, name: &str, index: u32, walked: bool) {
        for (number, take) in self.takes.iter_mut().enumerate() {
            if walked && !take.is_in(index) {
                // A number that no attribute has.
                let key = KeyId::MAX - number as KeyId;
                self.remarks.report(&remarks::VIEW_MISSING, key, index, || {
                    let view = String::from_utf8_lossy(&take.view).into_owned();
                    let view = match view.is_empty() {
                        true => "no part without a view".to_owned(),
                        false => format!("no part of the view “{}”", view.escape_debug()),
                    };
                    let place = Place {
                        input: index,
                        offset: 0,
                        length: 0,
                        field: field(None, "view"),
                    };
                    (format!("{view}, files before have one"), place)
                });
                continue;
            }
            take.end(name, index);
            if take.start == index {
                let (lenses, head) = take.announce(self.lenses);
                self.lenses += lenses.len() as u32;
                self.ready.extend(lenses);
                self.ready.push_back(head);
            }
        }
        self.ready.extend(self.remarks.take());
        for take in self.takes.iter_mut().filter(|take| take.is_full()) {
            self.ready.extend(take.flush().map(Item::Frames));
        }
    }

    fn end(&mut self) {
        let frames = self.takes.iter_mut().filter_map(TakeReader::flush);
        self.ready.extend(frames.map(Item::Frames));
        self.ready.extend(self.remarks.close());
        self.ended = true;
    }
}

/// The take of a part with this view and lens; a new one if there is none.
fn find_take(
    takes: &mut Vec<TakeReader>,
    view: &[u8],
    serial: &[u8],
    input: u32,
) -> Result<usize, Failure> {
    let fits = |take: &&mut TakeReader| {
        let same_lens = take.serial.is_empty() || serial.is_empty() || take.serial == serial;
        take.view == view && (take.start != input || same_lens)
    };
    let count = takes.len();
    if let Some((at, take)) = takes.iter_mut().enumerate().find(|(_, t)| fits(t)) {
        if take.start == input && take.serial.is_empty() {
            take.serial = serial.to_vec();
        }
        return Ok(at);
    }
    if count == MOST_TAKES {
        return Err(failure(
            format!("more than {MOST_TAKES} views in the sequence"),
            "pass the files of one take at a time",
            Some(Place {
                input,
                offset: 0,
                length: 0,
                field: String::new(),
            }),
        ));
    }
    takes.push(TakeReader::new(count as u32, view, serial, input));
    Ok(count)
}
