//! Numbered files: how a sequence is named, which files belong to it, and which are missing.

use std::collections::HashSet;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result};
use ringmark_model::{Finding, Severity, Subject};

/// What the files of one sequence share.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
pub struct Series {
    /// Their folder.
    pub folder: PathBuf,
    /// Name up to the number.
    pub before: String,
    /// Name behind the number.
    pub ending: String,
}

/// One file of a sequence.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
pub struct Member {
    /// Its number.
    pub number: u64,
    /// Digits it is written with.
    pub digits: usize,
    /// The file.
    pub path: PathBuf,
    /// Whether it was found in a folder.
    pub found: bool,
}

/// The series and number of `plate.1001.exr`.
pub fn numbered(path: &Path, found: bool) -> Option<(Series, Member)> {
    let name = path.file_name()?.to_str()?;
    let dot = name.rfind('.')?;
    let (stem, ending) = name.split_at(dot);
    let digits = stem.len() - stem.trim_end_matches(|c: char| c.is_ascii_digit()).len();
    if digits == 0 || digits > 18 {
        return None;
    }
    let (before, number) = stem.split_at(stem.len() - digits);
    // Only a separate group of digits numbers frames: `A012C003.csv` is a clip name.
    if !before.is_empty() && !ends_apart(before) {
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

/// Whether a number behind this part of a name stands apart from it.
fn ends_apart(before: &str) -> bool {
    before.ends_with(['.', '_', '-'])
}

/// Numbers that a person asked for, and the files with them and with others.
pub struct Range {
    first: u64,
    last: u64,
    /// The files in the range.
    pub files: HashSet<PathBuf>,
    outside: Vec<u64>,
}

/// `plate.####.exr`, `plate.%04d.exr` or `plate.1001-1100.exr`.
pub struct Pattern {
    folder: PathBuf,
    before: String,
    ending: String,
    digits: usize,
    range: Option<(u64, u64)>,
}

impl Pattern {
    /// The pattern that a file name is, if it is one.
    pub fn of(path: &Path) -> Option<Pattern> {
        let name = path.file_name()?.to_str()?;
        let (start, length, digits, range) = if let Some(start) = name.find('#') {
            let length = name[start..].bytes().take_while(|b| *b == b'#').count();
            (start, length, length, None)
        } else if let Some(start) = name.find('%') {
            let rest = &name[start + 1..];
            let end = rest.find('d')?;
            let digits = match &rest[..end] {
                "" => 1,
                width => width.strip_prefix('0').unwrap_or(width).parse().ok()?,
            };
            (start, end + 2, digits, None)
        } else {
            let stem = &name[..name.rfind('.')?];
            let digits_before = |text: &str| {
                let rest = text.trim_end_matches(|c: char| c.is_ascii_digit());
                text.len() - rest.len()
            };
            let last = digits_before(stem);
            let dash = stem[..stem.len() - last].strip_suffix('-')?;
            let first = digits_before(dash);
            let start = dash.len() - first;
            let range = (
                dash[start..].parse().ok()?,
                stem[stem.len() - last..].parse().ok()?,
            );
            let before = &dash[..start];
            if range.0 > range.1 || !(before.is_empty() || ends_apart(before)) {
                return None;
            }
            (start, stem.len() - start, first, Some(range))
        };
        Some(Pattern {
            folder: path.parent().unwrap_or(Path::new("")).to_path_buf(),
            before: name[..start].to_owned(),
            ending: name[start + length..].to_owned(),
            digits,
            range,
        })
    }

    /// The file with a number; `None` for a pattern that is a range itself.
    pub fn file(&self, number: u64) -> Option<PathBuf> {
        let digits = self.digits;
        let name = format!("{}{number:0digits$}{}", self.before, self.ending);
        self.range.is_none().then(|| self.folder.join(name))
    }

    /// Numbers and files that fit, without regard to the range.
    fn all(&self) -> Result<Vec<(u64, PathBuf)>> {
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
            if number.len() >= self.digits
                && number.bytes().all(|b| b.is_ascii_digit())
                && let Ok(value) = number.parse()
            {
                files.push((value, self.folder.join(name)));
            }
        }
        Ok(files)
    }

    fn holds(&self, number: u64) -> bool {
        self.range
            .is_none_or(|(first, last)| (first..=last).contains(&number))
    }

    /// The files that fit.
    pub fn files(&self) -> Result<Matches> {
        let all = self.all()?;
        let outside = all
            .iter()
            .filter(|(number, _)| !self.holds(*number))
            .map(|(number, _)| *number)
            .collect();
        let files = all
            .into_iter()
            .filter(|(number, _)| self.holds(*number))
            .map(|(_, path)| path)
            .collect();
        Ok(Matches { files, outside })
    }

    /// The range that was asked for, with what was found.
    pub fn range(&self, matches: &Matches) -> Option<Range> {
        let (first, last) = self.range?;
        Some(Range {
            first,
            last,
            files: matches.files.iter().cloned().collect(),
            outside: matches.outside.clone(),
        })
    }
}

/// Files that fit a pattern, and the numbers of those outside its range.
pub struct Matches {
    /// The files.
    pub files: Vec<PathBuf>,
    outside: Vec<u64>,
}

/// What a sequence lacks, and what there is too much of.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Account {
    /// Frames that there should be.
    of: u64,
    missing: Runs,
    repeated: Runs,
    outside: Runs,
}

