//! Walks a stream or an MXF file from key to key and hands out the frames.
//!
//! Values that are of no use here, essence above all, are passed over by their length and never
//! fetched.

use std::collections::VecDeque;

use ringmark_sdk::{Failure, Input, Item, Place, Reader, failure};

use crate::ancillary;
use crate::cursor::Cursor;
use crate::frames::{Assembly, Set};
use crate::header_metadata::HeaderMetadata;
use crate::keys::Kind;
use crate::klv::{Defect, Header, MAGIC, MOST_HEADER, MOST_VALUE, hex};
use crate::local_set::Coding;
use crate::remarks;

/// How far to look for the next key behind bytes that are none, and for the first key of an MXF
/// file: ST 377-1 allows less than 64 KiB in front of it (from memory).
const LOOK_AHEAD: u64 = 1 << 20;

/// Bytes looked at in one go.
const CHUNK: usize = 64 * 1024;

/// Longest set of header metadata that is looked at.
const MOST_METADATA: u64 = 64 * 1024;

/// The reading half of the plugin.
pub struct SetReader {
    cursor: Cursor,
    /// Offset of the next key.
    offset: u64,
    frames: Assembly,
    metadata: HeaderMetadata,
    /// Whether a partition pack was met.
    container: bool,
    /// Where sets were found first.
    found_in: Option<FoundIn>,
    /// Ancillary elements without acquisition packets since the last frame.
    empty: u64,
    /// Payload of the ancillary packets at hand.
    payload: Vec<u8>,
    ready: VecDeque<Item>,
    any: bool,
    state: State,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum FoundIn {
    Body,
    Ancillary,
}

enum State {
    Walking,
    /// All is read but what is ready.
    Ended,
    Failed(Failure),
}

fn place(offset: u64, length: u64) -> Option<Place> {
    Some(Place {
        input: 0,
        offset,
        length,
        field: String::new(),
    })
}

impl Reader for SetReader {
    fn open(inputs: Vec<Box<dyn Input>>, _options: &str) -> Result<Self, Failure> {
        let count = inputs.len();
        let mut inputs = inputs.into_iter();
        let (Some(input), None) = (inputs.next(), inputs.next()) else {
            return Err(failure(
                format!("a take of acquisition sets is one file, {count} were given"),
                "name one file",
                None,
            ));
        };
        Ok(SetReader {
            cursor: Cursor::new(input),
            offset: 0,
            frames: Assembly::default(),
            metadata: HeaderMetadata::default(),
            container: false,
            found_in: None,
            empty: 0,
            payload: Vec::new(),
            ready: VecDeque::new(),
            any: false,
            state: State::Walking,
        })
    }

    fn next(&mut self) -> Result<Option<Item>, Failure> {
        loop {
            if let Some(item) = self.ready.pop_front() {
                return Ok(Some(item));
            }
            match std::mem::replace(&mut self.state, State::Ended) {
                State::Ended => return Ok(None),
                State::Failed(failure) => return Err(failure),
                State::Walking => self.state = self.walk(),
            }
        }
    }
}

impl SetReader {
    /// Goes on until there are items to hand out.
    fn walk(&mut self) -> State {
        while self.ready.is_empty() {
            let result = if self.offset < self.cursor.size() {
                self.triplet()
            } else {
                self.end()
            };
            match result {
                Ok(true) => {}
                Ok(false) => return State::Ended,
                Err(failure) => {
                    // What was good goes out first.
                    self.frames.remarks.close();
                    self.hand_out();
                    return State::Failed(failure);
                }
            }
        }
        State::Walking
    }

    fn end(&mut self) -> Result<bool, Failure> {
        let name = self.cursor.name();
        if self.cursor.size() == 0 {
            return Err(failure(
                format!("{name} is empty"),
                "give a KLV stream or an MXF file",
                place(0, 0),
            ));
        }
        if self.any {
            self.blank_frames();
        }
        self.frames.remarks.close();
        self.hand_out();
        if !self.any {
            return Err(failure(
                format!("{name} holds no lens or camera sets"),
                "give a file with acquisition sets (SMPTE RDD 18) in the body or in ancillary packets 43h/05h",
                place(0, self.cursor.size()),
            ));
        }
        Ok(false)
    }

