//! Texts as items of a list. A list of the schema is split at white space, so that a blank inside
//! a value would make two items of it.
//!
//! A blank becomes a no-break space (U+00A0), which XML does not count as white space. Texts for
//! which that is not enough are written only under names of our own, with escapes: `\\` is a
//! backslash, `\e` the empty text, `\{a0}` the character of that number.

/// What stands for a blank.
const BLANK: char = '\u{a0}';

/// Item that means 'not recorded', among numbers and among texts.
pub const ABSENT: &str = "NaN";

/// Whether XML 1.0 can hold the character.
fn is_xml(c: char) -> bool {
    matches!(c, '\t' | '\n' | '\r' | ' '..='\u{d7ff}' | '\u{e000}'..='\u{fffd}' | '\u{10000}'..)
}

/// Whether a text reads back from a plain item: [`plain`] and [`from_plain`] undo each other.
pub fn is_plain(text: &str) -> bool {
    !text.is_empty()
        && text != ABSENT
        && text
            .chars()
            .all(|c| is_xml(c) && !matches!(c, '\t' | '\n' | '\r' | BLANK))
}

/// The item of a text that [`is_plain`].
pub fn plain(text: &str) -> String {
    text.replace(' ', "\u{a0}")
}

/// The text of a plain item.
pub fn from_plain(item: &str) -> String {
    item.replace(BLANK, " ")
}

/// The item of any text, with escapes.
pub fn item(text: &str) -> String {
    if text.is_empty() {
        return "\\e".to_owned();
    }
    if text == ABSENT {
        return "\\{4e}aN".to_owned();
    }
    let mut item = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            ' ' => item.push(BLANK),
            '\\' => item.push_str("\\\\"),
            '\t' | '\n' | '\r' | BLANK => push_number(&mut item, c),
            c if !is_xml(c) => push_number(&mut item, c),
            c => item.push(c),
        }
    }
    item
}

fn push_number(text: &mut String, c: char) {
    text.push_str(&format!("\\{{{:x}}}", u32::from(c)));
}

/// The text of an item with escapes. What is no escape of ours stays as it stands.
pub fn from_item(item: &str) -> String {
    let mut text = String::with_capacity(item.len());
    let mut rest = item;
    while let Some(at) = rest.find(['\\', BLANK]) {
        text.push_str(&rest[..at]);
        rest = &rest[at..];
        if let Some(after) = rest.strip_prefix(BLANK) {
            text.push(' ');
            rest = after;
            continue;
        }
        let after = &rest[1..];
        let numbered = after
            .strip_prefix('{')
            .and_then(|digits| digits.split_once('}'))
            .and_then(|(digits, after)| {
                let number = u32::from_str_radix(digits, 16).ok()?;
                Some((char::from_u32(number)?, after))
            });
        if let Some((c, after)) = numbered {
            text.push(c);
            rest = after;
        } else if let Some(after) = after.strip_prefix('\\') {
            text.push('\\');
            rest = after;
        } else if let Some(after) = after.strip_prefix('e') {
            rest = after;
        } else {
            text.push('\\');
            rest = after;
        }
    }
    text.push_str(rest);
    text
}

/// Whether a text can stand in an attribute as it is and reads back.
pub fn is_attribute(text: &str) -> bool {
    text.chars()
        .all(|c| is_xml(c) && !matches!(c, '\t' | '\n' | '\r'))
}

/// A part of a name of ours: `stops` do not stand in it. Blanks stay: it is for attributes.
pub fn name(text: &str, stops: &[char]) -> String {
    let mut name = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\\' => name.push_str("\\\\"),
            '\t' | '\n' | '\r' | BLANK => push_number(&mut name, c),
            c if !is_xml(c) || stops.contains(&c) => push_number(&mut name, c),
            c => name.push(c),
        }
    }
    name
}

/// Appends text with the characters that XML reserves replaced.
pub fn push_xml(out: &mut Vec<u8>, text: &str) {
    for part in text.split_inclusive(['&', '<', '>', '"']) {
        let (clear, reserved) = match part.as_bytes().split_last() {
            Some((b'&', clear)) => (clear, &b"&amp;"[..]),
            Some((b'<', clear)) => (clear, &b"&lt;"[..]),
            Some((b'>', clear)) => (clear, &b"&gt;"[..]),
            Some((b'"', clear)) => (clear, &b"&quot;"[..]),
            _ => (part.as_bytes(), &b""[..]),
        };
        out.extend_from_slice(clear);
        out.extend_from_slice(reserved);
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn what_items_look_like() {
        for (text, expected) in [
            ("Halden 32", "Halden\u{a0}32"),
            ("", "\\e"),
            ("NaN", "\\{4e}aN"),
            ("a\\b", "a\\\\b"),
            (" \u{a0}\t\u{1}\u{ffff}", "\u{a0}\\{a0}\\{9}\\{1}\\{ffff}"),
        ] {
            assert_eq!(item(text), expected);
            assert_eq!(from_item(expected), text);
        }
        // Not written by us, and not lost.
        assert_eq!(from_item("C:\\x\\{zz}\\"), "C:\\x\\{zz}\\");
    }

    #[test]
    fn reserved_characters() {
        let mut out = Vec::new();
        push_xml(&mut out, "a<b>&\"c\"d");
        assert_eq!(out, b"a&lt;b&gt;&amp;&quot;c&quot;d");
    }

    fn texts() -> impl Strategy<Value = String> {
        prop_oneof![any::<String>(), "[\\\\e{}a0 ;@\u{a0}\n]{0,8}"]
    }

    proptest! {
        #[test]
        fn every_text_reads_back(text in texts()) {
            let item = item(&text);
            prop_assert_eq!(from_item(&item), text.clone());
            prop_assert!(!item.is_empty() && item != ABSENT);
            prop_assert!(!item.contains([' ', '\t', '\n', '\r']) && is_attribute(&item));
            if is_plain(&text) {
                prop_assert_eq!(from_plain(&plain(&text)), text);
            }
        }

        #[test]
        fn every_name_reads_back(text in texts()) {
            let name = name(&text, &[';', '@']);
            prop_assert!(!name.contains([';', '@']) && is_attribute(&name));
            prop_assert_eq!(from_item(&name), text);
        }
    }
}
