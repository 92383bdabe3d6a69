//! Which files make one document: a file, or the numbered files of a sequence.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail};

use crate::sequence::{Account, Member, Pattern, Series, numbered};

/// The files of one document.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Group {
    /// For messages: the path, or the pattern of a sequence.
    pub name: String,
    /// The files in order. Empty for standard input.
    pub files: Vec<PathBuf>,
    /// Whether the files were found in a folder: what nobody can read is passed over there.
    pub found: bool,
    /// Which files of a sequence are missing, or more than asked for.
    pub account: Option<Account>,
}

impl Group {
    fn single(path: &Path, found: bool) -> Self {
        Group {
            name: path.display().to_string(),
            files: vec![path.to_path_buf()],
            found,
            account: None,
        }
    }

    /// Whether this is standard input.
    pub fn is_stdin(&self) -> bool {
        self.files.is_empty()
    }

    /// Name of the document without folder and endings, for naming outputs.
    pub fn stem(&self) -> String {
        let name = Path::new(&self.name)
            .file_name()
            .map(|n| n.to_string_lossy().into_owned())
            .unwrap_or_default();
        let stem = name.split('.').next().unwrap_or_default();
        if stem.is_empty() || stem == "-" {
            "output".to_owned()
        } else {
            stem.to_owned()
        }
    }
}

/// Groups the inputs as given: files, folders (all files in them), sequence patterns, `-`.
/// `sequence_endings` are the file endings of formats in which many files make one take.
pub fn group(inputs: &[PathBuf], sequence_endings: &[String]) -> Result<Vec<Group>> {
    let mut files: Vec<(PathBuf, bool)> = Vec::new();
    let mut groups = Vec::new();
    let mut ranges = Vec::new();
    for input in inputs {
        if input.as_os_str() == "-" {
            groups.push(Group {
                name: "-".to_owned(),
                files: Vec::new(),
                found: false,
                account: None,
            });
        } else if input.is_dir() {
            walk(input, &mut files)?;
        } else if input.exists() {
            // Before patterns: `take #3.csv` is a file if there is one.
            files.push((input.clone(), false));
        } else if let Some(pattern) = Pattern::of(input) {
            let matches = pattern.files()?;
            if matches.files.is_empty() {
                bail!("{}: no file fits this pattern", input.display());
            }
            ranges.extend(pattern.range(&matches));
            files.extend(matches.files.into_iter().map(|f| (f, false)));
        } else {
            bail!("{}: no such file", input.display());
        }
    }
    let mut sequences: BTreeMap<Series, Vec<Member>> = BTreeMap::new();
    let mut singles = Vec::new();
    for (file, found) in files {
        match numbered(&file, found) {
            Some((series, member))
                if sequence_endings
                    .iter()
                    .any(|e| series.ending[1..].eq_ignore_ascii_case(e)) =>
            {
                sequences.entry(series).or_default().push(member);
            }
            _ => singles.push(Group::single(&file, found)),
        }
    }
    for (series, mut members) in sequences {
        members.sort();
        members.dedup_by(|a, b| a.path == b.path);
        let range = ranges
            .iter()
            .find(|range| members.iter().any(|m| range.files.contains(&m.path)));
        if let ([only], None) = (members.as_slice(), range) {
            singles.push(Group::single(&only.path, only.found));
            continue;
        }
        let digits = members.iter().map(|m| m.digits).min().unwrap_or(1);
        let name = format!("{}{}{}", series.before, "#".repeat(digits), series.ending);
        groups.push(Group {
            name: series.folder.join(name).display().to_string(),
            found: members.iter().all(|m| m.found),
            account: Some(Account::of(&members, range)),
            files: members.into_iter().map(|m| m.path).collect(),
        });
    }
    groups.extend(singles);
    groups.sort_by(|a, b| a.name.cmp(&b.name));
    groups.dedup_by(|a, b| a.name == b.name);
    Ok(groups)
}

