//! Where Exif and XMP mean something else than they seem to say: one test a trap.

#![allow(clippy::unwrap_used)]

mod common;

use common::{Flat, Val, checks, flat, jpeg, packet, read, remarks, tiff, write};
use ringmark_sdk::{Column, Datum, Fact, Frames, Item, Take};

fn sidecar(properties: &str) -> (Flat, Vec<String>) {
    let items = read("a.xmp", packet(properties).as_bytes()).unwrap();
    (flat(&items), checks(&items))
}

fn exif(fields: &[(u16, Val)]) -> (Flat, Vec<String>) {
    let items = read("a.tif", &tiff(false, &[], fields)).unwrap();
    (flat(&items), checks(&items))
}

fn ratio(n: u32, d: u32) -> Val {
    Val::Ratio(vec![(n, d)])
}

#[test]
fn infinity_is_a_numerator() {
    for (n, d) in [(u32::MAX, 1), (u32::MAX, 1000), (u32::MAX, 0)] {
        let (found, told) = exif(&[(0x9206, ratio(n, d))]);
        assert_eq!(found.number("focus-distance"), f64::INFINITY, "{n}/{d}");
        assert!(told.is_empty(), "{told:?}");
    }
    // In other properties it is a number as any other.
    let (found, _) = exif(&[(0x920a, ratio(u32::MAX, u32::MAX))]);
    assert_eq!(found.number("nominal-focal-length"), 1.0);
}

#[test]
fn infinity_cut_to_31_bits_is_infinity_with_a_warning() {
    let (found, told) = sidecar("<exif:SubjectDistance>2147483647/1</exif:SubjectDistance>");
    assert_eq!(found.number("focus-distance"), f64::INFINITY);
    assert_eq!(told, ["infinity-clamped"]);
    let (found, told) = exif(&[(0x9206, ratio(0x7fff_ffff, 1))]);
    assert_eq!(found.number("focus-distance"), f64::INFINITY);
    assert_eq!(told, ["infinity-clamped"]);
    let (found, told) = sidecar("<exif:SubjectDistance>2147483647/2</exif:SubjectDistance>");
    assert_eq!(found.number("focus-distance"), 1073741823.5);
    assert!(told.is_empty());
}

#[test]
fn a_distance_of_0_is_unknown_and_never_0_m() {
    for (n, d) in [(0, 1), (0, 100), (0, 0)] {
        let (found, told) = exif(&[(0x9206, ratio(n, d))]);
        assert!(found.number("focus-distance").is_nan(), "{n}/{d}");
        assert!(told.is_empty(), "{told:?}");
    }
}

#[test]
fn a_denominator_of_0_is_undefined_and_never_infinity() {
    let (found, told) = exif(&[
        (0x9206, ratio(5, 0)),
        (0x829d, ratio(0, 0)),
        (0x920a, ratio(32, 0)),
    ]);
    for channel in ["focus-distance", "f-number", "nominal-focal-length"] {
        assert!(found.number(channel).is_nan(), "{channel}");
    }
    assert_eq!(told, ["rational-undefined"; 3]);
}

#[test]
fn zero_that_nobody_means_is_not_recorded() {
    let (found, told) = exif(&[
        (0x829d, ratio(0, 1)),
        (0x829a, ratio(0, 1)),
        (0x8827, Val::Short(vec![0])),
    ]);
    for channel in ["f-number", "exposure-time", "sensitivity"] {
        assert!(found.number(channel).is_nan(), "{channel}");
    }
    assert_eq!(told, ["value-without-meaning"; 3]);
}

#[test]
fn an_equivalent_focal_length_of_0_is_unknown() {
    let (found, told) = exif(&[(0xa405, Val::Short(vec![0]))]);
    assert!(found.number("equivalent-focal-length").is_nan() && told.is_empty());
    let (found, _) = exif(&[(0xa405, Val::Short(vec![41]))]);
    assert_eq!(found.get("equivalent-focal-length"), Some("41.0 [mm ]"));
}

#[test]
fn focal_length_is_the_nominal_one_in_millimetres() {
    let (found, _) = sidecar("<exif:FocalLength>129/4</exif:FocalLength>");
    assert_eq!(found.get("nominal-focal-length"), Some("32.25 [mm ]"));
    assert!(found.get("pinhole-focal-length").is_none());
    assert!(found.get("effective-focal-length").is_none());
}

