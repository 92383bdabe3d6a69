//! Values of XMP properties and their names (ISO 16684-1 data model), and their form as JSON.

use std::fmt;

use serde_json::{Map, Value as Json, json};

/// Namespace of RDF.
pub const RDF: &str = "http://www.w3.org/1999/02/22-rdf-syntax-ns#";
/// Namespace of the wrapper `x:xmpmeta`.
pub const META: &str = "adobe:ns:meta/";
/// Namespace of `xml:lang`.
pub const XML: &str = "http://www.w3.org/XML/1998/namespace";
const XMLNS: &str = "http://www.w3.org/2000/xmlns/";
/// Namespace of what this program keeps and no standard property holds.
pub const OWN: &str = "https://ringmark.invalid/ns/1.0/";

/// TIFF properties.
pub const TIFF: &str = "http://ns.adobe.com/tiff/1.0/";
/// Exif properties.
pub const EXIF: &str = "http://ns.adobe.com/exif/1.0/";
/// Exif properties since Exif 2.3.
pub const EXIF_EX: &str = "http://cipa.jp/exif/1.0/";
/// Older lens properties.
pub const AUX: &str = "http://ns.adobe.com/exif/1.0/aux/";

/// Prefixes in the order in which they are written.
pub const PREFIXES: &[(&str, &str)] = &[
    ("tiff", TIFF),
    ("exif", EXIF),
    ("exifEX", EXIF_EX),
    ("aux", AUX),
];

/// Name of a property. In texts `exif:FNumber` for the namespaces of [`PREFIXES`], else `{URI}name`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Name {
    /// Namespace.
    pub uri: String,
    /// Name inside it.
    pub local: String,
}

impl Name {
    /// A name.
    pub fn new(uri: impl Into<String>, local: impl Into<String>) -> Self {
        Name {
            uri: uri.into(),
            local: local.into(),
        }
    }

    /// Reads the text form; `None` for what cannot be the name of a property.
    pub fn parse(text: &str) -> Option<Name> {
        let (uri, local) = match text.strip_prefix('{') {
            Some(rest) => rest.rsplit_once('}')?,
            None => {
                let (prefix, local) = text.split_once(':')?;
                let (_, uri) = PREFIXES.iter().find(|(known, _)| *known == prefix)?;
                (*uri, local)
            }
        };
        let name = Name::new(uri, local);
        // One name has one form, so that it reads back as the same text.
        (name.is_writable() && name.to_string() == text).then_some(name)
    }

    /// Whether it can be written as the name of a property.
    pub fn is_writable(&self) -> bool {
        let reserved = [RDF, META, XML, XMLNS, OWN];
        let part_of_rdf = self.uri == RDF && self.local == "value";
        is_local_name(&self.local)
            && !self.uri.is_empty()
            && is_xml(&self.uri)
            && !self.uri.contains(char::is_whitespace)
            && (part_of_rdf || !reserved.contains(&self.uri.as_str()))
    }

    /// Place in the order of writing.
    pub fn rank(&self) -> (usize, &str, &str) {
        let place = PREFIXES.iter().position(|(_, uri)| *uri == self.uri);
        let last = if self.uri == OWN { 1 } else { 0 };
        let place = place.unwrap_or(PREFIXES.len() + last);
        (place, &self.uri, &self.local)
    }
}

impl fmt::Display for Name {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match PREFIXES.iter().find(|(_, uri)| *uri == self.uri) {
            Some((prefix, _)) => write!(f, "{prefix}:{}", self.local),
            None => write!(f, "{{{}}}{}", self.uri, self.local),
        }
    }
}

/// Whether a text is an XML name without a colon and without letters beyond ASCII.
fn is_local_name(text: &str) -> bool {
    let mut letters = text.bytes();
    let first = letters.next();
    first.is_some_and(|c| c.is_ascii_alphabetic() || c == b'_')
        && letters.all(|c| c.is_ascii_alphanumeric() || b"_-.".contains(&c))
}

/// Whether XML 1.0 can hold the text.
pub fn is_xml(text: &str) -> bool {
    text.chars().all(is_xml_char)
}

/// Whether XML 1.0 can hold the character.
pub fn is_xml_char(c: char) -> bool {
    match c {
        '\t' | '\n' | '\r' => true,
        c => c >= ' ' && c != '\u{fffe}' && c != '\u{ffff}',
    }
}

/// How the items of an array relate.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Order {
    /// Ordered.
    Seq,
    /// Unordered.
    Bag,
    /// Alternatives.
    Alt,
}

impl Order {
    /// All kinds, with the name of the RDF element and the key in JSON.
    pub const ALL: [(Order, &str, &str); 3] = [
        (Order::Seq, "Seq", "seq"),
        (Order::Bag, "Bag", "bag"),
        (Order::Alt, "Alt", "alt"),
    ];
}

/// The value of a property with its language, if it has one.
#[derive(Debug, Clone, PartialEq)]
pub struct Node {
    /// `xml:lang`.
    pub lang: Option<String>,
    /// The value.
    pub value: Value,
}

/// A value.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// A text, which also numbers are.
    Text(String),
    /// `rdf:resource`.
    Uri(String),
    /// A list.
    Array(Order, Vec<Node>),
    /// Named fields.
    Struct(Vec<(Name, Node)>),
}

impl From<Value> for Node {
    fn from(value: Value) -> Self {
        Node { lang: None, value }
    }
}

impl Node {
    /// A plain text.
    pub fn text(text: impl Into<String>) -> Node {
        Value::Text(text.into()).into()
    }

