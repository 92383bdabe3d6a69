//! Finds the acquisition data of a document: where each parameter starts, and when.

use std::rc::Rc;

use quick_xml::name::NamespaceResolver;
use ringmark_sdk::Failure;
use ringmark_sdk::quantity::FrameRate;

use crate::pages::Pages;
use crate::parameter::MAX_PARAMETERS;
use crate::remarks::{Remarks, Severity, Spot, shown};
use crate::tokens::Tokens;
use crate::track::parameter_name;
use crate::xml::{Name, Node, Root, Tag, Xml};

/// The namespace from version 1.6 on.
pub const NAMESPACE: &str = "urn:ebu:metadata-schema:ebucore";

/// Namespaces of older versions.
pub const OLDER: [&str; 2] = [
    "urn:ebu:metadata-schema:ebuCore_2014",
    "urn:ebu:metadata-schema:ebuCore_2015",
];

/// Elements that lead to acquisition data, each inside the one before.
const PATH: [Name; 4] = [
    Name::Main,
    Name::CoreMetadata,
    Name::Format,
    Name::AcquisitionData,
];

/// Where a line of segments begins.
pub struct Block {
    /// The parameter whose segments follow; none for segments with parameters.
    pub parameter: Option<String>,
    /// The parameter's own unit.
    pub unit: Option<String>,
    /// Offset of its tag.
    pub at: u64,
    /// What prefixes mean there.
    pub names: NamespaceResolver,
    /// Namespace of the document.
    pub namespace: Rc<str>,
}

/// Time code at which the extraction starts.
#[derive(Debug, Clone)]
pub struct Start {
    /// As it stands.
    pub text: String,
    /// Whether labels are left out, if that is said.
    pub drop: Option<bool>,
    /// Rate of the time code, if that is said.
    pub rate: Option<FrameRate>,
    /// Its tag.
    pub spot: Spot,
}

/// One `acquisitionData`.
#[derive(Default)]
pub struct Acquisition {
    /// Its tag.
    pub spot: Spot,
    /// Start of the extraction.
    pub start: Option<Start>,
    /// Frames a second, and where that stands.
    pub rate: Option<(FrameRate, Spot)>,
    /// Lines of segments.
    pub blocks: Vec<Block>,
    /// Why the file cannot be read to its end.
    pub damage: Option<Failure>,
}

/// See the module.
pub struct Document {
    pages: Rc<Pages>,
    xml: Xml,
    /// How many elements of [`PATH`] are open.
    matched: usize,
    ended: bool,
}

impl Document {
    /// The document in a file.
    pub fn new(pages: &Rc<Pages>) -> Self {
        Document {
            pages: Rc::clone(pages),
            xml: Xml::document(pages),
            matched: 0,
            ended: false,
        }
    }

    /// The next acquisition data, from front to end.
    pub fn next(&mut self, remarks: &mut Remarks) -> Result<Option<Acquisition>, Failure> {
        while !self.ended {
            match self.xml.next()? {
                Node::End => self.ended = true,
                Node::Close => self.matched = self.matched.min(self.xml.depth()),
                Node::Open(tag) => {
                    let depth = self.xml.depth() - usize::from(!tag.empty);
                    if depth == 0 {
                        self.check_root(&tag, remarks)?;
                    }
                    if depth != self.matched || PATH.get(depth) != Some(&tag.name) {
                        continue;
                    }
                    if tag.name == Name::AcquisitionData {
                        return self.acquisition(tag, remarks).map(Some);
                    }
                    self.matched += usize::from(!tag.empty);
                }
            }
        }
        Ok(None)
    }

    fn check_root(&self, tag: &Tag, remarks: &mut Remarks) -> Result<(), Failure> {
        let Some(Root { namespace, local }) = self.xml.root() else {
            return Ok(());
        };
        if local != "ebuCoreMain" {
            return Err(tag.spot.failure(
                format!(
                    "this is XML, but no EBUCore: the root element is '{}'",
                    shown(local)
                ),
                "expected ebuCoreMain; name another format with --from",
            ));
        }
        if OLDER.contains(&&**namespace) {
            remarks.add(
                Severity::Warning,
                "version-older",
                "",
                || format!("the document has the namespace of an older version, '{namespace}'"),
                "its acquisition data was read by the rules of 1.10",
                &tag.spot,
            );
        } else if namespace != NAMESPACE {
            return Err(tag.spot.failure(
                format!("ebuCoreMain is in the namespace '{}'", shown(namespace)),
                format!("EBUCore is in '{NAMESPACE}'"),
            ));
        }
        Ok(())
    }

    fn acquisition(&mut self, tag: Tag, remarks: &mut Remarks) -> Result<Acquisition, Failure> {
        let mut found = Acquisition {
            spot: tag.spot,
            ..Acquisition::default()
        };
        if tag.empty {
            return Ok(found);
        }
        if let Err(failure) = self.children(&mut found, remarks) {
            self.ended = true;
            // What is there is read before the defect is told.
            if found.rate.is_none() || found.blocks.is_empty() {
                return Err(failure);
            }
            found.damage = Some(failure);
        }
        Ok(found)
    }

