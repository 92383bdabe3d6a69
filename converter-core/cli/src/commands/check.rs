//! `ringmark check`

use std::time::{Instant, SystemTime};

use anyhow::{Result, bail};
use ringmark_checks::Show;
use ringmark_host::at_once;
use ringmark_outputs::{FileReport, Interrupted, number, safe};
use ringmark_quantity::Length;

use crate::against::Others;
use crate::args::{Check, Cli, FailOn};
use crate::batch::{
    Checked, Checking, GivenUp, Interrupt, Memory, Opening, Progress, Work, in_order, one,
    quiet_panics, told,
};
use crate::exit::Exit;
use crate::folders;
use crate::lengths::length_option;
use crate::pipeline::Threads;
use crate::profile::{Acceptances, Profile};
use crate::repair;
use crate::reports::{Kind, Reports, wanted};
use crate::screen::Screen;
use crate::session::{NOTHING, Session, open_failure, report};
use crate::store::Store;
use crate::store::key::Keys;

/// Checks each document and writes the reports.
pub fn check(cli: &Cli, args: &Check, screen: &Screen) -> Result<Exit> {
    let offset = length_option("--rangefinder-offset", args.rangefinder_offset.as_deref())?;
    let wanted = wanted(&args.reports)?;
    let profile = Profile::find(args.profile.as_deref())?;
    let mut acceptances = Acceptances::new(&profile.acceptances, jiff::ZonedDateTime::now().date());
    let session = Session::new(&args.reading, cli.no_cache)?;
    let interrupt = Interrupt::listen()?;
    quiet_panics();
    // Each has a document open, and for a moment the other record of a take.
    let most = at_once() as usize / 2;
    let jobs = args.jobs.map_or_else(cores, usize::from).min(most);
    let others = match args.against.as_slice() {
        [] => None,
        paths => Some(Others::find(paths, &session.formats)?),
    };
    let pictures = wanted.iter().any(|wanted| wanted.kind == Kind::Html);
    let memory = match args.changed_only {
        true => memory(&session, &profile, offset, others.as_ref(), pictures)?,
        false => None,
    };
    let opening = Opening::new(&session, memory.as_ref(), jobs, &interrupt, cli.quiet)?;
    let documents = &opening.documents;
    if !cli.quiet
        && let Some(left_out) = opening.left_out(&session)
    {
        screen.talk(&left_out);
    }
    if documents.is_empty() && !interrupt.asked() {
        bail!(NOTHING);
    }
    if let Some(path) = &args.repair {
        repair::allow(path, documents.len())?;
    }
    let progress = Progress::new("checked", documents.len(), cli.quiet);
    let checking = Checking {
        given: session.calibration(),
        profile: &profile,
        others: others.as_ref().map(|others| (others, documents.len() == 1)),
        offset,
        // With a document for each core nothing is won by handing pieces from one core to another.
        threads: if documents.len() < jobs {
            Threads::Own
        } else {
            Threads::Callers
        },
        repair: args.repair.is_some(),
        pictures,
        interrupt: &interrupt,
        progress: &progress,
    };
    let mut reports = Reports::create(&wanted, args.fail_on, screen, args.force, session.named())?;
    let (mut show, of_show) = (Show::default(), profile.settings(""));
    let mut exit = Exit::Clean;
    let mut done = 0_u64;
    let mut copy = None;
    let work = Work {
        inputs: documents.len(),
        jobs,
        interrupt: &interrupt,
    };
    let look = |index: usize| look(&checking, &session, &opening, memory.as_ref(), index);
    let ran = in_order(&work, look, |index, looked| {
        let group = &documents[index].group;
        let mut checked = match looked {
            Ok(Some(checked)) => checked,
            Ok(None) => return Ok(()),
            Err(panic) => {
                let mut checked = Checked {
                    file: report(group, None),
                    ..Checked::default()
                };
                let error = crate::batch::one::broken(&panic);
                checked.file.failure = Some(open_failure(&error, &group.name));
                checked
            }
        };
        let (file, subjects) = (&mut checked.file, &checked.subjects);
        let between = show.document(&group.name, &checked.summaries, &of_show);
        file.ran
            .extend(between.iter().map(|finding| finding.check.clone()));
        file.findings.extend(between);
        file.accepted = acceptances.sift(&mut file.findings, &group.name, |f| subjects.of(f));
        exit = exit.max(status(file, args.fail_on));
        done += 1;
        progress.done();
        progress.beside(|| {
            if !cli.quiet {
                checked.told.iter().for_each(|line| screen.talk(line));
            }
            reports.file(&checked.file)
        })?;
        copy = checked.draft.map(|draft| (draft, checked.file));
        Ok(())
    });
    drop(progress);
    if let Some(memory) = memory {
        let recalled = memory.recalled();
        let trouble = memory.close();
        if !cli.quiet {
            let all = number(done, "file");
            screen.talk(&format!(
                "unchanged since an earlier check: {recalled} of {all}\n"
            ));
            trouble.iter().for_each(|line| screen.talk(line));
        }
    }
    // Not before what was found out is kept.
    ran?;
    let of = opening.of as u64;
    let cut_short = done < of;
    if cut_short {
        let interrupted = Interrupted { checked: done, of };
        reports.interrupted(interrupted);
        exit = Exit::Failed;
        screen.talk(&format!("ringmark: {interrupted}\n"));
    }
    reports.finish()?;
    // A repair is of one document only.
    if let (Some((copy, file)), Some(path)) = (copy, &args.repair)
        && file.failure.is_none()
    {
        let told = copy.repair(&file.findings, path, args.force, session.named())?;
        if !cli.quiet {
            screen.talk(&told);
        }
    }
    // After an interrupt nobody knows what the rest would have met.
    if !cli.quiet && !cut_short {
        for unused in acceptances.unused() {
            screen.talk(&format!("{}: {}\n", safe(&profile.name()), safe(&unused)));
        }
    }
    Ok(exit)
}

