//! The list: its version, its contexts, and which of their canvases a camera recorded.

use std::collections::HashSet;
use std::collections::VecDeque;
use std::rc::Rc;

use ringmark_sdk::{Fact, Failure, failure};

use crate::canvas;
use crate::fields::OF_CONTEXT;
use crate::json::{Kind, Members, Node};
use crate::remarks::{Remarks, Severity};

/// Versions whose canvases have the members read here, as (major, minor).
const VERSIONS: [(f64, f64); 3] = [(0.0, 1.0), (1.0, 0.0), (2.0, 0.0)];

/// A canvas that is not derived from another one.
pub struct Recorded {
    /// Facts that its context states.
    pub of_context: Rc<Vec<Fact>>,
    /// The canvas.
    pub canvas: Node,
}

/// All recorded canvases of the list, in order.
pub fn recorded(whole: &Node, remarks: &mut Remarks) -> Result<VecDeque<Recorded>, Failure> {
    let wrong = |node: &Node, expected: &str| {
        let what = match node.path() {
            "" => "the file",
            path => path,
        };
        failure(
            format!("{what} is {}, not {expected}", node.kind().name()),
            "this is no Framing Decision List; check which file was meant",
            Some(node.place()),
        )
    };
    let list = whole.members().ok_or_else(|| wrong(whole, "an object"))?;
    remark_on_repeated(&list, remarks);
    version(whole, &list, remarks);
    let mut found = VecDeque::new();
    if let Some(contexts) = present(&list, "contexts") {
        let contexts = contexts
            .elements()
            .ok_or_else(|| wrong(contexts, "a list of contexts"))?;
        for context in contexts {
            let Some(members) = context.members() else {
                remarks.wrong_type(&context, "an object");
                continue;
            };
            remark_on_repeated(&members, remarks);
            of_context(&members, &mut found, remarks);
        }
    }
    if found.is_empty() {
        remarks.add(
            Severity::Note,
            "no-canvas",
            "no canvas that a camera recorded is in the list: it says nothing of a lens".to_owned(),
            "",
            Some(whole.place()),
        );
    }
    Ok(found)
}

/// The member called `key`, unless it is null.
pub fn present<'a>(members: &'a Members, key: &str) -> Option<&'a Node> {
    let node = members.get(key)?;
    (node.kind() != Kind::Null).then_some(node)
}

/// Tells of members that stand twice.
pub fn remark_on_repeated(members: &Members, remarks: &mut Remarks) {
    for node in members.repeated() {
        let path = node.path();
        remarks.add(
            Severity::Error,
            "duplicate-key",
            format!("the key {path} stands twice in one object; the last value was read"),
            "keep one of both",
            Some(node.place()),
        );
    }
}

fn version(whole: &Node, list: &Members, remarks: &mut Remarks) {
    let Some(node) = present(list, "version") else {
        remarks.add(
            Severity::Warning,
            "version-missing",
            "the list states no version; it was read as version 2.0".to_owned(),
            "write \"version\": {\"major\": 2, \"minor\": 0} if it is one",
            Some(whole.place()),
        );
        return;
    };
    let part = |key: &str| node.members()?.get(key)?.number();
    match part("major").zip(part("minor")) {
        Some(stated) if VERSIONS.contains(&stated) => {}
        Some((major, minor)) => remarks.add(
            Severity::Warning,
            "version-unknown",
            format!("the list is of version {major}.{minor}; it was read as version 2.0"),
            "compare the values with those of the program that wrote it",
            Some(node.place()),
        ),
        None => remarks.wrong_type(node, "an object with the numbers major and minor"),
    }
}

fn of_context(context: &Members, found: &mut VecDeque<Recorded>, remarks: &mut Remarks) {
    let Some(canvases) = present(context, "canvases") else {
        return;
    };
    let Some(canvases) = canvases.elements() else {
        remarks.wrong_type(canvases, "a list of canvases");
        return;
    };
    let facts = Rc::new(canvas::texts(OF_CONTEXT, context, remarks));
    let mut ids = HashSet::new();
    let mut derived: Vec<(Node, String)> = Vec::new();
    for canvas in canvases {
        let Some(members) = canvas.members() else {
            remarks.wrong_type(&canvas, "an object");
            continue;
        };
        let text = |key: &str| present(&members, key)?.text();
        let (id, source) = (text("id"), text("source_canvas_id"));
        if let Some(id) = &id
            && !ids.insert(id.clone())
        {
            remarks.add(
                Severity::Error,
                "canvas-id-repeated",
                format!(
                    "{}: another canvas of this context is called `{id}` too",
                    canvas.path()
                ),
                "identifiers must differ within a context",
                members.get("id").map(Node::place),
            );
        }
        match source {
            // Made from another one: its squeeze is that of a picture, not of a lens.
            Some(source) if id.as_ref() != Some(&source) => derived.push((canvas, source)),
            _ => found.push_back(Recorded {
                of_context: Rc::clone(&facts),
                canvas,
            }),
        }
    }
    for (canvas, source) in derived {
        if !ids.contains(&source) {
            remarks.add(
                Severity::Warning,
                "source-canvas-missing",
                format!(
                    "{} is derived from `{source}`, which is not in its context; its squeeze may not be that of the lens and was not read",
                    canvas.path()
                ),
                "add the canvas that the camera recorded",
                Some(canvas.place()),
            );
        }
    }
}
