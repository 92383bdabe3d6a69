//! The camera of a take is one of those that were prepared.

use ringmark_model::{Camera, Severity};

use crate::info::{CheckInfo, Family};
use crate::ranges::Span;
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::Fill;

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "camera-not-expected",
        title: "A take comes from a camera that nobody prepared",
        severity: Severity::Warning,
        family: Family::Identity,
        since: "0.1.0",
        explanation: include_str!("camera_not_expected.md"),
        thresholds: &[],
    },
    lens: None,
    take: Some(|take| {
        let camera = &take.take.camera;
        let known = camera.label.is_some() || camera.model.is_some() || camera.serial.is_some();
        let fits = take.expected.cameras.iter().any(|pattern| pattern.fits(camera));
        let said = known && !take.expected.cameras.is_empty() && !fits;
        said.then(|| Box::<NotExpected>::default() as Box<dyn Watch>)
    }),
};

#[derive(Default)]
struct NotExpected {
    said: bool,
}

impl Watch for NotExpected {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        if std::mem::replace(&mut self.said, true) {
            return;
        }
        out.add(Severity::Warning, take.subject(), |finding| {
            let expected = take.expected.cameras.len();
            let among = match expected {
                1 => "not the one expected".to_owned(),
                _ => format!("not among the {expected} expected"),
            };
            let message = format!("the take comes from camera {}, which is {among}", label(&take.take.camera));
            let finding = finding.says(message).help("look for a wrong camera label, for another unit's card, or add the camera to the profile");
            Span::at(batch.mark_at(0)).put(finding)
        });
    }
}

fn label(camera: &Camera) -> String {
    let serial = camera.serial.as_ref().map(|serial| format!("#{serial}"));
    let parts = [camera.label.clone(), camera.model.clone(), serial];
    parts.into_iter().flatten().collect::<Vec<_>>().join(" ")
}
