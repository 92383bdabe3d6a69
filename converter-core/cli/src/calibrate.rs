//! Ring positions of a take to distance, stop and focal length, by the marks of a lens; from these to what its tables give.

mod tables;

use std::borrow::Cow;
use std::path::Path;
use std::sync::Arc;

use anyhow::{Context, Result, anyhow, bail};
use ringmark_model::json;
use ringmark_model::{
    Axis, Batch, Channel, ColumnHead, ColumnKey, EncoderRange, Finding, Lens, Origin, Piece,
    ScaleQuantity, Severity, Subject,
};
use ringmark_optics::RingCurve;

use crate::hash;
use crate::rings::{OTHER_LENS, TakeReadings, Told};
pub use tables::surface_of;
use tables::{TableReadings, Tables};

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
    tables: Tables,
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
        let (lens, sha256) = read_lens(path)?;
        Self::of(lens, path.display().to_string(), sha256)
    }

    /// The calibration of a lens; fails when the marks of a ring give no curve, or a table cannot be.
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
        let tables = Tables::of(&lens).map_err(|error| anyhow!("{name}: {error}"))?;
        Ok(Calibration {
            lens,
            name,
            sha256,
            curves,
            tables,
        })
    }

    /// Whether this is the lens that `other` says it is: model and serial number agree.
    pub fn is_of(&self, other: &Lens) -> bool {
        self.lens.serial.is_some()
            && self.lens.serial == other.serial
            && self.lens.model == other.model
    }

    /// Adds the channels that ring positions give and that were not recorded.
    fn fill(&self, batch: &mut Batch, told: Told, (take, from_tables): &mut TakeState) {
        take.pass(batch.count);
        let focus_from_table = self.tables.gives_focus();
        for curve in &self.curves {
            if focus_from_table && curve.ring == Channel::FocusRing {
                continue;
            }
            let Some(positions) = curve.positions(batch) else {
                continue;
            };
            take.has_positions = true;
            if let ColumnKey::Channel(channel) = curve.head.key
                && let Some(recorded) = batch.numbers(channel)
            {
                take.keep(channel, recorded, &positions);
                continue;
            }
            let columns = take.read(&curve.curve, &curve.head, &positions, batch, told);
            batch.numbers.extend(columns);
        }
        if focus_from_table {
            let encoder = self.lens.ring(Axis::Focus).and_then(|ring| ring.encoder);
            let rings = (Channel::FocusRing, Channel::FocusRingRaw);
            if let Some(positions) = positions(batch, rings, encoder).map(Cow::into_owned) {
                take.has_positions = true;
                self.tables.focus(&positions, batch, from_tables);
            }
        }
        self.tables.fill(batch, from_tables);
    }
}

/// What rings and tables gave to one take.
type TakeState = (TakeReadings, TableReadings);

impl Curve {
    fn positions<'b>(&self, batch: &'b Batch) -> Option<Cow<'b, [f64]>> {
        positions(batch, (self.ring, self.raw), self.encoder)
    }
}

/// Ring positions 0 to 1 as recorded, else from raw ones over the range of the calibration.
fn positions(
    batch: &Batch,
    (ring, raw): (Channel, Channel),
    encoder: Option<EncoderRange>,
) -> Option<Cow<'_, [f64]>> {
    if let Some(positions) = batch.numbers(ring) {
        return Some(Cow::Borrowed(positions));
    }
    let scale = encoder?.scale()?;
    let mut positions = batch.numbers(raw)?.to_vec();
    scale.to_ratio_all(&mut positions);
    Some(Cow::Owned(positions))
}

/// The one lens of a neutral document, and the SHA-256 of the file. Its marks need not give curves.
pub fn read_lens(path: &Path) -> Result<(Lens, String)> {
    one_lens(path).context(
        "a calibration is a .lens.json here; `ringmark convert LENS --to lens.json` makes one",
    )
}

