//! Findings that somebody knows of and accepts, with the reason and for how long.

use globset::{GlobBuilder, GlobMatcher};
use jiff::civil::Date;
use ringmark_checks::{LensPattern, registry};
use ringmark_model::{Finding, Lens};
use ringmark_outputs::Accepted;

use super::walk::{Fault, Walk};

/// One accepted finding, or kind of finding.
#[derive(Debug, Clone)]
pub struct Acceptance {
    /// The check.
    pub check: &'static str,
    /// Pattern of the file names; `None` is all files.
    pub files: Option<GlobMatcher>,
    /// Which lens; `None` is any.
    pub lens: Option<LensPattern>,
    /// Why it is accepted.
    pub reason: String,
    /// The last day on which it is.
    pub until: Option<Date>,
}

impl Acceptance {
    /// Reads `[[accept]]`.
    pub(super) fn read(mut table: Walk<'_>) -> Result<Self, Fault> {
        let span = table.span().clone();
        let Some(check) = table.get("check") else {
            return Err(Fault::at(&span, "an accepted finding names its check"));
        };
        let id = check.text()?;
        let Some(found) = registry::find(&id) else {
            let near = registry::nearest(&id);
            let near = near.map(|n| format!(", the nearest is '{n}'"));
            let near = near.unwrap_or_default();
            return Err(check.fault(format!("there is no check called '{id}'{near}")));
        };
        let Some(reason) = table.get("reason") else {
            return Err(Fault::at(&span, "an accepted finding needs a reason"));
        };
        let reason = reason.text()?;
        let files = match table.get("files") {
            None => None,
            Some(item) => {
                let pattern = item.text()?;
                let built = GlobBuilder::new(&pattern).literal_separator(false).build();
                let glob =
                    built.map_err(|error| item.fault(format!("no file pattern: {error}")))?;
                Some(glob.compile_matcher())
            }
        };
        let lens = match table.get("lens") {
            None => None,
            Some(item) => {
                let mut table = item.table()?;
                let pattern = super::read::lens(&mut table)?;
                table.end()?;
                Some(pattern)
            }
        };
        let until = table.get("until").map(|item| item.date()).transpose()?;
        table.end()?;
        Ok(Acceptance {
            check: found.info.id,
            files,
            lens,
            reason,
            until,
        })
    }

    /// Whether it speaks of this finding. A pattern fits the whole path or the file name alone.
    fn fits(&self, finding: &Finding, file: &str, lens: Option<&Lens>) -> bool {
        let name = file.rsplit(['/', '\\']).next().unwrap_or(file);
        let in_file = |glob: &GlobMatcher| glob.is_match(file) || glob.is_match(name);
        finding.check == self.check
            && self.files.as_ref().is_none_or(in_file)
            && self
                .lens
                .as_ref()
                .is_none_or(|pattern| lens.is_some_and(|lens| pattern.fits(lens)))
    }

    fn is_over(&self, today: Date) -> bool {
        self.until.is_some_and(|until| today > until)
    }
}

/// The acceptances of a profile at work: which were used.
#[derive(Debug)]
pub struct Acceptances<'p> {
    all: &'p [Acceptance],
    today: Date,
    used: Vec<bool>,
}

impl<'p> Acceptances<'p> {
    /// All of a profile, on a day.
    pub fn new(all: &'p [Acceptance], today: Date) -> Self {
        Acceptances {
            all,
            today,
            used: vec![false; all.len()],
        }
    }

    /// Takes the accepted findings of a file out of `findings`. `lens` gives the lens a finding is about.
    pub fn sift<'l>(
        &mut self,
        findings: &mut Vec<Finding>,
        file: &str,
        lens: impl Fn(&Finding) -> Option<&'l Lens>,
    ) -> Vec<Accepted> {
        let mut accepted = Vec::new();
        let mut kept = Vec::with_capacity(findings.len());
        for mut finding in findings.drain(..) {
            let fits = self
                .all
                .iter()
                .position(|a| a.fits(&finding, file, lens(&finding)));
            let Some(index) = fits else {
                kept.push(finding);
                continue;
            };
            if let Some(used) = self.used.get_mut(index) {
                *used = true;
            }
            let acceptance = &self.all[index];
            if acceptance.is_over(self.today) {
                let until = acceptance.until.map(|d| d.to_string()).unwrap_or_default();
                let note = format!(
                    "was accepted until {until} ({}): repair it, or give a new date",
                    acceptance.reason
                );
                finding.help = Some(match finding.help.take() {
                    Some(help) => format!("{help}; {note}"),
                    None => note,
                });
                kept.push(finding);
            } else {
                accepted.push(Accepted {
                    finding,
                    reason: acceptance.reason.clone(),
                    until: acceptance.until.map(|d| d.to_string()),
                });
            }
        }
        *findings = kept;
        accepted
    }

    /// Acceptances that met no finding: they may hide the next one.
    pub fn unused(&self) -> Vec<String> {
        let unused = self.all.iter().zip(&self.used).filter(|(_, used)| !**used);
        unused
            .map(|(a, _)| {
                let files = a.files.as_ref().map(|g| format!(" in {}", g.glob().glob()));
                format!(
                    "accepted {}{} was not found: take it out of the profile",
                    a.check,
                    files.unwrap_or_default()
                )
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use ringmark_model::{Severity, Subject};

    #[test]
    fn what_is_accepted_is_taken_out_with_its_reason_until_its_day() {
        let profile = super::super::read::read(
            "[[accept]]\ncheck = \"timecode-gap\"\nfiles = \"A013*\"\nreason = \"restarted\"\nuntil = 2026-12-31\n\
             [[accept]]\ncheck = \"ring-jump\"\nfiles = \"**/day2/*\"\nreason = \"homed\"\n",
        )
        .unwrap();
        let gap = Finding::new("timecode-gap", Severity::Error, Subject::Take(0), "gap");
        let day = |d| Date::new(2026, 12, d).unwrap();
        let mut on = Acceptances::new(&profile.acceptances, day(31));
        let mut findings = vec![gap.clone()];
        let accepted = on.sift(&mut findings, "cards/A013C001.csv", |_| None);
        assert_eq!((findings.len(), accepted.len()), (0, 1));
        assert_eq!(accepted[0].reason, "restarted");
        let mut findings = vec![gap.clone()];
        assert!(
            on.sift(&mut findings, "cards/A014C001.csv", |_| None)
                .is_empty()
        );
        assert_eq!(
            on.unused(),
            ["accepted ring-jump in **/day2/* was not found: take it out of the profile"]
        );
        let after = Date::new(2027, 1, 1).unwrap();
        let mut on = Acceptances::new(&profile.acceptances, after);
        let mut findings = vec![gap];
        assert!(on.sift(&mut findings, "A013C001.csv", |_| None).is_empty());
        assert_eq!(
            findings[0].help.as_deref(),
            Some("was accepted until 2026-12-31 (restarted): repair it, or give a new date")
        );
    }
}
