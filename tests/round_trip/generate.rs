//! Takes of every kind: what is recorded, what is not, infinity, and names that mean something
//! to a format.

use std::collections::BTreeMap;
use std::sync::Arc;

use proptest::collection::{btree_map, vec};
use proptest::option;
use proptest::prelude::*;
use proptest::sample::{select, subsequence};
use ringmark_model::{
    Axis, Batch, Camera, Channel, ColumnHead, ColumnKey, EncoderRange, Extra, ExtraValue, Lens,
    LensKind, Mark, NumberColumn, Origin, Piece, Ring, ScaleQuantity, Take, TextColumn, TextForm,
};
use ringmark_quantity::{
    Conversion, CountingMode, DistanceReference, FNumber, FrameRate, Length, NominalFocalLength,
    TStop, Unit,
};

fn text() -> impl Strategy<Value = String> {
    let odd = [
        "A012C003",
        "01:00:00:00",
        "01:00:00;02",
        "Brannvik 40",
        "a, \"b\"; c\td",
        "two\nlines\r\n",
        "# clip: other",
        " edges ",
        "∞ 5'6\"",
        "inf",
        "null",
        "-",
        "1.50",
        "\u{feff}",
        "Größe 𝄞",
    ];
    prop_oneof![
        4 => select(odd.to_vec()).prop_map(str::to_owned),
        2 => "[a-zA-Z0-9 ,;:#\"'\\[\\]/\t.-]{1,12}",
        1 => "[^\\x00]{1,6}",
    ]
}

/// Names of extras, among them those of places, columns and lines of the formats. Control
/// characters are not among them: the host takes them out of all names.
fn name() -> impl Strategy<Value = String> {
    let odd = [
        "",
        "slate note",
        "frame",
        "focus-distance",
        "extra/clip",
        "a [m]",
        " focus distance [m] ",
        "clip",
        "frame rate",
        "#",
        "\"\"",
        "lens.focusDistance",
        "lens.custom.0",
        "transforms.0.translation.x",
        "timing.timecode.frameRate.num",
        "static.duration.num",
        "ringmark.channels.frame",
        "a..b\\",
        "Größe",
    ];
    prop_oneof![
        4 => select(odd.to_vec()).prop_map(str::to_owned),
        // Without semicolon: after a quote inside a header it is taken for the delimiter.
        1 => "[a-zA-Z0-9 ,:#\"'\\[\\]/.-]{1,12}",
    ]
}

fn finite() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => (0_i32..100_000).prop_map(|whole| f64::from(whole) / 1000.0),
        1 => (0_i32..70_000).prop_map(f64::from),
        1 => select(vec![0.0, -1.5, 1e-300, 1e300, 9_007_199_254_740_993.0]),
        // A thousandth of it is still a normal number.
        1 => prop::num::f64::NORMAL.prop_filter("too small", |value| value.abs() > 1e-300),
    ]
}

fn positive() -> impl Strategy<Value = f64> {
    (1_i32..1_000_000).prop_map(|whole| f64::from(whole) / 1000.0)
}

/// A value of a frame: NaN is 'not recorded'.
fn value() -> impl Strategy<Value = f64> {
    prop_oneof![
        6 => finite(),
        2 => Just(f64::NAN),
        1 => Just(f64::INFINITY),
        1 => Just(f64::NEG_INFINITY),
    ]
}

/// Units that extras come with; the words for the forms of texts are no units.
fn unit() -> impl Strategy<Value = String> {
    select(vec!["", "degC", "%", "furlong", "V", "m/s"]).prop_map(str::to_owned)
}

fn form() -> impl Strategy<Value = TextForm> {
    select(vec![TextForm::Text, TextForm::Json, TextForm::Hex])
}

fn reference() -> impl Strategy<Value = DistanceReference> {
    select(DistanceReference::ALL.to_vec())
}

fn extras() -> impl Strategy<Value = Vec<Extra>> {
    let value = prop_oneof![
        (finite(), unit()).prop_map(|(number, unit)| ExtraValue::Number(number, unit)),
        (form(), text()).prop_map(|(form, text)| ExtraValue::Text(form, text)),
    ];
    btree_map(name(), value, 0..4).prop_map(|extras| {
        extras
            .into_iter()
            .map(|(name, value)| Extra { name, value })
            .collect()
    })
}

