//! Takes with a rangefinder and a known truth: a thin 50 mm lens (Gauss), a subject that walks, an offset, a lag, scatter.
#![allow(clippy::unwrap_used, missing_docs)]

mod common;

use std::fmt::Write;

use ringmark_model::{Finding, Severity};

/// Ring position of a thin 50 mm lens on a linear helicoid, 0 at 0.5 m: extension by Gauss and Newton.
fn ring(metres: f64) -> f64 {
    let extension = |metres: f64| {
        let k = metres * 1000.0 - 100.0;
        if k.is_infinite() {
            0.0
        } else {
            5000.0 / (k + (k * k - 10_000.0).sqrt())
        }
    };
    1.0 - extension(metres) / extension(0.5)
}

fn lens() -> String {
    let mut text = "# document: ring calibration\n# model: Skerry 50\n# focal length: 50 mm\n# measured from: image plane\n\
                    ring,position [0..1],mark [m]\n"
        .to_owned();
    for metres in [0.5, 0.6, 0.7, 0.9, 1.2, 1.5, 2.0, 3.0, 5.0, f64::INFINITY] {
        writeln!(text, "focus,{:.5},{metres}", ring(metres)).unwrap();
    }
    text
}

/// What is wrong with a take.
struct Wrong {
    head: &'static str,
    lag: f64,
    offset: f64,
    factor: f64,
    slip: f64,
    /// Frames whose readings are of a wall at 6 m.
    wall: std::ops::Range<usize>,
    /// Frames in which focus stays behind.
    missed: std::ops::Range<usize>,
}

const RIGHT: Wrong = Wrong {
    head: "",
    lag: 0.0,
    offset: 0.0,
    factor: 1.0,
    slip: 0.0,
    wall: 0..0,
    missed: 0..0,
};

/// Dioptres of a subject that walks to and fro, gently at the ends.
fn subject(frame: f64) -> f64 {
    0.75 - 0.3 * (frame / 30.0).cos() - 0.1 * (frame / 41.0 + 1.0).sin()
}

/// Dioptres that focus is behind: it falls back within four frames.
fn behind(wrong: &Wrong, frame: f64) -> f64 {
    let (first, end) = (wrong.missed.start as f64, wrong.missed.end as f64);
    0.25 * ((frame - first + 1.0).min(end - frame) / 4.0).clamp(0.0, 1.0)
}

fn take(wrong: &Wrong, frames: usize) -> String {
    let mut text = format!(
        "# document: take\n# frame rate: 24\n{}frame,focus ring [0..1],rangefinder [m],f-number\n",
        wrong.head
    );
    for frame in 0..frames {
        let at = frame as f64;
        let behind = behind(wrong, at);
        let ring = ring(1.0 / (subject(at) + behind)) - wrong.slip;
        // Scatter of about 1 %, the same in every run.
        let scatter = 1.0 + 0.01 * (at * 12.9898).sin();
        let seen = if wrong.wall.contains(&frame) {
            6.0
        } else {
            1.0 / subject(at - wrong.lag)
        };
        writeln!(
            text,
            "{},{ring:.6},{:.4},2.8",
            1001 + frame,
            (seen * scatter - 0.12 - wrong.offset) * wrong.factor
        )
        .unwrap();
    }
    text
}

const STATED: &str = "# rangefinder offset: 120 mm\n";

fn found(wrong: &Wrong, frames: usize) -> Vec<Finding> {
    let text = take(wrong, frames);
    let all = common::check_in(&text, Some(&lens()), 512);
    for size in [1, 97] {
        assert_eq!(
            common::check_in(&text, Some(&lens()), size),
            all,
            "batches of {size}"
        );
    }
    all
}

fn one<'f>(findings: &'f [Finding], check: &str) -> &'f Finding {
    let mut all = findings.iter().filter(|finding| finding.check == check);
    let first = all
        .next()
        .unwrap_or_else(|| panic!("no {check}: {findings:#?}"));
    assert!(all.next().is_none(), "{check} twice: {findings:#?}");
    first
}

fn value(finding: &Finding, name: &str) -> f64 {
    finding
        .values
        .iter()
        .find(|value| value.name == name)
        .unwrap_or_else(|| panic!("{name}: {finding:#?}"))
        .value
}

#[test]
fn a_take_in_agreement_has_no_findings() {
    assert_eq!(
        found(
            &Wrong {
                head: STATED,
                ..RIGHT
            },
            600
        ),
        []
    );
    // An offset that is stated holds, whatever the focus distances of the document are measured from.
    let from_the_plane = "# measured from: image plane\n# rangefinder offset: 120 mm\n";
    assert_eq!(
        found(
            &Wrong {
                head: from_the_plane,
                ..RIGHT
            },
            600
        ),
        []
    );
    // Readings that never came, as 0, are not recorded.
    let zeros = take(
        &Wrong {
            head: STATED,
            factor: 0.0,
            ..RIGHT
        },
        200,
    );
    let serious = common::check_in(&zeros, Some(&lens()), 512);
    assert!(
        serious
            .iter()
            .all(|finding| !finding.check.starts_with("rangefinder")),
        "{serious:#?}"
    );
}

