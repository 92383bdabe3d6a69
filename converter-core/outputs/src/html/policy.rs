//! The scripts and styles of a page by their digests, so that a browser runs nothing else (CSP Level 3, hash sources).

use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use sha2::{Digest, Sha256};

/// `'sha256-…'` of the content of a script or style element.
pub(super) fn digest(content: &str) -> String {
    let digest = Sha256::digest(content.as_bytes());
    format!("'sha256-{}'", BASE64_STANDARD.encode(digest))
}

#[cfg(test)]
mod tests {
    use super::*;

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
