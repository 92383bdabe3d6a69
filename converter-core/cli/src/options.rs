//! Options of a format that the person gave as `NAME=VALUE`.

use anyhow::{Result, bail};
use ringmark_model::Manifest;
use serde_json::{Map, Value};

/// The options as a JSON object that fits the schema in the format's manifest. Numbers and `true`
/// or `false` are what they look like, everything else is text.
pub fn options(manifest: &Manifest, given: &[String]) -> Result<String> {
    let format = &manifest.name;
    let mut options = Map::new();
    for option in given {
        let Some((name, text)) = option.split_once('=') else {
            bail!("--option {option}: write NAME=VALUE");
        };
        let known = names(manifest);
        if !known.iter().any(|known| known == name) {
            bail!(
                "{format} has no option '{name}'; {}",
                match known.as_slice() {
                    [] => "it has none".to_owned(),
                    known => format!("it has {}", known.join(", ")),
                }
            );
        }
        let value = match serde_json::from_str::<Value>(text) {
            Ok(value @ (Value::Number(_) | Value::Bool(_))) => value,
            _ => Value::String(text.to_owned()),
        };
        options.insert(name.to_owned(), value);
    }
    let options = Value::Object(options);
    if let Some(schema) = &manifest.options {
        let validator = jsonschema::validator_for(schema).map_err(|error| {
            anyhow::anyhow!("the manifest of '{format}' has a damaged option schema: {error}")
        })?;
        if let Some(error) = validator.iter_errors(&options).next() {
            let path = error.instance_path().to_string();
            bail!(
                "option {} of {format}: {error}",
                path.trim_start_matches('/')
            );
        }
    }
    Ok(options.to_string())
}

/// What can be given by hand: a mapping is a file of its own.
fn names(manifest: &Manifest) -> Vec<String> {
    manifest
        .options
        .as_ref()
        .and_then(|schema| schema.pointer("/properties")?.as_object())
        .map(|properties| {
            properties
                .keys()
                .filter(|name| *name != "mapping")
                .cloned()
                .collect()
        })
        .unwrap_or_default()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn said(given: &[&str]) -> Result<String> {
        let manifest: Manifest = serde_json::from_value(serde_json::json!({
            "name": "scene", "version": "0.1.0", "contract": "1.0", "title": "", "about": "", "reads": true, "writes": true,
            "files": {"extensions": ["scene"]}, "carries": {},
            "options": {"type": "object", "properties": {
                "unit": {"type": "number", "exclusiveMinimum": 0}, "axis": {"enum": ["Y", "Z"]}, "mapping": {"type": "object"}
            }}
        }))?;
        options(
            &manifest,
            &given.iter().map(|&g| g.to_owned()).collect::<Vec<_>>(),
        )
    }

    #[test]
    fn options_fit_the_schema_of_the_manifest() {
        assert_eq!(said(&[]).unwrap(), "{}");
        assert_eq!(
            said(&["unit=0.01", "axis=Z"]).unwrap(),
            r#"{"unit":0.01,"axis":"Z"}"#
        );
        let message = |given| said(&[given]).unwrap_err().to_string();
        assert!(
            message("unit=0").starts_with("option unit of scene: 0 is less"),
            "{}",
            message("unit=0")
        );
        assert!(message("axis=X").contains("\"X\""), "{}", message("axis=X"));
        assert_eq!(
            message("units=1"),
            "scene has no option 'units'; it has unit, axis"
        );
        assert_eq!(
            message("mapping={}"),
            "scene has no option 'mapping'; it has unit, axis"
        );
        assert_eq!(message("unit"), "--option unit: write NAME=VALUE");
    }
}
