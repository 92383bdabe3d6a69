//! Timecode and frame numbers over whole takes.
#![allow(clippy::unwrap_used, missing_docs)]

mod common;

use ringmark_checks::{Checker, Level, Settings};
use ringmark_model::{Finding, Severity};
use ringmark_quantity::{CountingMode, FrameRate, Timecode};

/// A take with the labels given, at a rate.
fn take(rate: &str, mode: &str, labels: impl IntoIterator<Item = String>) -> String {
    let mut text = format!(
        "# document: take\n# clip: T001\n# frame rate: {rate}\n# timecode: {mode}\nframe,timecode\n"
    );
    for (n, label) in labels.into_iter().enumerate() {
        text += &format!("{},{label}\n", 1001 + n);
    }
    text
}

/// Labels that follow one another at a rate.
fn labels(rate: (u32, u32), mode: CountingMode, first: &str, count: u64) -> Vec<String> {
    let rate = FrameRate::new(rate.0, rate.1).unwrap();
    let start = Timecode::parse(first).unwrap().to_frame(rate).unwrap();
    (start..start + count)
        .map(|n| Timecode::from_frame(n, rate, mode).unwrap().to_string())
        .collect()
}

fn one(findings: Vec<Finding>) -> Finding {
    assert_eq!(findings.len(), 1, "{findings:#?}");
    findings.into_iter().next().unwrap()
}

#[test]
fn drop_frame_minutes_and_midnight_are_no_gaps() {
    use CountingMode::{DropFrame, NonDrop};
    for (rate, text, mode, declared, first) in [
        (
            (30_000, 1001),
            "30000/1001",
            DropFrame,
            "drop-frame",
            "00:58:59;00",
        ),
        (
            (60_000, 1001),
            "60000/1001",
            DropFrame,
            "drop-frame",
            "00:58:59;00",
        ),
        ((24, 1), "24", NonDrop, "non-drop", "23:59:00:00"),
        (
            (30_000, 1001),
            "30000/1001",
            DropFrame,
            "drop-frame",
            "23:58:30;00",
        ),
    ] {
        let text = take(text, declared, labels(rate, mode, first, 4000));
        // That the clock passes midnight is told, and is no fault.
        let midnight = first.starts_with("23");
        let found = common::check(&text);
        assert_eq!(found.len(), usize::from(midnight), "{first}: {found:#?}");
        for note in found {
            assert_eq!(note.check, "timecode-passes-midnight");
            assert_eq!(note.severity, Severity::Note);
        }
    }
}

#[test]
fn seconds_that_end_early_are_one_finding() {
    let text = take(
        "25",
        "non-drop",
        labels((24, 1), CountingMode::NonDrop, "01:00:00:00", 200),
    );
    for size in [1, 24, 1000] {
        let found = one(common::check_in(&text, None, size));
        assert_eq!(found.check, "timecode-rate-mismatch");
        assert!(
            found.message.contains("count 24 frames a second") && found.message.contains("25 fps"),
            "{}",
            found.message
        );
        assert_eq!(found.frames.unwrap().last, 199);
    }
}

#[test]
fn one_gap_to_the_end_of_a_second_is_a_gap() {
    let mut all = labels((25, 1), CountingMode::NonDrop, "01:00:00:00", 100);
    all.drain(24..25);
    let found = one(common::check(&take("25", "non-drop", all)));
    assert_eq!(
        (found.check.as_ref(), found.frames.unwrap().first),
        ("timecode-gap", 24)
    );
}

#[test]
fn labels_on_two_frames_each_speak_of_the_rate() {
    let all = labels((25, 1), CountingMode::NonDrop, "01:00:00:00", 100);
    let twice = all.into_iter().flat_map(|label| [label.clone(), label]);
    let findings = common::check(&take("25", "non-drop", twice));
    let checks: Vec<&str> = findings
        .iter()
        .map(|finding| finding.check.as_ref())
        .collect();
    assert_eq!(
        checks,
        ["timecode-rate-mismatch", "timecode-repeated"],
        "{findings:#?}"
    );
    assert!(
        findings[0].message.contains("advance 0.500 a frame"),
        "{}",
        findings[0].message
    );
    assert_eq!(findings[1].frames.as_ref().unwrap().count, 100);
}

#[test]
fn drop_frame_labels_at_another_rate_are_one_finding() {
    let text = take(
        "24",
        "drop-frame",
        (0..20).map(|n| format!("01:00:00;{n:02}")),
    );
    let found = one(common::check(&text));
    assert_eq!(found.check, "timecode-rate-mismatch");
    assert_eq!(found.frames.as_ref().unwrap().count, 20);
    assert!(found.message.contains("not at 24"), "{}", found.message);
}

#[test]
fn another_counting_mode_than_declared_is_said_once() {
    let text = take(
        "30000/1001",
        "drop-frame",
        labels((30_000, 1001), CountingMode::NonDrop, "01:00:00:00", 60),
    );
    for size in [1, 7, 1000] {
        let found = one(common::check_in(&text, None, size));
        assert_eq!(found.check, "timecode-rate-mismatch");
        assert_eq!(found.frames.as_ref().unwrap().count, 60);
        assert!(
            found.message.contains("declared drop-frame"),
            "{}",
            found.message
        );
    }
}

#[test]
fn many_findings_of_one_check_are_counted_not_kept() {
    // A frame number off by 1000 every 20 frames.
    let mut text = "# document: take\n# clip: T001\nframe\n".to_owned();
    for n in 0..10_000 {
        text += &format!("{}\n", if n % 20 == 10 { n + 1000 } else { n });
    }
    let findings = common::check(&text);
    assert_eq!(findings.len(), 101);
    let last = findings.last().unwrap();
    assert_eq!(last.message, "400 more findings of this check are left out");
    assert_eq!(
        (last.check.as_ref(), last.severity),
        ("frame-number-gap", Severity::Error)
    );
}

#[test]
fn accepted_checks_are_not_run() {
    let text = take(
        "25",
        "non-drop",
        ["01:00:00:00".to_owned(), "01:00:00:07".to_owned()],
    );
    let mut settings = Settings::default();
    settings
        .rules
        .set_level("timecode-gap", Level::Off)
        .unwrap();
    let mut checker = Checker::new(&settings);
    common::pieces(&text, 10)
        .iter()
        .for_each(|piece| checker.piece(piece));
    assert_eq!(checker.finish(), []);
    assert_eq!(common::check(&text).len(), 1);
}
