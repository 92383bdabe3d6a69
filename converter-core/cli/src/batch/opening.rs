//! The documents of a run before they are checked: their formats, and which of them are calibrations of which.

use std::sync::OnceLock;

use anyhow::{Result, anyhow, bail};
use ringmark_model::Lens;

use super::memory::Memory;
use super::{Interrupt, Progress, Work, in_order};
use crate::calibrate::Calibration;
use crate::document::{Document, Opened};
use crate::inputs::Group;
use crate::session::{Session, lenses_ahead};
use crate::store::Key;
use crate::store::key::{Identity, Keys};
use crate::store::record::{AheadIds, Known, LensId};

/// A document that is ready to be checked.
pub struct Ready {
    /// Its files.
    pub group: Group,
    /// The document, or why it cannot be opened; `None` if an earlier run has said enough about it.
    pub document: Option<Result<Document>>,
    /// What it is by its content, if results are kept.
    pub identity: Option<Identity>,
    /// The calibration among the others that is of the lens this document says it has.
    pub calibration: Option<usize>,
    /// If there is none, one among the others that is of the same model with another serial number.
    pub sibling: Option<usize>,
}

impl Ready {
    /// Opens what was not opened before.
    pub fn open(&self, session: &Session) -> Result<Document> {
        match session.open(&self.group)? {
            Opened::Document(document) => Ok(*document),
            Opened::PassedOver => bail!("{}: in no format any more", self.group.name),
        }
    }
}

/// A calibration among the inputs.
pub struct Among {
    id: LensId,
    /// Which document it stands in.
    at: usize,
    /// What it is by its content, if that is known.
    pub key: Option<Key>,
    /// Made when a take needs it, where an earlier run has said that it can be made.
    calibration: OnceLock<Option<Calibration>>,
}

/// What is to be checked.
pub struct Opening {
    /// The documents, in the order of their names; after an interrupt not all of them.
    pub documents: Vec<Ready>,
    /// Calibrations among them.
    pub among: Vec<Among>,
    /// Inputs that may be documents.
    pub of: usize,
    /// Files in folders that no format reads.
    passed_over: Vec<String>,
}

/// The lenses at the start of a document, as far as they connect it with others.
#[derive(Default)]
struct Ahead {
    ids: AheadIds,
    /// The calibrations, if they were made.
    made: Vec<Calibration>,
}

/// What is known of an input.
#[derive(Default)]
struct Entry {
    /// Nothing if no format reads it.
    document: Option<Option<Result<Document>>>,
    identity: Option<Identity>,
    ahead: Ahead,
}

impl Opening {
    /// Finds the format of all inputs, and the calibrations among them unless one was given.
    pub fn new(
        session: &Session,
        memory: Option<&Memory>,
        jobs: usize,
        interrupt: &Interrupt,
        quiet: bool,
    ) -> Result<Opening> {
        let groups = session.groups();
        let look_ahead = groups.len() > 1 && session.calibration().is_none();
        let progress = Progress::new("opened", groups.len(), quiet);
        let mut opening = Opening {
            documents: Vec::new(),
            among: Vec::new(),
            of: groups.len(),
            passed_over: Vec::new(),
        };
        let mut bare = Vec::new();
        let work = Work {
            inputs: groups.len(),
            jobs,
            interrupt,
        };
        let open = |index: usize| {
            progress.begin(&groups[index].name);
            let entry = Entry::of(&groups[index], session, memory, look_ahead);
            progress.done();
            Box::new(entry)
        };
        in_order(&work, open, |index, entry| {
            let group = groups[index].clone();
            let entry = entry.unwrap_or_else(|panic| {
                Box::new(Entry {
                    document: Some(Some(Err(super::one::broken(&panic)))),
                    ..Entry::default()
                })
            });
            let Some(document) = entry.document else {
                opening.passed_over.push(group.name);
                opening.of -= 1;
                return Ok(());
            };
            let Ahead { ids, made } = entry.ahead;
            let mut made = made.into_iter();
            for id in ids.calibrations {
                opening.among.push(Among {
                    key: entry
                        .identity
                        .as_ref()
                        .map(|identity| Keys::calibration(identity, &id)),
                    id,
                    at: opening.documents.len(),
                    calibration: made
                        .next()
                        .map_or_else(OnceLock::new, |made| OnceLock::from(Some(made))),
                });
            }
            bare.push(ids.bare);
            opening.documents.push(Ready {
                group,
                document,
                identity: entry.identity,
                calibration: None,
                sibling: None,
            });
            Ok(())
        })?;
        opening.connect(&bare);
        Ok(opening)
    }

