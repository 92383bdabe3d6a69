//! What changes from frame to frame: the columns of a take, and the tracks they come from.

use std::collections::{HashMap, HashSet};
use std::rc::Rc;

use ringmark_sdk::batch::{LabelColumn, NumberColumn};
use ringmark_sdk::{Column, Failure, Input, Labels, failure};

use crate::facts::{RECORDED, is_column, is_known};
use crate::fields::{FIELDS, Field, Role, SHUTTER_ANGLE, SHUTTER_CLOSE, SHUTTER_OPEN};
use crate::moment::{How, Moment};
use crate::remarks::{Notice, Remarks};
use crate::stage::{Attribute, Camera};
use crate::track::Track;
use crate::units::Scene;
use crate::value::{Scalar, Type};

/// Bytes of samples kept at a time for all attributes together, and for one.
const ALL_CHUNKS: u32 = 1 << 20;
const LARGEST_CHUNK: u32 = 64 * 1024;
const SMALLEST_CHUNK: u32 = 4 * 1024;

/// The columns of one take while they are read.
pub struct Columns {
    tracks: Vec<Track>,
    numbers: Vec<(NumberColumn, How)>,
    texts: Vec<(LabelColumn, usize)>,
    /// The track that says which frames there are.
    recorded: Option<usize>,
    /// The track whose samples are named as the places of frames.
    main: Option<usize>,
    scene: Scene,
    step: f64,
}

/// Makes the columns.
struct Plan<'c> {
    input: &'c Rc<dyn Input>,
    camera: &'c Camera,
    chunk: u32,
    columns: Columns,
    names: HashSet<String>,
    /// Tracks by attribute.
    tracks: HashMap<String, usize>,
    /// Attributes that hold exact values of others.
    exact: HashSet<String>,
}

impl Columns {
    /// The columns of `camera`. `own`: this program wrote it.
    pub fn new(
        input: &Rc<dyn Input>,
        camera: &Camera,
        (scene, step, own): (Scene, f64, bool),
        remarks: &mut Remarks,
    ) -> Result<Self, Failure> {
        let animated = camera.attributes.iter().filter(|a| a.is_animated()).count();
        let chunk = ALL_CHUNKS / u32::try_from(animated.max(1)).unwrap_or(u32::MAX);
        let mut plan = Plan {
            input,
            camera,
            chunk: chunk.clamp(SMALLEST_CHUNK, LARGEST_CHUNK),
            columns: Columns {
                tracks: Vec::new(),
                numbers: Vec::new(),
                texts: Vec::new(),
                recorded: None,
                main: None,
                scene,
                step,
            },
            names: HashSet::new(),
            tracks: HashMap::new(),
            exact: HashSet::new(),
        };
        for field in FIELDS {
            plan.field(field)?;
        }
        plan.shutter(own)?;
        if let Some(attribute) = camera.attribute(RECORDED) {
            plan.columns.recorded = plan.track(Some(attribute))?;
        }
        for attribute in &camera.attributes {
            plan.other(attribute, remarks)?;
        }
        let main = camera
            .attribute("focusDistance")
            .filter(|a| a.is_animated());
        let first = camera.attributes.iter().find(|a| a.is_animated());
        plan.columns.main = plan.track(main.or(first))?;
        Ok(plan.columns)
    }

    /// Goes on to a time code. Where no frame is recorded there, gives the time code at which
    /// one may be again.
    pub fn go(&mut self, time: f64) -> Result<Presence, Failure> {
        if let Some(track) = self.recorded.and_then(|at| self.tracks.get_mut(at)) {
            track.go(time)?;
            if track.number() == 0.0 {
                return Ok(Presence::Absent(track.next_key()));
            }
        }
        for (index, track) in self.tracks.iter_mut().enumerate() {
            if Some(index) != self.recorded {
                track.go(time)?;
            }
        }
        Ok(Presence::Present)
    }

    /// Adds the frame at the time to which the tracks went.
    pub fn push(&mut self, time: f64, remarks: &mut Remarks) {
        let moment = Moment {
            tracks: &self.tracks,
            scene: self.scene,
            step: self.step,
            time,
        };
        for (column, how) in &mut self.numbers {
            let value = moment.value(how, remarks);
            column.values.push(value);
        }
        for (column, track) in &mut self.texts {
            match self.tracks.get(*track).and_then(Track::text) {
                Some(text) => column.push(text),
                None => column.push_absent(),
            }
        }
    }

    /// Offset of the sample that stands for the frame.
    pub fn offset(&self) -> Option<u64> {
        self.main
            .and_then(|at| self.tracks.get(at))
            .map(Track::offset)
    }

    /// Bytes of text that one frame may add.
    pub fn text_bytes(&self) -> usize {
        let texts = self.texts.iter();
        texts
            .filter_map(|(_, at)| self.tracks.get(*at)?.text())
            .map(str::len)
            .sum()
    }

    /// The columns of a batch; all are empty again.
    pub fn take(&mut self) -> (Vec<Column>, Vec<Labels>) {
        let numbers = self.numbers.iter_mut().map(|(column, _)| column.take());
        let labels = self.texts.iter_mut().map(|(column, _)| column.take());
        (numbers.collect(), labels.collect())
    }
}

/// Whether there is a frame.
pub enum Presence {
    /// There is.
    Present,
    /// There is none before this time code, or none any more.
    Absent(Option<f64>),
}

