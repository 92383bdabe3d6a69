//! What an attribute with a new value changes in its take.

use ringmark_sdk::quantity::FrameRate;
use ringmark_sdk::{Datum, Fact, fact};

use super::{Attribute, TakeReader};
use crate::attribute::{Kind, describe, rational, word};
use crate::fields::{Private, Role};
use crate::keys::{Key, KeyId};
use crate::private::Descriptions;
use crate::registry::Owner;
use crate::remarks::{self, Fault, RemarkId, Remarks};
use crate::timecode::{Stamp, mode_name};

impl TakeReader {
    /// Decodes a value that is not the one of the file before.
    pub(super) fn decode(
        &mut self,
        attribute: Attribute<'_>,
        before: Option<&[u8]>,
        remarks: &mut Remarks,
    ) -> Option<RemarkId> {
        let Attribute { id, key, value, .. } = attribute;
        let Some(role) = key.role else {
            return Some(report(attribute, &remarks::ATTRIBUTE_TYPE, remarks, || {
                let right = key.field.map_or("", |field| field.kind);
                format!(
                    "{} has type {}, must be {right}",
                    key.name(),
                    key.type_name()
                )
            }));
        };
        match role {
            Role::Structural | Role::View | Role::PartName | Role::PartType => None,
            Role::Number {
                channel,
                unit,
                reference,
            } => {
                if self.slots[id as usize].numbers.is_empty() {
                    let said = self.kept.description(key.shown());
                    let reference = match reference {
                        "" => "",
                        unstated => reference_of(&said.reference).unwrap_or(unstated),
                    };
                    let column = self.number_column(channel, key_type(key), unit, reference);
                    self.slots[id as usize].numbers.push(column);
                }
                self.set_numbers(attribute, remarks)
            }
            Role::LensText(name) => {
                let (text, remark) = read_text(attribute, remarks);
                if self.columns.is_unused()
                    && let Some(text) = &text
                {
                    let place = attribute.spot.place(key, attribute.entry);
                    self.lens_facts.push(fact(name, text.as_str(), Some(place)));
                }
                self.set_text(id, name, key_type(key), "text", text);
                remark
            }
            Role::Timecode => self.decode_timecode(attribute, remarks),
            Role::Extra(unit) | Role::Picture(unit) => self.decode_extra(attribute, unit, remarks),
            Role::Private(Private::Columns) => {
                let new = match crate::private::parse::<Descriptions>(value) {
                    Ok(new) => new,
                    Err(error) => return Some(damaged(attribute, &error, remarks)),
                };
                let old = crate::private::parse::<Descriptions>(before?).ok()?;
                let (name, _) = old
                    .iter()
                    .find(|(name, said)| new.get(*name).is_some_and(|now| now != *said))?;
                report(attribute, &remarks::ATTRIBUTE_CHANGES, remarks, || {
                    format!("unit, reference or form of {name} changes")
                });
                None
            }
            Role::Private(Private::Frame) => {
                self.own_frame = Some(id);
                None
            }
            Role::Private(Private::SourceFile) => {
                self.own_file = Some(id);
                None
            }
            Role::Private(Private::Value) => self.decode_value(attribute, remarks),
            Role::Private(Private::TakeFacts | Private::LensFacts | Private::OtherLenses)
            | Role::LensFact(_)
            | Role::TakeFact(_)
            | Role::Rate(_)
            | Role::SensorSize
            | Role::DisplayWindow => {
                let remark = self.decode_fact(attribute, role, remarks);
                if self.columns.is_unused() {
                    return remark;
                }
                report(attribute, &remarks::ATTRIBUTE_CHANGES, remarks, || {
                    let now = describe(key.kind, value);
                    match before {
                        Some(before) => {
                            let before = describe(key.kind, before);
                            format!("{} changes from {before} to {now}", key.name())
                        }
                        None => format!("{} is {now}, the file before has none", key.name()),
                    }
                });
                remark
            }
        }
    }

    pub(super) fn set_numbers(
        &mut self,
        attribute: Attribute<'_>,
        remarks: &mut Remarks,
    ) -> Option<RemarkId> {
        let slot = &self.slots[attribute.id as usize];
        let mut numbers = attribute.key.kind.numbers(attribute.value);
        let mut not_a_number = false;
        for &column in &slot.numbers {
            let number = numbers.next();
            not_a_number |= number.is_some_and(f64::is_nan);
            self.columns.set_number(column, number.unwrap_or(f64::NAN));
        }
        not_a_number.then(|| {
            report(attribute, &remarks::NOT_A_NUMBER, remarks, || {
                format!("{} is not a number (NaN)", attribute.key.name())
            })
        })
    }

