//! Which frames a camera has, and at which time codes.

use ringmark_sdk::quantity::FrameRate;

use crate::facts::RECORDED;
use crate::remarks::{Notice, Remarks};
use crate::stage::{Attribute, Camera, Placed, Stage};
use crate::track::SAME_TIME;

/// What a stage without rates means.
const DEFAULT_RATE: f64 = 24.0;

/// Frames beyond which a range must be filled with samples: a day at 24 frames a second.
const MOST_EMPTY: u64 = 1 << 21;

/// Frames for one sample that are believed beyond that.
const FRAMES_PER_SAMPLE: u64 = 16;

/// The rates of a stage.
#[derive(Debug, Clone, PartialEq)]
pub struct Rates {
    /// Frames a second, where the stage says it.
    pub frames: Option<Placed<f64>>,
    /// Time codes from frame to frame.
    pub step: f64,
}

impl Rates {
    /// The rates of `stage`.
    pub fn of(stage: &Stage, remarks: &mut Remarks) -> Self {
        let codes = usable(&stage.time_codes_per_second, "timeCodesPerSecond", remarks);
        let frames = usable(&stage.frames_per_second, "framesPerSecond", remarks);
        let step = match (codes, frames) {
            (Some(codes), Some(frames)) => codes.value / frames.value,
            _ => 1.0,
        };
        if let (Some(codes), None) = (codes, frames)
            && codes.value != DEFAULT_RATE
        {
            remarks.add(Notice {
                severity: "note",
                check: "frame-rate-unstated",
                subject: "",
                message: format!(
                    "the stage has {} time codes a second and no framesPerSecond: one time code is taken as one frame",
                    codes.value
                ),
                help: "the standard would play it at 24 frames a second: write framesPerSecond",
                at: Some(codes.at.clone()),
            });
        }
        Rates {
            frames: frames.or(codes).cloned(),
            step,
        }
    }

    /// The frame rate as the neutral form writes it.
    pub fn text(&self, remarks: &mut Remarks) -> Option<String> {
        let frames = self.frames.as_ref()?;
        match FrameRate::from_decimal(frames.value) {
            Ok(rate) => Some(rate.to_string()),
            Err(error) => {
                remarks.add(Notice {
                    severity: "error",
                    check: "rate-invalid",
                    subject: "text",
                    message: format!("{} frames a second: {error}", frames.value),
                    help: "write a rate such as 24, or 23.976023976023978 for 24000/1001",
                    at: Some(frames.at.clone()),
                });
                None
            }
        }
    }
}

fn usable<'s>(
    rate: &'s Option<Placed<f64>>,
    name: &str,
    remarks: &mut Remarks,
) -> Option<&'s Placed<f64>> {
    let rate = rate.as_ref()?;
    if rate.value > 0.0 && rate.value.is_finite() {
        return Some(rate);
    }
    remarks.add(Notice {
        severity: "error",
        check: "rate-invalid",
        subject: name,
        message: format!("{name} is {}", rate.value),
        help: "a rate is above 0: write how many there are in a second",
        at: Some(rate.at.clone()),
    });
    None
}

/// The frames of one camera.
#[derive(Debug, Clone, PartialEq)]
pub struct Clock {
    /// Number of the first frame.
    pub first: i64,
    /// Number of the last frame.
    pub last: i64,
    /// Whether a range or a sample says which frames there are.
    pub stated: bool,
    /// Frames that may come before it is clear that the range is wrong.
    pub most: u64,
    step: f64,
}

impl Clock {
    /// The frames of `camera`: those of the stage's range, else those of its samples, else one.
    pub fn of(stage: &Stage, camera: &Camera, rates: &Rates, remarks: &mut Remarks) -> Self {
        let step = rates.step;
        let samples = || {
            let attributes = camera.attributes.iter().filter(|a| a.name != RECORDED);
            attributes.filter_map(|a| a.samples.as_ref())
        };
        let keys = samples()
            .map(|s| (s.first, s.last))
            .reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)));
        let authored = stage.start.as_ref().zip(stage.end.as_ref());
        let range = match authored {
            Some((start, end)) if start.value <= end.value => Some((start.value, end.value)),
            Some((start, end)) => {
                remarks.add(Notice {
                    severity: "error",
                    check: "range-backwards",
                    subject: "",
                    message: format!(
                        "the stage goes from time code {} to {}: the range of the samples is read",
                        start.value, end.value
                    ),
                    help: "startTimeCode is the first, endTimeCode the last frame",
                    at: Some(start.at.clone()),
                });
                keys
            }
            None => keys,
        };
        let frame = |time: f64| time / step;
        let (first, last) = range.map_or((0, 0), |(start, end)| {
            (
                (frame(start) - SAME_TIME).ceil() as i64,
                (frame(end) + SAME_TIME).floor() as i64,
            )
        });
        if let Some((start, end)) = range {
            outside(camera, start, end, remarks);
        }
        between(camera, step, remarks);
        let most = samples().map(|s| s.count).max().unwrap_or(0);
        Clock {
            first,
            last,
            stated: range.is_some(),
            most: MOST_EMPTY.max(most.saturating_mul(FRAMES_PER_SAMPLE)),
            step,
        }
    }

    /// The time code of a frame.
    pub fn time(&self, frame: i64) -> f64 {
        frame as f64 * self.step
    }

    /// The first frame at or behind a time code.
    pub fn frame_from(&self, time: f64) -> i64 {
        (time / self.step - SAME_TIME).ceil() as i64
    }
}

