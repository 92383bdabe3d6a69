//! Metadata in parentheses: of the layer, of a prim, of an attribute.

use ringmark_sdk::Failure;

use crate::lex::{Kind, Lexer};
use crate::stage::Placed;
use crate::value::{self, Meta, Scalar, Type};

/// What is kept of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Keep {
    /// Only whether it brings in other layers.
    Nothing,
    /// `customData` too.
    CustomData,
    /// The numbers of a layer, and `customLayerData`.
    Layer,
}

/// Numbers of a layer.
const NUMBERS: [&str; 5] = [
    "metersPerUnit",
    "timeCodesPerSecond",
    "framesPerSecond",
    "startTimeCode",
    "endTimeCode",
];

/// A way in which values come from elsewhere.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Arc {
    /// `subLayers`
    SubLayers,
    /// `references`
    References,
    /// `payload`
    Payload,
    /// `inherits`
    Inherits,
    /// `specializes`
    Specializes,
    /// `variants`, a choice
    Variants,
    /// `clips`
    Clips,
}

impl Arc {
    fn of(key: &str) -> Option<Arc> {
        Some(match key {
            "subLayers" => Arc::SubLayers,
            "references" => Arc::References,
            "payload" => Arc::Payload,
            "inherits" => Arc::Inherits,
            "specializes" => Arc::Specializes,
            "variants" => Arc::Variants,
            "clips" => Arc::Clips,
            _ => return None,
        })
    }

    /// What it is called in a message.
    pub fn name(self) -> &'static str {
        match self {
            Arc::SubLayers => "sublayers",
            Arc::References => "references",
            Arc::Payload => "payloads",
            Arc::Inherits => "inherits",
            Arc::Specializes => "specializes",
            Arc::Variants => "variants",
            Arc::Clips => "value clips",
        }
    }
}

/// Metadata that was read.
#[derive(Debug, Default)]
pub struct Metadata {
    /// The first way in which values come from elsewhere.
    pub arc: Option<Placed<Arc>>,
    /// `active = false`
    pub inactive: bool,
    /// `customData`, or `customLayerData`.
    pub custom: Option<Meta>,
    /// Numbers of a layer.
    pub numbers: Vec<(&'static str, Placed<Scalar>)>,
}

/// Reads up to the parenthesis that closes it.
pub fn read(lexer: &mut Lexer, keep: Keep, budget: &mut usize) -> Result<Metadata, Failure> {
    let mut metadata = Metadata::default();
    loop {
        while lexer.take(b';')? {}
        if lexer.take(b')')? {
            return Ok(metadata);
        }
        let mut token = lexer.next()?;
        // A text alone describes.
        if token.kind == Kind::Text {
            continue;
        }
        if matches!(
            lexer.text(),
            "prepend" | "append" | "add" | "delete" | "reorder"
        ) {
            token = lexer.next()?;
        }
        if token.kind != Kind::Name {
            return Err(lexer.unexpected(token, "the name of an entry of the metadata, or `)`"));
        }
        let key = lexer.text().to_owned();
        lexer.expect(b'=', "before the value of an entry")?;
        let first = lexer.peek()?;
        match key.as_str() {
            "customData" if keep == Keep::CustomData => {
                metadata.custom = Some(value::dictionary(lexer, budget)?);
            }
            "customLayerData" if keep == Keep::Layer => {
                metadata.custom = Some(value::dictionary(lexer, budget)?);
            }
            "active" => {
                metadata.inactive = value::scalar(lexer, Type::Whole)? == Scalar::Number(0.0);
            }
            key => {
                let number = NUMBERS.iter().find(|n| **n == key && keep == Keep::Layer);
                if let Some(number) = number {
                    let value = value::scalar(lexer, Type::Double)?;
                    let mut at = first.place();
                    key.clone_into(&mut at.field);
                    metadata.numbers.push((number, Placed { value, at }));
                } else {
                    let empty = list(lexer)?;
                    if let Some(value) = Arc::of(key).filter(|_| !empty) {
                        let at = first.place();
                        metadata.arc.get_or_insert(Placed { value, at });
                    }
                }
            }
        }
        let next = lexer.peek()?;
        if !(next.new_line || matches!(next.kind, Kind::Sign(b';' | b')'))) {
            return Err(lexer.unexpected(next, "the end of the line"));
        }
    }
}

/// Passes over a value, with the layer offset that may follow; says whether it is empty.
fn list(lexer: &mut Lexer) -> Result<bool, Failure> {
    let first = lexer.peek()?;
    let empty = if lexer.text() == "None" {
        value::skip(lexer)?;
        true
    } else if let Kind::Sign(open @ (b'[' | b'{')) = first.kind {
        lexer.next()?;
        let close = if open == b'[' { b']' } else { b'}' };
        let empty = lexer.peek()?.is(close);
        value::skip_rest(lexer, open)?;
        empty
    } else {
        value::skip(lexer)?;
        false
    };
    let next = lexer.peek()?;
    if next.is(b'(') && !next.new_line {
        value::skip(lexer)?;
    }
    Ok(empty)
}
