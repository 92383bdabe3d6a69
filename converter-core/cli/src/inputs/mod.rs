//! Which files make one document: a file, or the numbered files of a sequence; and how they are named: one by one, by
//! folders, patterns and lists.

mod glob;
pub mod list;
mod walk;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use anyhow::{Result, bail};

use self::glob::Glob;
use self::walk::Walked;
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
    /// Why there is nothing to read: the input does not exist, or is a folder that cannot be listed.
    pub trouble: Option<String>,
}

impl Group {
    fn single(path: &Path, found: bool) -> Self {
        Group {
            name: path.display().to_string(),
            files: vec![path.to_path_buf()],
            found,
            account: None,
            trouble: None,
        }
    }

    fn of_trouble(path: &Path, trouble: String) -> Self {
        Group {
            trouble: Some(trouble),
            ..Group::single(path, false)
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

/// The documents that inputs name.
#[derive(Debug, Default)]
pub struct Inputs {
    /// They, in the order of their names.
    pub groups: Vec<Group>,
    /// Hidden files and folders that were not looked into.
    pub hidden: u64,
    /// Links to folders that were not followed.
    pub links: u64,
    /// Pipes, sockets and devices in folders.
    pub specials: u64,
}

impl Inputs {
    fn walked(&mut self, walked: Walked) {
        self.hidden += walked.hidden;
        self.links += walked.links;
        let closed = walked.closed.into_iter();
        let trouble = |(folder, error): (PathBuf, String)| {
            Group::of_trouble(&folder, format!("cannot list this folder: {error}"))
        };
        self.groups.extend(closed.map(trouble));
    }
}

/// Whether a path leads to something that is neither a file nor a folder.
fn is_special(path: &Path) -> bool {
    std::fs::metadata(path).is_ok_and(|found| !found.is_file() && !found.is_dir())
}

/// Groups the inputs as given: files, folders (all files in them), sequences and other patterns, `-`.
/// `sequence_endings` are the file endings of formats in which many files make one take. An input that does not exist is a
/// group that says so; if there is nothing else, it is an error.
pub fn group(inputs: &[PathBuf], sequence_endings: &[String]) -> Result<Inputs> {
    let mut files: Vec<(PathBuf, bool)> = Vec::new();
    let mut found = Inputs::default();
    let mut ranges = Vec::new();
    let all_below = |folder: &Path, files: &mut Vec<(PathBuf, bool)>, found: &mut Inputs| {
        let mut walked = Walked::default();
        walked.add(folder, usize::MAX);
        files.extend(walked.files.drain(..).map(|file| (file, true)));
        found.walked(walked);
    };
    for input in inputs {
        if input.as_os_str() == "-" {
            found.groups.push(Group {
                files: Vec::new(),
                ..Group::single(input, false)
            });
        } else if input.is_dir() {
            all_below(input, &mut files, &mut found);
        } else if input.exists() {
            // Before patterns: `take #3.csv` is a file if there is one.
            files.push((input.clone(), false));
        } else if let Some(pattern) = Pattern::of(input) {
            let matches = pattern.files()?;
            if matches.files.is_empty() {
                let trouble = "no file fits this pattern".to_owned();
                found.groups.push(Group::of_trouble(input, trouble));
            }
            ranges.extend(pattern.range(&matches));
            files.extend(matches.files.into_iter().map(|f| (f, false)));
        } else if let Some(glob) = Glob::of(input)? {
            let mut walked = glob.matches();
            if walked.files.is_empty() && walked.folders.is_empty() {
                let trouble = "no file fits this pattern".to_owned();
                found.groups.push(Group::of_trouble(input, trouble));
            }
            files.extend(walked.files.drain(..).map(|file| (file, false)));
            for folder in std::mem::take(&mut walked.folders) {
                all_below(&folder, &mut files, &mut found);
            }
            found.walked(walked);
        } else {
            let trouble = "no such file".to_owned();
            found.groups.push(Group::of_trouble(input, trouble));
        }
    }
    if let ([first, ..], true) = (found.groups.as_slice(), files.is_empty())
        && found.groups.iter().all(|group| group.trouble.is_some())
    {
        let trouble = first.trouble.as_deref().unwrap_or_default();
        bail!("{}: {trouble}", first.name);
    }
    let mut sequences: BTreeMap<Series, Vec<Member>> = BTreeMap::new();
    let mut singles = Vec::new();
    for (file, from_folder) in files {
        if is_special(&file) {
            // Opening a pipe waits until somebody writes to it, for ever.
            if from_folder {
                found.specials += 1;
            } else {
                let trouble = "is a pipe or a device; give it as standard input, -";
                found
                    .groups
                    .push(Group::of_trouble(&file, trouble.to_owned()));
            }
            continue;
        }
        match numbered(&file, from_folder) {
            Some((series, member))
                if sequence_endings
                    .iter()
                    .any(|e| series.ending[1..].eq_ignore_ascii_case(e)) =>
            {
                sequences.entry(series).or_default().push(member);
            }
            _ => singles.push(Group::single(&file, from_folder)),
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
        found.groups.push(Group {
            name: series.folder.join(name).display().to_string(),
            found: members.iter().all(|m| m.found),
            account: Some(Account::of(&members, range)),
            files: members.into_iter().map(|m| m.path).collect(),
            trouble: None,
        });
    }
    found.groups.extend(singles);
    // What was named by hand goes before the same file found in a folder: it must be read.
    found
        .groups
        .sort_by(|a, b| (&a.name, a.found).cmp(&(&b.name, b.found)));
    found.groups.dedup_by(|a, b| a.name == b.name);
    Ok(found)
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
        let groups = group(&[folder.path().to_path_buf()], &["exr".to_owned()])
            .unwrap()
            .groups;
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
            let groups = group(&[folder.path().join(pattern)], &["exr".to_owned()])
                .unwrap()
                .groups;
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
        let range = |name: &str| {
            group(&[folder.path().join(name)], &["exr".to_owned()]).map(|found| found.groups)
        };
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
        let groups = group(&[folder.path().to_path_buf()], &["exr".to_owned()])
            .unwrap()
            .groups;
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
            let groups = group(std::slice::from_ref(&path), &[]).unwrap().groups;
            assert_eq!(groups.len(), 1, "{name}");
            assert_eq!(groups[0].files, [path]);
        }
    }

    #[test]
    fn quoted_patterns_name_files_and_search_folders() {
        let folder = folder(&["x.csv", "y.csv", "notes.txt"]);
        std::fs::create_dir(folder.path().join("day 1")).unwrap();
        std::fs::write(folder.path().join("day 1/z.csv"), "").unwrap();
        let named = |pattern: &str| -> Vec<(String, bool)> {
            let found = group(&[folder.path().join(pattern)], &[]).unwrap();
            found.groups.iter().map(|g| (g.stem(), g.found)).collect()
        };
        assert_eq!(named("*.csv"), [("x".into(), false), ("y".into(), false)]);
        assert_eq!(named("day*"), [("z".into(), true)]);
    }

    #[test]
    fn what_does_not_exist_is_told_beside_what_does() {
        let folder = folder(&["x.csv", ".hidden.csv"]);
        let inputs = ["gone.csv", "none*.csv", "p.####.exr", ""].map(|i| folder.path().join(i));
        let found = group(&inputs, &[]).unwrap();
        let troubles: Vec<_> = found.groups.iter().map(|g| g.trouble.as_deref()).collect();
        assert_eq!(
            troubles,
            [
                Some("no such file"),
                Some("no file fits this pattern"),
                Some("no file fits this pattern"),
                None
            ]
        );
        assert_eq!((found.hidden, found.groups[3].found), (1, true));
        let alone = group(&inputs[..1], &[]).unwrap_err().to_string();
        assert!(alone.ends_with("gone.csv: no such file"), "{alone}");
    }
}
