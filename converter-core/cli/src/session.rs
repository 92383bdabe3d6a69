//! What the commands that read have in common: formats, mapping, calibration, groups of inputs.

use std::path::PathBuf;

use anyhow::{Result, bail};
use ringmark_host::HostError;
use ringmark_model::json::WriteError;
use ringmark_model::{Lens, Piece};
use ringmark_outputs::{Failure, FileReport, SourceFiles, number, safe};

use crate::args::Reading;
use crate::calibrate::Calibration;
use crate::document::{Document, Opened, ReadFailure};
use crate::formats::Formats;
use crate::inputs::{Group, Inputs, group, list};
use crate::mapping::Mapping;
use crate::screen::Screen;

/// Said when inputs hold no document at all.
pub const NOTHING: &str = "nothing to do: no file here is in a format that ringmark reads";

/// Names of files passed over that are told; of more only the count.
const TOLD: usize = 3;

/// All that reading needs.
pub struct Session {
    /// The formats.
    pub formats: Formats,
    from: Option<String>,
    mapping: Option<Mapping>,
    calibration: Option<Calibration>,
    named: Vec<PathBuf>,
    found: Inputs,
}

impl Session {
    /// Gets everything ready; nothing is read but the mapping and the calibration.
    pub fn new(reading: &Reading, no_cache: bool) -> Result<Session> {
        let formats = Formats::load(no_cache)?;
        let mapping = reading.mapping.as_deref().map(Mapping::read).transpose()?;
        let calibration = reading.lens.as_deref().map(Calibration::read).transpose()?;
        let mut named = reading.inputs.clone();
        if let Some(list) = &reading.list {
            if list.as_os_str() == "-" && named.iter().any(|input| input.as_os_str() == "-") {
                bail!("standard input cannot be both the list and an input");
            }
            named.extend(list::read(list)?);
        }
        let found = group(&named, &formats.sequence_endings())?;
        Ok(Session {
            formats,
            from: reading.from.clone(),
            mapping,
            calibration,
            named,
            found,
        })
    }

    /// The documents that were named or found; what in folders was passed over is told unless `quiet`. A document that
    /// cannot be opened is an error of its own; the others go on. None at all is an error.
    pub fn documents(
        &self,
        screen: &Screen,
        quiet: bool,
    ) -> Result<Vec<(Group, Result<Document>)>> {
        let (mut documents, mut passed_over) = (Vec::new(), Vec::new());
        for group in self.groups() {
            match self.open(group) {
                Ok(Opened::PassedOver) => passed_over.push(group.name.clone()),
                Ok(Opened::Document(document)) => documents.push((group.clone(), Ok(*document))),
                Err(error) => documents.push((group.clone(), Err(error))),
            }
        }
        if let Some(left_out) = self.left_out(&passed_over).filter(|_| !quiet) {
            screen.talk(&left_out);
        }
        if documents.is_empty() {
            bail!(NOTHING);
        }
        Ok(documents)
    }

    /// What in the folders was not looked at, in a line for people; `None` if nothing was left out. `passed_over` are files
    /// that no format reads.
    pub fn left_out(&self, passed_over: &[String]) -> Option<String> {
        let mut parts = Vec::new();
        if !passed_over.is_empty() {
            let count = number(passed_over.len() as u64, "file");
            let first = passed_over.iter().take(TOLD);
            let mut names: Vec<String> = first.map(|n| safe(n).into_owned()).collect();
            if passed_over.len() > TOLD {
                names.push("…".to_owned());
            }
            parts.push(format!(
                "{count} in no format that is read ({})",
                names.join(", ")
            ));
        }
        if self.found.hidden > 0 {
            parts.push(number(self.found.hidden, "hidden name"));
        }
        if self.found.specials > 0 {
            parts.push(number(self.found.specials, "special file"));
        }
        if self.found.links > 0 {
            parts.push(match self.found.links {
                1 => "1 link to a folder".to_owned(),
                links => format!("{links} links to folders"),
            });
        }
        (!parts.is_empty()).then(|| format!("passed over: {}\n", parts.join(", ")))
    }

    /// Opens one of the groups.
    pub fn open(&self, group: &Group) -> Result<Opened> {
        if let Some(trouble) = &group.trouble {
            bail!("{}: {trouble}", group.name);
        }
        Document::open(
            group.clone(),
            &self.formats,
            self.from.as_deref(),
            self.mapping.as_ref(),
        )
    }

    /// The files that may be documents, in the order of their names.
    pub fn groups(&self) -> &[Group] {
        &self.found.groups
    }

    /// The inputs as they were given, on the command line and in a list.
    pub fn named(&self) -> &[PathBuf] {
        &self.named
    }

    /// The format that was forced.
    pub fn from(&self) -> Option<&str> {
        self.from.as_deref()
    }

    /// The mapping the person gave.
    pub fn mapping(&self) -> Option<&Mapping> {
        self.mapping.as_ref()
    }

    /// The calibration the person gave.
    pub fn calibration(&self) -> Option<&Calibration> {
        self.calibration.as_ref()
    }
}

/// The lenses of a document that come before its first take.
pub fn lenses_ahead(document: &Document) -> Vec<Lens> {
    let mut lenses = Vec::new();
    let Ok(mut pieces) = document.pieces() else {
        return lenses;
    };
    while let Ok(Some(piece)) = pieces.next_piece() {
        match piece {
            Piece::Lens(lens) => lenses.push(lens),
            Piece::Take(_) | Piece::Frames(_) => break,
            Piece::Remark(_) | Piece::End(_) => {}
        }
    }
    lenses
}

/// An empty report on a group, with access to its files for excerpts.
pub fn report(group: &Group, document: Option<&Document>) -> FileReport {
    let mut sources = SourceFiles::new();
    match document {
        Some(document) if group.is_stdin() => {
            for file in &document.files {
                sources.add_path("standard input", file);
            }
        }
        _ => {
            for file in &group.files {
                sources.add_path(file.display().to_string(), file);
            }
        }
    }
    FileReport {
        file: group.name.clone(),
        sources,
        ..FileReport::default()
    }
}

/// The failure as reports show it.
pub fn failure(failure: ReadFailure) -> Failure {
    Failure {
        message: failure.message,
        place: failure.place,
        help: failure.help,
    }
}

/// An error of opening or writing as reports show it.
pub fn open_failure(error: &anyhow::Error, file: &str) -> Failure {
    let message = format!("{error:#}");
    // The report names the file already.
    let message = message
        .strip_prefix(&format!("{file}: "))
        .unwrap_or(&message)
        .to_owned();
    let by_host = error.downcast_ref::<HostError>().map(HostError::help);
    let by_form = error
        .downcast_ref::<WriteError>()
        .and_then(WriteError::help);
    let help = by_host.or(by_form).filter(|help| !help.is_empty());
    Failure {
        message,
        place: None,
        help: help.map(str::to_owned),
    }
}
