//! What the values of a file mean: special numerators, APEX, what is unknown and what has no meaning.

use ringmark_sdk::{Place, fact};

use crate::apex;
use crate::fields::{Field, Key, Meaning, Role, WIDEST_AT};
use crate::node::Value;
use crate::record::{Found, INFINITY, INFINITY_CLAMPED, Number, Raw, Record};
use crate::remarks::{self, Fault, Remarks};
use crate::values::{self, Text, Values, number_fact};
use crate::xmp::Other;

/// f-number and aperture value of one file may differ by rounding: 1/6 stop, in APEX units.
const ROUNDING: f64 = 1.0 / 6.0;

/// What the items and the other properties of a file say.
pub fn values(record: &Record, others: &[Other], remarks: &mut Remarks) -> Values {
    let mut values = Values::default();
    for (field, found) in record.iter() {
        item(field, found, record, &mut values, remarks);
    }
    focal_plane(record, &mut values);
    for Other { name, node } in others {
        let (form, text) = match &node.value {
            Value::Text(text) if node.lang.is_none() => ("text", text.clone()),
            _ => ("json", node.to_json().to_string()),
        };
        values.texts.push(Text {
            channel: format!("extra/{name}"),
            form: form.to_owned(),
            text,
        });
    }
    values
}

fn item(field: &Field, found: &Found, record: &Record, values: &mut Values, remarks: &mut Remarks) {
    let place = &found.place;
    let name = field.property.1;
    match (field.role, &found.raw) {
        (
            Role::Channel {
                channel,
                unit,
                reference,
                meaning,
            },
            raw,
        ) => {
            if let Some(value) = meant(name, meaning, raw.number(), place, remarks) {
                push(values, channel, unit, reference, value);
            }
        }
        (Role::Apex(key), raw) => apex_item(field, key, raw, record, place, values, remarks),
        (Role::LensText(name), Raw::Text(text)) => {
            push_text(values, name, text);
            let at = Some(place.clone());
            values.lens_facts_mut().push(fact(name, text.as_str(), at));
        }
        (Role::Lens, Raw::Text(text)) => push_text(values, "lens", text),
        (Role::TakeText(name), Raw::Text(text)) => {
            values
                .take
                .push(fact(name, text.as_str(), Some(place.clone())));
        }
        (Role::WidestAperture, raw) => {
            let av = defined(name, raw.number(), place, remarks);
            if let Some(av) = av
                && let Some(f) = possible(name, av, apex::f_number(av), place, remarks)
            {
                set_widest(values, f, place);
            }
        }
        (Role::LensSpecification, Raw::Numbers(numbers)) => {
            specification(numbers, record, place, values, remarks);
        }
        (Role::Pixels(name), raw) => {
            if let Some(pixels) = raw.number().and_then(Number::value)
                && pixels > 0.0
            {
                values
                    .take
                    .push(number_fact(name, pixels, "", Some(place.clone())));
            }
        }
        (Role::Extra, Raw::Text(text)) => {
            push_text(values, &format!("extra/{}", name_of(field)), text);
        }
        (Role::Extra, raw) => extra_number(field, raw, place, values, remarks),
        // Together, behind.
        (Role::FocalPlane, _) => {}
        _ => {}
    }
}

fn name_of(field: &Field) -> crate::node::Name {
    crate::node::Name::new(field.property.0, field.property.1)
}

fn push(values: &mut Values, channel: &str, unit: &str, reference: &str, value: f64) {
    values.numbers.push(values::Number {
        channel: channel.to_owned(),
        unit: unit.to_owned(),
        reference: reference.to_owned(),
        value,
    });
}

fn push_text(values: &mut Values, channel: &str, text: &str) {
    values.texts.push(Text {
        channel: channel.to_owned(),
        form: "text".to_owned(),
        text: text.to_owned(),
    });
}

