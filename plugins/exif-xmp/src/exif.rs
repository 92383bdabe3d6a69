//! Values of Exif tags: the bytes of entries to numbers and texts.

use ringmark_sdk::Place;

use crate::directory::{Entry, type_name};
use crate::fields::{self, Directory, FIELDS, Field, Key, Kind};
use crate::rational::Ratio;
use crate::record::{Found, Number, Raw, Record};
use crate::remarks::{self, Remarks};
use crate::tiff::Tiff;

const ASCII: u16 = 2;
const SHORT: u16 = 3;
const LONG: u16 = 4;
const RATIONAL: u16 = 5;
const UNDEFINED: u16 = 7;
const SRATIONAL: u16 = 10;
const UTF_8: u16 = 129;

/// All items of the table that the structure has.
pub fn record(tiff: &Tiff<'_>, remarks: &mut Remarks) -> Record {
    let mut record = Record::default();
    for field in FIELDS {
        for &(directory, tag) in field.tags {
            let directory = match directory {
                Directory::Exif => &tiff.exif,
                Directory::Main if matches!(field.role, fields::Role::Pixels(_)) => {
                    tiff.image.as_ref().unwrap_or(&tiff.main)
                }
                Directory::Main => &tiff.main,
            };
            if let Some(entry) = directory.entry(tag)
                && let Some(found) = value(tiff, field, entry, remarks)
            {
                record.set(field.key, found);
                break;
            }
        }
    }
    complete_date(tiff, &mut record, remarks);
    record
}

fn name_of(field: &Field) -> String {
    format!("Exif {}", field.property.1)
}

fn value(tiff: &Tiff<'_>, field: &Field, entry: &Entry, remarks: &mut Remarks) -> Option<Found> {
    let name = name_of(field);
    let (bytes, place) = tiff.value(entry, &name, remarks)?;
    let raw = match field.kind {
        Kind::Text | Kind::Date => {
            if !matches!(entry.kind, ASCII | UTF_8) {
                wrong_type(
                    &name,
                    entry,
                    "ASCII",
                    "the value is not read",
                    place,
                    remarks,
                );
                return None;
            }
            Raw::Text(text(&bytes, &name, &place, remarks)?)
        }
        Kind::Version => {
            if !matches!(entry.kind, UNDEFINED | ASCII) {
                wrong_type(
                    &name,
                    entry,
                    "UNDEFINED",
                    "the value is not read",
                    place,
                    remarks,
                );
                return None;
            }
            Raw::Text(text(&bytes, &name, &place, remarks)?)
        }
        _ => Raw::Numbers(numbers(
            tiff, field.kind, entry, &bytes, &name, &place, remarks,
        )?),
    };
    Some(Found { raw, place })
}

fn wrong_type(
    name: &str,
    entry: &Entry,
    right: &str,
    effect: &str,
    place: Place,
    remarks: &mut Remarks,
) {
    remarks.report(&remarks::TAG_TYPE, place, || {
        let found = type_name(entry.kind);
        format!("{name} has type {found}, must be {right}: {effect}")
    });
}

fn numbers(
    tiff: &Tiff<'_>,
    kind: Kind,
    entry: &Entry,
    bytes: &[u8],
    name: &str,
    place: &Place,
    remarks: &mut Remarks,
) -> Option<Vec<Number>> {
    let (right, fits): (&str, &[u16]) = match kind {
        Kind::Rational | Kind::Four => ("RATIONAL", &[RATIONAL]),
        Kind::Signed => ("SRATIONAL", &[SRATIONAL]),
        _ => ("SHORT or LONG", &[SHORT, LONG]),
    };
    let mut numbers = decode(tiff, entry.kind, bytes);
    if !fits.contains(&entry.kind) {
        if numbers.is_empty() {
            wrong_type(
                name,
                entry,
                right,
                "the value is not read",
                place.clone(),
                remarks,
            );
            return None;
        }
        // A number is a number in whatever type: 2 as SHORT can mean nothing else.
        let effect = format!("read as {}", Raw::Numbers(numbers.clone()).show());
        wrong_type(name, entry, right, &effect, place.clone(), remarks);
    }
    let wanted = if kind == Kind::Four { 4 } else { 1 };
    let many = numbers.len();
    // Old files may have several sensitivities.
    if many < wanted || (many > wanted && kind != Kind::Sensitivity) {
        remarks.report(&remarks::TAG_COUNT, place.clone(), || {
            let effect = match many < wanted {
                true => "taken as not recorded",
                false => "the first ones are read",
            };
            format!("{name} has {many} values, must have {wanted}: {effect}")
        });
    }
    numbers.truncate(wanted);
    (numbers.len() == wanted).then_some(numbers)
}

