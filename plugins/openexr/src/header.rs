//! Walks the header bytes of a file: which attributes stand where.
//!
//! Nothing is decoded and nothing allocated for an attribute that stands where it stood in the
//! file before: its name and type are compared with the expected ones, that is all.

use crate::attribute::{BadText, Kind, check_texts};
use crate::defect::{DAMAGED, Defect, Halt};
use crate::fields::{FIELDS, REQUIRED_FIELDS, Required, Role};
use crate::keys::{Key, KeyId, Keys, printable};
use crate::version::{DEEP, LONG_NAMES, MULTI_PART, START, TILED, version_flags};

/// Largest header that is read.
pub const MOST_BYTES: u64 = 16 << 20;
/// Most attributes of all parts together.
const MOST_ATTRIBUTES: usize = 1 << 14;
/// Most parts.
const MOST_PARTS: usize = 256;

/// One attribute.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Entry {
    /// Name and type.
    pub key: KeyId,
    /// Offset of the name.
    pub at: u32,
    /// Offset of the value.
    pub value: u32,
    /// Bytes of the value.
    pub size: u32,
}

impl Entry {
    /// The bytes of the value.
    pub fn value<'a>(&self, bytes: &'a [u8]) -> &'a [u8] {
        let start = self.value as usize;
        bytes
            .get(start..start + self.size as usize)
            .unwrap_or_default()
    }

    /// Bytes of name, type, size and value.
    pub fn length(&self) -> u32 {
        self.value + self.size - self.at
    }
}

/// One part of a file.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Part {
    /// Offset of its header.
    pub offset: u32,
    /// Its attributes in [`Header::entries`].
    pub entries: std::ops::Range<usize>,
    /// Its view, if it has one.
    pub view: Option<Entry>,
    /// Its name, if it has one.
    pub name: Option<Entry>,
    kind: Option<Entry>,
}

/// Where everything stands in a header.
#[derive(Debug, Default)]
pub struct Header {
    /// Flags of the version field.
    pub flags: u32,
    /// Whether the file may have several parts.
    pub multi_part: bool,
    /// The parts.
    pub parts: Vec<Part>,
    /// The attributes of all parts.
    pub entries: Vec<Entry>,
    /// Attributes whose name their part had before, as indices of `entries`.
    pub repeated: Vec<usize>,
    /// Bytes of all headers, magic number included.
    pub length: usize,
}

/// One walk.
struct Walk<'a> {
    bytes: &'a [u8],
    keys: &'a mut Keys,
    /// Keys in the order of the file before.
    expected: &'a [Entry],
    /// Which of them should come next.
    next: usize,
    /// Longest name or type.
    most_name: usize,
    cursor: usize,
    part: Option<usize>,
}

/// Finds the parts and attributes in `bytes`, the start of a file. `before` is the header of the file before, or an empty one.
pub fn walk(
    bytes: &[u8],
    keys: &mut Keys,
    names: &mut NamesSeen,
    before: &Header,
    header: &mut Header,
) -> Result<(), Halt> {
    header.parts.clear();
    header.entries.clear();
    header.repeated.clear();
    let flags = version_flags(bytes)?;
    header.flags = flags;
    header.multi_part = flags & MULTI_PART != 0;
    let mut walk = Walk {
        bytes,
        keys,
        expected: &before.entries,
        next: 0,
        most_name: if flags & LONG_NAMES == 0 { 31 } else { 255 },
        cursor: START,
        part: header.multi_part.then_some(0),
    };
    loop {
        if header.multi_part && walk.peek()? == 0 {
            walk.cursor += 1;
            break;
        }
        walk.part(flags, names, header)?;
        if !header.multi_part {
            break;
        }
        walk.part = Some(header.parts.len());
    }
    if header.parts.is_empty() {
        return Err(walk.damaged(START, 1, "the list of parts is empty", DAMAGED));
    }
    header.length = walk.cursor;
    Ok(())
}

/// Which names a part had: marks that need no clearing between parts and files.
#[derive(Debug, Default)]
pub struct NamesSeen {
    marks: Vec<u64>,
    current: u64,
}

impl NamesSeen {
    fn start(&mut self) {
        self.current += 1;
    }

    /// Marks a name; whether it was marked before.
    fn again(&mut self, name: u32) -> bool {
        let at = name as usize;
        if at >= self.marks.len() {
            self.marks.resize(at + 1, 0);
        }
        std::mem::replace(&mut self.marks[at], self.current) == self.current
    }
}

