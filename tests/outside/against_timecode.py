"""Time code labels against opentimelineio (PyPI), which counts as SMPTE ST 12-1 does."""

import subprocess

from opentimelineio import opentime
from ringmark import ROOT

DAY = {  # rate: frames a day, by SMPTE ST 12-1 counting
    ("30000/1001", True): 2_589_408,
    ("60000/1001", True): 5_178_816,
    ("24000/1001", False): 24 * 86400,
    ("24", False): 24 * 86400,
    ("25", False): 25 * 86400,
    ("30000/1001", False): 30 * 86400,
    ("30", False): 30 * 86400,
    ("48000/1001", False): 48 * 86400,
    ("48", False): 48 * 86400,
    ("50", False): 50 * 86400,
    ("60000/1001", False): 60 * 86400,
    ("60", False): 60 * 86400,
}


def ours(rate, lines, drop=False):
    arguments = ["cargo", "run", "--release", "--quiet", "-p", "ringmark-quantity", "--example", "timecode", "--", rate]
    if drop:
        arguments.append("drop")
    done = subprocess.run(
        arguments, input="\n".join(lines), capture_output=True, text=True, cwd=ROOT, check=True
    )
    return done.stdout.splitlines()


def value(rate):
    num, _, den = rate.partition("/")
    return int(num) / int(den or 1)


def theirs(frame, rate, drop):
    return opentime.to_timecode(opentime.RationalTime(frame, rate), rate, drop)


def compare(rate, drop, frames):
    number = value(rate)
    labels = [theirs(f, number, drop) for f in frames]
    written = ours(rate, map(str, frames), drop)
    assert written == labels, next((f, a, b) for f, a, b in zip(frames, written, labels) if a != b)
    counted = ours(rate, labels)
    back = [str(int(opentime.from_timecode(label, number).value)) for label in labels]
    assert counted == back, next((l, a, b) for l, a, b in zip(labels, counted, back) if a != b)
    return len(labels)


def check_every_label_of_a_day_at_2997_drop(program, folder):
    """every label of a day at 29.97 drop-frame, both ways:"""
    return compare("30000/1001", True, range(DAY["30000/1001", True]))


def check_samples_at_all_rates(program, folder):
    """every 997th frame at the other rates, both ways:"""
    total = 0
    for (rate, drop), day in DAY.items():
        # At x/1001 rates without drop-frame the library wraps its labels after 86,400 s of real
        # time, the standard after 24 h of labels: the last 0.1 % of the day is left out.
        last = day if drop or "/" not in rate else int(day * 0.998)
        total += compare(rate, drop, range(0, last, 997))
    return total
