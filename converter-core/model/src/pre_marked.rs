//! Pre-marked focus rings: strips and discs of a focus unit with distances printed at fixed places.

use ringmark_quantity::{Angle, Length};

/// A ring, disc or strip that is put on the knob of a focus unit.
#[derive(Debug, Clone, PartialEq)]
pub struct PreMarkedRing {
    /// Who made it.
    pub maker: Option<String>,
    /// What it is called.
    pub name: Option<String>,
    /// How far the knob turns from position 0 to 1.
    pub rotation: Option<Angle>,
    /// Length of the print from position 0 to 1, along the edge of the ring.
    pub length: Option<Length>,
    /// What is printed, by rising position; distances rise or fall all the way.
    pub marks: Vec<PrintedMark>,
}

/// A distance as it is printed.
#[derive(Debug, Clone, PartialEq)]
pub struct PrintedMark {
    /// The text.
    pub text: String,
    /// What it means in metres; +infinity is infinity.
    pub metres: f64,
    /// Where it is printed: 0 to 1 of the turn of the knob.
    pub position: f64,
}

impl PreMarkedRing {
    /// Maker and name in one line for people; 'unnamed ring' if neither is known.
    pub fn label(&self) -> String {
        let parts = [self.maker.as_deref(), self.name.as_deref()];
        let parts: Vec<&str> = parts.into_iter().flatten().collect();
        match parts.is_empty() {
            true => "unnamed ring".to_owned(),
            false => parts.join(" "),
        }
    }
}
