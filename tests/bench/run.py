#!/usr/bin/env python3
"""Times `offcurve review` on a year of one-minute trends, beside polars parsing the same file and a notebook of the same job.

    python3 tests/bench/run.py [--rows N] [--runs N]

See README.md beside this file.
"""

import argparse
import json
import os
import pathlib
import platform
import shutil
import statistics
import subprocess
import sys
import time
import venv

HERE = pathlib.Path(__file__).resolve().parent
ROOT = HERE.parent.parent
YEAR = 525_600  # minutes
MIB = 1024 * 1024
# Stages timed alone: what the last lines say, the example that times it, the data.
STAGES = (
    ("reading a wide export to columns on one clock", "time-ingest", "wide"),
    ("reading a tall export to columns on one clock", "time-ingest", "tall"),
    ("points with intervals, head and power of one pump", "time-points", "wide"),
    ("all rules, one pump and 14 points", "time-faults", "wide"),
    ("all rules, two pumps and 37 points", "time-faults", "two-pumps"),
)


def main():
    options = arguments()
    if not options.no_build:
        say("cargo build --release")
        subprocess.run(["cargo", "build", "--release", "--bins", "--example", "time-ingest", "--example", "time-points", "--example", "time-faults"], cwd=ROOT, check=True)
    binary = target() / "release" / ("offcurve.exe" if os.name == "nt" else "offcurve")
    python = environment()
    folder = target() / "bench"
    data = folder / f"data-{options.rows}"
    say(f"making {options.rows:,} rows of 14 points, and of 37")
    subprocess.run([python, HERE / "make_data.py", data, str(options.rows)], check=True)
    results = measure(tasks(binary, python, data, folder / "out"), options.runs)
    check(results, folder / "out", options.rows)
    stages = [(said, *time_stage(example, python, data / shape, options.runs)) for said, example, shape in STAGES]
    fleets = [fleet(said, binary, python, data, folder, options, *how) for said, *how in fleet_kinds(options)]
    report(results, data, python, binary, options)
    for line in fleets:
        print(line)
    for said, stage, parse in stages:
        print(f"{said}: {stage:.2f} s; {stage / parse:.2f} times polars' parse of the same file in its process ({parse:.2f} s)")
    (folder / "results.json").write_text(json.dumps(results, indent=1), encoding="utf-8")


def fleet_kinds(options):
    """What is said, plants, every how many minutes, rows."""
    yield f"fleet: {options.plants} plants of {options.rows:,} rows at 1 min", options.plants, 1, 0
    yield "fleet: 50 plants of a month at 5 min", 50, 5, 8640


def fleet(said, binary, python, data, folder, options, plants, every, rows):
    """`offcurve fleet` over copies of the wide plant, beside polars parsing all of their exports in one process."""
    place = folder / f"fleet-{options.rows}-{plants}-{every}"
    subprocess.run([python, HERE / "make_fleet.py", data / "wide", place, str(plants), str(every), str(rows)], check=True)
    exports = sorted(place.rglob("*.csv"))
    parse = [python, HERE / "parse_polars.py", *exports, "format"]
    review = [binary, "fleet", place, "--out", folder / "out" / place.name, "--quiet"]
    runs = {"fleet": [], "polars": []}
    for _ in range(options.runs):
        warm(exports)
        runs["fleet"].append(one(review))
        runs["polars"].append(one(parse))
    found = json.loads((folder / "out" / place.name / "fleet" / "fleet.json").read_text(encoding="utf-8"))
    if found["counts"]["plants"] != plants or found["not_reviewed"]:
        sys.exit(f"{said}: {found['counts']}")
    middle = {name: {k: statistics.median(x[k] for x in all_runs) for k in all_runs[0]} for name, all_runs in runs.items()}
    ours, theirs = middle["fleet"], middle["polars"]
    busy = lambda m: m["user_s"] + m["system_s"]
    return (
        f"{said}: {ours['wall_s']:.1f} s, {ours['peak_mib']:.0f} MiB; {ours['wall_s'] / theirs['wall_s']:.1f} times polars' process parsing the same files"
        f" ({theirs['wall_s']:.1f} s; processor time {busy(ours):.1f} and {busy(theirs):.1f} s)"
    )


def arguments():
    parser = argparse.ArgumentParser(description="Benchmark of `offcurve review`; see tests/bench/README.md.")
    parser.add_argument("--rows", type=int, default=YEAR, help="minutes of record (default: a year)")
    parser.add_argument("--runs", type=int, default=3, help="runs of each; the median is shown (default: 3)")
    parser.add_argument("--plants", type=int, default=8, help="plants of that record in the fleet (default: 8; 50 take 2.3 GB of disk)")
    parser.add_argument("--no-build", action="store_true", help="use target/release/offcurve as it is")
    options = parser.parse_args()
    if options.rows < 20_160 or options.runs < 1:
        parser.error("at least 20,160 rows (two weeks) and one run are needed")
    return options


def target():
    return pathlib.Path(os.environ.get("CARGO_TARGET_DIR", ROOT / "target")).resolve()


def environment():
    """The Python of a virtual environment that holds what requirements.txt names, made where it is missing or older."""
    place = target() / "bench-venv"
    python = place / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    wanted = (HERE / "requirements.txt").read_text(encoding="utf-8")
    stamp = place / "installed.txt"
    if not stamp.exists() or stamp.read_text(encoding="utf-8") != wanted:
        say("installing tests/bench/requirements.txt into target/bench-venv")
        venv.create(place, with_pip=True, clear=True)
        quiet = ["--quiet", "--disable-pip-version-check", "--no-input"]
        subprocess.run([python, "-m", "pip", "install", *quiet, "-r", HERE / "requirements.txt"], check=True)
        stamp.write_text(wanted, encoding="utf-8")
    return python