impl<'c> Plan<'c> {
    fn track(&mut self, attribute: Option<&Attribute>) -> Result<Option<usize>, Failure> {
        let Some(attribute) = attribute else {
            return Ok(None);
        };
        if let Some(&track) = self.tracks.get(&attribute.name) {
            return Ok(Some(track));
        }
        let track = Track::new(self.input, attribute, self.chunk)?;
        let index = self.columns.tracks.len();
        self.columns.tracks.push(track);
        self.tracks.insert(attribute.name.clone(), index);
        Ok(Some(index))
    }

    /// The attribute beside the one of the standard that holds exact values of `channel`.
    fn kept(&mut self, channel: &str, attribute: &str) -> Option<&'c Attribute> {
        let mut attributes = self.camera.attributes.iter();
        let found = attributes.find(|a| {
            a.name != attribute
                && a.of.is_number()
                && a.aside("channel") == Some(channel)
                && a.aside("form") != Some("apart")
        })?;
        self.exact.insert(found.name.clone());
        Some(found)
    }

    fn field(&mut self, field: &'static Field) -> Result<(), Failure> {
        let camera = self.camera;
        let kept = self.kept(field.channel, field.attribute);
        let native = camera
            .attribute(field.attribute)
            .filter(|a| a.is_animated() || matches!(a.constant(), Some(Scalar::Number(_))));
        let native =
            native.filter(|a| field.role == Role::Channel || is_column(a) || kept.is_some());
        if native.is_none() && kept.is_none() {
            return Ok(());
        }
        let stated = match kept {
            Some(_) => field.measure.asked(self.columns.scene),
            None => field.stated(self.columns.scene),
        };
        if let Some(kept) = kept {
            check_unit(kept, stated.unit)?;
        }
        let reference = match native
            .into_iter()
            .chain(kept)
            .find_map(|a| a.aside("reference"))
        {
            Some(reference) if !field.reference.is_empty() => reference,
            _ => field.reference,
        };
        let column = NumberColumn::new(field.channel, stated.unit, reference);
        self.names.insert(field.channel.to_owned());
        let (native, kept) = (self.track(native)?, self.track(kept)?);
        self.columns.numbers.push((
            column,
            How::Field {
                field,
                stated,
                native,
                kept,
            },
        ));
        Ok(())
    }

    fn shutter(&mut self, own: bool) -> Result<(), Failure> {
        let camera = self.camera;
        let open = camera.attribute(SHUTTER_OPEN);
        let close = camera.attribute(SHUTTER_CLOSE);
        let kept = self.kept(SHUTTER_ANGLE, "");
        if open.is_none() && close.is_none() && kept.is_none() {
            return Ok(());
        }
        if let Some(kept) = kept {
            check_unit(kept, "deg")?;
        }
        let animated = open.is_some_and(Attribute::is_animated);
        let (open, close, kept) = (self.track(open)?, self.track(close)?, self.track(kept)?);
        self.names.insert(SHUTTER_ANGLE.to_owned());
        let column = NumberColumn::new(SHUTTER_ANGLE, "deg", "");
        self.columns.numbers.push((
            column,
            How::Angle {
                open,
                close,
                kept,
                absent: if own { f64::NAN } else { 0.0 },
            },
        ));
        if let Some(open) = open.filter(|_| animated && !own) {
            let name = format!("extra/{SHUTTER_OPEN}");
            let column = NumberColumn::new(name.clone(), "", "");
            self.names.insert(name);
            self.columns.numbers.push((column, How::Open(open)));
        }
        Ok(())
    }

    /// A column that is neither of the schema nor the exact form of one that is.
    fn other(&mut self, attribute: &Attribute, remarks: &mut Remarks) -> Result<(), Failure> {
        let known = is_known(&attribute.name) && attribute.of != Type::Text;
        if !is_column(attribute) || known || self.exact.contains(&attribute.name) {
            return Ok(());
        }
        let channel = match attribute.aside("channel") {
            Some(channel) => channel.to_owned(),
            None => format!("extra/{}", attribute.name),
        };
        if !self.names.insert(channel.clone()) {
            remarks.add(Notice {
                severity: "error",
                check: "column-not-kept",
                subject: &channel,
                message: format!("two attributes hold {channel}: the first one is read"),
                help: "leave one of both out",
                at: Some(attribute.at.clone()),
            });
            return Ok(());
        }
        let Some(track) = self.track(Some(attribute))? else {
            return Ok(());
        };
        if attribute.of == Type::Text {
            let form = match attribute.aside("form") {
                Some("json") => "json",
                Some("hex") => "hex",
                _ => "text",
            };
            let column = LabelColumn::with_form(channel, form);
            self.columns.texts.push((column, track));
        } else {
            let unit = attribute.aside("unit").unwrap_or_default();
            let reference = attribute.aside("reference").unwrap_or_default();
            let column = NumberColumn::new(channel, unit, reference);
            self.columns.numbers.push((column, How::Plain(track)));
        }
        Ok(())
    }
}

fn check_unit(kept: &Attribute, unit: &str) -> Result<(), Failure> {
    let found = kept.aside("unit").unwrap_or_default();
    if found == unit {
        return Ok(());
    }
    Err(failure(
        format!("exact values are kept in `{found}`, expected `{unit}`"),
        "remove the attribute to read what the standard's attribute says",
        Some(kept.at.clone()),
    ))
}
