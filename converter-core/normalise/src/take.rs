//! Heads of takes of a plugin to those of the model.

use ringmark_model::facts::Owner;
use ringmark_model::raw::RawTake;
use ringmark_model::take::counting_from_name;
use ringmark_model::{Axis, Subject, Take};
use ringmark_quantity::{RingScale, Unit};

use crate::error::NormaliseError;
use crate::from_facts::{Known, Remarks, Sorted, Value, half, sort};
use crate::range::Range;

/// Raw encoder ranges of the rings of a take, in the order of [`Axis::ALL`].
pub(crate) type Ranges = [Range; Axis::ALL.len()];

/// The head of a take in canonical units. `lenses` is how many lenses came before.
pub(crate) fn take(
    raw: RawTake,
    index: usize,
    lenses: usize,
    remarks: &mut Remarks,
) -> Result<(Take, Ranges), NormaliseError> {
    let on = Subject::Take(index);
    if let Some(lens) = raw.lens.filter(|lens| *lens as usize >= lenses) {
        return Err(NormaliseError::new(
            format!("the plugin delivered a take of lens {lens}, but {lenses} lenses before it"),
            "lenses are counted from 0; report this to the author of the plugin",
        ));
    }
    let mut take = Take {
        lens: raw.lens.map(|lens| lens as usize),
        ..Take::default()
    };
    let (mut width, mut height) = (None, None);
    let (mut columns, mut rows) = (None, None);
    let mut ranges = Ranges::default();
    for fact in raw.facts {
        let Known { name, value, place } = match sort(fact, Owner::Take, &on, remarks)? {
            Sorted::Known(known) => known,
            Sorted::Extra(extra) => {
                take.extras.push(extra);
                continue;
            }
            Sorted::Nothing => continue,
        };
        let at = place.as_ref();
        match (name, value) {
            ("clip", Value::Text(text)) => take.clip = Some(text),
            ("reel", Value::Text(text)) => take.reel = Some(text),
            ("camera-maker", Value::Text(text)) => take.camera.maker = Some(text),
            ("camera-model", Value::Text(text)) => take.camera.model = Some(text),
            ("camera-serial", Value::Text(text)) => take.camera.serial = Some(text),
            ("camera-firmware", Value::Text(text)) => take.camera.firmware = Some(text),
            ("camera-label", Value::Text(text)) => take.camera.label = Some(text),
            ("start-timecode", Value::Text(text)) => take.start_timecode = Some(text),
            ("distortion-model", Value::Text(text)) => take.distortion_model = Some(text),
            ("counting", Value::Text(text)) => match counting_from_name(&text) {
                Some(mode) => take.counting = Some(mode),
                None => remarks.word(name, &text, "drop-frame or non-drop", at, &on),
            },
            ("frame-rate", Value::Rate(rate)) => take.frame_rate = Some(rate),
            ("capture-rate", Value::Rate(rate)) => take.capture_rate = Some(rate),
            ("sensor-width", Value::Number(mm)) => {
                width = remarks.above_zero(name, (mm, Unit::Millimetre), at, &on);
            }
            ("sensor-height", Value::Number(mm)) => {
                height = remarks.above_zero(name, (mm, Unit::Millimetre), at, &on);
            }
            ("resolution-width", Value::Number(pixels)) => {
                columns = remarks.pixels(name, pixels, at, &on);
            }
            ("resolution-height", Value::Number(pixels)) => {
                rows = remarks.pixels(name, pixels, at, &on);
            }
            (name, Value::Raw(raw, unit)) => {
                for (axis, range) in Axis::ALL.iter().zip(&mut ranges) {
                    let end = name.strip_prefix(axis.name());
                    if let Some(end) = end.and_then(|end| end.strip_prefix('-')) {
                        range.set(end, raw, unit);
                    }
                }
            }
            _ => {}
        }
        if let Some(place) = place {
            take.places.push((name.to_owned(), place));
        }
    }
    take.sensor_mm = width.zip(height);
    take.resolution = columns.zip(rows);
    take.extras.extend(half(
        ("sensor-width", width),
        ("sensor-height", height),
        Unit::Millimetre.symbol(),
    ));
    take.extras.extend(half(
        ("resolution-width", columns.map(f64::from)),
        ("resolution-height", rows.map(f64::from)),
        "",
    ));
    for (axis, range) in Axis::ALL.into_iter().zip(&ranges) {
        if let Some(ends) = range.both() {
            let name = format!("{}-encoder", axis.name());
            let at = take.place_of(&format!("{name}-low"));
            // Kept as it stands; positions 0..1 do not follow from a range of no width.
            let _ = remarks.check(
                &name,
                RingScale::counts(ends.low, ends.high),
                at.as_ref(),
                &on,
            );
            take.encoders.push((axis, ends));
        }
        take.extras.extend(range.half(axis.name()));
    }
    Ok((take, ranges))
}