#[test]
fn aperture_value_is_apex_and_stands_in_for_a_missing_f_number() {
    let (found, told) = exif(&[(0x9202, ratio(3, 1))]);
    assert_eq!(found.number("f-number"), 8.0_f64.sqrt());
    assert!(found.get("extra/exif:ApertureValue").is_none() && told.is_empty());
    // Where an f-number is there, though undefined, it is not overruled.
    let (found, _) = exif(&[(0x9202, ratio(3, 1)), (0x829d, ratio(0, 0))]);
    assert!(found.number("f-number").is_nan());
    assert_eq!(found.number("extra/exif:ApertureValue"), 3.0);
}

#[test]
fn f_number_and_aperture_value_may_differ_by_a_sixth_of_a_stop() {
    // f/2.8 has Av 2.971; a sixth of a stop is 0.167.
    for (av, agrees) in [
        (297, true),
        (281, true),
        (313, true),
        (280, false),
        (314, false),
        (200, false),
    ] {
        let (found, told) = exif(&[(0x829d, ratio(28, 10)), (0x9202, ratio(av, 100))]);
        assert_eq!(found.number("f-number"), 2.8);
        assert_eq!(told.is_empty(), agrees, "{av}: {told:?}");
        assert!(agrees || told == ["apertures-disagree"]);
    }
    let items = read(
        "a.tif",
        &tiff(true, &[], &[(0x829d, ratio(28, 10)), (0x9202, ratio(2, 1))]),
    )
    .unwrap();
    let message = &remarks(&items)[0].message;
    assert!(
        message.contains("FNumber is 2.8") && message.contains("says 2:"),
        "{message}"
    );
}

#[test]
fn shutter_speed_is_apex_and_signed() {
    let (found, _) = exif(&[(0x9201, Val::Signed(vec![(-1, 1)]))]);
    assert_eq!(found.get("exposure-time"), Some("2.0 [s ]"));
    let (_, told) = exif(&[(0x9201, Val::Signed(vec![(5, 1)])), (0x829a, ratio(1, 48))]);
    assert_eq!(told, ["exposure-times-disagree"]);
}

#[test]
fn the_widest_f_number_is_apex() {
    let (found, _) = exif(&[(0x9205, ratio(2, 1))]);
    assert_eq!(found.fact("widest-f-number"), Some("2.0 [f]"));
    let (found, _) = exif(&[(0x9205, ratio(0, 1))]);
    assert_eq!(found.fact("widest-f-number"), Some("1.0 [f]"));
}

#[test]
fn unknown_numbers_of_a_lens_specification() {
    let spec = |numbers: [(u32, u32); 4]| exif(&[(0xa432, Val::Ratio(numbers.to_vec()))]);
    let (found, told) = spec([(24, 1), (70, 1), (0, 0), (4, 1)]);
    assert_eq!(found.fact("focal-length-min"), Some("24.0 [mm]"));
    assert_eq!(found.fact("focal-length-max"), Some("70.0 [mm]"));
    assert!(
        found
            .fact("extra/widest-f-number-at-focal-length-min")
            .is_none()
    );
    assert_eq!(
        found.fact("extra/widest-f-number-at-focal-length-max"),
        Some("4.0 [f]")
    );
    assert_eq!(found.fact("widest-f-number"), Some("4.0 [f]"));
    assert!(told.is_empty(), "{told:?}");
    // One end of a zoom is no prime.
    let (found, told) = spec([(24, 1), (0, 0), (5, 0), (0, 0)]);
    assert!(found.fact("focal-length-min").is_none());
    assert_eq!(found.fact("extra/focal-length-min"), Some("24.0 [mm]"));
    assert_eq!(told, ["rational-undefined"]);
}

#[test]
fn sensitivity_of_65535_is_elsewhere() {
    let (found, told) = exif(&[
        (0x8827, Val::Short(vec![65535])),
        (0x8833, Val::Long(vec![102_400])),
    ]);
    assert!(found.number("sensitivity").is_nan());
    assert_eq!(found.number("extra/exifEX:ISOSpeed"), 102_400.0);
    assert_eq!(told, ["sensitivity-elsewhere"]);
}

