//! Writes a take into copies of existing files, one frame a file.
//!
//! Headers are written anew and chunk offset tables shifted; pixels are copied and never seen.

mod changes;
mod chunks;
mod compose;
mod extras;
mod facts;
mod old;
mod plan;
mod splice;
mod template;
mod vector;

use std::collections::BTreeMap;
use std::rc::Rc;

use ringmark_sdk::pairing::Pairing;
use ringmark_sdk::{Fact, Failure, Frames, Input, Item, Output, Place, Take, Writer, failure};

use crate::header::{Header, MOST_BYTES, NamesSeen, walk};
use crate::keys::Keys;
use crate::private::{KeptFact, OtherLenses};
use crate::source::HeaderSource;
use changes::Change;
use compose::Frame;
use facts::TakeFacts;
use old::Old;
use plan::{Batch, Head, Row};
use template::Template;

/// Where a frame goes: a template and its copy, until they are done with.
struct File {
    input: Box<dyn Input>,
    output: Box<dyn Output>,
}

/// Copies of files while attributes are put in.
pub struct Copies {
    files: Vec<Option<File>>,
    templates: Vec<Template>,
    source: HeaderSource,
    check: Check,
    pairing: Option<Pairing>,
    lenses: Vec<Vec<Fact>>,
    takes: Vec<Take>,
    facts: BTreeMap<u32, TakeFacts>,
    heads: BTreeMap<u32, Rc<Vec<Head>>>,
}

impl Writer for Copies {
    fn open(
        outputs: Vec<Box<dyn Output>>,
        templates: Vec<Box<dyn Input>>,
        _options: &str,
    ) -> Result<Self, Failure> {
        if templates.is_empty() {
            return Err(failure(
                "OpenEXR holds the data of a take in the headers of image files, and there are none",
                "name the folder of existing files: copies of them get the data",
                None,
            ));
        }
        if outputs.len() != templates.len() {
            return Err(failure(
                format!("{} outputs for {} files", outputs.len(), templates.len()),
                "report this to the authors of the program",
                None,
            ));
        }
        let mut source = HeaderSource::default();
        let mut known: Vec<Template> = Vec::with_capacity(templates.len());
        for (index, input) in templates.iter().enumerate() {
            let walk_always = index == 0;
            source
                .read(&**input, index as u32, walk_always)
                .map_err(|error| in_file(&input.name(), error))?;
            known.push(Template::new(input.name(), &source, known.last()));
        }
        let files = templates.into_iter().zip(outputs);
        Ok(Copies {
            files: files
                .map(|(input, output)| Some(File { input, output }))
                .collect(),
            templates: known,
            source,
            check: Check::default(),
            pairing: None,
            lenses: Vec::new(),
            takes: Vec::new(),
            facts: BTreeMap::new(),
            heads: BTreeMap::new(),
        })
    }

    fn put(&mut self, item: Item) -> Result<(), Failure> {
        match item {
            Item::Lens(lens) => self.lenses.push(lens.facts),
            Item::Take(take) => self.takes.push(take),
            Item::Frames(frames) => self.frames(&frames)?,
            Item::Remark(_) => {}
        }
        Ok(())
    }

    fn finish(&mut self) -> Result<(), Failure> {
        let Some(pairing) = &self.pairing else {
            return Err(failure(
                "there is no frame to write",
                "convert a take: OpenEXR holds one frame a file",
                None,
            ));
        };
        pairing.finish()?;
        // Files of which some views are in no take.
        for index in 0..self.templates.len() {
            self.write(index)?;
        }
        Ok(())
    }
}

