//! Everything that can be wrong with a table: a failure that says what, where, and what to do.
#![allow(missing_docs, clippy::unwrap_used)]

use std::cell::Cell;
use std::rc::Rc;

use ringmark_sdk::native::read_all;
use ringmark_sdk::{Failure, Input, Item, Reader};
use ringmark_table::TableReader;

const SAMPLES: [&[u8]; 4] = [
    include_bytes!("data/prime_metric.csv"),
    include_bytes!("data/prime_feet_inches.csv"),
    include_bytes!("data/prime_decimal_feet.csv"),
    include_bytes!("data/take_drop_frame.csv"),
];

fn refused(text: impl AsRef<[u8]>) -> Failure {
    refused_with(text, "{}")
}

fn refused_with(text: impl AsRef<[u8]>, options: &str) -> Failure {
    let text = text.as_ref();
    match read_all::<TableReader>("table.csv", text, options) {
        Ok(items) => panic!("{:?} was read as {items:?}", String::from_utf8_lossy(text)),
        Err(failure) => {
            assert!(!failure.help.is_empty(), "{}", failure.message);
            failure
        }
    }
}

/// The bytes that a failure points at.
fn marked(text: &str, failure: &Failure) -> String {
    let at = failure
        .at
        .clone()
        .unwrap_or_else(|| panic!("no place: {}", failure.message));
    text[at.offset as usize..(at.offset + at.length) as usize].to_owned()
}

#[test]
fn a_cell_that_is_no_number_is_marked() {
    for (cell, words, help) in [
        ("abc", "“abc” in column “focus distance [m]”: expected", ""),
        ("1.2.3", "“1.2.3”", ""),
        ("nan", "“nan”", "leave the cell empty"),
        ("1.2 ft", "“1.2 ft”", "decimal feet"),
        ("\"1,5\"", "“1,5”", "# decimal: comma"),
        ("5'6\"", "“5'6\\\"”", ""),
    ] {
        let text = format!("frame,focus distance [m]\n1,2\n2,{cell}\n");
        let failure = refused(&text);
        let words = words.replace("\\\"", "\"");
        assert!(failure.message.contains(&words), "{}", failure.message);
        assert!(failure.help.contains(help), "{}", failure.help);
        assert_eq!(marked(&text, &failure), cell);
    }
}

#[test]
fn decimal_comma_is_read_only_where_it_is_said() {
    let text = "frame;focus distance [m]\n1;1,5\n";
    let failure = refused(text);
    assert_eq!(marked(text, &failure), "1,5");
    assert!(
        failure.help.contains("# decimal: comma"),
        "{}",
        failure.help
    );
    assert!(failure.help.contains("decimal = \",\""), "{}", failure.help);
    let failure = refused("# decimal: comma\nframe,focus distance [m]\n1,\"1,5\"\n");
    assert!(
        failure.help.contains("semicolons or tabs"),
        "{}",
        failure.help
    );
    let failure = refused("frame,focus distance [m]\n1,1,5\n");
    assert!(failure.help.contains("decimal commas"), "{}", failure.help);
}

#[test]
fn rows_of_another_length() {
    for (row, words) in [
        ("1", "1 cell, the header has 2"),
        ("1,2,3", "3 cells, the header has 2"),
        ("1,\"2\",3", "3 cells"),
    ] {
        let text = format!("frame,T-stop\n1,2\n{row}\n3,4\n");
        let failure = refused(&text);
        assert!(failure.message.contains(words), "{}", failure.message);
        assert_eq!(marked(&text, &failure), row);
    }
    let comment = refused("lens,T-stop\nA,2\n# a comment\n");
    assert!(
        comment.help.contains("above the header"),
        "{}",
        comment.help
    );
    assert!(refused("frame,T-stop\n1,2\n2").help.contains("cut short"));
    assert!(
        refused("ring,position [0..1],mark [m]\nfocus,0\n")
            .message
            .contains("2 cells")
    );
}

#[test]
fn headers_that_are_not_clear() {
    for (header, words, mark) in [
        ("frame,focus distance", "has no unit", "focus distance"),
        (
            "frame,focus distance [kg]",
            "cannot be in “kg”",
            "focus distance [kg]",
        ),
        ("frame,Frame", "columns 1 and 2 are both “frame”", "Frame"),
        ("frame,note,note", "are both “extra/note”", "note"),
        ("frame,,note", "has no name", ""),
        (
            "frame,focus ring [count]",
            "which range the ring has",
            "focus ring [count]",
        ),
        (
            "frame,zoom ring [deg]",
            "which range the ring has",
            "zoom ring [deg]",
        ),
        ("a,b", "no column of this table is known", "a"),
        ("ring,position,mark [m]", "has no unit", "position"),
        ("ring,position [0..1],mark", "has no unit", "mark"),
        (
            "ring,position [0..1],mark [m],mark [m]",
            "is there twice",
            "mark [m]",
        ),
        (
            "ring,mark [m],x",
            "needs a column `position [0..1]`",
            "ring",
        ),
    ] {
        let row = vec!["1"; header.split(',').count()].join(",");
        let text = format!("{header}\n{row}\n");
        let failure = refused(&text);
        assert!(
            failure.message.contains(words),
            "{header}: {}",
            failure.message
        );
        assert_eq!(marked(&text, &failure), mark, "{header}");
    }
    let wide = vec!["x"; 4097].join(",");
    assert!(
        refused(format!("{wide}\n{wide}\n"))
            .message
            .contains("4097 columns")
    );
}

