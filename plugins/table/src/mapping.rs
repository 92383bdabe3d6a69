//! The mapping file: what a table means where its header does not say it.
//!
//! People write it as TOML; the program checks it against `schemas/mapping.schema.json` and hands it
//! on as JSON. What it says goes before what the file says.

use std::collections::BTreeMap;

use ringmark_sdk::quantity::DistanceReference;
use ringmark_sdk::{Failure, failure};
use serde::Deserialize;

use crate::fields::fold;
use crate::header::split_unit;
use crate::records::Cell;
use crate::say::{list, quoted};

/// What a file holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Document {
    /// Per-frame records.
    Take,
    /// Scales of lens rings.
    Calibration,
}

/// Options of the plugin.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct Options {
    #[serde(default)]
    mapping: Option<Mapping>,
}

/// A mapping file.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Mapping {
    /// Version of the mapping's form; the schema fixes it.
    #[serde(default, rename = "version")]
    _version: Option<String>,
    /// What the file holds; else a line `# document:` or the columns say it.
    #[serde(default)]
    pub document: Option<Document>,
    /// Byte between cells; else the header line shows it.
    #[serde(default)]
    delimiter: Option<String>,
    /// Decimal mark.
    #[serde(default)]
    decimal: Option<String>,
    /// Cells that mean 'not recorded', besides empty ones.
    #[serde(default)]
    pub missing: Vec<String>,
    /// Lines to pass over at the start.
    #[serde(default)]
    pub skip_lines: u32,
    /// Whether there is a header line.
    #[serde(default)]
    pub header: Option<bool>,
    /// Whether blank lines are frames in which nothing was recorded.
    #[serde(default)]
    pub blank_lines_are_frames: Option<bool>,
    /// What distances are measured from.
    #[serde(default)]
    pub measured_from: Option<String>,
    /// Facts, as `# key: value` lines say them.
    #[serde(default)]
    pub statics: BTreeMap<String, Static>,
    /// Columns.
    #[serde(default)]
    pub columns: Vec<MappedColumn>,
}

/// A value of a fact.
#[derive(Debug, Clone, Deserialize)]
#[serde(untagged)]
pub enum Static {
    /// A text, with its unit where it needs one.
    Text(String),
    /// A number that needs no unit.
    Number(f64),
}

/// What a mapping says about one column.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MappedColumn {
    /// The column with this header.
    #[serde(default)]
    header: Option<String>,
    /// The column at this position, from 1.
    #[serde(default)]
    index: Option<usize>,
    /// A channel, `extra` or `ignore`; in calibrations `ring`, `position`, `mark`, `unit` or `engraved`.
    #[serde(default)]
    pub channel: Option<String>,
    /// Unit symbol.
    #[serde(default)]
    pub unit: Option<String>,
    /// What the distances of this column are measured from.
    #[serde(default)]
    pub reference: Option<String>,
    /// Ring positions at the two ends, in the unit of the column.
    #[serde(default)]
    pub range: Option<[f64; 2]>,
}

/// A failure that the mapping is to blame for.
pub fn mapping_failure(message: impl AsRef<str>, help: impl Into<String>) -> Failure {
    failure(format!("mapping: {}", message.as_ref()), help, None)
}

impl Mapping {
    /// The mapping in the plugin's options; an empty one if there is none.
    pub fn from_options(options: &str) -> Result<Mapping, Failure> {
        if options.trim().is_empty() {
            return Ok(Mapping::default());
        }
        let options: Options = serde_json::from_str(options).map_err(|error| {
            failure(
                format!("the options of this plugin cannot be read: {error}"),
                "see schemas/mapping.schema.json for what a mapping can say",
                None,
            )
        })?;
        let mapping = options.mapping.unwrap_or_default();
        if mapping.missing.iter().any(String::is_empty) {
            return Err(mapping_failure(
                "`missing` lists the empty text",
                "leave it out: empty cells always mean 'not recorded'",
            ));
        }
        for column in &mapping.columns {
            if column.header.is_some() == column.index.is_some() {
                return Err(mapping_failure(
                    "a column needs either `header` or `index`",
                    "write header = \"the text in the header\" or index = 1 for the first column",
                ));
            }
        }
        Ok(mapping)
    }

    /// The delimiter, if stated.
    pub fn delimiter(&self) -> Result<Option<u8>, Failure> {
        match self.delimiter.as_deref() {
            None => Ok(None),
            Some(",") => Ok(Some(b',')),
            Some(";") => Ok(Some(b';')),
            Some("\t") => Ok(Some(b'\t')),
            Some(other) => Err(mapping_failure(
                format!("delimiter {} is not known", quoted(other)),
                "write \",\", \";\" or \"\\t\"",
            )),
        }
    }

