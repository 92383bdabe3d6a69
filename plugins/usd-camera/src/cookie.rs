//! How a file begins.

use ringmark_sdk::{Failure, Input, Place, failure};

use crate::remarks::{Notice, Remarks};

/// First bytes of a text file.
const TEXT: &[u8] = b"#usda ";
/// First bytes of a binary file.
pub const BINARY: &[u8] = b"PXR-USDC";
/// First bytes of a package, which is a zip file.
const PACKAGE: &[u8] = b"PK\x03\x04";
/// Byte order mark of UTF-8.
const MARK: &[u8] = b"\xef\xbb\xbf";

/// How sure it is that a file which begins so is one of ours.
pub fn recognise(head: &[u8]) -> u32 {
    let text = head.strip_prefix(MARK).unwrap_or(head);
    if text.starts_with(TEXT) {
        100
    } else if head.starts_with(BINARY) {
        // To say what to do about it.
        90
    } else {
        0
    }
}

/// Where the text begins; what cannot be read is refused.
pub fn check(input: &dyn Input, remarks: &mut Remarks) -> Result<u64, Failure> {
    let head = input.read(0, 64);
    let at = |length: usize| {
        Some(Place {
            input: 0,
            offset: 0,
            length: length as u64,
            field: String::new(),
        })
    };
    if head.starts_with(BINARY) {
        return Err(failure(
            "a binary OpenUSD file (.usdc): only the text form is read",
            "save it as .usda text, for example with the usdcat tool of OpenUSD: usdcat -o NAME.usda FILE",
            at(BINARY.len()),
        ));
    }
    if head.starts_with(PACKAGE) {
        return Err(failure(
            "a zip file, perhaps an OpenUSD package (.usdz): only plain text is read",
            "save its first layer as .usda text, for example with the usdcat tool of OpenUSD",
            at(PACKAGE.len()),
        ));
    }
    let text = head.strip_prefix(MARK).unwrap_or(&head);
    let start = head.len() - text.len();
    let Some(version) = text.strip_prefix(TEXT) else {
        return Err(failure(
            "not OpenUSD text: the file does not begin with `#usda 1.0`",
            "OpenUSD needs that as the first line",
            at(head.len().min(9)),
        ));
    };
    if !version.starts_with(b"1.") {
        let line = version.split(|b| *b < b' ').next().unwrap_or_default();
        return Err(failure(
            format!(
                "OpenUSD text of version {}: version 1 is read",
                String::from_utf8_lossy(line)
            ),
            "export it as version 1.0",
            at(head.len().min(9)),
        ));
    }
    if start > 0 {
        remarks.add(Notice {
            severity: "warning",
            check: "byte-order-mark",
            subject: "",
            message: "the file begins with a byte order mark".to_owned(),
            help: "OpenUSD refuses the file so: save it as UTF-8 without the mark",
            at: at(MARK.len()),
        });
    }
    Ok(start as u64)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use ringmark_sdk::native::MemoryInput;

    /// Found by fuzzing: the place went one byte past the end.
    #[test]
    fn a_place_ends_with_the_file() {
        for bytes in [&b"#usda 1#"[..], b"#usda 2", b"#usda", b""] {
            let failure = check(
                &*MemoryInput::boxed("a.usda", bytes),
                &mut Remarks::default(),
            );
            let at = failure.unwrap_err().at.unwrap();
            assert_eq!((at.offset, at.length), (0, bytes.len() as u64));
        }
    }
}
