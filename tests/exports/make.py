#!/usr/bin/env python3
"""Writes clean.csv, files/ and cases.json, or with --check compares them. See README.md."""

import datetime as dt
import json
import pathlib
import random
import shutil
import struct
import sys
import zlib
from collections import Counter
from decimal import Decimal
from zoneinfo import ZoneInfo

from kit import *

HERE = pathlib.Path(__file__).parent
OUT = HERE / "files"
CASES = []
WRITTEN = {}
KIND = "shape"


def save(path, data):
    WRITTEN["files/" + path] = data.encode() if isinstance(data, str) else data
    return "files/" + path


def number(slug):
    return f"{len(CASES) + 1:03d}-{slug}"


def case(slug, what, files, contents=(), shape=None, tz=LISBON, day_first=None, blank="missing", expect="read",
         refusal=(), notices=(), **more):
    """contents: (file, member or None, sheet or None, [Series]) in the order of reading."""
    all_series = [s for _, _, _, ss in contents for s in ss]
    c = {"id": number(slug), "kind": KIND, "files": list(files), "what": what,
         "needs": {"timezone": tz, "day_first": day_first, "blank": blank, "shape": None, "decimal": None},
         "expect": expect, "shape": shape, "points": [expected(s) for s in merge(all_series)],
         "refusal": list(refusal), "notices": list(notices)}
    if len(contents) > 1:
        c["per_file"] = []
        for f, member, sheet, ss in contents:
            entry = {"file": f}
            if member:
                entry["member"] = member
            if sheet:
                entry["sheet"] = sheet
            entry["points"] = [{k: v for k, v in expected(s).items() if k not in ("probes", "as_written")} for s in ss]
            c["per_file"].append(entry)
    c.update(more)
    CASES.append(c)


def one(slug, what, data, ss, shape="wide", ext="csv", **kw):
    """A case of one file."""
    f = save(number(slug) + (("." + ext) if ext else ""), data)
    case(slug, what, [f], [(f, None, None, ss)], shape, **kw)


def bad_file(slug, what, data, refusal, ext="csv", **kw):
    f = save(number(slug) + (("." + ext) if ext else ""), data)
    case(slug, what, [f], expect="refused", refusal=refusal, **kw)


def later(slug, what, recipe, refusal=(), expect="refused", **kw):
    """Too large for a repository: the test makes it."""
    case(slug, what, [], expect=expect, refusal=refusal, made_at_test_time=recipe, **kw)


def every(n, step, start=0):
    return range(start, n, step)


# ================================================================ shapes

def shapes():
    global KIND
    KIND = "shape"
    ss = series("march", 0, 864, "speed power dp flow supply return valve status")
    one("plain-wide", "A plain wide table of three days, comma and point, ISO times without a zone.", text(wide(ss)), ss)

    ss = series("march", 0, 200, "speed power flow status")
    one("tall-time-name-value", "A tall table in the order time, name, value.", text(tall(ss)), ss, "tall")
    ss = series("march", 100, 300, "speed power dp")
    one("tall-name-first", "A tall table with the name first, one point after the other.",
        text(tall(ss, ("name", "time", "value"), ["Point", "Timestamp", "Value"], by="point")), ss, "tall")
    ss = series("march", 40, 240, "dp supply valve")
    one("tall-value-first", "A tall table in the order value, name, time.",
        text(tall(ss, ("value", "name", "time"), ["Reading", "Tag", "Recorded at"])), ss, "tall")
    ss = series("march", 300, 480, "speed dp flow")
    rows = tall(ss, ("id", "site", "name", "unit", "time", "value", "user"),
                ["Id", "Site", "Point name", "Unit", "Time", "Value", "User"], extra={"id": "7", "site": "North plant", "user": "operator"})
    one("tall-extra-columns", "A tall table among extra columns, with a column of units.", text(rows), ss, "tall")
    ss = series("march", 0, 150, "speed power")
    rows = tall(ss, ("time", "name", "value", "note"), extra={"note": "scheduled, no remark"})
    one("tall-extra-text", "A tall table with a text column that holds the delimiter in quotes.", text(rows), ss, "tall")
    ss = series("march", 0, 160, "speed power dp status")
    words(ss[3], "On", "Off")
    one("tall-words-and-numbers", "A tall table whose value column holds numbers and On/Off words.", text(tall(ss)), ss, "tall")
    ss = [series("march", 0, 288, "speed")[0], series("march", 0, 288, "supply", 3)[0], series("march", 0, 288, "energy", 12)[0]]
    one("tall-mixed-intervals", "A tall table with points at 5, 15 and 60 minutes.", text(tall(ss, by="instant")), ss, "tall")

    def blocks(ss, title="{}", head=None, tf=SPACE, nf=str, d=",", tz=LISBON):
        out = []
        for s in ss:
            out.append(title.format(s.head or s.name))
            if head:
                out.append(line(head, d))
            out += [line([tf(local(c.t, tz)), cell_text(c, nf)], d) for c in s.cells]
            out.append("")
        return out

    ss = series("march", 0, 200, "speed power dp")
    one("blocks", "One block a point: a line with the name, time and value rows, a blank line.", text(blocks(ss)), ss, "blocks")
    ss = heads(series("march", 200, 400, "speed flow supply"))
    one("blocks-own-header", "One block a point, each with a title line and a header of its own.",
        text(blocks(ss, "Point: {}", ["Time", "Value"])), ss, "blocks")
    ss = [heads(series("june", 0, 96, "speed"), "[{}]")[0], heads(series("june", 0, 288, "supply", 3), "[{}]")[0],
          heads(series("june", 0, 288, "return", 6), "[{}]")[0]]
    one("blocks-semicolon-german", "Blocks of different intervals, semicolons, decimal commas, German dates.",
        text(blocks(ss, "{}", ["Datum/Zeit", "Wert"], GERMAN, comma, ";"), "\r\n"), ss, "blocks")

    slug = "one-file-a-point"
    contents = []
    for s in series("march", 0, 200, "speed power dp"):
        rows = ["Time,Value"] + [f"{SPACE(local(c.t, LISBON))},{c.value}" for c in s.cells]
        contents.append((save(f"{number(slug)}/{s.name}.csv", text(rows)), None, None, [s]))
    case(slug, "One file a point with the columns Time and Value: the name is the file's.", [c[0] for c in contents], contents, "one-point")
    slug = "one-file-a-point-folder"
    contents = []
    for s in heads(series("march", 300, 500, "flow supply return")):
        rows = [f"Point name;{s.name}", f"Unit;{unit_text(s)}", "", "Time;Value"] + [f"{GERMAN(local(c.t, LISBON))};{comma(c.value)}" for c in s.cells]
        s.head = None
        contents.append((save(f"{number(slug)}/trend{len(contents) + 1}.csv", text(rows)), None, None, [s]))
    case(slug, "A folder of one file a point: name and unit stand in the preamble.", ["files/" + number(slug)], contents, "one-point")
    ss = heads(series("march", 0, 288, "dp"))
    one("one-point", "A single point: time and value, the name and unit in the header.", text(wide(ss)), ss, None)

    def pairs(ss, titles=None, d=",", tf=SPACE, nf=str, tz=LISBON, quote=""):
        out = [line(titles or [x for s in ss for x in ("Time", s.head or s.name)], d, quote)]
        for i in range(max(len(s.cells) for s in ss)):
            row = []
            for s in ss:
                row += [tf(local(s.cells[i].t, tz)), cell_text(s.cells[i], nf)] if i < len(s.cells) else ["", ""]
            out.append(line(row, d, quote))
        return out

    ss = series("march", 0, 200, "speed power dp")
    one("pairs", "Every point with a time column of its own, all of one length.", text(pairs(ss)), ss, "pairs")
    ss = [series("march", 0, 240, "speed")[0], series("march", 7, 240, "supply", 3)[0], series("march", 30, 864, "energy", 12)[0]]
    for s in ss[1:]:
        s.missing_open = True
    one("pairs-ragged", "Paired columns of different intervals and lengths, the shorter ones padded.", text(pairs(ss)), ss, "pairs")
    ss = series("changes", 0, 260, "speed"), series("changes", 3, 220, "dp", 2), series("changes", 5, 300, "valve", 3)
    ss = heads([s[0] for s in ss], "[{}]")
    for s in ss[1:]:
        s.missing_open = True
    one("pairs-own-times", "Paired columns with irregular times and units in brackets, tabs, decimal commas.",
        text(pairs(ss, d="\t", tf=fmt("%d.%m.%Y %H:%M:%S"), nf=comma), "\r\n"), ss, "pairs", ext="txt")

    ss = series("march", 100, 300, "speed dp valve")
    known(ss)
    rows = pairs(ss, [x for s in ss for x in ("Time", "Value")])
    one("pairs-two-headers", "Paired columns: the names stand above, over the time columns; Time, Value and units below.",
        text([line([x for s in ss for x in (s.name, "")]), rows[0], line([x for s in ss for x in ("", unit_text(s))])] + rows[1:]), ss, "pairs")
    ss = series("march", 0, 150, "speed power dp")
    rows = [[x for s in ss for x in ("Date", s.name, "")][:-1]] + \
        [[x for s in ss for x in (GERMAN(s.cells[i].t), comma(s.cells[i].value), "")][:-1] for i in range(150)]
    one("pairs-spaced", "Paired columns with an empty column between the pairs.", text([line(r, ";") for r in rows]), ss, "pairs")
    ss = series("march", 0, 200, "speed power dp")
    rows = tall(ss, ("name", "time", "value"))
    one("tall-pages", "A tall table whose header is repeated every 90 rows.",
        text([x for k, r in enumerate(rows) for x in ([rows[0]] if k > 1 and (k - 1) % 90 == 0 else []) + [r]]), ss, "tall")
    ss = series("march", 0, 200, "speed power dp")
    rows = tall(ss, ("time", "name", "value", "quality"), extra={"quality": "Good"})
    one("tall-quality", "A tall table with a column of quality that is good throughout.", text(rows), ss, "tall")

    def months(keys, over):
        rows = SPAN["hours"]
        cut = [dt.datetime(2026, m, 1, tzinfo=UTC) for m in (1, 2, 3, 4)]
        out = []
        for a, b in zip(cut, cut[1:]):
            part = [r for r in rows if a <= r[0] < b + dt.timedelta(hours=over)]
            out.append([Series(POINTS[k][0], [Cell(t, "ok", v[k]) for t, v in part], key=k) for k in keys.split()])
        return out

    slug = "monthly-with-overlap"
    contents = []
    for m, ss in zip(("2026-01", "2026-02", "2026-03"), months("speed power", 30)):
        contents.append((save(f"{number(slug)}/{m}.csv", text(wide(ss))), None, None, ss))
    case(slug, "Three monthly files, each running 30 hours into the next with the same values.", [c[0] for c in contents], contents, "wide")
    slug = "monthly-newest-file-first"
    contents = []
    for m, ss in reversed(list(zip(("2026-01", "2026-02", "2026-03"), months("speed power", 30)))):
        contents.append((save(f"{number(slug)}/{m}.csv", text(wide(ss))), None, None, ss))
    case(slug, "Three monthly files with overlaps, the newest given first.", [c[0] for c in contents], contents, "wide")
    slug = "monthly-changing-layout"
    contents = []
    for k, ss in enumerate(months("speed outdoor", 24)):
        if k == 0:
            data = text(wide(ss))
        elif k == 1:
            data = text(wide(list(reversed(ss)), tf=GERMAN, nf=comma, d=";"), "\r\n").encode("utf-16")
        else:
            data = gz(text(tall(ss, tf=zulu)).encode())
        name = ["2026-01.csv", "2026-02.csv", "2026-03.csv.gz"][k]
        contents.append((save(f"{number(slug)}/{name}", data), None, None, ss))
    case(slug, "Three monthly files with overlaps, each in another dialect and shape.", [c[0] for c in contents], contents, None)
    slug = "mixed-intervals-files"
    contents = []
    for name, ss in (("pump.csv", series("march", 0, 288, "speed power")), ("coils.csv", series("march", 0, 864, "supply return", 3)),
                     ("meter.csv", series("march", 0, 864, "energy", 12))):
        contents.append((save(f"{number(slug)}/{name}", text(wide(ss))), None, None, ss))
    case(slug, "Three files at 5, 15 and 60 minutes.", [c[0] for c in contents], contents, None)

    ss = series("march", 60, 360, "speed valve status")
    last = {}
    for s in ss:
        s.missing_open = True
        for n, c in enumerate(s.cells):
            v = c.value if s.key == "status" else c.value.quantize(Decimal("1"))
            c.value = v
            if n and v == last[s.key]:
                c.kind, c.text = "missing", ""
            last[s.key] = v
    one("changes-wide", "A change-of-value export: unchanged cells are blank.", text(wide(ss)), ss, blank="unchanged")
    ss = [series("changes", 0, 300, "speed", 2)[0], series("changes", 1, 300, "valve", 3)[0], series("changes", 0, 300, "status", 5)[0]]
    one("changes-tall", "A tall change-of-value export with irregular times.", text(tall(ss, by="instant")), ss, "tall")
    ss = series("march", 0, 240, "speed power supply return")
    put(ss[2], "missing", every(240, 4, 1), "")
    put(ss[3], "missing", [i for i in range(240) if i % 3], "")
    one("wide-sparse", "Points of different intervals in one wide table: blanks between.", text(wide(ss)), ss)
    ss = series("march", 0, 120, "speed power dp")
    put(ss[1], "missing", range(120), "")
    one("dead-column", "A point that is blank all along, between two that live.", text(wide(ss)), ss)


