//! What the lines above the header say about lens, rings and take.

use ringmark_sdk::quantity::parse::{DecimalMark, length_with, number_with};
use ringmark_sdk::quantity::{DistanceReference, FrameRate, Unit};
use ringmark_sdk::{Datum, Fact, Failure, Place, fact};

use crate::cells::Reading;
use crate::fields::{Quantity, fold};
use crate::keys::{self, EXTRA, Key, LENS_EXTRA, Owner, RingKey, Shape};
use crate::mapping::reference;
use crate::statics::Line;

/// Ring positions at the two ends.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Encoder {
    /// At the low end.
    pub low: Option<f64>,
    /// At the high end.
    pub high: Option<f64>,
    /// Counts or degrees, if stated.
    pub unit: Option<Unit>,
    /// Where it stands.
    pub at: Option<Place>,
}

/// The facts in the lines.
#[derive(Debug, Default, PartialEq)]
pub struct Facts {
    /// Of the lens.
    pub lens: Vec<Fact>,
    /// Of the take.
    pub take: Vec<Fact>,
    /// Encoder ranges of focus, iris and zoom ring.
    pub encoders: [Encoder; 3],
    /// Rotations of the rings, with their place.
    pub rotations: [Option<Fact>; 3],
    /// What distances are measured from.
    pub measured_from: DistanceReference,
}

impl Facts {
    /// Adds what a line says, in a file of that kind.
    pub fn add(
        &mut self,
        line: &Line,
        calibration: bool,
        mark: DecimalMark,
    ) -> Result<(), Failure> {
        if let Some((axis, what)) = keys::ring_key(&line.key) {
            return self.add_ring(line, axis, what, mark);
        }
        if let Some(name) = line.key.strip_prefix(LENS_EXTRA) {
            self.lens.push(extra(line, name, mark)?);
            return Ok(());
        }
        let name = line.key.strip_prefix(EXTRA);
        if name.is_none() {
            if let Some(key) = keys::known(&line.key, calibration) {
                let fact = known(line, key, mark)?;
                match key.owner {
                    Owner::Lens => self.lens.push(fact),
                    Owner::Take => self.take.push(fact),
                }
                return Ok(());
            }
            match fold(&line.key).as_str() {
                "document" | "decimal" | "blank-lines" => return Ok(()),
                "measured-from" | "reference" => {
                    self.measured_from = measured_from(line)?;
                    return Ok(());
                }
                "focal-length" => return self.add_focal_length(line, mark),
                "resolution" if !calibration => return self.add_resolution(line),
                _ => {}
            }
        }
        let extra = extra(line, name.unwrap_or(&line.key), mark)?;
        if calibration {
            self.lens.push(extra);
        } else {
            self.take.push(extra);
        }
        Ok(())
    }

    /// `50 mm` or `24-70 mm`.
    fn add_focal_length(&mut self, line: &Line, mark: DecimalMark) -> Result<(), Failure> {
        let (min, max) = match line.value.split_once(['-', '–']) {
            Some((min, max)) if !min.trim().is_empty() => {
                let max = length(line, max, mark)?;
                let min = match length_of(line, min, mark) {
                    Some(min) => min,
                    // The unit stands once, behind the longer one.
                    None => length(line, &format!("{min} {}", max.1.symbol()), mark)?,
                };
                (min, max)
            }
            _ => {
                let both = length(line, &line.value, mark)?;
                (both, both)
            }
        };
        for (name, (value, unit)) in [("focal-length-min", min), ("focal-length-max", max)] {
            self.lens
                .push(number_fact(name, value, unit.symbol(), line));
        }
        Ok(())
    }

