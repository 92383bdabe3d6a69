//! Directories of a TIFF structure (TIFF 6.0): entries with the bytes of their values.

use ringmark_sdk::{Failure, Place};

use crate::block::Block;
use crate::directory::{Directory, Entry, size_of, type_name};
use crate::record::{place, refuse};
use crate::remarks::{self, Fault, Remarks};

/// Tag of the pointer to the Exif directory.
const EXIF_POINTER: u16 = 0x8769;
/// Tag of the pointer from there to the interoperability directory, which is not read.
const INTEROPERABILITY_POINTER: u16 = 0xa005;
/// Tag of the pointers to further images.
const SUB_POINTERS: u16 = 0x014a;
/// Tag that says what kind of image a directory describes; bit 0 is a reduced one.
const SUBFILE_TYPE: u16 = 0x00fe;
/// Tag of an XMP packet.
pub const XMP: u16 = 0x02bc;
/// Further images that are looked at for the size in pixels.
const MOST_SUBS: u64 = 16;
/// Largest value that is kept.
const MOST_VALUE: u64 = 64 << 10;

/// A TIFF structure.
pub struct Tiff<'a> {
    block: Block<'a>,
    input: u32,
    big_endian: bool,
    /// Offsets of directories that were read.
    visited: Vec<u64>,
    /// The first directory.
    pub main: Directory,
    /// The Exif directory.
    pub exif: Directory,
    /// The directory that describes the full image, where it is not the first.
    pub image: Option<Directory>,
}

impl<'a> Tiff<'a> {
    /// Reads the directories.
    pub fn read(block: Block<'a>, input: u32, remarks: &mut Remarks) -> Result<Self, Failure> {
        let mut tiff = Tiff {
            block,
            input,
            big_endian: false,
            visited: Vec::new(),
            main: Directory::default(),
            exif: Directory::default(),
            image: None,
        };
        let first = tiff.header()?;
        tiff.visited.push(first);
        let (main, next) = match tiff.directory(first) {
            Ok(found) => found,
            Err(message) => {
                return Err(refuse(
                    message,
                    "the file is damaged or was cut off: copy it again",
                    tiff.place(first, 2, "first directory"),
                ));
            }
        };
        tiff.main = main;
        tiff.check_link(next, "next directory", first, remarks);
        tiff.exif = tiff.follow(&tiff.main.clone(), EXIF_POINTER, "Exif directory", remarks);
        tiff.find_image();
        Ok(tiff)
    }

    /// Checks the header; gives the offset of the first directory.
    fn header(&mut self) -> Result<u64, Failure> {
        let wrong = |message: String, at: Place| {
            refuse(
                message,
                "this is no TIFF structure with Exif: write the file again",
                at,
            )
        };
        let header = self.block.array::<8>(0);
        let Some([a, b, rest @ ..]) = header else {
            let length = self.block.length();
            let at = self.place(0, length, "header");
            return Err(wrong(format!("{length} bytes, a header has 8"), at));
        };
        self.big_endian = match [a, b] {
            [b'I', b'I'] => false,
            [b'M', b'M'] => true,
            _ => {
                let message =
                    format!("byte order {a:02x} {b:02x}, must be 49 49 (II) or 4d 4d (MM)");
                return Err(wrong(message, self.place(0, 2, "header")));
            }
        };
        let [c, d, offset @ ..] = rest;
        match self.short([c, d]) {
            42 => {}
            43 => {
                let message = "this is BigTIFF (43), in which there is no Exif".to_owned();
                return Err(wrong(message, self.place(2, 2, "header")));
            }
            other => {
                let message = format!("version {other}, must be 42");
                return Err(wrong(message, self.place(2, 2, "header")));
            }
        }
        let first = u64::from(self.long(offset));
        if first < 8 {
            let message = format!("the first directory is at offset {first}, inside the header");
            return Err(wrong(message, self.place(4, 4, "header")));
        }
        Ok(first)
    }

    /// A 16-bit number.
    pub fn short(&self, bytes: [u8; 2]) -> u16 {
        match self.big_endian {
            true => u16::from_be_bytes(bytes),
            false => u16::from_le_bytes(bytes),
        }
    }

