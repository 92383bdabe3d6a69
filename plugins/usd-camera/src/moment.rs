//! The values of all columns at one time.

use crate::facts;
use crate::fields::{Allowed, Field, SHUTTER_ANGLE};
use crate::native;
use crate::remarks::{Notice, Remarks};
use crate::track::Track;
use crate::units::{Scene, Stated};

/// How a number comes from tracks.
pub enum How {
    /// As the attribute has it.
    Plain(usize),
    /// An attribute of the schema, with exact values beside it.
    Field {
        /// Which one.
        field: &'static Field,
        /// How its number is stated.
        stated: Stated,
        /// Its track.
        native: Option<usize>,
        /// The track of exact values.
        kept: Option<usize>,
    },
    /// The angle between both times of the shutter.
    Angle {
        /// When it opens.
        open: Option<usize>,
        /// When it closes.
        close: Option<usize>,
        /// The track of exact values.
        kept: Option<usize>,
        /// What a time is that is not written: 0 by the schema, and unknown where this program
        /// left it out.
        absent: f64,
    },
    /// When the shutter opens, in frames.
    Open(usize),
}

/// The tracks at one time.
pub struct Moment<'t> {
    /// All tracks of the take.
    pub tracks: &'t [Track],
    /// The scene unit.
    pub scene: Scene,
    /// Time codes of a frame.
    pub step: f64,
    /// The time code to which the tracks went.
    pub time: f64,
}

impl Moment<'_> {
    fn track(&self, at: Option<usize>) -> Option<&Track> {
        self.tracks.get(at?)
    }

    fn number(&self, at: Option<usize>) -> f64 {
        self.track(at).map_or(f64::NAN, Track::number)
    }

    /// The value of a column; NaN where none is recorded.
    pub fn value(&self, how: &How, remarks: &mut Remarks) -> f64 {
        match *how {
            How::Plain(track) => {
                self.notice(Some(track), remarks);
                self.number(Some(track))
            }
            How::Open(track) => self.number(Some(track)) / self.step,
            How::Field {
                field,
                stated,
                native,
                kept,
            } => self.field(field, stated, (native, kept), remarks),
            How::Angle {
                open,
                close,
                kept,
                absent,
            } => self.angle((open, close), kept, absent, remarks),
        }
    }

    fn field(
        &self,
        field: &Field,
        stated: Stated,
        (native, kept): (Option<usize>, Option<usize>),
        remarks: &mut Remarks,
    ) -> f64 {
        self.notice(native, remarks);
        let number = self.number(native);
        let exact = self.number(kept);
        if !exact.is_nan() {
            let written = native::of(field, self.scene, exact);
            let agrees = match written {
                Some(written) => f64::from(written) == number,
                None => number.is_nan(),
            };
            if agrees {
                return exact;
            }
            let at = self.track(kept).map(Track::place);
            facts::stale(remarks, field.channel, at);
        }
        if let (true, Some(says)) = (number == 0.0, field.zero) {
            self.say(
                remarks,
                ("note", "zero-is-no-value", native),
                |time| format!("{} is 0 at time code {time}: {says}", field.attribute),
                "such frames have no value",
            );
            return f64::NAN;
        }
        if number.is_infinite() && field.allowed != Allowed::PositiveOrInfinity {
            self.say(
                remarks,
                ("error", "value-infinite", native),
                |time| format!("{} is infinite at time code {time}", field.attribute),
                "only a focus distance can be infinite",
            );
        }
        stated.read(number)
    }

    fn angle(
        &self,
        (open, close): (Option<usize>, Option<usize>),
        kept: Option<usize>,
        absent: f64,
        remarks: &mut Remarks,
    ) -> f64 {
        self.notice(open, remarks);
        self.notice(close, remarks);
        let time = |at: Option<usize>| self.track(at).map_or(absent, Track::number);
        let angle = match (open, close) {
            (None, None) => f64::NAN,
            _ => native::angle(time(open), time(close), self.step),
        };
        let exact = self.number(kept);
        if !exact.is_nan() {
            // Times that cannot tell an angle are not written.
            let agrees = angle.is_nan() || native::is_same_angle(angle, exact);
            if agrees {
                return exact;
            }
            let at = self.track(kept).map(Track::place);
            facts::stale(remarks, SHUTTER_ANGLE, at);
        }
        if angle == 0.0 {
            self.say(
                remarks,
                ("note", "zero-is-no-value", close.or(open)),
                |time| format!("the shutter opens and closes at once at time code {time}: there is no motion blur"),
                "such frames have no shutter angle",
            );
            return f64::NAN;
        }
        if angle < 0.0 {
            self.say(
                remarks,
                ("error", "shutter-backwards", close.or(open)),
                |time| format!("the shutter closes before it opens at time code {time}"),
                "shutter:close is at least shutter:open",
            );
            return f64::NAN;
        }
        angle
    }

    /// Values that are none, or made up.
    fn notice(&self, at: Option<usize>, remarks: &mut Remarks) {
        let Some(track) = self.track(at) else { return };
        if track.is_nan() {
            self.say(
                remarks,
                ("error", "value-not-a-number", at),
                |time| format!("`nan` at time code {time}"),
                "such frames have no value; `None` says so in the standard's way",
            );
        }
        if let Some((left, right)) = track.made_up() {
            self.say(
                remarks,
                ("note", "values-interpolated", at),
                |time| {
                    format!(
                        "no sample at every frame: the value at time code {time} is interpolated between {left} and {right}, as OpenUSD does it"
                    )
                },
                "only the samples themselves were recorded",
            );
        }
    }

    fn say(
        &self,
        remarks: &mut Remarks,
        (severity, check, at): (&'static str, &'static str, Option<usize>),
        message: impl FnOnce(f64) -> String,
        help: &str,
    ) {
        let Some(track) = self.track(at) else { return };
        if remarks.knows(check, track.path()) {
            return;
        }
        remarks.add(Notice {
            severity,
            check,
            subject: track.path(),
            message: format!("{}: {}", track.path(), message(self.time)),
            help,
            at: Some(track.place()),
        });
    }
}
