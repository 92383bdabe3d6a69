//! T-stop and f-number through transmittance, and the f-number at work.

use ringmark_quantity::{FNumber, TStop};

use crate::error::{OpticsError, positive, same_length};

/// Engraved numbers are rounded: an f-number up to this factor above the T-stop is taken as equal to it.
const ROUNDING: f64 = 1.01;

/// The part of the light that a lens lets through: above 0, at most 1.
///
/// 0.5 to 0.95 for most cine lenses: common practice, no source.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Transmittance(f64);

impl Transmittance {
    /// A part of 1.
    pub fn new(part: f64) -> Result<Self, OpticsError> {
        if part > 0.0 && part <= 1.0 {
            Ok(Self(part))
        } else {
            Err(OpticsError::Value {
                quantity: "transmittance",
                value: part,
                unit: "",
                expected: "a number above 0, at most 1",
            })
        }
    }

    /// `(N / T)²` of two numbers of one setting (definition of the T-stop, ISO 517, from memory). An f-number above the
    /// T-stop is impossible; up to 1 % is rounding of the engraved numbers and gives 1.
    pub fn of_stops(f_number: FNumber, t_stop: TStop) -> Result<Self, OpticsError> {
        let ratio = f_number.value() / t_stop.value();
        if ratio <= ROUNDING {
            Self::new((ratio * ratio).min(1.0))
        } else {
            Err(OpticsError::TransmittanceAboveOne {
                t_stop: t_stop.value(),
                f_number: f_number.value(),
                percent: (100.0 * ratio * ratio).round(),
            })
        }
    }

    /// The part.
    pub const fn part(self) -> f64 {
        self.0
    }

    /// `T = N / sqrt(τ)` (definition of the T-stop, ISO 517, from memory).
    pub fn t_stop(self, f_number: FNumber) -> Result<TStop, OpticsError> {
        Ok(TStop::new(f_number.value() / self.0.sqrt())?)
    }

    /// `N = T sqrt(τ)`, the inverse of [`t_stop`](Self::t_stop).
    pub fn f_number(self, t_stop: TStop) -> Result<FNumber, OpticsError> {
        Ok(FNumber::new(t_stop.value() * self.0.sqrt())?)
    }

    /// [`f_number`](Self::f_number) for a column of T-stops; `NaN` stays `NaN`.
    pub fn f_numbers(self, t_stops: &[f64], out: &mut [f64]) -> Result<(), OpticsError> {
        same_length("column of f-numbers", out.len(), t_stops.len())?;
        let factor = self.0.sqrt();
        for (number, t_stop) in out.iter_mut().zip(t_stops) {
            *number = t_stop * factor;
        }
        Ok(())
    }
}

/// f-number at work at magnification `m` with pupil ratio `P` (exit over entrance pupil diameter): `N (1 + |m| / P)`.
///
/// What sets exposure and diffraction on the sensor when the lens is not at infinity. Valid for any finite `m`, `P > 0`; `P = 1`
/// where it is not known. Source: Wikipedia, 'F-number', section 'Working f-number'.
pub fn effective_f_number(
    f_number: FNumber,
    magnification: f64,
    pupil_ratio: f64,
) -> Result<FNumber, OpticsError> {
    let ratio = positive("pupil ratio", pupil_ratio, "")?;
    Ok(FNumber::new(
        f_number.value() * (1.0 + magnification.abs() / ratio),
    )?)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;

    #[test]
    fn transmittance_of_two_stops() {
        let of = |n, t| Transmittance::of_stops(FNumber::new(n).unwrap(), TStop::new(t).unwrap());
        assert_eq!(of(2.0, 4.0).unwrap().part(), 0.25);
        assert_eq!(of(2.8, 2.8).unwrap().part(), 1.0);
        // f/1.41 engraved as 1.4 on the T scale.
        assert_eq!(of(1.41, 1.4).unwrap().part(), 1.0);
        assert_eq!(
            of(2.6, 2.2).unwrap_err().to_string(),
            "T2.2 with f/2.6: 140 % of the light would pass; check which of the two columns is which"
        );
    }

    #[test]
    fn there_and_back() {
        for part in [1e-3, 0.3, 0.81, 1.0] {
            let transmittance = Transmittance::new(part).unwrap();
            for n in [0.7, 2.8, 64.0] {
                let t = transmittance.t_stop(FNumber::new(n).unwrap()).unwrap();
                assert!(t.value() >= n);
                let back = transmittance.f_number(t).unwrap().value();
                assert!((back / n - 1.0).abs() < 1e-15);
                let mut column = [0.0; 2];
                transmittance
                    .f_numbers(&[t.value(), f64::NAN], &mut column)
                    .unwrap();
                assert_eq!(column[0], back);
                assert!(column[1].is_nan());
            }
        }
    }

    #[test]
    fn refuses_what_cannot_be() {
        for part in [0.0, -0.5, 1.0001, f64::NAN, f64::INFINITY] {
            assert!(Transmittance::new(part).is_err(), "{part}");
        }
        let half = Transmittance::new(0.5).unwrap();
        assert!(half.f_numbers(&[2.0], &mut []).is_err());
        let n = FNumber::new(2.8).unwrap();
        assert!(effective_f_number(n, 0.5, 0.0).is_err());
        assert!(effective_f_number(n, f64::NAN, 1.0).is_err());
        assert!(effective_f_number(n, f64::INFINITY, 1.0).is_err());
    }

    #[test]
    fn a_sign_of_magnification_does_not_matter() {
        let n = FNumber::new(2.0).unwrap();
        assert_eq!(effective_f_number(n, -0.5, 2.0).unwrap().value(), 2.5);
        assert_eq!(effective_f_number(n, 0.5, 2.0).unwrap().value(), 2.5);
    }
}
