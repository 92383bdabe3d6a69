//! Reads the camera and lens attributes in the headers of a sequence of OpenEXR files, and writes
//! them into copies of existing files.
//!
//! Only header bytes and chunk offsets are read, never pixels. One file gives one frame of each take; a
//! multi-part file with several views gives one take a view. See `README.md` for what
//! becomes which channel.
//!
//! Facts about the format: OpenEXR documents *OpenEXR File Layout* and *Standard
//! Attributes*, and what the reference library does where these are silent.

mod attribute;
mod columns;
mod defect;
mod fields;
mod header;
mod keys;
mod name;
mod private;
mod read;
mod registry;
mod remarks;
mod same;
mod source;
mod take;
mod timecode;
mod version;
mod write;

use ringmark_sdk::{Format, shell};

pub use read::Sequence;
pub use write::Copies;

/// The OpenEXR plugin.
pub struct OpenExr;

impl Format for OpenExr {
    const MANIFEST: &'static str = include_str!("../manifest.json");

    fn recognise(name: &str, head: &[u8]) -> u32 {
        if head.starts_with(&version::MAGIC) {
            100
        } else if name::has_extension(name) {
            // Damaged or empty: claimed weakly, so that the reader can say what is wrong.
            10
        } else {
            0
        }
    }
}

impl shell::Plugin for OpenExr {
    type Read = Sequence;
    type Write = Copies;
}

ringmark_sdk::export_plugin!(crate::OpenExr);

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn the_magic_number_decides() {
        assert_eq!(
            OpenExr::recognise("x.bin", &[0x76, 0x2f, 0x31, 0x01, 2]),
            100
        );
        assert_eq!(OpenExr::recognise("x.EXR", b""), 10);
        assert_eq!(OpenExr::recognise("x.csv", b"frame,focus"), 0);
    }

    #[test]
    fn every_channel_of_the_table_is_in_the_manifest() {
        let manifest: serde_json::Value = serde_json::from_str(OpenExr::MANIFEST).unwrap();
        let listed = |kind: &str| -> Vec<(String, String)> {
            let rows = manifest["carries"][kind].as_array().unwrap();
            rows.iter()
                .map(|row| {
                    let text = |key: &str| row[key].as_str().unwrap_or_default().to_owned();
                    (text("name"), text("unit"))
                })
                .collect()
        };
        let mut channels = vec![("frame", ""), ("source-file", ""), ("timecode", "")];
        let mut facts = vec![
            ("counting", ""),
            ("clip", ""),
            ("sensor-width", "mm"),
            ("sensor-height", "mm"),
            ("resolution-width", ""),
            ("resolution-height", ""),
        ];
        for field in fields::FIELDS {
            match field.role {
                fields::Role::Number { channel, unit, .. } => channels.push((channel, unit)),
                fields::Role::LensText(name) => {
                    channels.push((name, ""));
                    facts.push((name, ""));
                }
                fields::Role::LensFact(name)
                | fields::Role::TakeFact(name)
                | fields::Role::Rate(name) => facts.push((name, "")),
                _ => {}
            }
        }
        for (kind, ours) in [("channels", channels), ("facts", facts)] {
            let mut ours: Vec<_> = ours
                .into_iter()
                .map(|(a, b)| (a.to_owned(), b.to_owned()))
                .collect();
            let mut listed = listed(kind);
            ours.sort();
            listed.sort();
            assert_eq!(listed, ours, "{kind}");
        }
    }
}
