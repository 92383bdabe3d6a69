//! The properties of an XMP packet: the part of RDF/XML that XMP uses (ISO 16684-1).

use crate::node::{META, Name, Node, OWN, Order, RDF, Value, XML};
use crate::xml::{Damage, Element};

/// A property with the place of its tag in the text.
#[derive(Debug, Clone, PartialEq)]
pub struct Property {
    /// Its name.
    pub name: Name,
    /// Its value; an error says why it is passed over.
    pub node: Result<Node, &'static str>,
    /// Offset and length in the text.
    pub at: (usize, usize),
}

/// All properties of the packet, in the order of the file.
pub fn properties(root: &Element) -> Result<Vec<Property>, Damage> {
    let Some(rdf) = find_rdf(root) else {
        return Err(Damage {
            at: root.at.0,
            message: format!("there is no rdf:RDF in the element {}", root.name.local),
            help: "this is XML, but no XMP",
        });
    };
    let mut found = Vec::new();
    for description in &rdf.children {
        if !is_rdf(&description.name, "Description") {
            found.push(Property {
                name: description.name.clone(),
                node: Err("it stands where only rdf:Description can"),
                at: description.at,
            });
            continue;
        }
        for (name, text) in properties_in_attributes(description) {
            found.push(Property {
                name: name.clone(),
                node: Ok(Node::text(text)),
                at: description.at,
            });
        }
        for element in &description.children {
            found.push(Property {
                name: element.name.clone(),
                node: node(element),
                at: element.at,
            });
        }
    }
    Ok(found)
}

fn find_rdf(element: &Element) -> Option<&Element> {
    if is_rdf(&element.name, "RDF") {
        return Some(element);
    }
    // `x:xmpmeta`, or `x:xapmeta` in old files, or what else was wrapped around.
    element.children.iter().find_map(find_rdf)
}

fn is_rdf(name: &Name, local: &str) -> bool {
    name.uri == RDF && name.local == local
}

/// Attributes that are properties: not those of RDF and XML, and not ones without a namespace.
fn properties_in_attributes(element: &Element) -> impl Iterator<Item = &(Name, String)> {
    let other = |uri: &str| !uri.is_empty() && ![RDF, XML, META].contains(&uri);
    element
        .attributes
        .iter()
        .filter(move |(name, _)| other(&name.uri))
}

fn attribute<'a>(element: &'a Element, uri: &str, local: &str) -> Option<&'a str> {
    let mut attributes = element.attributes.iter();
    let found = attributes.find(|(name, _)| name.uri == uri && name.local == local);
    found.map(|(_, value)| value.as_str())
}

/// The value of a property element, or of an item of a list.
fn node(element: &Element) -> Result<Node, &'static str> {
    let lang = attribute(element, XML, "lang").map(str::to_owned);
    let value = value(element)?;
    Ok(Node { lang, value })
}

fn value(element: &Element) -> Result<Value, &'static str> {
    let blank = element.text.trim().is_empty();
    match attribute(element, RDF, "parseType") {
        Some("Resource") if blank => return Ok(Value::Struct(fields(element)?)),
        Some("Resource") => return Err("it mixes text and fields"),
        Some(_) => return Err("its rdf:parseType is not Resource"),
        None => {}
    }
    let mut short = properties_in_attributes(element).peekable();
    let empty = blank && element.children.is_empty();
    if let Some(uri) = attribute(element, RDF, "resource") {
        return match empty && short.peek().is_none() {
            true => Ok(Value::Uri(uri.to_owned())),
            false => Err("it has a link and other values"),
        };
    }
    if short.peek().is_some() {
        if !empty {
            return Err("it has fields as attributes and other values");
        }
        return Ok(Value::Struct(fields(element)?));
    }
    match element.children.as_slice() {
        [] => Ok(Value::Text(element.text.clone())),
        _ if !blank => Err("it mixes text and elements"),
        [inner] if is_rdf(&inner.name, "Description") => {
            if inner.text.trim().is_empty() {
                Ok(Value::Struct(fields(inner)?))
            } else {
                Err("it mixes text and fields")
            }
        }
        [list] => {
            let order = Order::ALL
                .iter()
                .find(|(_, name, _)| is_rdf(&list.name, name));
            let Some((order, ..)) = order else {
                return Err("what is inside is neither a list nor a description");
            };
            if !list.text.trim().is_empty() {
                return Err("it mixes text and items");
            }
            let items = list.children.iter().map(|item| match is_item(&item.name) {
                true => node(item),
                false => Err("its list has something that is no item"),
            });
            Ok(Value::Array(*order, items.collect::<Result<_, _>>()?))
        }
        _ => Err("it has several elements inside that are no list"),
    }
}

