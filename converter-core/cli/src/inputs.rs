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

/// Splits `plate.1001.exr` into the text before the last group of digits, the digits and the ending.
fn numbered(path: &Path) -> Option<(PathBuf, String, String, u64, usize)> {
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
    Some((
        path.parent().unwrap_or(Path::new("")).to_path_buf(),
        before.to_owned(),
        ending.to_owned(),
        number.parse().ok()?,
        digits,
    ))
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
        } else if let Some(pattern) = Pattern::of(input) {
            let matches = pattern.files()?;
            if matches.is_empty() {
                bail!("{}: no file fits this pattern", input.display());
            }
            files.extend(matches.into_iter().map(|f| (f, false)));
        } else if input.exists() {
            files.push((input.clone(), false));
        } else {
            bail!("{}: no such file", input.display());
        }
    }
    let mut sequences: BTreeMap<(PathBuf, String, String), Vec<(u64, usize, PathBuf, bool)>> =
        BTreeMap::new();
    let mut singles = Vec::new();
    for (file, found) in files {
        match numbered(&file) {
            Some((folder, before, ending, number, digits))
                if sequence_endings
                    .iter()
                    .any(|e| ending[1..].eq_ignore_ascii_case(e)) =>
            {
                sequences
                    .entry((folder, before, ending))
                    .or_default()
                    .push((number, digits, file, found));
            }
            _ => singles.push(Group::single(&file, found)),
        }
    }
    for ((folder, before, ending), mut members) in sequences {
        members.sort();
        members.dedup_by(|a, b| a.2 == b.2);
        if let [(_, _, only, found)] = members.as_slice() {
            singles.push(Group::single(only, *found));
            continue;
        }
        let digits = members.iter().map(|m| m.1).min().unwrap_or(1);
        groups.push(Group {
            name: folder
                .join(format!("{before}{}{ending}", "#".repeat(digits)))
                .display()
                .to_string(),
            found: members.iter().all(|m| m.3),
            files: members.into_iter().map(|m| m.2).collect(),
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
            "p.1001.exr", "p.1002.exr", "p.1005.exr", "A012C003.csv", "A012C004.csv", "x_01.csv",
            "x_02.csv",
        ]);
        let groups = group(&[folder.path().to_path_buf()], &["exr".to_owned()]).unwrap();
        let shape: Vec<(String, usize)> = groups
            .iter()
            .map(|g| (g.stem(), g.files.len()))
            .collect();
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
        let folder = folder(&["p.0099.exr", "p.0100.exr", "p.10000.exr", "q.0099.exr", "p.x.exr"]);
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
}