#[test]
fn sensitivity_in_old_and_new_form() {
    for property in [
        "<exif:ISOSpeedRatings><rdf:Seq><rdf:li>800</rdf:li><rdf:li>100</rdf:li></rdf:Seq></exif:ISOSpeedRatings>",
        "<exifEX:PhotographicSensitivity>800</exifEX:PhotographicSensitivity>",
    ] {
        let (found, told) = sidecar(property);
        assert_eq!(found.get("sensitivity"), Some("800.0 [ISO ]"));
        assert!(told.is_empty(), "{told:?}");
    }
}

#[test]
fn older_lens_properties_are_read_where_there_are_no_newer_ones() {
    let old = "<aux:Lens>Halden 24-70</aux:Lens><aux:SerialNumber>K1</aux:SerialNumber>\
               <aux:LensInfo>24/1 70/1 28/10 4/1</aux:LensInfo>";
    let (found, told) = sidecar(old);
    assert_eq!(found.get("lens"), Some("Halden 24-70 [text]"));
    assert_eq!(found.fact("camera-serial"), Some("\"K1\" []"));
    assert_eq!(found.fact("focal-length-max"), Some("70.0 [mm]"));
    assert_eq!(found.fact("widest-f-number"), Some("2.8 [f]"));
    assert!(told.is_empty());
    let (found, _) = sidecar(&format!(
        "{old}<exifEX:BodySerialNumber>K2</exifEX:BodySerialNumber>"
    ));
    assert_eq!(found.fact("camera-serial"), Some("\"K2\" []"));
    assert_eq!(found.get("extra/aux:SerialNumber"), Some("K1 [text]"));
}

#[test]
fn exif_wins_over_xmp_and_a_difference_is_told() {
    let fields = [
        (0x829d, ratio(19, 10)),
        (0x920a, ratio(3225, 100)),
        (0x9202, ratio(1852, 1000)),
        (0x9206, ratio(u32::MAX, 1)),
    ];
    let block = tiff(true, &[], &fields);
    let both = |xmp: &str| {
        let items = read("a.jpg", &jpeg(Some(&block), Some(&packet(xmp)))).unwrap();
        (flat(&items), remarks(&items))
    };
    // Rounded by a program that passes rationals through text, or the marker cut to 31 bits: the same.
    let (_, told) = both(
        "<exif:FNumber>190/100</exif:FNumber><exif:ApertureValue>12601/6804</exif:ApertureValue>\
         <exif:SubjectDistance>2147483647/1</exif:SubjectDistance>",
    );
    assert!(told.is_empty(), "{told:?}");
    let (found, told) = both(
        "<exif:FocalLength>161/5</exif:FocalLength><exif:ExposureTime>1/48</exif:ExposureTime>",
    );
    assert_eq!(found.number("nominal-focal-length"), 32.25);
    assert_eq!(found.number("exposure-time"), 1.0 / 48.0);
    assert_eq!(told[0].check, "exif-and-xmp-disagree");
    assert!(
        told[0].message.contains("3225/100") && told[0].message.contains("161/5"),
        "{}",
        told[0].message
    );
}

#[test]
fn xmp_in_a_tiff_tag_is_read() {
    let text = packet("<exif:FNumber>28/10</exif:FNumber>");
    let bytes = tiff(true, &[(0x02bc, Val::Bytes(1, text.into_bytes()))], &[]);
    assert_eq!(
        flat(&read("a.dng", &bytes).unwrap()).number("f-number"),
        2.8
    );
}

#[test]
fn the_sensor_follows_from_the_focal_plane_only_where_the_width_in_pixels_is_known() {
    let plane = |unit: u16| {
        [
            (0xa20e, ratio(20_000, 12)),
            (0xa20f, ratio(20_000, 12)),
            (0xa210, Val::Short(vec![unit])),
        ]
    };
    let mut fields = plane(3).to_vec();
    let (found, _) = exif(&fields);
    assert!(found.fact("sensor-width").is_none());
    assert_eq!(
        found.number("extra/exif:FocalPlaneXResolution"),
        20_000.0 / 12.0
    );
    fields.push((0xa002, Val::Long(vec![6000])));
    fields.push((0xa003, Val::Short(vec![4000])));
    let (found, _) = exif(&fields);
    assert_eq!(found.fact("sensor-width"), Some("3.6 [cm]"));
    assert_eq!(found.fact("sensor-height"), Some("2.4 [cm]"));
    assert_eq!(found.fact("resolution-width"), Some("6000.0 []"));
    assert!(found.get("extra/exif:FocalPlaneXResolution").is_none());
    // A JPEG's own size may be that of a copy with fewer pixels.
    let block = tiff(true, &[], &plane(3));
    let copy = flat(&read("a.jpg", &jpeg(Some(&block), None)).unwrap());
    assert_eq!(copy.fact("resolution-width"), Some("6000.0 []"));
    assert!(copy.fact("sensor-width").is_none());
    // Units are 2 for inches and 3 for centimetres; another is no unit.
    fields[2].1 = Val::Short(vec![2]);
    assert_eq!(exif(&fields).0.fact("sensor-width"), Some("3.6 [in]"));
    fields[2].1 = Val::Short(vec![1]);
    assert!(exif(&fields).0.fact("sensor-width").is_none());
}

