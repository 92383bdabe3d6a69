//! Which parameter each channel of a segment is written as.

use std::rc::Rc;

use crate::escape;
use crate::fields::{self, Field, Form, Holds};
use crate::private::{self, Kind, Private};
use crate::segment::{Cells, Channel, Filled};
use crate::units;

/// Values of a parameter.
#[derive(Debug, Clone)]
pub enum Values {
    /// Numbers, one a frame.
    Numbers(Vec<f64>, Form),
    /// Texts as items, one a frame.
    Items(Vec<Option<Rc<str>>>, Texts),
    /// An item that holds for all frames.
    One(String),
}

/// How texts become items.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Texts {
    /// As the standard has them.
    Plain,
    /// With escapes of ours.
    Escaped,
}

/// A parameter to be written.
#[derive(Debug, Clone)]
pub struct Parameter {
    /// Its name.
    pub name: String,
    /// Its unit attribute.
    pub unit: Option<String>,
    /// Its values.
    pub values: Values,
    rank: usize,
}

/// Parameters of the standard, then those of unknown names, then ours.
const UNKNOWN: usize = fields::FIELDS.len();
const OURS: usize = UNKNOWN + 1;

impl Parameter {
    /// A parameter of ours with one item.
    pub fn ours(name: String, unit: Option<String>, item: String) -> Self {
        Parameter {
            name,
            unit,
            values: Values::One(item),
            rank: OURS,
        }
    }

    /// A parameter of the standard with one number.
    pub fn number(field: &Field, value: f64) -> Self {
        native(field, None, Values::Numbers(vec![value], Form::Plain))
    }

    /// A parameter of the standard with one item.
    pub fn text(field: &Field, item: String) -> Self {
        native(field, None, Values::One(item))
    }
}

fn native(field: &Field, unit: Option<&str>, values: Values) -> Parameter {
    Parameter {
        name: field.parameter.to_owned(),
        unit: unit.or(field.unit_word()).map(str::to_owned),
        values,
        rank: fields::position(field.parameter),
    }
}

/// The parameters of a segment in the order in which they are written, and what the focus distance
/// is measured from where the standard has no word for that.
pub fn plan(columns: Vec<Filled>) -> (Vec<Parameter>, Option<String>) {
    let has = |name: &str| columns.iter().any(|filled| filled.channel.name == name);
    let companion = has(&format!("extra/{}", fields::FRONT_VERTEX));
    let mut reference = None;
    let image_plane = columns.iter().any(|filled| {
        filled.channel.name == "focus-distance"
            && matches!(place(&filled.channel, companion), Place::Native(field, _) if field.parameter == fields::IMAGE_PLANE)
    });
    let mut parameters: Vec<Parameter> = columns
        .into_iter()
        .map(|filled| {
            let place = match place(&filled.channel, companion) {
                // Alone it would be the focus distance.
                Place::Extra(field, _)
                    if field.parameter == fields::FRONT_VERTEX && !image_plane =>
                {
                    Place::Aside
                }
                place => place,
            };
            if let (Place::Native(field, _), Kind::Number(from)) = (&place, &filled.channel.kind)
                && field.parameter == fields::IMAGE_PLANE
                && from != "image-plane"
            {
                reference = Some(from.clone());
            }
            parameter(filled, place)
        })
        .collect();
    parameters.sort_by(|a, b| (a.rank, &a.name).cmp(&(b.rank, &b.name)));
    (parameters, reference)
}

enum Place {
    /// A channel of the standard.
    Native(&'static Field, Form),
    /// An extra of the standard, with its unit word if that is not the usual one.
    Extra(&'static Field, Option<String>),
    /// A parameter of a name that the standard does not have.
    Unknown,
    /// A parameter of ours.
    Aside,
}

fn place(channel: &Channel, companion: bool) -> Place {
    if let Some(name) = channel.name.strip_prefix("extra/") {
        return extra(name, channel);
    }
    match &channel.kind {
        Kind::Label("text") if channel.name == "lens" => match fields::field(fields::LENS) {
            Some(field) => Place::Native(field, Form::Plain),
            None => Place::Aside,
        },
        Kind::Label(_) => Place::Aside,
        Kind::Number(from) => {
            let from = match (&*channel.name, &**from) {
                // The distance from the front is written as such, unless it has a companion.
                ("focus-distance", "front-vertex") if companion => return Place::Aside,
                ("focus-distance", "front-vertex") => "front-vertex",
                ("focus-distance", _) => "image-plane",
                (_, from) => from,
            };
            match fields::of_channel(&channel.name, from) {
                Some((field, form)) if field.unit == channel.unit => Place::Native(field, form),
                _ => Place::Aside,
            }
        }
    }
}

fn extra(name: &str, channel: &Channel) -> Place {
    let Some(field) = fields::field(name) else {
        let simple = !name.is_empty()
            && !name.starts_with(private::PREFIX)
            && escape::is_attribute(name)
            && escape::is_attribute(&channel.unit)
            && matches!(channel.kind, Kind::Label("text") | Kind::Number(_));
        return if simple { Place::Unknown } else { Place::Aside };
    };
    let numbers = matches!(field.holds, Holds::Extra(_)) || field.parameter == fields::FRONT_VERTEX;
    match channel.kind {
        Kind::Label("text") if field.holds == Holds::TextExtra => Place::Extra(field, None),
        Kind::Number(_) if numbers && channel.unit.is_empty() => Place::Extra(field, None),
        Kind::Number(_) if numbers => {
            let word = units::word(&channel.unit);
            let reads_back = units::stated(Some(word), field.unit) == Some(&*channel.unit)
                && !units::is_of_interval(word)
                && channel.unit != field.unit;
            if reads_back {
                Place::Extra(field, Some(word.to_owned()))
            } else {
                Place::Aside
            }
        }
        _ => Place::Aside,
    }
}

fn parameter(filled: Filled, place: Place) -> Parameter {
    let Filled { channel, cells } = filled;
    let texts_fit = match &cells {
        Cells::Numbers(_) => true,
        Cells::Texts(texts) => texts.iter().flatten().all(|text| escape::is_plain(text)),
    };
    let place = if texts_fit { place } else { Place::Aside };
    let values = |form| match cells {
        Cells::Numbers(values) => Values::Numbers(values, form),
        Cells::Texts(texts) if matches!(place, Place::Aside) => {
            Values::Items(texts, Texts::Escaped)
        }
        Cells::Texts(texts) => Values::Items(texts, Texts::Plain),
    };
    match &place {
        Place::Native(field, form) => native(field, None, values(*form)),
        Place::Extra(field, unit) => {
            let form = match field.holds {
                Holds::Extra(form) => form,
                _ => Form::Plain,
            };
            native(field, unit.as_deref(), values(form))
        }
        Place::Unknown => Parameter {
            unit: matches!(channel.kind, Kind::Number(_)).then(|| channel.unit.clone()),
            name: channel.name.replacen("extra/", "", 1),
            values: values(Form::Plain),
            rank: UNKNOWN,
        },
        Place::Aside => {
            let unit = escape::name(&channel.unit, &[]);
            Parameter {
                values: values(Form::Plain),
                unit: Some(unit).filter(|unit| !unit.is_empty()),
                name: Private::Channel(channel.name, channel.kind).to_name(),
                rank: OURS,
            }
        }
    }
}
