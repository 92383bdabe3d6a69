//! What the attributes of a template's parts become, so that they read as a frame of a take.
//!
//! An attribute that reads as the wanted value already stays as it is, byte for byte; so does one of
//! which the take has nothing recorded.

use std::collections::BTreeMap;

use ringmark_sdk::quantity::{FrameRate, Timecode};
use ringmark_sdk::{Fact, fact};

use super::changes::{Change, Changes};
use super::extras::{Extras, put_private};
use super::facts::{Kept, TakeFacts};
use super::old::Old;
use super::plan::{Row, Target, Value};
use crate::attribute::word;
use crate::fields::FIELDS;
use crate::name;
use crate::private::{self, Described, KeptFact};
use crate::take::decode::frame_rate;
use crate::timecode::{Stamp, mode_name};

/// What a take wants of the parts that belong to it.
pub struct Frame<'a> {
    /// Facts of the take.
    pub facts: &'a TakeFacts,
    /// What the frame says.
    pub row: &'a Row,
    /// Name of the file.
    pub file: &'a str,
    /// View of the parts; empty without.
    pub view: &'a str,
}

/// Changes of the parts that belong to a take. The error says what cannot be written.
pub fn compose(old: &Old<'_>, frame: &Frame<'_>) -> Result<BTreeMap<String, Change>, String> {
    let mut changes = Changes::new(old);
    let Frame {
        facts,
        row,
        file,
        view,
    } = frame;
    let mut stamp = Wanted::default();
    let mut extras = Extras::new(&facts.types);
    set_rates(&mut changes, facts)?;
    for (place, text) in &facts.texts {
        changes.set_text(FIELDS[*place].name, text)?;
    }
    for (head, value) in row.iter() {
        match (head.target, value) {
            (Target::Field(place), Value::Number(number)) => {
                let single = *number as f32;
                if single.is_infinite() != number.is_infinite()
                    || (single == 0.0) != (*number == 0.0)
                {
                    // Beyond the range of the attribute.
                    put_private(&mut changes, head, value)?;
                    continue;
                }
                changes.set(FIELDS[place].name, "float", &single.to_le_bytes())?;
                changes.remove(&private::attribute(&head.channel).0);
                let said = Described {
                    reference: head.reference.clone(),
                    ..Described::default()
                };
                changes.describe(FIELDS[place].name, Some(said));
            }
            (Target::Field(place), Value::Text(text)) => {
                if text.is_empty() {
                    // The standard asks for at least one letter.
                    put_private(&mut changes, head, value)?;
                } else {
                    changes.set_text(FIELDS[place].name, text)?;
                    changes.remove(&private::attribute(&head.channel).0);
                }
            }
            (Target::Label, Value::Text(text)) => stamp.label = Some(text),
            (Target::UserBits, Value::Number(_)) => stamp.user = Some((head, value)),
            (Target::Flags, Value::Number(_)) => stamp.flags = Some((head, value)),
            (Target::Extra, Value::Number(number)) => extras.number(&mut changes, head, *number)?,
            (Target::Extra, Value::Text(text)) => extras.text(&mut changes, head, text)?,
            (Target::Private, _) => put_private(&mut changes, head, value)?,
            (Target::Frame | Target::SourceFile, _) => {}
            (Target::Label | Target::UserBits | Target::Flags, _) => {
                return Err(format!("{} came in the wrong kind", head.channel));
            }
        }
    }
    extras.finish(&mut changes)?;
    let said = stamp.put(&mut changes)?;
    set_file(&mut changes, row, file)?;
    set_facts(&mut changes, facts, (file, view), said)?;
    changes.finish()
}

/// Changes of parts that belong to no take of the document: what all parts of a file share.
pub fn compose_shared(
    old: &Old<'_>,
    frame: &Frame<'_>,
) -> Result<BTreeMap<String, Change>, String> {
    let mut changes = Changes::new(old);
    set_rates(&mut changes, frame.facts)?;
    let stamp = Wanted {
        label: frame.row.text("timecode"),
        ..Wanted::default()
    };
    if stamp.label.is_some_and(|label| fits(&changes, label)) {
        stamp.put(&mut changes)?;
    }
    changes.finish()
}

fn fits(changes: &Changes<'_>, label: &str) -> bool {
    let label = Timecode::parse(label).ok();
    label.is_some_and(|label| Stamp::NONE.with_label(label, rate_of(changes)).is_some())
}

