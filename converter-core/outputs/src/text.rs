//! Findings for people, in full with excerpts or one line each.

use std::fmt::{self, Write};
use std::io;

use ringmark_model::{Finding, FoundValue, FrameRange, Severity, Subject};
use ringmark_quantity::{Unit, print};

use crate::excerpt::{byte_location, excerpt, location};
use crate::paint::Paint;
use crate::report::{Failure, FileReport, Interrupted, Report, Tally, number};
use crate::safe::{safe, safe_lines};

/// How findings are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TextOptions {
    /// Whether terminal colours are written.
    pub colour: bool,
    /// Findings of one file that are shown in full; the rest are shown in one line each.
    pub in_full: usize,
}

impl Default for TextOptions {
    fn default() -> Self {
        TextOptions {
            colour: false,
            in_full: 20,
        }
    }
}

/// Findings in full, file by file, and a summary line.
#[derive(Debug, Default)]
pub struct TextReport {
    options: TextOptions,
    tally: Tally,
}

impl TextReport {
    /// Of no files yet.
    pub fn new(options: TextOptions) -> Self {
        TextReport {
            options,
            tally: Tally::default(),
        }
    }
}

impl Report for TextReport {
    fn start(&mut self, _: &mut dyn io::Write) -> io::Result<()> {
        Ok(())
    }

    fn file(&mut self, out: &mut dyn io::Write, file: &FileReport) -> io::Result<()> {
        self.tally.add(file);
        write_through(out, |text| write_in_full(text, file, self.options))
    }

    fn interrupted(&mut self, interrupted: Interrupted) {
        self.tally.interrupted = Some(interrupted);
    }

    fn end(&mut self, out: &mut dyn io::Write) -> io::Result<()> {
        writeln!(out, "{}", self.tally.words())
    }
}

/// Findings as `file:line:column: severity: message (check)`, and a summary line.
#[derive(Debug, Default)]
pub struct ConciseReport {
    options: TextOptions,
    tally: Tally,
}

impl ConciseReport {
    /// Of no files yet.
    pub fn new(options: TextOptions) -> Self {
        ConciseReport {
            options,
            tally: Tally::default(),
        }
    }
}

impl Report for ConciseReport {
    fn start(&mut self, _: &mut dyn io::Write) -> io::Result<()> {
        Ok(())
    }

    fn file(&mut self, out: &mut dyn io::Write, file: &FileReport) -> io::Result<()> {
        self.tally.add(file);
        write_through(out, |text| write_lines(text, file, self.options))
    }

    fn interrupted(&mut self, interrupted: Interrupted) {
        self.tally.interrupted = Some(interrupted);
    }

    fn end(&mut self, out: &mut dyn io::Write) -> io::Result<()> {
        writeln!(out, "{}", self.tally.words())
    }
}

/// Makes the text of one file and hands it over in one go.
fn write_through(
    out: &mut dyn io::Write,
    make: impl FnOnce(&mut String) -> fmt::Result,
) -> io::Result<()> {
    let mut text = String::new();
    make(&mut text).map_err(io::Error::other)?;
    out.write_all(text.as_bytes())
}

fn write_in_full(out: &mut dyn Write, report: &FileReport, options: TextOptions) -> fmt::Result {
    let paint = Paint {
        colour: options.colour,
    };
    let findings = report.sorted();
    let (in_full, rest) = findings.split_at(options.in_full.min(findings.len()));
    for finding in in_full {
        write_finding(out, report, finding, paint)?;
        writeln!(out)?;
    }
    if !rest.is_empty() {
        let more = number(rest.len() as u64, "more finding");
        writeln!(out, "{more} in {}, one line each:", safe(&report.file))?;
        for finding in rest {
            write_line(out, report, finding, paint)?;
        }
        writeln!(out)?;
    }
    write_left_out(out, report)?;
    write_accepted(out, report)?;
    if let Some(failure) = &report.failure {
        write_failure(out, report, failure, paint)?;
        writeln!(out)?;
    }
    Ok(())
}

fn write_lines(out: &mut dyn Write, report: &FileReport, options: TextOptions) -> fmt::Result {
    let paint = Paint {
        colour: options.colour,
    };
    for finding in report.sorted() {
        write_line(out, report, finding, paint)?;
    }
    write_left_out(out, report)?;
    write_accepted(out, report)?;
    if let Some(failure) = &report.failure {
        let place = match &failure.place {
            Some(place) => location(&report.sources, place),
            None => safe(&report.file).into_owned(),
        };
        let error = paint.severity(Severity::Error, "error");
        let lines: Vec<&str> = failure.message.lines().collect();
        writeln!(out, "{place}: {error}: {}", safe(&lines.join("; ")))?;
    }
    Ok(())
}

