//! The header: `name [unit]` cells, and which byte stands between them.

use crate::records::Cell;

/// `name [unit]` as name and unit; the unit is `None` without brackets, and empty for `[]`.
///
/// Brackets inside the unit may nest. One space between name and bracket belongs to neither.
pub fn split_unit(text: &str) -> (&str, Option<&str>) {
    let Some(inner) = text.strip_suffix(']') else {
        return (text, None);
    };
    let mut depth = 1usize;
    for (at, character) in inner.char_indices().rev() {
        match character {
            ']' => depth += 1,
            '[' => depth -= 1,
            _ => {}
        }
        if depth == 0 {
            let name = &inner[..at];
            return (
                name.strip_suffix(' ').unwrap_or(name),
                Some(&inner[at + 1..]),
            );
        }
    }
    (text, None)
}

/// The delimiter that the first line of `bytes` shows: the one of tab, semicolon and comma that
/// stands most often outside of quoted cells, which may hold line ends. `None` where none stands.
pub fn detect_delimiter(bytes: &[u8]) -> Option<u8> {
    const CANDIDATES: [u8; 3] = *b"\t;,";
    let mut counts = [0usize; 3];
    let mut inside = false;
    let mut at_start = true;
    let mut quoted = false;
    for &byte in bytes {
        if byte == b'\n' && !inside {
            break;
        }
        if byte == b'"' && (quoted || at_start) {
            // A doubled quote closes and opens again.
            inside = !inside;
            quoted = true;
        }
        at_start = false;
        if !inside && let Some(which) = CANDIDATES.iter().position(|&c| c == byte) {
            counts[which] += 1;
            at_start = true;
            quoted = false;
        }
    }
    // Later ones must be more frequent to win: a comma is the likeliest to be part of a name.
    let mut best = 0;
    for which in 1..CANDIDATES.len() {
        if counts[which] > counts[best] {
            best = which;
        }
    }
    (counts[best] > 0).then_some(CANDIDATES[best])
}

/// The header as people see it: trimmed where it was not quoted.
pub fn shown(cell: &Cell) -> &str {
    if cell.quoted {
        &cell.text
    } else {
        cell.text.trim()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_and_units() {
        for (text, name, unit) in [
            ("focus distance [m]", "focus distance", Some("m")),
            ("focus distance[ft-in]", "focus distance", Some("ft-in")),
            ("frame", "frame", None),
            ("n []", "n", Some("")),
            ("[m]", "", Some("m")),
            ("a [b] [text]", "a [b]", Some("text")),
            ("a [b[c]]", "a", Some("b[c]")),
            ("a]", "a]", None),
            ("a  [m]", "a ", Some("m")),
            ("a [m] ", "a [m] ", None),
        ] {
            assert_eq!(split_unit(text), (name, unit), "{text}");
        }
    }

    #[test]
    fn delimiters() {
        for (line, expected) in [
            ("a,b;c,d", Some(b',')),
            ("a;b;c, or d", Some(b';')),
            ("a\tb,c", Some(b'\t')),
            ("\"a,b,c\";d", Some(b';')),
            ("mark [\"];a,b;c", Some(b';')),
            ("frame", None),
            ("frame\n1,2", None),
            ("\"a\nb\";c", Some(b';')),
            ("a,\"\"\"\t\n\"", Some(b',')),
        ] {
            assert_eq!(detect_delimiter(line.as_bytes()), expected, "{line}");
        }
    }
}
