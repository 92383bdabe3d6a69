"""Stills tagged by piexif and Pillow, sidecars read and written by rdflib and exiv2 (Debian)."""

import random
import shutil
import subprocess
import xml.etree.ElementTree as ElementTree
from fractions import Fraction

import exifread
import piexif
import rdflib
from PIL import Image, TiffImagePlugin
from ringmark import number, run, take

EXIF = rdflib.Namespace("http://ns.adobe.com/exif/1.0/")
EXIF_EX = rdflib.Namespace("http://cipa.jp/exif/1.0/")
TIFF = rdflib.Namespace("http://ns.adobe.com/tiff/1.0/")
OWN = rdflib.Namespace("https://ringmark.invalid/ns/1.0/")
RDF = rdflib.RDF
IMAGE = Image.new("RGB", (16, 8))
INFINITY = (0xFFFFFFFF, 1)
RATIONALS = {
    "FNumber": ("f-number", piexif.ExifIFD.FNumber),
    "ExposureTime": ("exposure-time", piexif.ExifIFD.ExposureTime),
    "SubjectDistance": ("focus-distance", piexif.ExifIFD.SubjectDistance),
    "FocalLength": ("nominal-focal-length", piexif.ExifIFD.FocalLength),
}


def any_rational(chance):
    return chance.randint(1, 0xFFFFFFFE), chance.choice([1, 7, 10, 1000, chance.randint(1, 0xFFFFFFFE)])


def tags(chance, frame):
    """Tags of one still, and the values that a reader must see."""
    values = {name: any_rational(chance) for name in RATIONALS}
    if frame == 3:
        values["SubjectDistance"] = INFINITY
    shortest = chance.randint(10, 50)
    lens = [(shortest, 1), (shortest + 46, 1), (28, 10), (4, 1)]
    written = {RATIONALS[name][1]: value for name, value in values.items()}
    written |= {
        piexif.ExifIFD.FocalLengthIn35mmFilm: 20 + frame,
        piexif.ExifIFD.ISOSpeedRatings: 100 * (1 + frame % 8),
        piexif.ExifIFD.LensSpecification: lens,
        piexif.ExifIFD.LensMake: b"Halden Optikk",
        piexif.ExifIFD.LensModel: f"Vario {frame % 3} \u00e9".encode(),
        piexif.ExifIFD.LensSerialNumber: b"H-0042",
        piexif.ExifIFD.MaxApertureValue: (3, 1),
        piexif.ExifIFD.BodySerialNumber: b"K1-00017",
    }
    main = {piexif.ImageIFD.Make: b"Fjordlys", piexif.ImageIFD.Model: b"K1 Testbench"}
    return {"0th": main, "Exif": written, "1st": {}, "thumbnail": None}, values


def stills(folder, count=40):
    chance = random.Random(8)
    values = []
    for frame in range(count):
        exif, known = tags(chance, frame)
        IMAGE.save(str(folder / f"chart.{1 + frame:04}.jpg"), exif=piexif.dump(exif))
        values.append(known)
    return values


def meant(name, value):
    """A rational as a reader must deliver it."""
    return float("inf") if (name, value) == ("SubjectDistance", INFINITY) else value[0] / value[1]


def same(text, value):
    """Whether a written rational is the same 64-bit number, or the same marker; reduced it may be another one."""
    n, d = map(int, text.split("/"))
    return (n, d) == value if INFINITY in ((n, d), value) else n / d == value[0] / value[1]


def compare_stills(document, values):
    (read,) = document["takes"]
    channels = read["channels"]
    compared = 0
    for frame, known in enumerate(values):
        for name, (channel, _) in RATIONALS.items():
            got = number(channels[channel]["values"][frame])
            assert got == meant(name, known[name]), (frame, name, got, known[name])
            compared += 1
        assert channels["equivalent-focal-length"]["values"][frame] == 20 + frame
        assert channels["sensitivity"]["values"][frame] == 100 * (1 + frame % 8)
        assert channels["lens-model"]["values"][frame] == f"Vario {frame % 3} \u00e9"
        assert channels["frame"]["values"][frame] == 1 + frame
        compared += 4
    (lens,) = document["lenses"]
    assert (lens["maker"], lens["serial"]) == ("Halden Optikk", "H-0042"), lens
    assert read["camera"]["serial"] == "K1-00017", read["camera"]
    return compared


