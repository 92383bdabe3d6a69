//! What a person changed of the checks: how grave their findings are, and where their thresholds lie.

use ringmark_model::Severity;
use thiserror::Error;

use crate::info::{CheckInfo, ThresholdInfo};
use crate::registry;

/// How grave the findings of a check are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Level {
    /// The check is not run.
    Off,
    /// All its findings have this severity.
    As(Severity),
}

/// Changes of severities and thresholds; without any, checks are as they explain themselves.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Rules {
    levels: Vec<(&'static str, Level)>,
    thresholds: Vec<(&'static str, &'static str, f64)>,
}

/// What cannot be set.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum RuleError {
    /// A name that is no check's.
    #[error(
        "there is no check called '{name}'{}; `ringmark explain` lists them all",
        nearest(near)
    )]
    UnknownCheck {
        /// The name asked for.
        name: String,
        /// The name that looks most like it.
        near: Option<&'static str>,
    },
    /// A name that is no threshold's.
    #[error(
        "{check} has no threshold called '{name}'{}; `ringmark explain {check}` lists them",
        nearest(near)
    )]
    UnknownThreshold {
        /// The check.
        check: &'static str,
        /// The name asked for.
        name: String,
        /// The name that looks most like it.
        near: Option<&'static str>,
    },
    /// NaN or infinity.
    #[error("{check}: the threshold '{name}' is a number, not {value}")]
    NotFinite {
        /// The check.
        check: &'static str,
        /// The threshold.
        name: &'static str,
        /// What was asked for.
        value: f64,
    },
    /// A threshold that is a size, below 0.
    #[error("{check}: the threshold '{name}' is 0 or more, not {value}")]
    Negative {
        /// The check.
        check: &'static str,
        /// The threshold.
        name: &'static str,
        /// What was asked for.
        value: f64,
    },
}

fn nearest(near: &Option<&'static str>) -> String {
    near.map(|name| format!(", the nearest is '{name}'"))
        .unwrap_or_default()
}

impl Rules {
    /// Fails for a name that is no check's.
    pub fn knows(check: &str) -> Result<(), RuleError> {
        find(check).map(drop)
    }

    /// Fails for a name that is no threshold of this check.
    pub fn knows_threshold(check: &str, name: &str) -> Result<(), RuleError> {
        find_threshold(check, name).map(drop)
    }

    /// Sets how grave the findings of a check are.
    pub fn set_level(&mut self, check: &str, level: Level) -> Result<(), RuleError> {
        let id = find(check)?.id;
        self.levels.retain(|(other, _)| *other != id);
        self.levels.push((id, level));
        Ok(())
    }

    /// Sets a threshold, in the unit in which its check explains it.
    pub fn set_threshold(&mut self, check: &str, name: &str, value: f64) -> Result<(), RuleError> {
        let (info, threshold) = find_threshold(check, name)?;
        if !value.is_finite() {
            return Err(RuleError::NotFinite {
                check: info.id,
                name: threshold.name,
                value,
            });
        }
        // Most are sizes: a negative one would fire everywhere, or nowhere.
        if value < 0.0 && threshold.default >= 0.0 {
            return Err(RuleError::Negative {
                check: info.id,
                name: threshold.name,
                value,
            });
        }
        let key = (info.id, threshold.name);
        self.thresholds
            .retain(|(check, name, _)| (*check, *name) != key);
        self.thresholds.push((key.0, key.1, value));
        Ok(())
    }

    /// These rules, where `over` says nothing else.
    pub fn under(&self, over: &Rules) -> Rules {
        let mut all = self.clone();
        for (check, level) in &over.levels {
            all.levels.retain(|(other, _)| other != check);
            all.levels.push((check, *level));
        }
        for (check, name, value) in &over.thresholds {
            all.thresholds
                .retain(|(other, threshold, _)| (other, threshold) != (check, name));
            all.thresholds.push((check, name, *value));
        }
        all
    }

    /// How grave the findings of a check are, if that was changed.
    pub fn level(&self, check: &str) -> Option<Level> {
        let set = self.levels.iter().find(|(id, _)| *id == check);
        set.map(|(_, level)| *level)
    }

    /// Whether a check is run.
    pub fn runs(&self, check: &str) -> bool {
        self.level(check) != Some(Level::Off)
    }

    /// The value of a threshold.
    pub fn threshold(&self, of: &ThresholdInfo) -> f64 {
        let set = self
            .thresholds
            .iter()
            .find(|(check, name, _)| (*check, *name) == (of.check, of.name));
        set.map_or(of.default, |(_, _, value)| *value)
    }
}

fn find_threshold(
    check: &str,
    name: &str,
) -> Result<(&'static CheckInfo, &'static ThresholdInfo), RuleError> {
    let info = find(check)?;
    if let Some(threshold) = info.thresholds.iter().find(|t| t.name == name) {
        return Ok((info, threshold));
    }
    let names = info.thresholds.iter().map(|t| t.name);
    Err(RuleError::UnknownThreshold {
        check: info.id,
        name: name.to_owned(),
        near: registry::nearest_of(name, names),
    })
}

fn find(check: &str) -> Result<&'static CheckInfo, RuleError> {
    match registry::find(check) {
        Some(found) => Ok(&found.info),
        None => Err(RuleError::UnknownCheck {
            name: check.to_owned(),
            near: registry::nearest(check),
        }),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;

    #[test]
    fn unknown_names_are_refused_with_the_nearest() {
        let mut rules = Rules::default();
        let error = rules.set_level("ring-jumps", Level::Off).unwrap_err();
        assert_eq!(
            error.to_string(),
            "there is no check called 'ring-jumps', the nearest is 'ring-jump'; `ringmark explain` lists them all"
        );
        let error = rules.set_threshold("ring-jump", "wrp", 0.4).unwrap_err();
        assert_eq!(
            error.to_string(),
            "ring-jump has no threshold called 'wrp', the nearest is 'wrap'; `ringmark explain ring-jump` lists them"
        );
        assert!(rules.set_threshold("ring-jump", "wrap", f64::NAN).is_err());
        assert_eq!(rules, Rules::default());
    }

    #[test]
    fn the_nearer_rule_counts() {
        let wrap = |rules: &Rules| {
            let check = registry::find("ring-jump").unwrap();
            let threshold = check.info.thresholds.iter().find(|t| t.name == "wrap");
            rules.threshold(threshold.unwrap())
        };
        let mut show = Rules::default();
        assert_eq!(wrap(&show), 0.5);
        show.set_threshold("ring-jump", "wrap", 0.6).unwrap();
        show.set_level("ring-jump", Level::As(Severity::Note))
            .unwrap();
        let mut lens = Rules::default();
        lens.set_level("ring-jump", Level::Off).unwrap();
        let both = show.under(&lens);
        assert_eq!(
            (wrap(&both), both.level("ring-jump")),
            (0.6, Some(Level::Off))
        );
        lens.set_threshold("ring-jump", "wrap", 0.7).unwrap();
        assert_eq!(wrap(&show.under(&lens)), 0.7);
        assert!(show.runs("ring-jump") && !both.runs("ring-jump"));
    }
}
