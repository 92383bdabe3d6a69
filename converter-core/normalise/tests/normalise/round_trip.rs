//! Model → writer → reader → model is the identity where the format carries everything.

use std::sync::Arc;

use proptest::collection::vec;
use proptest::option;
use proptest::prelude::*;
use proptest::sample::select;
use ringmark_model::{
    Axis, Batch, Camera, Channel, ColumnHead, ColumnKey, EncoderRange, Extra, ExtraValue, Lens,
    LensKind, LensTable, Mark, NumberColumn, Piece, Ring, ScaleQuantity, Take, TextColumn,
    TextForm,
};
use ringmark_quantity::{
    Angle, CountingMode, DistanceReference, FNumber, FrameRate, Length, NominalFocalLength,
    RingScale, TStop, Unit,
};

use crate::make::*;

fn word() -> impl Strategy<Value = String> {
    "\\PC{1,8}"
}

fn words() -> impl Strategy<Value = Option<String>> {
    option::of("\\PC{0,8}")
}

/// Numbers of any size, and what is none.
fn value() -> impl Strategy<Value = f64> {
    prop_oneof![
        8 => prop::num::f64::NORMAL,
        1 => Just(0.0),
        1 => Just(INF),
        1 => Just(NAN),
    ]
}

fn positive() -> impl Strategy<Value = f64> {
    1e-3..1e4f64
}

fn extras() -> impl Strategy<Value = Vec<Extra>> {
    let number = (value(), "\\PC{0,4}").prop_map(|(n, unit)| ExtraValue::Number(n, unit));
    let form = select(vec![TextForm::Text, TextForm::Json, TextForm::Hex]);
    let text = (form, "\\PC{0,8}").prop_map(|(form, text)| ExtraValue::Text(form, text));
    let extra = (word(), prop_oneof![number, text]).prop_map(|(name, value)| Extra { name, value });
    vec(extra, 0..3)
}

fn reference() -> impl Strategy<Value = DistanceReference> {
    select(DistanceReference::ALL.to_vec())
}

prop_compose! {
    fn range()(low in -1e6..1e6f64, span in 1.0..1e6f64, reversed in any::<bool>()) -> EncoderRange {
        match reversed {
            false => EncoderRange { low, high: low + span },
            true => EncoderRange { low: low + span, high: low },
        }
    }
}

/// How the positions of a ring were recorded.
#[derive(Debug, Clone, Copy)]
enum Positions {
    Ratio,
    Percent,
    Count,
    Degree,
}

prop_compose! {
    fn ring()(
        axis in select(Axis::ALL.to_vec()),
        stops in any::<bool>(),
        reference in reference(),
        positions in select(vec![Positions::Ratio, Positions::Percent, Positions::Count, Positions::Degree]),
        range in option::of(range()),
        ends in range(),
        rotation in option::of(1.0..700.0f64),
        marks in vec((prop_oneof![8 => -1e5..1e5f64, 1 => Just(NAN)], value(), option::of("\\PC{1,6}")), 0..5),
    ) -> Ring {
        let encoder = match positions {
            Positions::Count | Positions::Degree => Some(ends),
            Positions::Ratio | Positions::Percent => range,
        };
        let rotation = match positions {
            Positions::Degree => Some((ends.high - ends.low).abs()),
            _ => rotation,
        };
        let scale = match positions {
            Positions::Ratio => None,
            Positions::Percent => Some(RingScale::percent()),
            _ => RingScale::counts(ends.low, ends.high).ok(),
        };
        let quantity = match (axis, stops) {
            (Axis::Focus, _) => ScaleQuantity::FocusDistance,
            (Axis::Iris, true) => ScaleQuantity::TStop,
            (Axis::Iris, false) => ScaleQuantity::FNumber,
            (Axis::Zoom, _) => ScaleQuantity::FocalLength,
        };
        let marks = marks.into_iter().map(|(raw, value, engraved)| Mark {
            position: scale.map_or(raw, |s| s.to_ratio(raw)),
            raw: scale.and(Some(raw)).filter(|raw| raw.is_finite()),
            value,
            engraved,
            place: None,
        });
        Ring {
            axis,
            quantity,
            reference: (axis == Axis::Focus).then_some(reference),
            source_unit: quantity.unit(),
            encoder,
            rotation: rotation.map(Angle::from_degrees),
            marks: marks.collect(),
        }
    }
}

