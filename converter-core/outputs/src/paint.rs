//! Colours of the text outputs. Everything reads the same without them.

use std::fmt::Display;

use anstyle::{AnsiColor, Effects, Style};
use ringmark_model::Severity;

/// Paints, or leaves texts as they are.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Paint {
    pub colour: bool,
}

impl Paint {
    fn with(self, style: Style, text: impl Display) -> String {
        if self.colour {
            format!("{style}{text}{style:#}")
        } else {
            text.to_string()
        }
    }

    pub fn bold(self, text: impl Display) -> String {
        self.with(Style::new().effects(Effects::BOLD), text)
    }

    pub fn code(self, text: impl Display) -> String {
        self.with(AnsiColor::Cyan.on_default(), text)
    }

    pub fn severity(self, severity: Severity, text: impl Display) -> String {
        let colour = match severity {
            Severity::Error => AnsiColor::BrightRed,
            Severity::Warning => AnsiColor::Yellow,
            Severity::Note => AnsiColor::BrightGreen,
        };
        self.with(colour.on_default().effects(Effects::BOLD), text)
    }
}