    fn hand_out(&mut self) {
        if self.frames.has_frames() {
            let timing = self.metadata.timing();
            if let Some(why) = &timing.no_label {
                self.frames
                    .remarks
                    .add(remarks::TIMECODE_LABEL, 0, None, || why.clone());
            }
            self.frames.head.timing = timing;
            self.ready.extend(self.frames.take());
        }
        self.ready.extend(self.frames.remarks.take());
    }

    /// Reads the triplet at hand.
    fn triplet(&mut self) -> Result<bool, Failure> {
        let at = self.offset;
        let header = match Header::read(self.cursor.at(at, MOST_HEADER)) {
            Ok(header) => header,
            Err(Defect::NoKey) => return self.look_for_key(),
            Err(defect) => {
                return Err(failure(
                    defect.message(),
                    "the file is damaged or cut off: get it again from its source",
                    place(at, (self.cursor.size() - at).min(MOST_HEADER as u64)),
                ));
            }
        };
        let start = at + header.size;
        let left = self.cursor.size().saturating_sub(start);
        if header.length > left {
            return Err(failure(
                format!(
                    "the value of the key {} has {} bytes by its length, the file has {left} left",
                    hex(&header.key),
                    header.length
                ),
                "the file is damaged or cut off: get it again from its source",
                place(at, self.cursor.size() - at),
            ));
        }
        self.take_in(&header, start);
        self.offset = start + header.length;
        Ok(true)
    }

    fn take_in(&mut self, header: &Header, start: u64) {
        let kind = Kind::of(&header.key);
        match kind {
            Kind::Fill => {}
            Kind::Partition => self.container = true,
            Kind::Metadata(set) if self.container => {
                if !self.any
                    && header.length <= MOST_METADATA
                    && let Some(coding) = Coding::of(&header.key)
                {
                    let value = self.cursor.at(start, header.length as usize);
                    self.metadata.add(set, coding, value);
                }
            }
            Kind::Ancillary if self.fetch(header, start) => self.ancillary(start - header.size),
            Kind::Ancillary => {}
            Kind::Set | Kind::Metadata(_) | Kind::Other if self.container => {}
            Kind::Other => {
                let at = place(start - header.size, header.size + header.length);
                self.frames.remarks.add(remarks::NOT_A_SET, 0, at, || {
                    format!("the key {} is that of no set", hex(&header.key))
                });
            }
            kind => self.set(header, kind, start),
        }
    }

    /// Whether a value is short enough to be looked at; else that is told.
    fn fetch(&mut self, header: &Header, start: u64) -> bool {
        if header.length <= MOST_VALUE {
            return true;
        }
        let at = place(start - header.size, header.size + header.length);
        self.frames.remarks.add(remarks::SET_TOO_LARGE, 0, at, || {
            format!(
                "the value of the key {} has {} bytes",
                hex(&header.key),
                header.length
            )
        });
        false
    }

    /// Whether sets found here count: those of the place found first do.
    fn counts(&mut self, place_found: FoundIn, offset: u64) -> bool {
        let first = *self.found_in.get_or_insert(place_found);
        if first != place_found {
            self.frames
                .remarks
                .add(remarks::TWO_PLACES, 0, place(offset, 0), || {
                    "acquisition sets stand in the body and in ancillary packets".to_owned()
                });
        }
        first == place_found
    }

    /// A set of the body.
    fn set(&mut self, header: &Header, kind: Kind, start: u64) {
        let offset = start - header.size;
        if !self.fetch(header, start) || !self.counts(FoundIn::Body, offset) {
            return;
        }
        if self.frames.starts_frame(&header.key, kind) {
            self.start_frame(offset);
        }
        self.frames.add(&Set {
            key: header.key,
            kind,
            value: self.cursor.at(start, header.length as usize),
            offset,
            value_at: Some(start),
        });
    }

