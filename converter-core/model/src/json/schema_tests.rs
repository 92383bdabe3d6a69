//! The schemas say what the code does: same keys, channels, units and facts.

#![allow(clippy::unwrap_used)]

use std::collections::BTreeSet;

use ringmark_quantity::Unit;
use serde_json::{Map, Value};

use super::keys;
use crate::channel::Channel;
use crate::facts::FACTS;

const NAMES: [&str; 8] = [
    "lens",
    "take",
    "take-line",
    "findings",
    "manifest",
    "plan",
    "pre-marked-ring",
    "transfer",
];

fn schema(name: &str) -> Value {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../schemas");
    let path = format!("{folder}/{name}.schema.json");
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn object<'a>(schema: &'a Value, pointer: &str) -> &'a Map<String, Value> {
    let found = schema.pointer(pointer).and_then(Value::as_object);
    found.unwrap_or_else(|| panic!("no object at {pointer}"))
}

fn names<'a>(names: impl IntoIterator<Item = &'a str>) -> BTreeSet<String> {
    names.into_iter().map(str::to_owned).collect()
}

fn keys_at(schema: &Value, pointer: &str) -> BTreeSet<String> {
    object(schema, pointer).keys().cloned().collect()
}

fn list_at(schema: &Value, pointer: &str) -> BTreeSet<String> {
    let list = schema.pointer(pointer).unwrap().as_array().unwrap();
    names(list.iter().map(|item| item.as_str().unwrap()))
}

#[test]
fn each_schema_is_a_schema_under_its_own_name() {
    for name in NAMES {
        let schema = schema(name);
        jsonschema::draft202012::meta::validate(&schema).unwrap_or_else(|e| panic!("{name}: {e}"));
        let id = format!("https://ringmark.invalid/schemas/1.0/{name}.schema.json");
        assert_eq!(schema["$id"], id.as_str());
    }
}

#[test]
fn the_reader_knows_the_keys_of_the_schema() {
    let (lens, take, line) = (schema("lens"), schema("take"), schema("take-line"));
    let rings = schema("pre-marked-ring");
    let without = |keys: &[&str], left_out: &[&str]| {
        names(keys.iter().copied().filter(|key| !left_out.contains(key)))
    };
    for (schema, pointer, expected) in [
        (&lens, "/properties", without(keys::DOCUMENT, &["takes"])),
        (&take, "/properties", without(keys::DOCUMENT, &[])),
        (
            &line,
            "/$defs/header/properties",
            without(keys::HEADER, &[]),
        ),
        (&line, "/$defs/added/properties", without(keys::ADDED, &[])),
        (
            &line,
            "/$defs/end/properties/end/properties",
            without(keys::END, &[]),
        ),
        (&take, "/$defs/lens/properties", without(keys::LENS, &[])),
        (&take, "/$defs/ring/properties", without(keys::RING, &[])),
        (&take, "/$defs/mark/properties", without(keys::MARK, &[])),
        (&take, "/$defs/table/properties", without(keys::TABLE, &[])),
        (&take, "/$defs/take/properties", without(keys::TAKE, &[])),
        (
            &line,
            "/$defs/take/properties",
            without(keys::TAKE, &["frames"]),
        ),
        (
            &take,
            "/$defs/take/properties/encoders/properties",
            without(keys::AXES, &[]),
        ),
        (
            &take,
            "/$defs/camera/properties",
            without(keys::CAMERA, &[]),
        ),
        (
            &take,
            "/$defs/extra_column/oneOf/1/properties",
            without(keys::COLUMN, &[]),
        ),
        (
            &take,
            "/$defs/extra_numbers/properties",
            without(keys::COLUMN, &["form"]),
        ),
        (
            &take,
            "/$defs/provenance/properties",
            without(keys::PROVENANCE, &[]),
        ),
        (
            &take,
            "/$defs/provenance/properties/plugin/properties",
            without(keys::PLUGIN, &[]),
        ),
        (
            &take,
            "/$defs/repair/properties",
            without(keys::REPAIR, &[]),
        ),
        (
            &take,
            "/$defs/change/properties",
            without(keys::CHANGE, &[]),
        ),
        (
            &take,
            "/$defs/named_file/properties",
            without(keys::NAMED_FILE, &[]),
        ),
        (&rings, "/properties", without(keys::PRE_MARKED, &[])),
        (
            &rings,
            "/$defs/ring/properties",
            without(keys::PRE_MARKED_RING, &[]),
        ),
        (
            &rings,
            "/$defs/mark/properties",
            without(keys::PRINTED_MARK, &[]),
        ),
    ] {
        assert_eq!(keys_at(schema, pointer), expected, "{pointer}");
    }
}

