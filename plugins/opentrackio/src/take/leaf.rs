//! One value after the other goes to its column or fact; what fits nowhere is kept as an extra.

use super::roles::{Role, form_of};
use super::{IDENTITY, NONE, Take};
use crate::aside::{self, ColumnForm};
use crate::fields::{self, FactForm, RatioPart};
use crate::remarks::Severity;
use crate::sample::{Sample, Value};
use crate::statics::Offer;
use crate::timecode::MAX_PART;

/// Ending of the column for values that are of another kind than most at their place.
const OTHER_KIND: &str = ".\\json";

impl Take {
    pub(super) fn leaf(&mut self, sample: &Sample, node: u32, value: Value<'_>) {
        match (self.roles[node as usize], value) {
            (Role::Extra, _) => self.extra(sample, node, value),
            (Role::Channel(column), Value::Number(number)) => {
                self.columns.set_number(column, self.frame, number);
            }
            (Role::FirstRadial(column), Value::Number(number)) => {
                self.first_radial_seen = true;
                self.columns.set_number(column, self.frame, number);
            }
            (Role::Held(column), Value::Number(number)) => {
                self.columns.hold(column, number);
            }
            (Role::Ratio(ratio, part), Value::Number(number)) => {
                let part = usize::from(part == RatioPart::Denom);
                self.ratios[ratio].parts[part] = Some((node, number));
            }
            (Role::Timecode(4), Value::Json("true")) => self.timecode[4] = Some((node, 1)),
            (Role::Timecode(4), Value::Json("false")) => self.timecode[4] = Some((node, 0)),
            (Role::Timecode(part @ 0..4), Value::Number(number))
                if number >= 0.0 && number <= f64::from(MAX_PART) && number.fract() == 0.0 =>
            {
                self.timecode[part] = Some((node, number as u32));
            }
            (Role::Fact(slot, FactForm::Text), Value::Text(text)) => {
                let offer = self.statics.offer_text(slot, text, false, self.offset);
                self.settle(offer, sample, node, value);
            }
            (Role::DistortionModel(slot), Value::Text(text)) => {
                self.model_seen = true;
                let offer = self.statics.offer_text(slot, text, false, self.offset);
                self.settle(offer, sample, node, value);
            }
            (
                Role::Fact(slot, FactForm::Number(_) | FactForm::PrimeFocalLength),
                Value::Number(n),
            ) => {
                let offer = self.statics.offer_number(slot, n, self.offset);
                self.settle(offer, sample, node, value);
            }
            (Role::Identity(slot, which), Value::Text(text)) => self.identity(slot, which, text),
            (Role::StaticExtra(slot), _) => {
                let offer = match value {
                    Value::Number(number) => self.statics.offer_number(slot, number, self.offset),
                    Value::Text(text) => self.statics.offer_text(slot, text, false, self.offset),
                    Value::Json(text) => self.statics.offer_text(slot, text, true, self.offset),
                };
                self.settle(offer, sample, node, value);
            }
            (Role::PrivateChannel, _) => self.private_channel(sample, node, value),
            (Role::Protocol | Role::Unresolved, _) => {}
            (role, _) => {
                let wanted = match role {
                    Role::Timecode(4) => "true or false",
                    Role::Timecode(_) | Role::Ratio(..) => "a whole number",
                    Role::Fact(_, FactForm::Text)
                    | Role::DistortionModel(_)
                    | Role::Identity(..) => "a text",
                    _ => "a number",
                };
                let at = self.place();
                self.remarks.add(
                    Severity::Error,
                    "wrong-type",
                    node,
                    || {
                        format!(
                            "{} is {}, it should be {wanted}",
                            sample.path(node),
                            shown(value)
                        )
                    },
                    "the value was kept as an extra and not used",
                    at,
                );
                self.extra(sample, node, value);
            }
        }
    }

    /// A value that is no fact is kept frame by frame.
    pub(super) fn settle(&mut self, offer: Offer, sample: &Sample, node: u32, value: Value<'_>) {
        let at = self.place();
        match offer {
            Offer::Kept => return,
            Offer::Absent => {}
            Offer::Differs => self.remarks.add(
                Severity::Warning,
                "fact-changes",
                node,
                || {
                    format!(
                        "{} changes to {} within the take",
                        sample.path(node),
                        shown(value)
                    )
                },
                "the first value is the take's; the others were kept as an extra of their frames",
                at,
            ),
            Offer::Late => self.remarks.add(
                Severity::Note,
                "fact-late",
                node,
                || {
                    format!(
                        "{} comes up only after frame {}",
                        sample.path(node),
                        self.first
                    )
                },
                "it was kept as an extra of its frames, not as a fact of the take",
                at,
            ),
        }
        self.extra(sample, node, value);
    }

