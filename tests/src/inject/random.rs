//! Numbers that a seed decides: the same in every run, on every machine.

/// SplitMix64 (Steele, Lea, Flood 2014, from memory): small, and good enough for places and sizes.
#[derive(Debug, Clone)]
pub struct Random(u64);

impl Random {
    /// Numbers of a round.
    pub fn new(seed: u64, round: u64) -> Self {
        let mut random = Random(seed ^ round.wrapping_mul(0x9e37_79b9_7f4a_7c15));
        random.next();
        random
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// From 0 to 1, without 1.
    pub fn part(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// From `low` to `high`.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.part()
    }

    /// A whole number from `low` to `high`, both possible.
    pub fn whole(&mut self, low: usize, high: usize) -> usize {
        low + (self.next() % (high - low + 1) as u64) as usize
    }

    /// Heads or tails.
    pub fn either(&mut self) -> bool {
        self.next().is_multiple_of(2)
    }

    /// One of several.
    pub fn one_of<'a, T>(&mut self, all: &'a [T]) -> &'a T {
        &all[self.whole(0, all.len() - 1)]
    }
}
