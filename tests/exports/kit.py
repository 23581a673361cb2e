"""The clean table, the writers and the bookkeeping that make.py builds its cases from."""

import datetime as dt
import gzip
import io
import math
import random
import re
import struct
import zipfile
import zlib
from decimal import Decimal
from fractions import Fraction
from zoneinfo import ZoneInfo

UTC = dt.timezone.utc
LISBON, BERLIN, NEW_YORK = "Europe/Lisbon", "Europe/Berlin", "America/New_York"

# key: name in the exports, unit as an expert reads it, decimals
POINTS = {
    "speed": ("P1 Speed", "%", 1),
    "power": ("P1 Power", "kW", 2),
    "dp": ("Loop DP", "kPa", 1),
    "flow": ("Loop Flow", "m3/h", 1),
    "supply": ("Supply Temp", "degC", 1),
    "return": ("Return Temp", "degC", 1),
    "valve": ("AHU1 Valve", "%", 1),
    "status": ("P1 Status", None, 0),
    "energy": ("P1 Energy", "kWh", 1),
    "outdoor": ("Outdoor Temp", "degC", 1),
}

# name: first instant (UTC), rows, seconds between rows (0: irregular)
SPANS = {
    "march": ("2026-03-13T00:00:00", 864, 300),
    "june": ("2026-06-13T00:00:00", 576, 300),
    "feb": ("2026-02-27T00:00:00", 288, 900),
    "aug": ("2025-08-30T00:00:00", 288, 900),
    "dec": ("2025-12-30T00:00:00", 288, 900),
    "april-day": ("2026-04-02T23:00:00", 96, 900),
    "autumn": ("2025-10-25T18:00:00", 216, 300),
    "spring": ("2026-03-28T18:00:00", 216, 300),
    "autumn-west": ("2025-11-01T18:00:00", 216, 300),
    "spring-west": ("2026-03-07T18:00:00", 216, 300),
    "half-hour": ("2026-04-04T06:00:00", 120, 600),
    "hours": ("2026-01-01T00:00:00", 2184, 3600),
    "june-hours": ("2026-05-31T23:00:00", 336, 3600),
    "quick": ("2026-03-13T10:00:00", 240, 0.25),
    "changes": ("2026-03-13T00:00:00", 300, 0),
}


def q(x, places):
    v = Decimal(repr(round(x, 6))).quantize(Decimal(1).scaleb(-places))
    return abs(v) if v == 0 else v


def clean(name):
    """One span of the clean table: a list of (time in UTC, {key: Decimal})."""
    start, n, step = SPANS[name]
    rng = random.Random("offcurve exports " + name)
    t = dt.datetime.fromisoformat(start).replace(tzinfo=UTC)
    rows, energy, wander, before = [], 128400.0, 0.0, None
    for _ in range(n):
        h = t.hour + t.minute / 60 + t.second / 3600
        year = math.cos((t.timetuple().tm_yday - 200) / 365 * 2 * math.pi)
        wander = 0.93 * wander + rng.gauss(0, 1.1)
        on = 5.5 <= h < 20.75
        load = max(0.0, math.sin((h - 5) / 16 * math.pi)) if on else 0.0
        speed = min(99.0, max(35.0, 38 + 44 * load + wander)) if on else 0.0
        power = 0.35 + 6.6 * (speed / 100) ** 2.7 + rng.gauss(0, 0.02) if on else 0.0
        flow = speed * 0.78 + rng.gauss(0, 0.4) if on else 0.0
        dp = 28 + 105 * (speed / 100) ** 2 + rng.gauss(0, 0.7) if on else 11.5 + rng.gauss(0, 0.3)
        supply = 6.4 + 0.6 * load + rng.gauss(0, 0.15) if on else 13.0 + rng.gauss(0, 0.2)
        ret = supply + (3.1 + 2.4 * load + rng.gauss(0, 0.15) if on else 1.2 + rng.gauss(0, 0.1))
        outdoor = 7.0 + 13 * year + 4.5 * math.sin((h - 9) / 24 * 2 * math.pi) + rng.gauss(0, 0.2)
        valve = min(100.0, max(0.0, 22 + 61 * load + 1.6 * wander)) if on else 0.0
        if before is not None:
            energy += power * (t - before).total_seconds() / 3600
        raw = {"speed": speed, "power": power, "dp": dp, "flow": flow, "supply": supply, "return": ret,
               "valve": valve, "status": 1 if on else 0, "energy": energy, "outdoor": outdoor}
        rows.append((t, {k: q(v, POINTS[k][2]) for k, v in raw.items()}))
        before = t
        t += dt.timedelta(seconds=step if step else rng.choice([20, 45, 61, 130, 300, 421, 655, 900]))
    return rows


