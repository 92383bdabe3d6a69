"""Reports for other programs against the schema of their standard and independent readers.

SARIF: the JSON Schema that OASIS publishes (tests/standards/sarif), by the library jsonschema of PyPI. JUnit: the
library junitparser of PyPI, which reads what CI servers read. Both are compared with the JSON report of the same run.
"""

import json
import subprocess
import urllib.parse

import jsonschema
from junitparser import Error, Failure, JUnitXml
from ringmark import ROOT

SCHEMA = ROOT / "tests/standards/sarif/sarif-schema-2.1.0.json"
INPUTS = ["samples/faulty", "samples/A012C003.csv", "samples/plates"]


def reports(program, folder, *arguments):
    """The reports of one run, as text, by kind."""
    kinds = ["json", "sarif", "junit"]
    asked = [f"--report={kind}={folder / kind}" for kind in kinds]
    cut_off = folder / "cut & off <1>.lens.json"
    cut_off.write_text('{"lens_data": "1.0", "lenses": [', encoding="utf-8")
    command = [program, "check", *INPUTS, cut_off, *asked, *arguments]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 2, done.stderr
    return {kind: (folder / kind).read_text(encoding="utf-8") for kind in kinds}


def check_sarif_is_valid(program, folder):
    """SARIF is valid by the schema of OASIS and has every finding once, at its place."""
    made = reports(program, folder)
    log, ours = json.loads(made["sarif"]), json.loads(made["json"])
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    jsonschema.Draft7Validator(schema).validate(log)
    (run_,) = log["runs"]
    assert not any(r.get("suppressions") for r in run_["results"])

    def of_sarif(result):
        place = result["locations"][0]["physicalLocation"]
        region = place.get("region", {})
        return (
            result["ruleId"],
            result["level"],
            result["message"]["text"].split("\n")[0],
            urllib.parse.unquote(place["artifactLocation"]["uri"]).removeprefix("file://"),
            region.get("startLine"),
            region.get("startColumn"),
        )

    def of_json(finding):
        place = finding["place"] or {"file": finding["file"], "line": None, "column": None}
        return (
            finding["check"],
            finding["severity"],
            finding["message"],
            place["file"],
            place["line"],
            place["column"],
        )

    found = [of_sarif(r) for r in run_["results"]]
    assert found == [of_json(f) for f in ours["findings"]] and len(found) > 15
    prints = [r["partialFingerprints"]["ringmarkFinding/v1"] for r in run_["results"]]
    assert len(prints) == len({(p, f[3]) for p, f in zip(prints, found)})
    failed = [i["file"] for i in ours["inputs"] if i["status"] == "failed"]
    (invocation,) = run_["invocations"]
    assert len(invocation["toolExecutionNotifications"]) == len(failed) == 1
    assert invocation["exitCode"] == 2 and not invocation["executionSuccessful"]
    rules = run_["tool"]["driver"]["rules"]
    return f"({len(found)} results, {len(rules)} rules, {len(failed)} failures)"


def check_junit_counts(program, folder):
    """JUnit as junitparser reads it: suites, failures and errors are those of the JSON report, at two levels."""
    said = []
    for level, failing in [("error", {"error"}), ("warning", {"error", "warning"})]:
        (folder / level).mkdir()
        made = reports(program, folder / level, "--fail-on", level)
        ours = json.loads(made["json"])
        xml = JUnitXml.fromstring(made["junit"].encode())
        suites = list(xml)
        assert [s.name for s in suites] == [i["file"] for i in ours["inputs"]]
        found = {
            (suite.name, case.name)
            for suite in suites
            for case in suite
            if any(isinstance(r, Failure) for r in case.result)
        }
        wanted = {(f["file"], f["check"]) for f in ours["findings"] if f["severity"] in failing}
        assert found == wanted and wanted
        broken = [s.name for s in suites for c in s if any(isinstance(r, Error) for r in c.result)]
        assert broken == [i["file"] for i in ours["inputs"] if i["status"] == "failed"]
        tests, totals = sum(len(list(s)) for s in suites), (xml.tests, xml.failures, xml.errors)
        assert totals == (tests, len(found), len(broken))
        xml.update_statistics()
        assert totals == (xml.tests, xml.failures, xml.errors)
        assert tests > 5 * len(suites), "checks that passed are there too"
        said.append(f"{level}: {tests} cases, {len(found)} failures, {len(broken)} errors")
    return f"({'; '.join(said)})"
