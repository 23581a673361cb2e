#!/usr/bin/env python3
"""Reads the plain cases with other readers and compares them with cases.json.

Python's csv and zoneinfo, polars and openpyxl. None of the code that wrote the files is used."""

import csv
import datetime as dt
import io
import json
import math
import pathlib
import sys
from zoneinfo import ZoneInfo

import openpyxl
import polars as pl

HERE = pathlib.Path(__file__).resolve().parent.parent / "exports"
UTC = dt.timezone.utc
WORDS = {"on": 1.0, "off": 0.0, "true": 1.0, "false": 0.0}


def instants(naive, zone):
    """Local times to UTC. A doubled hour is told apart by the order of the rows."""
    z = ZoneInfo(zone)
    forward = naive[0] <= naive[-1]
    out, second, last = [], False, None
    for t in naive if forward else reversed(naive):
        early, late = (t.replace(tzinfo=z, fold=f).astimezone(UTC) for f in (0, 1))
        if early == late:
            second = False
        elif last is not None and t <= last:
            second = True
        out.append(late if second else early)
        last = t
    return out if forward else out[::-1]


def number(x, decimal="."):
    if isinstance(x, (int, float)):
        return float(x)
    x = x.strip()
    if x == "":
        return None
    if x.lower() in WORDS:
        return WORDS[x.lower()]
    return float(x.replace(decimal, "."))


def when(texts, pattern, zone):
    if pattern == "iso":
        ts = [dt.datetime.fromisoformat(t) for t in texts]
        return [t.astimezone(UTC) for t in ts] if ts[0].tzinfo else instants(ts, zone)
    if pattern == "unix":
        return [dt.datetime.fromtimestamp(int(t), UTC) for t in texts]
    return instants([dt.datetime.strptime(t, pattern) for t in texts], zone)


def table(path, encoding, delimiter):
    with open(path, newline="", encoding=encoding) as f:
        rows = list(csv.reader(f, delimiter=delimiter))
    return rows[0], rows[1:]


def by_csv(path, zone, shape="wide", pattern="iso", delimiter=",", decimal=".", encoding="utf-8", columns=(0, 1, 2)):
    head, rows = table(path, encoding, delimiter)
    if shape == "wide":
        times = when([r[0] for r in rows], pattern, zone)
        return {name: list(zip(times, [number(r[k], decimal) for r in rows])) for k, name in enumerate(head) if k}
    time, name, value = columns
    points = {}
    for r in rows:
        points.setdefault(r[name], []).append((r[time], number(r[value], decimal)))
    return {n: list(zip(when([t for t, _ in p], pattern, zone), [v for _, v in p])) for n, p in points.items()}


def frame(df, zone):
    time = df.columns[0]
    kind = df.schema[time]
    if kind == pl.String:
        times = when(df[time].to_list(), "iso", zone)
    elif kind.is_integer():
        times = [dt.datetime.fromtimestamp(t / 1000, UTC) for t in df[time].to_list()]
    elif kind.time_zone:
        times = df[time].dt.convert_time_zone("UTC").to_list()
    else:
        times = instants(df[time].to_list(), zone)
    return {c: list(zip(times, [None if v is None else float(v) for v in df[c].to_list()])) for c in df.columns[1:]}


def by_polars_csv(path, zone, **options):
    return frame(pl.read_csv(path, try_parse_dates=False, infer_schema_length=None, **options), zone)


def by_polars_parquet(path, zone):
    return frame(pl.read_parquet(io.BytesIO(path.read_bytes())), zone)


def by_polars_tall(path, zone):
    df = pl.read_parquet(io.BytesIO(path.read_bytes()))
    t, n, v = df.columns
    return {name: list(zip(g[t].dt.convert_time_zone("UTC").to_list(), g[v].to_list())) for (name,), g in df.with_columns(pl.col(n).cast(pl.String)).group_by(n)}


def by_polars_ipc(path, zone):
    return frame(pl.read_ipc(io.BytesIO(path.read_bytes())), zone)


