//! One document of a run, checked.

use anyhow::{Result, anyhow};
use ringmark_checks::{Checker, TakeSummary};
use ringmark_model::{Finding, Lens, Piece, Subject};
use ringmark_outputs::{FileReport, safe};
use ringmark_quantity::Length;
use serde::{Deserialize, Serialize};

use super::{Interrupt, Progress};
use crate::against::{Others, precision};
use crate::calibrate::Calibration;
use crate::document::Document;
use crate::pictures::Gathering;
use crate::pipeline::{Ended, Threads, read, run};
use crate::profile::Profile;
use crate::repair::Draft;
use crate::rings::has_positions;
use crate::session::failure;
use crate::store::record::LensId;

/// What all documents of a run are checked with.
pub struct Checking<'a> {
    /// The calibration the person gave.
    pub given: Option<&'a Calibration>,
    /// Severities, thresholds, expected lenses.
    pub profile: &'a Profile,
    /// Other records of the takes, and whether one document alone is checked.
    pub others: Option<(&'a Others, bool)>,
    /// How far in front of the image plane the rangefinder is.
    pub offset: Option<Length>,
    /// How a document is read: with threads of its own if there are cores for them.
    pub threads: Threads,
    /// Whether a copy is kept for its repair.
    pub repair: bool,
    /// Whether a report draws takes and lenses.
    pub pictures: bool,
    /// Asked to end at once.
    pub interrupt: &'a Interrupt,
    /// Where frames are counted.
    pub progress: &'a Progress,
}

/// What checking a document gave.
#[derive(Default)]
pub struct Checked {
    /// What reports show.
    pub file: FileReport,
    /// Which lens a finding is about.
    pub subjects: Subjects,
    /// Whether a take has ring positions.
    pub rings: bool,
    /// Which other records takes were compared with.
    pub compared: Vec<Compared>,
    /// What is kept of the takes, to compare them with those of other documents.
    pub summaries: Vec<TakeSummary>,
    /// Said beside the reports, a line each.
    pub told: Vec<String>,
    /// The copy for its repair.
    pub draft: Option<Draft>,
}

/// A take for which another record was looked for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Compared {
    /// The take.
    pub take: String,
    /// The other record, if there is one.
    pub with: Option<String>,
}

/// The document was given up because somebody asked twice.
#[derive(Debug, thiserror::Error)]
#[error("given up")]
pub struct GivenUp;

/// Checks a document into `checked`, with a calibration found among the inputs if there is one for it.
pub fn one(
    checking: &Checking<'_>,
    document: &Document,
    found: Option<&Calibration>,
    checked: &mut Checked,
) -> Result<()> {
    let Checked {
        file,
        subjects,
        rings,
        compared,
        draft,
        summaries,
        ..
    } = checked;
    let calibration = checking.given.or(found);
    let settings = checking.profile.settings(document.format.name());
    let mut checker = Checker::with_calibration(&settings, calibration.map(|c| c.lens.clone()))
        .with_rangefinder_offset(checking.offset);
    if checking.repair {
        let copy = draft.insert(Draft::default());
        copy.checked_with(&settings);
    }
    let mut pictures = checking.pictures.then(|| Gathering::new(calibration));
    let look = |piece: Piece| {
        if checking.interrupt.insisted() {
            return Err(GivenUp.into());
        }
        if let Some(copy) = draft {
            copy.keep(&piece);
        }
        match &piece {
            Piece::Lens(lens) => {
                file.lenses.push(lens.label());
                subjects.lenses.push(LensId::of(lens).lens());
            }
            Piece::Take(take) => {
                file.takes.push(take.label());
                subjects.lens_of_take.push(take.lens);
            }
            Piece::Frames(batch) => {
                *rings |= has_positions(batch);
                checking.progress.frames(batch.count as u64);
            }
            Piece::Remark(_) | Piece::End(_) => {}
        }
        if let (Piece::Take(take), Some((others, alone))) = (&piece, checking.others) {
            let other = others.of(take, alone)?;
            compared.push(Compared {
                take: take.label(),
                with: other.as_ref().map(|other| other.name().to_owned()),
            });
            if let Some(other) = other {
                checker.compare_next(other, precision(&document.format));
            }
        }
        checker.piece(&piece);
        match &mut pictures {
            Some(pictures) => pictures.piece(piece),
            None => Ok(()),
        }
    };
    let ended = if checking.repair {
        // The repaired lens says where it comes from.
        run(document, None, None, look)?
    } else {
        read(document, checking.threads, look)?
    };
    file.pictures = pictures.map(Gathering::finish);
    file.ran = checker.ran().map(Into::into).collect();
    *summaries = checker.takes();
    file.findings = checker.finish();
    // A hole in the numbers of files has been told already, with all ranges in one place.
    if file.findings.iter().any(|f| f.check == "files-missing") {
        file.findings.retain(|f| f.check != "frame-number-gap");
    }
    if let Ended::ReadFailed(why) = ended {
        file.failure = Some(failure(why));
    }
    Ok(())
}

/// What is said beside the reports about a document that was checked, now or in an earlier run. `found` is the name of a
/// calibration that was found among the inputs and not given: it is used by name only, and said.
pub fn told(given: Option<&Calibration>, found: Option<&str>, checked: &Checked) -> Vec<String> {
    let file = &checked.file;
    let take = safe(&file.file);
    let mut told = Vec::new();
    if let (None, Some(lens)) = (given, found) {
        let lens = safe(lens);
        told.push(format!("{take}: compared with the marks in {lens}\n"));
    }
    told.extend(
        checked
            .compared
            .iter()
            .map(|compared| match &compared.with {
                Some(other) => format!("{take}: compared with {}\n", safe(other)),
                None => format!("{take}: no other record of {}\n", safe(&compared.take)),
            }),
    );
    if let Some(calibration) = given
        && !file.takes.is_empty()
        && !checked.rings
    {
        let lens = safe(&calibration.name);
        told.push(format!(
            "{take}: no ring positions: nothing is compared with the marks in {lens}\n"
        ));
    }
    told
}

/// The failure of an input at which the program itself broke.
pub fn broken(panic: &str) -> anyhow::Error {
    anyhow!(
        "ringmark itself broke on this file, which is a mistake in ringmark and not in the file: {panic}"
    )
}

/// The lenses of a document, by what findings are about.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Subjects {
    /// They, as far as acceptances name lenses.
    pub lenses: Vec<Lens>,
    /// The lens of each take.
    pub lens_of_take: Vec<Option<usize>>,
}

impl Subjects {
    /// The lens that a finding is about.
    pub fn of(&self, finding: &Finding) -> Option<&Lens> {
        let index = match finding.subject {
            Subject::Lens(index) => index,
            Subject::Take(index) => (*self.lens_of_take.get(index)?)?,
            Subject::File => return None,
        };
        self.lenses.get(index)
    }
}
