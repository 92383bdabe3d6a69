//! SMPTE ST 336: a 16-byte key, a length (BER), a value.

use std::fmt::Write as _;

/// A 16-byte label that names what follows.
pub type Key = [u8; 16];

/// Every key starts with this.
pub const MAGIC: [u8; 4] = [0x06, 0x0e, 0x2b, 0x34];

/// Longest key and length together: eight length bytes behind the first.
pub const MOST_HEADER: usize = 16 + 9;

/// Longest value that is looked at as a whole, and longest that is written: three length bytes.
pub const MOST_VALUE: u64 = 0xff_ffff;

/// The head of a triplet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Header {
    /// Its key.
    pub key: Key,
    /// Bytes of key and length.
    pub size: u64,
    /// Bytes of the value.
    pub length: u64,
}

/// Why there is no head.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Defect {
    /// The bytes end inside the key or its length.
    Cut,
    /// The bytes are no key.
    NoKey,
    /// Length byte 80: a value of unknown end.
    Indefinite,
    /// So many length bytes.
    LengthBytes(u8),
}

impl Defect {
    /// What is wrong.
    pub fn message(self) -> String {
        match self {
            Defect::Cut => "the file ends inside a key or its length".to_owned(),
            Defect::NoKey => "these bytes are no key: keys start with 06 0E 2B 34".to_owned(),
            Defect::Indefinite => {
                "the length is 80 (indefinite), which KLV does not allow".to_owned()
            }
            Defect::LengthBytes(count) => {
                format!("the length has {count} bytes: at most 8 are allowed")
            }
        }
    }
}

impl Header {
    /// The head at the start of `bytes`.
    pub fn read(bytes: &[u8]) -> Result<Header, Defect> {
        let known = bytes.len().min(4);
        if bytes[..known] != MAGIC[..known] {
            return Err(Defect::NoKey);
        }
        let (key, rest) = bytes.split_first_chunk::<16>().ok_or(Defect::Cut)?;
        let (&first, rest) = rest.split_first().ok_or(Defect::Cut)?;
        let (count, length) = match first {
            0..0x80 => (0, u64::from(first)),
            0x80 => return Err(Defect::Indefinite),
            0x81..=0x88 => {
                let count = usize::from(first - 0x80);
                let bytes = rest.get(..count).ok_or(Defect::Cut)?;
                (count, number(bytes))
            }
            _ => return Err(Defect::LengthBytes(first - 0x80)),
        };
        Ok(Header {
            key: *key,
            size: 17 + count as u64,
            length,
        })
    }
}

/// A whole number, most significant byte first.
pub fn number(bytes: &[u8]) -> u64 {
    bytes
        .iter()
        .fold(0, |sum, byte| sum << 8 | u64::from(*byte))
}

/// Appends a triplet, its length in three bytes. `false` if the value is too long for that.
pub fn push(out: &mut Vec<u8>, key: &Key, value: &[u8]) -> bool {
    if value.len() as u64 > MOST_VALUE {
        return false;
    }
    out.extend_from_slice(key);
    out.push(0x83);
    out.extend_from_slice(&(value.len() as u32).to_be_bytes()[1..]);
    out.extend_from_slice(value);
    true
}

/// Bytes as hexadecimal digits.
pub fn hex(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(2 * bytes.len());
    for byte in bytes {
        let _ = write!(text, "{byte:02x}");
    }
    text
}

/// The bytes of hexadecimal digits as [`hex`] writes them.
pub fn from_hex(text: &str) -> Option<Vec<u8>> {
    let digit = |c: u8| match c {
        b'0'..=b'9' => Some(c - b'0'),
        b'a'..=b'f' => Some(c - b'a' + 10),
        _ => None,
    };
    let pairs = text.as_bytes().chunks(2);
    pairs
        .map(|pair| match pair {
            [high, low] => Some(digit(*high)? << 4 | digit(*low)?),
            _ => None,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn head(length: &[u8]) -> Result<Header, Defect> {
        let mut bytes = vec![6, 0xe, 0x2b, 0x34, 2, 0x53, 1, 1, 0xc, 2, 1, 1, 1, 1, 0, 0];
        bytes.extend_from_slice(length);
        Header::read(&bytes)
    }

    #[test]
    fn all_forms_of_a_length() {
        for (bytes, size, length) in [
            (&[0x07][..], 17, 7),
            (&[0x7f], 17, 127),
            (&[0x81, 0xff], 18, 255),
            (&[0x82, 1, 0], 19, 256),
            (&[0x83, 0, 0, 7], 20, 7),
            (&[0x84, 0, 1, 0, 0], 21, 65_536),
            (&[0x88, 0, 0, 0, 0, 0, 0, 0, 9], 25, 9),
            (
                &[0x88, 255, 255, 255, 255, 255, 255, 255, 255],
                25,
                u64::MAX,
            ),
        ] {
            let header = head(bytes).unwrap();
            assert_eq!((header.size, header.length), (size, length), "{bytes:?}");
        }
        assert_eq!(head(&[0x80]), Err(Defect::Indefinite));
        assert_eq!(head(&[0x89, 0]), Err(Defect::LengthBytes(9)));
        assert_eq!(head(&[0x82, 1]), Err(Defect::Cut));
        assert_eq!(head(&[]), Err(Defect::Cut));
        assert_eq!(Header::read(&[6, 0xe, 0x2b]), Err(Defect::Cut));
        assert_eq!(Header::read(&[6, 0xe, 0x2c]), Err(Defect::NoKey));
    }

    #[test]
    fn hexadecimal_leads_back() {
        assert_eq!(from_hex(&hex(&[0, 0xab, 255])), Some(vec![0, 0xab, 255]));
        assert_eq!(from_hex(""), Some(vec![]));
        for wrong in ["a", "AB", "0g", "é"] {
            assert_eq!(from_hex(wrong), None, "{wrong}");
        }
    }
}
