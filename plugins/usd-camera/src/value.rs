//! Values of attributes and of metadata.

use ringmark_sdk::{Failure, failure};

use crate::lex::{Kind, Lexer, Token};
use crate::text::{unquote, unquote_asset};

/// How deep brackets may stand in each other.
const DEEPEST: usize = 64;

/// What an attribute's type lets it hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Type {
    /// A 32-bit float: values between samples are interpolated, and rounded to 32 bits.
    Float,
    /// A double or a time: interpolated.
    Double,
    /// An integer or a truth value: a sample holds until the next.
    Whole,
    /// A text, a word, or the name of a file: a sample holds until the next.
    Text,
    /// Anything else.
    Other,
}

impl Type {
    /// The type called `name`, brackets included.
    pub fn of(name: &str) -> Type {
        match name {
            "float" | "half" => Type::Float,
            "double" | "timecode" => Type::Double,
            "bool" | "uchar" | "int" | "uint" | "int64" | "uint64" => Type::Whole,
            "string" | "token" | "asset" => Type::Text,
            _ => Type::Other,
        }
    }

    /// A number as it is stored: 32-bit floats after two roundings, as in the reference library.
    fn store(self, number: f64) -> f64 {
        match self {
            Type::Float => f64::from(number as f32),
            Type::Whole => number.trunc(),
            _ => number,
        }
    }

    /// Whether it holds one number.
    pub fn is_number(self) -> bool {
        matches!(self, Type::Float | Type::Double | Type::Whole)
    }
}

/// One value.
#[derive(Debug, Clone, PartialEq)]
pub enum Scalar {
    /// A number; a 32-bit float exactly as it is stored.
    Number(f64),
    /// A text.
    Text(String),
    /// `None`: no value here, and from here on.
    Blocked,
}

/// Reads one value of `of`, which is no [`Type::Other`].
pub fn scalar(lexer: &mut Lexer, of: Type) -> Result<Scalar, Failure> {
    let token = lexer.next()?;
    let number = match (token.kind, lexer.text()) {
        (Kind::Name, "None" | "AnimationBlock") => return Ok(Scalar::Blocked),
        (Kind::Text, text) if of == Type::Text => return Ok(Scalar::Text(unquote(text))),
        (Kind::Asset, text) if of == Type::Text => return Ok(Scalar::Text(unquote_asset(text))),
        (Kind::Number, text) if of.is_number() => text.parse::<f64>().ok(),
        (Kind::Name, "inf") if of.is_number() => Some(f64::INFINITY),
        (Kind::Name, "nan") if of.is_number() => Some(f64::NAN),
        (Kind::Name, "true") if of == Type::Whole => Some(1.0),
        (Kind::Name, "false") if of == Type::Whole => Some(0.0),
        _ => None,
    };
    let Some(number) = number else {
        let expected = match of {
            Type::Text => "a text in quotation marks, or `None`",
            Type::Whole => "a whole number, or `None`",
            _ => "a number, or `None`",
        };
        return Err(lexer.unexpected(token, expected));
    };
    Ok(Scalar::Number(of.store(number)))
}

/// A sample.
pub struct Sample {
    /// Its time code.
    pub key: f64,
    /// Its value.
    pub value: Scalar,
    /// Where it begins.
    pub offset: u64,
}

/// The next sample of an attribute, with the comma behind it; none at the closing bracket, which
/// is taken.
pub fn sample(lexer: &mut Lexer, of: Type) -> Result<Option<Sample>, Failure> {
    if of.is_number()
        && let Some((key, number, offset)) = lexer.plain_sample()
    {
        return Ok(Some(Sample {
            key,
            value: Scalar::Number(of.store(number)),
            offset,
        }));
    }
    if lexer.take(b'}')? {
        return Ok(None);
    }
    let (key, token) = time_code(lexer)?;
    lexer.expect(b':', "after the time code")?;
    let value = scalar(lexer, of)?;
    if !lexer.take(b',')? && !lexer.peek()?.is(b'}') {
        lexer.expect(b'}', "or `,` after a sample")?;
    }
    Ok(Some(Sample {
        key,
        value,
        offset: token.offset,
    }))
}

