//! Short ways to make items and read them.

use std::sync::Arc;

use ringmark_model::manifest::{
    CarriedChannel, CarriedFact, Carries, FilePatterns, Keeping, References,
};
use ringmark_model::raw::{
    RawColumn, RawDatum, RawFact, RawFrames, RawItem, RawLabels, RawLens, RawMark, RawPlace,
    RawRing, RawTake,
};
use ringmark_model::{
    Batch, Channel, ColumnHead, ColumnKey, Finding, Lens, Loss, LossItem, LossKind, Manifest,
    NumberColumn, Origin, Piece, Take, TextForm,
};
use ringmark_normalise::{ForWriter, NormaliseError, Normaliser};
use ringmark_quantity::DistanceReference;

pub const NAN: f64 = f64::NAN;
pub const INF: f64 = f64::INFINITY;

pub fn number(name: &str, value: f64, unit: &str) -> RawFact {
    RawFact {
        name: name.to_owned(),
        value: RawDatum::Number(value),
        unit: unit.to_owned(),
        at: Some(RawPlace {
            offset: 7,
            length: 3,
            ..RawPlace::default()
        }),
    }
}

pub fn text(name: &str, value: &str) -> RawFact {
    RawFact {
        value: RawDatum::Text(value.to_owned()),
        ..number(name, 0.0, "")
    }
}

pub fn column(channel: &str, unit: &str, values: &[f64]) -> RawColumn {
    RawColumn {
        channel: channel.to_owned(),
        unit: unit.to_owned(),
        reference: String::new(),
        values: values.to_vec(),
    }
}

pub fn from(reference: &str, column: RawColumn) -> RawColumn {
    RawColumn {
        reference: reference.to_owned(),
        ..column
    }
}

/// Labels that are the same in all frames.
pub fn labels(channel: &str, form: &str, text: &str, count: usize) -> RawLabels {
    RawLabels {
        channel: channel.to_owned(),
        form: form.to_owned(),
        text: text.to_owned(),
        ends: vec![text.len() as u32],
        index: vec![0; count],
    }
}

pub fn mark(position: f64, value: f64, engraved: &str) -> RawMark {
    RawMark {
        position,
        value,
        engraved: engraved.to_owned(),
        at: None,
    }
}

pub fn ring(axis: &str, units: (&str, &str), facts: Vec<RawFact>, marks: Vec<RawMark>) -> RawRing {
    RawRing {
        axis: axis.to_owned(),
        position_unit: units.0.to_owned(),
        value_unit: units.1.to_owned(),
        facts,
        marks,
    }
}

pub fn read(items: Vec<RawItem>) -> Result<Vec<Piece>, NormaliseError> {
    let mut normaliser = Normaliser::new();
    let mut pieces = Vec::new();
    for item in items {
        normaliser.item(item, &mut pieces)?;
    }
    Ok(pieces)
}

pub fn read_lens(lens: RawLens) -> Result<(Lens, Vec<Finding>), NormaliseError> {
    let mut pieces = read(vec![RawItem::Lens(lens)])?;
    let Some(Piece::Lens(lens)) = pieces.pop() else {
        panic!("the lens comes last")
    };
    Ok((lens, findings(pieces)))
}

pub fn lens_of(facts: Vec<RawFact>) -> Result<(Lens, Vec<Finding>), NormaliseError> {
    read_lens(RawLens {
        facts,
        ..RawLens::default()
    })
}

pub fn read_ring(ring: RawRing) -> Result<(Lens, Vec<Finding>), NormaliseError> {
    read_lens(RawLens {
        rings: vec![ring],
        ..RawLens::default()
    })
}

pub fn take_of(facts: Vec<RawFact>) -> Result<(Take, Vec<Finding>), NormaliseError> {
    let mut pieces = read(vec![RawItem::Take(RawTake { lens: None, facts })])?;
    let Some(Piece::Take(take)) = pieces.pop() else {
        panic!("the take comes last")
    };
    Ok((take, findings(pieces)))
}

fn findings(pieces: Vec<Piece>) -> Vec<Finding> {
    let finding = |piece| match piece {
        Piece::Remark(finding) => finding,
        other => panic!("{other:?}"),
    };
    pieces.into_iter().map(finding).collect()
}

pub fn frames(columns: Vec<RawColumn>, labels: Vec<RawLabels>) -> RawFrames {
    let count = columns.first().map_or(0, |c| c.values.len());
    RawFrames {
        take: 0,
        first: 0,
        count: count.max(labels.first().map_or(0, |l| l.index.len())) as u32,
        columns,
        labels,
        inputs: Vec::new(),
        offsets: Vec::new(),
    }
}

