//! Where text goes: one output an attribute where the program gives many, else memory.

use std::ops::Range;

use ringmark_sdk::{Failure, Output, failure};

/// Bytes that are gathered before they go out.
const BUFFER: usize = 16 * 1024;

/// Bytes that are held for what has no output of its own.
const MOST_MEMORY: usize = 192 << 20;

/// The outputs. The first one begins the file, the others follow in order.
pub struct Files {
    outputs: Vec<Box<dyn Output>>,
    /// The first output that is not given away.
    free: usize,
    /// Bytes held in memory.
    held: usize,
}

/// Text on its way.
#[derive(Default)]
pub struct Sink {
    /// Its output; without one the text stays here.
    output: Option<usize>,
    /// What has not gone out.
    pub text: Vec<u8>,
    /// How much of it is accounted for.
    counted: usize,
}

impl Files {
    /// The outputs of a stage.
    pub fn new(outputs: Vec<Box<dyn Output>>) -> Self {
        Files {
            outputs,
            free: 1,
            held: 0,
        }
    }

    /// Gives away up to `wanted` outputs.
    pub fn reserve(&mut self, wanted: usize) -> Range<usize> {
        let start = self.free;
        let end = self
            .outputs
            .len()
            .min(start.saturating_add(wanted))
            .max(start);
        self.free = end;
        start..end
    }

    /// Lets text go out once there is enough of it.
    pub fn pass(&mut self, sink: &mut Sink) -> Result<(), Failure> {
        match sink.output {
            Some(output) if sink.text.len() >= BUFFER => {
                self.write(output, &sink.text);
                sink.text.clear();
            }
            Some(_) => {}
            None => {
                self.held += sink.text.len().saturating_sub(sink.counted);
                sink.counted = sink.text.len();
                if self.held > MOST_MEMORY {
                    return Err(failure(
                        format!(
                            "more than {} MiB of samples have to be held in memory, as there are too few outputs for all attributes",
                            MOST_MEMORY >> 20
                        ),
                        "convert the takes one by one, and fewer extras with them",
                        None,
                    ));
                }
            }
        }
        Ok(())
    }

    /// Ends a sink: its text goes to its output, or behind `rest`.
    pub fn end(&mut self, sink: Sink, rest: &mut Vec<u8>) {
        match sink.output {
            Some(output) => self.write(output, &sink.text),
            None => rest.extend_from_slice(&sink.text),
        }
    }

    /// Appends to an output.
    pub fn write(&mut self, output: usize, text: &[u8]) {
        if let Some(output) = self.outputs.get_mut(output).filter(|_| !text.is_empty()) {
            output.write(text);
        }
    }
}

impl Sink {
    /// Its output.
    #[cfg(test)]
    pub fn output(&self) -> Option<usize> {
        self.output
    }

    /// A sink to an output, or to memory.
    pub fn new(output: Option<usize>) -> Self {
        Sink {
            output,
            ..Sink::default()
        }
    }
}