    /// `4096 x 2160`.
    fn add_resolution(&mut self, line: &Line) -> Result<(), Failure> {
        let whole = |text: &str| text.trim().parse::<u32>().ok();
        let pair = line
            .value
            .split_once(['x', 'X', '×'])
            .and_then(|(width, height)| whole(width).zip(whole(height)));
        let Some((width, height)) = pair else {
            return Err(line.refuse("pixels", "write `# resolution: 4096 x 2160`"));
        };
        for (name, value) in [("resolution-width", width), ("resolution-height", height)] {
            self.take
                .push(number_fact(name, f64::from(value), "", line));
        }
        Ok(())
    }

    fn add_ring(
        &mut self,
        line: &Line,
        axis: usize,
        what: RingKey,
        mark: DecimalMark,
    ) -> Result<(), Failure> {
        let name = keys::AXES.get(axis).copied().unwrap_or_default();
        if what == RingKey::Rotation {
            let (value, unit) = number_and_unit(&line.value, line.unit.as_deref(), mark)
                .filter(|(value, unit)| {
                    value.is_finite() && unit.is_some_and(|unit| Quantity::Angle.takes(unit))
                })
                .and_then(|(value, unit)| Some((value, unit?)))
                .ok_or_else(|| {
                    line.refuse(
                        "an angle with its unit",
                        format!("write `# {name} rotation: 300 deg`"),
                    )
                })?;
            if let Some(slot) = self.rotations.get_mut(axis) {
                *slot = Some(number_fact("rotation", value, unit.symbol(), line));
            }
            return Ok(());
        }
        let (first, last) = match what {
            RingKey::Encoder => match line.value.split_once("..") {
                Some((first, last)) => (Some(first), Some(last)),
                None => (None, None),
            },
            RingKey::Low => (Some(line.value.as_str()), None),
            _ => (None, Some(line.value.as_str())),
        };
        let help = || format!("write `# {name} encoder: 0..65535`, or `0..300 deg` for degrees");
        let end = |text: &str| {
            number_and_unit(text, line.unit.as_deref(), mark)
                .filter(|(value, unit)| {
                    value.is_finite() && unit.is_none_or(|unit| Quantity::RawPosition.takes(unit))
                })
                .ok_or_else(|| line.refuse("ring positions at both ends", help()))
        };
        if first.is_none() && last.is_none() {
            return Err(line.refuse("ring positions at both ends", help()));
        }
        let Some(encoder) = self.encoders.get_mut(axis) else {
            return Ok(());
        };
        for (text, slot) in [(first, &mut encoder.low), (last, &mut encoder.high)] {
            if let Some(text) = text {
                let (value, unit) = end(text)?;
                *slot = Some(value);
                encoder.unit = unit.or(encoder.unit);
            }
        }
        encoder.at.clone_from(&line.at);
        Ok(())
    }
}

fn known(line: &Line, key: &Key, mark: DecimalMark) -> Result<Fact, Failure> {
    let folded = fold(&line.value);
    let example = |value: &str| format!("write `# {}: {value}`", key.title);
    match key.shape {
        Shape::Text => Ok(fact(key.fact, line.value.clone(), line.at.clone())),
        Shape::Kind => match folded.as_str() {
            "prime" | "zoom" => Ok(fact(key.fact, folded, line.at.clone())),
            _ => Err(line.refuse("prime or zoom", example("prime"))),
        },
        Shape::Counting => {
            let counting = match folded.as_str() {
                "drop-frame" | "drop" | "df" => "drop-frame",
                "non-drop" | "non-drop-frame" | "ndf" => "non-drop",
                _ => return Err(line.refuse("drop-frame or non-drop", example("non-drop"))),
            };
            Ok(fact(key.fact, counting, line.at.clone()))
        }
        Shape::Rate => match FrameRate::parse(&line.value) {
            Ok(_) => Ok(fact(key.fact, line.value.clone(), line.at.clone())),
            Err(error) => Err(line.refuse(error.expected(), error.help().to_owned())),
        },
        Shape::Reference => {
            let reference = measured_from(line)?;
            Ok(fact(key.fact, reference.name(), line.at.clone()))
        }
        Shape::Length => {
            let (value, unit) = length(line, &line.value, mark)?;
            Ok(number_fact(key.fact, value, unit.symbol(), line))
        }
        Shape::TStop => stop(line, key, Quantity::TStop, Unit::TStop, mark),
        Shape::FNumber => stop(line, key, Quantity::FNumber, Unit::FNumber, mark),
        Shape::Pure => {
            let text = line.value.trim_end_matches(['x', 'X', '×']);
            match number_and_unit(text, None, mark) {
                Some((value, None)) => Ok(number_fact(key.fact, value, "", line)),
                _ => Err(line.refuse("a number", example("2"))),
            }
        }
    }
}

