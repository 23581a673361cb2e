"""Reviews plants with planted faults and runs each one's notebook: do its numbers agree with findings.json?

    python tests/page/check_notebooks.py OFFCURVE PLANTS [--out FOLDER] [--tell]

PLANTS holds folders with a plant.toml each, as `cargo run --release --example score-faults -- --folders PLANTS` writes them. Prints, for each fault, findings, numbers and
how many of them agree. Ends with 1 where a number differs by more than its cell's tolerance, or a finding has no number; `--tell` only tells. `--hostile` gives loop, pumps
and coils names that would break or run in a cell, were they ever written into one.
"""

import argparse
import collections
import contextlib
import io
import json
import pathlib
import shutil
import subprocess
import sys
import tempfile
import tomllib
import traceback

import matplotlib

import check_result

ALL = 16  # fault codes


# What breaks a string, a cell, a format or a formula, were a name ever written as source; the plant file's reader takes no line ends (tests/it/notebook.rs gives those).
HOSTILE = "A\"1\" '''\"\"\"{FACTS}\\n ; __import__('os').abort() ^.*$ $\\frac{} <b> "


def renamed(plant, into):
    """The plant's folder again, with hostile names in the plant file."""
    shutil.copytree(plant.parent, into)
    text = plant.read_text(encoding="utf-8")
    declared = tomllib.loads(text)
    names = [declared["loop"].get("name"), *(p["name"] for p in declared["pump"]), *(c["name"] for c in declared.get("coil", []))]
    for name in filter(None, names):
        text = text.replace(json.dumps(name, ensure_ascii=False), json.dumps(HOSTILE + name))
    (into / "plant.toml").write_text(text, encoding="utf-8")
    return into / "plant.toml"


def review(offcurve, plant, out):
    done = subprocess.run([offcurve, "review", plant, "--out", out, "--quiet"], capture_output=True, text=True)
    if done.returncode:
        print(f"{plant.parent.name}: not reviewed: {done.stderr.strip()}")
        return None
    return next(pathlib.Path(out).glob("*/*/findings.json")).parent


def run(folder):
    found = json.loads((folder / "findings.json").read_text(encoding="utf-8"))
    try:
        with contextlib.redirect_stdout(io.StringIO()):
            checked, wrong = check_result.counted_again(folder, found)
        check_result.table(folder, found)
    except Exception:  # a cell that stops is told like one that differs
        return found["findings"], [], [traceback.format_exc(limit=-2)]
    return found["findings"], checked, wrong


def main():
    ask = argparse.ArgumentParser()
    ask.add_argument("offcurve")
    ask.add_argument("plants", type=pathlib.Path)
    ask.add_argument("--out", type=pathlib.Path)
    ask.add_argument("--tell", action="store_true")
    ask.add_argument("--hostile", action="store_true")
    asked = ask.parse_args()
    matplotlib.use("Agg")
    counts, bad = collections.defaultdict(collections.Counter), 0
    with tempfile.TemporaryDirectory() as scratch:
        for plant in sorted(asked.plants.glob("*/plant.toml")):
            if asked.hostile:
                plant = renamed(plant, pathlib.Path(scratch) / "renamed" / plant.parent.name)
            out = (asked.out or pathlib.Path(scratch)) / plant.parent.name
            earlier = sorted(out.glob("*/*/findings.json"))
            folder = earlier[0].parent if earlier else review(asked.offcurve, plant, out)
            if folder is None:
                bad += 1
                continue
            findings, checked, wrong = run(folder)
            for finding in findings:
                counts[finding["fault"]]["findings"] += 1
            for c in checked:
                counts[c["fault"]]["numbers"] += 1
                counts[c["fault"]]["agree"] += c["agrees"]
            for line in wrong:
                print(f"{plant.parent.name}: {line}")
            bad += len(wrong)
    for fault, c in sorted(counts.items()):
        print(f"{fault:26} {c['findings']:4} findings {c['agree']:4} of {c['numbers']:4} numbers agree")
    total = sum(counts.values(), collections.Counter())
    print(f"{len(counts)} of {ALL} faults, {total['findings']} findings, {total['agree']} of {total['numbers']} numbers agree")
    sys.exit(1 if bad and not asked.tell else 0)


if __name__ == "__main__":
    main()
