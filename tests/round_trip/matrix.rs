//! Every format that can be written and read, into every other and back: what differs was named
//! by the loss report of the step where it was lost, and the second file is the first one again.

use std::sync::Arc;

use proptest::prelude::*;
use ringmark_host::Plugin;
use ringmark_model::{
    Batch, Channel, ColumnHead, ColumnKey, NumberColumn, Origin, Piece, TextColumn, TextForm,
};
use ringmark_model::{LossReport, Take};
use ringmark_quantity::{CountingMode, FrameRate};
use ringmark_tests::direct::{Files, from_neutral, neutral_lines, pieces, sources, written};
use ringmark_tests::plate::plate;

use super::PLUGINS;
use crate::content::{contents, unaccounted};
use crate::generate::document;

/// Number of the first frame.
const FIRST: u64 = 1001;

/// A take as a recorder makes it: frame numbers and time code that count up. All else is as
/// odd as [`document`] makes it.
fn orderly() -> impl Strategy<Value = Vec<Piece>> {
    document().prop_map(|pieces| {
        pieces
            .into_iter()
            .map(|piece| match piece {
                Piece::Take(take) => Piece::Take(Take {
                    frame_rate: FrameRate::parse("24").ok(),
                    counting: Some(CountingMode::NonDrop),
                    start_timecode: None,
                    ..take
                }),
                Piece::Frames(batch) => Piece::Frames(counted(batch)),
                other => other,
            })
            .collect()
    })
}

fn head(channel: Channel, form: Option<TextForm>) -> Arc<ColumnHead> {
    Arc::new(ColumnHead {
        key: ColumnKey::Channel(channel),
        unit: String::new(),
        reference: None,
        origin: Origin::Recorded,
        source_unit: None,
        form,
    })
}

fn counted(mut batch: Batch) -> Batch {
    let is = |head: &ColumnHead, channel| head.key == ColumnKey::Channel(channel);
    batch.numbers.retain(|c| !is(&c.head, Channel::Frame));
    batch
        .texts
        .retain(|c| !is(&c.head, Channel::Timecode) && !is(&c.head, Channel::SourceFile));
    let frames = batch.first..batch.first + batch.count as u64;
    let numbers = NumberColumn {
        head: head(Channel::Frame, None),
        values: frames.clone().map(|f| (FIRST + f) as f64).collect(),
    };
    let labels: Vec<String> = frames.map(|f| format!("10:20:30:{f:02}")).collect();
    batch.numbers.insert(0, numbers);
    batch.texts.insert(
        0,
        TextColumn::from_texts(
            head(Channel::Timecode, Some(TextForm::Text)),
            labels.iter().map(|l| Some(l.as_str())),
        ),
    );
    batch
}

/// A file for each frame of a document.
fn plates(pieces: &[Piece]) -> Files {
    let frames: usize = pieces
        .iter()
        .map(|piece| match piece {
            Piece::Frames(batch) => batch.count,
            _ => 0,
        })
        .sum();
    (0..frames as u64)
        .map(|f| (format!("plate.{:04}.exr", FIRST + f), plate()))
        .collect()
}

struct Step {
    files: Files,
    back: Vec<Piece>,
    losses: LossReport,
}

/// Writes and reads back, through the neutral lines. Remarks of the reader are allowed: a
/// document may be odd.
fn step(plugin: &Plugin, document: &[Piece], templates: &Files) -> Result<Step, String> {
    let name = &plugin.manifest().name;
    let (files, losses) =
        written(plugin, document, templates).map_err(|e| format!("{name} writing: {e:#}"))?;
    let shown = || String::from_utf8_lossy(&files[0].1).into_owned();
    let read = pieces(plugin, sources(&files), "{}")
        .map_err(|e| format!("{name} reading: {e:?}\n{}", shown()))?;
    let kept: Vec<Piece> = read
        .into_iter()
        .filter(|piece| !matches!(piece, Piece::Remark(_)))
        .collect();
    let lines = neutral_lines(&kept).map_err(|e| format!("{name}: {e:#}"))?;
    let back = from_neutral(&lines).map_err(|e| format!("{name}: {e:?}"))?;
    Ok(Step {
        files,
        back,
        losses,
    })
}

fn both_ways() -> impl Iterator<Item = &'static Plugin> {
    PLUGINS
        .all()
        .iter()
        .filter(|p| p.manifest().writes && p.manifest().reads)
}

fn check(first: &Plugin, document: &[Piece]) -> Result<(), String> {
    let name = |plugin: &Plugin| plugin.manifest().name.clone();
    let templates = plates(document);
    let from = step(first, document, &templates)?;
    let missing = unaccounted(&contents(document), &contents(&from.back), &[&from.losses]);
    if !missing.is_empty() {
        let file = String::from_utf8_lossy(&from.files[0].1).into_owned();
        return Err(format!(
            "{}: {missing:#?}\n{:#?}\n{file}",
            name(first),
            from.losses
        ));
    }
    // Templates for the second time are what was written the first time, so that data that is
    // there already is met too.
    let templates = match first.manifest().files.per_frame {
        Some(ringmark_model::manifest::PerFrame::Copy) => from.files.clone(),
        _ => templates,
    };
    for second in both_ways() {
        let to = step(second, &from.back, &templates)
            .map_err(|e| format!("from {}: {e}", name(first)))?;
        let (was, is) = (contents(&from.back), contents(&to.back));
        let missing = unaccounted(&was, &is, &[&to.losses]);
        if !missing.is_empty() {
            let file = String::from_utf8_lossy(&to.files[0].1).into_owned();
            return Err(format!(
                "{} to {}: {missing:#?}\n{:#?}\n{file}",
                name(first),
                name(second),
                to.losses
            ));
        }
        if name(second) == name(first) {
            // The columns of a file may settle in another order once; then nothing moves.
            let third = step(second, &to.back, &templates)?;
            if to.files != third.files {
                return Err(format!(
                    "{}: the second pass differs\n{}\n{}",
                    name(second),
                    String::from_utf8_lossy(&to.files[0].1),
                    String::from_utf8_lossy(&third.files[0].1)
                ));
            }
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 24,
        failure_persistence: None,
        max_shrink_iters: 150,
        ..ProptestConfig::default()
    })]

    #[test]
    fn any_format_to_any_other_differs_only_by_what_was_named(generated in orderly()) {
        for first in both_ways() {
            let said = check(first, &generated);
            prop_assert!(said.is_ok(), "{}", said.err().unwrap_or_default());
        }
    }
}
