//! Brings the segments of one take together, frame by frame.

mod begin;
mod facts;

use std::rc::Rc;

use ringmark_sdk::{Fact, Failure, Frames, Item};

use crate::columns::{Columns, Head, Value};
use crate::document::Acquisition;
use crate::fields;
use crate::pages::Pages;
use crate::parameter::Parameters;
use crate::private::Kind;
use crate::remarks::{Remarks, Severity, Spot};
use crate::statics::Statics;
use crate::track::{Common, Track};

/// Frames of a batch, unless it grows too large before.
const BATCH: usize = 4096;

/// Numbers and texts of a batch.
const MAX_CELLS: usize = 1 << 20;

/// Bytes of text of a batch.
const MAX_TEXT: usize = 8 << 20;

/// A take as read so far.
pub struct Take {
    /// Which take of the file it is.
    index: u32,
    common: Common,
    tracks: Vec<Track>,
    /// Facts that the standard has a place for.
    stated: Vec<Fact>,
    /// Position of the next frame; none before the first.
    at: Option<i64>,
    rows: usize,
    first: u64,
    offsets: Vec<u64>,
    damage: Option<Failure>,
    ended: bool,
    timecode: (usize, Head),
    frame: (usize, Head),
    label: String,
}

impl Take {
    /// The take of acquisition data.
    pub fn new(
        pages: &Rc<Pages>,
        index: u32,
        found: Acquisition,
        remarks: Remarks,
    ) -> Result<Self, Failure> {
        let mut remarks = remarks;
        let mut stated = Vec::new();
        let timeline = begin::timeline(&found, &mut stated, &mut remarks)?;
        let image_plane = found
            .blocks
            .iter()
            .any(|block| block.parameter.as_deref() == Some(fields::IMAGE_PLANE));
        // Segments with parameters go first: what they state is kept where both forms differ.
        let (segments, lines): (Vec<_>, Vec<_>) = found
            .blocks
            .iter()
            .partition(|block| block.parameter.is_none());
        let blocks = segments.into_iter().chain(lines);
        let tracks = blocks
            .map(|block| Track::new(pages, block, image_plane))
            .collect();
        let mut columns = Columns::default();
        let timecode = built_in(&mut columns, "timecode", Kind::Label("text"));
        let frame = built_in(&mut columns, "frame", Kind::Number(String::new()));
        Ok(Take {
            index,
            common: Common {
                pages: Rc::clone(pages),
                timeline,
                columns,
                parameters: Parameters::default(),
                statics: Statics::default(),
                remarks,
            },
            tracks,
            stated,
            at: None,
            rows: 0,
            first: 0,
            offsets: Vec::new(),
            damage: found.damage,
            ended: false,
            timecode,
            frame,
            label: String::new(),
        })
    }

    /// Remarks, which go on to the next take.
    pub fn into_remarks(self) -> Remarks {
        self.common.remarks
    }

    /// Reads frames for one batch and hands them out; `false` at the end of the take. A defect
    /// comes after all that is good before it.
    pub fn batch(&mut self, items: &mut impl Extend<Item>) -> Result<bool, Failure> {
        let filled = self.fill();
        self.hand_out(items);
        match filled {
            Ok(()) if self.ended => match self.damage.take() {
                Some(damage) => Err(damage),
                None => Ok(false),
            },
            Ok(()) => Ok(true),
            Err(failure) => Err(failure),
        }
    }

    fn fill(&mut self) -> Result<(), Failure> {
        loop {
            for track in &mut self.tracks {
                track.reach(self.at, &mut self.common)?;
            }
            let begun = self.tracks.iter().filter_map(|t| t.current.as_ref());
            let Some(next) = begun.map(|stretch| stretch.start).min() else {
                self.ended = true;
                return Ok(());
            };
            let at = match self.at {
                Some(at) if next <= at => at,
                Some(at) => {
                    self.tell_gap(at, next);
                    next
                }
                None => next,
            };
            self.at = Some(at);
            if !self.fits(at) {
                return Ok(());
            }
            let count = self.run(at)?;
            self.at = Some(at + count as i64);
            self.rows += count;
            if self.is_full() {
                return Ok(());
            }
        }
    }

    fn is_full(&self) -> bool {
        let cells = self.rows.saturating_mul(self.common.columns.len());
        self.rows >= BATCH || cells >= MAX_CELLS || self.common.columns.text_bytes() >= MAX_TEXT
    }

    /// Whether the values at `at` have the units of the batch.
    fn fits(&self, at: i64) -> bool {
        let covering = self.tracks.iter().filter_map(|t| t.current.as_ref());
        let mut lanes = covering
            .filter(|stretch| stretch.start <= at)
            .flat_map(|stretch| &stretch.lanes);
        lanes.all(|lane| {
            self.common
                .columns
                .fits(lane.target.slot, &lane.target.head)
        })
    }

