//! The bars for traced lenses: what must hold, what was found.

use super::lens::Truth;
use super::measure::{draws, even_marks, of_curve};

/// A bar and whether it is met.
pub struct Bar {
    pub lens: String,
    pub what: &'static str,
    pub found: f64,
    pub least: f64,
    pub most: f64,
}

impl Bar {
    pub fn met(&self) -> bool {
        self.least <= self.found && self.found <= self.most
    }
}

/// Whether a traced lens stands behind a cam.
pub fn has_cam(lens: &Truth) -> bool {
    lens.name.contains("cam")
}

/// The bars for reconstruction of one lens, with `count` draws of 0.1 % of travel, 12 marks at even steps.
pub fn of_lens(lens: &Truth, seed: u64, count: usize) -> Vec<Bar> {
    let cam = has_cam(lens);
    let marks = even_marks(lens, if cam { 12 } else { 6 });
    let drawn = draws(lens, &even_marks(lens, 12), 0.001, count, seed);
    let bar = |what, found, least, most| Bar {
        lens: lens.name.clone(),
        what,
        found,
        least,
        most,
    };
    vec![
        if cam {
            bar(
                "12 exact marks, depths of field",
                of_curve(lens, &marks, &marks).0,
                0.0,
                0.05,
            )
        } else {
            bar(
                "6 exact marks, depths of field",
                of_curve(lens, &marks, &marks).0,
                0.0,
                0.01,
            )
        },
        bar(
            "0.1 % reading error, part of the cubic's",
            drawn.curve / drawn.pchip,
            0.0,
            if cam { 1.0 } else { 0.65 },
        ),
        bar(
            "truth inside the 95 % band, part",
            drawn.covered,
            0.90,
            0.98,
        ),
    ]
}
