//! Values that are made of several leaves: time code labels, quotients, distortion.

use super::{NONE, Take};
use crate::aside::ColumnForm;
use crate::fields::{self, FactForm};
use crate::rational::Rational;
use crate::remarks::Severity;
use crate::sample::{Sample, Value};
use crate::statics::Offer;
use crate::timecode::Label;

impl Take {
    pub(super) fn end_timecode(&mut self, sample: &Sample) {
        let parts = std::mem::take(&mut self.timecode);
        if let [Some(h), Some(m), Some(s), Some(f), drop] = parts {
            if let Some((_, drop)) = drop {
                let text = if drop == 1 { "drop-frame" } else { "non-drop" };
                // A change shows in the labels.
                self.statics
                    .offer_text(self.counting, text, false, self.offset);
            }
            self.label.clear();
            Label {
                parts: [h.1, m.1, s.1, f.1],
                drop: drop.is_some_and(|d| d.1 == 1),
            }
            .write(&mut self.label);
            if self.timecode_column == NONE {
                self.timecode_column = self.columns.named("timecode", ColumnForm::Text);
            }
            self.columns
                .set_text(self.timecode_column, self.frame, &self.label);
            return;
        }
        for (part, found) in parts.iter().enumerate() {
            let Some((node, number)) = *found else {
                continue;
            };
            let at = self.place();
            self.remarks.add(
                Severity::Error,
                "timecode-incomplete",
                0,
                || "timing.timecode lacks hours, minutes, seconds or frames".to_owned(),
                "the numbers were kept as extras and give no label",
                at,
            );
            let value = match (part, number) {
                (4, 1) => Value::Json("true"),
                (4, _) => Value::Json("false"),
                _ => Value::Number(number.into()),
            };
            self.extra(sample, node, value);
        }
    }

    pub(super) fn end_ratio(&mut self, sample: &Sample, index: usize) {
        let ratio = &mut self.ratios[index];
        let parts = std::mem::take(&mut ratio.parts);
        let (path, slot, form) = (ratio.path, ratio.slot, ratio.form);
        let whole = match parts {
            [None, None] => return,
            [Some((_, num)), Some((_, denom))] => Rational::new(num, denom),
            _ => None,
        };
        let offer = match whole {
            Some(rational) if form == FactForm::Rate => {
                self.statics
                    .offer_text(slot, &rational.rate_text(), false, self.offset)
            }
            Some(rational) => self
                .statics
                .offer_number(slot, rational.value(), self.offset),
            None => {
                let at = self.place();
                let number =
                    |part: usize| parts[part].map_or("nothing".to_owned(), |p| p.1.to_string());
                self.remarks.add(
                    Severity::Error,
                    "rational-impossible",
                    index as u32,
                    || format!("{path} is num {}, denom {}", number(0), number(1)),
                    "both must be whole numbers from 1; the value was kept as an extra and not used",
                    at,
                );
                Offer::Absent
            }
        };
        for (node, number) in parts.into_iter().flatten() {
            // Two rates of one sample may well differ: no reason for a remark.
            let offer = match offer {
                Offer::Differs if path == "timing.sampleRate" => Offer::Absent,
                other => other,
            };
            self.settle(offer, sample, node, Value::Number(number));
        }
    }

    pub(super) fn end_distortion(&mut self) {
        let radial = std::mem::take(&mut self.first_radial_seen);
        let model = std::mem::take(&mut self.model_seen);
        if !radial || model {
            return;
        }
        let text = fields::DEFAULT_DISTORTION;
        let offer = self
            .statics
            .offer_text(self.distortion_model, text, false, self.offset);
        if offer != Offer::Kept {
            let at = self.place();
            self.remarks.add(
                Severity::Warning,
                "fact-changes",
                u32::MAX,
                || format!("lens.distortion.0.model is missing here, which means {text}"),
                "the take's distortion model is another: the coefficients of these frames belong to a different one",
                at,
            );
            let name = "extra/lens.distortion.0.model";
            self.put(name, Value::Text(text));
        }
    }
}
