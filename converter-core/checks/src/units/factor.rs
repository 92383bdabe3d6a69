//! Factors by which distances are off when one unit is read as another.

use ringmark_quantity::{Length, Unit};

use crate::agreement::travel_off;
use crate::view::FocusScale;

/// Numbers of one unit read as another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct UnitFactor {
    /// Recorded distance over the true one.
    pub factor: f64,
    /// What happened.
    pub story: &'static str,
}

const FEET: f64 = 1.0 / 0.3048;
const INCHES: f64 = 1.0 / 0.0254;

/// Factors of units in use side by side. Exact: 1 ft = 0.3048 m, 1 in = 25.4 mm.
pub(crate) const FACTORS: [UnitFactor; 8] = [
    UnitFactor {
        factor: FEET,
        story: "feet read as metres",
    },
    UnitFactor {
        factor: 1.0 / FEET,
        story: "metres read as feet",
    },
    UnitFactor {
        factor: INCHES,
        story: "inches read as metres",
    },
    UnitFactor {
        factor: 1.0 / INCHES,
        story: "metres read as inches",
    },
    UnitFactor {
        factor: 100.0,
        story: "centimetres read as metres",
    },
    UnitFactor {
        factor: 0.01,
        story: "metres read as centimetres",
    },
    UnitFactor {
        factor: 1000.0,
        story: "millimetres read as metres",
    },
    UnitFactor {
        factor: 0.001,
        story: "metres read as millimetres",
    },
];

impl UnitFactor {
    /// The unit a scale is in that was declared as `declared`; `None` for a scale declared in yet another unit.
    pub fn meant(self, declared: Unit) -> Option<Unit> {
        let declared = match declared {
            Unit::FeetInches => Unit::Foot,
            other => other,
        };
        let from = Length::of(1.0, declared).ok()?.metres();
        let meant = from / self.factor;
        [
            Unit::Metre,
            Unit::Foot,
            Unit::Inch,
            Unit::Centimetre,
            Unit::Millimetre,
        ]
        .into_iter()
        .find(|unit| {
            Length::of(1.0, *unit).is_ok_and(|one| (one.metres() / meant - 1.0).abs() < 1e-9)
        })
    }
}

/// The units that make this ratio of recorded to true distance, within a share `tolerance` of it.
pub(crate) fn unit_factor(ratio: f64, tolerance: f64) -> Option<UnitFactor> {
    FACTORS
        .into_iter()
        .find(|unit| (ratio / unit.factor - 1.0).abs() < tolerance)
}

/// The units with which a recorded distance is what the ring gives, if there are such.
pub(crate) fn factor_between(
    focus: &FocusScale,
    ring: f64,
    distance: f64,
    limit: f64,
) -> Option<UnitFactor> {
    let given = focus.curve.value_at(ring);
    let unit = FACTORS
        .into_iter()
        .find(|unit| (distance / given / unit.factor - 1.0).abs() < 0.15)?;
    (travel_off(focus, ring, distance / unit.factor) <= limit).then_some(unit)
}
