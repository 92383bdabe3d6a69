#![allow(clippy::unwrap_used, missing_docs)]

use proptest::prelude::*;

use super::*;
use crate::Unit;

/// Runs every parser and checks what holds of each answer.
fn parse_all(text: &str) {
    for mark in [DecimalMark::Point, DecimalMark::Comma] {
        let mut errors = Vec::new();
        match number_with(text, mark) {
            Ok(read) => assert!(!read.is_nan()),
            Err(error) => errors.push(error),
        }
        for unit in Unit::ALL {
            match length_with(text, unit, mark) {
                Ok((read, _)) => assert!(read >= 0.0),
                Err(error) => errors.push(error),
            }
            match angle_with(text, unit, mark) {
                Ok((read, _)) => assert!(read.is_finite()),
                Err(error) => errors.push(error),
            }
        }
        match stop_with(text, mark) {
            Ok(read) => assert!(read.value > 0.0),
            Err(error) => errors.push(error),
        }
        match position_with(text, mark) {
            Ok((read, _)) => assert!(read.is_finite()),
            Err(error) => errors.push(error),
        }
        match focal_length_with(text, mark) {
            Ok(read) => assert!(read > 0.0 && read.is_finite()),
            Err(error) => errors.push(error),
        }
        for error in errors {
            let kept = error.text().unwrap();
            assert!(text.starts_with(kept), "{error}");
            assert!(kept.get(error.span().unwrap()).is_some(), "{error}");
            assert!(
                !error.expected().is_empty() && !error.help().is_empty(),
                "{error}"
            );
        }
    }
}

proptest! {
    #[test]
    fn on_any_text(text in any::<String>()) {
        parse_all(&text);
    }

    #[test]
    fn on_pieces_of_notation(
        pieces in prop::collection::vec(
            prop::sample::select(vec![
                "5", "6", "0", "12", "99999999999", "1e999", ".", ",", "'", "\"", "′", "″", "’", "”", "''", " ", "\u{a0}", "ft", "in",
                "m", "mm", "D", "°", "rad", "T", "f/", "F", "½", "⅓", "1/2", "/", "⁄", "-", "−", "–", "+", "∞", "inf",
                "nan", "C", "closed", "%", "e", "é",
            ]),
            0..8,
        )
    ) {
        parse_all(&pieces.concat());
    }
}

#[test]
fn on_long_text() {
    for piece in ["9", "1/", "'", "½", " ", "-", "5'", "e"] {
        parse_all(&piece.repeat(100_000));
    }
}
