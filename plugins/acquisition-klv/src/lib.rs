//! Reads and writes KLV streams (SMPTE ST 336) with the lens unit and camera unit sets of SMPTE
//! RDD 18 / EBU Tech 3349, and reads the same sets in MXF (SMPTE ST 377-1): in the body, and in
//! ancillary packets (SMPTE ST 436). Essence is never fetched.
//!
//! What item becomes what is one table (`fields`). What the sets cannot say is kept in a
//! user-defined set that other programs pass over (`private`). See `README.md`.

mod ancillary;
mod codes;
mod columns;
mod cursor;
mod fields;
mod frames;
mod head;
mod header_metadata;
mod item;
mod keys;
mod klv;
mod local_set;
mod private;
mod read;
mod remarks;
mod write;

use ringmark_sdk::{Format, shell};

pub use read::SetReader;
pub use write::SetWriter;

/// The acquisition sets plugin.
pub struct AcquisitionKlv;

impl Format for AcquisitionKlv {
    const MANIFEST: &'static str = include_str!("../manifest.json");

    fn recognise(name: &str, head: &[u8]) -> u32 {
        let name = name.to_ascii_lowercase();
        let named = name.ends_with(".klv") || name.ends_with(".mxf");
        match (head.starts_with(&klv::MAGIC), named) {
            (true, true) => 100,
            (true, false) => 80,
            // Damaged, empty, or with bytes in front: claimed weakly, so that the reader can say.
            (false, true) => 10,
            (false, false) => 0,
        }
    }
}

impl shell::Plugin for AcquisitionKlv {
    type Read = SetReader;
    type Write = SetWriter;
}

ringmark_sdk::export_plugin!(crate::AcquisitionKlv);

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::codes::{distance, fraction, stop};
    use crate::fields::{Codec, FIELDS, SENSOR_FACTS, index_by_name};
    use crate::item::holds;

    fn rows(kind: &str) -> Vec<serde_json::Value> {
        let manifest: serde_json::Value = serde_json::from_str(AcquisitionKlv::MANIFEST).unwrap();
        manifest["carries"][kind].as_array().unwrap().clone()
    }

    #[test]
    fn the_first_key_decides() {
        let key = [6, 0xe, 0x2b, 0x34, 2];
        for (name, head, sure) in [
            ("A.KLV", &key[..], 100),
            ("a.mxf", &key, 100),
            ("a.bin", &key, 80),
            ("a.mxf", b"", 10),
            ("a.csv", b"frame", 0),
        ] {
            assert_eq!(AcquisitionKlv::recognise(name, head), sure, "{name}");
        }
    }

    #[test]
    fn the_manifest_lists_what_the_table_has() {
        let listed: Vec<(String, String)> = rows("channels")
            .iter()
            .map(|row| {
                let text = |key: &str| row[key].as_str().unwrap_or_default().to_owned();
                (text("name"), text("unit"))
            })
            .collect();
        let ours: Vec<(String, String)> = FIELDS
            .iter()
            .filter(|field| !field.is_extra())
            .map(|field| (field.name.to_owned(), field.symbol.to_owned()))
            .collect();
        let sorted = |mut list: Vec<_>| {
            list.sort();
            list
        };
        assert_eq!(sorted(listed), sorted(ours));
        for (_, name, unit) in SENSOR_FACTS {
            assert!(
                rows("facts")
                    .iter()
                    .any(|row| row["name"] == name && row["unit"] == unit)
            );
        }
    }

    #[test]
    fn the_manifest_says_which_values_the_codes_hold_and_how_exactly() {
        let mut numbers = 0;
        for row in rows("channels") {
            let codec = FIELDS[index_by_name(row["name"].as_str().unwrap()).unwrap()].codec;
            if !codec.is_number() {
                assert!(row["precision"].is_null(), "{row}");
                continue;
            }
            numbers += 1;
            let limit = |key: &str| row[key].as_f64();
            let most = limit("at_most").unwrap();
            assert!(holds(codec, most) && !holds(codec, most.next_up()), "{row}");
            match (limit("above"), limit("at_least")) {
                (Some(above), None) => {
                    assert!(
                        !holds(codec, above) && holds(codec, above.next_up()),
                        "{row}"
                    );
                }
                (None, Some(least)) => {
                    assert!(
                        holds(codec, least) && !holds(codec, least.next_down()),
                        "{row}"
                    );
                }
                _ => panic!("{row}"),
            }
            assert!(
                !holds(codec, f64::INFINITY) && row["infinity"].is_null(),
                "{row}"
            );
            let precision = &row["precision"];
            let relative = precision["relative"].as_f64();
            match codec {
                Codec::Stop => assert_eq!(relative, Some(stop::RELATIVE)),
                Codec::Distance | Codec::FocalLength => {
                    assert_eq!(relative, Some(distance::RELATIVE));
                }
                Codec::Fraction { .. } => assert_eq!(relative, Some(fraction::RELATIVE)),
                Codec::Ring => assert_eq!(precision["step"].as_f64(), Some(1.0 / 65_536.0)),
                _ => assert_eq!(precision["step"].as_f64(), Some(1.0)),
            }
        }
        assert_eq!(numbers, 12);
    }
}
