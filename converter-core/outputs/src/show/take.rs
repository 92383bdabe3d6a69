//! A take: its head, its channels with their ranges, and a trace of the main ones.

use std::fmt::{self, Write};

use ringmark_model::{Channel, ColumnHead, Take};
use ringmark_quantity::{CountingMode, FrameRate, Unit, print};
use unicode_width::UnicodeWidthStr;

use super::{Facts, Scale, ShowOptions, Span, distance, write_plot};
use crate::plot::Canvas;
use crate::report::number;
use crate::safe::safe;
use crate::summary::{NumberSummary, TakeSummary, TextSummary};
use crate::table::Table;

const TRACE_ROWS: usize = 3;

/// Channels that are traced, where they change.
const TRACED: [Channel; 9] = [
    Channel::FocusRing,
    Channel::FocusDistance,
    Channel::IrisRing,
    Channel::TStop,
    Channel::FNumber,
    Channel::ZoomRing,
    Channel::NominalFocalLength,
    Channel::PinholeFocalLength,
    Channel::EntrancePupilOffset,
];

/// Writes a take; `lens` is the label of the lens it refers to.
pub fn show_take(
    out: &mut dyn Write,
    take: &Take,
    lens: Option<&str>,
    summary: &TakeSummary,
    options: ShowOptions,
) -> fmt::Result {
    let title = format!(
        "Take {}, {}",
        safe(&take.label()),
        number(summary.frames, "frame")
    );
    writeln!(out, "{}", options.paint().bold(title))?;
    facts(take, lens).write(out)?;
    if !summary.numbers.is_empty() || !summary.texts.is_empty() {
        writeln!(out)?;
        channels(summary).write(out, 2)?;
    }
    let ends = ends(summary);
    for column in &summary.numbers {
        if column
            .head
            .key
            .channel()
            .is_some_and(|c| TRACED.contains(&c))
        {
            show_trace(out, column, summary.frames, &ends, options)?;
        }
    }
    Ok(())
}

fn facts(take: &Take, lens: Option<&str>) -> Facts {
    let mut facts = Facts::default();
    facts.add("clip", take.clip.as_deref());
    facts.add("reel", take.reel.as_deref());
    let camera = &take.camera;
    let parts = [
        camera.label.as_deref(),
        camera.maker.as_deref(),
        camera.model.as_deref(),
    ];
    let mut words: Vec<String> = parts.into_iter().flatten().map(str::to_owned).collect();
    words.extend(camera.serial.as_ref().map(|s| format!("#{s}")));
    words.extend(camera.firmware.as_ref().map(|f| format!("firmware {f}")));
    facts.add("camera", (!words.is_empty()).then(|| words.join(" ")));
    let mm = |value| print::value(value, Unit::Millimetre);
    facts.add(
        "sensor",
        take.sensor_mm
            .map(|(w, h)| format!("{} by {}", mm(w), mm(h))),
    );
    facts.add(
        "resolution",
        take.resolution.map(|(w, h)| format!("{w} by {h} pixels")),
    );
    facts.add("frame rate", take.frame_rate.map(rate));
    facts.add("capture rate", take.capture_rate.map(rate));
    facts.add(
        "counting",
        take.counting.map(|mode| match mode {
            CountingMode::DropFrame => "drop-frame",
            CountingMode::NonDrop => "non-drop",
        }),
    );
    facts.add("start timecode", take.start_timecode.as_deref());
    facts.add("lens", lens);
    facts.add("distortion", take.distortion_model.as_deref());
    for (axis, range) in &take.encoders {
        let count = |value| print::value(value, Unit::One);
        facts.add(
            &format!("{} encoder", axis.name()),
            Some(format!("{} to {}", count(range.low), count(range.high))),
        );
    }
    facts.extras(&take.extras);
    facts
}

