//! What does not change from frame to frame: facts of a take and of its lens.

use ringmark_sdk::quantity::FrameRate;
use ringmark_sdk::{Datum, Fact, Failure, Place, fact};

use crate::clock::Rates;
use crate::fields::{self, FIELDS, Role, SHUTTER_CLOSE, SHUTTER_OPEN, WORDS};
use crate::kept;
use crate::remarks::{Notice, Remarks};
use crate::stage::{Attribute, Camera};
use crate::units::Scene;
use crate::value::{Meta, Scalar};

/// Attribute that keeps the squeeze of the lens beside the aperture it is part of.
pub const SQUEEZE: &str = "ringmark:squeeze";

/// Attribute that says which frames a take has, where the stage's range does not.
pub const RECORDED: &str = "ringmark:recorded";

/// What is known of a take besides its frames.
pub struct Head {
    /// Facts of the take.
    pub facts: Vec<Fact>,
    /// Index of its lens among those of the layer.
    pub lens: Option<u32>,
    /// The squeeze that the horizontal aperture contains.
    pub squeeze: Option<f64>,
    /// Whether this program wrote it.
    pub own: bool,
    /// Whether its frames have numbers.
    pub numbered: bool,
}

/// The facts of `camera`.
pub fn head(
    camera: &Camera,
    scene: Scene,
    rates: &Rates,
    remarks: &mut Remarks,
) -> Result<Head, Failure> {
    let own = kept::own(camera.custom.as_ref(), &camera.at)?;
    let squeeze = match camera.attribute(SQUEEZE).and_then(Attribute::constant) {
        Some(Scalar::Number(squeeze)) if *squeeze > 0.0 && squeeze.is_finite() => Some(*squeeze),
        _ => None,
    };
    let mut facts = Facts {
        facts: own
            .and_then(|own| own.get("take"))
            .map(|take| kept::facts(take, &camera.at))
            .unwrap_or_default(),
        remarks,
    };
    if own.is_none() {
        facts.add(fact("clip", camera.path.clone(), Some(camera.at.clone())));
        facts.custom_data(camera);
    }
    facts.frame_rate(rates, own.is_some());
    for field in FIELDS {
        facts.number(camera, field, scene, squeeze.unwrap_or(1.0));
    }
    for (name, _) in WORDS {
        facts.word(camera, name);
    }
    facts.shutter_open(camera, rates.step, own.is_some());
    facts.others(camera);
    let lens = own.and_then(|own| own.number("lens"));
    Ok(Head {
        facts: facts.facts,
        lens: lens
            .filter(|l| *l >= 0.0 && l.fract() == 0.0)
            .map(|l| l as u32),
        squeeze,
        own: own.is_some(),
        numbered: own.and_then(|own| own.text("frames")) != Some("counted"),
    })
}

/// Whether an attribute is a column of its own although it never changes.
pub fn is_column(attribute: &Attribute) -> bool {
    attribute.is_animated() || attribute.aside("channel").is_some()
}

struct Facts<'r> {
    facts: Vec<Fact>,
    remarks: &'r mut Remarks,
}

