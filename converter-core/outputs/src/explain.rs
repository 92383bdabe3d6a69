//! Pages of explanation, written in Markdown, on a terminal.
//!
//! Understood: headings, paragraphs, lists (with paragraphs in their items), quotations, fenced and indented code,
//! tables (shown as they stand), `code`, **strong** and [links](of the page).

use std::fmt::{self, Write};

use unicode_width::UnicodeWidthStr;

use crate::paint::Paint;
use crate::safe::safe;
use crate::show::ShowOptions;

/// Writes a page, its text wrapped to the width of the options.
pub fn write_explanation(out: &mut dyn Write, markdown: &str, options: ShowOptions) -> fmt::Result {
    let paint = Paint {
        colour: options.colour,
    };
    let mut page = Page {
        out,
        paint,
        width: options.width.max(20),
        block: None,
    };
    let mut fence: Option<&str> = None;
    for line in markdown.lines() {
        let trimmed = line.trim_start();
        match fence {
            Some(mark) if trimmed.starts_with(mark) => fence = None,
            Some(_) => page.verbatim(line)?,
            None if trimmed.starts_with("```") => {
                page.finish()?;
                fence = Some("```");
            }
            None if trimmed.starts_with("~~~") => {
                page.finish()?;
                fence = Some("~~~");
            }
            None => page.line(line)?,
        }
    }
    page.finish()
}

struct Page<'a> {
    out: &'a mut dyn Write,
    paint: Paint,
    width: usize,
    /// Text gathered until its end is seen.
    block: Option<Block>,
}

/// A paragraph or the item of a list.
struct Block {
    /// Before the first line.
    first: String,
    /// Columns before further lines.
    indent: usize,
    text: String,
}

impl Page<'_> {
    fn line(&mut self, line: &str) -> fmt::Result {
        let trimmed = line.trim();
        let indent = line.len() - line.trim_start().len();
        if trimmed.is_empty() {
            self.finish()?;
            return writeln!(self.out);
        }
        if let Some(heading) = heading(trimmed) {
            self.finish()?;
            let text: String = spans(heading).into_iter().map(|(text, _)| text).collect();
            return writeln!(self.out, "{}", self.paint.bold(safe(&text)));
        }
        if trimmed.starts_with('|') || (self.block.is_none() && indent >= 4) {
            return self.verbatim(line);
        }
        if let Some((marker, text)) = item(trimmed) {
            self.finish()?;
            self.block = Some(Block {
                first: format!("{:indent$}{marker} ", ""),
                indent: indent + marker.width() + 1,
                text: text.to_owned(),
            });
            return Ok(());
        }
        match &mut self.block {
            Some(block) => {
                block.text.push(' ');
                block.text.push_str(trimmed.trim_start_matches("> "));
            }
            None => {
                let (quoted, text) = match trimmed.strip_prefix('>') {
                    Some(text) => (2, text.trim_start()),
                    None => (0, trimmed),
                };
                let indent = indent + quoted;
                self.block = Some(Block {
                    first: " ".repeat(indent),
                    indent,
                    text: text.to_owned(),
                });
            }
        }
        Ok(())
    }

    /// A line of code or of a table.
    fn verbatim(&mut self, line: &str) -> fmt::Result {
        self.finish()?;
        let indent = if line.starts_with("    ") { "" } else { "    " };
        let line = line.replace('\t', "    ");
        writeln!(self.out, "{indent}{}", safe(&line).trim_end())
    }

    /// Writes the block that was gathered.
    fn finish(&mut self) -> fmt::Result {
        let Some(block) = self.block.take() else {
            return Ok(());
        };
        let mut line = block.first;
        let mut column = line.width();
        let mut empty = true;
        for word in words(&spans(&block.text), self.paint) {
            if !empty && column + 1 + word.width > self.width {
                writeln!(self.out, "{line}")?;
                line = " ".repeat(block.indent);
                column = block.indent;
                empty = true;
            }
            if !empty {
                line.push(' ');
                column += 1;
            }
            line.push_str(&word.text);
            column += word.width;
            empty = false;
        }
        writeln!(self.out, "{line}")
    }
}

fn heading(line: &str) -> Option<&str> {
    let text = line.trim_start_matches('#');
    (text.len() < line.len() && text.starts_with(' ')).then(|| text.trim())
}

