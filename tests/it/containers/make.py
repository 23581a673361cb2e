"""Writes the files beside it, by other people's writers, with what each must read as.

    pip install openpyxl==3.1.5 pyarrow==26.0.1 zstandard==0.25.0 xlwt==1.3.0 odfpy==1.4.1
    python3 make.py

All numbers are invented. `*.expected` is the text that the file beside it must open as, made from the same values, not by reading.
"""

import datetime as dt
import gzip
import io
import math
import zipfile
from decimal import Decimal
from pathlib import Path

import odf.opendocument
import openpyxl
import pyarrow as pa
import pyarrow.feather
import pyarrow.parquet
import xlwt
import zstandard

HERE = Path(__file__).parent
ROWS = 300
START = dt.datetime(2026, 3, 1)


def plain():
    lines = ["Time,P-1 Speed,P-1 Power"]
    for i in range(ROWS):
        t = START + dt.timedelta(minutes=5 * i)
        lines.append(f"{t:%Y-%m-%d %H:%M},{40 + 10 * math.sin(i / 20):.1f},{1.5 + 0.5 * math.sin(i / 20):.3f}")
    return ("\n".join(lines) + "\n").encode()


def write(name, data):
    (HERE / name).write_bytes(data)


def member(name):
    """A member with a fixed date, so that the bytes repeat."""
    info = zipfile.ZipInfo(name, (2026, 3, 1, 0, 0, 0))
    info.compress_type = zipfile.ZIP_DEFLATED
    return info


def archives(text):
    half = len(text) // 2
    write("plain.csv", text)
    write("two-members.gz", gzip.compress(text[:half], mtime=0) + gzip.compress(text[half:], mtime=0))
    pack = zstandard.ZstdCompressor().compress
    write("two-frames.zst", pack(text[:half]) + pack(text[half:]))
    inner = io.BytesIO()
    with zipfile.ZipFile(inner, "w") as z:
        z.writestr(member("p3.csv"), text)
    with zipfile.ZipFile(HERE / "folders.zip", "w") as z:
        z.writestr(member("north/p1.csv"), text)
        z.writestr(member("south/p2.csv.gz"), gzip.compress(text, mtime=0))
        z.writestr(member("south/inner.zip"), inner.getvalue())
        z.writestr(member("../../climbs.csv"), text)
        z.writestr(member("Vor- und Rücklauf.csv"), text)
        z.writestr(member("__MACOSX/north/._p1.csv"), b"\0\5\x16\7")
        z.writestr(member(".DS_Store"), b"\0\0\0\1Bud1")
        z.writestr(member("manual.pdf"), b"%PDF-1.7 ...")
        z.writestr(member("empty/"), b"")
    # No seeking: sizes and checksums stand behind the data.
    class Pipe(io.RawIOBase):
        def __init__(self):
            self.data = bytearray()
        def writable(self):
            return True
        def write(self, b):
            self.data += b
            return len(b)
    pipe = Pipe()
    with zipfile.ZipFile(pipe, "w", allowZip64=False) as z:
        z.writestr(member("a.csv"), text)
        z.writestr(member("b.csv"), text)
    write("streamed.zip", bytes(pipe.data))


def book():
    wb = openpyxl.Workbook()
    s = wb.active
    s.title = "Pumps"
    s["B2"] = "Plant North, pumps"
    s.merge_cells("B2:E2")
    for c, name in zip("BCDEF", ["Time", "P-1 Speed [%]", "P-1 Power, kW", "Run", "Remark"]):
        s[f"{c}4"] = name
    expected = ["", ',"Plant North, pumps"', "", ',Time,P-1 Speed [%],"P-1 Power, kW",Run,Remark']
    for i in range(40):
        t = START + dt.timedelta(minutes=5 * i)
        r = 5 + i
        s[f"B{r}"] = t
        s[f"B{r}"].number_format = "dd/mm/yyyy hh:mm"
        speed = 40 + i / 8
        power = round(0.1 * i, 1)  # openpyxl writes 16 digits, which are not all of 0.1 * 3
        s[f"C{r}"] = speed
        s[f"D{r}"] = power
        s[f"E{r}"] = i % 3 != 0
        cells = [f"{t:%Y-%m-%dT%H:%M:%S}", f"{speed:g}", repr(power) if power % 1 else f"{power:.0f}", "true" if i % 3 else "false"]
        if i == 3:
            s[f"F{r}"] = 'valve "A" shut,\nsee log & <note>'
            cells.append('"valve ""A"" shut, see log & <note>"')
        if i == 4:
            s[f"C{r}"] = "#N/A"
            cells[1] = "#N/A"
        if i == 5:
            s[f"C{r}"] = None
            cells[1] = ""
        expected.append("," + ",".join(cells))
    s["B50"] = dt.date(2026, 4, 1)
    s["C50"] = dt.time(13, 5)
    s["D50"] = 1.25
    s["D50"].number_format = "[h]:mm"
    s["E50"] = 1e38
    s["F50"] = 12.5
    s["F50"].number_format = '[Red]0.0" m3/h"'
    expected += [""] * 5 + [",2026-04-01,13:05:00,30:00:00,1e38,12.5"]
    hidden = wb.create_sheet("Limits & more")
    hidden.append(["name", "limit"])
    hidden.append(["P-1", -0.25])
    hidden.sheet_state = "hidden"
    wb.save(HERE / "book.xlsx")
    (HERE / "book.Pumps.expected").write_text("\n".join(expected) + "\n")
    wb = openpyxl.Workbook()
    wb.epoch = openpyxl.utils.datetime.CALENDAR_MAC_1904
    wb.active.title = "S"
    wb.active.append(["Time", "v"])
    wb.active.append([dt.datetime(2026, 3, 1, 12, 30), 1])
    wb.save(HERE / "from-1904.xlsx")
    old = xlwt.Workbook()
    old.add_sheet("S").write(0, 0, "Time")
    old.save(str(HERE / "old.xls"))
    odf.opendocument.OpenDocumentSpreadsheet().save(str(HERE / "open.ods"))


