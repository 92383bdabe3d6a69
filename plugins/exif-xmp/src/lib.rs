//! Reads Exif lens and exposure tags and XMP packets of stills (JPEG, TIFF, DNG), and XMP
//! sidecars; writes sidecars.
//!
//! One file gives one frame. Its Exif part (`exif`, from the structures of `tiff` and `jpeg`)
//! and its XMP part (`xmp`, from `xml` and `rdf`) say the same items, which one table names
//! (`fields`); what the values mean is in `interpret`. A sidecar is written the other way round
//! (`sidecar`, `packet`); what no property of a standard gives back exactly is kept in a
//! namespace of our own (`aside`). See `README.md`.

mod apex;
mod aside;
mod block;
mod columns;
mod directory;
mod exact;
mod exif;
mod fields;
mod interpret;
mod jpeg;
mod merge;
mod name;
mod node;
mod packet;
mod rational;
mod rdf;
mod read;
mod record;
mod remarks;
mod sidecar;
mod still;
mod tiff;
mod values;
mod write;
mod xml;
mod xmp;

use ringmark_sdk::{Format, shell};

pub use read::Sequence;
pub use write::SidecarWriter;

/// The plugin.
pub struct ExifXmp;

impl Format for ExifXmp {
    const MANIFEST: &'static str = include_str!("../manifest.json");

    fn recognise(name: &str, head: &[u8]) -> u32 {
        let has = |text: &str| head.windows(text.len()).any(|w| w == text.as_bytes());
        if head.starts_with(still::JPEG) {
            90
        } else if still::TIFF.iter().any(|magic| head.starts_with(magic)) {
            80
        } else if still::is_xml(head) && (has("<?xpacket") || has(node::META) || has(node::RDF)) {
            90
        } else if still::is_image_name(name) || name::ending(name) == "xmp" {
            // Damaged or empty: claimed weakly, so that the reader can say what is wrong.
            10
        } else {
            0
        }
    }
}

impl shell::Plugin for ExifXmp {
    type Read = Sequence;
    type Write = SidecarWriter;
}

ringmark_sdk::export_plugin!(crate::ExifXmp);

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use fields::{FIELDS, Kind, Meaning, Role};
    use serde_json::Value;

    #[test]
    fn content_decides_and_names_only_where_there_is_none() {
        for (name, head, sure) in [
            ("x.bin", &b"\xff\xd8\xff\xe1"[..], 90),
            ("x.dng", b"II*\0\x08\0\0\0", 80),
            ("x.tif", b"MM\0*\0\0\0\x08", 80),
            ("x", b"\xef\xbb\xbf<?xpacket begin=", 90),
            ("x.xml", b"<x:xmpmeta xmlns:x='adobe:ns:meta/'>", 90),
            ("x.xml", b"<ebuCoreMain/>", 0),
            ("x.csv", b"frame,<?xpacket", 0),
            ("x.XMP", b"", 10),
            ("x.jpg", b"II\x2b\0", 10),
            ("x", b"", 0),
        ] {
            assert_eq!(ExifXmp::recognise(name, head), sure, "{name}");
        }
    }

    fn rows(kind: &str, keeping: &str) -> Vec<Value> {
        let manifest: Value = serde_json::from_str(ExifXmp::MANIFEST).unwrap();
        let rows = manifest["carries"][kind].as_array().unwrap();
        let kept = |row: &&Value| row["keeping"].as_str().unwrap_or("native") == keeping;
        rows.iter().filter(kept).cloned().collect()
    }

    fn names(rows: &[Value]) -> Vec<(String, String)> {
        let text = |row: &Value, key: &str| row[key].as_str().unwrap_or_default().to_owned();
        let mut names: Vec<_> = rows
            .iter()
            .map(|r| (text(r, "name"), text(r, "unit")))
            .collect();
        names.sort();
        names
    }

    #[test]
    fn the_manifest_lists_what_the_table_has() {
        let mut channels = vec![("lens", "")];
        let mut facts = vec![
            ("widest-f-number", "f"),
            ("focal-length-min", "mm"),
            ("focal-length-max", "mm"),
            ("sensor-width", "mm"),
            ("sensor-height", "mm"),
        ];
        for field in FIELDS {
            match field.role {
                Role::Channel { channel, unit, .. } => channels.push((channel, unit)),
                Role::LensText(name) => {
                    channels.push((name, ""));
                    facts.push((name, ""));
                }
                Role::TakeText(name) | Role::Pixels(name) => facts.push((name, "")),
                _ => {}
            }
        }
        for (kind, ours) in [("channels", channels), ("facts", facts)] {
            let mut ours: Vec<_> = ours
                .iter()
                .map(|(a, b)| ((*a).to_owned(), (*b).to_owned()))
                .collect();
            ours.sort();
            assert_eq!(names(&rows(kind, "native")), ours, "{kind}");
        }
    }

    #[test]
    fn the_manifest_says_which_values_a_property_can_hold() {
        for field in FIELDS {
            let Role::Channel {
                channel, meaning, ..
            } = field.role
            else {
                continue;
            };
            let rows = rows("channels", "native");
            let row = rows.iter().find(|row| row["name"] == channel).unwrap();
            let (least, most, whole) = match field.kind {
                Kind::Integer(most) => (1.0, f64::from(most), true),
                Kind::Sensitivity => (1.0, 65534.0, true),
                _ => (2.4e-10, 4294967294.0, false),
            };
            assert_eq!(row["at_least"].as_f64(), Some(least), "{channel}");
            assert_eq!(row["at_most"].as_f64(), Some(most), "{channel}");
            assert_eq!(
                row["whole"].as_bool().unwrap_or_default(),
                whole,
                "{channel}"
            );
            let infinity = row["infinity"].as_bool().unwrap_or_default();
            assert_eq!(infinity, meaning == Meaning::Distance, "{channel}");
        }
    }
}