#[test]
fn the_size_in_pixels_of_a_raw_file_is_not_that_of_its_small_image() {
    let main = |kind: u32| {
        [
            (0x00fe, Val::Long(vec![kind])),
            (0x0100, Val::Short(vec![256])),
            (0x0101, Val::Short(vec![171])),
        ]
    };
    let read = |bytes: &[u8]| flat(&read("a.dng", bytes).unwrap());
    let found = read(&tiff(false, &main(0), &[]));
    assert_eq!(found.fact("resolution-width"), Some("256.0 []"));
    assert!(
        read(&tiff(false, &main(1), &[]))
            .fact("resolution-width")
            .is_none()
    );
    // A further directory that describes the full image.
    let mut bytes = tiff(
        false,
        &[main(1).as_slice(), &[(0x014a, Val::Entry(4, 1, 62))]].concat(),
        &[],
    );
    assert_eq!(bytes.len(), 62);
    let full = tiff(
        false,
        &[
            (0x00fe, Val::Long(vec![0])),
            (0x0100, Val::Long(vec![8192])),
            (0x0101, Val::Long(vec![5464])),
        ],
        &[],
    );
    bytes.extend_from_slice(&full[8..]);
    assert_eq!(read(&bytes).fact("resolution-width"), Some("8192.0 []"));
    // A JPEG says its size itself.
    let found = flat(
        &common::read(
            "a.jpg",
            &jpeg(Some(&tiff(true, &[], &[(0x829d, ratio(2, 1))])), None),
        )
        .unwrap(),
    );
    assert_eq!(found.fact("resolution-height"), Some("4000.0 []"));
}

#[test]
fn a_date_takes_the_form_of_xmp() {
    let fields = [
        (0x9003, Val::Ascii("2026:11:25 10:20:30")),
        (0x9011, Val::Ascii("+01:00")),
        (0x9291, Val::Ascii("045")),
    ];
    let (found, _) = exif(&fields);
    assert_eq!(
        found.get("extra/exif:DateTimeOriginal"),
        Some("2026-11-25T10:20:30.045+01:00 [text]")
    );
}

#[test]
fn blanks_in_exif_are_unknown_and_padding() {
    let (found, told) = exif(&[
        (0xa433, Val::Ascii("   ")),
        (0xa434, Val::Ascii("Halden 32   ")),
    ]);
    assert!(found.get("lens-maker").is_none());
    assert_eq!(found.get("lens-model"), Some("Halden 32 [text]"));
    assert!(told.is_empty());
}

#[test]
fn a_decimal_in_place_of_a_rational_is_read_with_a_warning() {
    let (found, told) =
        sidecar("<exif:FNumber> 1.9 </exif:FNumber><exif:SubjectDistance>0</exif:SubjectDistance>");
    assert_eq!(found.number("f-number"), 1.9);
    assert!(found.number("focus-distance").is_nan());
    assert_eq!(told, ["decimal-for-rational"; 2]);
}

#[test]
fn prefixes_mean_nothing() {
    let text = packet("<exif:FNumber>19/10</exif:FNumber>")
        .replace("exif:FNumber", "n:FNumber")
        .replace("xmlns:exif=", "xmlns:n=")
        .replace("rdf:", "r:")
        .replace("xmlns:rdf", "xmlns:r");
    assert_eq!(
        flat(&read("a.xmp", text.as_bytes()).unwrap()).number("f-number"),
        1.9
    );
    let other = packet("<exif:FNumber>19/10</exif:FNumber>")
        .replace("http://ns.adobe.com/exif/1.0/'", "http://ns.example/n/'");
    let found = flat(&read("a.xmp", other.as_bytes()).unwrap());
    assert!(found.number("f-number").is_nan());
    assert_eq!(
        found.get("extra/{http://ns.example/n/}FNumber"),
        Some("19/10 [text]")
    );
}

