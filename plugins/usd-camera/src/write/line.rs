//! One attribute while it is written.
//!
//! Equal neighbours are one run. A run of numbers is two samples, its ends, between which
//! interpolation gives the same number; a run of anything else is one sample, which holds. What
//! never changes becomes a plain value, which is known only at the end: so the first run waits.

use ringmark_sdk::Failure;

use super::files::{Files, Sink};
use crate::kept::STEP;
use crate::text::{push_double, push_float, push_key, push_text};

/// What an attribute holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Of {
    /// `float`
    Float,
    /// `double`
    Double,
    /// `bool`
    Bool,
    /// `string`
    Text,
}

impl Of {
    fn name(self) -> &'static str {
        match self {
            Of::Float => "float",
            Of::Double => "double",
            Of::Bool => "bool",
            Of::Text => "string",
        }
    }
}

#[derive(Debug, Clone, PartialEq)]
enum Value {
    Nothing,
    Number(f64),
    Text(String),
}

struct Run {
    value: Value,
    first: i64,
    last: i64,
}

/// An attribute.
pub struct Line {
    of: Of,
    /// `custom double ringmark:tStop`
    declaration: String,
    /// Entries of the dictionary beside it.
    aside: Vec<(&'static str, String)>,
    sink: Sink,
    run: Option<Run>,
    /// Whether samples were written.
    open: bool,
}

impl Line {
    /// An attribute of the schema.
    pub fn of_schema(of: Of, name: &str, sink: Sink) -> Self {
        Line {
            of,
            declaration: format!("{STEP}{} {name}", of.name()),
            aside: Vec::new(),
            sink,
            run: None,
            open: false,
        }
    }

    /// An attribute outside the schema.
    pub fn custom(of: Of, name: &str, sink: Sink) -> Self {
        Line {
            declaration: format!("{STEP}custom {} {name}", of.name()),
            ..Line::of_schema(of, name, sink)
        }
    }

    /// Adds an entry to the dictionary beside it; nothing for an empty text.
    pub fn with(mut self, key: &'static str, text: &str) -> Self {
        if !text.is_empty() {
            self.aside.push((key, text.to_owned()));
        }
        self
    }

    /// The value of the next frame; NaN is none.
    pub fn number(&mut self, key: i64, value: f64) {
        let same = match &self.run {
            Some(run) => match run.value {
                Value::Number(number) => number.to_bits() == value.to_bits(),
                Value::Nothing => value.is_nan(),
                Value::Text(_) => false,
            },
            None => false,
        };
        if same {
            self.longer(key);
        } else if value.is_nan() {
            self.begin(key, Value::Nothing);
        } else {
            self.begin(key, Value::Number(value));
        }
    }

    /// The text of the next frame.
    pub fn text(&mut self, key: i64, text: Option<&str>) {
        let same = match (&self.run, text) {
            (Some(run), Some(text)) => matches!(&run.value, Value::Text(t) if t == text),
            (Some(run), None) => run.value == Value::Nothing,
            (None, _) => false,
        };
        if same {
            self.longer(key);
        } else {
            self.begin(
                key,
                text.map_or(Value::Nothing, |t| Value::Text(t.to_owned())),
            );
        }
    }

    fn longer(&mut self, key: i64) {
        if let Some(run) = &mut self.run {
            run.last = key;
        }
    }

    fn begin(&mut self, key: i64, value: Value) {
        let numbers = matches!(value, Value::Number(_)) && self.of != Of::Bool;
        self.samples(numbers);
        self.run = Some(Run {
            value,
            first: key,
            last: key,
        });
    }

    /// Writes the run that is over. `interpolated`: a number follows, to which the last sample
    /// of the run must not lean.
    fn samples(&mut self, interpolated: bool) {
        let Some(run) = self.run.take() else { return };
        if !self.open {
            self.open = true;
            if !self.aside.is_empty() {
                self.sink
                    .text
                    .extend_from_slice(self.declaration.as_bytes());
                self.metadata();
            }
            self.sink
                .text
                .extend_from_slice(self.declaration.as_bytes());
            self.sink.text.extend_from_slice(b".timeSamples = {\n");
        }
        self.sample(run.first, &run.value);
        if interpolated && run.last != run.first && matches!(run.value, Value::Number(_)) {
            self.sample(run.last, &run.value);
        }
    }

