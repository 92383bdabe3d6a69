//! The keys of a profile.

use ringmark_checks::{CameraPattern, Expected, LensPattern, Level, Rules};
use ringmark_model::Severity;
use ringmark_quantity::FrameRate;
use toml::de::DeTable;

use super::Profile;
use super::accept::Acceptance;
use super::walk::{Fault, Walk};

/// Reads a profile from text.
pub fn read(text: &str) -> Result<Profile, Fault> {
    let document = DeTable::parse(text)?;
    let mut walk = Walk::document(&document);
    let mut profile = Profile::default();
    if let Some(item) = walk.get("checks") {
        profile.rules = checks(item.table()?)?;
    }
    if let Some(item) = walk.get("lens") {
        for mut table in item.tables()? {
            let pattern = lens(&mut table)?;
            let rules = match table.get("checks") {
                Some(item) => checks(item.table()?)?,
                None => {
                    let message = "this lens has no [lens.checks.NAME] that would change anything";
                    return Err(Fault::at(table.span(), message));
                }
            };
            table.end()?;
            profile.lenses.push((pattern, rules));
        }
    }
    if let Some(item) = walk.get("format") {
        for format in item.table()?.names() {
            let mut table = format.table()?;
            let rules = match table.get("checks") {
                Some(item) => checks(item.table()?)?,
                None => Rules::default(),
            };
            table.end()?;
            profile.formats.push((format.key.to_owned(), rules));
        }
    }
    if let Some(item) = walk.get("accept") {
        for table in item.tables()? {
            profile.acceptances.push(Acceptance::read(table)?);
        }
    }
    if let Some(item) = walk.get("expected") {
        profile.expected = expected(item.table()?)?;
    }
    walk.end()?;
    Ok(profile)
}

/// `[checks.NAME]`: `severity`, and thresholds by name.
fn checks(table: Walk<'_>) -> Result<Rules, Fault> {
    let mut rules = Rules::default();
    for check in table.names() {
        Rules::knows(check.key).map_err(|error| check.fault(error.to_string()))?;
        let mut changes = check.table()?;
        if let Some(item) = changes.get("severity") {
            let level = match item.text()?.as_str() {
                "error" => Level::As(Severity::Error),
                "warning" => Level::As(Severity::Warning),
                "note" => Level::As(Severity::Note),
                "off" => Level::Off,
                other => {
                    let message = format!("severity is error, warning, note or off, not '{other}'");
                    return Err(item.fault(message));
                }
            };
            rules
                .set_level(check.key, level)
                .map_err(|error| check.fault(error.to_string()))?;
        }
        for item in changes.names() {
            Rules::knows_threshold(check.key, item.key).map_err(|error| {
                item.fault(format!("{error}; besides them a check has 'severity'"))
            })?;
            rules
                .set_threshold(check.key, item.key, item.number()?)
                .map_err(|error| item.fault(error.to_string()))?;
        }
    }
    Ok(rules)
}

/// `maker`, `model`, `serial`: at least one.
pub fn lens(table: &mut Walk<'_>) -> Result<LensPattern, Fault> {
    let mut text = |key| table.get(key).map(|item| item.text()).transpose();
    let pattern = LensPattern {
        maker: text("maker")?,
        model: text("model")?,
        serial: text("serial")?,
    };
    if pattern == LensPattern::default() {
        let message = "which lens? give model, serial or maker";
        return Err(Fault::at(table.span(), message));
    }
    Ok(pattern)
}

