//! Direction and normalisation of distortion coefficients, as options or a document state them.

use anyhow::{Result, bail};
pub use ringmark_optics::distortion::{DIRECTIONS, NORMALISATIONS};
use ringmark_optics::{Direction, Distortion, Normalisation};

/// What coefficients mean.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Statement {
    /// What applying the formula to a point gives.
    pub direction: Direction,
    /// The length that is 1 in the formula.
    pub normalisation: Normalisation,
}

impl Statement {
    /// The names of both, as options have them.
    pub fn names(self) -> (&'static str, &'static str) {
        let direction = DIRECTIONS.iter().find(|(_, d)| *d == self.direction);
        let normalisation = NORMALISATIONS
            .iter()
            .find(|(_, n)| *n == self.normalisation);
        (
            direction.map_or("", |(name, _)| name),
            normalisation.map_or("", |(name, _)| name),
        )
    }
}

/// What options say, else what the text of a document says: `Brown-Conrady`, then `U-D` or `D-U` or the name of an option, and
/// the name of a normalisation. Neither is ever guessed, and an option that contradicts the document is an error.
pub fn stated(
    direction: Option<Direction>,
    normalisation: Option<Normalisation>,
    document: Option<&str>,
) -> Result<Statement> {
    let in_document = document.map(Distortion::stated_in);
    if in_document.is_some_and(|stated| !stated.is_brown_conrady) {
        bail!(
            "distortion model “{}”: only Brown-Conrady is known here; convert the coefficients, or give them with --k1 and its kin",
            document.unwrap_or_default()
        );
    }
    let in_text = in_document.and_then(|stated| stated.direction);
    let length_in_text = in_document.and_then(|stated| stated.normalisation);
    if let (Some(asked), Some(found)) = (direction, in_text)
        && asked != found
    {
        bail!(
            "--direction contradicts the document, which states “{}”; leave the option out, or give the coefficients with --k1 \
             and its kin",
            document.unwrap_or_default()
        );
    }
    if let (Some(asked), Some(found)) = (normalisation, length_in_text)
        && asked != found
    {
        bail!(
            "--normalisation contradicts the document, which states “{}”; leave the option out, or give the coefficients with \
             --k1 and its kin",
            document.unwrap_or_default()
        );
    }
    let direction = direction.or(in_text);
    let normalisation = normalisation.or(length_in_text);
    match (direction, normalisation) {
        (Some(direction), Some(normalisation)) => Ok(Statement {
            direction,
            normalisation,
        }),
        _ => {
            let mut missing = Vec::new();
            if direction.is_none() {
                missing.push(format!(
                    "--direction {}",
                    DIRECTIONS.map(|(name, _)| name).join("|")
                ));
            }
            if normalisation.is_none() {
                missing.push(format!(
                    "--normalisation {}",
                    NORMALISATIONS.map(|(name, _)| name).join("|")
                ));
            }
            let found = document.map_or("no document says it".to_owned(), |text| {
                format!("the document says “{text}”")
            });
            bail!(
                "what the coefficients mean is not known: {found}. The numbers do not tell; ask whoever \
                 measured them, then say {}",
                missing.join(" and ")
            )
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn documents_state_all_a_part_or_nothing() {
        use Direction::{DistortedToUndistorted, UndistortedToDistorted};
        let full = stated(None, None, Some("Brown-Conrady U-D, half-width")).unwrap();
        assert_eq!(full.names(), ("undistorted-to-distorted", "half-width"));
        let part = |direction| {
            stated(
                direction,
                Some(Normalisation::FocalLength),
                Some("Brown-Conrady D-U"),
            )
        };
        assert_eq!(part(None).unwrap().direction, DistortedToUndistorted);
        assert!(part(Some(DistortedToUndistorted)).is_ok());
        let clash = part(Some(UndistortedToDistorted)).unwrap_err().to_string();
        assert!(clash.contains("contradicts"), "{clash}");
        let none = stated(None, None, None).unwrap_err().to_string();
        assert!(
            none.contains("--direction") && none.contains("--normalisation"),
            "{none}"
        );
        let none = stated(None, None, Some("Brown-Conrady D-U"))
            .unwrap_err()
            .to_string();
        assert!(
            !none.contains("--direction") && none.contains("--normalisation"),
            "{none}"
        );
        assert!(stated(None, None, Some("spline")).is_err());
    }
}
