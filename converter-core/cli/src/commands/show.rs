//! `ringmark show`

use anyhow::Result;
use ringmark_model::{Lens, Piece, Take};
use ringmark_outputs::{
    FileReport, ShowOptions, TakeSummary, TextOptions, show_lens, show_take, write_text,
};

use crate::args::{Cli, Show};
use crate::derive::{Derivation, is_about_derived};
use crate::document::Document;
use crate::exit::Exit;
use crate::pipeline::{Ended, run};
use crate::screen::Screen;
use crate::session::{Session, failure, open_failure, report};

/// Shows what is in each document.
pub fn show(cli: &Cli, args: &Show, screen: &Screen) -> Result<Exit> {
    let derivation = Derivation::of(&args.deriving)?;
    let session = Session::new(&args.reading, cli.no_cache)?;
    let documents = session.documents();
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
                one(
                    &session, derivation, &document, &mut file, screen, &mut text,
                )?;
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
    let mut text = String::new();
    let options = TextOptions {
        colour: screen.colour_on_stderr(),
        ..TextOptions::default()
    };
    write_text(&mut text, &told, options)?;
    screen.talk(&text);
    Ok(exit)
}

fn one(
    session: &Session,
    derivation: Option<Derivation>,
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
    let ended = run(document, session.calibration(), derivation, |piece| {
        match piece {
            Piece::Lens(lens) => lenses.push(lens),
            Piece::Take(take) => takes.push((take, TakeSummary::new())),
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
    for lens in &lenses {
        show_lens(text, lens, options)?;
        text.push('\n');
    }
    for (take, summary) in &takes {
        let lens = take
            .lens
            .and_then(|index| lenses.get(index))
            .map(Lens::label);
        show_take(text, take, lens.as_deref(), summary, options)?;
        text.push('\n');
    }
    if let Ended::ReadFailed(why) = ended {
        file.failure = Some(failure(why));
    }
    Ok(())
}
