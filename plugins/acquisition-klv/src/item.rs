//! The value of an item, both ways.

use std::borrow::Cow;

use crate::codes::{distance, fraction, half, stop};
use crate::fields::Codec;
use crate::klv::{from_hex, hex, number};

/// What an item holds.
#[derive(Debug, Clone, PartialEq)]
pub enum Value<'a> {
    /// A number in the unit of its field.
    Number(f64),
    /// A text.
    Text(Cow<'a, str>),
    /// A code that means nothing here; its bytes are kept as they stand.
    Kept,
}

/// What is odd about an item.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Oddity {
    /// A distance so large that it can only mean infinity.
    Infinity,
    /// 0, where 0 is no possible value.
    Zero,
    /// A denominator of 0.
    ZeroDenominator,
    /// A rate of 0, or with a denominator of 0.
    Rate,
    /// A text that is no UTF-8.
    Utf8,
    /// A number in the upper half, which may be meant as negative.
    Sign,
    /// A code without a word.
    Word,
    /// An array that is not laid out as it should be.
    Array,
}

/// The value has a length that the item cannot have.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct WrongSize {
    /// The length that it should have.
    pub expected: usize,
}

type Decoded<'a> = Result<(Value<'a>, Option<Oddity>), WrongSize>;

/// First half of the label of an exposure mode; the version byte is not compared.
const EXPOSURE: [u8; 8] = [0x06, 0x0e, 0x2b, 0x34, 0x04, 0x01, 0x01, 0x0b];
const EXPOSURE_MODES: [&str; 5] = [
    "Manual",
    "Full Auto",
    "Gain Priority Auto",
    "Iris Priority Auto",
    "Shutter Priority Auto",
];
const CDL_NAMES: [&str; 10] = ["sR", "sG", "sB", "oR", "oG", "oB", "pR", "pG", "pB", "sat"];
const MATRIX_NAMES: [&str; 9] = ["RR", "GR", "BR", "RG", "GG", "BG", "RB", "GB", "BB"];

fn sized<const N: usize>(bytes: &[u8]) -> Result<[u8; N], WrongSize> {
    bytes.try_into().map_err(|_| WrongSize { expected: N })
}

fn short(bytes: &[u8]) -> Result<u16, WrongSize> {
    sized(bytes).map(u16::from_be_bytes)
}

fn numbers<'a>(value: f64) -> Decoded<'a> {
    Ok((Value::Number(value), None))
}

fn kept<'a>(oddity: Oddity) -> Decoded<'a> {
    Ok((Value::Kept, Some(oddity)))
}

/// What `bytes` hold.
pub fn decode(codec: Codec, bytes: &[u8]) -> Decoded<'_> {
    match codec {
        Codec::Stop => numbers(stop::decode(short(bytes)?)),
        Codec::Distance | Codec::FocalLength => {
            let metres = distance::decode(short(bytes)?);
            if metres == 0.0 {
                kept(Oddity::Zero)
            } else if codec == Codec::Distance && metres >= distance::INFINITE {
                Ok((Value::Number(f64::INFINITY), Some(Oddity::Infinity)))
            } else {
                numbers(metres)
            }
        }
        Codec::Ring => numbers(f64::from(short(bytes)?) / 65_536.0),
        Codec::Whole { least } => match short(bytes)? {
            code if code < least => kept(Oddity::Zero),
            code => numbers(f64::from(code)),
        },
        Codec::Whole32 => numbers(f64::from(u32::from_be_bytes(sized(bytes)?))),
        Codec::Parts { per, signed } => {
            let code = short(bytes)?;
            if signed && code > 0x7fff {
                let value = f64::from(code as i16) / per;
                return Ok((Value::Number(value), Some(Oddity::Sign)));
            }
            numbers(f64::from(code) / per)
        }
        Codec::Fraction { rate } => {
            let code = u64::from_be_bytes(sized(bytes)?);
            let (num, den) = ((code >> 32) as u32, code as u32);
            match (num, den) {
                (0, _) | (_, 0) if rate => kept(Oddity::Rate),
                (_, 0) => kept(Oddity::ZeroDenominator),
                parts => numbers(fraction::ratio(parts)),
            }
        }
        Codec::Text => {
            let end = bytes
                .iter()
                .rposition(|b| *b != 0)
                .map_or(0, |last| last + 1);
            let text = String::from_utf8_lossy(&bytes[..end]);
            let odd = matches!(text, Cow::Owned(_)).then_some(Oddity::Utf8);
            Ok((Value::Text(text), odd))
        }
        Codec::Switch => word(if sized(bytes)? == [0] { "Off" } else { "On" }),
        Codec::Words(words) => {
            let [code] = sized(bytes)?;
            match words.iter().find(|(known, _)| *known == code) {
                Some((_, name)) => word(name),
                None => kept(Oddity::Word),
            }
        }
        Codec::Exposure => {
            let label: [u8; 16] = sized(bytes)?;
            let mode = match label[8..] {
                [5, 0x10, 1, 1, 1, mode, 0, 0] if label[..7] == EXPOSURE[..7] => mode,
                _ => 0,
            };
            match EXPOSURE_MODES.get(usize::from(mode).wrapping_sub(1)) {
                Some(name) => word(name),
                None => kept(Oddity::Word),
            }
        }
        Codec::Label => Ok((Value::Text(Cow::Owned(hex(&sized::<16>(bytes)?))), None)),
        Codec::Cdl => array(bytes, &CDL_NAMES, |bits: [u8; 2]| {
            half::decode(u16::from_be_bytes(bits)).map(|number| number.to_string())
        }),
        // Whether the numbers have a sign is not said; a matrix without negative ones is rare.
        Codec::Matrix => array(bytes, &MATRIX_NAMES, |[a, b, c, d, e, f, g, h]: [u8; 8]| {
            let den = i32::from_be_bytes([e, f, g, h]);
            (den != 0).then(|| format!("{}/{den}", i32::from_be_bytes([a, b, c, d])))
        }),
    }
}

