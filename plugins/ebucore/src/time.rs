//! Times of segments: time code labels as the standard has them, fractions of a second, and ISO
//! 8601 durations, which other programs write there.

use crate::clock::{Clock, parts};

/// How far from a frame's start a time may lie and still mean it, in frames: times are often
/// rounded to milliseconds.
const NEAR: f64 = 0.25;

/// A time as it stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Time {
    /// A label: frames from midnight.
    Label(u64),
    /// Frames from the start of the extraction.
    Elapsed(u64),
}

/// How a time is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Style {
    /// With frames.
    Frames,
    /// With a fraction of a second.
    Fraction,
    /// As an ISO 8601 duration.
    Duration,
}

/// Reads a time; the error says what is wrong with it.
pub fn read(text: &str, clock: Clock) -> Result<(Time, Style), String> {
    let text = text.trim_ascii();
    if text.starts_with('P') {
        return duration(text, clock).map(|frames| (Time::Elapsed(frames), Style::Duration));
    }
    let Some((mut numbers, mark, digits)) = parts(text) else {
        return Err("expected hh:mm:ss:ff".to_owned());
    };
    let style = if matches!(mark, '.' | ',') && (digits.len() > 2 || numbers[3] >= clock.labels()) {
        let frames =
            format!("0.{digits}").parse::<f64>().unwrap_or(f64::NAN) * clock.labels() as f64;
        numbers[3] = near(frames)?;
        Style::Fraction
    } else {
        Style::Frames
    };
    Ok((Time::Label(clock.frame(numbers)?), style))
}

/// The whole frame that a number of frames means.
fn near(frames: f64) -> Result<u64, String> {
    let whole = frames.round();
    if !(0.0..1e12).contains(&whole) {
        return Err("it is out of all range".to_owned());
    }
    if (frames - whole).abs() > NEAR {
        return Err(format!("it lies between two frames ({frames:.3})"));
    }
    Ok(whole as u64)
}

fn duration(text: &str, clock: Clock) -> Result<u64, String> {
    let seconds = seconds(text).ok_or("expected a duration such as PT1.5S")?;
    near(seconds * clock.rate.as_f64())
}

/// Seconds of a duration of days, hours, minutes and seconds.
fn seconds(text: &str) -> Option<f64> {
    let rest = text.strip_prefix('P')?;
    let (days, time) = rest.split_once('T').unwrap_or((rest, ""));
    let mut total = 0.0;
    let mut any = false;
    for (part, units) in [
        (days, &[('D', 86_400.0)][..]),
        (time, &[('H', 3600.0), ('M', 60.0), ('S', 1.0)][..]),
    ] {
        let mut part = part;
        for (unit, factor) in units {
            let Some((number, rest)) = part.split_once(*unit) else {
                continue;
            };
            if number.is_empty() || !number.bytes().all(|b| b.is_ascii_digit() || b == b'.') {
                return None;
            }
            total += number.parse::<f64>().ok()? * factor;
            part = rest;
            any = true;
        }
        if !part.is_empty() {
            return None;
        }
    }
    any.then_some(total)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use ringmark_sdk::quantity::FrameRate;

    fn clock(num: u32, den: u32) -> Clock {
        Clock::new(FrameRate::new(num, den).unwrap(), true)
    }

    #[test]
    fn times_of_all_styles() {
        let ntsc = clock(30_000, 1001);
        let pal = clock(25, 1);
        for (text, clock, time, style) in [
            ("00:00:59;29", ntsc, Time::Label(1799), Style::Frames),
            // The attribute decides about counting, whatever the mark.
            ("00:01:00:02", ntsc, Time::Label(1800), Style::Frames),
            ("00:00:01.05", pal, Time::Label(30), Style::Frames),
            ("00:00:01.40", pal, Time::Label(35), Style::Fraction),
            ("00:00:01,200", pal, Time::Label(30), Style::Fraction),
            ("00:00:01:119", clock_120(), Time::Label(239), Style::Frames),
            ("PT0S", pal, Time::Elapsed(0), Style::Duration),
            ("PT1M0.04S", pal, Time::Elapsed(1501), Style::Duration),
            (
                "P1DT1H",
                pal,
                Time::Elapsed(25 * 25 * 3600),
                Style::Duration,
            ),
            // 33.3667 ms a frame, rounded to milliseconds.
            ("PT0.033S", ntsc, Time::Elapsed(1), Style::Duration),
            ("PT60.06S", ntsc, Time::Elapsed(1800), Style::Duration),
        ] {
            assert_eq!(read(text, clock), Ok((time, style)), "{text}");
        }
    }

    fn clock_120() -> Clock {
        clock(120, 1)
    }

    #[test]
    fn what_is_no_time_says_why() {
        for (text, says) in [
            ("01:61:59;00", "minutes run"),
            ("24:00:00:00", "hours run"),
            ("00:00:60:00", "seconds run"),
            ("00:00:00:25", "frames run from 00 to 24 at 25 fps"),
            ("00:00:00.020", "between two frames"),
            ("PT0.02S", "between two frames"),
            ("PT1e300S", "duration"),
            ("PT99999999999999999999S", "out of all range"),
            ("P", "duration"),
            ("PT", "duration"),
            ("PTS", "duration"),
            ("P1Y", "duration"),
            ("PT1.2.3S", "duration"),
            ("PT-1S", "duration"),
            ("0", "expected hh:mm:ss:ff"),
            ("", "expected hh:mm:ss:ff"),
        ] {
            let error = read(text, clock(25, 1)).unwrap_err();
            assert!(error.contains(says), "{text}: {error}");
        }
    }
}
