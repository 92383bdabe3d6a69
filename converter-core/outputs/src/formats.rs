//! What can be read and written, and which channels each format carries.

use std::fmt::{self, Write};

use ringmark_model::manifest::{CarriedChannel, Keeping, PerFrame, Precision, References};
use ringmark_model::{Channel, Manifest};
use serde::Serialize;

use crate::loss::part as part_of;
use crate::safe::safe;
use crate::table::Table;

/// All formats, machine readable.
#[derive(Serialize)]
struct Document<'a> {
    formats: Vec<Format<'a>>,
}

#[derive(Serialize)]
struct Format<'a> {
    name: &'a str,
    version: &'a str,
    title: &'a str,
    about: &'a str,
    reads: bool,
    writes: bool,
    endings: &'a [String],
    sequence: bool,
    #[serde(skip_serializing_if = "Option::is_none")]
    per_frame: Option<PerFrame>,
    #[serde(skip_serializing_if = "Option::is_none")]
    options: Option<&'a serde_json::Value>,
    channels: Vec<ChannelEntry>,
    other_channels: Keeping,
    extras: Keeping,
    marks: bool,
    takes: bool,
    tables: bool,
}

#[derive(Serialize)]
struct ChannelEntry {
    name: &'static str,
    keeping: Keeping,
    reads: bool,
    writes: bool,
    /// What is not kept as it is, in words.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    limits: Vec<String>,
}

fn format(manifest: &Manifest) -> Format<'_> {
    let carries = &manifest.carries;
    let channels = Channel::ALL
        .iter()
        .map(|&channel| {
            let (keeping, reads, writes) = carried(manifest, channel);
            ChannelEntry {
                name: channel.name(),
                keeping,
                reads,
                writes,
                limits: limits(manifest, channel),
            }
        })
        .collect();
    Format {
        name: &manifest.name,
        version: &manifest.version,
        title: &manifest.title,
        about: &manifest.about,
        reads: manifest.reads,
        writes: manifest.writes,
        endings: &manifest.files.extensions,
        sequence: manifest.files.sequence,
        per_frame: manifest.files.per_frame,
        options: manifest.options.as_ref(),
        channels,
        other_channels: carries.other_channels,
        extras: carries.extras,
        marks: carries.marks,
        takes: carries.takes,
        tables: carries.tables,
    }
}

/// How a format keeps a channel, and whether it reads and writes it.
fn carried(manifest: &Manifest, channel: Channel) -> (Keeping, bool, bool) {
    let both = |reads, writes| (manifest.reads && reads, manifest.writes && writes);
    let (keeping, (reads, writes)) = match manifest.channel(channel.name()) {
        Some(CarriedChannel {
            keeping,
            reads,
            writes,
            ..
        }) => (*keeping, both(*reads, *writes)),
        None => (manifest.carries.other_channels, both(true, true)),
    };
    let kept = keeping != Keeping::Lost;
    (keeping, kept && reads, kept && writes)
}

