//! Facts of the take that items of the camera unit set state in every frame.

use ringmark_sdk::quantity::FrameRate;
use ringmark_sdk::{Datum, Fact};

use crate::fields::{FIELDS, RATE, SENSOR_FACTS};

/// Facts of the take.
pub struct TakeFacts {
    /// All of them.
    pub facts: Vec<Fact>,
    /// Which lens it has.
    pub lens: Option<u32>,
    /// The sensor's size in micrometres.
    sensor: [Option<f64>; 2],
    /// The capture rate.
    rate: Option<FrameRate>,
    /// Whether items state the capture rate although the take has no such channel.
    pub rate_hidden: bool,
    /// Whether items state the sensor's size although the take has no such facts.
    pub sensor_hidden: [bool; 2],
}

impl TakeFacts {
    /// Facts of a take.
    pub fn new(facts: Vec<Fact>, lens: Option<u32>) -> Self {
        let mut sensor = [None; 2];
        let mut rate = None;
        for fact in &facts {
            for (which, size) in sensor.iter_mut().enumerate() {
                *size = sensor_size(fact, which).or(*size);
            }
            if let Datum::Text(text) = &fact.value
                && fact.name == FIELDS[RATE].name
            {
                rate = FrameRate::parse(text).ok();
            }
        }
        TakeFacts {
            facts,
            lens,
            sensor,
            rate,
            rate_hidden: false,
            sensor_hidden: [false; 2],
        }
    }

    /// The value of the item that states the sensor's size.
    pub fn sensor_code(&self, which: usize) -> Option<[u8; 2]> {
        let code = self.sensor[which]?.round();
        (1.0..=65_535.0)
            .contains(&code)
            .then(|| (code as u16).to_be_bytes())
    }

    /// Whether an item with this value would be taken for the fact.
    pub fn is_sensor(&self, which: usize, value: &[u8]) -> bool {
        let code: Option<[u8; 2]> = value.try_into().ok();
        match (self.sensor[which], code) {
            (Some(size), Some(code)) => size.round() == f64::from(u16::from_be_bytes(code)),
            _ => false,
        }
    }

    /// Whether there is a size.
    pub fn has_sensor(&self, which: usize) -> bool {
        self.sensor[which].is_some()
    }

    /// The value of the item that states the capture rate.
    pub fn rate_code(&self) -> Option<[u8; 8]> {
        let rate = self.rate?;
        let code = u64::from(rate.num()) << 32 | u64::from(rate.den());
        Some(code.to_be_bytes())
    }
}

/// The size in micrometres, if the fact is that.
pub fn sensor_size(fact: &Fact, which: usize) -> Option<f64> {
    let (_, name, unit) = SENSOR_FACTS[which];
    match fact.value {
        Datum::Number(size) if fact.name == name && fact.unit == unit => Some(size),
        _ => None,
    }
}