    /// Fills the frames from `at` on until a segment begins or ends; how many these were.
    fn run(&mut self, at: i64) -> Result<usize, Failure> {
        let all = self.tracks.iter().filter_map(|t| t.current.as_ref());
        let boundary = all
            .map(|s| if s.start <= at { s.end } else { s.start })
            .min()
            .unwrap_or(at + 1);
        let cells = MAX_CELLS / self.common.columns.len().max(1);
        let room = BATCH.min(cells).saturating_sub(self.rows).max(1);
        let count = room.min(usize::try_from(boundary - at).unwrap_or(room));
        let mut offset = None;
        let mut labelled = self.common.timeline.origin.is_some();
        let numbered = !labelled;
        for track in &mut self.tracks {
            let by_segment = track.by_segment();
            let Some(stretch) = track.current.as_mut().filter(|s| s.start <= at) else {
                continue;
            };
            if by_segment {
                offset = offset.or(Some(stretch.spot.at));
            }
            labelled &= !stretch.no_timecode;
            let Common {
                columns, remarks, ..
            } = &mut self.common;
            for lane in &mut stretch.lanes {
                if !columns.fits(lane.target.slot, &lane.target.head) {
                    tell_units(&lane.target.parameter, &stretch.spot, remarks);
                    lane.skip(count as u64, remarks)?;
                    continue;
                }
                lane.fill(count as u64, self.rows, columns, remarks)?;
            }
            // What was passed is no longer part of the stretch.
            stretch.start = at + count as i64;
        }
        if let Some(offset) = offset {
            self.offsets.resize(self.rows, offset);
            self.offsets.resize(self.rows + count, offset);
        }
        if labelled && !self.common.columns.filled(self.timecode.0, self.rows) {
            self.write_labels(at, count);
        } else if numbered {
            self.write_numbers(at, count);
        }
        Ok(count)
    }

    fn write_labels(&mut self, at: i64, count: usize) {
        let Some(origin) = self.common.timeline.origin else {
            return;
        };
        let clock = self.common.timeline.clock;
        let (slot, head) = &self.timecode;
        for row in 0..count {
            self.label.clear();
            clock.write_label(clock.moved(origin, at + row as i64), &mut self.label);
            let value = Value::Text(Some(self.label.clone()));
            self.common
                .columns
                .put(*slot, head, self.rows + row, 1, &value);
        }
    }

    /// Without time code, frame numbers say which frames these are.
    fn write_numbers(&mut self, at: i64, count: usize) {
        let (slot, head) = &self.frame;
        if self.common.columns.filled(*slot, self.rows) {
            return;
        }
        for row in 0..count {
            let value = Value::Number((at + row as i64) as f64);
            self.common
                .columns
                .put(*slot, head, self.rows + row, 1, &value);
        }
    }

    fn tell_gap(&mut self, at: i64, next: i64) {
        let Common {
            timeline, remarks, ..
        } = &mut self.common;
        let spot = self.tracks.iter().filter_map(|t| t.current.as_ref());
        let spot = spot.map(|s| s.spot.clone()).next().unwrap_or_default();
        remarks.add(
            Severity::Warning,
            "segments-gap",
            "",
            || {
                format!(
                    "no segment covers {} to {} ({} frames)",
                    timeline.said(at),
                    timeline.said(next - 1),
                    next - at
                )
            },
            "these frames were left out of the take",
            &spot,
        );
    }

    fn hand_out(&mut self, items: &mut impl Extend<Item>) {
        let (mut columns, labels) = self.common.columns.take(self.rows);
        let facts = self.facts(&mut columns);
        let Common {
            statics, remarks, ..
        } = &mut self.common;
        if !statics.sealed() && (self.rows > 0 || self.ended) {
            let mut stated = std::mem::take(&mut self.stated);
            stated.extend(facts);
            items.extend(statics.seal(stated, remarks));
        }
        items.extend(remarks.take());
        if self.rows == 0 {
            return;
        }
        let mut offsets = std::mem::take(&mut self.offsets);
        if !offsets.is_empty() {
            let last = offsets[offsets.len() - 1];
            offsets.resize(self.rows, last);
        }
        items.extend([Item::Frames(Frames {
            take: self.index,
            first: self.first,
            count: self.rows as u32,
            columns,
            labels,
            inputs: Vec::new(),
            offsets,
        })]);
        self.first += self.rows as u64;
        self.rows = 0;
    }
}

fn built_in(columns: &mut Columns, channel: &str, kind: Kind) -> (usize, Head) {
    let slot = columns.slot(channel, &kind).unwrap_or_default();
    let head = Head {
        channel: channel.to_owned(),
        kind,
        unit: String::new(),
    };
    (slot, head)
}

fn tell_units(parameter: &str, spot: &Spot, remarks: &mut Remarks) {
    remarks.add(
        Severity::Warning,
        "units-disagree",
        parameter,
        || {
            format!(
                "{parameter} is stated twice for the same frame, in two units; the first was read"
            )
        },
        "find out which of both is right",
        spot,
    );
}
