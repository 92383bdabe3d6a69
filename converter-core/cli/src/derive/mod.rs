//! Depth of field and field of view of every frame, where they were not recorded and follow from what was.

mod sources;

use std::sync::Arc;

use anyhow::{Context, Result, bail};
use ringmark_model::{
    Batch, Channel, ColumnHead, ColumnKey, Extra, ExtraValue, Finding, Lens, NumberColumn, Origin,
    Piece, Severity, Subject, Take,
};
use ringmark_optics::field_of_view::horizontal_fields_of_view;
use ringmark_optics::{CircleOfConfusion, DepthColumns, ImageFormat};
use ringmark_quantity::{DistanceReference, Unit, print};

use crate::args::{Deriving, Quantity};
use crate::rings::{Told, is_about_rings};
use sources::{Missing, f_number, focal_length, missing};

/// Name of the remarks on what values were computed from.
const DERIVED: &str = "values-derived";
/// Name of the remarks on what could not be computed.
const NOT_DERIVED: &str = "values-not-derived";
/// Under this name a take says what its depth of field rests on.
const CIRCLE: &str = "circle of confusion";

/// What to compute.
#[derive(Debug, Clone, Copy)]
pub struct Derivation {
    depth: bool,
    field: bool,
    circle: Option<CircleOfConfusion>,
    told: Told,
}

impl Derivation {
    /// What the arguments ask for; `None` if they ask for nothing.
    pub fn of(args: &Deriving) -> Result<Option<Derivation>> {
        let circle = args
            .circle_of_confusion
            .as_deref()
            .map(circle_of_confusion)
            .transpose()?;
        let asked = |quantity| args.derive.contains(&quantity);
        let derivation = Derivation {
            depth: asked(Quantity::Dof),
            field: asked(Quantity::Fov),
            circle,
            told: if asked(Quantity::Band) {
                Told::Columns
            } else {
                Told::Nothing
            },
        };
        if circle.is_some() && !derivation.depth {
            bail!("--circle-of-confusion goes with --derive dof");
        }
        Ok((!args.derive.is_empty()).then_some(derivation))
    }

    /// Depth of field alone, by the circle of confusion that the sensor gives.
    pub fn of_depth() -> Derivation {
        Derivation {
            depth: true,
            field: false,
            circle: None,
            told: Told::Nothing,
        }
    }

    /// The same, or nothing else, with the band of ring readings told.
    pub fn with_band_told(derivation: Option<Derivation>) -> Derivation {
        let derivation = derivation.unwrap_or(Derivation {
            depth: false,
            field: false,
            circle: None,
            told: Told::Nothing,
        });
        Derivation {
            told: derivation.told.max(Told::Remark),
            ..derivation
        }
    }

    /// How much is told about the band of values that ring positions give.
    pub fn told(self) -> Told {
        self.told
    }
}

/// A number of millimetres or the name of a format.
pub fn circle_of_confusion(text: &str) -> Result<CircleOfConfusion> {
    if let Some(format) = ImageFormat::from_name(text) {
        return Ok(CircleOfConfusion::of_format(format));
    }
    let mm: f64 = text.parse().ok().with_context(|| {
        let names = ImageFormat::ALL.map(ImageFormat::name).join(", ");
        format!("--circle-of-confusion {text}: expected millimetres, as 0.025, or one of {names}")
    })?;
    CircleOfConfusion::from_mm(mm).context("--circle-of-confusion")
}

/// Whether a remark is about computed values.
pub fn is_about_derived(finding: &Finding) -> bool {
    finding.check == DERIVED || finding.check == NOT_DERIVED || is_about_rings(finding)
}

/// Adds the channels that were asked for to the pieces of a document. A recorded one is never replaced.
pub struct Deriver {
    derivation: Option<Derivation>,
    lenses: Vec<Lens>,
    takes: Vec<TakeState>,
}

/// What does not change from frame to frame, and what has been said.
struct TakeState {
    lens: Option<usize>,
    sensor_mm: Option<(f64, f64)>,
    circle: Option<(CircleOfConfusion, &'static str)>,
    told: bool,
    frames: u64,
    impossible: u64,
}

impl Deriver {
    /// Computes what `derivation` says; without one, pieces pass as they are.
    pub fn new(derivation: Option<Derivation>) -> Self {
        Deriver {
            derivation,
            lenses: Vec::new(),
            takes: Vec::new(),
        }
    }

