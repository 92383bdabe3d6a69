//! Files that cannot be read, for each format.

use std::path::PathBuf;

use ringmark_tests::root;

/// A file that must be refused.
pub struct Bad {
    /// The format it is handed to.
    pub format: &'static str,
    pub what: &'static str,
    pub bytes: Vec<u8>,
    /// Part of the message.
    pub says: &'static str,
}

const TAKE: &str = "# document: take\n# clip: A012C003\nframe,focus distance [m],T-stop\n";

fn table(what: &'static str, text: impl Into<Vec<u8>>, says: &'static str) -> Bad {
    Bad {
        format: "table",
        what,
        bytes: text.into(),
        says,
    }
}

fn opentrackio(what: &'static str, text: impl Into<Vec<u8>>, says: &'static str) -> Bad {
    Bad {
        format: "opentrackio",
        what,
        bytes: text.into(),
        says,
    }
}

fn openexr(what: &'static str, bytes: impl Into<Vec<u8>>, says: &'static str) -> Bad {
    Bad {
        format: "openexr",
        what,
        bytes: bytes.into(),
        says,
    }
}

fn neutral(what: &'static str, text: impl Into<Vec<u8>>, says: &'static str) -> Bad {
    Bad {
        format: "take.jsonl",
        what,
        bytes: text.into(),
        says,
    }
}

const SAMPLE: &str =
    "{\"protocol\":{\"name\":\"OpenTrackIO\",\"version\":[1,0,1]},\"lens\":{\"tStop\":2.8}}\n";

pub fn plate() -> PathBuf {
    root().join("samples/plates/A012C003.1001.exr")
}

/// A plate with the four bytes of the size of an attribute replaced.
fn plate_with_size(attribute: &str, kind: &str, size: u32) -> Vec<u8> {
    let mut bytes = std::fs::read(plate()).unwrap();
    let head = format!("{attribute}\0{kind}\0");
    let at = bytes
        .windows(head.len())
        .position(|w| w == head.as_bytes())
        .unwrap()
        + head.len();
    bytes[at..at + 4].copy_from_slice(&size.to_le_bytes());
    bytes
}

/// A plate without the end of its header: only one attribute after another.
fn plate_without_end() -> Vec<u8> {
    let mut bytes = std::fs::read(plate()).unwrap()[..8].to_vec();
    for n in 0..60 {
        bytes.extend_from_slice(format!("filler{n}\0string\0").as_bytes());
        bytes.extend_from_slice(&(1_u32 << 20).to_le_bytes());
        bytes.resize(bytes.len() + (1 << 20), b'x');
    }
    bytes
}

/// All of them.
pub fn all() -> Vec<Bad> {
    vec![
        table("empty", "", "empty"),
        table("another format", std::fs::read(plate()).unwrap(), ""),
        table("no header", "# document: take\n", ""),
        table(
            "words for numbers",
            format!("{TAKE}1001,near,2.8\n"),
            "near",
        ),
        table(
            "a number with a unit of another kind",
            format!("{TAKE}1001,40 deg,2.8\n"),
            "40 deg",
        ),
        table("short row", format!("{TAKE}1001,2.4\n"), ""),
        table("long row", format!("{TAKE}1001,2.4,2.8,1\n"), ""),
        table(
            "repeated column",
            "# document: take\nframe,T-stop,T-stop\n1001,2.8,2.8\n",
            "T-stop",
        ),
        table(
            "column without unit",
            "# document: take\nframe,focus distance\n1001,2.4\n",
            "unit",
        ),
        table(
            "column of an unknown unit",
            "# document: take\nfocus distance [ell]\n2.4\n",
            "ell",
        ),
        table(
            "invalid UTF-8",
            [TAKE.as_bytes(), b"1001,2.4,\xff\xfe\n"].concat(),
            "UTF-8",
        ),
        table(
            "invalid UTF-8 in the header",
            b"# document: take\nframe,n\xc3(\n1,2\n".to_vec(),
            "UTF-8",
        ),
        table("open quote", format!("{TAKE}1001,\"2.4,2.8\n"), "quote"),
        table(
            "CR alone",
            TAKE.replace('\n', "\r") + "1001,2.4,2.8\r",
            "CR",
        ),
        table(
            "bare number in feet and inches",
            "# document: take\nfocus distance [ft-in]\n5.6\n",
            "5.6",
        ),
        table(
            "mark of two rings",
            "# document: ring calibration\nring,position [0..1],mark [m]\nfokus,0,1\n",
            "fokus",
        ),
        opentrackio("empty", "", "no sample"),
        opentrackio(
            "another format",
            std::fs::read(root().join("samples/A012C003.csv")).unwrap(),
            "",
        ),
        opentrackio("other JSON", "{\"a\": 1}\n", "OpenTrackIO"),
        opentrackio(
            "a broken second sample",
            format!("{SAMPLE}{{\"lens\":}}\n"),
            "",
        ),
        opentrackio(
            "a cut last sample",
            format!("{SAMPLE}{}", &SAMPLE[..70]),
            "",
        ),
        opentrackio("NaN", SAMPLE.replace("2.8", "NaN"), ""),
        opentrackio(
            "a control character",
            SAMPLE.replace("lens", "l\u{1}ns"),
            "",
        ),
        opentrackio(
            "invalid UTF-8",
            [SAMPLE.as_bytes(), b"{\"lens\":{\"\xff\":1}}\n"].concat(),
            "",
        ),
        opentrackio(
            "deep nesting",
            format!("{}{}", SAMPLE, "[".repeat(100_000)),
            "",
        ),
        opentrackio(
            "an old draft",
            SAMPLE.replace("[1,0,1]", "[0,9,0]"),
            "0.9.0",
        ),
        openexr("empty", "", ""),
        openexr(
            "another format",
            std::fs::read(root().join("samples/A012C003.csv")).unwrap(),
            "76 2f 31 01",
        ),
        openexr("magic number alone", [0x76, 0x2f, 0x31, 0x01], ""),
        openexr(
            "huge attribute",
            plate_with_size("lensModel", "string", 0x7fff_ffff),
            "lensModel",
        ),
        openexr(
            "negative size",
            plate_with_size("lensModel", "string", 0xffff_fff0),
            "lensModel",
        ),
        openexr(
            "wrong size of a float",
            plate_with_size("tStop", "float", 8),
            "tStop",
        ),
        openexr("header without end", plate_without_end(), ""),
        neutral("empty", "", ""),
        neutral(
            "without end line",
            "{\"lens_data\":\"1.0\",\"form\":\"lines\",\"lenses\":[],\"takes\":[{}]}\n{}\n",
            "",
        ),
        neutral(
            "unknown version",
            "{\"lens_data\":\"9.0\",\"form\":\"lines\",\"lenses\":[],\"takes\":[]}\n",
            "9.0",
        ),
        neutral(
            "unknown key",
            "{\"lens_data\":\"1.0\",\"form\":\"lines\",\"lense\":[],\"takes\":[]}\n",
            "lense",
        ),
        neutral("another format", std::fs::read(plate()).unwrap(), ""),
    ]
}
