//! Time code arithmetic on the command line, one value a line on standard input:
//!
//! ```text
//! echo '01:00:00;00' | cargo run --example timecode -- 30000/1001      prints 107892
//! echo 107892 | cargo run --example timecode -- 30000/1001 drop        prints 01:00:00;00
//! ```
//!
//! What cannot be prints `error: ` and the reason.

use std::io::{BufWriter, Write};

use ringmark_quantity::{CountingMode, FrameRate, Timecode};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut args = std::env::args().skip(1);
    let rate = FrameRate::parse(&args.next().ok_or("say a frame rate, as 30000/1001")?)?;
    let mode = match args.next().as_deref() {
        Some("drop") => CountingMode::DropFrame,
        _ => CountingMode::NonDrop,
    };
    let mut out = BufWriter::new(std::io::stdout().lock());
    for line in std::io::stdin().lines() {
        let line = line?;
        let answer = match line.parse::<u64>() {
            Ok(frame) => Timecode::from_frame(frame, rate, mode).map(|label| label.to_string()),
            Err(_) => Timecode::parse(&line)
                .and_then(|label| label.to_frame(rate))
                .map(|frame| frame.to_string()),
        };
        match answer {
            Ok(text) => writeln!(out, "{text}")?,
            Err(error) => writeln!(out, "error: {error}")?,
        }
    }
    Ok(out.flush()?)
}
