//! The values of one parameter over one segment.

use std::rc::Rc;

use ringmark_sdk::Failure;

use crate::columns::{Columns, Value};
use crate::number;
use crate::parameter::{Decode, Target};
use crate::remarks::{Remarks, Severity, Spot, shown};
use crate::tokens::Tokens;

/// How values lie in the segment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Interval {
    /// One value for the whole segment.
    Constant,
    /// One value every so many frames.
    Every(u64),
}

impl Interval {
    /// The interval of an attribute; the error says what is wrong with it.
    pub fn read(attribute: Option<&str>) -> Result<Self, String> {
        let Some(text) = attribute else {
            return Ok(Interval::Constant);
        };
        match text.trim_ascii().parse() {
            Ok(frames) if frames > 0 => Ok(Interval::Every(frames)),
            _ => Err(format!(
                "the interval '{}' is no number of frames above 0",
                shown(text)
            )),
        }
    }
}

/// See the module.
pub struct Lane {
    /// Where the values go.
    pub target: Rc<Target>,
    /// The parameter's tag.
    spot: Spot,
    tokens: Tokens,
    interval: Interval,
    /// Frames of the segment.
    length: u64,
    /// Frames that were passed.
    passed: u64,
    /// Values that were read.
    read: u64,
    value: Value,
    /// Frames for which `value` still holds.
    left: u64,
}

impl Lane {
    /// Values in `tokens` over `length` frames.
    pub fn new(
        target: Rc<Target>,
        tokens: Tokens,
        interval: Interval,
        length: u64,
        spot: Spot,
        remarks: &mut Remarks,
    ) -> Self {
        if let Interval::Every(frames @ 2..) = interval {
            remarks.add(
                Severity::Note,
                "value-held",
                &target.parameter,
                || {
                    format!(
                        "{} has one value every {frames} frames; each was held until the next",
                        target.parameter
                    )
                },
                "",
                &spot,
            );
        }
        Lane {
            target,
            spot,
            tokens,
            interval,
            length,
            passed: 0,
            read: 0,
            value: Value::Number(f64::NAN),
            left: 0,
        }
    }

    /// Puts the values of the next `count` frames into rows from `row` on.
    pub fn fill(
        &mut self,
        count: u64,
        row: usize,
        columns: &mut Columns,
        remarks: &mut Remarks,
    ) -> Result<(), Failure> {
        let mut row = row;
        self.run(count, remarks, |lane, frames, remarks| {
            let target = &lane.target;
            let conflict =
                columns.put(target.slot, &target.head, row, frames as usize, &lane.value);
            if let Some(conflict) = conflict {
                lane.disagree(&conflict.kept, remarks);
            }
            row += frames as usize;
        })
    }

    /// Passes over the values of the next `count` frames.
    pub fn skip(&mut self, count: u64, remarks: &mut Remarks) -> Result<(), Failure> {
        self.run(count, remarks, |_, _, _| {})
    }

    fn run(
        &mut self,
        count: u64,
        remarks: &mut Remarks,
        mut take: impl FnMut(&Lane, u64, &mut Remarks),
    ) -> Result<(), Failure> {
        let mut needed = count;
        while needed > 0 {
            if self.left == 0 {
                self.advance(remarks)?;
            }
            let frames = self.left.min(needed);
            take(self, frames, remarks);
            self.left -= frames;
            self.passed += frames;
            needed -= frames;
        }
        if self.passed >= self.length && self.tokens.next_item()?.is_some() {
            self.read += 1;
            return Err(self.wrong_count()?);
        }
        Ok(())
    }

    fn advance(&mut self, remarks: &mut Remarks) -> Result<(), Failure> {
        match (self.interval, self.target.decode) {
            (Interval::Constant, Decode::Plain) => {
                let text = self.tokens.joined()?;
                self.left = self.length;
                // An empty list states nothing.
                let text = Some(text).filter(|text| !text.is_empty());
                self.value = Value::Text(text.and_then(|text| self.target.text(&text)));
                return Ok(());
            }
            (Interval::Constant, _) => self.left = self.length,
            (Interval::Every(frames), _) => self.left = frames.min(self.length - self.passed),
        }
        let Some(item) = self.tokens.next_item()? else {
            return Err(self.wrong_count()?);
        };
        self.read += 1;
        self.value = match self.target.decode {
            Decode::Number(form) => match number::read(item, form) {
                Some(number) => Value::Number(number),
                None => {
                    let item = item.to_owned();
                    not_a_number(&self.target.parameter, &item, &self.tokens.spot(), remarks);
                    Value::Number(f64::NAN)
                }
            },
            _ => Value::Text(self.target.text(item)),
        };
        Ok(())
    }

    /// The failure of a segment with more or fewer values than it needs.
    fn wrong_count(&mut self) -> Result<Failure, Failure> {
        while self.tokens.next_item()?.is_some() {
            self.read += 1;
        }
        let (needed, how) = match self.interval {
            Interval::Constant => (1, "no interval, so one value for all".to_owned()),
            Interval::Every(1) => (self.length, "interval 1, so one value a frame".to_owned()),
            Interval::Every(frames) => {
                let needed = self.length.div_ceil(frames);
                (needed, format!("interval {frames}, so {needed} values"))
            }
        };
        let values = if self.read == 1 { "value" } else { "values" };
        let help = if self.read == needed + 1 {
            "endTime is the first frame after the segment; a file that counts it as the last frame of the \
             segment has one value too many"
        } else {
            "the segment is incomplete, or its times are wrong"
        };
        Ok(self.spot.failure(
            format!(
                "{} has {} {values} in a segment of {} frames ({how})",
                self.target.parameter, self.read, self.length
            ),
            help,
        ))
    }

    fn disagree(&self, kept: &str, remarks: &mut Remarks) {
        let other = match &self.value {
            Value::Number(number) => number.to_string(),
            Value::Text(text) => text.clone().unwrap_or_default(),
        };
        let parameter = &self.target.parameter;
        remarks.add(
            Severity::Warning,
            "values-disagree",
            parameter,
            || {
                format!(
                    "{parameter} is stated twice for the same frame, as {} and as {}; the first was read",
                    shown(kept),
                    shown(&other)
                )
            },
            "find out which of both is right",
            &self.tokens.spot(),
        );
    }
}

fn not_a_number(parameter: &str, item: &str, spot: &Spot, remarks: &mut Remarks) {
    remarks.add(
        Severity::Error,
        "value-not-a-number",
        parameter,
        || {
            format!(
                "'{}' is no number that {parameter} can have; it was taken as not recorded",
                shown(item)
            )
        },
        "decimals need a point, and infinity is written `Infinite`",
        spot,
    );
}
