//! Ring positions of a take to distance, stop and focal length, by the marks of a lens.

use std::borrow::Cow;
use std::path::Path;
use std::sync::Arc;

use anyhow::{Context, Result, anyhow, bail};
use ringmark_model::json;
use ringmark_model::{
    Axis, Batch, Channel, ColumnHead, ColumnKey, EncoderRange, Lens, NumberColumn, Origin, Piece,
    ScaleQuantity,
};
use ringmark_optics::RingCurve;

use crate::hash;

/// A lens whose marks give values for ring positions.
#[derive(Clone)]
pub struct Calibration {
    /// The lens.
    pub lens: Lens,
    /// Where it was read from.
    pub name: String,
    /// SHA-256 of that file.
    pub sha256: String,
    curves: Vec<Curve>,
}

#[derive(Clone)]
struct Curve {
    ring: Channel,
    raw: Channel,
    /// The encoder range at which the marks were taken, for takes with raw positions only.
    encoder: Option<EncoderRange>,
    head: Arc<ColumnHead>,
    curve: Arc<RingCurve>,
}

impl Calibration {
    /// Reads the one lens of a neutral document.
    pub fn read(path: &Path) -> Result<Calibration> {
        let name = path.display().to_string();
        let bytes = std::fs::read(path).with_context(|| format!("{name}: cannot read"))?;
        let mut reader = json::open(name.clone(), bytes.as_slice());
        let mut lenses = Vec::new();
        while let Some(piece) = reader
            .next_piece()
            .map_err(|error| anyhow!("{name}: {}", error.message))
            .with_context(
                || "--lens takes a .lens.json; `ringmark convert LENS --to lens.json` makes one",
            )?
        {
            if let Piece::Lens(lens) = piece {
                lenses.push(lens);
            }
        }
        match <[Lens; 1]>::try_from(lenses) {
            Ok([lens]) => Self::of(lens, name, hash::of_bytes(&bytes)),
            Err(lenses) => bail!("{name}: holds {} lenses, not one", lenses.len()),
        }
    }

    /// The calibration of a lens; fails when the marks of a ring give no curve.
    pub fn of(lens: Lens, name: String, sha256: String) -> Result<Calibration> {
        let mut curves = Vec::new();
        for ring in &lens.rings {
            let curve = RingCurve::new(ring).map_err(|error| {
                anyhow!(
                    "{name}: the {} marks give no curve: {error}",
                    ring.axis.name()
                )
            })?;
            let channel = match ring.quantity {
                ScaleQuantity::FocusDistance => Channel::FocusDistance,
                ScaleQuantity::TStop => Channel::TStop,
                ScaleQuantity::FNumber => Channel::FNumber,
                ScaleQuantity::FocalLength => Channel::NominalFocalLength,
            };
            let head = ColumnHead {
                key: ColumnKey::Channel(channel),
                unit: ring.quantity.unit().symbol().to_owned(),
                reference: ring.reference,
                origin: Origin::Interpolated,
                source_unit: None,
                form: None,
            };
            let (position, raw) = match ring.axis {
                Axis::Focus => (Channel::FocusRing, Channel::FocusRingRaw),
                Axis::Iris => (Channel::IrisRing, Channel::IrisRingRaw),
                Axis::Zoom => (Channel::ZoomRing, Channel::ZoomRingRaw),
            };
            curves.push(Curve {
                ring: position,
                raw,
                encoder: ring.encoder,
                head: Arc::new(head),
                curve: Arc::new(curve),
            });
        }
        Ok(Calibration {
            lens,
            name,
            sha256,
            curves,
        })
    }

    /// Whether this is the lens that `other` says it is: model and serial number agree.
    pub fn is_of(&self, other: &Lens) -> bool {
        self.lens.serial.is_some()
            && self.lens.serial == other.serial
            && self.lens.model == other.model
    }

    /// Adds the channels that ring positions give and that were not recorded.
    fn fill(&self, batch: &mut Batch) {
        for curve in &self.curves {
            let Some(positions) = curve.positions(batch) else {
                continue;
            };
            let recorded = match curve.head.key {
                ColumnKey::Channel(channel) => batch.numbers(channel).is_some(),
                ColumnKey::Extra(_) => true,
            };
            if recorded {
                continue;
            }
            let mut values = vec![f64::NAN; positions.len()];
            curve.curve.evaluate(&positions, &mut values);
            batch.numbers.push(NumberColumn {
                head: Arc::clone(&curve.head),
                values,
            });
        }
    }
}

impl Curve {
    /// Ring positions 0 to 1 as recorded, else from raw ones over the range of the calibration.
    fn positions<'b>(&self, batch: &'b Batch) -> Option<Cow<'b, [f64]>> {
        if let Some(positions) = batch.numbers(self.ring) {
            return Some(Cow::Borrowed(positions));
        }
        let scale = self.encoder?.scale()?;
        let mut positions = batch.numbers(self.raw)?.to_vec();
        scale.to_ratio_all(&mut positions);
        Some(Cow::Owned(positions))
    }
}

/// Applies a calibration to the pieces of a document.
pub struct Calibrator {
    calibration: Option<Calibration>,
    lenses: usize,
    added: Option<usize>,
}

impl Calibrator {
    /// Applies `calibration`; without one, pieces pass as they are.
    pub fn new(calibration: Option<Calibration>) -> Self {
        Calibrator {
            calibration,
            lenses: 0,
            added: None,
        }
    }

    /// Passes a piece on, with the lens of the calibration before the first take.
    pub fn piece(&mut self, piece: Piece, mut pass: impl FnMut(Piece) -> Result<()>) -> Result<()> {
        let Some(calibration) = &self.calibration else {
            return pass(piece);
        };
        match piece {
            Piece::Lens(lens) => {
                self.lenses += 1;
                pass(Piece::Lens(lens))
            }
            Piece::Take(mut take) => {
                let index = match self.added {
                    Some(index) => index,
                    None => {
                        let index = self.lenses;
                        pass(Piece::Lens(calibration.lens.clone()))?;
                        self.lenses += 1;
                        *self.added.insert(index)
                    }
                };
                take.lens = Some(index);
                pass(Piece::Take(take))
            }
            Piece::Frames(mut batch) => {
                calibration.fill(&mut batch);
                pass(Piece::Frames(batch))
            }
            other => pass(other),
        }
    }
}