#[test]
fn utf_16_sidecars_are_read() {
    let text = packet("<exifEX:LensModel>Halden é</exifEX:LensModel>");
    let bytes: Vec<u8> = [0xff, 0xfe]
        .into_iter()
        .chain(text.encode_utf16().flat_map(u16::to_le_bytes))
        .collect();
    let found = flat(&read("a.xmp", &bytes).unwrap());
    assert_eq!(found.get("lens-model"), Some("Halden é [text]"));
}

fn one_frame(columns: &[(&str, &str, &str, f64)], facts: &[(&str, &str, f64)]) -> String {
    let columns = columns
        .iter()
        .map(|(channel, unit, reference, value)| Column {
            channel: (*channel).into(),
            unit: (*unit).into(),
            reference: (*reference).into(),
            values: vec![*value],
        });
    let facts = facts.iter().map(|(name, unit, value)| Fact {
        name: (*name).into(),
        value: Datum::Number(*value),
        unit: (*unit).into(),
        at: None,
    });
    let take = Take {
        lens: None,
        facts: facts.collect(),
    };
    let frames = Frames {
        take: 0,
        first: 0,
        count: 1,
        columns: columns.collect(),
        labels: Vec::new(),
        inputs: Vec::new(),
        offsets: Vec::new(),
    };
    write(&[Item::Take(take), Item::Frames(frames)]).unwrap()
}

#[test]
fn a_t_stop_is_never_written_as_an_f_number() {
    let text = one_frame(&[("t-stop", "T", "", 2.1)], &[]);
    assert!(
        !text.contains("FNumber") && !text.contains("Aperture"),
        "{text}"
    );
    assert!(text.contains("<ringmark:name>t-stop<") && text.contains("<ringmark:number>2.1<"));
}

#[test]
fn infinity_and_the_reference_of_a_distance_are_written() {
    let text = one_frame(
        &[("focus-distance", "m", "image-plane", f64::INFINITY)],
        &[],
    );
    assert!(
        text.contains("<exif:SubjectDistance>4294967295/1<"),
        "{text}"
    );
    assert!(text.contains("<ringmark:reference>image-plane<"), "{text}");
    // These numerators say infinity: no distance may have them.
    for metres in [2147483647.0, 4294967295.0] {
        let text = one_frame(&[("focus-distance", "m", "unstated", metres)], &[]);
        assert!(!text.contains("exif:SubjectDistance>"), "{text}");
        assert_eq!(
            flat(&read("a.xmp", text.as_bytes()).unwrap()).number("focus-distance"),
            metres
        );
    }
}

#[test]
fn values_without_a_place_go_aside() {
    for (channel, unit, value) in [
        ("sensitivity", "ISO", 65535.0),
        ("sensitivity", "ISO", 320.5),
        ("equivalent-focal-length", "mm", 41.5),
        ("nominal-focal-length", "mm", 0.0),
        ("f-number", "f", f64::INFINITY),
        ("exposure-time", "s", -1.0),
    ] {
        let text = one_frame(&[(channel, unit, "", value)], &[]);
        assert!(!text.contains("<exif"), "{text}");
        assert_eq!(
            flat(&read("a.xmp", text.as_bytes()).unwrap()).number(channel),
            value
        );
    }
}

#[test]
fn the_sensor_is_written_as_pixels_a_centimetre() {
    let text = one_frame(
        &[("frame", "", "", 1.0)],
        &[
            ("sensor-width", "mm", 36.0),
            ("sensor-height", "mm", 24.0),
            ("resolution-width", "", 6000.0),
            ("resolution-height", "", 4000.0),
        ],
    );
    for property in [
        "<exif:PixelXDimension>6000<",
        "<exif:FocalPlaneXResolution>5000/3<",
        "<exif:FocalPlaneYResolution>5000/3<",
        "<exif:FocalPlaneResolutionUnit>3<",
    ] {
        assert!(text.contains(property), "{property}\n{text}");
    }
}
