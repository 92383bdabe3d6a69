"""OpenTrackIO output against the published schema's rules, with PyPI's jsonschema."""

import json

import jsonschema
from ringmark import ROOT, run

SCHEMA = json.loads((ROOT / "tests/standards/opentrackio/schema_v1_rebuilt.json").read_text())


def samples(program, *inputs):
    out = run(program, "convert", *inputs, "--to", "opentrackio").stdout
    return [json.loads(line) for line in out.splitlines()]


def check_what_is_written_is_valid(program, folder):
    """every sample written from every good take of samples/ is valid:"""
    validator = jsonschema.Draft202012Validator(SCHEMA)
    total = 0
    for source in ["A012C003.csv", "B007C001.csv", "plates/A012C003.####.exr"]:
        written = samples(program, ROOT / "samples" / source)
        assert written
        for sample in written:
            errors = list(validator.iter_errors(sample))
            assert not errors, (source, errors[0])
        total += len(written)
    return total


def check_units(program, folder):
    """metres stay metres, entrance pupil goes to metres, counts and rates stay whole"""
    table = folder / "t.csv"
    table.write_text(
        "# document: take\n# frame rate: 24000/1001\n# timecode: non-drop\n# measured from: image plane\n"
        "frame,timecode,focus distance [ft],entrance pupil offset [mm],T-stop\n"
        "1,01:00:00:00,10,125,2.8\n2,01:00:00:01,inf,-12.5,2.8\n"
    )
    first, second = samples(program, table)
    assert first["lens"]["focusDistance"] == 3.048
    assert first["lens"]["entrancePupilOffset"] == 0.125
    assert second["lens"]["entrancePupilOffset"] == -0.0125
    assert "focusDistance" not in second["lens"], "infinity has no coding in the standard"
    assert first["timing"]["timecode"]["frameRate"] == {"num": 24000, "denom": 1001}
