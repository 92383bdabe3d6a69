//! Scales of a lens: curve, marks, and how far each mark is off.

use ringmark_model::{Lens, Ring, ScaleQuantity};
use ringmark_quantity::print;
use serde::{Deserialize, Serialize};

use super::{Axis, rounded};
use crate::safe::safe;
use crate::show::{Scale, ScalePoint, ScaleReport, lens, reference_words, scale};

/// Of the places of a curve every so many are drawn; the last one always.
const EVERY: usize = 3;

/// What is drawn of a lens.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LensPicture {
    /// Names and values of what is known of it.
    pub facts: Vec<(String, String)>,
    /// Its rings.
    pub rings: Vec<RingPicture>,
}

/// What is drawn of a ring. Heights and positions of the curve are in step; `None` is none.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RingPicture {
    /// `focus ring: engraved in metre, measured from the image plane`.
    pub title: String,
    /// Name of the quantity its scale reads.
    pub quantity: String,
    /// Unit symbol of values.
    pub unit: String,
    /// How heights are made of values.
    pub axis: Axis,
    /// Why there is no curve, if there is none.
    pub problem: Option<String>,
    /// What the curve rests on.
    pub facts: Vec<(String, String)>,
    /// Ring positions of the curve.
    pub positions: Vec<f64>,
    /// The curve.
    pub curve: Vec<Option<f64>>,
    /// Lower and upper end of its 95 % band.
    pub band: (Vec<Option<f64>>, Vec<Option<f64>>),
    /// The marks.
    pub marks: Vec<MarkPicture>,
    /// The marks in words: a head and a row for each.
    pub table: Vec<Vec<String>>,
}

/// A mark.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MarkPicture {
    /// Its name: as engraved, else its value.
    pub name: String,
    /// Ring position.
    pub position: f64,
    /// Height of its value.
    pub height: Option<f64>,
    /// How far it is off the curve, in ring travel.
    pub off: Option<f64>,
}

impl LensPicture {
    /// Of a lens and the curves of its rings, or why there are none, in the order of its rings.
    pub fn of(lens: &Lens, scales: &[Result<ScaleReport, String>]) -> Self {
        let rings = lens.rings.iter().zip(scales);
        LensPicture {
            facts: lens::facts(lens).0,
            rings: rings
                .filter(|(ring, _)| !ring.marks.is_empty())
                .map(|(ring, scale)| RingPicture::of(ring, scale))
                .collect(),
        }
    }
}

impl RingPicture {
    fn of(ring: &Ring, report: &Result<ScaleReport, String>) -> Self {
        let distance = ring.quantity == ScaleQuantity::FocusDistance;
        let scale = Scale::of(ring.quantity.unit(), distance);
        let height = |value: f64| scale.height(value).map(rounded);
        let report = report.as_ref();
        let (curve, mut facts) = match report {
            Ok(report) => (drawn(&report.curve), scale::facts(ring, report).0),
            Err(_) => (Vec::new(), Vec::new()),
        };
        // Depth of field is drawn with takes, at the stop of each frame.
        facts.retain(|(name, _)| name != "depth of field");
        let mut title = vec![format!("engraved in {}", ring.source_unit.name())];
        title.extend(ring.reference.map(|r| reference_words(r).to_owned()));
        let off = |index: usize| {
            let residual = report.ok()?.marks.get(index)?;
            residual
                .travel
                .is_finite()
                .then(|| rounded(residual.travel))
        };
        RingPicture {
            title: format!("{} ring: {}", ring.axis.name(), title.join(", ")),
            quantity: ring.quantity.name().to_owned(),
            unit: ring.quantity.unit().symbol().to_owned(),
            axis: scale.into(),
            problem: report.err().map(|why| safe(why).into_owned()),
            facts,
            positions: curve.iter().map(|p| rounded(p.position)).collect(),
            curve: curve.iter().map(|p| height(p.value)).collect(),
            band: (
                curve.iter().map(|p| height(p.low)).collect(),
                curve.iter().map(|p| height(p.high)).collect(),
            ),
            marks: (0..)
                .zip(&ring.marks)
                .map(|(index, mark)| MarkPicture {
                    name: match &mark.engraved {
                        Some(engraved) => safe(engraved).into_owned(),
                        None => print::value(mark.value, ring.quantity.unit()),
                    },
                    position: rounded(mark.position),
                    height: height(mark.value),
                    off: off(index),
                })
                .collect(),
            table: scale::marks(ring, report.ok())
                .without_empty_columns()
                .into_rows(),
        }
    }
}

fn drawn(curve: &[ScalePoint]) -> Vec<ScalePoint> {
    let last = curve.len().saturating_sub(1);
    let chosen = (0..).zip(curve);
    chosen
        .filter(|(index, _)| index % EVERY == 0 || *index == last)
        .map(|(_, point)| *point)
        .collect()
}