    fn children(&mut self, found: &mut Acquisition, remarks: &mut Remarks) -> Result<(), Failure> {
        let outer = self.xml.depth();
        let mut by_parameter = false;
        loop {
            match self.xml.next()? {
                Node::End => return Ok(()),
                Node::Close => {
                    if self.xml.depth() < outer {
                        return Ok(());
                    }
                    if self.xml.depth() == outer {
                        by_parameter = false;
                    }
                }
                Node::Open(tag) => {
                    let depth = self.xml.depth() - usize::from(!tag.empty);
                    match tag.name {
                        Name::StartTime if depth == outer => {
                            found.start = Some(self.start(tag)?);
                        }
                        Name::FrameRate if depth == outer => {
                            let rate = self.frame_rate(&tag, remarks)?;
                            found.rate = Some((rate, tag.spot));
                        }
                        Name::ByParameter if depth == outer => by_parameter = !tag.empty,
                        Name::BySegment if depth == outer => self.block(found, &tag, None)?,
                        Name::Parameter if depth == outer + 1 && by_parameter && !tag.empty => {
                            if let Some(name) = parameter_name(&tag, remarks) {
                                self.block(found, &tag, Some(name))?;
                                tell_outer_unit(&tag, remarks);
                            }
                        }
                        _ => {}
                    }
                }
            }
        }
    }

    fn block(
        &self,
        found: &mut Acquisition,
        tag: &Tag,
        parameter: Option<String>,
    ) -> Result<(), Failure> {
        if found.blocks.len() >= MAX_PARAMETERS {
            return Err(tag.spot.failure(
                format!("there are more than {MAX_PARAMETERS} parameters"),
                "no document has so many; the file may be damaged",
            ));
        }
        found.blocks.push(Block {
            unit: parameter
                .as_ref()
                .and_then(|_| tag.attribute("unit").map(str::to_owned)),
            parameter,
            at: tag.spot.at,
            names: self.xml.names(),
            namespace: self.xml.namespace(),
        });
        Ok(())
    }

    fn text(&self, tag: &Tag, what: &str) -> Result<String, Failure> {
        Tokens::new(&self.pages, tag.inside, tag.empty, what.into()).joined()
    }

    fn start(&self, tag: Tag) -> Result<Start, Failure> {
        let rate = tag.attribute("editRate").and_then(|rate| {
            let rate: u64 = rate.trim_ascii().parse().ok()?;
            rational((rate, 1), &tag)
        });
        Ok(Start {
            text: self.text(&tag, "extractionStartTime")?,
            drop: match tag.attribute("dropframe").map(str::trim_ascii) {
                Some("true" | "1") => Some(true),
                Some("false" | "0") => Some(false),
                _ => None,
            },
            rate,
            spot: tag.spot,
        })
    }

    fn frame_rate(&self, tag: &Tag, remarks: &mut Remarks) -> Result<FrameRate, Failure> {
        let text = self.text(tag, "acquisitionFrameRate")?;
        let whole = text.parse::<u64>().ok().map(|rate| (rate, 1));
        let rate = whole.or_else(|| {
            let rate = FrameRate::parse(&text).ok()?;
            Some((rate.num().into(), rate.den().into()))
        });
        let rate = rate.and_then(|rate| rational(rate, tag)).ok_or_else(|| {
            tag.spot.failure(
                format!(
                    "acquisitionFrameRate is '{}' times {}/{}: no rate above 0",
                    shown(&text),
                    shown(tag.attribute("factorNumerator").unwrap_or("1")),
                    shown(tag.attribute("factorDenominator").unwrap_or("1"))
                ),
                "29.97 frames a second are 30 with factorNumerator 1000 and factorDenominator 1001",
            )
        })?;
        if whole.is_none() {
            remarks.add(
                Severity::Warning,
                "rate-not-whole",
                "",
                || {
                    format!(
                        "acquisitionFrameRate is '{}', and the standard has whole numbers",
                        shown(&text)
                    )
                },
                &format!("it was read as {rate}"),
                &tag.spot,
            );
        }
        Ok(rate)
    }
}

/// A rate times the factors of its tag.
fn rational(rate: (u64, u64), tag: &Tag) -> Option<FrameRate> {
    let factor = |name| match tag.attribute(name) {
        Some(text) => text.trim_ascii().parse::<u32>().ok(),
        None => Some(1),
    };
    let num = rate.0.checked_mul(factor("factorNumerator")?.into())?;
    let den = rate.1.checked_mul(factor("factorDenominator")?.into())?;
    let (mut a, mut b) = (num, den);
    while b > 0 {
        (a, b) = (b, a % b);
    }
    let part = |value: u64| u32::try_from(value.checked_div(a)?).ok();
    FrameRate::new(part(num)?, part(den)?).ok()
}

fn tell_outer_unit(tag: &Tag, remarks: &mut Remarks) {
    if tag.attribute("unit").is_some() {
        remarks.add(
            Severity::Warning,
            "unit-misplaced",
            "",
            || {
                "a parameter has the unit attribute, which the standard puts on its segments"
                    .to_owned()
            },
            "it was read as the unit of all its segments",
            &tag.spot,
        );
    }
}
