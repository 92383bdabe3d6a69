//! ST maps that were asked for.

use std::path::Path;

use crate::{names, program, run, run_in};
use exr::prelude::{
    AttributeValue, ReadChannels, ReadLayers, ReadSpecificChannel, Text, Vec2, read,
};
use ringmark_tests::Ran;

/// 160 x 90 pixels of 24 x 13.5 mm, 20 mm: a focal length is 133.33 pixels.
const PICTURE: &str = "--size 160x90 --sensor 24x13.5 --focal-length 20";
const FOCAL: f64 = 20.0 * 160.0 / 24.0;
const OPENCV: &str = "--direction undistorted-to-distorted --normalisation focal-length";

/// A map as it stands in the file, rows from the top.
struct Map {
    width: usize,
    pixels: Vec<(f32, f32)>,
    facts: String,
    comments: String,
}

impl Map {
    fn read(path: &Path) -> Map {
        let image = read()
            .no_deep_data()
            .largest_resolution_level()
            .specific_channels()
            .required("R")
            .required("G")
            .collect_pixels(
                |size, _| (size.width(), vec![(0.0_f32, 0.0_f32); size.area()]),
                |(width, pixels), Vec2(x, y), st: (f32, f32)| pixels[y * *width + x] = st,
            )
            .first_valid_layer()
            .all_attributes()
            .from_file(path)
            .unwrap();
        let about = image.layer_data.attributes;
        let facts = match &about.other[&Text::from("stMap")] {
            AttributeValue::Text(text) => text.to_string(),
            other => panic!("{other:?}"),
        };
        let (width, pixels) = image.layer_data.channel_data.pixels;
        Map {
            width,
            pixels,
            facts,
            comments: about.comments.unwrap().to_string(),
        }
    }

    fn height(&self) -> usize {
        self.pixels.len() / self.width
    }

    fn at(&self, x: usize, y: usize) -> [f64; 2] {
        let (s, t) = self.pixels[y * self.width + x];
        [f64::from(s), f64::from(t)]
    }

    /// Between pixel centres, as whoever applies a map looks it up; positions from the top left corner.
    fn between(&self, x: f64, y: f64) -> [f64; 2] {
        let (x, y) = (x - 0.5, y - 0.5);
        let (i, j) = (x.floor() as usize, y.floor() as usize);
        let (a, b) = (x.fract(), y.fract());
        let mix = |k: usize| {
            let top = self.at(i, j)[k] * (1.0 - a) + self.at(i + 1, j)[k] * a;
            let low = self.at(i, j + 1)[k] * (1.0 - a) + self.at(i + 1, j + 1)[k] * a;
            top * (1.0 - b) + low * b
        };
        [mix(0), mix(1)]
    }
}

fn mapped(folder: &Path, arguments: &str) -> Ran {
    run_in(&program(), folder, &format!("st-map {arguments}"))
}

