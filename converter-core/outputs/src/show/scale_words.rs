//! Values of a scale in words: finer than a barrel is engraved, no finer than they are known.

use ringmark_model::{Ring, ScaleQuantity};
use ringmark_quantity::{Unit, print};

use super::round::System;
use super::scale_report::{ScalePoint, Standing};

/// A value as engraved scales have it.
pub(super) fn engraved(quantity: ScaleQuantity, system: System, value: f64) -> String {
    match (quantity, system) {
        (ScaleQuantity::FocusDistance, System::Metric) if value.is_finite() => {
            print::value((value * 1e4).round() / 1e4, Unit::Metre)
        }
        (ScaleQuantity::FocusDistance, System::Metric) => print::metric(value),
        (ScaleQuantity::FocusDistance, System::Imperial) => print::imperial(value),
        (ScaleQuantity::TStop, _) => print::t_stop(value),
        (ScaleQuantity::FNumber, _) => print::f_number(value),
        (ScaleQuantity::FocalLength, _) => print::focal_length(value),
    }
}

/// A distance in both systems.
pub(crate) fn both(metres: f64) -> String {
    match metres.is_finite() {
        true => format!("{} ({})", print::metric(metres), print::imperial(metres)),
        false => print::metric(metres),
    }
}

/// A value of the curve: distances to a millimetre below 10 m, or to 1/8 inch as everywhere.
pub(super) fn fine(quantity: ScaleQuantity, system: System, value: f64) -> String {
    match (quantity, system) {
        (ScaleQuantity::FocusDistance, System::Metric) if value.is_finite() => {
            let decimals = match value {
                v if v < 10.0 => 3,
                v if v < 100.0 => 2,
                v if v < 1000.0 => 1,
                _ => 0,
            };
            format!("{value:.decimals$} m")
        }
        _ => engraved(quantity, system, value),
    }
}

/// The 95 % band around a value: `± 3.1 mm`, `± 0.12"`, `± 0.02 stop`, or its two ends where they lie at unlike distances.
pub(crate) fn band(quantity: ScaleQuantity, system: System, point: &ScalePoint) -> String {
    let ScalePoint {
        value, low, high, ..
    } = *point;
    let distance = quantity == ScaleQuantity::FocusDistance;
    if low.is_nan() || high.is_nan() || low == f64::INFINITY {
        return String::new();
    }
    let (below, above) = (value - low, high - value);
    let alike = low > 0.0 && above <= 1.5 * below && below <= 1.5 * above;
    if distance && !alike && (high.is_infinite() || above > 1e-9 * value) {
        let end = |v| match (v == 0.0, system) {
            (true, _) => "0".to_owned(),
            (false, System::Metric) => fine(quantity, system, v),
            (false, System::Imperial) => print::imperial(v),
        };
        return format!("{} to {}", end(low), end(high));
    }
    let half = below.max(above);
    match (quantity, system) {
        (ScaleQuantity::FocusDistance, System::Metric) if half < 0.995 => {
            format!("± {} mm", two_digits(half * 1000.0))
        }
        (ScaleQuantity::FocusDistance, System::Metric) => format!("± {} m", two_digits(half)),
        (ScaleQuantity::FocusDistance, System::Imperial) if half < 0.3 => {
            format!("± {}\"", two_digits(half / 0.0254))
        }
        (ScaleQuantity::FocusDistance, System::Imperial) => {
            format!("± {}'", two_digits(half / 0.3048))
        }
        (ScaleQuantity::TStop | ScaleQuantity::FNumber, _) => {
            format!("± {} stop", two_digits((high / low).log2()))
        }
        (ScaleQuantity::FocalLength, _) => format!("± {} mm", two_digits(half)),
    }
}

/// A number to two digits, at most four places behind the point.
pub(crate) fn two_digits(number: f64) -> String {
    // Rounded before it is measured: 0.0999 has as many places as 0.1.
    let rounded: f64 = format!("{number:.1e}").parse().unwrap_or(number);
    let size = rounded.abs();
    if size < 5e-5 {
        return "0".to_owned();
    }
    let digits = (1.0 - size.log10().floor()).clamp(0.0, 4.0) as usize;
    format!("{number:.digits$}")
}

