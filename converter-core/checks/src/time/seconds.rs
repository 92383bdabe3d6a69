//! Seconds that end early: labels that count fewer frames a second than the rate has.

use ringmark_quantity::Timecode;

use super::sequence::{Change, Event};

/// Tells gaps at the end of every second, which are a matter of the rate, from single ones.
#[derive(Debug, Default)]
pub(crate) struct EarlySeconds {
    /// A gap at the end of a second, waiting for a second one like it.
    held: Option<(u32, Event)>,
    /// Last frame of each second, once two ended alike.
    last_frame: Option<u32>,
}

impl EarlySeconds {
    /// Takes an event; hands back one that is to be reported by itself.
    pub fn sift(&mut self, event: Event, labels_a_second: Option<u32>) -> Option<Event> {
        let Some(last) = labels_a_second.and_then(|labels| ends_early(&event, labels)) else {
            return Some(event);
        };
        if self.last_frame == Some(last) {
            return None;
        }
        match self.held.take() {
            Some((held, _)) if held == last => {
                self.last_frame = Some(last);
                None
            }
            held => {
                self.held = Some((last, event));
                held.map(|(_, event)| event)
            }
        }
    }

    /// What is still held back at the end of the take.
    pub fn rest(&mut self) -> Option<Event> {
        self.held.take().map(|(_, event)| event)
    }

    /// Labels counted a second, if seconds end early.
    pub fn labels_a_second(&self) -> Option<u32> {
        self.last_frame.map(|last| last + 1)
    }
}

/// The last frame of the second, if the label jumps from there to the first label of the next second.
fn ends_early(event: &Event, labels: u32) -> Option<u32> {
    let before = Timecode::parse(event.before_label.as_deref()?).ok()?;
    let jump = event.change == Change::Gap && event.times == 1;
    (jump && i64::from(before.frames) + 1 + event.missing == i64::from(labels))
        .then_some(before.frames)
}