/// One finding in full, without an empty line at the end.
fn write_finding(
    out: &mut dyn Write,
    report: &FileReport,
    finding: &Finding,
    paint: Paint,
) -> fmt::Result {
    let kind = format!("{}[{}]", finding.severity.name(), safe(&finding.check));
    let kind = paint.severity(finding.severity, kind);
    writeln!(out, "{kind}: {}", paint.bold(safe(&finding.message)))?;
    if let Some(subject) = subject_line(report, finding) {
        writeln!(out, "  {subject}")?;
    }
    let excerpt = match &finding.place {
        Some(place) => excerpt(
            &report.sources,
            place,
            &finding.also,
            finding.severity,
            paint.colour,
        ),
        None => format!("  --> {}", safe(&report.file)),
    };
    writeln!(out, "{excerpt}")?;
    let mut line = |name: &dyn fmt::Display, text: &str| write_note(out, &excerpt, name, text);
    for found in &finding.values {
        line(&safe(&found.name), &value(found))?;
    }
    if let Some(help) = &finding.help {
        line(&paint.bold("help"), &safe(help))?;
    }
    if let Some(repair) = &finding.repair {
        line(&paint.bold("likely repair"), &safe(&repair.action))?;
        if !repair.evidence.is_empty() {
            line(&paint.bold("evidence"), &safe(&repair.evidence))?;
        }
    }
    Ok(())
}

/// `  = name: text`, in line with the margin of the excerpt above.
fn write_note(
    out: &mut dyn Write,
    excerpt: &str,
    name: &dyn fmt::Display,
    text: &str,
) -> fmt::Result {
    let margin = excerpt.len() - excerpt.trim_start_matches(' ').len() + 1;
    writeln!(out, "{:margin$}= {name}: {text}", "")
}

/// Accepted findings, one line for all of a check that have one reason.
fn write_accepted(out: &mut dyn Write, report: &FileReport) -> fmt::Result {
    let mut told: Vec<(&str, &str, u64)> = Vec::new();
    for accepted in &report.accepted {
        let (check, reason) = (accepted.finding.check.as_ref(), accepted.reason.as_str());
        match told
            .iter_mut()
            .find(|(c, r, _)| (*c, *r) == (check, reason))
        {
            Some((_, _, count)) => *count += 1,
            None => told.push((check, reason, 1)),
        }
    }
    for (check, reason, count) in told {
        let findings = number(count, "accepted finding");
        let (file, reason) = (safe(&report.file), safe(reason));
        writeln!(out, "{file}: {findings} of {}: {reason}", safe(check))?;
    }
    Ok(())
}

fn write_line(
    out: &mut dyn Write,
    report: &FileReport,
    finding: &Finding,
    paint: Paint,
) -> fmt::Result {
    let severity = paint.severity(finding.severity, finding.severity.name());
    let message = safe(&finding.message);
    let check = safe(&finding.check);
    let lined = finding
        .place
        .as_ref()
        .filter(|place| report.sources.position(place).is_some());
    if let Some(place) = lined {
        return writeln!(
            out,
            "{}: {severity}: {message} ({check})",
            location(&report.sources, place)
        );
    }
    // Without a line, what it is about says where.
    let name = finding
        .place
        .as_ref()
        .and_then(|p| report.sources.name(p.input))
        .unwrap_or(&report.file);
    write!(out, "{}: {severity}: {message} ({check})", safe(name))?;
    if let Some(subject) = subject_line(report, finding) {
        write!(out, ", {subject}")?;
    }
    if let Some(place) = &finding.place {
        write!(out, "{}", byte_location(place))?;
    }
    writeln!(out)
}

/// The line of one finding, without colour.
pub(crate) fn finding_line(report: &FileReport, finding: &Finding) -> String {
    let mut line = String::new();
    // Writing to a String does not fail.
    let _ = write_line(&mut line, report, finding, Paint { colour: false });
    line.truncate(line.trim_end().len());
    line
}

fn write_left_out(out: &mut dyn Write, report: &FileReport) -> fmt::Result {
    if report.left_out > 0 {
        let findings = number(report.left_out, "more finding");
        writeln!(
            out,
            "{findings} in {} left out: there are too many",
            safe(&report.file)
        )?;
    }
    Ok(())
}

