//! The rules of OpenTrackIO 1.0, key by key.
//!
//! Source: parameter documentation of the SMPTE RIS OSVP group (keys, types, ranges, required
//! members). Where its text is narrower than its schema, the text is followed.

use super::Rule;
use super::Rule::{Bool, Choice, ClockIdentity, Free, List, Number, Object, Text, Uuid, Whole};

const fn whole(high: f64) -> Rule {
    Whole { low: 0.0, high }
}

const fn at_least(low: f64) -> Rule {
    Number {
        low,
        high: f64::INFINITY,
        above: false,
    }
}

const ANY: Rule = at_least(f64::NEG_INFINITY);
const POSITIVE: Rule = Number {
    low: 0.0,
    high: f64::INFINITY,
    above: true,
};
const POSITION: Rule = Number {
    low: 0.0,
    high: 1.0,
    above: false,
};
const U32: Rule = whole(4_294_967_295.0);
const I31: Rule = whole(2_147_483_647.0);

const RATIONAL: Rule = Object {
    keys: &[
        (
            "num",
            Whole {
                low: 1.0,
                high: 2_147_483_647.0,
            },
        ),
        (
            "denom",
            Whole {
                low: 1.0,
                high: 4_294_967_295.0,
            },
        ),
    ],
    required: &["num", "denom"],
};

const TIMESTAMP: Rule = Object {
    keys: &[
        ("seconds", whole(281_474_976_710_655.0)),
        ("nanoseconds", U32),
    ],
    required: &["seconds", "nanoseconds"],
};

const XY: Rule = Object {
    keys: &[("x", ANY), ("y", ANY)],
    required: &["x", "y"],
};

const XYZ: Rule = Object {
    keys: &[("x", ANY), ("y", ANY), ("z", ANY)],
    required: &["x", "y", "z"],
};

static UUID: Rule = Uuid;
static TEXT: Rule = Text;
static NUMBER: Rule = ANY;

const IDENTITY: [(&str, Rule); 4] = [
    ("make", Text),
    ("model", Text),
    ("serialNumber", Text),
    ("firmwareVersion", Text),
];

const TRACKER: Rule = Object {
    keys: &[
        ("notes", Text),
        ("recording", Bool),
        ("slate", Text),
        ("status", Text),
    ],
    required: &[],
};

const PTP: Rule = Object {
    keys: &[
        (
            "profile",
            Choice(&[
                "IEEE Std 1588-2019",
                "IEEE Std 802.1AS-2020",
                "SMPTE ST2059-2:2021",
            ]),
        ),
        ("domain", whole(127.0)),
        ("leaderIdentity", ClockIdentity),
        (
            "leaderPriorities",
            Object {
                keys: &[("priority1", whole(255.0)), ("priority2", whole(255.0))],
                required: &["priority1", "priority2"],
            },
        ),
        ("leaderAccuracy", at_least(0.0)),
        ("leaderTimeSource", Choice(&["GNSS", "Atomic clock", "NTP"])),
        ("meanPathDelay", at_least(0.0)),
        ("vlan", U32),
    ],
    required: &[
        "profile",
        "domain",
        "leaderIdentity",
        "leaderPriorities",
        "leaderAccuracy",
        "meanPathDelay",
    ],
};

const TIMING: Rule = Object {
    keys: &[
        ("mode", Choice(&["internal", "external"])),
        ("sampleRate", RATIONAL),
        ("sampleTimestamp", TIMESTAMP),
        ("recordedTimestamp", TIMESTAMP),
        ("sequenceNumber", U32),
        (
            "synchronization",
            Object {
                keys: &[
                    ("locked", Bool),
                    ("source", Choice(&["genlock", "videoIn", "ptp", "ntp"])),
                    ("frequency", RATIONAL),
                    (
                        "offsets",
                        Object {
                            keys: &[
                                ("translation", ANY),
                                ("rotation", ANY),
                                ("lensEncoders", ANY),
                            ],
                            required: &[],
                        },
                    ),
                    ("present", Bool),
                    ("ptp", PTP),
                ],
                required: &["locked", "source"],
            },
        ),
        (
            "timecode",
            Object {
                keys: &[
                    ("hours", whole(23.0)),
                    ("minutes", whole(59.0)),
                    ("seconds", whole(59.0)),
                    ("frames", whole(119.0)),
                    ("frameRate", RATIONAL),
                    ("subFrame", U32),
                    ("dropFrame", Bool),
                ],
                required: &["hours", "minutes", "seconds", "frames", "frameRate"],
            },
        ),
    ],
    required: &[],
};

const DISTORTION_KEYS: &[(&str, Rule)] = &[
    ("model", Text),
    (
        "radial",
        List {
            first: &NUMBER,
            rest: &NUMBER,
        },
    ),
    (
        "tangential",
        List {
            first: &NUMBER,
            rest: &NUMBER,
        },
    ),
    ("overscan", at_least(1.0)),
];

