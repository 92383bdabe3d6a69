//! How many chunks a part has, and their offset tables in a file whose header has another length.
//!
//! Behind the headers stands a table for each part: the offset in the file of each of its chunks
//! (blocks of lines, or tiles), 64 bits each, 0 for chunks that were never written. Formulas from *OpenEXR
//! File Layout*; the counts of lines were compared with files of PyPI OpenEXR 3.5.3.

use ringmark_sdk::{Input, Output};

use crate::attribute::word;
use crate::header::Part;
use crate::source::HeaderSource;
use crate::version::{DEEP, MULTI_PART, TILED};

/// Lines in a block, by compression: none, RLE, ZIPS, ZIP, PIZ, PXR24, B44, B44A, DWAA, DWAB,
/// HTJ2K256, HTJ2K32, LJ2K, ZSTD.
const LINES: [u64; 14] = [1, 1, 1, 16, 32, 16, 32, 32, 32, 256, 256, 32, 256, 1];

/// Bytes of an offset.
const ENTRY: u64 = 8;
/// Bytes of a table that are handled at a time.
const STEP: u64 = 64 * 1024;

/// Where in a file the offset tables end, if they fit into `size` bytes. The error says what is wrong, after the name of the part.
pub fn tables_end(source: &HeaderSource, size: u64) -> Result<u64, String> {
    let header = &source.header;
    let mut end = header.length as u64;
    for (number, part) in header.parts.iter().enumerate() {
        let of = |error: String| match header.multi_part {
            true => format!("part {number}: {error}"),
            false => error,
        };
        let count = chunks(source, part).map_err(of)?;
        let bytes = count
            .checked_mul(ENTRY)
            .and_then(|bytes| end.checked_add(bytes));
        end = bytes.filter(|end| *end <= size).ok_or_else(|| {
            of(format!(
                "the table of its {count} chunks runs past the end of the file, which has {size} bytes"
            ))
        })?;
    }
    Ok(end)
}

/// Writes the tables between `start` and `end` of `template` for a file in which all chunks
/// come `shift` bytes later. The error says what is wrong with them.
pub fn shift_tables(
    template: &dyn Input,
    start: u64,
    end: u64,
    shift: i64,
    output: &mut dyn Output,
) -> Result<(), String> {
    let size = template.size();
    let mut at = start;
    while at < end {
        let step = (end - at).min(STEP);
        let mut bytes = template.read(at, step as u32);
        if bytes.len() as u64 != step {
            return Err("the file ends inside its chunk offset table".to_owned());
        }
        let (entries, _) = bytes.as_chunks_mut::<8>();
        for (index, entry) in entries.iter_mut().enumerate() {
            let offset = u64::from_le_bytes(*entry);
            if offset == 0 {
                // The chunk was never written.
                continue;
            }
            let new = offset.checked_add_signed(shift);
            let Some(new) = new.filter(|_| (end..size).contains(&offset)) else {
                return Err(format!(
                    "the chunk offset at byte {} is {offset}, chunks lie between bytes {end} and {size}",
                    at + ENTRY * index as u64
                ));
            };
            *entry = new.to_le_bytes();
        }
        output.write(&bytes);
        at += step;
    }
    Ok(())
}

/// The count of chunks of a part.
fn chunks(source: &HeaderSource, part: &Part) -> Result<u64, String> {
    let value = |key: &[u8]| source.value_of(part, key);
    let flags = source.header.flags;
    let by_kind = flags & (DEEP | MULTI_PART) != 0;
    let kind = value(b"type\0string\0");
    let stated = match value(b"chunkCount\0int\0") {
        [] => None,
        count => Some(word(count, 0)),
    };
    let (tiled, known) = match (by_kind, kind) {
        (false, _) => (flags & TILED != 0, true),
        (true, b"tiledimage" | b"deeptile") => (true, true),
        (true, b"scanlineimage" | b"deepscanline") => (false, true),
        (true, _) => (false, false),
    };
    let window = value(b"dataWindow\0box2i\0");
    let corner = |at| i64::from(word(window, at) as i32);
    let side = |low, high| u64::try_from(corner(high) - corner(low) + 1).unwrap_or(0);
    let (width, height) = (side(0, 8), side(4, 12));
    if width == 0 || height == 0 {
        return Err(format!(
            "dataWindow ({}, {}, {}, {}) has no area",
            corner(0),
            corner(4),
            corner(8),
            corner(12)
        ));
    }
    let computed = if !known {
        None
    } else if tiled {
        Some(Tiling::of(value(b"tiles\0tiledesc\0"))?.count(width, height)?)
    } else {
        let compression = value(b"compression\0compression\0").first().copied();
        let lines = LINES.get(usize::from(compression.unwrap_or(u8::MAX)));
        lines.map(|lines| height.div_ceil(*lines))
    };
    match (computed, stated) {
        (Some(count), Some(stated)) if by_kind && u64::from(stated) != count => Err(format!(
            "chunkCount is {}, the image has {count} chunks",
            stated as i32
        )),
        (Some(count), _) => Ok(count),
        (None, Some(count)) if count <= i32::MAX as u32 => Ok(u64::from(count)),
        _ => Err("how its pixels are stored is not known: without chunkCount nobody can tell how many chunks it has".to_owned()),
    }
}