/// What a format does not keep as it is, of a channel that it has a place for.
fn limits(manifest: &Manifest, channel: Channel) -> Vec<String> {
    let Some(carried) = manifest.channel(channel.name()) else {
        return Vec::new();
    };
    if carried.keeping != Keeping::Native
        || channel.is_text()
        || !(manifest.writes && carried.writes)
    {
        return note(carried);
    }
    // Ring positions from 0 to 1 need no unit.
    let unit = match carried.unit.as_str() {
        "" | "0..1" => String::new(),
        unit => format!(" {}", safe(unit)),
    };
    let mut limits = Vec::new();
    match carried.precision {
        Some(Precision::Float32) => limits.push("32-bit float".to_owned()),
        Some(Precision::Step(step)) => limits.push(format!("steps of {}{unit}", figure(step))),
        Some(Precision::Relative(part)) => limits.push(format!("within {}", part_of(part))),
        None => {}
    }
    if carried.whole {
        limits.push("whole numbers".to_owned());
    }
    if let Some(least) = carried.above {
        limits.push(format!("above {}{unit}", figure(least)));
    }
    if let Some(least) = carried.at_least {
        limits.push(format!("from {}{unit}", figure(least)));
    }
    if let Some(most) = carried.at_most {
        limits.push(format!("up to {}{unit}", figure(most)));
    }
    if channel.is_distance() {
        if !carried.infinity {
            limits.push("no infinity".to_owned());
        }
        match &carried.reference {
            References::Any(true) => {}
            References::Any(false) => limits.push("measured from: not said".to_owned()),
            References::Only(names) => {
                let names: Vec<String> = names.iter().map(|n| safe(n).replace('-', " ")).collect();
                limits.push(format!("measured from the {} only", names.join(" or ")));
            }
        }
    }
    if !carried.stands_for.is_empty() {
        let names: Vec<String> = carried
            .stands_for
            .iter()
            .map(|n| safe(n).into_owned())
            .collect();
        limits.push(format!("else takes {}", names.join(", ")));
    }
    limits.extend(note(carried));
    limits
}

/// A limit: with a power of ten where there would be many digits.
fn figure(number: f64) -> String {
    let size = number.abs();
    if size == 0.0 || (1e-3..1e7).contains(&size) {
        return number.to_string();
    }
    let text = format!("{number:.2e}");
    text.replace(".00e", "e").replace("0e", "e")
}

fn note(carried: &CarriedChannel) -> Vec<String> {
    if carried.note.is_empty() {
        Vec::new()
    } else {
        vec![safe(&carried.note).into_owned()]
    }
}

/// The formats, one a line.
pub fn write_formats(out: &mut dyn Write, manifests: &[Manifest]) -> fmt::Result {
    let mut table = Table::new(["format", "reads", "writes", "endings", "what it is"]);
    for manifest in manifests {
        let yes = |can: bool| if can { "yes" } else { "–" }.to_owned();
        let endings: Vec<String> = manifest
            .files
            .extensions
            .iter()
            .map(|e| format!(".{}", safe(e)))
            .collect();
        table.row([
            safe(&manifest.name).into_owned(),
            yes(manifest.reads),
            yes(manifest.writes),
            endings.join(" "),
            safe(&manifest.title).into_owned(),
        ]);
    }
    table.write(out, 0)
}

/// The channels of the registry, one a line, and how each format keeps them: `native`, `aside` (in a private part of
/// the file) or `–`; `(reads)` and `(writes)` where it does only one of the two though the format does both. Below it,
/// by format, what is not kept as it is.
pub fn write_format_channels(out: &mut dyn Write, manifests: &[Manifest]) -> fmt::Result {
    let names = manifests.iter().map(|m| safe(&m.name).into_owned());
    let mut table = Table::with_head(std::iter::once("channel".to_owned()).chain(names).collect());
    for &channel in Channel::ALL {
        let cells = manifests.iter().map(|m| cell(m, channel));
        table.row(std::iter::once(channel.name().to_owned()).chain(cells));
    }
    let yes = |can: bool| if can { "native" } else { "–" }.to_owned();
    let mut row = |name: &str, cell: &dyn Fn(&Manifest) -> String| {
        table.row(std::iter::once(name.to_owned()).chain(manifests.iter().map(cell)));
    };
    row("(extras)", &|m| word(m.carries.extras).to_owned());
    row("(ring marks)", &|m| yes(m.carries.marks));
    row("(lens tables)", &|m| yes(m.carries.tables));
    table.write(out, 0)?;
    for manifest in manifests {
        let mut head = format!("\n{}\n", safe(&manifest.name));
        for &channel in Channel::ALL {
            let limits = limits(manifest, channel);
            if !limits.is_empty() {
                writeln!(out, "{head}  {}: {}", channel.name(), limits.join("; "))?;
                head.clear();
            }
        }
    }
    Ok(())
}