fn stop(
    line: &Line,
    key: &Key,
    quantity: Quantity,
    unit: Unit,
    mark: DecimalMark,
) -> Result<Fact, Failure> {
    let reading = Reading {
        quantity,
        unit,
        mark,
    };
    match reading.read(&line.value) {
        Ok(value) => Ok(number_fact(key.fact, value, unit.symbol(), line)),
        Err(error) => Err(line.refuse(&error.expected, error.help)),
    }
}

fn number_fact(name: &str, value: f64, unit: &str, line: &Line) -> Fact {
    Fact {
        name: name.to_owned(),
        value: Datum::Number(value),
        unit: unit.to_owned(),
        at: line.at.clone(),
    }
}

/// Anything else, under its own name: a number where the key has a unit, else text.
fn extra(line: &Line, name: &str, mark: DecimalMark) -> Result<Fact, Failure> {
    let name = format!("{EXTRA}{name}");
    let Some(unit) = &line.unit else {
        return Ok(fact(name, line.value.clone(), line.at.clone()));
    };
    if matches!(unit.as_str(), "json" | "hex") {
        let mut text = fact(name, line.value.clone(), line.at.clone());
        text.unit.clone_from(unit);
        return Ok(text);
    }
    match number_with(&line.value, mark) {
        Ok(value) => Ok(number_fact(&name, value, unit, line)),
        Err(error) => Err(line.refuse(
            "a number, since the key has a unit",
            format!(
                "{}; or write the key without brackets for a text",
                error.help()
            ),
        )),
    }
}

fn measured_from(line: &Line) -> Result<DistanceReference, Failure> {
    reference(&line.value).map_err(|failure| Failure {
        at: line.at.clone(),
        ..failure
    })
}

/// A length with its unit.
fn length(line: &Line, text: &str, mark: DecimalMark) -> Result<(f64, Unit), Failure> {
    length_of(line, text, mark).ok_or_else(|| {
        line.refuse(
            "a length with its unit",
            format!("write the unit behind it, as in `# {}: 0.5 m`", line.key),
        )
    })
}

fn length_of(line: &Line, text: &str, mark: DecimalMark) -> Option<(f64, Unit)> {
    match number_and_unit(text, line.unit.as_deref(), mark) {
        Some((value, Some(unit))) if Quantity::Distance.takes(unit) => return Some((value, unit)),
        Some((_, None)) => return None,
        _ => {}
    }
    // Feet and inches as engraved.
    length_with(text, Unit::FeetInches, mark).ok()
}

/// `0.5 m`, `300deg`, `65535`: a number and the unit behind it, or the one the key has.
fn number_and_unit(
    text: &str,
    unit: Option<&str>,
    mark: DecimalMark,
) -> Option<(f64, Option<Unit>)> {
    let number = |text: &str| number_with(text, mark).ok();
    let text = text.trim();
    if let Some(value) = number(text) {
        return match unit {
            None => Some((value, None)),
            Some(unit) => Some((value, Some(Unit::from_symbol(unit)?))),
        };
    }
    let ends = text.char_indices().map(|(at, _)| at).skip(1);
    ends.filter_map(|at| {
        let (value, rest) = text.split_at_checked(at)?;
        let unit = Unit::from_symbol(rest).filter(|unit| *unit != Unit::FeetInches)?;
        Some((number(value)?, Some(unit)))
    })
    .next()
}
