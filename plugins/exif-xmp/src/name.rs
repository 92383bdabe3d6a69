//! What the name of a file says: its ending and the clip.

/// The name without its ending.
fn stem(name: &str) -> &str {
    match name.rsplit_once('.') {
        Some((stem, _)) if !stem.is_empty() => stem,
        _ => name,
    }
}

/// The last part of the name in lower case: `jpg` for `still.JPG`.
pub fn ending(name: &str) -> String {
    match name.rsplit_once('.') {
        Some((_, ending)) => ending.to_ascii_lowercase(),
        None => String::new(),
    }
}

/// Start and end of the last run of digits.
fn last_digits(stem: &str) -> Option<(usize, usize)> {
    let bytes = stem.as_bytes();
    let end = bytes.iter().rposition(u8::is_ascii_digit)? + 1;
    let before = bytes[..end].iter().rposition(|b| !b.is_ascii_digit());
    Some((before.map_or(0, |at| at + 1), end))
}

/// The name without ending and closing frame number: `take_a` for `take_a.1001.jpg`.
pub fn clip(name: &str) -> &str {
    let stem = stem(name);
    match last_digits(stem) {
        Some((start, end)) if end == stem.len() => {
            stem[..start].trim_end_matches(['.', '_', '-', ' '])
        }
        _ => stem,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clip_and_ending() {
        for (name, clip_name, end) in [
            ("chart.1001.jpg", "chart", "jpg"),
            ("chart_0007.DNG", "chart", "dng"),
            ("A017C003_left.xmp", "A017C003_left", "xmp"),
            ("0042.tif", "", "tif"),
            ("still.jpg", "still", "jpg"),
            ("still", "still", ""),
            ("é.12.jpg", "é", "jpg"),
            ("x1234567890123456.jpg", "x", "jpg"),
            (".xmp", ".xmp", "xmp"),
            ("", "", ""),
        ] {
            assert_eq!(clip(name), clip_name, "{name}");
            assert_eq!(ending(name), end, "{name}");
        }
    }
}
