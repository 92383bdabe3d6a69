//! Elements of the file one by one, in their namespace, with nesting and sizes limited. Texts are
//! passed over without being held: whoever wants one reads it from where it starts.

use std::io::BufRead;
use std::rc::Rc;

use quick_xml::XmlVersion;
use quick_xml::errors::{Error, IllFormedError};
use quick_xml::events::{BytesStart, Event};
use quick_xml::name::{NamespaceResolver, ResolveResult};
use quick_xml::reader::Reader;
use ringmark_sdk::Failure;

use crate::pages::{Cursor, Pages};
use crate::remarks::{Spot, shown};

/// Elements inside one another.
const MAX_DEPTH: usize = 64;

/// Bytes of one tag or comment.
const MAX_MARKUP: usize = 1 << 20;

/// Bytes passed over at a time.
const STEP: usize = 1 << 20;

/// Elements that mean something here.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Name {
    /// `ebuCoreMain`.
    Main,
    /// `coreMetadata`.
    CoreMetadata,
    /// `format`.
    Format,
    /// `acquisitionData`.
    AcquisitionData,
    /// `extractionStartTime`.
    StartTime,
    /// `acquisitionFrameRate`.
    FrameRate,
    /// `parameterSegmentDataOutput`.
    ByParameter,
    /// `segmentParameterDataOutput`.
    BySegment,
    /// `parameter`.
    Parameter,
    /// `segment`.
    Segment,
    /// Any other.
    Other,
}

fn named(local: &str) -> Name {
    match local {
        "ebuCoreMain" => Name::Main,
        "coreMetadata" => Name::CoreMetadata,
        "format" => Name::Format,
        "acquisitionData" => Name::AcquisitionData,
        "extractionStartTime" => Name::StartTime,
        "acquisitionFrameRate" => Name::FrameRate,
        "parameterSegmentDataOutput" => Name::ByParameter,
        "segmentParameterDataOutput" => Name::BySegment,
        "parameter" => Name::Parameter,
        "segment" => Name::Segment,
        _ => Name::Other,
    }
}

/// The beginning of an element.
#[derive(Debug, Clone)]
pub struct Tag {
    /// What it is.
    pub name: Name,
    /// Its tag.
    pub spot: Spot,
    /// Offset of its content.
    pub inside: u64,
    /// Whether it has no content and no end.
    pub empty: bool,
    attributes: Vec<(String, String)>,
}

impl Tag {
    /// Value of an attribute.
    pub fn attribute(&self, name: &str) -> Option<&str> {
        let found = self.attributes.iter().find(|(known, _)| known == name)?;
        Some(&found.1)
    }
}

/// What comes next.
#[derive(Debug)]
pub enum Node {
    /// An element begins. An empty one has no [`Node::Close`].
    Open(Tag),
    /// The element opened last ends.
    Close,
    /// The file ends.
    End,
}

/// Namespace and local name of the root element.
#[derive(Debug)]
pub struct Root {
    /// Namespace; empty for none.
    pub namespace: String,
    /// Name without prefix.
    pub local: String,
}

/// See the module.
pub struct Xml {
    reader: Reader<Cursor>,
    /// Offset of the reader's first byte.
    base: u64,
    buffer: Vec<u8>,
    names: NamespaceResolver,
    /// Namespace of the elements that mean something: the root's.
    namespace: Rc<str>,
    depth: usize,
    root: Option<Root>,
}

impl Xml {
    /// The whole file.
    pub fn document(pages: &Rc<Pages>) -> Self {
        Self::at(pages, pages.start, NamespaceResolver::default(), "".into())
    }

    /// From the tag at `offset` on, where `names` hold.
    pub fn at(
        pages: &Rc<Pages>,
        offset: u64,
        names: NamespaceResolver,
        namespace: Rc<str>,
    ) -> Self {
        Xml {
            reader: Reader::from_reader(Cursor::new(pages, offset)),
            base: offset,
            buffer: Vec::new(),
            names,
            namespace,
            depth: 0,
            root: None,
        }
    }

    /// Open elements.
    pub fn depth(&self) -> usize {
        self.depth
    }

    /// The root element, once it was opened.
    pub fn root(&self) -> Option<&Root> {
        self.root.as_ref()
    }

    /// What prefixes mean inside the element that was opened last.
    pub fn names(&self) -> NamespaceResolver {
        self.names.clone()
    }

    /// Namespace of the elements that mean something.
    pub fn namespace(&self) -> Rc<str> {
        Rc::clone(&self.namespace)
    }

    fn offset(&self) -> u64 {
        self.base + self.reader.buffer_position()
    }

    /// What comes next.
    pub fn next(&mut self) -> Result<Node, Failure> {
        loop {
            let text = self.pass_text()?;
            let start = self.offset();
            if text && self.depth == 0 {
                return Err(Spot::point(start).failure(
                    "there is text outside of the root element",
                    "this is no XML document",
                ));
            }
            self.buffer.clear();
            self.reader.get_mut().allow(MAX_MARKUP);
            let mut buffer = std::mem::take(&mut self.buffer);
            let node = match self.reader.read_event_into(&mut buffer) {
                Ok(Event::Start(tag)) => self.open(&tag, start, false).map(Some),
                Ok(Event::Empty(tag)) => self.open(&tag, start, true).map(Some),
                Ok(Event::End(_)) => {
                    self.names.pop();
                    self.depth = self.depth.saturating_sub(1);
                    Ok(Some(Node::Close))
                }
                Ok(Event::Eof) if self.depth > 0 => Err(Spot::point(start).failure(
                    "the file ends before its elements do",
                    "it was cut off; get a complete copy",
                )),
                Ok(Event::Eof) => Ok(Some(Node::End)),
                Ok(Event::DocType(_)) => Err(Spot {
                    at: start,
                    length: self.offset() - start,
                    field: String::new(),
                }
                .failure(
                    "the file has a document type declaration (DOCTYPE), which is not read",
                    "remove it: EBUCore needs none, and entities it declares are never expanded",
                )),
                Ok(Event::Decl(declaration)) => match declaration.encoding() {
                    Some(Ok(encoding)) if !is_utf8(&encoding) => Err(Spot::point(start).failure(
                        format!("the file is in the encoding '{}'", shown(&encoding)),
                        "save it as UTF-8",
                    )),
                    _ => Ok(None),
                },
                Ok(_) => Ok(None),
                Err(error) => Err(self.failure(&error)),
            };
            self.buffer = buffer;
            if let Some(node) = node? {
                return Ok(node);
            }
        }
    }

