//! Questions to the scales of a lens: where a value stands on its ring, what a ring position reads.

use anyhow::{Result, anyhow, bail};
use ringmark_model::{Axis, Lens, Ring, ScaleQuantity};
use ringmark_outputs::{ScaleAnswer, ScalePoint};
use ringmark_quantity::{Conversion, StopKind, Unit, parse, print};

use super::{Scale, Sharpness};

/// A question as it was put, and what it means.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    asked: String,
    what: What,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum What {
    /// A length: a focus distance, or maybe a focal length where it was given in millimetres.
    Length { metres: f64, mm: Option<f64> },
    /// A T-stop or f-number.
    Stop { value: f64, kind: StopKind },
    /// A ring position, from 0 to 1 without a unit.
    Position { position: f64, unit: Option<Unit> },
}

impl Question {
    /// A value with its unit: `1.2 m`, `5'6"`, `inf`, `T2.8`, `f/4`, `50 mm`.
    pub fn value(asked: &str) -> Result<Question> {
        let text = asked.trim();
        let what = match parse::stop(text) {
            Ok(stop) if stop.kind.is_some() => What::Stop {
                value: stop.value,
                kind: stop.kind.unwrap_or(StopKind::T),
            },
            _ => length(text)?,
        };
        Ok(Question {
            asked: text.to_owned(),
            what,
        })
    }

    /// A ring position: `0.43`, `43 %`, `140°`, `31000 count`.
    pub fn position(asked: &str) -> Result<Question> {
        let (position, unit) =
            parse::position(asked).map_err(|error| anyhow!("--at-ring {asked}: {error}"))?;
        Ok(Question {
            asked: asked.trim().to_owned(),
            what: What::Position { position, unit },
        })
    }
}

/// A length that says its unit. Feet and inches, the signs of which need a default, come first.
fn length(text: &str) -> Result<What> {
    let bare = parse::number(text).is_ok_and(f64::is_finite);
    if bare {
        bail!("--at {text}: {text} of what? Write the unit, as 1.2m, 5'6\", T2.8, f/4 or 50mm");
    }
    let (value, unit) = parse::length(text, Unit::FeetInches)
        .map_err(|error| anyhow!("--at {text}: {error}; a stop is written T2.8 or f/4"))?;
    let metres = Conversion::between(unit, Unit::Metre)?.apply(value);
    let mm = (unit == Unit::Millimetre).then_some(value);
    Ok(What::Length { metres, mm })
}

/// What the scales of a lens say to questions, question by question.
pub fn answers(lens: &Lens, questions: &[Question], sharpness: Sharpness) -> Vec<ScaleAnswer> {
    let scales: Vec<Result<Scale, String>> = lens
        .rings
        .iter()
        .map(|ring| Scale::of(lens, ring, sharpness))
        .collect();
    let mut answers = Vec::new();
    for question in questions {
        let before = answers.len();
        for (index, (ring, scale)) in lens.rings.iter().zip(&scales).enumerate() {
            if !question.is_for(lens, ring) {
                continue;
            }
            let answer = match scale {
                Ok(scale) => question.put(scale),
                Err(why) => Err(format!("{} ring: {why}", ring.axis.name())),
            };
            let asked = question.asked.clone();
            answers.push(ScaleAnswer {
                asked,
                answer: answer.map(|point| (index, point)),
            });
        }
        if answers.len() == before {
            let asked = question.asked.clone();
            let answer = Err(question.nobody().to_owned());
            answers.push(ScaleAnswer { asked, answer });
        }
    }
    answers
}

impl Question {
    /// Why no ring can answer.
    fn nobody(&self) -> &'static str {
        match self.what {
            What::Length { .. } => "the lens has no focus ring with marks in distances",
            What::Stop {
                kind: StopKind::T, ..
            } => "the lens has no iris ring with marks in T-stops",
            What::Stop {
                kind: StopKind::F, ..
            } => "the lens has no iris ring with marks in f-numbers",
            What::Position {
                unit: Some(Unit::Degree),
                ..
            } => "no ring of the lens says how far it turns",
            What::Position {
                unit: Some(Unit::Count),
                ..
            } => "no ring of the lens has an encoder range",
            What::Position { .. } => "the lens has no rings with marks",
        }
    }

    /// Whether a ring can answer.
    fn is_for(&self, lens: &Lens, ring: &Ring) -> bool {
        match self.what {
            // Millimetres are a focal length where the lens has a ring for them.
            What::Length { mm, .. } => {
                let zoom = mm.is_some() && lens.ring(Axis::Zoom).is_some();
                match ring.quantity {
                    ScaleQuantity::FocusDistance => !zoom,
                    ScaleQuantity::FocalLength => zoom,
                    ScaleQuantity::TStop | ScaleQuantity::FNumber => false,
                }
            }
            What::Stop { kind, .. } => match ring.quantity {
                ScaleQuantity::TStop => kind == StopKind::T,
                ScaleQuantity::FNumber => kind == StopKind::F,
                ScaleQuantity::FocusDistance | ScaleQuantity::FocalLength => false,
            },
            What::Position { unit, .. } => match unit {
                Some(Unit::Degree) => ring.rotation.is_some(),
                Some(Unit::Count) => ring.encoder.is_some(),
                _ => true,
            },
        }
    }

    fn put(&self, scale: &Scale) -> Result<ScalePoint, String> {
        match self.what {
            What::Length { metres, mm } => match (scale.ring.quantity, mm) {
                (ScaleQuantity::FocalLength, Some(mm)) => scale.value(mm),
                _ => scale.value(metres),
            },
            What::Stop { value, .. } => scale.value(value),
            What::Position { position, unit } => {
                let ring = scale.ring;
                let position = match unit {
                    Some(Unit::Percent) => position / 100.0,
                    Some(Unit::Degree) => {
                        position / ring.rotation.map_or(f64::NAN, |turn| turn.degrees())
                    }
                    Some(Unit::Count) => ring
                        .encoder
                        .and_then(|encoder| encoder.scale())
                        .map_or(f64::NAN, |counts| counts.to_ratio(position)),
                    _ => position,
                };
                scale.position(position)
            }
        }
    }
}

impl Scale<'_> {
    fn value(&self, value: f64) -> Result<ScalePoint, String> {
        self.place_of(value).ok_or_else(|| self.off_the_scale(""))
    }

    fn position(&self, position: f64) -> Result<ScalePoint, String> {
        let point = self.point(position);
        if point.value.is_nan() {
            let unit = if position > 2.0 {
                "; write counts as '31000 count'"
            } else {
                ""
            };
            return Err(self.off_the_scale(unit));
        }
        Ok(point)
    }

    fn off_the_scale(&self, help: &str) -> String {
        let shown = |value: Option<&f64>| match (value, self.ring.quantity) {
            (Some(&metres), ScaleQuantity::FocusDistance) => print::metric(metres),
            (Some(&value), quantity) => print::value(value, quantity.unit()),
            (None, _) => String::new(),
        };
        let (values, positions) = (self.curve.values(), self.curve.positions());
        let place = |p: Option<&f64>| p.map_or(String::new(), |&p| print::position(p));
        format!(
            "{} ring: off the scale, which its marks take from {} at {} to {} at {}{help}",
            self.ring.axis.name(),
            shown(values.first()),
            place(positions.first()),
            shown(values.last()),
            place(positions.last()),
        )
    }
}
