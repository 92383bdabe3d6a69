//! A quantity of a lens over focus distance and focal length: pinhole focal length (breathing), entrance pupil, distortion,
//! widest stop of a zoom that loses light towards its long end.
//!
//! Of one focal length, the values are a monotone cubic over dioptres (1 / focus distance), in which infinity is a place like
//! any other and the optics of focusing are nearly straight. Between focal lengths a monotone cubic over ln(focal length) runs
//! through what they give at the distance asked for. On a full grid in these coordinates this is what scipy's
//! `RegularGridInterpolator(method="pchip")` computes; the grid need not be full here.
//!
//! Nothing is extrapolated: beyond the table there is no value, but for a thousandth of the distance or focal length that
//! rounding takes.

mod error;

pub use error::SurfaceError;

use crate::OpticsError;
use crate::curve::{Pchip, pchip_through};
use crate::error::same_length;

/// By how much an axis may be left, as a part of focal length or distance.
const ROUNDING: f64 = 1e-3;
/// Focal lengths nearer than this part of one another are one.
const SAME: f64 = 1e-9;

/// A quantity over focus distance and focal length.
#[derive(Debug, Clone, PartialEq)]
pub struct Surface {
    /// ln(mm), rising; one entry for tables that do not go by focal length.
    zoom: Vec<f64>,
    along: Vec<Along>,
    by_focal_length: bool,
}

/// What one focal length gives.
#[derive(Debug, Clone, PartialEq)]
enum Along {
    /// The table does not go by distance.
    Constant(f64),
    /// Over dioptres.
    Focus(Pchip),
}

/// A row that has a value.
#[derive(Debug, Clone, Copy)]
struct Row {
    number: usize,
    dioptres: Option<f64>,
    focal_length: Option<f64>,
    value: f64,
}

impl Surface {
    /// The surface through `values`, one a row, NaN where there is none: over `distances` in metres (+infinity is infinity,
    /// all from one reference), over `focal_lengths` in millimetres, or over both. Rows stand in any order.
    ///
    /// Fails when a number cannot be, a place is given twice, or one focal length has a single distance.
    pub fn new(
        distances: Option<&[f64]>,
        focal_lengths: Option<&[f64]>,
        values: &[f64],
    ) -> Result<Surface, SurfaceError> {
        if distances.is_none() && focal_lengths.is_none() {
            return Err(SurfaceError::NoAxis);
        }
        let rows = rows(distances, focal_lengths, values)?;
        let mut zoom = Vec::new();
        let mut along = Vec::new();
        for group in rows.chunk_by(|a, b| same(a.focal_length, b.focal_length)) {
            let [first, ..] = group else { continue };
            for (a, b) in group.iter().zip(group.iter().skip(1)) {
                if a.dioptres == b.dioptres {
                    return Err(SurfaceError::Repeated {
                        first: a.number.min(b.number),
                        second: a.number.max(b.number),
                    });
                }
            }
            zoom.push(first.focal_length.map_or(0.0, f64::ln));
            along.push(match first.dioptres {
                None => Along::Constant(first.value),
                Some(_) => {
                    let x = group.iter().filter_map(|row| row.dioptres).collect();
                    let y = group.iter().map(|row| row.value).collect();
                    let curve = Pchip::new(x, y).ok_or(SurfaceError::OneDistance {
                        focal_length: first.focal_length,
                    })?;
                    Along::Focus(curve)
                }
            });
        }
        Ok(Surface {
            zoom,
            along,
            by_focal_length: focal_lengths.is_some(),
        })
    }

    /// Whether the focus distance must be known.
    pub fn goes_by_distance(&self) -> bool {
        self.along
            .iter()
            .any(|each| matches!(each, Along::Focus(_)))
    }

    /// Whether the focal length must be known.
    pub fn goes_by_focal_length(&self) -> bool {
        self.by_focal_length
    }

    /// The value at a focus distance in metres (+infinity is infinity) and a focal length in millimetres; an axis that the
    /// table does not have is not looked at. NaN beyond the table, and where a number asked for is none.
    pub fn value(&self, distance: f64, focal_length: f64) -> f64 {
        let dioptres = if distance > 0.0 {
            1.0 / distance
        } else {
            f64::NAN
        };
        if !self.by_focal_length {
            return self
                .along
                .first()
                .map_or(f64::NAN, |each| each.value(dioptres));
        }
        let (Some(&first), Some(&last)) = (self.zoom.first(), self.zoom.last()) else {
            return f64::NAN;
        };
        let asked = focal_length.ln();
        // Not so for NaN.
        if !(asked >= first - ROUNDING && asked <= last + ROUNDING) {
            return f64::NAN;
        }
        pchip_through(&self.zoom, asked.clamp(first, last), |k| {
            self.along
                .get(k)
                .map_or(f64::NAN, |each| each.value(dioptres))
        })
    }

