//! Lenses and heads of takes of a plugin to those of the model.

use ringmark_model::facts::Owner;
use ringmark_model::raw::{RawFact, RawLens, RawRing, RawTable, RawTake};
use ringmark_model::{
    Axis, ColumnHead, ColumnKey, EncoderRange, Lens, LensKind, LensTable, Mark, NumberColumn,
    Origin, Place, Ring, ScaleQuantity, Subject, Take,
};
use ringmark_quantity::{
    Angle, CountingMode, DistanceReference, FNumber, Length, NominalFocalLength, RingScale, TStop,
    Unit,
};

use crate::error::NormaliseError;
use crate::frames::column_key;
use crate::from_facts::{Known, Remarks, Sorted, Value, sort};
use crate::units;

/// A lens in canonical units.
pub(crate) fn lens(
    raw: RawLens,
    index: usize,
    remarks: &mut Remarks,
) -> Result<Lens, NormaliseError> {
    let on = Subject::Lens(index);
    let mut lens = Lens::default();
    let (mut shortest, mut longest) = (None, None);
    for fact in raw.facts {
        let Known { name, value, place } = match sort(fact, Owner::Lens, &on, remarks)? {
            Sorted::Known(known) => known,
            Sorted::Extra(extra) => {
                lens.extras.push(extra);
                continue;
            }
            Sorted::Nothing => continue,
        };
        let at = place.as_ref();
        match (name, value) {
            ("lens-maker", Value::Text(text)) => lens.maker = Some(text),
            ("lens-model", Value::Text(text)) => lens.model = Some(text),
            ("lens-serial", Value::Text(text)) => lens.serial = Some(text),
            ("lens-firmware", Value::Text(text)) => lens.firmware = Some(text),
            ("lens-kind", Value::Text(text)) => match LensKind::from_name(&text) {
                Some(kind) => lens.kind = Some(kind),
                None => remarks.word(name, &text, "prime or zoom", place.clone(), on.clone()),
            },
            ("close-focus-reference", Value::Text(text)) => {
                lens.close_focus_reference = Some(reference(&text).map_err(|e| e.at(place.clone()))?);
            }
            ("focal-length-min", Value::Number(mm)) => {
                shortest = remarks.check(name, NominalFocalLength::from_mm(mm), at, &on);
            }
            ("focal-length-max", Value::Number(mm)) => {
                longest = remarks.check(name, NominalFocalLength::from_mm(mm), at, &on);
            }
            ("close-focus", Value::Number(m)) => lens.close_focus = Some(Length::from_metres(m)),
            ("image-circle", Value::Number(mm)) => lens.image_circle = Some(Length::from_mm(mm)),
            ("squeeze", Value::Number(ratio)) => lens.squeeze = Some(ratio),
            ("widest-t-stop", Value::Number(t)) => {
                lens.widest_t = remarks.check(name, TStop::new(t), at, &on);
            }
            ("smallest-t-stop", Value::Number(t)) => {
                lens.smallest_t = remarks.check(name, TStop::new(t), at, &on);
            }
            ("widest-f-number", Value::Number(f)) => {
                lens.widest_f = remarks.check(name, FNumber::new(f), at, &on);
            }
            ("smallest-f-number", Value::Number(f)) => {
                lens.smallest_f = remarks.check(name, FNumber::new(f), at, &on);
            }
            _ => {}
        }
        if let Some(place) = place {
            lens.places.push((name.to_owned(), place));
        }
    }
    lens.focal_length = match (shortest, longest) {
        (Some(a), Some(b)) => Some((a, b)),
        (Some(a), None) | (None, Some(a)) => Some((a, a)),
        (None, None) => None,
    };
    for ring in raw.rings {
        let ring = self::ring(ring, &on, remarks)?;
        lens.rings.push(ring);
    }
    for table in raw.tables {
        lens.tables.push(self::table(table)?);
    }
    Ok(lens)
}

