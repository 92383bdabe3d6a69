"""Calls the program and reads its neutral output."""

import json
import math
import subprocess

ROOT = __import__("pathlib").Path(__file__).resolve().parents[2]


def run(program, *args, status=0):
    done = subprocess.run([str(program), *map(str, args)], capture_output=True, text=True)
    assert done.returncode == status, f"{args}: exit {done.returncode}\n{done.stdout}\n{done.stderr}"
    return done


def number(value):
    """A number of the neutral form: null is 'not recorded', "inf" is infinity."""
    if value is None:
        return math.nan
    return float(value) if isinstance(value, str) else value


def take(program, *inputs):
    """The document of the inputs in the neutral form, as a dict."""
    done = run(program, "convert", *inputs, "--to", "take.json")
    return json.loads(done.stdout)
