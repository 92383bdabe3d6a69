//! ST maps as OpenEXR: 32-bit floats, R = s and G = t, row by row.

use std::io::{Seek, Write};
use std::sync::{Mutex, PoisonError};

use exr::image::Blocks;
use exr::prelude::{
    AttributeValue, Compression, Encoding, Image, Layer, LayerAttributes, LineOrder,
    SpecificChannels, Text, Vec2, WritableImage,
};

/// What every map says about itself, in the standard attribute `comments`.
const CONVENTION: &str = "ST map: R = s and G = t say where in the source picture a pixel comes from. \
s runs from 0 at its left edge to 1 at its right edge, t from 0 at its bottom edge to 1 at its top edge; \
the centre of column i of w columns is at s = (i + 0.5) / w, that of row j of h rows, counted from the bottom, \
at t = (j + 0.5) / h. Values outside 0 to 1 lie outside the source picture.";

/// Why a map was not written.
#[derive(Debug, thiserror::Error)]
pub enum StMapError<E> {
    /// A row could not be computed.
    #[error(transparent)]
    Row(E),
    /// The file could not be written.
    #[error("{0}")]
    Write(String),
}

/// Writes a map of `size` columns and rows; `row` gives (s, t) of each pixel of a row, counted from the top. `facts` become
/// lines of the attribute `stMap`. What is in the file follows from the arguments alone, byte for byte.
///
/// A block of 16 rows is held at a time. An error leaves a torso in `out`: write beside and rename.
pub fn write_st_map<E: Send>(
    out: impl Write + Seek,
    size: (u32, u32),
    software: &str,
    facts: &[(&str, String)],
    row: impl FnMut(u32) -> Result<Vec<[f64; 2]>, E> + Send,
) -> Result<(), StMapError<E>> {
    let rows = Mutex::new(Rows {
        compute: row,
        at: None,
        values: Vec::new(),
        failed: None,
    });
    // The library asks for pixels, left to right and row by row.
    let pixel = |Vec2(x, y): Vec2<usize>| {
        let mut rows = rows.lock().unwrap_or_else(PoisonError::into_inner);
        rows.pixel(x, y)
    };
    let mut about = LayerAttributes {
        comments: Some(text(CONVENTION)),
        software_name: Some(text(software)),
        ..LayerAttributes::default()
    };
    // One attribute and not one a fact: the library keeps them in a table without order.
    let lines: Vec<String> = facts
        .iter()
        .map(|(name, value)| format!("{name}: {value}"))
        .collect();
    about
        .other
        .insert(text("stMap"), AttributeValue::Text(text(&lines.join("\n"))));
    let encoding = Encoding {
        compression: Compression::ZIP16,
        blocks: Blocks::ScanLines,
        line_order: LineOrder::Increasing,
    };
    let channels = SpecificChannels::build()
        .with_channel::<f32>("R")
        .with_channel::<f32>("G")
        .with_pixel_fn(pixel);
    let (width, height) = (size.0 as usize, size.1 as usize);
    let image = Image::from_layer(Layer::new((width, height), about, encoding, channels));
    let written = image.write().non_parallel().to_buffered(out);
    drop(image);
    let rows = rows.into_inner().unwrap_or_else(PoisonError::into_inner);
    match (rows.failed, written) {
        (Some(error), _) => Err(StMapError::Row(error)),
        (None, Err(error)) => Err(StMapError::Write(error.to_string())),
        (None, Ok(())) => Ok(()),
    }
}

/// UTF-8, as OpenEXR has texts.
fn text(text: &str) -> Text {
    Text::from_slice_unchecked(text.as_bytes())
}

/// The row that is being read, and the first error: pixels cannot fail.
struct Rows<F, E> {
    compute: F,
    at: Option<usize>,
    values: Vec<[f64; 2]>,
    failed: Option<E>,
}

