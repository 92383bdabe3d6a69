//! One fault, one finding: what follows from a fault that was named is not said again.
//!
//! A ring that runs the wrong way makes every distance disagree with it. Both checks are right; only the first says what
//! happened. A row names a check and those whose findings it explains in the same frames of the same take.

use ringmark_model::{Finding, Severity, Subject};

/// A check, and those that follow from what it finds.
const EXPLAINS: &[(&str, &[&str])] = &[
    ("lens-changes-in-take", &["lens-differs-from-take"]),
    (
        "distance-unit-flips",
        &[
            "distance-below-close-focus",
            "ring-distance-mismatch",
            "depth-of-field-impossible",
            "hyperfocal-mismatch",
            "value-impossible",
        ],
    ),
    (
        "distance-not-positive",
        &[
            "ring-distance-mismatch",
            "depth-of-field-impossible",
            "hyperfocal-mismatch",
        ],
    ),
    (
        "distance-below-close-focus",
        &[
            "ring-distance-mismatch",
            "depth-of-field-impossible",
            "hyperfocal-mismatch",
        ],
    ),
    (
        "ring-distance-mismatch",
        &["depth-of-field-impossible", "hyperfocal-mismatch"],
    ),
    (
        "focal-length-outside-lens-range",
        &[
            "ring-focal-length-mismatch",
            "focal-lengths-disagree",
            "field-of-view-mismatch",
            "hyperfocal-mismatch",
        ],
    ),
    (
        "focal-length-changes-on-prime",
        &[
            "focal-lengths-disagree",
            "field-of-view-mismatch",
            "hyperfocal-mismatch",
        ],
    ),
    (
        "focal-length-in-other-unit",
        &[
            "focal-length-changes-on-prime",
            "focal-length-outside-lens-range",
            "focal-lengths-disagree",
            "ring-focal-length-mismatch",
            "field-of-view-mismatch",
            "hyperfocal-mismatch",
            "value-impossible",
        ],
    ),
    (
        "ring-direction-reversed",
        &[
            "ring-distance-mismatch",
            "distance-unit-flips",
            "channels-out-of-step",
        ],
    ),
    (
        "rings-swapped",
        &[
            "ring-distance-mismatch",
            "distance-unit-flips",
            "ring-stop-mismatch",
            "ring-focal-length-mismatch",
            "ring-frozen",
            "value-frozen",
            "stop-jumps",
        ],
    ),
    (
        "channels-out-of-step",
        &[
            "ring-distance-mismatch",
            "ring-stop-mismatch",
            "ring-focal-length-mismatch",
            "ring-frozen",
            "value-frozen",
        ],
    ),
    (
        "value-frozen",
        &[
            "depth-of-field-impossible",
            "hyperfocal-mismatch",
            "ring-distance-mismatch",
            "ring-stop-mismatch",
            "ring-focal-length-mismatch",
            "distance-unit-flips",
        ],
    ),
    (
        "ring-frozen",
        &[
            "ring-jump",
            "ring-distance-mismatch",
            "ring-stop-mismatch",
            "ring-focal-length-mismatch",
            "distance-unit-flips",
        ],
    ),
    (
        "values-too-coarse",
        &[
            "ring-distance-mismatch",
            "ring-frozen",
            "value-frozen",
            "ring-jump",
            "readings-held",
        ],
    ),
    (
        "readings-held",
        &["ring-distance-mismatch", "ring-frozen", "ring-jump"],
    ),
    (
        "value-outside-encoder-range",
        &["values-too-coarse", "ring-faster-than-a-motor"],
    ),
    (
        "encoder-wrapped",
        &[
            "ring-jump",
            "ring-distance-mismatch",
            "value-outside-encoder-range",
        ],
    ),
    (
        "ring-jump",
        &[
            "ring-distance-mismatch",
            "ring-stop-mismatch",
            "ring-focal-length-mismatch",
        ],
    ),
    ("ring-faster-than-a-motor", &["ring-jump"]),
    (
        "homing-sweep-in-take",
        &["ring-jump", "ring-faster-than-a-motor"],
    ),
    (
        "t-stop-below-f-number",
        &["stop-jumps", "transmittance-implausible"],
    ),
    (
        "value-impossible",
        &[
            "hyperfocal-mismatch",
            "stop-jumps",
            "t-stop-below-f-number",
            "transmittance-implausible",
            "stop-outside-lens-range",
            "ring-stop-mismatch",
            "focal-lengths-disagree",
        ],
    ),
    (
        "stop-outside-lens-range",
        &["hyperfocal-mismatch", "stop-jumps", "ring-stop-mismatch"],
    ),
    ("ring-stop-mismatch", &["stop-jumps"]),
];

