"""Holds the page's colours against what eyes and printers can do, by calculation.

    python tests/page/check_colours.py [--tell]

Reads the variables of src/report/report.css for light screens, dark screens and paper. Checks:
- words against what they stand on: contrast of 4.5 and more (WCAG 2.2, success criterion 1.4.3; formula of its "relative luminance");
- marks, lines and edges against paper: contrast of 3 and more (1.4.11), and the faintest marks, as drawn over paper, 1.6 and more
  (no norm; their size and shape tell them too);
- regimes that matter told apart with each of the three colour vision deficiencies, complete: distance in OKLab of 0.09 and more.
  Deficiencies by the matrices of Machado, Oliveira and Fernandes (IEEE TVCG 15-6, 2009, severity 1.0); OKLab by Ottosson (2020). Both
  sets of numbers are written from memory; each row of the first must add up to 1, and OKLab of white must be 1, 0, 0;
- in grey: no check of colour can hold for eight regimes, so none carries meaning by it alone: every regime has a shape of its own in
  src/report/figures/marks.rs, which is checked.
"""

import itertools
import pathlib
import re
import sys

REPORT = pathlib.Path(__file__).parents[2] / "src/report"
WORDS = ["ink", "muted", "link"]
# What a reader must find on the paper: marks and lines that stand alone.
MARKS = ["on-curve", "above-curve", "below-curve", "speed-floor", "full-speed", "pump", "present", "proposed"] + [
    f"by-{m}" for m in ("head", "power", "meter", "heat", "remote")
]
# What the legend lists side by side.
REGIMES = ["on-curve", "above-curve", "below-curve", "speed-floor", "full-speed"]
# marks.rs: depth of the faintest mark.
FAINTEST = float(re.search(r"const FAINTEST: f64 = ([\d.]+)", (REPORT / "figures/marks.rs").read_text(encoding="utf-8"))[1])
DEFICIENCIES = {
    "protanopia": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "deuteranopia": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
    "tritanopia": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]],
}


def themes():
    style = (REPORT / "report.css").read_text(encoding="utf-8")
    blocks = re.findall(r":root \{([^}]*)\}", style)
    assert len(blocks) == 3, "light, dark and paper"
    light, dark, paper = (dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{3,6})", block)) for block in blocks)
    return {"light": light, "dark": light | dark, "paper": light | paper}


def linear(colour):
    digits = colour[1:] if len(colour) == 7 else "".join(2 * c for c in colour[1:])
    each = [int(digits[k : k + 2], 16) / 255 for k in (0, 2, 4)]
    return [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in each]


def luminance(rgb):
    return sum(w * c for w, c in zip((0.2126, 0.7152, 0.0722), rgb))


def contrast(a, b):
    high, low = sorted((luminance(a), luminance(b)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def over(colour, paper, depth):
    """A colour of so much opacity on paper: browsers mix what is written, not light."""
    gamma = lambda c: 12.92 * c if c <= 0.0031308 else 1.055 * c ** (1 / 2.4) - 0.055
    back = lambda c: c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4
    return [back(depth * gamma(a) + (1 - depth) * gamma(b)) for a, b in zip(colour, paper)]


def times(matrix, rgb):
    return [min(max(sum(m * c for m, c in zip(row, rgb)), 0.0), 1.0) for row in matrix]


def oklab(rgb):
    rows = [[0.4122214708, 0.5363325363, 0.0514459929], [0.2119034982, 0.6806995451, 0.1073969566], [0.0883024619, 0.2817188376, 0.6299787005]]
    l, m, s = (sum(a * c for a, c in zip(row, rgb)) ** (1 / 3) for row in rows)
    return [
        0.2104542553 * l + 0.7936177850 * m - 0.0040720468 * s,
        1.9779984951 * l - 2.4285922050 * m + 0.4505937099 * s,
        0.0259040371 * l + 0.7827717662 * m - 0.8086757660 * s,
    ]


def distance(a, b):
    return sum((x - y) ** 2 for x, y in zip(oklab(a), oklab(b))) ** 0.5


def wrong():
    # The formulas themselves: black on white is 21 by WCAG's own definition; white in OKLab.
    assert abs(contrast([0, 0, 0], [1, 1, 1]) - 21) < 1e-9
    assert all(abs(a - b) < 1e-3 for a, b in zip(oklab([1, 1, 1]), [1, 0, 0]))
    assert all(abs(sum(row) - 1) < 1e-5 for m in DEFICIENCIES.values() for row in m)
    for theme, names in themes().items():
        colour = {name: linear(value) for name, value in names.items()}
        for word, ground in itertools.product(WORDS, ["paper", "wash"]):
            yield contrast(colour[word], colour[ground]), 4.5, f"{theme}: {word} on {ground}"
        yield contrast(colour["ink"], colour["warn-wash"]), 4.5, f"{theme}: words of a caution"
        for mark in MARKS:
            yield contrast(colour[mark], colour["paper"]), 3, f"{theme}: {mark}"
            yield contrast(over(colour[mark], colour["paper"], FAINTEST), colour["paper"]), 1.6, f"{theme}: the faintest {mark}"
        for kind, matrix in ({"all colours": None} | DEFICIENCIES).items():
            for a, b in itertools.combinations(REGIMES, 2):
                one, two = (times(matrix, colour[n]) if matrix else colour[n] for n in (a, b))
                yield distance(one, two), 0.09, f"{theme}, {kind}: {a} and {b}"


def shapes():
    """Each regime's corners in marks.rs; a round mark has none."""
    source = (REPORT / "figures/marks.rs").read_text(encoding="utf-8")
    body = source.split("fn shape(regime: Regime)")[1].split("\n}\n")[0]
    return [shape.strip() for shape in re.findall(r"Regime::\w+ => (.*?),?\n", body)]


def main(arguments):
    checked = list(wrong())
    if "--tell" in arguments:
        for value, least, what in sorted(checked, key=lambda c: c[0] / c[1]):
            print(f"{value:6.2f} of {least:4.2f}  {what}")
    short = [f"{what}: {value:.2f}, {least} is the least" for value, least, what in checked if value < least]
    assert not short, "\n".join(short)
    assert len(shapes()) == 8 and len(set(shapes())) == 8, f"two regimes share a shape: {shapes()}"
    print(f"{len(checked)} contrasts and distances, 8 shapes")


if __name__ == "__main__":
    main(sys.argv[1:])
