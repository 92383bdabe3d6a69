//! What belongs to one instance of a plugin: the files it was handed, what it has used up,
//! what it logged, and why it was refused something.

use std::collections::VecDeque;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use wasmtime::ResourceLimiter;

use crate::error::{HostError, Wall};
use crate::files::{Sink, Source};
use crate::inputs::Inputs;
use crate::limits::Limits;
use crate::text::clean_text;

/// How often the clock ticks. Fine enough to end a loop soon, and too coarse to be felt.
pub(crate) const TICK: Duration = Duration::from_millis(10);

/// State of one instance.
pub(crate) struct State {
    pub plugin: Arc<str>,
    pub limits: Arc<Limits>,
    pub inputs: Inputs,
    pub outputs: Vec<Box<dyn Sink>>,
    pub clock: Clock,
    pub log: Log,
    /// Why the program refused something, which then ended the plugin.
    refusal: Option<HostError>,
    /// Bytes of items that a writer was given.
    pub given: u64,
    /// Bytes of inputs that a writer may copy, counted when it copies for the first time.
    copyable: Option<u64>,
    written: u64,
    host_calls: u64,
    memory: u64,
    table_entries: u64,
}

impl State {
    pub fn new(
        plugin: Arc<str>,
        limits: Arc<Limits>,
        ticks: Arc<AtomicU64>,
        inputs: Vec<Box<dyn Source>>,
        outputs: Vec<Box<dyn Sink>>,
    ) -> Self {
        State {
            plugin,
            limits,
            inputs: Inputs::new(inputs),
            outputs,
            clock: Clock::new(ticks),
            log: Log::default(),
            refusal: None,
            given: 0,
            copyable: None,
            written: 0,
            host_calls: 0,
            memory: 0,
            table_entries: 0,
        }
    }

    /// Notes why the plugin is ended; the first reason stands.
    pub fn refuse(&mut self, reason: HostError) -> wasmtime::Error {
        let text = wasmtime::Error::msg(reason.to_string());
        self.refusal.get_or_insert(reason);
        text
    }

    fn refuse_over(&mut self, wall: Wall, allowed: u64, asked: Option<u64>) -> wasmtime::Error {
        self.refuse(HostError::limit(&self.plugin, wall, allowed, asked))
    }

    /// The reason noted, if any.
    pub fn take_refusal(&mut self) -> Option<HostError> {
        self.refusal.take()
    }

    /// Bytes that the plugin has had to work on.
    pub fn input_bytes(&self) -> u64 {
        self.inputs.seen().saturating_add(self.given)
    }

    /// Time for this file in all.
    fn time_allowed(&self) -> Duration {
        let mebibytes = u32::try_from(self.input_bytes() >> 20).unwrap_or(u32::MAX);
        let more = self.limits.time_per_mebibyte.saturating_mul(mebibytes);
        self.limits.time.saturating_add(more)
    }

    /// Ticks of work that are left, or the refusal.
    pub fn time_left(&mut self) -> Result<u64, wasmtime::Error> {
        let allowed = self.time_allowed();
        let ticks = u64::try_from(allowed.as_nanos() / TICK.as_nanos()).unwrap_or(u64::MAX);
        match ticks.max(1).checked_sub(self.clock.spent()) {
            // The engine adds it to a counter of 64 bits.
            Some(left @ 1..) => Ok(left.min(u64::MAX >> 2)),
            _ => {
                let milliseconds = u64::try_from(allowed.as_millis()).unwrap_or(u64::MAX);
                Err(self.refuse_over(Wall::Time, milliseconds, None))
            }
        }
    }

    /// Counts a call from the plugin.
    pub fn count_call(&mut self) -> wasmtime::Result<()> {
        self.host_calls += 1;
        let allowed = self
            .limits
            .host_calls
            .saturating_add(1000 * (self.inputs.count() + self.outputs.len() as u64))
            .saturating_add(self.input_bytes() / 64);
        if self.host_calls > allowed {
            return Err(self.refuse_over(Wall::HostCalls, allowed, None));
        }
        Ok(())
    }

