//! Properties of prims: those of a camera are noted, others passed over.

use ringmark_sdk::{Failure, Place};

use crate::fields;
use crate::layer::Pass;
use crate::lex::{Kind, Token};
use crate::metadata::{self, Keep};
use crate::remarks::Notice;
use crate::stage::{Attribute, Camera, Placed, Samples};
use crate::value::{self, Sample, Scalar, Type};

/// Names of passed-over attributes that are told.
const MOST_NAMES: usize = 40;

/// A camera that stands in while the real one is worked on.
pub fn empty() -> Camera {
    Camera {
        path: String::new(),
        at: Place {
            input: 0,
            offset: 0,
            length: 0,
            field: String::new(),
        },
        custom: None,
        attributes: Vec::new(),
        others: Vec::new(),
    }
}

/// What stands left of the `=`.
struct Head {
    of: String,
    name: String,
    /// `timeSamples`, `connect`, `spline`, or nothing.
    part: String,
    token: Token,
}

/// A property that begins with `word`.
pub fn property(
    pass: &mut Pass<'_>,
    word: String,
    camera: Option<&mut Camera>,
) -> Result<(), Failure> {
    let head = head(pass, word)?;
    match camera {
        Some(camera) if head.of != "rel" => attribute(pass, head, camera),
        _ => {
            if pass.lexer.take(b'=')? {
                value::skip(&mut pass.lexer)?;
            }
            if pass.lexer.take(b'(')? {
                metadata::read(&mut pass.lexer, Keep::Nothing, &mut pass.budget)?;
            }
            pass.end_of_statement()
        }
    }
}

/// `custom uniform double a:b.timeSamples`
fn head(pass: &mut Pass<'_>, mut word: String) -> Result<Head, Failure> {
    let lexer = &mut pass.lexer;
    while matches!(
        word.as_str(),
        "custom" | "uniform" | "varying" | "config" | "prepend" | "append" | "add" | "delete"
    ) {
        let token = lexer.next()?;
        if token.kind != Kind::Name {
            return Err(lexer.unexpected(token, "the type of an attribute"));
        }
        lexer.text().clone_into(&mut word);
    }
    if lexer.take(b'[')? {
        lexer.expect(b']', "after `[`")?;
        word.push_str("[]");
    }
    let token = lexer.next()?;
    if token.kind != Kind::Name {
        return Err(lexer.unexpected(token, "the name of an attribute"));
    }
    let name = lexer.text().to_owned();
    let mut part = String::new();
    if lexer.take(b'.')? {
        let token = lexer.next()?;
        if token.kind != Kind::Name {
            return Err(lexer.unexpected(token, "`timeSamples`"));
        }
        lexer.text().clone_into(&mut part);
    }
    Ok(Head {
        of: word,
        name,
        part,
        token,
    })
}

