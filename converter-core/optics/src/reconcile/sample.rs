//! Pairs of focus and reading from all over a take, in bounded memory.

/// Pairs kept at most.
const MOST: usize = 4096;

/// Focus and reading of one frame, the lag taken out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pair {
    /// Distance by the ring, metres.
    pub focus: f64,
    /// Distance by the rangefinder, metres from the same point.
    pub reading: f64,
    /// Ring position.
    pub ring: f64,
    /// Ring travel a dioptre, without sign.
    pub travel: f64,
    /// Ring travel a frame, without sign.
    pub speed: f64,
    pub focal_length_mm: f64,
    pub f_number: f64,
}

/// Every so many frames a pair; as many more once it is full.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Sample {
    pairs: Vec<Pair>,
    stride: u64,
    seen: u64,
}

impl Default for Sample {
    fn default() -> Self {
        Self {
            pairs: Vec::new(),
            stride: 1,
            seen: 0,
        }
    }
}

impl Sample {
    pub fn add(&mut self, pair: Pair) {
        if self.seen.is_multiple_of(self.stride) {
            if self.pairs.len() == MOST {
                let mut at = 0;
                self.pairs.retain(|_| {
                    at += 1;
                    at % 2 == 1
                });
                self.stride *= 2;
            }
            if self.seen.is_multiple_of(self.stride) {
                self.pairs.push(pair);
            }
        }
        self.seen += 1;
    }

    /// In the order of time.
    pub fn pairs(&self) -> &[Pair] {
        &self.pairs
    }

    /// Pairs seen, kept or not.
    pub fn seen(&self) -> u64 {
        self.seen
    }
}

#[cfg(test)]
mod tests {
    #![allow(missing_docs)]
    use super::*;

    #[test]
    fn it_stays_small_and_even() {
        let mut sample = Sample::default();
        for n in 0..100_000u32 {
            let focus = f64::from(n);
            sample.add(Pair {
                focus,
                reading: 1.0,
                ring: 0.0,
                travel: 1.0,
                speed: 0.0,
                focal_length_mm: 50.0,
                f_number: 2.0,
            });
        }
        let kept = sample.pairs();
        assert_eq!(sample.seen(), 100_000);
        assert!(
            kept.len() > MOST / 2 && kept.len() <= MOST,
            "{}",
            kept.len()
        );
        let step = kept[1].focus - kept[0].focus;
        assert!(
            kept.windows(2)
                .all(|pair| pair[1].focus - pair[0].focus == step)
        );
    }
}
