//! Every cell of the table of formats and channels is true: what a manifest says can be written
//! comes back, as exactly as it says.
#![allow(missing_docs, clippy::unwrap_used)]

use std::sync::{Arc, LazyLock};

use ringmark_host::Plugin;
use ringmark_model::manifest::{CarriedChannel, Keeping, PerFrame, Precision, References};
use ringmark_model::{
    Batch, Channel, ColumnHead, ColumnKey, NumberColumn, Origin, Piece, Take, TextColumn, TextForm,
};
use ringmark_quantity::{Conversion, CountingMode, DistanceReference, FrameRate, Unit};
use ringmark_tests::direct::{Files, Plugins, pieces, sources, written};
use ringmark_tests::plate::plate;

static PLUGINS: LazyLock<Plugins> =
    LazyLock::new(|| Plugins::new(env!("CARGO_TARGET_TMPDIR")).unwrap());

const FRAMES: usize = 3;
const FIRST: u32 = 1001;

/// Values that are sound in every format, in the canonical unit; none is a round number in
/// binary.
fn values(channel: Channel) -> [f64; FRAMES] {
    match channel {
        Channel::Frame => [1001.0, 1002.0, 1003.0],
        Channel::FocusRing | Channel::IrisRing | Channel::ZoomRing => [0.1, 0.37, 0.93],
        Channel::FocusRingRaw | Channel::IrisRingRaw | Channel::ZoomRingRaw => {
            [1200.0, 30_001.0, 64_000.0]
        }
        Channel::TStop | Channel::FNumber => [1.37, 2.83, 11.3],
        Channel::ShutterAngle => [172.8, 180.0, 90.3],
        Channel::ExposureTime => [0.02, 0.041_666, 0.001],
        Channel::Sensitivity => [800.0, 1280.0, 400.0],
        Channel::CaptureRate => [24.0, 25.0, 48.0],
        Channel::FieldOfView => [39.6, 40.1, 60.3],
        c if c.unit() == Some(Unit::Millimetre) => [32.3, 50.1, 99.7],
        c if c.is_distance() => [1.234, 4.7, 17.9],
        _ => [0.013, 0.1, 0.29],
    }
}

fn texts(channel: Channel) -> [String; FRAMES] {
    match channel {
        Channel::Timecode => [0, 1, 2].map(|f| format!("10:20:30:{f:02}")),
        Channel::SourceFile => [0, 1, 2].map(|f| format!("plate.{}.exr", FIRST + f)),
        // One lens a take: formats with one place for it have one text.
        _ => [0, 1, 2].map(|_| "Halden 32".to_owned()),
    }
}

fn head(channel: Channel, carried: Option<&CarriedChannel>) -> Arc<ColumnHead> {
    let reference = match carried.map(|c| &c.reference) {
        Some(References::Only(names)) => DistanceReference::from_name(&names[0]),
        Some(References::Any(true)) | None => Some(DistanceReference::ImagePlane),
        Some(References::Any(false)) => Some(DistanceReference::Unstated),
    };
    Arc::new(ColumnHead {
        key: ColumnKey::Channel(channel),
        unit: channel.unit().map_or("", Unit::symbol).to_owned(),
        reference: reference.filter(|_| channel.is_distance()),
        origin: Origin::Recorded,
        source_unit: None,
        form: channel.is_text().then_some(TextForm::Text),
    })
}

/// A take with frame numbers, time code and one more channel, and with the one in whose place
/// that would be written if it were absent.
fn take(plugin: &Plugin, channel: Channel) -> Vec<Piece> {
    let manifest = plugin.manifest();
    let carried = manifest.channel(channel.name());
    let stands_in = |c: &&CarriedChannel| c.stands_for.iter().any(|n| n == channel.name());
    let mut batch = Batch {
        count: FRAMES,
        ..Batch::default()
    };
    let mut all = vec![Channel::Frame, Channel::Timecode];
    if !all.contains(&channel) {
        all.push(channel);
    }
    let proper = manifest.carries.channels.iter().find(stands_in);
    all.extend(proper.and_then(|c| Channel::from_name(&c.name)));
    for each in all {
        let head = head(each, carried.filter(|_| each == channel));
        if each.is_text() {
            let texts = texts(each);
            let texts = texts.iter().map(|t| Some(t.as_str()));
            batch.texts.push(TextColumn::from_texts(head, texts));
        } else {
            let values = values(each).to_vec();
            batch.numbers.push(NumberColumn { head, values });
        }
    }
    let take = Take {
        clip: Some("A012C003".to_owned()),
        frame_rate: FrameRate::parse("24").ok(),
        counting: Some(CountingMode::NonDrop),
        ..Take::default()
    };
    vec![Piece::Take(take), Piece::Frames(batch)]
}

