"""Acquisition sets (SMPTE RDD 18, EBU Tech 3349) decoded by mediainfo (Debian, 23.04), and by a few lines of `struct`."""

import json
import math
import random
import struct
import subprocess

from ringmark import ROOT, number, run, take

REFERENCE = ROOT / "plugins/acquisition-klv/tests/data"

LENS = bytes.fromhex("060e2b34025301010c02010101010000")
CAMERA = bytes.fromhex("060e2b34025301010c02010102010000")
PICTURE = bytes.fromhex("060e2b34010201010d01030115010501")
ANCILLARY = bytes.fromhex("060e2b34010201010d01030117010201")

# Our column, mediainfo's name, what leads from our value to its, and half its last digit. Distances
# in metres with three decimals, focal lengths in mm with three, ring positions in per cent with four.
NUMBERS = [
    ("f-number", "IrisFNumber", 1, 5e-7),
    ("t-stop", "IrisTNumber", 1, 5e-7),
    ("focus-distance", "FocusPositionFromImagePlane", 1, 5e-4),
    ("extra/FocusPositionFromFrontLensVertex", "FocusPositionFromFrontLensVertex", 1, 5e-4),
    ("equivalent-focal-length", "LensZoom35mmStillCameraEquivalent", 1, 5e-4),
    ("nominal-focal-length", "LensZoomActualFocalLength", 1, 5e-4),
    ("extra/OpticalExtenderMagnification", "OpticalExtenderMagnification", 1, 0),
    ("iris-ring", "IrisRingPosition", 100, 5e-5),
    ("focus-ring", "FocusRingPosition", 100, 5e-5),
    ("zoom-ring", "ZoomRingPosition", 100, 5e-5),
    ("capture-rate", "CaptureFrameRate", 1, 5e-4),
    ("shutter-angle", "ShutterSpeed_Angle", 1, 0.05),
    ("extra/CameraMasterGainAdjustment", "CameraMasterGainAdjustment", 1, 5e-3),
    ("sensitivity", "ISOSensitivity", 1, 0),
    ("extra/ElectricalExtenderMagnification", "ElectricalExtenderMagnification", 1, 0),
    ("extra/WhiteBalance", "WhiteBalance", 1, 0),
    ("extra/CameraMasterBlackLevel", "CameraMasterBlackLevel", 1, 0.05),
    ("extra/CameraKneePoint", "CameraKneePoint", 1, 0.05),
    ("extra/CameraKneeSlope", "CameraKneeSlope", 1, 5e-4),
    ("extra/CameraLuminanceDynamicRange", "CameraLuminanceDynamicRange", 1, 0.05),
    ("extra/ExposureIndexofPhotoMeter", "ExposureIndexofPhotoMeter", 1, 0),
]
TEXTS = {
    "lens": "LensAttributes",
    "extra/MacroSetting": "MacroSetting",
    "extra/AutoExposureMode": "AutoExposureMode",
    "extra/AutoFocusSensingAreaSetting": "AutoFocusSensingAreaSetting",
    "extra/ColorCorrectionFilterWheelSetting": "ColorCorrectionFilterWheelSetting",
    "extra/ImageSensorReadoutMode": "ImageSensorReadoutMode",
    "extra/AutoWhiteBalanceMode": "AutoWhiteBalanceMode",
    "extra/CameraSettingFileURI": "CameraSettingFileURI",
    "extra/CameraAttributes": "CameraAttributes",
    "extra/GammaForCDL": "GammaForCDL",
}
WORDS = {
    "extra/MacroSetting": ["On", "Off"],
    "extra/AutoExposureMode": ["Manual", "Full Auto", "Gain Priority Auto", "Iris Priority Auto", "Shutter Priority Auto"],
    "extra/AutoFocusSensingAreaSetting": ["Manual", "Center Sensitive Auto", "Full Screen Sensing Auto", "Multi Spot Sensing Auto", "Single Spot Sensing Auto"],
    "extra/ColorCorrectionFilterWheelSetting": ["Cross effect", "Color Compensation 3200 K", "Color Compensation 4300 K", "Color Compensation 6300 K", "Color Compensation 5600 K"],
    "extra/ImageSensorReadoutMode": ["Interlaced field", "Interlaced frame", "Progressive frame", "Undefined"],
    "extra/AutoWhiteBalanceMode": ["Preset", "Automatic", "Hold", "One Push"],
    "extra/GammaForCDL": ["Same as Capture Gamma", "Scene Linear", "Undefined"],
    "extra/CameraSettingFileURI": ["file:///settings/day"],
    "extra/CameraAttributes": ["K1 Testbench #K1-00017"],
    "lens": ["Halden 32 #H32-0042", "Brannvik 40 ä"],
}