impl Account {
    /// The account of the members, sorted by number, of a sequence or of a range of one.
    pub fn of(members: &[Member], range: Option<&Range>) -> Account {
        let numbers = || members.iter().map(|m| m.number);
        let (first, last) = match range {
            Some(range) => (range.first, range.last),
            None => (
                numbers().next().unwrap_or(0),
                numbers().next_back().unwrap_or(0),
            ),
        };
        let mut missing = Runs::default();
        let mut repeated = Runs::default();
        let mut next = first;
        for number in numbers() {
            if number >= next {
                missing.add(next, number);
                next = number + 1;
            } else {
                repeated.add(number, number + 1);
            }
        }
        missing.add(next, last.saturating_add(1));
        let mut outside = Runs::default();
        let mut others: Vec<u64> = range.map(|r| r.outside.clone()).unwrap_or_default();
        others.sort_unstable();
        for number in others {
            outside.add(number, number.saturating_add(1));
        }
        Account {
            of: last.saturating_sub(first).saturating_add(1),
            missing,
            repeated,
            outside,
        }
    }

    /// One finding, if the sequence is not what it should be.
    pub fn finding(&self) -> Option<Finding> {
        let mut parts = Vec::new();
        let mut check = "files-missing";
        let mut severity = Severity::Error;
        if self.missing.count > 0 {
            parts.push(format!(
                "{} of {} files of the sequence are missing: {}",
                self.missing.count,
                self.of,
                self.missing.words()
            ));
        }
        if self.repeated.count > 0 {
            if parts.is_empty() {
                check = "files-repeated";
            }
            parts.push(format!(
                "two files have one number: {}",
                self.repeated.words()
            ));
        }
        if self.outside.count > 0 {
            if parts.is_empty() {
                (check, severity) = ("files-outside-range", Severity::Note);
            }
            parts.push(format!(
                "{} more lie outside the range: {}",
                self.outside.count,
                self.outside.words()
            ));
        }
        if parts.is_empty() {
            return None;
        }
        let help = match severity {
            Severity::Note => {
                "they are not read; name them in the range if they belong to the take"
            }
            _ => {
                "look for files that were not copied or not renamed; a range (NAME.1001-1100.exr) says which are meant"
            }
        };
        Some(Finding::new(check, severity, Subject::File, parts.join("; ")).help(help))
    }
}

/// Numbers as runs of consecutive ones.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
struct Runs {
    /// First and last of each; the first ones only.
    runs: Vec<(u64, u64)>,
    more: u64,
    count: u64,
}

impl Runs {
    /// A line of text holds so many.
    const MOST: usize = 8;

