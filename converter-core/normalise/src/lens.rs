//! Lenses of a plugin to those of the model.

use std::collections::HashSet;
use std::sync::Arc;

use ringmark_model::facts::Owner;
use ringmark_model::raw::{RawLens, RawTable};
use ringmark_model::{Extra, Lens, LensKind, LensTable, NumberColumn, Subject};
use ringmark_quantity::{FNumber, Length, NominalFocalLength, TStop, Unit};

use crate::error::NormaliseError;
use crate::frames::{number_head, once};
use crate::from_facts::{Known, Remarks, Sorted, Value, extra, extra_of, half, no_place, sort};
use crate::reference::reference;
use crate::ring::ring;

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
                None => remarks.word(name, &text, "prime or zoom", at, &on),
            },
            ("close-focus-reference", Value::Text(text)) => {
                let from = reference(&text, "close focus").map_err(|e| e.at(place.clone()))?;
                lens.close_focus_reference = Some(from);
            }
            ("focal-length-min", Value::Number(mm)) => {
                shortest = remarks.check(name, NominalFocalLength::from_mm(mm), at, &on);
            }
            ("focal-length-max", Value::Number(mm)) => {
                longest = remarks.check(name, NominalFocalLength::from_mm(mm), at, &on);
            }
            ("close-focus", Value::Number(m)) => {
                let metres = remarks.above_zero(name, (m, Unit::Metre), at, &on);
                lens.close_focus = metres.map(Length::from_metres);
            }
            ("image-circle", Value::Number(mm)) => {
                let mm = remarks.above_zero(name, (mm, Unit::Millimetre), at, &on);
                lens.image_circle = mm.map(Length::from_mm);
            }
            ("squeeze", Value::Number(ratio)) => {
                lens.squeeze = remarks.above_zero(name, (ratio, Unit::One), at, &on);
            }
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
        // One focal length is a prime's; of a zoom it says nothing about the other end.
        (Some(a), None) | (None, Some(a)) if lens.kind != Some(LensKind::Zoom) => Some((a, a)),
        _ => None,
    };
    if lens.focal_length.is_none() {
        let mm = |focal: Option<NominalFocalLength>| focal.map(NominalFocalLength::mm);
        lens.extras.extend(half(
            ("focal-length-min", mm(shortest)),
            ("focal-length-max", mm(longest)),
            Unit::Millimetre.symbol(),
        ));
    }
    for each in raw.rings {
        let ring = ring(each, &on, &mut lens.extras, remarks)?;
        lens.rings.push(ring);
    }
    for each in raw.tables {
        let table = table(each, &mut lens.extras)?;
        lens.tables.push(table);
    }
    Ok(lens)
}

/// A table in canonical units. What is said about it goes to the extras of the lens.
fn table(raw: RawTable, extras: &mut Vec<Extra>) -> Result<LensTable, NormaliseError> {
    for fact in &raw.facts {
        let extra = extra(fact)?.ok_or_else(|| no_place(fact))?;
        extras.push(extra_of(&raw.name, extra));
    }
    let mut seen = HashSet::new();
    let mut columns = Vec::with_capacity(raw.columns.len());
    for mut column in raw.columns {
        let (head, conversion) = number_head(&column)?;
        once(&mut seen, &head, "table")?;
        if let Some(conversion) = conversion {
            conversion.apply_all(&mut column.values);
        }
        columns.push(NumberColumn {
            head: Arc::new(head),
            values: column.values,
        });
    }
    Ok(LensTable {
        name: raw.name,
        columns,
    })
}
