//! Reads what concerns lenses from a Framing Decision List of the American Society of
//! Cinematographers: squeeze, and the size of sensor and raster behind the lens.
//!
//! Each canvas that a camera recorded becomes a lens and a take without frames. Framing
//! itself is no lens data and passed over. See `README.md`.

mod canvas;
mod fields;
mod json;
mod list;
mod read;
mod remarks;

use ringmark_sdk::{Format, shell};

pub use read::ListReader;

/// The Framing Decision List plugin.
pub struct Fdl;

impl Format for Fdl {
    const MANIFEST: &'static str = include_str!("../manifest.json");

    fn recognise(name: &str, head: &[u8]) -> u32 {
        let head = head.strip_prefix(b"\xef\xbb\xbf").unwrap_or(head);
        let named = name
            .rsplit_once('.')
            .is_some_and(|(_, extension)| extension.eq_ignore_ascii_case("fdl"));
        let Some(first) = head.trim_ascii_start().strip_prefix(b"{") else {
            // Damaged: claimed weakly, so that the reader can say what is wrong.
            return if named { 10 } else { 0 };
        };
        // The program's own documents start with their version.
        if first.trim_ascii_start().starts_with(b"\"lens_data\"") {
            return 0;
        }
        let has = |key: &str| head.windows(key.len()).any(|w| w == key.as_bytes());
        let keys = [
            "\"fdl_creator\"",
            "\"framing_intents\"",
            "\"canvas_templates\"",
            "\"canvases\"",
            "\"default_framing_intent\"",
        ];
        match (named, keys.into_iter().any(has)) {
            (true, true) => 98,
            (false, true) => 90,
            (true, false) => 60,
            (false, false) => 0,
        }
    }
}

impl shell::Plugin for Fdl {
    type Read = ListReader;
    type Write = shell::ReadOnly;
}

ringmark_sdk::export_plugin!(crate::Fdl);

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn lists_are_recognised() {
        for (name, head, sure) in [
            ("a.fdl", "{\"uuid\":\"\",\"fdl_creator\":\"x\"", 98),
            ("a.json", "\u{feff}\n{\"framing_intents\":[]", 90),
            ("a.FDL", "{\"uuid\":\"\"}", 60),
            ("a.fdl", "", 10),
            ("a.fdl", "frame,focus", 10),
            ("a.json", "{\"version\":{\"major\":2}}", 0),
            ("a.json", "{\"lens_data\":\"1.0\",\"canvases\":1", 0),
            ("fdl", "frame", 0),
        ] {
            assert_eq!(Fdl::recognise(name, head.as_bytes()), sure, "{name} {head}");
        }
    }

    #[test]
    fn the_manifest_lists_the_fields() {
        let manifest: serde_json::Value = serde_json::from_str(Fdl::MANIFEST).unwrap();
        let mut listed: Vec<(&str, &str)> = manifest["carries"]["facts"]
            .as_array()
            .unwrap()
            .iter()
            .map(|row| {
                (
                    row["name"].as_str().unwrap(),
                    row["unit"].as_str().unwrap_or_default(),
                )
            })
            .collect();
        let texts = fields::OF_CONTEXT.iter().chain(fields::OF_CANVAS);
        let extra = |name: &str| name.starts_with("extra/");
        let mut ours: Vec<(&str, &str)> = fields::NUMBERS
            .iter()
            .map(|field| (field.fact, field.unit))
            .chain(texts.map(|field| (field.fact, "")))
            .filter(|(name, _)| !extra(name))
            .collect();
        listed.sort();
        ours.sort();
        assert_eq!(listed, ours);
    }
}