/// The numbers of a value; empty for types that hold none.
fn decode(tiff: &Tiff<'_>, kind: u16, bytes: &[u8]) -> Vec<Number> {
    match kind {
        SHORT => {
            let (shorts, _) = bytes.as_chunks::<2>();
            let shorts = shorts.iter().map(|short| u32::from(tiff.short(*short)));
            shorts.map(Number::whole).collect()
        }
        LONG => {
            let (longs, _) = bytes.as_chunks::<4>();
            longs
                .iter()
                .map(|long| Number::whole(tiff.long(*long)))
                .collect()
        }
        RATIONAL | SRATIONAL => {
            let (pairs, _) = bytes.as_chunks::<8>();
            let part = |bytes: [u8; 4]| match kind {
                RATIONAL => i64::from(tiff.long(bytes)),
                _ => i64::from(tiff.long(bytes) as i32),
            };
            let pair = |[a, b, c, d, e, f, g, h]: [u8; 8]| Ratio {
                n: part([a, b, c, d]),
                d: part([e, f, g, h]),
            };
            pairs
                .iter()
                .map(|bytes| Number::Ratio(pair(*bytes)))
                .collect()
        }
        _ => Vec::new(),
    }
}

/// The text of a value; `None` if there are only blanks, which is Exif's way to say 'unknown'.
fn text(bytes: &[u8], name: &str, place: &Place, remarks: &mut Remarks) -> Option<String> {
    let end = bytes.iter().position(|byte| *byte == 0);
    let (text, rest) = bytes.split_at(end.unwrap_or(bytes.len()));
    if rest.iter().any(|byte| *byte != 0 && *byte != b' ') {
        remarks.report(&remarks::TEXT_NUL, place.clone(), || {
            format!(
                "{name} has a NUL at position {} of {}",
                text.len(),
                bytes.len()
            )
        });
    }
    if let Err(error) = std::str::from_utf8(text) {
        remarks.report(&remarks::TEXT_NOT_UTF8, place.clone(), || {
            let at = error.valid_up_to();
            let byte = text.get(at).copied().unwrap_or_default();
            format!("{name} is not UTF-8: byte {byte:#04x} at position {at} of the text")
        });
    }
    let text = String::from_utf8_lossy(text);
    // Blanks behind are padding to a fixed length.
    let text = text.trim_end_matches(' ');
    (!text.trim().is_empty()).then(|| text.to_owned())
}

/// Brings DateTimeOriginal into the form that XMP has for it, with fractions and offset if known.
fn complete_date(tiff: &Tiff<'_>, record: &mut Record, remarks: &mut Remarks) {
    let Some(Found {
        raw: Raw::Text(date),
        place,
    }) = record.get(Key::DateTimeOriginal)
    else {
        return;
    };
    let place = place.clone();
    let Some(mut iso) = iso_date(date) else {
        return;
    };
    let mut part = |tag: u16, name: &str| {
        let entry = tiff.exif.entry(tag)?;
        let (bytes, place) = tiff.value(entry, name, remarks)?;
        text(&bytes, name, &place, remarks)
    };
    let fraction = part(fields::SUB_SECONDS, "Exif SubSecTimeOriginal");
    let offset = part(fields::OFFSET_TIME, "Exif OffsetTimeOriginal");
    if let Some(fraction) = fraction.filter(|text| text.bytes().all(|b| b.is_ascii_digit())) {
        iso.push('.');
        iso.push_str(&fraction);
    }
    if let Some(offset) = offset.filter(|text| is_offset(text)) {
        iso.push_str(&offset);
    }
    let raw = Raw::Text(iso);
    record.set(Key::DateTimeOriginal, Found { raw, place });
}

/// `2026:11:25 10:00:00` as `2026-11-25T10:00:00`; `None` for other texts, which stay as they are.
fn iso_date(text: &str) -> Option<String> {
    let form = "0000:00:00 00:00:00".bytes();
    let fits = text.len() == form.len()
        && text.bytes().zip(form).all(|(byte, form)| match form {
            b'0' => byte.is_ascii_digit(),
            other => byte == other,
        });
    let (day, time) = text.split_once(' ').filter(|_| fits)?;
    Some(format!("{}T{time}", day.replace(':', "-")))
}

/// `+01:00`.
fn is_offset(text: &str) -> bool {
    let [sign, a, b, b':', c, d] = text.as_bytes() else {
        return false;
    };
    matches!(sign, b'+' | b'-') && [a, b, c, d].iter().all(|digit| digit.is_ascii_digit())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_take_the_form_of_xmp() {
        assert_eq!(
            iso_date("2026:11:25 10:00:00").as_deref(),
            Some("2026-11-25T10:00:00")
        );
        for text in [
            "2026-11-25 10:00:00",
            "    :  :     :  :  ",
            "2026:11:25",
            "2026:11:25é10:00:0",
        ] {
            assert_eq!(iso_date(text), None, "{text}");
        }
        assert!(is_offset("+01:00") && is_offset("-09:30"));
        assert!(!is_offset("Z") && !is_offset("+1:00") && !is_offset("01:00+"));
    }
}
