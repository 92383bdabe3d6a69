//! What an attribute with a new value changes in its take.

use ringmark_sdk::quantity::CountingMode;
use ringmark_sdk::{Datum, Fact, fact};

use super::{Attribute, TakeReader};
use crate::attribute::{Kind, describe, hex, rational, texts, word};
use crate::fields::Role;
use crate::keys::{Key, KeyId};
use crate::remarks::{self, Fault, RemarkId, Remarks};
use crate::timecode::Stamp;

/// Largest text or opaque value that is kept.
const MOST_KEPT: usize = 1 << 20;
/// Longest list of floats that becomes columns; longer ones are kept as bytes.
const MOST_FLOATS: usize = 32;

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
                    let column = self
                        .columns
                        .add_number(channel, key_type(key), unit, reference);
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
            Role::Extra(unit) => self.decode_extra(attribute, unit, remarks),
            Role::LensFact(_)
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

    fn set_numbers(&mut self, attribute: Attribute<'_>, remarks: &mut Remarks) -> Option<RemarkId> {
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

    fn set_text(
        &mut self,
        id: KeyId,
        channel: &str,
        type_name: &str,
        form: &'static str,
        text: Option<String>,
    ) {
        let columns = &mut self.columns;
        let slot = &mut self.slots[id as usize];
        match (text, slot.text) {
            (Some(text), column) => {
                let column = column.unwrap_or_else(|| columns.add_text(channel, type_name, form));
                slot.text = Some(column);
                columns.set_text(column, |now| *now = text);
            }
            (None, Some(column)) => columns.set_no_text(column),
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
        if self.columns.is_unused() {
            let mode = match stamp.mode {
                CountingMode::DropFrame => "drop-frame",
                CountingMode::NonDrop => "non-drop",
            };
            let place = attribute.spot.place(key, attribute.entry);
            self.take_facts.push(fact("counting", mode, Some(place)));
        }
        let columns = &mut self.columns;
        let slot = &mut self.slots[id as usize];
        let kind = key_type(key);
        let label = *slot
            .text
            .get_or_insert_with(|| columns.add_text("timecode", kind, "text"));
        match stamp.label {
            Some(_) => columns.set_text(label, |text| stamp.write(text)),
            None => columns.set_no_text(label),
        }
        for (bits, column, channel) in [
            (stamp.user, &mut self.user_bits, "extra/timeCode.userData"),
            (stamp.flags, &mut self.flags, "extra/timeCode.flags"),
        ] {
            // No bits set is the same as none recorded: such a column would only be noise.
            if bits != 0 && column.is_none() {
                let added = columns.add_number(channel, kind, "", "");
                slot.numbers.push(added);
                *column = Some(added);
            }
            if let Some(column) = *column {
                let number = if bits == 0 { f64::NAN } else { f64::from(bits) };
                columns.set_number(column, number);
            }
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

    fn decode_extra(
        &mut self,
        attribute: Attribute<'_>,
        unit: &str,
        remarks: &mut Remarks,
    ) -> Option<RemarkId> {
        let Attribute { id, key, value, .. } = attribute;
        let count = match key.kind {
            Kind::Numbers(_, count) => count,
            Kind::FloatVector if value.len() / 4 <= MOST_FLOATS => value.len() / 4,
            _ => 0,
        };
        self.add_extra_numbers(id, key, unit, count);
        let remark = self.set_numbers(attribute, remarks);
        let (form, text, remark) = match key.kind {
            Kind::Numbers(..) => return remark,
            Kind::FloatVector if count > 0 || value.is_empty() => ("hex", None, remark),
            _ if value.len() > MOST_KEPT => {
                let remark = report(attribute, &remarks::ATTRIBUTE_TOO_LARGE, remarks, || {
                    format!(
                        "{} has {} bytes, at most {MOST_KEPT} are kept",
                        key.name(),
                        value.len()
                    )
                });
                ("hex", None, Some(remark))
            }
            Kind::Text => {
                let (text, remark) = read_text(attribute, remarks);
                ("text", text, remark)
            }
            Kind::TextVector => {
                let list = texts(value).unwrap_or_default();
                ("json", serde_json::to_string(&list).ok(), None)
            }
            _ => ("hex", Some(hex(value)), None),
        };
        if text.is_some() || self.slots[id as usize].text.is_some() {
            let mut channel = format!("extra/{}", key.name());
            let kind = key.type_name();
            if form == "hex" {
                // Bytes mean nothing without their type.
                channel = format!("{channel}:{kind}");
            }
            self.set_text(id, &channel, &kind, form, text);
        }
        remark
    }

    /// Makes sure that an extra has a column for each of `count` numbers.
    fn add_extra_numbers(&mut self, id: KeyId, key: &Key, unit: &str, count: usize) {
        let columns = &mut self.columns;
        let slot = &mut self.slots[id as usize];
        while slot.numbers.len() < count {
            let part = slot.numbers.len();
            let single = matches!(key.kind, Kind::Numbers(_, 1));
            let channel = match single {
                true => format!("extra/{}", key.name()),
                false => format!("extra/{}.{part}", key.name()),
            };
            let column = columns.add_number(&channel, &key.type_name(), unit, "");
            slot.numbers.push(column);
            if key.field.is_some_and(|field| field.name == "imageCounter") {
                self.image_counter = Some(column);
            }
        }
    }
}

/// Type of a standard attribute.
fn key_type(key: &Key) -> &'static str {
    key.field.map_or("", |field| field.kind)
}

fn report(
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
fn read_text(
    attribute: Attribute<'_>,
    remarks: &mut Remarks,
) -> (Option<String>, Option<RemarkId>) {
    let Attribute { key, value, .. } = attribute;
    let is_identity = !matches!(key.role, Some(Role::Extra(_)));
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