fn number_column(count: usize) -> impl Strategy<Value = NumberColumn> {
    let channels: Vec<Channel> = Channel::ALL
        .iter()
        .copied()
        .filter(|c| !c.is_text())
        .collect();
    let known = (select(channels), reference())
        .prop_map(|(channel, reference)| head(channel, channel.is_distance().then_some(reference)));
    let extra = (word(), "\\PC{0,4}").prop_map(|(name, unit)| {
        Arc::new(ColumnHead {
            key: ColumnKey::Extra(name.into()),
            unit,
            ..ColumnHead::clone(&head(Channel::Frame, None))
        })
    });
    (prop_oneof![4 => known, 1 => extra], vec(value(), count))
        .prop_map(|(head, values)| NumberColumn { head, values })
}

fn text_column(count: usize) -> impl Strategy<Value = TextColumn> {
    let channels: Vec<Channel> = Channel::ALL
        .iter()
        .copied()
        .filter(|c| c.is_text())
        .collect();
    let known = select(channels).prop_map(|channel| head(channel, None));
    let form = select(vec![TextForm::Text, TextForm::Json, TextForm::Hex]);
    let extra = (word(), form).prop_map(|(name, form)| {
        Arc::new(ColumnHead {
            key: ColumnKey::Extra(name.into()),
            form: Some(form),
            ..ColumnHead::clone(&head(Channel::Lens, None))
        })
    });
    (prop_oneof![known, extra], vec(words(), count))
        .prop_map(|(head, texts)| TextColumn::from_texts(head, texts.iter().map(Option::as_deref)))
}

fn once<T>(columns: Vec<T>, key: impl Fn(&T) -> ColumnKey) -> Vec<T> {
    let mut seen = std::collections::HashSet::new();
    columns
        .into_iter()
        .filter(|c| seen.insert(key(c)))
        .collect()
}

prop_compose! {
    fn identity()(maker in words(), model in words(), serial in words(), firmware in words(),
        kind in option::of(select(vec![LensKind::Prime, LensKind::Zoom]))) -> Lens {
        Lens { maker, model, serial, firmware, kind, ..Lens::default() }
    }
}

prop_compose! {
    fn lens()(
        identity in identity(),
        focal in option::of((positive(), positive())),
        close in option::of(positive()),
        circle in option::of((1..30_000u32).prop_map(|mm| f64::from(mm) / 100.0)),
        close_focus_reference in option::of(reference()),
        stops in [option::of(positive()), option::of(positive()), option::of(positive()), option::of(positive())],
        squeeze in option::of(positive()),
        rings in vec(ring(), 0..3),
        tables in vec((word(), vec(number_column(3), 0..4)), 0..2),
        extras in extras(),
    ) -> Lens {
        let mm = |mm: f64| NominalFocalLength::from_mm(mm).unwrap();
        let t = |t: f64| TStop::new(t).unwrap();
        let f = |f: f64| FNumber::new(f).unwrap();
        Lens {
            focal_length: focal.map(|(a, b)| (mm(a), mm(b))),
            close_focus: close.map(Length::from_metres),
            image_circle: circle.map(Length::from_mm),
            close_focus_reference,
            widest_t: stops[0].map(t),
            smallest_t: stops[1].map(t),
            widest_f: stops[2].map(f),
            smallest_f: stops[3].map(f),
            squeeze,
            rings,
            tables: tables.into_iter().map(|(name, columns)| LensTable {
                name,
                columns: once(columns, |c| c.head.key.clone()),
            }).collect(),
            extras,
            ..identity
        }
    }
}

prop_compose! {
    fn camera()(maker in words(), model in words(), serial in words(), firmware in words(), label in words()) -> Camera {
        Camera { maker, model, serial, firmware, label }
    }
}

