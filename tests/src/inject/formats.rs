//! A take through a format: written by the plugin, read back, checked.

use anyhow::{Context, Result, anyhow};
use ringmark_checks::{Checker, Settings};
use ringmark_model::{Channel, Extra, Finding, Piece, Take};
use ringmark_quantity::Length;

use super::clean::Case;
use super::faults::Expect;
use super::lenses::LensCase;
use crate::direct::{Files, Plugins, from_neutral, neutral_lines, pieces, sources, written};
use crate::plate::plate;

/// The formats that take a whole take, the neutral one first.
pub const FORMATS: [&str; 8] = [
    "take.jsonl",
    "table",
    "opentrackio",
    "acquisition-klv",
    "ebucore",
    "exif-xmp",
    "openexr",
    "usd-camera",
];

/// The formats of calibrations.
pub const OF_LENSES: [&str; 2] = ["lens.json", "table"];

/// The bundled formats at hand.
pub struct Formats {
    plugins: Plugins,
}

/// What came back.
pub struct Checked {
    /// What the checks say.
    pub findings: Vec<Finding>,
    back: Vec<Piece>,
}

impl Formats {
    /// `tmp` is where compiled plugins are kept.
    pub fn new(tmp: &str) -> Result<Self> {
        Ok(Self {
            plugins: Plugins::new(tmp)?,
        })
    }

    fn through(&self, format: &str, pieces_in: &[Piece], frames: &[f64]) -> Result<Vec<Piece>> {
        if format.contains('.') {
            return Ok(from_neutral(&neutral_lines(pieces_in)?)?);
        }
        let plugin = self.plugins.named(format)?;
        let names = |ending: &str| -> Files {
            frames
                .iter()
                .map(|number| (format!("H014C007.{number:04}.{ending}"), plate()))
                .collect()
        };
        let templates = match format {
            "openexr" => names("exr"),
            "exif-xmp" => names("jpg"),
            _ => Vec::new(),
        };
        let (files, _) =
            written(plugin, pieces_in, &templates).with_context(|| format.to_owned())?;
        pieces(plugin, sources(&files), "{}").map_err(|failure| anyhow!("{format}: {failure:?}"))
    }

    /// Takes a take through a format and checks it.
    pub fn check(&self, format: &str, case: &Case) -> Result<Checked> {
        let back = self.through(
            format,
            &case.pieces(),
            case.numbers.get(&Channel::Frame).map_or(&[], Vec::as_slice),
        )?;
        let settings = Settings {
            expected: case.expected.clone(),
            ..Settings::default()
        };
        let mut checker = Checker::with_calibration(&settings, case.calibration.clone())
            .with_rangefinder_offset(Some(Length::from_metres(case.finder_offset)));
        back.iter().for_each(|piece| checker.piece(piece));
        Ok(Checked {
            findings: checker.finish(),
            back,
        })
    }

    /// Takes a calibration through a format and checks it.
    pub fn check_lens(&self, format: &str, case: &LensCase) -> Result<Vec<Finding>> {
        let back = self.through(format, &[Piece::Lens(case.lens.clone())], &[])?;
        let settings = Settings {
            expected: case.expected.clone(),
            ..Settings::default()
        };
        let mut checker = Checker::new(&settings);
        back.iter().for_each(|piece| checker.piece(piece));
        Ok(checker.finish())
    }
}

impl Checked {
    fn take(&self) -> Option<&Take> {
        self.back.iter().find_map(|piece| match piece {
            Piece::Take(take) => Some(take),
            _ => None,
        })
    }

    fn numbers(&self, channel: Channel) -> Option<Vec<f64>> {
        let mut all = Vec::new();
        for piece in &self.back {
            if let Piece::Frames(batch) = piece {
                all.extend_from_slice(batch.numbers(channel)?);
            }
        }
        (!all.is_empty()).then_some(all)
    }

    fn texts(&self, channel: Channel) -> Option<Vec<String>> {
        let mut all = Vec::new();
        for piece in &self.back {
            if let Piece::Frames(batch) = piece {
                all.extend(
                    batch
                        .texts(channel)?
                        .iter()
                        .map(|text| text.unwrap_or_default().to_owned()),
                );
            }
        }
        (!all.is_empty()).then_some(all)
    }

    /// Whether what was injected is there on the other side.
    pub fn carries(&self, case: &Case, expect: &Expect) -> bool {
        expect
            .carried
            .iter()
            .all(|channel| self.has(*channel, case))
            && expect
                .gone
                .iter()
                .all(|channel| self.numbers(*channel).is_none())
            && expect.facts.iter().all(|fact| self.states(fact, case))
    }

    fn has(&self, channel: Channel, case: &Case) -> bool {
        if channel.is_text() {
            return self
                .texts(channel)
                .is_some_and(|texts| Some(&texts) == case.texts.get(&channel));
        }
        let (Some(is), Some(was)) = (self.numbers(channel), case.numbers.get(&channel)) else {
            return false;
        };
        let near = |(is, was): (&f64, &f64)| {
            is == was
                || is.is_nan() && was.is_nan()
                || (is - was).abs() <= 2e-3 * was.abs().max(1e-3)
        };
        is.len() == was.len() && is.iter().zip(was).all(near)
    }

    fn states(&self, fact: &str, case: &Case) -> bool {
        let (Some(is), was) = (self.take(), &case.take) else {
            return false;
        };
        let near = |a: Option<(f64, f64)>, b: Option<(f64, f64)>| {
            a.zip(b).is_some_and(|(a, b)| {
                (a.0 / b.0 - 1.0).abs() < 1e-3 && (a.1 / b.1 - 1.0).abs() < 1e-3
            })
        };
        match fact {
            "sensor" => near(is.sensor_mm, was.sensor_mm),
            "extras" => {
                let there = |extra: &Extra| is.extras.iter().any(|other| other.name == extra.name);
                was.extras.iter().all(there)
            }
            "resolution" => is.resolution == was.resolution,
            "distortion-model" => is.distortion_model == was.distortion_model,
            "frame-rate" => is.frame_rate == was.frame_rate,
            "no frame-rate" => is.frame_rate.is_none(),
            "start-timecode" => is.start_timecode == was.start_timecode,
            "focus-encoder" => is.encoders == was.encoders,
            "camera-model" => is.camera.model == was.camera.model,
            "camera-serial" => is.camera.serial == was.camera.serial,
            "lens-model" => {
                let named = |piece: &Piece| matches!(piece, Piece::Lens(lens) if lens.model == case.lens.model);
                self.back.iter().any(named) || self.texts(Channel::Lens).is_some()
            }
            "reference" => self.back.iter().any(|piece| match piece {
                Piece::Frames(batch) => batch
                    .number_column(Channel::FocusDistance)
                    .is_some_and(|column| column.head.reference == Some(case.reference)),
                _ => false,
            }),
            other => unreachable!("no fact is called {other}"),
        }
    }
}
