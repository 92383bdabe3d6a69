//! Facts of a take and its lens, and where they go.

use std::cell::Cell;
use std::collections::BTreeMap;

use ringmark_sdk::quantity::FrameRate;
use ringmark_sdk::{Datum, Fact, Take};

use super::plan::Row;
use crate::fields::{FIELDS, Role, place_of_fact};
use crate::private::{self, KeptFact, OtherLenses};

/// Facts that every file of a take gets.
#[derive(Debug, Default)]
pub struct TakeFacts {
    /// View of the parts that belong to the take.
    pub view: Option<String>,
    /// Serial number of the lens.
    pub serial: Option<String>,
    /// Frame rate.
    pub rate: Option<FrameRate>,
    /// Texts by their place in the table.
    pub texts: Vec<(usize, String)>,
    /// Rates by their place in the table.
    pub rates: Vec<(usize, FrameRate)>,
    /// Width and height of the sensor in mm; NaN if not recorded.
    pub sensor: [f64; 2],
    /// Width and height of the image in pixels, which files say themselves.
    pub resolution: [Option<f64>; 2],
    /// Clip, which the names of files say.
    pub clip: Option<String>,
    /// How labels are counted, which the first label says too.
    pub counting: Option<String>,
    /// Whether the first label says it; found out when it is written.
    pub counting_said: Cell<Option<bool>>,
    /// Facts of the take without an attribute.
    pub take: Kept,
    /// The same of the lens; `None` without a lens.
    pub lens: Option<Kept>,
    /// Whether the lens has no attribute of its own, so that only the private one shows it.
    pub bare_lens: bool,
    /// Lenses that the take does not use.
    pub others: Option<OtherLenses>,
    /// Types of attributes as another file had them.
    pub types: BTreeMap<String, String>,
}

/// Facts for a private attribute.
#[derive(Debug, Clone, Default)]
pub struct Kept {
    /// The facts.
    pub facts: Vec<KeptFact>,
    /// Names of facts that stand elsewhere, and must not stand there too.
    pub elsewhere: Vec<String>,
}

impl TakeFacts {
    /// Sorts the facts of `take`, whose lens has `lens`. `first` is its first frame.
    pub fn new(take: &Take, lens: Option<&[Fact]>, first: &Row) -> Self {
        let mut sorted = TakeFacts {
            sensor: [f64::NAN; 2],
            ..TakeFacts::default()
        };
        for fact in &take.facts {
            sorted.take_fact(fact);
        }
        if let Some(facts) = lens {
            let mut kept = Kept::default();
            for fact in facts {
                sorted.lens_fact(fact, first, &mut kept);
            }
            sorted.bare_lens = kept.elsewhere.is_empty();
            sorted.lens = Some(kept);
        }
        if sorted.serial.is_none() {
            sorted.serial = first.text("lens-serial").map(str::to_owned);
        }
        sorted
    }

    fn take_fact(&mut self, fact: &Fact) {
        let place = match (fact.name.as_str(), &fact.value) {
            (private::VIEW, Datum::Text(view)) => {
                self.view = Some(view.clone());
                return;
            }
            (private::TYPES, Datum::Text(types)) if fact.unit == "json" => {
                self.types = private::parse(types.as_bytes()).unwrap_or_default();
                return;
            }
            ("clip", Datum::Text(clip)) => {
                self.clip = Some(clip.clone());
                return;
            }
            ("sensor-width", Datum::Number(width)) if fact.unit == "mm" => {
                self.sensor[0] = *width;
                return;
            }
            ("sensor-height", Datum::Number(height)) if fact.unit == "mm" => {
                self.sensor[1] = *height;
                return;
            }
            ("resolution-width", Datum::Number(width)) => {
                self.resolution[0] = Some(*width);
                return;
            }
            ("resolution-height", Datum::Number(height)) => {
                self.resolution[1] = Some(*height);
                return;
            }
            ("counting", Datum::Text(counting)) => {
                self.counting = Some(counting.clone());
                return;
            }
            ("frame-rate", Datum::Text(text)) => {
                self.rate = FrameRate::parse(text).ok();
                place_of_fact("frame-rate")
            }
            (name, Datum::Text(_)) => place_of_fact(name),
            _ => None,
        };
        let role = place
            .and_then(|place| FIELDS.get(place))
            .map(|field| field.role);
        match (place, role, &fact.value) {
            (Some(place), Some(Role::Rate(_)), Datum::Text(text)) => {
                let rate = FrameRate::parse(text).ok();
                let rate = rate.filter(|rate| i32::try_from(rate.num()).is_ok());
                self.rates.extend(rate.map(|rate| (place, rate)));
                self.take.sort(fact, rate.is_some());
            }
            (Some(place), Some(Role::TakeFact(_)), Datum::Text(text)) if !text.is_empty() => {
                self.texts.push((place, text.clone()));
                self.take.sort(fact, true);
            }
            _ => self.take.sort(fact, false),
        }
    }

    fn lens_fact(&mut self, fact: &Fact, first: &Row, kept: &mut Kept) {
        let Datum::Text(text) = &fact.value else {
            return kept.sort(fact, false);
        };
        if fact.name == "lens-serial" {
            self.serial = Some(text.clone());
        }
        let place = place_of_fact(&fact.name).filter(|_| !text.is_empty());
        match (
            place,
            place
                .and_then(|place| FIELDS.get(place))
                .map(|field| field.role),
        ) {
            (Some(place), Some(Role::LensText(channel))) => {
                if !first.has_column(channel) {
                    self.texts.push((place, text.clone()));
                }
                // Where frames say it, the first of them says the fact.
                let said = first.text(channel);
                kept.sort(
                    fact,
                    said == Some(text.as_str()) || !first.has_column(channel),
                );
            }
            (Some(place), Some(Role::LensFact(_))) => {
                self.texts.push((place, text.clone()));
                kept.sort(fact, true);
            }
            _ => kept.sort(fact, false),
        }
    }
}

impl Kept {
    /// Adds a fact, or notes that it stands elsewhere.
    pub fn sort(&mut self, fact: &Fact, elsewhere: bool) {
        match elsewhere {
            true => self.elsewhere.push(fact.name.clone()),
            // What a file implies and what is kept in it may be the same fact twice.
            false if self.facts.contains(&fact.into()) => {}
            false => self.facts.push(fact.into()),
        }
    }
}
