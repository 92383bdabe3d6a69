//! `ringmark drift`

use anyhow::{Result, bail};
use ringmark_checks::RangefinderComparison;
use ringmark_model::{Axis, Lens, Piece, Take};
use ringmark_optics::reconcile::drift::{Course, Drift, Estimate, over_takes};
use ringmark_optics::reconcile::{Agreement, RingOffset, depths_between};
use ringmark_optics::{CircleOfConfusion, ImageFormat, RingCurve};
use ringmark_outputs::{
    DriftCourse, DriftReport, DriftTake, Uncertain, safe, write_drift_json, write_drift_text,
};
use ringmark_quantity::Length;

use crate::args::{Cli, Drift as Arguments, Reading};
use crate::calibrate::Calibration;
use crate::document::Document;
use crate::exit::Exit;
use crate::lengths::length_option;
use crate::pipeline::{Ended, program, run};
use crate::screen::Screen;
use crate::session::Session;

/// Ring offsets below this, in travel, are no reason to do anything: marks are read to 0.001.
const WORTH_SAYING: f64 = 0.001;

/// The distance at which offsets are shown, where the scale has it.
const SHOWN_AT: f64 = 2.0;

/// Fits the ring offset of each take and how it runs. Nothing is written but the report.
pub fn drift(cli: &Cli, args: &Arguments, screen: &Screen) -> Result<Exit> {
    let offset = length_option("--rangefinder-offset", args.rangefinder_offset.as_deref())?;
    let reading = Reading {
        inputs: args.takes.clone(),
        list: None,
        from: args.from.clone(),
        mapping: args.mapping.clone(),
        lens: Some(args.lens.clone()),
    };
    let session = Session::new(&reading, cli.no_cache)?;
    let Some(calibration) = session.calibration() else {
        bail!("no calibration is given")
    };
    let lens = &calibration.lens;
    let Some(curve) = lens
        .ring(Axis::Focus)
        .and_then(|ring| RingCurve::new(ring).ok())
    else {
        bail!("{}: holds no focus scale", calibration.name);
    };
    let mut takes = Vec::new();
    let mut exit = Exit::Clean;
    for (group, document) in session.documents(screen, cli.quiet)? {
        let read = document.and_then(|document| one(&document, lens, offset, &mut takes));
        if let Err(error) = read {
            screen.talk(&format!(
                "{}: {}\n",
                safe(&group.name),
                safe(&format!("{error:#}"))
            ));
            exit = Exit::Failed;
        }
    }
    let found = report(calibration, &curve, &takes);
    if found.ring_offset.is_none() {
        exit = Exit::Failed;
    }
    if args.json {
        let mut bytes = Vec::new();
        write_drift_json(&mut bytes, &program(), &found)?;
        screen.result(&bytes)?;
    } else {
        let mut text = String::new();
        write_drift_text(&mut text, &found)?;
        screen.result(&text)?;
    }
    Ok(exit)
}

/// A take and what it says.
struct Compared {
    file: String,
    take: Take,
    comparison: Option<RangefinderComparison>,
    said: Option<(Agreement, bool)>,
    other_lens: Option<String>,
}

fn one(
    document: &Document,
    lens: &Lens,
    offset: Option<Length>,
    takes: &mut Vec<Compared>,
) -> Result<()> {
    let (mut lenses, from) = (Vec::new(), takes.len());
    let ended = run(document, None, None, |piece| {
        match piece {
            Piece::Lens(own) => lenses.push(own),
            Piece::Take(take) => {
                let own = take.lens.and_then(|index| lenses.get(index));
                takes.push(Compared {
                    file: document.group.name.clone(),
                    comparison: RangefinderComparison::new(&take, own, lens, offset),
                    said: None,
                    other_lens: own.and_then(|own| other(own, lens)),
                    take,
                });
            }
            Piece::Frames(batch) => {
                let comparison = takes
                    .get_mut(from + batch.take)
                    .and_then(|take| take.comparison.as_mut());
                if let Some(comparison) = comparison {
                    comparison.frames(&batch);
                }
            }
            Piece::Remark(_) | Piece::End(_) => {}
        }
        Ok(())
    })?;
    if let (Ended::Whole, true) = (&ended, takes.len() == from) {
        bail!("holds no take");
    }
    for take in takes.iter_mut().skip(from) {
        take.said = take
            .comparison
            .take()
            .and_then(RangefinderComparison::finish);
    }
    match ended {
        Ended::Whole => Ok(()),
        Ended::ReadFailed(why) => bail!("{}", why.message),
    }
}

/// The name of a take's lens that is not the calibration's.
fn other(own: &Lens, lens: &Lens) -> Option<String> {
    own.contradicts(lens).then(|| own.label())
}

impl Compared {
    /// The offset of the ring, unless something else explains the take.
    fn ring_offset(&self) -> Option<RingOffset> {
        let (agreement, stated) = self.said?;
        let explained = agreement.distance_explains && stated;
        agreement.ring.filter(|ring| {
            ring.error.is_finite() && !explained && stated && self.other_lens.is_none()
        })
    }

    fn remark(&self) -> Option<String> {
        if let Some(lens) = &self.other_lens {
            return Some(format!("another lens, {lens}: left out"));
        }
        let Some((agreement, stated)) = self.said else {
            return Some("ring positions or rangefinder not recorded".to_owned());
        };
        if !stated {
            return Some(
                "rangefinder offset not stated: it cannot be told from one of the ring; left out"
                    .to_owned(),
            );
        }
        if let Some(offset) = agreement.distance.filter(|_| agreement.distance_explains) {
            return Some(format!(
                "{:+.0} mm of rangefinder offset explains it better: left out",
                1000.0 * offset.metres
            ));
        }
        if self.ring_offset().is_none() {
            return Some("too few frames".to_owned());
        }
        agreement
            .lag
            .err()
            .map(|why| format!("lag not known: {why}"))
    }

