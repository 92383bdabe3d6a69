//! The private part of a frame: a user-defined set with an identifier of ours, which other
//! programs pass over. It holds what the model carries and the lens and camera sets cannot say.
//!
//! Item E000 is the identifier, E001 and those that follow are one run of bytes: a version, then
//! records. Numbers have their most significant byte first, names 16 bits of length.
//!
//! | record | holds |
//! |---|---|
//! | 01 | a column: number, form, name, unit, reference. It stands before the first value |
//! | 02 | number of a column, a 64-bit float |
//! | 03 | number of a column, a text with 32 bits of length |
//! | 04 | a lens starts |
//! | 05, 06 | a fact of the lens, of the take: name, unit, form, value |
//! | 07 | which lens the take has |
//! | 08 | a name that items of the standard seem to state, and the source did not |
//! | 09 | what `focus-distance` is measured from, where items do not tell |

use ringmark_sdk::Datum;

use crate::keys;
use crate::klv;
use crate::local_set::{self, Coding, Items};

/// Identifier of the private part, drawn at random.
const IDENTIFIER: [u8; 16] = [
    0x7d, 0x1c, 0x52, 0x9b, 0x3e, 0x60, 0x4f, 0x87, 0xa1, 0x0e, 0xc4, 0x4b, 0x93, 0xd8, 0x26, 0x75,
];
const IDENTIFIER_TAG: u16 = 0xe000;
const VERSION: u8 = 1;

/// What the values of a column are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Form {
    /// Numbers.
    Number,
    /// Plain texts.
    Text,
    /// JSON texts.
    Json,
    /// Bytes as hexadecimal text.
    Hex,
}

impl Form {
    const ALL: [Form; 4] = [Form::Number, Form::Text, Form::Json, Form::Hex];

    /// Its name in the contract.
    pub fn name(self) -> &'static str {
        match self {
            Form::Number => "number",
            Form::Text => "text",
            Form::Json => "json",
            Form::Hex => "hex",
        }
    }

    /// The form of texts that is called `name`.
    pub fn of_texts(name: &str) -> Option<Form> {
        Form::ALL[1..].iter().copied().find(|f| f.name() == name)
    }
}

/// One record.
#[derive(Debug, Clone, PartialEq)]
pub enum Record<'a> {
    /// A column starts here.
    Column {
        /// By which records name it.
        id: u16,
        /// What its values are.
        form: Form,
        /// Channel or extra.
        name: &'a str,
        /// Unit of the values.
        unit: &'a str,
        /// What distances are measured from.
        reference: &'a str,
    },
    /// A number of the frame.
    Number {
        /// The column.
        id: u16,
        /// The number.
        value: f64,
    },
    /// A text of the frame.
    Text {
        /// The column.
        id: u16,
        /// The text.
        text: &'a str,
    },
    /// A lens starts.
    Lens,
    /// A fact of the last lens, or of the take.
    Fact {
        /// Whether it is of the take.
        of_take: bool,
        /// Its name.
        name: &'a str,
        /// Its unit.
        unit: &'a str,
        /// Its value.
        value: Datum,
    },
    /// Index of the take's lens.
    TakeLens(u32),
    /// Items of the standard that say this do not come from the source.
    Hidden(&'a str),
    /// What `focus-distance` is measured from.
    Focus(&'a str),
}

/// Appends records. `false` if a name or text is too long.
#[must_use]
pub fn push(out: &mut Vec<u8>, record: &Record) -> bool {
    let start = out.len();
    let done = push_parts(out, record).is_some();
    if !done {
        out.truncate(start);
    }
    done
}

fn push_parts(out: &mut Vec<u8>, record: &Record) -> Option<()> {
    match record {
        Record::Column {
            id,
            form,
            name,
            unit,
            reference,
        } => {
            out.push(1);
            out.extend_from_slice(&id.to_be_bytes());
            out.push(*form as u8);
            push_name(out, name)?;
            push_name(out, unit)?;
            push_name(out, reference)?;
        }
        Record::Number { id, value } => {
            out.push(2);
            out.extend_from_slice(&id.to_be_bytes());
            out.extend_from_slice(&value.to_be_bytes());
        }
        Record::Text { id, text } => {
            out.push(3);
            out.extend_from_slice(&id.to_be_bytes());
            push_text(out, text)?;
        }
        Record::Lens => out.push(4),
        Record::Fact {
            of_take,
            name,
            unit,
            value,
        } => {
            out.push(5 + u8::from(*of_take));
            push_name(out, name)?;
            push_name(out, unit)?;
            match value {
                Datum::Number(number) => {
                    out.push(0);
                    out.extend_from_slice(&number.to_be_bytes());
                }
                Datum::Text(text) => {
                    out.push(1);
                    push_text(out, text)?;
                }
            }
        }
        Record::TakeLens(index) => {
            out.push(7);
            out.extend_from_slice(&index.to_be_bytes());
        }
        Record::Hidden(name) => {
            out.push(8);
            push_name(out, name)?;
        }
        Record::Focus(reference) => {
            out.push(9);
            push_name(out, reference)?;
        }
    }
    Some(())
}

fn push_name(out: &mut Vec<u8>, name: &str) -> Option<()> {
    out.extend_from_slice(&u16::try_from(name.len()).ok()?.to_be_bytes());
    out.extend_from_slice(name.as_bytes());
    Some(())
}

fn push_text(out: &mut Vec<u8>, text: &str) -> Option<()> {
    out.extend_from_slice(&u32::try_from(text.len()).ok()?.to_be_bytes());
    out.extend_from_slice(text.as_bytes());
    Some(())
}

/// Appends the set that holds these records. `false` if they are too long for one.
#[must_use]
pub fn push_set(out: &mut Vec<u8>, records: &[u8]) -> bool {
    let mut bytes = Vec::with_capacity(records.len() + 1);
    bytes.push(VERSION);
    bytes.extend_from_slice(records);
    let mut value = Vec::with_capacity(bytes.len() + 32);
    local_set::push(&mut value, IDENTIFIER_TAG, &IDENTIFIER);
    let chunks = bytes.chunks(usize::from(u16::MAX));
    for (tag, chunk) in (IDENTIFIER_TAG + 1..=u16::MAX).zip(chunks) {
        local_set::push(&mut value, tag, chunk);
    }
    klv::push(out, &keys::USER_DEFINED, &value)
}

/// Whether the value of a user-defined set is a private part.
pub fn is_private(value: &[u8]) -> bool {
    let head = [0xe0, 0, 0, 16];
    value
        .strip_prefix(&head)
        .is_some_and(|rest| rest.starts_with(&IDENTIFIER))
}

/// The records of a private part, as one run of bytes.
pub fn records(value: &[u8]) -> Option<Vec<u8>> {
    let mut bytes = Vec::new();
    for item in Items::new(Coding::of(&keys::USER_DEFINED)?, value).skip(1) {
        bytes.extend_from_slice(item.ok()?.value);
    }
    let (&version, _) = bytes.split_first()?;
    (version == VERSION).then(|| bytes.split_off(1))
}

/// Takes the next record off `bytes`. `Err` if there is none that can be read.
pub fn next<'a>(bytes: &mut &'a [u8]) -> Result<Option<Record<'a>>, ()> {
    if bytes.is_empty() {
        return Ok(None);
    }
    read(bytes).map(Some).ok_or(())
}

