//! XML to a small tree. Entities beyond the five of XML itself and character references do not
//! exist here, a document type is refused, depth and sizes are limited.

use std::borrow::Cow;

use quick_xml::XmlVersion;
use quick_xml::escape::{resolve_predefined_entity, unescape};
use quick_xml::events::{BytesStart, Event};
use quick_xml::name::{PrefixDeclaration, ResolveResult};
use quick_xml::reader::NsReader;

use crate::node::{Name, is_xml_char};

/// Bytes of the largest document: packets with embedded previews stay below.
pub const MOST_BYTES: u64 = 8 << 20;
/// Elements inside one another; XMP needs a dozen.
const MOST_DEPTH: usize = 64;
/// Elements and attributes together.
const MOST_PARTS: usize = 200_000;

/// An element.
#[derive(Debug, Clone, PartialEq)]
pub struct Element {
    /// Its name.
    pub name: Name,
    /// Attributes without namespace declarations. The namespace is empty where there is no prefix.
    pub attributes: Vec<(Name, String)>,
    /// Text directly inside.
    pub text: String,
    /// Elements directly inside.
    pub children: Vec<Element>,
    /// Offset of its start tag in the text, and bytes of that tag.
    pub at: (usize, usize),
}

/// What is wrong with a document.
#[derive(Debug, Clone, PartialEq)]
pub struct Damage {
    /// Offset in the document's text.
    pub at: usize,
    /// What is wrong.
    pub message: String,
    /// What to do.
    pub help: &'static str,
}

const AGAIN: &str = "the file is damaged: write it again";

fn damage<T>(at: usize, message: impl Into<String>, help: &'static str) -> Result<T, Damage> {
    Err(Damage {
        at,
        message: message.into(),
        help,
    })
}

/// The text of a document in UTF-8 or UTF-16 with a byte order mark, and whether offsets in the
/// text are offsets in the bytes.
pub fn decode(bytes: &[u8]) -> Result<(Cow<'_, str>, bool), Damage> {
    let wide = match bytes {
        [0xff, 0xfe, rest @ ..] => Some((rest, u16::from_le_bytes as fn([u8; 2]) -> u16)),
        [0xfe, 0xff, rest @ ..] => Some((rest, u16::from_be_bytes as fn([u8; 2]) -> u16)),
        _ => None,
    };
    if let Some((rest, join)) = wide {
        let (pairs, odd) = rest.as_chunks::<2>();
        let units = pairs.iter().map(|pair| join(*pair));
        let text: Result<String, _> = char::decode_utf16(units).collect();
        return match text {
            Ok(text) if odd.is_empty() => Ok((Cow::Owned(text), false)),
            _ => damage(
                0,
                "the text is no UTF-16, though its byte order mark says so",
                AGAIN,
            ),
        };
    }
    match std::str::from_utf8(bytes) {
        Ok(text) => Ok((Cow::Borrowed(text), true)),
        Err(error) => {
            let at = error.valid_up_to();
            let byte = bytes.get(at).copied().unwrap_or_default();
            damage(
                at,
                format!("byte {byte:#04x} is no UTF-8"),
                "write XMP as UTF-8, or as UTF-16 with a byte order mark",
            )
        }
    }
}

