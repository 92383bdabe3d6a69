//! Eight bytes at a time. In the sandbox every turn of a loop looks at the clock that ends
//! endless ones, so a loop over single bytes costs several times what its work does.

const ONES: u64 = 0x0101_0101_0101_0101;
const HIGHS: u64 = 0x8080_8080_8080_8080;
const ZEROS: u64 = 0x3030_3030_3030_3030;

/// The eight bytes from `at` on, the first one lowest; `None` if fewer are there.
#[inline(always)]
pub fn load(bytes: &[u8], at: usize) -> Option<u64> {
    let bytes = bytes.get(at..)?.first_chunk::<8>()?;
    Some(u64::from_le_bytes(*bytes))
}

/// How many bytes of `word`, from the first on, are decimal digits.
#[inline(always)]
pub fn leading_digits(word: u64) -> usize {
    let digits = word ^ ZEROS;
    // Adding 0x76 carries every byte above 9 over 0x7f. A carry out of a byte can only spoil
    // later ones, and the first byte that is no digit is all that counts.
    let others = (digits.wrapping_add(0x76 * ONES) | digits) & HIGHS;
    (others.trailing_zeros() / 8) as usize
}

/// The number that the first `count` bytes of `word` write; they are digits, one to eight.
#[inline(always)]
pub fn decimal(word: u64, count: u32) -> u64 {
    // The digits move to the end; zeros come before them. Then pairs, fours and eights are
    // added up, several sums in one multiplication.
    let digits = (word ^ ZEROS).wrapping_shl(64 - 8 * count);
    let pairs = digits.wrapping_mul(10).wrapping_add(digits >> 8);
    let mask = 0x0000_00ff_0000_00ff;
    let high = (pairs & mask).wrapping_mul(100 + (1_000_000 << 32));
    let low = ((pairs >> 16) & mask).wrapping_mul(1 + (10_000 << 32));
    high.wrapping_add(low) >> 32
}

/// How many bytes of `word`, from the first on, are plain text: printable ASCII and no `delimiter`.
#[inline(always)]
pub fn leading_text(word: u64, delimiter: u8) -> usize {
    let different = word ^ (ONES * u64::from(delimiter));
    let delimiters = different.wrapping_sub(ONES) & !different;
    let controls = word.wrapping_sub(0x20 * ONES) & !word;
    ((delimiters | controls | word) & HIGHS).trailing_zeros() as usize / 8
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use proptest::prelude::*;

    fn word(text: &[u8; 8]) -> u64 {
        u64::from_le_bytes(*text)
    }

    #[test]
    fn reads_only_whole_words() {
        assert_eq!(load(b"12345678", 0), Some(word(b"12345678")));
        assert_eq!(load(b"12345678", 1), None);
        assert_eq!(load(b"", 9), None);
    }

    proptest! {
        #[test]
        fn digits_are_those_of_the_bytes(bytes: [u8; 8]) {
            let count = bytes.iter().take_while(|b| b.is_ascii_digit()).count();
            prop_assert_eq!(leading_digits(word(&bytes)), count);
        }

        #[test]
        fn decimals_are_those_of_the_text(text in "[0-9]{8}", count in 1..=8_usize) {
            let bytes: [u8; 8] = text.as_bytes().try_into().unwrap();
            let expected = text[..count].parse::<u64>().unwrap();
            prop_assert_eq!(decimal(word(&bytes), count as u32), expected);
        }

        #[test]
        fn text_ends_where_the_bytes_say(bytes: [u8; 8], delimiter in prop::sample::select(vec![b',', b';', b'\t'])) {
            let plain = |b: &&u8| (0x20..0x80).contains(*b) && **b != delimiter;
            prop_assert_eq!(leading_text(word(&bytes), delimiter), bytes.iter().take_while(plain).count());
        }

        #[test]
        fn text_of_mostly_text_ends_there_too(text in "[ -~,;\t\n]{8}") {
            let bytes: [u8; 8] = text.as_bytes().try_into().unwrap();
            let plain = |b: &&u8| (0x20..0x80).contains(*b) && **b != b',';
            prop_assert_eq!(leading_text(word(&bytes), b','), bytes.iter().take_while(plain).count());
        }
    }
}
