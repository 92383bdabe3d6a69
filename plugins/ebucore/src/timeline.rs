//! Where the times of segments lie on the take.

use ringmark_sdk::Failure;

use crate::clock::Clock;
use crate::remarks::{Remarks, Severity, Spot, shown};
use crate::time::{self, Style, Time};

/// Positions are frames from the start of the extraction; those of segments before it are below 0.
#[derive(Debug)]
pub struct Timeline {
    /// How frames are counted.
    pub clock: Clock,
    /// Frame of the day at position 0; none before the first time code.
    pub origin: Option<u64>,
}

impl Timeline {
    /// First and last position of a segment, the last one not in it. `expected` is where it should
    /// start: behind the one before.
    pub fn segment(
        &mut self,
        start: Option<&str>,
        end: Option<&str>,
        expected: i64,
        remarks: &mut Remarks,
        spot: &Spot,
    ) -> Result<(i64, i64), Failure> {
        let start = self.start(start, expected, remarks, spot)?;
        let Some(end) = end else {
            return Err(spot.failure(
                "the segment has no endTime",
                "without it nobody knows how long its values hold",
            ));
        };
        let position = match time::read(end, self.clock) {
            Ok((time, style)) => {
                tell_style(style, end, remarks, spot);
                self.position(time, start)
            }
            Err(why) => {
                return Err(spot.failure(
                    format!("the endTime '{}' does not exist: {why}", shown(end)),
                    "without it nobody knows how long the segment is",
                ));
            }
        };
        if position < start {
            return Err(spot.failure(
                format!(
                    "the segment ends at '{}', before it starts, or is longer than half a day",
                    shown(end)
                ),
                "correct startTime or endTime",
            ));
        }
        Ok((start, position))
    }

    fn start(
        &mut self,
        start: Option<&str>,
        expected: i64,
        remarks: &mut Remarks,
        spot: &Spot,
    ) -> Result<i64, Failure> {
        let why = match start.map(|text| (text, time::read(text, self.clock))) {
            Some((text, Ok((time, style)))) => {
                tell_style(style, text, remarks, spot);
                return Ok(self.position(time, expected));
            }
            Some((text, Err(why))) => {
                format!("the startTime '{}' does not exist: {why}", shown(text))
            }
            None => "the segment has no startTime".to_owned(),
        };
        if self.origin.is_none() {
            return Err(spot.failure(why, "without it nobody knows where the segment lies"));
        }
        remarks.add(
            Severity::Error,
            "timecode-impossible",
            start.unwrap_or_default(),
            || why,
            "the segment was taken to start where the one before ends, or at extractionStartTime",
            spot,
        );
        Ok(expected)
    }

    /// The position of a time that is near `expected`.
    fn position(&mut self, time: Time, expected: i64) -> i64 {
        match time {
            Time::Elapsed(frames) => frames as i64,
            Time::Label(frame) => match self.origin {
                None => {
                    self.origin = Some(self.clock.moved(frame, -expected));
                    expected
                }
                Some(origin) => {
                    let here = self.clock.moved(origin, expected);
                    expected + self.clock.distance(here, frame)
                }
            },
        }
    }

    /// A position in words.
    pub fn said(&self, position: i64) -> String {
        match self.origin {
            Some(origin) => self.clock.label(self.clock.moved(origin, position)),
            None => format!("frame {position}"),
        }
    }
}

fn tell_style(style: Style, text: &str, remarks: &mut Remarks, spot: &Spot) {
    let (check, what) = match style {
        Style::Frames => return,
        Style::Fraction => ("time-as-fraction", "a fraction of a second"),
        Style::Duration => ("time-as-duration", "an ISO 8601 duration"),
    };
    remarks.add(
        Severity::Warning,
        check,
        "",
        || {
            format!(
                "times are written as {what} ('{}'), not as time code",
                shown(text)
            )
        },
        "each was taken for the nearest frame",
        spot,
    );
}
