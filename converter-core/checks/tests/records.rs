//! Two records of one take: what is the same number written twice is never told, whatever was done to one of them is.
#![allow(clippy::unwrap_used, missing_docs)]

mod common;

use std::fmt::Write;

use proptest::prelude::*;
use ringmark_checks::Expected;
use ringmark_model::Finding;

/// A take of `frames` frames: a pull to and fro, an iris pull, labels from 01:00:00:00.
struct Take {
    frames: usize,
    phase: f64,
}

impl Take {
    fn distance(&self, frame: f64) -> f64 {
        1.0 / (0.5 + 0.3 * (frame / 17.0 + self.phase).sin() + 0.1 * (frame / 41.0).cos())
    }

    fn stop(&self, frame: f64) -> f64 {
        2f64.powf(1.5 + 0.4 * (frame / 60.0 + self.phase).cos())
    }

    /// Rows by their time code; `late` frames late, `write` writes distance and stop.
    fn text(
        &self,
        unit: &str,
        late: f64,
        keep: impl Fn(usize) -> bool,
        write: impl Fn(usize, f64, f64) -> (String, String),
    ) -> String {
        let mut text = format!(
            "# document: take\n# frame rate: 24\n# measured from: image plane\nframe,timecode,focus distance [{unit}],T-stop\n"
        );
        for frame in (0..self.frames).filter(|frame| keep(*frame)) {
            let at = frame as f64 - late;
            let (distance, stop) = write(frame, self.distance(at), self.stop(at));
            writeln!(
                text,
                "{},01:00:{:02}:{:02},{distance},{stop}",
                1001 + frame,
                frame / 24,
                frame % 24
            )
            .unwrap();
        }
        text
    }

    fn plain(&self) -> String {
        self.text(
            "m",
            0.0,
            |_| true,
            |_, distance, stop| (format!("{distance:.4}"), format!("{stop:.3}")),
        )
    }
}

fn findings(own: &str, other: &str) -> Vec<Finding> {
    let found = common::check_against(own, Some(other), None, Expected::default(), 100);
    let ours = [
        "records-differ",
        "records-out-of-step",
        "records-share-no-frames",
        "frames-missing-in-one-record",
    ];
    found
        .into_iter()
        .filter(|finding| ours.contains(&finding.check.as_ref()))
        .collect()
}

fn names(findings: &[Finding]) -> Vec<&str> {
    findings
        .iter()
        .map(|finding| finding.check.as_ref())
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn one_take_written_twice_has_no_difference(phase in 0.0..6.0f64, decimals in 1..5usize, feet in any::<bool>(), frames in 60..400usize) {
        let take = Take { frames, phase };
        let unit = if feet { "ft" } else { "m" };
        let other = take.text(unit, 0.0, |_| true, |_, distance, stop| {
            let distance = if feet { distance / 0.3048 } else { distance };
            (format!("{distance:.decimals$}"), format!("{stop:.1}"))
        });
        let found = findings(&take.plain(), &other);
        prop_assert!(found.is_empty(), "{found:?}");
    }

    #[test]
    fn frames_late_are_found_to_the_frame(phase in 0.0..6.0f64, late in -48..=48i32, frames in 200..500usize) {
        let take = Take { frames, phase };
        let other = take.text("m", f64::from(late), |_| true, |_, distance, stop| (format!("{distance:.3}"), format!("{stop:.2}")));
        let found = findings(&take.plain(), &other);
        if late == 0 {
            prop_assert!(found.is_empty(), "{found:?}");
        } else {
            prop_assert_eq!(names(&found), ["records-out-of-step"], "{:?}", found);
            prop_assert_eq!(found[0].values[0].value, f64::from(late));
        }
    }

    #[test]
    fn a_stretch_in_feet_is_named(phase in 0.0..6.0f64, from in 20..100usize, length in 10..80usize) {
        let take = Take { frames: 220, phase };
        let own = take.text("m", 0.0, |_| true, |frame, distance, stop| {
            let wrong = (from..from + length).contains(&frame);
            (format!("{:.4}", if wrong { distance / 0.3048 } else { distance }), format!("{stop:.3}"))
        });
        let other = take.text("m", 0.0, |_| true, |_, distance, stop| (format!("{distance:.3}"), format!("{stop:.3}")));
        let found = findings(&own, &other);
        prop_assert_eq!(names(&found), ["records-differ"], "{:?}", found);
        let frames = found[0].frames.clone().unwrap();
        prop_assert_eq!((frames.first, frames.last, frames.count), (from as u64, (from + length - 1) as u64, length as u64));
        let repair = found[0].repair.clone().unwrap();
        prop_assert!(repair.action.contains("feet read as metres"), "{}", repair.action);
    }

    #[test]
    fn frames_that_one_lacks_are_counted(phase in 0.0..6.0f64, gap in 20..100usize, length in 1..30usize, own_lacks in any::<bool>()) {
        let take = Take { frames: 200, phase };
        let short = take.text("m", 0.0, |frame| !(gap..gap + length).contains(&frame), |_, distance, stop| (format!("{distance:.4}"), format!("{stop:.3}")));
        let found = if own_lacks { findings(&short, &take.plain()) } else { findings(&take.plain(), &short) };
        prop_assert_eq!(names(&found), ["frames-missing-in-one-record"], "{:?}", found);
        let count = format!("{length} frame");
        prop_assert!(found[0].message.starts_with(&count), "{}", found[0].message);
    }
}

#[test]
fn another_point_to_measure_from_shows_as_a_constant() {
    let take = Take {
        frames: 200,
        phase: 1.0,
    };
    let other = take.text(
        "m",
        0.0,
        |_| true,
        |_, distance, stop| (format!("{:.4}", distance - 0.125), format!("{stop:.3}")),
    );
    let found = findings(&take.plain(), &other);
    assert_eq!(names(&found), ["records-differ"]);
    assert!(
        found[0]
            .message
            .contains(", 0.125 m more in all of 200 frames"),
        "{}",
        found[0].message
    );
}

#[test]
fn a_static_take_has_no_offset() {
    let text = |distance: &str| {
        let mut text =
            "# document: take\n# frame rate: 24\nframe,timecode,focus distance [m]\n".to_owned();
        for frame in 0..48 {
            writeln!(
                text,
                "{},01:00:{:02}:{:02},{distance}",
                1001 + frame,
                frame / 24,
                frame % 24
            )
            .unwrap();
        }
        text
    };
    assert!(findings(&text("2.00"), &text("2.0")).is_empty());
    assert_eq!(
        names(&findings(&text("2.00"), &text("2.40"))),
        ["records-differ"]
    );
    assert_eq!(
        names(&findings(&text("2.00"), &text("inf"))),
        ["records-differ"]
    );
}