    pub(super) fn set_text(
        &mut self,
        id: KeyId,
        channel: &str,
        type_name: &str,
        form: &'static str,
        text: Option<String>,
    ) {
        match (text, self.slots[id as usize].text) {
            (Some(text), column) => {
                let column = match column {
                    Some(column) => column,
                    None => self.text_column(channel, type_name, form),
                };
                self.slots[id as usize].text = Some(column);
                self.columns.set_text(column, |now| *now = text);
            }
            (None, Some(column)) => self.columns.set_no_text(column),
            (None, None) => {}
        }
    }

    fn decode_timecode(
        &mut self,
        attribute: Attribute<'_>,
        remarks: &mut Remarks,
    ) -> Option<RemarkId> {
        let Attribute { id, key, .. } = attribute;
        let stamp = Stamp::decode(attribute.value);
        let shadowed = self.slots[id as usize].shadowed;
        let (shown, flags) = stamp.at(self.rate);
        let shown = shown.filter(|_| !shadowed);
        if self.columns.is_unused() && !shadowed {
            let mode = mode_name(stamp.mode);
            let place = attribute.spot.place(key, attribute.entry);
            self.take_facts.push(fact("counting", mode, Some(place)));
        }
        let kind = key_type(key);
        if !shadowed {
            let label = match self.slots[id as usize].text {
                Some(label) => label,
                None => self.text_column("timecode", kind, "text"),
            };
            self.slots[id as usize].text = Some(label);
            match shown {
                Some(shown) => self
                    .columns
                    .set_text(label, |text| Stamp::write(shown, text)),
                None => self.columns.set_no_text(label),
            }
        }
        for (bits, column, channel) in [
            (stamp.user, self.user_bits, "extra/timeCode.userData"),
            (flags, self.flags, "extra/timeCode.flags"),
        ] {
            // No bits set is the same as none recorded: such a column would only be noise.
            let column = match column {
                None if bits == 0 => continue,
                None => {
                    let added = self.number_column(channel, kind, "", "");
                    self.slots[id as usize].numbers.push(added);
                    let known = match channel {
                        "extra/timeCode.flags" => &mut self.flags,
                        _ => &mut self.user_bits,
                    };
                    *known.insert(added)
                }
                Some(column) => column,
            };
            let number = if bits == 0 { f64::NAN } else { f64::from(bits) };
            self.columns.set_number(column, number);
        }
        if shadowed {
            return None;
        }
        if stamp.label.is_none() {
            return Some(report(
                attribute,
                &remarks::TIMECODE_DIGITS,
                remarks,
                || {
                    format!(
                        "time code word {:#010x} has digits that are not decimal",
                        stamp.word
                    )
                },
            ));
        }
        let reason = stamp.impossible()?;
        Some(report(attribute, &remarks::TIMECODE_LABEL, remarks, || {
            reason
        }))
    }

