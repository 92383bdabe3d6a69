//! Reads and writes acquisition data of EBUCore (EBU Tech 3293): XML in which each parameter of
//! lens and camera has a value over a segment of the take, or one every so many frames.
//!
//! Parameters that the model knows become channels and facts (`fields`), all others extras of
//! their name. Both forms of the standard are read, parameter by parameter and segment by segment,
//! with cursors that go through the file side by side (`pages`, `track`). Written is the second
//! form; what the standard has no parameter for goes into parameters of our own (`private`), so
//! that reading it back gives exactly the same take. See `README.md`.

mod clock;
mod columns;
mod document;
mod emit;
mod escape;
mod fields;
mod head;
mod lane;
mod number;
mod pages;
mod parameter;
mod plan;
mod private;
mod read;
mod recognise;
mod remarks;
mod segment;
mod statics;
mod take;
mod time;
mod timeline;
mod tokens;
mod track;
mod units;
mod write;
mod xml;

use ringmark_sdk::{Format, shell};

pub use read::TakeReader;
pub use write::TakeWriter;

/// The EBUCore plugin.
pub struct EbuCore;

impl Format for EbuCore {
    const MANIFEST: &'static str = include_str!("../manifest.json");

    fn recognise(_name: &str, head: &[u8]) -> u32 {
        recognise::recognise(head)
    }
}

impl shell::Plugin for EbuCore {
    type Read = TakeReader;
    type Write = TakeWriter;
}

ringmark_sdk::export_plugin!(crate::EbuCore);

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::fields::Holds;

    #[test]
    fn the_manifest_lists_what_the_table_has() {
        let manifest: serde_json::Value = serde_json::from_str(EbuCore::MANIFEST).unwrap();
        let listed = |kind: &str| -> Vec<(String, String)> {
            let rows = manifest["carries"][kind].as_array().unwrap();
            let text = |row: &serde_json::Value, key: &str| {
                row[key].as_str().unwrap_or_default().to_owned()
            };
            let mut listed: Vec<_> = rows
                .iter()
                .map(|row| (text(row, "name"), text(row, "unit")))
                .collect();
            listed.sort();
            listed
        };
        let mut channels = vec![("timecode", "")];
        let mut facts = vec![("frame-rate", ""), ("counting", ""), ("start-timecode", "")];
        for field in fields::FIELDS {
            match field.holds {
                Holds::Channel(name, ..) | Holds::TextChannel(name) => {
                    channels.push((name, field.unit))
                }
                Holds::Fact(name) => facts.push((name, field.unit)),
                _ => {}
            }
        }
        for (kind, mut rows) in [("channels", channels), ("facts", facts)] {
            rows.sort();
            rows.dedup();
            let rows: Vec<_> = rows
                .iter()
                .map(|(n, u)| ((*n).to_owned(), (*u).to_owned()))
                .collect();
            assert_eq!(listed(kind), rows);
        }
    }
}