    fn start_frame(&mut self, offset: u64) {
        self.frames.end_frame();
        if self.frames.is_full() {
            self.hand_out();
        }
        self.any = true;
        self.frames.start_frame(offset);
    }

    /// Frames of ancillary elements that had no acquisition packets.
    fn blank_frames(&mut self) {
        for _ in 0..std::mem::take(&mut self.empty) {
            self.start_frame(self.offset);
        }
    }

    /// The ancillary packets of a frame.
    fn ancillary(&mut self, offset: u64) {
        let Ok(header) = Header::read(self.cursor.at(offset, MOST_HEADER)) else {
            return;
        };
        let mut payload = std::mem::take(&mut self.payload);
        payload.clear();
        let element = self.cursor.at(offset + header.size, header.length as usize);
        if let Err(defect) = ancillary::payload(element, &mut payload) {
            let (fault, message) = match defect {
                ancillary::Defect::Cut => (
                    remarks::ANCILLARY,
                    "an element ends inside an ancillary packet".to_owned(),
                ),
                ancillary::Defect::Coding(coding) => (
                    remarks::ANCILLARY_CODING,
                    format!("an ancillary packet has the sample coding {coding}"),
                ),
            };
            let at = place(offset, header.size + header.length);
            self.frames.remarks.add(fault, 0, at, || message);
        }
        if payload.is_empty() {
            self.empty += 1;
        } else if self.counts(FoundIn::Ancillary, offset) {
            self.offset = offset;
            self.blank_frames();
            self.start_frame(offset);
            self.packets(&payload, offset);
        }
        self.payload = payload;
    }

    /// The sets in the joined packets of a frame.
    fn packets(&mut self, payload: &[u8], offset: u64) {
        let mut rest = payload;
        while !rest.is_empty() {
            let taken = Header::read(rest).ok().and_then(|header| {
                let value = rest.get(header.size as usize..)?;
                let length = usize::try_from(header.length).ok()?;
                Some((header, value.split_at_checked(length)?))
            });
            let Some((header, (value, after))) = taken else {
                let at = place(offset, 0);
                self.frames.remarks.add(remarks::ANCILLARY, 1, at, || {
                    format!(
                        "{} bytes of the acquisition packets of a frame are no set",
                        rest.len()
                    )
                });
                return;
            };
            rest = after;
            match Kind::of(&header.key) {
                Kind::Fill | Kind::Other | Kind::Ancillary | Kind::Partition => {}
                kind => self.frames.add(&Set {
                    key: header.key,
                    kind,
                    value,
                    offset,
                    value_at: None,
                }),
            }
        }
    }

    /// Passes over bytes that are no key.
    fn look_for_key(&mut self) -> Result<bool, Failure> {
        let start = self.offset;
        let end = self.cursor.size().min(start + LOOK_AHEAD);
        let mut at = start + 1;
        while at < end {
            let bytes = self.cursor.at(at, CHUNK);
            if let Some(found) = bytes.windows(4).position(|w| w == MAGIC) {
                let found = at + found as u64;
                // An MXF file may have bytes in front of its first key.
                if self.any || self.container || start > 0 || !self.is_run_in(found) {
                    self.frames.remarks.add(
                        remarks::NO_KEY,
                        0,
                        place(start, found - start),
                        || format!("{} bytes stand where a key should", found - start),
                    );
                }
                self.offset = found;
                return Ok(true);
            }
            at += (bytes.len() as u64).saturating_sub(3).max(1);
        }
        Err(failure(
            Defect::NoKey.message(),
            if start == 0 {
                "give a KLV stream or an MXF file"
            } else {
                "the file is damaged from here on: get it again from its source"
            },
            place(start, (self.cursor.size() - start).min(16)),
        ))
    }

    fn is_run_in(&mut self, offset: u64) -> bool {
        let header = Header::read(self.cursor.at(offset, MOST_HEADER));
        header.is_ok_and(|header| Kind::of(&header.key) == Kind::Partition)
    }
}
