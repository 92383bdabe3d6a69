//! `ringmark show`

use anyhow::Result;
use ringmark_model::{Lens, Piece, Take};
use ringmark_outputs::{
    Failure, FileReport, ShowOptions, TakeSummary, show_answers, show_lens, show_take,
};

use crate::args::{Cli, Show};
use crate::derive::{Derivation, is_about_derived};
use crate::document::Document;
use crate::exit::Exit;
use crate::pipeline::{Ended, run};
use crate::reports::text_of;
use crate::scale::{self, Question, Sharpness};
use crate::screen::Screen;
use crate::session::{Session, failure, open_failure, report};

/// Shows what is in each document.
pub fn show(cli: &Cli, args: &Show, screen: &Screen) -> Result<Exit> {
    let asked = Asked::of(args)?;
    let session = Session::new(&args.reading, cli.no_cache)?;
    let documents = session.documents(screen, cli.quiet)?;
    let several = documents.len() > 1;
    let mut told = Vec::new();
    let mut exit = Exit::Clean;
    for (group, document) in documents {
        let mut file = report(&group, document.as_ref().ok());
        match document {
            Ok(document) => {
                let mut text = String::new();
                if several {
                    text.push_str(&format!("{}\n\n", ringmark_outputs::safe(&group.name)));
                }
                one(&session, &asked, &document, &mut file, screen, &mut text)?;
                screen.result(&text)?;
            }
            Err(error) => file.failure = Some(open_failure(&error, &group.name)),
        }
        if file.failure.is_some() {
            exit = Exit::Failed;
        }
        if file.failure.is_some() || (!file.findings.is_empty() && !cli.quiet) {
            told.push(file);
        }
    }
    if told.is_empty() {
        return Ok(exit);
    }
    screen.talk(&text_of(&told, screen.colour_on_stderr())?);
    Ok(exit)
}

/// What to show.
struct Asked {
    derivation: Option<Derivation>,
    sharpness: Sharpness,
    questions: Vec<Question>,
}

impl Asked {
    fn of(args: &Show) -> Result<Asked> {
        let circle = args.deriving.circle_of_confusion.as_deref();
        let values = args.at.iter().map(|text| Question::value(text));
        let positions = args.at_ring.iter().map(|text| Question::position(text));
        Ok(Asked {
            // The circle of confusion also serves the scale of a lens, where nothing is derived.
            derivation: match args.deriving.derive.is_empty() {
                true => None,
                false => Derivation::of(&args.deriving)?,
            },
            sharpness: Sharpness::of(args.f_number.as_deref(), circle)?,
            questions: values.chain(positions).collect::<Result<_>>()?,
        })
    }
}

fn one(
    session: &Session,
    asked: &Asked,
    document: &Document,
    file: &mut FileReport,
    screen: &Screen,
    text: &mut String,
) -> Result<()> {
    let options = ShowOptions {
        colour: screen.colour(),
        width: screen.width(),
    };
    let mut lenses: Vec<Lens> = Vec::new();
    let mut takes: Vec<(Take, TakeSummary)> = Vec::new();
    let derivation = Some(Derivation::with_band_told(asked.derivation));
    let ended = run(document, session.calibration(), derivation, |piece| {
        match piece {
            // Findings name what they are about.
            Piece::Lens(lens) => {
                file.lenses.push(lens.label());
                lenses.push(lens);
            }
            Piece::Take(take) => {
                file.takes.push(take.label());
                takes.push((take, TakeSummary::new()));
            }
            Piece::Frames(batch) => {
                if let Some((_, summary)) = takes.get_mut(batch.take) {
                    summary.add(&batch);
                }
            }
            // What a reader remarks is for `check`; how values on the screen came about belongs to them.
            Piece::Remark(finding) if is_about_derived(&finding) => file.findings.push(finding),
            Piece::Remark(_) | Piece::End(_) => {}
        }
        Ok(())
    })?;
    if !asked.questions.is_empty() {
        answer(&lenses, asked, options, file, text)?;
    } else {
        for lens in &lenses {
            let scales = scale::reports(lens, asked.sharpness);
            show_lens(text, lens, &scales, options)?;
            text.push('\n');
        }
        show_takes(text, &takes, &lenses, options)?;
    }
    if let Ended::ReadFailed(why) = ended {
        file.failure = Some(failure(why));
    }
    Ok(())
}

/// Only the answers; a question without one is a failure.
fn answer(
    lenses: &[Lens],
    asked: &Asked,
    options: ShowOptions,
    file: &mut FileReport,
    text: &mut String,
) -> Result<()> {
    let mut failures = Vec::new();
    let with_rings = || lenses.iter().filter(|lens| !lens.rings.is_empty());
    if with_rings().next().is_none() {
        failures.push(
            "holds no lens with marks: --at and --at-ring ask the scales of a lens".to_owned(),
        );
    }
    for (index, lens) in with_rings().enumerate() {
        if index > 0 {
            text.push('\n');
        }
        let answers = scale::answers(lens, &asked.questions, asked.sharpness);
        show_answers(text, lens, &answers, options)?;
        failures.extend(answers.into_iter().filter_map(|answer| {
            let why = answer.answer.err()?;
            Some(format!("{}: {why}", answer.asked))
        }));
    }
    if !failures.is_empty() {
        file.failure = Some(Failure {
            message: failures.join("; "),
            place: None,
            help: None,
        });
    }
    Ok(())
}

fn show_takes(
    text: &mut String,
    takes: &[(Take, TakeSummary)],
    lenses: &[Lens],
    options: ShowOptions,
) -> Result<()> {
    for (take, summary) in takes {
        let lens = take
            .lens
            .and_then(|index| lenses.get(index))
            .map(Lens::label);
        show_take(text, take, lens.as_deref(), summary, options)?;
        text.push('\n');
    }
    Ok(())
}
