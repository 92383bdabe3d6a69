//! Which text of the standard a sample follows: names and units changed on the way to 1.0.
//!
//! Source: change record between the 0.9.0 and 0.9.1 parameter documents of the SMPTE RIS
//! OSVP group, and its 1.0 documentation.

use crate::sample::{Sample, Value};

/// The texts that can be read without guessing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Version {
    /// 1.x.
    One,
    /// The late draft, 0.9.1 and later: units of 1.0, some names differ.
    Draft,
}

/// What a sample says about its version.
#[derive(Debug, PartialEq)]
pub enum Stated {
    /// This version.
    Known(Version),
    /// Nothing.
    Nothing,
    /// Something that cannot be read: what is wrong, and what to do.
    Unreadable(String, &'static str),
}

const UPDATE: &str = "write the samples again with software that speaks OpenTrackIO 1.0";

/// The version that `sample` states.
pub fn stated(sample: &Sample) -> Stated {
    if let Some(Value::Text(text)) = sample.value_at("protocol.version") {
        return Stated::Unreadable(
            format!(
                "protocol.version is the text \"{text}\", as drafts up to 0.9.0 had it; they gave focus distance in millimetres and other keys in other units"
            ),
            UPDATE,
        );
    }
    let part = |index: usize| match sample.value_at(&format!("protocol.version.{index}")) {
        Some(Value::Number(number)) => Ok(Some(number)),
        None => Ok(None),
        Some(_) => Err(()),
    };
    match (part(0), part(1), part(2)) {
        (Ok(None), Ok(None), Ok(None)) => match sample.value_at("protocol.version") {
            None => Stated::Nothing,
            Some(_) => malformed(),
        },
        (Ok(Some(1.0)), Ok(Some(_)), Ok(Some(_))) => Stated::Known(Version::One),
        (Ok(Some(0.0)), Ok(Some(9.0)), Ok(Some(patch))) if patch >= 1.0 => {
            Stated::Known(Version::Draft)
        }
        (Ok(Some(major)), Ok(Some(minor)), Ok(Some(patch))) => Stated::Unreadable(
            format!(
                "the samples are OpenTrackIO {major}.{minor}.{patch}; 1.x and the draft from 0.9.1 on can be read, others have other units"
            ),
            UPDATE,
        ),
        _ => malformed(),
    }
}

fn malformed() -> Stated {
    Stated::Unreadable(
        "protocol.version is not three numbers such as [1, 0, 1]".to_owned(),
        "correct it in the first sample: units depend on it",
    )
}

impl Version {
    /// The place that has this meaning in 1.0.
    pub fn current_path(self, path: String) -> String {
        if self == Version::One {
            return path;
        }
        match path.as_str() {
            "lens.focalLength" => "lens.pinholeFocalLength".to_owned(),
            _ => match path.strip_prefix("timing.timecode.format.") {
                Some(rest) => format!("timing.timecode.{rest}"),
                None => path,
            },
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn of(protocol: &str) -> Stated {
        let mut sample = Sample::new();
        sample
            .read(format!("{{\"lens\":{{\"fStop\":2}}{protocol}}}").as_bytes())
            .unwrap();
        stated(&sample)
    }

    #[test]
    fn versions() {
        let known = Stated::Known;
        assert_eq!(of(""), Stated::Nothing);
        assert_eq!(
            of(",\"protocol\":{\"name\":\"OpenTrackIO\"}"),
            Stated::Nothing
        );
        assert_eq!(
            of(",\"protocol\":{\"version\":[1,0,0]}"),
            known(Version::One)
        );
        assert_eq!(
            of(",\"protocol\":{\"version\":[1,3,9]}"),
            known(Version::One)
        );
        assert_eq!(
            of(",\"protocol\":{\"version\":[0,9,1]}"),
            known(Version::Draft)
        );
        for bad in [
            "\"0.9.0\"",
            "[0,9,0]",
            "[2,0,0]",
            "[1]",
            "[1,\"0\",1]",
            "[]",
            "1",
        ] {
            let found = of(&format!(",\"protocol\":{{\"version\":{bad}}}"));
            assert!(matches!(found, Stated::Unreadable(..)), "{bad}: {found:?}");
        }
    }

    #[test]
    fn draft_names() {
        let rate = "timing.timecode.format.frameRate.num".to_owned();
        assert_eq!(
            Version::Draft.current_path(rate.clone()),
            "timing.timecode.frameRate.num"
        );
        assert_eq!(Version::One.current_path(rate.clone()), rate);
    }
}