fn set_rates(changes: &mut Changes<'_>, facts: &TakeFacts) -> Result<(), String> {
    for (place, rate) in &facts.rates {
        let name = FIELDS[*place].name;
        let old = changes.old.value(name, "rational");
        if old.and_then(frame_rate) == Some(*rate) {
            continue;
        }
        let value = u64::from(rate.num()) | (u64::from(rate.den()) << 32);
        changes.set(name, "rational", &value.to_le_bytes())?;
    }
    Ok(())
}

/// The rate of the file as it will be.
fn rate_of(changes: &Changes<'_>) -> Option<FrameRate> {
    changes
        .value("framesPerSecond", "rational")
        .and_then(frame_rate)
}

/// What the frame wants of the time code.
#[derive(Default)]
struct Wanted<'a> {
    label: Option<&'a str>,
    user: Option<(&'a super::plan::Head, &'a Value)>,
    flags: Option<(&'a super::plan::Head, &'a Value)>,
}

impl Wanted<'_> {
    /// Puts it in. Gives the name of the counting mode that the file then says.
    fn put(self, changes: &mut Changes<'_>) -> Result<Option<&'static str>, String> {
        let rate = rate_of(changes);
        let old = changes.old.value("timeCode", "timecode").map(Stamp::decode);
        let mut stamp = old;
        let (private_label, _) = private::attribute("timecode");
        let mut shadowed = changes.old.find(&private_label).is_some();
        if let Some(text) = self.label {
            // Only what is read back as the same text.
            let label = Timecode::parse(text).ok();
            let label = label.filter(|label| label.to_string() == text);
            let kept = old.filter(|old| label.is_some() && old.at(rate).0 == label);
            let new = kept.or_else(|| old.unwrap_or(Stamp::NONE).with_label(label?, rate));
            shadowed = new.is_none();
            match new {
                Some(_) => {
                    stamp = new;
                    changes.remove(&private_label);
                }
                None => changes.set_text(&private_label, text)?,
            }
        }
        let bits = |wanted: Option<(_, &Value)>| match wanted {
            Some((_, Value::Number(bits))) if bits.fract() == 0.0 => (0.0..=f64::from(u32::MAX))
                .contains(bits)
                .then_some(*bits as u32),
            _ => None,
        };
        for (wanted, flags, user) in [
            (self.user, None, bits(self.user)),
            (self.flags, bits(self.flags), None),
        ] {
            let Some((head, value)) = wanted else {
                continue;
            };
            let some = flags.is_some() || user.is_some();
            let new = stamp
                .filter(|_| some)
                .and_then(|stamp| stamp.with_bits(flags, user, rate));
            match new {
                Some(_) => {
                    stamp = new;
                    changes.remove(&private::attribute(&head.channel).0);
                }
                None => put_private(changes, head, value)?,
            }
        }
        if let Some(stamp) = stamp {
            changes.set("timeCode", "timecode", &stamp.encode())?;
        }
        Ok(stamp
            .filter(|_| !shadowed)
            .map(|stamp| mode_name(stamp.mode)))
    }
}

/// Frame number and file name, where the file's own are others.
fn set_file(changes: &mut Changes<'_>, row: &Row, file: &str) -> Result<(), String> {
    if let Some(frame) = row.number("frame") {
        let counter = || {
            let counter = changes.value("imageCounter", "int")?;
            Some(f64::from(word(counter, 0) as i32))
        };
        let own = name::frame_number(file).map(|number| number as f64);
        if own.or_else(counter) == Some(frame) {
            changes.remove(private::FRAME);
        } else {
            changes.set(private::FRAME, "double", &frame.to_le_bytes())?;
        }
    }
    match row.text("source-file") {
        Some(source) if source == file => changes.remove(private::SOURCE_FILE),
        Some(source) => changes.set_text(private::SOURCE_FILE, source)?,
        None => {}
    }
    Ok(())
}

