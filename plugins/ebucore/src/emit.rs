//! The document as text.

use std::rc::Rc;

use ringmark_sdk::quantity::FrameRate;
use ringmark_sdk::{Failure, Output, failure};

use crate::clock::Clock;
use crate::document::NAMESPACE;
use crate::escape::{self, push_xml};
use crate::head::Head;
use crate::number;
use crate::plan::{Parameter, Texts, Values};
use crate::remarks::shown;
use crate::tokens::MAX_ITEM;

/// Bytes that are gathered before they go out.
const BUFFER: usize = 256 * 1024;

/// Longest name of a parameter, and longest unit.
const MAX_NAME: usize = 64 * 1024;

/// See the module.
pub struct Emit {
    output: Box<dyn Output>,
    buffer: Vec<u8>,
}

impl Emit {
    /// Writes to `output`.
    pub fn new(output: Box<dyn Output>) -> Self {
        Emit {
            output,
            buffer: Vec::with_capacity(BUFFER + BUFFER / 4),
        }
    }

    fn line(&mut self, depth: usize, text: &str) {
        self.buffer.extend(std::iter::repeat_n(b' ', 2 * depth));
        self.buffer.extend_from_slice(text.as_bytes());
        self.buffer.push(b'\n');
    }

    /// What comes before the first segment.
    pub fn begin(&mut self, head: &Head) {
        self.line(0, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>");
        let root = format!("<ebucore:ebuCoreMain xmlns:ebucore=\"{NAMESPACE}\" version=\"1.10\">");
        self.line(0, &root);
        self.line(1, "<ebucore:coreMetadata>");
        self.line(2, "<ebucore:format>");
        self.line(3, "<ebucore:acquisitionData>");
        let clock = head.clock;
        let (rate, factors) = rational(clock.rate);
        if let Some(start) = head.start {
            let label = clock.label(start);
            let drop = clock.drops();
            self.line(
                4,
                &format!(
                    "<ebucore:extractionStartTime editRate=\"{rate}\"{factors} dropframe=\"{drop}\">{label}</ebucore:extractionStartTime>"
                ),
            );
        }
        self.line(
            4,
            &format!(
                "<ebucore:acquisitionFrameRate{factors}>{rate}</ebucore:acquisitionFrameRate>"
            ),
        );
        self.line(4, "<ebucore:segmentParameterDataOutput>");
    }

    /// What comes behind the last segment.
    pub fn end(&mut self) {
        for (depth, name) in [
            (4, "segmentParameterDataOutput"),
            (3, "acquisitionData"),
            (2, "format"),
            (1, "coreMetadata"),
            (0, "ebuCoreMain"),
        ] {
            self.line(depth, &format!("</ebucore:{name}>"));
        }
        self.output.write(&self.buffer);
        self.buffer.clear();
    }

    /// A segment of `rows` frames from the frame of the day `start` on; `first` is the number of its
    /// first frame in the take, for messages.
    pub fn segment(
        &mut self,
        clock: Clock,
        start: u64,
        rows: usize,
        first: u64,
        parameters: impl Iterator<Item = Parameter>,
    ) -> Result<(), Failure> {
        let end = clock.moved(start, rows as i64);
        let times = format!(
            "<ebucore:segment startTime=\"{}\" endTime=\"{}\">",
            clock.label(start),
            clock.label(end)
        );
        self.line(5, &times);
        for parameter in parameters {
            self.parameter(&parameter, first)?;
            if self.buffer.len() >= BUFFER {
                self.output.write(&self.buffer);
                self.buffer.clear();
            }
        }
        self.line(5, "</ebucore:segment>");
        Ok(())
    }

    fn parameter(&mut self, parameter: &Parameter, first: u64) -> Result<(), Failure> {
        let unit = parameter.unit.as_deref();
        if parameter.name.len() > MAX_NAME || unit.is_some_and(|unit| unit.len() > MAX_NAME) {
            return Err(failure(
                format!(
                    "the name or unit of {} is longer than 64 KiB",
                    shown(&parameter.name)
                ),
                "leave the channel out",
                None,
            ));
        }
        self.buffer.extend(std::iter::repeat_n(b' ', 12));
        self.buffer.extend_from_slice(b"<ebucore:parameter name=\"");
        push_xml(&mut self.buffer, &parameter.name);
        self.buffer.push(b'"');
        let constant = match &parameter.values {
            Values::Numbers(values, _) => constant(values, |a, b| same(*a, *b)),
            Values::Items(items, _) => constant(items, |a, b| a == b),
            Values::One(_) => true,
        };
        if !constant {
            self.buffer.extend_from_slice(b" interval=\"1\"");
        }
        if let Some(unit) = unit {
            self.buffer.extend_from_slice(b" unit=\"");
            push_xml(&mut self.buffer, unit);
            self.buffer.push(b'"');
        }
        self.buffer.push(b'>');
        let shown_rows = if constant { 1 } else { usize::MAX };
        match &parameter.values {
            Values::Numbers(values, form) => {
                for (row, value) in values.iter().take(shown_rows).enumerate() {
                    if row > 0 {
                        self.buffer.push(b' ');
                    }
                    number::push(&mut self.buffer, *value, *form);
                }
            }
            Values::Items(items, texts) => {
                for (row, text) in items.iter().take(shown_rows).enumerate() {
                    if row > 0 {
                        self.buffer.push(b' ');
                    }
                    self.text(text.as_ref(), *texts, &parameter.name, first + row as u64)?;
                }
            }
            Values::One(item) => push_xml(&mut self.buffer, item),
        }
        self.buffer.extend_from_slice(b"</ebucore:parameter>\n");
        Ok(())
    }

    fn text(
        &mut self,
        text: Option<&Rc<str>>,
        texts: Texts,
        parameter: &str,
        frame: u64,
    ) -> Result<(), Failure> {
        let item = match (text, texts) {
            (None, _) => escape::ABSENT.to_owned(),
            (Some(text), Texts::Plain) => escape::plain(text),
            (Some(text), Texts::Escaped) => escape::item(text),
        };
        if item.len() > MAX_ITEM {
            return Err(failure(
                format!(
                    "frame {frame}: the text of {}, '{}', is longer than 1 MiB",
                    shown(parameter),
                    shown(&item)
                ),
                "leave the channel out, or shorten its texts",
                None,
            ));
        }
        push_xml(&mut self.buffer, &item);
        Ok(())
    }
}

/// A rate as a whole number and the factor attributes.
fn rational(rate: FrameRate) -> (u32, String) {
    let (num, den) = (rate.num(), rate.den());
    match den {
        1 => (num, String::new()),
        1001 if num.is_multiple_of(1000) => (
            num / 1000,
            " factorNumerator=\"1000\" factorDenominator=\"1001\"".to_owned(),
        ),
        _ => (
            num,
            format!(" factorNumerator=\"1\" factorDenominator=\"{den}\""),
        ),
    }
}

/// Whether two numbers are written alike.
fn same(a: f64, b: f64) -> bool {
    a.to_bits() == b.to_bits() || (a.is_nan() && b.is_nan())
}

fn constant<T>(values: &[T], same: impl Fn(&T, &T) -> bool) -> bool {
    match values.split_first() {
        Some((first, rest)) => rest.iter().all(|value| same(first, value)),
        None => true,
    }
}
