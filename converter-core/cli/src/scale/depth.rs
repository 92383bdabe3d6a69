//! Depth of field along a focus scale.

use anyhow::{Context, Result, bail};
use ringmark_model::Lens;
use ringmark_optics::{CircleOfConfusion, FocusedLens, ImageFormat};
use ringmark_quantity::{
    DistanceReference, EffectiveFocalLength, FNumber, FocusDistance, StopKind, Unit, parse, print,
};

use crate::derive::circle_of_confusion;

/// What a person said about sharpness; else the lens and common practice say it.
#[derive(Debug, Clone, Copy, Default)]
pub struct Sharpness {
    /// The stop, instead of the widest of the lens.
    pub f_number: Option<FNumber>,
    /// The blur that counts as sharp, instead of that of 35 mm cine.
    pub circle: Option<CircleOfConfusion>,
}

impl Sharpness {
    /// As options say it: `--f-number` and `--circle-of-confusion`.
    pub fn of(f_number: Option<&str>, circle: Option<&str>) -> Result<Sharpness> {
        Ok(Sharpness {
            f_number: f_number.map(self::f_number).transpose()?,
            circle: circle.map(circle_of_confusion).transpose()?,
        })
    }
}

fn f_number(text: &str) -> Result<FNumber> {
    let stop = parse::stop(text).with_context(|| format!("--f-number {text}"))?;
    if stop.kind == Some(StopKind::T) {
        bail!("--f-number {text}: depth of field follows from the f-number, not from the T-stop");
    }
    FNumber::new(stop.value).with_context(|| format!("--f-number {text}"))
}

/// What the depth of field of a lens rests on.
#[derive(Debug, Clone, Copy)]
pub struct Depth {
    focal_length: EffectiveFocalLength,
    /// Whether that is the long end of a zoom.
    longest: bool,
    stop: FNumber,
    /// Whether that is the widest of the lens.
    widest: bool,
    circle: CircleOfConfusion,
    reference: DistanceReference,
}

impl Depth {
    /// Of a lens at its widest stop, a zoom at its longest focal length: where the depth is smallest.
    pub fn of(
        lens: &Lens,
        reference: DistanceReference,
        sharpness: Sharpness,
    ) -> Result<Depth, String> {
        let (shortest, longest) = lens.focal_length.ok_or("the lens states no focal length")?;
        let stop = sharpness.f_number.or(lens.widest_f).ok_or(
            "the lens states no widest f-number, and a T-stop is light, not geometry; --f-number N gives one",
        )?;
        let depth = Depth {
            focal_length: EffectiveFocalLength::from_mm(longest.mm()).map_err(|e| e.to_string())?,
            longest: shortest != longest,
            stop,
            widest: sharpness.f_number.is_none(),
            circle: sharpness
                .circle
                .unwrap_or(CircleOfConfusion::of_format(ImageFormat::Cine35)),
            reference,
        };
        // A reference that nothing follows from is known now; a distance too near is of its mark only.
        depth
            .lens(f64::INFINITY)
            .map_err(|error| error.to_string())?;
        Ok(depth)
    }

    /// What it rests on.
    pub fn words(&self) -> String {
        format!(
            "at {}{}, {}{}, circle of confusion {}",
            print::f_number(self.stop.value()),
            if self.widest { " (full aperture)" } else { "" },
            print::focal_length(self.focal_length.mm()),
            if self.longest { " (the long end)" } else { "" },
            print::value(self.circle.mm(), Unit::Millimetre),
        )
    }

    fn lens(&self, metres: f64) -> Result<FocusedLens, ringmark_optics::OpticsError> {
        FocusedLens::thin(
            self.focal_length,
            FocusDistance::new(metres, self.reference)?,
        )
    }

    /// Near and far limit in metres; `None` for a distance at which no image is formed.
    pub(super) fn limits(&self, metres: f64) -> Option<(f64, f64)> {
        let depth = self.lens(metres).ok()?;
        let depth = depth.depth_of_field(self.stop, self.circle).ok()?;
        Some((depth.near.metres(), depth.far.metres()))
    }

    /// The full depth in dioptres. Past the hyperfocal distance, where the far half is cut off by infinity, twice the near half:
    /// seen from the pupil both are the same.
    pub fn dioptres(&self, metres: f64) -> Option<f64> {
        let (near, far) = self.limits(metres)?;
        Some(if far.is_finite() {
            1.0 / near - 1.0 / far
        } else {
            2.0 * (1.0 / near - 1.0 / metres)
        })
    }
}