/// The store of results, for all that changes what a check finds; `None` if one of the other records has no name by content.
fn memory(
    session: &Session,
    profile: &Profile,
    offset: Option<Length>,
    others: Option<&Others>,
    pictures: bool,
) -> Result<Option<Memory>> {
    let profile = profile.sha256.as_deref().unwrap_or_default();
    // Acceptances and their dates are not in it: they are sifted from the result.
    // A result without pictures is none for a report that draws.
    let offset = offset.map(Length::metres);
    let judging = format!("profile {profile} offset {offset:?} pictures {pictures}");
    let keys = Keys::new(session, judging.as_bytes());
    let since = SystemTime::UNIX_EPOCH.elapsed().unwrap_or_default();
    let today = u32::try_from(since.as_secs() / 86_400).unwrap_or(0);
    let folder = folders::cache()?.join("results");
    let memory = Memory::new(Store::open(&folder, today), keys);
    Ok(match others {
        None => Some(memory),
        Some(others) => memory.beside(others.groups()),
    })
}

/// Checks one document, or recalls an earlier check of it; `None` if it was given up.
fn look(
    checking: &Checking<'_>,
    session: &Session,
    opening: &Opening,
    memory: Option<&Memory>,
    index: usize,
) -> Option<Checked> {
    let ready = &opening.documents[index];
    checking.progress.begin(&ready.group.name);
    let began = Instant::now();
    let found = ready.calibration.and_then(|index| opening.among.get(index));
    let key = found.and_then(|found| found.key.as_ref());
    // Without a name for the calibration there is none for the result.
    let memory = memory.filter(|_| found.is_none() || key.is_some());
    let memory = memory.zip(ready.identity.as_ref());
    let opened = ready
        .document
        .as_ref()
        .and_then(|document| document.as_ref().ok());
    let mut checked = Checked {
        file: report(&ready.group, opened),
        ..Checked::default()
    };
    let recalled =
        memory.is_some_and(|(memory, identity)| memory.recall(identity, key, &mut checked));
    let looked = if recalled {
        Ok(())
    } else {
        anew(checking, session, opening, index, &mut checked)
    };
    checked.file.seconds = began.elapsed().as_secs_f64();
    match looked {
        Ok(()) => {}
        Err(error) if error.is::<GivenUp>() => return None,
        Err(error) => checked.file.failure = Some(open_failure(&error, &ready.group.name)),
    }
    if let (Some((memory, identity)), false) = (memory, recalled) {
        memory.keep(&ready.group, identity, key, &checked);
    }
    let name = found.map(|found| opening.name(found));
    checked.told = told(checking.given, name, &checked);
    let sibling = ready.sibling.and_then(|index| opening.among.get(index));
    if let (None, Some(sibling)) = (checking.given, sibling) {
        checked.told.push(format!(
            "{}: no calibration of {} among the inputs; {} is of another serial number\n",
            safe(&checked.file.file),
            safe(
                checked
                    .file
                    .lenses
                    .first()
                    .map_or("its lens", String::as_str)
            ),
            safe(opening.name(sibling)),
        ));
    }
    Some(checked)
}

fn anew(
    checking: &Checking<'_>,
    session: &Session,
    opening: &Opening,
    index: usize,
    checked: &mut Checked,
) -> Result<()> {
    let ready = &opening.documents[index];
    let found = ready.calibration.and_then(|index| opening.among.get(index));
    let found = found.map(|found| opening.calibration(found, session));
    let found = found.transpose()?;
    match &ready.document {
        Some(Ok(document)) => one(checking, document, found, checked),
        Some(Err(error)) => {
            checked.file.failure = Some(open_failure(error, &ready.group.name));
            Ok(())
        }
        None => one(checking, &ready.open(session)?, found, checked),
    }
}

/// How many files are checked at the same time when nobody says so.
fn cores() -> usize {
    std::thread::available_parallelism().map_or(1, usize::from)
}

/// What the exit status is on account of one file.
fn status(file: &FileReport, fail_on: FailOn) -> Exit {
    if file.failure.is_some() {
        return Exit::Failed;
    }
    if file.findings.iter().any(|f| fail_on.from().is_met_by(f)) {
        Exit::Findings
    } else {
        Exit::Clean
    }
}