impl Facts<'_> {
    fn find(&mut self, name: &str) -> Option<&mut Fact> {
        self.facts.iter_mut().find(|f| f.name == name)
    }

    fn add(&mut self, fact: Fact) {
        self.facts.push(fact);
    }

    /// A fact of the standard's attributes. One that is kept too holds if it `agrees`: it is the
    /// more exact one. Else somebody has changed the attribute since.
    fn settle(&mut self, new: Fact, agrees: impl Fn(&Datum) -> bool) {
        let Some(old) = self.find(&new.name) else {
            return self.add(new);
        };
        if agrees(&old.value) {
            old.at = new.at;
            return;
        }
        let name = new.name.clone();
        let at = new.at.clone();
        *old = new;
        stale(self.remarks, &name, at);
    }

    fn frame_rate(&mut self, rates: &Rates, own: bool) {
        let Some(frames) = &rates.frames else { return };
        // The rate of a stage may be that of another take in it.
        if own && self.find("frame-rate").is_none() {
            return;
        }
        let agrees = |kept: &Datum| match kept {
            Datum::Text(text) => {
                FrameRate::parse(text).is_ok_and(|rate| rate.as_f64() == frames.value)
            }
            Datum::Number(_) => false,
        };
        // Only rates that the kept text does not explain need a text of their own.
        if let Some(old) = self.find("frame-rate").filter(|old| agrees(&old.value)) {
            old.at = Some(frames.at.clone());
        } else if let Some(text) = rates.text(self.remarks) {
            self.settle(fact("frame-rate", text, Some(frames.at.clone())), |_| false);
        }
    }

    fn number(&mut self, camera: &Camera, field: &fields::Field, scene: Scene, squeeze: f64) {
        let name = match field.role {
            Role::Channel => return,
            Role::Fact(name) => name,
            Role::Extra => field.channel,
        };
        let Some(attribute) = camera.attribute(field.attribute) else {
            return;
        };
        if is_column(attribute) {
            if let Role::Fact(_) = field.role {
                self.remarks.add(Notice {
                    severity: "warning",
                    check: "film-back-changes",
                    subject: &attribute.at.field,
                    message: format!(
                        "{} changes from frame to frame: {name} is left open, and the values are the extra {}",
                        attribute.at.field, field.attribute
                    ),
                    help: "the size of a sensor does not change: a crop or a zoom may be meant",
                    at: Some(attribute.at.clone()),
                });
            }
            return;
        }
        let Some(Scalar::Number(number)) = attribute.constant() else {
            return;
        };
        let squeeze = if name == "sensor-width" { squeeze } else { 1.0 };
        let stated = match field.role {
            Role::Fact(_) => field.measure.stated(scene),
            _ => field.stated(scene),
        };
        let asked = field.measure.asked(scene);
        let at = attribute.value.as_ref().map(|v| v.at.clone());
        self.settle(
            Fact {
                name: name.to_owned(),
                value: Datum::Number(stated.read(*number) / squeeze),
                unit: stated.unit.to_owned(),
                at,
            },
            |kept| match kept {
                Datum::Number(kept) => (asked.write(kept * squeeze) as f32) == *number as f32,
                Datum::Text(_) => false,
            },
        );
    }

    fn word(&mut self, camera: &Camera, name: &str) {
        let attribute = camera.attribute(name).filter(|a| !is_column(a));
        let Some((attribute, Scalar::Text(word))) =
            attribute.and_then(|a| a.constant().map(|v| (a, v)))
        else {
            return;
        };
        if word == "orthographic" {
            self.remarks.add(Notice {
                severity: "warning",
                check: "camera-orthographic",
                subject: &camera.path,
                message: format!(
                    "{} is orthographic: its focal length has no meaning",
                    camera.path
                ),
                help: "",
                at: Some(attribute.at.clone()),
            });
        }
        let at = Some(attribute.at.clone());
        self.settle(
            fact(format!("extra/{name}"), word.clone(), at),
            |kept| matches!(kept, Datum::Text(kept) if kept == word),
        );
    }

    /// Where the shutter opens, in frames: only if that does not follow from the angle, half
    /// of it before and half behind the frame.
    fn shutter_open(&mut self, camera: &Camera, step: f64, own: bool) {
        let Some(attribute) = camera.attribute(SHUTTER_OPEN).filter(|a| !is_column(a)) else {
            return;
        };
        let Some(Scalar::Number(open)) = attribute.constant() else {
            return;
        };
        let close = match camera.attribute(SHUTTER_CLOSE) {
            Some(close) if close.is_animated() => None,
            Some(close) => close.constant().cloned(),
            None => Some(Scalar::Number(0.0)),
        };
        let name = format!("extra/{SHUTTER_OPEN}");
        // What is no number of frames was not written to the attribute.
        let kept = self.find(&name).map(|kept| match kept.value {
            Datum::Number(number) => number.is_finite() && kept.unit.is_empty(),
            Datum::Text(_) => false,
        });
        let symmetric = close == Some(Scalar::Number(-open));
        if kept == Some(false) || kept.is_none() && (symmetric || own) {
            return;
        }
        self.settle(
            Fact {
                name,
                value: Datum::Number(open / step),
                unit: String::new(),
                at: Some(attribute.at.clone()),
            },
            |kept| matches!(kept, Datum::Number(kept) if kept * step == *open),
        );
    }

    /// Attributes outside the schema.
    fn others(&mut self, camera: &Camera) {
        for attribute in &camera.attributes {
            if is_column(attribute) || is_known(&attribute.name) {
                continue;
            }
            let value = match attribute.constant() {
                Some(Scalar::Number(number)) => Datum::Number(*number),
                Some(Scalar::Text(text)) => Datum::Text(text.clone()),
                _ => continue,
            };
            let new = Fact {
                name: format!("extra/{}", attribute.name),
                value: value.clone(),
                unit: String::new(),
                at: Some(attribute.at.clone()),
            };
            self.settle(new, |kept| *kept == value);
        }
    }

    /// Texts and numbers that other authors keep in `customData`.
    fn custom_data(&mut self, camera: &Camera) {
        for (key, value) in camera.custom.iter().flat_map(Meta::entries) {
            let value = match value {
                Meta::Number(number) => Datum::Number(*number),
                Meta::Text(text) => Datum::Text(text.clone()),
                _ => continue,
            };
            self.add(Fact {
                name: format!("extra/customData:{key}"),
                value,
                unit: String::new(),
                at: Some(camera.at.clone()),
            });
        }
    }
}

/// Whether the attribute has a meaning other than an extra of its own name.
pub fn is_known(name: &str) -> bool {
    fields::by_attribute(name).is_some()
        || WORDS.iter().any(|(word, _)| *word == name)
        || matches!(name, SHUTTER_OPEN | SHUTTER_CLOSE | SQUEEZE | RECORDED)
}

/// Says that an attribute was changed since this program wrote it.
pub fn stale(remarks: &mut Remarks, name: &str, at: Option<Place>) {
    remarks.add(Notice {
        severity: "warning",
        check: "kept-value-stale",
        subject: name,
        message: format!(
            "{name} was changed in the file, and the exact value that is kept beside it was not: the file's is read"
        ),
        help: "",
        at,
    });
}