def by_openpyxl(path, zone, sheet=0, tall=False):
    book = openpyxl.load_workbook(io.BytesIO(path.read_bytes()), data_only=True)
    rows = list(book.worksheets[sheet].iter_rows(values_only=True))
    near = lambda t: (t + dt.timedelta(microseconds=500000)).replace(microsecond=0)
    if tall:
        points = {}
        for name, t, v in rows[1:]:
            points.setdefault(name, []).append((near(t), v))
        return {n: list(zip(instants([t for t, _ in p], zone), [float(v) for _, v in p])) for n, p in points.items()}
    times = instants([near(r[0]) for r in rows[1:]], zone)
    return {name: list(zip(times, [None if r[k] is None else float(r[k]) for r in rows[1:]])) for k, name in enumerate(rows[0]) if k}


COMMA = {"delimiter": ";", "decimal": ","}
GERMAN = dict(COMMA, pattern="%d.%m.%Y %H:%M")
AMERICAN = {"pattern": "%m/%d/%Y %I:%M:%S %p"}
TALL = {"shape": "tall"}

READERS = [
    ("plain-wide", by_csv, {}), ("plain-wide", by_polars_csv, {}),
    ("tall-time-name-value", by_csv, TALL), ("tall-name-first", by_csv, dict(TALL, columns=(1, 0, 2))),
    ("tall-value-first", by_csv, dict(TALL, columns=(2, 1, 0))), ("tall-words-and-numbers", by_csv, TALL),
    ("tall-mixed-intervals", by_csv, TALL), ("tall-extra-columns", by_csv, dict(TALL, columns=(4, 2, 5))),
    ("wide-sparse", by_csv, {}), ("wide-sparse", by_polars_csv, {}), ("dead-column", by_csv, {}), ("gap", by_polars_csv, {}),
    ("semicolon-decimal-comma", by_csv, COMMA), ("semicolon-decimal-comma", by_polars_csv, {"separator": ";", "decimal_comma": True}),
    ("tab", by_csv, {"delimiter": "\t"}), ("pipe", by_polars_csv, {"separator": "|"}),
    ("quoted-everything", by_csv, {}), ("quoted-decimal-comma", by_csv, {"decimal": ","}), ("quoted-names", by_csv, {}),
    ("crlf", by_csv, {}), ("cr", by_csv, {}), ("no-final-newline", by_polars_csv, {}),
    ("iso-z", by_csv, {}), ("iso-offset", by_csv, {}), ("iso-local", by_csv, {}), ("unix-seconds", by_csv, {"pattern": "unix"}),
    ("month-first", by_csv, AMERICAN), ("day-first-dots", by_csv, {"pattern": "%d.%m.%Y %H:%M"}),
    ("day-first-late", by_csv, {"pattern": "%d/%m/%Y %H:%M"}), ("month-first-late", by_csv, AMERICAN),
    ("year-last", by_csv, {"pattern": "%a %b %d %H:%M:%S %Y"}), ("months-english", by_csv, {"pattern": "%d-%b-%Y %H:%M"}),
    ("fractions", by_csv, {}), ("two-digit-years", by_csv, {"pattern": "%d.%m.%y %H:%M"}),
    ("ambiguous-declared-day-first", by_csv, {"pattern": "%d/%m/%Y %H:%M"}),
    ("ambiguous-declared-month-first", by_csv, {"pattern": "%m/%d/%Y %H:%M"}),
    ("shuffled", by_csv, {}), ("newest-first", by_csv, {}), ("duplicates-same", by_csv, {}), ("duplicates-different", by_csv, {}),
    ("duplicates-tall", by_csv, TALL), ("scientific", by_csv, {}), ("leading-plus", by_csv, {}), ("negatives", by_polars_csv, {}),
    ("status-on-off", by_csv, {}), ("status-true-false-capitals", by_csv, {}), ("status-numbers", by_polars_csv, {}),
    ("spring-wide", by_csv, {}), ("autumn-wide", by_csv, {}), ("autumn-wide", by_polars_csv, {}),
    ("spring-new-york", by_csv, AMERICAN), ("autumn-new-york", by_csv, AMERICAN), ("autumn-berlin", by_csv, GERMAN),
    ("half-hour-change", by_csv, {}), ("autumn-offsets", by_csv, {}), ("autumn-fixed-offset", by_csv, {}),
    ("autumn-tall-by-point", by_csv, TALL), ("autumn-tall-by-time", by_csv, dict(TALL, columns=(1, 0, 2))), ("spring-tall", by_csv, TALL),
    ("autumn-newest-first", by_csv, {}), ("spring-newest-first", by_csv, {}), ("autumn-hourly", by_csv, {}),
    ("autumn-hourly-tall", by_csv, dict(GERMAN, shape="tall")), ("autumn-new-york-tall", by_csv, dict(AMERICAN, shape="tall")),
    ("autumn-xlsx", by_openpyxl, {}), ("autumn-parquet", by_polars_parquet, {}),
    ("utf8-bom", by_csv, {"encoding": "utf-8-sig"}), ("utf16-be-bom", by_csv, {"encoding": "utf-16"}),
    ("windows-1252", by_csv, dict(GERMAN, encoding="cp1252")), ("units-round", by_csv, {}), ("units-square", by_polars_csv, {}),
    ("xlsx", by_openpyxl, {}), ("xlsx-epoch-1904", by_openpyxl, {}), ("xlsx-tall", by_openpyxl, {"tall": True}), ("xlsx-notes-sheet", by_openpyxl, {"sheet": 2}),
    ("parquet-zoned", by_polars_parquet, {}), ("parquet-naive", by_polars_parquet, {}), ("parquet-string-times", by_polars_parquet, {}),
    ("parquet-types", by_polars_parquet, {}), ("parquet-unix-ms", by_polars_parquet, {}), ("parquet-tall", by_polars_tall, {}),
    ("arrow-file", by_polars_ipc, {}), ("feather-lz4", by_polars_ipc, {}), ("feather-string-times", by_polars_ipc, {}),
]