    /// Passes over text; whether there was any that is not white space.
    fn pass_text(&mut self) -> Result<bool, Failure> {
        let mut any = false;
        loop {
            let offset = self.offset();
            self.reader.get_mut().allow(STEP);
            let mut stream = self.reader.stream();
            let bytes = stream.fill_buf().map_err(|error| {
                Spot::point(offset).failure(format!("cannot read on: {error}"), "")
            })?;
            let found = bytes.iter().position(|b| *b == b'<');
            let count = found.unwrap_or(bytes.len());
            any |= !bytes[..count].trim_ascii().is_empty();
            let ended = found.is_some() || bytes.is_empty();
            stream.consume(count);
            if ended {
                return Ok(any);
            }
        }
    }

    fn open(&mut self, start: &BytesStart<'_>, at: u64, empty: bool) -> Result<Node, Failure> {
        let inside = self.offset();
        let spot = Spot {
            at,
            length: inside - at,
            field: String::new(),
        };
        if self.depth >= MAX_DEPTH {
            return Err(spot.failure(
                format!("elements are nested deeper than {MAX_DEPTH} levels"),
                "no EBUCore document is; the file may be damaged",
            ));
        }
        if self.depth == 0 && self.root.is_some() {
            return Err(spot.failure(
                "there is more than one root element",
                "this is no XML document",
            ));
        }
        self.names
            .push(start)
            .map_err(|error| spot.failure(format!("broken XML: {error}"), ""))?;
        let (resolved, local) = self.names.resolve_element(start.name());
        let namespace = match &resolved {
            ResolveResult::Bound(namespace) => namespace.0,
            ResolveResult::Unbound => "",
            ResolveResult::Unknown(prefix) => {
                return Err(spot.failure(
                    format!("the prefix '{}' is not declared", shown(prefix)),
                    "every prefix needs its xmlns attribute",
                ));
            }
        };
        if self.root.is_none() {
            self.root = Some(Root {
                namespace: namespace.to_owned(),
                local: local.as_ref().to_owned(),
            });
            if self.namespace.is_empty() {
                self.namespace = namespace.into();
            }
        }
        let name = if namespace == &*self.namespace {
            named(local.as_ref())
        } else {
            Name::Other
        };
        let attributes = match name {
            Name::Other => Vec::new(),
            _ => attributes(start, &spot)?,
        };
        if empty {
            self.names.pop();
        } else {
            self.depth += 1;
        }
        Ok(Node::Open(Tag {
            name,
            spot,
            inside,
            empty,
            attributes,
        }))
    }

    fn failure(&self, error: &Error) -> Failure {
        let at = match self.reader.error_position() {
            0 => self.offset(),
            at => self.base + at,
        };
        let spot = Spot::point(at);
        if self.reader.get_ref().spent() {
            return Spot::point(self.offset()).failure(
                "a tag or comment is longer than 1 MiB",
                "no EBUCore document has one; the file may be damaged",
            );
        }
        match error {
            Error::Syntax(error) => spot.failure(
                format!("broken XML: {error}"),
                "the file was cut off or damaged; get a complete copy",
            ),
            Error::IllFormed(IllFormedError::MismatchedEndTag { expected, found }) => spot.failure(
                format!(
                    "broken XML: </{}> where </{}> was expected",
                    shown(found),
                    shown(expected)
                ),
                "the file was cut off or damaged; get a complete copy",
            ),
            Error::Encoding(_) => Spot::point(self.offset()).failure(
                "there is a byte that is no UTF-8 in the tag that ends here",
                "save the file as UTF-8",
            ),
            other => spot.failure(
                format!("broken XML: {other}"),
                "the file was cut off or damaged; get a complete copy",
            ),
        }
    }
}

fn attributes(start: &BytesStart<'_>, spot: &Spot) -> Result<Vec<(String, String)>, Failure> {
    let mut all = Vec::new();
    for attribute in start.attributes() {
        let attribute =
            attribute.map_err(|error| spot.failure(format!("broken XML in a tag: {error}"), ""))?;
        let value = attribute
            .normalized_value(XmlVersion::Implicit1_0)
            .map_err(|error| {
                spot.failure(
                    format!("the attribute {}: {error}", shown(attribute.key.as_ref())),
                    "only &lt; &gt; &amp; &quot; &apos; and numbers such as &#181; are read",
                )
            })?;
        all.push((attribute.key.as_ref().to_owned(), value.into_owned()));
    }
    Ok(all)
}

/// Encodings whose bytes are UTF-8.
fn is_utf8(encoding: &str) -> bool {
    ["utf-8", "utf8", "us-ascii", "ascii"]
        .iter()
        .any(|known| known.eq_ignore_ascii_case(encoding))
}