fn write_failure(
    out: &mut dyn Write,
    report: &FileReport,
    failure: &Failure,
    paint: Paint,
) -> fmt::Result {
    let error = paint.severity(Severity::Error, "error");
    let message = safe_lines(&failure.message).replace('\n', "\n  ");
    writeln!(
        out,
        "{error}: {}: {}",
        safe(&report.file),
        paint.bold(message)
    )?;
    let excerpt = match &failure.place {
        Some(place) => excerpt(&report.sources, place, &[], Severity::Error, paint.colour) + "\n",
        None => String::new(),
    };
    out.write_str(&excerpt)?;
    match &failure.help {
        Some(help) => write_note(out, &excerpt, &paint.bold("help"), &safe(help)),
        None => Ok(()),
    }
}

/// `take A003C012, 10:00:00:11, frame 1012`: what a person on set looks for first.
pub(crate) fn subject_line(report: &FileReport, finding: &Finding) -> Option<String> {
    let (kind, _, label) = report.subject(&finding.subject);
    let mut parts = Vec::new();
    if finding.subject != Subject::File {
        parts.push(format!("{kind} {}", safe(label)).trim_end().to_owned());
    }
    if let Some(frames) = &finding.frames {
        parts.extend(frame_words(frames));
    }
    (!parts.is_empty()).then(|| parts.join(", "))
}

/// Time code first, then frames, then how many.
pub(crate) fn frame_words(frames: &FrameRange) -> Vec<String> {
    let one = frames.first == frames.last;
    let mut parts = Vec::new();
    match (&frames.first_label, &frames.last_label) {
        (Some(first), Some(last)) if !one => {
            parts.push(format!("{} to {}", safe(first), safe(last)))
        }
        (Some(label), _) => parts.push(safe(label).into_owned()),
        _ => {}
    }
    parts.push(match (frames.first_number, frames.last_number) {
        (Some(first), _) if one => format!("frame {first}"),
        (Some(first), Some(last)) => format!("frames {first} to {last}"),
        _ if one => format!("frame {} counted from 0", frames.first),
        _ => format!("frames {} to {} counted from 0", frames.first, frames.last),
    });
    if !one {
        let span = frames.last.saturating_sub(frames.first).saturating_add(1);
        parts.push(if frames.count == span {
            number(span, "frame")
        } else {
            format!("{} of {span} frames", frames.count)
        });
    }
    parts
}

/// A value with its unit; distances in metric and imperial.
pub(crate) fn value(found: &FoundValue) -> String {
    match Unit::from_symbol(&found.unit) {
        Some(Unit::Metre) if found.value.is_finite() => {
            format!(
                "{} ({})",
                print::metric(found.value),
                print::imperial(found.value)
            )
        }
        Some(unit) => print::value(found.value, unit),
        None => format!(
            "{} {}",
            print::value(found.value, Unit::One),
            safe(&found.unit)
        ),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;
    use crate::samples;

    fn text(options: TextOptions) -> String {
        samples::made(&mut TextReport::new(options))
    }

    #[test]
    fn in_full() {
        insta::assert_snapshot!(text(TextOptions::default()));
    }

    #[test]
    fn colour_changes_nothing_but_colour() {
        let coloured = text(TextOptions {
            colour: true,
            ..TextOptions::default()
        });
        assert!(coloured.contains("\u{1b}["));
        let mut plain = String::new();
        let mut rest = coloured.as_str();
        while let Some((before, after)) = rest.split_once('\u{1b}') {
            plain.push_str(before);
            rest = after.split_once('m').unwrap().1;
        }
        plain.push_str(rest);
        let trimmed = |text: &str| {
            text.lines()
                .map(|l| l.trim_end().to_owned())
                .collect::<Vec<_>>()
        };
        assert_eq!(trimmed(&plain), trimmed(&text(TextOptions::default())));
    }

    #[test]
    fn few_in_full_and_the_rest_counted() {
        insta::assert_snapshot!(text(TextOptions {
            in_full: 1,
            colour: false
        }));
    }

    #[test]
    fn concise() {
        insta::assert_snapshot!(samples::made(&mut ConciseReport::default()));
    }

    #[test]
    fn nothing_acts_on_a_terminal() {
        let out = text(TextOptions::default());
        assert!(
            out.contains('␛') && out.contains("<U+202E>"),
            "the samples hold both"
        );
        assert!(
            !out.chars()
                .any(|c| c != '\n' && (c.is_control() || c == '\u{202e}'))
        );
    }
}
