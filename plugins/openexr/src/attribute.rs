//! Types of attributes: their sizes and how their bytes become numbers and texts.
//!
//! Layouts: *OpenEXR File Layout*; everything is little-endian without padding.

use std::borrow::Cow;

/// Bytes of a number inside a value.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Element {
    /// Signed 32-bit integer.
    Int,
    /// 32-bit float; widened to 64 bits exactly.
    Float,
    /// 64-bit float.
    Double,
    /// Signed numerator, unsigned denominator, each a number of its own.
    Rational,
}

/// How a value is laid out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A fixed count of numbers.
    Numbers(Element, usize),
    /// As many floats as fit.
    FloatVector,
    /// A text as long as the value; there is no inner length.
    Text,
    /// Texts, each behind its length.
    TextVector,
    /// Time and flags, user bits.
    Timecode,
    /// Bytes of another type; the size is known for types of the standard.
    Opaque(Option<usize>),
}

impl Kind {
    /// The layout of the type called `name`.
    pub fn of(name: &[u8]) -> Kind {
        use Element::{Double, Float, Int, Rational};
        match name {
            b"int" => Kind::Numbers(Int, 1),
            b"float" => Kind::Numbers(Float, 1),
            b"double" => Kind::Numbers(Double, 1),
            b"rational" => Kind::Numbers(Rational, 2),
            b"v2i" => Kind::Numbers(Int, 2),
            b"v3i" => Kind::Numbers(Int, 3),
            b"v2f" => Kind::Numbers(Float, 2),
            b"v3f" => Kind::Numbers(Float, 3),
            b"v2d" => Kind::Numbers(Double, 2),
            b"v3d" => Kind::Numbers(Double, 3),
            b"box2i" => Kind::Numbers(Int, 4),
            b"box2f" => Kind::Numbers(Float, 4),
            b"m33f" => Kind::Numbers(Float, 9),
            b"m44f" => Kind::Numbers(Float, 16),
            b"m33d" => Kind::Numbers(Double, 9),
            b"m44d" => Kind::Numbers(Double, 16),
            b"keycode" => Kind::Numbers(Int, 7),
            b"chromaticities" => Kind::Numbers(Float, 8),
            b"floatvector" => Kind::FloatVector,
            b"string" => Kind::Text,
            b"stringvector" => Kind::TextVector,
            b"timecode" => Kind::Timecode,
            b"compression" | b"lineOrder" | b"envmap" => Kind::Opaque(Some(1)),
            b"tiledesc" => Kind::Opaque(Some(9)),
            _ => Kind::Opaque(None),
        }
    }

    /// The only size a value may have, where the type has one.
    pub fn fixed_size(self) -> Option<usize> {
        match self {
            Kind::Numbers(Element::Int | Element::Float, count) => Some(4 * count),
            Kind::Numbers(Element::Rational, _) | Kind::Timecode => Some(8),
            Kind::Numbers(Element::Double, count) => Some(8 * count),
            Kind::Opaque(size) => size,
            Kind::FloatVector | Kind::Text | Kind::TextVector => None,
        }
    }

    /// The numbers in `value`: none for texts and opaque types.
    pub fn numbers(self, value: &[u8]) -> impl Iterator<Item = f64> + '_ {
        let (element, count) = match self {
            Kind::Numbers(element, count) => (element, count),
            Kind::FloatVector => (Element::Float, value.len() / 4),
            _ => (Element::Int, 0),
        };
        let step = if element == Element::Double { 8 } else { 4 };
        value
            .chunks_exact(step)
            .take(count)
            .enumerate()
            .map(move |(at, bytes)| match (element, bytes) {
                (Element::Int, &[a, b, c, d]) => f64::from(i32::from_le_bytes([a, b, c, d])),
                (Element::Float, &[a, b, c, d]) => f64::from(f32::from_le_bytes([a, b, c, d])),
                (Element::Rational, &[a, b, c, d]) if at == 0 => {
                    f64::from(i32::from_le_bytes([a, b, c, d]))
                }
                (Element::Rational, &[a, b, c, d]) => f64::from(u32::from_le_bytes([a, b, c, d])),
                (Element::Double, &[a, b, c, d, e, f, g, h]) => {
                    f64::from_le_bytes([a, b, c, d, e, f, g, h])
                }
                _ => f64::NAN,
            })
    }
}

/// The 32-bit word at `at`, 0 behind the end: sizes were checked before.
pub fn word(value: &[u8], at: usize) -> u32 {
    match value.get(at..) {
        Some(&[a, b, c, d, ..]) => u32::from_le_bytes([a, b, c, d]),
        _ => 0,
    }
}

/// Numerator and denominator of a rational.
pub fn rational(value: &[u8]) -> (i32, u32) {
    (word(value, 0) as i32, word(value, 4))
}

/// What is wrong with the inner lengths of a `stringvector`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BadText {
    /// Offset in the value of the wrong length.
    pub at: usize,
    /// The length as written; `None` where the value ends inside it.
    pub length: Option<i32>,
    /// Bytes that are left for the text.
    pub left: usize,
}

