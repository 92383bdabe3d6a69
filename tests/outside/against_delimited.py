"""Delimited text against Python's csv module and float()."""

import csv
import math
import random

from ringmark import number, take


def check_numbers_and_quotes(program, folder):
    """5,000 random rows with quoted texts, every number to the last bit:"""
    chance = random.Random(5)
    path = folder / "t.csv"
    texts = ["", "plain", 'say "go"', "a,b", "two\nlines", " spaces ", "ünïcode", "'tick"]
    with path.open("w", newline="", encoding="utf-8") as file:
        file.write("# document: take\n# measured from: image plane\n")
        writer = csv.writer(file)
        writer.writerow(["frame", "focus distance [m]", "T-stop", "note"])
        for n in range(5000):
            distance = chance.choice(["", "inf", repr(chance.uniform(0.1, 100)), f"{chance.uniform(0.1, 9):.4f}"])
            stop = repr(2 ** chance.uniform(0, 5))
            writer.writerow([n, distance, stop, chance.choice(texts)])
    (read,) = take(program, path)["takes"]
    channels = read["channels"]
    with path.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("# ")))
    assert read["frames"] == len(rows) == 5000
    for n, row in enumerate(rows):
        want = float(row["focus distance [m]"]) if row["focus distance [m]"] else math.nan
        got = number(channels["focus-distance"]["values"][n])
        assert got == want or (math.isnan(got) and math.isnan(want)), (n, got, want)
        assert channels["t-stop"]["values"][n] == float(row["T-stop"]), n
        assert (channels["extra/note"]["values"][n] or "") == row["note"], n
    return f"{3 * len(rows)} values"
