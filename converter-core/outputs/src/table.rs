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

    /// The head and the rows under it.
    pub fn into_rows(self) -> Vec<Vec<String>> {
        self.rows
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

    /// Leaves out empty columns, then, while a row is wider than `width` with two columns of indent, those in `dropped`, by
    /// their index in the whole table, the first first.
    pub fn fitting(mut self, width: usize, dropped: &[usize]) -> Self {
        let total = |table: &Table| -> usize { table.widths().iter().map(|w| w + 2).sum() };
        for &column in dropped {
            // An emptied column takes no room and goes with the others.
            let kept = Table {
                rows: self.rows.clone(),
            };
            if total(&kept.without_empty_columns()) <= width {
                break;
            }
            for row in self.rows.iter_mut().skip(1) {
                if let Some(cell) = row.get_mut(column) {
                    cell.clear();
                }
            }
        }
        self.without_empty_columns()
    }

    fn widths(&self) -> Vec<usize> {
        let columns = self.rows.iter().map(Vec::len).max().unwrap_or(0);
        (0..columns)
            .map(|column| {
                let cells = self.rows.iter().filter_map(|row| row.get(column));
                cells.map(|cell| cell.width()).max().unwrap_or(0)
            })
            .collect()
    }

    pub fn write(&self, out: &mut dyn Write, indent: usize) -> fmt::Result {
        let widths = self.widths();
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

    #[test]
    fn a_narrow_terminal_does_without_what_matters_least() {
        let table = || {
            let mut table = Table::new(["name", "less", "least"]);
            table.row(["焦点焦点".to_owned(), "1".to_owned(), "2".to_owned()]);
            table
        };
        for (width, head) in [
            (80, "  name      less  least\n"),
            (20, "  name      less\n"),
            (10, "  name\n"),
            (0, "  name\n"),
        ] {
            let mut out = String::new();
            table().fitting(width, &[2, 1]).write(&mut out, 2).unwrap();
            assert!(out.starts_with(head), "{width}: {out}");
        }
    }
}
