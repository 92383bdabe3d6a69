//! `ringmark convert`

use std::collections::HashSet;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail};
use ringmark_model::manifest::PerFrame;
use ringmark_model::{Manifest, Piece, Severity};
use ringmark_outputs::{FileReport, write_loss_json, write_loss_text};
use ringmark_quantity::DistanceReference;

use crate::args::{Cli, Convert, Point};
use crate::derive::{Derivation, is_about_derived};
use crate::document::Document;
use crate::exit::Exit;
use crate::formats::Format;
use crate::frames::{FrameFiles, FrameOutputs};
use crate::lengths::length_option;
use crate::measured_from::Reframer;
use crate::options::options;
use crate::pipeline::{Ended, run};
use crate::reports::text_of;
use crate::save::Output;
use crate::screen::Screen;
use crate::session::{Session, failure, open_failure, report};
use crate::writer::{Destination, DocumentOut};

/// Converts each document.
pub fn convert(cli: &Cli, args: &Convert, screen: &Screen) -> Result<Exit> {
    let derivation = Derivation::of(&args.deriving)?;
    let session = Session::new(&args.reading, cli.no_cache)?;
    let format = target(&session, args)?;
    if let Format::Plugin(plugin) = &format
        && !plugin.manifest().writes
    {
        bail!("{} can be read but not written", plugin.manifest().name);
    }
    // A wrong option is an error before any output is begun.
    format_options(&format, &args.options)?;
    reframer(args)?;
    let documents = session.documents(screen, cli.quiet)?;
    // What a folder holds changes from day to day: one document or many, they go to a folder.
    let found = documents.iter().any(|(group, _)| group.found);
    let outputs = match &args.frames {
        Some(frames) => Outputs::frames(frames, args.output.as_deref(), documents.len(), &format)?,
        None => Outputs::new(args.output.as_deref(), documents.len(), found, &format)?,
    };
    let mut made = HashSet::new();
    let mut worst = Exit::Clean;
    for (group, document) in documents {
        let mut file = report(&group, document.as_ref().ok());
        let exit = match document {
            Ok(document) => {
                let output = outputs.of(&document);
                if made.insert(output.clone()) {
                    one(
                        cli, args, &session, derivation, &format, &document, &output, &mut file,
                        screen,
                    )?
                } else {
                    // Even with --force: the one would replace the other without a word.
                    file.failure = Some(ringmark_outputs::Failure {
                        message: format!(
                            "{}: is the output of another input too",
                            output.display()
                        ),
                        place: None,
                        help: Some("convert inputs of the same name one by one".to_owned()),
                    });
                    Exit::Failed
                }
            }
            Err(error) => {
                file.failure = Some(open_failure(&error, &group.name));
                Exit::Failed
            }
        };
        if file.failure.is_some() || !file.findings.is_empty() {
            screen.talk(&text_of(&[file], screen.colour_on_stderr())?);
        }
        worst = worst.max(exit);
    }
    Ok(worst)
}

#[allow(clippy::too_many_arguments)] // one call site; a struct would only rename them
fn one(
    cli: &Cli,
    args: &Convert,
    session: &Session,
    derivation: Option<Derivation>,
    format: &Format,
    document: &Document,
    path: &Path,
    file: &mut FileReport,
    screen: &Screen,
) -> Result<Exit> {
    let manifest = match format {
        Format::Plugin(plugin) => Some(plugin.manifest().clone()),
        Format::Neutral(_) => None,
    };
    let mut frames = 0;
    let opened = destination(args, manifest.as_ref(), path, document).and_then(|destination| {
        let options = format_options(format, &args.options)?;
        DocumentOut::open(format, manifest.as_ref(), destination, &options)
    });
    let mut out = match opened {
        Ok(out) => out,
        Err(error) => {
            file.failure = Some(open_failure(&error, ""));
            return Ok(Exit::Failed);
        }
    };
    let reframer = reframer(args)?;
    let ended = run(document, session.calibration(), derivation, |mut piece| {
        if let Some(reframer) = &reframer {
            reframer.piece(&mut piece)?;
        }
        match &piece {
            Piece::Remark(finding) => {
                let talk = is_about_derived(finding) && finding.severity == Severity::Note;
                if !(talk && cli.quiet) {
                    file.findings.push(finding.clone());
                }
            }
            Piece::Frames(batch) => frames += batch.count,
            // Findings name what they are about.
            Piece::Lens(lens) => file.lenses.push(lens.label()),
            Piece::Take(take) => file.takes.push(take.label()),
            _ => {}
        }
        out.piece(&piece)
    });
    let written = match ended {
        Ok(Ended::Whole) => out.finish(args.strict),
        Ok(Ended::ReadFailed(why)) => {
            file.failure = Some(failure(why));
            return Ok(Exit::Failed);
        }
        Err(error) => Err(error),
    };
    let losses = match written {
        Ok(losses) => losses,
        Err(error) => {
            let name = path.display();
            file.failure = Some(open_failure(
                &error.context(format!("{name}: not written")),
                "",
            ));
            return Ok(Exit::Failed);
        }
    };
    let refused = args.strict && !losses.is_lossless();
    if args.json {
        let mut text = String::new();
        write_loss_json(&mut text, &losses, &file.file, &path.display().to_string())?;
        screen.talk(&text);
    } else if !cli.quiet || refused {
        let mut text = format!(
            "{} → {} ({}{})\n",
            file.file,
            if path.as_os_str() == "-" {
                "standard output".to_owned()
            } else {
                path.display().to_string()
            },
            format.name(),
            if frames > 0 {
                format!(", {frames} frames")
            } else {
                String::new()
            }
        );
        write_loss_text(&mut text, &losses)?;
        screen.talk(&text);
    }
    if refused {
        file.failure = Some(ringmark_outputs::Failure {
            message: format!("{}: not written, --strict forbids losses", path.display()),
            place: None,
            help: Some("choose a format that carries more (`ringmark formats --table`), or leave out --strict".to_owned()),
        });
        return Ok(Exit::Failed);
    }
    let bad = file.findings.iter().any(|f| f.severity == Severity::Error);
    Ok(if bad { Exit::Findings } else { Exit::Clean })
}

