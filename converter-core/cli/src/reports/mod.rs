//! The reports of a run: each takes the files one by one, in the order of the command line, while the next ones are
//! being checked, and stands under its name only when it is whole.

mod wanted;

use std::io::{self, Write};
use std::path::PathBuf;

use anyhow::{Context, Result, bail};
use ringmark_outputs::{FileReport, Interrupted, Report, TextOptions, TextReport};

use crate::args::FailOn;
use crate::save::Output;
use crate::screen::Screen;

pub use wanted::{Kind, Wanted, wanted};

/// The reports of a run, in the making. Those that are not finished leave nothing behind.
pub struct Reports {
    sinks: Vec<Sink>,
    /// Reports that could not be written on, with the reason: the others go on.
    failed: Vec<anyhow::Error>,
}

/// A report and where it goes.
struct Sink {
    report: Box<dyn Report>,
    output: Output,
}

impl Reports {
    /// Begins all of `wanted`. A place that cannot be written to is an error now and not after an hour of checking.
    pub fn create(
        wanted: &[Wanted],
        fail_on: FailOn,
        screen: &Screen,
        force: bool,
        inputs: &[PathBuf],
    ) -> Result<Reports> {
        let mut reports = Reports {
            sinks: Vec::new(),
            failed: Vec::new(),
        };
        for wanted in wanted {
            let output = Output::create(wanted.place(), force, inputs)?;
            let colour = matches!(output, Output::Stdout(_)) && screen.colour();
            let report = wanted.kind.report(colour, fail_on.from());
            reports.sinks.push(Sink { report, output });
        }
        for sink in &mut reports.sinks {
            let written = sink.report.start(&mut sink.output);
            written.with_context(|| sink.cannot_write())?;
        }
        Ok(reports)
    }

    /// Hands the next file to all reports. An error if none of them is left.
    pub fn file(&mut self, file: &FileReport) -> Result<()> {
        self.each(|sink| {
            sink.report.file(&mut sink.output, file)?;
            sink.show()
        });
        match self.failed.pop() {
            Some(last) if self.sinks.is_empty() => Err(last),
            last => {
                self.failed.extend(last);
                Ok(())
            }
        }
    }

    /// Does something with all reports; one that cannot be written is given up and leaves nothing behind.
    fn each(&mut self, mut write: impl FnMut(&mut Sink) -> io::Result<()>) {
        let mut kept = Vec::with_capacity(self.sinks.len());
        for mut sink in self.sinks.drain(..) {
            match write(&mut sink).with_context(|| sink.cannot_write()) {
                Ok(()) => kept.push(sink),
                Err(error) => self.failed.push(error),
            }
        }
        self.sinks = kept;
    }

    /// Tells all reports that the run was interrupted.
    pub fn interrupted(&mut self, interrupted: Interrupted) {
        for sink in &mut self.sinks {
            sink.report.interrupted(interrupted);
        }
    }

    /// Ends all reports, then puts them in their places. An error if one of them is not there.
    pub fn finish(mut self) -> Result<()> {
        self.each(|sink| sink.report.end(&mut sink.output));
        for sink in self.sinks {
            self.failed.extend(sink.output.finish().err());
        }
        let mut failed = self.failed.into_iter();
        match (failed.next(), failed.len()) {
            (None, _) => Ok(()),
            (Some(only), 0) => Err(only),
            (Some(first), _) => {
                let rest: Vec<String> = failed.map(|error| format!("\n{error:#}")).collect();
                bail!("{first:#}{}", rest.concat())
            }
        }
    }
}

impl Sink {
    /// Whoever looks at the screen sees each file as soon as it is done.
    fn show(&mut self) -> io::Result<()> {
        match &mut self.output {
            stdout @ Output::Stdout(_) => stdout.flush(),
            Output::File { .. } => Ok(()),
        }
    }

    fn cannot_write(&self) -> String {
        let path = self.output.path();
        if path.as_os_str() == "-" {
            "standard output: cannot write".to_owned()
        } else {
            format!("{}: cannot write", path.display())
        }
    }
}

/// What is said on the screen about files of a command that makes no reports.
pub fn text_of(files: &[FileReport], colour: bool) -> Result<String> {
    let mut report = TextReport::new(TextOptions {
        colour,
        ..TextOptions::default()
    });
    let mut text = Vec::new();
    report.start(&mut text)?;
    for file in files {
        report.file(&mut text, file)?;
    }
    report.end(&mut text)?;
    Ok(String::from_utf8(text)?)
}