#[test]
fn pixels_follow_the_formula_and_the_file_says_what_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let arguments = format!(
        "--kind undistort --k1 -2e-1 --k2 0.03 --p1 0.001 --p2 -0.002 {OPENCV} {PICTURE} --principal 0.3,-0.15 \
         --overscan 10 -o {{}}/m.exr"
    );
    let ran = mapped(folder.path(), &arguments);
    assert_eq!(
        (ran.status, ran.out.as_str(), ran.err.as_str()),
        (0, "", "")
    );
    let map = Map::read(&folder.path().join("m.exr"));
    // Ten per cent more, half on each side, in whole pixels.
    assert_eq!((map.width, map.height()), (176, 100));
    let (left, top) = (8.0, 5.0);
    let (cx, cy) = (80.0 + 0.3 / 24.0 * 160.0, 45.0 - 0.15 / 13.5 * 90.0);
    for (i, j) in [(0, 0), (175, 0), (0, 99), (175, 99), (88, 50), (31, 77)] {
        // The formula of the OpenCV documentation, 'Camera Calibration and 3D Reconstruction'.
        let x = (i as f64 + 0.5 - left - cx) / FOCAL;
        let y = (j as f64 + 0.5 - top - cy) / FOCAL;
        let rr = x * x + y * y;
        let radial = 1.0 - 0.2 * rr + 0.03 * rr * rr;
        let xd = x * radial + 2.0 * 0.001 * x * y - 0.002 * (rr + 2.0 * x * x);
        let yd = y * radial + 0.001 * (rr + 2.0 * y * y) - 2.0 * 0.002 * x * y;
        let [s, t] = map.at(i, j);
        let (expected_s, expected_t) = ((cx + xd * FOCAL) / 160.0, 1.0 - (cy + yd * FOCAL) / 90.0);
        // Half a unit in the last place of a 32-bit float.
        assert!((s - expected_s).abs() < 6e-8, "{i} {j}: {s} {expected_s}");
        assert!((t - expected_t).abs() < 6e-8, "{i} {j}: {t} {expected_t}");
    }
    for said in [
        "kind: undistort\n",
        "recorded picture: 160 x 90 pixels\n",
        "ideal picture: 176 x 100 pixels, the recorded one at 8, 5 from its top left\n",
        "direction: undistorted-to-distorted\n",
        "normalisation: focal-length\n",
        "k1: -0.2\nk2: 0.03\nk3: 0\np1: 0.001\np2: -0.002\n",
        "pinhole focal length: 20 mm\n",
        "principal point: 0.3 mm right, -0.15 mm below the centre",
    ] {
        assert!(map.facts.contains(said), "{said}{}", map.facts);
    }
    assert!(
        map.comments.contains("t from 0 at its bottom edge"),
        "{}",
        map.comments
    );
}

#[test]
fn one_map_undoes_the_other() {
    let folder = tempfile::tempdir().unwrap();
    for direction in ["undistorted-to-distorted", "distorted-to-undistorted"] {
        for kind in ["undistort", "redistort"] {
            let ran = mapped(
                folder.path(),
                &format!(
                    "--kind {kind} --k1 -0.12 --k2 0.02 --p1 0.001 --direction {direction} --normalisation half-width {PICTURE} \
                     --force -o {{}}/{kind}.exr"
                ),
            );
            assert_eq!(ran.status, 0, "{}", ran.err);
        }
        let undistort = Map::read(&folder.path().join("undistort.exr"));
        let redistort = Map::read(&folder.path().join("redistort.exr"));
        assert_eq!((redistort.width, redistort.height()), (160, 90));
        let (w, h) = (undistort.width as f64, undistort.height() as f64);
        let mut compared = 0;
        for j in 0..undistort.height() {
            for i in 0..undistort.width {
                // Where this pixel of the ideal picture comes from; what that place of the recorded one comes from is it.
                let [s, t] = undistort.at(i, j);
                let (x, y) = (s * 160.0, (1.0 - t) * 90.0);
                if !(1.0..159.0).contains(&x) || !(1.0..89.0).contains(&y) {
                    continue;
                }
                let [s, t] = redistort.between(x, y);
                let off = (s * w - i as f64 - 0.5).hypot((1.0 - t) * h - j as f64 - 0.5);
                // What looking up between pixels costs: an eighth of the second difference, here below 1e-3 pixel.
                assert!(off < 2e-3, "{direction} {i} {j}: {off}");
                compared += 1;
            }
        }
        assert!(compared > 10_000, "{compared}");
    }
}

const TAKE: &str = "# document: take
# sensor width: 24 mm
# sensor height: 13.5 mm
# resolution: 160x90
# distortion model: Brown-Conrady U-D, focal-length
frame,k1,k2,pinhole focal length [mm]
1001,-0.10,0.01,20
1002,-0.12,0.01,20
1003,-0.14,0.01,20.5
1004,-9,0,20
1005,,,20
";

