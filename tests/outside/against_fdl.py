"""Framing Decision Lists built by asc-fdl (PyPI), the standard's own library."""

import json
import random

from fdl import FDL, DimensionsFloat, DimensionsInt, read_from_file
from ringmark import run, take

UUID = "5b0a6b8e-4c0f-4f7d-9a56-0b4b7c1f5e2{}"


def built(chance, version):
    """A list with recorded and derived canvases, and what the recorded ones are."""
    document = FDL(uuid=UUID.format(version), fdl_creator="check")
    expected = []
    for camera in "ABC":
        context = document.add_context(label=f"camera {camera}")
        for n in range(chance.randint(1, 4)):
            raster = DimensionsInt(width=chance.randint(1, 9000), height=chance.randint(1, 9000))
            squeeze = chance.choice([1.0, 1.25, 1.33, 1.5, 1.65, 1.8, 2.0, chance.uniform(0.5, 3.0)])
            canvas = context.add_canvas(
                id=f"{camera}{n}",
                label=f"mode {n}",
                source_canvas_id=f"{camera}{n}",
                dimensions=raster,
                anamorphic_squeeze=squeeze,
            )
            physical = None
            if chance.random() < 0.7:
                physical = DimensionsFloat(width=chance.uniform(5, 60), height=chance.uniform(5, 60))
                canvas.physical_dimensions = physical
            expected.append((canvas.id, squeeze, raster, physical))
            if chance.random() < 0.5:
                context.add_canvas(
                    id=f"{camera}{n}_flat",
                    label="desqueezed",
                    source_canvas_id=f"{camera}{n}",
                    dimensions=DimensionsInt(width=2 * raster.width, height=raster.height),
                    anamorphic_squeeze=1.0,
                )
    return document, expected


def check_squeeze_and_sizes(program, folder):
    """squeeze, sensor and raster of every recorded canvas in 20 lists:"""
    chance = random.Random(20)
    compared = 0
    for n in range(20):
        document, expected = built(chance, n % 10)
        path = folder / f"list{n}.fdl"
        path.write_text(json.dumps(document.as_dict(), indent=chance.choice([None, 2])))
        read_from_file(path)  # the library itself finds nothing wrong
        read = take(program, path)
        assert len(read["takes"]) == len(read["lenses"]) == len(expected), path
        for index, (name, squeeze, raster, physical) in enumerate(expected):
            one = read["takes"][index]
            assert one["lens"] == index and one["frames"] == 0
            assert one["extras"]["canvas-id"] == name, one
            assert read["lenses"][index]["squeeze"] == squeeze, (name, squeeze)
            assert one["resolution"] == [raster.width, raster.height], one
            sensor = one.get("sensor_mm")
            assert sensor == (physical and [physical.width, physical.height]), (sensor, physical)
            compared += 1
    return f"{compared} canvases"


def check_a_sound_list_is_quiet(program, folder):
    """a list that the library finds valid has no findings:"""
    document, expected = built(random.Random(21), 0)
    path = folder / "list.fdl"
    path.write_text(json.dumps(document.as_dict()))
    said = run(program, "check", path).stdout
    assert "no findings" in said, said
    shown = run(program, "show", path).stdout
    assert shown.count("Take ") >= len(expected), shown
    return "no findings"
