//! Files that end too early or are damaged: an error, never a smaller document.

use proptest::prelude::*;
use ringmark_model::json::DocumentKind;

use crate::{document, generate, lines, read};

/// A document with every kind of line.
fn sample() -> Vec<ringmark_model::Piece> {
    let wanted = |text: &str| {
        text.contains("\n{\"take\":1,\"channels\"")
            && text.contains("\n{\"takes\"")
            && text.contains("\n{\"lenses\"")
    };
    (0..)
        .map(generate::pieces)
        .find(|pieces| {
            let text = lines(pieces);
            text.len() < 4000 && wanted(&String::from_utf8(text).unwrap())
        })
        .unwrap()
}

#[test]
fn lines_cut_at_every_byte() {
    let pieces = sample();
    let text = lines(&pieces);
    assert_eq!(text.last(), Some(&b'\n'));
    let whole = text.len() - 1;
    let mut said_so = 0;
    for cut in 0..whole {
        let error = read(&text[..cut]).expect_err("a part is taken for the whole");
        assert!(error.offset <= cut as u64, "{error:?} in {cut} bytes");
        said_so += usize::from(error.message.contains("cut off after"));
    }
    // All but those within `{"lens_data":"1.0","form":"lines"`, which are no header yet.
    assert!(said_so > whole - 50, "{said_so} of {whole}");
    // The last line break can be missing: nothing is lost.
    assert_eq!(
        format!("{:?}", read(&text[..whole]).unwrap()),
        format!("{:?}", read(&text).unwrap())
    );
}

#[test]
fn documents_cut_at_every_byte() {
    let text = document(DocumentKind::Takes, &sample());
    for cut in 0..text.len() - 1 {
        let error = read(&text[..cut]).expect_err("a part is taken for the whole");
        assert!(error.offset <= cut as u64);
    }
}

#[test]
fn lost_lines_are_noticed() {
    let text = String::from_utf8(lines(&sample())).unwrap();
    let all: Vec<&str> = text.split_inclusive('\n').collect();
    for lost in 0..all.len() {
        let rest: String = (0..all.len())
            .filter(|&i| i != lost)
            .map(|i| all[i])
            .collect();
        assert!(
            read(rest.as_bytes()).is_err(),
            "without line {}: {}",
            lost + 1,
            all[lost]
        );
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1000))]

    /// Whatever the bytes are: a document or an error with a place in the file.
    #[test]
    fn damaged_bytes_never_panic(seed in any::<u64>(), at in any::<u64>(), byte in any::<u8>(), whole in any::<bool>()) {
        let pieces = generate::pieces(seed);
        let mut text = match whole {
            true => document(DocumentKind::Takes, &pieces),
            false => lines(&pieces),
        };
        let at = (at % text.len() as u64) as usize;
        text[at] = byte;
        if let Err(error) = read(&text) {
            prop_assert!(error.offset <= text.len() as u64);
            prop_assert!(error.line >= 1);
        }
    }
}
