//! One column of a take, and the attributes it is written to.

use ringmark_sdk::{Column, Failure, Labels, failure};

use super::line::{Line, Of};
use super::places::{Places, Slot};
use crate::fields::{self, FIELDS, Field, SHUTTER_ANGLE, SHUTTER_CLOSE, SHUTTER_OPEN};
use crate::native;
use crate::text::{identifier, is_identifier};
use crate::units::Scene;

/// Where the values of a column go.
pub enum Body {
    /// To an attribute outside the schema.
    Plain(Line),
    /// To an attribute of the schema, and where that cannot hold them to one beside it.
    Field {
        /// The attribute of the schema.
        field: &'static Field,
        /// Its line.
        line: Line,
        /// The exact values, once there are some.
        exact: Option<Line>,
    },
    /// To the times at which the shutter opens and closes.
    Angle {
        /// When it opens, if the take does not say that it is always the same.
        open: Option<Line>,
        /// When it closes.
        close: Line,
        /// The exact values, once there are some.
        exact: Option<Line>,
    },
}

/// A column that was begun.
pub struct Written {
    /// Its channel.
    pub channel: String,
    /// Its unit, or the form of its texts.
    pub unit: String,
    /// What its distances are measured from.
    pub reference: String,
    /// Whether it holds texts.
    pub texts: bool,
    /// Where it goes.
    pub body: Body,
    /// Its place among the columns: of the schema, other numbers, texts.
    pub order: (u8, usize),
}

impl Written {
    /// Whether a column of a later batch goes on with this one.
    pub fn check(&self, channel: &str, unit: &str, reference: &str) -> Result<(), Failure> {
        if self.unit == unit && self.reference == reference {
            return Ok(());
        }
        Err(failure(
            format!(
                "{channel} begins in '{} {}' and goes on in '{unit} {reference}'",
                self.unit, self.reference
            ),
            "a column has one unit and one reference: convert the parts apart",
            None,
        ))
    }

    /// All lines.
    pub fn lines(&mut self) -> impl Iterator<Item = &mut Line> {
        let lines: [Option<&mut Line>; 3] = match &mut self.body {
            Body::Plain(line) => [Some(line), None, None],
            Body::Field { line, exact, .. } => [Some(line), exact.as_mut(), None],
            Body::Angle { open, close, exact } => [open.as_mut(), Some(close), exact.as_mut()],
        };
        lines.into_iter().flatten()
    }

    /// All lines, for the end.
    pub fn into_lines(self) -> impl Iterator<Item = Line> {
        let lines: [Option<Line>; 3] = match self.body {
            Body::Plain(line) => [Some(line), None, None],
            Body::Field { line, exact, .. } => [Some(line), exact, None],
            Body::Angle { open, close, exact } => [open, Some(close), exact],
        };
        lines.into_iter().flatten()
    }

    /// No frame of a batch has a value.
    pub fn nothing(&mut self, key: i64) {
        let texts = self.texts;
        for line in self.lines() {
            match texts {
                true => line.text(key, None),
                false => line.number(key, f64::NAN),
            }
        }
    }