/// `24000/1001 fps (23.976)`.
fn rate(rate: FrameRate) -> String {
    match rate.den() {
        1 => format!("{rate} fps"),
        _ => format!("{rate} fps ({:.3})", rate.as_f64()),
    }
}

fn channels(summary: &TakeSummary) -> Table {
    let mut table = Table::new([
        "channel",
        "unit",
        "measured from",
        "origin",
        "recorded",
        "smallest",
        "largest",
        "first",
        "last",
    ]);
    for column in &summary.numbers {
        let shown = |value: Option<f64>| {
            value
                .map(|v| number_text(&column.head, v))
                .unwrap_or_default()
        };
        let (low, high) = column.range.unzip();
        let mut row = head_cells(&column.head, column.recorded, summary.frames);
        if let (Some(recorded), 1..) = (row.last_mut(), column.infinite) {
            recorded.push_str(&format!(", {} at infinity", column.infinite));
        }
        row.extend([low, high, column.first, column.last].map(shown));
        table.row(row);
        if column.head.reference.is_some() {
            let imperial = |value: Option<f64>| {
                value
                    .filter(|v| v.is_finite())
                    .map(print::imperial)
                    .unwrap_or_default()
            };
            let cells = [low, high, column.first, column.last].map(imperial);
            table.row(std::iter::repeat_n(String::new(), 5).chain(cells));
        }
    }
    for column in &summary.texts {
        let shown = |text: &Option<String>| {
            text.as_deref()
                .map(|t| shortened(&safe(t)))
                .unwrap_or_default()
        };
        let mut row = head_cells(&column.head, column.recorded, summary.frames);
        row.extend([
            changes(column),
            String::new(),
            shown(&column.first),
            shown(&column.last),
        ]);
        table.row(row);
    }
    table.without_empty_columns()
}

fn head_cells(head: &ColumnHead, recorded: u64, frames: u64) -> Vec<String> {
    let mut unit = safe(&head.unit).into_owned();
    if let Some(source) = head.source_unit.as_deref().filter(|s| *s != head.unit) {
        unit = format!("{unit} (from {})", safe(source));
    }
    let recorded = if recorded == frames {
        "all".to_owned()
    } else {
        format!("{recorded} of {frames}")
    };
    vec![
        safe(&head.key.name()).into_owned(),
        unit.trim_start().to_owned(),
        head.reference
            .map(|r| r.name().to_owned())
            .unwrap_or_default(),
        head.origin.name().to_owned(),
        recorded,
    ]
}

fn changes(column: &TextSummary) -> String {
    match column.changes {
        0 => String::new(),
        changes if changes + 1 == column.recorded => "all differ".to_owned(),
        changes => number(changes, "change"),
    }
}

/// Long texts, as whole JSON values can be, shortened to what fits a cell.
fn shortened(text: &str) -> String {
    const LONGEST: usize = 24;
    match text.char_indices().nth(LONGEST) {
        Some((end, _)) => format!("{}…", text.get(..end).unwrap_or_default()),
        None => text.to_owned(),
    }
}

fn number_text(head: &ColumnHead, value: f64) -> String {
    match head.key.channel().and_then(Channel::unit) {
        Some(Unit::Metre) => print::metric(value),
        Some(unit) => print::value(value, unit),
        None => print::value(value, Unit::One),
    }
}

/// What the first and the last frame are called: time code and frame number, as far as recorded.
fn ends(summary: &TakeSummary) -> (String, String) {
    let labels = summary
        .texts
        .iter()
        .find(|c| c.head.key.channel() == Some(Channel::Timecode));
    let numbers = summary
        .numbers
        .iter()
        .find(|c| c.head.key.channel() == Some(Channel::Frame));
    let words = |label: Option<&str>, frame: Option<f64>, index: u64| {
        let label = label.map(|l| safe(l).into_owned());
        let frame = match frame {
            Some(frame) => Some(format!("frame {frame}")),
            None if label.is_none() => Some(format!("frame {index} counted from 0")),
            None => None,
        };
        let parts: Vec<String> = label.into_iter().chain(frame).collect();
        parts.join(", ")
    };
    (
        words(
            labels.and_then(|c| c.first.as_deref()),
            numbers.and_then(|c| c.first),
            0,
        ),
        words(
            labels.and_then(|c| c.last.as_deref()),
            numbers.and_then(|c| c.last),
            summary.frames.saturating_sub(1),
        ),
    )
}

