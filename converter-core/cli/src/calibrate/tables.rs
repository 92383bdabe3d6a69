//! What the tables of a lens give for the focus distance and focal length of each frame.

use std::sync::Arc;

use anyhow::{Result, anyhow, bail};
use ringmark_model::{
    Batch, Channel, ColumnHead, ColumnKey, Finding, Lens, LensKind, LensTable, NumberColumn,
    Origin, Severity, Subject,
};
use ringmark_optics::{Surface, ZoomScale};
use ringmark_quantity::{DistanceReference, Unit};

/// Name of the remark on frames for which a table has no value.
const BEYOND: &str = "table-has-no-value";
/// Name of the remark on tables that could not be used.
const UNUSED: &str = "table-not-used";

/// What a table may say of a lens. A T-stop there is the widest one at that distance and focal length.
const QUANTITIES: [Channel; 9] = [
    Channel::PinholeFocalLength,
    Channel::EffectiveFocalLength,
    Channel::EntrancePupilOffset,
    Channel::DistortionK1,
    Channel::DistortionK2,
    Channel::DistortionK3,
    Channel::DistortionP1,
    Channel::DistortionP2,
    Channel::TStop,
];

/// The tables of a lens, ready to be asked.
#[derive(Clone)]
pub struct Tables {
    columns: Vec<TableColumn>,
    /// The focus scale of a zoom that does not hold focus.
    focus: Option<FocusTable>,
    /// Focal length in mm of a prime: what tables over focal length are asked with where a take records none.
    prime: Option<f64>,
}

#[derive(Clone)]
struct TableColumn {
    table: String,
    channel: Channel,
    reference: Option<DistanceReference>,
    head: Arc<ColumnHead>,
    surface: Arc<Surface>,
}

/// Marks of the focus ring at several focal lengths.
#[derive(Clone)]
struct FocusTable {
    table: String,
    head: Arc<ColumnHead>,
    scale: Arc<ZoomScale>,
}

/// What the tables gave to one take; one entry a column.
#[derive(Debug, Default)]
pub struct TableReadings {
    columns: Vec<Account>,
    focus: Account,
}

#[derive(Debug, Clone, Default)]
struct Account {
    asked: u64,
    without: u64,
    lacks: Option<String>,
}

impl Tables {
    /// The tables of a lens; fails when one has numbers that cannot be.
    pub fn of(lens: &Lens) -> Result<Tables> {
        let mut columns = Vec::new();
        let mut focus = None;
        for table in &lens.tables {
            if let Some(found) = focus_table(table)? {
                focus = Some(found);
                continue;
            }
            for channel in QUANTITIES {
                let Some(surface) = surface(table, channel)? else {
                    continue;
                };
                let head = ColumnHead {
                    key: ColumnKey::Channel(channel),
                    unit: channel.unit().unwrap_or(Unit::One).symbol().to_owned(),
                    reference: None,
                    origin: Origin::Interpolated,
                    source_unit: None,
                    form: None,
                };
                columns.push(TableColumn {
                    table: table.name.clone(),
                    channel,
                    reference: column(table, Channel::FocusDistance)
                        .and_then(|column| column.head.reference),
                    head: Arc::new(head),
                    surface: Arc::new(surface),
                });
            }
        }
        let prime = lens.focal_length.and_then(|(shortest, longest)| {
            let prime = lens.kind != Some(LensKind::Zoom) && shortest == longest;
            prime.then(|| shortest.mm())
        });
        Ok(Tables {
            columns,
            focus,
            prime,
        })
    }

    /// Whether focus distances come from a table and not from the marks of the ring alone.
    pub fn gives_focus(&self) -> bool {
        self.focus.is_some()
    }

    /// Adds focus distances from ring positions and focal lengths, where a table has them and none are recorded.
    pub fn focus(&self, positions: &[f64], batch: &mut Batch, take: &mut TableReadings) {
        let Some(focus) = &self.focus else { return };
        if batch.numbers(Channel::FocusDistance).is_some() {
            return;
        }
        let Some(focal_lengths) = batch.numbers(Channel::NominalFocalLength) else {
            let lacks = "the take has no nominal focal length".to_owned();
            take.focus.lacks.get_or_insert(lacks);
            return;
        };
        let frames = positions.iter().zip(focal_lengths);
        let values: Vec<f64> = frames
            .map(|(position, mm)| focus.scale.distance(*position, *mm))
            .collect();
        let known = |frame: usize| {
            let at = |column: &[f64]| column.get(frame).is_some_and(|value| !value.is_nan());
            at(positions) && at(focal_lengths)
        };
        take.focus.count(&values, known);
        let head = Arc::clone(&focus.head);
        batch.numbers.push(NumberColumn { head, values });
    }