/// `rdf:li`, or `rdf:_1` as plain RDF has it.
fn is_item(name: &Name) -> bool {
    let digits = name.local.strip_prefix('_').unwrap_or_default();
    let numbered = !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit());
    name.uri == RDF && (name.local == "li" || numbered)
}

fn fields(element: &Element) -> Result<Vec<(Name, Node)>, &'static str> {
    let mut fields = Vec::new();
    for (name, text) in properties_in_attributes(element) {
        fields.push((name.clone(), Node::text(text)));
    }
    for child in &element.children {
        fields.push((child.name.clone(), node(child)?));
    }
    let fits = |name: &Name| name.is_writable() || name.uri == OWN;
    if fields.iter().all(|(name, _)| fits(name)) {
        Ok(fields)
    } else {
        Err("one of its fields has a name that is none of XMP")
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::xml::parse;

    fn read(body: &str) -> Vec<(String, Result<String, &'static str>)> {
        let text = format!("<m xmlns:x='u:x' xmlns:r='{RDF}'><r:RDF>{body}</r:RDF></m>");
        let found = properties(&parse(&text).unwrap()).unwrap();
        found
            .into_iter()
            .map(|p| (p.name.local, p.node.map(|node| node.to_json().to_string())))
            .collect()
    }

    #[test]
    fn attributes_and_elements_are_the_same() {
        let read = read(
            "<r:Description r:about='' x:a='1' xml:lang='en'><x:b>2</x:b></r:Description><r:Description><x:c/></r:Description>",
        );
        let names: Vec<&str> = read.iter().map(|(name, _)| name.as_str()).collect();
        assert_eq!(names, ["a", "b", "c"]);
        assert_eq!(read[1].1, Ok("\"2\"".to_owned()));
        assert_eq!(read[2].1, Ok("\"\"".to_owned()));
    }

    #[test]
    fn lists_links_and_fields() {
        let inside = |body: &str| {
            let body = format!("<r:Description>{body}</r:Description>");
            read(&body).remove(0).1
        };
        let fields = r#"{"fields":[["{u:x}f","1"]]}"#;
        for (body, json) in [
            (
                "<x:a><r:Seq>\n<r:li>1</r:li> <r:_2>2</r:_2></r:Seq></x:a>",
                r#"{"seq":["1","2"]}"#,
            ),
            (
                "<x:a><r:Alt><r:li xml:lang='x-default'>t</r:li></r:Alt></x:a>",
                r#"{"alt":[{"text":"t","lang":"x-default"}]}"#,
            ),
            ("<x:a r:resource='urn:y'/>", r#"{"uri":"urn:y"}"#),
            ("<x:a r:parseType='Resource'><x:f>1</x:f></x:a>", fields),
            ("<x:a><r:Description x:f='1'/></x:a>", fields),
            ("<x:a x:f='1'/>", fields),
            (
                "<x:a><r:Description><r:value>v</r:value><x:q>w</x:q></r:Description></x:a>",
                r#"{"fields":[["{http://www.w3.org/1999/02/22-rdf-syntax-ns#}value","v"],["{u:x}q","w"]]}"#,
            ),
        ] {
            assert_eq!(inside(body), Ok(json.to_owned()), "{body}");
        }
        for body in [
            "<x:a r:parseType='Literal'><b/></x:a>",
            "<x:a>1<x:b/></x:a>",
            "<x:a><x:b/></x:a>",
            "<x:a x:f='1'>2</x:a>",
            "<x:a r:resource='u'>2</x:a>",
            "<x:a><r:Seq><x:b/></r:Seq></x:a>",
            "<x:a><r:Seq/><r:Seq/></x:a>",
            "<x:a r:parseType='Resource'><b>1</b></x:a>",
        ] {
            assert!(inside(body).is_err(), "{body}");
        }
        assert!(read("<x:Other/>").remove(0).1.is_err());
    }
}