fn lens() -> impl Strategy<Value = Lens> {
    let identity = vec(option::of(text()), 4);
    let kind = option::of(select(vec![LensKind::Prime, LensKind::Zoom]));
    let lengths = option::of((positive(), positive()));
    let close = (option::of(positive()), option::of(reference()));
    let stops = vec(option::of(positive()), 4);
    let others = (option::of(positive()), option::of(positive()));
    (identity, kind, lengths, close, stops, others, extras()).prop_map(
        |(identity, kind, lengths, close, stops, others, extras)| {
            let mut identity = identity.into_iter();
            let mut text = || identity.next().flatten();
            Lens {
                maker: text(),
                model: text(),
                serial: text(),
                firmware: text(),
                kind,
                focal_length: lengths.and_then(|(a, b)| {
                    let mm = |mm| NominalFocalLength::from_mm(mm).ok();
                    mm(a.min(b)).zip(mm(a.max(b)))
                }),
                close_focus: close.0.map(Length::from_metres),
                close_focus_reference: close.1,
                widest_t: stops[0].and_then(|t| TStop::new(t).ok()),
                smallest_t: stops[1].and_then(|t| TStop::new(t).ok()),
                widest_f: stops[2].and_then(|f| FNumber::new(f).ok()),
                smallest_f: stops[3].and_then(|f| FNumber::new(f).ok()),
                squeeze: others.0,
                image_circle: others.1.map(Length::from_mm),
                extras,
                ..Lens::default()
            }
        },
    )
}

fn take() -> impl Strategy<Value = Take> {
    let texts = vec(option::of(text()), 9);
    let sizes = (
        option::of((positive(), positive())),
        option::of((1_u32.., 1_u32..)),
    );
    let rates = vec(
        option::of(select(vec!["24000/1001", "25", "30000/1001", "60"])),
        2,
    );
    let counting = option::of(select(vec![CountingMode::DropFrame, CountingMode::NonDrop]));
    let range = (positive(), positive()).prop_filter("no width", |(low, high)| low != high);
    let encoders = vec(option::of(range), 3);
    (texts, sizes, rates, counting, encoders, extras()).prop_map(
        |(texts, sizes, rates, counting, encoders, extras)| {
            let mut texts = texts.into_iter();
            let mut text = || texts.next().flatten();
            let rate = |at: usize| rates[at].and_then(|rate| FrameRate::parse(rate).ok());
            Take {
                clip: text(),
                reel: text(),
                camera: Camera {
                    maker: text(),
                    model: text(),
                    serial: text(),
                    firmware: text(),
                    label: text(),
                },
                sensor_mm: sizes.0,
                resolution: sizes.1,
                frame_rate: rate(0),
                capture_rate: rate(1),
                counting,
                start_timecode: text(),
                distortion_model: text(),
                encoders: Axis::ALL
                    .into_iter()
                    .zip(encoders)
                    .filter_map(|(axis, range)| {
                        range.map(|(low, high)| (axis, EncoderRange { low, high }))
                    })
                    .collect(),
                extras,
                ..Take::default()
            }
        },
    )
}

/// What a generated column is.
#[derive(Debug, Clone)]
enum Kind {
    Number(ColumnHead),
    Text(ColumnHead),
}

fn head(key: ColumnKey, unit: &str, form: Option<TextForm>) -> ColumnHead {
    ColumnHead {
        key,
        unit: unit.to_owned(),
        reference: None,
        origin: Origin::Recorded,
        source_unit: None,
        form,
    }
}

fn kinds() -> impl Strategy<Value = Vec<Kind>> {
    let channels = subsequence(Channel::ALL, 1..=12);
    let extra = prop_oneof![unit().prop_map(Ok), form().prop_map(Err)];
    let extras = btree_map(name(), extra, 0..4);
    (channels, vec(reference(), 12), extras).prop_map(|(channels, references, extras)| {
        let mut kinds = Vec::new();
        for (&channel, reference) in channels.iter().zip(references) {
            let key = ColumnKey::Channel(channel);
            kinds.push(match channel.unit().map(Unit::symbol) {
                None => Kind::Text(head(key, "", Some(TextForm::Text))),
                Some(unit) => Kind::Number(ColumnHead {
                    reference: channel.is_distance().then_some(reference),
                    ..head(key, unit, None)
                }),
            });
        }
        let extras: BTreeMap<String, Result<String, TextForm>> = extras;
        for (name, extra) in extras {
            let key = ColumnKey::Extra(name.into());
            kinds.push(match extra {
                Ok(unit) => Kind::Number(head(key, &unit, None)),
                Err(form) => Kind::Text(head(key, "", Some(form))),
            });
        }
        kinds
    })
}

fn halves<T>(all: &[T], split: usize) -> [&[T]; 2] {
    let (first, second) = all.split_at(split);
    [first, second]
}

