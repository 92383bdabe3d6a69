//! Which member of a canvas, or of the context around it, becomes which fact. One row a fact.

/// Whose fact it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Owner {
    /// The lens.
    Lens,
    /// The take.
    Take,
}

/// A number of a canvas.
pub struct Number {
    /// Members to follow from the canvas.
    pub path: &'static [&'static str],
    /// Its name here.
    pub fact: &'static str,
    /// Unit of the number.
    pub unit: &'static str,
    /// Whose it is.
    pub owner: Owner,
    /// What the standard says of a canvas that does not have it.
    pub default: Option<f64>,
}

/// A text, always of the take.
pub struct Text {
    /// Members to follow.
    pub path: &'static [&'static str],
    /// Its name here.
    pub fact: &'static str,
}

const fn of_take(path: &'static [&'static str], fact: &'static str, unit: &'static str) -> Number {
    Number {
        path,
        fact,
        unit,
        owner: Owner::Take,
        default: None,
    }
}

/// Numbers, lens first.
pub const NUMBERS: &[Number] = &[
    Number {
        path: &["anamorphic_squeeze"],
        fact: "squeeze",
        unit: "",
        owner: Owner::Lens,
        default: Some(1.0),
    },
    // Millimetres: no file says so, see README.md.
    of_take(&["physical_dimensions", "width"], "sensor-width", "mm"),
    of_take(&["physical_dimensions", "height"], "sensor-height", "mm"),
    of_take(&["dimensions", "width"], "resolution-width", ""),
    of_take(&["dimensions", "height"], "resolution-height", ""),
    of_take(
        &["effective_dimensions", "width"],
        "extra/effective-width",
        "",
    ),
    of_take(
        &["effective_dimensions", "height"],
        "extra/effective-height",
        "",
    ),
    of_take(
        &["photosite_dimensions", "width"],
        "extra/photosite-width",
        "",
    ),
    of_take(
        &["photosite_dimensions", "height"],
        "extra/photosite-height",
        "",
    ),
];

/// Texts of a context, which hold for each of its canvases.
pub const OF_CONTEXT: &[Text] = &[
    Text {
        path: &["clip_id", "clip_name"],
        fact: "clip",
    },
    Text {
        path: &["label"],
        fact: "extra/context-label",
    },
];

/// Texts of a canvas.
pub const OF_CANVAS: &[Text] = &[
    Text {
        path: &["label"],
        fact: "extra/canvas-label",
    },
    Text {
        path: &["id"],
        fact: "extra/canvas-id",
    },
];
