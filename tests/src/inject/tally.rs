//! What was found of what was injected, check by check and format by format.

use std::collections::BTreeMap;
use std::fmt;

use ringmark_model::{Finding, Severity};

use super::faults::{self, Expect, Fault};
use super::formats::FORMATS;
use super::lenses::{LENS_FAULTS, LensFault};

/// Counts of one fault in one format.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
struct Count {
    injected: usize,
    /// By the right check.
    found: usize,
    /// And in the right frames, within one.
    placed: usize,
}

/// All counts.
#[derive(Debug, Default)]
pub struct Tally {
    faults: BTreeMap<(&'static str, &'static str, &'static str), Count>,
    /// Takes and calibrations without a fault, by format.
    clean: BTreeMap<&'static str, usize>,
    /// Errors and warnings in them, by check and format, with a message.
    false_alarms: BTreeMap<(String, &'static str), (usize, String)>,
    /// Errors and warnings of other checks beside an injected fault, by that fault and the other check.
    beside: BTreeMap<(&'static str, String), usize>,
    /// What was missed, with what was said instead.
    missed: Vec<String>,
}

fn serious(finding: &Finding) -> bool {
    finding.severity >= Severity::Warning
}

impl Tally {
    /// A document without a fault.
    pub(super) fn clean(&mut self, format: &'static str, findings: Vec<Finding>) {
        *self.clean.entry(format).or_default() += 1;
        for finding in findings.into_iter().filter(serious) {
            let entry = self
                .false_alarms
                .entry((finding.check.to_string(), format))
                .or_insert((0, finding.message.clone()));
            entry.0 += 1;
        }
    }

    /// A take with a fault; no findings if the format could not carry it.
    pub(super) fn fault(
        &mut self,
        format: &'static str,
        fault: &Fault,
        expect: &Expect,
        findings: Option<Vec<Finding>>,
    ) {
        let count = self
            .faults
            .entry((fault.check, fault.what, format))
            .or_default();
        let Some(findings) = findings else { return };
        count.injected += 1;
        let right: Vec<&Finding> = findings
            .iter()
            .filter(|finding| finding.check == fault.check)
            .collect();
        let placed = right.iter().any(|finding| within_one(finding, expect));
        count.found += usize::from(!right.is_empty());
        count.placed += usize::from(placed);
        if !placed {
            let said: Vec<String> = findings
                .iter()
                .map(|finding| {
                    format!(
                        "{} {:?}",
                        finding.check,
                        finding.frames.as_ref().map(|f| (f.first, f.last))
                    )
                })
                .collect();
            self.missed.push(format!(
                "{} ({}) in {format}: expected {:?}, said {}",
                fault.check,
                fault.what,
                expect.frames,
                said.join(", ")
            ));
        }
        self.others(fault.check, &findings);
    }

    /// A calibration with a fault.
    pub(super) fn lens(&mut self, format: &'static str, fault: &LensFault, findings: &[Finding]) {
        let count = self
            .faults
            .entry((fault.check, fault.what, format))
            .or_default();
        count.injected += 1;
        let found = findings.iter().any(|finding| finding.check == fault.check);
        count.found += usize::from(found);
        count.placed += usize::from(found);
        if !found {
            let said: Vec<&str> = findings
                .iter()
                .map(|finding| finding.check.as_ref())
                .collect();
            self.missed.push(format!(
                "{} ({}) in {format}: said {}",
                fault.check,
                fault.what,
                said.join(", ")
            ));
        }
        self.others(fault.check, findings);
    }

    fn others(&mut self, check: &'static str, findings: &[Finding]) {
        for finding in findings
            .iter()
            .filter(|finding| serious(finding) && finding.check != check)
        {
            *self
                .beside
                .entry((check, finding.check.to_string()))
                .or_default() += 1;
        }
    }

    /// Faults injected, found by the right check, and found in the right frames.
    pub fn totals(&self) -> (usize, usize, usize) {
        let all = self.faults.values();
        all.fold((0, 0, 0), |sum, count| {
            (
                sum.0 + count.injected,
                sum.1 + count.found,
                sum.2 + count.placed,
            )
        })
    }

    /// Errors and warnings in documents without a fault.
    pub fn false_alarms(&self) -> usize {
        self.false_alarms.values().map(|(count, _)| count).sum()
    }

    /// What was missed, a line each.
    pub fn missed(&self) -> &[String] {
        &self.missed
    }

    /// Checks for which nothing could be injected in any format.
    pub fn never(&self) -> Vec<&'static str> {
        let mut never: Vec<&'static str> = Vec::new();
        for (check, what, _) in self.faults.keys() {
            let any = self
                .faults
                .iter()
                .any(|((c, w, _), count)| c == check && w == what && count.injected > 0);
            if !any && !never.contains(check) {
                never.push(check);
            }
        }
        never
    }
}

fn within_one(finding: &Finding, expect: &Expect) -> bool {
    let Some((first, last)) = expect.frames else {
        return true;
    };
    finding
        .frames
        .as_ref()
        .is_some_and(|frames| frames.first.abs_diff(first) <= 1 && frames.last.abs_diff(last) <= 1)
}

impl fmt::Display for Tally {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(
            out,
            "Found by the right check in the right frames (± 1) / injected; – where the format cannot carry the fault.\n"
        )?;
        let names = FORMATS.map(|format| {
            format
                .trim_start_matches("acquisition-")
                .trim_start_matches("take.")
        });
        write!(out, "{:<31}{:<50}", "check", "fault")?;
        for name in names {
            write!(out, "{name:>12}")?;
        }
        writeln!(out)?;
        for fault in faults::all() {
            write!(out, "{:<31}{:<50}", fault.check, fault.what)?;
            for format in FORMATS {
                let count = self
                    .faults
                    .get(&(fault.check, fault.what, format))
                    .copied()
                    .unwrap_or_default();
                let cell = if count.injected == 0 {
                    "–".to_owned()
                } else {
                    format!("{}/{}", count.placed, count.injected)
                };
                write!(out, "{cell:>12}")?;
            }
            writeln!(out)?;
        }
        writeln!(
            out,
            "\n{:<31}{:<50}{:>12}{:>12}",
            "check", "fault of a calibration", "lens.json", "table"
        )?;
        for fault in LENS_FAULTS {
            write!(out, "{:<31}{:<50}", fault.check, fault.what)?;
            for format in super::formats::OF_LENSES {
                let count = self
                    .faults
                    .get(&(fault.check, fault.what, format))
                    .copied()
                    .unwrap_or_default();
                write!(
                    out,
                    "{:>12}",
                    format!("{}/{}", count.placed, count.injected)
                )?;
            }
            writeln!(out)?;
        }
        let (injected, found, placed) = self.totals();
        let share = |part: usize| 100.0 * part as f64 / injected.max(1) as f64;
        writeln!(
            out,
            "\n{injected} faults: {found} found by the right check ({:.1} %), {placed} in the right frames ({:.1} %)",
            share(found),
            share(placed)
        )?;
        let clean: usize = self.clean.values().sum();
        writeln!(
            out,
            "{} errors and warnings in {clean} clean documents",
            self.false_alarms()
        )?;
        for ((check, format), (count, message)) in &self.false_alarms {
            writeln!(out, "  {check} in {format}, {count} times: {message}")?;
        }
        if !self.beside.is_empty() {
            writeln!(
                out,
                "\nErrors and warnings of other checks beside an injected fault:"
            )?;
            for ((check, other), count) in &self.beside {
                writeln!(out, "  {check}: {other}, {count} times")?;
            }
        }
        Ok(())
    }
}