fn word<'a>(name: &'static str) -> Decoded<'a> {
    Ok((Value::Text(Cow::Borrowed(name)), None))
}

/// An array: how many, how long each, the items. As a text `NAME=VALUE NAME=VALUE ...`.
fn array<'a, const N: usize>(
    bytes: &'a [u8],
    names: &[&str],
    text: impl Fn([u8; N]) -> Option<String>,
) -> Decoded<'a> {
    let expected = 8 + names.len() * N;
    if bytes.len() != expected {
        return Err(WrongSize { expected });
    }
    let (count, rest) = bytes.split_at(4);
    let (size, rest) = rest.split_at(4);
    if (number(count), number(size)) != (names.len() as u64, N as u64) {
        return kept(Oddity::Array);
    }
    let parts: Option<Vec<String>> = rest
        .chunks_exact(N)
        .zip(names)
        .map(|(part, name)| Some(format!("{name}={}", text(part.try_into().ok()?)?)))
        .collect();
    match parts {
        Some(parts) => Ok((Value::Text(Cow::Owned(parts.join(" "))), None)),
        None => kept(Oddity::Array),
    }
}

/// Whether the format promises to keep this number with the precision that the manifest states.
pub fn holds(codec: Codec, value: f64) -> bool {
    match codec {
        Codec::Stop => value > stop::ABOVE && value <= stop::MOST,
        Codec::Distance => (distance::LEAST..=distance::MOST_FINITE).contains(&value),
        Codec::FocalLength => (distance::LEAST..=distance::MOST).contains(&value),
        Codec::Ring => (0.0..=65_535.0 / 65_536.0).contains(&value),
        Codec::Whole { least } => (f64::from(least)..=65_535.0).contains(&value),
        Codec::Whole32 => (0.0..=f64::from(u32::MAX)).contains(&value),
        Codec::Parts { per, signed: true } => (-32_768.0..=32_767.0).contains(&(value * per)),
        Codec::Parts { per, signed: false } => (0.0..=65_535.0).contains(&(value * per)),
        Codec::Fraction { .. } => (fraction::LEAST..=fraction::MOST).contains(&value),
        _ => false,
    }
}

/// Appends the bytes of the nearest code. `false`, and nothing is appended, if there is none near.
pub fn encode_number(codec: Codec, value: f64, out: &mut Vec<u8>) -> bool {
    let code = match codec {
        Codec::Stop => stop::encode(value),
        Codec::Distance | Codec::FocalLength if holds(codec, value) => distance::encode(value),
        // The end of the ring has no code of its own: the last one stands in.
        Codec::Ring => (0.0..=1.0)
            .contains(&value)
            .then(|| (value * 65_536.0).round().min(65_535.0) as u16),
        Codec::Whole { .. } if holds(codec, value) => Some(value.round() as u16),
        Codec::Parts { per, signed } if holds(codec, value) => {
            let code = (value * per).round();
            Some(if signed {
                code as i16 as u16
            } else {
                code as u16
            })
        }
        Codec::Whole32 if holds(codec, value) => {
            out.extend_from_slice(&(value.round() as u32).to_be_bytes());
            return true;
        }
        Codec::Fraction { rate } => match fraction::encode(value) {
            Some((num, den)) if num > 0 || !rate => {
                out.extend_from_slice(&num.to_be_bytes());
                out.extend_from_slice(&den.to_be_bytes());
                return true;
            }
            _ => None,
        },
        _ => None,
    };
    if let Some(code) = code {
        out.extend_from_slice(&code.to_be_bytes());
    }
    code.is_some()
}

