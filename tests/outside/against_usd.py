"""Cameras written and read by usd-core (PyPI, the reference implementation of OpenUSD)."""

import json
import math
import random
import struct

from pxr import Gf, Sdf, Usd, UsdGeom
from ringmark import number, run, take

UNITS = (0.01, 1.0, 0.001)

# Attribute, channel, and what leads from the file's number to the unit of the neutral form:
# lens lengths are tenths of a scene unit, distances whole ones (usdGeom's schema).
ATTRIBUTES = {
    "focalLength": ("pinhole-focal-length", lambda unit: unit * 100),
    "focusDistance": ("focus-distance", lambda unit: unit),
    "fStop": ("f-number", lambda unit: 1),
    "exposure:iso": ("sensitivity", lambda unit: 1),
    "exposure:time": ("exposure-time", lambda unit: 1),
}


def single(value):
    """The 32-bit float that is stored."""
    return struct.unpack("<f", struct.pack("<f", value))[0]


def near(found, expected, bound=1e-7):
    """32-bit floats are within 6e-8."""
    if math.isnan(expected) or math.isinf(expected):
        return str(found) == str(expected)
    return abs(found - expected) <= bound * abs(expected)


def document(first, frames, chance):
    """A take of an anamorphic zoom in the neutral form."""

    def column(unit, low, high, **more):
        values = [chance.uniform(low, high) for _ in range(frames)]
        return {"unit": unit, "origin": "recorded", "values": values, **more}

    channels = {
        "frame": {"origin": "recorded", "values": list(range(first, first + frames))},
        "focus-distance": column("m", 0.6, 30.0, reference="entrance-pupil"),
        "pinhole-focal-length": column("mm", 32.0, 75.0),
        "f-number": column("f", 1.9, 11.0),
        "t-stop": column("T", 2.0, 11.0),
        "exposure-time": column("s", 0.01, 0.04),
        "sensitivity": {"unit": "ISO", "origin": "recorded", "values": [800] * frames},
        "shutter-angle": {"unit": "deg", "origin": "recorded", "values": [172.8] * frames},
        "timecode": {"origin": "recorded", "values": [f"01:00:00:{n % 24:02d}" for n in range(frames)]},
    }
    channels["focus-distance"]["values"][3] = "inf"
    channels["focus-distance"]["values"][5] = None
    channels["t-stop"]["values"][7] = None
    # A long run in the middle that does not change.
    channels["f-number"]["values"][10:20] = [2.8] * 10
    return {
        "lens_data": "1.0",
        "lenses": [{"maker": "Brannvik", "model": "Zoom 32-75", "squeeze": 1.8}],
        "takes": [
            {
                "clip": "A017 C003/ä",
                "lens": 0,
                "sensor_mm": [23.98, 20.15],
                "frame_rate": "24000/1001",
                "frames": frames,
                "channels": channels,
            }
        ],
    }


def written(program, folder, unit):
    """The neutral form, and the stage that the program made of it."""
    source = folder / f"a{unit}.take.json"
    source.write_text(json.dumps(document(1001, 48, random.Random(5))), encoding="utf-8")
    out = folder / f"a{unit}.usda"
    run(program, "convert", source, "--to", "usd-camera", "--option", f"metersPerUnit={unit}", "-o", out)
    (read,) = take(program, source)["takes"]
    return read, Usd.Stage.Open(str(out)), out


def check_what_the_program_writes(program, folder):
    """every attribute at every frame of stages in cm, m and mm:"""
    compared = 0
    for unit in UNITS:
        read, stage, _ = written(program, folder, unit)
        assert UsdGeom.GetStageMetersPerUnit(stage) == unit
        assert UsdGeom.GetStageUpAxis(stage) == UsdGeom.Tokens.y
        assert stage.GetTimeCodesPerSecond() == stage.GetFramesPerSecond() == 24000 / 1001
        assert (stage.GetStartTimeCode(), stage.GetEndTimeCode()) == (1001, 1048)
        prim = stage.GetDefaultPrim()
        assert prim.GetTypeName() == "Camera" and prim.GetName() == "A017_C003__"
        kept = prim.GetCustomData()["ringmark"]
        assert kept["take"]["clip"] == "A017 C003/ä"
        camera = UsdGeom.Camera(prim)
        for n, frame in enumerate(range(1001, 1049)):
            for name, (channel, factor) in ATTRIBUTES.items():
                value = number(read["channels"][channel]["values"][n])
                found = prim.GetAttribute(name).Get(frame)
                if math.isnan(value):
                    assert found is None, (name, frame, found)
                elif unit == 0.01 and math.isfinite(value):
                    # Centimetres are the unit that the writer asks for: rounded once.
                    assert found == single(value / factor(unit)), (name, frame, found, value)
                else:
                    assert near(found * factor(unit), value), (name, frame, found, value)
                compared += 1
            opened, closed = camera.GetShutterOpenAttr().Get(frame), camera.GetShutterCloseAttr().Get(frame)
            assert near(360 * (closed - opened), 172.8, 1e-12)
            t_stop = number(read["channels"]["t-stop"]["values"][n])
            found = prim.GetAttribute("ringmark:tStop").Get(frame)
            assert (found is None) if math.isnan(t_stop) else found == t_stop, (frame, found, t_stop)
            label = prim.GetAttribute("ringmark:timecode").Get(frame)
            assert label == read["channels"]["timecode"]["values"][n], (frame, label)
            compared += 3
        # What never changes is no animation.
        assert not camera.GetShutterOpenAttr().ValueMightBeTimeVarying()
        assert not prim.GetAttribute("exposure:iso").ValueMightBeTimeVarying()
    return f"{compared} values"


