//! Builds batches of frames, column by column.

use crate::{Column, Frames, Labels, NO_LABEL};

/// Texts of one channel while a batch is filled. Neighbouring equal texts are stored once.
#[derive(Debug, Clone)]
pub struct LabelColumn {
    channel: String,
    form: &'static str,
    text: String,
    ends: Vec<u32>,
    index: Vec<u32>,
}

impl LabelColumn {
    /// An empty column of plain text.
    pub fn text(channel: impl Into<String>) -> Self {
        Self::with_form(channel, "text")
    }

    /// An empty column whose texts are `text`, `json` or `hex`.
    pub fn with_form(channel: impl Into<String>, form: &'static str) -> Self {
        LabelColumn {
            channel: channel.into(),
            form,
            text: String::new(),
            ends: Vec::new(),
            index: Vec::new(),
        }
    }

    /// Adds the text of the next frame.
    pub fn push(&mut self, text: &str) {
        let last = self.ends.len();
        if last > 0 && self.last_text() == text {
            self.index.push(last as u32 - 1);
            return;
        }
        self.text.push_str(text);
        self.ends.push(self.text.len() as u32);
        self.index.push(last as u32);
    }

    /// The next frame has no text.
    pub fn push_absent(&mut self) {
        self.index.push(NO_LABEL);
    }

    /// Frames so far.
    pub fn len(&self) -> usize {
        self.index.len()
    }

    /// Whether no frame was added.
    pub fn is_empty(&self) -> bool {
        self.index.is_empty()
    }

    fn last_text(&self) -> &str {
        let start = match self.ends.len() {
            0 | 1 => 0,
            n => self.ends[n - 2] as usize,
        };
        &self.text[start..]
    }

    /// The labels of this batch; the column is empty again.
    pub fn take(&mut self) -> Labels {
        Labels {
            channel: self.channel.clone(),
            form: self.form.to_owned(),
            text: std::mem::take(&mut self.text),
            ends: std::mem::take(&mut self.ends),
            index: std::mem::take(&mut self.index),
        }
    }
}

/// Numbers of one channel while a batch is filled. NaN is 'not recorded'.
#[derive(Debug, Clone)]
pub struct NumberColumn {
    channel: String,
    unit: String,
    reference: String,
    /// One value a frame.
    pub values: Vec<f64>,
}

impl NumberColumn {
    /// An empty column; `reference` is empty for channels that are no distance.
    pub fn new(
        channel: impl Into<String>,
        unit: impl Into<String>,
        reference: impl Into<String>,
    ) -> Self {
        NumberColumn {
            channel: channel.into(),
            unit: unit.into(),
            reference: reference.into(),
            values: Vec::new(),
        }
    }

    /// The column of this batch; empty again, with room for as many frames.
    pub fn take(&mut self) -> Column {
        let room = self.values.len();
        Column {
            channel: self.channel.clone(),
            unit: self.unit.clone(),
            reference: self.reference.clone(),
            values: std::mem::replace(&mut self.values, Vec::with_capacity(room)),
        }
    }
}

/// The text of frame `frame` in `labels`; `None` where it is not recorded or the labels are damaged.
pub fn label_text(labels: &Labels, frame: usize) -> Option<&str> {
    let index = *labels.index.get(frame)? as usize;
    let end = *labels.ends.get(index)? as usize;
    let start = match index {
        0 => 0,
        i => *labels.ends.get(i - 1)? as usize,
    };
    labels.text.get(start..end)
}

/// The column of `channel`, if the batch has it.
pub fn column<'a>(frames: &'a Frames, channel: &str) -> Option<&'a Column> {
    frames.columns.iter().find(|c| c.channel == channel)
}

/// The labels of `channel`, if the batch has them.
pub fn labels<'a>(frames: &'a Frames, channel: &str) -> Option<&'a Labels> {
    frames.labels.iter().find(|l| l.channel == channel)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn equal_neighbours_share_a_text() {
        let mut column = LabelColumn::text("lens");
        for text in ["A", "A", "", "B", "B"] {
            column.push(text);
        }
        column.push_absent();
        let labels = column.take();
        assert_eq!(labels.text, "AB");
        assert_eq!(labels.index, [0, 0, 1, 2, 2, NO_LABEL]);
        let read: Vec<_> = (0..6).map(|i| label_text(&labels, i)).collect();
        assert_eq!(
            read,
            [Some("A"), Some("A"), Some(""), Some("B"), Some("B"), None]
        );
    }
}
