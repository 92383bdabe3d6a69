//! Documents that are not ours, from tomorrow, damaged by hand, or hostile.

use crate::read;

const HEADER: &str = r#"{"lens_data":"1.0","form":"lines","lenses":[],"takes":[{"channels":{"frame":{},"timecode":{},"t-stop":{"unit":"T"}}}]}"#;

/// The error that reading gives; what stands at its place in the text.
fn error(text: &str) -> (String, String, String, u64) {
    let error = read(text.as_bytes()).expect_err(text);
    let start = error.offset as usize;
    let at = text
        .get(start..start + error.length as usize)
        .unwrap_or("no text");
    (error.message, error.help, at.to_owned(), error.line)
}

#[test]
fn lines_with_faults() {
    for (line, message, help, at) in [
        (
            r#"{"fram":1}"#,
            "unknown channel `fram`",
            "`frame`",
            "\"fram\":",
        ),
        (
            r#"{"frame":1,"t-stp":2}"#,
            "unknown channel `t-stp`",
            "`t-stop`",
            "\"t-stp\":",
        ),
        (
            r#"{"f-number":2}"#,
            "`f-number` is not declared",
            "",
            "\"f-number\":",
        ),
        (
            r#"{"extra/x":2}"#,
            "`extra/x` is not declared",
            "",
            "\"extra/x\":",
        ),
        (
            r#"{"frame":1,"frame":1}"#,
            "`frame` stands twice",
            "",
            "\"frame\":",
        ),
        (
            r#"{"frame":"1"}"#,
            "a text where a number",
            "without quotes",
            "\"1\"",
        ),
        (r#"{"frame":1e999}"#, "too large", "\"inf\"", "1e999"),
        (r#"{"frame":01}"#, "leading 0", "", "01"),
        (r#"{"frame":+1}"#, "expected a number", "", "+"),
        (r#"{"frame":.5}"#, "expected a number", "", "."),
        (r#"{"frame":1.}"#, "a digit after the point", "", "}"),
        (r#"{"frame":-}"#, "expected a number", "", "}"),
        (r#"{"frame":1e}"#, "a digit of the exponent", "", "}"),
        (r#"{"frame":NaN}"#, "expected a number", "", "N"),
        (r#"{"frame":true}"#, "expected a number", "", "t"),
        (r#"{"timecode":1}"#, "a text in quotes", "", "1"),
        (
            r#"{"timecode":"\ud800"}"#,
            "a wrong escape",
            "",
            "\"\\ud800\"",
        ),
        (r#"{"timecode":"a	b"}"#, "a control character", "", "\"a"),
        (r#"{"frame":1,}"#, "a key in quotes", "", "}"),
        (r#"{"frame":1 "t-stop":2}"#, "expected `,` or `}`", "", "\""),
        (r#"{"frame":1} x"#, "expected the end of the line", "", "x"),
        (r#"{"frame":1"#, "expected `,` or `}`", "", "\n"),
        (r#"{"timecode":"01"#, "not closed", "", "\"01"),
        (
            r#"{"take":1,"frame":1}"#,
            "take 1, but there are 1 takes",
            "from 0",
            "1",
        ),
        (r#"{"take":0,}"#, "a key in quotes", "", "}"),
        (
            r#"{"take":0,"channels":{"iris":{}}}"#,
            "unknown channel `iris`",
            "",
            "\"iris\":",
        ),
        (
            r#"{"take":0,"channels":{"f-number":{"unit":"T"}}}"#,
            "always in `f`",
            "",
            "\"f-number\":{\"unit\":\"T\"}",
        ),
        (
            r#"{"lenses":[{"makr":""}]}"#,
            "unknown key `makr`",
            "`maker`",
            "\"makr\":",
        ),
        (r#"[]"#, "expected `{`", "", "["),
    ] {
        let text = format!(
            "{HEADER}\n{{\"frame\":1}}\n{line}\n{{\"end\":{{\"lines\":3,\"frames\":[2]}}}}\n"
        );
        let (said, what_to_do, found, number) = error(&text);
        assert!(said.contains(message), "{line}: {said}");
        assert!(what_to_do.contains(help), "{line}: {what_to_do}");
        assert_eq!(found, at, "{line}");
        assert_eq!(number, 3, "{line}");
    }
}

#[test]
fn the_end_line_counts() {
    let text = format!("{HEADER}\n{{}}\n{{\"end\":{{\"lines\":2,\"frames\":[2]}}}}\n");
    let (said, help, at, line) = error(&text);
    assert_eq!(said, "the takes have [1] frames, but the end line says [2]");
    assert!(help.contains("lost or added"));
    assert_eq!((at.as_str(), line), ("{\"lines\":2,\"frames\":[2]}", 3));
    let text = format!("{HEADER}\n{{\"end\":{{\"lines\":1,\"frames\":[0]}}}}\n\n{{}}\n");
    let (said, _, _, line) = error(&text);
    assert!(said.contains("nothing after the end line"), "{said}");
    assert_eq!(line, 4);
    for (end, expected) in [("\"lines\":7,", "it says 7"), ("", "it says nothing of it")] {
        let (said, ..) = error(&format!(
            "{HEADER}\n{{}}\n{{\"end\":{{{end}\"frames\":[1]}}}}\n"
        ));
        assert!(
            said.starts_with("2 lines come before the end line") && said.contains(expected),
            "{said}"
        );
    }
    let (said, _, _, line) = error(&format!("{HEADER}\n{{}}\n{{}}\n"));
    assert_eq!(
        said,
        "the file is cut off after 2 frames: it has no end line"
    );
    assert_eq!(line, 4);
}

#[test]
fn documents_with_faults() {
    for (text, message, help) in [
        ("", "the file is empty", ""),
        (" \n\n", "the file is empty", ""),
        (
            "frame,focus\n1,2\n",
            "expected `{` of a lens_data document",
            "name the format",
        ),
        ("{}", "`lens_data` is missing", "begins with"),
        (r#"{"lenses":[]}"#, "`lens_data` is missing", ""),
        (
            r#"{"lens_data":"1.1"}"#,
            "newer than 1.0",
            "update this program",
        ),
        (
            r#"{"lens_data":"2.0","lenses":7}"#,
            "newer than 1.0",
            "update this program",
        ),
        (r#"{"lens_data":"one"}"#, "is no version", ""),
        (r#"{"lens_data":1.0}"#, "a text in quotes", ""),
        (
            r#"{"lens_data":"1.0","lense":[]}"#,
            "unknown key `lense`",
            "`lenses`",
        ),
        (
            r#"{"lens_data":"1.0"}{"frame":1}"#,
            "nothing after the end",
            "\"form\":\"lines\"",
        ),
        (
            r#"{"lens_data":"1.0","takes":[{"lens":0}]}"#,
            "a take with lens 0, but there are 0 lenses",
            "",
        ),
        (
            r#"{"lens_data":"1.0","takes":[{"frames":2,"channels":{"frame":{"values":[1]}}}]}"#,
            "`frame` has 1 values, but the take has 2 frames",
            "null",
        ),
        (
            r#"{"lens_data":"1.0","takes":[{"channels":{"frame":{"values":[1]},"t-stop":{"unit":"T","values":[]}}}]}"#,
            "`t-stop` has 0 values, but the take has 1 frames",
            "",
        ),
        (
            r#"{"lens_data":"1.0","takes":[{"channels":{"frame":{}}}]}"#,
            "`frame` has no values",
            "",
        ),
        (
            r#"{"lens_data":"1.0","takes":[{"frames":99999999999}]}"#,
            "frames without values",
            "",
        ),
        (
            r#"{"lens_data":"1.0","takes":[{"frame_rate":"23.97"}]}"#,
            "24000/1001",
            "",
        ),
        (
            r#"{"lens_data":"1.0","takes":[{"counting":"drop"}]}"#,
            "unknown counting mode `drop`",
            "drop-frame",
        ),
        (
            r#"{"lens_data":"1.0","lenses":[{"widest_t_stop":0}]}"#,
            "T-stop",
            "",
        ),
        (
            r#"{"lens_data":"1.0","lenses":[{"focal_length_mm":[50]}]}"#,
            "a second number",
            "",
        ),
        (
            r#"{"lens_data":"1.0","lenses":[{"rings":[{"axis":"focus","quantity":"focus-distance","unit":"ft","marks":[]}]}]}"#,
            "is `m`, found `ft`",
            "source_unit",
        ),
        (
            r#"{"lens_data":"1.0","lenses":[{"rings":[{"axis":"focus","quantity":"focus-distance","unit":"m","marks":[]}]}]}"#,
            "`reference` stands with scales of focus-distance",
            "unstated",
        ),
        (
            r#"{"lens_data":"1.0","lenses":[{"extras":{"a":1,"a":2}}]}"#,
            "key `a` stands twice",
            "",
        ),
        (
            r#"{"lens_data":"1.0","lenses":[{"extras":{"a":{"json":"1","hex":"0"}}}]}"#,
            "exactly one of",
            "",
        ),
    ] {
        let (said, what_to_do, _, line) = error(text);
        assert!(said.contains(message), "{text}: {said}");
        assert!(what_to_do.contains(help), "{text}: {what_to_do}");
        assert!(line <= 3);
    }
}

#[test]
fn a_byte_order_mark_and_windows_line_ends_are_passed_over() {
    for text in [
        format!(
            "\u{feff}{HEADER}\r\n{{\"frame\":1}}\r\n\r\n{{\"end\":{{\"lines\":2,\"frames\":[1]}}}}\r\n"
        ),
        "\u{feff}{\"lens_data\":\"1.0\",\r\n\"lenses\":[]}\r\n".to_owned(),
    ] {
        assert!(read(text.as_bytes()).is_ok(), "{text}");
    }
}

#[test]
fn bytes_that_are_no_text() {
    let text = [HEADER.as_bytes(), b"\n{\"timecode\":\"01\xff\"}\n"].concat();
    let error = read(&text).unwrap_err();
    assert_eq!(error.message, "not UTF-8");
    assert_eq!(error.offset as usize, HEADER.len() + 16);
    assert!(read(b"\xff\xfe{\0\"\0").is_err());
}

#[test]
fn walls_against_hostile_files() {
    let deep = "[".repeat(100_000);
    let (said, ..) = error(&format!(
        r#"{{"lens_data":"1.0","takes":[{{"channels":{{"frame":{{"values":{deep}"#
    ));
    assert!(said.contains("at most 64 levels"), "{said}");

    let long = format!("{HEADER}\n{{\"timecode\":\"{}\n", "x".repeat(17 << 20));
    let (said, ..) = error(&long);
    assert!(
        said.contains("a line of more than 16777216 bytes"),
        "{said}"
    );

    let columns: Vec<String> = (0..5000).map(|i| format!("\"extra/{i}\":{{}}")).collect();
    let wide = format!(
        r#"{{"lens_data":"1.0","takes":[{{"channels":{{{}}}}}]}}"#,
        columns.join(",")
    );
    let (said, ..) = error(&wide);
    assert!(said.contains("more than 4096 columns"), "{said}");
}

/// Reads without end are ended by the limit of a document.
#[test]
fn a_document_without_end() {
    let endless = std::io::Read::chain(&b"{\n"[..], std::io::repeat(b' '));
    let error = ringmark_model::json::open("endless", endless)
        .next_piece()
        .unwrap_err();
    assert_eq!(error.message, "more than 268435456 bytes");
}

#[test]
fn an_input_that_fails() {
    struct Broken;
    impl std::io::Read for Broken {
        fn read(&mut self, _: &mut [u8]) -> std::io::Result<usize> {
            Err(std::io::Error::other("the cable is out"))
        }
    }
    let mut reader = ringmark_model::json::open("a.take.jsonl", Broken);
    let error = reader.next_piece().unwrap_err();
    assert_eq!(
        error.to_string(),
        "a.take.jsonl, line 1: cannot be read: the cable is out"
    );
    assert_eq!(reader.next_piece(), Ok(None));
}