/// A part of the ring's travel with its sign, to less than a step of a 16-bit encoder: `+0.00120`, `0`.
pub(super) fn travel(part: f64) -> String {
    if part.abs() < 5e-6 {
        "0".to_owned()
    } else if part.is_finite() {
        format!("{part:+.5}")
    } else {
        String::new()
    }
}

/// Four places, zeros kept: positions of a column stand below one another.
pub(crate) fn position(position: f64) -> String {
    // No ring stands at minus zero.
    let shown = if position.abs() < 5e-5 { 0.0 } else { position };
    format!("{shown:.4}")
}

/// Degrees of rotation at a ring position, where the rotation is known.
pub(crate) fn degrees(ring: &Ring, position: f64) -> String {
    ring.rotation.map_or(String::new(), |rotation| {
        format!("{:.1}°", rotation.degrees() * position)
    })
}

/// Encoder counts at a ring position, where the encoder is known.
pub(crate) fn counts(ring: &Ring, position: f64) -> String {
    let scale = ring.encoder.and_then(|encoder| encoder.scale());
    scale.map_or(String::new(), |scale| {
        format!("{:.0}", scale.from_ratio(position))
    })
}

/// A part of the travel in degrees and counts, as far as they are known: `0.19°, 39 counts`.
pub(super) fn travel_in_units(ring: &Ring, part: f64) -> Vec<String> {
    let mut units = Vec::new();
    if let Some(rotation) = ring.rotation {
        units.push(format!("{}°", two_digits(rotation.degrees() * part)));
    }
    if let Some(scale) = ring.encoder.and_then(|encoder| encoder.scale()) {
        let counts = (scale.high() - scale.low()).abs() * part;
        units.push(format!("{counts:.0} counts"));
    }
    units
}

/// What to know about a place that no mark vouches for.
pub(super) fn standing(standing: Standing) -> &'static str {
    match standing {
        Standing::Marked => "",
        Standing::Extrapolated => "beyond the marks",
        Standing::PastInfinity => "past infinity",
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;

    fn point(value: f64, low: f64, high: f64) -> ScalePoint {
        ScalePoint {
            position: 0.5,
            value,
            low,
            high,
            standing: Standing::Marked,
            sharp: None,
        }
    }

    #[test]
    fn bands() {
        use ScaleQuantity::{FocalLength, FocusDistance, TStop};
        use System::{Imperial, Metric};
        for (quantity, system, point, text) in [
            (
                FocusDistance,
                Metric,
                point(1.5, 1.4969, 1.5031),
                "± 3.1 mm",
            ),
            (
                FocusDistance,
                Imperial,
                point(1.5, 1.4969, 1.5031),
                "± 0.12\"",
            ),
            (FocusDistance, Metric, point(40.0, 38.0, 42.1), "± 2.1 m"),
            (FocusDistance, Imperial, point(40.0, 38.0, 42.1), "± 6.9'"),
            (
                FocusDistance,
                Metric,
                point(40.0, 30.0, 60.0),
                "30.00 m to 60.00 m",
            ),
            (
                FocusDistance,
                Metric,
                point(90.0, 45.0, f64::INFINITY),
                "45.00 m to ∞",
            ),
            (
                FocusDistance,
                Metric,
                point(f64::INFINITY, 120.0, f64::INFINITY),
                "120.0 m to ∞",
            ),
            (
                FocusDistance,
                Metric,
                point(f64::INFINITY, f64::INFINITY, f64::INFINITY),
                "",
            ),
            (FocusDistance, Metric, point(0.3, 0.0, 0.5), "0 to 0.500 m"),
            (TStop, Metric, point(4.0, 3.9, 4.1), "± 0.072 stop"),
            (FocalLength, Metric, point(50.0, 49.88, 50.12), "± 0.12 mm"),
            (FocalLength, Metric, point(50.0, 50.0, 50.0), "± 0 mm"),
            (FocalLength, Metric, point(f64::NAN, f64::NAN, f64::NAN), ""),
        ] {
            assert_eq!(band(quantity, system, &point), text, "{point:?}");
        }
    }

    #[test]
    fn two_digits_of_anything() {
        for (number, text) in [
            (0.0, "0"),
            (0.00123, "0.0012"),
            (0.0314, "0.031"),
            (3.13, "3.1"),
            (31.4, "31"),
            (314.0, "314"),
            (9.99, "10"),
            (0.099_99, "0.10"),
        ] {
            assert_eq!(two_digits(number), text, "{number}");
        }
    }
}