SPAN = {name: clean(name) for name in SPANS}


def clean_csv():
    out = ["span,time," + ",".join(POINTS)]
    for name, rows in SPAN.items():
        for t, v in rows:
            out.append(",".join([name, stamp(t)] + [str(v[k]) for k in POINTS]))
    return "\n".join(out) + "\n"


def stamp(t):
    t = t.astimezone(UTC)
    ms = t.microsecond // 1000
    return t.strftime("%Y-%m-%dT%H:%M:%S") + (f".{ms:03d}" if ms else "") + "Z"


# ---------------------------------------------------------------- series

class Cell:
    __slots__ = ("t", "kind", "value", "text")

    def __init__(self, t, kind, value, text=None):
        self.t, self.kind, self.value, self.text = t, kind, value, text

    def copy(self):
        return Cell(self.t, self.kind, self.value, self.text)


class Series:
    """One point of one file: its cells in the order of the file."""

    def __init__(self, name, cells, unit=None, key=None, head=None):
        self.name, self.cells, self.unit, self.key, self.head = name, cells, unit, key, head
        self.loose = False          # bad and missing are only known as a sum
        self.missing_open = False   # whether blanks count as missing is not settled

    def copy(self, cells=None):
        s = Series(self.name, [c.copy() for c in (self.cells if cells is None else cells)], self.unit, self.key, self.head)
        s.loose, s.missing_open = self.loose, self.missing_open
        return s

    def good(self):
        """Ordered ok samples by time: same time, the last in the file wins."""
        d = {}
        for c in self.cells:
            if c.kind == "ok":
                d[c.t] = c.value
        return sorted(d.items())


def series(span, a, b, keys, step=1):
    rows = SPAN[span][a:b:step]
    return [Series(POINTS[k][0], [Cell(t, "ok", v[k]) for t, v in rows], key=k) for k in keys.split()]


def take(ss, order):
    return [s.copy([s.cells[i] for i in order]) for s in ss]


def named(ss, names):
    for s, n in zip(ss, names):
        s.name = n
    return ss


def put(s, kind, where, text):
    """Overwrites cells. text: one word or several, used in turn."""
    words = [text] if isinstance(text, str) else list(text)
    for n, i in enumerate(where):
        c = s.cells[i]
        c.kind, c.text = kind, words[n % len(words)]
    return s


def words(s, on, off):
    for c in s.cells:
        if c.kind == "ok":
            c.text = on if c.value else off
    return s


def scaled(s, factor, places):
    for c in s.cells:
        c.value = (c.value * factor).quantize(Decimal(1).scaleb(-places))
    return s


HEAD = {"degC": "°C", "m3/h": "m³/h"}


def unit_text(s):
    u = POINTS[s.key][1]
    return HEAD.get(u, u) if u else ""


def known(ss):
    """The file says the unit: expect it."""
    for s in ss:
        s.unit = POINTS[s.key][1]
    return ss


def heads(ss, style="({})"):
    """Units in the header."""
    known(ss)
    for s in ss:
        u = unit_text(s)
        s.head = s.name + ("" if not u else (style if style.startswith(",") else " " + style).format(u))
    return ss


def twelve(x):
    return float(f"{float(x):.12g}")


def merge(several):
    """The same point out of several files, in the order of the files."""
    by = {}
    for s in several:
        if s.name in by:
            by[s.name].cells += [c.copy() for c in s.cells]
            by[s.name].loose |= s.loose
            by[s.name].missing_open |= s.missing_open
        else:
            by[s.name] = s.copy()
    return list(by.values())


