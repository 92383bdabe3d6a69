//! Figures from handbooks and public pages, each with its source: see `tests/standards/handbook/README.md`.
#![allow(clippy::unwrap_used, missing_docs)]

use std::collections::BTreeMap;

use ringmark_optics::{
    CircleOfConfusion, FieldOfView, FocusedLens, Transmittance, hyperfocal, magnification, stops,
};
use ringmark_quantity::{
    DistanceReference, EffectiveFocalLength, FNumber, FocusDistance, Length, PinholeFocalLength,
    TStop,
};
use serde_json::Value;

const FIGURES: &str = include_str!("../../../tests/standards/handbook/rows.json");

/// Handbooks count from the lens.
const LENS: DistanceReference = DistanceReference::EntrancePupil;

struct Row<'a>(&'a Value);

impl Row<'_> {
    fn has(&self, name: &str) -> bool {
        self.0.get(name).is_some()
    }

    fn number(&self, name: &str) -> f64 {
        match &self.0[name] {
            Value::String(text) if text == "inf" => f64::INFINITY,
            other => other
                .as_f64()
                .unwrap_or_else(|| panic!("{name} in {}", self.0)),
        }
    }

    fn focal_length(&self) -> EffectiveFocalLength {
        EffectiveFocalLength::from_mm(self.number("focal_length_mm")).unwrap()
    }

    fn stop(&self) -> FNumber {
        FNumber::new(self.number("f_number")).unwrap()
    }

    fn circle(&self) -> CircleOfConfusion {
        CircleOfConfusion::from_mm(self.number("circle_mm")).unwrap()
    }

    fn hyperfocal(&self) -> FocusDistance {
        hyperfocal(self.focal_length(), self.stop(), self.circle(), None, LENS).unwrap()
    }

    /// Near and far limit in millimetres.
    fn limits(&self) -> (f64, f64) {
        let focus = if self.0["focus_mm"] == "hyperfocal" {
            self.hyperfocal()
        } else {
            FocusDistance::new(self.number("focus_mm") / 1000.0, LENS).unwrap()
        };
        let depth = FocusedLens::thin(self.focal_length(), focus)
            .unwrap()
            .depth_of_field(self.stop(), self.circle())
            .unwrap();
        (depth.near.metres() * 1000.0, depth.far.metres() * 1000.0)
    }

    fn magnification(&self) -> f64 {
        if self.has("magnification") {
            return self.number("magnification");
        }
        let object = if self.has("object_mm") {
            self.number("object_mm")
        } else {
            let f = self.focal_length();
            let m = self.number("image_mm") / f.mm() - 1.0;
            assert!(
                (magnification::extension(f, m) - (self.number("image_mm") - f.mm())).abs() < 1e-12
            );
            magnification::object_distance(f, m)
        };
        let object = FocusDistance::new(object / 1000.0, LENS).unwrap();
        magnification::magnification(self.focal_length(), Length::from_mm(0.0), object).unwrap()
    }

    /// A field of view of one size, laid along the side that is asked for.
    fn field_of_view(&self, quantity: &str) -> f64 {
        let f = PinholeFocalLength::from_mm(self.number("focal_length_mm")).unwrap();
        let size = self.number("size_mm");
        let squeeze = if self.has("squeeze") {
            self.number("squeeze")
        } else {
            1.0
        };
        let of = |width, height| FieldOfView::new(f, width, height, squeeze).unwrap();
        match quantity {
            "horizontal field of view" => of(size, 1.0).horizontal,
            "vertical field of view" => of(1.0, size).vertical,
            // A diagonal of 5 parts has sides of 4 and 3.
            _ => of(size * 0.8, size * 0.6).diagonal,
        }
        .degrees()
    }

    fn result(&self, quantity: &str) -> f64 {
        match quantity {
            "hyperfocal" => self.hyperfocal().metres() * 1000.0,
            "near limit" => self.limits().0,
            "far limit" => self.limits().1,
            "total depth of field" => self.limits().1 - self.limits().0,
            "magnification" => self.magnification(),
            "image distance" => {
                let f = self.focal_length();
                f.mm() + magnification::extension(f, self.magnification())
            }
            "object distance" => {
                magnification::object_distance(self.focal_length(), self.magnification())
            }
            "T-stop" => self.transmittance().t_stop(self.stop()).unwrap().value(),
            "f-number" => {
                let t = TStop::new(self.number("t_stop")).unwrap();
                self.transmittance().f_number(t).unwrap().value()
            }
            "effective f-number" => {
                let ratio = self.number("pupil_ratio");
                stops::effective_f_number(self.stop(), self.magnification(), ratio)
                    .unwrap()
                    .value()
            }
            field => {
                assert!(field.ends_with("field of view"), "{field}");
                self.field_of_view(field)
            }
        }
    }

    fn transmittance(&self) -> Transmittance {
        Transmittance::new(self.number("transmittance")).unwrap()
    }

    /// The figure and whether it comes out.
    fn follows(&self) -> (f64, bool) {
        let (found, expected) = (
            self.result(self.0["quantity"].as_str().unwrap()),
            self.number("expected"),
        );
        let mut tolerance = self.number("tolerance");
        if self.0["form"] == "short" {
            tolerance += self.number("focal_length_mm") / 2.0;
        }
        let follows = found == expected || (found - expected).abs() <= tolerance;
        (found, follows)
    }
}

#[test]
fn published_figures_come_out() {
    let figures: Value = serde_json::from_str(FIGURES).unwrap();
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    for row in figures["rows"].as_array().unwrap() {
        let (found, follows) = Row(row).follows();
        assert!(follows, "{found} from {row}");
        *counts.entry(row["quantity"].as_str().unwrap()).or_default() += 1;
    }
    assert_eq!(counts.values().sum::<usize>(), 100);
    for (quantity, at_least) in [
        ("hyperfocal", 16),
        ("near limit", 26),
        ("far limit", 11),
        ("horizontal field of view", 12),
        ("diagonal field of view", 6),
    ] {
        assert!(counts[quantity] >= at_least, "{quantity}: {counts:?}");
    }
}

#[test]
fn published_figures_that_are_wrong_do_not_come_out() {
    let figures: Value = serde_json::from_str(FIGURES).unwrap();
    let wrong = figures["wrong"].as_array().unwrap();
    assert_eq!(wrong.len(), 6);
    for row in wrong {
        let (found, follows) = Row(row).follows();
        assert!(!follows, "{found} from {row}");
    }
}