fn extra_number(
    field: &Field,
    raw: &Raw,
    place: &Place,
    values: &mut Values,
    remarks: &mut Remarks,
) {
    if let Some(value) = defined(field.property.1, raw.number(), place, remarks) {
        push(values, &format!("extra/{}", name_of(field)), "", "", value);
    }
}

/// The number, unless its denominator is 0.
fn defined(
    name: &str,
    number: Option<Number>,
    place: &Place,
    remarks: &mut Remarks,
) -> Option<f64> {
    let number = number?;
    let value = number.value();
    if value.is_none() {
        remarks.report(&remarks::UNDEFINED, place.clone(), || {
            format!("{name} is {number}: a denominator of 0")
        });
    }
    value
}

/// A value, with a remark where there is none.
fn possible(
    name: &str,
    number: f64,
    value: Option<f64>,
    place: &Place,
    remarks: &mut Remarks,
) -> Option<f64> {
    if value.is_none() {
        remarks.report(&remarks::IMPOSSIBLE, place.clone(), || {
            format!("{name} is {number}, which has no meaning")
        });
    }
    value
}

/// What a number means; `None` for 'not recorded', with a remark where nobody means that by it.
fn meant(
    name: &str,
    meaning: Meaning,
    number: Option<Number>,
    place: &Place,
    remarks: &mut Remarks,
) -> Option<f64> {
    let number = number?;
    if let (Meaning::Distance, Number::Ratio(ratio)) = (meaning, number) {
        // The markers are numerators: never divide first.
        if ratio.n == 0 {
            return None;
        }
        if ratio.n == INFINITY {
            return Some(f64::INFINITY);
        }
        if ratio == INFINITY_CLAMPED {
            remarks.report(&remarks::CLAMPED, place.clone(), || {
                format!("{name} is {ratio}, infinity is 4294967295/1")
            });
            return Some(f64::INFINITY);
        }
    }
    let value = defined(name, Some(number), place, remarks)?;
    match meaning {
        Meaning::ZeroUnknown | Meaning::Distance if value == 0.0 => return None,
        Meaning::Sensitivity if value == 65535.0 => {
            remarks.report(&remarks::ELSEWHERE, place.clone(), || {
                format!("{name} is 65535, which says that the value is larger")
            });
            return None;
        }
        _ => {}
    }
    possible(name, value, (value > 0.0).then_some(value), place, remarks)
}

/// An APEX value stands in for its item where that is absent; else both are compared.
fn apex_item(
    field: &Field,
    key: Key,
    raw: &Raw,
    record: &Record,
    place: &Place,
    values: &mut Values,
    remarks: &mut Remarks,
) {
    let name = field.property.1;
    let aperture = key == Key::FNumber;
    let (fault, to_apex): (&Fault, fn(f64) -> f64) = match aperture {
        true => (&remarks::STOPS_DISAGREE, apex::aperture),
        false => (&remarks::TIMES_DISAGREE, apex::shutter_speed),
    };
    let item = key.field();
    let Some(plain) = record.get(key) else {
        let Some(apex) = defined(name, raw.number(), place, remarks) else {
            return;
        };
        let value = match aperture {
            true => apex::f_number(apex),
            false => apex::seconds(apex),
        };
        if let (Some(value), Role::Channel { channel, unit, .. }) =
            (possible(name, apex, value, place, remarks), item.role)
        {
            push(values, channel, unit, "", value);
        }
        return;
    };
    extra_number(field, raw, place, values, remarks);
    let plain = plain.raw.number().and_then(Number::value);
    let apex = raw.number().and_then(Number::value);
    if let (Some(plain), Some(apex)) = (plain, apex)
        && plain > 0.0
        && (to_apex(plain) - apex).abs() > ROUNDING
    {
        let shown = match aperture {
            true => apex::f_number(apex),
            false => apex::seconds(apex),
        };
        let shown = shown.map_or(apex, |value| (value * 1e4).round() / 1e4);
        remarks.report(fault, place.clone(), || {
            format!(
                "{} is {plain}, {name} says {shown}: more than 1/6 stop apart",
                item.property.1
            )
        });
    }
}

