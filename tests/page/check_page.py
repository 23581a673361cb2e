"""Opens report.html in headless Chromium and uses it as a reader would.

    python tests/page/check_page.py RESULT_FOLDER...

Checks, of each page: no message on the console and no request besides the file; weight and first paint; every figure drawn, with a
name, and its numbers behind a fold; no sideways scrolling at 390 px and at 1280 px; links that lead somewhere, and marks that are all
different; keys that switch layers with and without script; both systems of units; what is under the pointer; selections from one figure
to the other, by pointer and by keyboard; dark screens; paper in A4 and Letter with no figure cut; the page without script; and axe-core
without a serious finding. Of a fleet's folder its page: weight under 1 MB and first paint, no message, no request, no sideways scrolling, every
report that it links to is there, the same words without script, and axe-core.
"""

import base64
import datetime
import importlib.resources
import json
import pathlib
import re
import shutil
import sys
import urllib.parse

import pypdfium2
from selenium import webdriver
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.support.ui import WebDriverWait
from selenium.webdriver.common.keys import Keys

# A page that is read, not waited for: whole weight [bytes] and first paint [ms].
MOST_BYTES = 3_000_000
MOST_BYTES_OF_FLEET = 1_000_000
MOST_MS = 1000
# Sheets [mm]; the margins are the style sheet's own.
SHEETS = {"A4": (210, 297), "Letter": (215.9, 279.4)}
MARGINS = (17, 16)
MM_PER_INCH = 25.4
CSS_PX_PER_MM = 96 / MM_PER_INCH


def browser():
    options = Options()
    for argument in ["--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"]:
        options.add_argument(argument)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    # The system's own, by name: otherwise selenium would go and look for one to download.
    options.binary_location = shutil.which("chromium") or shutil.which("google-chrome") or sys.exit("chromium is not installed")
    driver = shutil.which("chromedriver") or sys.exit("chromedriver (Debian: chromium-driver) is not installed")
    return webdriver.Chrome(options=options, service=Service(driver))


def width(driver, pixels, height=900):
    size = {"width": pixels, "height": height, "deviceScaleFactor": 1, "mobile": False}
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)


def scheme(driver, name, media=""):
    features = [{"name": "prefers-color-scheme", "value": name}]
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": media, "features": features})


def requests(driver):
    for entry in driver.get_log("performance"):
        message = json.loads(entry["message"])["message"]
        if message["method"] == "Network.requestWillBeSent":
            yield message["params"]["request"]["url"]


def boxes(driver, selector):
    return driver.execute_script(
        "return [...document.querySelectorAll(arguments[0])].map(e => e.getBoundingClientRect()).map(b => [b.width, b.height])",
        selector,
    )


def text(driver, selector):
    """What a reader sees of it."""
    return driver.execute_script("return document.querySelector(arguments[0]).innerText", selector).strip()


def opened(driver):
    """What stands in a fold is drawn when a reader opens it."""
    driver.execute_script("document.querySelectorAll('details').forEach(d => d.open = true)")


def quiet(driver, url):
    # Empty data: icons are in the page itself.
    asked = [u for u in requests(driver) if u != url and not u.startswith("data:")]
    assert not asked, f"requests: {asked}"
    console = driver.get_log("browser")
    assert not console, f"console: {console}"


FIRST_PAINT = "return performance.getEntriesByName('first-contentful-paint').map(p => p.startTime)[0]"


def light_and_quick(driver, page, url, most=MOST_BYTES):
    assert page.stat().st_size < most, f"{page.stat().st_size} bytes"
    paints = []
    for _ in range(3):
        driver.get(url)
        # The entry comes with the frame, which may be after the page's load.
        paints.append(WebDriverWait(driver, 10).until(lambda d: d.execute_script(FIRST_PAINT)))
    # The best of three: a busy machine slows some, a heavy page all of them.
    assert min(paints) < MOST_MS, f"first paint after {paints} ms"
    return min(paints)


def figures_are_drawn(driver):
    figures = boxes(driver, "figure .plot svg")
    assert figures, "no figure"
    assert all(w > 300 and h > 60 for w, h in figures), f"a figure is not visible: {figures}"
    for figure in driver.find_elements(By.CSS_SELECTOR, "figure .plot svg"):
        assert figure.accessible_name.strip(), "a figure has no name"
        described = figure.get_attribute("aria-describedby")
        assert driver.execute_script("return document.getElementById(arguments[0]).textContent.length", described) > 20, described
    return len(figures)


