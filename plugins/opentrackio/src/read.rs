//! Reads a file of samples into one take.

use std::collections::VecDeque;

use ringmark_sdk::{Failure, Input, Item, Reader, failure};

use crate::remarks::Severity;
use crate::sample::{Damage, Sample, Value};
use crate::samples::Samples;
use crate::take::Take;
use crate::version::{self, Stated, Version};

/// Frames of a batch, unless it grows too large before.
const BATCH: usize = 4096;

/// Numbers and texts of a batch.
const MAX_CELLS: usize = 1 << 20;

/// Bytes of text of a batch.
const MAX_TEXT: usize = 8 << 20;

/// Columns of a take.
const MAX_COLUMNS: usize = 16_384;

/// Keys at the top of a sample; a file whose first sample has none of them is something else.
const TOP_KEYS: [&str; 13] = [
    "protocol",
    "static",
    "tracker",
    "timing",
    "lens",
    "transforms",
    "globalStage",
    "sampleId",
    "sourceId",
    "sourceNumber",
    "relatedSampleIds",
    "custom",
    crate::aside::PRIVATE,
];

/// The reading half of the plugin.
pub struct TakeReader {
    samples: Samples,
    sample: Sample,
    take: Option<Take>,
    items: VecDeque<Item>,
    failure: Option<Failure>,
    ended: bool,
}

impl Reader for TakeReader {
    fn open(inputs: Vec<Box<dyn Input>>, _options: &str) -> Result<Self, Failure> {
        let count = inputs.len();
        let mut inputs = inputs.into_iter();
        match (inputs.next(), inputs.next()) {
            (Some(input), None) => Ok(TakeReader {
                samples: Samples::new(input),
                sample: Sample::new(),
                take: None,
                items: VecDeque::new(),
                failure: None,
                ended: false,
            }),
            _ => Err(failure(
                format!("a take of OpenTrackIO samples is one file, {count} were given"),
                "convert the files one by one",
                None,
            )),
        }
    }

    fn next(&mut self) -> Result<Option<Item>, Failure> {
        loop {
            if let Some(item) = self.items.pop_front() {
                return Ok(Some(item));
            }
            if let Some(failure) = self.failure.take() {
                return Err(failure);
            }
            if self.ended {
                return Ok(None);
            }
            // What was read before a defect goes out before it is told.
            match self.fill() {
                Ok(more) => self.ended = !more,
                Err(failure) => {
                    self.ended = true;
                    self.failure = Some(failure);
                }
            }
            if let Some(take) = &mut self.take {
                take.batch(&mut self.items);
            }
        }
    }
}

impl TakeReader {
    /// Reads samples for one batch; `false` at the end of the file.
    fn fill(&mut self) -> Result<bool, Failure> {
        loop {
            if !self.samples.advance()? {
                if self.take.is_none() {
                    return Err(failure(
                        "the file holds no sample",
                        "check that it was written completely",
                        self.samples.place(0..0),
                    ));
                }
                return Ok(false);
            }
            let bytes = self.samples.bytes();
            self.sample
                .read(bytes)
                .map_err(|damage| self.damaged(damage))?;
            let long_integer = self.sample.long_integer(self.samples.bytes());
            if self.take.is_none() {
                self.take = Some(self.start()?);
            }
            let Some(take) = &mut self.take else {
                continue;
            };
            if let Some(at) = long_integer {
                take.remarks().add(
                    Severity::Warning,
                    "long-integer",
                    0,
                    || "an integer has more digits than can be kept".to_owned(),
                    "it was rounded to the nearest double",
                    self.samples.place(at..at),
                );
            }
            let place = self.samples.place(0..0);
            take.add(&mut self.sample, self.samples.offset())
                .map_err(|(message, help)| failure(message, help, place))?;
            if take.columns() > MAX_COLUMNS {
                return Err(failure(
                    format!("the samples have more than {MAX_COLUMNS} different values"),
                    "no take has so many; this may be another kind of file",
                    self.samples.place(0..0),
                ));
            }
            let cells = take.frames().saturating_mul(take.columns());
            if take.frames() >= BATCH || cells >= MAX_CELLS || take.text_bytes() >= MAX_TEXT {
                return Ok(true);
            }
        }
    }

    fn damaged(&self, damage: Damage) -> Failure {
        failure(
            damage.message,
            damage.help,
            self.samples.place(damage.at..damage.at),
        )
    }

    /// The take that the first sample begins.
    fn start(&self) -> Result<Take, Failure> {
        let stated = version::stated(&self.sample);
        let mut keys = self.sample.top_keys().peekable();
        if keys.peek().is_some() && !keys.any(|key| TOP_KEYS.contains(&key)) {
            return Err(failure(
                "this is JSON, but no OpenTrackIO: the first object has none of the keys of a sample",
                "expected `protocol`, `timing`, `lens`, `static` or the like; name another format with --from",
                self.samples.place(0..0),
            ));
        }
        let version = match &stated {
            Stated::Known(version) => *version,
            Stated::Nothing => Version::One,
            Stated::Unreadable(message, help) => {
                return Err(failure(message.clone(), *help, self.samples.place(0..0)));
            }
        };
        let mut take = Take::new(version);
        self.remark_on_start(&mut take, &stated);
        Ok(take)
    }

    fn remark_on_start(&self, take: &mut Take, stated: &Stated) {
        let at = self.samples.place(0..0);
        let remarks = take.remarks();
        if self.samples.byte_order_mark() {
            remarks.add(
                Severity::Note,
                "byte-order-mark",
                0,
                || "the file starts with a byte order mark, which JSON does not have".to_owned(),
                "it was passed over",
                at.clone(),
            );
        }
        match stated {
            Stated::Nothing => remarks.add(
                Severity::Warning,
                "version-missing",
                0,
                || "the first sample has no protocol.version; units of OpenTrackIO 1.0 were assumed".to_owned(),
                "drafts up to 0.9.0 gave focus distance in millimetres: compare one distance with what you know",
                at.clone(),
            ),
            Stated::Known(Version::Draft) => remarks.add(
                Severity::Note,
                "version-draft",
                0,
                || "the samples follow the draft 0.9 of OpenTrackIO, with units of 1.0".to_owned(),
                "",
                at.clone(),
            ),
            _ => {}
        }
        if let Some(Value::Text(name)) = self.sample.value_at("protocol.name")
            && name != "OpenTrackIO"
        {
            remarks.add(
                Severity::Warning,
                "protocol-name",
                0,
                || {
                    format!(
                        "protocol.name is \"{}\" and not \"OpenTrackIO\"",
                        name.chars().take(40).collect::<String>()
                    )
                },
                "its keys were read by the rules of OpenTrackIO",
                at,
            );
        }
    }
}
