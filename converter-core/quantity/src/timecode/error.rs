//! Why a label is not a label.

use std::ops::Range;

use thiserror::Error;

use super::{FrameRate, Timecode};

/// A text or a label that names no frame.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum TimecodeError {
    /// The text has not the form of a label.
    #[error("“{}” is no timecode: expected hh:mm:ss:ff, with ';' or '.' before the frames for drop-frame", text.escape_debug())]
    Form {
        /// The text, cut to 40 characters.
        text: String,
        /// The first wrong byte of it, or its end if something is missing.
        span: Range<usize>,
    },
    /// Hours above 23.
    #[error(
        "{label}: hours run from 00 to 23, the count starts again after 24 h; the next valid label is {next}"
    )]
    Hours {
        /// The label as given.
        label: Timecode,
        /// The next label that exists.
        next: Timecode,
    },
    /// Minutes above 59.
    #[error("{label}: minutes run from 00 to 59; the next valid label is {next}")]
    Minutes {
        /// The label as given.
        label: Timecode,
        /// The next label that exists.
        next: Timecode,
    },
    /// Seconds above 59.
    #[error("{label}: seconds run from 00 to 59; the next valid label is {next}")]
    Seconds {
        /// The label as given.
        label: Timecode,
        /// The next label that exists.
        next: Timecode,
    },
    /// More frames than the second has labels.
    #[error(
        "{label}: frames run from 00 to {last:02} at {rate} fps; the next valid label is {next}"
    )]
    Frames {
        /// The label as given.
        label: Timecode,
        /// Frame rate.
        rate: FrameRate,
        /// Last frame of each second.
        last: u32,
        /// The next label that exists.
        next: Timecode,
    },
    /// One of the labels that drop-frame counting skips.
    #[error(
        "{label}: drop-frame counting skips frames 00 to {last:02} at the start of every minute that is no multiple of ten; the next valid label is {next}"
    )]
    Dropped {
        /// The label as given.
        label: Timecode,
        /// Last frame that is skipped.
        last: u32,
        /// The next label that exists.
        next: Timecode,
    },
    /// A drop-frame label at a rate that has no drop-frame counting.
    #[error(
        "{label}: drop-frame counting exists only at 30000/1001 and 60000/1001 fps, not at {rate}; write it non-drop, {non_drop}, or correct the rate"
    )]
    NoDropFrame {
        /// The label as given.
        label: Timecode,
        /// Frame rate.
        rate: FrameRate,
        /// The same digits, counted non-drop.
        non_drop: Timecode,
    },
    /// Drop-frame counting asked for at a rate that has none.
    #[error(
        "drop-frame counting exists only at 30000/1001 and 60000/1001 fps, not at {rate}; count non-drop or correct the rate"
    )]
    NoDropFrameRate {
        /// Frame rate.
        rate: FrameRate,
    },
    /// A rate for which ST 12-1 has no labels.
    #[error(
        "{rate} fps has no timecode labels in SMPTE ST 12-1: it counts 24000/1001, 24, 25, 30000/1001, 30, 48000/1001, 48, 50, 60000/1001 and 60; use frame numbers, or give the base rate the labels count"
    )]
    Rate {
        /// Frame rate.
        rate: FrameRate,
    },
}