    /// Passes a piece on, with remarks on how values came about before the first frames of a take.
    pub fn piece(&mut self, piece: Piece, mut pass: impl FnMut(Piece) -> Result<()>) -> Result<()> {
        let Some(derivation) = self.derivation else {
            return pass(piece);
        };
        match piece {
            Piece::Lens(lens) => {
                self.lenses.push(lens.clone());
                pass(Piece::Lens(lens))
            }
            Piece::Take(mut take) => {
                self.takes.push(TakeState::of(derivation, &mut take));
                pass(Piece::Take(take))
            }
            Piece::Frames(mut batch) => {
                if let Some(take) = self.takes.get_mut(batch.take) {
                    let lens = take.lens.and_then(|index| self.lenses.get(index));
                    let remarks = fill(derivation, take, lens, &mut batch);
                    if !std::mem::replace(&mut take.told, true) {
                        for remark in remarks {
                            pass(Piece::Remark(remark))?;
                        }
                    }
                }
                pass(Piece::Frames(batch))
            }
            Piece::End(provenance) => {
                for (index, take) in self.takes.iter().enumerate() {
                    if let Some(remark) = take.remark(index) {
                        pass(Piece::Remark(remark))?;
                    }
                }
                pass(Piece::End(provenance))
            }
            other => pass(other),
        }
    }
}

impl TakeState {
    fn of(derivation: Derivation, take: &mut Take) -> TakeState {
        let circle = match (derivation.circle, take.sensor_mm) {
            (Some(circle), _) => Some((circle, "as given")),
            (None, Some((width, height))) => CircleOfConfusion::of_sensor(width, height)
                .ok()
                .map(|circle| (circle, "sensor diagonal / 1500")),
            (None, None) => None,
        };
        // Limits mean nothing to whoever reads them later without the circle they rest on.
        if let Some((circle, _)) = circle
            && derivation.depth
            && !take.extras.iter().any(|extra| extra.name == CIRCLE)
        {
            take.extras.push(Extra {
                name: CIRCLE.to_owned(),
                value: ExtraValue::Number(circle.mm(), Unit::Millimetre.symbol().to_owned()),
            });
        }
        TakeState {
            lens: take.lens,
            sensor_mm: take.sensor_mm,
            circle,
            told: false,
            frames: 0,
            impossible: 0,
        }
    }