# ================================================================ containers

def containers():
    global KIND
    KIND = "container"
    ss = series("march", 0, 288, "speed power dp flow")
    one("gzip", "A plain wide table, gzip.", gz(text(wide(ss)).encode()), ss, ext="csv.gz")
    ss = series("march", 288, 576, "speed power dp flow")
    one("zstd", "A plain wide table, zstd.", zst(text(wide(ss)).encode()), ss, ext="csv.zst")
    ss = series("march", 0, 300, "speed dp")
    lines = wide(ss)
    one("gzip-two-streams", "Two gzip streams in one file, one after the other.",
        gz(text(lines[:120]).encode()) + gz(text(lines[120:]).encode()), ss, ext="csv.gz")
    one("zstd-two-frames", "Two zstd frames in one file, one after the other.",
        zst(text(lines[:77]).encode()) + zst(text(lines[77:]).encode()), ss, ext="csv.zst")
    ss = series("march", 100, 350, "speed power status")
    one("zip-one", "A zip with one member.", zipped([("trend.csv", text(wide(ss)))]), ss, ext="zip")
    one("zip-stored", "A zip whose member is stored, not deflated.", zipped([("trend.csv", text(wide(ss)))], stored=True), ss, ext="zip")

    slug = "zip-folders"
    f = "files/" + number(slug) + ".zip"
    a, b, c = series("march", 0, 200, "speed power"), series("march", 0, 200, "supply return"), series("march", 0, 200, "valve")
    save(number(slug) + ".zip", zipped([("plant/", ""), ("plant/pumps/trend.csv", text(wide(a))), ("plant/coils/temperatures.csv", text(tall(b))),
                                        ("plant/coils/valve.csv", text(wide(c, tf=GERMAN, nf=comma, d=";")))]))
    case(slug, "A zip with folders inside and members of different shapes.", [f],
         [(f, "plant/pumps/trend.csv", None, a), (f, "plant/coils/temperatures.csv", None, b), (f, "plant/coils/valve.csv", None, c)], None)
    slug = "zip-monthly"
    f = "files/" + number(slug) + ".zip"
    parts = [(f"2026-03-{d}.csv", series("march", k * 288, min(864, k * 288 + 300), "speed dp")) for k, d in enumerate((13, 14, 15))]
    save(number(slug) + ".zip", zipped([(n, text(wide(p))) for n, p in parts]))
    case(slug, "A zip of daily files that overlap by an hour.", [f], [(f, n, None, p) for n, p in parts], "wide")
    slug = "zip-with-notes"
    f = "files/" + number(slug) + ".zip"
    a = series("march", 0, 150, "speed power")
    save(number(slug) + ".zip", zipped([("notes.txt", "Pump one was serviced in the morning.\nNothing else to say.\n"), ("trend.csv", text(wide(a)))]))
    case(slug, "A zip with a page of notes beside the table.", [f], [(f, "trend.csv", None, a)], "wide", expect="lost-one", refusal=["notes.txt"], lost=[{"file": f, "member": "notes.txt"}])

    real = {"formats": {1: "yyyy-mm-dd hh:mm"}}
    ss = series("march", 0, 288, "speed power dp flow supply return")
    one("xlsx", "A plain sheet with real dates.", xlsx([("Trend", grid(ss), real)]), ss, ext="xlsx")
    ss = series("june", 0, 200, "speed supply")
    one("xlsx-text-dates", "A sheet whose dates are text, day first.", xlsx([("Trend", grid(ss, time=GERMAN))]), ss, ext="xlsx")
    ss = series("march", 50, 250, "speed dp")
    one("xlsx-serials", "A sheet whose dates are serial numbers without a date format.",
        xlsx([("Trend", grid(ss, time=lambda d: float(serial(9)(d))))]), ss, ext="xlsx")
    ss = series("march", 0, 150, "speed dp")
    one("xlsx-epoch-1904", "A workbook that counts its days from 1904.", xlsx([("Trend", grid(ss), real)], epoch_1904=True), ss, ext="xlsx")
    ss = heads(series("march", 0, 180, "speed power supply"))
    rows = [["Plant trend report"], ["Period:", "13.03.2026 - 13.03.2026"], []] + grid(ss)
    one("xlsx-merged-title", "A sheet under merged title rows.", xlsx([("Report", rows, dict(real, merge=["A1:D1", "B2:D2"]))]), ss, ext="xlsx")
    ss = series("march", 0, 150, "speed power dp")
    rows = [[None, r[0], None, r[1], None, None, r[2], r[3]] for r in grid(ss)]
    one("xlsx-empty-columns", "A sheet with empty columns before and between.", xlsx([("Trend", rows, {"formats": {2: "dd.mm.yyyy hh:mm"}})]), ss, ext="xlsx")
    ss = series("march", 0, 150, "speed power dp")
    rows = [[], [], []] + grid(ss)
    one("xlsx-empty-rows", "A sheet that starts three rows down.", xlsx([("Trend", rows, real)]), ss, ext="xlsx")
    slug = "xlsx-two-sheets"
    f = "files/" + number(slug) + ".xlsx"
    a, b = series("march", 0, 200, "speed power"), series("march", 0, 600, "supply return", 3)
    save(number(slug) + ".xlsx", xlsx([("Pumps", grid(a), real), ("Temperatures", grid(b), real)]))
    case(slug, "Two sheets with different points and intervals.", [f], [(f, None, "Pumps", a), (f, None, "Temperatures", b)], "wide")
    slug = "xlsx-sheet-a-day"
    f = "files/" + number(slug) + ".xlsx"
    parts = [(f"Day {d}", series("march", k * 288, k * 288 + 288, "speed dp")) for k, d in enumerate((13, 14, 15))]
    save(number(slug) + ".xlsx", xlsx([(n, grid(p), real) for n, p in parts]))
    case(slug, "One sheet a day, the same points in each.", [f], [(f, None, n, p) for n, p in parts], "wide")
    slug = "xlsx-notes-sheet"
    a = series("march", 0, 150, "speed dp")
    one(slug, "A first sheet of notes and an empty one beside the data.",
        xlsx([("Notes", [["This workbook was made by hand."], ["Ask the plant manager."]]), ("Empty", []), ("Data", grid(a), real)]), a, ext="xlsx")
    ss = series("march", 0, 200, "speed power dp")
    put(ss[0], "bad", every(200, 31, 5), ["#N/A", "#DIV/0!", "#VALUE!"])
    put(ss[1], "missing", every(200, 23, 4), "")
    ss[0].loose = True
    one("xlsx-error-cells", "A sheet with error cells and blanks.", xlsx([("Trend", grid(ss), real)]), ss, ext="xlsx")
    ss = series("march", 0, 200, "speed power status")
    g = grid(ss)
    rows = [g[0]] + [[r[0], comma(Decimal(repr(r[1]))), comma(Decimal(repr(r[2]))), bool(r[3])] for r in g[1:]]
    one("xlsx-numbers-as-text", "A sheet whose numbers are text with decimal commas, and whose status is a true boolean.", xlsx([("Trend", rows, real)]), ss, ext="xlsx")
    ss = series("march", 0, 120, "speed power dp")
    rows = [["Point", "Date", "Value"]] + [[s.name, c.t.replace(tzinfo=None), float(c.value)] for s in ss for c in s.cells]
    one("xlsx-tall", "A tall sheet.", xlsx([("Log", rows, {"formats": {2: "dd/mm/yyyy hh:mm"}})]), ss, "tall", ext="xlsx")
    ss = series("march", 0, 150, "speed power")
    rows = [["Date", "Time"] + [s.name for s in ss]] + [[c.t.date(), c.t.time().replace(tzinfo=None)] + [float(s.cells[i].value) for s in ss]
                                                       for i, c in enumerate(ss[0].cells)]
    one("xlsx-date-and-time", "A sheet with date and time in two columns.", xlsx([("Trend", rows, {"formats": {1: "dd.mm.yyyy", 2: "hh:mm"}})]), ss, ext="xlsx")

    slug = "xlsx-sheet-a-point"
    f = "files/" + number(slug) + ".xlsx"
    parts = [(s.name, [s]) for s in series("march", 0, 200, "speed power dp")]
    save(number(slug) + ".xlsx", xlsx([(n, [["Time", "Value"]] + grid(p)[1:], real) for n, p in parts]))
    case(slug, "One sheet a point with the columns Time and Value: the name is the sheet's.", [f], [(f, None, n, p) for n, p in parts], "one-point")
    ss = [series("march", 0, 200, "speed")[0], series("march", 0, 600, "dp", 3)[0]]
    rows = [["Time", "P1 Speed", "Time", "Loop DP"]] + [[x for s in ss for x in (s.cells[i].t.replace(tzinfo=None), s.cells[i].value)] for i in range(200)]
    one("xlsx-pairs", "A sheet of paired columns with intervals of their own.", xlsx([("Trend", rows, {"formats": {1: "dd.mm.yyyy hh:mm", 3: "dd.mm.yyyy hh:mm"}})]), ss, "pairs", ext="xlsx")
    ss = series("march", 0, 200, "speed power dp")
    g = grid(known(ss))
    one("xlsx-unit-row", "A sheet with a row of units and a row of totals.",
        xlsx([("Trend", [g[0], [None] + [unit_text(s) for s in ss]] + g[1:] + [["Total"] + [float(sum(c.value for c in s.cells)) for s in ss]], real)]), ss, ext="xlsx")
    slug = "zip-one-file-a-point"
    f = "files/" + number(slug) + ".zip"
    parts = [(f"points/{s.name}.csv", [s]) for s in series("march", 0, 200, "supply return valve")]
    save(number(slug) + ".zip", zipped([(n, text(["Time;Value"] + [f"{GERMAN(c.t)};{comma(c.value)}" for c in p[0].cells])) for n, p in parts]))
    case(slug, "A zip of one file a point: the name is the member's.", [f], [(f, n, None, p) for n, p in parts], "one-point")

    ss = series("march", 0, 288, "speed power dp status")
    one("parquet-zoned", "Parquet with zoned timestamps.", parquet(arrow(ss)), ss, ext="parquet", tz=None)
    ss = series("june", 0, 288, "speed power valve")
    one("parquet-naive", "Parquet with timestamps without a zone: local time in summer.", parquet(arrow(ss, "ms", None, local_in=BERLIN)), ss, ext="parquet", tz=BERLIN)
    ss = series("june", 0, 200, "speed power")
    one("parquet-string-times", "Parquet with times as text.", parquet(arrow(ss, SPACE, local_in=LISBON), compression="zstd"), ss, ext="parquet")
    ss = series("march", 0, 250, "speed valve status power")
    for c in ss[1].cells:
        c.value = c.value.quantize(Decimal(1))
    put(ss[0], "missing", every(250, 19, 3), "")
    put(ss[1], "missing", every(250, 41, 6), "")
    one("parquet-types", "Parquet with floats, integers, booleans, decimals and nulls.",
        parquet(arrow(ss, "ns", "Europe/Lisbon", types={"valve": "int32", "status": "bool", "power": "decimal"}), compression="gzip"), ss, ext="parquet", tz=None)
    ss = series("march", 0, 200, "speed dp")
    one("parquet-unix-ms", "Parquet with Unix milliseconds as integers.", parquet(arrow(ss, "unix_ms")), ss, ext="parquet", tz=None)
    ss = series("march", 0, 120, "speed power dp")
    import pyarrow as pa
    flat = [(c.t, s.name, float(c.value)) for s in ss for c in s.cells]
    t = pa.table({"timestamp": pa.array([int(r[0].timestamp() * 10**6) for r in flat], pa.int64()).cast(pa.timestamp("us", tz="UTC")),
                  "point": pa.array([r[1] for r in flat]).dictionary_encode(), "value": pa.array([r[2] for r in flat])})
    one("parquet-tall", "Parquet, tall, with the names as a dictionary.", parquet(t), ss, "tall", ext="parquet", tz=None)
    ss = series("march", 0, 288, "speed power dp status")
    one("arrow-file", "Arrow IPC file, zoned timestamps in ms.", ipc(arrow(ss, "ms", types={"status": "bool"})), ss, ext="arrow", tz=None)
    ss = series("june", 0, 288, "speed power supply")
    put(ss[2], "missing", every(288, 17, 2), "")
    one("feather-lz4", "Feather, lz4, timestamps without a zone.", feather(arrow(ss, "us", None, local_in=LISBON), compression="lz4"), ss, ext="feather")
    ss = series("march", 0, 200, "speed valve")
    one("feather-string-times", "Feather with zstd buffers and times as text with Z.", feather(arrow(ss, zulu), compression="zstd"), ss, ext="feather", tz=None)

    ss = series("march", 30, 230, "speed power dp")
    one("gzip-named-csv", "Gzip that is named .csv.", gz(text(wide(ss)).encode()), ss, ext="csv")
    one("xlsx-named-xls", "A workbook of the new kind that is named .xls.", xlsx([("Trend", grid(ss), real)]), ss, ext="xls")
    one("csv-named-log", "Commas in a file named .log.", text(wide(ss)), ss, ext="log")
    one("csv-named-dat", "Semicolons and decimal commas in a file named .dat.", text(wide(ss, d=";", nf=comma)), ss, ext="dat")
    one("csv-without-extension", "A tall file without an extension.", text(tall(ss)), ss, "tall", ext="")
    one("parquet-named-csv", "Parquet that is named .csv.", parquet(arrow(ss)), ss, ext="csv", tz=None)
    one("zip-named-txt", "A zip that is named .txt.", zipped([("a.csv", text(wide(ss)))]), ss, ext="txt")
    one("csv-named-xlsx", "Plain text that is named .xlsx.", text(wide(ss)), ss, ext="xlsx")
    one("csv-named-gz", "Plain text that is named .csv.gz.", text(wide(ss)), ss, ext="csv.gz")