    /// Adds the numbers from `start` up to, not including, `end`.
    fn add(&mut self, start: u64, end: u64) {
        if start >= end {
            return;
        }
        self.count += end - start;
        let full = self.runs.len() >= Self::MOST;
        match self.runs.last_mut() {
            Some(run) if self.more == 0 && run.1 + 1 == start => run.1 = end - 1,
            _ if full => self.more += end - start,
            _ => self.runs.push((start, end - 1)),
        }
    }

    fn words(&self) -> String {
        let mut words: Vec<String> = self
            .runs
            .iter()
            .map(|(first, last)| match first == last {
                true => first.to_string(),
                false => format!("{first}-{last}"),
            })
            .collect();
        if self.more > 0 {
            words.push(format!("and {} more", self.more));
        }
        words.join(", ")
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn members(numbers: &[u64]) -> Vec<Member> {
        let member = |&number| Member {
            number,
            digits: 4,
            path: PathBuf::from(format!("p.{number}.exr")),
            found: false,
        };
        numbers.iter().map(member).collect()
    }

    fn said(numbers: &[u64], range: Option<(u64, u64, &[u64])>) -> Option<(String, String)> {
        let range = range.map(|(first, last, outside)| Range {
            first,
            last,
            files: HashSet::new(),
            outside: outside.to_vec(),
        });
        let finding = Account::of(&members(numbers), range.as_ref()).finding()?;
        Some((finding.check.into_owned(), finding.message))
    }

    #[test]
    fn missing_and_extra_files_are_one_finding_with_ranges() {
        assert_eq!(said(&[1001, 1002, 1003], None), None);
        assert_eq!(said(&[1001, 1002], Some((1001, 1002, &[]))), None);
        assert_eq!(
            said(&[1001, 1004, 1005, 1007], None),
            Some((
                "files-missing".into(),
                "3 of 7 files of the sequence are missing: 1002-1003, 1006".into()
            ))
        );
        assert_eq!(
            said(&[1002, 1003], Some((1001, 1005, &[1008, 999, 1007]))),
            Some((
                "files-missing".into(),
                "3 of 5 files of the sequence are missing: 1001, 1004-1005; \
                 3 more lie outside the range: 999, 1007-1008"
                    .into()
            ))
        );
        let (check, _) = said(&[1, 2], Some((1, 2, &[3]))).unwrap();
        assert_eq!(check, "files-outside-range");
        assert_eq!(
            said(&[1, 2, 2, 3], None),
            Some((
                "files-repeated".into(),
                "two files have one number: 2".into()
            ))
        );
    }

    #[test]
    fn many_holes_stay_one_line() {
        let every_third: Vec<u64> = (0..100).map(|n| 1001 + 3 * n).collect();
        let (_, message) = said(&every_third, None).unwrap();
        assert!(message.ends_with("1023-1024, and 182 more"), "{message}");
        assert!(message.starts_with("198 of 298 files"), "{message}");
    }

    #[test]
    fn ranges_are_told_from_names() {
        let range = |name: &str| Pattern::of(Path::new(name)).and_then(|p| p.range);
        assert_eq!(range("p.1001-1100.exr"), Some((1001, 1100)));
        assert_eq!(range("a/p_0001-0002.exr"), Some((1, 2)));
        for name in [
            "p.1100-1001.exr",
            "p.-5.exr",
            "p.5-.exr",
            "p.5.exr",
            "5",
            "A001-003.csv",
        ] {
            assert_eq!(range(name), None, "{name}");
        }
        let named = |name: &str| Pattern::of(Path::new(name)).unwrap().file(17);
        assert_eq!(named("a/p.####.exr"), Some("a/p.0017.exr".into()));
        assert_eq!(named("p_%03d.exr"), Some("p_017.exr".into()));
        assert_eq!(named("p.1-9.exr"), None);
        let pattern = Pattern::of(Path::new("p.0998-1002.exr")).unwrap();
        assert_eq!(
            (
                pattern.before.as_str(),
                pattern.ending.as_str(),
                pattern.digits
            ),
            ("p.", ".exr", 4)
        );
    }
}