/// The root element of a document.
pub fn parse(text: &str) -> Result<Element, Damage> {
    let start = text.len() - text.trim_start_matches('\u{feff}').len();
    let body = text[start..].trim_end_matches('\0');
    if let Some((at, c)) = body.char_indices().find(|(_, c)| !is_xml_char(*c)) {
        let message = format!("XML cannot hold the character U+{:04X}", c as u32);
        return damage(start + at, message, AGAIN);
    }
    let mut reader = NsReader::from_str(body);
    let mut open: Vec<Element> = Vec::new();
    let mut root = None;
    let mut parts = 0;
    loop {
        let before = start + reader.buffer_position() as usize;
        let event = reader.read_event();
        let after = start + reader.buffer_position() as usize;
        let event = match event {
            Ok(event) => event,
            Err(error) => {
                let at = start + reader.error_position() as usize;
                return damage(at, format!("no well-formed XML: {error}"), AGAIN);
            }
        };
        match event {
            Event::Start(tag) => {
                let element = element(&reader, &tag, (before, after - before), &mut parts)?;
                if open.len() >= MOST_DEPTH {
                    let message = format!("more than {MOST_DEPTH} elements inside one another");
                    return damage(
                        before,
                        message,
                        "XMP needs no such depth: write the file again",
                    );
                }
                open.push(element);
            }
            Event::Empty(tag) => {
                let element = element(&reader, &tag, (before, after - before), &mut parts)?;
                close(element, &mut open, &mut root, before)?;
            }
            Event::End(_) => {
                if let Some(element) = open.pop() {
                    close(element, &mut open, &mut root, before)?;
                }
            }
            Event::Text(text) => add_text(&text.xml10_content(), &mut open, before)?,
            Event::CData(text) => add_text(&text.xml10_content(), &mut open, before)?,
            Event::GeneralRef(reference) => {
                let text = match reference.resolve_char_ref() {
                    Ok(Some(c)) if is_xml_char(c) => Some(c.to_string()),
                    Ok(None) => resolve_predefined_entity(&reference).map(str::to_owned),
                    _ => None,
                };
                let Some(text) = text else {
                    return unknown_entity(&reference, before);
                };
                add_text(&text, &mut open, before)?;
            }
            Event::DocType(_) => {
                return damage(
                    before,
                    "a document type (DOCTYPE) is not allowed in XMP",
                    "remove it: entities that a file declares are never expanded",
                );
            }
            Event::Comment(_) | Event::PI(_) | Event::Decl(_) => {}
            Event::Eof => break,
        }
    }
    if let Some(element) = open.last() {
        let message = format!("the file ends inside the element {}", element.name.local);
        return damage(
            start + body.len(),
            message,
            "the file was cut off: copy it again",
        );
    }
    match root {
        Some(root) => Ok(root),
        None => damage(start, "there is no XML element", "this is no XMP"),
    }
}

fn unknown_entity<T>(name: &str, at: usize) -> Result<T, Damage> {
    damage(
        at,
        format!("the entity &{name}; does not exist in XMP"),
        "write the character itself",
    )
}

fn add_text(text: &str, open: &mut [Element], at: usize) -> Result<(), Damage> {
    match open.last_mut() {
        Some(element) => element.text.push_str(text),
        None if text.trim().is_empty() => {}
        None => return damage(at, "there is text outside of all elements", AGAIN),
    }
    Ok(())
}

fn close(
    element: Element,
    open: &mut [Element],
    root: &mut Option<Element>,
    at: usize,
) -> Result<(), Damage> {
    match open.last_mut() {
        Some(parent) => parent.children.push(element),
        None if root.is_none() => *root = Some(element),
        None => return damage(at, "there is a second root element", AGAIN),
    }
    Ok(())
}

