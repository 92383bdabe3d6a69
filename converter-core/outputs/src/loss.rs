//! What a conversion could not carry over, for people and for machines.

use std::fmt::{self, Write};

use ringmark_model::{Loss, LossItem, LossKind, LossReport};
use serde::Serialize;

use crate::report::number;
use crate::safe::safe;

/// What an item is, in one word and in the plural, and its name.
fn item_words(item: &LossItem) -> ([&'static str; 2], &str) {
    match item {
        LossItem::Channel(name) => (["channel", "channels"], name),
        LossItem::Fact(name) => (["fact", "facts"], name),
        LossItem::Extra(name) => (["extra", "extras"], name),
        LossItem::Marks(axis) => (["marks", "marks"], axis),
        LossItem::Table(name) => (["table", "tables"], name),
        LossItem::Take(label) => (["take", "takes"], label),
    }
}

const fn kind_words(kind: LossKind) -> &'static str {
    match kind {
        LossKind::Lost => "lost",
        LossKind::Merged => "merged",
        LossKind::Rounded => "rounded",
        LossKind::Converted => "converted",
        LossKind::Aside => "kept aside",
    }
}

fn sorted(report: &LossReport) -> Vec<&Loss> {
    let mut entries: Vec<&Loss> = report.entries.iter().collect();
    entries.sort_by_key(|e| e.kind);
    entries
}

/// The JSON form.
#[derive(Serialize)]
struct Document<'a> {
    input: &'a str,
    output: &'a str,
    format: &'a str,
    lossless: bool,
    losses: Vec<&'a Loss>,
}

/// One JSON object on a line: what was converted into what, and each loss.
pub fn write_loss_json(
    out: &mut dyn Write,
    report: &LossReport,
    input: &str,
    output: &str,
) -> fmt::Result {
    let document = Document {
        input,
        output,
        format: &report.format,
        lossless: report.is_lossless(),
        losses: sorted(report),
    };
    let text = serde_json::to_string(&document).map_err(|_| fmt::Error)?;
    writeln!(out, "{text}")
}

/// A part of a whole with two digits: `0.12 %`, or `3e-8` where that would be many zeros.
pub(crate) fn part(error: f64) -> String {
    if error < 1e-5 {
        return format!("{error:.0e}");
    }
    let percent = error * 100.0;
    let digits = (1.0 - percent.log10().floor()).clamp(0.0, 6.0) as usize;
    format!("{percent:.digits$} %")
}

/// One line for all that fared alike, the worst first:
/// `lost: channels near-limit, far-limit in 1200 frames: no place for them in opentrackio`.
pub fn write_loss_text(out: &mut dyn Write, report: &LossReport) -> fmt::Result {
    let mut left = sorted(report);
    while let Some(first) = left.first().copied() {
        let alike = |entry: &&Loss| {
            entry.kind == first.kind
                && entry.reason == first.reason
                && entry.frames == first.frames
                && entry.error.is_none()
                && first.error.is_none()
                && item_words(&entry.what).0 == item_words(&first.what).0
        };
        let (mut together, others): (Vec<&Loss>, Vec<&Loss>) = left.iter().partition(|e| alike(e));
        if together.is_empty() {
            // What was rounded has an error of its own.
            together.push(first);
            left.remove(0);
        } else {
            left = others;
        }
        let ([one, many], _) = item_words(&first.what);
        let word = if together.len() == 1 { one } else { many };
        let names: Vec<_> = together
            .iter()
            .map(|entry| safe(item_words(&entry.what).1))
            .collect();
        write!(
            out,
            "{}: {word} {}",
            kind_words(first.kind),
            names.join(", ")
        )?;
        if first.frames > 0 {
            write!(out, " in {}", number(first.frames, "frame"))?;
        }
        write!(out, ": {}", safe(&first.reason))?;
        if let Some(error) = first.error {
            write!(out, ", at most {} of the value off", part(error))?;
        }
        writeln!(out)?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;

    fn report() -> LossReport {
        let mut report = LossReport::new("opentrackio");
        report.add(
            LossItem::Extra("operator\u{1b}".to_owned()),
            LossKind::Aside,
            "written as custom data",
            48,
        );
        report.add(
            LossItem::Channel("far-limit".to_owned()),
            LossKind::Lost,
            "no place for it",
            24,
        );
        report.add(
            LossItem::Channel("far-limit".to_owned()),
            LossKind::Lost,
            "no place for it",
            24,
        );
        report.add(
            LossItem::Marks("focus".to_owned()),
            LossKind::Lost,
            "no marks of rings",
            0,
        );
        report.add(
            LossItem::Channel("focus-distance".to_owned()),
            LossKind::Merged,
            "reference unsaid",
            1,
        );
        for fact in ["reel", "clip"] {
            let fact = LossItem::Fact(fact.to_owned());
            report.add(fact, LossKind::Aside, "written as custom data", 0);
        }
        for (name, error) in [("t-stop", 0.00004), ("f-number", 3e-8)] {
            let channel = LossItem::Channel(name.to_owned());
            report.add_rounded(channel, "kept as a code", 48, error);
        }
        report
    }

    #[test]
    fn text() {
        let mut out = String::new();
        write_loss_text(&mut out, &report()).unwrap();
        insta::assert_snapshot!(out, @"
        lost: channel far-limit in 48 frames: no place for it
        lost: marks focus: no marks of rings
        merged: channel focus-distance in 1 frame: reference unsaid
        rounded: channel t-stop in 48 frames: kept as a code, at most 0.0040 % of the value off
        rounded: channel f-number in 48 frames: kept as a code, at most 3e-8 of the value off
        kept aside: extra operator␛ in 48 frames: written as custom data
        kept aside: facts reel, clip: written as custom data
        ");
    }

    #[test]
    fn json() {
        let mut out = String::new();
        write_loss_json(&mut out, &report(), "a.csv", "a.jsonl").unwrap();
        let value: serde_json::Value = serde_json::from_str(&out).unwrap();
        assert_eq!(value["lossless"], false);
        assert_eq!(value["output"], "a.jsonl");
        assert_eq!(value["losses"].as_array().unwrap().len(), 8);
        let first = serde_json::json!({"what": {"channel": "far-limit"}, "kind": "lost", "reason": "no place for it", "frames": 48});
        assert_eq!(value["losses"][0], first);
    }

    #[test]
    fn aside_is_no_loss() {
        let mut report = LossReport::new("table");
        assert!(report.is_lossless());
        report.add(
            LossItem::Fact("reel".to_owned()),
            LossKind::Aside,
            "in a comment",
            0,
        );
        assert!(report.is_lossless());
        for kind in [LossKind::Lost, LossKind::Merged] {
            let mut lossy = report.clone();
            lossy.add(LossItem::Table("pupil".to_owned()), kind, "why", 0);
            assert!(!lossy.is_lossless());
        }
    }
}