/// Appends the bytes of a text. `false`, and nothing is appended, if no bytes lead back to it.
pub fn encode_text(codec: Codec, text: &str, out: &mut Vec<u8>) -> bool {
    let start = out.len();
    if text_bytes(codec, text, out).is_some()
        && decode(codec, &out[start..]) == Ok((Value::Text(Cow::Borrowed(text)), None))
    {
        return true;
    }
    out.truncate(start);
    false
}

fn text_bytes(codec: Codec, text: &str, out: &mut Vec<u8>) -> Option<()> {
    match codec {
        Codec::Text => out.extend_from_slice(text.as_bytes()),
        Codec::Switch => out.push(u8::from(text == "On")),
        Codec::Words(words) => out.push(words.iter().find(|(_, name)| *name == text)?.0),
        Codec::Exposure => {
            let mode = EXPOSURE_MODES.iter().position(|name| *name == text)? as u8 + 1;
            out.extend_from_slice(&EXPOSURE);
            out.extend_from_slice(&[5, 0x10, 1, 1, 1, mode, 0, 0]);
        }
        Codec::Label => out.extend_from_slice(&from_hex(text)?),
        Codec::Cdl => {
            array_head(CDL_NAMES.len(), 2, out);
            for part in parts(text, &CDL_NAMES) {
                out.extend_from_slice(&half::encode(part?.parse().ok()?)?.to_be_bytes());
            }
        }
        Codec::Matrix => {
            array_head(MATRIX_NAMES.len(), 8, out);
            for part in parts(text, &MATRIX_NAMES) {
                let (num, den) = part?.split_once('/')?;
                out.extend_from_slice(&num.parse::<i32>().ok()?.to_be_bytes());
                out.extend_from_slice(&den.parse::<i32>().ok()?.to_be_bytes());
            }
        }
        _ => return None,
    }
    Some(())
}

fn array_head(count: usize, size: u32, out: &mut Vec<u8>) {
    out.extend_from_slice(&(count as u32).to_be_bytes());
    out.extend_from_slice(&size.to_be_bytes());
}