prop_compose! {
    fn take()(
        camera in camera(),
        clip in words(),
        reel in words(),
        start_timecode in words(),
        distortion_model in words(),
        sensor_mm in option::of((positive(), positive())),
        resolution in option::of((1..u32::MAX, 1..u32::MAX)),
        rates in [option::of((1..200_000u32, select(vec![1u32, 1001]))), option::of((1..200_000u32, select(vec![1u32, 1000])))],
        counting in option::of(select(vec![CountingMode::DropFrame, CountingMode::NonDrop])),
        ranges in [option::of(range()), option::of(range()), option::of(range())],
        extras in extras(),
    ) -> Take {
        let rate = |rate: Option<(u32, u32)>| rate.and_then(|(n, d)| FrameRate::parse(&format!("{n}/{d}")).ok());
        let encoders = Axis::ALL.into_iter().zip(ranges);
        Take {
            clip,
            reel,
            camera,
            sensor_mm,
            resolution,
            frame_rate: rate(rates[0]),
            capture_rate: rate(rates[1]),
            counting,
            start_timecode,
            lens: Some(0),
            encoders: encoders.filter_map(|(axis, range)| Some((axis, range?))).collect(),
            distortion_model,
            extras,
            places: Vec::new(),
        }
    }
}

fn batch() -> impl Strategy<Value = Batch> {
    (0..5usize).prop_flat_map(|count| {
        let columns = (
            vec(number_column(count), 0..6),
            vec(text_column(count), 0..4),
        );
        columns.prop_map(move |(numbers, texts)| {
            let numbers = once(numbers, |c| c.head.key.clone());
            let taken = |key: &ColumnKey| numbers.iter().any(|c| c.head.key == *key);
            let mut texts = once(texts, |c| c.head.key.clone());
            texts.retain(|c| !taken(&c.head.key));
            Batch {
                count,
                numbers,
                texts,
                ..Batch::default()
            }
        })
    })
}

/// The batch as a reader makes it: with the positions 0..1 that follow from raw ones.
fn with_ratios(mut batch: Batch, take: &Take) -> Batch {
    for (axis, raw, ratio) in [
        (Axis::Focus, Channel::FocusRingRaw, Channel::FocusRing),
        (Axis::Iris, Channel::IrisRingRaw, Channel::IrisRing),
        (Axis::Zoom, Channel::ZoomRingRaw, Channel::ZoomRing),
    ] {
        if let (Some(ends), Some(values), None) =
            (take.encoder(axis), batch.numbers(raw), batch.numbers(ratio))
        {
            let mut values = values.to_vec();
            RingScale::counts(ends.low, ends.high)
                .unwrap()
                .to_ratio_all(&mut values);
            batch.numbers.push(numbers(ratio, &values));
        }
    }
    batch
}

proptest! {
    #[test]
    fn what_a_writer_gets_reads_back_the_same(lens in lens(), take in take(), batch in batch()) {
        let batch = with_ratios(batch, &take);
        let pieces = vec![Piece::Lens(lens), Piece::Take(take), Piece::Frames(batch)];
        let (items, losses) = write(&everything(), &pieces);
        prop_assert_eq!(losses, vec![]);
        let mut again = read(items).unwrap();
        for piece in &mut again {
            if let Piece::Lens(lens) = piece {
                prop_assert!(lens.places.is_empty());
            }
        }
        // As text: NaN is equal to NaN there, and 0 is not -0.
        prop_assert_eq!(format!("{:#?}", again), format!("{:#?}", pieces));
    }

    // Each way rounds once, so a number may move by two units in the last place.
    #[test]
    fn a_writers_unit_costs_no_more_than_rounding(
        metres in prop_oneof![1e-3..1e5f64, Just(INF), Just(NAN)],
        unit in select(vec![Unit::Metre, Unit::Centimetre, Unit::Millimetre, Unit::Inch, Unit::Foot, Unit::FeetInches, Unit::Dioptre]),
    ) {
        let mut manifest = everything();
        manifest.carries.channels = vec![carried("focus-distance", unit.symbol())];
        let (written, _) = write_columns(&manifest, vec![numbers(Channel::FocusDistance, &[metres])]);
        let batch = columns(written).unwrap();
        let back = values(&batch, Channel::FocusDistance)[0];
        let near = back == metres || (back.is_nan() && metres.is_nan())
            || back.to_bits().abs_diff(metres.to_bits()) <= 2;
        prop_assert!(near, "{} {:?} {}", metres, unit, back);
    }
}