    /// A 32-bit number.
    pub fn long(&self, bytes: [u8; 4]) -> u32 {
        match self.big_endian {
            true => u32::from_be_bytes(bytes),
            false => u32::from_le_bytes(bytes),
        }
    }

    fn place(&self, at: u64, length: u64, field: impl Into<String>) -> Place {
        // What is missing has no bytes: a place ends where the file does.
        let at = at.min(self.block.length());
        let length = length.min(self.block.length() - at);
        place(self.input, self.block.in_file(at), length, field)
    }

    /// The directory at an offset, and the offset of the next one.
    fn directory(&self, at: u64) -> Result<(Directory, u64), String> {
        let Some(count) = self.block.array::<2>(at) else {
            let length = self.block.length();
            return Err(format!("it is at offset {at}, there are {length} bytes"));
        };
        let count = u64::from(self.short(count));
        let Some(bytes) = self.block.bytes(at + 2, 12 * count) else {
            let left = self.block.length().saturating_sub(at + 2);
            return Err(format!(
                "its {count} entries need {} bytes, {left} are left",
                12 * count
            ));
        };
        let (rows, _) = bytes.as_chunks::<12>();
        let entries = rows.iter().enumerate().map(|(index, row)| {
            let [a, b, c, d, e, f, g, h, ..] = *row;
            Entry {
                tag: self.short([a, b]),
                kind: self.short([c, d]),
                count: self.long([e, f, g, h]),
                at: at + 2 + 12 * index as u64,
            }
        });
        // Some writers leave the last pointer out.
        let next = self.block.array::<4>(at + 2 + 12 * count);
        let next = next.map_or(0, |next| u64::from(self.long(next)));
        let entries = entries.collect();
        Ok((Directory { entries }, next))
    }

    /// Remarks on a pointer that leads back. Whether it may be followed.
    fn check_link(&self, to: u64, name: &str, at: u64, remarks: &mut Remarks) -> bool {
        if self.visited.contains(&to) {
            remarks.report(&remarks::LOOP, self.place(at, 0, name), || {
                format!("the pointer to the {name} leads back to offset {to}")
            });
            return false;
        }
        true
    }

    /// The directory that a tag points to; empty with a remark where that is impossible.
    fn follow(
        &mut self,
        from: &Directory,
        tag: u16,
        name: &str,
        remarks: &mut Remarks,
    ) -> Directory {
        let Some(entry) = from.entry(tag) else {
            return Directory::default();
        };
        let [to] = self.longs(entry, 1)[..] else {
            let at = self.place(entry.at, 12, name);
            remarks.report(&remarks::DIRECTORY, at, || {
                let kind = type_name(entry.kind);
                format!("the pointer to the {name} has type {kind}, must be LONG")
            });
            return Directory::default();
        };
        if !self.check_link(to, name, entry.at, remarks) {
            return Directory::default();
        }
        if to < 8 || !self.block.has(to, 2) {
            remarks.report(&remarks::OFFSET, self.place(entry.at, 12, name), || {
                let length = self.block.length();
                format!("the {name} is at offset {to}, there are {length} bytes")
            });
            return Directory::default();
        }
        self.visited.push(to);
        match self.directory(to) {
            Ok((directory, next)) => {
                self.check_link(next, "next directory", to, remarks);
                if let Some(entry) = directory.entry(INTEROPERABILITY_POINTER)
                    && let [to] = self.longs(entry, 1)[..]
                {
                    self.check_link(to, "interoperability directory", entry.at, remarks);
                }
                directory
            }
            Err(message) => {
                remarks.report(&remarks::DIRECTORY, self.place(to, 2, name), || {
                    format!("{name}: {message}")
                });
                Directory::default()
            }
        }
    }

    /// In raw files the first directory often describes a small image and others the full one.
    fn find_image(&mut self) {
        let reduced = |tiff: &Self, directory: &Directory| {
            let kind = directory.entry(SUBFILE_TYPE);
            kind.is_some_and(|entry| {
                tiff.longs(entry, 1)
                    .first()
                    .is_some_and(|bits| bits & 1 == 1)
            })
        };
        if !reduced(self, &self.main) {
            return;
        }
        let pointers = self.main.entry(SUB_POINTERS);
        let pointers = pointers.map_or(Vec::new(), |entry| self.longs(entry, MOST_SUBS));
        let mut images = pointers.into_iter().filter_map(|at| {
            let (directory, _) = self.directory(at).ok()?;
            (at >= 8 && !reduced(self, &directory)).then_some(directory)
        });
        // Without one nothing is known of the full image, and what the first directory says is not about it.
        self.image = Some(images.next().unwrap_or_default());
    }

