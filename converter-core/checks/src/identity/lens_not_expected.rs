//! The lens of a take is one of those that were prepared.

use ringmark_model::{Channel, Lens, Severity, plain_name};

use crate::info::{CheckInfo, Family};
use crate::ranges::Span;
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::settings::LensPattern;
use crate::view::{BatchView, TakeView};
use crate::words::Fill;

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "lens-not-expected",
        title: "A take was shot with a lens that nobody prepared",
        severity: Severity::Warning,
        family: Family::Identity,
        since: "0.1.0",
        explanation: include_str!("lens_not_expected.md"),
        thresholds: &[],
    },
    lens: None,
    take: Some(|take| (!take.expected.lenses.is_empty()).then(|| Box::<NotExpected>::default() as Box<dyn Watch>)),
};

#[derive(Default)]
struct NotExpected {
    looked: bool,
}

impl Watch for NotExpected {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        if std::mem::replace(&mut self.looked, true) {
            return;
        }
        let Some(named) = Named::of(take, batch) else { return };
        if take.expected.lenses.iter().any(|pattern| named.is(pattern)) {
            return;
        }
        out.add(Severity::Warning, take.subject(), |finding| {
            let expected: Vec<String> = take.expected.lenses.iter().map(LensPattern::label).collect();
            let among = match expected.len() {
                1 => "not the one lens expected".to_owned(),
                count => format!("not among the {count} lenses expected"),
            };
            let message = format!("the take was shot with “{}”, which is {among}", named.label());
            let help = format!("look for a mistyped name, or add the lens to the profile; expected are {}", expected.join(", "));
            Span::at(batch.mark_at(0)).put(finding.says(message).help(help))
        });
    }
}

/// How a take names its lens.
enum Named {
    /// Maker, model and serial number apart.
    Parts(Box<Lens>),
    /// In one text.
    Text(String),
}

impl Named {
    fn of(take: &TakeView<'_>, batch: &BatchView<'_>) -> Option<Self> {
        let text = |channel| batch.batch.texts(channel).and_then(|texts| texts.get(0)).map(str::to_owned);
        let own = take.lens.filter(|lens| lens.model.is_some() || lens.serial.is_some());
        let parts = own.cloned().unwrap_or_else(|| Lens {
            maker: text(Channel::LensMaker),
            model: text(Channel::LensModel),
            serial: text(Channel::LensSerial),
            ..Lens::default()
        });
        if parts.model.is_some() || parts.serial.is_some() {
            return Some(Named::Parts(Box::new(parts)));
        }
        text(Channel::Lens).map(Named::Text)
    }

    /// Whether it may be the lens of a pattern. What is not recorded is not held against it.
    fn is(&self, pattern: &LensPattern) -> bool {
        let wanted = [(&pattern.maker, 0), (&pattern.model, 1), (&pattern.serial, 2)];
        let mut wanted = wanted.into_iter().filter_map(|(text, part)| Some((plain_name(text.as_ref()?), part)));
        match self {
            Named::Text(text) => wanted.all(|(wanted, _)| plain_name(text).contains(&wanted)),
            Named::Parts(lens) => {
                let parts = [&lens.maker, &lens.model, &lens.serial];
                wanted.all(|(wanted, part)| parts[part].as_ref().is_none_or(|found| plain_name(found) == wanted))
            }
        }
    }

    fn label(&self) -> String {
        match self {
            Named::Parts(lens) => lens.label(),
            Named::Text(text) => text.trim().to_owned(),
        }
    }
}