def expected(s):
    good = s.good()
    bad = sum(c.kind == "bad" for c in s.cells)
    missing = sum(c.kind == "missing" for c in s.cells)
    p = {"name": s.name}
    if s.head and s.head != s.name:
        p["as_written"] = s.head
    p["samples"] = len(good)
    if s.loose:
        p["bad"], p["missing"], p["unusable"] = None, None, bad + missing
    else:
        p["bad"], p["missing"] = bad, None if s.missing_open else missing
    if good:
        mean = sum((Fraction(v) for _, v in good), Fraction(0)) / len(good)
        p["mean"] = twelve(mean)
        p["first"], p["last"] = stamp(good[0][0]), stamp(good[-1][0])
    else:
        p["mean"] = p["first"] = p["last"] = None
    p["unit"] = s.unit
    n = len(good)
    odd = next((i for i in ((7 * (n // 16) + k) % n for k in range(n)) if good[i][1] and i % 2), 0) if good else 0
    at = sorted({0, odd, n - 1}) if good else []
    p["probes"] = [[stamp(good[i][0]), float(good[i][1])] for i in at]
    return p


# ---------------------------------------------------------------- numbers

def comma(v):
    return str(v).replace(".", ",")


def grouped(mark, point):
    def f(v):
        sign, s = ("-", str(-v)) if v < 0 else ("", str(v))
        whole, _, rest = s.partition(".")
        parts = []
        while len(whole) > 3:
            parts.insert(0, whole[-3:])
            whole = whole[:-3]
        return sign + mark.join([whole] + parts) + (point + rest if rest else "")
    return f


# ---------------------------------------------------------------- times

MONTHS = {
    "en": "January February March April May June July August September October November December".split(),
    "en3": "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split(),
    "de": "Januar Februar März April Mai Juni Juli August September Oktober November Dezember".split(),
    "de3": "Jan Feb Mrz Apr Mai Jun Jul Aug Sep Okt Nov Dez".split(),
    "fr": "janvier février mars avril mai juin juillet août septembre octobre novembre décembre".split(),
    "fr3": "janv. févr. mars avr. mai juin juil. août sept. oct. nov. déc.".split(),
    "es": "enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre diciembre".split(),
    "es3": "ene feb mar abr may jun jul ago sep oct nov dic".split(),
}
DAYS = {
    "en": "Monday Tuesday Wednesday Thursday Friday Saturday Sunday".split(),
    "en3": "Mon Tue Wed Thu Fri Sat Sun".split(),
    "de": "Montag Dienstag Mittwoch Donnerstag Freitag Samstag Sonntag".split(),
    "de2": "Mo Di Mi Do Fr Sa So".split(),
    "fr": "lundi mardi mercredi jeudi vendredi samedi dimanche".split(),
    "es": "lunes martes miércoles jueves viernes sábado domingo".split(),
}


def fmt(pattern, months="en", days="en", am="AM", pm="PM"):
    """strftime, with {M} month word, {W} weekday word, {d} {m} day and month without zero, {h} twelve-hour hour, {p} half of day."""
    def f(d):
        s = d.strftime(pattern)
        return s.format(M=MONTHS[months][d.month - 1], W=DAYS[days][d.weekday()], d=d.day, m=d.month,
                        h=(d.hour + 11) % 12 + 1, p=am if d.hour < 12 else pm, H=d.hour)
    return f


SPACE = fmt("%Y-%m-%d %H:%M:%S")
GERMAN = fmt("%d.%m.%Y %H:%M")
BRITISH = fmt("%d/%m/%Y %H:%M")
AMERICAN = fmt("{m}/{d}/%Y {h}:%M:%S {p}")


def zulu(d):
    return stamp(d)


def offset(d):
    return d.strftime("%Y-%m-%dT%H:%M:%S") + d.strftime("%z")[:3] + ":" + d.strftime("%z")[3:]


def serial(places, epoch=dt.datetime(1899, 12, 30)):
    def f(d):
        x = (d.replace(tzinfo=None) - epoch) / dt.timedelta(days=1)
        return f"{x:.{places}f}"
    return f


def local(t, zone):
    return t.astimezone(ZoneInfo(zone))


# ---------------------------------------------------------------- text

def cell_text(c, nf):
    return nf(c.value) if c.text is None else c.text


def field(x, d, quote):
    if quote == "all":
        return '"' + x.replace('"', '""') + '"'
    if quote == "'":
        return "'" + x.replace("'", "''") + "'"
    if quote != "never" and (d in x or '"' in x or "\n" in x):
        return '"' + x.replace('"', '""') + '"'
    return x


def line(fields, d=",", quote=""):
    return d.join(field(x, d, quote) for x in fields)


def wide(ss, tf=SPACE, tz=LISBON, nf=str, d=",", th="Time", unit_row=False, quote="", header=True):
    """Lines of a wide table: header first."""
    th = [th] if isinstance(th, str) else list(th)
    out = []
    if header:
        out.append(line(th + [s.head or s.name for s in ss], d, quote))
    if unit_row:
        known(ss)
        out.append(line([""] * len(th) + [unit_text(s) for s in ss], d, quote))
    for i, c in enumerate(ss[0].cells):
        t = tf(local(c.t, tz))
        t = [t] if isinstance(t, str) else list(t)
        out.append(line(t + [cell_text(s.cells[i], nf) for s in ss], d, quote))
    return out


def tall(ss, cols=("time", "name", "value"), titles=None, tf=SPACE, tz=LISBON, nf=str, d=",", quote="", by="time", extra=None):
    """Lines of a tall table. by: "time" interleaves row by row, "point" lists one point after the other, "instant" sorts."""
    titles = titles or [c.title() for c in cols]
    rows = []
    for k, s in enumerate(ss):
        for i, c in enumerate(s.cells):
            row = {"time": tf(local(c.t, tz)), "name": s.head or s.name, "value": cell_text(c, nf),
                   "unit": unit_text(s) if s.key else ""}
            row.update(extra or {})
            rows.append(({"time": (i, k), "point": (k, i), "instant": (c.t, k)}[by], row))
    rows.sort(key=lambda r: r[0])
    if "unit" in cols:
        known(ss)
    return [line(titles, d, quote)] + [line([r[c] for c in cols], d, quote) for _, r in rows]


def text(lines, eol="\n", final=True):
    return eol.join(lines) + (eol if final else "")


# ---------------------------------------------------------------- containers

FIXED = (2026, 1, 1, 0, 0, 0)


def gz(data):
    return gzip.compress(data, 9, mtime=0)


def zst(data):
    import zstandard
    return zstandard.ZstdCompressor(level=9).compress(data)


def zipped(members, stored=False):
    buf = io.BytesIO()
    with zipfile.ZipFile(buf, "w") as z:
        for name, data in members:
            info = zipfile.ZipInfo(name, FIXED)
            info.compress_type = zipfile.ZIP_STORED if stored or name.endswith("/") else zipfile.ZIP_DEFLATED
            info.create_system = 3
            info.external_attr = (0o40755 << 16 | 16) if name.endswith("/") else 0o100644 << 16
            z.writestr(info, data)
    return buf.getvalue()


def zip_with_password(name, data, password):
    """One stored member under the old zip encryption."""
    table = []
    for n in range(256):
        for _ in range(8):
            n = (n >> 1) ^ 0xEDB88320 if n & 1 else n >> 1
        table.append(n)
    k = [0x12345678, 0x23456789, 0x34567890]

    def turn(b):
        k[0] = (k[0] >> 8) ^ table[(k[0] ^ b) & 255]
        k[1] = ((k[1] + (k[0] & 255)) * 134775813 + 1) & 0xFFFFFFFF
        k[2] = (k[2] >> 8) ^ table[(k[2] ^ (k[1] >> 24)) & 255]

    for b in password:
        turn(b)
    crc = zlib.crc32(data)
    head = bytes(random.Random(5).randrange(256) for _ in range(11)) + bytes([crc >> 24])
    secret = bytearray()
    for b in head + data:
        x = k[2] | 2
        secret.append(b ^ (((x * (x ^ 1)) >> 8) & 255))
        turn(b)
    n = name.encode()
    date = (2026 - 1980) << 9 | 1 << 5 | 1
    common = struct.pack("<HHHHHIIIHH", 20, 1, 0, 0, date, crc, len(secret), len(data), len(n), 0)
    here = b"PK\3\4" + common + n + bytes(secret)
    central = b"PK\1\2" + struct.pack("<H", 20) + common + struct.pack("<HHHII", 0, 0, 0, 0, 0) + n
    end = b"PK\5\6" + struct.pack("<HHHHIIH", 0, 0, 1, 1, len(central), len(here), 0)
    return here + central + end


def xlsx(sheets, epoch_1904=False):
    """sheets: (title, rows of values, {"merge": [...], "formats": {column: format}})."""
    import openpyxl
    from openpyxl.utils.datetime import CALENDAR_MAC_1904
    wb = openpyxl.Workbook()
    if epoch_1904:
        wb.epoch = CALENDAR_MAC_1904
    wb.remove(wb.active)
    for title, rows, *rest in sheets:
        opts = rest[0] if rest else {}
        ws = wb.create_sheet(title)
        for r, row in enumerate(rows, 1):
            for c, v in enumerate(row, 1):
                if v is None:
                    continue
                cell = ws.cell(r, c, float(v) if isinstance(v, Decimal) else v)
                f = opts.get("formats", {}).get(c)
                if f and not isinstance(v, str):
                    cell.number_format = f
        for m in opts.get("merge", []):
            ws.merge_cells(m)
        if opts.get("hidden"):
            ws.sheet_state = "hidden"
    buf = io.BytesIO()
    wb.save(buf)
    members = []
    with zipfile.ZipFile(buf) as z:
        for i in z.infolist():
            data = z.read(i)
            if i.filename == "docProps/core.xml":
                data = re.sub(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", b"2026-01-01T00:00:00Z", data)
                data = re.sub(rb"<dc:creator>.*?</dc:creator>", b"<dc:creator>export</dc:creator>", data)
            if i.filename == "docProps/app.xml":
                data = re.sub(rb"<Application>.*?</Application>", b"<Application>export</Application>", data)
            members.append((i.filename, data))
    return zipped(members)


def grid(ss, tz=LISBON, time=None, nf=None, th="Time"):
    """Rows of cells for a sheet. Real dates unless time is given."""
    time = time or (lambda d: d.replace(tzinfo=None))
    rows = [[th] + [s.head or s.name for s in ss]]
    for i, c in enumerate(ss[0].cells):
        row = [time(local(c.t, tz))]
        for s in ss:
            x = s.cells[i]
            if x.text is not None:
                row.append(x.text if x.text != "" else None)
            else:
                row.append(nf(x.value) if nf else float(x.value))
        rows.append(row)
    return rows


def arrow(ss, time="us", tz="UTC", th="time", local_in=None, types=None):
    """An Arrow table. time: s, ms, us, ns for timestamps, or a format function for strings, or "unix_ms"."""
    import pyarrow as pa
    types = types or {}
    ts = [c.t for c in ss[0].cells]
    if callable(time):
        col = pa.array([time(local(t, local_in or LISBON)) for t in ts], pa.string())
    elif time == "unix_ms":
        col = pa.array([int(t.timestamp() * 1000) for t in ts], pa.int64())
    else:
        per = {"s": 1, "ms": 10**3, "us": 10**6, "ns": 10**9}[time]
        whole = [t if tz else local(t, local_in or LISBON).replace(tzinfo=UTC) for t in ts]
        epoch = dt.datetime(1970, 1, 1, tzinfo=UTC)
        ints = [((t - epoch) // dt.timedelta(microseconds=1)) * per // 10**6 for t in whole]
        col = pa.array(ints, pa.int64()).cast(pa.timestamp(time, tz=tz))
    cols, names = [col], [th]
    for s in ss:
        kind = types.get(s.key, "double")
        vals = []
        for c in s.cells:
            if c.kind == "missing":
                vals.append(None)
            elif kind == "string":
                vals.append(cell_text(c, str))
            elif kind == "bool":
                vals.append(bool(c.value))
            elif kind.startswith("int"):
                vals.append(int(c.value))
            elif kind == "decimal":
                vals.append(c.value)
            else:
                vals.append(float(c.value) if c.text is None else float(c.text))
        t = {"double": pa.float64(), "string": pa.string(), "bool": pa.bool_(), "int64": pa.int64(),
             "int32": pa.int32(), "decimal": pa.decimal128(12, 2)}[kind]
        cols.append(pa.array(vals, t))
        names.append(s.head or s.name)
    return pa.table(cols, names=names)


def parquet(table, **kw):
    import pyarrow.parquet as pq
    buf = io.BytesIO()
    pq.write_table(table, buf, **kw)
    return buf.getvalue()


def feather(table, **kw):
    import pyarrow.feather as pf
    buf = io.BytesIO()
    pf.write_feather(table, buf, **kw)
    return buf.getvalue()


def ipc(table):
    import pyarrow as pa
    buf = io.BytesIO()
    with pa.ipc.new_file(buf, table.schema) as w:
        w.write_table(table)
    return buf.getvalue()
