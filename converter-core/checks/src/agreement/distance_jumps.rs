//! Jumps of the recorded focus distance that the ring does not make: what a take says about itself, without a calibration.

use crate::motion::jumps::{Excursion, Excursions, Jump, Rule};
use crate::view::{BatchView, Tail};
use ringmark_model::Channel;

/// Smaller steps, in dioptres, are no jumps of the distance: 1 cm at 0.7 m.
const FLOOR: f64 = 0.02;

/// A jump of the distance in metres.
#[derive(Debug, Clone)]
pub(crate) struct DistanceJump {
    pub before: f64,
    pub after: f64,
    /// How far the ring moved meanwhile, in travel.
    pub ring_step: f64,
    pub excursion: Excursion,
}

/// Looks for jumps of the distance along a take.
#[derive(Debug, Default)]
pub(crate) struct DistanceJumps {
    excursions: Excursions,
}

impl DistanceJumps {
    /// Looks at a batch; distances nearer than `nearest` count as not recorded.
    pub fn scan(
        &mut self,
        batch: &BatchView<'_>,
        nearest: f64,
        found: &mut impl FnMut(DistanceJump),
    ) {
        let (Some(ring), Some(distances)) = (
            batch.numbers(Channel::FocusRing),
            batch.numbers(Channel::FocusDistance),
        ) else {
            return;
        };
        let dioptres = distances.iter().map(|metres| {
            if *metres > nearest {
                1.0 / metres
            } else {
                f64::NAN
            }
        });
        let rule = Rule {
            floor: FLOOR,
            accept: |jump: &Jump| accept(jump) && batch.follows(jump.frame),
            returns,
        };
        self.excursions.scan(
            batch,
            dioptres,
            ring.iter().copied(),
            &rule,
            &mut |excursion| found(named(excursion)),
        );
    }

    /// The take is over.
    pub fn end(&mut self, tail: &Tail, found: &mut impl FnMut(DistanceJump)) {
        let rule = Rule {
            floor: FLOOR,
            accept,
            returns,
        };
        self.excursions
            .end(tail, &rule, &mut |excursion| found(named(excursion)));
    }
}

fn named(excursion: Excursion) -> DistanceJump {
    let jump = excursion.jump;
    DistanceJump {
        before: 1.0 / jump.before,
        after: 1.0 / jump.after,
        ring_step: jump.other_step,
        excursion,
    }
}

/// The distance jumps and the ring goes on as before.
fn accept(jump: &Jump) -> bool {
    jump.stands_out && jump.other_step <= 4.0 * jump.other_typical + 0.004
}

/// The same factor, the other way.
fn returns(open: &Jump, jump: &Jump) -> bool {
    let (there, back) = (open.after / open.before, jump.after / jump.before);
    (0.8..1.25).contains(&(there * back))
}
