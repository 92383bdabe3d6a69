//! The scales of a lens as `show` draws them, and what they say to questions.

use std::path::Path;

use crate::{program, run, run_in};

/// A thin lens of 50 mm, moved as a whole by a linear helicoid of 8 mm over the ring, distances from the image plane:
/// `d = f²/e + 2f + e` (Newton, as in physics.md: Hecht, *Optics*, ch. 5), infinity at 0.95.
fn thin_lens(position: f64) -> f64 {
    let e = 8.0 * (0.95 - position);
    (2500.0 / e + 100.0 + e) / 1000.0
}

fn lens(facts: &str) -> String {
    let mut text = format!(
        "# document: ring calibration\n# model: Thin 50\n# kind: prime\n# focal length: 50 mm\n{facts}\
         # focus rotation: 300 deg\n# measured from: image plane\nring,position [0..1],mark [m]\n"
    );
    for position in [0.0, 0.15, 0.3, 0.45, 0.6, 0.75, 0.85] {
        text.push_str(&format!("focus,{position},{:.9}\n", thin_lens(position)));
    }
    text + "focus,0.95,inf\n"
}

/// What is printed about `lens`, and how it ended.
fn shown(lens: &str, arguments: &str) -> ringmark_tests::Ran {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("l.csv"), lens).unwrap();
    run_in(
        &program(),
        folder.path(),
        &format!("show {{}}/l.csv {arguments}"),
    )
}

/// Cells of the row that starts with `head`, two spaces apart.
fn row<'o>(out: &'o str, head: &str) -> Vec<&'o str> {
    let line = out.lines().find(|line| line.trim_start().starts_with(head));
    let line = line.unwrap_or_else(|| panic!("no {head}: {out}"));
    line.split("  ")
        .map(str::trim)
        .filter(|c| !c.is_empty())
        .collect()
}

#[test]
fn a_value_and_its_ring_position_both_ways() {
    let ran = shown(&lens(""), "--at 1.5m,5'6\",inf --at-ring 0.5,75%,150deg");
    assert_eq!(ran.status, 0, "{}", ran.err);
    for (asked, metres) in [("1.5m", 1.5), ("5'6\"", 1.6764)] {
        // Newton's equation turned round: e from d - 2f = f²/e + e.
        let reach: f64 = metres * 1000.0 - 100.0;
        let e = (reach - (reach * reach - 10_000.0).sqrt()) / 2.0;
        let expected = 0.95 - e / 8.0;
        let cells = row(&ran.out, asked);
        assert_eq!(cells[1], "focus");
        let found: f64 = cells[2].parse().unwrap();
        assert!(
            (found - expected).abs() < 1e-4,
            "{asked}: {found} {expected}"
        );
        assert_eq!(cells[3], format!("{:.1}°", 300.0 * found));
    }
    assert_eq!(row(&ran.out, "inf")[2], "0.9500");
    for (asked, position) in [("0.5", 0.5), ("75%", 0.75), ("150deg", 0.5)] {
        let cells = row(&ran.out, asked);
        let metres: f64 = cells[4].strip_suffix(" m").unwrap().parse().unwrap();
        assert!((metres - thin_lens(position)).abs() < 6e-4, "{cells:?}");
        assert!(cells[6].starts_with("± "), "{cells:?}");
    }
    // Only answers: no marks, no plot.
    assert!(!ran.out.contains("engraved"), "{}", ran.out);
}

#[test]
fn answers_carry_the_depth_of_field_that_handbooks_give() {
    let ran = shown(
        &lens(""),
        "--at 3m --f-number 4 --circle-of-confusion 0.025",
    );
    let cells = row(&ran.out, "3m");
    // From the lens: u + v = 3000, 1/u + 1/v = 1/50. H = f²/(N c) + f; near and far as in Greenleaf, *Photographic Optics*,
    // from memory; both + v from the image plane.
    let v = (3000.0 - (3000.0_f64 * 3000.0 - 4.0 * 3000.0 * 50.0).sqrt()) / 2.0;
    let (u, h) = (3000.0 - v, 2500.0 / (4.0 * 0.025) + 50.0);
    let limits = [
        u * (h - 50.0) / (h + u - 100.0) + v,
        u * (h - 50.0) / (h - u) + v,
    ];
    let found = [cells[cells.len() - 2], cells[cells.len() - 1]];
    for (found, expected) in found.iter().zip(limits) {
        let found: f64 = found.strip_suffix(" m").unwrap().parse().unwrap();
        assert!(
            (found - expected / 1000.0).abs() < 6e-4,
            "{found} {expected}"
        );
    }
}

