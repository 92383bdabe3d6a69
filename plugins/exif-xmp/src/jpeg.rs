//! Finds the Exif block and the XMP packet among the segments of a JPEG file. What comes after the
//! start of the scan is not read.

use ringmark_sdk::{Failure, Input};

use crate::block::Block;
use crate::record::{place, refuse};

const EXIF: &[u8] = b"Exif\0\0";
const XMP: &[u8] = b"http://ns.adobe.com/xap/1.0/\0";
const XMP_EXTENSION: &[u8] = b"http://ns.adobe.com/xmp/extension/\0";

const APP1: u8 = 0xe1;
const START_OF_SCAN: u8 = 0xda;
const END_OF_IMAGE: u8 = 0xd9;

/// Offset and length of a stretch of the file.
pub type Stretch = (u64, u64);

/// What the segments hold.
#[derive(Debug, Default, PartialEq)]
pub struct Segments {
    /// The TIFF structure of the Exif segment.
    pub exif: Option<Stretch>,
    /// The main XMP packet.
    pub xmp: Option<Stretch>,
    /// The first segment of extended XMP.
    pub extension: Option<Stretch>,
    /// Width and height from the frame header.
    pub size: Option<(u32, u32)>,
}

/// Walks the segments up to the start of the scan.
pub fn walk(input: &dyn Input, index: u32) -> Result<Segments, Failure> {
    let file = Block::whole(input);
    let mut segments = Segments::default();
    let cut = |at: u64| {
        refuse(
            "the file ends before its image data",
            "the file was cut off: copy it again",
            place(index, at.min(file.length()), 0, ""),
        )
    };
    // Behind the start of the image.
    let mut at = 2;
    loop {
        let Some([first, mut marker]) = file.array::<2>(at) else {
            return Err(cut(at));
        };
        if first != 0xff {
            return Err(refuse(
                format!("byte {first:#04x} where a segment starts, must be 0xff"),
                "the segment before has a wrong length: write the file again",
                place(index, at, 1, ""),
            ));
        }
        // Any number of fill bytes may stand before a marker.
        while marker == 0xff {
            at += 1;
            let Some([_, next]) = file.array::<2>(at) else {
                return Err(cut(at));
            };
            marker = next;
        }
        match marker {
            START_OF_SCAN | END_OF_IMAGE => return Ok(segments),
            // Restart markers and TEM stand alone.
            0x01 | 0xd0..=0xd8 => {
                at += 2;
                continue;
            }
            _ => {}
        }
        let Some(length) = file.array::<2>(at + 2) else {
            return Err(cut(at));
        };
        let length = u64::from(u16::from_be_bytes(length));
        let name = format!("segment {marker:02X}");
        if length < 2 {
            return Err(refuse(
                format!("its length is {length}, and the length itself takes 2 bytes"),
                "the file is damaged: write it again",
                place(index, at, 4, name),
            ));
        }
        if !file.has(at + 2, length) {
            let left = file.length().saturating_sub(at + 2);
            return Err(refuse(
                format!("its length is {length} bytes, the file has {left} more"),
                "the file was cut off: copy it again",
                place(index, at, 4, name),
            ));
        }
        segments.note(&file, marker, (at + 4, length - 2));
        at += 2 + length;
    }
}

impl Segments {
    fn note(&mut self, file: &Block<'_>, marker: u8, (start, length): Stretch) {
        let starts_with = |text: &[u8]| {
            let head = file.bytes(start, text.len() as u64);
            length >= text.len() as u64 && head.as_deref() == Some(text)
        };
        let behind = |text: &[u8]| (start + text.len() as u64, length - text.len() as u64);
        match marker {
            APP1 if starts_with(EXIF) => {
                self.exif.get_or_insert(behind(EXIF));
            }
            APP1 if starts_with(XMP) => {
                self.xmp.get_or_insert(behind(XMP));
            }
            APP1 if starts_with(XMP_EXTENSION) => {
                self.extension.get_or_insert((start, length));
            }
            // Frame headers; C4, C8 and CC are something else.
            0xc0..=0xcf if !matches!(marker, 0xc4 | 0xc8 | 0xcc) && length >= 5 => {
                if let Some([_, h1, h0, w1, w0]) = file.array::<5>(start) {
                    let width = u32::from(u16::from_be_bytes([w1, w0]));
                    let height = u32::from(u16::from_be_bytes([h1, h0]));
                    // A height of 0 is said later, among the image data.
                    if width > 0 && height > 0 {
                        self.size.get_or_insert((width, height));
                    }
                }
            }
            _ => {}
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use ringmark_sdk::native::MemoryInput;

    fn segment(marker: u8, body: &[u8]) -> Vec<u8> {
        let mut bytes = vec![0xff, marker];
        bytes.extend_from_slice(&(body.len() as u16 + 2).to_be_bytes());
        bytes.extend_from_slice(body);
        bytes
    }

    fn file(segments: &[Vec<u8>]) -> Vec<u8> {
        let mut bytes = vec![0xff, 0xd8];
        segments.iter().for_each(|s| bytes.extend_from_slice(s));
        bytes
    }

    fn read(bytes: Vec<u8>) -> Result<Segments, Failure> {
        walk(&*MemoryInput::boxed("a.jpg", bytes), 0)
    }

    #[test]
    fn segments_are_found_and_the_scan_ends_it() {
        let exif = [EXIF, b"MM"].concat();
        let xmp = [XMP, b"<x/>"].concat();
        let extension = [XMP_EXTENSION, b"0"].concat();
        let bytes = file(&[
            segment(0xe0, b"JFIF\0"),
            vec![0xff, 0xff],
            segment(APP1, &exif),
            segment(APP1, &xmp),
            segment(APP1, &extension),
            segment(0xc4, &[0; 9]),
            segment(0xc2, &[8, 0, 3, 1, 0, 1]),
            vec![0xff, START_OF_SCAN, 1],
        ]);
        let found = read(bytes.clone()).unwrap();
        let at = |(start, length): Stretch| &bytes[start as usize..(start + length) as usize];
        assert_eq!(at(found.exif.unwrap()), b"MM");
        assert_eq!(at(found.xmp.unwrap()), b"<x/>");
        assert_eq!(at(found.extension.unwrap()), &extension);
        assert_eq!(found.size, Some((256, 3)));
    }

    #[test]
    fn what_is_refused() {
        for (bytes, says, offset) in [
            (file(&[]), "ends before", 2),
            (file(&[vec![0xff, 0xe1, 0, 1]]), "length is 1", 2),
            (
                file(&[vec![0xff, 0xe1, 0xff, 0xff, 1]]),
                "length is 65535 bytes, the file has 3",
                2,
            ),
            (file(&[segment(0xe0, b""), vec![7, 7]]), "byte 0x07", 6),
            (file(&[vec![0xff, 0xff, 0xff]]), "ends before", 4),
        ] {
            let failure = read(bytes).unwrap_err();
            assert!(failure.message.contains(says), "{}", failure.message);
            assert_eq!(failure.at.unwrap().offset, offset, "{says}");
        }
    }
}
