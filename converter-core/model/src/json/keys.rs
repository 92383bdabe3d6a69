//! The keys of each object. The reader refuses any other; a test compares them with the schemas.

/// A `.lens.json` or `.take.json`.
pub(super) const DOCUMENT: &[&str] = &["lens_data", "lenses", "takes", "provenance"];

/// The header of a `.take.jsonl`.
pub(super) const HEADER: &[&str] = &["lens_data", "form", "lenses", "takes"];

/// A line that adds lenses or takes.
pub(super) const ADDED: &[&str] = &["lenses", "takes"];

pub(super) const END: &[&str] = &["lines", "frames", "provenance"];

pub(super) const LENS: &[&str] = &[
    "maker",
    "model",
    "serial",
    "firmware",
    "kind",
    "focal_length_mm",
    "close_focus_m",
    "close_focus_reference",
    "widest_t_stop",
    "smallest_t_stop",
    "widest_f_number",
    "smallest_f_number",
    "squeeze",
    "image_circle_mm",
    "rings",
    "tables",
    "extras",
];

pub(super) const RING: &[&str] = &[
    "axis",
    "quantity",
    "reference",
    "unit",
    "source_unit",
    "encoder",
    "rotation_deg",
    "marks",
];

pub(super) const MARK: &[&str] = &["position", "raw", "value", "engraved"];

pub(super) const TABLE: &[&str] = &["name", "columns"];

pub(super) const TAKE: &[&str] = &[
    "clip",
    "reel",
    "camera",
    "sensor_mm",
    "resolution",
    "frame_rate",
    "capture_rate",
    "counting",
    "start_timecode",
    "lens",
    "encoders",
    "distortion_model",
    "extras",
    "frames",
    "channels",
];

pub(super) const CAMERA: &[&str] = &["maker", "model", "serial", "firmware", "label"];

pub(super) const AXES: &[&str] = &["focus", "iris", "zoom"];

pub(super) const COLUMN: &[&str] = &[
    "unit",
    "reference",
    "origin",
    "source_unit",
    "form",
    "values",
];

pub(super) const EXTRA: &[&str] = &["number", "unit", "json", "hex"];

pub(super) const PROVENANCE: &[&str] = &[
    "file",
    "files",
    "size",
    "sha256",
    "plugin",
    "mapping",
    "calibration",
    "repairs",
    "program",
];

pub(super) const REPAIR: &[&str] = &["check", "action", "evidence", "changes"];

pub(super) const CHANGE: &[&str] = &["place", "was", "now"];

pub(super) const PLUGIN: &[&str] = &["name", "version", "sha256"];

pub(super) const NAMED_FILE: &[&str] = &["name", "sha256"];

/// Pre-marked focus rings.
pub(super) const PRE_MARKED: &[&str] = &["pre_marked_rings", "rings"];

pub(super) const PRE_MARKED_RING: &[&str] =
    &["maker", "name", "rotation_deg", "length_mm", "marks"];

pub(super) const PRINTED_MARK: &[&str] = &["mark", "position", "angle_deg"];