    /// The numbers of a batch. `begin` makes the line of exact values, which has none so far.
    pub fn numbers(
        &mut self,
        (scene, open): (Scene, Option<f64>),
        keys: &[i64],
        values: &[f64],
        mut begin: impl FnMut(Exact<'_>) -> Line,
    ) {
        let frames = keys.iter().zip(values);
        let beside = Exact {
            channel: &self.channel,
            unit: &self.unit,
            reference: &self.reference,
            slot: match self.order {
                (0, index) => Slot::Exact(index),
                _ => Slot::Shutter(2),
            },
        };
        match &mut self.body {
            Body::Plain(line) => frames.for_each(|(key, value)| line.number(*key, *value)),
            Body::Field { field, line, exact } => {
                for (&key, &value) in frames {
                    let number = native::of(field, scene, value);
                    line.number(key, number.map_or(f64::NAN, f64::from));
                    let lost = match number {
                        Some(number) => is_lost(field, value, native::back(field, scene, number)),
                        None => !value.is_nan(),
                    };
                    keep(exact, key, value, lost, || begin(beside));
                }
            }
            Body::Angle {
                open: opens,
                close,
                exact,
            } => {
                for (&key, &value) in frames {
                    let times = native::opening(value, open);
                    let (from, to) = times.unwrap_or((f64::NAN, f64::NAN));
                    if let Some(opens) = opens {
                        opens.number(key, from);
                    }
                    close.number(key, to);
                    let lost = !value.is_nan() && native::angle(from, to, 1.0) != value;
                    keep(exact, key, value, lost, || begin(beside));
                }
            }
        }
    }
}

/// Whether the attribute does not hold a value as well as the manifest says: rounded to a
/// 32-bit float in the unit of the manifest; extras are to be exact.
fn is_lost(field: &Field, value: f64, back: f64) -> bool {
    back != value && (field.role != fields::Role::Channel || f64::from(value as f32) == value)
}

fn keep(exact: &mut Option<Line>, key: i64, value: f64, lost: bool, begin: impl FnOnce() -> Line) {
    match (exact, lost) {
        (Some(exact), true) => exact.number(key, value),
        (Some(exact), false) => exact.number(key, f64::NAN),
        (exact @ None, true) => exact.insert(begin()).number(key, value),
        (None, false) => {}
    }
}

/// The lines of a column of numbers. `open` is when the shutter opens, if that is known.
pub fn of_numbers(
    column: &Column,
    scene: Scene,
    open: Option<f64>,
    places: &mut Places,
) -> Result<Written, Failure> {
    let channel = column.channel.as_str();
    let extra = channel.starts_with("extra/");
    let mut apart = "";
    let mut body = None;
    let mut order = (2, 0);
    let position = FIELDS.iter().position(|field| field.channel == channel);
    if let Some((index, field)) = position.and_then(|index| Some((index, FIELDS.get(index)?))) {
        let unit = field.measure.asked(scene).unit;
        if unit != column.unit && !extra {
            return Err(wrong_unit(channel, &column.unit, unit));
        }
        if unit == column.unit && places.take(field.attribute) {
            order = (0, index);
            let line = Line::of_schema(Of::Float, field.attribute, places.sink(Slot::Field(index)))
                .with("channel", if extra { channel } else { "" })
                .with("reference", reference(&column.reference, field.reference));
            body = Some(Body::Field {
                field,
                line,
                exact: None,
            });
        } else {
            apart = "apart";
        }
    } else if channel == SHUTTER_ANGLE {
        if column.unit != "deg" {
            return Err(wrong_unit(channel, &column.unit, "deg"));
        }
        places.take(SHUTTER_CLOSE);
        let opens = places.take(SHUTTER_OPEN) && open.is_none();
        order = (1, 0);
        body = Some(Body::Angle {
            open: opens
                .then(|| Line::of_schema(Of::Double, SHUTTER_OPEN, places.sink(Slot::Shutter(0)))),
            close: Line::of_schema(Of::Double, SHUTTER_CLOSE, places.sink(Slot::Shutter(1))),
            exact: None,
        });
    }
    let body = body.unwrap_or_else(|| {
        let name = places.near(&attribute_name(channel));
        let line = Line::custom(Of::Double, &name, places.sink(Slot::Number));
        Body::Plain(
            line.with("channel", channel)
                .with("unit", &column.unit)
                .with("reference", &column.reference)
                .with("form", apart),
        )
    });
    Ok(Written {
        channel: channel.to_owned(),
        unit: column.unit.clone(),
        reference: column.reference.clone(),
        texts: false,
        body,
        order,
    })
}

/// Exact values beside an attribute of the schema.
#[derive(Clone, Copy)]
pub struct Exact<'a> {
    channel: &'a str,
    unit: &'a str,
    reference: &'a str,
    slot: Slot,
}

/// The line of exact values.
pub fn exact(exact: Exact<'_>, places: &mut Places) -> Line {
    let name = places.near(&attribute_name(exact.channel));
    let own = fields::by_channel(exact.channel).map_or("", |field| field.reference);
    Line::custom(Of::Double, &name, places.sink(exact.slot))
        .with("channel", exact.channel)
        .with("unit", exact.unit)
        .with("reference", reference(exact.reference, own))
}

/// What a column has to say of its reference, beside what the attribute of the schema means.
fn reference<'a>(stated: &'a str, own: &str) -> &'a str {
    match stated {
        stated if stated == own => "",
        "" => "unstated",
        stated => stated,
    }
}

/// The line of a column of texts.
pub fn of_texts(labels: &Labels, places: &mut Places) -> Written {
    let name = places.near(&attribute_name(&labels.channel));
    let line = Line::custom(Of::Text, &name, places.sink(Slot::Text))
        .with("channel", &labels.channel)
        .with(
            "form",
            if labels.form == "text" {
                ""
            } else {
                &labels.form
            },
        );
    Written {
        channel: labels.channel.clone(),
        unit: labels.form.clone(),
        reference: String::new(),
        texts: true,
        body: Body::Plain(line),
        order: (3, 0),
    }
}

fn wrong_unit(channel: &str, found: &str, expected: &str) -> Failure {
    failure(
        format!("{channel} came in '{found}', expected '{expected}'"),
        "report this to the authors of the program",
        None,
    )
}

/// The attribute of a channel that the schema does not have. An extra with a namespace of its
/// own keeps its name, as that may be another program's attribute.
fn attribute_name(channel: &str) -> String {
    match channel.strip_prefix("extra/") {
        Some(extra)
            if is_identifier(extra) && extra.contains(':') && !fields::is_reserved(extra) =>
        {
            extra.to_owned()
        }
        Some(extra) => format!("{}:extra:{}", fields::NAMESPACE, identifier(extra)),
        None => {
            let mut words = channel.split('-');
            let mut name = words.next().unwrap_or_default().to_owned();
            for word in words {
                let mut letters = word.chars();
                name.extend(letters.next().map(|c| c.to_ascii_uppercase()));
                name.push_str(letters.as_str());
            }
            format!("{}:{}", fields::NAMESPACE, identifier(&name))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_attributes() {
        for (channel, name) in [
            ("t-stop", "ringmark:tStop"),
            ("distortion-k1", "ringmark:distortionK1"),
            ("extra/shop:tStop", "shop:tStop"),
            (
                "extra/xformOp:translate",
                "ringmark:extra:xformOp_translate",
            ),
            ("extra/custom.a", "ringmark:extra:custom_a"),
            ("extra/", "ringmark:extra:_"),
            ("extra/0", "ringmark:extra:_0"),
        ] {
            assert_eq!(attribute_name(channel), name);
        }
    }
}
