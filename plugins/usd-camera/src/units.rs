//! What a stage's `metersPerUnit` makes of its numbers.
//!
//! Lens and film back lengths are in tenths of a scene unit, distances in whole ones. So one
//! factor serves both: with `metersPerUnit` m, a lens length v is v · m · 100 millimetres and a
//! distance v is v · m · 100 centimetres.

/// What a stage without `metersPerUnit` means: centimetres.
pub const DEFAULT: f64 = 0.01;

/// The scene unit of a stage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scene {
    /// Millimetres of a tenth of a scene unit are `num / den`; so are centimetres of a whole one.
    num: f64,
    den: f64,
    /// Unit of a tenth, if there is one.
    tenth: Option<&'static str>,
    /// Unit of a whole, if there is one.
    whole: Option<&'static str>,
}

/// A number in the file as a number in a unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stated {
    /// Symbol of the unit.
    pub unit: &'static str,
    num: f64,
    den: f64,
}

/// metersPerUnit, the factor, and the units of a tenth and of a whole.
type Known = (f64, f64, f64, Option<&'static str>, Option<&'static str>);

/// Scene units that have a name. The factors are exact.
const KNOWN: &[Known] = &[
    (0.01, 1.0, 1.0, Some("mm"), Some("cm")),
    (1.0, 100.0, 1.0, None, Some("m")),
    (0.001, 1.0, 10.0, None, Some("mm")),
    (0.1, 10.0, 1.0, Some("cm"), None),
    (10.0, 1000.0, 1.0, Some("m"), None),
    (0.00001, 1.0, 1000.0, Some("um"), None),
    (0.000001, 1.0, 10000.0, None, Some("um")),
    (0.0254, 254.0, 100.0, None, Some("in")),
    (0.254, 254.0, 10.0, Some("in"), None),
    (0.3048, 3048.0, 100.0, None, Some("ft")),
    (3.048, 3048.0, 10.0, Some("ft"), None),
    (0.9144, 9144.0, 100.0, None, None),
    (1000.0, 100000.0, 1.0, None, None),
];

/// A 32-bit float that was meant to be 0.01 differs from it by up to 6e-8; the US survey foot
/// differs from the foot by 2e-6.
const SAME: f64 = 1e-7;

impl Scene {
    /// The scene unit of `meters_per_unit`; `None` unless it is above 0 and finite.
    pub fn new(meters_per_unit: f64) -> Option<Self> {
        if !(meters_per_unit > 0.0 && meters_per_unit.is_finite()) {
            return None;
        }
        let known = KNOWN
            .iter()
            .find(|known| ((meters_per_unit - known.0) / known.0).abs() <= SAME);
        Some(match *known.unwrap_or(&(0.0, 0.0, 0.0, None, None)) {
            (_, num, den, tenth, whole) if num > 0.0 => Scene {
                num,
                den,
                tenth,
                whole,
            },
            _ => Scene {
                num: meters_per_unit * 100.0,
                den: 1.0,
                tenth: None,
                whole: None,
            },
        })
        .filter(|scene| scene.num.is_normal())
    }

    /// A lens or film back length: in the unit it has, else scaled to millimetres.
    pub fn lens_length(self) -> Stated {
        match self.tenth {
            Some(unit) => Stated::plain(unit),
            None => self.millimetres(),
        }
    }

    /// A lens or film back length scaled to millimetres.
    pub fn millimetres(self) -> Stated {
        Stated {
            unit: "mm",
            num: self.num,
            den: self.den,
        }
    }

    /// A distance: in the unit it has, else scaled to metres.
    pub fn distance(self) -> Stated {
        match self.whole {
            Some(unit) => Stated::plain(unit),
            None => Stated {
                unit: "m",
                num: self.num,
                den: self.den * 100.0,
            },
        }
    }

    /// A distance scaled to centimetres.
    pub fn centimetres(self) -> Stated {
        Stated {
            unit: "cm",
            num: self.num,
            den: self.den,
        }
    }
}

