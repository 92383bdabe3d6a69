//! The lens does not change while the camera runs.

use ringmark_model::{Channel, NO_LABEL, Severity, TextColumn};

use crate::info::{CheckInfo, Family};
use crate::ranges::Span;
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::Fill;

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "lens-changes-in-take",
        title: "The lens changes inside a take",
        severity: Severity::Error,
        family: Family::Identity,
        since: "0.1.0",
        explanation: include_str!("lens_changes_in_take.md"),
        thresholds: &[],
    },
    lens: None,
    take: Some(|_| Some(Box::<LensChanges>::default())),
};

pub(crate) const CHANNELS: [Channel; 4] = [Channel::Lens, Channel::LensMaker, Channel::LensModel, Channel::LensSerial];

#[derive(Default)]
struct LensChanges {
    names: [Name; 4],
}

#[derive(Default)]
struct Name {
    /// The first name of the take.
    first: Option<String>,
    /// Frames under another name.
    open: Option<(Span, String)>,
}

impl Watch for LensChanges {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        for (channel, name) in CHANNELS.into_iter().zip(&mut self.names) {
            if let Some(texts) = batch.batch.texts(channel) {
                name.frames(texts, channel, take, batch, out);
            }
        }
    }

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        for (channel, name) in CHANNELS.into_iter().zip(&mut self.names) {
            name.close(channel, take, out);
        }
    }
}

impl Name {
    fn frames(&mut self, texts: &TextColumn, channel: Channel, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        // Equal neighbours share an entry: texts are compared only where the entry changes.
        let mut before = (NO_LABEL, self.open.is_some());
        for (at, &index) in texts.index.iter().enumerate() {
            if index == NO_LABEL {
                continue;
            }
            if index != before.0 {
                let text = texts.entry(index).unwrap_or_default().trim();
                let first = self.first.get_or_insert_with(|| text.to_owned());
                let other = first != text;
                if let Some((span, _)) = self.open.as_mut().filter(|(_, open)| !other || open != text) {
                    span.seal(batch);
                    self.close(channel, take, out);
                }
                if other && self.open.is_none() {
                    self.open = Some((Span::at(batch.mark_at(at)), text.to_owned()));
                    before = (index, true);
                    continue;
                }
                before = (index, other);
            }
            if before.1
                && let Some((span, _)) = &mut self.open
            {
                span.extend(batch.frame(at));
            }
        }
        if let Some((span, _)) = &mut self.open {
            span.seal(batch);
        }
    }

    fn close(&mut self, channel: Channel, take: &TakeView<'_>, out: &mut Report<'_>) {
        let (Some((span, name)), Some(first)) = (self.open.take(), self.first.as_deref()) else { return };
        out.add(Severity::Error, take.subject(), |finding| {
            let message = format!("{} changes from “{first}” to “{name}” while the take runs", channel.name().replace('-', " "));
            let help = "look for two takes in one record; if the lens was changed between them, split the record there";
            span.put(finding.says(message).help(help))
        });
    }
}