fn attribute(pass: &mut Pass<'_>, head: Head, camera: &mut Camera) -> Result<(), Failure> {
    let of = Type::of(&head.of);
    let known = fields::by_attribute(&head.name).is_some()
        || matches!(&*head.name, fields::SHUTTER_OPEN | fields::SHUTTER_CLOSE);
    let at = Place {
        field: format!("{}.{}", camera.path, head.name),
        ..head.token.place()
    };
    if known && of != Type::Float && of != Type::Double {
        pass.remarks.add(Notice {
            severity: "error",
            check: "wrong-type",
            subject: &at.field,
            message: format!("{} is of the type {}: it is not read", head.name, head.of),
            help: "the schema of OpenUSD has a float or double here",
            at: Some(at.clone()),
        });
    }
    let pass_over = fields::says_nothing(&head.name)
        || of == Type::Other
        || known && !matches!(of, Type::Float | Type::Double)
        || !matches!(&*head.part, "" | "timeSamples");
    let mut value = None;
    let mut samples = None;
    if pass.lexer.take(b'=')? {
        if of == Type::Other || !matches!(&*head.part, "" | "timeSamples") {
            value::skip(&mut pass.lexer)?;
        } else if head.part.is_empty() {
            let token = pass.lexer.peek()?;
            let scalar = value::scalar(&mut pass.lexer, of)?;
            if let Scalar::Text(text) = &scalar {
                pass.keep(text.len(), token)?;
            }
            let at = Place {
                field: at.field.clone(),
                ..token.place()
            };
            value = Some(Placed { value: scalar, at });
        } else {
            samples = self::samples(pass, of)?;
        }
    }
    let mut custom = None;
    if pass.lexer.take(b'(')? {
        custom = metadata::read(&mut pass.lexer, Keep::CustomData, &mut pass.budget)?.custom;
    }
    pass.end_of_statement()?;
    if pass_over {
        passed_over(pass, &head, &at, camera);
        return Ok(());
    }
    let position = camera.attributes.iter().position(|a| a.name == head.name);
    let index = match position {
        Some(index) => index,
        None => {
            pass.keep(512 + 2 * at.field.len(), head.token)?;
            camera.attributes.push(Attribute {
                name: head.name,
                of,
                at: at.clone(),
                value: None,
                samples: None,
                custom: None,
            });
            camera.attributes.len() - 1
        }
    };
    let attribute = &mut camera.attributes[index];
    let again = attribute.of != of
        || value.is_some() && attribute.value.is_some()
        || samples.is_some() && attribute.samples.is_some();
    if again {
        pass.remarks.add(Notice {
            severity: "error",
            check: "attribute-repeated",
            subject: &at.field,
            message: format!("{} stands twice: the last one holds", at.field),
            help: "leave one of both out",
            at: Some(at.clone()),
        });
        if attribute.of != of {
            (attribute.of, attribute.value, attribute.samples) = (of, None, None);
        }
    }
    if value.is_some() {
        attribute.value = value;
    }
    if samples.is_some() {
        attribute.samples = samples;
    }
    if custom.is_some() {
        attribute.custom = custom;
    }
    Ok(())
}

fn passed_over(pass: &mut Pass<'_>, head: &Head, at: &Place, camera: &mut Camera) {
    let matters = !fields::says_nothing(&head.name);
    if matters && matches!(&*head.part, "spline" | "connect") {
        let how = match &*head.part {
            "spline" => "by a curve",
            _ => "by a connection",
        };
        pass.remarks.add(Notice {
            severity: "warning",
            check: "values-not-read",
            subject: &at.field,
            message: format!("{} gets its values {how}, which is not read", at.field),
            help: "bake the values into time samples",
            at: Some(at.clone()),
        });
    }
    if camera.others.len() < MOST_NAMES && !camera.others.contains(&head.name) {
        camera.others.push(head.name.clone());
    }
}

/// Goes through samples and notes where they stand; none for `{}`.
fn samples(pass: &mut Pass<'_>, of: Type) -> Result<Option<Samples>, Failure> {
    let lexer = &mut pass.lexer;
    lexer.expect(b'{', "before the samples")?;
    let mut found: Option<Samples> = None;
    let mut before = f64::NEG_INFINITY;
    while let Some(Sample { key, value, offset }) = value::sample(lexer, of)? {
        let number = match value {
            Scalar::Number(number) => Some(number),
            _ => None,
        };
        let samples = found.get_or_insert(Samples {
            offset,
            count: 0,
            first: key,
            last: key,
            sorted: true,
            disorder: None,
            fraction: None,
            number: None,
        });
        if key <= before {
            samples.sorted = false;
            samples.disorder.get_or_insert((key, offset));
        }
        if key.fract() != 0.0 {
            samples.fraction.get_or_insert(key);
        }
        before = key;
        samples.count += 1;
        samples.first = samples.first.min(key);
        samples.last = samples.last.max(key);
        samples.number = samples.number.or(number);
    }
    Ok(found)
}
