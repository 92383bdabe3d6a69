//! Properties to the text of an XMP packet: RDF/XML, properties as elements, in a fixed order.

use std::collections::BTreeSet;
use std::fmt::Write;

use quick_xml::escape::partial_escape;

use crate::node::{META, Name, Node, OWN, Order, PREFIXES, RDF, Value};

/// The start of the wrapper; its id is the same in every packet of the world.
const BEGIN: &str = "<?xpacket begin=\"\u{feff}\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n";

/// The text of a packet with these properties.
pub fn text(mut properties: Vec<(Name, Node)>) -> String {
    properties.sort_by(|(a, _), (b, _)| a.rank().cmp(&b.rank()));
    let names = Prefixes::of(&properties);
    let mut out = String::from(BEGIN);
    let _ = write!(
        out,
        "<x:xmpmeta xmlns:x=\"{META}\">\n <rdf:RDF xmlns:rdf=\"{RDF}\">\n  <rdf:Description rdf:about=\"\""
    );
    for (prefix, uri) in &names.0 {
        let _ = write!(out, "\n    xmlns:{prefix}=\"{}\"", attribute(uri));
    }
    out.push_str(">\n");
    for (name, node) in &properties {
        write_node(&mut out, &names.tag(name), node, &names, 3);
    }
    out.push_str("  </rdf:Description>\n </rdf:RDF>\n</x:xmpmeta>\n<?xpacket end=\"w\"?>\n");
    out
}

/// Prefix and URI of each namespace that is used.
struct Prefixes(Vec<(String, String)>);

impl Prefixes {
    fn of(properties: &[(Name, Node)]) -> Self {
        let mut used = BTreeSet::new();
        for (name, node) in properties {
            used.insert(name.uri.clone());
            collect(node, &mut used);
        }
        used.remove(RDF);
        let mut prefixes = Vec::new();
        for (prefix, uri) in PREFIXES.iter().chain(&[("ringmark", OWN)]) {
            if used.remove(*uri) {
                prefixes.push(((*prefix).to_owned(), (*uri).to_owned()));
            }
        }
        let others = used.into_iter().enumerate();
        prefixes.extend(others.map(|(index, uri)| (format!("ns{}", index + 1), uri)));
        Prefixes(prefixes)
    }

    fn tag(&self, name: &Name) -> String {
        let known = self.0.iter().find(|(_, uri)| *uri == name.uri);
        let prefix = known.map_or("rdf", |(prefix, _)| prefix);
        format!("{prefix}:{}", name.local)
    }
}

fn collect(node: &Node, used: &mut BTreeSet<String>) {
    match &node.value {
        Value::Text(_) | Value::Uri(_) => {}
        Value::Array(_, items) => items.iter().for_each(|item| collect(item, used)),
        Value::Struct(fields) => {
            for (name, field) in fields {
                used.insert(name.uri.clone());
                collect(field, used);
            }
        }
    }
}

fn write_node(out: &mut String, tag: &str, node: &Node, names: &Prefixes, depth: usize) {
    // Writing to a String cannot fail.
    let indent = " ".repeat(depth);
    let _ = write!(out, "{indent}<{tag}");
    if let Some(lang) = &node.lang {
        let _ = write!(out, " xml:lang=\"{}\"", attribute(lang));
    }
    match &node.value {
        Value::Text(text) => {
            let _ = writeln!(out, ">{}</{tag}>", partial_escape(text.as_str()));
        }
        Value::Uri(uri) => {
            let _ = writeln!(out, " rdf:resource=\"{}\"/>", attribute(uri));
        }
        Value::Array(order, items) => {
            let list = Order::ALL.iter().find(|(o, ..)| o == order);
            let list = list.map_or("Seq", |(_, name, _)| *name);
            let _ = writeln!(out, ">\n{indent} <rdf:{list}>");
            for item in items {
                write_node(out, "rdf:li", item, names, depth + 2);
            }
            let _ = writeln!(out, "{indent} </rdf:{list}>\n{indent}</{tag}>");
        }
        Value::Struct(fields) => {
            out.push_str(" rdf:parseType=\"Resource\">\n");
            for (name, field) in fields {
                write_node(out, &names.tag(name), field, names, depth + 1);
            }
            let _ = writeln!(out, "{indent}</{tag}>");
        }
    }
}

/// Text of an attribute: white space other than blanks would be read as blanks.
fn attribute(text: &str) -> String {
    partial_escape(text)
        .replace('"', "&quot;")
        .replace('\n', "&#10;")
        .replace('\t', "&#9;")
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::rdf::properties;
    use crate::xml::parse;

    #[test]
    fn every_value_reads_back() {
        let name = |uri: &str, local: &str| Name::new(uri, local);
        let hard = " <a & \"b\"'>\r\n\t]]> é \u{10ffff} ";
        let node = Node {
            lang: Some("a\"\n\t\r<&b".into()),
            value: Value::Text(hard.into()),
        };
        let list = Value::Array(Order::Bag, vec![node.clone(), Node::text("")]);
        let fields = Value::Struct(vec![
            (name(RDF, "value"), Node::text("v")),
            (name("u:\"&", "f"), list.clone().into()),
        ]);
        let mut written = vec![
            (name("u:z", "z"), Value::Uri(hard.into()).into()),
            (name(PREFIXES[1].1, "b"), node),
            (name(PREFIXES[1].1, "a"), list.into()),
            (name(PREFIXES[0].1, "c"), Value::Struct(Vec::new()).into()),
            (name(OWN, "o"), fields.into()),
        ];
        let text = text(written.clone());
        let read = properties(&parse(&text).unwrap()).unwrap();
        let read: Vec<_> = read
            .into_iter()
            .map(|p| (p.name, p.node.unwrap()))
            .collect();
        written.sort_by(|(a, _), (b, _)| a.rank().cmp(&b.rank()));
        assert_eq!(read, written, "{text}");
        let order: Vec<_> = read.iter().map(|(name, _)| name.local.as_str()).collect();
        assert_eq!(order, ["c", "a", "b", "z", "o"]);
    }
}
