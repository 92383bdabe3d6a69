//! The registry of facts: named values of lenses, rings and takes that do not change from
//! frame to frame. One row a fact.

use ringmark_quantity::Unit;

/// What a fact belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Owner {
    /// A lens.
    Lens,
    /// One ring of a lens.
    Ring,
    /// A take.
    Take,
}

/// What a fact holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FactKind {
    /// A text.
    Text,
    /// A number; the unit is that of the neutral form.
    Number(Unit),
    /// A frame rate as text, `24000/1001`.
    Rate,
}

/// One row of the registry.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FactInfo {
    /// Name in the contract.
    pub name: &'static str,
    /// What it belongs to.
    pub owner: Owner,
    /// What it holds.
    pub kind: FactKind,
}

const fn row(name: &'static str, owner: Owner, kind: FactKind) -> FactInfo {
    FactInfo { name, owner, kind }
}

use FactKind::{Number, Rate, Text};
use Owner::{Lens, Ring, Take};

/// All facts.
pub const FACTS: &[FactInfo] = &[
    row("lens-maker", Lens, Text),
    row("lens-model", Lens, Text),
    row("lens-serial", Lens, Text),
    row("lens-firmware", Lens, Text),
    row("lens-kind", Lens, Text), // prime or zoom
    row("focal-length-min", Lens, Number(Unit::Millimetre)),
    row("focal-length-max", Lens, Number(Unit::Millimetre)),
    row("close-focus", Lens, Number(Unit::Metre)),
    row("close-focus-reference", Lens, Text), // a distance reference
    row("widest-t-stop", Lens, Number(Unit::TStop)),
    row("smallest-t-stop", Lens, Number(Unit::TStop)),
    row("widest-f-number", Lens, Number(Unit::FNumber)),
    row("smallest-f-number", Lens, Number(Unit::FNumber)),
    row("squeeze", Lens, Number(Unit::One)),
    row("image-circle", Lens, Number(Unit::Millimetre)),
    row("reference", Ring, Text), // what the scale's distances are measured from
    row("encoder-low", Ring, Number(Unit::Count)),
    row("encoder-high", Ring, Number(Unit::Count)),
    row("rotation", Ring, Number(Unit::Degree)),
    row("clip", Take, Text),
    row("reel", Take, Text),
    row("camera-maker", Take, Text),
    row("camera-model", Take, Text),
    row("camera-serial", Take, Text),
    row("camera-firmware", Take, Text),
    row("camera-label", Take, Text),
    row("sensor-width", Take, Number(Unit::Millimetre)),
    row("sensor-height", Take, Number(Unit::Millimetre)),
    row("resolution-width", Take, Number(Unit::One)),
    row("resolution-height", Take, Number(Unit::One)),
    row("frame-rate", Take, Rate),
    row("capture-rate", Take, Rate),
    row("counting", Take, Text), // drop-frame or non-drop
    row("start-timecode", Take, Text),
    row("distortion-model", Take, Text),
    row("focus-encoder-low", Take, Number(Unit::Count)),
    row("focus-encoder-high", Take, Number(Unit::Count)),
    row("iris-encoder-low", Take, Number(Unit::Count)),
    row("iris-encoder-high", Take, Number(Unit::Count)),
    row("zoom-encoder-low", Take, Number(Unit::Count)),
    row("zoom-encoder-high", Take, Number(Unit::Count)),
];

/// The row called `name`.
pub fn fact_info(name: &str) -> Option<&'static FactInfo> {
    FACTS.iter().find(|f| f.name == name)
}
