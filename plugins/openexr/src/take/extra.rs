//! Attributes that are kept under their own name, and private ones.

use ringmark_sdk::quantity::Unit;

use super::decode::{read_text, reference_of, report};
use super::{Attribute, TakeReader};
use crate::attribute::{Kind, hex, texts};
use crate::fields::field_number;
use crate::keys::{Key, KeyId};
use crate::registry::other_number;
use crate::remarks::{self, RemarkId, Remarks};

/// Largest text or opaque value that is kept.
pub const MOST_KEPT: usize = 1 << 20;
/// Longest list of floats that becomes columns; longer ones are kept as bytes.
pub const MOST_FLOATS: usize = 32;

impl TakeReader {
    /// An attribute that is kept under its own name.
    pub(super) fn decode_extra(
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
        let said = self.kept.description(key.shown());
        let unit = match said.unit.as_str() {
            "" => unit,
            unit => unit,
        };
        let form = match said.form.as_str() {
            "json" => "json",
            "hex" => "hex",
            _ => "text",
        };
        if self.columns.is_unused()
            && key.field.is_none()
            && (count > 0 || key.kind == Kind::TextVector)
            && key.type_name() != "double"
        {
            self.kept.note_type(key.shown(), &key.type_name());
        }
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
                (form, text, remark)
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
            if form == "hex" && key.kind != Kind::Text {
                // Bytes mean nothing without their type.
                channel = format!("{channel}:{kind}");
            }
            self.set_text(id, &channel, &kind, form, text);
        }
        remark
    }

    /// A value of a channel or extra in a private attribute.
    pub(super) fn decode_value(
        &mut self,
        attribute: Attribute<'_>,
        remarks: &mut Remarks,
    ) -> Option<RemarkId> {
        let Attribute { id, key, .. } = attribute;
        let channel = self.kept.channel(key.shown());
        let said = self.kept.description(key.shown());
        if key.kind == Kind::Text {
            let form = match said.form.as_str() {
                "json" => "json",
                "hex" => "hex",
                _ => "text",
            };
            let (text, remark) = read_text(attribute, remarks);
            self.set_text(id, &channel, &key.type_name(), form, text);
            return remark;
        }
        if self.slots[id as usize].numbers.is_empty() {
            let (unit, reference) = match other_number(&channel) {
                // A unit that measures something else would not be taken.
                Some(row) => {
                    let fits = |unit: &Unit| unit.dimension() == row.unit.dimension();
                    let unit = Unit::from_symbol(&said.unit).filter(fits);
                    let reference = match row.distance {
                        true => reference_of(&said.reference).unwrap_or("unstated"),
                        false => "",
                    };
                    (unit.unwrap_or(row.unit).symbol(), reference)
                }
                // A channel with an attribute of its own, whose value goes beyond that.
                None => match field_number(&channel) {
                    Some((unit, "")) => (unit, ""),
                    Some((unit, unstated)) => {
                        (unit, reference_of(&said.reference).unwrap_or(unstated))
                    }
                    None => (said.unit.as_str(), ""),
                },
            };
            let column = self.number_column(&channel, &key.type_name(), unit, reference);
            self.slots[id as usize].numbers.push(column);
        }
        self.set_numbers(attribute, remarks)
    }

    /// Makes sure that an extra has a column for each of `count` numbers.
    fn add_extra_numbers(&mut self, id: KeyId, key: &Key, unit: &str, count: usize) {
        while self.slots[id as usize].numbers.len() < count {
            let part = self.slots[id as usize].numbers.len();
            let single = matches!(key.kind, Kind::Numbers(_, 1));
            let channel = match single {
                true => format!("extra/{}", key.name()),
                false => format!("extra/{}.{part}", key.name()),
            };
            let column = self.number_column(&channel, &key.type_name(), unit, "");
            self.slots[id as usize].numbers.push(column);
            if key.field.is_some_and(|field| field.name == "imageCounter") {
                self.image_counter = Some(column);
            }
        }
    }
}
