//! `ringmark.toml`: what a show or a facility expects of its lens data, and what it accepts.

mod accept;
mod read;
mod walk;

use std::path::{Path, PathBuf};

use anyhow::{Context, Result};
use ringmark_checks::{Expected, LensPattern, Rules, Settings};

pub use accept::{Acceptance, Acceptances};

use crate::hash;

/// Its file name.
pub const FILE_NAME: &str = "ringmark.toml";

/// A profile; without a file all checks are as they explain themselves.
#[derive(Debug, Default)]
pub struct Profile {
    /// Where it was read from.
    pub path: Option<PathBuf>,
    /// SHA-256 of the file: results of another profile are other results.
    pub sha256: Option<String>,
    /// Severities and thresholds of the whole show.
    pub rules: Rules,
    /// Those of single lenses.
    pub lenses: Vec<(LensPattern, Rules)>,
    /// Those of single formats, by name.
    pub formats: Vec<(String, Rules)>,
    /// What the prep says will be used.
    pub expected: Expected,
    /// Findings that are known and accepted.
    pub acceptances: Vec<Acceptance>,
}

impl Profile {
    /// The profile at `named`, else the nearest `ringmark.toml` in the working folder or above it. `none` is none.
    pub fn find(named: Option<&Path>) -> Result<Profile> {
        match named {
            Some(path) if path.as_os_str() == "none" => Ok(Profile::default()),
            Some(path) => Profile::read(path),
            None => match nearest() {
                Some(path) => Profile::read(&path),
                None => Ok(Profile::default()),
            },
        }
    }

    /// Reads a profile.
    pub fn read(path: &Path) -> Result<Profile> {
        let name = path.display().to_string();
        let text = std::fs::read_to_string(path).with_context(|| format!("{name}: cannot read"))?;
        let mut profile = Profile::parse(&text, &name)?;
        profile.path = Some(path.to_path_buf());
        profile.sha256 = Some(hash::of_bytes(text.as_bytes()));
        Ok(profile)
    }

    /// A profile from text; `name` is what errors call it.
    pub fn parse(text: &str, name: &str) -> Result<Profile> {
        read::read(text).map_err(|fault| fault.in_file(name, text))
    }

    /// Its file name for messages.
    pub fn name(&self) -> String {
        let path = self.path.as_ref();
        path.map_or_else(|| FILE_NAME.to_owned(), |path| path.display().to_string())
    }

    /// The settings of the checks for documents of a format.
    pub fn settings(&self, format: &str) -> Settings {
        let own = self.formats.iter().filter(|(name, _)| name == format);
        Settings {
            rules: own.fold(self.rules.clone(), |rules, (_, over)| rules.under(over)),
            lenses: self.lenses.clone(),
            expected: self.expected.clone(),
            ..Settings::default()
        }
    }
}

fn nearest() -> Option<PathBuf> {
    let folder = std::env::current_dir().ok()?;
    folder
        .ancestors()
        .map(|folder| folder.join(FILE_NAME))
        .find(|path| path.is_file())
}
