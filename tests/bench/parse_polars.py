"""polars reading exports with their times, one after the other, as a whole process: the yardstick of the benchmark.

    python parse_polars.py FILE... infer|format
"""

import sys
import time

import polars as pl

*paths, how = sys.argv[1:]
rows, took = 0, 0.0
for path in paths:
    start = time.perf_counter()
    if how == "infer":
        frame = pl.read_csv(path, try_parse_dates=True)
    else:
        frame = pl.read_csv(path).with_columns(pl.col("Timestamp").str.to_datetime("%Y-%m-%d %H:%M:%S"))
    took += time.perf_counter() - start
    rows += frame.height
    if not isinstance(frame.schema["Timestamp"], pl.Datetime):
        sys.exit(f"{path}: the times were not parsed")
print(f"rows={rows} inside_s={took:.3f}")
