//! Which key is what.
//!
//! Byte 8 of a key is the version of its registry and is never compared. Byte 6 of a set says how
//! its items are coded ([`crate::local_set`]) and is not compared either.

use crate::klv::{Key, MAGIC};
use crate::local_set::Coding;

/// The set of a lens unit (SMPTE RDD 18, EBU Tech 3349).
pub const LENS: Key = acquisition(0x01);
/// The set of a camera unit.
pub const CAMERA: Key = acquisition(0x02);
/// A set whose meaning only its author knows.
pub const USER_DEFINED: Key = acquisition(0x7f);

const fn acquisition(kind: u8) -> Key {
    [
        0x06, 0x0e, 0x2b, 0x34, 0x02, 0x53, 0x01, 0x01, 0x0c, 0x02, 0x01, 0x01, kind, 0x01, 0x00,
        0x00,
    ]
}

/// What a key stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Bytes without meaning that align what follows.
    Fill,
    /// A lens unit set.
    Lens,
    /// A camera unit set.
    Camera,
    /// Another set of the acquisition class, the user-defined one among them.
    Acquisition,
    /// A pack that starts a partition of an MXF file.
    Partition,
    /// A set of MXF header metadata; the byte says which.
    Metadata(u8),
    /// An element of MXF that holds the ancillary packets of a frame (SMPTE ST 436).
    Ancillary,
    /// Any other set.
    Set,
    /// Anything else: essence, index tables, ...
    Other,
}

impl Kind {
    /// What `key` stands for.
    pub fn of(key: &Key) -> Kind {
        if key[..4] != MAGIC {
            return Kind::Other;
        }
        let coded = Coding::of(key).is_some();
        let version = key[6] == 1;
        match (key[4], &key[8..]) {
            (1, [3, 1, 2, 0x10, 1, 0, 0, 0]) if key[5] == 1 => Kind::Fill,
            (2, [0x0c, 2, 1, 1, kind, 1, 0, 0]) if coded && version => match kind {
                1 => Kind::Lens,
                2 => Kind::Camera,
                _ => Kind::Acquisition,
            },
            (2, [0x0c, 2, 1, 1, ..]) if coded && version => Kind::Acquisition,
            // Layout of packs and elements as an independent decoder has it, element type 02 for
            // ancillary packets from memory.
            (2, [0x0d, 1, 2, 1, 1, 2..=4, ..]) if key[5] == 5 => Kind::Partition,
            (2, [0x0d, 1, 1, 1, 1, 1, set, 0]) if key[5] == 0x53 => Kind::Metadata(*set),
            (1, [0x0d, 1, 3, 1, 0x17, _, 2, _]) if key[5] == 2 => Kind::Ancillary,
            (2, _) => Kind::Set,
            _ => Kind::Other,
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::klv::from_hex;

    fn kind(hex: &str) -> Kind {
        Kind::of(&from_hex(hex).unwrap().try_into().unwrap())
    }

    #[test]
    fn the_keys_of_the_sets_and_of_the_container() {
        assert_eq!(kind("060e2b34025301010c02010101010000"), Kind::Lens);
        assert_eq!(kind("060e2b34025301010c02010102010000"), Kind::Camera);
        assert_eq!(kind("060e2b34025301010c0201017f010000"), Kind::Acquisition);
        assert_eq!(kind("060e2b34010101020301021001000000"), Kind::Fill);
        assert_eq!(kind("060e2b34020501010d01020101020400"), Kind::Partition);
        assert_eq!(
            kind("060e2b34025301010d01010101013b00"),
            Kind::Metadata(0x3b)
        );
        assert_eq!(kind("060e2b34010201010d01030117010201"), Kind::Ancillary);
        assert_eq!(kind("060e2b34010201010d01030115010501"), Kind::Other);
        assert_eq!(kind("060e2b34025301010d010201010f0000"), Kind::Set);
    }

    #[test]
    fn version_and_coding_do_not_matter() {
        for coding in ["43", "53", "63", "73"] {
            for version in ["01", "02", "0d", "ff"] {
                let key = format!("060e2b3402{coding}01{version}0c02010101010000");
                assert_eq!(kind(&key), Kind::Lens, "{key}");
            }
        }
        assert_eq!(kind("060e2b34010101010301021001000000"), Kind::Fill);
    }
}