#[test]
fn channels_are_those_of_the_registry() {
    let all = names(Channel::ALL.iter().map(|channel| channel.name()));
    let (take, line) = (schema("take"), schema("take-line"));
    assert_eq!(keys_at(&take, "/$defs/channels/properties"), all);
    assert_eq!(keys_at(&line, "/$defs/channels/properties"), all);
    let mut frame = keys_at(&line, "/$defs/frame/properties");
    assert!(frame.remove("take"));
    assert_eq!(frame, all);
    for &channel in Channel::ALL {
        let title = channel.info().title;
        for (schema, prefix) in [(&take, ""), (&line, "head_")] {
            let entry = &schema["$defs"]["channels"]["properties"][channel.name()];
            assert_eq!(entry["description"], title, "{}", channel.name());
            let expected = match (channel.unit(), channel.is_distance()) {
                (None, _) => "texts".to_owned(),
                (Some(unit), true) => format!("distances_in_{}", unit.symbol()),
                (Some(Unit::One), _) => "numbers".to_owned(),
                (Some(unit), _) => format!("numbers_in_{}", unit.symbol()),
            };
            assert_eq!(entry["$ref"], format!("#/$defs/{prefix}{expected}"));
            let column = &schema["$defs"][format!("{prefix}{expected}")];
            let unit = channel.unit().map_or("", Unit::symbol);
            assert_eq!(
                column["properties"]["unit"]["const"].as_str().unwrap_or(""),
                unit
            );
        }
        let entry = &line["$defs"]["frame"]["properties"][channel.name()];
        assert_eq!(entry["description"], title);
        assert_eq!(entry.get("type").is_some(), channel.is_text());
    }
    let tables = keys_at(
        &schema("lens"),
        "/$defs/table/properties/columns/properties",
    );
    let numbers = Channel::ALL.iter().filter(|channel| !channel.is_text());
    assert_eq!(tables, names(numbers.map(|channel| channel.name())));
}

#[test]
fn no_channel_is_called_like_a_key_of_a_line() {
    for key in [
        "take",
        "channels",
        "lenses",
        "takes",
        "end",
        "lens_data",
        "form",
    ] {
        assert_eq!(Channel::from_name(key), None);
    }
}

#[test]
fn units_and_names_are_those_of_the_code() {
    let all = names(Unit::ALL.iter().map(|unit| unit.symbol()));
    for name in ["lens", "take", "take-line", "manifest"] {
        assert_eq!(list_at(&schema(name), "/$defs/unit/enum"), all, "{name}");
    }
    let take = schema("take");
    let references = ringmark_quantity::DistanceReference::ALL.map(|r| r.name());
    assert_eq!(list_at(&take, "/$defs/reference/enum"), names(references));
    let quantities = crate::lens::ScaleQuantity::ALL.map(|q| q.name());
    let pointer = "/$defs/ring/properties/quantity/enum";
    assert_eq!(list_at(&take, pointer), names(quantities));
}

#[test]
fn the_manifest_names_channels_and_facts_of_the_registries() {
    let manifest = schema("manifest");
    let channels = names(Channel::ALL.iter().map(|channel| channel.name()));
    assert_eq!(
        list_at(&manifest, "/$defs/channel/properties/name/enum"),
        channels
    );
    let facts = names(FACTS.iter().map(|fact| fact.name));
    assert_eq!(
        list_at(&manifest, "/$defs/fact/properties/name/enum"),
        facts
    );
}

