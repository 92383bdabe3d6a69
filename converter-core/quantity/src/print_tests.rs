#![allow(clippy::unwrap_used, missing_docs)]

use proptest::prelude::*;

use super::*;
use crate::parse;

#[test]
fn distances() {
    for (metres, in_metres, in_feet) in [
        (1.68, "1.68 m", "5'6 1/8\""),
        (1.6764, "1.68 m", "5'6\""),
        (0.4550, "0.455 m", "1'5 7/8\""),
        (0.25, "0.250 m", "9 7/8\""),
        (1.524, "1.52 m", "5'"),
        (2.99, "2.99 m", "9'9 3/4\""),
        (3.0479, "3.05 m", "10'"),
        (3.2, "3.20 m", "10'6\""),
        (12.5, "12.5 m", "41'"),
        (120.4, "120 m", "395'"),
        (0.0, "0.000 m", "0\""),
        (-0.5, "-0.500 m", "-1'7 5/8\""),
        (f64::INFINITY, "∞", "∞"),
        (f64::NAN, "not recorded", "not recorded"),
    ] {
        assert_eq!(metric(metres), in_metres);
        assert_eq!(imperial(metres), in_feet);
    }
}

#[test]
fn focus_distances_say_what_they_are_measured_from() {
    let near = FocusDistance::new(1.68, DistanceReference::ImagePlane).unwrap();
    assert_eq!(
        focus_distance(near),
        "1.68 m (5'6 1/8\") from the image plane"
    );
    let far = FocusDistance::infinity(DistanceReference::Unstated);
    assert_eq!(focus_distance(far), "∞ from an unstated reference");
}

#[test]
fn other_quantities() {
    assert_eq!(t_stop(2.8), "T2.8");
    assert_eq!(t_stop(2.8284271), "T2.83");
    assert_eq!(t_stop(f64::INFINITY), "closed");
    assert_eq!(t_stop(f64::NAN), "not recorded");
    assert_eq!(f_number(4.0), "f/4");
    assert_eq!(focal_length(50.0), "50 mm");
    assert_eq!(focal_length(51.274), "51.27 mm");
    assert_eq!(focal_length(300.0), "300 mm");
    assert_eq!(angle(12.5), "12.5°");
    assert_eq!(position(0.5025), "0.5025");
    assert_eq!(position(1e-7), "1.0e-7");
    assert_eq!(position(-0.0), "0");
    assert_eq!(
        timecode(Timecode::parse("01:00:00;02").unwrap()),
        "01:00:00;02"
    );
}

#[test]
fn values_in_the_unit_they_came_in() {
    for (number, unit, shown) in [
        (1.2, Unit::Metre, "1.2 m"),
        (1200.0, Unit::Millimetre, "1200 mm"),
        (66.5, Unit::FeetInches, "5'6 1/2\""),
        (5.6, Unit::Foot, "5.6 ft"),
        (2.8, Unit::TStop, "T2.8"),
        (50.0, Unit::Percent, "50 %"),
        (31_000.0, Unit::Count, "31000 count"),
        (800.0, Unit::Iso, "ISO 800"),
        (0.1 + 0.2, Unit::One, "0.3"),
        (f64::INFINITY, Unit::Foot, "∞"),
        (f64::NAN, Unit::Second, "not recorded"),
    ] {
        assert_eq!(value(number, unit), shown);
    }
}

#[test]
fn exact_feet_and_inches() {
    for (inches, text) in [
        (66.0, "5'6\""),
        (66.5, "5'6 1/2\""),
        (66.3, "5'6.3\""),
        (66.0625, "5'6 1/16\""),
        (60.0, "5'"),
        (60.5, "5'0 1/2\""),
        (10.0, "10\""),
        (0.75, "3/4\""),
        (0.0, "0\""),
        (0.1, "0.1\""),
        (18.0, "1'6\""),
        (12.0, "1'"),
        (f64::INFINITY, "∞"),
        (f64::NAN, "not recorded"),
        (-66.0, "-5'6\""),
    ] {
        assert_eq!(feet_inches_exact(inches), text);
    }
}

fn reads_back(inches: f64) -> bool {
    let text = feet_inches_exact(inches);
    let read = parse::length(&text, Unit::FeetInches);
    read.is_ok_and(|(read, unit)| read.to_bits() == inches.to_bits() && unit == Unit::FeetInches)
}

#[test]
fn exact_text_reads_back_at_the_edges() {
    for feet in (1..2000).chain([u32::MAX - 1, u32::MAX]) {
        let edge = f64::from(feet) * 12.0;
        for inches in [edge.next_down(), edge, edge.next_up()] {
            assert!(reads_back(inches), "{inches} {}", feet_inches_exact(inches));
        }
    }
    for inches in [
        f64::MAX,
        f64::MIN_POSITIVE,
        5e-324,
        1e15,
        1e16,
        f64::INFINITY,
    ] {
        assert!(reads_back(inches), "{inches}");
    }
}

proptest! {
    #[test]
    fn exact_text_reads_back(inches in prop::num::f64::POSITIVE) {
        prop_assert!(reads_back(inches), "{} {}", inches, feet_inches_exact(inches));
    }

    #[test]
    fn exact_text_of_barrel_distances_reads_back(inches in 0.0..2e4f64) {
        prop_assert!(reads_back(inches), "{} {}", inches, feet_inches_exact(inches));
    }

    #[test]
    fn short_decimals_stay_short(tenths in 0..100_000u32) {
        let inches = f64::from(tenths) / 10.0;
        prop_assert!(reads_back(inches));
        prop_assert!(feet_inches_exact(inches).len() <= 11, "{}", feet_inches_exact(inches));
    }

    #[test]
    fn nothing_panics(number in any::<f64>(), index in 0..Unit::ALL.len()) {
        prop_assert!(!value(number, Unit::ALL[index]).is_empty());
        prop_assert!(!metric(number).is_empty() && !imperial(number).is_empty());
    }
}
