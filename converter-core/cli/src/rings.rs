//! Values that ring positions give, how exactly they are known, and what is said about them.

use std::sync::Arc;

use ringmark_model::{
    Batch, Channel, ColumnHead, ColumnKey, Finding, FrameRange, NumberColumn, Severity, Subject,
};
use ringmark_optics::{Reading, Region, RingCurve};
use ringmark_quantity::{Unit, print};

/// Name of the remark on how exactly values are known.
const BAND: &str = "values-from-rings";
/// Name of the remark on positions that no mark vouches for.
const BEYOND: &str = "ring-beyond-marks";
/// Name of the remark on positions that have no value.
const OFF: &str = "ring-off-scale";
/// Name of the remark on takes without ring positions.
const MISSING: &str = "ring-positions-missing";
/// Name of the remark on takes of another lens: that of the check, which says the same.
pub const OTHER_LENS: &str = "lens-differs-from-take";
/// Name of the remark on gaps in recorded values.
const GAPS: &str = "recorded-gaps-kept";
/// Half widths kept for the typical one.
const KEPT: usize = 1024;

/// How much is told about the band of values.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub enum Told {
    /// Nothing.
    #[default]
    Nothing,
    /// The typical and the largest one, in a remark.
    Remark,
    /// A remark, and two columns beside each of values.
    Columns,
}

/// Whether a remark is about values from ring positions.
pub fn is_about_rings(finding: &Finding) -> bool {
    [BAND, BEYOND, OFF, MISSING, GAPS, OTHER_LENS].contains(&finding.check.as_ref())
}

/// Whether ring positions are recorded in these frames.
pub fn has_positions(batch: &Batch) -> bool {
    use Channel::{FocusRing, FocusRingRaw, IrisRing, IrisRingRaw, ZoomRing, ZoomRingRaw};
    let channels = [
        FocusRing,
        FocusRingRaw,
        IrisRing,
        IrisRingRaw,
        ZoomRing,
        ZoomRingRaw,
    ];
    channels
        .into_iter()
        .any(|channel| batch.numbers(channel).is_some())
}

/// What the rings of one take gave.
#[derive(Debug, Default)]
pub struct TakeReadings {
    /// Whether any ring with marks has positions.
    pub has_positions: bool,
    /// Channels that rings would have given and that are recorded already, with the frames in which they are not although
    /// the ring has a position.
    recorded: Vec<(Channel, u64)>,
    frames: u64,
    rings: Vec<RingAccount>,
}

#[derive(Debug)]
struct RingAccount {
    key: ColumnKey,
    unit: Unit,
    values: u64,
    beyond: Option<FrameRange>,
    off: Option<FrameRange>,
    widths: Vec<Width>,
    stride: u64,
    widest: Option<(Width, String)>,
    endless: u64,
}

/// Half of a band, and the value it belongs to.
#[derive(Debug, Clone, Copy)]
struct Width {
    half: f64,
    value: f64,
}

impl TakeReadings {
    /// The values at ring positions, and their band if it is asked for, as columns.
    pub fn read(
        &mut self,
        curve: &RingCurve,
        head: &Arc<ColumnHead>,
        positions: &[f64],
        batch: &Batch,
        told: Told,
    ) -> Vec<NumberColumn> {
        let none = Reading {
            value: f64::NAN,
            low: f64::NAN,
            high: f64::NAN,
            region: Region::Outside,
        };
        let mut readings = vec![none; positions.len()];
        curve.evaluate_with_band(positions, &mut readings);
        let account = self.account(curve, head);
        for ((frame, position), reading) in positions.iter().enumerate().zip(&readings) {
            if position.is_finite() {
                account.add(reading, frame, batch, told);
            }
        }
        let column = |head: Arc<ColumnHead>, value: fn(&Reading) -> f64| NumberColumn {
            head,
            values: readings.iter().map(value).collect(),
        };
        let mut columns = vec![column(Arc::clone(head), |reading| reading.value)];
        if told == Told::Columns {
            columns.push(column(named(head, "low"), |reading| reading.low));
            columns.push(column(named(head, "high"), |reading| reading.high));
        }
        columns
    }