fn set_widest(values: &mut Values, f: f64, place: &Place) {
    let at = Some(place.clone());
    let fact = number_fact("widest-f-number", f, "f", at);
    values.lens_facts_mut().push(fact);
}

/// Focal lengths at both ends and the widest f-numbers there; 0/0 is 'unknown'.
fn specification(
    numbers: &[Number],
    record: &Record,
    place: &Place,
    values: &mut Values,
    remarks: &mut Remarks,
) {
    let name = "LensSpecification";
    let mut known = [None; 4];
    for (slot, number) in known.iter_mut().zip(numbers) {
        let unknown = matches!(number, Number::Ratio(ratio) if ratio.n == 0);
        if !unknown && let Some(value) = defined(name, Some(*number), place, remarks) {
            *slot = possible(name, value, (value > 0.0).then_some(value), place, remarks);
        }
    }
    let at = || Some(place.clone());
    let [shortest, longest, ..] = known;
    // One end alone is no range, and no prime either.
    let prefix = match (shortest, longest) {
        (Some(_), Some(_)) => "",
        _ => "extra/",
    };
    for (end, mm) in [("min", shortest), ("max", longest)] {
        if let Some(mm) = mm {
            let fact = number_fact(&format!("{prefix}focal-length-{end}"), mm, "mm", at());
            values.lens_facts_mut().push(fact);
        }
    }
    let stops = &known[2..];
    for (name, f) in WIDEST_AT.iter().zip(stops) {
        if let Some(f) = f {
            values
                .lens_facts_mut()
                .push(number_fact(name, *f, "f", at()));
        }
    }
    let widest = stops.iter().flatten().copied().reduce(f64::min);
    if let (Some(widest), None) = (widest, record.get(Key::MaxApertureValue)) {
        set_widest(values, widest, place);
    }
}

/// The size of the sensor where the size in pixels is known; else the three items are extras.
fn focal_plane(record: &Record, values: &mut Values) {
    let number = |key: Key| record.get(key).and_then(|found| found.raw.number());
    let positive = |key: Key| {
        let value = number(key).and_then(Number::value);
        value.filter(|value| *value > 0.0)
    };
    let unit = match number(Key::FocalPlaneResolutionUnit).map(Number::value) {
        // Inches are what the standard says where the unit is absent; from memory.
        None | Some(Some(2.0)) => Some("in"),
        Some(Some(3.0)) => Some("cm"),
        _ => None,
    };
    let size = |resolution: Key, pixels: Key| {
        let per_unit = positive(resolution)?;
        let pixels = positive(pixels)?;
        let size = match number(resolution)? {
            // One division instead of two: 6000 pixels at 20000/12 are 3.6.
            Number::Ratio(ratio) => pixels * ratio.d as f64 / ratio.n as f64,
            Number::Decimal(_) => pixels / per_unit,
        };
        Some(size).filter(|size| size.is_finite() && *size > 0.0)
    };
    let width = size(Key::FocalPlaneXResolution, Key::PixelXDimension);
    let height = size(Key::FocalPlaneYResolution, Key::PixelYDimension);
    if let (Some(unit), Some(width), Some(height)) = (unit, width, height) {
        for (name, size, key) in [
            ("sensor-width", width, Key::FocalPlaneXResolution),
            ("sensor-height", height, Key::FocalPlaneYResolution),
        ] {
            let at = record.get(key).map(|found| found.place.clone());
            values.take.push(number_fact(name, size, unit, at));
        }
        return;
    }
    for key in [
        Key::FocalPlaneXResolution,
        Key::FocalPlaneYResolution,
        Key::FocalPlaneResolutionUnit,
    ] {
        if let Some(value) = number(key).and_then(Number::value) {
            push(
                values,
                &format!("extra/{}", name_of(key.field())),
                "",
                "",
                value,
            );
        }
    }
}