fn with_take(text: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("t.csv"), text).unwrap();
    folder
}

#[test]
fn a_take_gives_one_map_a_frame_of_one_size() {
    let folder = with_take(TAKE);
    let ran = mapped(
        folder.path(),
        "{}/t.csv --kind undistort --frames 1001-1003 -o {}/m.####.exr",
    );
    assert_eq!((ran.status, ran.err.as_str()), (0, ""));
    assert_eq!(
        names(folder.path()),
        ["m.1001.exr", "m.1002.exr", "m.1003.exr", "t.csv"]
    );
    let maps = [1001, 1002, 1003].map(|n| Map::read(&folder.path().join(format!("m.{n}.exr"))));
    let size = |map: &Map| (map.width, map.height());
    assert!(maps.iter().all(|map| size(map) == size(&maps[0])) && maps[0].width > 160);
    assert!(maps[1].facts.contains("k1: -0.12\n") && maps[1].facts.contains("frame: 1002\n"));
    assert!(
        maps[1].facts.contains("source: t.csv\n"),
        "{}",
        maps[1].facts
    );
    let line = maps[1]
        .facts
        .lines()
        .find(|line| line.starts_with("source sha256: "))
        .unwrap();
    assert_eq!(line.len(), "source sha256: ".len() + 64);
    // Existing maps are kept; with --force the same bytes come again.
    let before = std::fs::read(folder.path().join("m.1002.exr")).unwrap();
    let again = "{}/t.csv --kind undistort --frames 1001-1003 -o {}/m.%04d.exr";
    let ran = mapped(folder.path(), again);
    assert!(
        ran.status == 2 && ran.err.contains("exists; --force replaces it"),
        "{}",
        ran.err
    );
    assert_eq!(mapped(folder.path(), &format!("{again} --force")).status, 0);
    assert_eq!(
        std::fs::read(folder.path().join("m.1002.exr")).unwrap(),
        before
    );
    // One frame, the same distortion as in the sequence.
    let ran = mapped(
        folder.path(),
        "{}/t.csv --kind redistort --frame 1002 -o {}/one.exr",
    );
    assert_eq!(ran.status, 0, "{}", ran.err);
    assert!(
        Map::read(&folder.path().join("one.exr"))
            .facts
            .contains("k1: -0.12\n")
    );
}