    /// Whole numbers of an entry (SHORT, LONG or IFD), at most so many; empty for other types.
    fn longs(&self, entry: &Entry, most: u64) -> Vec<u64> {
        let size = match entry.kind {
            3 => 2,
            4 | 13 => 4,
            _ => return Vec::new(),
        };
        let length = size * u64::from(entry.count).min(most);
        let at = match size * u64::from(entry.count) {
            0..=4 => Some(entry.at + 8),
            _ => self
                .block
                .array::<4>(entry.at + 8)
                .map(|at| u64::from(self.long(at))),
        };
        let bytes = at.and_then(|at| self.block.bytes(at, length));
        let bytes = bytes.unwrap_or_default();
        if size == 2 {
            let (numbers, _) = bytes.as_chunks::<2>();
            numbers.iter().map(|n| u64::from(self.short(*n))).collect()
        } else {
            let (numbers, _) = bytes.as_chunks::<4>();
            numbers.iter().map(|n| u64::from(self.long(*n))).collect()
        }
    }

    /// Where the value of an entry is: offset in the block and length. `None` with a remark where
    /// it cannot be.
    fn locate(&self, entry: &Entry, name: &str, remarks: &mut Remarks) -> Option<(u64, u64)> {
        let mut wrong = |fault: &Fault, message: String| {
            remarks.report(fault, self.place(entry.at, 12, name), || message);
        };
        let Some(size) = size_of(entry.kind) else {
            wrong(
                &remarks::UNKNOWN_TYPE,
                format!(
                    "{name} has the field type {}, which does not exist",
                    entry.kind
                ),
            );
            return None;
        };
        let length = size * u64::from(entry.count);
        if length <= 4 {
            return Some((entry.at + 8, length));
        }
        let at = u64::from(self.long(self.block.array::<4>(entry.at + 8)?));
        if at < 8 {
            wrong(
                &remarks::OVERLAP,
                format!("the value of {name} is at offset {at}, inside the header"),
            );
            return None;
        }
        if !self.block.has(at, length) {
            wrong(
                &remarks::OFFSET,
                format!(
                    "{name} has {length} bytes at offset {at}, there are {} bytes",
                    self.block.length()
                ),
            );
            return None;
        }
        Some((at, length))
    }

    /// Bytes of the value of an entry with their place; `None` with a remark where there are none.
    pub fn value(
        &self,
        entry: &Entry,
        name: &str,
        remarks: &mut Remarks,
    ) -> Option<(Vec<u8>, Place)> {
        let (at, length) = self.locate(entry, name, remarks)?;
        if length > MOST_VALUE {
            remarks.report(&remarks::TOO_LARGE, self.place(entry.at, 12, name), || {
                format!("{name} has {length} bytes, at most {MOST_VALUE} are kept")
            });
            return None;
        }
        let bytes = self.block.bytes(at, length)?;
        Some((bytes, self.place(at, length, name)))
    }

    /// Offset in the file and length of the value of an entry, without reading it.
    pub fn stretch(&self, entry: &Entry, name: &str, remarks: &mut Remarks) -> Option<(u64, u64)> {
        let (at, length) = self.locate(entry, name, remarks)?;
        Some((self.block.in_file(at), length))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use ringmark_sdk::native::MemoryInput;

    /// Found by fuzzing: the place of a directory that is not there went past the end.
    #[test]
    fn a_place_ends_with_the_file() {
        for bytes in [&b"II*\0\xff\xff\xff\x7f"[..], b"MM\0*\0\0\0\x08\0", b"II*"] {
            let input = MemoryInput::boxed("a.tif", bytes);
            let read = Tiff::read(Block::whole(&*input), 0, &mut Remarks::default());
            let at = read.err().unwrap().at.unwrap();
            assert!(at.offset + at.length <= bytes.len() as u64, "{at:?}");
        }
    }
}
