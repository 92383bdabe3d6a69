//! Lengths as options take them: never without a unit.

use anyhow::{Context, Result};
use ringmark_quantity::{Length, Unit, parse};

/// The text of an option as a length above zero or zero; its unit must be said.
pub fn length_option(option: &str, text: Option<&str>) -> Result<Option<Length>> {
    text.map(|text| {
        // A bare number would come back as `Unit::One`, which is no length; dioptres are one, and none that anybody measures.
        let read = parse::length(text, Unit::One).ok();
        let offset = read
            .filter(|(_, unit)| *unit != Unit::Dioptre)
            .and_then(|(number, unit)| Length::of(number, unit).ok())
            .filter(|offset| offset.metres().is_finite());
        offset.with_context(|| {
            format!("{option} {text}: expected a length with its unit, as 120mm or 4.7in")
        })
    })
    .transpose()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_unit_is_required() {
        let of = |text| length_option("--front-vertex", Some(text));
        assert_eq!(of("120mm").unwrap().unwrap(), Length::from_mm(120.0));
        assert!((of("4.7 in").unwrap().unwrap().mm() - 119.38).abs() < 1e-9);
        for text in ["120", "", "mm", "inf m", "-5 mm", "2 D"] {
            assert!(of(text).is_err(), "{text}");
        }
        assert_eq!(length_option("--front-vertex", None).unwrap(), None);
    }
}
