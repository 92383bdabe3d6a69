//! The units lens data comes in, their symbols and exact factors.

/// What kind of quantity a unit measures; only units of one dimension convert into each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Dimension {
    /// Distances, offsets, focal lengths, sensor sizes; dioptres, the reciprocal of a distance, too.
    Length,
    /// Angles.
    Angle,
    /// Position of a ring between its end stops. A ring may also be declared in degrees: see [`crate::RingScale`].
    RingPosition,
    /// T-numbers (transmitted light).
    TStop,
    /// f-numbers (geometry).
    FNumber,
    /// Durations.
    Time,
    /// Frame rates.
    Rate,
    /// Film or sensor speed.
    Sensitivity,
    /// Numbers without a unit.
    Pure,
}

/// A unit of lens data.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Unit {
    /// Metre, the base of lengths.
    Metre,
    /// 0.01 m.
    Centimetre,
    /// 0.001 m.
    Millimetre,
    /// 1e-6 m.
    Micrometre,
    /// 25.4 mm exactly (international yard and pound agreement, 1959).
    Inch,
    /// 12 in = 0.3048 m exactly; never the US survey foot. Always a decimal number: 5.6 ft is 5 feet and 7.2 inches.
    Foot,
    /// Feet and inches as engraved. The **number is in inches** (`5'6"` is exactly 66); the symbol says how it is written.
    FeetInches,
    /// Reciprocal metre of focus distance: 2 D is 0.5 m, 0 D is infinity.
    Dioptre,
    /// Degree of arc, the base of angles.
    Degree,
    /// 1/60 degree.
    ArcMinute,
    /// 180/pi degrees.
    Radian,
    /// Ring position from 0 to 1.
    Ratio,
    /// Ring position from 0 to 100.
    Percent,
    /// Ring position in encoder counts; needs the encoder's range ([`crate::RingScale`]) to mean anything else.
    Count,
    /// T-number.
    TStop,
    /// f-number.
    FNumber,
    /// Second.
    Second,
    /// Frames per second.
    Hertz,
    /// ISO arithmetic speed.
    Iso,
    /// No unit.
    One,
}

impl Unit {
    /// Every unit, in the order of the documentation.
    pub const ALL: [Unit; 20] = [
        Unit::Metre,
        Unit::Centimetre,
        Unit::Millimetre,
        Unit::Micrometre,
        Unit::Inch,
        Unit::Foot,
        Unit::FeetInches,
        Unit::Dioptre,
        Unit::Degree,
        Unit::ArcMinute,
        Unit::Radian,
        Unit::Ratio,
        Unit::Percent,
        Unit::Count,
        Unit::TStop,
        Unit::FNumber,
        Unit::Second,
        Unit::Hertz,
        Unit::Iso,
        Unit::One,
    ];

    /// The one symbol used in files; read back by [`Unit::from_symbol`].
    pub const fn symbol(self) -> &'static str {
        match self {
            Unit::Metre => "m",
            Unit::Centimetre => "cm",
            Unit::Millimetre => "mm",
            Unit::Micrometre => "um",
            Unit::Inch => "in",
            Unit::Foot => "ft",
            Unit::FeetInches => "ft-in",
            Unit::Dioptre => "D",
            Unit::Degree => "deg",
            Unit::ArcMinute => "arcmin",
            Unit::Radian => "rad",
            Unit::Ratio => "0..1",
            Unit::Percent => "%",
            Unit::Count => "count",
            Unit::TStop => "T",
            Unit::FNumber => "f",
            Unit::Second => "s",
            Unit::Hertz => "fps",
            Unit::Iso => "ISO",
            Unit::One => "",
        }
    }

    /// The name in words, plural, for messages.
    pub const fn name(self) -> &'static str {
        match self {
            Unit::Metre => "metres",
            Unit::Centimetre => "centimetres",
            Unit::Millimetre => "millimetres",
            Unit::Micrometre => "micrometres",
            Unit::Inch => "inches",
            Unit::Foot => "decimal feet",
            Unit::FeetInches => "feet and inches",
            Unit::Dioptre => "dioptres",
            Unit::Degree => "degrees",
            Unit::ArcMinute => "minutes of arc",
            Unit::Radian => "radians",
            Unit::Ratio => "0 to 1",
            Unit::Percent => "per cent",
            Unit::Count => "encoder counts",
            Unit::TStop => "T-stops",
            Unit::FNumber => "f-numbers",
            Unit::Second => "seconds",
            Unit::Hertz => "frames per second",
            Unit::Iso => "ISO",
            Unit::One => "numbers without a unit",
        }
    }

    /// Reads a unit. Surrounding space is ignored, words match in any case, symbols only as written below or all in
    /// capitals (`MM`, `FT`): `Mm` or `mM` is nothing, so that no power of ten is guessed. `t`, `d` and `S` are
    /// nothing either (`T` and `D` are read; `f` and `F` are both the f-number). `'` is a foot and `"` an inch, as on
    /// a lens barrel. The empty text is [`Unit::One`].
    pub fn from_symbol(text: &str) -> Option<Unit> {
        let text = text.trim();
        by_symbol(text).or_else(|| by_word(text))
    }

    /// The dimension the unit measures.
    pub const fn dimension(self) -> Dimension {
        match self {
            Unit::Metre
            | Unit::Centimetre
            | Unit::Millimetre
            | Unit::Micrometre
            | Unit::Inch
            | Unit::Foot
            | Unit::FeetInches
            | Unit::Dioptre => Dimension::Length,
            Unit::Degree | Unit::ArcMinute | Unit::Radian => Dimension::Angle,
            Unit::Ratio | Unit::Percent | Unit::Count => Dimension::RingPosition,
            Unit::TStop => Dimension::TStop,
            Unit::FNumber => Dimension::FNumber,
            Unit::Second => Dimension::Time,
            Unit::Hertz => Dimension::Rate,
            Unit::Iso => Dimension::Sensitivity,
            Unit::One => Dimension::Pure,
        }
    }
}