impl Stated {
    /// A number that stands as it is.
    pub const fn plain(unit: &'static str) -> Self {
        Stated {
            unit,
            num: 1.0,
            den: 1.0,
        }
    }

    /// The number in the unit.
    pub fn read(self, value: f64) -> f64 {
        value * self.num / self.den
    }

    /// The number in the file.
    pub fn write(self, value: f64) -> f64 {
        value * self.den / self.num
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn scene(meters_per_unit: f64) -> (Stated, Stated) {
        let scene = Scene::new(meters_per_unit).unwrap();
        (scene.lens_length(), scene.distance())
    }

    #[test]
    fn centimetre_stage_has_lens_lengths_in_mm_and_distances_in_cm() {
        assert_eq!(scene(0.01), (Stated::plain("mm"), Stated::plain("cm")));
        // As a 32-bit float.
        assert_eq!(scene(f64::from(0.01_f32)), scene(0.01));
    }

    #[test]
    fn metre_stage_has_lens_lengths_scaled_to_mm_and_distances_in_m() {
        let (lens, distance) = scene(1.0);
        assert_eq!((lens.unit, lens.read(0.32)), ("mm", 32.0));
        assert_eq!(distance, Stated::plain("m"));
    }

    #[test]
    fn millimetre_stage_has_lens_lengths_scaled_to_mm_and_distances_in_mm() {
        let (lens, distance) = scene(0.001);
        assert_eq!((lens.unit, lens.read(325.0)), ("mm", 32.5));
        assert_eq!(distance, Stated::plain("mm"));
    }

    #[test]
    fn inch_stage_has_lens_lengths_scaled_to_mm_and_distances_in_inches() {
        let (lens, distance) = scene(0.0254);
        // A tenth of an inch is 2.54 mm.
        assert_eq!((lens.unit, lens.read(10.0)), ("mm", 25.4));
        assert_eq!(distance, Stated::plain("in"));
    }

    #[test]
    fn foot_stage_has_lens_lengths_scaled_to_mm_and_distances_in_feet() {
        let (lens, distance) = scene(0.3048);
        assert_eq!((lens.unit, lens.read(1.0)), ("mm", 30.48));
        assert_eq!(distance, Stated::plain("ft"));
    }

    #[test]
    fn decimetre_stage_has_lens_lengths_in_cm_and_distances_scaled_to_m() {
        let (lens, distance) = scene(0.1);
        assert_eq!(lens, Stated::plain("cm"));
        assert_eq!((distance.unit, distance.read(25.0)), ("m", 2.5));
    }

    #[test]
    fn kilometre_and_yard_stages_are_scaled() {
        let (lens, distance) = scene(1000.0);
        assert_eq!((lens.read(0.00035), distance.read(0.002)), (35.0, 2.0));
        let (lens, distance) = scene(0.9144);
        assert_eq!((lens.unit, distance.unit), ("mm", "m"));
        assert_eq!((lens.read(1.0), distance.read(100.0)), (91.44, 91.44));
    }

    #[test]
    fn the_survey_foot_is_no_foot() {
        // 1200/3937 m, the definition of the US survey foot.
        let (_, distance) = scene(1200.0 / 3937.0);
        assert_eq!(distance.unit, "m");
        assert!((distance.read(3937.0) - 1200.0).abs() < 1e-9);
    }

    #[test]
    fn writing_undoes_reading() {
        for known in KNOWN {
            let scene = Scene::new(known.0).unwrap();
            for stated in [scene.millimetres(), scene.centimetres()] {
                let factor = known.0 * 100.0;
                assert!((stated.read(1.0) / factor - 1.0).abs() < 1e-15, "{known:?}");
                assert!((stated.write(stated.read(3.7)) - 3.7).abs() < 1e-15);
            }
        }
    }

    #[test]
    fn no_scene_unit() {
        for wrong in [0.0, -0.01, f64::NAN, f64::INFINITY, 5e-324] {
            assert_eq!(Scene::new(wrong), None, "{wrong}");
        }
    }
}