/// Frames in two batches.
fn frames() -> impl Strategy<Value = Vec<Batch>> {
    (kinds(), 1_usize..7, 0_usize..7)
        .prop_flat_map(|(kinds, count, split)| {
            let columns = kinds.len();
            (
                Just(kinds),
                Just(split.min(count)),
                vec(vec(value(), count), columns),
                vec(vec(option::of(text()), count), columns),
            )
        })
        .prop_map(|(kinds, split, numbers, texts)| {
            let mut batches = [Batch::default(), Batch::default()];
            let count = numbers.first().map_or(0, Vec::len);
            batches[0].count = split;
            batches[1].first = split as u64;
            batches[1].count = count - split;
            for ((kind, numbers), texts) in kinds.into_iter().zip(numbers).zip(texts) {
                match kind {
                    Kind::Number(head) => {
                        let head = Arc::new(head);
                        for (batch, values) in batches.iter_mut().zip(halves(&numbers, split)) {
                            batch.numbers.push(NumberColumn {
                                head: Arc::clone(&head),
                                values: values.to_vec(),
                            });
                        }
                    }
                    Kind::Text(head) => {
                        let head = Arc::new(head);
                        for (batch, texts) in batches.iter_mut().zip(halves(&texts, split)) {
                            let texts = texts.iter().map(Option::as_deref);
                            batch
                                .texts
                                .push(TextColumn::from_texts(Arc::clone(&head), texts));
                        }
                    }
                }
            }
            batches
                .into_iter()
                .filter(|batch| batch.count > 0)
                .collect()
        })
}

/// The pieces of a document with one take, and most often a lens.
pub fn document() -> impl Strategy<Value = Vec<Piece>> {
    (option::weighted(0.8, lens()), take(), frames()).prop_map(|(lens, mut take, frames)| {
        let mut pieces = Vec::new();
        if let Some(lens) = lens {
            pieces.push(Piece::Lens(lens));
            take.lens = Some(0);
        }
        pieces.push(Piece::Take(take));
        pieces.extend(frames.into_iter().map(Piece::Frames));
        pieces
    })
}

/// The scale of a ring, its positions from 0 to 1 or in counts.
fn ring(axis: Axis) -> impl Strategy<Value = Ring> {
    let scale = match axis {
        Axis::Focus => vec![
            (ScaleQuantity::FocusDistance, Unit::Metre),
            (ScaleQuantity::FocusDistance, Unit::Foot),
            (ScaleQuantity::FocusDistance, Unit::Centimetre),
        ],
        Axis::Iris => vec![
            (ScaleQuantity::TStop, Unit::TStop),
            (ScaleQuantity::FNumber, Unit::FNumber),
        ],
        Axis::Zoom => vec![(ScaleQuantity::FocalLength, Unit::Millimetre)],
    };
    let range = (0_i32..1000, 2000_i32..70_000, any::<bool>());
    let marks = vec((0_i32..=65_535, positive(), any::<bool>()), 1..8);
    (select(scale), reference(), option::of(range), marks).prop_map(
        move |((quantity, source_unit), reference, range, marks)| {
            let encoder = range.map(|(a, b, turned)| {
                let (low, high) = if turned { (b, a) } else { (a, b) };
                EncoderRange {
                    low: f64::from(low),
                    high: f64::from(high),
                }
            });
            let canonical = Conversion::between(source_unit, quantity.unit()).unwrap();
            let marks = marks.into_iter().map(|(raw, engraved, infinity)| {
                let raw = f64::from(raw);
                let value = canonical.apply(engraved);
                Mark {
                    position: match encoder {
                        Some(range) => (raw - range.low) / (range.high - range.low),
                        None => raw / 65_536.0,
                    },
                    raw: encoder.map(|_| raw),
                    value: if infinity && axis == Axis::Focus {
                        f64::INFINITY
                    } else {
                        value
                    },
                    engraved: None,
                    place: None,
                }
            });
            Ring {
                axis,
                quantity,
                reference: (axis == Axis::Focus).then_some(reference),
                source_unit,
                encoder,
                rotation: None,
                marks: marks.collect(),
            }
        },
    )
}

/// The pieces of a calibration: one lens with the scales of its rings.
pub fn calibration() -> impl Strategy<Value = Vec<Piece>> {
    let rings = (
        ring(Axis::Focus),
        option::of(ring(Axis::Iris)),
        option::of(ring(Axis::Zoom)),
    );
    (lens(), rings).prop_map(|(mut lens, (focus, iris, zoom))| {
        lens.rings = [Some(focus), iris, zoom].into_iter().flatten().collect();
        vec![Piece::Lens(lens)]
    })
}