def klv(key, value):
    return key + b"\x83" + len(value).to_bytes(3, "big") + value


def item(tag, value):
    return struct.pack(">HH", tag, len(value)) + value


def partition(kind, footer, this, metadata=0):
    """A closed and complete partition pack of OP1a (SMPTE ST 377-1), laid out as in rack_48f.mxf."""
    label = bytes.fromhex("060e2b34040101010d01020101010900")
    value = struct.pack(">HHIQQQQQIQI", 1, 3, 1, this, 0, footer, metadata, 0, 0, 0, 0)
    return klv(bytes.fromhex(f"060e2b34020501010d010201010{kind}0400"), value + label + struct.pack(">II", 0, 16))


def mxf(body, metadata=b""):
    """The smallest container that mediainfo takes: header and footer partition around `body`."""
    footer = 108 + len(metadata) + len(body)
    head = partition(2, footer, 0, len(metadata))
    return head + metadata + body + partition(4, footer, footer)


def metadata_set(kind, items):
    return klv(bytes.fromhex(f"060e2b34025301010d0101010101{kind:02x}00"), b"".join(item(t, v) for t, v in items))


def references(*ids):
    return struct.pack(">II", len(ids), 16) + b"".join(bytes([i]) * 16 for i in ids)


def header_metadata(rate, start, base, drop):
    """A material package whose time code track starts at frame `start`."""
    own = lambda n: (0x3C0A, bytes([n]) * 16)
    timecode_data = bytes.fromhex("060e2b34040101010103020101000000")
    rate = (0x4B01, struct.pack(">II", *rate))
    primer = klv(bytes.fromhex("060e2b34020501010d01020101050100"), struct.pack(">II", 0, 18))
    return primer + b"".join(
        metadata_set(kind, items)
        for kind, items in (
            (0x2F, [own(9), (0x3B03, bytes([8]) * 16)]),
            (0x18, [own(8), (0x1901, references(1))]),
            (0x36, [own(1), (0x4401, bytes(32)), (0x4403, references(2))]),
            (0x3B, [own(2), (0x4801, struct.pack(">I", 1)), rate, (0x4B02, bytes(8)), (0x4803, bytes([3]) * 16)]),
            (0x0F, [own(3), (0x0201, timecode_data), (0x0202, struct.pack(">q", 48)), (0x1001, references(4))]),
            (0x14, [own(4), (0x0201, timecode_data), (0x0202, struct.pack(">q", 48)), (0x1501, struct.pack(">q", start)), (0x1502, struct.pack(">H", base)), (0x1503, bytes([drop]))]),
        )
    )