    /// Adds the channels that the tables give and that are not recorded. T-stops that the iris ring gave are never wider
    /// than the table says that the lens is there.
    pub fn fill(&self, batch: &mut Batch, take: &mut TableReadings) {
        take.columns.resize(self.columns.len(), Account::default());
        for (each, account) in self.columns.iter().zip(&mut take.columns) {
            let limits_stop = each.channel == Channel::TStop;
            let present = batch.number_column(each.channel).map(|c| c.head.origin);
            let wanted = match present {
                None => !limits_stop,
                Some(origin) => limits_stop && origin == Origin::Interpolated,
            };
            if !wanted {
                continue;
            }
            let values = match each.read(batch, self.prime) {
                Ok(values) => values,
                Err(lacks) => {
                    account.lacks.get_or_insert(lacks);
                    continue;
                }
            };
            account.count(&values, each.asked(batch));
            if limits_stop {
                limit(batch, &values);
            } else {
                // Also where no frame of the batch has a value: a channel does not come and go within a take.
                let head = Arc::clone(&each.head);
                batch.numbers.push(NumberColumn { head, values });
            }
        }
    }

    /// What there is to say once a take is over.
    pub fn remarks(&self, index: usize, take: &TableReadings, lens: &str) -> Vec<Finding> {
        let mut remarks = Vec::new();
        let focus = self.focus.iter();
        let focus = focus.map(|each| (Channel::FocusDistance, &each.table, &take.focus));
        let columns = self.columns.iter().zip(&take.columns);
        let columns = columns.map(|(each, account)| (each.channel, &each.table, account));
        for (channel, table, account) in focus.chain(columns) {
            let name = channel.name();
            let mut say = |check, message: String, help: &str| {
                let finding = Finding::new(check, Severity::Warning, Subject::Take(index), message);
                remarks.push(finding.help(help));
            };
            if let Some(lacks) = &account.lacks {
                let message = format!("{name}: table '{table}' of {lens} is not used: {lacks}");
                say(
                    UNUSED,
                    message,
                    "record it, or give a calibration whose rings have marks for it",
                );
            }
            if account.without > 0 {
                let message = format!(
                    "{name}: table '{table}' of {lens} has no value for {} of {} frames: nothing is computed beyond its rows",
                    account.without, account.asked
                );
                say(
                    BEYOND,
                    message,
                    "add rows out to close focus, to infinity, and to both ends of the zoom",
                );
            }
        }
        remarks
    }
}

impl TableReadings {
    /// Whether any frame has a value from a table.
    pub fn gave_values(&self) -> bool {
        let mut accounts = self.columns.iter().chain([&self.focus]);
        accounts.any(|account| account.asked > account.without)
    }
}

impl Account {
    fn count(&mut self, values: &[f64], asked: impl Fn(usize) -> bool) {
        for (frame, value) in values.iter().enumerate() {
            self.asked += u64::from(asked(frame));
            self.without += u64::from(asked(frame) && value.is_nan());
        }
    }
}

/// The focus scale that a table with ring positions, focal lengths and distances is; `None` for other tables.
fn focus_table(table: &LensTable) -> Result<Option<FocusTable>> {
    let axis = |channel| column(table, channel).map(|column| column.values.as_slice());
    let (Some(positions), Some(focal_lengths), Some(distances)) = (
        axis(Channel::FocusRing),
        axis(Channel::NominalFocalLength),
        column(table, Channel::FocusDistance),
    ) else {
        return Ok(None);
    };
    let scale = ZoomScale::new(positions, focal_lengths, &distances.values)
        .map_err(|error| anyhow!("table '{}', focus-distance: {error}", table.name))?;
    let head = ColumnHead {
        origin: Origin::Interpolated,
        source_unit: None,
        ..ColumnHead::clone(&distances.head)
    };
    Ok(Some(FocusTable {
        table: table.name.clone(),
        head: Arc::new(head),
        scale: Arc::new(scale),
    }))
}

