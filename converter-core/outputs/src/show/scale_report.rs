//! What the marks of a ring give, as plain numbers: whoever fits the curve fills it in.

/// How the ring drives its value, as the marks show it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Drive {
    /// The law alone explains the marks.
    Even,
    /// A smooth correction of the law is part of the curve.
    Cam,
    /// No law explains the marks; a monotone curve goes through them.
    Marks,
}

/// Where on the scale a value lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// Between the end marks.
    Marked,
    /// Beyond them: the law says so, no mark does.
    Extrapolated,
    /// Past infinity, where barrels still turn.
    PastInfinity,
}

/// A place of the curve. Values are in the canonical unit of the ring's quantity, positions 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScalePoint {
    /// Ring position.
    pub position: f64,
    /// Value there; infinity is infinity, NaN is none.
    pub value: f64,
    /// Lower end of the 95 % band.
    pub low: f64,
    /// Upper end of the 95 % band, maybe infinity.
    pub high: f64,
    /// Where on the scale it is.
    pub standing: Standing,
    /// Near and far limit of the depth of field, in metres.
    pub sharp: Option<(f64, f64)>,
}

/// How a mark stands to the curve; NaN is 'not known'.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MarkResidual {
    /// Position of the mark less that of its value on the curve, in ring travel.
    pub travel: f64,
    /// The same as a part of the full depth of field at the mark.
    pub depths: f64,
}

/// Where a focus scale reaches infinity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InfinityPlace {
    /// Ring position.
    pub position: f64,
    /// Half width of its 95 % band, in ring travel.
    pub band: f64,
    /// Whether no mark says so.
    pub extrapolated: bool,
}

/// The scale of a ring as a curve.
#[derive(Debug, Clone, PartialEq)]
pub struct ScaleReport {
    /// How the ring drives its value.
    pub drive: Drive,
    /// Reading error of the marks, one standard deviation, in ring travel.
    pub reading_error: f64,
    /// Where infinity lies; `None` for iris and zoom and where no mark is near enough to tell.
    pub infinity: Option<InfinityPlace>,
    /// What depths of field rest on, in words, or why there are none; `None` for iris and zoom.
    pub depth: Option<Result<String, String>>,
    /// The curve, by rising position.
    pub curve: Vec<ScalePoint>,
    /// The marks in the order of the ring.
    pub marks: Vec<MarkResidual>,
    /// The curve at round values, metres for distances.
    pub metric: Vec<ScalePoint>,
    /// The curve at distances round in feet and inches.
    pub imperial: Vec<ScalePoint>,
}

/// What a scale says to one question.
#[derive(Debug, Clone, PartialEq)]
pub struct ScaleAnswer {
    /// The question as it was put.
    pub asked: String,
    /// The index of the ring and the place on its curve, or why there is none.
    pub answer: Result<(usize, ScalePoint), String>,
}