fn element(
    reader: &NsReader<&[u8]>,
    tag: &BytesStart<'_>,
    at: (usize, usize),
    parts: &mut usize,
) -> Result<Element, Damage> {
    let resolver = reader.resolver();
    let full = |resolved: ResolveResult<'_>, local: &str| match resolved {
        ResolveResult::Bound(uri) => match unescape(uri.as_ref()) {
            Ok(uri) if uri.chars().all(is_xml_char) => Ok(Name::new(uri, local)),
            _ => damage(at.0, "a namespace is no text that XML can hold", AGAIN),
        },
        ResolveResult::Unbound => Ok(Name::new("", local)),
        ResolveResult::Unknown(prefix) => {
            damage(at.0, format!("the prefix {prefix} is not declared"), AGAIN)
        }
    };
    let (resolved, local) = resolver.resolve_element(tag.name());
    let name = full(resolved, local.as_ref())?;
    let mut attributes = Vec::new();
    for attribute in tag.attributes() {
        let attribute = match attribute {
            Ok(attribute) => attribute,
            Err(error) => return damage(at.0, format!("no well-formed XML: {error}"), AGAIN),
        };
        *parts += 1;
        if let Some(declared) = attribute.key.as_namespace_binding() {
            let (PrefixDeclaration::Default | PrefixDeclaration::Named(_)) = declared;
            continue;
        }
        let (resolved, local) = resolver.resolve_attribute(attribute.key);
        let value = match attribute.normalized_value(XmlVersion::Explicit1_0) {
            Ok(value) if value.chars().all(is_xml_char) => value.into_owned(),
            Ok(_) => {
                return damage(
                    at.0,
                    "a reference to a character that XML cannot hold",
                    AGAIN,
                );
            }
            Err(error) => {
                let help = "write the characters themselves";
                return damage(at.0, format!("{}: {error}", local.as_ref()), help);
            }
        };
        attributes.push((full(resolved, local.as_ref())?, value));
    }
    *parts += 1;
    if *parts > MOST_PARTS {
        let message = format!("more than {MOST_PARTS} elements and attributes");
        return damage(at.0, message, "remove what nobody needs from the file");
    }
    Ok(Element {
        name,
        attributes,
        text: String::new(),
        children: Vec::new(),
        at,
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn elements_attributes_and_references() {
        let root = parse(
            "\u{feff}<?x?><a xmlns='u' xmlns:p='v' p:b='1&#x41;&lt;' c='2'>\r\n&amp;&#13;<p:d/><![CDATA[<]]><!-- x --></a>\n",
        )
        .unwrap();
        assert_eq!(root.name, Name::new("u", "a"));
        assert_eq!(
            root.attributes,
            [
                (Name::new("v", "b"), "1A<".to_owned()),
                (Name::new("", "c"), "2".to_owned())
            ]
        );
        assert_eq!(root.text, "\n&\r<");
        assert_eq!(root.children[0].name, Name::new("v", "d"));
    }

    #[test]
    fn prefixes_are_free() {
        let root = parse("<q:a xmlns:q='u'><r:b xmlns:r='u' r:c=''/></q:a>").unwrap();
        assert_eq!(root.children[0].name, Name::new("u", "b"));
        assert_eq!(root.children[0].attributes[0].0, Name::new("u", "c"));
    }

    #[test]
    fn what_is_refused() {
        let deep = "<a>".repeat(20_000);
        let many = format!("<a>{}</a>", "<b/>".repeat(MOST_PARTS));
        for (text, says) in [
            ("", "no XML element"),
            ("<a>", "ends inside the element a"),
            ("<a></b>", "no well-formed XML"),
            ("<a/><b/>", "second root"),
            ("<a/>x", "outside of all elements"),
            ("<!DOCTYPE a [<!ENTITY e 'x'>]><a>&e;</a>", "DOCTYPE"),
            ("<a>&e;</a>", "&e; does not exist"),
            ("<a b='&e;'/>", "b: "),
            ("<a>&#0;</a>", "&#0;"),
            ("<a>&#1;</a>", "&#1;"),
            ("<a b='&#1;'/>", "XML cannot hold"),
            ("<a>\u{1}</a>", "U+0001"),
            ("<p:a/>", "prefix"),
            ("<a b='1' b='2'/>", "no well-formed XML"),
            ("<a", "no well-formed XML"),
            (deep.as_str(), "64 elements inside"),
            (many.as_str(), "200000 elements"),
        ] {
            let damage = parse(text).unwrap_err();
            assert!(damage.message.contains(says), "{}", damage.message);
            assert!(damage.at <= text.len());
        }
    }

    #[test]
    fn utf_16_is_read_and_other_codings_are_not() {
        let text = "<a>é\u{10000}</a>";
        let units: Vec<u16> = text.encode_utf16().collect();
        let little: Vec<u8> = [0xff, 0xfe]
            .into_iter()
            .chain(units.iter().flat_map(|u| u.to_le_bytes()))
            .collect();
        let big: Vec<u8> = [0xfe, 0xff]
            .into_iter()
            .chain(units.iter().flat_map(|u| u.to_be_bytes()))
            .collect();
        for bytes in [little.as_slice(), &big] {
            assert_eq!(decode(bytes).unwrap(), (Cow::from(text), false));
            assert!(decode(&bytes[..bytes.len() - 1]).is_err());
        }
        let latin = decode(b"<a>\xe9</a>").unwrap_err();
        assert_eq!(latin.at, 3);
        assert!(latin.help.contains("UTF-8"));
    }
}