    /// Reads from an input for the plugin.
    pub fn read(&mut self, input: u32, offset: u64, length: u32) -> wasmtime::Result<Vec<u8>> {
        let most = self.limits.read_length;
        if length > most {
            let asked = Some(u64::from(length));
            return Err(self.refuse_over(Wall::ReadLength, u64::from(most), asked));
        }
        self.clock.pause();
        let result = self.inputs.read(input, offset, length);
        self.clock.resume();
        result.map_err(|error| {
            let doing = format!("reading '{}'", self.inputs.shown_name(input));
            self.refuse(HostError::machine(&self.plugin, doing, error))
        })
    }

    /// The size of an input, for the plugin.
    pub fn size(&mut self, input: u32) -> wasmtime::Result<u64> {
        self.clock.pause();
        let result = self.inputs.size(input);
        self.clock.resume();
        result.map_err(|error| {
            let doing = format!("reading the size of '{}'", self.inputs.shown_name(input));
            self.refuse(HostError::machine(&self.plugin, doing, error))
        })
    }

    /// Counts bytes that go to an output.
    fn count_written(&mut self, bytes: u64) -> wasmtime::Result<()> {
        let copyable = self.copyable.unwrap_or(0);
        let allowed = self
            .limits
            .output
            .saturating_add(self.input_bytes().saturating_mul(self.limits.output_ratio))
            .saturating_add(copyable.saturating_mul(2));
        self.written = self.written.saturating_add(bytes);
        if self.written > allowed {
            return Err(self.refuse_over(Wall::Written, allowed, Some(self.written)));
        }
        Ok(())
    }

    /// Writes to an output for the plugin.
    pub fn write(&mut self, output: u32, bytes: &[u8]) -> wasmtime::Result<()> {
        self.count_written(bytes.len() as u64)?;
        self.clock.pause();
        let result = match self.outputs.get_mut(output as usize) {
            Some(sink) => sink.write(bytes),
            None => Ok(()),
        };
        self.clock.resume();
        result.map_err(|error| {
            self.refuse(HostError::machine(&self.plugin, "writing an output", error))
        })
    }

    /// Copies from an input to an output for the plugin.
    pub fn copy(
        &mut self,
        output: u32,
        input: u32,
        offset: u64,
        length: u64,
    ) -> wasmtime::Result<()> {
        if self.copyable.is_none() {
            let mut sum = 0u64;
            for index in 0..self.inputs.count() {
                sum = sum.saturating_add(self.size(index as u32)?);
            }
            self.copyable = Some(sum);
        }
        let held = self.size(input)?.saturating_sub(offset);
        if length > held {
            let message = format!(
                "it copies {length} bytes from '{}', which ends {} bytes before",
                self.inputs.shown_name(input),
                length - held
            );
            return Err(self.refuse(HostError::contract(&self.plugin, message)));
        }
        self.count_written(length)?;
        self.clock.pause();
        let copied = match (
            self.inputs.file_at(input, offset),
            self.outputs.get_mut(output as usize),
        ) {
            (Ok(Some(file)), Some(sink)) => sink.copy(file, length).map(Some),
            (Ok(_), _) => Ok(None),
            (Err(error), _) => Err(error),
        };
        self.clock.resume();
        let error = match copied {
            Ok(Some(copied)) if copied == length => return Ok(()),
            // The file has become shorter since its size was asked.
            Ok(Some(_)) => std::io::ErrorKind::UnexpectedEof.into(),
            Ok(None) => {
                self.written = self.written.saturating_sub(length);
                return self.copy_in_steps(output, input, offset, length);
            }
            Err(error) => error,
        };
        let doing = format!("copying from '{}'", self.inputs.shown_name(input));
        Err(self.refuse(HostError::machine(&self.plugin, doing, error)))
    }

    /// Copies what is no file on disk.
    fn copy_in_steps(
        &mut self,
        output: u32,
        input: u32,
        mut offset: u64,
        length: u64,
    ) -> wasmtime::Result<()> {
        const STEP: u64 = 1 << 18;
        let mut left = length;
        while left > 0 {
            let step = left.min(STEP).min(u64::from(self.limits.read_length)) as u32;
            let bytes = self.read(input, offset, step)?;
            self.write(output, &bytes)?;
            if bytes.is_empty() {
                let error = std::io::ErrorKind::UnexpectedEof.into();
                return Err(self.refuse(HostError::machine(&self.plugin, "copying", error)));
            }
            left -= bytes.len() as u64;
            offset += bytes.len() as u64;
        }
        Ok(())
    }
}

