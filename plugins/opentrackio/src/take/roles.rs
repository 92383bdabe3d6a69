//! What the value at each place of a sample is.

use super::{IDENTITY, NONE, Take};
use crate::aside::ColumnForm;
use crate::fields::{self, FactForm, RatioPart};
use crate::sample::{Sample, Value};

/// What the value at a place is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Role {
    Unresolved,
    Protocol,
    Channel(usize),
    Held(usize),
    FirstRadial(usize),
    Fact(usize, FactForm),
    DistortionModel(usize),
    Identity(usize, usize),
    Ratio(usize, RatioPart),
    /// Hours, minutes, seconds, frames, drop-frame.
    Timecode(usize),
    StaticExtra(usize),
    PrivateChannel,
    Extra,
}

const TIMECODE_KEYS: [&str; 5] = ["hours", "minutes", "seconds", "frames", "dropFrame"];

impl Take {
    /// Finds out what new places are.
    pub(super) fn resolve(&mut self, sample: &Sample) {
        self.roles.resize(sample.places(), Role::Unresolved);
        self.extra_of.resize(sample.places(), NONE);
        for index in 0..sample.len() {
            let (node, value) = sample.leaf(index);
            if self.roles[node as usize] == Role::Unresolved {
                self.roles[node as usize] = self.role(sample, node, value);
            }
        }
    }

    fn role(&mut self, sample: &Sample, node: u32, value: Value<'_>) -> Role {
        if let Some(channel) = sample.private_channel(node) {
            // Unknown to this file's declarations: what the value is decides.
            self.extra_of[node as usize] = self.columns.named(channel, form_of(value));
            return Role::PrivateChannel;
        }
        let path = self.path(sample, node);
        if path == "protocol" || path.starts_with("protocol.") {
            return Role::Protocol;
        }
        if let Some(field) = fields::channel_at(&path) {
            let column = self.columns.named(field.channel, ColumnForm::Number);
            return match field {
                _ if field.holds => Role::Held(column),
                _ if field.path == fields::FIRST_RADIAL => Role::FirstRadial(column),
                _ => Role::Channel(column),
            };
        }
        if let Some((field, part)) = fields::fact_at(&path) {
            if part != RatioPart::None {
                let ratio = self.ratios.iter().position(|r| r.path == field.path);
                return ratio.map_or(Role::Extra, |ratio| Role::Ratio(ratio, part));
            }
            let slot = self.statics.known(field);
            if let Some(which) = IDENTITY.iter().position(|(place, _)| *place == path) {
                return Role::Identity(slot, which);
            }
            return match field.fact {
                "distortion-model" => Role::DistortionModel(slot),
                _ => Role::Fact(slot, field.form),
            };
        }
        if let Some(key) = path.strip_prefix(fields::TIMECODE)
            && let Some(part) = TIMECODE_KEYS
                .iter()
                .position(|k| key.strip_prefix('.') == Some(k))
        {
            return Role::Timecode(part);
        }
        if path.starts_with("static.") {
            return Role::StaticExtra(self.statics.other(&format!("extra/{path}")));
        }
        Role::Extra
    }

    /// Name of a place as 1.0 has it.
    pub(super) fn path(&self, sample: &Sample, node: u32) -> String {
        self.version.current_path(sample.path(node))
    }
}

/// The form of the column that a value belongs to.
pub(super) fn form_of(value: Value<'_>) -> ColumnForm {
    match value {
        Value::Number(_) => ColumnForm::Number,
        Value::Text(_) => ColumnForm::Text,
        Value::Json(_) => ColumnForm::Json,
    }
}
