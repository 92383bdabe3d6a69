"""EBUCore acquisition data against a generic XML Schema validator (PyPI xmlschema) and other XML
libraries: Python's own ElementTree reads what the program writes, PyPI's lxml writes what it reads."""

import math
import random
import xml.etree.ElementTree as ElementTree

import xmlschema
from lxml import etree
from ringmark import ROOT, number, run, take

SCHEMA = ROOT / "tests/standards/ebucore/acquisition_subset.xsd"
DATA = ROOT / "plugins/ebucore/tests/data"
SPACE = "urn:ebu:metadata-schema:ebucore"
NAMES = {"e": SPACE}
SAMPLES = ["A012C003.csv", "B007C001.csv", "plates/A012C003.####.exr"]

# Parameter, channel, and factor from the parameter's unit to that of the neutral form.
CHANNELS = {
    "IrisFNumber": ("f-number", 1),
    "IrisTNumber": ("t-stop", 1),
    "IrisRingPosition": ("iris-ring", 0.01),
    "FocusPositionFromImagePlane": ("focus-distance", 1),
    "FocusRingPosition": ("focus-ring", 0.01),
    "ZoomRingPosition": ("zoom-ring", 0.01),
    "LensZoom35mmStillCameraEquivalent": ("equivalent-focal-length", 1),
    "LensZoomActualFocalLength": ("nominal-focal-length", 1),
    "CaptureFrameRate": ("capture-rate", 1),
    "ShutterSpeed_Angle": ("shutter-angle", 1),
    "ISOSensitivity": ("sensitivity", 1),
}
# What may stand in place of the actual focal length, the best first.
FOCAL_LENGTHS = ["nominal-focal-length", "effective-focal-length", "pinhole-focal-length"]

# A list of one item, as a schema; LENGTH is how strictly.
ONE_ITEM = """<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema">
  <xs:simpleType name="values"><xs:list itemType="xs:string"/></xs:simpleType>
  <xs:element name="v"><xs:simpleType>
    <xs:restriction base="values"><xs:LENGTH value="1"/></xs:restriction>
  </xs:simpleType></xs:element>
</xs:schema>"""


def schema():
    return xmlschema.XMLSchema(str(SCHEMA))