/// How a part is cut into tiles.
struct Tiling {
    tile: [u64; 2],
    levels: Levels,
    round_up: bool,
}

enum Levels {
    One,
    /// Width and height are halved together.
    Mip,
    /// Each is halved on its own.
    Rip,
}

impl Tiling {
    fn of(value: &[u8]) -> Result<Tiling, String> {
        let tile = [word(value, 0), word(value, 4)].map(u64::from);
        let mode = value.get(8).copied().unwrap_or(u8::MAX);
        let levels = match mode & 15 {
            0 => Levels::One,
            1 => Levels::Mip,
            2 => Levels::Rip,
            _ => {
                return Err(format!(
                    "tiles has the mode {mode:#04x}, known are 0 to 2 with and without 0x10"
                ));
            }
        };
        if tile.contains(&0) {
            return Err(format!("tiles of {} × {} pixels", tile[0], tile[1]));
        }
        let round_up = match mode >> 4 {
            0 => false,
            1 => true,
            _ => {
                return Err(format!(
                    "tiles has the mode {mode:#04x}, known are 0 to 2 with and without 0x10"
                ));
            }
        };
        Ok(Tiling {
            tile,
            levels,
            round_up,
        })
    }

    fn count(&self, width: u64, height: u64) -> Result<u64, String> {
        let across = |level| self.tiles(width, level, self.tile[0]);
        let down = |level| self.tiles(height, level, self.tile[1]);
        let count = match self.levels {
            Levels::One => across(0).checked_mul(down(0)),
            Levels::Mip => (0..self.levels(width.max(height))).try_fold(0u64, |sum, level| {
                sum.checked_add(across(level).checked_mul(down(level))?)
            }),
            Levels::Rip => {
                let sum = |tiles: &dyn Fn(u32) -> u64, side| -> u64 {
                    (0..self.levels(side)).map(tiles).sum()
                };
                sum(&across, width).checked_mul(sum(&down, height))
            }
        };
        count.ok_or_else(|| "it has more tiles than can be counted".to_owned())
    }

    /// Levels of a side: as often as it can be halved, and the whole.
    fn levels(&self, side: u64) -> u32 {
        let whole = 1 + side.ilog2();
        if self.round_up && !side.is_power_of_two() {
            whole + 1
        } else {
            whole
        }
    }

    /// Tiles along a side at a level.
    fn tiles(&self, side: u64, level: u32, tile: u64) -> u64 {
        let halved = match self.round_up {
            true => side.div_ceil(1 << level),
            false => side >> level,
        };
        halved.max(1).div_ceil(tile)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    /// Counts of files that PyPI OpenEXR 3.5.3 wrote: 53 × 37 pixels in tiles of 16 × 8.
    #[test]
    fn tiles_of_the_reference_library() {
        for (mode, count) in [
            (0, 20),
            (0x10, 20),
            (1, 31),
            (0x11, 32),
            (2, 130),
            (0x12, 154),
        ] {
            let value = [16, 0, 0, 0, 8, 0, 0, 0, mode];
            let tiling = Tiling::of(&value).unwrap();
            assert_eq!(tiling.count(53, 37), Ok(count), "mode {mode:#x}");
        }
        // Sides that are a power of two have the same levels whichever way they are rounded.
        for mode in [1, 0x11] {
            let tiling = Tiling::of(&[8, 0, 0, 0, 8, 0, 0, 0, mode]).unwrap();
            assert_eq!(tiling.count(64, 16), Ok(16 + 4 + 2 + 1 + 1 + 1 + 1));
        }
    }

    #[test]
    fn tiles_that_are_none() {
        let error = |value: &[u8; 9]| Tiling::of(value).err().unwrap();
        assert!(error(&[0; 9]).contains("0 × 0"));
        assert!(error(&[1, 0, 0, 0, 1, 0, 0, 0, 3]).contains("0x03"));
        assert!(error(&[1, 0, 0, 0, 1, 0, 0, 0, 0x20]).contains("0x20"));
        // The largest window there can be, in tiles of one pixel: no overflow, whatever the levels.
        for mode in 0..3 {
            let single = Tiling::of(&[1, 0, 0, 0, 1, 0, 0, 0, mode]).unwrap();
            assert!(single.count(1 << 32, 1 << 32).is_err());
            assert!(single.count(1 << 31, 1 << 31).is_ok());
        }
    }
}
