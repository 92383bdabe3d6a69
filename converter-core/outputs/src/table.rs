//! Plain tables: columns as wide as their widest cell, two spaces between them.

use std::fmt::{self, Write};

use unicode_width::UnicodeWidthStr;

/// Rows of cells under a head. Cells hold nothing that acts on a terminal.
pub(crate) struct Table {
    rows: Vec<Vec<String>>,
}

impl Table {
    pub fn new<const N: usize>(head: [&str; N]) -> Self {
        Table::with_head(head.map(str::to_owned).to_vec())
    }

    pub fn with_head(head: Vec<String>) -> Self {
        Table { rows: vec![head] }
    }

    pub fn row(&mut self, cells: impl IntoIterator<Item = String>) {
        self.rows.push(cells.into_iter().collect());
    }

    /// Leaves out columns in which no row under the head has anything.
    pub fn without_empty_columns(mut self) -> Self {
        let columns = self.rows.first().map_or(0, Vec::len);
        let used = |column: usize| {
            self.rows
                .iter()
                .skip(1)
                .any(|row| row.get(column).is_some_and(|cell| !cell.is_empty()))
        };
        let used: Vec<bool> = (0..columns).map(used).collect();
        for row in &mut self.rows {
            let mut kept = used.iter();
            row.retain(|_| kept.next() == Some(&true));
        }
        self
    }

    pub fn write(&self, out: &mut dyn Write, indent: usize) -> fmt::Result {
        let columns = self.rows.iter().map(Vec::len).max().unwrap_or(0);
        let widths: Vec<usize> = (0..columns)
            .map(|column| {
                self.rows
                    .iter()
                    .filter_map(|row| row.get(column))
                    .map(|c| c.width())
                    .max()
                    .unwrap_or(0)
            })
            .collect();
        for row in &self.rows {
            let mut line = " ".repeat(indent);
            for (cell, &width) in row.iter().zip(&widths) {
                line.push_str(cell);
                line.extend(std::iter::repeat_n(' ', width + 2 - cell.width()));
            }
            writeln!(out, "{}", line.trim_end())?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;

    #[test]
    fn aligns_wide_characters_and_drops_empty_columns() {
        let mut table = Table::new(["name", "raw", "value"]);
        table.row(["焦点".to_owned(), String::new(), "∞".to_owned()]);
        table.row(["a".to_owned(), String::new(), "1".to_owned()]);
        let mut out = String::new();
        table.without_empty_columns().write(&mut out, 2).unwrap();
        assert_eq!(out, "  name  value\n  焦点  ∞\n  a     1\n");
    }
}