    /// Whether decimals have a comma, if stated.
    pub fn decimal_comma(&self) -> Result<Option<bool>, Failure> {
        match self.decimal.as_deref() {
            None => Ok(None),
            Some(".") => Ok(Some(false)),
            Some(",") => Ok(Some(true)),
            Some(other) => Err(mapping_failure(
                format!("decimal mark {} is not known", quoted(other)),
                "write \".\" or \",\"",
            )),
        }
    }

    /// What is said about each of the columns, in their order.
    pub fn match_columns(&self, header: &[Cell]) -> Result<Vec<Option<&MappedColumn>>, Failure> {
        let mut found = vec![None; header.len()];
        for column in &self.columns {
            let index = column.find(header)?;
            if let Some(slot @ None) = found.get_mut(index) {
                *slot = Some(column);
            } else {
                return Err(mapping_failure(
                    format!("column {} is described twice", index + 1),
                    "keep one of the two entries",
                ));
            }
        }
        Ok(found)
    }
}

impl MappedColumn {
    fn find(&self, header: &[Cell]) -> Result<usize, Failure> {
        let there = || {
            format!(
                "the columns are {}",
                list(header.iter().map(|cell| cell.text.as_str()))
            )
        };
        if let Some(index) = self.index {
            if (1..=header.len()).contains(&index) {
                return Ok(index - 1);
            }
            return Err(mapping_failure(
                format!("there is no column {index}: the table has {}", header.len()),
                format!("count from 1; {}", there()),
            ));
        }
        let wanted = self.header.as_deref().unwrap_or_default();
        let matches = |test: &dyn Fn(&Cell) -> bool| -> Vec<usize> {
            (0..header.len())
                .filter(|&index| header.get(index).is_some_and(test))
                .collect()
        };
        let mut hits = matches(&|cell| cell.text.trim() == wanted.trim());
        if hits.is_empty() {
            hits = matches(&|cell| fold(&cell.text) == fold(wanted));
        }
        if hits.is_empty() {
            hits = matches(&|cell| fold(split_unit(&cell.text).0) == fold(wanted));
        }
        match hits.as_slice() {
            [index] => Ok(*index),
            [] => Err(mapping_failure(
                format!("there is no column {}", quoted(wanted)),
                there(),
            )),
            _ => Err(mapping_failure(
                format!("{} columns are called {}", hits.len(), quoted(wanted)),
                "name the column by index, counted from 1",
            )),
        }
    }
}

/// A reference by its name.
pub fn reference(name: &str) -> Result<DistanceReference, Failure> {
    DistanceReference::from_name(name).ok_or_else(|| {
        failure(
            format!("distances cannot be measured from {}", quoted(name)),
            "write image plane, entrance pupil, front vertex or unstated",
            None,
        )
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn cells(texts: &[&str]) -> Vec<Cell> {
        texts
            .iter()
            .map(|text| Cell {
                text: (*text).to_owned(),
                quoted: false,
                at: None,
            })
            .collect()
    }

    fn with_columns(columns: &str) -> Mapping {
        Mapping::from_options(&format!("{{\"mapping\":{{\"columns\":{columns}}}}}")).unwrap()
    }

    #[test]
    fn columns_by_header_name_or_index() {
        let header = cells(&["Bild", "Fokus [m]", "T"]);
        let mapping = with_columns(
            r#"[{"header":"fokus","channel":"focus-distance"},{"index":3,"channel":"t-stop"}]"#,
        );
        let found = mapping.match_columns(&header).unwrap();
        assert_eq!(found[0].map(|c| c.channel.clone()), None);
        assert_eq!(found[1].unwrap().channel.as_deref(), Some("focus-distance"));
        assert_eq!(found[2].unwrap().channel.as_deref(), Some("t-stop"));
    }

    #[test]
    fn columns_that_are_not_there_list_those_that_are() {
        let header = cells(&["a", "b", "b"]);
        for (columns, words) in [
            (r#"[{"header":"c"}]"#, "“a”, “b”, “b”"),
            (r#"[{"index":4}]"#, "“a”, “b”, “b”"),
            (r#"[{"index":0}]"#, "count from 1"),
            (r#"[{"header":"b"}]"#, "by index"),
            (r#"[{"index":1},{"header":"a"}]"#, "keep one"),
        ] {
            let error = with_columns(columns).match_columns(&header).unwrap_err();
            assert!(
                error.help.contains(words),
                "{} {}",
                error.message,
                error.help
            );
        }
    }

    #[test]
    fn nonsense_is_refused() {
        for options in [
            "{\"mapping\":{\"colums\":[]}}",
            "{\"mapping\":{\"columns\":[{\"channel\":\"frame\"}]}}",
            "{\"mapping\":{\"columns\":[{\"channel\":\"frame\",\"index\":1,\"header\":\"a\"}]}}",
            "{\"mapping\":{\"missing\":[\"\"]}}",
        ] {
            assert!(Mapping::from_options(options).is_err(), "{options}");
        }
        assert!(Mapping::from_options("").is_ok());
        assert!(Mapping::from_options("{}").is_ok());
    }
}
