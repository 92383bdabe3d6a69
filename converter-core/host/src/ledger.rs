//! Checks of what a plugin delivers: lengths, indices, offsets, order, and how much it is.
//!
//! Whether names of channels and units are known is not asked here.

use std::sync::Arc;

use ringmark_model::raw::{
    RawColumn, RawDatum, RawFact, RawFrames, RawItem, RawLabels, RawLens, RawPlace, RawRemark,
    RawTake,
};

use crate::error::{Failure, HostError, Wall};
use crate::inputs::Inputs;
use crate::limits::Limits;
use crate::state::State;
use crate::text::{clean_in_place, clean_text};

/// Bytes of the longest name (channel, unit, fact, ...).
const NAME_BYTES: usize = 1024;
/// Bytes of the longest message.
const MESSAGE_BYTES: usize = 4096;
/// 'Not recorded' in an index of labels.
const NOT_RECORDED: u32 = u32::MAX;

/// What was delivered so far from one file.
pub(crate) struct Ledger {
    plugin: Arc<str>,
    limits: Arc<Limits>,
    lenses: u32,
    /// Frames of each take.
    takes: Vec<u64>,
    items: u64,
    remarks: u64,
    text: u64,
    bytes: u64,
    empty_batches: u32,
}

impl Ledger {
    pub fn new(state: &State) -> Self {
        Ledger {
            plugin: state.plugin.clone(),
            limits: state.limits.clone(),
            lenses: 0,
            takes: Vec::new(),
            items: 0,
            remarks: 0,
            text: 0,
            bytes: 0,
            empty_batches: 0,
        }
    }

    /// Checks an item and counts it. Messages and names are cleaned of control characters; texts
    /// that are data stay as they are.
    pub fn admit(&mut self, item: &mut RawItem, inputs: &mut Inputs) -> Result<(), HostError> {
        self.items += 1;
        self.within(Wall::Items, self.limits.items, self.items)?;
        let size = match item {
            RawItem::Lens(lens) => self.lens(lens, inputs)?,
            RawItem::Take(take) => self.take(take, inputs)?,
            RawItem::Frames(frames) => self.frames(frames, inputs)?,
            RawItem::Remark(remark) => self.remark(remark, inputs)?,
        };
        let bytes = size.text.saturating_add(size.numbers);
        self.within(Wall::ItemBytes, self.limits.item_bytes, bytes)?;
        self.text = self.text.saturating_add(size.text);
        self.bytes = self.bytes.saturating_add(bytes);
        let limits = self.limits.clone();
        let grown =
            |base: u64, ratio: u64| base.saturating_add(inputs.seen().saturating_mul(ratio));
        self.within(Wall::Text, grown(limits.text, limits.text_ratio), self.text)?;
        self.within(
            Wall::Delivered,
            grown(limits.output, limits.output_ratio),
            self.bytes,
        )
    }

    fn within(&self, wall: Wall, allowed: u64, asked: u64) -> Result<(), HostError> {
        if asked > allowed {
            return Err(HostError::limit(&self.plugin, wall, allowed, Some(asked)));
        }
        Ok(())
    }

    fn broken(&self, message: impl Into<String>) -> HostError {
        HostError::contract(&self.plugin, message)
    }

    fn lens(&mut self, lens: &mut RawLens, inputs: &mut Inputs) -> Result<Size, HostError> {
        self.lenses += 1;
        let (allowed, asked) = (u64::from(self.limits.lenses), u64::from(self.lenses));
        self.within(Wall::Lenses, allowed, asked)?;
        let mut size = Size::default();
        self.facts(&mut lens.facts, inputs, &mut size)?;
        for ring in &mut lens.rings {
            self.name(&mut ring.axis, &mut size)?;
            self.name(&mut ring.position_unit, &mut size)?;
            self.name(&mut ring.value_unit, &mut size)?;
            self.facts(&mut ring.facts, inputs, &mut size)?;
            for mark in &mut ring.marks {
                size.numbers += 16;
                size.text += mark.engraved.len() as u64;
                self.place(&mut mark.at, inputs, &mut size)?;
            }
        }
        for table in &mut lens.tables {
            self.name(&mut table.name, &mut size)?;
            self.facts(&mut table.facts, inputs, &mut size)?;
            let rows = table.columns.first().map_or(0, |c| c.values.len());
            for column in &mut table.columns {
                self.column(column, rows, &mut size)?;
            }
        }
        Ok(size)
    }

