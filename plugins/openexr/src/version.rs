//! The first eight bytes of a file: magic number, version, flags.

use crate::defect::{DAMAGED, Defect, Halt};

/// First four bytes of a file.
pub const MAGIC: [u8; 4] = [0x76, 0x2f, 0x31, 0x01];

/// Magic number and version field.
pub const START: usize = 8;
/// Single part in tiles.
pub const TILED: u32 = 0x200;
/// Names of up to 255 bytes instead of 31.
pub const LONG_NAMES: u32 = 0x400;
/// Holds deep data.
pub const DEEP: u32 = 0x800;
/// May hold several parts.
pub const MULTI_PART: u32 = 0x1000;

const FOREIGN: &str = "pass only OpenEXR files, version 2";

/// The flags of the version field, if they are legal.
pub fn version_flags(bytes: &[u8]) -> Result<u32, Halt> {
    let damaged = |at, length, message: String, help| {
        Err(Halt::Damaged(Box::new(Defect::new(
            at, length, message, help,
        ))))
    };
    let magic = bytes.get(..4).unwrap_or(bytes);
    if magic.is_empty() {
        return damaged(0, 0, "the file is empty".to_owned(), DAMAGED);
    }
    if !MAGIC.starts_with(magic) {
        let message = format!(
            "not an OpenEXR file: it starts with {}, OpenEXR with 76 2f 31 01",
            spaced_hex(magic)
        );
        return damaged(0, magic.len(), message, FOREIGN);
    }
    let Some(&[version, b, c, d]) = bytes.get(4..START) else {
        return Err(Halt::More {
            need: START as u64,
            missing: Box::new(Defect::new(
                bytes.len(),
                0,
                format!(
                    "the file ends after {} bytes, before its header",
                    bytes.len()
                ),
                DAMAGED,
            )),
        });
    };
    if version != 2 {
        let message = format!("OpenEXR file version {version}, only version 2 is known");
        return damaged(4, 1, message, FOREIGN);
    }
    let flags = u32::from_le_bytes([0, b, c, d]);
    let unknown = flags & !(TILED | LONG_NAMES | DEEP | MULTI_PART);
    if unknown != 0 {
        let message = format!(
            "unknown flags {unknown:#x} in the version field, known are {:#x}",
            TILED | LONG_NAMES | DEEP | MULTI_PART
        );
        return damaged(5, 3, message, DAMAGED);
    }
    if flags & TILED != 0 && flags & (DEEP | MULTI_PART) != 0 {
        let message = format!(
            "the version field says tiled (0x200) together with {}: tiled stands alone",
            if flags & MULTI_PART != 0 {
                "multi-part (0x1000)"
            } else {
                "deep (0x800)"
            }
        );
        return damaged(5, 3, message, DAMAGED);
    }
    Ok(flags)
}

fn spaced_hex(bytes: &[u8]) -> String {
    let pairs: Vec<_> = bytes.iter().map(|byte| format!("{byte:02x}")).collect();
    pairs.join(" ")
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn message(bytes: &[u8]) -> String {
        match version_flags(bytes).unwrap_err() {
            Halt::More { missing, .. } => missing.message,
            Halt::Damaged(defect) => defect.message,
        }
    }

    #[test]
    fn legal_flags() {
        for flags in [
            0,
            TILED,
            DEEP,
            MULTI_PART,
            DEEP | MULTI_PART,
            LONG_NAMES | TILED,
        ] {
            let field = (2 | flags).to_le_bytes();
            assert_eq!(version_flags(&[MAGIC, field].concat()), Ok(flags));
        }
    }

    #[test]
    fn every_refusal_says_what_it_found() {
        assert_eq!(message(b""), "the file is empty");
        assert!(message(b"\x89PNG\r\n").contains("89 50 4e 47"));
        assert!(message(b"\x76\x2f").contains("after 2 bytes"));
        assert!(message(b"\x76\x2f\x31\x01\x03\0\0\0").contains("version 3"));
        assert!(message(b"\x76\x2f\x31\x01\x02\0\x01\0").contains("0x10000"));
        assert!(message(b"\x76\x2f\x31\x01\x02\x12\0\0").contains("multi-part"));
        assert!(message(b"\x76\x2f\x31\x01\x02\x0a\0\0").contains("deep"));
    }
}
