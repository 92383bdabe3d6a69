//! What the fuzz targets do with bytes: each body reads them and asserts what must hold whatever
//! they are. `tests/corpus.rs` replays the kept inputs through the same bodies.

mod formats;
mod items;
mod neutral;
mod pass;
mod quantity;
mod raw;

/// A body: takes any bytes, panics where something that must hold does not.
pub type Body = fn(&[u8]);

/// Every target by the name of its folder under `corpus/`.
pub const TARGETS: &[(&str, Body)] = &[
    ("table", formats::table),
    ("openexr", formats::openexr),
    ("openexr_sequence", formats::openexr_sequence),
    ("opentrackio", formats::opentrackio),
    ("acquisition_klv", formats::acquisition_klv),
    ("mxf", formats::mxf),
    ("exif", formats::exif),
    ("xmp", formats::xmp),
    ("ebucore", formats::ebucore),
    ("usd_camera", formats::usd_camera),
    ("fdl", formats::fdl),
    ("neutral", neutral::neutral),
    ("quantity", quantity::quantity),
];

/// Runs the body called `target`.
///
/// # Panics
///
/// On a name that is not in [`TARGETS`], and where the body finds something wrong.
pub fn run(target: &str, bytes: &[u8]) {
    let (_, body) = TARGETS
        .iter()
        .find(|(name, _)| *name == target)
        .unwrap_or_else(|| panic!("no target '{target}'"));
    body(bytes);
}
