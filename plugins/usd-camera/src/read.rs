//! Reads a stage: each Camera prim is a take.

use std::collections::VecDeque;
use std::rc::Rc;

use ringmark_sdk::batch::NumberColumn;
use ringmark_sdk::{Datum, Fact, Failure, Frames, Input, Item, Lens, Place, Reader, Take, failure};

use crate::clock::{Clock, Rates};
use crate::columns::{Columns, Presence};
use crate::facts::{self, Head};
use crate::kept;
use crate::layer;
use crate::remarks::Remarks;
use crate::stage::{Placed, Stage};
use crate::suspicions;
use crate::units::{self, Scene};
use crate::write::meters_per_unit;

/// Frames of a batch.
const BATCH: u32 = 4096;

/// Bytes of text after which a batch ends early.
const BATCH_TEXT: usize = 4 << 20;

/// The reading half of the plugin.
pub struct StageReader {
    input: Rc<dyn Input>,
    stage: Stage,
    scene: Scene,
    rates: Rates,
    remarks: Remarks,
    items: VecDeque<Item>,
    lenses: u32,
    /// Cameras whose take began.
    begun: usize,
    take: Option<Running>,
}

/// The take whose frames are read.
struct Running {
    columns: Columns,
    clock: Clock,
    numbers: Option<NumberColumn>,
    /// The frame that comes next.
    next: i64,
    done: bool,
    count: u64,
}

impl Reader for StageReader {
    fn open(inputs: Vec<Box<dyn Input>>, options: &str) -> Result<Self, Failure> {
        meters_per_unit(options)?;
        let count = inputs.len();
        let mut inputs = inputs.into_iter();
        let (Some(input), None) = (inputs.next(), inputs.next()) else {
            return Err(failure(
                format!("a stage is read from one file, {count} were given"),
                "name one file; flatten the stage if its layers are several",
                None,
            ));
        };
        let input: Rc<dyn Input> = Rc::from(input);
        let mut remarks = Remarks::default();
        let stage = layer::index(Rc::clone(&input), &mut remarks)?;
        let scene = scene(&stage, &mut remarks)?;
        let rates = Rates::of(&stage, &mut remarks);
        let lenses = lenses(&stage)?;
        Ok(StageReader {
            input,
            scene,
            rates,
            remarks,
            lenses: lenses.len() as u32,
            items: lenses.into(),
            begun: 0,
            take: None,
            stage,
        })
    }

    fn next(&mut self) -> Result<Option<Item>, Failure> {
        loop {
            if let Some(item) = self.remarks.next().or_else(|| self.items.pop_front()) {
                return Ok(Some(item));
            }
            if let Some(mut take) = self.take.take() {
                let index = self.begun.saturating_sub(1) as u32;
                if let Some(frames) = take.batch(index, &mut self.remarks, &self.stage)? {
                    self.items.push_back(Item::Frames(frames));
                    self.take = Some(take);
                }
            } else if self.begun < self.stage.cameras.len() {
                self.begin()?;
            } else {
                return Ok(None);
            }
        }
    }
}

impl StageReader {
    /// Begins the take of the next camera.
    fn begin(&mut self) -> Result<(), Failure> {
        let camera = &self.stage.cameras[self.begun];
        let (scene, step, remarks) = (self.scene, self.rates.step, &mut self.remarks);
        let head = facts::head(camera, scene, &self.rates, remarks)?;
        suspicions::tell(camera, &self.stage, scene, head.own, remarks);
        let clock = Clock::of(&self.stage, camera, &self.rates, remarks);
        let columns = Columns::new(&self.input, camera, (scene, step, head.own), remarks)?;
        let lens = match head.lens.filter(|lens| *lens < self.lenses) {
            None => self.squeeze_alone(&head),
            lens => lens,
        };
        let numbered = head.numbered && clock.stated;
        self.items.push_back(Item::Take(Take {
            lens,
            facts: head.facts,
        }));
        self.begun += 1;
        self.take = Some(Running {
            columns,
            numbers: numbered.then(|| NumberColumn::new("frame", "", "")),
            next: clock.first,
            done: clock.first > clock.last,
            clock,
            count: 0,
        });
        Ok(())
    }

