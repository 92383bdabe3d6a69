"""The HTML report in Debian's Chromium, driven by Playwright (PyPI), and by the rules of axe-core (PyPI axe-playwright-python).

The page is opened from its file. Nothing is asked of any network, nothing of a file is run, and everything can be
reached by keys.
"""

import contextlib
import json
import math
import pathlib
import subprocess

import axe_playwright_python
from playwright.sync_api import sync_playwright
from ringmark import ROOT

CHROMIUM = "/usr/bin/chromium"
FLAGS = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"]
INPUTS = ["samples/faulty", "samples/A012C003.csv", "samples/A014C002.csv", "samples/brannvik-40.csv", "samples/orrin-28-76.csv", "samples/plates"]
EVIL = "</script><script>document.title='run'</script><!--<img src=x onerror=document.title=1>"
AXE = pathlib.Path(axe_playwright_python.__file__).with_name("axe.min.js")


def report(program, folder, *inputs):
    """The page and the JSON report of one run."""
    asked = [f"--report={kind}={folder / kind}.{kind}" for kind in ["html", "json"]]
    done = subprocess.run([program, "check", *inputs, *asked, "--force"], cwd=ROOT, capture_output=True, text=True)
    assert done.returncode in (0, 1), done.stderr
    return folder / "html.html", json.loads((folder / "json.json").read_text(encoding="utf-8"))


