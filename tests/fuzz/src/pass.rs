//! Bytes through a whole plugin: read, checked, normalised, written, and read again.

use std::cell::RefCell;
use std::collections::HashMap;
use std::rc::Rc;

use ringmark_model::{Manifest, Piece};
use ringmark_normalise::{ForWriter, NormaliseError, Normaliser};
use ringmark_sdk::native::{MemoryInput, MemoryOutput};
use ringmark_sdk::shell::Plugin;
use ringmark_sdk::{Failure, Input, Item, Reader, Writer};

use super::items::Ledger;
use super::neutral;
use super::raw;

/// Items of one reading at most: inputs are small, what they say may not be.
const MOST_ITEMS: usize = 2_000;
/// Frames of one reading at most.
const MOST_FRAMES: u64 = 1 << 15;

/// Marks of the private parts in which our formats keep what they have no place for.
const OURS: [&[u8]; 2] = [
    b"ringmark",
    // The identifier in acquisition sets.
    &[0x7d, 0x1c, 0x52, 0x9b, 0x3e, 0x60, 0x4f, 0x87],
];

/// What a plugin is handed.
pub struct Given<'a> {
    /// Names and bytes.
    pub files: Vec<(String, &'a [u8])>,
    /// As JSON.
    pub options: &'a str,
    /// What outputs end in, where not in the same as the inputs.
    pub output_extension: Option<&'a str>,
}

impl<'a> Given<'a> {
    /// One file without options.
    pub fn one(name: &str, bytes: &'a [u8]) -> Self {
        Given {
            files: vec![(name.to_owned(), bytes)],
            options: "{}",
            output_extension: None,
        }
    }

    /// Whether a private part may be in it.
    fn is_partly_ours(&self) -> bool {
        let has = |bytes: &[u8], mark: &[u8]| bytes.windows(mark.len()).any(|w| w == mark);
        let mut files = self.files.iter();
        files.any(|(_, bytes)| OURS.iter().any(|mark| has(bytes, mark)))
    }

    /// Outputs under the names of the inputs.
    fn outputs<'b>(&self, bytes: &'b [Vec<u8>]) -> Vec<(String, &'b [u8])> {
        let renamed = |name: &String| match (self.output_extension, name.rsplit_once('.')) {
            (Some(extension), Some((stem, _))) => format!("{stem}.{extension}"),
            _ => name.clone(),
        };
        let names = self.files.iter().map(|(name, _)| renamed(name));
        names.zip(bytes.iter().map(Vec::as_slice)).collect()
    }

    fn inputs(&self) -> Vec<Box<dyn Input>> {
        self.files
            .iter()
            .map(|(name, bytes)| MemoryInput::boxed(name, *bytes))
            .collect()
    }
}

/// What the manifest says about a format.
struct Form {
    manifest: Manifest,
    /// Outputs that the program joins into one.
    sections: Option<usize>,
    /// Whether each frame has an output, beside or made from a template.
    per_frame: bool,
}

thread_local! {
    /// Parsed once a format: else it would take most of the time.
    static FORMS: RefCell<HashMap<&'static str, Rc<Form>>> = RefCell::default();
}

impl Form {
    fn of<P: Plugin>() -> Rc<Form> {
        FORMS.with_borrow_mut(|forms| {
            let form = forms
                .entry(P::MANIFEST)
                .or_insert_with(|| Rc::new(Form::parse(P::MANIFEST)));
            Rc::clone(form)
        })
    }

    fn parse(text: &str) -> Form {
        let manifest = serde_json::from_str(text).unwrap_or_else(|e| panic!("the manifest: {e}"));
        let value: serde_json::Value = serde_json::from_str(text).unwrap_or_default();
        let files = &value["files"];
        Form {
            manifest,
            sections: files["sections"]
                .as_u64()
                .and_then(|n| usize::try_from(n).ok()),
            per_frame: !files["per_frame"].is_null(),
        }
    }
}

/// What a reading gave.
struct Read {
    items: Vec<Item>,
    failure: Option<Failure>,
    /// Whether it was ended here and not by the file.
    cut: bool,
}

