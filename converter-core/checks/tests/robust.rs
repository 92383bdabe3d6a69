//! No input makes a check panic: values of every kind, batches that lie about their length or place.
#![allow(clippy::unwrap_used, missing_docs)]

use std::sync::Arc;

use proptest::prelude::*;
use ringmark_checks::{Checker, Settings};
use ringmark_model::{
    Axis, Batch, Channel, ColumnHead, ColumnKey, Lens, LensKind, Mark, NO_LABEL, NumberColumn,
    Origin, Piece, Ring, ScaleQuantity, Take, TextColumn,
};
use ringmark_quantity::{FrameRate, Length, Unit};

fn number() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => 0.0..1.0f64,
        2 => 0.2..50.0f64,
        1 => prop::sample::select(vec![f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 0.0, -0.0, -1.0, 1e300, 5e-324, 9.0e15, -9.3e18, f64::MAX]),
        2 => (0..2000i32).prop_map(f64::from),
    ]
}

fn head(channel: Channel) -> Arc<ColumnHead> {
    Arc::new(ColumnHead {
        key: ColumnKey::Channel(channel),
        unit: String::new(),
        reference: None,
        origin: Origin::Recorded,
        source_unit: None,
        form: None,
    })
}

fn text() -> impl Strategy<Value = Option<String>> {
    prop_oneof![
        Just(None),
        "[0-2][0-9]:[0-5][0-9]:[0-5][0-9][:;.][0-3][0-9]".prop_map(Some),
        (0..40u32).prop_map(|n| Some(format!("23:59:59:{n:02}"))),
        "\\PC{0,12}".prop_map(Some),
    ]
}

fn column() -> impl Strategy<Value = NumberColumn> {
    let channels: Vec<Channel> = Channel::ALL
        .iter()
        .copied()
        .filter(|channel| !channel.is_text())
        .collect();
    let values = prop_oneof![
        prop::collection::vec(number(), 0..40),
        (number(), 0..40usize).prop_map(|(value, n)| vec![value; n])
    ];
    (prop::sample::select(channels), values).prop_map(|(channel, values)| NumberColumn {
        head: head(channel),
        values,
    })
}

fn labels() -> impl Strategy<Value = TextColumn> {
    let channels = vec![Channel::Timecode, Channel::Lens, Channel::LensSerial];
    (
        prop::sample::select(channels),
        prop::collection::vec(text(), 0..40),
        any::<bool>(),
    )
        .prop_map(|(channel, texts, lie)| {
            let mut column =
                TextColumn::from_texts(head(channel), texts.iter().map(|text| text.as_deref()));
            if lie {
                column.index.push(NO_LABEL - 1);
            }
            column
        })
}

fn batch() -> impl Strategy<Value = Batch> {
    let first = prop_oneof![0..100u64, Just(u64::MAX), Just(u64::MAX - 20)];
    (
        0..2usize,
        first,
        0..40usize,
        prop::collection::vec(column(), 0..8),
        prop::collection::vec(labels(), 0..3),
    )
        .prop_map(|(take, first, count, numbers, texts)| Batch {
            take,
            first,
            count,
            numbers,
            texts,
            ..Batch::default()
        })
}

fn lens() -> impl Strategy<Value = Lens> {
    let mark = (number(), number(), prop::option::of("[0-9.'\"]{0,6}"));
    let unit = prop::sample::select(vec![
        Unit::Metre,
        Unit::Foot,
        Unit::FeetInches,
        Unit::Dioptre,
    ]);
    (prop::collection::vec(mark, 0..14), number(), unit).prop_map(|(marks, close, unit)| Lens {
        kind: Some(LensKind::Prime),
        close_focus: Some(Length::from_metres(close)),
        rings: vec![Ring {
            axis: Axis::Focus,
            quantity: ScaleQuantity::FocusDistance,
            reference: None,
            source_unit: unit,
            encoder: None,
            rotation: None,
            marks: marks
                .into_iter()
                .map(|(position, value, engraved)| Mark {
                    position,
                    raw: None,
                    value,
                    engraved,
                    place: None,
                })
                .collect(),
        }],
        ..Lens::default()
    })
}

proptest! {
    #[test]
    fn nothing_panics(lens in lens(), rate in prop::option::of(1..70u32), batches in prop::collection::vec(batch(), 0..6)) {
        let rate = rate.and_then(|rate| FrameRate::new(rate, 1).ok());
        let mut checker = Checker::with_calibration(&Settings::default(), Some(lens.clone()));
        checker.piece(&Piece::Lens(lens));
        checker.piece(&Piece::Take(Take { lens: Some(0), frame_rate: rate, ..Take::default() }));
        for batch in batches {
            checker.piece(&Piece::Frames(batch));
        }
        for finding in checker.finish() {
            prop_assert!(!finding.message.is_empty());
            if let Some(frames) = finding.frames {
                prop_assert!(frames.first <= frames.last);
            }
        }
    }
}