#[test]
fn the_lag_is_said_in_frames_and_milliseconds() {
    let findings = found(
        &Wrong {
            head: STATED,
            lag: 3.4,
            ..RIGHT
        },
        600,
    );
    let lag = one(&findings, "rangefinder-lags");
    assert_eq!(findings.len(), 1, "{findings:#?}");
    assert_eq!(lag.severity, Severity::Note);
    assert!(
        (value(lag, "lag") - 3.4).abs() < 0.2 && (value(lag, "lag in time") - 141.7).abs() < 8.0,
        "{lag:#?}"
    );
    let late = found(
        &Wrong {
            head: STATED,
            lag: 9.0,
            ..RIGHT
        },
        600,
    );
    assert_eq!(one(&late, "rangefinder-lags").severity, Severity::Warning);
}

#[test]
fn an_offset_that_is_wrong_or_missing_is_said() {
    let wrong = found(
        &Wrong {
            head: STATED,
            offset: 0.18,
            ..RIGHT
        },
        600,
    );
    let offset = one(&wrong, "rangefinder-offset-likely");
    assert!(
        (value(offset, "missing") - 0.18).abs() < 0.01,
        "{offset:#?}"
    );
    let repair = offset.repair.as_ref().unwrap();
    let metres: f64 = repair
        .action
        .trim_end_matches("mm")
        .rsplit(' ')
        .next()
        .unwrap()
        .parse()
        .unwrap();
    assert!((metres - 300.0).abs() < 10.0, "{repair:?}");
    assert_eq!(
        wrong.len(),
        1,
        "with the offset all is in focus: {wrong:#?}"
    );
    let missing = found(&RIGHT, 600);
    let offset = one(&missing, "rangefinder-offset-likely");
    assert_eq!(offset.severity, Severity::Note);
    assert!(
        (value(offset, "missing") - 0.12).abs() < 0.01,
        "{offset:#?}"
    );
}

#[test]
fn frames_out_of_focus_are_named() {
    let findings = found(
        &Wrong {
            head: STATED,
            missed: 200..260,
            ..RIGHT
        },
        600,
    );
    let missed = one(&findings, "rangefinder-disagrees");
    let frames = missed.frames.as_ref().unwrap();
    let (first, last) = (frames.first_number.unwrap(), frames.last_number.unwrap());
    assert!(
        (first - 1201).abs() <= 4 && (last - 1260).abs() <= 4,
        "{frames:?}"
    );
    assert_eq!(missed.severity, Severity::Warning);
    // 0.25 dioptres of a full depth of 2 × 2.8 × 0.025 / 50² = 0.056, a little less from the pupil up close.
    assert!(
        (3.2..5.6).contains(&value(missed, "apart").abs()),
        "{missed:#?}"
    );
}

#[test]
fn a_beam_that_strays_is_a_note_and_a_short_one_nothing() {
    let short = found(
        &Wrong {
            head: STATED,
            wall: 300..308,
            ..RIGHT
        },
        600,
    );
    assert!(short.is_empty(), "{short:#?}");
    let long = found(
        &Wrong {
            head: STATED,
            wall: 300..340,
            ..RIGHT
        },
        600,
    );
    assert_eq!(one(&long, "rangefinder-disagrees").severity, Severity::Note);
}

#[test]
fn a_slipped_ring_is_no_offset_and_feet_are_named() {
    let slipped = found(
        &Wrong {
            head: STATED,
            slip: 0.05,
            ..RIGHT
        },
        600,
    );
    assert!(
        slipped
            .iter()
            .any(|finding| finding.check == "rangefinder-disagrees"),
        "{slipped:#?}"
    );
    assert!(
        slipped
            .iter()
            .all(|finding| finding.check != "rangefinder-offset-likely"),
        "{slipped:#?}"
    );
    let feet = found(
        &Wrong {
            head: "# rangefinder offset: 0 mm\n",
            offset: -0.12,
            factor: 1.0 / 0.3048,
            ..RIGHT
        },
        600,
    );
    let repairs: Vec<&str> = feet
        .iter()
        .filter_map(|finding| Some(finding.repair.as_ref()?.action.as_str()))
        .collect();
    assert!(
        repairs
            .iter()
            .any(|repair| repair.contains("feet read as metres")),
        "{feet:#?}"
    );
}
