//! The calibration given is for the lens of the take.

use ringmark_model::{Channel, Lens, NO_LABEL, Severity, plain_name};

use super::lens_changes_in_take::CHANNELS;
use crate::info::{CheckInfo, Family};
use crate::ranges::Span;
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::Fill;

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "lens-differs-from-take",
        title: "The calibration is for another lens than the take was shot with",
        severity: Severity::Warning,
        family: Family::Identity,
        since: "0.1.0",
        explanation: include_str!("lens_differs_from_take.md"),
        thresholds: &[],
    },
    lens: None,
    take: Some(|take| take.calibration.map(|_| Box::<Differs>::default() as Box<dyn Watch>)),
};

#[derive(Default)]
struct Differs {
    said: bool,
}

impl Watch for Differs {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        let Some(calibration) = take.calibration.filter(|_| !self.said) else { return };
        let stated = take.lens.filter(|lens| lens.contradicts(calibration));
        if let Some(lens) = stated {
            self.say(&lens.label(), 0, calibration, take, batch, out);
            return;
        }
        for channel in CHANNELS {
            let Some(texts) = batch.batch.texts(channel) else { continue };
            let mut before = NO_LABEL;
            for (at, &index) in texts.index.iter().enumerate() {
                if index == before {
                    continue;
                }
                before = index;
                let Some(text) = texts.entry(index) else { continue };
                if is_other(channel, text, calibration) {
                    self.say(text, at, calibration, take, batch, out);
                    return;
                }
            }
        }
    }
}

impl Differs {
    fn say(&mut self, name: &str, at: usize, calibration: &Lens, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        self.said = true;
        out.add(Severity::Warning, take.subject(), |finding| {
            let message = format!("the take names the lens “{}”, the calibration is for “{}”", name.trim(), calibration.label());
            let help = "give the calibration of this very lens: two of one model differ by more than a mark is exact to";
            Span::at(batch.mark_at(at)).put(finding.says(message).help(help))
        });
    }
}

/// Whether a recorded name speaks of another lens than the calibration.
fn is_other(channel: Channel, text: &str, calibration: &Lens) -> bool {
    let other = |known: &Option<String>| known.as_ref().is_some_and(|known| plain_name(known) != plain_name(text));
    match channel {
        Channel::LensMaker => other(&calibration.maker),
        Channel::LensModel => other(&calibration.model),
        Channel::LensSerial => other(&calibration.serial),
        // A free text: the serial number behind '#', if there is one, else the model somewhere in it.
        _ => match (text.rsplit_once('#'), &calibration.serial, &calibration.model) {
            (Some((_, serial)), Some(known), _) => plain_name(serial) != plain_name(known),
            (_, Some(known), _) if plain_name(text).contains(&plain_name(known)) => false,
            (_, _, Some(model)) => !plain_name(text).contains(&plain_name(model)),
            _ => false,
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_compared_without_their_punctuation() {
        let lens = Lens { model: Some("Norn 50".into()), serial: Some("N-0042".into()), ..Lens::default() };
        for (channel, text, expected) in [
            (Channel::LensSerial, "n0042", false),
            (Channel::LensSerial, "N-0043", true),
            (Channel::LensModel, "NORN 50", false),
            (Channel::Lens, "Norn 50 #N-0042", false),
            (Channel::Lens, "Norn 50 #N-0043", true),
            (Channel::Lens, "Norn 50", false),
            (Channel::Lens, "Norn 85", true),
            (Channel::LensMaker, "whoever", false),
        ] {
            assert_eq!(is_other(channel, text, &lens), expected, "{text}");
        }
    }
}
