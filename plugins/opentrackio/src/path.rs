//! Names of places in a sample: `lens.distortion.0.radial.3`.
//!
//! Keys and array indices are joined by dots. Where a key could be mistaken for something
//! else it carries a backslash: `a\.b` is one key with a dot, `\0` the key "0" and not the
//! first element of an array, `\e` the empty key, `\\` a backslash.

use std::borrow::Cow;

/// One step from a value to a value inside it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Step<'a> {
    /// Member of an object.
    Key(Cow<'a, str>),
    /// Element of an array.
    Index(usize),
}

/// Appends a step to a key.
pub fn push_key(path: &mut String, key: &str) {
    separate(path);
    if key.is_empty() {
        path.push_str("\\e");
        return;
    }
    if key.bytes().all(|b| b.is_ascii_digit()) {
        path.push('\\');
    }
    for c in key.chars() {
        if matches!(c, '.' | '\\') {
            path.push('\\');
        }
        path.push(c);
    }
}

/// Appends a step to an array element.
pub fn push_index(path: &mut String, index: usize) {
    separate(path);
    path.push_str(itoa::Buffer::new().format(index));
}

fn separate(path: &mut String) {
    if !path.is_empty() {
        path.push('.');
    }
}

/// The steps of a name; `None` if no place in a sample is written so.
pub fn parse(name: &str) -> Option<Vec<Step<'_>>> {
    let mut steps = Vec::new();
    let mut rest = Some(name);
    while let Some(text) = rest {
        let (segment, after) = split(text);
        steps.push(step(segment)?);
        rest = after;
    }
    // Only the one spelling that reading gives leads back to the same place.
    let mut again = String::new();
    for step in &steps {
        match step {
            Step::Key(key) => push_key(&mut again, key),
            Step::Index(index) => push_index(&mut again, *index),
        }
    }
    (again == name).then_some(steps)
}

/// The text up to the next dot that separates, and what follows it.
fn split(text: &str) -> (&str, Option<&str>) {
    let mut escaped = false;
    for (at, byte) in text.bytes().enumerate() {
        match byte {
            _ if escaped => escaped = false,
            b'\\' => escaped = true,
            b'.' => return (&text[..at], Some(&text[at + 1..])),
            _ => {}
        }
    }
    (text, None)
}

fn step(segment: &str) -> Option<Step<'_>> {
    if segment == "\\e" {
        return Some(Step::Key(Cow::Borrowed("")));
    }
    if segment.is_empty() {
        return None;
    }
    if segment.bytes().all(|b| b.is_ascii_digit()) {
        return segment.parse().ok().map(Step::Index);
    }
    if !segment.contains('\\') {
        return Some(Step::Key(Cow::Borrowed(segment)));
    }
    let mut key = String::with_capacity(segment.len());
    let mut chars = segment.chars();
    while let Some(c) = chars.next() {
        key.push(if c == '\\' { chars.next()? } else { c });
    }
    Some(Step::Key(Cow::Owned(key)))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn odd_keys_lead_back() {
        let keys = [
            "a", "a.b", "0", "12", "", "\\", "e", "\\e", ".", "0a", "é.\\0",
        ];
        for first in keys {
            for second in keys {
                let mut path = String::new();
                push_key(&mut path, first);
                push_index(&mut path, 7);
                push_key(&mut path, second);
                let expected = [
                    Step::Key(first.into()),
                    Step::Index(7),
                    Step::Key(second.into()),
                ];
                assert_eq!(parse(&path).unwrap(), expected, "{path}");
            }
        }
    }

    #[test]
    fn names_with_another_spelling_are_no_places() {
        for name in [
            "",
            ".",
            "a.",
            ".a",
            "a..b",
            "01",
            "\\a",
            "a\\",
            "99999999999999999999",
        ] {
            assert_eq!(parse(name), None, "{name}");
        }
    }
}
