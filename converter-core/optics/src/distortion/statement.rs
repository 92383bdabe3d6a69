//! What coefficients mean, as documents state it in words.

use super::{Direction, Distortion, Normalisation};

/// The name of each direction.
pub const DIRECTIONS: [(&str, Direction); 2] = [
    (
        "undistorted-to-distorted",
        Direction::UndistortedToDistorted,
    ),
    (
        "distorted-to-undistorted",
        Direction::DistortedToUndistorted,
    ),
];

/// The name of each normalisation.
pub const NORMALISATIONS: [(&str, Normalisation); 5] = [
    ("focal-length", Normalisation::FocalLength),
    ("half-width", Normalisation::HalfWidth),
    ("half-diagonal", Normalisation::HalfDiagonal),
    ("millimetre", Normalisation::Millimetre),
    ("pixel", Normalisation::Pixel),
];

/// What a text says about coefficients; nothing is guessed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct StatedDistortion {
    /// Whether it names the formula that is known here.
    pub is_brown_conrady: bool,
    /// The direction, if it names one.
    pub direction: Option<Direction>,
    /// The normalisation, if it names one.
    pub normalisation: Option<Normalisation>,
}

impl Distortion {
    /// Reads `Brown-Conrady U-D, focal-length`: the formula, `U-D` or `D-U` or the name of a direction, the name of a
    /// normalisation.
    pub fn stated_in(text: &str) -> StatedDistortion {
        let text = text.to_lowercase();
        let words: Vec<&str> = text
            .split([' ', ',', ';', '(', ')'])
            .filter(|word| !word.is_empty())
            .collect();
        let short = [
            ("u-d", Direction::UndistortedToDistorted),
            ("d-u", Direction::DistortedToUndistorted),
        ];
        StatedDistortion {
            is_brown_conrady: words.contains(&"brown-conrady"),
            direction: DIRECTIONS
                .iter()
                .chain(&short)
                .find(|(name, _)| words.contains(name))
                .map(|(_, direction)| *direction),
            normalisation: NORMALISATIONS
                .iter()
                .find(|(name, _)| words.contains(name))
                .map(|(_, normalisation)| *normalisation),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_found_wherever_they_stand() {
        let full = Distortion::stated_in("Brown-Conrady D-U, half-width");
        assert!(full.is_brown_conrady);
        assert_eq!(full.direction, Some(Direction::DistortedToUndistorted));
        assert_eq!(full.normalisation, Some(Normalisation::HalfWidth));
        let none = Distortion::stated_in("our own polynomial");
        assert!(!none.is_brown_conrady && none.direction.is_none());
        assert_eq!(none.normalisation, None);
    }
}
