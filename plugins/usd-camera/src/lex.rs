//! Words, numbers, texts and signs of `.usda` text.

use ringmark_sdk::{Failure, Place, failure};

use crate::scan::Scan;

/// Bytes of one text; longer ones are no description any more, and are not kept in memory.
const LONGEST: usize = 16 << 20;

/// Bytes of one number.
const LONGEST_NUMBER: usize = 512;

/// What a token is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A word, also with a namespace: `focalLength`, `shutter:open`.
    Name,
    /// A number in digits. `inf` and `nan` are names, `-inf` is a number.
    Number,
    /// A text in quotation marks of any kind.
    Text,
    /// `@a file@`
    Asset,
    /// `</a/prim>`
    Path,
    /// A single sign.
    Sign(u8),
    /// The file is over.
    End,
}

/// One token. Its text is asked of the lexer, until the next one is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Token {
    /// What it is.
    pub kind: Kind,
    /// Its first byte.
    pub offset: u64,
    /// Its length in bytes.
    pub length: usize,
    /// Whether a line ended before it.
    pub new_line: bool,
}

impl Token {
    /// Whether it is this sign.
    pub fn is(self, sign: u8) -> bool {
        self.kind == Kind::Sign(sign)
    }

    /// Where it stands.
    pub fn place(self) -> Place {
        Place {
            input: 0,
            offset: self.offset,
            length: self.length as u64,
            field: String::new(),
        }
    }
}

/// Cuts a scan into tokens.
pub struct Lexer {
    scan: Scan,
    /// Length of the token at hand, which is not used up yet.
    held: usize,
    peeked: Option<Token>,
}

impl Lexer {
    /// The tokens from the scan's next byte on.
    pub fn new(scan: Scan) -> Self {
        Lexer {
            scan,
            held: 0,
            peeked: None,
        }
    }

    /// The next token, which stays.
    pub fn peek(&mut self) -> Result<Token, Failure> {
        if let Some(token) = self.peeked {
            return Ok(token);
        }
        let token = self.read()?;
        self.peeked = Some(token);
        Ok(token)
    }

    /// The next token.
    pub fn next(&mut self) -> Result<Token, Failure> {
        match self.peeked.take() {
            Some(token) => Ok(token),
            None => self.read(),
        }
    }

    /// Takes the next token if it is this sign.
    pub fn take(&mut self, sign: u8) -> Result<bool, Failure> {
        let found = self.peek()?.is(sign);
        if found {
            self.peeked = None;
        }
        Ok(found)
    }

    /// Takes this sign, or fails.
    pub fn expect(&mut self, sign: u8, what: &str) -> Result<Token, Failure> {
        let token = self.next()?;
        if token.is(sign) {
            return Ok(token);
        }
        Err(self.unexpected(token, &format!("`{}` {what}", char::from(sign))))
    }

    /// The text of the token read or peeked last.
    pub fn text(&self) -> &str {
        // Tokens are checked when they are cut.
        std::str::from_utf8(self.scan.bytes(self.held)).unwrap_or_default()
    }

    /// The failure that `token`, the last one, is not `expected`.
    pub fn unexpected(&self, token: Token, expected: &str) -> Failure {
        let (found, help) = match token.kind {
            Kind::End => (
                "the end of the file".to_owned(),
                "the file is cut off: copy or export it again",
            ),
            _ => {
                let text = self.text();
                let short: String = text.chars().take(40).collect();
                let dots = if short.len() < text.len() { "…" } else { "" };
                (
                    format!("`{short}{dots}`"),
                    "export the file again, or mend this place",
                )
            }
        };
        failure(
            format!("expected {expected}, found {found}"),
            help,
            Some(token.place()),
        )
    }

    /// A sample in the form in which most are written, `1001: 32.5,` with nothing else on its
    /// line, all at once: key, value and offset. Nothing is used up where it is of another form.
    pub fn plain_sample(&mut self) -> Option<(f64, f64, u64)> {
        if self.peeked.is_some() {
            return None;
        }
        let rest = self.scan.rest().get(self.held..)?;
        let blank = |b: &&u8| matches!(**b, b' ' | b'\t' | b'\n' | b'\r');
        let start = rest.iter().take_while(blank).count();
        let (minus, from) = match rest.get(start)? {
            b'-' => (true, start + 1),
            _ => (false, start),
        };
        let digits = rest.get(from..)?;
        let length = digits.iter().take_while(|b| b.is_ascii_digit()).count();
        // Up to 15 digits are exact.
        if length == 0 || length > 15 || digits.get(length..length + 2)? != b": " {
            return None;
        }
        let key = digits[..length]
            .iter()
            .fold(0, |sum, b| sum * 10 + i64::from(b - b'0')) as f64;
        let from = from + length + 2;
        let text = rest.get(from..rest.len().min(from + 32))?;
        let length = number_length(text);
        if text.get(length) != Some(&b',') {
            return None;
        }
        let text = std::str::from_utf8(&text[..length]).ok()?;
        let value = is_number(text).then(|| text.parse().ok())??;
        let offset = self.scan.offset() + (self.held + start) as u64;
        self.scan.advance(self.held + from + length + 1);
        self.held = 0;
        Some((if minus { -key } else { key }, value, offset))
    }

