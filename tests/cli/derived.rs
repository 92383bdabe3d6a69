//! Depth of field and field of view that were asked for.

use std::path::Path;

use serde_json::Value;

use crate::{names, program, run, run_in};
use ringmark_tests::Ran;

const HEAD: &str = "# document: take
# sensor width: 24 mm
# sensor height: 18 mm
# lens model: Brannvik 40
# lens kind: prime
";

/// A take of some frames, asked for with `arguments`, as a document.
fn derived(table: &str, arguments: &str) -> (Value, Ran) {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("t.csv"), table).unwrap();
    let ran = run_in(
        &program(),
        folder.path(),
        &format!("convert {{}}/t.csv --to take.json {arguments}"),
    );
    assert_eq!(ran.status, 0, "{}", ran.err);
    let mut document: Value = serde_json::from_str(&ran.out).unwrap();
    (document["takes"][0].take(), ran)
}

fn values(take: &Value, channel: &str) -> Vec<f64> {
    let of = |value: &Value| match value {
        Value::Null => f64::NAN,
        Value::String(text) => text.parse().unwrap(),
        other => other.as_f64().unwrap(),
    };
    let values = take["channels"][channel]["values"].as_array();
    values
        .unwrap_or_else(|| panic!("no {channel}: {take:#}"))
        .iter()
        .map(of)
        .collect()
}

#[test]
fn limits_and_field_of_view_with_their_origin() {
    let rows = "# measured from: image plane
frame,focus distance [m],f-number,focal length [mm]
1,2,2.8,40
2,inf,2.8,40
3,,2.8,40
4,60,8,40
";
    let (take, ran) = derived(
        &format!("{HEAD}{rows}"),
        "--derive dof,fov --circle-of-confusion 0.025",
    );
    let (near, far, hyperfocal) = (
        values(&take, "near-limit"),
        values(&take, "far-limit"),
        values(&take, "hyperfocal"),
    );
    // Worked out apart: u + v = 2000, 1/u + 1/v = 1/40, so u = 1000 + sqrt(1000² - 80000) = 1959.1663 mm, v = 40.8337 mm;
    // H = 1600/0.07 + 40 = 22897.1429 mm; near = u (H - 40)/(H + u - 80), far = u (H - 40)/(H - u), both + v.
    let (u, v, h) = (1959.1663, 40.8337, 22_897.142_9);
    for (found, expected) in [
        (near[0], u * (h - 40.0) / (h + u - 80.0) + v),
        (far[0], u * (h - 40.0) / (h - u) + v),
        (hyperfocal[0], h + 40.0 + 0.07),
        // Focused at infinity near is f²/(N c), 40 mm in front of the image plane.
        (near[1], 22_857.142_9 + 40.0),
    ] {
        assert!(
            (found * 1000.0 - expected).abs() < 1e-3,
            "{found} {expected}"
        );
    }
    assert!(far[1].is_infinite() && far[3].is_infinite());
    assert!(near[2].is_nan() && far[2].is_nan() && hyperfocal[2] == hyperfocal[0]);
    // 2 atan(12/40).
    let field = values(&take, "field-of-view");
    assert!(
        field.iter().all(|angle| (angle - 33.398_488).abs() < 1e-5),
        "{field:?}"
    );
    for channel in ["near-limit", "far-limit", "hyperfocal", "field-of-view"] {
        assert_eq!(take["channels"][channel]["origin"], "derived", "{channel}");
    }
    assert_eq!(take["channels"]["near-limit"]["reference"], "image-plane");
    assert!(take.to_string().contains("circle of confusion"), "{take:#}");
    for said in [
        "near-limit, far-limit, hyperfocal computed from focus distance (from image-plane), nominal-focal-length and f-number; \
         circle of confusion 0.025 mm (as given)",
        "field-of-view computed from nominal-focal-length and a sensor 24 mm wide; breathing of the lens is not in it",
    ] {
        assert!(ran.err.contains(said), "{}", ran.err);
    }
    assert!(!ran.err.contains("warning"), "{}", ran.err);
}

