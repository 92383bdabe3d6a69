//! `schemas/profile.schema.json` says what the program reads: its checks and thresholds are those of the registry.
//!
//! After a change of checks: `RINGMARK_UPDATE=1 cargo test -p ringmark-tests --test profile_schema`.
#![allow(missing_docs, clippy::unwrap_used)]

use ringmark::profile::Profile;
use ringmark_checks::registry;
use ringmark_tests::root;
use serde_json::{Map, Value, json};

fn text(description: &str) -> Value {
    json!({"description": description, "type": "string", "minLength": 1})
}

fn lens() -> Value {
    json!({
        "description": "Which lens: all that is given must be equal, capital letters or not.",
        "type": "object",
        "properties": {
            "maker": text("Maker."),
            "model": text("Model."),
            "serial": text("Serial number."),
        },
        "minProperties": 1,
        "additionalProperties": false,
    })
}

/// What `[checks.NAME]` can hold, check by check.
fn checks() -> Value {
    let mut properties = Map::new();
    for check in registry::all() {
        let mut keys = Map::new();
        keys.insert(
            "severity".to_owned(),
            json!({"description": "How grave its findings are.", "enum": ["error", "warning", "note", "off"]}),
        );
        for threshold in check.info.thresholds {
            let unit = match threshold.unit {
                "" => String::new(),
                unit => format!(" {unit}"),
            };
            let description = format!(
                "{}{unit} unless given: {}.",
                threshold.default, threshold.why
            );
            keys.insert(
                threshold.name.to_owned(),
                json!({"description": description, "type": "number"}),
            );
        }
        properties.insert(
            check.info.id.to_owned(),
            json!({
                "description": format!("{}.", check.info.title),
                "type": "object",
                "properties": keys,
                "additionalProperties": false,
            }),
        );
    }
    json!({
        "description": "Severities and thresholds by check.",
        "type": "object",
        "properties": properties,
        "additionalProperties": false,
    })
}

fn schema() -> Value {
    let mut of_lens = lens();
    of_lens["properties"]["checks"] = json!({"$ref": "#/$defs/checks"});
    of_lens["required"] = json!(["checks"]);
    of_lens["minProperties"] = json!(2);
    json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": "https://ringmark.invalid/schemas/1.0/profile.schema.json",
        "title": "Profile",
        "description": "What a show expects of its lens data and what it accepts. Written as TOML, ringmark.toml.",
        "type": "object",
        "properties": {
            "checks": {"$ref": "#/$defs/checks"},
            "lens": {"description": "Changes for single lenses.", "type": "array", "items": of_lens},
            "format": {
                "description": "Changes for single formats, by name.",
                "type": "object",
                "additionalProperties": {
                    "description": "A format.",
                    "type": "object",
                    "properties": {"checks": {"$ref": "#/$defs/checks"}},
                    "additionalProperties": false,
                },
            },
            "accept": {
                "description": "Findings that are known and accepted.",
                "type": "array",
                "items": {
                    "description": "What is accepted, where, why and until when.",
                    "type": "object",
                    "properties": {
                        "check": {
                            "description": "The check.",
                            "enum": registry::all().map(|c| c.info.id).collect::<Vec<_>>(),
                        },
                        "files": text("Pattern of paths or file names: * is any text, ? any character. Without it, all files."),
                        "lens": lens(),
                        "reason": text("Why it is accepted."),
                        "until": {"description": "The last day on which it is; a date of TOML.", "type": "string", "format": "date"},
                    },
                    "required": ["check", "reason"],
                    "additionalProperties": false,
                },
            },
            "expected": {
                "description": "What the prep says will be used.",
                "type": "object",
                "properties": {
                    "lens": {"description": "Lenses.", "type": "array", "items": lens()},
                    "camera": {
                        "description": "Cameras.",
                        "type": "array",
                        "items": {
                            "description": "Which camera: all that is given must be equal.",
                            "type": "object",
                            "properties": {
                                "label": text("Label on set, as A."),
                                "model": text("Model."),
                                "serial": text("Serial number."),
                            },
                            "minProperties": 1,
                            "additionalProperties": false,
                        },
                    },
                    "frame-rate": text("Frame rate of the show, as 24000/1001 or 25."),
                    "calibrated-since": {"description": "The day before which calibrations do not count; a date of TOML.", "type": "string", "format": "date"},
                },
                "additionalProperties": false,
            },
        },
        "additionalProperties": false,
        "$defs": {"checks": checks()},
    })
}

#[test]
fn the_schema_is_that_of_the_checks() {
    let path = root().join("schemas/profile.schema.json");
    let wanted = serde_json::to_string_pretty(&schema()).unwrap() + "\n";
    if std::env::var_os("RINGMARK_UPDATE").is_some() {
        std::fs::write(&path, &wanted).unwrap();
    }
    let found = std::fs::read_to_string(&path).unwrap();
    assert!(
        found == wanted,
        "schemas/profile.schema.json is stale: RINGMARK_UPDATE=1 cargo test -p ringmark-tests --test profile_schema"
    );
}

/// Program and schema refuse and admit the same.
#[test]
fn program_and_schema_agree() {
    let validator = jsonschema::validator_for(&schema()).unwrap();
    for (profile, right) in [
        ("", true),
        ("[checks.ring-jump]\nseverity = \"off\"\nwrap = 0.6\n", true),
        ("[checks.ring-jump]\nseverity = \"loud\"\n", false),
        ("[checks.ring-jump]\nwarp = 0.6\n", false),
        ("[checks.ring-jmp]\n", false),
        (
            "[[lens]]\nserial = \"1\"\n[lens.checks.ring-jump]\nwrap = 1\n",
            true,
        ),
        ("[[lens]]\nserial = \"1\"\n", false),
        ("[[lens]]\n[lens.checks.ring-jump]\nwrap = 1\n", false),
        ("[format.openexr.checks.ring-jump]\nwrap = 1\n", true),
        ("[format.openexr]\nwrap = 1\n", false),
        (
            "[[accept]]\ncheck = \"ring-jump\"\nreason = \"x\"\nfiles = \"*.csv\"\nlens = { serial = \"1\" }\n",
            true,
        ),
        ("[[accept]]\ncheck = \"ring-jump\"\n", false),
        ("[[accept]]\ncheck = \"ring-jump\"\nreason = \"\"\n", false),
        (
            "[[expected.lens]]\nmodel = \"x\"\n[[expected.camera]]\nlabel = \"A\"\n",
            true,
        ),
        ("[[expected.lens]]\n", false),
        ("[[expected.camera]]\nlens = \"x\"\n", false),
        ("[expected]\nlens = \"x\"\n", false),
        ("[check.ring-jump]\n", false),
    ] {
        let table: toml::Table = profile.parse().unwrap();
        let value = serde_json::to_value(table).unwrap();
        assert_eq!(validator.is_valid(&value), right, "schema: {profile}");
        let read = Profile::parse(profile, "ringmark.toml");
        assert_eq!(read.is_ok(), right, "program: {profile}: {read:?}");
    }
}
