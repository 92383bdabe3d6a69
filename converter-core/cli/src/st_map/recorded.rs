//! What a take records about distortion, frame by frame.

use anyhow::{Result, bail};
use ringmark_model::{Batch, Channel, ColumnKey, Piece, Take};
use ringmark_optics::Coefficients;

use crate::document::Document;
use crate::pipeline::{Ended, run};

/// Extras that shift the picture in some way nobody here knows to apply.
const SHIFTS: [&str; 2] = ["distortionOffset", "projectionOffset"];

/// One take as far as distortion goes.
#[derive(Debug, Default)]
pub struct Recorded {
    /// Its head.
    pub take: Take,
    /// The frames that were asked for.
    pub frames: Vec<RecordedFrame>,
    /// Whether a shift of the picture is recorded, by name.
    pub shift: Option<String>,
    /// File name and SHA-256 of the source.
    pub source: Option<(String, Option<String>)>,
}

/// A frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RecordedFrame {
    /// Its number.
    pub number: u64,
    /// Its coefficients; `None` where the first one is not recorded.
    pub coefficients: Option<Coefficients>,
    /// Pinhole focal length in mm.
    pub pinhole_mm: Option<f64>,
}

impl RecordedFrame {
    /// Whether a map of the other would be the same.
    fn is_like(&self, other: &RecordedFrame) -> bool {
        self.coefficients == other.coefficients && self.pinhole_mm == other.pinhole_mm
    }
}

impl Recorded {
    /// Reads the one take of a document. `wanted` says which frames; without it the first one, and whether all are like it.
    pub fn read(document: &Document, wanted: Option<(u64, u64)>) -> Result<Recorded> {
        let mut recorded = Recorded::default();
        let mut takes = 0;
        let mut varies = None;
        let ended = run(document, None, None, |piece| {
            match piece {
                Piece::Take(take) => {
                    takes += 1;
                    recorded.take = take;
                }
                Piece::Frames(batch) => {
                    recorded.shift = recorded.shift.take().or_else(|| shift(&batch));
                    for frame in frames(&batch) {
                        let held = match wanted {
                            Some((first, last)) => (first..=last).contains(&frame.number),
                            None => recorded.frames.is_empty(),
                        };
                        if held {
                            recorded.frames.push(frame);
                        } else if wanted.is_none()
                            && let Some(first) = recorded.frames.first()
                            && !first.is_like(&frame)
                        {
                            varies.get_or_insert((first.number, frame.number));
                        }
                    }
                }
                Piece::End(provenance) => {
                    let source = provenance.into_iter().next();
                    recorded.source = source.map(|source| (source.file, source.sha256));
                }
                Piece::Lens(_) | Piece::Remark(_) => {}
            }
            Ok(())
        })?;
        let name = &document.group.name;
        if let Ended::ReadFailed(failure) = ended {
            bail!("{name}: {}", failure.message);
        }
        if takes != 1 {
            bail!("{name}: holds {takes} takes, not one: an ST map belongs to frames of one take");
        }
        if let Some((first, other)) = varies {
            bail!(
                "{name}: distortion or focal length of frame {other} differ from frame {first}; say --frame N, or --frames \
                 FIRST-LAST for one map a frame"
            );
        }
        recorded.frames.sort_by_key(|frame| frame.number);
        if let Some((first, last)) = wanted {
            let mut next = Some(first);
            for frame in &recorded.frames {
                match next {
                    Some(expected) if frame.number > expected => break,
                    Some(expected) if frame.number == expected => next = expected.checked_add(1),
                    _ => bail!("{name}: frame {} is recorded twice", frame.number),
                }
            }
            if let Some(missing) = next.filter(|next| *next <= last) {
                bail!("{name}: frame {missing} is not recorded");
            }
        }
        Ok(recorded)
    }
}

fn shift(batch: &Batch) -> Option<String> {
    batch
        .numbers
        .iter()
        .find_map(|column| match &column.head.key {
            ColumnKey::Extra(name) if SHIFTS.iter().any(|shift| name.contains(shift)) => {
                let known = column
                    .values
                    .iter()
                    .any(|value| value.is_finite() && *value != 0.0);
                known.then(|| name.to_string())
            }
            _ => None,
        })
}

fn frames(batch: &Batch) -> impl Iterator<Item = RecordedFrame> {
    let number = |channel: Channel, frame: usize| -> Option<f64> {
        let value = *batch.numbers(channel)?.get(frame)?;
        (!value.is_nan()).then_some(value)
    };
    (0..batch.count).map(move |frame| {
        let or_none = |channel| number(channel, frame).unwrap_or(0.0);
        RecordedFrame {
            number: match number(Channel::Frame, frame) {
                Some(number) => number as u64,
                None => batch.first + frame as u64,
            },
            coefficients: number(Channel::DistortionK1, frame).map(|k1| Coefficients {
                k1,
                k2: or_none(Channel::DistortionK2),
                k3: or_none(Channel::DistortionK3),
                p1: or_none(Channel::DistortionP1),
                p2: or_none(Channel::DistortionP2),
            }),
            pinhole_mm: number(Channel::PinholeFocalLength, frame),
        }
    })
}
