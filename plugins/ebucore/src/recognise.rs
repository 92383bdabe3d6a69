//! Whether a file is an EBUCore document, by its root element.

use quick_xml::events::Event;
use quick_xml::name::{NamespaceResolver, ResolveResult};
use quick_xml::reader::Reader;

use crate::document::{NAMESPACE, OLDER};

/// How sure the first bytes make it. A root element of the right name in a wrong namespace is
/// claimed too, so that the reader can say what is wrong.
pub fn recognise(head: &[u8]) -> u32 {
    let mut reader = Reader::from_reader(head);
    let mut buffer = Vec::new();
    loop {
        buffer.clear();
        let tag = match reader.read_event_into(&mut buffer) {
            Ok(Event::Start(tag) | Event::Empty(tag)) => tag,
            Ok(Event::Eof) | Err(_) => return 0,
            Ok(Event::Text(text)) if !text.as_bytes().trim_ascii().is_empty() => return 0,
            Ok(_) => continue,
        };
        let mut names = NamespaceResolver::default();
        if names.push(&tag).is_err() {
            return 0;
        }
        let (namespace, local) = names.resolve_element(tag.name());
        if local.as_ref() != "ebuCoreMain" {
            return 0;
        }
        return match namespace {
            ResolveResult::Bound(namespace)
                if namespace.0 == NAMESPACE || OLDER.contains(&namespace.0) =>
            {
                95
            }
            _ => 50,
        };
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_root_element_counts() {
        for (head, sure) in [
            (
                "<ebuCoreMain xmlns='urn:ebu:metadata-schema:ebucore' version='1.10'>",
                95,
            ),
            (
                "\u{feff}<?xml version='1.0'?>\n<!-- x -->\n<e:ebuCoreMain xmlns:e=\"urn:ebu:metadata-schema:ebuCore_2015\"/>",
                95,
            ),
            // Refused with a clear error when it is read.
            (
                "<!DOCTYPE x [<!ENTITY a \"b\">]><ebuCoreMain xmlns='urn:ebu:metadata-schema:ebucore'>",
                95,
            ),
            ("<ebuCoreMain xmlns='urn:example:other'>", 50),
            ("<ebuCoreMain>", 50),
            ("<x:ebuCoreMain>", 50),
            (
                "<a xmlns='urn:ebu:metadata-schema:ebucore'><ebuCoreMain>",
                0,
            ),
            ("<ebuCoreMain xmlns='urn:ebu:metadata-sch", 0),
            ("ebuCoreMain", 0),
            ("text <ebuCoreMain>", 0),
            ("", 0),
        ] {
            assert_eq!(recognise(head.as_bytes()), sure, "{head}");
        }
    }
}
