//! The objects of SARIF 2.1.0 that reports use, with the keys that they use.

use std::borrow::Cow;
use std::collections::BTreeMap;

use serde::Serialize;

use crate::document::{FramesEntry, RepairEntry, ValueEntry};

/// 3.19, toolComponent.
#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Driver<'a> {
    pub name: &'static str,
    pub version: &'static str,
    pub semantic_version: &'static str,
    pub rules: Vec<Descriptor<'a>>,
}

/// 3.49, reportingDescriptor.
#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Descriptor<'a> {
    pub id: &'static str,
    pub short_description: Text<'a>,
    pub full_description: Text<'a>,
    pub help: Text<'a>,
    pub default_configuration: Configuration,
    pub properties: RuleProperties,
}

/// 3.50, reportingConfiguration.
#[derive(Serialize)]
pub(super) struct Configuration {
    pub level: &'static str,
}

/// 3.8, propertyBag of a rule.
#[derive(Serialize)]
pub(super) struct RuleProperties {
    pub tags: [&'static str; 1],
    pub since: &'static str,
}

/// 3.12, multiformatMessageString.
#[derive(Serialize)]
pub(super) struct Text<'a> {
    pub text: Cow<'a, str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub markdown: Option<&'a str>,
}

impl<'a> Text<'a> {
    pub fn plain(text: impl Into<Cow<'a, str>>) -> Self {
        Text {
            text: text.into(),
            markdown: None,
        }
    }
}

/// 3.11, message.
#[derive(Serialize)]
pub(super) struct Message<'a> {
    text: Cow<'a, str>,
}

impl<'a> Message<'a> {
    /// A text without links: what reads like one in a text from a file (3.11.6) is none.
    pub fn plain(text: impl Into<Cow<'a, str>>) -> Self {
        let text = text.into();
        Message {
            text: if text.contains("](") {
                Cow::Owned(text.replace("](", "] ("))
            } else {
                text
            },
        }
    }
}

/// 3.20, invocation; its notifications are written apart.
#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Invocation {
    pub execution_successful: bool,
    pub exit_code: u8,
}

/// 3.58, notification.
#[derive(Serialize)]
pub(super) struct Notification<'a> {
    pub level: &'static str,
    pub message: Message<'a>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub locations: Vec<Location<'a>>,
}

/// 3.27, result.
#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Outcome<'a> {
    pub rule_id: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rule_index: Option<usize>,
    pub level: &'static str,
    pub message: Message<'a>,
    pub locations: [Location<'a>; 1],
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub related_locations: Vec<Location<'a>>,
    pub partial_fingerprints: BTreeMap<&'static str, String>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub fixes: Vec<Fix<'a>>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub suppressions: Vec<Suppression<'a>>,
    #[serde(skip_serializing_if = "Properties::is_empty")]
    pub properties: Properties<'a>,
}

/// 3.8, propertyBag of a result: what SARIF has no place for.
#[derive(Serialize)]
pub(super) struct Properties<'a> {
    #[serde(skip_serializing_if = "Option::is_none")]
    pub frames: Option<FramesEntry<'a>>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub values: Vec<ValueEntry<'a>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub repair: Option<RepairEntry<'a>>,
}

impl Properties<'_> {
    fn is_empty(&self) -> bool {
        self.frames.is_none() && self.values.is_empty() && self.repair.is_none()
    }
}

/// 3.28, location.
#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Location<'a> {
    #[serde(skip_serializing_if = "Option::is_none")]
    pub id: Option<usize>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub physical_location: Option<PhysicalLocation>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub logical_locations: Vec<LogicalLocation<'a>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub message: Option<Message<'a>>,
}

/// 3.29, physicalLocation.
#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct PhysicalLocation {
    pub artifact_location: Artifact,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub region: Option<Region>,
}

/// 3.4, artifactLocation.
#[derive(Serialize)]
pub(super) struct Artifact {
    pub uri: String,
}

/// 3.30, region: of lines and columns in texts, of bytes in everything else.
#[derive(Serialize)]
#[serde(rename_all = "camelCase", untagged)]
pub(super) enum Region {
    #[serde(rename_all = "camelCase")]
    Text {
        start_line: u64,
        start_column: u64,
        #[serde(skip_serializing_if = "Option::is_none")]
        end_line: Option<u64>,
        #[serde(skip_serializing_if = "Option::is_none")]
        end_column: Option<u64>,
    },
    #[serde(rename_all = "camelCase")]
    Bytes { byte_offset: u64, byte_length: u64 },
}

/// 3.33, logicalLocation.
#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct LogicalLocation<'a> {
    pub name: Cow<'a, str>,
    pub fully_qualified_name: String,
    pub kind: &'static str,
}

/// 3.55, fix.
#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Fix<'a> {
    pub description: Message<'a>,
    pub artifact_changes: [ArtifactChange; 1],
}

/// 3.56, artifactChange.
#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct ArtifactChange {
    pub artifact_location: Artifact,
    pub replacements: [Replacement; 1],
}

/// 3.57, replacement.
#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Replacement {
    pub deleted_region: Region,
    pub inserted_content: Inserted,
}

/// 3.3, artifactContent.
#[derive(Serialize)]
pub(super) struct Inserted {
    pub text: String,
}

/// 3.35, suppression.
#[derive(Serialize)]
pub(super) struct Suppression<'a> {
    pub kind: &'static str,
    pub status: &'static str,
    pub justification: Cow<'a, str>,
}