/// All files below a folder, without hidden ones.
fn walk(folder: &Path, files: &mut Vec<(PathBuf, bool)>) -> Result<()> {
    let entries =
        std::fs::read_dir(folder).with_context(|| format!("{}: cannot list", folder.display()))?;
    for entry in entries {
        let entry = entry.with_context(|| format!("{}: cannot list", folder.display()))?;
        if entry.file_name().to_string_lossy().starts_with('.') {
            continue;
        }
        let path = entry.path();
        let kind = entry
            .file_type()
            .with_context(|| format!("{}: cannot read", path.display()))?;
        if kind.is_dir() {
            walk(&path, files)?;
        } else if kind.is_file() || path.is_file() {
            files.push((path, true));
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn folder(names: &[&str]) -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        for name in names {
            std::fs::write(folder.path().join(name), "").unwrap();
        }
        folder
    }

    #[test]
    fn numbered_files_make_one_take_and_clip_names_do_not() {
        let folder = folder(&[
            "p.1001.exr",
            "p.1002.exr",
            "p.1005.exr",
            "A012C003.csv",
            "A012C004.csv",
            "x_01.csv",
            "x_02.csv",
        ]);
        let groups = group(&[folder.path().to_path_buf()], &["exr".to_owned()]).unwrap();
        let shape: Vec<(String, usize)> =
            groups.iter().map(|g| (g.stem(), g.files.len())).collect();
        assert_eq!(
            shape,
            [
                ("A012C003".into(), 1),
                ("A012C004".into(), 1),
                ("p".into(), 3),
                ("x_01".into(), 1),
                ("x_02".into(), 1)
            ]
        );
    }

    #[test]
    fn hashes_and_printf_patterns_find_the_same_files() {
        let folder = folder(&[
            "p.0099.exr",
            "p.0100.exr",
            "p.10000.exr",
            "q.0099.exr",
            "p.x.exr",
        ]);
        for pattern in ["p.####.exr", "p.%04d.exr"] {
            let groups = group(&[folder.path().join(pattern)], &["exr".to_owned()]).unwrap();
            assert_eq!(groups.len(), 1, "{pattern}");
            let names: Vec<_> = groups[0]
                .files
                .iter()
                .map(|f| f.file_name().unwrap().to_str().unwrap().to_owned())
                .collect();
            assert_eq!(names, ["p.0099.exr", "p.0100.exr", "p.10000.exr"]);
        }
        assert!(group(&[folder.path().join("z.####.exr")], &[]).is_err());
    }

    #[test]
    fn a_range_takes_its_files_and_accounts_for_the_others() {
        let folder = folder(&["p.0099.exr", "p.0100.exr", "p.0102.exr", "p.0103.exr"]);
        let range = |name: &str| group(&[folder.path().join(name)], &["exr".to_owned()]);
        let groups = range("p.0100-0102.exr").unwrap();
        assert_eq!((groups.len(), groups[0].files.len()), (1, 2));
        let finding = groups[0].account.as_ref().and_then(Account::finding);
        assert_eq!(
            finding.unwrap().message,
            "1 of 3 files of the sequence are missing: 101; 2 more lie outside the range: 99, 103"
        );
        // One file is a sequence too where a range was asked for.
        let groups = range("p.0103-0104.exr").unwrap();
        assert!(groups[0].account.is_some());
        assert!(range("p.0200-0204.exr").is_err());
        let groups = group(&[folder.path().to_path_buf()], &["exr".to_owned()]).unwrap();
        let finding = groups[0].account.as_ref().and_then(Account::finding);
        assert_eq!(
            finding.unwrap().message,
            "1 of 5 files of the sequence are missing: 101"
        );
    }

    #[test]
    fn a_file_whose_name_looks_like_a_pattern_is_that_file() {
        let folder = folder(&["take #3.csv", "100%done.csv"]);
        for name in ["take #3.csv", "100%done.csv"] {
            let path = folder.path().join(name);
            let groups = group(std::slice::from_ref(&path), &[]).unwrap();
            assert_eq!(groups.len(), 1, "{name}");
            assert_eq!(groups[0].files, [path]);
        }
    }
}