    fn take(&mut self, take: &mut RawTake, inputs: &mut Inputs) -> Result<Size, HostError> {
        self.takes.push(0);
        let (allowed, asked) = (u64::from(self.limits.takes), self.takes.len() as u64);
        self.within(Wall::Takes, allowed, asked)?;
        if let Some(lens) = take.lens
            && lens >= self.lenses
        {
            return Err(self.broken(format!(
                "a take refers to lens {lens}, but {} lenses were delivered",
                self.lenses
            )));
        }
        let mut size = Size::default();
        self.facts(&mut take.facts, inputs, &mut size)?;
        Ok(size)
    }

    fn remark(&mut self, remark: &mut RawRemark, inputs: &mut Inputs) -> Result<Size, HostError> {
        self.remarks += 1;
        self.within(Wall::Remarks, self.limits.remarks, self.remarks)?;
        let mut size = Size::default();
        self.name(&mut remark.severity, &mut size)?;
        self.name(&mut remark.check, &mut size)?;
        clean_in_place(&mut remark.message, MESSAGE_BYTES);
        clean_in_place(&mut remark.help, MESSAGE_BYTES);
        size.text += (remark.message.len() + remark.help.len()) as u64;
        self.place(&mut remark.at, inputs, &mut size)?;
        Ok(size)
    }

    fn frames(&mut self, frames: &mut RawFrames, inputs: &mut Inputs) -> Result<Size, HostError> {
        let limits = self.limits.clone();
        let count = frames.count as usize;
        let (allowed, asked) = (u64::from(limits.batch_frames), u64::from(frames.count));
        self.within(Wall::BatchFrames, allowed, asked)?;
        if frames.count == 0 {
            self.empty_batches += 1;
            let (allowed, asked) = (limits.empty_batches, self.empty_batches);
            self.within(Wall::EmptyBatches, u64::from(allowed), u64::from(asked))?;
        } else {
            self.empty_batches = 0;
        }
        let Some(delivered) = self.takes.get(frames.take as usize).copied() else {
            return Err(self.broken(format!(
                "frames of take {}, but {} takes were delivered",
                frames.take,
                self.takes.len()
            )));
        };
        if frames.first != delivered {
            return Err(self.broken(format!(
                "a batch of take {} starts at frame {}, but {delivered} frames came before it",
                frames.take, frames.first
            )));
        }

        // A frame without any column counts too.
        let mut size = Size {
            text: 0,
            numbers: 8 * count as u64,
        };
        for column in &mut frames.columns {
            self.column(column, count, &mut size)?;
        }
        for labels in &mut frames.labels {
            self.labels(labels, count, &mut size)?;
        }
        size.numbers += (4 * frames.inputs.len() + 8 * frames.offsets.len()) as u64;
        self.frame_places(frames, inputs)?;
        if let Some(delivered) = self.takes.get_mut(frames.take as usize) {
            *delivered = delivered.saturating_add(u64::from(frames.count));
        }
        Ok(size)
    }

    fn column(
        &self,
        column: &mut RawColumn,
        rows: usize,
        size: &mut Size,
    ) -> Result<(), HostError> {
        self.name(&mut column.channel, size)?;
        self.name(&mut column.unit, size)?;
        self.name(&mut column.reference, size)?;
        size.numbers += 8 * column.values.len() as u64;
        if column.values.len() != rows {
            return Err(self.broken(format!(
                "column '{}' has {} values where {rows} are expected",
                column.channel,
                column.values.len()
            )));
        }
        Ok(())
    }

    fn labels(
        &self,
        labels: &mut RawLabels,
        count: usize,
        size: &mut Size,
    ) -> Result<(), HostError> {
        self.name(&mut labels.channel, size)?;
        self.name(&mut labels.form, size)?;
        size.text += labels.text.len() as u64;
        size.numbers += 4 * (labels.ends.len() + labels.index.len()) as u64;
        let channel = &labels.channel;
        if labels.index.len() != count {
            return Err(self.broken(format!(
                "labels '{channel}' have {} entries where {count} are expected",
                labels.index.len()
            )));
        }
        let mut before = 0;
        for &end in &labels.ends {
            if end < before || !labels.text.is_char_boundary(end as usize) {
                return Err(self.broken(format!(
                    "labels '{channel}': no text can end at byte {end} of {}, after {before}",
                    labels.text.len()
                )));
            }
            before = end;
        }
        if before as usize != labels.text.len() {
            return Err(self.broken(format!(
                "labels '{channel}': the texts end at byte {before}, but there are {} bytes",
                labels.text.len()
            )));
        }
        let texts = labels.ends.len();
        let most = labels
            .index
            .iter()
            .map(|&index| if index == NOT_RECORDED { 0 } else { index })
            .max();
        let one_is_used = || labels.index.iter().any(|&index| index != NOT_RECORDED);
        if let Some(most) = most
            && most as usize >= texts
            && one_is_used()
        {
            return Err(self.broken(format!(
                "labels '{channel}' pick text {most}, but there are {texts}"
            )));
        }
        Ok(())
    }