def check_tags_written_by_piexif(program, folder):
    """lens and exposure tags of 40 JPEG stills, as piexif wrote and exifread reads them:"""
    values = stills(folder)
    compared = compare_stills(take(program, folder / "chart.####.jpg"), values)
    for frame, known in enumerate(values):
        with open(folder / f"chart.{1 + frame:04}.jpg", "rb") as file:
            seen = exifread.process_file(file, details=False)
        for name in RATIONALS:
            ratio = seen[f"EXIF {name}"].values[0]
            assert Fraction(ratio.num, ratio.den) == Fraction(*known[name]), (frame, name)
    return f"{compared} values"


def check_tags_written_by_pillow(program, folder):
    """little-endian TIFF by Pillow"""
    tags = TiffImagePlugin.ImageFileDirectory_v2()
    tags[piexif.ImageIFD.Make] = "Fjordlys"
    tags[piexif.ImageIFD.ExifTag] = {
        piexif.ExifIFD.FNumber: TiffImagePlugin.IFDRational(28, 10),
        piexif.ExifIFD.FocalLength: TiffImagePlugin.IFDRational(129, 4),
    }
    IMAGE.save(str(folder / "a.tif"), tiffinfo=tags)
    (read,) = take(program, folder / "a.tif")["takes"]
    assert read["channels"]["f-number"]["values"] == [2.8]
    assert read["channels"]["nominal-focal-length"]["values"] == [32.25]
    assert read["resolution"] == [16, 8]
    assert read["camera"]["maker"] == "Fjordlys"


def graph_of(file):
    """The RDF of a sidecar: rdf:RDF inside x:xmpmeta, which itself is no RDF (ISO 16684-1)."""
    rdf = ElementTree.parse(file).find(f"{{{RDF}}}RDF")
    return rdflib.Graph().parse(data=ElementTree.tostring(rdf, encoding="unicode"), format="xml")


def sidecars(program, folder):
    values = stills(folder)
    stills_of_it = folder / "chart.####.jpg"
    run(program, "convert", stills_of_it, "--to", "exif-xmp", "--frames", stills_of_it, "-o", folder / "out")
    files = sorted((folder / "out").iterdir())
    assert len(files) == len(values), files
    return files, values


def check_sidecars_read_by_rdflib(program, folder):
    """sidecars beside 40 stills are RDF/XML with the same values for rdflib:"""
    files, values = sidecars(program, folder)
    compared = 0
    for frame, (file, known) in enumerate(zip(files, values)):
        graph = graph_of(file)
        (subject,) = {s for s in graph.subjects() if (s, EXIF.FNumber, None) in graph}
        for name in RATIONALS:
            text = str(graph.value(subject, EXIF[name]))
            assert same(text, known[name]), (frame, name, text, known[name])
            compared += 1
        assert str(graph.value(subject, EXIF_EX.PhotographicSensitivity)) == str(100 * (1 + frame % 8))
        assert str(graph.value(subject, EXIF_EX.LensModel)) == f"Vario {frame % 3} \u00e9"
        assert str(graph.value(subject, TIFF.Make)) == "Fjordlys"
        spec = graph.value(subject, EXIF_EX.LensSpecification)
        assert (spec, RDF.type, RDF.Seq) in graph
        assert [str(graph.value(spec, RDF[f"_{n}"])) for n in (3, 4)] == ["14/5", "4/1"]
        compared += 4
    compare_stills(take(program, folder / "out" / "chart.####.xmp"), values)
    return f"{compared} values"


