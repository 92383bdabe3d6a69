//! Entries of TIFF directories and their field types (TIFF 6.0).

/// An entry of a directory.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Entry {
    /// Tag.
    pub tag: u16,
    /// Field type.
    pub kind: u16,
    /// Values.
    pub count: u32,
    /// Offset of the entry in the block.
    pub at: u64,
}

/// A directory.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Directory {
    /// In the order of the file.
    pub entries: Vec<Entry>,
}

impl Directory {
    /// The first entry with this tag.
    pub fn entry(&self, tag: u16) -> Option<&Entry> {
        self.entries.iter().find(|entry| entry.tag == tag)
    }
}

/// Bytes of one value of a type; `None` for types that do not exist.
pub fn size_of(kind: u16) -> Option<u64> {
    Some(match kind {
        1 | 2 | 6 | 7 | 129 => 1,
        3 | 8 => 2,
        4 | 9 | 11 | 13 => 4,
        5 | 10 | 12 => 8,
        _ => return None,
    })
}

/// Name of a type.
pub fn type_name(kind: u16) -> String {
    let name = match kind {
        1 => "BYTE",
        2 => "ASCII",
        3 => "SHORT",
        4 => "LONG",
        5 => "RATIONAL",
        7 => "UNDEFINED",
        9 => "SLONG",
        10 => "SRATIONAL",
        129 => "UTF-8",
        other => return format!("type {other}"),
    };
    name.to_owned()
}