def label_frame(text, nominal, drop):
    """Frame of a label (SMPTE ST 12-1 rule, written out anew)."""
    hours, minutes, seconds, frames = (int(text[a:b]) for a, b in [(0, 2), (3, 5), (6, 8), (9, None)])
    minute = hours * 60 + minutes
    dropped = nominal // 15 if drop else 0
    return (minute * 60 + seconds) * nominal + frames - dropped * (minute - minute // 10)


def frame_label(frame, nominal, drop):
    """Label of a frame, by counting labels one minute after the other."""
    minute = 0
    while True:
        skipped = nominal // 15 if drop and minute % 10 else 0
        here = 60 * nominal - skipped
        if frame < here:
            break
        frame -= here
        minute += 1
    label = frame + skipped
    mark = ";" if drop else ":"
    return f"{minute // 60:02}:{minute % 60:02}:{label // nominal:02}{mark}{label % nominal:02}"


def item(text):
    """A number as acquisition data writes it."""
    return {"Infinite": math.inf, "-INF": -math.inf}.get(text) or float(text)


def read_plainly(path):
    """Values of every parameter, frame by frame, with nothing but ElementTree and the rules."""
    root = ElementTree.parse(path).getroot()
    data = root.find("e:coreMetadata/e:format/e:acquisitionData", NAMES)
    rate = data.find("e:acquisitionFrameRate", NAMES)
    factor = int(rate.get("factorNumerator", 1)) / int(rate.get("factorDenominator", 1))
    nominal = round(int(rate.text) * factor)
    start = data.find("e:extractionStartTime", NAMES)
    drop = start is not None and start.get("dropframe") == "true"
    values, labels = {}, []
    for segment in data.findall("e:segmentParameterDataOutput/e:segment", NAMES):
        first, end = (label_frame(segment.get(k), nominal, drop) for k in ("startTime", "endTime"))
        begun = len(labels)
        labels += [frame_label(frame, nominal, drop) for frame in range(first, end)]
        for parameter in segment.findall("e:parameter", NAMES):
            column = values.setdefault(parameter.get("name"), [])
            column += [None] * (begun - len(column))
            # White space of XML only: str.split() would also split at a no-break space.
            items = [x for x in parameter.text.replace("\n", " ").split(" ") if x]
            interval = parameter.get("interval")
            column += items if interval else [" ".join(items)] * (end - first)
            assert len(column) == len(labels), parameter.get("name")
    for column in values.values():
        column += [None] * (len(labels) - len(column))
    return values, labels


def check_what_is_written_is_valid(program, folder):
    """every document written from the good takes of samples/ is valid by the schema's rules:"""
    validator, total = schema(), 0
    for n, source in enumerate(SAMPLES):
        out = folder / f"{n}.ebucore.xml"
        run(program, "convert", ROOT / "samples" / source, "-o", out)
        validator.validate(str(out))
        etree.XMLSchema(etree.parse(str(SCHEMA))).assertValid(etree.parse(str(out)))
        total += 1
    validator.validate(str(DATA / "segment_parameter.xml"))
    for bad in ["<a/>", (DATA / "malformed/ebucore_bad_timecode.xml").read_text()]:
        assert not validator.is_valid(bad.encode() if bad != "<a/>" else bad), "the schema refuses nothing"
    return total


def check_every_value_that_is_written(program, folder):
    """every value of samples/, read with ElementTree, is what the neutral form says:"""
    compared = 0
    for n, source in enumerate(SAMPLES):
        out = folder / f"{n}.ebucore.xml"
        run(program, "convert", ROOT / "samples" / source, "-o", out)
        values, labels = read_plainly(out)
        (known,) = take(program, ROOT / "samples" / source)["takes"]
        channels = known["channels"]
        assert labels == channels["timecode"]["values"], source
        for parameter, (channel, factor) in CHANNELS.items():
            if channel == "nominal-focal-length":
                channel = next((c for c in FOCAL_LENGTHS if c in channels), channel)
            if channel not in channels or parameter not in values:
                assert channel not in channels, (source, parameter)
                continue
            for frame, expected in enumerate(channels[channel]["values"]):
                got = values[parameter][frame]
                got = math.nan if got is None else item(got) * factor
                expected = number(expected)
                same = math.isclose(got, expected, rel_tol=1e-15) or (got != got and expected != expected)
                assert same, (source, parameter, frame, got, expected)
                compared += 1
    assert compared > 100, compared
    return f"{compared} values"


def check_values_parameter_by_parameter(program, folder):
    """600 frames of drop-frame, written with lxml parameter by parameter, are read to the same values:"""
    chance, count, nominal = random.Random(33), 600, 30
    first = label_frame("09:59:50;00", nominal, True)
    label = lambda frame: frame_label(first + frame, nominal, True)
    columns = {
        "FocusPositionFromImagePlane": ("meter", [round(chance.uniform(0.4, 40), 4) for _ in range(count)]),
        "FocusRingPosition": ("percentage", [round(chance.uniform(0, 100), 4) for _ in range(count)]),
        "IrisTNumber": (None, [round(chance.uniform(1.4, 22), 6) for _ in range(count)]),
        "LensZoomActualFocalLength": ("meter", [round(chance.uniform(0.02, 0.3), 6) for _ in range(count)]),
        "StageMarker": (None, [f"M{chance.randrange(4)}" for _ in range(count)]),
    }
    columns["FocusPositionFromImagePlane"][1][17] = "Infinite"
    root = etree.Element(f"{{{SPACE}}}ebuCoreMain", nsmap={None: SPACE}, version="1.10")
    data = make(make(make(root, "coreMetadata"), "format"), "acquisitionData")
    factors = {"factorNumerator": "1000", "factorDenominator": "1001"}
    make(data, "extractionStartTime", label(0), editRate="30", dropframe="true", **factors)
    make(data, "acquisitionFrameRate", "30", **factors)
    output = make(data, "parameterSegmentDataOutput")
    for name, (unit, values) in columns.items():
        parameter = make(output, "parameter", name=name)
        cuts = sorted({0, count, *(chance.randrange(1, count) for _ in range(7))})
        for start, end in zip(cuts, cuts[1:]):
            attributes = {"unit": unit} if unit else {}
            text = " ".join(map(str, values[start:end]))
            make(parameter, "segment", text, startTime=label(start), endTime=label(end), interval="1", **attributes)
    path = folder / "lxml.ebucore.xml"
    etree.ElementTree(root).write(str(path), xml_declaration=True, encoding="UTF-8", pretty_print=True)
    schema().validate(str(path))
    (read,) = take(program, path)["takes"]
    assert read["frames"] == count and read["counting"] == "drop-frame" and read["frame_rate"] == "30000/1001"
    channels, compared = read["channels"], 0
    assert channels["timecode"]["values"] == [label(frame) for frame in range(count)]
    for name, (unit, values) in columns.items():
        channel, factor = CHANNELS.get(name, (f"extra/{name}", 1))
        factor = 1000 if name == "LensZoomActualFocalLength" else factor
        for frame, expected in enumerate(values):
            got = channels[channel]["values"][frame]
            if name == "StageMarker":
                assert got == expected, (name, frame)
            else:
                expected = item(str(expected)) * factor
                assert math.isclose(number(got), expected, rel_tol=1e-14), (name, frame, got, expected)
            compared += 1
    # The other form of the same take gives the same values again.
    other = folder / "other.ebucore.xml"
    run(program, "convert", path, "-o", other)
    (again,) = take(program, other)["takes"]
    assert {k: v["values"] for k, v in again["channels"].items()} == {
        k: v["values"] for k, v in channels.items()
    }
    return f"{compared} values"


def make(parent, tag, text=None, **attributes):
    """Adds an element."""
    element = etree.SubElement(parent, f"{{{SPACE}}}{tag}", attributes)
    element.text = text
    return element


def check_texts_with_blanks_stay_one_item(program, folder):
    """a lens name with blanks is one item of the schema's list, and reads as it was written"""
    table = folder / "t.csv"
    table.write_text(
        "# document: take\n# frame rate: 25\n# timecode: non-drop\n"
        "frame,timecode,lens,T-stop\n1,01:00:00:00,Halden 32 #H32-0042,2\n2,01:00:00:01,Halden 32 #H32-0042,2\n"
    )
    out = folder / "t.ebucore.xml"
    run(program, "convert", table, "-o", out)
    written = ElementTree.parse(out).getroot().find(".//e:parameter[@name='LensAttributes']", NAMES).text
    # libxml2 splits a list where XML Schema says; xmlschema where Python does, also at a no-break space.
    element = etree.Element("v")
    element.text = written
    etree.XMLSchema(etree.fromstring(ONE_ITEM.replace("LENGTH", "length"))).assertValid(element)
    items = xmlschema.XMLSchema(ONE_ITEM.replace("LENGTH", "minLength")).decode(etree.tostring(element, encoding="unicode"))
    assert " ".join(items) == "Halden 32 #H32-0042", items
    (read,) = take(program, out)["takes"]
    assert read["channels"]["lens"]["values"] == ["Halden 32 #H32-0042"] * 2