def check_sidecars_written_by_rdflib(program, folder):
    """RDF/XML serialised by rdflib, plain and abbreviated, is read as it is meant"""
    graph = rdflib.Graph()
    still = rdflib.URIRef("")
    for name, text in [("FNumber", "19/10"), ("SubjectDistance", "4294967295/1"), ("FocalLength", "129/4")]:
        graph.add((still, EXIF[name], rdflib.Literal(text)))
    graph.add((still, EXIF_EX.LensModel, rdflib.Literal("a < b & \"c\" \u2713")))
    spec = rdflib.BNode()
    graph.add((still, EXIF_EX.LensSpecification, spec))
    graph.add((spec, RDF.type, RDF.Seq))
    for place, text in enumerate(["24/1", "70/1", "0/0", "4/1"]):
        graph.add((spec, RDF[f"_{place + 1}"], rdflib.Literal(text)))
    path = folder / "a.xmp"
    graph.serialize(str(path), format="pretty-xml", encoding="utf-8")
    document = take(program, path)
    (read,) = document["takes"]
    assert read["channels"]["f-number"]["values"] == [1.9], read["channels"]
    assert read["channels"]["focus-distance"]["values"] == ["inf"]
    assert read["channels"]["nominal-focal-length"]["values"] == [32.25]
    assert read["channels"]["lens-model"]["values"] == ["a < b & \"c\" \u2713"]


def exiv2(*args):
    done = subprocess.run(["exiv2", *map(str, args)], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return done.stdout


def check_sidecars_against_exiv2(program, folder):
    """exiv2 reads the sidecars, and the program reads what exiv2 edits:"""
    if shutil.which("exiv2") is None:
        return "not done, exiv2 is not here"
    files, values = sidecars(program, folder)
    compared = 0
    for frame, (file, known) in enumerate(zip(files, values)):
        lines = (line.split(None, 1) for line in exiv2("-PXkv", file).splitlines())
        seen = {line[0]: line[1].strip() for line in lines if len(line) == 2}
        for name in RATIONALS:
            text = seen[f"Xmp.exif.{name}"]
            assert same(text, known[name]), (frame, name, text, known[name])
            compared += 1
        assert seen["Xmp.exifEX.LensModel"] == f"Vario {frame % 3} \u00e9", seen
        assert seen["Xmp.exifEX.LensSpecification"].endswith("14/5, 4/1"), seen
        compared += 2
    # In sidecars exiv2 makes properties from its Exif view; it writes them as attributes.
    far = "set Exif.Photo.SubjectDistance Rational 4294967295/1"
    exiv2("-M", "set Exif.Photo.FNumber Rational 22/10", "-M", far, files[0])
    (read,) = take(program, files[0])["takes"]
    assert read["channels"]["f-number"]["values"] == [2.2]
    assert read["channels"]["focus-distance"]["values"] == ["inf"]
    assert read["channels"]["frame"]["values"] == [1]
    # In images it leaves the Exif part as it is: that one counts.
    still = folder / "chart.0002.jpg"
    exiv2("-M", "set Xmp.exif.FocalLength 99/1", still)
    done = run(program, "convert", still, "--to", "take.json")
    assert "exif-and-xmp-disagree" in done.stderr and "99 in XMP" in done.stderr, done.stderr
    return f"{compared} values"


def check_what_has_no_property_is_kept(program, folder):
    """a T-stop is no f-number for rdflib, and comes back for the program"""
    table = folder / "t.csv"
    table.write_text("frame,T-stop,focus distance [m]\n7,2.1,1.5\n")
    IMAGE.save(str(folder / "s.0007.jpg"))
    run(program, "convert", table, "--to", "exif-xmp", "--frames", folder / "s.####.jpg", "-o", folder / "out")
    (file,) = (folder / "out").iterdir()
    graph = graph_of(file)
    assert (None, EXIF.FNumber, None) not in graph and (None, EXIF.ApertureValue, None) not in graph
    assert "3/2" in {str(o) for o in graph.objects(None, EXIF.SubjectDistance)}
    assert "2.1" in {str(o) for o in graph.objects(None, OWN.number)}
    (read,) = take(program, file)["takes"]
    assert read["channels"]["t-stop"]["values"] == [2.1]
    assert read["channels"]["frame"]["values"] == [7]