/// Samples that no frame of the range shows.
fn outside(camera: &Camera, start: f64, end: f64, remarks: &mut Remarks) {
    let near = |a: &&Attribute| {
        let samples = a.samples.as_ref().filter(|_| a.name != RECORDED);
        samples.is_some_and(|s| s.first < start - SAME_TIME || s.last > end + SAME_TIME)
    };
    let Some(attribute) = camera.attributes.iter().find(near) else {
        return;
    };
    let Some(samples) = &attribute.samples else {
        return;
    };
    remarks.add(Notice {
        severity: "note",
        check: "samples-outside-range",
        subject: &camera.path,
        message: format!(
            "{} has samples from time code {} to {}, and the stage goes from {start} to {end}: only frames in there are read",
            attribute.at.field, samples.first, samples.last
        ),
        help: "set startTimeCode and endTimeCode of the stage if the others matter",
        at: Some(attribute.at.clone()),
    });
}

/// Attributes whose samples cannot all lie on frames.
fn between(camera: &Camera, step: f64, remarks: &mut Remarks) {
    for attribute in &camera.attributes {
        let Some(samples) = &attribute.samples else {
            continue;
        };
        let off = |key: f64| {
            let frame = key / step;
            (frame - frame.round()).abs() > SAME_TIME
        };
        let key = match samples.fraction {
            Some(key) if step == 1.0 => Some(key),
            _ => [samples.first, samples.last].into_iter().find(|k| off(*k)),
        };
        if let Some(key) = key.filter(|key| off(*key)) {
            remarks.add(Notice {
                severity: "note",
                check: "samples-between-frames",
                subject: &attribute.at.field,
                message: format!(
                    "{} has samples between frames, as at time code {key}: values are read at whole frames",
                    attribute.at.field
                ),
                help: "",
                at: Some(attribute.at.clone()),
            });
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use ringmark_sdk::Place;

    fn placed(value: f64) -> Option<Placed<f64>> {
        let at = Place {
            input: 0,
            offset: 7,
            length: 1,
            field: String::new(),
        };
        Some(Placed { value, at })
    }

    fn rates(codes: Option<f64>, frames: Option<f64>) -> (Option<String>, f64, usize) {
        let stage = Stage {
            time_codes_per_second: codes.and_then(placed),
            frames_per_second: frames.and_then(placed),
            ..Stage::default()
        };
        let mut remarks = Remarks::default();
        let rates = Rates::of(&stage, &mut remarks);
        let text = rates.text(&mut remarks);
        let told = std::iter::from_fn(|| remarks.next()).count();
        (text, rates.step, told)
    }

    #[test]
    fn rates_fall_back_as_the_standard_has_it() {
        assert_eq!(rates(Some(24.0), Some(24.0)), (Some("24".into()), 1.0, 0));
        assert_eq!(rates(None, Some(25.0)), (Some("25".into()), 1.0, 0));
        // usd-core reports 25 and 24: the time codes are what the author wrote.
        assert_eq!(rates(Some(25.0), None), (Some("25".into()), 1.0, 1));
        assert_eq!(rates(None, None), (None, 1.0, 0));
        assert_eq!(rates(Some(48.0), Some(24.0)), (Some("24".into()), 2.0, 0));
        let (text, _, _) = rates(None, Some(29.97002997002997));
        assert_eq!(text.as_deref(), Some("30000/1001"));
        assert_eq!(rates(None, Some(23.976)).0.as_deref(), Some("24000/1001"));
        assert_eq!(rates(Some(0.0), Some(f64::NAN)), (None, 1.0, 2));
    }
}