def table():
    n = 6
    utc = [START + dt.timedelta(minutes=5 * i) for i in range(n)]
    none = lambda values, at: [None if i == at else v for i, v in enumerate(values)]
    columns = {
        "time": pa.array(none(utc, 5), pa.timestamp("ms", "Europe/Lisbon")),
        "civil": pa.array([t + dt.timedelta(microseconds=250) for t in utc], pa.timestamp("us")),
        "s": pa.array(utc, pa.timestamp("s")),
        "ns": pa.array([1, 10**9, 1_500_000_000, -1, 0, 86_400 * 10**9], pa.timestamp("ns", "UTC")),
        "day": pa.array([t.date() for t in utc], pa.date32()),
        "day64": pa.array([t.date() for t in utc], pa.date64()),
        "clock": pa.array([t.time() for t in utc], pa.time32("s")),
        "f64": pa.array([0.1, 1 / 3, 1e300, float("nan"), None, -0.0], pa.float64()),
        "f32": pa.array([0.1, 3.3, 1e38, -9999, None, 16777216], pa.float32()),
        "f16": pa.array([0.5, 1.0, 2.0, 3.0, 4.0, None], pa.float16()),
        "i64": pa.array([2**63 - 1, -1, 0, 1, 2, None], pa.int64()),
        "u8": pa.array([255, 1, 0, 1, 2, 3], pa.uint8()),
        "flag": pa.array([True, False, None, True, True, True]),
        "money": pa.array([Decimal("1.20"), Decimal("-0.05"), None, Decimal("0.00"), Decimal("3.10"), Decimal("4.00")], pa.decimal128(9, 2)),
        "word": pa.array(["a", "b,c", 'd"e', "two\nlines", None, ""]),
        "state": pa.array(["on", "off", "on", None, "on", "off"]).dictionary_encode(),
        "nested": pa.array([[1, 2]] * n),
        "took": pa.array([1] * n, pa.duration("s")),
    }
    lines = ["time,civil,s,ns,day,day64,clock,f64,f32,f16,i64,u8,flag,money,word,state"]
    ns = ["1970-01-01T00:00:00.000000001Z", "1970-01-01T00:00:01Z", "1970-01-01T00:00:01.500Z",
          "1969-12-31T23:59:59.999999999Z", "1970-01-01T00:00:00Z", "1970-01-02T00:00:00Z"]
    f64 = ["0.1", "0.3333333333333333", "1e300", "", "", "0"]
    f32 = ["0.1", "3.3", "1e38", "-9999", "", "16777216"]
    f16 = ["0.5", "1", "2", "3", "4", ""]
    i64 = [str(2**63 - 1), "-1", "0", "1", "2", ""]
    money = ["1.20", "-0.05", "", "0.00", "3.10", "4.00"]
    word = ["a", '"b,c"', '"d""e"', "two lines", "", ""]
    flag = ["true", "false", "", "true", "true", "true"]
    state = ["on", "off", "on", "", "on", "off"]
    u8 = ["255", "1", "0", "1", "2", "3"]
    for i, t in enumerate(utc):
        iso = f"{t:%Y-%m-%dT%H:%M:%S}"
        first = "" if i == 5 else iso + "Z"
        lines.append(",".join([first, iso + ".000250", iso, ns[i], f"{t:%Y-%m-%d}", f"{t:%Y-%m-%d}", f"{t:%H:%M:%S}",
                               f64[i], f32[i], f16[i], i64[i], u8[i], flag[i], money[i], word[i], state[i]]))
    (HERE / "table.expected").write_text("\n".join(lines) + "\n")
    t = pa.table(columns)
    for codec in ["snappy", "zstd", "gzip", "lz4", "none"]:
        p = {k: v for k, v in columns.items() if k not in ("took",)}
        pa.parquet.write_table(pa.table(p), HERE / f"{codec}.parquet", compression=codec, row_group_size=4)
    for codec in ["lz4", "zstd", "uncompressed"]:
        pa.feather.write_feather(t, HERE / f"{codec}.feather", compression=codec)
    with pa.ipc.new_stream(HERE / "table.stream", t.schema) as w:
        for batch in t.to_batches(max_chunksize=4):
            w.write_batch(batch)


text = plain()
archives(text)
book()
table()
