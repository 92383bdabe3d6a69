//! Reads and writes OpenTrackIO samples (SMPTE RIS OSVP group) as JSON: one a line,
//! concatenated, or in an array.
//!
//! A sample is a frame of one take. Keys of the standard that the model knows become channels
//! and facts (`fields`), all others extras under the name of their place (`path`). Writing
//! puts a value at its key only where the standard allows it (`rules`, `plan`) and keeps
//! everything else in a private part that other programs pass over (`aside`), so that
//! reading it back gives exactly the same take. See `README.md`.

mod aside;
mod columns;
mod constants;
mod encode;
mod fields;
mod path;
mod plan;
mod rational;
mod read;
mod remarks;
mod rules;
mod sample;
mod samples;
mod statics;
mod take;
mod timecode;
mod version;
mod write;

use ringmark_sdk::{Format, shell};

pub use read::TakeReader;
pub use write::TakeWriter;

/// The OpenTrackIO plugin.
pub struct OpenTrackIo;

impl Format for OpenTrackIo {
    const MANIFEST: &'static str = include_str!("../manifest.json");

    fn recognise(_name: &str, head: &[u8]) -> u32 {
        let head = head.strip_prefix(b"\xef\xbb\xbf").unwrap_or(head);
        let head = head.trim_ascii_start();
        let inside = head.strip_prefix(b"[").unwrap_or(head).trim_ascii_start();
        let Some(first) = inside.strip_prefix(b"{") else {
            return 0;
        };
        // The program's own documents start with their version.
        if first.trim_ascii_start().starts_with(b"\"lens_data\"") {
            return 0;
        }
        let has = |text: &str| head.windows(text.len()).any(|w| w == text.as_bytes());
        if has("\"OpenTrackIO\"") {
            95
        } else if has("\"lens\"") && (has("\"timing\"") || has("\"protocol\"")) {
            70
        } else {
            0
        }
    }
}

impl shell::Plugin for OpenTrackIo {
    type Read = TakeReader;
    type Write = TakeWriter;
}

ringmark_sdk::export_plugin!(crate::OpenTrackIo);

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn only_samples_are_recognised() {
        for (head, sure) in [
            ("{\"protocol\":{\"name\":\"OpenTrackIO\"", 95),
            ("\u{feff} [\n{ \"timing\":{},\"lens\":{\"fStop\":2}", 70),
            ("{\"lens_data\":\"1.0\",\"x\":\"OpenTrackIO\"", 0),
            ("{\"lens\":1}", 0),
            ("frame,\"lens\",\"timing\"", 0),
            ("", 0),
        ] {
            assert_eq!(
                OpenTrackIo::recognise("x.json", head.as_bytes()),
                sure,
                "{head}"
            );
        }
    }

    #[test]
    fn the_manifest_lists_what_the_tables_have() {
        let manifest: serde_json::Value = serde_json::from_str(OpenTrackIo::MANIFEST).unwrap();
        let native = |kind: &str| -> Vec<(String, String)> {
            let rows = manifest["carries"][kind].as_array().unwrap();
            let mut listed: Vec<_> = rows
                .iter()
                .filter(|row| row["keeping"].as_str().unwrap_or("native") == "native")
                .map(|row| {
                    let text = |key: &str| row[key].as_str().unwrap_or_default().to_owned();
                    (text("name"), text("unit"))
                })
                .collect();
            listed.sort();
            listed
        };
        let mut channels = vec![("timecode".to_owned(), String::new())];
        for field in fields::CHANNELS {
            channels.push((field.channel.to_owned(), field.unit.to_owned()));
        }
        channels.sort();
        assert_eq!(native("channels"), channels);
        let mut facts: Vec<(String, String)> = [
            ("counting", ""),
            ("focal-length-max", "mm"),
            ("lens-kind", ""),
        ]
        .map(|(name, unit)| (name.to_owned(), unit.to_owned()))
        .to_vec();
        for field in fields::FACTS {
            let unit = match field.form {
                fields::FactForm::Number(unit) => unit,
                fields::FactForm::PrimeFocalLength => "mm",
                _ => "",
            };
            facts.push((field.fact.to_owned(), unit.to_owned()));
        }
        facts.sort();
        facts.dedup();
        assert_eq!(native("facts"), facts);
    }

    #[test]
    fn the_manifest_says_which_values_the_rules_allow() {
        let manifest: serde_json::Value = serde_json::from_str(OpenTrackIo::MANIFEST).unwrap();
        for row in manifest["carries"]["channels"].as_array().unwrap() {
            let Some(field) = fields::place_of(row["name"].as_str().unwrap()) else {
                continue;
            };
            let rule = constants::rule_at(field.path).unwrap();
            let limit = |key: &str| row[key].as_f64();
            if let Some(above) = limit("above") {
                assert!(
                    !rule.allows_number(above) && rule.allows_number(above + 1e-9),
                    "{row}"
                );
            }
            if let Some(least) = limit("at_least") {
                assert!(
                    rule.allows_number(least) && !rule.allows_number(least - 1e-9),
                    "{row}"
                );
            }
            if let Some(most) = limit("at_most") {
                assert!(
                    rule.allows_number(most) && !rule.allows_number(most + 1.0),
                    "{row}"
                );
            }
            let whole = row["whole"].as_bool().unwrap_or_default();
            assert_eq!(!rule.allows_number(0.5), whole, "{row}");
            assert!(
                !rule.allows_number(f64::INFINITY) && row["infinity"].is_null(),
                "{row}"
            );
            let lowest = limit("above").is_some() || limit("at_least").is_some();
            assert_eq!(!rule.allows_number(-1.0), lowest, "{row}");
            assert_eq!(
                !rule.allows_number(1e12),
                limit("at_most").is_some(),
                "{row}"
            );
        }
    }
}