    fn read(&mut self) -> Result<Token, Failure> {
        self.scan.advance(self.held);
        self.held = 0;
        let new_line = self.skip_blank()?;
        let Some(first) = self.scan.byte(0) else {
            return Ok(self.token(Kind::End, 0, new_line));
        };
        let second = self.scan.byte(1).unwrap_or_default();
        let (kind, length) = match first {
            b'0'..=b'9' => (Kind::Number, self.number()?),
            b'-' | b'.' if second.is_ascii_digit() => (Kind::Number, self.number()?),
            b'-' if second == b'.' || second == b'i' => (Kind::Number, self.number()?),
            b'"' | b'\'' => (Kind::Text, self.quoted(first)?),
            b'@' => (Kind::Asset, self.asset()?),
            b'<' => (Kind::Path, self.until(1, b'>', "a path in `<>`")?),
            _ if is_word_start(first) => (Kind::Name, self.name()),
            _ => (Kind::Sign(first), 1),
        };
        let token = self.token(kind, length, new_line);
        // Numbers and signs are ASCII.
        if matches!(kind, Kind::Number | Kind::Sign(_)) && first.is_ascii() {
            return Ok(token);
        }
        if let Err(error) = std::str::from_utf8(self.scan.bytes(length)) {
            return Err(failure(
                "bytes that are no UTF-8",
                "a .usda file is UTF-8 text: save it so",
                Some(Place {
                    offset: token.offset + error.valid_up_to() as u64,
                    length: 1,
                    ..token.place()
                }),
            ));
        }
        Ok(token)
    }

    fn token(&mut self, kind: Kind, length: usize, new_line: bool) -> Token {
        self.held = length;
        Token {
            kind,
            offset: self.scan.offset(),
            length,
            new_line,
        }
    }

    /// Passes over space and comments; says whether a line ended.
    fn skip_blank(&mut self) -> Result<bool, Failure> {
        let mut new_line = false;
        loop {
            let rest = self.scan.rest();
            let mut blank = |byte: &u8| {
                new_line |= matches!(byte, b'\n' | b'\r');
                matches!(byte, b' ' | b'\t' | b'\n' | b'\r')
            };
            let length = rest.iter().take_while(|b| blank(b)).count();
            let next = rest.get(length).copied();
            self.scan.advance(length);
            match next {
                None if !self.scan.more() => return Ok(new_line),
                None => {}
                Some(b'#') => self.skip_line(),
                Some(b'/') if self.scan.byte(1) == Some(b'/') => self.skip_line(),
                Some(b'/') if self.scan.byte(1) == Some(b'*') => new_line |= self.skip_comment()?,
                Some(_) => return Ok(new_line),
            }
        }
    }

    fn skip_line(&mut self) {
        while !matches!(self.scan.byte(0), None | Some(b'\n' | b'\r')) {
            self.scan.advance(1);
        }
    }

    fn skip_comment(&mut self) -> Result<bool, Failure> {
        let start = self.token(Kind::End, 2, false);
        self.held = 0;
        self.scan.advance(2);
        let mut new_line = false;
        loop {
            match self.scan.byte(0) {
                Some(b'*') if self.scan.byte(1) == Some(b'/') => {
                    self.scan.advance(2);
                    return Ok(new_line);
                }
                Some(byte) => {
                    new_line |= byte == b'\n';
                    self.scan.advance(1);
                }
                None => {
                    return Err(failure(
                        "a comment `/*` that does not end",
                        "write `*/` where it ends",
                        Some(start.place()),
                    ));
                }
            }
        }
    }

    /// Length of the word: parts with `:` between them.
    fn name(&mut self) -> usize {
        let mut length = 1;
        loop {
            match self.scan.byte(length) {
                Some(byte) if is_word(byte) => length += 1,
                Some(b':') if self.scan.byte(length + 1).is_some_and(is_word_start) => length += 2,
                _ => return length,
            }
            if length > LONGEST {
                return length;
            }
        }
    }

