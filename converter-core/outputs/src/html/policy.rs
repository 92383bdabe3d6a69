//! The scripts and styles of a page by their digests, so that a browser runs nothing else (CSP Level 3, hash sources).

use sha2::{Digest, Sha256};

/// `'sha256-…'` of the content of a script or style element.
pub(super) fn digest(content: &str) -> String {
    format!("'sha256-{}'", base64(&Sha256::digest(content.as_bytes())))
}

/// RFC 4648, section 4.
fn base64(bytes: &[u8]) -> String {
    const ALPHABET: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut text = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for chunk in bytes.chunks(3) {
        let mut group = [0; 3];
        group.iter_mut().zip(chunk).for_each(|(g, b)| *g = *b);
        let bits = u32::from_be_bytes([0, group[0], group[1], group[2]]);
        for place in 0..4 {
            let six = (bits >> (18 - 6 * place)) & 63;
            text.push(if place <= chunk.len() {
                char::from(ALPHABET[six as usize])
            } else {
                '='
            });
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn base64_of_rfc_4648() {
        // RFC 4648, section 10.
        for (bytes, text) in [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("fooba", "Zm9vYmE="),
            ("foobar", "Zm9vYmFy"),
        ] {
            assert_eq!(base64(bytes.as_bytes()), text);
        }
    }

    #[test]
    fn digest_of_the_example_in_the_standard() {
        // Content Security Policy Level 3, section 8.3 (from memory), the same as
        // printf %s "alert('Hello, world.');" | openssl dgst -sha256 -binary | base64
        assert_eq!(
            digest("alert('Hello, world.');"),
            "'sha256-qznLcsROx4GACP2dm0UCKCzCG+HiZ1guq6ZZDob/Tng='"
        );
    }
}
