//! All checks, and how one is looked up.

use crate::info::CheckInfo;
use crate::report::Report;
use crate::view::{BatchView, LensView, TakeView};

/// A check: what it says about itself and its rules.
pub struct Check {
    /// Identity, explanation, thresholds.
    pub info: CheckInfo,
    /// The rule for lenses.
    pub(crate) lens: Option<fn(&LensView<'_>, &mut Report<'_>)>,
    /// Makes the watch over one take; `None` if there is nothing to watch in it.
    pub(crate) take: Option<MakeWatch>,
}

/// Makes the watch over a take.
pub(crate) type MakeWatch = fn(&TakeView<'_>) -> Option<Box<dyn Watch>>;

/// A check at work on one take. Batches come in order; `end` comes once.
pub(crate) trait Watch: Send {
    /// Looks at consecutive frames.
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>);

    /// The take is over.
    fn end(&mut self, _take: &TakeView<'_>, _out: &mut Report<'_>) {}
}

/// Declares the checks of a family: one file each, holding `pub(crate) static CHECK`.
macro_rules! checks {
    ($($name:ident),* $(,)?) => {
        $(mod $name;)*
        pub(crate) static CHECKS: &[&crate::registry::Check] = &[$(&$name::CHECK),*];
    };
}
pub(crate) use checks;

/// Every check, family by family.
pub fn all() -> impl Iterator<Item = &'static Check> {
    [
        crate::marks::CHECKS,
        crate::units::CHECKS,
        crate::optics::CHECKS,
        crate::motion::CHECKS,
        crate::time::CHECKS,
        crate::agreement::CHECKS,
        crate::identity::CHECKS,
        crate::completeness::CHECKS,
        crate::show::CHECKS,
    ]
    .into_iter()
    .flatten()
    .copied()
}

/// The check called `id`.
pub fn find(id: &str) -> Option<&'static Check> {
    all().find(|check| check.info.id == id)
}

/// The name that looks most like `id`, if any is near.
pub fn nearest(id: &str) -> Option<&'static str> {
    nearest_of(id, all().map(|check| check.info.id))
}

/// The one of `names` that looks most like `name`, if any is near.
pub(crate) fn nearest_of(
    name: &str,
    names: impl Iterator<Item = &'static str>,
) -> Option<&'static str> {
    names
        .map(|other| (strsim::jaro_winkler(name, other), other))
        .filter(|(likeness, _)| *likeness > 0.8)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, other)| other)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;

    #[test]
    fn names_are_unique_plain_and_found() {
        let ids: Vec<&str> = all().map(|check| check.info.id).collect();
        for (n, id) in ids.iter().enumerate() {
            assert!(!ids[..n].contains(id), "{id} twice");
            assert!(
                id.bytes().all(|b| b.is_ascii_lowercase() || b == b'-'),
                "{id}"
            );
            assert_eq!(find(id).unwrap().info.id, *id);
        }
        assert!(ids.len() >= 30);
    }

    #[test]
    fn near_names_are_offered() {
        assert_eq!(nearest("timecode-gaps"), Some("timecode-gap"));
        assert_eq!(nearest("ring-jmp"), Some("ring-jump"));
        assert_eq!(nearest("xyzzy"), None);
    }

    #[test]
    fn every_check_says_what_it_should() {
        for check in all() {
            let info = &check.info;
            let alone = check.lens.is_some() || check.take.is_some();
            // Takes of a show are compared by `Show`.
            assert!(
                alone != (info.family == crate::info::Family::Show),
                "{}",
                info.id
            );
            assert!(
                info.explanation.starts_with(&format!("# {}\n", info.id)),
                "{}",
                info.id
            );
            for heading in [
                "## What it means",
                "## Why it matters",
                "## Where it comes from",
                "## Thresholds",
                "## Example",
                "## If it is right",
            ] {
                assert!(info.explanation.contains(heading), "{}: {heading}", info.id);
            }
            for threshold in info.thresholds {
                assert!(
                    threshold.default.is_finite()
                        && !threshold.why.is_empty()
                        && threshold.check == info.id,
                    "{}",
                    info.id
                );
                assert!(
                    info.explanation.contains(&format!("`{}`", threshold.name)),
                    "{}: {}",
                    info.id,
                    threshold.name
                );
            }
        }
    }
}
