//! Student's t: how much wider a band must be when its spread was estimated from few marks.

/// 97.5 % quantiles by degrees of freedom, as any table of the distribution has them.
const TABLE: [(f64, f64); 14] = [
    (1.0, 12.706),
    (1.5, 6.017), // Computed by inverting the distribution function numerically.
    (2.0, 4.303),
    (3.0, 3.182),
    (4.0, 2.776),
    (5.0, 2.571),
    (6.0, 2.447),
    (8.0, 2.306),
    (10.0, 2.228),
    (15.0, 2.131),
    (20.0, 2.086),
    (30.0, 2.042),
    (60.0, 2.000),
    (f64::INFINITY, 1.960),
];

/// Half width of the central 95 % in standard deviations, for `freedom` degrees of freedom; below 1 as for 1.
/// Straight lines in `1 / freedom` between the rows of the table.
pub(crate) fn half_width_95(freedom: f64) -> f64 {
    let rows = TABLE.iter().zip(TABLE.iter().skip(1));
    for (&(low, at_low), &(high, at_high)) in rows {
        if freedom <= high {
            let t = (1.0 / freedom.max(low) - 1.0 / high) / (1.0 / low - 1.0 / high);
            return at_high + t * (at_low - at_high);
        }
    }
    TABLE[0].1
}

#[cfg(test)]
mod tests {
    #![allow(missing_docs)]
    use super::half_width_95;

    #[test]
    fn meets_the_table_and_falls() {
        assert!((half_width_95(4.0) - 2.776).abs() < 1e-12);
        assert!((half_width_95(0.3) - 12.706).abs() < 1e-12);
        assert!((half_width_95(1e12) - 1.960).abs() < 1e-9);
        // 7 degrees: 2.365, a row the table leaves out.
        assert!((half_width_95(7.0) - 2.365).abs() < 0.005);
        let all: Vec<f64> = (1..400)
            .map(|k| half_width_95(f64::from(k) / 10.0))
            .collect();
        assert!(all.windows(2).all(|pair| pair[0] >= pair[1]));
    }
}
