//! How sure one can be that a file is a table, by its first bytes.

use crate::fields::{self, fold};
use crate::header::{detect_delimiter, split_unit};
use crate::keys;
use crate::records::record;

/// 0: it is not. 40: text with delimiters. 80: it follows our conventions.
pub fn recognise(name: &str, head: &[u8]) -> u32 {
    let head = head.strip_prefix(&[0xEF, 0xBB, 0xBF]).unwrap_or(head);
    let first = head.trim_ascii_start().first().copied();
    if head.contains(&0) || matches!(first, None | Some(b'{' | b'[' | b'<')) {
        return 0;
    }
    let text = match std::str::from_utf8(head) {
        Ok(text) => text,
        // The head may end inside of a character.
        Err(error) if error.error_len().is_none() => {
            std::str::from_utf8(head.get(..error.valid_up_to()).unwrap_or_default())
                .unwrap_or_default()
        }
        // A table in an old encoding is still a table; reading it says what is wrong.
        Err(_) => {
            let name = name.to_ascii_lowercase();
            let named = [".csv", ".tsv"].iter().any(|end| name.ends_with(end));
            return if named { 40 } else { 0 };
        }
    };
    let mut comments = false;
    for line in text.lines().filter(|line| !line.is_empty()) {
        if let Some(comment) = line.strip_prefix('#') {
            let key = comment.split(':').next().unwrap_or_default();
            if comment.contains(':') && fold(key) == "document" || keys::known(key, true).is_some()
            {
                return 80;
            }
            comments = true;
            continue;
        }
        let delimiter = detect_delimiter(line.as_bytes());
        let cells = record(line.as_bytes(), 0, delimiter.unwrap_or(b','), true);
        let known = cells.ok().flatten().is_some_and(|(cells, _)| {
            let names: Vec<_> = cells
                .iter()
                .map(|cell| split_unit(cell.text.trim()).0)
                .collect();
            let has = |wanted: &str| names.iter().any(|name| fold(name) == wanted);
            names.iter().any(|name| fields::by_header(name).is_some())
                || (has("ring") && has("mark"))
        });
        return match (known, delimiter) {
            (true, _) => 80,
            (false, Some(_)) => 40,
            (false, None) => 0,
        };
    }
    if comments { 40 } else { 0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_first_bytes() {
        for (name, head, sure) in [
            ("a.csv", &b"# document: take\nframe,x\n"[..], 80),
            ("a.txt", b"\xEF\xBB\xBF# clip: A\nFrame;x\n1;2", 80),
            ("a.csv", b"ring,position [0..1],mark [m]\n", 80),
            ("a.csv", b"Bild;Fokus\n1;2\n", 40),
            ("a.csv", b"Bild;Sch\xe4rfe\n1;2\n", 40),
            ("a.bin", b"Bild;Sch\xe4rfe\n1;2\n", 0),
            ("a.csv", b"Bild;Sch\xc3", 40),
            ("a.json", b" {\"a\": 1, \"b\": 2}", 0),
            ("a.json", b"[1,2]", 0),
            ("a.exr", b"\x76\x2f\x31\x01\x02\0", 0),
            ("a.csv", b"", 0),
            ("a.txt", b"just words\n", 0),
        ] {
            assert_eq!(recognise(name, head), sure, "{head:?}");
        }
    }
}
