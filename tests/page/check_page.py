"""Opens report.html in headless Chromium and looks at it as a reader would.

    python tests/page/check_page.py RESULT_FOLDER...

Checks: no message on the console, no request besides the file, every figure visible, no sideways scrolling at 390 px and
at 1280 px, the keys of a figure switch its layers, dark screens get other colours than light ones, and paper.
"""

import base64
import json
import pathlib
import re
import shutil
import sys

from selenium import webdriver
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.by import By


def browser():
    options = Options()
    for argument in ["--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"]:
        options.add_argument(argument)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    # The system's own, by name: otherwise selenium would go and look for one to download.
    options.binary_location = shutil.which("chromium") or shutil.which("google-chrome") or sys.exit("chromium is not installed")
    driver = shutil.which("chromedriver") or sys.exit("chromedriver (Debian: chromium-driver) is not installed")
    return webdriver.Chrome(options=options, service=Service(driver))


def width(driver, pixels):
    size = {"width": pixels, "height": 900, "deviceScaleFactor": 1, "mobile": False}
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)


def scheme(driver, name):
    media = {"features": [{"name": "prefers-color-scheme", "value": name}]}
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", media)


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


def check(driver, page):
    url = page.resolve().as_uri()
    width(driver, 1280)
    scheme(driver, "light")
    driver.get(url)
    # Empty data: icons are in the page itself.
    asked = [u for u in requests(driver) if u != url and not u.startswith("data:")]
    assert not asked, f"requests: {asked}"
    console = driver.get_log("browser")
    assert not console, f"console: {console}"

    # What stands in a fold is drawn when a reader opens it.
    driver.execute_script("document.querySelectorAll('details:has(figure)').forEach(d => d.open = true)")
    figures = boxes(driver, "figure .plot svg")
    assert figures, "no figure"
    assert all(w > 300 and h > 60 for w, h in figures), f"a figure is not visible: {figures}"
    for figure in driver.find_elements(By.CSS_SELECTOR, "figure .plot svg"):
        assert figure.accessible_name.strip(), "a figure has no name"

    for pixels in (1280, 390):
        width(driver, pixels)
        reach = driver.execute_script("return document.documentElement.scrollWidth")
        assert reach <= pixels, f"at {pixels} px the page is {reach} px wide"
    small = driver.execute_script(
        "return [...document.querySelectorAll('p, li, td, dd, figcaption')].filter(e => e.innerText.trim() && parseFloat(getComputedStyle(e).fontSize) < 12).length"
    )
    assert small == 0, f"{small} texts are smaller than 12 px at 390 px"
    letters = driver.execute_script(
        "return [...document.querySelectorAll('.plot text')].map(t => t.getBoundingClientRect()).filter(b => b.width > 0).map(b => Math.min(b.height, b.width * 4))"
    )
    assert letters and min(letters) > 7, f"a figure's words are {min(letters)} px high at 390 px"
    # The first answer is on the first screen.
    assert driver.execute_script("return document.querySelector('.answers dd').getBoundingClientRect().bottom") < 844

    key = driver.find_element(By.CSS_SELECTOR, "figure .keys input")
    name = key.get_attribute("id").removeprefix("show-")
    layer = driver.execute_script(
        "const i = arguments[0]; const f = i.closest('figure').id.slice(7); return '#figure-' + f + ' .plot .' + i.id.slice(6 + f.length)", key
    )
    assert any(w > 0 for w, _ in boxes(driver, layer)), f"{name}: nothing is drawn for {layer}"
    key.click()
    assert all(w == 0 for w, _ in boxes(driver, layer)), f"{name}: the key does not hide {layer}"

    colour = "return getComputedStyle(document.querySelector('.plot text:not([fill=none])')).fill"
    light = driver.execute_script(colour)
    scheme(driver, "dark")
    assert driver.execute_script(colour) != light, "figures do not follow a dark screen"
    scheme(driver, "light")

    pdf = base64.b64decode(driver.execute_cdp_cmd("Page.printToPDF", {"preferCSSPageSize": True})["data"])
    pages = len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf))
    assert pdf.startswith(b"%PDF") and 2 <= pages <= 40, f"{pages} pages on paper"
    return len(figures), pages


def main(folders):
    driver = browser()
    try:
        for folder in folders:
            figures, pages = check(driver, pathlib.Path(folder) / "report.html")
            print(f"{folder}: {figures} figures, {pages} pages on paper")
    finally:
        driver.quit()


if __name__ == "__main__":
    main(sys.argv[1:] or sys.exit(__doc__))
