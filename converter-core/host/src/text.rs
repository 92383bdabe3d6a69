//! Text that comes from a plugin is untrusted: it must not drive a terminal or turn the
//! order of a line around.

/// `text` fit for messages: line breaks and tabs become spaces, control characters and marks
/// that change the direction of writing are left out, and what is longer than `most` bytes
/// is cut and ends in '…'.
pub fn clean_text(text: &str, most: usize) -> String {
    let mut clean = String::with_capacity(text.len().min(most));
    for c in text.chars() {
        let c = match c {
            '\n' | '\r' | '\t' | '\u{2028}' | '\u{2029}' => ' ',
            c if is_unsafe(c) => continue,
            c => c,
        };
        if clean.len() + c.len_utf8() > most {
            clean.push('…');
            break;
        }
        clean.push(c);
    }
    clean
}

/// Cleans `text` in place; costs a look at its bytes when there is nothing to do.
pub(crate) fn clean_in_place(text: &mut String, most: usize) {
    let plain = text.len() <= most && text.bytes().all(|b| (0x20..0x7f).contains(&b));
    if !plain {
        *text = clean_text(text, most);
    }
}

/// Controls, marks of writing direction, and invisible format characters.
fn is_unsafe(c: char) -> bool {
    c.is_control()
        || matches!(c,
            '\u{061c}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}'
            | '\u{2060}'..='\u{206f}' | '\u{feff}' | '\u{fff9}'..='\u{fffb}'
            | '\u{e0000}'..='\u{e007f}')
}

/// Bytes as lower-case hexadecimal.
pub(crate) fn hexadecimal(bytes: &[u8]) -> String {
    use std::fmt::Write;
    bytes
        .iter()
        .fold(String::with_capacity(bytes.len() * 2), |mut text, byte| {
            // Writing to a String cannot fail.
            let _ = write!(text, "{byte:02x}");
            text
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn controls_and_direction_marks_are_left_out() {
        assert_eq!(
            clean_text("\u{1b}[31mred\u{7}\u{202e}txt.exe\u{9b}", 100),
            "[31mredtxt.exe"
        );
    }

    #[test]
    fn line_breaks_become_spaces_and_other_scripts_stay() {
        assert_eq!(clean_text("a\nb\tç 焦点 ∞", 100), "a b ç 焦点 ∞");
    }

    #[test]
    fn long_text_is_cut_between_characters() {
        assert_eq!(clean_text("∞∞∞", 7), "∞∞…");
        assert_eq!(clean_text("abc", 3), "abc");
    }

    #[test]
    fn in_place_gives_the_same() {
        for text in ["plain", "a\u{1b}b", "焦点", "a very long text"] {
            let mut changed = text.to_owned();
            clean_in_place(&mut changed, 8);
            assert_eq!(changed, clean_text(text, 8));
        }
    }
}