def stamp(t):
    ms = t.microsecond // 1000
    return t.strftime("%Y-%m-%dT%H:%M:%S") + (f".{ms:03d}" if ms else "") + "Z"


def compare(case, found):
    wrong = []
    for p in case["points"]:
        cells = found.get(p.get("as_written", p["name"]))
        if cells is None:
            wrong.append(f"{p['name']}: not found among {list(found)}")
            continue
        samples = {}
        for t, v in cells:
            if v is not None and not math.isnan(v):
                samples[t] = v
        first, last = (stamp(f(samples)) if samples else None for f in (min, max))
        samples = {stamp(t): v for t, v in samples.items()}
        said = {"samples": len(samples), "missing": sum(v is None for _, v in cells),
                "first": first, "last": last}
        for k, v in said.items():
            if p[k] is not None and v != p[k]:
                wrong.append(f"{p['name']}: {k} is {v}, cases.json says {p[k]}")
        if samples:
            mean = math.fsum(samples.values()) / len(samples)
            if not math.isclose(mean, p["mean"], rel_tol=6e-12):
                wrong.append(f"{p['name']}: mean is {mean!r}, cases.json says {p['mean']!r}")
        for t, v in p["probes"]:
            if samples.get(t) is None or not math.isclose(samples[t], v, rel_tol=1e-12, abs_tol=1e-12):
                wrong.append(f"{p['name']}: at {t} stands {samples.get(t)}, cases.json says {v}")
    if len(found) != len(case["points"]):
        wrong.append(f"{len(found)} points, cases.json says {len(case['points'])}")
    return wrong


def main():
    cases = {c["id"].split("-", 1)[1]: c for c in json.loads((HERE / "cases.json").read_text(encoding="utf-8"))}
    lost = 0
    for slug, reader, options in READERS:
        case = cases[slug]
        path = HERE / case["files"][0]
        wrong = compare(case, reader(path, case["needs"]["timezone"] or "UTC", **options))
        for w in wrong:
            print(f"{case['id']} by {reader.__name__}: {w}")
        lost += bool(wrong)
    print(f"{len(READERS) - lost} of {len(READERS)} outside readings agree with cases.json")
    return 1 if lost else 0


if __name__ == "__main__":
    sys.exit(main())