    fn account(&mut self, curve: &RingCurve, head: &ColumnHead) -> &mut RingAccount {
        let at = self
            .rings
            .iter()
            .position(|ring| ring.key == head.key)
            .unwrap_or_else(|| {
                self.rings.push(RingAccount {
                    key: head.key.clone(),
                    unit: curve.quantity().unit(),
                    values: 0,
                    beyond: None,
                    off: None,
                    widths: Vec::new(),
                    stride: 1,
                    widest: None,
                    endless: 0,
                });
                self.rings.len() - 1
            });
        &mut self.rings[at]
    }

    /// What there is to say once the take is over.
    pub fn remarks(&self, take: usize, lens: &str, told: Told) -> Vec<Finding> {
        if self.frames > 0 && !self.has_positions {
            let message = format!(
                "no ring positions are recorded that {lens} has marks for: it adds nothing"
            );
            let help = "record the rings, or name the columns that hold them in a mapping file";
            return vec![
                Finding::new(MISSING, Severity::Warning, Subject::Take(take), message).help(help),
            ];
        }
        let mut gaps = self.gaps(take);
        if self.rings.is_empty() && !self.recorded.is_empty() && told > Told::Nothing {
            let names: Vec<&str> = self
                .recorded
                .iter()
                .map(|(channel, _)| channel.name())
                .collect();
            let message = format!(
                "{} recorded already: kept, {lens} adds nothing",
                names.join(", ")
            );
            let subject = Subject::Take(take);
            gaps.push(Finding::new(BAND, Severity::Note, subject, message));
            return gaps;
        }
        gaps.extend(self.rings.iter().flat_map(|ring| ring.remarks(take, told)));
        gaps
    }

    /// A channel is recorded or read from the ring, never both: one column has one origin.
    fn gaps(&self, take: usize) -> Vec<Finding> {
        let with_gaps = self.recorded.iter().filter(|(_, gaps)| *gaps > 0);
        with_gaps
            .map(|(channel, gaps)| {
                let message = format!(
                    "{}: not recorded in {}, which are not filled from the ring, as the rest is recorded",
                    channel.name(),
                    ringmark_outputs::number(*gaps, "frame")
                );
                Finding::new(GAPS, Severity::Warning, Subject::Take(take), message)
                    .help("leave the recorded values out, as with `ignore` in a mapping, to have all of them from the marks")
            })
            .collect()
    }

    /// A channel that the ring at these positions would have given is recorded.
    pub fn keep(&mut self, channel: Channel, recorded: &[f64], positions: &[f64]) {
        let pairs = recorded.iter().zip(positions);
        let gaps = pairs.filter(|(value, position)| value.is_nan() && position.is_finite());
        let gaps = gaps.count() as u64;
        match self
            .recorded
            .iter_mut()
            .find(|(known, _)| *known == channel)
        {
            Some((_, sum)) => *sum += gaps,
            None => self.recorded.push((channel, gaps)),
        }
    }

    /// Frames went by.
    pub fn pass(&mut self, frames: usize) {
        self.frames += frames as u64;
    }
}

/// The head of one end of the band. The registry has no channel for it, so it is an extra in the unit of its values, and
/// measured from where they are: extras name no reference of their own.
fn named(head: &ColumnHead, end: &str) -> Arc<ColumnHead> {
    Arc::new(ColumnHead {
        key: ColumnKey::Extra(format!("{}-{end}", head.key.name()).into()),
        reference: None,
        ..head.clone()
    })
}

impl RingAccount {
    fn add(&mut self, reading: &Reading, frame: usize, batch: &Batch, told: Told) {
        self.values += 1;
        match reading.region {
            Region::Extrapolated => extend(&mut self.beyond, frame, batch),
            Region::Outside => return extend(&mut self.off, frame, batch),
            Region::Marked | Region::PastInfinity => {}
        }
        if told == Told::Nothing || !reading.value.is_finite() {
            return;
        }
        let width = Width {
            half: 0.5 * (reading.high - reading.low),
            value: reading.value,
        };
        if !width.half.is_finite() {
            self.endless += 1;
            return;
        }
        if self
            .widest
            .as_ref()
            .is_none_or(|(widest, _)| width.part() > widest.part())
        {
            self.widest = Some((width, frame_name(frame, batch)));
        }
        if self.values.is_multiple_of(self.stride) {
            if self.widths.len() == KEPT {
                let mut at = 0;
                self.widths.retain(|_| {
                    at += 1;
                    at % 2 == 0
                });
                self.stride *= 2;
            }
            self.widths.push(width);
        }
    }

