//! Takes of a show against each other: what no take shows by itself.
//!
//! Documents are checked one by one, on any core; of each take a few facts are kept, and [`Show`] compares them in the
//! order of the documents. What it finds is about the later of two takes.

mod clip_repeated;
mod takes_overlap;

use std::collections::HashMap;

use ringmark_model::{Finding, Place, Subject};
use ringmark_quantity::FrameRate;

use crate::registry::Check;
use crate::report::{Found, Report, in_order};
use crate::settings::Settings;

pub(crate) static CHECKS: &[&Check] = &[&takes_overlap::CHECK, &clip_repeated::CHECK];

/// What is kept of a take.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TakeSummary {
    /// Clip name.
    pub clip: Option<String>,
    /// Reel name.
    pub reel: Option<String>,
    /// The camera, as well as it is known: serial number, else label.
    pub camera: Option<String>,
    /// Frame rate.
    pub rate: Option<FrameRate>,
    /// First and last label as frames counted from midnight, going on over it.
    pub counts: Option<(i64, i64)>,
    /// The same as text.
    pub labels: Option<(String, String)>,
    /// Where its first frame stands.
    pub place: Option<Place>,
}

/// A take, and the document it is in.
struct Seen {
    document: String,
    take: TakeSummary,
}

/// Compares takes as their documents come.
#[derive(Default)]
pub struct Show {
    by_camera: HashMap<String, Vec<Seen>>,
}

impl Show {
    /// Compares the takes of a document with those of the documents before it.
    pub fn document(
        &mut self,
        name: &str,
        takes: &[TakeSummary],
        settings: &Settings,
    ) -> Vec<Finding> {
        let mut found = [Found::default(), Found::default()];
        for (index, take) in takes.iter().enumerate() {
            // Takes of two cameras may run at the same time, and a clip name is a camera's.
            let Some(camera) = &take.camera else { continue };
            let before = self
                .by_camera
                .entry(camera.trim().to_lowercase())
                .or_default();
            let rules = [takes_overlap::look, clip_repeated::look];
            for ((check, look), found) in CHECKS.iter().zip(rules).zip(&mut found) {
                if settings.rules.runs(check.info.id) {
                    let most = settings.most_findings;
                    let mut out = Report {
                        info: &check.info,
                        found,
                        rules: &settings.rules,
                        most,
                    };
                    look(take, Subject::Take(index), before, &mut out);
                }
            }
        }
        for take in takes {
            if let Some(camera) = &take.camera {
                let seen = Seen {
                    document: name.to_owned(),
                    take: take.clone(),
                };
                self.by_camera
                    .entry(camera.trim().to_lowercase())
                    .or_default()
                    .push(seen);
            }
        }
        in_order(CHECKS.iter().map(|check| &check.info).zip(found).collect())
    }
}

/// Whether two names are there and one.
fn same(a: &Option<String>, b: &Option<String>) -> bool {
    matches!((a, b), (Some(a), Some(b)) if a.trim().eq_ignore_ascii_case(b.trim()))
}

/// Frames that two takes of one rate share, by their labels.
fn shared(a: &TakeSummary, b: &TakeSummary) -> Option<i64> {
    let (a_range, b_range) = a.counts.zip(b.counts)?;
    let one_rate = a.rate.is_some() && a.rate == b.rate;
    one_rate.then(|| a_range.1.min(b_range.1) - a_range.0.max(b_range.0) + 1)
}

/// `A003C001 in day1/A003C001.csv`.
fn name(seen: &Seen) -> String {
    match &seen.take.clip {
        Some(clip) => format!("{clip} in {}", seen.document),
        None => format!("a take in {}", seen.document),
    }
}