pub fn batch_of(facts: Vec<RawFact>, frames: RawFrames) -> Result<Batch, NormaliseError> {
    let take = RawItem::Take(RawTake { lens: None, facts });
    match read(vec![take, RawItem::Frames(frames)])?.pop() {
        Some(Piece::Frames(batch)) => Ok(batch),
        other => panic!("{other:?}"),
    }
}

pub fn columns(columns: Vec<RawColumn>) -> Result<Batch, NormaliseError> {
    batch_of(Vec::new(), frames(columns, Vec::new()))
}

pub fn values(batch: &Batch, channel: Channel) -> &[f64] {
    batch.numbers(channel).unwrap()
}

/// Numbers as they are compared here: NaN is NaN, and 0 is not -0.
pub fn same(a: &[f64], b: &[f64]) -> bool {
    let bits = |v: &[f64]| -> Vec<u64> {
        let canonical = |v: &f64| if v.is_nan() { NAN } else { *v }.to_bits();
        v.iter().map(canonical).collect()
    };
    bits(a) == bits(b)
}

#[track_caller]
pub fn refused<T: std::fmt::Debug>(result: Result<T, NormaliseError>, message: &str, help: &str) {
    let error = result.unwrap_err();
    assert!(error.message.contains(message), "{error:?}");
    assert!(error.help.contains(help), "{error:?}");
}

/// A manifest whose format carries everything.
pub fn everything() -> Manifest {
    manifest(Carries {
        other_channels: Keeping::Native,
        other_facts: Keeping::Native,
        extras: Keeping::Native,
        marks: true,
        marks_with_takes: true,
        takes: true,
        tables: true,
        ..Carries::default()
    })
}

pub fn manifest(carries: Carries) -> Manifest {
    Manifest {
        name: "sheet".to_owned(),
        version: "0.1.0".to_owned(),
        contract: "1.0".to_owned(),
        title: String::new(),
        about: String::new(),
        reads: false,
        writes: true,
        files: FilePatterns::default(),
        options: None,
        carries,
    }
}

pub fn carried(name: &str, unit: &str) -> CarriedChannel {
    CarriedChannel {
        name: name.to_owned(),
        unit: unit.to_owned(),
        reads: true,
        writes: true,
        keeping: Keeping::Native,
        infinity: true,
        above: None,
        at_least: None,
        at_most: None,
        whole: false,
        precision: None,
        reference: References::Any(true),
        stands_for: Vec::new(),
        note: String::new(),
    }
}

pub fn carried_fact(name: &str, unit: &str) -> CarriedFact {
    CarriedFact {
        name: name.to_owned(),
        unit: unit.to_owned(),
        keeping: Keeping::Native,
        precision: None,
    }
}

/// What a writer gets, and what is lost on the way.
pub fn write(manifest: &Manifest, pieces: &[Piece]) -> (Vec<RawItem>, Vec<Loss>) {
    let mut writer = ForWriter::new(manifest);
    let items = pieces
        .iter()
        .filter_map(|piece| writer.item(piece).unwrap())
        .collect();
    assert_eq!(writer.losses().format, manifest.name);
    (items, writer.into_losses().entries)
}

/// The columns a writer gets of a batch of numbers.
pub fn write_columns(
    manifest: &Manifest,
    numbers: Vec<NumberColumn>,
) -> (Vec<RawColumn>, Vec<Loss>) {
    let count = numbers.first().map_or(0, |c| c.values.len());
    let batch = Batch {
        count,
        numbers,
        ..Batch::default()
    };
    let (items, losses) = write(
        manifest,
        &[Piece::Take(Take::default()), Piece::Frames(batch)],
    );
    match items.last() {
        Some(RawItem::Frames(frames)) => (frames.columns.clone(), losses),
        other => panic!("{other:?}"),
    }
}

pub fn head(channel: Channel, reference: Option<DistanceReference>) -> Arc<ColumnHead> {
    Arc::new(ColumnHead {
        key: ColumnKey::Channel(channel),
        unit: channel.unit().map_or("", |u| u.symbol()).to_owned(),
        reference: reference.or(channel.is_distance().then_some(DistanceReference::Unstated)),
        origin: Origin::Recorded,
        source_unit: None,
        form: channel.is_text().then_some(TextForm::Text),
    })
}

pub fn numbers(channel: Channel, values: &[f64]) -> NumberColumn {
    NumberColumn {
        head: head(channel, None),
        values: values.to_vec(),
    }
}

pub fn loss(what: LossItem, kind: LossKind, reason: &str, frames: u64) -> Loss {
    Loss {
        what,
        kind,
        reason: reason.to_owned(),
        frames,
        error: None,
    }
}

pub fn channel_loss(name: &str, kind: LossKind, reason: &str, frames: u64) -> Loss {
    loss(LossItem::Channel(name.to_owned()), kind, reason, frames)
}