fn show_trace(
    out: &mut dyn Write,
    column: &NumberSummary,
    frames: u64,
    ends: &(String, String),
    options: ShowOptions,
) -> fmt::Result {
    if column.range.is_none_or(|(low, high)| low == high) {
        return Ok(()); // a constant is in the table
    }
    let is_distance = column.head.reference.is_some();
    let unit = column
        .head
        .key
        .channel()
        .and_then(Channel::unit)
        .unwrap_or(Unit::One);
    let scale = Scale::of(unit, is_distance);
    let heights: Vec<Option<(f64, f64)>> = column
        .trace(frames, options.width.max(20) * 2)
        .into_iter()
        .map(|stretch| heights(scale, stretch?))
        .collect();
    let Some(span) = Span::around(heights.iter().flatten().flat_map(|h| [h.0, h.1])) else {
        return Ok(());
    };
    let label = |height: f64| match scale.value(height) {
        value if is_distance => distance(value),
        value => number_text(&column.head, value),
    };
    let (top, bottom) = (label(span.high), label(span.low));
    let taken = top.width().max(bottom.width()) + 4;
    let mut canvas = Canvas::new(options.width.saturating_sub(taken).max(20), TRACE_ROWS);
    let mut before: Option<(f64, f64)> = None;
    for dots in 0..canvas.columns() {
        // All stretches that fall on this column, or the one that covers it.
        let from = dots * heights.len() / canvas.columns();
        let to = ((dots + 1) * heights.len() / canvas.columns()).max(from + 1);
        let here = Span::around(
            heights
                .iter()
                .take(to)
                .skip(from)
                .flatten()
                .flat_map(|h| [h.0, h.1]),
        );
        let here = here.map(|h| (span.part(h.low), span.part(h.high)));
        if let Some((low, high)) = here {
            // Up or down to where the column before ended, so that steep moves stay one line.
            let (from, to) = before.map_or((low, high), |b| (low.min(b.1), high.max(b.0)));
            canvas.bar(dots, from, to);
        }
        before = here;
    }
    writeln!(out, "\n  {}{}", column.head.key.name(), scale.title())?;
    write_plot(out, &canvas, &top, &bottom, (&ends.0, &ends.1))
}