/// The full form of a manifest has exactly the keys of the schema, and the least one fits it.
#[test]
fn the_manifest_is_that_of_the_code() {
    let schema = schema("manifest");
    let full = serde_json::json!({
        "name": "sheet", "version": "1.0.0", "contract": "1.0", "title": "Sheets", "about": "Sheets of a lens.",
        "reads": true, "writes": true,
        "files": {"extensions": ["sheet"], "magic": ["00ff"], "sequence": false, "headers_only": false,
            "per_frame": "sidecar", "sections": 3},
        "options": {"type": "object"},
        "carries": {
            "channels": [{"name": "t-stop", "unit": "T", "reads": true, "writes": true, "keeping": "native",
                "infinity": false, "above": 0.0, "at_least": 0.5, "at_most": 64.0, "whole": false, "precision": {"step": 0.1},
                "reference": ["image-plane"], "stands_for": ["f-number"], "note": "rounded"}],
            "facts": [{"name": "clip", "unit": "", "keeping": "aside", "precision": "float32"}],
            "other_channels": "lost", "other_facts": "lost", "extras": "aside",
            "marks": true, "marks_with_takes": false, "takes": true, "tables": false}
    });
    let manifest: crate::manifest::Manifest = serde_json::from_value(full.clone()).unwrap();
    assert_eq!(serde_json::to_value(&manifest).unwrap(), full);
    let validator = jsonschema::validator_for(&schema).unwrap();
    validator.validate(&full).unwrap();
    for (pointer, part) in [
        ("/properties", &full),
        ("/$defs/files/properties", &full["files"]),
        ("/$defs/carries/properties", &full["carries"]),
        ("/$defs/channel/properties", &full["carries"]["channels"][0]),
        ("/$defs/fact/properties", &full["carries"]["facts"][0]),
    ] {
        let keys: BTreeSet<String> = part.as_object().unwrap().keys().cloned().collect();
        assert_eq!(keys_at(&schema, pointer), keys, "{pointer}");
    }
    let least = serde_json::json!({
        "name": "sheet", "version": "1.0.0", "contract": "1.0", "title": "", "about": "", "reads": true, "writes": false,
        "files": {"extensions": []}, "carries": {}
    });
    validator.validate(&least).unwrap();
    let required = list_at(&schema, "/required");
    for key in keys_at(&schema, "/properties") {
        let mut cut = least.clone();
        let known = cut.as_object_mut().unwrap().remove(&key).is_some();
        let reads = serde_json::from_value::<crate::manifest::Manifest>(cut.clone()).is_ok();
        assert_eq!(reads, validator.is_valid(&cut), "without {key}");
        assert_eq!(known, required.contains(&key), "{key}");
    }
}

#[test]
fn definitions_of_one_name_are_equal_in_all_schemas() {
    // These differ between whole documents and lines.
    let own = ["take", "channels"];
    let (lens, take, line) = (schema("lens"), schema("take"), schema("take-line"));
    for (a, b) in [(&lens, &take), (&take, &line), (&lens, &line)] {
        let (a, b) = (object(a, "/$defs"), object(b, "/$defs"));
        let shared = a.iter().filter(|(name, _)| !own.contains(&name.as_str()));
        let mut compared = 0;
        for (name, definition) in shared {
            if let Some(other) = b.get(name) {
                assert_eq!(definition, other, "{name}");
                compared += 1;
            }
        }
        assert!(compared > 10);
    }
}

/// Every property is described, every object is closed, every reference leads somewhere.
#[test]
fn schemas_are_complete() {
    for name in NAMES {
        let schema = schema(name);
        walk(&schema, &schema, name, false);
    }
}

fn walk(root: &Value, at: &Value, path: &str, is_property: bool) {
    match at {
        Value::Object(map) => {
            let target = map.get("$ref").map(|reference| {
                let pointer = reference.as_str().unwrap().strip_prefix('#').unwrap();
                root.pointer(pointer)
                    .unwrap_or_else(|| panic!("{path}: {reference} leads nowhere"))
            });
            if is_property {
                let described = map.contains_key("description")
                    || target.is_some_and(|target| target.get("description").is_some());
                assert!(described, "{path} is not described");
            }
            // A rule that adds to an object leaves it to the object to be closed.
            let adds = path.ends_with("/if") || path.ends_with("/then");
            if map.contains_key("properties") && !adds {
                assert_eq!(
                    map.get("additionalProperties"),
                    Some(&Value::Bool(false)),
                    "{path} is open"
                );
            }
            for (key, value) in map {
                let path = format!("{path}/{key}");
                match (key.as_str(), value) {
                    ("properties", Value::Object(properties)) if !adds => {
                        for (name, property) in properties {
                            walk(root, property, &format!("{path}/{name}"), true);
                        }
                    }
                    _ => walk(root, value, &path, false),
                }
            }
        }
        Value::Array(items) => {
            for (index, item) in items.iter().enumerate() {
                walk(root, item, &format!("{path}/{index}"), false);
            }
        }
        _ => {}
    }
}
