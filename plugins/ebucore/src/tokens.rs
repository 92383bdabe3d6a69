//! The text of one element, item by item, however long it is. The element's structure was
//! checked before: here only its characters are looked at.

use std::rc::Rc;

use quick_xml::escape::unescape;
use ringmark_sdk::Failure;

use crate::pages::{Cursor, Pages};
use crate::remarks::{Spot, shown};

/// Bytes of one item.
pub const MAX_ITEM: usize = 1 << 20;

/// Longest reference to a character, without `&`.
const MAX_REFERENCE: usize = 12;

/// Items of a text, from where it starts.
pub struct Tokens {
    cursor: Cursor,
    /// The text belongs to this, for messages.
    field: Rc<str>,
    item: Vec<u8>,
    at: u64,
    ended: bool,
}

impl Tokens {
    /// Items of the text at `offset`; `empty` elements have none.
    pub fn new(pages: &Rc<Pages>, offset: u64, empty: bool, field: Rc<str>) -> Self {
        Tokens {
            cursor: Cursor::new(pages, offset),
            field,
            item: Vec::new(),
            at: offset,
            ended: empty,
        }
    }

    /// The next item; `None` at the end of the element.
    pub fn next_item(&mut self) -> Result<Option<&str>, Failure> {
        self.item.clear();
        let mut open = false;
        while !self.ended {
            if !open {
                self.skip_blanks();
                self.at = self.cursor.offset();
            }
            let Some(&byte) = self.cursor.bytes().first() else {
                return Err(self.here().failure(
                    format!("the file ends inside the values of {}", self.field),
                    "it was cut off; get a complete copy",
                ));
            };
            match byte {
                b'<' => {
                    self.markup()?;
                    open |= !self.item.is_empty();
                }
                b'&' => {
                    let c = self.reference()?;
                    if matches!(c, ' ' | '\t' | '\n' | '\r') {
                        if open {
                            break;
                        }
                    } else {
                        open = true;
                        self.item
                            .extend_from_slice(c.encode_utf8(&mut [0; 4]).as_bytes());
                    }
                }
                b' ' | b'\t' | b'\n' | b'\r' => break,
                _ => {
                    open = true;
                    self.plain();
                }
            }
            if self.item.len() > MAX_ITEM {
                return Err(self.spot().failure(
                    format!("a value of {} is longer than 1 MiB", self.field),
                    "no value is so long; the file may be damaged",
                ));
            }
        }
        if !open {
            return Ok(None);
        }
        match std::str::from_utf8(&self.item) {
            Ok(item) => Ok(Some(item)),
            Err(error) => {
                let bad = self
                    .item
                    .get(error.valid_up_to())
                    .copied()
                    .unwrap_or_default();
                let at = self.at + error.valid_up_to() as u64;
                Err(Spot {
                    at,
                    length: 1,
                    field: self.field.to_string(),
                }
                .failure(
                    format!("the byte {bad:02x} is no UTF-8"),
                    "save the file as UTF-8",
                ))
            }
        }
    }

    /// All items with one blank between.
    pub fn joined(&mut self) -> Result<String, Failure> {
        let mut text = String::new();
        while let Some(item) = self.next_item()? {
            if !text.is_empty() {
                text.push(' ');
            }
            text.push_str(item);
            if text.len() > MAX_ITEM {
                return Err(self.spot().failure(
                    format!("the text of {} is longer than 1 MiB", self.field),
                    "no text is so long; the file may be damaged",
                ));
            }
        }
        Ok(text)
    }

    /// Where the item that was read last stands.
    pub fn spot(&self) -> Spot {
        Spot {
            at: self.at,
            length: self.item.len() as u64,
            field: self.field.to_string(),
        }
    }

    fn here(&self) -> Spot {
        Spot {
            at: self.cursor.offset(),
            length: 0,
            field: self.field.to_string(),
        }
    }

    fn skip_blanks(&mut self) {
        loop {
            let bytes = self.cursor.bytes();
            let blanks = bytes
                .iter()
                .take_while(|b| matches!(b, b' ' | b'\t' | b'\n' | b'\r'))
                .count();
            if blanks == 0 {
                return;
            }
            self.cursor.skip(blanks);
        }
    }

    /// Takes what is neither white space nor markup.
    fn plain(&mut self) {
        let bytes = self.cursor.bytes();
        let count = bytes
            .iter()
            .take_while(|b| !matches!(b, b' ' | b'\t' | b'\n' | b'\r' | b'<' | b'&'))
            .count();
        self.item.extend_from_slice(&bytes[..count]);
        self.cursor.skip(count);
    }

    /// The character of a reference. Only those that XML itself has are known: nothing is expanded.
    fn reference(&mut self) -> Result<char, Failure> {
        let spot = self.here();
        self.cursor.skip(1);
        let mut name = Vec::new();
        while name.len() < MAX_REFERENCE {
            match self.cursor.bytes().first() {
                Some(b';') => {
                    self.cursor.skip(1);
                    let text = format!("&{};", String::from_utf8_lossy(&name));
                    let mut characters = match unescape(&text) {
                        Ok(characters) => characters.into_owned(),
                        Err(_) => String::new(),
                    };
                    return match (characters.pop(), characters.is_empty()) {
                        (Some(character), true) => Ok(character),
                        _ => Err(spot.failure(
                            format!("the entity {} is not allowed", shown(&text)),
                            "only &lt; &gt; &amp; &quot; &apos; and numbers such as &#181; are read",
                        )),
                    };
                }
                Some(&byte) if byte != b'<' => {
                    name.push(byte);
                    self.cursor.skip(1);
                }
                _ => break,
            }
        }
        Err(spot.failure("an '&' that begins no character", "write &amp; for it"))
    }

