//! Texts that name a lens or a camera, wherever they stand.

use ringmark_model::{Channel, Lens, Place};

use crate::view::{BatchView, TakeView};

/// A text, and what it is.
#[derive(Debug, Clone)]
pub(super) struct Name {
    /// As `lens serial number`.
    pub what: &'static str,
    /// Name of the fact or channel that holds it.
    pub fact: &'static str,
    pub text: String,
    pub place: Option<Place>,
}

/// Those of a lens.
pub(super) fn of_lens(lens: &Lens) -> Vec<Name> {
    let all = [
        ("lens maker", "lens-maker", &lens.maker),
        ("lens model", "lens-model", &lens.model),
        ("lens serial number", "lens-serial", &lens.serial),
    ];
    all.into_iter()
        .filter_map(|(what, fact, text)| {
            Some(Name {
                what,
                fact,
                text: text.clone()?,
                place: lens.place_of(fact),
            })
        })
        .collect()
}

/// Those of a take: its head, and its first frames.
pub(super) fn of_take(take: &TakeView<'_>, batch: &BatchView<'_>) -> Vec<Name> {
    let camera = &take.take.camera;
    let facts = [
        ("clip name", "clip", &take.take.clip),
        ("reel name", "reel", &take.take.reel),
        ("camera maker", "camera-maker", &camera.maker),
        ("camera model", "camera-model", &camera.model),
        ("camera serial number", "camera-serial", &camera.serial),
        ("camera label", "camera-label", &camera.label),
    ];
    let head = facts.into_iter().filter_map(|(what, fact, text)| {
        Some(Name {
            what,
            fact,
            text: text.clone()?,
            place: take.take.place_of(fact),
        })
    });
    let channels = [
        ("lens name", Channel::Lens),
        ("lens maker", Channel::LensMaker),
        ("lens model", Channel::LensModel),
        ("lens serial number", Channel::LensSerial),
    ];
    let frames = channels.into_iter().filter_map(|(what, channel)| {
        let text = batch.batch.texts(channel)?.iter().flatten().next()?;
        Some(Name {
            what,
            fact: channel.name(),
            text: text.to_owned(),
            place: batch.mark_at(0).place,
        })
    });
    head.chain(frames).collect()
}
