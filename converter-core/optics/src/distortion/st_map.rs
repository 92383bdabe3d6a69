//! ST maps: for every pixel of a picture, where to take it from.
//!
//! s runs from 0 at the left edge to 1 at the right edge of the picture that is sampled, t from 0 at its **bottom** edge to 1 at
//! its top edge, both at pixel centres; values outside 0 to 1 lie outside that picture. Common practice, no source.

use super::image::side_of;
use super::{Distortion, ImageGeometry, Point};
use crate::error::OpticsError;

/// What a map makes of a picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StMapKind {
    /// The ideal picture, with overscan, from the recorded one.
    Undistort,
    /// The recorded picture from the ideal one, with overscan.
    Redistort,
}

/// The ideal picture: the recorded one with pixels added on every side, since undistorting moves parts of it outwards.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Canvas {
    left: u32,
    top: u32,
    size_px: (u32, u32),
}

impl Canvas {
    /// `image` with this many pixels more on each side. Sides are 131072 pixels at most.
    pub fn with_overscan(
        image: &ImageGeometry,
        left: u32,
        right: u32,
        top: u32,
        bottom: u32,
    ) -> Result<Self, OpticsError> {
        let (width, height) = image.size_px();
        let side = |a: u32, b: u32, c: u32| side_of(u64::from(a) + u64::from(b) + u64::from(c));
        Ok(Self {
            left,
            top,
            size_px: (side(left, width, right)?, side(top, height, bottom)?),
        })
    }

    /// The smallest canvas that holds all of the recorded picture. Undistortion is one to one, so the edge of the picture goes
    /// to the edge of its image: the corners of all pixels on it are undistorted and the outermost counted, in whole pixels.
    pub fn covering(distortion: &Distortion, image: &ImageGeometry) -> Result<Self, OpticsError> {
        let (width, height) = image.size_px();
        let (right, bottom) = (f64::from(width), f64::from(height));
        let unit = distortion.normalisation();
        let (mut low, mut high) = ([0.0, 0.0], [right, bottom]);
        let mut reach = |position: [f64; 2]| -> Result<(), OpticsError> {
            let ideal = distortion.undistort(image.point(unit, position))?;
            let [x, y] = image.pixel(unit, ideal);
            low = [f64::min(low[0], x), f64::min(low[1], y)];
            high = [f64::max(high[0], x), f64::max(high[1], y)];
            Ok(())
        };
        for x in 0..=width {
            reach([f64::from(x), 0.0])?;
            reach([f64::from(x), bottom])?;
        }
        for y in 0..=height {
            reach([0.0, f64::from(y)])?;
            reach([right, f64::from(y)])?;
        }
        // The tiny part that rounding adds is no pixel; a number too large for u32 becomes the largest, and is refused.
        let whole = |pixels: f64| (pixels - 1e-6).ceil() as u32;
        Self::with_overscan(
            image,
            whole(-low[0]),
            whole(high[0] - right),
            whole(-low[1]),
            whole(high[1] - bottom),
        )
    }

    /// Pixels added on the left and on top.
    pub const fn origin_px(&self) -> (u32, u32) {
        (self.left, self.top)
    }

    /// Width and height in pixels.
    pub const fn size_px(&self) -> (u32, u32) {
        self.size_px
    }
}

/// A map, computed row by row.
#[derive(Debug, Clone, Copy)]
pub struct StMap<'a> {
    kind: StMapKind,
    distortion: &'a Distortion,
    image: &'a ImageGeometry,
    canvas: Canvas,
}

impl<'a> StMap<'a> {
    /// A map between `image` and the ideal picture on `canvas`.
    pub const fn new(
        kind: StMapKind,
        distortion: &'a Distortion,
        image: &'a ImageGeometry,
        canvas: Canvas,
    ) -> Self {
        Self {
            kind,
            distortion,
            image,
            canvas,
        }
    }

    /// Width and height of the map: that of the picture it makes.
    pub const fn size_px(&self) -> (u32, u32) {
        match self.kind {
            StMapKind::Undistort => self.canvas.size_px(),
            StMapKind::Redistort => self.image.size_px(),
        }
    }

    /// One row of (s, t), counted from the top; past the last row it goes on below the picture.
    pub fn row(&self, row: u32) -> Result<Vec<Point>, OpticsError> {
        let (width, _) = self.size_px();
        let y = f64::from(row) + 0.5;
        (0..width)
            .map(|x| self.sample([f64::from(x) + 0.5, y]))
            .collect()
    }

    /// All rows, from the top.
    pub fn rows(&self) -> impl Iterator<Item = Result<Vec<Point>, OpticsError>> {
        let map = *self;
        (0..self.size_px().1).map(move |row| map.row(row))
    }

