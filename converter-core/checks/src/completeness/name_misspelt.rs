//! A value whose name is nearly that of a channel or fact, and that is therefore read as neither.

use ringmark_model::facts::FACTS;
use ringmark_model::{Channel, Severity, plain_name};

use crate::by_frame::{AtStart, put_at};
use crate::info::{CheckInfo, Family};
use crate::registry::Check;
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::Fill;

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "name-misspelt",
        title: "A name is nearly that of a channel that is not there",
        severity: Severity::Warning,
        family: Family::Completeness,
        since: "0.1.0",
        explanation: include_str!("name_misspelt.md"),
        thresholds: &[],
    },
    lens: None,
    take: Some(|_| Some(AtStart::watch(report))),
};

/// What lines and columns are also called, and are read.
const OTHER_NAMES: [&str; 3] = ["measured-from", "focal-length", "rangefinder-offset"];

/// The known name that is meant, if one is as near as a slip of the hand.
fn meant(name: &str) -> Option<&'static str> {
    let plain = plain_name(name);
    // `lens squeeze` is the squeeze of the lens.
    let spellings = [Some(plain.as_str()), plain.strip_prefix("lens")];
    if OTHER_NAMES.iter().any(|known| plain_name(known) == plain) {
        return None;
    }
    let near = |known: &'static str| {
        let known_plain = plain_name(known);
        let slips = match known_plain.len() {
            0..5 => return None,
            5..8 => 1,
            _ => 2,
        };
        let distances = spellings.into_iter().flatten();
        let distance = distances.map(|spelling| strsim::damerau_levenshtein(spelling, &known_plain)).min()?;
        (distance <= slips).then_some((distance, known))
    };
    let channels = Channel::ALL.iter().map(|channel| channel.name());
    let facts = FACTS.iter().map(|fact| fact.name);
    channels.chain(facts).chain(OTHER_NAMES).filter_map(near).min().map(|(_, known)| known)
}

/// Whether a take says it already, so that a name beside it is one of its own.
fn is_there(known: &str, take: &TakeView<'_>, batch: &BatchView<'_>) -> bool {
    let of_lens = || take.lens.is_some_and(|lens| lens.place_of(known).is_some());
    let recorded = |channel: Channel| batch.numbers(channel).is_some() || batch.batch.texts(channel).is_some();
    let channel = Channel::ALL.iter().find(|channel| channel.name() == known);
    channel.is_some_and(|channel| recorded(*channel)) || take.take.place_of(known).is_some() || of_lens()
}

fn report(take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
    let numbers = batch.batch.numbers.iter().map(|column| &column.head);
    let texts = batch.batch.texts.iter().map(|column| &column.head);
    let columns = numbers.chain(texts).filter(|head| head.key.channel().is_none());
    let columns = columns.map(|head| ("column", head.key.name()));
    let of_lens = take.lens.into_iter().flat_map(|lens| &lens.extras);
    let facts = take.take.extras.iter().chain(of_lens).map(|extra| ("line", extra.name.clone()));
    for (what, name) in columns.chain(facts) {
        let name = name.strip_prefix(ringmark_model::raw::EXTRA).unwrap_or(&name);
        let Some(known) = meant(name).filter(|known| !is_there(known, take, batch)) else { continue };
        out.add(Severity::Warning, take.subject(), |finding| {
            let message = format!("the {what} “{}” is kept as it is and not used; {known}, which is nearly its name, is not there", name.trim());
            let finding = finding.says(message).help("correct the name if it is misspelt, or say in a mapping what the column is");
            put_at(name, take, batch, finding)
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_is_near_and_another_word_is_not() {
        for (name, known) in [
            ("focus distence", Some("focus-distance")),
            ("Focal Lenght", Some("focal-length")),
            ("sensor widht", Some("sensor-width")),
            ("mesured from", Some("measured-from")),
            ("lens squeeze", Some("squeeze")),
            ("tstop", Some("t-stop")),
            ("rangefinder offset", None),
            ("temperature", None),
            ("slate note", None),
            ("pan", None),
            ("lens", None),
            ("scene", None),
            ("tilt", None),
            ("camera height", None),
            ("focus puller", None),
        ] {
            assert_eq!(meant(name), known, "{name}");
        }
    }
}