/// The values of `NAME=VALUE NAME=VALUE ...`, in the order of `names`.
fn parts<'a>(
    text: &'a str,
    names: &'a [&'a str],
) -> impl Iterator<Item = Option<&'a str>> + use<'a> {
    let mut given = text.split(' ');
    names
        .iter()
        .map(move |name| given.next()?.strip_prefix(name)?.strip_prefix('='))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::fields::FIELDS;

    fn text(codec: Codec, bytes: &[u8]) -> String {
        match decode(codec, bytes).unwrap() {
            (Value::Text(text), None) => text.into_owned(),
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn every_short_code_of_every_item_leads_back_or_is_kept() {
        for field in FIELDS.iter().filter(|f| f.codec.is_number()) {
            for code in 0..=u16::MAX {
                let bytes = code.to_be_bytes();
                let Ok((value, odd)) = decode(field.codec, &bytes) else {
                    break;
                };
                let Value::Number(number) = value else {
                    assert_eq!((value, odd, code), (Value::Kept, Some(Oddity::Zero), code));
                    continue;
                };
                let mut bytes = Vec::new();
                if !encode_number(field.codec, number, &mut bytes) {
                    assert!(!holds(field.codec, number), "{} {number}", field.name);
                    continue;
                }
                let (again, _) = decode(field.codec, &bytes).unwrap();
                assert_eq!(again, Value::Number(number), "{}", field.name);
            }
        }
    }

    #[test]
    fn words_lead_back() {
        for field in FIELDS
            .iter()
            .filter(|f| matches!(f.codec, Codec::Words(_) | Codec::Switch))
        {
            let mut named = 0;
            for code in 0..=u8::MAX {
                if let (Value::Text(word), None) = decode(field.codec, &[code]).unwrap() {
                    let mut bytes = Vec::new();
                    assert!(encode_text(field.codec, &word, &mut bytes));
                    assert_eq!(text(field.codec, &bytes), word);
                    named += 1;
                }
            }
            assert!(named >= 2, "{}", field.name);
            let mut bytes = vec![1];
            assert!(!encode_text(field.codec, "Perhaps", &mut bytes));
            assert_eq!(bytes, [1]);
        }
    }

    #[test]
    fn arrays_are_texts() {
        let mut bytes = Vec::new();
        let cdl = "sR=1 sG=1.5 sB=1 oR=0 oG=-0.5 oB=0 pR=1 pG=1 pB=0.0999755859375 sat=1";
        assert!(encode_text(Codec::Cdl, cdl, &mut bytes));
        assert_eq!(bytes.len(), 28);
        assert_eq!(text(Codec::Cdl, &bytes), cdl);
        bytes.clear();
        let matrix = "RR=1/1 GR=2/3 BR=-1/4 RG=5/1 GG=1/1 BG=7/8 RB=1/1000 GB=0/1 BB=1/1";
        assert!(encode_text(Codec::Matrix, matrix, &mut bytes));
        assert_eq!(text(Codec::Matrix, &bytes), matrix);
        for wrong in [
            "",
            "RR=1/1",
            &matrix.replace("7/8", "7/0"),
            &format!("{matrix} "),
            &matrix.replace('G', "g"),
        ] {
            assert!(
                !encode_text(Codec::Matrix, wrong, &mut Vec::new()),
                "{wrong}"
            );
        }
        assert!(!encode_text(
            Codec::Cdl,
            &cdl.replace("1.5", "1.1"),
            &mut Vec::new()
        ));
    }

    #[test]
    fn odd_codes() {
        fn codec(name: &str) -> Codec {
            FIELDS[crate::fields::index_by_name(name).unwrap()].codec
        }
        fn odd<'a>(name: &str, bytes: &'a [u8]) -> (Value<'a>, Option<Oddity>) {
            decode(codec(name), bytes).unwrap()
        }
        assert_eq!(
            odd("focus-distance", &[0x7f, 0xff]),
            (Value::Number(f64::INFINITY), Some(Oddity::Infinity))
        );
        assert_eq!(
            odd("focus-distance", &[0x10, 0]),
            (Value::Kept, Some(Oddity::Zero))
        );
        assert_eq!(
            odd("capture-rate", &[0, 0, 0, 0, 0, 0, 0, 1]),
            (Value::Kept, Some(Oddity::Rate))
        );
        assert_eq!(
            odd("exposure-time", &[0, 0, 0, 1, 0, 0, 0, 0]),
            (Value::Kept, Some(Oddity::ZeroDenominator))
        );
        assert_eq!(
            odd("exposure-time", &[0, 0, 0, 0, 0, 0, 0, 1]),
            (Value::Number(0.0), None)
        );
        assert_eq!(
            odd("extra/CameraMasterGainAdjustment", &[0xfe, 0xd4]),
            (Value::Number(-3.0), Some(Oddity::Sign))
        );
        assert_eq!(
            odd("extra/AutoWhiteBalanceMode", &[9]),
            (Value::Kept, Some(Oddity::Word))
        );
        assert_eq!(
            odd("lens", b"A\xff\0\0"),
            (Value::Text("A\u{fffd}".into()), Some(Oddity::Utf8))
        );
        assert_eq!(
            decode(codec("lens"), b"A\0\0"),
            Ok((Value::Text("A".into()), None))
        );
        assert_eq!(
            decode(codec("t-stop"), &[1, 2, 3]),
            Err(WrongSize { expected: 2 })
        );
        assert_eq!(
            decode(codec("extra/ASC_CDL_V12"), &[]),
            Err(WrongSize { expected: 28 })
        );
    }

    #[test]
    fn the_end_of_a_ring_takes_the_last_code() {
        let mut bytes = Vec::new();
        assert!(encode_number(Codec::Ring, 1.0, &mut bytes));
        assert_eq!(bytes, [255, 255]);
        assert!(!holds(Codec::Ring, 1.0));
        assert!(!encode_number(Codec::Ring, 1.001, &mut bytes));
    }

    #[test]
    fn whole_steps_are_off_by_half_a_step_at_most() {
        for (codec, most, step) in [
            (Codec::Ring, 65_535.0 / 65_536.0, 1.0 / 65_536.0),
            (Codec::Whole32, 21_600.0, 1.0),
            (Codec::Whole { least: 1 }, 65_535.0, 1.0),
        ] {
            let least = if matches!(codec, Codec::Whole { .. }) {
                1.0
            } else {
                0.0
            };
            for n in 0..=1_000_000 {
                let value = least + (most - least) * f64::from(n) / 1e6;
                let mut bytes = Vec::new();
                assert!(encode_number(codec, value, &mut bytes), "{codec:?} {value}");
                let Ok((Value::Number(back), None)) = decode(codec, &bytes) else {
                    panic!("{codec:?} {value}");
                };
                assert!(
                    (back - value).abs() <= step / 2.0,
                    "{codec:?} {value} {back}"
                );
            }
        }
    }
}