impl Walk<'_> {
    fn damaged(
        &self,
        at: usize,
        length: usize,
        message: impl Into<String>,
        help: &'static str,
    ) -> Halt {
        let mut defect = Defect::new(at, length, message, help);
        defect.part = self.part;
        Halt::Damaged(Box::new(defect))
    }

    /// `need` bytes from the start of the file must be there.
    fn more(&self, need: u64, attribute: &[u8], message: String) -> Halt {
        let mut missing = Defect::new(self.cursor, 0, message, DAMAGED);
        missing.part = self.part;
        missing.attribute = printable(attribute);
        Halt::More {
            need,
            missing: Box::new(missing),
        }
    }

    fn peek(&self) -> Result<u8, Halt> {
        self.bytes.get(self.cursor).copied().ok_or_else(|| {
            let message = "the file ends inside its header: the byte that closes it is missing";
            self.more(self.cursor as u64 + 1, b"", message.to_owned())
        })
    }

    /// Walks one header and checks that it has what it must have.
    fn part(&mut self, flags: u32, names: &mut NamesSeen, header: &mut Header) -> Result<(), Halt> {
        if header.parts.len() == MOST_PARTS {
            let message = format!("more than {MOST_PARTS} parts");
            return Err(self.damaged(self.cursor, 0, message, "split the file"));
        }
        let first = header.entries.len();
        let mut part = Part {
            offset: self.cursor as u32,
            ..Part::default()
        };
        let mut found = 0;
        names.start();
        while self.peek()? != 0 {
            let entry = self.attribute()?;
            let index = header.entries.len();
            if index == MOST_ATTRIBUTES {
                let message = format!("more than {MOST_ATTRIBUTES} attributes");
                return Err(self.damaged(self.cursor, 0, message, DAMAGED));
            }
            header.entries.push(entry);
            let key = self.keys.get(entry.key);
            if names.again(key.name_id) {
                header.repeated.push(index);
            }
            found |= key.required_bit;
            match key.role {
                Some(Role::View) => part.view = Some(entry),
                Some(Role::PartName) => part.name = Some(entry),
                Some(Role::PartType) => part.kind = Some(entry),
                None if key.required() == Required::Always => {
                    return Err(self.wrong_type(key, entry));
                }
                _ => {}
            }
        }
        self.cursor += 1;
        part.entries = first..header.entries.len();
        self.require(flags, &part, found, header)?;
        header.parts.push(part);
        Ok(())
    }

    fn wrong_type(&self, key: &Key, entry: Entry) -> Halt {
        let message = format!(
            "required attribute of type {}, must be {}",
            key.type_name(),
            key.field.map_or("", |field| field.kind)
        );
        self.at_attribute(
            &key.name(),
            entry.at as usize,
            entry.length() as usize,
            message,
        )
    }

    fn at_attribute(&self, name: &str, at: usize, length: usize, message: String) -> Halt {
        let mut defect = Defect::new(at, length, message, DAMAGED);
        defect.part = self.part;
        defect.attribute = name.to_owned();
        Halt::Damaged(Box::new(defect))
    }

    /// Walks one attribute.
    fn attribute(&mut self) -> Result<Entry, Halt> {
        let at = self.cursor;
        let rest = self.bytes.get(at..).unwrap_or_default();
        let (id, key_length) = match self.expected.get(self.next).and_then(|e| {
            let key = self.keys.get(e.key);
            // A long name of the file before may be too long for this one.
            let same = key.longest <= self.most_name && rest.starts_with(key.bytes());
            same.then_some((e.key, key.bytes().len()))
        }) {
            Some(hit) => {
                self.next += 1;
                hit
            }
            None => self.unexpected(rest)?,
        };
        let key = self.keys.get(id);
        let value = at + key_length + 4;
        let Some(&[a, b, c, d]) = self.bytes.get(at + key_length..value) else {
            let message = "the file ends before the size of this attribute".to_owned();
            return Err(self.more(value as u64, key.name().as_bytes(), message));
        };
        let declared = i32::from_le_bytes([a, b, c, d]);
        let Ok(size) = usize::try_from(declared) else {
            let message = format!("size {declared}, must be 0 or more");
            return Err(self.at_attribute(&key.name(), at + key_length, 4, message));
        };
        if let Some(right) = key.size
            && size != right
        {
            let message = format!("{size} bytes, a {} has {right}", key.type_name());
            return Err(self.at_attribute(&key.name(), at + key_length, 4, message));
        }
        let end = value as u64 + size as u64;
        if end > self.bytes.len() as u64 {
            let message = format!("{size} bytes from offset {value} run past the end of the file");
            return Err(self.more(end, key.name().as_bytes(), message));
        }
        self.check_inside(key, value, size)?;
        self.cursor = value + size;
        Ok(Entry {
            key: id,
            at: at as u32,
            value: value as u32,
            size: size as u32,
        })
    }

    /// Checks the sizes inside a value.
    fn check_inside(&self, key: &Key, value: usize, size: usize) -> Result<(), Halt> {
        match key.kind {
            Kind::FloatVector if !size.is_multiple_of(4) => {
                let message = format!("{size} bytes, a floatvector has 4 a number");
                Err(self.at_attribute(&key.name(), value, size, message))
            }
            Kind::TextVector => {
                let inner = self.bytes.get(value..value + size).unwrap_or_default();
                check_texts(inner).map_err(|BadText { at, length, left }| {
                    let message = match length {
                        Some(length) => {
                            format!("a text of {length} bytes, {left} are left in the attribute")
                        }
                        None => format!("{left} bytes are left over, a text length has 4"),
                    };
                    self.at_attribute(&key.name(), value + at, left.min(4), message)
                })
            }
            _ => Ok(()),
        }
    }

    /// Reads name and type of an attribute that is not the expected one.
    fn unexpected(&mut self, rest: &[u8]) -> Result<(KeyId, usize), Halt> {
        let name_length = self.word(rest, 0, "name", b"")?;
        let name = rest.get(..name_length).unwrap_or_default();
        let type_length = self.word(rest, name_length + 1, "type", name)?;
        let length = name_length + type_length + 2;
        let bytes = rest.get(..length).unwrap_or_default();
        let Some(id) = self.keys.intern(bytes, name_length) else {
            let message = "more different attributes than the plugin keeps apart (4096)";
            return Err(self.damaged(self.cursor, length, message, "remove generated attributes"));
        };
        // The order of the file before goes on behind this attribute, if it had it.
        let ahead = self.expected.get(self.next..).unwrap_or_default();
        if let Some(step) = ahead.iter().position(|entry| entry.key == id) {
            self.next += step + 1;
        }
        Ok((id, length))
    }

    /// Length of the NUL-terminated word at `start` of `rest`.
    fn word(&self, rest: &[u8], start: usize, what: &str, name: &[u8]) -> Result<usize, Halt> {
        let at = self.cursor + start;
        let window = rest.get(start..).unwrap_or_default();
        let window = &window[..window.len().min(self.most_name + 1)];
        match window.iter().position(|&byte| byte == 0) {
            Some(0) => {
                let message = format!(
                    "the {what} of an attribute is empty: no attribute stands here, or the byte that closes the header is missing"
                );
                Err(self.at_attribute(&printable(name), at, 1, message))
            }
            Some(length) => Ok(length),
            None if window.len() > self.most_name => {
                let message = format!(
                    "{what} of an attribute longer than {} bytes: “{}…”",
                    self.most_name,
                    printable(&window[..24])
                );
                Err(self.at_attribute(&printable(name), at, window.len(), message))
            }
            None => Err(self.more(
                at as u64 + window.len() as u64 + 1,
                name,
                format!("the file ends inside the {what} of an attribute"),
            )),
        }
    }

    /// Checks that the part has each attribute it must have, and only once.
    fn require(&self, flags: u32, part: &Part, found: u32, header: &Header) -> Result<(), Halt> {
        let kind = part.kind.map_or(&b""[..], |entry| entry.value(self.bytes));
        let by_kind = flags & (DEEP | MULTI_PART) != 0;
        let deep = if flags & MULTI_PART == 0 {
            flags & DEEP != 0
        } else {
            kind.starts_with(b"deep")
        };
        let tiled = if by_kind {
            matches!(kind, b"tiledimage" | b"deeptile")
        } else {
            flags & TILED != 0
        };
        let needed = |required| match required {
            Required::No => false,
            Required::Always => true,
            Required::MultiPart => flags & MULTI_PART != 0,
            Required::MultiPartOrDeep => by_kind,
            Required::Deep => deep,
            Required::Tiled => tiled,
        };
        for (place, field) in FIELDS.iter().enumerate().take(REQUIRED_FIELDS) {
            if needed(field.required) && found & (1 << place) == 0 {
                let message = format!("the header has no attribute {}", field.name);
                let at = part.offset as usize;
                return Err(self.at_attribute(field.name, at, self.cursor - at, message));
            }
        }
        let repeated = header
            .repeated
            .iter()
            .filter(|&&index| index >= part.entries.start);
        for entry in repeated.filter_map(|&index| header.entries.get(index)) {
            let key = self.keys.get(entry.key);
            if needed(key.required()) {
                let message = "required attribute that the header has twice".to_owned();
                let (at, length) = (entry.at as usize, entry.length() as usize);
                return Err(self.at_attribute(&key.name(), at, length, message));
            }
        }
        Ok(())
    }
}
