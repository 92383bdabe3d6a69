//! Units of channels. Factors: 1 in = 25.4 mm exactly (international yard and pound
//! agreement, 1959); a dioptre is the reciprocal of a metre; 1 degree is 60 minutes of arc.

use ringmark_model::{Channel, Origin};
use ringmark_quantity::{Dimension, Unit};

use crate::make::*;

fn one(channel: &str, unit: &str, value: f64) -> f64 {
    let batch = columns(vec![column(channel, unit, &[value])]).unwrap();
    values(&batch, Channel::from_name(channel).unwrap())[0]
}

#[test]
fn every_unit_of_length_becomes_metres() {
    for (unit, value, metres) in [
        ("m", 1.676, 1.676),
        ("cm", 167.6, 1.676),
        ("mm", 1676.0, 1.676),
        ("um", 1_676_000.0, 1.676),
        ("in", 66.0, 1.6764),
        ("ft", 5.5, 1.6764),
        ("D", 0.5, 2.0),
    ] {
        assert_eq!(one("focus-distance", unit, value), metres, "{unit}");
    }
}

#[test]
fn the_number_of_feet_and_inches_is_inches() {
    assert_eq!(one("focus-distance", "ft-in", 66.0), 1.6764, "5'6\"");
    assert_eq!(one("focus-distance", "ft", 5.6), 1.70688, "never 5'6\"");
}

#[test]
fn zero_dioptres_is_infinity() {
    assert_eq!(one("focus-distance", "D", 0.0), INF);
    assert_eq!(one("focus-distance", "D", -0.0), INF);
    assert!(one("focus-distance", "D", NAN).is_nan());
}

#[test]
fn entrance_pupil_comes_in_metres_and_goes_back_in_metres() {
    for offset in [0.0912, -0.0153, 0.0] {
        let batch = columns(vec![column("entrance-pupil-offset", "m", &[offset])]).unwrap();
        let channel = Channel::EntrancePupilOffset;
        let head = &batch.number_column(channel).unwrap().head;
        assert_eq!((head.unit.as_str(), head.origin), ("mm", Origin::Converted));
        assert_eq!(head.source_unit.as_deref(), Some("m"));
        assert_eq!(values(&batch, channel), [offset * 1000.0]);
        let mut wants_metres = everything();
        wants_metres.carries.channels = vec![carried("entrance-pupil-offset", "m")];
        let (written, losses) = write_columns(&wants_metres, batch.numbers);
        assert_eq!(written[0].unit, "m");
        assert!(same(&written[0].values, &[offset]));
        assert_eq!(losses, []);
    }
}

#[test]
fn a_number_without_unit_is_refused_where_it_needs_one() {
    for channel in Channel::ALL.iter().filter(|c| !c.is_text()) {
        let unit = channel.unit().unwrap();
        let bare = columns(vec![column(channel.name(), "", &[1.0])]);
        match unit {
            Unit::One | Unit::TStop | Unit::FNumber | Unit::Iso => assert!(bare.is_ok()),
            _ => refused(
                bare,
                &format!("{} has no unit", channel.name()),
                &format!("ringmark keeps it in {}", unit.symbol()),
            ),
        }
    }
}

#[test]
fn a_unit_of_another_kind_is_refused() {
    for channel in Channel::ALL.iter().filter(|c| !c.is_text()) {
        let own = channel.unit().unwrap();
        let raw_ring = own == Unit::Count;
        for unit in Unit::ALL {
            let result = columns(vec![column(channel.name(), unit.symbol(), &[1.0])]);
            let dimension = unit.dimension();
            let fits = match (own, unit) {
                (Unit::Count | Unit::Ratio, Unit::Count | Unit::Ratio | Unit::Percent) => {
                    own == unit || (own == Unit::Ratio && unit == Unit::Percent)
                }
                (Unit::Count, Unit::Degree) => raw_ring,
                // No symbol: see above.
                (_, Unit::One) => {
                    own == unit || [Unit::TStop, Unit::FNumber, Unit::Iso].contains(&own)
                }
                _ => own.dimension() == dimension,
            };
            assert_eq!(result.is_ok(), fits, "{} in {unit:?}", channel.name());
        }
    }
    assert_eq!(Unit::Dioptre.dimension(), Dimension::Length);
}

