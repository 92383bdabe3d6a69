//! Inputs from a list: one path a line.

use std::io::Read;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail};

/// The paths in a list file, or on standard input for `-`. Empty lines and lines that begin with `#` are left out;
/// relative paths start where the program runs, as those on the command line do.
pub fn read(list: &Path) -> Result<Vec<PathBuf>> {
    let mut bytes = Vec::new();
    if list.as_os_str() == "-" {
        let read = std::io::stdin().lock().read_to_end(&mut bytes);
        read.context("cannot read the list on standard input")?;
    } else {
        let name = list.display();
        bytes = std::fs::read(list).with_context(|| format!("{name}: cannot read the list"))?;
    }
    let paths = paths(&bytes)?;
    if paths.is_empty() {
        bail!("{}: the list names no input", list.display());
    }
    Ok(paths)
}

fn paths(bytes: &[u8]) -> Result<Vec<PathBuf>> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let mut paths = Vec::new();
    for (number, line) in bytes.split(|b| *b == b'\n').enumerate() {
        let line = line.strip_suffix(b"\r").unwrap_or(line);
        if line.trim_ascii().is_empty() || line.starts_with(b"#") {
            continue;
        }
        let Some(path) = path(line) else {
            bail!("line {} of the list is no path", number + 1);
        };
        if path.as_os_str() == "-" {
            bail!(
                "line {} of the list is -: standard input is no file",
                number + 1
            );
        }
        paths.push(path);
    }
    Ok(paths)
}

/// Where paths are bytes any line without a zero is one.
#[cfg(unix)]
fn path(line: &[u8]) -> Option<PathBuf> {
    use std::os::unix::ffi::OsStrExt;
    let path = || PathBuf::from(std::ffi::OsStr::from_bytes(line));
    (!line.contains(&0)).then(path)
}

#[cfg(not(unix))]
fn path(line: &[u8]) -> Option<PathBuf> {
    std::str::from_utf8(line)
        .ok()
        .filter(|line| !line.contains('\0'))
        .map(PathBuf::from)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_line_is_a_path_with_all_its_blanks() {
        let list = "\u{feff}# day 12\r\ncards/A 1.csv\r\n\n  \n trailing \ncards/B.csv";
        let read: Vec<_> = paths(list.as_bytes()).unwrap();
        let expected = ["cards/A 1.csv", " trailing ", "cards/B.csv"].map(PathBuf::from);
        assert_eq!(read, expected);
        assert!(paths(b"a\n-\n").unwrap_err().to_string().contains("line 2"));
        assert!(paths(b"a\0b").is_err());
    }
}