fn expected(mut table: Walk<'_>) -> Result<Expected, Fault> {
    let mut expected = Expected::default();
    if let Some(item) = table.get("lens") {
        for mut table in item.tables()? {
            expected.lenses.push(lens(&mut table)?);
            table.end()?;
        }
    }
    if let Some(item) = table.get("camera") {
        for mut table in item.tables()? {
            let mut text = |key| table.get(key).map(|item| item.text()).transpose();
            let camera = CameraPattern {
                label: text("label")?,
                model: text("model")?,
                serial: text("serial")?,
            };
            if camera == CameraPattern::default() {
                let message = "which camera? give label, model or serial";
                return Err(Fault::at(table.span(), message));
            }
            table.end()?;
            expected.cameras.push(camera);
        }
    }
    if let Some(item) = table.get("frame-rate") {
        let rate = FrameRate::parse(&item.text()?);
        let rate =
            rate.map_err(|_| item.fault("frame-rate is a text such as \"24000/1001\" or \"25\""))?;
        expected.frame_rate = Some(rate);
    }
    if let Some(item) = table.get("calibrated-since") {
        expected.calibrated_since = Some(item.date()?.to_string());
    }
    table.end()?;
    Ok(expected)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn refused(text: &str) -> String {
        let fault = read(text).unwrap_err();
        fault.in_file("ringmark.toml", text).to_string()
    }

    #[test]
    fn a_whole_profile() {
        let profile = read(
            "[checks.ring-jump]\nseverity = \"warning\"\nfastest-step = 0.4\n\n\
             [[lens]]\nserial = \"BV40-0117\"\n[lens.checks.ring-frozen]\nseverity = \"off\"\n\n\
             [format.openexr.checks.frame-number-gap]\nseverity = \"off\"\n\n\
             [[accept]]\ncheck = \"timecode-gap\"\nfiles = \"A013*\"\nreason = \"restarted\"\nuntil = 2026-12-31\n\n\
             [expected]\n[[expected.lens]]\nmodel = \"Brannvik 40\"\n[[expected.camera]]\nlabel = \"A\"\n",
        )
        .unwrap();
        let lens = &profile.lenses[0];
        assert_eq!(lens.0.serial.as_deref(), Some("BV40-0117"));
        assert_eq!(lens.1.level("ring-frozen"), Some(Level::Off));
        let exr = profile.settings("openexr").rules;
        assert!(!exr.runs("frame-number-gap") && profile.rules.runs("frame-number-gap"));
        assert_eq!(exr.level("ring-jump"), Some(Level::As(Severity::Warning)));
        assert_eq!(profile.acceptances.len(), 1);
        assert_eq!(profile.expected.lenses.len(), 1);
        assert_eq!(profile.expected.cameras[0].label.as_deref(), Some("A"));
    }

    #[test]
    fn what_is_wrong_is_said_with_its_place() {
        for (text, expected) in [
            (
                "[cheks]\n",
                "ringmark.toml:1:2: the profile has no key 'cheks'; the nearest is 'checks'",
            ),
            (
                "[checks.ring-jmp]\nseverity = \"off\"\n",
                "ringmark.toml:1:1: there is no check called 'ring-jmp', the nearest is 'ring-jump'; `ringmark explain` lists them all",
            ),
            (
                "[checks.ring-jump]\nfastest-stp = 1\n",
                "ringmark.toml:2:15: ring-jump has no threshold called 'fastest-stp', the nearest is 'fastest-step'; `ringmark explain ring-jump` lists them; besides them a check has 'severity'",
            ),
            (
                "[checks.ring-jump]\nseverity = \"loud\"\n",
                "ringmark.toml:2:12: severity is error, warning, note or off, not 'loud'",
            ),
            (
                "[checks.ring-jump]\nwrap = \"0.5\"\n",
                "ringmark.toml:2:8: 'wrap' is a number",
            ),
            (
                "[checks.ring-jump]\nwrap = nan\n",
                "ringmark.toml:2:8: ring-jump: the threshold 'wrap' is a number, not NaN",
            ),
            (
                "[[lens]]\n",
                "ringmark.toml:1:1: which lens? give model, serial or maker",
            ),
            (
                "[[lens]]\nserial = \"1\"\n",
                "ringmark.toml:1:1: this lens has no [lens.checks.NAME] that would change anything",
            ),
            (
                "x = \n",
                "ringmark.toml:1:5: no valid TOML: string values must be quoted, expected literal string",
            ),
            (
                "[[accept]]\ncheck = \"timecode-gap\"\nreason = \"x\"\nuntil = \"soon\"\n",
                "ringmark.toml:4:9: 'until' is a day written 2026-12-31, without quotes",
            ),
            (
                "[[accept]]\ncheck = \"timecode-gap\"\n",
                "ringmark.toml:1:1: an accepted finding needs a reason",
            ),
            (
                "[expected]\nlens = 4\n",
                "ringmark.toml:2:8: 'lens' is a list of tables, each headed [[lens]]",
            ),
        ] {
            assert_eq!(refused(text), expected);
        }
    }
}
