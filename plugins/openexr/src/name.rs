//! What the name of a file says: frame number and clip.

const EXTENSION: &str = ".exr";

/// Longest run of digits that is taken for a frame number: every such number is exact in a 64-bit float.
const MOST_DIGITS: usize = 15;

/// Whether the name ends in `.exr`, in any case.
pub fn has_extension(name: &str) -> bool {
    stem(name).len() < name.len()
}

fn stem(name: &str) -> &str {
    let cut = name.len().saturating_sub(EXTENSION.len());
    match name.get(cut..) {
        Some(end) if end.eq_ignore_ascii_case(EXTENSION) => &name[..cut],
        _ => name,
    }
}

/// Start and end of the last run of digits.
fn last_digits(stem: &str) -> Option<(usize, usize)> {
    let bytes = stem.as_bytes();
    let end = bytes.iter().rposition(u8::is_ascii_digit)? + 1;
    let before = bytes[..end].iter().rposition(|b| !b.is_ascii_digit());
    Some((before.map_or(0, |at| at + 1), end))
}

/// The last number in the name, without the extension: 1001 for `take_a.1001.exr`.
pub fn frame_number(name: &str) -> Option<u64> {
    let stem = stem(name);
    let (start, end) = last_digits(stem)?;
    let digits = &stem[start..end];
    (digits.len() <= MOST_DIGITS)
        .then(|| digits.parse().ok())
        .flatten()
}

/// The name without extension and closing frame number: `take_a` for `take_a.1001.exr`.
pub fn clip(name: &str) -> &str {
    let stem = stem(name);
    match last_digits(stem) {
        Some((start, end)) if end == stem.len() => {
            stem[..start].trim_end_matches(['.', '_', '-', ' '])
        }
        _ => stem,
    }
}

/// The clip that a take with this view is called after: `take_a left`.
pub fn clip_of_view(name: &str, view: &str) -> String {
    let mut clip = clip(name).to_owned();
    if !clip.is_empty() && !view.is_empty() {
        clip.push(' ');
    }
    clip.push_str(view);
    clip
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn number_and_clip() {
        for (name, number, clip_name) in [
            ("take_a.1001.exr", Some(1001), "take_a"),
            ("take_a_0007.EXR", Some(7), "take_a"),
            ("A017C003_left.exr", Some(3), "A017C003_left"),
            ("0042.exr", Some(42), ""),
            ("still.exr", None, "still"),
            ("é.12", Some(12), "é"),
            ("x1234567890123456.exr", None, "x"),
            (".exr", None, ""),
            ("", None, ""),
        ] {
            assert_eq!(frame_number(name), number, "{name}");
            assert_eq!(clip(name), clip_name, "{name}");
        }
    }
}