fn reference(name: &str) -> Result<DistanceReference, NormaliseError> {
    DistanceReference::from_name(name).ok_or_else(|| {
        NormaliseError::new(
            format!("distances are measured from '{name}', which ringmark does not know"),
            "image-plane, entrance-pupil, front-vertex or unstated",
        )
    })
}

fn ring(raw: RawRing, on: &Subject, remarks: &mut Remarks) -> Result<Ring, NormaliseError> {
    let axis = Axis::from_name(&raw.axis).ok_or_else(|| {
        NormaliseError::new(
            format!("the plugin delivered a ring called '{}'", raw.axis),
            "focus, iris or zoom",
        )
    })?;
    let what = format!("the {} scale", axis.name());
    let default = match axis {
        Axis::Focus => Unit::Metre,
        Axis::Iris => Unit::TStop,
        Axis::Zoom => Unit::Millimetre,
    };
    let source_unit = units::unit(&raw.value_unit, default, &what)?;
    let quantity = match (axis, source_unit) {
        (Axis::Focus, _) => ScaleQuantity::FocusDistance,
        (Axis::Iris, Unit::FNumber) => ScaleQuantity::FNumber,
        (Axis::Iris, _) => ScaleQuantity::TStop,
        (Axis::Zoom, _) => ScaleQuantity::FocalLength,
    };
    let to_value = units::conversion(source_unit, quantity.unit(), &what)?;
    let mut ring = Ring {
        axis,
        quantity,
        reference: (axis == Axis::Focus).then_some(DistanceReference::Unstated),
        source_unit,
        encoder: None,
        rotation: None,
        marks: Vec::with_capacity(raw.marks.len()),
    };
    let (mut low, mut high) = (None, None);
    for fact in raw.facts {
        let Sorted::Known(Known { name, value, place }) = sort(fact, Owner::Ring, on, remarks)?
        else {
            continue;
        };
        match (name, value) {
            ("reference", Value::Text(text)) => {
                ring.reference = Some(reference(&text).map_err(|e| e.at(place))?);
            }
            ("encoder-low", Value::Number(raw)) => low = Some(raw),
            ("encoder-high", Value::Number(raw)) => high = Some(raw),
            ("rotation", Value::Number(degrees)) => {
                ring.rotation = Some(Angle::from_degrees(degrees));
            }
            _ => {}
        }
    }
    let unit = units::unit(&raw.position_unit, Unit::Ratio, &format!("{what}'s position"))?;
    let scale = match unit {
        Unit::Ratio => None,
        Unit::Percent => Some(RingScale::percent()),
        Unit::Count | Unit::Degree => {
            if unit == Unit::Degree && high.is_none() {
                high = ring.rotation.map(Angle::degrees);
                low = low.or(Some(0.0));
            }
            let (Some(low), Some(high)) = (low, high) else {
                return Err(NormaliseError::new(
                    format!("{what} has positions in {}, but no range", unit.name()),
                    "give the raw positions of both end stops, as '# focus encoder: 0..65535'",
                ));
            };
            ring.encoder = Some(EncoderRange { low, high });
            let scale = match unit {
                Unit::Degree => RingScale::degrees(low, high),
                _ => RingScale::counts(low, high),
            };
            Some(scale.map_err(|error| {
                NormaliseError::new(format!("{what}: {error}"), error.help().to_owned())
            })?)
        }
        other => {
            return Err(NormaliseError::new(
                format!("{what} has positions in {}", other.name()),
                "0..1, %, count or deg",
            ));
        }
    };
    for mark in raw.marks {
        ring.marks.push(Mark {
            position: scale.map_or(mark.position, |s| s.to_ratio(mark.position)),
            raw: scale.map(|_| mark.position),
            value: to_value.apply(mark.value),
            engraved: (!mark.engraved.is_empty()).then_some(mark.engraved),
            place: mark.at.map(Place::from),
        });
    }
    Ok(ring)
}