# ================================================================ dialects

def dialects():
    global KIND
    KIND = "dialect"
    ss = series("march", 0, 250, "speed power dp flow")
    one("semicolon-decimal-comma", "Semicolons and decimal commas.", text(wide(ss, d=";", nf=comma)), ss)
    ss = series("march", 20, 270, "speed power status")
    one("tab", "Tabs.", text(wide(ss, d="\t")), ss, ext="tsv")
    one("tab-decimal-comma", "Tabs and decimal commas.", text(wide(ss, d="\t", nf=comma)), ss, ext="txt")
    one("pipe", "Vertical bars.", text(wide(ss, d="|")), ss, ext="txt")
    ss = named(series("march", 0, 200, "speed power dp"), ["P1_SPEED", "P1_POWER", "LOOP_DP"])
    rows = [r.split(",") for r in wide(ss, tf=fmt("%Y-%m-%dT%H:%M:%S"), th="TIME")]
    one("fixed-width", "Columns padded with blanks to a fixed width.", text(["".join([r[0].ljust(22)] + [x.rjust(10) for x in r[1:]]) for r in rows]), ss, ext="txt")
    ss = series("march", 0, 200, "speed power dp")
    one("quoted-everything", "Every field in double quotes.", text(wide(ss, quote="all")), ss)
    one("single-quotes", "Every field in single quotes.", text(wide(ss, quote="'")), ss)
    one("quoted-decimal-comma", "Commas as delimiter, and quoted numbers with decimal commas.", text(wide(ss, nf=comma)), ss)
    ss = named(series("march", 0, 150, "speed power"), ["Pump, north, speed", 'Pump "north" power'])
    one("quoted-names", "Names that hold the delimiter and quotes.", text(wide(ss)), ss)
    ss = series("march", 0, 150, "speed power")
    one("quoted-newline-preamble", "A quoted preamble field that holds a newline and the delimiter.",
        '"Report of the north plant,\nsecond floor; made by hand"\n"Remark","one, two\nthree"\n\n' + text(wide(ss)), ss)
    ss = series("march", 0, 150, "speed status")
    words(ss[1], "On", "Off")
    put(ss[1], "bad", every(150, 24, 9), "Fault, see\nthe log")
    one("quoted-newline-cells", "Cells in quotes that hold the delimiter and a newline: a fault.", text(wide(ss)), ss)
    ss = series("march", 0, 150, "speed power")
    rows = wide(ss, d=";", nf=comma)
    one("separator-line", "A first line that names the delimiter.", text(["sep=;"] + rows), ss)

    for slug, mark, point, d, enc, what in (
            ("thousands-comma", ",", ".", ",", "utf-8", "Thousands with commas, quoted where needed."),
            ("thousands-point", ".", ",", ";", "utf-8", "Thousands with points and decimal commas."),
            ("thousands-nbsp", "\u00a0", ",", ";", "utf-8", "Thousands with no-break spaces and decimal commas."),
            ("thousands-narrow", "\u202f", ",", ";", "utf-8", "Thousands with narrow no-break spaces and decimal commas."),
            ("thousands-blank", " ", ",", ";", "utf-8", "Thousands with plain blanks and decimal commas."),
            ("thousands-apostrophe", "'", ".", ";", "utf-8", "Thousands with apostrophes."),
            ("thousands-typographic", "\u2019", ".", ";", "utf-8", "Thousands with typographic apostrophes."),
            ("thousands-nbsp-1252", "\u00a0", ",", ";", "cp1252", "Thousands with no-break spaces in Windows-1252.")):
        ss = series("march", 60, 260, "flow energy dp")
        scaled(ss[0], 1000, 1)
        for n, c in enumerate(ss[0].cells):
            c.value += Decimal(n % 7) / 10
        one(slug, what, text(wide(ss, d=d, nf=grouped(mark, point))).encode(enc), ss)

    ss = heads(series("march", 0, 200, "speed flow supply"))
    one("utf8-bom", "UTF-8 with a byte order mark.", b"\xef\xbb\xbf" + text(wide(ss)).encode(), ss)
    one("utf16-le-bom", "UTF-16, little end first, with a mark.", b"\xff\xfe" + text(wide(ss, d="\t"), "\r\n").encode("utf-16-le"), ss, ext="txt")
    one("utf16-be-bom", "UTF-16, big end first, with a mark.", b"\xfe\xff" + text(wide(ss)).encode("utf-16-be"), ss)
    one("utf16-le-bare", "UTF-16, little end first, without a mark.", text(wide(ss)).encode("utf-16-le"), ss)
    one("utf16-be-bare", "UTF-16, big end first, without a mark.", text(wide(ss, d=";", nf=comma)).encode("utf-16-be"), ss)
    ss = heads(named(series("march", 0, 200, "supply return flow"), ["Rücklauf Süd", "Température départ", "Débit café"]), "[{}]")
    one("windows-1252", "Windows-1252 with accents and degree signs.", text(wide(ss, d=";", nf=comma, th="Datum/Uhrzeit", tf=GERMAN), "\r\n").encode("cp1252"), ss)
    one("utf8-accents", "UTF-8 without a mark, with accents and degree signs.", text(wide(ss)), ss)
    ss = series("march", 0, 150, "speed power")
    one("crlf", "Lines end in CR LF.", text(wide(ss), "\r\n"), ss)
    one("cr", "Lines end in CR alone.", text(wide(ss), "\r"), ss)
    rows = wide(ss)
    one("mixed-endings", "Lines end in LF and CR LF by turns.", "".join(r + ("\r\n" if k % 3 else "\n") for k, r in enumerate(rows)), ss)
    one("no-final-newline", "The last line has no line end but is whole.", text(rows, final=False), ss)
    one("blank-lines", "A blank line after every tenth row.", text([x for k, r in enumerate(rows) for x in ([r, ""] if k and k % 10 == 0 else [r])]), ss)

    ss = series("march", 0, 150, "speed power dp")
    one("preamble-one", "One line of preamble.", text(["Trend report"] + wide(ss)), ss)
    pre = ["Report: Daily trend", "Plant: North", "Created: 16.03.2026 07:30:12", "From: 13.03.2026 00:00", "To: 13.03.2026 12:25", "Interval: 5 min", "Operator: , ,", ""]
    one("preamble-keys", "A preamble of keys and values, dates among them.", text(pre + wide(ss)), ss)
    pre = [f"Remark {k}: checked on 2026-03-{k:02d} 08:00, value {k}.5, by hand" for k in range(1, 31)]
    one("preamble-thirty", "A preamble of thirty lines that look a little like data.", text(pre + [""] + wide(ss)), ss)
    one("preamble-table", "A preamble with a small table of points above the data.",
        text(["Key,Point,Unit", "1,P1 Speed,%", "2,P1 Power,kW", "3,Loop DP,kPa", ""] + wide(ss)), ss)
    one("comment-lines", "Comment lines before and among the rows.",
        text(["# trend export", "# three points, 5 min"] + [x for k, r in enumerate(wide(ss)) for x in (["# page"] if k and k % 50 == 0 else []) + [r]]), ss)
    ss = known(series("march", 0, 200, "speed power flow supply"))
    one("unit-row", "A row of units under the header.", text(wide(ss, unit_row=True)), ss)
    ss = series("march", 0, 200, "speed power dp supply return")
    equipment = ["P1", "P1", "Loop", "Loop", "Loop"]
    point = ["Speed", "Power", "Pressure", "Supply", "Return"]
    named(ss, [f"{e} {p}" for e, p in zip(equipment, point)])
    one("two-line-names", "Two header lines: equipment above, point below.",
        text([line([""] + equipment), line(["Time"] + point)] + wide(ss, header=False)), ss)
    ss = series("march", 0, 200, "speed power dp supply")
    named(ss, [f"{e} {p}" for e, p in zip(equipment, point)])
    known(ss)
    one("three-line-header", "Three header lines: equipment, point, unit.",
        text([line(["", *equipment[:4]], ";"), line(["Zeit", *point[:4]], ";"), line(["", *[unit_text(s) for s in ss]], ";")]
             + wide(ss, header=False, d=";", nf=comma, tf=GERMAN)), ss)
    ss = heads(series("march", 0, 200, "speed power dp flow"))
    one("units-round", "Units in round brackets in the header.", text(wide(ss)), ss)
    ss = heads(series("march", 0, 200, "power dp supply energy"), "[{}]")
    one("units-square", "Units in square brackets in the header.", text(wide(ss)), ss)
    ss = heads(series("march", 0, 200, "power dp supply"), ", {}")
    one("units-after-comma", "Units after a comma in the header.", text(wide(ss, d=";")), ss)
    one("units-after-comma-quoted", "Units after a comma in a quoted header.", text(wide(ss)), ss)

    def united(ss, nf=str, gap=" "):
        known(ss)
        for s in ss:
            for c in s.cells:
                if c.kind == "ok":
                    c.text = nf(c.value) + gap + unit_text(s)
        return ss

    ss = united(series("march", 0, 200, "power dp flow supply"))
    one("units-in-cells", "A unit behind every value.", text(wide(ss)), ss)
    ss = united(series("march", 0, 200, "speed power dp"), comma)
    one("units-in-cells-comma", "A unit behind every value, decimal commas.", text(wide(ss, d=";")), ss)
    ss = united(series("march", 0, 200, "power dp supply"), gap="")
    one("units-in-cells-tight", "A unit right behind every value without a blank, tall.", text(tall(ss)), ss, "tall")
    ss = series("march", 0, 300, "speed power dp")
    rows = wide(ss)
    one("pages", "The header is repeated every 48 rows.", text([x for k, r in enumerate(rows) for x in ([rows[0]] if k > 1 and (k - 1) % 48 == 0 else []) + [r]]), ss)
    known(ss)
    rows = wide(ss, unit_row=True)
    body = rows[2:]
    paged = [x for k in range(0, len(body), 60) for x in (["Trend report,page " + str(k // 60 + 1), ""] + rows[:2] + body[k:k + 60] + [""])]
    one("pages-with-titles", "Pages, each with title, header and unit row.", text(paged), ss)
    ss = series("march", 0, 200, "speed power dp")
    one("footer", "A last line that says it is the end.", text(wide(ss) + ["", "End of report"]), ss)

    def summary(ss, nf=str):
        rows = []
        for word, f in (("Minimum", min), ("Maximum", max), ("Average", lambda v: q(float(sum(v) / len(v)), 2)), ("Total", sum)):
            rows.append([word] + [nf(f([c.value for c in s.cells])) for s in ss])
        return rows

    one("footer-totals", "Rows of minimum, maximum, average and total under the data.", text(wide(ss) + [line(r) for r in summary(ss)]), ss)
    one("footer-totals-comma", "Totals under the data, after a blank line, with decimal commas and words.",
        text(wide(ss, d=";", nf=comma) + [""] + [line(r, ";") for r in summary(ss, comma)] + ["Rows: 200", "End of report"], "\r\n"), ss)

    def status(ss, good, bad, where):
        for s, w in zip(ss, where):
            for n, c in enumerate(s.cells):
                if c.text is None:
                    if n in w:
                        c.kind = "bad"
                    c.text = f"{c.value} " + (bad[n % len(bad)] if n in w else good)
        return ss

    ss = status(series("march", 0, 200, "speed power dp"), "{ok}", ["{fault}"], [set(every(200, 37, 4)), set(), set(range(50, 60))])
    one("status-braces", "Status text in braces behind every value; {fault} is bad.", text(wide(ss)), ss)
    ss = series("march", 0, 200, "power dp")
    known(ss)
    for s in ss:
        for n, c in enumerate(s.cells):
            c.kind = "bad" if n % 45 == 7 else "ok"
            c.text = f"{c.value} {unit_text(s)} " + ("{fault}" if n % 45 == 7 else "{ok}")
    one("status-and-units", "Unit and status text behind every value.", text(wide(ss)), ss)
    ss = status(series("march", 0, 150, "speed valve"), "{ok}", ["{down}", "{fault}"], [set(every(150, 29, 3)), set(every(150, 53, 10))])
    one("status-tall", "Status text behind the values of a tall table.", text(tall(ss)), ss, "tall")

    ss = series("march", 0, 180, "speed power dp")
    rows = wide(ss)
    one("cut-last-line", "The file ends in the middle of the time of its last line.", text(rows) + "2026-03-1", ss, notices=["cut|last line|incomplete|unfinished|partial|ends"])
    one("trailing-delimiters", "A delimiter behind every line, the header too.", text([r + "," for r in rows]), ss)
    one("trailing-delimiters-rows", "Delimiters behind the rows but not behind the header.", text([r + (",," if k else "") for k, r in enumerate(rows)]), ss)
    ss = series("march", 0, 180, "speed power dp")
    put(ss[2], "missing", every(180, 11, 2), "")
    rows = wide(ss)
    one("ragged-rows", "Rows that stop early where the last cell is blank.", text([r.rstrip(",") for r in rows]), ss)
    ss = series("march", 0, 180, "speed power dp")
    one("blanks-around", "Blanks around every field.", text([" , ".join(r.split(",")) + " " for r in wide(ss)]), ss)
    ss = series("march", 0, 260, "flow valve")
    for s in ss:
        for n, c in enumerate(s.cells):
            if n < 220:
                c.value = c.value.quantize(Decimal(1))
    one("late-decimals", "Whole numbers for 220 rows, decimal commas after.", text(wide(ss, d=";", nf=comma)), ss)
    ss = series("march", 0, 200, "speed power dp")
    put(ss[1], "missing", range(0, 150), "")
    one("late-values", "A column that is blank for its first 150 rows.", text(wide(ss)), ss)


# ================================================================ time

def times():
    global KIND
    KIND = "time"
    ss = lambda span="june", a=0, b=200, keys="speed dp", step=1: series(span, a, b, keys, step)

    def t(slug, what, tf, span="june", b=200, tz=LISBON, needs="same", th="Time", d=",", nf=str, step=1, a=0, **kw):
        s = ss(span, a, b, step=step)
        one(slug, what, text(wide(s, tf=tf, tz=tz, th=th, d=d, nf=nf)), s, tz=tz if needs == "same" else needs, **kw)

    t("iso-z", "ISO times with Z.", zulu, needs=None)
    t("iso-offset", "ISO times with an offset.", offset, tz=BERLIN, needs=None)
    t("iso-offset-tight", "ISO times with an offset without a colon, blank instead of T.", lambda d: d.strftime("%Y-%m-%d %H:%M:%S%z"), tz=NEW_YORK, needs=None)
    t("iso-local", "ISO times with T and no zone, local in New York.", fmt("%Y-%m-%dT%H:%M:%S"), tz=NEW_YORK)
    t("iso-basic", "Compact ISO times with Z.", lambda d: d.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ"), needs=None)
    t("fractions", "Times with milliseconds.", lambda d: d.strftime("%Y-%m-%d %H:%M:%S.") + f"{d.microsecond // 1000:03d}", span="quick", b=240)
    t("fractions-comma", "Times with milliseconds behind a comma.", lambda d: d.strftime("%Y-%m-%d %H:%M:%S,") + f"{d.microsecond // 1000:03d}", span="quick", b=240, d=";", nf=comma)
    t("month-first", "Month first with AM and PM.", AMERICAN, tz=NEW_YORK, b=576)
    t("month-first-short", "Month first, two-digit year, no seconds, am and pm in small letters.", fmt("{m}/{d}/%y {h}:%M{p}", am="am", pm="pm"), tz=NEW_YORK, b=400)
    t("day-first-dots", "Day first with dots.", GERMAN, tz=BERLIN, b=400)
    t("day-first-slashes", "Day first with slashes.", BRITISH, b=400)
    t("day-first-late", "Hourly rows from the 1st: only the 13th day settles the order.", BRITISH, span="june-hours", b=336)
    t("month-first-late", "Month first, hourly rows from the 1st: only the 13th day settles the order.", AMERICAN, span="june-hours", b=336)
    t("day-first-dashes", "Day first with dashes.", fmt("%d-%m-%Y %H:%M:%S"), b=400)
    t("day-first-no-zeros", "Day first without leading zeros.", fmt("{d}.{m}.%Y {H}:%M"), b=400)
    t("year-first-slashes", "Year first with slashes.", fmt("%Y/%m/%d %H:%M"))
    t("year-first-dots", "Year first with dots.", fmt("%Y.%m.%d %H:%M:%S"))
    t("compact", "Compact date, a blank, compact time.", fmt("%Y%m%d %H%M%S"))
    t("compact-fourteen", "Fourteen digits in one.", fmt("%Y%m%d%H%M%S"))
    t("months-english", "English months in three letters.", fmt("%d-{M}-%Y %H:%M", "en3"), span="feb", b=288)
    t("months-english-full", "English months in full, month first, AM and PM.", fmt("{M} {d}, %Y {h}:%M:%S {p}"), span="aug", b=288, d=";")
    t("months-german", "German months in full.", fmt("{d}. {M} %Y %H:%M", "de"), span="feb", b=288, tz=BERLIN, d=";", nf=comma)
    t("months-german-short", "German months in three letters, December to January.", fmt("%d-{M}-%Y %H:%M", "de3"), span="dec", b=288, tz=BERLIN)
    t("months-german-mrz", "German months in three letters, February to March.", fmt("%d. {M}. %Y %H:%M:%S", "de3"), span="feb", b=288, tz=BERLIN)
    t("months-french", "French months in full, with accents.", fmt("{d} {M} %Y %H:%M", "fr"), span="aug", b=288, tz="Europe/Paris", d=";", nf=comma)
    t("months-french-short", "French months cut short, with accents and points.", fmt("{d} {M} %Y %H:%M", "fr3"), span="feb", b=288, tz="Europe/Paris")
    t("months-french-december", "French months, December to January, hours with h.", fmt("{d} {M} %Y %Hh%M", "fr3"), span="dec", b=288, tz="Europe/Paris")
    t("months-spanish", "Spanish months with de.", fmt("{d} de {M} de %Y %H:%M", "es"), span="dec", b=288, tz="Europe/Madrid")
    t("months-spanish-short", "Spanish months in three letters.", fmt("%d-{M}-%Y %H:%M", "es3"), span="dec", b=288, tz="Europe/Madrid", d=";", nf=comma)
    t("months-spanish-august", "Spanish months in three letters with a two-digit year.", fmt("%d/{M}/%y %H:%M", "es3"), span="aug", b=288, tz="Europe/Madrid")
    t("weekday-english", "An English weekday in front.", fmt("{W} %d {M} %Y %H:%M:%S", "en3", "en3"), span="feb", b=288)
    t("weekday-german", "A German weekday in front.", fmt("{W}, {d}. {M} %Y %H:%M", "de", "de"), span="feb", b=288, tz=BERLIN, d=";", nf=comma)
    t("weekday-german-short", "Two letters of a German weekday in front of numbers.", fmt("{W} %d.%m.%Y %H:%M", days="de2"), span="feb", b=288, tz=BERLIN)
    t("weekday-french", "A French weekday in front.", fmt("{W} {d} {M} %Y %H:%M", "fr", "fr"), span="aug", b=288, tz="Europe/Paris")
    t("weekday-spanish", "A Spanish weekday in front, with accents.", fmt("{W}, {d} de {M} de %Y %H:%M", "es", "es"), span="feb", b=288, tz="Europe/Madrid", d=";")
    t("year-last", "Weekday, month, day, time, and the year last.", fmt("{W} {M} %d %H:%M:%S %Y", "en3", "en3"), span="feb", b=288)
    t("mail-date", "Dates as in mail, with an offset.", lambda d: fmt("{W}, %d {M} %Y %H:%M:%S ", "en3", "en3")(d) + d.strftime("%z"), span="feb", b=288, tz=BERLIN, needs=None, d=";")
    t("spanish-halves", "Day first with the Spanish halves of the day.", fmt("%d/%m/%Y {h}:%M:%S {p}", am="a. m.", pm="p. m."), tz="Europe/Madrid", b=400)
    t("two-columns", "Date and time in two columns.", lambda d: (d.strftime("%d/%m/%Y"), d.strftime("%H:%M")), th=("Date", "Time"), b=400)
    t("two-columns-german", "Date and time in two columns, German titles.", lambda d: (d.strftime("%d.%m.%Y"), d.strftime("%H:%M:%S")), th=("Datum", "Uhrzeit"), d=";", nf=comma, tz=BERLIN, b=400)
    t("two-columns-swapped", "The time in front of the date, AM and PM.", lambda d: (fmt("{h}:%M {p}")(d), d.strftime("%m/%d/%Y")), th=("Time", "Date"), tz=NEW_YORK, b=400)
    s = ss(b=150)
    rows = ["Date,Time,Point,Value"] + [f"{local(c.t, LISBON):%Y-%m-%d,%H:%M:%S},{x.name},{c.value}" for x in s for c in x.cells]
    one("two-columns-tall", "A tall table with date and time in two columns.", text(rows), s, "tall")
    t("serials", "Spreadsheet serials with a fraction.", serial(8))
    t("serials-comma", "Spreadsheet serials with decimal commas.", lambda d: comma(serial(10)(d)), d=";", nf=comma, tz=BERLIN)
    t("unix-seconds", "Unix seconds.", lambda d: str(int(d.timestamp())), needs=None)
    t("unix-milliseconds", "Unix milliseconds.", lambda d: str(round(d.timestamp() * 1000)), span="quick", b=240, needs=None)
    t("two-digit-years", "Day first with two-digit years.", fmt("%d.%m.%y %H:%M"), span="dec", b=288)
    t("two-digit-years-slashes", "Two-digit years with slashes, the day settles the order.", fmt("%d/%m/%y %H:%M:%S"), b=400)
    def midnight(pattern):
        def f(d):
            if d.hour == 0 and d.minute == 0:
                return (d - dt.timedelta(days=1)).strftime(pattern.replace("%H:%M", "24:00"))
            return d.strftime(pattern)
        return f
    t("hour-24", "Midnight is 24:00 of the day before.", midnight("%d.%m.%Y %H:%M"), b=576, a=3, step=3, tz=BERLIN)
    t("hour-24-iso", "Midnight is 24:00:00 of the day before, ISO.", midnight("%Y-%m-%d %H:%M:00"), b=576, a=3, step=3)
    s = ss("march", 0, 864, step=3)
    one("no-year-preamble", "Rows without a year; the year stands in the preamble.",
        text(["Report period: 13.03.2026 - 15.03.2026", ""] + wide(s, tf=fmt("%d.%m. %H:%M"), d=";", nf=comma)), s)
    s = ss("dec", 0, 288)
    one("no-year-turn", "Rows without a year over New Year; the preamble gives the period.",
        text(["Period: 30.12.2025 00:00 - 01.01.2026 23:45", ""] + wide(s, tf=fmt("%d/%m %H:%M"))), s)
    bad_file("no-year", "Rows without a year, and no year anywhere.", text(wide(ss("march", 0, 864, step=3), tf=fmt("%d.%m. %H:%M"))), ["year"])

    zones = lambda pattern: lambda d: d.strftime(pattern + " %Z")
    t("abbreviations-lisbon", "Zone abbreviations WEST and WET over the doubled hour.", zones("%Y-%m-%d %H:%M:%S"), span="autumn", b=216)
    t("abbreviations-east-coast", "Zone abbreviations EDT and EST over the doubled hour, month first, declared.", lambda d: AMERICAN(d) + d.strftime(" %Z"), span="autumn-west", b=216, tz=NEW_YORK, day_first=False)
    t("abbreviations-spring", "Zone abbreviations over the missing hour, month in letters.", lambda d: fmt("%d-{M}-%y {h}:%M:%S {p} ", "en3")(d) + d.strftime("%Z"), span="spring-west", b=216, tz=NEW_YORK)
    t("spring-wide", "The night of the missing hour, local times.", SPACE, span="spring", b=216)
    t("autumn-wide", "The night of the doubled hour, local times in order.", SPACE, span="autumn", b=216)
    t("spring-new-york", "The missing hour in New York, month first; the order is declared, for no value settles it.", AMERICAN, span="spring-west", b=216, tz=NEW_YORK, day_first=False)
    t("autumn-new-york", "The doubled hour in New York, month first; the order is declared, for no value settles it.", AMERICAN, span="autumn-west", b=216, tz=NEW_YORK, day_first=False)
    t("autumn-berlin", "The doubled hour in Berlin.", GERMAN, span="autumn", b=216, tz=BERLIN, d=";", nf=comma)
    t("half-hour-change", "A zone that moves its clocks by half an hour.", SPACE, span="half-hour", b=120, tz="Australia/Lord_Howe")
    t("autumn-offsets", "The doubled hour with offsets.", offset, span="autumn", b=216, needs=None)
    t("autumn-fixed-offset", "The same night from a clock that never changes, declared as such.", SPACE, span="autumn", b=216, tz="Etc/GMT-1")
    s = ss("autumn", 0, 216)
    one("autumn-tall-by-point", "The doubled hour in a tall table, one point after the other.", text(tall(s, by="point")), s, "tall")
    s = ss("autumn", 0, 216)
    one("autumn-tall-by-time", "The doubled hour in a tall table, points by turns.", text(tall(s, ("name", "time", "value"))), s, "tall")
    s = ss("spring", 0, 216)
    one("spring-tall", "The missing hour in a tall table.", text(tall(s)), s, "tall")
    s = take(ss("autumn", 0, 216), range(215, -1, -1))
    one("autumn-newest-first", "The doubled hour, newest row first.", text(wide(s)), s)
    s = ss("autumn", 0, 216)
    one("autumn-two-columns", "The doubled hour with date and time in two columns.", text(wide(s, tf=lambda d: (d.strftime("%d.%m.%Y"), d.strftime("%H:%M")), th=("Date", "Time"), d=";", nf=comma)), s)
    s = ss("autumn", 0, 216)
    one("autumn-xlsx", "The doubled hour as real dates in a sheet.", xlsx([("Trend", grid(s), {"formats": {1: "yyyy-mm-dd hh:mm"}})]), s, ext="xlsx")

    s = ss("autumn", 0, 216, step=12)
    one("autumn-hourly", "The doubled hour in hourly rows: 01:00 stands twice and is two instants.", text(wide(s)), s)
    s = ss("autumn", 0, 216, step=6)
    one("autumn-hourly-tall", "The doubled hour in half-hourly rows, tall, points by turns, Berlin.", text(tall(s, tf=GERMAN, d=";", nf=comma, tz=BERLIN)), s, "tall", tz=BERLIN)
    s = ss("autumn", 0, 216)
    one("autumn-parquet", "The doubled hour in Parquet without a zone.", parquet(arrow(s, "ms", None, local_in=BERLIN)), s, ext="parquet", tz=BERLIN)
    s = ss("autumn-west", 0, 216)
    one("autumn-new-york-tall", "The doubled hour in New York, tall, one point after the other; the order is declared.",
        text(tall(s, tf=AMERICAN, tz=NEW_YORK, by="point")), s, "tall", tz=NEW_YORK, day_first=False)
    s = take(ss("spring-west", 0, 216), range(215, -1, -1))
    one("spring-newest-first", "The missing hour in New York, newest row first, ISO.", text(wide(s, tz=NEW_YORK)), s, tz=NEW_YORK)
    t("hour-24-two-columns", "Midnight is 24:00 of the day before, date and time in two columns.",
      lambda d: tuple(midnight("%d.%m.%Y|%H:%M")(d).split("|")), b=576, a=3, step=3, th=("Datum", "Zeit"), d=";", nf=comma, tz=BERLIN)

    s = ss("march", 0, 300)
    rng = random.Random(11)
    order = list(range(300))
    rng.shuffle(order)
    s = take(s, order)
    one("shuffled", "Rows in no order at all.", text(wide(s)), s, notices=["order"])
    s = take(ss("march", 0, 300), list(range(200, 300)) + list(range(0, 200)))
    one("out-of-order", "The last third of the rows stands first.", text(wide(s)), s, notices=["order"])
    s = take(ss("march", 0, 300), range(299, -1, -1))
    one("newest-first", "Newest row first.", text(wide(s)), s)
    s = take(ss("march", 0, 250), list(range(0, 150)) + list(range(100, 250)))
    one("duplicates-same", "Fifty rows stand twice with the same values.", text(wide(s)), s, notices=["duplicate|twice|repeated"])
    s = take(ss("march", 0, 250), list(range(0, 250)) + list(range(60, 100)))
    for x in s:
        for c in x.cells[250:]:
            c.value = c.value + Decimal("1.5")
    one("duplicates-different", "Forty times stand twice with other values: the last wins.", text(wide(s)), s, notices=["duplicate|twice|repeated"])
    s = ss("march", 0, 200)
    s = [x.copy([c for i, c in enumerate(x.cells) for _ in range(3 if i % 20 == 0 else 1)]) for x in s]
    for x in s:
        seen = Counter()
        for c in x.cells:
            seen[c.t] += 1
            if seen[c.t] == 3:
                c.value += 1
    one("duplicates-tall", "Every twentieth time stands three times in a tall table, the last with another value.", text(tall(s)), s, "tall", notices=["duplicate|twice|repeated"])
    slug = "clock-jump-between-files"
    a, b = ss("march", 0, 288), ss("march", 288, 576)
    for x in b:
        for c in x.cells:
            c.t += dt.timedelta(hours=1)
    fa, fb = save(number(slug) + "/a.csv", text(wide(a))), save(number(slug) + "/b.csv", text(wide(b)))
    case(slug, "The second file's clock is an hour ahead: it is read as it stands.", [fa, fb], [(fa, None, None, a), (fb, None, None, b)], "wide")
    s = [x.copy(x.cells[:90] + x.cells[140:]) for x in ss("march", 0, 300)]
    one("gap", "Four hours are not there.", text(wide(s)), s)

    s = ss("april-day", 0, 96)
    rows = wide(s, tf=BRITISH)
    f = save(number("ambiguous-order") + ".csv", text(rows))
    case("ambiguous-order", "One day, 03/04/2026: no value settles day and month.", [f], expect="refused", refusal=["day_first"])
    case("ambiguous-declared-day-first", "The same file with the day declared first.", [f], [(f, None, None, s)], "wide", day_first=True)
    other = [x.copy() for x in s]
    for x in other:
        for c in x.cells:
            d = local(c.t, LISBON)
            c.t = dt.datetime(2026, 3, 4, d.hour, d.minute, tzinfo=ZoneInfo(LISBON)).astimezone(UTC)
    case("ambiguous-declared-month-first", "The same file with the month declared first.", [f], [(f, None, None, other)], "wide", day_first=False)
    bad_file("ambiguous-two-digit-year", "One day, 03/04/26, tall, semicolons.", text(tall(s, tf=fmt("%d/%m/%y %H:%M"), d=";")), ["day_first"])
    s = ss("june", 288, 576, step=2)
    rows = wide(s, tf=BRITISH)
    swap = wide(s, tf=fmt("%m/%d/%Y %H:%M"))
    bad_file("mixed-orders", "13/06/2026 above and 06/13/2026 below: two orders in one column.", text(rows[:70] + swap[70:]), ["day|order"])


# ================================================================ values

def values():
    global KIND
    KIND = "value"
    n = 200

    def bad(slug, what, faults, nodata=(), **kw):
        s = series("march", 0, n, "speed dp supply")
        put(s[0], "bad", every(n, 23, 4), faults)
        if nodata:
            put(s[1], "missing", every(n, 19, 6), nodata)
            s[1].loose = True
        put(s[2], "bad", range(60, 75), faults[0])
        one(slug, what, text(wide(s, **kw)), s)

    bad("bad-english", "English bad words, and words for no data.", ["Fault", "Bad", "Error", "Offline"], ["N/A", "No Data"])
    bad("bad-german", "German bad words, and k.A. for no data.", ["Störung", "Fehler", "gestört"], ["k.A."], d=";", nf=comma, tf=GERMAN)
    bad("bad-french", "French bad words, and words for no data.", ["Défaut", "Erreur"], ["N/D"], d=";", nf=comma)
    bad("bad-spanish", "Spanish bad words, and words for no data.", ["Fallo", "Error"], ["Sin datos"], d=";", nf=comma)
    bad("bad-communication", "Words of lost communication.", ["Comm Fail", "Communication error", "Timeout"])
    s = series("march", 0, n, "speed dp supply")
    for x, w in zip(s, (["NaN"], ["Infinity", "-Infinity", "inf"], ["nan", "1.#QNAN", "-1.#IND"])):
        put(x, "bad", every(n, 17, 3), w)
        x.loose = True
    one("not-numbers", "NaN and infinity in the spellings of common libraries.", text(wide(s)), s)
    s = series("march", 0, n, "speed power supply")
    put(s[0], "bad", every(n, 13, 2), ["#N/A", "#DIV/0!", "#REF!", "#WERT!"])
    put(s[1], "missing", every(n, 17, 2), ["-", "--", "---"])
    put(s[2], "missing", every(n, 11, 2), ["null", "NULL", "None"])
    for x in s:
        x.loose = True
    one("dashes-and-nulls", "Spreadsheet errors, dashes and nulls.", text(wide(s)), s)
    s = series("march", 0, n, "flow power")
    put(s[1], "bad", every(n, 9, 1), "<0.1")
    s[1].loose = True
    one("below-limit", "Cells that say less than a limit are no readings.", text(wide(s)), s)

    def sentinel(slug, what, key, word, **kw):
        s = series("march", 0, 260, "speed " + key)
        put(s[1], "bad", list(range(80, 96)) + [120, 177, 178, 230], word)
        one(slug, what, text(wide(s, **kw)), s)

    sentinel("sentinel-9999", "-9999 stands for a dead sensor.", "dp", "-9999")
    sentinel("sentinel-9999-decimals", "-9999,0 stands for a dead sensor, decimal commas.", "supply", "-9999,0", d=";", nf=comma)
    sentinel("sentinel-888", "888.8 stands for a dead temperature sensor.", "supply", "888.8")
    sentinel("sentinel-1e38", "1e38 stands for a dead sensor.", "flow", "1e38")
    sentinel("sentinel-float-max", "The largest single float stands for a dead sensor.", "return", "3.4028235E+38")
    sentinel("sentinel-65535", "65535 in a temperature.", "supply", "65535")
    sentinel("sentinel-32768", "-32768 in a temperature.", "return", "-32768")
    sentinel("sentinel-learned", "3276.7 stands for a dead temperature sensor: it repeats far outside the rest.", "supply", "3276.7")
    s = series("march", 0, 260, "supply dp")
    put(s[0], "bad", range(100, 130), "-9999")
    one("sentinel-tall", "-9999 in a tall table.", text(tall(s)), s, "tall")

    for slug, on, off, what in (("on-off", "On", "Off", "On and Off."), ("running-stopped", "Running", "Stopped", "Running and Stopped."),
                                ("german", "Ein", "Aus", "Ein and Aus."), ("french", "Marche", "Arrêt", "Marche and Arrêt."),
                                ("spanish", "Encendido", "Apagado", "Encendido and Apagado."), ("true-false", "true", "false", "true and false."),
                                ("true-false-capitals", "TRUE", "FALSE", "TRUE and FALSE."), ("yes-no", "Yes", "No", "Yes and No."),
                                ("active-inactive", "Active", "Inactive", "Active and Inactive.")):
        s = series("march", 0, 288, "speed status")
        words(s[1], on, off)
        one("status-" + slug, "A status in words: " + what, text(wide(s)), s)
    s = series("march", 0, 288, "speed status")
    one("status-numbers", "A status of ones and noughts.", text(wide(s)), s)
    s = series("march", 0, 288, "speed status")
    words(s[1], "ON", "OFF")
    put(s[1], "bad", every(288, 40, 9), "Fault")
    put(s[1], "missing", every(288, 31, 5), "")
    one("status-with-faults", "A status in words with faults and blanks between.", text(wide(s)), s)
    s = series("march", 0, n, "speed valve")
    known(s)
    for x in s:
        for c in x.cells:
            c.text = f"{c.value}%"
    one("percent-signs", "A percent sign in every cell.", text(wide(s)), s)
    s = series("march", 0, n, "speed valve")
    known(s)
    for x in s:
        for c in x.cells:
            c.text = comma(c.value) + "\u00a0%"
    one("percent-signs-nbsp", "Decimal commas, a no-break space and a percent sign in every cell.", text(wide(s, d=";")), s)
    s = series("march", 0, n, "power energy supply")
    one("scientific", "Scientific notation.", text(wide(s, nf=lambda v: f"{float(v):.6E}")), s)
    one("scientific-comma", "Scientific notation with decimal commas.", text(wide(s, d=";", nf=lambda v: f"{float(v):.6e}".replace(".", ","))), s)
    one("leading-plus", "A plus before every number.", text(wide(s, nf=lambda v: f"+{v}")), s)
    s = series("feb", 0, 288, "outdoor supply")
    for c in s[0].cells:
        c.value -= 7
    one("negatives", "Temperatures below nought.", text(wide(s)), s)
    one("negatives-true-minus", "Temperatures below nought with the typographic minus.", text(wide(s, nf=lambda v: str(v).replace("-", "\u2212"))), s)
    s = series("march", 72, 272, "power dp")
    scaled(s[0], Decimal("0.1"), 3)
    one("no-leading-nought", "Numbers without the nought before the point.", text(wide(s, nf=lambda v: str(v)[1:] if str(v).startswith("0.") else str(v))), s)
    s = series("march", 0, n, "speed dp")
    one("many-digits", "Values with seventeen digits, as a program prints them.", text(wide(s, nf=lambda v: str(v) + "0000000000000")), s)


# ================================================================ combinations

def combinations():
    global KIND
    KIND = "combination"
    s = heads(series("june", 0, 250, "speed power flow supply"), "[{}]")
    put(s[0], "bad", every(250, 31, 4), ["Störung", "Fehler"])
    pre = ["Bericht;Tagesverlauf", "Anlage;Nord", "Erstellt;15.06.2026 07:12", "Zeitraum;13.06.2026 - 13.06.2026", ""]
    one("german-utf16-gzip", "Gzip of UTF-16 with tabs, preamble, decimal commas, bad words, German dates.",
        gz(b"\xff\xfe" + text([x.replace(";", "\t") for x in pre] + wide(s, d="\t", nf=comma, tf=GERMAN, th="Zeitstempel", tz=BERLIN), "\r\n").encode("utf-16-le")),
        s, ext="txt.gz", tz=BERLIN)
    s = heads(named(series("aug", 0, 288, "supply return"), ["Température départ", "Température retour"]), "({})")
    rows = wide(s, d=";", nf=comma, tf=fmt("{W} {d} {M} %Y %H:%M", "fr", "fr"), th="Horodatage", tz="Europe/Paris", quote="all")
    one("french-1252-zip", "Zip of Windows-1252, French dates, everything quoted, footer.",
        zipped([("releve/aout.csv", text(rows + ["", '"Fin du rapport"'], "\r\n").encode("cp1252"))]), s, ext="zip", tz="Europe/Paris")
    s = series("march", 0, 260, "flow energy dp")
    scaled(s[0], 1000, 1)
    nf = grouped("\u202f", ",")
    rows = wide(s, d=";", nf=nf, tf=lambda d: (d.strftime("%d/%m/%Y"), d.strftime("%H:%M")), th=("Fecha", "Hora"), tz="Europe/Madrid")
    rows = rows[:1] + [x for k, r in enumerate(rows[1:]) for x in ([rows[0]] if k and k % 50 == 0 else []) + [r]]
    one("spanish-narrow-pages", "Narrow thousands, decimal commas, two time columns, pages, a byte order mark.",
        b"\xef\xbb\xbf" + text(rows, "\r\n").encode(), s, tz="Europe/Madrid")
    s = series("autumn-west", 0, 216, "speed supply status")
    words(s[2], "On", "Off")
    put(s[1], "bad", range(40, 52), "-9999")
    s = take(s, range(215, -1, -1))
    rows = wide(s, tf=AMERICAN, tz=NEW_YORK, quote="all")
    one("american-newest-first", "Everything quoted, newest first over the doubled hour, sentinels and words.", text(["Trend log", ""] + rows), s, tz=NEW_YORK, day_first=False)
    s = series("march", 0, 220, "speed power dp status")
    known(s)
    for x in s:
        for k, c in enumerate(x.cells):
            w = ("On" if c.value else "Off") if x.key == "status" else f"{c.value} {unit_text(x)}"
            if k % 37 == 5:
                c.kind = "bad"
            c.text = w + (" {fault}" if c.kind == "bad" else " {ok}")
    rows = wide(s, tf=lambda d: fmt("%d-{M}-%y {h}:%M:%S {p} ", "en3")(d) + d.strftime("%Z"), th="Timestamp")
    one("status-units-abbreviations", "Units and status text in cells, words among them, zone abbreviations, a long preamble.",
        text([f"history:/north/point{k}" for k in range(12)] + [""] + rows), s)
    s = series("autumn", 0, 216, "speed dp")
    s = take(s, list(range(0, 216)) + list(range(180, 200)))
    put(s[0], "missing", range(20, 30), "")
    one("tall-doubled-hour-duplicates", "A tall table over the doubled hour with blanks and repeated rows at its end.",
        text(tall(s, ("name", "unit", "time", "value"), by="point", tf=GERMAN, d=";", nf=comma, tz=BERLIN)), s, "tall", tz=BERLIN, notices=["duplicate|twice|repeated"])
    s = heads(series("june", 0, 150, "speed power"), "[{}]")
    rows = [["Trend of the week"], ["Printed 15.06.2026"], [], [None] + grid(s, tz=BERLIN, time=GERMAN, nf=comma)[0]] + \
        [[None] + r for r in grid(s, tz=BERLIN, time=GERMAN, nf=comma)[1:]] + [[], [None, "Mittelwert", "41,2", "1,9"]]
    one("xlsx-german-text", "A sheet where all is text: German dates, decimal commas, title, footer, an empty column.",
        xlsx([("Woche", rows, {"merge": ["A1:D1"]})]), s, ext="xlsx", tz=BERLIN)
    slug = "zip-of-everything"
    f = "files/" + number(slug) + ".zip"
    a, b, c, e = series("march", 0, 150, "speed"), series("march", 0, 150, "power"), series("march", 0, 150, "dp"), series("march", 0, 150, "flow")
    save(number(slug) + ".zip", zipped([("a.csv", text(wide(a))), ("b.xlsx", xlsx([("Trend", grid(b), {"formats": {1: "yyyy-mm-dd hh:mm"}})])),
                                        ("deep/c.parquet", parquet(arrow(c))), ("deep/er/d.txt", b"\xff\xfe" + text(wide(e, d=";", nf=comma)).encode("utf-16-le"))]))
    case(slug, "A zip that holds text, a workbook, Parquet and UTF-16.", [f],
         [(f, "a.csv", None, a), (f, "b.xlsx", None, b), (f, "deep/c.parquet", None, c), (f, "deep/er/d.txt", None, e)], None)
    s = series("march", 0, 200, "speed power dp")
    put(s[2], "missing", every(200, 13, 3), "")
    known(s)
    named(s, ["P1 Speed", "P1 Power", "Loop Pressure"])
    rows = [line(["", "P1", "P1", "Loop"], "\t"), line(["Timestamp", "Speed", "Power", "Pressure"], "\t"), line(["", "%", "kW", "kPa"], "\t")] + \
        [r + "\t" for r in wide(s, header=False, d="\t", tf=fmt("%d/%m/%Y %H:%M:%S"))]
    one("three-heads-utf16-be", "Three header lines, tabs, trailing tabs, UTF-16 without a mark, CR alone, zstd.",
        zst(text(rows, "\r").encode("utf-16-be")), s, ext="txt.zst")
    s = [series("march", 0, 150, "speed")[0], series("march", 0, 450, "dp", 3)[0]]
    known(s)
    out = []
    for x in s:
        out += ["Point: " + x.name, "Unit: " + unit_text(x), "Date;Time;Value"]
        for k, c in enumerate(x.cells):
            out.append(f"{c.t:%d.%m.%Y;%H:%M:%S};{comma(c.value)}")
        out += ["", ""]
    one("blocks-two-time-columns", "Blocks with name and unit lines, date and time in two columns, decimal commas.", text(out, "\r\n").encode("cp1252"), s, "blocks")
    s = series("march", 0, 220, "speed energy")
    rows = wide(s, tf=serial(8), d="\t", nf=grouped("\u2019", "."))
    one("serials-apostrophes", "Serials, tabs, typographic apostrophes, footer.", text(rows + ["", "Total\t\t128\u2019500.0", "End of report"]), s, ext="txt")
    s = series("spring", 0, 216, "speed dp")
    rows = tall(s, ("value", "time", "name"), tf=fmt("%d/%m/%y %H:%M"), d="|", by="point")
    one("spring-tall-pipe", "The missing hour in a tall table with bars, two-digit years and a cut last line.", text(rows) + "41.2|29/0", s, "tall",
        notices=["cut|last line|incomplete|unfinished|partial|ends"])


    s = [x for x in series("changes", 0, 300, "speed valve status", 2)]
    words(s[2], "Marche", "Arrêt")
    put(s[0], "bad", every(150, 29, 4), ["Défaut"])
    one("french-changes-zstd", "Zstd of Windows-1252: a tall change-of-value log with French words and a bar as delimiter.",
        zst(text(["Journal de tendance", "Bâtiment : nord", ""] + tall(s, ("name", "time", "value"), ["Point", "Horodatage", "Valeur"], tf=fmt("%d/%m/%Y %H:%M:%S"), tz="Europe/Paris", d="|", nf=comma), "\r\n").encode("cp1252")),
        s, "tall", ext="log", tz="Europe/Paris")
    s = series("march", 0, 160, "speed dp")
    one("unix-tall-gzip-named-csv", "Gzip that is named .csv: tall, Unix seconds, names first, newest first.",
        gz(text((lambda r: r[:1] + r[:0:-1])(tall(s, ("name", "time", "value"), tf=lambda d: str(int(d.timestamp()))))).encode()),
        [x.copy(x.cells[::-1]) for x in s], "tall", tz=None)
    s = heads(series("march", 60, 260, "flow energy supply"), "[{}]")
    scaled(s[0], 1000, 1)
    s[0].unit, s[0].head = "l/h", "Loop Flow [l/h]"
    put(s[2], "bad", every(200, 21, 3), ["k.A.", "Störung"])
    s[2].loose = True
    rows = wide(s, d="\t", nf=grouped("\u00a0", ","), tf=fmt("{W}, {d}. {M} %Y %H:%M", "de", "de"), tz=BERLIN, th="Zeitpunkt")
    one("german-words-utf16-be", "UTF-16 without a mark: German weekdays and months, no-break spaces as thousands, bad words, a German footer.",
        text(["Anlagenbericht", "Erstellt am 16. März 2026", ""] + rows + ["", "Mittelwert\t37\u00a0000,1\t128\u00a0412,3\t8,9", "Ende des Berichts"], "\r\n").encode("utf-16-be"), s, ext="txt", tz=BERLIN)
    slug = "zip-two-orders"
    f = "files/" + number(slug) + ".zip"
    a, b = series("march", 0, 288, "speed dp"), series("march", 276, 576, "speed dp")
    save(number(slug) + ".zip", zipped([("a.csv", text(wide(a, tf=BRITISH))), ("b.csv", text(wide(b, tf=AMERICAN, d="\t")))]))
    case(slug, "A zip of two daily files that overlap: one is day first, the other month first, and each settles its own order.", [f],
         [(f, "a.csv", None, a), (f, "b.csv", None, b)], "wide")
    s = series("march", 0, 240, "speed power supply")
    put(s[0], "missing", every(240, 10, 3), "")
    put(s[1], "bad", range(100, 112), "-9999")
    put(s[2], "bad", every(240, 35, 8), "Fault")
    known(s)
    rows = wide(s, unit_row=True, tf=lambda d: (fmt("{m}/{d}/%Y")(d), fmt("{h}:%M:%S {p}")(d)), th=("Date", "Time"), tz=NEW_YORK)
    paged = [x for k in range(0, 240, 50) for x in ([f"Page {k // 50 + 1} of 5"] + rows[:2] + rows[2 + k:52 + k] + [""])]
    one("american-pages-everything", "Pages with titles and unit rows, two time columns with AM and PM, blanks, sentinels, faults, trailing commas, a footer.",
        text([r + "," if r else r for r in paged] + ["Total rows: 240", "*** End of report ***"], "\r\n"), s, tz=NEW_YORK)
    s = series("march", 0, 150, "speed status valve")
    known(s)
    for x in s:
        for k, c in enumerate(x.cells):
            c.text = ("on" if c.value else "off") if x.key == "status" else f"{c.value} %"
    put(s[0], "bad", every(150, 33, 6), "Comm Fail")
    put(s[1], "missing", every(150, 27, 2), "")
    one("tall-units-words-single-quotes", "A tall table in single quotes with units in cells, words, faults and blanks, CR alone.",
        text(tall(s, ("value", "name", "time"), ["Value", "Point", "Time"], quote="'", d=";", tf=fmt("%d-{M}-%Y %H:%M", "en3")), "\r"), s, "tall")
    slug = "xlsx-months-and-notes-zip"
    f = "files/" + number(slug) + ".zip"
    a, b = series("march", 0, 288, "speed dp"), series("march", 288, 576, "speed dp")
    book = xlsx([("Read me", [["Made by hand"]]), ("Friday", [["Trend"], []] + grid(a, time=GERMAN)), ("Saturday", [["Trend"], []] + grid(b), {"formats": {1: "dd.mm.yyyy hh:mm"}})])
    save(number(slug) + ".zip", zipped([("march/book.xlsx", book)]))
    case(slug, "A workbook in a zip: a page of notes, a sheet with text dates, a sheet with real dates, titles above.", [f],
         [(f, "march/book.xlsx", "Friday", a), (f, "march/book.xlsx", "Saturday", b)], "wide")
    s = [series("march", 0, 200, "speed")[0], series("march", 0, 400, "supply", 2)[0]]
    known(s)
    for x in s:
        for c in x.cells:
            c.text = f"{comma(c.value)} {unit_text(x)}"
    out = []
    for x in s:
        out += [x.name] + [line([fmt("{d} {M} %Y %H:%M", "fr")(local(c.t, "Europe/Paris")), c.text], ";") for c in x.cells] + [""]
    one("blocks-french-units-gzip", "Gzip: blocks without headers, French months, units in cells, a byte order mark.", gz(b"\xef\xbb\xbf" + text(out, "\r\n").encode()), s, "blocks", ext="gz", tz="Europe/Paris")


# ================================================================ hopeless

def hopeless():
    global KIND
    KIND = "hopeless"
    s = series("march", 0, 150, "speed dp")
    plain = text(wide(s))
    bad_file("empty", "A file of no bytes.", b"", ["empty"])
    bad_file("white", "A file of blank lines.", "\n \n\n\t\n", ["empty|nothing|no data|no rows|no table|blank"])
    bad_file("header-only", "A header and no rows.", plain.split("\n")[0] + "\n", ["header|no rows|no data|nothing"])
    rng = random.Random(3)
    bad_file("binary", "Random bytes named .csv.", bytes(rng.randrange(256) for _ in range(6000)), ["binary|not text|text"])
    picture = b"\x89PNG\r\n\x1a\n" + b"\0\0\0\rIHDR" + struct.pack(">IIBBBBB", 64, 64, 8, 2, 0, 0, 0)
    picture += struct.pack(">I", zlib.crc32(picture[12:29])) + b"\0\0\2\0IDAT" + bytes(rng.randrange(256) for _ in range(512))
    bad_file("picture", "A picture named .csv.", picture, ["binary|picture|image|PNG|not text"])
    bad_file("nul-file", "Four kilobytes of NUL bytes.", bytes(4096), ["NUL|binary|zero"])
    lines = plain.split("\n")
    f = save(number("nul-inside") + ".csv", ("\n".join(lines[:80]) + "\n" + "\0" * 512 + "\n" + "\n".join(lines[80:])).encode())
    case("nul-inside", "A run of NUL bytes on a line of its own, as power loss leaves it: read without it and named, or refused with the line.", [f],
         [(f, None, None, s)], "wide", or_refused=True, refusal=["NUL|binary|zero"], notices=["NUL|binary|zero"])
    pdf = b"%PDF-1.4\n1 0 obj\n<< /Type /Catalog >>\nendobj\n" + bytes(rng.randrange(128, 256) for _ in range(400)) + b"\ntrailer\n<< /Root 1 0 R >>\n%%EOF\n"
    bad_file("pdf", "A PDF named .csv.", pdf, ["PDF"])
    html = "<html><head><meta charset=\"utf-8\"></head><body><table>\n" + "\n".join(
        "<tr>" + "".join(f"<td>{x}</td>" for x in r.split(",")) + "</tr>" for r in lines[:60]) + "\n</table></body></html>\n"
    bad_file("html-named-xls", "A web page with a table, named .xls.", html, ["HTML"], ext="xls")
    bad_file("json", "A JSON document.", json.dumps([{"time": r.split(",")[0], "speed": float(r.split(",")[1])} for r in lines[1:40]], indent=1), ["JSON"], ext="json")
    bad_file("xml", "An XML document.", "<?xml version=\"1.0\"?>\n<trend>\n" + "".join(f"<s t=\"{r.split(',')[0]}\">{r.split(',')[1]}</s>\n" for r in lines[1:40]) + "</trend>\n", ["XML"], ext="xml")
    old = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(16) + bytes.fromhex("3e000300feff0900") + bytes(rng.randrange(256) for _ in range(3000))
    bad_file("old-workbook", "A workbook of the old binary kind.", old, ["old|workbook|spreadsheet|binary"], ext="xls")
    whole = gz(plain.encode())
    bad_file("gzip-cut-early", "Gzip that ends after 14 bytes.", whole[:14], ["gzip|cut|truncated|ends|short"], ext="csv.gz")
    f = save(number("gzip-cut") + ".csv.gz", whole[: len(whole) // 2])
    case("gzip-cut", "Gzip that ends half way: refused, or its whole rows are read and the loss is named.", [f], expect="refused", or_read=True, refusal=["gzip|cut|truncated|ends|incomplete|corrupt"])
    z = zipped([("trend.csv", plain)])
    bad_file("zip-cut", "A zip that ends half way.", z[: len(z) // 2], ["zip|cut|truncated|ends|incomplete|corrupt"], ext="zip")
    p = parquet(arrow(s))
    bad_file("parquet-cut", "Parquet that ends half way.", p[: len(p) // 2], ["parquet|cut|truncated|ends|incomplete|corrupt"], ext="parquet")
    x = xlsx([("Trend", grid(s), {"formats": {1: "yyyy-mm-dd hh:mm"}})])
    bad_file("xlsx-cut", "A workbook that ends half way.", x[: len(x) // 2], ["xlsx|zip|workbook|cut|truncated|ends|incomplete|corrupt"], ext="xlsx")
    a = ipc(arrow(s))
    bad_file("arrow-cut", "Arrow IPC that ends half way.", a[: len(a) // 2], ["arrow|cut|truncated|ends|incomplete|corrupt"], ext="arrow")
    bad_file("zip-password", "A zip under a password.", zip_with_password("trend.csv", plain.encode(), b"secret"), ["password|encrypted"], ext="zip")
    bad_file("zip-empty", "A zip with nothing inside.", zipped([]), ["empty|no file|nothing|no member"], ext="zip")
    f = save(number("zip-climbing") + ".zip", zipped([("../../etc/climbed.csv", plain)]))
    case("zip-climbing", "A member whose path climbs out: read or refused, but never written.", [f], [(f, "../../etc/climbed.csv", None, s)], "wide", or_refused=True,
         refusal=["path|climb|outside|.."], must_not_write=["climbed.csv"])
    f = save(number("zip-absolute") + ".zip", zipped([("/tmp/absolute-climbed.csv", plain)]))
    case("zip-absolute", "A member with an absolute path: read or refused, but never written.", [f], [(f, "/tmp/absolute-climbed.csv", None, s)], "wide", or_refused=True,
         refusal=["path|climb|outside|absolute"], must_not_write=["absolute-climbed.csv"])
    bad_file("xlsx-no-data", "A workbook whose sheets hold only notes.", xlsx([("Notes", [["Nothing here"], ["Ask again"]]), ("Empty", [])]), ["no |nothing|empty"], ext="xlsx")
    bad_file("only-bad-words", "A table of only bad words.", text(["Time,P1 Speed,Loop DP"] + [f"{SPACE(c.t)},Fault,Error" for c in s[0].cells]), ["no |none|nothing|only|bad"])
    bad_file("prose", "A letter.", "Dear colleague,\nthe trend is not ready yet; it will come on Monday.\nKind regards\n", ["no |not|nothing|time"])
    bad_file("no-time", "A table of numbers without any time.", text(["P1 Speed,Loop DP"] + [f"{a.value},{b.value}" for a, b in zip(s[0].cells, s[1].cells)]), ["time|date"])
    later("line-of-5-mb", "A line of five megabytes under ten plain rows: refused, or the rows are read and the line is named.", "line-5mb", ["line"], or_read=True)
    later("columns-100000", "A hundred thousand columns.", "columns-100000", ["column"])
    later("zip-bomb", "A small zip that unpacks to many gigabytes of one byte.", "zip-bomb", ["large|big|limit|bomb|expands|unpack|ratio"])
    later("gzip-bomb", "A small gzip that unpacks to many gigabytes of noughts.", "gzip-bomb", [])
    later("sparse-40-gb", "A sparse file of 40 GB of NUL bytes: bounded memory, quick answer.", "sparse-40gb", ["NUL|binary|zero|large|big"])
    later("directory-named-csv", "An empty directory named like a file.", "empty-directory", ["director|folder|empty|no file|nothing"])
    later("no-such-file", "A path that is not there.", "no-such-file", ["no such|not found|not there|does not exist|missing"])
    later("growing-file", "A plain file to which another process adds rows while it is read: what stood at the start is read.", "growing-file", expect="read")

    def lost(slug, what, name, data, refusal):
        good = series("march", 0, 150, "speed power")
        f = save(f"{number(slug)}/good.csv", text(wide(good)))
        g = save(f"{number(slug)}/{name}", data)
        case(slug, what, [g, f], [(f, None, None, good)], "wide", expect="lost-one", refusal=refusal + [name], lost=[{"file": g}])

    lost("lost-empty", "An empty file before a good one.", "empty.csv", b"", ["empty"])
    lost("lost-pdf", "A PDF before a good file.", "page.csv", pdf, ["PDF"])
    lost("lost-cut-parquet", "Cut Parquet before a good file.", "cut.parquet", p[:300], ["parquet|cut|truncated|ends|incomplete|corrupt"])
    lost("lost-ambiguous", "A file whose day and month no value settles before a good one.", "ambiguous.csv",
         text(wide(series("april-day", 0, 96, "speed"), tf=BRITISH)), ["day_first"])


def check(made):
    """Whether what lies here is what would be written. Compressed bytes may differ with another zlib: that is said, and is no failure."""
    here = {p.relative_to(HERE).as_posix() for p in OUT.rglob("*") if p.is_file()} | {"clean.csv", "cases.json"}
    wrong = sorted(here ^ set(made))
    other = [p for p in made if p in here and (HERE / p).read_bytes() != made[p]]
    packed = [p for p in other if made[p][:2] in (b"PK", b"\x1f\x8b") or p.endswith((".parquet", ".feather", ".arrow"))]
    wrong += [p for p in other if p not in packed]
    for p in wrong:
        print(f"{p}: not what make.py writes")
    print(f"{len(made) - len(other)} of {len(made)} files the same" + (f", {len(packed)} compressed in another way" if packed else ""))
    return 1 if wrong else 0


def main():
    for make in (shapes, containers, dialects, times, values, combinations, hopeless):
        make()
    made = {p: d for p, d in sorted(WRITTEN.items())}
    made["clean.csv"] = clean_csv().encode()
    made["cases.json"] = ("[\n" + ",\n".join(json.dumps(c, ensure_ascii=False) for c in CASES) + "\n]\n").encode()
    if "--check" in sys.argv[1:]:
        return check(made)
    shutil.rmtree(OUT, ignore_errors=True)
    for path, data in made.items():
        f = HERE / path
        f.parent.mkdir(parents=True, exist_ok=True)
        f.write_bytes(data)
    kinds = Counter(c["kind"] for c in CASES)
    print(f"{len(CASES)} cases:", ", ".join(f"{k} {v}" for k, v in kinds.items()))
    print(f"{len(WRITTEN)} files, {sum(map(len, WRITTEN.values())) / 1e6:.2f} MB")


if __name__ == "__main__":
    sys.exit(main())