fn cell(manifest: &Manifest, channel: Channel) -> String {
    let (keeping, reads, writes) = carried(manifest, channel);
    let only = match (manifest.reads && !reads, manifest.writes && !writes) {
        _ if keeping == Keeping::Lost => "",
        (true, true) => return word(Keeping::Lost).to_owned(),
        (true, false) => " (writes)",
        (false, true) => " (reads)",
        (false, false) => "",
    };
    format!("{}{only}", word(keeping))
}

const fn word(keeping: Keeping) -> &'static str {
    match keeping {
        Keeping::Native => "native",
        Keeping::Aside => "aside",
        Keeping::Lost => "–",
    }
}

/// Formats and channels as one JSON document.
pub fn write_formats_json(
    out: &mut dyn std::io::Write,
    manifests: &[Manifest],
) -> std::io::Result<()> {
    let document = Document {
        formats: manifests.iter().map(format).collect(),
    };
    serde_json::to_writer_pretty(&mut *out, &document)?;
    out.write_all(b"\n")
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;

    fn manifests() -> Vec<Manifest> {
        let table = serde_json::json!({
            "name": "table", "version": "0.1.0", "contract": "1.0", "title": "delimited text", "about": "Rows and columns.",
            "reads": true, "writes": true, "files": {"extensions": ["csv", "tsv"]},
            "carries": {
                "channels": [
                    {"name": "focus-distance", "unit": "m", "precision": {"step": 0.001}, "reference": ["image-plane"]},
                    {"name": "nominal-focal-length", "unit": "mm", "precision": "float32", "above": 0, "stands_for": ["pinhole-focal-length"], "note": "one for all frames"},
                    {"name": "far-limit", "unit": "m", "reads": false},
                    {"name": "near-limit", "unit": "m", "keeping": "lost"}
                ],
                "other_channels": "aside", "extras": "native", "marks": true, "takes": true
            }
        });
        let headers = serde_json::json!({
            "name": "headers\u{1b}", "version": "0.1.0", "contract": "1.0", "title": "image headers", "about": "",
            "reads": true, "writes": false, "files": {"extensions": ["img"], "sequence": true},
            "carries": {"channels": [{"name": "t-stop"}]}
        });
        [table, headers]
            .map(|m| serde_json::from_value(m).unwrap())
            .to_vec()
    }

    #[test]
    fn list() {
        let mut out = String::new();
        write_formats(&mut out, &manifests()).unwrap();
        insta::assert_snapshot!(out);
    }

    #[test]
    fn matrix() {
        let mut out = String::new();
        write_format_channels(&mut out, &manifests()).unwrap();
        insta::assert_snapshot!(out);
    }

    #[test]
    fn json_says_the_same() {
        let mut out = Vec::new();
        write_formats_json(&mut out, &manifests()).unwrap();
        let document: serde_json::Value = serde_json::from_slice(&out).unwrap();
        let of = |format: usize, channel: &str| {
            let channels = document["formats"][format]["channels"].as_array().unwrap();
            channels
                .iter()
                .find(|c| c["name"] == channel)
                .unwrap()
                .clone()
        };
        let entry = |name: &str, keeping: &str, reads: bool, writes: bool| serde_json::json!({"name": name, "keeping": keeping, "reads": reads, "writes": writes});
        assert_eq!(
            of(0, "focus-distance"),
            serde_json::json!({"name": "focus-distance", "keeping": "native", "reads": true, "writes": true,
                "limits": ["steps of 0.001 m", "no infinity", "measured from the image plane only"]})
        );
        assert_eq!(
            of(0, "far-limit"),
            serde_json::json!({"name": "far-limit", "keeping": "native", "reads": false, "writes": true,
                "limits": ["no infinity", "measured from: not said"]})
        );
        assert_eq!(
            of(0, "near-limit"),
            entry("near-limit", "lost", false, false)
        );
        assert_eq!(of(0, "frame"), entry("frame", "aside", true, true));
        assert_eq!(of(1, "t-stop"), entry("t-stop", "native", true, false));
        assert_eq!(document["formats"][1]["sequence"], true);
    }
}