    fn number(&mut self) -> Result<usize, Failure> {
        let length = loop {
            let rest = self.scan.rest();
            let length = number_length(rest);
            let whole = length < rest.len() || length > LONGEST_NUMBER;
            if whole || !self.scan.more() {
                break length;
            }
        };
        let legal = std::str::from_utf8(self.scan.bytes(length)).is_ok_and(is_number);
        if legal {
            return Ok(length);
        }
        let token = self.token(Kind::Number, length, false);
        let text = String::from_utf8_lossy(self.scan.bytes(length.min(40))).into_owned();
        Err(failure(
            format!("`{text}` is no number"),
            "write digits, with a point and an exponent if need be: `1.5`, `2e-3`",
            Some(token.place()),
        ))
    }

    /// Length of a text that starts with the mark `mark`, or three of them.
    fn quoted(&mut self, mark: u8) -> Result<usize, Failure> {
        let three = self.scan.byte(1) == Some(mark) && self.scan.byte(2) == Some(mark);
        let mut at = if three { 3 } else { 1 };
        loop {
            let closes = |scan: &mut Scan, n: usize| scan.byte(at + n) == Some(mark);
            match self.scan.byte(at) {
                Some(b'\\') => at += 2,
                Some(b'\n' | b'\r') if !three => break,
                Some(byte) if byte == mark && !three => return Ok(at + 1),
                Some(byte) if byte == mark && closes(&mut self.scan, 1) => {
                    if closes(&mut self.scan, 2) {
                        return Ok(at + 3);
                    }
                    at += 2;
                }
                Some(_) => at += 1,
                None => break,
            }
            if at > LONGEST {
                return Err(self.too_long());
            }
        }
        Err(self.open_ended("a text in quotation marks"))
    }

    fn asset(&mut self) -> Result<usize, Failure> {
        if !(self.scan.byte(1) == Some(b'@') && self.scan.byte(2) == Some(b'@')) {
            return self.until(1, b'@', "a file name in `@`");
        }
        let mut at = 3;
        loop {
            let here: [Option<u8>; 4] = std::array::from_fn(|n| self.scan.byte(at + n));
            match here {
                [Some(b'\\'), Some(b'@'), Some(b'@'), Some(b'@')] => at += 4,
                [Some(b'@'), Some(b'@'), Some(b'@'), _] => return Ok(at + 3),
                [None, ..] => return Err(self.open_ended("a file name in `@@@`")),
                _ => at += 1,
            }
            if at > LONGEST {
                return Err(self.too_long());
            }
        }
    }

    fn until(&mut self, from: usize, end: u8, what: &str) -> Result<usize, Failure> {
        let mut at = from;
        loop {
            match self.scan.byte(at) {
                Some(byte) if byte == end => return Ok(at + 1),
                None | Some(b'\n' | b'\r') => return Err(self.open_ended(what)),
                Some(_) => at += 1,
            }
            if at > LONGEST {
                return Err(self.too_long());
            }
        }
    }

    fn open_ended(&mut self, what: &str) -> Failure {
        let token = self.token(Kind::Text, 1, false);
        failure(
            format!("{what} that does not end"),
            "the file may be cut off: copy or export it again",
            Some(token.place()),
        )
    }

    fn too_long(&mut self) -> Failure {
        let token = self.token(Kind::Text, 1, false);
        failure(
            format!("a text longer than {} MiB", LONGEST >> 20),
            "take the camera out into a file of its own",
            Some(token.place()),
        )
    }
}

/// How many bytes belong to the number that `rest` begins with.
fn number_length(rest: &[u8]) -> usize {
    let mut before = 0;
    let mut inside = |byte: &u8| {
        let sign = matches!(byte, b'+' | b'-');
        let good = match before {
            0 => true,
            b'e' | b'E' if sign => true,
            _ => is_word(*byte) || *byte == b'.',
        };
        before = *byte;
        good
    };
    rest.iter()
        .take(LONGEST_NUMBER + 1)
        .take_while(|b| inside(b))
        .count()
}

fn is_word_start(byte: u8) -> bool {
    byte.is_ascii_alphabetic() || byte == b'_' || byte >= 0x80
}

fn is_word(byte: u8) -> bool {
    is_word_start(byte) || byte.is_ascii_digit()
}

/// Whether the text is a number as OpenUSD writes and reads them.
pub fn is_number(text: &str) -> bool {
    let digits = text.strip_prefix('-').unwrap_or(text);
    if digits == "inf" {
        return true;
    }
    let (mantissa, exponent) = match digits.split_once(['e', 'E']) {
        Some((mantissa, exponent)) => (mantissa, Some(exponent)),
        None => (digits, None),
    };
    let (whole, part) = mantissa.split_once('.').unwrap_or((mantissa, ""));
    let all_digits = |text: &str| text.bytes().all(|b| b.is_ascii_digit());
    let exponent_digits = exponent.map(|e| e.strip_prefix(['+', '-']).unwrap_or(e));
    all_digits(whole)
        && all_digits(part)
        && !(whole.is_empty() && part.is_empty())
        && exponent_digits.is_none_or(|e| !e.is_empty() && all_digits(e))
}
