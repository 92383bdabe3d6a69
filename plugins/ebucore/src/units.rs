//! Words of the `unit` attribute, and the unit a parameter's values are in.

use ringmark_sdk::quantity::Unit;

/// Words that other programs write, and the symbols they stand for; [`Unit::from_symbol`] knows more.
const WORDS: &[(&str, &str)] = &[
    ("meter", "m"),
    ("millimeter", "mm"),
    ("percentage", "%"),
    ("degree", "deg"),
    ("second", "s"),
    ("fps", "fps"),
    ("kelvin", "K"),
    ("dB", "dB"),
];

/// The word that is written for a unit.
pub fn word(symbol: &str) -> &str {
    WORDS
        .iter()
        .find(|(_, known)| *known == symbol)
        .map_or(symbol, |(word, _)| word)
}

/// The symbol of a word; `None` if it is no unit.
fn symbol(word: &str) -> Option<&'static str> {
    let word = word.trim_ascii();
    WORDS
        .iter()
        .find(|(known, symbol)| known.eq_ignore_ascii_case(word) || *symbol == word)
        .map(|(_, symbol)| *symbol)
        .or_else(|| Unit::from_symbol(word).map(Unit::symbol))
}

/// The unit of values that are in `default` where nothing is said; `None` if `word` is no unit of
/// the same quantity.
///
/// The schema describes the attribute as the unit of the interval: `frame` says nothing of the
/// values.
pub fn stated(word: Option<&str>, default: &'static str) -> Option<&'static str> {
    let word = word.map(str::trim_ascii).unwrap_or_default();
    if word.is_empty() || is_of_interval(word) {
        return Some(default);
    }
    let symbol = symbol(word)?;
    let dimension = |symbol: &str| Unit::from_symbol(symbol).map(Unit::dimension);
    let same =
        symbol == default || (!default.is_empty() && dimension(symbol)? == dimension(default)?);
    same.then_some(symbol)
}

/// Whether the word is about the interval and not about the values.
pub fn is_of_interval(word: &str) -> bool {
    ["frame", "frames"]
        .iter()
        .any(|known| known.eq_ignore_ascii_case(word.trim_ascii()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_lead_to_symbols_and_back() {
        for (text, symbol) in WORDS {
            assert_eq!(word(symbol), *text);
            assert_eq!(stated(Some(text), symbol), Some(*symbol));
            assert_eq!(stated(None, symbol), Some(*symbol));
        }
        assert_eq!(word("ft"), "ft");
    }

    #[test]
    fn a_unit_of_the_same_quantity_is_honoured() {
        for (word, default, unit) in [
            ("meter", "mm", Some("m")),
            ("Metres", "mm", Some("m")),
            ("foot", "m", Some("ft")),
            ("ratio", "%", Some("0..1")),
            ("Kelvin", "K", Some("K")),
            ("frame", "m", Some("m")),
            ("", "m", Some("m")),
            ("degree", "m", None),
            ("mired", "K", None),
            ("furlong", "m", None),
            ("meter", "", None),
            ("T", "T", Some("T")),
        ] {
            assert_eq!(stated(Some(word), default), unit, "{word} {default}");
        }
    }
}