    fn sample(&mut self, key: i64, value: &Value) {
        let out = &mut self.sink.text;
        out.extend_from_slice(b"        ");
        push_key(out, key);
        out.extend_from_slice(b": ");
        push_value(out, self.of, value);
        out.extend_from_slice(b",\n");
    }

    fn metadata(&mut self) {
        let out = &mut self.sink.text;
        out.extend_from_slice(b" (\n        customData = {\n            dictionary ringmark = {\n");
        for (key, text) in &self.aside {
            out.extend_from_slice(format!("                string {key} = ").as_bytes());
            push_text(out, text);
            out.push(b'\n');
        }
        out.extend_from_slice(b"            }\n        }\n    )\n");
    }

    /// Lets text go out once there is enough of it.
    pub fn pass(&mut self, files: &mut Files) -> Result<(), Failure> {
        files.pass(&mut self.sink)
    }

    /// Writes what is left. An attribute without any value is not written.
    pub fn end(mut self, files: &mut Files, rest: &mut Vec<u8>) {
        if self.open {
            self.samples(false);
            self.sink.text.extend_from_slice(b"    }\n");
        } else if let Some(run) = self.run.take().filter(|run| run.value != Value::Nothing) {
            self.sink
                .text
                .extend_from_slice(self.declaration.as_bytes());
            self.sink.text.extend_from_slice(b" = ");
            push_value(&mut self.sink.text, self.of, &run.value);
            match self.aside.is_empty() {
                true => self.sink.text.push(b'\n'),
                false => self.metadata(),
            }
        }
        files.end(self.sink, rest);
    }
}

fn push_value(out: &mut Vec<u8>, of: Of, value: &Value) {
    match value {
        Value::Nothing => out.extend_from_slice(b"None"),
        Value::Number(number) if of == Of::Float => push_float(out, *number as f32),
        Value::Number(number) => push_double(out, *number),
        Value::Text(text) => push_text(out, text),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn written(values: &[f64]) -> String {
        let mut line = Line::of_schema(Of::Float, "fStop", Sink::default());
        for (key, value) in values.iter().enumerate() {
            line.number(key as i64, *value);
        }
        let mut rest = Vec::new();
        line.end(&mut Files::new(Vec::new()), &mut rest);
        String::from_utf8(rest).unwrap()
    }

    #[test]
    fn what_never_changes_is_a_plain_value() {
        assert_eq!(written(&[2.0, 2.0, 2.0]), "    float fStop = 2\n");
        assert_eq!(written(&[f64::NAN, f64::NAN]), "");
        assert_eq!(written(&[]), "");
    }

    #[test]
    fn runs_are_their_ends() {
        let nan = f64::NAN;
        let text = written(&[2.0, 2.0, 2.0, 2.8, nan, nan, 4.0, 4.0, nan]);
        let samples: Vec<&str> = text.lines().map(str::trim).collect();
        assert_eq!(
            samples,
            [
                "float fStop.timeSamples = {",
                "0: 2,",
                "2: 2,",
                "3: 2.8,",
                "4: None,",
                "6: 4,",
                "8: None,",
                "}"
            ]
        );
    }

    #[test]
    fn a_text_holds_until_the_next() {
        let mut line = Line::custom(Of::Text, "a:b", Sink::default()).with("unit", "");
        for (key, text) in [
            (1, Some("x")),
            (2, Some("x")),
            (3, None),
            (4, None),
            (5, Some("y")),
        ] {
            line.text(key, text);
        }
        let mut rest = Vec::new();
        line.end(&mut Files::new(Vec::new()), &mut rest);
        let text = String::from_utf8(rest).unwrap().replace("        ", "");
        assert_eq!(
            text,
            "    custom string a:b.timeSamples = {\n1: \"x\",\n3: None,\n5: \"y\",\n    }\n"
        );
    }
}