    fn remarks(&self, take: usize, told: Told) -> Vec<Finding> {
        let name = self.key.name();
        let finding =
            |check, severity, message| Finding::new(check, severity, Subject::Take(take), message);
        let mut remarks = Vec::new();
        if let Some(range) = &self.beyond {
            let part = 100.0 * range.count as f64 / self.values as f64;
            let message = format!(
                "{name}: the ring is beyond the last mark in {} ({part:.0} %): extrapolated, no mark vouches for it",
                ringmark_outputs::number(range.count, "frame")
            );
            let mut remark = finding(BEYOND, Severity::Warning, message)
                .help("add marks out to the end of the travel that is used");
            remark.frames = Some(range.clone());
            remarks.push(remark);
        }
        if let Some(range) = &self.off {
            let part = 100.0 * range.count as f64 / self.values as f64;
            let message = format!(
                "{name}: the ring is off the scale in {} ({part:.0} %): no value there",
                ringmark_outputs::number(range.count, "frame")
            );
            let help =
                "look for another encoder range or another lens; else mark the scale to its ends";
            let mut remark = finding(OFF, Severity::Warning, message).help(help);
            remark.frames = Some(range.clone());
            remarks.push(remark);
        }
        if let Some((widest, frame)) = self.widest.as_ref().filter(|_| told > Told::Nothing) {
            let mut widths = self.widths.clone();
            widths.sort_by(|a, b| a.part().total_cmp(&b.part()));
            let typical = widths.get(widths.len() / 2).unwrap_or(widest);
            let endless = match self.endless {
                0 => String::new(),
                frames => format!("; in {frames} frames it reaches infinity"),
            };
            let message = format!(
                "{name} from ring positions: 95 % band typically {}, widest {} in frame {frame}{endless}",
                typical.text(self.unit),
                widest.text(self.unit)
            );
            remarks.push(finding(BAND, Severity::Note, message));
        }
        remarks
    }
}

impl Width {
    fn part(&self) -> f64 {
        self.half / self.value
    }

    /// `± 0.31 % (± 7.4 mm at 2.40 m)`
    fn text(&self, unit: Unit) -> String {
        let part = 100.0 * self.part();
        match unit {
            Unit::Metre => {
                let at = format!(
                    "{} ({})",
                    print::metric(self.value),
                    print::imperial(self.value)
                );
                format!("± {part:.2} % (± {:.1} mm at {at})", 1000.0 * self.half)
            }
            _ => format!("± {part:.2} % at {}", print::value(self.value, unit)),
        }
    }
}

fn number(frame: usize, batch: &Batch) -> Option<i64> {
    let number = batch.numbers(Channel::Frame)?.get(frame).copied();
    number
        .filter(|number| number.is_finite())
        .map(|number| number as i64)
}

fn label(frame: usize, batch: &Batch) -> Option<String> {
    batch
        .texts(Channel::Timecode)?
        .get(frame)
        .map(str::to_owned)
}

/// Its number as recorded, else its place in the take from 1.
fn frame_name(frame: usize, batch: &Batch) -> String {
    let counted = || {
        batch
            .first
            .saturating_add(frame as u64)
            .saturating_add(1)
            .to_string()
    };
    number(frame, batch).map_or_else(counted, |number| number.to_string())
}

fn extend(range: &mut Option<FrameRange>, frame: usize, batch: &Batch) {
    let index = batch.first.saturating_add(frame as u64);
    let (number, label) = (number(frame, batch), label(frame, batch));
    match range {
        Some(range) => {
            range.last = index;
            range.count += 1;
            range.last_number = number;
            range.last_label = label;
        }
        None => {
            *range = Some(FrameRange {
                first: index,
                last: index,
                count: 1,
                first_number: number,
                last_number: number,
                first_label: label.clone(),
                last_label: label,
            });
        }
    }
}
