//! What the lexer takes and refuses.
#![allow(clippy::unwrap_used)]

use std::rc::Rc;

use ringmark_sdk::Failure;
use ringmark_sdk::native::MemoryInput;

use crate::lex::{Kind, Lexer, is_number};
use crate::scan::Scan;

fn lexer(text: &str, chunk: u32) -> Lexer {
    let input = Rc::from(MemoryInput::boxed("x", text.as_bytes()));
    Lexer::new(Scan::new(input, 0, chunk))
}

fn all(text: &str, chunk: u32) -> Result<Vec<String>, Failure> {
    let mut lexer = lexer(text, chunk);
    let mut found = Vec::new();
    loop {
        let token = lexer.next()?;
        if token.kind == Kind::End {
            return Ok(found);
        }
        assert_eq!(token.length, lexer.text().len());
        found.push(lexer.text().to_owned());
    }
}

#[test]
fn tokens_do_not_depend_on_chunks() {
    let text = "def Camera \"c\\\"d\" { # no } here\n float a:b.timeSamples = {-1: .5, 2:-inf,} // x\n /* \" */ 'it' '''a\n'b''c''' @x/y@</p> @@@a@b\\@@@@@@ é_1 1e+3 }";
    let tokens = [
        "def",
        "Camera",
        "\"c\\\"d\"",
        "{",
        "float",
        "a:b",
        ".",
        "timeSamples",
        "=",
        "{",
        "-1",
        ":",
        ".5",
        ",",
        "2",
        ":",
        "-inf",
        ",",
        "}",
        "'it'",
        "'''a\n'b''c'''",
        "@x/y@",
        "</p>",
        "@@@a@b\\@@@@@@",
        "é_1",
        "1e+3",
        "}",
    ];
    for chunk in [1, 2, 3, 5, 1000] {
        assert_eq!(all(text, chunk).unwrap(), tokens, "{chunk}");
    }
}

#[test]
fn what_the_reference_refuses() {
    // usd-core 26.11 refuses each of these as a value.
    for text in [
        "5f", "0x10", "1.2.3", "1e", "-ind", "\"a", "'a\nb'", "@a\n@", "/* x", "<a",
    ] {
        let failure = all(text, 4).unwrap_err();
        assert_eq!(failure.at.unwrap().offset, 0, "{text}");
    }
    assert!(is_number("5.") && is_number(".5") && is_number("-.5e-3") && !is_number("."));
}

#[test]
fn ends_of_lines_are_seen() {
    let mut lexer = lexer("a b // x\n c /* \n */ d", 8);
    let seen: Vec<bool> = (0..4).map(|_| lexer.next().unwrap().new_line).collect();
    assert_eq!(seen, [false, false, true, true]);
}

#[test]
fn a_byte_that_is_no_utf8_has_its_place() {
    let input = Rc::from(MemoryInput::boxed("x", b"a \"bc\xffd\"".as_slice()));
    let mut lexer = Lexer::new(Scan::new(input, 0, 4));
    lexer.next().unwrap();
    assert_eq!(lexer.next().unwrap_err().at.unwrap().offset, 5);
}

#[test]
fn a_plain_sample_is_the_same_in_one_piece() {
    for (text, found) in [
        ("\n  1001: 32.5, x", Some((1001.0, 32.5, 4))),
        ("-3: -1e-3,", Some((-3.0, -1e-3, 1))),
        ("1: -inf,", Some((1.0, f64::NEG_INFINITY, 1))),
        ("1: 2 ,", None),
        ("1 : 2,", None),
        ("1.5: 2,", None),
        ("1: 5f,", None),
        ("1: None,", None),
        ("1: +5,", None),
        ("1234567890123456: 5,", None),
        ("}", None),
        ("1: 2", None),
    ] {
        let mut lexer = lexer(&format!("{{{text} end"), 100);
        assert!(lexer.next().unwrap().is(b'{'));
        assert_eq!(lexer.plain_sample(), found, "{text}");
        // Nothing is used up, or all of the sample.
        let comma = text.find(',').map_or(0, |at| at + 1);
        let used = if found.is_some() { comma } else { 0 };
        let rest = format!("{} end", &text[used..]);
        let next = 1 + used + rest.len() - rest.trim_start().len();
        match lexer.next() {
            Ok(token) => assert_eq!(token.offset as usize, next, "{text}"),
            Err(failure) => assert_eq!(failure.at.unwrap().offset as usize, next, "{text}"),
        }
    }
}