#[test]
fn what_was_recorded_is_never_replaced() {
    let rows = "# measured from: image plane
frame,focus distance [m],f-number,focal length [mm],near limit [m],field of view [deg]
1,2,2.8,40,1.5,35
2,2,2.8,40,,
";
    let (take, _) = derived(&format!("{HEAD}{rows}"), "--derive dof,fov");
    let near = values(&take, "near-limit");
    assert!(near[0] == 1.5 && near[1].is_nan(), "{near:?}");
    assert_eq!(values(&take, "field-of-view")[0], 35.0);
    assert_ne!(take["channels"]["near-limit"]["origin"], "derived");
    assert!(values(&take, "far-limit")[0] > 2.0);
    // Sensor diagonal 30 mm / 1500.
    assert!(take.to_string().contains("0.02"), "{take:#}");
}

#[test]
fn a_t_stop_needs_the_transmittance() {
    let rows = "# measured from: image plane
frame,focus distance [m],T-stop,focal length [mm]
1,2,4,40
";
    let (take, ran) = derived(&format!("{HEAD}{rows}"), "--derive dof");
    assert!(take["channels"].get("near-limit").is_none());
    assert!(
        ran.err
            .contains("it follows from the f-number, and only the T-stop is recorded"),
        "{}",
        ran.err
    );
    let lens = "# widest T-stop: 2.5\n# widest f-number: 2\n";
    let (through, ran) = derived(&format!("{HEAD}{lens}{rows}"), "--derive dof");
    assert!(
        ran.err
            .contains("T-stop (transmittance 64 %, from the widest stops of the lens)"),
        "{}",
        ran.err
    );
    // T4 with transmittance (2/2.5)² is f/3.2.
    let rows = rows
        .replace("T-stop", "f-number")
        .replace("2,4,40", "2,3.2,40");
    let (by_number, _) = derived(&format!("{HEAD}{rows}"), "--derive dof");
    for channel in ["near-limit", "far-limit", "hyperfocal"] {
        let (a, b) = (values(&through, channel)[0], values(&by_number, channel)[0]);
        assert!((a / b - 1.0).abs() < 1e-12, "{channel}: {a} {b}");
    }
}

#[test]
fn pinhole_focal_length_pupil_and_squeeze_are_used() {
    let rows = "# squeeze: 2
# measured from: image plane
frame,focus distance [m],f-number,focal length [mm],pinhole focal length [mm],entrance pupil offset [mm]
1,2,2.5,50,54,80
";
    let (take, ran) = derived(
        &format!("{HEAD}{rows}"),
        "--derive dof,fov --circle-of-confusion cine-35",
    );
    // 1/near = 1/1920 + 0.025 / (20 * 54), + 80.
    let near = 1.0 / (1.0 / 1920.0 + 0.025 / (20.0 * 54.0)) + 80.0;
    assert!((values(&take, "near-limit")[0] * 1000.0 - near).abs() < 1e-9);
    // 2 atan(24/54).
    assert!((values(&take, "field-of-view")[0] - 47.924_978).abs() < 1e-5);
    assert!(
        ran.err.contains("sensor 24 mm wide, squeeze 2"),
        "{}",
        ran.err
    );
    assert!(!ran.err.contains("breathing"), "{}", ran.err);
}

#[test]
fn what_is_missing_is_said() {
    let whole = "frame,focus distance [m],f-number,focal length [mm]\n1,2,2.8,40\n";
    let plane = "# document: take\n# measured from: image plane\n";
    for (table, asked, said) in [
        (
            format!("{plane}{whole}"),
            "dof",
            "neither the circle of confusion nor the size of the sensor is known",
        ),
        (
            format!("{plane}{whole}"),
            "fov",
            "the size of the sensor is not known",
        ),
        (
            format!("{HEAD}# measured from: front vertex\n{whole}"),
            "dof",
            "focus distance from front-vertex: expected a distance from the image plane",
        ),
        (
            format!("{HEAD}frame,f-number,focal length [mm]\n1,2.8,40\n"),
            "dof",
            "focus distance is not recorded",
        ),
        (
            format!(
                "{HEAD}# measured from: image plane\nframe,focus distance [m],f-number\n1,2,2.8\n"
            ),
            "dof",
            "focal length is not recorded",
        ),
        (
            format!(
                "{HEAD}# measured from: image plane\n{}2,0.1,2.8,40\n",
                whole
            ),
            "dof",
            "depth of field is left out in 1 of 2 frames",
        ),
    ] {
        let (_, ran) = derived(&table, &format!("--derive {asked}"));
        assert!(ran.err.contains(said), "{said}: {}", ran.err);
        assert!(ran.err.contains("values-not-derived"), "{}", ran.err);
    }
}