/// The key of a sample.
fn time_code(lexer: &mut Lexer) -> Result<(f64, Token), Failure> {
    let token = lexer.next()?;
    let key = match token.kind {
        Kind::Number => lexer.text().parse::<f64>().ok(),
        _ => None,
    };
    match key.filter(|key| key.is_finite()) {
        Some(key) => Ok((key, token)),
        None => Err(lexer.unexpected(token, "a time code, which is a number")),
    }
}

/// Passes over one value of any kind.
pub fn skip(lexer: &mut Lexer) -> Result<(), Failure> {
    let first = lexer.next()?;
    match first.kind {
        Kind::Sign(open @ (b'(' | b'[' | b'{')) => skip_rest(lexer, open),
        Kind::Asset => {
            if lexer.peek()?.kind == Kind::Path {
                lexer.next()?;
            }
            Ok(())
        }
        Kind::Sign(_) | Kind::End => Err(lexer.unexpected(first, "a value")),
        _ => Ok(()),
    }
}

/// Passes over everything up to the bracket that closes `open`.
pub fn skip_rest(lexer: &mut Lexer, open: u8) -> Result<(), Failure> {
    let mut stack = vec![closing(open)];
    while let Some(&close) = stack.last() {
        let token = lexer.next()?;
        match token.kind {
            Kind::Sign(sign @ (b'(' | b'[' | b'{')) => {
                if stack.len() >= DEEPEST {
                    return Err(too_deep(token));
                }
                stack.push(closing(sign));
            }
            Kind::Sign(sign) if sign == close => {
                stack.pop();
            }
            Kind::Sign(b')' | b']' | b'}') | Kind::End => {
                return Err(lexer.unexpected(token, &format!("`{}`", char::from(close))));
            }
            _ => {}
        }
    }
    Ok(())
}

fn closing(open: u8) -> u8 {
    match open {
        b'(' => b')',
        b'[' => b']',
        _ => b'}',
    }
}

fn too_deep(token: Token) -> Failure {
    failure(
        format!("brackets in brackets, more than {DEEPEST} deep"),
        "no camera is described so: export the file again",
        Some(token.place()),
    )
}

/// A value of a dictionary in the metadata.
#[derive(Debug, Clone, PartialEq)]
pub enum Meta {
    /// A number.
    Number(f64),
    /// A text.
    Text(String),
    /// A dictionary, in the order of the file.
    Dictionary(Vec<(String, Meta)>),
    /// Something of another type.
    Other,
}

impl Meta {
    /// The entry `key` of a dictionary.
    pub fn get(&self, key: &str) -> Option<&Meta> {
        match self {
            Meta::Dictionary(entries) => entries.iter().find(|e| e.0 == key).map(|e| &e.1),
            _ => None,
        }
    }

    /// The text of the entry `key`.
    pub fn text(&self, key: &str) -> Option<&str> {
        match self.get(key) {
            Some(Meta::Text(text)) => Some(text),
            _ => None,
        }
    }

    /// The number of the entry `key`.
    pub fn number(&self, key: &str) -> Option<f64> {
        match self.get(key) {
            Some(Meta::Number(number)) => Some(*number),
            _ => None,
        }
    }

    /// The entries of a dictionary; none of anything else.
    pub fn entries(&self) -> &[(String, Meta)] {
        match self {
            Meta::Dictionary(entries) => entries,
            _ => &[],
        }
    }
}

/// Reads a dictionary. `budget` is how many more bytes of keys and texts may be kept.
pub fn dictionary(lexer: &mut Lexer, budget: &mut usize) -> Result<Meta, Failure> {
    lexer.expect(b'{', "before the entries of a dictionary")?;
    entries(lexer, budget, 1)
}