    /// The distances in metres from nearest to farthest over which a table that does not go by focal length has values.
    pub fn distances(&self) -> Option<(f64, f64)> {
        match self.along.as_slice() {
            [Along::Focus(curve)] => Some((1.0 / curve.x().last()?, 1.0 / curve.x().first()?)),
            _ => None,
        }
    }

    /// [`Surface::value`] of every frame. Columns of axes that the table does not have may be `None`.
    pub fn evaluate(
        &self,
        distances: Option<&[f64]>,
        focal_lengths: Option<&[f64]>,
        values: &mut [f64],
    ) -> Result<(), OpticsError> {
        for (what, column) in [
            ("focus distance", distances),
            ("focal length", focal_lengths),
        ] {
            if let Some(column) = column {
                same_length(what, column.len(), values.len())?;
            }
        }
        let at = |column: Option<&[f64]>, frame: usize| {
            column
                .and_then(|column| column.get(frame))
                .copied()
                .unwrap_or(f64::NAN)
        };
        for (frame, value) in values.iter_mut().enumerate() {
            *value = self.value(at(distances, frame), at(focal_lengths, frame));
        }
        Ok(())
    }
}

impl Along {
    fn value(&self, dioptres: f64) -> f64 {
        match self {
            Along::Constant(value) => *value,
            Along::Focus(curve) => {
                let (Some(&first), Some(&last)) = (curve.x().first(), curve.x().last()) else {
                    return f64::NAN;
                };
                if dioptres >= first * (1.0 - ROUNDING) && dioptres <= last * (1.0 + ROUNDING) {
                    curve.value(dioptres.clamp(first, last))
                } else {
                    f64::NAN
                }
            }
        }
    }
}

fn same(a: Option<f64>, b: Option<f64>) -> bool {
    match (a, b) {
        (Some(a), Some(b)) => (a / b - 1.0).abs() < SAME,
        (None, None) => true,
        _ => false,
    }
}

fn or_zero(number: Option<f64>) -> f64 {
    number.unwrap_or(0.0)
}

/// Rows with a value, by focal length and then from far to near.
fn rows(
    distances: Option<&[f64]>,
    focal_lengths: Option<&[f64]>,
    values: &[f64],
) -> Result<Vec<Row>, SurfaceError> {
    for (what, column) in [
        ("focus distance", distances),
        ("focal length", focal_lengths),
    ] {
        if let Some(found) = column
            .map(<[f64]>::len)
            .filter(|found| *found != values.len())
        {
            let expected = values.len();
            return Err(SurfaceError::Lengths {
                what,
                found,
                expected,
            });
        }
    }
    let at = |column: Option<&[f64]>, row: usize, what, infinite| match column
        .and_then(|c| c.get(row))
    {
        Some(&value) if value > 0.0 && (infinite || value.is_finite()) => Ok(Some(value)),
        Some(&value) => Err(SurfaceError::Axis {
            row: row + 1,
            what,
            value,
            infinite,
        }),
        None => Ok(None),
    };
    let mut rows = Vec::with_capacity(values.len());
    for (row, &value) in values.iter().enumerate() {
        if value.is_nan() {
            continue;
        }
        let number = row + 1;
        if value.is_infinite() {
            return Err(SurfaceError::Value { row: number, value });
        }
        rows.push(Row {
            number,
            dioptres: at(distances, row, "focus distance in metres", true)?
                .map(|metres| 1.0 / metres),
            focal_length: at(focal_lengths, row, "focal length in millimetres", false)?,
            value,
        });
    }
    if rows.is_empty() {
        return Err(SurfaceError::Empty);
    }
    rows.sort_by(|a, b| or_zero(a.focal_length).total_cmp(&or_zero(b.focal_length)));
    // Focal lengths that are one in all but rounding are ordered by distance.
    for group in rows.chunk_by_mut(|a, b| same(a.focal_length, b.focal_length)) {
        group.sort_by(|a, b| or_zero(a.dioptres).total_cmp(&or_zero(b.dioptres)));
    }
    Ok(rows)
}

#[cfg(test)]
#[path = "tests.rs"]
mod tests;