def check_field_of_view(program, folder):
    """the field of view of Gf.Camera equals that of sensor, squeeze and focal length:"""
    compared = 0
    for unit in UNITS:
        read, stage, _ = written(program, folder, unit)
        camera = UsdGeom.Camera(stage.GetDefaultPrim())
        width, height = read["sensor_mm"]
        for n, frame in enumerate(range(1001, 1049)):
            focal_length = read["channels"]["pinhole-focal-length"]["values"][n]
            view = camera.GetCamera(frame)
            for across, direction in (
                (width * 1.8, Gf.Camera.FOVHorizontal),
                (height, Gf.Camera.FOVVertical),
            ):
                expected = math.degrees(2 * math.atan(across / (2 * focal_length)))
                found = view.GetFieldOfView(direction)
                # Two 32-bit floats, and the class computes in 32 bits.
                assert near(found, expected, 5e-7), (unit, frame, found, expected)
                compared += 1
    return f"{compared} views"


def check_what_was_written_reads_back(program, folder):
    """the program reads its own stages to the same take, but for 32-bit floats"""
    for unit in UNITS:
        read, _, out = written(program, folder, unit)
        back = take(program, out)
        (again,) = back["takes"]
        assert back["lenses"][again["lens"]]["squeeze"] == 1.8
        for key in ("clip", "sensor_mm", "frame_rate", "frames"):
            assert again[key] == read[key], (key, again[key], read[key])
        rounded = {channel for channel, _ in ATTRIBUTES.values()}
        assert again["channels"].keys() == read["channels"].keys()
        for channel, column in read["channels"].items():
            for found, value in zip(again["channels"][channel]["values"], column["values"], strict=True):
                if channel in rounded:
                    assert near(number(found), number(value)), (channel, found, value)
                else:
                    assert found == value, (channel, found, value)
        second = folder / "second.usda"
        run(program, "convert", out, "--to", "usd-camera", "--option", f"metersPerUnit={unit}", "-o", second, "--force")
        third = folder / "third.usda"
        run(program, "convert", second, "--to", "usd-camera", "--option", f"metersPerUnit={unit}", "-o", third, "--force")
        if unit == 0.01:
            assert second.read_bytes() == out.read_bytes()
        assert third.read_bytes() == second.read_bytes()


def authored(path, unit, chance, codes, frames):
    """A stage as another program may write it; gives back its cameras' paths."""
    stage = Usd.Stage.CreateNew(str(path))
    if unit:
        UsdGeom.SetStageMetersPerUnit(stage, unit)
    stage.SetTimeCodesPerSecond(codes)
    stage.SetFramesPerSecond(frames)
    step = codes / frames
    stage.SetStartTimeCode(-3 * step)
    stage.SetEndTimeCode(30 * step)
    paths = ["/World/Rig/Left", "/World/Rig/Right"]
    for path in paths:
        camera = UsdGeom.Camera.Define(stage, path)
        prim = camera.GetPrim()
        for name, low, high in (
            ("focalLength", 10.0, 90.0),
            ("focusDistance", 50.0, 3000.0),
            ("fStop", 1.4, 22.0),
            ("exposure:iso", 100.0, 1600.0),
            ("exposure:time", 0.001, 0.04),
        ):
            # The USD schema keeps older names where a library is older.
            attribute = prim.GetAttribute(name) or prim.CreateAttribute(name, Sdf.ValueTypeNames.Float)
            keys = chance.sample(range(-5, 34), chance.randrange(0, 25))
            if not keys:
                attribute.Set(chance.uniform(low, high))
            for key in keys:
                # Frames, and times between them.
                time = step * (key + (0.25 if chance.random() < 0.2 else 0))
                blocked = chance.random() < 0.15
                attribute.Set(Sdf.ValueBlock() if blocked else chance.uniform(low, high), time)
        camera.GetHorizontalApertureAttr().Set(chance.uniform(10.0, 40.0))
        camera.GetVerticalApertureAttr().Set(chance.uniform(10.0, 30.0))
        camera.AddTranslateOp().Set(Gf.Vec3d(1, 2, 3), 4)
        prim.CreateAttribute("shop:tStop", Sdf.ValueTypeNames.Double).Set(2.75, 4)
        note = prim.CreateAttribute("shop:note", Sdf.ValueTypeNames.String)
        for key in range(0, 30, 7):
            note.Set(f"\"{key}\" ä\n\\", key * step)
    stage.Save()
    return paths