    fn identity(&mut self, slot: usize, which: usize, text: &str) {
        let offer = self.statics.offer_text(slot, text, false, self.offset);
        if offer != Offer::Kept && !self.lens_changes {
            self.lens_changes = true;
            let places = IDENTITY.iter().zip(&mut self.identity);
            for ((place, channel), current) in places {
                let Some((field, _)) = fields::fact_at(place) else {
                    continue;
                };
                let known = self.statics.known(field);
                if let Some(before) = self.statics.text(known) {
                    let column = self.columns.named(channel, ColumnForm::Text);
                    self.columns.fill_text(column, self.frame, before);
                    *current = Some(before.to_owned());
                }
            }
        }
        if self.lens_changes && self.identity[which].as_deref() != Some(text) {
            self.identity[which] = Some(text.to_owned());
        }
    }

    fn private_channel(&mut self, sample: &Sample, node: u32, value: Value<'_>) {
        let column = self.extra_of[node as usize];
        let frame = self.frame;
        match (self.columns.form(column), value) {
            (ColumnForm::Number, Value::Number(number)) => {
                self.columns.set_number(column, frame, number);
            }
            (ColumnForm::Number, Value::Json("null")) => {
                self.columns.set_number(column, frame, f64::NAN);
            }
            (ColumnForm::Number, Value::Text(text)) if aside::special_number(text).is_some() => {
                let number = aside::special_number(text).unwrap_or(f64::NAN);
                self.columns.set_number(column, frame, number);
            }
            (ColumnForm::Text | ColumnForm::Json | ColumnForm::Hex, Value::Text(text)) => {
                self.columns.set_text(column, frame, text);
            }
            _ => {
                let at = self.place();
                self.remarks.add(
                    Severity::Error,
                    "wrong-type",
                    node,
                    || format!("{} does not fit what this column holds", sample.path(node)),
                    "the private part was changed by hand; the value was kept as an extra",
                    at,
                );
                let name = format!("extra/{}", sample.path(node));
                self.put(&name, value);
            }
        }
    }

    pub(super) fn extra(&mut self, sample: &Sample, node: u32, value: Value<'_>) {
        let known = self.extra_of[node as usize];
        if known == NONE {
            let name = format!("extra/{}", self.path(sample, node));
            self.extra_of[node as usize] = self.columns.named(&name, form_of(value));
        }
        let column = self.extra_of[node as usize];
        if !self.set(column, value) {
            let name = format!("extra/{}", self.path(sample, node));
            self.put(&name, value);
        }
    }

    /// Sets a column by name; a value of another kind goes to a second column beside it.
    pub(super) fn put(&mut self, name: &str, value: Value<'_>) {
        let column = self.columns.named(name, form_of(value));
        if self.set(column, value) {
            return;
        }
        let other = self
            .columns
            .named(&format!("{name}{OTHER_KIND}"), ColumnForm::Json);
        let json = match value {
            Value::Number(number) => serde_json::to_string(&number),
            Value::Text(text) => serde_json::to_string(text),
            Value::Json(text) => Ok(text.to_owned()),
        };
        self.columns
            .set_text(other, self.frame, &json.unwrap_or_default());
    }

    fn set(&mut self, column: usize, value: Value<'_>) -> bool {
        if self.columns.form(column) != form_of(value) {
            return false;
        }
        match value {
            Value::Number(number) => self.columns.set_number(column, self.frame, number),
            Value::Text(text) | Value::Json(text) => {
                self.columns.set_text(column, self.frame, text);
            }
        }
        true
    }
}

/// A value as a message shows it.
fn shown(value: Value<'_>) -> String {
    match value {
        Value::Number(number) => number.to_string(),
        Value::Text(text) => format!("\"{}\"", text.chars().take(40).collect::<String>()),
        Value::Json(text) => text.to_owned(),
    }
}