    fn decode_fact(
        &mut self,
        attribute: Attribute<'_>,
        role: Role,
        remarks: &mut Remarks,
    ) -> Option<RemarkId> {
        let Attribute { key, value, .. } = attribute;
        let place = || Some(attribute.spot.place(key, attribute.entry));
        let number = |name: &str, number: f64, unit: &str| Fact {
            name: name.to_owned(),
            value: Datum::Number(number),
            unit: unit.to_owned(),
            at: place(),
        };
        let (mut facts, mut remark) = (Vec::new(), None);
        match role {
            Role::Private(what) if self.columns.is_unused() => {
                let result = match what {
                    Private::TakeFacts => self.kept.read_facts(Owner::Take, value),
                    Private::LensFacts => self.kept.read_facts(Owner::Lens, value),
                    _ => self.kept.read_lenses(value),
                };
                remark = result
                    .err()
                    .map(|error| damaged(attribute, &error, remarks));
            }
            Role::LensFact(name) | Role::TakeFact(name) => {
                let (text, found) = read_text(attribute, remarks);
                facts.extend(text.map(|text| fact(name, text, place())));
                remark = found;
            }
            Role::Rate(name) => {
                let (numerator, denominator) = rational(value);
                if numerator > 0 && denominator > 0 {
                    facts.push(fact(name, format!("{numerator}/{denominator}"), place()));
                } else {
                    remark = Some(report(attribute, &remarks::RATE_INVALID, remarks, || {
                        format!("{} is {numerator}/{denominator}", key.name())
                    }));
                }
            }
            Role::SensorSize => {
                for (name, size) in ["sensor-width", "sensor-height"]
                    .iter()
                    .zip(key.kind.numbers(value))
                {
                    facts.push(number(name, size, "mm"));
                }
            }
            Role::DisplayWindow => {
                let corner = |at| i64::from(word(value, at) as i32);
                let size = [corner(8) - corner(0) + 1, corner(12) - corner(4) + 1];
                if size.iter().all(|&pixels| pixels > 0) {
                    let [width, height] = size;
                    facts.push(number("resolution-width", width as f64, ""));
                    facts.push(number("resolution-height", height as f64, ""));
                } else {
                    remark = Some(report(attribute, &remarks::WINDOW_EMPTY, remarks, || {
                        let corners = describe(key.kind, value);
                        format!("{} ({corners}) has no area", key.name())
                    }));
                }
            }
            _ => {}
        }
        if self.columns.is_unused() {
            match role {
                Role::LensFact(_) => self.lens_facts.extend(facts),
                _ => self.take_facts.extend(facts),
            }
        }
        remark
    }
}

/// What distances can be measured from.
pub(super) fn reference_of(text: &str) -> Option<&'static str> {
    ["image-plane", "entrance-pupil", "front-vertex"]
        .into_iter()
        .find(|name| *name == text)
}

/// The rate that a rational says.
pub fn frame_rate(value: &[u8]) -> Option<FrameRate> {
    let (numerator, denominator) = rational(value);
    let numerator = u32::try_from(numerator).ok()?;
    FrameRate::new(numerator, denominator).ok()
}

/// The number of a double.
pub fn double(value: &[u8]) -> Option<f64> {
    let number = Kind::of(b"double").numbers(value).next()?;
    (!number.is_nan()).then_some(number)
}

fn damaged(attribute: Attribute<'_>, error: &str, remarks: &mut Remarks) -> RemarkId {
    report(attribute, &remarks::PRIVATE_DAMAGED, remarks, || {
        format!("{} cannot be read: {error}", attribute.key.name())
    })
}

/// Type of a standard attribute.
pub(super) fn key_type(key: &Key) -> &'static str {
    key.field.map_or("", |field| field.kind)
}

pub(super) fn report(
    attribute: Attribute<'_>,
    fault: &Fault,
    remarks: &mut Remarks,
    message: impl FnOnce() -> String,
) -> RemarkId {
    remarks.report(fault, attribute.id, attribute.spot.input, || {
        (
            message(),
            attribute.spot.place(attribute.key, attribute.entry),
        )
    })
}

/// The text of an attribute; `None` for an identity of no letters.
pub(super) fn read_text(
    attribute: Attribute<'_>,
    remarks: &mut Remarks,
) -> (Option<String>, Option<RemarkId>) {
    let Attribute { key, value, .. } = attribute;
    let is_identity = !matches!(
        key.role,
        Some(Role::Extra(_) | Role::Picture(_) | Role::Private(_))
    );
    if value.is_empty() && is_identity {
        let remark = report(attribute, &remarks::TEXT_EMPTY, remarks, || {
            format!(
                "{} is empty, the standard asks for at least one letter",
                key.name()
            )
        });
        return (None, Some(remark));
    }
    let mut remark = None;
    if let Err(error) = std::str::from_utf8(value) {
        remark = Some(report(attribute, &remarks::TEXT_NOT_UTF8, remarks, || {
            let at = error.valid_up_to();
            let byte = value.get(at).copied().unwrap_or_default();
            format!(
                "{} is not UTF-8: byte {byte:#04x} at position {at} of the text",
                key.name()
            )
        }));
    }
    if let Some(at) = value.iter().position(|&byte| byte == 0) {
        remark = Some(report(attribute, &remarks::TEXT_NUL, remarks, || {
            format!(
                "{} has a NUL at position {at} of {}",
                key.name(),
                value.len()
            )
        }));
    }
    (Some(String::from_utf8_lossy(value).into_owned()), remark)
}
