#![allow(clippy::unwrap_used, missing_docs)]

use proptest::prelude::*;

use super::*;
use Unit::*;

#[test]
fn engraved_feet_and_inches() {
    for (text, inches) in [
        ("5'6\"", 66.0),
        ("5' 6\"", 66.0),
        ("5' 6 1/2\"", 66.5),
        ("5'6½\"", 66.5),
        ("5' 6-1/2\"", 66.5),
        ("5'-6\"", 66.0),
        ("5ft 6in", 66.0),
        ("5ft6in", 66.0),
        ("5 ft 6 in", 66.0),
        ("5 ft. 6 in.", 66.0),
        ("5 feet 6 inches", 66.0),
        ("5FT 6IN", 66.0),
        ("5 ft 6", 66.0),
        ("5'6", 66.0),
        ("5' 6 1/2", 66.5),
        ("5′6″", 66.0),
        ("5’6”", 66.0),
        ("5'6''", 66.0),
        ("5'1/2\"", 60.5),
        ("5' ⅜\"", 60.375),
        ("5'0\"", 60.0),
        ("5'", 60.0),
        ("5′", 60.0),
        ("18\"", 18.0),
        ("18 1/2\"", 18.5),
        ("½\"", 0.5),
        ("10''", 10.0),
        ("6' 10 1/2\"", 82.5),
        ("6' 10\"", 82.0),
        ("3' 3.5\"", 39.5),
        ("2' 6\"", 30.0),
        ("100'", 1200.0),
        (" 5'6\"\t", 66.0),
        ("11' 11 7/8\"", 143.875),
    ] {
        for default in [Foot, FeetInches, Inch] {
            assert_eq!(
                length(text, default),
                Ok((inches, FeetInches)),
                "{text} {default:?}"
            );
        }
        for default in [Metre, Millimetre, Dioptre] {
            let said = length(text, default).unwrap_err().to_string();
            assert!(
                said.contains(text.trim()) && said.contains(default.name()),
                "{said}"
            );
        }
    }
}

#[test]
fn dash_between_feet_and_inches_only_where_the_column_says_so() {
    for (text, inches) in [
        ("5-6", 66.0),
        ("5-6\"", 66.0),
        ("6-10 1/2", 82.5),
        ("5–6½", 66.5),
    ] {
        assert_eq!(length(text, FeetInches), Ok((inches, FeetInches)), "{text}");
        for default in [Foot, Inch, Metre] {
            let error = length(text, default).unwrap_err();
            assert!(error.help().contains('\''), "{error}");
        }
    }
    assert_eq!(
        length("5-6", Foot).unwrap_err().help(),
        "write 5'6\" if it means feet and inches"
    );
}

#[test]
fn a_bare_number_is_in_the_unit_of_the_column() {
    for unit in [
        Metre, Centimetre, Millimetre, Micrometre, Inch, Foot, Dioptre,
    ] {
        assert_eq!(length("5.6", unit), Ok((5.6, unit)));
        assert_eq!(length("0", unit), Ok((0.0, unit)));
        assert_eq!(length("1.5e3", unit), Ok((1500.0, unit)));
    }
    assert_eq!(length("5 1/2", Inch), Ok((5.5, Inch)));
}

#[test]
fn a_bare_number_among_feet_and_inches_is_never_guessed() {
    for (text, help) in [
        (
            "5.6",
            "write 5'6\" for feet and inches or 5.6 ft for decimal feet",
        ),
        (
            "5.11",
            "write 5'11\" for feet and inches or 5.11 ft for decimal feet",
        ),
        ("66", "write 66' for decimal feet or 5'6\" for inches"),
        ("5.75", "write 5'9\" for decimal feet or 5 3/4\""),
    ] {
        let error = length(text, FeetInches).unwrap_err();
        assert!(
            error.help().starts_with(help.trim_end_matches('"')) || error.help() == help,
            "{error}"
        );
        assert_eq!(error.text(), Some(text));
    }
    for text in ["5 1/2", "5½", "5-1/2"] {
        for default in [Foot, FeetInches, Metre] {
            let said = length(text, default).unwrap_err().to_string();
            assert!(said.contains("with its unit"), "{said}");
        }
    }
}

#[test]
fn a_unit_behind_the_number_wins() {
    for (text, value, unit) in [
        ("1.2 m", 1.2, Metre),
        ("1.2m", 1.2, Metre),
        ("120cm", 120.0, Centimetre),
        ("1200 mm", 1200.0, Millimetre),
        ("1200MM", 1200.0, Millimetre),
        ("12 µm", 12.0, Micrometre),
        ("5.5 ft", 5.5, Foot),
        ("5 ft", 5.0, Foot),
        ("18 in", 18.0, Inch),
        ("18 1/2 in", 18.5, Inch),
        ("5½ ft", 5.5, Foot),
        ("2 D", 2.0, Dioptre),
        ("0 D", 0.0, Dioptre),
        ("3 metres", 3.0, Metre),
    ] {
        for default in [Metre, Foot, FeetInches] {
            assert_eq!(length(text, default), Ok((value, unit)), "{text}");
        }
    }
    assert_eq!(length("6.5'", Foot), Ok((6.5, Foot)));
    assert!(length("6.5'", Metre).is_err());
}