/// Frames at the ends of a finding that its followers may reach beyond it: they settle on a run in their own way.
const SLACK: u64 = 2;

/// Takes out the findings that others explain.
pub(crate) fn without_followers(findings: &mut Vec<Finding>) {
    let causes: Vec<Cause> = findings.iter().filter_map(Cause::of).collect();
    if causes.is_empty() {
        return;
    }
    findings.retain(|finding| !causes.iter().any(|cause| cause.explains(finding)));
}

/// A finding that explains others.
struct Cause {
    followers: &'static [&'static str],
    severity: Severity,
    subject: Subject,
    /// First and last frame; `None` for a whole lens or take.
    frames: Option<(u64, u64)>,
}

impl Cause {
    fn of(finding: &Finding) -> Option<Self> {
        let (_, followers) = EXPLAINS.iter().find(|(check, _)| *check == finding.check)?;
        Some(Self {
            followers,
            severity: finding.severity,
            subject: finding.subject.clone(),
            frames: finding
                .frames
                .as_ref()
                .map(|frames| (frames.first, frames.last)),
        })
    }

    fn explains(&self, other: &Finding) -> bool {
        let within = match (self.frames, other.frames.as_ref()) {
            (Some((first, last)), Some(frames)) => {
                frames.first.saturating_add(SLACK) >= first
                    && frames.last <= last.saturating_add(SLACK)
            }
            _ => true,
        };
        // What is hidden must not be the graver of the two: nobody would be told how grave it is.
        within
            && self.severity >= other.severity
            && self.subject == other.subject
            && self.followers.contains(&other.check.as_ref())
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;
    use crate::registry::find;
    use ringmark_model::FrameRange;

    #[test]
    fn all_names_are_checks() {
        for (check, followers) in EXPLAINS {
            assert!(find(check).is_some(), "{check}");
            for follower in *followers {
                assert!(find(follower).is_some() && follower != check, "{follower}");
            }
        }
    }

    fn finding(check: &'static str, take: usize, first: u64, last: u64) -> Finding {
        let mut finding = Finding::new(check, Severity::Error, Subject::Take(take), "");
        finding.frames = Some(FrameRange {
            first,
            last,
            count: last - first + 1,
            first_number: None,
            last_number: None,
            first_label: None,
            last_label: None,
        });
        finding
    }

    #[test]
    fn only_what_lies_within_is_explained() {
        let (cause, follower) = (EXPLAINS[0].0, EXPLAINS[0].1[0]);
        let mut all = vec![
            finding(cause, 0, 10, 50),
            finding(follower, 0, 9, 40),
            finding(follower, 0, 30, 90),
            finding(follower, 1, 20, 30),
            finding("timecode-gap", 0, 20, 20),
        ];
        without_followers(&mut all);
        let left: Vec<(&str, u64)> = all
            .iter()
            .map(|f| (f.check.as_ref(), f.frames.as_ref().unwrap().last))
            .collect();
        assert_eq!(
            left,
            [
                (cause, 50),
                (follower, 90),
                (follower, 30),
                ("timecode-gap", 20)
            ]
        );
    }
}
