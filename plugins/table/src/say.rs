//! Words and places for messages.

use ringmark_sdk::Place;

/// Longest excerpt of a file in a message, in characters.
const LONGEST: usize = 60;

/// `text` in quotes, control characters escaped, cut when long.
pub fn quoted(text: &str) -> String {
    let mut shown = String::from("“");
    for (count, character) in text.chars().enumerate() {
        if count == LONGEST {
            shown.push('…');
            break;
        }
        if character.is_control() {
            shown.extend(character.escape_default());
        } else {
            shown.push(character);
        }
    }
    shown.push('”');
    shown
}

/// Texts in quotes, separated by commas, cut after a dozen.
pub fn list<'a>(texts: impl IntoIterator<Item = &'a str>) -> String {
    let mut all = texts.into_iter();
    let mut shown: Vec<String> = all.by_ref().take(12).map(quoted).collect();
    let more = all.count();
    if more > 0 {
        shown.push(format!("and {more} more"));
    }
    shown.join(", ")
}

/// `length` bytes at `offset` of the input.
pub fn place(offset: u64, length: usize) -> Option<Place> {
    Some(Place {
        input: 0,
        offset,
        length: length as u64,
        field: String::new(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn excerpts_are_short_and_harmless() {
        assert_eq!(quoted("a\u{1b}[2J"), "“a\\u{1b}[2J”");
        assert_eq!(quoted(&"x".repeat(100)).chars().count(), 63);
        assert_eq!(list(["a", "b"]), "“a”, “b”");
        assert!(list(vec!["a"; 20]).ends_with("and 8 more"));
    }
}