    /// Offsets and inputs of frames; without branches in the loops where all is well.
    fn frame_places(&self, frames: &RawFrames, inputs: &mut Inputs) -> Result<(), HostError> {
        let count = frames.count as usize;
        for (what, length) in [
            ("inputs", frames.inputs.len()),
            ("offsets", frames.offsets.len()),
        ] {
            if length != 0 && length != count {
                return Err(
                    self.broken(format!("a batch of {count} frames states {length} {what}"))
                );
            }
        }
        if let Some(&most) = frames.inputs.iter().max()
            && u64::from(most) >= inputs.count()
        {
            return Err(self.broken(format!(
                "frames of input {most}, but there are {} inputs",
                inputs.count()
            )));
        }
        if frames.inputs.is_empty() {
            if let Some(&most) = frames.offsets.iter().max() {
                self.offset(0, most, inputs)?;
            }
        } else {
            for (&input, &offset) in frames.inputs.iter().zip(&frames.offsets) {
                if inputs.reach(input).is_none_or(|reach| offset > reach) {
                    self.offset(input, offset, inputs)?;
                }
            }
        }
        Ok(())
    }

    fn offset(&self, input: u32, offset: u64, inputs: &mut Inputs) -> Result<(), HostError> {
        if inputs.holds(input, offset) {
            return Ok(());
        }
        Err(self.broken(format!(
            "it states byte {offset} of input {input}, which does not exist"
        )))
    }

    fn facts(
        &self,
        facts: &mut [RawFact],
        inputs: &mut Inputs,
        size: &mut Size,
    ) -> Result<(), HostError> {
        for fact in facts {
            self.name(&mut fact.name, size)?;
            self.name(&mut fact.unit, size)?;
            match &fact.value {
                RawDatum::Number(_) => size.numbers += 8,
                RawDatum::Text(text) => size.text += text.len() as u64,
            }
            self.place(&mut fact.at, inputs, size)?;
        }
        Ok(())
    }

    /// Cleans a name and counts it.
    fn name(&self, name: &mut String, size: &mut Size) -> Result<(), HostError> {
        if name.len() > NAME_BYTES {
            let start = clean_text(name, 40);
            return Err(self.broken(format!(
                "a name of {} bytes ('{start}'), allowed are {NAME_BYTES}",
                name.len()
            )));
        }
        clean_in_place(name, NAME_BYTES);
        // Each name costs the program its place in memory too.
        size.text += name.len() as u64;
        size.numbers += 24;
        Ok(())
    }

    fn place(
        &self,
        place: &mut Option<RawPlace>,
        inputs: &mut Inputs,
        size: &mut Size,
    ) -> Result<(), HostError> {
        let Some(place) = place else { return Ok(()) };
        size.numbers += 40;
        size.text += place.field.len() as u64;
        clean_in_place(&mut place.field, NAME_BYTES);
        if !exists(place, inputs) {
            return Err(self.broken(format!(
                "it states bytes {} to {} of input {}, which do not exist",
                place.offset,
                place.offset.saturating_add(place.length),
                place.input
            )));
        }
        Ok(())
    }
}

/// Bytes of an item.
#[derive(Default)]
struct Size {
    text: u64,
    numbers: u64,
}

fn exists(place: &RawPlace, inputs: &mut Inputs) -> bool {
    place
        .offset
        .checked_add(place.length)
        .is_some_and(|end| inputs.holds(place.input, end))
}

/// The plugin's own error about a file, its texts cleaned and its place checked.
pub(crate) fn failure(
    message: &str,
    help: &str,
    mut place: Option<RawPlace>,
    state: &mut State,
) -> HostError {
    let mut message = clean_text(message, MESSAGE_BYTES);
    if let Some(place) = &mut place {
        clean_in_place(&mut place.field, NAME_BYTES);
        if !exists(place, &mut state.inputs) {
            return HostError::contract(
                &state.plugin,
                format!(
                    "it says '{message}' about byte {} of input {}, which does not exist",
                    place.offset, place.input
                ),
            );
        }
    }
    if message.is_empty() {
        message.push_str("it cannot go on, and does not say why");
    }
    HostError::Input(Box::new(Failure {
        plugin: state.plugin.to_string(),
        message,
        help: clean_text(help, MESSAGE_BYTES),
        place,
    }))
}