    fn row(&self) -> DriftTake {
        DriftTake {
            file: self.file.clone(),
            clip: self.take.label(),
            start_timecode: self.take.start_timecode.clone(),
            frames: self.said.map_or(0, |(agreement, _)| agreement.frames),
            lag_frames: self
                .said
                .and_then(|(agreement, _)| agreement.lag.ok())
                .map(|lag| Uncertain {
                    value: lag.frames,
                    half_width_95: lag.error,
                }),
            ring_offset: self.ring_offset().map(|offset| Uncertain {
                value: offset.travel,
                half_width_95: offset.error,
            }),
            remark: self.remark(),
        }
    }
}

fn uncertain(estimate: Estimate) -> Uncertain {
    Uncertain {
        value: estimate.value,
        half_width_95: estimate.error,
    }
}

fn report(calibration: &Calibration, curve: &RingCurve, takes: &[Compared]) -> DriftReport {
    let lens = &calibration.lens;
    let offsets: Vec<Option<RingOffset>> = takes.iter().map(Compared::ring_offset).collect();
    let drift = over_takes(&offsets);
    let mean = drift.map(|drift| drift.mean);
    let ring = lens.ring(Axis::Focus);
    let at = Some(SHOWN_AT)
        .filter(|at| curve.position_of(*at).is_finite())
        .or_else(|| middle(curve));
    let true_there = at
        .zip(mean)
        .map(|(at, mean)| curve.value_at(curve.position_of(at) + mean.value));
    let true_there = true_there.filter(|metres| metres.is_finite());
    let (course, change, step_at) = match drift.map(|drift| drift.course) {
        None => (None, None, None),
        Some(Course::None) => (Some(DriftCourse::None), None, None),
        Some(Course::Constant) => (Some(DriftCourse::Constant), None, None),
        Some(Course::Gradual { per_take }) => {
            (Some(DriftCourse::Gradual), Some(uncertain(per_take)), None)
        }
        Some(Course::Step { at, by }) => {
            (Some(DriftCourse::Step), Some(uncertain(by)), Some(at + 1))
        }
    };
    DriftReport {
        lens: lens.label(),
        calibration: calibration.name.clone(),
        takes: takes.iter().map(Compared::row).collect(),
        ring_offset: mean.map(uncertain),
        degrees: mean
            .zip(ring.and_then(|ring| ring.rotation))
            .map(|(mean, rotation)| mean.value * rotation.degrees()),
        counts: mean
            .zip(ring.and_then(|ring| ring.encoder))
            .map(|(mean, range)| mean.value * (range.high - range.low)),
        at_m: true_there.and(at),
        there_m: true_there.zip(at).map(|(there, at)| there - at),
        there_depths: true_there
            .zip(at)
            .and_then(|(there, at)| depths(lens, at, there)),
        course,
        change,
        step_at,
        advice: advice(drift, takes),
    }
}

/// The mark in the middle of the scale.
fn middle(curve: &RingCurve) -> Option<f64> {
    let values = curve.values();
    values
        .get(values.len() / 2)
        .copied()
        .filter(|metres| metres.is_finite())
}

fn depths(lens: &Lens, at: f64, there: f64) -> Option<f64> {
    let (shortest, longest) = lens.focal_length?;
    // A T-stop tells how much light comes through, not how wide the pupil is.
    let stop = lens.widest_f?.value();
    let circle = CircleOfConfusion::of_format(ImageFormat::Cine35);
    let depths = depths_between(shortest.mm(), stop, circle, at, there);
    (shortest == longest && depths.is_finite()).then_some(depths)
}

fn advice(drift: Option<Drift>, takes: &[Compared]) -> Vec<String> {
    let Some(drift) = drift else {
        return vec![
            "no take tells an offset: it needs ring positions, rangefinder readings and their offset from the image plane \
             (--rangefinder-offset, or '# rangefinder offset: 120 mm' in the take)"
                .to_owned(),
        ];
    };
    let clip = |at: usize| {
        takes
            .get(at)
            .map(|take| take.take.label())
            .unwrap_or_default()
    };
    let per_cent = |estimate: Estimate| {
        format!(
            "{:+.2} ± {:.2} % of travel",
            100.0 * estimate.value,
            100.0 * estimate.error
        )
    };
    let mut lines = match drift.course {
        Course::Step { at, by } => vec![
            format!("the scale steps by {} at take {} ({})", per_cent(by), at + 1, clip(at)),
            "likely a gear that slipped or a motor calibrated anew before that take: use an offset of its own on either side, and check the gear".to_owned(),
        ],
        Course::Gradual { per_take } => vec![
            format!("the scale moves by {} from take to take", per_cent(per_take)),
            "likely temperature, or wear of the drive: take the offset of the takes around, and mark the scale anew at working temperature".to_owned(),
        ],
        Course::Constant if drift.mean.value.abs() >= WORTH_SAYING => vec![
            "one offset fits all takes: ring and scale sit off each other, as from a motor calibrated to other end stops, another flange depth, or marks taken elsewhere".to_owned(),
            "mark two or three distances anew; if they agree, use the ring offset".to_owned(),
        ],
        Course::Constant => vec!["the offset is real and smaller than marks are read: nothing to do".to_owned()],
        Course::None => vec!["no drift that can be told from none".to_owned()],
    };
    if drift.course != Course::None {
        lines.push(
            "nothing was changed; a rangefinder that reads wrong gives the same figures: check one distance with a tape before the offset is used"
                .to_owned(),
        );
    }
    lines
}