/// The texts of a `stringvector`.
pub fn texts(value: &[u8]) -> Result<Vec<Cow<'_, str>>, BadText> {
    let mut found = Vec::new();
    walk_texts(value, |text| found.push(String::from_utf8_lossy(text)))?;
    Ok(found)
}

/// Checks the inner lengths of a `stringvector`.
pub fn check_texts(value: &[u8]) -> Result<(), BadText> {
    walk_texts(value, |_| ())
}

fn walk_texts<'a>(value: &'a [u8], mut each: impl FnMut(&'a [u8])) -> Result<(), BadText> {
    let mut at = 0;
    while at < value.len() {
        let Some((head, rest)) = value.get(at..).and_then(|v| v.split_first_chunk::<4>()) else {
            return Err(BadText {
                at,
                length: None,
                left: value.len() - at,
            });
        };
        let length = i32::from_le_bytes(*head);
        let text = usize::try_from(length).ok().and_then(|n| rest.get(..n));
        let Some(text) = text else {
            return Err(BadText {
                at,
                length: Some(length),
                left: rest.len(),
            });
        };
        each(text);
        at += 4 + text.len();
    }
    Ok(())
}

/// Bytes as hexadecimal.
pub fn hex(value: &[u8]) -> String {
    const DIGITS: [char; 16] = [
        '0', '1', '2', '3', '4', '5', '6', '7', '8', '9', 'a', 'b', 'c', 'd', 'e', 'f',
    ];
    let mut text = String::with_capacity(2 * value.len());
    for byte in value {
        text.push(DIGITS[usize::from(byte >> 4)]);
        text.push(DIGITS[usize::from(byte & 15)]);
    }
    text
}

/// A value for messages.
pub fn describe(kind: Kind, value: &[u8]) -> String {
    match kind {
        Kind::Text => format!("“{}”", String::from_utf8_lossy(value).escape_debug()),
        Kind::Numbers(Element::Rational, _) => {
            let (numerator, denominator) = rational(value);
            format!("{numerator}/{denominator}")
        }
        Kind::Numbers(..) | Kind::FloatVector => {
            let numbers: Vec<_> = kind.numbers(value).map(|n| n.to_string()).collect();
            numbers.join(", ")
        }
        _ => hex(value),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn numbers(kind: &str, value: &[u8]) -> Vec<f64> {
        Kind::of(kind.as_bytes()).numbers(value).collect()
    }

    #[test]
    fn floats_are_widened_exactly() {
        assert_eq!(
            numbers("float", &0.9f32.to_le_bytes()),
            [0.899_999_976_158_142_1]
        );
        assert_eq!(
            numbers("float", &f32::INFINITY.to_le_bytes()),
            [f64::INFINITY]
        );
        assert!(numbers("float", &f32::NAN.to_le_bytes())[0].is_nan());
    }

    #[test]
    fn numbers_of_all_layouts() {
        assert_eq!(numbers("int", &(-5i32).to_le_bytes()), [-5.0]);
        assert_eq!(numbers("double", &1e-9f64.to_le_bytes()), [1e-9]);
        let rational = [(-1i32).to_le_bytes(), u32::MAX.to_le_bytes()].concat();
        assert_eq!(numbers("rational", &rational), [-1.0, 4_294_967_295.0]);
        assert_eq!(numbers("floatvector", &[0; 12]), [0.0, 0.0, 0.0]);
        assert_eq!(numbers("string", b"1234"), [0.0; 0]);
    }

    #[test]
    fn sizes_of_types() {
        for (kind, size) in [
            ("int", Some(4)),
            ("rational", Some(8)),
            ("timecode", Some(8)),
            ("keycode", Some(28)),
            ("chromaticities", Some(32)),
            ("box2i", Some(16)),
            ("v3d", Some(24)),
            ("m33f", Some(36)),
            ("m44d", Some(128)),
            ("tiledesc", Some(9)),
            ("lineOrder", Some(1)),
            ("string", None),
            ("ownType", None),
        ] {
            assert_eq!(Kind::of(kind.as_bytes()).fixed_size(), size, "{kind}");
        }
    }

    #[test]
    fn inner_lengths_fill_the_value_exactly() {
        let value = b"\x05\0\0\0prime\0\0\0\0\x02\0\0\0\xc3\xbc";
        assert_eq!(texts(value).unwrap(), ["prime", "", "ü"]);
        assert_eq!(texts(b"").unwrap(), [""; 0]);
        let length = |value: &[u8]| check_texts(value).unwrap_err();
        assert_eq!(length(b"\x05\0\0\0abc").length, Some(5));
        assert_eq!(length(b"\xff\xff\xff\xffabc").length, Some(-1));
        assert_eq!(
            length(b"\0\0\0\0\0\0"),
            BadText {
                at: 4,
                length: None,
                left: 2
            }
        );
    }

    #[test]
    fn values_in_messages() {
        assert_eq!(describe(Kind::Text, b"A\n"), "“A\\n”");
        let rate = [30000u32.to_le_bytes(), 1001u32.to_le_bytes()].concat();
        assert_eq!(describe(Kind::of(b"rational"), &rate), "30000/1001");
        assert_eq!(describe(Kind::of(b"own"), &[1, 0xab]), "01ab");
    }
}