    fn connect(&mut self, bare: &[Option<LensId>]) {
        // Two calibrations of one lens contradict or repeat each other: neither is taken unasked.
        let among = &self.among;
        let twice = |c: &Among| among.iter().filter(|other| other.id.is_of(&c.id)).count() > 1;
        let mut twice = among.iter().map(twice).collect::<Vec<_>>().into_iter();
        self.among.retain(|_| !twice.next().unwrap_or(false));
        for (document, lens) in self.documents.iter_mut().zip(bare) {
            let lens = lens.as_ref();
            let among = |fits: fn(&LensId, &LensId) -> bool| {
                lens.and_then(|l| self.among.iter().position(|c| fits(&c.id, l)))
            };
            document.calibration = among(LensId::is_of);
            document.sibling = match document.calibration {
                None => among(LensId::is_sibling_of),
                Some(_) => None,
            };
        }
    }

    /// The name of a calibration among the inputs: that of its document.
    pub fn name(&self, among: &Among) -> &str {
        self.documents
            .get(among.at)
            .map_or("", |ready| ready.group.name.as_str())
    }

    /// A calibration among the inputs.
    pub fn calibration<'a>(
        &'a self,
        among: &'a Among,
        session: &Session,
    ) -> Result<&'a Calibration> {
        let name = self.name(among);
        let make = || {
            let document = self.documents.get(among.at)?.open(session).ok()?;
            let lenses = lenses_ahead(&document).into_iter();
            let mut lenses = lenses.filter(|lens| has_marks(lens) && LensId::of(lens) == among.id);
            Calibration::of(lenses.next()?, name.to_owned(), String::new()).ok()
        };
        let made = among.calibration.get_or_init(make).as_ref();
        made.ok_or_else(|| anyhow!("{name}: holds this lens no more"))
    }

    /// What in the folders was not looked at, in a line for people; `None` if nothing was left out.
    pub fn left_out(&self, session: &Session) -> Option<String> {
        session.left_out(&self.passed_over)
    }
}

impl Entry {
    fn of(group: &Group, session: &Session, memory: Option<&Memory>, look_ahead: bool) -> Entry {
        let memory = memory.and_then(|memory| Some((memory, memory.identity(group)?)));
        let identity = memory.as_ref().map(|(_, identity)| identity.clone());
        let known = memory
            .as_ref()
            .and_then(|(memory, identity)| memory.known(identity));
        let mut entry = Entry {
            document: None,
            identity,
            ahead: Ahead::default(),
        };
        match known {
            Some(Known::PassedOver) => return entry,
            Some(Known::Document(ahead)) if ahead.is_some() || !look_ahead => {
                entry.document = Some(None);
                entry.ahead.ids = ahead.filter(|_| look_ahead).unwrap_or_default();
                return entry;
            }
            _ => {}
        }
        let known = match session.open(group) {
            Ok(Opened::PassedOver) => Some(Known::PassedOver),
            Ok(Opened::Document(document)) => {
                if look_ahead {
                    entry.ahead = Ahead::of(&document);
                }
                entry.document = Some(Some(Ok(*document)));
                Some(Known::Document(look_ahead.then(|| entry.ahead.ids.clone())))
            }
            Err(error) => {
                entry.document = Some(Some(Err(error)));
                None
            }
        };
        if let (Some((memory, identity)), Some(known)) = (&memory, &known) {
            memory.learn(identity, known);
        }
        entry
    }
}

impl Ahead {
    /// Damaged marks give no calibration; reading them properly will say why.
    fn of(document: &Document) -> Ahead {
        let lenses = lenses_ahead(document);
        let bare = match lenses.as_slice() {
            [lens] if !has_marks(lens) => Some(LensId::of(lens)),
            _ => None,
        };
        let name = &document.group.name;
        let marked = lenses
            .into_iter()
            .filter(|l| l.serial.is_some() && has_marks(l));
        let made: Vec<Calibration> = marked
            .filter_map(|lens| Calibration::of(lens, name.clone(), String::new()).ok())
            .collect();
        Ahead {
            ids: AheadIds {
                calibrations: made.iter().map(|c| LensId::of(&c.lens)).collect(),
                bare,
            },
            made,
        }
    }
}

fn has_marks(lens: &Lens) -> bool {
    lens.rings.iter().any(|ring| !ring.marks.is_empty())
}
