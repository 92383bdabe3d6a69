//! Reads per-frame records: an optional lens, the take, then its frames in batches.

use std::collections::VecDeque;

use ringmark_sdk::bytes::Window;
use ringmark_sdk::quantity::Unit;
use ringmark_sdk::{Datum, Fact, Failure, Frames, Item, Lens, Remark, Take, failure};

use crate::columns::{Column, Target};
use crate::facts::Facts;
use crate::form::Form;
use crate::keys::AXES;
use crate::rows::Rows;
use crate::say::{list, place, quoted};

/// Rows a batch.
const BATCH: usize = 4096;

/// Rows a batch of a wide table: the memory of a batch stays bounded.
const WIDE_BATCH: usize = 1024;

/// Columns of a wide table.
const WIDE: usize = 256;

/// Bytes of rows after which a batch ends early.
const BATCH_BYTES: usize = 16 << 20;

/// A take while it is read.
pub struct TakeReader {
    window: Window,
    rows: Rows,
    ready: VecDeque<Item>,
    first: u64,
    limit: usize,
    /// Bytes of rows in the batch.
    filled: usize,
    ended: bool,
}

impl TakeReader {
    /// A take whose rows start where the window stands. `stated`: something says that it is one.
    pub fn new(
        window: Window,
        columns: Vec<Column>,
        mut facts: Facts,
        form: Form,
        stated: bool,
    ) -> Result<Self, Failure> {
        if !stated && !columns.iter().any(|column| column.known) {
            return Err(unknown(&columns));
        }
        add_encoders(&columns, &mut facts)?;
        let mut ready = VecDeque::new();
        let lens = (!facts.lens.is_empty()).then(|| {
            ready.push_back(Item::Lens(Lens {
                facts: std::mem::take(&mut facts.lens),
                rings: Vec::new(),
                tables: Vec::new(),
            }));
            0
        });
        ready.push_back(Item::Take(Take {
            lens,
            facts: facts.take,
        }));
        let limit = if columns.len() > WIDE {
            WIDE_BATCH
        } else {
            BATCH
        };
        Ok(TakeReader {
            window,
            rows: Rows::new(columns, form),
            ready,
            first: 0,
            limit,
            filled: 0,
            ended: false,
        })
    }

    /// The next item.
    pub fn next(&mut self) -> Result<Option<Item>, Failure> {
        if let Some(item) = self.ready.pop_front() {
            return Ok(Some(item));
        }
        while !self.ended {
            let ended = self.window.ended();
            let base = self.window.offset();
            let filled = self
                .rows
                .fill(self.window.bytes(), base, ended, self.limit)?;
            self.window.advance(filled.used);
            self.filled += filled.used;
            if filled.wants_more {
                if ended {
                    self.ended = true;
                    return self.last();
                }
                self.window.more();
                if self.filled < BATCH_BYTES {
                    continue;
                }
            }
            if self.rows.len() > 0 {
                return self.batch().map(Some);
            }
        }
        Ok(None)
    }

    fn batch(&mut self) -> Result<Item, Failure> {
        let batch = self.rows.take()?;
        self.filled = 0;
        let count = batch.offsets.len();
        let first = self.first;
        self.first += count as u64;
        Ok(Item::Frames(Frames {
            take: 0,
            first,
            count: count as u32,
            columns: batch.numbers,
            labels: batch.labels,
            inputs: Vec::new(),
            offsets: batch.offsets,
        }))
    }

    fn last(&mut self) -> Result<Option<Item>, Failure> {
        if self.first == 0 && self.rows.len() == 0 {
            return Err(failure(
                "there is no row below the header",
                "a take has one row a frame; the file may be cut short",
                place(self.window.offset(), 0),
            ));
        }
        if let [Some(lf), Some(crlf)] = self.rows.line_ends {
            self.ready.push_back(mixed_line_ends(lf.max(crlf)));
        }
        if self.rows.len() > 0 {
            return self.batch().map(Some);
        }
        Ok(self.ready.pop_front())
    }
}