/// Lowest and highest height of a stretch, of the values that have a place on the axis.
fn heights(scale: Scale, (low, high): (f64, f64)) -> Option<(f64, f64)> {
    let span = Span::around([low, high].into_iter().filter_map(|v| scale.height(v)))?;
    Some((span.low, span.high))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use std::sync::Arc;

    use super::*;
    use proptest::prelude::*;
    use ringmark_model::{
        Axis, Batch, Camera, ColumnKey, EncoderRange, NumberColumn, Origin, TextColumn, TextForm,
    };
    use ringmark_quantity::DistanceReference;

    fn head(key: ColumnKey) -> Arc<ColumnHead> {
        let channel = key.channel();
        Arc::new(ColumnHead {
            unit: channel
                .and_then(Channel::unit)
                .map_or("", |u| u.symbol())
                .to_owned(),
            reference: channel
                .filter(|c| c.is_distance())
                .map(|_| DistanceReference::ImagePlane),
            origin: Origin::Converted,
            source_unit: channel.filter(|c| c.is_distance()).map(|_| "ft".to_owned()),
            form: channel
                .is_some_and(Channel::is_text)
                .then_some(TextForm::Text),
            key,
        })
    }

    fn numbers(channel: Channel, values: impl IntoIterator<Item = f64>) -> NumberColumn {
        NumberColumn {
            head: head(ColumnKey::Channel(channel)),
            values: values.into_iter().collect(),
        }
    }

    fn summary() -> TakeSummary {
        let count = 96;
        let part = |frame: i32| f64::from(frame) / f64::from(count - 1);
        let distance = |frame: i32| match frame {
            90.. => f64::INFINITY,
            40..44 => f64::NAN,
            _ => 0.5 + 4.0 * part(frame).powi(2),
        };
        let labels: Vec<String> = (0..count)
            .map(|f| format!("01:00:{:02}:{:02}", f / 24, f % 24))
            .collect();
        let lenses = (0..count).map(|f| {
            Some(if f < 50 {
                "Halden 50"
            } else {
                "Halden \u{1b}75"
            })
        });
        let text = |channel, texts: Vec<Option<&str>>| {
            TextColumn::from_texts(head(ColumnKey::Channel(channel)), texts)
        };
        let mut summary = TakeSummary::new();
        summary.add(&Batch {
            count: count as usize,
            numbers: vec![
                numbers(Channel::Frame, (0..count).map(|f| f64::from(1001 + f))),
                numbers(Channel::FocusDistance, (0..count).map(distance)),
                numbers(
                    Channel::TStop,
                    (0..count).map(|f| if f < 48 { 2.8 } else { 4.0 }),
                ),
                numbers(Channel::NominalFocalLength, (0..count).map(|_| 50.0)),
                NumberColumn {
                    head: head(ColumnKey::Extra("tilt".into())),
                    values: vec![1.5; count as usize],
                },
            ],
            texts: vec![
                text(
                    Channel::Timecode,
                    labels.iter().map(|l| Some(l.as_str())).collect(),
                ),
                text(Channel::Lens, lenses.collect()),
            ],
            ..Batch::default()
        });
        summary
    }

    fn take() -> Take {
        Take {
            clip: Some("A003C012".to_owned()),
            camera: Camera {
                label: Some("A".to_owned()),
                model: Some("Testbed 4".to_owned()),
                ..Camera::default()
            },
            sensor_mm: Some((36.7, 25.54)),
            resolution: Some((4448, 3096)),
            frame_rate: Some(FrameRate::new(24000, 1001).unwrap()),
            counting: Some(CountingMode::NonDrop),
            encoders: vec![(
                Axis::Focus,
                EncoderRange {
                    low: 0.0,
                    high: 65535.0,
                },
            )],
            ..Take::default()
        }
    }

    #[test]
    fn snapshot() {
        let mut out = String::new();
        show_take(
            &mut out,
            &take(),
            Some("Halden 50 #H-1008"),
            &summary(),
            ShowOptions::default(),
        )
        .unwrap();
        assert!(!out.chars().any(|c| c != '\n' && c.is_control()));
        insta::assert_snapshot!(out);
    }

    #[test]
    fn an_empty_take() {
        let mut out = String::new();
        show_take(
            &mut out,
            &Take::default(),
            None,
            &TakeSummary::new(),
            ShowOptions::default(),
        )
        .unwrap();
        assert_eq!(out, "Take unnamed take, 0 frames\n");
    }

    proptest! {
        #[test]
        fn never_panics(values in proptest::collection::vec(any::<f64>(), 0..40), width in 0usize..200) {
            let mut summary = TakeSummary::new();
            let columns = [Channel::FocusDistance, Channel::TStop, Channel::EntrancePupilOffset];
            let columns = columns.map(|c| numbers(c, values.iter().copied()));
            summary.add(&Batch { count: values.len(), numbers: columns.to_vec(), ..Batch::default() });
            let mut out = String::new();
            show_take(&mut out, &Take::default(), None, &summary, ShowOptions { colour: true, width }).unwrap();
            prop_assert!(out.contains("unnamed take"));
        }
    }
}