impl<F: FnMut(u32) -> Result<Vec<[f64; 2]>, E>, E> Rows<F, E> {
    fn pixel(&mut self, x: usize, y: usize) -> (f32, f32) {
        if self.at != Some(y) && self.failed.is_none() {
            match u32::try_from(y).map(|y| (self.compute)(y)) {
                Ok(Ok(values)) => self.values = values,
                Ok(Err(error)) => self.failed = Some(error),
                // A picture has no such row.
                Err(_) => self.values.clear(),
            }
            self.at = Some(y);
        }
        match (self.values.get(x), &self.failed) {
            (Some([s, t]), None) => (*s as f32, *t as f32),
            _ => (f32::NAN, f32::NAN),
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use std::io::Cursor;

    use exr::prelude::{ReadChannels, ReadLayers, ReadSpecificChannel, read};

    use super::*;

    fn row(y: u32) -> Result<Vec<[f64; 2]>, String> {
        Ok((0..7)
            .map(|x| [f64::from(x) / 8.0, f64::from(y) + 0.25])
            .collect())
    }

    fn written(
        row: impl FnMut(u32) -> Result<Vec<[f64; 2]>, String> + Send,
    ) -> Result<Vec<u8>, StMapError<String>> {
        let mut file = Cursor::new(Vec::new());
        let facts = [
            ("kind", "undistort".to_owned()),
            ("source", "prøve.csv".to_owned()),
        ];
        write_st_map(&mut file, (7, 37), "ringmark 0", &facts, row)?;
        Ok(file.into_inner())
    }

    #[test]
    fn pixels_and_facts_come_back_and_bytes_are_the_same_each_time() {
        let bytes = written(row).unwrap();
        assert_eq!(bytes, written(row).unwrap());
        let image = read()
            .no_deep_data()
            .largest_resolution_level()
            .specific_channels()
            .required("R")
            .required("G")
            .collect_pixels(
                |size, _| vec![(0.0_f32, 0.0_f32); size.width() * size.height()],
                |pixels, Vec2(x, y), st: (f32, f32)| pixels[y * 7 + x] = st,
            )
            .first_valid_layer()
            .all_attributes()
            .from_buffered(Cursor::new(bytes))
            .unwrap();
        let pixels = image.layer_data.channel_data.pixels;
        assert_eq!(pixels.len(), 7 * 37);
        assert_eq!(pixels[0], (0.0, 0.25));
        assert_eq!(pixels[36 * 7 + 6], (0.75, 36.25));
        let about = image.layer_data.attributes;
        assert_eq!(about.software_name, Some(text("ringmark 0")));
        assert!(
            about
                .comments
                .unwrap()
                .to_string()
                .contains("(i + 0.5) / w")
        );
        let AttributeValue::Text(facts) = &about.other[&text("stMap")] else {
            panic!("no text");
        };
        assert_eq!(
            facts.as_slice(),
            "kind: undistort\nsource: prøve.csv".as_bytes()
        );
    }

    #[test]
    fn a_row_that_cannot_be_computed_ends_it_with_its_error() {
        let mut asked = 0;
        let failed = written(|y| {
            asked += 1;
            if y < 20 {
                row(y)
            } else {
                Err(format!("row {y}"))
            }
        });
        assert!(matches!(failed, Err(StMapError::Row(error)) if error == "row 20"));
        assert_eq!(asked, 21);
    }

    #[test]
    fn a_full_disk_is_said() {
        struct Full;
        impl Write for Full {
            fn write(&mut self, _: &[u8]) -> std::io::Result<usize> {
                Err(std::io::Error::other("no space left"))
            }
            fn flush(&mut self) -> std::io::Result<()> {
                Ok(())
            }
        }
        impl Seek for Full {
            fn seek(&mut self, _: std::io::SeekFrom) -> std::io::Result<u64> {
                Ok(0)
            }
        }
        let failed = write_st_map(Full, (7, 3), "ringmark", &[], row);
        assert!(
            matches!(&failed, Err(StMapError::Write(why)) if why.contains("no space left")),
            "{failed:?}"
        );
    }
}
