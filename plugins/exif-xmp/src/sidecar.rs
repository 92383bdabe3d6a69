//! The properties of a sidecar: values go to a standard property wherever one holds them. Then the
//! reader says what would come out, and what differs is kept in our own part: so a sidecar
//! gives back exactly what was put in.

use crate::apex;
use crate::exact;
use crate::fields::{self, FIELDS, Field, Key, Kind, Meaning, Role, WIDEST_AT};
use crate::interpret;
use crate::node::{Name, Node, Order, Value, is_xml};
use crate::rational::{self, Ratio};
use crate::rdf::Property;
use crate::record::{INFINITY, INFINITY_CLAMPED};
use crate::remarks::Remarks;
use crate::values::{Values, fact_number, fact_text};
use crate::xmp::{self, Origin, text_of};

/// Other properties of one sidecar; more are kept in our own part.
const MOST_OTHERS: usize = 1000;
/// Largest property of another kind.
const MOST_TEXT: usize = 1 << 19;
/// Elements inside one another in a property of another kind.
const MOST_DEPTH: usize = 40;

/// All properties of the sidecar of a still.
pub fn properties(values: &Values) -> Vec<(Name, Node)> {
    let mut properties = standard(values);
    let mut unheard = Remarks::default();
    let origin = Origin {
        input: 0,
        start: None,
    };
    let written = properties.iter().map(|(name, node)| Property {
        name: name.clone(),
        node: Ok(node.clone()),
        at: (0, 0),
    });
    let packet = xmp::packet(written.collect(), origin, &mut unheard);
    let derived = interpret::values(&packet.record, &packet.others, &mut unheard);
    properties.extend(exact::difference(values, &derived).properties());
    properties
}

/// Properties that say what the values say, as far as there are any.
fn standard(values: &Values) -> Vec<(Name, Node)> {
    let mut out = Out::default();
    for field in FIELDS {
        if let Some(node) = item(field, values, &out) {
            out.push(field, node);
        }
    }
    let mut others = 0;
    for text in &values.texts {
        let Some(name) = text.channel.strip_prefix("extra/").and_then(Name::parse) else {
            continue;
        };
        match fields::of_property(&name.uri, &name.local) {
            // An older name says something else where the item itself is missing.
            Some((field, true)) if out.has(field.key) => {}
            Some(_) => continue,
            None => {}
        }
        let node = match text.form.as_str() {
            "text" => Node::text(text.text.as_str()),
            "json" => match serde_json::from_str(&text.text)
                .ok()
                .as_ref()
                .and_then(Node::from_json)
            {
                Some(node) => node,
                None => continue,
            },
            _ => continue,
        };
        let fits = text.text.len() <= MOST_TEXT && depth(&node) <= MOST_DEPTH;
        if fits && node.is_writable() && others < MOST_OTHERS {
            others += 1;
            out.properties.push((name, node));
        }
    }
    out.properties
}

#[derive(Default)]
struct Out {
    properties: Vec<(Name, Node)>,
    keys: Vec<Key>,
}

impl Out {
    fn has(&self, key: Key) -> bool {
        self.keys.contains(&key)
    }

    fn push(&mut self, field: &Field, node: Node) {
        let (uri, local) = field.property;
        self.keys.push(field.key);
        self.properties.push((Name::new(uri, local), node));
    }
}

/// Elements inside one another that a value takes.
fn depth(node: &Node) -> usize {
    match &node.value {
        Value::Text(_) | Value::Uri(_) => 1,
        Value::Array(_, items) => 2 + items.iter().map(depth).max().unwrap_or(0),
        Value::Struct(fields) => {
            1 + fields
                .iter()
                .map(|(_, node)| depth(node))
                .max()
                .unwrap_or(0)
        }
    }
}

/// The property of an item; `None` if there is no value or the property cannot hold it.
fn item(field: &Field, values: &Values, out: &Out) -> Option<Node> {
    let number = |ratio: Ratio| Some(Node::text(text_of(field.key, ratio)));
    let lens = values.lens_facts();
    match field.role {
        Role::Channel {
            channel,
            unit,
            meaning,
            ..
        } => {
            let found = values
                .number(channel)
                .filter(|number| number.unit == unit)?;
            number(ratio_of(field.kind, meaning, found.value)?)
        }
        // Without its item it would stand in for that.
        Role::Apex(key) if !out.has(key) => None,
        Role::Apex(_) | Role::Extra => extra(field, values),
        Role::LensText(name) => {
            let text = values.text(name).map(|text| text.text.as_str());
            plain(text.or_else(|| fact_text(lens, name)))
        }
        Role::Lens => plain(values.text("lens").map(|text| text.text.as_str())),
        Role::TakeText(name) => plain(fact_text(&values.take, name)),
        Role::WidestAperture => {
            let f = fact_number(lens, "widest-f-number", "f")?;
            if f == 1.0 {
                return number(Ratio { n: 0, d: 1 });
            }
            let av = apex::aperture(f);
            apex::f_number(av)?;
            number(rational::best(av, f, |av| {
                apex::f_number(av).unwrap_or(f64::NAN)
            })?)
        }
        Role::LensSpecification => specification(values),
        Role::Pixels(name) => number(pixels(values, name)?),
        Role::FocalPlane => match sensor(field.key, values) {
            Some(ratio) => number(ratio),
            None if out.has(Key::PixelXDimension) && out.has(Key::PixelYDimension) => None,
            None => extra(field, values),
        },
    }
}