/// Everything that can be done with `given` by the format `P`.
pub fn pass<P: Plugin>(given: &Given) {
    for (name, bytes) in &given.files {
        assert!(P::recognise(name, &bytes[..bytes.len().min(4096)]) <= 100);
    }
    let read = read::<P>(given);
    let form = Form::of::<P>();
    let manifest = &form.manifest;
    if manifest.writes {
        // Not what the program would hand over: units are those of the file. It may be refused.
        let _ = write::<P>(given, &form, read.items.iter().cloned());
    }
    let pieces = match normalised(read.items) {
        Ok(pieces) => pieces,
        // A private part is of the program's own making. One that was changed may name channels, facts and units
        // that there are not, and is refused.
        Err(_) if given.is_partly_ours() => return,
        Err(error) => panic!("the plugin broke its word: {error:?}"),
    };
    neutral::keeps(&pieces);
    if !manifest.writes || read.failure.is_some() || read.cut {
        return;
    }
    let Ok(once) = write_pieces::<P>(given, &form, &pieces) else {
        return;
    };
    let again = Given {
        files: given.outputs(&once),
        options: "{}",
        output_extension: given.output_extension,
    };
    let second = self::read::<P>(&again);
    if let Some(failure) = &second.failure {
        panic!(
            "what was written is not read: {failure:?}\n{}",
            shown(&once)
        );
    }
    if second.cut {
        return;
    }
    let pieces = normalised(second.items)
        .unwrap_or_else(|e| panic!("the plugin broke its word: {e:?}\n{}", shown(&once)));
    match write_pieces::<P>(&again, &form, &pieces) {
        Ok(twice) => {
            assert_eq!(once.len(), twice.len());
            once.iter()
                .zip(&twice)
                .for_each(|(a, b)| neutral::same(a, b));
        }
        Err(failure) => panic!(
            "what was written and read is refused: {failure:?}\n{}",
            shown(&once)
        ),
    }
}

fn shown(files: &[Vec<u8>]) -> String {
    files
        .iter()
        .map(|bytes| String::from_utf8_lossy(bytes).into_owned())
        .collect()
}

fn read<P: Plugin>(given: &Given) -> Read {
    let mut ledger = Ledger::new(&given.files);
    let mut read = Read {
        items: Vec::new(),
        failure: None,
        cut: false,
    };
    let mut reader = match P::Read::open(given.inputs(), given.options) {
        Ok(reader) => reader,
        Err(failure) => {
            ledger.failure(&failure);
            read.failure = Some(failure);
            return read;
        }
    };
    loop {
        match reader.next() {
            Ok(Some(item)) => {
                ledger.admit(&item);
                read.items.push(item);
            }
            Ok(None) => return read,
            Err(failure) => {
                ledger.failure(&failure);
                read.failure = Some(failure);
                return read;
            }
        }
        if read.items.len() >= MOST_ITEMS || ledger.frames() >= MOST_FRAMES {
            read.cut = true;
            return read;
        }
    }
}

/// What the program makes of the items.
fn normalised(items: Vec<Item>) -> Result<Vec<Piece>, NormaliseError> {
    let mut normaliser = Normaliser::new();
    let mut pieces = Vec::new();
    for item in items {
        normaliser.item(raw::item(item), &mut pieces)?;
    }
    Ok(pieces)
}

fn write_pieces<P: Plugin>(
    given: &Given,
    form: &Form,
    pieces: &[Piece],
) -> Result<Vec<Vec<u8>>, Failure> {
    let mut for_writer = ForWriter::new(&form.manifest);
    let mut items = Vec::new();
    for piece in pieces {
        let item = for_writer.item(piece);
        items.extend(item.unwrap_or_else(|e| panic!("nothing a writer can be given: {e:?}")));
    }
    write::<P>(given, form, items.into_iter().map(raw::to_item))
}

/// The files that the writer makes of `items`; copies of the inputs where the format works so.
fn write<P: Plugin>(
    given: &Given,
    form: &Form,
    items: impl Iterator<Item = Item>,
) -> Result<Vec<Vec<u8>>, Failure> {
    let count = match form.sections {
        Some(sections) => sections,
        None if form.per_frame => given.files.len(),
        None => 1,
    };
    let outputs: Vec<MemoryOutput> = (0..count).map(|_| MemoryOutput::default()).collect();
    let templates = if form.per_frame {
        given.inputs()
    } else {
        Vec::new()
    };
    let boxed = outputs.iter().map(MemoryOutput::boxed).collect();
    let mut writer = P::Write::open(boxed, templates, "{}")?;
    for item in items {
        writer.put(item)?;
    }
    writer.finish()?;
    let bytes: Vec<Vec<u8>> = outputs.iter().map(MemoryOutput::bytes).collect();
    // The program joins sections in order.
    Ok(match form.sections {
        Some(_) => vec![bytes.concat()],
        None => bytes,
    })
}