impl Copies {
    fn frames(&mut self, frames: &Frames) -> Result<(), Failure> {
        let mut batch = Batch::new(frames, self.heads.get(&frames.take))?;
        self.heads.insert(frames.take, Rc::clone(batch.heads()));
        if frames.count == 0 {
            return Ok(());
        }
        if !self.facts.contains_key(&frames.take) {
            let facts = self.facts_of(frames.take, &batch.row(0))?;
            self.facts.insert(frames.take, facts);
        }
        let found = self.pairing(frames.take).pair(frames)?;
        for (at, file) in found.into_iter().enumerate() {
            // With a frame or file too many nothing will be kept.
            if let Some(file) = file
                && !self.pairing.as_ref().is_some_and(Pairing::is_broken)
            {
                self.frame(frames.take, file, batch.row(at))?;
            }
        }
        Ok(())
    }

    fn pairing(&mut self, take: u32) -> &mut Pairing {
        let rate = self.facts.get(&take).and_then(|facts| facts.rate);
        let templates = &self.templates;
        self.pairing.get_or_insert_with(|| {
            let keys = templates.iter().map(|template| template.key(rate));
            Pairing::new(keys).shared_by_takes()
        })
    }

    fn facts_of(&self, take: u32, first: &Row) -> Result<TakeFacts, Failure> {
        let Some(head) = self.takes.get(take as usize) else {
            return Err(failure(
                "frames came before the head of their take",
                "report this to the authors of the program",
                None,
            ));
        };
        let lens = head.lens.map(|lens| lens as usize);
        let own = lens.and_then(|lens| self.lenses.get(lens));
        let mut facts = TakeFacts::new(head, own.map(Vec::as_slice), first);
        // The lenses of other views and takes stand in other parts.
        if facts.view.is_none() {
            let used = |lens: usize| self.takes.iter().any(|take| take.lens == Some(lens as u32));
            let kept = |range: std::ops::Range<usize>| -> Vec<Vec<KeptFact>> {
                let lenses = self.lenses.iter().enumerate();
                lenses
                    .filter(|(at, _)| range.contains(at) && !used(*at))
                    .map(|(_, facts)| facts.iter().map(KeptFact::from).collect())
                    .collect()
            };
            let at = lens.unwrap_or(0);
            let others = OtherLenses {
                before: kept(0..at),
                after: kept(at..self.lenses.len()),
            };
            facts.others = Some(others).filter(|others| *others != OtherLenses::default());
        }
        Ok(facts)
    }

    /// Takes the frame of a file; writes the file if no other view of it is awaited.
    fn frame(&mut self, take: u32, file: usize, row: Row) -> Result<(), Failure> {
        let template = &mut self.templates[file];
        let name = template.name.clone();
        let Some(facts) = self.facts.get(&take) else {
            return Ok(());
        };
        let groups = template.groups_of(facts);
        if groups.is_empty() {
            return Err(failure(
                format!(
                    "'{}' has no part of the view “{}”",
                    name.escape_debug(),
                    facts.view.as_deref().unwrap_or_default().escape_debug()
                ),
                "pass files with the views of the takes",
                None,
            ));
        }
        let twice = |other: Option<u32>| {
            let other = other.map_or("an earlier take".to_owned(), |n| format!("take {}", n + 1));
            failure(
                format!(
                    "{other} and take {} both have a frame for '{}'",
                    take + 1,
                    name.escape_debug()
                ),
                "convert one take at a time, or takes of different views",
                None,
            )
        };
        if template.is_written {
            return Err(twice(None));
        }
        template.waiting.resize(template.groups.len(), None);
        for &group in &groups {
            if let Some((other, _)) = template.waiting[group].replace((take, row.clone())) {
                return Err(twice(Some(other)));
            }
        }
        if template.waiting.iter().all(Option::is_some) {
            self.write(file)?;
        }
        Ok(())
    }