fn plain(text: Option<&str>) -> Option<Node> {
    let text = text.filter(|text| !text.trim().is_empty() && is_xml(text))?;
    Some(Node::text(text))
}

/// The rational of a number with special values kept free.
fn ratio_of(kind: Kind, meaning: Meaning, value: f64) -> Option<Ratio> {
    let most = match kind {
        Kind::Integer(most) => f64::from(most),
        // 65535 says that the value is elsewhere.
        Kind::Sensitivity => 65534.0,
        _ if meaning == Meaning::Distance && value == f64::INFINITY => {
            return Some(Ratio { n: INFINITY, d: 1 });
        }
        _ => {
            let (ratio, _) = rational::of_number(value)?;
            return (ratio != INFINITY_CLAMPED).then_some(ratio);
        }
    };
    whole(value, 1.0, most)
}

fn whole(value: f64, least: f64, most: f64) -> Option<Ratio> {
    let fits = value.fract() == 0.0 && value >= least && value <= most;
    fits.then_some(Ratio {
        n: value as i64,
        d: 1,
    })
}

/// An extra of the table that has the type of its property.
fn extra(field: &Field, values: &Values) -> Option<Node> {
    let (uri, local) = field.property;
    let channel = format!("extra/{}", Name::new(uri, local));
    if matches!(field.kind, Kind::Text | Kind::Date | Kind::Version) {
        let text = values
            .text(&channel)
            .filter(|text| text.form == "text" && is_xml(&text.text))?;
        return Some(Node::text(text.text.as_str()));
    }
    let value = values
        .number(&channel)
        .filter(|number| number.unit.is_empty())?
        .value;
    let ratio = match field.kind {
        Kind::Integer(most) => whole(value, 0.0, f64::from(most))?,
        // Minus zero is no rational.
        _ if value == 0.0 && value.is_sign_positive() => Ratio { n: 0, d: 1 },
        Kind::Signed if value < 0.0 => {
            let (ratio, _) = rational::of_number(-value)?;
            Ratio {
                n: -ratio.n,
                d: ratio.d,
            }
        }
        _ => rational::of_number(value)?.0,
    };
    Some(Node::text(text_of(field.key, ratio)))
}

fn pixels(values: &Values, name: &str) -> Option<Ratio> {
    whole(
        fact_number(&values.take, name, "")?,
        1.0,
        f64::from(u32::MAX),
    )
}

/// Pixels a centimetre of the sensor, where its size and the image's are known.
fn sensor(key: Key, values: &Values) -> Option<Ratio> {
    let resolution = |sensor: &str, image: &str| {
        let mm =
            fact_number(&values.take, sensor, "mm").filter(|mm| *mm > 0.0 && mm.is_finite())?;
        let pixels = pixels(values, image)?.value()?;
        rational::best(10.0 * pixels / mm, mm / 10.0, |ratio| pixels / ratio)
    };
    let x = resolution("sensor-width", "resolution-width")?;
    let y = resolution("sensor-height", "resolution-height")?;
    Some(match key {
        Key::FocalPlaneXResolution => x,
        Key::FocalPlaneYResolution => y,
        // Centimetres.
        _ => Ratio { n: 3, d: 1 },
    })
}

/// Four numbers, 0/0 for unknown ones; none if all are.
fn specification(values: &Values) -> Option<Node> {
    let lens = values.lens_facts();
    let ratio = |name: &str, unit: &str| {
        let (ratio, _) = rational::of_number(fact_number(lens, name, unit)?)?;
        Some(ratio)
    };
    let both = ratio("focal-length-min", "mm").zip(ratio("focal-length-max", "mm"));
    let [first, second] = WIDEST_AT;
    let numbers = [
        both.map(|(min, _)| min),
        both.map(|(_, max)| max),
        ratio(first, "f"),
        ratio(second, "f"),
    ];
    if numbers.iter().all(Option::is_none) {
        return None;
    }
    let texts = numbers.iter().map(|number| {
        let unknown = Ratio { n: 0, d: 0 };
        Node::text(number.unwrap_or(unknown).to_string())
    });
    Some(Value::Array(Order::Seq, texts.collect()).into())
}