    /// Passes over a comment or instruction, takes a CDATA section, or ends the text.
    fn markup(&mut self) -> Result<(), Failure> {
        let spot = self.here();
        let mut head = Vec::with_capacity(9);
        let mut ahead = Cursor::new_at(&self.cursor);
        while head.len() < 9 {
            match ahead.bytes().first() {
                Some(&byte) => head.push(byte),
                None => break,
            }
            ahead.skip(1);
        }
        let (skip, end, keep) = if head.starts_with(b"<!--") {
            (4, &b"-->"[..], false)
        } else if head.starts_with(b"<![CDATA[") {
            (9, &b"]]>"[..], true)
        } else if head.starts_with(b"<?") {
            (2, &b"?>"[..], false)
        } else {
            self.ended = true;
            return Ok(());
        };
        self.advance(skip);
        let mut matched = 0;
        let mut taken = 0;
        while let Some(&byte) = self.cursor.bytes().first() {
            self.cursor.skip(1);
            taken += 1;
            if keep {
                self.item.push(byte);
            }
            if taken > MAX_ITEM {
                return Err(spot.failure(
                    "a comment or CDATA section is longer than 1 MiB",
                    "no EBUCore document has one; the file may be damaged",
                ));
            }
            // All ends are of the form aab or ab.
            if byte == end[matched] {
                matched += 1;
            } else if !(byte == end[0] && matched == end.len() - 1 && end.len() == 3) {
                matched = usize::from(byte == end[0]);
            }
            if matched == end.len() {
                if keep {
                    self.item
                        .truncate(self.item.len().saturating_sub(end.len()));
                    if self.item.iter().any(u8::is_ascii_whitespace) {
                        return Err(spot.failure(
                            "a CDATA section with blanks among values",
                            "write the values as plain text",
                        ));
                    }
                }
                return Ok(());
            }
        }
        Err(self.here().failure(
            format!("the file ends inside the values of {}", self.field),
            "it was cut off; get a complete copy",
        ))
    }

    fn advance(&mut self, count: usize) {
        for _ in 0..count {
            // A page may end between.
            if !self.cursor.bytes().is_empty() {
                self.cursor.skip(1);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use ringmark_sdk::native::MemoryInput;

    fn tokens(text: &str) -> Tokens {
        let pages = Pages::new(MemoryInput::boxed("x", text.as_bytes()));
        Tokens::new(&pages, 0, false, "x".into())
    }

    fn all(text: &str) -> Result<Vec<String>, Failure> {
        let mut tokens = tokens(text);
        let mut items = Vec::new();
        while let Some(item) = tokens.next_item()? {
            items.push(item.to_owned());
        }
        Ok(items)
    }

    #[test]
    fn items_between_white_space() {
        for (text, items) in [
            ("</p>", &[][..]),
            (" \r\n\t</p>", &[]),
            ("0.9 0.901\n0.904 </p>", &["0.9", "0.901", "0.904"]),
            ("a&amp;b &#181;&#x6d;</p>", &["a&b", "µm"]),
            ("1&#32;2</p>", &["1", "2"]),
            ("1<!-- 2 -- 3 -->4 <?x 5 ?> 6</p>", &["14", "6"]),
            ("<!--a---> 1 <![CDATA[a<b]]]>c</p>", &["1", "a<b]c"]),
            ("Halden\u{a0}32</p>", &["Halden\u{a0}32"]),
        ] {
            assert_eq!(all(text).unwrap(), items, "{text}");
        }
        assert_eq!(
            tokens(" Halden  32\n#1 <").joined().unwrap(),
            "Halden 32 #1"
        );
    }

    #[test]
    fn places() {
        let mut tokens = tokens("  0.9 0.901<");
        tokens.next_item().unwrap();
        tokens.next_item().unwrap();
        assert_eq!((tokens.spot().at, tokens.spot().length), (6, 5));
    }

    #[test]
    fn what_is_refused() {
        for (text, says, at) in [
            ("1 &lol;</p>", "entity &lol; is not allowed", 2),
            ("1 &#0;</p>", "not allowed", 2),
            ("1 & 2</p>", "begins no character", 2),
            ("1 &</p>", "begins no character", 2),
            ("1 2", "the file ends", 3),
            ("1 <!-- ", "the file ends", 7),
            ("<![CDATA[1 2]]></p>", "CDATA", 0),
        ] {
            let failure = all(text).unwrap_err();
            assert!(
                failure.message.contains(says),
                "{text}: {}",
                failure.message
            );
            assert_eq!(failure.at.unwrap().offset, at, "{text}");
        }
        let pages = Pages::new(MemoryInput::boxed("x", &b"1 a\xff<"[..]));
        let mut tokens = Tokens::new(&pages, 0, false, "x".into());
        tokens.next_item().unwrap();
        let failure = tokens.next_item().unwrap_err();
        assert_eq!(failure.at.unwrap().offset, 3);
    }

    #[test]
    fn an_item_without_end_is_refused() {
        let failure = all(&"1".repeat(MAX_ITEM + 100_000)).unwrap_err();
        assert!(
            failure.message.contains("longer than 1 MiB"),
            "{}",
            failure.message
        );
    }
}
