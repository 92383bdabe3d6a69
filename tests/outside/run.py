#!/usr/bin/env python3
"""Checks the built program against independent libraries. Usage: run.py PROGRAM

Each module beside this one holds the checks against one library and says which; every function
called `check_…` is one check. The last line counts them.
"""

import importlib
import pathlib
import sys
import tempfile
import traceback

MODULES = ["timecode", "openexr", "opentrackio", "delimited", "usd", "exif", "ebucore", "fdl", "acquisition_klv", "opencv", "scipy", "reports", "browser"]


def main():
    program = pathlib.Path(sys.argv[1]).resolve()
    sys.path.insert(0, str(pathlib.Path(__file__).parent))
    passed = failed = 0
    for name in MODULES:
        module = importlib.import_module(f"against_{name}")
        for check in [v for k, v in sorted(vars(module).items()) if k.startswith("check_")]:
            with tempfile.TemporaryDirectory() as folder:
                try:
                    said = check(program, pathlib.Path(folder))
                    passed += 1
                    print(f"{name}: {check.__doc__.splitlines()[0]} {said or ''}")
                except Exception:
                    failed += 1
                    print(f"FAILED {name}: {check.__name__}")
                    traceback.print_exc(file=sys.stdout)
    print(f"{passed} passed, {failed} failed")
    return 1 if failed or not passed else 0


if __name__ == "__main__":
    sys.exit(main())