#[test]
fn what_cannot_be_mapped_says_why_and_writes_nothing() {
    let folder = with_take(TAKE);
    let base = format!("--kind undistort --k1 -0.1 {OPENCV} {PICTURE}");
    for (arguments, said) in [
        // The fold: 1 + 3 k1 r² = 0 at r = 1 / sqrt(27), by hand.
        (
            "{}/t.csv --kind undistort --frame 1004 -o {}/x.exr",
            "folds at radius 0.192450 focal lengths",
        ),
        (
            "{}/t.csv --kind undistort --frames 1003-1004 -o {}/x.#.exr",
            "no map for frame 1004",
        ),
        (
            "{}/t.csv --kind undistort --frame 1004 --overscan 0 -o {}/x.exr",
            "folds at radius",
        ),
        (
            "{}/t.csv --kind redistort --frame 1004 --overscan 0 -o {}/x.exr",
            "folds at radius",
        ),
        (
            "{}/t.csv --kind undistort --frame 1005 -o {}/x.exr",
            "no distortion is recorded",
        ),
        (
            "{}/t.csv --kind undistort --frames 1003-1009 -o {}/x.#.exr",
            "frame 1006 is not recorded",
        ),
        (
            "{}/t.csv --kind undistort -o {}/x.exr",
            "frame 1002 differ from frame 1001; say --frame N",
        ),
        (
            "{}/t.csv --kind undistort --frames 1001-1003 -o {}/x.exr",
            "name them NAME.####.exr",
        ),
        (
            "{}/t.csv --kind undistort --frames 3-1 -o {}/x.#.exr",
            "expected FIRST-LAST",
        ),
        (
            "{}/t.csv --kind undistort --frame 1001 --direction distorted-to-undistorted -o {}/x.exr",
            "contradicts",
        ),
        (
            "{}/t.csv --kind undistort --frame 1001 -o {}/t.csv --force",
            "let the name end in .exr",
        ),
        (
            "--kind undistort --frame 3 --k1 0 -o {}/x.exr",
            "choose frames of a TAKE",
        ),
        ("--kind undistort -o {}/x.exr", "no distortion is recorded"),
    ] {
        let ran = mapped(folder.path(), arguments);
        assert_eq!(ran.status, 2, "{arguments}");
        assert!(ran.err.contains(said), "{arguments}: {}", ran.err);
    }
    for (change, to, said) in [
        (
            OPENCV,
            "",
            "--direction undistorted-to-distorted|distorted-to-undistorted and --normalisation focal-length|",
        ),
        (
            " --normalisation focal-length",
            "",
            "say --normalisation focal-length|half-width|half-diagonal|millimetre|pixel",
        ),
        (" --size 160x90", "", "--size WxH gives its pixels"),
        ("160x90", "160", "expected pixels across and down"),
        (" --sensor 24x13.5", "", "--sensor WxH gives it in mm"),
        ("24x13.5", "24x-1", "sensor height -1 mm"),
        (" --focal-length 20", "", "--focal-length MM gives it"),
        ("--focal-length 20", "--focal-length 0", "0"),
        ("--k1 -0.1", "--k1 nan", "distortion coefficient NaN"),
        (
            "--kind",
            "--principal 1 --kind",
            "--principal 1: expected mm",
        ),
        (
            "--kind",
            "--overscan much --kind",
            "--overscan much: expected auto",
        ),
        // At 400 per cent the canvas reaches beyond the fold at 1 / sqrt(0.3) = 1.826 focal lengths.
        (
            "--kind",
            "--overscan 400 --kind",
            "folds at radius 1.825742",
        ),
    ] {
        let ran = mapped(
            folder.path(),
            &format!("{} -o {{}}/x.exr", base.replace(change, to)),
        );
        assert_eq!(ran.status, 2, "{change}");
        assert!(ran.err.contains(said), "{change}: {}", ran.err);
    }
    assert!(
        mapped(folder.path(), &format!("{base} -o -"))
            .err
            .contains("written to a file")
    );
    assert_eq!(names(folder.path()), ["t.csv"]);
    let ran = run("st-map samples/brannvik-40.csv --kind undistort -o x.exr");
    assert!(
        ran.status == 2 && ran.err.contains("holds 0 takes"),
        "{}",
        ran.err
    );
}

#[test]
fn a_model_of_another_kind_or_without_a_length_is_refused() {
    let folder = with_take(&TAKE.replace("Brown-Conrady U-D, focal-length", "Brown-Conrady D-U"));
    let one = "{}/t.csv --kind undistort --frame 1001 -o {}/x.exr";
    let ran = mapped(folder.path(), one);
    assert!(
        ran.err.contains("the document says “Brown-Conrady D-U”"),
        "{}",
        ran.err
    );
    assert!(!ran.err.contains("--direction"), "{}", ran.err);
    assert_eq!(
        mapped(
            folder.path(),
            &format!("{one} --normalisation half-diagonal")
        )
        .status,
        0
    );
    let facts = Map::read(&folder.path().join("x.exr")).facts;
    assert!(facts.contains("direction: distorted-to-undistorted\nnormalisation: half-diagonal"));
    let folder = with_take(&TAKE.replace("Brown-Conrady U-D, focal-length", "a spline"));
    let ran = mapped(folder.path(), &format!("{one} {OPENCV}"));
    assert!(
        ran.status == 2 && ran.err.contains("only Brown-Conrady is known"),
        "{}",
        ran.err
    );
}
