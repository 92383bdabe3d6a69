//! Attributes of several numbers, each of which is an extra.

use super::changes::Changes;
use super::extras::put_private;
use super::plan::{Head, Target, Value};
use crate::attribute::{Element, Kind};
use crate::private::EXTRA;

/// Numbers of one attribute, as they come.
pub struct Vector {
    /// Name of its type.
    pub kind: String,
    /// Place, column and value of each number.
    pub parts: Vec<(usize, Head, f64)>,
}

impl Vector {
    /// Puts all numbers into private attributes, which then stand for the attribute of this name:
    /// those of the frame, and the others as they are `before`.
    pub fn put_private(
        self,
        changes: &mut Changes<'_>,
        name: &str,
        before: &[f64],
    ) -> Result<(), String> {
        for (index, number) in before.iter().enumerate() {
            if !number.is_nan() && self.parts.iter().all(|(at, _, _)| *at != index) {
                let head = Head {
                    channel: format!("{EXTRA}{name}.{index}"),
                    target: Target::Extra,
                    unit: self
                        .parts
                        .first()
                        .map(|(_, head, _)| head.unit.clone())
                        .unwrap_or_default(),
                    reference: String::new(),
                    form: String::new(),
                };
                put_private(changes, &head, &Value::Number(*number))?;
            }
        }
        for (_, head, number) in self.parts {
            put_private(changes, &head, &Value::Number(number))?;
        }
        Ok(())
    }

    /// The value with all parts, over those of `old`; `None` if it cannot hold them.
    pub fn encode(&self, layout: Kind, old: Option<&[u8]>) -> Option<Vec<u8>> {
        let before: Vec<f64> = old
            .map(|old| layout.numbers(old).collect())
            .unwrap_or_default();
        let (element, count) = match layout {
            Kind::Numbers(element, count) => (element, count),
            _ => {
                let most = self.parts.iter().map(|(index, _, _)| index + 1).max();
                (Element::Float, before.len().max(most.unwrap_or(0)))
            }
        };
        let step = if element == Element::Double { 8 } else { 4 };
        let mut value = Vec::with_capacity(count * step);
        for index in 0..count {
            let part = self.parts.iter().find(|(at, _, _)| *at == index);
            let kept = old.and_then(|old| old.get(index * step..(index + 1) * step));
            match (part, kept) {
                // Read as wanted: its bytes stay.
                (Some((_, _, number)), Some(kept))
                    if before.get(index).map(|n| n.to_bits()) == Some(number.to_bits()) =>
                {
                    value.extend(kept);
                }
                (Some((_, _, number)), _) => {
                    let element = match (element, index) {
                        (Element::Rational, 1) => {
                            let whole = number.fract() == 0.0 && number.is_sign_positive();
                            if !whole || *number > f64::from(u32::MAX) {
                                return None;
                            }
                            value.extend((*number as u32).to_le_bytes());
                            continue;
                        }
                        (Element::Rational, _) => Element::Int,
                        (element, _) => element,
                    };
                    value.extend(encode(element, *number)?);
                }
                (None, Some(kept)) => value.extend(kept),
                (None, None) => return None,
            }
        }
        Some(value)
    }
}

/// The bytes of a number; `None` if they would not be the same number.
pub fn encode(element: Element, number: f64) -> Option<Vec<u8>> {
    match element {
        Element::Int | Element::Rational => {
            let whole = number as i32;
            (f64::from(whole).to_bits() == number.to_bits()).then(|| whole.to_le_bytes().to_vec())
        }
        Element::Float => {
            let single = number as f32;
            (f64::from(single).to_bits() == number.to_bits()).then(|| single.to_le_bytes().to_vec())
        }
        Element::Double => Some(number.to_le_bytes().to_vec()),
    }
}
