//! The f-number and the focal length that depth of field and field of view rest on.

use std::borrow::Cow;

use ringmark_model::{Batch, Channel, Lens, LensKind};
use ringmark_optics::Transmittance;
use ringmark_quantity::{Unit, print};

/// What is missing, and what to do.
pub(super) struct Missing {
    pub(super) why: String,
    pub(super) help: &'static str,
}

pub(super) fn missing(why: impl Into<String>, help: &'static str) -> Missing {
    Missing {
        why: why.into(),
        help,
    }
}

/// f-numbers, as recorded or from T-stops through the transmittance of the lens, and what they are from. A T-stop alone tells
/// how much light comes through, not how wide the pupil is.
pub(super) fn f_number<'b>(
    lens: Option<&Lens>,
    batch: &'b Batch,
) -> Result<(Cow<'b, [f64]>, String), Missing> {
    if let Some(numbers) = batch.numbers(Channel::FNumber) {
        return Ok((Cow::Borrowed(numbers), "f-number".to_owned()));
    }
    let Some(t_stops) = batch.numbers(Channel::TStop) else {
        return Err(missing(
            "no depth of field: neither f-number nor T-stop is recorded",
            "give the calibration of the lens with --lens, if ring positions are recorded",
        ));
    };
    let widest = lens.and_then(|lens| lens.widest_f.zip(lens.widest_t));
    let Some((f_number, t_stop)) = widest else {
        return Err(missing(
            "no depth of field: it follows from the f-number, and only the T-stop is recorded",
            "state widest f-number and widest T-stop of the lens: the transmittance follows from them",
        ));
    };
    let transmittance = Transmittance::of_stops(f_number, t_stop).map_err(|error| {
        missing(
            format!("no depth of field: the lens has {error}"),
            "correct the widest stops of the lens",
        )
    })?;
    let mut numbers = vec![f64::NAN; t_stops.len()];
    // One value a frame on both sides.
    let _ = transmittance.f_numbers(t_stops, &mut numbers);
    let from = format!(
        "T-stop (transmittance {}, from the widest stops of the lens)",
        print::value((transmittance.part() * 100.0).round(), Unit::Percent)
    );
    Ok((Cow::Owned(numbers), from))
}

/// The first of `channels` that is recorded, else the focal length of a prime, else the first of `rather_than_none`; and its
/// name.
pub(super) fn focal_length<'b>(
    lens: Option<&Lens>,
    batch: &'b Batch,
    channels: &[Channel],
    rather_than_none: &[Channel],
) -> Option<(Cow<'b, [f64]>, &'static str)> {
    let first = |channels: &[Channel]| {
        channels.iter().find_map(|&channel| {
            let values = batch.numbers(channel)?;
            Some((Cow::Borrowed(values), channel.name()))
        })
    };
    let of_prime = || {
        let lens = lens?;
        let (shortest, longest) = lens.focal_length?;
        let prime = lens.kind != Some(LensKind::Zoom) && shortest == longest;
        prime.then(|| {
            let values = vec![shortest.mm(); batch.count];
            (Cow::Owned(values), "the focal length of the lens")
        })
    };
    first(channels)
        .or_else(of_prime)
        .or_else(|| first(rather_than_none))
}
