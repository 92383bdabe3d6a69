//! What reports say about the checks themselves.

use ringmark_model::{Finding, Severity};

/// A check, as reports for other programs describe it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RuleText {
    /// The defect in plain words, kebab case.
    pub id: &'static str,
    /// The defect in one line.
    pub title: &'static str,
    /// The highest severity its findings have.
    pub severity: Severity,
    /// Its group.
    pub family: &'static str,
    /// First version that has it.
    pub since: &'static str,
    /// The explanation page, Markdown.
    pub explanation: &'static str,
}

impl RuleText {
    /// The section 'What it means' of the page, its lines joined to paragraphs.
    pub(crate) fn meaning(&self) -> String {
        let section = self
            .explanation
            .split("\n## ")
            .find_map(|section| section.strip_prefix("What it means\n"));
        let paragraphs = section.unwrap_or(self.title).trim().split("\n\n");
        let joined: Vec<String> = paragraphs
            .map(|lines| lines.split_whitespace().collect::<Vec<_>>().join(" "))
            .collect();
        joined.join("\n")
    }
}

/// From which severity on a run fails; `None` for never.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FailsFrom(pub Option<Severity>);

impl FailsFrom {
    /// Whether a run with this finding fails.
    pub fn is_met_by(self, finding: &Finding) -> bool {
        self.0.is_some_and(|from| finding.severity >= from)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn meaning_is_the_section_of_that_name() {
        let rule = RuleText {
            explanation: "# x\n\nOne.\n\n## What it means\n\nTwo lines\nof text.\n\nAnd more.\n\n## Why it matters\n\nNo.\n",
            ..crate::samples::RULES[0]
        };
        assert_eq!(rule.meaning(), "Two lines of text.\nAnd more.");
    }
}