fn entries(lexer: &mut Lexer, budget: &mut usize, depth: usize) -> Result<Meta, Failure> {
    let mut entries = Vec::new();
    loop {
        while lexer.take(b';')? || lexer.take(b',')? {}
        if lexer.take(b'}')? {
            return Ok(Meta::Dictionary(entries));
        }
        let token = lexer.next()?;
        if token.kind != Kind::Name {
            return Err(lexer.unexpected(token, "the type of an entry, or `}`"));
        }
        let mut of = lexer.text().to_owned();
        if lexer.take(b'[')? {
            lexer.expect(b']', "after `[`")?;
            of.push_str("[]");
        }
        let token = lexer.next()?;
        let key = match token.kind {
            Kind::Name => lexer.text().to_owned(),
            Kind::Text => unquote(lexer.text()),
            _ => return Err(lexer.unexpected(token, "the name of an entry")),
        };
        lexer.expect(b'=', "before the value of an entry")?;
        let value = if of == "dictionary" {
            let token = lexer.expect(b'{', "before the entries of a dictionary")?;
            if depth >= DEEPEST {
                return Err(too_deep(token));
            }
            self::entries(lexer, budget, depth + 1)?
        } else {
            match Type::of(&of) {
                Type::Other => {
                    skip(lexer)?;
                    Meta::Other
                }
                of => match scalar(lexer, of)? {
                    Scalar::Number(number) => Meta::Number(number),
                    Scalar::Text(text) => Meta::Text(text),
                    Scalar::Blocked => Meta::Other,
                },
            }
        };
        let size = key.len()
            + 64
            + if let Meta::Text(text) = &value {
                text.len()
            } else {
                0
            };
        *budget = budget.checked_sub(size).ok_or_else(|| {
            failure(
                "dictionaries in the metadata are larger than this program keeps",
                "take the camera out into a file of its own",
                Some(token.place()),
            )
        })?;
        entries.push((key, value));
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::scan::Scan;
    use ringmark_sdk::native::MemoryInput;
    use std::rc::Rc;

    fn lexer(text: &str) -> Lexer {
        let input = Rc::from(MemoryInput::boxed("x", text.as_bytes()));
        Lexer::new(Scan::new(input, 0, 16))
    }

    #[test]
    fn values_are_of_their_type() {
        for (of, text, value) in [
            ("float", "1.9", Scalar::Number(f64::from(1.9_f32))),
            ("double", "1.9", Scalar::Number(1.9)),
            ("float", "inf", Scalar::Number(f64::INFINITY)),
            ("double", "-inf", Scalar::Number(f64::NEG_INFINITY)),
            ("int", "3.5", Scalar::Number(3.0)),
            ("bool", "true", Scalar::Number(1.0)),
            ("string", "None", Scalar::Blocked),
            ("token", "'a'", Scalar::Text("a".into())),
        ] {
            assert_eq!(
                scalar(&mut lexer(text), Type::of(of)).unwrap(),
                value,
                "{of} {text}"
            );
        }
        for (of, text) in [
            ("float", "\"1\""),
            ("float", "true"),
            ("string", "1"),
            ("float", "NaN"),
            ("float", "(1, 2)"),
        ] {
            assert!(
                scalar(&mut lexer(text), Type::of(of)).is_err(),
                "{of} {text}"
            );
        }
        assert!(time_code(&mut lexer("inf")).is_err());
    }

    #[test]
    fn dictionaries() {
        let text = "{ string \"a b\" = 'x'; dictionary d = { double y = 2 }\n int[] z = [1, (2)] }";
        let meta = dictionary(&mut lexer(text), &mut 1000).unwrap();
        assert_eq!(meta.text("a b"), Some("x"));
        assert_eq!(meta.get("d").unwrap().number("y"), Some(2.0));
        assert_eq!(meta.get("z"), Some(&Meta::Other));
        assert!(dictionary(&mut lexer(text), &mut 60).is_err());
        let deep = "{dictionary a = ".repeat(100_000);
        assert!(dictionary(&mut lexer(&deep), &mut 10_000_000).is_err());
    }

    #[test]
    fn anything_can_be_passed_over() {
        for text in [
            "1 x",
            "[(1, {2})] x",
            "@a@</b> x",
            "@a@ x",
            "</b> x",
            "None x",
            "{1: [2]} x",
        ] {
            let mut lexer = lexer(text);
            skip(&mut lexer).unwrap();
            lexer.next().unwrap();
            assert_eq!(lexer.text(), "x", "{text}");
        }
        assert!(skip(&mut lexer("[1, 2)")).is_err());
        assert!(skip(&mut lexer(&"[".repeat(100_000))).is_err());
    }
}