    /// Writes a file with what came for it, unless it is written.
    fn write(&mut self, index: usize) -> Result<(), Failure> {
        let Some(File { input, mut output }) = self.files.get_mut(index).and_then(Option::take)
        else {
            return Ok(());
        };
        let name = self.templates[index].name.clone();
        let refuse = |message: String| {
            let help = "the file is damaged, or the value cannot be stored in it: correct the one or the other";
            let place = Place {
                input: index as u32,
                offset: 0,
                length: 0,
                field: String::new(),
            };
            failure(
                format!("'{}': {message}", name.escape_debug()),
                help,
                Some(place),
            )
        };
        self.source
            .read(&*input, index as u32, false)
            .map_err(|error| in_file(&name, error))?;
        let template = &mut self.templates[index];
        template.is_written = true;
        let waiting = std::mem::take(&mut template.waiting);
        let mut composed = Vec::with_capacity(template.groups.len());
        for (group, frame) in template.groups.iter().zip(&waiting) {
            let old = Old::new(&self.source, &group.parts);
            let view = group.view();
            let frame_of = |(take, row)| {
                let facts = self.facts.get(take)?;
                let frame = Frame {
                    facts,
                    row,
                    file: &name,
                    view: &view,
                };
                Some((row, frame))
            };
            let own = frame.as_ref().and_then(|(take, row)| frame_of((take, row)));
            let first = waiting.iter().flatten().next();
            let other = first.and_then(|(take, row)| frame_of((take, row)));
            let changes = match (own, other) {
                (Some((row, frame)), _) => compose::compose(&old, &frame)
                    .map_err(|error| refuse(format!("{}{error}", frame_name(row))))?,
                (None, Some((row, frame))) => compose::compose_shared(&old, &frame)
                    .map_err(|error| refuse(format!("{}{error}", frame_name(row))))?,
                (None, None) => BTreeMap::new(),
            };
            composed.push(changes);
        }
        let mut by_part: Vec<&BTreeMap<String, Change>> = Vec::new();
        for part in 0..self.source.header.parts.len() {
            let owns = |group: &template::Group| group.parts.contains(&part);
            let group = template.groups.iter().position(owns);
            match group.and_then(|group| composed.get(group)) {
                Some(changes) => by_part.push(changes),
                None => {
                    let message = "the parts of the file changed while it was read";
                    return Err(refuse(message.to_owned()));
                }
            }
        }
        let size = input.size();
        if by_part.iter().all(|changes| changes.is_empty()) {
            output.copy_from(&*input, 0, size);
            return Ok(());
        }
        let header = splice::splice(&self.source, &by_part);
        self.check.walk(&header).map_err(refuse)?;
        let start = self.source.header.length as u64;
        let end = chunks::tables_end(&self.source, size).map_err(refuse)?;
        output.write(&header);
        let shift = header.len() as i64 - start as i64;
        chunks::shift_tables(&*input, start, end, shift, &mut *output).map_err(refuse)?;
        output.copy_from(&*input, end, size - end);
        Ok(())
    }
}

/// The frame in front of a message about one of its values.
fn frame_name(row: &Row) -> String {
    match row.number("frame") {
        Some(number) => format!("frame {number}: "),
        None => String::new(),
    }
}

/// A failure that names the file.
fn in_file(name: &str, error: Failure) -> Failure {
    Failure {
        message: format!("'{}': {}", name.escape_debug(), error.message),
        ..error
    }
}

/// Walks new headers before they go out: what cannot be read is not written.
#[derive(Default)]
struct Check {
    keys: Keys,
    names: NamesSeen,
    before: Header,
    header: Header,
}

impl Check {
    fn walk(&mut self, bytes: &[u8]) -> Result<(), String> {
        if bytes.len() as u64 > MOST_BYTES {
            return Err(format!(
                "the header would have {} bytes, at most {MOST_BYTES} are read",
                bytes.len()
            ));
        }
        std::mem::swap(&mut self.before, &mut self.header);
        let Check {
            keys,
            names,
            before,
            header,
        } = self;
        walk(bytes, keys, names, before, header).map_err(|halt| {
            let defect = match halt {
                crate::defect::Halt::More { missing, .. } => missing,
                crate::defect::Halt::Damaged(defect) => defect,
            };
            format!("the new header could not be read: {}", defect.message)
        })
    }
}