fn by_symbol(text: &str) -> Option<Unit> {
    Some(match text {
        "" => Unit::One,
        "m" | "M" => Unit::Metre,
        "cm" | "CM" => Unit::Centimetre,
        "mm" | "MM" => Unit::Millimetre,
        // Both code points of the micro sign: U+00B5 and U+03BC.
        "um" | "UM" | "\u{b5}m" | "\u{3bc}m" => Unit::Micrometre,
        "in" | "IN" | "in." | "\"" | "″" | "”" | "''" => Unit::Inch,
        "ft" | "FT" | "ft." | "'" | "′" | "’" => Unit::Foot,
        "ft-in" | "FT-IN" | "ft/in" | "ft+in" | "ft in" | "'\"" | "′″" => Unit::FeetInches,
        "D" | "dpt" | "1/m" => Unit::Dioptre,
        "deg" | "DEG" | "°" => Unit::Degree,
        "arcmin" => Unit::ArcMinute,
        "rad" | "RAD" => Unit::Radian,
        "0..1" | "0-1" | "0…1" | "0–1" => Unit::Ratio,
        "%" => Unit::Percent,
        "T" | "T/" => Unit::TStop,
        "f" | "F" | "f/" | "F/" | "f/#" | "ƒ" | "ƒ/" => Unit::FNumber,
        "s" => Unit::Second,
        "fps" | "FPS" | "Hz" | "1/s" => Unit::Hertz,
        _ => return None,
    })
}

/// Words in full, matched in any case.
const WORDS: &[(&str, Unit)] = &[
    ("metre", Unit::Metre),
    ("metres", Unit::Metre),
    ("meter", Unit::Metre),
    ("meters", Unit::Metre),
    ("centimetre", Unit::Centimetre),
    ("centimetres", Unit::Centimetre),
    ("centimeter", Unit::Centimetre),
    ("centimeters", Unit::Centimetre),
    ("millimetre", Unit::Millimetre),
    ("millimetres", Unit::Millimetre),
    ("millimeter", Unit::Millimetre),
    ("millimeters", Unit::Millimetre),
    ("micrometre", Unit::Micrometre),
    ("micrometres", Unit::Micrometre),
    ("micrometer", Unit::Micrometre),
    ("micrometers", Unit::Micrometre),
    ("micron", Unit::Micrometre),
    ("microns", Unit::Micrometre),
    ("inch", Unit::Inch),
    ("inches", Unit::Inch),
    ("foot", Unit::Foot),
    ("feet", Unit::Foot),
    ("feet-inches", Unit::FeetInches),
    ("feet and inches", Unit::FeetInches),
    ("dioptre", Unit::Dioptre),
    ("dioptres", Unit::Dioptre),
    ("diopter", Unit::Dioptre),
    ("diopters", Unit::Dioptre),
    ("degree", Unit::Degree),
    ("degrees", Unit::Degree),
    ("arcminute", Unit::ArcMinute),
    ("arcminutes", Unit::ArcMinute),
    ("minutes of arc", Unit::ArcMinute),
    ("radian", Unit::Radian),
    ("radians", Unit::Radian),
    ("ratio", Unit::Ratio),
    ("percent", Unit::Percent),
    ("per cent", Unit::Percent),
    ("pct", Unit::Percent),
    ("count", Unit::Count),
    ("counts", Unit::Count),
    ("t-stop", Unit::TStop),
    ("t-stops", Unit::TStop),
    ("t-number", Unit::TStop),
    ("f-stop", Unit::FNumber),
    ("f-stops", Unit::FNumber),
    ("f-number", Unit::FNumber),
    ("sec", Unit::Second),
    ("second", Unit::Second),
    ("seconds", Unit::Second),
    ("frames/s", Unit::Hertz),
    ("frames per second", Unit::Hertz),
    ("iso", Unit::Iso),
];

fn by_word(text: &str) -> Option<Unit> {
    WORDS
        .iter()
        .find(|(word, _)| word.eq_ignore_ascii_case(text))
        .map(|&(_, unit)| unit)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_symbol_reads_back() {
        for unit in Unit::ALL {
            assert_eq!(Unit::from_symbol(unit.symbol()), Some(unit));
        }
    }

    #[test]
    fn aliases() {
        for (text, unit) in [
            ("µm", Unit::Micrometre),
            ("μm", Unit::Micrometre),
            ("feet", Unit::Foot),
            ("Metres", Unit::Metre),
            ("INCHES", Unit::Inch),
            ("\"", Unit::Inch),
            ("'", Unit::Foot),
            ("°", Unit::Degree),
            (" mm ", Unit::Millimetre),
            ("FT", Unit::Foot),
            ("f/", Unit::FNumber),
            ("Counts", Unit::Count),
        ] {
            assert_eq!(Unit::from_symbol(text), Some(unit), "{text}");
        }
    }

    #[test]
    fn nothing_is_guessed() {
        for text in [
            "Mm", "mM", "Cm", "t", "d", "S", "km", "yd", "m m", "mmm", "fs", "?",
        ] {
            assert_eq!(Unit::from_symbol(text), None, "{text}");
        }
    }

    #[test]
    fn no_word_means_two_things() {
        for (index, (word, unit)) in WORDS.iter().enumerate() {
            assert_eq!(Unit::from_symbol(word), Some(*unit), "{word}");
            assert!(
                !WORDS[..index].iter().any(|(other, _)| other == word),
                "{word} twice"
            );
        }
    }
}
