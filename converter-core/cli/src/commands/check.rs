//! `ringmark check`

use std::io::Write;
use std::path::PathBuf;

use anyhow::{Result, bail};
use ringmark_checks::{Checker, Settings};
use ringmark_model::{Lens, Piece, Severity};
use ringmark_outputs::{
    FileReport, TextOptions, safe, write_concise, write_json, write_jsonl, write_text,
};

use crate::args::{Check, Cli, FailOn};
use crate::calibrate::Calibration;
use crate::document::Document;
use crate::exit::Exit;
use crate::pipeline::{Ended, program, run};
use crate::save::Output;
use crate::screen::Screen;
use crate::session::{Session, failure, lenses_ahead, open_failure, report};

/// Checks each document and writes the reports.
pub fn check(cli: &Cli, args: &Check, screen: &Screen) -> Result<Exit> {
    let reports = args
        .reports
        .iter()
        .map(|text| Report::parse(text))
        .collect::<Result<Vec<_>>>()?;
    let session = Session::new(&args.reading, cli.no_cache)?;
    let documents = session.documents();
    if documents.is_empty() {
        bail!("nothing to check: no file here is in a format that ringmark reads");
    }
    let among = if documents.len() > 1 && session.calibration().is_none() {
        Session::calibrations_among(&documents)
    } else {
        Vec::new()
    };
    let mut files = Vec::with_capacity(documents.len());
    for (group, document) in documents {
        let mut file = report(&group, document.as_ref().ok());
        match document {
            Ok(document) => one(cli, &session, &among, &document, &mut file, screen)?,
            Err(error) => file.failure = Some(open_failure(&error, &group.name)),
        }
        files.push(file);
    }
    let inputs: Vec<PathBuf> = args.reading.inputs.clone();
    if reports.iter().all(|r| r.path.is_some()) {
        let kind = Report {
            kind: Kind::Text,
            path: None,
        };
        kind.write(&files, screen, args.force, &inputs)?;
    }
    for report in &reports {
        report.write(&files, screen, args.force, &inputs)?;
    }
    Ok(exit(&files, args.fail_on))
}

fn one(
    cli: &Cli,
    session: &Session,
    among: &[Calibration],
    document: &Document,
    file: &mut FileReport,
    screen: &Screen,
) -> Result<()> {
    let calibration = match session.calibration() {
        Some(calibration) => Some(calibration),
        None if among.is_empty() => None,
        None => matching(among, document),
    };
    // A calibration that was found and not given is used by name only, and said.
    if let (Some(calibration), None) = (calibration, session.calibration())
        && !cli.quiet
    {
        let (take, lens) = (safe(&file.file), safe(&calibration.name));
        screen.talk(&format!("{take}: compared with the marks in {lens}\n"));
    }
    let mut checker =
        Checker::with_calibration(&Settings::default(), calibration.map(|c| c.lens.clone()));
    let ended = run(document, None, None, |piece| {
        match &piece {
            Piece::Lens(lens) => file.lenses.push(lens.label()),
            Piece::Take(take) => file.takes.push(take.label()),
            Piece::Frames(_) | Piece::Remark(_) | Piece::End(_) => {}
        }
        checker.piece(&piece);
        Ok(())
    })?;
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

/// The calibration among the inputs that is of the lens this take says it has.
fn matching<'c>(among: &'c [Calibration], document: &Document) -> Option<&'c Calibration> {
    let lenses = lenses_ahead(document);
    let [lens] = lenses.as_slice() else {
        return None;
    };
    let bare = |lens: &Lens| lens.rings.iter().all(|r| r.marks.is_empty());
    among.iter().find(|c| bare(lens) && c.is_of(lens))
}

fn exit(files: &[FileReport], fail_on: FailOn) -> Exit {
    if files.iter().any(|f| f.failure.is_some()) {
        return Exit::Failed;
    }
    let from = match fail_on {
        FailOn::Error => Severity::Error,
        FailOn::Warning => Severity::Warning,
        FailOn::Never => return Exit::Clean,
    };
    if files
        .iter()
        .flat_map(|f| &f.findings)
        .any(|f| f.severity >= from)
    {
        Exit::Findings
    } else {
        Exit::Clean
    }
}

#[derive(Clone, Copy)]
enum Kind {
    Text,
    Concise,
    Json,
    Jsonl,
}

/// One report to make.
struct Report {
    kind: Kind,
    path: Option<PathBuf>,
}

impl Report {
    fn parse(text: &str) -> Result<Report> {
        let (kind, path) = match text.split_once('=') {
            Some((kind, path)) => (kind, Some(PathBuf::from(path))),
            None => (text, None),
        };
        let kind = match kind {
            "text" => Kind::Text,
            "concise" => Kind::Concise,
            "json" => Kind::Json,
            "jsonl" => Kind::Jsonl,
            other => bail!("there is no report '{other}'; text, concise, json and jsonl are there"),
        };
        Ok(Report { kind, path })
    }

    fn write(
        &self,
        files: &[FileReport],
        screen: &Screen,
        force: bool,
        inputs: &[PathBuf],
    ) -> Result<()> {
        let options = TextOptions {
            colour: self.path.is_none() && screen.colour(),
            ..TextOptions::default()
        };
        let mut text = String::new();
        let mut bytes = Vec::new();
        match self.kind {
            Kind::Text => write_text(&mut text, files, options)?,
            Kind::Concise => write_concise(&mut text, files, options)?,
            Kind::Json => write_json(&mut bytes, &program(), files)?,
            Kind::Jsonl => write_jsonl(&mut bytes, &program(), files)?,
        }
        bytes.extend_from_slice(text.as_bytes());
        match &self.path {
            None => screen.result(&bytes),
            Some(path) => {
                let mut output = Output::create(path, force, inputs)?;
                output.write_all(&bytes)?;
                output.finish()
            }
        }
    }
}
