//! Numbers as ranges: `1001-1012, 1015`.

/// So many ranges are named; the rest is counted.
const MOST: usize = 8;

/// Shows numbers in order and in ranges.
pub fn show(mut numbers: Vec<u64>) -> String {
    numbers.sort_unstable();
    numbers.dedup();
    let mut ranges: Vec<(u64, u64)> = Vec::new();
    for number in numbers {
        match ranges.last_mut() {
            Some((_, last)) if *last + 1 == number => *last = number,
            _ => ranges.push((number, number)),
        }
    }
    let mut shown: Vec<String> = ranges
        .iter()
        .take(MOST)
        .map(|(first, last)| {
            if first == last {
                first.to_string()
            } else {
                format!("{first}-{last}")
            }
        })
        .collect();
    if ranges.len() > MOST {
        let left: u64 = ranges[MOST..]
            .iter()
            .map(|(first, last)| last - first + 1)
            .sum();
        shown.push(format!("and {left} more"));
    }
    shown.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn neighbours_are_joined() {
        assert_eq!(show(vec![7]), "7");
        assert_eq!(show(vec![3, 1, 2, 9, 5, 6, 6]), "1-3, 5-6, 9");
        let odd = (0..20).map(|n| 2 * n).collect();
        assert_eq!(show(odd), "0, 2, 4, 6, 8, 10, 12, 14, and 12 more");
    }
}
