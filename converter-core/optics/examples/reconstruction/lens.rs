//! Lenses whose scale is known at every ring position.

use std::path::Path;

use ringmark_model::ScaleQuantity;

/// Circle of confusion, m.
const CONFUSION: f64 = 0.025e-3;

/// A ring position and what is true there.
#[derive(Debug, Clone, Copy)]
pub struct Row {
    pub ring: f64,
    /// Distance from the image plane in m, T-stop, or focal length in mm.
    pub value: f64,
    /// What errors are counted in, in the coordinate of the scale: the full depth of field at full aperture in dioptres,
    /// a stop, or a hundredth of the focal length.
    pub one: f64,
}

/// A ring of a lens, from position 0 to 1; focus from close focus to infinity.
#[derive(Debug, Clone)]
pub struct Truth {
    pub name: String,
    pub quantity: ScaleQuantity,
    pub rows: Vec<Row>,
}

/// Depth of field by similar triangles at the entrance pupil of diameter `aperture`: `k = c / (m aperture)`, limits
/// `s / (1 ± k)` from the pupil, which lies `pupil` before the image plane; all in m, the result in dioptres.
pub fn depth(distance: f64, pupil: f64, magnification: f64, aperture: f64) -> f64 {
    let k = CONFUSION / (magnification * aperture);
    let s = distance - pupil;
    let far = if k < 1.0 {
        1.0 / (s / (1.0 - k) + pupil)
    } else {
        0.0
    };
    1.0 / (s / (1.0 + k) + pupil) - far
}

/// The traced lenses of a folder: `NAME.csv` with `NAME.json`, or that of the longest name that `NAME` begins with.
pub fn traced(folder: &Path) -> Result<Vec<Truth>, String> {
    let said = |error: std::io::Error| format!("{}: {error}", folder.display());
    let mut files: Vec<_> = std::fs::read_dir(folder)
        .map_err(said)?
        .filter_map(|entry| Some(entry.ok()?.path()))
        .collect();
    files.sort();
    let with = |extension: &str| {
        let files: Vec<_> = files
            .iter()
            .filter(|f| f.extension().is_some_and(|e| e == extension))
            .collect();
        files
    };
    let stem = |path: &Path| {
        path.file_stem()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned()
    };
    let mut lenses = Vec::new();
    for table in with("csv") {
        let name = stem(table);
        let facts = with("json")
            .into_iter()
            .filter(|facts| name.starts_with(&stem(facts)))
            .max_by_key(|facts| stem(facts).len())
            .ok_or_else(|| format!("{name}: no .json tells its aperture"))?;
        let facts: serde_json::Value =
            serde_json::from_str(&std::fs::read_to_string(facts).map_err(said)?)
                .map_err(|error| format!("{name}: {error}"))?;
        let number = |key: &str| {
            facts[key]
                .as_f64()
                .ok_or_else(|| format!("{name}: no {key}"))
        };
        let aperture = number("focal_mm")? / 1000.0 / number("f_number")?;
        let rows = rows(&std::fs::read_to_string(table).map_err(said)?, aperture)?;
        lenses.push(Truth {
            name,
            quantity: ScaleQuantity::FocusDistance,
            rows,
        });
    }
    Ok(lenses)
}

fn rows(text: &str, aperture: f64) -> Result<Vec<Row>, String> {
    let mut lines = text.lines();
    let header: Vec<&str> = lines.next().unwrap_or_default().split(',').collect();
    let column = |name: &str| {
        header
            .iter()
            .position(|cell| *cell == name)
            .ok_or_else(|| format!("no column {name}"))
    };
    let ring = column("ring_0_close_1_infinity")?;
    let distance = column("distance_image_plane_m")?;
    let pupil = column("entrance_pupil_from_image_plane_mm")?;
    let magnification = column("magnification")?;
    lines
        .map(|line| {
            let cells: Vec<&str> = line.split(',').collect();
            let number = |k: usize| {
                let cell = cells.get(k).ok_or_else(|| format!("{line}: too short"))?;
                cell.parse::<f64>()
                    .map_err(|error| format!("{cell}: {error}"))
            };
            let (ring, distance) = (number(ring)?, number(distance)?);
            let depth = depth(
                distance,
                number(pupil)? / 1000.0,
                number(magnification)?.abs(),
                aperture,
            );
            Ok(Row {
                ring,
                value: distance,
                one: depth,
            })
        })
        .collect()
}