/// The entry that channels go to always names its model: without one the standard's default
/// would claim a direction that nobody stated.
static CHANNEL_DISTORTION: Rule = Object {
    keys: DISTORTION_KEYS,
    required: &["radial", "model"],
};

static DISTORTION: Rule = Object {
    keys: DISTORTION_KEYS,
    required: &["radial"],
};

const LENS: Rule = Object {
    keys: &[
        (
            "encoders",
            Object {
                keys: &[("focus", POSITION), ("iris", POSITION), ("zoom", POSITION)],
                required: &[],
            },
        ),
        (
            "rawEncoders",
            Object {
                keys: &[("focus", U32), ("iris", U32), ("zoom", U32)],
                required: &[],
            },
        ),
        ("focusDistance", POSITIVE),
        ("pinholeFocalLength", POSITIVE),
        ("fStop", POSITIVE),
        ("tStop", POSITIVE),
        ("entrancePupilOffset", ANY),
        (
            "distortion",
            List {
                first: &CHANNEL_DISTORTION,
                rest: &DISTORTION,
            },
        ),
        ("distortionOffset", XY),
        ("projectionOffset", XY),
        (
            "exposureFalloff",
            Object {
                keys: &[("a1", ANY), ("a2", ANY), ("a3", ANY)],
                required: &["a1"],
            },
        ),
        (
            "custom",
            List {
                first: &NUMBER,
                rest: &NUMBER,
            },
        ),
    ],
    required: &[],
};

static TRANSFORM: Rule = Object {
    keys: &[
        ("translation", XYZ),
        (
            "rotation",
            Object {
                keys: &[("pan", ANY), ("tilt", ANY), ("roll", ANY)],
                required: &["pan", "tilt", "roll"],
            },
        ),
        ("scale", XYZ),
        ("id", Text),
    ],
    required: &["translation", "rotation"],
};

const CAMERA: Rule = Object {
    keys: &[
        ("captureFrameRate", RATIONAL),
        (
            "activeSensorPhysicalDimensions",
            Object {
                keys: &[("height", at_least(0.0)), ("width", at_least(0.0))],
                required: &["height", "width"],
            },
        ),
        (
            "activeSensorResolution",
            Object {
                keys: &[("height", I31), ("width", I31)],
                required: &["height", "width"],
            },
        ),
        ("make", Text),
        ("model", Text),
        ("serialNumber", Text),
        ("firmwareVersion", Text),
        ("label", Text),
        ("anamorphicSqueeze", RATIONAL),
        (
            "isoSpeed",
            Whole {
                low: 1.0,
                high: 4_294_967_295.0,
            },
        ),
        ("fdlLink", Uuid),
        (
            "shutterAngle",
            Number {
                low: 0.0,
                high: 360.0,
                above: true,
            },
        ),
    ],
    required: &[],
};

const STATIC: Rule = Object {
    keys: &[
        ("duration", RATIONAL),
        ("camera", CAMERA),
        (
            "lens",
            Object {
                keys: &[
                    ("make", Text),
                    ("model", Text),
                    ("serialNumber", Text),
                    ("firmwareVersion", Text),
                    ("nominalFocalLength", POSITIVE),
                    ("distortionOverscanMax", at_least(1.0)),
                    ("undistortionOverscanMax", at_least(1.0)),
                    (
                        "calibrationHistory",
                        List {
                            first: &TEXT,
                            rest: &TEXT,
                        },
                    ),
                ],
                required: &[],
            },
        ),
        (
            "tracker",
            Object {
                keys: &IDENTITY,
                required: &[],
            },
        ),
    ],
    required: &[],
};

/// A sample, without `protocol` (the writer's own) and the private part.
pub static SAMPLE: Rule = Object {
    keys: &[
        ("sampleId", Uuid),
        ("sourceId", Uuid),
        ("sourceNumber", U32),
        (
            "relatedSampleIds",
            List {
                first: &UUID,
                rest: &UUID,
            },
        ),
        ("tracker", TRACKER),
        ("timing", TIMING),
        ("lens", LENS),
        (
            "transforms",
            List {
                first: &TRANSFORM,
                rest: &TRANSFORM,
            },
        ),
        (
            "globalStage",
            Object {
                keys: &[
                    ("E", ANY),
                    ("N", ANY),
                    ("U", ANY),
                    ("lat0", ANY),
                    ("lon0", ANY),
                    ("h0", ANY),
                ],
                required: &["E", "N", "U", "lat0", "lon0", "h0"],
            },
        ),
        ("custom", Free),
        ("static", STATIC),
    ],
    required: &[],
};