#[test]
fn wrong_circles_are_refused_before_anything_is_written() {
    let folder = tempfile::tempdir().unwrap();
    for (circle, said) in [
        (
            "--derive dof --circle-of-confusion tiny",
            "expected millimetres, as 0.025, or one of cine-16, cine-35, full-frame",
        ),
        ("--derive dof --circle-of-confusion -1", "-1"),
        (
            "--derive dof --circle-of-confusion 0",
            "expected a finite number above 0",
        ),
        (
            "--derive fov --circle-of-confusion 0.02",
            "goes with --derive dof",
        ),
        ("--circle-of-confusion 0.02", "--derive"),
    ] {
        let ran = run_in(
            &program(),
            folder.path(),
            &format!("convert samples/A012C003.csv {circle} -o {{}}/o.take.json"),
        );
        assert_eq!(ran.status, 2, "{circle}: {}", ran.err);
        assert!(ran.err.contains(said), "{circle}: {}", ran.err);
    }
    assert_eq!(names(folder.path()), Vec::<String>::new());
}

#[test]
fn show_shows_them_and_through_a_calibration() {
    let folder = tempfile::tempdir().unwrap();
    let (program, at) = (program(), folder.path());
    let table = format!(
        "{HEAD}# measured from: image plane\nframe,focus ring [0..1],f-number\n1,0.8108,2.8\n2,0.9700,2.8\n"
    );
    std::fs::write(at.join("t.csv"), table).unwrap();
    let made = run_in(
        &program,
        at,
        "convert samples/brannvik-40.csv -o {}/b.lens.json",
    );
    assert_eq!(made.status, 0, "{}", made.err);
    let show = |more: &str| {
        run_in(
            &program,
            at,
            &format!("show {{}}/t.csv --lens {{}}/b.lens.json {more}"),
        )
    };
    let ran = show("--derive dof,fov");
    assert_eq!(ran.status, 0, "{}", ran.err);
    for channel in ["near-limit", "far-limit", "hyperfocal", "field-of-view"] {
        let line = ran
            .out
            .lines()
            .find(|line| line.trim_start().starts_with(channel));
        assert!(
            line.is_some_and(|line| line.contains("derived")),
            "{channel}: {}",
            ran.out
        );
    }
    assert!(
        ran.err
            .contains("the focal length of the lens and f-number"),
        "{}",
        ran.err
    );
    assert_eq!(show("--derive dof,fov --quiet").err, "");
    let plain = show("");
    // How exactly ring positions give values is told all the same, and nothing else.
    let told = plain.err.matches("note[").count();
    assert!(
        !plain.out.contains("near-limit")
            && told == 1
            && plain.err.starts_with("note[values-from-rings]"),
        "{}",
        plain.err
    );
}

#[test]
fn without_the_option_nothing_changes() {
    let at = Path::new("");
    let ran = run_in(
        &program(),
        at,
        "convert samples/A012C003.csv --to take.json",
    );
    assert!(!ran.out.contains("near-limit") && !ran.out.contains("field-of-view"));
    assert!(
        !run("convert samples/A012C003.csv --to take.json --derive fov -q")
            .err
            .contains("note")
    );
}

#[test]
fn a_pinhole_focal_length_is_no_focal_length_where_the_lens_states_one() {
    let rows = "# focal length: 40 mm
# measured from: image plane
frame,focus distance [m],f-number,pinhole focal length [mm]
1,0.5,2,44
2,inf,2,40
";
    let arguments = "--derive dof --circle-of-confusion 0.025";
    let (take, ran) = derived(&format!("{HEAD}{rows}"), arguments);
    // Object and image distance of a thin lens whose object is at f² / (N c) + f: breathing does not move it.
    let object = 0.04 * 0.04 / (2.0 * 0.000_025) + 0.04;
    let expected = object + 0.04 * object / (object - 0.04);
    for found in values(&take, "hyperfocal") {
        assert!((found - expected).abs() < 1e-9, "{found} is not {expected}");
    }
    assert!(
        ran.err.contains("the focal length of the lens"),
        "{}",
        ran.err
    );
    // The best there is where nothing else is known.
    let bare = rows.replace("# focal length: 40 mm\n", "");
    let (_, ran) = derived(&format!("{HEAD}{bare}"), arguments);
    assert!(
        ran.err.contains("pinhole-focal-length and f-number"),
        "{}",
        ran.err
    );
}