#[test]
fn a_question_without_an_answer_fails_and_the_others_are_answered() {
    let ran = shown(&lens(""), "--at 0.2m,2m,T4 --at-ring 1.3");
    assert_eq!(ran.status, 2);
    assert_eq!(row(&ran.out, "2m")[1], "focus");
    for said in [
        "0.2m: focus ring: off the scale, which its marks take from",
        "T4: the lens has no iris ring with marks in T-stops",
        "1.3: focus ring: off the scale",
    ] {
        assert!(ran.err.contains(said), "{}", ran.err);
    }
    for (arguments, said) in [
        ("--at 1.2", "1.2 of what?"),
        ("--at tall", "tall"),
        ("--at-ring left", "left"),
        ("--at 2m --f-number T4", "not from the T-stop"),
        ("--at 2m --f-number 0", "0"),
        ("--at 2m --circle-of-confusion wide", "wide"),
    ] {
        let ran = shown(&lens(""), arguments);
        assert_eq!(ran.status, 2, "{arguments}");
        assert!(ran.err.contains(said) && ran.out.is_empty(), "{}", ran.err);
    }
    let ran = run("show samples/A012C003.csv --at 2m");
    assert_eq!(ran.status, 2);
    assert!(ran.err.contains("holds no lens with marks"), "{}", ran.err);
}

#[test]
fn millimetres_ask_the_zoom_ring_where_there_is_one() {
    let ran = run("show samples/orrin-28-76.csv --at 50mm,T4");
    assert_eq!(ran.status, 0, "{}", ran.err);
    // Marks of the sample: 50 mm at count 27430, T4 at count 10401.
    let (zoom, iris) = (row(&ran.out, "50mm"), row(&ran.out, "T4"));
    assert_eq!((zoom[1], zoom[3]), ("zoom", "27430"));
    assert_eq!((iris[1], iris[3]), ("iris", "10401"));
}

#[test]
fn residuals_tell_which_mark_is_off_and_by_what_part_of_the_depth() {
    // One reading half a per cent of the travel too high.
    let wrong = lens("# widest f-number: 2\n").replace("focus,0.45,", "focus,0.455,");
    let ran = shown(&wrong, "");
    assert_eq!(ran.status, 0, "{}", ran.err);
    assert!(
        ran.out
            .contains("at f/2 (full aperture), 50 mm, circle of confusion 0.025 mm")
    );
    let cells = row(&ran.out, "0.455");
    let travel: f64 = cells
        .iter()
        .find(|c| c.starts_with("+0.00"))
        .unwrap()
        .parse()
        .unwrap();
    assert!((0.002..=0.005).contains(&travel), "{cells:?}");
    // In dioptres, with the object at x before the front focal point and s = x + f before the lens: 8 mm of drive a
    // travel shift the object by (x/s)²/f², and the full depth is 2 N c (x/s)/f² (Newton's equation, to first order).
    let depths: f64 = cells.last().unwrap().parse().unwrap();
    let x = 2500.0 / (0.5 * 8.0);
    let expected = -travel * 8.0 / (2.0 * 2.0 * 0.025) * x / (x + 50.0);
    assert!(
        (depths / expected - 1.0).abs() < 0.03, // two decimals are printed
        "{depths} {expected}"
    );
}

#[test]
fn marks_that_give_no_curve_say_why_and_are_still_shown() {
    let folder = tempfile::tempdir().unwrap();
    let lens = "# document: ring calibration
# model: Turned
ring,position [0..1],mark [m],mark [T]
focus,0,0.5,
focus,0.3,2,
focus,0.6,1,
focus,1,inf,
iris,0.2,,T2
";
    std::fs::write(folder.path().join("l.csv"), lens).unwrap();
    let ran = run_in(&program(), folder.path(), "show {}/l.csv");
    assert_eq!(ran.status, 0, "{}", ran.err);
    for said in [
        "no curve: marks 2 at 0.3 and 1 at 0.6 run against the rest of the scale; correct one of them",
        "no curve: a scale needs 2 marks or more",
        "1.00 m",
    ] {
        assert!(ran.out.contains(said), "{}", ran.out);
    }
    assert!(!ran.out.contains('┤'), "{}", ran.out);
}

#[test]
fn a_pipe_gets_no_colours_and_a_circle_without_depth_is_no_error() {
    let plain = shown(&lens(""), "--circle-of-confusion 0.02");
    assert_eq!(plain.status, 0, "{}", plain.err);
    assert!(!plain.out.contains('\u{1b}'));
    assert!(
        plain.out.contains("the lens states no widest f-number"),
        "{}",
        plain.out
    );
    assert!(
        run_in(
            &program(),
            Path::new(""),
            "show samples/brannvik-40.csv --colour always"
        )
        .out
        .contains('\u{1b}')
    );
}