/// Facts that are no plain texts; `said` is the counting mode that the file says.
fn set_facts(
    changes: &mut Changes<'_>,
    facts: &TakeFacts,
    (file, view): (&str, &str),
    said: Option<&str>,
) -> Result<(), String> {
    let mut take = facts.take.clone();
    let number = |name: &str, value: f64, unit: &str| Fact {
        name: name.to_owned(),
        value: ringmark_sdk::Datum::Number(value),
        unit: unit.to_owned(),
        at: None,
    };
    if let Some(clip) = &facts.clip {
        let own = name::clip_of_view(file, view);
        take.sort(&fact("clip", clip.as_str(), None), own == *clip);
    }
    if let Some(wanted) = &facts.view {
        take.sort(&fact(private::VIEW, wanted.as_str(), None), wanted == view);
    }
    if let Some(counting) = &facts.counting {
        // The first file of a take speaks for all.
        let elsewhere = facts.counting_said.get().unwrap_or(said == Some(counting));
        facts.counting_said.set(Some(elsewhere));
        take.sort(&fact("counting", counting.as_str(), None), elsewhere);
    }
    let window = changes
        .old
        .value("displayWindow", "box2i")
        .unwrap_or_default();
    let corner = |at| i64::from(word(window, at) as i32);
    let own = [corner(8) - corner(0) + 1, corner(12) - corner(4) + 1].map(|side| side as f64);
    let is_own = own.iter().all(|side| *side > 0.0);
    for ((name, wanted), own) in ["resolution-width", "resolution-height"]
        .iter()
        .zip(facts.resolution)
        .zip(own)
    {
        if let Some(wanted) = wanted {
            take.sort(&number(name, wanted, ""), is_own && wanted == own);
        }
    }
    let sensor = set_sensor(changes, facts.sensor)?;
    for ((name, wanted), stored) in ["sensor-width", "sensor-height"]
        .iter()
        .zip(facts.sensor)
        .zip(sensor)
    {
        if !wanted.is_nan() {
            take.sort(&number(name, wanted, "mm"), stored);
        }
    }
    set_kept(changes, private::TAKE_FACTS, &take, false)?;
    if let Some(lens) = &facts.lens {
        set_kept(changes, private::LENS_FACTS, lens, facts.bare_lens)?;
    }
    if let Some(others) = &facts.others {
        let old = changes.old.value(private::OTHER_LENSES, "string");
        if old.and_then(|old| private::parse(old).ok()).as_ref() != Some(others) {
            let text = private::text(others);
            changes.set(private::OTHER_LENSES, "string", &text)?;
        }
    }
    Ok(())
}

/// Width and height of the sensor; whether each is stored.
fn set_sensor(changes: &mut Changes<'_>, wanted: [f64; 2]) -> Result<[bool; 2], String> {
    const NAME: &str = "sensorOverallDimensions";
    let old = changes.old.value(NAME, "v2f");
    let side = |index: usize| {
        let single = wanted[index] as f32;
        match old {
            _ if !wanted[index].is_nan() => {
                let fits = single.is_finite() == wanted[index].is_finite();
                fits.then_some(single)
            }
            Some(old) => Some(f32::from_bits(word(old, 4 * index))),
            None => None,
        }
    };
    let (Some(width), Some(height)) = (side(0), side(1)) else {
        return Ok([false; 2]);
    };
    if wanted.iter().any(|side| !side.is_nan()) {
        let value = [width.to_le_bytes(), height.to_le_bytes()].concat();
        changes.set(NAME, "v2f", &value)?;
    }
    Ok([true; 2])
}

/// The facts of a private attribute: those of the template, and over them those of the take.
/// With `always` it is there without facts too.
fn set_kept(
    changes: &mut Changes<'_>,
    name: &str,
    kept: &Kept,
    always: bool,
) -> Result<(), String> {
    let old = changes.old.value(name, "string");
    let before = old.and_then(|old| private::parse::<Vec<KeptFact>>(old).ok());
    let mut facts = before.clone().unwrap_or_default();
    facts.retain(|old| {
        !kept.elsewhere.contains(&old.name) && kept.facts.iter().all(|new| new.name != old.name)
    });
    facts.extend(kept.facts.iter().cloned());
    let sorted = |facts: &[KeptFact]| {
        let mut texts: Vec<Vec<u8>> = facts.iter().map(private::text).collect();
        texts.sort();
        texts
    };
    let same = before.is_some_and(|before| sorted(&before) == sorted(&facts));
    match (facts.is_empty(), same) {
        (_, true) => Ok(()),
        (true, _) if !always => {
            changes.remove(name);
            Ok(())
        }
        _ => changes.set(name, "string", &private::text(&facts)),
    }
}
