//! What is written is read again, and is what the schemas say.

use std::io::Read;
use std::sync::LazyLock;

use jsonschema::Validator;
use proptest::prelude::*;
use ringmark_model::Piece;
use ringmark_model::json::{DocumentKind, open};

use crate::canonical::canonical;
use crate::{document, generate, lines, read};

fn validator(name: &str) -> Validator {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../schemas");
    let text = std::fs::read_to_string(format!("{folder}/{name}.schema.json")).unwrap();
    jsonschema::validator_for(&serde_json::from_str(&text).unwrap()).unwrap()
}

static LENS: LazyLock<Validator> = LazyLock::new(|| validator("lens"));
static TAKE: LazyLock<Validator> = LazyLock::new(|| validator("take"));
static LINE: LazyLock<Validator> = LazyLock::new(|| validator("take-line"));

fn assert_valid(validator: &Validator, text: &[u8]) {
    let value: serde_json::Value = serde_json::from_slice(text).unwrap();
    if let Some(error) = validator.iter_errors(&value).next() {
        panic!(
            "{}: {error}\n{}",
            error.instance_path(),
            String::from_utf8_lossy(text)
        );
    }
}

/// Both say the same; shows only where they differ first, as documents are long.
fn same(back: &[Piece], pieces: &[Piece]) {
    let (back, pieces) = (canonical(back), canonical(pieces));
    if back != pieces {
        let (back, pieces) = (format!("{back:#?}"), format!("{pieces:#?}"));
        panic!("{}", first_difference(back.as_bytes(), pieces.as_bytes()));
    }
}

fn first_difference(found: &[u8], expected: &[u8]) -> String {
    let at = found
        .iter()
        .zip(expected)
        .take_while(|(a, b)| a == b)
        .count();
    let around = |text: &[u8]| {
        let part = &text[at.saturating_sub(80)..text.len().min(at + 80)];
        String::from_utf8_lossy(part).into_owned()
    };
    format!("found\n{}\nexpected\n{}", around(found), around(expected))
}

/// Hands out a few bytes at a time.
struct Trickle<'a>(&'a [u8], usize);

impl Read for Trickle<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let bytes = self.1.min(buffer.len());
        self.0.read(&mut buffer[..bytes])
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn lines_read_back(seed in any::<u64>()) {
        let pieces = generate::pieces(seed);
        let text = lines(&pieces);
        let back = read(&text).unwrap();
        same(&back, &pieces);
        for line in text.split_inclusive(|&byte| byte == b'\n') {
            assert_valid(&LINE, line);
        }
    }

    #[test]
    fn documents_read_back(seed in any::<u64>()) {
        let pieces = generate::pieces(seed);
        let text = document(DocumentKind::Takes, &pieces);
        let back = read(&text).unwrap();
        same(&back, &pieces);
        assert_valid(&TAKE, &text);
    }

    #[test]
    fn lenses_read_back(seed in any::<u64>()) {
        let pieces = generate::lenses(seed);
        let text = document(DocumentKind::Lenses, &pieces);
        let back = read(&text).unwrap();
        same(&back, &pieces);
        assert_valid(&LENS, &text);
    }

    /// Reading and writing again gives the same bytes.
    #[test]
    fn writing_settles(seed in any::<u64>()) {
        let pieces = generate::pieces(seed);
        let text = document(DocumentKind::Takes, &pieces);
        let again = document(DocumentKind::Takes, &read(&text).unwrap());
        prop_assert!(again == text, "{}", first_difference(&again, &text));
    }

    #[test]
    fn the_size_of_the_reads_does_not_matter(seed in any::<u64>(), size in 1usize..40) {
        let text = lines(&generate::pieces(seed));
        let trickled: Vec<_> = open("sample", Trickle(&text, size)).collect::<Result<_, _>>().unwrap();
        same(&trickled, &read(&text).unwrap());
    }
}
