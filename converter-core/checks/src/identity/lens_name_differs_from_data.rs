//! The model name of a lens against its focal length and stop.

use ringmark_model::{Lens, Severity};

use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::registry::Check;
use crate::report::Report;
use crate::view::LensView;
use crate::words::{self, Fill};

const FOCAL_LENGTH: ThresholdInfo = ThresholdInfo {
    check: "lens-name-differs-from-data",
    name: "focal-length",
    default: 0.06,
    unit: "of the focal length",
    why: "names round: a 28 may be 27.1 mm, a 35 may be 36.2 mm",
};
const STOP: ThresholdInfo = ThresholdInfo {
    check: "lens-name-differs-from-data",
    name: "stop",
    default: 0.06,
    unit: "of the stop",
    why: "engraved numbers round: 1.4 for 1.414, 5.6 for 5.657",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "lens-name-differs-from-data",
        title: "The name of the lens says another focal length or stop than its data",
        severity: Severity::Warning,
        family: Family::Identity,
        since: "0.1.0",
        explanation: include_str!("lens_name_differs_from_data.md"),
        thresholds: &[FOCAL_LENGTH, STOP],
    },
    lens: Some(lens),
    take: None,
};

/// What a name says.
#[derive(Debug, Default, PartialEq)]
struct Said {
    /// Shortest and longest focal length in mm.
    focal_length: Option<(f64, f64)>,
    t_stop: Option<f64>,
    f_number: Option<f64>,
}

/// Words whose number is of a series, a format or a version.
const SERIES: [&str; 12] = ["series", "super", "mark", "mk", "gen", "version", "v", "type", "set", "format", "no", "model"];

/// Reads `Brannvik 40`, `Norn 24-70mm T2.9`, `Orrin 85 mm f/1.4`.
fn read(name: &str) -> Said {
    let mut said = Said::default();
    let lower = name.to_lowercase().replace(['–', '—'], "-").replace(',', ".");
    let words: Vec<&str> = lower.split([' ', '_', '(', ')', '#']).filter(|word| !word.is_empty()).collect();
    let mut bare = Vec::new();
    for (at, word) in words.iter().enumerate() {
        let stop = |prefix: &str| word.strip_prefix(prefix).and_then(|rest| rest.trim_start_matches('/').parse::<f64>().ok());
        if let Some(stop) = stop("t") {
            said.t_stop = Some(stop);
        } else if let Some(stop) = stop("f") {
            said.f_number = Some(stop);
        } else if let Some(range) = word.strip_suffix("mm").filter(|rest| !rest.is_empty()).and_then(range) {
            said.focal_length = Some(range);
        } else if let Some(range) = range(word) {
            let unit = words.get(at + 1) == Some(&"mm");
            let of_series = at > 0 && SERIES.contains(&words[at - 1]);
            if unit {
                said.focal_length = Some(range);
            } else if !of_series && at > 0 && word.chars().all(|c| c.is_ascii_digit() || c == '-') && range.0 >= 8.0 && range.1 <= 1200.0 {
                bare.push(range);
            }
        }
    }
    // A bare number is the focal length if there is no other to take for it.
    if said.focal_length.is_none() && bare.len() == 1 {
        said.focal_length = bare.pop();
    }
    said
}

/// `40` or `24-70`.
fn range(text: &str) -> Option<(f64, f64)> {
    let number = |text: &str| text.parse::<f64>().ok().filter(|mm| mm.is_finite() && *mm > 0.0);
    match text.split_once('-') {
        Some((min, max)) => number(min).zip(number(max.trim_end_matches("mm"))).filter(|(min, max)| min < max),
        None => number(text).map(|mm| (mm, mm)),
    }
}

fn lens(view: &LensView<'_>, out: &mut Report<'_>) {
    let Lens { model: Some(model), focal_length, widest_t, widest_f, .. } = view.lens else { return };
    let said = read(model);
    let data = focal_length.map(|(min, max)| (min.mm(), max.mm()));
    let far = |a: f64, b: f64, tolerance| (a / b).ln().abs() > tolerance;
    if let (Some((low, high)), Some((min, max))) = (said.focal_length, data) {
        let tolerance = view.value(FOCAL_LENGTH);
        // One number in the name of a zoom may be either of its ends.
        let one = low == high && min < max;
        let differs = if one { low < min * (1.0 - tolerance) || low > max * (1.0 + tolerance) } else { far(low, min, tolerance) || far(high, max, tolerance) };
        if differs {
            let show = |(a, b): (f64, f64)| if a == b { format!("{} mm", words::short(a)) } else { format!("{} to {} mm", words::short(a), words::short(b)) };
            report(view, format!("the name “{model}” says {}, the data {}", show((low, high)), show((min, max))), (low, min, "mm"), "focal-length-min", out);
        }
    }
    let stops = [("T", said.t_stop, widest_t.map(|stop| stop.value()), "widest-t-stop"), ("f/", said.f_number, widest_f.map(|stop| stop.value()), "widest-f-number")];
    for (sign, named, widest, fact) in stops {
        let (Some(named), Some(widest)) = (named, widest) else { continue };
        if far(named, widest, view.value(STOP)) {
            let unit = if sign == "T" { "T" } else { "f" };
            report(view, format!("the name “{model}” says {sign}{named}, the data {sign}{widest} at full aperture"), (named, widest, unit), fact, out);
        }
    }
}

fn report(view: &LensView<'_>, message: String, (named, data, unit): (f64, f64, &'static str), fact: &str, out: &mut Report<'_>) {
    out.add(Severity::Warning, view.subject(), |finding| {
        let places = [fact, "lens-model"].into_iter().find_map(|fact| view.lens.place_of(fact));
        finding
            .says(message)
            .value("in the name", named, unit)
            .value("in the data", data, unit)
            .help("look for a file copied from another lens and renamed, or for a number of the name that means something else")
            .at(places)
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_read() {
        let focal = |name: &str| read(name).focal_length;
        assert_eq!(focal("Brannvik 40"), Some((40.0, 40.0)));
        assert_eq!(focal("Norn 24-70mm T2.9"), Some((24.0, 70.0)));
        assert_eq!(focal("Orrin 85 mm f/1.4"), Some((85.0, 85.0)));
        assert_eq!(focal("Norn Super 35 Zoom"), None);
        assert_eq!(focal("Series 5"), None);
        assert_eq!(focal("40"), None);
        assert_eq!((read("Norn 24-70mm T2.9").t_stop, read("Orrin 85 mm f/1.4").f_number), (Some(2.9), Some(1.4)));
        assert_eq!(read("Tele Fine"), Said::default());
    }
}
