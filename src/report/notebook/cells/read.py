import json

import matplotlib.pyplot as plt
import numpy as np  # matplotlib brings it
import polars as pl

TABLE = "operating-points.parquet"
FACTS = json.loads(pl.read_parquet_metadata(TABLE)["facts"])  # what the plant file declares
with open("findings.json", encoding="utf-8") as file:
    FOUND = json.load(file)
FINDINGS = FOUND["findings"]
TIMEZONE = FACTS["timezone"]
HOURS = FACTS["interval_s"] / 3600  # a row stands for so many hours

points = pl.read_parquet(TABLE).with_columns(pl.col("time").dt.convert_time_zone(TIMEZONE).alias("local"))
running = points.filter(pl.col("speed") > 0)
points.describe()