def ancillary(payload, size=254):
    """An element of SMPTE ST 436 with the payload in packets 43h/05h, a caption packet before them."""
    packets = [b"\x61\x01\x07caption"]
    for n, at in enumerate(range(0, len(payload), size)):
        part = bytes([n + 1]) + payload[at : at + size]
        packets.append(bytes([0x43, 0x05, len(part)]) + part)
    value = struct.pack(">H", len(packets))
    for samples in packets:
        padded = -(-len(samples) // 4) * 4
        value += struct.pack(">HBBHII", 9, 1, 4, len(samples), padded, 1) + samples.ljust(padded, b"\0")
    return klv(ANCILLARY, value)


def mediainfo(path):
    """All that mediainfo says, and its acquisition values by name, one a frame."""
    done = subprocess.run(["mediainfo", "--Output=JSON", str(path)], capture_output=True, text=True, check=True)
    tracks = json.loads(done.stdout)["media"]["track"]
    values = {}
    for track in tracks:
        extra = track.get("extra", {})
        for name in extra:
            if name.endswith("_FrameCounts"):
                name = name.removesuffix("_FrameCounts")
                runs = zip(extra[f"{name}_Values"].split(" / "), extra[f"{name}_FrameCounts"].split(" / "), strict=True)
                values[name] = [value for value, count in runs for _ in range(int(count))]
    return tracks, values


def compare(found, channels, frames):
    """Every value that mediainfo shows against the columns of the neutral form; the number compared."""
    compared = 0
    for ours, theirs, factor, half_digit in NUMBERS:
        column = channels[ours]["values"]
        assert len(found[theirs]) == frames, (theirs, len(found[theirs]))
        for n, text in enumerate(found[theirs]):
            value = column[n] * factor
            assert abs(float(text) - value) <= half_digit * 1.001 + 1e-9 * value, (ours, n, text, value)
            compared += 1
    for ours, theirs in TEXTS.items():
        if ours in channels:
            assert found[theirs] == channels[ours]["values"], (ours, found[theirs][:3])
            compared += frames
    for n, text in enumerate(found["ShutterSpeed_Time"]):
        num, den = map(int, text.removesuffix(" s").split("/"))
        assert abs(num / den - channels["exposure-time"]["values"][n]) <= 2.4e-10 * num / den, (n, text)
    for n, text in enumerate(found["NeutralDensityFilterWheelSetting"]):
        part = 1 if text == "Clear" else int(text.removeprefix("1/"))
        assert part == channels["extra/NeutralDensityFilterWheelSetting"]["values"][n]
    return compared + 2 * frames


def asked(frames, chance):
    """A take in the neutral form with every item that the sets have."""

    def numbers(unit, low, high, digits=None, **more):
        values = [chance.uniform(low, high) for _ in range(frames)]
        if digits is not None:
            values = [round(v, digits) for v in values]
        return {"unit": unit, "origin": "recorded", "values": values, **more}

    def extras(low, high, digits=0):
        values = [round(chance.uniform(low, high), digits) for _ in range(frames)]
        return {"origin": "recorded", "values": [int(v) if digits == 0 else v for v in values]}

    channels = {
        "f-number": numbers("f", 1.01, 32),
        "t-stop": numbers("T", 1.01, 32),
        "focus-distance": numbers("m", 0.3, 400, reference="image-plane"),
        "equivalent-focal-length": numbers("mm", 12, 800),
        "nominal-focal-length": numbers("mm", 8, 600),
        "iris-ring": numbers("0..1", 0, 0.9999),
        "focus-ring": numbers("0..1", 0, 0.9999),
        "zoom-ring": numbers("0..1", 0, 0.9999),
        "capture-rate": {"unit": "fps", "origin": "recorded", "values": [chance.choice([24, 24000 / 1001, 120, 30000 / 1001]) for _ in range(frames)]},
        "shutter-angle": numbers("deg", 1, 360),
        "exposure-time": {"unit": "s", "origin": "recorded", "values": [chance.choice([1 / 48, 1001 / 60000, 1 / 8000, 0.0173]) for _ in range(frames)]},
        "sensitivity": {"unit": "ISO", "origin": "recorded", "values": [chance.choice([200, 800, 3200]) for _ in range(frames)]},
        "extra/FocusPositionFromFrontLensVertex": {"origin": "recorded", "values": [round(chance.uniform(0.3, 4), 3) for _ in range(frames)]},
        "extra/OpticalExtenderMagnification": extras(50, 200),
        "extra/NeutralDensityFilterWheelSetting": extras(1, 64),
        "extra/CameraMasterGainAdjustment": extras(0, 42, 2),
        "extra/ElectricalExtenderMagnification": extras(100, 400),
        "extra/WhiteBalance": extras(2000, 12000),
        "extra/CameraMasterBlackLevel": extras(0, 99, 1),
        "extra/CameraKneePoint": extras(80, 110, 1),
        "extra/CameraKneeSlope": {"origin": "recorded", "values": [chance.randint(1, 7) / 8 for _ in range(frames)]},
        "extra/CameraLuminanceDynamicRange": extras(100, 6000, 1),
        "extra/ExposureIndexofPhotoMeter": extras(50, 6400),
        # The sets have no item for this: it is in the private part, which others must pass over.
        "timecode": {"origin": "recorded", "values": [f"01:00:{n // 24:02d}:{n % 24:02d}" for n in range(frames)]},
        "extra/ColorPrimaries": {"form": "hex", "origin": "recorded", "values": ["060e2b34040101060401010103030000"] * frames},
    }
    for name, words in WORDS.items():
        channels[name] = {"form": "text", "origin": "recorded", "values": [chance.choice(words) for _ in range(frames)]}
    # Each word at least once.
    for name, words in WORDS.items():
        channels[name]["values"][: len(words)] = words
    return {
        "lens_data": "1.0",
        "lenses": [{"maker": "Brannvik", "serial": "BV40-0117"}],
        "takes": [{"lens": 0, "sensor_mm": [27.991, 19.22], "frames": frames, "channels": channels}],
    }


def written(program, folder, frames=96):
    """What was asked for in the neutral form, and the stream that the program wrote."""
    source = folder / "asked.take.json"
    source.write_text(json.dumps(asked(frames, random.Random(18))), encoding="utf-8")
    out = folder / "asked.klv"
    run(program, "convert", source, "--to", "acquisition-klv", "-o", out)
    (document,) = take(program, source)["takes"]
    return document["channels"], out.read_bytes()


def decoded(stream):
    """Items of the stream by set and tag, one dict a frame: written anew with `struct` only."""
    frames, at = [], 0
    while at < len(stream):
        key, length = stream[at : at + 16], int.from_bytes(stream[at + 17 : at + 20], "big")
        assert stream[at + 16] == 0x83
        value = stream[at + 20 : at + 20 + length]
        at += 20 + length
        if key == LENS:
            frames.append({})
        inside = 0
        while key in (LENS, CAMERA) and inside < length:
            tag, size = struct.unpack_from(">HH", value, inside)
            frames[-1][tag] = value[inside + 4 : inside + 4 + size]
            inside += 4 + size
    return frames


def distance(code):
    """Signed exponent in four bits, mantissa in twelve, in metres."""
    exponent = code >> 12
    return (code & 0xFFF) * 10.0 ** (exponent - 16 if exponent > 7 else exponent)


def check_what_mediainfo_decodes_of_our_stream(program, folder):
    """every field of every frame of a stream that the program wrote, as mediainfo decodes it:"""
    channels, stream = written(program, folder)
    path = folder / "asked.mxf"
    path.write_bytes(mxf(stream))
    _, found = mediainfo(path)
    # The stop codes have steps of 0.0085 %, distances three digits and a half.
    steps = {"f-number": 4.24e-5, "t-stop": 4.24e-5, "focus-distance": 0.00122, "equivalent-focal-length": 0.00122, "nominal-focal-length": 0.00122}
    absolute = {"iris-ring": 2**-17, "focus-ring": 2**-17, "zoom-ring": 2**-17, "shutter-angle": 1 / 120}
    compared = 0
    for ours, theirs, factor, half_digit in NUMBERS:
        assert len(found[theirs]) == 96, theirs
        for n, text in enumerate(found[theirs]):
            value = number(channels[ours]["values"][n])
            bound = steps.get(ours, 0) * value + absolute.get(ours, 0)
            assert abs(float(text) - factor * value) <= factor * bound + half_digit * 1.001 + 1e-9 * factor * value, (ours, n, text, value)
            compared += 1
    for ours, theirs in TEXTS.items():
        assert found[theirs] == channels[ours]["values"], (ours, found[theirs])
        compared += 96
    assert set(found["ImageSensorDimensionEffectiveWidth"]) == {"27.991"}
    assert set(found["ImageSensorDimensionEffectiveHeight"]) == {"19.220"}
    for n in range(96):
        num, den = map(int, found["ShutterSpeed_Time"][n].removesuffix(" s").split("/"))
        assert abs(num / den - channels["exposure-time"]["values"][n]) <= 2.4e-10
        part = found["NeutralDensityFilterWheelSetting"][n].removeprefix("1/").replace("Clear", "1")
        assert int(part) == channels["extra/NeutralDensityFilterWheelSetting"]["values"][n]
        compared += 2
    return f"{compared} values"


def check_the_bytes_of_our_stream(program, folder):
    """the stream decoded with struct, also what mediainfo does not show or shows with few digits:"""
    channels, stream = written(program, folder)
    frames = decoded(stream)
    assert len(frames) == 96
    compared = 0
    values = lambda name, n: number(channels[name]["values"][n])
    for n, items in enumerate(frames):
        short = lambda tag: struct.unpack(">H", items[tag])[0]
        for tag, name in ((0x8000, "f-number"), (0x8008, "t-stop")):
            stop = 2.0 ** (8 * (1 - short(tag) / 65536))
            assert abs(stop - values(name, n)) <= 4.24e-5 * stop
        for tag, name, metres in ((0x8001, "focus-distance", 1), (0x8004, "equivalent-focal-length", 1e-3), (0x8005, "nominal-focal-length", 1e-3)):
            assert abs(distance(short(tag)) - values(name, n) * metres) <= 0.00122 * values(name, n) * metres
            # No other code of the same value has a larger mantissa.
            assert short(tag) & 0xFFF >= 410
        for tag, name in ((0x8009, "iris-ring"), (0x800A, "focus-ring"), (0x800B, "zoom-ring")):
            assert abs(short(tag) / 65536 - values(name, n)) <= 2**-17
        (minutes,) = struct.unpack(">I", items[0x8108])
        assert abs(minutes / 60 - values("shutter-angle", n)) <= 1 / 120
        for tag, name in ((0x8106, "capture-rate"), (0x8109, "exposure-time"), (0x8111, "extra/CameraKneeSlope")):
            num, den = struct.unpack(">II", items[tag])
            assert abs(num / den - values(name, n)) <= 2.4e-10 * values(name, n)
        assert items[0x3219].hex() == "060e2b34040101060401010103030000"
        assert abs(distance(short(0x8002)) - values("extra/FocusPositionFromFrontLensVertex", n)) < 1e-12
        assert short(0x8104) == 27991 and short(0x8105) == 19220
        assert list(items) == sorted(items, key=lambda tag: (tag not in range(0x8000, 0x800C), tag))
        compared += 15
    assert {tuple(struct.unpack(">II", items[0x8106])) for items in frames} == {(24, 1), (24000, 1001), (120, 1), (30000, 1001)}
    assert (1001, 60000) in {struct.unpack(">II", items[0x8109]) for items in frames}
    return f"{compared} values"


def check_our_reader_in_a_container(program, folder):
    """every field of the reference container, read by the program and by mediainfo:"""
    _, found = mediainfo(REFERENCE / "rack_48f.mxf")
    (document,) = take(program, REFERENCE / "rack_48f.mxf")["takes"]
    assert document["frames"] == 48
    return f"{compare(found, document['channels'], 48)} values"


def check_ancillary_packets_and_time(program, folder):
    """sets in ancillary packets behind pictures, edit rate and start time code:"""
    stream = (REFERENCE / "rack_48f.klv").read_bytes()
    frames = [stream[at : at + 299] for at in range(0, len(stream), 299)]
    compared = 0
    for rate, start, base, drop, label, size in (
        ((30000, 1001), 107892, 30, 1, "01:00:00;00", 254),
        ((24, 1), 86400 * 10, 24, 0, "10:00:00:00", 100),
    ):
        body = b"".join(klv(PICTURE, bytes(2000)) + ancillary(frame, size) for frame in frames)
        path = folder / f"ancillary{base}.mxf"
        path.write_bytes(mxf(body, header_metadata(rate, start, base, drop)))
        tracks, _ = mediainfo(path)
        (document,) = take(program, path)["takes"]
        # With header metadata mediainfo shows values of described tracks only.
        bare = folder / f"bare{base}.mxf"
        bare.write_bytes(mxf(body))
        compared += compare(mediainfo(bare)[1], document["channels"], 48)
        shown = [t["TimeCode_FirstFrame"] for t in tracks if "TimeCode_FirstFrame" in t]
        assert document["start_timecode"] == label and label in shown, (document["start_timecode"], shown)
        wanted = f"{rate[0]}/{rate[1]}" if rate[1] > 1 else str(rate[0])
        assert document["frame_rate"] == wanted, document["frame_rate"]
        assert document["counting"] == ("drop-frame" if drop else "non-drop")
        rates = [float(t["FrameRate"]) for t in tracks if "FrameRate" in t]
        assert any(math.isclose(r, rate[0] / rate[1], rel_tol=1e-4) for r in rates), rates
        compared += 4
    return f"{compared} values"
