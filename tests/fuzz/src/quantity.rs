//! Text as people write lengths, stops, angles, positions, rates and time code.

use ringmark_quantity::parse::{
    DecimalMark, angle_with, focal_length_with, length_with, number_with, position_with, stop_with,
};
use ringmark_quantity::{FrameRate, Timecode, Unit, print};

/// Runs every parser over the text.
pub fn quantity(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    for mark in [DecimalMark::Point, DecimalMark::Comma] {
        quantities(&text, mark);
    }
    if let Ok(rate) = FrameRate::parse(&text) {
        let shown = rate.to_string();
        assert_eq!(FrameRate::parse(&shown).ok(), Some(rate), "{shown}");
    }
    if let Ok(label) = Timecode::parse(&text) {
        time_code(label);
    }
}

fn quantities(text: &str, mark: DecimalMark) {
    let mut errors = Vec::new();
    match number_with(text, mark) {
        Ok(number) => {
            assert!(!number.is_nan());
            for unit in Unit::ALL {
                let _ = print::value(number, unit);
            }
        }
        Err(error) => errors.push(error),
    }
    for unit in Unit::ALL {
        match length_with(text, unit, mark) {
            Ok((length, _)) => {
                assert!(length >= 0.0, "{length}");
                let _ = (print::metric(length), print::imperial(length));
            }
            Err(error) => errors.push(error),
        }
        match angle_with(text, unit, mark) {
            Ok((angle, _)) => assert!(angle.is_finite()),
            Err(error) => errors.push(error),
        }
    }
    match stop_with(text, mark) {
        Ok(stop) => assert!(stop.value > 0.0),
        Err(error) => errors.push(error),
    }
    match position_with(text, mark) {
        Ok((position, _)) => assert!(position.is_finite()),
        Err(error) => errors.push(error),
    }
    match focal_length_with(text, mark) {
        Ok(mm) => assert!(mm > 0.0 && mm.is_finite()),
        Err(error) => errors.push(error),
    }
    for error in errors {
        let span = error.span().zip(error.text());
        assert!(
            span.is_none_or(|(span, text)| text.get(span).is_some()),
            "{error}"
        );
        assert!(
            !error.expected().is_empty() && !error.help().is_empty(),
            "{error}"
        );
    }
}

fn time_code(label: Timecode) {
    let shown = label.to_string();
    assert_eq!(Timecode::parse(&shown).ok(), Some(label), "{shown}");
    for (num, den) in [
        (24, 1),
        (24_000, 1001),
        (25, 1),
        (30_000, 1001),
        (60_000, 1001),
        (120, 1),
    ] {
        let Ok(rate) = FrameRate::new(num, den) else {
            continue;
        };
        let frame = label.to_frame(rate);
        assert_eq!(
            frame.is_ok(),
            label.check(rate).is_ok(),
            "{shown} at {rate}"
        );
        if let Ok(frame) = frame {
            let back = Timecode::from_frame(frame, rate, label.mode);
            assert_eq!(back.ok(), Some(label), "{shown} at {rate}");
        }
    }
}