    fn sample(&self, [x, y]: [f64; 2]) -> Result<Point, OpticsError> {
        let unit = self.distortion.normalisation();
        let (left, top) = self.canvas.origin_px();
        let (left, top) = (f64::from(left), f64::from(top));
        let (position, size) = match self.kind {
            StMapKind::Undistort => {
                let ideal = self.image.point(unit, [x - left, y - top]);
                let recorded = self.distortion.distort(ideal)?;
                (self.image.pixel(unit, recorded), self.image.size_px())
            }
            StMapKind::Redistort => {
                let recorded = self.image.point(unit, [x, y]);
                let ideal = self.distortion.undistort(recorded)?;
                let [x, y] = self.image.pixel(unit, ideal);
                ([x + left, y + top], self.canvas.size_px())
            }
        };
        Ok([
            position[0] / f64::from(size.0),
            1.0 - position[1] / f64::from(size.1),
        ])
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;
    use crate::distortion::{Coefficients, Direction, Normalisation};
    use ringmark_quantity::PinholeFocalLength;

    fn image() -> ImageGeometry {
        let f = PinholeFocalLength::from_mm(20.0).unwrap();
        ImageGeometry::new((64, 36), (32.0, 18.0), f, (0.3, -0.2)).unwrap()
    }

    fn distortion(k1: f64) -> Distortion {
        let coefficients = Coefficients {
            k1,
            p1: 0.001,
            ..Coefficients::default()
        };
        Distortion::new(
            coefficients,
            Direction::UndistortedToDistorted,
            Normalisation::FocalLength,
        )
        .unwrap()
    }

    #[test]
    fn without_distortion_every_pixel_stays() {
        let none = Distortion::new(
            Coefficients::default(),
            Direction::UndistortedToDistorted,
            Normalisation::Pixel,
        )
        .unwrap();
        let image = image();
        let canvas = Canvas::covering(&none, &image).unwrap();
        assert_eq!((canvas.origin_px(), canvas.size_px()), ((0, 0), (64, 36)));
        for kind in [StMapKind::Undistort, StMapKind::Redistort] {
            let map = StMap::new(kind, &none, &image, canvas);
            let rows: Vec<_> = map.rows().collect::<Result<_, _>>().unwrap();
            assert_eq!((rows.len(), rows[0].len()), (36, 64));
            // The first row is the top one: t near 1.
            assert_eq!(rows[0][0], [0.5 / 64.0, 1.0 - 0.5 / 36.0]);
            assert_eq!(rows[35][63], [63.5 / 64.0, 1.0 - 35.5 / 36.0]);
        }
    }

    #[test]
    fn the_canvas_holds_all_of_a_barrel_picture_and_not_much_more() {
        let (barrel, image) = (distortion(-0.15), image());
        let canvas = Canvas::covering(&barrel, &image).unwrap();
        assert!(canvas.size_px().0 > 64 && canvas.size_px().1 > 36);
        let map = StMap::new(StMapKind::Redistort, &barrel, &image, canvas);
        for [s, t] in map.rows().flat_map(Result::unwrap) {
            assert!(
                (0.0..=1.0).contains(&s) && (0.0..=1.0).contains(&t),
                "{s} {t}"
            );
        }
        // A column less and a corner would be cut off.
        let (left, top) = canvas.origin_px();
        let (width, height) = canvas.size_px();
        let corner = image.point(Normalisation::FocalLength, [0.0, 0.0]);
        let [x, y] = image.pixel(
            Normalisation::FocalLength,
            barrel.undistort(corner).unwrap(),
        );
        assert!(-x > f64::from(left) - 1.0 && -y > f64::from(top) - 1.0);
        assert!(width < 64 + 2 * (left + 2) && height < 36 + 2 * (top + 2));
        // A pincushion picture shrinks: nothing is added.
        let canvas = Canvas::covering(&distortion(0.15), &image).unwrap();
        assert_eq!(canvas.size_px(), (64, 36));
    }

    #[test]
    fn one_map_takes_back_what_the_other_did() {
        let (barrel, image) = (distortion(-0.15), image());
        let canvas = Canvas::with_overscan(&image, 3, 5, 2, 1).unwrap();
        let undistort = StMap::new(StMapKind::Undistort, &barrel, &image, canvas);
        let redistort = StMap::new(StMapKind::Redistort, &barrel, &image, canvas);
        assert_eq!(undistort.size_px(), (72, 39));
        // Pixel (30, 20) of the canvas comes from (s, t) of the picture; from there it must come from that pixel.
        let [s, t] = undistort.row(20).unwrap()[30];
        let back = redistort.sample([s * 64.0, (1.0 - t) * 36.0]).unwrap();
        assert!((back[0] * 72.0 - 30.5).abs() < 1e-10, "{back:?}");
        assert!(((1.0 - back[1]) * 39.0 - 20.5).abs() < 1e-10, "{back:?}");
    }

    #[test]
    fn an_overscan_beyond_the_fold_is_refused() {
        let (barrel, image) = (distortion(-0.3), image());
        let canvas = Canvas::with_overscan(&image, 40, 40, 40, 40).unwrap();
        let map = StMap::new(StMapKind::Undistort, &barrel, &image, canvas);
        assert!(matches!(map.row(0), Err(OpticsError::Folds { .. })));
        assert!(Canvas::with_overscan(&image, u32::MAX, 0, 0, 0).is_err());
    }
}