/// Files that formats of one file a frame need.
fn plates(plugin: &Plugin) -> Files {
    let (ending, bytes) = match plugin.manifest().files.per_frame {
        Some(PerFrame::Sidecar) => ("jpg", b"\xff\xd8\xff\xd9".to_vec()),
        _ => ("exr", plate()),
    };
    (0..FRAMES as u32)
        .map(|f| (format!("plate.{}.{ending}", FIRST + f), bytes.clone()))
        .collect()
}

fn back(plugin: &Plugin, channel: Channel) -> Vec<Piece> {
    let name = &plugin.manifest().name;
    let document = take(plugin, channel);
    let (files, losses) = written(plugin, &document, &plates(plugin))
        .unwrap_or_else(|e| panic!("{name}, {}: {e:#}", channel.name()));
    pieces(plugin, sources(&files), "{}").unwrap_or_else(|e| {
        panic!(
            "{name}, {}: {e:?}\n{losses:?}\n{}",
            channel.name(),
            String::from_utf8_lossy(&files[0].1)
        )
    })
}

/// Largest error that the manifest allows for a value, in the canonical unit.
fn allowed(channel: Channel, carried: Option<&CarriedChannel>, value: f64) -> f64 {
    // Conversions to the unit of the writer and back: the last digits.
    let last = value.abs() * 4.0 * f64::EPSILON;
    let Some(carried) = carried else { return last };
    let unit = Unit::from_symbol(&carried.unit)
        .filter(|_| !carried.unit.is_empty())
        .or(channel.unit());
    let per = match unit.zip(channel.unit()) {
        Some((from, to)) => Conversion::between(from, to).unwrap().apply(1.0),
        None => 1.0,
    };
    last + match carried.precision {
        None => 0.0,
        Some(Precision::Float32) => value.abs() * 2f64.powi(-24),
        Some(Precision::Step(step)) => step * per / 2.0,
        Some(Precision::Relative(part)) => part * value.abs(),
    }
}

#[test]
fn what_a_manifest_says_can_be_written_comes_back_as_exactly_as_it_says() {
    let mut checked = 0;
    for plugin in PLUGINS.all().iter().filter(|p| p.manifest().writes) {
        let manifest = plugin.manifest();
        for &channel in Channel::ALL {
            let carried = manifest.channel(channel.name()).filter(|c| c.writes);
            let keeping = carried.map_or(manifest.carries.other_channels, |c| c.keeping);
            if !carried.is_none_or(|c| c.reads) {
                continue;
            }
            let what = format!("{}, {} ({keeping:?})", manifest.name, channel.name());
            let pieces = back(plugin, channel);
            let batches: Vec<&Batch> = pieces
                .iter()
                .filter_map(|piece| match piece {
                    Piece::Frames(batch) => Some(batch),
                    _ => None,
                })
                .collect();
            assert_eq!(
                batches.iter().map(|b| b.count).sum::<usize>(),
                FRAMES,
                "{what}"
            );
            if channel.is_text() {
                let found: Vec<Option<String>> = batches
                    .iter()
                    .flat_map(|b| match b.texts(channel) {
                        Some(column) => column.iter().map(|t| t.map(str::to_owned)).collect(),
                        None => vec![None; b.count],
                    })
                    .collect();
                let asked: Vec<Option<String>> = texts(channel).into_iter().map(Some).collect();
                match keeping {
                    // A lens that does not change may come back as that of the take.
                    _ if of_the_lens(channel, &pieces) => {}
                    Keeping::Lost => assert_ne!(found, asked, "{what} comes back after all"),
                    _ => assert_eq!(found, asked, "{what}"),
                }
            } else {
                let found: Vec<f64> = batches
                    .iter()
                    .flat_map(|b| match b.numbers(channel) {
                        Some(values) => values.to_vec(),
                        None => vec![f64::NAN; b.count],
                    })
                    .collect();
                let asked = values(channel);
                match keeping {
                    Keeping::Lost => assert!(
                        found.iter().all(|v| v.is_nan()),
                        "{what} comes back after all: {found:?}"
                    ),
                    _ => {
                        for (found, asked) in found.iter().zip(asked) {
                            let most = allowed(channel, carried, asked);
                            let error = (found - asked).abs();
                            assert!(error <= most, "{what}: {asked} is {found}, off by {error}");
                        }
                    }
                }
            }
            checked += 1;
        }
    }
    assert!(checked >= 2 * Channel::ALL.len(), "{checked}");
}

/// Whether a channel of lens identity came back as a fact of the lens.
fn of_the_lens(channel: Channel, pieces: &[Piece]) -> bool {
    pieces.iter().any(|piece| match piece {
        Piece::Lens(lens) => match channel {
            Channel::LensMaker => lens.maker.is_some(),
            Channel::LensModel => lens.model.is_some(),
            Channel::LensSerial => lens.serial.is_some(),
            _ => false,
        },
        _ => false,
    })
}
