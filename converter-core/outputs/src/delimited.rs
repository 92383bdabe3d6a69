//! Which column of delimited text a byte stands in: just enough to name it beside an excerpt.

/// Delimiters in the order in which a header decides between them: a tab is never part of a name, a comma may be.
const DELIMITERS: [u8; 3] = [b'\t', b';', b','];

/// The name of the column in which byte `at` of `row` stands, by the header line. `None` where the two do not look
/// like lines of one table.
pub(crate) fn column_name<'a>(header: &'a str, row: &str, at: usize) -> Option<&'a str> {
    if header.starts_with(['{', '[', '<']) {
        return None;
    }
    let delimiter = *DELIMITERS
        .iter()
        .find(|&&d| cells(header, d).nth(1).is_some())?;
    let index = cells(row, delimiter).position(|(start, end)| (start..=end).contains(&at))?;
    let (start, end) = cells(header, delimiter).nth(index)?;
    let name = header.get(start..end)?.trim().trim_matches('"').trim();
    (!name.is_empty() && header != row).then_some(name)
}

/// Start and end of each cell. A delimiter between quotes belongs to the cell (RFC 4180).
fn cells(line: &str, delimiter: u8) -> impl Iterator<Item = (usize, usize)> {
    let bytes = line.as_bytes();
    let mut next = Some(0);
    std::iter::from_fn(move || {
        let start = next?;
        let mut quoted = false;
        // Only a quote at the start of a cell opens one: 5'6" in the middle of a cell is a length.
        let opens = bytes.get(start..)?.first() == Some(&b'"');
        let end = bytes.iter().enumerate().skip(start).find(|&(at, &byte)| {
            if byte == b'"' && (opens || at == start) {
                quoted = !quoted;
            }
            byte == delimiter && !quoted
        });
        let end = end.map(|(at, _)| at);
        next = end.map(|at| at + 1);
        Some((start, end.unwrap_or(bytes.len())))
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn names_the_column() {
        let header = "frame,timecode,focus distance [ft],T-stop";
        let row = "1001,01:00:00:00,\"5'6\"\"\",2.8";
        assert_eq!(column_name(header, row, 0), Some("frame"));
        assert_eq!(column_name(header, row, 17), Some("focus distance [ft]"));
        assert_eq!(column_name(header, row, row.len()), Some("T-stop"));
        assert_eq!(
            column_name(header, "1,2,3,4,5", 8),
            None,
            "more cells than names"
        );
        assert_eq!(column_name(header, header, 0), None, "the header itself");
    }

    #[test]
    fn delimiters_and_quotes() {
        assert_eq!(column_name("a;b, c;d", "1,5;2;3", 4), Some("b, c"));
        assert_eq!(column_name("a\tb;c\td", "1\t2\t3", 4), Some("d"));
        assert_eq!(column_name("\"x, y\",z", "\"1,2\",3", 6), Some("z"));
        assert_eq!(
            column_name("ring,mark [ft-in],note", "focus,5'6\",x", 11),
            Some("note")
        );
        assert_eq!(column_name("one column", "1", 0), None);
        assert_eq!(column_name("{\"a\": 1, \"b\": 2}", "{\"a\": 1}", 0), None);
    }

    proptest! {
        #[test]
        fn never_panics(header in "[a\",;\t∞]{0,20}", row in "[a\",;\t∞]{0,20}", at in 0usize..40) {
            let _ = column_name(&header, &row, at);
        }
    }
}