fn read<'a>(bytes: &mut &'a [u8]) -> Option<Record<'a>> {
    let [kind] = fixed(bytes)?;
    Some(match kind {
        1 => Record::Column {
            id: u16::from_be_bytes(fixed(bytes)?),
            form: {
                let [form] = fixed(bytes)?;
                *Form::ALL.get(usize::from(form))?
            },
            name: name(bytes)?,
            unit: name(bytes)?,
            reference: name(bytes)?,
        },
        2 => Record::Number {
            id: u16::from_be_bytes(fixed(bytes)?),
            value: f64::from_be_bytes(fixed(bytes)?),
        },
        3 => Record::Text {
            id: u16::from_be_bytes(fixed(bytes)?),
            text: text(bytes)?,
        },
        4 => Record::Lens,
        5 | 6 => Record::Fact {
            of_take: kind == 6,
            name: name(bytes)?,
            unit: name(bytes)?,
            value: match fixed(bytes)? {
                [0] => Datum::Number(f64::from_be_bytes(fixed(bytes)?)),
                [1] => Datum::Text(text(bytes)?.to_owned()),
                _ => return None,
            },
        },
        7 => Record::TakeLens(u32::from_be_bytes(fixed(bytes)?)),
        8 => Record::Hidden(name(bytes)?),
        9 => Record::Focus(name(bytes)?),
        _ => return None,
    })
}

fn fixed<const N: usize>(bytes: &mut &[u8]) -> Option<[u8; N]> {
    let (taken, rest) = bytes.split_first_chunk::<N>()?;
    *bytes = rest;
    Some(*taken)
}

fn name<'a>(bytes: &mut &'a [u8]) -> Option<&'a str> {
    let length = u16::from_be_bytes(fixed(bytes)?);
    run(bytes, usize::from(length))
}

fn text<'a>(bytes: &mut &'a [u8]) -> Option<&'a str> {
    let length = u32::from_be_bytes(fixed(bytes)?);
    run(bytes, usize::try_from(length).ok()?)
}

fn run<'a>(bytes: &mut &'a [u8], length: usize) -> Option<&'a str> {
    let (taken, rest) = bytes.split_at_checked(length)?;
    *bytes = rest;
    std::str::from_utf8(taken).ok()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn records_lead_back_over_several_items() {
        let long = "ä".repeat(50_000);
        let all = [
            Record::Column {
                id: 3,
                form: Form::Hex,
                name: "extra/x",
                unit: "",
                reference: "",
            },
            Record::Number {
                id: 3,
                value: f64::INFINITY,
            },
            Record::Text { id: 3, text: &long },
            Record::Lens,
            Record::Fact {
                of_take: false,
                name: "lens-model",
                unit: "",
                value: Datum::Text("A".into()),
            },
            Record::Fact {
                of_take: true,
                name: "sensor-width",
                unit: "um",
                value: Datum::Number(0.1),
            },
            Record::TakeLens(0),
            Record::Hidden("capture-rate"),
            Record::Focus("unstated"),
        ];
        let mut bytes = Vec::new();
        for record in &all {
            assert!(push(&mut bytes, record));
        }
        let mut set = Vec::new();
        assert!(push_set(&mut set, &bytes));
        let header = klv::Header::read(&set).unwrap();
        let value = &set[header.size as usize..];
        assert_eq!(header.length, value.len() as u64);
        assert!(is_private(value));
        let back = records(value).unwrap();
        assert_eq!(back, bytes);
        let mut rest = &back[..];
        for record in &all {
            assert_eq!(
                format!("{:?}", next(&mut rest)),
                format!("{:?}", Ok::<_, ()>(Some(record)))
            );
        }
        assert!(matches!(next(&mut rest), Ok(None)));
        for end in 0..bytes.len().min(60) {
            let mut rest = &bytes[..end];
            while let Ok(Some(_)) = next(&mut rest) {}
        }
    }

    #[test]
    fn a_name_that_is_too_long_is_refused() {
        let mut out = vec![1];
        assert!(!push(&mut out, &Record::Hidden(&"x".repeat(70_000))));
        assert_eq!(out, [1]);
    }
}
