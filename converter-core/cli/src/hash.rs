//! SHA-256 of files and bytes.

use std::fmt::Write;
use std::fs::File;
use std::io::{self, Read};
use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};

use sha2::{Digest, Sha256};

/// SHA-256 of bytes in hexadecimal.
pub fn of_bytes(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}

/// SHA-256 of a file in hexadecimal, and its length; `None` once it is no longer `wanted`.
pub fn of_file(path: &Path, wanted: &AtomicBool) -> io::Result<Option<(String, u64)>> {
    let mut file = File::open(path)?;
    let mut hash = Sha256::new();
    let mut buffer = vec![0; 1 << 18];
    let mut size = 0;
    while wanted.load(Ordering::Relaxed) {
        let read = file.read(&mut buffer)?;
        if read == 0 {
            return Ok(Some((hex(&hash.finalize()), size)));
        }
        size += read as u64;
        hash.update(&buffer[..read]);
    }
    Ok(None)
}

fn hex(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(2 * bytes.len());
    for byte in bytes {
        // Writing into a string cannot fail.
        let _ = write!(text, "{byte:02x}");
    }
    text
}
