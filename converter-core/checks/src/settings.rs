//! What the user wants checked.

use ringmark_model::{Camera, Lens};
use ringmark_quantity::FrameRate;

use crate::rules::Rules;

/// What to check and how much to say.
#[derive(Debug, Clone, PartialEq)]
pub struct Settings {
    /// Changed severities and thresholds.
    pub rules: Rules,
    /// Those of single lenses, over [`Settings::rules`]; later ones count more.
    pub lenses: Vec<(LensPattern, Rules)>,
    /// What was prepared to be used.
    pub expected: Expected,
    /// Findings kept of each check; the rest is counted.
    pub most_findings: usize,
}

impl Default for Settings {
    /// All checks as they are, 100 findings of each.
    fn default() -> Self {
        Self {
            rules: Rules::default(),
            lenses: Vec::new(),
            expected: Expected::default(),
            most_findings: 100,
        }
    }
}

impl Settings {
    /// The rules for a lens, and for takes with it.
    pub fn rules_for(&self, lens: Option<&Lens>) -> Rules {
        let own = self
            .lenses
            .iter()
            .filter(|(pattern, _)| lens.is_some_and(|lens| pattern.fits(lens)));
        own.fold(self.rules.clone(), |rules, (_, over)| rules.under(over))
    }
}

/// Which lenses are meant: all that is given must be equal, capital letters or not.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct LensPattern {
    /// Maker.
    pub maker: Option<String>,
    /// Model.
    pub model: Option<String>,
    /// Serial number.
    pub serial: Option<String>,
}

impl LensPattern {
    /// Whether this lens is meant.
    pub fn fits(&self, lens: &Lens) -> bool {
        same(&self.maker, &lens.maker)
            && same(&self.model, &lens.model)
            && same(&self.serial, &lens.serial)
    }

    /// Its name for people.
    pub fn label(&self) -> String {
        let serial = self.serial.as_ref().map(|serial| format!("#{serial}"));
        let parts = [self.maker.clone(), self.model.clone(), serial];
        parts.into_iter().flatten().collect::<Vec<_>>().join(" ")
    }
}

/// Which cameras are meant: all that is given must be equal, capital letters or not.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct CameraPattern {
    /// Label on set, as `A`.
    pub label: Option<String>,
    /// Model.
    pub model: Option<String>,
    /// Serial number.
    pub serial: Option<String>,
}

impl CameraPattern {
    /// Whether this camera is meant.
    pub fn fits(&self, camera: &Camera) -> bool {
        same(&self.label, &camera.label)
            && same(&self.model, &camera.model)
            && same(&self.serial, &camera.serial)
    }
}

/// What the prep says will be used on the show; an empty list, and what is not given, expects nothing.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Expected {
    /// Lenses.
    pub lenses: Vec<LensPattern>,
    /// Cameras.
    pub cameras: Vec<CameraPattern>,
    /// Frame rate of the show.
    pub frame_rate: Option<FrameRate>,
    /// Day before which calibrations do not count, as `2026-03-01`.
    pub calibrated_since: Option<String>,
}

/// Whether what is wanted is what was found; nothing wanted fits all.
fn same(wanted: &Option<String>, found: &Option<String>) -> bool {
    match (wanted, found) {
        (None, _) => true,
        (Some(wanted), Some(found)) => wanted.trim().to_lowercase() == found.trim().to_lowercase(),
        (Some(_), None) => false,
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;
    use crate::rules::Level;

    #[test]
    fn rules_of_a_lens_lie_over_those_of_the_show() {
        let lens = |serial: &str| Lens {
            model: Some("Brannvik 40".to_owned()),
            serial: Some(serial.to_owned()),
            ..Lens::default()
        };
        let mut off = Rules::default();
        off.set_level("ring-jump", Level::Off).unwrap();
        let settings = Settings {
            lenses: vec![(
                LensPattern {
                    serial: Some("bv40-0117".to_owned()),
                    ..LensPattern::default()
                },
                off,
            )],
            ..Settings::default()
        };
        assert!(
            !settings
                .rules_for(Some(&lens("BV40-0117")))
                .runs("ring-jump")
        );
        assert!(
            settings
                .rules_for(Some(&lens("BV40-0118")))
                .runs("ring-jump")
        );
        assert!(settings.rules_for(Some(&Lens::default())).runs("ring-jump"));
        assert!(settings.rules_for(None).runs("ring-jump"));
    }
}
