//! A distortion on the picture it belongs to.

use anyhow::{Context, Result, bail};
use ringmark_optics::{
    Canvas, Coefficients, Distortion, ImageGeometry, Normalisation, OpticsError, StMap as Map,
    StMapKind,
};
use ringmark_quantity::PinholeFocalLength;

use super::{Recorded, RecordedFrame, Statement};
use crate::args::StMap;

/// Two numbers with `mark` between them.
fn pair<T: std::str::FromStr>(text: &str, mark: char) -> Option<(T, T)> {
    let (a, b) = text.split_once(mark)?;
    Some((a.trim().parse().ok()?, b.trim().parse().ok()?))
}

/// A distortion on its picture.
pub struct Drawn {
    /// The distortion.
    pub distortion: Distortion,
    /// Pixels and sensor it is on.
    pub image: ImageGeometry,
    /// Its coefficients.
    pub coefficients: Coefficients,
    /// Width and height of the sensor, if known.
    pub sensor_mm: Option<(f64, f64)>,
    /// Pinhole focal length, if known.
    pub pinhole_mm: Option<f64>,
    /// Where the axis meets the sensor, to the right of and below its centre.
    pub principal_mm: (f64, f64),
}

impl Drawn {
    /// From options, else from what the take records.
    pub fn of(
        args: &StMap,
        recorded: &Recorded,
        statement: Statement,
        given: Option<Coefficients>,
        frame: &RecordedFrame,
    ) -> Result<Drawn> {
        let coefficients = given
            .or(frame.coefficients)
            .context("no distortion is recorded in it")?;
        let size_px = match &args.size {
            Some(text) => Some(pair(text, 'x').with_context(|| {
                format!("--size {text}: expected pixels across and down, as 4448x3096")
            })?),
            None => recorded.take.resolution,
        }
        .context("the size of the picture is not recorded; --size WxH gives its pixels")?;
        let sensor_mm = match &args.sensor {
            Some(text) => Some(pair(text, 'x').with_context(|| {
                format!("--sensor {text}: expected millimetres across and down, as 38.1x26.5")
            })?),
            None => recorded.take.sensor_mm,
        };
        let principal_mm: (f64, f64) = pair(&args.principal, ',').with_context(|| {
            format!(
                "--principal {}: expected mm to the right and below, as 0.1,-0.05",
                args.principal
            )
        })?;
        let pixels = statement.normalisation == Normalisation::Pixel;
        let sensor = match sensor_mm {
            Some(sensor) => sensor,
            // A pixel is its own length: no millimetres enter.
            None if pixels && principal_mm == (0.0, 0.0) => {
                (f64::from(size_px.0), f64::from(size_px.1))
            }
            None => bail!("the size of the sensor is not recorded; --sensor WxH gives it in mm"),
        };
        let pinhole_mm = args.focal_length.or(frame.pinhole_mm);
        let pinhole = match (pinhole_mm, statement.normalisation) {
            (Some(mm), _) => PinholeFocalLength::from_mm(mm)?,
            (None, Normalisation::FocalLength) => bail!(
                "the pinhole focal length is not recorded, and lengths are counted in it; --focal-length MM gives it (an \
                 engraved focal length is not the same: it leaves out breathing)"
            ),
            // Lengths are counted in something else: it does not enter.
            (None, _) => PinholeFocalLength::from_mm(1.0)?,
        };
        Ok(Drawn {
            distortion: Distortion::new(
                coefficients,
                statement.direction,
                statement.normalisation,
            )?,
            image: ImageGeometry::new(size_px, sensor, pinhole, principal_mm)?,
            coefficients,
            sensor_mm,
            pinhole_mm,
            principal_mm,
        })
    }

    /// The first and the last row hold the corners, where the radius is largest: what folds folds there.
    pub fn check(&self, kind: StMapKind, canvas: Canvas) -> Result<(), OpticsError> {
        let map = Map::new(kind, &self.distortion, &self.image, canvas);
        let (_, height) = map.size_px();
        map.row(0)?;
        map.row(height.saturating_sub(1))?;
        Ok(())
    }
}