#[test]
fn what_to_do_about_a_unit_is_said() {
    let bad = |channel: &str, unit: &str| columns(vec![column(channel, unit, &[1.0])]);
    refused(
        bad("focus-distance", "furlong"),
        "focus-distance has the unit 'furlong', which ringmark does not know",
        "m would do",
    );
    refused(bad("frame", "furlong"), "'furlong'", "leave the unit out");
    refused(
        bad("frame", "mm"),
        "frame: “mm” does not",
        "leave the unit out",
    );
    refused(
        bad("t-stop", "f"),
        "transmittance is needed",
        "give it in T",
    );
    refused(
        bad("focus-ring", "count"),
        "encoder's range",
        "give it in 0..1",
    );
    refused(
        bad("focus-ring-raw", "%"),
        "encoder's range",
        "give it in count",
    );
    refused(
        bad("shutter-angle", "s"),
        "“s” does not convert to “deg”",
        "give it in deg or a unit of the same kind",
    );
}

#[test]
fn a_t_stop_never_becomes_an_f_number() {
    let batch = columns(vec![
        column("t-stop", "", &[2.8]),
        column("f-number", "", &[2.6]),
    ])
    .unwrap();
    assert_eq!(values(&batch, Channel::TStop), [2.8]);
    assert_eq!(values(&batch, Channel::FNumber), [2.6]);
    refused(
        columns(vec![column("f-number", "T", &[2.8])]),
        "“T” does not convert to “f”",
        "give it in f",
    );
    let mut wants_f = everything();
    wants_f.carries.channels = vec![carried("t-stop", "f")];
    let mut writer = ringmark_normalise::ForWriter::new(&wants_f);
    refused(
        writer.item(&ringmark_model::Piece::Frames(batch)),
        "the manifest of 'sheet' asks for t-stop in 'f'",
        "author of the plugin",
    );
}

#[test]
fn three_focal_lengths_are_three_channels() {
    let batch = columns(vec![
        column("nominal-focal-length", "mm", &[50.0]),
        column("pinhole-focal-length", "cm", &[5.13]),
        column("effective-focal-length", "m", &[0.0498]),
    ])
    .unwrap();
    assert_eq!(values(&batch, Channel::NominalFocalLength), [50.0]);
    assert_eq!(values(&batch, Channel::PinholeFocalLength), [51.3]);
    assert_eq!(values(&batch, Channel::EffectiveFocalLength), [49.8]);
    assert_eq!(batch.numbers.len(), 3);
}

#[test]
fn angles_become_degrees() {
    assert_eq!(one("shutter-angle", "arcmin", 10_368.0), 172.8);
    assert_eq!(one("shutter-angle", "deg", 172.8), 172.8);
    assert_eq!(one("shutter-angle", "rad", std::f64::consts::PI), 180.0);
}

#[test]
fn per_cent_become_a_ratio() {
    assert_eq!(one("focus-ring", "%", 12.5), 0.125);
    assert_eq!(one("zoom-ring", "%", 104.0), 1.04, "past the end stop");
}

#[test]
fn not_recorded_infinity_and_zero_are_three_things() {
    let found = [NAN, INF, 0.0, 1.5];
    for (unit, expected) in [("m", found), ("mm", [NAN, INF, 0.0, 0.0015])] {
        let batch = columns(vec![column("focus-distance", unit, &found)]).unwrap();
        let values = values(&batch, Channel::FocusDistance);
        assert!(same(values, &expected), "{values:?}");
    }
}

#[test]
fn extras_keep_their_numbers_and_their_unit() {
    let batch = columns(vec![column("extra/gimbal tilt", "furlong", &[1.5, NAN])]).unwrap();
    let extra = &batch.numbers[0];
    assert_eq!(extra.head.key.name(), "extra/gimbal tilt");
    assert_eq!(extra.head.unit, "furlong");
    assert!(same(&extra.values, &[1.5, NAN]));
}

#[test]
fn bundled_manifests_ask_for_units_that_exist() {
    for text in [
        include_str!("../../../../plugins/table/manifest.json"),
        include_str!("../../../../plugins/opentrackio/manifest.json"),
        include_str!("../../../../plugins/openexr/manifest.json"),
    ] {
        let manifest: ringmark_model::Manifest = serde_json::from_str(text).unwrap();
        for carried in &manifest.carries.channels {
            let channel = Channel::from_name(&carried.name).unwrap();
            let column = match channel.is_text() {
                true => continue,
                false => numbers(channel, &[0.5]),
            };
            if manifest.carries.takes {
                let (written, _) = write_columns(&manifest, vec![column]);
                assert_eq!(written.len(), 1, "{}", carried.name);
            }
        }
    }
}