#[test]
fn infinity() {
    for text in ["∞", "INF", "inf", "Infinity", "+inf"] {
        if text == "+inf" {
            assert!(length(text, Metre).is_err());
            continue;
        }
        assert_eq!(length(text, Foot), Ok((f64::INFINITY, Foot)), "{text}");
        assert_eq!(
            length(text, FeetInches),
            Ok((f64::INFINITY, FeetInches)),
            "{text}"
        );
        assert_eq!(length(text, Dioptre), Ok((f64::INFINITY, Metre)), "{text}");
    }
    assert_eq!(length("∞ m", Foot), Ok((f64::INFINITY, Metre)));
    assert!(length("∞ D", Foot).is_err());
    assert!(length("inf 5", Foot).is_err());
}

#[test]
fn wrong_lengths_name_the_wrong_part() {
    for (text, default, part, help) in [
        ("5'14\"", Foot, "14", "write 6'2\" if that is meant"),
        ("5' 12\"", Foot, "12", "write 6' if that is meant"),
        (
            "5ft 13 1/2in",
            Foot,
            "13 1/2",
            "write 6'1 1/2\" if that is meant",
        ),
        ("-5'6\"", Foot, "-5'6\"", "below 0"),
        ("-1.2", Metre, "-1.2", "below 0"),
        ("−1.2 m", Metre, "−1.2 m", "below 0"),
        ("-inf", Metre, "-inf", "below 0"),
        ("", Metre, "", "not recorded"),
        (" ", FeetInches, "", "not recorded"),
        ("nan", Metre, "nan", "not recorded"),
        ("1,2", Metre, ",2", "decimal comma"),
        ("1,2 m", Metre, ",2 m", "decimal comma"),
        ("1.2.3", Metre, ".3", "write digits"),
        ("1.2 M m", Metre, "M m", "write the unit"),
        ("1.2 Mm", Metre, "Mm", "write the unit"),
        ("1.2 deg", Metre, "deg", "write the unit"),
        ("5.5'6\"", Foot, "'6\"", "write feet and inches"),
        ("5 6", Foot, "6", "write feet and inches"),
        ("5'6\"7", Foot, "'6\"7", "write feet and inches"),
        ("5' 6 3/2\"", Foot, "' 6 3/2\"", "write feet and inches"),
        ("5'6m", Foot, "'6m", "write feet and inches"),
        ("close", Foot, "close", "write digits"),
        ("24-70", Metre, "24-70", "write one length"),
        ("'6\"", Foot, "'6\"", "write digits"),
    ] {
        let error = length(text, default).unwrap_err();
        let found = &text[error.span().unwrap()];
        assert_eq!(found, part, "{error}");
        assert!(error.help().contains(help), "{error}");
        assert_eq!(error.text(), Some(text));
    }
}

#[test]
fn a_unit_of_something_else_is_no_default() {
    let said = length("1.2", Degree).unwrap_err().to_string();
    assert!(said.contains("unit of length"), "{said}");
    assert_eq!(length("1.2 m", One), Ok((1.2, Metre)));
}

#[test]
fn decimal_comma() {
    let comma = |text, default| length_with(text, default, DecimalMark::Comma);
    assert_eq!(comma("1,2", Metre), Ok((1.2, Metre)));
    assert_eq!(comma("1,2 m", Foot), Ok((1.2, Metre)));
    assert_eq!(comma("3' 3,5\"", Foot), Ok((39.5, FeetInches)));
    assert!(
        comma("1.2", Metre)
            .unwrap_err()
            .help()
            .contains("decimal points")
    );
}

proptest! {
    #[test]
    fn whole_feet_inches_and_eighths(feet in 0..2000u32, inches in 0..12u32, eighths in 0..8u32) {
        let expected = f64::from(feet * 12 + inches) + f64::from(eighths) / 8.0;
        for text in [
            format!("{feet}'{inches} {eighths}/8\""),
            format!("{feet}ft {inches} {eighths}/8in"),
            format!("{feet}-{inches} {eighths}/8"),
        ] {
            if eighths == 0 {
                // 0/8 is no fraction anybody engraves.
                prop_assert!(length(&text, FeetInches).is_err());
            } else {
                prop_assert_eq!(length(&text, FeetInches), Ok((expected, FeetInches)), "{}", text);
            }
        }
    }
}
