//! Reading and writing one file: an instance of its own, which goes at the end or at the first
//! error.

use ringmark_model::raw::RawItem;
use wasmtime::Store;

use crate::error::HostError;
use crate::ledger::Ledger;
use crate::state::State;

/// One version of the contract. Nothing outside of its adapter knows which.
pub(crate) trait Contract: Send + Sync {
    fn describe(&self, store: Store<State>) -> Result<String, HostError>;
    fn recognise(&self, store: Store<State>, name: &str, head: &[u8]) -> Result<u32, HostError>;
    fn read(&self, store: Store<State>, options: &str) -> Result<Box<dyn ReadSession>, HostError>;
    fn write(&self, store: Store<State>, options: &str)
    -> Result<Box<dyn WriteSession>, HostError>;
}

/// A plugin that is reading. After an error it is dropped.
pub(crate) trait ReadSession: Send {
    fn next(&mut self) -> Result<Option<RawItem>, HostError>;
    fn state(&mut self) -> &mut State;
}

/// A plugin that is writing. After an error it is dropped.
pub(crate) trait WriteSession: Send {
    fn put(&mut self, item: RawItem) -> Result<(), HostError>;
    fn finish(&mut self) -> Result<(), HostError>;
    fn state(&mut self) -> &mut State;
}

/// A file being read.
pub struct Reading(Stage);

enum Stage {
    Open(Box<dyn ReadSession>, Ledger),
    Ended,
    Failed(HostError),
}

impl Reading {
    pub(crate) fn new(mut session: Box<dyn ReadSession>) -> Self {
        let ledger = Ledger::new(session.state());
        Reading(Stage::Open(session, ledger))
    }

    /// The next item, checked; `None` at the end.
    ///
    /// # Errors
    ///
    /// After an error the plugin's instance is gone, and each further call gives the same error.
    #[allow(clippy::should_implement_trait)] // An iterator would go on after an error.
    pub fn next(&mut self) -> Result<Option<RawItem>, HostError> {
        let Stage::Open(session, ledger) = &mut self.0 else {
            return match &self.0 {
                Stage::Failed(error) => Err(error.clone()),
                _ => Ok(None),
            };
        };
        let result = session.next().and_then(|item| match item {
            None => Ok(None),
            Some(mut item) => {
                ledger.admit(&mut item, &mut session.state().inputs)?;
                Ok(Some(item))
            }
        });
        match &result {
            Ok(Some(_)) => {}
            Ok(None) => self.0 = Stage::Ended,
            Err(error) => self.0 = Stage::Failed(error.clone()),
        }
        result
    }
}

/// Files being written.
pub struct Writing(Result<Box<dyn WriteSession>, HostError>);

impl Writing {
    pub(crate) fn new(session: Box<dyn WriteSession>) -> Self {
        Writing(Ok(session))
    }

    /// Hands the next item to the plugin, in the units its manifest asks for.
    ///
    /// # Errors
    ///
    /// After an error the plugin's instance is gone, and each further call gives the same error.
    pub fn put(&mut self, item: RawItem) -> Result<(), HostError> {
        let session = match &mut self.0 {
            Ok(session) => session,
            Err(error) => return Err(error.clone()),
        };
        let given = &mut session.state().given;
        *given = given.saturating_add(bytes(&item));
        let result = session.put(item);
        if let Err(error) = &result {
            self.0 = Err(error.clone());
        }
        result
    }

    /// Lets the plugin write what is left. The outputs are complete only after this.
    pub fn finish(self) -> Result<(), HostError> {
        let mut session = self.0?;
        session.finish()?;
        let state = session.state();
        for sink in &mut state.outputs {
            sink.finish()
                .map_err(|error| HostError::machine(&state.plugin, "writing an output", error))?;
        }
        Ok(())
    }
}

/// About how many bytes an item gives a writer to work on.
fn bytes(item: &RawItem) -> u64 {
    const FACT: usize = 64;
    let bytes = match item {
        RawItem::Frames(frames) => {
            let numbers: usize = frames.columns.iter().map(|c| 8 * c.values.len()).sum();
            let texts: usize = frames
                .labels
                .iter()
                .map(|l| l.text.len() + 4 * l.index.len())
                .sum();
            numbers + texts + 8 * frames.count as usize
        }
        RawItem::Lens(lens) => {
            let marks: usize = lens.rings.iter().map(|ring| ring.marks.len()).sum();
            let cells: usize = lens
                .tables
                .iter()
                .flat_map(|table| &table.columns)
                .map(|column| column.values.len())
                .sum();
            FACT * (lens.facts.len() + marks + 1) + 8 * cells
        }
        RawItem::Take(take) => FACT * (take.facts.len() + 1),
        RawItem::Remark(_) => FACT,
    };
    bytes as u64
}
