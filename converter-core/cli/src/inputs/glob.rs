//! File patterns that no shell has resolved: quoted ones, and those in lists.

use std::path::{Component, Path, PathBuf};

use anyhow::{Context, Result};
use globset::{GlobBuilder, GlobMatcher};

use super::walk::Walked;

/// A pattern with `*`, `?`, `[a-z]`, `{a,b}` or `**`, which stands for any number of folders.
pub struct Glob {
    /// The folder where all it can fit begins.
    folder: PathBuf,
    /// Folders below it in which files can fit.
    deep: usize,
    matcher: GlobMatcher,
}

impl Glob {
    /// The pattern that an input is; `None` if nothing in it is special.
    pub fn of(input: &Path) -> Result<Option<Glob>> {
        let Some(text) = input.to_str().filter(|text| is_special(text)) else {
            return Ok(None);
        };
        let components: Vec<Component<'_>> = input.components().collect();
        let plain = |c: &&Component<'_>| c.as_os_str().to_str().is_some_and(|c| !is_special(c));
        let folder: PathBuf = components.iter().take_while(plain).collect();
        let below = components.len() - folder.components().count();
        let deep = if text.contains("**") {
            usize::MAX
        } else {
            below.saturating_sub(1)
        };
        let pattern: PathBuf = components.iter().collect();
        let matcher = GlobBuilder::new(&pattern.to_string_lossy())
            .literal_separator(true)
            .build()
            .with_context(|| format!("{text}: is no file and no pattern"))?
            .compile_matcher();
        Ok(Some(Glob {
            folder,
            deep,
            matcher,
        }))
    }

    /// The files and folders that fit, with what was passed over on the way.
    pub fn matches(&self) -> Walked {
        let mut walked = Walked::default();
        walked.add(&self.folder, self.deep);
        walked.files.retain(|path| self.matcher.is_match(path));
        walked.folders.retain(|path| self.matcher.is_match(path));
        if self.deep < usize::MAX {
            // Nobody asked for all that is there.
            (walked.hidden, walked.links) = (0, 0);
        }
        walked
    }
}

fn is_special(text: &str) -> bool {
    text.contains(['*', '?', '[', '{'])
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn patterns_find_what_a_shell_would_leave_to_us() {
        let top = tempfile::tempdir().unwrap();
        for folder in ["day1/A", "day1/B", "day2", ".trash"] {
            std::fs::create_dir_all(top.path().join(folder)).unwrap();
        }
        for file in [
            "x.csv",
            "day1/x.csv",
            "day1/A/1.csv",
            "day1/A/2.txt",
            "day1/B/1.csv",
            "day2/3.csv",
            "day2/.4.csv",
            ".trash/5.csv",
        ] {
            std::fs::write(top.path().join(file), "").unwrap();
        }
        let found = |pattern: &str| -> Vec<String> {
            let glob = Glob::of(&top.path().join(pattern)).unwrap().unwrap();
            let Walked { files, folders, .. } = glob.matches();
            let inner = |file: PathBuf| file.strip_prefix(top.path()).unwrap().to_owned();
            files
                .into_iter()
                .chain(folders)
                .map(|file| inner(file).to_str().unwrap().to_owned())
                .collect()
        };
        assert_eq!(found("*.csv"), ["x.csv"]);
        assert_eq!(found("*/*.csv"), ["day1/x.csv", "day2/3.csv"]);
        assert_eq!(found("day1/?/1.csv"), ["day1/A/1.csv", "day1/B/1.csv"]);
        assert_eq!(found("day[2-9]/*"), ["day2/3.csv"]);
        assert_eq!(
            found("day1/A/*.{csv,txt}"),
            ["day1/A/1.csv", "day1/A/2.txt"]
        );
        assert_eq!(
            found("**/*.csv"),
            [
                "day1/A/1.csv",
                "day1/B/1.csv",
                "day1/x.csv",
                "day2/3.csv",
                "x.csv"
            ]
        );
        assert_eq!(found("day1/**/1.csv"), ["day1/A/1.csv", "day1/B/1.csv"]);
        assert_eq!(found("day*"), ["day1", "day2"]);
        assert!(found("day3*/*").is_empty());
    }

    #[test]
    fn plain_names_are_no_patterns_and_broken_patterns_are_told() {
        assert!(Glob::of(Path::new("cards/A012C003.csv")).unwrap().is_none());
        let error = Glob::of(Path::new("cards/[a.csv")).err().unwrap();
        assert!(
            format!("{error:#}").contains("cards/[a.csv: is no file and no pattern: "),
            "{error:#}"
        );
    }
}