/// A channel over focus distance from the image plane and focal length, from the first table of the lens that has it.
pub fn surface_of(lens: &Lens, channel: Channel) -> Result<Option<Surface>> {
    let mut tables = lens.tables.iter();
    let Some(table) = tables.find(|table| column(table, channel).is_some()) else {
        return Ok(None);
    };
    let from = column(table, Channel::FocusDistance).map(|c| c.head.reference.unwrap_or_default());
    if let Some(from) = from.filter(|from| *from != DistanceReference::ImagePlane) {
        bail!(
            "table '{}': its focus distances are measured from: {}; expected: image plane",
            table.name,
            from.name().replace('-', " ")
        );
    }
    surface(table, channel)
}

/// A channel of a table over what the table goes by; `None` if it does not have the channel.
fn surface(table: &LensTable, channel: Channel) -> Result<Option<Surface>> {
    let axis = |channel| column(table, channel).map(|column| column.values.as_slice());
    let Some(values) = axis(channel) else {
        return Ok(None);
    };
    let (distances, focal_lengths) = (
        axis(Channel::FocusDistance),
        axis(Channel::NominalFocalLength),
    );
    Surface::new(distances, focal_lengths, values)
        .map(Some)
        .map_err(|error| anyhow!("table '{}', {}: {error}", table.name, channel.name()))
}

impl TableColumn {
    /// Whether a frame records what the table goes by.
    fn asked<'b>(&self, batch: &'b Batch) -> impl Fn(usize) -> bool + use<'b> {
        let distances = batch
            .numbers(Channel::FocusDistance)
            .filter(|_| self.surface.goes_by_distance());
        let focal_lengths = batch
            .numbers(Channel::NominalFocalLength)
            .filter(|_| self.surface.goes_by_focal_length());
        let known = |column: Option<&[f64]>, frame: usize| {
            column.is_none_or(|column| column.get(frame).is_some_and(|value| !value.is_nan()))
        };
        move |frame| known(distances, frame) && known(focal_lengths, frame)
    }

    /// One value a frame; `Err` says what is not recorded.
    fn read(&self, batch: &Batch, prime: Option<f64>) -> Result<Vec<f64>, String> {
        let distance = batch.number_column(Channel::FocusDistance);
        if self.surface.goes_by_distance() {
            let Some(column) = distance else {
                return Err("the take has no focus distance".to_owned());
            };
            let words = |reference: Option<DistanceReference>| {
                reference.unwrap_or_default().name().replace('-', " ")
            };
            let (own, there) = (column.head.reference, self.reference);
            if words(own) != words(there) {
                let (own, there) = (words(own), words(there));
                return Err(format!(
                    "its distances are measured from: {there}, those of the take from: {own}"
                ));
            }
        }
        let recorded = batch.numbers(Channel::NominalFocalLength);
        let constant = match (recorded, prime) {
            (None, Some(mm)) if self.surface.goes_by_focal_length() => vec![mm; batch.count],
            (None, None) if self.surface.goes_by_focal_length() => {
                return Err("the take has no nominal focal length".to_owned());
            }
            _ => Vec::new(),
        };
        let focal_lengths = recorded.or((!constant.is_empty()).then_some(&constant));
        let mut values = vec![f64::NAN; batch.count];
        let distances = distance.map(|column| column.values.as_slice());
        self.surface
            .evaluate(distances, focal_lengths, &mut values)
            .map_err(|error| error.to_string())?;
        Ok(values)
    }
}

/// Light passes the smaller of two openings: the iris, or the rim that limits the lens at that focal length.
fn limit(batch: &mut Batch, widest: &[f64]) {
    let key = ColumnKey::Channel(Channel::TStop);
    if let Some(column) = batch
        .numbers
        .iter_mut()
        .find(|column| column.head.key == key)
    {
        for (stop, widest) in column.values.iter_mut().zip(widest) {
            if *stop < *widest {
                *stop = *widest;
            }
        }
    }
}

fn column(table: &LensTable, channel: Channel) -> Option<&NumberColumn> {
    let key = ColumnKey::Channel(channel);
    table.columns.iter().find(|column| column.head.key == key)
}