def shuffled(text, chance):
    """The same layer with the samples of each number in another order."""
    out, samples = [], None
    for line in text.splitlines():
        if samples is None:
            out.append(line)
            if line.endswith(".timeSamples = {") and " float " in f" {line.strip()}":
                samples = []
        elif line.strip() == "}":
            chance.shuffle(samples)
            out += [*samples, line]
            samples = None
        else:
            samples.append(line)
    return "\n".join(out) + "\n"


def compare(program, path, unit, paths):
    stage = Usd.Stage.Open(str(path))
    takes = take(program, path)["takes"]
    assert [t["clip"] for t in takes] == paths
    step = stage.GetTimeCodesPerSecond() / stage.GetFramesPerSecond()
    compared = 0
    for read, name in zip(takes, paths, strict=True):
        prim = stage.GetPrimAtPath(name)
        assert read["channels"]["frame"]["values"] == list(range(-3, 31))
        for size, attribute in zip(read["sensor_mm"], ("horizontalAperture", "verticalAperture"), strict=True):
            assert near(size, prim.GetAttribute(attribute).Get() * unit * 100, 1e-14)
        columns = {**ATTRIBUTES, "shop:tStop": ("extra/shop:tStop", lambda unit: 1)}
        for attribute, (channel, factor) in columns.items():
            values = read["channels"].get(channel, {}).get("values") or [None] * 34
            for frame, found in zip(range(-3, 31), values, strict=True):
                expected = prim.GetAttribute(attribute).Get(frame * step)
                expected = math.nan if expected is None else expected * factor(unit)
                assert near(number(found), expected, 1e-14), (attribute, frame, found, expected)
                compared += 1
        for frame, found in zip(range(-3, 31), read["channels"]["extra/shop:note"]["values"], strict=True):
            assert found == prim.GetAttribute("shop:note").Get(frame * step)
            compared += 1
    return compared


def check_what_the_library_writes(program, folder):
    """stages of several units with different keys, blocks and unsorted samples:"""
    compared = 0
    for n in range(24):
        chance = random.Random(n)
        unit = [None, 0.01, 1.0, 0.001, 0.0254, 0.3048, 0.1, 0.5][n % 8]
        codes, frames = [(24, 24), (25, 25), (24000 / 1001, 24000 / 1001), (48, 24), (6000, 24), (24, 30)][n % 6]
        path = folder / f"{n}.usda"
        paths = authored(path, unit, chance, codes, frames)
        compared += compare(program, path, unit or 0.01, paths)
        text = shuffled(path.read_text(encoding="utf-8"), chance)
        path = folder / f"{n}_shuffled.usda"
        path.write_text(text, encoding="utf-8")
        compared += compare(program, path, unit or 0.01, paths)
    return f"{compared} values"


def check_a_binary_file_is_refused(program, folder):
    """a .usdc file of the library is refused, with help"""
    path = folder / "a.usd"
    stage = Usd.Stage.CreateNew(str(folder / "a.usdc"))
    UsdGeom.Camera.Define(stage, "/c").GetFocalLengthAttr().Set(35.0)
    stage.Save()
    (folder / "a.usdc").rename(path)
    done = run(program, "convert", path, "--to", "take.json", status=2)
    assert "usdcat" in done.stderr, done.stderr


def check_two_takes_on_one_stage(program, folder):
    """two takes with different frames are two cameras that usd-core opens"""
    chance = random.Random(9)
    both = document(1001, 24, chance)
    other = document(1013, 30, chance)["takes"][0]
    other["channels"]["frame"]["values"][20:] = range(1040, 1050)
    both["takes"].append(other)
    source, out = folder / "two.take.json", folder / "two.usda"
    source.write_text(json.dumps(both), encoding="utf-8")
    run(program, "convert", source, "--to", "usd-camera", "-o", out)
    stage = Usd.Stage.Open(str(out))
    prims = [p for p in stage.Traverse() if p.IsA(UsdGeom.Camera)]
    assert [p.GetName() for p in prims] == ["A017_C003__", "A017_C003___2"]
    assert (stage.GetStartTimeCode(), stage.GetEndTimeCode()) == (1001, 1049)
    expected = take(program, source)["takes"]
    for prim, read, again in zip(prims, expected, take(program, out)["takes"], strict=True):
        assert again["channels"]["frame"]["values"] == read["channels"]["frame"]["values"]
        for frame, value in zip(read["channels"]["frame"]["values"], read["channels"]["f-number"]["values"], strict=True):
            assert prim.GetAttribute("fStop").Get(frame) == single(value)
