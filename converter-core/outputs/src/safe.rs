//! Texts from files and plugins, made harmless for terminals: nothing they hold moves the cursor, changes colours or
//! turns the direction of writing.

use std::borrow::Cow;
use std::fmt::Write;

/// The text in one line with control characters shown as pictures (`␛`) and invisible or direction-changing ones by
/// number (`<U+202E>`). Texts without any are borrowed.
pub fn safe(text: &str) -> Cow<'_, str> {
    // Most texts are short and plain; this loop is several times as fast as one over characters.
    if text.bytes().all(|byte| matches!(byte, b' '..=b'~')) {
        return Cow::Borrowed(text);
    }
    if text.chars().any(is_unsafe) {
        let mut out = String::with_capacity(text.len() + 8);
        text.chars().for_each(|c| push_safe(&mut out, c));
        Cow::Owned(out)
    } else {
        Cow::Borrowed(text)
    }
}

/// The text with its line breaks kept and each line made [`safe`].
pub fn safe_lines(text: &str) -> String {
    let lines: Vec<_> = text.lines().map(safe).collect();
    lines.join("\n")
}

/// Appends one character, harmless.
pub(crate) fn push_safe(out: &mut String, c: char) {
    match c {
        // The control pictures stand in the order of the characters they show.
        '\0'..='\u{1f}' => out.push(char::from_u32(0x2400 + u32::from(c)).unwrap_or('?')),
        '\u{7f}' => out.push('␡'),
        c if is_unsafe(c) => {
            // Writing to a String does not fail.
            let _ = write!(out, "<U+{:04X}>", u32::from(c));
        }
        c => out.push(c),
    }
}

/// Control characters; line and paragraph separators; bidirectional marks, embeddings, overrides and isolates (Unicode
/// Standard Annex 9); zero-width characters, byte order marks, interlinear marks and tags, which are not seen.
const fn is_unsafe(c: char) -> bool {
    matches!(c,
        '\0'..='\u{1f}' | '\u{7f}'..='\u{9f}' | '\u{ad}' | '\u{61c}' | '\u{180e}' | '\u{200b}'..='\u{200f}'
        | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}' | '\u{fff9}'..='\u{fffb}'
        | '\u{e0000}'..='\u{e007f}')
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn shows_what_would_act() {
        assert_eq!(safe("a\u{1b}[31mb\r\n\tc\u{7f}"), "a␛[31mb␍␊␉c␡");
        assert_eq!(
            safe("x\u{202e}y\u{9b}z\u{feff}"),
            "x<U+202E>y<U+009B>z<U+FEFF>"
        );
        assert_eq!(safe_lines("one\r\ntwo\u{7}"), "one\ntwo␇");
    }

    #[test]
    fn leaves_what_people_write() {
        let text = "Halden 50 mm, 5'6 1/2\", ∞, Größe 焦点";
        assert!(matches!(safe(text), Cow::Borrowed(t) if t == text));
    }

    proptest! {
        #[test]
        fn nothing_unsafe_is_left(text in any::<String>()) {
            let out = safe(&text);
            prop_assert!(!out.chars().any(|c| c.is_control() || is_unsafe(c)));
        }
    }
}