def numbers_stand_behind_folds(driver):
    rows = driver.execute_script(
        "return [...document.querySelectorAll('details.numbers')].flatMap(d => [...d.querySelectorAll('table')].map(t => [d.previousElementSibling.id, t.rows.length - 1]))"
    )
    assert rows and all(figure.startswith("figure-") and 0 < n <= 60 for figure, n in rows), rows
    without = set(driver.execute_script("return [...document.querySelectorAll('figure')].map(f => f.id)")) - {f for f, _ in rows}
    assert not without, f"no table of numbers: {without}"


def fits(driver):
    for pixels in (1280, 390):
        width(driver, pixels)
        reach = driver.execute_script("return document.documentElement.scrollWidth")
        assert reach <= pixels, f"at {pixels} px the page is {reach} px wide"
    small = driver.execute_script(
        "return [...document.querySelectorAll('p, li, td, dd, figcaption')].filter(e => e.innerText.trim() && parseFloat(getComputedStyle(e).fontSize) < 12).map(e => e.innerText)"
    )
    assert not small, f"smaller than 12 px at 390 px: {small}"
    letters = driver.execute_script(
        "return [...document.querySelectorAll('.plot text')].map(t => t.getBoundingClientRect()).filter(b => b.width > 0).map(b => Math.min(b.height, b.width * 4))"
    )
    assert letters and min(letters) > 7, f"a figure's words are {min(letters)} px high at 390 px"
    # The state of the plant and the first thing to do are on the first screen of a telephone.
    for first in (".state", ".actions li"):
        assert driver.execute_script("return document.querySelector(arguments[0]).getBoundingClientRect().bottom", first) < 844, first
    width(driver, 1280)


def links_lead_somewhere(driver):
    ids = driver.execute_script("return [...document.querySelectorAll('[id]')].map(e => e.id)")
    assert len(ids) == len(set(ids)), {i for i in ids if ids.count(i) > 1}
    targets = driver.execute_script("return [...document.querySelectorAll('a[href]')].map(a => a.getAttribute('href'))")
    assert targets and all(t.startswith("#") and t[1:] in ids for t in targets), [t for t in targets if t[1:] not in ids]
    listed = driver.execute_script("return [...document.querySelectorAll('nav a')].map(a => a.getAttribute('href').slice(1))")
    headings = driver.execute_script("return [...document.querySelectorAll('section[id], h3[id]')].map(e => e.id)")
    assert listed == headings, "the contents are not the headings in their order"
    marked = driver.execute_script("return [...document.querySelectorAll('h2, h3')].every(h => h.querySelector('a.mark'))")
    assert marked, "a heading without a link to itself"


def keys_switch(driver, also=True):
    """A figure's key hides its layer; with the script, its regime in the other figures too."""
    key = driver.find_element(By.CSS_SELECTOR, "figure .keys input")
    figure, layer = driver.execute_script("return [arguments[0].closest('figure').id, arguments[0].dataset.key]", key)
    own, everywhere = f"#{figure} .plot .{layer}", f".plot .points.{layer}, .plot .ribbon.{layer}"
    assert any(w > 0 for w, _ in boxes(driver, own)), f"nothing is drawn for {own}"
    before = sum(w > 0 for w, _ in boxes(driver, everywhere))
    key.click()
    assert all(w == 0 for w, _ in boxes(driver, own)), f"the key does not hide {own}"
    if also and before:
        assert all(w == 0 for w, _ in boxes(driver, everywhere)), f"{layer} is hidden in one figure only"
    key.click()
    assert sum(w > 0 for w, _ in boxes(driver, everywhere)) == before, f"the key does not bring {layer} back"


def units_switch(driver):
    """To the other system and back: texts, tables, axes, and what is under the pointer."""
    def seen():
        # What is hidden does not count.
        return driver.execute_script(
            "return [...document.querySelectorAll('h1, h2, h3, p, li, dt, dd, th, td, summary, label, figcaption')].map(e => e.innerText).join('\\n')"
            " + [...document.querySelectorAll('.plot text')].filter(t => t.getBoundingClientRect().width > 0).map(t => t.textContent).join('\\n')"
        )

    def chosen():
        return driver.find_element(By.CSS_SELECTOR, ".units input:checked").get_attribute("value")

    words = {"si": ["m³/h", "kPa"], "ip": ["gpm", "\u202fft"]}
    first, shown = chosen(), seen()
    assert any(w in shown for w in words[first]), f"no number in {first}"
    second = {"si": "ip", "ip": "si"}[first]
    driver.find_element(By.CSS_SELECTOR, f".units input[value={second}]").click()
    other = seen()
    # Lines for the plant file, in quotes, are to be pasted as they stand.
    other = re.sub(r'"[^"]*"', "", other)
    for word in words[first]:
        assert word not in other, f"{word} is still there: {other[max(0, other.index(word) - 80):][:120]}"
    assert any(w in other for w in words[second]), f"no number in {second}"
    assert driver.execute_script("return performance.getEntriesByType('navigation').length") == 1
    driver.find_element(By.CSS_SELECTOR, f".units input[value={first}]").click()
    assert seen() == shown, "the way back does not end where it began"


