//! Reads and writes cameras of OpenUSD text files (`.usda`): each Camera prim is a take.
//!
//! Reading goes twice through a file: first to find metadata, cameras and where the samples of
//! each attribute begin (`layer`, `camera`, `stage`), then frame by frame with a scan for each
//! attribute (`track`, `columns`, `moment`), as samples stand attribute after attribute. Writing has the
//! same trouble the other way round: each attribute goes to an output of its own, which the
//! program joins (`write`). See `README.md`.

mod camera;
mod clock;
mod columns;
mod cookie;
mod facts;
mod fields;
mod kept;
mod layer;
mod lex;
#[cfg(test)]
mod lex_tests;
mod metadata;
mod moment;
mod native;
mod read;
mod remarks;
mod scan;
mod stage;
mod suspicions;
mod text;
mod track;
mod units;
mod value;
mod write;

use ringmark_sdk::{Format, shell};

pub use read::StageReader;
pub use write::StageWriter;

/// The OpenUSD camera plugin.
pub struct UsdCamera;

impl Format for UsdCamera {
    const MANIFEST: &'static str = include_str!("../manifest.json");

    fn recognise(_name: &str, head: &[u8]) -> u32 {
        cookie::recognise(head)
    }
}

impl shell::Plugin for UsdCamera {
    type Read = StageReader;
    type Write = StageWriter;
}

ringmark_sdk::export_plugin!(crate::UsdCamera);

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use fields::{Allowed, FIELDS, Role};

    #[test]
    fn text_and_binary_are_recognised() {
        for (head, sure) in [
            (b"#usda 1.0\n".as_slice(), 100),
            (b"\xef\xbb\xbf#usda 1.0\n", 100),
            (b"PXR-USDC\0\x08", 90),
            (b"#sdf 1.4", 0),
            (b"#usdamage", 0),
            (b"", 0),
        ] {
            assert_eq!(UsdCamera::recognise("x.usd", head), sure, "{head:?}");
        }
    }

    #[test]
    fn the_manifest_says_what_the_table_has() {
        let manifest: serde_json::Value = serde_json::from_str(UsdCamera::MANIFEST).unwrap();
        let rows = |kind: &str| manifest["carries"][kind].as_array().unwrap().clone();
        let scene = units::Scene::new(units::DEFAULT).unwrap();
        for field in FIELDS {
            let (kind, name) = match field.role {
                Role::Channel => ("channels", field.channel),
                Role::Fact(name) => ("facts", name),
                Role::Extra => continue,
            };
            let rows = rows(kind);
            let row = rows.iter().find(|row| row["name"] == name).unwrap();
            assert_eq!(row["unit"], field.measure.asked(scene).unit, "{name}");
            if kind == "facts" {
                continue;
            }
            assert_eq!(row["precision"], "float32", "{name}");
            let above = row["above"].as_f64().unwrap();
            assert!(
                !field.allowed.has(above) && field.allowed.has(above + 1e-9),
                "{name}"
            );
            assert!(native::of(field, scene, row["at_most"].as_f64().unwrap()).is_some());
            let infinity = row["infinity"].as_bool().unwrap_or_default();
            assert_eq!(
                infinity,
                field.allowed == Allowed::PositiveOrInfinity,
                "{name}"
            );
        }
        // Besides the table: frame numbers, and the shutter's two times.
        let native = FIELDS.iter().filter(|f| f.role == Role::Channel).count();
        assert_eq!(rows("channels").len(), native + 2);
    }
}
