//! Repairs that checks propose, made in a copy of a lens document: never in the document itself.

use std::path::{Path, PathBuf};

use anyhow::{Result, bail};
use ringmark_checks::{Checker, Settings};
use ringmark_model::json::{DocumentKind, DocumentWriter};
use ringmark_model::{
    Axis, Change, Edit, Finding, Lens, Piece, Provenance, Repair, Repaired, Severity, edit,
};
use ringmark_outputs::safe;

use crate::save::Output;

/// The ending of what is written.
const ENDING: &str = ".lens.json";

/// A lens document that is being checked, kept for its repair.
#[derive(Default)]
pub struct Draft {
    lenses: Vec<Lens>,
    provenance: Vec<Provenance>,
    holds_takes: bool,
    settings: Settings,
}

/// Refuses a place that no repaired lens can have.
pub fn allow(path: &Path, documents: usize) -> Result<()> {
    let name = path.display();
    if !name.to_string().ends_with(ENDING) {
        bail!("{name}: --repair writes a neutral lens document; end its name in {ENDING}");
    }
    if documents != 1 {
        bail!("--repair takes one lens at a time, and here are {documents} documents; name one");
    }
    Ok(())
}

impl Draft {
    /// The settings that the document is checked with: the repaired lens is checked with the same.
    pub fn checked_with(&mut self, settings: &Settings) {
        self.settings = settings.clone();
    }

    /// Keeps a piece of the document.
    pub fn keep(&mut self, piece: &Piece) {
        match piece {
            Piece::Lens(lens) => self.lenses.push(lens.clone()),
            Piece::Take(_) => self.holds_takes = true,
            Piece::End(provenance) => self.provenance.clone_from(provenance),
            Piece::Frames(_) | Piece::Remark(_) => {}
        }
    }

    /// Makes the repairs that `findings` propose and writes the lenses beside; what was done, as text for people.
    pub fn repair(
        mut self,
        findings: &[Finding],
        path: &Path,
        force: bool,
        inputs: &[PathBuf],
    ) -> Result<String> {
        if self.holds_takes {
            bail!(
                "--repair is for documents of lenses; this one holds takes, whose frames it would lose"
            );
        }
        let (mut made, mut left) = (Vec::new(), Vec::new());
        let mut edits: Vec<Edit> = Vec::new();
        for finding in findings
            .iter()
            .filter(|finding| finding.severity >= Severity::Warning)
        {
            let proposed = finding
                .repair
                .as_ref()
                .filter(|repair| !repair.edits.is_empty());
            match proposed.filter(|repair| !overlap(&edits, &repair.edits)) {
                Some(repair) => {
                    made.push(self.record(finding, repair)?);
                    edits.extend(repair.edits.iter().cloned());
                }
                None => left.push((finding, proposed.is_some())),
            }
        }
        if made.is_empty() {
            return Ok("nothing to repair: no error or warning proposes a change that a program can make; nothing is written\n".to_owned());
        }
        edit::apply(&mut self.lenses, &edits)?;
        let mut text = told(&made, &left);
        if let Some(input) = self.provenance.first_mut() {
            input.repairs = made;
        }
        self.write(path, force, inputs)?;
        text += &format!("repaired lens → {}\n", safe(&path.display().to_string()));
        text += &self.still_wrong();
        text += "A repair is a proposal: compare every changed mark with the barrel before the lens is used.\n";
        Ok(text)
    }

    fn record(&self, finding: &Finding, repair: &Repair) -> Result<Repaired> {
        Ok(Repaired {
            check: finding.check.clone().into_owned(),
            action: repair.action.clone(),
            evidence: repair.evidence.clone(),
            changes: edit::apply(&mut self.lenses.clone(), &repair.edits)?,
        })
    }

    fn write(&self, path: &Path, force: bool, inputs: &[PathBuf]) -> Result<()> {
        let output = Output::create(path, force, inputs)?;
        let mut writer = DocumentWriter::new(DocumentKind::Lenses, output);
        for lens in &self.lenses {
            writer.put(&Piece::Lens(lens.clone()))?;
        }
        writer.put(&Piece::End(self.provenance.clone()))?;
        writer.finish()?.finish()
    }

    /// What the checks say about the repaired lenses.
    fn still_wrong(&self) -> String {
        let mut checker = Checker::new(&self.settings);
        for lens in &self.lenses {
            checker.piece(&Piece::Lens(lens.clone()));
        }
        let findings = checker.finish();
        let mut text = String::new();
        for finding in findings
            .iter()
            .filter(|finding| finding.severity >= Severity::Warning)
        {
            text += &format!(
                "still {}: {} [{}]\n",
                finding.severity.name(),
                safe(&finding.message),
                finding.check
            );
        }
        if text.is_empty() {
            text += "checked again: no errors and no warnings\n";
        }
        text
    }
}

fn told(made: &[Repaired], left: &[(&Finding, bool)]) -> String {
    let mut text = String::new();
    for repair in made {
        text += &format!("repaired: {} [{}]\n", safe(&repair.action), repair.check);
        for change in &repair.changes {
            let side =
                |side: &Option<String>| safe(side.as_deref().unwrap_or("nothing")).into_owned();
            text += &format!(
                "  {}: {} → {}\n",
                change.place,
                side(&change.was),
                side(&change.now)
            );
        }
    }
    for (finding, proposed) in left {
        let why = if *proposed {
            "its repair would change what another repair changed"
        } else {
            "a person has to decide"
        };
        text += &format!(
            "left: {} [{}]; {why}\n",
            safe(&finding.message),
            finding.check
        );
    }
    text
}

/// Whether two repairs change the same mark, or one the whole ring that the other changes too.
fn overlap(made: &[Edit], next: &[Edit]) -> bool {
    made.iter().any(|a| next.iter().any(|b| touches(a, b)))
}

fn touches(a: &Edit, b: &Edit) -> bool {
    let ring = |edit: &Edit| -> (usize, Axis) { (edit.lens, edit.axis) };
    ring(a) == ring(b) && mark(a).zip(mark(b)).is_none_or(|(a, b)| a == b)
}

/// The mark that an edit changes; `None` for the whole ring.
fn mark(edit: &Edit) -> Option<usize> {
    match edit.change {
        Change::Value { mark, .. } | Change::Position { mark, .. } | Change::Remove { mark } => {
            Some(mark)
        }
        Change::Unit(_) | Change::Reference(_) => None,
    }
}
