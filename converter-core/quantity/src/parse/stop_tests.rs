#![allow(clippy::unwrap_used, missing_docs)]

use super::*;

#[test]
fn plain_stops() {
    use StopKind::{F, T};
    for (text, value, kind) in [
        ("2.8", 2.8, None),
        ("T2.8", 2.8, Some(T)),
        ("t2.8", 2.8, Some(T)),
        ("T 2.8", 2.8, Some(T)),
        ("T/2.8", 2.8, Some(T)),
        ("f/4", 4.0, Some(F)),
        ("F4", 4.0, Some(F)),
        ("f4", 4.0, Some(F)),
        ("F/4", 4.0, Some(F)),
        ("f 4", 4.0, Some(F)),
        ("ƒ/4", 4.0, Some(F)),
        (" 22 ", 22.0, None),
        (".95", 0.95, None),
        ("0.7", 0.7, None),
    ] {
        assert_eq!(stop(text), Ok(StopText { value, kind }), "{text}");
    }
}

#[test]
fn fractions_of_a_stop_are_added_in_the_logarithm() {
    let expected = |number: f64, stops: f64| ((2.0 * number.log2() + stops) / 2.0).exp2();
    for (text, number, stops, kind) in [
        ("2.8⅓", 2.8, 1.0 / 3.0, None),
        ("2.8 ⅓", 2.8, 1.0 / 3.0, None),
        ("2.8 1/3", 2.8, 1.0 / 3.0, None),
        ("T2.8+1/3", 2.8, 1.0 / 3.0, Some(StopKind::T)),
        ("T2.8 + 1/3", 2.8, 1.0 / 3.0, Some(StopKind::T)),
        ("T2.8 2/3", 2.8, 2.0 / 3.0, Some(StopKind::T)),
        ("T2.8⅔", 2.8, 2.0 / 3.0, Some(StopKind::T)),
        ("f/4 ½", 4.0, 0.5, Some(StopKind::F)),
        ("4 -1/2", 4.0, -0.5, None),
        ("4-⅓", 4.0, -1.0 / 3.0, None),
        ("5.6+0.3", 5.6, 0.3, None),
        ("5.6+3/10", 5.6, 0.3, None),
        ("4 1/2", 4.0, 0.5, None),
    ] {
        let read = stop(text).unwrap();
        assert!(
            (read.value - expected(number, stops)).abs() < 1e-12,
            "{text}: {}",
            read.value
        );
        assert_eq!(read.kind, kind, "{text}");
    }
    // 4 and a half stop is 4.757, and not 4.5.
    assert!((stop("4 1/2").unwrap().value - 4.7568).abs() < 5e-5);
}

#[test]
fn closed_iris_is_infinite() {
    for text in ["C", "c", "close", "closed", "Closed", "CLOSE", "∞", "inf"] {
        let expected = StopText {
            value: f64::INFINITY,
            kind: None,
        };
        assert_eq!(stop(text), Ok(expected), "{text}");
    }
    assert_eq!(stop("T∞").unwrap().kind, Some(StopKind::T));
}

#[test]
fn wrong_stops_name_the_wrong_part() {
    for (text, part, expected) in [
        ("", "", "a number"),
        ("T", "", "a T-stop or f-number"),
        ("0", "0", "a stop above 0"),
        ("T0", "T0", "a stop above 0"),
        ("-2.8", "-2.8", "a stop above 0"),
        ("T-2.8", "-2.8", "a stop above 0"),
        ("2,8", ",8", "a number"),
        ("2.8.1", ".1", "a number"),
        ("2.8 4/3", "4/3", "the end, or a fraction of a stop"),
        ("2.81/3", "/3", "the end, or a fraction of a stop"),
        ("2.8+13", "+13", "the end, or a fraction of a stop"),
        ("2.8 m", "m", "the end, or a fraction of a stop"),
        ("2.8⅓⅓", "⅓", "the end, or a fraction of a stop"),
        ("X2.8", "X2.8", "a T-stop or f-number"),
        ("1:2.8", ":2.8", "the end, or a fraction of a stop"),
        ("open", "open", "a T-stop or f-number"),
        ("nan", "nan", "a T-stop or f-number"),
    ] {
        let error = stop(text).unwrap_err();
        assert_eq!(&text[error.span().unwrap()], part, "{error}");
        assert_eq!(error.expected(), expected, "{error}");
        assert!(error.to_string().contains(&format!("“{text}”")), "{error}");
    }
}

#[test]
fn decimal_comma() {
    assert_eq!(stop_with("T2,8", DecimalMark::Comma).unwrap().value, 2.8);
    assert!(stop_with("T2.8", DecimalMark::Comma).is_err());
}
