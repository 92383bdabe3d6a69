//! Names of files as URI references (RFC 3986): relative ones with forward slashes where that is possible.

use std::fmt::Write;

/// The URI reference of a file. Names below the folder `base` become relative to it; other absolute ones become `file:` URIs.
pub(crate) fn of_file(name: &str, base: Option<&str>) -> String {
    let name = slashes(name);
    let below = base.and_then(|base| {
        let base = slashes(base);
        let rest = name.strip_prefix(base.trim_end_matches('/'))?;
        rest.strip_prefix('/').map(str::to_owned)
    });
    let name = below.unwrap_or(name);
    let name = name.strip_prefix("./").unwrap_or(&name);
    let drive = name.as_bytes().get(1) == Some(&b':') && name.as_bytes().get(2) == Some(&b'/');
    match name.strip_prefix('/') {
        Some(rest) => format!("file:///{}", encoded(rest, false)),
        None if drive => format!("file:///{}", encoded(name, true)),
        None => encoded(name, false),
    }
}

/// Separators of Windows are turned; elsewhere a backslash is a character like others.
fn slashes(name: &str) -> String {
    if cfg!(windows) || name.as_bytes().get(1..3) == Some(b":\\") {
        name.replace('\\', "/")
    } else {
        name.to_owned()
    }
}

/// Everything but slashes and the unreserved characters of RFC 3986, section 2.3, percent-encoded. A colon is encoded too,
/// so that the first folder is no scheme, but for that of a `drive`.
fn encoded(name: &str, drive: bool) -> String {
    let mut out = String::with_capacity(name.len() + 8);
    for (at, byte) in name.bytes().enumerate() {
        match byte {
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' | b'/' => {
                out.push(char::from(byte));
            }
            b':' if drive && at == 1 => out.push(':'),
            _ => {
                // Writing to a String does not fail.
                let _ = write!(out, "%{byte:02X}");
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_become_references() {
        let base = Some("/shows/dust/");
        for (name, uri) in [
            ("cards/A 001.csv", "cards/A%20001.csv"),
            ("./cards/A001.csv", "cards/A001.csv"),
            ("/shows/dust/cards/A001.csv", "cards/A001.csv"),
            ("/shows/dusty/A001.csv", "file:///shows/dusty/A001.csv"),
            ("../A001.####.exr", "../A001.%23%23%23%23.exr"),
            ("a:b?.csv", "a%3Ab%3F.csv"),
            ("C:\\cards\\é.csv", "file:///C:/cards/%C3%A9.csv"),
            ("100%.csv", "100%25.csv"),
        ] {
            assert_eq!(of_file(name, base), uri);
        }
    }
}
