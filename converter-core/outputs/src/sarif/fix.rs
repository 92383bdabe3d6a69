//! Repairs that are one number in place of another.

use ringmark_model::{Axis, Change, Finding};
use ringmark_quantity::Unit;

use super::form::{Artifact, ArtifactChange, Fix, Inserted, Message, Replacement};
use super::result::region;
use crate::report::FileReport;
use crate::safe::safe;

/// The longest text that is taken for a number.
const LONGEST: u64 = 32;

/// The repair of a finding as a change of the file: only where one mark changes its value, and the text in the file is
/// that value, as a plain number in the unit of the neutral form. What is written differently is left to people.
pub(super) fn fix<'a>(
    file: &FileReport,
    finding: &'a Finding,
    uri: impl Fn(&str) -> String,
) -> Option<Fix<'a>> {
    let repair = finding.repair.as_ref()?;
    let place = finding.place.as_ref()?;
    let [edit] = repair.edits.as_slice() else {
        return None;
    };
    let Change::Value { value, .. } = edit.change else {
        return None;
    };
    let unit = match edit.axis {
        Axis::Focus => Unit::Metre,
        Axis::Zoom => Unit::Millimetre,
        // A number without its letter says not which kind of stop it is.
        Axis::Iris => return None,
    };
    if !value.is_finite() || place.length == 0 || place.length > LONGEST {
        return None;
    }
    let bytes = file
        .sources
        .window(place.input, place.offset, place.length as usize)?;
    let there: f64 = std::str::from_utf8(&bytes).ok()?.parse().ok()?;
    let stands = |found: &ringmark_model::FoundValue| {
        found.name == "value" && found.unit == unit.symbol() && found.value == there
    };
    if !finding.values.iter().any(stands) {
        return None;
    }
    let name = file.sources.name(place.input)?;
    Some(Fix {
        description: Message::plain(format!(
            "{}: a proposal; compare the mark with the barrel first",
            safe(&repair.action)
        )),
        artifact_changes: [ArtifactChange {
            artifact_location: Artifact { uri: uri(name) },
            replacements: [Replacement {
                deleted_region: region(file, place),
                inserted_content: Inserted {
                    text: value.to_string(),
                },
            }],
        }],
    })
}