def figure(driver, name):
    return driver.find_element(By.CSS_SELECTOR, f"#figure-{name} .plot svg")


def drag(driver, svg, start, end):
    """Over a figure, between places given as shares of its width and height."""
    driver.execute_script("arguments[0].scrollIntoView({block: 'center'})", svg)
    size = svg.rect
    at = [((x - 0.5) * size["width"], (y - 0.5) * size["height"]) for x, y in (start, end)]
    step = [round((b - a) / 2) for a, b in zip(*at)]
    actions = ActionChains(driver, duration=50).move_to_element_with_offset(svg, round(at[0][0]), round(at[0][1]))
    actions.click_and_hold().move_by_offset(*step).move_by_offset(*step).release().perform()


def touch(driver, svg, x):
    box = driver.execute_script("const b = arguments[0].getBoundingClientRect(); return [b.x, b.y, b.width, b.height]", svg)
    point = {"x": box[0] + x * box[2], "y": box[1] + 0.5 * box[3]}
    driver.execute_cdp_cmd("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [point]})
    driver.execute_cdp_cmd("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


def lit(driver):
    """Lit marks, all marks, and lit stretches of the strip."""
    return driver.execute_script(
        "return [document.querySelectorAll('#figure-head-over-flow .lit').length,"
        " document.querySelectorAll('#figure-head-over-flow .points > *').length,"
        " document.querySelectorAll('#figure-time-strip .over .bar').length]"
    )


def says(driver, name, part):
    return text(driver, f"#figure-{name} .reader .{part}")


def figures_are_linked(driver):
    strip, field = figure(driver, "time-strip"), figure(driver, "head-over-flow")
    data = json.loads(driver.execute_script("return document.getElementById('links').textContent"))
    for order, (code, _) in enumerate(data["regimes"]):
        drawn = driver.execute_script("const g = document.getElementById(arguments[0]); return g ? g.children.length : 0", f"head-flow-{code}")
        assert drawn == data["marks"]["regime"].count(order), f"{code}: {drawn} marks are drawn"

    # The pointer on the strip: the time in it, and every number that is told for it.
    box, (begin, end) = data["strip"]["box"], data["strip"]["minutes"]
    edges, flow = data["bins"]["edges"], data["bins"]["flow"]
    bin_ = next(k for k in range(len(flow) // 2, len(flow)) if flow[k] and data["bins"]["head"][k])
    minute = (edges[bin_] + edges[bin_ + 1]) / 2
    share = (box[0] + (minute - begin) / (end - begin) * (box[2] - box[0])) / 1360
    driver.execute_script("arguments[0].scrollIntoView({block: 'center'})", strip)
    ActionChains(driver, duration=50).move_to_element_with_offset(strip, round((share - 0.5) * strip.rect["width"]), 0).perform()
    when = datetime.datetime.fromisoformat(data["first"]) + datetime.timedelta(minutes=edges[bin_])
    for name in ("time-strip", "head-over-flow"):
        reading = says(driver, name, "reading")
        clock = [f"{when:%H:%M}"] if edges[bin_ + 1] - edges[bin_] < 1440 else []
        for word in [f"{when:%a} {when.day} {when:%b} {when.year}", *clock, "flow", "head", "95 %: ", " to "]:
            assert word in reading, f"{word}: {reading}"
        assert any(regime in reading for _, regime in data["regimes"]), reading
    assert lit(driver)[0] == 0

    # A tap elsewhere reads too.
    reading = says(driver, "time-strip", "reading")
    touch(driver, strip, 0.3 if share > 0.5 else 0.7)
    assert says(driver, "head-over-flow", "reading") not in ("", reading), "a tap reads nothing"

    # A span of the strip lights points, and the other way round.
    drag(driver, strip, (0.2, 0.5), (0.6, 0.55))
    marks, of, bars = lit(driver)
    assert 0 < marks <= of and bars > 0, (marks, of, bars)
    faint = driver.execute_script("return getComputedStyle(document.querySelector('.points > :not(.lit)') || document.body).opacity")
    assert marks == of or float(faint) < 0.5, "points outside the selection do not step back"
    assert says(driver, "head-over-flow", "picked").startswith("Selected: ")
    ActionChains(driver).send_keys(Keys.ESCAPE).perform()
    assert lit(driver)[0] == lit(driver)[2] == 0, "Escape does not clear"
    plot, where = data["plot"], data["marks"]
    heaviest = max(range(len(where["hours"])), key=lambda k: where["hours"][k])
    height = driver.execute_script("return arguments[0].viewBox.baseVal.height", field)
    x = (plot["box"][0] + where["flow"][heaviest] / plot["flow"] * (plot["box"][2] - plot["box"][0])) / 1360
    y = (plot["box"][3] - where["head"][heaviest] / plot["head"] * (plot["box"][3] - plot["box"][1])) / height
    drag(driver, field, (x - 0.03, y - 0.05), (x + 0.03, y + 0.05))
    marks, of, bars = lit(driver)
    assert 0 < marks < of and bars > 0, (marks, of, bars)
    assert "\u202fh" in says(driver, "time-strip", "picked")
    button = driver.find_element(By.CSS_SELECTOR, "#figure-head-over-flow [data-do=clear]")
    button.click()
    assert lit(driver)[0] == 0 and not button.is_enabled(), "the button does not clear"

    # The same by keyboard.
    for svg, keys in ((strip, [Keys.END] + [Keys.ARROW_LEFT] * 5), (field, [Keys.ARROW_RIGHT] * 4)):
        plot_ = svg.find_element(By.XPATH, "..")
        driver.execute_script("arguments[0].focus()", plot_)
        readings = set()
        for key in keys:
            ActionChains(driver).send_keys(key).perform()
            readings.add(says(driver, "time-strip", "reading"))
        assert len(readings) > 2, f"arrow keys read nothing new: {readings}"
        ActionChains(driver).key_down(Keys.SHIFT).send_keys(Keys.ARROW_LEFT * 3).key_up(Keys.SHIFT).perform()
        assert says(driver, "time-strip", "picked").startswith("Selected: "), "Shift with arrows does not select"
        assert lit(driver)[2] > 0
        ActionChains(driver).send_keys(Keys.ESCAPE).perform()
        assert not says(driver, "time-strip", "picked")


def follows_a_dark_screen(driver):
    colour = "return getComputedStyle(document.querySelector('.plot text:not([fill=none])')).fill"
    light = driver.execute_script(colour)
    scheme(driver, "dark")
    assert driver.execute_script(colour) != light, "figures do not follow a dark screen"
    scheme(driver, "light")


def no_figure_is_cut_on_paper(driver):
    """Each figure's first and last corner are marked with a word too small to see; both words must come out on one sheet."""
    driver.execute_script(
        """
        document.querySelectorAll('figure').forEach((f, k) => {
          f.style.position = 'relative';
          for (const [end, side] of [['begins', 'top'], ['ends', 'bottom']]) {
            const word = f.appendChild(document.createElement('span'));
            word.className = 'corner';
            word.textContent = `corner${k}${end} `;
            word.style.cssText = `position: absolute; left: 0; ${side}: 0; font: 1px serif; line-height: 1px`;
          }
        })"""
    )
    count = len(driver.find_elements(By.CSS_SELECTOR, "figure"))
    told = []
    for name, (wide, high) in SHEETS.items():
        sheet = {"paperWidth": wide / MM_PER_INCH, "paperHeight": high / MM_PER_INCH, "printBackground": True}
        pdf = pypdfium2.PdfDocument(base64.b64decode(driver.execute_cdp_cmd("Page.printToPDF", sheet)["data"]))
        pages = [page.get_textpage().get_text_range() for page in pdf]
        assert 2 <= len(pages) <= 60, f"{len(pages)} pages of {name}"
        size = [round(v / 72 * MM_PER_INCH) for v in pdf[0].get_size()]
        assert size == [round(wide), round(high)], f"{name}: {size}"
        for k in range(count):
            on = [[n for n, words in enumerate(pages) if f"corner{k}{end}" in words] for end in ("begins", "ends")]
            assert on[0] == on[1] and len(on[0]) == 1, f"figure {k} on {name}: begins on {on[0]}, ends on {on[1]}"
        told.append(f"{len(pages)} pages of {name}")
        # And none is higher than the sheet has room for.
        scheme(driver, "light", media="print")
        width(driver, round((wide - 2 * MARGINS[0]) * CSS_PX_PER_MM))
        room = (high - 2 * MARGINS[1]) * CSS_PX_PER_MM
        assert all(h <= room for _, h in boxes(driver, "figure")), f"{name}: {boxes(driver, 'figure')}"
    scheme(driver, "light")
    width(driver, 1280)
    driver.execute_script("document.querySelectorAll('.corner').forEach(c => c.remove())")
    return told


def axe_finds_nothing_serious(driver):
    """axe-core, as the package brings it: everything of serious or critical impact, on light and dark, wide and narrow."""
    # What a drawing holds is one picture to those who cannot see it, and has its colours held by check_colours.py; axe-core would take minutes there.
    look = "const done = arguments[0]; axe.run({exclude: ['.plot svg > g']}).then(r => done(r), e => done({error: String(e)}))"
    driver.set_script_timeout(300)
    driver.execute_script(importlib.resources.files("axe_core_python").joinpath("axe.min.js").read_text(encoding="utf-8"))
    for name, pixels in (("light", 1280), ("dark", 1280), ("light", 390)):
        scheme(driver, name)
        width(driver, pixels)
        found = driver.execute_async_script(look)
        assert "error" not in found, found
        assert found["passes"], "axe-core looked at nothing"
        serious = [
            (v["id"], v["impact"], n["target"], n["failureSummary"]) for v in found["violations"] if v["impact"] in ("serious", "critical") for n in v["nodes"]
        ]
        assert not serious, f"{name}, {pixels} px: {serious[:5]} and {max(0, len(serious) - 5)} more"
    scheme(driver, "light")
    width(driver, 1280)


def whole_without_script(driver, url, with_script):
    driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    try:
        driver.get(url)
        assert not driver.find_element(By.CSS_SELECTOR, ".units").is_displayed(), "a choice of units that does nothing"
        assert not any(e.is_displayed() for e in driver.find_elements(By.CSS_SELECTOR, ".reader"))
        plain = static(driver)
        assert plain == with_script, "the page says something else without its script"
        opened(driver)
        figures_are_drawn(driver)
        numbers_stand_behind_folds(driver)
        keys_switch(driver, also=False)
        fits(driver)
    finally:
        driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": False})


def static(driver):
    """All that the page says by itself, seen or folded away."""
    return driver.execute_script(
        "const m = document.querySelector('main').cloneNode(true); m.querySelectorAll('.reader, .over, script').forEach(e => e.remove()); return m.textContent"
    )


def check(driver, page):
    url = page.resolve().as_uri()
    width(driver, 1280)
    scheme(driver, "light")
    paint = light_and_quick(driver, page, url)
    quiet(driver, url)
    said = static(driver)
    opened(driver)
    count = figures_are_drawn(driver)
    numbers_stand_behind_folds(driver)
    links_lead_somewhere(driver)
    fits(driver)
    keys_switch(driver)
    units_switch(driver)
    linked = bool(driver.find_elements(By.ID, "links"))
    if linked:
        figures_are_linked(driver)
    follows_a_dark_screen(driver)
    axe_finds_nothing_serious(driver)
    quiet(driver, url)
    driver.get(url)
    paper = no_figure_is_cut_on_paper(driver)
    whole_without_script(driver, url, said)
    quiet(driver, url)
    links = "linked" if linked else "not linked"
    return f"{count} figures, {links}; {page.stat().st_size / 1000:.0f} kB, painted after {paint:.0f} ms; {', '.join(paper)}"


def check_fleet(driver, page):
    url = page.resolve().as_uri()
    width(driver, 1280)
    scheme(driver, "light")
    paint = light_and_quick(driver, page, url, MOST_BYTES_OF_FLEET)
    quiet(driver, url)
    said = static(driver)
    for pixels in (1280, 390):
        width(driver, pixels)
        reach = driver.execute_script("return document.documentElement.scrollWidth")
        assert reach <= pixels, f"at {pixels} px the page is {reach} px wide"
    links = driver.execute_script("return [...document.querySelectorAll('a[href]')].map(a => a.getAttribute('href'))")
    reports = [link for link in links if not link.startswith("#")]
    assert reports, "no link to a report"
    missing = [link for link in reports if not (page.parent / urllib.parse.unquote(link.split("#")[0])).is_file()]
    assert not missing, f"links to nothing: {missing}"
    axe_finds_nothing_serious(driver)
    quiet(driver, url)
    driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    try:
        driver.get(url)
        assert static(driver) == said, "the page says something else without script"
    finally:
        driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": False})
    return f"{len(reports)} links to reports; {page.stat().st_size / 1000:.0f} kB, painted after {paint:.0f} ms"


def main(folders):
    driver = browser()
    try:
        for folder in map(pathlib.Path, folders):
            fleet = folder / "fleet.html"
            told = check_fleet(driver, fleet) if fleet.exists() else check(driver, folder / "report.html")
            print(f"{folder}: {told}")
    finally:
        driver.quit()


if __name__ == "__main__":
    main(sys.argv[1:] or sys.exit(__doc__))