/// The remark about line ends of two kinds.
pub fn mixed_line_ends(offset: u64) -> Item {
    Item::Remark(Remark {
        severity: "note".to_owned(),
        check: "mixed-line-ends".to_owned(),
        message: "some lines end with LF, others with CRLF".to_owned(),
        help: "all rows were read; the file may be joined from two".to_owned(),
        at: place(offset, 1),
    })
}

#[cold]
fn unknown(columns: &[Column]) -> Failure {
    failure(
        format!(
            "no column of this table is known; its header says {}",
            list(columns.iter().map(|column| column.header.as_str()))
        ),
        "name columns as `frame`, `timecode`, `focus distance [m]`, or say in a mapping file which column is what; a line `# document: take` above the header keeps all columns as extras",
        columns.first().and_then(|column| column.at.clone()),
    )
}

/// Encoder ranges become facts of the take. A ring column in counts or degrees needs its range,
/// unless the ring is there as 0 to 1 too.
fn add_encoders(columns: &[Column], facts: &mut Facts) -> Result<(), Failure> {
    for (axis, name) in AXES.into_iter().enumerate() {
        let raw_channel = format!("{name}-ring-raw");
        let position_channel = format!("{name}-ring");
        let of = |wanted: &str| {
            columns.iter().find_map(|column| match &column.target {
                Target::Numbers {
                    channel, reading, ..
                } if channel == wanted => Some((column, reading.unit)),
                _ => None,
            })
        };
        let raw = of(&raw_channel);
        let Some(encoder) = facts.encoders.get_mut(axis) else {
            continue;
        };
        if let Some((column, unit)) = raw
            && let Some([low, high]) = column.range
        {
            (encoder.low, encoder.high) = (Some(low), Some(high));
            encoder.unit = Some(unit);
            encoder.at = None;
        }
        let rotation = facts.rotations.get_mut(axis).and_then(Option::take);
        match (raw, rotation) {
            (Some((_, Unit::Degree)), Some(turn))
                if encoder.low.is_none() && encoder.high.is_none() =>
            {
                if let Datum::Number(degrees) = turn.value {
                    (encoder.low, encoder.high) = (Some(0.0), Some(degrees));
                    encoder.unit = Unit::from_symbol(&turn.unit);
                    encoder.at = turn.at;
                }
            }
            // Nothing in a take needs it: kept as it is.
            (_, Some(turn)) => facts.take.push(Fact {
                name: format!("extra/{name} rotation"),
                ..turn
            }),
            _ => {}
        }
        let unit = encoder
            .unit
            .or(raw.map(|(_, unit)| unit))
            .unwrap_or(Unit::Count);
        if let Some((column, column_unit)) = raw {
            let complete = encoder.low.is_some() && encoder.high.is_some();
            if !complete && column.needs_range && of(&position_channel).is_none() {
                return Err(no_range(column, name, column_unit));
            }
            if complete && unit != column_unit {
                return Err(failure(
                    format!(
                        "column {} is in {}, its range in {}",
                        quoted(&column.header),
                        column_unit.name(),
                        unit.name()
                    ),
                    "state both in the same unit",
                    encoder.at.clone(),
                ));
            }
        }
        for (end, value) in [("low", encoder.low), ("high", encoder.high)] {
            if let Some(value) = value {
                facts.take.push(Fact {
                    name: format!("{name}-encoder-{end}"),
                    value: Datum::Number(value),
                    unit: unit.symbol().to_owned(),
                    at: encoder.at.clone(),
                });
            }
        }
    }
    Ok(())
}

#[cold]
fn no_range(column: &Column, ring: &str, unit: Unit) -> Failure {
    let (line, range) = match unit {
        Unit::Degree => (format!("# {ring} rotation: 300 deg"), "[0.0, 300.0]"),
        _ => (format!("# {ring} encoder: 0..65535"), "[0.0, 65535.0]"),
    };
    failure(
        format!(
            "column {} is in {}, and nothing says which range the ring has",
            quoted(&column.header),
            unit.name()
        ),
        format!(
            "add a line `{line}` above the header, or range = {range} to the column in a mapping file; `{ring} ring raw [{}]` reads the numbers without a range",
            unit.symbol()
        ),
        column.at.clone(),
    )
}
