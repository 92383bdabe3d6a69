//! How findings name things.

use ringmark_model::{Axis, Channel, Edit, Finding, Mark, Ring, ScaleQuantity};
use ringmark_quantity::{Unit, print};

/// `0.31 m (1'0 1/4")`, `∞`.
pub(crate) fn distance(metres: f64) -> String {
    if metres.is_finite() {
        format!("{} ({})", print::metric(metres), print::imperial(metres))
    } else {
        print::metric(metres)
    }
}

/// A value of a channel with its unit.
pub(crate) fn value(channel: Channel, number: f64) -> String {
    match channel.unit() {
        _ if channel.is_distance() => distance(number),
        Some(unit) => print::value(number, unit),
        None => number.to_string(),
    }
}

/// A value of a scale with its unit.
pub(crate) fn scale_value(quantity: ScaleQuantity, number: f64) -> String {
    match quantity {
        ScaleQuantity::FocusDistance => distance(number),
        _ => print::value(number, quantity.unit()),
    }
}

/// A mark as engraved, or by its value: `mark 5'6"`, `mark 1.20 m (3'11 1/4")`.
pub(crate) fn mark(ring: &Ring, mark: &Mark) -> String {
    let plain = mark
        .engraved
        .as_deref()
        .map(str::trim)
        .filter(|text| !text.is_empty());
    match plain {
        Some("∞") => "mark ∞".to_owned(),
        Some(text) if ring.quantity == ScaleQuantity::FocusDistance && mark.value.is_finite() => {
            let unit = if bare(text) {
                format!(" {}", ring.source_unit.symbol())
            } else {
                String::new()
            };
            format!("mark {text}{unit}")
        }
        Some(text) => format!("mark {text}"),
        None => format!("mark {}", scale_value(ring.quantity, mark.value)),
    }
}

fn bare(text: &str) -> bool {
    text.bytes()
        .all(|b| b.is_ascii_digit() || b == b'.' || b == b',')
}

/// A number of metres in the unit of a scale: `3.5 ft, that is 3'6"`, `1.8 m`.
pub(crate) fn in_scale_unit(metres: f64, unit: Unit) -> String {
    match unit {
        Unit::Foot => format!(
            "{} ft, that is {}",
            short(metres / 0.3048),
            print::imperial(metres)
        ),
        Unit::FeetInches | Unit::Inch => print::imperial(metres),
        Unit::Centimetre => format!("{} cm", short(metres * 100.0)),
        Unit::Millimetre => format!("{} mm", short(metres * 1000.0)),
        _ => format!("{} m", short(metres)),
    }
}

/// At most four decimals, without zeros at the end.
pub(crate) fn short(number: f64) -> String {
    let text = format!("{number:.4}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// `2.4 % of travel`.
pub(crate) fn travel(ratio: f64) -> String {
    let per_cent = ratio.abs() * 100.0;
    let decimals = if per_cent < 10.0 { 2 } else { 1 };
    format!("{per_cent:.decimals$} % of travel")
}

/// Odds from their natural logarithm, to one digit: `20`, `3000`, `more than a million`.
pub(crate) fn odds(log: f64) -> String {
    let odds = log.exp();
    if odds > 1e6 {
        return "more than a million".to_owned();
    }
    let digit = 10f64.powf(odds.max(1.0).log10().floor());
    format!("{}", (odds / digit).round() * digit)
}

/// `1 frame`, `12 frames`.
pub(crate) fn frames(count: u64) -> String {
    if count == 1 {
        "1 frame".to_owned()
    } else {
        format!("{count} frames")
    }
}

/// The normalised ring channel of an axis.
pub(crate) const fn ring_channel(axis: Axis) -> Channel {
    match axis {
        Axis::Focus => Channel::FocusRing,
        Axis::Iris => Channel::IrisRing,
        Axis::Zoom => Channel::ZoomRing,
    }
}

/// The raw ring channel of an axis.
pub(crate) const fn raw_channel(axis: Axis) -> Channel {
    match axis {
        Axis::Focus => Channel::FocusRingRaw,
        Axis::Iris => Channel::IrisRingRaw,
        Axis::Zoom => Channel::ZoomRingRaw,
    }
}

/// Shorthands for filling findings.
pub(crate) trait Fill {
    /// The same with its message.
    fn says(self, message: impl Into<String>) -> Self;
    /// The same with another mark and what is there.
    fn and_mark(self, ring: &Ring, mark: &Mark) -> Self;
    /// The same with the likely repair.
    fn repair(self, action: impl Into<String>, evidence: impl Into<String>) -> Self;
    /// The same with the likely repair, as a program makes it too.
    fn repair_with(
        self,
        action: impl Into<String>,
        evidence: impl Into<String>,
        edits: Vec<Edit>,
    ) -> Self;
}

impl Fill for Finding {
    fn says(mut self, message: impl Into<String>) -> Self {
        self.message = message.into();
        self
    }

    fn and_mark(mut self, ring: &Ring, other: &Mark) -> Self {
        if let Some(place) = &other.place {
            self.also.push((
                place.clone(),
                format!(
                    "{} at {}",
                    mark(ring, other),
                    print::position(other.position)
                ),
            ));
        }
        self
    }

    fn repair(self, action: impl Into<String>, evidence: impl Into<String>) -> Self {
        self.repair_with(action, evidence, Vec::new())
    }

    fn repair_with(
        mut self,
        action: impl Into<String>,
        evidence: impl Into<String>,
        edits: Vec<Edit>,
    ) -> Self {
        self.repair = Some(ringmark_model::Repair {
            action: action.into(),
            evidence: evidence.into(),
            edits,
        });
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distances_come_in_both_systems() {
        assert_eq!(distance(0.31), "0.310 m (1'0 1/4\")");
        assert_eq!(distance(f64::INFINITY), "∞");
        assert_eq!(in_scale_unit(1.0668, Unit::Foot), "3.5 ft, that is 3'6\"");
        assert_eq!(in_scale_unit(1.8, Unit::Metre), "1.8 m");
    }

    #[test]
    fn travel_is_in_per_cent() {
        assert_eq!(travel(-0.0241), "2.41 % of travel");
        assert_eq!(travel(0.5), "50.0 % of travel");
    }
}
