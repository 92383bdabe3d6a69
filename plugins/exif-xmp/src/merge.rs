//! Exif and XMP of one file: Exif wins, a difference beyond rounding is a remark.

use crate::fields::{Field, Kind, Meaning, Role};
use crate::record::{Found, INFINITY, INFINITY_CLAMPED, Number, Raw, Record};
use crate::remarks::{self, Remarks};

/// Differences up to this part of the value are rounding: some programs pass rationals through
/// text, and 1.852 becomes 12601/6804.
const ROUNDING: f64 = 1e-5;
/// Length of a date with its time; what follows is not in all programs' copies.
const DATE: usize = "2026-11-25T10:00:00".len();

/// The items of both, Exif's where both have one.
pub fn merge(mut exif: Record, xmp: Record, remarks: &mut Remarks) -> Record {
    for (field, found) in xmp.iter() {
        match exif.get(field.key) {
            None => {
                exif.set(field.key, found.clone());
            }
            Some(first) if agree(field, &first.raw, &found.raw) => {}
            Some(first) => disagree(field, first, found, remarks),
        }
    }
    exif
}

fn disagree(field: &Field, exif: &Found, xmp: &Found, remarks: &mut Remarks) {
    remarks.report(&remarks::PARTS_DISAGREE, xmp.place.clone(), || {
        let name = field.property.1;
        format!(
            "{name} is {} in Exif and {} in XMP",
            exif.raw.show(),
            xmp.raw.show()
        )
    });
}

fn agree(field: &Field, exif: &Raw, xmp: &Raw) -> bool {
    match (exif, xmp) {
        (Raw::Text(a), Raw::Text(b)) => {
            let cut = |text: &'_ str| -> String {
                let length = if field.kind == Kind::Date {
                    DATE
                } else {
                    usize::MAX
                };
                text.trim().chars().take(length).collect()
            };
            cut(a) == cut(b)
        }
        (Raw::Numbers(a), Raw::Numbers(b)) => {
            a.len() == b.len() && a.iter().zip(b).all(|(a, b)| same(field, *a, *b))
        }
        _ => false,
    }
}

fn same(field: &Field, a: Number, b: Number) -> bool {
    let distance = matches!(
        field.role,
        Role::Channel {
            meaning: Meaning::Distance,
            ..
        }
    );
    let value = |number: Number| match number {
        Number::Ratio(ratio) if distance && ratio.n == 0 => None,
        Number::Ratio(ratio) if distance && (ratio.n == INFINITY || ratio == INFINITY_CLAMPED) => {
            Some(f64::INFINITY)
        }
        other => other.value(),
    };
    match (value(a), value(b)) {
        (Some(a), Some(b)) => a == b || (a - b).abs() <= ROUNDING * a.abs().max(b.abs()),
        (None, None) => true,
        _ => false,
    }
}