fn table(raw: RawTable) -> Result<LensTable, NormaliseError> {
    let mut columns = Vec::with_capacity(raw.columns.len());
    for mut column in raw.columns {
        let key = column_key(&column.channel)?;
        let mut unit_symbol = column.unit.clone();
        let mut source_unit = None;
        if let ColumnKey::Channel(channel) = &key
            && let Some(canonical) = channel.unit()
        {
            let unit = units::unit(&column.unit, canonical, channel.name())?;
            let conversion = units::conversion(unit, canonical, channel.name())?;
            conversion.apply_all(&mut column.values);
            canonical.symbol().clone_into(&mut unit_symbol);
            if unit != canonical {
                source_unit = Some(column.unit.clone());
            }
        }
        let distance = key.channel().is_some_and(|c| c.is_distance());
        columns.push(NumberColumn {
            head: std::sync::Arc::new(ColumnHead {
                key,
                unit: unit_symbol,
                reference: if distance {
                    Some(reference(&column.reference)?)
                } else {
                    None
                },
                origin: if source_unit.is_some() {
                    Origin::Converted
                } else {
                    Origin::Recorded
                },
                source_unit,
                form: None,
            }),
            values: column.values,
        });
    }
    Ok(LensTable {
        name: raw.name,
        columns,
    })
}

/// Low and high of an encoder range while facts come in one by one.
#[derive(Default)]
struct Range(Option<f64>, Option<f64>);

/// The head of a take in canonical units. `lenses` is how many lenses came before.
pub(crate) fn take(
    raw: RawTake,
    index: usize,
    lenses: usize,
    remarks: &mut Remarks,
) -> Result<Take, NormaliseError> {
    let on = Subject::Take(index);
    let mut take = Take {
        lens: raw.lens.map(|l| l as usize).filter(|l| *l < lenses),
        ..Take::default()
    };
    let (mut width, mut height) = (None, None);
    let (mut columns, mut rows) = (None, None);
    let mut ranges: [Range; 3] = Default::default();
    for fact in raw.facts {
        let Known { name, value, place } = match sort_take(fact, &on, remarks)? {
            Sorted::Known(known) => known,
            Sorted::Extra(extra) => {
                take.extras.push(extra);
                continue;
            }
            Sorted::Nothing => continue,
        };
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
            ("counting", Value::Text(text)) => match text.as_str() {
                "drop-frame" => take.counting = Some(CountingMode::DropFrame),
                "non-drop" => take.counting = Some(CountingMode::NonDrop),
                _ => remarks.word(name, &text, "drop-frame or non-drop", place.clone(), on.clone()),
            },
            ("frame-rate", Value::Rate(rate)) => take.frame_rate = Some(rate),
            ("capture-rate", Value::Rate(rate)) => take.capture_rate = Some(rate),
            ("sensor-width", Value::Number(mm)) => width = Some(mm),
            ("sensor-height", Value::Number(mm)) => height = Some(mm),
            ("resolution-width", Value::Number(pixels)) => columns = whole(pixels),
            ("resolution-height", Value::Number(pixels)) => rows = whole(pixels),
            (name, Value::Number(raw)) => {
                for (axis, range) in Axis::ALL.iter().zip(&mut ranges) {
                    match name.strip_prefix(axis.name()) {
                        Some("-encoder-low") => range.0 = Some(raw),
                        Some("-encoder-high") => range.1 = Some(raw),
                        _ => {}
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
    for (axis, range) in Axis::ALL.into_iter().zip(ranges) {
        if let Range(Some(low), Some(high)) = range {
            take.encoders.push((axis, EncoderRange { low, high }));
        }
    }
    Ok(take)
}

fn sort_take(
    fact: RawFact,
    on: &Subject,
    remarks: &mut Remarks,
) -> Result<Sorted, NormaliseError> {
    sort(fact, Owner::Take, on, remarks)
}

fn whole(pixels: f64) -> Option<u32> {
    (pixels >= 1.0 && pixels <= f64::from(u32::MAX) && pixels.fract() == 0.0)
        .then_some(pixels as u32)
}