    /// A lens of which only the squeeze is known: the prim was copied from its layer.
    fn squeeze_alone(&mut self, head: &Head) -> Option<u32> {
        let squeeze = head.squeeze?;
        let fact = Fact {
            name: "squeeze".to_owned(),
            value: Datum::Number(squeeze),
            unit: String::new(),
            at: None,
        };
        self.items.push_back(Item::Lens(Lens {
            facts: vec![fact],
            rings: Vec::new(),
            tables: Vec::new(),
        }));
        self.lenses += 1;
        Some(self.lenses - 1)
    }
}

/// The scene unit of a stage.
fn scene(stage: &Stage, remarks: &mut Remarks) -> Result<Scene, Failure> {
    let Some(Placed { value, at }) = &stage.meters_per_unit else {
        suspicions::unit_unstated(remarks);
        return Scene::new(units::DEFAULT).ok_or_else(|| failure("no scene unit", "", None));
    };
    Scene::new(*value).ok_or_else(|| {
        failure(
            format!("metersPerUnit is {value}: no length of this stage has a size"),
            "write the scene unit in metres: 0.01 for centimetres, 1 for metres, 0.001 for millimetres",
            Some(at.clone()),
        )
    })
}

/// The lenses that this program keeps in a layer.
fn lenses(stage: &Stage) -> Result<Vec<Item>, Failure> {
    let at = Place {
        input: 0,
        offset: 0,
        length: 0,
        field: "customLayerData".to_owned(),
    };
    let own = kept::own(stage.custom.as_ref(), &at)?;
    let lenses = own.and_then(|own| own.get("lenses"));
    let entries = lenses.iter().flat_map(|lenses| lenses.entries());
    Ok(entries
        .map(|(_, lens)| {
            Item::Lens(Lens {
                facts: kept::facts(lens, &at),
                rings: Vec::new(),
                tables: Vec::new(),
            })
        })
        .collect())
}

impl Running {
    /// The next frames; none at the end.
    fn batch(
        &mut self,
        take: u32,
        remarks: &mut Remarks,
        stage: &Stage,
    ) -> Result<Option<Frames>, Failure> {
        let (first, mut count, mut text) = (self.count, 0, 0);
        let mut offsets = Vec::new();
        while count < BATCH && text < BATCH_TEXT && !self.done {
            let frame = self.next;
            let time = self.clock.time(frame);
            match self.columns.go(time)? {
                Presence::Absent(None) => {
                    self.done = true;
                    continue;
                }
                Presence::Absent(Some(key)) => {
                    self.to(self.clock.frame_from(key).max(frame.saturating_add(1)));
                    continue;
                }
                Presence::Present => {}
            }
            self.columns.push(time, remarks);
            if let Some(numbers) = &mut self.numbers {
                numbers.values.push(frame as f64);
            }
            offsets.extend(self.columns.offset());
            text += self.columns.text_bytes();
            count += 1;
            self.to(frame.saturating_add(1));
        }
        self.count += u64::from(count);
        if self.count > self.clock.most {
            return Err(too_many(stage, &self.clock));
        }
        if count == 0 {
            return Ok(None);
        }
        let (mut columns, labels) = self.columns.take();
        if let Some(numbers) = &mut self.numbers {
            columns.insert(0, numbers.take());
        }
        Ok(Some(Frames {
            take,
            first,
            count,
            columns,
            labels,
            inputs: Vec::new(),
            offsets,
        }))
    }

    fn to(&mut self, frame: i64) {
        self.done |= frame > self.clock.last || frame == i64::MAX;
        self.next = frame;
    }
}

fn too_many(stage: &Stage, clock: &Clock) -> Failure {
    let at = stage.end.as_ref().map(|end| end.at.clone());
    failure(
        format!(
            "the frames {} to {} are more than this file has samples for",
            clock.first, clock.last
        ),
        "check startTimeCode, endTimeCode, timeCodesPerSecond and framesPerSecond of the stage",
        at,
    )
}