fn one_lens(path: &Path) -> Result<(Lens, String)> {
    let name = path.display().to_string();
    let bytes = std::fs::read(path).with_context(|| format!("{name}: cannot read"))?;
    let mut reader = json::open(name.clone(), bytes.as_slice());
    let mut lenses = Vec::new();
    while let Some(piece) = reader
        .next_piece()
        .map_err(|error| anyhow!("{name}: {}", error.message))?
    {
        if let Piece::Lens(lens) = piece {
            lenses.push(lens);
        }
    }
    match <[Lens; 1]>::try_from(lenses) {
        Ok([lens]) => Ok((lens, hash::of_bytes(&bytes))),
        Err(lenses) => bail!("{name}: holds {} lenses, not one", lenses.len()),
    }
}

/// Applies a calibration to the pieces of a document.
pub struct Calibrator {
    calibration: Option<Calibration>,
    told: Told,
    /// What was given to each take; nothing to takes of another lens.
    takes: Vec<Option<TakeState>>,
    /// The lenses of the document.
    lenses: Vec<Lens>,
    /// Which of the lenses passed on is that of the calibration.
    added: Option<usize>,
}

/// A take of another lens than the calibration's gets nothing from it.
fn another_lens(take: usize, own: &Lens, calibration: &Calibration) -> Finding {
    let message = format!(
        "the take names the lens “{}”, the calibration {} is for “{}”: nothing is taken from it",
        own.label(),
        calibration.name,
        calibration.lens.label()
    );
    Finding::new(OTHER_LENS, Severity::Warning, Subject::Take(take), message)
        .help("give the calibration of this very lens, or correct the name of the lens in the take")
}

impl Calibrator {
    /// Applies `calibration`; without one, pieces pass as they are.
    pub fn new(calibration: Option<Calibration>, told: Told) -> Self {
        Calibrator {
            calibration,
            told,
            takes: Vec::new(),
            lenses: Vec::new(),
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
                let index = self.lenses.len();
                // One lens stays one: what the document says of it is added to what the calibration says.
                let same = self.added.is_none() && !lens.contradicts(&calibration.lens);
                let passed = match same {
                    true => calibration.lens.clone().with_facts_of(&lens),
                    false => lens.clone(),
                };
                self.lenses.push(lens);
                if same {
                    self.added = Some(index);
                }
                pass(Piece::Lens(passed))
            }
            Piece::Take(mut take) => {
                let own = take.lens.and_then(|index| self.lenses.get(index));
                if let Some(own) = own.filter(|own| own.contradicts(&calibration.lens)) {
                    let index = self.takes.len();
                    let remark = another_lens(index, own, calibration);
                    self.takes.push(None);
                    pass(Piece::Take(take))?;
                    return pass(Piece::Remark(remark));
                }
                let index = match self.added {
                    Some(index) => index,
                    None => {
                        let index = self.lenses.len();
                        pass(Piece::Lens(calibration.lens.clone()))?;
                        self.lenses.push(calibration.lens.clone());
                        *self.added.insert(index)
                    }
                };
                take.lens = Some(index);
                self.takes.push(Some(TakeState::default()));
                pass(Piece::Take(take))
            }
            Piece::Frames(mut batch) => {
                if let Some(Some(take)) = self.takes.get_mut(batch.take) {
                    calibration.fill(&mut batch, self.told, take);
                }
                pass(Piece::Frames(batch))
            }
            Piece::End(provenance) => {
                let name = &calibration.name;
                let takes = self.takes.iter().enumerate();
                let with_values = takes.filter_map(|(at, take)| Some((at, take.as_ref()?)));
                for (index, (take, from_tables)) in with_values {
                    // A lens that gave values from its tables is not said to add nothing.
                    let remarks = if take.has_positions || !from_tables.gave_values() {
                        take.remarks(index, name, self.told)
                    } else {
                        Vec::new()
                    };
                    let of_tables = calibration.tables.remarks(index, from_tables, name);
                    for remark in remarks.into_iter().chain(of_tables) {
                        pass(Piece::Remark(remark))?;
                    }
                }
                pass(Piece::End(provenance))
            }
            other => pass(other),
        }
    }
}