impl ResourceLimiter for State {
    fn memory_growing(
        &mut self,
        current: usize,
        desired: usize,
        _maximum: Option<usize>,
    ) -> wasmtime::Result<bool> {
        let more = desired.saturating_sub(current) as u64;
        let asked = self.memory.saturating_add(more);
        if asked > self.limits.memory {
            return Err(self.refuse_over(Wall::Memory, self.limits.memory, Some(asked)));
        }
        self.memory = asked;
        Ok(true)
    }

    fn table_growing(
        &mut self,
        current: usize,
        desired: usize,
        _maximum: Option<usize>,
    ) -> wasmtime::Result<bool> {
        let more = desired.saturating_sub(current) as u64;
        let asked = self.table_entries.saturating_add(more);
        if asked > self.limits.table_entries {
            let allowed = self.limits.table_entries;
            return Err(self.refuse_over(Wall::TableEntries, allowed, Some(asked)));
        }
        self.table_entries = asked;
        Ok(true)
    }

    fn instances(&self) -> usize {
        self.limits.instances
    }

    fn tables(&self) -> usize {
        self.limits.instances
    }

    fn memories(&self) -> usize {
        self.limits.instances
    }
}

/// Time spent inside the plugin, in ticks.
///
/// Ticks and not the time of day: when the machine stands still, so does the counter.
pub(crate) struct Clock {
    ticks: Arc<AtomicU64>,
    spent: u64,
    since: Option<u64>,
}

impl Clock {
    fn new(ticks: Arc<AtomicU64>) -> Self {
        Clock {
            ticks,
            spent: 0,
            since: None,
        }
    }

    fn now(&self) -> u64 {
        self.ticks.load(Ordering::Relaxed)
    }

    /// The plugin works from now on.
    pub fn resume(&mut self) {
        self.since = Some(self.now());
    }

    /// The plugin waits from now on.
    pub fn pause(&mut self) {
        self.spent = self.spent();
        self.since = None;
    }

    fn spent(&self) -> u64 {
        let running = self.since.map_or(0, |since| self.now().wrapping_sub(since));
        self.spent.saturating_add(running)
    }
}

/// The last lines that a plugin logged.
#[derive(Default)]
pub(crate) struct Log {
    lines: VecDeque<String>,
    left_out: u64,
}

impl Log {
    const LINES: usize = 16;
    const LINE_BYTES: usize = 500;
    /// So much of one text is looked at.
    const TEXT_BYTES: usize = 16 << 10;

    /// Keeps the lines of `text`.
    pub fn push(&mut self, level: &str, text: &str) {
        let mut end = text.len().min(Self::TEXT_BYTES);
        while !text.is_char_boundary(end) {
            end -= 1;
        }
        let level = clean_text(level, 16);
        for line in text.get(..end).unwrap_or_default().lines() {
            if self.lines.len() == Self::LINES {
                self.lines.pop_front();
                self.left_out += 1;
            }
            let line = clean_text(line, Self::LINE_BYTES);
            self.lines.push_back(if level.is_empty() {
                line
            } else {
                format!("{level}: {line}")
            });
        }
    }

    /// All lines in one, or nothing.
    pub fn joined(&self) -> Option<String> {
        let lines: Vec<&str> = self.lines.iter().map(String::as_str).collect();
        (!lines.is_empty()).then(|| lines.join(" | "))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn the_log_keeps_the_last_lines_and_no_controls() {
        let mut log = Log::default();
        for line in 0..100 {
            log.push("error", &format!("line {line}\u{1b}[2J\nnext"));
        }
        let text = log.joined().unwrap();
        assert!(text.contains("error: line 99[2J | error: next"));
        assert!(!text.contains("line 9[") && text.len() < 1000);
    }
}