fn reframer(args: &Convert) -> Result<Option<Reframer>> {
    let front_vertex = length_option("--front-vertex", args.front_vertex.as_deref())?;
    Ok(args.measured_from.map(|point| {
        let to = match point {
            Point::ImagePlane => DistanceReference::ImagePlane,
            Point::EntrancePupil => DistanceReference::EntrancePupil,
            Point::FrontVertex => DistanceReference::FrontVertex,
        };
        Reframer::new(to, front_vertex)
    }))
}

fn format_options(format: &Format, given: &[String]) -> Result<String> {
    match format {
        Format::Plugin(plugin) => options(plugin.manifest(), given),
        Format::Neutral(_) if given.is_empty() => Ok("{}".to_owned()),
        Format::Neutral(form) => bail!("{} has no options", form.name()),
    }
}

/// Makes ready the file or files that a document goes to.
fn destination(
    args: &Convert,
    manifest: Option<&Manifest>,
    path: &Path,
    document: &Document,
) -> Result<Destination> {
    Ok(match (&args.frames, manifest) {
        (Some(frames), Some(manifest)) => {
            let files = FrameFiles::find(frames, manifest)?;
            let outputs = FrameOutputs::create(files, path, args.force, &document.files)?;
            Destination::Frames(outputs)
        }
        _ => Destination::File(Output::create(path, args.force, &document.files)?),
    })
}

fn target(session: &Session, args: &Convert) -> Result<Format> {
    match (&args.to, &args.output) {
        (Some(name), _) => session.formats.named(name),
        (None, Some(path)) if path.as_os_str() != "-" && !path.is_dir() => {
            session.formats.for_output(path)
        }
        _ => bail!("say the format of the output: --to FORMAT (see `ringmark formats`)"),
    }
}

/// Where the documents go.
enum Outputs {
    One(PathBuf),
    Folder(PathBuf, String),
}

impl Outputs {
    /// One file a frame.
    fn frames(
        frames: &Path,
        output: Option<&Path>,
        documents: usize,
        format: &Format,
    ) -> Result<Outputs> {
        let Format::Plugin(plugin) = format else {
            bail!(
                "{} is one file for all frames; leave out --frames",
                format.name()
            );
        };
        let files = FrameFiles::find(frames, plugin.manifest())?;
        if documents > 1 {
            bail!("{documents} inputs: --frames takes the frames of one");
        }
        match output
            .map(Path::to_path_buf)
            .or_else(|| files.usual_folder())
        {
            Some(folder) if folder.as_os_str() != "-" && (folder.is_dir() || !folder.exists()) => {
                Ok(Outputs::One(folder))
            }
            _ => bail!(
                "{} files: say a folder for the outputs, -o FOLDER",
                files.files().len()
            ),
        }
    }

    fn new(
        output: Option<&Path>,
        documents: usize,
        found: bool,
        format: &Format,
    ) -> Result<Outputs> {
        if let Format::Plugin(plugin) = format
            && plugin.manifest().files.per_frame == Some(PerFrame::Copy)
        {
            bail!(
                "{} is written into copies of files: name them with --frames FOLDER",
                format.name()
            );
        }
        let Some(path) = output else {
            if documents > 1 {
                bail!("{documents} inputs: say a folder for the outputs, -o FOLDER");
            }
            return Ok(Outputs::One(PathBuf::from("-")));
        };
        if path.is_dir() {
            return Ok(Outputs::Folder(path.to_path_buf(), format.ending()));
        }
        let is_file = path.extension().is_some() || path.as_os_str() == "-";
        if documents > 1 || found && !is_file {
            std::fs::create_dir(path).with_context(|| {
                let inputs = ringmark_outputs::number(documents as u64, "input");
                format!(
                    "{}: the outputs of {inputs} need a folder, which cannot be made",
                    path.display()
                )
            })?;
            return Ok(Outputs::Folder(path.to_path_buf(), format.ending()));
        }
        Ok(Outputs::One(path.to_path_buf()))
    }

    fn of(&self, document: &Document) -> PathBuf {
        match self {
            Outputs::One(path) => path.clone(),
            Outputs::Folder(folder, ending) => {
                folder.join(format!("{}.{ending}", document.group.stem()))
            }
        }
    }
}
