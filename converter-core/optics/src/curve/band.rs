//! A value with how exactly it is known.

/// Where on the scale a position lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Region {
    /// Between the end marks, or so little beyond that end stops and reading errors explain it.
    Marked,
    /// Farther than the farthest mark: the law's, no mark vouches for it.
    Extrapolated,
    /// Beyond infinity, as barrels turn: the value is infinity.
    PastInfinity,
    /// Off the scale or not recorded: there is no value.
    Outside,
}

/// A value and the band that holds the true one 95 times in 100.
///
/// The band is that of the scale: it comes from the scatter of the marks, their spacing, and what drives the marks leave
/// possible. The reading error of the position asked for is not in it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// The value, in the canonical unit of the scale; infinity is infinity, NaN is none.
    pub value: f64,
    /// Lower end of the band; 0 where the marks leave every shorter distance possible.
    pub low: f64,
    /// Upper end of the band, maybe infinity.
    pub high: f64,
    /// Where on the scale it is.
    pub region: Region,
}

impl Reading {
    /// No value.
    pub(crate) const NONE: Self = Self {
        value: f64::NAN,
        low: f64::NAN,
        high: f64::NAN,
        region: Region::Outside,
    };
}