#[test]
fn lines_above_the_header() {
    for (line, mark) in [
        ("# document: poem", "poem"),
        ("# frame rate: fast", "fast"),
        ("# timecode: sometimes", "sometimes"),
        ("# close focus: 0.5", "0.5"),
        ("# close focus: near", "near"),
        ("# lens kind: big", "big"),
        ("# squeeze: round", "round"),
        ("# measured from: the floor", "the floor"),
        ("# focus encoder: 65535", "65535"),
        ("# focus encoder: a..b", "a..b"),
        ("# focus rotation: 300", "300"),
        ("# widest T-stop: f/2", "f/2"),
        ("# temperature [C]: warm", "warm"),
        ("# resolution: large", "large"),
        ("# clip: A\n# clip name: B", "B"),
    ] {
        let text = format!("{line}\nframe,T-stop\n1,2\n");
        assert_eq!(marked(&text, &refused(&text)), mark, "{line}");
    }
}

#[test]
fn rows_of_calibrations() {
    for (row, mark) in [
        ("knob,0,1", "knob"),
        ("focus,x,1", "x"),
        ("focus,0,near", "near"),
        ("iris,0,2.8", "2.8"),
        ("iris,0,4 m", "4 m"),
        ("zoom,0,T2.8", "T2.8"),
        ("zoom,0,24", "24"),
        ("focus,,1", "focus"),
        (",0,1", ""),
        ("focus,0,", "focus"),
    ] {
        let text = format!("ring,position [0..1],mark [m]\nfocus,0.5,2\n{row}\n");
        assert_eq!(marked(&text, &refused(&text)), mark, "{row}");
    }
    let two = "ring,position [0..1],mark [m],mark [ft]\nfocus,0,1,\nfocus,0.1,,4\n";
    assert!(refused(two).message.contains("“m” and in “ft”"));
    let both = "ring,position [0..1],mark [m],mark [ft]\nfocus,0,1,3.3\n";
    assert_eq!(marked(both, &refused(both)), "3.3");
    let count = "ring,position [count],mark [m]\nfocus,0,1\n";
    assert!(refused(count).help.contains("# focus encoder: 0..65535"));
}

#[test]
fn nothing_to_read() {
    for (text, words) in [
        ("", "empty"),
        ("\n\n\n", "empty"),
        ("\u{feff}", "empty"),
        ("# document: take\n", "before the header"),
        ("frame,T-stop\n", "no row"),
        ("frame,T-stop", "no row"),
        ("frame,T-stop\n\r\n\n", "no row"),
        ("ring,position [0..1],mark [m]\n", "no mark"),
    ] {
        let failure = refused(text);
        assert!(
            failure.message.contains(words),
            "{text:?}: {}",
            failure.message
        );
    }
}

#[test]
fn what_is_no_text() {
    let openexr = [0x76, 0x2f, 0x31, 0x01, 0x02, 0, 0, 0, 0x63];
    assert_eq!(refused(openexr).at.unwrap().offset, 5);
    assert!(refused(b"\xff\xfef\0r\0").message.contains("UTF-16"));
    for (text, offset) in [
        (&b"frame,note\n1,\xe4\n"[..], 13),
        (b"frame,n\xe4te\n1,a\n", 7),
        (b"# clip: \xe4\nframe\n1\n", 8),
        (b"frame,note\n1,\"a\xe4\"\n", 13),
        (b"frame,T-stop\n1,\xe4\n", 15),
        (b"frame,note\n1,a\0\n", 14),
        (b"frame,T-stop\n1,2\0\n", 16),
        (b"frame,note\n1,\"a\0\"\n", 15),
    ] {
        let failure = refused(text);
        assert_eq!(failure.at.unwrap().offset, offset, "{}", failure.message);
    }
    // A character cut in two by a delimiter is not joined again.
    assert!(read_all::<TableReader>("t", b"frame,a,b\n1,\xc3,\xa4\n", "{}").is_err());
}

