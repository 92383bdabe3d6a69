//! What the user wants checked.

use thiserror::Error;

use crate::registry;

/// What to check and how much to say.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Settings {
    accepted: Vec<&'static str>,
    /// Findings kept of each check; the rest is counted.
    pub most_findings: usize,
}

impl Default for Settings {
    /// All checks, 100 findings of each.
    fn default() -> Self {
        Self {
            accepted: Vec::new(),
            most_findings: 100,
        }
    }
}

/// A name that is no check's.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("there is no check called '{name}'{}; `ringmark explain` lists them all", near.map(|n| format!(", the nearest is '{n}'")).unwrap_or_default())]
pub struct UnknownCheck {
    /// The name asked for.
    pub name: String,
    /// The name that looks most like it.
    pub near: Option<&'static str>,
}

impl Settings {
    /// Accepts what the check called `id` finds: it is not run.
    pub fn accept(&mut self, id: &str) -> Result<(), UnknownCheck> {
        let check = registry::find(id).ok_or_else(|| UnknownCheck {
            name: id.to_owned(),
            near: registry::nearest(id),
        })?;
        self.accepted.push(check.info.id);
        Ok(())
    }

    /// Whether findings of this check are accepted.
    pub fn accepts(&self, id: &str) -> bool {
        self.accepted.contains(&id)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;

    #[test]
    fn unknown_names_are_refused_with_the_nearest() {
        let mut settings = Settings::default();
        let error = settings.accept("ring-jumps").unwrap_err();
        assert_eq!(error.near, Some("ring-jump"));
        assert!(error.to_string().contains("'ring-jump'"));
        settings.accept("ring-jump").unwrap();
        assert!(settings.accepts("ring-jump") && !settings.accepts("ring-frozen"));
    }
}
