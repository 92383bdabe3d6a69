//! The whole flow on one screen: bytes → plugin → batches → normalise → calibrate → derive → check or write.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::sync_channel;
use std::thread;

use anyhow::{Context, Result};
use ringmark_model::{Piece, Provenance};

use crate::calibrate::{Calibration, Calibrator};
use crate::derive::{Derivation, Deriver};
use crate::document::{Document, ReadFailure};
use crate::formats::Format;
use crate::hash;

/// Pieces that may wait between the reader and what comes after it: enough to keep both
/// busy, little enough to keep memory flat.
const QUEUE: usize = 8;

/// A plugin runs on the stack of the thread that calls it.
const READER_STACK: usize = 8 << 20;

/// Files up to this size are hashed even if only their headers are read.
const SMALL: u64 = 64 << 20;

/// How the flow of a document ended.
pub enum Ended {
    /// All pieces were passed on.
    Whole,
    /// Reading failed; the pieces before were passed on.
    ReadFailed(ReadFailure),
}

/// Which threads read a document.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Threads {
    /// One reads while the caller's does the rest: a long document is done sooner.
    Own,
    /// The caller's does everything: nothing is handed from core to core, so many documents are done sooner.
    Callers,
}

/// Reads a document and passes its pieces to `pass` in order, without a word on where this one comes from: what only looks
/// needs no digest of the files. An error of `pass` ends the flow and is returned.
pub fn read(
    document: &Document,
    threads: Threads,
    mut pass: impl FnMut(Piece) -> Result<()>,
) -> Result<Ended> {
    if threads == Threads::Own {
        return flow(document, None, None, false, pass);
    }
    let mut read = || -> Result<Result<(), ReadFailure>> {
        let mut pieces = match document.pieces() {
            Ok(pieces) => pieces,
            Err(failure) => return Ok(Err(failure)),
        };
        loop {
            match pieces.next_piece() {
                Ok(Some(piece)) => pass(piece)?,
                Ok(None) => return Ok(Ok(())),
                Err(failure) => return Ok(Err(failure)),
            }
        }
    };
    Ok(match read()? {
        Ok(()) => Ended::Whole,
        Err(failure) => Ended::ReadFailed(failure),
    })
}

/// Reads a document on a thread of its own and passes its pieces to `pass` in order. The last
/// piece is the provenance. An error of `pass` ends the flow and is returned.
pub fn run(
    document: &Document,
    calibration: Option<&Calibration>,
    derivation: Option<Derivation>,
    pass: impl FnMut(Piece) -> Result<()>,
) -> Result<Ended> {
    flow(document, calibration, derivation, true, pass)
}

fn flow(
    document: &Document,
    calibration: Option<&Calibration>,
    derivation: Option<Derivation>,
    with_origin: bool,
    mut pass: impl FnMut(Piece) -> Result<()>,
) -> Result<Ended> {
    let (send, receive) = sync_channel(QUEUE);
    let mut calibrator = Calibrator::new(
        calibration.cloned(),
        derivation.map(Derivation::told).unwrap_or_default(),
    );
    let mut deriver = Deriver::new(derivation);
    let mut older = Vec::new();
    let wanted = AtomicBool::new(true);
    thread::scope(|scope| {
        let hashing =
            with_origin.then(|| scope.spawn(|| provenance(document, calibration, &wanted)));
        let _leave = Leave(&wanted);
        let reader = thread::Builder::new().stack_size(READER_STACK);
        reader.spawn_scoped(scope, move || {
            let read = || -> Result<(), ReadFailure> {
                let mut pieces = document.pieces()?;
                while let Some(piece) = pieces.next_piece()? {
                    if send.send(Ok(piece)).is_err() {
                        break; // Nobody listens any more: the other side has failed.
                    }
                }
                Ok(())
            };
            if let Err(failure) = read() {
                // The other side may have ended first; then nobody needs to know.
                let _ = send.send(Err(failure));
            }
        })?;
        // By value: an error ends the loop and closes the channel, else the reader would wait for
        // room in it for ever, and the scope for the reader.
        for received in receive {
            match received {
                Ok(Piece::End(provenance)) => older = provenance,
                Ok(piece) => {
                    calibrator.piece(piece, |piece| deriver.piece(piece, &mut pass))?;
                }
                Err(failure) => return Ok(Ended::ReadFailed(failure)),
            }
        }
        let mut all = match hashing.map(thread::ScopedJoinHandle::join) {
            Some(Ok(provenance)) => vec![provenance?],
            Some(Err(_)) => anyhow::bail!("{}: hashing failed", document.group.name),
            None => Vec::new(),
        };
        all.extend(older);
        calibrator.piece(Piece::End(all), |piece| deriver.piece(piece, &mut pass))?;
        Ok(Ended::Whole)
    })
}

/// Ends the hashing when the flow ends: nobody waits for the digest of a long file that failed.
struct Leave<'a>(&'a AtomicBool);

impl Drop for Leave<'_> {
    fn drop(&mut self) {
        self.0.store(false, Ordering::Relaxed);
    }
}

/// Where a document comes from; without its digest once that is not `wanted` any more.
fn provenance(
    document: &Document,
    calibration: Option<&Calibration>,
    wanted: &AtomicBool,
) -> Result<Provenance> {
    let headers_only = match &document.format {
        Format::Neutral(_) => false,
        Format::Plugin(plugin) => plugin.manifest().files.headers_only,
    };
    let mut size = 0;
    let mut sha256 = None;
    for file in &document.files {
        size += std::fs::metadata(file)
            .with_context(|| format!("{}: cannot read", file.display()))?
            .len();
    }
    // Reading all of a long sequence or a large file would take longer than all the rest.
    let hashed = !headers_only || size <= SMALL;
    if let [file] = document.files.as_slice()
        && hashed
        && let Some((hash, length)) = hash::of_file(file, wanted)?
    {
        sha256 = Some(hash);
        size = length;
    }
    Ok(Provenance {
        file: file_name(&document.group.name),
        files: document.files.len() as u64,
        size,
        sha256,
        plugin: document.plugin(),
        mapping: document
            .mapping
            .as_ref()
            .map(|m| (file_name(&m.path.display().to_string()), m.sha256.clone())),
        calibration: calibration.map(|c| (file_name(&c.name), c.sha256.clone())),
        repairs: Vec::new(),
        program: program(),
    })
}

/// Name and version of this program.
pub fn program() -> String {
    format!("ringmark {}", env!("CARGO_PKG_VERSION"))
}

/// Folders say nothing to whoever reads a document elsewhere, and may be private.
fn file_name(path: &str) -> String {
    path.rsplit(['/', '\\']).next().unwrap_or(path).to_owned()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::document::Opened;
    use crate::formats::Formats;
    use crate::inputs::group;

    #[test]
    fn a_failure_behind_the_reader_ends_the_reader_too() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("many.lens.json");
        let lenses = vec!["{}"; 4 * QUEUE].join(",");
        std::fs::write(
            &path,
            format!(r#"{{"lens_data":"1.0","lenses":[{lenses}]}}"#),
        )
        .unwrap();
        let formats = Formats::bundled(true).unwrap();
        let group = group(&[path], &[]).unwrap().groups.remove(0);
        let Opened::Document(document) = Document::open(group, &formats, None, None).unwrap()
        else {
            panic!("not opened");
        };
        // A reader that is still waiting would hang this test.
        let ended = run(&document, None, None, |_| anyhow::bail!("the disk is full"));
        assert_eq!(ended.err().unwrap().to_string(), "the disk is full");
    }
}