    /// The text if the value is nothing else.
    pub fn as_text(&self) -> Option<&str> {
        match (&self.value, &self.lang) {
            (Value::Text(text), None) => Some(text),
            _ => None,
        }
    }

    /// The texts of a list of plain texts.
    pub fn texts(&self) -> Option<Vec<&str>> {
        match &self.value {
            Value::Array(_, items) => items.iter().map(Node::as_text).collect(),
            _ => None,
        }
    }

    /// The JSON form: a plain text is a string, a list `{"seq": […]}`, fields
    /// `{"fields": [["NAME", …]]}`, a link `{"uri": …}`, a text with a language
    /// `{"text": …, "lang": …}`.
    pub fn to_json(&self) -> Json {
        let mut members = Map::new();
        match &self.value {
            Value::Text(text) if self.lang.is_none() => return json!(text),
            Value::Text(text) => members.insert("text".to_owned(), json!(text)),
            Value::Uri(uri) => members.insert("uri".to_owned(), json!(uri)),
            Value::Array(order, items) => {
                let key = Order::ALL.iter().find(|(o, ..)| o == order);
                let key = key.map_or("seq", |(_, _, key)| *key);
                let items = items.iter().map(Node::to_json).collect();
                members.insert(key.to_owned(), Json::Array(items))
            }
            Value::Struct(fields) => {
                let fields = fields.iter();
                let fields = fields.map(|(name, node)| json!([name.to_string(), node.to_json()]));
                members.insert("fields".to_owned(), Json::Array(fields.collect()))
            }
        };
        if let Some(lang) = &self.lang {
            members.insert("lang".to_owned(), json!(lang));
        }
        Json::Object(members)
    }

    /// Reads the JSON form; `None` for other JSON.
    pub fn from_json(json: &Json) -> Option<Node> {
        let members = match json {
            Json::String(text) => return Some(Node::text(text.as_str())),
            Json::Object(members) => members,
            _ => return None,
        };
        let mut node = None;
        let mut lang = None;
        for (key, member) in members {
            let value = match (key.as_str(), member) {
                ("lang", Json::String(text)) => {
                    lang = Some(text.clone());
                    continue;
                }
                ("text", Json::String(text)) => Value::Text(text.clone()),
                ("uri", Json::String(text)) => Value::Uri(text.clone()),
                ("fields", Json::Array(fields)) => {
                    let fields = fields.iter().map(|pair| match pair.as_array()?.as_slice() {
                        [name, value] => {
                            Some((Name::parse(name.as_str()?)?, Node::from_json(value)?))
                        }
                        _ => None,
                    });
                    Value::Struct(fields.collect::<Option<_>>()?)
                }
                (key, Json::Array(items)) => {
                    let (order, ..) = Order::ALL.iter().find(|(.., name)| *name == key)?;
                    let items = items.iter().map(Node::from_json);
                    Value::Array(*order, items.collect::<Option<_>>()?)
                }
                _ => return None,
            };
            if node.replace(value).is_some() {
                return None;
            }
        }
        Some(Node { lang, value: node? })
    }

    /// Whether XML can hold it, and gives it back as it is.
    pub fn is_writable(&self) -> bool {
        let lang = self.lang.as_deref().is_none_or(is_xml);
        lang && match &self.value {
            Value::Text(text) | Value::Uri(text) => is_xml(text),
            Value::Array(_, items) => items.iter().all(Node::is_writable),
            Value::Struct(fields) => fields
                .iter()
                .all(|(name, node)| name.is_writable() && node.is_writable()),
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn names_have_one_form() {
        for text in ["exif:FNumber", "aux:Lens", "{http://ns.example/x/}a-b.c"] {
            assert_eq!(Name::parse(text).unwrap().to_string(), text);
        }
        for text in [
            "FNumber",
            "xmp:Rating",
            "exif:",
            "exif:1a",
            "exif:a:b",
            "exif:a b",
            "{}a",
            "{x}",
            "{http://ns.adobe.com/exif/1.0/}FNumber",
            "{http://www.w3.org/1999/02/22-rdf-syntax-ns#}li",
            "{https://ringmark.invalid/ns/1.0/}Version",
            "{a\u{1}}b",
        ] {
            assert_eq!(Name::parse(text), None, "{text}");
        }
    }

    #[test]
    fn structures_lead_back_from_json() {
        let field = |local: &str, node: Node| (Name::new(EXIF, local), node);
        let lang = |text: &str| Node {
            lang: Some("x-default".into()),
            value: Value::Text(text.into()),
        };
        for node in [
            Node::text("a"),
            lang("b"),
            Value::Uri("urn:x".into()).into(),
            Value::Array(Order::Seq, vec![Node::text("1"), Node::text("2")]).into(),
            Value::Array(Order::Alt, vec![lang("c")]).into(),
            Value::Struct(vec![
                field("Fired", Node::text("True")),
                field("Fired", Value::Array(Order::Bag, Vec::new()).into()),
            ])
            .into(),
        ] {
            let text = node.to_json().to_string();
            let json: Json = serde_json::from_str(&text).unwrap();
            assert_eq!(Node::from_json(&json), Some(node), "{text}");
        }
    }

    #[test]
    fn other_json_is_no_value() {
        for text in [
            "1",
            "null",
            "{}",
            "[]",
            r#"{"seq": "a"}"#,
            r#"{"seq": [1]}"#,
            r#"{"seq": [], "bag": []}"#,
            r#"{"lang": "en"}"#,
            r#"{"fields": [["x", "y"]]}"#,
        ] {
            let json: Json = serde_json::from_str(text).unwrap();
            assert_eq!(Node::from_json(&json), None, "{text}");
        }
    }
}
