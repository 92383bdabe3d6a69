//! Takes with a known truth, faults injected into them, and what the checks say once the takes went through a format.
//!
//! A clean take is motion of rings on a lens whose law is known (a thin lens, Gauss and Newton), with the jitter of an
//! encoder. A fault changes some of its frames, at a place and of a size that a seed decides. Both are written by the
//! bundled plugin of a format, read back through it, and checked. A fault counts for a format only if what was changed is
//! still there after the way through it: what a format cannot carry it cannot show.

mod clean;
mod faults;
mod formats;
mod lenses;
mod random;
mod tally;

pub use clean::{Case, Motion};
pub use faults::{Expect, Fault, all as faults};
pub use formats::{FORMATS, Formats};
pub use lenses::{LENS_FAULTS, LensFault};
pub use random::Random;
pub use tally::Tally;

use anyhow::Result;

/// Runs `rounds` of every fault and as many clean takes through every format that can carry them.
pub fn run(formats: &Formats, seed: u64, rounds: u64) -> Result<Tally> {
    let mut tally = Tally::default();
    for round in 0..rounds {
        for format in FORMATS {
            let mut random = Random::new(seed, round);
            for motion in Motion::ALL {
                let case = Case::clean(motion, &mut random);
                tally.clean(format, formats.check(format, &case)?.findings);
            }
        }
        for (at, fault) in faults().enumerate() {
            for format in FORMATS {
                // The same take and the same fault in every format.
                let mut random =
                    Random::new(seed, round.wrapping_mul(1000).wrapping_add(at as u64));
                let mut case = Case::clean(*random.one_of(fault.motions), &mut random);
                let expect = (fault.inject)(&mut case, &mut random);
                // A format may refuse what is wrong: then it carries no fault.
                let checked = formats
                    .check(format, &case)
                    .ok()
                    .filter(|checked| checked.carries(&case, &expect));
                tally.fault(
                    format,
                    fault,
                    &expect,
                    checked.map(|checked| checked.findings),
                );
            }
        }
        for (at, fault) in LENS_FAULTS.iter().enumerate() {
            for format in formats::OF_LENSES {
                let mut random =
                    Random::new(seed, round.wrapping_mul(1000).wrapping_add(500 + at as u64));
                let mut lens = lenses::clean(&mut random);
                (fault.inject)(&mut lens, &mut random);
                tally.lens(format, fault, &formats.check_lens(format, &lens)?);
            }
        }
        for format in formats::OF_LENSES {
            let mut random = Random::new(seed, round);
            let lens = lenses::clean(&mut random);
            tally.clean(format, formats.check_lens(format, &lens)?);
        }
    }
    Ok(tally)
}
