//! Which files make one document: a file, or the numbered files of a sequence.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail};

/// The files of one document.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Group {
    /// For messages: the path, or the pattern of a sequence.
    pub name: String,
    /// The files in order. Empty for standard input.
    pub files: Vec<PathBuf>,
    /// Whether the files were found in a folder: what nobody can read is passed over there.
    pub found: bool,
}

impl Group {
    fn single(path: &Path, found: bool) -> Self {
        Group {
            name: path.display().to_string(),
            files: vec![path.to_path_buf()],
            found,
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

/// What the files of one sequence share.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
struct Series {
    folder: PathBuf,
    before: String,
    ending: String,
}

/// One file of a sequence.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
struct Member {
    number: u64,
    digits: usize,
    path: PathBuf,
    found: bool,
}

/// The series and number of `plate.1001.exr`.
fn numbered(path: &Path, found: bool) -> Option<(Series, Member)> {
    let name = path.file_name()?.to_str()?;
    let dot = name.rfind('.')?;
    let (stem, ending) = name.split_at(dot);
    let digits = stem.len() - stem.trim_end_matches(|c: char| c.is_ascii_digit()).len();
    if digits == 0 || digits > 18 {
        return None;
    }
    let (before, number) = stem.split_at(stem.len() - digits);
    // Only a separate group of digits numbers frames: `A012C003.csv` is a clip name.
    if !before.is_empty() && !before.ends_with(['.', '_', '-']) {
        return None;
    }
    let series = Series {
        folder: path.parent().unwrap_or(Path::new("")).to_path_buf(),
        before: before.to_owned(),
        ending: ending.to_owned(),
    };
    let member = Member {
        number: number.parse().ok()?,
        digits,
        path: path.to_path_buf(),
        found,
    };
    Some((series, member))
}

/// Groups the inputs as given: files, folders (all files in them), sequence patterns, `-`.
/// `sequence_endings` are the file endings of formats in which many files make one take.
pub fn group(inputs: &[PathBuf], sequence_endings: &[String]) -> Result<Vec<Group>> {
    let mut files: Vec<(PathBuf, bool)> = Vec::new();
    let mut groups = Vec::new();
    for input in inputs {
        if input.as_os_str() == "-" {
            groups.push(Group {
                name: "-".to_owned(),
                files: Vec::new(),
                found: false,
            });
        } else if input.is_dir() {
            walk(input, &mut files)?;
        } else if input.exists() {
            // Before patterns: `take #3.csv` is a file if there is one.
            files.push((input.clone(), false));
        } else if let Some(pattern) = Pattern::of(input) {
            let matches = pattern.files()?;
            if matches.is_empty() {
                bail!("{}: no file fits this pattern", input.display());
            }
            files.extend(matches.into_iter().map(|f| (f, false)));
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
        if let [only] = members.as_slice() {
            singles.push(Group::single(&only.path, only.found));
            continue;
        }
        let digits = members.iter().map(|m| m.digits).min().unwrap_or(1);
        let name = format!("{}{}{}", series.before, "#".repeat(digits), series.ending);
        groups.push(Group {
            name: series.folder.join(name).display().to_string(),
            found: members.iter().all(|m| m.found),
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

/// `plate.####.exr` or `plate.%04d.exr`.
struct Pattern {
    folder: PathBuf,
    before: String,
    ending: String,
    digits: usize,
}

impl Pattern {
    fn of(path: &Path) -> Option<Pattern> {
        let name = path.file_name()?.to_str()?;
        let (start, length, digits) = if let Some(start) = name.find('#') {
            let length = name[start..].bytes().take_while(|b| *b == b'#').count();
            (start, length, length)
        } else {
            let start = name.find('%')?;
            let rest = &name[start + 1..];
            let end = rest.find('d')?;
            let digits = match &rest[..end] {
                "" => 1,
                width => width.strip_prefix('0').unwrap_or(width).parse().ok()?,
            };
            (start, end + 2, digits)
        };
        Some(Pattern {
            folder: path.parent().unwrap_or(Path::new("")).to_path_buf(),
            before: name[..start].to_owned(),
            ending: name[start + length..].to_owned(),
            digits,
        })
    }

    fn files(&self) -> Result<Vec<PathBuf>> {
        let folder = if self.folder.as_os_str().is_empty() {
            Path::new(".")
        } else {
            &self.folder
        };
        let entries = std::fs::read_dir(folder)
            .with_context(|| format!("{}: cannot list", folder.display()))?;
        let mut files = Vec::new();
        for entry in entries {
            let entry = entry.with_context(|| format!("{}: cannot list", folder.display()))?;
            let name = entry.file_name();
            let Some(number) = name
                .to_str()
                .and_then(|n| n.strip_prefix(self.before.as_str()))
                .and_then(|n| n.strip_suffix(self.ending.as_str()))
            else {
                continue;
            };
            if number.len() >= self.digits && number.bytes().all(|b| b.is_ascii_digit()) {
                files.push(self.folder.join(name));
            }
        }
        Ok(files)
    }
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