def tasks(binary, python, data, out):
    """Name, file shape, command. Whole processes all."""
    shutil.rmtree(out, ignore_errors=True)
    rows = []
    for shape in ("wide", "tall"):
        export, plant = data / shape / "trends.csv", data / shape / "plant.toml"
        review = [binary, "review", plant, "--out", out / f"review-{shape}", "--quiet"]
        rows.append(("offcurve review", shape, review))
        rows.append(("polars, times inferred", shape, [python, HERE / "parse_polars.py", export, "infer"]))
        rows.append(("polars, format given", shape, [python, HERE / "parse_polars.py", export, "format"]))
        rows.append(("notebook", shape, [python, HERE / "notebook.py", plant, out / f"notebook-{shape}"]))
    return rows


def measure(rows, runs):
    """Each command's runs, in turns, so that a busy minute of the machine touches all of them."""
    results = [{"name": name, "shape": shape, "runs": []} for name, shape, _ in rows]
    for turn in range(runs):
        for result, (name, shape, command) in zip(results, rows):
            warm(command)
            result["runs"].append(one(command))
            last = result["runs"][-1]
            say(f"run {turn + 1} of {runs}: {name}, {shape}: {last['wall_s']:.2f} s")
    return results


def warm(command):
    """Reads the export once, so that every run finds it in memory."""
    for argument in command:
        path = pathlib.Path(argument)
        export = path if path.suffix == ".csv" else path.with_name("trends.csv")
        if path.suffix in (".csv", ".toml"):
            with open(export, "rb") as file:
                while file.read(16 * MIB):
                    pass


def one(command):
    """Wall and processor time and peak memory of one process.

    A child's peak is never less than what its parent held when it was started: so this script imports nothing large.
    """
    start = time.perf_counter()
    process = subprocess.Popen(
        [str(c) for c in command], stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE
    )
    errors = process.stderr.read()
    _, status, usage = os.wait4(process.pid, 0)
    wall = time.perf_counter() - start
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode != 0:
        sys.exit(f"{' '.join(map(str, command))}\nended with status {process.returncode}\n{errors.decode(errors='replace')}")
    unit = 1 if sys.platform == "darwin" else 1024
    return {"wall_s": wall, "user_s": usage.ru_utime, "system_s": usage.ru_stime, "peak_mib": usage.ru_maxrss * unit / MIB}


def time_stage(name, python, place, runs):
    """A stage alone and polars' parse alone, both inside their processes and in turns [s]."""
    example = target() / "release" / "examples" / (name + (".exe" if os.name == "nt" else ""))
    commands = ([example, place / "plant.toml", "3"], [python, HERE / "parse_polars.py", place / "trends.csv", "format"])
    taken = ([], [])
    for _ in range(runs):
        for command, times in zip(commands, taken):
            said = dict(word.split("=") for word in ask(command).split())
            times.append(float(said.get("median_s") or said["inside_s"]))
    return [statistics.median(times) for times in taken]


def check(results, out, rows):
    """A fast run that did not do the job is no result."""
    for shape in ("wide", "tall"):
        found = sorted((out / f"review-{shape}").rglob("findings.json"))
        if len(found) != 1:
            sys.exit(f"the review of the {shape} export left {len(found)} findings.json, not one")
        points = json.loads(found[0].read_text(encoding="utf-8"))["points"]
        samples = sum(p["samples"] for p in points)
        if len(points) != 14 or samples != 14 * rows:
            sys.exit(f"the review of the {shape} export used {samples} samples of {len(points)} points, not {14 * rows} of 14")
        if json.loads((out / f"notebook-{shape}" / "findings.json").read_text(encoding="utf-8"))["rows"] != rows:
            sys.exit(f"the notebook did not read all rows of the {shape} export")


def report(results, data, python, binary, options):
    print()
    for shape in ("wide", "tall"):
        size = (data / shape / "trends.csv").stat().st_size / 1e6
        print(f"{shape}: {options.rows:,} rows of 14 points, {size:.0f} MB; medians of {options.runs}")
        print(f"  {'':<24}{'wall s':>9}{'user s':>9}{'system s':>10}{'peak MiB':>10}{'to polars':>11}")
        rows = [(r["name"], {k: statistics.median(x[k] for x in r["runs"]) for k in r["runs"][0]}) for r in results if r["shape"] == shape]
        yardstick = min(m["wall_s"] for name, m in rows if name.startswith("polars"))
        for name, m in rows:
            print(
                f"  {name:<24}{m['wall_s']:>9.2f}{m['user_s']:>9.2f}{m['system_s']:>10.2f}{m['peak_mib']:>10.0f}"
                f"{m['wall_s'] / yardstick:>11.2f}"
            )
        print()
    print("to polars: wall time over that of the faster polars row. All are whole processes, files already in memory.")
    print(f"{ask([binary, '--version'])}; {ask(['rustc', '--version'])}; {platform.system()} {platform.machine()}, {cores()} cores")
    names = [line.split("==")[0] for line in (HERE / "requirements.txt").read_text().splitlines() if "==" in line]
    code = f"from importlib.metadata import version as v; print(', '.join(n + ' ' + v(n) for n in {names}))"
    print(f"{ask([python, '--version'])}; {ask([python, '-c', code])}")


def cores():
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()


def ask(command):
    return subprocess.run([str(c) for c in command], stdout=subprocess.PIPE, text=True, check=True).stdout.strip()


def say(text):
    print(text, file=sys.stderr, flush=True)


if __name__ == "__main__":
    main()