@contextlib.contextmanager
def opened(page_file, **options):
    """The page in a browser; an error in it, or a request for anything else, fails the check."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        page = browser.new_context(**{"viewport": {"width": 1280, "height": 900}, **options}).new_page()
        wrong = []
        page.on("console", lambda message: wrong.append(message.text) if message.type in ("error", "warning") else None)
        page.on("pageerror", lambda error: wrong.append(str(error)))
        page.on("dialog", lambda dialog: wrong.append(dialog.message))
        page.on("request", lambda request: wrong.append(request.url) if request.url != page_file.as_uri() else None)
        page.goto(page_file.as_uri())
        yield page
        assert not wrong, wrong
        browser.close()


def rows(page):
    return page.locator("#files tbody tr:not([hidden])")


def check_table(program, folder):
    """The table has the files and the counts of the JSON report; it filters, and says how it is sorted."""
    file, ours = report(program, folder, *INPUTS)
    with opened(file) as page:
        assert rows(page).count() == len(ours["inputs"])
        for at, entry in enumerate(ours["inputs"]):
            cells = rows(page).nth(at).locator("th, td").all_inner_texts()
            assert cells[2] == entry["file"]
            found = [sum(f["file"] == entry["file"] and f["severity"] == s for f in ours["findings"]) for s in ("error", "warning", "note")]
            assert [int(c) for c in cells[5:8]] == found, cells
        head = page.locator("#files thead th").nth(5)
        for wanted in ["descending", "ascending"]:
            head.locator("button").press("Enter")
            assert head.get_attribute("aria-sort") == wanted
            counts = [int(row.locator("td").nth(4).inner_text()) for row in rows(page).all()]
            assert counts == sorted(counts, reverse=wanted == "descending")
        page.select_option("#show", "error")
        bad = {f["file"] for f in ours["findings"] if f["severity"] == "error"}
        assert rows(page).count() == len(bad) and bad
        page.fill("#find", "a013")
        assert rows(page).count() == 1
    return f"({len(ours['inputs'])} rows)"


def check_take_by_keys(program, folder):
    """A take is opened, read and zoomed by keys; its traces show what was recorded and where findings are."""
    file, _ = report(program, folder, *INPUTS)
    with opened(file) as page:
        page.locator("#files a", has_text="A013C001").press("Enter")
        page.wait_for_selector("#one canvas")
        assert page.evaluate("document.activeElement.textContent") == "A013C001"
        assert page.locator("#one .plot").count() == 4
        plot = page.locator("#one .plot").first
        # A mark of an error covers frames 1061 to 1070: the picture is redder there than beside.
        red = """canvas => { const c = canvas.getContext('2d'), all = [];
            const { data } = c.getImageData(0, Math.round(canvas.height / 2), canvas.width, 1);
            for (let k = 0; k < data.length; k += 4) all.push(data[k + 3] > 0 && data[k] - data[k + 1] > 20);
            return all; }"""
        spots = plot.locator("canvas").evaluate(red)
        assert 0.15 < sum(spots) / len(spots) < 0.7, sum(spots) / len(spots)
        plot.press("Home")
        reading = plot.locator("xpath=following-sibling::p[@class='reading']")
        first = reading.inner_text()
        assert first.startswith("frame 1001; focus distance 2.4 m"), first
        assert "near limit of the depth of field" in first
        plot.press("ArrowRight")
        assert reading.inner_text().startswith("frame 1002;")
        assert reading.get_attribute("aria-live") == "polite"
        plot.press("+")
        plot.press("0")
        page.locator("#one summary", has_text="In words and as a table").first.press("Enter")
        table = page.locator("#one details table").first
        table.wait_for()
        assert table.locator("tbody tr").count() == 24
        page.get_by_role("button", name="Close").press("Enter")
        page.wait_for_selector("#one", state="hidden")
        assert page.evaluate("document.activeElement.textContent") == "A013C001"


def check_depth_of_field(program, folder):
    """The band of a take is the depth of field by the formula of every handbook (hyperfocal distance, thin lens)."""
    lines = ["# document: take", "# clip: A001C001", "# sensor width: 24 mm", "# sensor height: 18 mm", "# measured from: image plane"]
    lines += ["frame,focus distance [m],f-number,focal length [mm]", "1,3,2.8,50", "2,3,2.8,50"]
    take = folder / "A001C001.csv"
    take.write_text("\n".join(lines) + "\n", encoding="utf-8")
    file, _ = report(program, folder, take)
    with opened(file) as page:
        data = json.loads(page.locator("#d0").text_content())
    channels = {c["name"]: 1 / c["base"] for c in data["pictures"]["takes"][0]["channels"] if c["axis"] == "reciprocal"}
    f, n, c, plane = 0.05, 2.8, math.hypot(24, 18) / 1500 / 1000, 3.0
    # The formula counts from the lens, the take from the image plane: u + v = 3 m and 1/u + 1/v = 1/f.
    u = (plane + math.sqrt(plane * plane - 4 * f * plane)) / 2
    blur = n * c * (u - f) / (f * f)
    near, far = u / (1 + blur) + plane - u, u / (1 - blur) + plane - u
    assert abs(channels["near-limit"] - near) < 1e-3 and abs(channels["far-limit"] - far) < 1e-3
    return f"({channels['near-limit']:.3f} to {channels['far-limit']:.3f} m, formula {near:.3f} to {far:.3f} m)"


def check_texts_from_files_are_texts(program, folder):
    """Names and findings that read like markup are shown as they stand."""
    take = folder / "A001C001.csv"
    text = (ROOT / "samples/faulty/A013C001.csv").read_text(encoding="utf-8")
    text = text.replace("# clip: A013C001", f"# clip: {EVIL}").replace("Brannvik 40 #BV40-0118", EVIL)
    assert text.count(EVIL) > 2
    take.write_text(text, encoding="utf-8")
    file, _ = report(program, folder, take)
    with opened(file) as page:
        assert page.locator("#files tbody a").inner_text() == EVIL
        page.locator("#files tbody a").click()
        page.wait_for_selector("#one canvas")
        assert page.locator("#one h2").inner_text() == EVIL
        assert page.locator("img").count() == 0 and page.title().startswith("Lens data check")


def check_lens_and_widths(program, folder):
    """A lens has its curves, marks and residuals; nothing is wider than a phone, in both colour schemes."""
    file, _ = report(program, folder, *INPUTS)
    for width, scheme in [(1280, "light"), (390, "dark")]:
        with opened(file, viewport={"width": width, "height": 844}, color_scheme=scheme) as page:
            page.locator("#files a", has_text="Orrin & Vale").first.click()
            page.wait_for_selector("#one canvas")
            assert page.locator("#one .plot").count() == 6
            assert page.locator("#one table").count() == 3
            assert page.evaluate("document.documentElement.scrollWidth") <= width
            for _ in range(3):
                page.click("#theme")
            page.emulate_media(media="print")
            assert page.locator("#filter").is_hidden() and page.locator("#one canvas").first.is_visible()


def check_accessibility(program, folder):
    """axe-core finds nothing wrong, on the table, on a take and on a lens, in both colour schemes."""
    file, _ = report(program, folder, *INPUTS)
    passed = 0
    for scheme in ["light", "dark"]:
        # Its script is not of the page: only for it the policy of the page is set aside.
        with opened(file, color_scheme=scheme, bypass_csp=True) as page:
            page.add_script_tag(content=AXE.read_text(encoding="utf-8"))
            for name in [None, "A013C001", "Orrin & Vale"]:
                if name:
                    page.locator("#files a", has_text=name).first.click()
                    page.wait_for_selector("#one canvas")
                    page.locator("#one summary").evaluate_all("all => all.forEach(one => one.click())")
                found = page.evaluate("axe.run({resultTypes: ['violations']})")
                told = [(v["id"], [n["html"][:120] for n in v["nodes"][:3]]) for v in found["violations"]]
                assert not told, (scheme, name, told)
                passed += len(found["passes"])
    return f"({passed} rules passed)"
