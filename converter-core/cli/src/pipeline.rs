//! The whole flow on one screen: bytes → plugin → batches → normalise → calibrate → check or write.

use std::sync::mpsc::sync_channel;
use std::thread;

use anyhow::Result;
use ringmark_model::{Piece, Provenance};

use crate::calibrate::{Calibration, Calibrator};
use crate::document::{Document, ReadFailure};
use crate::formats::Format;
use crate::hash;

/// Pieces that may wait between the reader and what comes after it: enough to keep both
/// busy, little enough to keep memory flat.
const QUEUE: usize = 8;

/// A plugin runs on the stack of the thread that calls it.
const READER_STACK: usize = 8 << 20;

/// How the flow of a document ended.
pub enum Ended {
    /// All pieces were passed on.
    Whole,
    /// Reading failed; the pieces before were passed on.
    ReadFailed(ReadFailure),
}

/// Reads a document on a thread of its own and passes its pieces to `pass` in order. The last
/// piece is the provenance. An error of `pass` ends the flow and is returned.
pub fn run(
    document: &Document,
    calibration: Option<&Calibration>,
    mut pass: impl FnMut(Piece) -> Result<()>,
) -> Result<Ended> {
    let (send, receive) = sync_channel(QUEUE);
    let mut calibrator = Calibrator::new(calibration.cloned());
    let mut older = Vec::new();
    thread::scope(|scope| {
        let hashing = scope.spawn(|| provenance(document, calibration));
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
                Ok(piece) => calibrator.piece(piece, &mut pass)?,
                Err(failure) => return Ok(Ended::ReadFailed(failure)),
            }
        }
        let mut all = match hashing.join() {
            Ok(provenance) => vec![provenance?],
            Err(_) => anyhow::bail!("{}: hashing failed", document.group.name),
        };
        all.extend(older);
        pass(Piece::End(all))?;
        Ok(Ended::Whole)
    })
}

/// Where a document comes from.
fn provenance(document: &Document, calibration: Option<&Calibration>) -> Result<Provenance> {
    let headers_only = match &document.format {
        Format::Neutral(_) => false,
        Format::Plugin(plugin) => plugin.manifest().files.headers_only,
    };
    let mut size = 0;
    let mut sha256 = None;
    if headers_only || document.files.len() > 1 {
        for file in &document.files {
            size += std::fs::metadata(file).map(|m| m.len()).unwrap_or(0);
        }
    } else if let Some(file) = document.files.first() {
        let (hash, length) = hash::of_file(file)?;
        sha256 = Some(hash);
        size = length;
    }
    Ok(Provenance {
        file: file_name(&document.group.name),
        files: document.files.len() as u64,
        size,
        sha256,
        plugin: document.plugin(),
        mapping: document.mapping.as_ref().map(|m| {
            (
                file_name(&m.path.display().to_string()),
                m.sha256.clone(),
            )
        }),
        calibration: calibration.map(|c| (file_name(&c.name), c.sha256.clone())),
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