/// Marker and text of a list item.
fn item(line: &str) -> Option<(String, &str)> {
    if let Some(text) = ["- ", "* ", "+ "].iter().find_map(|m| line.strip_prefix(m)) {
        return Some(("-".to_owned(), text.trim_start()));
    }
    let digits = line.bytes().take_while(u8::is_ascii_digit).count();
    let text = line.get(digits..)?.strip_prefix(". ")?;
    // 4 digits are a year at the start of a line.
    (1..=3).contains(&digits).then(|| {
        (
            format!("{}.", line.get(..digits).unwrap_or_default()),
            text.trim_start(),
        )
    })
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Look {
    Plain,
    Strong,
    Code,
}

/// A text in pieces of one look, without the signs that made them so.
fn spans(text: &str) -> Vec<(String, Look)> {
    let mut spans = Vec::new();
    let mut plain = String::new();
    let mut rest = text;
    while let Some(c) = rest.chars().next() {
        let marked =
            between(rest, "`", "`").map(|(inner, after)| (inner.to_owned(), Look::Code, after));
        let marked = marked.or_else(|| {
            between(rest, "**", "**").map(|(inner, after)| (inner.to_owned(), Look::Strong, after))
        });
        let marked = marked.or_else(|| {
            let (name, after) = between(rest, "[", "](")?;
            let (target, after) = after.split_once(')')?;
            let text = if name == target {
                name.to_owned()
            } else {
                format!("{name} ({target})")
            };
            Some((text, Look::Plain, after))
        });
        match marked {
            Some((inner, look, after)) => {
                spans.push((std::mem::take(&mut plain), Look::Plain));
                spans.push((inner, look));
                rest = after;
            }
            None => {
                plain.push(c);
                rest = rest.get(c.len_utf8()..).unwrap_or_default();
            }
        }
    }
    spans.push((plain, Look::Plain));
    spans.retain(|(text, _)| !text.is_empty());
    spans
}

/// What stands between two signs at the start of the text, and what follows. A `[` in between starts anew: `[m]` is a
/// unit and no link.
fn between<'a>(text: &'a str, open: &str, close: &str) -> Option<(&'a str, &'a str)> {
    let (inner, after) = text.strip_prefix(open)?.split_once(close)?;
    let broken = inner.is_empty() || (open == "[" && inner.contains(['[', ']']));
    (!broken).then_some((inner, after))
}

struct Word {
    text: String,
    width: usize,
}

/// Pieces between spaces, painted, with the columns they take.
fn words(spans: &[(String, Look)], paint: Paint) -> Vec<Word> {
    let mut words: Vec<Word> = Vec::new();
    let mut joined = false;
    for (text, look) in spans {
        let starts_with_space = text.starts_with(char::is_whitespace);
        for (index, piece) in text.split_whitespace().enumerate() {
            let piece = safe(piece);
            let painted = match look {
                Look::Plain => piece.to_string(),
                Look::Strong => paint.bold(&piece),
                Look::Code => paint.code(&piece),
            };
            match words.last_mut() {
                Some(last) if index == 0 && joined && !starts_with_space => {
                    last.text.push_str(&painted);
                    last.width += piece.width();
                }
                _ => words.push(Word {
                    width: piece.width(),
                    text: painted,
                }),
            }
        }
        joined = !text.ends_with(char::is_whitespace);
    }
    words
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;
    use proptest::prelude::*;

    const PAGE: &str = "# Distance below close focus\n\nThe **recorded** distance is nearer than the lens can focus, \
so `focus distance [m]` is wrong, or\nthe close focus is: see [marks](checks/marks.md) and a*b*c.\n\n\
- first: a long item that will have to be wrapped at some point, with 5 * 3 in it\n  and a second line\n\
- second (`--lens`)\n  1. nested\n\n> quoted words\n\n```csv\nframe,focus distance [m]\n\t1001,0.31\n```\n\n\
| a | b |\n|---|---|\n\n2024. was a year.\n";

    fn shown(page: &str, options: ShowOptions) -> String {
        let mut out = String::new();
        write_explanation(&mut out, page, options).unwrap();
        out
    }

    #[test]
    fn page() {
        insta::assert_snapshot!(shown(
            PAGE,
            ShowOptions {
                colour: false,
                width: 50
            }
        ));
    }

    #[test]
    fn colours_only_where_wanted() {
        let coloured = shown(
            PAGE,
            ShowOptions {
                colour: true,
                width: 50,
            },
        );
        assert!(
            coloured.contains("\u{1b}[1mrecorded\u{1b}[0m"),
            "{coloured:?}"
        );
        assert!(!shown(PAGE, ShowOptions::default()).contains('\u{1b}'));
    }

    proptest! {
        #[test]
        fn text_is_wrapped_and_nothing_is_lost(words in proptest::collection::vec("[a-z]{1,12}", 1..60), width in 20usize..90) {
            let out = shown(&words.join(" "), ShowOptions { colour: false, width });
            prop_assert!(out.lines().all(|line| line.width() <= width));
            prop_assert_eq!(out.split_whitespace().collect::<Vec<_>>(), words);
        }

        #[test]
        fn never_panics(page in "[ #*`|>a∞\\[\\]()\n~.1-]{0,80}") {
            let _ = shown(&page, ShowOptions { colour: true, width: 0 });
        }
    }
}