    /// Frames that have none although everything is recorded.
    fn remark(&self, index: usize) -> Option<Finding> {
        let (impossible, frames) = (self.impossible, self.frames);
        let message = format!(
            "depth of field is left out in {impossible} of {frames} frames: a value is impossible, or focus is nearer than \
             the lens forms an image"
        );
        (impossible > 0).then(|| {
            Finding::new(
                NOT_DERIVED,
                Severity::Warning,
                Subject::Take(index),
                message,
            )
            .help("`ringmark check` says which values these are")
        })
    }
}

/// Adds columns to a batch; the remarks say from what, or why not.
fn fill(
    derivation: Derivation,
    take: &mut TakeState,
    lens: Option<&Lens>,
    batch: &mut Batch,
) -> Vec<Finding> {
    let subject = || Subject::Take(batch.take);
    let mut remarks = Vec::new();
    let mut columns = Vec::new();
    let mut said = |outcome: Result<Found, Missing>| match outcome {
        Ok(Found { added, from }) => {
            columns.extend(added);
            remarks.extend(from.map(|from| Finding::new(DERIVED, Severity::Note, subject(), from)));
        }
        Err(Missing { why, help }) => {
            remarks.push(Finding::new(NOT_DERIVED, Severity::Warning, subject(), why).help(help))
        }
    };
    take.frames += batch.count as u64;
    if derivation.depth {
        said(depth(take, lens, batch));
    }
    if derivation.field {
        said(field(take, lens, batch));
    }
    batch.numbers.extend(columns);
    remarks
}

/// Columns that were computed, and from what.
struct Found {
    added: Vec<NumberColumn>,
    from: Option<String>,
}

fn not_recorded(batch: &Batch, channels: &[Channel]) -> Vec<Channel> {
    let absent = |channel: &&Channel| batch.numbers(**channel).is_none();
    channels.iter().filter(absent).copied().collect()
}

fn column(
    channel: Channel,
    reference: Option<DistanceReference>,
    values: Vec<f64>,
) -> NumberColumn {
    let unit = channel.unit().unwrap_or(Unit::One);
    NumberColumn {
        head: Arc::new(ColumnHead {
            key: ColumnKey::Channel(channel),
            unit: unit.symbol().to_owned(),
            reference,
            origin: Origin::Derived,
            source_unit: None,
            form: None,
        }),
        values,
    }
}

fn depth(take: &mut TakeState, lens: Option<&Lens>, batch: &Batch) -> Result<Found, Missing> {
    let wanted = not_recorded(
        batch,
        &[Channel::NearLimit, Channel::FarLimit, Channel::Hyperfocal],
    );
    if wanted.is_empty() {
        let from = None;
        return Ok(Found {
            added: Vec::new(),
            from,
        });
    }
    let focus = batch.number_column(Channel::FocusDistance).ok_or_else(|| {
        missing(
            "no depth of field: focus distance is not recorded",
            "give the calibration of the lens with --lens, if ring positions are recorded",
        )
    })?;
    let reference = focus.head.reference.unwrap_or_default();
    let (focal_length, focal_name) = focal_length(
        lens,
        batch,
        &[Channel::EffectiveFocalLength, Channel::NominalFocalLength],
        // It grows with magnification where the focal length does not.
        &[Channel::PinholeFocalLength],
    )
    .ok_or_else(|| {
        missing(
            "no depth of field: focal length is not recorded",
            "record it, or name the lens and its focal length",
        )
    })?;
    let (f_number, stop_name) = f_number(lens, batch)?;
    let (circle, circle_from) = take.circle.ok_or_else(|| {
        missing(
            "no depth of field: neither the circle of confusion nor the size of the sensor is known",
            "say --circle-of-confusion MM, as 0.025, or the name of a format, as cine-35",
        )
    })?;
    let depths = DepthColumns {
        focus_m: &focus.values,
        reference,
        focal_length_mm: &focal_length,
        f_number: &f_number,
        pinhole_mm: batch.numbers(Channel::PinholeFocalLength),
        pupil_offset_mm: batch.numbers(Channel::EntrancePupilOffset),
    }
    .depths_of_field(circle)
    .map_err(|error| {
        missing(
            format!("no depth of field: {error}"),
            "say in the source what its distances are measured from",
        )
    })?;
    take.impossible += depths.impossible as u64;
    let names: Vec<&str> = wanted.iter().map(|channel| channel.name()).collect();
    let mut added = Vec::with_capacity(wanted.len());
    for (channel, values) in [
        (Channel::NearLimit, depths.near_m),
        (Channel::FarLimit, depths.far_m),
        (Channel::Hyperfocal, depths.hyperfocal_m),
    ] {
        if wanted.contains(&channel) {
            added.push(column(channel, Some(reference), values));
        }
    }
    let from = format!(
        "{} computed from focus distance (from {}), {focal_name} and {stop_name}; circle of confusion {} ({circle_from})",
        names.join(", "),
        reference.name(),
        print::value(circle.mm(), Unit::Millimetre),
    );
    Ok(Found {
        added,
        from: Some(from),
    })
}

fn field(take: &TakeState, lens: Option<&Lens>, batch: &Batch) -> Result<Found, Missing> {
    if batch.numbers(Channel::FieldOfView).is_some() {
        return Ok(Found {
            added: Vec::new(),
            from: None,
        });
    }
    let channels = [
        Channel::PinholeFocalLength,
        Channel::EffectiveFocalLength,
        Channel::NominalFocalLength,
    ];
    let (focal_length, focal_name) =
        focal_length(lens, batch, &channels, &[]).ok_or_else(|| {
            missing(
                "no field of view: focal length is not recorded",
                "record it, or name the lens and its focal length",
            )
        })?;
    let (width, _) = take.sensor_mm.ok_or_else(|| {
        missing(
            "no field of view: the size of the sensor is not known",
            "state width and height of the active sensor area",
        )
    })?;
    let squeeze = lens.and_then(|lens| lens.squeeze).unwrap_or(1.0);
    let mut angles = vec![f64::NAN; batch.count];
    horizontal_fields_of_view(&focal_length, width, squeeze, &mut angles).map_err(|error| {
        missing(
            format!("no field of view: {error}"),
            "correct sensor and squeeze",
        )
    })?;
    let mut from = format!(
        "{} computed from {focal_name} and a sensor {} wide",
        Channel::FieldOfView.name(),
        print::value(width, Unit::Millimetre)
    );
    if squeeze != 1.0 {
        from.push_str(&format!(", squeeze {}", print::value(squeeze, Unit::One)));
    }
    if focal_name != Channel::PinholeFocalLength.name() {
        from.push_str("; breathing of the lens is not in it");
    }
    Ok(Found {
        added: vec![column(Channel::FieldOfView, None, angles)],
        from: Some(from),
    })
}
