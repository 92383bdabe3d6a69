#![allow(clippy::unwrap_used, missing_docs)]
use super::*;
use crate::samples::{LENS, TAKE, at};
use proptest::prelude::*;

fn memory(name: &str, bytes: &[u8]) -> SourceFiles {
    let mut sources = SourceFiles::new();
    sources.add_memory(name, bytes);
    sources
}

fn plain(sources: &SourceFiles, place: &Place, also: &[(Place, String)]) -> String {
    excerpt(sources, place, also, Severity::Error, false)
}

fn field(offset: u64, length: u64, field: &str) -> Place {
    Place {
        input: 0,
        offset,
        length,
        field: Some(field.to_owned()),
    }
}

#[test]
fn cells_stand_under_their_column() {
    insta::assert_snapshot!(plain(
        &memory("take.csv", TAKE.as_bytes()),
        &at(TAKE, "3.20", 4),
        &[]
    ));
}

#[test]
fn near_places_share_and_far_ones_follow() {
    let sources = memory("lens.csv", LENS.as_bytes());
    let also = [
        (at(LENS, "0.31", 4), "the mark before".to_owned()),
        (at(LENS, "# maker", 7), "this maker".to_owned()),
    ];
    insta::assert_snapshot!(plain(&sources, &at(LENS, "0.29", 4), &also));
    let far = "\n".repeat(5000);
    let text = format!("a{far}b");
    let also = [(Place::record(0, 0), "far away".to_owned())];
    insta::assert_snapshot!(plain(
        &memory("far.txt", text.as_bytes()),
        &Place::record(0, 5001),
        &also
    ));
}

#[test]
fn wide_characters_and_byte_order_marks() {
    let text = "\u{feff}clip,note\r\n焦点,Größe ∞\r\n";
    insta::assert_snapshot!(plain(
        &memory("wide.csv", text.as_bytes()),
        &at(text, "∞", 3),
        &[(at(text, "clip", 4), "x".to_owned())]
    ));
}

#[test]
fn the_end_and_past_it() {
    let sources = memory("take.csv", TAKE.as_bytes());
    let end = TAKE.len() as u64;
    insta::assert_snapshot!(plain(&sources, &Place::record(0, end), &[]));
    assert_eq!(
        plain(&sources, &Place::record(0, end + 1), &[]),
        "  --> take.csv, byte 295 (past the end of the file)"
    );
    assert_eq!(
        plain(&sources, &field(u64::MAX, u64::MAX, "x\u{1b}"), &[]),
        "  --> take.csv, byte 18446744073709551615, x␛ (past the end of the file)"
    );
    assert_eq!(
        plain(
            &sources,
            &Place {
                input: 7,
                ..Place::record(0, 1)
            },
            &[]
        ),
        "  --> unknown input, byte 1"
    );
}

#[test]
fn long_lines_are_cut_and_keep_their_column() {
    let text = format!(
        "{{\"x\": [{}\u{202e}7, {}]}}",
        "∞, ".repeat(50_000),
        "1, ".repeat(50_000)
    );
    let sources = memory("long.json", text.as_bytes());
    let shown = plain(
        &sources,
        &field(text.find('7').unwrap() as u64, 1, "x[50000]"),
        &[],
    );
    assert!(
        shown.lines().all(|line| line.len() < 2 * LONG_LINE),
        "{shown}"
    );
    insta::assert_snapshot!(shown);
}

#[test]
fn binary_and_broken_text_show_bytes() {
    let bytes: Vec<u8> = (0..=255).collect();
    let sources = memory("a.exr", &bytes);
    let also = [(
        Place {
            length: 80,
            ..Place::record(0, 60)
        },
        "its size".to_owned(),
    )];
    insta::assert_snapshot!(plain(
        &sources,
        &field(20, 4, "part 0, attribute focus"),
        &also
    ));
    let mut latin = "a,b\n".repeat(5000).into_bytes();
    latin.extend(b"gr\xfc\xdfe,1\n");
    insta::assert_snapshot!(plain(
        &memory("latin.csv", &latin),
        &Place {
            length: 5,
            ..Place::record(0, 20_000)
        },
        &[]
    ));
}

#[test]
fn locations() {
    let sources = memory("take.csv", TAKE.as_bytes());
    assert_eq!(location(&sources, &at(TAKE, "3.20", 4)), "take.csv:4:25");
    let mut gone = SourceFiles::new();
    gone.add_path("standard input", "/no/such/file");
    assert_eq!(
        location(&gone, &field(12, 1, "clip")),
        "standard input, byte 12, clip"
    );
}

fn place() -> impl Strategy<Value = Place> {
    let offset = prop_oneof![0u64..260, any::<u64>()];
    let length = prop_oneof![0u64..20, any::<u64>()];
    (
        0u32..2,
        offset,
        length,
        proptest::option::of("[a\u{1b}]{1,3}"),
    )
        .prop_map(|(input, offset, length, field)| Place {
            input,
            offset,
            length,
            field,
        })
}

proptest! {
    #[test]
    fn never_panics_on_bytes(bytes in proptest::collection::vec(any::<u8>(), 0..260), places in proptest::collection::vec(place(), 1..4)) {
        check(&bytes, &places)?;
    }

    #[test]
    fn never_panics_on_text(text in "([a-c,\"\t\r\u{1b}\u{202e}é∞]{0,30}\n?){0,8}", places in proptest::collection::vec(place(), 1..4)) {
        check(text.as_bytes(), &places)?;
    }

    #[test]
    fn never_panics_on_long_lines(text in "[a∞\u{1b}]{180,400}", places in proptest::collection::vec(place(), 1..4)) {
        check(text.as_bytes(), &places)?;
    }
}

fn check(bytes: &[u8], places: &[Place]) -> Result<(), TestCaseError> {
    let sources = memory("a\u{1b}.csv", bytes);
    let also: Vec<_> = places
        .iter()
        .skip(1)
        .map(|p| (p.clone(), "also\u{202e}".to_owned()))
        .collect();
    let shown = plain(&sources, &places[0], &also);
    prop_assert!(
        !shown
            .chars()
            .any(|c| c != '\n' && c.is_control() || c == '\u{202e}'),
        "{:?}",
        shown
    );
    Ok(())
}
