"""Names that look like markup, scripts or formulas, through every form of a report.

    python tests/page/check_names.py OFFCURVE PLANT_FOLDER WORK_FOLDER

Takes a sample plant and its exports, gives site, loop, pump, coil and points such names, reviews it, and looks at every result: they stand as
text in report.html, report.md, findings.json, the notebook and the figures, and nothing runs, breaks a table, or is loaded. The page is
put through check_page.py, the rest through check_result.py.
"""

import csv
import io
import json
import pathlib
import re
import shutil
import subprocess
import sys
import tomllib
import xml.etree.ElementTree as xml

import check_page
import check_result
import matplotlib
from selenium.webdriver.common.by import By

NAMES = [
    "<script>alert(1)</script>",
    '=HYPERLINK("http://x")',
    "</script><img src=x onerror=alert(2)>",
    "' onmouseover='alert(3)",
    "]]>|`*a*` [b](javascript:alert(4))",
    "line\u2028break & &lt; </style>",
    "+cmd|' /C calc'!A0",
]


def toml(text):
    """A basic string: the escapes of TOML are those of JSON."""
    return json.dumps(text, ensure_ascii=True).replace("\\/", "/")


def renamed(plant):
    """What each of the plant's names is called instead: points, pumps, coils, and the plant itself."""
    points = [p["name"] for p in plant["point"]]
    own = {name: f"{NAMES[k % len(NAMES)]} {k}" for k, name in enumerate(points)}
    own |= {pump["name"]: f"{NAMES[k % 2]} pump {k}" for k, pump in enumerate(plant["pump"])}
    own |= {coil["name"]: f"{NAMES[k % len(NAMES)]} coil {k}" for k, coil in enumerate(plant.get("coil", []))}
    return own | {plant["site"]["name"]: NAMES[0] + " site", plant["loop"]["name"]: NAMES[1] + " loop"}


def rewrite(folder, target):
    shutil.rmtree(target, ignore_errors=True)
    shutil.copytree(folder, target)
    text = (target / "plant.toml").read_text(encoding="utf-8")
    plant = tomllib.loads(text)
    names = renamed(plant)
    keys = "name|of|at|sensor_at"
    text = re.sub(rf'^(\s*(?:{keys})\s*=\s*)"([^"]*)"', lambda m: m[1] + toml(names.get(m[2], m[2])), text, flags=re.M)
    (target / "plant.toml").write_text(text, encoding="utf-8")
    again = tomllib.loads(text)
    assert {p["name"] for p in again["point"]} <= set(names.values()), "a point kept its name"
    changed = 0
    for path in sorted((target / "trends").iterdir()):
        lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
        for k, line in enumerate(lines[:40]):
            sign = max(",;\t", key=line.count)
            cells = next(csv.reader([line], delimiter=sign), [])
            new = [names.get(c.strip(), c) for c in cells]
            if new != cells:
                out = io.StringIO()
                csv.writer(out, delimiter=sign, lineterminator="\n").writerow(new)
                lines[k] = out.getvalue()
                changed += sum(a != b for a, b in zip(new, cells))
        path.write_text("".join(lines), encoding="utf-8")
    assert changed, "no export names a point in its first lines"
    return again, names


def page(folder, names):
    driver = check_page.browser()
    try:
        told = check_page.check(driver, folder / "report.html")
        shown = driver.execute_script("return document.body.textContent")
        for name in names:
            assert name in shown or name.replace("\u2028", "\ufffd") in shown, f"{name!r} is not on the page"
        elements = driver.find_elements(By.CSS_SELECTOR, "img, iframe, object, embed, link[href]:not([href='data:,']), a[href^='http'], a[href^='java']")
        assert not elements, elements
        handlers = driver.execute_script("return [...document.querySelectorAll('*')].flatMap(e => [...e.attributes]).filter(a => /^on/i.test(a.name)).length")
        scripts = driver.execute_script("return document.scripts.length")
        assert handlers == 0 and scripts == 2, (handlers, scripts)
        return told
    finally:
        driver.quit()


def markdown(folder):
    text = (folder / "report.md").read_text(encoding="utf-8")
    # Outside lines to copy, which are indented, every sign that could start markup is escaped.
    lines = [line for line in text.split("\n") if not line.startswith("    ")]
    for line in lines:
        bare = re.search(r"(?<!\\)<(script|img|/)", line)
        assert not bare, line
    for row in re.findall(r"(?:^\|.*\n)+", text, flags=re.M):
        cells = {len(re.findall(r"(?<!\\)\|", line)) for line in row.strip("\n").split("\n")}
        assert len(cells) == 1, f"a table's rows differ in cells: {row[:400]}"
    # A cell of a table that a spreadsheet would take for a formula starts with a space in the file; nothing here is read as one.
    assert "](javascript" not in text.replace("\\]\\(", "").replace("\\](", "")


def main(offcurve, sample, work):
    folder, out = pathlib.Path(work) / "names", pathlib.Path(work) / "out"
    shutil.rmtree(out, ignore_errors=True)
    plant, names = rewrite(pathlib.Path(sample), folder)
    subprocess.run([offcurve, "review", folder / "plant.toml", "--out", out, "--quiet"], check=True)
    (result,) = out.glob("*/*/")
    found = json.loads((result / "findings.json").read_text(encoding="utf-8"))
    in_json = {p["name"] for p in found["points"]}
    points = {p["name"] for p in plant["point"]}
    assert points <= in_json, points - in_json
    matplotlib.use("Agg")
    check_result.main([str(result)])
    for figure in sorted((result / "figures").glob("*.svg")):
        tree = xml.parse(figure)
        assert not [e.tag for e in tree.iter() if e.tag.split("}")[1] in ("script", "image", "a", "foreignObject")], figure
    markdown(result)
    print(f"{len(names)} names: {page(result, points)}")


if __name__ == "__main__":
    if len(sys.argv) != 4:
        sys.exit(__doc__)
    main(*sys.argv[1:])
