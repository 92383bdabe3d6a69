//! Parameters of our own, for what the standard has no parameter for. The schema restricts no
//! names; other programs see parameters that they do not know.
//!
//! | parameter | holds |
//! |---|---|
//! | `ringmark:NAME` | a channel of numbers, or an extra `extra/NAME`; its unit in `unit` as a symbol |
//! | `ringmark:NAME@REFERENCE` | the same, a distance measured from there |
//! | `ringmark:NAME;FORM` | a channel of texts: `text`, `json` or `hex` |
//! | `ringmark.take:NAME` `;text` | a fact of the take, in the first segment |
//! | `ringmark.lens.N:NAME` `;text` | a fact of lens N, in the first segment |
//! | `ringmark.lenses`, `ringmark.lens` | how many lenses there are, and which one the take uses |
//! | `ringmark.implied` | what the segment seems to state, and the source did not |
//! | `ringmark.focus-reference` | what the focus distance is measured from, where the standard has no word for it |
//!
//! Names and texts are escaped, see [`crate::escape`].

use crate::escape::{from_item, name};

/// Names of ours begin with this.
pub const PREFIX: &str = "ringmark";

/// How many lenses there are.
pub const LENSES: &str = "ringmark.lenses";

/// Which lens the take uses.
pub const LENS: &str = "ringmark.lens";

/// What a segment seems to state and the source did not: parameters, `timecode`, `frame-rate`, `counting`.
pub const IMPLIED: &str = "ringmark.implied";

/// What the focus distance is measured from.
pub const REFERENCE: &str = "ringmark.focus-reference";

const FACT: &str = "ringmark.take:";
const LENS_FACT: &str = "ringmark.lens.";
const CHANNEL: &str = "ringmark:";

/// Largest number of lenses.
pub const MAX_LENSES: u32 = 10_000;

/// What the values of a channel are.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Kind {
    /// Numbers; distances name what they are measured from.
    Number(String),
    /// Texts of this form.
    Label(&'static str),
}

impl Kind {
    /// The form of labels as the contract calls it; `None` if it has no such form.
    pub fn of_labels(form: &str) -> Option<Kind> {
        ["text", "json", "hex"]
            .into_iter()
            .find(|known| *known == form)
            .map(Kind::Label)
    }
}

/// Whose fact it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Owner {
    /// The take's.
    Take,
    /// A lens's.
    Lens(u32),
}

/// A parameter of ours.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Private {
    /// A channel.
    Channel(String, Kind),
    /// A fact; `true` for texts.
    Fact(Owner, String, bool),
    /// [`LENSES`].
    Lenses,
    /// [`LENS`].
    Lens,
    /// [`IMPLIED`].
    Implied,
    /// [`REFERENCE`].
    Reference,
}

impl Private {
    /// The parameter called so, if it is one of ours.
    pub fn from_name(parameter: &str) -> Option<Private> {
        match parameter {
            LENSES => return Some(Private::Lenses),
            LENS => return Some(Private::Lens),
            IMPLIED => return Some(Private::Implied),
            REFERENCE => return Some(Private::Reference),
            _ => {}
        }
        if let Some(channel) = parameter.strip_prefix(CHANNEL) {
            if let Some((channel, form)) = channel.split_once(';') {
                return Some(Private::Channel(from_item(channel), Kind::of_labels(form)?));
            }
            let (channel, reference) = channel.split_once('@').unwrap_or((channel, ""));
            let kind = Kind::Number(from_item(reference));
            return Some(Private::Channel(from_item(channel), kind));
        }
        let (owner, fact) = match parameter.strip_prefix(FACT) {
            Some(fact) => (Owner::Take, fact),
            None => {
                let (lens, fact) = parameter.strip_prefix(LENS_FACT)?.split_once(':')?;
                let lens = lens.parse().ok().filter(|lens| *lens < MAX_LENSES)?;
                (Owner::Lens(lens), fact)
            }
        };
        Some(match fact.split_once(';') {
            Some((fact, _)) => Private::Fact(owner, from_item(fact), true),
            None => Private::Fact(owner, from_item(fact), false),
        })
    }

    /// Its name.
    pub fn to_name(&self) -> String {
        let stops = &[';', '@'];
        match self {
            Private::Channel(channel, Kind::Label(form)) => {
                format!("{CHANNEL}{};{form}", name(channel, stops))
            }
            Private::Channel(channel, Kind::Number(reference)) if reference.is_empty() => {
                format!("{CHANNEL}{}", name(channel, stops))
            }
            Private::Channel(channel, Kind::Number(reference)) => {
                format!(
                    "{CHANNEL}{}@{}",
                    name(channel, stops),
                    name(reference, stops)
                )
            }
            Private::Fact(owner, fact, text) => {
                let start = match owner {
                    Owner::Take => FACT.to_owned(),
                    Owner::Lens(lens) => format!("{LENS_FACT}{lens}:"),
                };
                let form = if *text { ";text" } else { "" };
                format!("{start}{}{form}", name(fact, stops))
            }
            Private::Lenses => LENSES.to_owned(),
            Private::Lens => LENS.to_owned(),
            Private::Implied => IMPLIED.to_owned(),
            Private::Reference => REFERENCE.to_owned(),
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn what_names_look_like() {
        let number =
            |name: &str, from: &str| Private::Channel(name.into(), Kind::Number(from.into()));
        for (name, private) in [
            ("ringmark:focus-ring-raw", number("focus-ring-raw", "")),
            (
                "ringmark:near-limit@image-plane",
                number("near-limit", "image-plane"),
            ),
            (
                "ringmark:extra/a\\{3b}b c;json",
                Private::Channel("extra/a;b c".into(), Kind::Label("json")),
            ),
            (
                "ringmark.take:clip;text",
                Private::Fact(Owner::Take, "clip".into(), true),
            ),
            (
                "ringmark.lens.2:squeeze",
                Private::Fact(Owner::Lens(2), "squeeze".into(), false),
            ),
            ("ringmark.implied", Private::Implied),
        ] {
            assert_eq!(private.to_name(), name);
            assert_eq!(Private::from_name(name), Some(private));
        }
        for name in [
            "IrisTNumber",
            "ringmark",
            "ringmark.lens.x:a",
            "ringmark.lens.4294967295:a",
            "ringmark:a;utf8",
            "ringmark.other",
        ] {
            assert_eq!(Private::from_name(name), None, "{name}");
        }
    }

    proptest! {
        #[test]
        fn every_name_reads_back(channel in any::<String>(), reference in any::<String>(), text in any::<bool>()) {
            for private in [
                Private::Channel(channel.clone(), Kind::Number(reference)),
                Private::Channel(channel.clone(), Kind::Label("hex")),
                Private::Fact(Owner::Take, channel.clone(), text),
                Private::Fact(Owner::Lens(7), channel, text),
            ] {
                prop_assert_eq!(Private::from_name(&private.to_name()), Some(private));
            }
        }
    }
}