#[test]
fn line_ends() {
    for text in [
        "frame,T-stop\r1,2\r",
        "frame,T-stop\n1,2\r2,3\n",
        "# a: b\rframe\n1\n",
        "frame,note\n1,a\rb\n",
    ] {
        let failure = refused(text);
        assert!(
            failure.message.contains("CR alone"),
            "{text:?}: {}",
            failure.message
        );
        assert_eq!(marked(text, &failure), "\r");
    }
    let mixed = read_all::<TableReader>("t", b"frame\n1\r\n2\n\r\n\n3\n", "{}").unwrap();
    let Some(Item::Remark(remark)) = mixed.last() else {
        panic!("{mixed:?}");
    };
    assert_eq!(
        (remark.severity.as_str(), remark.check.as_str()),
        ("note", "mixed-line-ends")
    );
    let crlf =
        read_all::<TableReader>("t", b"frame,lens\r\n1,A\r\n2,A\r\n3,A\r\n\r\n", "{}").unwrap();
    let [Item::Take(_), Item::Frames(frames)] = crlf.as_slice() else {
        panic!("{crlf:?}");
    };
    assert_eq!(frames.columns[0].values, [1.0, 2.0, 3.0]);
    assert_eq!(frames.labels[0].index, [0, 0, 0]);
}

#[test]
fn quotes() {
    for (text, words) in [
        ("frame,note\n1,\"a\n2,b\n", "not closed"),
        ("frame,note\n1,\"a\"b\n", "closing quote"),
        ("\"frame,note\n1,2\n", "not closed"),
    ] {
        let failure = refused(text);
        assert!(failure.message.contains(words), "{}", failure.message);
    }
}

#[test]
fn mappings_that_do_not_fit() {
    let text = "Bild,Fokus\n1,2\n";
    for (mapping, words) in [
        (
            r#"{"columns":[{"header":"Iris","channel":"t-stop"}]}"#,
            "no column “Iris”",
        ),
        (
            r#"{"columns":[{"index":3,"channel":"t-stop"}]}"#,
            "no column 3",
        ),
        (
            r#"{"columns":[{"header":"Fokus","channel":"focus"}]}"#,
            "no channel “focus”",
        ),
        (
            r#"{"columns":[{"header":"Fokus","channel":"focus-distance"}]}"#,
            "has no unit",
        ),
        (r#"{"delimiter":"|"}"#, "delimiter"),
        (r#"{"decimal":"'"}"#, "decimal"),
        (r#"{"skip_lines":9}"#, "skip_lines is 9"),
        (r#"{"surprise":1}"#, "surprise"),
    ] {
        let failure = refused_with(text, &format!("{{\"mapping\":{mapping}}}"));
        assert!(
            failure.message.contains(words),
            "{mapping}: {}",
            failure.message
        );
    }
}

/// An endless line, which counts how much of it was asked for.
struct Endless {
    start: &'static [u8],
    asked: Rc<Cell<u64>>,
}

impl Input for Endless {
    fn name(&self) -> String {
        "endless.csv".to_owned()
    }
    fn size(&self) -> u64 {
        1 << 30
    }
    fn read(&self, offset: u64, length: u32) -> Vec<u8> {
        self.asked.set(self.asked.get() + u64::from(length));
        (offset..offset + u64::from(length))
            .map(|at| self.start.get(at as usize).copied().unwrap_or(b'7'))
            .collect()
    }
}

#[test]
fn a_line_of_a_gigabyte_is_refused_after_a_mebibyte() {
    for start in [
        &b"7"[..],
        b"# key: 7",
        b"frame,T-stop\n1,",
        b"frame,note\n1,x",
        b"frame,note\n1,\"x",
        b"\"frame",
        b"ring,position [0..1],mark [m]\nfocus,0,",
    ] {
        let asked = Rc::new(Cell::new(0));
        let input = Endless {
            start,
            asked: Rc::clone(&asked),
        };
        let outcome = TableReader::open(vec![Box::new(input)], "{}").and_then(|mut reader| {
            while reader.next()?.is_some() {}
            Ok(())
        });
        let failure = outcome.unwrap_err();
        assert!(
            failure.message.contains("longer than 1 MiB"),
            "{}",
            failure.message
        );
        assert!(asked.get() <= 2 << 20, "{} bytes were read", asked.get());
    }
}

/// Cut anywhere, a sample reads or fails with a place; it never panics.
#[test]
fn samples_cut_at_every_byte() {
    for sample in SAMPLES {
        for cut in 0..sample.len() {
            if let Err(failure) = read_all::<TableReader>("cut.csv", &sample[..cut], "{}") {
                let at = failure
                    .at
                    .unwrap_or_else(|| panic!("no place: {}", failure.message));
                assert!(at.offset + at.length <= cut as u64, "{}", failure.message);
            }
        }
    }
}

/// One bit turned anywhere: no panic.
#[test]
fn samples_with_turned_bits() {
    for sample in SAMPLES {
        for at in 0..sample.len() {
            let mut bytes = sample.to_vec();
            bytes[at] ^= 1 << (at % 8);
            let _ = read_all::<TableReader>("turned.csv", &bytes, "{}");
        }
    }
}
