//! Reads a document into takes.

use std::collections::VecDeque;
use std::rc::Rc;

use ringmark_sdk::{Failure, Input, Item, Reader, failure};

use crate::document::Document;
use crate::pages::Pages;
use crate::remarks::{Remarks, Severity, Spot};
use crate::take::Take;

/// The reading half of the plugin.
pub struct TakeReader {
    pages: Rc<Pages>,
    document: Document,
    take: Option<Take>,
    takes: u32,
    remarks: Remarks,
    items: VecDeque<Item>,
    failure: Option<Failure>,
    ended: bool,
}

impl Reader for TakeReader {
    fn open(inputs: Vec<Box<dyn Input>>, _options: &str) -> Result<Self, Failure> {
        let count = inputs.len();
        let mut inputs = inputs.into_iter();
        let (Some(input), None) = (inputs.next(), inputs.next()) else {
            return Err(failure(
                format!("an EBUCore document is one file, {count} were given"),
                "convert the files one by one",
                None,
            ));
        };
        let pages = Pages::new(input);
        let mut remarks = Remarks::default();
        let head = pages.head();
        if head.starts_with(&[0xff, 0xfe]) || head.starts_with(&[0xfe, 0xff]) || head.contains(&0) {
            return Err(Spot::point(0).failure(
                "the file is in UTF-16 or UTF-32, or no text at all",
                "save it as UTF-8",
            ));
        }
        if pages.start > 0 {
            remarks.add(
                Severity::Note,
                "byte-order-mark",
                "",
                || "the file starts with a byte order mark".to_owned(),
                "it was passed over",
                &Spot::point(0),
            );
        }
        Ok(TakeReader {
            document: Document::new(&pages),
            pages,
            take: None,
            takes: 0,
            remarks,
            items: VecDeque::new(),
            failure: None,
            ended: false,
        })
    }

    fn next(&mut self) -> Result<Option<Item>, Failure> {
        loop {
            if let Some(item) = self.items.pop_front() {
                return Ok(Some(item));
            }
            if let Some(failure) = self.failure.take() {
                return Err(failure);
            }
            if self.ended {
                return Ok(None);
            }
            // What was read before a defect goes out before it is told.
            if let Err(failure) = self.go_on() {
                self.ended = true;
                self.failure = Some(failure);
            }
        }
    }
}

impl TakeReader {
    fn go_on(&mut self) -> Result<(), Failure> {
        if let Some(take) = &mut self.take {
            if !take.batch(&mut self.items)?
                && let Some(take) = self.take.take()
            {
                self.remarks = take.into_remarks();
            }
            return Ok(());
        }
        let found = self.document.next(&mut self.remarks);
        let Some(found) = found.inspect_err(|_| self.items.extend(self.remarks.take()))? else {
            self.ended = true;
            self.items.extend(self.remarks.take());
            if self.takes == 0 {
                return Err(Spot::point(0).failure(
                    "the document has no acquisitionData",
                    "lens data stands in ebuCoreMain/coreMetadata/format/acquisitionData",
                ));
            }
            return Ok(());
        };
        let remarks = std::mem::take(&mut self.remarks);
        self.take = Some(Take::new(&self.pages, self.takes, found, remarks)?);
        self.takes += 1;
        Ok(())
    }
}
