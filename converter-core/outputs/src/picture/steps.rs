//! Whole steps as a short text: a page of hundreds of takes holds a million of them.

use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use serde::{Deserialize, Serialize};

/// Steps in base64 (RFC 4648, section 4), two bytes each, the lower one first; a single one if all are the same.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Steps(String);

impl Steps {
    /// Of these.
    pub fn of(steps: &[i16]) -> Steps {
        let same = steps.windows(2).all(|pair| pair[0] == pair[1]);
        let kept = steps.iter().take(if same { 1 } else { usize::MAX });
        let bytes: Vec<u8> = kept.flat_map(|step| step.to_le_bytes()).collect();
        Steps(BASE64_STANDARD.encode(bytes))
    }

    /// All `count` of them, as the page reads them.
    #[cfg(test)]
    pub fn read(&self, count: usize) -> Vec<i16> {
        #![allow(clippy::unwrap_used)]
        let bytes = BASE64_STANDARD.decode(&self.0).unwrap();
        let pairs = bytes.chunks(2);
        let steps: Vec<i16> = pairs.map(|b| i16::from_le_bytes([b[0], b[1]])).collect();
        match steps.as_slice() {
            [same] => vec![*same; count],
            _ => steps,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_the_same_throughout_is_said_once() {
        for steps in [vec![], vec![7], vec![-1, 0, 9999], vec![0, 0, 1]] {
            assert_eq!(Steps::of(&steps).read(steps.len()), steps);
        }
        let same = Steps::of(&[-1; 750]);
        assert_eq!(same.0, "//8=");
        assert_eq!(same.read(750), [-1; 750]);
    }
}
